//! Lots, prices, collectors' marks, and remarks on the record.

use super::Part;
use super::spans::dated;
use super::words::{Cursor, longest, phrase};

/// What a cataloguer wrote on the record and not on the picture: "Under review by", or initials
/// with a date.
pub(super) fn remark(text: &str) -> bool {
    const OPEN: [&str; 16] = [
        "however",
        "this",
        "it",
        "under review",
        "updated",
        "revised",
        "see",
        "see also",
        "according to",
        "note",
        "notes",
        "early provenance",
        "catalogue no.",
        "vendor and date",
        "check",
        "promised or given",
    ];
    let low = text.to_lowercase();
    if OPEN.iter().any(|w| phrase(text, w).is_some()) || low.contains("under review") {
        return true;
    }
    // "LWL 9/2014", "(LWL Oct 2014)"
    let (who, when) = text
        .trim_matches(['(', ')'])
        .split_once(' ')
        .unwrap_or(("", ""));
    let initials = (2..=4).contains(&who.len()) && who.bytes().all(|b| b.is_ascii_uppercase());
    initials && dated(when).is_some_and(|(_, n)| n == when.len())
}

/// "no. 57", "lot 217", "stock no. 1483": the label with its white space, and the number.
pub(super) fn lot(text: &str) -> Option<(Part, usize)> {
    const LABELS: [(&str, ()); 18] = [
        ("lot no.", ()),
        ("lot nos.", ()),
        ("lot number", ()),
        ("lot.", ()),
        ("lot", ()),
        ("lots", ()),
        ("no.", ()),
        ("nos.", ()),
        ("nr.", ()),
        ("#", ()),
        ("stock no.", ()),
        ("stock number", ()),
        ("stock nos.", ()),
        ("inv. no.", ()),
        ("inventory no.", ()),
        ("cat. no.", ()),
        ("catalogue no.", ()),
        ("invoice", ()),
    ];
    let (_, n) = longest(text, &LABELS)?;
    let mut c = Cursor::new(text);
    c.at = n;
    c.spaces();
    c.eat("#");
    let rest = c.rest();
    let wide = rest
        .find(|x: char| !(x.is_ascii_alphanumeric() || "-/".contains(x)))
        .unwrap_or(rest.len());
    let number = &rest[..wide];
    if !number.chars().any(|x| x.is_ascii_digit()) || wide > 16 {
        return None;
    }
    let part = Part::Lot(text[..c.at].to_string(), number.to_string());
    Some((part, c.at + wide))
}

/// "for $90", "£2700", "500 francs", "53 guineas".
pub(super) fn price(text: &str) -> Option<usize> {
    let mut c = Cursor::new(text);
    if let Some(n) = phrase(text, "for") {
        c.at = n;
        c.spaces();
    }
    let sign = ["$", "£", "€", "US$", "Dfl", "Fr.", "FF"]
        .iter()
        .any(|s| c.eat(s));
    c.eat(" ");
    let rest = c.rest();
    let wide = rest
        .find(|x: char| !(x.is_ascii_digit() || ",.".contains(x)))
        .unwrap_or(rest.len());
    let figures = rest[..wide].trim_end_matches(['.', ',']);
    if !figures.starts_with(|x: char| x.is_ascii_digit()) || figures.len() > 16 {
        return None;
    }
    c.at += figures.len();
    if sign {
        return Some(c.at);
    }
    let after = c.rest();
    const UNITS: [&str; 12] = [
        " francs",
        " guineas",
        " gns",
        " Gns",
        " pounds",
        " dollars",
        " marks",
        " florins",
        " guilders",
        " lire",
        " fr",
        " livres",
    ];
    let unit = UNITS.iter().find(|u| after.starts_with(**u))?;
    c.at += unit.len();
    c.eat(".");
    c.ends_word().then_some(c.at)
}

/// "Lugt 2232", "Lugt, suppl., 633b", "L.1185", "not in Lugt": a collector's mark.
pub(super) fn mark(text: &str) -> Option<usize> {
    const LABELS: [(&str, ()); 13] = [
        ("l", ()),
        ("lugt, supplement,", ()),
        ("lugt suppl.", ()),
        ("lugt suppl", ()),
        ("lugt, suppl.,", ()),
        ("lugt supplément,", ()),
        ("lugt supplement,", ()),
        ("l. supplément,", ()),
        ("lugt,", ()),
        ("lugt.", ()),
        ("lugt", ()),
        ("see lugt", ()),
        ("l.", ()),
    ];
    let (_, n) = longest(text, &LABELS)?;
    let mut c = Cursor::new(text);
    c.at = n;
    c.spaces();
    let (_, wide) = c.number(1, 4)?;
    // "L 1298": a capital by itself, before as many figures as such numbers have
    if n == 1 && (wide < 3 || !text.starts_with("L ")) {
        return None;
    }
    if c.rest().starts_with(|x: char| x.is_ascii_lowercase()) {
        c.at += 1;
    } else if let [b' ', letter, rest @ ..] = c.rest().as_bytes()
        && letter.is_ascii_uppercase()
        && !rest
            .first()
            .is_some_and(|x| x.is_ascii_alphanumeric() || *x == b'.')
    {
        // "Lugt 2103 C"
        c.at += 2;
    }
    c.ends_word().then_some(c.at)
}
