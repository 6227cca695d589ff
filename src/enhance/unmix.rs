//! Parts ink from a stain of another colour.
//!
//! Densities add (see [`super::ink`]), so a px that bears ink and stain has the density
//! `a · ink + s · stain`, both amounts not negative: the paper is the origin. The two directions are
//! found among the px's own, and each px's amounts by least squares over `a, s ≥ 0` (the idea of
//! colour deconvolution, Ruifrok and Johnston 2001, with the directions measured instead of given).
//! A mixture of the channels takes the stain away where it can; this also doesn't let a px that is
//! darker than both directions allow turn light.

use super::ink::Inks;
use super::light::PAPER;
use image::{GrayImage, RgbImage};

/// Densities below this are grain of the paper.
const GRAIN: f32 = 0.1;
/// Least share of the denser px that each of the two directions must have.
const SHARE: f64 = 0.05;
/// Cosine of the angle between the two from which they are one colour.
const ONE_COLOUR: f32 = 0.985;
/// Rounds of sharing out the px between the two.
const ROUNDS: usize = 8;

/// Ink and stain as directions of colour, each of length 1 in densities of R, G and B.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stain {
    ink: [f32; 3],
    stain: [f32; 3],
    /// Angle between them.
    pub degrees: f64,
}

/// Looks for a stain beside the ink; `None` where all that is dark is of one colour.
pub(super) fn stain(inks: &Inks, crop: &RgbImage) -> Option<Stain> {
    directions(&inks.sample(crop))
}

fn directions(samples: &[[f32; 3]]) -> Option<Stain> {
    let mut dense: Vec<(f32, [f32; 3])> = samples
        .iter()
        .map(|d| (dot(d, d).sqrt(), d))
        .filter(|(l, d)| *l > GRAIN && d.iter().all(|v| *v > -0.2 * l))
        .map(|(l, d)| (l, d.map(|v| v / l)))
        .collect();
    if dense.len() < 64 {
        return None;
    }
    dense.sort_by(|a, b| b.0.total_cmp(&a.0));
    // The rim of strokes is grain and ink: only px of at least a quarter of the full density tell.
    let full = dense[dense.len() / 50].0;
    dense.retain(|d| d.0 > 0.25 * full);
    let mean = |all: &mut dyn Iterator<Item = &(f32, [f32; 3])>| {
        let mut sum = [0.0f32; 3];
        for (l, d) in all {
            (0..3).for_each(|c| sum[c] += l * d[c]);
        }
        unit(sum)
    };
    let darkest = dense.len().div_ceil(20);
    let mut two = [mean(&mut dense.iter().take(darkest))?, [0.0; 3]];
    let far = dense
        .iter()
        .min_by(|a, b| dot(&a.1, &two[0]).total_cmp(&dot(&b.1, &two[0])))?;
    // Not the farthest one, which may be chance, but halfway to it.
    two[1] = unit(std::array::from_fn(|c| two[0][c] + far.1[c]))?;
    let nearer = |d: &[f32; 3], two: &[[f32; 3]; 2]| dot(d, &two[0]) >= dot(d, &two[1]);
    for _ in 0..ROUNDS {
        two = [
            mean(&mut dense.iter().filter(|d| nearer(&d.1, &two)))?,
            mean(&mut dense.iter().filter(|d| !nearer(&d.1, &two)))?,
        ];
    }
    let first: Vec<f32> = dense
        .iter()
        .filter(|d| nearer(&d.1, &two))
        .map(|d| d.0)
        .collect();
    let share = first.len() as f64 / dense.len() as f64;
    let cosine = dot(&two[0], &two[1]);
    if cosine > ONE_COLOUR || !(SHARE..=1.0 - SHARE).contains(&share) {
        return None;
    }
    let second: Vec<f32> = dense
        .iter()
        .filter(|d| !nearer(&d.1, &two))
        .map(|d| d.0)
        .collect();
    // Both are sorted, the densest first: of the two the ink is what is denser where it is densest.
    if second[second.len() / 10] > first[first.len() / 10] {
        two.swap(0, 1);
    }
    Some(Stain {
        ink: two[0],
        stain: two[1],
        degrees: f64::from(cosine).clamp(-1.0, 1.0).acos().to_degrees(),
    })
}

impl Stain {
    /// Amounts of ink and stain in a density, neither negative.
    fn amounts(&self, d: &[f32; 3]) -> (f32, f32) {
        let (di, ds) = (dot(d, &self.ink), dot(d, &self.stain));
        let both = dot(&self.ink, &self.stain);
        let rest = 1.0 - both * both;
        let (ink, stain) = ((di - both * ds) / rest, (ds - both * di) / rest);
        match (ink > 0.0, stain > 0.0) {
            (true, true) => (ink, stain),
            (true, false) => (di.max(0.0), 0.0),
            (false, true) => (0.0, ds.max(0.0)),
            (false, false) => (0.0, 0.0),
        }
    }

    /// The crop with the ink alone, as dense as on its densest channel; dark on light.
    pub fn picture(&self, inks: &Inks, crop: &RgbImage) -> GrayImage {
        let (w, h) = crop.dimensions();
        let mut out = GrayImage::new(w, h);
        let most = self.ink.into_iter().fold(0.0, f32::max);
        let mut row = Vec::new();
        for (y, target) in out.chunks_exact_mut(w.max(1) as usize).enumerate() {
            inks.densities(crop, y as u32, &mut row);
            for (o, d) in target.iter_mut().zip(&row) {
                let ink = self.amounts(d).0 * most;
                *o = (f32::from(PAPER) * (-ink).exp()).round() as u8;
            }
        }
        out
    }
}

fn dot(a: &[f32; 3], b: &[f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn unit(v: [f32; 3]) -> Option<[f32; 3]> {
    let long = dot(&v, &v).sqrt();
    (long > 1e-6).then(|| v.map(|x| x / long))
}

#[cfg(test)]
mod tests {
    use super::*;

    const INK: [f32; 3] = [0.667, 0.667, 0.333];
    const FOXING: [f32; 3] = [0.1, 0.3, 0.949];

    /// Ink alone, stain alone and both, in amounts that vary.
    fn mixed() -> Vec<[f32; 3]> {
        let amount = |i: usize, most: f32| most * (0.3 + 0.7 * ((i * 37 % 101) as f32 / 101.0));
        (0..3000)
            .map(|i| {
                let (a, s) = match i % 5 {
                    0 => (amount(i, 1.4), 0.0),
                    1 => (0.0, amount(i, 0.6)),
                    2 if i % 3 == 0 => (amount(i, 1.4), amount(i + 13, 0.6)),
                    _ => (0.0, 0.0),
                };
                std::array::from_fn(|c| a * INK[c] + s * FOXING[c])
            })
            .collect()
    }

    #[test]
    fn ink_and_stain_are_parted_into_the_amounts_they_were_mixed_from() {
        let found = directions(&mixed()).expect("two colours");
        assert!(dot(&found.ink, &INK) > 0.99, "{found:?}");
        assert!(dot(&found.stain, &FOXING) > 0.99, "{found:?}");
        let exact = Stain {
            ink: unit(INK).unwrap(),
            stain: unit(FOXING).unwrap(),
            degrees: 0.0,
        };
        let (ink, stain) = exact.amounts(&std::array::from_fn(|c| {
            0.8 * exact.ink[c] + 0.3 * exact.stain[c]
        }));
        assert!((ink - 0.8).abs() < 1e-4 && (stain - 0.3).abs() < 1e-4);
    }

    #[test]
    fn amounts_are_never_negative_and_the_nearest_that_there_are() {
        let s = directions(&mixed()).unwrap();
        // Beyond the ink, away from the stain: by hand the projection on the ink alone.
        let beyond: [f32; 3] = std::array::from_fn(|c| s.ink[c] - 0.3 * s.stain[c]);
        let (ink, stain) = s.amounts(&beyond);
        assert_eq!(stain, 0.0);
        assert!((ink - dot(&beyond, &s.ink)).abs() < 1e-5);
        assert_eq!(s.amounts(&[-0.2, -0.3, -0.1]), (0.0, 0.0));
    }

    #[test]
    fn one_ink_on_clean_paper_is_no_stain() {
        let one: Vec<[f32; 3]> = (0..3000)
            .map(|i| {
                let a = if i % 5 == 0 {
                    0.4 + (i % 7) as f32 / 8.0
                } else {
                    0.02
                };
                INK.map(|v| v * a)
            })
            .collect();
        assert!(directions(&one).is_none());
        assert!(directions(&[]).is_none());
    }
}
