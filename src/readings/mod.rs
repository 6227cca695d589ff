//! From flattened marks to lines of characters with chances.
//!
//! In: a mark's picture and its cleaned variants. Out: [`Reading`]. Knows nothing of lists, dates
//! or decisions.

use crate::error::Result;
use crate::geometry::{Quad, Rect, Turn};
use image::GrayImage;
use serde::{Deserialize, Serialize};

mod calibration;
mod cuts;
mod edges;
mod figures;
mod hands;
pub mod language;
pub mod learnt;
pub mod leiden;
pub mod line_model;
mod once;
pub mod own;
mod passes;
pub mod settings;
mod spacing;
#[cfg(feature = "tesseract")]
pub mod tesseract;
mod turns;
mod typed;
pub mod vote;
mod voted;
mod whole;
pub mod writing;

pub use edges::{covered, cut_off};
pub use once::once;
pub(crate) use once::{common_letters, letters};
pub use settings::LanguageSettings;
pub use typed::{TYPED_CLEAR, TYPED_UNCLEAR, from_typed};
pub use voted::OWN_SIZE;

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

/// Sign that stands for a stretch of unknown length among the alternatives of a lost position.
const STRETCH: &str = "…";

impl Character {
    /// A letter with its chance and no alternatives.
    pub fn sure(text: &str, confidence: f64) -> Self {
        Character {
            text: text.to_string(),
            confidence,
            alternatives: Vec::new(),
        }
    }

    /// One lost letter: no sign, no alternatives.
    pub fn lost() -> Self {
        Character::sure("", 0.0)
    }

    /// Lost letters of unknown number, none included: `[---]`.
    pub fn stretch() -> Self {
        Character {
            alternatives: vec![(STRETCH.to_string(), 1.0)],
            ..Character::lost()
        }
    }

    /// Whether letters are lost here, one or a stretch.
    pub fn is_lost(&self) -> bool {
        self.text.is_empty()
    }

    /// Whether it stands for lost letters of unknown number.
    pub fn is_stretch(&self) -> bool {
        self.text.is_empty() && self.alternatives.iter().any(|(s, _)| s == STRETCH)
    }
}

/// Mean of the chances of some characters; `None` of none.
fn mean_chance<'a>(some: impl IntoIterator<Item = &'a Character>) -> Option<f64> {
    let mut count = 0usize;
    let sum: f64 = some
        .into_iter()
        .inspect(|_| count += 1)
        .map(|c| c.confidence)
        .sum();
    (count > 0).then(|| sum / count as f64)
}

impl Line {
    /// A line from its positions; text, signs and confidence follow from them.
    ///
    /// The confidence follows from the weakest letter (fitted on lines of known text, see
    /// `calibration.rs`). A lost letter makes it 0.
    pub fn from_characters(characters: Vec<Character>, bounds: Rect, within: Rect) -> Self {
        let text: String = characters.iter().map(|c| c.text.as_str()).collect();
        let mut line = Line {
            confidence: calibration::of_line(&characters),
            characters,
            bounds,
            within,
            text: text.trim().to_string(),
            leiden: String::new(),
            writing: None,
        };
        line.leiden = leiden::print(&line);
        line
    }

    /// Whether the chances of its letters were measured on a picture; a typed line has no place on one.
    pub fn is_measured(&self) -> bool {
        self.bounds.w > 0
    }
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
    /// How it is written; nothing where a reader of lines didn't see it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub writing: Option<writing::Told>,
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
    /// Lines as the user's own reader read them by itself.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub own: Vec<OwnLine>,
    /// Lines read here too, but more surely in another mark that shares the lettering.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shared: Vec<SharedLine>,
}

/// A line whose lettering another mark of the photograph reads more surely.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SharedLine {
    /// As it was read here.
    pub line: Line,
    /// Label of the mark that holds the lettering, as of the same reading: `m3`.
    pub held_by: String,
}

/// A line as the user's own reader read it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OwnLine {
    /// What it printed.
    pub text: String,
    /// Where it stands on the flattened, turned mark, px.
    pub within: Rect,
}

/// A line as one recogniser saw it on one variant.
#[derive(Debug, Clone, PartialEq)]
pub struct RawLine {
    /// Positions with the recogniser's own chances.
    pub characters: Vec<Character>,
    /// px of the variant's picture.
    pub bounds: Rect,
    /// Left and right edge of each position, px of the variant's picture; empty if not known.
    pub spans: Vec<(i32, i32)>,
    /// Signs of which too little was seen to read them, with the middle of each, px of the variant's picture,
    /// from left to right: most likely nothing stands there (an empty text, with what may as alternatives).
    pub faint: Vec<(Character, i32)>,
    /// How it is written, where the recogniser tells that.
    pub writing: Option<writing::Chances>,
}

/// A reader of cleaned pictures: Tesseract, a line model, a program of the user's own.
pub trait Recogniser: Send + Sync {
    /// Short name, kept with each reading.
    fn name(&self) -> &str;

    /// Whether it reads single lines only ([`Layout::Line`]); it is then shown cut-out lines.
    fn lines_only(&self) -> bool {
        false
    }

    /// Whether it reads at all; one that doesn't only tempers the chances of the others.
    fn reads(&self) -> bool {
        true
    }

    /// Whether it is a program of the user's own: heard, but never trusted alone.
    fn is_own(&self) -> bool {
        false
    }

    /// Changes the chances of a line that was voted: by how signs follow each other, by the person's
    /// corrections. A position at which nothing stands after all is taken out. One of which too little was
    /// seen to read it has an empty text with a chance above 0, that of nothing standing there.
    fn temper(&self, _characters: &mut Vec<Character>) {}

    /// What went wrong with it last, told to the person once after reading.
    fn complaint(&self) -> Option<String> {
        None
    }

    /// How much its vote counts beside one pass of Tesseract; fitted on made photographs.
    fn weight(&self) -> f64 {
        1.0
    }

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

/// Every recogniser that can be run here: the project's own line model, Tesseract if the program was
/// built with it, and the language model.
///
/// # Errors
/// `Kind::Recogniser` if one that was built in can't be started: the data of Tesseract is missing.
pub fn recognisers() -> Result<Vec<Box<dyn Recogniser>>> {
    built_in(&LanguageSettings::default())
}

fn built_in(language: &LanguageSettings) -> Result<Vec<Box<dyn Recogniser>>> {
    let mut out: Vec<Box<dyn Recogniser>> = vec![
        #[cfg(feature = "tesseract")]
        Box::new(tesseract::Tesseract::new()?),
        Box::new(line_model::LineModel::load()?),
    ];
    if language.share > 0.0 {
        out.push(Box::new(language::Language::load(language)?));
    }
    Ok(out)
}

/// As [`recognisers`], by the person's settings, with the reader of their own if those name one, and with
/// what their corrections taught.
///
/// * `taught`: the file of what was learnt ([`learnt::beside`]), if a store is in use.
///
/// # Errors
/// As [`recognisers`]; also if the settings or that file can't be understood.
pub fn voices(taught: Option<&std::path::Path>) -> Result<Vec<Box<dyn Recogniser>>> {
    let set = settings::settings()?;
    let mut out = built_in(&set.language)?;
    let rows = taught.map_or(Ok(Vec::new()), learnt::rows)?;
    let holding = learnt::holding(&rows);
    let known = holding.and_then(|r| r.learnt.clone());
    if let Some(own) = set.own_reader {
        let weight = known.as_ref().and_then(|l| l.own_weight);
        out.push(Box::new(own::OwnReader::new(own, weight)?));
    }
    if let (Some(row), Some(learnt)) = (holding, known) {
        let name = format!("learnt {}", row.number);
        out.push(Box::new(learnt::Taught { learnt, name }));
    }
    Ok(out)
}

/// What is known of a mark, beside its picture, when it is read.
#[derive(Debug, Clone, Default)]
pub struct Known {
    /// What kind of mark it is, with the chance of that; it tells in part how its lines are written.
    pub kind: Option<(crate::marks::MarkKind, f64)>,
    /// A person said where reading begins: it is read as flattened.
    pub turn_is_set: bool,
    /// Name of the cleaned picture that a person chose: it is read first. A name that none of its
    /// pictures bears changes nothing.
    pub chosen: Option<String>,
    /// The cleaned pictures to vote on, best first; `None`: made of the flattened picture.
    pub variants: Option<Vec<crate::enhance::Variant>>,
    /// The steps that they are made by, where not all are taken ([`crate::enhance::Steps::READ`]).
    pub steps: Option<crate::enhance::Steps>,
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
    recognisers: &[Box<dyn Recogniser>],
) -> Result<(Reading, Quad)> {
    passes::read(flat, &Known::default(), recognisers)
}

/// As [`read`], with what is known of the mark.
///
/// # Errors
/// As there.
pub fn read_known(
    flat: &crate::marks::Flattened,
    known: &Known,
    recognisers: &[Box<dyn Recogniser>],
) -> Result<(Reading, Quad)> {
    passes::read(flat, known, recognisers)
}

/// A letter with less chance than this speaks for no reading: of those that are hardly legible a third is right
/// all the same.
const DOUBTFUL: f64 = 0.3;

/// Reads a mark, and once more from its other picture if there is one (see
/// [`crate::marks::without_ground`]); the reading in which more letters are likely to be right stays.
///
/// # Errors
/// As [`read`].
pub fn read_better(
    flat: &crate::marks::Flattened,
    other: Option<&crate::marks::Flattened>,
    known: &Known,
    recognisers: &[Box<dyn Recogniser>],
) -> Result<(Reading, Quad)> {
    let first = passes::read(flat, known, recognisers)?;
    Ok(match other {
        Some(other) => surer(first, passes::read(other, known, recognisers)?),
        None => first,
    })
}

/// Of two readings of one mark that in which more letters are likely to be right; the first if they
/// are alike.
pub fn surer(first: (Reading, Quad), second: (Reading, Quad)) -> (Reading, Quad) {
    let letters = |r: &Reading| -> f64 {
        let signs = r.lines.iter().flat_map(|l| &l.characters);
        signs.map(|c| (c.confidence - DOUBTFUL).max(0.0)).sum()
    };
    match letters(&second.0) > letters(&first.0) {
        true => second,
        false => first,
    }
}
