//! The rows of one cleaned picture of a mark, each read by every reader of lines.

use super::network::{self, Heard, Row};
use super::{Character, RawLine, Recognisers, cuts};
use crate::enhance::Variant;
use crate::error::Result;
use crate::geometry::{Rect, Turn};
use crate::marks::{self, LineBox};
use image::{GrayImage, imageops};
use rayon::prelude::*;

/// Most px of a picture that is read; a label of that size has letters enough.
const MOST_PIXELS: f64 = 3e6;

/// Most lines of a mark that are cut out and read.
const MOST_LINES: usize = 24;

/// Letters of fewer px than this on the mark as photographed can't be told apart by eye either:
/// such rows are rules, ornament or grain.
const LEAST_LETTER: f64 = 6.0;

/// Least margin that a mark is cut out with, px of the mark ([`marks::flatten`]).
const LEAST_MARGIN: f64 = 2.0;

/// A picture to read, with what one px of the turned mark is on it.
pub(super) struct View {
    pub name: String,
    pub picture: GrayImage,
    pub scale: f64,
}

/// A line as the readers that are part of the program read it.
pub(super) struct Read {
    /// What they made of it together, px of the turned mark.
    pub row: Row,
    /// Its characters by what was seen alone, where the wording had a say ([`RawLine::by_ink`]).
    pub by_ink: Option<Vec<Character>>,
    heard: Vec<Heard>,
    /// Weights of those that saw nothing.
    silent: Vec<f64>,
}

impl Read {
    /// The row voted with what the user's own readers read.
    pub fn with_own(mut self, own: Vec<Heard>) -> Row {
        if own.is_empty() {
            return self.row;
        }
        self.heard.extend(own);
        match network::row(&self.heard, &self.silent) {
            Some(all) => network::lean(all, &self.row),
            None => self.row,
        }
    }
}

impl View {
    /// A cleaned picture turned upright, made smaller if it has more than [`MOST_PIXELS`].
    pub fn of(variant: &Variant, turn: Turn) -> View {
        let view = View {
            picture: rotated(&variant.picture, turn),
            name: variant.name.clone(),
            scale: variant.scale,
        };
        let (w, h) = view.picture.dimensions();
        let by = (MOST_PIXELS / (f64::from(w) * f64::from(h))).sqrt();
        if by >= 1.0 {
            return view;
        }
        let side = |n: u32| ((f64::from(n) * by).round() as u32).max(1);
        View {
            picture: imageops::resize(
                &view.picture,
                side(w),
                side(h),
                imageops::FilterType::Triangle,
            ),
            scale: view.scale * by,
            ..view
        }
    }

    /// Its lines, the longest first, at most [`MOST_LINES`]; px of the view.
    pub fn lines(&self) -> Vec<LineBox> {
        let mut lines = marks::lines(&self.picture);
        let least = LEAST_LETTER * self.scale.max(1.0);
        lines.retain(|l| l.letter_height >= least);
        lines.sort_by_key(|l| std::cmp::Reverse(l.bounds.w));
        lines.truncate(MOST_LINES);
        lines
    }

    /// Share of a line's height that lies beyond the upper and lower edge of the mark: of a row that the edge cuts
    /// through, the letters that stand there can't be told.
    pub fn beyond(&self, line: &LineBox) -> f64 {
        let (w, h) = self.picture.dimensions();
        let shorter = f64::from(w.min(h)) / (1.0 + 2.0 * marks::MARGIN);
        let margin = (shorter * marks::MARGIN).max(LEAST_MARGIN * self.scale);
        let (from, to) = (margin, f64::from(h) - margin);
        let (low, high) = line.reach();
        let tall = (f64::from(line.bounds.h) - (high - low)).max(1.0);
        let places = [0.0, 0.25, 0.5, 0.75, 1.0];
        let beyond = places.map(|at| {
            let middle = line.middle(f64::from(line.bounds.x) + at * f64::from(line.bounds.w));
            let (top, foot) = (middle - tall / 2.0, middle + tall / 2.0);
            ((from - top).max(0.0) + (foot - to).max(0.0)).min(tall) / tall
        });
        beyond.iter().sum::<f64>() / places.len() as f64
    }

    /// A box of the view in px of the turned mark.
    pub fn on_mark(&self, place: Rect) -> Rect {
        places_scaled(place, self.scale)
    }

    /// Reads lines of the view, each cut out and level, by the readers that are part of the program; nothing where
    /// nobody read a letter.
    pub fn read(&self, lines: &[LineBox], recognisers: &Recognisers) -> Result<Vec<Option<Read>>> {
        let read = lines.par_iter().map(|line| {
            let (mut heard, mut silent) = (Vec::new(), Vec::new());
            let cut = cuts::cut(&self.picture, line);
            for reader in recognisers.readers.iter().filter(|r| !r.is_own()) {
                match reader.read(&cut.picture)? {
                    Some(read) => heard.push((scaled(cut.back(read), self.scale), reader.weight())),
                    None => silent.push(reader.weight()),
                }
            }
            let by_ink = heard.iter().find_map(|(line, _)| line.by_ink.clone());
            Ok(network::row(&heard, &silent).map(|row| Read {
                row,
                by_ink,
                heard,
                silent,
            }))
        });
        read.collect()
    }

    /// A line as the readers of the user's own read it. Their silence is no vote: they may have failed.
    pub fn read_own(&self, line: &LineBox, recognisers: &Recognisers) -> Result<Vec<Heard>> {
        let mut own = recognisers.readers.iter().filter(|r| r.is_own()).peekable();
        if own.peek().is_none() {
            return Ok(Vec::new());
        }
        let cut = cuts::cut(&self.picture, line);
        let read = own.map(|reader| {
            let read = reader.read(&cut.picture)?;
            Ok(read.map(|l| (scaled(cut.back(l), self.scale), reader.weight())))
        });
        let read: Vec<Option<Heard>> = read.collect::<Result<_>>()?;
        Ok(read.into_iter().flatten().collect())
    }
}

pub(super) fn rotated(picture: &GrayImage, turn: Turn) -> GrayImage {
    match turn {
        Turn::None => picture.clone(),
        Turn::Right => imageops::rotate90(picture),
        Turn::Half => imageops::rotate180(picture),
        Turn::Left => imageops::rotate270(picture),
    }
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
    for (_, at) in &mut line.faint {
        *at = less(*at);
    }
    line
}

/// Expected number of right letters in words of two or more, each word's weighted by their share:
/// single letters are often grain, and lettering on its head is read with little certainty.
pub(super) fn legible<'a>(lines: impl IntoIterator<Item = &'a [Character]>) -> f64 {
    lines
        .into_iter()
        .flat_map(|l| l.split(|c| c.text == " "))
        .filter(|word| word.len() >= 2)
        .map(|word| network::sureness(word).powi(2) / word.len() as f64)
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn beyond(top: i32, h: u32, slope: f64) -> f64 {
        let view = View {
            name: "flat".into(),
            picture: GrayImage::new(400, 104),
            scale: 1.0,
        };
        view.beyond(&LineBox {
            bounds: Rect::new(20, top, 300, h),
            slope,
            bend: 0.0,
            letter_height: f64::from(h),
        })
    }

    #[test]
    fn of_a_row_that_the_edge_cuts_through_the_share_beyond_it_is_told() {
        assert_eq!(beyond(40, 20, 0.0), 0.0);
        assert!((beyond(-8, 20, 0.0) - 0.5).abs() < 0.01);
        assert!((beyond(92, 20, 0.0) - 0.5).abs() < 0.01);
        // of a level row of the whole height but the margin nothing
        assert_eq!(beyond(2, 100, 0.0), 0.0);
    }

    proptest! {
        #[test]
        fn no_row_is_more_than_wholly_beyond_and_none_within_is_so_at_all(
            top in -60i32..160, h in 8u32..60, slope in -0.01f64..0.01,
        ) {
            let share = beyond(top, h, slope);
            prop_assert!((0.0..=1.0).contains(&share), "{share}");
            let within = top >= 3 && top + h as i32 <= 101;
            prop_assert!(!within || share < 1e-9, "{share}");
        }
    }
}
