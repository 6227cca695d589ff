//! The note for the file: the summary in sentences, each mark once below the part that bears it, the
//! reasons for its date, then the tables that hold the figures.

use super::certainty::{WORDS, likely, with_number};
use super::lengths::{points, questions};
use super::provenance;
use super::told::{self, Told, ToldLink};
use super::{
    Basis, Block, CAUTIONS, ENTRY_TABLE, Length, MarkNote, Note, Page, Rival, SIGNS, Sentence,
    Shown, cautions, worded,
};
use crate::decisions::{Bearer, two};

pub(super) fn file(note: &Note) -> Page {
    let mut out = Page::default();
    out.push(Block::Title(format!(
        "{}: what its back says",
        note.picture
    )));
    out.push(Block::Paragraph(run_on(&note.lead)));
    let summary = Block::Paragraph(run_on(&note.summary));
    out.passage("summary", Some("picture"), summary);
    out.push(Block::Picture(Shown::Backs));
    for on in Bearer::ALL.map(Some).into_iter().chain([None]) {
        part(&mut out, note, on);
    }
    dates(&mut out, note);
    line(&mut out, note);
    let e = &note.evidence;
    let nothing = |_: &Sentence| None;
    let seen = ("observed", "Seen on the object");
    points(&mut out, seen, &e.observed, nothing);
    let unknown = ("unknown", "What is not known");
    points(&mut out, unknown, &note.unknown, nothing);
    out.reword(note, Length::File);
    tables(&mut out, note);
    record(&mut out, note);
    key(&mut out);
    out.push(Block::Heading("Cautions".into()));
    out.blocks
        .extend(cautions(note.entry.language).into_iter().map(Block::Point));
    let full = |(title, words): (&str, &str)| Block::Point(format!("{title}. {words}"));
    out.push(Block::More {
        summary: "The cautions in full".into(),
        blocks: CAUTIONS.map(full).into(),
    });
    out
}

fn run_on<'a>(sentences: impl IntoIterator<Item = &'a Sentence>) -> String {
    let words: Vec<&str> = sentences.into_iter().map(|s| s.words.as_str()).collect();
    words.join(" ")
}

/// The marks on one part, with what they say of its date.
fn part(out: &mut Page, note: &Note, on: Option<Bearer>) {
    let own: Vec<&MarkNote> = note.marks.iter().filter(|m| m.on == on).collect();
    let e = &note.evidence;
    let dated = e.parts.iter().zip(&e.of_parts);
    let dated: Vec<&Sentence> = dated
        .filter(|(_, b)| on.is_some() && **b == on)
        .map(|(s, _)| s)
        .collect();
    if own.is_empty() && dated.is_empty() {
        return;
    }
    out.push(Block::Heading(match on {
        Some(b) => format!("On the {}", b.as_str()),
        None => "On a part that nobody has told".into(),
    }));
    if let Some(b) = on.filter(|_| !dated.is_empty()) {
        let words = Block::Paragraph(run_on(dated));
        out.passage("part", Some(b.as_str()), words);
    }
    for m in own {
        mark(out, m);
    }
}

fn mark(out: &mut Page, m: &MarkNote) {
    out.push(Block::Subheading(format!("{} {}", m.id, m.heading)));
    out.push(Block::Picture(Shown::Mark(m.id.clone())));
    if !m.lines.is_empty() {
        out.push(Block::Verse(
            m.lines.iter().map(|l| l.leiden.clone()).collect(),
        ));
    }
    let mut said = Vec::new();
    // Its heading says what it is; the summary, where it was shown
    let more = m.is.words.contains(',') || m.is.words.contains(" of ");
    if more {
        said.push(m.is.words.clone());
    }
    said.extend(on(m));
    said.extend(read(m));
    // Who is asked, and that nothing was read, is said already
    let asked = m
        .decided
        .iter()
        .any(|s| s.words.contains(" is to be asked."));
    let again = |s: &&Sentence| {
        m.lines.len() == 1 && is_of_lines(s)
            || m.lines.is_empty() && s.words.ends_with("nothing could be read.")
            || asked && s.words.starts_with("It waits for the answer")
    };
    let more = m.decided.iter().chain(m.open.iter().filter(|s| !again(s)));
    said.extend(more.map(|s| s.words.clone()));
    if !said.is_empty() {
        out.passage("mark", Some(&m.id), Block::Paragraph(said.join(" ")));
    }
}

/// That it is on the part below whose heading it stands, where the photograph leaves that in doubt and
/// its sentence doesn't say so.
fn on(m: &MarkNote) -> Option<String> {
    let (part, chance) = m.borne.as_ref()?;
    let chance = (*chance).filter(|p| m.on.is_some() && *p < ENTRY_TABLE[1].0)?;
    Some(format!("It is {} on the {part}.", with_number(chance)))
}

/// A doubt about lines tells their chances.
fn is_of_lines(s: &Sentence) -> bool {
    s.words.starts_with("Line ") || s.words.starts_with("Lines ")
}

/// Least and greatest chance of a line of the program's.
fn chances(m: &MarkNote) -> Option<(f64, f64)> {
    let all = || m.lines.iter().filter_map(|l| l.chance);
    let most = all().reduce(f64::max)?;
    Some((all().fold(1.0, f64::min), most))
}

/// Who read it, and how surely where that is in doubt; a table has the rest.
fn read(m: &MarkNote) -> Option<String> {
    if m.lines.is_empty() {
        return Some("Nothing on it was read.".into());
    }
    if let Some(by) = &m.read_by {
        // Their decision says so with its reason
        let told = |s: &Sentence| s.words.contains("): it reads “");
        return (!m.decided.iter().any(told)).then(|| format!("Read by {by}."));
    }
    let (least, _) = chances(m).filter(|c| c.0 < ENTRY_TABLE[0].0)?;
    if m.lines.len() > 1 && m.open.iter().any(is_of_lines) {
        return None;
    }
    let throughout = if m.lines.len() > 1 { " throughout" } else { "" };
    Some(format!(
        "The reading is {} right{throughout}.",
        with_number(least)
    ))
}

/// What concerns several parts, or the picture.
fn dates(out: &mut Page, note: &Note) {
    let e = &note.evidence;
    let whole: Vec<&Sentence> = e
        .parts
        .iter()
        .zip(&e.of_parts)
        .filter(|(_, b)| b.is_none())
        .map(|(s, _)| s)
        .collect();
    if !whole.is_empty() || !e.conflicts.is_empty() {
        out.push(Block::Heading("Parts and picture".into()));
    }
    if !whole.is_empty() {
        let words = Block::Paragraph(run_on(whole));
        out.passage("part", Some("several"), words);
    }
    if !e.conflicts.is_empty() {
        let words = Block::Paragraph(run_on(&e.conflicts));
        out.passage("conflicts", Some("all"), words);
    }
    if e.chart.is_some() {
        out.push(Block::Picture(Shown::Chart));
    }
}

fn line(out: &mut Page, note: &Note) {
    let p = &note.provenance;
    out.push(Block::Heading("Provenance".into()));
    let words = Block::Paragraph(p.line.clone());
    out.passage("provenance", Some("line"), words);
    let notes: Vec<String> = p.notes.iter().map(|n| n.words.clone()).collect();
    if !notes.is_empty() {
        let words = Block::Paragraph(provenance::notes(&notes));
        out.passage("provenance", Some("notes"), words);
    }
    for t in &p.told {
        out.push(handed_in(t));
    }
}

/// A text link by link beside what was understood of it.
fn handed_in(t: &Told) -> Block {
    Block::Table {
        caption: format!(
            "The text {} handed in ({}), and how it was understood",
            t.by, t.id
        ),
        heads: vec!["As it stands", "As understood"],
        rows: t.links.iter().map(understood).collect(),
    }
}

/// A link as it stands and what was understood of it.
fn understood(l: &ToldLink) -> Vec<String> {
    let rows = told::rows(l);
    let all: Vec<String> = rows
        .iter()
        .map(|(what, value)| format!("{what}: {value}"))
        .collect();
    vec![l.text.clone(), all.join("; ")]
}

/// The figures: lines, statements, entries of the lists, dates.
fn tables(out: &mut Page, note: &Note) {
    out.push(Block::Heading("Tables".into()));
    let heads = [
        "Passage",
        "By",
        "Words",
        "The program wrote",
        "It would write now",
    ];
    let worded = worded::rows(note, out);
    table(out, "Passages in a person's own words", &heads, worded);
    questions(out, note);
    let marks = note.marks.iter().map(row_of).collect();
    let heads = ["Mark", "What", "Where", "On", "State", "Read by", "Rightly"];
    table(out, "The marks", &heads, marks);
    let mut lines = Vec::new();
    let mut states = Vec::new();
    let mut rivals: Vec<Vec<String>> = Vec::new();
    let mut dates = Vec::new();
    for m in &note.marks {
        let program = if m.read_before.is_empty() {
            &m.lines
        } else {
            &m.read_before
        };
        for (i, l) in program.iter().enumerate() {
            let chance = l.chance.map(with_number);
            lines.extend(
                chance.map(|c| vec![m.id.clone(), (i + 1).to_string(), l.leiden.clone(), c]),
            );
        }
        for s in &m.states {
            states.push(vec![
                m.id.clone(),
                s.what.clone(),
                s.value.clone(),
                match s.basis {
                    Basis::Program(p) => with_number(p),
                    Basis::Person(decision) => format!("said by a person ({decision})"),
                    Basis::Record => String::new(),
                },
            ]);
        }
        rivals.extend(entries(m));
        for d in &m.dates {
            dates.push(vec![m.id.clone(), d.words.clone()]);
        }
    }
    table(
        out,
        "Lines as the program reads them",
        &["Mark", "Line", "Words", "Right as a whole"],
        lines,
    );
    table(
        out,
        "What the marks state in their own words",
        &["Mark", "What", "Value", "Right"],
        states,
    );
    let heads = ["Mark", "List", "Entry", "Chance", "Because", "Source"];
    table(
        out,
        "Entries of your lists that the marks may name",
        &heads,
        rivals,
    );
    table(out, "What dates the marks", &["Mark", "Date"], dates);
}

/// Where a mark is, where it stands and how surely it is read.
fn row_of(m: &MarkNote) -> Vec<String> {
    let (by, rightly) = match (&m.read_by, chances(m)) {
        (Some(by), _) => (by.clone(), String::new()),
        (None, Some((least, most))) if likely(least) == likely(most) => {
            ("the program".into(), with_number(least))
        }
        (None, Some((least, most))) => {
            let all = format!("{} to {}", with_number(least), with_number(most));
            ("the program".into(), all)
        }
        (None, None) => ("nobody".into(), String::new()),
    };
    vec![
        m.id.clone(),
        m.heading.clone(),
        m.place.clone(),
        match &m.borne {
            Some((part, Some(p))) => format!("{part}, {}", with_number(*p)),
            Some((part, None)) => part.clone(),
            None => String::new(),
        },
        m.standing.as_str().into(),
        by,
        rightly,
    ]
}

/// One row for each entry of a list that a mark may name. Where several words may name a town, its
/// chance is that of the likeliest of them, and none is named at most as surely as by any of them.
fn entries(m: &MarkNote) -> Vec<Vec<String>> {
    let mut all: Vec<Rival> = Vec::new();
    for r in &m.rivals {
        let same = |x: &&mut Rival| (&x.list, &x.entry) == (&r.list, &r.entry);
        let Some(x) = all.iter_mut().find(same) else {
            all.push(r.clone());
            continue;
        };
        x.chance = match r.source.is_empty() && r.because.is_empty() {
            true => x.chance.min(r.chance),
            false => x.chance.max(r.chance),
        };
        if !x.because.contains(&r.because) {
            x.because += &format!(" {}", r.because);
        }
    }
    let row = |r: Rival| {
        vec![
            m.id.clone(),
            r.list,
            r.entry,
            two(r.chance),
            r.because,
            r.source,
        ]
    };
    all.into_iter().map(row).collect()
}

fn table(out: &mut Page, caption: &str, heads: &[&'static str], rows: Vec<Vec<String>>) {
    if !rows.is_empty() {
        let (caption, heads) = (caption.to_owned(), heads.to_vec());
        out.push(Block::Table {
            caption,
            heads,
            rows,
        });
    }
}

fn record(out: &mut Page, note: &Note) {
    out.push(Block::Heading("Record".into()));
    let photograph = |p: &super::NotedPhotograph| {
        vec![
            p.name.clone(),
            format!("{} × {}", p.size.0, p.size.1),
            p.sha256.clone(),
        ]
    };
    out.push(Block::Table {
        caption: "Photographs".into(),
        heads: vec!["File", "px", "SHA-256"],
        rows: note.photographs.iter().map(photograph).collect(),
    });
    if note.journal.is_empty() {
        out.push(Block::Paragraph(
            "Nothing was decided by a person yet.".into(),
        ));
        return;
    }
    let entry = |d: &super::Entered| {
        let holds = if d.holds { "yes" } else { "undone" };
        vec![
            d.id.clone(),
            d.mark.clone(),
            d.day.clone(),
            d.by.clone(),
            d.what.clone(),
            d.why.clone(),
            holds.into(),
        ]
    };
    out.push(Block::Table {
        caption: "Decisions, those undone included".into(),
        heads: vec!["Decision", "Mark", "Day", "Who", "What", "Why", "Holds"],
        rows: note.journal.iter().map(entry).collect(),
    });
}

fn key(out: &mut Page) {
    let range = |least: f64, most: Option<f64>| match most {
        None => format!("{least:.2} and more"),
        Some(most) => format!("{least:.2} to below {most:.2}"),
    };
    let rows = |all: &[(f64, &str)]| -> Vec<Vec<String>> {
        let most = |i: usize| i.checked_sub(1).map(|j| all[j].0);
        let row = |(i, (least, word)): (usize, &(f64, &str))| {
            let word = if word.is_empty() { "no word" } else { word };
            vec![word.to_owned(), range(*least, most(i))]
        };
        all.iter().enumerate().map(row).collect()
    };
    out.push(Block::Heading("How to read this note".into()));
    out.push(Block::Paragraph(
        "What the program proposes carries a word of doubt and, where it is told first, a number, the chance between 0 and 1 that such a statement is right; without such a word it is right nineteen times in twenty or more, and the tables have its chance. What a person decided carries their name and the day."
            .into(),
    ));
    out.push(Block::Paragraph(format!("Provenance: {}", provenance::KEY)));
    out.push(Block::Table {
        caption: "Words for chances in this note".into(),
        heads: vec!["Words", "Chance"],
        rows: rows(&WORDS),
    });
    out.push(Block::Table {
        caption: "Words for chances in the catalogue entry".into(),
        heads: vec!["Words", "Chance"],
        rows: rows(&ENTRY_TABLE),
    });
    let sign = |(sign, words): (&str, &str)| vec![sign.to_owned(), words.to_owned()];
    out.push(Block::Table {
        caption: "Signs in what the marks say".into(),
        heads: vec!["Sign", "Meaning"],
        rows: SIGNS.map(sign).into(),
    });
}
