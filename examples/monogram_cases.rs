//! Weighs made cases of initials against a list of artists of which a part is taken off, fits how far
//! chances are to be believed on one half of the artists, and reports on the other half.
//!
//! ```sh
//! cargo run --release --example monogram_cases -- gazetteer/artists.csv [fit OUT.json]
//! ```
//!
//! A case: an artist with life dates, a form of the name by its share (every third by equal shares, so
//! that the shares aren't simply found again), signed in the order of the name three times in four, a
//! year at work.

use dorso::chance::{Settled, Tempering};
use dorso::gazetteer::{Entry, rows};
use dorso::monogram::{Artists, Described, Known, UNLISTED, forms};
use std::path::Path;
use std::time::Instant;

/// Numbers from a seed, the same everywhere (splitmix64).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        ((self.next() * n as f64) as usize).min(n - 1)
    }
}

/// How exactly the year is known.
#[derive(Clone, Copy, PartialEq)]
enum Year {
    Open,
    Decade,
    Known,
}

struct Case {
    described: Described,
    known: Known,
    /// Place in the list; `None`: taken off.
    right: Option<usize>,
}

fn case(artist: &Entry, right: Option<usize>, year: Year, dice: &mut Dice) -> Option<Case> {
    let all = forms(artist);
    let (Some(from), Some(to)) = artist.years() else {
        return None;
    };
    if all.is_empty() || to - from < 25 {
        return None;
    }
    let mut letters = all[dice.below(all.len())].0.text();
    if dice.next() > 1.0 / 3.0 {
        let mut left = dice.next();
        for (packed, share) in &all {
            letters = packed.text();
            left -= share;
            if left <= 0.0 {
                break;
            }
        }
    }
    if !(2..=3).contains(&letters.len()) {
        return None;
    }
    let interlaced = dice.next() < 0.4;
    let mut signs: Vec<String> = letters.chars().map(String::from).collect();
    if dice.next() < 0.25 {
        let n = signs.len();
        signs.swap(0, dice.below(n));
    }
    let text = signs.join(if interlaced { "+" } else { "" });
    // Work comes thickest between: the mean of two years
    let span = f64::from(to - from - 18);
    let made = from + 18 + (span * (dice.next() + dice.next()) / 2.0) as i32;
    let years = match year {
        Year::Open => None,
        Year::Decade => Some((made.div_euclid(10) * 10, made.div_euclid(10) * 10 + 9)),
        Year::Known => Some((made, made)),
    };
    Some(Case {
        described: Described::parse(&text).ok()?,
        known: Known {
            years,
            ..Known::default()
        },
        right,
    })
}

/// The list without those taken off, and cases of one half of all artists.
fn cases(
    all: &[Entry],
    year: Year,
    half: usize,
    count: usize,
    seed: u64,
) -> (Vec<Entry>, Vec<Case>) {
    let mut dice = Dice(seed);
    // As many are taken off as stand on no list, so that the others are those of a list of that length
    let share = UNLISTED / all.len() as f64;
    let off: Vec<bool> = all.iter().map(|_| dice.next() < share).collect();
    let mut place = vec![None; all.len()];
    let mut list = Vec::new();
    for (i, e) in all.iter().enumerate() {
        if !off[i] {
            place[i] = Some(list.len());
            list.push(e.clone());
        }
    }
    let mut out = Vec::new();
    while out.len() < count {
        let i = dice.below(all.len());
        if i % 2 == half {
            out.extend(case(&all[i], place[i], year, &mut dice));
        }
    }
    (list, out)
}

fn settle(artists: &Artists, c: &Case) -> (Settled, Option<usize>) {
    let who = artists.who(&c.described.letters_meant(), &c.known, usize::MAX);
    let right = c
        .right
        .and_then(|r| who.possible.iter().position(|p| p.row == r));
    let settled = Settled {
        rivals: who.possible.iter().map(|p| p.chance).collect(),
        none: who.nobody,
        // One of the list whose letters don't fit counts as none that could be found
        right,
    };
    (settled, right)
}

fn report(all: &[Entry], fit: Tempering, name: &str, year: Year, seed: u64) {
    let (list, cases) = cases(all, year, 1, 2000, seed);
    let artists = Artists::believed(list.iter(), fit);
    let begun = Instant::now();
    let told: Vec<_> = cases.iter().map(|c| settle(&artists, c)).collect();
    let each = begun.elapsed().as_secs_f64() * 1e3 / cases.len() as f64;
    let listed: Vec<_> = cases
        .iter()
        .zip(&told)
        .filter(|(c, _)| c.right.is_some())
        .collect();
    let within = |n: usize| {
        let good = listed
            .iter()
            .filter(|(_, t)| t.1.is_some_and(|r| r < n))
            .count();
        good as f64 / listed.len() as f64
    };
    // Every chance that is told is one of ten bins' promises: the first artist, and nobody
    let mut bins = vec![(0.0, 0.0, 0usize); 10];
    let (mut brier, mut fits) = (0.0, 0);
    for (c, (s, right)) in cases.iter().zip(&told) {
        fits += s.rivals.len();
        let first = s.rivals.first().map(|p| (*p, *right == Some(0)));
        let none = (s.none, c.right.is_none());
        for (p, true_) in first.into_iter().chain([none]) {
            let b = &mut bins[((p * 10.0) as usize).min(9)];
            *b = (b.0 + p, b.1 + f64::from(u8::from(true_)), b.2 + 1);
        }
        brier += (s.none - f64::from(u8::from(c.right.is_none()))).powi(2);
    }
    let n: usize = bins.iter().map(|b| b.2).sum();
    let ece: f64 = bins.iter().map(|b| (b.0 - b.1).abs()).sum::<f64>() / n as f64;
    println!(
        "{name}, {} listed: first {:.3}, first 5 {:.3}, first 20 {:.3}; calibration error {ece:.3}; Brier of nobody {:.3}; {:.0} fit; {each:.1} ms a question",
        list.len(),
        within(1),
        within(5),
        within(20),
        brier / cases.len() as f64,
        fits as f64 / cases.len() as f64,
    );
    for (i, b) in bins.iter().enumerate().filter(|b| b.1.2 > 30) {
        print!(
            "  {:.1}: {:.2} of {}",
            i as f64 / 10.0,
            b.1 / b.2 as f64,
            b.2
        );
    }
    println!();
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(file) = arguments.first() else {
        eprintln!("name a list of artists, and fit OUT.json to fit");
        std::process::exit(2);
    };
    let bytes = match std::fs::read(file) {
        Ok(b) => b,
        Err(e) => {
            eprintln!("{file}: {e}");
            std::process::exit(1);
        }
    };
    let all = rows::read(Path::new(file), &bytes).entries;
    let part: Vec<Entry> = {
        let mut dice = Dice(5);
        let share = (5000.0 + UNLISTED) / all.len() as f64;
        all.iter()
            .filter(|_| dice.next() < share)
            .cloned()
            .collect()
    };
    let kept = include_str!("../src/monogram/who.json");
    let mut fit: Tempering = serde_json::from_str(kept).unwrap_or_default();
    if let [_, word, out] = &arguments[..]
        && word == "fit"
    {
        let mut settled = Vec::new();
        for (seed, year) in [(11, Year::Open), (12, Year::Decade), (13, Year::Known)] {
            let (list, cases) = cases(&all, year, 0, 1500, seed);
            let artists = Artists::believed(list.iter(), Tempering::default());
            settled.extend(cases.iter().map(|c| settle(&artists, c).0));
        }
        fit = Tempering::fit(&settled);
        let text = serde_json::to_string(&fit).unwrap_or_default() + "\n";
        if let Err(e) = std::fs::write(out, text) {
            eprintln!("{out}: {e}");
            std::process::exit(1);
        }
        println!("fitted on 4,500 cases: {fit:?}");
    }
    for (name, year) in [
        ("no year", Year::Open),
        ("a decade", Year::Decade),
        ("the year", Year::Known),
    ] {
        report(&all, fit, name, year, 21);
        report(&part, fit, name, year, 22);
    }
}
