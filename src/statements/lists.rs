//! The lists made ready: distinct words, the forms of names, and the rows that bear them.

use super::hits;
use super::letters;
use super::lexicon::{self, Class};
use crate::gazetteer::{Entries, Entry, Gazetteer};
use crate::packed::Ragged;
use std::collections::HashMap;

/// What the entries of a list are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Makers of frames or of supports.
    Maker,
    /// Dealers, printsellers, shops.
    Seller,
    /// Sale rooms.
    Sale,
    /// Societies, galleries, shows.
    Show,
    /// Persons.
    Person,
    /// Places.
    Place,
}

/// Number of [`Kind`]s.
pub const KINDS: usize = 6;

/// One row of a list.
#[derive(Debug, Clone)]
pub struct Row {
    /// Number of its list, and of the entry within it.
    pub at: (u16, u32),
    /// What it is.
    pub kind: Kind,
    /// First and last year, where known.
    pub years: (Option<i32>, Option<i32>),
    /// Classes of the words of its trade.
    pub trade: u64,
}

/// The lists made ready.
#[derive(Debug, Default)]
pub struct Lists {
    /// Distinct words.
    pub vocabulary: Ragged<u8>,
    /// Numbers of the words in their order.
    pub(super) sorted: Vec<u32>,
    pub(super) grams: Ragged<u32>,
    /// How many forms of names hold each word.
    pub in_names: Vec<u32>,
    /// ln of how rare a word is among names and addresses.
    pub rare: Vec<f32>,
    /// Forms of names: numbers of words.
    pub forms: Ragged<u32>,
    /// Rows that bear each form.
    pub bearers: Ragged<u32>,
    /// Forms by the words that they hold.
    pub holding: Ragged<u32>,
    /// All rows.
    pub rows: Vec<Row>,
    /// Words of each row's address and town.
    pub addresses: Ragged<u32>,
    /// See [`Lists::addresses`].
    pub towns: Ragged<u32>,
    /// Rows of each kind.
    pub counts: [usize; KINDS],
    /// Names of lists, and their entries, by [`Row::at`].
    pub names: Vec<(String, Entries)>,
}

impl Kind {
    /// Every kind, in order.
    pub const ALL: [Kind; KINDS] = [
        Kind::Maker,
        Kind::Seller,
        Kind::Sale,
        Kind::Show,
        Kind::Person,
        Kind::Place,
    ];

    /// The kind of a role as a list declares it (`gazetteer::rows::ROLES`).
    pub fn of_role(role: &str) -> Option<Kind> {
        Some(match role {
            "maker" => Kind::Maker,
            "seller" => Kind::Seller,
            "sale" => Kind::Sale,
            "show" => Kind::Show,
            "person" => Kind::Person,
            "place" => Kind::Place,
            _ => return None,
        })
    }
}

/// What the entries of a list are: as it declares, else by the trades of its rows.
pub fn kind(role: Option<&str>, entries: &Entries) -> Kind {
    if let Some(kind) = role.and_then(Kind::of_role) {
        return kind;
    }
    let mut votes = [0usize; KINDS];
    let mut trades = HashMap::new();
    for trade in entries.trades() {
        let told = *trades.entry(trade).or_insert_with(|| classes(trade));
        let order = [
            (Class::TradePlace, Kind::Place),
            (Class::TradePerson, Kind::Person),
            (Class::TradeSale, Kind::Sale),
            (Class::TradeShow, Kind::Show),
            (Class::TradeMaker, Kind::Maker),
            (Class::TradeSeller, Kind::Seller),
        ];
        if let Some((_, k)) = order.iter().find(|(c, _)| told & c.bit() != 0) {
            votes[*k as usize] += 1;
        }
    }
    Kind::ALL
        .into_iter()
        .rev()
        .max_by_key(|k| votes[*k as usize])
        .unwrap_or(Kind::Maker)
}

/// Classes of the words of a trade.
fn classes(trade: &str) -> u64 {
    let words = letters::split(trade);
    words.iter().fold(0, |a, w| a | lexicon::exact(w))
}

#[derive(Default)]
struct Builder {
    by_word: HashMap<Vec<u8>, u32>,
    trades: HashMap<String, u64>,
    lists: Lists,
    forms: HashMap<Vec<u32>, u32>,
    bearers: Vec<(u32, u32)>,
    held: Vec<u32>,
}

impl Builder {
    fn word(&mut self, word: Vec<u8>) -> u32 {
        if let Some(&k) = self.by_word.get(&word) {
            return k;
        }
        let k = self.lists.vocabulary.push(&word);
        self.by_word.insert(word, k);
        self.held.push(0);
        k
    }

    fn words(&mut self, text: &str) -> Vec<u32> {
        letters::split(text)
            .into_iter()
            .map(|w| self.word(w))
            .collect()
    }

    fn form(&mut self, text: &str, row: u32) {
        let words = self.words(text);
        if words.is_empty() {
            return;
        }
        let next = self.forms.len() as u32;
        let form = *self.forms.entry(words.clone()).or_insert(next);
        if form == next {
            words.iter().for_each(|w| self.held[*w as usize] += 1);
            self.lists.forms.push(&words);
        }
        if !self.bearers.contains_last(form, row) {
            self.bearers.push((form, row));
        }
    }

    fn row(&mut self, e: &Entry, at: (u16, u32), kind: Kind) {
        let number = self.lists.rows.len() as u32;
        self.form(&e.name, number);
        for v in &e.variants {
            self.form(v, number);
        }
        // A person may stand surname first
        if kind == Kind::Person
            && let Some((last, first)) = e.name.split_once(", ")
        {
            self.form(&format!("{first} {last}"), number);
        }
        let address = self.words(&e.address);
        let town = self.words(if kind == Kind::Place { "" } else { &e.town });
        address
            .iter()
            .chain(&town)
            .for_each(|w| self.held[*w as usize] += 1);
        self.lists.addresses.push(&address);
        self.lists.towns.push(&town);
        let trade = match self.trades.get(&e.trade) {
            Some(t) => *t,
            None => *self
                .trades
                .entry(e.trade.clone())
                .or_insert_with(|| classes(&e.trade)),
        };
        let years = e.years();
        self.lists.rows.push(Row {
            at,
            kind,
            years,
            trade,
        });
        self.lists.counts[kind as usize] += 1;
    }

    fn finish(mut self) -> Lists {
        let l = &mut self.lists;
        let count = l.vocabulary.len();
        l.sorted = (0..count as u32).collect();
        let words = &l.vocabulary;
        l.sorted.sort_unstable_by_key(|k| &words[*k as usize]);
        let all = (self.forms.len() + 1) as f32;
        l.rare = self
            .held
            .iter()
            .map(|n| (all.max(1000.0) / (*n as f32 + 0.5)).ln().max(0.0))
            .collect();
        l.bearers = Ragged::grouped(self.forms.len(), &self.bearers);
        let mut held = Vec::new();
        for f in 0..self.forms.len() {
            let mut words = l.forms[f].to_vec();
            words.sort_unstable();
            words.dedup();
            held.extend(words.into_iter().map(|w| (w, f as u32)));
        }
        l.holding = Ragged::grouped(count, &held);
        l.in_names = (0..count).map(|w| l.holding[w].len() as u32).collect();
        let mut grams = Vec::new();
        for (k, w) in l.vocabulary.iter().enumerate() {
            if w.len() > 2 {
                let mut own: Vec<usize> = hits::grams(w).collect();
                own.sort_unstable();
                own.dedup();
                grams.extend(own.into_iter().map(|g| (g as u32, k as u32)));
            }
        }
        l.grams = Ragged::grouped(hits::GRAMS, &grams);
        self.lists
    }
}

/// Pairs pushed in order of the second value.
trait Last {
    fn contains_last(&self, form: u32, row: u32) -> bool;
}

impl Last for Vec<(u32, u32)> {
    fn contains_last(&self, form: u32, row: u32) -> bool {
        self.iter()
            .rev()
            .take_while(|p| p.1 == row)
            .any(|p| p.0 == form)
    }
}

impl Lists {
    /// Makes lists ready.
    pub fn new(gazetteer: &Gazetteer) -> Self {
        let mut b = Builder::default();
        for (n, list) in gazetteer.lists.iter().enumerate() {
            let kind = kind(list.role, &list.entries);
            for (i, e) in list.entries.iter().enumerate() {
                b.row(e, (n as u16, i as u32), kind);
            }
            b.lists
                .names
                .push((list.name.clone(), list.entries.clone()));
        }
        let mut lists = b.finish();
        lists.take_names(gazetteer);
        lists
    }

    /// Takes names and keys of its rows from the lists that it was made of.
    pub(super) fn take_names(&mut self, gazetteer: &Gazetteer) {
        let own = gazetteer.lists.iter();
        self.names = own.map(|l| (l.name.clone(), l.entries.clone())).collect();
    }

    /// Number of a word.
    pub fn word(&self, letters: &[u8]) -> Option<u32> {
        let words = &self.vocabulary;
        let found = self
            .sorted
            .binary_search_by(|k| words[*k as usize].cmp(letters));
        Some(self.sorted[found.ok()?])
    }

    /// Number of that row by list and key.
    pub fn find(&self, list: &str, entry: &str) -> Option<u32> {
        let n = self.names.iter().position(|l| l.0 == list)?;
        let i = self.names[n].1.position(entry)?;
        let at = (n as u16, i as u32);
        self.rows.iter().position(|r| r.at == at).map(|i| i as u32)
    }

    /// Whether a row bears a name of those words.
    pub fn named(&self, row: u32, words: &[u32]) -> bool {
        let Some(first) = words.first() else {
            return false;
        };
        let forms = self.holding[*first as usize].iter();
        let mut same = forms.filter(|f| &self.forms[**f as usize] == words);
        same.any(|f| self.bearers[*f as usize].contains(&row))
    }

    /// List and key of a row.
    pub fn key(&self, row: u32) -> (&str, &str) {
        let (list, entry) = self.rows[row as usize].at;
        let (name, entries) = &self.names[list as usize];
        (name, &entries[entry as usize].entry)
    }

    /// Names of a row's entry.
    pub fn names_of(&self, row: u32) -> Vec<&str> {
        let (list, entry) = self.rows[row as usize].at;
        let named = &self.names[list as usize].1[entry as usize];
        let names = std::iter::once(&named.name).chain(&named.variants);
        names.map(String::as_str).collect()
    }
}
