//! Lines cut out of a cleaned picture, levelled and brought to one letter height.

use super::RawLine;
use crate::geometry::Rect;
use crate::marks::LineBox;
use image::{GrayImage, Luma, imageops};

/// Height of the letters of a cut, px.
const LETTERS: f64 = 36.0;

/// Margin around the letters of a line, in letter heights.
const MARGIN: f64 = 0.45;

/// A line's own picture with the way back.
pub(super) struct Cut {
    /// Level, dark on light.
    pub picture: GrayImage,
    /// Left edge on the picture that it was cut from, px.
    left: f64,
    /// px of the cut for one px of the picture.
    scale: f64,
    /// The line's place on the picture that it was cut from, px.
    pub bounds: Rect,
}

/// Cuts a line out: sheared level by its slope, scaled to [`LETTERS`]. Past the edge the edge's
/// pixels are repeated.
pub(super) fn cut(picture: &GrayImage, line: &LineBox) -> Cut {
    let letter = line.letter_height.max(3.0);
    let margin = letter * MARGIN;
    let b = line.bounds;
    // The bounds of a sloping line are higher than its letters by the rise along it.
    let rise = line.slope * f64::from(b.w);
    let height = (f64::from(b.h) - rise.abs()).max(letter) + 2.0 * margin;
    let middle = f64::from(b.y) + f64::from(b.h) / 2.0;
    let (left, top) = (f64::from(b.x) - margin, middle - height / 2.0);
    let width = f64::from(b.w) + 2.0 * margin;
    let (w, h) = (width.ceil().max(1.0) as u32, height.ceil().max(1.0) as u32);
    let (pw, ph) = (i64::from(picture.width()), i64::from(picture.height()));
    let centre = width / 2.0;
    let level = GrayImage::from_fn(w, h, |x, y| {
        let sx = ((left + f64::from(x)).round() as i64).clamp(0, pw - 1);
        let down = (f64::from(x) - centre) * line.slope;
        let fy = top + f64::from(y) + down;
        let (y0, t) = (fy.floor(), fy - fy.floor());
        let at = |v: f64| {
            let sy = (v as i64).clamp(0, ph - 1);
            f64::from(picture.get_pixel(sx as u32, sy as u32).0[0])
        };
        Luma([(at(y0) * (1.0 - t) + at(y0 + 1.0) * t).round() as u8])
    });
    let scale = (LETTERS / letter).clamp(0.2, 4.0);
    let side = |n: u32| ((f64::from(n) * scale).round() as u32).max(1);
    let picture = if (0.85..1.2).contains(&scale) {
        level
    } else {
        imageops::resize(&level, side(w), side(h), imageops::FilterType::CatmullRom)
    };
    let scale = f64::from(picture.width()) / f64::from(w);
    Cut {
        picture,
        left,
        scale,
        bounds: b,
    }
}

impl Cut {
    /// A line read on the cut, as if read on the picture that it was cut from.
    pub(super) fn back(&self, mut line: RawLine) -> RawLine {
        let x = |v: i32| (f64::from(v) / self.scale + self.left).round() as i32;
        for span in &mut line.spans {
            *span = (x(span.0), x(span.1));
        }
        let (l, r) = (x(line.bounds.x), x(line.bounds.right()));
        line.bounds = Rect::new(l, self.bounds.y, (r - l).max(1) as u32, self.bounds.h);
        line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sloping_line_is_cut_level_and_its_places_lead_back() {
        // A stroke that falls by one px in ten.
        let picture = GrayImage::from_fn(300, 80, |x, y| {
            let on = (f64::from(y) - 20.0 - f64::from(x) * 0.1).abs() < 4.0;
            Luma([if on { 0 } else { 255 }])
        });
        let line = LineBox {
            bounds: Rect::new(0, 16, 300, 38),
            slope: 0.1,
            letter_height: 36.0,
        };
        let cut = cut(&picture, &line);
        let rows: Vec<u32> = (0..cut.picture.height())
            .filter(|&y| (40..250).any(|x| cut.picture.get_pixel(x, y).0[0] < 128))
            .collect();
        assert!((7..=10).contains(&rows.len()), "{rows:?}");
        let read = RawLine {
            characters: Vec::new(),
            bounds: Rect::new(16, 0, 300, 10),
            spans: vec![(16, 46)],
        };
        let back = cut.back(read);
        assert_eq!(back.spans, [(0, 30)]);
        assert_eq!(back.bounds, Rect::new(0, 16, 300, 38));
    }
}
