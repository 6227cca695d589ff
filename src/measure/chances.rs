//! Do chances keep their promise? Brier score with its split, calibration error, reliability
//! bins, ranks.

/// A chance that was stated, and whether the statement was right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated {
    /// 0 to 1.
    pub chance: f64,
    /// Right or wrong.
    pub right: bool,
}

/// One bin of a reliability diagram.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bin {
    /// Lower edge, 0 to 1.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
    /// Statements in it.
    pub count: usize,
    /// Mean stated chance.
    pub stated: f64,
    /// Share that was right.
    pub came_true: f64,
    /// 95% interval of that share (E. B. Wilson, *JASA* 22, 1927).
    pub interval: (f64, f64),
}

/// Mean squared difference of chance and outcome; 0 is best. `None` without statements.
///
/// Source: G. Brier, *Monthly Weather Review* 78, 1950, in its two-way form (0 to 1).
pub fn brier(stated: &[Stated]) -> Option<f64> {
    mean(
        stated
            .iter()
            .map(|s| (s.chance - f64::from(u8::from(s.right))).powi(2)),
    )
}

/// Reliability, resolution and uncertainty, with BS = REL − RES + UNC where all chances of a bin
/// are equal.
///
/// Source: A. Murphy, *J. Applied Meteorology* 12, 1973. `None` without statements.
pub fn murphy(stated: &[Stated], bins: usize) -> Option<(f64, f64, f64)> {
    let base = mean(stated.iter().map(|s| f64::from(u8::from(s.right))))?;
    let n = stated.len() as f64;
    let (mut reliability, mut resolution) = (0.0, 0.0);
    for b in reliability_bins(stated, bins) {
        let share = b.count as f64 / n;
        reliability += share * (b.stated - b.came_true).powi(2);
        resolution += share * (b.came_true - base).powi(2);
    }
    Some((reliability, resolution, base * (1.0 - base)))
}

/// Expected calibration error over equal-width bins: Σ (nₖ/n)·|came true − stated|.
///
/// Source: M. Naeini and others, AAAI 2015; C. Guo and others, ICML 2017. `None` without
/// statements.
pub fn calibration_error(stated: &[Stated], bins: usize) -> Option<f64> {
    if stated.is_empty() {
        return None;
    }
    let n = stated.len() as f64;
    Some(
        reliability_bins(stated, bins)
            .iter()
            .map(|b| b.count as f64 / n * (b.came_true - b.stated).abs())
            .sum(),
    )
}

/// How often outcomes are drawn anew by [`by_luck`].
const DRAWS: usize = 1000;

/// The calibration error that these very chances would show if all kept their promise: its mean, and
/// what it stays under 19 times in 20. Few statements show an error by luck alone; what isn't above the
/// second speaks against nobody. Outcomes are drawn independently of each other, always the same
/// ones. `None` without statements.
///
/// Source: resampled consistency of reliability diagrams, J. Bröcker and L. Smith, *Weather and
/// Forecasting* 22, 2007.
pub fn by_luck(stated: &[Stated], bins: usize) -> Option<(f64, f64)> {
    if stated.is_empty() {
        return None;
    }
    let mut state = 0x2545_F491_4F6C_DD1Du64;
    // Marsaglia's xorshift, *J. Statistical Software* 8, 2003
    let mut draw = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    let mut drawn = stated.to_vec();
    let mut errors: Vec<f64> = (0..DRAWS)
        .filter_map(|_| {
            drawn.iter_mut().for_each(|s| s.right = draw() < s.chance);
            calibration_error(&drawn, bins)
        })
        .collect();
    errors.sort_by(f64::total_cmp);
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    Some((mean, errors[errors.len() * 19 / 20]))
}

/// Bins of equal width that hold at least one statement; a chance of 1 falls in the last.
pub fn reliability_bins(stated: &[Stated], bins: usize) -> Vec<Bin> {
    let bins = bins.max(1);
    let mut sums = vec![(0usize, 0.0f64, 0usize); bins];
    for s in stated {
        let at = ((s.chance.clamp(0.0, 1.0) * bins as f64) as usize).min(bins - 1);
        sums[at].0 += 1;
        sums[at].1 += s.chance;
        sums[at].2 += usize::from(s.right);
    }
    sums.iter()
        .enumerate()
        .filter(|(_, (count, _, _))| *count > 0)
        .map(|(i, &(count, sum, right))| Bin {
            low: i as f64 / bins as f64,
            high: (i + 1) as f64 / bins as f64,
            count,
            stated: sum / count as f64,
            came_true: right as f64 / count as f64,
            interval: wilson(right, count),
        })
        .collect()
}

/// 95% interval for a share of `right` in `count`; (0, 1) for none.
pub fn wilson(right: usize, count: usize) -> (f64, f64) {
    if count == 0 {
        return (0.0, 1.0);
    }
    let z = 1.959_963_984_540_054_f64;
    let (n, p) = (count as f64, right as f64 / count as f64);
    let middle = p + z * z / (2.0 * n);
    let spread = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let all = 1.0 + z * z / n;
    (
        ((middle - spread) / all).max(0.0),
        ((middle + spread) / all).min(1.0),
    )
}

/// Share of questions whose true answer stands among the first `k`; ranks count from 1, `None`
/// for absent. `None` without questions.
pub fn top(ranks: &[Option<usize>], k: usize) -> Option<f64> {
    mean(
        ranks
            .iter()
            .map(|r| f64::from(u8::from(r.is_some_and(|r| r <= k)))),
    )
}

/// Mean reciprocal rank, absent counting 0 (E. Voorhees, TREC-8, 1999).
pub fn reciprocal_rank(ranks: &[Option<usize>]) -> Option<f64> {
    mean(ranks.iter().map(|r| r.map_or(0.0, |r| 1.0 / r as f64)))
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0usize), |(s, n), v| (s + v, n + 1));
    (n > 0).then(|| sum / n as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Murphy and Winkler's five-forecast example as worked by hand: 0.8 three times (two come
    /// true), 0.2 twice (none).
    fn worked() -> Vec<Stated> {
        [
            (0.8, true),
            (0.8, true),
            (0.8, false),
            (0.2, false),
            (0.2, false),
        ]
        .map(|(chance, right)| Stated { chance, right })
        .to_vec()
    }

    #[test]
    fn the_worked_example_gives_its_published_parts() {
        let s = worked();
        assert!((brier(&s).unwrap() - 0.16).abs() < 1e-12);
        let (rel, res, unc) = murphy(&s, 10).unwrap();
        assert!((rel - 0.026_666_667).abs() < 1e-8, "{rel}");
        assert!((res - 0.106_666_667).abs() < 1e-8, "{res}");
        assert!((unc - 0.24).abs() < 1e-12);
        assert!((calibration_error(&s, 10).unwrap() - 0.16).abs() < 1e-12);
    }

    #[test]
    fn ranks_one_two_absent_three_give_the_worked_mean() {
        let ranks = [Some(1), Some(2), None, Some(3)];
        assert!((reciprocal_rank(&ranks).unwrap() - 0.458_333_333).abs() < 1e-8);
        assert_eq!(top(&ranks, 1), Some(0.25));
        assert_eq!(top(&ranks, 3), Some(0.75));
    }

    #[test]
    fn without_statements_nothing_is_claimed() {
        assert_eq!(brier(&[]), None);
        assert_eq!(calibration_error(&[], 10), None);
        assert_eq!(top(&[], 1), None);
    }

    #[test]
    fn luck_alone_makes_the_mean_error_of_one_toss_and_of_a_hundred() {
        let tosses = |n: usize| {
            let toss = Stated {
                chance: 0.5,
                right: true,
            };
            by_luck(&vec![toss; n], 10).unwrap()
        };
        // One toss is half off, always.
        assert_eq!(tosses(1), (0.5, 0.5));
        // Of a hundred, the mean |heads - 50| is 100 C(100, 50) / 2^101 = 3.979 (de Moivre), and 19 times
        // in 20 it is at most 10 (binomial table: P(40 <= heads <= 60) = 0.965).
        let (mean, most) = tosses(100);
        assert!((mean - 0.039_79).abs() < 0.003, "{mean}");
        assert!((0.09..=0.10).contains(&most), "{most}");
        assert_eq!(by_luck(&[], 10), None);
    }

    proptest! {
        #[test]
        fn wilson_holds_the_share_and_stays_within_bounds(count in 1usize..200, part in 0.0f64..=1.0) {
            let right = (count as f64 * part) as usize;
            let (low, high) = wilson(right, count);
            let share = right as f64 / count as f64;
            prop_assert!(0.0 <= low && low <= share + 1e-12 && share <= high + 1e-12 && high <= 1.0);
        }

        #[test]
        fn calibration_error_and_brier_stay_between_nought_and_one(
            v in proptest::collection::vec((0.0f64..=1.0, any::<bool>()), 1..50)
        ) {
            let s: Vec<Stated> = v.into_iter().map(|(chance, right)| Stated { chance, right }).collect();
            for x in [brier(&s).unwrap(), calibration_error(&s, 10).unwrap()] {
                prop_assert!((0.0..=1.0).contains(&x));
            }
        }
    }
}
