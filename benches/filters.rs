//! Each filter beside OpenCV's of the same result, skew beside jdeskew and deskew on the same pages,
//! and thresholds by the measures of the binarisation contests, all in the same run.
//!
//! `cargo bench --bench filters`. The peers run in Python (`benches/peers.py`, by the interpreter in
//! PYTHON or `python3`); where they can't be imported the bench says so and prints its own figures
//! alone. Nothing is installed.

use dorso::enhance::{self, contrast, denoise, letters, light, resample, threshold};
use dorso::geometry::{Point, Quad};
use dorso::marks::{self, Mark, MarkKind};
use dorso::measure::binarised::binarised;
use image::{DynamicImage, GrayImage, Luma, imageops};
use rayon::prelude::*;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    speed(folder.path());
    skew();
    thresholds();
    stage();
}

/// Runs the peers; `None` with a word where they can't be run.
fn peers(what: &str, files: &[PathBuf]) -> Option<Value> {
    let python = std::env::var_os("PYTHON").unwrap_or_else(|| "python3".into());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/peers.py");
    let out = Command::new(&python)
        .arg(script)
        .arg(what)
        .args(files)
        .output();
    let said = match out {
        Ok(out) if out.status.success() => {
            eprint!("{}", String::from_utf8_lossy(&out.stderr));
            return serde_json::from_slice(&out.stdout).ok();
        }
        Ok(out) => String::from_utf8_lossy(&out.stderr).into_owned(),
        Err(e) => e.to_string(),
    };
    let why = said.lines().last().unwrap_or("").to_string();
    println!(
        "(no peers: {}: {why}; name another interpreter in PYTHON)",
        python.display()
    );
    None
}

/// Least seconds of several rounds.
fn best<T>(work: impl Fn() -> T) -> f64 {
    let round = || {
        let start = Instant::now();
        std::hint::black_box(work());
        start.elapsed().as_secs_f64()
    };
    (0..5).map(|_| round()).fold(f64::INFINITY, f64::min)
}

/// A page of 12 megapixels: bars like letters, grain, light that falls off.
fn page() -> GrayImage {
    GrayImage::from_fn(4000, 3000, |x, y| {
        let on = y % 60 >= 15 && y % 60 < 45 && x % 18 < 5 && x % 400 > 40;
        let n = (x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503)) >> 9;
        let light = 220.0 - f64::from(x) / 40.0 - f64::from(n % 17);
        Luma([if on { light * 0.3 } else { light } as u8])
    })
}

fn speed(folder: &Path) {
    let grey = page();
    let file = folder.join("page.png");
    grey.save(&file).expect("room for the page");
    let (w, h) = grey.dimensions();
    let colour = DynamicImage::ImageLuma8(grey.clone()).to_rgb8();
    let small = imageops::crop_imm(&grey, 0, 0, w / 2, h / 2).to_image();
    let mask = threshold::at_level(&grey, 100);
    let (x, y) = (f64::from(w), f64::from(h));
    let mark = Mark {
        kind: MarkKind::Unknown,
        outline: Quad([
            Point::new(100.0, 90.0),
            Point::new(x - 120.0, 70.0),
            Point::new(x - 80.0, y - 110.0),
            Point::new(70.0, y - 80.0),
        ]),
        kind_chance: 1.0,
        lettering: 1.0,
        bearing: None,
    };
    let ours = [
        (
            "Otsu's threshold",
            best(|| threshold::at_level(&grey, threshold::otsu(&grey))),
        ),
        (
            "local contrast, 8 x 8 tiles",
            best(|| contrast::clahe(&grey, 8, 8, 3.0)),
        ),
        (
            "bilateral, 3 x 3",
            best(|| denoise::bilateral(&grey, 1, 1.0, 20.0)),
        ),
        ("pieces of ink", best(|| letters::pieces(&mask))),
        (
            "twice as large, Lanczos",
            best(|| resample::lanczos(&small, 2.0)),
        ),
        (
            "turned by 3 degrees",
            best(|| resample::turned(&grey, 3.0, 255)),
        ),
        (
            "flattened by four corners",
            best(|| marks::flatten(&colour, &mark)),
        ),
    ];
    println!("Filters on 12 megapixels, ms, least of five rounds\n");
    let theirs = peers("speed", &[file]).unwrap_or_default();
    println!("| filter | here | OpenCV | ratio |\n|---|---|---|---|");
    for (name, seconds) in ours {
        let peer = theirs[name].as_f64();
        let (ms, ratio) = peer.map_or_else(Default::default, |p| {
            (format!("{:.0}", 1e3 * p), format!("{:.2}", seconds / p))
        });
        println!("| {name} | {:.0} | {ms} | {ratio} |", 1e3 * seconds);
    }
}

fn quantile(off: &[f64], part: f64) -> f64 {
    let mut off = off.to_vec();
    off.sort_by(f64::total_cmp);
    off[((off.len() - 1) as f64 * part).round() as usize]
}

/// Pages turned by known angles. A scan leans by itself, so what is known of its turned copies is
/// the angle from the copy that was turned by 0; "lorem" is level by itself.
fn skew() {
    let reference = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference");
    let text = std::fs::read_to_string(reference.join("skew.json")).expect("the pages' angles");
    let all: Value = serde_json::from_str(&text).expect("the pages' angles");
    let rows = all["rows"].as_array().cloned().unwrap_or_default();
    let files: Vec<PathBuf> = rows
        .iter()
        .map(|r| {
            reference
                .join("pictures")
                .join(r["file"].as_str().unwrap_or(""))
        })
        .collect();
    let ours: Vec<Option<f64>> = files
        .iter()
        .map(|f| Some(enhance::skew(&image::open(f).expect("a page").to_luma8()).degrees))
        .collect();
    let theirs = peers("skew", &files).unwrap_or_default();
    println!(
        "\nSkew of {} pages turned by up to 43.5 degrees\n",
        files.len()
    );
    println!("| | median error | 90% within | none found |\n|---|---|---|---|");
    let of = |name: &str| -> Option<Vec<Option<f64>>> {
        Some(theirs[name].as_array()?.iter().map(Value::as_f64).collect())
    };
    let three = [
        ("here", Some(ours)),
        ("jdeskew", of("jdeskew")),
        ("deskew", of("deskew")),
    ];
    for (name, found) in three {
        let Some(found) = found else { continue };
        let (mut off, mut none, mut own) = (Vec::new(), 0, Some(0.0));
        for (row, found) in rows.iter().zip(found) {
            let lean = row["degrees"].as_f64().unwrap_or(0.0);
            if lean == 0.0 {
                own = if row["page"] == "lorem" {
                    Some(0.0)
                } else {
                    found
                };
                if row["page"] != "lorem" {
                    continue;
                }
            }
            match (found, own) {
                (Some(f), Some(own)) => off.push((f - own - lean).abs()),
                _ => none += 1,
            }
        }
        println!(
            "| {name} | {:.3}° | {:.3}° | {none} of {} |",
            quantile(&off, 0.5),
            quantile(&off, 0.9),
            off.len() + none
        );
    }
}

/// Thresholds on a printed page spoilt in known ways; the truth is the page before.
fn thresholds() {
    let file =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/pictures/skew-lorem-0.jpg");
    let clean = image::open(file).expect("a page").to_luma8();
    let clean = resample::lanczos(&clean, 2.0).expect("a page twice as large");
    let truth = GrayImage::from_fn(clean.width(), clean.height(), |x, y| {
        Luma([if clean.get_pixel(x, y).0[0] < 128 {
            0
        } else {
            255
        }])
    });
    let (w, h) = clean.dimensions();
    let spoilt = GrayImage::from_fn(w, h, |x, y| {
        let n = (x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503)) >> 9;
        let grain = f64::from(n % 31) - 15.0;
        let (u, v) = (f64::from(x) / f64::from(w), f64::from(y) / f64::from(h));
        let light = 1.0 - 0.6 * u;
        let stain = if (u - 0.6).hypot(v - 0.4) < 0.2 {
            0.7
        } else {
            1.0
        };
        let ink = 1.0 - 0.55 * (1.0 - f64::from(clean.get_pixel(x, y).0[0]) / 255.0);
        Luma([(225.0 * light * stain * ink + grain).clamp(0.0, 255.0) as u8])
    });
    let ink = |mut mask: GrayImage| {
        imageops::invert(&mut mask);
        mask
    };
    let flat = light::flatten(&spoilt, &light::ground(&spoilt, light::tile_for(w, h), 0));
    let window = 41;
    let mut made = vec![
        (
            "Otsu",
            ink(threshold::at_level(&spoilt, threshold::otsu(&spoilt))),
        ),
        (
            "flattened light, then Otsu",
            ink(threshold::at_level(&flat, threshold::otsu(&flat))),
        ),
    ];
    let local = [
        ("Niblack", threshold::niblack(&spoilt, window, -0.2)),
        ("Sauvola", threshold::sauvola(&spoilt, window, 0.2)),
        ("Wolf", threshold::wolf(&spoilt, window, 0.5)),
    ];
    made.extend(
        local
            .into_iter()
            .filter_map(|(n, m)| Some((n, ink(m.ok()?)))),
    );
    let colour = DynamicImage::ImageLuma8(spoilt).to_rgb8();
    let steps = enhance::steps(&colour);
    let whole = steps.into_iter().find(|v| v.name == "threshold");
    made.extend(whole.map(|v| ("the threshold of the cleaned pictures", v.picture)));
    println!("\nThresholds on a page with falling light, a stain and grain\n");
    println!("| | F | pseudo-F | PSNR, dB | DRD |\n|---|---|---|---|---|");
    for (name, mask) in made {
        if let Some(b) = binarised(&mask, &truth) {
            println!(
                "| {name} | {:.3} | {:.3} | {:.1} | {:.1} |",
                b.f, b.pseudo_f, b.psnr, b.drd
            );
        }
    }
}

/// The stage as a whole on photographs of 12 megapixels: marks found, cut out and cleaned.
fn stage() {
    println!("\nFinding, flattening and cleaning every mark, seconds\n");
    println!(
        "| photograph | megapixels | marks | find | flatten and clean |\n|---|---|---|---|---|"
    );
    for name in ["ferry-back", "mill-back", "winter-back", "quinces-back"] {
        let file = Path::new("samples/photographs").join(format!("{name}.jpg"));
        let Ok(photo) = dorso::photograph::open(&file) else {
            continue;
        };
        let longest = f64::from(photo.width()) * f64::from(photo.height());
        let factor = (12e6 / longest).sqrt();
        let side = |n: u32| (f64::from(n) * factor).round() as u32;
        let large = imageops::resize(
            &photo.picture,
            side(photo.width()),
            side(photo.height()),
            imageops::FilterType::CatmullRom,
        );
        let start = Instant::now();
        let found = marks::find(&large);
        let find = start.elapsed().as_secs_f64();
        let start = Instant::now();
        let likely = found.iter().filter(|m| m.lettering >= marks::LIKELY);
        let likely: Vec<&Mark> = likely.collect();
        let made: Vec<usize> = likely
            .par_iter()
            .map(|m| enhance::variants(&marks::flatten(&large, m).picture).len())
            .collect();
        println!(
            "| {name} | {:.1} | {} | {find:.2} | {:.2} |",
            f64::from(large.width()) * f64::from(large.height()) / 1e6,
            made.len(),
            start.elapsed().as_secs_f64()
        );
    }
}
