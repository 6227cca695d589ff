//! What was learnt from a person's corrections, held against others of their corrections.

use super::chances::{Stated, calibration_error};
use crate::readings::learnt::{Learnt, Measured, Pair};

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
