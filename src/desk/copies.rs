//! Where a copy of a mark's label may be on other pictures: shown side by side, taken over by nobody
//! but the person.

use super::page::{Page, Place, page as lay};
use super::web::Reply;
use super::words as w;
use super::{Desk, item};
use crate::decisions::{KeptMark, MarkId, Store};
use crate::error::Result;
use crate::run;
use maud::{Markup, html};

/// The mark beside those of other pictures that may be copies of it.
pub fn page(desk: &Desk, id: MarkId) -> Result<Reply> {
    let (mark, mut copies) = {
        let store = desk.store();
        let mark = store.mark(id)?;
        let copies = run::copies(&store, &mark)?;
        (mark, copies)
    };
    run::look(&mark, &mut copies);
    let found = &copies.found;
    let body = html! {
        p.ways { a href=(format!("/settle/{id}")) { (w::to_mark(&id.to_string())) } }
        (copy(&mark, &item::transcription(&mark)))
        @if found.is_empty() { p { (w::NO_COPIES) } } @else { p { (w::COPIES_HOW) } }
        @for f in found {
            @if let Some(other) = copies.marks.iter().find(|m| m.id == f.mark) {
                (copy(other, &format!("{}.", f.words())))
                p.ways {
                    a href=(format!("/compare?mark={id}&mark={}", f.mark)) { (w::SIDE_BY_SIDE) } " "
                    a href=(format!("/settle/{}", f.mark)) { (w::to_mark(&f.mark.to_string())) } }
            }
        }
    };
    let shown = Page {
        title: w::copies_of(&id.to_string()),
        place: Place::Settle,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

fn copy(mark: &KeptMark, words: &str) -> Markup {
    html! {
        figure {
            div.crop { img src=(item::crop(mark, "colour")) alt=(w::crop_words(&item::transcription(mark))); }
            figcaption { (words) }
        }
    }
}
