//! Words of the lists that a word of a mark may be.

use super::hits::{self, Pair, Shown};
use super::lexicon;
use super::lists::Lists;
use super::words::Word;

/// A word of the lists that a word of the mark may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Number of the word.
    pub word: u32,
    /// How it is shown; an abbreviation counts as read.
    pub pair: Pair,
    /// Whether it stands abbreviated, on either side.
    pub short: bool,
}

/// Most words of the lists that one word of a mark may be: a bound on work, those with most letters in common stay.
const MOST: usize = 24;
/// Most that are held against it letter by letter: a bound on work.
const WORKED: usize = 4 * MOST;
/// Dearest hit, nats: about three misread letters.
const DEAREST: f32 = 14.0;

impl Lists {
    /// The words that a word of a mark may be, cheapest first.
    pub fn hits(&self, word: &Word) -> Vec<Hit> {
        let mut out: Vec<Hit> = Vec::new();
        let signs: Vec<u8> = word.letters.iter().map(|l| l.sign).collect();
        let exact = Pair {
            cost: 0.0,
            seen: signs.len() as u16,
            lost: 0,
            other: 0,
        };
        let damaged = word.damaged();
        if !damaged {
            if let Some(k) = self.word(&signs) {
                out.push(Hit {
                    word: k,
                    pair: exact,
                    short: false,
                });
            }
            for long in lexicon::long_or_short(&signs) {
                if let Some(k) = self.word(long) {
                    out.push(Hit {
                        word: k,
                        pair: exact,
                        short: true,
                    });
                }
            }
        }
        let unclear = word
            .letters
            .iter()
            .any(|l| !l.others.is_empty() || l.chance < 0.9);
        let known = out.iter().any(|h| self.in_names[h.word as usize] > 0);
        if signs.len() > 3 && (damaged || unclear || !known) {
            self.near(word, &mut out);
        }
        out.sort_by(|a, b| {
            a.pair
                .cost
                .total_cmp(&b.pair.cost)
                .then(a.word.cmp(&b.word))
        });
        out.truncate(MOST);
        out
    }

    /// The words with most groups of two letters in common, held against it letter by letter.
    fn near(&self, word: &Word, out: &mut Vec<Hit>) {
        let asked = hits::grams_read(word);
        let mut shared = vec![0u16; self.vocabulary.len()];
        let mut met: Vec<u32> = Vec::new();
        for g in &asked {
            for &w in &self.grams[*g] {
                if shared[w as usize] == 0 {
                    met.push(w);
                }
                shared[w as usize] += 1;
            }
        }
        // A misread letter spoils two groups, a third of those that are left are asked for
        let need = (asked.len() / 3).max(1) as u16;
        met.retain(|w| shared[*w as usize] >= need);
        let order = |w: &u32| {
            let letters = self.vocabulary[*w as usize].len();
            let close = letters.abs_diff(word.letters.len());
            (std::cmp::Reverse(shared[*w as usize]), close, *w)
        };
        if met.len() > WORKED {
            met.select_nth_unstable_by_key(WORKED, order);
            met.truncate(WORKED);
        }
        met.sort_unstable_by_key(order);
        let mut shown = Shown::new(word);
        for w in met {
            if out.iter().any(|h| h.word == w) {
                continue;
            }
            if let Some(pair) = shown.pair(&self.vocabulary[w as usize], DEAREST)
                && pair.seen as usize * 2 > word.letters.len().min(6)
            {
                out.push(Hit {
                    word: w,
                    pair,
                    short: false,
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gazetteer::{Entry, Gazetteer, List};
    use crate::readings::from_typed;
    use crate::statements::words;
    use proptest::prelude::*;

    /// The same search without an index: every word of the lists is looked at.
    fn plain(lists: &Lists, word: &Word) -> Vec<u32> {
        let asked = hits::grams_read(word);
        let count = |w: &[u8]| {
            let own: std::collections::HashSet<usize> = hits::grams(w).collect();
            asked.iter().filter(|g| own.contains(g)).count()
        };
        let all = lists.vocabulary.iter().enumerate();
        let mut met: Vec<(usize, usize, u32)> = all
            .filter(|(_, w)| w.len() > 2)
            .map(|(k, w)| (count(w), w.len().abs_diff(word.letters.len()), k as u32))
            .filter(|m| m.0 >= (asked.len() / 3).max(1))
            .collect();
        met.sort_by_key(|m| (std::cmp::Reverse(m.0), m.1, m.2));
        let near = met.into_iter().take(WORKED).map(|m| m.2);
        let mut shown = Shown::new(word);
        let mut close = |w: &u32| {
            let pair = shown.pair(&lists.vocabulary[*w as usize], DEAREST);
            pair.is_some_and(|p| p.seen as usize * 2 > word.letters.len().min(6))
        };
        near.filter(|w| close(w)).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn the_index_finds_what_looking_at_every_word_finds(
            names in prop::collection::vec("[a-e]{3,8}", 1..300),
            read in "[a-e]{2,4}(\\[\\.\\.\\]|[a-e])[a-e]{1,3}",
        ) {
            let entries = names.into_iter().map(|name| Entry { name, ..Entry::default() });
            let list = List { name: "names".into(), entries: entries.collect(), ..List::default() };
            let lists = Lists::new(&Gazetteer { lists: vec![list] });
            let word = words::words(&from_typed(&read).expect("typed")).remove(0);
            let mut hits = Vec::new();
            lists.near(&word, &mut hits);
            let found: Vec<u32> = hits.iter().map(|h| h.word).collect();
            prop_assert_eq!(found, plain(&lists, &word));
        }
    }
}
