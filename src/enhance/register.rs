//! Lays a second photograph of one mark on the first.
//!
//! By Gauss-Newton steps over a pyramid (Lucas and Kanade, 1981; the plane
//! homography's eight parameters as in Baker and Matthews, "Lucas-Kanade 20 Years On", 2004), on
//! pictures whose local mean and spread are evened out, so that a different light matters little.
//! The start is sought over shifts, scales and small turns on a picture of 64 px.

use crate::geometry::{Homography, Point, solve};
use image::{GrayImage, RgbImage, imageops};

/// Correlation of the evened pictures below which two photographs aren't taken for the same mark.
/// Lies between made pairs (0.80 and 0.97) and made strangers (up to 0.24); not a fitted chance.
pub const ALIKE: f64 = 0.35;

/// Longer side, px, of each step of the pyramid.
const STEPS: [f64; 4] = [64.0, 128.0, 256.0, 512.0];

/// Starts followed up at each of them, the likeliest.
const STARTS: [usize; 4] = [24, 8, 2, 1];

/// Share of the first picture that the other has to show.
const SHOWN: f64 = 0.3;

/// Where another photograph lies on the first.
#[derive(Debug, Clone)]
pub struct Placed {
    /// From px of the first to px of the other (px counted from the outer corner: the middle of the
    /// first px is 0.5).
    pub map: Homography,
    /// Correlation of both, evened out, where they overlap: −1 to 1.
    pub likeness: f64,
}

impl Placed {
    /// The place on the other photograph of a place on the first, px.
    pub fn apply(&self, x: f64, y: f64) -> (f64, f64) {
        let p = self.map.apply(Point::new(x, y));
        (p.x, p.y)
    }
}

/// Lays `other` on `first`; none if they are too small or not recognisably the same mark. Finds
/// scales from 0.6 to 1.6, turns up to 10° and shifts up to a quarter of the longer side.
pub fn register(first: &RgbImage, other: &RgbImage) -> Option<Placed> {
    let side = |p: &RgbImage| p.width().min(p.height());
    if side(first) < 24 || side(other) < 24 {
        return None;
    }
    let longer = f64::from(
        first
            .width()
            .max(first.height())
            .max(other.width())
            .max(other.height()),
    );
    let frame = Frame {
        half: longer / 2.0,
        first: middle(first),
        other: middle(other),
    };
    let (first, other) = (imageops::grayscale(first), imageops::grayscale(other));
    let mut best: Vec<(f64, [f64; 8])> = Vec::new();
    for (i, step) in STEPS.iter().enumerate() {
        let by = (step / longer).min(1.0);
        let level = Level {
            a: Evened::of(&first, by),
            b: Evened::of(&other, by),
            frame: &frame,
        };
        let starts = if i == 0 {
            level.starts()
        } else {
            best.iter().map(|b| b.1).collect()
        };
        best = starts
            .into_iter()
            .map(|h| level.refined(h, if i == 0 { 6 } else { 8 }))
            .collect();
        best.sort_by(|a, b| b.0.total_cmp(&a.0));
        best.truncate(STARTS.get(i + 1).copied().unwrap_or(1));
        if by >= 1.0 {
            break;
        }
    }
    let &(likeness, h) = best.first()?;
    (likeness >= ALIKE).then(|| Placed {
        map: frame.in_px(&h),
        likeness,
    })
}

fn middle(p: &RgbImage) -> (f64, f64) {
    (f64::from(p.width()) / 2.0, f64::from(p.height()) / 2.0)
}

/// Both pictures in one measure: the middle at 0, half the longest side 1.
struct Frame {
    half: f64,
    first: (f64, f64),
    other: (f64, f64),
}

impl Frame {
    /// The same map between px of full size.
    fn in_px(&self, h: &[f64; 8]) -> Homography {
        let (s, (ax, ay), (bx, by)) = (self.half, self.first, self.other);
        let h = [h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0];
        let into = [1.0 / s, 0.0, -ax / s, 0.0, 1.0 / s, -ay / s, 0.0, 0.0, 1.0];
        let out = [s, 0.0, bx, 0.0, s, by, 0.0, 0.0, 1.0];
        let m = times(&out, &times(&h, &into));
        Homography(m.map(|v| v / m[8]))
    }
}

fn times(a: &[f64; 9], b: &[f64; 9]) -> [f64; 9] {
    std::array::from_fn(|i| (0..3).map(|k| a[i / 3 * 3 + k] * b[k * 3 + i % 3]).sum())
}

/// A grey picture of mean 0 and spread 1 in every neighbourhood.
struct Evened {
    /// px of it for one px of the picture, across and down.
    by: (f64, f64),
    w: usize,
    h: usize,
    v: Vec<f32>,
}

impl Evened {
    fn of(grey: &GrayImage, by: f64) -> Evened {
        let small = |n: u32| ((f64::from(n) * by).round() as u32).max(8);
        let (w, h) = (small(grey.width()), small(grey.height()));
        let by = (
            f64::from(w) / f64::from(grey.width()),
            f64::from(h) / f64::from(grey.height()),
        );
        let p = imageops::resize(grey, w, h, imageops::FilterType::Triangle);
        let (w, h) = (w as usize, h as usize);
        let v: Vec<f32> = p.pixels().map(|p| f32::from(p.0[0])).collect();
        let radius = (w.max(h) / 16).max(3);
        let mean = box_mean(&v, w, h, radius);
        let off: Vec<f32> = v.iter().zip(&mean).map(|(v, m)| v - m).collect();
        let squares: Vec<f32> = off.iter().map(|d| d * d).collect();
        let spread = box_mean(&squares, w, h, radius);
        let even: Vec<f32> = off
            .iter()
            .zip(&spread)
            .map(|(d, s)| d / (s.max(0.0).sqrt() + 4.0))
            .collect();
        let v = box_mean(&even, w, h, 1);
        Evened { by, w, h, v }
    }

    /// Value at a place (px from the outer corner), bilinear; none outside.
    fn at(&self, x: f64, y: f64) -> Option<f64> {
        let (x, y) = (x - 0.5, y - 0.5);
        if !(x >= 0.0 && y >= 0.0 && x < (self.w - 1) as f64 && y < (self.h - 1) as f64) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        let (u, v) = (x - i as f64, y - j as f64);
        let p = |i: usize, j: usize| f64::from(self.v[j * self.w + i]);
        Some(
            (1.0 - v) * ((1.0 - u) * p(i, j) + u * p(i + 1, j))
                + v * ((1.0 - u) * p(i, j + 1) + u * p(i + 1, j + 1)),
        )
    }
}

struct Level<'a> {
    a: Evened,
    b: Evened,
    frame: &'a Frame,
}

impl Level<'_> {
    /// Place on the other (px of this level) and the divisor, of a place in the frame's measure.
    fn to(&self, h: &[f64; 8], x: f64, y: f64) -> (f64, f64, f64) {
        let w = h[6] * x + h[7] * y + 1.0;
        let s = self.frame.half;
        (
            ((h[0] * x + h[1] * y + h[2]) / w * s + self.frame.other.0) * self.b.by.0,
            ((h[3] * x + h[4] * y + h[5]) / w * s + self.frame.other.1) * self.b.by.1,
            w,
        )
    }

    /// Every place of the first that is looked at, with its value there.
    fn places(&self, every: usize) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
        let (s, (ax, ay)) = (self.frame.half, self.frame.first);
        (0..self.a.h).step_by(every).flat_map(move |j| {
            (0..self.a.w).step_by(every).map(move |i| {
                let x = ((i as f64 + 0.5) / self.a.by.0 - ax) / s;
                let y = ((j as f64 + 0.5) / self.a.by.1 - ay) / s;
                (x, y, f64::from(self.a.v[j * self.a.w + i]))
            })
        })
    }

    /// Correlation where both show something; −1 where too little overlaps.
    fn likeness(&self, h: &[f64; 8], every: usize) -> f64 {
        let (mut n, mut all) = (0.0, 0.0);
        let (mut a, mut b, mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (x, y, v) in self.places(every) {
            all += 1.0;
            let (px, py, w) = self.to(h, x, y);
            if w <= 0.1 {
                return -1.0;
            }
            if let Some(o) = self.b.at(px, py) {
                n += 1.0;
                a += v;
                b += o;
                aa += v * v;
                bb += o * o;
                ab += v * o;
            }
        }
        if n < SHOWN * all || n < 16.0 {
            return -1.0;
        }
        let spread = ((aa - a * a / n) * (bb - b * b / n)).max(0.0).sqrt();
        if spread < 1e-9 {
            -1.0
        } else {
            (ab - a * b / n) / spread
        }
    }

    /// The likeliest starts over scales, turns and shifts.
    fn starts(&self) -> Vec<[f64; 8]> {
        let mut found: Vec<(f64, [f64; 8])> = Vec::new();
        for scale in [
            0.62, 0.68, 0.75, 0.83, 0.91, 1.0, 1.1, 1.21, 1.33, 1.46, 1.6f64,
        ] {
            for turn in [-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0f64] {
                let (sin, cos) = turn.to_radians().sin_cos();
                let (c, s) = (scale * cos, scale * sin);
                let mut best = (-1.0, [0.0; 8]);
                for j in -14..=14 {
                    for i in -14..=14 {
                        let (dx, dy) = (f64::from(i) / 28.0, f64::from(j) / 28.0);
                        let h = [c, -s, dx, s, c, dy, 0.0, 0.0];
                        let l = self.likeness(&h, 3);
                        if l > best.0 {
                            best = (l, h);
                        }
                    }
                }
                found.push(best);
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        found.into_iter().take(STARTS[0]).map(|f| f.1).collect()
    }

    /// Gauss-Newton steps in the first `n` parameters, each kept only if it helps.
    fn refined(&self, mut h: [f64; 8], n: usize) -> (f64, [f64; 8]) {
        let mut best = self.likeness(&h, 1);
        let mut damp = 1e-3;
        for _ in 0..30 {
            let Some(step) = self.step(&h, n, damp) else {
                break;
            };
            let mut tried = h;
            tried.iter_mut().zip(&step).for_each(|(t, s)| *t += s);
            let l = self.likeness(&tried, 1);
            if l > best {
                let gain = l - best;
                (best, h) = (l, tried);
                damp = (damp / 4.0f64).max(1e-6);
                if gain < 1e-5 {
                    break;
                }
            } else {
                damp *= 8.0;
                if damp > 10.0 {
                    break;
                }
            }
        }
        (best, h)
    }

    fn step(&self, h: &[f64; 8], n: usize, damp: f64) -> Option<[f64; 8]> {
        let mut m = [[0.0; 9]; 8];
        let half = self.frame.half;
        let (across, down) = (half * self.b.by.0, half * self.b.by.1);
        for (x, y, v) in self.places(1) {
            let (bx, by, w) = self.to(h, x, y);
            let (Some(o), Some(l), Some(r), Some(t), Some(d)) = (
                self.b.at(bx, by),
                self.b.at(bx - 1.0, by),
                self.b.at(bx + 1.0, by),
                self.b.at(bx, by - 1.0),
                self.b.at(bx, by + 1.0),
            ) else {
                continue;
            };
            let (gx, gy) = ((r - l) / 2.0 * across / w, (d - t) / 2.0 * down / w);
            let u = bx / across - self.frame.other.0 / half;
            let k = by / down - self.frame.other.1 / half;
            let far = -(gx * u + gy * k);
            let j = [gx * x, gx * y, gx, gy * x, gy * y, gy, far * x, far * y];
            let e = v - o;
            // What only one of them shows, glare above all, must not pull.
            let weight = 1.0 / (1.0 + e * e);
            for (row, a) in m.iter_mut().zip(&j).take(n) {
                row.iter_mut()
                    .zip(&j)
                    .take(n)
                    .for_each(|(cell, b)| *cell += weight * a * b);
                row[8] += weight * a * e;
            }
        }
        for (i, row) in m.iter_mut().enumerate() {
            if i < n {
                row[i] = row[i] * (1.0 + damp) + 1e-9;
            } else {
                row[i] = 1.0;
            }
        }
        solve(m)
    }
}

/// Mean over a square of `2 radius + 1` px, cut off at the rim.
pub(super) fn box_mean(v: &[f32], w: usize, h: usize, radius: usize) -> Vec<f32> {
    let mut sums = vec![0.0f64; (w + 1) * (h + 1)];
    for y in 0..h {
        let mut row = 0.0;
        for x in 0..w {
            row += f64::from(v[y * w + x]);
            sums[(y + 1) * (w + 1) + x + 1] = sums[y * (w + 1) + x + 1] + row;
        }
    }
    let mut out = Vec::with_capacity(w * h);
    for y in 0..h {
        let (t, b) = (y.saturating_sub(radius), (y + radius + 1).min(h));
        for x in 0..w {
            let (l, r) = (x.saturating_sub(radius), (x + radius + 1).min(w));
            let s = sums[b * (w + 1) + r] + sums[t * (w + 1) + l]
                - sums[t * (w + 1) + r]
                - sums[b * (w + 1) + l];
            out.push((s / ((b - t) * (r - l)) as f64) as f32);
        }
    }
    out
}
