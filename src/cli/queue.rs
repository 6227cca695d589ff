//! `dorso queue`: what needs a person, the items that matter most first.

use super::keeping::{self, StoreOption};
use super::note::own_clues;
use super::{Finished, Outcome, pretty, put, put_bytes};
use crate::decisions::{
    DoubtKind, InOrder, Item, KeptMark, KeptPhotograph, Lettering, MarkId, Narrow, Picture,
    Sighting, SqliteStore, State, and, item, two,
};
use crate::error::Result;
use crate::marks::MarkKind;
use crate::note;
use crate::proposals::Proposal;
use crate::signs;
use serde::Serialize;
use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Name and version of the JSON.
const FORMAT: &str = "dorso.queue/1";

/// Marks that are told unless the person says how many.
const MOST: usize = 20;
/// Marks that are read at one time.
const AT_ONCE: usize = 100;
/// Text that is gathered before it is written, bytes.
const PIECE: usize = 1 << 16;
/// Proposals told for an item of the list.
const PROPOSALS: usize = 3;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    #[command(flatten)]
    store: StoreOption,
    /// Only marks of this picture (its name or the beginning of it)
    #[arg(long, value_name = "NAME")]
    picture: Option<String>,
    /// Only marks of this kind
    #[arg(long, value_name = "KIND", value_parser = kind)]
    kind: Option<MarkKind>,
    /// Only marks that need a person for this reason
    #[arg(long, value_name = "REASON", value_parser = doubt)]
    because: Option<DoubtKind>,
    /// Also what is settled, clear, put off, asked for or no mark
    #[arg(long)]
    all: bool,
    /// Folder of your lists, for dating clues of your own
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// From now on, weigh what is proposed for a mark beside the dates and towns of the picture's
    /// other marks and your decisions on other pictures (on), or by its lettering alone (off)
    #[arg(long, value_name = "WHETHER")]
    beside: Option<Switch>,
    /// Print at most so many marks; else 20, in JSON all
    #[arg(long, value_name = "N")]
    most: Option<usize>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// A thing that is on or off.
#[derive(clap::ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
enum Switch {
    On,
    Off,
}

fn kind(name: &str) -> std::result::Result<MarkKind, String> {
    let names: Vec<_> = MarkKind::ALL.into_iter().map(MarkKind::as_str).collect();
    MarkKind::parse(&name.replace([' ', '-'], "_"))
        .ok_or_else(|| format!("give one of {}", names.join(", ")))
}

fn doubt(name: &str) -> std::result::Result<DoubtKind, String> {
    let names: Vec<_> = DoubtKind::ALL.into_iter().map(DoubtKind::as_str).collect();
    DoubtKind::parse(name).ok_or_else(|| format!("give one of {}", names.join(", ")))
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let mut store = arguments.store.open()?;
    if let Some(on) = arguments.beside {
        keeping::weigh_beside(&mut store, on == Switch::On)?;
    }
    let clues = own_clues(arguments.gazetteer.as_deref())?;
    keeping::hold_changed(&mut store, &clues, None)?;
    let picture = match &arguments.picture {
        Some(name) => Some(keeping::picture(&store, name)?.id),
        None => None,
    };
    let narrow = Narrow {
        picture,
        kind: arguments.kind,
        because: arguments.because,
        all: arguments.all,
    };
    let order = store.in_order(&today(), &narrow)?;
    match arguments.json {
        true => json(&store, &order.marks, &arguments)?,
        false => put(&words(&store, &order, &arguments)?)?,
    }
    Ok(Finished::Well)
}

/// Reads marks of the queue, some at a time, and hands them on in order.
fn each(
    store: &SqliteStore,
    marks: &[MarkId],
    all: bool,
    mut tell: impl FnMut(&Item, &Places) -> Result<()>,
) -> Result<()> {
    let today = today();
    for some in marks.chunks(AT_ONCE) {
        let marks = store.marks_of(some)?;
        let pictures = store.pictures_of(&marks)?;
        let places = Places::new(&pictures);
        for mark in &marks {
            let mut item = item(mark, &today);
            if item.is_place() {
                let beside = store.places_beside(&today, mark)?;
                item.with = beside.iter().map(|m| m.id).collect();
            }
            if all || item.state.is_due() {
                tell(&item, &places)?;
            }
        }
    }
    Ok(())
}

/// Writes the document piece by piece, so that a large store needs no more memory than a small one.
fn json(store: &SqliteStore, marks: &[MarkId], arguments: &Arguments) -> Result<()> {
    let told = arguments.most.unwrap_or(usize::MAX).min(marks.len());
    let mut text = format!("{{\n  \"format\": \"{FORMAT}\",\n  \"items\": [");
    let mut first = true;
    each(store, &marks[..told], arguments.all, |item, places| {
        let shown = pretty(&places.json(item))?;
        text += if first { "\n    " } else { ",\n    " };
        text += &shown.replace('\n', "\n    ");
        first = false;
        if text.len() >= PIECE {
            put_bytes(signs::json(&text).as_bytes())?;
            text.clear();
        }
        Ok(())
    })?;
    text += if first { "]\n}\n" } else { "\n  ]\n}\n" };
    put_bytes(signs::json(&text).as_bytes())
}

/// Today's date here, ISO.
pub(crate) fn today() -> String {
    jiff::Zoned::now().date().to_string()
}

fn words(store: &SqliteStore, order: &InOrder, arguments: &Arguments) -> Result<String> {
    let narrowed =
        arguments.picture.is_some() || arguments.kind.is_some() || arguments.because.is_some();
    let of_these = if narrowed { " of those asked for" } else { "" };
    let mut out = match order.due {
        0 => format!("No mark{of_these} needs a person.\n"),
        1 => format!("1 mark{of_these} needs a person.\n"),
        n => format!("{n} marks{of_these} need a person, the most worthwhile first.\n"),
    };
    let (most, count) = (arguments.most.unwrap_or(MOST), order.marks.len());
    let mut first = None;
    each(
        store,
        &order.marks[..most.min(count)],
        arguments.all,
        |item, places| {
            out.push('\n');
            out.push_str(&places.paragraph(item, PROPOSALS));
            if first.is_none() && item.state.is_due() {
                first = Some((item.mark.id, item.mark.numbered().is_empty()));
            }
            Ok(())
        },
    )?;
    if count > most {
        let left = count - most;
        let _ = write!(out, "\n{left} more: --most {count} shows all.\n");
    }
    if let Some((id, bare)) = first {
        deeds(&mut out, id, bare, &arguments.store.again());
    }
    Ok(out)
}

/// How a mark is settled.
///
/// * `bare`: nothing is proposed for it.
fn deeds(out: &mut String, id: MarkId, bare: bool, store: &str) {
    let _ = match store {
        "" => writeln!(out, "\nSettle one, for example {id}:"),
        s => writeln!(out, "\nSettle one, for example {id} (add{s} to each):"),
    };
    let deeds = [
        ("take 1", "it names proposal 1"),
        ("none", "it names none of these"),
        (
            "read \"TEXT\"",
            "it reads so (/ parts lines, [..] is a loss)",
        ),
        ("unreadable", "a person can't read it"),
        ("ask WHOM", "somebody else is to be asked"),
        ("later", "after everything else, or on a day"),
        ("not-a-mark", "a shadow, a knot, a tear"),
    ];
    for (deed, means) in &deeds[if bare { 2 } else { 0 }..] {
        let _ = writeln!(out, "  dorso settle {id} {deed:<12}  {means}");
    }
    let _ = writeln!(
        out,
        "Each is kept with its author and can be undone: dorso settle {id} undo"
    );
}

/// Pictures and photographs by number, to say where a mark sits.
pub(crate) struct Places<'a> {
    photographs: HashMap<i64, (&'a Picture, &'a KeptPhotograph)>,
}

impl<'a> Places<'a> {
    pub(crate) fn new(pictures: &'a [Picture]) -> Self {
        let photographs = pictures
            .iter()
            .flat_map(|c| c.photographs.iter().map(move |p| (p.id, (c, p))))
            .collect();
        Places { photographs }
    }

    /// "upper left of back.jpg".
    pub(crate) fn of(&self, mark: &KeptMark) -> String {
        let known = mark.sightings.iter();
        let known = known.filter_map(|s| self.photographs.get(&s.photograph).map(|(_, p)| *p));
        match mark.widest(known) {
            Some((s, p)) => {
                let place = note::place(&s.seen().outline, p.width, p.height);
                if place.starts_with("filling") {
                    format!("filling {}", p.name())
                } else {
                    format!("{place} of {}", p.name())
                }
            }
            None => format!("photograph {}", mark.photograph),
        }
    }

    /// Several lines about a mark, with at most so many proposals.
    pub(crate) fn paragraph(&self, item: &Item, most: usize) -> String {
        let mark = item.mark;
        let mut out = format!("{:<5}{}\n", mark.id.to_string(), transcription(mark));
        let kind = mark.kind().as_str().replace('_', " ");
        let kind = if kind == "unknown" {
            "mark of unknown kind"
        } else {
            &kind
        };
        let count = mark.sightings.len();
        let several = match count {
            0 | 1 => String::new(),
            n => format!(", on {n} photographs"),
        };
        let kind = if item.is_place() {
            "place to look at"
        } else {
            kind
        };
        let of = self.of(mark);
        let _ = writeln!(out, "     {kind}, {of} (\"{}\"){several}", mark.picture);
        if let (None, Some((part, chance))) =
            (&mark.settled.on, mark.bearing().and_then(|b| b.on.first()))
        {
            let _ = writeln!(
                out,
                "     may be on the {} ({})",
                part.as_str(),
                two(*chance)
            );
        }
        if let Some(state) = state_words(&item.state) {
            let _ = writeln!(out, "     {state}");
        }
        for (i, d) in item.doubts.iter().enumerate() {
            let lead = if i == 0 { "because" } else { "and" };
            let _ = writeln!(out, "     {lead} {}", d.words);
        }
        if !item.with.is_empty() {
            let others = and(&item.with);
            let _ = writeln!(
                out,
                "     asked with {others}: where nothing stands, say not-a-mark of all at once"
            );
        }
        let numbered = mark.numbered();
        for (i, p) in numbered.iter().enumerate().take(most) {
            let _ = writeln!(out, "     {}", proposal_words(i + 1, p));
        }
        if numbered.len() > most {
            let left = numbered.len() - most;
            let _ = writeln!(out, "     and {left} less likely: dorso settle {}", mark.id);
        }
        out
    }

    fn sighting(&self, s: &Sighting) -> SightingOut {
        let photograph = self.photographs.get(&s.photograph).map(|(_, p)| p.name());
        SightingOut {
            id: s.id.to_string(),
            photograph: photograph.unwrap_or_default(),
            joined: s.joined,
        }
    }

    /// "10m on label.jpg, the same mark with a chance of 0.98".
    pub(crate) fn sighting_words(&self, s: &Sighting) -> String {
        let SightingOut {
            id,
            photograph,
            joined,
        } = self.sighting(s);
        match joined {
            j if j < 0.995 => format!(
                "{id} on {photograph}, the same mark with a chance of {}",
                two(j)
            ),
            _ => format!("{id} on {photograph}"),
        }
    }

    /// The JSON of an item.
    pub(crate) fn json(&self, item: &Item) -> ItemOut {
        let mark = item.mark;
        let seen = mark.latest();
        let photograph = self.photographs.get(&mark.photograph).map(|(_, p)| p);
        let (asked, until) = match &item.state {
            State::Asked(whom) => (Some(whom.clone()), None),
            State::Until(day) => (None, Some(day.clone())),
            _ => (None, None),
        };
        ItemOut {
            id: mark.id.to_string(),
            picture: mark.picture.clone(),
            photograph: photograph.map(|p| p.name()).unwrap_or_default(),
            sha256: photograph.map(|p| p.sha256.clone()).unwrap_or_default(),
            mark: seen.label.clone(),
            kind: mark.kind().as_str(),
            outline: seen
                .outline
                .0
                .map(|p| [p.x.round() as i64, p.y.round() as i64]),
            place: self.of(mark),
            state: item.state.as_str(),
            asked,
            until,
            sightings: mark.sightings.iter().map(|s| self.sighting(s)).collect(),
            with: item.with.iter().map(ToString::to_string).collect(),
            worth: item.worth,
            because: item
                .doubts
                .iter()
                .map(|d| BecauseOut {
                    reason: d.kind.as_str(),
                    words: d.words.clone(),
                })
                .collect(),
            leiden: seen
                .reading
                .lines
                .iter()
                .map(|l| l.leiden.clone())
                .collect(),
            proposals: mark
                .numbered()
                .iter()
                .enumerate()
                .map(|(i, p)| ProposalOut {
                    number: i + 1,
                    list: p.list.clone(),
                    entry: p.entry.clone(),
                    name: p.name.clone(),
                    probability: p.probability,
                    not_before: p.not_before.clone(),
                    not_after: p.not_after.clone(),
                    source: p.source.clone(),
                })
                .collect(),
        }
    }
}

/// What the mark says, in quotation marks: as a person read it, else as the program did.
pub(crate) fn transcription(mark: &KeptMark) -> String {
    match mark.settled.lettering.as_ref().map(|h| &h.value) {
        Some(Lettering::Read(lines)) => return format!("\"{}\"", lines.join(" / ")),
        Some(Lettering::Unreadable) => return "(a person can't read it)".into(),
        None => {}
    }
    let lines: Vec<&str> = mark
        .latest()
        .reading
        .lines
        .iter()
        .map(|l| l.leiden.as_str())
        .filter(|l| !l.trim().is_empty())
        .collect();
    if lines.is_empty() {
        "(not read)".into()
    } else {
        format!("\"{}\"", lines.join(" / "))
    }
}

/// "1  Orme & Son (framers, orme-york-1), 1868 to 1875, chance 0.48".
pub(crate) fn proposal_words(number: usize, p: &Proposal) -> String {
    let span = match (p.not_before.as_str(), p.not_after.as_str()) {
        ("", "") => String::new(),
        (from, "") => format!(", from {from}"),
        ("", to) => format!(", to {to}"),
        (from, to) => format!(", {from} to {to}"),
    };
    let memory = if p.source.to_lowercase().contains("from memory") {
        ", listed from memory"
    } else {
        ""
    };
    format!(
        "{number}  {} ({}, {}){span}, chance {}{memory}",
        p.name,
        p.list,
        p.entry,
        two(p.probability)
    )
}

fn state_words(state: &State) -> Option<String> {
    Some(match state {
        State::Open => return None,
        State::Later => "put off until everything else is done".into(),
        State::Until(day) => format!("put off until {day}"),
        State::Asked(whom) => format!("waits for {whom}"),
        State::Settled => "settled".into(),
        State::Clear => "nothing in doubt".into(),
        State::NotAMark => "no mark, by decision of a person".into(),
    })
}

/// A photograph that shows a mark.
#[derive(Debug, Serialize)]
struct SightingOut {
    /// Its number, by which it can be parted from the mark.
    id: String,
    photograph: String,
    /// Chance that it shows the same mark as the first.
    joined: f64,
}

/// A mark of the queue as JSON.
#[derive(Debug, Serialize)]
pub(crate) struct ItemOut {
    id: String,
    picture: String,
    photograph: String,
    sha256: String,
    mark: String,
    kind: &'static str,
    outline: [[i64; 2]; 4],
    place: String,
    state: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    asked: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    until: Option<String>,
    /// The photographs that show it.
    sightings: Vec<SightingOut>,
    /// The other places to look at of the picture that are asked with this one.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    with: Vec<String>,
    worth: f64,
    because: Vec<BecauseOut>,
    leiden: Vec<String>,
    proposals: Vec<ProposalOut>,
}

#[derive(Debug, Serialize)]
struct BecauseOut {
    reason: &'static str,
    words: String,
}

#[derive(Debug, Serialize)]
struct ProposalOut {
    number: usize,
    list: String,
    entry: String,
    name: String,
    probability: f64,
    not_before: String,
    not_after: String,
    source: String,
}
