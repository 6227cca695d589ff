//! The note beside the work, and the note in three lengths: each passage can be put otherwise, copied
//! and saved.

use super::deciding::usage;
use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply, coded};
use super::words as w;
use super::{Desk, chart, item, told};
use crate::decisions::{KeptMark, MarkId, ObservationId, Picture, Sight, Store, now};
use crate::error::Result;
use crate::exports;
use crate::note::{
    Basis, Block, Crops, Kept, Language, Length, Note, Passage, Sentence, Shown, cut, in_short,
    page as set, reword,
};
use crate::run;
use maud::{Markup, html};

/// The note, with what may be copies of its marks on other pictures.
fn composed(desk: &Desk, picture: &Picture, marks: &[KeptMark], l: Language) -> Result<Note> {
    let clues = desk.clues()?;
    let (journal, observations) = {
        let store = desk.store();
        let journal = store.journal_of_picture(picture.id)?;
        (journal, store.observations(Some(picture.id))?)
    };
    let kept = Kept {
        picture,
        marks,
        journal: &journal,
        observations: &observations,
        language: l,
    };
    let mut note = kept.write(&clues, &now())?;
    run::tell(&mut note, &desk.store(), marks)?;
    Ok(note)
}

/// One sentence with what it rests on.
fn sentence(s: &Sentence, mark: &str) -> Markup {
    let class = match s.basis {
        Basis::Program(_) => "by-program",
        Basis::Person(_) => "by-person",
        Basis::Record => "by-record",
    };
    html! {
        span class=(class) { (s.words) }
        " " a href=(format!("/settle/{mark}")) { (w::to_mark(mark)) }
        @match s.basis {
            Basis::Person(d) => { " " span.basis { (d) } }
            Basis::Program(p) => { " " span.basis { (item::chance(p)) } }
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
    let told: Vec<&KeptMark> = marks.iter().filter(|m| m.is_told()).collect();
    Ok(html! {
        section aria-labelledby="note-title" {
            h2 id="note-title" { (w::NOTE_SO_FAR) }
            ul.sentences {
                @for (m, s) in told.iter().zip(&short) {
                    li aria-current=[(Some(m.id) == here).then_some("true")] {
                        (sentence(s, &m.id.to_string()))
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

/// Which note is asked for: its length and language.
fn which(length: &str, language: &str) -> Result<(Length, Language)> {
    let length = match length {
        "" => Some(Length::File),
        named => Length::parse(named),
    };
    let language = match language {
        "" => Some(Language::default()),
        tag => Language::parse(tag),
    };
    match (length, language) {
        (Some(Length::File), Some(l)) if !l.is_english() => {
            Err(usage(w::NOTE, w::FILE_IN_ENGLISH, w::OTHER_LENGTH))
        }
        (Some(length), Some(language)) => Ok((length, language)),
        _ => Err(usage(w::NOTE, w::NO_SUCH_NOTE, w::GO_BACK)),
    }
}

fn address(id: i64, length: Length, language: Language) -> String {
    let (length, language) = (length.as_str(), language.as_str());
    format!("/picture/{id}/note?length={length}&language={language}")
}

/// The note in one length.
pub fn page(desk: &Desk, id: i64, ask: &Ask) -> Result<Reply> {
    let picture = desk.picture(id)?;
    let (length, language) = which(ask.query.get("length"), ask.query.get("language"))?;
    let marks = desk.store().marks(Some(id))?;
    let note = composed(desk, &picture, &marks, language)?;
    let set = set(&note, length);
    let setter = Setter {
        desk,
        marks: &marks,
        picture: id,
        length,
        language,
        passages: &set.passages,
    };
    let body = html! {
        (setter.ways())
        div id="whole" class=(format!("note-{}", length.as_str())) lang=(language.as_str()) { (setter.parts(&set.blocks)) }
        @if length == Length::File { (told::forms(desk, id)) }
    };
    let shown = Page {
        title: w::note_title(&picture.name),
        place: Place::Pictures,
        scripts: &["note.js"],
        keys: &[("c", w::COPY_NOTE), ("e", w::PUT_OTHERWISE)],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// A note as it is set on the page.
struct Setter<'a> {
    desk: &'a Desk,
    marks: &'a [KeptMark],
    picture: i64,
    length: Length,
    language: Language,
    passages: &'a [Passage],
}

impl Setter<'_> {
    /// The lengths, the languages, and what can be done with the whole.
    fn ways(&self) -> Markup {
        let id = self.picture;
        let language = |length: Length| match length {
            Length::File if !self.language.is_english() => Language::default(),
            _ => self.language,
        };
        let written = Language::ALL
            .into_iter()
            .filter(|l| self.length != Length::File || l.is_english());
        let tag = self.language.as_str();
        html! {
            p.ways.screen { a href=(format!("/picture/{id}")) { (w::THE_BACK) } }
            nav.ways.screen aria-label=(w::LENGTHS) {
                @for (l, words) in Length::ALL.into_iter().zip(w::LENGTH_WORDS) {
                    a href=(address(id, l, language(l))) aria-current=[(l == self.length).then_some("page")] { (words) } " "
                }
            }
            nav.ways.screen aria-label=(w::LANGUAGES) {
                @for l in written {
                    a href=(address(id, self.length, l)) hreflang=(l.as_str()) aria-current=[(l == self.language).then_some("page")] { (l.as_str()) } " "
                }
            }
            div.tools.screen {
                button type="button" data-copy="whole" { (w::COPY_NOTE) } " "
                @for (ending, words) in w::SAVE_AS {
                    a href=(format!("/picture/{id}/note/{}.{ending}?language={tag}", self.length.as_str())) download { (words) } " "
                }
                button type="button" id="print" { (w::PRINT) }
            }
        }
    }

    /// The blocks part by part, each part with its heading.
    fn parts(&self, blocks: &[Block]) -> Markup {
        // The title is that of the page
        let blocks: Vec<(usize, &Block)> = blocks.iter().enumerate().skip(1).collect();
        let heads = |b: &(usize, &Block)| matches!(b.1, Block::Heading(_));
        let first = blocks.iter().position(heads).unwrap_or(blocks.len());
        let (top, rest) = blocks.split_at(first);
        html! {
            (self.set(top))
            @for part in rest.chunk_by(|_, b| !heads(b)) {
                @if let [(n, Block::Heading(title)), own @ ..] = part {
                    section id=(format!("part-{n}")) aria-labelledby=(format!("title-{n}")) {
                        div.headrow {
                            h2 id=(format!("title-{n}")) { (title) }
                            button.screen type="button" data-copy=(format!("part-{n}")) aria-label=(w::copy_part(title)) { (w::COPY) }
                        }
                        (self.set(own))
                    }
                }
            }
        }
    }

    fn set(&self, blocks: &[(usize, &Block)]) -> Markup {
        let point = |b: &(usize, &Block)| matches!(b.1, Block::Point(_));
        html! {
            @for run in blocks.chunk_by(|a, b| point(a) && point(b)) {
                @if point(&run[0]) {
                    ul {
                        @for (n, b) in run {
                            @if let Block::Point(t) = b { li { span.copied { (t) } (self.passage(*n)) } }
                        }
                    }
                } @else { (self.one(run[0].0, run[0].1)) }
            }
        }
    }

    fn one(&self, n: usize, b: &Block) -> Markup {
        html! {
                @match b {
                    Block::Paragraph(t) | Block::Point(t) => { p.copied { (t) } (self.passage(n)) }
                    Block::Title(t) | Block::Heading(t) => { h2.copied { (t) } }
                    Block::Subheading(t) => {
                        @let mark = t.split(' ').next().unwrap_or_default();
                        h3.copied { a href=(format!("/settle/{mark}")) { (t) } }
                    }
                    Block::Verse(lines) => { p.copied.leiden { @for l in lines { (l) br; } } }
                    Block::Table { caption, heads, rows } => { (table(caption, heads, rows)) }
                    Block::Picture(Shown::Mark(id)) => {
                        @if let Some(m) = self.marks.iter().find(|m| m.id.to_string() == *id) {
                            img.noted src=(super::item::crop(m, "colour")) alt=(w::crop_words(id)) loading="lazy";
                        }
                    }
                    Block::Picture(Shown::Chart) => { (dates(self.marks)) }
                    Block::Picture(Shown::Backs) => {}
                    Block::More { summary, blocks } => {
                        @let all: Vec<(usize, &Block)> = blocks.iter().map(|b| (usize::MAX, b)).collect();
                        details { summary { (summary) } (self.set(&all)) }
                    }
                }
        }
    }

    /// What stands below a passage: whose words they are, and the form to put it otherwise.
    fn passage(&self, at: usize) -> Markup {
        let Some(p) = self.passages.iter().find(|p| p.at == at) else {
            return html! {};
        };
        let (seen, words) = match &p.worded {
            Some((x, _)) => (x.id.as_str(), x.words.as_str()),
            None => ("", p.written.as_str()),
        };
        let name = p.key.replace(':', "-");
        html! {
            div.worded.screen lang="en" {
                @if let Some((x, _)) = &p.worded {
                    p.quiet { (w::wording_by(&x.by, x.at.get(..10).unwrap_or(&x.at), &x.id)) }
                    @if let Some(notice) = p.notice() {
                        p.refused { (notice) }
                        p { (w::WROTE_THEN) " " q { (x.before) } }
                        @if !p.written.is_empty() { p { (w::WOULD_WRITE) " " q { (p.written) } } }
                    }
                    (self.form(p, "back", html! {
                        input type="hidden" name="undoes" value=(x.id);
                        button { (w::TAKE_BACK) }
                    }))
                }
                details {
                    summary aria-label=(w::put_otherwise(&p.key)) { (w::PUT_OTHERWISE) }
                    (self.form(p, "keep", html! {
                        label for=(format!("words-{name}")) { (w::YOUR_WORDS) }
                        textarea id=(format!("words-{name}")) name="words" rows="3" maxlength="4000" required lang=(self.language.as_str()) { (words) }
                        input type="hidden" name="seen" value=(seen);
                        button { (w::KEEP_WORDS) }
                    }))
                }
            }
        }
    }

    fn form(&self, p: &Passage, deed: &str, inner: Markup) -> Markup {
        html! {
            form method="post" action=(format!("/picture/{}/wording", self.picture)) {
                (token(self.desk))
                input type="hidden" name="deed" value=(deed);
                input type="hidden" name="length" value=(self.length.as_str());
                input type="hidden" name="language" value=(self.language.as_str());
                input type="hidden" name="passage" value=(p.key);
                (inner)
            }
        }
    }
}

fn table(caption: &str, heads: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(caption) {
            table {
                caption { (caption) }
                thead { tr.copied { @for h in heads { th scope="col" { (h) } } } }
                tbody { @for row in rows { tr.copied { @for cell in row { td { (cell) } } } } }
            }
        }
    }
}

/// Keeps a person's wording of a passage, or takes one back.
pub fn wording(desk: &Desk, id: i64, ask: &Ask) -> Result<Reply> {
    let f = &ask.form;
    let (length, language) = which(f.get("length"), f.get("language"))?;
    let picture = desk.picture(id)?;
    let key = f.get("passage");
    let sight = if f.get("deed") == "back" {
        let undoes = ObservationId::parse(f.get("undoes"))
            .ok_or_else(|| usage(w::WORDING, w::NO_WORDING, w::GO_BACK))?;
        Sight::Undo { undoes }
    } else {
        let marks = desk.store().marks(Some(id))?;
        let note = composed(desk, &picture, &marks, language)?;
        let page = set(&note, length);
        let now = page.passages.iter().find(|p| p.key == key);
        let there = now.and_then(|p| p.worded.as_ref()).map(|x| &x.0);
        // Nobody words over what they haven't seen
        if there.is_some_and(|x| x.id != f.get("seen")) {
            return Err(usage(w::WORDING, w::WORDED_MEANWHILE, w::LOOK_AGAIN));
        }
        reword(&note, length, key, f.get("words"))?
    };
    let author = desk.author("");
    desk.store().observe(id, &sight, &author)?;
    Ok(Reply::See(format!(
        "{}&said={}",
        address(id, length, language),
        coded(key)
    )))
}

/// The note as a file to keep: `label.docx`, `file.html`.
pub fn file(desk: &Desk, id: i64, name: &str, ask: &Ask) -> Result<Reply> {
    let wrong = || usage(w::NOTE, w::NO_SUCH_NOTE, w::GO_BACK);
    let (length, ending) = name.split_once('.').ok_or_else(wrong)?;
    let (length, language) = which(length, ask.query.get("language"))?;
    let kind = match ending {
        "md" => "text/markdown; charset=utf-8",
        "html" => "text/html; charset=utf-8",
        "pdf" => "application/pdf",
        "docx" => "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
        _ => return Err(wrong()),
    };
    let picture = desk.picture(id)?;
    let marks = desk.store().marks(Some(id))?;
    let note = composed(desk, &picture, &marks, language)?;
    let crops = match length {
        Length::File if ending != "md" => cut(&picture, &marks),
        _ => Crops::default(),
    };
    Ok(Reply::Download {
        kind,
        name: format!("note-{id}-{}.{ending}", length.as_str()),
        bytes: exports::sheet(&note, &crops, length, ending)?,
    })
}
