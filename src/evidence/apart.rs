//! Parts that can't have begun together.

use super::{Solved, Years};
use crate::decisions::Bearer;
use serde::Serialize;

/// Two parts whose years don't meet. No contradiction: frames, slips and backings are changed, and
/// boards are used again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Apart {
    /// The older part and its years.
    pub older: (Bearer, Years),
    /// The younger part and its years.
    pub younger: (Bearer, Years),
    /// Chance that both intervals hold.
    pub chance: f64,
}

/// All pairs of parts that can't have begun together, in the order of the parts.
pub fn apart(solved: &Solved) -> Vec<Apart> {
    let mut out = Vec::new();
    for (i, (a, da)) in solved.parts.iter().enumerate() {
        for (b, db) in &solved.parts[i + 1..] {
            if da.years.meet(&db.years).is_some() {
                continue;
            }
            let (x, y) = ((*a, da.years), (*b, db.years));
            let a_first = matches!((x.1.to, y.1.from), (Some(t), Some(f)) if t < f);
            let (older, younger) = if a_first { (x, y) } else { (y, x) };
            out.push(Apart {
                older,
                younger,
                // At least one may fail; neither is taken to depend on the other
                chance: da.chance * db.chance,
            });
        }
    }
    out
}
