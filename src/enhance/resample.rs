//! Larger and smaller: Lanczos for lettering, area means for measuring.

use crate::{Error, Kind, Result};
use image::GrayImage;
use rayon::prelude::*;

/// Smallest and largest factor.
pub const FACTORS: std::ops::RangeInclusive<f64> = 0.02..=16.0;

/// Resamples by `factor` with the Lanczos kernel sinc(x) · sinc(x/3), |x| < 3, stretched when
/// the picture is made smaller so that nothing aliases.
///
/// * `factor`: 0.02 to 16. Sides are rounded, at least 1 px (0 stays 0).
///
/// The kernel's weights are scaled to sum 1 at each place; past the edge they are left out.
/// Values are clipped to 0..=255. A factor of 1 gives the same picture. Cost: 6 · max(1, 1/factor)
/// multiplications a pixel and direction.
///
/// Source: C. Lanczos 1956, *Applied Analysis*; for pictures K. Turkowski 1990, *Graphics Gems*,
/// 147-165.
///
/// ```
/// use image::{GrayImage, Luma};
/// let flat = GrayImage::from_pixel(5, 3, Luma([77]));
/// let large = dorso_seeing::enhance::resample::lanczos(&flat, 2.0)?;
/// assert_eq!(large, GrayImage::from_pixel(10, 6, Luma([77])));
/// # Ok::<(), dorso_seeing::Error>(())
/// ```
/// # Errors
/// `Kind::Usage` if `factor` is out of range.
pub fn lanczos(grey: &GrayImage, factor: f64) -> Result<GrayImage> {
    if !FACTORS.contains(&factor) {
        return Err(Error::new(
            Kind::Usage,
            "factor",
            format!(
                "{factor} is outside {} to {}",
                FACTORS.start(),
                FACTORS.end()
            ),
            "give a factor between them, such as 2",
        ));
    }
    let (w, h) = grey.dimensions();
    let side = |n: u32| {
        if n == 0 {
            0
        } else {
            ((f64::from(n) * factor).round() as u32).max(1)
        }
    };
    let (wide, high) = (side(w), side(h));
    if (wide, high) == (w, h) || wide == 0 || high == 0 {
        return Ok(if (wide, high) == (w, h) {
            grey.clone()
        } else {
            GrayImage::new(wide, high)
        });
    }
    let (w, h, wide, high) = (w as usize, h as usize, wide as usize, high as usize);
    let across = taps(w, wide);
    let down = taps(h, high);
    let raw = grey.as_raw();
    // Rows first: `lines` is h × wide.
    let mut lines = vec![0.0f32; h * wide];
    lines
        .par_chunks_exact_mut(wide)
        .zip(raw.par_chunks_exact(w))
        .for_each(|(line, row)| {
            let row: Vec<f32> = row.iter().map(|&v| f32::from(v)).collect();
            let kernels = across.weights.chunks_exact(across.each);
            for ((o, &first), weights) in line.iter_mut().zip(&across.first).zip(kernels) {
                let values = &row[first..first + across.each];
                *o = weights.iter().zip(values).map(|(k, v)| k * v).sum();
            }
        });
    let mut out = vec![0u8; high * wide];
    out.par_chunks_exact_mut(wide)
        .zip(&down.first)
        .zip(down.weights.par_chunks_exact(down.each))
        .for_each(|((row, &first), weights)| {
            let mut sum = vec![0.5f32; wide];
            for (i, &k) in weights.iter().enumerate() {
                let line = &lines[(first + i) * wide..][..wide];
                for (s, &v) in sum.iter_mut().zip(line) {
                    *s += k * v;
                }
            }
            for (o, s) in row.iter_mut().zip(&sum) {
                *o = s.clamp(0.0, 255.0) as u8;
            }
        });
    Ok(GrayImage::from_raw(wide as u32, high as u32, out).unwrap_or_default())
}

/// For each place of the result: the first sample it draws on, and the weights of `each` samples
/// from there.
struct Taps {
    each: usize,
    first: Vec<usize>,
    weights: Vec<f32>,
}

fn taps(from: usize, to: usize) -> Taps {
    let factor = to as f64 / from as f64;
    let stretch = (1.0 / factor).max(1.0);
    let kernel = |x: f64| {
        let x = x.abs();
        if x < 1e-9 {
            1.0
        } else if x < 3.0 {
            let p = std::f64::consts::PI * x;
            3.0 * p.sin() * (p / 3.0).sin() / (p * p)
        } else {
            0.0
        }
    };
    let each = ((6.0 * stretch).ceil() as usize + 1).min(from);
    let mut all = Taps {
        each,
        first: Vec::with_capacity(to),
        weights: Vec::with_capacity(to * each),
    };
    for i in 0..to {
        let middle = (i as f64 + 0.5) / factor - 0.5;
        let first = ((middle - 3.0 * stretch).ceil().max(0.0) as usize).min(from - each);
        let weights: Vec<f64> = (first..first + each)
            .map(|j| kernel((j as f64 - middle) / stretch))
            .collect();
        let sum: f64 = weights.iter().sum();
        all.first.push(first);
        all.weights.extend(weights.iter().map(|k| (k / sum) as f32));
    }
    all
}

/// Area means of blocks of n × n px, n the least for which no side is longer than `longest`. What
/// doesn't fill a block at the right and lower edge is left out.
pub(super) fn reduced(grey: &GrayImage, longest: u32) -> GrayImage {
    let (w, h) = grey.dimensions();
    let n = w.max(h).div_ceil(longest.max(1)).max(1);
    if n == 1 {
        return grey.clone();
    }
    let (wide, high) = ((w / n) as usize, (h / n) as usize);
    if wide == 0 || high == 0 {
        return GrayImage::new(wide as u32, high as u32);
    }
    let (w, n) = (w as usize, n as usize);
    let raw = grey.as_raw();
    let area = (n * n) as u32;
    let mut out = vec![0u8; wide * high];
    out.par_chunks_exact_mut(wide)
        .enumerate()
        .for_each(|(y, row)| {
            let mut sums = vec![0u32; wide];
            for line in raw[y * n * w..(y + 1) * n * w].chunks_exact(w) {
                for (s, block) in sums.iter_mut().zip(line.chunks_exact(n)) {
                    *s += block.iter().map(|&v| u32::from(v)).sum::<u32>();
                }
            }
            for (o, s) in row.iter_mut().zip(&sums) {
                *o = ((s + area / 2) / area) as u8;
            }
        });
    GrayImage::from_raw(wide as u32, high as u32, out).unwrap_or_default()
}

/// Turns by `degrees` clockwise about the middle, bilinearly; the result is as large as the
/// turned corners need.
///
/// * `degrees`: any; text that leans by [`super::Skew::degrees`] is level after turning by its
///   negative.
/// * `around`: the grey of what lies outside.
///
/// ```
/// use image::{GrayImage, Luma};
/// let row = GrayImage::from_fn(3, 1, |x, _| Luma([x as u8 * 100]));
/// // A quarter turn clockwise: left becomes top.
/// let column = dorso_seeing::enhance::resample::turned(&row, 90.0, 255);
/// assert_eq!(column.dimensions(), (1, 3));
/// assert_eq!(column.as_raw(), &vec![0, 100, 200]);
/// ```
pub fn turned(grey: &GrayImage, degrees: f64, around: u8) -> GrayImage {
    let (w, h) = (f64::from(grey.width()), f64::from(grey.height()));
    let (sin, cos) = degrees.to_radians().sin_cos();
    let need = |a: f64| (a - 1e-6).ceil().max(0.0) as u32;
    let wide = need(w * cos.abs() + h * sin.abs());
    let high = need(w * sin.abs() + h * cos.abs());
    let mut out = GrayImage::from_pixel(wide, high, image::Luma([around]));
    if wide == 0 || high == 0 {
        return out;
    }
    let (sw, sh) = (grey.width() as usize, grey.height() as usize);
    let raw = grey.as_raw();
    let at = |x: i64, y: i64| {
        if x < 0 || y < 0 || x >= sw as i64 || y >= sh as i64 {
            u16::from(around)
        } else {
            u16::from(raw[y as usize * sw + x as usize])
        }
    };
    // Places in 65,536ths of a px: whole numbers step along a row without rounding anew.
    let fixed = |v: f64| (v * 65_536.0).round() as i64;
    let (step_x, step_y) = (fixed(cos), fixed(-sin));
    let (last_x, last_y) = ((sw as u64).saturating_sub(1), (sh as u64).saturating_sub(1));
    out.par_chunks_exact_mut(wide as usize)
        .enumerate()
        .for_each(|(y, row)| {
            let dy = y as f64 + 0.5 - f64::from(high) / 2.0;
            let dx = 0.5 - f64::from(wide) / 2.0;
            // Back by the turn: clockwise on a picture whose y runs down.
            let from_x = fixed(cos * dx + sin * dy + w / 2.0 - 0.5);
            let from_y = fixed(-sin * dx + cos * dy + h / 2.0 - 0.5);
            for (row, run) in row.chunks_mut(RUN).zip(0i64..) {
                let k = run * RUN as i64;
                let (sx, sy) = (from_x + k * step_x, from_y + k * step_y);
                let end = row.len() as i64 - 1;
                let inside =
                    |x: i64, y: i64| ((x >> 16) as u64) < last_x && ((y >> 16) as u64) < last_y;
                // Places lie on a straight line: if its ends are inside, so is the rest
                if inside(sx, sy) && inside(sx + end * step_x, sy + end * step_y) {
                    let steps = (step_x as u64, step_y as u64);
                    within(raw, sw, (sx as u64, sy as u64), steps, row);
                    continue;
                }
                for (o, k) in row.iter_mut().zip(0..) {
                    let (sx, sy) = (sx + k * step_x, sy + k * step_y);
                    let (i, j) = (sx >> 16, sy >> 16);
                    if i < -1 || j < -1 || i > sw as i64 || j > sh as i64 {
                        continue;
                    }
                    let two = |j: i64| at(i, j) | (at(i + 1, j) << 8);
                    let part = |v: i64| v as u16 >> 8;
                    *o = mixed(two(j), two(j + 1), part(sx), part(sy));
                }
            }
        });
    out
}

/// px in a row whose places are looked at together.
const RUN: usize = 128;

/// px that are gathered before they are mixed: mixed at once they go in a few steps, but px that were put
/// down a moment ago can't be taken up many at once yet.
const AT_ONCE: usize = 64;

/// Samples of places that all lie within the picture, one `step` (65,536ths of a px) after the other.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn within(raw: &[u8], stride: usize, from: (u64, u64), step: (u64, u64), row: &mut [u8]) {
    let (mut x, mut y) = from;
    // Alike long, so that a place within one is within the other
    let rows = raw.len().saturating_sub(stride);
    let (above, below) = (&raw[..rows], &raw[raw.len() - rows..]);
    for row in row.chunks_mut(AT_ONCE) {
        let px = parts(x, step.0);
        let py = parts(y, step.1);
        // Two px beside each other in one word, and the two below them
        let (mut upper, mut lower) = ([0u16; AT_ONCE], [0u16; AT_ONCE]);
        for (u, l) in upper.iter_mut().zip(&mut lower) {
            let at = ((y >> 16) as usize)
                .wrapping_mul(stride)
                .wrapping_add((x >> 16) as usize);
            let two = |px: &[u8]| px.get(at..)?.first_chunk().copied();
            let (Some(two), Some(under)) = (two(above), two(below)) else {
                break;
            };
            (*u, *l) = (u16::from_le_bytes(two), u16::from_le_bytes(under));
            (x, y) = (x.wrapping_add(step.0), y.wrapping_add(step.1));
        }
        for (i, o) in row.iter_mut().enumerate() {
            *o = mixed(upper[i], lower[i], px[i], py[i]);
        }
    }
}

/// The parts of a px, 256ths, at which places stand that begin at `from` and go on by `step` (65,536ths).
fn parts(from: u64, step: u64) -> [u16; AT_ONCE] {
    std::array::from_fn(|k| (from as u16).wrapping_add((step as u16).wrapping_mul(k as u16)) >> 8)
}

/// Two px beside each other and the two below them, mixed.
///
/// * `upper`, `lower`: the left px in the lower half of the word, the right px in the upper half.
/// * `px`, `py`: how far right and down, 256ths of a px.
#[inline]
fn mixed(upper: u16, lower: u16, px: u16, py: u16) -> u8 {
    // Either comes to at most 65,280
    let beside = |two: u16| {
        let left = (two & 0xff).wrapping_mul(256u16.wrapping_sub(px));
        left.wrapping_add((two >> 8).wrapping_mul(px))
    };
    let top = u32::from(beside(upper)).wrapping_mul(u32::from(256u16.wrapping_sub(py)));
    let low = u32::from(beside(lower)).wrapping_mul(u32::from(py));
    (top.wrapping_add(low).wrapping_add(32_768) >> 16) as u8
}
