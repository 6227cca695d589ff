//! Which lines of several sightings are one row of lettering, and the order of the rows.

use super::align::Alignment;
use super::network::{Network, Piece};
use super::place::{Frame, Place};
use crate::readings::Line;

/// A row of lettering.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub network: Network,
    /// Where it stands in the frame, by each sighting that reads it.
    pub places: Vec<Option<Place>>,
    /// Its lines: number of the sighting (clearest first), and of its line.
    pub lines: Vec<(usize, usize)>,
}

impl Row {
    /// Where it stands by all sightings of which the place is known, else by the clearest.
    pub fn place(&self) -> Option<Place> {
        let all = || self.places.iter().flatten().copied();
        let sure = all().filter(|p| p.sure).reduce(|a, b| a.beside(&b));
        sure.or_else(|| all().next())
    }
}

/// Leaves out rows that lie upon one that more sightings read: a line cut twice, or half of it by itself.
pub(super) fn apart(rows: Vec<Row>) -> Vec<Row> {
    let readers = |row: &Row| row.network.seen.iter().flatten().count();
    let upon = |row: &Row| {
        let Some(place) = row.place().filter(|p| p.sure) else {
            return false;
        };
        rows.iter().any(|other| {
            let there = other.place().filter(|p| p.sure);
            readers(other) > readers(row) && there.is_some_and(|there| place.lies_upon(&there))
        })
    };
    let kept: Vec<bool> = rows.iter().map(|row| !upon(row)).collect();
    let all = rows.into_iter().zip(kept);
    all.filter(|(_, kept)| *kept).map(|(row, _)| row).collect()
}

/// A line of a sighting that is being added.
struct Fresh {
    number: usize,
    piece: Piece,
    place: Option<Place>,
}

/// Lines pair by wording from this share of what they could gain, where their places speak for it, where they
/// are only guessed at, and where they speak against it.
const ALIKE: f64 = 0.1;
const ALIKE_SOMEWHERE: f64 = 0.45;
const ALIKE_ELSEWHERE: f64 = 0.9;

/// Lines stand on one row if they share this part of the lesser height.
const LEVEL: f64 = 0.4;

/// Two rows are parts of a line that covers this share of each.
const COVERED: f64 = 0.5;

/// Sets the lines of all sightings in rows, in reading order.
///
/// * `views`: the lines of each sighting, the clearest first.
pub(super) fn rows(views: &[&[Line]], frame: &Frame) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (v, lines) in views.iter().enumerate() {
        let fresh = lines.iter().enumerate().map(|(number, line)| Fresh {
            number,
            piece: Piece::of(&line.characters, line.within.h),
            place: frame.place(v, line),
        });
        let fresh: Vec<Fresh> = fresh.filter(|f| !f.piece.signs.is_empty()).collect();
        for f in &fresh {
            unite(&mut rows, f);
        }
        let taken = paired(&rows, &fresh);
        add(&mut rows, v, frame, &fresh, &taken);
    }
    rows
}

/// Makes one row of rows that a line goes across: a wide gap parts lines in one sighting and not in the next.
fn unite(rows: &mut Vec<Row>, line: &Fresh) {
    loop {
        let along: Vec<Alignment> = rows.iter().map(|r| r.network.align(&line.piece)).collect();
        let covers =
            |r: usize| along[r].of_row >= COVERED && value(&rows[r], &along[r], line).is_some();
        let covered: Vec<usize> = (0..rows.len()).filter(|&r| covers(r)).collect();
        let mut found = None;
        for &a in &covered {
            for &b in &covered {
                if let (Some((_, end)), Some((start, _))) =
                    (along[a].piece_span(), along[b].piece_span())
                    && end < start
                    && one_level(&rows[a], &rows[b])
                {
                    found = found.or(Some((a, b)));
                }
            }
        }
        let Some((a, b)) = found else { return };
        let right = rows.remove(b);
        let left = &mut rows[if b < a { a - 1 } else { a }];
        left.network.append(right.network);
        left.lines.extend(right.lines);
        for (own, other) in left.places.iter_mut().zip(right.places) {
            *own = match (*own, other) {
                (Some(p), Some(q)) => Some(p.union(&q)),
                (p, q) => p.or(q),
            };
        }
    }
}

fn one_level(a: &Row, b: &Row) -> bool {
    match (a.place(), b.place()) {
        (Some(a), Some(b)) => a.level_with(&b) >= LEVEL,
        _ => true,
    }
}

/// How well a line goes with a row; nothing where it doesn't.
fn value(row: &Row, along: &Alignment, line: &Fresh) -> Option<f64> {
    let alike = along.of_row.max(along.of_piece);
    let (Some(there), Some(here)) = (row.place(), &line.place) else {
        return (alike >= ALIKE_SOMEWHERE).then_some(alike);
    };
    let level = here.level_with(&there);
    let upon = here.lies_upon(&there) || there.lies_upon(here);
    let least = match (here.sure && there.sure, level >= LEVEL) {
        (true, true) if upon => f64::NEG_INFINITY,
        (true, true) => ALIKE,
        (true, false) => ALIKE_ELSEWHERE,
        (false, true) => ALIKE,
        (false, false) => ALIKE_SOMEWHERE,
    };
    // A place that is only guessed at may mislead by a line
    let by_place = if here.sure && there.sure { 0.5 } else { 0.2 };
    (alike >= least).then(|| alike + by_place * level.clamp(-1.0, 1.0))
}

/// The row of each line; several lines may go to one row, side by side.
fn paired(rows: &[Row], fresh: &[Fresh]) -> Vec<Option<usize>> {
    let mut all: Vec<(f64, usize, usize, Alignment)> = Vec::new();
    for (f, line) in fresh.iter().enumerate() {
        for (r, row) in rows.iter().enumerate() {
            let along = row.network.align(&line.piece);
            if let Some(value) = value(row, &along, line) {
                all.push((value, f, r, along));
            }
        }
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut taken: Vec<Option<usize>> = vec![None; fresh.len()];
    let mut spans: Vec<Vec<(usize, usize)>> = vec![Vec::new(); rows.len()];
    for (_, f, r, along) in all {
        if taken[f].is_some() {
            continue;
        }
        let span = along.row_span();
        let apart = |s: &(usize, usize)| span.is_some_and(|o| o.1 < s.0 || s.1 < o.0);
        if spans[r].iter().all(apart) {
            taken[f] = Some(r);
            spans[r].extend(span);
        }
    }
    taken
}

/// Adds a sighting's lines to their rows, and those without a row as rows of their own, where the sighting has
/// them.
fn add(rows: &mut Vec<Row>, view: usize, frame: &Frame, fresh: &[Fresh], taken: &[Option<usize>]) {
    let views = frame.views();
    for (r, row) in rows.iter_mut().enumerate() {
        let mut here: Vec<&Fresh> = fresh
            .iter()
            .zip(taken)
            .filter(|(_, t)| **t == Some(r))
            .map(|(f, _)| f)
            .collect();
        if here.is_empty() {
            continue;
        }
        if here.len() > 1 {
            here.sort_by_key(|f| row.network.align(&f.piece).row_span());
        }
        let pieces: Vec<&Piece> = here.iter().map(|f| &f.piece).collect();
        let mut piece = Piece::joined(&pieces);
        let place = here
            .iter()
            .filter_map(|f| f.place)
            .reduce(|a, b| a.union(&b));
        if let Some(place) = place.filter(|p| p.sure) {
            cut(row, view, &mut piece, &place, frame);
        }
        let along = row.network.align(&piece);
        row.network.add(view, &piece, &along);
        row.lines.extend(here.iter().map(|f| (view, f.number)));
        row.places[view] = place;
    }
    for (f, _) in fresh.iter().zip(taken).filter(|(_, t)| t.is_none()) {
        let at = place_for(rows, view, f);
        let mut places = vec![None; views];
        places[view] = f.place;
        let row = Row {
            network: Network::new(view, views, &f.piece),
            places,
            lines: vec![(view, f.number)],
        };
        rows.insert(at, row);
    }
}

/// Tells a row and a piece that is added to it where one goes on beyond what the other's sighting shows.
fn cut(row: &mut Row, view: usize, piece: &mut Piece, place: &Place, frame: &Frame) {
    let beyond = |long: &Place, short: &Place, end: usize| match end {
        0 => long.left < short.left - BEYOND * short.height(),
        _ => long.right > short.right + BEYOND * short.height(),
    };
    for end in 0..2 {
        let others: Vec<Option<Place>> = row.places.iter().map(|p| p.filter(|p| p.sure)).collect();
        for (v, other) in others.iter().enumerate() {
            let Some(other) = other else { continue };
            if beyond(other, place, end) && !frame.shows_end(view, other, end) {
                piece.cut(end);
            }
            if beyond(place, other, end) && !frame.shows_end(v, place, end) {
                row.network.cut(v, end);
            }
        }
    }
}

/// A line goes on beyond another's end from so many heights.
const BEYOND: f64 = 0.3;

/// Where among the rows a line without partner belongs: behind the row of the line before it, else before that of
/// the line after it, else by its place.
fn place_for(rows: &[Row], view: usize, line: &Fresh) -> usize {
    let own = |row: &Row| row.lines.iter().filter(|l| l.0 == view).map(|l| l.1).max();
    let mut before: Option<(usize, usize)> = None;
    let mut after: Option<(usize, usize)> = None;
    for (at, row) in rows.iter().enumerate() {
        match own(row) {
            Some(n) if n < line.number && before.is_none_or(|b| n >= b.0) => before = Some((n, at)),
            Some(n) if n > line.number && after.is_none_or(|a| n < a.0) => after = Some((n, at)),
            _ => {}
        }
    }
    if let Some((_, at)) = before {
        return at + 1;
    }
    if let Some((_, at)) = after {
        return at;
    }
    let above = |row: &Row| match (row.place(), &line.place) {
        (Some(r), Some(l)) => r.middle() <= l.middle(),
        _ => true,
    };
    rows.iter().rposition(above).map_or(0, |at| at + 1)
}
