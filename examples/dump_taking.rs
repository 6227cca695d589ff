//! Plants faults into made photographs and writes what is measured and asked for of each, a line of JSON each, for
//! fitting and measuring what is said of a photograph as it is taken (`training/fit_taking.py`).
//!
//! `cargo run --release --example dump_taking -- SEED FOLDER [EACH] > cases.jsonl`
//!
//! FOLDER holds photographs of `make_samples` with their truth beside them. Each is measured as it is and with EACH
//! faults (4) drawn by SEED: blurred (a lens out of focus, or a hand that moves), dim, glaring (a lamp mirrored on a
//! mark), far, cut (an edge runs through a mark). They are planted in linear light; grain and JPEG come after them.

use dorso::geometry::{Point, Quad};
use dorso::taking::{self, Got};
use dorso::{Error, photograph};
use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, Rgb32FImage, RgbImage, imageops};
use imageproc::filter::gaussian_blur_f32;
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// A mark as it was made.
#[derive(Clone)]
struct Made {
    outline: Quad,
    /// Height of an x of its smallest line that a person can read, px.
    smallest: f64,
    /// Share of it that lies past the edge of the photograph.
    past: f64,
    /// Share of it that is burnt out by what was planted.
    burnt: f64,
}

/// A photograph with a fault.
struct Planted {
    fault: &'static str,
    /// How bad: standard deviation of the blur in px, share of the light, px for one px.
    level: f64,
    picture: RgbImage,
    marks: Vec<Made>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [seed, folder, rest @ ..] = &args[..] else {
        return Err("dump_taking SEED FOLDER [EACH]".into());
    };
    let each: usize = rest.first().map_or(Ok(4), |n| n.parse())?;
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)?
        .filter_map(|f| Some(f.ok()?.path()))
        .filter(|f| f.extension().is_some_and(|e| e == "jpg"))
        .collect();
    files.sort();
    for (n, file) in files.iter().enumerate() {
        let mut dice = ChaCha8Rng::seed_from_u64(seed.parse::<u64>()? * 100_000 + n as u64);
        let photo = photograph::open(file)?.picture;
        let truth: Value = serde_json::from_slice(&std::fs::read(file.with_extension("json"))?)?;
        let marks = made(&truth);
        let clean = Planted {
            fault: "none",
            level: 0.0,
            picture: photo.clone(),
            marks: marks.clone(),
        };
        tell(file, &truth, &clean)?;
        let mut faults = ["blurred", "dim", "glaring", "far", "cut"];
        faults.shuffle(&mut dice);
        for fault in &faults[..each.min(5)] {
            if let Some(planted) = plant(fault, &photo, &marks, &mut dice) {
                tell(file, &truth, &planted)?;
            }
        }
    }
    Ok(())
}

fn made(truth: &Value) -> Vec<Made> {
    let number = |v: &Value| v.as_f64().unwrap_or(0.0);
    let all = truth["marks"].as_array().into_iter().flatten();
    all.filter_map(|m| {
        let lines = m["lines"].as_array()?.iter();
        let heights = lines
            .filter(|l| l["legible"] == true)
            .map(|l| number(&l["x_height"]));
        let corner = |i: usize| {
            let c = &m["outline"][i];
            Point::new(number(&c[0]), number(&c[1]))
        };
        Some(Made {
            outline: Quad([corner(0), corner(1), corner(2), corner(3)]),
            smallest: heights.min_by(f64::total_cmp)?,
            past: m["part"].as_f64().map_or(0.0, |part| 1.0 - part),
            burnt: 0.0,
        })
    })
    .collect()
}

/// Writes what is measured and asked for.
fn tell(file: &Path, truth: &Value, planted: &Planted) -> Result<(), Error> {
    let begun = Instant::now();
    let got: Got = taking::look(&planted.picture)?;
    let seconds = begun.elapsed().as_secs_f64();
    let marks: Vec<Value> = got
        .marks
        .iter()
        .map(|look| {
            let of = planted
                .marks
                .iter()
                .map(|m| (look.outline.iou(&m.outline), m))
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .filter(|m| m.0 >= 0.3);
            json!({
                "outline": look.outline, "measures": look.measures, "asked": look.asked,
                "true_x": of.map(|m| m.1.smallest), "past": of.map(|m| m.1.past), "burnt": of.map(|m| m.1.burnt),
            })
        })
        .collect();
    let whole = taking::of_whole(&planted.picture);
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned());
    let each = |of: &dyn Fn(&Made) -> f64| planted.marks.iter().map(of).collect::<Vec<f64>>();
    let line = json!({
        "photograph": name, "grade": truth["grade"], "whole_back": truth["whole_back"],
        "fault": planted.fault, "level": planted.level, "size": got.size, "seconds": seconds,
        "smallest": planted.marks.iter().map(|m| m.smallest).min_by(f64::total_cmp),
        "past": each(&|m| m.past), "burnt": each(&|m| m.burnt), "true_x": each(&|m| m.smallest),
        "whole": whole, "asked": got.asked, "marks": marks,
    });
    println!("{line}");
    Ok(())
}

fn plant(
    fault: &'static str,
    photo: &RgbImage,
    marks: &[Made],
    dice: &mut ChaCha8Rng,
) -> Option<Planted> {
    let smallest = marks.iter().map(|m| m.smallest).min_by(f64::total_cmp)?;
    let of = dice.random_range(0..marks.len());
    let (w, h) = photo.dimensions();
    let mut out = Planted {
        fault,
        level: 0.0,
        picture: RgbImage::new(0, 0),
        marks: marks.to_vec(),
    };
    match fault {
        "blurred" => {
            // Beside the letters' height, so that what can't be read is out of focus, be they large or small
            let largest = marks.iter().map(|m| m.smallest).max_by(f64::total_cmp)?;
            out.level = dice.random_range(0.3..0.6) * largest.min(2.0 * smallest);
            let light = linear(photo);
            let soft = match dice.random_range(0..2) {
                0 => gaussian_blur_f32(&light, out.level as f32),
                _ => moved(
                    &light,
                    out.level * 12f64.sqrt(),
                    dice.random_range(0.0..std::f64::consts::PI),
                ),
            };
            out.picture = developed(&soft, 0.012, dice)?;
        }
        "dim" => {
            out.level = dice.random_range(0.02..0.07);
            let mut light = linear(photo);
            for p in light.pixels_mut() {
                p.0 = p.0.map(|v| v * out.level as f32);
            }
            out.picture = developed(&light, 0.02, dice)?;
        }
        "glaring" => {
            let (mw, mh) = marks[of].outline.size();
            let (at, reach) = (
                marks[of].outline.centre(),
                dice.random_range(0.22..0.5) * mw.min(2.0 * mh),
            );
            let bright = dice.random_range(2.0..4.0);
            let mut light = linear(photo);
            for (x, y, p) in light.enumerate_pixels_mut() {
                let far = at.distance(Point::new(f64::from(x), f64::from(y))) / reach;
                let more = (bright * (-far.powi(4)).exp()) as f32;
                p.0 = p.0.map(|v| v + more);
            }
            out.level = reach;
            let before = linear(photo);
            for m in &mut out.marks {
                m.burnt = (burnt(&light, &m.outline) - burnt(&before, &m.outline)).max(0.0);
            }
            out.picture = developed(&light, 0.012, dice)?;
        }
        "far" => {
            out.level = smallest / dice.random_range(3.0..6.0);
            if out.level < 1.3 {
                return None;
            }
            let side = |n: u32| (f64::from(n) / out.level).round() as u32;
            let small = imageops::resize(photo, side(w), side(h), imageops::FilterType::Triangle);
            for m in &mut out.marks {
                m.smallest /= out.level;
                m.outline = Quad(
                    m.outline
                        .0
                        .map(|c| Point::new(c.x / out.level, c.y / out.level)),
                );
            }
            out.picture = developed(&linear(&small), 0.012, dice)?;
        }
        _ => {
            let bounds = marks[of].outline.bounds();
            let share = dice.random_range(0.3..0.7);
            let (x, y) = (
                (f64::from(bounds.x) + share * f64::from(bounds.w)).max(0.0) as u32,
                (f64::from(bounds.y) + share * f64::from(bounds.h)).max(0.0) as u32,
            );
            let (left, top, right, bottom) = match dice.random_range(0..4) {
                0 => (x, 0, w, h),
                1 => (0, y, w, h),
                2 => (0, 0, x, h),
                _ => (0, 0, w, y),
            };
            let (cw, ch) = (right - left, bottom - top);
            if cw < 200 || ch < 200 {
                return None;
            }
            out.level = share;
            let (dx, dy) = (f64::from(left), f64::from(top));
            for m in &mut out.marks {
                m.outline = Quad(m.outline.0.map(|c| Point::new(c.x - dx, c.y - dy)));
            }
            let inside =
                |p: Point| p.x >= 0.0 && p.y >= 0.0 && p.x < f64::from(cw) && p.y < f64::from(ch);
            for m in &mut out.marks {
                m.past = m.past.max(1.0 - share_of(&m.outline, inside));
            }
            // What lies past the edge altogether is no mark of this photograph
            out.marks.retain(|m| m.past < 0.95);
            for m in &mut out.marks {
                m.outline = Quad(m.outline.0.map(|c| {
                    Point::new(c.x.clamp(0.0, f64::from(cw)), c.y.clamp(0.0, f64::from(ch)))
                }));
            }
            out.picture = imageops::crop_imm(photo, left, top, cw, ch).to_image();
        }
    }
    Some(out)
}

/// Share of an outline's places of which something holds.
fn share_of(outline: &Quad, holds: impl Fn(Point) -> bool) -> f64 {
    const SIDE: usize = 40;
    let at = |k: usize| (k as f64 + 0.5) / SIDE as f64;
    let places = (0..SIDE * SIDE).filter(|k| holds(outline.at(at(k % SIDE), at(k / SIDE))));
    places.count() as f64 / (SIDE * SIDE) as f64
}

fn burnt(light: &Rgb32FImage, outline: &Quad) -> f64 {
    share_of(outline, |p| {
        let (x, y) = (p.x.max(0.0) as u32, p.y.max(0.0) as u32);
        light
            .get_pixel_checked(x, y)
            .is_some_and(|p| p.0.iter().all(|v| *v >= 1.0))
    })
}

/// Linear light, 1 where the sensor is full (IEC 61966-2-1).
fn linear(photo: &RgbImage) -> Rgb32FImage {
    let table: Vec<f32> = (0..256)
        .map(|v| {
            let v = v as f32 / 255.0;
            if v <= 0.040_45 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        })
        .collect();
    Rgb32FImage::from_fn(photo.width(), photo.height(), |x, y| {
        Rgb(photo.get_pixel(x, y).0.map(|v| table[usize::from(v)]))
    })
}

/// Moved by a hand along a line of so many px.
fn moved(light: &Rgb32FImage, long: f64, way: f64) -> Rgb32FImage {
    let steps = (long.ceil() as usize).clamp(3, 41);
    let (w, h) = light.dimensions();
    let mut out = Rgb32FImage::new(w, h);
    let shifts: Vec<(i64, i64)> = (0..steps)
        .map(|k| {
            let t = (k as f64 / (steps - 1) as f64 - 0.5) * long;
            (
                (t * way.cos()).round() as i64,
                (t * way.sin()).round() as i64,
            )
        })
        .collect();
    for (x, y, p) in out.enumerate_pixels_mut() {
        let mut sum = [0f32; 3];
        for (dx, dy) in &shifts {
            let sx = (i64::from(x) + dx).clamp(0, i64::from(w) - 1) as u32;
            let sy = (i64::from(y) + dy).clamp(0, i64::from(h) - 1) as u32;
            for (s, v) in sum.iter_mut().zip(light.get_pixel(sx, sy).0) {
                *s += v / steps as f32;
            }
        }
        p.0 = sum;
    }
    out
}

/// With grain, as 8 bit and through a JPEG of quality 88.
fn developed(light: &Rgb32FImage, grain: f32, dice: &mut ChaCha8Rng) -> Option<RgbImage> {
    let picture = RgbImage::from_fn(light.width(), light.height(), |x, y| {
        Rgb(light.get_pixel(x, y).0.map(|v| {
            // Nearly normal: the sum of three
            let n = (0..3).map(|_| dice.random::<f32>() - 0.5).sum::<f32>() * 2.0;
            let v = (v + grain * (v.max(0.0) + 0.001).sqrt() * n).clamp(0.0, 1.0);
            let s = if v <= 0.003_130_8 {
                12.92 * v
            } else {
                1.055 * v.powf(1.0 / 2.4) - 0.055
            };
            (s * 255.0 + 0.5) as u8
        }))
    });
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, 88)
        .encode_image(&picture)
        .ok()?;
    Some(image::load_from_memory(&bytes).ok()?.to_rgb8())
}
