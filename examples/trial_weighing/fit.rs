//! Fits the numbers of the weighing on invented firms that no figure is reported on.
//!
//! Coordinate search on the mean log loss of the truth (the true entry, or "unlisted"), over lists
//! of three sizes and three degrees of damage, a third of the questions on no list.

use crate::firms::{Damage, Firms, HARD, Names, USUAL};
use dorso::proposals::Index;
use dorso::proposals::calibration::Calibration;
use dorso::readings::Line;

type Knob = (&'static str, fn(&mut Calibration, f64), f64);

struct Set {
    gazetteer: dorso::gazetteer::Gazetteer,
    questions: Vec<(Vec<Line>, Option<usize>)>,
}

const LIGHT: Damage = Damage {
    lost: 0.08,
    misread: 0.03,
};

fn sets(seed: u64, each: usize) -> Vec<Set> {
    [40usize, 400, 4000]
        .iter()
        .map(|&count| {
            let mut firms = Firms::new(Names::Fitting, count, seed);
            let mut questions = Vec::new();
            for i in 0..each {
                let damage = [LIGHT, USUAL, HARD][i / 3 % 3];
                let q = firms.question(i % 3 != 2, damage);
                let Ok(lines) = dorso::readings::from_typed(&q.text) else {
                    continue;
                };
                let row = q
                    .entry
                    .and_then(|e| firms.listed.iter().position(|l| l.entry == e));
                questions.push((lines, row));
            }
            Set {
                gazetteer: firms.gazetteer(),
                questions,
            }
        })
        .collect()
}

fn loss(sets: &[Set], fit: &Calibration) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for set in sets {
        let index = Index::with(set.gazetteer.clone(), fit.clone());
        for (lines, row) in &set.questions {
            let Some((rows, unlisted)) = index.chances(lines, "framers") else {
                continue;
            };
            let p = match row {
                Some(r) => rows.iter().find(|x| x.0 == *r).map_or(0.0, |x| x.1),
                None => unlisted,
            };
            sum -= p.max(1e-4).ln();
            count += 1.0;
        }
    }
    sum / count
}

/// Searches and prints the best numbers.
pub fn run(seed: u64, each: usize, rounds: usize, chances_only: bool) {
    let sets = sets(seed, each);
    let mut knobs: Vec<Knob> = vec![
        ("slope", |c, x| c.slope = x, 0.8),
        ("unlisted_bias", |c, x| c.unlisted_bias = x.ln(), 0.3),
        ("known", |c, x| c.known = x.min(0.5) as f32, 0.2),
        ("misread", |c, x| c.costs.misread = x as f32, 0.08),
        ("alike", |c, x| c.costs.alike = x.min(0.95) as f32, 0.8),
        ("added", |c, x| c.costs.added = x as f32, 0.005),
        ("missing", |c, x| c.costs.missing = x as f32, 0.015),
        (
            "missing_by_loss",
            |c, x| c.costs.missing_by_loss = x as f32,
            0.05,
        ),
        (
            "loss_too_long",
            |c, x| c.costs.loss_too_long = x as f32,
            0.15,
        ),
        ("split", |c, x| c.costs.split = x as f32, 0.08),
        ("off_word", |c, x| c.costs.off_word = x as f32, 0.04),
        (
            "other_address",
            |c, x| c.absence.other_address = x as f32,
            0.15,
        ),
        ("other_town", |c, x| c.absence.other_town = x as f32, 0.008),
        ("address", |c, x| c.absence.address = x as f32, 0.25),
        ("town", |c, x| c.absence.town = x as f32, 0.12),
    ];
    if chances_only {
        knobs.truncate(3);
    }
    let make = |knobs: &[Knob]| {
        let mut c = Calibration::default();
        knobs.iter().for_each(|(_, set, x)| set(&mut c, *x));
        c
    };
    let mut best = loss(&sets, &make(&knobs));
    println!("start {best:.4}");
    let mut step = 1.4;
    for round in 0..rounds {
        for k in 0..knobs.len() {
            for factor in [step, 1.0 / step] {
                let old = knobs[k].2;
                knobs[k].2 = old * factor;
                let l = loss(&sets, &make(&knobs));
                if l < best - 1e-5 {
                    best = l;
                    break;
                }
                knobs[k].2 = old;
            }
        }
        let all: Vec<String> = knobs
            .iter()
            .map(|k| format!("{} {:.4}", k.0, k.2))
            .collect();
        println!("round {round} loss {best:.4}: {}", all.join(", "));
        step = 1.0 + (step - 1.0) * 0.7;
    }
}
