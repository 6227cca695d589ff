//! What turns scores into chances, with how it was fitted.
//!
//! Fitted by `cargo run --release --example trial_weighing -- search` (coordinate search on the log
//! loss of the truth) on invented firms whose names, streets and towns are used for nothing else:
//! lists of 40, 400 and 4,000 firms, readings with 8, 30 and 45% of the name lost and 3, 10 and 16%
//! of the letters misread, a third on no list. Costs that the invented damage hardly touches (a
//! space misread, a town other than the listed one) were kept milder than the search would have
//! them, since real readings know such faults. `temper`, `unlisted_bias` and `known` were then set by
//! hand so that chances hold on lists of 50 and 10,000 firms, looking at seeds 1 and 3 of the trial
//! names too: of those three numbers the trial's figures are no independent check. What lists without premises (persons, towns) need
//! was set by judgement.

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
    /// The log weights of all hypotheses are multiplied by this at last: below 1 it takes back
    /// what the scores are too sure of, priors included.
    pub temper: f64,
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
            temper: 0.7,
            unlisted_bias: -0.2,
            known: 0.3,
            trade_agrees: 0.4,
            trade_differs: -0.7,
            cut: 14.0,
        }
    }
}

impl Calibration {
    /// Log weight of an entry; `prior`: ln of the number of entries.
    pub fn entry(&self, score: f64, prior: f64) -> f64 {
        self.temper * (self.slope * score - prior)
    }

    /// Log weight of "on none of your lists".
    pub fn unlisted(&self, score: f64) -> f64 {
        self.temper * (self.slope * score + self.unlisted_bias)
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
