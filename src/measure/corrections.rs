//! What was learnt from a person's corrections, held against others of their corrections.

use super::chances::{Stated, calibration_error};
use crate::chance::{Settled, Tempering};
use crate::readings::learnt::{Learnt, Measured, Pair, Weighed};

/// Bins of the calibration error.
const BINS: usize = 10;

/// What it changes on letters, which shouldn't be those that it was fitted on.
pub fn measured(learnt: &Learnt, pairs: &[Pair]) -> Measured {
    let after: Vec<Pair> = pairs
        .iter()
        .map(|p| Pair {
            read: learnt.applied(&p.read),
            truth: p.truth.clone(),
        })
        .collect();
    Measured {
        letters: pairs.len(),
        log_loss: (log_loss(pairs), log_loss(&after)),
        calibration_error: (calibration(pairs), calibration(&after)),
        chance_of_truth_where_wrong: (truth_where_wrong(pairs), truth_where_wrong(&after)),
    }
}

fn log_loss(pairs: &[Pair]) -> f64 {
    let sum: f64 = pairs
        .iter()
        .map(|p| {
            let c = p.read.confidence.clamp(1e-6, 1.0 - 1e-6);
            -(if p.right() { c } else { 1.0 - c }).ln()
        })
        .sum();
    sum / pairs.len().max(1) as f64
}

fn calibration(pairs: &[Pair]) -> f64 {
    let stated: Vec<Stated> = pairs
        .iter()
        .map(|p| Stated {
            chance: p.read.confidence,
            right: p.right(),
        })
        .collect();
    calibration_error(&stated, BINS).unwrap_or(0.0)
}

fn truth_where_wrong(pairs: &[Pair]) -> f64 {
    let wrong: Vec<&Pair> = pairs.iter().filter(|p| !p.right()).collect();
    let sum: f64 = wrong
        .iter()
        .map(|p| {
            let truth = p.truth.as_deref().unwrap_or("");
            let found = p.read.alternatives.iter().find(|a| a.0 == truth);
            found.map_or(0.0, |a| a.1)
        })
        .sum();
    sum / wrong.len().max(1) as f64
}

/// The statements of decisions: the likeliest rival of each, and "none of them".
pub fn statements(settled: &[Settled]) -> Vec<Stated> {
    let mut out = Vec::new();
    for s in settled {
        let rivals = s.rivals.iter().enumerate();
        if let Some((i, &chance)) = rivals.max_by(|a, b| a.1.total_cmp(b.1)) {
            out.push(Stated {
                chance,
                right: s.right == Some(i),
            });
        }
        out.push(Stated {
            chance: s.none,
            right: s.right.is_none(),
        });
    }
    out
}

/// Decisions with the chances as they are after learning.
pub fn tempered(tempering: &Tempering, settled: &[Settled]) -> Vec<Settled> {
    let mut out = settled.to_vec();
    for s in &mut out {
        tempering.apply(&mut s.rivals, &mut s.none);
    }
    out
}

/// What it changes on decisions, which shouldn't be those that it was fitted on.
pub fn weighed(tempering: &Tempering, settled: &[Settled]) -> Weighed {
    let after = tempered(tempering, settled);
    let loss = |all: &[Settled]| {
        let truth = |s: &Settled| s.right.map_or(s.none, |r| s.rivals[r]);
        all.iter().map(|s| -truth(s).max(1e-6).ln()).sum::<f64>() / all.len().max(1) as f64
    };
    let error = |all: &[Settled]| calibration_error(&statements(all), BINS).unwrap_or(0.0);
    Weighed {
        decisions: settled.len(),
        log_loss: (loss(settled), loss(&after)),
        calibration_error: (error(settled), error(&after)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::Character;

    fn pair(read: &str, confidence: f64, truth: &str) -> Pair {
        Pair {
            read: Character::sure(read, confidence),
            truth: Some(truth.into()),
        }
    }

    #[test]
    fn chances_that_were_too_high_come_down_and_a_sign_often_corrected_gains_its_alternative() {
        // 0.9 was said, 0.6 was true; e was always a c.
        let all: Vec<Pair> = (0..200)
            .map(|i| pair("e", 0.9, if i % 5 < 3 { "e" } else { "c" }))
            .collect();
        let (fit, held) = all.split_at(100);
        let learnt = Learnt::fit(fit);
        let told = measured(&learnt, held);
        assert!(told.log_loss.1 < told.log_loss.0, "{told:?}");
        assert!(told.calibration_error.1 < 0.5 * told.calibration_error.0);
        let e = learnt.applied(&Character::sure("e", 0.9));
        assert!(e.confidence > 0.5 && e.confidence < 0.75, "{e:?}");
        assert_eq!(e.alternatives[0].0, "c");
        assert!(e.alternatives[0].1 > 0.2, "{e:?}");
    }
}
