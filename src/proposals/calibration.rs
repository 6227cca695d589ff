//! What turns scores into chances, with how it was fitted.

use super::joint::Absence;
use super::observed::Costs;
use super::table::{Kind, Table};

/// All fitted numbers of the weighing.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// Edit costs.
    pub costs: Costs,
    /// Chances that a field is absent.
    pub absence: Absence,
    /// Scores are multiplied by this before they become chances.
    pub slope: f64,
    /// Added to the scaled score of "unlisted".
    pub unlisted_bias: f64,
    /// Chance that a word of a mark on no list is one of the list's own words.
    pub known: f32,
    /// ln factor where a trade on the mark agrees with the entry's.
    pub trade_agrees: f32,
    /// ln factor where the trades named differ.
    pub trade_differs: f32,
    /// Entries this far (ln) below the best hypothesis are left out.
    pub cut: f64,
}

impl Default for Calibration {
    fn default() -> Self {
        Calibration {
            costs: Costs::default(),
            absence: Absence::default(),
            slope: 0.8,
            unlisted_bias: 0.0,
            known: 0.5,
            trade_agrees: 0.4,
            trade_differs: -0.7,
            cut: 8.0,
        }
    }
}

impl Calibration {
    /// Log weight of an entry; `prior`: ln of the number of entries.
    pub fn entry(&self, score: f64, prior: f64) -> f64 {
        self.slope * score - prior
    }

    /// Log weight of "on none of your lists".
    pub fn unlisted(&self, score: f64) -> f64 {
        self.slope * score + self.unlisted_bias
    }

    /// Chance that a word of a mark on no list is one of the list's own words. A list of places or
    /// persons without premises is named by these very words, so there it is small.
    pub fn known_words(&self, table: &Table) -> f32 {
        match table.kind {
            Kind::Firms => self.known,
            Kind::Persons => 0.1,
            Kind::Places => 0.005,
        }
    }
}
