//! Papers and clusters of strokes weighed against each other: which patch is the mark.

use super::groups::{self, Group};
use super::outline;
use super::papers::{self, Paper};
use super::raster;
use super::strokes::{self, Stroke};
use super::{Mark, MarkKind};
use crate::geometry::{Point, Quad};
use image::RgbImage;

/// Longer side, px, of the picture on which strokes are sought.
const FINE: u32 = 1600;
/// Longer side, px, of the picture on which papers are sought.
const COARSE: u32 = 640;

/// Least size of a letter, px of the coarse picture, that is sought there.
const LARGE: f64 = 12.0;

/// What the stages before the choice saw; for looking at.
pub(crate) struct Seen {
    pub strokes: Vec<Stroke>,
    pub groups: Vec<Group>,
    pub papers: Vec<Paper>,
    /// px of the photograph for one px of the strokes' picture.
    pub fine: f64,
}

pub(crate) fn see(photograph: &RgbImage) -> Seen {
    let fine = raster::shrink(photograph, FINE);
    let coarse = raster::shrink(&fine.picture, COARSE);
    let grey = raster::softened(&raster::lightness(&fine.picture));
    let (mut papers, strokes) = rayon::join(
        || papers::papers(&raster::opponents(&coarse.picture)),
        || {
            let (mut dark, light) = rayon::join(
                || strokes::strokes(&grey, false),
                || strokes::strokes(&grey, true),
            );
            dark.extend(light);
            dark
        },
    );
    for p in &mut papers {
        p.outline = scaled(&p.outline, coarse.scale);
    }
    // Large or grainy lettering, chalk above all, holds together only on a coarser picture.
    let mut strokes = strokes;
    let mut groups = groups::groups(&strokes, 0);
    let soft = raster::softened(&raster::softened(&raster::lightness(&coarse.picture)));
    let (mut large, light) = rayon::join(
        || strokes::strokes(&soft, false),
        || strokes::strokes(&soft, true),
    );
    large.extend(light);
    // Papers and boards are no letters: theirs is a body, not a stroke.
    large.retain(|s| s.size() >= LARGE && !s.is_body());
    large.iter_mut().for_each(|s| s.enlarge(coarse.scale));
    let first = strokes.len();
    strokes.extend(large);
    groups.extend(groups::groups(&strokes, first));
    Seen {
        strokes,
        groups,
        papers,
        fine: fine.scale,
    }
}

fn scaled(quad: &Quad, by: f64) -> Quad {
    Quad(quad.0.map(|p| Point::new(p.x * by, p.y * by)))
}

/// A paper with what is written on it.
struct Label {
    paper: Paper,
    /// Strokes that lie on it and belong to clusters of lettering.
    strokes: Vec<usize>,
    /// Share of the paper that clusters of lettering cover, 0 to 1.
    covered: f64,
    angle: f64,
    /// How sharp the rows of its chief cluster are, 0 to 1.
    rows: f64,
    lettering: f64,
}

impl Label {
    /// Print stands in sharp rows; a hand wavers.
    fn kind(&self) -> MarkKind {
        if self.rows > PRINTED_ROWS {
            MarkKind::PrintedLabel
        } else {
            MarkKind::WrittenLabel
        }
    }
}

/// How sharp the rows of print are at least, see [`Group::rows`]. Set by hand on made backs.
const PRINTED_ROWS: f64 = 0.5;

/// What sort of mark a cluster is that stands on wood, board or canvas itself. Rules of thumb, set by
/// hand on made backs: many dark letters of like size in level rows are a stamp, a few large ones with
/// thick strokes a stencil, anything else is writing.
fn written_on_ground(g: &Group, strokes: &[Stroke], fine: f64) -> MarkKind {
    let dark = g.members.iter().all(|&m| !strokes[m].light);
    let of =
        |f: fn(&Stroke) -> f64| -> Vec<f64> { g.members.iter().map(|&m| f(&strokes[m])).collect() };
    let sizes = groups::variation(&of(Stroke::size));
    let width = groups::median(of(|s| s.width)) / g.size.max(1.0);
    if dark && g.members.len() >= 12 && sizes < 0.5 && g.rows > 0.6 {
        MarkKind::Stamp
    } else if dark && g.members.len() <= 12 && sizes < 0.3 && width > 0.13 && g.size * fine > 40.0 {
        MarkKind::Stencil
    } else {
        MarkKind::Inscription
    }
}

/// Clusters below this chance say nothing of the paper they lie on.
const FAINT: f64 = 0.05;
/// Clusters above this chance aren't cut through by the rim of what they are written on.
const CLEAR: f64 = 0.4;

pub(super) fn find(photograph: &RgbImage) -> Vec<Mark> {
    let (w, h) = photograph.dimensions();
    if w < 8 || h < 8 {
        return Vec::new();
    }
    let seen = see(photograph);
    let whole = f64::from(w) * f64::from(h) / (seen.fine * seen.fine);
    let ringed = groups::ringed(&seen.strokes, seen.groups.clone());
    let groups = standing(&ringed);
    let labels: Vec<Label> = seen
        .papers
        .iter()
        .filter_map(|p| label(p, &seen.strokes, &groups, whole))
        .collect();
    let labels = parted(labels);
    let mut taken = vec![false; seen.strokes.len()];
    let mut marks = Vec::new();
    for l in &labels {
        if l.lettering >= super::LIKELY {
            l.strokes.iter().for_each(|&s| taken[s] = true);
        }
        let quad = outline::named(&l.paper.outline, l.angle);
        marks.push((quad, l.lettering, l.kind()));
    }
    let mut rest: Vec<Group> = Vec::new();
    for g in groups {
        let left: Vec<usize> = g.members.iter().copied().filter(|&m| !taken[m]).collect();
        if left.len() < 2 || (left.len() as f64) < 0.3 * g.members.len() as f64 {
            continue;
        }
        let g = if left.len() == g.members.len() {
            g.clone()
        } else {
            groups::measured(&seen.strokes, left)
        };
        let on_label = labels.iter().any(|l| {
            l.lettering >= super::LIKELY
                && g.outline.overlap(&l.paper.outline) > 0.5 * g.outline.area()
        });
        if !on_label && g.lettering >= 0.02 {
            rest.push(g);
        }
    }
    for g in groups::joined(&seen.strokes, rest) {
        let kind = written_on_ground(&g, &seen.strokes, seen.fine);
        marks.push((g.outline, g.lettering, kind));
    }
    let mut out: Vec<Mark> = marks
        .into_iter()
        .map(|(quad, lettering, kind)| Mark {
            kind,
            outline: within(&scaled(&quad, seen.fine), w, h),
            lettering,
        })
        .collect();
    out.sort_by(|a, b| b.lettering.total_cmp(&a.lettering));
    out.truncate(60);
    out
}

/// Clusters of lettering, without those that lie for the most part in a larger and likelier one:
/// the counters of its letters, or the same letters at another scale.
fn standing(all: &[Group]) -> Vec<&Group> {
    let mut order: Vec<&Group> = all
        .iter()
        .filter(|g| g.members.len() >= 2 && g.lettering > 0.02)
        .collect();
    order.sort_by(|a, b| {
        let weight = |g: &Group| g.lettering * (g.members.len() as f64).sqrt();
        weight(b).total_cmp(&weight(a))
    });
    let mut kept: Vec<&Group> = Vec::new();
    for g in order {
        let area = g.outline.area();
        if !kept
            .iter()
            .any(|k| k.outline.overlap(&g.outline) > 0.6 * area)
        {
            kept.push(g);
        }
    }
    kept
}

/// Corners cut to the picture.
fn within(quad: &Quad, w: u32, h: u32) -> Quad {
    let (w, h) = (f64::from(w), f64::from(h));
    Quad(
        quad.0
            .map(|p| Point::new(p.x.clamp(0.0, w), p.y.clamp(0.0, h))),
    )
}

/// The paper as a label, if lettering lies on it. A paper whose rim cuts through a cluster is part
/// of the lettering or of the ground, not what it is written on; a paper that lettering covers only
/// here and there is the board or canvas that several marks sit on.
fn label(paper: &Paper, strokes: &[Stroke], groups: &[&Group], whole: f64) -> Option<Label> {
    let quad = &paper.outline;
    let bounds = quad.bounds();
    let mut on = Vec::new();
    let (mut held, mut cut, mut most, mut best) = (0.0, 0.0, 0.0f64, (0.0, 0.0, 0.0));
    let mut near = Vec::new();
    for &g in groups.iter().filter(|g| g.lettering > FAINT) {
        if g.outline.bounds().intersect(&bounds).is_none() {
            continue;
        }
        let mine: Vec<usize> = g
            .members
            .iter()
            .copied()
            .filter(|&m| outline::holds(quad, strokes[m].centre))
            .collect();
        if mine.is_empty() {
            continue;
        }
        let share = mine.len() as f64 / g.members.len() as f64;
        let weight = g.lettering * (g.members.len() as f64).sqrt();
        if share > 0.75 {
            held += weight;
            most = most.max(weight);
            near.push(g);
        } else if g.lettering > CLEAR && share > 0.1 {
            cut += weight * share;
        }
        if weight * share > best.0 {
            best = (weight * share, g.angle, g.rows);
        }
        on.extend(mine);
    }
    // Neither well filled nor set off on every side: two papers that overlap, or a stain.
    let loose = paper.form < 0.7 && paper.edge.0 < 8.0;
    if on.len() < 2 || cut > held || loose {
        return None;
    }
    let covered = covered(quad, &near);
    let area = quad.area() / whole;
    // A small, well-bounded paper may be almost empty, a larger one half empty where all that stands
    // on it runs the same way in the same tone, as on a label; a ground that carries several marks
    // is left to them.
    let large = (area / 0.25).min(1.0);
    let least = match (is_strong(paper), area < SMALL) {
        (true, true) => 0.03,
        (true, false) if of_a_piece(&near, strokes) => 0.12,
        _ => 0.10 + (0.10 + 0.25 * (1.0 - most / held.max(1e-9))) * large,
    };
    if covered < least {
        return None;
    }
    let edge = 0.5 * (paper.edge.0 + paper.edge.1);
    let z = -3.0
        + 1.2 * (1.0 + held).ln()
        + 2.0 * paper.form
        + 0.03 * edge.min(60.0)
        + 2.0 * covered.min(0.6);
    Some(Label {
        paper: paper.clone(),
        strokes: on,
        covered,
        angle: best.1,
        rows: best.2,
        lettering: 1.0 / (1.0 + (-z).exp()),
    })
}

/// Whether nearly all lettering runs the same way (quarter turns apart) and is of one tone.
fn of_a_piece(groups: &[&Group], strokes: &[Stroke]) -> bool {
    let weight = |g: &&&Group| g.lettering * (g.members.len() as f64).sqrt();
    let Some(lead) = groups.iter().max_by(|a, b| weight(a).total_cmp(&weight(b))) else {
        return false;
    };
    let all: f64 = groups.iter().map(|g| weight(&g)).sum();
    let like: f64 = groups
        .iter()
        .filter(|g| {
            let off = (g.angle - lead.angle).sin().abs().asin().to_degrees();
            strokes[g.members[0]].light == strokes[lead.members[0]].light && off < 12.0
        })
        .map(|g| weight(&g))
        .sum();
    like > 0.7 * all
}

/// Share of an outline that lies in any of the clusters' rectangles, by a grid of places.
fn covered(quad: &Quad, groups: &[&Group]) -> f64 {
    const SIDE: usize = 24;
    let c = &quad.0;
    let mut hits = 0;
    for i in 0..SIDE {
        for j in 0..SIDE {
            let (u, v) = (
                (i as f64 + 0.5) / SIDE as f64,
                (j as f64 + 0.5) / SIDE as f64,
            );
            let mix = |a: f64, b: f64, d: f64, e: f64| {
                (1.0 - v) * ((1.0 - u) * a + u * b) + v * ((1.0 - u) * e + u * d)
            };
            let p = Point::new(
                mix(c[0].x, c[1].x, c[2].x, c[3].x),
                mix(c[0].y, c[1].y, c[2].y, c[3].y),
            );
            hits += usize::from(groups.iter().any(|g| outline::holds(&g.outline, p)));
        }
    }
    hits as f64 / (SIDE * SIDE) as f64
}

/// Share of the photograph below which a well-bounded paper may be almost empty.
const SMALL: f64 = 0.06;

/// A paper with four good sides.
fn is_strong(p: &Paper) -> bool {
    p.form > 0.85 && p.edge.0 > 20.0
}

/// Of papers that lie in each other, which are marks. Two that carry the same lettering are rivals:
/// the better bounded stays. A paper most of whose lettering stands on several well-bounded papers, or
/// that holds one much more densely lettered than itself, is what these lie on; other papers inside one are parts of it.
fn parted(mut labels: Vec<Label>) -> Vec<Label> {
    labels.sort_by(|a, b| b.paper.outline.area().total_cmp(&a.paper.outline.area()));
    let n = labels.len();
    let inside = |i: usize, j: usize| -> bool {
        let (a, b) = (&labels[i].paper.outline, &labels[j].paper.outline);
        b.overlap(a) > 0.7 * b.area()
    };
    let share = |i: usize, j: usize| -> f64 {
        let of: std::collections::HashSet<usize> = labels[j].strokes.iter().copied().collect();
        let both = labels[i].strokes.iter().filter(|s| of.contains(s)).count();
        both as f64 / labels[i].strokes.len().max(1) as f64
    };
    let bounded = |i: usize| labels[i].paper.form * labels[i].paper.edge.0.clamp(1.0, 60.0);
    let mut gone = vec![false; n];
    for i in 0..n {
        let strong: Vec<usize> = (i + 1..n)
            .filter(|&j| {
                inside(i, j)
                    && is_strong(&labels[j].paper)
                    && labels[j].paper.outline.area() < 0.6 * labels[i].paper.outline.area()
            })
            .collect();
        // Those that don't lie in each other, the larger first.
        let mut apart: Vec<usize> = Vec::new();
        for j in strong {
            if !apart.iter().any(|&k| inside(k, j)) {
                apart.push(j);
            }
        }
        let carried: f64 = apart.iter().map(|&j| share(i, j)).sum();
        let denser = apart.iter().any(|&j| {
            labels[j].covered > 2.0 * labels[i].covered
                && labels[j].paper.outline.area() < 0.35 * labels[i].paper.outline.area()
        });
        if denser || (apart.len() >= 2 && carried > 0.6) {
            gone[i] = true;
        }
    }
    for i in 0..n {
        for j in i + 1..n {
            if gone[i] {
                break;
            }
            if gone[j] || !inside(i, j) {
                continue;
            }
            if share(i, j) > 0.6 && bounded(j) > 1.3 * bounded(i) {
                gone[i] = true;
            } else {
                gone[j] = true;
            }
        }
    }
    let mut keep = gone.iter().map(|g| !g);
    labels.retain(|_| keep.next().unwrap_or(false));
    labels
}

/// See [`super::candidates`].
pub(super) fn candidates(photograph: &RgbImage) -> (Vec<super::Candidate>, Vec<super::Candidate>) {
    if photograph.width() < 8 || photograph.height() < 8 {
        return (Vec::new(), Vec::new());
    }
    let seen = see(photograph);
    let papers = seen
        .papers
        .iter()
        .map(|p| (scaled(&p.outline, seen.fine), papers::worth(p)));
    let groups = seen
        .groups
        .iter()
        .filter(|g| g.members.len() >= 2)
        .map(|g| (scaled(&g.outline, seen.fine), g.lettering));
    (papers.collect(), groups.collect())
}
