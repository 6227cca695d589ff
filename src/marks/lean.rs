//! The common slope of the lettering on a flattened mark, from its letters alone.
//!
//! The outline of a mark follows its paper or its patch of ink; lettering need not: a hand climbs,
//! a label was torn askew. Edges of paper and grain would speak for their own direction, so only
//! ink that is shaped like letters has a say.

/// Steepest slope that is looked for, px down for one px to the right (about 17°): what is more
/// is no line of writing but another turn.
const STEEPEST: f64 = 0.3;

/// Points that are looked at.
const POINTS: usize = 20_000;

/// How much clearer the rows must stand out than without the slope before it is believed.
const CLEARER: f64 = 1.15;

/// How much clearer than at the middling slope: grain and noise have a best slope too.
const ROWS: f64 = 1.5;

/// Slope of the rows that the points stand in, px down for one px to the right; 0 where no slope
/// parts the rows clearly better than none does.
///
/// * `points`: px of ink.
/// * `letter`: usual height of a letter, px.
///
/// The rows stand out most where the profile across them changes most (W. Postl, *Detection of
/// linear oblique structures and skew scan in digitized documents*, ICPR 1986).
pub(super) fn lean(points: &[(i32, i32)], letter: f64) -> f64 {
    let every = (points.len() / POINTS).max(1);
    let points: Vec<(f64, f64)> = points
        .iter()
        .step_by(every)
        .map(|&(x, y)| (f64::from(x), f64::from(y)))
        .collect();
    // Whole px: with others, bins at no slope would hold now two rows of px and now three.
    let bin = (letter / 8.0).round().max(1.0);
    let (Some(left), Some(right)) = (
        points.iter().map(|p| p.0).min_by(f64::total_cmp),
        points.iter().map(|p| p.0).max_by(f64::total_cmp),
    ) else {
        return 0.0;
    };
    if right - left < 3.0 * letter {
        return 0.0;
    }
    let clear = |slope: f64| clearness(&points, slope, bin);
    // Coarse steps move the ends of the rows by two bins, fine ones by a half.
    let step = (2.0 * bin / (right - left)).clamp(0.002, 0.02);
    let coarse = (STEEPEST / step) as i32;
    let mut all: Vec<(f64, f64)> = (-coarse..=coarse)
        .map(|i| f64::from(i) * step)
        .map(|slope| (clear(slope), slope))
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let usual = all[all.len() / 2].0;
    let best = around(all[all.len() - 1].1, step / 4.0, 4, &clear);
    let found = clear(best);
    if best.abs() > 0.01 && found > CLEARER * clear(0.0) && found > ROWS * usual {
        best
    } else {
        0.0
    }
}

/// The clearest of the slopes `steps` either side of one.
fn around(middle: f64, step: f64, steps: i32, clear: &dyn Fn(f64) -> f64) -> f64 {
    (-steps..=steps)
        .map(|i| middle + f64::from(i) * step)
        .map(|slope| (clear(slope), slope))
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.abs().total_cmp(&a.1.abs())))
        .map_or(middle, |b| b.1)
}

/// Summed squares of the changes from bin to bin of the profile across rows of that slope.
fn clearness(points: &[(f64, f64)], slope: f64, bin: f64) -> f64 {
    let at = |p: &(f64, f64)| ((p.1 - slope * p.0) / bin).floor() as i64;
    let (Some(low), Some(high)) = (points.iter().map(at).min(), points.iter().map(at).max()) else {
        return 0.0;
    };
    let mut profile = vec![0.0f64; (high - low + 3) as usize];
    for p in points {
        profile[(at(p) - low + 1) as usize] += 1.0;
    }
    profile.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Rows of dashes 20 px high, one every 60 px.
    fn rows(slope: f64) -> Vec<(i32, i32)> {
        let mut out = Vec::new();
        for row in 0..4 {
            for x in (0..600).filter(|x| x % 14 < 9) {
                for y in 0..20 {
                    let down = f64::from(row * 60 + y) + slope * f64::from(x);
                    out.push((x, down.round() as i32));
                }
            }
        }
        out
    }

    proptest! {
        #[test]
        fn the_slope_of_rows_is_found(slope in -0.25f64..0.25) {
            prop_assert!((lean(&rows(slope), 20.0) - slope).abs() < 0.012);
        }
    }

    #[test]
    fn level_rows_few_points_and_noise_have_no_slope() {
        assert_eq!(lean(&rows(0.0), 20.0), 0.0);
        assert_eq!(lean(&[], 20.0), 0.0);
        assert_eq!(lean(&[(3, 3), (9, 9)], 20.0), 0.0);
        // The generator of Knuth's MMIX (The Art of Computer Programming 2, 3.3.4).
        let mut state = 1u64;
        let mut next = |below: u64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((state >> 33) % below) as i32
        };
        let noise: Vec<(i32, i32)> = (0..9000).map(|_| (next(600), next(397))).collect();
        assert_eq!(lean(&noise, 20.0), 0.0);
    }
}
