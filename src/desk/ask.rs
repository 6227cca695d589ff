//! Asking somebody with better eyes: one file to send, and their answers taken in.

use super::deciding::{typed, usage};
use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply, unclear};
use super::words as w;
use super::{Desk, item, mailed, mark_id, picture, today};
use crate::decisions::{Act, Author, Guard, Kept, MarkId, Store, now};
use crate::error::{Error, Kind, Result};
use maud::html;
use serde::Deserialize;

/// Marks in one file.
const MOST: usize = 40;
/// Marks that are offered to choose from.
const OFFERED: usize = 60;
/// Name and version of the answers' file.
pub const FORMAT: &str = "dorso.answers/1";
/// Settings that hold what was asked begin so.
const SETTING: &str = "asked ";

/// The page: what to ask, and the answers.
pub fn page(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let only = ask.query.number("picture");
    let due = desk.store().due(&today(), only)?;
    let chosen: Vec<&str> = ask.query.all("mark").collect();
    let mut marks = Vec::new();
    for id in due.iter().take(OFFERED) {
        marks.push(desk.store().mark(*id)?);
    }
    let taken = ask.query.number("taken");
    let body = html! {
        @if let Some(n) = taken { p.said { (w::answers_taken(n, ask.query.number("passed").unwrap_or(0))) } }
        section aria-labelledby="write-title" {
            h2 id="write-title" { (w::WRITE_FILE) }
            p { (w::FILE_HOW) }
            @if marks.is_empty() { p { (w::NOTHING_DUE) } } @else {
                form method="post" action="/ask" {
                    (token(desk))
                    p { label for="whom" { (w::WHOM) } " " input id="whom" name="whom" maxlength="100" required autocomplete="off"; }
                    fieldset.pick {
                        legend { (w::WHICH_MARKS) }
                        @for m in &marks {
                            @let id = m.id.to_string();
                            label.choice {
                                input type="checkbox" name="mark" value=(id) checked[chosen.contains(&id.as_str())];
                                img.tiny src=(item::crop(m, "colour")) alt="" loading="lazy";
                                span.what { strong { (id) " " (m.picture) } span.leiden { (item::transcription(m)) } }
                            }
                        }
                    }
                    button { (w::WRITE_DO) }
                }
            }
        }
        section aria-labelledby="answers-title" {
            h2 id="answers-title" { (w::TAKE_ANSWERS) }
            p { (w::ANSWERS_HOW) }
            form method="post" action="/answers" {
                (token(desk))
                p { label for="answers-file" { (w::ANSWERS_FILE) } " " input type="file" id="answers-file" accept=".json,application/json"; }
                label for="answers" { (w::ANSWERS_TEXT) }
                textarea id="answers" name="answers" rows="5" required spellcheck="false" {}
                button { (w::TAKE_IN) }
            }
        }
    };
    let shown = Page {
        title: w::ASK_SOMEONE.into(),
        place: Place::Ask,
        scripts: &["bring.js"],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// Writes the file and records that somebody is asked.
pub fn write(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let whom: String = ask.form.get("whom").chars().take(100).collect();
    if whom.is_empty() {
        return Err(usage(w::WHOM, w::NOBODY_NAMED, w::NAME_SOMEBODY));
    }
    let ids = ask
        .form
        .all("mark")
        .map(mark_id)
        .collect::<Result<Vec<MarkId>>>()?;
    if ids.is_empty() || ids.len() > MOST {
        return Err(usage(w::WHICH_MARKS, w::NONE_OR_TOO_MANY, w::CHOOSE_UP_TO));
    }
    let mut questions = Vec::new();
    for id in &ids {
        let mark = desk.store().mark(*id)?;
        let photograph = picture::photograph(desk, mark.photograph)?;
        questions.push(mailed::question(desk, &mark, &photograph)?);
    }
    let letter = super::random_word()?;
    let file = mailed::file(&whom, &desk.by, &letter, &questions);
    let asked: Vec<String> = ids.iter().map(MarkId::to_string).collect();
    desk.store()
        .set(&format!("{SETTING}{letter}"), &asked.join(" "))?;
    for id in ids {
        let act = Act::Ask { whom: whom.clone() };
        desk.store().decide(id, &act, &desk.author(""))?;
    }
    Ok(Reply::Download {
        kind: "text/html; charset=utf-8",
        name: format!("questions-{}.html", &letter[..8]),
        bytes: file.into_bytes(),
    })
}

/// The answers as the mailed file writes them.
#[derive(Debug, Deserialize)]
struct Answers {
    format: String,
    letter: String,
    by: String,
    answers: Vec<OneAnswer>,
}

#[derive(Debug, Deserialize)]
struct OneAnswer {
    mark: String,
    #[serde(default)]
    reading: String,
    #[serde(default)]
    unreadable: bool,
    #[serde(default)]
    remark: String,
}

/// Takes answers in, each as a decision of the one who gave it, each only once.
pub fn answers(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let text = ask.form.get("answers");
    let wrong = |what: String| {
        Error::new(
            Kind::Text,
            w::TAKE_ANSWERS,
            what,
            "choose the file that the other person sent back, unchanged",
        )
    };
    let given: Answers = serde_json::from_str(text)
        .map_err(|e| wrong(format!("this is no file of answers ({e})")))?;
    if given.format != FORMAT {
        return Err(wrong(format!("its format is not {FORMAT}")));
    }
    let by: String = given.by.trim().chars().take(100).collect();
    if by.is_empty() {
        return Err(wrong("it doesn't say who answers".into()));
    }
    let letter = &given.letter;
    if letter.len() != 32 || !letter.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(wrong("it doesn't say which questions it answers".into()));
    }
    let asked = desk
        .store()
        .setting(&format!("{SETTING}{letter}"))?
        .ok_or_else(|| wrong("this store never asked these questions".into()))?;
    let asked: Vec<&str> = asked.split(' ').collect();
    // All are looked at before one is kept, so that a fault leaves none half taken.
    let mut acts = Vec::new();
    for a in given.answers.iter().take(MOST) {
        if !asked.contains(&a.mark.as_str()) {
            return Err(unclear(&a.mark, "this mark wasn't asked about"));
        }
        let lines = match (a.unreadable, a.reading.trim()) {
            (true, _) => Vec::new(),
            // A field left blank is no answer.
            (false, "") => continue,
            (false, text) => typed(text)?,
        };
        acts.push((mark_id(&a.mark)?, lines, &a.remark));
    }
    let (mut taken, mut passed) = (0, 0);
    for (id, lines, remark) in acts {
        let author = Author {
            by: by.clone(),
            at: now(),
            why: remark.trim().chars().take(500).collect(),
        };
        let guard = Guard {
            seen: None,
            // Taken in twice, it counts once.
            once: Some(format!("{letter} {id} {by}")),
        };
        let act = Act::Answer {
            lines,
            blind: false,
        };
        match desk.store().decide_once(id, &act, &author, &guard)? {
            Kept::Now(_) => taken += 1,
            _ => passed += 1,
        }
    }
    Ok(Reply::See(format!("/ask?taken={taken}&passed={passed}")))
}
