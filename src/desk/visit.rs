//! A visit: the pictures that were photographed at it, their lot numbers, and what is urgent before the sale.

use super::page::{Page, Place, page as lay, token};
use super::take::{self, Missing};
use super::web::{Ask, Reply, coded, number};
use super::words as w;
use super::{Desk, item, today};
use crate::decisions::{Picture, Visit};
use crate::error::Result;
use jiff::civil::Date;
use maud::{Markup, html};
use serde_json::json;

/// A picture of a visit as it stands.
struct Visited {
    picture: Picture,
    lot: String,
    missing: Vec<Missing>,
    due: usize,
    read: (usize, usize),
}

impl Visited {
    /// What can't be made up for once the picture is gone comes first.
    fn urgency(&self) -> (bool, bool) {
        (self.missing.is_empty(), self.due == 0)
    }
}

/// All visits.
pub fn all(desk: &Desk) -> Result<Reply> {
    let visits = desk.store().visits()?;
    let body = html! {
        p.lead { a.go href="/take" { (w::TAKE_PHOTOGRAPHS) } }
        @if visits.is_empty() { p { (w::NO_VISITS) } }
        ul.visits {
            @for v in &visits {
                li { a href=(format!("/visit/{}", v.id)) { (called(v)) } }
            }
        }
    };
    let shown = Page {
        title: w::VISITS.into(),
        place: Place::Bring,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// What a visit is called: its name, else its day.
fn called(v: &Visit) -> String {
    if v.name.is_empty() {
        w::visit_of(day(&v.at))
    } else {
        v.name.clone()
    }
}

fn day(at: &str) -> &str {
    at.get(..10).unwrap_or(at)
}

/// One visit.
pub fn page(desk: &Desk, id: i64) -> Result<Reply> {
    let (visit, visited) = {
        let store = desk.store();
        (store.visit(id)?, store.visited(id)?)
    };
    let mut all: Vec<Visited> = Vec::new();
    for (picture, lot) in visited {
        let stand = take::stand(desk, picture)?;
        all.push(Visited {
            picture: desk.picture(picture)?,
            lot,
            missing: stand.missing,
            due: stand.due,
            read: stand.read,
        });
    }
    all.sort_by_key(Visited::urgency);
    let again = all.iter().filter(|v| !v.missing.is_empty()).count();
    let due: usize = all.iter().map(|v| v.due).sum();
    let body = html! {
        p.lead {
            (w::count_pictures(all.len())) ". " (w::again(again)) " "
            @if due > 0 { (w::count_due(due)) ". " }
            (before(&visit))
        }
        form.row.screen method="post" action=(format!("/visit/{id}")) {
            (token(desk))
            p { label for="visit-name" { (w::VISIT_NAME) } " " input.wide id="visit-name" name="name" maxlength="200" value=(visit.name) autocomplete="off"; }
            p { label for="sale-day" { (w::SALE_DAY) } " " input id="sale-day" type="date" name="sale_day" value=(visit.sale_day); }
            button { (w::SAVE) }
        }
        p.ways.screen {
            a.go href=(format!("/take?visit={id}")) { (w::TAKE_PHOTOGRAPHS) } " "
            button type="button" id="print" { (w::PRINT) }
        }
        @for v in &all { (one(desk, id, v)) }
    };
    let shown = Page {
        title: called(&visit),
        place: Place::Bring,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// How long it is until the sale.
fn before(visit: &Visit) -> String {
    let (Ok(sale), Ok(now)) = (visit.sale_day.parse::<Date>(), today().parse::<Date>()) else {
        return String::new();
    };
    let days = now.until(sale).map_or(0, |s| s.get_days());
    w::sale_in(&visit.sale_day, days)
}

fn one(desk: &Desk, visit: i64, v: &Visited) -> Markup {
    let id = v.picture.id;
    let first = v.picture.photographs.first();
    html! {
        article.visited {
            @if let Some(p) = first {
                img src=(format!("/whole/{}/{}.jpg", p.id, item::SMALL)) alt=(w::back_of(&v.picture.name));
            }
            div {
                h2 { a href=(format!("/picture/{id}")) { (v.picture.name) } @if !v.lot.is_empty() { " · " (w::lot(&v.lot)) } }
                p { (w::read_well(v.read)) }
                @if v.missing.is_empty() { p { (w::NOTHING_MISSING) } } @else {
                    p { strong { (w::marks_missing(v.missing.len())) } }
                    ul { @for m in &v.missing { li { (m.mark.id) " " (item::transcription(&m.mark)) ": " (m.words.join(" ")) } } }
                }
                p.ways {
                    @if v.due > 0 { a.go href=(format!("/settle?picture={id}")) { (w::count_due(v.due)) } " " }
                    a href=(format!("/picture/{id}/note")) { (w::NOTE) } " "
                    a href=(format!("/picture/{id}/sheet")) { (w::SHEET) } " "
                    a.screen href=(format!("/take?visit={visit}&picture={}", coded(&v.picture.name))) { (w::MORE_PHOTOGRAPHS) }
                }
                form.row.screen method="post" action=(format!("/visit/{visit}")) {
                    (token(desk))
                    input type="hidden" name="picture" value=(id);
                    label { (w::LOT) " " input name="lot" maxlength="60" value=(v.lot) autocomplete="off"; } " "
                    button { (w::SAVE) }
                }
            }
        }
    }
}

/// Begins a visit (number 0), or keeps what the person says of it or of a picture's lot number.
pub fn keep(desk: &Desk, id: i64, ask: &Ask) -> Result<Reply> {
    let author = desk.author("");
    let id = match id {
        0 => desk.store().begin_visit(&author)?,
        id => id,
    };
    let picture = ask.form.get("picture");
    if !picture.is_empty() {
        let lot = ask.form.get("lot");
        desk.store()
            .add_visited(id, number(picture)?, Some(lot), &author)?;
    } else if ask.form.all("name").next().is_some() {
        let (name, day) = (ask.form.get("name"), ask.form.get("sale_day"));
        desk.store().word_visit(id, name, day, &author)?;
    }
    if ask.by_script {
        return Ok(Reply::Json(json!({ "visit": id })));
    }
    Ok(Reply::See(format!("/visit/{id}")))
}
