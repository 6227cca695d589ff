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

/// A sighting's evened picture, its reading direction to the right: 40 x 28 greys about 0.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Look(Vec<i8>);

/// The look of a mark on its upright photograph; blank where the outline has no area.
pub fn look(photograph: &RgbImage, outline: &Quad) -> Look {
    let cells = Point::new(W as f64, H as f64);
    let frame = Quad([
        Point::new(0.0, 0.0),
        Point::new(cells.x, 0.0),
        cells,
        Point::new(0.0, cells.y),
    ]);
    let (pw, ph) = photograph.dimensions();
    let map = Homography::between(&frame, outline);
    let Some(map) = map.filter(|_| pw > 0 && ph > 0) else {
        return Look(vec![0; W * H]);
    };
    let (w, h) = outline.size();
    let fine = ((w / cells.x).max(h / cells.y) / 2.0)
        .ceil()
        .clamp(1.0, 8.0) as usize;
    let grey = |p: Point| {
        let at = |v: f64, top: u32| v.clamp(0.0, f64::from(top - 1)) as u32;
        let [r, g, b] = photograph.get_pixel(at(p.x, pw), at(p.y, ph)).0;
        // Weights of ITU-R BT.601.
        0.299 * f64::from(r) + 0.587 * f64::from(g) + 0.114 * f64::from(b)
    };
    let mut cell = vec![0.0; W * H];
    for (i, c) in cell.iter_mut().enumerate() {
        let (x, y) = ((i % W) as f64, (i / W) as f64);
        for k in 0..fine * fine {
            let part = |k: usize| (k as f64 + 0.5) / fine as f64;
            let p = Point::new(x + part(k % fine), y + part(k / fine));
            *c += grey(map.apply(p)) / (fine * fine) as f64;
        }
    }
    Look(evened(&cell))
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
                let here = self.correlation(other, &places, (dx as f64, dy as f64));
                best = match (best, here) {
                    (Some(a), Some(b)) => Some(a.max(b)),
                    (a, b) => a.or(b),
                };
            }
        }
        best
    }

    fn correlation(&self, other: &Look, places: &[(f64, f64)], by: (f64, f64)) -> Option<f64> {
        let (mut n, mut s) = (0usize, [0.0f64; 5]);
        for (a, p) in self.0.iter().zip(places) {
            let (x, y) = (p.0 + by.0, p.1 + by.1);
            if !(x >= 0.0 && y >= 0.0 && x < W as f64 && y < H as f64) {
                continue;
            }
            let (a, b) = (
                f64::from(*a),
                f64::from(other.0[y as usize * W + x as usize]),
            );
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
}

/// Greys less the mean around, over the spread around.
fn evened(cell: &[f64]) -> Vec<i8> {
    let around = |i: usize| {
        let (x, y) = (i % W, i / W);
        let span = |v: usize, top: usize| v.saturating_sub(AROUND)..(v + AROUND + 1).min(top);
        let (mut n, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for yy in span(y, H) {
            for v in &cell[yy * W..][span(x, W)] {
                n += 1.0;
                sum += v;
                squares += v * v;
            }
        }
        let mean = sum / n;
        (mean, (squares / n - mean * mean).max(0.0).sqrt())
    };
    let one = |i: usize| {
        let (mean, spread) = around(i);
        // What hardly differs from its surroundings stays near 0, so that grain isn't blown up.
        ((cell[i] - mean) / (spread + 4.0) * 40.0).clamp(-127.0, 127.0) as i8
    };
    (0..cell.len()).map(one).collect()
}
