//! Thresholds: one for the whole picture (Otsu) or one for each pixel (Niblack, Sauvola, Wolf).
//!
//! All take dark lettering on light ground and give a mask, 255 = ink.

use super::windows;
use crate::{Error, Kind, Result};
use image::GrayImage;
use rayon::prelude::*;

/// Otsu's threshold t of a picture: greys ≤ t are ink. 0 for an empty or flat picture.
///
/// Makes w0 · w1 · (m0 − m1)² greatest, w and m being share and mean of the two classes; the
/// least such t. Cost: one pass.
///
/// ```
/// use image::{GrayImage, Luma};
/// // Four pixels of grey 2, six of grey 8: 0.4 x 0.6 x 36 = 8.64, greatest from t = 2 on.
/// let picture = GrayImage::from_fn(10, 1, |x, _| Luma([if x < 4 { 2 } else { 8 }]));
/// assert_eq!(dorso_seeing::enhance::threshold::otsu(&picture), 2);
/// ```
///
/// Source: N. Otsu 1979, IEEE Trans. SMC 9(1), 62-66, doi:10.1109/TSMC.1979.4310076.
pub fn otsu(grey: &GrayImage) -> u8 {
    otsu_of(&counts(grey))
}

/// Least px that are worth a thread of their own.
const PORTION: usize = 1 << 18;

/// How many px there are of each grey.
fn counts(grey: &GrayImage) -> [u32; 256] {
    let portion = |px: &[u8]| {
        // Four tables, so that a run of one grey doesn't wait for itself
        let mut tables = [[0u32; 256]; 4];
        let (fours, rest) = px.as_chunks::<4>();
        for four in fours {
            for (table, &v) in tables.iter_mut().zip(four) {
                table[usize::from(v)] += 1;
            }
        }
        for &v in rest {
            tables[0][usize::from(v)] += 1;
        }
        std::array::from_fn(|v| tables.iter().map(|t| t[v]).sum())
    };
    let sum = |a: [u32; 256], b: [u32; 256]| std::array::from_fn(|v| a[v] + b[v]);
    let portions = grey.as_raw().par_chunks(PORTION).map(portion);
    portions.reduce(|| [0; 256], sum)
}

/// Otsu's threshold of a histogram.
pub(super) fn otsu_of(counts: &[u32; 256]) -> u8 {
    let total: f64 = counts.iter().map(|&n| f64::from(n)).sum();
    let whole: f64 = counts
        .iter()
        .enumerate()
        .map(|(v, &n)| v as f64 * f64::from(n))
        .sum();
    let (mut n0, mut s0) = (0.0, 0.0);
    let (mut best, mut at) = (0.0, 0);
    for (v, &n) in counts.iter().enumerate().take(255) {
        n0 += f64::from(n);
        s0 += v as f64 * f64::from(n);
        let n1 = total - n0;
        if n0 == 0.0 || n1 == 0.0 {
            continue;
        }
        let apart = s0 / n0 - (whole - s0) / n1;
        let between = n0 * n1 * apart * apart;
        if between > best {
            best = between;
            at = v;
        }
    }
    at as u8
}

/// The mask of greys ≤ `level`.
pub fn at_level(grey: &GrayImage, level: u8) -> GrayImage {
    let mut mask = GrayImage::new(grey.width(), grey.height());
    let portions = grey.as_raw().par_chunks(PORTION);
    mask.par_chunks_mut(PORTION)
        .zip(portions)
        .for_each(|(to, from)| {
            for (m, &v) in to.iter_mut().zip(from) {
                *m = if v <= level { 255 } else { 0 };
            }
        });
    mask
}

/// Local threshold for ink on unevenly lit paper: T = m · (1 + k · (s / R − 1)).
///
/// m and s are mean and standard deviation of the grey values in a square window around the
/// pixel; R = 128, half the 8-bit range. Darker than T is ink.
///
/// * `grey`: 0 black to 255 white, any size, 0×0 included.
/// * `window`: side in px, odd, 3 to 4095. Two line heights suit lettering.
/// * `k`: 0 to 1; 0.2 to 0.34 usual. Higher keeps less faint ink.
///
/// Returns a mask of the same size, 255 = ink. Past the edge the picture is mirrored. Cost
/// doesn't grow with `window`. White chalk on dark board comes out hollow or not at all: invert
/// first.
///
/// # Example (a flat picture has no ink)
/// ```
/// use image::{GrayImage, Luma};
/// let flat = GrayImage::from_pixel(9, 9, Luma([120]));
/// let mask = dorso_seeing::enhance::threshold::sauvola(&flat, 3, 0.2)?;
/// assert!(mask.pixels().all(|p| p.0[0] == 0));
/// # Ok::<(), dorso_seeing::Error>(())
/// ```
/// # Errors
/// `Kind::Usage` if `window` is even or out of range, or `k` is outside 0..=1.
///
/// # Source
/// Sauvola and Pietikäinen 2000, Pattern Recognition 33(2), 225-236,
/// doi:10.1016/S0031-3203(99)00055-2.
pub fn sauvola(grey: &GrayImage, window: u32, k: f64) -> Result<GrayImage> {
    windows::check(window)?;
    check_k(k, 0.0, 1.0)?;
    let k = k as f32;
    Ok(mask(grey, window, move |m, s| {
        m * (1.0 + k * (s / 128.0 - 1.0))
    }))
}

/// Local threshold T = m + k · s: keeps faint ink, and clutter where there is none.
///
/// m and s are mean and standard deviation in a square window. Darker than T is ink.
///
/// * `grey`, `window`: as for [`sauvola`], same border and cost.
/// * `k`: -2 to 2; negative for dark lettering, -0.2 in the book.
///
/// ```
/// use image::{GrayImage, Luma};
/// // 90 and 150 in equal parts: m = 120, s = 30, T = 120 - 0.2 x 30 = 114.
/// let stripes = GrayImage::from_fn(64, 64, |x, _| Luma([if x % 2 == 0 { 90 } else { 150 }]));
/// let mask = dorso_seeing::enhance::threshold::niblack(&stripes, 33, -0.2)?;
/// assert!(mask.get_pixel(20, 20).0[0] == 255 && mask.get_pixel(21, 20).0[0] == 0);
/// # Ok::<(), dorso_seeing::Error>(())
/// ```
/// # Errors
/// `Kind::Usage` if `window` is even or out of range, or `k` is outside -2..=2.
///
/// # Source
/// W. Niblack 1986, *An Introduction to Digital Image Processing*, 115-116.
pub fn niblack(grey: &GrayImage, window: u32, k: f64) -> Result<GrayImage> {
    windows::check(window)?;
    check_k(k, -2.0, 2.0)?;
    let k = k as f32;
    Ok(mask(grey, window, move |m, s| m + k * s))
}

/// Local threshold that takes the picture's own contrast as the measure:
/// T = (1 − k) · m + k · M + k · (s / R) · (m − M).
///
/// m and s as for [`sauvola`]; M the least grey of the picture, R the greatest s of any window.
/// Darker than T is ink. Suits faint lettering without strong contrast anywhere.
///
/// * `grey`, `window`: as for [`sauvola`], same border; twice its cost.
/// * `k`: 0 to 1; 0.5 in the paper.
///
/// ```
/// // m 120, s 30, M 20, R 60, k 0.5: 60 + 10 + 0.5 x 0.5 x 100 = 95.
/// assert_eq!(dorso_seeing::enhance::threshold::wolf_at(120.0, 30.0, 20.0, 60.0, 0.5), 95.0);
/// ```
/// # Errors
/// `Kind::Usage` if `window` is even or out of range, or `k` is outside 0..=1.
///
/// # Source
/// C. Wolf, J.-M. Jolion and F. Chassaing 2002, ICPR, vol. 2, 1037-1040,
/// doi:10.1109/ICPR.2002.1048482.
pub fn wolf(grey: &GrayImage, window: u32, k: f64) -> Result<GrayImage> {
    windows::check(window)?;
    check_k(k, 0.0, 1.0)?;
    let k = k as f32;
    let least = f32::from(grey.as_raw().iter().copied().min().unwrap_or(0));
    let widest = windows::map(grey, window, |_, s, _| s)
        .into_iter()
        .fold(0.0f32, f32::max)
        .max(f32::MIN_POSITIVE);
    Ok(mask(grey, window, move |m, s| {
        wolf_at(m, s, least, widest, k)
    }))
}

/// Wolf's threshold at one pixel; see [`wolf`] for the letters.
pub fn wolf_at(m: f32, s: f32, least: f32, widest: f32, k: f32) -> f32 {
    (1.0 - k) * m + k * least + k * (s / widest) * (m - least)
}

fn mask(grey: &GrayImage, window: u32, t: impl Fn(f32, f32) -> f32 + Sync) -> GrayImage {
    let (w, h) = grey.dimensions();
    let ink = windows::map(
        grey,
        window,
        |m, s, v| {
            if f32::from(v) < t(m, s) { 255u8 } else { 0 }
        },
    );
    GrayImage::from_raw(w, h, ink).unwrap_or_else(|| GrayImage::new(w, h))
}

fn check_k(k: f64, low: f64, high: f64) -> Result<()> {
    if (low..=high).contains(&k) {
        return Ok(());
    }
    Err(Error::new(
        Kind::Usage,
        "k",
        format!("{k} is outside {low} to {high}"),
        "give a number between them",
    ))
}
