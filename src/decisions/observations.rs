//! What a person saw on the object beside the lettering. A journal of its own, about pictures:
//! entries are never changed, undoing adds one.

use super::Author;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Number of an entry, rising with time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ObservationId(pub i64);

impl std::fmt::Display for ObservationId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "o{}", self.0)
    }
}

impl ObservationId {
    /// From `o12`.
    pub fn parse(text: &str) -> Option<ObservationId> {
        let digits = text.trim().strip_prefix(['o', 'O'])?;
        digits.parse().ok().filter(|n| *n > 0).map(ObservationId)
    }
}

/// What was seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "seen", rename_all = "snake_case")]
pub enum Sight {
    /// One of the choices of a feature, as named in the list of observations.
    Feature {
        /// `support`, `fixings`, ...
        feature: String,
        /// `millboard`, `staples`, ...
        choice: String,
    },
    /// The size of the support.
    Size {
        /// mm.
        height: f64,
        /// mm.
        width: f64,
    },
    /// The named entry holds no longer.
    Undo {
        /// The entry undone.
        undoes: ObservationId,
    },
}

/// One entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Observation {
    /// Number.
    pub id: ObservationId,
    /// Picture (number in the store).
    pub picture: i64,
    /// Who, when, why.
    #[serde(flatten)]
    pub author: Author,
    /// What.
    #[serde(flatten)]
    pub sight: Sight,
}

/// The entries that hold, without undoings. `journal` in order of number.
pub fn standing(journal: &[Observation]) -> Vec<&Observation> {
    let mut undone = BTreeSet::new();
    let mut out = Vec::new();
    for o in journal.iter().rev() {
        if undone.contains(&o.id) {
            continue;
        }
        match o.sight {
            Sight::Undo { undoes } => {
                undone.insert(undoes);
            }
            _ => out.push(o),
        }
    }
    out.reverse();
    out
}
