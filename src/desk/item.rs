//! How a mark is named and shown wherever it is met.

use super::words as w;
use crate::decisions::{KeptMark, KeptPhotograph, Lettering, State, two};
use crate::geometry::Quad;
use crate::note;
use crate::note::certainty::likely;
use maud::{Markup, html};

/// Longest side of the small picture of a whole back, px.
pub const SMALL: u32 = 480;

/// How far a mark is, for the line around it and for a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    Settled,
    Clear,
    Due,
    Waiting,
    None,
}

impl Look {
    pub fn of(state: &State) -> Look {
        match state {
            State::Settled => Look::Settled,
            State::Clear => Look::Clear,
            State::Open | State::Later => Look::Due,
            State::Until(_) | State::Asked(_) => Look::Waiting,
            State::NotAMark => Look::None,
        }
    }

    /// Class of the line around it.
    pub fn class(self) -> &'static str {
        match self {
            Look::Settled => "settled",
            Look::Clear => "clear",
            Look::Due => "due",
            Look::Waiting => "waiting",
            Look::None => "none",
        }
    }

    pub fn words(self) -> &'static str {
        match self {
            Look::Settled => w::IS_SETTLED,
            Look::Clear => w::IS_CLEAR,
            Look::Due => w::IS_DUE,
            Look::Waiting => w::IS_WAITING,
            Look::None => w::IS_NONE,
        }
    }
}

/// The state in words with whom or until when.
pub fn state_words(state: &State) -> String {
    match state {
        State::Until(day) => w::until(day),
        State::Asked(whom) => w::waits_for(whom),
        State::Later => w::IS_LATER.into(),
        other => Look::of(other).words().into(),
    }
}

/// What a mark says as it stands: by a person, else by the program; with Leiden signs.
pub fn lines(mark: &KeptMark) -> Vec<String> {
    match mark.settled.lettering.as_ref().map(|h| &h.value) {
        Some(Lettering::Read(lines)) => return lines.clone(),
        Some(Lettering::Unreadable) => return Vec::new(),
        None => {}
    }
    by_program(mark)
}

/// What the program read, a line for each line, with Leiden signs.
pub fn by_program(mark: &KeptMark) -> Vec<String> {
    let read = mark.latest().reading.lines.iter();
    read.map(|l| l.leiden.clone())
        .filter(|l| !l.trim().is_empty())
        .collect()
}

/// The lines on one row, or that there are none.
pub fn transcription(mark: &KeptMark) -> String {
    let lines = lines(mark);
    if lines.is_empty() {
        w::NOT_READ.into()
    } else {
        shown(&lines.join(" / "))
    }
}

/// A reading as it is shown: a backslash, which only says that the next sign stands on the object
/// itself, is left out.
pub fn shown(leiden: &str) -> String {
    let mut out = String::new();
    let mut signs = leiden.chars();
    while let Some(c) = signs.next() {
        out.extend(match c {
            '\\' => signs.next(),
            c => Some(c),
        });
    }
    out
}

/// A chance in words, with its number for those who ask for numbers.
pub fn chance(p: f64) -> Markup {
    html! { span.likely title=(two(p)) { (likely(p)) } span.number { (two(p)) } }
}

/// "upper left of back.jpg".
pub fn place(mark: &KeptMark, p: &KeptPhotograph) -> String {
    let outline = mark.on(p.id).unwrap_or_else(|| mark.main()).seen().outline;
    let place = note::place(&outline, p.width, p.height);
    if place.starts_with("filling") {
        w::filling(&p.name())
    } else {
        w::place_of(place, &p.name())
    }
}

/// Address of a mark's picture.
pub fn crop(mark: &KeptMark, variant: &str) -> String {
    format!("/crop/{}/{}/{variant}.jpg", mark.id, mark.look().id)
}

/// Corners for an SVG polygon.
pub fn corners(outline: &Quad) -> String {
    let each = outline.0.iter().map(|c| format!("{:.0},{:.0}", c.x, c.y));
    each.collect::<Vec<_>>().join(" ")
}

/// The whole back, small, with this mark outlined.
pub fn on_back(mark: &KeptMark, p: &KeptPhotograph) -> Markup {
    let outline = mark.on(p.id).unwrap_or_else(|| mark.main()).seen().outline;
    let words = w::shown_on_back(&mark.id.to_string(), &place(mark, p));
    html! {
        figure.small {
            div.over {
                img src=(format!("/whole/{}/{SMALL}.jpg", p.id)) alt=(words) width=(p.width) height=(p.height);
                svg viewBox=(format!("0 0 {} {}", p.width, p.height)) aria-hidden="true" {
                    polygon.under points=(corners(&outline)) {}
                    polygon.line.due points=(corners(&outline)) {}
                }
            }
            figcaption { (place(mark, p)) }
        }
    }
}
