//! How a line is written: print, script, a stencil's letters or typewriting, told by the line network's own
//! features; a stamp's lines by what the mark is.
//!
//! In: what the network's two LSTM layers put out along a line, and what kind of mark it stands on. Out: a
//! chance for each writing. A softmax regression on the mean and the mean square of each feature
//! (`model/writing.json`), fitted and measured by `training/writing.py` on made lines and real ones;
//! `model/card.md` gives the figures. Bayes' theorem brings in the kind of the mark.

use crate::chance;
use crate::error::{Error, Kind, Result};
use crate::marks::MarkKind;
use serde::{Deserialize, Serialize};

/// A way of writing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Writing {
    /// Letterpress or engraved print.
    Print,
    /// Handwriting, or print that imitates it.
    Script,
    /// Letters cut out of a stencil.
    Stencil,
    /// Typewriting.
    Typewriting,
    /// An inked stamp.
    Stamp,
}

/// The writings that the network's features tell, in the order of their chances.
const TOLD: [Writing; 4] = [
    Writing::Print,
    Writing::Script,
    Writing::Stencil,
    Writing::Typewriting,
];

/// Chances of print, script, stencil and typewriting, each being as likely as the others before; they sum
/// to 1.
pub type Chances = [f32; 4];

/// Chance of script among them.
pub(super) fn of_script(chances: &Chances) -> f32 {
    chances[1]
}

/// A writing with its chance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Told {
    /// The likeliest writing.
    pub writing: Writing,
    /// Its chance, 0 to 1.
    pub chance: f64,
}

impl Told {
    /// The likeliest writing of a line.
    ///
    /// * `chances`: as the network's features tell, every writing being as likely as any other before.
    /// * `kind`: what kind of mark the line stands on, with the chance of that.
    pub fn of(chances: &Chances, kind: Option<(MarkKind, f64)>) -> Self {
        let (kind, sure) = kind.unwrap_or((MarkKind::Unknown, 1.0));
        let prior = |k: usize| {
            let sure = sure.clamp(0.0, 1.0);
            sure * beforehand(kind)[k] + (1.0 - sure) * beforehand(MarkKind::Unknown)[k]
        };
        let shares: [f64; 4] = std::array::from_fn(|k| f64::from(chances[k]) * prior(k));
        let sum: f64 = shares.iter().sum();
        let best = (0..TOLD.len()).max_by(|&a, &b| shares[a].total_cmp(&shares[b]));
        let best = best.unwrap_or(0);
        let told = Told {
            writing: TOLD[best],
            chance: chance::clamp(shares[best] / sum.max(f64::MIN_POSITIVE)),
        };
        // The network never saw stamped lettering as other than print
        if kind == MarkKind::Stamp && sure > 0.5 && told.writing != Writing::Script {
            return Told {
                writing: Writing::Stamp,
                chance: sure,
            };
        }
        told
    }
}

/// Shares of print, script, stencil and typewriting on marks of a kind. Common practice; set by judgement.
fn beforehand(kind: MarkKind) -> [f64; 4] {
    match kind {
        MarkKind::PrintedLabel => [0.86, 0.06, 0.01, 0.07],
        MarkKind::WrittenLabel => [0.1, 0.75, 0.01, 0.14],
        MarkKind::Inscription => [0.03, 0.87, 0.08, 0.02],
        MarkKind::Stamp => [0.85, 0.05, 0.05, 0.05],
        MarkKind::Stencil => [0.05, 0.05, 0.88, 0.02],
        MarkKind::Monogram | MarkKind::Unknown => [0.4, 0.4, 0.08, 0.12],
    }
}

/// The mean of several; nothing of none.
pub fn mean<'a>(all: impl Iterator<Item = &'a Chances>) -> Option<Chances> {
    let (mut sum, mut count) = ([0f32; 4], 0);
    for chances in all {
        sum.iter_mut().zip(chances).for_each(|(s, p)| *s += p);
        count += 1;
    }
    (count > 0).then(|| sum.map(|s| s / count as f32))
}

/// The regression.
#[derive(Debug, Deserialize)]
pub(super) struct Regression {
    /// Shares of the writings among the lines that it was fitted on.
    shares: Vec<f32>,
    bias: Vec<f32>,
    weights: Vec<Vec<f32>>,
}

impl Regression {
    /// Reads the numbers that are part of the program.
    ///
    /// # Errors
    /// `Kind::Recogniser` if they aren't as many as they should be, which a sound build doesn't show.
    pub(super) fn load() -> Result<Self> {
        let fault = |what: String| {
            Error::new(
                Kind::Recogniser,
                "line model",
                format!("the numbers that tell how a line is written can't be used ({what})"),
                "build the program again from a clean checkout",
            )
        };
        let out: Regression = serde_json::from_str(include_str!("model/writing.json"))
            .map_err(|e| fault(e.to_string()))?;
        let first = out.weights.first().map_or(0, Vec::len);
        let even = out.weights.iter().all(|w| w.len() == first) && first.is_multiple_of(4);
        let counts = [out.shares.len(), out.bias.len(), out.weights.len()];
        if counts != [TOLD.len(); 3] || !even || out.shares.iter().any(|s| *s <= 0.0) {
            return Err(fault("their number is wrong".into()));
        }
        Ok(out)
    }

    /// Chances of a line; nothing where it has no steps. `layers`: for each layer its features, one step
    /// after the other.
    pub(super) fn chances(&self, layers: &[Vec<f32>; 2]) -> Option<Chances> {
        let n = self.weights[0].len() / 4;
        let mut pooled = vec![0f32; 4 * n];
        for (along, pooled) in layers.iter().zip(pooled.chunks_exact_mut(2 * n)) {
            let steps = along.len().checked_div(n)? as f32;
            if steps < 1.0 {
                return None;
            }
            let (means, squares) = pooled.split_at_mut(n);
            for step in along.chunks_exact(n) {
                for ((m, s), x) in means.iter_mut().zip(squares.iter_mut()).zip(step) {
                    *m += x / steps;
                    *s += x * x / steps;
                }
            }
        }
        let odds: [f64; 4] = std::array::from_fn(|k| {
            let sum: f32 = self.weights[k]
                .iter()
                .zip(&pooled)
                .map(|(w, x)| w * x)
                .sum();
            f64::from(self.bias[k] + sum - self.shares[k].ln())
        });
        let chances = chance::normalise(&odds);
        Some(std::array::from_fn(|k| chances[k] as f32))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_kind_of_a_mark_tips_what_its_lines_look_like() {
        let alike = [0.3, 0.3, 0.2, 0.2];
        let on = |kind| Told::of(&alike, Some((kind, 0.9)));
        assert_eq!(on(MarkKind::PrintedLabel).writing, Writing::Print);
        assert_eq!(on(MarkKind::Inscription).writing, Writing::Script);
        assert_eq!(on(MarkKind::Stencil).writing, Writing::Stencil);
        assert_eq!(on(MarkKind::Stamp).writing, Writing::Stamp);
        let plain = [0.01, 0.02, 0.01, 0.96];
        let typed = Told::of(&plain, Some((MarkKind::WrittenLabel, 0.9)));
        assert_eq!(typed.writing, Writing::Typewriting);
        assert!(typed.chance > 0.8 && typed.chance <= 1.0, "{typed:?}");
    }

    #[test]
    fn nothing_has_no_mean() {
        assert_eq!(mean([].iter()), None);
    }
}
