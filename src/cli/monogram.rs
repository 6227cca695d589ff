//! `dorso monogram`: who may be meant by initials.

use super::contract::short;
use super::{Finished, Outcome, put, put_json, tell};
use crate::decisions::two;
use crate::error::{Error, Kind, Result};
use crate::gazetteer::{self, Entry, List};
use crate::monogram::{Artists, Described, Known, Who};
use serde::Serialize;
use std::path::PathBuf;

/// Name and version of the JSON.
const FORMAT: &str = "dorso.monogram/1";
/// The list that artists stand on.
const LIST: &str = "artists";

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Its letters, from left to right, and what stands with them: see below
    #[arg(
        value_name = "LETTERS",
        required = true,
        long_help = "Its letters, from left to right, and what stands with them:\n  \
            JMW       these letters, side by side\n  \
            J+W       drawn into one another, so that the order tells little\n  \
            JW?       a doubtful letter; J* one that can't be told; J(PR) one of two\n  \
            J~N       reversed\n  \
            1887 '87  a date beside it\n  \
            interlaced, ring, shield, device, fecit, pinx, del, inv\n\
            I and J, V and U, VV and W are kept open without being told.\n\
            Your shell may want quotation marks around ( ) * ? ~ and '"
    )]
    letters: Vec<String>,
    /// When it may have been made: 1868, 1860-1875, 187X, about 1870
    #[arg(long, value_name = "YEARS")]
    years: Option<String>,
    /// A town or country that the artist was born, died or worked in
    #[arg(long)]
    place: Option<String>,
    /// Nationality or school: French
    #[arg(long)]
    nationality: Option<String>,
    /// How many artists to tell
    #[arg(long, value_name = "N", default_value_t = 10)]
    most: usize,
    /// Folder with the lists [default: DORSO_GAZETTEER, gazetteer, or the starter lists]
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let described = Described::parse(&arguments.letters.join(" "))?;
    let known = known(&arguments, described.years)?;
    let place = gazetteer::locate(arguments.gazetteer.as_deref())?;
    let (lists, faults) = super::read::load(&place)?;
    for f in &faults {
        if f.severity == gazetteer::Severity::Unusable {
            tell(&Error::from(f));
        }
    }
    let list = lists.lists.iter().find(|l| l.name == LIST).ok_or_else(|| {
        Error::new(
            Kind::Gazetteer,
            &place,
            "there is no list of artists",
            "put artists.csv into it, or name another folder with --gazetteer DIR",
        )
    })?;
    let who = Artists::new(list).who(&described.letters_meant(), &known, arguments.most);
    if arguments.json {
        put_json(&Told::new(&described, list, &who, &known))?;
    } else {
        put(&words(&described, list, &who, &known))?;
    }
    Ok(Finished::Well)
}

/// What is known beside the letters; years that are given count more than a date beside them.
fn known(arguments: &Arguments, beside: Option<(i32, i32)>) -> Result<Known> {
    let given = arguments.years.as_deref().map(years).transpose()?;
    Ok(Known {
        years: given.or(beside),
        place: arguments.place.clone(),
        nationality: arguments.nationality.clone(),
    })
}

fn years(text: &str) -> Result<(i32, i32)> {
    crate::dating::typed_years(text).ok_or_else(|| {
        Error::new(
            Kind::Usage,
            format!("--years {text}"),
            "this is no year and no span of years",
            "write 1868, 1868-1875, 187X or \"about 1870\"",
        )
    })
}

#[derive(Serialize)]
struct Told<'a> {
    format: &'static str,
    letters: String,
    devices: Vec<&'static str>,
    years: Option<(i32, i32)>,
    fit: usize,
    fit_then: usize,
    proposals: Vec<ProposalOut<'a>>,
    unlisted: f64,
    most_telling: Vec<FactOut>,
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
    fn new(described: &Described, list: &'a List, who: &'a Who, known: &Known) -> Self {
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
            letters: described.told(),
            devices: described.devices.iter().map(|d| d.told()).collect(),
            years: known.years,
            fit: who.fit,
            fit_then: who.then,
            proposals: proposals.collect(),
            unlisted: short(who.nobody),
            most_telling: facts.collect(),
        }
    }
}

/// For a person: how many fit, the likeliest, what would tell most.
fn words(described: &Described, list: &List, who: &Who, known: &Known) -> String {
    let n = list.entries.len();
    let mut out = described.told();
    for d in &described.devices {
        out += &format!(", {}", d.told());
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
    let others = 1.0 - told - who.nobody;
    if who.fit > who.possible.len() {
        let left = who.fit - who.possible.len();
        out += &format!("  {:>5}  one of {left} others on the list\n", two(others));
    }
    out += &format!("  {:>5}  nobody on the list\n", two(who.nobody));
    if let Some(f) = who.telling.first() {
        out += &format!(
            "What would tell most: {}. It would leave about {} as open as {} are now.\n",
            f.fact.told(),
            f.then.round().max(1.0),
            f.now.round().max(1.0)
        );
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
