//! What a person knows of the picture's way: what befell it, and texts of provenance that exist.

use super::Desk;
use super::deciding::usage;
use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply};
use super::words as w;
use crate::decisions::{Deed, EventHeld, Happening, Sight, Store};
use crate::error::Result;
use crate::note::told::{self, ToldLink};
use maud::{Markup, html};

/// Longest text of provenance that is taken in here, letters.
const MOST: usize = 100_000;

/// The forms: for what befell the picture, and for a text.
pub fn forms(desk: &Desk, id: i64) -> Markup {
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
        details.entry.screen id="told-text" {
            summary { (w::NEW_TEXT) }
            (text_form(desk, id, "", ""))
        }
    }
}

fn text_form(desk: &Desk, id: i64, text: &str, source: &str) -> Markup {
    html! {
        form method="post" action=(format!("/picture/{id}/text")) {
            (token(desk))
            div.row {
                label for="text" { (w::TEXT_OF_PROVENANCE) }
                textarea id="text" name="text" rows="6" required spellcheck="false" { (text) }
            }
            p { label for="source" { (w::TEXT_SOURCE) } " " input id="source" name="source" value=(source) maxlength="300" autocomplete="off"; }
            div.tools {
                button name="deed" value="look" { (w::LOOK_AT_TEXT) } " "
                @if !text.is_empty() { button.go name="deed" value="keep" { (w::KEEP_TEXT) } }
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

/// Shows how a text is taken apart, or keeps it.
pub fn text(desk: &Desk, id: i64, ask: &Ask) -> Result<Reply> {
    let (text, source) = (ask.form.get("text"), ask.form.get("source"));
    if text.is_empty() {
        return Err(usage(w::TEXT_OF_PROVENANCE, w::EMPTY, w::PASTE_TEXT));
    }
    if text.chars().count() > MOST {
        return Err(usage(
            w::TEXT_OF_PROVENANCE,
            w::TEXT_TOO_LONG,
            w::ONE_PICTURE,
        ));
    }
    if ask.form.get("deed") != "keep" {
        return look(desk, id, text, source);
    }
    if source.is_empty() {
        return Err(usage(w::TEXT_OF_PROVENANCE, w::NO_SOURCE, w::GIVE_SOURCE));
    }
    let sight = Sight::Provenance {
        text: text.replace("\r\n", "\n"),
        source: source.chars().take(300).collect(),
    };
    let author = desk.author("");
    desk.store().observe(id, &sight, &author)?;
    Ok(Reply::See(format!("/picture/{id}/note#provenance")))
}

/// The text beside what was understood of it; nothing is kept yet.
fn look(desk: &Desk, id: i64, text: &str, source: &str) -> Result<Reply> {
    let picture = desk.picture(id)?;
    let links = told::links(text);
    let left = links.iter().filter(|l| l.is_text()).count();
    let body = html! {
        p { (w::text_taken_apart(links.len(), left)) }
        (beside(&links))
        (text_form(desk, id, text, source))
        p { a href=(format!("/picture/{id}/note")) { (w::LEAVE_TEXT) } }
    };
    let shown = Page {
        title: w::text_of(&picture.name),
        place: Place::Pictures,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

fn beside(links: &[ToldLink]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(w::HOW_UNDERSTOOD) {
            table {
                thead { tr { th scope="col" { (w::AS_IT_STANDS) } th scope="col" { (w::AS_UNDERSTOOD) } } }
                tbody {
                    @for l in links {
                        tr.left[l.is_text()] {
                            td { (l.text) }
                            td { @for (what, value) in told::rows(l) { span.row { span.quiet { (what) ": " } (value) } br; } }
                        }
                    }
                }
            }
        }
    }
}
