//! The plane map between two photographs of one surface, from features that look alike.
//!
//! Each likeness of two features proposes a shift, turn and scale of its own; those that most others
//! agree with are refined to plane maps by weighted Gauss-Newton steps. Then every feature is looked
//! for where the map says that it lies, and the map is fitted to what is found.

use super::alike::{Likeness, Opened};
use super::features::{Features, turn};
use super::frame::{Frame, Grid, Mark};
use super::map::{SCALES, apart, local, plausible, to};
use crate::geometry::Homography;

mod least;

/// Proposals that are refined by the likenesses, and of these those followed up.
const TRIED: usize = 24;
const FOLLOWED: usize = 6;

/// Square of the distance of two descriptions up to which two features at one place count as alike.
const ALIKE: i32 = 640;

/// How far off the plane the surface's parts may lie, in the measure of [`Frame`].
const RELIEF: f64 = 0.0012;

/// One feature found where a map says that it lies.
#[derive(Clone, Copy)]
struct Held {
    a: usize,
    b: usize,
    weight: f64,
}

/// What is found where a map says that it lies.
#[derive(Default)]
struct Found {
    held: Vec<Held>,
    seen: usize,
    expected: Vec<usize>,
}

/// Weight of the likenesses that agree with a map, and the map.
type Proposal = (f64, [f64; 8]);

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
    /// Features of the finer photograph that the coarser should show, by place and size.
    pub expected: f64,
    /// Root of the area that those found spread over, of that of the expected.
    pub spread: f64,
    /// Likenesses that agree with the map.
    pub agreeing: f64,
    /// Likenesses that agree with the best fit at another place; 0 if there is none.
    pub rival_agreeing: f64,
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
        let map = self.map.inverse()?;
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
    /// Size, in the second's measure, of all but its finest features.
    finest: f64,
}

impl<'a> Pair<'a> {
    fn new(a: &'a Side, b: &'a Side, likenesses: &'a [Likeness]) -> Pair<'a> {
        let (fa, fb) = (Frame::of(a.features), Frame::of(b.features));
        let marks = |f: &Frame, s: &Side| s.features.spots.iter().map(|s| f.mark(s)).collect();
        let mb: Vec<Mark> = marks(&fb, b);
        let mut sizes: Vec<f64> = mb.iter().map(|m| m.size).collect();
        sizes.sort_by(f64::total_cmp);
        Pair {
            ma: marks(&fa, a),
            grid: Grid::of(&mb),
            finest: sizes.get(sizes.len() / 20).copied().unwrap_or(0.0),
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
    fn proposals(&self) -> Vec<Proposal> {
        let mut all: Vec<Proposal> = self
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
        let mut kept: Vec<Proposal> = Vec::new();
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

    fn best(&self, proposals: &[Proposal]) -> Option<Fit> {
        let top = proposals.first()?.0;
        let mut agreed: Vec<(usize, [f64; 8])> = proposals
            .iter()
            .filter(|p| p.0 >= 0.25 * top)
            .filter_map(|p| self.agreed(p.1))
            .collect();
        agreed.sort_by_key(|a| std::cmp::Reverse(a.0));
        let mut tried: Vec<(Signs, [f64; 8], Vec<Held>)> = Vec::new();
        for (n, h) in agreed {
            if tried.len() == FOLLOWED {
                break;
            }
            if tried.iter().all(|t| apart(&t.1, &h) > 0.02) {
                tried.extend(self.followed(h, n));
            }
        }
        tried.sort_by(|a, b| weight(&b.0).total_cmp(&weight(&a.0)));
        let (signs, h, held) = tried.first()?;
        let rival = tried
            .iter()
            .skip(1)
            .find(|t| apart(&t.1, h) > 0.08 * signs.scale.sqrt());
        let signs = Signs {
            rival_agreeing: rival.map_or(0.0, |r| r.0.agreeing),
            ..*signs
        };
        Some(Fit {
            map: self.in_px(h)?,
            error_px: self.error(h, held) * self.fb.half,
            px_scale: signs.scale * self.fb.half / self.fa.half,
            signs,
        })
    }

    fn in_px(&self, h: &[f64; 8]) -> Option<Homography> {
        let h = Homography([h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0]);
        self.fb.outward().after(&h.after(&self.fa.inward())?)
    }

    /// Refines a proposal by the likenesses, and counts those that agree with it in the end.
    fn agreed(&self, mut h: [f64; 8]) -> Option<(usize, [f64; 8])> {
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
        Some((agreeing, h))
    }

    /// Refines a map by all that is found where it should lie.
    fn followed(&self, mut h: [f64; 8], agreeing: usize) -> Option<(Signs, [f64; 8], Vec<Held>)> {
        let mut found = Found::default();
        for reach in [3.0, 2.0, 1.5] {
            found = self.found(&h, reach);
            if found.held.len() < 4 {
                return None;
            }
            h = self.fitted(h, &found.held, 0.0)?;
            if !plausible(&h) {
                return None;
            }
        }
        let places: Vec<usize> = found.held.iter().map(|k| k.a).collect();
        let signs = Signs {
            alike: places.len() as f64,
            seen: found.seen as f64,
            expected: found.expected.len() as f64,
            spread: (self.area(&places) / self.area(&found.expected).max(1e-9)).sqrt(),
            agreeing: agreeing as f64,
            scale: local(&h, 0.0, 0.0).map_or(1.0, |l| (l[0] * l[3] - l[1] * l[2]).abs().sqrt()),
            ..Signs::default()
        };
        Some((signs, h, found.held))
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

    /// Features that lie where they should and look alike, and how many could.
    fn found(&self, h: &[f64; 8], reach: f64) -> Found {
        let mut out = Found::default();
        let (w, h2) = (self.fb.x / self.fb.half, self.fb.y / self.fb.half);
        let mut taken = vec![(i32::MAX, usize::MAX); self.mb.len()];
        for (a, p) in self.ma.iter().enumerate() {
            let (x, y) = to(h, p.x, p.y);
            if x.abs() > w || y.abs() > h2 {
                continue;
            }
            let Some(l) = local(h, p.x, p.y) else {
                continue;
            };
            let scale = (l[0] * l[3] - l[1] * l[2]).abs().sqrt();
            let size = p.size * scale;
            if size >= self.finest {
                out.expected.push(a);
            }
            let (s, c) = f64::from(p.angle).sin_cos();
            let angle = (l[2] * c + l[3] * s).atan2(l[0] * c + l[1] * s) as f32;
            if let Some((d, b)) = self.likest(a, (x, y), size, angle, reach) {
                out.seen += 1;
                if d < ALIKE && d < taken[b].0 {
                    taken[b] = (d, a);
                }
            }
        }
        let held = taken.iter().enumerate().filter(|(_, t)| t.1 != usize::MAX);
        out.held = held
            .map(|(b, t)| Held {
                a: t.1,
                b,
                weight: 1.0,
            })
            .collect();
        out
    }

    /// The likest of the second's features of about that size and direction about a place, with the
    /// square of the distance of the descriptions.
    fn likest(
        &self,
        a: usize,
        (x, y): (f64, f64),
        size: f64,
        angle: f32,
        reach: f64,
    ) -> Option<(i32, usize)> {
        let far = reach * (0.6 * 1.43 * size + RELIEF);
        let mut best: Option<(i32, usize)> = None;
        for b in self.grid.near(x, y, far) {
            let q = self.mb[b];
            let ratio = q.size / size;
            let room = reach * (0.6 * q.size.max(size) + RELIEF);
            if (0.7..1.43).contains(&ratio)
                && turn(angle, q.angle).abs() < 0.4
                && (x - q.x).hypot(y - q.y) < room
            {
                let d = self.a.opened.distance(a, self.b.opened, b);
                if best.is_none_or(|o| d < o.0) {
                    best = Some((d, b));
                }
            }
        }
        best
    }

    /// Area that features spread over on the first: root of the determinant of their places' spread.
    fn area(&self, which: &[usize]) -> f64 {
        let n = which.len().max(1) as f64;
        let mean =
            |f: &dyn Fn(&Mark) -> f64| which.iter().map(|&k| f(&self.ma[k])).sum::<f64>() / n;
        let (mx, my) = (mean(&|m| m.x), mean(&|m| m.y));
        let xx = mean(&|m| (m.x - mx).powi(2));
        let yy = mean(&|m| (m.y - my).powi(2));
        let xy = mean(&|m| (m.x - mx) * (m.y - my));
        (xx * yy - xy * xy).max(0.0).sqrt()
    }
}

/// Fits are tried in the order of this: features found alike over what would be by chance.
fn weight(s: &Signs) -> f64 {
    s.alike * (s.alike / s.seen.max(1.0))
}
