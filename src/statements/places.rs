//! Places that a mark names, each with a chance of its own: a town told as such, or one that stands within an
//! address, a show's name or a title.
//!
//! The model cuts a mark so that every word says one thing. A place within an artist's address says two: the chances
//! of all cuts that cover its words are weighed together (a logistic regression, fitted by the same script).

use super::chain;
use super::features::{LONGEST, Seen};
use super::lists::Kind;
use super::model::{self, LABELS, Model, PLACES, Says};
use super::{Lists, Mark, Role};
use crate::chance;
use std::ops::Range;

/// A place that may be named.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Its words, numbers within the mark.
    pub words: Range<usize>,
    /// Lines that they stand on, from 0.
    pub lines: Vec<usize>,
    /// Number of the list.
    pub list: usize,
    /// Entries of that list with the chance of each, greatest first; together at most 1.
    pub entries: Vec<(usize, f64)>,
}

impl Place {
    /// Chance that one of its entries is named.
    pub fn chance(&self) -> f64 {
        self.entries.iter().map(|e| e.1).sum()
    }
}

/// A place below this chance is left out.
const LEAST: f64 = 0.01;

/// Roles whose words may hold a place, by what they are.
fn sort(role: Role) -> usize {
    match role {
        Role::ArtistAddress => 0,
        Role::Address => 1,
        Role::Exhibition => 2,
        Role::Title => 3,
        Role::Artist | Role::Owner | Role::Lender | Role::Consignee => 4,
        Role::Maker | Role::Dealer | Role::Sale => 5,
        _ => 6,
    }
}

/// Chance that words `from..to` are told as a town, and that they stand within something else, by [`sort`].
fn covered(seen: &Seen, chances: &[f32], from: usize, to: usize) -> (f64, [f64; 7]) {
    let mut within = [0f64; 7];
    let mut town = 0.0;
    for first in (to.saturating_sub(LONGEST))..=from {
        for length in (to - first)..=LONGEST.min(seen.count - first) {
            let at = Seen::at(first, length) * LABELS;
            for (role, _) in Role::ALL {
                let p = f64::from(chances[at + model::label(Says::Fact(role))]).exp();
                if role != Role::Town {
                    within[sort(role)] += p;
                } else if (first, length) == (from, to - from) {
                    town += p;
                }
            }
        }
    }
    (town, within)
}

/// A stretch that may name entries of one list of places.
pub struct May {
    /// As [`Place`]; the chances of the entries are shares of its own.
    pub place: Place,
    /// What its chance is told by: see [`Model::place`].
    pub seen: [f64; PLACES],
}

/// What a stretch may name of one list: the list, whether it is an entry's whole name, and the entries
/// with their weights.
type OfList = (usize, bool, Vec<(usize, f64)>);

/// All stretches that may name a place, with what tells it.
pub fn all(mark: &Mark, lists: &Lists, model: &Model, seen: &Seen, chances: &[f32]) -> Vec<May> {
    let mut out = Vec::new();
    for from in 0..seen.count {
        for to in from + 1..=(from + LONGEST).min(seen.count) {
            let mut by_list: Vec<OfList> = Vec::new();
            let candidates = &seen.candidates[Seen::at(from, to - from)];
            for c in candidates.iter().filter(|c| c.kind == Kind::Place) {
                let weight =
                    chain::entry_weight(model, c) + model.kind(c.kind as usize, Role::Town);
                let (list, entry) = lists.rows[c.row as usize].at;
                let (list, row) = (list as usize, (entry as usize, f64::from(weight).exp()));
                match by_list.iter_mut().find(|l| l.0 == list) {
                    Some(l) => {
                        l.1 |= c.whole();
                        l.2.push(row);
                    }
                    None => by_list.push((list, c.whole(), vec![row])),
                }
            }
            if by_list.is_empty() {
                continue;
            }
            let (town, within) = covered(seen, chances, from, to);
            for (list, whole, mut entries) in by_list {
                let sum: f64 = entries.iter().map(|e| e.1).sum();
                entries.iter_mut().for_each(|e| e.1 /= sum);
                entries.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
                let share = sum / (1.0 + sum);
                let mut told = [0f64; PLACES];
                told[0] = 1.0;
                told[1] = chance::logit((town * share).clamp(1e-4, 1.0 - 1e-4));
                told[2] = f64::from(u8::from(whole));
                told[3] = town * share;
                (0..within.len()).for_each(|k| told[4 + k] = within[k] * share);
                let mut lines: Vec<usize> = mark.words[from..to].iter().map(|w| w.line).collect();
                lines.dedup();
                let words = from..to;
                let place = Place {
                    words,
                    lines,
                    list,
                    entries,
                };
                out.push(May { place, seen: told });
            }
        }
    }
    out
}

/// The places that a mark names, no two of a list on the same words, in the order of the text.
pub(super) fn named(all: Vec<May>, model: &Model) -> Vec<Place> {
    let mut places: Vec<Place> = all
        .into_iter()
        .map(|mut m| {
            let p = model.place(&m.seen);
            m.place.entries.iter_mut().for_each(|e| e.1 *= p);
            m.place
        })
        .filter(|p| p.chance() >= LEAST)
        .collect();
    let longer = |p: &Place| p.words.len();
    places.sort_by(|a, b| (b.chance().total_cmp(&a.chance())).then(longer(b).cmp(&longer(a))));
    let mut out: Vec<Place> = Vec::new();
    for p in places {
        let meets = |o: &Place| {
            o.list == p.list && o.words.start < p.words.end && p.words.start < o.words.end
        };
        if !out.iter().any(meets) {
            out.push(p);
        }
    }
    out.sort_by_key(|p| (p.list, p.words.start));
    out
}
