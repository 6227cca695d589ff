//! Dating clues in the wording of a mark, and the interval that they leave.
//!
//! The clues are a table (`clues/table.csv`, built in) that a user extends by a file of the same
//! columns. A clue dates the mark that bears it, never the picture: stretcher, label, frame and
//! picture may each differ.
//!
//! How sure a clue is decides what it does. `hard` (law, charter, dated event) cuts the interval;
//! `usual` (usual trade practice, exceptions known) cuts it where it doesn't contradict a hard one;
//! `weak` is told and cuts nothing. Where hard clues contradict each other, that is said and no
//! interval is given.

use crate::error::{Error, Kind, Result};
use serde::Serialize;
use std::path::Path;

mod decode;
pub mod designs;
mod interval;
mod wording;

use interval::{Limit, Span};
use wording::{Pattern, Token};

/// The built-in table.
const TABLE: &str = include_str!("clues/table.csv");

/// Name of the user's own table in the folder of the lists.
pub const OWN_TABLE: &str = "clues.csv";

/// How sure one side of a clue is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sure {
    /// Use only beside other clues; cuts nothing.
    Weak,
    /// Usual trade practice, exceptions known.
    Usual,
    /// Law, charter or dated event; holds unless the mark is a later copy.
    Hard,
}

impl Sure {
    fn read(text: &str) -> Option<Sure> {
        match text.trim().to_lowercase().as_str() {
            "hard" => Some(Sure::Hard),
            "usual" => Some(Sure::Usual),
            "weak" => Some(Sure::Weak),
            _ => None,
        }
    }

    /// For a person.
    pub fn told(self) -> &'static str {
        match self {
            Sure::Hard => "law or dated event",
            Sure::Usual => "usual practice, exceptions known",
            Sure::Weak => "weak, cuts nothing",
        }
    }
}

/// Where in a line a clue must stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Where {
    Any,
    /// After a name, as letters of honour are.
    After,
    /// At the end of a line.
    End,
    /// As the whole line.
    Line,
    /// After the word London.
    London,
    /// After the word London, or at the end of a line with other words.
    District,
}

#[derive(Debug, Clone)]
enum Wording {
    Words(Pattern),
    Decoder(String),
}

/// One row of the table.
#[derive(Debug, Clone)]
struct Rule {
    clue: String,
    words: Vec<Wording>,
    place: Where,
    unless: Vec<Pattern>,
    /// `None`: the dates come from the decoder.
    spans: Vec<(Said, Said)>,
    before: Sure,
    after: Sure,
    source: String,
    note: String,
}

/// One date of a rule.
#[derive(Debug, Clone)]
enum Said {
    Nothing,
    Date(Limit),
    Found,
}

/// A clue found in a text.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Clue {
    /// The words as they stand.
    pub words: String,
    /// What they are.
    pub clue: String,
    /// EDTF; the earliest where there are several spans.
    pub not_before: Option<String>,
    /// EDTF; the latest where there are several spans.
    pub not_after: Option<String>,
    /// All spans, where there are several.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub spans: Vec<[Option<String>; 2]>,
    /// How sure "not before" is (or, where there is none, "not after").
    pub sure: Sure,
    /// How sure "not after" is, where it differs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sure_after: Option<Sure>,
    /// Whether it cut the interval.
    pub cuts: bool,
    /// Published source, or "from memory".
    pub source: String,
    /// Anything else.
    pub note: String,
    /// Line of the text, from 0.
    pub line: usize,
    #[serde(skip)]
    limits: Vec<Span>,
    #[serde(skip)]
    tokens: (usize, usize),
}

/// What the wording says of a mark's date.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Dating {
    /// Clues in order of the text.
    pub clues: Vec<Clue>,
    /// EDTF; `None`: no limit, or a conflict.
    pub not_before: Option<String>,
    /// EDTF; `None`: no limit, or a conflict.
    pub not_after: Option<String>,
    /// The whole interval as one EDTF expression; empty without limits or with a conflict.
    pub edtf: String,
    /// What can't be true together, in sentences.
    pub conflicts: Vec<String>,
}

/// The table of clues.
#[derive(Debug, Clone)]
pub struct Clues {
    rules: Vec<Rule>,
}

impl Clues {
    /// The built-in table.
    ///
    /// # Errors
    /// `Kind::Text` naming the row, if the built-in table were broken.
    pub fn built_in() -> Result<Clues> {
        let mut clues = Clues { rules: Vec::new() };
        match clues.add("built-in clues", TABLE).into_iter().next() {
            Some(fault) => Err(fault),
            None => Ok(clues),
        }
    }

    /// The built-in table and the user's own `clues.csv` in `folder`, if there is one; with the
    /// faults of the latter, one for each row that can't be used.
    ///
    /// # Errors
    /// `Kind::Text` if the user's table can't be read at all.
    pub fn with_own(folder: Option<&Path>) -> Result<(Clues, Vec<Error>)> {
        let mut clues = Clues::built_in()?;
        let mut faults = Vec::new();
        if let Some(file) = folder.map(|f| f.join(OWN_TABLE)).filter(|f| f.is_file()) {
            let text = std::fs::read_to_string(&file).map_err(|e| {
                Error::new(
                    Kind::Text,
                    file.display(),
                    format!("it can't be read as UTF-8 text ({e})"),
                    "save it as CSV in UTF-8",
                )
            })?;
            faults = clues.add(&file.display().to_string(), &text);
        }
        Ok((clues, faults))
    }

    /// Number of clues.
    pub fn len(&self) -> usize {
        self.rules.len()
    }

    /// Whether the table is empty.
    pub fn is_empty(&self) -> bool {
        self.rules.is_empty()
    }

    /// Adds the rows of a table; a row that can't be used becomes a fault.
    pub fn add(&mut self, place: &str, text: &str) -> Vec<Error> {
        let mut faults = Vec::new();
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let heads: Vec<String> = match reader.headers() {
            Ok(h) => h.iter().map(|h| h.trim().to_lowercase()).collect(),
            Err(e) => {
                let next = "save it as CSV in UTF-8";
                return vec![Error::new(
                    Kind::Text,
                    place,
                    format!("no table ({e})"),
                    next,
                )];
            }
        };
        for (i, record) in reader.records().enumerate() {
            let row = format!("{place}, row {}", i + 2);
            let record = match record {
                Ok(r) => r,
                Err(e) => {
                    let next = "mend the row";
                    faults.push(Error::new(Kind::Text, row, format!("broken ({e})"), next));
                    continue;
                }
            };
            let get = |name: &str| -> String {
                let column = heads.iter().position(|h| h == name);
                let cell = column.and_then(|k| record.get(k));
                cell.unwrap_or("").trim().to_string()
            };
            if record.iter().all(|c| c.trim().is_empty()) {
                continue;
            }
            match rule(&get) {
                Ok(r) => self.rules.push(r),
                Err((column, what, next)) => faults.push(Error::new(
                    Kind::Text,
                    format!("{row}, column \"{column}\""),
                    format!("{what}, so this clue is not used"),
                    next,
                )),
            }
        }
        faults
    }

    /// The clues in a text and the interval that they leave. Lines are parted by line breaks or
    /// by ` / `.
    pub fn date(&self, text: &str) -> Dating {
        let all = wording::tokens(text);
        let mut found: Vec<Clue> = Vec::new();
        for rule in &self.rules {
            for wording in &rule.words {
                for (first, end, date, until) in occurrences(wording, text, &all) {
                    if rule.stands(text, &all, first, end)
                        && let Some(c) = rule.clue(text, &all, (first, end), &date, &until)
                    {
                        found.push(c);
                    }
                }
            }
        }
        // The same rule twice at a place, or a bare year within another clue, is one clue
        found.sort_by_key(|c| (c.tokens.0, std::cmp::Reverse(c.tokens.1)));
        let mut kept: Vec<Clue> = Vec::new();
        for c in &found {
            let within = |k: &Clue| k.tokens.0 <= c.tokens.0 && c.tokens.1 <= k.tokens.1;
            let same = kept.iter().any(|k| k.clue == c.clue && within(k));
            let bare =
                c.clue == "year written out" && found.iter().any(|k| k.clue != c.clue && within(k));
            // A district's letters are part of its number
            let part = found.iter().any(|k| {
                let longer = k.tokens.1 - k.tokens.0 > c.tokens.1 - c.tokens.0;
                longer && within(k) && [k, c].iter().all(|c| c.clue.contains("district"))
            });
            if !same && !bare && !part {
                kept.push(c.clone());
            }
        }
        join(kept)
    }
}

type Fault = (&'static str, String, &'static str);

fn rule(get: &dyn Fn(&str) -> String) -> std::result::Result<Rule, Fault> {
    let words: Vec<Wording> = alternatives(&get("words"))
        .map(
            |w| match w.strip_prefix('<').and_then(|w| w.strip_suffix('>')) {
                Some(name) => Wording::Decoder(name.to_string()),
                None => Wording::Words(Pattern::read(w)),
            },
        )
        .collect();
    if words.is_empty() {
        let next = "write the words of the clue, alternatives parted by |";
        return Err(("words", "there are no words".into(), next));
    }
    for w in &words {
        if let Wording::Decoder(name) = w
            && decode::run(name, "", &[]).is_none()
        {
            return Err((
                "words",
                format!("\"<{name}>\" is no decoder of the program"),
                "write words",
            ));
        }
    }
    let place = match get("where").to_lowercase().as_str() {
        "" | "any" | "capitals" => Where::Any,
        "after" => Where::After,
        "end" => Where::End,
        "line" => Where::Line,
        "london" => Where::London,
        "district" => Where::District,
        other => {
            return Err((
                "where",
                format!("\"{other}\" is no place"),
                "write any, after, end, line, london or district",
            ));
        }
    };
    let (a, b) = (get("not_before"), get("not_after"));
    let dates = |column: &'static str, text: &str| -> std::result::Result<Vec<Said>, Fault> {
        text.split('|')
            .map(str::trim)
            .map(|d| match d {
                "" => Ok(Said::Nothing),
                d if d.starts_with('<') => Ok(Said::Found),
                d => Limit::read(d).map(Said::Date).ok_or((
                    column,
                    format!("\"{d}\" is no EDTF date"),
                    "write 1868, 1868~, 1868-05 or leave it empty",
                )),
            })
            .collect()
    };
    let (mut a, mut b) = (dates("not_before", &a)?, dates("not_after", &b)?);
    let count = a.len().max(b.len());
    a.resize(count, Said::Nothing);
    b.resize(count, Said::Nothing);
    let sure = match get("sure") {
        s if s.is_empty() => "usual".to_string(),
        s => s,
    };
    let (s, t) = sure.split_once('/').unwrap_or((&sure, &sure));
    let bad = || {
        let next = "write hard, usual or weak, or two of them as hard/weak";
        ("sure", format!("\"{sure}\" is no degree"), next)
    };
    let source = get("source");
    Ok(Rule {
        clue: match get("clue") {
            c if c.is_empty() => get("words"),
            c => c,
        },
        words,
        place,
        unless: alternatives(&get("unless")).map(Pattern::read).collect(),
        spans: a.into_iter().zip(b).collect(),
        before: Sure::read(s).ok_or_else(bad)?,
        after: Sure::read(t).ok_or_else(bad)?,
        source: if source.is_empty() {
            "no source given".into()
        } else {
            source
        },
        note: get("note"),
    })
}

fn alternatives(text: &str) -> impl Iterator<Item = &str> {
    text.split('|').map(str::trim).filter(|w| !w.is_empty())
}

fn occurrences(
    wording: &Wording,
    text: &str,
    all: &[Token],
) -> Vec<(usize, usize, String, String)> {
    match wording {
        Wording::Words(p) => (0..all.len())
            .filter_map(|i| {
                let end = p.fits(text, all, i)?;
                Some((i, end, String::new(), String::new()))
            })
            .collect(),
        Wording::Decoder(name) => decode::run(name, text, all)
            .unwrap_or_default()
            .into_iter()
            .map(|f| (f.first, f.end, f.date, f.until))
            .collect(),
    }
}

impl Rule {
    /// Whether the clue may stand at these tokens.
    fn stands(&self, text: &str, all: &[Token], first: usize, end: usize) -> bool {
        let line = all[first].line;
        let before = first.checked_sub(1).map(|k| &all[k]);
        let after = all.get(end);
        let same = |t: Option<&Token>| t.is_some_and(|t| t.line == line);
        let ends = !same(after);
        let london = before.is_some_and(|t| matches!(t.folded.as_str(), "london" | "lond"));
        let place = match self.place {
            Where::Any => true,
            Where::After => {
                let named = same(before)
                    && before.is_some_and(|t| t.begins && t.folded.chars().count() > 1);
                let parted = after.is_none_or(|t| {
                    let between = &text[all[end - 1].end..t.start];
                    between.contains([',', ';', '(', '"', '“', ':', '\n'])
                        || (t.capital && (2..=5).contains(&t.folded.len()))
                        || !t.begins && !t.capital
                });
                named && (ends || parted)
            }
            Where::End => ends,
            Where::Line => ends && !same(before),
            Where::London => london,
            Where::District => london || (ends && same(before)),
        };
        let near = self.unless.iter().any(|p| {
            p.fits(text, all, end.min(all.len())).is_some()
                || (0..first).any(|k| p.fits(text, all, k) == Some(first))
        });
        place && !near
    }

    fn clue(
        &self,
        text: &str,
        all: &[Token],
        tokens: (usize, usize),
        date: &str,
        until: &str,
    ) -> Option<Clue> {
        let limit = |s: &Said, found: &str| match s {
            Said::Nothing => Some(None),
            Said::Date(l) => Some(Some(l.clone())),
            Said::Found => Limit::read(found).map(Some),
        };
        let until = if until.is_empty() { date } else { until };
        let limits: Vec<Span> = self
            .spans
            .iter()
            .map(|(a, b)| {
                Some(Span {
                    from: limit(a, date)?,
                    to: limit(b, until)?,
                })
            })
            .collect::<Option<_>>()?;
        let show = |l: &Option<Limit>| l.as_ref().map(|l| l.text.clone());
        let from = limits.first().and_then(|s| show(&s.from));
        let to = limits.last().and_then(|s| show(&s.to));
        let spans = if limits.len() > 1 {
            limits
                .iter()
                .map(|s| [show(&s.from), show(&s.to)])
                .collect()
        } else {
            Vec::new()
        };
        let (sure, sure_after) = match (&from, &to) {
            (None, Some(_)) => (self.after, None),
            (Some(_), Some(_)) if self.after != self.before => (self.before, Some(self.after)),
            _ => (self.before, None),
        };
        Some(Clue {
            words: text[all[tokens.0].start..all[tokens.1 - 1].end].to_string(),
            clue: self.clue.clone(),
            not_before: from,
            not_after: to,
            spans,
            sure,
            sure_after,
            cuts: false,
            source: self.source.clone(),
            note: self.note.clone(),
            line: all[tokens.0].line,
            // Only sides that aren't weak may cut
            limits: limits
                .into_iter()
                .map(|s| Span {
                    from: s.from.filter(|_| self.before > Sure::Weak),
                    to: s.to.filter(|_| self.after > Sure::Weak),
                })
                .collect(),
            tokens,
        })
    }
}

impl Clue {
    /// The sides that are at least so sure.
    fn sides(&self, at_least: Sure) -> Vec<Span> {
        let after = self.sure_after.unwrap_or(self.sure);
        self.limits
            .iter()
            .map(|s| Span {
                from: s.from.clone().filter(|_| self.sure >= at_least),
                to: s.to.clone().filter(|_| after >= at_least),
            })
            .collect()
    }

    fn told(&self) -> String {
        let (a, b) = (self.not_before.as_deref(), self.not_after.as_deref());
        let dates = match (a, b) {
            (Some(a), Some(b)) => format!("{a} to {b}"),
            (Some(a), None) => format!("not before {a}"),
            (None, Some(b)) => format!("not after {b}"),
            (None, None) => "no date".into(),
        };
        format!("\"{}\" ({dates})", self.words)
    }
}

/// Hard clues first, then usual ones where they don't contradict.
fn join(mut clues: Vec<Clue>) -> Dating {
    let open = vec![Span::default()];
    let mut spans = open.clone();
    let mut conflicts = Vec::new();
    for i in 0..clues.len() {
        let sides = clues[i].sides(Sure::Hard);
        if sides.iter().all(|s| *s == Span::default()) {
            continue;
        }
        clues[i].cuts = true;
        spans = interval::meet(&spans, &sides);
        for j in 0..i {
            if interval::meet(&sides, &clues[j].sides(Sure::Hard)).is_empty() {
                conflicts.push(format!(
                    "{} and {} can't both be true of one mark: a word is misread, a part was added later, or it is a later copy.",
                    clues[j].told(),
                    clues[i].told()
                ));
            }
        }
    }
    if spans.is_empty() && conflicts.is_empty() {
        conflicts
            .push("These clues can't all be true of one mark, though any two of them can.".into());
    }
    for clue in &mut clues {
        let sides = clue.sides(Sure::Usual);
        if sides == clue.sides(Sure::Hard) || spans.is_empty() {
            continue;
        }
        let left = interval::meet(&spans, &sides);
        if left.is_empty() {
            conflicts.push(format!(
                "{} doesn't fit the other clues; it rests on usual practice and was left out of the interval.",
                clue.told()
            ));
        } else {
            clue.cuts = true;
            spans = left;
        }
    }
    let show = |l: &Option<Limit>| l.as_ref().map(|l| l.text.clone());
    Dating {
        not_before: spans.first().and_then(|s| show(&s.from)),
        not_after: spans.last().and_then(|s| show(&s.to)),
        edtf: interval::edtf(&spans),
        clues,
        conflicts,
    }
}

/// Words after which a number before them is a house number.
fn is_thoroughfare(word: &str) -> bool {
    matches!(
        word,
        "street"
            | "st"
            | "road"
            | "rd"
            | "square"
            | "lane"
            | "row"
            | "terrace"
            | "avenue"
            | "place"
    )
}
