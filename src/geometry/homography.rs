//! Plane projective maps.

use super::{Point, Quad};

/// A plane projective map (homography): x' = (a·x + b·y + c) / (g·x + h·y + 1), likewise y'.
///
/// Source: Hartley & Zisserman 2004, Multiple View Geometry, section 4.1 (four points give it
/// exactly).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography(pub [f64; 9]);

impl Homography {
    /// The map that leaves each place where it is.
    pub const SAME: Homography = Homography([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]);

    /// The map that takes each corner of `from` to the same corner of `to`. `None` where three
    /// corners of either lie on one line.
    ///
    /// ```
    /// use dorso_seeing::geometry::{Homography, Point, Rect};
    /// let map = Homography::between(&Rect::new(0, 0, 2, 2).quad(), &Rect::new(10, 0, 4, 4).quad()).unwrap();
    /// assert_eq!(map.apply(Point::new(1.0, 1.0)), Point::new(12.0, 2.0));
    /// ```
    pub fn between(from: &Quad, to: &Quad) -> Option<Homography> {
        let mut m = [[0.0f64; 9]; 8];
        for (i, (p, q)) in from.0.iter().zip(&to.0).enumerate() {
            m[2 * i] = [p.x, p.y, 1.0, 0.0, 0.0, 0.0, -p.x * q.x, -p.y * q.x, q.x];
            m[2 * i + 1] = [0.0, 0.0, 0.0, p.x, p.y, 1.0, -p.x * q.y, -p.y * q.y, q.y];
        }
        let h = solve(m)?;
        Some(Homography([
            h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0,
        ]))
    }

    /// The map back. `None` where the map has none: it takes a plane to a line or a point.
    ///
    /// ```
    /// use dorso_seeing::geometry::{Homography, Point};
    /// let map = Homography([2.0, 0.0, 5.0, 0.0, 2.0, -3.0, 0.0, 0.001, 1.0]);
    /// let there = map.apply(Point::new(40.0, 30.0));
    /// assert!(map.inverse().unwrap().apply(there).distance(Point::new(40.0, 30.0)) < 1e-9);
    /// ```
    pub fn inverse(&self) -> Option<Homography> {
        let [a, b, c, d, e, f, g, h, i] = self.0;
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
        let (det, size) = (m[8], m.iter().fold(0.0f64, |l, v| l.max(v.abs())));
        let flat = a * m[0] + b * m[3] + c * m[6];
        (flat.abs() > 1e-15 * size && det.abs() > 1e-15 * size)
            .then(|| Homography(m.map(|v| v / det)))
    }

    /// Where a place goes.
    #[inline]
    pub fn apply(&self, p: Point) -> Point {
        let h = &self.0;
        let w = h[6] * p.x + h[7] * p.y + h[8];
        Point::new(
            (h[0] * p.x + h[1] * p.y + h[2]) / w,
            (h[3] * p.x + h[4] * p.y + h[5]) / w,
        )
    }

    /// This map after another: what `first` takes somewhere is taken on from there. `None` where the
    /// origin ends beyond the horizon.
    pub fn after(&self, first: &Homography) -> Option<Homography> {
        let (a, b) = (&self.0, &first.0);
        Homography(std::array::from_fn(|i| {
            (0..3).map(|k| a[i / 3 * 3 + k] * b[k * 3 + i % 3]).sum()
        }))
        .normal()
    }

    /// The same map with a last number of 1.
    fn normal(self) -> Option<Homography> {
        let m = self.0.map(|v| v / self.0[8]);
        m.iter().all(|v| v.is_finite()).then_some(Homography(m))
    }
}

/// Eight linear equations, each with its right side last: Gaussian elimination with partial pivots;
/// `None` if the equations hang together.
pub fn solve(mut m: [[f64; 9]; 8]) -> Option<[f64; 8]> {
    for col in 0..8 {
        let best = (col..8).max_by(|&a, &b| m[a][col].abs().total_cmp(&m[b][col].abs()))?;
        m.swap(col, best);
        let pivot = m[col];
        if pivot[col].abs() <= 1e-10 || pivot[col].is_nan() {
            return None;
        }
        for (i, row) in m.iter_mut().enumerate() {
            if i != col {
                let f = row[col] / pivot[col];
                row.iter_mut().zip(pivot).for_each(|(a, b)| *a -= f * b);
            }
        }
    }
    let mut out = [0.0; 8];
    for (i, v) in out.iter_mut().enumerate() {
        *v = m[i][8] / m[i][i];
    }
    out.iter().all(|v| v.is_finite()).then_some(out)
}
