//! Words of labels by what they are (`lexicon.txt`), found despite lost and misread letters.

use super::hits;
use super::letters;
use super::words::Word;
use std::collections::HashMap;
use std::sync::OnceLock;

const TEXT: &str = include_str!("lexicon.txt");

/// Classes that the code asks for by name; the others are features only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Class {
    Courtesy,
    Rank,
    Given,
    Firm,
    Street,
    Trade,
    County,
    District,
    Month,
    Postnominal,
    Article,
    Currency,
    TradePlace,
    TradePerson,
    TradeSale,
    TradeShow,
    TradeMaker,
    TradeSeller,
}

impl Class {
    const ALL: [(Class, &'static str); 18] = [
        (Class::Courtesy, "courtesy"),
        (Class::Rank, "rank"),
        (Class::Given, "given"),
        (Class::Firm, "firm"),
        (Class::Street, "street"),
        (Class::Trade, "trade"),
        (Class::County, "county"),
        (Class::District, "district"),
        (Class::Month, "month"),
        (Class::Postnominal, "postnominal"),
        (Class::Article, "article"),
        (Class::Currency, "currency"),
        (Class::TradePlace, "kind_place"),
        (Class::TradePerson, "kind_person"),
        (Class::TradeSale, "kind_sale"),
        (Class::TradeShow, "kind_show"),
        (Class::TradeMaker, "kind_maker"),
        (Class::TradeSeller, "kind_seller"),
    ];

    /// Its bit.
    pub fn bit(self) -> u64 {
        lexicon().bits[self as usize]
    }
}

#[derive(Default)]
struct Lexicon {
    words: HashMap<Vec<u8>, u64>,
    by_length: Vec<Vec<Vec<u8>>>,
    bits: Vec<u64>,
    abbreviations: HashMap<Vec<u8>, Vec<Vec<u8>>>,
}

/// Longest word kept.
const LONGEST: usize = 24;

fn lexicon() -> &'static Lexicon {
    static LEXICON: OnceLock<Lexicon> = OnceLock::new();
    LEXICON.get_or_init(|| {
        let mut out = Lexicon::default();
        let mut names = Vec::new();
        for line in TEXT.lines().filter(|l| !l.starts_with('#')) {
            let Some((name, words)) = line.split_once(": ") else {
                continue;
            };
            let words = words.split_whitespace().flat_map(letters::split);
            if let Some(long) = name.strip_prefix("short ") {
                let long = letters::split(long).concat();
                for short in words {
                    out.abbreviations
                        .entry(short.clone())
                        .or_default()
                        .push(long.clone());
                    out.abbreviations
                        .entry(long.clone())
                        .or_default()
                        .push(short);
                }
                continue;
            }
            let bit = 1u64 << names.len();
            names.push(name);
            words.for_each(|w| *out.words.entry(w).or_default() |= bit);
        }
        let bit = |n: &str| names.iter().position(|m| *m == n).map_or(0, |i| 1u64 << i);
        out.bits = Class::ALL.iter().map(|c| bit(c.1)).collect();
        out.by_length = vec![Vec::new(); LONGEST + 1];
        let mut all: Vec<&Vec<u8>> = out.words.keys().collect();
        all.sort();
        for w in all
            .into_iter()
            .filter(|w| w.len() > 3 && w.len() <= LONGEST)
        {
            out.by_length[w.len()].push(w.clone());
        }
        out
    })
}

/// Classes of a folded word, one bit each; 0: not in the lexicon.
pub fn exact(word: &[u8]) -> u64 {
    lexicon().words.get(word).copied().unwrap_or(0)
}

/// What a word may stand for as an abbreviation, and how it may be abbreviated.
pub fn long_or_short(word: &[u8]) -> impl Iterator<Item = &'static [u8]> {
    let found = lexicon().abbreviations.get(word);
    found.into_iter().flatten().map(Vec::as_slice)
}

/// Dearest agreement of a word with letters misread, nats: one letter that is commonly mistaken.
const DEAREST: f32 = 7.5;

/// A word of a mark as a word of the lexicon.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// Its classes, one bit each; 0: it is none.
    pub classes: u64,
    /// The word, folded; empty if it is none.
    pub word: Vec<u8>,
    /// Whether letters of it are lost or misread.
    pub near: bool,
}

/// Looks a word up; letters may be lost or misread.
pub fn look_up(word: &Word) -> Known {
    let signs: Vec<u8> = word.letters.iter().map(|l| l.sign).collect();
    if !word.damaged() {
        let classes = exact(&signs);
        if classes != 0 {
            return Known {
                classes,
                word: signs,
                near: false,
            };
        }
    }
    let seen = signs.iter().filter(|s| **s < letters::LOST).count();
    let digits = signs.iter().filter(|s| (26..36).contains(*s)).count();
    if signs.len() < 4 || seen < 3 || digits * 2 > seen {
        return Known::default();
    }
    let stretch = signs.contains(&letters::STRETCH);
    let lengths = if stretch {
        4..=LONGEST
    } else {
        signs.len().saturating_sub(1).max(4)..=(signs.len() + 1).min(LONGEST)
    };
    let mut best: Option<(f32, u64, &Vec<u8>)> = None;
    let mut shown = hits::Shown::new(word);
    for w in lengths.flat_map(|n| &lexicon().by_length[n]) {
        let Some(p) = shown.pair(w, DEAREST) else {
            continue;
        };
        if (p.seen as usize) * 2 < w.len() || (p.other > 0 && p.seen < 4) {
            continue;
        }
        let cost = p.cost + f32::from(p.lost);
        let classes = exact(w);
        best = match best {
            Some((c, k, b)) if c == cost => Some((c, k | classes, b)),
            Some((c, ..)) if c < cost => best,
            _ => Some((cost, classes, w)),
        };
    }
    best.map_or_else(Known::default, |(_, classes, w)| Known {
        classes,
        word: w.clone(),
        near: true,
    })
}
