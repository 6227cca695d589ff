//! Numbers of the post and the telephone.

use super::{Found, from_to, one, said, word};
use crate::dating::clues::wording::Token;

/// `SW1A 1AA`; or a district such as `EC1V` after London.
pub fn postcode(all: &[Token], i: usize) -> Option<Found> {
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
pub fn director(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let shown = &text[all[i].start..all[i].end];
    let head = shown.chars().take_while(|c| c.is_uppercase()).count();
    let small = shown.chars().skip(3).all(char::is_lowercase) && shown.chars().count() > 4;
    let figures = all
        .get(i + 1)
        .is_some_and(|t| t.number().is_some() && t.folded.len() == 4);
    (head == 3 && small && figures).then(|| said(i, i + 2, ""))
}

/// The exchanges with three capitals of other large towns, by the year in which the first one opened
/// (from memory).
const DIRECTOR: &[(&str, i32)] = &[
    ("manchester", 1930),
    ("birmingham", 1931),
    ("glasgow", 1937),
    ("liverpool", 1941),
    ("edinburgh", 1950),
];

pub fn director_elsewhere(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let found = director(text, all, i)?;
    let named = |t: &&(&str, i32)| all.iter().any(|w| w.folded == t.0);
    let (_, year) = DIRECTOR.iter().find(named)?;
    let london = all.iter().any(|w| w.folded == "london");
    (!london).then(|| from_to(found.first, found.end, year, 1970))
}

/// `(0539) 72012`, `01539 720121`: with (`new`) or without the 1 that was put in on 16 April 1995; not
/// the codes of London.
pub fn dialling(text: &str, all: &[Token], i: usize, new: bool) -> Option<Found> {
    let t = &all[i];
    let one_more = t.folded.starts_with("01") && t.folded.len() >= 4;
    let code = t.number().is_some()
        && t.folded.starts_with('0')
        && (4..=6).contains(&t.folded.len())
        && one_more == new
        && !matches!(t.folded.as_str(), "0171" | "0181" | "0800");
    let bracketed = text[..t.start].ends_with('(') && text[t.end..].starts_with(')');
    let next = all
        .get(i + 1)
        .filter(|n| n.number().is_some() && n.line == t.line)?;
    let after = text[t.end..next.start]
        .trim_matches([')', ' ', '-'])
        .is_empty();
    let told = i > 0 && word(all, i - 1, &["tel", "telephone", "phone", "t", "fax"]);
    let long = t.folded.len() == 5 && (5..=6).contains(&next.folded.len());
    (code && after && (bracketed || told || new && long)).then(|| said(i, i + 2, ""))
}

/// Two capitals and five figures, as in American addresses.
pub fn zip(all: &[Token], i: usize) -> Option<Found> {
    const STATES: &[&str] = &[
        "ny", "ma", "pa", "nj", "ct", "ri", "nh", "vt", "me", "md", "va", "dc", "de", "nc", "sc",
        "ga", "fl", "oh", "mi", "il", "wi", "mn", "mo", "tx", "ca", "wa", "or", "co", "az", "nm",
        "tn", "ky", "la",
    ];
    const LONGER: &[&str] = &[
        "ill",
        "mass",
        "calif",
        "penn",
        "conn",
        "fla",
        "tex",
        "mich",
        "minn",
        "wis",
        "ind",
        "ohio",
        "wash",
        "ore",
        "colo",
        "tenn",
        "york",
        "jersey",
        "carolina",
        "virginia",
        "maryland",
        "illinois",
        "california",
        "texas",
    ];
    let state = word(all, i, STATES) && all[i].capital || word(all, i, LONGER);
    let single = |t: &&Token| t.capital && t.folded.len() == 1;
    // "N.Y." is two words
    let dotted = match (all.get(i).filter(single), all.get(i + 1).filter(single)) {
        (Some(a), Some(b)) => STATES.contains(&format!("{}{}", a.folded, b.folded).as_str()),
        _ => false,
    };
    let end = i + 1 + usize::from(dotted);
    let figures = all
        .get(end)
        .is_some_and(|t| t.number().is_some() && t.folded.len() == 5);
    ((state || dotted) && figures).then(|| said(i, end + 1, ""))
}

/// Codes of German post before a town: `(13b)`, `8000`, `D-8000`, `80331`, by the number of figures.
pub fn german_code(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let t = &all[i];
    let next = all.get(i + 1).filter(|n| n.line == t.line && n.begins)?;
    if &text[t.end..next.start] != " " && !text[t.end..].starts_with(") ") {
        return None;
    }
    let town = TOWNS.contains(&next.folded.as_str());
    let first = i.checked_sub(1).and_then(|k| all.get(k));
    let d = first.is_some_and(|f| f.folded == "d" && text[f.end..t.start].trim() == "-");
    let start = if d { i - 1 } else { i };
    let figures = t.folded.trim_end_matches(['a', 'b']);
    let zone = text[..t.start].ends_with('(') && figures.len() <= 2;
    if zone && town && figures.parse::<u8>().is_ok_and(|n| n <= 24) {
        return Some(from_to(i, i + 2, 1941, 1962));
    }
    t.number()?;
    match (t.folded.len(), town || d) {
        (4, true) => Some(from_to(start, i + 2, 1961, "1993-06-30")),
        (5, true) => Some(from_to(start, i + 2, "1993-07-01", "")),
        _ => None,
    }
}

/// Large German towns, folded: without one of these, figures before a name are no code.
const TOWNS: &[&str] = &[
    "berlin",
    "hamburg",
    "munchen",
    "koln",
    "frankfurt",
    "stuttgart",
    "dusseldorf",
    "dortmund",
    "essen",
    "leipzig",
    "bremen",
    "dresden",
    "hannover",
    "nurnberg",
    "duisburg",
    "bochum",
    "wuppertal",
    "bielefeld",
    "bonn",
    "munster",
    "karlsruhe",
    "mannheim",
    "augsburg",
    "wiesbaden",
    "braunschweig",
    "chemnitz",
    "kiel",
    "aachen",
    "halle",
    "magdeburg",
    "freiburg",
    "krefeld",
    "lubeck",
    "oberhausen",
    "erfurt",
    "mainz",
    "rostock",
    "kassel",
    "hagen",
    "potsdam",
    "saarbrucken",
    "oldenburg",
    "osnabruck",
    "heidelberg",
    "darmstadt",
    "wurzburg",
    "regensburg",
    "gottingen",
    "ulm",
    "ingolstadt",
    "heilbronn",
    "pforzheim",
    "weimar",
    "jena",
    "gera",
    "schwerin",
    "flensburg",
    "konstanz",
    "bamberg",
    "bayreuth",
    "trier",
    "koblenz",
    "worms",
    "tubingen",
];

/// `NOR 08H`: a code of the trial at Norwich.
pub fn trial_code(all: &[Token], i: usize) -> Option<Found> {
    let inner = all.get(i + 1)?.folded.as_bytes();
    let shape = matches!(inner, [a, b, c] if a.is_ascii_digit() && b.is_ascii_digit() && c.is_ascii_alphabetic());
    (word(all, i, &["nor"]) && all[i].capital && shape).then(|| said(i, i + 2, ""))
}

/// `1012 AB Amsterdam`.
pub fn dutch_code(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let letters = all.get(i + 1)?;
    let town = all
        .get(i + 2)
        .filter(|t| t.begins && t.line == letters.line)?;
    let figures = all[i].number().filter(|_| all[i].folded.len() == 4)?;
    let shape = letters.capital && letters.folded.len() == 2 && town.folded.len() > 3;
    let close =
        &text[all[i].end..letters.start] == " " && text[letters.end..town.start].trim().is_empty();
    (figures >= 1000 && shape && close).then(|| said(i, i + 2, ""))
}

/// `ELYsées 45-67`.
pub fn paris_exchange(text: &str, all: &[Token], i: usize) -> Option<Found> {
    let shown = &text[all[i].start..all[i].end];
    let head = shown.chars().take_while(|c| c.is_uppercase()).count();
    let small = shown.chars().skip(3).all(char::is_lowercase) && shown.chars().count() > 4;
    let two = |k: usize| {
        all.get(k)
            .is_some_and(|t| t.number().is_some() && t.folded.len() == 2)
    };
    (head == 3 && small && two(i + 1) && two(i + 2)).then(|| said(i, i + 3, ""))
}
