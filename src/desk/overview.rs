//! All pictures with how much of each is settled.

use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply, coded};
use super::words as w;
use super::{Desk, item, today};
use crate::decisions::{Picture, Tally};
use crate::error::Result;
use maud::{Markup, html};

/// Pictures on one page.
const MOST: usize = 40;

/// The page.
pub fn page(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let wanted = ask.query.get("name").to_lowercase();
    let first = ask.query.number("from").unwrap_or(0).max(0) as usize;
    let store = desk.store();
    let (tally, beside) = (store.tally(&today())?, store.weighs_beside()?);
    let names = store.names()?;
    let found = names
        .iter()
        .filter(|p| p.1.to_lowercase().contains(&wanted));
    let found: Vec<i64> = found.map(|p| p.0).collect();
    let some = found.iter().skip(first).take(MOST);
    let some = some.map(|id| store.picture(*id));
    let some: Vec<Option<Picture>> = some.collect::<Result<_>>()?;
    drop(store);
    let all = names.len();
    let due: usize = tally.values().map(|t| t.due).sum();
    let body = html! {
        p.lead {
            (w::count_pictures(all)) ". "
            @if due > 0 {
                (w::count_due(due)) ". "
                a.go href="/settle" { (w::SETTLE_FIRST) }
            } @else if all > 0 {
                (w::NOTHING_DUE)
            }
        }
        @if all == 0 {
            p { (w::NO_PICTURES) " " a.go href="/bring" { (w::BRING) } }
        } @else {
            form.find method="get" action="/" role="search" {
                label for="name" { (w::FIND_PICTURE) }
                input id="name" name="name" value=(ask.query.get("name")) maxlength="200";
                button { (w::FIND) }
            }
            @if found.is_empty() { p { (w::NO_SUCH_PICTURE) } }
            ul.pictures {
                @for p in some.iter().flatten() {
                    (entry(p, &tally.get(&p.id).copied().unwrap_or_default()))
                }
            }
            (pages(found.len(), first, ask.query.get("name")))
            (switch(desk, beside))
        }
    };
    let shown = Page {
        title: w::PICTURES.into(),
        place: Place::Pictures,
        scripts: &["saving.js"],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// Whether marks are weighed beside the rest of their picture, and the way to change that.
fn switch(desk: &Desk, on: bool) -> Markup {
    html! {
        form method="post" action="/beside" {
            (token(desk))
            p {
                (if on { w::BESIDE_ON } else { w::BESIDE_OFF }) " "
                button name="beside" value=(if on { "off" } else { "on" }) {
                    (if on { w::BESIDE_STOP } else { w::BESIDE_GO })
                }
            }
        }
    }
}

/// Switches weighing beside the rest of the picture.
pub fn beside(desk: &Desk, ask: &Ask) -> Result<Reply> {
    desk.store().weigh_beside(ask.form.get("beside") != "off")?;
    desk.warm.changed();
    Ok(Reply::See("/".into()))
}

fn entry(p: &Picture, t: &Tally) -> Markup {
    let decided = t.settled + t.clear + t.none;
    html! {
        li.picture {
            @if let Some(first) = p.photographs.first() {
                img src=(format!("/whole/{}/{}.jpg", first.id, item::SMALL)) alt="" loading="lazy"
                    width=(first.width) height=(first.height);
            }
            div {
                h2 { a href=(format!("/picture/{}", p.id)) { (p.name) } }
                p { (w::count_photographs(p.photographs.len())) ", " (w::count_marks(t.all())) }
                p {
                    meter id=(format!("m{}", p.id)) min="0" max=(t.all().max(1)) value=(decided)
                        aria-label=(w::settled_of(decided, t.all())) {}
                    " " (w::settled_of(decided, t.all()))
                }
                @if t.waiting > 0 { p { (w::count_waiting(t.waiting)) } }
                p.ways {
                    @if t.due > 0 {
                        a href=(format!("/settle?picture={}", p.id)) aria-label=(w::settle_of(t.due, &p.name)) {
                            (w::count_due(t.due))
                        }
                        " "
                    }
                    a href=(format!("/picture/{}/note", p.id)) aria-label=(w::note_of(&p.name)) { (w::NOTE) }
                }
            }
        }
    }
}

fn pages(found: usize, first: usize, name: &str) -> Markup {
    let to = |from: usize| format!("/?name={}&from={from}", coded(name));
    html! {
        @if found > MOST {
            nav.pages aria-label=(w::MORE_PICTURES) {
                @if first > 0 {
                    a href=(to(first.saturating_sub(MOST))) { (w::EARLIER) }
                    " "
                }
                span { (w::range(first + 1, (first + MOST).min(found), found)) }
                @if first + MOST < found {
                    " "
                    a href=(to(first + MOST)) { (w::LATER_ONES) }
                }
            }
        }
    }
}
