//! Which of several crops shows the same mark, brought to the size and the way round of the first.

use super::join::laid;
use super::register::{Placed, box_mean, register};
use crate::geometry::Homography;
use image::{Rgb, RgbImage, imageops};

/// Side of the pictures by which the likest are picked, px.
const SMALL: u32 = 40;
/// How many of the likest are laid on the first in earnest.
const TRIED: usize = 4;
/// Likeness from which no other is tried: made pairs have 0.8 and more, strangers up to 0.24.
const SURELY: f64 = 0.6;
/// Crops whose sides differ more than this in proportion aren't the same mark.
const FORM: f64 = 1.6;

/// Where the same mark is shown once more.
#[derive(Debug, Clone)]
pub struct Same {
    /// Number of the crop that shows it.
    pub crop: usize,
    /// Whether that crop stands on its head beside the first.
    turned: bool,
    /// Where it lies on the first, both brought to the size that was compared.
    placed: Placed,
    /// That size, px.
    size: (u32, u32),
}

/// A crop at that size, turned on its head or not.
fn sized(crop: &RgbImage, (w, h): (u32, u32), turned: bool) -> RgbImage {
    let sized = imageops::resize(crop, w, h, imageops::FilterType::Triangle);
    match turned {
        true => imageops::rotate180(&sized),
        false => sized,
    }
}

impl Same {
    /// Whether it is so alike that two labels of the same form can't be taken for each other.
    pub fn surely(&self) -> bool {
        self.placed.likeness >= SURELY
    }

    /// The other crop laid on the first; grey where it shows nothing.
    ///
    /// * `first`, `other`: the two crops, at any size.
    pub fn laid_on(&self, first: &RgbImage, other: &RgbImage) -> RgbImage {
        let size = first.dimensions();
        let (sx, sy) = (
            f64::from(size.0) / f64::from(self.size.0),
            f64::from(size.1) / f64::from(self.size.1),
        );
        // the map between both at their new size: scaled down, mapped, scaled up
        let Homography(m) = self.placed.map;
        let map = Homography([
            m[0],
            m[1] * sx / sy,
            m[2] * sx,
            m[3] * sy / sx,
            m[4],
            m[5] * sy,
            m[6] / sx,
            m[7] / sy,
            m[8],
        ]);
        let placed = Placed {
            map,
            likeness: self.placed.likeness,
        };
        let (mut picture, seen) = laid(first, &sized(other, size, self.turned), &placed);
        for (px, there) in picture.pixels_mut().zip(seen) {
            if !there {
                *px = Rgb([128; 3]);
            }
        }
        picture
    }
}

/// The crop that shows the same mark as the first: its number and the crop at the first's size; `None`
/// if none of them does.
pub fn likest(first: &RgbImage, crops: &[RgbImage]) -> Option<(usize, RgbImage)> {
    let same = same_mark(first, crops)?;
    let sized = sized(&crops[same.crop], first.dimensions(), same.turned);
    Some((same.crop, sized))
}

/// Which of the crops shows the same mark as the first, and where; `None` if none of them is
/// recognisably the same.
pub fn same_mark(first: &RgbImage, crops: &[RgbImage]) -> Option<Same> {
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
    let mut best: Option<Same> = None;
    for (_, crop, turned) in ways.into_iter().take(TRIED) {
        let Some(placed) = register(first, &sized(&crops[crop], (w, h), turned)) else {
            continue;
        };
        let likeness = placed.likeness;
        if best.as_ref().is_none_or(|b| likeness > b.placed.likeness) {
            best = Some(Same {
                crop,
                turned,
                placed,
                size: (w, h),
            });
        }
        if likeness >= SURELY {
            break;
        }
    }
    best
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
