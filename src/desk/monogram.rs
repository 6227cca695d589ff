//! A monogram on its mark's page: the letters seen, who may be meant, and others of its design.

use super::web::Reply;
use super::words as w;
use super::{Desk, item, photos};
use crate::decisions::{Design, KeptMark, KeptPhotograph, MarkId, Store};
use crate::error::{Error, Kind, Result};
use crate::geometry::Quad;
use crate::marks::MarkKind;
use crate::monogram::Known;
use crate::readings::Line;
use crate::run;
use crate::run::signs::Of;
use maud::{Markup, html};
use std::sync::Arc;

/// Monograms that are shown beside it.
const ALIKE: usize = 4;

/// Looks at a mark that is said to be a monogram now.
pub fn look(desk: &Desk, id: MarkId) -> Result<()> {
    let mark = desk.store().mark(id)?;
    if mark.kind() != MarkKind::Monogram {
        return Ok(());
    }
    let (picture, index) = (desk.picture_of(mark.photograph)?, desk.lists()?);
    let on = |p: &KeptPhotograph, outline: &Quad, lines: &[Line]| {
        let levels = desk.photos.levels(p).ok();
        let sign = |l: Arc<photos::Levels>| run::signs::seen(&l.0[0], outline, lines, &index);
        levels.map(sign).transpose()
    };
    run::signs::look(&mut desk.store(), &mark, &picture.photographs, on)?;
    Ok(())
}

/// What was seen of a monogram; nothing where the mark is something else.
pub fn section(desk: &Desk, mark: &KeptMark) -> Result<Markup> {
    if mark.kind() != MarkKind::Monogram {
        return Ok(html! {});
    }
    let Some(sign) = &mark.latest().sign else {
        return Ok(html! { p.hint { (w::NOT_LOOKED_AT) } });
    };
    let seen = &sign.seen;
    let index = desk.lists()?;
    let known = Known::default();
    let letters = seen.letters_meant()?;
    // How many fit and what would tell most: who is told beside the reading
    let who = index.artists().map(|(_, all)| all.who(&letters, &known, 0));
    let others = run::signs::likest(&desk.store(), seen, Some(mark.id), ALIKE)?;
    Ok(html! {
        section.monogram aria-labelledby="monogram-title" {
            h2 id="monogram-title" { (w::LETTERS_SEEN) }
            ul.sets {
                @for s in seen.told() { li { strong { (s.letters) } ": " span.chance { (item::chance(s.chance)) } } }
                li { (w::OTHER_LETTERS) ": " span.chance { (item::chance(seen.other())) } }
            }
            p {
                @if let Some(who) = &who { (w::who_fit(who.fit)) " " }
                (w::LETTERS_IDENTIFY_NOBODY)
            }
            @if let Some(f) = who.as_ref().and_then(|who| who.telling.first()) {
                p.hint { (w::tells_most(f.fact.told(), f.then.round().max(1.0), f.now.round().max(1.0))) }
            }
            @if !others.is_empty() {
                details.alike {
                    summary { (w::ALIKE) @if let Some(p) = others[0].same { ": " span.chance { (w::SAME_DESIGN) " " (item::chance(p)) } } }
                    div.pair {
                        figure { img src=(item::crop(mark, "colour")) alt=(w::THIS_ONE); figcaption { (w::THIS_ONE) } }
                        @for o in &others { @match &o.of { Of::Mark(m) => (of_mark(m)), Of::Collection(d) => (of_collection(d)) } }
                    }
                }
            }
        }
    })
}

fn of_mark(mark: &KeptMark) -> Markup {
    let artists = mark.named_entries();
    html! {
        figure {
            img src=(item::crop(mark, "colour")) alt=(w::crop_words(&item::transcription(mark)));
            figcaption {
                a href=(format!("/settle/{}", mark.id)) { (w::to_mark(&mark.id.to_string())) } " · " (mark.picture)
                @if !artists.is_empty() { ": " (artists.join(", ")) }
            }
        }
    }
}

fn of_collection(d: &Design) -> Markup {
    html! {
        figure {
            img src=(format!("/design/{}/{}.png", d.id, &d.sha256[..12.min(d.sha256.len())])) alt=(d.artist);
            figcaption { (item::shown(&d.artist)) " (" (item::shown(&d.source)) ")" }
        }
    }
}

/// The picture of a monogram of the collection.
pub fn picture(desk: &Desk, id: i64) -> Result<Reply> {
    let design = desk
        .store()
        .design(id)?
        .ok_or_else(|| Error::new(Kind::Usage, w::THIS_ADDRESS, w::NOTHING_HERE, w::GO_BACK))?;
    Ok(Reply::Bytes {
        kind: "image/png",
        bytes: Arc::new(design.picture),
        stays: true,
    })
}
