//! Planes of numbers, paths, and the filling of paths.

use rayon::prelude::*;

/// One number a pixel.
#[derive(Clone)]
pub struct Plane {
    pub w: usize,
    pub h: usize,
    pub px: Vec<f32>,
}

impl Plane {
    pub fn new(w: usize, h: usize, value: f32) -> Self {
        Plane {
            w,
            h,
            px: vec![value; w * h],
        }
    }

    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.px[y * self.w + x]
    }

    /// Bilinear, edges repeated.
    pub fn sample(&self, x: f32, y: f32) -> f32 {
        let x = x.clamp(0.0, (self.w - 1) as f32);
        let y = y.clamp(0.0, (self.h - 1) as f32);
        let (ix, iy) = (x as usize, y as usize);
        let (jx, jy) = ((ix + 1).min(self.w - 1), (iy + 1).min(self.h - 1));
        let (u, v) = (x - ix as f32, y - iy as f32);
        let top = self.at(ix, iy) * (1.0 - u) + self.at(jx, iy) * u;
        let low = self.at(ix, jy) * (1.0 - u) + self.at(jx, jy) * u;
        top * (1.0 - v) + low * v
    }

    /// Soft blur of about `sigma` pixels (three box blurs, as wide as the variance asks).
    pub fn blur(&self, sigma: f32) -> Plane {
        if sigma < 0.2 {
            return self.clone();
        }
        if sigma < 2.2 {
            return self.small_blur(sigma);
        }
        let mut out = self.clone();
        // A box of radius r has variance r (r + 1) / 3; r need not be whole.
        let r = ((1.0 + 4.0 * sigma * sigma).sqrt() - 1.0) / 2.0;
        for _ in 0..3 {
            out = out.box_rows(r).turned().box_rows(r).turned();
        }
        out
    }

    /// The same by the bell curve itself, for narrow blurs.
    fn small_blur(&self, sigma: f32) -> Plane {
        let reach = (sigma * 2.6).ceil() as usize;
        let mut bell: Vec<f32> = (0..=reach)
            .map(|i| (-((i * i) as f32) / (2.0 * sigma * sigma)).exp())
            .collect();
        let total = bell[0] + 2.0 * bell[1..].iter().sum::<f32>();
        bell.iter_mut().for_each(|b| *b /= total);
        let (w, h) = (self.w, self.h);
        let mut across = Plane::new(w, h, 0.0);
        across
            .px
            .par_chunks_mut(w)
            .zip(self.px.par_chunks(w))
            .for_each(|(to, from)| {
                let wide: Vec<f32> = std::iter::repeat_n(from[0], reach)
                    .chain(from.iter().copied())
                    .chain(std::iter::repeat_n(from[w - 1], reach))
                    .collect();
                for (k, b) in bell.iter().enumerate() {
                    let (l, r) = (&wide[reach - k..], &wide[reach + k..]);
                    if k == 0 {
                        to.iter_mut().zip(l).for_each(|(t, a)| *t += b * a);
                    } else {
                        to.iter_mut()
                            .zip(l.iter().zip(r))
                            .for_each(|(t, (a, c))| *t += b * (a + c));
                    }
                }
            });
        let mut out = Plane::new(w, h, 0.0);
        out.px.par_chunks_mut(w).enumerate().for_each(|(y, to)| {
            let row = |y: usize| &across.px[y * w..(y + 1) * w];
            to.iter_mut()
                .zip(row(y))
                .for_each(|(t, a)| *t += bell[0] * a);
            for (k, b) in bell.iter().enumerate().skip(1) {
                let (u, d) = (row(y.saturating_sub(k)), row((y + k).min(h - 1)));
                to.iter_mut()
                    .zip(u.iter().zip(d))
                    .for_each(|(t, (a, c))| *t += b * (a + c));
            }
        });
        out
    }

    fn turned(&self) -> Plane {
        let mut out = Plane::new(self.h, self.w, 0.0);
        let (w, h) = (self.w, self.h);
        let block = 32;
        out.px
            .par_chunks_mut(h * block)
            .enumerate()
            .for_each(|(b, rows)| {
                let x0 = b * block;
                let n = rows.len() / h;
                for y0 in (0..h).step_by(block) {
                    for i in 0..n {
                        for y in y0..(y0 + block).min(h) {
                            rows[i * h + y] = self.px[y * w + x0 + i];
                        }
                    }
                }
            });
        out
    }

    /// Mean over 2r + 1 pixels of each row; the outermost pixels count by the fraction.
    fn box_rows(&self, r: f32) -> Plane {
        let w = self.w;
        let whole = r.floor() as isize;
        let part = r - r.floor();
        let norm = 1.0 / (2.0 * r + 1.0);
        let mut out = Plane::new(w, self.h, 0.0);
        out.px
            .par_chunks_mut(w)
            .zip(self.px.par_chunks(w))
            .for_each(|(to, from)| {
                let get = |i: isize| f64::from(from[i.clamp(0, w as isize - 1) as usize]);
                let mut sum: f64 = (-whole..=whole).map(get).sum();
                for (i, cell) in to.iter_mut().enumerate() {
                    let i = i as isize;
                    let edge = get(i - whole - 1) + get(i + whole + 1);
                    *cell = (sum as f32 + part * edge as f32) * norm;
                    sum += get(i + whole + 1) - get(i - whole);
                }
            });
        out
    }
}

/// Closed contours, any unit.
#[derive(Clone, Default)]
pub struct Path(pub Vec<Vec<[f32; 2]>>);

impl Path {
    pub fn polygon(points: Vec<[f32; 2]>) -> Self {
        Path(vec![points])
    }

    pub fn rect(x: f32, y: f32, w: f32, h: f32) -> Self {
        Path::polygon(vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]])
    }

    /// A frame between two rectangles, `t` thick, inside the outer one.
    pub fn rule_box(x: f32, y: f32, w: f32, h: f32, t: f32) -> Self {
        let mut path = Path::rect(x, y, w, h);
        path.0.push(vec![
            [x + t, y + t],
            [x + t, y + h - t],
            [x + w - t, y + h - t],
            [x + w - t, y + t],
        ]);
        path
    }

    pub fn ellipse(cx: f32, cy: f32, rx: f32, ry: f32) -> Self {
        let n = 72;
        Path::polygon(
            (0..n)
                .map(|i| {
                    let a = std::f32::consts::TAU * i as f32 / n as f32;
                    [cx + rx * a.cos(), cy + ry * a.sin()]
                })
                .collect(),
        )
    }

    pub fn ring(cx: f32, cy: f32, rx: f32, ry: f32, t: f32) -> Self {
        let mut path = Path::ellipse(cx, cy, rx, ry);
        let mut inner = Path::ellipse(cx, cy, rx - t, ry - t).0.remove(0);
        inner.reverse();
        path.0.push(inner);
        path
    }

    /// A stroke along points, each with its own half width.
    pub fn stroke(points: &[[f32; 2]], half: &[f32]) -> Self {
        let mut path = Path::default();
        for i in 1..points.len() {
            let (a, b) = (points[i - 1], points[i]);
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let n = dx.hypot(dy).max(1e-6);
            let (nx, ny) = (-dy / n, dx / n);
            let (ra, rb) = (half[i - 1], half[i]);
            path.0.push(vec![
                [a[0] + nx * ra, a[1] + ny * ra],
                [a[0] - nx * ra, a[1] - ny * ra],
                [b[0] - nx * rb, b[1] - ny * rb],
                [b[0] + nx * rb, b[1] + ny * rb],
            ]);
            // A round joint, wound the same way as the strip.
            let mut joint = Path::ellipse(b[0], b[1], rb, rb).0.remove(0);
            joint = joint.into_iter().step_by(6).collect();
            let wound = |p: &[[f32; 2]]| -> f32 {
                (0..p.len())
                    .map(|i| {
                        let (s, t) = (p[i], p[(i + 1) % p.len()]);
                        s[0] * t[1] - t[0] * s[1]
                    })
                    .sum()
            };
            if wound(&joint) * wound(&path.0[path.0.len() - 1]) < 0.0 {
                joint.reverse();
            }
            path.0.push(joint);
        }
        path
    }

    pub fn map(&self, f: impl Fn([f32; 2]) -> [f32; 2]) -> Path {
        Path(
            self.0
                .iter()
                .map(|c| c.iter().map(|p| f(*p)).collect())
                .collect(),
        )
    }

    /// Left, top, right, bottom.
    pub fn bounds(&self) -> Option<[f32; 4]> {
        let mut b: Option<[f32; 4]> = None;
        for p in self.0.iter().flatten() {
            let c = b.get_or_insert([p[0], p[1], p[0], p[1]]);
            *c = [
                c[0].min(p[0]),
                c[1].min(p[1]),
                c[2].max(p[0]),
                c[3].max(p[1]),
            ];
        }
        b
    }

    /// Adds the path's coverage to a plane (non-zero winding, 5 rows a pixel, exact across).
    pub fn fill(&self, plane: &mut Plane, scale: f32, strength: f32) {
        const SUB: usize = 5;
        let Some(bounds) = self.bounds() else { return };
        let (w, h) = (plane.w as f32, plane.h as f32);
        let y0 = (bounds[1] * scale).floor().clamp(0.0, h) as usize;
        let y1 = (bounds[3] * scale).ceil().clamp(0.0, h) as usize;
        if y0 >= y1 {
            return;
        }
        let mut edges: Vec<[f32; 5]> = Vec::new();
        for c in &self.0 {
            for i in 0..c.len() {
                let (a, b) = (c[i], c[(i + 1) % c.len()]);
                let (a, b) = ([a[0] * scale, a[1] * scale], [b[0] * scale, b[1] * scale]);
                if a[1] != b[1] {
                    let (lo, hi, dir) = if a[1] < b[1] {
                        (a, b, 1.0)
                    } else {
                        (b, a, -1.0)
                    };
                    edges.push([lo[0], lo[1], hi[0], hi[1], dir]);
                }
            }
        }
        edges.sort_by(|a, b| a[1].total_cmp(&b[1]));
        let mut live: Vec<usize> = Vec::new();
        let mut next = 0;
        let mut row = vec![0f32; plane.w];
        let mut hits: Vec<(f32, f32)> = Vec::new();
        for y in y0..y1 {
            let mut span = (plane.w, 0usize);
            for s in 0..SUB {
                let at = y as f32 + (s as f32 + 0.5) / SUB as f32;
                while next < edges.len() && edges[next][1] <= at {
                    live.push(next);
                    next += 1;
                }
                live.retain(|i| edges[*i][3] > at);
                hits.clear();
                hits.extend(live.iter().map(|i| {
                    let e = edges[*i];
                    (e[0] + (e[2] - e[0]) * (at - e[1]) / (e[3] - e[1]), e[4])
                }));
                hits.sort_by(|a, b| a.0.total_cmp(&b.0));
                let mut winding = 0.0;
                for k in 0..hits.len().saturating_sub(1) {
                    winding += hits[k].1;
                    if winding == 0.0 {
                        continue;
                    }
                    let (l, r) = (hits[k].0.clamp(0.0, w), hits[k + 1].0.clamp(0.0, w));
                    if r <= l {
                        continue;
                    }
                    let (a, b) = (l as usize, (r.ceil() as usize).min(plane.w));
                    span = (span.0.min(a), span.1.max(b));
                    for (x, cell) in row.iter_mut().enumerate().take(b).skip(a) {
                        *cell += (r.min(x as f32 + 1.0) - l.max(x as f32)) / SUB as f32;
                    }
                }
            }
            if span.0 < span.1 {
                let line = &mut plane.px[y * plane.w + span.0..y * plane.w + span.1];
                for (cell, cover) in line.iter_mut().zip(&mut row[span.0..span.1]) {
                    *cell = cell.max((std::mem::take(cover) * strength).min(1.0));
                }
            }
        }
    }
}
