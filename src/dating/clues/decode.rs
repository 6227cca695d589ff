//! Clues that are more than words: numbers, years and signs with a meaning of their own.
//!
//! Each decoder is named in the table as `<name>` and gives the words it found with the dates that
//! they say.

use super::designs::{Lozenge, year_of_number};
use super::wording::Token;

/// What a decoder found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// First token.
    pub first: usize,
    /// Token after the last.
    pub end: usize,
    /// Date said, EDTF; empty where the table gives it.
    pub date: String,
    /// Last date said where it differs; empty else.
    pub until: String,
}

/// Runs the decoder of that name; `None`: there is no such decoder.
pub fn run(name: &str, text: &str, all: &[Token]) -> Option<Vec<Found>> {
    let at = |f: &dyn Fn(usize) -> Option<Found>| (0..all.len()).filter_map(f).collect();
    Some(match name {
        "postcode" => at(&|i| postcode(all, i)),
        "director" => at(&|i| director(text, all, i)),
        "dialling code" => at(&|i| dialling(text, all, i)),
        "company year" => at(&|i| company_year(text, all, i)),
        "patent year" => at(&|i| patent(all, i)),
        "lozenge" => at(&|i| lozenge(text, all, i)),
        "registered number" => at(&|i| registered(text, all, i)),
        "country line" => at(&|i| country(all, i)),
        "shillings" => at(&|i| shillings(text, all, i)),
        "pence" => at(&|i| pence(all, i)),
        "medal year" => at(&|i| medal(all, i)),
        "established" => at(&|i| established(all, i)),
        "zip" => at(&|i| zip(all, i)),
        "long s" => at(&|i| text[all[i].start..all[i].end].contains('ſ').then(|| one(i))),
        "superior letters" => at(&|i| {
            let raised =
                |c: char| matches!(c, 'ᵃ'..='ᵛ' | 'ᶜ' | 'ᶠ' | 'ˢ' | 'ʰ' | 'ʳ' | 'ʸ' | 'ˡ' | 'ⁿ');
            text[all[i].start..all[i].end]
                .contains(raised)
                .then(|| one(i))
        }),
        "watermark year" => at(&|i| watermark(all, i)),
        "year" => at(&|i| written(text, all, i)),
        "roman year" => at(&|i| roman(text, all, i)),
        "blank year" => at(&|i| blank(text, all, i)),
        _ => return None,
    })
}

fn one(i: usize) -> Found {
    said(i, i + 1, "")
}

fn said(first: usize, end: usize, date: impl ToString) -> Found {
    Found {
        first,
        end,
        date: date.to_string(),
        until: String::new(),
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

/// `SW1A 1AA`; or a district such as `EC1V` after London.
fn postcode(all: &[Token], i: usize) -> Option<Found> {
    let t = &all[i];
    let b = t.folded.as_bytes();
    let letters = b.iter().take_while(|c| c.is_ascii_alphabetic()).count();
    let rest = &b[letters.min(b.len())..];
    let figures = rest.iter().take_while(|c| c.is_ascii_digit()).count();
    let tail = rest.len() - figures;
    if !t.capital || !(1..=2).contains(&letters) || !(1..=2).contains(&figures) || tail > 1 {
        return None;
    }
    let inner = all.get(i + 1).is_some_and(|n| {
        let n = (n.folded.as_bytes(), n.capital);
        matches!(n, ([d, x, y], true) if d.is_ascii_digit() && x.is_ascii_alphabetic() && y.is_ascii_alphabetic())
    });
    if inner {
        return Some(said(i, i + 2, ""));
    }
    let london = i > 0 && word(all, i - 1, &["london"]);
    (london && tail == 1 && rest[figures].is_ascii_alphabetic()).then(|| one(i))
}

/// `MAYfair 1234`: three capitals, small letters, four figures.
fn director(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let shown = &text[all[i].start..all[i].end];
    let head = shown.chars().take_while(|c| c.is_uppercase()).count();
    let small = shown.chars().skip(3).all(char::is_lowercase) && shown.chars().count() > 4;
    let figures = all
        .get(i + 1)
        .is_some_and(|t| t.number().is_some() && t.folded.len() == 4);
    (head == 3 && small && figures).then(|| said(i, i + 2, ""))
}

/// `(0539) 72012`, but not the codes of London.
fn dialling(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let t = &all[i];
    let code = t.number().is_some()
        && t.folded.starts_with('0')
        && (4..=6).contains(&t.folded.len())
        && !matches!(t.folded.as_str(), "0171" | "0181");
    let bracketed = text[..t.start].ends_with('(') && text[t.end..].starts_with(')');
    let number = all.get(i + 1).is_some_and(|n| n.number().is_some());
    (code && bracketed && number).then(|| said(i, i + 2, ""))
}

/// `(1908) Ltd`.
fn company_year(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let y = year(&all[i])?;
    let bracketed = text[..all[i].start].ends_with('(') && text[all[i].end..].starts_with(')');
    (bracketed && word(all, i + 1, &["ltd", "limited", "limd"])).then(|| said(i, i + 2, y))
}

/// `Patent No. 1234 of 1874`, `Patented 1874`.
fn patent(all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["patent", "patented", "pat", "patd"]) {
        return None;
    }
    let k = (i + 1..all.len().min(i + 6)).find(|&k| year(&all[k]).is_some())?;
    let y = year(&all[k])?;
    // Fourteen years' protection, sixteen from 1919 (from memory)
    let term = if y >= 1919 { 16 } else { 14 };
    Some(Found {
        until: (y + term).to_string(),
        ..said(i, k + 1, y)
    })
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
    Some(Found {
        until: date.clone(),
        ..said(i, k, date)
    })
}

/// `Rd. No. 123456`, `Regd 123,456`.
fn registered(text: &str, all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["rd", "regd", "registered", "reg"]) {
        return None;
    }
    let mut k = i + 1;
    let design = word(all, k, &["design"]);
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
    let y = year_of_number(figures.parse().ok()?)?;
    Some(Found {
        until: (y + 20).to_string(),
        ..said(i, end, y)
    })
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

/// `3s.`, `2s 6d`, `10/-`: shillings and pence after figures.
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
    let pounds = text[..t.start].ends_with('£');
    (pounds && word(all, i + 2, &["s"]) && all[i + 1].number().is_some())
        .then(|| said(i, i + 3, ""))
}

/// `25p`.
fn pence(all: &[Token], i: usize) -> Option<Found> {
    let figures = all[i].folded.strip_suffix('p')?;
    let good = (1..=2).contains(&figures.len()) && figures.bytes().all(|b| b.is_ascii_digit());
    good.then(|| one(i))
}

/// The latest year within a few words of a medal.
fn medal(all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["medal", "medals", "medallist", "medallists"]) {
        return None;
    }
    let near = i.saturating_sub(6)..all.len().min(i + 9);
    let years: Vec<(usize, i32)> = near
        .filter_map(|k| Some((k, year(&all[k]).filter(|y| (1851..=1925).contains(y))?)))
        .collect();
    let latest = years.iter().map(|y| y.1).max()?;
    let first = years.iter().map(|y| y.0).min()?.min(i);
    let last = years.iter().map(|y| y.0).max()?.max(i);
    Some(said(first, last + 1, latest))
}

/// `Established 1832`, `Estd. in 1832`.
fn established(all: &[Token], i: usize) -> Option<Found> {
    if !word(
        all,
        i,
        &["established", "estabd", "estd", "estab", "est", "founded"],
    ) {
        return None;
    }
    let k = i + 1 + usize::from(word(all, i + 1, &["in", "since", "ad", "ano", "anno"]));
    Some(said(i, k + 1, year(all.get(k)?)?))
}

/// Two capitals and five figures, as in American addresses.
fn zip(all: &[Token], i: usize) -> Option<Found> {
    const STATES: &[&str] = &[
        "ny", "ma", "pa", "nj", "ct", "ri", "nh", "vt", "me", "md", "va", "dc", "de", "nc", "sc",
        "ga", "fl", "oh", "mi", "il", "wi", "mn", "mo", "tx", "ca", "wa", "or", "co", "az", "nm",
        "tn", "ky", "la",
    ];
    let state = word(all, i, STATES) && all[i].capital;
    let figures = all
        .get(i + 1)
        .is_some_and(|t| t.number().is_some() && t.folded.len() == 5);
    (state && figures).then(|| said(i, i + 2, ""))
}

/// `J. Whatman 1846`, `Whatman Turkey Mill 1846`.
fn watermark(all: &[Token], i: usize) -> Option<Found> {
    if !word(all, i, &["whatman"]) {
        return None;
    }
    let k = (i + 1..all.len().min(i + 5)).find(|&k| year(&all[k]).is_some_and(|y| y >= 1794))?;
    Some(said(i, k + 1, year(&all[k])?))
}

/// A year in four figures that isn't a number of something.
fn written(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let y = year(&all[i])?;
    let counted = i > 0
        && word(
            all,
            i - 1,
            &[
                "no",
                "nos",
                "nr",
                "lot",
                "number",
                "cat",
                "stock",
                "ref",
                "order",
                "tel",
                "telephone",
            ],
        );
    let before = text[..all[i].start].trim_end();
    let priced = before.ends_with(['£', '$', '№', '#']);
    let goes_on = text[all[i].end..].starts_with([',', '.', '-'])
        && all.get(i + 1).is_some_and(|t| {
            t.start == all[i].end + 1
                && t.number().is_some()
                && t.folded.len() != 2
                && t.folded.len() != 4
        });
    // A street number, or a telephone number after its exchange, is no year
    let place = all.get(i + 1).is_some_and(|t| {
        t.line == all[i].line
            && super::is_thoroughfare(all.get(i + 2).map_or("", |t| t.folded.as_str()))
            && t.begins
    });
    (!counted && !priced && !goes_on && !place).then(|| said(i, i + 1, y))
}

/// A year in Roman capitals, at least four signs.
fn roman(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let shown = &text[all[i].start..all[i].end];
    if shown.len() < 4 || !shown.bytes().all(|b| b"MDCLXVI".contains(&b)) {
        return None;
    }
    let value = |b: u8| match b {
        b'M' => 1000,
        b'D' => 500,
        b'C' => 100,
        b'L' => 50,
        b'X' => 10,
        b'V' => 5,
        _ => 1,
    };
    let v: Vec<i32> = shown.bytes().map(value).collect();
    let sum: i32 = v
        .iter()
        .enumerate()
        .map(|(k, x)| {
            if v.get(k + 1).is_some_and(|n| n > x) {
                -x
            } else {
                *x
            }
        })
        .sum();
    (1700..2030).contains(&sum).then(|| said(i, i + 1, sum))
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
    Some(Found {
        until: to.to_string(),
        ..said(i, i + 1, from)
    })
}
