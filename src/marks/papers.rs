//! Patches that may be paper: four-cornered, of one tone, set off from what they lie on.

use super::outline;
use super::raster;
use super::tree::{self, Tree};
use crate::geometry::{Point, Quad};
use image::GrayImage;
use rayon::prelude::*;

/// A patch that may be paper, px of the picture it was found on.
#[derive(Debug, Clone)]
pub(crate) struct Paper {
    /// Corners, clockwise.
    pub outline: Quad,
    /// How far it fills its four corners and keeps its shape, 0 to 1.
    pub form: f64,
    /// Contrast across its sides, grey values: the weakest side and the mean.
    pub edge: (f64, f64),
    /// How much lighter it is than what lies around it, grey values.
    pub step: f64,
    /// How far its colour lies from that around it, units of the opponent planes.
    pub tint: f64,
    /// Spread of its own lightness, lettering left out.
    pub unrest: f64,
}

/// Shares of the picture's area that a label can have.
const SHARES: (f64, f64) = (0.0006, 0.97);
/// Least area of the patch over that of the rectangle with the same moments.
const FULL: f64 = 0.72;

/// Finds patches on the three opponent planes, both polarities.
pub(crate) fn papers(planes: &[GrayImage; 3]) -> Vec<Paper> {
    let radius = 2;
    let light = raster::closed(&planes[0], radius);
    let dark = raster::inverted(&planes[0]);
    let dark = raster::closed(&dark, radius);
    let sources = [
        (light.clone(), 6u8),
        (dark, 6),
        (raster::softened(&planes[1]), 3),
        (raster::inverted(&raster::softened(&planes[1])), 3),
        (raster::softened(&planes[2]), 3),
        (raster::inverted(&raster::softened(&planes[2])), 3),
    ];
    let found: Vec<Paper> = sources
        .par_iter()
        .flat_map_iter(|(plane, step)| patches(plane, *step))
        .collect();
    let calm = [
        light,
        raster::softened(&planes[1]),
        raster::softened(&planes[2]),
    ];
    let mut found: Vec<Paper> = found
        .into_iter()
        .map(|mut p| {
            p.edge = edges(&calm, &p.outline);
            (p.step, p.tint, p.unrest) = tone(&calm, &p.outline);
            p
        })
        .filter(|p| p.edge.1 > 4.0)
        .collect();
    // The same patch shows on several planes and levels: keep its best form.
    found.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    let mut kept: Vec<Paper> = Vec::new();
    for p in found {
        if !kept.iter().any(|k| k.outline.iou(&p.outline) > 0.8) {
            kept.push(p);
        }
    }
    kept
}

/// Form and edge in one figure.
pub(crate) fn worth(p: &Paper) -> f64 {
    p.form * (p.edge.0.max(0.0) + p.edge.1).min(80.0)
}

fn patches(plane: &GrayImage, step: u8) -> Vec<Paper> {
    let tree = Tree::of(plane);
    let all = f64::from(plane.width()) * f64::from(plane.height());
    let growth = tree.growth(step);
    let form = |i: usize| -> f64 {
        let n = &tree.nodes[i];
        let share = f64::from(n.area) / all;
        if share < SHARES.0 || share > SHARES.1 || growth[i] > 0.7 {
            return 0.0;
        }
        let full = n.fullness();
        if full < FULL {
            return 0.0;
        }
        full.min(1.0) / (1.0 + f64::from(growth[i]))
    };
    let mut picks: Vec<(f64, usize)> = Vec::new();
    let mut forms = vec![0.0f64; tree.nodes.len()];
    for (i, f) in forms.iter_mut().enumerate() {
        *f = form(i);
    }
    // One for each run of patches that hardly grow.
    let mut beaten = vec![false; tree.nodes.len()];
    for i in 0..tree.nodes.len() {
        let up = tree.nodes[i].parent as usize;
        if up == i || forms[i] <= 0.0 {
            continue;
        }
        if forms[up] > 0.0 && f64::from(tree.nodes[up].area) < 1.3 * f64::from(tree.nodes[i].area) {
            if forms[up] >= forms[i] {
                beaten[i] = true;
            } else {
                beaten[up] = true;
            }
        }
    }
    for (i, &f) in forms.iter().enumerate() {
        if f > 0.0 && !beaten[i] {
            picks.push((f, i));
        }
    }
    picks.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    picks.truncate(120);
    picks
        .into_iter()
        .filter_map(|(form, i)| {
            let node = &tree.nodes[i];
            let points = rim(&tree::pixels(plane, node), node.bounds());
            let hull = outline::hull(&points);
            if hull.len() < 4 {
                return None;
            }
            let quad = outline::four_corners(&hull);
            let filled = f64::from(node.area) / quad.area().max(1.0);
            let (w, h) = quad.size();
            (filled > 0.6 && w.min(h) > 5.0 && w.max(h) < 14.0 * w.min(h)).then(|| Paper {
                outline: quad,
                form: form * filled.min(1.0),
                edge: (0.0, 0.0),
                step: 0.0,
                tint: 0.0,
                unrest: 0.0,
            })
        })
        .collect()
}

/// Difference in tone and colour across each side: the weakest side's and the mean. Sides along
/// the picture's own edge count as the others' mean.
fn edges(planes: &[GrayImage; 3], quad: &Quad) -> (f64, f64) {
    let c = quad.centre();
    let (w, h) = (f64::from(planes[0].width()), f64::from(planes[0].height()));
    let at = |plane: &GrayImage, p: Point| -> f64 {
        f64::from(
            plane
                .get_pixel(
                    (p.x.max(0.0) as u32).min(plane.width() - 1),
                    (p.y.max(0.0) as u32).min(plane.height() - 1),
                )
                .0[0],
        )
    };
    let mut sides = Vec::new();
    for i in 0..4 {
        let (a, b) = (quad.0[i], quad.0[(i + 1) % 4]);
        let long = a.distance(b).max(1.0);
        let (mut nx, mut ny) = ((b.y - a.y) / long, -(b.x - a.x) / long);
        let mid = Point::new((a.x + b.x) / 2.0, (a.y + b.y) / 2.0);
        if (mid.x - c.x) * nx + (mid.y - c.y) * ny < 0.0 {
            (nx, ny) = (-nx, -ny);
        }
        let mut diffs = Vec::new();
        for k in 1..16 {
            let t = f64::from(k) / 16.0;
            let p = Point::new(a.x + t * (b.x - a.x), a.y + t * (b.y - a.y));
            let (inner, outer) = (
                Point::new(p.x - 3.0 * nx, p.y - 3.0 * ny),
                Point::new(p.x + 3.0 * nx, p.y + 3.0 * ny),
            );
            if outer.x < 1.0 || outer.y < 1.0 || outer.x > w - 1.0 || outer.y > h - 1.0 {
                continue;
            }
            let d: f64 = planes
                .iter()
                .map(|pl| (at(pl, inner) - at(pl, outer)).powi(2))
                .sum::<f64>()
                .sqrt();
            diffs.push(d);
        }
        if diffs.len() >= 4 {
            sides.push(super::groups::median(diffs));
        }
    }
    if sides.is_empty() {
        return (0.0, 0.0);
    }
    let mean = sides.iter().sum::<f64>() / sides.len() as f64;
    (sides.iter().copied().fold(f64::INFINITY, f64::min), mean)
}

/// Corners of the outermost px of each row: the hull of a patch needs no others.
fn rim(pixels: &[(u16, u16)], bounds: crate::geometry::Rect) -> Vec<Point> {
    let top = bounds.y;
    let mut rows = vec![(u16::MAX, 0u16); bounds.h as usize];
    for &(x, y) in pixels {
        let row = &mut rows[(i32::from(y) - top) as usize];
        *row = (row.0.min(x), row.1.max(x));
    }
    rows.iter()
        .enumerate()
        .filter(|(_, r)| r.0 <= r.1)
        .flat_map(|(i, r)| {
            let y = f64::from(top) + i as f64;
            let (l, r) = (f64::from(r.0), f64::from(r.1) + 1.0);
            [
                Point::new(l, y),
                Point::new(r, y),
                Point::new(l, y + 1.0),
                Point::new(r, y + 1.0),
            ]
        })
        .collect()
}

/// Mean lightness inside less that around, the like for colour, and the spread of lightness inside.
fn tone(planes: &[GrayImage; 3], quad: &Quad) -> (f64, f64, f64) {
    const SIDE: i32 = 12;
    let (mut inside, mut outside) = (Vec::new(), Vec::new());
    for i in -2..SIDE + 2 {
        for j in -2..SIDE + 2 {
            let (u, v) = (
                (f64::from(i) + 0.5) / f64::from(SIDE),
                (f64::from(j) + 0.5) / f64::from(SIDE),
            );
            let p = quad.at(u, v);
            if p.x < 0.0 || p.y < 0.0 {
                continue;
            }
            let (x, y) = (p.x as u32, p.y as u32);
            if x >= planes[0].width() || y >= planes[0].height() {
                continue;
            }
            let value = [0, 1, 2].map(|k| f64::from(planes[k].get_pixel(x, y).0[0]));
            if (0..SIDE).contains(&i) && (0..SIDE).contains(&j) {
                inside.push(value);
            } else {
                outside.push(value);
            }
        }
    }
    let mean =
        |v: &[[f64; 3]], k: usize| v.iter().map(|p| p[k]).sum::<f64>() / v.len().max(1) as f64;
    if inside.is_empty() || outside.is_empty() {
        return (0.0, 0.0, 0.0);
    }
    let m = mean(&inside, 0);
    let spread =
        (inside.iter().map(|p| (p[0] - m).powi(2)).sum::<f64>() / inside.len() as f64).sqrt();
    let tint = (mean(&inside, 1) - mean(&outside, 1)).hypot(mean(&inside, 2) - mean(&outside, 2));
    (m - mean(&outside, 0), tint, spread)
}
