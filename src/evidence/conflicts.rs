//! What can't be true together: both sides, and the readings that would dissolve it.
//!
//! Looked at are only readings of at least [`LEADING`]: what is hardly read contradicts nothing.
//! Each conflict is as small as can be: without any one of its statements the rest fits.

use super::solve::{Hypothesis, STRAY, State};
use super::{Back, Mark, Reading, Role, Years};
use crate::decisions::two;
use serde::Serialize;

/// A reading of less chance takes no side.
pub(super) const LEADING: f64 = 0.4;
/// A reading of less chance isn't told as one that would dissolve a conflict.
const WORTH_TELLING: f64 = 0.01;
/// What a reading may be instead of all that were proposed.
pub const MISREAD: &str = "it is misread and says nothing of a date";
/// Statements in one conflict at most.
const MOST: usize = 4;

/// One statement of a conflict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Side {
    /// Number of the mark.
    pub mark: String,
    /// `printed label 1b on the frame`.
    pub name: String,
    /// The reading, in words; empty where the mark's place alone is the statement.
    pub words: String,
    /// Its years.
    pub years: Years,
    /// Chance that it is so read.
    pub chance: f64,
}

/// A reading that would dissolve a conflict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dissolves {
    /// Number of the mark that would have to be read so.
    pub mark: String,
    /// `the year on it is 1893`.
    pub words: String,
    /// What it is taken for now.
    pub instead: String,
    /// Chance of that reading by itself, before the other evidence.
    pub chance: f64,
    /// Whether a person decided what it is taken for now.
    #[serde(skip)]
    pub by_person: bool,
}

/// Statements that can't be true together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conflict {
    /// Those that say "by then".
    pub earlier: Vec<Side>,
    /// Those that say "not before then".
    pub later: Vec<Side>,
    /// Chance that all of them are read right, before they are held against each other.
    pub chance: f64,
    /// Readings that would dissolve it, the likeliest first.
    pub dissolves: Vec<Dissolves>,
    /// What else may be the case, in trade terms.
    pub may_be: Vec<String>,
}

impl Conflict {
    /// Numbers of the marks in it.
    pub fn marks(&self) -> Vec<&str> {
        let mut out: Vec<&str> = Vec::new();
        for s in self.earlier.iter().chain(&self.later) {
            if !out.contains(&s.mark.as_str()) {
                out.push(&s.mark);
            }
        }
        out
    }
}

/// A statement: a mark with the leading reading of one claim.
#[derive(Clone, Copy)]
struct Item<'a> {
    mark: &'a Mark,
    at: usize,
    reading: &'a Reading,
    claim: usize,
}

fn leading(back: &Back) -> Vec<Item<'_>> {
    let mut out = Vec::new();
    for (at, mark) in back.marks.iter().enumerate() {
        for (claim, c) in mark.claims.iter().enumerate() {
            let best = c
                .readings
                .iter()
                .max_by(|a, b| a.chance.total_cmp(&b.chance));
            let first = best.and_then(|b| c.readings.iter().find(|r| r.chance == b.chance));
            if let Some(reading) = first.filter(|r| r.chance >= LEADING) {
                out.push(Item {
                    mark,
                    at,
                    reading,
                    claim,
                });
            }
        }
    }
    out
}

/// Whether these can be true together, each with the widest years of its reading.
fn fits(items: &[(Item, Years)]) -> bool {
    let mut state = State::open();
    let mut done: Vec<usize> = Vec::new();
    for (item, _) in items {
        if done.contains(&item.at) {
            continue;
        }
        done.push(item.at);
        let mut years = Some(Years::OPEN);
        let mut role = Role::Later;
        for (_, y) in items.iter().filter(|(i, _)| i.at == item.at) {
            years = years.and_then(|all| all.meet(y));
        }
        for (i, _) in items.iter().filter(|(i, _)| i.at == item.at) {
            role = role.min(i.reading.role);
        }
        let Some(years) = years else { return false };
        let h = Hypothesis {
            on: item.mark.bearer.map(|b| (b, item.mark.bridges)),
            years,
            role,
            ..Hypothesis::open()
        };
        match state.with(&h) {
            Some(s) => state = s,
            None => return false,
        }
    }
    true
}

fn widest<'a>(items: &[Item<'a>]) -> Vec<(Item<'a>, Years)> {
    items.iter().map(|i| (*i, i.reading.widest)).collect()
}

/// What is in conflict on each mark whose reading no person has decided yet and that may be read
/// otherwise: number of the mark, and a sentence without a full stop for the queue. Where people
/// decided both sides there is nothing to read again; the conflict is told in the note.
pub fn in_doubt(back: &Back) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    for c in find(back) {
        for mark in c.marks() {
            let ways: Vec<&Dissolves> = c
                .dissolves
                .iter()
                .filter(|d| d.mark == mark && !d.by_person)
                .collect();
            // Another reading says more than that it is misread somehow
            let way = ways.iter().find(|d| d.words != MISREAD).or(ways.first());
            let Some(way) = way else { continue };
            let others: Vec<String> = c
                .earlier
                .iter()
                .chain(&c.later)
                .filter(|s| s.mark != mark)
                .map(|s| {
                    if s.words.is_empty() {
                        s.name.clone()
                    } else {
                        format!("{}, if {}", s.name, s.words)
                    }
                })
                .collect();
            let mut beside: Vec<&str> = Vec::new();
            for o in &others {
                if !beside.contains(&o.as_str()) {
                    beside.push(o);
                }
            }
            let with = if beside.is_empty() {
                "another date on it".to_owned()
            } else {
                beside.join("; and with ")
            };
            let words = format!(
                "a date here ({}) conflicts with {with}; it would not if {} (chance {})",
                way.instead,
                way.words,
                two(way.chance)
            );
            if !out.iter().any(|o| o.0 == mark && o.1 == words) {
                out.push((mark.to_owned(), words));
            }
        }
    }
    out
}

/// Whether two statements of a mark rest on the same words: one wording within another, or one firm that
/// stands on two lists. They are one thing said, and can't contradict each other.
fn one_thing(a: &Item, b: &Item) -> bool {
    let about = |i: &Item| i.mark.claims[i.claim].about.clone();
    let words = |i: &Item| {
        let about = about(i);
        about
            .strip_prefix("wording “")
            .map(|w| w.trim_end_matches('”').to_owned())
    };
    let firm = |i: &Item| i.reading.words.rsplit_once(" (").map(|w| w.0.to_owned());
    if a.at != b.at {
        return false;
    }
    match (words(a), words(b)) {
        (Some(x), Some(y)) => x.contains(&y) || y.contains(&x),
        (None, None) => firm(a).is_some() && firm(a) == firm(b),
        _ => false,
    }
}

/// All conflicts, those of the fewest statements first.
pub(super) fn find(back: &Back) -> Vec<Conflict> {
    let items = leading(back);
    if fits(&widest(&items)) {
        return Vec::new();
    }
    let mut found: Vec<Vec<usize>> = Vec::new();
    for size in 2..=MOST {
        let mut pick: Vec<usize> = (0..size).collect();
        while pick.last().is_some_and(|l| *l < items.len()) {
            let holds_one = found.iter().any(|f| f.iter().all(|i| pick.contains(i)));
            let chosen: Vec<Item> = pick.iter().map(|i| items[*i]).collect();
            let of_itself = (0..size).any(|j| (0..j).any(|i| one_thing(&chosen[i], &chosen[j])));
            if !holds_one && !of_itself && !fits(&widest(&chosen)) {
                found.push(pick.clone());
            }
            if !advance(&mut pick, items.len()) {
                break;
            }
        }
    }
    found
        .iter()
        .map(|f| conflict(&f.iter().map(|i| items[*i]).collect::<Vec<_>>()))
        .collect()
}

/// The next choice of so many out of `n`, in order.
fn advance(pick: &mut [usize], n: usize) -> bool {
    let k = pick.len();
    for i in (0..k).rev() {
        if pick[i] < n - (k - i) {
            pick[i] += 1;
            for j in i + 1..k {
                pick[j] = pick[j - 1] + 1;
            }
            return true;
        }
    }
    false
}

fn conflict(items: &[Item]) -> Conflict {
    let all = widest(items);
    let relaxed = |k: usize, from: bool| {
        let mut less = all.clone();
        let y = &mut less[k].1;
        *(if from { &mut y.from } else { &mut y.to }) = None;
        fits(&less)
    };
    let side = |i: &Item| Side {
        mark: i.mark.id.clone(),
        name: super::words::mark_on(i.mark),
        words: i.reading.words.clone(),
        years: i.reading.years,
        chance: i.reading.chance,
    };
    let pick = |from: bool| -> Vec<Side> {
        let of = |k: &usize| relaxed(*k, from);
        (0..items.len())
            .filter(of)
            .map(|k| side(&items[k]))
            .collect()
    };
    let mut dissolves: Vec<Dissolves> = Vec::new();
    for (k, item) in items.iter().enumerate() {
        for other in &item.mark.claims[item.claim].readings {
            if std::ptr::eq(other, item.reading) || other.chance < WORTH_TELLING {
                continue;
            }
            let mut less = all.clone();
            less[k] = (
                Item {
                    reading: other,
                    ..*item
                },
                other.widest,
            );
            if fits(&less) && !dissolves.iter().any(|d| d.words == other.words) {
                dissolves.push(Dissolves {
                    mark: item.mark.id.clone(),
                    words: other.words.clone(),
                    instead: item.reading.words.clone(),
                    chance: other.chance,
                    by_person: item.mark.claims[item.claim].by_person,
                });
            }
        }
    }
    // Without any one statement the rest fits: so does a misreading that says nothing of a date
    for item in items {
        let claim = &item.mark.claims[item.claim];
        let rest = 1.0 - claim.readings.iter().map(|r| r.chance).sum::<f64>();
        if !claim.by_person && rest >= WORTH_TELLING {
            dissolves.push(Dissolves {
                mark: item.mark.id.clone(),
                words: MISREAD.into(),
                instead: item.reading.words.clone(),
                chance: rest,
                by_person: false,
            });
        }
    }
    dissolves.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    let (earlier, later) = (pick(false), pick(true));
    Conflict {
        may_be: super::words::may_be(items.iter().map(|i| (i.mark, i.reading))),
        chance: items
            .iter()
            .map(|i| i.reading.chance * (1.0 - STRAY))
            .product(),
        earlier,
        later,
        dissolves,
    }
}
