//! The words with which a link begins: doubt, and the way it passed.

use super::words::{self, Cursor, WHOSE, longest, phrase};
use super::{Role, Way};
use crate::note::provenance::Doubt;

const DOUBTS: [(&str, Doubt); 10] = [
    ("probably", Doubt::Probably),
    ("likely", Doubt::Probably),
    ("presumably", Doubt::Probably),
    ("apparently", Doubt::Probably),
    ("possibly", Doubt::Possibly),
    ("perhaps", Doubt::Possibly),
    ("maybe", Doubt::Possibly),
    ("said to be", Doubt::Possibly),
    ("said to have been", Doubt::Possibly),
    ("reportedly", Doubt::Possibly),
];

use Way::{
    Acquired, Bequest, Commissioned, Confiscated, Consigned, Descent, Exchange, Found, Gift, Loan,
    Purchase, Restituted, Sale, Transfer, With,
};

const WAYS: &[(&str, Way)] = &[
    ("by descent to", Descent),
    ("be descent to", Descent),
    ("by descent through", Descent),
    ("by descent in", Descent),
    ("by descent from", Descent),
    ("by descent", Descent),
    ("then by descent to", Descent),
    ("then by descent", Descent),
    ("thence by descent to", Descent),
    ("thence by descent", Descent),
    ("and by descent to", Descent),
    ("by family descent to", Descent),
    ("by family descent", Descent),
    ("descended to", Descent),
    ("descended in", Descent),
    ("by inheritance to", Descent),
    ("by inheritance from", Descent),
    ("by inheritance", Descent),
    ("inherited by", Descent),
    ("inherited from", Descent),
    ("by bequest to", Bequest),
    ("by bequest of", Bequest),
    ("by bequest from", Bequest),
    ("by bequest", Bequest),
    ("bequest to", Bequest),
    ("bequest of", Bequest),
    ("bequest from", Bequest),
    ("bequeathed to", Bequest),
    ("bequeathed by", Bequest),
    ("by gift to", Gift),
    ("by gift of", Gift),
    ("by gift from", Gift),
    ("by gift", Gift),
    ("by partial gift to", Gift),
    ("gift to", Gift),
    ("gift of", Gift),
    ("gift from", Gift),
    ("gift by", Gift),
    ("gifts to", Gift),
    ("gifts of", Gift),
    ("gift", Gift),
    ("given to", Gift),
    ("given by", Gift),
    ("donated to", Gift),
    ("donated by", Gift),
    ("presented to", Gift),
    ("presented by", Gift),
    ("purchased by", Purchase),
    ("purchased from", Purchase),
    ("purchased at auction from", Purchase),
    ("purchased at auction at", Purchase),
    ("purchased at auction by", Purchase),
    ("purchased at the", Purchase),
    ("purchased at", Purchase),
    ("purchased for", Purchase),
    ("purchased through", Purchase),
    ("purchased via", Purchase),
    ("purchased in", Purchase),
    ("purchased", Purchase),
    ("purchase from", Purchase),
    ("purchase by", Purchase),
    ("purchase:", Purchase),
    ("purchase", Purchase),
    ("puchased by", Purchase),
    ("museum purchase: gift of", Purchase),
    ("museum purchase: gift from", Purchase),
    ("museum purchase:", Purchase),
    ("museum purchase from", Purchase),
    ("museum purchase through", Purchase),
    ("museum purchase with", Purchase),
    ("museum purchase", Purchase),
    ("bought by", Purchase),
    ("bought from", Purchase),
    ("bought at", Purchase),
    ("bought at auction by", Purchase),
    ("bought at auction at", Purchase),
    ("bought at auction from", Purchase),
    ("bought at auction", Purchase),
    ("purchased at auction", Purchase),
    ("acquired by", Acquired),
    ("acquired from", Acquired),
    ("acquired at", Acquired),
    ("acquired through", Acquired),
    ("acquired via", Acquired),
    ("acquired in", Acquired),
    ("acquired", Acquired),
    ("sold to", Sale),
    ("sold by", Sale),
    ("sold at auction at", Sale),
    ("sold at auction by", Sale),
    ("sold at auction,", Sale),
    ("sold at auction", Sale),
    ("sold at the", Sale),
    ("sold at", Sale),
    ("sold through", Sale),
    ("sold", Sale),
    ("sale to", Sale),
    ("sale at", Sale),
    ("sale:", Sale),
    ("sale,", Sale),
    ("sale", Sale),
    ("estate sale,", Sale),
    ("estate sale", Sale),
    ("anon. sale", Sale),
    ("anonymous sale,", Sale),
    ("anonymous sale", Sale),
    ("auction,", Sale),
    ("bt.", Purchase),
    ("offered at", Sale),
    ("offered", Sale),
    ("consigned to", Consigned),
    ("consigned by", Consigned),
    ("on consignment to", Consigned),
    ("on consignment with", Consigned),
    ("with", With),
    ("held by", With),
    ("in the possession of", With),
    ("in possession of", With),
    ("in the collection of", With),
    ("the collection of", With),
    ("collection of", With),
    ("collection:", With),
    ("source:", With),
    ("provenance:", With),
    ("on deposit with", Loan),
    ("on deposit at", Loan),
    ("placed on deposit with", Loan),
    ("on loan to", Loan),
    ("on long-term loan to", Loan),
    ("on long term loan to", Loan),
    ("long-term loan to", Loan),
    ("long term loan to", Loan),
    ("extended loan to", Loan),
    ("lent to", Loan),
    ("loaned to", Loan),
    ("transferred to", Transfer),
    ("transferred from", Transfer),
    ("transfer from", Transfer),
    ("transfer to", Transfer),
    ("by transfer from", Transfer),
    ("by transfer to", Transfer),
    ("by transfer", Transfer),
    ("by conversion, to", Transfer),
    ("by conversion to", Transfer),
    ("returned to", Transfer),
    ("returned by", Transfer),
    ("exchanged with", Exchange),
    ("by exchange with", Exchange),
    ("by exchange to", Exchange),
    ("by exchange from", Exchange),
    ("by exchange", Exchange),
    ("acquired by exchange from", Exchange),
    ("restituted to", Restituted),
    ("confiscated by", Confiscated),
    ("seized by", Confiscated),
    ("looted by", Confiscated),
    ("commissioned by", Commissioned),
    ("museum appropriation", Transfer),
    ("by appropriation", Transfer),
    ("collector's seal of", With),
    ("collector's mark of", With),
    ("stamp of", With),
    ("offered by", Consigned),
    ("refused by", Transfer),
    ("received from", Acquired),
    ("recieved from", Acquired),
    ("received by", Acquired),
    ("commissioned from", Commissioned),
    ("found in", Found),
    ("originated from", Found),
    ("found at", Found),
];

/// Words before a way that belong to it: whose, and which share.
const SHARES: [&str; 9] = [
    "partial and promised",
    "partial",
    "promised",
    "fractional",
    "anonymous",
    "joint",
    "estate",
    "remainder",
    "the",
];

/// A way of passing at the beginning of the text: "purchased by", "their partial gift to".
pub(super) fn way(text: &str) -> Option<(Way, usize)> {
    let mut c = Cursor::new(text);
    if let Some(n) = WHOSE.iter().find_map(|w| phrase(text, w)) {
        c.at += n;
        c.spaces();
    }
    let whose = c.at > 0;
    let mut share = false;
    for s in SHARES {
        if let Some(n) = phrase(c.rest(), s)
            && (s != "estate" || phrase(c.rest(), "estate sale").is_some())
            && (s != "the" || phrase(c.rest(), "the collection of").is_none())
        {
            c.at += n;
            c.spaces();
            share = true;
            break;
        }
    }
    let (way, n) = longest(c.rest(), WAYS)?;
    // "Gift Shop", "Sale Brothers", "Purchase Prize": a bare noun is a way only where the chunk ends
    let words = &c.rest()[..n];
    let bare = ["gift", "sale", "purchase", "purchased", "acquired"]
        .contains(&words.to_lowercase().as_str());
    let after = c.rest()[n..].trim_start();
    let named = after.starts_with(char::is_uppercase);
    if ["sold", "offered"].contains(&words.to_lowercase().as_str())
        && !(named || after.starts_with([',', '(']) || dated_next(after))
    {
        return None;
    }
    if bare
        && !(after.is_empty() || after.starts_with([',', '(', '[', '.', ';', ':', '"', '“']))
        && !dated_next(after)
    {
        return None;
    }
    if (whose || share) && !matches!(way, Gift | Bequest | Sale | Purchase | Loan | Commissioned) {
        return None;
    }
    Some((way, c.at + n))
}

fn dated_next(after: &str) -> bool {
    super::spans::dated(after).is_some()
}

pub(super) fn doubt(text: &str) -> Option<(Doubt, usize)> {
    longest(text, &DOUBTS)
}

const ROLES: [(&str, Role); 22] = [
    ("from the estate of", Role::From),
    ("from", Role::From),
    ("to", Role::To),
    ("for", Role::To),
    ("through the agency of", Role::Through),
    ("through the", Role::Through),
    ("through", Role::Through),
    ("via the", Role::Through),
    ("via", Role::Through),
    ("courtesy of", Role::Through),
    ("at auction at", Role::At),
    ("at auction from", Role::From),
    ("at the", Role::At),
    ("at", Role::At),
    ("in honor of", Role::Honouring),
    ("to honor", Role::Honouring),
    ("in memory of", Role::Honouring),
    ("in honour of", Role::Honouring),
    ("to the", Role::To),
    ("from the", Role::From),
    ("by", Role::By),
    ("represented by", Role::Through),
];

/// What brings in a further person or firm: "from", "through".
pub(super) fn role(text: &str) -> Option<(Role, usize)> {
    let (role, n) = longest(text, &ROLES)?;
    let next = text[n..].trim_start();
    let next = words::phrase(next, "the").map_or(next, |n| next[n..].trim_start());
    let ordinal = next.starts_with(|c: char| c.is_ascii_digit())
        && super::words::first_word(next).ends_with(['t', 'd', 'h']);
    let named = ordinal
        || super::words::starts_upper(next)
        || next.starts_with(['"', '“', '('])
        || super::words::kinship(next).is_some()
        || [
            "the artist",
            "a private",
            "an unidentified",
            "artist",
            "museum",
            "private collection",
            "donor",
            "sitter",
            "artist",
            "present owner",
            "most recent owner",
            "current owner",
            "owner",
        ]
        .iter()
        .any(|w| phrase(next, w).is_some());
    // Only as small words: "To", "For" and "At" begin names
    let small = text.starts_with(char::is_lowercase) || role == Role::Through;
    (named && small).then_some((role, n))
}

/// What something was bought or lent for: "for the Americana Collection", "for 1967 International".
pub(super) fn purpose(text: &str) -> Option<usize> {
    const ENDS: [&str; 6] = [
        "collection",
        "fund",
        "exhibition",
        "international",
        "annual",
        "salon",
    ];
    let n = phrase(text, "for").filter(|_| text.starts_with('f'))?;
    // No purpose that matters is longer
    let near = text.char_indices().nth(120).map_or(text.len(), |(i, _)| i);
    let text = &text[..near];
    let end = text
        .find([',', ';', '(', '[', '.', '\n'])
        .unwrap_or(text.len());
    let said = text[..end].trim_end();
    let next = text[n..].trim_start();
    let last = said
        .split_whitespace()
        .next_back()
        .unwrap_or("")
        .to_lowercase();
    let shown = ENDS.contains(&last.as_str());
    let year = super::spans::dated(next).is_some();
    (shown && (year || phrase(next, "the").is_some())).then_some(said.len())
}

/// The number of a sale: "sale 7626", "sale no. 12".
pub(super) fn sale_number(text: &str) -> Option<usize> {
    let n = phrase(text, "sale").filter(|_| text.starts_with('s'))?;
    let mut c = Cursor::new(text);
    c.at = n;
    c.spaces();
    ["no.", "number", "#"].iter().any(|w| c.eat(w));
    c.spaces();
    c.number(1, 6)?;
    // A year is a date
    let year = super::spans::dated(text[n..].trim_start()).is_some();
    (!year && c.ends_word()).then_some(c.at)
}

const DETAILS: [&str; 31] = [
    "lot",
    "duplicate",
    "donor",
    "vendor",
    "no date",
    "collector",
    "recto",
    "as agent",
    "as agents",
    "agent",
    "dealer",
    "art dealer",
    "illustrated",
    "bought in",
    "unsold",
    "by conversion",
    "the artist",
    "the sitter",
    "the donor",
    "unidentified",
    "unknown",
    "no address",
    "no location",
    "deceased",
    "artist",
    "no mark",
    "not in Lugt",
    "jointly",
    "stock",
    "at auction",
    "owner",
];

/// A detail in fixed words.
pub(super) fn detail(chunk: &str) -> bool {
    let chunk = chunk.trim();
    const OPEN: [&str; 15] = [
        "in exchange for",
        "as",
        "according to",
        "per",
        "listed as",
        "inscribed",
        "inscription",
        "collector's mark",
        "later",
        "subsequently",
        "formerly",
        "so called",
        "bid",
        "cat",
        "near",
    ];
    DETAILS
        .iter()
        .any(|d| phrase(chunk, d) == Some(chunk.len()))
        || chunk.starts_with(char::is_lowercase) && OPEN.iter().any(|d| phrase(chunk, d).is_some())
}
