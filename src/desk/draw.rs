//! Marks outlined by a person: added, mended, parted, joined, turned; each read again on its own.

use super::deciding::{guard, usage, with_photograph};
use super::page::{Page, Place};
use super::web::{Ask, Fields, Reply};
use super::words as w;
use super::{Desk, mark_id, photos};
use crate::decisions::{
    Act, Drawing, Guard, Kept, KeptMark, KeptPhotograph, MarkId, SeenMark, Store,
};
use crate::error::{Error, Kind, Result};
use crate::geometry::{Point, Quad};
use crate::marks::{Mark, MarkKind};
use crate::readings::Known;
use crate::run;
use maud::html;
use serde_json::json;
use std::sync::Arc;

/// Shortest side of an outline, px.
const LEAST_SIDE: f64 = 8.0;

/// An outline as a form gives it: four corners in reading order, on the photograph.
fn outline(form: &Fields, p: &KeptPhotograph) -> Result<Quad> {
    let wrong = |what| usage(w::CORNERS, what, w::DRAW_AGAIN);
    let mut corners = [Point::new(0.0, 0.0); 4];
    for (i, c) in corners.iter_mut().enumerate() {
        let at = |axis: &str, most: u32| {
            let value: f64 = form.get(&format!("{axis}{i}")).parse().ok()?;
            value.is_finite().then(|| value.clamp(0.0, f64::from(most)))
        };
        let (x, y) = (at("x", p.width), at("y", p.height));
        *c = Point::new(
            x.ok_or_else(|| wrong(w::CORNER_MISSING))?,
            y.ok_or_else(|| wrong(w::CORNER_MISSING))?,
        );
    }
    let outline = Quad(corners);
    check(&outline)?;
    Ok(outline)
}

/// A convex outline with room for lettering.
fn check(outline: &Quad) -> Result<()> {
    let c = &outline.0;
    let bends: Vec<f64> = (0..4)
        .map(|i| {
            let (a, b, d) = (c[i], c[(i + 1) % 4], c[(i + 2) % 4]);
            (b.x - a.x) * (d.y - b.y) - (b.y - a.y) * (d.x - b.x)
        })
        .collect();
    let convex = bends.iter().all(|b| *b > 0.0) || bends.iter().all(|b| *b < 0.0);
    let (width, height) = outline.size();
    if !convex || width < LEAST_SIDE || height < LEAST_SIDE {
        return Err(usage(w::CORNERS, w::NO_OUTLINE, w::DRAW_AGAIN));
    }
    Ok(())
}

/// Reads within an outline and keeps it as the person's.
///
/// * `stays`: the first corner given is where reading begins, whatever the reading finds.
#[allow(clippy::too_many_arguments)]
fn read_within(
    desk: &Desk,
    p: &KeptPhotograph,
    of: Option<&KeptMark>,
    kind: MarkKind,
    outline: Quad,
    stays: bool,
    guard: &Guard,
    why: &str,
) -> Result<Kept> {
    let levels: Arc<photos::Levels> = desk.photos.levels(p).map_err(|what| {
        Error::new(
            Kind::Photograph,
            p.name(),
            what.trim_end_matches('.'),
            "put it back where it was, then draw again",
        )
    })?;
    let mark = Mark {
        kind,
        outline,
        kind_chance: 1.0,
        lettering: 1.0,
        bearing: of.and_then(|m| m.bearing().cloned()),
    };
    let index = desk.lists()?;
    let known = Known {
        turn_is_set: stays,
        chosen: of.and_then(KeptMark::chosen),
        kind: Some((kind, 1.0)),
        ..Known::default()
    };
    let (number, others) = desk.store().marks_on(&p.sha256)?;
    let labels: Vec<Quad> = others
        .iter()
        .filter(|m| Some(m.id) != of.map(|o| o.id) && m.kind().is_label())
        .filter(|m| m.settled.not_a_mark.is_none())
        .filter_map(|m| m.on(number).map(|s| s.seen().outline))
        .collect();
    let recognisers = desk.recognisers()?;
    let read = run::read_mark(&levels.0[0], &mark, &known, &labels, recognisers, &index)?.0;
    let label = of.map_or_else(String::new, |m| m.latest().label.clone());
    let drawing = Drawing {
        photograph: p.id,
        mark: of.map(|m| m.id),
        seen: SeenMark {
            label,
            kind,
            outline: read.outline,
            lettering: 1.0,
            reading: read.reading,
            rivals: read.rivals,
            bearing: read.bearing,
            statements: read.statements,
            sign: read.sign,
        },
        program: concat!("dorso ", env!("CARGO_PKG_VERSION"), ", outlined by hand").into(),
    };
    let author = desk.author(why);
    desk.store().draw(&drawing, &author, guard)
}

fn answer(desk: &Desk, kept: Kept, photograph: i64, ask: &Ask) -> Result<Reply> {
    let decision = match kept {
        Kept::Now(d) | Kept::Before(d) => d,
        Kept::Conflict(newer) => return conflict(desk, &newer, ask),
    };
    desk.hold_dates(photograph)?;
    let picture = desk.picture_of(photograph)?.id;
    let place = format!(
        "/picture/{picture}?photograph={photograph}&mark={}",
        decision.mark
    );
    Ok(if ask.by_script {
        Reply::Json(json!({ "go": place, "decision": decision.id.to_string() }))
    } else {
        Reply::See(place)
    })
}

fn conflict(desk: &Desk, newer: &[crate::decisions::Decision], ask: &Ask) -> Result<Reply> {
    if ask.by_script {
        return Ok(Reply::JsonRefused(409, json!({ "conflict": true })));
    }
    let mark = newer
        .first()
        .map(|d| d.mark.to_string())
        .unwrap_or_default();
    let body = html! {
        p.refused { (w::conflict_words(&mark)) }
        ul { @for d in newer { li { (d.id) " · " (d.author.by) ": " (d.act.words()) } } }
        p { a href=(format!("/settle/{mark}")) { (w::to_mark(&mark)) } }
    };
    let shown = Page {
        title: w::NOT_KEPT.into(),
        place: Place::None,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Refused(409, super::page::page(desk, shown)))
}

/// A mark added, mended or turned.
pub fn draw(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let f = &ask.form;
    let photograph = f.number("photograph").unwrap_or(0);
    let p = super::picture::photograph(desk, photograph)?;
    let outline = outline(f, &p)?;
    let of = match f.get("mark") {
        "" => None,
        id => Some(desk.store().mark(mark_id(id)?)?),
    };
    // The kind is asked of a new mark alone: mending an outline says nothing else
    let kind = match &of {
        Some(mark) => mark.kind(),
        None => MarkKind::parse(f.get("kind")).unwrap_or(MarkKind::Unknown),
    };
    let stays = !f.get("keep-turn").is_empty();
    let guard = Guard {
        seen: None,
        ..guard(f)
    };
    let kept = read_within(
        desk,
        &p,
        of.as_ref(),
        kind,
        outline,
        stays,
        &guard,
        f.get("why"),
    )?;
    answer(desk, kept, photograph, ask)
}

/// The two halves of an outline: upper and lower, or left and right, as read.
fn halves(outline: &Quad, rows: bool) -> (Quad, Quad) {
    let [a, b, c, d] = outline.0;
    let middle = |p: Point, q: Point| Point::new((p.x + q.x) / 2.0, (p.y + q.y) / 2.0);
    if rows {
        let (left, right) = (middle(a, d), middle(b, c));
        (Quad([a, b, right, left]), Quad([left, right, c, d]))
    } else {
        let (top, low) = (middle(a, b), middle(d, c));
        (Quad([a, top, low, d]), Quad([top, b, c, low]))
    }
}

/// One mark becomes two.
pub fn part(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let (mark, p) = with_photograph(desk, ask.form.get("mark"))?;
    let (first, second) = halves(&mark.latest().outline, ask.form.get("way") != "columns");
    check(&first)?;
    let none = Guard::default();
    let why = w::parted(&mark.id.to_string());
    read_within(desk, &p, None, mark.kind(), second, true, &none, &why)?;
    let kept = read_within(desk, &p, Some(&mark), mark.kind(), first, true, &none, &why)?;
    answer(desk, kept, p.id, ask)
}

/// The least upright rectangle, in the first one's reading direction, around both outlines.
fn around(a: &Quad, b: &Quad) -> Quad {
    let slope = a.slope_degrees().to_radians();
    let (sin, cos) = slope.sin_cos();
    let along = |p: Point| (p.x * cos + p.y * sin, p.y * cos - p.x * sin);
    let back = |u: f64, v: f64| Point::new(u * cos - v * sin, u * sin + v * cos);
    let all = a.0.iter().chain(&b.0).map(|p| along(*p));
    let none = (f64::MAX, f64::MAX, f64::MIN, f64::MIN);
    let (l, t, r, m) = all.fold(none, |(l, t, r, m), (u, v)| {
        (l.min(u), t.min(v), r.max(u), m.max(v))
    });
    Quad([back(l, t), back(r, t), back(r, m), back(l, m)])
}

/// Two marks become one; the second is said to be no mark of its own.
pub fn join(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let (mark, p) = with_photograph(desk, ask.form.get("mark"))?;
    let (other, q) = with_photograph(desk, ask.form.get("with"))?;
    if mark.id == other.id {
        return Err(usage(w::JOIN, w::NOT_TWO, w::CHOOSE_TWO));
    }
    if p.id != q.id {
        let author = desk.author("");
        let same = Act::Same { with: other.id };
        let none = Guard::default();
        let kept = desk.store().decide_once(mark.id, &same, &author, &none)?;
        desk.read_together(p.id)?;
        return answer(desk, kept, p.id, ask);
    }
    let whole = around(&mark.latest().outline, &other.latest().outline);
    let none = Guard::default();
    let why = w::joined(&mark.id.to_string(), &other.id.to_string());
    let kept = read_within(desk, &p, Some(&mark), mark.kind(), whole, true, &none, &why)?;
    let author = desk.author(&why);
    let other: MarkId = other.id;
    desk.store()
        .decide_once(other, &Act::NotAMark, &author, &none)?;
    answer(desk, kept, p.id, ask)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use proptest::prelude::*;

    #[test]
    fn an_outline_that_crosses_itself_or_has_no_room_is_refused() {
        let [a, b, c, d] = Rect::new(0, 0, 40, 20).quad().0;
        assert!(check(&Quad([a, b, c, d])).is_ok());
        assert!(check(&Quad([a, c, b, d])).is_err());
        assert!(check(&Rect::new(0, 0, 40, 3).quad()).is_err());
    }

    proptest! {
        #[test]
        fn halves_share_the_whole_area(x in 0i32..500, y in 0i32..500, w in 10u32..400, h in 10u32..400, rows: bool) {
            let whole = Rect::new(x, y, w, h).quad();
            let (a, b) = halves(&whole, rows);
            prop_assert!((a.area() + b.area() - whole.area()).abs() < 1e-6);
            prop_assert!(a.overlap(&b) < 1e-6);
        }

        #[test]
        fn the_outline_around_two_marks_holds_both(x in 0i32..500, y in 0i32..500, w in 10u32..400, h in 10u32..400) {
            let (a, b) = (Rect::new(x, y, w, h).quad(), Rect::new(y, x, h, w).quad());
            let whole = around(&a, &b);
            for q in [&a, &b] {
                prop_assert!((whole.overlap(q) - q.area()).abs() < 1e-3 * q.area());
            }
        }
    }
}
