//! From flattened marks to lines of characters with chances.
//!
//! In: a mark's picture and its cleaned variants. Out: [`Reading`]. Knows nothing of lists, dates
//! or decisions.

use crate::error::Result;
use crate::geometry::{Quad, Rect, Turn};
use image::GrayImage;
use serde::{Deserialize, Serialize};

mod calibration;
mod choice;
mod cuts;
mod edges;
mod figures;
mod hands;
mod heard;
pub mod language;
pub mod learnt;
pub mod leiden;
pub mod line_model;
mod mark;
pub mod network;
mod once;
mod order;
pub mod own;
pub mod settings;
mod spacing;
#[cfg(feature = "tesseract")]
pub mod tesseract;
mod turns;
mod typed;
mod whole;
pub mod writing;

pub use edges::{covered, cut_off};
pub use once::letters;
pub use once::{common_letters, once};
pub use settings::LanguageSettings;
pub use typed::{TYPED_CLEAR, TYPED_UNCLEAR, from_typed};

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

/// One line of a mark.
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
    /// Each reader with each cleaned picture that lines were read on (`line model/flat/line`), then each rescorer.
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
    /// The characters by what was seen alone, where what usually follows in writing had a say: which way up a mark
    /// is and what is text at all is told by these, since words are found in lettering on its head, too.
    pub by_ink: Option<Vec<Character>>,
}

/// A reader of single lines: the project's own network, Tesseract, a program of the user's own.
pub trait LineReader: Send + Sync {
    /// Short name, kept with each reading.
    fn name(&self) -> &str;

    /// Whether it is a program of the user's own: heard, but never trusted alone.
    fn is_own(&self) -> bool {
        false
    }

    /// What went wrong with it last, told to the person once after reading.
    fn complaint(&self) -> Option<String> {
        None
    }

    /// How much its vote counts beside the others', above 0.
    fn weight(&self) -> f64;

    /// Reads the picture of one line, dark lettering on light ground, upright; nothing where it sees no letter.
    ///
    /// # Errors
    /// `Kind::Recogniser` if it can't be run at all.
    fn read(&self, line: &GrayImage) -> Result<Option<RawLine>>;
}

/// What changes the chances of a line that was read: by how signs follow each other, by the person's corrections.
pub trait Rescorer: Send + Sync {
    /// Short name, kept with each reading.
    fn name(&self) -> &str;

    /// Rescores a line. A position at which nothing stands after all is taken out. One of which too little was seen
    /// to read it has an empty text with a chance above 0, that of nothing standing there.
    fn rescore(&self, characters: &mut Vec<Character>);

    /// Whether it has a say in a line that is written so; in any, if nothing else is said.
    fn is_asked(&self, _written: Option<&writing::Chances>) -> bool {
        true
    }
}

/// All that reads, and all that rescores afterwards, in order.
#[derive(Default)]
pub struct Recognisers {
    /// Each has a vote on each line.
    pub readers: Vec<Box<dyn LineReader>>,
    /// Asked one after the other.
    pub rescorers: Vec<Box<dyn Rescorer>>,
}

/// Every recogniser that can be run here: the project's own line model, Tesseract if the program was
/// built with it, and the language model.
///
/// # Errors
/// `Kind::Recogniser` if one that was built in can't be started: the data of Tesseract is missing.
pub fn recognisers() -> Result<Recognisers> {
    built_in(&LanguageSettings::default())
}

fn built_in(language: &LanguageSettings) -> Result<Recognisers> {
    let mut out = Recognisers::default();
    out.readers.push(Box::new(line_model::LineModel::load()?));
    #[cfg(feature = "tesseract")]
    out.readers.push(Box::new(tesseract::Tesseract::new()?));
    if language.share > 0.0 {
        let model = language::Language::load(language)?;
        out.rescorers.push(Box::new(model));
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
pub fn voices(taught: Option<&std::path::Path>) -> Result<Recognisers> {
    let set = settings::settings()?;
    let mut out = built_in(&set.language)?;
    let holding = taught.map_or(Ok(None), learnt::held)?;
    let known = holding.as_ref().and_then(|r| r.learnt.clone());
    if let Some(own) = set.own_reader {
        let weight = known.as_ref().and_then(|l| l.own_weight);
        let own = own::OwnReader::new(own, weight)?;
        out.readers.push(Box::new(own));
    }
    if let (Some(row), Some(learnt)) = (holding, known) {
        let name = format!("learnt {}", row.number);
        out.rescorers
            .push(Box::new(learnt::Taught { learnt, name }));
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
pub fn read(flat: &crate::marks::Flattened, recognisers: &Recognisers) -> Result<(Reading, Quad)> {
    mark::read(flat, &Known::default(), recognisers)
}

/// As [`read`], with what is known of the mark.
///
/// # Errors
/// As there.
pub fn read_known(
    flat: &crate::marks::Flattened,
    known: &Known,
    recognisers: &Recognisers,
) -> Result<(Reading, Quad)> {
    mark::read(flat, known, recognisers)
}

/// A row of a mark as it was read on one of its cleaned pictures.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardRow {
    /// What it says.
    pub text: String,
    /// Mean chance of its letters.
    pub mean: f64,
    /// Number of the picture, the first being 0.
    pub picture: usize,
    /// Share of its height beyond the upper and lower edge of the mark.
    pub beyond: f64,
    /// Where it stands, px of the turned mark.
    pub bounds: Rect,
}

/// Every row of a mark as it was read on each of its cleaned pictures: what `training/fit_choice.py` fits on.
///
/// # Errors
/// As [`read`].
pub fn rows(flat: &crate::marks::Flattened, recognisers: &Recognisers) -> Result<Vec<HeardRow>> {
    mark::rows(flat, recognisers)
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
    recognisers: &Recognisers,
) -> Result<(Reading, Quad)> {
    let first = mark::read(flat, known, recognisers)?;
    Ok(match other {
        Some(other) => surer(first, mark::read(other, known, recognisers)?),
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
