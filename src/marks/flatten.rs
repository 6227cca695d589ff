//! Cutting a mark out and flattening it by its four corners.

use super::{Flattened, Mark};
use crate::geometry::{Homography, Point, Quad};
use image::RgbImage;
use rayon::prelude::*;

/// Margin around a mark, as a share of its shorter side: enough for a recogniser to see that a
/// letter at the edge ends.
const MARGIN: f64 = 0.02;

/// See [`super::flatten`].
pub(super) fn flatten(photograph: &RgbImage, mark: &Mark) -> Flattened {
    flatten_wide(photograph, mark, MARGIN)
}

/// As [`flatten`], with a margin of that share of the shorter side.
pub(super) fn flatten_wide(photograph: &RgbImage, mark: &Mark, margin: f64) -> Flattened {
    exactly(photograph, &with_margin(&mark.outline, margin))
}

/// What lies in an outline, flattened, without a margin.
pub(super) fn exactly(photograph: &RgbImage, outline: &Quad) -> Flattened {
    let outline = *outline;
    let (w, h) = outline.size();
    let longest = 4.0 * f64::from(photograph.width().max(photograph.height()).max(1));
    let side = |v: f64| {
        if v.is_finite() {
            v.clamp(1.0, longest).round() as u32
        } else {
            1
        }
    };
    let (w, h) = (side(w), side(h));
    let Some(map) = Homography::between(&frame(w, h), &outline) else {
        return Flattened {
            picture: RgbImage::new(1, 1),
            outline,
        };
    };
    let (pw, ph) = photograph.dimensions();
    let mut picture = RgbImage::new(w, h);
    if pw == 0 || ph == 0 {
        return Flattened { picture, outline };
    }
    picture
        .par_chunks_mut(w as usize * 3)
        .enumerate()
        .for_each(|(y, row)| {
            let (pixels, _) = row.as_chunks_mut::<3>();
            for (x, out) in pixels.iter_mut().enumerate() {
                let at = map.apply(Point::new(x as f64 + 0.5, y as f64 + 0.5));
                *out = sample(photograph, at);
            }
        });
    Flattened { picture, outline }
}

/// Corners of a picture of that size.
pub(super) fn frame(w: u32, h: u32) -> Quad {
    let (w, h) = (f64::from(w), f64::from(h));
    Quad([
        Point::new(0.0, 0.0),
        Point::new(w, 0.0),
        Point::new(w, h),
        Point::new(0.0, h),
    ])
}

/// The outline moved outwards by the margin, in the mark's own plane.
fn with_margin(outline: &Quad, share: f64) -> Quad {
    let (w, h) = outline.size();
    let m = (w.min(h) * share).max(2.0);
    let flat = Quad([
        Point::new(0.0, 0.0),
        Point::new(w, 0.0),
        Point::new(w, h),
        Point::new(0.0, h),
    ]);
    match Homography::between(&flat, outline) {
        Some(map) => Quad([
            map.apply(Point::new(-m, -m)),
            map.apply(Point::new(w + m, -m)),
            map.apply(Point::new(w + m, h + m)),
            map.apply(Point::new(-m, h + m)),
        ]),
        None => *outline,
    }
}

/// Bilinear sample; a px is a unit square whose centre lies at +0.5. Past the edge the edge px
/// are repeated.
#[inline]
fn sample(picture: &RgbImage, at: Point) -> [u8; 3] {
    let (w, h) = (picture.width() as i64, picture.height() as i64);
    let (x, y) = (at.x - 0.5, at.y - 0.5);
    // Truncation is rounding down here; the call of `floor` costs as much as all the rest.
    let whole = |v: f64| {
        let down = v as i64;
        (down - i64::from((down as f64) > v)) as f64
    };
    let (fx, fy) = (whole(x), whole(y));
    let (tx, ty) = (x - fx, y - fy);
    let inside = fx >= 0.0 && fy >= 0.0 && fx < (w - 1) as f64 && fy < (h - 1) as f64;
    if inside {
        let start = 3 * (fy as usize * w as usize + fx as usize);
        let raw = picture.as_raw();
        let (upper, lower) = (
            &raw[start..start + 6],
            &raw[start + 3 * w as usize..start + 3 * w as usize + 6],
        );
        return std::array::from_fn(|i| {
            let top = f64::from(upper[i]) * (1.0 - tx) + f64::from(upper[i + 3]) * tx;
            let low = f64::from(lower[i]) * (1.0 - tx) + f64::from(lower[i + 3]) * tx;
            (top * (1.0 - ty) + low * ty + 0.5) as u8
        });
    }
    let px = |dx: i64, dy: i64| {
        let cx = (fx as i64).saturating_add(dx).clamp(0, w - 1) as u32;
        let cy = (fy as i64).saturating_add(dy).clamp(0, h - 1) as u32;
        picture.get_pixel(cx, cy).0
    };
    let (a, b, c, d) = (px(0, 0), px(1, 0), px(0, 1), px(1, 1));
    std::array::from_fn(|i| {
        let top = f64::from(a[i]) * (1.0 - tx) + f64::from(b[i]) * tx;
        let low = f64::from(c[i]) * (1.0 - tx) + f64::from(d[i]) * tx;
        (top * (1.0 - ty) + low * ty + 0.5) as u8
    })
}
