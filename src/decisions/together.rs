//! What the photographs of one picture show together: where they lie on each other, which of their
//! sightings are one mark, and what a mark reads by all of them.

use super::{KeptMark, MarkId, SeenMark};
use crate::back::group::{Pair, Said};
use crate::back::joins::Join;
use crate::decisions::{Act, Decision, Lettering, Named, Settled, holding};
use crate::geometry::Homography;
use std::collections::BTreeMap;

/// Where a photograph lies on the plan of its picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// Side of the object: 0 for the one with the most photographs.
    pub face: usize,
    /// The photograph (number in the store) whose px are those of the plan.
    pub ground: i64,
    /// px of the upright photograph to px of `ground`.
    pub to_plan: Homography,
    /// Error of a place, px of the plan.
    pub error_px: f64,
    /// Chance that it lies there, 0 to 1.
    pub chance: f64,
}

/// A join as the program has it, between sightings by their numbers in the store.
pub type Joined = Join<MarkId>;

/// The photographs of a picture laid on each other.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Laying {
    /// Who ran it.
    pub by: String,
    /// ISO 8601 with offset.
    pub at: String,
    /// Program with version, for the record.
    pub program: String,
    /// For each photograph that was laid (number in the store) its place; `None`: unplaced.
    pub places: Vec<(i64, Option<Placed>)>,
    /// Joins between the sightings of these photographs; pairs left out are apart.
    pub joins: Vec<Joined>,
    /// Sightings of these photographs that show a piece of a mark, and a sighting that shows it whole.
    pub pieces: Vec<(MarkId, MarkId)>,
    /// Sightings of these photographs at whose place other photographs show nothing, and how many do.
    pub bare_on: Vec<(MarkId, u32)>,
}

impl Laying {
    /// This one with that of another side of the object, whose faces are numbered after its own.
    pub fn with(mut self, other: Laying) -> Laying {
        let faces = self
            .places
            .iter()
            .filter_map(|(_, p)| Some(p.as_ref()?.face + 1));
        let after = faces.max().unwrap_or(0);
        let moved = other.places.into_iter().map(|(photograph, place)| {
            let place = place.map(|p| Placed {
                face: p.face + after,
                ..p
            });
            (photograph, place)
        });
        self.places.extend(moved);
        self.joins.extend(other.joins);
        self.pieces.extend(other.pieces);
        self.bare_on.extend(other.bare_on);
        self
    }
}

/// What a mark reads and names by all its sightings.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// The mark.
    pub mark: MarkId,
    /// The readings that it was made of, in order of number: see [`KeptMark::made_of`].
    pub made_of: Vec<i64>,
    /// What they say together; the outline is that on the photograph that shows the mark best.
    pub seen: SeenMark,
}

/// What a person said of which sightings are one; the later of what was said of a pair holds.
/// `journal` in order of number.
pub(super) fn said(journal: &[Decision]) -> Said {
    let holding = holding(journal);
    let mut last: BTreeMap<(i64, i64), bool> = BTreeMap::new();
    for d in journal.iter().filter(|d| holding.contains(&d.id)) {
        let (others, same) = match &d.act {
            Act::Same { with } => (std::slice::from_ref(with), true),
            Act::Apart { from } => (from.as_slice(), false),
            _ => continue,
        };
        for other in others {
            let (a, b) = (d.mark.0.min(other.0), d.mark.0.max(other.0));
            last.insert((a, b), same);
        }
    }
    let told = |same: bool| {
        let all = last.iter().filter(|(_, s)| **s == same);
        all.map(|(pair, _)| *pair).collect()
    };
    Said {
        same: told(true),
        apart: told(false),
    }
}

/// The joins that a person hasn't answered.
pub(super) fn unanswered(doubtful: Vec<Pair>, said: &Said) -> Vec<Pair> {
    let told = |p: &Pair| {
        let pair = (p.a.min(p.b), p.a.max(p.b));
        said.same.contains(&pair) || said.apart.contains(&pair)
    };
    doubtful.into_iter().filter(|p| !told(p)).collect()
}

/// What was decided of one sighting and otherwise of another, by people who didn't know that they
/// are one mark; nothing where somebody decided of them together since.
///
/// * `journal`: of all sightings of the mark, in order of number.
pub(super) fn differing(journal: &[Decision]) -> Vec<String> {
    let holding = holding(journal);
    let held: Vec<&Decision> = journal
        .iter()
        .filter(|d| holding.contains(&d.id) && !matches!(d.act, Act::Undo { .. }))
        .collect();
    let mut out = Vec::new();
    let mut by_sighting: BTreeMap<MarkId, Settled> = BTreeMap::new();
    for d in &held {
        let known_since = held
            .iter()
            .any(|later| later.id > d.id && later.over.contains(&d.mark) && about(later, d));
        if !known_since {
            by_sighting.entry(d.mark).or_default().apply(d);
        }
    }
    let strands: Vec<(&MarkId, &Settled)> = by_sighting.iter().collect();
    for (i, (a, first)) in strands.iter().enumerate() {
        for (b, second) in &strands[i + 1..] {
            out.extend(apart(**a, first, **b, second));
        }
    }
    out
}

/// Whether a later decision answers what an earlier one did: the reading, or what the mark names on
/// the same list.
fn about(later: &Decision, earlier: &Decision) -> bool {
    let reads = |a: &Act| matches!(a, Act::Read { .. } | Act::Unreadable | Act::Answer { .. });
    match (list_of(&later.act), list_of(&earlier.act)) {
        (Some(None), Some(_)) => true,
        (Some(a), Some(b)) => a == b,
        _ => reads(&later.act) && reads(&earlier.act),
    }
}

/// The list that a decision is about, if it is about what a mark names; `Some(None)`: all lists.
fn list_of(act: &Act) -> Option<Option<&str>> {
    match act {
        Act::Take(t) => Some(Some(&t.list)),
        Act::Unlisted { list } => Some(list.as_deref()),
        _ => None,
    }
}

fn apart(a: MarkId, first: &Settled, b: MarkId, second: &Settled) -> Vec<String> {
    let mut out = Vec::new();
    if let (Some(x), Some(y)) = (&first.lettering, &second.lettering)
        && super::queue::letters(&x.value) != super::queue::letters(&y.value)
    {
        out.push(format!(
            "one photograph was settled as {}, another as {} ({a}, {b}), before they were known to show one mark",
            said_of(&x.value),
            said_of(&y.value)
        ));
    }
    let lists: Vec<&String> = first.named.keys().chain(second.named.keys()).collect();
    let mut seen = Vec::new();
    for list in lists {
        if seen.contains(&list) {
            continue;
        }
        seen.push(list);
        if let (Some(x), Some(y)) = (first.on_list(list), second.on_list(list))
            && key(&x.value) != key(&y.value)
        {
            out.push(format!(
                "one photograph was settled as {}, another as {} ({a}, {b}), before they were known to show one mark",
                named(&x.value),
                named(&y.value)
            ));
        }
    }
    out
}

fn said_of(l: &Lettering) -> String {
    match l {
        Lettering::Read(lines) => format!("\"{}\"", lines.join(" / ")),
        Lettering::Unreadable => "unreadable".into(),
    }
}

fn key(n: &Named) -> Option<(&str, &str)> {
    match n {
        Named::Entry(t) => Some((&t.list, &t.entry)),
        Named::Unlisted => None,
    }
}

fn named(n: &Named) -> &str {
    match n {
        Named::Entry(t) => &t.name,
        Named::Unlisted => "none on the list",
    }
}

impl KeptMark {
    /// A mark of which nothing is known but its first look.
    pub(super) fn new(id: MarkId, picture: String, photograph: i64, whole: SeenMark) -> KeptMark {
        KeptMark {
            id,
            picture,
            photograph,
            sightings: Vec::new(),
            whole,
            read_together: false,
            missing: false,
            settled: Settled::default(),
            differing: Vec::new(),
            maybe: Vec::new(),
            piece_of: None,
            bears: 1.0,
            rivals: Vec::new(),
            conflicts: Vec::new(),
        }
    }

    /// What all its sightings say together; its outline is that of one of them, whose photograph
    /// shows the mark best.
    pub(super) fn take_whole(&mut self, whole: SeenMark) {
        let best = self
            .sightings
            .iter()
            .find(|s| s.seen().outline == whole.outline);
        if let Some(s) = best {
            self.photograph = s.photograph;
            self.whole = whole;
            self.read_together = true;
        }
    }

    /// Puts what its sightings say in place of what they say together, where nothing was kept that
    /// is made of them: the sighting that reads most, and most surely, stands for all.
    pub(super) fn stand_for_all(&mut self) {
        let drawn = self.sightings.iter().find(|s| s.drawn.is_some());
        let best = || {
            // Of equals the first: `max_by` would take the last
            let all = self.sightings.iter().rev();
            all.max_by(|a, b| read(a.seen()).total_cmp(&read(b.seen())))
        };
        if let Some(s) = drawn.or_else(best) {
            self.photograph = s.photograph;
            self.whole = s.seen().clone();
        }
    }
}

/// How much is read: the sum of its letters' chances.
fn read(seen: &SeenMark) -> f64 {
    let letters = seen.reading.lines.iter().flat_map(|l| &l.characters);
    letters.map(|c| c.confidence).sum()
}
