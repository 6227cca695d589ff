//! What several sightings say of one position, weighed into one spread of chances.
//!
//! A log-linear pool: score(s) = ln π(s) + Σ wᵥ · (ln pᵥ(s) − ln π(s)), scaled to a sum of 1; π is how often a
//! sign stands there where nothing is known, pᵥ what sighting v says, wᵥ what that counts. Sightings of one ink
//! err alike: together they count n^(1−b), n being how many they come to when each counts by its clarity,
//! n = (Σc)² / Σc², c = e^(g·clarity + h·ln height); each has its part of that by its clarity. Source of the form: C. Genest
//! and J. Zidek, "Combining probability distributions", *Statistical Science* 1, 1986,
//! doi:10.1214/ss/1177013825. `card.md` tells how the numbers are fitted.

use super::network::{Look, Network, Vote, odds};
use crate::chance::{logistic, normalise};
use crate::readings::Character;
use serde::Deserialize;

/// What is fitted (`training/fit_together.py` writes it).
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Fit {
    /// b: 0 if sightings were independent, 1 if a further one told nothing new.
    dependence: f64,
    /// g and h: how much a clear sighting counts beside a poor one, and a close one beside a far one.
    clarity: [f64; 2],
    /// Chance of one sign that isn't named among all that aren't.
    unlisted: f64,
    /// Chance that nothing stands where a sign is read, as a share of what is left beside those named.
    invented: f64,
    /// Log-odds that nothing stands where a sighting reads nothing: intercept, and by its clarity.
    silence: [f64; 2],
    /// Power of the length of a silence by which each position of it counts less.
    run: f64,
    /// Chance that nothing stands at a position where nothing is known.
    empty: f64,
    /// Log-odds of a letter: intercept, by its own log-odds in the pool, by the mean of its line's, by the
    /// logarithm of the number of sightings that read the line, and by the share of those silent on it.
    letter: [f64; 5],
    /// Log-odds that a line stands there at all: intercept, by the mean log-odds of its letters, by the
    /// logarithm of their number, by that of the sightings that read it, and by the share of those silent on it.
    line: [f64; 5],
}

impl Fit {
    /// The fit that is part of the program.
    pub fn load() -> Result<Fit, serde_json::Error> {
        serde_json::from_str(include_str!("../together.json"))
    }
}

/// A row's positions pooled.
pub(super) struct Pooled {
    /// Signs with their chances, greatest first, the empty sign among them.
    pub signs: Vec<(String, f64)>,
    /// Greatest chance that may be stated, where all sightings show only a part of the letter.
    pub most: Option<f64>,
}

/// How many sightings read a row, and how many of those that show it are silent on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Witnesses {
    pub read: usize,
    pub silent: usize,
}

impl Witnesses {
    fn features(&self) -> [f64; 2] {
        let all = (self.read + self.silent).max(1) as f64;
        [(self.read.max(1) as f64).ln(), self.silent as f64 / all]
    }
}

impl Fit {
    /// What a further sighting adds less, see the head: 0 to 1.
    #[cfg(test)]
    pub fn dependence(&self) -> f64 {
        self.dependence
    }

    /// Pools each position of a row.
    pub fn pool(&self, row: &Network) -> Vec<Pooled> {
        let runs = silences(row);
        let slots = row.slots.iter().zip(&runs);
        slots
            .map(|(votes, runs)| self.slot(row, votes, runs))
            .collect()
    }

    /// * `runs`: for each sighting the length of the silence that the position is part of.
    fn slot(&self, row: &Network, votes: &[Vote], runs: &[usize]) -> Pooled {
        let heard: Vec<(&Vote, Look, usize)> = votes
            .iter()
            .zip(&row.seen)
            .zip(runs)
            .filter(|((v, _), _)| **v != Vote::Unseen)
            .filter_map(|((v, seen), run)| Some((v, (*seen)?.1, *run)))
            .collect();
        let weights = self.weights(&heard);
        let mut named: Vec<&str> = vec![""];
        for (vote, ..) in &heard {
            if let Vote::Read(spread) = vote {
                named.extend(spread.signs.iter().map(|s| s.0.as_str()));
            }
        }
        named.sort_unstable();
        named.dedup();
        // The last stands for all signs that nobody names
        let mut scores = vec![0.0; named.len() + 1];
        for (k, score) in scores.iter_mut().enumerate() {
            let usual = match named.get(k) {
                Some(&"") => self.empty,
                Some(_) => (1.0 - self.empty) * self.unlisted,
                None => 1.0 - self.empty,
            };
            let usual = usual.ln();
            *score = usual;
            for ((vote, look, _), w) in heard.iter().zip(&weights) {
                let said = self.said(vote, look, named.get(k).copied());
                *score += w * (said.max(1e-6).ln() - usual);
            }
        }
        let chances = normalise(&scores);
        let signs = named.iter().map(|s| s.to_string()).zip(chances);
        let mut signs: Vec<(String, f64)> = signs.collect();
        signs.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let cut = |v: &Vote| match v {
            Vote::Read(spread) if spread.cut => spread.blurred().signs.first().map(|s| s.1),
            _ => None,
        };
        let all: Option<Vec<f64>> = heard.iter().map(|h| cut(h.0)).collect();
        let most = all.and_then(|all| all.into_iter().reduce(f64::max));
        Pooled { signs, most }
    }

    /// What a sighting says of a sign; `None`: of all that nobody names.
    fn said(&self, vote: &Vote, look: &Look, sign: Option<&str>) -> f64 {
        match (vote, sign) {
            (Vote::Unseen, _) => 1.0,
            (Vote::Read(spread), Some(sign)) => spread.chance(sign).unwrap_or_else(|| {
                let share = if sign.is_empty() {
                    self.invented
                } else {
                    self.unlisted
                };
                spread.rest() * share
            }),
            (Vote::Read(spread), None) => spread.rest(),
            (Vote::Nothing, sign) => {
                let nothing = logistic(self.silence[0] + self.silence[1] * look.clarity);
                match sign {
                    Some("") => nothing,
                    Some(_) => (1.0 - nothing) * self.unlisted,
                    None => 1.0 - nothing,
                }
            }
        }
    }

    /// What each sighting counts.
    fn weights(&self, heard: &[(&Vote, Look, usize)]) -> Vec<f64> {
        let worth =
            |l: &Look| self.clarity[0] * l.clarity + self.clarity[1] * l.height.min(LARGE).ln();
        let best = heard
            .iter()
            .map(|h| worth(&h.1))
            .fold(f64::NEG_INFINITY, f64::max);
        let own = |(vote, look, run): &(&Vote, Look, usize)| {
            let less = match vote {
                Vote::Nothing => ((*run).max(1) as f64).powf(-self.run),
                Vote::Read(spread) if spread.cut => BESIDE_A_CUT,
                _ => 1.0,
            };
            (worth(look) - best).exp() * less
        };
        let own: Vec<f64> = heard.iter().map(own).collect();
        let sum: f64 = own.iter().sum();
        let squares: f64 = own.iter().map(|c| c * c).sum();
        if sum <= 0.0 {
            return vec![0.0; own.len()];
        }
        let count = sum * sum / squares;
        let all = count.powf(1.0 - self.dependence);
        own.iter().map(|c| all * c / sum).collect()
    }

    /// Turns pooled letters of a row into characters with the chances that are stated.
    pub fn characters(&self, pooled: &[Pooled], by: Witnesses) -> Vec<Character> {
        let stands = |p: &&Pooled| p.signs.first().is_some_and(|s| !s.0.is_empty());
        let standing: Vec<&Pooled> = pooled.iter().filter(stands).collect();
        let mean = mean_odds(&standing);
        let [several, silent] = by.features();
        let restated = |p: &&Pooled| {
            let (text, pooled) = p.signs[0].clone();
            let [a, own, line, n, s] = self.letter;
            let chance = logistic(a + own * odds(pooled) + line * mean + n * several + s * silent);
            // The fit has seen no letters of which a part lies beyond a cut
            let chance = p.most.map_or(chance, |most| chance.min(most));
            let left = (1.0 - chance) / (1.0 - pooled).max(1e-6);
            let others = p.signs[1..].iter().map(|(s, p)| (s.clone(), p * left));
            Character {
                text,
                confidence: chance,
                alternatives: others.filter(|s| s.1 >= ALTERNATIVE_FROM).collect(),
            }
        };
        standing.iter().map(restated).collect()
    }

    /// Chance that a row is lettering that stands on the object.
    pub fn stands(&self, pooled: &[Pooled], by: Witnesses) -> f64 {
        let letters = pooled.iter().filter(|p| {
            let best = p.signs.first().map_or("", |s| s.0.as_str());
            !best.trim().is_empty()
        });
        let letters: Vec<&Pooled> = letters.collect();
        if letters.is_empty() {
            return 0.0;
        }
        let [a, own, long, n, s] = self.line;
        let [several, silent] = by.features();
        let count = (letters.len() as f64).ln();
        logistic(a + own * mean_odds(&letters) + long * count + n * several + s * silent)
    }
}

/// What a sighting counts for a letter that it shows beside a cut. Set by judgement.
const BESIDE_A_CUT: f64 = 0.15;

/// Rows higher than this, px, aren't read more surely for being higher. Set by judgement.
const LARGE: f64 = 60.0;

/// Alternatives with a smaller chance than this are left out.
const ALTERNATIVE_FROM: f64 = 0.005;

/// Mean log-odds of the best signs, spaces left out.
pub(super) fn mean_odds(some: &[&Pooled]) -> f64 {
    let best = some.iter().filter_map(|p| p.signs.first());
    let letters: Vec<f64> = best.filter(|s| s.0 != " ").map(|s| odds(s.1)).collect();
    letters.iter().sum::<f64>() / letters.len().max(1) as f64
}

/// For each position and sighting the length of the silence that it is part of; 0 where it isn't.
#[allow(clippy::needless_range_loop)] // a sighting is a column
fn silences(row: &Network) -> Vec<Vec<usize>> {
    let n = row.slots.len();
    let mut out = vec![vec![0; row.seen.len()]; n];
    for v in 0..row.seen.len() {
        let mut from = 0;
        for i in 0..=n {
            if i < n && row.slots[i][v] == Vote::Nothing {
                continue;
            }
            (from..i).for_each(|k| out[k][v] = i - from);
            from = i + 1;
        }
    }
    out
}
