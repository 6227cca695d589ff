//! What the back says about when each part of the object was made, and what can't be true together.
//!
//! In: [`Back`], plain statements about the dates of marks, each with rival readings and their
//! chances, the part that bears the mark, and observations beside the lettering. Out: [`Solved`]:
//! an interval for each part and each mark with its chance, rivals of it, and conflicts with the
//! readings that would dissolve them. Pure.
//!
//! A mark dates itself. What it says of the part that bears it is one of two things ([`Role`]):
//! a maker's mark is of one time with its part; any other mark was put there when the part was
//! there already, so the part isn't younger than the mark. A mark that bridges two parts says of
//! both that they were there, together. Support, stretcher, slip, frame and backing may each be of
//! another time: no interval is cut with that of another part, unless a bridging mark ties them.

use crate::decisions::Bearer;
use serde::Serialize;

mod apart;
mod beside;
mod chart;
mod conflicts;
mod copies;
mod gather;
mod observe;
mod questions;
mod sizes;
mod solve;
mod unlike;
mod worded;
mod words;

pub use apart::{Apart, apart};
pub use beside::{Beside, artists_beside, beside, by_own_dates, towns_beside, weights};
pub use chart::{Bar, chart};
pub use conflicts::{Conflict, Dissolves, MISREAD, Side, in_doubt};
pub use copies::{Copied, of as copies_of};
pub use gather::{Gathered, gather};
pub use observe::{Choice, Feature, features, observed};
pub use questions::{Question, questions};
pub use sizes::{SizeMatch, standard_sizes};
pub use solve::{STRAY, solve};
pub use unlike::{Unlike, unlike, unlike_marks};

/// First and last year, both included; `None`: no limit on that side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Default)]
pub struct Years {
    /// Not before.
    pub from: Option<i32>,
    /// Not after.
    pub to: Option<i32>,
}

impl Years {
    /// No limit on either side.
    pub const OPEN: Years = Years {
        from: None,
        to: None,
    };

    /// Both limits.
    pub const fn new(from: Option<i32>, to: Option<i32>) -> Years {
        Years { from, to }
    }

    /// Whether a year lies in it.
    pub fn holds(&self, year: i32) -> bool {
        self.from.is_none_or(|f| f <= year) && self.to.is_none_or(|t| year <= t)
    }

    /// What both allow; `None` if that is nothing.
    pub fn meet(&self, other: &Years) -> Option<Years> {
        let from = match (self.from, other.from) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        };
        let to = match (self.to, other.to) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        let empty = matches!((from, to), (Some(f), Some(t)) if f > t);
        (!empty).then_some(Years { from, to })
    }

    /// Whether every year of it lies in the other.
    pub fn within(&self, other: &Years) -> bool {
        other
            .from
            .is_none_or(|f| self.from.is_some_and(|own| own >= f))
            && other.to.is_none_or(|t| self.to.is_some_and(|own| own <= t))
    }

    /// EDTF: one date of a run, `[1868..1875]`; empty without limits.
    pub fn edtf(&self) -> String {
        match (self.from, self.to) {
            (None, None) => String::new(),
            (Some(f), Some(t)) if f == t => format!("{f:04}"),
            (Some(f), Some(t)) => format!("[{f:04}..{t:04}]"),
            (Some(f), None) => format!("[{f:04}..]"),
            (None, Some(t)) => format!("[..{t:04}]"),
        }
    }
}

/// What a mark's date says of the part that bears it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Put on by the maker: part and mark are of one time.
    Maker,
    /// Put on later, or at any time: the part is not younger than the mark.
    Later,
}

/// One way in which a mark may be read or meant, and what it then says of the mark's date.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading {
    /// In words, so that "if {words}" reads well: `the year on it is 1893`.
    pub words: String,
    /// Chance that it is so, 0 to 1.
    pub chance: f64,
    /// Years in which the mark was put on, if it is so.
    pub years: Years,
    /// The same with the years allowed for old stock and for directories that were late; conflicts
    /// are only named where even these leave nothing.
    pub widest: Years,
    /// What the mark then says of the part that bears it. Of the part that it bridges to it always
    /// says [`Role::Later`].
    pub role: Role,
    /// Entry of a list, if it is one.
    pub entry: Option<String>,
}

impl Reading {
    /// A reading of these years, no wider in any case, put on later than the part was made.
    pub fn new(words: impl Into<String>, chance: f64, from: Option<i32>, to: Option<i32>) -> Self {
        let years = Years { from, to };
        Reading {
            words: words.into(),
            chance,
            years,
            widest: years,
            role: Role::Later,
            entry: None,
        }
    }

    /// The same, put on by the maker of the part.
    pub fn by_maker(self) -> Self {
        Reading {
            role: Role::Maker,
            ..self
        }
    }
}

/// One thing that dates a mark: a clue in the wording, an entry of a list, a year.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Claim {
    /// What it rests on: `wording “Ltd”`, `list of framers`.
    pub about: String,
    /// Rivals; what is left of 1 says nothing of the date.
    pub readings: Vec<Reading>,
    /// Where the dates come from; holds "from memory" where that is so.
    pub source: String,
    /// Whether a person decided the reading.
    pub by_person: bool,
}

/// A mark, or an observation that stands for an event, with what dates it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// Short number: `1b`; observations have `o1`.
    pub id: String,
    /// In words: `printed label 1b`.
    pub name: String,
    /// Part that bears it; `None`: nobody has said.
    pub bearer: Option<Bearer>,
    /// Second part that it runs over, unbroken.
    pub bridges: Option<Bearer>,
    /// Where nobody has said: the part that it may be on, the second one that it may run over, and
    /// the chance of both; what is left of 1 says nothing of any part.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub proposed: Vec<(Bearer, Option<Bearer>, f64)>,
    /// What dates it.
    pub claims: Vec<Claim>,
}

/// All that is stated about one back.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Back {
    /// In order of number.
    pub marks: Vec<Mark>,
}

/// An interval with the chance that it is right.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dated {
    /// Years that all likeliest readings leave.
    pub years: Years,
    /// Chance that the year lies in them.
    pub chance: f64,
    /// Other intervals that readings of less chance leave, with theirs; greatest first.
    pub rivals: Vec<(Years, f64)>,
    /// Numbers of the marks that set its limits.
    pub rests_on: Vec<String>,
    /// Those of them whose place is only proposed from the photograph.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub proposed: Vec<String>,
}

impl Dated {
    /// The marks that it rests on, and which of them have only a proposed place.
    pub fn rests(&self) -> String {
        let mut out = self.rests_on.join(", ");
        if !self.proposed.is_empty() {
            out += &format!(
                "; where {} sits is only proposed from the photograph",
                self.proposed.join(", ")
            );
        }
        out
    }
}

/// What a back comes to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Solved {
    /// For each part that has a dated mark, in the order of [`Bearer::ALL`].
    pub parts: Vec<(Bearer, Dated)>,
    /// For each mark with a date, in order.
    pub marks: Vec<(String, Dated)>,
    /// For each mark, for each claim, for each reading: the chance beside all the other evidence.
    pub readings: Vec<Vec<Vec<f64>>>,
    /// For each mark: the chance that it doesn't belong to the part that bears it (moved label,
    /// re-used part), beside all the other evidence.
    pub strays: Vec<f64>,
    /// What can't be true together.
    pub conflicts: Vec<Conflict>,
}
