//! One mark under the lights of all photographs of the picture that show it.

use super::web::{Reply, number, unclear};
use super::words as w;
use super::{Desk, item, mark_id, picture};
use crate::decisions::{KeptMark, KeptPhotograph, Picture, Store};
use crate::error::Result;
use maud::{Markup, html};
use serde_json::json;

/// The slider, where the picture has more than one photograph. What it moves through is looked for
/// when it is first wanted.
pub fn slider(mark: &KeptMark, picture: &Picture) -> Markup {
    html! {
        @if picture.photographs.len() > 1 {
            div.tools.lights id="lights" data-from=(format!("/lights/{}", mark.id)) role="group" aria-label=(w::LIGHTS) {
                button type="button" id="lights-switch" aria-pressed="false" { (w::OTHER_LIGHT) " " kbd { "g" } }
                label for="light" id="light-words" hidden { (w::LIGHT) }
                input type="range" id="light" min="0" max="1" step="0.05" value="0" hidden;
                output id="light-name" for="light" {}
            }
        }
    }
}

/// The photographs that show the mark, its own first: names and addresses, as JSON.
pub fn list(desk: &Desk, id: &str) -> Result<Reply> {
    let (mark, own, others) = around(desk, id)?;
    let mut lights = vec![json!({ "name": own.name(), "src": item::crop(&mark, "colour") })];
    for (p, marks) in &others {
        if let Ok(Some(_)) = desk.photos.lit(&own, &mark, p, marks) {
            let src = format!("/light/{}/{}/{}.jpg", mark.id, mark.look().id, p.id);
            lights.push(json!({ "name": p.name(), "src": src }));
        }
    }
    Ok(Reply::Json(json!({ "lights": lights })))
}

/// The mark as another photograph shows it, laid on its own picture.
pub fn one(desk: &Desk, id: &str, other: &str) -> Result<Reply> {
    let (mark, own, others) = around(desk, id)?;
    let wanted = number(picture::before_dot(other))?;
    let nothing = || unclear("photograph", w::NOT_SEEN_THERE);
    let (p, marks) = others
        .iter()
        .find(|o| o.0.id == wanted)
        .ok_or_else(nothing)?;
    match desk.photos.lit(&own, &mark, p, marks) {
        Ok(Some(coded)) => picture::shown(Ok(coded), &p.name()),
        Ok(None) => Err(nothing()),
        Err(why) => picture::shown(Err(why), &p.name()),
    }
}

type Around = (
    KeptMark,
    KeptPhotograph,
    Vec<(KeptPhotograph, Vec<KeptMark>)>,
);

/// The mark, its photograph, and the other photographs of the picture with their marks.
fn around(desk: &Desk, id: &str) -> Result<Around> {
    let mark = desk.store().mark(mark_id(id)?)?;
    let all = desk.picture_of(mark.photograph)?;
    let marks = desk.store().marks(Some(all.id))?;
    let (own, others): (Vec<_>, Vec<_>) = all
        .photographs
        .into_iter()
        .partition(|p| p.id == mark.photograph);
    let own = own.into_iter().next();
    let own = own.ok_or_else(|| unclear("mark", "its photograph isn't known"))?;
    let others = others
        .into_iter()
        .map(|p| {
            // Where it is known which of them is this mark, no other is looked at.
            let own = marks.iter().find(|m| m.id == mark.id);
            let known = own.is_some_and(|m| m.on(p.id).is_some());
            let of = marks.iter().filter(|m| {
                let there = m.on(p.id).is_some() && m.settled.not_a_mark.is_none();
                there && (m.id == mark.id || !known)
            });
            let of = of.map(|m| m.as_on(p.id)).collect();
            (p, of)
        })
        .collect();
    Ok((mark, own, others))
}
