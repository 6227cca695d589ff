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

/// Phrases of each way, parted by strokes.
const WAYS: [(Way, &str); 15] = [
    (
        Descent,
        "by descent to|be descent to|by descent through|by descent in|by descent from|by descent|then by descent to|then by descent|thence by descent to|thence by descent|and by descent to|by gift or descent to|by gift or descent|by family descent to|by family descent|descended to|descended in|by inheritance to|by inheritance from|by inheritance|inherited by|inherited from|life interest to",
    ),
    (
        Bequest,
        "by bequest to|by bequest of|by bequest from|by bequest|bequest to|bequest of|bequest from|bequeathed to|bequeathed by",
    ),
    (
        Gift,
        "by gift to|by gift of|by gift from|by gift|by partial gift to|given to him as a gift from|given to her as a gift from|a gift to him from|a gift to him by|a gift to her from|a gift to her by|a gift from|as a gift from|gift to|gift of|gift from|gift by|gifts to|gifts of|gift|given to|given by|donated to|donated by|presented to|presented by",
    ),
    (
        Purchase,
        "purchased by|purchased from|purchased at auction from|purchased at auction at|purchased at auction by|purchased at the|purchased at|purchased for|purchased through|purchased via|purchased in|purchased|purchase from|purchase by|purchase:|purchase|museum purchase: gift of|museum purchase: gift from|museum purchase:|museum purchase from|museum purchase through|museum purchase with|museum purchase|bought by|bought from|bought at|bought at auction by|bought at auction at|bought at auction from|bought at auction|purchased at auction|bt.",
    ),
    (
        Acquired,
        "acquired by|acquired from|acquired at|acquired through|acquired via|acquired in|acquired|received from|recieved from|received by",
    ),
    (
        Sale,
        "sold to|sold by|sold at auction at|sold at auction by|sold at auction,|sold at auction|sold at the|sold at|sold through|sold|sale to|sale at|sale of|sale:|sale,|sale|estate sale,|estate sale|anon. sale|anonymous sale,|anonymous sale|auction,|offered at|offered|sold directly to",
    ),
    (
        Consigned,
        "consigned to|consigned by|on consignment to|on consignment with|offered by",
    ),
    (
        With,
        "with|held by|in the possession of|in possession of|in the collection of|the collection of|collection of|collection:|collections:|source:|provenance:|collector's seal of|collector's mark of|stamp of|ex coll.:|ex coll.|ex coll|ex collection:|ex-collection|ex collection of|ex collections of|ex collection",
    ),
    (
        Loan,
        "on deposit with|on deposit at|placed on deposit with|placed on deposit at|on loan from|on indefinite loan to|as indefinite loan to|on loan to|on long-term loan to|on long term loan to|long-term loan to|long term loan to|extended loan to|lent to|loaned to",
    ),
    (
        Transfer,
        "transferred to|transferred from|transfer from|transfer to|by transfer from|by transfer to|by transfer|by conversion, to|by conversion to|returned to|returned by|museum appropriation|by appropriation|refused by|deaccessioned by|deaccessioned",
    ),
    (
        Exchange,
        "exchanged with|by exchange with|by exchange to|by exchange from|by exchange|acquired by exchange from|acquired by exchange by",
    ),
    (Restituted, "restituted to"),
    (Confiscated, "confiscated by|seized by|looted by"),
    (Commissioned, "commissioned by|commissioned from"),
    (Found, "found in|originated from|found at"),
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
    let rest = c.rest();
    let phrases = WAYS
        .iter()
        .flat_map(|(w, all)| all.split('|').map(move |p| (*w, p)));
    let (way, n) = phrases
        .filter_map(|(w, p)| {
            let n = phrase(rest, p).or_else(|| words::slipped_phrase(rest, p))?;
            Some((w, n))
        })
        .max_by_key(|(_, n)| *n)?;
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
        && phrase(after, "collection").is_none()
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

/// What says only how near the artist is: "attributed to (circle of)".
pub(super) fn attributed(text: &str) -> Option<usize> {
    const NEAR: [(&str, ()); 8] = [
        ("attributed to", ()),
        ("circle of", ()),
        ("follower of", ()),
        ("workshop of", ()),
        ("school of", ()),
        ("after", ()),
        ("manner of", ()),
        ("imitator of", ()),
    ];
    let mut c = Cursor::new(text);
    let mut end = 0;
    for _ in 0..2 {
        let open = c.eat("(");
        let Some((_, n)) = longest(c.rest(), &NEAR) else {
            break;
        };
        c.at += n;
        if open && !c.eat(")") {
            break;
        }
        end = c.at;
        c.spaces();
    }
    (end > 0 && words::starts_upper(c.rest()) && !dated_next(text)).then_some(end)
}

/// What brings in a further person or firm: "from", "through".
pub(super) fn role(text: &str) -> Option<(Role, usize)> {
    let (role, n) = longest(text, &ROLES)?;
    let next = text[n..].trim_start();
    let next = words::phrase(next, "the").map_or(next, |n| next[n..].trim_start());
    // "via 1967 International Exhibition"
    let year = next.len() > 5
        && next.as_bytes()[..4].iter().all(u8::is_ascii_digit)
        && words::starts_upper(&next[4..])
        && role == Role::Through;
    let ordinal = next.starts_with(|c: char| c.is_ascii_digit())
        && super::words::first_word(next).ends_with(['t', 'd', 'h']);
    let named = ordinal
        || year
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
    // "for "An American Designer,"": a title
    let shown = text[n..].trim_start().trim_start_matches('"');
    let from = text.len() - shown.len();
    if from > n + 1
        && let Some(end) = shown.find('"')
    {
        let signs = shown[end..].bytes().take_while(|b| *b == b'"').count();
        return Some(from + end + signs);
    }
    // The point behind an initial ends nothing
    let ends = |(i, c): (usize, char)| {
        let before = text[..i].rsplit(char::is_whitespace).next().unwrap_or("");
        let initial = c == '.' && before.chars().count() == 1;
        (",;([.\n".contains(c) && !initial).then_some(i)
    };
    let end = text.char_indices().find_map(ends).unwrap_or(text.len());
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

const DETAILS: [&str; 34] = [
    "by commission",
    "directly",
    "by auction",
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
    // "3rd day" of a sale
    let day = chunk.starts_with(|c: char| c.is_ascii_digit()) && chunk.ends_with(" day");
    day || DETAILS
        .iter()
        .any(|d| phrase(chunk, d) == Some(chunk.len()))
        || chunk.starts_with(char::is_lowercase) && OPEN.iter().any(|d| phrase(chunk, d).is_some())
}

/// Whether the words of a way end in a sale.
pub(super) fn ends_in_sale(way: &str) -> bool {
    way.trim_end_matches([',', ':'])
        .to_lowercase()
        .ends_with("sale")
}

/// A further person brought in right at the beginning: "From the artist".
pub(super) fn begins(text: &str) -> Option<(Role, usize)> {
    let all = [("from", Role::From), ("through", Role::Through)];
    longest(text, &all).or_else(|| {
        // "to his sister Elizabeth Vane"
        let n = phrase(text, "to").filter(|_| text.starts_with('t'))?;
        words::kinship(text[n..].trim_start()).map(|_| (Role::To, n))
    })
}
