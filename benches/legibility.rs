//! What cleaning is worth: character errors on the samples' medium and hard grades, read by the same
//! recognisers from light flattening and Otsu's threshold alone, from all that the program does, and
//! from all but one step.
//!
//! `cargo bench --bench legibility [-- FOLDER]`; the folder holds photographs each with `.txt` and
//! `.json` as the samples do. Marks are found once and read from the same outlines in every row, so
//! only the cleaning differs. Prints the table of `benches/trials/cleaning.md`.

use dorso::enhance::{self, Steps, Variant, light, threshold};
use dorso::marks::{self, Flattened};
use dorso::measure::evaluate::known;
use dorso::measure::text::{Edits, characters_by_line, normal};
use dorso::readings::{self, Known, Recognisers};
use dorso::{measure, photograph};
use image::{RgbImage, imageops};
use rayon::prelude::*;
use std::path::PathBuf;
use std::time::Instant;

/// A photograph's marks and its true lines.
struct Page {
    truth: measure::evaluate::Known,
    /// Each flattened, and with paper drawn over the ground where it is torn.
    marks: Vec<(Flattened, Option<Flattened>)>,
}

fn main() {
    let folder = std::env::args()
        .skip(1)
        .find(|a| !a.starts_with('-'))
        .map_or_else(|| PathBuf::from("samples/photographs"), PathBuf::from);
    let recognisers = readings::recognisers().expect("a recogniser");
    let pages: Vec<Page> = known(&folder)
        .expect("photographs with texts")
        .into_iter()
        .filter(|k| matches!(grade(k).as_str(), "medium" | "hard"))
        .map(page)
        .collect();
    println!(
        "{} photographs of the medium and hard grades, {} marks\n",
        pages.len(),
        pages.iter().map(|p| p.marks.len()).sum::<usize>()
    );
    let all = Steps::READ;
    let light = Steps {
        light: false,
        ..all
    };
    let colour = Steps {
        colour: false,
        ..all
    };
    let size = Steps { size: false, ..all };
    let choice = Steps {
        choice: false,
        ..all
    };
    let without = [
        ("without dividing out uneven light", light),
        ("without the choice of colours", colour),
        ("without bringing letters to one size", size),
        (
            "without choosing among cleanings by how clearly they read",
            choice,
        ),
    ];
    println!("| cleaning | character errors | against the first row | s a photograph |");
    println!("|---|---|---|---|");
    let base = row(
        "flattened light and Otsu's threshold alone",
        None,
        (&pages, false),
        &recognisers,
        |p| of_pictures(vec![otsu_alone(p)]),
    );
    let by = |steps: Steps| Known {
        steps: Some(steps),
        ..Known::default()
    };
    let everything = |_: &RgbImage| by(all);
    row(
        "everything",
        Some(base),
        (&pages, true),
        &recognisers,
        everything,
    );
    for (name, steps) in without {
        row(name, Some(base), (&pages, true), &recognisers, |_| {
            by(steps)
        });
    }
    let name = "without turning marks level by their rows";
    row(name, Some(base), (&pages, true), &recognisers, |p| {
        of_pictures(enhance::variants_by(p, &all))
    });
    let name = "without reading torn labels once more on drawn paper";
    row(name, Some(base), (&pages, false), &recognisers, everything);
}

fn grade(known: &measure::evaluate::Known) -> String {
    let text = std::fs::read_to_string(known.file.with_extension("json")).unwrap_or_default();
    let truth: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    truth["grade"].as_str().unwrap_or("").to_string()
}

fn page(truth: measure::evaluate::Known) -> Page {
    let photo = photograph::open(&truth.file).expect("a photograph");
    let mut found = marks::find(&photo.picture);
    found.retain(|m| m.lettering >= marks::LIKELY);
    let cut = |mark: &marks::Mark| {
        let flat = marks::flatten(&photo.picture, mark);
        let above = marks::lying_on(mark, &found);
        let papered = marks::without_ground(&photo.picture, mark, &flat);
        let papered = papered.map(|p| marks::without(p, &above));
        (marks::without(flat, &above), papered)
    };
    Page {
        marks: found.iter().map(cut).collect(),
        truth,
    }
}

/// To be read from these pictures, which fit the mark as it is.
fn of_pictures(pictures: Vec<Variant>) -> Known {
    Known {
        variants: Some(pictures),
        ..Known::default()
    }
}

/// Black and white by one threshold after the light is divided out of the grey values.
fn otsu_alone(crop: &RgbImage) -> Variant {
    let grey = imageops::grayscale(crop);
    let tile = light::tile_for(grey.width(), grey.height());
    let flat = light::flatten(&grey, &light::ground(&grey, tile, 0));
    let mut mask = threshold::at_level(&flat, threshold::otsu(&flat));
    imageops::invert(&mut mask);
    Variant {
        name: "otsu".into(),
        done: String::new(),
        picture: mask,
        scale: 1.0,
        merit: None,
    }
}

/// Reads every mark from the pictures that `clean` says, prints a row of the table and gives
/// the error rate.
///
/// * `torn`: torn labels are read once more with paper drawn over the ground.
fn row(
    name: &str,
    base: Option<f64>,
    (pages, torn): (&[Page], bool),
    recognisers: &Recognisers,
    clean: impl Fn(&RgbImage) -> Known + Sync,
) -> f64 {
    let start = Instant::now();
    let mut edits = Edits::default();
    for page in pages {
        let read: Vec<Vec<String>> = page
            .marks
            .par_iter()
            .map(|(flat, papered)| {
                let read = |flat: &Flattened| {
                    let known = clean(&flat.picture);
                    readings::read_known(flat, &known, recognisers).expect("a reading")
                };
                let mut best = read(flat);
                if let (true, Some(papered)) = (torn, papered) {
                    best = readings::surer(best, read(papered));
                }
                let (reading, _) = best;
                let texts = reading.lines.iter().map(|l| normal(&l.text));
                texts.filter(|t| !t.is_empty()).collect()
            })
            .collect();
        let read: Vec<String> = read.into_iter().flatten().collect();
        edits = edits.plus(characters_by_line(&page.truth.lines, &read));
    }
    let rate = edits.rate();
    let fall = base.map_or_else(String::new, |b| {
        format!("{:+.1}%", 100.0 * (rate / b - 1.0))
    });
    println!(
        "| {name} | {rate:.4} | {fall} | {:.1} |",
        start.elapsed().as_secs_f64() / pages.len().max(1) as f64
    );
    rate
}
