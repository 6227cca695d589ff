//! Dates that are no single one: about a year, before or after it, a run of years, a decade.

use super::names::{ABOUT, AFTER, BEFORE};
use super::{ABOUT_YEARS, Dress, LAST, Words, Written};

/// `c. 1860`, `vers 1880`, `c1860`.
pub fn about(w: &Words, i: usize) -> Option<Written> {
    let joined = ["c", "ca"].iter().find_map(|h| {
        let y: i32 = w.at(i).strip_prefix(h)?.parse().ok()?;
        (1600..=LAST).contains(&y).then_some(y)
    });
    let (y, end) = match joined {
        Some(y) => (y, i + 1),
        None if w.is(i, ABOUT) && years_run(w, i + 1).is_some() => {
            return years_run(w, i + 1).map(|r| loose(i, r));
        }
        None if w.is(i, ABOUT) => {
            let k = i + 1 + usize::from(w.is(i + 1, &["the", "lannee", "das", "jahr", "il"]));
            (w.year(k)?, k + 1)
        }
        None => return None,
    };
    Some(Written {
        first: i,
        end,
        edtf: format!("{y:04}~"),
        spans: vec![(
            format!("{:04}", y - ABOUT_YEARS),
            format!("{:04}", y + ABOUT_YEARS),
        )],
        dress: Dress::About,
    })
}

/// "About" before a range: both ends are loose.
fn loose(first: usize, run: Written) -> Written {
    let years = |t: &str, by: i32| {
        t.parse::<i32>()
            .map_or(t.to_owned(), |y| format!("{:04}", y + by))
    };
    let (a, b) = run.spans[0].clone();
    Written {
        first,
        edtf: format!("{a}~/{b}~"),
        spans: vec![(years(&a, -ABOUT_YEARS), years(&b, ABOUT_YEARS))],
        dress: Dress::About,
        ..run
    }
}

/// `before 1867`, `nach 1880`, `not after 1868`, `between 1868 and 1875`.
pub fn side(w: &Words, i: usize) -> Option<Written> {
    let not = w.is(i, &["not", "nicht", "pas"]);
    let k = i + usize::from(not);
    let until = w.is(k, BEFORE) || w.is(k, &["by", "until"]);
    let since = w.is(k, AFTER) || w.is(k, &["from"]) && !not;
    if w.is(i, &["between", "entre", "zwischen"]) {
        let b = i + 3;
        let (a, b) = (w.year(i + 1)?, w.year(b)?);
        return Some(range(i, i + 4, a, b));
    }
    if !until && !since {
        return None;
    }
    let y = w.year(k + 1)?;
    let (from, to) = match (until, not, w.at(k)) {
        (true, true, _) => (format!("{y:04}"), String::new()),
        (true, false, "by" | "until") => (String::new(), format!("{y:04}")),
        (true, false, _) => (String::new(), format!("{:04}", y - 1)),
        (false, true, _) => (String::new(), format!("{y:04}")),
        (false, false, "from") => (format!("{y:04}"), String::new()),
        (false, false, _) => (format!("{:04}", y + 1), String::new()),
    };
    Some(Written::stretch(i, k + 2, (from, to), Dress::Side))
}

fn range(first: usize, end: usize, a: i32, b: i32) -> Written {
    Written {
        edtf: format!("{a:04}/{b:04}"),
        ..Written::stretch(
            first,
            end,
            (format!("{a:04}"), format!("{b:04}")),
            Dress::Range,
        )
    }
}

/// `1868-75`, `1868–1875`, `1868 to 1875`.
pub fn years_run(w: &Words, i: usize) -> Option<Written> {
    let a = w.year(i)?;
    let sign = w.between(i + 1).trim();
    let (k, apart) = match sign {
        "-" | "–" | "—" | "/" => (i + 1, true),
        _ => (i + 2, w.is(i + 1, &["to", "bis", "au"])),
    };
    let figures = w.all.get(k)?.folded.len();
    let b = match figures {
        4 => w.year(k)?,
        2 => a / 100 * 100 + w.number(k)?,
        _ => return None,
    };
    (apart && b > a && b - a <= 110).then(|| range(i, k + 1, a, b))
}

/// `1880s`, `1880er`, `années 1880`, `188-` is left to the blanks of bills.
pub fn decade(w: &Words, i: usize) -> Option<Written> {
    let word = w.at(i);
    let figures = ["s", "er", "ies"].iter().find_map(|e| {
        word.strip_suffix(e)
            .filter(|f| f.bytes().all(|b| b.is_ascii_digit()))
    });
    let (y, end) = match figures {
        Some(f) if f.len() == 4 => (f.parse::<i32>().ok()?, i + 1),
        None if w.is(i, &["annees", "anni"]) => (w.year(i + 1)?, i + 2),
        _ => return None,
    };
    let whole = (1600..=LAST).contains(&y) && y % 10 == 0;
    // "1800s" is a decade or a century: both are kept in the wider one
    let last = if y % 100 == 0 { y + 99 } else { y + 9 };
    let kept = if y % 100 == 0 {
        format!("{:02}XX", y / 100)
    } else {
        format!("{:03}X", y / 10)
    };
    whole.then(|| Written {
        first: i,
        end,
        edtf: kept,
        spans: vec![(format!("{y:04}"), format!("{last:04}"))],
        dress: Dress::Decade,
    })
}
