//! The reading of a mark, letter by letter, each with how sure it is and what else it may be.

use super::deciding::LONGEST;
use super::item;
use super::words as w;
use crate::decisions::{KeptMark, Lettering, two};
use crate::marks;
use crate::readings::{Character, Line, SharedLine};
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
                    span.whole title=(w::LINE_AS_A_WHOLE) { (item::chance(line.confidence)) }
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

/// What a person read, where somebody did: it stands above what the program read.
pub fn by_person(mark: &KeptMark) -> Markup {
    let held = mark.settled.lettering.as_ref().map(|h| &h.value);
    html! {
        @if let Some(says) = held {
            p.already id="own-reading" {
                @match says {
                    Lettering::Read(lines) => {
                        (w::STANDS_AS) br;
                        @for l in lines { span.leiden { (item::shown(l)) } br; }
                    }
                    Lettering::Unreadable => (w::STANDS_UNREADABLE),
                }
            }
            @if !mark.latest().reading.lines.is_empty() { p.hint { (w::BY_PROGRAM) } }
        }
    }
}

/// Where each line stands on the picture of the mark: its top and its height, parts of the picture's
/// height, with some room around it.
fn strips(mark: &KeptMark) -> Vec<[f64; 2]> {
    let seen = mark.latest();
    let (w, h) = seen.outline.size();
    let height = h + 2.0 * marks::MARGIN * w.min(h);
    let strip = |l: &Line| {
        let room = 0.25 * f64::from(l.within.h);
        let top = (f64::from(l.within.y) - room).max(0.0) / height;
        let low = (f64::from(l.within.bottom()) + room) / height;
        (top < low && top < 1.0).then(|| [top, low.min(1.0) - top])
    };
    let found: Option<Vec<[f64; 2]>> = seen.reading.lines.iter().map(strip).collect();
    found.unwrap_or_default()
}

/// The field in which a reading is typed; the script parts it into lines below those of the picture.
pub fn typing(mark: &KeptMark) -> Markup {
    let lines = item::lines(mark);
    let strips = serde_json::json!(strips(mark)).to_string();
    html! {
        details.typing id="typing" {
            summary { (w::TYPE) " " kbd { "r" } }
            label for="text" { (w::TEXT) }
            div id="rows" data-strips=(strips) {}
            textarea id="text" name="text" rows=(lines.len().clamp(2, 8)) maxlength=(LONGEST) spellcheck="false"
                autocomplete="off" autocapitalize="off" aria-describedby="text-how" { (lines.join("\n")) }
            div.tools role="group" aria-label=(w::SIGNS) {
                @for (sign, key, words) in w::SIGN_KEYS {
                    button type="button" data-sign=(sign) { span.leiden { (words) } " " kbd { (key) } }
                }
                button type="button" data-move="-1" { (w::LINE_UP) " " kbd { "Alt ↑" } }
                button type="button" data-move="1" { (w::LINE_DOWN) " " kbd { "Alt ↓" } }
            }
            p id="text-how" { (w::TEXT_HOW) }
            div id="fits" aria-live="polite" {}
            button name="act" value="read" { (w::SAVE_READING) " " kbd { "Ctrl ⏎" } }
        }
    }
}
