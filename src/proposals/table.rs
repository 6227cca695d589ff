//! One list made ready: its distinct words in order, the forms of its fields as rows of word
//! choices, and its entries as rows of forms.
//!
//! Words are kept sorted so that the edit model works shared beginnings once; equal words, slots
//! and forms are kept once for all entries.

use super::persons::{self, HABITS};
use super::words::{self, Choices, Field, Word};
use crate::gazetteer::Entries;
use crate::packed::Ragged;
use std::collections::{HashMap, HashSet};

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
}

/// Longest word kept, letters.
const LONGEST_WORD: usize = 24;

/// What a word is of the name that it stands in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Part {
    /// One word of several that tell one firm from another, or of none.
    Any,
    /// The one that does.
    Alone,
    /// Of a person, as listed.
    Given,
    /// Of a person whose names are listed, shortened.
    Short,
    /// Of a person.
    Surname,
}

#[derive(Default)]
struct Builder {
    words: HashMap<Word, u32>,
    /// Words of names, whether they tell one firm from another.
    telling: HashMap<Word, bool>,
    slots: HashMap<(Word, Field, bool, bool, Part), u32>,
    forms: HashMap<(Vec<u32>, Field), u32>,
    /// The table as far as it is made.
    table: Table,
}

impl Builder {
    fn word(&mut self, word: &[u8]) -> u32 {
        let word = &word[..word.len().min(LONGEST_WORD)];
        if let Some(&k) = self.words.get(word) {
            return k;
        }
        let k = self.words.len() as u32;
        self.words.insert(word.to_vec(), k);
        k
    }

    fn tells(&mut self, word: &Word) -> bool {
        if let Some(&known) = self.telling.get(word) {
            return known;
        }
        let tells = words::tells(word);
        self.telling.insert(word.clone(), tells);
        tells
    }

    fn slot(&mut self, all: &[Word], at: usize, field: Field, part: Part) -> u32 {
        // All that the choices depend on
        let key = (
            all[at].clone(),
            field,
            at + 1 == all.len() && at > 0,
            all.len() > 1,
            part,
        );
        if let Some(&k) = self.slots.get(&key) {
            return k;
        }
        let Choices { words, dropped } = match part {
            Part::Given => words::given_of_person(&all[at]),
            Part::Short => words::short_of_person(&all[at]),
            Part::Surname => words::surname(&all[at]),
            Part::Any | Part::Alone => words::choices(all, at, field),
        };
        let numbers: Vec<u32> = words.iter().map(|(w, _)| self.word(w)).collect();
        let k = self.table.slots.push(&numbers);
        self.table.chances.extend(words.iter().map(|w| w.1));
        self.table.dropped.push(dropped);
        self.slots.insert(key, k);
        k
    }

    fn form(&mut self, text: &str, field: Field) -> Option<u32> {
        self.form_of(text, field, None)
    }

    /// * `person`: what words before a person's surname are, and how many words that has.
    fn form_of(&mut self, text: &str, field: Field, person: Option<(Part, usize)>) -> Option<u32> {
        let all = words::split(text);
        if all.is_empty() {
            return None;
        }
        let telling: Vec<bool> = match field {
            Field::Name => all.iter().map(|w| self.tells(w)).collect(),
            _ => vec![false; all.len()],
        };
        let one = telling.iter().filter(|t| **t).count() == 1;
        let part = |i: usize| match person {
            Some((_, surname)) if i + surname >= all.len() => Part::Surname,
            Some((before, _)) => before,
            None if one && telling[i] => Part::Alone,
            None => Part::Any,
        };
        let slots: Vec<u32> = (0..all.len())
            .map(|i| self.slot(&all, i, field, part(i)))
            .collect();
        if let Some(&k) = self.forms.get(&(slots.clone(), field)) {
            return Some(k);
        }
        let k = self.table.forms.push(&slots);
        self.table.fields.push(field);
        self.forms.insert((slots, field), k);
        Some(k)
    }

    /// Adds the ways in which labels shorten a person's name; those that are listed as forms by themselves stay as they are.
    fn habits(&mut self, name: &str, names: &mut Vec<u32>, weights: &mut Vec<f32>) {
        let ways = persons::ways(name);
        let mut own: Vec<(u32, f32)> = Vec::new();
        let surname = persons::surname(name).map_or(0, |s| words::split(&s).len());
        for (text, share) in ways {
            let form = self.form_of(&text, Field::Name, Some((Part::Short, surname)));
            own.extend(form.filter(|f| !names.contains(f)).map(|f| (f, share)));
        }
        let all: f32 = HABITS.listed + own.iter().map(|o| o.1).sum::<f32>();
        weights.iter_mut().for_each(|w| *w *= HABITS.listed / all);
        names.extend(own.iter().map(|o| o.0));
        weights.extend(own.iter().map(|o| o.1 / all));
    }
}

/// What the entries of a list are.
fn kind(entries: &Entries) -> Kind {
    let (mut towns, mut addresses) = (0usize, 0usize);
    for e in entries.iter() {
        towns += usize::from(words::is_place(&e.trade));
        addresses += usize::from(!address_parts(&e.address).is_empty());
    }
    if 2 * towns > entries.len() {
        Kind::Places
    } else if 10 * addresses < entries.len() {
        Kind::Persons
    } else {
        Kind::Firms
    }
}

/// `Harrowby, Thomas` as `Thomas Harrowby`; other names as they stand.
fn upright(name: &str) -> Option<String> {
    let (last, first) = name.split_once(',')?;
    let short = first.split_whitespace().count() <= 3 && !first.contains(',');
    (short && !last.trim().is_empty()).then(|| format!("{} {}", first.trim(), last.trim()))
}

/// Share of a given name among the words of labels, beside those that say a trade or fill a line.
const GIVEN_SHARE: f32 = 0.003;

impl Table {
    /// Makes a list ready.
    pub fn new(list: &str, entries: &Entries) -> Self {
        let mut b = Builder::default();
        let mut firms: HashSet<Vec<Word>> = HashSet::new();
        let kind = kind(entries);
        for e in entries.iter() {
            let mut names: Vec<u32> = Vec::new();
            let inverted = upright(&e.name);
            let all = inverted
                .iter()
                .map(String::as_str)
                .chain(std::iter::once(e.name.as_str()))
                .chain(e.variants.iter().map(String::as_str));
            for text in all {
                let surname = match kind {
                    Kind::Persons => persons::surname(text),
                    _ => None,
                };
                let person = surname.map(|s| (Part::Given, words::split(&s).len()));
                let form = b.form_of(text, Field::Name, person);
                if let Some(f) = form
                    && !names.contains(&f)
                {
                    names.push(f);
                }
            }
            let mut weights: Vec<f32> = (0..names.len())
                .map(|i| name_weight(i, names.len()))
                .collect();
            if kind == Kind::Persons {
                let name = inverted.as_deref().unwrap_or(&e.name);
                b.habits(name, &mut names, &mut weights);
            }
            let parts: Vec<u32> = address_parts(&e.address)
                .iter()
                .filter_map(|p| b.form(p, Field::Address))
                .collect();
            // A town that is part of the name is seen once, not twice
            let named = words::split(&e.name);
            let home = words::split(&e.town);
            let within = !home.is_empty() && named.windows(home.len()).any(|w| w == home);
            let town = if within {
                None
            } else {
                b.form(&e.town, Field::Town)
            };
            firms.insert(named);
            b.table.names.push(&names);
            b.table.name_weights.extend(weights);
            b.table.parts.push(&parts);
            b.table.homes.push(town.unwrap_or(NONE));
            b.table.trades.push(words::trades(&words::split(&e.trade)));
        }
        let thoroughfares: Vec<u32> = words::thoroughfares().map(|w| b.word(&w)).collect();
        words::filling().for_each(|w| {
            b.word(&w);
        });
        let mut table = Table {
            list: list.to_string(),
            thoroughfares,
            firms: firms.len(),
            kind,
            ..b.table
        };
        drop((b.slots, b.forms, firms));
        table.sort(b.words);
        let mut known = HashSet::new();
        let premises = (0..table.len()).map(|r| (&table.parts[r], table.homes[r]));
        table.leads = premises.map(|p| known.insert(p)).collect();
        table.complete();
        for r in [
            &mut table.slots,
            &mut table.forms,
            &mut table.names,
            &mut table.parts,
        ] {
            r.trim();
        }
        table
    }

    /// What follows from the rest: where words begin alike, how often they stand, which towns there
    /// are.
    fn complete(&mut self) {
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
    fn sort(&mut self, words: HashMap<Word, u32>) {
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

/// Chance that a mark bears form `i` of `count` forms of a name.
fn name_weight(i: usize, count: usize) -> f32 {
    match (i, count) {
        (_, 1) => 1.0,
        (0, _) => 0.6,
        _ => 0.4 / (count - 1) as f32,
    }
}

/// Parts of an address; a number standing alone before a comma belongs to what follows.
pub fn address_parts(address: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut held = String::new();
    for part in address.split([',', ';']).map(str::trim) {
        if part.is_empty() {
            continue;
        }
        let number = part.chars().any(|c| c.is_ascii_digit())
            && part.split_whitespace().all(|w| {
                w.chars().any(|c| c.is_ascii_digit()) || matches!(w, "&" | "and" | "No" | "No.")
            });
        if number {
            held = format!("{held} {part}");
        } else {
            out.push(format!("{held} {part}").trim().to_string());
            held.clear();
        }
    }
    if !held.trim().is_empty() {
        out.push(held.trim().to_string());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gazetteer::Entry;

    #[test]
    fn a_house_number_stays_with_its_street() {
        assert_eq!(
            address_parts("14, Castle Street, Market Place"),
            ["14 Castle Street", "Market Place"]
        );
        assert_eq!(address_parts("10 & 11, Fish Lane"), ["10 & 11 Fish Lane"]);
        assert_eq!(address_parts(""), Vec::<String>::new());
    }

    #[test]
    fn words_are_sorted_and_their_shares_sum_to_one() {
        let entries = [Entry {
            name: "Thomas Harrowby & Son".into(),
            address: "14 Castle Street".into(),
            town: "Kendal".into(),
            ..Entry::default()
        }];
        let t = Table::new("framers", &entries.into_iter().collect());
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
