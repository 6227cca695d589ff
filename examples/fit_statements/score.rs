//! Figures of a model on made marks.

use crate::made::{self, Made, Truth};
use dorso::statements::model::{BELIEFS, PLACES};
use dorso::statements::{Lists, Model, Place, Role, Statement, told};
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
    score_places(model, dir)
}

/// Figures of places: told with a chance of 0.9 and more of those listed, of towns on none taken for listed ones, two of
/// a mark both at 0.8, calibration.
fn score_places(model: &Model, dir: &Path) -> Result<(), String> {
    let all = each(dir, |m, l| {
        let told = told::places(&m.mark, l, model);
        let of = |p: &Place| (p.words.clone(), p.chance(), names(m, l, p), p.entries[0].1);
        let told: Vec<_> = told.iter().map(of).collect();
        let town = |n: usize| (0..m.tags.len()).filter(move |t| m.tags[*t].1 == n as i64);
        let towns = m
            .truths
            .iter()
            .enumerate()
            .filter(|(_, t)| t.role == "town");
        let towns = towns.map(|(n, t)| {
            let words: Vec<usize> = town(n).collect();
            let here = told
                .iter()
                .filter(|p| p.0.clone().any(|w| words.contains(&w)));
            let best = here.fold(0.0f64, |a, p| a.max(p.1));
            (t.entry.is_some(), best)
        });
        let chances: Vec<(f64, bool)> = told.iter().map(|p| (p.1, p.2)).collect();
        (towns.collect::<Vec<(bool, f64)>>(), chances)
    })?;
    let count =
        |f: &dyn Fn(&(bool, f64)) -> bool| all.iter().flat_map(|a| &a.0).filter(|t| f(t)).count();
    let two: Vec<&Vec<(bool, f64)>> = all
        .iter()
        .map(|a| &a.0)
        .filter(|t| t.len() > 1 && t.iter().all(|t| t.0))
        .collect();
    let both = two.iter().filter(|t| t.iter().all(|t| t.1 >= 0.8)).count();
    let chances: Vec<(f64, bool)> = all.iter().flat_map(|a| a.1.clone()).collect();
    println!(
        "  places: listed at 0.9: {} of {}; on none taken for listed: {} of {}; two listed both at 0.8: {both} of {}; calibration error {:.3} of {}",
        count(&|t| t.0 && t.1 >= 0.9),
        count(&|t| t.0),
        count(&|t| !t.0 && t.1 >= 0.3),
        count(&|t| !t.0),
        two.len(),
        ece(&chances),
        chances.len()
    );
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

fn odds<const N: usize>(w: &[f64; N], x: &[f64; N]) -> f64 {
    1.0 / (1.0 + (-w.iter().zip(x).map(|(a, b)| a * b).sum::<f64>()).exp())
}

fn loss<const N: usize>(w: &[f64; N], told: &[([f64; N], bool)]) -> f64 {
    let chance = |x: &[f64; N], ok: bool| if ok { odds(w, x) } else { 1.0 - odds(w, x) };
    let misses = told.iter().map(|(x, ok)| -chance(x, *ok).max(1e-12).ln());
    misses.sum::<f64>() + 0.5 * w.iter().map(|w| w * w).sum::<f64>()
}

/// Logistic regression by Newton's method from `w`, with a little decay.
fn logistic<const N: usize>(mut w: [f64; N], told: &[([f64; N], bool)]) -> [f64; N] {
    for _ in 0..25 {
        // Normal equations, solved by elimination
        let mut a = vec![vec![0f64; N + 1]; N];
        for (x, ok) in told {
            let p = odds(&w, x);
            for i in 0..N {
                a[i][N] += (f64::from(u8::from(*ok)) - p) * x[i];
                for j in 0..N {
                    a[i][j] += p * (1.0 - p) * x[i] * x[j];
                }
            }
        }
        for i in 0..N {
            a[i][i] += 1.0;
            a[i][N] -= w[i];
        }
        for i in 0..N {
            let by = a[i][i];
            (i..=N).for_each(|j| a[i][j] /= by);
            for k in (0..N).filter(|k| *k != i) {
                let f = a[k][i];
                (i..=N).for_each(|j| a[k][j] -= f * a[i][j]);
            }
        }
        // The step is halved until it gains
        let (before, mut by) = (loss(&w, told), 1.0);
        let stepped = |by: f64| std::array::from_fn(|i| w[i] + by * a[i][N]);
        while by > 1e-6 && loss(&stepped(by), told) > before {
            by /= 2.0;
        }
        w = stepped(by);
    }
    w
}

/// Whether a made mark names that place with those words.
fn names(m: &Made, lists: &Lists, p: &Place) -> bool {
    let text: String = m.mark.words[p.words.clone()]
        .iter()
        .map(|w| w.folded.clone())
        .collect();
    let entry = p.entries.first().map(|e| &lists.names[p.list].1[e.0]);
    let tag = &m.tags[p.words.start];
    let Some(truth) = usize::try_from(tag.1).ok().map(|n| &m.truths[n]) else {
        return false;
    };
    let inside = p.words.clone().all(|t| m.tags[t].1 == tag.1);
    let same = |name: &str| {
        entry.is_some_and(|e| {
            plain(&e.name) == plain(name) || e.variants.iter().any(|n| plain(n) == plain(name))
        }) && plain(name).len().abs_diff(plain(&text).len()) < 3
    };
    let told = truth.role == "town" && same(&truth.value);
    inside && (told || truth.places.iter().any(|n| same(n)))
}

/// Fits how far chances are to be believed, how places are told, and from which chance on a statement is made.
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
    let w = logistic(plain.belief.map(f64::from), &told);
    let chance = |w: &[f64; BELIEFS], x: &[f64; BELIEFS]| odds(w, x);
    model.belief = w.map(|w| w as f32);
    // First on all that may be a place, then on those that stand against what overlaps them
    let mut count = 0;
    for first in [true, false] {
        let places = each(dir, |m, l| {
            let may = told::places_seen(&m.mark, l, &model);
            let told = told::places(&m.mark, l, &model);
            let stands = |p: &Place| {
                told.iter()
                    .any(|t| (t.list, &t.words) == (p.list, &p.words))
            };
            let kept = may.iter().filter(|p| first || stands(&p.place));
            let right = kept.map(|p| (p.seen, names(m, l, &p.place)));
            right.collect::<Vec<([f64; PLACES], bool)>>()
        })?;
        let places: Vec<([f64; PLACES], bool)> = places.into_iter().flatten().collect();
        model.places = logistic([0.0; PLACES], &places).map(|w| w as f32);
        count = places.len();
    }
    println!("places {:.2?}, of {}", model.places, count);
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

/// Prints each listed town that isn't told at 0.9 with its entry, and what is said of its words; then each place that is
/// told on the wrong side of a half.
pub fn towns(model: &Model, dir: &Path) -> Result<(), String> {
    let all = each(dir, |m, l| {
        let said = told::by(model, &m.mark, l);
        for p in told::places(&m.mark, l, model) {
            let right = names(m, l, &p);
            if right != (p.chance() > 0.5) {
                let name = &l.names[p.list].1[p.entries[0].0].name;
                println!("{}\n    place {name} {:.2} {right}", m.text, p.chance());
            }
        }
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
