//! Writes the candidates for marks on photographs with known truth, one a line, for fitting the
//! choice among them (`training/fit_marks.py`).
//!
//! `cargo run --release --example dump_candidates -- FOLDER... > candidates.csv`
//!
//! Columns: photograph; paper (1) or cluster (0); eight numbers of the outline; greatest IoU with a
//! true mark; number of that mark, its kind and its grade; measures.

use dorso::geometry::{Point, Quad};
use dorso::marks;
use serde_json::Value;

fn quad(v: &Value) -> Option<Quad> {
    let at = |i: usize, k: usize| v.get(i)?.get(k)?.as_f64();
    let p = |i: usize| Some(Point::new(at(i, 0)?, at(i, 1)?));
    Some(Quad([p(0)?, p(1)?, p(2)?, p(3)?]))
}

fn main() {
    for folder in std::env::args().skip(1) {
        let mut files: Vec<_> = std::fs::read_dir(&folder)
            .into_iter()
            .flatten()
            .flatten()
            .map(|f| f.path())
            .filter(|p| p.extension().is_some_and(|e| e == "json"))
            .collect();
        files.sort();
        for file in files {
            let Some(truth) = std::fs::read_to_string(&file)
                .ok()
                .and_then(|t| serde_json::from_str::<Value>(&t).ok())
            else {
                continue;
            };
            let Some(picture) = open(&file.with_extension("jpg")) else {
                continue;
            };
            let name = file.file_stem().unwrap_or_default().to_string_lossy();
            let grade = truth["grade"].as_str().unwrap_or("?");
            let marks: Vec<(Quad, &str)> = truth["marks"]
                .as_array()
                .into_iter()
                .flatten()
                .filter_map(|m| Some((quad(&m["outline"])?, m["kind"].as_str()?)))
                .collect();
            println!(
                "#{name},{grade},{}",
                marks.iter().map(|m| m.1).collect::<Vec<_>>().join(",")
            );
            for c in marks::candidates(&picture) {
                let (best, iou) = marks
                    .iter()
                    .map(|m| m.0.iou(&c.outline))
                    .enumerate()
                    .fold((0, 0.0), |b, t| if t.1 > b.1 { t } else { b });
                let kind = if iou > 0.0 { marks[best].1 } else { "none" };
                let corners: Vec<String> = c
                    .outline
                    .0
                    .iter()
                    .flat_map(|p| [format!("{:.1}", p.x), format!("{:.1}", p.y)])
                    .collect();
                let measures: Vec<String> = c.measures.iter().map(|v| format!("{v:.5}")).collect();
                println!(
                    "{name},{},{},{iou:.3},{best},{kind},{grade},{}",
                    u8::from(c.paper),
                    corners.join(","),
                    measures.join(",")
                );
            }
        }
    }
}

/// The upright picture.
fn open(file: &std::path::Path) -> Option<image::RgbImage> {
    use image::ImageDecoder;
    let mut decoder = image::ImageReader::open(file).ok()?.into_decoder().ok()?;
    let turn = decoder.orientation().ok()?;
    let mut picture = image::DynamicImage::from_decoder(decoder).ok()?;
    picture.apply_orientation(turn);
    Some(picture.to_rgb8())
}
