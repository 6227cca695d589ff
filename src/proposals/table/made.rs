//! Making a list ready: its rows as forms, these as slots, these as words.

use super::{Kind, NONE, Table};
use crate::gazetteer::Entries;
use crate::proposals::persons::{self, HABITS};
use crate::proposals::words::{self, Choices, Field, Word};
use std::collections::{HashMap, HashSet};

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

impl Table {
    /// Makes a list ready.
    ///
    /// * `persons`: whether its entries are persons.
    pub fn new(list: &str, entries: &Entries, persons: bool) -> Self {
        let mut b = Builder::default();
        let mut firms: HashSet<Vec<Word>> = HashSet::new();
        let kind = kind(entries);
        let habits = persons && kind == Kind::Persons;
        for e in entries.iter() {
            let mut names: Vec<u32> = Vec::new();
            let inverted = upright(&e.name);
            let all = inverted
                .iter()
                .map(String::as_str)
                .chain(std::iter::once(e.name.as_str()))
                .chain(e.variants.iter().map(String::as_str));
            for text in all {
                let surname = habits.then(|| persons::surname(text)).flatten();
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
            if habits {
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
            habits,
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

    #[test]
    fn a_house_number_stays_with_its_street() {
        assert_eq!(
            address_parts("14, Castle Street, Market Place"),
            ["14 Castle Street", "Market Place"]
        );
        assert_eq!(address_parts("10 & 11, Fish Lane"), ["10 & 11 Fish Lane"]);
        assert_eq!(address_parts(""), Vec::<String>::new());
    }
}
