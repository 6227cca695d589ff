//! Looking an entry up in the lists: as typed, as heard, as damaged.

use super::{Index, SHOWN_FROM};
use crate::gazetteer::fold::{holds, plain};
use crate::gazetteer::{Entry, List};
use crate::readings::{Line, TYPED_UNCLEAR};

/// An entry that was looked for.
#[derive(Debug, Clone, Copy)]
pub struct Found<'a> {
    /// The entry.
    pub entry: &'a Entry,
    /// Chance that it is meant; `None` where it holds the words and another is likelier.
    pub chance: Option<f64>,
}

impl Index {
    /// Entries that may be meant, the likeliest first, then those that hold all the words. What names nobody as it is
    /// typed is looked for as it may have been heard: every letter may be another.
    ///
    /// * `typed`: what is looked for, as lines; `words`: the same as typed.
    /// * `only`: the list, where one is named. `most`: so many entries at most.
    pub fn find(
        &self,
        typed: &[Line],
        words: &str,
        only: Option<&str>,
        most: usize,
    ) -> Vec<Found<'_>> {
        let mut out = self.weighed(typed, only);
        let surest = out.iter().filter_map(|f| f.chance).fold(0.0, f64::max);
        if surest < 0.5 {
            let heard: Vec<Line> = typed.iter().map(heard).collect();
            out = self.weighed(&heard, only);
        }
        out.sort_by(|a, b| {
            b.chance
                .partial_cmp(&a.chance)
                .unwrap_or(std::cmp::Ordering::Equal)
        });
        let words = plain(words);
        let words: Vec<&str> = words.split_whitespace().collect();
        let asked = |l: &&List| only.is_none_or(|o| o == l.name);
        let all = self.gazetteer.lists.iter().filter(asked);
        for entry in all.flat_map(|l| l.entries.iter()) {
            if out.len() >= most {
                break;
            }
            let known = out
                .iter()
                .any(|f| (&f.entry.list, &f.entry.entry) == (&entry.list, &entry.entry));
            if !words.is_empty() && !known && has(entry, &words) {
                out.push(Found {
                    entry,
                    chance: None,
                });
            }
        }
        out.truncate(most);
        out
    }

    fn weighed(&self, lines: &[Line], only: Option<&str>) -> Vec<Found<'_>> {
        let rivals = self.weigh(lines, only);
        let likely = rivals
            .iter()
            .flat_map(|r| &r.proposals)
            .filter(|p| p.probability >= SHOWN_FROM);
        let found = likely.filter_map(|p| {
            Some(Found {
                entry: self.gazetteer.entry(&p.list, &p.entry)?,
                chance: Some(p.probability),
            })
        });
        found.collect()
    }
}

/// The line with every letter in doubt.
fn heard(line: &Line) -> Line {
    let characters = line.characters.iter().cloned().map(|mut c| {
        if !c.text.trim().is_empty() {
            c.confidence = c.confidence.min(TYPED_UNCLEAR);
        }
        c
    });
    Line::from_characters(characters.collect(), line.bounds, line.within)
}

/// Whether an entry holds all the words, in one of its names or anywhere else.
fn has(e: &Entry, words: &[&str]) -> bool {
    let whole = format!("{} {} {} {}", e.name, e.trade, e.address, e.town);
    holds(&whole, words) || e.variants.iter().any(|v| holds(v, words))
}
