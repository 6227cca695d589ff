//! How surely two photographs lie to each other as fitted.

use super::fit::Signs;
use crate::chance::logistic;
use serde::Deserialize;
use std::sync::OnceLock;

/// Measures that a chance is told by.
pub(super) const MEASURES: usize = 6;

/// A logistic function of the measures, fitted by `training/fit_plan.py`.
#[derive(Debug, Deserialize)]
struct Weights {
    bias: f64,
    weights: [f64; MEASURES],
    /// Greatest chance told, by how many pairs the fit has seen.
    most: f64,
}

fn fitted() -> Option<&'static Weights> {
    static WEIGHTS: OnceLock<Option<Weights>> = OnceLock::new();
    WEIGHTS
        .get_or_init(|| serde_json::from_str(include_str!("sure.json")).ok())
        .as_ref()
}

/// What a fit is weighed by, in the order of the weights: log of the likenesses that agree; log of the
/// features found alike; their share of those that have any other in their place, and its log of those
/// that could be found; how far they spread over these; and log of how many more likenesses agree than
/// with the best fit at another place.
pub(super) fn measures(s: &Signs) -> [f64; MEASURES] {
    let share = |a: f64, b: f64| (a + 1.0) / (b + 1.0);
    [
        s.agreeing.ln_1p(),
        s.alike.ln_1p(),
        share(s.alike, s.seen),
        share(s.alike, s.expected).ln(),
        s.spread.min(1.5),
        share(s.agreeing, s.rival_agreeing).ln().clamp(-3.0, 3.0),
    ]
}

/// Chance that a fit is right; 0 if the weights can't be read.
pub(super) fn chance(s: &Signs) -> f64 {
    let Some(w) = fitted() else { return 0.0 };
    let z: f64 = measures(s).iter().zip(w.weights).map(|(m, w)| m * w).sum();
    logistic(z + w.bias).clamp(1.0 - w.most, w.most)
}
