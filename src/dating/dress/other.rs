//! Dates of other counts: Roman numerals, years of reigns, the French republic, the Fascist era.

use super::names::{self, REIGNS, REPUBLICAN_NEW_YEAR};
use super::{Dress, Words, Written, day};
use crate::dating::edtf::day_after;

/// A Roman numeral in capitals that is written as it should be or with one sign too many (`MDCCCCV`).
pub fn roman(w: &Words, i: usize) -> Option<i32> {
    let t = w.all.get(i)?;
    value(&w.text[t.start..t.end])
}

fn value(shown: &str) -> Option<i32> {
    let one = |c: char| {
        Some(match c {
            'M' => 1000,
            'D' => 500,
            'C' => 100,
            'L' => 50,
            'X' => 10,
            'V' => 5,
            'I' => 1,
            _ => return None,
        })
    };
    let v: Vec<i32> = shown.chars().map(one).collect::<Option<_>>()?;
    let sum = |(k, x): (usize, &i32)| {
        let less = v.get(k + 1).is_some_and(|n| n > x);
        if less { -x } else { *x }
    };
    (!v.is_empty()).then(|| v.iter().enumerate().map(sum).sum())
}

/// `MDCCCXCIII`, `M.DCCC.XCIII`: a year in Roman numerals, at least four signs.
pub fn roman_year(w: &Words, i: usize) -> Option<Written> {
    let mut shown = String::new();
    let mut end = i;
    while let Some(t) = w.all.get(end) {
        let part = &w.text[t.start..t.end];
        let joined = end == i
            || matches!(w.between(end).trim(), "." | "" | "·") && w.between(end).len() <= 2;
        if !joined || value(part).is_none() {
            break;
        }
        shown.push_str(part);
        end += 1;
    }
    let y = value(&shown)?;
    let good = shown.len() >= 4 && shown.starts_with('M') && (1600..=2029).contains(&y);
    good.then(|| Written::one(i, end, format!("{y:04}"), Dress::Roman))
}

/// A number in figures or Roman numerals.
fn number(w: &Words, i: usize) -> Option<i32> {
    w.number(i).or_else(|| roman(w, i))
}

/// `14 Floréal an VII`, `an XII de la République`, `an 7`.
pub fn republican(w: &Words, i: usize) -> Option<Written> {
    let dated = day(w, i)
        .filter(|d| *d <= 30)
        .and_then(|d| Some((names::republican_month(w.at(i + 1))?, d)));
    let mut k = if dated.is_some() { i + 2 } else { i };
    k += usize::from(w.is(k, &["de"]));
    if !w.is(k, &["an", "lan", "annee"]) {
        return None;
    }
    let n = number(w, k + 1).filter(|n| (1..=14).contains(n))?;
    let republic = ["republique", "republicaine", "rep"];
    let named = (k + 2..k + 6).find(|j| w.is(*j, &republic));
    // "an I" alone may be anything
    if dated.is_none() && named.is_none() && w.number(k + 1).is_some() {
        return None;
    }
    let end = named.map_or(k + 2, |j| j + 1);
    let at = |n: i32| {
        let new_year = *REPUBLICAN_NEW_YEAR.get(usize::try_from(n - 1).ok()?)?;
        Some((1791 + n, 9, new_year))
    };
    match dated {
        Some((month, d)) => {
            let days = 30 * (i64::from(month) - 1) + i64::from(d) - 1;
            let date = day_after(at(n)?, days)?;
            Some(Written::one(i, end, date, Dress::Era))
        }
        None => {
            let next = at(n + 1).unwrap_or((1806, 9, 23));
            let span = (day_after(at(n)?, 0)?, day_after(next, -1)?);
            Some(Written::stretch(i, end, span, Dress::Era))
        }
    }
}

/// `Anno VI E. F.`: year of the Fascist era, from 29 October to 28 October (from memory).
pub fn fascist(w: &Words, i: usize) -> Option<Written> {
    let k = i + usize::from(w.is(i, &["anno", "a"]));
    let n = roman(w, k).filter(|n| (1..=23).contains(n))?;
    let long = w.is(k + 1, &["e"]) && w.is(k + 2, &["f"])
        || w.is(k + 1, &["dellera", "era"]) && w.is(k + 2, &["fascista"]);
    let end = match (w.is(k + 1, &["ef"]), long) {
        (true, _) => k + 2,
        (_, true) => k + 3,
        _ => return None,
    };
    let span = (
        format!("{:04}-10-29", 1921 + n),
        format!("{:04}-10-28", 1922 + n),
    );
    Some(Written::stretch(i, end, span, Dress::Era))
}

/// First day of the reign named at a place, and the token after the name.
fn reign(w: &Words, i: usize) -> Option<((i32, u8, u8), usize)> {
    let k = i + usize::from(w.is(i, &["king", "queen"]));
    REIGNS.iter().find_map(|(first, second, y, m, d)| {
        if !w.is(k, first) {
            return None;
        }
        if second.is_empty() {
            return Some(((*y, *m, *d), k + 1));
        }
        let j = k + 1 + usize::from(w.is(k + 1, &["the"]));
        w.is(j, second).then_some(((*y, *m, *d), j + 1))
    })
}

/// `12 Vict.`, `5 & 6 Vict.`, `12th year of the reign of Queen Victoria`.
pub fn regnal(w: &Words, i: usize) -> Option<Written> {
    let first: i32 = w
        .at(i)
        .trim_end_matches(|c: char| c.is_alphabetic())
        .parse()
        .ok()
        .filter(|n| (1..=70).contains(n))?;
    let mut k = i + 1;
    let mut last = first;
    if w.is(k, &["&", "and"])
        && let Some(n) = w.number(k + 1)
    {
        (last, k) = (n, k + 2);
    }
    let told = w.is(k, &["year"]);
    if told {
        k += 1;
        for _ in 0..4 {
            k += usize::from(w.is(k, &["of", "the", "reign", "his", "her", "majesty"]));
        }
    }
    let (begun, end) = reign(w, k)?;
    // "3 Queen Victoria Street" is an address
    let line = w.all[i].line;
    let goes_on = w
        .all
        .get(end)
        .is_some_and(|t| t.line == line && t.begins && t.folded.len() > 2);
    let addressed = !told && (goes_on || w.is(k, &["king", "queen"]));
    if last < first || last - first > 1 || addressed {
        return None;
    }
    let nth = |n: i32| (begun.0 + n - 1, begun.1, begun.2);
    let span = (day_after(nth(first), 0)?, day_after(nth(last + 1), -1)?);
    Some(Written::stretch(i, end, span, Dress::Regnal))
}

const CENTURY: &[&str] = &[
    "century",
    "cent",
    "siecle",
    "jahrhundert",
    "jahrhunderts",
    "jh",
    "secolo",
    "eeuw",
];

/// `19th century`, `XIXe siècle`.
pub fn century(w: &Words, i: usize) -> Option<Written> {
    if !w.is(i + 1, CENTURY) {
        return None;
    }
    let t = w.all.get(i)?;
    let shown = w.text[t.start..t.end].trim_end_matches(|c: char| c.is_lowercase());
    let n = shown
        .parse()
        .ok()
        .or_else(|| value(shown))
        .filter(|n| (17..=21).contains(n))?;
    let first = (n - 1) * 100;
    Some(Written {
        edtf: format!("{:02}XX", n - 1),
        ..Written::stretch(
            i,
            i + 2,
            (format!("{first:04}"), format!("{:04}", first + 99)),
            Dress::Century,
        )
    })
}
