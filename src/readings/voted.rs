//! The vote over one cleaned picture of a mark, and the choice among such pictures.
//!
//! In: pictures of a mark with what was read on them. Out: the one that reads most clearly.

use super::passes::{HOPE, View, covers, legible, line_boxes, lines_of, missed_rows, pass, view};
use super::vote::{self, Pass, Row};
use super::{Character, Known, Layout, RawLine, Recogniser, calibration, mean_chance};
use crate::enhance::{self, Steps, Variant};
use crate::error::Result;
use crate::geometry::Turn;
use image::RgbImage;

/// A vote whose kept letters have this mean chance needs no further passes.
const SURE: f64 = 0.9;

/// A vote whose letters have this mean chance, as it is stated, is read from no other cleaned picture.
const CLEAR: f64 = 0.97;

/// Mean chance of the letters that only another cleaned picture shows: less is grain.
const AT_ALL: f64 = 0.85;

/// Share of the letters of a reading that a clearer one must keep to take its place.
const LEAST_LEFT: f64 = 0.5;

/// The passes after the first, in order, for as long as the vote is unsure.
const FURTHER: [(&str, Layout); 2] = [("flat", Layout::Scattered), ("grey", Layout::Block)];

/// Stands behind the name of a cleaned picture whose letters are as large as they were photographed.
pub const OWN_SIZE: &str = "-own-size";

/// One cleaned picture with what was read on it.
pub(super) struct Voted {
    pub view: View,
    pub passes: Vec<Pass>,
    pub rows: Vec<Row>,
}

impl Voted {
    /// Votes passes over a picture, with the lines that only its whole pages showed read one by one.
    pub fn of(
        view: View,
        mut passes: Vec<Pass>,
        recognisers: &[Box<dyn Recogniser>],
    ) -> Result<Self> {
        let mut rows = vote::vote(&passes);
        let missed = missed_rows(&view, &rows, &passes);
        let more = lines_of(&view, &missed, recognisers)?;
        if !more.is_empty() {
            add_lines(&mut passes, more);
            rows = vote::vote(&passes);
        }
        Ok(Voted { view, passes, rows })
    }

    /// More passes over whole pages, for as long as the vote is unsure.
    pub fn sharpen(
        &mut self,
        variants: &[Variant],
        turn: Turn,
        recognisers: &[Box<dyn Recogniser>],
    ) -> Result<()> {
        let hope = hopeful(&self.passes, &self.rows);
        for (name, layout) in FURTHER {
            if is_sure(&self.rows) || !hope {
                break;
            }
            let Some(variant) = variants.iter().find(|v| v.name == name) else {
                continue;
            };
            let more = pass(&view(variant, turn), &[layout], recognisers)?;
            self.passes.extend(more);
            self.rows = vote::vote(&self.passes);
        }
        Ok(())
    }

    /// How clearly it is read, by the chances as they will be stated.
    fn clearness(&self) -> Clearness {
        let text = self.rows.iter().filter_map(calibration::characters);
        let mut kept: Vec<Vec<Character>> = text.collect();
        kept.iter_mut().for_each(|line| calibration::believed(line));
        Clearness::of(kept.iter().flatten())
    }

    /// Itself if it is clear, else the clearer of itself and what is read on another picture.
    pub fn or_clearer(self, other: View, recognisers: &[Box<dyn Recogniser>]) -> Result<Self> {
        let own = self.clearness();
        if own.mean >= CLEAR {
            return Ok(self);
        }
        let mut passes = pass(&other, &[Layout::Block], recognisers)?;
        passes.extend(lines_of(&other, &line_boxes(&other), recognisers)?);
        let other = Voted::of(other, passes, recognisers)?;
        Ok(match other.clearness().beats(&own) {
            true => other,
            false => self,
        })
    }
}

/// How clearly a mark is read.
struct Clearness {
    /// Mean chance of its letters; 0 where it has none.
    mean: f64,
    /// Their expected number right.
    letters: f64,
}

impl Clearness {
    fn of<'a>(signs: impl Iterator<Item = &'a Character>) -> Self {
        let letters = signs.filter(|c| c.text != " ");
        let (sum, count) = letters.fold((0.0, 0), |(s, n), c| (s + c.confidence, n + 1));
        Clearness {
            mean: sum / f64::from(count.max(1)),
            letters: sum,
        }
    }

    /// Whether it is read more clearly than another, and not by leaving out most of it. The mean is
    /// the measure, not the sum: what is invented adds up.
    fn beats(&self, other: &Clearness) -> bool {
        let least = if other.letters > 0.0 {
            other.mean
        } else {
            AT_ALL
        };
        self.mean > least && self.letters >= LEAST_LEFT * other.letters
    }
}

/// The picture that a vote is of, its letters as large as they were photographed; nothing where they are.
pub(super) fn own_size(best: &Voted, picture: &RgbImage, known: &Known) -> Option<Variant> {
    let steps = known.steps.unwrap_or(Steps::READ);
    let is_large = best.view.scale == 1.0;
    if is_large || known.variants.is_some() || !steps.choice || best.clearness().mean >= CLEAR {
        return None;
    }
    let own = Steps {
        size: false,
        ..steps
    };
    let mut all = enhance::variants_by(picture, &own).into_iter();
    let mut own = all.find(|v| v.name == best.view.name)?;
    own.name += OWN_SIZE;
    Some(own)
}

/// Whether further passes may bring something: a row is text already, or letters were seen by the
/// reader of lines (by any, where there is none: on grain the others always see some).
fn hopeful(passes: &[Pass], voted: &[Row]) -> bool {
    let of_lines = passes.iter().any(Pass::is_of_lines);
    let seen = passes.iter().filter(|p| p.is_of_lines() == of_lines);
    seen.map(legible).fold(0.0, f64::max) >= HOPE || voted.iter().any(is_text)
}

/// Whether a row will be kept.
pub(super) fn is_text(row: &Row) -> bool {
    calibration::characters(row).is_some()
}

/// Whether the vote needs no more passes: what will be kept of it has a high mean chance.
fn is_sure(rows: &[Row]) -> bool {
    let kept: Vec<Character> = rows
        .iter()
        .filter_map(calibration::characters)
        .flatten()
        .collect();
    mean_chance(kept.iter().filter(|c| c.text != " ")).is_some_and(|m| m >= SURE)
}

/// Adds lines read later to the pass of the same name; where they lie on known ones, the surer
/// stay.
fn add_lines(passes: &mut Vec<Pass>, more: Vec<Pass>) {
    for pass in more {
        let Some(known) = passes.iter_mut().find(|p| p.name == pass.name) else {
            passes.push(pass);
            continue;
        };
        for line in pass.lines {
            let under = |l: &RawLine| covers(&line.bounds, &l.bounds);
            let already: f64 = known
                .lines
                .iter()
                .filter(|l| under(l))
                .map(|l| vote::sureness(&l.characters))
                .sum();
            if vote::sureness(&line.characters) > already {
                known.lines.retain(|l| !under(l));
                known.lines.push(line);
            }
        }
        if let (Some(known), Some(more)) = (&mut known.shown, pass.shown) {
            known.extend(more);
        }
    }
}
