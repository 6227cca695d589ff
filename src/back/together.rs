//! What several sightings of one mark read, put together letter by letter.
//!
//! In: the kept readings, with where their outlines lie. Out: one reading. No pixels are needed, so that it can
//! be told anew whenever sightings are joined or parted. The order of the sightings doesn't change what is read,
//! only whose boxes the lines bear.

use crate::geometry::{Homography, Quad, Rect};
use crate::readings::{Character, Line, Reading};
use network::{Network, Vote};
use place::Frame;
use pool::{Fit, Witnesses};
use rows::Row;
use serde::Serialize;
use std::sync::OnceLock;

mod align;
mod network;
mod place;
mod pool;
mod rows;

/// What one sighting reads of a mark.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// As it was read.
    pub reading: &'a Reading,
    /// Corners on its photograph, px, in reading order.
    pub outline: Quad,
    /// From px of its photograph to px of the first view's; `None` where its place isn't known (the first's own
    /// is).
    pub to_first: Option<Homography>,
}

/// A line that more sightings pass over than read is left out if it stands there with less chance than this:
/// most likely one took grain or ornament for it.
const STANDS: f64 = 0.5;

/// Two or more letters side by side with smaller chances than this are lost, as in a single reading.
const LOST_BELOW: f64 = 0.25;

/// One reading of what several sightings read.
///
/// * `views`: all of one mark. Boxes are told on the photograph and the flattened mark of the first.
///
/// One view comes back as it is; none gives an empty reading. Turn, the user's own reader's lines and shared
/// lines are the first's.
pub fn together(views: &[View<'_>]) -> Reading {
    match views {
        [] => Reading::default(),
        [only] => only.reading.clone(),
        [first, ..] => {
            let order = agreeing(views, clearest_first(views));
            let rows = rows_of(views, &order);
            let lines = rows.iter().filter_map(|row| line(views, &order, row));
            let voters: Vec<String> = views
                .iter()
                .flat_map(|v| v.reading.voters.clone())
                .collect();
            Reading {
                lines: lines.collect(),
                turn: first.reading.turn,
                voters: unique(voters),
                own: first.reading.own.clone(),
                shared: first.reading.shared.clone(),
            }
        }
    }
}

fn unique(mut names: Vec<String>) -> Vec<String> {
    names.sort_unstable();
    names.dedup();
    names
}

/// A row of lettering with what the sightings say of it.
struct Witnessed {
    row: Row,
    by: Witnesses,
}

/// Numbers of the views, the one with the most letters likely to be right first; alike ones by what they read, so
/// that the order in which they come says nothing.
fn clearest_first(views: &[View<'_>]) -> Vec<usize> {
    let told = |v: &View<'_>| -> Vec<String> {
        v.reading.lines.iter().map(|l| l.leiden.clone()).collect()
    };
    let keys: Vec<(f64, Vec<String>)> =
        views.iter().map(|v| (likely_letters(v), told(v))).collect();
    let mut order: Vec<usize> = (0..views.len()).collect();
    order.sort_by(|&a, &b| {
        keys[b]
            .0
            .total_cmp(&keys[a].0)
            .then(keys[a].1.cmp(&keys[b].1))
    });
    order
}

/// How many letters of a view are likely to be right.
fn likely_letters(view: &View<'_>) -> f64 {
    let signs = view.reading.lines.iter().flat_map(|l| &l.characters);
    signs.map(|c| (c.confidence - DOUBTFUL).max(0.0)).sum()
}

/// A letter with less chance than this speaks for no reading.
const DOUBTFUL: f64 = 0.3;

/// Leaves out views that are read another way up than the most letters are: what they read is no evidence. Which
/// way up that is shows where places are known.
///
/// * `order`: clearest first.
fn agreeing(views: &[View<'_>], order: Vec<usize>) -> Vec<usize> {
    let up = |v: usize| {
        let top = views[v].outline.0;
        let map = if v == 0 {
            Some(SAME)
        } else {
            views[v].to_first
        }?;
        let (from, to) = (map.apply(top[0]), map.apply(top[1]));
        Some((to.y - from.y).atan2(to.x - from.x))
    };
    let Some(ground) = order.iter().find_map(|&v| up(v)) else {
        return order;
    };
    let quarter = |v: usize| -> Option<usize> {
        let turns = (up(v)? - ground) / std::f64::consts::FRAC_PI_2;
        Some(turns.round().rem_euclid(4.0) as usize)
    };
    let mut letters = [0.0; 4];
    for &v in &order {
        if let Some(q) = quarter(v) {
            letters[q] += likely_letters(&views[v]);
        }
    }
    let most = (0..4)
        .rev()
        .max_by(|&a, &b| letters[a].total_cmp(&letters[b]));
    order
        .into_iter()
        .filter(|&v| quarter(v).is_none_or(|q| Some(q) == most))
        .collect()
}

/// The rows of lettering that the views read, in reading order.
fn rows_of(views: &[View<'_>], order: &[usize]) -> Vec<Witnessed> {
    let sorted: Vec<&View<'_>> = order.iter().map(|&v| &views[v]).collect();
    let known: Vec<Option<Homography>> = order
        .iter()
        .map(|&v| {
            if v == 0 {
                Some(SAME)
            } else {
                views[v].to_first
            }
        })
        .collect();
    let frame = Frame::of(&sorted, &known);
    let lines: Vec<&[Line]> = sorted.iter().map(|v| v.reading.lines.as_slice()).collect();
    let witnessed = |row: Row| {
        let reads = |v: usize| row.lines.iter().any(|l| l.0 == v);
        let shows = |v: usize| row.place().is_none_or(|p| frame.shows(v, &p));
        let others = (0..sorted.len()).filter(|&v| !reads(v) && shows(v));
        let by = Witnesses {
            read: (0..sorted.len()).filter(|&v| reads(v)).count(),
            silent: others.count(),
        };
        Witnessed { row, by }
    };
    rows::apart(rows::rows(&lines, &frame))
        .into_iter()
        .map(witnessed)
        .collect()
}

/// The map that leaves each place where it is.
const SAME: Homography = Homography([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]);

/// A row as a line, where it is likely to stand on the object.
fn line(views: &[View<'_>], order: &[usize], witnessed: &Witnessed) -> Option<Line> {
    let Witnessed { row, by } = witnessed;
    let fit = fit();
    let pooled = fit.pool(&row.network);
    let best = best_line(views, order, row)?;
    let alone = row.lines.len() == 1 && by.silent == 0;
    let characters = match alone {
        true => views[order[best.0]].reading.lines[best.1]
            .characters
            .clone(),
        false => {
            if by.silent > by.read && fit.stands(&pooled, *by) < STANDS {
                return None;
            }
            with_ends(fit.characters(&pooled, *by), &row.network)
        }
    };
    if characters.iter().all(|c| c.text.trim().is_empty()) {
        return None;
    }
    let (bounds, within) = boxes(views, order, row, best);
    let writing = row
        .lines
        .iter()
        .filter_map(|l| views[order[l.0]].reading.lines[l.1].writing);
    let writing = writing.max_by(|a, b| a.chance.total_cmp(&b.chance));
    Some(Line {
        writing,
        ..Line::from_characters(characters, bounds, within)
    })
}

fn fit() -> &'static Fit {
    static FIT: OnceLock<Fit> = OnceLock::new();
    FIT.get_or_init(|| Fit::load().unwrap_or_else(|e| unreachable!("together.json: {e}")))
}

/// Leaves out needless spaces, marks what is lost, and what is cut off in all sightings.
fn with_ends(mut letters: Vec<Character>, network: &Network) -> Vec<Character> {
    letters.dedup_by(|a, b| a.text == " " && b.text == " ");
    while letters.last().is_some_and(|c| c.text == " ") {
        letters.pop();
    }
    let lead = letters.iter().take_while(|c| c.text == " ").count();
    letters.drain(..lead);
    mark_lost(&mut letters);
    let stretch = |end| network.is_open(end).then(Character::stretch);
    let all = stretch(0).into_iter().chain(letters).chain(stretch(1));
    all.collect()
}

/// Turns runs of letters that can't be read into lost ones.
fn mark_lost(characters: &mut [Character]) {
    let bad = |c: &Character| c.text != " " && c.confidence < LOST_BELOW;
    for run in characters.chunk_by_mut(|a, b| bad(a) == bad(b)) {
        if run.len() < 2 || !bad(&run[0]) {
            continue;
        }
        for c in run {
            let guess = (std::mem::take(&mut c.text), c.confidence);
            c.alternatives.insert(0, guess);
            c.confidence = 0.0;
        }
    }
}

/// The clearest of a row's lines.
fn best_line(views: &[View<'_>], order: &[usize], row: &Row) -> Option<(usize, usize)> {
    let sum = |l: &(usize, usize)| -> f64 {
        let line = &views[order[l.0]].reading.lines[l.1];
        line.characters.iter().map(|c| c.confidence).sum()
    };
    row.lines
        .iter()
        .copied()
        .max_by(|a, b| sum(a).total_cmp(&sum(b)).then(b.cmp(a)))
}

/// Where a row stands on the first view's photograph and flattened mark: by its own lines, else by the clearest
/// of the others'.
fn boxes(views: &[View<'_>], order: &[usize], row: &Row, best: (usize, usize)) -> (Rect, Rect) {
    let own = row.lines.iter().filter(|l| order[l.0] == 0);
    let own = own.map(|l| &views[0].reading.lines[l.1]);
    let joined = own
        .map(|l| (l.bounds, l.within))
        .reduce(|a, b| (a.0.union(&b.0), a.1.union(&b.1)));
    let other = &views[order[best.0]];
    let line = &other.reading.lines[best.1];
    let carried = || {
        place::carried(
            line,
            &other.outline,
            &views[0].outline,
            other.to_first.as_ref(),
        )
    };
    let whole = views[0].outline.bounds();
    joined.or_else(carried).unwrap_or((whole, line.within))
}

/// What sightings say of one row, position by position: what the fit is made on.
#[derive(Debug, Clone, Serialize)]
#[allow(clippy::type_complexity)] // written as it is read by the script that fits
pub struct Evidence {
    /// For each position and sighting the signs that it reads with their chances; `Some` of none where it reads
    /// nothing, `None` where it doesn't show the place.
    pub slots: Vec<Vec<Option<Vec<(String, f64)>>>>,
    /// For each sighting the mean log-odds of its letters on the row, and the row's height on its photograph, px;
    /// `None` where it doesn't read it.
    pub looks: Vec<Option<[f64; 2]>>,
    /// Sightings that read the row.
    pub read: usize,
    /// Sightings that show the place and read nothing there.
    pub silent: usize,
}

/// What several sightings of a mark say, row by row, before it is pooled; for fitting.
#[allow(clippy::type_complexity)] // as the evidence
pub fn evidence(views: &[View<'_>]) -> Vec<Evidence> {
    let order = agreeing(views, clearest_first(views));
    let rows = rows_of(views, &order);
    let told = |vote: &Vote| match vote {
        // A letter beside a cut would teach little
        Vote::Read(spread) if spread.cut => None,
        Vote::Read(spread) => Some(spread.signs.clone()),
        Vote::Nothing => Some(Vec::new()),
        Vote::Unseen => None,
    };
    let slots = |n: &Network| -> Vec<Vec<Option<Vec<(String, f64)>>>> {
        n.slots
            .iter()
            .map(|s| s.iter().map(told).collect())
            .collect()
    };
    let all = rows.iter().map(|w| Evidence {
        slots: slots(&w.row.network),
        looks: w
            .row
            .network
            .seen
            .iter()
            .map(|s| s.map(|s| [s.1.clarity, s.1.height]))
            .collect(),
        read: w.by.read,
        silent: w.by.silent,
    });
    all.collect()
}

#[cfg(test)]
mod tests;
