//! Several passes over the cleaned pictures of one mark, and the mark's turn.
//!
//! In: a flattened mark. Out: its reading, voted from the passes. More passes are added only
//! while the vote is unsure.

use super::vote::{self, Pass, Row};
use super::{Character, Layout, Line, RawLine, Reading, Recogniser, calibration};
use crate::enhance::{self, Variant};
use crate::error::Result;
use crate::geometry::{Point, Quad, Rect, Turn};
use crate::marks::Flattened;
use image::{GrayImage, imageops};
use rayon::prelude::*;

/// Expected number of right letters from which a reading settles the mark's turn by itself.
const LEGIBLE: f64 = 8.0;

/// Passes of which none reaches this expected number of right letters aren't followed by more:
/// there is nothing to read, or nothing that can be.
const HOPE: f64 = 0.3;

/// A reading with this mean chance a letter needs no further passes.
const SURE: f64 = 0.75;

/// Longest side of the picture that turns are tried on, px.
const TURN_SIDE: u32 = 900;

/// A picture to read, with what one px of the turned mark is on it.
struct View {
    name: String,
    picture: GrayImage,
    scale: f64,
}

/// Reads one mark: finds its turn, reads, votes.
pub(super) fn read(
    flat: &Flattened,
    recognisers: &[Box<dyn Recogniser>],
) -> Result<(Reading, Quad)> {
    if flat.picture.width() < 4 || flat.picture.height() < 4 || recognisers.is_empty() {
        return Ok((Reading::default(), flat.outline));
    }
    let variants = enhance::variants(&flat.picture);
    let (turn, mut passes) = upright(&variants, recognisers)?;
    let mut voted = vote::vote(&passes);
    for (v, variant) in variants.iter().enumerate().skip(1) {
        if is_sure(&voted) || passes.iter().all(|p| legible(p) < HOPE) {
            break;
        }
        let view = view(variant, turn);
        let layout = if v % 2 == 1 {
            Layout::Block
        } else {
            Layout::Scattered
        };
        passes.extend(pass(&view, &[layout], recognisers)?);
        voted = vote::vote(&passes);
    }
    let mut reading = Reading {
        lines: Vec::new(),
        turn,
        voters: passes.iter().map(|p| p.name.clone()).collect(),
    };
    for row in &voted {
        reading.lines.extend(line(row, flat, turn));
    }
    Ok((reading, flat.outline.turned(turn)))
}

fn view(variant: &Variant, turn: Turn) -> View {
    View {
        name: variant.name.clone(),
        picture: rotated(&variant.picture, turn),
        scale: variant.scale,
    }
}

fn rotated(picture: &GrayImage, turn: Turn) -> GrayImage {
    match turn {
        Turn::None => picture.clone(),
        Turn::Right => imageops::rotate90(picture),
        Turn::Half => imageops::rotate180(picture),
        Turn::Left => imageops::rotate270(picture),
    }
}

/// Reads one picture in each layout with each recogniser, side by side. Bounds come back in px
/// of the turned mark.
fn pass(view: &View, layouts: &[Layout], recognisers: &[Box<dyn Recogniser>]) -> Result<Vec<Pass>> {
    let all: Vec<(&Box<dyn Recogniser>, Layout)> = recognisers
        .iter()
        .flat_map(|r| layouts.iter().map(move |&l| (r, l)))
        .collect();
    all.into_par_iter()
        .map(|(recogniser, layout)| {
            let lines = recogniser.read(&view.picture, layout)?;
            let layout = match layout {
                Layout::Block => "block",
                Layout::Scattered => "scattered",
                Layout::Line => "line",
            };
            Ok(Pass {
                name: format!("{}/{}/{layout}", recogniser.name(), view.name),
                lines: lines.into_iter().map(|l| scaled(l, view.scale)).collect(),
                weight: 1.0,
            })
        })
        .collect()
}

/// A line's places divided by the picture's scale.
fn scaled(mut line: RawLine, scale: f64) -> RawLine {
    let less = |v: i32| (f64::from(v) / scale).round() as i32;
    let b = line.bounds;
    let (x, y) = (less(b.x), less(b.y));
    line.bounds = Rect::new(
        x,
        y,
        (less(b.right()) - x).max(1) as u32,
        (less(b.bottom()) - y).max(1) as u32,
    );
    for span in &mut line.spans {
        *span = (less(span.0), less(span.1));
    }
    line
}

/// The turn that makes the mark legible, with the first passes in that turn.
///
/// As photographed is right most often, so the others are tried only where it doesn't read well
/// by itself, on a small picture; they must read clearly better to win.
fn upright(variants: &[Variant], recognisers: &[Box<dyn Recogniser>]) -> Result<(Turn, Vec<Pass>)> {
    let layouts = [Layout::Block, Layout::Scattered];
    let as_is = pass(&view(&variants[0], Turn::None), &layouts, recognisers)?;
    let legible = as_is.iter().map(legible).fold(0.0, f64::max);
    if legible >= LEGIBLE && as_is.iter().any(reads_well) {
        return Ok((Turn::None, as_is));
    }
    let small = smaller(&variants[0]);
    let try_turns = |turns: &[Turn]| -> Result<Vec<(Turn, f64)>> {
        turns
            .par_iter()
            .map(|&turn| {
                let view = View {
                    name: String::new(),
                    picture: rotated(&small.picture, turn),
                    scale: small.scale,
                };
                let read = pass(&view, &[Layout::Scattered], &recognisers[..1])?;
                Ok((turn, read.iter().map(self::legible).fold(0.0, f64::max)))
            })
            .collect()
    };
    let mut scores = try_turns(&[Turn::None, Turn::Half])?;
    if scores.iter().all(|s| s.1 < LEGIBLE) {
        scores.extend(try_turns(&[Turn::Right, Turn::Left])?);
    }
    let none = scores
        .iter()
        .find(|s| s.0 == Turn::None)
        .map_or(0.0, |s| s.1);
    let best = scores.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1));
    match best {
        Some((turn, score)) if turn != Turn::None && score > none * 1.15 + 0.8 => Ok((
            turn,
            pass(&view(&variants[0], turn), &layouts, recognisers)?,
        )),
        _ => Ok((Turn::None, as_is)),
    }
}

fn smaller(variant: &Variant) -> Variant {
    let (w, h) = variant.picture.dimensions();
    let longest = w.max(h);
    if longest <= TURN_SIDE {
        return variant.clone();
    }
    let by = f64::from(TURN_SIDE) / f64::from(longest);
    let side = |n: u32| ((f64::from(n) * by).round() as u32).max(1);
    Variant {
        picture: imageops::resize(
            &variant.picture,
            side(w),
            side(h),
            imageops::FilterType::Triangle,
        ),
        scale: variant.scale * by,
        ..variant.clone()
    }
}

/// Expected number of right letters in words of two or more, each word's weighted by their share:
/// single letters are often grain, and lettering on its head is read with little certainty.
fn legible(pass: &Pass) -> f64 {
    pass.lines
        .iter()
        .flat_map(|l| l.characters.split(|c| c.text == " "))
        .filter(|word| word.len() >= 2)
        .map(|word| vote::sureness(word).powi(2) / word.len() as f64)
        .sum()
}

/// Whether most of what a pass read it is sure of: upside-down print is read too, but unsurely.
fn reads_well(pass: &Pass) -> bool {
    let letters: Vec<&Character> = pass
        .lines
        .iter()
        .flat_map(|l| &l.characters)
        .filter(|c| c.text != " ")
        .collect();
    let sum: f64 = letters.iter().map(|c| c.confidence).sum();
    sum > 0.78 * letters.len() as f64
}

/// Whether the vote needs no more passes: every row that will be kept is read alike by most.
fn is_sure(rows: &[Row]) -> bool {
    let mut sum = 0.0;
    let mut count = 0usize;
    for slot in rows.iter().flat_map(|r| &r.slots) {
        sum += slot.shares.first().map_or(0.0, |s| s.1);
        count += 1;
    }
    count > 0 && sum / count as f64 >= SURE
}

/// A row as a line with calibrated chances; nothing where it isn't text.
fn line(row: &Row, flat: &Flattened, turn: Turn) -> Option<Line> {
    let characters = calibration::characters(row)?;
    let bounds = on_photograph(flat, turn, &row.bounds);
    Some(Line::from_characters(characters, bounds, row.bounds))
}

/// The upright box on the photograph around a box on the turned mark.
fn on_photograph(flat: &Flattened, turn: Turn, within: &Rect) -> Rect {
    let (w, h) = (
        f64::from(flat.picture.width()),
        f64::from(flat.picture.height()),
    );
    Quad(
        within
            .quad()
            .0
            .map(|p| flat.to_photograph(unturned(p, turn, w, h))),
    )
    .bounds()
}

/// The place on the flattened mark (`w` × `h`) of a place on it turned.
fn unturned(p: Point, turn: Turn, w: f64, h: f64) -> Point {
    match turn {
        Turn::None => p,
        Turn::Right => Point::new(p.y, h - p.x),
        Turn::Half => Point::new(w - p.x, h - p.y),
        Turn::Left => Point::new(w - p.y, p.x),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_on_a_turned_mark_leads_back_to_the_same_pixel() {
        let mut picture = GrayImage::new(7, 4);
        picture.put_pixel(5, 1, image::Luma([255]));
        for turn in Turn::ALL {
            let turned = rotated(&picture, turn);
            let (x, y, _) = turned.enumerate_pixels().find(|p| p.2.0[0] == 255).unwrap();
            let middle = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
            assert_eq!(
                unturned(middle, turn, 7.0, 4.0),
                Point::new(5.5, 1.5),
                "{turn:?}"
            );
        }
    }
}
