//! Mean and deviation in a square window around each pixel, at a cost that doesn't grow with it.

use crate::{Error, Kind, Result};
use image::GrayImage;
use rayon::prelude::*;

/// Widest window, px: keeps the sums within 32 bits.
pub const WIDEST: u32 = 4_095;

/// Refuses a window that is even, below 3 or above [`WIDEST`].
pub(super) fn check(window: u32) -> Result<()> {
    if window % 2 == 1 && (3..=WIDEST).contains(&window) {
        return Ok(());
    }
    Err(Error::new(
        Kind::Usage,
        "window",
        format!("{window} px is not an odd number from 3 to {WIDEST}"),
        "give one, such as 25",
    ))
}

/// Calls `each(mean, deviation, value)` for every pixel and gathers what it returns.
///
/// * `window`: side in px, already [`check`]ed.
///
/// Past the edge the picture is mirrored, the edge itself not doubled. Running sums along
/// columns, then rows: the same numbers as integral images (Crow 1984, *Computer Graphics* 18;
/// for document pictures Shafait, Keysers and Breuel 2008, doi:10.1117/12.767755) in less memory.
pub(super) fn map<T: Send + Copy + Default>(
    grey: &GrayImage,
    window: u32,
    each: impl Fn(f32, f32, u8) -> T + Sync,
) -> Vec<T> {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let mut out = vec![T::default(); w * h];
    if out.is_empty() {
        return out;
    }
    let reach = (window / 2) as i64;
    let raw = grey.as_raw();
    let row = |y: i64| &raw[mirrored(y, h) * w..][..w];
    // Enough rows a band that filling its first window is a small part of the work.
    let band = (window as usize * 2).max(64);
    let scale = 1.0 / (f64::from(window) * f64::from(window));
    out.par_chunks_mut(band * w)
        .enumerate()
        .for_each(|(b, target)| {
            let first = (b * band) as i64;
            let mut sums = vec![0u32; w];
            let mut squares = vec![0u64; w];
            for y in first - reach..=first + reach {
                add(&mut sums, &mut squares, row(y));
            }
            for (i, line) in target.chunks_exact_mut(w).enumerate() {
                let y = first + i as i64;
                if i > 0 {
                    add(&mut sums, &mut squares, row(y + reach));
                    subtract(&mut sums, &mut squares, row(y - reach - 1));
                }
                let (mut sum, mut square) = (0u64, 0u64);
                for x in -reach..=reach {
                    sum += u64::from(sums[mirrored(x, w)]);
                    square += squares[mirrored(x, w)];
                }
                let values = row(y);
                for (x, o) in line.iter_mut().enumerate() {
                    if x > 0 {
                        let (enter, leave) = (
                            mirrored(x as i64 + reach, w),
                            mirrored(x as i64 - reach - 1, w),
                        );
                        sum = sum + u64::from(sums[enter]) - u64::from(sums[leave]);
                        square = square + squares[enter] - squares[leave];
                    }
                    let mean = sum as f64 * scale;
                    let variance = (square as f64 * scale - mean * mean).max(0.0);
                    *o = each(mean as f32, variance.sqrt() as f32, values[x]);
                }
            }
        });
    out
}

fn add(sums: &mut [u32], squares: &mut [u64], row: &[u8]) {
    for ((s, q), &v) in sums.iter_mut().zip(squares).zip(row) {
        *s += u32::from(v);
        *q += u64::from(u32::from(v) * u32::from(v));
    }
}

fn subtract(sums: &mut [u32], squares: &mut [u64], row: &[u8]) {
    for ((s, q), &v) in sums.iter_mut().zip(squares).zip(row) {
        *s -= u32::from(v);
        *q -= u64::from(u32::from(v) * u32::from(v));
    }
}

/// Index of the mirrored picture: -1 → 1, n → n - 2, and so on for any distance.
pub(super) fn mirrored(at: i64, n: usize) -> usize {
    let n = n as i64;
    if (0..n).contains(&at) {
        return at as usize;
    }
    if n == 1 {
        return 0;
    }
    let period = 2 * (n - 1);
    let t = at.rem_euclid(period);
    (if t < n { t } else { period - t }) as usize
}
