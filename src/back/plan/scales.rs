//! A picture at many scales, and the blobs that stand out at each: extrema of differences of Gaussians.
//!
//! Source: Lowe 2004, "Distinctive image features from scale-invariant keypoints", IJCV 60(2),
//! sections 3 and 4.

use image::{RgbImage, imageops};
use rayon::prelude::*;

/// Longer side, px, that a photograph is reduced to. Large enough for the letters of a label on a
/// whole view to be seen, small enough for a second's work.
pub(super) const LONGEST: u32 = 2000;

/// Steps of scale an octave (Lowe 2004, section 3.3).
const STEPS: usize = 3;

/// Blur of each octave's first level, px of the octave (Lowe 2004, section 3.4).
pub(super) const FIRST_BLUR: f32 = 1.6;

/// Blur that a reduced photograph is taken to have, px.
const OWN_BLUR: f32 = 0.5;

/// Difference of Gaussians, grey levels, below which a blob is taken for grain.
const FAINT: f32 = 1.0;

/// Ratio of principal curvatures above which a blob is an edge (Lowe 2004, section 4.1).
const EDGE: f32 = 10.0;

/// Grey levels, row by row.
#[derive(Clone)]
pub(super) struct Plane {
    pub w: usize,
    pub h: usize,
    pub v: Vec<f32>,
}

impl Plane {
    /// The photograph's grey levels, reduced to [`LONGEST`]; with the px of it for one px of the
    /// photograph, across and down.
    pub fn of(picture: &RgbImage) -> (Plane, (f64, f64)) {
        let (w, h) = picture.dimensions();
        let by = (f64::from(LONGEST) / f64::from(w.max(h))).min(1.0);
        let small = |n: u32| ((f64::from(n) * by).round() as u32).max(1);
        let reduced;
        let from = if by < 1.0 {
            reduced = imageops::thumbnail(picture, small(w), small(h));
            &reduced
        } else {
            picture
        };
        let v = from
            .pixels()
            .map(|p| {
                0.299 * f32::from(p.0[0]) + 0.587 * f32::from(p.0[1]) + 0.114 * f32::from(p.0[2])
            })
            .collect();
        let (sw, sh) = from.dimensions();
        let by = (f64::from(sw) / f64::from(w), f64::from(sh) / f64::from(h));
        let (w, h) = (sw as usize, sh as usize);
        (Plane { w, h, v }, by)
    }

    #[inline]
    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.v[y * self.w + x]
    }

    fn row(&self, y: usize) -> &[f32] {
        &self.v[y * self.w..(y + 1) * self.w]
    }

    /// Blurred by a Gaussian; edges are continued.
    fn blurred(&self, sigma: f32) -> Plane {
        let kernel = gaussian(sigma);
        let reach = kernel.len() - 1;
        let (w, h) = (self.w, self.h);
        let mut across = vec![0.0f32; w * h];
        across.par_chunks_mut(w).enumerate().for_each_init(
            || vec![0.0f32; w + 2 * reach],
            |padded, (y, out)| {
                let row = self.row(y);
                padded[..reach].fill(row[0]);
                padded[reach..reach + w].copy_from_slice(row);
                padded[reach + w..].fill(row[w - 1]);
                out.iter_mut()
                    .zip(row)
                    .for_each(|(o, v)| *o = kernel[0] * v);
                for (i, &k) in kernel.iter().enumerate().skip(1) {
                    add_both(out, &padded[reach - i..], &padded[reach + i..], k);
                }
            },
        );
        let line = |y: usize| &across[y * w..(y + 1) * w];
        let mut v = vec![0.0f32; w * h];
        v.par_chunks_mut(w).enumerate().for_each(|(y, out)| {
            out.iter_mut()
                .zip(line(y))
                .for_each(|(o, v)| *o = kernel[0] * v);
            for (i, &k) in kernel.iter().enumerate().skip(1) {
                add_both(out, line(y.saturating_sub(i)), line((y + i).min(h - 1)), k);
            }
        });
        Plane { w, h, v }
    }

    fn less(&self, other: &Plane) -> Plane {
        let mut v = vec![0.0f32; self.v.len()];
        v.par_chunks_mut(self.w)
            .zip(self.v.par_chunks(self.w))
            .zip(other.v.par_chunks(self.w))
            .for_each(|((o, a), b)| {
                o.iter_mut()
                    .zip(a.iter().zip(b))
                    .for_each(|(o, (a, b))| *o = a - b)
            });
        Plane {
            w: self.w,
            h: self.h,
            v,
        }
    }

    /// Every second px of every second row.
    fn halved(&self) -> Plane {
        let (w, h) = (self.w / 2, self.h / 2);
        let v = (0..h)
            .flat_map(|y| self.row(2 * y).iter().step_by(2).take(w).copied())
            .collect();
        Plane { w, h, v }
    }
}

#[inline]
fn add_both(out: &mut [f32], a: &[f32], b: &[f32], k: f32) {
    for (o, (a, b)) in out.iter_mut().zip(a.iter().zip(b)) {
        *o += k * (a + b);
    }
}

/// Half of a Gaussian's weights from its middle outward; both halves sum to 1.
fn gaussian(sigma: f32) -> Vec<f32> {
    let reach = (3.0 * sigma).ceil().max(1.0) as usize;
    let mut k: Vec<f32> = (0..=reach)
        .map(|i| (-((i * i) as f32) / (2.0 * sigma * sigma)).exp())
        .collect();
    let sum = 2.0 * k.iter().sum::<f32>() - k[0];
    k.iter_mut().for_each(|v| *v /= sum);
    k
}

/// A place that stands out.
#[derive(Clone, Copy)]
pub(super) struct Blob {
    pub octave: usize,
    /// Level of the octave whose blur is nearest.
    pub level: usize,
    /// Place, px of the octave (its first px's middle is 0).
    pub x: f32,
    pub y: f32,
    /// Blur, px of the octave.
    pub sigma: f32,
    /// How far it stands out, grey levels.
    pub strength: f32,
}

/// The levels of all octaves that descriptors are taken from.
pub(super) struct Scales {
    /// By octave and level; level 0 isn't kept.
    levels: Vec<Vec<Plane>>,
}

impl Scales {
    pub fn level(&self, blob: &Blob) -> &Plane {
        &self.levels[blob.octave][blob.level - 1]
    }

    /// All scales of a picture with what stands out at each.
    pub fn of(plane: Plane) -> (Scales, Vec<Blob>) {
        let own = (FIRST_BLUR * FIRST_BLUR - OWN_BLUR * OWN_BLUR).sqrt();
        let mut base = plane.blurred(own);
        let (mut levels, mut blobs) = (Vec::new(), Vec::new());
        for octave in 0.. {
            if base.w.min(base.h) < 24 {
                break;
            }
            let mut stack = vec![base];
            for i in 1..STEPS + 3 {
                let step = |i: usize| FIRST_BLUR * 2f32.powf(i as f32 / STEPS as f32);
                let more = (step(i).powi(2) - step(i - 1).powi(2)).sqrt();
                let next = stack[i - 1].blurred(more);
                stack.push(next);
            }
            let apart: Vec<Plane> = stack.windows(2).map(|p| p[1].less(&p[0])).collect();
            blobs.extend(extrema(&apart, octave));
            base = stack[STEPS].halved();
            stack.truncate(STEPS + 1);
            stack.remove(0);
            levels.push(stack);
        }
        (Scales { levels }, blobs)
    }
}

fn extrema(apart: &[Plane], octave: usize) -> Vec<Blob> {
    let (w, h) = (apart[0].w, apart[0].h);
    let rows: Vec<(usize, usize)> = (1..=STEPS)
        .flat_map(|s| (2..h - 2).map(move |y| (s, y)))
        .collect();
    rows.par_iter()
        .flat_map_iter(|&(s, y)| {
            let row = apart[s].row(y);
            (2..w - 2)
                .filter(|&x| row[x].abs() >= 0.6 * FAINT && stands_out(apart, s, x, y))
                .filter_map(|x| refined(apart, octave, s, x, y))
                .collect::<Vec<_>>()
        })
        .collect()
}

fn stands_out(apart: &[Plane], s: usize, x: usize, y: usize) -> bool {
    let v = apart[s].at(x, y);
    let near = |p: &Plane, own: bool| {
        (y - 1..=y + 1).all(|j| {
            let r = &p.row(j)[x - 1..=x + 1];
            r.iter()
                .enumerate()
                .all(|(i, &o)| (own && j == y && i == 1) || if v > 0.0 { v > o } else { v < o })
        })
    };
    near(&apart[s], true) && near(&apart[s - 1], false) && near(&apart[s + 1], false)
}

/// Place to a part of a px (Brown and Lowe 2002); none where it is faint or an edge.
fn refined(
    apart: &[Plane],
    octave: usize,
    mut s: usize,
    mut x: usize,
    mut y: usize,
) -> Option<Blob> {
    let (w, h) = (apart[0].w, apart[0].h);
    for _ in 0..4 {
        let at = |ds: isize, dx: isize, dy: isize| {
            apart[s.wrapping_add_signed(ds)]
                .at(x.wrapping_add_signed(dx), y.wrapping_add_signed(dy))
        };
        let v = at(0, 0, 0);
        let g = [
            (at(0, 1, 0) - at(0, -1, 0)) / 2.0,
            (at(0, 0, 1) - at(0, 0, -1)) / 2.0,
            (at(1, 0, 0) - at(-1, 0, 0)) / 2.0,
        ];
        let xx = at(0, 1, 0) + at(0, -1, 0) - 2.0 * v;
        let yy = at(0, 0, 1) + at(0, 0, -1) - 2.0 * v;
        let ss = at(1, 0, 0) + at(-1, 0, 0) - 2.0 * v;
        let xy = (at(0, 1, 1) - at(0, -1, 1) - at(0, 1, -1) + at(0, -1, -1)) / 4.0;
        let xs = (at(1, 1, 0) - at(1, -1, 0) - at(-1, 1, 0) + at(-1, -1, 0)) / 4.0;
        let ys = (at(1, 0, 1) - at(1, 0, -1) - at(-1, 0, 1) + at(-1, 0, -1)) / 4.0;
        let [dx, dy, ds] = three([[xx, xy, xs], [xy, yy, ys], [xs, ys, ss]], g)?;
        if dx.abs() < 0.6 && dy.abs() < 0.6 && ds.abs() < 0.6 {
            let strength = (v + 0.5 * (g[0] * dx + g[1] * dy + g[2] * ds)).abs();
            let (trace, det) = (xx + yy, xx * yy - xy * xy);
            let edge = det <= 0.0 || trace * trace * EDGE >= (EDGE + 1.0).powi(2) * det;
            let scale = s as f32 + ds;
            return (strength >= FAINT && !edge).then(|| Blob {
                octave,
                level: (scale.round() as usize).clamp(1, STEPS),
                x: x as f32 + dx,
                y: y as f32 + dy,
                sigma: FIRST_BLUR * 2f32.powf(scale / STEPS as f32),
                strength,
            });
        }
        let moved = |n: usize, d: f32, low: usize, high: usize| {
            let n = n.saturating_add_signed(d.clamp(-2.0, 2.0).round() as isize);
            (n >= low && n <= high).then_some(n)
        };
        x = moved(x, dx, 2, w - 3)?;
        y = moved(y, dy, 2, h - 3)?;
        s = moved(s, ds, 1, STEPS)?;
    }
    None
}

/// Minus the solution of three linear equations (Cramer's rule).
fn three(m: [[f32; 3]; 3], g: [f32; 3]) -> Option<[f32; 3]> {
    let det3 = |m: &[[f32; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
            - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    let det = det3(&m);
    if det.abs() < 1e-9 {
        return None;
    }
    Some(std::array::from_fn(|c| {
        let mut n = m;
        for (row, g) in n.iter_mut().zip(g) {
            row[c] = g;
        }
        -det3(&n) / det
    }))
}
