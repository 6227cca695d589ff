//! Whether a patch is a scale laid beside the object: a ruler or a bar with graduations.

use super::{Mark, flatten};
use image::{GrayImage, Luma, imageops};
use imageproc::contrast::adaptive_threshold;

/// Longer side of the picture that is looked at, px.
const LONGER: f64 = 700.0;
/// Reach of the place by which a pixel is told dark or light, px.
const AROUND: u32 = 15;
/// By how many levels of grey it has to differ from that.
const DARKER: i32 = 12;
/// Fewest graduations in a row: a centimetre and a half in millimetres. A bar code of a short number has fewer stripes
/// that stand evenly.
const LEAST_COUNT: usize = 16;
/// Least distance between graduations, px: closer ones are the strokes of small lettering.
const LEAST_APART: f64 = 6.0;
/// By what share of itself the distance may change from one to the next: cameras look from aside, and pixels are whole.
const UNEVEN: f64 = 0.2;
/// Widest a graduation may be, as a share of the distance.
const WIDEST: f64 = 0.55;
/// How long graduations are at least, in distances: those of a ruler three and more, the teeth of a perforated edge half.
const LEAST_LONG: f64 = 1.0;

/// See [`super::is_scale`].
pub(super) fn is_scale(photograph: &image::RgbImage, mark: &Mark) -> bool {
    let flat = imageops::grayscale(&flatten::flatten(photograph, mark).picture);
    let (w, h) = flat.dimensions();
    let by = LONGER / f64::from(w.max(h).max(1));
    let side = |n: u32| ((f64::from(n) * by).round() as u32).max(1);
    let flat = imageops::resize(&flat, side(w), side(h), imageops::FilterType::Triangle);
    let across = imageops::rotate90(&flat);
    [&flat, &across].into_iter().any(|picture| {
        let mut light = picture.clone();
        imageops::invert(&mut light);
        // Marked dark on light, or light on dark
        [picture, &light].into_iter().any(has_graduations)
    })
}

/// Whether dark upright strokes stand in a row, evenly spaced, over as many rows of pixels as they are apart.
fn has_graduations(picture: &GrayImage) -> bool {
    let lit = adaptive_threshold(picture, AROUND, DARKER);
    let (mut long, mut last) = (0, None);
    lit.rows().any(|row| {
        let apart = comb(row).filter(|apart| *apart >= LEAST_APART);
        let goes_on = apart.zip(last).is_some_and(|(a, l)| like(a, l));
        long = match apart {
            Some(_) if goes_on => long + 1,
            Some(_) => 1,
            None => 0,
        };
        last = apart;
        apart.is_some_and(|a| f64::from(long) >= LEAST_LONG * a)
    })
}

fn like(one: f64, other: f64) -> bool {
    (one - other).abs() <= UNEVEN * other
}

/// The distance between the strokes that a row of pixels cuts, where [`LEAST_COUNT`] of them stand evenly one after
/// the other, px.
fn comb<'a>(row: impl Iterator<Item = &'a Luma<u8>>) -> Option<f64> {
    let dark: Vec<bool> = row.map(|p| p.0[0] == 0).collect();
    let mut at = 0;
    // Middle and width of each stroke
    let strokes: Vec<(f64, f64)> = dark
        .chunk_by(|a, b| a == b)
        .filter_map(|run| {
            let (from, is_dark) = (at, run[0]);
            at += run.len();
            let width = run.len() as f64;
            is_dark.then_some((from as f64 + width / 2.0, width))
        })
        .collect();
    let gaps: Vec<f64> = strokes.windows(2).map(|s| s[1].0 - s[0].0).collect();
    let even = gaps.chunk_by(|a, b| like(*b, *a));
    let mut from = 0;
    even.map(|run| {
        let own = &strokes[from..=from + run.len()];
        from += run.len();
        let apart = run.iter().sum::<f64>() / run.len() as f64;
        let width = own.iter().map(|s| s.1).sum::<f64>() / own.len() as f64;
        (own.len() >= LEAST_COUNT && width < WIDEST * apart).then_some(apart)
    })
    .find_map(|apart| apart)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::marks::{Bearing, MarkKind};
    use image::{Rgb, RgbImage};
    use imageproc::drawing::draw_filled_rect_mut;

    /// A strip of 800 × 120 px with strokes every `apart` px, each so long and wide.
    fn strip(apart: usize, (wide, long): (u32, u32), ground: u8, ink: u8) -> RgbImage {
        let mut picture = RgbImage::from_pixel(800, 120, Rgb([ground; 3]));
        for (n, x) in (10..780).step_by(apart).enumerate() {
            let more = if n % 5 == 0 { long / 2 } else { 0 };
            let stroke = imageproc::rect::Rect::at(x, 10).of_size(wide, long + more);
            draw_filled_rect_mut(&mut picture, stroke, Rgb([ink; 3]));
        }
        picture
    }

    fn is_one(picture: &RgbImage) -> bool {
        let (w, h) = picture.dimensions();
        is_scale(
            picture,
            &Mark {
                outline: Rect::new(0, 0, w, h).quad(),
                kind: MarkKind::PrintedLabel,
                kind_chance: 0.9,
                lettering: 0.9,
                bearing: None::<Bearing>,
            },
        )
    }

    #[test]
    fn graduations_are_seen_lying_standing_and_light_on_dark() {
        let ruler = strip(20, (4, 50), 230, 40);
        assert!(is_one(&ruler));
        assert!(is_one(&imageops::rotate90(&ruler)));
        assert!(is_one(&strip(20, (4, 50), 30, 220)));
    }

    #[test]
    fn teeth_of_an_edge_and_a_few_strokes_are_none() {
        assert!(!is_one(&strip(30, (8, 10), 230, 40)));
        assert!(!is_one(&strip(80, (4, 60), 230, 40)));
    }
}
