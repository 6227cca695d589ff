//! Weighs kept readings of photographs against lists, in seconds and without reading anew.
//!
//! ```sh
//! for f in DIR/*.jpg; do dorso read --no-store --json $f > READINGS/$(basename ${f%.jpg}).json; done
//! cargo run --release --example weigh_readings -- DIR=READINGS [DIR=READINGS ...] [lists=samples/gazetteer]
//! ```
//! DIR holds the truth as the sample maker writes it. Prints for the marks that name somebody how
//! often the true entry, or "on none", stands first, and how well the chances keep their promise;
//! `tell` lists the marks that went wrong; `fit ROUNDS` searches the numbers of the weighing
//! (with `typed` or `photographs` on those readings alone); `NAME=NUMBER` sets one of them;
//! `confusions FOLDER ...` counts instead which sign is read for which, on these marks and on FOLDER's pictures
//! of single lines (`NAME.png` with `NAME.txt`, read by the line network alone); it prints what
//! `src/proposals/confusions.csv` holds; `rows=N` fills each list of firms with invented confusable rows up to that length.

mod confusions;
mod fill;
#[path = "../trial_weighing/firms.rs"]
mod firms;
mod fit;
#[path = "../trial_weighing/knobs.rs"]
mod knobs;
mod marks;

use dorso::gazetteer::{self, Gazetteer};
use dorso::measure::chances::{self, Stated};
use dorso::proposals::Index;
use fill::FIRMS;
use marks::Asked;
use std::path::{Path, PathBuf};
use std::time::Instant;

fn main() {
    if let Err(e) = run() {
        eprintln!("weigh_readings: {e}");
        std::process::exit(1);
    }
}

fn run() -> Result<(), String> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let set = |name: &str| arguments.iter().find_map(|a| a.strip_prefix(name));
    let lists = PathBuf::from(set("lists=").unwrap_or("samples/gazetteer"));
    let (mut gazetteer, _) = gazetteer::load(&lists).map_err(|e| e.to_string())?;
    if let Some(rows) = set("rows=").and_then(|n| n.parse().ok()) {
        fill::fill(&mut gazetteer, rows, 5);
    }
    let mut asked = Vec::new();
    for a in &arguments {
        if let Some((truth, readings)) = a.split_once('=')
            && Path::new(truth).is_dir()
        {
            asked.extend(marks::open(Path::new(truth), Path::new(readings))?);
        }
    }
    if let Some(at) = arguments.iter().position(|a| a == "fit") {
        let rounds = arguments.get(at + 1).and_then(|n| n.parse().ok());
        let has = |word: &str| arguments.iter().any(|a| a == word);
        let which = (!has("typed"), !has("photographs"));
        let start = knobs::from_arguments(&arguments);
        fit::run(&gazetteer, &asked, rounds.unwrap_or(3), which, start);
        return Ok(());
    }
    if let Some(at) = arguments.iter().position(|a| a == "confusions") {
        let folders: Vec<PathBuf> = arguments[at + 1..].iter().map(PathBuf::from).collect();
        return confusions::run(&asked, &folders).map_err(|e| e.to_string());
    }
    let index = Index::with(gazetteer, knobs::from_arguments(&arguments));
    report(&index, &asked, arguments.iter().any(|a| a == "tell"));
    Ok(())
}

/// Whether the wording may name an entry of the list without being of it, so that it can't be asked.
pub fn doubtful(g: &Gazetteer, list: &str, wording: &str) -> bool {
    let words = wording.to_lowercase();
    let entries = g
        .lists
        .iter()
        .filter(|l| l.name == list)
        .flat_map(|l| &l.entries);
    entries.filter(|e| e.row < fill::FILLED).any(|e| {
        e.name
            .to_lowercase()
            .split_whitespace()
            .filter(|w| w.len() > 5)
            .any(|w| words.contains(w))
    })
}

fn report(index: &Index, asked: &[Asked], tell: bool) {
    let (mut first, mut stated, mut each) = ([[0usize; 2]; 6], Vec::new(), Vec::new());
    let mut seconds = 0.0;
    let mut weighed = 0;
    for a in asked.iter().filter(|a| a.names) {
        let began = Instant::now();
        let rivals = index.weigh(&a.lines, None);
        seconds += began.elapsed().as_secs_f64();
        weighed += 1;
        // A mark of an unlisted firm may well name a listed artist or town: that is no mistake
        let own = rivals.iter().find(|r| {
            if a.list.is_empty() {
                FIRMS.contains(&r.list.as_str())
            } else {
                r.list == a.list
            }
        });
        let (best, unlisted) = match own {
            Some(r) => (r.proposals.first(), r.unlisted),
            None => (None, 1.0),
        };
        let said = best.filter(|b| b.probability > unlisted);
        let right = said.map_or("", |b| b.entry.as_str()) == a.entry;
        let p = said.map_or(unlisted, |b| b.probability);
        let grade = ["easy", "medium", "hard"]
            .iter()
            .position(|g| *g == a.grade)
            .unwrap_or(2);
        let at = grade + 3 * usize::from(a.list.is_empty());
        first[at][0] += usize::from(right);
        first[at][1] += 1;
        if !a.lines.is_empty() {
            stated.push(Stated { chance: p, right });
        }
        for r in rivals.iter().filter(|r| FIRMS.contains(&r.list.as_str())) {
            if r.list != a.list && doubtful(&index.gazetteer, &r.list, &a.wording) {
                continue;
            }
            let truth = if r.list == a.list {
                a.entry.as_str()
            } else {
                ""
            };
            let best = r.proposals.first();
            each.extend(best.map(|b| Stated {
                chance: b.probability,
                right: b.entry == truth,
            }));
            each.push(Stated {
                chance: r.unlisted,
                right: truth.is_empty(),
            });
        }
        if tell && !right {
            let read: Vec<&str> = a.lines.iter().map(|l| l.leiden.as_str()).collect();
            let said = said.map_or("none".into(), |b| format!("{}/{}", b.list, b.entry));
            println!(
                "{} {} true {}/{}: said {said} {p:.2}\n    made {}\n    read {}",
                a.place,
                a.grade,
                a.list,
                a.entry,
                a.wording,
                read.join(" / ")
            );
        }
    }
    for (k, name) in ["on the lists", "on none"].iter().enumerate() {
        let [e, m, h] = [first[3 * k], first[3 * k + 1], first[3 * k + 2]];
        let share = |a: &[[usize; 2]]| {
            let (n, d) = a.iter().fold((0, 0), |s, x| (s.0 + x[0], s.1 + x[1]));
            format!("{:.3} ({n}/{d})", n as f64 / d.max(1) as f64)
        };
        println!(
            "{name}: first easy {} medium {} hard {} easy+medium {} all {}",
            share(&[e]),
            share(&[m]),
            share(&[h]),
            share(&[e, m]),
            share(&[e, m, h])
        );
    }
    tells("first-ranked statements", &stated);
    tells("best entry and \"on none\" of each list", &each);
    println!("{:.2} ms a mark", seconds * 1e3 / weighed.max(1) as f64);
}

fn tells(what: &str, stated: &[Stated]) {
    let (Some(brier), Some(ece), Some((rel, res, unc))) = (
        chances::brier(stated),
        chances::calibration_error(stated, 10),
        chances::murphy(stated, 10),
    ) else {
        return;
    };
    let sure: Vec<_> = stated.iter().filter(|s| s.chance >= 0.95).collect();
    let wrong = sure.iter().filter(|s| !s.right).count();
    println!(
        "{what}: {} statements, Brier {brier:.4} = {rel:.4} - {res:.4} + {unc:.4}, ECE {ece:.4}, at 0.95: {wrong} wrong of {}",
        stated.len(),
        sure.len()
    );
    for b in chances::reliability_bins(stated, 10) {
        println!(
            "    said {:.2} held {:.2} ({})",
            b.stated, b.came_true, b.count
        );
    }
}
