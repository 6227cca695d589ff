//! The places of a picture where nothing could be read and likelier than not nothing stands: one question.

use super::words as w;
use super::{Desk, item, today};
use crate::decisions::{Asked, KeptMark, MarkId};
use crate::error::Result;
use maud::{Markup, html};

/// The places that are asked with this one; none where something else is asked.
///
/// # Errors
/// `Kind::Store` if they can't be read.
pub fn with(desk: &Desk, mark: &KeptMark, asked: &Asked) -> Result<Vec<KeptMark>> {
    if *asked != Asked::Places {
        return Ok(Vec::new());
    }
    desk.store().places_beside(&today(), mark)
}

/// The other places, each with its picture and the way to its own page.
pub fn others(with: &[KeptMark]) -> Markup {
    let ids: Vec<String> = with.iter().map(|m| m.id.to_string()).collect();
    html! {
        @if !with.is_empty() {
            section.sightings aria-labelledby="places-title" {
                h2 id="places-title" { (w::PLACES_WITH) }
                p.hint { (w::PLACES_HOW) }
                ul.thumbs {
                    @for m in with {
                        li {
                            a href=(format!("/settle/{}", m.id)) {
                                img src=(item::crop(m, "colour")) alt=(w::place_shown(&m.id.to_string())) loading="lazy";
                            }
                            p { (m.id) }
                        }
                    }
                }
            }
            input type="hidden" form="decide" name="with" value=(ids.join(","));
        }
    }
}

/// The marks of a form that are said to be none together with the one that it is about.
pub fn named(field: &str) -> Option<Vec<MarkId>> {
    let each = field.split(',').filter(|f| !f.is_empty());
    each.map(MarkId::parse).collect()
}
