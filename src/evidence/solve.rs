//! Intervals as constraints with chances.
//!
//! Each mark has a few hypotheses: one reading of each claim (or none), and whether it belongs to
//! its part. Choosing one for each mark leaves constraints of two forms between the years of parts
//! and fixed years: `part = years` and `part ≤ years`, and between parts `part ≤ part`. These are
//! difference constraints, so that their bounds are exact once nothing moves any more. All choices
//! that can be true together share the chance; equal states on the way are merged, which keeps the
//! sum exact and the number of states small.

use super::{Back, Dated, Role, Solved, Years, conflicts};
use crate::decisions::Bearer;
use std::collections::HashMap;

/// Chance that a mark doesn't belong to its part: a label moved, a board used again, a part put in
/// later. Our own choice; the trade gives no figure.
pub const STRAY: f64 = 0.03;

/// Hypotheses of a mark with less chance are summed into "says nothing".
const LEAST: f64 = 0.002;
/// States kept; beyond that the least likely ones are dropped.
const MOST_STATES: usize = 3_000;
/// Rival intervals with less chance aren't told.
const TOLD: f64 = 0.05;

const PARTS: usize = Bearer::ALL.len();
const FIRST: i32 = i32::MIN / 4;
const LAST: i32 = i32::MAX / 4;

/// The part that bears a mark and the one that it bridges to.
type On = Option<(Bearer, Option<Bearer>)>;

/// One way in which everything about one mark may be.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hypothesis {
    /// For each claim the reading chosen; `None`: it says nothing.
    pub readings: Vec<Option<usize>>,
    /// Part that bears the mark and the one that it bridges to; `None`: it speaks of no part.
    pub on: On,
    pub stray: bool,
    pub chance: f64,
    /// Years of the mark by itself.
    pub years: Years,
    pub role: Role,
}

impl Hypothesis {
    pub(super) fn open() -> Hypothesis {
        Hypothesis {
            readings: Vec::new(),
            on: None,
            stray: false,
            chance: 1.0,
            years: Years::OPEN,
            role: Role::Later,
        }
    }
}

pub(super) fn place(b: Bearer) -> usize {
    Bearer::ALL.iter().position(|x| *x == b).unwrap_or(0)
}

/// Bounds of the parts' years and which part isn't younger than which.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct State {
    lo: [i32; PARTS],
    hi: [i32; PARTS],
    /// Bit `a * PARTS + b`: part a ≤ part b.
    order: u64,
}

impl State {
    pub(super) fn open() -> State {
        State {
            lo: [FIRST; PARTS],
            hi: [LAST; PARTS],
            order: 0,
        }
    }

    pub(super) fn years(&self, part: usize) -> Years {
        Years {
            from: (self.lo[part] > FIRST).then_some(self.lo[part]),
            to: (self.hi[part] < LAST).then_some(self.hi[part]),
        }
    }

    /// Adds what a mark of these years says; `None`: it can't be true beside the rest.
    pub(super) fn with(&self, h: &Hypothesis) -> Option<State> {
        let (Some((b, bridges)), false) = (h.on, h.stray) else {
            return Some(*self);
        };
        let mut s = *self;
        let (from, to) = (h.years.from.unwrap_or(FIRST), h.years.to.unwrap_or(LAST));
        let part = place(b);
        s.hi[part] = s.hi[part].min(to);
        if h.role == Role::Maker {
            s.lo[part] = s.lo[part].max(from);
        }
        if let Some(second) = bridges.map(place).filter(|p| *p != part) {
            s.hi[second] = s.hi[second].min(to);
            if h.role == Role::Maker {
                s.order |= 1 << (second * PARTS + part);
            }
        }
        s.settled()
    }

    /// Bounds carried along the order until nothing moves; `None` if a part is left without a year.
    fn settled(mut self) -> Option<State> {
        loop {
            let before = (self.lo, self.hi);
            for a in 0..PARTS {
                for b in 0..PARTS {
                    if self.order >> (a * PARTS + b) & 1 == 1 {
                        self.hi[a] = self.hi[a].min(self.hi[b]);
                        self.lo[b] = self.lo[b].max(self.lo[a]);
                    }
                }
            }
            if (0..PARTS).any(|p| self.lo[p] > self.hi[p]) {
                return None;
            }
            if before == (self.lo, self.hi) {
                return Some(self);
            }
        }
    }

    /// Years of a mark beside these bounds: it isn't older than the parts that bear it.
    fn mark(&self, h: &Hypothesis) -> Years {
        let (Some((bearer, bridges)), false) = (h.on, h.stray) else {
            return h.years;
        };
        let mut from = h.years.from.unwrap_or(FIRST);
        let mut to = h.years.to.unwrap_or(LAST);
        for b in [Some(bearer), bridges].into_iter().flatten() {
            from = from.max(self.lo[place(b)]);
        }
        if h.role == Role::Maker {
            to = to.min(self.hi[place(bearer)]);
        }
        Years {
            from: (from > FIRST).then_some(from),
            to: (to < LAST).then_some(to),
        }
    }
}

/// All hypotheses of a mark; their chances sum to 1.
pub(super) fn hypotheses(mark: &super::Mark) -> Vec<Hypothesis> {
    let mut all = vec![Hypothesis::open()];
    for claim in &mark.claims {
        let said: f64 = claim.readings.iter().map(|r| r.chance).sum();
        // Rivals may sum to a little more than 1 by rounding
        let scale = if said > 1.0 { 1.0 / said } else { 1.0 };
        let mut next = Vec::new();
        for h in &all {
            let mut take = |reading: Option<usize>, chance: f64, years: Years, role: Role| {
                let mut readings = h.readings.clone();
                readings.push(reading);
                next.push(Hypothesis {
                    readings,
                    on: None,
                    stray: false,
                    chance: h.chance * chance,
                    years,
                    role: h.role.min(role),
                });
            };
            for (i, r) in claim.readings.iter().enumerate() {
                // Two readings of one mark that leave no year can't both be right
                if let Some(years) = h.years.meet(&r.years) {
                    take(Some(i), r.chance * scale, years, r.role);
                }
            }
            take(None, (1.0 - said * scale).max(1e-9), h.years, Role::Later);
        }
        all = next;
        let total: f64 = all.iter().map(|h| h.chance).sum();
        let mut none = 0.0;
        all.retain(|h| {
            let keep = h.chance >= LEAST * total || h.readings.iter().all(Option::is_none);
            none += if keep { 0.0 } else { h.chance };
            keep
        });
        if let Some(h) = all
            .iter_mut()
            .find(|h| h.readings.iter().all(Option::is_none))
        {
            h.chance += none;
        }
        for h in &mut all {
            h.chance /= total;
        }
    }
    // Where it is: as told; else as proposed, and for the rest of the chance nowhere.
    let mut places: Vec<(On, bool, f64)> = Vec::new();
    let proposed: f64 = mark.proposed.iter().map(|p| p.2).sum();
    match mark.bearer {
        Some(b) => {
            let on = Some((b, mark.bridges));
            places.extend([(on, false, 1.0 - STRAY), (on, true, STRAY)]);
        }
        None => {
            for (b, over, p) in &mark.proposed {
                places.push((Some((*b, *over)), false, p * (1.0 - STRAY)));
            }
            places.push((None, false, 1.0 - proposed * (1.0 - STRAY)));
        }
    }
    all.iter()
        .flat_map(|h| {
            places.iter().map(|(on, stray, p)| Hypothesis {
                on: *on,
                stray: *stray,
                chance: h.chance * p,
                ..h.clone()
            })
        })
        .collect()
}

/// A state with all the chance that leads to it and the likeliest way there.
#[derive(Debug, Clone)]
struct Way {
    chance: f64,
    best: f64,
    choice: Vec<usize>,
}

type States = HashMap<State, Way>;

/// Hypotheses of one mark that come to the same: they differ in their readings only.
struct Alike {
    /// The likeliest of them.
    best: usize,
    /// All of them.
    members: Vec<usize>,
    /// Their chances together.
    chance: f64,
}

/// Whether it tells nothing of any part: it speaks of none, or has no years and bridges nothing.
fn silent(h: &Hypothesis) -> bool {
    h.stray || h.on.is_none_or(|o| o.1.is_none() && h.years == Years::OPEN)
}

/// * `parts_only`: whether only what they say of the parts counts, not what becomes of the mark.
fn grouped(own: &[Hypothesis], parts_only: bool) -> Vec<Alike> {
    let says = |h: &Hypothesis| {
        (!parts_only || !silent(h)).then_some((h.on.filter(|_| !h.stray), h.stray, h.years, h.role))
    };
    let mut out: Vec<Alike> = Vec::new();
    for (i, h) in own.iter().enumerate() {
        let same = |g: &&mut Alike| says(&own[g.best]) == says(h);
        match out.iter_mut().find(same) {
            Some(g) => {
                if h.chance > own[g.best].chance {
                    g.best = i;
                }
                g.members.push(i);
                g.chance += h.chance;
            }
            None => out.push(Alike {
                best: i,
                members: vec![i],
                chance: h.chance,
            }),
        }
    }
    out
}

fn start() -> States {
    let way = Way {
        chance: 1.0,
        best: 1.0,
        choice: Vec::new(),
    };
    HashMap::from([(State::open(), way)])
}

/// The states after one more mark.
fn step(states: &States, own: &[Hypothesis], groups: &[Alike]) -> States {
    let mut next: States = HashMap::new();
    for (state, way) in states {
        for g in groups {
            let h = &own[g.best];
            let Some(to) = state.with(h) else {
                continue;
            };
            let (chance, best) = (way.chance * g.chance, way.best * h.chance);
            let choice = || {
                let mut c = way.choice.clone();
                c.push(g.best);
                c
            };
            next.entry(to)
                .and_modify(|w| {
                    w.chance += chance;
                    if best > w.best {
                        w.best = best;
                        w.choice = choice();
                    }
                })
                .or_insert_with(|| Way {
                    chance,
                    best,
                    choice: choice(),
                });
        }
    }
    if next.len() > MOST_STATES {
        let mut by: Vec<(State, Way)> = next.into_iter().collect();
        by.sort_by(|a, b| b.1.chance.total_cmp(&a.1.chance));
        by.truncate(MOST_STATES);
        next = by.into_iter().collect();
    }
    next
}

/// Sums chances by value, greatest first; equal ones in order of value, so that the result is
/// always the same.
fn ranked(values: impl Iterator<Item = (Years, f64)>) -> Vec<(Years, f64)> {
    let mut sums: HashMap<Years, f64> = HashMap::new();
    for (y, p) in values {
        *sums.entry(y).or_default() += p;
    }
    let mut out: Vec<(Years, f64)> = sums.into_iter().collect();
    out.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    out
}

/// The interval of the likeliest choice, with the chance of all choices that keep within it.
fn dated(best: Years, all: &[(Years, f64)], rests_on: Vec<String>) -> Dated {
    let total: f64 = all.iter().map(|a| a.1).sum();
    let share = |p: f64| {
        if total > 0.0 {
            (p / total).min(1.0)
        } else {
            0.0
        }
    };
    let chance: f64 = all
        .iter()
        .filter(|(y, _)| y.within(&best))
        .map(|a| a.1)
        .sum();
    Dated {
        years: best,
        chance: if best == Years::OPEN {
            1.0
        } else {
            share(chance)
        },
        rivals: all
            .iter()
            .filter(|(y, p)| *y != best && *y != Years::OPEN && share(*p) >= TOLD)
            .filter(|(y, _)| !y.within(&best))
            .map(|(y, p)| (*y, share(*p)))
            .collect(),
        rests_on,
        proposed: Vec::new(),
    }
}

/// Whether a person said of any mark that it is on this part.
fn told(back: &Back, b: Bearer) -> bool {
    let on = |m: &super::Mark| m.bearer == Some(b) || m.bridges == Some(b);
    back.marks.iter().any(on)
}

/// Solves a back.
///
/// Marks of which no part is told or proposed keep their own years and say nothing of any part.
pub fn solve(back: &Back) -> Solved {
    let all: Vec<Vec<Hypothesis>> = back.marks.iter().map(hypotheses).collect();
    let groups: Vec<Vec<Alike>> = all.iter().map(|own| grouped(own, true)).collect();
    // States before each mark, and after the last.
    let mut before = vec![start()];
    for (own, alike) in all.iter().zip(&groups) {
        let next = step(&before[before.len() - 1], own, alike);
        before.push(next);
    }
    let states = before.pop().unwrap_or_else(start);
    let mute: Vec<bool> = all.iter().map(|own| own.iter().all(silent)).collect();
    let total: f64 = states.values().map(|w| w.chance).sum();
    let mut best: Vec<(&State, &Way)> = states.iter().collect();
    best.sort_by(|a, b| {
        b.1.best
            .total_cmp(&a.1.best)
            .then_with(|| a.1.choice.cmp(&b.1.choice))
    });
    let Some((state, way)) = best.first() else {
        // Every mark may stray, so some state always remains; kept for safety
        return Solved {
            parts: Vec::new(),
            marks: Vec::new(),
            readings: Vec::new(),
            strays: Vec::new(),
            conflicts: Vec::new(),
        };
    };
    let chosen: Vec<&Hypothesis> = way.choice.iter().zip(&all).map(|(i, h)| &h[*i]).collect();
    let parts = Bearer::ALL
        .into_iter()
        .filter(|b| {
            told(back, *b)
                || back
                    .marks
                    .iter()
                    .flat_map(|m| &m.proposed)
                    .any(|p| p.0 == *b || p.1 == Some(*b))
        })
        .filter_map(|b| {
            let part = place(b);
            let years = state.years(part);
            let every = ranked(states.iter().map(|(s, w)| (s.years(part), w.chance)));
            let rests = limits(back, &chosen, state, part);
            let mut dated = dated(years, &every, rests);
            let unsure = |id: &&String| {
                let mut marks = back.marks.iter();
                marks.any(|m| m.id == **id && m.bearer.is_none())
            };
            dated.proposed = dated.rests_on.iter().filter(unsure).cloned().collect();
            // Of a part that only proposals speak of, what is less likely than not isn't told.
            if years == Years::OPEN && !told(back, b) {
                return None;
            }
            (years != Years::OPEN || !dated.rivals.is_empty()).then_some((b, dated))
        })
        .collect();
    let mut marks = Vec::new();
    let mut readings = Vec::new();
    let mut strays = Vec::new();
    for (m, mark) in back.marks.iter().enumerate() {
        let mut every: Vec<(Years, f64)> = Vec::new();
        let mut shares: Vec<Vec<f64>> = mark
            .claims
            .iter()
            .map(|c| vec![0.0; c.readings.len()])
            .collect();
        let mut stray = 0.0;
        // What the other marks say, then this one last: the order of marks makes no difference.
        let apart: States;
        let others = if mute[m] {
            &states
        } else {
            apart = (m + 1..all.len())
                .filter(|&n| !mute[n])
                .fold(before[m].clone(), |s, n| step(&s, &all[n], &groups[n]));
            &apart
        };
        for g in &grouped(&all[m], false) {
            let h = &all[m][g.best];
            let mut sum = 0.0;
            for (s, w) in others {
                let Some(to) = s.with(h) else { continue };
                let chance = w.chance * g.chance;
                sum += chance;
                every.push((to.mark(h), chance));
            }
            for &i in &g.members {
                let h = &all[m][i];
                let sum = sum * h.chance / g.chance;
                for (c, r) in h.readings.iter().enumerate() {
                    if let Some(r) = r {
                        shares[c][*r] += sum / total;
                    }
                }
                if h.stray {
                    stray += sum / total;
                }
            }
        }
        let own = state.mark(chosen[m]);
        let d = dated(own, &ranked(every.into_iter()), vec![mark.id.clone()]);
        if own != Years::OPEN || !d.rivals.is_empty() {
            marks.push((mark.id.clone(), d));
        }
        readings.push(shares);
        strays.push(stray);
    }
    Solved {
        parts,
        marks,
        readings,
        strays,
        conflicts: conflicts::find(back),
    }
}

/// Numbers of the marks that set a part's limits: those without which its interval would be
/// another, and those that set one of its limits by themselves.
fn limits(back: &Back, chosen: &[&Hypothesis], state: &State, part: usize) -> Vec<String> {
    let whole = state.years(part);
    if whole == Years::OPEN {
        return Vec::new();
    }
    let of = |keep: &dyn Fn(usize) -> bool| {
        let mut s = State::open();
        for m in (0..back.marks.len()).filter(|m| keep(*m)) {
            s = s.with(chosen[m]).unwrap_or(s);
        }
        s.years(part)
    };
    (0..back.marks.len())
        .filter(|m| {
            let alone = of(&|k| k == *m);
            let sets = (alone.from.is_some() && alone.from == whole.from)
                || (alone.to.is_some() && alone.to == whole.to);
            sets || of(&|k| k != *m) != whole
        })
        .map(|m| back.marks[m].id.clone())
        .collect()
}
