//! Figures of a model on made marks.

use crate::made::{self, Made, Truth};
use dorso::statements::model::BELIEFS;
use dorso::statements::{Lists, Model, Role, Statement, told};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;

/// A value as it is compared: letters and figures only.
pub fn plain(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric() || *c == '~')
        .flat_map(char::to_lowercase)
        .collect()
}

/// Which of the statements are right: each truth is met once.
pub fn right(said: &[Statement], truths: &[Truth]) -> Vec<Option<usize>> {
    let mut met = vec![false; truths.len()];
    said.iter()
        .map(|s| {
            let is = |i: &usize| {
                !met[*i]
                    && truths[*i].role == s.role.as_str()
                    && plain(&truths[*i].value) == plain(&s.value)
            };
            let found = (0..truths.len()).find(is);
            if let Some(i) = found {
                met[i] = true;
            }
            found
        })
        .collect()
}

#[derive(Default, Clone)]
struct Counts {
    said: usize,
    right: usize,
    truths: usize,
}

impl Counts {
    fn f1(&self) -> f64 {
        2.0 * self.right as f64 / (self.said + self.truths).max(1) as f64
    }
}

/// Share by which chances miss, over ten bins of equal width (M. Naeini and others, AAAI 2015).
fn ece(pairs: &[(f64, bool)]) -> f64 {
    let mut bins = [(0usize, 0.0, 0usize); 10];
    for (p, ok) in pairs {
        let b = &mut bins[((p * 10.0) as usize).min(9)];
        *b = (b.0 + 1, b.1 + p, b.2 + usize::from(*ok));
    }
    bins.iter().map(|b| (b.1 - b.2 as f64).abs()).sum::<f64>() / pairs.len().max(1) as f64
}

fn each<T: Send>(dir: &Path, f: impl Fn(&Made, &Lists) -> T + Sync) -> Result<Vec<T>, String> {
    let mut out = Vec::new();
    for folder in made::folders(dir)? {
        let set = made::set(&folder)?;
        out.par_extend(set.marks.par_iter().map(|m| f(m, &set.lists)));
    }
    Ok(out)
}

/// Prints F1, calibration, figures of places and of entries.
pub fn score(model: &Model, dir: &Path, label: &str) -> Result<(), String> {
    let clock = std::time::Instant::now();
    let all = each(dir, |m, l| {
        (told::by(model, &m.mark, l), m.truths.clone(), m.damaged)
    })?;
    let seconds = clock.elapsed().as_secs_f64();
    let mut by_role: BTreeMap<&str, Counts> = BTreeMap::new();
    let mut total = Counts::default();
    let mut chances = Vec::new();
    let (mut entries, mut entry_chances) = ((0usize, 0usize, 0usize), Vec::new());
    // Towns on the lists: all, told at 0.9 and more with the right entry; on none: all, taken for listed at 0.3
    let mut towns = [0usize; 4];
    let mut two = (0usize, 0usize);
    for (said, truths, _) in &all {
        let met = right(said, truths);
        for (s, m) in said.iter().zip(&met) {
            let c = by_role.entry(s.role.as_str()).or_default();
            (c.said, total.said) = (c.said + 1, total.said + 1);
            if m.is_some() {
                (c.right, total.right) = (c.right + 1, total.right + 1);
            }
            chances.push((s.chance, m.is_some()));
            if s.entry.is_some() {
                entries.0 += 1;
                let same =
                    m.is_some_and(|i| truths[i].entry == s.entry && truths[i].list == s.list);
                entries.1 += usize::from(same);
                entry_chances.push((s.chance * s.listed, same));
            }
        }
        for (i, t) in truths.iter().enumerate() {
            by_role
                .entry(Role::parse(&t.role).map_or("?", Role::as_str))
                .or_default()
                .truths += 1;
            total.truths += 1;
            entries.2 += usize::from(t.entry.is_some());
            if t.role == "town" {
                let s = met.iter().position(|m| *m == Some(i)).map(|k| &said[k]);
                if t.entry.is_some() {
                    towns[0] += 1;
                    towns[1] += usize::from(s.is_some_and(|s| {
                        s.entry.is_some() && s.chance >= 0.9 && s.listed * s.chance >= 0.5
                    }));
                } else {
                    towns[2] += 1;
                    towns[3] += usize::from(s.is_some_and(|s| s.chance * s.listed >= 0.3));
                }
            }
        }
        let places: Vec<usize> = (0..truths.len())
            .filter(|i| truths[*i].role == "town")
            .collect();
        if places.len() > 1 {
            two.0 += 1;
            let sure = |i: &usize| {
                met.iter()
                    .zip(said)
                    .any(|(m, s)| *m == Some(*i) && s.chance >= 0.8)
            };
            two.1 += usize::from(places.iter().all(sure));
        }
    }
    println!(
        "{label}: {} marks, F1 {:.3} (precision {:.3}, recall {:.3}), calibration error {:.3}, {:.1} ms a mark",
        all.len(),
        total.f1(),
        total.right as f64 / total.said.max(1) as f64,
        total.right as f64 / total.truths.max(1) as f64,
        ece(&chances),
        1000.0 * seconds / all.len().max(1) as f64
    );
    println!(
        "  entries: right {} of {} told, {} true; calibration error {:.3}; listed towns at 0.9: {} of {}; towns on none taken for listed: {} of {}; two places at 0.8: {} of {}",
        entries.1,
        entries.0,
        entries.2,
        ece(&entry_chances),
        towns[1],
        towns[0],
        towns[3],
        towns[2],
        two.1,
        two.0
    );
    let roles: Vec<String> = by_role
        .iter()
        .map(|(r, c)| format!("{r} {:.2} ({})", c.f1(), c.truths))
        .collect();
    println!("  {}", roles.join(", "));
    Ok(())
}

/// Prints marks with what is told wrongly or not at all.
pub fn errors(model: &Model, dir: &Path) -> Result<(), String> {
    let all = each(dir, |m, l| {
        (
            m.text.clone(),
            told::by(model, &m.mark, l),
            m.truths.clone(),
        )
    })?;
    for (text, said, truths) in all {
        let met = right(&said, &truths);
        let missed: Vec<&Truth> = (0..truths.len())
            .filter(|i| !met.contains(&Some(*i)))
            .map(|i| &truths[i])
            .collect();
        if missed.is_empty() && met.iter().all(Option::is_some) {
            continue;
        }
        println!("{text}");
        for (s, _) in said.iter().zip(&met).filter(|m| m.1.is_none()) {
            println!(
                "    said   {} = {} ({:.2})",
                s.role.as_str(),
                s.value,
                s.chance
            );
        }
        for t in missed {
            println!(
                "    missed {} = {}{}",
                t.role,
                t.value,
                t.entry
                    .as_ref()
                    .map_or(String::new(), |e| format!(" [{e}]"))
            );
        }
    }
    Ok(())
}

/// Fits how far chances are to be believed (logistic regression by gradient descent), and from which chance on a
/// statement is made.
pub fn temper(mut model: Model, dir: &Path) -> Result<Model, String> {
    let plain = Model::empty(Default::default());
    (model.belief, model.told_from) = (plain.belief, 0.05);
    let all = each(dir, |m, l| {
        let weighed = told::weighed(&model, &m.mark, l);
        let said: Vec<Statement> = weighed.iter().map(|w| w.0.clone()).collect();
        let met = right(&said, &m.truths);
        let told = weighed.iter().zip(&met).map(|(w, m)| (w.1, m.is_some()));
        (
            told.collect::<Vec<([f64; BELIEFS], bool)>>(),
            m.truths.len(),
        )
    })?;
    let told: Vec<([f64; BELIEFS], bool)> = all.iter().flat_map(|a| a.0.clone()).collect();
    let mut w = plain.belief.map(f64::from);
    let chance = |w: &[f64; BELIEFS], x: &[f64; BELIEFS]| {
        1.0 / (1.0 + (-w.iter().zip(x).map(|(a, b)| a * b).sum::<f64>()).exp())
    };
    for _ in 0..3000 {
        let mut g = [0f64; BELIEFS];
        for (x, ok) in &told {
            let miss = chance(&w, x) - f64::from(u8::from(*ok));
            g.iter_mut().zip(x).for_each(|(g, x)| *g += miss * x);
        }
        w.iter_mut()
            .zip(&g)
            .for_each(|(w, g)| *w -= 0.05 * g / told.len() as f64);
    }
    model.belief = w.map(|w| w as f32);
    let truths: usize = all.iter().map(|a| a.1).sum();
    let f1 = |from: f64| {
        let said = || told.iter().filter(|t| chance(&w, &t.0) > from);
        2.0 * said().filter(|t| t.1).count() as f64 / (said().count() + truths).max(1) as f64
    };
    model.told_from = (f1(0.4) / 2.0) as f32;
    println!(
        "belief {:.2?}, statements from {:.2} on",
        model.belief, model.told_from
    );
    Ok(model)
}

/// Prints how long it takes to make lists ready and to tell one mark, the median of 21.
pub fn speed(model: &Model, dir: &Path, text: &str) -> Result<(), String> {
    let (gazetteer, _) = dorso::gazetteer::load(dir).map_err(|e| e.to_string())?;
    let clock = std::time::Instant::now();
    let lists = Lists::new(&gazetteer);
    let ready = clock.elapsed();
    let lines = dorso::readings::from_typed(text).map_err(|e| e.to_string())?;
    let mut times: Vec<f64> = (0..21)
        .map(|_| {
            let clock = std::time::Instant::now();
            let said = told::by(model, &dorso::statements::Mark::new(&lines, None), &lists);
            std::hint::black_box(said);
            clock.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    times.sort_by(f64::total_cmp);
    let rows = lists.rows.len();
    println!(
        "{rows} rows: ready in {:.0} ms, a mark in {:.1} ms ({:.1} at best)",
        ready.as_secs_f64() * 1000.0,
        times[10],
        times[0]
    );
    Ok(())
}

/// Prints each listed town that isn't told at 0.9 with its entry, and what is said of its words.
pub fn towns(model: &Model, dir: &Path) -> Result<(), String> {
    let all = each(dir, |m, l| {
        let said = told::by(model, &m.mark, l);
        (m.text.clone(), said, m.truths.clone())
    })?;
    for (text, said, truths) in all {
        let met = right(&said, &truths);
        for (i, t) in truths.iter().enumerate() {
            if t.role != "town" || t.entry.is_none() {
                continue;
            }
            let s = met.iter().position(|m| *m == Some(i)).map(|k| &said[k]);
            let sure = |s: &Statement| s.chance >= 0.9 && s.chance * s.listed >= 0.5;
            if s.is_some_and(sure) {
                continue;
            }
            println!("{text}");
            let of = |s: &Statement| format!("{:.2} listed {:.2}", s.chance, s.listed);
            println!("    {} {}", t.value, s.map_or("not told".into(), of));
            for s in said
                .iter()
                .filter(|s| plain(&s.words).contains(&plain(&t.value)))
            {
                println!("    {} {:.2} {}", s.role.as_str(), s.chance, s.words);
            }
        }
    }
    Ok(())
}
