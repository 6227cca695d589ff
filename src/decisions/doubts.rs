//! Why a person should look at a mark, and how much the note would gain by it. Pure functions.

use crate::chance::clamp;
use crate::marks::MarkKind;
use crate::proposals::Rivals;
use crate::readings::{Line, Reading};
use crate::statements::Statement;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A line below this chance of being right as a whole is told as doubtful.
const LINE_DOUBTFUL: f64 = 0.6;
/// A list is settled without a person once "names no entry of it", or its best entry, has this chance.
const SETTLED: f64 = 0.9;
/// Two entries nearer to each other than this can't be told apart by the program.
const NEAR: f64 = 0.2;
/// An entry below this chance isn't worth a person's time as a rival.
const RIVAL: f64 = 0.1;
/// A lone entry below this chance isn't worth a question; the proposal is shown all the same.
const WORTH_ASKING: f64 = 0.25;

/// The sort of a doubt, to filter by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DoubtKind {
    /// Lettering was found, nothing could be read.
    Unread,
    /// A line is doubtful or has losses.
    Unclear,
    /// Entries of one list stand near each other.
    Rivals,
    /// It isn't sure enough whether it names an entry at all.
    Unsure,
    /// The kind of mark couldn't be told.
    Kind,
    /// The last reading of the photograph didn't find this mark again.
    Missing,
    /// Two people read it differently.
    Differs,
    /// A date on it can't be true beside others of the picture.
    Conflict,
    /// It may be the same mark as another, or two marks.
    Same,
    /// A place where nothing could be read and likelier than not nothing stands.
    Place,
}

impl DoubtKind {
    /// Every sort.
    pub const ALL: [DoubtKind; 10] = [
        DoubtKind::Unread,
        DoubtKind::Unclear,
        DoubtKind::Rivals,
        DoubtKind::Unsure,
        DoubtKind::Kind,
        DoubtKind::Missing,
        DoubtKind::Differs,
        DoubtKind::Conflict,
        DoubtKind::Same,
        DoubtKind::Place,
    ];

    /// Name on the command line and in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            DoubtKind::Unread => "unread",
            DoubtKind::Unclear => "unclear",
            DoubtKind::Rivals => "rivals",
            DoubtKind::Unsure => "unsure",
            DoubtKind::Kind => "kind",
            DoubtKind::Missing => "missing",
            DoubtKind::Differs => "differs",
            DoubtKind::Conflict => "conflict",
            DoubtKind::Same => "same",
            DoubtKind::Place => "place",
        }
    }

    /// The sort of that name, if it is one.
    pub fn parse(name: &str) -> Option<DoubtKind> {
        DoubtKind::ALL.into_iter().find(|k| k.as_str() == name)
    }
}

/// One reason why a person should look.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Doubt {
    /// Its sort.
    pub kind: DoubtKind,
    /// In words, without a full stop.
    pub words: String,
    /// The list that is in doubt, where it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub list: Option<String>,
}

impl Doubt {
    /// A doubt that isn't about a list.
    pub fn new(kind: DoubtKind, words: String) -> Doubt {
        Doubt {
            kind,
            words,
            list: None,
        }
    }
}

/// What a person is asked of a mark, one thing at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    /// Which of the entries taken from this list it is.
    Taken(String),
    /// Which entry of this list it names, or none.
    Entry(String),
    /// Whether it reads so.
    Reading,
    /// Whether anything stands at this place and at the others like it of the picture.
    Places,
    /// Which of the readings given is right.
    Differs,
    /// Whether sightings show one mark.
    Same,
    /// Whether what can't be true together stays as it is.
    Conflict,
    /// What kind of mark it is.
    Kind,
    /// Nothing is in doubt.
    Nothing,
}

/// What is asked first: what it names, then what it reads, then the rest.
pub fn asked(doubts: &[Doubt]) -> Asked {
    let with = |kinds: &[DoubtKind]| doubts.iter().find(|d| kinds.contains(&d.kind));
    let taken = |d: &&Doubt| d.kind == DoubtKind::Differs && d.list.is_some();
    if let Some(list) = doubts.iter().find(taken).and_then(|d| d.list.clone()) {
        return Asked::Taken(list);
    }
    if let Some(list) = doubts.iter().find_map(|d| d.list.clone()) {
        return Asked::Entry(list);
    }
    let order = [
        (&[DoubtKind::Place][..], Asked::Places),
        (&[DoubtKind::Unclear, DoubtKind::Unread], Asked::Reading),
        (&[DoubtKind::Differs], Asked::Differs),
        (&[DoubtKind::Same], Asked::Same),
        (&[DoubtKind::Conflict, DoubtKind::Missing], Asked::Conflict),
        (&[DoubtKind::Kind], Asked::Kind),
    ];
    let found = order.into_iter().find(|(kinds, _)| with(kinds).is_some());
    found.map_or(Asked::Nothing, |(_, asked)| asked)
}

/// Why a person should look at a mark, in words; empty where none need.
///
/// * `kind`: as found.
/// * `reading`: as voted; no lines where nothing could be read.
/// * `rivals`: one for each list, any order.
/// * `statements`: what it states. Letters of words that surely name an entry aren't in doubt: the list says
///   what they are.
pub fn doubts(
    kind: MarkKind,
    reading: &Reading,
    rivals: &[Rivals],
    statements: &[Statement],
) -> Vec<String> {
    reasons(kind, reading, rivals, statements)
        .into_iter()
        .map(|d| d.words)
        .collect()
}

/// The same as [`doubts`], each with its sort.
pub fn reasons(
    kind: MarkKind,
    reading: &Reading,
    rivals: &[Rivals],
    statements: &[Statement],
) -> Vec<Doubt> {
    let mut out = Vec::new();
    if reading.lines.iter().all(|l| l.text.trim().is_empty()) {
        let words = "lettering was found but nothing could be read";
        out.push(Doubt::new(DoubtKind::Unread, words.into()));
    } else if let Some(words) = unclear(reading, statements) {
        out.push(Doubt::new(DoubtKind::Unclear, words));
    }
    for list in rivals {
        out.extend(undecided(list).map(|(kind, words)| Doubt {
            kind,
            words,
            list: Some(list.list.clone()),
        }));
    }
    if kind == MarkKind::Unknown {
        let words = "the kind of mark couldn't be told";
        out.push(Doubt::new(DoubtKind::Kind, words.into()));
    }
    out
}

/// What of a line no list tells for sure: the rest of it, where some words surely name an entry; `None` where
/// nothing is left.
fn open<'a>(line: &'a Line, at: usize, statements: &[Statement]) -> Option<Cow<'a, Line>> {
    let sure = statements
        .iter()
        .filter(|s| s.chance.min(s.listed) >= SETTLED);
    let places: Vec<_> = sure.flat_map(|s| &s.places).filter(|p| p.0 == at).collect();
    if places.is_empty() {
        return Some(Cow::Borrowed(line));
    }
    let left = line.characters.iter().enumerate();
    let left = left.filter(|(i, _)| !places.iter().any(|p| p.1.contains(i)));
    let left: Vec<_> = left.map(|(_, c)| c.clone()).collect();
    let any = left.iter().any(|c| c.text != " ");
    any.then(|| Cow::Owned(Line::from_characters(left, line.bounds, line.within)))
}

fn unclear(reading: &Reading, statements: &[Statement]) -> Option<String> {
    let mut doubtful = Vec::new();
    let mut lost = Vec::new();
    let mut least: f64 = 1.0;
    for (i, line) in reading.lines.iter().enumerate() {
        let Some(line) = open(line, i, statements) else {
            continue;
        };
        if line.confidence < LINE_DOUBTFUL {
            doubtful.push(i + 1);
            least = least.min(clamp(line.confidence));
        } else if line.characters.iter().any(|c| c.text.is_empty()) {
            lost.push(i + 1);
        }
    }
    let mut parts = Vec::new();
    if doubtful.len() == 1 {
        parts.push(format!(
            "line {} has a chance of {} of being right",
            doubtful[0],
            two(least)
        ));
    } else if !doubtful.is_empty() {
        parts.push(format!(
            "lines {} are doubtful, the worst with a chance of {} of being right",
            and(&doubtful),
            two(least)
        ));
    }
    if !lost.is_empty() {
        let noun = if lost.len() == 1 { "line" } else { "lines" };
        parts.push(format!("letters are lost in {noun} {}", and(&lost)));
    }
    (!parts.is_empty()).then(|| parts.join("; "))
}

fn undecided(rivals: &Rivals) -> Option<(DoubtKind, String)> {
    let first = rivals.proposals.first()?;
    // A town says too little of a back to take a person's time on its own.
    if rivals.list == "towns" {
        return None;
    }
    if rivals.unlisted >= SETTLED || first.probability >= SETTLED {
        return None;
    }
    let near: Vec<_> = rivals
        .proposals
        .iter()
        .take_while(|p| p.probability >= RIVAL && first.probability - p.probability <= NEAR)
        .collect();
    if near.len() >= 2 {
        let one_name = near.iter().all(|p| p.name == first.name);
        let each: Vec<String> = near
            .iter()
            .map(|p| {
                let name = if one_name { &p.entry } else { &p.name };
                format!("{name} ({})", two(p.probability))
            })
            .collect();
        let last = each.len() - 1;
        let of = if one_name {
            format!("{} stands more than once", first.name)
        } else {
            "several are likely".to_owned()
        };
        let what = format!(
            "{of} on your list \u{201c}{}\u{201d}: {} or {}",
            rivals.list,
            each[..last].join(", "),
            each[last]
        );
        return Some((DoubtKind::Rivals, what));
    }
    (first.probability >= WORTH_ASKING).then(|| {
        (
            DoubtKind::Unsure,
            format!(
                "it may name {} ({}), or nothing on your list \u{201c}{}\u{201d} ({})",
                first.name,
                two(first.probability),
                rivals.list,
                two(rivals.unlisted)
            ),
        )
    })
}

/// How much the note would gain if a person settled the mark now, 0 to 1: the worth of what it
/// may say times how doubtful that is. An order, not a chance.
///
/// * `lettering`: chance that the mark carries lettering at all.
///
/// Worth: the heaviest list that it may name (a firm, an exhibition or an artist weighs 1, a list
/// of the user's own 0.7, a town 0.3) times the chance that it names an entry, or the kind's own
/// weight where no list speaks; a scrap of fewer than four letters or figures counts a quarter.
/// Doubt: 1 − Π(1 − d) over the entropy in bits (at most 1) of each list's rivals and over the mean
/// chance that a line is wrong; 1 if unread. The weights are our own choice, not measured.
pub fn worth(kind: MarkKind, lettering: f64, reading: &Reading, rivals: &[Rivals]) -> f64 {
    let signs = reading
        .lines
        .iter()
        .flat_map(|l| l.text.chars())
        .filter(|c| c.is_alphanumeric())
        .count();
    let own = clamp(lettering)
        * match kind {
            MarkKind::PrintedLabel | MarkKind::WrittenLabel => 0.6,
            MarkKind::Stamp | MarkKind::Inscription => 0.5,
            MarkKind::Stencil | MarkKind::Monogram => 0.4,
            MarkKind::Unknown => 0.2,
        };
    let named = rivals
        .iter()
        .map(|r| list_weight(&r.list) * (1.0 - clamp(r.unlisted)))
        .fold(0.0, f64::max);
    let mut value = f64::max(own * 0.5, named);
    if signs == 0 {
        return own;
    }
    if signs < 4 {
        value *= 0.25;
    }
    let n = reading.lines.len() as f64;
    let wrong = reading
        .lines
        .iter()
        .map(|l| 1.0 - clamp(l.confidence))
        .sum::<f64>()
        / n;
    let sure = rivals
        .iter()
        .map(|r| list_weight(&r.list) * entropy(r).min(1.0))
        .fold(1.0 - wrong, |left, d| left * (1.0 - d));
    clamp(value * (1.0 - sure))
}

fn list_weight(list: &str) -> f64 {
    match list {
        "framers" | "colourmen" | "exhibitions" | "artists" | "retailers" | "sale_rooms" => 1.0,
        "towns" => 0.3,
        _ => 0.7,
    }
}

/// Entropy of a list's rivals with "none of them", bits.
fn entropy(rivals: &Rivals) -> f64 {
    rivals
        .proposals
        .iter()
        .map(|p| p.probability)
        .chain([rivals.unlisted])
        .map(clamp)
        .filter(|p| *p > 0.0)
        .map(|p| -p * p.log2())
        .sum()
}

/// A chance with two places, but never 0 or 1: nothing is certain, also where a chance is so near to
/// 1 that its number can't tell them apart.
pub fn two(p: f64) -> String {
    let p = clamp(p);
    if p > 0.99 {
        ">0.99".into()
    } else if p < 0.01 {
        "<0.01".into()
    } else {
        format!("{p:.2}")
    }
}

/// "1", "1 and 2", "1, 2 and 3".
pub fn and(all: &[impl ToString]) -> String {
    let words: Vec<String> = all.iter().map(ToString::to_string).collect();
    match words.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::proposals::{Agreement, Proposal};
    use crate::readings::Character;
    use crate::statements::Role;
    use proptest::prelude::*;

    fn line(text: &str, confidence: f64) -> Line {
        Line {
            characters: text
                .chars()
                .map(|c| Character {
                    text: c.to_string(),
                    confidence,
                    alternatives: Vec::new(),
                })
                .collect(),
            confidence,
            bounds: Rect::new(0, 0, 10, 10),
            within: Rect::new(0, 0, 10, 10),
            text: text.into(),
            leiden: text.into(),
            writing: None,
        }
    }

    fn reading(lines: &[(&str, f64)]) -> Reading {
        Reading {
            lines: lines.iter().map(|(t, c)| line(t, *c)).collect(),
            ..Reading::default()
        }
    }

    fn rivals(list: &str, chances: &[(&str, f64)]) -> Rivals {
        Rivals {
            list: list.into(),
            unlisted: 1.0 - chances.iter().map(|c| c.1).sum::<f64>(),
            proposals: chances
                .iter()
                .map(|(name, p)| Proposal {
                    town: String::new(),
                    list: list.into(),
                    entry: name.to_lowercase(),
                    name: (*name).into(),
                    probability: *p,
                    lines: vec![0],
                    place: None,
                    not_before: String::new(),
                    not_after: String::new(),
                    source: String::new(),
                    same_as: Vec::new(),
                    agreement: Agreement::default(),
                })
                .collect(),
        }
    }

    #[test]
    fn a_mark_read_and_matched_surely_needs_no_person() {
        let r = reading(&[("CARVER & GILDER", 0.97)]);
        assert!(
            doubts(
                MarkKind::PrintedLabel,
                &r,
                &[rivals("framers", &[("Orme", 0.95)])],
                &[]
            )
            .is_empty()
        );
        assert!(
            doubts(
                MarkKind::PrintedLabel,
                &r,
                &[rivals("framers", &[("Orme", 0.02)])],
                &[]
            )
            .is_empty()
        );
    }

    #[test]
    fn a_letter_of_words_that_surely_name_an_entry_is_not_asked_about() {
        let letter = |c: char| Character::sure(&c.to_string(), if c == 'n' { 0.5 } else { 0.99 });
        let line = |text: &str| {
            let all = text.chars().map(letter).collect();
            Line::from_characters(all, Rect::new(0, 0, 9, 9), Rect::new(0, 0, 9, 9))
        };
        let r = Reading {
            lines: vec![line("Orne & Bell")],
            ..Reading::default()
        };
        let named = |listed: f64, over: std::ops::Range<usize>| Statement {
            role: Role::Maker,
            value: "Orme".into(),
            words: "Orne".into(),
            line: 0,
            chance: 0.97,
            list: Some("framers".into()),
            entry: Some("orme".into()),
            listed,
            places: vec![(0, over)],
        };
        let asked = |s: &[Statement]| doubts(MarkKind::Stamp, &r, &[], s).len();
        assert_eq!(asked(&[]), 1);
        assert_eq!(asked(&[named(0.97, 0..4)]), 0);
        assert_eq!(asked(&[named(0.97, 0..11)]), 0, "all of the line");
        assert_eq!(asked(&[named(0.7, 0..4)]), 1, "the entry is in doubt");
        assert_eq!(asked(&[named(0.97, 5..11)]), 1, "other words are named");
    }

    #[test]
    fn what_was_not_read_is_never_passed_over() {
        let d = reasons(MarkKind::Stamp, &Reading::default(), &[], &[]);
        assert_eq!(d[0].kind, DoubtKind::Unread);
    }

    #[test]
    fn near_rivals_are_named_with_their_chances() {
        let r = reading(&[("ORME", 0.9)]);
        let d = doubts(
            MarkKind::PrintedLabel,
            &r,
            &[rivals("framers", &[("Orme", 0.44), ("Ormerod", 0.36)])],
            &[],
        );
        assert_eq!(
            d,
            [
                "several are likely on your list \u{201c}framers\u{201d}: Orme (0.44) or Ormerod (0.36)"
            ]
        );
    }

    #[test]
    fn a_firm_in_doubt_is_worth_more_than_a_town_or_a_scrap() {
        let r = reading(&[("ORME & SON", 0.7)]);
        let w = |r: &Reading, list| {
            worth(
                MarkKind::PrintedLabel,
                0.9,
                r,
                &[rivals(list, &[("A", 0.5), ("B", 0.4)])],
            )
        };
        assert!(w(&r, "framers") > w(&r, "towns"));
        assert!(w(&r, "framers") > w(&reading(&[("OR", 0.7)]), "framers"));
    }

    #[test]
    fn unread_lettering_that_is_likely_comes_before_what_is_surely_matched() {
        let unread = worth(MarkKind::Stamp, 0.9, &Reading::default(), &[]);
        let sure = worth(
            MarkKind::PrintedLabel,
            0.99,
            &reading(&[("ORME", 0.98)]),
            &[rivals("framers", &[("Orme", 0.98)])],
        );
        assert!(unread > sure, "{unread} {sure}");
    }

    #[test]
    fn a_town_in_doubt_alone_holds_no_mark_back() {
        let r = reading(&[("WEXHAM", 0.9)]);
        let of = |list| {
            doubts(
                MarkKind::Stamp,
                &r,
                &[rivals(list, &[("Wexham", 0.44), ("Wrexham", 0.36)])],
                &[],
            )
        };
        assert!(of("towns").is_empty());
        assert_eq!(of("framers").len(), 1);
    }

    proptest! {
        #[test]
        fn worth_stays_between_nothing_and_one(c in 0.0f64..=1.0, a in 0.0f64..=1.0, share in 0.0f64..=1.0, l in 0.0f64..=1.0) {
            let r = rivals("framers", &[("A", a), ("B", (1.0 - a) * share)]);
            let w = worth(MarkKind::Unknown, l, &reading(&[("ORME & SON", c)]), &[r]);
            prop_assert!((0.0..=1.0).contains(&w));
        }

        #[test]
        fn a_chance_in_print_never_becomes_certain_by_rounding(p in 0.0f64..1.0) {
            prop_assert_ne!(two(p), "1.00");
            prop_assert_ne!(two(1.0 - p * 1e-15), "1.00");
            prop_assert_ne!(two(p * 1e-15), "0.00");
        }
    }
}
