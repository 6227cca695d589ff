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
/// assert_eq!(dorso::enhance::denoise::noise(&slope), 0.0);
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
/// let smooth = dorso::enhance::denoise::bilateral(&line, 2, 1.5, 12.0)?;
/// assert_eq!(smooth, line);
/// # Ok::<(), dorso::Error>(())
/// ```
/// # Errors
/// `Kind::Usage` if a parameter is out of range.
///
/// # Source
/// C. Tomasi and R. Manduchi 1998, ICCV, 839-846, doi:10.1109/ICCV.1998.710815.
pub fn bilateral(grey: &GrayImage, reach: u32, place: f64, greys: f64) -> Result<GrayImage> {
    if !(1..=10).contains(&reach) {
        return Err(wrong("reach", reach, "1 to 10 px"));
    }
    for (what, value) in [("place", place), ("greys", greys)] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(wrong(what, value, "what is above 0"));
        }
    }
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let raw = grey.as_raw();
    let r = reach as i64;
    let likeness: Vec<f32> = (0..256)
        .map(|d| (-f64::from(d * d) / (2.0 * greys * greys)).exp() as f32)
        .collect();
    let mut out = vec![0u8; w * h];
    if out.is_empty() {
        return Ok(grey.clone());
    }
    out.par_chunks_exact_mut(w)
        .enumerate()
        .for_each(|(y, target)| {
            let mut sums = vec![0.0f32; w];
            let mut weights = vec![0.0f32; w];
            let own = &raw[y * w..][..w];
            let mut padded = vec![0u8; w + 2 * reach as usize];
            for dy in -r..=r {
                let row = &raw[mirrored(y as i64 + dy, h) * w..][..w];
                for (i, p) in padded.iter_mut().enumerate() {
                    *p = row[mirrored(i as i64 - r, w)];
                }
                for dx in -r..=r {
                    let near = (-((dx * dx + dy * dy) as f64) / (2.0 * place * place)).exp() as f32;
                    let shifted = &padded[(dx + r) as usize..][..w];
                    for (((s, k), &v), &o) in
                        sums.iter_mut().zip(&mut weights).zip(shifted).zip(own)
                    {
                        let weight = near * likeness[usize::from(v.abs_diff(o))];
                        *s += weight * f32::from(v);
                        *k += weight;
                    }
                }
            }
            for ((o, s), k) in target.iter_mut().zip(&sums).zip(&weights) {
                *o = (s / k + 0.5) as u8;
            }
        });
    Ok(GrayImage::from_raw(grey.width(), grey.height(), out).unwrap_or_default())
}

fn wrong(what: &str, value: impl std::fmt::Display, range: &str) -> Error {
    Error::new(
        Kind::Usage,
        what,
        format!("{value} is outside {range}"),
        "give a number within it",
    )
}
