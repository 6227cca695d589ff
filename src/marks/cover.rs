//! A mark partly under another: what lies on it is left out of its picture.
//!
//! Photographs are never altered; this is the flattened copy that is read. Every piece of lettering
//! is read once, in the mark that it belongs to.

use super::{Flattened, Homography, Mark};
use crate::geometry::{Point, Quad};
use image::{Rgb, RgbImage};

/// Share of the upper mark that must lie on the lower one.
const ON_IT: f64 = 0.7;

/// Smallest and largest share of the lower mark that the upper one covers: what is smaller may be a
/// piece of it, what is larger is the same mark found twice.
const COVERS: (f64, f64) = (0.05, 0.75);

/// Ground colours are taken from this many px beside what is left out.
const BESIDE: usize = 15;

/// What is left out is wider than the upper mark by this share: its edge throws a shadow.
const WIDER: f64 = 1.03;

/// Outlines of the marks that lie on this one. Of two, the upper is the one more likely to be
/// lettering: the outline of the lower takes in both.
pub fn lying_on(mark: &Mark, all: &[Mark]) -> Vec<Quad> {
    let area = mark.outline.area();
    all.iter()
        .filter(|upper| upper.lettering > mark.lettering)
        .filter(|upper| {
            let (own, shared) = (upper.outline.area(), upper.outline.overlap(&mark.outline));
            let covers = shared / area.max(1.0);
            shared > ON_IT * own && covers > COVERS.0 && covers < COVERS.1
        })
        .map(|upper| upper.outline)
        .collect()
}

/// The flattened mark with the ground drawn over what lies on it, row by row from the colours on
/// either side.
pub fn without(mut flat: Flattened, upper: &[Quad]) -> Flattened {
    let (w, h) = flat.picture.dimensions();
    let Some(back) = Homography::between(&flat.outline, &super::flatten::frame(w, h)) else {
        return flat;
    };
    for outline in upper {
        let centre = outline.centre();
        let there = outline.0.map(|p| {
            back.apply(Point::new(
                centre.x + (p.x - centre.x) * WIDER,
                centre.y + (p.y - centre.y) * WIDER,
            ))
        });
        if there.iter().all(|p| p.x.is_finite() && p.y.is_finite()) {
            fill(&mut flat.picture, &there);
        }
    }
    flat
}

fn fill(picture: &mut RgbImage, outline: &[Point; 4]) {
    let (w, h) = picture.dimensions();
    let mut above = None;
    for y in 0..h {
        let Some((from, to)) = span(outline, f64::from(y) + 0.5, w) else {
            continue;
        };
        let row: Vec<Rgb<u8>> = (0..w).map(|x| *picture.get_pixel(x, y)).collect();
        let left = ground(&row[from.saturating_sub(BESIDE)..from]);
        let right = ground(&row[to..(to + BESIDE).min(row.len())]);
        // A row that is covered from edge to edge goes on as the row above it.
        let Some((a, b)) = left.or(right).or(above).zip(right.or(left).or(above)) else {
            continue;
        };
        above = Some(a);
        for x in from..to {
            let t = (x - from) as f64 / (to - from).max(1) as f64;
            let mixed = [0, 1, 2].map(|c| {
                let value = f64::from(a.0[c]) * (1.0 - t) + f64::from(b.0[c]) * t;
                value.round() as u8
            });
            picture.put_pixel(x as u32, y, Rgb(mixed));
        }
    }
}

/// First and last column (exclusive) of a row of px that lies in a convex outline.
fn span(outline: &[Point; 4], y: f64, w: u32) -> Option<(usize, usize)> {
    let mut at: Vec<f64> = Vec::new();
    for i in 0..4 {
        let (p, q) = (outline[i], outline[(i + 1) % 4]);
        if (p.y <= y) != (q.y <= y) {
            at.push(p.x + (y - p.y) / (q.y - p.y) * (q.x - p.x));
        }
    }
    let low = at.iter().copied().fold(f64::INFINITY, f64::min).max(0.0);
    let high = at
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max)
        .min(f64::from(w));
    (low < high).then(|| (low.floor() as usize, high.ceil() as usize))
}

/// Middle colour of some px, each channel by itself; nothing of none.
fn ground(pixels: &[Rgb<u8>]) -> Option<Rgb<u8>> {
    if pixels.is_empty() {
        return None;
    }
    Some(Rgb([0, 1, 2].map(|c| {
        let mut values: Vec<u8> = pixels.iter().map(|p| p.0[c]).collect();
        values.sort_unstable();
        values[values.len() / 2]
    })))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::marks::MarkKind;

    fn mark(lettering: f64, outline: Quad) -> Mark {
        Mark {
            kind: MarkKind::PrintedLabel,
            kind_chance: 1.0,
            outline,
            lettering,
            bearing: None,
        }
    }

    #[test]
    fn only_a_likelier_mark_that_covers_part_of_it_lies_on_a_mark() {
        let low = mark(0.5, Rect::new(0, 0, 400, 300).quad());
        let on = mark(0.9, Rect::new(200, 150, 180, 140).quad());
        let beside = mark(0.9, Rect::new(390, 0, 200, 300).quad());
        let again = mark(0.9, Rect::new(5, 5, 390, 290).quad());
        let all = [low.clone(), on.clone(), beside, again];
        assert_eq!(lying_on(&low, &all), [on.outline]);
        assert!(lying_on(&on, &all).is_empty());
    }

    #[test]
    fn what_lies_on_a_mark_is_left_out_of_its_picture_and_the_rest_stays() {
        let paper = Rgb([230, 220, 190]);
        let mut picture = RgbImage::from_pixel(300, 200, paper);
        for (x, y) in [(20u32, 20u32), (40, 30)] {
            picture.put_pixel(x, y, Rgb([20, 20, 20]));
        }
        for y in 100..200 {
            for x in 150..300 {
                picture.put_pixel(x, y, Rgb([90, 10, 10]));
            }
        }
        let before = picture.clone();
        let flat = Flattened {
            picture,
            outline: Rect::new(1000, 500, 300, 200).quad(),
        };
        let after = without(flat, &[Rect::new(1150, 600, 150, 100).quad()]).picture;
        for (x, y, p) in after.enumerate_pixels() {
            if x >= 150 && y >= 100 {
                assert_eq!(*p, paper, "{x} {y}");
            } else {
                assert_eq!(p, before.get_pixel(x, y), "{x} {y}");
            }
        }
    }
}
