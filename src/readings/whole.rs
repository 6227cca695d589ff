//! A mark of which next to nothing was read, taken as one line from edge to edge of its ink.
//!
//! Large figures in chalk on a coarse ground are of one piece with nothing that a row is known by, and of a
//! faint stencil a row may be the last figure alone; read as one line they are plain.

use super::choice::Hypothesis;
use super::{Character, calibration, mean_chance};
use crate::enhance::threshold;
use crate::geometry::Rect;
use crate::marks::LineBox;
use image::GrayImage;

/// Share of the ink that may lie beyond each edge: specks.
const BEYOND: f64 = 0.01;

/// Mean chance of its letters from which such a line is kept: grain is read too, but less surely.
const SURE: f64 = 0.85;

/// Marks of which fewer letters were read are read so: one letter may be all that there is, or a scrap.
pub(super) const FEW: usize = 2;

/// Highest and widest that a single line is, height by width.
const SHAPE: std::ops::RangeInclusive<f64> = 0.03..=1.5;

/// Where the ink of a cleaned picture stands (dark on light), as one level line in its px; nothing where it
/// is too high, too flat or too small to be one.
pub(super) fn line(picture: &GrayImage) -> Option<LineBox> {
    let ink = threshold::at_level(picture, threshold::otsu(picture));
    let (w, h) = ink.dimensions();
    let mut columns = vec![0u64; w as usize];
    let mut rows = vec![0u64; h as usize];
    for (x, y, _) in ink.enumerate_pixels().filter(|(_, _, p)| p.0[0] > 0) {
        columns[x as usize] += 1;
        rows[y as usize] += 1;
    }
    let (left, right) = middle(&columns)?;
    let (top, bottom) = middle(&rows)?;
    let bounds = Rect::new(left as i32, top as i32, right - left, bottom - top);
    let (w, h) = (f64::from(bounds.w), f64::from(bounds.h));
    let fits = h >= 12.0 && SHAPE.contains(&(h / w));
    fits.then_some(LineBox {
        bounds,
        slope: 0.0,
        bend: 0.0,
        letter_height: h,
    })
}

/// Whether what was read of such a line is text, surely enough for a reading that nothing else bears out.
pub(super) fn is_text(rows: &[Hypothesis]) -> bool {
    let read = rows
        .iter()
        .filter_map(|h| calibration::characters(&h.read.row));
    let mut letters = read.flatten().collect::<Vec<Character>>();
    letters.retain(|c| c.text.chars().any(char::is_alphanumeric));
    letters.len() >= FEW && mean_chance(&letters).is_some_and(|m| m >= SURE)
}

/// Between which places all but [`BEYOND`] at either end lies.
fn middle(counts: &[u64]) -> Option<(u32, u32)> {
    let most = (counts.iter().sum::<u64>() as f64 * BEYOND) as u64;
    let edge = |order: &mut dyn Iterator<Item = usize>| {
        let mut seen = 0;
        for i in order {
            seen += counts[i];
            if seen > most {
                return u32::try_from(i).ok();
            }
        }
        None
    };
    let from = edge(&mut (0..counts.len()))?;
    let to = edge(&mut (0..counts.len()).rev())?;
    (to > from).then_some((from, to + 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn the_ink_is_bounded_without_its_specks() {
        let picture = GrayImage::from_fn(200, 80, |x, y| {
            let ink = (40..160).contains(&x) && (20..60).contains(&y);
            Luma([if ink || (x, y) == (3, 70) { 30 } else { 220 }])
        });
        let b = line(&picture).map(|l| l.bounds);
        assert_eq!(b, Some(Rect::new(41, 20, 118, 40)));
    }

    #[test]
    fn what_is_far_too_high_or_blank_is_no_line() {
        let pole = GrayImage::from_fn(60, 200, |x, _| Luma([if x / 8 == 3 { 0 } else { 255 }]));
        assert_eq!(line(&pole), None);
        assert_eq!(line(&GrayImage::from_pixel(50, 50, Luma([255]))), None);
    }
}
