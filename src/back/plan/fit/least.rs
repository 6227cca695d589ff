//! Least squares: the map that features in their places speak for, and how far it can be trusted.

use super::super::map::{rows, to};
use super::{Held, Pair};
use crate::geometry::solve;

/// Spread, in the measure of [`Frame`], that the perspective terms of a map are expected to have, and of its
/// departure from a mere turn and scale. Hand-held views up to 30° off the square stay within two.
const PERSPECTIVE: f64 = 0.12;
const UNEVEN: f64 = 0.12;

impl Pair<'_> {
    /// Four rounds of Gauss-Newton steps with Cauchy weights.
    pub(super) fn fitted(&self, start: [f64; 8], held: &[Held], loose: f64) -> Option<[f64; 8]> {
        let mut h = start;
        for _ in 0..4 {
            let m = self.normal(&h, held, loose);
            let step = solve(m)?;
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
    pub(super) fn error(&self, h: &[f64; 8], held: &[Held]) -> f64 {
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
                if let Some(s) = solve(with) {
                    sum += s.iter().zip(row).map(|(s, r)| s * r).sum::<f64>() * off;
                }
            }
            n += 1.0;
        }
        (sum / n.max(1.0)).sqrt()
    }
}
