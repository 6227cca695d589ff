//! From pairs of photographs that fit to faces, each on the plan of its ground.

use super::features::Features;
use super::{Place, Plan};
use crate::chance::logistic;
use crate::geometry::{Homography, Point};

/// Two photographs that fit.
#[derive(Debug, Clone)]
pub(super) struct Tie {
    pub a: usize,
    pub b: usize,
    /// px of `a` to px of `b`, and back.
    pub there: Homography,
    pub back: Homography,
    /// Expected error, px of `b`; and px of `b` for one of `a`.
    pub error_px: f64,
    pub px_scale: f64,
    /// That it is right.
    pub chance: f64,
}

/// Chance from which a tie carries others.
const CARRIES: f64 = 0.5;

/// Shift, of the ground's longer side, up to which two ways of placing a photograph agree.
const AGREE: f64 = 0.02;

/// How one photograph comes to lie on another.
#[derive(Clone)]
struct Way {
    map: Homography,
    error_px: f64,
    chance: f64,
}

/// Sorts photographs into faces and lays each on its face's ground.
pub(super) fn plan(photos: &[Features], ties: &[Tie]) -> Plan {
    let tree = spanning(photos.len(), &ringed(photos, ties));
    let mut faces = components(photos.len(), &tree);
    faces.retain(|f| f.len() > 1 || photos.len() == 1);
    faces.sort_by_key(|f| (usize::MAX - f.len(), f[0]));
    let mut places: Vec<Option<Place>> = vec![None; photos.len()];
    let mut ground = None;
    for (face, members) in faces.iter().enumerate() {
        let base = best_ground(photos, members, &tree);
        if face == 0 {
            ground = Some(base);
        }
        for (photo, way) in ways(photos.len(), base, &tree).into_iter().enumerate() {
            let Some(way) = way else { continue };
            places[photo] = Some(Place {
                face,
                to_plan: way.map,
                error_px: way.error_px,
                chance: way.chance,
            });
        }
        weigh(photos, members, base, ties, &mut places);
    }
    Plan { ground, places }
}

/// Most that two ties say of a third: made pictures have the same label at two places, and then ties
/// that each look sure don't go together. Not fitted.
const TRUSTED: f64 = 0.9;

/// Weighs each tie anew by the rings of three that it is part of: where the way round by a third
/// photograph leads to the same place, both are likelier, else one of the three is wrong.
fn ringed(photos: &[Features], ties: &[Tie]) -> Vec<Tie> {
    let sure: Vec<&Tie> = ties.iter().filter(|t| t.chance >= CARRIES).collect();
    let weighed = |t: &Tie| {
        let mut odds = (t.chance / (1.0 - t.chance)).ln();
        for first in &sure {
            let Some((via, step)) = onward(first, t.a).filter(|o| o.0 != t.b) else {
                continue;
            };
            for second in &sure {
                let Some((_, next)) = onward(second, via).filter(|o| o.0 == t.b) else {
                    continue;
                };
                let Some(round) = next.after(&step) else {
                    continue;
                };
                let says = -(1.0 - TRUSTED * first.chance * second.chance).ln();
                let same = shift(&photos[t.a], &photos[t.b], &t.there, &round) <= AGREE;
                odds += if same { says } else { -says };
            }
        }
        Tie {
            chance: logistic(odds),
            ..t.clone()
        }
    };
    sure.iter().map(|t| weighed(t)).collect()
}

/// A tie as a step from a photograph: to which, and the map.
fn onward(t: &Tie, from: usize) -> Option<(usize, Homography)> {
    if t.a == from {
        Some((t.b, t.there))
    } else if t.b == from {
        Some((t.a, t.back))
    } else {
        None
    }
}

/// Mean distance between where two maps take a photograph, of the longer side of the photograph itself or
/// of the one that it is taken to, whichever is shown smaller.
fn shift(from: &Features, to: &Features, one: &Homography, other: &Homography) -> f64 {
    let far = spread(from)
        .map(|p| one.apply(p).distance(other.apply(p)))
        .sum::<f64>()
        / 25.0;
    let middle = Point::new(f64::from(from.width) / 2.0, f64::from(from.height) / 2.0);
    let side = |f: &Features| f64::from(f.width.max(f.height));
    far / side(to).max(side(from) * stretch(one, middle))
}

/// The ties that carry, likest first, without rings (Kruskal 1956).
fn spanning(n: usize, ties: &[Tie]) -> Vec<Tie> {
    let mut order: Vec<&Tie> = ties.iter().filter(|t| t.chance >= CARRIES).collect();
    let cost = |t: &Tie| {
        // Where both are sure, what lies truer.
        let error = t.error_px.min(t.error_px / t.px_scale);
        (1.0 - t.chance).max(1e-3) * (1.0 + error)
    };
    order.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
    let mut group: Vec<usize> = (0..n).collect();
    let mut tree = Vec::new();
    for t in order {
        let (a, b) = (group[t.a], group[t.b]);
        if a != b {
            group.iter_mut().filter(|g| **g == b).for_each(|g| *g = a);
            tree.push(t.clone());
        }
    }
    tree
}

fn components(n: usize, tree: &[Tie]) -> Vec<Vec<usize>> {
    let mut group: Vec<usize> = (0..n).collect();
    for t in tree {
        let (a, b) = (group[t.a], group[t.b]);
        group.iter_mut().filter(|g| **g == b).for_each(|g| *g = a);
    }
    let mut out: Vec<Vec<usize>> = Vec::new();
    for g in 0..n {
        let members: Vec<usize> = (0..n).filter(|&i| group[i] == g).collect();
        if !members.is_empty() {
            out.push(members);
        }
    }
    out
}

/// How each photograph comes to lie on `base`, along the tree.
fn ways(n: usize, base: usize, tree: &[Tie]) -> Vec<Option<Way>> {
    let mut out: Vec<Option<Way>> = vec![None; n];
    out[base] = Some(Way {
        map: Homography([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]),
        error_px: 0.0,
        chance: 1.0,
    });
    let mut open = vec![base];
    while let Some(at) = open.pop() {
        for t in tree {
            let Some((from, step, error)) = toward(t, at) else {
                continue;
            };
            if out[from].is_some() {
                continue;
            }
            let way = out[at].as_ref();
            let way = way.and_then(|w| beyond(w, &step, error, t.chance));
            if way.is_some() {
                out[from] = way;
                open.push(from);
            }
        }
    }
    out
}

/// A tie as a step on to the photograph `at`: from which, the map, its error in px of `at`.
fn toward(t: &Tie, at: usize) -> Option<(usize, Homography, f64)> {
    if t.b == at {
        Some((t.a, t.there, t.error_px))
    } else if t.a == at {
        Some((t.b, t.back, t.error_px / t.px_scale))
    } else {
        None
    }
}

/// A way continued by one step before it.
fn beyond(way: &Way, step: &Homography, error: f64, chance: f64) -> Option<Way> {
    // px of the plan for one px of the photograph stepped on, in the middle of what is carried.
    let middle = step.apply(Point::new(0.0, 0.0));
    let scale = stretch(&way.map, middle);
    Some(Way {
        map: way.map.after(step)?,
        error_px: way.error_px.hypot(error * scale),
        chance: way.chance * chance,
    })
}

/// Length on the other side of one px.
fn stretch(map: &Homography, p: Point) -> f64 {
    let q = map.apply(p);
    let x = map.apply(Point::new(p.x + 1.0, p.y)).distance(q);
    let y = map.apply(Point::new(p.x, p.y + 1.0)).distance(q);
    (x * y).sqrt()
}

/// Places spread over a photograph.
fn spread(f: &Features) -> impl Iterator<Item = Point> + '_ {
    (0..25).map(|k| {
        let part = |i: i32| (f64::from(i) + 0.5) / 5.0;
        Point::new(
            part(k % 5) * f64::from(f.width),
            part(k / 5) * f64::from(f.height),
        )
    })
}

/// Share of a photograph that a ground has to show for the photograph to count as shown. Other whole
/// views may show more of what the object lies on.
const SHOWN: f64 = 0.6;

/// The photograph that shows most of the others, and of those that show as many, the one with most px
/// for the same length.
fn best_ground(photos: &[Features], members: &[usize], tree: &[Tie]) -> usize {
    let mut best = (f64::NEG_INFINITY, members[0]);
    for &base in members {
        let (w, h) = (
            f64::from(photos[base].width),
            f64::from(photos[base].height),
        );
        let (mut shown, mut detail, mut error) = (0.0, 0.0, 0.0);
        for (i, way) in ways(photos.len(), base, tree).iter().enumerate() {
            let Some(way) = way.as_ref().filter(|_| i != base) else {
                continue;
            };
            let within = spread(&photos[i])
                .map(|p| way.map.apply(p))
                .filter(|q| q.x >= 0.0 && q.y >= 0.0 && q.x <= w && q.y <= h)
                .count() as f64
                / 25.0;
            shown += (within / SHOWN).min(1.0);
            let (u, v) = (f64::from(photos[i].width), f64::from(photos[i].height));
            detail += stretch(&way.map, Point::new(u / 2.0, v / 2.0)).ln();
            error += way.error_px / w.max(h);
        }
        let others = (members.len() - 1).max(1) as f64;
        let score = shown + 0.1 * detail / others - 2.0 * error;
        if score > best.0 {
            best = (score, base);
        }
    }
    best.1
}

/// Lays each photograph where most speaks for it: ties that lead to the same place speak together, others
/// against.
fn weigh(
    photos: &[Features],
    members: &[usize],
    base: usize,
    ties: &[Tie],
    places: &mut [Option<Place>],
) {
    let side = f64::from(photos[base].width.max(photos[base].height));
    let before: Vec<Option<Place>> = places.to_vec();
    for &i in members.iter().filter(|&&i| i != base) {
        let Some(own) = &before[i] else { continue };
        let others: Vec<Way> = ties
            .iter()
            .filter_map(|t| {
                let k = if t.a == i { t.b } else { t.a };
                let (_, step, error) = toward(t, k).filter(|o| o.0 == i)?;
                let next = before[k].as_ref().filter(|p| p.face == own.face)?;
                let way = Way {
                    map: next.to_plan,
                    error_px: next.error_px,
                    chance: if k == base { 1.0 } else { next.chance },
                };
                beyond(&way, &step, error, t.chance)
            })
            .collect();
        let at = |map: &Homography| supported(&photos[i], map, &others, AGREE * side);
        let mut best = Place {
            chance: at(&own.to_plan),
            ..own.clone()
        };
        for way in &others {
            let chance = at(&way.map);
            if best.chance < CARRIES && chance > best.chance {
                best = Place {
                    to_plan: way.map,
                    error_px: way.error_px,
                    chance,
                    ..best
                };
            }
        }
        places[i] = Some(best);
    }
}

/// Chance that a photograph lies as `map` says, of all ways to place it.
fn supported(photo: &Features, map: &Homography, ways: &[Way], near: f64) -> f64 {
    let (mut wrong, mut right_elsewhere) = (1.0, 1.0);
    for way in ways {
        let far = spread(photo)
            .map(|p| way.map.apply(p).distance(map.apply(p)))
            .sum::<f64>()
            / 25.0;
        if far <= near {
            wrong *= 1.0 - way.chance;
        } else {
            right_elsewhere *= 1.0 - way.chance;
        }
    }
    // Both can't be: what is left is that it lies here, or not.
    let here = (1.0 - wrong) * right_elsewhere;
    here / (here + wrong).max(1e-12)
}

/// A tie from a map that may have no way back.
pub(super) fn tie(
    (a, b): (usize, usize),
    there: Homography,
    (error_px, px_scale): (f64, f64),
    chance: f64,
) -> Option<Tie> {
    Some(Tie {
        a,
        b,
        back: there.inverse()?,
        there,
        error_px,
        px_scale,
        chance,
    })
}
