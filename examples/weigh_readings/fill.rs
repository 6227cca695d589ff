//! Fills lists with invented rows whose names, streets and towns are easily confused with the rows
//! that are there.

use dorso::gazetteer::{Entry, Gazetteer};
use rand::prelude::*;
use rand_chacha::ChaCha8Rng;
use std::collections::HashSet;

/// Lists whose entries are firms and societies.
pub const FIRMS: [&str; 5] = [
    "framers",
    "colourmen",
    "exhibitions",
    "retailers",
    "sale_rooms",
];

/// Rows from here on were filled in.
pub const FILLED: usize = 10_000_000;

const GIVEN: &[&str] = &[
    "John",
    "James",
    "Joseph",
    "William",
    "Walter",
    "Thomas",
    "Charles",
    "George",
    "Henry",
    "Robert",
    "Richard",
    "Edward",
    "Edmund",
    "Samuel",
    "Josiah",
    "Frederick",
    "Ann",
    "Mary",
];

const LETTERS: [&str; 2] = ["aeiou", "bcdfghklmnprstvwy"];

/// Fills each list of firms to `rows`.
pub fn fill(g: &mut Gazetteer, rows: usize, seed: u64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    for list in g
        .lists
        .iter_mut()
        .filter(|l| FIRMS.contains(&l.name.as_str()))
    {
        let given = list.entries.clone();
        if given.is_empty() {
            continue;
        }
        // Another firm of the very same name would be as right as the true one on a mark without an
        // address
        let taken: HashSet<String> = given.iter().map(|e| e.name.to_lowercase()).collect();
        let mut all: Vec<Entry> = given.iter().cloned().collect();
        for i in given.len()..rows {
            let pick = |rng: &mut ChaCha8Rng| given[rng.random_range(0..given.len())].clone();
            let (model, place, home) = (pick(&mut rng), pick(&mut rng), pick(&mut rng));
            let mut address = place.address.clone();
            if rng.random_bool(0.8) {
                let number = rng.random_range(1..150);
                let street = address.trim_start_matches(|c: char| !c.is_alphabetic());
                address = format!("{number} {}", altered(street, 0.3, &mut rng));
            }
            let from = rng.random_range(1800..1930);
            all.push(Entry {
                list: list.name.clone(),
                entry: format!("filled-{i}"),
                name: unlike(&taken, &model.name, &mut rng),
                trade: model.trade,
                address,
                town: altered(&home.town, 0.3, &mut rng),
                from: from.to_string(),
                to: (from + rng.random_range(2..30)).to_string(),
                source: "invented for trials".into(),
                row: FILLED + i,
                ..Entry::default()
            });
        }
        list.entries = all.into();
    }
}

/// A name like the model's that is nobody's of the list.
fn unlike(taken: &HashSet<String>, model: &str, rng: &mut ChaCha8Rng) -> String {
    let mut names = (0..50).map(|_| name(model, rng));
    names
        .find(|n| !taken.contains(&n.to_lowercase()))
        .unwrap_or_else(|| format!("{model} of Anywhere"))
}

/// Another given name or initial, and a surname with one or two letters or its ending changed.
fn name(model: &str, rng: &mut ChaCha8Rng) -> String {
    let words: Vec<&str> = model.split_whitespace().collect();
    let out: Vec<String> = words
        .iter()
        .map(|w| {
            if GIVEN.contains(w) || w.len() <= 2 && *w != "&" {
                let g = GIVEN[rng.random_range(0..GIVEN.len())];
                if w.len() <= 2 {
                    format!("{}.", &g[..1])
                } else {
                    g.to_string()
                }
            } else if w.len() > 4 && w.chars().all(char::is_alphabetic) {
                altered(w, 0.85, rng)
            } else {
                (*w).to_string()
            }
        })
        .collect();
    let name = out.join(" ");
    match rng.random_range(0..8) {
        0 if !name.contains('&') => format!("{name} & Son"),
        1 if !name.contains('&') => format!("{name} & Co."),
        _ => name,
    }
}

/// With a chance, one to three letters of a word changed, vowels to vowels.
fn altered(word: &str, chance: f64, rng: &mut ChaCha8Rng) -> String {
    if !rng.random_bool(chance) {
        return word.to_string();
    }
    let mut all: Vec<char> = word.chars().collect();
    for _ in 0..rng.random_range(1..4) {
        let at = rng.random_range(0..all.len().max(1));
        let Some(&c) = all.get(at) else { break };
        let low = c.to_ascii_lowercase();
        if let Some(class) = LETTERS.iter().find(|l| l.contains(low)) {
            let to = class.as_bytes()[rng.random_range(0..class.len())] as char;
            all[at] = if c.is_uppercase() {
                to.to_ascii_uppercase()
            } else {
                to
            };
        }
    }
    all.into_iter().collect()
}
