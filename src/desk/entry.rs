//! An entry of the lists: what it says, where that is known from, and the pictures that name it.

use super::page::{Page, Place, page as lay};
use super::web::{Ask, Reply, coded};
use super::words as w;
use super::{Desk, item};
use crate::error::{Error, Kind, Result};
use maud::html;

/// Address of an entry's page.
pub fn address(list: &str, entry: &str) -> String {
    format!("/entry?list={}&entry={}", coded(list), coded(entry))
}

/// The page.
pub fn page(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let (list, key) = (ask.query.get("list"), ask.query.get("entry"));
    let index = desk.lists()?;
    let none = || Error::new(Kind::Usage, w::THIS_ADDRESS, w::NO_SUCH_ENTRY, w::GO_BACK);
    let e = index.gazetteer.entry(list, key).ok_or_else(none)?;
    let pictures = desk.store().naming(list, key)?;
    let facts = [
        (w::OTHER_FORMS, e.variants.join(" · ")),
        (w::TRADE, e.trade.clone()),
        (w::PREMISES, e.address.clone()),
        (w::TOWN, e.town.clone()),
        (w::FIRST_YEAR, e.from.clone()),
        (w::LAST_YEAR, e.to.clone()),
        (w::SOURCE, e.source.clone()),
        (w::ANYTHING_ELSE, e.note.clone()),
    ];
    let body = html! {
        dl.facts {
            @for (name, value) in &facts {
                @if !value.is_empty() { dt { (name) } dd { (item::shown(value)) } }
            }
            @for n in e.numbers() {
                dt { (n.whose) } dd { a href=(n.address) rel="noreferrer" { (n.text) } }
            }
        }
        section aria-labelledby="named-by" {
            h2 id="named-by" { (w::NAMED_BY) }
            @if pictures.is_empty() { p { (w::NAMED_BY_NONE) } }
            ul { @for (id, name) in &pictures { li { a href=(format!("/picture/{id}")) { (item::shown(name)) } } } }
        }
    };
    let shown = Page {
        title: e.name.clone(),
        place: Place::Find,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}
