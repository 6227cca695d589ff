//! Nothing is read where nothing is written: gaps, rules, dots, grain.

use dorso::geometry::Rect;
use dorso::photograph;
use dorso::readings::LineReader;
use dorso::readings::line_model::LineModel;
use image::{GrayImage, Luma, imageops};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::TAU;

/// Shares of darkness along a length: a smooth walk, about -1 to 1.
fn wave(r: &mut ChaCha8Rng, length: u32, cell: f64) -> Vec<f64> {
    let knots: Vec<f64> = (0..(f64::from(length) / cell) as usize + 3)
        .map(|_| r.random_range(-1.0..1.0))
        .collect();
    (0..length)
        .map(|x| {
            let at = f64::from(x) / cell;
            let (i, part) = (at as usize, at.fract());
            let soft = part * part * (3.0 - 2.0 * part);
            knots[i] + (knots[i + 1] - knots[i]) * soft
        })
        .collect()
}

const KINDS: [&str; 5] = ["gap", "rule", "dots", "grain", "weave"];

/// A strip as a row is cut out, on which nothing is written: paper or wood with its unevenness and noise.
fn strip(kind: &str, seed: u64) -> GrayImage {
    let mut r = ChaCha8Rng::seed_from_u64(seed);
    let (w, h) = (
        r.random_range(90.0..700.0) as u32,
        r.random_range(36.0..90.0) as u32,
    );
    let (paper, shade) = (r.random_range(130.0..235.0), r.random_range(0.0..14.0));
    let (across, down) = (wave(&mut r, w, 90.0), wave(&mut r, h, 40.0));
    let ink = r.random_range(30.0..110.0);
    let at = r.random_range(0.1..0.95) * f64::from(h);
    let (thick, slope) = (r.random_range(0.6..3.0), r.random_range(-0.008..0.008));
    let (period, wide) = (r.random_range(6.0..22.0), r.random_range(1.2..3.2));
    let second = r.random_bool(0.3);
    let (rows, bends) = (wave(&mut r, 3 * h, 5.0), wave(&mut r, w, 160.0));
    let strength = r.random_range(6.0..40.0);
    let (weft, warp) = (r.random_range(2.5..7.0), r.random_range(2.5..7.0));
    let noise = r.random_range(1.0..9.0);
    let mut picture = GrayImage::new(w, h);
    for (x, y, px) in picture.enumerate_pixels_mut() {
        let (fx, fy) = (f64::from(x), f64::from(y));
        let mut grey = paper + shade * (across[x as usize] + down[y as usize]);
        let off = (fy - at - slope * fx).abs();
        match kind {
            "rule" => {
                let near = if second {
                    off.min((off - 8.0).abs())
                } else {
                    off
                };
                grey -= ink * (-(near / thick).powi(2)).exp();
            }
            "dots" => {
                let along = (fx + period / 2.0).rem_euclid(period) - period / 2.0;
                let far = (along * along + off * off).sqrt();
                grey -= ink * (-(far / wide).powi(2)).exp();
            }
            "grain" => {
                let row = fy + f64::from(h) + 0.6 * f64::from(h) * bends[x as usize];
                grey -= strength * rows[(row as usize).min(rows.len() - 1)];
            }
            "weave" => {
                let thread = (fx * TAU / weft).sin() + (fy * TAU / warp).sin();
                grey -= 0.4 * strength * thread;
            }
            _ => {}
        }
        grey += noise * (r.random::<f64>() + r.random::<f64>() + r.random::<f64>() - 1.5);
        *px = Luma([grey.clamp(0.0, 255.0) as u8]);
    }
    imageops::blur(&picture, r.random_range(0.4..1.4f32))
}

/// Mean chance of its letters from which a row may pass for text; of one or two letters more is asked
/// (`readings/calibration.rs`).
const EVEN: f64 = 0.5;

/// What is read of a strip, if it passes for text.
fn text(model: &LineModel, strip: &GrayImage) -> Option<String> {
    let line = model.read(strip).unwrap()?;
    let signs = line.characters.iter();
    let letters = signs.filter(|c| c.text.chars().any(char::is_alphanumeric));
    let chances: Vec<f64> = letters.map(|c| c.confidence).collect();
    let mean = chances.iter().sum::<f64>() / chances.len().max(1) as f64;
    let text = line.characters.iter().map(|c| c.text.as_str()).collect();
    (mean >= EVEN).then_some(text)
}

#[test]
fn at_most_one_strip_in_a_hundred_on_which_nothing_is_written_gives_a_letter() {
    let model = LineModel::load().unwrap();
    let read: Vec<(&str, u64, String)> = (0..500u64)
        .filter_map(|n| {
            let kind = KINDS[n as usize % KINDS.len()];
            Some((kind, n, text(&model, &strip(kind, n))?))
        })
        .collect();
    assert!(read.len() <= 5, "{} of 500: {read:?}", read.len());
}

/// Corners of the marks of a sample, as boxes around them, px.
fn written(photograph: &std::path::Path) -> Vec<Rect> {
    let truth = std::fs::read_to_string(photograph.with_extension("json")).unwrap();
    let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
    let marks = truth["marks"].as_array().unwrap();
    let outlines = marks.iter().map(|m| m["outline"].as_array().unwrap());
    outlines
        .map(|corners| {
            let ends = |k: usize| {
                let at = corners.iter().map(|c| c[k].as_f64().unwrap());
                (at.clone().fold(f64::MAX, f64::min), at.fold(0.0, f64::max))
            };
            let ((l, r), (t, b)) = (ends(0), ends(1));
            Rect::new(l as i32, t as i32, (r - l) as u32, (b - t) as u32)
        })
        .collect()
}

/// Strips of a photograph that meet none of its marks: wood, canvas, nails, tape, dirt.
fn bare(file: &std::path::Path, seed: u64) -> Vec<GrayImage> {
    let photo = photograph::open(file).unwrap();
    let (w, h) = (photo.width(), photo.height());
    let written = written(file);
    let mut r = ChaCha8Rng::seed_from_u64(seed);
    let mut strips = Vec::new();
    for _ in 0..400 {
        let wide = r.random_range(90..700).min(w / 2);
        let high = r.random_range(36..90).min(h / 2);
        let (x, y) = (r.random_range(0..w - wide), r.random_range(0..h - high));
        let place = Rect::new(x as i32, y as i32, wide, high);
        if strips.len() < PER && written.iter().all(|m| m.intersect(&place).is_none()) {
            let strip = imageops::crop_imm(&photo.picture, x, y, wide, high).to_image();
            strips.push(imageops::grayscale(&strip));
        }
    }
    strips
}

/// Strips of one photograph at most.
const PER: usize = 30;

#[test]
fn at_most_one_strip_in_a_hundred_of_the_samples_beside_their_marks_gives_a_letter() {
    let model = LineModel::load().unwrap();
    let files = photograph::expand(&["samples/photographs".into()]);
    let files: Vec<_> = files.into_iter().map(Result::unwrap).collect();
    let strips = files.iter().enumerate();
    let strips: Vec<GrayImage> = strips.flat_map(|(n, file)| bare(file, n as u64)).collect();
    assert!(strips.len() >= 400, "{}", strips.len());
    let read = strips.iter().filter_map(|s| text(&model, s));
    let read: Vec<String> = read.collect();
    let most = strips.len() / 100;
    assert!(
        read.len() <= most,
        "{} of {}: {read:?}",
        read.len(),
        strips.len()
    );
}
