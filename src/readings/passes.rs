//! Several passes over the cleaned pictures of one mark, and the mark's turn.
//!
//! In: a flattened mark. Out: its reading, voted from the passes. More passes are added only
//! while the vote is unsure.

use super::cuts::{self, Cut};
use super::vote::{self, Pass, Row};
use super::{Character, Layout, Line, RawLine, Reading, Recogniser, calibration};
use crate::enhance::{self, Variant};
use crate::error::Result;
use crate::geometry::{Point, Quad, Rect, Turn};
use crate::marks::{self, Flattened};
use image::{GrayImage, imageops};
use rayon::prelude::*;

/// Expected number of right letters from which a reading settles the mark's turn by itself.
const LEGIBLE: f64 = 8.0;

/// Passes of which none reaches this expected number of right letters aren't followed by more:
/// there is nothing to read, or nothing that can be.
const HOPE: f64 = 0.3;

/// A reading with this mean chance a letter needs no further passes.
const SURE: f64 = 0.75;

/// A pass with this mean chance a letter saw lettering and not only grain.
const CLEAR: f64 = 0.4;

/// The passes after the first two, in order, for as long as the vote is unsure.
const FURTHER: [(&str, Layout); 3] = [
    ("grey", Layout::Block),
    ("threshold", Layout::Scattered),
    ("local-contrast", Layout::Block),
];

/// Most px of a picture that is read at once; a label of that size has letters enough.
const MOST_PIXELS: f64 = 3e6;

/// Longest side of the picture that turns are tried on, px.
const TURN_SIDE: u32 = 900;

/// Most lines of a mark that are cut out and read one by one.
const MOST_LINES: usize = 24;

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
    let hope = passes.iter().map(legible).fold(0.0, f64::max) >= HOPE;
    let clear = passes.iter().map(clearness).fold(0.0, f64::max) >= CLEAR;
    let cut = cut_lines(&view(&variants[0], turn), &voted, clear, recognisers)?;
    if !cut.is_empty() {
        passes.extend(cut);
        voted = vote::vote(&passes);
    }
    for (name, layout) in FURTHER {
        if is_sure(&voted) || !hope {
            break;
        }
        // Strong local contrast turns grain into thousands of signs that take minutes to read.
        if name == "local-contrast" && !clear {
            continue;
        }
        let Some(variant) = variants[1..].iter().find(|v| v.name == name) else {
            continue;
        };
        passes.extend(pass(&view(variant, turn), &[layout], recognisers)?);
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
    let (w, h) = variant.picture.dimensions();
    let by = (MOST_PIXELS / (f64::from(w) * f64::from(h))).sqrt();
    let fit = if by < 1.0 {
        shrunk(variant, by)
    } else {
        variant.clone()
    };
    View {
        picture: rotated(&fit.picture, turn),
        name: fit.name,
        scale: fit.scale,
    }
}

fn shrunk(variant: &Variant, by: f64) -> Variant {
    let side = |n: u32| ((f64::from(n) * by).round() as u32).max(1);
    let (w, h) = variant.picture.dimensions();
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
        .filter(|r| !r.lines_only())
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
                partial: false,
            })
        })
        .collect()
}

/// Reads the lines of a picture one by one, each cut out, level and at its best size: all of them
/// with recognisers of single lines, with the others those that the vote so far left unsure or
/// didn't see.
/// Only long lines count, the longest first, and without `clear` lettering none.
fn cut_lines(
    view: &View,
    voted: &[Row],
    clear: bool,
    recognisers: &[Box<dyn Recogniser>],
) -> Result<Vec<Pass>> {
    if !clear && !recognisers.iter().any(|r| r.lines_only()) {
        return Ok(Vec::new());
    }
    let mut lines = marks::lines(&view.picture);
    lines.retain(|l| f64::from(l.bounds.w) > 2.0 * l.letter_height);
    lines.sort_by_key(|l| std::cmp::Reverse(l.bounds.w));
    lines.truncate(MOST_LINES);
    let open: Vec<bool> = lines
        .iter()
        .map(|l| {
            let b = places_scaled(l.bounds, view.scale);
            !voted
                .iter()
                .any(|r| row_share(r) >= SURE && covers(&r.bounds, &b))
        })
        .collect();
    let cuts: Vec<Cut> = lines.iter().map(|l| cuts::cut(&view.picture, l)).collect();
    let mut out = Vec::new();
    for recogniser in recognisers {
        let every = recogniser.lines_only();
        let read: Vec<Vec<RawLine>> = cuts
            .par_iter()
            .zip(&open)
            .filter(|(_, open)| every || (clear && **open))
            .map(|(cut, _)| {
                let read = recogniser.read(&cut.picture, Layout::Line)?;
                Ok(read
                    .into_iter()
                    .map(|l| scaled(cut.back(l), view.scale))
                    .collect())
            })
            .collect::<Result<_>>()?;
        let lines: Vec<RawLine> = read.into_iter().flatten().collect();
        if !lines.is_empty() {
            out.push(Pass {
                name: format!("{}/{}/line", recogniser.name(), view.name),
                lines,
                weight: 1.0,
                partial: true,
            });
        }
    }
    Ok(out)
}

/// Whether a row lies on most of a line.
fn covers(row: &Rect, line: &Rect) -> bool {
    row.intersect(line).is_some_and(|i| {
        f64::from(i.w) > 0.7 * f64::from(line.w)
            && f64::from(i.h) > 0.5 * f64::from(line.h.min(row.h))
    })
}

fn row_share(row: &Row) -> f64 {
    let sum: f64 = row
        .slots
        .iter()
        .filter_map(|s| s.shares.first())
        .map(|s| s.1)
        .sum();
    sum / row.slots.len().max(1) as f64
}

fn places_scaled(b: Rect, scale: f64) -> Rect {
    let less = |v: i32| (f64::from(v) / scale).round() as i32;
    let (x, y) = (less(b.x), less(b.y));
    let side = |from: i32, to: i32| (less(to) - from).max(1) as u32;
    Rect::new(x, y, side(x, b.right()), side(y, b.bottom()))
}

/// A line's places divided by the picture's scale.
fn scaled(mut line: RawLine, scale: f64) -> RawLine {
    let less = |v: i32| (f64::from(v) / scale).round() as i32;
    line.bounds = places_scaled(line.bounds, scale);
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
    shrunk(variant, f64::from(TURN_SIDE) / f64::from(longest))
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
    clearness(pass) > 0.78
}

/// Mean chance of the letters that a pass read.
fn clearness(pass: &Pass) -> f64 {
    let letters: Vec<&Character> = pass
        .lines
        .iter()
        .flat_map(|l| &l.characters)
        .filter(|c| c.text != " ")
        .collect();
    let sum: f64 = letters.iter().map(|c| c.confidence).sum();
    sum / letters.len().max(1) as f64
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
