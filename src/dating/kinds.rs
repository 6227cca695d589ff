//! What a year on a mark is the year of, and from which side that dates the mark.
//!
//! A mark is of the year that it is dated with; it isn't older than the event, founding, medal, death or
//! copyright that it tells, and says no more of them. What a year is comes from what the mark states where
//! that is known ([`Told`]), else from the words beside it.

use super::clues::wording::Token;
use super::dress::{Dress, Words, Written, find};
use serde::Serialize;

/// What a year is the year of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum YearKind {
    /// Of the mark itself: printed, written, dated; the year of the show whose label it is.
    Mark,
    /// Of an event that it tells: exhibited, sold, given.
    Event,
    /// Of the founding of a firm.
    Founding,
    /// Of a medal or prize won.
    Medal,
    /// Of a birth or a death.
    Life,
    /// Of a copyright.
    Copyright,
    /// Of another work, or in a title.
    Work,
    /// Of an Act that it cites.
    Act,
    /// A number that is no year.
    Number,
}

impl YearKind {
    /// Whether the mark is of that year; else it is only not older.
    pub fn both_sides(self) -> bool {
        self == YearKind::Mark
    }
}

/// What is known of a stretch of a text from what the mark states.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// First byte of the stretch in the text.
    pub start: usize,
    /// Byte after its last.
    pub end: usize,
    /// What a year in it is the year of.
    pub kind: YearKind,
}

/// A date with what it is the date of.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Dated {
    pub written: Written,
    pub kind: YearKind,
}

const FOUNDED: &[&str] = &[
    "established",
    "establishd",
    "estabd",
    "estd",
    "estab",
    "est",
    "founded",
    "since",
    "fondee",
    "fonde",
    "fondata",
    "fondato",
    "gegrundet",
    "gegr",
    "begrundet",
    "opgericht",
    "seit",
    "depuis",
    "dal",
    "sinds",
    "etablie",
    "etabli",
    "etab",
    "foundation",
    "grundung",
    "commenced",
    "originally",
];
const MEDALS: &[&str] = &[
    "medal",
    "medals",
    "medaille",
    "medailles",
    "medaillen",
    "medaglia",
    "medaglie",
    "medallist",
    "medallists",
    "prize",
    "prizes",
    "awarded",
    "award",
    "awards",
    "diploma",
    "diplome",
    "diplom",
    "preismedaille",
    "ehrendiplom",
    "concours",
];
const BORN: &[&str] = &[
    "b", "born", "ne", "nee", "geb", "geboren", "nato", "nata", "bn",
];
const DIED: &[&str] = &[
    "d",
    "died",
    "ob",
    "obt",
    "obiit",
    "gest",
    "gestorben",
    "mort",
    "morte",
    "decede",
    "morto",
    "morta",
    "overleden",
    "aetatis",
    "aet",
    "aetat",
    "deceased",
    "buried",
];
/// The mark tells what befell the picture then.
const EVENTS: &[&str] = &[
    "exhibited",
    "exhibd",
    "exhd",
    "exh",
    "shown",
    "displayed",
    "bought",
    "purchased",
    "acquired",
    "bequeathed",
    "bequest",
    "presented",
    "given",
    "gift",
    "inherited",
    "sold",
    "auctioned",
    "removed",
    "expose",
    "exposee",
    "ausgestellt",
    "erworben",
    "gekauft",
    "geschenk",
    "esposto",
    "acquistato",
    "dono",
    "vendu",
    "vendue",
    "achete",
    "achetee",
    "offert",
    "legs",
    "tentoongesteld",
    "gekocht",
    "verkauft",
    "commissioned",
    "won",
    "restituted",
    "seized",
    "rescued",
    "found",
    "wounded",
    "killed",
    "married",
    "elected",
];
/// Of another work, when "of 1749" or the like stands behind.
const COPIES: &[&str] = &[
    "copy",
    "copied",
    "copie",
    "kopie",
    "copia",
    "replica",
    "after",
    "apres",
    "dapres",
    "nach",
    "naar",
    "original",
    "version",
    "reduction",
    "repetition",
];
const OF: &[&str] = &[
    "of", "de", "von", "vom", "di", "del", "van", "from", "dated",
];
const COUNTED: &[&str] = &[
    "no",
    "nos",
    "nr",
    "num",
    "lot",
    "number",
    "cat",
    "stock",
    "ref",
    "order",
    "tel",
    "telephone",
    "phone",
    "fernsprecher",
    "telefon",
    "room",
    "inv",
    "neg",
    "reg",
    "pp",
    "page",
    "postfach",
    "box",
    "lots",
    "teleph",
];
const ACTS: &[&str] = &["cap", "c", "ch", "chap", "sect", "s", "act"];

/// The dates of a text with what each is the date of.
///
/// * `told`: what is known of stretches of the text.
pub(super) fn dated(text: &str, all: &[Token], month_first: bool, told: &[Told]) -> Vec<Dated> {
    let w = Words { text, all };
    let mut out: Vec<Dated> = find(&w, month_first)
        .into_iter()
        .map(|written| {
            let (start, end) = (all[written.first].start, all[written.end - 1].end);
            let known = told.iter().find(|t| t.start < end && start < t.end);
            // Where words tell of a founding or a medal, a statement of no such kind doesn't deny it
            let by_words = kind(&w, &written);
            let kind = match known {
                Some(t) if by_words == YearKind::Mark || t.kind != YearKind::Mark => t.kind,
                _ => by_words,
            };
            Dated { written, kind }
        })
        .filter(|d| d.kind != YearKind::Number)
        .collect();
    looked_back(&mut out);
    out
}

/// Of several dates the mark is of the last; an earlier one is then looked back to.
fn looked_back(all: &mut [Dated]) {
    let last = all
        .iter()
        .filter(|d| d.written.spans.len() == 1)
        .map(|d| d.written.spans[0].0.clone())
        .max();
    let Some(last) = last else { return };
    for d in all.iter_mut().filter(|d| d.kind == YearKind::Mark) {
        let to = d.written.spans.iter().map(|s| &s.1).max();
        // A year holds its days: "1893" isn't before "1893-05-01"
        let earlier =
            to.is_some_and(|t| !t.is_empty() && *t < last && !last.starts_with(t.as_str()));
        if earlier {
            d.kind = YearKind::Event;
        }
    }
}

/// The words of a line before a token, the nearest first.
fn before<'a>(w: &Words<'a>, i: usize, most: usize) -> impl Iterator<Item = &'a str> {
    let line = w.all[i].line;
    w.all[..i]
        .iter()
        .rev()
        .take(most)
        .take_while(move |t| t.line == line)
        .map(|t| t.folded.as_str())
}

fn any<'a>(mut words: impl Iterator<Item = &'a str>, of: &[&str]) -> bool {
    words.any(|x| of.contains(&x))
}

/// Whether a line tells of what is named at a place as of something past: a picture was shown there, a
/// medal was won.
pub(super) fn told_of(text: &str, all: &[Token], i: usize) -> bool {
    let w = Words { text, all };
    let line = all[i].line;
    let medal = |t: &Token| t.line == line && MEDALS.contains(&t.folded.as_str());
    any(before(&w, i, 10), EVENTS)
        || all[i.saturating_sub(6)..all.len().min(i + 9)]
            .iter()
            .any(medal)
}

fn kind(w: &Words, d: &Written) -> YearKind {
    let (i, end) = (d.first, d.end);
    let line = w.all[i].line;
    // A century is that of a picture or a school
    if d.dress == Dress::Century {
        return YearKind::Work;
    }
    if d.dress == Dress::Year && is_number(w, i) {
        return YearKind::Number;
    }
    if d.dress == Dress::Regnal
        && (w.is(end, ACTS) || any(before(w, i, 6), &["act", "acts", "pursuant", "under"]))
    {
        return YearKind::Act;
    }
    // A founding may stand on the line before
    let near: Vec<&str> = w.all[i.saturating_sub(3)..i]
        .iter()
        .map(|t| t.folded.as_str())
        .collect();
    let behind = w
        .all
        .get(end)
        .filter(|t| t.line == line)
        .map_or("", |t| t.folded.as_str());
    if any(near.iter().copied(), FOUNDED) || ["gegrundet", "opgericht"].contains(&behind) {
        return YearKind::Founding;
    }
    if w.between(i).contains('©') || any(before(w, i, 3), &["copyright", "copr", "copt"]) {
        return YearKind::Copyright;
    }
    let crossed = w.between(i).contains(['†', '*']);
    let bracketed = w.between(i).trim_end().ends_with(['(', '[']) && d.dress == Dress::Range;
    let one = |k: usize, of: &[&str]| i >= k && w.is(i - k, of) && w.all[i - k].line == line;
    if crossed
        || bracketed
        || one(1, BORN)
        || one(1, DIED)
        || one(2, &["born", "died", "ne", "nee", "geboren", "gestorben"])
    {
        return YearKind::Life;
    }
    let medal = |t: &Token| MEDALS.contains(&t.folded.as_str());
    let years_only = d.dress == Dress::Year || d.dress == Dress::Range;
    if years_only
        && w.all[i.saturating_sub(9)..w.all.len().min(end + 4)]
            .iter()
            .any(medal)
    {
        return YearKind::Medal;
    }
    if one(1, OF) && any(before(w, i, 9), COPIES) || quoted(w, i) {
        return YearKind::Work;
    }
    if d.dress != Dress::Regnal && any(before(w, i, 10), EVENTS) {
        return YearKind::Event;
    }
    YearKind::Mark
}

/// Whether a place lies within quotation marks, as titles do.
fn quoted(w: &Words, i: usize) -> bool {
    let line = w.all[i].line;
    let first = w.all.iter().find(|t| t.line == line).map_or(0, |t| t.start);
    // The sign may stand before the first word of the line
    let ahead = w.text[..first].rfind(['\n', '/']).map_or(0, |k| k + 1);
    let head = &w.text[ahead..w.all[i].start];
    let straight = head.matches('"').count() % 2 == 1;
    straight || head.matches('“').count() > head.matches('”').count()
}

/// Figures that count or address something.
fn is_number(w: &Words, i: usize) -> bool {
    let t = &w.all[i];
    let head = w.text[..t.start].trim_end();
    let priced = head.ends_with(['£', '$', '№', '#', '€']) || w.behind(i).starts_with("/-");
    let counted = i > 0 && w.is(i - 1, COUNTED) && w.all[i - 1].line == t.line;
    let next = w.all.get(i + 1);
    let tight =
        w.text[t.end..].starts_with([',', '.', '-']) && next.is_some_and(|n| n.start == t.end + 1);
    let goes_on =
        tight && next.is_some_and(|n| n.number().is_some() && ![2, 4].contains(&n.folded.len()));
    let thoroughfare = next.is_some_and(|n| {
        n.line == t.line && n.begins && super::clues::is_thoroughfare(w.at(i + 2))
    });
    // Part of a telephone number or an order number
    let grouped = |k: usize| {
        let sign = w.between(k).trim();
        w.number(k).is_some() && (sign.is_empty() || sign == "-") && !w.between(k).contains('\n')
    };
    let run = i > 0
        && w.all[i - 1].line == t.line
        && w.number(i - 1).is_some()
        && w.all[i - 1].folded.len() >= 3
        && {
            let sign = w.between(i);
            sign == " " || sign == "-"
        };
    let measured = next.is_some_and(|n| {
        ["x", "cm", "mm", "inches", "ins", "mark", "fr", "kr", "nf"].contains(&n.folded.as_str())
    });
    priced
        || counted
        || goes_on
        || thoroughfare
        || run
        || measured
        || grouped(i + 1) && w.at(i + 1).len() == 3
}
