//! The edit model: how likely the evidence is if a word, or a field of words, stands somewhere in
//! it, over what label wording at large would give (forward algorithm, sums over all ways).
//!
//! All weights are ratios against the background and stay in linear `f32`, scaled word by word,
//! so that a row of positions is plain multiplying and adding. At most two columns in a row are
//! left out between two letters.

use super::letters;
use super::observed::Observed;

/// Which look-alike splits a sign takes part in, prepared once.
#[derive(Debug, Clone)]
pub struct Splits {
    /// For each sign: rows of `letters::SPLITS` where it is the one sign.
    one: Vec<Vec<usize>>,
    /// For each pair of signs (first * SIGNS + second): rows where they are the two.
    two: Vec<Vec<usize>>,
}

impl Default for Splits {
    fn default() -> Self {
        let mut one = vec![Vec::new(); letters::SIGNS];
        let mut two = vec![Vec::new(); letters::SIGNS * letters::SIGNS];
        for (k, &(o, a, b)) in letters::SPLITS.iter().enumerate() {
            if let (Some(o), Some(a), Some(b)) =
                (letters::index(o), letters::index(a), letters::index(b))
            {
                one[o as usize].push(k);
                two[a as usize * letters::SIGNS + b as usize].push(k);
            }
        }
        Splits { one, two }
    }
}

/// One letter further: from the rows before the last letter (`before`, for joins) and before this
/// one (`row`) to the row after it. `scratch` and `out` have n + 1 places.
#[allow(clippy::too_many_arguments)]
fn step(
    text: &Observed,
    splits: &Splits,
    first: bool,
    letter: u8,
    last: Option<(u8, &[f32])>,
    row: &[f32],
    scratch: &mut [f32],
    out: &mut [f32],
) {
    let n = text.len();
    let table = if first { &text.first } else { &text.ratio };
    let ratio = &table[letter as usize * n..(letter as usize + 1) * n];
    scratch[0] = row[0] * text.missing[0];
    {
        let (to, from, stay, lose) = (
            &mut scratch[1..=n],
            &row[..n],
            &row[1..=n],
            &text.missing[1..=n],
        );
        for j in 0..n {
            to[j] = from[j] * ratio[j] + stay[j] * lose[j];
        }
    }
    for &k in &splits.one[letter as usize] {
        let s = &text.splits[k * n..(k + 1) * n];
        for j in 2..=n {
            scratch[j] += row[j - 2] * s[j - 2];
        }
    }
    if let Some((a, before)) = last {
        for &k in &splits.two[a as usize * letters::SIGNS + letter as usize] {
            let s = &text.joins[k * n..(k + 1) * n];
            for j in 1..=n {
                scratch[j] += before[j - 1] * s[j - 1];
            }
        }
    }
    out[0] = scratch[0];
    if n > 0 {
        out[1] = scratch[1] + scratch[0] * text.skip[1];
    }
    if n > 1 {
        let (to, a, b, c) = (
            &mut out[2..=n],
            &scratch[2..=n],
            &scratch[1..n],
            &scratch[..n - 1],
        );
        let (s1, s2) = (&text.skip[2..=n], &text.skip2[2..=n]);
        for j in 0..n - 1 {
            to[j] = a[j] + b[j] * s1[j] + c[j] * s2[j];
        }
    }
}

/// Rows for the letters of one word after the other, shared prefixes worked once.
#[derive(Debug)]
pub struct Rows {
    rows: Vec<Vec<f32>>,
    scratch: Vec<f32>,
}

impl Rows {
    /// Room for words of up to `longest` letters.
    pub fn new(n: usize, longest: usize) -> Self {
        Rows {
            rows: vec![vec![0.0; n + 1]; longest + 1],
            scratch: vec![0.0; n + 1],
        }
    }

    /// Sets the weights of the positions where the next word begins, word starts weighed in.
    pub fn begin(&mut self, text: &Observed, weights: Option<&[f32]>) {
        match weights {
            None => self.rows[0].copy_from_slice(&text.start),
            Some(w) => {
                for ((r, w), s) in self.rows[0].iter_mut().zip(w).zip(&text.start) {
                    *r = w * s;
                }
            }
        }
    }

    /// Works the letters of `word` from place `from` on; those before must have been worked.
    /// Returns the row after the last letter, word ends not yet weighed in and no columns left out
    /// after it. At least one letter must be left to work.
    pub fn work(&mut self, text: &Observed, splits: &Splits, word: &[u8], from: usize) -> &[f32] {
        for (i, &letter) in word.iter().enumerate().skip(from) {
            let (done, open) = self.rows.split_at_mut(i + 1);
            let last = (i > 0).then(|| (word[i - 1], done[i - 1].as_slice()));
            step(
                text,
                splits,
                i == 0,
                letter,
                last,
                &done[i],
                &mut self.scratch,
                &mut open[0],
            );
        }
        &self.scratch
    }
}
