//! Chance that a candidate is a mark, and its kind, from its measures: two small networks with one
//! hidden layer, fitted on made backs by `training/fit_marks.py` from what
//! `examples/dump_candidates` writes.
//!
//! The chance is that the candidate's outline is a mark's, fitted by log loss, so that it can be
//! read as a chance on backs like those it was fitted on; on other photographs it is a ranking.

use super::MarkKind;
use super::candidates::{Candidate, MEASURES};
use crate::chance::logistic;
use serde::Deserialize;
use std::sync::OnceLock;

/// y = W₂ · tanh(W₁ · (x − mean) / spread + b₁) + b₂.
#[derive(Debug, Deserialize)]
pub(super) struct Net {
    mean: Vec<f64>,
    spread: Vec<f64>,
    /// One row for each hidden unit.
    w1: Vec<Vec<f64>>,
    b1: Vec<f64>,
    /// One row for each output.
    w2: Vec<Vec<f64>>,
    b2: Vec<f64>,
}

impl Net {
    pub(super) fn apply(&self, x: &[f64]) -> Vec<f64> {
        let z: Vec<f64> = x
            .iter()
            .zip(self.mean.iter().zip(&self.spread))
            .map(|(v, (m, s))| ((v - m) / s).clamp(-5.0, 5.0))
            .collect();
        let dot = |w: &[f64], v: &[f64]| w.iter().zip(v).map(|(a, b)| a * b).sum::<f64>();
        let hidden: Vec<f64> = self
            .w1
            .iter()
            .zip(&self.b1)
            .map(|(w, b)| (dot(w, &z) + b).tanh())
            .collect();
        self.w2
            .iter()
            .zip(&self.b2)
            .map(|(w, b)| dot(w, &hidden) + b)
            .collect()
    }
}

#[derive(Debug, Deserialize)]
struct Nets {
    /// Alone: from the measures to the log odds of being a mark.
    alone: Net,
    /// Beside the others: the same and how close it lies, from the measures and [`company`].
    beside: Net,
    /// From the measures to the log chances of the kinds, in the order of `kinds`.
    kind: Net,
    kinds: Vec<MarkKind>,
}

fn nets() -> Option<&'static Nets> {
    static NETS: OnceLock<Option<Nets>> = OnceLock::new();
    NETS.get_or_init(|| serde_json::from_str(include_str!("chooser.json")).ok())
        .as_ref()
}

/// What the networks say of a candidate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Opinion {
    /// Chance that its outline is a mark's.
    pub chance: f64,
    /// How close the outline lies to the mark's, log odds; for choosing among outlines of one mark.
    pub close: f64,
}

/// For each candidate, what is thought of it.
pub(crate) fn opinions(candidates: &[Candidate]) -> Vec<Opinion> {
    let Some(nets) = nets() else {
        let unknown = Opinion {
            chance: 0.5,
            close: 0.0,
        };
        return vec![unknown; candidates.len()];
    };
    let alone: Vec<f64> = candidates
        .iter()
        .map(|c| nets.alone.apply(&c.measures)[0])
        .collect();
    (0..candidates.len())
        .map(|i| {
            let mut x = candidates[i].measures.to_vec();
            x.extend(company(candidates, &alone, i));
            debug_assert_eq!(x.len(), MEASURES + COMPANY);
            let said = nets.beside.apply(&x);
            Opinion {
                chance: logistic(said[0]),
                close: said.get(1).copied().unwrap_or(0.0),
            }
        })
        .collect()
}

const COMPANY: usize = 6;

/// How a candidate stands among the others, by their own log odds: its own; the best of those around
/// it, in it, in its place, and across its rim (−6 for none); and how many likely ones lie in it.
fn company(candidates: &[Candidate], odds: &[f64], i: usize) -> [f64; COMPANY] {
    let me = &candidates[i].outline;
    let (area, bounds) = (me.area(), me.bounds());
    let mut out = [odds[i].clamp(-6.0, 6.0), -6.0, -6.0, -6.0, -6.0, 0.0];
    for (j, other) in candidates.iter().enumerate() {
        if i == j || other.outline.bounds().intersect(&bounds).is_none() {
            continue;
        }
        let theirs = other.outline.area();
        let shared = me.overlap(&other.outline);
        let odds = odds[j].clamp(-6.0, 6.0);
        let slot = if shared > 0.6 * (area + theirs - shared) {
            3
        } else if shared > 0.75 * area {
            1
        } else if shared > 0.75 * theirs {
            out[5] += logistic(odds);
            2
        } else if shared > 0.15 * area.min(theirs) {
            4
        } else {
            continue;
        };
        out[slot] = out[slot].max(odds);
    }
    out[5] = (1.0 + out[5]).ln();
    out
}

/// The likeliest kind and its chance; `paper`: it can only be a label.
pub(crate) fn kind(candidate: &Candidate, paper: bool) -> (MarkKind, f64) {
    let Some(nets) = nets() else {
        return (MarkKind::Unknown, 0.0);
    };
    let mut odds = nets.kind.apply(&candidate.measures);
    for (o, kind) in odds.iter_mut().zip(&nets.kinds) {
        let label = kind.is_label();
        if paper && !label {
            *o = f64::NEG_INFINITY;
        }
    }
    let chances = crate::chance::normalise(&odds);
    nets.kinds
        .iter()
        .copied()
        .zip(chances)
        .fold((MarkKind::Unknown, 0.0), |best, c| {
            if c.1 > best.1 { c } else { best }
        })
}
