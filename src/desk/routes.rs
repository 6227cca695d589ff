//! What is answered to what.

use super::web::{Ask, Reply, number};
use super::words as w;
use super::{
    Desk, ask, assets, batch, bring, compare, copies, deciding, draw, entry, find, lights, mark_id,
    monogram, note, overview, page, phone, picture, second, seen,
};
use super::{settle, sheet, take, told, typing, visit};
use crate::error::{Error, Kind, Result};
use serde_json::json;

/// Answers one request; an error becomes a page (or JSON for the script) that says what to do.
pub fn answer(desk: &Desk, ask: &Ask) -> Reply {
    match route(desk, ask) {
        Ok(reply) => reply,
        Err(e) => {
            let (status, shown) = page::refusal(desk, &e);
            if ask.by_script {
                let words = e.to_string();
                Reply::JsonRefused(status, json!({ "refused": words }))
            } else {
                Reply::Refused(status, shown)
            }
        }
    }
}

fn route(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let path: Vec<&str> = ask.path.iter().map(String::as_str).collect();
    if ask.change {
        return match path[..] {
            ["mark", id, "decide"] => deciding::decide(desk, mark_id(id)?, ask),
            ["mark", id, "likened"] => compare::likened(desk, mark_id(id)?, ask),
            ["mark", id, "entry"] => typing::add_entry(desk, mark_id(id)?, ask),
            ["picture", id, "seen"] => seen::keep(desk, number(id)?, ask),
            ["picture", id, "event"] => told::event(desk, number(id)?, ask),
            ["picture", id, "text"] => told::text(desk, number(id)?, ask),
            ["picture", id, "wording"] => note::wording(desk, number(id)?, ask),
            ["beside"] => overview::beside(desk, ask),
            ["undo"] => deciding::undo(desk, ask),
            ["draw"] => draw::draw(desk, ask),
            ["part"] => draw::part(desk, ask),
            ["join"] => draw::join(desk, ask),
            ["dropped", name] => bring::dropped(desk, name, ask),
            ["bring"] => bring::folder(desk, ask),
            ["bring", "start"] => batch::start(desk, ask),
            ["bring", "stop"] => batch::stop(desk, ask),
            ["visit", id] => visit::keep(desk, number(id)?, ask),
            ["ask"] => ask::write(desk, ask),
            ["answers"] => ask::answers(desk, ask),
            ["second", id] => second::keep(desk, mark_id(id)?, ask),
            _ => Err(nothing_here()),
        };
    }
    match path[..] {
        [] => overview::page(desk, ask),
        ["compare"] => compare::page(desk, ask),
        ["laid", a, b, _] => compare::laid(desk, a, b),
        ["find"] => find::page(desk, ask),
        ["phone"] => phone::page(desk),
        ["entry"] => entry::page(desk, ask),
        ["picture", id] => picture::page(desk, number(id)?, ask),
        ["picture", id, "sheet"] => sheet::page(desk, number(id)?),
        ["picture", id, "note"] => note::page(desk, number(id)?, ask),
        ["picture", id, "note", name] => note::file(desk, number(id)?, name, ask),
        ["picture", id, "aside"] => note::aside(desk, number(id)?),
        ["settle"] => settle::first(desk, ask),
        ["settle", id] => settle::page(desk, mark_id(id)?, ask),
        ["mark", id, "copies"] => copies::page(desk, mark_id(id)?),
        ["mark", id, "fits"] => typing::fits(desk, mark_id(id)?, ask),
        ["bring"] => bring::page(desk),
        ["bring", "state"] => batch::state(desk),
        ["take"] => take::page(desk, ask),
        ["take", "state"] => take::state(desk, ask),
        ["taken", hash] => take::advice(desk, hash),
        ["visit"] => visit::all(desk),
        ["visit", id] => visit::page(desk, number(id)?),
        ["ask"] => ask::page(desk, ask),
        ["second"] => second::page(desk, ask),
        ["second", id] => second::item(desk, mark_id(id)?, ask),
        ["design", id, _] => monogram::picture(desk, number(id)?),
        ["open", _] => Ok(Reply::See("/".into())),
        ["pulse"] => Ok(Reply::Json(json!({ "newest": desk.store().newest()? }))),
        ["session"] => Ok(Reply::Json(json!({ "token": desk.token }))),
        ["crop", id, sighting, variant] => picture::crop(desk, id, sighting, variant),
        ["lights", id] => lights::list(desk, id),
        ["light", id, _, other] => lights::one(desk, id, other),
        ["whole", id, longest] => picture::whole(desk, number(id)?, longest),
        ["tile", id, level, column, row] => picture::tile(desk, number(id)?, level, column, row),
        ["assets", version, name] => assets::get(version, name).ok_or_else(nothing_here),
        _ => Err(nothing_here()),
    }
}

fn nothing_here() -> Error {
    Error::new(Kind::Usage, w::THIS_ADDRESS, w::NOTHING_HERE, w::GO_BACK)
}
