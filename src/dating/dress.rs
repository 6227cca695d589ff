//! Dates in all their dress: how dates stand on labels, found in a text and kept as EDTF.
//!
//! In: the words of a text. Out: [`Written`] dates, each with the form in which it is kept (EDTF) and the
//! stretches of time that it may mean: a year of two figures means one of several, `12/5/32` the 12th of May
//! or the 5th of December. What a date says of the mark that bears it is told in `kinds`.

mod around;
mod names;
mod other;
#[cfg(test)]
mod tests;

use super::clues::wording::Token;
use names::{LINKS, SEASONS, TERMS};

/// Years after this are no years of labels.
const LAST: i32 = 2029;
/// Two figures may stand for a year of this century up to here.
const SHORT: i32 = 26;
/// Half the width of "about": our own choice, common practice.
pub const ABOUT_YEARS: i32 = 5;

/// How a date is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dress {
    /// Day, month and year.
    Day,
    /// Month, term or season with its year.
    Month,
    /// A year alone.
    Year,
    /// A year in Roman numerals.
    Roman,
    /// First and last year.
    Range,
    /// A decade.
    Decade,
    /// About a year.
    About,
    /// Before or after a year.
    Side,
    /// A century.
    Century,
    /// A year of a reign.
    Regnal,
    /// A year of a calendar or era of its own.
    Era,
}

/// A date as it stands in a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// First token.
    pub first: usize,
    /// Token after the last.
    pub end: usize,
    /// The form in which it is kept, EDTF.
    pub edtf: String,
    /// First and last date of each stretch that it may mean, in order of time; an open side is empty.
    pub spans: Vec<(String, String)>,
    /// How it is written.
    pub dress: Dress,
}

impl Written {
    fn one(first: usize, end: usize, edtf: String, dress: Dress) -> Written {
        Written {
            spans: vec![(edtf.clone(), edtf.clone())],
            first,
            end,
            edtf,
            dress,
        }
    }

    fn stretch(first: usize, end: usize, (a, b): (String, String), dress: Dress) -> Written {
        Written {
            edtf: match (a.as_str(), b.as_str()) {
                ("", b) => format!("[..{b}]"),
                (a, "") => format!("[{a}..]"),
                (a, b) => format!("[{a}..{b}]"),
            },
            spans: vec![(a, b)],
            first,
            end,
            dress,
        }
    }

    /// One of these dates.
    fn any(first: usize, end: usize, mut dates: Vec<String>, dress: Dress) -> Option<Written> {
        dates.sort();
        dates.dedup();
        if let [only] = dates.as_slice() {
            return Some(Written::one(first, end, only.clone(), dress));
        }
        (!dates.is_empty()).then(|| Written {
            edtf: format!("[{}]", dates.join(",")),
            spans: dates.into_iter().map(|d| (d.clone(), d)).collect(),
            first,
            end,
            dress,
        })
    }
}

/// A text with its words.
#[derive(Clone, Copy)]
pub(super) struct Words<'a> {
    pub text: &'a str,
    pub all: &'a [Token],
}

impl<'a> Words<'a> {
    pub fn at(&self, i: usize) -> &'a str {
        self.all.get(i).map_or("", |t| t.folded.as_str())
    }

    pub fn is(&self, i: usize, any: &[&str]) -> bool {
        self.all.get(i).is_some() && any.contains(&self.at(i))
    }

    pub fn number(&self, i: usize) -> Option<i32> {
        let n = self.all.get(i)?.number()?;
        i32::try_from(n).ok()
    }

    /// What stands between a word and the one before it.
    pub fn between(&self, i: usize) -> &'a str {
        match (
            i.checked_sub(1).and_then(|p| self.all.get(p)),
            self.all.get(i),
        ) {
            (Some(p), Some(t)) => &self.text[p.end..t.start],
            (None, Some(t)) => &self.text[..t.start],
            _ => "",
        }
    }

    /// What stands behind a word up to the next.
    pub fn behind(&self, i: usize) -> &'a str {
        let Some(t) = self.all.get(i) else { return "" };
        match self.all.get(i + 1) {
            Some(n) => &self.text[t.end..n.start],
            None => &self.text[t.end..],
        }
    }

    /// A year written in four figures.
    pub fn year(&self, i: usize) -> Option<i32> {
        let t = self.all.get(i)?;
        self.number(i)
            .filter(|y| t.folded.len() == 4 && (1600..=LAST).contains(y))
    }

    /// The years that a year may mean: four figures, or two behind an apostrophe, or (`bare`) two alone.
    fn years(&self, i: usize, bare: bool) -> Vec<i32> {
        if let Some(y) = self.year(i) {
            return vec![y];
        }
        let Some(t) = self.all.get(i) else {
            return Vec::new();
        };
        let Some(n) = self.number(i).filter(|_| t.folded.len() == 2) else {
            return Vec::new();
        };
        // "18__" and "[18]64" are no years of two figures
        if self.behind(i).starts_with(['_', '-', '—', '–', ']', '…'])
            || self.behind(i).starts_with("..")
        {
            return Vec::new();
        }
        let raised = self.between(i).ends_with(['\'', '’', '‘', 'ʼ']);
        if !raised && !bare {
            return Vec::new();
        }
        // Strokes and bare figures were not yet usual in the 18th century (from memory)
        let first = if raised { 1700 } else { 1800 };
        (first..=2000)
            .step_by(100)
            .map(|c| c + n)
            .filter(|y| *y <= 2000 + SHORT)
            .collect()
    }
}

/// `4`, `4th`, `1er`, `14ten`: a day of a month.
pub(super) fn day(w: &Words, i: usize) -> Option<u8> {
    let word = w.at(i);
    let figures = word.trim_end_matches(|c: char| c.is_alphabetic());
    let ending = &word[figures.len()..];
    let known = [
        "", "st", "nd", "rd", "th", "d", "er", "re", "e", "eme", "te", "ten", "ste", "de", "o",
    ];
    let day: u8 = figures.parse().ok()?;
    (known.contains(&ending) && (1..=31).contains(&day)).then_some(day)
}

/// The token after small words.
fn past_links(w: &Words, mut i: usize) -> usize {
    for _ in 0..3 {
        i += usize::from(w.is(i, LINKS));
    }
    i
}

fn dates(years: &[i32], month: u8, day: u8) -> Vec<String> {
    let whole = |y: &i32| super::edtf::day_after((*y, month, day), 0);
    years.iter().filter_map(whole).collect()
}

/// `4th of December 1898`, `Dec. 4th '98`, `14 juillet 1889`, `June 1880`.
fn named_month(w: &Words, i: usize) -> Option<Written> {
    if let (Some(d), Some(m)) = (day(w, i), names::month(w.at(past_links(w, i + 1)))) {
        let k = past_links(w, i + 1);
        let y = past_links(w, k + 1);
        return Written::any(i, y + 1, dates(&w.years(y, true), m, d), Dress::Day);
    }
    let m = names::month(w.at(i))?;
    // The day may follow; a number of two figures with a year behind it is one
    let k = past_links(w, i + 1);
    if let Some(d) = day(w, k).filter(|_| w.year(k).is_none()) {
        let y = past_links(w, k + 1);
        if let Some(found) = Written::any(i, y + 1, dates(&w.years(y, true), m, d), Dress::Day) {
            return Some(found);
        }
    }
    let months = w.years(k, false).into_iter();
    let months = months.map(|y| format!("{y:04}-{m:02}")).collect();
    Written::any(i, k + 1, months, Dress::Month)
}

/// `12/5/32`, `14.6.1919`, `12.VI.1905`, `1919-06-14`: both orders where both may be.
fn figures(w: &Words, i: usize, month_first: bool) -> Option<Written> {
    let sign = w.between(i + 1).trim();
    let close = |k: usize| w.between(k).trim() == sign && w.between(k).len() <= 2;
    if !matches!(sign, "/" | "." | "-" | "–") || !close(i + 1) || !close(i + 2) {
        return None;
    }
    let small = |k: usize| w.number(k).filter(|_| w.at(k).len() <= 2);
    if let (Some(y), Some(m), Some(d)) = (w.year(i), small(i + 1), small(i + 2)) {
        let found = dates(&[y], u8::try_from(m).ok()?, u8::try_from(d).ok()?);
        return Written::any(i, i + 3, found, Dress::Day);
    }
    let years = w.years(i + 2, true);
    let a = u8::try_from(small(i)?).ok()?;
    if let Some(m) = other::roman(w, i + 1).filter(|m| (1..=12).contains(m)) {
        return Written::any(
            i,
            i + 3,
            dates(&years, u8::try_from(m).ok()?, a),
            Dress::Day,
        );
    }
    let b = u8::try_from(small(i + 1)?).ok()?;
    // A point between figures puts the day first (common practice on the Continent)
    let mut found = Vec::new();
    if !month_first || sign == "." || a > 12 {
        found.extend(dates(&years, b, a));
    }
    if sign != "." && (month_first || a != b) && a <= 12 {
        found.extend(dates(&years, a, b));
    }
    Written::any(i, i + 3, found, Dress::Day)
}

/// `Lady Day 1851`, `Michaelmas 1843`, `Autumn 1884`.
fn term(w: &Words, i: usize) -> Option<Written> {
    for (words, m, d) in TERMS {
        if words.iter().enumerate().all(|(k, x)| w.at(i + k) == *x) {
            let y = past_links(w, i + words.len());
            return Written::any(i, y + 1, dates(&w.years(y, false), *m, *d), Dress::Month);
        }
    }
    let code = SEASONS.iter().find(|s| s.0 == w.at(i))?.1;
    let y = past_links(w, i + 1);
    let years = w.years(y, false).into_iter();
    let found = years.map(|y| format!("{y:04}-{code}")).collect();
    Written::any(i, y + 1, found, Dress::Month)
}

/// `1868`, `'98`.
fn alone(w: &Words, i: usize) -> Option<Written> {
    match w.year(i) {
        Some(y) => (y >= 1700).then(|| Written::one(i, i + 1, format!("{y:04}"), Dress::Year)),
        None => {
            let years = w.years(i, false).into_iter();
            Written::any(
                i,
                i + 1,
                years.map(|y| format!("{y:04}")).collect(),
                Dress::Year,
            )
        }
    }
}

/// The dates of a text, in order; of dates that overlap the longer counts.
///
/// * `month_first`: figures put the month first, as in America; else both orders are kept.
pub(super) fn find(w: &Words, month_first: bool) -> Vec<Written> {
    let mut out: Vec<Written> = Vec::new();
    let mut i = 0;
    while i < w.all.len() {
        let found = [
            named_month(w, i),
            figures(w, i, month_first),
            other::republican(w, i),
            other::fascist(w, i),
            other::regnal(w, i),
            term(w, i),
            around::about(w, i),
            around::side(w, i),
            around::years_run(w, i),
            around::decade(w, i),
            other::century(w, i),
            other::roman_year(w, i),
            alone(w, i),
        ];
        // Of equally long ones the first
        let best = found
            .into_iter()
            .flatten()
            .reduce(|a, b| if b.end > a.end { b } else { a });
        i = best.as_ref().map_or(i + 1, |b| b.end);
        out.extend(best);
    }
    out
}

/// The EDTF form of a text that is one date and nothing else; `None` where it may mean several.
pub(super) fn whole(text: &str) -> Option<String> {
    let all = super::clues::wording::tokens(text);
    // Signs beside the words may mean more than the date
    let head = all.first().map_or(text, |t| &text[..t.start]);
    let rest = all.last().map_or("", |t| &text[t.end..]);
    if !head.trim().is_empty() || !rest.trim_matches([' ', '.']).is_empty() {
        return None;
    }
    let found = find(&Words { text, all: &all }, false);
    match found.as_slice() {
        // Whether "1800s" is a decade or a century isn't plain
        [one] if one.edtf.ends_with("XX") => None,
        [one] if one.first == 0 && one.end == all.len() && one.spans.len() == 1 => {
            Some(one.edtf.clone())
        }
        _ => None,
    }
}
