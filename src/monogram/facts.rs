//! Which further fact would tell most of who is meant.
//!
//! I(artist; answer) = H(answer) − Σ P(artist) · H(answer | artist), in bits. Who is on no list
//! answers as those on it do.

use super::letters::{Letters, Packed};
use super::who::{Artists, Known};
use std::collections::BTreeMap;

/// A fact that isn't known yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MostTelling {
    /// The decade in which it was made.
    Decade,
    /// The nationality of the maker.
    Nationality,
    /// Which letters stand there, in which order of the name.
    Letters,
}

/// A fact with what it would tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    /// Which.
    pub fact: MostTelling,
    /// Bits it takes from what is open, on average.
    pub bits: f64,
    /// So many equally likely ones are as open as all is now, and as it would be then.
    pub now: f64,
    /// See `now`.
    pub then: f64,
}

impl MostTelling {
    /// In words.
    pub fn told(self) -> &'static str {
        match self {
            MostTelling::Decade => "the decade in which it was made",
            MostTelling::Nationality => "the nationality of the maker",
            MostTelling::Letters => "which letters stand there, and in which order of the name",
        }
    }

    /// Name in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            MostTelling::Decade => "decade",
            MostTelling::Nationality => "nationality",
            MostTelling::Letters => "letters",
        }
    }
}

/// A fact that tells less isn't worth the trouble.
const LEAST: f64 = 0.05;
/// Years known within fewer than these leave no decade to ask for.
const DECADE: i32 = 12;

fn entropy<'a>(shares: impl Iterator<Item = &'a f64>) -> f64 {
    shares
        .filter(|p| **p > 0.0)
        .map(|p| -p * p.log2())
        .sum::<f64>()
}

/// Facts, the most telling first. `all`: rows with their chances.
pub(super) fn telling(
    artists: &Artists,
    all: &[(u32, f64)],
    nobody: f64,
    letters: &Letters,
    known: &Known,
) -> Vec<Fact> {
    let now = entropy(all.iter().map(|a| &a.1).chain([&nobody]));
    let mut out = Vec::new();
    let mut put = |fact, bits: f64| {
        if bits > LEAST {
            let bits = bits.min(now);
            out.push(Fact {
                fact,
                bits,
                now: now.exp2(),
                then: (now - bits).exp2(),
            });
        }
    };
    if known.years.is_none_or(|(a, b)| b - a >= DECADE) {
        let answers = all.iter().map(|(r, p)| (*p, decades(artists, *r, known)));
        put(MostTelling::Decade, gain(answers, nobody));
    }
    if known.nationality.is_none() {
        let answers = all.iter().map(|(r, p)| {
            let nation = artists.rows[*r as usize].nation.as_str();
            let told = (!nation.is_empty()).then(|| vec![(nation, 1.0)]);
            (*p, told)
        });
        put(MostTelling::Nationality, gain(answers, nobody));
    }
    let meant = artists.meant(letters);
    let answers = all
        .iter()
        .map(|(r, p)| (*p, meant.get(r).map(|m| spelt(m))));
    put(MostTelling::Letters, gain(answers, nobody));
    out.sort_by(|a, b| b.bits.total_cmp(&a.bits));
    out
}

fn spelt(meant: &[(Packed, f64)]) -> Vec<(Packed, f64)> {
    let sum: f64 = meant.iter().map(|m| m.1).sum();
    meant.iter().map(|m| (m.0, m.1 / sum)).collect()
}

/// Decades of a row's years at work, within those known.
fn decades(artists: &Artists, row: u32, known: &Known) -> Option<Vec<(i32, f64)>> {
    let (first, last) = artists.rows[row as usize].years?;
    let (from, to) = known.years.unwrap_or((first, last));
    let (from, to) = (first.max(from), last.min(to));
    if to < from {
        return None;
    }
    let mut out: Vec<(i32, f64)> = Vec::new();
    let all = f64::from(to - from + 1);
    let mut at = from;
    while at <= to {
        let next = (at.div_euclid(10) + 1) * 10;
        let years = next.min(to + 1) - at;
        out.push((at.div_euclid(10), f64::from(years) / all));
        at = next;
    }
    Some(out)
}

/// Bits that the answer tells. Rows whose answer isn't known, and nobody, answer as the others do and
/// lose nothing but what the answer takes from those.
fn gain<A: Ord + Copy>(
    rows: impl Iterator<Item = (f64, Option<Vec<(A, f64)>>)>,
    nobody: f64,
) -> f64 {
    let (mut answers, mut told, mut open, mut within) = (BTreeMap::new(), 0.0, nobody, 0.0);
    for (chance, answer) in rows {
        let Some(answer) = answer else {
            open += chance;
            continue;
        };
        told += chance;
        within += chance * entropy(answer.iter().map(|a| &a.1));
        for (a, share) in answer {
            *answers.entry(a).or_insert(0.0) += chance * share;
        }
    }
    if told <= 0.0 {
        return 0.0;
    }
    answers.values_mut().for_each(|v| *v /= told);
    let whole = entropy(answers.values());
    (whole - within - open * whole).max(0.0)
}
