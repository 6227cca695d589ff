//! Dates as people write them, in English, French, German, Dutch and Italian, into the kept form (EDTF).

use super::edtf::Edtf;

/// How far an estimate may reach when it is looked for, years; our own choice.
const WIDTH: i32 = 5;
/// Words before a year that make it an estimate.
const ABOUT: [&str; 12] = [
    "about",
    "approx",
    "around",
    "c",
    "ca",
    "circa",
    "environ",
    "gegen",
    "omstreeks",
    "um",
    "vers",
    "verso",
];
/// Words before the last year that may be meant.
const BEFORE: [&str; 8] = [
    "before", "by", "until", "avant", "vor", "bis", "voor", "prima",
];
/// Words before the first year that may be meant.
const AFTER: [&str; 9] = [
    "after", "from", "since", "après", "depuis", "nach", "seit", "na", "dopo",
];

/// The kept form (EDTF) of a date as typed: `1880`, `c. 1880`, `vers 1900`, `1850-60`, `before 1880`,
/// `1870s`, `1880?`, or EDTF itself; `None` where it isn't understood.
///
/// "before 1880" and "after 1880" keep that year as their end: the words leave open whether it counts.
///
/// ```
/// use dorso_weighing::dating::typed;
/// assert_eq!(typed("vers 1900").as_deref(), Some("1900~"));
/// assert_eq!(typed("1850-60").as_deref(), Some("1850/1860"));
/// assert_eq!(typed("sometime"), None);
/// ```
pub fn typed(text: &str) -> Option<String> {
    let text = text.trim().to_lowercase();
    // "1850-60" would be a month that there is none of; "1850-12" stays December
    let upper = text.to_uppercase();
    if Edtf::parse(&upper).is_ok() {
        return Some(upper);
    }
    let worded = worded(&text)?;
    Edtf::parse(&worded).is_ok().then_some(worded)
}

/// First and last year of a date as typed, to look for what may be of it: an estimate reaches
/// `WIDTH` years further either way, an open end to the limits of the calendar.
pub fn typed_years(text: &str) -> Option<(i32, i32)> {
    let kept = typed(text)?;
    let value = Edtf::parse(&kept).ok()?;
    let width = if value.approximate() { WIDTH } else { 0 };
    let year = |y: Option<i64>, open: i32| y.and_then(|y| i32::try_from(y).ok()).unwrap_or(open);
    let first = year(value.earliest().map(|d| d.year), 0);
    let last = year(value.latest().map(|d| d.year), 9999);
    Some((first - width, last + width))
}

fn worded(text: &str) -> Option<String> {
    let (word, rest) = first_word(text);
    if !word.is_empty() {
        if ABOUT.contains(&word) {
            return about(&years(rest)?);
        }
        if BEFORE.contains(&word) {
            return Some(format!("../{}", one(rest)?));
        }
        if AFTER.contains(&word) {
            // "from 1850 to 1860"
            return match span(rest) {
                Some((a, b)) => Some(format!("{a}/{b}")),
                None => Some(format!("{}/..", one(rest)?)),
            };
        }
        return None;
    }
    years(text)
}

/// Letters at the beginning, with a full stop behind them left out.
fn first_word(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| !c.is_alphabetic())
        .unwrap_or(text.len());
    let rest = text[end..].trim_start_matches(['.', ' ']);
    (&text[..end], rest)
}

/// A year, a decade or two years with their doubt.
fn years(text: &str) -> Option<String> {
    match span(text) {
        Some((a, b)) => Some(format!("{a}/{b}")),
        None => one(text),
    }
}

/// Both years an estimate.
fn about(years: &str) -> Option<String> {
    let each: Vec<String> = years.split('/').map(|y| format!("{y}~")).collect();
    Some(each.join("/"))
}

/// Four figures, or "1870s"; with "?" a doubt.
fn one(text: &str) -> Option<String> {
    let text = text.trim();
    let (text, doubt) = match text.strip_suffix('?') {
        Some(rest) => (rest.trim_end(), "?"),
        None => (text, ""),
    };
    let decade = text
        .strip_suffix("'s")
        .or(text.strip_suffix("’s"))
        .or(text.strip_suffix('s'));
    match decade {
        Some(d) => (is_year(d) && d.ends_with('0')).then(|| format!("{}X{doubt}", &d[..3])),
        None => is_year(text).then(|| format!("{text}{doubt}")),
    }
}

/// "1850-60", "1850–1860", "1850 to 1860", "between 1850 and 1860" without its first word.
fn span(text: &str) -> Option<(String, String)> {
    let parts: Vec<&str> = text
        .split(['-', '–', '—', '/'])
        .flat_map(|p| p.split(" to "))
        .map(str::trim)
        .collect();
    let [a, b] = parts[..] else { return None };
    let a = one(a)?;
    let b = match b.len() {
        // The figures that change alone
        1..=3 if b.chars().all(|c| c.is_ascii_digit()) => format!("{}{b}", a.get(..4 - b.len())?),
        _ => one(b)?,
    };
    (a.get(..4)? <= b.get(..4)?).then_some((a, b))
}

fn is_year(text: &str) -> bool {
    text.len() == 4 && text.chars().all(|c| c.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_taken_as_people_write_them() {
        for (text, kept) in [
            ("1868", "1868"),
            ("187X", "187X"),
            ("187x", "187X"),
            ("1868~", "1868~"),
            ("1932-05-14", "1932-05-14"),
            ("1888/1895", "1888/1895"),
            ("c. 1880", "1880~"),
            ("ca.1880", "1880~"),
            ("c1880", "1880~"),
            ("About 1868", "1868~"),
            ("vers 1900", "1900~"),
            ("um 1900", "1900~"),
            ("1850-60", "1850/1860"),
            ("1850–1860", "1850/1860"),
            ("c. 1850-60", "1850~/1860~"),
            ("1850 to 1860", "1850/1860"),
            ("from 1850 to 1860", "1850/1860"),
            ("1870s", "187X"),
            ("c. 1870s", "187X~"),
            ("1880?", "1880?"),
            ("before 1880", "../1880"),
            ("après 1880", "1880/.."),
        ] {
            assert_eq!(typed(text).as_deref(), Some(kept), "{text}");
        }
        for text in ["", "sometime", "18", "1860-50", "c.", "1850-", "1875s"] {
            assert_eq!(typed(text), None, "{text}");
        }
    }
}
