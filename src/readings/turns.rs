//! The mark's turn, found by reading: upright, on its head, or on either side.

use super::heard::{self, Read, View};
use super::{Character, Recognisers, cuts, mean_chance};
use crate::enhance::Variant;
use crate::error::Result;
use crate::geometry::Turn;
use crate::marks::LineBox;
use image::{GrayImage, imageops};
use rayon::prelude::*;

/// Expected number of right letters from which a reading settles the mark's turn by itself.
const LEGIBLE: f64 = 8.0;

/// Mean chance a letter from which it does: upside-down lettering is read too, but unsurely.
const WELL: f64 = 0.8;

/// Lines that are read in each turn to find the right one.
const TRIED: usize = 6;

/// The mark's first picture in the turn that makes it legible, with its lines and what was read on each.
pub(super) struct Upright {
    pub turn: Turn,
    pub view: View,
    pub lines: Vec<LineBox>,
    pub rows: Vec<Option<Read>>,
}

impl Upright {
    fn of(first: &Variant, turn: Turn, recognisers: &Recognisers) -> Result<Upright> {
        let view = View::of(first, turn);
        let lines = view.lines();
        let rows = view.read(&lines, recognisers)?;
        Ok(Upright {
            turn,
            view,
            lines,
            rows,
        })
    }
}

/// The letters of a line as they were seen.
fn letters(read: &Option<Read>) -> Vec<Character> {
    if let Some(by_ink) = read.as_ref().and_then(|r| r.by_ink.clone()) {
        return by_ink;
    }
    let slots = read.iter().flat_map(|r| &r.row.slots);
    let best = slots.filter_map(|s| s.shares.first());
    best.filter(|(sign, _)| !sign.is_empty())
        .map(|(sign, share)| Character::sure(sign, *share))
        .collect()
}

/// Finds the turn that makes the mark legible.
///
/// As photographed is right most often, so the others are tried only where it doesn't read well
/// by itself; they must read clearly better to win. Where a person set the turn none is tried.
pub(super) fn upright(
    first: &Variant,
    turn_is_set: bool,
    recognisers: &Recognisers,
) -> Result<Upright> {
    let as_is = Upright::of(first, Turn::None, recognisers)?;
    let read: Vec<Vec<Character>> = as_is.rows.iter().map(letters).collect();
    if turn_is_set || settled(&read) {
        return Ok(as_is);
    }
    match by_lines(first, &as_is, &read, recognisers)? {
        Turn::None => Ok(as_is),
        turn => Upright::of(first, turn, recognisers),
    }
}

fn settled(lines: &[Vec<Character>]) -> bool {
    let read = lines.iter().flatten().filter(|c| c.text != " ");
    heard::legible(lines.iter().map(Vec::as_slice)) >= LEGIBLE
        && mean_chance(read).is_some_and(|m| m > WELL)
}

/// Weighs the longest lines as they stand against the same on their heads, and where neither is legible against
/// those of the picture on its side.
///
/// * `read`: its letters as they stand, line by line.
fn by_lines(
    first: &Variant,
    as_is: &Upright,
    read: &[Vec<Character>],
    recognisers: &Recognisers,
) -> Result<Turn> {
    let none = heard::legible(read.iter().take(TRIED).map(Vec::as_slice));
    let half = score(&on_head(&longest(&as_is.view, &as_is.lines)), recognisers)?;
    let mut scores = vec![(Turn::None, none), (Turn::Half, half)];
    if none.max(half) < LEGIBLE {
        let side = View::of(first, Turn::Right);
        let lines = longest(&side, &side.lines());
        scores.push((Turn::Right, score(&lines, recognisers)?));
        scores.push((Turn::Left, score(&on_head(&lines), recognisers)?));
    }
    Ok(best(&scores))
}

/// The longest lines of a view, cut out.
fn longest(view: &View, lines: &[LineBox]) -> Vec<GrayImage> {
    let lines = lines.par_iter().take(TRIED);
    lines.map(|l| cuts::cut(&view.picture, l).picture).collect()
}

fn on_head(lines: &[GrayImage]) -> Vec<GrayImage> {
    lines.iter().map(imageops::rotate180).collect()
}

/// What lines give: expected right letters.
fn score(lines: &[GrayImage], recognisers: &Recognisers) -> Result<f64> {
    let Some(reader) = recognisers.readers.iter().find(|r| !r.is_own()) else {
        return Ok(0.0);
    };
    let read = lines.par_iter().map(|line| -> Result<f64> {
        let read = reader.read(line)?;
        let letters = read.map(|l| l.by_ink.unwrap_or(l.characters));
        let letters = letters.unwrap_or_default();
        Ok(heard::legible([letters.as_slice()]))
    });
    let read: Vec<f64> = read.collect::<Result<_>>()?;
    Ok(read.iter().sum())
}

/// The best turn; another than none must be clearly better.
fn best(scores: &[(Turn, f64)]) -> Turn {
    let none = scores
        .iter()
        .find(|s| s.0 == Turn::None)
        .map_or(0.0, |s| s.1);
    scores
        .iter()
        .copied()
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, score)| *score > none * 1.15 + 0.8)
        .map_or(Turn::None, |(turn, _)| turn)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_turn_must_read_clearly_better_than_as_photographed() {
        let score = |none, half| best(&[(Turn::None, none), (Turn::Half, half)]);
        assert_eq!(score(5.0, 6.0), Turn::None);
        assert_eq!(score(5.0, 9.0), Turn::Half);
        assert_eq!(score(0.0, 0.5), Turn::None);
        assert_eq!(best(&[]), Turn::None);
    }
}
