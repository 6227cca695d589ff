//! How legible the cleaned pictures of one crop are, measured on all of them alike.
//!
//! They are held against the same lettering: what at least half of them take for ink (each below its
//! own Otsu threshold) and what lies in pieces of the size of letters. So a picture can't win by
//! calling something else lettering than the others do.

use super::letters::{Piece, pieces};
use super::threshold::{at_level, otsu};
use image::GrayImage;

/// What was measured of a cleaned picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Merit {
    /// How far the lettering's mean grey stands off that of the ground beside it, in deviations of
    /// both (root mean square of the two).
    pub apart: f64,
    /// Share of the picture's own ink that lies where the lettering is, 0 to 1: the rest is grain,
    /// stain and rules.
    pub in_letters: f64,
}

/// Deviation that no picture stays below, grey values: thresholded ones have hardly any.
const LEAST_SPREAD: f64 = 12.0;

/// Measures pictures of one size and one crop, dark lettering on light ground.
///
/// * `height`: of a typical letter, px of the pictures.
///
/// `None` where they have no lettering in common. Cost: a few passes over each picture.
pub fn merits(pictures: &[&GrayImage], height: f64) -> Option<Vec<Merit>> {
    let first = pictures.first()?;
    let (w, h) = first.dimensions();
    if pictures.iter().any(|p| p.dimensions() != (w, h)) {
        return None;
    }
    let masks: Vec<GrayImage> = pictures.iter().map(|p| at_level(p, otsu(p))).collect();
    let votes = |i: usize| masks.iter().filter(|m| m.as_raw()[i] > 0).count();
    let mut common = GrayImage::new(w, h);
    for (i, v) in common.iter_mut().enumerate() {
        *v = if 2 * votes(i) >= masks.len() { 255 } else { 0 };
    }
    let like = |p: &Piece| {
        let (wide, tall) = (f64::from(p.width()), f64::from(p.height()));
        (0.4 * height..=2.5 * height).contains(&tall) && wide <= 8.0 * height
    };
    let letters: Vec<Piece> = pieces(&common).into_iter().filter(like).collect();
    let part = places(&letters, &common, (height / 4.0).ceil() as u32);
    let count = |wanted: Place| part.iter().filter(|p| **p == wanted).count() as f64;
    let (ink, ground) = (count(Place::Ink), count(Place::Ground));
    if ink < 16.0 || ground < 16.0 {
        return None;
    }
    let measured = pictures.iter().zip(&masks).map(|(picture, mask)| {
        let mut sums = [[0.0f64; 2]; 2];
        let (mut own, mut inside) = (0.0, 0.0);
        for ((v, m), place) in picture.as_raw().iter().zip(mask.as_raw()).zip(&part) {
            let v = f64::from(*v);
            let add = |s: &mut [f64; 2]| *s = [s[0] + v, s[1] + v * v];
            match place {
                Place::Ink => add(&mut sums[0]),
                Place::Ground => add(&mut sums[1]),
                Place::Rim | Place::Outside => {}
            }
            own += f64::from(u8::from(*m > 0));
            inside += f64::from(u8::from(*m > 0 && matches!(place, Place::Ink | Place::Rim)));
        }
        let [dark, light] = [(sums[0], ink), (sums[1], ground)].map(|(s, n)| {
            let mean = s[0] / n;
            (mean, (s[1] / n - mean * mean).max(0.0))
        });
        let spread = ((dark.1 + light.1) / 2.0).sqrt().max(LEAST_SPREAD);
        Merit {
            apart: (light.0 - dark.0) / spread,
            in_letters: if own > 0.0 { inside / own } else { 0.0 },
        }
    });
    Some(measured.collect())
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Outside,
    /// Beside letters, at least one px off any ink.
    Ground,
    /// Touches a letter: partly ink.
    Rim,
    Ink,
}

/// What each px is, row by row; letters' boxes are looked at with a margin of `round` px.
fn places(letters: &[Piece], ink: &GrayImage, round: u32) -> Vec<Place> {
    let (w, h) = ink.dimensions();
    let mut out = vec![Place::Outside; (w * h) as usize];
    let at = |x: u32, y: u32| (y * w + x) as usize;
    let raw = ink.as_raw();
    for p in letters {
        for y in p.top.saturating_sub(round)..(p.bottom + round + 1).min(h) {
            for x in p.left.saturating_sub(round)..(p.right + round + 1).min(w) {
                let inside = (p.left..=p.right).contains(&x) && (p.top..=p.bottom).contains(&y);
                let near = || {
                    let rows = y.saturating_sub(1)..(y + 2).min(h);
                    rows.into_iter().any(|v| {
                        let row = &raw[at(0, v)..at(0, v) + w as usize];
                        let across = x.saturating_sub(1) as usize..((x + 2).min(w)) as usize;
                        row[across].iter().any(|m| *m > 0)
                    })
                };
                let place = &mut out[at(x, y)];
                if raw[at(x, y)] > 0 {
                    if inside {
                        *place = Place::Ink;
                    }
                } else if *place == Place::Outside {
                    *place = if near() { Place::Rim } else { Place::Ground };
                }
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    /// Bars 3 px wide and 20 high, every 14 px, with grain of `grain` greys to either side.
    fn bars(ink: u8, ground: u8, grain: u32) -> GrayImage {
        GrayImage::from_fn(300, 60, |x, y| {
            let on = (20..40).contains(&y) && x % 14 < 3 && (20..280).contains(&x);
            let n = (x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503)) >> 9;
            let grain = (n % (2 * grain + 1)) as i32 - grain as i32;
            let v = i32::from(if on { ink } else { ground }) + grain;
            Luma([v.clamp(0, 255) as u8])
        })
    }

    #[test]
    fn the_picture_with_more_contrast_and_less_grain_has_more_merit() {
        let pictures = [bars(40, 220, 5), bars(40, 220, 40), bars(150, 220, 40)];
        let all = merits(&pictures.iter().collect::<Vec<_>>(), 20.0).unwrap();
        assert!(
            all[0].apart > all[1].apart && all[1].apart > all[2].apart,
            "{all:?}"
        );
        // 180 greys over the least spread
        assert!((all[0].apart - 180.0 / LEAST_SPREAD).abs() < 0.5, "{all:?}");
        assert!(all[0].in_letters > 0.99);
    }

    #[test]
    fn ink_beside_the_lettering_counts_against_a_picture() {
        let clean = bars(40, 220, 5);
        let mut stained = clean.clone();
        for y in 45..60 {
            for x in 0..300 {
                stained.put_pixel(x, y, Luma([40]));
            }
        }
        let all = merits(&[&clean, &clean, &stained], 20.0).unwrap();
        assert!(
            all[2].in_letters < 0.5 && all[0].in_letters > 0.99,
            "{all:?}"
        );
        assert!((all[2].apart - all[0].apart).abs() < 0.5, "{all:?}");
    }

    #[test]
    fn nothing_is_measured_where_nothing_is_lettering_or_sizes_differ() {
        let blank = GrayImage::from_pixel(50, 40, Luma([200]));
        assert!(merits(&[&blank, &blank], 20.0).is_none());
        assert!(merits(&[&blank, &bars(0, 255, 0)], 20.0).is_none());
        assert!(merits(&[], 20.0).is_none());
    }
}
