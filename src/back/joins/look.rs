//! How a sighting looks: a small picture of it, its light evened.

use crate::geometry::{Homography, Point, Quad};
use image::RgbImage;
use serde::{Deserialize, Serialize};

const W: usize = 40;
const H: usize = 28;
/// Cells that a look is moved by, either way, to find where two agree best.
const REACH: isize = 2;
/// Cells to either side that light is evened over.
const AROUND: usize = 5;
/// Fewer cells than this in common tell nothing.
const LEAST: usize = 120;

/// How much larger than the outline the picture with its surroundings is.
const ROOM: f64 = 1.6;
/// Grey of a cell that lies outside the photograph.
const OUTSIDE: i8 = i8::MIN;

/// A sighting's evened picture, its reading direction to the right: 40 x 28 greys about 0. Twice: the mark
/// alone, and with what lies around it, by which twin labels are told apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Look {
    mark: Vec<i8>,
    around: Vec<i8>,
}

/// The look of a mark on its upright photograph; blank where the outline has no area.
pub fn look(photograph: &RgbImage, outline: &Quad) -> Look {
    let side = (ROOM - 1.0) / 2.0;
    Look {
        mark: seen(photograph, outline, 0.0),
        around: seen(photograph, outline, side),
    }
}

/// What a photograph shows within an outline and, by this share of its sides, around it.
fn seen(photograph: &RgbImage, outline: &Quad, room: f64) -> Vec<i8> {
    let (w, h) = (W as f64 * (1.0 + 2.0 * room), H as f64 * (1.0 + 2.0 * room));
    let (x0, y0) = (
        W as f64 * room * W as f64 / w,
        H as f64 * room * H as f64 / h,
    );
    let (x1, y1) = (W as f64 - x0, H as f64 - y0);
    let frame = Quad([(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Point::new(x, y)));
    let (pw, ph) = photograph.dimensions();
    let map = Homography::between(&frame, outline);
    let Some(map) = map.filter(|_| pw > 0 && ph > 0) else {
        return vec![0; W * H];
    };
    let (w, h) = outline.size();
    let fine = ((w / (x1 - x0)).max(h / (y1 - y0)) / 2.0)
        .ceil()
        .clamp(1.0, 8.0) as usize;
    let grey = |p: Point| {
        let within = p.x >= 0.0 && p.y >= 0.0 && p.x < f64::from(pw) && p.y < f64::from(ph);
        within.then(|| {
            let [r, g, b] = photograph.get_pixel(p.x as u32, p.y as u32).0;
            // Weights of ITU-R BT.601.
            0.299 * f64::from(r) + 0.587 * f64::from(g) + 0.114 * f64::from(b)
        })
    };
    let cell = |i: usize| {
        let (x, y) = ((i % W) as f64, (i / W) as f64);
        let part = |k: usize| (k as f64 + 0.5) / fine as f64;
        let places = (0..fine * fine).map(|k| Point::new(x + part(k % fine), y + part(k / fine)));
        let greys: Vec<f64> = places.filter_map(|p| grey(map.apply(p))).collect();
        (2 * greys.len() >= fine * fine).then(|| greys.iter().sum::<f64>() / greys.len() as f64)
    };
    evened(&(0..W * H).map(cell).collect::<Vec<_>>())
}

impl Look {
    /// How alike two are, -1 to 1: correlation over what both show, at the best of a few small shifts.
    ///
    /// * `map`: from this one's unit square to the other's; `None`: both show the whole.
    pub fn alike(&self, other: &Look, map: Option<&Homography>) -> Option<f64> {
        let place = |i: usize| {
            let unit = Point::new(
                ((i % W) as f64 + 0.5) / W as f64,
                ((i / W) as f64 + 0.5) / H as f64,
            );
            let p = map.map_or(unit, |m| m.apply(unit));
            (p.x * W as f64, p.y * H as f64)
        };
        let places: Vec<(f64, f64)> = (0..W * H).map(place).collect();
        let mut best: Option<f64> = None;
        for dy in -REACH..=REACH {
            for dx in -REACH..=REACH {
                let here = correlation(&self.mark, &other.mark, &places, (dx as f64, dy as f64));
                best = match (best, here) {
                    (Some(a), Some(b)) => Some(a.max(b)),
                    (a, b) => a.or(b),
                };
            }
        }
        best
    }

    /// How alike what lies around two marks is, likewise; the outlines are taken for the same.
    pub fn alike_around(&self, other: &Look) -> Option<f64> {
        let inner = 0.5 / ROOM + 0.02;
        let ring = |i: usize| {
            let off = |k: usize, n: usize| ((k as f64 + 0.5) / n as f64 - 0.5).abs();
            off(i % W, W) > inner || off(i / W, H) > inner
        };
        let places: Vec<(f64, f64)> = (0..W * H)
            .map(|i| match ring(i) {
                true => ((i % W) as f64 + 0.5, (i / W) as f64 + 0.5),
                false => (f64::NAN, f64::NAN),
            })
            .collect();
        let mut best: Option<f64> = None;
        for dy in -1..=1 {
            for dx in -1..=1 {
                let here = correlation(
                    &self.around,
                    &other.around,
                    &places,
                    (f64::from(dx), f64::from(dy)),
                );
                best = match (best, here) {
                    (Some(a), Some(b)) => Some(a.max(b)),
                    (a, b) => a.or(b),
                };
            }
        }
        best
    }
}

/// Correlation of two over what both show; the places of the one's cells on the other are moved by `by`.
fn correlation(a: &[i8], b: &[i8], places: &[(f64, f64)], by: (f64, f64)) -> Option<f64> {
    let (mut n, mut s) = (0usize, [0.0f64; 5]);
    for (a, p) in a.iter().zip(places) {
        let (x, y) = (p.0 + by.0, p.1 + by.1);
        if !(x >= 0.0 && y >= 0.0 && x < W as f64 && y < H as f64) {
            continue;
        }
        let b = b[y as usize * W + x as usize];
        if *a == OUTSIDE || b == OUTSIDE {
            continue;
        }
        let (a, b) = (f64::from(*a), f64::from(b));
        n += 1;
        for (sum, v) in s.iter_mut().zip([a, b, a * a, b * b, a * b]) {
            *sum += v;
        }
    }
    if n < LEAST {
        return None;
    }
    let n = n as f64;
    let spread = (s[2] - s[0] * s[0] / n) * (s[3] - s[1] * s[1] / n);
    (spread > 0.0).then(|| (s[4] - s[0] * s[1] / n) / spread.sqrt())
}

/// Greys less the mean around, over the spread around.
fn evened(cell: &[Option<f64>]) -> Vec<i8> {
    let around = |i: usize| {
        let (x, y) = (i % W, i / W);
        let span = |v: usize, top: usize| v.saturating_sub(AROUND)..(v + AROUND + 1).min(top);
        let (mut n, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for yy in span(y, H) {
            for v in cell[yy * W..][span(x, W)].iter().flatten() {
                n += 1.0;
                sum += v;
                squares += v * v;
            }
        }
        let mean = sum / n;
        (mean, (squares / n - mean * mean).max(0.0).sqrt())
    };
    let one = |i: usize| {
        let Some(grey) = cell[i] else { return OUTSIDE };
        let (mean, spread) = around(i);
        // What hardly differs from its surroundings stays near 0, so that grain isn't blown up.
        ((grey - mean) / (spread + 4.0) * 40.0).clamp(-127.0, 127.0) as i8
    };
    (0..cell.len()).map(one).collect()
}
