//! What the other evidence says to the rival entries of a mark.

use super::{Back, Solved};
use serde::Serialize;

/// An entry with its chance by the reading alone, and beside all the other evidence.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Beside {
    /// Number of the mark.
    pub mark: String,
    /// `list of framers`.
    pub about: String,
    /// Key of the entry.
    pub entry: String,
    /// Chance by the reading alone.
    pub before: f64,
    /// Chance beside the other evidence: a prior for weighing the mark again.
    pub after: f64,
}

/// Every entry that dates a mark, in the order of the marks; those that a person decided are left out.
pub fn beside(back: &Back, solved: &Solved) -> Vec<Beside> {
    let mut out: Vec<Beside> = Vec::new();
    for (mark, chances) in back.marks.iter().zip(&solved.readings) {
        for (claim, chances) in mark.claims.iter().zip(chances) {
            if claim.by_person {
                continue;
            }
            for (reading, after) in claim.readings.iter().zip(chances) {
                let Some(entry) = &reading.entry else {
                    continue;
                };
                // An entry has a reading for its years and one for old stock
                let same = out
                    .iter_mut()
                    .find(|b| b.mark == mark.id && b.about == claim.about && b.entry == *entry);
                match same {
                    Some(b) => {
                        b.before += reading.chance;
                        b.after += after;
                    }
                    None => out.push(Beside {
                        mark: mark.id.clone(),
                        about: claim.about.clone(),
                        entry: entry.clone(),
                        before: reading.chance,
                        after: *after,
                    }),
                }
            }
        }
    }
    out
}
