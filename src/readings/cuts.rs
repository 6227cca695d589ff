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
    /// Where each column lies on the picture that it was cut from, px.
    columns: Columns,
    /// px of the cut for one px along the line.
    scale: f64,
    /// The line's place on the picture that it was cut from, px.
    pub bounds: Rect,
}

/// The way from a place along a line to the picture.
enum Columns {
    /// Straight: from this left edge on.
    From(f64),
    /// Bent: place on the picture after each px along the line.
    Along(Vec<f64>),
}

impl Columns {
    fn place(&self, along: f64) -> f64 {
        match self {
            Columns::From(left) => left + along,
            Columns::Along(at) => {
                let last = at.len() - 1;
                let i = (along.max(0.0) as usize).min(last);
                let next = at[(i + 1).min(last)];
                at[i] + (next - at[i]) * (along - i as f64).clamp(0.0, 1.0)
            }
        }
    }
}

/// Cuts a line out, scaled to [`HEIGHT`]: sheared level by its slope or, where its baseline is bent,
/// rolled off along it, so that turned letters stand upright. Past the edge the edge's pixels are
/// repeated.
pub(super) fn cut(picture: &GrayImage, line: &LineBox) -> Cut {
    let letter = line.letter_height.max(3.0);
    let b = line.bounds;
    // The bounds of a sloping line are higher than its letters by the rise along it.
    let (lowest, highest) = line.reach();
    let tall = (f64::from(b.h) - (highest - lowest)).max(letter);
    let margin = tall * MARGIN;
    let height = tall + 2.0 * margin;
    let (level, columns) = match line.bend == 0.0 {
        true => straight(picture, line, height, margin),
        false => rolled_off(picture, line, height, margin),
    };
    let (w, h) = level.dimensions();
    let wide = (f64::from(w) * HEIGHT / f64::from(h)).round().max(8.0) as u32;
    let picture = imageops::resize(&level, wide, HEIGHT as u32, imageops::FilterType::Triangle);
    let scale = f64::from(picture.width()) / f64::from(w);
    Cut {
        picture,
        columns,
        scale,
        bounds: b,
    }
}

fn straight(picture: &GrayImage, line: &LineBox, height: f64, margin: f64) -> (GrayImage, Columns) {
    let b = line.bounds;
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
    (level, Columns::From(left))
}

fn rolled_off(
    picture: &GrayImage,
    line: &LineBox,
    height: f64,
    margin: f64,
) -> (GrayImage, Columns) {
    let b = line.bounds;
    let centre = f64::from(b.x) + f64::from(b.w) / 2.0;
    let slope = |x: f64| line.slope + 2.0 * line.bend * (x - centre);
    let mut places = vec![f64::from(b.x) - margin];
    while let Some(&x) = places.last()
        && x < f64::from(b.right()) + margin
    {
        places.push(x + 1.0 / slope(x).hypot(1.0));
    }
    let (w, h) = (places.len() as u32, height.ceil().max(1.0) as u32);
    let (pw, ph) = (i64::from(picture.width()), i64::from(picture.height()));
    let at = |x: i64, y: i64| {
        let (x, y) = (x.clamp(0, pw - 1), y.clamp(0, ph - 1));
        f64::from(picture.get_pixel(x as u32, y as u32).0[0])
    };
    let level = GrayImage::from_fn(w, h, |along, y| {
        let x = places[along as usize];
        let (rise, off) = (slope(x), f64::from(y) - height / 2.0);
        let unit = rise.hypot(1.0);
        let (sx, sy) = (x - off * rise / unit, line.middle(x) + off / unit);
        let (fx, fy) = (sx.floor(), sy.floor());
        let (i, j, u, v) = (fx as i64, fy as i64, sx - fx, sy - fy);
        let upper = at(i, j) * (1.0 - u) + at(i + 1, j) * u;
        let lower = at(i, j + 1) * (1.0 - u) + at(i + 1, j + 1) * u;
        Luma([(upper * (1.0 - v) + lower * v).round() as u8])
    });
    (level, Columns::Along(places))
}

impl Cut {
    /// A line read on the cut, as if read on the picture that it was cut from.
    pub(super) fn back(&self, mut line: RawLine) -> RawLine {
        let x = |v: i32| self.columns.place(f64::from(v) / self.scale).round() as i32;
        for span in &mut line.spans {
            *span = (x(span.0), x(span.1));
        }
        for (_, at) in &mut line.faint {
            *at = x(*at);
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
            bend: 0.0,
            letter_height: 36.0,
        };
        let cut = cut(&picture, &line);
        let rows: Vec<u32> = (0..cut.picture.height())
            .filter(|&y| (40..250).any(|x| cut.picture.get_pixel(x, y).0[0] < 128))
            .collect();
        assert!((5..=12).contains(&rows.len()), "{rows:?}");
        let at = |x: f64| ((x - cut.columns.place(0.0)) * cut.scale).round() as i32;
        let read = RawLine {
            characters: Vec::new(),
            bounds: Rect::new(at(0.0), 0, (at(300.0) - at(0.0)) as u32, 10),
            spans: vec![(at(0.0), at(100.0))],
            faint: vec![(crate::readings::Character::sure("", 0.8), at(100.0))],
            writing: None,
            by_ink: None,
        };
        let back = cut.back(read);
        assert_eq!(back.spans, [(0, 100)]);
        assert_eq!(back.faint[0].1, 100);
        assert_eq!(back.bounds, Rect::new(0, 16, 300, 38));
    }
}
