//! How far lines of text lean, from the sharpness of projections.

use super::resample;
use image::GrayImage;
use rayon::prelude::*;

/// How far the text leans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skew {
    /// Degrees, positive where the text runs down to the right; within `MOST` either way.
    pub degrees: f64,
    /// How clearly one direction stands out, 0 (not at all, or nothing there) to 1. Not a chance.
    pub sure: f64,
}

/// Largest lean that is looked for, degrees.
pub const MOST: f64 = 45.0;

/// Longest side that the search works on, px: coarse, then fine.
const COARSE_SIDE: u32 = 640;
const FINE_SIDE: u32 = 1600;

/// Most edge points used, the strongest first.
const COARSE_POINTS: usize = 30_000;
const FINE_POINTS: usize = 120_000;

/// A pixel with its gradient.
#[derive(Clone, Copy)]
struct Edge {
    x: f32,
    y: f32,
    gx: f32,
    gy: f32,
}

/// The lean of the text in a picture, either polarity.
///
/// * `grey`: any size; best a crop of lettering, a page, or a label with its border.
///
/// Along the direction θ of the lines, the projection of the picture on the normal changes most
/// sharply: the sum over r of (dP/dr)² is greatest, P being the projection (Postl 1986, *ICPR*,
/// 687-689, for scan lines; here on grey gradients, so that no threshold is needed and slow
/// changes of light don't count). Every half degree over ±45° on a reduced picture, then finer
/// steps around the greatest on a larger one, a parabola through the last three.
///
/// Cost: bounded by the reduced sizes, about 60 ms on one core whatever the size. A picture
/// without edges gives 0 degrees, `sure` 0.
///
/// ```
/// use image::{GrayImage, Luma};
/// // Bars that fall 1 px in 20 to the right: atan(1/20) = 2.862°.
/// let bars = GrayImage::from_fn(400, 300, |x, y| {
///     Luma([if (y as f32 - x as f32 / 20.0).rem_euclid(30.0) < 10.0 { 0 } else { 255 }])
/// });
/// let lean = dorso_seeing::enhance::skew(&bars);
/// assert!((lean.degrees - 2.862).abs() < 0.05 && lean.sure > 0.5, "{lean:?}");
/// ```
pub fn skew(grey: &GrayImage) -> Skew {
    let none = Skew {
        degrees: 0.0,
        sure: 0.0,
    };
    let small = resample::reduced(grey, COARSE_SIDE);
    let points = edges(&small, COARSE_POINTS);
    if points.len() < 16 {
        return none;
    }
    let angles: Vec<f64> = (0..=180).map(|i| f64::from(i) * 0.5 - MOST).collect();
    let coarse: Vec<f64> = angles
        .par_iter()
        .map(|&a| sharpness(&points, a, 1.0))
        .collect();
    let Some(top) = (0..coarse.len()).max_by(|&a, &b| coarse[a].total_cmp(&coarse[b])) else {
        return none;
    };
    let mut sorted = coarse.clone();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted[sorted.len() / 2];
    if coarse[top] <= 0.0 {
        return none;
    }
    let stands_out = coarse[top] / middle.max(1e-9);

    let large = resample::reduced(grey, FINE_SIDE);
    let points = edges(&large, FINE_POINTS);
    let mut at = angles[top];
    for (step, bin) in [(0.1, 1.0), (0.02, 0.5)] {
        at = around(&points, at, step, bin);
    }
    Skew {
        degrees: at.clamp(-MOST, MOST),
        sure: ((stands_out - 1.5) / (stands_out + 2.0)).clamp(0.0, 1.0),
    }
}

/// The angle within ±6 steps of `at` where the projection is sharpest, by a parabola through the
/// greatest and its neighbours.
fn around(points: &[Edge], at: f64, step: f64, bin: f32) -> f64 {
    let scores: Vec<f64> = (-6i32..=6)
        .into_par_iter()
        .map(|i| sharpness(points, at + f64::from(i) * step, bin))
        .collect();
    let Some(top) = (0..scores.len()).max_by(|&a, &b| scores[a].total_cmp(&scores[b])) else {
        return at;
    };
    let mut shift = top as f64 - 6.0;
    if top > 0 && top + 1 < scores.len() {
        let (l, m, r) = (scores[top - 1], scores[top], scores[top + 1]);
        let bend = l - 2.0 * m + r;
        if bend < 0.0 {
            shift += 0.5 * (l - r) / bend;
        }
    }
    at + shift * step
}

/// Σ over r of (Σ of the gradient across the lines)², lines leaning by `degrees`, r in bins of
/// `bin` px, each point shared between the two nearest.
fn sharpness(points: &[Edge], degrees: f64, bin: f32) -> f64 {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (sin, cos) = (sin as f32 / bin, cos as f32 / bin);
    let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
    for p in points {
        let r = p.y * cos - p.x * sin;
        low = low.min(r);
        high = high.max(r);
    }
    let mut sums = vec![0.0f32; (high - low) as usize + 7];
    for p in points {
        let r = p.y * cos - p.x * sin - low + 2.0;
        let g = p.gy * cos - p.gx * sin;
        let i = r as usize;
        let part = r - i as f32;
        sums[i] += g * (1.0 - part);
        sums[i + 1] += g * part;
    }
    // Smoothed, so that how points fall between bins doesn't matter: else rows of pixels at 0°,
    // each within one bin, would win over any small lean.
    sums.windows(5)
        .map(|s| {
            let smooth = (s[0] + s[4] + 4.0 * (s[1] + s[3]) + 6.0 * s[2]) / 16.0;
            f64::from(smooth) * f64::from(smooth)
        })
        .sum()
}

/// Pixels with a gradient well above the picture's noise, at most `most`, the strongest; Sobel's
/// gradient, the outermost pixels left out. Strengths are capped at the strongest twentieth,
/// so that one hard edge doesn't outweigh faint lettering.
fn edges(grey: &GrayImage, most: usize) -> Vec<Edge> {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    if w < 3 || h < 3 {
        return Vec::new();
    }
    let raw = grey.as_raw();
    // Sobel's: differences smoothed across, divided by 2 to stay within small numbers.
    let gradient = |x: usize, y: usize| {
        let at = y * w + x;
        let v = |i: usize| i32::from(raw[i]);
        let (nw, n, ne) = (v(at - w - 1), v(at - w), v(at - w + 1));
        let (sw, s, se) = (v(at + w - 1), v(at + w), v(at + w + 1));
        (
            (ne + 2 * v(at + 1) + se - nw - 2 * v(at - 1) - sw) / 2,
            (sw + 2 * s + se - nw - 2 * n - ne) / 2,
        )
    };
    let mut counts = [0usize; 724];
    for y in 1..h - 1 {
        for x in 1..w - 1 {
            let (gx, gy) = gradient(x, y);
            counts[((gx * gx + gy * gy) as f32).sqrt() as usize] += 1;
        }
    }
    let total: usize = counts.iter().sum();
    let reach = |wanted: usize| {
        let mut seen = 0;
        (0..counts.len())
            .find(|&i| {
                seen += counts[i];
                seen >= wanted
            })
            .unwrap_or(0)
    };
    let noise = reach(total / 2);
    let floor = reach(total.saturating_sub(most)).max(2 * noise).max(8) as f32;
    let cap = (reach(total - total / 20) as f32).max(floor);
    let mut out = Vec::new();
    for y in 1..h - 1 {
        for x in 1..w - 1 {
            let (gx, gy) = gradient(x, y);
            let size = ((gx * gx + gy * gy) as f32).sqrt();
            if size > floor {
                let share = cap.min(size) / size;
                out.push(Edge {
                    x: x as f32,
                    y: y as f32,
                    gx: gx as f32 * share,
                    gy: gy as f32 * share,
                });
            }
        }
    }
    out
}
