//! The mark's turn, found by reading: upright, on its head, or on either side.

use super::Recogniser;
use super::passes::{self, View};
use super::vote::Pass;
use super::{Layout, cuts};
use crate::enhance::Variant;
use crate::error::Result;
use crate::geometry::Turn;
use crate::marks::LineBox;
use image::imageops;
use rayon::prelude::*;

/// Expected number of right letters from which a reading settles the mark's turn by itself.
const LEGIBLE: f64 = 8.0;

/// Mean chance a letter from which it does: upside-down lettering is read too, but unsurely.
const WELL: f64 = 0.8;

/// Lines that are read in each turn to find the right one.
const TRIED: usize = 6;

/// Longest side of the picture that turns are tried on without a reader of lines, px.
const TURN_SIDE: u32 = 900;

/// The turn that makes the mark legible, with the first passes in that turn.
///
/// As photographed is right most often, so the others are tried only where it doesn't read well
/// by itself; they must read clearly better to win. Where a person set the turn none is tried.
pub(super) fn upright(
    variants: &[Variant],
    turn_is_set: bool,
    recognisers: &[Box<dyn Recogniser>],
) -> Result<(Turn, Vec<Pass>)> {
    let Some(first) = variants.first() else {
        return Ok((Turn::None, Vec::new()));
    };
    if !recognisers.iter().any(|r| r.lines_only()) {
        return by_pages(first, turn_is_set, recognisers);
    }
    let view = passes::view(first, Turn::None);
    let lines = passes::line_boxes(&view);
    let as_is = passes::lines_of(&view, &lines, recognisers)?;
    let turn = if turn_is_set || settled(&as_is) {
        Turn::None
    } else {
        by_lines(first, &view, &lines, recognisers)?
    };
    let (view, lines) = if turn == Turn::None {
        (view, as_is)
    } else {
        let view = passes::view(first, turn);
        let boxes = passes::line_boxes(&view);
        let lines = passes::lines_of(&view, &boxes, recognisers)?;
        (view, lines)
    };
    let most = if turn_is_set {
        passes::MOST_PIXELS
    } else {
        pixels_for(&lines)
    };
    let mut all = passes::pass(&view.no_larger_than(most), &[Layout::Block], recognisers)?;
    all.extend(lines);
    Ok((turn, all))
}

/// Most px of the picture that whole-page recognisers are given: fewer where the reader of lines
/// saw nothing, since that is most often grain, and grain is what takes longest.
fn pixels_for(lines: &[Pass]) -> f64 {
    if lines.iter().any(|p| passes::legible(p) >= passes::HOPE) {
        passes::MOST_PIXELS
    } else {
        passes::MOST_PIXELS / 4.0
    }
}

fn settled(passes: &[Pass]) -> bool {
    passes
        .iter()
        .any(|p| passes::legible(p) >= LEGIBLE && passes::clearness(p) > WELL)
}

/// Reads the longest lines both ways round, those of the picture as it is and those of the
/// picture on its side.
fn by_lines(
    variant: &Variant,
    view: &View,
    lines: &[LineBox],
    recognisers: &[Box<dyn Recogniser>],
) -> Result<Turn> {
    let [none, half] = both_ways(view, lines, recognisers)?;
    let mut scores = vec![(Turn::None, none), (Turn::Half, half)];
    if none.max(half) < LEGIBLE {
        let side = passes::view(variant, Turn::Right);
        let lines = passes::line_boxes(&side);
        let [right, left] = both_ways(&side, &lines, recognisers)?;
        scores.extend([(Turn::Right, right), (Turn::Left, left)]);
    }
    Ok(best(&scores))
}

/// What the longest lines of a view give as they stand and on their heads: expected right letters.
fn both_ways(
    view: &View,
    lines: &[LineBox],
    recognisers: &[Box<dyn Recogniser>],
) -> Result<[f64; 2]> {
    let Some(recogniser) = recognisers.iter().find(|r| r.lines_only()) else {
        return Ok([0.0; 2]);
    };
    let read: Vec<[f64; 2]> = lines
        .par_iter()
        .take(TRIED)
        .map(|line| {
            let cut = cuts::cut(&view.picture, line);
            let score = |picture| -> Result<f64> {
                Ok(passes::legible(&Pass {
                    name: String::new(),
                    lines: recogniser.read(picture, Layout::Line)?,
                    weight: 1.0,
                    shown: None,
                }))
            };
            Ok([
                score(&cut.picture)?,
                score(&imageops::rotate180(&cut.picture))?,
            ])
        })
        .collect::<Result<_>>()?;
    Ok(read
        .iter()
        .fold([0.0; 2], |sum, r| [sum[0] + r[0], sum[1] + r[1]]))
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

/// Without a reader of lines: whole small pictures are read in each turn.
fn by_pages(
    first: &Variant,
    turn_is_set: bool,
    recognisers: &[Box<dyn Recogniser>],
) -> Result<(Turn, Vec<Pass>)> {
    let view = passes::view(first, Turn::None);
    let as_is = passes::pass(&view, &[Layout::Block], recognisers)?;
    if turn_is_set || settled(&as_is) {
        return Ok((Turn::None, as_is));
    }
    let (w, h) = view.picture.dimensions();
    let longest = f64::from(w.max(h).max(TURN_SIDE));
    let small = view.shrunk(f64::from(TURN_SIDE) / longest);
    let scores: Vec<(Turn, f64)> = Turn::ALL
        .par_iter()
        .map(|&turn| {
            let view = View {
                name: String::new(),
                picture: passes::rotated(&small.picture, turn),
                scale: small.scale,
            };
            let read = passes::pass(&view, &[Layout::Scattered], recognisers)?;
            Ok((turn, read.iter().map(passes::legible).fold(0.0, f64::max)))
        })
        .collect::<Result<_>>()?;
    match best(&scores) {
        Turn::None => Ok((Turn::None, as_is)),
        turn => Ok((
            turn,
            passes::pass(&passes::view(first, turn), &[Layout::Block], recognisers)?,
        )),
    }
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
