//! Weighs a mark's lines against the lists. "On none of your lists" is always a rival.

use crate::gazetteer::Gazetteer;
use crate::readings::Line;
use serde::{Deserialize, Serialize};

/// How the letters of an entry agree with those of the lines.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Agreement {
    /// The entry's words with, for each letter, what was seen of it.
    pub letters: Vec<(char, Seen)>,
    /// Sentences for the person: what agreed, what was guessed, why it isn't higher.
    pub because: Vec<String>,
}

/// What was seen of a letter of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// Read clearly.
    Clear,
    /// Read unclearly, or as a letter commonly mistaken for it.
    Unclear,
    /// Under a loss or gap.
    Lost,
    /// Another letter stands there.
    Contradicted,
}

/// A proposal: this mark names that entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// List.
    pub list: String,
    /// Key of the entry.
    pub entry: String,
    /// Name as listed.
    pub name: String,
    /// Chance that the mark names this entry, 0 to 1.
    pub probability: f64,
    /// Lines of the mark that it rests on.
    pub lines: Vec<usize>,
    /// EDTF year, empty for not known.
    pub not_before: String,
    /// EDTF year, empty for not known.
    pub not_after: String,
    /// Source of the entry, as listed.
    pub source: String,
    /// Why.
    pub agreement: Agreement,
}

/// The rivals of one list: with `unlisted` their chances sum to 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rivals {
    /// List.
    pub list: String,
    /// Greatest chance first; those below a cut are left out, their chance counted as unlisted.
    pub proposals: Vec<Proposal>,
    /// Chance that the mark names no entry of this list.
    pub unlisted: f64,
}

/// Lists made ready for matching.
#[derive(Debug)]
pub struct Index {
    /// The lists.
    pub gazetteer: Gazetteer,
}

impl Index {
    /// Builds the index.
    pub fn new(gazetteer: Gazetteer) -> Self {
        Index { gazetteer }
    }

    /// Weighs the lines of one mark against every list (or one): the single place where scores
    /// become chances. The list that most likely is named comes first; lists that certainly
    /// aren't named may be left out.
    pub fn weigh(&self, _lines: &[Line], _only: Option<&str>) -> Vec<Rivals> {
        Vec::new()
    }
}
