//! Years of the lists in words.

use crate::dating::edtf::Edtf;

/// An EDTF year in words: "about 1868", "the 1870s"; what it doesn't cover stays as it is.
pub(super) fn year(edtf: &str) -> String {
    let text = edtf.trim();
    let (digits, sign) = match text.char_indices().last() {
        Some((i, s @ ('~' | '?' | '%'))) => (&text[..i], Some(s)),
        _ => (text, None),
    };
    let figures = |t: &str, n| t.len() == n && t.bytes().all(|b| b.is_ascii_digit());
    let plain = if figures(digits, 4) {
        digits.to_owned()
    } else if let Some(d) = digits.strip_suffix("XX").filter(|d| figures(d, 2)) {
        match d.parse::<u32>() {
            Ok(n) => format!("the {} century", ordinal(n + 1)),
            Err(_) => return text.to_owned(),
        }
    } else if let Some(d) = digits.strip_suffix('X').filter(|d| figures(d, 3)) {
        format!("the {d}0s")
    } else {
        return text.to_owned();
    };
    match sign {
        Some('~') => format!("about {plain}"),
        Some('?') => format!("{plain} (doubtful)"),
        Some('%') => format!("about {plain} (doubtful)"),
        _ => plain,
    }
}

fn ordinal(n: u32) -> String {
    let end = match (n % 10, n % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{n}{end}")
}

/// A span in words, or `None` where neither end is known.
pub(super) fn span(from: &str, to: &str) -> Option<String> {
    Some(match (from.trim(), to.trim()) {
        ("", "") => return None,
        (a, b) if a == b => year(a),
        (a, "") => format!("{} and later (the end isn't given)", year(a)),
        ("", b) => format!("up to {} (the beginning isn't given)", year(b)),
        (a, b) => format!("{} to {}", year(a), year(b)),
    })
}

/// Whether a span may reach into the years `first..=last`; an end that isn't given bounds nothing
/// but a span without any date doesn't reach anywhere.
pub(super) fn reaches(from: &str, to: &str, first: i64, last: i64) -> bool {
    let start = Edtf::parse(from.trim()).ok().and_then(|e| e.earliest());
    let end = Edtf::parse(to.trim()).ok().and_then(|e| e.latest());
    if start.is_none() && end.is_none() {
        return false;
    }
    start.is_none_or(|d| d.year <= last) && end.is_none_or(|d| d.year >= first)
}

/// The day of an ISO 8601 moment in words: "7 May 2024".
pub(super) fn day(moment: &str) -> String {
    let date = moment
        .get(..10)
        .and_then(|d| d.parse::<jiff::civil::Date>().ok());
    date.map_or_else(
        || moment.to_owned(),
        |d| d.strftime("%-d %B %Y").to_string(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn years_of_the_lists_are_told_in_words() {
        assert_eq!(year("1868"), "1868");
        assert_eq!(year("1868~"), "about 1868");
        assert_eq!(year("187X"), "the 1870s");
        assert_eq!(year("18XX?"), "the 19th century (doubtful)");
        assert_eq!(year("20XX"), "the 21st century");
        assert_eq!(year("[1868..1875]"), "[1868..1875]");
        assert_eq!(
            span("1868", ""),
            Some("1868 and later (the end isn't given)".into())
        );
        assert_eq!(span("", ""), None);
    }

    #[test]
    fn a_span_reaches_the_years_that_it_may_hold() {
        assert!(reaches("1920", "1950", 1933, 1945));
        assert!(reaches("1920", "", 1933, 1945));
        assert!(reaches("", "193X", 1933, 1945));
        assert!(!reaches("1868", "1875", 1933, 1945));
        assert!(!reaches("", "", 1933, 1945));
        assert!(!reaches("1946", "", 1933, 1945));
    }

    #[test]
    fn a_moment_is_told_by_its_day() {
        assert_eq!(day("2024-05-07T09:00:00+01:00"), "7 May 2024");
        assert_eq!(day("some day"), "some day");
    }
}
