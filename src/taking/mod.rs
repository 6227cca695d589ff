//! What a photograph got of the marks that it shows, told while it can still be taken again: how sharp they are, how
//! light, how tall their smallest letters stand, what is burnt out or cut off, and what another photograph should bring.
//!
//! A photograph is never refused: what is said here is advice, each with the chance that it is right.

use crate::error::Result;
use crate::geometry::{Point, Quad};
use crate::marks::{self, LIKELY};
use image::RgbImage;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

mod first;
mod measures;
mod rule;
mod say;

pub use first::make_way;
pub use measures::Measures;
pub use rule::{ENOUGH, Fault, KEYS};
pub use say::{asking, place_words};

/// What is missing of a mark or of a whole photograph.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Want {
    /// Letters too small: the camera so many times nearer.
    Nearer(f64),
    /// Not sharp: held still, or focused on the mark.
    Steadier,
    /// Too dark for what there is to be read.
    Lighter,
    /// A lamp or a window is mirrored: light from another side.
    OtherLight,
    /// Cut off at this edge of the photograph.
    Whole(Edge),
}

/// An edge of the photograph.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Edge {
    /// The upper one.
    Top,
    /// The right one.
    Right,
    /// The lower one.
    Bottom,
    /// The left one.
    Left,
}

/// Something to be asked for, and how surely it is missing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Asked {
    /// What.
    pub want: Want,
    /// Chance that it is missing, 0 to 1.
    pub chance: f64,
}

/// A mark as the photograph got it.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Capture {
    /// Corners on the upright photograph, px.
    pub outline: Quad,
    /// What was measured.
    pub measures: Measures,
    /// What another photograph of it should bring; empty: nothing.
    pub asked: Vec<Asked>,
}

/// A photograph as it was got.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Got {
    /// Size, px.
    pub size: (u32, u32),
    /// Each patch that may bear lettering, the likeliest first.
    pub marks: Vec<Capture>,
    /// What the photograph as a whole is missing; empty: nothing.
    pub asked: Vec<Asked>,
}

/// Measures an upright photograph and says what another should bring.
///
/// Cost: finding the marks, and some 0.2 s for each million px of theirs on one core.
///
/// # Errors
/// `Kind::Recogniser` if this machine starts no more threads.
pub fn look(photograph: &RgbImage) -> Result<Got> {
    first::first(|| {
        let found = marks::find(photograph);
        let likely = found.into_iter().filter(|m| m.lettering >= LIKELY);
        let outlines: Vec<Quad> = likely.map(|m| m.outline).collect();
        look_at(photograph, &outlines)
    })
}

/// The same of marks whose outlines, px of the photograph, are known.
pub fn look_at(photograph: &RgbImage, outlines: &[Quad]) -> Got {
    let of_mark = |outline: &Quad| {
        let measures = measures::of_mark(photograph, outline);
        Capture {
            outline: *outline,
            asked: rule::of_mark(&measures),
            measures,
        }
    };
    let (mut marks, whole): (Vec<Capture>, Measures) = rayon::join(
        || outlines.par_iter().map(of_mark).collect(),
        || measures::of_whole(photograph),
    );
    rule::beside_the_point(&mut marks, photograph.dimensions());
    let asked = rule::of_whole(&whole, &marks);
    Got {
        size: photograph.dimensions(),
        marks,
        asked,
    }
}

/// Measures of a whole photograph, but for its lettering.
pub fn of_whole(photograph: &RgbImage) -> Measures {
    measures::of_whole(photograph)
}

impl Got {
    /// Whether another photograph is asked for at all.
    pub fn lacks(&self) -> bool {
        !self.asked.is_empty() || self.marks.iter().any(|m| !m.asked.is_empty())
    }

    /// Height of the smallest letters (of their x), px; `None` where no row of lettering shows.
    pub fn smallest(&self) -> Option<f64> {
        let heights = self.marks.iter().filter_map(|m| m.measures.x_height);
        heights.min_by(f64::total_cmp)
    }

    /// Where a mark lies: column and row of three each, from the upper left.
    pub fn third(&self, outline: &Quad) -> (usize, usize) {
        let Point { x, y } = outline.centre();
        let third = |v: f64, all: u32| ((3.0 * v / f64::from(all.max(1))) as usize).min(2);
        (third(x, self.size.0), third(y, self.size.1))
    }
}
