//! Trial of the weighing on invented firms with confusable names.
//!
//! ```sh
//! cargo run --release --example trial_weighing -- [firms 10000] [questions 600] [seed 1] [fit]
//! ```
//! Prints, for usual and hard damage: how often the right firm stands first, how often a firm on no
//! list is known as such, calibration of the chances, time for each mark, and beside it the best
//! entry by Jaro-Winkler and by normalised Levenshtein on the same readings. `fit` draws the names
//! that costs are fitted on; `search SEED EACH ROUNDS` as first words fits them.

mod firms;
mod fit;
mod knobs;

use dorso::measure::chances::{self, Stated};
use dorso::proposals::{Index, Proposal};
use firms::{Firms, HARD, Names, USUAL};
use std::time::Instant;

/// Bins of the calibration error.
const BINS: usize = 10;

#[derive(Default)]
struct Tally {
    listed: usize,
    first: usize,
    first_said: usize,
    off: usize,
    off_known: usize,
    winkler: usize,
    levenshtein: usize,
    /// Greatest chance of a named entry, and whether it was right.
    entries: Vec<Stated>,
    /// Chance of "unlisted", and whether it was right.
    none: Vec<Stated>,
    seconds: f64,
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize, default: u64| {
        arguments
            .get(i)
            .and_then(|a| a.parse().ok())
            .unwrap_or(default)
    };
    if arguments.first().is_some_and(|a| a == "search") {
        return fit::run(
            number(1, 7),
            number(2, 90) as usize,
            number(3, 4) as usize,
            arguments.iter().any(|a| a == "chances"),
        );
    }
    let (count, questions, seed) = (number(0, 10_000) as usize, number(1, 600), number(2, 1));
    let names = if arguments.iter().any(|a| a == "fit") {
        Names::Fitting
    } else {
        Names::Trial
    };
    let rivals = !arguments.iter().any(|a| a == "alone");
    let tell = arguments.iter().any(|a| a == "tell");
    let mut firms = Firms::new(names, count, seed);
    let began = Instant::now();
    let fit = knobs::from_arguments(&arguments);
    let index = Index::with(firms.gazetteer(), fit);
    println!(
        "{count} firms, index built in {:.0} ms",
        began.elapsed().as_secs_f64() * 1e3
    );
    let whole: Vec<String> = firms
        .listed
        .iter()
        .map(|e| format!("{} {} {}", e.name, e.address, e.town).to_lowercase())
        .collect();
    for (label, damage) in [("usual", USUAL), ("hard", HARD)] {
        let ask = |firms: &mut Firms, listed| firms.question(listed, damage);
        let tally = run(&mut firms, &index, &whole, ask, questions, (rivals, tell));
        print(label, &tally);
    }
    let tally = run(
        &mut firms,
        &index,
        &whole,
        Firms::clear,
        questions,
        (rivals, tell),
    );
    print(
        "nothing lost, well read; those on no list have other surnames",
        &tally,
    );
}

fn run(
    firms: &mut Firms,
    index: &Index,
    whole: &[String],
    ask: impl Fn(&mut Firms, bool) -> firms::Question,
    questions: u64,
    (rivals, tell): (bool, bool),
) -> Tally {
    let mut t = Tally::default();
    for i in 0..questions {
        let listed = i % 3 != 2;
        let q = ask(firms, listed);
        let Ok(lines) = dorso::readings::from_typed(&q.text) else {
            continue;
        };
        let began = Instant::now();
        let weighed = index.weigh(&lines, None);
        t.seconds += began.elapsed().as_secs_f64();
        let (best, unlisted) = match weighed.first() {
            Some(r) => (r.proposals.first(), r.unlisted),
            None => (None, 1.0),
        };
        let right = best.is_some_and(|b| Some(&b.entry) == q.entry.as_ref());
        if let Some(b) = best {
            t.entries.push(Stated {
                chance: b.probability,
                right,
            });
        }
        if tell {
            told(firms, &q, best, unlisted);
        }
        t.none.push(Stated {
            chance: unlisted,
            right: q.entry.is_none(),
        });
        if listed {
            t.listed += 1;
            t.first += usize::from(right);
            t.first_said += usize::from(right && best.is_some_and(|b| b.probability > unlisted));
            if rivals {
                let text: String = lines.iter().map(|l| l.text.to_lowercase() + " ").collect();
                let top = |measure: &dyn Fn(&str) -> f64| {
                    let best = whole
                        .iter()
                        .enumerate()
                        .map(|(i, w)| (measure(w), i))
                        .max_by(|a, b| a.0.total_cmp(&b.0));
                    best.is_some_and(|(_, i)| Some(&firms.listed[i].entry) == q.entry.as_ref())
                };
                t.winkler += usize::from(top(&|w| strsim::jaro_winkler(text.trim(), w)));
                t.levenshtein +=
                    usize::from(top(&|w| strsim::normalized_levenshtein(text.trim(), w)));
            }
        } else {
            t.off += 1;
            t.off_known += usize::from(best.is_none_or(|b| unlisted > b.probability));
        }
    }
    t
}

/// Tells a statement at 0.95 and above that is wrong.
fn told(firms: &Firms, q: &firms::Question, best: Option<&Proposal>, unlisted: f64) {
    let row = |k: &str| firms.listed.iter().find(|e| e.entry == k);
    let line = |e: Option<&dorso::gazetteer::Entry>| {
        e.map_or("none".into(), |e| {
            format!("{} | {} | {} | {}", e.name, e.trade, e.address, e.town)
        })
    };
    let named = best.filter(|b| b.probability >= 0.95);
    let said = named.and_then(|b| row(&b.entry));
    let truth = q.entry.as_deref().and_then(row);
    let wrong = match (said, truth) {
        (Some(s), t) => t.is_none_or(|t| t.entry != s.entry),
        (None, t) => unlisted >= 0.95 && t.is_some(),
    };
    if wrong {
        println!(
            "    {}\n        said {} {:.3}\n        true {}",
            q.text.replace('\n', " / "),
            line(said),
            named.map_or(unlisted, |b| b.probability),
            line(truth)
        );
    }
}

fn print(label: &str, t: &Tally) {
    let share = |a: usize, b: usize| a as f64 / b.max(1) as f64;
    let stated: Vec<Stated> = t.entries.iter().chain(&t.none).copied().collect();
    println!("{label}:");
    println!(
        "  right firm first among the entries  {:.3}",
        share(t.first, t.listed)
    );
    println!(
        "  ... and likelier than \"unlisted\"    {:.3}",
        share(t.first_said, t.listed)
    );
    println!(
        "  Jaro-Winkler first                  {:.3}",
        share(t.winkler, t.listed)
    );
    println!(
        "  normalised Levenshtein first        {:.3}",
        share(t.levenshtein, t.listed)
    );
    println!(
        "  on no list, known as such           {:.3}",
        share(t.off_known, t.off)
    );
    let of_each = [&stated, &t.entries, &t.none].map(|of| chances::reliability_bins(of, BINS));
    for all in &of_each[0] {
        for (whose, bins) in ["", "  first entry:", "  unlisted:"].iter().zip(&of_each) {
            match bins.iter().find(|b| b.low == all.low) {
                Some(b) => print!(
                    "   {whose} said {:.2}  held {:.2} {:7}",
                    b.stated,
                    b.came_true,
                    format!("({})", b.count)
                ),
                None => print!("   {whose} {:26}", ""),
            }
        }
        println!();
    }
    let sure: Vec<&Stated> = stated.iter().filter(|s| s.chance >= 0.95).collect();
    let wrong = sure.iter().filter(|s| !s.right).count();
    let told = |figure: Option<f64>| figure.unwrap_or(f64::NAN);
    println!(
        "  Brier {:.4}  ECE {:.4}  at 0.95 and above: {wrong} wrong of {}",
        told(chances::brier(&stated)),
        told(chances::calibration_error(&stated, BINS)),
        sure.len()
    );
    println!(
        "  {:.2} ms a mark",
        t.seconds * 1e3 / (t.listed + t.off).max(1) as f64
    );
}
