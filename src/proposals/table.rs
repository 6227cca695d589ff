//! One list made ready: its distinct words in order, the forms of its fields as rows of word
//! choices, and its entries as rows of forms.
//!
//! Words are kept sorted so that the edit model works shared beginnings once; equal words, slots
//! and forms are kept once for all entries.

use super::words::{self, Field, Word};
use crate::packed::Ragged;
use std::collections::{HashMap, HashSet};

mod made;

/// An entry as the weighing sees it.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    /// Forms of the name, the listed one first.
    pub names: &'a [u32],
    /// Chance that a mark which bears the name bears it in each of these forms.
    pub weights: &'a [f32],
    /// Parts of the address, in order.
    pub parts: &'a [u32],
    /// Town.
    pub town: Option<u32>,
    /// Trades, one bit each.
    pub trades: u32,
}

/// Stands for "no town".
const NONE: u32 = u32::MAX;

/// What the entries of a list are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Kind {
    /// Firms and societies at premises.
    #[default]
    Firms,
    /// Persons without premises, such as artists.
    Persons,
    /// Towns.
    Places,
}

/// A list made ready.
#[derive(Debug, Default)]
pub struct Table {
    /// List name.
    pub list: String,
    /// Distinct words, sorted.
    pub words: Ragged<u8>,
    /// Letters shared with the word before.
    pub shared: Vec<u8>,
    /// Share of each word among all words of names that marks of this list's entries would bear.
    pub name_share: Vec<f32>,
    /// The same among all words of addresses and towns.
    pub place_share: Vec<f32>,
    /// Whether it belongs to an address or a town, says a trade or fills a line: no name.
    pub fills: Vec<bool>,
    /// Share of it among the words that say a trade, belong to a firm's style or fill a line: on any
    /// list or none; 0 for others.
    pub common: Vec<f32>,
    /// Chance that it follows the "&" of a firm's name.
    pub after_and: Vec<f32>,
    /// Longest word.
    pub longest: usize,
    /// Distinct slots, places in a form: word numbers that may stand there.
    pub slots: Ragged<u32>,
    /// Chance of each of them, beside `slots.all`.
    pub chances: Vec<f32>,
    /// Chance that nothing stands at the slot.
    pub dropped: Vec<f32>,
    /// Distinct forms: slot numbers.
    pub forms: Ragged<u32>,
    /// Name, address or town, by form.
    pub fields: Vec<Field>,
    /// Forms of the names, by entry in file order.
    pub names: Ragged<u32>,
    /// Chance of each of these, beside `names.all`.
    pub name_weights: Vec<f32>,
    /// Forms of the parts of the addresses.
    pub parts: Ragged<u32>,
    /// Form of each town; `u32::MAX`: none.
    pub homes: Vec<u32>,
    /// Trades of each entry, one bit each.
    pub trades: Vec<u32>,
    /// Whether an entry is the first at its premises.
    pub leads: Vec<bool>,
    /// Distinct towns (form numbers).
    pub towns: Vec<u32>,
    /// Word numbers of the words for thoroughfares.
    pub thoroughfares: Vec<u32>,
    /// Distinct firms.
    pub firms: usize,
    /// What the entries are.
    pub kind: Kind,
    /// Whether the entries are persons, who are named by habits of their own: initials, the surname alone.
    pub habits: bool,
}

/// Share of a given name among the words of labels, beside those that say a trade or fill a line.
const GIVEN_SHARE: f32 = 0.003;

impl Table {
    /// What follows from the rest: where words begin alike, how often they stand, which towns there
    /// are.
    pub(super) fn complete(&mut self) {
        self.longest = self.words.iter().map(<[u8]>::len).max().unwrap_or(0);
        self.shared = (0..self.words.len())
            .map(|i| match i {
                0 => 0,
                _ => self.words[i - 1]
                    .iter()
                    .zip(&self.words[i])
                    .take_while(|(a, b)| a == b)
                    .count() as u8,
            })
            .collect();
        self.weigh_words();
        let mut towns: Vec<u32> = self.homes.iter().copied().filter(|t| *t != NONE).collect();
        towns.sort_unstable();
        towns.dedup();
        self.towns = towns;
    }

    /// Number of entries.
    pub fn len(&self) -> usize {
        self.names.len()
    }

    /// An entry.
    pub fn row(&self, r: usize) -> Row<'_> {
        Row {
            names: &self.names[r],
            weights: self.weights(r),
            parts: &self.parts[r],
            town: Some(self.homes[r]).filter(|t| *t != NONE),
            trades: self.trades[r],
        }
    }

    fn weights(&self, r: usize) -> &[f32] {
        let end = self.names.ends[r] as usize;
        &self.name_weights[end - self.names[r].len()..end]
    }

    /// Words that may stand at a slot, each with its chance.
    pub fn choices(&self, slot: u32) -> impl Iterator<Item = (u32, f32)> {
        let slot = slot as usize;
        let words = &self.slots[slot];
        let start = self.slots.ends[slot] as usize - words.len();
        let chances = &self.chances[start..start + words.len()];
        words.iter().copied().zip(chances.iter().copied())
    }

    /// Sorts the words and renames them everywhere.
    pub(super) fn sort(&mut self, words: HashMap<Word, u32>) {
        let mut sorted: Vec<(Word, u32)> = words.into_iter().collect();
        sorted.sort();
        let mut renamed = vec![0u32; sorted.len()];
        for (new, (_, old)) in sorted.iter().enumerate() {
            renamed[*old as usize] = new as u32;
        }
        for w in self.slots.all.iter_mut().chain(&mut self.thoroughfares) {
            *w = renamed[*w as usize];
        }
        for (w, _) in &sorted {
            self.words.push(w);
        }
    }

    fn weigh_words(&mut self) {
        let mut shares = [vec![0f32; self.words.len()], vec![0f32; self.words.len()]];
        let mut add = |form: u32, weight: f32| {
            let share = &mut shares[usize::from(self.fields[form as usize] != Field::Name)];
            for &s in &self.forms[form as usize] {
                for (w, p) in self.choices(s) {
                    share[w as usize] += weight * p;
                }
            }
        };
        for r in 0..self.len() {
            let r = self.row(r);
            for (&f, &weight) in r.names.iter().zip(r.weights) {
                add(f, weight);
            }
            r.parts.iter().for_each(|&f| add(f, 1.0));
            r.town.iter().for_each(|&f| add(f, 1.0));
        }
        for share in &mut shares {
            let total: f32 = share.iter().sum::<f32>().max(1.0);
            share.iter_mut().for_each(|s| *s /= total);
        }
        [self.name_share, self.place_share] = shares;
        let filling: HashSet<Word> = words::filling().collect();
        self.fills = self.words.iter().map(|w| filling.contains(w)).collect();
        let often = |w: &[u8]| {
            if filling.contains(w) {
                words::often(w)
            } else {
                0.0
            }
        };
        self.common = self.words.iter().map(often).collect();
        let total = self.common.iter().sum::<f32>().max(1.0);
        self.common.iter_mut().for_each(|x| *x /= total);
        for (share, word) in self.common.iter_mut().zip(self.words.iter()) {
            if *share == 0.0 && words::is_given(word) {
                *share = GIVEN_SHARE;
            }
        }
        self.after_and = self.words.iter().map(words::after_and).collect();
        for (f, field) in self.fields.iter().enumerate() {
            if *field == Field::Name {
                continue;
            }
            for &s in &self.forms[f] {
                for &w in &self.slots[s as usize] {
                    self.fills[w as usize] = true;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gazetteer::Entry;

    #[test]
    fn words_are_sorted_and_their_shares_sum_to_one() {
        let entries = [Entry {
            name: "Thomas Harrowby & Son".into(),
            address: "14 Castle Street".into(),
            town: "Kendal".into(),
            ..Entry::default()
        }];
        let t = Table::new("framers", &entries.into_iter().collect(), false);
        let words: Vec<&[u8]> = t.words.iter().collect();
        assert!(words.windows(2).all(|w| w[0] < w[1]));
        for share in [&t.name_share, &t.place_share] {
            assert!((share.iter().sum::<f32>() - 1.0).abs() < 1e-4);
        }
        for (i, w) in t.words.iter().enumerate().skip(1) {
            let k = t.shared[i] as usize;
            assert_eq!(w[..k], t.words[i - 1][..k]);
        }
    }
}
