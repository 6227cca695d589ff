//! The photographs that show a mark, side by side at one scale, and the question which of them show
//! one mark.

use super::page::guarded;
use super::words as w;
use super::{Desk, item};
use crate::decisions::{KeptMark, Maybe, Picture, Sighting, Store};
use crate::error::Result;
use maud::{Markup, html};

/// Address of what one photograph shows of a mark.
fn crop(mark: &KeptMark, sighting: &Sighting) -> String {
    format!("/crop/{}/{}/colour.jpg", mark.id, sighting.look().id)
}

/// All photographs that show the mark, where several do; each can be looked at large, blinked with
/// the first, and said to show another mark.
pub fn all(desk: &Desk, mark: &KeptMark, picture: &Picture, newest: i64) -> Markup {
    let name = |s: &Sighting| {
        let p = picture.photographs.iter().find(|p| p.id == s.photograph);
        p.map_or_else(String::new, |p| p.name())
    };
    html! {
        @if mark.sightings.len() > 1 {
            section.sightings aria-labelledby="sightings-title" {
                h2 id="sightings-title" { (w::sightings_of(mark.sightings.len())) }
                p.hint { (w::SIGHTINGS_HOW) " " kbd { "b" } }
                ul.thumbs id="thumbs" {
                    @for s in &mark.sightings {
                        li {
                            button type="button" data-variant=(crop(mark, s)) data-sighting=(s.id)
                                aria-pressed=(if s.photograph == mark.photograph { "true" } else { "false" }) {
                                img src=(crop(mark, s)) alt=(w::shown_in(&name(s))) loading="lazy";
                            }
                            p { (name(s)) " " span.hint { (w::joined_words(s.joined)) } }
                            (parting(desk, mark, s, newest))
                        }
                    }
                }
            }
        }
    }
}

/// The button by which one photograph is said to show another mark.
fn parting(desk: &Desk, mark: &KeptMark, s: &Sighting, newest: i64) -> Markup {
    html! {
        form method="post" action=(format!("/mark/{}/decide", mark.id)) {
            (guarded(desk, newest))
            input type="hidden" name="act" value="apart";
            input type="hidden" name="sighting" value=(s.id);
            button { (w::ANOTHER_MARK) }
        }
    }
}

/// The questions whether two sightings show one mark, each with both pictures side by side.
///
/// * `asked_here`: this is what the page asks: the first of them is the question that the keys answer.
///
/// # Errors
/// `Kind::Store` if the other mark can't be read.
pub fn questions(desk: &Desk, mark: &KeptMark, newest: i64, asked_here: bool) -> Result<Markup> {
    let mut asked = Vec::new();
    for m in &mark.maybe {
        let other = desk.store().mark(m.other)?;
        asked.push((m, other));
    }
    Ok(html! {
        @for (i, (m, other)) in asked.iter().enumerate() {
            section.same aria-labelledby=(format!("same-{}", m.other)) {
                h2.question[asked_here && i == 0] id=(format!("same-{}", m.other)) { (w::same_question(&m.own.to_string(), &m.other.to_string())) }
                p { (w::same_because(m.chance, &m.why)) }
                div.pair {
                    (side(mark, m.own))
                    (side(other, m.other))
                }
                (answer(desk, mark, m, newest, asked_here && i == 0))
            }
        }
    })
}

fn side(mark: &KeptMark, sighting: crate::decisions::MarkId) -> Markup {
    let s = mark.sightings.iter().find(|s| s.id == sighting);
    let s = s.unwrap_or_else(|| mark.main());
    html! {
        figure {
            img src=(crop(mark, s)) alt=(w::crop_words(&item::transcription(&mark.as_on(s.photograph))));
            figcaption { (mark.id) ": " span.leiden { (item::transcription(&mark.as_on(s.photograph))) } }
        }
    }
}

fn answer(desk: &Desk, mark: &KeptMark, m: &Maybe, newest: i64, asked: bool) -> Markup {
    let one = |act: &str, words: &str, key: &str, number: u8, likelier: bool| {
        html! {
            form method="post" action=(format!("/mark/{}/decide", m.own)) {
                (guarded(desk, newest))
                input type="hidden" name="act" value=(act);
                input type="hidden" name="sighting" value=(m.own);
                input type="hidden" name="other" value=(m.other);
                button.go[asked && likelier] data-key=(key) data-number=[asked.then_some(number)] {
                    (words) " " kbd { (key) }
                    @if asked && likelier { " " kbd { "t" } }
                }
            }
        }
    };
    let together = if m.mark == mark.id {
        w::ONE_MARK
    } else {
        w::SAME_MARK
    };
    html! {
        div.tools.answers role="group" aria-label=(w::SAME_OR_NOT) {
            (one("same", together, "y", 1, m.chance >= 0.5))
            (one("apart", w::TWO_MARKS, "d", 2, m.chance < 0.5))
        }
    }
}
