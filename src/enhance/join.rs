//! Several photographs of one mark joined, so that lettering lost to glare in one comes from another.

use super::register::box_mean;
pub use super::register::{ALIKE, Placed, register};
use image::{Rgb, RgbImage, imageops};

/// Values from which a channel has run out of range.
const CLIPPED: u8 = 250;

/// Photographs of one mark in one.
#[derive(Debug, Clone)]
pub struct Joined {
    /// In the frame of the first.
    pub picture: RgbImage,
    /// Share of the picture that comes mainly from the first, then from each of the others; sums
    /// to 1.
    pub shares: Vec<f64>,
}

/// Another photograph of a mark, laid on the first.
#[derive(Debug, Clone)]
pub struct Laid {
    /// In the frame and the brightness of the first; black where it shows nothing.
    pub picture: RgbImage,
    /// For each px, row by row, whether the other photograph shows it.
    pub seen: Vec<bool>,
}

impl Laid {
    /// Lays `other` on `first`; `None` if it isn't recognisably the same mark.
    pub fn on(first: &RgbImage, other: &RgbImage) -> Option<Laid> {
        register(first, other).map(|placed| Laid::by(first, other, &placed))
    }

    /// The other in the frame of the first, in the first's brightness.
    pub(super) fn by(first: &RgbImage, other: &RgbImage, placed: &Placed) -> Laid {
        let (picture, seen) = laid(first, other, placed);
        Laid { picture, seen }
    }

    /// The picture, grey where the other shows nothing.
    pub fn over_grey(self) -> RgbImage {
        let mut picture = self.picture;
        for (px, there) in picture.pixels_mut().zip(self.seen) {
            if !there {
                *px = Rgb([128; 3]);
            }
        }
        picture
    }
}

/// Joins photographs of one mark: at each place the picture with the most local contrast and the
/// least that has run out of range weighs most. No photograph is changed. A share of what is lost
/// in all of them stays lost.
///
/// * `others`: laid on `first`, of its size.
pub fn join(first: &RgbImage, others: &[Laid]) -> Joined {
    let (w, h) = first.dimensions();
    let whole = vec![true; (w * h) as usize];
    let pictures: Vec<(&RgbImage, &[bool])> = std::iter::once((first, whole.as_slice()))
        .chain(others.iter().map(|o| (&o.picture, o.seen.as_slice())))
        .collect();
    let worths: Vec<Vec<f32>> = pictures.iter().map(|(p, seen)| worth(p, seen)).collect();
    let mut shares = vec![0.0; pictures.len()];
    let mut picture = first.clone();
    for (i, px) in picture.pixels_mut().enumerate() {
        let at = (i as u32 % w.max(1), i as u32 / w.max(1));
        let (mut sum, mut all, mut most) = ([0.0f32; 3], 0.0f32, (0usize, 0.0f32));
        for (k, ((p, _), v)) in pictures.iter().zip(&worths).enumerate() {
            if v[i] > most.1 {
                most = (k, v[i]);
            }
            for (s, c) in sum.iter_mut().zip(p.get_pixel(at.0, at.1).0) {
                *s += v[i] * f32::from(c);
            }
            all += v[i];
        }
        if all > 0.0 {
            *px = Rgb(sum.map(|s| (s / all).round().clamp(0.0, 255.0) as u8));
        }
        shares[most.0] += 1.0 / f64::from(w * h);
    }
    Joined { picture, shares }
}

fn clipped(p: &Rgb<u8>) -> bool {
    p.0.iter().any(|&c| c >= CLIPPED) || p.0.iter().all(|&c| c <= 4)
}

/// The other in the frame of the first, in the first's brightness, with what of it is seen.
fn laid(first: &RgbImage, other: &RgbImage, placed: &Placed) -> (RgbImage, Vec<bool>) {
    let (w, h) = first.dimensions();
    let mut seen = vec![false; (w * h) as usize];
    let mut out = RgbImage::new(w, h);
    let (mut mine, mut theirs) = ([1.0f64; 3], [1.0f64; 3]);
    let (ow, oh) = other.dimensions();
    for (i, (x, y, px)) in out.enumerate_pixels_mut().enumerate() {
        let (u, v) = placed.apply(f64::from(x) + 0.5, f64::from(y) + 0.5);
        let (u, v) = (u - 0.5, v - 0.5);
        if !(u >= 0.0 && v >= 0.0 && u <= f64::from(ow - 1) && v <= f64::from(oh - 1)) {
            continue;
        }
        let (a, b) = (u as u32, v as u32);
        let (c, d) = ((a + 1).min(ow - 1), (b + 1).min(oh - 1));
        let (s, t) = (u - f64::from(a), v - f64::from(b));
        *px = Rgb(std::array::from_fn(|k| {
            let at = |x, y| f64::from(other.get_pixel(x, y).0[k]);
            let top = (1.0 - s) * at(a, b) + s * at(c, b);
            let low = (1.0 - s) * at(a, d) + s * at(c, d);
            ((1.0 - t) * top + t * low).round() as u8
        }));
        seen[i] = true;
        let p = first.get_pixel(x, y);
        if !clipped(p) && !clipped(px) {
            let add = |to: &mut [f64; 3], from: &Rgb<u8>| {
                to.iter_mut()
                    .zip(from.0)
                    .for_each(|(t, f)| *t += f64::from(f));
            };
            add(&mut mine, p);
            add(&mut theirs, px);
        }
    }
    for px in out.pixels_mut().filter(|p| !clipped(p)) {
        // 249 at most: what was in range stays so.
        px.0 = std::array::from_fn(|k| {
            (f64::from(px.0[k]) * mine[k] / theirs[k])
                .round()
                .clamp(0.0, 249.0) as u8
        });
    }
    (out, seen)
}

/// How much each place of a picture has to tell.
fn worth(picture: &RgbImage, seen: &[bool]) -> Vec<f32> {
    let grey = imageops::grayscale(picture);
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let v: Vec<f32> = grey.pixels().map(|p| f32::from(p.0[0])).collect();
    let radius = (w.max(h) / 100).max(4);
    let mean = box_mean(&v, w, h, radius);
    let squares: Vec<f32> = v.iter().map(|v| v * v).collect();
    let squares = box_mean(&squares, w, h, radius);
    let lost: Vec<f32> = picture
        .pixels()
        .map(|p| f32::from(u8::from(clipped(p))))
        .collect();
    let lost = box_mean(&lost, w, h, radius);
    (0..v.len())
        .map(|i| {
            if !seen[i] {
                return 0.0;
            }
            let contrast = (squares[i] - mean[i] * mean[i]).max(0.0).sqrt();
            (((contrast + 1.0) * (1.0 - lost[i]).max(0.01)).powi(3)).max(1e-6)
        })
        .collect()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::geometry::Homography;

    /// A cream label with strokes like letters, others for another seed.
    pub(in crate::enhance) fn label(w: u32, h: u32, seed: u32) -> RgbImage {
        let mut p = RgbImage::from_pixel(w, h, Rgb([226, 216, 190]));
        let mut state = seed;
        let mut next = |n: u32| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) % n
        };
        for row in 0..h / 40 {
            let mut x = 15 + next(20);
            while x + 40 < w {
                let (y, long, wide) = (row * 40 + 8, 12 + next(14), 3 + next(12));
                for (dx, dy, sw, sh) in [(0, 0, 4, long), (0, next(long), wide, 3)] {
                    for yy in y + dy..(y + dy + sh).min(h) {
                        for xx in x + dx..(x + dx + sw).min(w) {
                            p.put_pixel(xx, yy, Rgb([50, 42, 38]));
                        }
                    }
                }
                x += 10 + next(16) + if next(5) == 0 { 22 } else { 0 };
            }
        }
        p
    }

    /// The picture seen through a known map from its own px, under a light that falls off.
    fn seen_by(p: &RgbImage, back: &Placed, size: (u32, u32)) -> RgbImage {
        RgbImage::from_fn(size.0, size.1, |x, y| {
            let (u, v) = back.apply(f64::from(x) + 0.5, f64::from(y) + 0.5);
            let light = 0.95 - 0.4 * f32::from(x as u16) / size.0 as f32;
            let inside = u >= 0.5
                && v >= 0.5
                && u < f64::from(p.width()) - 0.5
                && v < f64::from(p.height()) - 0.5;
            if !inside {
                return Rgb([90, 70, 50].map(|c: u8| (f32::from(c) * light) as u8));
            }
            let (u, v) = (u - 0.5, v - 0.5);
            let (i, j) = (u as u32, v as u32);
            let (s, t) = ((u - f64::from(i)) as f32, (v - f64::from(j)) as f32);
            Rgb(std::array::from_fn(|k| {
                let at = |x, y| f32::from(p.get_pixel(x, y).0[k]);
                let c = (1.0 - t) * ((1.0 - s) * at(i, j) + s * at(i + 1, j))
                    + t * ((1.0 - s) * at(i, j + 1) + s * at(i + 1, j + 1));
                (c * light) as u8
            }))
        })
    }

    fn glare(p: &mut RgbImage, centre: (f64, f64), radius: f64) {
        for (x, y, px) in p.enumerate_pixels_mut() {
            if (f64::from(x) - centre.0).hypot(f64::from(y) - centre.1) < radius {
                *px = Rgb([255, 255, 255]);
            }
        }
    }

    /// From the second picture's px to the label's: turned by 4°, larger, in perspective.
    fn back() -> Placed {
        let (s, c) = 4.0f64.to_radians().sin_cos();
        let k = 1.0 / 1.2;
        Placed {
            map: Homography([k * c, -k * s, 14.0, k * s, k * c, -22.0, 6e-5, -4e-5, 1.0]),
            likeness: 1.0,
        }
    }

    /// How far the found map misses, px of the second, at places across the label.
    fn misses(found: &Placed, truth: &Placed) -> f64 {
        let mut worst: f64 = 0.0;
        for (x, y) in [
            (60.0, 60.0),
            (640.0, 60.0),
            (60.0, 420.0),
            (640.0, 420.0),
            (350.0, 240.0),
        ] {
            let (u, v) = truth.apply(x, y);
            let (a, b) = found.apply(u, v);
            worst = worst.max((a - x).hypot(b - y));
        }
        worst
    }

    #[test]
    fn a_second_photograph_is_laid_on_the_first_to_a_pixel() {
        let mut first = label(600, 400, 7);
        let mut other = seen_by(&first, &back(), (720, 500));
        let found = register(&first, &other).expect("the same label");
        assert!(misses(&found, &back()) < 1.0, "{}", misses(&found, &back()));
        glare(&mut first, (150.0, 150.0), 80.0);
        glare(&mut other, (560.0, 300.0), 90.0);
        let found = register(&first, &other).expect("the same label under glare");
        assert!(misses(&found, &back()) < 1.5, "{}", misses(&found, &back()));
    }

    #[test]
    fn letters_lost_to_glare_come_from_the_other_photograph() {
        let clean = label(600, 400, 7);
        let mut other = seen_by(&clean, &back(), (720, 500));
        glare(&mut other, (560.0, 300.0), 90.0);
        let mut first = clean.clone();
        glare(&mut first, (150.0, 150.0), 80.0);
        let joined = join(&first, &[Laid::on(&first, &other).unwrap()]);
        let error = |p: &RgbImage| {
            let (mut sum, mut n) = (0.0, 0.0);
            for (x, y, px) in p.enumerate_pixels() {
                if (f64::from(x) - 150.0).hypot(f64::from(y) - 150.0) < 80.0 {
                    sum += f64::from(px.0[1].abs_diff(clean.get_pixel(x, y).0[1]));
                    n += 1.0;
                }
            }
            sum / n
        };
        let (before, after) = (error(&first), error(&joined.picture));
        assert!(after < before / 2.0, "{before} before, {after} after");
        assert!((joined.shares.iter().sum::<f64>() - 1.0).abs() < 1e-6);
        assert!(joined.shares[1] > 0.05);
    }

    #[test]
    fn a_photograph_of_another_mark_is_not_laid_on_it() {
        let first = label(600, 400, 7);
        for seed in [11, 12] {
            let placed = register(&first, &label(600, 400, seed));
            assert!(placed.is_none(), "{placed:?}");
        }
    }

    #[test]
    fn pictures_without_anything_to_hold_on_to_are_not_laid_on_each_other() {
        let blank = RgbImage::from_pixel(200, 150, Rgb([200, 190, 170]));
        assert!(register(&blank, &blank).is_none());
        for (w, h) in [(0, 0), (1, 300), (23, 23)] {
            let p = RgbImage::new(w, h);
            assert!(register(&p, &label(200, 200, 1)).is_none());
            assert_eq!(join(&p, &[]).picture, p);
        }
    }
}
