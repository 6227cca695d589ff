//! Candidates for a mark, each with its measures: papers, and clusters of strokes put together in
//! several ways. Which of them are marks is chosen afterwards ([`super::find`]).

use super::groups::{self, Group};
use super::network::{self, BEARING, Map};
use super::papers::{self, Paper};
use super::raster;
use super::strokes::{self, Stroke};
use crate::geometry::{Point, Quad};
use image::RgbImage;
use rayon::prelude::*;
use std::collections::HashSet;

/// Longer side, px, of the picture on which strokes are sought.
const FINE: u32 = 1600;
/// Longer side, px, of the picture on which papers are sought.
const COARSE: u32 = 640;
/// Longer side, px, of the picture on which large, grainy or coloured strokes are sought.
const MIDDLE: u32 = 800;
/// Least size of a letter, px of the middle picture, that is sought there.
const LARGE: f64 = 12.0;
/// How far apart strokes of one cluster may stand, as shares of their size: each makes clusters of
/// its own, tight ones where marks stand close, loose ones for widely spaced letters.
const REACHES: [f64; 3] = [0.5, 0.8, 1.4];
/// The same on the coarse picture, for chalk and paint.
const LOOSE: [f64; 2] = [0.8, 1.8];
/// Grey values over which a stroke has to keep its shape, on the fine picture and on the coarse one,
/// where less noise is left.
const SHARP: u8 = 8;
const FADED: f32 = 6.0;
/// The same for colours.
const TINTED: f32 = 4.0;
/// Least size of a stroke that may be a whole word, px of the fine picture, and how many are kept.
const WORD: f64 = 24.0;
const WORDS: usize = 30;
/// Clusters kept at most, the likeliest.
const MOST: usize = 160;
/// Unit of the measures of a paper's edge, grey values.
const EDGE: f64 = 40.0;
/// What covers more of the picture than this is looked at from farther away.
const FILLS: f64 = 0.12;
/// Clusters below this chance say nothing of the paper they lie on.
const FAINT: f64 = 0.05;

/// How many measures a candidate has.
pub(crate) const MEASURES: usize = PAPER + STROKES + 1 + network::MEASURES;
const PAPER: usize = 15;
const STROKES: usize = 18;

/// What may be a mark. Outline in px of the shrunken picture.
pub(crate) struct Candidate {
    pub outline: Quad,
    /// Whether it is a patch of paper; else a cluster of strokes.
    pub paper: bool,
    /// Direction of its rows, radians.
    pub angle: f64,
    /// See [`paper_measures`] and [`stroke_measures`].
    pub measures: [f64; MEASURES],
    /// What shows around and under it ([`Map::parts`]); all 0 where the network wasn't run.
    pub parts: [f64; BEARING],
}

/// All candidates of a photograph.
pub(crate) struct Seen {
    pub candidates: Vec<Candidate>,
    /// px of the photograph for one px of the outlines.
    pub scale: f64,
}

pub(crate) fn see(photograph: &RgbImage) -> Seen {
    let fine = raster::shrink(photograph, FINE);
    let middle = raster::shrink(&fine.picture, MIDDLE);
    let coarse = raster::shrink(&fine.picture, COARSE);
    let grey = raster::softened(&raster::lightness(&fine.picture));
    let view = Map::view(photograph);
    let far = Map::far(&view);
    let ((map, far), (mut papers, (mut strokes, large))) = std::thread::scope(|threads| {
        let maps = threads.spawn(|| (Map::of(&view, fine.scale), Map::of(&far, fine.scale)));
        let rest = rayon::join(
            || papers::papers(&raster::opponents(&coarse.picture)),
            || rayon::join(|| both(&grey, SHARP, 0), || large(&middle.picture)),
        );
        (maps.join().unwrap_or_default(), rest)
    });
    for p in &mut papers {
        p.outline = scaled(&p.outline, coarse.scale);
    }
    let first = strokes.len();
    // Large or grainy lettering, chalk above all, holds together only on a coarser picture. Papers
    // and boards are no letters: theirs is a body, not a stroke.
    strokes.extend(
        large
            .into_iter()
            .filter(|s| s.size() >= LARGE && !s.is_body())
            .map(|mut s| {
                s.enlarge(middle.scale);
                s
            }),
    );
    let (w, h) = fine.picture.dimensions();
    let clusters = clusters(&strokes, first);
    let lettered: Vec<&Group> = clusters
        .iter()
        .filter(|g| g.lettering > FAINT && g.members[0] < first)
        .collect();
    let strong: Vec<&Paper> = papers.iter().filter(|p| is_strong(p)).collect();
    let mut candidates: Vec<Candidate> = papers
        .par_iter()
        .filter_map(|p| on_paper(p, &papers, &strokes, first, &lettered, (w, h)))
        .collect();
    candidates.par_extend(
        clusters
            .par_iter()
            .map(|g| on_ground(g, &strong, &strokes, first, (w, h))),
    );
    if let (Some(map), Some(far)) = (map, far) {
        let large = |q: &Quad| q.area() > FILLS * f64::from(w) * f64::from(h);
        let peaks = map
            .peaks
            .iter()
            .chain(far.peaks.iter().filter(|p| large(&p.outline)));
        let proposed: Vec<Candidate> = peaks
            .map(|p| on_map(&p.outline, &strong, &strokes, first, (w, h)))
            .collect();
        candidates.extend(proposed);
        candidates.par_iter_mut().for_each(|c| {
            c.parts = map.parts(&c.outline);
            let map = if large(&c.outline) { &far } else { &map };
            c.measures[PAPER + STROKES + 1..].copy_from_slice(&map.measures(&c.outline));
            // The network has seen the lettering, the strokes only their rows.
            if let Some((iou, peak)) = map.nearest(&c.outline)
                && iou > 0.5
            {
                c.angle = slope(&peak.outline);
            }
        });
    }
    Seen {
        candidates,
        scale: fine.scale,
    }
}

/// Strokes of any plane that stand out from their neighbourhood.
fn large(picture: &RgbImage) -> Vec<Stroke> {
    let planes = raster::opponents(picture);
    (0..3u8)
        .into_par_iter()
        .flat_map_iter(|k| {
            let soft = raster::softened(&raster::softened(&planes[usize::from(k)]));
            let least = if k == 0 { FADED } else { TINTED };
            let mut found = strokes::standing_out(&soft, 30, least);
            found.iter_mut().for_each(|s| s.plane = k + 1);
            found
        })
        .collect()
}

/// Strokes of both polarities on one plane.
fn both(grey: &image::GrayImage, step: u8, plane: u8) -> Vec<Stroke> {
    let (mut dark, light) = rayon::join(
        || strokes::strokes(grey, false, step),
        || strokes::strokes(grey, true, step),
    );
    dark.extend(light);
    dark.iter_mut().for_each(|s| s.plane = plane);
    dark
}

pub(crate) fn scaled(quad: &Quad, by: f64) -> Quad {
    Quad(quad.0.map(|p| Point::new(p.x * by, p.y * by)))
}

/// Clusters of strokes, put together in several ways, none twice.
fn clusters(strokes: &[Stroke], first: usize) -> Vec<Group> {
    let fine = &strokes[..first];
    let mut ways: Vec<Vec<Group>> = (0..REACHES.len() + LOOSE.len())
        .into_par_iter()
        .map(|i| match REACHES.get(i) {
            Some(&reach) => groups::groups(fine, 0, reach),
            None => groups::groups(strokes, first, LOOSE[i - REACHES.len()]),
        })
        .collect();
    let usual = ways[1].clone();
    ways.push(groups::ringed(strokes, usual.clone()));
    let rows: Vec<Group> = usual
        .into_iter()
        .filter(|g| g.members.len() >= 2 && g.lettering > FAINT)
        .collect();
    if rows.len() < 200 {
        let rows = groups::joined(strokes, rows, false);
        ways.push(groups::joined(strokes, rows.clone(), true));
        ways.push(rows);
    }
    // A joined-up word may be one stroke.
    let mut words: Vec<usize> = (0..strokes.len())
        .filter(|&i| {
            let s = &strokes[i];
            s.size() > WORD && s.width < 0.17 * s.size() && s.area < 0.6 * s.bounds.area() as f64
        })
        .collect();
    words.sort_by(|&a, &b| strokes[b].contrast.total_cmp(&strokes[a].contrast));
    words.truncate(WORDS);
    ways.push(
        words
            .iter()
            .map(|&i| groups::measured(strokes, vec![i]))
            .collect(),
    );
    let mut seen: HashSet<(Vec<usize>, i64)> = HashSet::new();
    let mut all: Vec<Group> = ways
        .into_iter()
        .flatten()
        .filter(|g| (g.members.len() >= 2 && g.lettering > 0.01) || words.contains(&g.members[0]))
        .filter(|g| seen.insert((g.members.clone(), g.outline.area() as i64)))
        .collect();
    let weight = |g: &Group| g.lettering * (g.members.len() as f64).sqrt();
    all.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    all.truncate(MOST);
    all
}

/// Whether a paper of this form, its edge standing out by so many grey values, has four good sides.
fn four_good_sides(form: f64, edge: f64) -> bool {
    form > 0.8 && edge > 12.0
}

fn is_strong(p: &Paper) -> bool {
    four_good_sides(p.form, p.edge.0)
}

/// Whether a candidate is a paper with four good sides.
pub(crate) fn is_sheet(c: &Candidate) -> bool {
    c.paper && four_good_sides(c.measures[1], c.measures[2] * EDGE)
}

/// A paper as a candidate, if strokes lie on it.
fn on_paper(
    paper: &Paper,
    papers: &[Paper],
    strokes: &[Stroke],
    first: usize,
    clusters: &[&Group],
    size: (u32, u32),
) -> Option<Candidate> {
    let quad = &paper.outline;
    let bounds = quad.bounds();
    let mut on: HashSet<usize> = HashSet::new();
    let (mut held, mut cut, mut best) = (0.0, 0.0, (0.0, 0.0));
    let mut near = Vec::new();
    for &g in clusters {
        if g.outline.bounds().intersect(&bounds).is_none() {
            continue;
        }
        let mine = g.members.iter().filter(|&&m| quad.holds(strokes[m].centre));
        let before = on.len();
        let mut count = 0;
        for &m in mine {
            on.insert(m);
            count += 1;
        }
        if count == 0 {
            continue;
        }
        let share = f64::from(count) / g.members.len() as f64;
        // The same strokes come in several clusters: only what is new has weight.
        let new = (on.len() - before) as f64 / g.members.len() as f64;
        let weight = g.lettering * (g.members.len() as f64).sqrt();
        if share > 0.75 {
            held += weight * new;
            near.push(g);
        } else if share > 0.1 {
            cut += weight * new;
        }
        if weight * share > best.0 {
            best = (weight * share, g.angle);
        }
    }
    // A few strokes on a small label may keep no company at all.
    if on.len() < 2 && is_strong(paper) {
        on.extend((0..first).filter(|&m| quad.holds(strokes[m].centre)));
    }
    if on.is_empty() && !is_strong(paper) {
        return None;
    }
    let light = on.iter().filter(|&&m| strokes[m].light).count() * 2 > on.len();
    let mut members: Vec<usize> = on
        .into_iter()
        .filter(|&m| strokes[m].light == light)
        .collect();
    members.sort_unstable();
    let inner: Vec<&Quad> = papers
        .iter()
        .filter(|p| {
            is_strong(p)
                && p.outline.area() < 0.6 * quad.area()
                && p.outline.overlap(quad) > 0.8 * p.outline.area()
        })
        .map(|p| &p.outline)
        .collect();
    let apart = members
        .iter()
        .filter(|&&m| inner.iter().any(|q| q.holds(strokes[m].centre)))
        .count() as f64
        / members.len().max(1) as f64;
    let group = groups::measured(strokes, members);
    let mut measures = [0.0; MEASURES];
    let (w, h) = (f64::from(size.0), f64::from(size.1));
    let c = &quad.0;
    let sides = quad.size();
    let square = (0..4)
        .map(|i| {
            let (a, b, d) = (c[(i + 3) % 4], c[i], c[(i + 1) % 4]);
            let dot = (a.x - b.x) * (d.x - b.x) + (a.y - b.y) * (d.y - b.y);
            (dot / (a.distance(b) * d.distance(b)).max(1.0)).abs()
        })
        .fold(0.0, f64::max);
    let rim = (0.012 * w.max(h)).max(3.0);
    let touching = (0..4)
        .filter(|&i| {
            let (a, b) = (c[i], c[(i + 1) % 4]);
            let (x, y) = ((a.x + b.x) / 2.0, (a.y + b.y) / 2.0);
            x < rim || y < rim || x > w - rim || y > h - rim
        })
        .count() as f64;
    measures[..PAPER].copy_from_slice(&[
        1.0,
        paper.form,
        paper.edge.0.min(120.0) / EDGE,
        paper.edge.1.min(120.0) / EDGE,
        (quad.area() / (w * h)).max(1e-6).ln(),
        (sides.0.max(sides.1) / sides.0.min(sides.1).max(1.0)).ln(),
        covered(quad, &near),
        cut / (held + cut).max(1e-9),
        square,
        paper.step / 64.0,
        paper.unrest / 16.0,
        touching,
        paper.tint / 32.0,
        apart,
        (1.0 + held).ln(),
    ]);
    if !group.members.is_empty() {
        measures[PAPER..PAPER + STROKES]
            .copy_from_slice(&stroke_measures(&group, quad, strokes, first));
    }
    Some(Candidate {
        outline: *quad,
        paper: true,
        angle: best.1,
        measures,
        parts: [0.0; BEARING],
    })
}

/// A cluster as a candidate; of the paper's measures only those that say what it lies on.
fn on_ground(
    group: &Group,
    strong: &[&Paper],
    strokes: &[Stroke],
    first: usize,
    size: (u32, u32),
) -> Candidate {
    let area = group.outline.area().max(1.0);
    let all = f64::from(size.0) * f64::from(size.1);
    let under = strong
        .iter()
        .filter(|p| p.outline.area() < 0.2 * all && p.outline.overlap(&group.outline) > 0.7 * area)
        .map(|p| (papers::worth(p), p.outline.area()))
        .fold((0.0, area), |b, t| if t.0 > b.0 { t } else { b });
    let (w, h) = group.outline.size();
    let mut measures = [0.0; MEASURES];
    measures[2] = under.0 / EDGE;
    measures[3] = (under.1 / area).ln();
    measures[4] = (area / all).max(1e-6).ln();
    measures[5] = (w.max(1.0) / h.max(1.0)).ln();
    measures[PAPER..PAPER + STROKES].copy_from_slice(&stroke_measures(
        group,
        &group.outline,
        strokes,
        first,
    ));
    Candidate {
        outline: group.outline,
        paper: false,
        angle: group.angle,
        measures,
        parts: [0.0; BEARING],
    }
}

/// Direction of an outline's top edge, radians.
fn slope(quad: &Quad) -> f64 {
    quad.slope_degrees().to_radians()
}

/// What the network proposes as a candidate, with the strokes that lie in it.
fn on_map(
    quad: &Quad,
    strong: &[&Paper],
    strokes: &[Stroke],
    first: usize,
    size: (u32, u32),
) -> Candidate {
    let inside = |from: usize, to: usize| -> [Vec<usize>; 2] {
        let (light, dark) = (from..to)
            .filter(|&m| quad.holds(strokes[m].centre))
            .partition(|&m| strokes[m].light);
        [dark, light]
    };
    let ways: Vec<Vec<usize>> = inside(0, first)
        .into_iter()
        .chain(inside(first, strokes.len()))
        .collect();
    // Fine strokes tell most; where there are hardly any, the coarse ones.
    let best = if ways[0].len().max(ways[1].len()) >= 2 {
        &ways[..2]
    } else {
        &ways[2..]
    };
    let members = best
        .iter()
        .max_by_key(|w| w.len())
        .cloned()
        .unwrap_or_default();
    let mut candidate = if members.is_empty() {
        Candidate {
            outline: *quad,
            paper: false,
            angle: 0.0,
            measures: [0.0; MEASURES],
            parts: [0.0; BEARING],
        }
    } else {
        let mut group = groups::measured(strokes, members);
        group.outline = *quad;
        on_ground(&group, strong, strokes, first, size)
    };
    candidate.angle = slope(quad);
    candidate.measures[PAPER + STROKES] = 1.0;
    candidate
}

/// Measures of strokes: count, rows, likeness, tone, size, how they fill the outline, and how much
/// of the same sort stands around it.
fn stroke_measures(
    group: &Group,
    outline: &Quad,
    strokes: &[Stroke],
    first: usize,
) -> [f64; STROKES] {
    let of: Vec<&Stroke> = group.members.iter().map(|&m| &strokes[m]).collect();
    let n = of.len() as f64;
    let each = |f: &dyn Fn(&Stroke) -> f64| -> Vec<f64> { of.iter().map(|s| f(s)).collect() };
    let area = outline.area().max(1.0);
    let (w, h) = outline.size();
    let size = group.size.max(1.0);
    let around = grown(outline, 1.5 * size);
    let bounds = around.bounds();
    let coarse = group.members[0] >= first;
    let same = if coarse {
        &strokes[first..]
    } else {
        &strokes[..first]
    };
    let stray = same
        .iter()
        .filter(|s| {
            s.light == of[0].light
                && s.plane == of[0].plane
                && s.size() < 2.5 * size
                && s.size() > 0.4 * size
                && f64::from(bounds.x) < s.centre.x
                && s.centre.x < f64::from(bounds.right())
                && f64::from(bounds.y) < s.centre.y
                && s.centre.y < f64::from(bounds.bottom())
                && around.holds(s.centre)
                && !outline.holds(s.centre)
        })
        .count() as f64;
    [
        n.ln(),
        group.rows,
        groups::variation(&each(&|s| s.width)),
        groups::variation(&each(&|s| s.size())),
        (1.0 + groups::median(each(&|s| s.contrast))).ln(),
        size.ln(),
        groups::grain(&of),
        (2.0 * group.angle).sin().abs(),
        f64::from(u8::from(of[0].light)),
        (each(&|s| s.bounds.area() as f64).iter().sum::<f64>() / area).min(3.0),
        (each(&|s| s.area).iter().sum::<f64>() / area).min(2.0),
        groups::median(each(&|s| s.width / s.size())),
        groups::median(each(&|s| s.sides.1 / s.sides.0)),
        (1.0 + stray).ln(),
        stray / (stray + n),
        (w.min(h).max(1.0) / size).ln(),
        f64::from(u8::from(coarse)),
        f64::from(u8::from(of[0].plane > 1)),
    ]
}

/// The outline with its corners moved outwards by `by` px along both its directions.
fn grown(quad: &Quad, by: f64) -> Quad {
    let c = quad.centre();
    Quad(quad.0.map(|p| {
        let d = p.distance(c).max(1.0);
        let f = (d + by * std::f64::consts::SQRT_2) / d;
        Point::new(c.x + (p.x - c.x) * f, c.y + (p.y - c.y) * f)
    }))
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
            hits += usize::from(groups.iter().any(|g| g.outline.holds(p)));
        }
    }
    hits as f64 / (SIDE * SIDE) as f64
}
