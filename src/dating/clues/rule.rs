//! The rows of the table: read, and found in a text.

use super::decode::{self, Seen};
use super::interval::{Limit, Span};
use super::wording::{Pattern, Token};
use super::{Clue, Margin, Sure, is_thoroughfare};

/// Words behind a name that make it that of a street or a house; `{streets}` in the table.
const STREETS: &[&str] = &[
    "Street",
    "St",
    "Road",
    "Rd",
    "Square",
    "Sq",
    "Terrace",
    "Place",
    "Crescent",
    "Lane",
    "Row",
    "Parade",
    "Avenue",
    "Ave",
    "Gardens",
    "Buildings",
    "Bridge",
    "Hotel",
    "Hall",
    "Hospital",
    "Theatre",
    "Mansions",
    "Gate",
    "Grove",
    "Walk",
    "Wharf",
    "Dock",
    "Pier",
    "Inn",
    "Arms",
    "Tavern",
    "School",
    "College",
    "Station",
    "Cinema",
    "Ward",
];

/// Where in a line a clue must stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Where {
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
    /// After the word London, or at the end of a line behind the name of a street.
    Address,
}

impl Where {
    /// What has to stand before and behind a wording.
    pub(super) fn example(self) -> (&'static str, &'static str) {
        match self {
            Where::Any | Where::End | Where::Line => ("", ""),
            Where::After => ("T Carrow ", ""),
            Where::London | Where::District | Where::Address => ("High Street, London, ", ""),
        }
    }
}

#[derive(Debug, Clone)]
pub(super) enum Wording {
    Words(Pattern),
    Decoder(String),
}

/// One row of the table.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    pub id: String,
    pub kind: String,
    pub clue: String,
    pub words: Vec<Wording>,
    region: String,
    pub place: Where,
    unless: Vec<Pattern>,
    /// `None`: the dates come from the decoder.
    spans: Vec<(Said, Said)>,
    before: Sure,
    after: Sure,
    margin: Margin,
    pub source: String,
    note: String,
}

/// One date of a rule.
#[derive(Debug, Clone)]
pub(super) enum Said {
    Nothing,
    Date(Limit),
    Found,
}

type Fault = (&'static str, String, &'static str);

fn wordings(text: &str) -> std::result::Result<Vec<Wording>, Fault> {
    let words: Vec<Wording> = alternatives(text)
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
            && decode::run(
                name,
                &Seen {
                    text: "",
                    all: &[],
                    dates: &[],
                },
            )
            .is_none()
        {
            return Err((
                "words",
                format!("\"<{name}>\" is no decoder of the program"),
                "write words",
            ));
        }
    }
    Ok(words)
}

fn place(text: &str) -> std::result::Result<Where, Fault> {
    Ok(match text.to_lowercase().as_str() {
        "" | "any" | "capitals" => Where::Any,
        "after" => Where::After,
        "end" => Where::End,
        "line" => Where::Line,
        "london" => Where::London,
        "district" => Where::District,
        "address" => Where::Address,
        other => {
            return Err((
                "where",
                format!("\"{other}\" is no place"),
                "write any, after, end, line, london or district",
            ));
        }
    })
}

/// The dates of a row, span by span.
fn spans(get: &dyn Fn(&str) -> String) -> std::result::Result<Vec<(Said, Said)>, Fault> {
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
    Ok(a.into_iter().zip(b).collect())
}

fn degrees(text: &str) -> std::result::Result<(Sure, Sure), Fault> {
    let sure = if text.is_empty() { "usual" } else { text };
    let (s, t) = sure.split_once('/').unwrap_or((sure, sure));
    let bad = || {
        let next = "write hard, usual or weak, or two of them as hard/weak";
        ("sure", format!("\"{sure}\" is no degree"), next)
    };
    Ok((
        Sure::read(s).ok_or_else(bad)?,
        Sure::read(t).ok_or_else(bad)?,
    ))
}

/// A row of the table, or the column that can't be used.
pub(super) fn rule(get: &dyn Fn(&str) -> String) -> std::result::Result<Rule, Fault> {
    let or = |text: String, other: &str| {
        if text.is_empty() {
            other.to_owned()
        } else {
            text
        }
    };
    let words = wordings(&get("words"))?;
    let (before, after) = degrees(&get("sure"))?;
    let kind = or(get("kind"), "own");
    let margin = match get("margin") {
        m if m.is_empty() => Margin::of_kind(&kind),
        m => Margin::read(&m).ok_or_else(|| {
            let next = "write none, stock, plate or habit, or leave it empty";
            ("margin", format!("\"{m}\" is no margin of use"), next)
        })?,
    };
    let unless = get("unless").replace("{streets}", &STREETS.join("|"));
    let clue = or(get("clue"), &get("words"));
    Ok(Rule {
        id: or(get("id"), &clue),
        kind,
        clue,
        words,
        region: get("region"),
        place: place(&get("where"))?,
        unless: alternatives(&unless).map(Pattern::read).collect(),
        spans: spans(get)?,
        before,
        after,
        margin,
        source: or(get("source"), "no source given"),
        note: get("note"),
    })
}

fn alternatives(text: &str) -> impl Iterator<Item = &str> {
    text.split('|').map(str::trim).filter(|w| !w.is_empty())
}

/// Where a wording is found: first token, token after the last, and the stretches of time that a decoder
/// gives it.
type Occurrence = (usize, usize, Vec<(String, String)>);

fn occurrences(wording: &Wording, seen: &Seen) -> Vec<Occurrence> {
    let one = |i: usize, end: usize| (i, end, vec![(String::new(), String::new())]);
    match wording {
        Wording::Words(p) => (0..seen.all.len())
            .filter_map(|i| Some(one(i, p.fits(seen.text, seen.all, i)?)))
            .collect(),
        Wording::Decoder(name) => decode::run(name, seen)
            .unwrap_or_default()
            .into_iter()
            .map(|f| (f.first, f.end, f.spans))
            .collect(),
    }
}

/// Words before a district's letters that are as good as London.
const LONDON: &[&str] = &["london", "lond", "ldn"];

impl Rule {
    /// The clues of this row in a text.
    pub(super) fn find(&self, seen: &Seen) -> Vec<Clue> {
        let mut out = Vec::new();
        for wording in &self.words {
            for (first, end, dates) in occurrences(wording, seen) {
                if self.stands(seen, first, end) {
                    out.extend(self.clue(seen, (first, end), &dates));
                }
            }
        }
        out
    }

    /// Whether the clue may stand at these tokens.
    fn stands(&self, seen: &Seen, first: usize, end: usize) -> bool {
        let (text, all) = (seen.text, seen.all);
        let line = all[first].line;
        let before = first.checked_sub(1).map(|k| &all[k]);
        let after = all.get(end);
        let same = |t: Option<&Token>| t.is_some_and(|t| t.line == line);
        let ends = !same(after);
        let london = before.is_some_and(|t| LONDON.contains(&t.folded.as_str()));
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
            Where::Address => {
                london || ends && same(before) && before.is_some_and(|t| is_thoroughfare(&t.folded))
            }
        };
        let near = self.unless.iter().any(|p| {
            p.fits(text, all, end.min(all.len())).is_some()
                || (0..first).any(|k| p.fits(text, all, k) == Some(first))
        });
        place && !near
    }

    /// The stretches of time of the row, those that a decoder found put in.
    fn limits(&self, dates: &[(String, String)]) -> Option<Vec<Span>> {
        let found = |s: &(Said, Said)| matches!(s, (Said::Found, _) | (_, Said::Found));
        let one = |s: &Said, found: &str| match s {
            Said::Nothing => Some(None),
            Said::Date(l) => Some(Some(l.clone())),
            Said::Found if found.is_empty() => Some(None),
            Said::Found => Limit::read(found).map(Some),
        };
        let mut out = Vec::new();
        for s in &self.spans {
            let dates = if found(s) { dates } else { &dates[..1] };
            for (a, b) in dates {
                out.push(Span {
                    from: one(&s.0, a)?,
                    to: one(&s.1, b)?,
                });
            }
        }
        Some(out)
    }

    fn clue(
        &self,
        seen: &Seen,
        tokens: (usize, usize),
        dates: &[(String, String)],
    ) -> Option<Clue> {
        let limits = self.limits(dates)?;
        let show = |l: &Option<Limit>| l.as_ref().map(|l| l.text.clone());
        let from = limits.first().and_then(|s| show(&s.from));
        let to = limits.last().and_then(|s| show(&s.to));
        let both = |s: &Span| [show(&s.from), show(&s.to)];
        let spans = if limits.len() > 1 {
            limits.iter().map(both).collect()
        } else {
            Vec::new()
        };
        let (sure, sure_after) = match (&from, &to) {
            (None, Some(_)) => (self.after, None),
            (Some(_), Some(_)) if self.after != self.before => (self.before, Some(self.after)),
            _ => (self.before, None),
        };
        Some(Clue {
            words: seen.text[seen.all[tokens.0].start..seen.all[tokens.1 - 1].end].to_string(),
            id: self.id.clone(),
            kind: self.kind.clone(),
            clue: self.clue.clone(),
            region: self.region.clone(),
            not_before: from,
            not_after: to,
            spans,
            sure,
            sure_after,
            cuts: false,
            margin: self.margin,
            source: self.source.clone(),
            note: self.note.clone(),
            line: seen.all[tokens.0].line,
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
