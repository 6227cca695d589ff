//! One note in three lengths, as plain blocks that every format can set: the file note with all
//! that is behind it, the entry of a catalogue, the text of a wall label.

use super::{Basis, Language, Manner, Note, Sentence, file, provenance};
use crate::marks::MarkKind;

/// How long a note is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Length {
    /// Everything, with who decided what and why.
    #[default]
    File,
    /// What a catalogue prints.
    Catalogue,
    /// A few lines beside the picture.
    Label,
}

impl Length {
    /// The length of that name.
    pub fn parse(name: &str) -> Option<Length> {
        match name {
            "file" => Some(Length::File),
            "catalogue" => Some(Length::Catalogue),
            "label" => Some(Length::Label),
            _ => None,
        }
    }
}

/// A piece to be set.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// Name of the whole.
    Title(String),
    /// Heading of a part.
    Heading(String),
    /// Heading within a part: one mark.
    Subheading(String),
    /// Running text.
    Paragraph(String),
    /// One of a list.
    Point(String),
    /// Lines as they stand on the object.
    Verse(Vec<String>),
    /// A table.
    Table {
        /// What it holds.
        caption: String,
        /// Heads of the columns.
        heads: Vec<&'static str>,
        /// Rows, as wide as the heads.
        rows: Vec<Vec<String>>,
    },
    /// A picture.
    Picture(Shown),
    /// What is folded away where that can be done.
    More {
        /// What one opens.
        summary: String,
        /// What is behind it.
        blocks: Vec<Block>,
    },
}

/// What a picture shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Shown {
    /// The mark of that number.
    Mark(String),
    /// The photographs of the back with the marks outlined.
    Backs,
    /// The dates of the parts as a chart.
    Chart,
}

impl Manner {
    /// Heading in a note.
    pub fn heading(self) -> &'static str {
        match self {
            Manner::Inscribed => "Inscribed",
            Manner::Bears => "Bears labels, stamps and stencils",
            Manner::According => "According to what stands on it",
            Manner::Attributed => "Attributed by us",
        }
    }
}

/// The note in that length.
pub fn blocks(note: &Note, length: Length) -> Vec<Block> {
    match length {
        Length::File => file::file(note),
        Length::Catalogue => catalogue(note),
        Length::Label => label(note),
    }
}

pub(super) fn points(out: &mut Vec<Block>, heading: &str, sentences: &[Sentence]) {
    if sentences.is_empty() {
        return;
    }
    if !heading.is_empty() {
        out.push(Block::Heading(heading.into()));
    }
    out.extend(sentences.iter().map(|s| Block::Point(s.words.clone())));
}

fn catalogue(note: &Note) -> Vec<Block> {
    let e = &note.entry;
    let w = e.language.wording();
    let heading = |key: &str| w.text(key).to_owned();
    let mut out = vec![Block::Title(note.picture.clone())];
    points(&mut out, &heading("heading.inscribed"), &e.inscribed);
    points(&mut out, &heading("heading.reverse"), &e.reverse);
    out.push(Block::Heading(heading("heading.provenance")));
    out.push(Block::Paragraph(e.provenance.clone()));
    points(&mut out, &heading("heading.exhibited"), &e.exhibited);
    points(&mut out, &heading("heading.dates"), &e.dates);
    // What a person wrote down stands in the language of the note for the file
    if e.language.is_english() {
        points(
            &mut out,
            &heading("heading.observed"),
            &note.evidence.observed,
        );
    }
    points(&mut out, &heading("heading.notes"), &e.notes);
    out.push(Block::Paragraph(heading("key")));
    out.push(Block::Heading(heading("heading.cautions")));
    out.extend(cautions(e.language).into_iter().map(Block::Point));
    out
}

/// The cautions in five lines; the note for the file has them in full.
pub fn cautions(language: Language) -> [String; 5] {
    let w = language.wording();
    [1, 2, 3, 4, 5].map(|n| w.text(&format!("caution.{n}")).to_owned())
}

fn label(note: &Note) -> Vec<Block> {
    let w = note.entry.language.wording();
    let mut out = vec![Block::Title(note.picture.clone())];
    let likely = |s: &&Sentence| match s.basis {
        Basis::Person(_) => true,
        Basis::Program(p) => p >= super::ENTRY_TABLE[1].0,
        Basis::Record => false,
    };
    let e = &note.entry;
    let said = |key: &str, s: &Sentence| w.plain(key, &[("said", &s.words)]);
    let shown = e.exhibited.iter().filter(likely).take(1);
    let shown = shown.map(|s| said("label.shown", s));
    // A quotation says least to those who pass by.
    let named = |s: &&Sentence| !s.words.contains(['“', '„', '«']);
    // Where it was shown is told already.
    let shows: Vec<String> = MarkKind::ALL
        .iter()
        .map(|k| provenance::capital(w.text(&format!("show.{}", k.as_str()))))
        .collect();
    let other = |s: &&Sentence| !shows.iter().any(|n| s.words.starts_with(n.as_str()));
    let borne = e.reverse.iter().filter(likely).filter(named);
    let borne = borne.filter(other).take(1);
    let borne = borne.map(|s| said("label.borne", s));
    let all: Vec<String> = shown.chain(borne).collect();
    out.push(Block::Paragraph(match all.is_empty() {
        true => w.text("label.none").into(),
        false => all.join(" "),
    }));
    out.push(Block::Paragraph(w.text("label.only").into()));
    out
}

/// What to look up or photograph next.
pub(super) fn questions(note: &Note) -> Vec<Block> {
    let mut out = Vec::new();
    if note.evidence.questions.is_empty() {
        return out;
    }
    out.push(Block::Heading("What to look up or photograph next".into()));
    out.extend(
        note.evidence
            .questions
            .iter()
            .take(MOST_QUESTIONS)
            .map(|q| Block::Point(format!("{} {}", q.ask, q.because))),
    );
    out
}

/// Open questions in a note at most.
pub const MOST_QUESTIONS: usize = 12;
