//! Searches the numbers of the weighing on kept readings.

use super::firms::{Damage, Firms, HARD, Names, USUAL};
use super::{FIRMS, doubtful, fill};
use crate::marks::Asked;
use dorso::gazetteer::Gazetteer;
use dorso::proposals::Index;
use dorso::proposals::calibration::Calibration;

type Knob = (&'static str, fn(&mut Calibration) -> &mut f32);

type Wide = (&'static str, fn(&mut Calibration) -> &mut f64);

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
            sum -= weight * p.max(1e-3).ln();
            count += weight;
        }
    }
    sum / count
}

/// Typed readings of invented firms, so that what is fitted serves them too.
fn typed(asked: &mut Vec<Asked>) -> Vec<(Gazetteer, Questions)> {
    const LIGHT: Damage = Damage {
        lost: 0.08,
        misread: 0.03,
    };
    let sizes = [50usize, 800];
    let one = |size: &usize| {
        let mut firms = Firms::new(Names::Fitting, *size, 7);
        let mut questions = Vec::new();
        for i in 0..TYPED {
            let q = firms.question(i % 3 != 2, [LIGHT, USUAL, HARD][i / 3 % 3]);
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
    sizes.iter().map(one).collect()
}

/// Typed questions of each size of list.
const TYPED: usize = 72;

/// Searches and prints the best numbers.
pub fn run(g: &Gazetteer, asked: &[Asked], rounds: usize) {
    let mut asked = asked.to_vec();
    let mut sets = Vec::new();
    for rows in [0, 600] {
        let mut g = g.clone();
        fill::fill(&mut g, rows, 11);
        let q = questions(&g, &asked, rows == 0);
        sets.push((g, q));
    }
    let more = typed(&mut asked);
    sets.extend(more);
    let asked = asked.as_slice();
    let knobs: Vec<Knob> = vec![
        ("misread", |c| &mut c.costs.misread),
        ("missing", |c| &mut c.costs.missing),
        ("known", |c| &mut c.known),
        ("known_place", |c| &mut c.known_place),
        ("common", |c| &mut c.common),
        ("name", |c| &mut c.absence.name),
        ("other_name", |c| &mut c.absence.other_name),
        ("address", |c| &mut c.absence.address),
        ("town", |c| &mut c.absence.town),
    ];
    let others: [Wide; 3] = [
        ("slope", |c| &mut c.slope),
        ("shared", |c| &mut c.shared),
        ("unlisted_odds", |c| &mut c.unlisted_bias),
    ];
    let mut c = Calibration::default();
    let mut best = loss(&sets, asked, &c);
    println!("start {best:.4}");
    let mut step = 1.6f64;
    for round in 0..rounds {
        let mut told = Vec::new();
        for (name, get) in &others {
            for factor in [step, 1.0 / step] {
                let old = *get(&mut c);
                *get(&mut c) = if *name == "unlisted_odds" {
                    old + factor.ln()
                } else {
                    old * factor
                };
                let l = loss(&sets, asked, &c);
                if l < best - 1e-5 {
                    best = l;
                    break;
                }
                *get(&mut c) = old;
            }
            told.push(format!("{name} {:.3}", *get(&mut c)));
        }
        for (name, get) in &knobs {
            for factor in [step, 1.0 / step] {
                let old = *get(&mut c);
                *get(&mut c) = old * factor as f32;
                let l = loss(&sets, asked, &c);
                if l < best - 1e-5 {
                    best = l;
                    break;
                }
                *get(&mut c) = old;
            }
            told.push(format!("{name} {:.4}", *get(&mut c)));
        }
        println!("round {round} loss {best:.4}: {}", told.join(", "));
        step = 1.0 + (step - 1.0) * 0.7;
    }
}
