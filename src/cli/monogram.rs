//! `dorso monogram`: who may be meant by initials, typed or seen in a photograph.

use super::contract::short;
use super::{Finished, Outcome, put, put_json, tell};
use crate::decisions::two;
use crate::error::{Error, Kind, Result};
use crate::gazetteer::{self, Entry, List};
use crate::geometry::Rect;
use crate::monogram::network::{self, Lies, Seen, Set};
use crate::monogram::{Artists, Described, Known, Letters, Who};
use crate::photograph;
use serde::Serialize;
use std::path::{Path, PathBuf};

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
        required_unless_present = "picture",
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
    /// A photograph of it, the front too, in place of letters
    #[arg(long, value_name = "PHOTO", conflicts_with = "letters")]
    picture: Option<PathBuf>,
    /// Where it is in the photograph, px: left edge, top edge, width, height [default: the whole]
    #[arg(long, value_name = "X,Y,W,H", requires = "picture", value_parser = outline)]
    outline: Option<Rect>,
    /// It may lie at any turn in the photograph; else it is taken to be upright, within some 20 degrees
    #[arg(long, requires = "picture")]
    any_turn: bool,
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

/// Sets that a person is told of a photograph, at most, and the least chance of one beside the first.
const SETS: usize = 5;
const LEAST: f64 = 0.005;

/// What the letters are known by.
enum Sign {
    Typed(Described),
    Seen(Seen),
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let sign = match &arguments.picture {
        Some(file) => Sign::Seen(seen(file, &arguments)?),
        None => Sign::Typed(Described::parse(&arguments.letters.join(" "))?),
    };
    let known = known(&arguments, &sign)?;
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
    let letters = sign.letters_meant()?;
    let who = Artists::new(list).who(&letters, &known, arguments.most);
    let who = who.given(1.0 - sign.other());
    if arguments.json {
        put_json(&Told::new(&sign, list, &who, &known))?;
    } else {
        put(&words(&sign, list, &who, &known))?;
    }
    Ok(Finished::Well)
}

fn seen(file: &Path, arguments: &Arguments) -> Result<Seen> {
    let photo = photograph::open(file)?;
    let framed = network::framed(&photo.picture, arguments.outline)?;
    let lies = match arguments.any_turn {
        true => Lies::AnyTurn,
        false => Lies::Upright,
    };
    network::see(&framed, lies)
}

fn outline(text: &str) -> std::result::Result<Rect, String> {
    let numbers: Option<Vec<u32>> = text.split(',').map(|n| n.trim().parse().ok()).collect();
    match numbers.as_deref() {
        Some(&[x, y, w, h]) if x.max(y) < i32::MAX as u32 => {
            Ok(Rect::new(x as i32, y as i32, w, h))
        }
        _ => Err("four whole numbers are wanted, such as 120,40,300,260".into()),
    }
}

impl Sign {
    fn letters_meant(&self) -> Result<Letters> {
        match self {
            Sign::Typed(described) => Ok(described.letters_meant()),
            Sign::Seen(seen) => seen.letters_meant(),
        }
    }

    /// Chance that it is none of the letters by which artists are weighed.
    fn other(&self) -> f64 {
        match self {
            Sign::Typed(_) => 0.0,
            Sign::Seen(seen) => 1.0 - seen.told(),
        }
    }

    /// Sets that a person is told, the likeliest first.
    fn sets(&self) -> &[Set] {
        match self {
            Sign::Typed(_) => &[],
            Sign::Seen(seen) => {
                let likely = seen.sets.iter().skip(1).take_while(|s| s.chance >= LEAST);
                &seen.sets[..(1 + likely.count()).min(SETS).min(seen.sets.len())]
            }
        }
    }

    /// The letters, likeliest each.
    fn told(&self) -> String {
        match self {
            Sign::Typed(described) => described.told(),
            Sign::Seen(seen) => seen
                .sets
                .first()
                .map_or(String::new(), |s| s.letters.clone()),
        }
    }

    /// What stands with them.
    fn devices(&self) -> Vec<&'static str> {
        match self {
            Sign::Typed(described) => described.devices.iter().map(|d| d.told()).collect(),
            Sign::Seen(_) => Vec::new(),
        }
    }

    /// What was seen in the photograph, for a person.
    fn on_picture(&self) -> String {
        let Sign::Seen(seen) = self else {
            return String::new();
        };
        let sets = self.sets().iter();
        let each: Vec<String> = sets
            .map(|s| format!("{} {}", s.letters, two(s.chance)))
            .collect();
        let turn = match seen.turn {
            0 => String::new(),
            t => format!(" It lies {t} degrees clockwise."),
        };
        let none = two(seen.none);
        format!(
            "Letters in the photograph, whatever their order: {}; other than one to three letters {none}.{turn}\n",
            each.join(", ")
        )
    }
}

/// What is known beside the letters; years that are given count more than a date beside them.
fn known(arguments: &Arguments, sign: &Sign) -> Result<Known> {
    let given = arguments.years.as_deref().map(years).transpose()?;
    let beside = match sign {
        Sign::Typed(described) => described.years,
        Sign::Seen(_) => None,
    };
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
    #[serde(skip_serializing_if = "Option::is_none")]
    seen: Option<SeenOut<'a>>,
    devices: Vec<&'static str>,
    years: Option<(i32, i32)>,
    fit: usize,
    fit_then: usize,
    proposals: Vec<ProposalOut<'a>>,
    unlisted: f64,
    most_telling: Vec<FactOut>,
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
    fn new(sign: &'a Sign, list: &'a List, who: &'a Who, known: &Known) -> Self {
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
fn words(sign: &Sign, list: &List, who: &Who, known: &Known) -> String {
    let n = list.entries.len();
    let mut out = sign.on_picture();
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
