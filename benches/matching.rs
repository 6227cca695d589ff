//! Matching a mark of six lines against lists of 1,000, 10,000 and 100,000 rows: milliseconds,
//! beside Jaro-Winkler (strsim) over every row's name in the same run, one thread each.
//!
//! `cargo bench --bench matching`. Rows are invented, with confusable names.

use dorso::gazetteer::{Entry, Gazetteer, List};
use dorso::proposals::Index;
use dorso::readings::from_typed;
use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::PathBuf;
use std::time::Instant;

const STEMS: [&str; 16] = [
    "Har", "Wen", "Thorn", "Cal", "Bram", "Ast", "Kell", "Row", "Dun", "Mar", "Pel", "Stan",
    "Lock", "Ever", "Ash", "Gil",
];
const ENDS: [&str; 12] = [
    "ley", "ton", "by", "wick", "ford", "son", "well", "croft", "ham", "stead", "ing", "more",
];
const FORENAMES: [&str; 10] = [
    "William", "James", "Thomas", "John", "Charles", "Robert", "Ann", "Henry", "Edward", "Josiah",
];
const STREETS: [&str; 8] = [
    "High Street",
    "Gosling Street",
    "Market Place",
    "Mill Lane",
    "Castle Gate",
    "Bridge Street",
    "Long Row",
    "Friar Gate",
];
const TOWNS: [&str; 6] = [
    "Rothcaster",
    "Wexborough",
    "Aldermere",
    "Thornsea",
    "Kirkholm",
    "Lowmarsh",
];

fn rows(count: usize, dice: &mut ChaCha8Rng) -> Vec<Entry> {
    let pick = |from: &[&str], dice: &mut ChaCha8Rng| -> String {
        (*from.choose(dice).unwrap_or(&"")).to_string()
    };
    (0..count)
        .map(|i| {
            let surname = format!("{}{}", pick(&STEMS, dice), pick(&ENDS, dice));
            let from = dice.random_range(1800..1930);
            Entry {
                list: "framers".into(),
                entry: format!("row-{i}"),
                name: format!("{} {surname}", pick(&FORENAMES, dice)),
                trade: "carver and gilder".into(),
                address: format!("{} {}", dice.random_range(1..180), pick(&STREETS, dice)),
                town: pick(&TOWNS, dice),
                from: from.to_string(),
                to: (from + dice.random_range(1..25)).to_string(),
                row: i + 2,
                ..Entry::default()
            }
        })
        .collect()
}

fn main() {
    let mut dice = ChaCha8Rng::seed_from_u64(7);
    println!(
        "{:>8} {:>10} {:>12} {:>16} {:>8}",
        "rows", "index s", "dorso ms", "jaro-winkler ms", "ratio"
    );
    for count in [1_000, 10_000, 100_000] {
        let entries = rows(count, &mut dice);
        let names: Vec<String> = entries.iter().map(|e| e.name.to_uppercase()).collect();
        let questions: Vec<String> = entries
            .iter()
            .step_by((count / 20).max(1))
            .map(|e| {
                format!(
                    "FROM\n{}\nCARVER & GILDER\n{}\n{}\nOld frames re-gilt",
                    e.name.to_uppercase().replacen('A', "[.]", 1),
                    e.address,
                    e.town
                )
            })
            .collect();
        let start = Instant::now();
        let index = Index::new(Gazetteer {
            lists: vec![List {
                name: "framers".into(),
                file: PathBuf::from("framers.csv"),
                entries,
            }],
        });
        let build = start.elapsed().as_secs_f64();
        let typed: Vec<_> = questions
            .iter()
            .map(|q| from_typed(q).expect("signs"))
            .collect();
        let start = Instant::now();
        let mut found = 0;
        for lines in &typed {
            found += index.weigh(lines, None).len();
        }
        let ours = start.elapsed().as_secs_f64() * 1e3 / typed.len() as f64;
        let start = Instant::now();
        let mut best = 0.0f64;
        for q in &questions {
            for line in q.lines() {
                for name in &names {
                    best = best.max(strsim::jaro_winkler(line, name));
                }
            }
        }
        let theirs = start.elapsed().as_secs_f64() * 1e3 / questions.len() as f64;
        assert!(found > 0 && best > 0.0);
        println!(
            "{count:>8} {build:>10.2} {ours:>12.2} {theirs:>16.2} {:>8.2}",
            ours / theirs
        );
    }
}
