//! One note in three lengths, as plain blocks that every format can set: the file note with all
//! that is behind it, the entry of a catalogue, the text of a wall label.

use super::{Basis, Language, Manner, Note, Page, Sentence, file, provenance, reasons};
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
    /// Every length.
    pub const ALL: [Length; 3] = [Length::Label, Length::Catalogue, Length::File];

    /// Name on the command line and in addresses.
    pub fn as_str(self) -> &'static str {
        match self {
            Length::File => "file",
            Length::Catalogue => "catalogue",
            Length::Label => "label",
        }
    }

    /// The length of that name.
    pub fn parse(name: &str) -> Option<Length> {
        Length::ALL.into_iter().find(|l| l.as_str() == name)
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

/// The note in that length, as it is set.
pub fn blocks(note: &Note, length: Length) -> Vec<Block> {
    page(note, length).blocks
}

/// The note in that length with its passages, a person's wordings in their places.
pub fn page(note: &Note, length: Length) -> Page {
    match length {
        Length::File => file::file(note),
        Length::Catalogue => catalogue(note),
        Length::Label => label(note),
    }
}

/// A part of the note: a heading and its points, each of which a person may put otherwise.
///
/// * `about`: the mark or the part of the object that a sentence speaks of.
pub(super) fn points<'a>(
    out: &mut Page,
    (section, heading): (&str, &str),
    sentences: &'a [Sentence],
    about: impl Fn(&'a Sentence) -> Option<&'a str>,
) {
    if !sentences.is_empty() {
        out.push(Block::Heading(heading.into()));
    }
    for s in sentences {
        out.passage(section, about(s), Block::Point(s.words.clone()));
    }
}

fn catalogue(note: &Note) -> Page {
    let e = &note.entry;
    let w = e.language.wording();
    let mut out = Page::default();
    out.push(Block::Title(note.picture.clone()));
    let part = |out: &mut Page, section: &str, all: &'_ [Sentence]| {
        let heading = format!("heading.{section}");
        points(out, (section, w.text(&heading)), all, |s| e.about(&s.words));
    };
    part(&mut out, "inscribed", &e.inscribed);
    part(&mut out, "reverse", &e.reverse);
    out.push(Block::Heading(w.text("heading.provenance").into()));
    let line = Block::Paragraph(e.provenance.clone());
    out.passage("provenance", Some("line"), line);
    part(&mut out, "exhibited", &e.exhibited);
    part(&mut out, "dates", &e.dates);
    // What a person wrote down stands in the language of the note for the file
    if e.language.is_english() {
        part(&mut out, "observed", &note.evidence.observed);
    }
    part(&mut out, "notes", &e.notes);
    out.reword(note, Length::Catalogue);
    out.push(Block::Paragraph(w.text("key").into()));
    out.push(Block::Heading(w.text("heading.cautions").into()));
    out.blocks
        .extend(cautions(e.language).into_iter().map(Block::Point));
    out
}

/// The cautions in five lines; the note for the file has them in full.
pub fn cautions(language: Language) -> [String; 5] {
    let w = language.wording();
    [1, 2, 3, 4, 5].map(|n| w.text(&format!("caution.{n}")).to_owned())
}

fn label(note: &Note) -> Page {
    let w = note.entry.language.wording();
    let mut out = Page::default();
    out.push(Block::Title(note.picture.clone()));
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
    let said = match all.is_empty() {
        true => w.text("label.none").into(),
        false => all.join(" "),
    };
    out.passage("label", Some("text"), Block::Paragraph(said));
    out.reword(note, Length::Label);
    out.push(Block::Paragraph(w.text("label.only").into()));
    out
}

/// What to look up or photograph next. What is asked of several marks in the same words is asked once.
pub(super) fn questions(out: &mut Page, note: &Note) {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut close: Vec<(String, Vec<String>)> = Vec::new();
    let mut settle: Vec<String> = Vec::new();
    for q in note.evidence.questions.iter().take(MOST_QUESTIONS) {
        match q.marks.as_slice() {
            // What is in doubt about a mark is told there
            [mark] if q.ask.starts_with("Settle ") => settle.push(mark.clone()),
            [mark] if q.ask.starts_with("Photograph ") => {
                let ask = q.ask.replace(mark.as_str(), "{}");
                match close.iter_mut().find(|c| c.0 == ask) {
                    Some(c) => c.1.push(mark.clone()),
                    None => close.push((ask, vec![mark.clone()])),
                }
            }
            _ => {
                // Said once, above the table
                let ask = q.ask.replace(", without opening anything", "");
                let why = q.because.replace("Nobody has noted it; ", "");
                rows.push(vec![ask, provenance::capital(&why)]);
            }
        }
    }
    for (ask, marks) in close.into_iter().rev() {
        let ask = ask.replace("{}", &reasons::and(&marks));
        rows.insert(0, vec![ask, "Nothing could be read there.".into()]);
    }
    if !settle.is_empty() {
        let ask = format!("Settle {} (dorso settle NUMBER).", reasons::and(&settle));
        let why = "What is in doubt about each stands with it above.";
        rows.insert(0, vec![ask, why.into()]);
    }
    if !rows.is_empty() {
        out.push(Block::Table {
            caption: "What to look up or photograph next, the most telling first, without opening, lifting or peeling anything"
                .into(),
            heads: vec!["What", "Why"],
            rows,
        });
    }
}

/// Open questions in a note at most.
pub const MOST_QUESTIONS: usize = 12;
