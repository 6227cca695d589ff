//! What all pages have in common: head, way through the desk, place for messages, help.

use super::words as w;
use super::{Desk, assets};
use crate::error::{Error, Kind};
use maud::{DOCTYPE, Markup, html};

/// A page.
pub struct Page<'a> {
    /// Title of the window and heading.
    pub title: String,
    /// Which entry of the way through the desk it belongs to.
    pub place: Place,
    /// Scripts beside the common one.
    pub scripts: &'a [&'a str],
    /// Keys of this page with what they do, for the help.
    pub keys: &'a [(&'a str, &'a str)],
    /// Content.
    pub body: Markup,
}

/// Entries of the way through the desk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    Pictures,
    Find,
    Settle,
    Bring,
    Ask,
    Second,
    None,
}

const PLACES: [(Place, &str, &str); 6] = [
    (Place::Pictures, "/", w::PICTURES),
    (Place::Find, "/find", w::FIND),
    (Place::Settle, "/settle", w::SETTLE),
    (Place::Bring, "/bring", w::BRING),
    (Place::Ask, "/ask", w::ASK_SOMEONE),
    (Place::Second, "/second", w::SECOND),
];

/// What every page's head holds.
fn titled(title: &str) -> Markup {
    html! {
        meta charset="utf-8";
        meta name="viewport" content="width=device-width, initial-scale=1";
        title { (title) " · Dorso" }
    }
}

/// Lays a page out.
pub fn page(desk: &Desk, page: Page) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                (titled(&page.title))
                meta name="dorso-token" content=(desk.token);
                link rel="stylesheet" href=(assets::address("desk.css"));
                script type="module" src=(assets::address("desk.js")) {}
                @for s in page.scripts {
                    script type="module" src=(assets::address(s)) {}
                }
            }
            body {
                a.skip href="#content" { (w::TO_CONTENT) }
                header.top {
                    nav aria-label=(w::WAY) {
                        ul {
                            @for (place, to, words) in PLACES {
                                li { a href=(to) aria-current=[(place == page.place).then_some("page")] { (words) } }
                            }
                        }
                    }
                    p.who { (w::DECIDING_AS) " " strong { (desk.by) } }
                    button type="button" id="open-help" { (w::HELP) " " kbd { "h" } }
                }
                p id="trouble" role="alert" hidden {}
                p id="told" role="status" {}
                main id="content" {
                    h1 tabindex="-1" { (page.title) }
                    (page.body)
                }
                (help(page.place, page.keys))
            }
        }
    }
}

fn help(place: Place, keys: &[(&str, &str)]) -> Markup {
    let common: &[(&str, &str)] = &[
        ("h", w::K_HELP),
        ("/", w::K_FIND),
        ("#", w::K_NUMBERS),
        ("Esc", w::K_ESCAPE),
    ];
    html! {
        dialog id="help" aria-labelledby="help-title" {
            h2 id="help-title" { (w::HELP) }
            @for p in about(place) { p { (p) } }
            h3 { (w::KEYS_OF_PAGE) }
            dl.keys {
                @for (key, does) in keys.iter().chain(common) {
                    div { dt { kbd { (key) } } dd { (does) } }
                }
            }
            p { label { input type="checkbox" id="numbers-on"; " " (w::NUMBERS_ON) " " kbd { "#" } } }
            p { label { input type="checkbox" id="keys-on" checked; " " (w::KEYS_ON) } }
            p { (w::KEYS_WHY) }
            button type="button" id="close-help" { (w::CLOSE) }
        }
    }
}

/// What a page is for, a few sentences.
fn about(place: Place) -> &'static [&'static str] {
    match place {
        Place::Pictures => w::ABOUT_PICTURES,
        Place::Find => w::ABOUT_FIND,
        Place::Settle => w::ABOUT_SETTLE,
        Place::Bring => w::ABOUT_BRING,
        Place::Ask => w::ABOUT_ASK,
        Place::Second => w::ABOUT_SECOND,
        Place::None => &[],
    }
}

/// The hidden field without which no form is taken.
pub fn token(desk: &Desk) -> Markup {
    html! { input type="hidden" name="token" value=(desk.token); }
}

/// The hidden fields of a form that decides: the token, the last entry of the journal that the page saw, and room for
/// the word by which it is kept once.
pub fn guarded(desk: &Desk, newest: i64) -> Markup {
    html! {
        (token(desk))
        input type="hidden" name="seen" value=(newest);
        input type="hidden" name="once" value="";
    }
}

/// A page for a person to whom nothing of the desk may be shown: words alone, for style and scripts ask for the key.
pub fn bare(why: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                (titled(w::NOT_SHOWN))
            }
            body {
                main {
                    h1 { (w::NOT_SHOWN) }
                    p { (why) }
                    p { (w::NOT_SHOWN_HOW) }
                }
            }
        }
    }
}

/// A page that tells why something wasn't done.
pub fn refusal(desk: &Desk, error: &Error) -> (u16, Markup) {
    let status = match error.kind {
        Kind::Usage | Kind::Text => 400,
        Kind::Store => 409,
        _ => 422,
    };
    let body = html! {
        p.refused { strong { (error.place) } ": " (error.what) "." }
        p { (capital(&error.next)) "." }
        p { a href="/" { (w::BACK_TO_PICTURES) } }
    };
    let shown = Page {
        title: w::NOT_DONE.into(),
        place: Place::None,
        scripts: &[],
        keys: &[],
        body,
    };
    (status, page(desk, shown))
}

/// The text with a capital at its beginning.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| {
        c.to_uppercase().collect::<String>() + chars.as_str()
    })
}
