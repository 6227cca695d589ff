//! One picture: its photographs with the marks outlined, to be looked at closely and drawn on.

use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply, number, unclear};
use super::words as w;
use super::{Desk, item, mark_id, note, seen, today};
use crate::decisions::{Bearer, Item, KeptMark, KeptPhotograph, Picture, Placed, Store, queue};
use crate::error::{Error, Kind, Result};
use crate::geometry::Quad;
use crate::marks::MarkKind;
use crate::note::heading;
use item::Look;
use maud::{Markup, html};
use std::collections::HashMap;

/// Longest sides at which a whole photograph is handed out, px.
const SIDES: [u32; 2] = [item::SMALL, 1600];

/// The page.
pub fn page(desk: &Desk, id: i64, ask: &Ask) -> Result<Reply> {
    let picture = desk.picture(id)?;
    let (marks, places) = {
        let store = desk.store();
        (store.marks(Some(id))?, store.places(id)?)
    };
    let items = queue(&marks, &today());
    let wanted = ask.query.number("photograph");
    let shown = picture
        .photographs
        .iter()
        .find(|p| Some(p.id) == wanted)
        .or_else(|| ground(&picture, &places));
    let due = items.iter().filter(|i| i.state.is_due()).count();
    let body = html! {
        p.ways {
            @if due > 0 {
                a.go href=(format!("/settle?picture={id}")) { (w::count_due(due)) }
                " "
            }
            a href=(format!("/picture/{id}/note")) { (w::NOTE) } " "
            a href=(format!("/picture/{id}/sheet")) { (w::SHEET) }
        }
        @if picture.photographs.len() > 1 {
            nav aria-label=(w::PHOTOGRAPHS) {
                ul.photographs {
                    @for p in &picture.photographs {
                        li {
                            a href=(format!("/picture/{id}?photograph={}", p.id))
                                aria-current=[(Some(p.id) == shown.map(|s| s.id)).then_some("true")] { (p.name()) }
                        }
                    }
                }
            }
        }
        @if let Some(p) = shown {
            div.split {
                section aria-labelledby="back-title" {
                    h2 id="back-title" { (w::back_of(&p.name())) }
                    (placed(p, &picture, &places))
                    (viewer(p, &items, &places))
                    (legend())
                    (drawing(desk, p))
                }
                section aria-labelledby="marks-title" {
                    h2 id="marks-title" { (w::ALL_MARKS) }
                    (list(&items, &picture))
                    (note::dates(&marks))
                }
            }
        }
        (seen::section(desk, id)?)
    };
    let page = Page {
        title: picture.name.clone(),
        place: Place::Pictures,
        scripts: &["viewer.js", "draw.js"],
        keys: w::VIEWER_KEYS,
        body,
    };
    Ok(Reply::Page(lay(desk, page)))
}

/// The photograph that the most others lie on, else the first.
fn ground<'a>(picture: &'a Picture, places: &HashMap<i64, Placed>) -> Option<&'a KeptPhotograph> {
    let lie_on = |p: &KeptPhotograph| places.values().filter(|l| l.ground == p.id).count();
    // Of equals the first: `max_by_key` would take the last
    picture.photographs.iter().rev().max_by_key(|p| lie_on(p))
}

/// The photograph under a glass: the script lays tiles over the whole picture as it comes nearer.
fn viewer(p: &KeptPhotograph, items: &[Item], places: &HashMap<i64, Placed>) -> Markup {
    let own: Vec<(&Item, Quad, bool)> = items
        .iter()
        .filter_map(|i| match i.mark.on(p.id) {
            Some(s) => Some((i, s.seen().outline, true)),
            None => Some((i, projected(i.mark, p, places)?, false)),
        })
        .collect();
    let size = p.width.max(p.height) / 45;
    html! {
        div.viewer id="viewer" data-photograph=(p.id) data-width=(p.width) data-height=(p.height)
            tabindex="0" role="group" aria-label=(w::viewer_words(&p.name())) {
            div.sheet id="sheet" {
                img.base src=(format!("/whole/{}/1600.jpg", p.id)) alt=(w::photograph_with_marks(&p.name(), own.len()))
                    width=(p.width) height=(p.height);
                div.tiles id="tiles" aria-hidden="true" {}
                svg id="outlines" viewBox=(format!("0 0 {} {}", p.width, p.height)) {
                    @for (i, outline, here) in &own {
                        @let look = Look::of(&i.state);
                        @let b = outline.bounds();
                        @let far = if *here { "" } else { " elsewhere" };
                        @let how = if *here { look.words().to_owned() } else { format!("{}, {}", look.words(), w::FROM_OTHERS) };
                        a href=(format!("/settle/{}", i.mark.id)) data-mark=[here.then_some(i.mark.id)]
                            aria-label=(w::outline_words(&i.mark.id.to_string(), heading(i.mark.kind()), &how)) {
                            polygon.under points=(item::corners(outline)) {}
                            polygon class=(format!("line {}{far}", look.class())) points=(item::corners(outline)) {}
                            text x=(b.x.max(0)) y=((b.y - size as i32 / 4).max(size as i32)) font-size=(size) { (i.mark.id) }
                        }
                    }
                }
            }
        }
        p.tools role="group" aria-label=(w::ZOOM) {
            button type="button" data-do="in" { (w::NEARER) " " kbd { "+" } }
            button type="button" data-do="out" { (w::FARTHER) " " kbd { "-" } }
            button type="button" data-do="whole" { (w::WHOLE) " " kbd { "0" } }
        }
    }
}

fn legend() -> Markup {
    html! {
        ul.legend aria-label=(w::LINES_MEAN) {
            @for look in [Look::Due, Look::Waiting, Look::Clear, Look::Settled, Look::None] {
                li {
                    svg viewBox="0 0 60 24" aria-hidden="true" {
                        polygon.under points="4,4 56,4 56,20 4,20" {}
                        polygon class=(format!("line {}", look.class())) points="4,4 56,4 56,20 4,20" {}
                    }
                    " " (look.words())
                }
            }
        }
    }
}

/// Where a mark that isn't found on a photograph would lie there by the plan, if it would lie within.
fn projected(mark: &KeptMark, p: &KeptPhotograph, places: &HashMap<i64, Placed>) -> Option<Quad> {
    let to = places.get(&p.id)?;
    let back = to.to_plan.inverse()?;
    let from = mark.sightings.iter().find_map(|s| {
        let place = places.get(&s.photograph)?;
        (place.ground == to.ground).then_some((s.seen().outline, place))
    })?;
    let map = back.after(&from.1.to_plan)?;
    let outline = Quad(from.0.0.map(|c| map.apply(c)));
    let middle = outline.centre();
    let (w, h) = (f64::from(p.width), f64::from(p.height));
    (middle.x > 0.0 && middle.y > 0.0 && middle.x < w && middle.y < h).then_some(outline)
}

/// Where the photograph lies on the plan of the back.
fn placed(p: &KeptPhotograph, picture: &Picture, places: &HashMap<i64, Placed>) -> Markup {
    let several = picture.photographs.len() > 1;
    let place = places.get(&p.id);
    let ground = place.and_then(|l| picture.photographs.iter().find(|g| g.id == l.ground));
    html! {
        @match (place, ground) {
            (Some(l), Some(g)) if g.id != p.id => p.hint { (w::placed_words(&g.name(), l.error_px)) },
            (None, _) if several && !places.is_empty() => p.hint { (w::UNPLACED) },
            _ => {}
        }
    }
}

/// Every mark once, with the photographs that show it.
fn list(items: &[Item], picture: &Picture) -> Markup {
    let mut own: Vec<&Item> = items.iter().collect();
    own.sort_by_key(|i| i.mark.id);
    let name = |id: i64| {
        let p = picture.photographs.iter().find(|p| p.id == id);
        p.map_or_else(String::new, |p| p.name())
    };
    html! {
        @if own.is_empty() { p { (w::NO_MARKS) } }
        ul.marks {
            @for i in own {
                li class=(Look::of(&i.state).class()) {
                    a href=(format!("/settle/{}", i.mark.id)) { (i.mark.id) " " (heading(i.mark.kind())) }
                    span.state { (item::state_words(&i.state)) }
                    p.leiden { (item::transcription(i.mark)) }
                    @if picture.photographs.len() > 1 {
                        p.hint {
                            @for (n, s) in i.mark.sightings.iter().enumerate() {
                                @if n > 0 { ", " }
                                a href=(format!("/picture/{}?photograph={}", picture.id, s.photograph)) { (name(s.photograph)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Tools to add marks and to mend them.
fn drawing(desk: &Desk, p: &KeptPhotograph) -> Markup {
    html! {
        details.drawing id="drawing" {
            summary { (w::DRAW) }
            p { (w::DRAW_HOW) }
            p.tools role="group" aria-label=(w::DRAW) {
                button type="button" data-draw="add" { (w::ADD_MARK) " " kbd { "a" } }
                button type="button" data-draw="mend" disabled { (w::MEND) " " kbd { "m" } }
                button type="button" data-draw="turn" disabled { (w::TURN) " " kbd { "r" } }
            }
            form id="draw-form" method="post" action="/draw" {
                (token(desk))
                input type="hidden" name="photograph" value=(p.id);
                input type="hidden" name="once" value="";
                p {
                    label for="draw-mark" { (w::MARK_CHOSEN) } " "
                    input id="draw-mark" name="mark" size="8" maxlength="20" placeholder=(w::NEW_MARK) autocomplete="off";
                    " "
                    span id="draw-new" {
                        label for="draw-kind" { (w::KIND) } " "
                        select id="draw-kind" name="kind" {
                            @for k in MarkKind::ALL {
                                option value=(k.as_str()) { (heading(k)) }
                            }
                        }
                    }
                }
                fieldset {
                    legend { (w::CORNERS) }
                    @for (i, words) in w::CORNER.iter().enumerate() {
                        span.corner {
                            (words) " "
                            label { "x " input type="number" name=(format!("x{i}")) min="0" max=(p.width) step="1"; }
                            " "
                            label { "y " input type="number" name=(format!("y{i}")) min="0" max=(p.height) step="1"; }
                        }
                    }
                }
                input type="hidden" name="keep-turn" value="";
                button { (w::READ_AGAIN) }
            }
            form.row method="post" action="/part" {
                (token(desk))
                label for="part-mark" { (w::PART) } " "
                input id="part-mark" name="mark" size="8" maxlength="20" required autocomplete="off"; " "
                label { input type="radio" name="way" value="rows" checked; " " (w::PART_ROWS) } " "
                label { input type="radio" name="way" value="columns"; " " (w::PART_COLUMNS) } " "
                button { (w::PART_DO) }
            }
            form.row method="post" action="/join" {
                (token(desk))
                label for="join-mark" { (w::JOIN) } " "
                input id="join-mark" name="mark" size="8" maxlength="20" required autocomplete="off"; " "
                label for="join-with" { (w::JOIN_WITH) } " "
                input id="join-with" name="with" size="8" maxlength="20" required autocomplete="off"; " "
                button { (w::JOIN_DO) }
            }
        }
    }
}

/// Form fields for kind, bearer and bridging.
pub fn part_options(chosen: Option<Bearer>) -> Markup {
    html! {
        option value="" selected[chosen.is_none()] { (w::NOT_SAID) }
        @for b in Bearer::ALL {
            option value=(b.as_str()) selected[chosen == Some(b)] { (w::bearer(b)) }
        }
    }
}

/// The photograph of that number.
pub fn photograph(desk: &Desk, id: i64) -> Result<KeptPhotograph> {
    let picture = desk.picture_of(id)?;
    let found = picture.photographs.into_iter().find(|p| p.id == id);
    found.ok_or_else(|| {
        unclear(
            &format!("photograph {id}"),
            "the store has none of this number",
        )
    })
}

pub(super) fn shown(coded: super::photos::Coded, place: &str) -> Result<Reply> {
    let bytes = coded.map_err(|why| {
        Error::new(
            Kind::Photograph,
            place,
            why.trim_end_matches('.'),
            "put it back where it was, or read it again from its new place",
        )
    })?;
    Ok(Reply::Bytes {
        kind: "image/jpeg",
        bytes,
        stays: true,
    })
}

pub(super) fn before_dot(name: &str) -> &str {
    name.strip_suffix(".jpg").unwrap_or(name)
}

/// The whole photograph, made smaller.
pub fn whole(desk: &Desk, id: i64, longest: &str) -> Result<Reply> {
    let side = before_dot(longest).parse().ok();
    let side = side.filter(|s| SIDES.contains(s));
    let side = side.ok_or_else(|| unclear("photograph", "it isn't shown in this size"))?;
    let p = photograph(desk, id)?;
    shown(desk.photos.whole(&p, side), &p.name())
}

/// One tile.
pub fn tile(desk: &Desk, id: i64, level: &str, column: &str, row: &str) -> Result<Reply> {
    let small = |text: &str| -> Result<u32> {
        u32::try_from(number(text)?).map_err(|_| unclear(text, "this is no number of a tile"))
    };
    let (level, column, row) = (small(level)?, small(column)?, small(before_dot(row))?);
    let p = photograph(desk, id)?;
    shown(desk.photos.tile(&p, level as usize, column, row), &p.name())
}

/// A mark's picture on one photograph.
///
/// * `look`: number of a look at it there; it also makes the address change with the outline.
pub fn crop(desk: &Desk, id: &str, look: &str, variant: &str) -> Result<Reply> {
    let mark = desk.store().mark(mark_id(id)?)?;
    let look = number(look)?;
    let of = mark
        .sightings
        .iter()
        .find(|s| s.looks.iter().any(|l| l.id == look));
    let mark = mark.as_on(of.map_or(mark.photograph, |s| s.photograph));
    let p = photograph(desk, mark.photograph)?;
    let coded = desk
        .photos
        .crop(&p, &mark, mark.look().id, before_dot(variant));
    shown(coded, &p.name())
}
