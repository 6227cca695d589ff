//! From decided and proposed readings to a provenance note.
//!
//! In: a picture's kept marks and the journal. Out: [`Note`], sentences each with what it rests
//! on; [`Markdown`] and [`Html`] turn it into files. What a person decided is told as theirs, what
//! the program proposes as a proposal with its chance in words and in figures ([`certainty`]).

use crate::decisions::DecisionId;

pub mod certainty;
mod clues;
mod compose;
mod crops;
mod dates;
mod docx;
mod entry;
mod evidence;
mod facts;
mod file;
mod fixed;
mod html;
mod lengths;
pub mod lines;
mod links;
mod markdown;
mod place;
mod plan;
pub mod provenance;
mod reasons;
mod summary;
pub mod told;
mod worded;
mod wording;

pub use compose::{Kept, heading, in_short};
pub use crops::{Crops, Cut, cut};
pub use docx::Docx;
pub use entry::{Entry, TABLE as ENTRY_TABLE, word as entry_word};
pub use fixed::{CAUTIONS, SIGNS};
pub use html::Html;
pub use lengths::{Block, Length, MOST_QUESTIONS, Shown, blocks, cautions, page};
pub use markdown::Markdown;
pub use place::place;
pub use plan::{pictures, printed};
pub use worded::{Page, Passage, Stands, Worded, reword};
pub use wording::Language;

/// What a sentence rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Basis {
    /// The program: the chance that the sentence, without its word of doubt, is right.
    Program(f64),
    /// A person's decision, and told as such.
    Person(DecisionId),
    /// What was recorded: a file, a date, a mark found, a general caution.
    Record,
}

/// One sentence of the note.
#[derive(Debug, Clone, PartialEq)]
pub struct Sentence {
    /// The words, with the full stop.
    pub words: String,
    /// What they rest on.
    pub basis: Basis,
}

/// One line of a mark as it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Transcribed {
    /// With Leiden signs.
    pub leiden: String,
    /// Chance that it is right as a whole; `None` where a person read it.
    pub chance: Option<f64>,
}

/// One thing that a mark states in its own words.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// What sort of thing: "catalogue number".
    pub what: String,
    /// The value.
    pub value: String,
    /// The chance that both are right, or who said so.
    pub basis: Basis,
}

/// One entry of a list that a mark may name.
#[derive(Debug, Clone, PartialEq)]
pub struct Rival {
    /// List.
    pub list: String,
    /// Name and key of the entry; "none of this list".
    pub entry: String,
    /// Chance.
    pub chance: f64,
    /// What speaks for it.
    pub because: String,
    /// Source of the entry.
    pub source: String,
}

/// Where a mark stands on its way to being settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// A person decided.
    Decided,
    /// The program proposes, nothing is in doubt.
    Proposed,
    /// In doubt.
    Open,
}

impl Standing {
    /// The word for it.
    pub fn as_str(self) -> &'static str {
        match self {
            Standing::Decided => "decided by a person",
            Standing::Proposed => "proposed by the program",
            Standing::Open => "open",
        }
    }
}

impl MarkNote {
    /// Its corners on a photograph (number in the store), if that shows it, px.
    pub(super) fn on_photograph(&self, id: i64) -> Option<&crate::geometry::Quad> {
        self.at.iter().find(|a| a.0 == id).map(|a| &a.1)
    }
}

/// What the note tells of one mark.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkNote {
    /// Short number: `1b`.
    pub id: String,
    /// Sort of mark, as a heading: "Printed label".
    pub heading: String,
    /// "upper left of back.jpg".
    pub place: String,
    /// The photographs (numbers in the store) that show it, with its corners on each, px.
    pub at: Vec<(i64, crate::geometry::Quad)>,
    /// Where it stands.
    pub standing: Standing,
    /// The part that bears it, by a person or as the photograph shows it; `None`: not told.
    pub on: Option<crate::decisions::Bearer>,
    /// The part by its name, and the chance of that where the photograph tells it.
    pub borne: Option<(String, Option<f64>)>,
    /// What it is and whose, in one sentence.
    pub is: Sentence,
    /// The showing that it tells of.
    pub shown: Option<Sentence>,
    /// What it states.
    pub states: Vec<Stated>,
    /// What it may name, list by list, the likeliest first.
    pub rivals: Vec<Rival>,
    /// Transcription as it stands, in force: the person's if there is one, else the program's.
    pub lines: Vec<Transcribed>,
    /// Who read the lines: a person's name, or `None` for the program.
    pub read_by: Option<String>,
    /// The program's own lines where a person's stand in `lines`.
    pub read_before: Vec<Transcribed>,
    /// The lines without signs of doubt, parted by strokes; empty where nothing was read.
    pub plain: String,
    /// What people decided.
    pub decided: Vec<Sentence>,
    /// What the program proposes.
    pub proposed: Vec<Sentence>,
    /// What the wording and the lists say of the mark's date.
    pub dates: Vec<Sentence>,
    /// What is open.
    pub open: Vec<Sentence>,
}

/// A photograph as the note names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotedPhotograph {
    /// Number in the store.
    pub id: i64,
    /// File name.
    pub name: String,
    /// Identity.
    pub sha256: String,
    /// px, upright.
    pub size: (u32, u32),
}

/// One entry of the journal as the note tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entered {
    /// `d12`.
    pub id: String,
    /// Mark.
    pub mark: String,
    /// Day in words.
    pub day: String,
    /// Who.
    pub by: String,
    /// What.
    pub what: String,
    /// Reason; may be empty.
    pub why: String,
    /// Whether it holds now.
    pub holds: bool,
}

/// How a thing is known; kept apart in every note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Manner {
    /// Written on the object itself.
    Inscribed,
    /// On a label, stamp or stencil that it bears.
    Bears,
    /// What a mark says, as a person understood it.
    According,
    /// What the program makes of it.
    Attributed,
}

impl Manner {
    /// In the order of a note.
    pub const ALL: [Manner; 4] = [
        Manner::Inscribed,
        Manner::Bears,
        Manner::According,
        Manner::Attributed,
    ];
}

/// What the note says of provenance.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Provenance {
    /// Statements by how they are known.
    pub manners: Vec<(Manner, Sentence)>,
    /// Links, earliest first, each with what it rests on.
    pub links: Vec<(provenance::Event, Basis)>,
    /// The links in one line.
    pub line: String,
    /// Texts that were handed in, taken apart.
    pub told: Vec<told::Told>,
    /// Notes to the line, from 1.
    pub notes: Vec<Sentence>,
}

/// What the note says of dates and of the object beside its lettering.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Evidence {
    /// What a person saw.
    pub observed: Vec<Sentence>,
    /// The dates of the parts without their reasons.
    pub brief: Vec<Sentence>,
    /// Dates part by part, each with its reasons, then what follows from them.
    pub parts: Vec<Sentence>,
    /// For each of these the part it speaks of; `None` where it speaks of several.
    pub of_parts: Vec<Option<crate::decisions::Bearer>>,
    /// What can't be true together.
    pub conflicts: Vec<Sentence>,
    /// All intervals, as SVG.
    pub chart: Option<String>,
    /// What to look up or photograph next, the most telling first.
    pub questions: Vec<crate::evidence::Question>,
}

/// A provenance note of one picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// Name of the picture.
    pub picture: String,
    /// When and from what it was written, how much is decided.
    pub lead: Vec<Sentence>,
    /// The whole in a few sentences.
    pub summary: Vec<Sentence>,
    /// One sentence a mark.
    pub short: Vec<Sentence>,
    /// Mark by mark.
    pub marks: Vec<MarkNote>,
    /// Provenance.
    pub provenance: Provenance,
    /// Dates of the parts, conflicts, observations, questions.
    pub evidence: Evidence,
    /// The entry of a catalogue.
    pub entry: Entry,
    /// What is not known.
    pub unknown: Vec<Sentence>,
    /// The photographs.
    pub photographs: Vec<NotedPhotograph>,
    /// The journal, undone entries included.
    pub journal: Vec<Entered>,
    /// Passages in a person's own words, those that hold.
    pub worded: Vec<Worded>,
}

impl Note {
    /// Every sentence that says something of this picture.
    pub fn sentences(&self) -> impl Iterator<Item = &Sentence> {
        let marks = self
            .marks
            .iter()
            .flat_map(|m| [&m.decided, &m.proposed, &m.dates, &m.open]);
        let is = self
            .marks
            .iter()
            .flat_map(|m| m.shown.iter().chain([&m.is]));
        let e = &self.evidence;
        [&self.lead, &self.summary, &self.short, &self.unknown]
            .into_iter()
            .chain([&e.observed, &e.parts, &e.conflicts])
            .chain([&self.provenance.notes])
            .chain(marks)
            .flatten()
            .chain(is)
            .chain(self.provenance.manners.iter().map(|m| &m.1))
    }
}

/// Turns a note into the text of a file; who writes it where is decided elsewhere.
pub trait Export {
    /// Usual ending of the file's name, without the dot.
    fn extension(&self) -> &'static str;
    /// The file's text.
    fn text(&self, note: &Note, crops: &Crops) -> String;
}
