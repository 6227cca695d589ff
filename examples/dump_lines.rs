//! Rows of marks as they were read on each cleaned picture, with how much of each is right.
//!
//! `cargo run --release --example dump_lines -- FOLDER > rows.csv`; beside each `NAME.jpg` lies `NAME.json` with the
//! true outlines and texts. One row a reading: photograph, mark, number of the cleaned picture, mean chance of the
//! letters, how many they are and how many of them are right, place on the turned mark, share of its height beyond the
//! mark's edge, text.

mod truth;

use dorso::geometry::{Quad, Rect};
use dorso::marks;
use dorso::measure::text::normal;
use dorso::readings;
use truth::{known, quad};

fn main() {
    let Some(folder) = std::env::args().nth(1) else {
        eprintln!("dump_lines: a folder of photographs with truth is wanted; name one.");
        std::process::exit(2);
    };
    let recognisers = readings::recognisers().expect("a recogniser");
    println!("photograph,mark,picture,mean,count,right,x,y,w,h,beyond,text");
    for photo in known(folder.as_ref()) {
        let truth: Vec<(Quad, Vec<String>)> = photo.truth["marks"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(|m| Some((quad(&m["outline"])?, lines(m))))
            .collect();
        let found = marks::find(&photo.picture);
        for (i, mark) in found
            .iter()
            .enumerate()
            .filter(|(_, m)| m.lettering >= marks::LIKELY)
        {
            let place = mark.outline.bounds();
            let near = |other: &Rect| place.part_in(other).max(other.part_in(&place)) > 0.3;
            let texts = truth
                .iter()
                .filter(|(q, _)| near(&q.bounds()))
                .flat_map(|t| &t.1);
            let texts: Vec<Vec<char>> = texts.map(|t| letters(t)).collect();
            let flat = marks::flatten(&photo.picture, mark);
            let Ok(rows) = readings::rows(&flat, &recognisers) else {
                continue;
            };
            for row in rows {
                let read = letters(&row.text);
                let right = texts
                    .iter()
                    .map(|t| readings::common_letters(&read, t))
                    .max()
                    .unwrap_or(0);
                let b = row.bounds;
                println!(
                    "{},{i},{},{:.5},{},{right},{},{},{},{},{:.3},\"{}\"",
                    photo.name,
                    row.picture,
                    row.mean,
                    read.len(),
                    b.x,
                    b.y,
                    b.w,
                    b.h,
                    row.beyond,
                    row.text.replace('"', "\"\""),
                );
            }
        }
    }
}

/// The lines of a mark. Those that are taken for illegible too, since a letter of theirs that is read is right.
fn lines(mark: &serde_json::Value) -> Vec<String> {
    let all = mark["lines"].as_array().into_iter().flatten();
    all.map(|l| normal(l["text"].as_str().unwrap_or("")))
        .collect()
}

fn letters(text: &str) -> Vec<char> {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}
