//! How a date that a person wrote would be written in EDTF.

use super::Edtf;

const MONTHS: [&str; 12] = [
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
];

/// The EDTF form of a date as people write them: `c. 1868`, `1870s`, `187-`, `1868-75`,
/// `by 1868`, `19th century`, `May 1868`. An empty string means "not known: leave it empty".
/// `None` where the meaning isn't plain.
///
/// ```
/// use dorso_weighing::dating::edtf::suggest;
/// assert_eq!(suggest("c. 1868").as_deref(), Some("1868~"));
/// assert_eq!(suggest("1868–75").as_deref(), Some("1868/1875"));
/// assert_eq!(suggest("vers 1880").as_deref(), Some("1880~"));
/// assert_eq!(suggest("Michaelmas 1843").as_deref(), Some("1843-09-29"));
/// assert_eq!(suggest("7/8/1868"), None);
/// ```
pub fn suggest(text: &str) -> Option<String> {
    let plain = text
        .trim()
        .to_lowercase()
        .replace(['–', '—', '−', '‐', '‑'], "-")
        .replace(['’', '‘'], "'");
    let plain = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    if matches!(
        plain.as_str(),
        "" | "?" | "-" | "--" | "n.d." | "nd" | "unknown" | "not known" | "n/a" | "none" | "n.k."
    ) {
        return Some(String::new());
    }
    match read(&plain) {
        Some(found) => Edtf::parse(&found).is_ok().then_some(found),
        // What stands on labels is kept as EDTF; asked of a text that is none, it mustn't be asked again
        None => crate::dating::dress::whole(text).filter(|found| found != text.trim()),
    }
}

fn read(s: &str) -> Option<String> {
    if let Some(rest) = strip(
        s,
        &[
            "circa", "approx.", "approx", "about", "abt", "ca.", "ca", "c.",
        ],
    )
    .or_else(|| strip(s, &["c"]).filter(|r| r.starts_with(|c: char| c.is_ascii_digit())))
    {
        return match read(rest)? {
            y if y.len() == 4 => Some(format!("{y}~")),
            y if y.contains('/') && !y.contains(['~', '?', '.']) => {
                let (a, b) = y.split_once('/')?;
                Some(format!("{a}~/{b}~"))
            }
            _ => None,
        };
    }
    if let Some(rest) = strip(s, &["before", "pre"]) {
        return Some(format!("[..{:04}]", year(&read(rest)?)? - 1));
    }
    if let Some(rest) = strip(s, &["not after", "by", "until", "to"]) {
        return Some(format!("[..{:04}]", year(&read(rest)?)?));
    }
    if let Some(rest) = strip(s, &["after", "post"]) {
        return Some(format!("[{:04}..]", year(&read(rest)?)? + 1));
    }
    if let Some(rest) = strip(s, &["not before", "from", "since"])
        && let Some(y) = read(rest).as_deref().and_then(year)
    {
        return Some(format!("[{y:04}..]"));
    }
    if let Some(inner) = s
        .strip_prefix('(')
        .and_then(|s| s.strip_suffix(')'))
        .or_else(|| s.strip_prefix('[').and_then(|s| s.strip_suffix(']')))
    {
        return read(inner.trim());
    }
    if let Some(rest) = s.strip_suffix("(?)").or_else(|| s.strip_suffix(" ?")) {
        return Some(format!("{:04}?", year(rest.trim())?));
    }
    for end in [
        "th century",
        "st century",
        "nd century",
        "rd century",
        "th c.",
        "th cent.",
    ] {
        if let Some(n) = s.strip_suffix(end) {
            let n: u32 = n.trim().parse().ok().filter(|n| (1..=21).contains(n))?;
            return Some(format!("{:02}XX", n - 1));
        }
    }
    decade(s)
        .or_else(|| span(s))
        .or_else(|| year(s.trim_end_matches(".0").trim_end_matches('.')).map(|y| format!("{y:04}")))
        .or_else(|| named_month(s))
}

/// What follows one of the words, as a word of its own or with a stop.
fn strip<'a>(s: &'a str, words: &[&str]) -> Option<&'a str> {
    words.iter().find_map(|w| {
        let rest = s.strip_prefix(w)?;
        let parted = w.ends_with('.') || *w == "c" || rest.starts_with(' ') || *w == "pre";
        parted
            .then_some(rest.trim_start_matches([' ', '-']))
            .filter(|r| !r.is_empty())
    })
}

fn year(s: &str) -> Option<i32> {
    (s.len() == 4 && s.bytes().all(|b| b.is_ascii_digit()))
        .then(|| s.parse().ok())
        .flatten()
}

/// `1870s`, `1870's`, `187-`, `187x`, `187-?`, `18--`, `1800s` stays undecided (decade or
/// century).
fn decade(s: &str) -> Option<String> {
    let s = s.trim_end_matches('?');
    let digits: String = s.chars().take_while(char::is_ascii_digit).collect();
    let rest = &s[digits.len()..];
    match (digits.len(), rest) {
        (4, "s" | "'s") if digits.ends_with('0') && !digits.ends_with("00") => {
            Some(format!("{}X", &digits[..3]))
        }
        (3, "-" | "x" | "_" | "*" | "u") => Some(format!("{digits}X")),
        (2, "--" | "xx" | "__" | "**" | "uu") => Some(format!("{digits}XX")),
        _ => None,
    }
}

/// `1868-75`, `1868 to 1875`, `1868 - 1875`, `1868 or 1870`, `1868-`.
fn span(s: &str) -> Option<String> {
    if let Some((a, b)) = s.split_once(" or ") {
        return Some(format!("[{:04},{:04}]", year(a.trim())?, year(b.trim())?));
    }
    let (a, b) = s.split_once(" to ").or_else(|| s.split_once('-'))?;
    let a = a.trim();
    let b = b.trim();
    let first = year(a)?;
    if b.is_empty() {
        return Some(format!("{first:04}/.."));
    }
    if !b.bytes().all(|c| c.is_ascii_digit()) {
        return None;
    }
    let last = match b.len() {
        1 => first / 10 * 10 + b.parse::<i32>().ok()?,
        2 => first / 100 * 100 + b.parse::<i32>().ok()?,
        4 => year(b)?,
        _ => return None,
    };
    (last >= first).then(|| format!("{first:04}/{last:04}"))
}

/// `May 1868`, `12 May 1868`, `12th May 1868`.
fn named_month(s: &str) -> Option<String> {
    let words: Vec<&str> = s.split([' ', ',', '.']).filter(|w| !w.is_empty()).collect();
    let month = |w: &str| {
        let short: String = w.chars().take(3).collect();
        let known = w.len() >= 3 && w.chars().all(char::is_alphabetic);
        MONTHS
            .iter()
            .position(|m| *m == short && known)
            .map(|i| i + 1)
    };
    match words[..] {
        [m, y] => Some(format!("{:04}-{:02}", year(y)?, month(m)?)),
        [d, m, y] => {
            let d: u8 = d
                .trim_end_matches(|c: char| c.is_alphabetic())
                .parse()
                .ok()?;
            Some(format!("{:04}-{:02}-{d:02}", year(y)?, month(m)?))
        }
        _ => None,
    }
}
