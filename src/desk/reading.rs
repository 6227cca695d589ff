//! The reading of a mark, letter by letter, each with how sure it is and what else it may be.

use super::words as w;
use crate::decisions::two;
use crate::readings::{Character, Line, SharedLine};
use crate::statements::Statement;
use maud::{Markup, html};

/// Alternatives that are offered at one position.
const MOST: usize = 6;
/// Alternatives less likely than this are not offered.
const LEAST: f64 = 0.01;

/// A writing with a smaller chance isn't named.
const TOLD: f64 = 0.7;

/// Lines as rows of letters. Below each letter a bar tells its chance by its length; the likeliest
/// alternative stands below that.
pub fn letters(lines: &[Line]) -> Markup {
    html! {
        div.reading id="reading" role="group" aria-label=(w::READING) {
            @for (i, line) in lines.iter().enumerate() {
                div.line role="group" aria-label=(w::line_words(i + 1, &two(line.confidence))) data-line=(i) {
                    // A word is a group of its own, so that a narrow column breaks the line between words
                    @for word in line.characters.chunk_by(|a, b| is_space(a) == is_space(b)) {
                        @if is_space(&word[0]) {
                            @for _ in word { span.gap data-space="1" { " " } }
                        } @else {
                            span.word { @for c in word { (letter(c)) } }
                        }
                    }
                    span.whole title=(w::LINE_AS_A_WHOLE) { (two(line.confidence)) }
                    // Apart from the number, which isn't its chance
                    @if let Some(how) = line.writing.filter(|t| t.chance >= TOLD).and_then(|t| w::written(t.writing)) {
                        span.whole title=(w::HOW_WRITTEN) { "(" (how) ")" }
                    }
                }
            }
        }
    }
}

/// Lines that were read here too, but more surely in another mark.
pub fn shared(lines: &[SharedLine]) -> Markup {
    html! {
        @for s in lines {
            p.hint { (w::READ_ELSEWHERE) " " span.leiden { (s.line.leiden) } }
        }
    }
}

fn is_space(c: &Character) -> bool {
    !c.text.is_empty() && c.text.trim().is_empty()
}

fn letter(c: &Character) -> Markup {
    let others: Vec<&(String, f64)> = c
        .alternatives
        .iter()
        .filter(|(s, p)| *p >= LEAST && s != "…")
        .take(MOST)
        .collect();
    let coded = serde_json::to_string(&others).unwrap_or_default();
    let lost = c.is_lost();
    let shown = match (c.is_stretch(), lost) {
        (true, _) => "[---]",
        (_, true) => "[.]",
        _ => &c.text,
    };
    let said = match lost {
        true => w::A_LOST_LETTER.to_owned(),
        false => w::chance(&two(c.confidence)),
    };
    let tenths = (c.confidence.clamp(0.0, 1.0) * 10.0).round() as u8;
    html! {
        button.letter.lost[lost] type="button" tabindex="-1" title=(said)
            data-text=(c.text) data-stretch=[c.is_stretch().then_some("1")] data-others=(coded)
            data-unclear=[(c.confidence < crate::readings::leiden::UNCLEAR_BELOW && !lost).then_some("1")] {
            span.sign { (shown) }
            span.hidden { ", " (said) }
            span class=(format!("sure s{tenths}")) {}
            @if let Some((s, p)) = others.first() {
                span.hidden { "; " (w::OR) " " }
                span.other { @if s.is_empty() { (w::NO_LETTER) } @else { (s) } }
                span.hidden { ", " (two(*p)) }
            }
        }
    }
}

/// What the mark states in its own words, each with its chance.
pub fn states(statements: &[Statement]) -> Markup {
    html! {
        @if !statements.is_empty() {
            h3 { (w::STATES) }
            dl.states {
                @for s in statements {
                    dt { (s.role.as_str().replace('_', " ")) }
                    dd { (s.value) " " span.hint { (two(s.chance)) } }
                }
            }
        }
    }
}
