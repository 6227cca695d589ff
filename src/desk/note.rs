//! The note beside the work: its sentences, each leading to the mark and the decision behind it.

use super::deciding::usage;
use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply};
use super::words as w;
use super::{Desk, chart};
use crate::decisions::{
    Deed, EventHeld, Happening, KeptMark, MarkId, Picture, Sight, Store, now, two,
};
use crate::error::Result;
use crate::note::{
    Basis, CAUTIONS, Export, Html, MarkNote, Note, Sentence, compose_with, cut, in_short,
};
use crate::run;
use maud::{Markup, html};

fn composed(desk: &Desk, picture: &Picture, marks: &[KeptMark]) -> Result<Note> {
    let clues = desk.clues()?;
    let (journal, seen) = {
        let store = desk.store();
        let journal = store.journal_of_picture(picture.id)?;
        (journal, store.observations(Some(picture.id))?)
    };
    Ok(compose_with(
        picture,
        marks,
        &journal,
        &seen,
        &clues,
        &now(),
    ))
}

/// The note with what may be copies of its marks on other pictures, as its file has them.
fn with_copies(desk: &Desk, picture: &Picture, marks: &[KeptMark]) -> Result<Note> {
    let mut note = composed(desk, picture, marks)?;
    let all = desk.store().marks(None)?;
    run::tell(&mut note, marks, &all);
    Ok(note)
}

/// One sentence with what it rests on.
fn sentence(s: &Sentence, mark: Option<&str>) -> Markup {
    let class = match s.basis {
        Basis::Program(_) => "by-program",
        Basis::Person(_) => "by-person",
        Basis::Record => "by-record",
    };
    html! {
        span class=(class) { (s.words) }
        @if let Some(id) = mark { " " a href=(format!("/settle/{id}")) { (w::to_mark(id)) } }
        @match s.basis {
            Basis::Person(d) => { " " span.basis { (d) } }
            Basis::Program(p) => { " " span.basis { (w::chance(&two(p))) } }
            Basis::Record => {}
        }
    }
}

/// The sentences in short, beside the work.
pub fn beside(desk: &Desk, picture: i64, here: Option<MarkId>) -> Result<Markup> {
    let picture = desk.picture(picture)?;
    let marks = desk.store().marks(Some(picture.id))?;
    let journal = desk.store().journal_of_picture(picture.id)?;
    let short = in_short(&picture, &marks, &journal);
    // One sentence for each mark that is one, in order.
    let told: Vec<&KeptMark> = marks
        .iter()
        .filter(|m| m.settled.not_a_mark.is_none())
        .collect();
    Ok(html! {
        section aria-labelledby="note-title" {
            h2 id="note-title" { (w::NOTE_SO_FAR) }
            ul.sentences {
                @for (m, s) in told.iter().zip(&short) {
                    li aria-current=[(Some(m.id) == here).then_some("true")] {
                        (sentence(s, Some(&m.id.to_string())))
                    }
                }
            }
            p { a href=(format!("/picture/{}/note", picture.id)) { (w::WHOLE_NOTE) } }
        }
    })
}

/// The same, for the script that keeps it fresh.
pub fn aside(desk: &Desk, picture: i64) -> Result<Reply> {
    Ok(Reply::Page(beside(desk, picture, None)?))
}

/// The dates of some marks as a chart with a table.
pub fn dates(marks: &[KeptMark]) -> Markup {
    chart::chart(&chart::spans(marks))
}

/// The whole note.
pub fn page(desk: &Desk, id: i64) -> Result<Reply> {
    let picture = desk.picture(id)?;
    let marks = desk.store().marks(Some(id))?;
    let note = with_copies(desk, &picture, &marks)?;
    let told: Vec<&KeptMark> = marks
        .iter()
        .filter(|m| m.settled.not_a_mark.is_none())
        .collect();
    let body = html! {
        p.ways.screen {
            a href=(format!("/picture/{id}")) { (w::THE_BACK) } " "
            a href=(format!("/picture/{id}/note.html")) download { (w::AS_FILE) } " "
            button type="button" id="print" { (w::PRINT) }
        }
        @for s in &note.lead { p { (sentence(s, None)) } }
        @let (about, words) = CAUTIONS[0];
        p.caution { strong { (about) "." } " " (words) }
        section aria-labelledby="short-title" {
            h2 id="short-title" { (w::IN_SHORT) }
            ul.sentences {
                @for (m, s) in told.iter().zip(&note.short) { li { (sentence(s, Some(&m.id.to_string()))) } }
            }
        }
        (dates(&marks))
        section aria-labelledby="provenance-title" {
            h2 id="provenance-title" { (w::PROVENANCE) }
            p { (note.provenance.line) }
            ol { @for s in &note.provenance.notes { li { (sentence(s, None)) } } }
            (new_event(desk, id))
        }
        @for (key, title, all) in [("parts", w::PARTS, &note.evidence.parts), ("conflicts", w::CONFLICTS, &note.evidence.conflicts), ("observed", w::OBSERVED, &note.evidence.observed)] {
            @if !all.is_empty() {
                section aria-labelledby=(format!("{key}-title")) {
                    h2 id=(format!("{key}-title")) { (title) }
                    ul { @for s in all { li { (sentence(s, None)) } } }
                }
            }
        }
        section aria-labelledby="marks-title" {
            h2 id="marks-title" { (w::MARKS) }
            @for (m, n) in told.iter().zip(&note.marks) { (mark(m, n)) }
        }
        section aria-labelledby="unknown-title" {
            h2 id="unknown-title" { (w::NOT_KNOWN) }
            ul { @for s in &note.unknown { li { (sentence(s, None)) } } }
        }
        section aria-labelledby="cautions-title" {
            h2 id="cautions-title" { (w::CAUTIONS) }
            ul { @for (title, words) in &CAUTIONS[1..] { li { strong { (title) "." } " " (words) } } }
        }
        section aria-labelledby="journal-title" {
            h2 id="journal-title" { (w::DECISIONS) }
            @if note.journal.is_empty() { p { (w::NOTHING_DECIDED) } }
            ol.history {
                @for d in &note.journal {
                    li id=(d.id) class=(if d.holds { "holds" } else { "undone" }) {
                        (d.id) " · " a href=(format!("/settle/{}", d.mark)) { (d.mark) } " · " (d.by) ", " (d.day) ": " (d.what)
                        @if !d.holds { " (" (w::UNDONE) ")" }
                        @if !d.why.is_empty() { ". " (w::BECAUSE) " " (d.why) }
                    }
                }
            }
        }
    };
    let shown = Page {
        title: w::note_title(&picture.name),
        place: Place::Pictures,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// The form for what befell the picture.
fn new_event(desk: &Desk, id: i64) -> Markup {
    html! {
        details.entry.screen id="event" {
            summary { (w::NEW_EVENT) }
            form method="post" action=(format!("/picture/{id}/event")) {
                (token(desk))
                p {
                    label for="event-deed" { (w::EVENT_DEED) } " "
                    select id="event-deed" name="deed" {
                        @for (d, words) in Deed::ALL.into_iter().zip(w::DEED_WORDS) {
                            option value=(d.as_str()) { (words) }
                        }
                    }
                }
                @for (name, words, must) in w::EVENT_FIELDS {
                    p {
                        label for=(format!("event-{name}")) { (words) } " "
                        input id=(format!("event-{name}")) name=(name) maxlength="300" required[must] autocomplete="off";
                    }
                }
                p {
                    label for="event-held" { (w::EVENT_HELD) } " "
                    select id="event-held" name="held" {
                        option value="" { (w::HELD_DOCUMENTED) }
                        option value="probably" { (w::HELD_PROBABLY) }
                        option value="possibly" { (w::HELD_POSSIBLY) }
                    }
                }
                p { label { input type="checkbox" name="direct" value="1"; " " (w::EVENT_DIRECT) } }
                button { (w::ADD_EVENT) }
            }
        }
    }
}

/// Keeps what befell the picture.
pub fn event(desk: &Desk, id: i64, ask: &Ask) -> Result<Reply> {
    let f = &ask.form;
    let deed =
        Deed::parse(f.get("deed")).ok_or_else(|| usage(w::PROVENANCE, w::NO_DEED, w::GO_BACK))?;
    let happening = Happening {
        deed,
        who: f.get("who").into(),
        place: f.get("place").into(),
        when: f.get("when").into(),
        source: f.get("source").into(),
        held: match f.get("held") {
            "probably" => EventHeld::Probably,
            "possibly" => EventHeld::Possibly,
            _ => EventHeld::Documented,
        },
        direct: f.get("direct") == "1",
    };
    let sight = Sight::Event(happening.checked()?);
    let author = desk.author("");
    desk.store().observe(id, &sight, &author)?;
    Ok(Reply::See(format!("/picture/{id}/note")))
}

fn mark(m: &KeptMark, n: &MarkNote) -> Markup {
    html! {
        article.noted aria-labelledby=(format!("n{}", n.id)) {
            h3 id=(format!("n{}", n.id)) { a href=(format!("/settle/{}", n.id)) { (n.id) " " (n.heading) } }
            p.quiet { (n.place) ", " (n.standing.as_str()) }
            img.noted src=(super::item::crop(m, "colour")) alt=(w::crop_words(&n.plain)) loading="lazy";
            @if !n.lines.is_empty() {
                p.leiden { @for l in &n.lines { (l.leiden) @if let Some(p) = l.chance { " " span.basis { (two(p)) } } br; } }
            }
            @for (title, all) in [(w::DECIDED, &n.decided), (w::PROPOSED, &n.proposed), (w::DATES_OF_MARK, &n.dates), (w::OPEN, &n.open)] {
                @if !all.is_empty() {
                    h4 { (title) }
                    ul { @for s in all { li { (sentence(s, None)) } } }
                }
            }
        }
    }
}

/// The note as one self-contained file.
pub fn file(desk: &Desk, id: i64) -> Result<Reply> {
    let picture = desk.picture(id)?;
    let marks = desk.store().marks(Some(id))?;
    let note = with_copies(desk, &picture, &marks)?;
    let text = Html.text(&note, &cut(&picture, &marks));
    Ok(Reply::Download {
        kind: "text/html; charset=utf-8",
        name: format!("note-{id}.html"),
        bytes: text.into_bytes(),
    })
}
