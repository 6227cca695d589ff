//! What light from several sides shows: pressed letters, pencil grooves, brush strokes.
//!
//! Of a surface that scatters light evenly, what a photograph shows is its own lightness times how far
//! the surface faces the light (Lambert). In the logarithm that is a sum: the surface's own part is the
//! same in all photographs and falls out of their differences. What is left is the slope of the surface
//! along the direction in which the light differed (the idea of shape from several lights, Woodham
//! 1980, without knowing where the lights stood): the first principal component over the photographs.

use super::join::Laid;
use super::register::box_mean;
use image::{GrayImage, Luma, RgbImage, imageops};

/// A relief picture.
#[derive(Debug, Clone)]
pub struct Relief {
    /// Slopes as grey values, level ground at 128, in the frame of the first.
    pub picture: GrayImage,
    /// Photographs that went into it, the first among them.
    pub used: usize,
    /// Share of the differences that one direction accounts for, 0 to 1: low where the photographs
    /// differ by something else than the side of the light.
    pub share: f64,
}

/// Spread that reaches from black to white, deviations to either side.
const SPAN: f64 = 3.0;

/// The relief that photographs of one mark under light from different sides show; `None` where there
/// is no other or nothing differs. Which way is up isn't known: grooves and ridges may be exchanged.
///
/// * `others`: laid on `first`, of its size.
pub fn relief(first: &RgbImage, others: &[Laid]) -> Option<Relief> {
    let (w, h) = first.dimensions();
    let n = (w * h) as usize;
    let mut seen = vec![true; n];
    let mut logs = vec![log_of(first)];
    for o in others {
        seen.iter_mut().zip(&o.seen).for_each(|(s, t)| *s &= t);
        logs.push(log_of(&o.picture));
    }
    let count = logs.len();
    if count < 2 || w < 8 || h < 8 {
        return None;
    }
    // Light that falls off over the picture is no relief.
    let radius = (w.max(h) as usize / 12).max(4);
    for l in &mut logs {
        let wide = box_mean(l, w as usize, h as usize, radius);
        l.iter_mut().zip(wide).for_each(|(v, m)| *v -= m);
    }
    for i in 0..n {
        let mean = logs.iter().map(|l| l[i]).sum::<f32>() / count as f32;
        logs.iter_mut().for_each(|l| l[i] -= mean);
    }
    let (weights, share) = first_component(&logs, &seen)?;
    let slope: Vec<f64> = (0..n)
        .map(|i| {
            let sum = logs.iter().zip(&weights).map(|(l, w)| f64::from(l[i]) * w);
            if seen[i] { sum.sum() } else { 0.0 }
        })
        .collect();
    let spread = (slope.iter().map(|v| v * v).sum::<f64>() / n as f64).sqrt();
    if spread < 1e-4 {
        return None;
    }
    let picture = GrayImage::from_fn(w, h, |x, y| {
        let v = slope[(y * w + x) as usize] / (SPAN * spread);
        Luma([(128.0 + 127.0 * v).round().clamp(0.0, 255.0) as u8])
    });
    Some(Relief {
        picture,
        used: count,
        share,
    })
}

fn log_of(picture: &RgbImage) -> Vec<f32> {
    let grey = imageops::blur(&imageops::grayscale(picture), 0.8);
    grey.pixels()
        .map(|p| (f32::from(p.0[0]) + 2.0).ln())
        .collect()
}

/// Weights of the photographs along which they differ most, the first's not negative, and the share of
/// all difference that lies along them; by power iteration. `None` where nothing differs.
fn first_component(logs: &[Vec<f32>], seen: &[bool]) -> Option<(Vec<f64>, f64)> {
    let k = logs.len();
    let product = |a: &[f32], b: &[f32]| -> f64 {
        let both = a.iter().zip(b).zip(seen);
        both.filter(|v| *v.1)
            .map(|((a, b), _)| f64::from(*a) * f64::from(*b))
            .sum()
    };
    let shared: Vec<Vec<f64>> = logs
        .iter()
        .map(|a| logs.iter().map(|b| product(a, b)).collect())
        .collect();
    let all: f64 = shared.iter().enumerate().map(|(a, row)| row[a]).sum();
    let mut v: Vec<f64> = (0..k).map(|a| 1.0 - 1.7 * a as f64).collect();
    let mut length = 0.0;
    for _ in 0..60 {
        let next: Vec<f64> = shared
            .iter()
            .map(|row| row.iter().zip(&v).map(|(a, b)| a * b).sum())
            .collect();
        length = next.iter().map(|x| x * x).sum::<f64>().sqrt();
        if length <= 1e-12 {
            return None;
        }
        v = next.iter().map(|x| x / length).collect();
    }
    if v[0] < 0.0 {
        v.iter_mut().for_each(|x| *x = -*x);
    }
    Some((v, (length / all).min(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    /// Depth of a dent at the middle of each square of a board, and its printed lightness.
    fn depth(x: f64, y: f64) -> f64 {
        let (u, v) = (x.rem_euclid(37.0) - 18.0, y.rem_euclid(31.0) - 15.0);
        -3.0 * (-(u * u + v * v) / 30.0).exp()
    }
    fn own(x: u32, y: u32) -> f64 {
        let n = (x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503)) >> 7;
        // Printed patches without a period, or the photographs may be laid on each other a period off
        let cell = (x / 23).wrapping_mul(0x9E37_79B9) ^ (y / 19).wrapping_mul(0x85EB_CA6B);
        let blot = f64::from(u8::from((cell >> 15).is_multiple_of(3)));
        120.0 + f64::from(n % 9) + 60.0 * blot
    }
    fn slope(x: u32, y: u32) -> f64 {
        let (x, y) = (f64::from(x), f64::from(y));
        (depth(x + 0.5, y) - depth(x - 0.5, y)) * 0.5
    }
    fn lit(from: f64) -> RgbImage {
        RgbImage::from_fn(240, 180, |x, y| {
            let fall = 1.0 + from * 0.2 * (f64::from(x) / 240.0 - 0.5);
            let v = own(x, y) * fall * (1.0 + from * slope(x, y));
            Rgb([v.round().clamp(0.0, 255.0) as u8; 3])
        })
    }
    fn alike(picture: &GrayImage, of: impl Fn(u32, u32) -> f64) -> f64 {
        let mut s = [0.0f64; 5];
        let inner = |x: u32, y: u32| (12..228).contains(&x) && (12..168).contains(&y);
        let n = picture
            .enumerate_pixels()
            .filter(|p| inner(p.0, p.1))
            .count() as f64;
        for (x, y, p) in picture.enumerate_pixels().filter(|p| inner(p.0, p.1)) {
            let (a, b) = (f64::from(p.0[0]), of(x, y));
            s = [s[0] + a, s[1] + b, s[2] + a * a, s[3] + b * b, s[4] + a * b];
        }
        let top = s[4] / n - s[0] / n * s[1] / n;
        let below = (s[2] / n - (s[0] / n).powi(2)) * (s[3] / n - (s[1] / n).powi(2));
        top / below.sqrt()
    }

    #[test]
    fn light_from_two_sides_shows_dents_and_not_what_is_printed() {
        let first = lit(0.5);
        let r = relief(&first, &[Laid::on(&first, &lit(-0.5)).unwrap()]).unwrap();
        assert_eq!(r.used, 2);
        assert!(r.share > 0.99);
        let (relief, print) = (alike(&r.picture, slope), alike(&r.picture, own));
        assert!(relief.abs() > 0.8, "{relief}");
        assert!(print.abs() < 0.2, "{print}");
    }

    #[test]
    fn equal_photographs_and_strangers_show_no_relief() {
        let one = lit(0.5);
        assert!(relief(&one, &[Laid::on(&one, &one).unwrap()]).is_none());
        assert!(relief(&one, &[]).is_none());
        let even = RgbImage::from_pixel(240, 180, Rgb([90, 90, 90]));
        assert!(Laid::on(&one, &even).is_none());
    }
}
