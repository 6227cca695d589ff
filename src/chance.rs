//! Chances: numbers between 0 and 1 that are promises, and sums of them in log space.

/// ln(Σ exp(xᵢ)), without overflow or underflow. Empty: minus infinity.
///
/// ```
/// let l = dorso::chance::log_sum_exp(&[0.25f64.ln(), 0.5f64.ln()]);
/// assert!((l - 0.75f64.ln()).abs() < 1e-12);
/// ```
pub fn log_sum_exp(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if top == f64::NEG_INFINITY {
        return top;
    }
    top + logs.iter().map(|l| (l - top).exp()).sum::<f64>().ln()
}

/// Turns log weights into chances that sum to 1. All minus infinity: all equal.
///
/// ```
/// let p = dorso::chance::normalise(&[0.0, 0.0]);
/// assert_eq!(p, vec![0.5, 0.5]);
/// ```
pub fn normalise(logs: &[f64]) -> Vec<f64> {
    let total = log_sum_exp(logs);
    if total == f64::NEG_INFINITY {
        return vec![1.0 / logs.len().max(1) as f64; logs.len()];
    }
    logs.iter().map(|l| (l - total).exp()).collect()
}

/// Cuts a number to 0..=1; not a number becomes 0.
pub fn clamp(p: f64) -> f64 {
    if p.is_nan() { 0.0 } else { p.clamp(0.0, 1.0) }
}

/// 1 / (1 + e⁻ˣ): the chance whose log-odds are x.
pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// ln(p / (1 − p)): the log-odds of a chance strictly between 0 and 1.
///
/// ```
/// assert!((dorso::chance::logistic(dorso::chance::logit(0.3)) - 0.3).abs() < 1e-12);
/// ```
pub fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}
