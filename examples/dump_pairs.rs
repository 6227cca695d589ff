//! Writes how pairs of made photographs fit, one a line, for fitting the chance that a fit is right
//! (`training/fit_plan.py`).
//!
//! `cargo run --release --example dump_pairs -- EVERY FOLDER... > pairs.csv`
//!
//! FOLDER holds a folder for each made picture. All pairs of one picture are fitted, and of pairs of two
//! pictures one in EVERY. Columns: the photographs; 1 for one picture; error (root of the mean square
//! over what both show, of the coarser's longer side; empty where they share nothing); measures.

use dorso::back::plan::{Features, features, measured};
use dorso::geometry::{Homography, Point};
use dorso::photograph;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

struct Photo {
    name: String,
    picture: usize,
    map: Homography,
    features: Features,
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let every: usize = args.first().and_then(|a| a.parse().ok()).unwrap_or(10);
    let mut photos = Vec::new();
    for (picture, folder) in args
        .iter()
        .skip(1)
        .flat_map(|f| sorted(f.as_ref()))
        .enumerate()
    {
        for file in sorted(&folder) {
            photos.extend(photo(&file, picture));
        }
    }
    let mut count = 0;
    for (j, b) in photos.iter().enumerate() {
        for a in &photos[..j] {
            count += 1;
            if a.picture != b.picture && count % every != 0 {
                continue;
            }
            let Some((map, measures)) = measured(&a.features, &b.features) else {
                continue;
            };
            let error = (a.picture == b.picture)
                .then(|| error(a, b, &map))
                .flatten();
            let one = u8::from(a.picture == b.picture);
            let told = error.map_or(String::new(), |e| format!("{e:.5}"));
            let measures = measures.map(|m| format!("{m:.4}")).join(",");
            println!("{},{},{one},{told},{measures}", a.name, b.name);
        }
    }
}

fn sorted(folder: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = fs::read_dir(folder)
        .map(|d| d.flatten().map(|e| e.path()).collect())
        .unwrap_or_default();
    all.sort();
    all
}

fn photo(file: &Path, picture: usize) -> Option<Photo> {
    if file.extension()? != "json" {
        return None;
    }
    let truth: Value = serde_json::from_str(&fs::read_to_string(file).ok()?).ok()?;
    let map: Vec<f64> = truth["map"]
        .as_array()?
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    let seen = photograph::open(&file.with_extension("jpg")).ok()?;
    Some(Photo {
        name: file.file_stem()?.to_string_lossy().into_owned(),
        picture,
        map: Homography(map.try_into().ok()?),
        features: features(&seen.picture),
    })
}

/// Root of the mean square error over what both show, of the longer side of the one that shows it smaller.
fn error(a: &Photo, b: &Photo, told: &Homography) -> Option<f64> {
    let size = |p: &Photo| (f64::from(p.features.width), f64::from(p.features.height));
    let ((aw, ah), (bw, bh)) = (size(a), size(b));
    let (from_a, from_b) = (a.map.inverse()?, b.map.inverse()?);
    let within = |p: Point, w: f64, h: f64| p.x >= 0.0 && p.y >= 0.0 && p.x <= w && p.y <= h;
    let mut shared = Vec::new();
    for k in 0..625 {
        let (u, v) = (f64::from(k % 25) / 24.0, f64::from(k / 25) / 24.0);
        let p = Point::new(u * aw, v * ah);
        if within(b.map.apply(from_a.apply(p)), bw, bh) {
            shared.push(p);
        }
        let p = a.map.apply(from_b.apply(Point::new(u * bw, v * bh)));
        if within(p, aw, ah) {
            shared.push(p);
        }
    }
    let back = told.inverse()?;
    let scale = |p: Point| {
        let q = told.apply(p);
        told.apply(Point::new(p.x + 1.0, p.y)).distance(q)
    };
    let squares = shared.iter().map(|&p| {
        let q = b.map.apply(from_a.apply(p));
        let off = if scale(p) * ah.max(aw) <= bw.max(bh) {
            told.apply(p).distance(q) / bw.max(bh)
        } else {
            back.apply(q).distance(p) / aw.max(ah)
        };
        off * off
    });
    (!shared.is_empty()).then(|| (squares.sum::<f64>() / shared.len() as f64).sqrt())
}
