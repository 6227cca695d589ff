//! All ways through a handwritten line, weighed with which signs follow each other.
//!
//! In: chances of signs step by step, as a network of connectionist temporal classification puts them out. Out: the
//! likeliest way as signs with their steps, each with the chance of every sign that other ways have there. A way counts
//! as the product of its steps' chances and of the wording's chances to the power of its share; ways that agree in the
//! last signs go on together, the least likely are dropped (A. Graves and N. Jaitly, "Towards end-to-end speech recognition
//! with recurrent neural networks", ICML 2014, tell the search by beginnings; forward and backward sums: L. Rabiner,
//! *Proceedings of the IEEE* 77, 1989, doi:10.1109/5.18626).
//!
//! Weighing what stands on the best path, sign by sign, can't part two letters that were read as one, or move a space: here
//! such ways are there from the beginning. A sign that is read clearly has no other beside it, so nothing takes its place.

use crate::chance::add_logs;
use serde::Deserialize;
use std::ops::Range;

/// What follows what.
pub(super) trait Wording {
    /// What is remembered of a line's beginning.
    fn beginning(&self) -> u64;
    /// Natural logarithm of the chance that a sign follows; `None`: that the line ends.
    fn follows(&self, before: u64, sign: Option<u8>) -> f64;
    /// What is remembered after a sign, the sign itself lowest (8 bits).
    fn after(&self, before: u64, sign: u8) -> u64;
}

/// How ways are weighed.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub(super) struct Weighing {
    /// What the wording counts beside the network, from 0 (nothing) to 1.
    pub share: f64,
    /// What a sign is given back of what the wording takes for it, nats: else fewer signs would always be likelier.
    pub usual: f64,
}

/// A sign of the likeliest way.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sign {
    /// Its number, from 1.
    pub label: u8,
    /// Where it begins.
    pub step: usize,
    /// Steps on which what is told in `chances` begins.
    pub near: Range<usize>,
    /// Chances of the signs that begin there or hardly beside, its own among them, by number.
    pub chances: Vec<(u8, f64)>,
}

/// What the ways through a line come to.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Ways {
    /// From left to right.
    pub signs: Vec<Sign>,
    /// By step, the chances of the signs that begin there, by number.
    pub steps: Vec<Vec<(u8, f64)>>,
}

/// Ways kept apart at a step.
const KEPT: usize = 16;
/// A sign with a smaller chance at a step doesn't stand there.
const LEAST: f32 = 1e-3;
/// Steps to either side on which a sign may begin that stands in another's place.
const NEAR: usize = 3;

/// Ways that agree in their last signs.
#[derive(Debug, Clone, Copy)]
struct End {
    /// What the wording remembers of them; its lowest 8 bits are the last sign, 0 for none.
    before: u64,
    /// Logarithms of what those count that have come to "no sign" since, and that stand on the sign.
    blank: f64,
    sign: f64,
    /// Of the likeliest of them: what that counts, and its last sign in the arena.
    most: f64,
    placed: Option<usize>,
}

impl End {
    fn at(before: u64) -> Self {
        let none = f64::NEG_INFINITY;
        End {
            before,
            blank: none,
            sign: none,
            most: none,
            placed: None,
        }
    }

    fn all(&self) -> f64 {
        add_logs(self.blank, self.sign)
    }
}

/// A sign placed on a way, and the one before it.
struct Placed {
    label: u8,
    step: usize,
    before: Option<usize>,
}

/// Which of the ways of an end go on.
#[derive(Debug, Clone, Copy, PartialEq)]
enum From {
    All,
    /// Those that stand on the sign.
    Sign,
    /// Those that have come to "no sign" since.
    Blank,
}

/// From one end to another over one step.
struct Over {
    from: (usize, From),
    to: usize,
    /// The sign that begins; `None` where none does.
    begins: Option<u8>,
    /// Whether it comes to "no sign".
    is_blank: bool,
    source: f64,
    weight: f64,
}

/// Weighs all ways through a line.
///
/// * `rows`: logarithms of chances, step by step, of so many `labels`; label 0 is "no sign", others are below 256.
pub(super) fn ways(rows: &[f32], labels: usize, wording: &dyn Wording, set: Weighing) -> Ways {
    let mut ends = vec![End {
        blank: 0.0,
        most: 0.0,
        ..End::at(wording.beginning())
    }];
    let mut arena: Vec<Placed> = Vec::new();
    let mut overs: Vec<Vec<Over>> = Vec::new();
    for (step, row) in rows.chunks(labels.max(1)).enumerate() {
        let mut on = Onwards {
            wording,
            set,
            step,
            ends: Vec::new(),
            overs: Vec::new(),
            arena: &mut arena,
        };
        on.go(&ends, row);
        let (next, over) = on.kept();
        ends = next;
        overs.push(over);
    }
    let last: Vec<f64> = ends
        .iter()
        .map(|e| set.share * (wording.follows(e.before, None) + set.usual))
        .collect();
    let whole = ends.iter().zip(&last).map(|(e, l)| e.all() + l);
    let Some(best) = (0..ends.len())
        .max_by(|&a, &b| (ends[a].all() + last[a]).total_cmp(&(ends[b].all() + last[b])))
    else {
        return Ways::default();
    };
    let all = whole.fold(f64::NEG_INFINITY, add_logs);
    let steps = begun(&overs, &last, all);
    let mut placed = Vec::new();
    let mut at = ends[best].placed;
    while let Some(i) = at {
        placed.push((arena[i].label, arena[i].step));
        at = arena[i].before;
    }
    placed.reverse();
    Ways {
        signs: told(&placed, &steps),
        steps,
    }
}

/// One step of the forward sums.
struct Onwards<'a> {
    wording: &'a dyn Wording,
    set: Weighing,
    step: usize,
    ends: Vec<End>,
    overs: Vec<Over>,
    arena: &'a mut Vec<Placed>,
}

impl Onwards<'_> {
    /// All ends over all signs of a step.
    fn go(&mut self, ends: &[End], row: &[f32]) {
        let least = LEAST.ln();
        let stand: Vec<(u8, f64)> = row
            .iter()
            .enumerate()
            .filter(|(_, log)| **log > least)
            .filter_map(|(label, log)| Some((u8::try_from(label).ok()?, f64::from(*log))))
            .collect();
        for (from, end) in ends.iter().enumerate() {
            for &(label, log) in &stand {
                if label == 0 {
                    self.stay((from, From::All), end, (true, end.all(), log));
                    continue;
                }
                let again = end.before & 255 == u64::from(label);
                if again {
                    self.stay((from, From::Sign), end, (false, end.sign, log));
                }
                let which = if again { From::Blank } else { From::All };
                self.begin((from, which), end, (label, log));
            }
        }
    }

    fn end(&mut self, before: u64) -> usize {
        let known = self.ends.iter().position(|e| e.before == before);
        known.unwrap_or_else(|| {
            self.ends.push(End::at(before));
            self.ends.len() - 1
        })
    }

    /// No sign begins.
    fn stay(&mut self, from: (usize, From), end: &End, (is_blank, source, log): (bool, f64, f64)) {
        if source == f64::NEG_INFINITY {
            return;
        }
        let to = self.end(end.before);
        let own = &mut self.ends[to];
        let mass = source + log;
        let sum = if is_blank {
            &mut own.blank
        } else {
            &mut own.sign
        };
        *sum = add_logs(*sum, mass);
        if mass > own.most {
            (own.most, own.placed) = (mass, end.placed);
        }
        self.overs.push(Over {
            from,
            to,
            begins: None,
            is_blank,
            source,
            weight: log,
        });
    }

    fn begin(&mut self, from: (usize, From), end: &End, (label, log): (u8, f64)) {
        let source = match from.1 {
            From::Blank => end.blank,
            _ => end.all(),
        };
        if source == f64::NEG_INFINITY {
            return;
        }
        let told = self.wording.follows(end.before, Some(label)) + self.set.usual;
        let weight = log + self.set.share * told;
        let to = self.end(self.wording.after(end.before, label));
        let own = &mut self.ends[to];
        own.sign = add_logs(own.sign, source + weight);
        if source + weight > own.most {
            self.arena.push(Placed {
                label,
                step: self.step,
                before: end.placed,
            });
            (own.most, own.placed) = (source + weight, Some(self.arena.len() - 1));
        }
        self.overs.push(Over {
            from,
            to,
            begins: Some(label),
            is_blank: false,
            source,
            weight,
        });
    }

    /// The likeliest ends, and what leads to them.
    fn kept(self) -> (Vec<End>, Vec<Over>) {
        let mut order: Vec<usize> = (0..self.ends.len()).collect();
        order.sort_by(|&a, &b| self.ends[b].all().total_cmp(&self.ends[a].all()));
        order.truncate(KEPT);
        let mut place = vec![None; self.ends.len()];
        for (new, &old) in order.iter().enumerate() {
            place[old] = Some(new);
        }
        let overs = self.overs.into_iter();
        let overs = overs.filter_map(|o| {
            Some(Over {
                to: place[o.to]?,
                ..o
            })
        });
        (
            order.iter().map(|&o| self.ends[o]).collect(),
            overs.collect(),
        )
    }
}

/// The backward sums: by step, the chances of the signs that begin there.
///
/// * `last`: logarithms of what the line's end counts at each of the last ends; `all`: of all ways together.
fn begun(overs: &[Vec<Over>], last: &[f64], all: f64) -> Vec<Vec<(u8, f64)>> {
    // what follows counts, after "no sign" and on a sign
    let mut onwards: Vec<[f64; 2]> = last.iter().map(|&l| [l, l]).collect();
    let mut out = vec![Vec::new(); overs.len()];
    for (at, step) in overs.iter().enumerate().rev() {
        let mut back = vec![[f64::NEG_INFINITY; 2]; KEPT];
        let here: &mut Vec<(u8, f64)> = &mut out[at];
        for over in step {
            let on = over.weight + onwards[over.to][usize::from(!over.is_blank)];
            let [blank, sign] = &mut back[over.from.0];
            if over.from.1 != From::Sign {
                *blank = add_logs(*blank, on);
            }
            if over.from.1 != From::Blank {
                *sign = add_logs(*sign, on);
            }
            if let Some(label) = over.begins {
                let chance = (over.source + on - all).exp();
                match here.iter_mut().find(|h| h.0 == label) {
                    Some(known) => known.1 += chance,
                    None => here.push((label, chance)),
                }
            }
        }
        onwards = back;
    }
    out
}

/// The signs of a way, each with what begins on its step and hardly beside: others nearer to it than to its neighbours, its
/// own as far as those, since no other is meant by it there.
fn told(placed: &[(u8, usize)], steps: &[Vec<(u8, f64)>]) -> Vec<Sign> {
    let half = |a: usize, b: usize| (a + b) / 2;
    let sign = |(i, &(label, step)): (usize, &(u8, usize))| {
        let before = i.checked_sub(1).map(|b| placed[b]);
        let behind = placed.get(i + 1).copied();
        let reach = |from: usize, to: usize| {
            let from = from.max(step.saturating_sub(NEAR)).min(step);
            from..to.min(step + NEAR + 1).min(steps.len()).max(step + 1)
        };
        let first = before.map_or(0, |b| half(b.1, step) + 1);
        let past = behind.map_or(steps.len(), |b| half(step, b.1 - 1) + 1);
        let near = reach(first, past);
        let other = |b: &(u8, usize)| b.0 != label;
        let wide = reach(
            before.filter(other).map_or(first, |b| b.1 + 1),
            behind.filter(other).map_or(past, |b| b.1),
        );
        let mut chances: Vec<(u8, f64)> = Vec::new();
        for &(other, chance) in steps[near.clone()].iter().flatten() {
            if other == label {
                continue;
            }
            match chances.iter_mut().find(|c| c.0 == other) {
                Some(known) => known.1 += chance,
                None => chances.push((other, chance)),
            }
        }
        let own = steps[wide].iter().flatten().filter(|s| s.0 == label);
        chances.push((label, own.map(|s| s.1).sum::<f64>().min(1.0)));
        lead(&mut chances, label);
        Sign {
            label,
            step,
            near,
            chances,
        }
    };
    placed.iter().enumerate().map(sign).collect()
}

impl Ways {
    /// Writes log-chances in which each sign of the likeliest way has a step, with all that may stand there; elsewhere
    /// what begins on other ways only.
    ///
    /// * `logs`: the rows that were weighed, of so many `labels`.
    pub(super) fn stand(&self, logs: &mut [f32], labels: usize) {
        let mut rows: Vec<&mut [f32]> = logs.chunks_mut(labels.max(1)).collect();
        for (row, begins) in rows.iter_mut().zip(&self.steps) {
            set(row, begins);
        }
        for sign in &self.signs {
            for row in &mut rows[sign.near.clone()] {
                set(row, &[]);
            }
            let row = &mut rows[sign.step];
            set(row, &sign.chances);
            // Nor is it taken away again by what begins farther off
            row[0] = row[0].min(row[usize::from(sign.label)]);
        }
    }
}

/// Chance below which a sign counts as never seen.
pub(super) const NEVER: f32 = 1e-9;

/// A row of log-chances of these signs, the rest being "no sign".
fn set(row: &mut [f32], chances: &[(u8, f64)]) {
    row.fill(NEVER.ln());
    let mut rest = 1.0;
    for &(label, chance) in chances {
        rest -= chance;
        row[usize::from(label)] = (chance as f32).max(NEVER).ln();
    }
    row[0] = (rest as f32).max(NEVER).ln();
}

/// The sign of the likeliest way leads: one that has more there on other ways changes chances with it.
fn lead(chances: &mut [(u8, f64)], label: u8) {
    let greatest = (0..chances.len()).max_by(|&a, &b| chances[a].1.total_cmp(&chances[b].1));
    let own = chances.iter().position(|c| c.0 == label);
    if let (Some(own), Some(greatest)) = (own, greatest) {
        let kept = chances[own].1;
        chances[own].1 = chances[greatest].1;
        chances[greatest].1 = kept;
    }
}

#[cfg(test)]
mod tests;
