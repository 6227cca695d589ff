//! Searches the numbers of the weighing on kept readings.

use super::doubtful;
use super::fill::{self, FIRMS};
use super::firms::{Damage, Firms, HARD, Names, USUAL};
use super::knobs;
use crate::marks::Asked;
use dorso::gazetteer::Gazetteer;
use dorso::proposals::Index;
use dorso::proposals::calibration::Calibration;

/// Marks and lists of one size: number of the mark, list, row of the truth.
type Questions = Vec<(usize, &'static str, Option<usize>)>;

fn questions(g: &Gazetteer, asked: &[Asked], others: bool) -> Questions {
    let mut out = Vec::new();
    for (i, a) in asked.iter().enumerate().filter(|(_, a)| a.names) {
        for (k, list) in FIRMS.into_iter().enumerate() {
            let Some(l) = g.lists.iter().find(|l| l.name == list) else {
                continue;
            };
            if list == a.list {
                let row = l.entries.iter().position(|e| e.entry == a.entry);
                out.push((i, list, row));
            } else if (others && k == i % FIRMS.len() || a.list.is_empty() && k < 2)
                && !doubtful(g, list, &a.wording)
            {
                out.push((i, list, None));
            }
        }
    }
    out
}

/// Weight of a question whose truth is "on none", so that the many of them don't drown the others.
const OFF: f64 = 0.7;

/// Mean log loss of the truth over some sets.
fn loss(sets: &[(Gazetteer, Questions)], asked: &[Asked], fit: &Calibration) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for (g, questions) in sets {
        let index = Index::with(g.clone(), fit.clone());
        for &(i, list, row) in questions {
            let Some((rows, unlisted)) = index.chances(&asked[i].lines, list) else {
                continue;
            };
            let p = match row {
                Some(r) => rows.iter().find(|x| x.0 == r).map_or(0.0, |x| x.1),
                None => unlisted,
            };
            let weight = if row.is_some() { 1.0 } else { OFF };
            sum -= weight * p.max(LEAST).ln();
            count += weight;
        }
    }
    sum / f64::max(count, 1.0)
}

/// A truth that got no more than this counts as if it had got so much.
const LEAST: f64 = 1e-3;

/// Typed readings of invented firms, so that what is fitted serves them too.
fn typed(asked: &mut Vec<Asked>) -> Vec<(Gazetteer, Questions)> {
    const LIGHT: Damage = Damage {
        lost: 0.08,
        misread: 0.03,
    };
    let one = |size: &usize| {
        let mut firms = Firms::new(Names::Fitting, *size, 7);
        let mut questions = Vec::new();
        for i in 0..TYPED {
            let q = firms.question(i % 3 != 2, [LIGHT, USUAL, HARD, USUAL, HARD][i / 3 % 5]);
            let Ok(lines) = dorso::readings::from_typed(&q.text) else {
                continue;
            };
            let row = q
                .entry
                .and_then(|e| firms.listed.iter().position(|l| l.entry == e));
            questions.push((asked.len(), "framers", row));
            asked.push(Asked {
                lines,
                ..Asked::default()
            });
        }
        (firms.gazetteer(), questions)
    };
    [50usize, 800, 6000].iter().map(one).collect()
}

/// Typed questions of each size of list.
const TYPED: usize = 200;

/// Numbers that are searched.
const SEARCHED: [&str; 20] = [
    "slope",
    "bias",
    "shared",
    "misread",
    "missing",
    "off_word",
    "known",
    "half_known",
    "known_place",
    "common",
    "name",
    "other_name",
    "address",
    "town",
    "other_address",
    "other_town",
    "added",
    "loss_too_long",
    "missing_by_loss",
    "trade_agrees",
];

/// Searches and prints the best numbers. Readings of photographs and typed ones count alike;
/// `photographs` and `typing`: which of them are taken.
pub fn run(
    g: &Gazetteer,
    asked: &[Asked],
    rounds: usize,
    (photographs, typing): (bool, bool),
    mut c: Calibration,
) {
    let mut asked = asked.to_vec();
    let mut sets = Vec::new();
    for rows in [0, 600] {
        let mut g = g.clone();
        fill::fill(&mut g, rows, 11);
        let q = questions(&g, &asked, rows == 0);
        sets.push((g, q));
    }
    let more = typed(&mut asked);
    let asked = asked.as_slice();
    let both = |c: &Calibration| {
        let read = if photographs {
            loss(&sets, asked, c)
        } else {
            0.0
        };
        let typed = if typing { loss(&more, asked, c) } else { 0.0 };
        (read + typed, read, typed)
    };
    let mut best = both(&c);
    println!("start {best:.4?}");
    let mut step = 1.6f64;
    for round in 0..rounds {
        let mut told = Vec::new();
        for name in SEARCHED {
            let Some(old) = knobs::get(&mut c, name) else {
                continue;
            };
            for factor in [step, 1.0 / step] {
                let new = if name == "bias" {
                    old + factor.ln()
                } else {
                    old * factor
                };
                knobs::set(&mut c, name, new);
                let l = both(&c);
                if l.0 < best.0 - 1e-4 {
                    best = l;
                    break;
                }
                knobs::set(&mut c, name, old);
            }
            told.push(format!(
                "{name}={:.4}",
                knobs::get(&mut c, name).unwrap_or(old)
            ));
        }
        println!("round {round} loss {best:.4?}: {}", told.join(" "));
        step = 1.0 + (step - 1.0) * 0.7;
    }
}
