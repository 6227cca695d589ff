//! Cutting a mark out and flattening it by its four corners.

use super::{Flattened, Mark};
use crate::geometry::{Homography, Point, Quad};
use image::RgbImage;
use rayon::prelude::*;
use wide::{f32x4, f32x8, i16x8, i32x8, u8x16};

/// Margin around a mark, as a share of its shorter side: enough for a recogniser to see that a
/// letter at the edge ends.
pub const MARGIN: f64 = 0.02;

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
    let sampler = Sampler::new(photograph);
    picture
        .par_chunks_mut(w as usize * 3)
        .enumerate()
        .for_each(|(y, row)| {
            let (pixels, _) = row.as_chunks_mut::<3>();
            for (k, run) in pixels.chunks_mut(RUN).enumerate() {
                sampler.run(&map, (k * RUN) as f64 + 0.5, y as f64 + 0.5, run);
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

/// px in a row that are sampled together: few enough that single precision places them to a few 1e-4 px.
const RUN: usize = 256;

/// Added to a single-precision number below 4 million, it leaves the nearest whole number in the lower bits.
const WHOLE: f32 = 12_582_912.0;

/// Bilinear samples of a picture; a px is a unit square whose centre lies at +0.5. Past the edge the
/// edge px are repeated.
struct Sampler<'a> {
    picture: &'a RgbImage,
    /// Bytes of a row.
    stride: usize,
}

impl<'a> Sampler<'a> {
    fn new(picture: &'a RgbImage) -> Self {
        Sampler {
            picture,
            stride: picture.width() as usize * 3,
        }
    }

    /// Samples one px after the other to the right of `(x, y)`, at most [`RUN`].
    ///
    /// With d the map's divisor at the first px, a step of k px goes to u + k·u' / (1 + k·g/d), u' being how
    /// fast u grows there: exact, and small enough for single precision.
    fn run(&self, map: &Homography, x: f64, y: f64, out: &mut [[u8; 3]]) {
        let Homography(h) = map;
        let d = h[6] * x + h[7] * y + h[8];
        let at = map.apply(Point::new(x, y));
        let slope = |a: f64, v: f64| ((a - h[6] * v) / d) as f32;
        let (du, dv, bend) = (slope(h[0], at.x), slope(h[3], at.y), (h[6] / d) as f32);
        let steps = out.len() as f32;
        // The run may leave the plane in front of the camera, or jump farther than single precision reaches
        let far = |v: f32| !(v * steps).is_finite() || (v * steps).abs() > 1e6;
        if far(du) || far(dv) || 1.0 + bend * steps < 0.5 || at.x.abs() > 1e9 || at.y.abs() > 1e9 {
            for (i, out) in out.iter_mut().enumerate() {
                let at = map.apply(Point::new(x + i as f64, y));
                let (u, v) = (at.x - 0.5, at.y - 0.5);
                let (i, j) = (u.floor(), v.floor());
                *out = greys(self.edge(i as i64, j as i64, (u - i) as f32, (v - j) as f32));
            }
            return;
        }
        let (u, v) = (at.x - 0.5, at.y - 0.5);
        let (left, top) = (u.floor(), v.floor());
        let (u, v) = ((u - left) as f32, (v - top) as f32);
        let (left, top) = (left as i32, top as i32);
        let mut places = ([0i32; RUN], [0i32; RUN]);
        let mut parts = ([0f32; RUN], [0f32; RUN]);
        for n in 0..RUN {
            let k = n as i32 as f32;
            let step = k / (1.0 + bend * k);
            let (u, v) = (u + du * step, v + dv * step);
            // Where u is whole, the px before with all the weight on this one serves as well
            let (a, b) = ((u - 0.5) + WHOLE, (v - 0.5) + WHOLE);
            let whole = |v: f32| (v.to_bits() as i32).wrapping_sub(WHOLE.to_bits() as i32);
            places.0[n] = whole(a).wrapping_add(left);
            places.1[n] = whole(b).wrapping_add(top);
            parts.0[n] = u - (a - WHOLE);
            parts.1[n] = v - (b - WHOLE);
        }
        let raw = self.picture.as_raw();
        let (wide, high) = self.picture.dimensions();
        let (last, below) = (wide - 1, high - 1);
        let mut found = [f32x4::ZERO; RUN];
        let places = places.0.iter().zip(&places.1);
        let parts = parts.0.iter().zip(&parts.1);
        let all = found[..out.len()].iter_mut().zip(places.zip(parts));
        for (found, ((&i, &j), (&tx, &ty))) in all {
            if (i as u32) < last && (j as u32) < below {
                let from = (j as usize)
                    .wrapping_mul(self.stride)
                    .wrapping_add((i as usize).wrapping_mul(3));
                let under = from.wrapping_add(self.stride);
                let eight = |at: usize| raw.get(at..at.wrapping_add(8));
                if let (Some(upper), Some(lower)) = (eight(from), eight(under)) {
                    *found = mixed(upper, lower, tx, ty);
                    continue;
                }
            }
            *found = self.edge(i64::from(i), i64::from(j), tx, ty);
        }
        for (out, found) in out.iter_mut().zip(found) {
            *out = greys(found);
        }
    }

    /// A sample of which part lies past the edge.
    #[cold]
    #[inline(never)]
    fn edge(&self, i: i64, j: i64, tx: f32, ty: f32) -> f32x4 {
        let (w, h) = self.picture.dimensions();
        let px = |dx: i64, dy: i64| {
            let x = i.saturating_add(dx).clamp(0, i64::from(w) - 1) as u32;
            let y = j.saturating_add(dy).clamp(0, i64::from(h) - 1) as u32;
            self.picture.get_pixel(x, y).0
        };
        let two = |[a, b, c]: [u8; 3], [d, e, f]: [u8; 3]| [a, b, c, d, e, f, 0, 0];
        let (upper, lower) = (two(px(0, 0), px(1, 0)), two(px(0, 1), px(1, 1)));
        mixed(&upper, &lower, tx, ty)
    }
}

/// Added to a single-precision number below 4 million, 2^23 leaves the nearest whole number in the lower
/// bits.
fn greys(mixed: f32x4) -> [u8; 3] {
    let [r, g, b, _] = (mixed + f32x4::splat(8_388_608.0)).to_array();
    [r, g, b].map(|v| v.to_bits() as u8)
}

/// Two px and the two below them, mixed by how far to the right and down the place lies, 0 to 1 each.
/// Eight bytes a row, of which the first six are the two px; the fourth number of the mixture says nothing
/// (four at once take less time than three).
#[inline]
fn mixed(upper: &[u8], lower: &[u8], tx: f32, ty: f32) -> f32x4 {
    let both = |row: &[u8]| {
        let row = row.first_chunk().map_or(0, |r| u64::from_le_bytes(*r));
        let apart = (row & 0xffff_ffff) | ((row >> 24) << 32);
        let bytes: u8x16 = bytemuck::cast([apart, 0]);
        f32x8::from_i32x8(i32x8::from_i16x8(i16x8::from_u8x16_low(bytes)))
    };
    let (upper, lower) = (both(upper), both(lower));
    let column = upper + (lower - upper) * f32x8::splat(ty);
    let [left, right]: [f32x4; 2] = bytemuck::cast(column);
    left + (right - left) * f32x4::splat(tx)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// One place after the other in double precision.
    fn plain(photograph: &RgbImage, outline: &Quad) -> Option<Vec<[f64; 3]>> {
        let (w, h) = outline.size();
        let (w, h) = (w.round() as u32, h.round() as u32);
        let map = Homography::between(&frame(w, h), outline)?;
        let (wide, high) = photograph.dimensions();
        let px = |x: f64, y: f64, c: usize| {
            let x = x.clamp(0.0, f64::from(wide) - 1.0) as u32;
            let y = y.clamp(0.0, f64::from(high) - 1.0) as u32;
            f64::from(photograph.get_pixel(x, y).0[c])
        };
        let places = (0..h).flat_map(|y| (0..w).map(move |x| (f64::from(x), f64::from(y))));
        let sampled = places.map(|(x, y)| {
            let at = map.apply(Point::new(x + 0.5, y + 0.5));
            let (u, v) = (at.x - 0.5, at.y - 0.5);
            let (i, j) = (u.floor(), v.floor());
            let (tx, ty) = (u - i, v - j);
            std::array::from_fn(|c| {
                let row = |j: f64| px(i, j, c) * (1.0 - tx) + px(i + 1.0, j, c) * tx;
                row(j) * (1.0 - ty) + row(j + 1.0) * ty
            })
        });
        Some(sampled.collect())
    }

    fn corner(x: std::ops::Range<f64>, y: std::ops::Range<f64>) -> impl Strategy<Value = Point> {
        (x, y).prop_map(|(x, y)| Point::new(x, y))
    }

    proptest! {
        #[test]
        fn flattening_equals_its_plain_twin(
            seed in any::<u32>(),
            wide in 200u32..400,
            a in corner(-40.0..120.0, -20.0..20.0),
            b in corner(250.0..700.0, -20.0..20.0),
            c in corner(250.0..700.0, 40.0..90.0),
            d in corner(-40.0..120.0, 40.0..90.0),
        ) {
            let photograph = RgbImage::from_fn(wide, 60, |x, y| {
                let n = (x * 7 + y * 131).wrapping_mul(2_654_435_761).wrapping_add(seed);
                image::Rgb([(n >> 8) as u8, (n >> 16) as u8, (n >> 24) as u8])
            });
            let outline = Quad([a, b, c, d]);
            let Some(plain) = plain(&photograph, &outline) else { return Ok(()) };
            let flat = exactly(&photograph, &outline).picture;
            prop_assert_eq!(flat.pixels().len(), plain.len());
            for (k, (px, plain)) in flat.pixels().zip(&plain).enumerate() {
                for (found, plain) in px.0.iter().zip(plain) {
                    // Half a grey for rounding, the rest for places that are off by a few 1e-4 px on noise
                    let off = (f64::from(*found) - plain).abs();
                    prop_assert!(off <= 0.75, "px {k}: {found} {plain}");
                }
            }
        }
    }
}
