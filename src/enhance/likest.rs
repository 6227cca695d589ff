//! Which of several crops shows the same mark, brought to the size and the way round of the first.

use super::join::Laid;
use super::register::{Placed, box_mean, register};
use crate::geometry::Homography;
use image::{RgbImage, imageops};

/// Side of the pictures by which the likest are picked, px.
const SMALL: u32 = 40;
/// How many of the likest are laid on the first in earnest.
const TRIED: usize = 4;
/// Likeness from which two crops show the same mark, and no other is tried. Higher than
/// [`super::join::ALIKE`]: of many crops one may be a little like the first by chance, and two labels
/// of one form can't be taken for each other. Made pairs have 0.8 and more.
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
    /// The other crop laid on the first, from the registration that found it.
    ///
    /// * `first`, `other`: the two crops, at any size.
    pub fn laid_on(&self, first: &RgbImage, other: &RgbImage) -> Laid {
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
        Laid::by(first, &sized(other, size, self.turned), &placed)
    }
}

/// Which of the crops shows the same mark as the first, and where; `None` if none of them surely
/// does.
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
    ways.into_iter().take(TRIED).find_map(|(_, crop, turned)| {
        let placed = register(first, &sized(&crops[crop], (w, h), turned))?;
        (placed.likeness >= SURELY).then_some(Same {
            crop,
            turned,
            placed,
            size: (w, h),
        })
    })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::enhance::join::tests::label;

    #[test]
    fn the_same_mark_is_found_among_strangers_also_on_its_head() {
        let first = label(600, 400, 7);
        let strangers = [label(600, 400, 11), label(610, 390, 12)];
        assert!(same_mark(&first, &strangers).is_none());
        let [a, b] = strangers;
        let smaller = imageops::resize(&first, 420, 280, imageops::FilterType::Triangle);
        let crops = [a, imageops::rotate180(&smaller), b];
        let same = same_mark(&first, &crops).expect("the same label, smaller and on its head");
        assert_eq!(same.crop, 1);
        let laid = same.laid_on(&first, &crops[1]);
        let off: f64 = first
            .pixels()
            .zip(laid.picture.pixels())
            .zip(&laid.seen)
            .filter(|(_, seen)| **seen)
            .map(|((p, q), _)| f64::from(p.0[1].abs_diff(q.0[1])))
            .sum();
        let off = off / laid.seen.iter().filter(|s| **s).count() as f64;
        assert!(off < 12.0, "{off}");
    }
}
