//! Chances: numbers between 0 and 1 that are promises, and sums of them in log space.

/// ln(Σ exp(xᵢ)), without overflow or underflow. Empty: minus infinity.
///
/// ```
/// let l = dorso_seeing::chance::log_sum_exp(&[0.25f64.ln(), 0.5f64.ln()]);
/// assert!((l - 0.75f64.ln()).abs() < 1e-12);
/// ```
pub fn log_sum_exp(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if top == f64::NEG_INFINITY {
        return top;
    }
    top + logs.iter().map(|l| (l - top).exp()).sum::<f64>().ln()
}

/// ln(eᵃ + eᵇ): what two sums by their logarithms are together.
pub fn add_logs(a: f64, b: f64) -> f64 {
    let (least, most) = if a < b { (a, b) } else { (b, a) };
    if least == f64::NEG_INFINITY {
        return most;
    }
    most + (least - most).exp().ln_1p()
}

/// Turns log weights into chances that sum to 1. All minus infinity: all equal.
///
/// ```
/// let p = dorso_seeing::chance::normalise(&[0.0, 0.0]);
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
/// assert!((dorso_seeing::chance::logistic(dorso_seeing::chance::logit(0.3)) - 0.3).abs() < 1e-12);
/// ```
pub fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

/// How far chances of rivals are to be believed, as decisions of a person showed: each is raised to
/// the power `slope`, that of "none" multiplied by e to the `none`, and all are scaled to their sum.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Tempering {
    /// ln factor on "none of them"; 0 changes nothing.
    pub none: f64,
    /// Power, above 0; 1 changes nothing, below 1 takes back what is said too surely.
    pub slope: f64,
}

/// Chances of rivals, of "none of them", and what was right.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// Chances of the rivals.
    pub rivals: Vec<f64>,
    /// Chance of "none".
    pub none: f64,
    /// The rival that was right; `None`: none of them.
    pub right: Option<usize>,
}

/// Precision of the pull towards "nothing learnt": of ten decisions eight may go against what was said
/// at 0.9, and it is still said at more than 0.7 (set by judgement).
const PULL: f64 = 40.0;

/// Smaller chances count as this: nothing is impossible.
const SMALLEST: f64 = 1e-6;

impl Default for Tempering {
    fn default() -> Self {
        Tempering {
            none: 0.0,
            slope: 1.0,
        }
    }
}

impl Tempering {
    /// The chances as they are to be believed, in place.
    pub fn apply(&self, rivals: &mut [f64], none: &mut f64) {
        if *self == Tempering::default() {
            return;
        }
        let ln = |p: f64| p.max(SMALLEST).ln();
        let logs: Vec<f64> = std::iter::once(self.slope * ln(*none) + self.none)
            .chain(rivals.iter().map(|p| self.slope * ln(*p)))
            .collect();
        let all = normalise(&logs);
        *none = all[0];
        rivals.copy_from_slice(&all[1..]);
    }

    /// Fits to decisions by least log loss, with a pull towards nothing learnt (a normal prior) that
    /// ten decisions can't upset.
    pub fn fit(settled: &[Settled]) -> Self {
        let mut out = Tempering::default();
        // Newton's steps on a convex loss; the pull keeps the matrix regular
        for _ in 0..40 {
            let (mut ga, mut gb) = (PULL * out.none, PULL * (out.slope - 1.0));
            let (mut haa, mut hab, mut hbb) = (PULL, 0.0, PULL);
            for s in settled {
                let lns: Vec<f64> = std::iter::once(s.none)
                    .chain(s.rivals.iter().copied())
                    .map(|p| p.max(SMALLEST).ln())
                    .collect();
                let (mut rivals, mut none) = (s.rivals.clone(), s.none);
                out.apply(&mut rivals, &mut none);
                let chances = std::iter::once(none).chain(rivals);
                let mean: f64 = chances.clone().zip(&lns).map(|(p, l)| p * l).sum();
                let square: f64 = chances.zip(&lns).map(|(p, l)| p * l * l).sum();
                let right = s.right.map_or(0, |r| r + 1);
                ga += none - f64::from(u8::from(right == 0));
                gb += mean - lns[right];
                haa += none * (1.0 - none);
                hab += none * (lns[0] - mean);
                hbb += square - mean * mean;
            }
            let determinant = haa * hbb - hab * hab;
            let (da, db) = (
                (hbb * ga - hab * gb) / determinant,
                (haa * gb - hab * ga) / determinant,
            );
            out.none = (out.none - da.clamp(-1.0, 1.0)).clamp(-5.0, 5.0);
            out.slope = (out.slope - db.clamp(-0.5, 0.5)).clamp(0.1, 5.0);
            if da.abs() + db.abs() < 1e-9 {
                break;
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two rivals and "none" at 0.9, 0.06, 0.04, of which the first is right so often.
    fn said(count: usize, right: impl Fn(usize) -> Option<usize>) -> Vec<Settled> {
        (0..count)
            .map(|i| Settled {
                rivals: vec![0.9, 0.06],
                none: 0.04,
                right: right(i),
            })
            .collect()
    }

    #[test]
    fn chances_said_too_surely_are_taken_back_by_many_decisions_and_hardly_by_ten() {
        let first = |t: Tempering| {
            let (mut rivals, mut none) = (vec![0.9, 0.06], 0.04);
            t.apply(&mut rivals, &mut none);
            assert!((rivals.iter().sum::<f64>() + none - 1.0).abs() < 1e-12);
            rivals[0]
        };
        let six_in_ten = |i: usize| if i % 5 < 3 { Some(0) } else { None };
        let many = first(Tempering::fit(&said(1000, six_in_ten)));
        assert!((many - 0.6).abs() < 0.02, "{many}");
        let few = first(Tempering::fit(&said(10, |i| Some(i % 2).filter(|_| i > 4))));
        assert!(few > 0.7, "{few}");
        assert_eq!(first(Tempering::default()), 0.9);
    }

    #[test]
    fn chances_that_keep_their_promise_stay_as_they_are() {
        let kept = |i: usize| match i % 50 {
            0..45 => Some(0),
            45..48 => Some(1),
            _ => None,
        };
        let t = Tempering::fit(&said(1000, kept));
        assert!(t.none.abs() < 0.02 && (t.slope - 1.0).abs() < 0.02, "{t:?}");
    }
}
