//! Strokes that keep company as letters do: near each other, of like size, thickness and tone.

use super::outline;
use super::strokes::Stroke;
use crate::geometry::{Point, Quad};
use std::collections::HashMap;

/// A cluster of strokes.
#[derive(Debug, Clone)]
pub(crate) struct Group {
    /// Indices of its strokes.
    pub members: Vec<usize>,
    /// Direction of its rows, radians, −π/2 to π/2, positive down to the right.
    pub angle: f64,
    /// Rectangle along the rows, px of the shrunken picture.
    pub outline: Quad,
    /// Median size of its strokes, px.
    pub size: f64,
    /// How far the strokes lie in rows, 0 (anyhow) to 1.
    pub rows: f64,
    /// Chance that it is lettering, 0 to 1.
    pub lettering: f64,
}

/// Clusters strokes of the same polarity, from the stroke `first` on; neighbours stand at most
/// `reach` times their size apart.
pub(crate) fn groups(strokes: &[Stroke], first: usize, reach: f64) -> Vec<Group> {
    let n = strokes.len();
    let mut set: Vec<usize> = (0..n).collect();
    let cell = 48.0f64;
    let key = |p: Point| ((p.x / cell) as i32, (p.y / cell) as i32);
    let mut grid: HashMap<(i32, i32), Vec<usize>> = HashMap::new();
    for (i, s) in strokes.iter().enumerate().skip(first) {
        grid.entry(key(s.centre)).or_default().push(i);
    }
    for (i, s) in strokes.iter().enumerate().skip(first) {
        let (kx, ky) = key(s.centre);
        // A link reaches at most over one's own size and a gap.
        let ring = (((1.4 + reach) * s.size() / cell).ceil() as i32).min(8);
        for gx in kx - ring..=kx + ring {
            for gy in ky - ring..=ky + ring {
                for &j in grid.get(&(gx, gy)).map_or(&[][..], Vec::as_slice) {
                    if i != j && related(s, &strokes[j], reach) {
                        join(&mut set, i, j);
                    }
                }
            }
        }
    }
    let mut parts: HashMap<usize, Vec<usize>> = HashMap::new();
    for i in first..n {
        parts.entry(find(&mut set, i)).or_default().push(i);
    }
    let mut parts: Vec<Vec<usize>> = parts.into_values().collect();
    parts.sort();
    parts.into_iter().map(|m| measured(strokes, m)).collect()
}

fn related(a: &Stroke, b: &Stroke, reach: f64) -> bool {
    let (sa, sb) = (a.size(), b.size());
    let (small, large) = (sa.min(sb), sa.max(sb));
    if large > 2.6 * small {
        return false;
    }
    let dx = gap(a.bounds.x, a.bounds.right(), b.bounds.x, b.bounds.right());
    let dy = gap(a.bounds.y, a.bounds.bottom(), b.bounds.y, b.bounds.bottom());
    if dx.hypot(dy) > reach * (small + large) / 2.0 {
        return false;
    }
    if a.light != b.light || a.plane != b.plane {
        return false;
    }
    let (wa, wb) = (a.width.min(b.width), a.width.max(b.width));
    if wb > 2.0 * wa + 1.0 {
        return false;
    }
    let (ca, cb) = (a.contrast.min(b.contrast), a.contrast.max(b.contrast));
    (a.level - b.level).abs() < 40.0 && cb < 4.0 * ca + 10.0
}

fn gap(a0: i32, a1: i32, b0: i32, b1: i32) -> f64 {
    f64::from((b0 - a1).max(a0 - b1).max(0))
}

fn find(set: &mut [usize], i: usize) -> usize {
    let mut r = i;
    while set[r] != r {
        set[r] = set[set[r]];
        r = set[r];
    }
    r
}

fn join(set: &mut [usize], a: usize, b: usize) {
    let (a, b) = (find(set, a), find(set, b));
    let (low, high) = (a.min(b), a.max(b));
    set[high] = low;
}

/// The middle value; 0 for none.
pub(crate) fn median(mut v: Vec<f64>) -> f64 {
    v.sort_by(f64::total_cmp);
    if v.is_empty() { 0.0 } else { v[v.len() / 2] }
}

/// Spread of values as a share of their mean.
pub(crate) fn variation(v: &[f64]) -> f64 {
    let n = v.len().max(1) as f64;
    let mean = v.iter().sum::<f64>() / n;
    let var = v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
    if mean > 0.0 { var.sqrt() / mean } else { 0.0 }
}

/// A cluster with its measures.
pub(crate) fn measured(strokes: &[Stroke], members: Vec<usize>) -> Group {
    let of: Vec<&Stroke> = members.iter().map(|&i| &strokes[i]).collect();
    let size = median(of.iter().map(|s| s.size()).collect());
    let (angle, rows) = direction(&of, size);
    let points = corners(&of, angle);
    let outline = outline::rectangle(&points, angle);
    let lettering = lettering(&of, rows, size, angle);
    Group {
        members,
        angle,
        outline,
        size,
        rows,
        lettering,
    }
}

/// Points around the strokes, for a rectangle along `angle`.
fn corners(of: &[&Stroke], angle: f64) -> Vec<Point> {
    let (c, s) = (angle.cos(), angle.sin());
    let mut out = Vec::with_capacity(of.len() * 4);
    for m in of {
        if angle.abs() < 0.05 || (angle.abs() - std::f64::consts::FRAC_PI_2).abs() < 0.05 {
            out.extend(m.bounds.quad().0);
            continue;
        }
        let (u, v) = (m.reach(angle), m.reach(angle + std::f64::consts::FRAC_PI_2));
        for (a, b) in [(-u, -v), (u, -v), (u, v), (-u, v)] {
            out.push(Point::new(
                m.centre.x + a * c - b * s,
                m.centre.y + a * s + b * c,
            ));
        }
    }
    out
}

/// The direction in which the strokes fall into the sharpest rows: where the projection of their
/// extents changes most abruptly (Postl 1986), and how far that stands out.
fn direction(of: &[&Stroke], size: f64) -> (f64, f64) {
    if of.len() < 2 {
        // A word runs along its longer side.
        return match of.first() {
            Some(s) if s.sides.0 > 1.6 * s.sides.1 => (s.angle, 0.0),
            _ => (0.0, 0.0),
        };
    }
    let bin = (size / 6.0).max(0.75);
    let ink: f64 = of.iter().map(|m| m.size()).sum();
    let sharp = |angle: f64| -> f64 {
        let (c, s) = (angle.cos(), angle.sin());
        let across: Vec<(f64, f64, f64)> = of
            .iter()
            .map(|m| {
                let v = m.centre.y * c - m.centre.x * s;
                let r = m.reach(angle + std::f64::consts::FRAC_PI_2);
                (v - r, v + r, m.size())
            })
            .collect();
        let low = across.iter().fold(f64::INFINITY, |l, a| l.min(a.0));
        let high = across.iter().fold(f64::NEG_INFINITY, |h, a| h.max(a.1));
        let count = (((high - low) / bin) as usize + 3).min(4096);
        let mut steps = vec![0.0f64; count];
        for (a, b, weight) in across {
            let at = |v: f64| ((((v - low) / bin) as usize) + 1).min(count - 1);
            steps[at(a)] += weight;
            steps[at(b)] -= weight;
        }
        // Edges of rows blur over a bin's bounds: neighbours count together.
        steps.windows(2).map(|w| (w[0] + w[1]).powi(2)).sum::<f64>() / (ink * ink)
    };
    let step = 2.0f64.to_radians();
    let tried: Vec<(f64, f64)> = (-44..=45)
        .map(|k| (f64::from(k) * step, sharp(f64::from(k) * step)))
        .collect();
    // Most writing is level or runs along a bar: those directions win where little tells.
    let favoured = |a: f64, s: f64| -> f64 {
        let off = (a.abs().min((a.abs() - std::f64::consts::FRAC_PI_2).abs())).to_degrees();
        s * (1.0 + 0.25 * (-(off / 8.0).powi(2)).exp())
    };
    let mut best =
        tried
            .iter()
            .map(|&(a, s)| (a, favoured(a, s)))
            .fold(
                (0.0, f64::NEG_INFINITY),
                |b, t| if t.1 > b.1 { t } else { b },
            );
    let usual = median(tried.iter().map(|t| t.1).collect());
    let rows = 1.0 - usual / sharp(best.0).max(1e-12);
    for k in -4..=4 {
        let a = best.0 + f64::from(k) * step / 5.0;
        let s = favoured(a, sharp(a));
        if s > best.1 {
            best = (a, s);
        }
    }
    (best.0, rows)
}

/// Chance that the strokes are lettering: many, in rows, of like thickness and size, with good
/// contrast, not all long and parallel as grain is. Weights set by hand on made backs of other seeds and on the samples.
fn lettering(of: &[&Stroke], rows: f64, size: f64, angle: f64) -> f64 {
    let n = of.len() as f64;
    let width = variation(&of.iter().map(|s| s.width).collect::<Vec<_>>());
    let sizes = variation(&of.iter().map(|s| s.size()).collect::<Vec<_>>());
    let contrast = median(of.iter().map(|s| s.contrast).collect());
    let grain = grain(of);
    // A few strokes askew are rather the wedges and mitres of the corners than writing.
    let off = (2.0 * angle).sin().abs();
    let slanted = if n < 8.0 {
        1.5 * ((off - 0.4) / 0.4).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let z = -2.4 + 1.3 * n.ln() + 1.5 * rows - 1.5 * width - 1.0 * sizes
        + 0.03 * contrast.min(80.0)
        + 0.02 * size.min(40.0)
        - 5.0 * grain
        - slanted;
    crate::chance::logistic(z)
}

/// How far the strokes are long and parallel, 0 to 1.
pub(crate) fn grain(of: &[&Stroke]) -> f64 {
    let (mut x, mut y, mut all) = (0.0, 0.0, 0.0);
    for s in of {
        let long = 1.0 - s.sides.1 / s.sides.0;
        // Double angles: a direction has no head.
        x += long * (2.0 * s.angle).cos();
        y += long * (2.0 * s.angle).sin();
        all += 1.0;
    }
    let mean = f64::hypot(x, y) / f64::max(all, 1.0);
    ((mean - 0.6) / 0.3).clamp(0.0, 1.0)
}

/// Joins clusters that carry on the same row: of like size and tone, their rectangles no further
/// apart than a word space along the row; `stacked`: also those that stand above each other no
/// further apart than lines. The likelihood is that of all strokes together.
pub(crate) fn joined(strokes: &[Stroke], mut groups: Vec<Group>, stacked: bool) -> Vec<Group> {
    loop {
        let mut pair = None;
        'search: for i in 0..groups.len() {
            for j in i + 1..groups.len() {
                if carries_on(strokes, &groups[i], &groups[j], stacked) {
                    pair = Some((i, j));
                    break 'search;
                }
            }
        }
        let Some((i, j)) = pair else { return groups };
        let other = groups.swap_remove(j);
        let mut members = std::mem::take(&mut groups[i].members);
        members.extend(other.members);
        members.sort_unstable();
        members.dedup();
        groups[i] = measured(strokes, members);
    }
}

fn carries_on(strokes: &[Stroke], a: &Group, b: &Group, stacked: bool) -> bool {
    let (small, large) = (a.size.min(b.size), a.size.max(b.size));
    let (Some(&fa), Some(&fb)) = (a.members.first(), b.members.first()) else {
        return false;
    };
    let (a0, b0) = (&strokes[fa], &strokes[fb]);
    if large > 2.0 * small || a0.light != b0.light || a0.plane != b0.plane {
        return false;
    }
    // The likelier cluster gives the row's direction.
    let (base, other) = if a.lettering >= b.lettering {
        (a, b)
    } else {
        (b, a)
    };
    let (c, s) = (base.angle.cos(), base.angle.sin());
    let span = |q: &Quad, along: bool| -> (f64, f64) {
        q.0.iter()
            .map(|p| {
                if along {
                    p.x * c + p.y * s
                } else {
                    p.y * c - p.x * s
                }
            })
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
                (l.min(v), h.max(v))
            })
    };
    let (a0, a1) = span(&base.outline, true);
    let (b0, b1) = span(&other.outline, true);
    let (c0, c1) = span(&base.outline, false);
    let (d0, d1) = span(&other.outline, false);
    let apart = (b0 - a1).max(a0 - b1);
    let shared = c1.min(d1) - c0.max(d0);
    if stacked && -apart > 0.5 * (a1 - a0).min(b1 - b0) && -shared < 1.3 * large {
        return true;
    }
    apart < 2.0 * large && shared > 0.5 * (c1 - c0).min(d1 - d0)
}

/// Rings (the border of an oval or round stamp) drawn into the clusters that stand within them, so
/// that ring and lettering are one mark.
pub(crate) fn ringed(strokes: &[Stroke], groups: Vec<Group>) -> Vec<Group> {
    let (single, mut groups): (Vec<Group>, Vec<Group>) =
        groups.into_iter().partition(|g| g.members.len() == 1);
    let mut rings: Vec<Group> = single
        .into_iter()
        .filter(|g| {
            let s = &strokes[g.members[0]];
            let (long, short) = (s.bounds.w.max(s.bounds.h), s.bounds.w.min(s.bounds.h));
            s.width < 0.12 * s.size() && long < 4 * short
        })
        .collect();
    rings.sort_by(|a, b| b.outline.area().total_cmp(&a.outline.area()));
    for ring in rings {
        let light = strokes[ring.members[0]].light;
        let bounds = strokes[ring.members[0]].bounds.quad();
        let (inside, outside): (Vec<Group>, Vec<Group>) = groups.into_iter().partition(|g| {
            strokes[g.members[0]].light == light
                && strokes[g.members[0]].plane == strokes[ring.members[0]].plane
                && bounds.overlap(&g.outline) > 0.7 * g.outline.area()
        });
        groups = outside;
        let members: Vec<usize> = inside.iter().flat_map(|g| g.members.clone()).collect();
        if members.len() < 4 {
            groups.extend(inside);
            continue;
        }
        let mut all = measured(strokes, members);
        let mut points = all.outline.0.to_vec();
        let s = &strokes[ring.members[0]];
        let (c, n) = (all.angle.cos(), all.angle.sin());
        let (u, v) = (
            s.reach(all.angle),
            s.reach(all.angle + std::f64::consts::FRAC_PI_2),
        );
        // A thin ring's moments reach 1.22 times as far as those of a filled patch of its size.
        let (u, v) = (u / 1.22, v / 1.22);
        for (a, b) in [(-u, -v), (u, -v), (u, v), (-u, v)] {
            points.push(Point::new(
                s.centre.x + a * c - b * n,
                s.centre.y + a * n + b * c,
            ));
        }
        all.outline = outline::rectangle(&points, all.angle);
        groups.push(all);
    }
    groups
}
