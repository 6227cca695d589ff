//! Which of several crops shows the same mark, brought to the size and the way round of the first.

use super::join::laid;
use super::register::{ALIKE, box_mean, register};
use image::{Rgb, RgbImage, imageops};

/// Side of the pictures by which the likest are picked, px.
const SMALL: u32 = 40;
/// How many of the likest are laid on the first in earnest.
const TRIED: usize = 4;
/// Crops whose sides differ more than this in proportion aren't the same mark.
const FORM: f64 = 1.6;

/// The crop that shows the same mark as the first: its number and the crop at the first's size; `None`
/// if none of them does.
pub fn likest(first: &RgbImage, crops: &[RgbImage]) -> Option<(usize, RgbImage)> {
    let (w, h) = first.dimensions();
    if w < 24 || h < 24 {
        return None;
    }
    let form = |p: &RgbImage| f64::from(p.width()) / f64::from(p.height().max(1));
    let small = evened(first);
    let mut ways: Vec<(f64, usize, bool)> = Vec::new();
    for (i, c) in crops.iter().enumerate() {
        let off = form(c) / form(first);
        if c.width() < 24 || c.height() < 24 || !(1.0 / FORM..=FORM).contains(&off) {
            continue;
        }
        let upright = evened(c);
        let turned: Vec<f64> = upright.iter().rev().copied().collect();
        ways.push((product(&small, &upright), i, false));
        ways.push((product(&small, &turned), i, true));
    }
    ways.sort_by(|a, b| b.0.total_cmp(&a.0));
    ways.into_iter()
        .take(TRIED)
        .filter_map(|(_, i, turned)| {
            let sized = imageops::resize(&crops[i], w, h, imageops::FilterType::Triangle);
            let sized = match turned {
                true => imageops::rotate180(&sized),
                false => sized,
            };
            let placed = register(first, &sized)?;
            (placed.likeness >= ALIKE).then_some((placed.likeness, i, sized))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, i, sized)| (i, sized))
}

/// The same mark as one of the crops shows it, laid on the first; grey where that crop shows nothing.
/// `None` if none of the crops is recognisably the same mark.
pub fn seen_in(first: &RgbImage, crops: &[RgbImage]) -> Option<RgbImage> {
    let (_, same) = likest(first, crops)?;
    let placed = register(first, &same)?;
    let (mut picture, seen) = laid(first, &same, &placed);
    for (px, there) in picture.pixels_mut().zip(seen) {
        if !there {
            *px = Rgb([128; 3]);
        }
    }
    Some(picture)
}

/// A small picture with its local mean taken away, of unit length.
fn evened(picture: &RgbImage) -> Vec<f64> {
    let small = imageops::resize(picture, SMALL, SMALL, imageops::FilterType::Triangle);
    let grey = imageops::grayscale(&small);
    let value: Vec<f32> = grey.pixels().map(|p| f32::from(p.0[0])).collect();
    let side = SMALL as usize;
    let mean = box_mean(
        &value,
        grey.width() as usize,
        grey.height() as usize,
        side / 7,
    );
    let off: Vec<f64> = value
        .iter()
        .zip(mean)
        .map(|(v, m)| f64::from(v - m))
        .collect();
    let long = off.iter().map(|v| v * v).sum::<f64>().sqrt().max(1e-9);
    off.into_iter().map(|v| v / long).collect()
}

fn product(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
