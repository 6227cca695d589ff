//! Noise: how much there is, and smoothing that keeps hairlines.

use super::windows::mirrored;
use crate::{Error, Kind, Result};
use image::GrayImage;
use rayon::prelude::*;

/// Standard deviation of the noise, greys, from what is left of the picture by
/// N = [1 −2 1; −2 4 −2; 1 −2 1]: σ = √(π/2) / 6 · mean |I ∗ N|, inner pixels only.
///
/// Fine texture and dense lettering count as noise, so it is rather too high than too low. 0 for
/// a picture without inner pixels. Cost: one pass.
///
/// ```
/// use image::{GrayImage, Luma};
/// let slope = GrayImage::from_fn(20, 20, |x, y| Luma([(x * 5 + y * 3) as u8]));
/// assert_eq!(dorso_seeing::enhance::denoise::noise(&slope), 0.0);
/// ```
///
/// Source: J. Immerkær 1996, Computer Vision and Image Understanding 64(2), 300-302,
/// doi:10.1006/cviu.1996.0060.
pub fn noise(grey: &GrayImage) -> f64 {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    if w < 3 || h < 3 {
        return 0.0;
    }
    let raw = grey.as_raw();
    let sum: u64 = (1..h - 1)
        .into_par_iter()
        .map(|y| {
            let rows = [
                &raw[(y - 1) * w..][..w],
                &raw[y * w..][..w],
                &raw[(y + 1) * w..][..w],
            ];
            (1..w - 1)
                .map(|x| {
                    let v = |r: usize, x: usize| i32::from(rows[r][x]);
                    let row = |r: usize| v(r, x - 1) - 2 * v(r, x) + v(r, x + 1);
                    u64::from((row(0) - 2 * row(1) + row(2)).unsigned_abs())
                })
                .sum::<u64>()
        })
        .sum();
    let mean = sum as f64 / ((w - 2) * (h - 2)) as f64;
    (std::f64::consts::PI / 2.0).sqrt() / 6.0 * mean
}

/// Bilateral smoothing: each pixel becomes the mean of its neighbours, weighted by nearness in
/// place and in grey: exp(−d²/2p²) · exp(−(v − v₀)²/2g²).
///
/// * `grey`: any size.
/// * `reach`: px to each side, 1 to 10; the window is a square.
/// * `place`: p, px, above 0; `greys`: g, above 0. Two to three times the [`noise`] smooths
///   paper; a hairline that differs from it by more than 3 g stays.
///
/// Past the edge the picture is mirrored. Cost: (2 · reach + 1)² a pixel.
///
/// ```
/// use image::{GrayImage, Luma};
/// // A hairline one pixel wide, 100 greys darker than paper: still 100 darker.
/// let line = GrayImage::from_fn(21, 21, |x, _| Luma([if x == 10 { 100 } else { 200 }]));
/// let smooth = dorso_seeing::enhance::denoise::bilateral(&line, 2, 1.5, 12.0)?;
/// assert_eq!(smooth, line);
/// # Ok::<(), dorso_seeing::Error>(())
/// ```
/// # Errors
/// `Kind::Usage` if a parameter is out of range.
///
/// # Source
/// C. Tomasi and R. Manduchi 1998, ICCV, 839-846, doi:10.1109/ICCV.1998.710815.
pub fn bilateral(grey: &GrayImage, reach: u32, place: f64, greys: f64) -> Result<GrayImage> {
    if !(1..=FARTHEST).contains(&reach) {
        return Err(wrong("reach", reach, "1 to 10 px"));
    }
    for (what, value) in [("place", place), ("greys", greys)] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(wrong(what, value, "what is above 0"));
        }
    }
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    if w == 0 || h == 0 {
        return Ok(grey.clone());
    }
    let window = Window::new(reach, place, greys);
    let mut out = vec![0u8; w * h];
    out.par_chunks_mut(w * BAND)
        .enumerate()
        .for_each(|(band, target)| {
            for strip in (0..w).step_by(STRIP) {
                smooth(&window, grey, (strip, band * BAND), target);
            }
        });
    Ok(GrayImage::from_raw(grey.width(), grey.height(), out).unwrap_or_default())
}

/// Most that a window may reach to each side, px.
const FARTHEST: u32 = 10;

/// Rows that are smoothed one after the other.
const BAND: usize = 128;

/// Columns that are smoothed together: what they need stays in the nearest cache.
const STRIP: usize = 512;

/// A bilateral window. Two px weigh each other alike, so each pair is weighed once: of the window only
/// what lies below, or to the right in the same row, is kept as `pairs`.
struct Window {
    reach: usize,
    /// Steps to the right and down, with the weight at that distance of each difference in grey.
    pairs: Vec<(i64, usize, [f32; 256])>,
}

/// A row of the picture, mirrored past its ends, with the weights of its pairs, pair by pair.
struct Weighed {
    greys: Vec<u8>,
    values: Vec<f32>,
    weights: Vec<f32>,
}

impl Window {
    fn new(reach: u32, place: f64, greys: f64) -> Window {
        let r = i64::from(reach);
        let below = (0..=r).flat_map(|dy| (-r..=r).map(move |dx| (dx, dy)));
        let pairs = below.filter(|&(dx, dy)| dy > 0 || dx > 0).map(|(dx, dy)| {
            let near = (-((dx * dx + dy * dy) as f64) / (2.0 * place * place)).exp() as f32;
            let like = |d: usize| (-((d * d) as f64) / (2.0 * greys * greys)).exp() as f32;
            (dx, dy as usize, std::array::from_fn(|d| near * like(d)))
        });
        Window {
            reach: reach as usize,
            pairs: pairs.collect(),
        }
    }

    /// Weighs the pairs of row `i` with the rows below it.
    // Within `smooth`, so that it is built as that is
    #[inline(always)]
    fn weigh(&self, rows: &mut [Weighed], i: usize) {
        let ring = rows.len();
        let mut weights = std::mem::take(&mut rows[i % ring].weights);
        let own = &rows[i % ring].greys;
        let mut apart = [0u8; STRIP + 2 * FARTHEST as usize];
        for ((dx, dy, table), out) in self.pairs.iter().zip(weights.chunks_exact_mut(own.len())) {
            let (from, to) = ((-dx).max(0) as usize, (*dx).max(0) as usize);
            let pairs = own[from..].iter().zip(&rows[(i + dy) % ring].greys[to..]);
            // Sixteen differences at once, then one weight after the other
            for (d, (a, b)) in apart.iter_mut().zip(pairs) {
                *d = a.abs_diff(*b);
            }
            for (o, d) in out[from..].iter_mut().zip(&apart) {
                *o = table[usize::from(*d)];
            }
        }
        rows[i % ring].weights = weights;
    }
}

/// Smooths a strip of the rows `target`: `STRIP` columns or what is left of them; `left` and `top`: where
/// it begins in the picture.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn smooth(window: &Window, grey: &GrayImage, (left, top): (usize, usize), target: &mut [u8]) {
    let (w, r) = (grey.width() as usize, window.reach);
    let wide = STRIP.min(w - left);
    // Row i of a ring of these is row top + i - r of the picture
    let ring = 2 * r + 1;
    let mut rows: Vec<Weighed> = (0..ring)
        .map(|_| Weighed::new(wide + 2 * r, window.pairs.len()))
        .collect();
    let (mut sums, mut totals) = ([0.0f32; STRIP], [0.0f32; STRIP]);
    let (sums, totals) = (&mut sums[..wide], &mut totals[..wide]);
    for i in 0..target.len() / w + 2 * r {
        let place = |v: usize| v as i64 - r as i64;
        rows[i % ring].fill(grey, (place(left), place(top + i)), r);
        let Some(i) = i.checked_sub(r) else { continue };
        window.weigh(&mut rows, i);
        let Some(y) = i.checked_sub(r) else { continue };
        let own = &rows[i % ring];
        sums.copy_from_slice(&own.values[r..r + wide]);
        totals.fill(1.0);
        let beside = |k: usize| {
            let (dx, dy, _) = window.pairs[k];
            let (on, back) = ((r as i64 + dx) as usize, (r as i64 - dx) as usize);
            let (below, above) = (&rows[(i + dy) % ring], &rows[(i - dy) % ring]);
            let forth = (&own.pair(k)[r..], &below.values[on..]);
            [forth, (&above.pair(k)[back..], &above.values[back..])]
        };
        // A window of any reach has an even number of pairs
        for k in (0..window.pairs.len()).step_by(2) {
            add(sums, totals, beside(k), beside(k + 1));
        }
        let row = &mut target[y * w + left..][..wide];
        for ((o, s), t) in row.iter_mut().zip(&*sums).zip(&*totals) {
            // 2^23 leaves the nearest whole number in the lower bits
            *o = (*s / *t + 8_388_608.0).to_bits() as u8;
        }
    }
}

impl Weighed {
    fn new(wide: usize, pairs: usize) -> Weighed {
        Weighed {
            greys: vec![0; wide],
            values: vec![0.0; wide],
            weights: vec![0.0; wide * pairs],
        }
    }

    /// Takes up a piece of row `y` of the picture from column `x` on, either of which may lie past its edge.
    #[inline(always)]
    fn fill(&mut self, grey: &GrayImage, (x, y): (i64, i64), reach: usize) {
        let (w, h) = (grey.width() as usize, grey.height() as usize);
        let row = &grey.as_raw()[mirrored(y, h) * w..][..w];
        let wide = self.greys.len();
        let inner = (x + reach as i64) as usize;
        self.greys[reach..wide - reach].copy_from_slice(&row[inner..][..wide - 2 * reach]);
        for i in (0..reach).chain(wide - reach..wide) {
            self.greys[i] = row[mirrored(x + i as i64, w)];
        }
        for (to, &v) in self.values.iter_mut().zip(&self.greys) {
            *to = f32::from(v);
        }
    }

    fn pair(&self, k: usize) -> &[f32] {
        &self.weights[k * self.greys.len()..][..self.greys.len()]
    }
}

/// Weights of px and their values.
type Px<'a> = (&'a [f32], &'a [f32]);

/// Adds to a row the px of four others, each with its weight. A function of its own, since only the
/// arguments of a function are known not to overlap, so that four px are added at once.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn add(sums: &mut [f32], totals: &mut [f32], ab: [Px<'_>; 2], cd: [Px<'_>; 2]) {
    let ([a, b], [c, d]) = (ab, cd);
    let n = sums.len();
    fn cut(px: Px<'_>, n: usize) -> Px<'_> {
        (&px.0[..n], &px.1[..n])
    }
    let (a, b, c, d) = (cut(a, n), cut(b, n), cut(c, n), cut(d, n));
    let totals = &mut totals[..n];
    for i in 0..n {
        sums[i] += (a.0[i] * a.1[i] + b.0[i] * b.1[i]) + (c.0[i] * c.1[i] + d.0[i] * d.1[i]);
        totals[i] += (a.0[i] + b.0[i]) + (c.0[i] + d.0[i]);
    }
}

fn wrong(what: &str, value: impl std::fmt::Display, range: &str) -> Error {
    Error::new(
        Kind::Usage,
        what,
        format!("{value} is outside {range}"),
        "give a number within it",
    )
}
