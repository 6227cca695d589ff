//! Reads pictures with known texts and prints how well: character error rate, F1 over words,
//! calibration of the characters' chances, seconds.
//!
//! `cargo run --release --example try_reading -- FOLDER [--only PART] [--show] [--plain] [--marks]`
//!
//! Beside `NAME.jpg` stands `NAME.txt` with the true lines. If there is a `NAME.json` of a made
//! sample, its outlines are the marks; else the whole picture is one, or with `--marks` what the
//! finder finds. `--plain` reads with the plain `tesseract` program too; `--dump` prints each letter's chance,
//! whether it is right (1) or not (0), and the number of its line.

use dorso::geometry::{Point, Quad, Rect};
use dorso::marks::{self, Mark, MarkKind};
use dorso::measure::chances::{Stated, calibration_error};
use dorso::measure::text;
use dorso::{photograph, readings};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

type Fallible<T> = Result<T, Box<dyn std::error::Error>>;

#[derive(Default)]
struct Sum {
    count: usize,
    ours: text::Edits,
    plain: text::Edits,
    words: [usize; 3],
    plain_words: [usize; 3],
    seconds: f64,
    plain_seconds: f64,
    stated: Vec<Stated>,
}

fn main() -> Fallible<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let has = |flag: &str| args.iter().any(|a| a == flag);
    let folder = PathBuf::from(args.first().ok_or("name a folder")?);
    let only = args
        .iter()
        .position(|a| a == "--only")
        .and_then(|i| args.get(i + 1));
    let recognisers = readings::recognisers()?;
    let mut sums: HashMap<String, Sum> = HashMap::new();
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)?
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e == "jpg" || e == "png"))
        .filter(|p| only.is_none_or(|o| p.to_string_lossy().contains(o.as_str())))
        .collect();
    files.sort();
    for file in files {
        let truth = std::fs::read_to_string(file.with_extension("txt"))?;
        let photo = photograph::open(&file)?;
        let (grade, cut) = cuts(&file)?;
        let (w, h) = photo.picture.dimensions();
        let start = Instant::now();
        let marks = match cut {
            Some(marks) => marks,
            None if has("--marks") => marks::find(&photo.picture),
            None => vec![mark(Rect::new(0, 0, w, h).quad())],
        };
        let mut rows = Vec::new();
        let mut characters = Vec::new();
        let mut voters = Vec::new();
        for m in &marks {
            let flat = marks::flatten(&photo.picture, m);
            let (reading, _) = readings::read(&flat, &recognisers)?;
            voters.push(format!("{:?}{}", reading.turn, reading.voters.len()));
            for line in reading.lines {
                rows.push(line.leiden.clone());
                characters.extend(line.characters);
                characters.push(readings::Character::sure("\n", f64::NAN));
            }
        }
        let seconds = start.elapsed().as_secs_f64();
        let read: String = characters.iter().map(|c| c.text.as_str()).collect();
        let sum = sums.entry(grade).or_default();
        sum.count += 1;
        sum.seconds += seconds;
        let ours = text::characters(&truth, &read);
        sum.ours = sum.ours.plus(ours);
        add(&mut sum.words, bag(&truth, &read));
        let chances = stated(&truth, &characters);
        if has("--dump") {
            for (s, line) in &chances {
                println!("dump {:.4} {} {line}", s.chance, u8::from(s.right));
            }
        }
        sum.stated.extend(chances.into_iter().map(|c| c.0));
        let mut note = String::new();
        if has("--plain") {
            let (plain, took) = plain(&file)?;
            let edits = text::characters(&truth, &plain);
            sum.plain = sum.plain.plus(edits);
            sum.plain_seconds += took;
            add(&mut sum.plain_words, bag(&truth, &plain));
            note = format!("plain {:.3} in {took:.1} s", edits.rate());
        }
        println!(
            "{:32} cer {:.3} f1 {:.2} {seconds:.1} s {} {note}",
            file.file_name().unwrap_or_default().to_string_lossy(),
            ours.rate(),
            f1(bag(&truth, &read)),
            voters.join(" ")
        );
        if has("--show") {
            println!(
                "--- truth\n{}\n--- read\n{}\n",
                truth.trim(),
                rows.join("\n")
            );
        }
    }
    let mut grades: Vec<_> = sums.into_iter().collect();
    grades.sort_by(|a, b| a.0.cmp(&b.0));
    for (grade, s) in grades {
        println!(
            "{grade:8} n {} cer {:.4} (plain {:.4}) f1 {:.3} (plain {:.3}) ece {:.3} s/photo {:.2} (plain {:.2})",
            s.count,
            s.ours.rate(),
            s.plain.rate(),
            f1(s.words),
            f1(s.plain_words),
            calibration_error(&s.stated, 10).unwrap_or(0.0),
            s.seconds / s.count as f64,
            s.plain_seconds / s.count as f64,
        );
    }
    Ok(())
}

fn mark(outline: Quad) -> Mark {
    Mark {
        kind: MarkKind::Unknown,
        kind_chance: 1.0,
        outline,
        lettering: 1.0,
        bearing: None,
    }
}

/// Grade and true outlines of a made sample.
fn cuts(file: &Path) -> Fallible<(String, Option<Vec<Mark>>)> {
    let Ok(json) = std::fs::read_to_string(file.with_extension("json")) else {
        return Ok(("all".into(), None));
    };
    let json: serde_json::Value = serde_json::from_str(&json)?;
    let mut out = Vec::new();
    for m in json["marks"].as_array().into_iter().flatten() {
        let corner = |i: usize, k: usize| m["outline"][i][k].as_f64().unwrap_or(0.0);
        // As a finder would give it: corners named as the photograph shows them.
        let upright = m["turn"].as_i64().unwrap_or(0) / 90;
        let mut corners = [0, 1, 2, 3].map(|i| Point::new(corner(i, 0), corner(i, 1)));
        corners.rotate_left(((4 - upright) % 4) as usize);
        out.push(mark(Quad(corners)));
    }
    Ok((json["grade"].as_str().unwrap_or("").to_string(), Some(out)))
}

/// Right, read and true words, as bags, without case and punctuation.
fn bag(truth: &str, read: &str) -> [usize; 3] {
    let words = |t: &str| -> Vec<String> {
        t.split_whitespace()
            .map(|w| {
                w.chars()
                    .filter(|c| c.is_alphanumeric())
                    .collect::<String>()
                    .to_lowercase()
            })
            .filter(|w| !w.is_empty())
            .collect()
    };
    let (truth, read) = (words(truth), words(read));
    let mut left: HashMap<&str, usize> = HashMap::new();
    truth.iter().for_each(|w| *left.entry(w).or_default() += 1);
    let right = read
        .iter()
        .filter(|w| match left.get_mut(w.as_str()) {
            Some(n) if *n > 0 => {
                *n -= 1;
                true
            }
            _ => false,
        })
        .count();
    [right, read.len(), truth.len()]
}

fn add(sum: &mut [usize; 3], more: [usize; 3]) {
    sum.iter_mut().zip(more).for_each(|(s, m)| *s += m);
}

fn f1([right, read, truth]: [usize; 3]) -> f64 {
    2.0 * right as f64 / (read + truth).max(1) as f64
}

/// Each read letter's chance and whether it is right, by least edits against the truth, with the number
/// of its line, from the last.
fn stated(truth: &str, read: &[readings::Character]) -> Vec<(Stated, usize)> {
    let t: Vec<char> = text::normal(truth).chars().collect();
    let mut line = 0;
    let r: Vec<(char, f64)> = read
        .iter()
        .flat_map(|c| {
            c.text
                .chars()
                .map(|x| (if x == '\n' { ' ' } else { x }, c.confidence))
        })
        .collect();
    let (n, m) = (t.len(), r.len());
    let mut cost = vec![vec![0usize; m + 1]; n + 1];
    for i in 0..=n {
        for j in 0..=m {
            cost[i][j] = if i == 0 || j == 0 {
                i + j
            } else {
                let both = cost[i - 1][j - 1] + usize::from(t[i - 1] != r[j - 1].0);
                both.min(cost[i - 1][j] + 1).min(cost[i][j - 1] + 1)
            };
        }
    }
    let mut out = Vec::new();
    let (mut i, mut j) = (n, m);
    while j > 0 {
        let both = i > 0 && cost[i][j] == cost[i - 1][j - 1] + usize::from(t[i - 1] != r[j - 1].0);
        if i > 0 && !both && cost[i][j] == cost[i - 1][j] + 1 {
            i -= 1;
            continue;
        }
        if r[j - 1].0 != ' ' && r[j - 1].1.is_finite() {
            let right = both && t[i - 1] == r[j - 1].0;
            let chance = r[j - 1].1;
            out.push((Stated { chance, right }, line));
        }
        line += usize::from(r[j - 1].1.is_nan());
        j -= 1;
        if both {
            i -= 1;
        }
    }
    out
}

fn plain(file: &Path) -> Fallible<(String, f64)> {
    let start = Instant::now();
    let out = std::process::Command::new("tesseract")
        .arg(file)
        .arg("stdout")
        .stderr(std::process::Stdio::null())
        .output()?;
    Ok((
        String::from_utf8_lossy(&out.stdout).into_owned(),
        start.elapsed().as_secs_f64(),
    ))
}
