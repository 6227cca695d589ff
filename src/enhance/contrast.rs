//! Contrast: stretching of the whole picture, and local equalisation.

use crate::{Error, Kind, Result};
use image::GrayImage;
use rayon::prelude::*;

/// Stretches greys so that the share `low` of the pixels becomes 0 and the share `high` 255.
///
/// * `low`, `high`: 0 to 1, such as 0.01 and 0.99. A flat picture is left as it is.
pub fn stretch(grey: &GrayImage, low: f64, high: f64) -> GrayImage {
    let mut counts = [0u32; 256];
    for &v in grey.as_raw() {
        counts[usize::from(v)] += 1;
    }
    let a = f32::from(super::light::percentile(&counts, low));
    let b = f32::from(super::light::percentile(&counts, high));
    let mut out = grey.clone();
    if b <= a {
        return out;
    }
    let table: Vec<u8> = (0..256)
        .map(|v| ((v as f32 - a) / (b - a) * 255.0).round().clamp(0.0, 255.0) as u8)
        .collect();
    for v in out.iter_mut() {
        *v = table[usize::from(*v)];
    }
    out
}

/// Contrast-limited adaptive histogram equalisation.
///
/// The picture is parted into `across` × `down` tiles. A tile of M pixels maps grey v to
/// 255 / M · Σ (counts up to v), its counts clipped at b = max(1, ⌊clip · M / 256⌋) first and
/// what is cut off spread evenly. Each pixel is mapped by the four nearest tiles, blended
/// bilinearly.
///
/// * `grey`: any size. If the tiles don't divide it, it is mirrored past the right and lower
///   edge to fill them.
/// * `across`, `down`: 1 to 64.
/// * `clip`: 1 (nearly no change) to 40 (nearly none of the limit), as a multiple of the mean
///   count.
///
/// Raises the contrast of paper grain as well as of ink where a tile holds no ink. Cost: two
/// passes, whatever the tiles.
///
/// ```
/// use image::{GrayImage, Luma};
/// let faint = GrayImage::from_fn(64, 64, |x, y| Luma([if (x / 4 + y / 4) % 2 == 0 { 100 } else { 110 }]));
/// let clear = dorso_seeing::enhance::contrast::clahe(&faint, 2, 2, 40.0)?;
/// let apart = clear.get_pixel(4, 0).0[0] - clear.get_pixel(0, 0).0[0];
/// assert!(apart > 40, "10 greys became {apart}");
/// # Ok::<(), dorso_seeing::Error>(())
/// ```
/// # Errors
/// `Kind::Usage` if a parameter is out of range.
///
/// # Source
/// S. Pizer and others 1987, Computer Vision, Graphics, and Image Processing 39, 355-368;
/// K. Zuiderveld 1994, *Graphics Gems IV*, 474-485. The clip limit is counted as OpenCV does.
pub fn clahe(grey: &GrayImage, across: u32, down: u32, clip: f64) -> Result<GrayImage> {
    let wrong = |what: &str, value: String, range: &str| {
        Error::new(
            Kind::Usage,
            what,
            format!("{value} is outside {range}"),
            "give a number between them",
        )
    };
    for (what, n) in [("across", across), ("down", down)] {
        if !(1..=64).contains(&n) {
            return Err(wrong(what, n.to_string(), "1 to 64"));
        }
    }
    if !(1.0..=40.0).contains(&clip) {
        return Err(wrong("clip", clip.to_string(), "1 to 40"));
    }
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    if w == 0 || h == 0 {
        return Ok(grey.clone());
    }
    let (across, down) = (across as usize, down as usize);
    let (tile_w, tile_h) = (w.div_ceil(across), h.div_ceil(down));
    let raw = grey.as_raw();
    let maps: Vec<[u8; 256]> = (0..across * down)
        .into_par_iter()
        .map(|t| {
            let (left, top) = (t % across * tile_w, t / across * tile_h);
            let mut counts = [0u32; 256];
            for y in top..top + tile_h {
                let row = &raw[super::windows::mirrored(y as i64, h) * w..][..w];
                for x in left..left + tile_w {
                    let x = if x < w {
                        x
                    } else {
                        super::windows::mirrored(x as i64, w)
                    };
                    counts[usize::from(row[x])] += 1;
                }
            }
            equalising(&mut counts, (tile_w * tile_h) as u32, clip)
        })
        .collect();
    // Left and right tile of each column, and how far it is towards the right one; columns between the same
    // two tiles go together. So do rows, and what lies between the same four tiles shares one table.
    let columns: Vec<(usize, usize, f32)> = (0..w).map(|x| between(x, tile_w, across)).collect();
    let rows: Vec<(usize, usize, f32)> = (0..h).map(|y| between(y, tile_h, down)).collect();
    let alike = |a: &(usize, usize, f32), b: &(usize, usize, f32)| (a.0, a.1) == (b.0, b.1);
    let side_by_side: Vec<&[(usize, usize, f32)]> = columns.chunk_by(alike).collect();
    let one_below_another = rows.chunk_by(alike);
    let mut out = vec![0u8; w * h];
    let mut top = 0;
    for band in one_below_another {
        let (t, b, _) = band[0];
        let (upper, lower) = (&maps[t * across..], &maps[b * across..]);
        let tables = side_by_side.iter().map(|same| {
            let (l, r, _) = same[0];
            blending([&upper[l], &upper[r], &lower[l], &lower[r]])
        });
        let tables: Vec<[[f32; 4]; 256]> = tables.collect();
        let part = top * w..(top + band.len()) * w;
        top += band.len();
        let lines = out[part.clone()].par_chunks_exact_mut(w);
        let lines = lines.zip(raw[part].par_chunks_exact(w)).zip(band);
        lines.for_each(|((target, source), &(_, _, dy))| {
            let mut at = 0;
            for (same, table) in side_by_side.iter().zip(&tables) {
                let part = at..at + same.len();
                at = part.end;
                let pixels = target[part.clone()].iter_mut().zip(&source[part]);
                for ((o, &v), &(_, _, dx)) in pixels.zip(*same) {
                    let [a, a_right, b, b_right] = table[usize::from(v)];
                    let (a, b) = (a + a_right * dx, b + b_right * dx);
                    *o = (a + (b - a) * dy + 0.5) as u8;
                }
            }
        });
    }
    Ok(GrayImage::from_raw(grey.width(), grey.height(), out).unwrap_or_default())
}

/// What each grey becomes between four tiles: by the upper left one and how much more by the upper right
/// one, the same of the lower ones.
///
/// * `maps`: upper left, upper right, lower left, lower right.
fn blending(maps: [&[u8; 256]; 4]) -> [[f32; 4]; 256] {
    std::array::from_fn(|v| {
        let [a, b, c, d] = maps.map(|m| f32::from(m[v]));
        [a, b - a, c, d - c]
    })
}

/// The tiles before and after a place, and the share of the second.
fn between(at: usize, tile: usize, count: usize) -> (usize, usize, f32) {
    let t = at as f32 / tile as f32 - 0.5;
    let first = t.floor();
    let clamp = |i: f32| (i.max(0.0) as usize).min(count - 1);
    (clamp(first), clamp(first + 1.0), t - first)
}

/// The map of a tile from its counts, clipped.
fn equalising(counts: &mut [u32; 256], pixels: u32, clip: f64) -> [u8; 256] {
    let limit = ((clip * f64::from(pixels) / 256.0) as u32).max(1);
    let mut excess = 0;
    for n in counts.iter_mut() {
        excess += n.saturating_sub(limit);
        *n = (*n).min(limit);
    }
    let (share, left) = (excess / 256, (excess % 256) as usize);
    for n in counts.iter_mut() {
        *n += share;
    }
    // What doesn't divide goes to evenly spaced greys.
    if let Some(step) = 256usize.checked_div(left) {
        for i in (0..256).step_by(step.max(1)).take(left) {
            counts[i] += 1;
        }
    }
    let scale = 255.0 / pixels as f32;
    let mut sum = 0;
    std::array::from_fn(|v| {
        sum += counts[v];
        (sum as f32 * scale).round().min(255.0) as u8
    })
}
