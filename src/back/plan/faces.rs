//! From pairs of photographs that fit to faces, each on the plan of its ground.

use super::features::Features;
use super::{Place, Plan};
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
    let tree = spanning(photos.len(), ties);
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

/// Weighs each place anew by all ties: those that lead to the same place speak for it, others against.
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
        let (mut wrong, mut right_elsewhere) = (1.0, 1.0);
        for t in ties.iter().filter(|t| t.a == i || t.b == i) {
            let k = if t.a == i { t.b } else { t.a };
            let Some(next) = before[k].as_ref().filter(|p| p.face == own.face) else {
                continue;
            };
            let Some((_, step, _)) = toward(t, k) else {
                continue;
            };
            let Some(other) = next.to_plan.after(&step) else {
                continue;
            };
            let far = spread(&photos[i])
                .map(|p| other.apply(p).distance(own.to_plan.apply(p)))
                .sum::<f64>()
                / 25.0;
            let chance = t.chance * if k == base { 1.0 } else { next.chance };
            if far <= AGREE * side {
                wrong *= 1.0 - chance;
            } else {
                right_elsewhere *= 1.0 - chance;
            }
        }
        let (for_it, against) = (1.0 - wrong, 1.0 - right_elsewhere);
        // Both can't be: what is left is that it lies here, or not.
        let here = for_it * (1.0 - against);
        let chance = here / (here + 1.0 - for_it).max(1e-12);
        if let Some(p) = &mut places[i] {
            p.chance = chance;
        }
    }
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
