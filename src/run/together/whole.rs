//! What several sightings of a mark say together.

use crate::back::bears::read;
use crate::back::once::{OnPlan, once};
use crate::back::together::{View, together};
use crate::decisions::SeenMark;
use crate::geometry::{Homography, Quad};
use crate::marks::{Bearing, MarkKind, Part};
use crate::proposals::Index;
use crate::readings::{Line, Reading, SharedLine};
use rayon::prelude::*;

/// One sighting of a mark that is to be read together.
pub(super) struct Witness<'a> {
    pub(super) seen: &'a SeenMark,
    /// Share of its photograph that the mark takes, 0 to 1.
    pub(super) fills: f64,
    /// px of its photograph to px of the plan, and the side of the object.
    pub(super) place: Option<(usize, Homography)>,
    /// Whether a person drew its outline.
    pub(super) drawn: bool,
}

/// A mark of a back, to be read from all its sightings.
pub(super) struct OfMark<'a> {
    /// What it is called where another mark holds lettering that it shares.
    pub(super) name: String,
    /// Never empty.
    pub(super) sightings: Vec<Witness<'a>>,
}

/// What each wanted mark of a back says by all its sightings, with its place among `marks`; the outline is
/// that of the sighting that reads most. A mark with one sighting says what that says.
///
/// * `marks`: all of the back, since lettering that two share is left to one of them.
pub(super) fn wholes(
    marks: &[OfMark<'_>],
    wanted: impl Fn(usize) -> bool + Sync,
    index: &Index,
) -> Vec<(usize, SeenMark)> {
    let orders: Vec<Vec<&Witness<'_>>> = marks.iter().map(|m| most_first(&m.sightings)).collect();
    let mut readings: Vec<Reading> = orders.par_iter().map(|o| read_together(o)).collect();
    for (mark, taken) in each_once(&orders, &mut readings).into_iter().enumerate() {
        if orders[mark].len() > 1 {
            let shared = taken.into_iter().map(|(line, holder)| SharedLine {
                line,
                held_by: marks[holder].name.clone(),
            });
            readings[mark].shared.extend(shared);
        }
    }
    let whole = |(n, reading): (usize, Reading)| match orders[n].as_slice() {
        [only] => (n, only.seen.clone()),
        several => (n, told(several, reading, index)),
    };
    let numbered = readings.into_par_iter().enumerate();
    numbered.filter(|(n, _)| wanted(*n)).map(whole).collect()
}

/// The sightings of a mark, one that a person outlined first, then the one that reads most.
fn most_first<'a, 'b>(sightings: &'b [Witness<'a>]) -> Vec<&'b Witness<'a>> {
    let mut order: Vec<&Witness<'_>> = sightings.iter().collect();
    order.sort_by(|a, b| {
        let by = |p: &Witness<'_>| (p.drawn, read(&p.seen.reading));
        let (a, b) = (by(a), by(b));
        b.0.cmp(&a.0).then(b.1.total_cmp(&a.1))
    });
    order
}

fn read_together(order: &[&Witness<'_>]) -> Reading {
    let first = order[0];
    let to_first = |p: &Witness<'_>| {
        let (Some((face, from)), Some((own, to))) = (&p.place, &first.place) else {
            return None;
        };
        (face == own).then(|| to.inverse().and_then(|back| back.after(from)))?
    };
    let mut views: Vec<View<'_>> = Vec::with_capacity(order.len());
    for p in order {
        views.push(View {
            reading: &p.seen.reading,
            outline: p.seen.outline,
            to_first: to_first(p),
        });
    }
    together(&views)
}

/// Takes lettering that the outlines of two marks share from all but the one that reads it most surely;
/// for each mark the lines taken, each with the mark that holds it.
fn each_once(orders: &[Vec<&Witness<'_>>], readings: &mut [Reading]) -> Vec<Vec<(Line, usize)>> {
    let mut out: Vec<Vec<(Line, usize)>> = vec![Vec::new(); readings.len()];
    let face = |m: usize| orders[m][0].place.map(|p| p.0);
    let mut faces: Vec<usize> = (0..orders.len()).filter_map(face).collect();
    faces.sort_unstable();
    faces.dedup();
    for f in faces {
        let on: Vec<usize> = (0..orders.len()).filter(|m| face(*m) == Some(f)).collect();
        let mut laid: Vec<OnPlan<'_>> = readings
            .iter_mut()
            .enumerate()
            .filter(|(m, _)| on.contains(m))
            .filter_map(|(m, reading)| {
                let (_, to_plan) = orders[m][0].place?;
                Some(OnPlan { reading, to_plan })
            })
            .collect();
        for (m, taken) in on.iter().zip(once(&mut laid)) {
            out[*m] = taken
                .into_iter()
                .map(|(l, holder)| (l, on[holder]))
                .collect();
        }
    }
    out
}

fn told(order: &[&Witness<'_>], reading: Reading, index: &Index) -> SeenMark {
    let (first, kind) = (order[0], kind(order));
    SeenMark {
        label: first.seen.label.clone(),
        kind,
        outline: first.seen.outline,
        lettering: order.iter().map(|p| p.seen.lettering).fold(0.0, f64::max),
        rivals: index.weigh(&reading.lines, None),
        statements: index.statements(&reading.lines, Some(kind)),
        reading,
        bearing: bearing(order),
        sign: None,
    }
}

/// The kind that most sightings have, each counted by how surely it is lettering; of a mark that a
/// person outlined the kind that was given with that.
fn kind(order: &[&Witness<'_>]) -> MarkKind {
    let own = order[0].seen.kind;
    if order[0].drawn {
        return own;
    }
    let count = |kind: MarkKind| -> f64 {
        let same = order.iter().filter(|p| p.seen.kind == kind);
        same.map(|p| p.seen.lettering).sum()
    };
    let known = MarkKind::ALL
        .into_iter()
        .filter(|k| *k != MarkKind::Unknown);
    let best = known.max_by(|a, b| {
        let own_first = (*a == own).cmp(&(*b == own));
        count(*a).total_cmp(&count(*b)).then(own_first)
    });
    best.filter(|k| count(*k) > 0.0).unwrap_or(own)
}

/// What it lies on by all photographs: their chances, each counted by how much of what surrounds
/// the mark its photograph shows.
fn bearing(order: &[&Witness<'_>]) -> Option<Bearing> {
    let told: Vec<(&Bearing, f64)> = order
        .iter()
        .filter_map(|p| Some((p.seen.bearing.as_ref()?, (1.0 - p.fills).max(0.01))))
        .collect();
    let all: f64 = told.iter().map(|t| t.1).sum();
    if all <= 0.0 {
        return None;
    }
    let mean = |chance: &dyn Fn(&Bearing) -> f64| -> f64 {
        told.iter().map(|(b, w)| w * chance(b)).sum::<f64>() / all
    };
    let mut on: Vec<(Part, f64)> = Part::ALL
        .into_iter()
        .map(|part| {
            let of = |b: &Bearing| b.on.iter().find(|o| o.0 == part).map_or(0.0, |o| o.1);
            (part, mean(&of))
        })
        .filter(|o| o.1 > 0.0)
        .collect();
    on.sort_by(|a, b| b.1.total_cmp(&a.1));
    let over = Part::ALL.into_iter().map(|part| {
        let of = |b: &Bearing| b.bridges.filter(|o| o.0 == part).map_or(0.0, |o| o.1);
        (part, mean(&of))
    });
    let bridges = over.max_by(|a, b| a.1.total_cmp(&b.1));
    Some(Bearing {
        on,
        bridges: bridges.filter(|b| b.1 > 0.0),
    })
}

/// Share of a photograph that an outline takes.
pub(super) fn fills(outline: &Quad, width: u32, height: u32) -> f64 {
    (outline.area() / (f64::from(width) * f64::from(height)).max(1.0)).clamp(0.0, 1.0)
}
