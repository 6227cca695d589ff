//! Why: which lines, letter by letter, and in sentences.

use super::observed::Observed;
use super::table::Table;
use super::{Agreement, Index, Proposal};
use crate::gazetteer::List;

/// Proposals with their reasons, from rows and chances, greatest first.
pub(super) fn proposals(
    _index: &Index,
    _table: &Table,
    list: &List,
    _text: &Observed,
    kept: &[(usize, f64)],
    _unlisted: f64,
) -> Vec<Proposal> {
    kept.iter()
        .map(|&(row, probability)| {
            let e = &list.entries[row];
            Proposal {
                list: e.list.clone(),
                entry: e.entry.clone(),
                name: e.name.clone(),
                probability,
                lines: Vec::new(),
                not_before: e.from.clone(),
                not_after: e.to.clone(),
                source: e.source.clone(),
                agreement: Agreement::default(),
            }
        })
        .collect()
}
