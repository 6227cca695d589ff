//! Words and sentence patterns of a language, one file a language.
//!
//! A file maps keys to patterns. In a pattern `{x}` is the text of the slot x, `{~x}` the word of doubt
//! for its chance with the space behind it, `{,~x}` the same after a comma (a space alone where nothing
//! is in doubt), and `[a|b]` stands as a, or as b (or as nothing) where a slot of a isn't filled.

use super::Basis;
use super::certainty::{self, likely};
use crate::dating::edtf::{Date, Edtf, End, Member, Year};
use crate::decisions::two;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A language that a note can be written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// British English.
    #[default]
    British,
    /// American English.
    American,
    /// French: entry and label.
    French,
    /// German: entry and label.
    German,
}

impl Language {
    /// Every language.
    pub const ALL: [Language; 4] = [
        Language::British,
        Language::American,
        Language::French,
        Language::German,
    ];

    /// Tag after BCP 47, as on the command line and in HTML.
    pub fn as_str(self) -> &'static str {
        match self {
            Language::British => "en-GB",
            Language::American => "en-US",
            Language::French => "fr",
            Language::German => "de",
        }
    }

    /// The language of that tag, if it is one; case is of no matter.
    pub fn parse(tag: &str) -> Option<Language> {
        let same = |l: &Language| l.as_str().eq_ignore_ascii_case(tag.trim());
        Language::ALL.into_iter().find(same)
    }

    /// Whether the note for the file is written in it too.
    pub fn is_english(self) -> bool {
        matches!(self, Language::British | Language::American)
    }

    /// Its words.
    pub(super) fn wording(self) -> &'static Wording {
        static ALL: LazyLock<[Wording; 4]> = LazyLock::new(|| {
            let british = Wording::new(include_str!("wording/en-GB.json"));
            let mut american = british.clone();
            let other = Wording::new(include_str!("wording/en-US.json"));
            american.words.extend(other.words);
            let french = Wording::new(include_str!("wording/fr.json"));
            let german = Wording::new(include_str!("wording/de.json"));
            [british, american, french, german]
        });
        &ALL[self as usize]
    }
}

/// How doubt is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Telling {
    /// By the words of an entry; what is too doubtful for the last of them isn't told.
    Words,
    /// By the words of the note for the file with the chance; below this chance nothing is told, and
    /// from [`certainty::PLAIN`] on no word.
    Figures(f64),
}

/// The words of one language.
#[derive(Debug, Clone)]
pub(super) struct Wording {
    words: BTreeMap<String, String>,
}

/// What fills a pattern: name, text, and what that rests on.
#[derive(Debug, Clone, Default)]
pub(super) struct Slots(Vec<(&'static str, String, Option<Basis>)>);

impl Slots {
    /// A text that rests on nothing of its own.
    pub(super) fn text(mut self, name: &'static str, text: impl Into<String>) -> Slots {
        self.0.push((name, text.into(), None));
        self
    }

    /// A text with what it rests on; nothing where there is none.
    pub(super) fn fact(mut self, name: &'static str, fact: Option<(String, Basis)>) -> Slots {
        self.0.extend(fact.map(|(t, b)| (name, t, Some(b))));
        self
    }
}

impl Wording {
    fn new(json: &str) -> Wording {
        // The tests read every file, so a broken one never leaves the house
        let words = serde_json::from_str(json).expect("a built-in file of patterns is JSON");
        Wording { words }
    }

    /// The text of that key; the key itself where the file lacks it, so that it is seen.
    pub(super) fn text<'a>(&'a self, key: &'a str) -> &'a str {
        self.words.get(key).map_or(key, String::as_str)
    }

    /// The text of that key, if the file has it.
    pub(super) fn get(&self, key: &str) -> Option<&str> {
        self.words.get(key).map(String::as_str)
    }

    /// The pattern of that key filled, and the least sure of what it rests on; `None` where a slot that
    /// must be filled isn't, or is too doubtful to be told.
    pub(super) fn fill(&self, key: &str, slots: &Slots, how: Telling) -> Option<(String, Basis)> {
        let filler = Filler {
            wording: self,
            slots,
            how,
            bare: false,
            chances: RefCell::default(),
        };
        let (mut words, least) = filler.run(self.text(key))?;
        let chances = filler.chances.take();
        let plain = |c: &[f64]| c.iter().all(|p| *p >= certainty::PLAIN);
        if let Some(word) = one_word(&chances).filter(|_| !plain(&chances)) {
            // One word of doubt for all of it
            let bare = Filler {
                bare: true,
                ..filler
            };
            let (plain, _) = bare.run(self.text(key))?;
            let least = two(chances.iter().copied().fold(1.0, f64::min));
            let plain = plain.trim_end_matches('.');
            let more = if least.starts_with('>') {
                ""
            } else {
                " or more"
            };
            words = format!("{plain}, all {word} ({least}{more}).");
        }
        Some((super::provenance::capital(words.trim()), least))
    }

    /// A pattern within a sentence, in the words of an entry.
    pub(super) fn inside(&self, key: &str, slots: &Slots) -> Option<(String, Basis)> {
        let filler = Filler {
            wording: self,
            slots,
            how: Telling::Words,
            bare: false,
            chances: RefCell::default(),
        };
        filler.run(self.text(key))
    }

    /// A pattern without chances in it.
    pub(super) fn plain(&self, key: &str, slots: &[(&'static str, &str)]) -> String {
        let all = slots
            .iter()
            .fold(Slots::default(), |s, (n, t)| s.text(n, *t));
        let filler = Filler {
            wording: self,
            slots: &all,
            how: Telling::Words,
            bare: false,
            chances: RefCell::default(),
        };
        filler.run(self.text(key)).map_or_else(String::new, |f| f.0)
    }

    /// The word of doubt of an entry for a chance; `None` for what is left unsaid.
    fn word(&self, chance: f64) -> Option<&str> {
        match super::entry::word(chance)? {
            "" => Some(""),
            word => Some(self.text(match word {
                "probably" => "doubt.probably",
                _ => "doubt.possibly",
            })),
        }
    }

    /// "a", "a and b", "a, b and c".
    pub(super) fn joined(&self, all: &[String]) -> String {
        match all.split_last() {
            Some((last, rest)) if !rest.is_empty() => {
                let key = if rest.len() > 1 {
                    "list.last"
                } else {
                    "list.and"
                };
                format!("{}{}{last}", rest.join(", "), self.text(key))
            }
            _ => all.concat(),
        }
    }

    /// An EDTF date in words; what isn't understood stays as it is.
    pub(super) fn date(&self, edtf: &str) -> String {
        let Ok(e) = Edtf::parse(edtf) else {
            return edtf.to_string();
        };
        let with = |key: &str, d: &Date| self.plain(key, &[("date", &self.one(d))]);
        match &e {
            Edtf::On(d) => self.one(d),
            Edtf::Interval(End::On(a), End::On(b)) => self.span(a, b),
            Edtf::Interval(End::On(a), _) => with("date.from", a),
            Edtf::Interval(_, End::On(b)) => with("date.until", b),
            Edtf::OneOf(m) => match m.as_slice() {
                [Member::Run(a, b)] => self.span(a, b),
                [Member::On(d)] => self.one(d),
                [Member::Until(d)] => with("date.by", d),
                [Member::Since(d)] => with("date.later", d),
                _ => edtf.to_string(),
            },
            _ => edtf.to_string(),
        }
    }

    fn span(&self, a: &Date, b: &Date) -> String {
        let about = a.qualifiers[0].approximate || b.qualifiers[0].approximate;
        let plain = |d: &Date| {
            self.one(&Date {
                qualifiers: Default::default(),
                ..*d
            })
        };
        let said = format!("{}-{}", plain(a), plain(b));
        match about {
            true => self.plain("date.about", &[("date", &said)]),
            false => said,
        }
    }

    fn one(&self, d: &Date) -> String {
        let figures = |t: Option<[Option<u8>; 2]>| match t {
            Some([Some(a), Some(b)]) => Some(usize::from(a * 10 + b)),
            _ => None,
        };
        let year = match d.year {
            Year::Digits { digits, .. } => digits
                .iter()
                .map(|x| x.map_or_else(|| "X".to_string(), |n| n.to_string()))
                .collect::<String>(),
            Year::Long { mantissa, .. } => mantissa.to_string(),
        };
        let year = match year.strip_suffix('X') {
            Some(decade) if !decade.ends_with('X') => {
                self.plain("date.decade", &[("date", &format!("{decade}0"))])
            }
            _ => year,
        };
        let month = figures(d.month).and_then(|m| self.get(&format!("month.{m}")));
        let mut said = match (figures(d.day), month) {
            (Some(n), Some(m)) => {
                let first = self.get("day.1").filter(|_| n == 1);
                let day = first.map_or_else(|| n.to_string(), str::to_owned);
                self.plain("date.day", &[("day", &day), ("month", m), ("year", &year)])
            }
            (_, Some(m)) => self.plain("date.month", &[("month", m), ("year", &year)]),
            _ => year,
        };
        if d.qualifiers[0].approximate {
            said = self.plain("date.about", &[("date", &said)]);
        }
        if d.qualifiers[0].uncertain {
            said.push('?');
        }
        said
    }
}

/// One filling of one pattern.
struct Filler<'a> {
    wording: &'a Wording,
    slots: &'a Slots,
    how: Telling,
    /// Without words of doubt.
    bare: bool,
    /// The chances told.
    chances: RefCell<Vec<f64>>,
}

impl Filler<'_> {
    fn run(&self, pattern: &str) -> Option<(String, Basis)> {
        let mut out = String::new();
        let mut least = Basis::Record;
        let mut rest = pattern;
        while let Some(at) = rest.find(['{', '[']) {
            out += &rest[..at];
            let inner = &rest[at + 1..];
            if rest[at..].starts_with('{') {
                let end = inner.find('}')?;
                let (text, basis) = self.slot(&inner[..end])?;
                out += &text;
                least = lesser(least, basis);
                rest = &inner[end + 1..];
            } else {
                let end = closing(inner)?;
                let (first, second) = inner[..end].split_once('|').unwrap_or((&inner[..end], ""));
                if let Some((text, basis)) = self.run(first).or_else(|| self.run(second)) {
                    out += &text;
                    least = lesser(least, basis);
                }
                rest = &inner[end + 1..];
            }
        }
        Some((out + rest, least))
    }

    fn slot(&self, name: &str) -> Option<(String, Basis)> {
        let bare = name.trim_start_matches([',', '~']);
        let (_, text, basis) = self.slots.0.iter().find(|s| s.0 == bare)?;
        let basis = basis.unwrap_or(Basis::Record);
        let doubt = match (basis, self.how) {
            (Basis::Program(p), Telling::Words) => self.wording.word(p)?.to_owned(),
            (Basis::Program(p), Telling::Figures(least)) if p >= least => {
                if name.starts_with([',', '~']) {
                    self.chances.borrow_mut().push(p);
                }
                match self.bare {
                    true => String::new(),
                    false => certainty::doubt(p).trim_end().to_owned(),
                }
            }
            (Basis::Program(_), Telling::Figures(_)) => return None,
            _ => String::new(),
        };
        let told = match (&name[..name.len() - bare.len()], doubt.is_empty()) {
            ("", _) => text.clone(),
            (",~", true) => " ".into(),
            (_, true) => String::new(),
            (",~", false) => format!(", {doubt} "),
            (_, false) => format!("{doubt} "),
        };
        Some((told, basis))
    }
}

/// The one word for several chances; `None` for one alone, or where they have several words.
fn one_word(chances: &[f64]) -> Option<&'static str> {
    let (first, rest) = chances.split_first()?;
    let word = likely(*first);
    (!rest.is_empty() && rest.iter().all(|p| likely(*p) == word)).then_some(word)
}

/// Where the bracket that is open closes.
fn closing(text: &str) -> Option<usize> {
    let mut depth = 0usize;
    for (i, c) in text.char_indices() {
        match c {
            '[' => depth += 1,
            ']' if depth == 0 => return Some(i),
            ']' => depth -= 1,
            _ => {}
        }
    }
    None
}

/// The less sure of two.
pub(super) fn lesser(a: Basis, b: Basis) -> Basis {
    match (a, b) {
        (Basis::Program(x), Basis::Program(y)) => Basis::Program(x.min(y)),
        (Basis::Program(x), _) | (_, Basis::Program(x)) => Basis::Program(x),
        (Basis::Person(d), _) | (_, Basis::Person(d)) => Basis::Person(d),
        _ => Basis::Record,
    }
}

#[cfg(test)]
#[path = "wording/tests.rs"]
mod tests;
