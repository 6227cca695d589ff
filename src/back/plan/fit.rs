//! The plane map between two photographs of one surface, from features that look alike.
//!
//! Each likeness of two features proposes a shift, turn and scale of its own; those that most others
//! agree with are refined to plane maps by weighted Gauss-Newton steps. Then every feature is looked
//! for where the map says that it lies, and the map is fitted to what is found.

use super::alike::{Likeness, Opened};
use super::features::{Features, Spot, turn};
use crate::geometry::{Homography, solve};

/// Least and greatest scale between two photographs.
const SCALES: (f64, f64) = (1.0 / 16.0, 16.0);

/// Proposals that are refined.
const TRIED: usize = 24;

/// Square of the distance of two descriptions up to which two features at one place count as alike.
const ALIKE: i32 = 640;

/// Spread, in the measure of [`Frame`], that the perspective terms of a map are expected to have, and of its
/// departure from a mere turn and scale. Hand-held views up to 30° off the square stay within two.
const PERSPECTIVE: f64 = 0.12;
const UNEVEN: f64 = 0.12;

/// How far off the plane the surface's parts may lie, in the measure of [`Frame`].
const RELIEF: f64 = 0.0012;

/// A photograph's own measure: the middle 0, half the longer side 1.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    x: f64,
    y: f64,
    half: f64,
}

impl Frame {
    pub fn of(f: &Features) -> Frame {
        let (x, y) = (f64::from(f.width) / 2.0, f64::from(f.height) / 2.0);
        Frame {
            x,
            y,
            half: x.max(y),
        }
    }

    fn inward(&self) -> [f64; 9] {
        let s = self.half;
        [
            1.0 / s,
            0.0,
            -self.x / s,
            0.0,
            1.0 / s,
            -self.y / s,
            0.0,
            0.0,
            1.0,
        ]
    }

    fn outward(&self) -> [f64; 9] {
        [
            self.half, 0.0, self.x, 0.0, self.half, self.y, 0.0, 0.0, 1.0,
        ]
    }

    fn mark(&self, s: &Spot) -> Mark {
        Mark {
            x: (f64::from(s.x) - self.x) / self.half,
            y: (f64::from(s.y) - self.y) / self.half,
            size: f64::from(s.size) / self.half,
            angle: s.angle,
        }
    }
}

/// A feature in its frame's measure.
#[derive(Clone, Copy)]
struct Mark {
    x: f64,
    y: f64,
    size: f64,
    angle: f32,
}

/// One feature found where a map says that it lies.
#[derive(Clone, Copy)]
struct Held {
    a: usize,
    b: usize,
    weight: f64,
}

/// How two photographs lie to each other.
#[derive(Debug, Clone)]
pub struct Fit {
    /// px of the first to px of the second.
    pub map: Homography,
    /// Expected error, px of the second, over the part of the first that the second shows.
    pub error_px: f64,
    /// px of the second for one px of the first, where both show something.
    pub px_scale: f64,
    /// What speaks for it.
    pub signs: Signs,
}

/// What a fit is weighed by.
#[derive(Debug, Clone, Copy, Default)]
pub struct Signs {
    /// Features found alike where they should lie.
    pub alike: f64,
    /// Features that have another where they should lie, alike or not.
    pub seen: f64,
    /// As `alike` for the best fit at another place, and its `seen`.
    pub rival_alike: f64,
    pub rival_seen: f64,
    /// Root of the area that the found features spread over, of that where both show something.
    pub spread: f64,
    /// Likenesses that agree with the map, and all.
    pub agreeing: f64,
    pub likenesses: f64,
    /// Scale, second's frame to the first's.
    pub scale: f64,
}

/// One side of a comparison.
pub(super) struct Side<'a> {
    pub features: &'a Features,
    pub opened: &'a Opened,
}

/// The map from the first to the second, if any proposal holds.
pub(super) fn fit(a: &Side, b: &Side, likenesses: &[Likeness]) -> Option<Fit> {
    let pair = Pair::new(a, b, likenesses);
    let proposals = pair.proposals();
    let first = proposals.first()?;
    if first.1[0].hypot(first.1[3]) <= 1.0 {
        return pair.best(&proposals);
    }
    // From the finer to the coarser: what a close-up shows lies within the other.
    let turned: Vec<Likeness> = likenesses
        .iter()
        .map(|l| Likeness {
            a: l.b,
            b: l.a,
            ..*l
        })
        .collect();
    let pair = Pair::new(b, a, &turned);
    let fit = pair.best(&pair.proposals())?;
    fit.inverted()
}

impl Fit {
    fn inverted(&self) -> Option<Fit> {
        let map = inverse(&self.map)?;
        let scale = self.signs.scale;
        Some(Fit {
            map,
            error_px: self.error_px / self.px_scale,
            px_scale: 1.0 / self.px_scale,
            signs: Signs {
                scale: 1.0 / scale,
                ..self.signs
            },
        })
    }
}

struct Pair<'a> {
    a: &'a Side<'a>,
    b: &'a Side<'a>,
    fa: Frame,
    fb: Frame,
    ma: Vec<Mark>,
    mb: Vec<Mark>,
    likenesses: &'a [Likeness],
    grid: Grid,
}

impl<'a> Pair<'a> {
    fn new(a: &'a Side, b: &'a Side, likenesses: &'a [Likeness]) -> Pair<'a> {
        let (fa, fb) = (Frame::of(a.features), Frame::of(b.features));
        let marks = |f: &Frame, s: &Side| s.features.spots.iter().map(|s| f.mark(s)).collect();
        let mb: Vec<Mark> = marks(&fb, b);
        Pair {
            ma: marks(&fa, a),
            grid: Grid::of(&mb),
            mb,
            a,
            b,
            fa,
            fb,
            likenesses,
        }
    }

    /// Shifts, turns and scales with the weight of the likenesses that agree, heaviest first, none
    /// near another.
    fn proposals(&self) -> Vec<(f64, [f64; 8])> {
        let mut all: Vec<(f64, [f64; 8])> = self
            .likenesses
            .iter()
            .filter_map(|l| {
                let (p, q) = (self.ma[l.a], self.mb[l.b]);
                let scale = q.size / p.size;
                if scale < SCALES.0 || scale > SCALES.1 {
                    return None;
                }
                let angle = f64::from(turn(p.angle, q.angle));
                let (s, c) = (scale * angle.sin(), scale * angle.cos());
                let h = [
                    c,
                    -s,
                    q.x - c * p.x + s * p.y,
                    s,
                    c,
                    q.y - s * p.x - c * p.y,
                    0.0,
                    0.0,
                ];
                Some((self.support(&h, scale, angle as f32), h))
            })
            .filter(|p| p.0 >= 2.0)
            .collect();
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut kept: Vec<(f64, [f64; 8])> = Vec::new();
        for p in all {
            if kept.iter().all(|k| apart(&k.1, &p.1) > 0.08) {
                kept.push(p);
                if kept.len() == TRIED {
                    break;
                }
            }
        }
        kept
    }

    fn support(&self, h: &[f64; 8], scale: f64, angle: f32) -> f64 {
        let loose = 0.06 * scale + 0.004;
        self.likenesses
            .iter()
            .filter(|l| {
                let (p, q) = (self.ma[l.a], self.mb[l.b]);
                let (x, y) = (
                    h[0] * p.x + h[1] * p.y + h[2] - q.x,
                    h[3] * p.x + h[4] * p.y + h[5] - q.y,
                );
                let ratio = q.size / (p.size * scale);
                x * x + y * y < loose * loose
                    && (0.6..1.67).contains(&ratio)
                    && turn(p.angle + angle, q.angle).abs() < 0.5
            })
            .map(|l| f64::from(l.weight))
            .sum()
    }

    fn best(&self, proposals: &[(f64, [f64; 8])]) -> Option<Fit> {
        let top = proposals.first()?.0;
        let mut tried: Vec<(Signs, [f64; 8], Vec<Held>)> = proposals
            .iter()
            .filter(|p| p.0 >= 0.25 * top)
            .filter_map(|p| self.refined(p.1))
            .collect();
        tried.sort_by(|a, b| weight(&b.0).total_cmp(&weight(&a.0)));
        let (signs, h, held) = tried.first()?;
        let rival = tried
            .iter()
            .skip(1)
            .find(|t| apart(&t.1, h) > 0.08 * signs.scale.sqrt());
        let signs = Signs {
            rival_alike: rival.map_or(0.0, |r| r.0.alike),
            rival_seen: rival.map_or(0.0, |r| r.0.seen),
            ..*signs
        };
        Some(Fit {
            map: self.in_px(h),
            error_px: self.error(h, held) * self.fb.half,
            px_scale: signs.scale * self.fb.half / self.fa.half,
            signs,
        })
    }

    fn in_px(&self, h: &[f64; 8]) -> Homography {
        let h = [h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0];
        let m = times(&self.fb.outward(), &times(&h, &self.fa.inward()));
        Homography(m.map(|v| v / m[8]))
    }

    /// Refines a proposal, first by the likenesses, then by all that is found where it should lie.
    fn refined(&self, mut h: [f64; 8]) -> Option<(Signs, [f64; 8], Vec<Held>)> {
        let scale = h[0].hypot(h[3]);
        let mut agreeing = 0;
        for loose in [
            0.06 * scale + 0.004,
            0.03 * scale + 0.003,
            0.012 * scale + 0.002,
            0.0,
        ] {
            let held: Vec<Held> = self
                .likenesses
                .iter()
                .filter(|l| self.off(&h, l.a, l.b) < loose.max(2.0 * self.room(&h, l.a, l.b)))
                .map(|l| Held {
                    a: l.a,
                    b: l.b,
                    weight: f64::from(l.weight),
                })
                .collect();
            if held.len() < 3 {
                return None;
            }
            agreeing = held.len();
            h = self.fitted(h, &held, loose)?;
            if !plausible(&h) {
                return None;
            }
        }
        let mut found = (0, Vec::new());
        for reach in [3.0, 2.0, 1.5] {
            found = self.found(&h, reach);
            if found.1.len() < 4 {
                return None;
            }
            h = self.fitted(h, &found.1, 0.0)?;
            if !plausible(&h) {
                return None;
            }
        }
        let signs = Signs {
            alike: found.1.len() as f64,
            seen: found.0 as f64,
            spread: self.spread(&found.1),
            agreeing: agreeing as f64,
            likenesses: self.likenesses.len() as f64,
            scale: local(&h, 0.0, 0.0).map_or(scale, |l| (l[0] * l[3] - l[1] * l[2]).abs().sqrt()),
            ..Signs::default()
        };
        Some((signs, h, found.1))
    }

    /// Distance on the second between where a feature should lie and where the other does.
    fn off(&self, h: &[f64; 8], a: usize, b: usize) -> f64 {
        let (x, y) = to(h, self.ma[a].x, self.ma[a].y);
        (x - self.mb[b].x).hypot(y - self.mb[b].y)
    }

    /// Expected error of a feature's place.
    fn room(&self, h: &[f64; 8], a: usize, b: usize) -> f64 {
        let scale = h[0].hypot(h[3]);
        0.6 * self.mb[b].size.max(self.ma[a].size * scale) + RELIEF
    }

    /// Features that lie where they should and look alike; and how many have another there at all.
    fn found(&self, h: &[f64; 8], reach: f64) -> (usize, Vec<Held>) {
        let (mut seen, mut held) = (0, Vec::new());
        let mut taken = vec![(i32::MAX, usize::MAX); self.mb.len()];
        for (a, p) in self.ma.iter().enumerate() {
            let (x, y) = to(h, p.x, p.y);
            let Some(l) = local(h, p.x, p.y) else {
                continue;
            };
            let scale = (l[0] * l[3] - l[1] * l[2]).abs().sqrt();
            let (s, c) = f64::from(p.angle).sin_cos();
            let angle = (l[2] * c + l[3] * s).atan2(l[0] * c + l[1] * s) as f32;
            let size = p.size * scale;
            let far = reach * (0.6 * 1.4 * size + RELIEF);
            let mut best: Option<(i32, usize)> = None;
            for b in self.grid.near(x, y, far) {
                let q = self.mb[b];
                let ratio = q.size / size;
                if !(0.7..1.43).contains(&ratio)
                    || turn(angle, q.angle).abs() > 0.4
                    || self.off(h, a, b) > reach * self.room(h, a, b)
                {
                    continue;
                }
                let d = self.a.opened.distance(a, self.b.opened, b);
                if best.is_none_or(|o| d < o.0) {
                    best = Some((d, b));
                }
            }
            if let Some((d, b)) = best {
                seen += 1;
                if d < ALIKE && d < taken[b].0 {
                    taken[b] = (d, a);
                }
            }
        }
        for (b, t) in taken.iter().enumerate() {
            if t.1 != usize::MAX {
                held.push(Held {
                    a: t.1,
                    b,
                    weight: 1.0,
                });
            }
        }
        (seen, held)
    }

    /// Four rounds of Gauss-Newton steps with Cauchy weights.
    fn fitted(&self, start: [f64; 8], held: &[Held], loose: f64) -> Option<[f64; 8]> {
        let mut h = start;
        for _ in 0..4 {
            let mut m = self.normal(&h, held, loose);
            let step = solve_step(&mut m)?;
            for (v, d) in h.iter_mut().zip(step) {
                *v += d;
            }
        }
        h.iter().all(|v| v.is_finite()).then_some(h)
    }

    /// Normal equations of the errors and of what is expected of a map, the right side last.
    fn normal(&self, h: &[f64; 8], held: &[Held], loose: f64) -> [[f64; 9]; 8] {
        let mut m = [[0.0f64; 9]; 8];
        let mut add = |row: &[f64; 8], rest: f64, weight: f64| {
            for i in 0..8 {
                let wi = weight * row[i];
                if wi != 0.0 {
                    for j in 0..8 {
                        m[i][j] += wi * row[j];
                    }
                    m[i][8] += wi * rest;
                }
            }
        };
        for k in held {
            let (p, q) = (self.ma[k.a], self.mb[k.b]);
            let [gx, gy] = rows(h, p.x, p.y);
            let (x, y) = to(h, p.x, p.y);
            let (rx, ry) = (q.x - x, q.y - y);
            let room = self.room(h, k.a, k.b).max(loose / 3.0);
            let r = (rx * rx + ry * ry) / (room * room);
            let weight = k.weight / (1.0 + r) / (room * room);
            add(&gx, rx, weight);
            add(&gy, ry, weight);
        }
        let scale = (h[0] * h[4] - h[1] * h[3]).abs().sqrt().max(1e-6);
        let expected = |at: &[(usize, f64)]| {
            let mut row = [0.0; 8];
            at.iter().for_each(|&(i, v)| row[i] = v);
            row
        };
        let p = 1.0 / (PERSPECTIVE * PERSPECTIVE);
        add(&expected(&[(6, 1.0)]), -h[6], p);
        add(&expected(&[(7, 1.0)]), -h[7], p);
        let u = 1.0 / (UNEVEN * UNEVEN * scale * scale);
        add(&expected(&[(0, 1.0), (4, -1.0)]), h[4] - h[0], u);
        add(&expected(&[(1, 1.0), (3, 1.0)]), -h[1] - h[3], u);
        m
    }

    /// Root of the mean square error that the fit leaves over the first's frame, as far as the second
    /// shows it.
    fn error(&self, h: &[f64; 8], held: &[Held]) -> f64 {
        let m = self.normal(h, held, 0.0);
        let off: f64 = held
            .iter()
            .map(|k| {
                let r = self.off(h, k.a, k.b) / self.room(h, k.a, k.b);
                r * r / (1.0 + r * r)
            })
            .sum::<f64>()
            / (2.0 * held.len() as f64);
        let (mut sum, mut n) = (0.0, 0.0f64);
        for (i, j) in (0..25).map(|k| (k % 5, k / 5)) {
            let x = (f64::from(i) / 2.0 - 1.0) * self.fa.x / self.fa.half;
            let y = (f64::from(j) / 2.0 - 1.0) * self.fa.y / self.fa.half;
            let (u, v) = to(h, x, y);
            if u.abs() > self.fb.x / self.fb.half || v.abs() > self.fb.y / self.fb.half {
                continue;
            }
            for row in rows(h, x, y) {
                let mut with = m;
                with.iter_mut().zip(row).for_each(|(m, r)| m[8] = r);
                if let Some(s) = solve_step(&mut with) {
                    sum += s.iter().zip(row).map(|(s, r)| s * r).sum::<f64>() * off;
                }
            }
            n += 1.0;
        }
        (sum / n.max(1.0)).sqrt()
    }

    /// Root of the area that features spread over on the first, of the frame's.
    fn spread(&self, held: &[Held]) -> f64 {
        let n = held.len() as f64;
        let mean =
            |f: &dyn Fn(&Mark) -> f64| held.iter().map(|k| f(&self.ma[k.a])).sum::<f64>() / n;
        let (mx, my) = (mean(&|m| m.x), mean(&|m| m.y));
        let xx = mean(&|m| (m.x - mx).powi(2));
        let yy = mean(&|m| (m.y - my).powi(2));
        let xy = mean(&|m| (m.x - mx) * (m.y - my));
        let frame = self.fa.x * self.fa.y / (self.fa.half * self.fa.half) / 3.0;
        ((xx * yy - xy * xy).max(0.0).sqrt() / frame).sqrt()
    }
}

/// Fits are tried in the order of this: features found alike over what would be by chance.
fn weight(s: &Signs) -> f64 {
    s.alike * (s.alike / s.seen.max(1.0))
}

/// How far two maps lie apart, the larger of the shifts of the middle and of a corner, in the second's measure.
fn apart(g: &[f64; 8], h: &[f64; 8]) -> f64 {
    [(0.0, 0.0), (0.7, 0.5), (-0.7, 0.5)]
        .iter()
        .map(|&(x, y)| {
            let (p, q) = (to(g, x, y), to(h, x, y));
            (p.0 - q.0).hypot(p.1 - q.1)
        })
        .fold(0.0, f64::max)
}

#[inline]
fn to(h: &[f64; 8], x: f64, y: f64) -> (f64, f64) {
    let w = h[6] * x + h[7] * y + 1.0;
    (
        (h[0] * x + h[1] * y + h[2]) / w,
        (h[3] * x + h[4] * y + h[5]) / w,
    )
}

/// How the place changes with each number of the map.
fn rows(h: &[f64; 8], x: f64, y: f64) -> [[f64; 8]; 2] {
    let w = h[6] * x + h[7] * y + 1.0;
    let (u, v) = to(h, x, y);
    [
        [x / w, y / w, 1.0 / w, 0.0, 0.0, 0.0, -u * x / w, -u * y / w],
        [0.0, 0.0, 0.0, x / w, y / w, 1.0 / w, -v * x / w, -v * y / w],
    ]
}

/// The map's derivative at a place, row by row; none at or beyond the horizon.
fn local(h: &[f64; 8], x: f64, y: f64) -> Option<[f64; 4]> {
    let w = h[6] * x + h[7] * y + 1.0;
    if w < 0.05 {
        return None;
    }
    let (u, v) = to(h, x, y);
    Some([
        (h[0] - u * h[6]) / w,
        (h[1] - u * h[7]) / w,
        (h[3] - v * h[6]) / w,
        (h[4] - v * h[7]) / w,
    ])
}

/// Whether a camera could have taken both: no mirror, nothing beyond the horizon, no scale and no
/// squeezing past what is seen at 60° off the square.
fn plausible(h: &[f64; 8]) -> bool {
    let mut sizes = (f64::INFINITY, 0.0f64);
    for (x, y) in [
        (0.0, 0.0),
        (1.0, 0.75),
        (-1.0, 0.75),
        (1.0, -0.75),
        (-1.0, -0.75),
    ] {
        let Some([a, b, c, d]) = local(h, x, y) else {
            return false;
        };
        let det = a * d - b * c;
        let sum = a * a + b * b + c * c + d * d;
        // det = product of the singular values, sum = of their squares.
        if det <= 0.0 || sum > 2.5 * det {
            return false;
        }
        let scale = det.sqrt();
        sizes = (sizes.0.min(scale), sizes.1.max(scale));
    }
    sizes.0 > SCALES.0 && sizes.1 < SCALES.1 && sizes.1 < 4.0 * sizes.0
}

fn solve_step(m: &mut [[f64; 9]; 8]) -> Option<[f64; 8]> {
    solve(*m)
}

pub(super) fn times(a: &[f64; 9], b: &[f64; 9]) -> [f64; 9] {
    std::array::from_fn(|i| (0..3).map(|k| a[i / 3 * 3 + k] * b[k * 3 + i % 3]).sum())
}

/// The map back.
pub(super) fn inverse(map: &Homography) -> Option<Homography> {
    let [a, b, c, d, e, f, g, h, i] = map.0;
    let m = [
        e * i - f * h,
        c * h - b * i,
        b * f - c * e,
        f * g - d * i,
        a * i - c * g,
        c * d - a * f,
        d * h - e * g,
        b * g - a * h,
        a * e - b * d,
    ];
    let m = m.map(|v| v / m[8]);
    m.iter().all(|v| v.is_finite()).then_some(Homography(m))
}

/// Second, then first.
pub(super) fn after(second: &Homography, first: &Homography) -> Homography {
    let m = times(&second.0, &first.0);
    Homography(m.map(|v| v / m[8]))
}

/// Features by place.
struct Grid {
    cells: Vec<Vec<u32>>,
}

/// Cells across a frame.
const ACROSS: usize = 64;

impl Grid {
    fn of(marks: &[Mark]) -> Grid {
        let mut cells = vec![Vec::new(); ACROSS * ACROSS];
        for (i, m) in marks.iter().enumerate() {
            cells[cell(m.y) * ACROSS + cell(m.x)].push(i as u32);
        }
        Grid { cells }
    }

    fn near(&self, x: f64, y: f64, far: f64) -> impl Iterator<Item = usize> + '_ {
        let inside = x.abs() < 1.0 + far && y.abs() < 1.0 + far;
        let (x0, x1, y0, y1) = (cell(x - far), cell(x + far), cell(y - far), cell(y + far));
        (y0..=y1)
            .filter(move |_| inside)
            .flat_map(move |j| (x0..=x1).map(move |i| j * ACROSS + i))
            .flat_map(|c| self.cells[c].iter().map(|&i| i as usize))
    }
}

fn cell(v: f64) -> usize {
    (((v + 1.0) / 2.0 * ACROSS as f64) as usize).min(ACROSS - 1)
}
