//! From chances of stretches to statements.

use super::chain::{self, Weighed};
use super::features::{self, LONGEST, Seen};
use super::letters::LOST;
use super::links::Candidate;
use super::lists::Lists;
use super::model::{self, BELIEFS, LABELS, Model, Says};
use super::places::{self, Place};
use super::values::{self, Value};
use super::{Mark, Role, Statement};
use crate::chance::clamp;
use std::ops::Range;

/// A statement that may be made.
#[derive(Debug, Clone)]
struct May {
    role: Role,
    words: Range<usize>,
    value: Value,
    chance: f64,
    /// Chance of its likeliest stretch alone.
    best: f64,
    entry: Option<(u32, f64)>,
}

/// Stretches with a smaller chance are left out: many of them together stay below what can be told.
const LEAST: f64 = 1e-4;

/// The entry that a stretch most likely names in a role, with its chance; `None`: more likely none.
fn entry(model: &Model, seen: &Seen, at: usize, role: Role) -> Option<(u32, f64)> {
    if !role.names() {
        return None;
    }
    let can = |c: &&Candidate| role.kinds().contains(&c.kind);
    let weights = seen.candidates[at].iter().filter(can).map(|c| {
        let w = chain::entry_weight(model, c) + model.kind(c.kind as usize, role);
        (c.row, f64::from(w).exp())
    });
    let all: Vec<(u32, f64)> = weights.collect();
    let sum: f64 = all.iter().map(|w| w.1).sum();
    let likelier = |a: &(u32, f64), b: &(u32, f64)| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0));
    let best = all.into_iter().max_by(likelier)?;
    // "None of the lists" weighs 1
    (best.1 > 1.0).then_some((best.0, best.1 / (1.0 + sum)))
}

fn may(mark: &Mark, lists: &Lists, model: &Model, seen: &Seen, chances: &[f32]) -> Vec<May> {
    let mut out: Vec<May> = Vec::new();
    for from in 0..seen.count {
        for length in 1..=LONGEST.min(seen.count - from) {
            let at = Seen::at(from, length);
            for (role, _) in Role::ALL {
                let chance = f64::from(chances[at * LABELS + model::label(Says::Fact(role))]).exp();
                if chance < LEAST {
                    continue;
                }
                let words = from..from + length;
                let entry = entry(model, seen, at, role);
                let value =
                    values::value(role, &mark.words[words.clone()], entry.map(|e| e.0), lists);
                let meets = |m: &&mut May| {
                    m.role == role
                        && m.value.text == value.text
                        && m.words.start < words.end
                        && words.start < m.words.end
                };
                match out.iter_mut().find(meets) {
                    Some(m) => {
                        m.chance += chance;
                        if chance > m.best {
                            (m.words, m.best, m.entry, m.value) = (words, chance, entry, value);
                        }
                    }
                    None => out.push(May {
                        role,
                        words,
                        value,
                        chance,
                        best: chance,
                        entry,
                    }),
                }
            }
        }
    }
    out.retain(|m| !m.value.text.is_empty());
    for m in &mut out {
        m.chance = model.believed(clamp(m.chance), m.counts(mark), m.listed());
    }
    out
}

impl May {
    /// Chance of a listed place, of another entry.
    fn listed(&self) -> [f64; 2] {
        let p = self.entry.map_or(0.0, |e| e.1);
        if self.role == Role::Town {
            [p, 0.0]
        } else {
            [0.0, p]
        }
    }

    /// What befell its value: see [`Model::believed`].
    fn counts(&self, mark: &Mark) -> [usize; 4] {
        let letters = mark.words[self.words.clone()]
            .iter()
            .flat_map(|w| &w.letters);
        let unclear = letters
            .filter(|l| l.sign < LOST && l.chance < UNCLEAR)
            .count();
        let [a, b, c] = self.value.filled;
        [a, b, c, unclear]
    }
}

/// A letter that a person would dot.
const UNCLEAR: f32 = 0.9;

/// A mark that names a firm at its premises names the town that stands there: its chance is no smaller.
fn places_follow(said: &mut [(Statement, Option<u32>)], lists: &Lists) {
    let firms: Vec<(u32, f64)> = said
        .iter()
        .filter_map(|(s, row)| Some(((*row)?, s.chance * s.listed)))
        .collect();
    for (s, row) in said.iter_mut().filter(|s| s.0.role == Role::Town) {
        let Some(place) = *row else { continue };
        let home = |firm: u32| lists.named(place, lists.towns.get(firm as usize));
        let least = firms.iter().filter(|f| home(f.0)).map(|f| f.1);
        let least = least.fold(0.0, f64::max);
        s.chance = s.chance.max(least);
    }
}

/// Those of the statements, no two on one word, that make the sum of chances above `from` greatest.
fn chosen(mut all: Vec<May>, count: usize, from: f64) -> Vec<May> {
    all.retain(|m| m.chance > from);
    let mut best = vec![(0f64, None::<usize>); count + 1];
    for t in 1..=count {
        best[t] = (best[t - 1].0, None);
        for (k, m) in all.iter().enumerate().filter(|(_, m)| m.words.end == t) {
            let sum = best[m.words.start].0 + m.chance - from;
            if sum > best[t].0 {
                best[t] = (sum, Some(k));
            }
        }
    }
    let (mut out, mut t) = (Vec::new(), count);
    while t > 0 {
        match best[t].1 {
            Some(k) => {
                out.push(all[k].clone());
                t = all[k].words.start;
            }
            None => t -= 1,
        }
    }
    out.reverse();
    out
}

/// What is seen of a mark and the chances of its stretches; `None`: nothing to weigh.
fn summed(mark: &Mark, lists: &Lists, model: &Model) -> Option<(Seen, Vec<f32>)> {
    if mark.words.is_empty() || model.rows.is_empty() {
        return None;
    }
    let seen = features::seen(mark, lists);
    let (_, chances) = Weighed::new(model, &seen).sums(model, None);
    Some((seen, chances))
}

/// The listed places that a mark names.
pub fn places(mark: &Mark, lists: &Lists, model: &Model) -> Vec<Place> {
    places::named(places_seen(mark, lists, model), model)
}

/// What may be a place, before it is weighed; for measuring.
pub fn places_seen(mark: &Mark, lists: &Lists, model: &Model) -> Vec<places::May> {
    summed(mark, lists, model).map_or(Vec::new(), |(seen, chances)| {
        places::all(mark, lists, model, &seen, &chances)
    })
}

/// The statements that are made, in order.
fn maybe(mark: &Mark, lists: &Lists, model: &Model) -> Vec<May> {
    let Some((seen, chances)) = summed(mark, lists, model) else {
        return Vec::new();
    };
    let all = may(mark, lists, model, &seen, &chances);
    chosen(all, seen.count, f64::from(model.told_from))
}

/// What a mark states.
pub(super) fn statements(mark: &Mark, lists: &Lists, model: &Model) -> Vec<Statement> {
    let said = maybe(mark, lists, model);
    let mut out: Vec<(Statement, Option<u32>)> = said
        .into_iter()
        .map(|m| (m.entry.map(|e| e.0), m))
        .map(|(row, m)| (told(mark, lists, m), row))
        .collect();
    places_follow(&mut out, lists);
    out.into_iter().map(|s| s.0).collect()
}

fn told(mark: &Mark, lists: &Lists, m: May) -> Statement {
    let words = &mark.words[m.words.clone()];
    let texts: Vec<&str> = words.iter().map(|w| w.text.as_str()).collect();
    let mut places: Vec<(usize, Range<usize>)> = Vec::new();
    for w in words {
        match places.last_mut() {
            Some((line, place)) if *line == w.line => place.end = w.place.end,
            _ => places.push((w.line, w.place.clone())),
        }
    }
    let named = m.entry.map(|(row, p)| (lists.key(row), p));
    Statement {
        role: m.role,
        value: m.value.text,
        words: texts.join(" "),
        line: words[0].line,
        chance: m.chance,
        list: named.map(|n| n.0.0.to_string()),
        entry: named.map(|n| n.0.1.to_string()),
        listed: named.map_or(0.0, |n| n.1),
        places,
    }
}

/// What a mark states by another model than the shipped one; for measuring.
pub fn by(model: &Model, mark: &Mark, lists: &Lists) -> Vec<Statement> {
    statements(mark, lists, model)
}

/// As [`by`], each with what its belief weighs, under a model whose belief is not fitted yet.
pub fn weighed(model: &Model, mark: &Mark, lists: &Lists) -> Vec<(Statement, [f64; BELIEFS])> {
    let said = maybe(mark, lists, model);
    let told = said.into_iter().map(|m| {
        let seen = Model::of_belief(m.chance, m.counts(mark), m.listed());
        (told(mark, lists, m), seen)
    });
    told.collect()
}
