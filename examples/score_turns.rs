//! Quarter turns: each mark with 8 or more legible letters is handed over in all four turns, and the
//! turn found by reading is held against the true outline.
//!
//! `cargo run --release --example score_turns -- FOLDER...`; each photograph with `NAME.json` as the
//! samples have. Prints the marks turned wrongly and how many there are.

mod truth;

use dorso::geometry::Turn;
use dorso::marks::{self, Mark, MarkKind};
use dorso::readings;
use truth::{known, quad};

/// Fewer letters than this may stand either way up.
const LETTERS: usize = 8;

fn main() {
    let recognisers = readings::recognisers().expect("a recogniser");
    let (mut all, mut wrong) = (0, 0);
    for folder in std::env::args().skip(1) {
        for photo in known(folder.as_ref()) {
            for m in photo.truth["marks"].as_array().into_iter().flatten() {
                let lines = m["lines"].as_array().into_iter().flatten();
                let legible = lines.filter(|l| l["legible"].as_bool() == Some(true));
                let texts: Vec<&str> = legible.filter_map(|l| l["text"].as_str()).collect();
                let letters = texts.iter().flat_map(|t| t.chars());
                let letters = letters.filter(|c| c.is_alphanumeric()).count();
                let (Some(outline), true) = (quad(&m["outline"]), letters >= LETTERS) else {
                    continue;
                };
                for turn in Turn::ALL {
                    let mark = Mark {
                        kind: MarkKind::Unknown,
                        outline: outline.turned(turn),
                        kind_chance: 1.0,
                        lettering: 1.0,
                        bearing: None,
                    };
                    let flat = marks::flatten(&photo.picture, &mark);
                    let Ok((reading, found)) = readings::read(&flat, &recognisers) else {
                        continue;
                    };
                    all += 1;
                    let off = |i: usize| {
                        let (a, b) = (found.0[0], outline.0[i]);
                        (a.x - b.x).hypot(a.y - b.y)
                    };
                    if (1..4).any(|i| off(i) < off(0)) {
                        wrong += 1;
                        let read: usize = reading.lines.iter().map(|l| l.characters.len()).sum();
                        let name = m["mark"].as_str().unwrap_or("?");
                        println!(
                            "{} {name} handed over {turn:?}: {read} of {letters} letters read: {}",
                            photo.name,
                            texts.join(" / ")
                        );
                    }
                }
            }
        }
    }
    println!("{wrong} of {all} wrong");
}
