//! Words of lines, each letter with its chance.

use super::letters::{self, LOST, STRETCH};
use crate::readings::{Character, Line};
use std::ops::Range;

/// One letter of a word.
#[derive(Debug, Clone, PartialEq)]
pub struct Letter {
    /// Folded sign (`letters::fold`), `LOST` or `STRETCH`.
    pub sign: u8,
    /// Chance that it is right, 0 to 1.
    pub chance: f32,
    /// Other signs with their chances.
    pub others: Vec<(u8, f32)>,
}

/// A word as it stands on the mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// As it stands, with its punctuation; losses by the editorial signs.
    pub text: String,
    /// Letters, digits and ampersands, folded.
    pub letters: Vec<Letter>,
    /// The letters as text: `?` for a lost one, `*` for lost ones of unknown number.
    pub folded: String,
    /// Line, from 0.
    pub line: usize,
    /// Positions of the line that it takes.
    pub place: Range<usize>,
    /// A sign that stands alone behind it, such as a dash.
    pub behind: Option<char>,
    /// Number within its line, from 0.
    pub index: usize,
    /// Words of its line.
    pub of: usize,
}

impl Word {
    /// Whether letters of it are lost.
    pub fn damaged(&self) -> bool {
        self.letters.iter().any(|l| l.sign >= LOST)
    }

    /// The text without punctuation around it; a currency sign stays.
    pub fn core(&self) -> &str {
        let keep = |c: char| {
            c.is_alphanumeric() || matches!(c, '&' | '£' | '$' | '[' | ']' | '½' | '¼' | '¾' | 'ƒ')
        };
        self.text.trim_matches(|c| !keep(c))
    }
}

/// One position of a line as the cutting sees it.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Letter(bool),
    Digit,
    Sign(char),
    Lost,
}

fn kind(c: &Character) -> Kind {
    match c.text.chars().next() {
        None => Kind::Lost,
        Some(s) if s.is_alphabetic() => Kind::Letter(s.is_uppercase()),
        Some(s) if s.is_ascii_digit() => Kind::Digit,
        Some(s) => Kind::Sign(s),
    }
}

/// Whether a word ends before position `at` of a run without blanks, as in "No.27", "Title:Dawn", "Carver&Gilder".
fn parts(kinds: &[Kind], at: usize) -> bool {
    let (now, last) = (kinds[at], kinds[at - 1]);
    let before = |k: usize| at.checked_sub(k).map(|i| kinds[i]);
    let letters = kinds[..at - 1]
        .iter()
        .rev()
        .take_while(|k| matches!(k, Kind::Letter(_)))
        .count();
    match (last, now) {
        (Kind::Sign(':' | ';' | ',' | '=' | '—' | '–'), Kind::Letter(_)) => true,
        (Kind::Sign(':' | ';' | ',' | '=' | '—' | '–'), Kind::Digit | Kind::Sign('£' | '$')) => {
            !matches!(before(2), Some(Kind::Digit))
        }
        (Kind::Sign('.' | '°' | 'º'), Kind::Digit) => {
            letters > 0 && (letters > 1 || kinds.len() < 9)
        }
        (Kind::Sign('.'), Kind::Letter(true)) => letters > 2,
        (Kind::Sign('&'), Kind::Letter(_)) | (Kind::Letter(_), Kind::Sign('&')) => true,
        (Kind::Letter(_) | Kind::Sign('.'), Kind::Sign('£' | '$')) => true,
        _ => false,
    }
}

/// The words of lines, in reading order. What holds no letter, digit or loss is no word.
pub fn words(lines: &[Line]) -> Vec<Word> {
    let mut out: Vec<Word> = Vec::new();
    for (line, l) in lines.iter().enumerate() {
        let first = out.len();
        let blank = |c: &Character| !c.text.is_empty() && c.text.trim().is_empty();
        let mut at = 0;
        while at < l.characters.len() {
            let run = l.characters[at..].iter().take_while(|c| !blank(c)).count();
            let kinds: Vec<Kind> = l.characters[at..at + run].iter().map(kind).collect();
            let mut from = 0;
            for i in 1..=run {
                if i == run || parts(&kinds, i) {
                    let part = &l.characters[at + from..at + i];
                    match (word(part, line, at + from), out.last_mut()) {
                        (Some(w), _) => out.push(w),
                        (None, Some(last)) if last.line == line => {
                            last.behind = part.iter().find_map(|c| c.text.chars().next());
                        }
                        _ => {}
                    }
                    from = i;
                }
            }
            at += run + 1;
        }
        let of = out.len() - first;
        for (index, w) in out[first..].iter_mut().enumerate() {
            (w.index, w.of) = (index, of);
        }
    }
    out
}

fn word(characters: &[Character], line: usize, at: usize) -> Option<Word> {
    let mut letters = Vec::new();
    let (mut text, mut lost) = (String::new(), 0usize);
    for c in characters {
        if c.is_lost() && !c.is_stretch() {
            lost += 1;
            letters.push(letter(c, LOST));
            continue;
        }
        if lost > 0 {
            text += &format!("[{}]", ".".repeat(lost));
            lost = 0;
        }
        if c.is_stretch() {
            text += "[---]";
            letters.push(letter(c, STRETCH));
            continue;
        }
        text += &c.text;
        letters.extend(letters::fold(&c.text).into_iter().map(|s| letter(c, s)));
    }
    if lost > 0 {
        text += &format!("[{}]", ".".repeat(lost));
    }
    if letters.is_empty() {
        return None;
    }
    let folded = letters.iter().map(|l| letters::spell(l.sign)).collect();
    Some(Word {
        text,
        letters,
        folded,
        line,
        place: at..at + characters.len(),
        behind: None,
        index: 0,
        of: 1,
    })
}

fn letter(c: &Character, sign: u8) -> Letter {
    let others = c.alternatives.iter().filter_map(|(s, p)| {
        let folded = letters::fold(s);
        (folded.len() == 1).then(|| (folded[0], *p as f32))
    });
    Letter {
        sign,
        chance: c.confidence as f32,
        others: others.collect(),
    }
}
