//! Reading whole photographs: character error rate and seconds, beside the plain `tesseract`
//! program on the same files in the same run.
//!
//! `cargo bench --bench reading [-- FOLDER]`; the folder holds images with their `.txt`, else the
//! samples. Both programs are scored by `dorso::measure`, lines paired whatever their order, so
//! that neither is punished for the order of the marks. Every ratio below 1 speaks for Dorso.

use dorso::gazetteer;
use dorso::measure::evaluate::{known, measure};
use dorso::measure::text::{Edits, characters_by_line, normal, word_f1};
use dorso::proposals::Index;
use dorso::{readings, run};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

fn main() {
    let folder = std::env::args()
        .skip(1)
        .find(|a| !a.starts_with('-'))
        .map_or_else(|| PathBuf::from("samples/photographs"), PathBuf::from);
    let (lists, _) = gazetteer::load(Path::new("samples/gazetteer")).expect("demo lists");
    let index = Index::new(lists);
    let recognisers = readings::recognisers().expect("a recogniser");
    let photographs = known(&folder).expect("photographs with texts");
    println!(
        "{:<34} {:>6} | {:>7} {:>7} {:>6} | {:>7} {:>7} {:>6} | {:>6}",
        "photograph", "letters", "dorso", "words", "s", "plain", "words", "s", "time"
    );
    let (mut ours, mut theirs) = (Edits::default(), Edits::default());
    let (mut our_time, mut their_time) = (0.0, 0.0);
    let (mut our_words, mut their_words) = (0.0, 0.0);
    let mut lost = Vec::new();
    let count = photographs.len() as f64;
    for photo in photographs {
        let start = Instant::now();
        let read = run::read_one(&photo.file, &recognisers, &index);
        let seconds = start.elapsed().as_secs_f64();
        let truth = photo.lines.clone();
        let file = photo.file.clone();
        let m = measure(photo, read.as_ref().map_err(ToString::to_string), seconds);
        let start = Instant::now();
        let plain = tesseract(&file);
        let plain_seconds = start.elapsed().as_secs_f64();
        let p = characters_by_line(&truth, &plain);
        let words = word_f1(&truth.join(" "), &plain.join(" "));
        println!(
            "{:<34} {:>6} | {:>7.3} {:>7.3} {:>6.2} | {:>7.3} {:>7.3} {:>6.2} | {:>6.2}",
            file.file_name().unwrap_or_default().to_string_lossy(),
            m.characters.length,
            m.characters.rate(),
            m.word_f1,
            seconds,
            p.rate(),
            words,
            plain_seconds,
            seconds / plain_seconds
        );
        if m.characters.rate() > p.rate() + 0.05 {
            lost.push(file);
        }
        ours = ours.plus(m.characters);
        theirs = theirs.plus(p);
        our_time += seconds;
        their_time += plain_seconds;
        our_words += m.word_f1;
        their_words += words;
    }
    println!(
        "\nCER {:.4} / plain {:.4} = {:.3}; words found {:.3} / {:.3}; time {:.1} s / {:.1} s = {:.2}",
        ours.rate(),
        theirs.rate(),
        ours.rate() / theirs.rate(),
        our_words / count,
        their_words / count,
        our_time,
        their_time,
        our_time / their_time
    );
    println!(
        "photographs where Dorso is worse by more than 0.05: {}",
        if lost.is_empty() {
            "none".to_string()
        } else {
            format!("{lost:?}")
        }
    );
}

/// Lines that the plain program prints for a photograph.
fn tesseract(file: &Path) -> Vec<String> {
    let out = Command::new("tesseract")
        .arg(file)
        .arg("stdout")
        .output()
        .expect("the program tesseract");
    String::from_utf8_lossy(&out.stdout)
        .lines()
        .map(normal)
        .filter(|l| !l.is_empty())
        .collect()
}
