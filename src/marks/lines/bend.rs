//! Curved baselines: the arched name of a firm above its label, the town hanging below it.

use super::Part;
use super::median;

/// Letters from which a row's curve is believed.
const LEAST: usize = 6;
/// Rise at the ends, letter heights, below which a row counts as straight.
const SAG: f64 = 0.2;
/// Steepest end of an arch, px down for one px to the right.
const STEEPEST: f64 = 1.0;
/// Mean distance of the feet from the curve, letter heights, from which it isn't the row's.
const OFF: f64 = 0.12;
/// That distance must be this many times less than from a straight line.
const BETTER: f64 = 1.6;
/// How far a letter's foot may lie off the curve that a row is followed along, letter heights.
const STRAY: f64 = 0.3;
/// Widest gap that a row is followed across, letter heights.
const GAP: f64 = 1.8;
/// Share of a turned letter's width by which the foot of its box lies too low, for its slope.
const TURNED: f64 = 0.35;

/// A baseline y = foot + slope * (x - at) + bend * (x - at)^2, px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::marks) struct Curve {
    pub at: f64,
    pub foot: f64,
    pub slope: f64,
    pub bend: f64,
}

impl Curve {
    pub fn y(&self, x: f64) -> f64 {
        let d = x - self.at;
        self.foot + self.slope * d + self.bend * d * d
    }

    pub fn slope_at(&self, x: f64) -> f64 {
        self.slope + 2.0 * self.bend * (x - self.at)
    }
}

/// The curve that the letters of a row stand on; nothing where it is straight, or where they don't
/// stand on one.
pub(in crate::marks) fn curve(letters: &[Part], members: &[usize]) -> Option<Curve> {
    if members.len() < LEAST {
        return None;
    }
    let boxes = || members.iter().map(|&m| &letters[m].bounds);
    let height = median(boxes().map(|b| f64::from(b.h)).collect());
    let left = boxes().map(|b| b.x).min()?;
    let right = boxes().map(|b| b.right()).max()?;
    let middle = f64::from(left + right) / 2.0;
    let half = f64::from(right - left) / 2.0;
    let mut curve = Curve {
        at: middle,
        foot: 0.0,
        slope: 0.0,
        bend: 0.0,
    };
    // The box of a turned letter reaches below its foot: the first curve tells how far.
    for _ in 0..2 {
        let feet = feet(letters, members, &curve);
        curve = fit(&feet, middle, true)?;
    }
    let feet = feet(letters, members, &curve);
    let straight = fit(&feet, middle, false)?;
    let off = |c: &Curve| mean_off(&feet, c);
    let steep = curve.slope_at(f64::from(left)).abs();
    let steep = steep.max(curve.slope_at(f64::from(right)).abs());
    let bent = (curve.bend * half * half).abs() > SAG * height && steep < STEEPEST;
    (bent && off(&curve) < OFF * height && off(&straight) > BETTER * off(&curve)).then_some(curve)
}

/// Joins chains that go on along the curve of another: at the steep ends of an arch the letters of
/// neighbouring words don't stand beside each other.
pub(super) fn follow(chains: &mut Vec<Vec<usize>>, letters: &[Part]) {
    chains.sort_by_key(|c| std::cmp::Reverse(c.len()));
    let mut i = 0;
    while i < chains.len() {
        while let Some(curve) = curve(letters, &chains[i]) {
            let Some(j) =
                (i + 1..chains.len()).find(|&j| goes_on(letters, &chains[i], &chains[j], &curve))
            else {
                break;
            };
            let more = chains.remove(j);
            chains[i].extend(more);
        }
        i += 1;
    }
}

fn goes_on(letters: &[Part], chain: &[usize], more: &[usize], curve: &Curve) -> bool {
    let tall = |c: &[usize]| median(c.iter().map(|&m| f64::from(letters[m].bounds.h)).collect());
    let ends = |c: &[usize]| {
        let boxes = c.iter().map(|&m| &letters[m].bounds);
        let reach = (f64::INFINITY, f64::NEG_INFINITY);
        boxes.fold(reach, |(l, r), b| {
            (l.min(f64::from(b.x)), r.max(f64::from(b.right())))
        })
    };
    let (height, other) = (tall(chain), tall(more));
    let ((l, r), (ml, mr)) = (ends(chain), ends(more));
    let gap = (ml - r).max(l - mr);
    let near = gap < GAP * height && gap > -0.5 * height;
    let steep = curve.slope_at(ml).abs().max(curve.slope_at(mr).abs());
    near && steep < STEEPEST
        && height.max(other) < 1.7 * height.min(other)
        && feet(letters, more, curve)
            .iter()
            .all(|(x, y)| (y - curve.y(*x)).abs() < STRAY * height)
}

/// Where the letters stand, each in the middle of its box.
fn feet(letters: &[Part], members: &[usize], curve: &Curve) -> Vec<(f64, f64)> {
    let boxes = members.iter().map(|&m| &letters[m].bounds);
    boxes
        .map(|b| {
            let x = f64::from(b.x) + f64::from(b.w) / 2.0;
            let low = curve.slope_at(x).abs() * f64::from(b.w) * TURNED;
            (x, f64::from(b.bottom()) - low)
        })
        .collect()
}

fn mean_off(feet: &[(f64, f64)], curve: &Curve) -> f64 {
    let mut off: Vec<f64> = feet.iter().map(|(x, y)| (y - curve.y(*x)).abs()).collect();
    off.sort_by(f64::total_cmp);
    // Without the worst fifth: commas, tails and scrolls
    let kept = off.len() - off.len() / 5;
    off[..kept].iter().sum::<f64>() / kept.max(1) as f64
}

/// The curve (or straight line) nearest to the feet in absolute distance, by least squares weighted
/// anew by the distance (E. Schlossmacher, "An iterative technique for absolute deviations curve
/// fitting", JASA 68, 1973).
fn fit(feet: &[(f64, f64)], at: f64, bent: bool) -> Option<Curve> {
    let unit = feet.iter().map(|f| (f.0 - at).abs()).fold(1.0, f64::max);
    let mut curve = Curve {
        at,
        foot: median(feet.iter().map(|f| f.1).collect()),
        slope: 0.0,
        bend: 0.0,
    };
    for round in 0..12 {
        let mut m = [[0.0f64; 4]; 3];
        for (x, y) in feet {
            let weight = match round {
                0 => 1.0,
                _ => 1.0 / (y - curve.y(*x)).abs().max(0.5),
            };
            let d = (x - at) / unit;
            let terms = [1.0, d, if bent { d * d } else { 0.0 }];
            for (row, a) in m.iter_mut().zip(terms) {
                for (cell, b) in row.iter_mut().zip(terms.iter().chain([y])) {
                    *cell += weight * a * b;
                }
            }
        }
        if !bent {
            m[2][2] = 1.0;
        }
        let [foot, slope, bend] = solve(m)?;
        curve = Curve {
            at,
            foot,
            slope: slope / unit,
            bend: bend / (unit * unit),
        };
    }
    Some(curve)
}

/// Three linear equations by Cramer's rule; `None` if they hang together.
fn solve(m: [[f64; 4]; 3]) -> Option<[f64; 3]> {
    let of = |c: [usize; 3]| {
        let at = |r: usize, k: usize| m[r][c[k]];
        at(0, 0) * (at(1, 1) * at(2, 2) - at(1, 2) * at(2, 1))
            - at(0, 1) * (at(1, 0) * at(2, 2) - at(1, 2) * at(2, 0))
            + at(0, 2) * (at(1, 0) * at(2, 1) - at(1, 1) * at(2, 0))
    };
    let whole = of([0, 1, 2]);
    let out = [of([3, 1, 2]), of([0, 3, 2]), of([0, 1, 3])].map(|d| d / whole);
    out.iter().all(|v| v.is_finite()).then_some(out)
}
