//! One note in three lengths, as plain blocks that every format can set: the file note with all
//! that is behind it, the entry of a catalogue, the text of a wall label.

use super::certainty::WORDS;
use super::{Basis, CAUTIONS, Manner, Note, SIGNS, Sentence, provenance};
use std::fmt::Write as _;

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

/// A piece of text to be set.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// Name of the whole.
    Title(String),
    /// Heading of a part.
    Heading(String),
    /// Running text.
    Paragraph(String),
    /// One of a list.
    Point(String),
    /// Lines as they stand on the object.
    Verse(Vec<String>),
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
        Length::File => file(note),
        Length::Catalogue => catalogue(note),
        Length::Label => label(note),
    }
}

fn points(out: &mut Vec<Block>, heading: &str, sentences: &[Sentence]) {
    if sentences.is_empty() {
        return;
    }
    if !heading.is_empty() {
        out.push(Block::Heading(heading.into()));
    }
    out.extend(sentences.iter().map(|s| Block::Point(s.words.clone())));
}

fn manners(out: &mut Vec<Block>, note: &Note) {
    for m in Manner::ALL {
        let of: Vec<Sentence> = note
            .provenance
            .manners
            .iter()
            .filter(|x| x.0 == m)
            .map(|x| x.1.clone())
            .collect();
        points(out, m.heading(), &of);
    }
}

fn line(out: &mut Vec<Block>, note: &Note) {
    out.push(Block::Heading("Provenance".into()));
    out.push(Block::Paragraph(note.provenance.line.clone()));
    let notes: Vec<String> = note
        .provenance
        .notes
        .iter()
        .map(|n| n.words.clone())
        .collect();
    if !notes.is_empty() {
        out.push(Block::Paragraph(provenance::notes(&notes)));
    }
    out.push(Block::Paragraph(provenance::KEY.into()));
}

fn caution(i: usize) -> Block {
    let (title, words) = CAUTIONS[i];
    Block::Point(format!("{title}. {words}"))
}

fn catalogue(note: &Note) -> Vec<Block> {
    let e = &note.entry;
    let mut out = vec![Block::Title(note.picture.clone())];
    points(&mut out, "Inscribed", &e.inscribed);
    points(
        &mut out,
        "Labels, stamps and stencils on the reverse",
        &e.reverse,
    );
    out.push(Block::Heading("Provenance".into()));
    out.push(Block::Paragraph(e.provenance.clone()));
    points(&mut out, "Exhibited", &e.exhibited);
    points(&mut out, "Dates of the parts", &e.dates);
    points(&mut out, "Seen on the object", &note.evidence.observed);
    points(&mut out, "Notes", &e.notes);
    out.push(Block::Paragraph(super::ENTRY_KEY.into()));
    out.push(Block::Heading("Cautions".into()));
    out.extend(SHORT_CAUTIONS.map(|c| Block::Point(c.into())));
    out
}

/// The cautions in five lines; the note for the file has them in full.
pub const SHORT_CAUTIONS: [&str; 5] = [
    "This tells what marks on the back say; it authenticates nothing, values nothing and clears no title.",
    "A mark dates the part that bears it. Labels, frames and stretchers are moved from picture to picture.",
    "Do not lift, wet or peel a label or open a frame to read a mark; ask an accredited conservator.",
    "Old backs may hold lead, arsenic, pest treatments, asbestos, mould, nails and brittle glass: gloves, a mask, no brushing.",
    "Local law on title, export and protected materials, and licensed advice, come first.",
];

fn label(note: &Note) -> Vec<Block> {
    let mut out = vec![Block::Title(note.picture.clone())];
    let likely = |s: &&Sentence| match s.basis {
        Basis::Person(_) => true,
        Basis::Program(p) => p >= super::ENTRY_TABLE[1].0,
        Basis::Record => false,
    };
    let e = &note.entry;
    let shown = e.exhibited.iter().filter(likely).take(1);
    let shown = shown.map(|s| format!("Exhibited: {}", s.words));
    // A quotation says least to those who pass by.
    let named = |s: &&Sentence| !s.words.contains('“');
    // Where it was shown is told already.
    let other = |s: &&Sentence| !s.words.starts_with("Exhibition ");
    let borne = e.reverse.iter().filter(likely).filter(named);
    let borne = borne.filter(other).take(1);
    let borne = borne.map(|s| format!("The back bears: {}", s.words));
    let said: Vec<String> = shown.chain(borne).collect();
    out.push(Block::Paragraph(match said.is_empty() {
        true => "The marks on its back have not been read surely enough to be told here.".into(),
        false => said.join(" "),
    }));
    out.push(Block::Paragraph(
        "This tells what marks on the back say, and no more: nothing is said of authorship, value or title. Whereabouts 1933-1945 not established."
            .into(),
    ));
    out
}

fn words_of_doubt() -> String {
    let mut out = String::from("Words of doubt stand for chances: ");
    for (i, (least, word)) in WORDS.iter().enumerate() {
        let _ = match i {
            0 => write!(out, "{word} {least:.2} and more"),
            _ => write!(out, ", {word} {least:.2} and more"),
        };
    }
    out + ". In the line of provenance the guide's two words stand alone: probably for 0.75 and more, possibly for less."
}

fn file(note: &Note) -> Vec<Block> {
    let mut out = vec![Block::Title(format!(
        "{}: what its back says",
        note.picture
    ))];
    let run: Vec<&str> = note.lead.iter().map(|s| s.words.as_str()).collect();
    out.push(Block::Paragraph(run.join(" ")));
    let (title, words) = CAUTIONS[0];
    out.push(Block::Paragraph(format!("{title}. {words}")));
    points(&mut out, "In short", &note.short);
    for m in &note.marks {
        out.push(Block::Heading(format!("{} {}", m.id, m.heading)));
        out.push(Block::Paragraph(format!(
            "{}. State: {}.",
            super::provenance::capital(&m.place),
            m.standing.as_str()
        )));
        if !m.lines.is_empty() {
            let by = m.read_by.as_deref().unwrap_or("the program");
            out.push(Block::Paragraph(format!("As it stands, read by {by}:")));
            out.push(Block::Verse(
                m.lines.iter().map(|l| l.leiden.clone()).collect(),
            ));
        }
        for (title, sentences) in [
            ("Decided by a person:", &m.decided),
            ("Proposed by the program:", &m.proposed),
            ("Dates of the mark:", &m.dates),
            ("Open:", &m.open),
        ] {
            if !sentences.is_empty() {
                out.push(Block::Paragraph(title.into()));
                points(&mut out, "", sentences);
            }
        }
    }
    out.extend(middle(note));
    points(&mut out, "What is not known", &note.unknown);
    out.extend(questions(note));
    out.push(Block::Heading("How to read this note".into()));
    out.push(Block::Paragraph(words_of_doubt()));
    out.extend(
        SIGNS
            .iter()
            .map(|(sign, words)| Block::Point(format!("{sign}  {words}"))),
    );
    out.push(Block::Heading("Cautions".into()));
    out.extend((1..CAUTIONS.len()).map(caution));
    out.push(Block::Heading("Record".into()));
    for p in &note.photographs {
        out.push(Block::Point(format!(
            "{}, {} × {} px, SHA-256 {}",
            p.name, p.size.0, p.size.1, p.sha256
        )));
    }
    for e in &note.journal {
        let why = if e.why.is_empty() {
            String::new()
        } else {
            format!(" Reason: {}.", e.why)
        };
        out.push(Block::Point(format!(
            "{} ({}), {}, {}: {}.{why}{}",
            e.id,
            e.mark,
            e.day,
            e.by,
            e.what,
            if e.holds { "" } else { " Undone." }
        )));
    }
    out
}

/// Statements by how they are known, the line of provenance, dates of the parts.
pub(super) fn middle(note: &Note) -> Vec<Block> {
    let mut out = Vec::new();
    manners(&mut out, note);
    line(&mut out, note);
    points(&mut out, "Dates of the parts", &note.evidence.parts);
    points(
        &mut out,
        "What can't be true together",
        &note.evidence.conflicts,
    );
    points(&mut out, "Seen on the object", &note.evidence.observed);
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
