//! Each cleaned picture of each mark, read by itself: what was measured of it and how it was read.
//!
//! `cargo run --release --example score_variants -- FOLDER > variants.csv`; beside each `NAME.jpg`
//! lies `NAME.json` with the true outlines and texts. One row a picture: photograph, mark, picture,
//! its merit (how far the lettering stands off, share of ink in letters), sum of the letters' chances,
//! character errors (lines paired) and true characters. An order of the pictures by merit is to
//! be fitted on such rows, of other photographs than the samples.

mod truth;

use dorso::enhance;
use dorso::marks::{self, Mark, MarkKind};
use dorso::measure::text::{characters_by_line, normal};
use dorso::readings::{self, Known};
use truth::{known, quad};

fn main() {
    let Some(folder) = std::env::args().nth(1) else {
        eprintln!("score_variants: a folder of photographs with truth is wanted; name one.");
        std::process::exit(2);
    };
    let recognisers = readings::recognisers().expect("a recogniser");
    println!("photograph,grade,mark,variant,scale,apart,in_letters,expected,errors,characters");
    for photo in known(folder.as_ref()) {
        let grade = photo.truth["grade"].as_str().unwrap_or("?");
        for m in photo.truth["marks"].as_array().into_iter().flatten() {
            let texts = m["lines"].as_array().into_iter().flatten();
            let truth: Vec<String> = texts
                .filter(|l| l["legible"].as_bool() == Some(true))
                .map(|l| normal(l["text"].as_str().unwrap_or("")))
                .filter(|l| !l.is_empty())
                .collect();
            let (Some(outline), false) = (quad(&m["outline"]), truth.is_empty()) else {
                continue;
            };
            let mark = Mark {
                kind: MarkKind::Unknown,
                outline,
                kind_chance: 1.0,
                lettering: 1.0,
                bearing: None,
            };
            let flat = marks::flatten(&photo.picture, &mark);
            for v in enhance::variants(&flat.picture) {
                let (name, scale, merit) = (v.name.clone(), v.scale, v.merit);
                let known = Known {
                    variants: Some(vec![v]),
                    ..Known::default()
                };
                let Ok((reading, _)) = readings::read_known(&flat, &known, &recognisers) else {
                    continue;
                };
                let read: Vec<String> = reading.lines.iter().map(|l| normal(&l.text)).collect();
                let letters = reading.lines.iter().flat_map(|l| &l.characters);
                let expected: f64 = letters
                    .filter(|c| c.text != " ")
                    .map(|c| c.confidence)
                    .sum();
                let edits = characters_by_line(&truth, &read);
                println!(
                    "{},{grade},{},{name},{scale:.2},{:.2},{:.3},{expected:.2},{},{}",
                    photo.name,
                    m["mark"].as_str().unwrap_or("?"),
                    merit.map_or(0.0, |m| m.apart),
                    merit.map_or(0.0, |m| m.in_letters),
                    edits.errors(),
                    edits.length
                );
            }
        }
    }
}
