//! Editorial signs for partly legible text, parsed and printed.
//!
//! In: one line of text with signs. Out: a plain list of [`Sign`], and back. Knows nothing of
//! pictures or chances, except for `print`, which sets signs by a line's confidences.
//!
//! | On the back | Sign |
//! |---|---|
//! | letter read only from context | dot below (U+0323), the text kept in NFC |
//! | one of several letters | `[R/K]` |
//! | lost, number known, about, between | `[...]`, `[c. 5]`, `[3-5]` |
//! | lost, number unknown | `[---]` |
//! | a line or lines lost | `[------]` |
//! | ink remains, unread | `+++`, one a letter |
//! | lost, supplied by the reader (unsure) | `[abc]`, `[abc?]` |
//! | left out by the writer; needless; corrected | `<abc>`, `{abc}`, `⸢abc⸣` |
//! | abbreviation filled out | `a(bc)` |
//! | struck out in old time; added in old time | `⟦abc⟧`, `` `abc´ `` |
//! | left blank | `vac.`, `(vac. 4)` |
//!
//! One sign is Dorso's own: a backslash before a bracket or another sign that stands on the
//! object itself (`\[`).
//!
//! Source: Leiden conventions, 1931 (Union académique internationale); H. Krummrey and
//! S. Panciera, *Tituli* 2, 1980; T. Elliott and others, *EpiDoc Guidelines*, v. 8/9 (from memory).

use super::{Character, Line};
use crate::error::{Error, Kind, Result};
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::canonical_combining_class;

mod signs;

pub use signs::print_signs;

/// Combining dot below: marks an unclear letter.
pub const DOT_BELOW: char = '\u{323}';

/// A letter with a smaller chance than this of being right is printed with a dot below.
pub const UNCLEAR_BELOW: f64 = 0.6;

/// How much is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// So many letters.
    Exactly(usize),
    /// About so many letters.
    About(usize),
    /// At least and at most so many letters.
    Between(usize, usize),
    /// A number that isn't known.
    Unknown,
    /// A line or lines.
    Lines,
}

/// One position of a transcription. A letter is one base character with its accents, NFC.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sign {
    /// Read clearly; a space parts words.
    Letter(String),
    /// Damaged, readable only from context.
    Unclear(String),
    /// One of these.
    Several(Vec<String>),
    /// Lost.
    Lost(Extent),
    /// Ink remains of so many letters, unread.
    Illegible(usize),
    /// Lost, supplied by the reader.
    Supplied {
        /// The letters supplied.
        text: String,
        /// False where the reader put a question mark.
        sure: bool,
    },
    /// Left out by the writer, added by the reader.
    Omitted(String),
    /// Needless letters that stand on the object.
    Surplus(String),
    /// Corrected by the reader: this is the corrected text.
    Corrected(String),
    /// Letters that fill out the abbreviation before them.
    Expanded(String),
    /// Struck out or rubbed out in old time.
    Erased(Vec<Sign>),
    /// Added in old time.
    Added(Vec<Sign>),
    /// Left blank: so many letters, if counted.
    Blank(Option<usize>),
}

/// One base character with its marks, as it stands in the text.
#[derive(Debug, Clone)]
struct Unit {
    letter: String,
    dotted: bool,
    escaped: bool,
}

impl Unit {
    /// The character if it works as a sign here: alone, undotted, without a backslash.
    fn sign(&self) -> Option<char> {
        let mut chars = self.letter.chars();
        match (chars.next(), chars.next()) {
            (Some(c), None) if !self.dotted && !self.escaped => Some(c),
            _ => None,
        }
    }
}

/// Splits text into base characters with their marks; the dot below becomes a flag, and a
/// backslash makes the next character stand for itself.
fn units(text: &str) -> Vec<Unit> {
    let mut out: Vec<Unit> = Vec::new();
    let mut escaped = false;
    for c in text.nfc() {
        if canonical_combining_class(c) != 0
            && !escaped
            && let Some(last) = out.last_mut()
        {
            last.letter.push(c);
            continue;
        }
        if c == '\\' && !escaped {
            escaped = true;
            continue;
        }
        out.push(Unit {
            letter: c.to_string(),
            dotted: false,
            escaped,
        });
        escaped = false;
    }
    if escaped {
        out.push(Unit {
            letter: "\\".into(),
            dotted: false,
            escaped: true,
        });
    }
    // A dot with no letter above it says nothing either.
    out.retain(|u| u.letter.chars().any(|c| c != DOT_BELOW));
    for unit in &mut out {
        let apart: String = unit.letter.nfd().collect();
        // Nothing can be unclear about a space: a dot below one says nothing and is left out.
        let blank = apart.starts_with(char::is_whitespace);
        let below = apart.contains(DOT_BELOW);
        unit.dotted = below && !blank;
        let whole: String = apart
            .chars()
            .filter(|&c| !below || c != DOT_BELOW)
            .nfc()
            .collect();
        unit.letter = whole;
    }
    out
}

/// Parses one line with signs.
///
/// ```
/// use dorso_seeing::readings::leiden::{Extent, Sign, parse};
/// let signs = parse("CAR[...]")?;
/// assert_eq!(signs[3], Sign::Lost(Extent::Exactly(3)));
/// # Ok::<(), dorso_seeing::Error>(())
/// ```
///
/// # Errors
/// `Kind::Text` with the position (character, from 1) of a bracket that isn't closed, closes
/// nothing, holds nothing or holds what it can't.
pub fn parse(text: &str) -> Result<Vec<Sign>> {
    let units = units(text);
    let (signs, end) = parse_until(&units, 0, None)?;
    debug_assert_eq!(end, units.len());
    Ok(signs)
}

fn fault(at: usize, what: impl std::fmt::Display, next: &str) -> Error {
    Error::new(Kind::Text, format!("character {}", at + 1), what, next)
}

/// Signs from `at` up to the closing sign (or the end), and the position after it.
fn parse_until(units: &[Unit], start: usize, close: Option<char>) -> Result<(Vec<Sign>, usize)> {
    let mut out: Vec<Sign> = Vec::new();
    let mut i = start;
    while i < units.len() {
        let unit = &units[i];
        if close.is_some() && unit.sign() == close {
            return Ok((out, i + 1));
        }
        match unit.sign() {
            Some('[') => {
                let end = closing(units, i, ']')?;
                bracket(&units[i + 1..end], i, &mut out)?;
                i = end + 1;
            }
            Some(open @ ('<' | '{' | '⸢')) => {
                let end = closing(units, i, partner(open))?;
                let text = plain(&units[i + 1..end], i)?;
                out.push(match open {
                    '<' => Sign::Omitted(text),
                    '{' => Sign::Surplus(text),
                    _ => Sign::Corrected(text),
                });
                i = end + 1;
            }
            Some(open @ ('⟦' | '`')) => {
                let (within, end) = parse_until(units, i + 1, Some(partner(open)))?;
                if within.is_empty() {
                    return Err(fault(
                        i,
                        format!("\"{open}\" holds nothing"),
                        "write the letters between the signs, or leave the signs out",
                    ));
                }
                out.push(if open == '⟦' {
                    Sign::Erased(within)
                } else {
                    Sign::Added(within)
                });
                i = end;
            }
            Some(shut @ (']' | '>' | '}' | '⸣' | '⟧' | '´')) => {
                return Err(fault(
                    i,
                    format!("\"{shut}\" closes nothing"),
                    "write the opening sign too, or a backslash before a sign that stands on the object",
                ));
            }
            Some('(') => i = round(units, i, &mut out),
            Some('+') if !stands_alone(units, i) => {
                illegible(&mut out);
                i += 1;
            }
            Some('v') if blank_word(units, i) => {
                out.push(Sign::Blank(None));
                i += 4;
            }
            _ if unit.dotted && !unit.escaped && unit.letter == "." => {
                illegible(&mut out);
                i += 1;
            }
            _ if unit.dotted => {
                out.push(Sign::Unclear(unit.letter.clone()));
                i += 1;
            }
            _ => {
                out.push(Sign::Letter(unit.letter.clone()));
                i += 1;
            }
        }
    }
    match close {
        None => Ok((out, i)),
        Some(c) => Err(fault(
            start - 1,
            "the sign opened here isn't closed",
            &format!(
                "close it with \"{c}\", or write a backslash before a sign that stands on the object"
            ),
        )),
    }
}

fn partner(open: char) -> char {
    match open {
        '<' => '>',
        '{' => '}',
        '⸢' => '⸣',
        '⟦' => '⟧',
        '`' => '´',
        _ => ']',
    }
}

fn closing(units: &[Unit], open: usize, close: char) -> Result<usize> {
    let rest = &units[open + 1..];
    match rest.iter().position(|u| u.sign() == Some(close)) {
        Some(n) if n > 0 => Ok(open + 1 + n),
        Some(_) => Err(fault(
            open,
            format!("\"{}{close}\" holds nothing", units[open].letter),
            "write the letters between the signs, [.] for one lost letter or [---] for an unknown number",
        )),
        None => Err(fault(
            open,
            format!("\"{}\" isn't closed", units[open].letter),
            &format!(
                "close it with \"{close}\", or write a backslash before a sign that stands on the object"
            ),
        )),
    }
}

/// The text of units that may hold letters only.
fn plain(within: &[Unit], open: usize) -> Result<String> {
    for (k, u) in within.iter().enumerate() {
        if u.dotted {
            return Err(fault(
                open + 1 + k,
                "an unclear letter stands on the object, so it can't stand within a sign for letters that don't",
                "close the sign before it",
            ));
        }
        if let Some(c) = u.sign().filter(|c| "[]<>{}⸢⸣⟦⟧`´".contains(*c)) {
            return Err(fault(
                open + 1 + k,
                format!("\"{c}\" can't stand here"),
                "close the sign before it, or write a backslash before a sign that stands on the object",
            ));
        }
    }
    Ok(within.iter().map(|u| u.letter.as_str()).collect())
}

fn illegible(out: &mut Vec<Sign>) {
    if let Some(Sign::Illegible(n)) = out.last_mut() {
        *n += 1;
    } else {
        out.push(Sign::Illegible(1));
    }
}

/// A plus between spaces is a plus on the object; a run of them, or one in a word, is unread ink.
fn stands_alone(units: &[Unit], i: usize) -> bool {
    let space = |k: Option<&Unit>| k.is_none_or(|u| u.letter.trim().is_empty());
    space(i.checked_sub(1).map(|k| &units[k])) && space(units.get(i + 1))
}

fn blank_word(units: &[Unit], i: usize) -> bool {
    let word: Option<String> = units
        .get(i..i + 4)
        .map(|w| w.iter().filter_map(Unit::sign).collect());
    let space = |k: Option<&Unit>| k.is_none_or(|u| u.letter.trim().is_empty());
    word.as_deref() == Some("vac.")
        && space(i.checked_sub(1).map(|k| &units[k]))
        && space(units.get(i + 4))
}

/// What stands in square brackets.
fn bracket(within: &[Unit], open: usize, out: &mut Vec<Sign>) -> Result<()> {
    let bare: String = within
        .iter()
        .map(|u| u.sign().unwrap_or('\0'))
        .filter(|c| !c.is_whitespace())
        .collect();
    let dash = |c: char| "-–—".contains(c);
    if !bare.is_empty() && bare.chars().all(dash) {
        let lines = bare.chars().count() >= 6;
        out.push(Sign::Lost(if lines {
            Extent::Lines
        } else {
            Extent::Unknown
        }));
        return Ok(());
    }
    if !bare.is_empty() && bare.chars().all(|c| c == '.' || c == '…') {
        let lost = bare.chars().map(|c| if c == '.' { 1 } else { 3 }).sum();
        out.push(Sign::Lost(Extent::Exactly(lost)));
        return Ok(());
    }
    if let Some(n) = about(&bare) {
        out.push(Sign::Lost(Extent::About(n)));
        return Ok(());
    }
    if let Some((a, b)) = bare
        .split_once(dash)
        .and_then(|(a, b)| Some((number(a)?, number(b)?)))
    {
        if a >= b {
            return Err(fault(
                open,
                format!("\"[{a}-{b}]\" doesn't run from a smaller to a greater number of letters"),
                "write the smaller number first, as in [3-5]",
            ));
        }
        out.push(Sign::Lost(Extent::Between(a, b)));
        return Ok(());
    }
    if let Some(several) = several(within) {
        out.push(Sign::Several(several));
        return Ok(());
    }
    supplied(within, open, out)
}

/// `c.5`, `ca.5`, `.c.5.`, `-c.5-` without spaces.
fn about(bare: &str) -> Option<usize> {
    let inner = bare.trim_matches(['.', '-', '–', '—', '±']);
    let after = inner
        .strip_prefix("ca")
        .or_else(|| inner.strip_prefix('c'))?;
    number(after.trim_start_matches('.'))
}

fn number(text: &str) -> Option<usize> {
    let digits = !text.is_empty() && text.len() <= 3 && text.bytes().all(|b| b.is_ascii_digit());
    digits
        .then(|| text.parse().ok())
        .flatten()
        .filter(|&n| n > 0)
}

/// `R/K`: single letters parted by strokes.
fn several(within: &[Unit]) -> Option<Vec<String>> {
    let odd = within.len() >= 3 && within.len() % 2 == 1;
    let parted = within
        .iter()
        .skip(1)
        .step_by(2)
        .all(|u| u.sign() == Some('/'));
    let letters: Vec<&Unit> = within.iter().step_by(2).collect();
    let good = |u: &&Unit| !u.dotted && u.sign() != Some('/') && !u.letter.trim().is_empty();
    (odd && parted && letters.iter().all(good))
        .then(|| letters.iter().map(|u| u.letter.clone()).collect())
}

/// Supplied letters with lost ones at either end: `[..ab]` is two signs side by side.
fn supplied(within: &[Unit], open: usize, out: &mut Vec<Sign>) -> Result<()> {
    let points = |u: &Unit| match u.sign() {
        Some('.') => 1,
        Some('…') => 3,
        _ => 0,
    };
    let head = within.iter().take_while(|u| points(u) > 0).count();
    let lost: usize = within[..head].iter().map(points).sum();
    if lost > 0 {
        out.push(Sign::Lost(Extent::Exactly(lost)));
    }
    let rest = &within[head..];
    if rest.is_empty() {
        return Ok(());
    }
    let tail = rest.iter().rev().take_while(|u| points(u) > 0).count();
    let after: usize = rest[rest.len() - tail..].iter().map(points).sum();
    // One point after a supplied letter is its full stop: [St.]
    let (tail, after) = if after > 1 { (tail, after) } else { (0, 0) };
    let mut body = &rest[..rest.len() - tail];
    let sure = body.last().and_then(Unit::sign) != Some('?');
    if !sure {
        body = &body[..body.len() - 1];
    }
    let text = plain(body, open + head)?;
    if text.is_empty() {
        return Err(fault(
            open,
            "\"[?]\" holds nothing but doubt",
            "write [.] for one lost letter or [---] for an unknown number",
        ));
    }
    out.push(Sign::Supplied { text, sure });
    if after > 0 {
        out.push(Sign::Lost(Extent::Exactly(after)));
    }
    Ok(())
}

/// `a(bc)` fills out an abbreviation and `(vac. 4)` is a blank; other round brackets stand on the
/// object. Returns the position after what was used.
fn round(units: &[Unit], i: usize, out: &mut Vec<Sign>) -> usize {
    let rest = &units[i + 1..];
    if let Some(n) = rest.iter().position(|u| u.sign() == Some(')')) {
        let inner: String = rest[..n].iter().map(|u| u.sign().unwrap_or('\0')).collect();
        if let Some(count) = inner.strip_prefix("vac.") {
            let count = count.trim();
            if count.is_empty() {
                out.push(Sign::Blank(None));
                return i + n + 2;
            }
            if let Some(c) = number(count) {
                out.push(Sign::Blank(Some(c)));
                return i + n + 2;
            }
        }
        if fills_out(out.last())
            && n > 0
            && rest[..n].iter().all(|u| expands(&u.letter) && !u.dotted)
        {
            out.push(Sign::Expanded(
                rest[..n].iter().map(|u| u.letter.as_str()).collect(),
            ));
            return i + n + 2;
        }
    }
    out.push(Sign::Letter("(".into()));
    i + 1
}

fn fills_out(before: Option<&Sign>) -> bool {
    matches!(before, Some(Sign::Letter(l) | Sign::Unclear(l)) if expands(l))
}

fn expands(letter: &str) -> bool {
    letter.chars().next().is_some_and(char::is_alphabetic)
}

/// The signs of a line as read: letters below [`UNCLEAR_BELOW`] unclear, lost letters as gaps.
pub fn signs_of(characters: &[Character]) -> Vec<Sign> {
    let mut out: Vec<Sign> = Vec::new();
    for c in characters {
        if c.is_stretch() {
            match out.last_mut() {
                Some(Sign::Lost(e)) => *e = Extent::Unknown,
                _ => out.push(Sign::Lost(Extent::Unknown)),
            }
        } else if c.text.is_empty() {
            match out.last_mut() {
                Some(Sign::Lost(Extent::Exactly(n))) => *n += 1,
                Some(Sign::Lost(Extent::Unknown)) => {}
                _ => out.push(Sign::Lost(Extent::Exactly(1))),
            }
        } else if c.confidence < UNCLEAR_BELOW && !c.text.trim().is_empty() {
            out.push(Sign::Unclear(c.text.clone()));
        } else {
            out.push(Sign::Letter(c.text.clone()));
        }
    }
    out
}

/// A line with the signs that its confidences call for: dot below a letter that is likelier
/// wrong than [`UNCLEAR_BELOW`] allows, `[..]` for lost letters, `[---]` where their number isn't
/// known.
pub fn print(line: &Line) -> String {
    print_signs(&signs_of(&line.characters))
}
