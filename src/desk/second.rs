//! A second reading by another person, blind: the picture alone, nothing of what is believed.

use super::deciding::{typed, usage};
use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply, coded};
use super::words as w;
use super::{Desk, item, photos, picture};
use crate::decisions::{Act, Author, KeptMark, MarkId, Store, now};
use crate::error::Result;
use maud::{Markup, html};

/// Who has read the mark as it stands, if a person has.
fn reader(desk: &Desk, mark: &KeptMark) -> Result<Option<String>> {
    let Some(held) = &mark.settled.lettering else {
        return Ok(None);
    };
    let journal = desk.store().journal_of(mark.id)?;
    let found = journal.into_iter().find(|d| d.id == held.decision);
    Ok(found.map(|d| d.author.by))
}

/// What waits for a second reading.
pub fn page(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let by = ask.query.get("by");
    let waiting = desk.store().to_read_again()?;
    let body = html! {
        p { (w::SECOND_HOW) }
        form.row method="get" action="/second" {
            label for="by" { (w::SECOND_WHO) } " "
            input id="by" name="by" value=(by) maxlength="100" required autocomplete="name"; " "
            button { (w::SECOND_START) }
        }
        p { (w::count_second(waiting.len())) }
        @if !by.is_empty() {
            ul {
                @for id in &waiting {
                    li { a href=(format!("/second/{id}?by={}", coded(by))) { (w::read_mark(&id.to_string())) } }
                }
            }
        }
    };
    let shown = Page {
        title: w::SECOND.into(),
        place: Place::Second,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// One mark, blind.
pub fn item(desk: &Desk, id: MarkId, ask: &Ask) -> Result<Reply> {
    let by = ask.query.get("by");
    if by.is_empty() {
        return Ok(Reply::See("/second".into()));
    }
    let mark = desk.store().mark(id)?;
    let photograph = picture::photograph(desk, mark.photograph)?;
    let body = html! {
        p.lead { (w::reading_as(by)) " · " (item::place(&mark, &photograph)) }
        (crop(&mark))
        form method="post" action=(format!("/second/{id}")) {
            (token(desk))
            input type="hidden" name="by" value=(by);
            label for="text" { (w::TEXT) }
            textarea id="text" name="text" rows="5" maxlength="4000" spellcheck="false" autocomplete="off" aria-describedby="text-how" {}
            p id="text-how" { (w::TEXT_HOW) }
            div.tools {
                button.go name="act" value="read" { (w::SAVE_READING) }
                button name="act" value="unreadable" formnovalidate { (w::CANT_BE_READ) }
            }
        }
    };
    let shown = Page {
        title: w::read_mark(&id.to_string()),
        place: Place::Second,
        scripts: &["settle.js"],
        keys: w::LOOK_KEYS,
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

fn crop(mark: &KeptMark) -> Markup {
    let address = |v: &str| item::crop(mark, v);
    html! {
        div.crop id="crop" {
            img id="crop-picture" src=(address("colour")) alt=(w::BLIND_CROP);
            div.loupe id="loupe" hidden tabindex="0" role="img" aria-label=(w::LOUPE_WORDS) {
                img id="loupe-picture" src="" alt="";
            }
        }
        div.tools role="group" aria-label=(w::VARIANTS) {
            @for (i, (name, words)) in photos::VARIANTS.iter().zip(w::VARIANT).enumerate() {
                button type="button" data-variant=(address(name)) aria-pressed=(if i == 0 { "true" } else { "false" }) { (words) }
            }
            button type="button" id="loupe-switch" aria-pressed="false" { (w::LOUPE) " " kbd { "m" } }
        }
    }
}

/// Keeps a second reading under its reader's name.
pub fn keep(desk: &Desk, id: MarkId, ask: &Ask) -> Result<Reply> {
    let by: String = ask.form.get("by").chars().take(100).collect();
    if by.is_empty() {
        return Err(usage(w::SECOND_WHO, w::NOBODY_NAMED, w::NAME_SOMEBODY));
    }
    let mark = desk.store().mark(id)?;
    if mark.settled.again.is_none() {
        return Err(usage(&id.to_string(), w::NOT_ASKED_AGAIN, w::GO_BACK));
    }
    let first = reader(desk, &mark)?.unwrap_or_default();
    if first.to_lowercase() == by.to_lowercase() {
        return Err(usage(&by, w::SAME_READER, w::LET_OTHER_READ));
    }
    let lines = match ask.form.get("act") {
        "unreadable" => Vec::new(),
        _ => typed(ask.form.get("text"))?,
    };
    let author = Author {
        by: by.clone(),
        at: now(),
        why: String::new(),
    };
    desk.store()
        .decide(id, &Act::Answer { lines, blind: true }, &author)?;
    Ok(Reply::See(format!("/second?by={}", coded(&by))))
}
