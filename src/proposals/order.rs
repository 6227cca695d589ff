//! The order of letters in wording at large: how likely the signs of a mark are one after the other
//! where no list accounts for them.
//!
//! The evidence is weighed against letters as they come, each by its share alone. Names share
//! endings ("-by", "-ley"), and figures stand in numbers, so a few letters in their usual order
//! would speak for whatever entry has them too. [`Order::factors`] tells how much better a model of
//! their order accounts for each column; marks at large gain that, and entries pay for it. The model
//! is trigrams of surnames and label words, none of them from a list (`training/letter_order.py`).

use super::letters::{self, AMPERSAND, Confusion, SIGNS};
use super::observed::{Observed, Stand};
use std::sync::OnceLock;

const TRIGRAMS: &str = include_str!("order.txt");

/// What may stand before a sign: a letter (0 to 25), a figure, the beginning of the word, something lost.
const CONTEXTS: usize = 29;
const FIGURE: usize = 26;
const BEGIN: usize = 27;
const UNKNOWN: usize = 28;

/// Shares of words that begin with a figure, and of ampersands among words.
const FIGURES_FIRST: f32 = 0.12;
const AMPERSANDS: f32 = 0.04;

/// Chance that a figure follows a figure, or a letter.
const FIGURE_ON: f32 = 0.85;
const FIGURE_AFTER_LETTER: f32 = 0.004;

/// Signs of a column that are followed one by one.
const FOLLOWED: usize = 5;

/// Chances of each sign after each two contexts.
pub struct Order {
    chances: Vec<f32>,
    share: [f32; SIGNS],
}

impl Order {
    /// The model that is shipped.
    pub fn shipped() -> &'static Order {
        static ONE: OnceLock<Order> = OnceLock::new();
        ONE.get_or_init(|| Order::of(&Confusion::default().share))
    }

    fn of(share: &[f32; SIGNS]) -> Order {
        let mut letters = vec![[0f32; 26]; CONTEXTS * CONTEXTS];
        let place = |c: char| match letters::index(c) {
            Some(i) if i < 26 => usize::from(i),
            _ => BEGIN,
        };
        for line in TRIGRAMS.lines() {
            let mut signs = line.chars();
            let (Some(a), Some(b)) = (signs.next(), signs.next()) else {
                continue;
            };
            let row = &mut letters[place(a) * CONTEXTS + place(b)];
            for (p, c) in row.iter_mut().zip(signs.skip(1)) {
                *p = (-(c as u32 as f32 - 33.0) / 8.0).exp();
            }
            let sum: f32 = row.iter().sum();
            row.iter_mut()
                .for_each(|p| *p /= sum.max(f32::MIN_POSITIVE));
        }
        // After one known letter: what stood before it is any letter, by its share
        let known: f32 = share[..26].iter().sum();
        for b in 0..26 {
            let mut mean = [0f32; 26];
            for a in 0..26 {
                for (m, p) in mean.iter_mut().zip(&letters[a * CONTEXTS + b]) {
                    *m += share[a] / known * p;
                }
            }
            letters[UNKNOWN * CONTEXTS + b] = mean;
            letters[FIGURE * CONTEXTS + b] = mean;
        }
        let mut chances = vec![0f32; CONTEXTS * CONTEXTS * SIGNS];
        for a in 0..CONTEXTS {
            for b in 0..CONTEXTS {
                // Nothing stands before the beginning of a word
                let before = if b == BEGIN { BEGIN } else { a };
                let row = &letters[before * CONTEXTS + b];
                let (figures, ampersand) = match b {
                    BEGIN => (FIGURES_FIRST, AMPERSANDS),
                    FIGURE => (FIGURE_ON, 0.0),
                    _ => (FIGURE_AFTER_LETTER, 0.0),
                };
                let at = (a * CONTEXTS + b) * SIGNS;
                for (c, p) in chances[at..at + SIGNS].iter_mut().enumerate() {
                    *p = match c {
                        _ if b == UNKNOWN => share[c],
                        0..26 if b == FIGURE => (1.0 - figures) * share[c] / known,
                        0..26 => (1.0 - figures - ampersand) * row[c],
                        26..36 => figures / 10.0,
                        _ => ampersand,
                    };
                }
            }
        }
        Order {
            chances,
            share: *share,
        }
    }

    /// How much better the order of letters accounts for each column than letters one by one: by
    /// column, the ratio of the chances of what is read there after what is read before it in its
    /// word. 1 at lost letters.
    ///
    /// A forward sum over the likeliest signs of each column, the others together; `ordered`: the
    /// share of the model, the rest are letters as they come.
    pub fn factors(&self, text: &Observed, ordered: f32) -> Vec<f32> {
        let n = text.len();
        let mut out = vec![1f32; n];
        // Two contexts and their weight; weights sum to 1
        let mut states: Vec<(usize, usize, f32)> = Vec::new();
        let mut next: Vec<(usize, usize, f32)> = Vec::new();
        let mut word = usize::MAX;
        for (j, column) in text.columns.iter().enumerate() {
            if column.word != word {
                word = column.word;
                states.clear();
                states.push((BEGIN, BEGIN, 1.0));
            }
            if column.stand != Stand::Sign {
                states.clear();
                states.push((UNKNOWN, UNKNOWN, 1.0));
                continue;
            }
            let ratio = |c: usize| text.first[c * n + j];
            let mut signs: Vec<usize> = (0..SIGNS).collect();
            let mass = |c: &usize| self.share[*c] * ratio(*c);
            signs.sort_unstable_by(|a, b| mass(b).total_cmp(&mass(a)));
            let rest: f32 = signs[FOLLOWED..].iter().map(mass).sum();
            next.clear();
            next.push((UNKNOWN, UNKNOWN, rest));
            for &c in &signs[..FOLLOWED] {
                let context = match c {
                    0..26 => c,
                    c if c == usize::from(AMPERSAND) => BEGIN,
                    _ => FIGURE,
                };
                for &(a, b, w) in &states {
                    let p = self.chances[(a * CONTEXTS + b) * SIGNS + c];
                    let p = ordered * p + (1.0 - ordered) * self.share[c];
                    let w = w * p * ratio(c);
                    match next.iter_mut().find(|s| s.0 == b && s.1 == context) {
                        Some(s) => s.2 += w,
                        None => next.push((b, context, w)),
                    }
                }
            }
            let sum: f32 = next.iter().map(|s| s.2).sum();
            out[j] = sum;
            let sum = sum.max(f32::MIN_POSITIVE);
            next.iter_mut().for_each(|s| s.2 /= sum);
            std::mem::swap(&mut states, &mut next);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::super::observed::Costs;
    use super::*;
    use crate::readings::from_typed;

    fn gain(text: &str) -> f32 {
        let lines = from_typed(text).expect("typed");
        let text = Observed::new(&lines, &Costs::default(), &Confusion::default());
        let factors = Order::shipped().factors(&text, 0.9);
        factors.iter().map(|f| f.ln()).sum()
    }

    #[test]
    fn chances_after_every_context_sum_to_one() {
        for row in Order::shipped().chances.chunks(SIGNS) {
            let sum: f32 = row.iter().sum();
            assert!((sum - 1.0).abs() < 1e-3, "{sum}");
        }
    }

    #[test]
    fn letters_in_their_usual_order_gain_and_others_lose() {
        assert!(gain("WELLENBY") > 4.0, "{}", gain("WELLENBY"));
        assert!(gain("BYNWLELE") < gain("WELLENBY") - 4.0);
        assert!(gain("1851") > 2.0, "{}", gain("1851"));
    }

    #[test]
    fn lost_letters_gain_nothing() {
        assert_eq!(gain("[....]"), 0.0);
        assert!((gain("W[......]") - gain("W")).abs() < 1e-6);
    }
}
