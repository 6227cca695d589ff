//! What `dorso monogram` prints: as JSON, and for a person.

use super::Sign;
use super::collection::Likest;
use crate::cli::contract::short;
use crate::decisions::two;
use crate::gazetteer::{Entry, List};
use crate::monogram::{Known, Seen, Who};
use serde::Serialize;

/// Name and version of the JSON.
const FORMAT: &str = "dorso.monogram/1";

#[derive(Serialize)]
pub(super) struct Told<'a> {
    format: &'static str,
    letters: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    seen: Option<SeenOut<'a>>,
    devices: Vec<&'static str>,
    years: Option<(i32, i32)>,
    fit: usize,
    fit_then: usize,
    proposals: Vec<ProposalOut<'a>>,
    unlisted: f64,
    most_telling: Vec<FactOut>,
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    alike: &'a [Likest],
}

/// What was seen in a photograph: sets of letters, whatever their order.
#[derive(Serialize)]
struct SeenOut<'a> {
    sets: Vec<SetOut<'a>>,
    /// Chance of none of the letters by which artists are weighed.
    other: f64,
    turn_degrees: u32,
}

#[derive(Serialize)]
struct SetOut<'a> {
    letters: &'a str,
    probability: f64,
}

#[derive(Serialize)]
struct ProposalOut<'a> {
    list: &'a str,
    entry: &'a str,
    name: &'a str,
    probability: f64,
    letters: &'a str,
    not_before: &'a str,
    not_after: &'a str,
    source: &'a str,
}

#[derive(Serialize)]
struct FactOut {
    fact: &'static str,
    bits: f64,
    open_now: f64,
    open_then: f64,
}

impl<'a> Told<'a> {
    pub(super) fn new(
        sign: &'a Sign,
        list: &'a List,
        who: &'a Who,
        known: &Known,
        alike: &'a [Likest],
    ) -> Self {
        let proposals = who.possible.iter().map(|p| {
            let e = &list.entries[p.row];
            ProposalOut {
                list: &list.name,
                entry: &e.entry,
                name: &e.name,
                probability: short(p.chance),
                letters: &p.letters,
                not_before: &e.from,
                not_after: &e.to,
                source: &e.source,
            }
        });
        let facts = who.telling.iter().map(|f| FactOut {
            fact: f.fact.as_str(),
            bits: short(f.bits),
            open_now: short(f.now),
            open_then: short(f.then),
        });
        Told {
            format: FORMAT,
            letters: sign.told(),
            seen: SeenOut::of(sign),
            devices: sign.devices(),
            years: known.years,
            fit: who.fit,
            fit_then: who.then,
            proposals: proposals.collect(),
            unlisted: short(who.nobody),
            most_telling: facts.collect(),
            alike,
        }
    }
}

impl<'a> SeenOut<'a> {
    fn of(sign: &'a Sign) -> Option<SeenOut<'a>> {
        let Sign::Seen(seen) = sign else {
            return None;
        };
        let sets = sign.sets().iter().map(|s| SetOut {
            letters: &s.letters,
            probability: short(s.chance),
        });
        Some(SeenOut {
            sets: sets.collect(),
            other: short(sign.other()),
            turn_degrees: seen.turn,
        })
    }
}

/// For a person: how many fit, the likeliest, what would tell most.
pub(super) fn words(
    sign: &Sign,
    list: &List,
    who: &Who,
    known: &Known,
    alike: &[Likest],
) -> String {
    let n = list.entries.len();
    let mut out = on_picture(sign);
    out += &match sign {
        Sign::Typed(described) => described.told(),
        Sign::Seen(_) => "Such letters".into(),
    };
    for d in sign.devices() {
        out += &format!(", {d}");
    }
    out += &match (who.fit, who.then < who.fit && known != &Known::default()) {
        (0, _) => format!(": nobody of the {n} on the list has such initials.\n"),
        (fit, false) => format!(": {fit} of the {n} on the list may sign so.\n"),
        (fit, true) => format!(
            ": {fit} of the {n} on the list may sign so, {} of them then and there.\n",
            who.then
        ),
    };
    for p in &who.possible {
        let e = &list.entries[p.row];
        let memory = if e.from_memory() { "; from memory" } else { "" };
        out += &format!(
            "  {:>5}  {}{} ({}{memory})\n         {}\n",
            two(p.chance),
            e.name,
            life(e),
            p.letters,
            e.entry
        );
    }
    let told: f64 = who.possible.iter().map(|p| p.chance).sum();
    let others = (1.0 - sign.other() - told - who.nobody).max(0.0);
    if who.fit > who.possible.len() {
        let left = who.fit - who.possible.len();
        out += &format!("  {:>5}  one of {left} others on the list\n", two(others));
    }
    out += &format!("  {:>5}  nobody on the list\n", two(who.nobody));
    if let Sign::Seen(_) = sign {
        out += &format!("  {:>5}  other letters, or none\n", two(sign.other()));
    }
    if let Some(f) = who.telling.first() {
        out += &format!(
            "What would tell most: {}. It would leave about {} as open as {} are now.\n",
            f.fact.told(),
            f.then.round().max(1.0),
            f.now.round().max(1.0)
        );
    }
    for a in alike {
        out += &a.words();
    }
    out + "Letters alone identify nobody: compare the sign with dated, documented ones.\n"
}

fn life(e: &Entry) -> String {
    match (e.from.as_str(), e.to.as_str()) {
        ("", "") => String::new(),
        (f, "") => format!(", born {f}"),
        ("", t) => format!(", died {t}"),
        (f, t) => format!(", {f} to {t}"),
    }
}

/// What was seen in the photograph, for a person.
fn on_picture(sign: &Sign) -> String {
    let Sign::Seen(seen) = sign else {
        return String::new();
    };
    let turn = match seen.turn {
        0 => String::new(),
        t => format!(" It lies {t} degrees clockwise."),
    };
    let none = two(seen.none);
    format!(
        "Letters in the photograph, whatever their order: {}; other than one to three letters {none}.{turn}\n",
        sets(seen)
    )
}

/// The likely sets of letters with their chances.
pub(crate) fn sets(seen: &Seen) -> String {
    let each = seen.told().iter();
    let each: Vec<String> = each
        .map(|s| format!("{} {}", s.letters, two(s.chance)))
        .collect();
    each.join(", ")
}
