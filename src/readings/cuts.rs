//! Lines cut out of a cleaned picture, levelled and brought to one letter height.

use super::RawLine;
use crate::geometry::Rect;
use crate::marks::LineBox;
use image::{GrayImage, Luma, imageops};

/// Height of a cut, px: that of the line model, so that it needs no further change of size.
const HEIGHT: f64 = 48.0;

/// Margin above and below the letters of a line, as a share of their height: the line model was
/// trained on ink of 0.5 to 0.95 of the height, 0.7 in the middle.
const MARGIN: f64 = 0.2;

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

/// Cuts a line out: sheared level by its slope, scaled to [`HEIGHT`]. Past the edge the edge's
/// pixels are repeated.
pub(super) fn cut(picture: &GrayImage, line: &LineBox) -> Cut {
    let letter = line.letter_height.max(3.0);
    let b = line.bounds;
    // The bounds of a sloping line are higher than its letters by the rise along it.
    let rise = line.slope * f64::from(b.w);
    let tall = (f64::from(b.h) - rise.abs()).max(letter);
    let margin = tall * MARGIN;
    let height = tall + 2.0 * margin;
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
    let wide = (f64::from(w) * HEIGHT / f64::from(h)).round().max(8.0) as u32;
    let picture = imageops::resize(&level, wide, HEIGHT as u32, imageops::FilterType::Triangle);
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
        assert!((5..=12).contains(&rows.len()), "{rows:?}");
        let at = |x: f64| ((x - cut.left) * cut.scale).round() as i32;
        let read = RawLine {
            characters: Vec::new(),
            bounds: Rect::new(at(0.0), 0, (at(300.0) - at(0.0)) as u32, 10),
            spans: vec![(at(0.0), at(100.0))],
        };
        let back = cut.back(read);
        assert_eq!(back.spans, [(0, 100)]);
        assert_eq!(back.bounds, Rect::new(0, 16, 300, 38));
    }
}
