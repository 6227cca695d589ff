//! The edit model: how likely the evidence is if a word, or a field of words, stands somewhere in
//! it, over what label wording at large would give (forward algorithm, sums over all ways).
//!
//! All weights are ratios against the background and stay in linear `f32`, scaled word by word,
//! so that a row of positions is plain multiplying and adding. At most two columns in a row are
//! left out between two letters. A letter missing at the edge of a line after another that is missing
//! there has a weight of its own (`Observed::further`), so the ways that end in such a letter are
//! kept apart as well (`gone`).

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
/// one (`row`) to the row after it. `scratch` and `out` have n + 1 places; `gone` and `going` hold for
/// each of `text.edges` what of `row` and of `scratch` ends in a letter that is missing there.
#[allow(clippy::too_many_arguments)]
fn step(
    text: &Observed,
    splits: &Splits,
    first: bool,
    letter: u8,
    last: Option<(u8, &[f32])>,
    row: &[f32],
    gone: &[f32],
    scratch: &mut [f32],
    going: &mut [f32],
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
    for ((&j, gone), going) in text.edges.iter().zip(gone).zip(going) {
        let more = gone * (text.further - text.missing[j]);
        scratch[j] += more;
        *going = row[j] * text.missing[j] + more;
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
    /// For each row, what of it ends in a letter missing at an edge (`Observed::edges`).
    gone: Vec<Vec<f32>>,
    scratch: Vec<f32>,
}

impl Rows {
    /// Room for words of up to `longest` letters.
    pub fn new(text: &Observed, longest: usize) -> Self {
        let n = text.len();
        Rows {
            rows: vec![vec![0.0; n + 1]; longest + 1],
            gone: vec![vec![0.0; text.edges.len()]; longest + 1],
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
            let (gone, going) = self.gone.split_at_mut(i + 1);
            let last = (i > 0).then(|| (word[i - 1], done[i - 1].as_slice()));
            step(
                text,
                splits,
                i == 0,
                letter,
                last,
                &done[i],
                &gone[i],
                &mut self.scratch,
                &mut going[0],
                &mut open[0],
            );
        }
        &self.scratch
    }
}

#[cfg(test)]
mod tests {
    use super::super::letters::{Confusion, index};
    use super::super::observed::Costs;
    use super::*;
    use crate::readings::from_typed;
    use proptest::prelude::*;

    /// All ways one by one: after `i` letters at position `j` with weight `w`; `gone`: the last of them
    /// is missing there.
    fn ways(
        text: &Observed,
        word: &[u8],
        (i, j, gone): (usize, usize, bool),
        w: f64,
        sums: &mut [f64],
    ) {
        let n = text.len();
        let mut after = |i: usize, j: usize, gone: bool, w: f64| {
            if i == word.len() {
                sums[j] += w;
                return;
            }
            ways(text, word, (i, j, gone), w, sums);
            for (back, skip) in [(1, &text.skip), (2, &text.skip2)] {
                if j + back <= n {
                    let w = w * f64::from(skip[j + back]);
                    ways(text, word, (i, j + back, false), w, sums);
                }
            }
        };
        let table = if i == 0 { &text.first } else { &text.ratio };
        if j < n {
            let same = table[word[i] as usize * n + j];
            after(i + 1, j + 1, false, w * f64::from(same));
        }
        let missing = match gone && text.edges.contains(&j) {
            true => text.further,
            false => text.missing[j],
        };
        after(i + 1, j, true, w * f64::from(missing));
        for (k, &(one, a, b)) in letters::SPLITS.iter().enumerate() {
            if index(one) == Some(word[i]) && j + 2 <= n {
                after(i + 1, j + 2, false, w * f64::from(text.splits[k * n + j]));
            }
            let pair =
                i + 1 < word.len() && index(a) == Some(word[i]) && index(b) == Some(word[i + 1]);
            if pair && j < n {
                after(i + 2, j + 1, false, w * f64::from(text.joins[k * n + j]));
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn the_forward_sum_is_the_sum_over_all_ways_one_by_one(
            read in "[mrnicluv]{1,3}(\\[\\.\\]| )?[mrnicluv]{0,2}",
            word in "[mrniclduvw]{1,4}",
            further in 0f32..0.9,
        ) {
            let lines = from_typed(&read).expect("typed");
            let costs = Costs { further_at_edge: further, ..Costs::default() };
            let text = Observed::new(&lines, &costs, &Confusion::default());
            let word: Vec<u8> = word.chars().filter_map(index).collect();
            let mut sums = vec![0f64; text.len() + 1];
            for j in 0..=text.len() {
                ways(&text, &word, (0, j, false), f64::from(text.start[j]), &mut sums);
            }
            let mut rows = Rows::new(&text, word.len());
            rows.begin(&text, None);
            let row = rows.work(&text, &Splits::default(), &word, 0);
            for (a, b) in row.iter().zip(&sums) {
                prop_assert!((f64::from(*a) - b).abs() <= 1e-4 * b.max(1e-6), "{} {}", a, b);
            }
        }
    }
}
