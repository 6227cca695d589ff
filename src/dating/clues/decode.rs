//! Clues that are more than words: numbers, years and signs with a meaning of their own.
//!
//! Each decoder is named in the table as `<name>` and gives the words it found with the dates that
//! they say.

use super::designs::{Lozenge, year_of_number};
use super::wording::Token;
use crate::dating::dress::Dress;
use crate::dating::kinds::{Dated, YearKind};

mod post;

/// What a decoder found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// First token.
    pub first: usize,
    /// Token after the last.
    pub end: usize,
    /// First and last date of each stretch of time that it may mean, EDTF; empty where the table gives
    /// them, an open side is empty text.
    pub spans: Vec<(String, String)>,
}

/// A text made ready for the decoders.
pub struct Seen<'a> {
    pub text: &'a str,
    pub all: &'a [Token],
    /// Its dates, with what each is the date of.
    pub dates: &'a [Dated],
}

/// Runs the decoder of that name; `None`: there is no such decoder.
pub fn run(name: &str, seen: &Seen) -> Option<Vec<Found>> {
    if let Some(found) = dates(name, seen.dates) {
        return Some(found);
    }
    let (text, all) = (seen.text, seen.all);
    let at = |f: &dyn Fn(usize) -> Option<Found>| (0..all.len()).filter_map(f).collect();
    Some(match name {
        "postcode" => at(&|i| post::postcode(all, i)),
        "director" => at(&|i| post::director(text, all, i)),
        "director elsewhere" => at(&|i| post::director_elsewhere(text, all, i)),
        "old dialling code" => at(&|i| post::dialling(text, all, i, false)),
        "dialling code" => at(&|i| post::dialling(text, all, i, true)),
        "company year" => at(&|i| company_year(text, all, i)),
        "patent year" => at(&|i| patent(text, all, i)),
        "lozenge" => at(&|i| lozenge(text, all, i)),
        "registered number" => at(&|i| registered(text, all, i)),
        "country line" => at(&|i| country(all, i)),
        "shillings" => at(&|i| shillings(text, all, i)),
        "pence" => at(&|i| pence(text, all, i)),
        "zip" => at(&|i| post::zip(all, i)),
        "paris exchange" => at(&|i| post::paris_exchange(text, all, i)),
        "trial code" => at(&|i| post::trial_code(all, i)),
        "dutch code" => at(&|i| post::dutch_code(text, all, i)),
        "german code" => at(&|i| post::german_code(text, all, i)),
        "long s" => at(&|i| text[all[i].start..all[i].end].contains('ſ').then(|| one(i))),
        "superior letters" => at(&|i| {
            let raised =
                |c: char| matches!(c, 'ᵃ'..='ᵛ' | 'ᶜ' | 'ᶠ' | 'ˢ' | 'ʰ' | 'ʳ' | 'ʸ' | 'ˡ' | 'ⁿ');
            text[all[i].start..all[i].end]
                .contains(raised)
                .then(|| one(i))
        }),
        "watermark year" => at(&|i| watermark(all, i)),
        "blank year" => at(&|i| blank(text, all, i)),
        _ => return None,
    })
}

/// Dates by what they are the date of: those of the mark by their dress, those told whatever it is.
fn dates(name: &str, all: &[Dated]) -> Option<Vec<Found>> {
    let own = |of: &'static [Dress]| {
        move |d: &&Dated| d.kind == YearKind::Mark && of.contains(&d.written.dress)
    };
    let told = |kind: YearKind| move |d: &&Dated| d.kind == kind;
    let mark = |of: &'static [Dress]| all.iter().filter(own(of)).map(found).collect();
    let other = |kind| all.iter().filter(told(kind)).map(found).collect();
    Some(match name {
        "year" => mark(&[Dress::Year]),
        "roman year" => mark(&[Dress::Roman]),
        "date" => mark(&[Dress::Day, Dress::Month]),
        "years" => mark(&[Dress::Range, Dress::Decade]),
        "about" => mark(&[Dress::About]),
        "side" => mark(&[Dress::Side]),
        "regnal year" => mark(&[Dress::Regnal]),
        "era" => mark(&[Dress::Era]),
        "told year" => other(YearKind::Event),
        "established" => other(YearKind::Founding),
        "medal year" => latest(all),
        "life" => other(YearKind::Life),
        "copyright year" => other(YearKind::Copyright),
        "other work" => other(YearKind::Work),
        "act" => other(YearKind::Act),
        _ => return None,
    })
}

/// A date of the mark from both sides; of what it tells only the side that dates the mark.
fn found(d: &Dated) -> Found {
    let w = &d.written;
    let spans = match (d.kind.both_sides(), d.kind) {
        (true, _) => w.spans.clone(),
        // Of a life the end dates the mark, of all else the beginning
        (false, kind) => {
            let side = |s: &(String, String)| {
                if kind == YearKind::Life {
                    s.1.clone()
                } else {
                    s.0.clone()
                }
            };
            let first = w.spans.iter().map(side).min();
            vec![(first.unwrap_or_default(), String::new())]
        }
    };
    Found {
        first: w.first,
        end: w.end,
        spans,
    }
}

/// Of medals the latest counts.
fn latest(all: &[Dated]) -> Vec<Found> {
    let own = |d: &&Dated| d.kind == YearKind::Medal;
    let last = all.iter().filter(own).max_by_key(|d| &d.written.spans[0].1);
    last.map(|d| {
        let side = d.written.spans[0].1.clone();
        Found {
            spans: vec![(side, String::new())],
            ..found(d)
        }
    })
    .into_iter()
    .collect()
}

fn one(i: usize) -> Found {
    said(i, i + 1, "")
}

fn said(first: usize, end: usize, date: impl ToString) -> Found {
    let date = date.to_string();
    Found {
        first,
        end,
        spans: vec![(date.clone(), date)],
    }
}

fn from_to(first: usize, end: usize, from: impl ToString, to: impl ToString) -> Found {
    Found {
        first,
        end,
        spans: vec![(from.to_string(), to.to_string())],
    }
}

/// A year between 1700 and 2029 written in four figures.
fn year(t: &Token) -> Option<i32> {
    let y = t.number().filter(|_| t.folded.len() == 4)? as i32;
    (1700..2030).contains(&y).then_some(y)
}

fn word(all: &[Token], i: usize, any: &[&str]) -> bool {
    all.get(i).is_some_and(|t| any.contains(&t.folded.as_str()))
}

/// `(1908) Ltd`.
fn company_year(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let y = year(&all[i])?;
    let bracketed = text[..all[i].start].ends_with('(') && text[all[i].end..].starts_with(')');
    (bracketed && word(all, i + 1, &["ltd", "limited", "limd"])).then(|| said(i, i + 2, y))
}

/// `Patent No. 1234 of 1874`, `Patented 1874`.
fn patent(text: &str, all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["patent", "patented", "pat", "patd"]) {
        return None;
    }
    let (k, y) = (i + 1..all.len().min(i + 6)).find_map(|k| {
        // "12345/07": the numbers began again each year from 1852 to 1915
        let short = all[k]
            .number()
            .filter(|_| all[k].folded.len() == 2 && text[..all[k].start].ends_with('/'));
        let short = short.and_then(|n| match n {
            0..=15 => Some(1900 + n as i32),
            52..=99 => Some(1800 + n as i32),
            _ => None,
        });
        Some((k, year(&all[k]).or(short)?))
    })?;
    // Fourteen years' protection, sixteen from 1919 (from memory)
    let term = if y >= 1919 { 16 } else { 14 };
    Some(from_to(i, k + 1, y, y + term))
}

/// `lozenge top X right 12 bottom 5 left C`, corners in any order, those not legible left out.
fn lozenge(text: &str, all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["lozenge"]) {
        return None;
    }
    let mut l = Lozenge::default();
    let mut k = i + 1;
    while k + 1 < all.len() {
        let shown = text[all[k + 1].start..all[k + 1].end].to_string();
        match all[k].folded.as_str() {
            "top" => l.top = shown,
            "right" => l.right = shown,
            "bottom" => l.bottom = shown,
            "left" => l.left = shown,
            _ => break,
        }
        k += 2;
    }
    let date = l.date()?;
    Some(said(i, k, date))
}

/// About the last number of 1951 (the series grew by some four thousand a year).
const LAST_NUMBER: u32 = 868_000;

/// `Rd. No. 123456`, `Regd 123,456`.
fn registered(text: &str, all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["rd", "regd", "registered", "reg"]) {
        return None;
    }
    // Other things are registered too
    const OTHERS: &[&str] = &[
        "mark", "vat", "charity", "england", "scotland", "company", "trade",
    ];
    if i > 0 && word(all, i - 1, OTHERS) {
        return None;
    }
    let mut k = i + 1;
    let design = word(all, k, &["design", "des", "desn"]);
    k += usize::from(design);
    let numbered = word(all, k, &["no", "number", "numbers", "nos"]);
    k += usize::from(numbered);
    if !numbered && !design {
        return None;
    }
    let first = all.get(k)?;
    first.number()?;
    let mut figures = first.folded.clone();
    let mut end = k + 1;
    while let Some(t) = all.get(end) {
        let joined = text[all[end - 1].end..t.start].trim() == "," && t.folded.len() == 3;
        if !joined || t.number().is_none() || figures.len() > 3 {
            break;
        }
        figures.push_str(&t.folded);
        end += 1;
    }
    let number: u32 = figures.parse().ok()?;
    let y = year_of_number(number)?;
    // The table ends with 1951: later numbers are of any year since
    let until = if number > LAST_NUMBER {
        String::new()
    } else {
        (y + 20).to_string()
    };
    Some(from_to(i, end, y, until))
}

/// A line that says a country and nothing else.
fn country(all: &[Token], i: usize) -> Option<Found> {
    let alone = all.iter().filter(|t| t.line == all[i].line).count() == 1;
    let named = word(
        all,
        i,
        &[
            "england", "germany", "france", "italy", "austria", "holland", "belgium", "japan",
            "bavaria", "scotland", "ireland",
        ],
    );
    (alone && named).then(|| one(i))
}

/// Beside these words figures with a stroke are shillings and pence.
const PRICED: &[&str] = &[
    "price", "prices", "framed", "unframed", "each", "cost", "net", "sold", "paid", "post",
    "mounted",
];

/// `3s.`, `2s 6d`, `15/6` beside a price, `10/-`: shillings and pence after figures.
fn shillings(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let t = &all[i];
    let tail = t.folded.trim_start_matches(|c: char| c.is_ascii_digit());
    let figures = t.folded.len() - tail.len();
    if (1..=3).contains(&figures) && matches!(tail, "s" | "d") {
        return Some(one(i));
    }
    t.number()?;
    let after = text[t.end..].trim_start();
    if after.starts_with("/-") || after.starts_with("/–") || after.starts_with("/—") {
        return Some(one(i));
    }
    if let Some(next) = all.get(i + 1)
        && &text[t.end..next.start] == "/"
        && next.number().is_some_and(|d| (1..=11).contains(&d))
        && !text[next.end..].starts_with(['/', '.'])
        && !text[..t.start].ends_with(['/', '.'])
        && all.iter().any(|w| PRICED.contains(&w.folded.as_str()))
    {
        return Some(said(i, i + 2, ""));
    }
    let pounds = text[..t.start].trim_end().ends_with('£');
    let part = |k: usize, most: u32| {
        let close = all.get(k).is_some_and(|n| n.start - all[k - 1].end <= 3);
        close && all[k].number().is_some_and(|n| n <= most)
    };
    if pounds && part(i + 1, 19) && part(i + 2, 11) {
        return Some(said(i, i + 3, ""));
    }
    (pounds && word(all, i + 2, &["s"]) && all[i + 1].number().is_some())
        .then(|| said(i, i + 3, ""))
}

/// `25p`, `£1.25`.
fn pence(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let t = &all[i];
    let digits = |f: &str| (1..=2).contains(&f.len()) && f.bytes().all(|b| b.is_ascii_digit());
    if t.folded.strip_suffix('p').is_some_and(digits) {
        return Some(one(i));
    }
    let next = all.get(i + 1)?;
    let pounds = text[..t.start].ends_with('£') && &text[t.end..next.start] == ".";
    (pounds && t.number().is_some() && next.folded.len() == 2 && next.number().is_some())
        .then(|| said(i, i + 2, ""))
}

/// `J. Whatman 1846`, `Whatman Turkey Mill 1846`.
fn watermark(all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["whatman"]) {
        return None;
    }
    let k = (i + 1..all.len().min(i + 5)).find(|&k| year(&all[k]).is_some_and(|y| y >= 1794))?;
    Some(said(i, k + 1, year(&all[k])?))
}

/// `18__`, `189-`, `18..`: a year left to be filled in.
fn blank(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let t = &all[i];
    t.number()?;
    let rest = &text[t.end..];
    let open = rest
        .chars()
        .take_while(|c| matches!(c, '_' | '—' | '–' | '…'))
        .count()
        + rest.chars().take_while(|c| *c == '.').count() / 2
        + usize::from(
            rest.starts_with('-') && !rest[1..].starts_with(|c: char| c.is_alphanumeric()),
        );
    if open == 0 {
        return None;
    }
    let (from, to) = match t.folded.as_str() {
        "17" | "18" | "19" => {
            let c: i32 = t.folded.parse().ok()?;
            (c * 100, c * 100 + 99)
        }
        d if d.len() == 3
            && (d.starts_with("17") || d.starts_with("18") || d.starts_with("19")) =>
        {
            let y: i32 = d.parse().ok()?;
            (y * 10, y * 10 + 9)
        }
        _ => return None,
    };
    Some(from_to(i, i + 1, from, to))
}
