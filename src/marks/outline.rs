//! Fitting four corners to a patch of px.

use crate::geometry::{Point, Quad};

/// Convex hull (Andrew 1979, monotone chain), clockwise as seen on a picture (y down), no point
/// twice. Fewer than three points that aren't on one line: what there is.
pub(crate) fn hull(points: &[Point]) -> Vec<Point> {
    let mut p: Vec<Point> = points.to_vec();
    p.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    p.dedup();
    if p.len() < 3 {
        return p;
    }
    let cross =
        |o: Point, a: Point, b: Point| (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
    let mut out: Vec<Point> = Vec::new();
    for pass in 0..2 {
        let start = out.len();
        let half: Box<dyn Iterator<Item = &Point>> = if pass == 0 {
            Box::new(p.iter())
        } else {
            Box::new(p.iter().rev())
        };
        for &q in half {
            while out.len() >= start + 2 && cross(out[out.len() - 2], out[out.len() - 1], q) <= 0.0
            {
                out.pop();
            }
            out.push(q);
        }
        out.pop();
    }
    out
}

/// The rectangle around the points whose top edge runs at `angle` (radians, positive down to the
/// right), corners clockwise from its own top left.
pub(crate) fn rectangle(points: &[Point], angle: f64) -> Quad {
    let (c, s) = (angle.cos(), angle.sin());
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for p in points {
        for (i, v) in [p.x * c + p.y * s, p.y * c - p.x * s]
            .into_iter()
            .enumerate()
        {
            low[i] = low[i].min(v);
            high[i] = high[i].max(v);
        }
    }
    let at = |u: f64, v: f64| Point::new(u * c - v * s, u * s + v * c);
    Quad([
        at(low[0], low[1]),
        at(high[0], low[1]),
        at(high[0], high[1]),
        at(low[0], high[1]),
    ])
}

/// The rectangle of least area around a convex hull; one of its sides lies on a side of the hull
/// (Freeman & Shapira 1975).
pub(crate) fn least_rectangle(hull: &[Point]) -> Quad {
    let n = hull.len();
    (0..n)
        .map(|i| {
            let (a, b) = (hull[i], hull[(i + 1) % n]);
            rectangle(hull, (b.y - a.y).atan2(b.x - a.x))
        })
        .min_by(|a, b| a.area().total_cmp(&b.area()))
        .unwrap_or_else(|| rectangle(hull, 0.0))
}

/// Four corners around a convex hull: sides of the hull are dropped one by one, each time the
/// one whose dropping adds least area, until four are left. Falls back on the least rectangle
/// where a corner is torn off, so that four sides would run far past the patch.
pub(crate) fn four_corners(hull: &[Point]) -> Quad {
    let plain = least_rectangle(hull);
    let mut sides: Vec<(Point, Point)> = (0..hull.len())
        .map(|i| (hull[i], hull[(i + 1) % hull.len()]))
        .collect();
    while sides.len() > 4 {
        let n = sides.len();
        let best = (0..n)
            .filter_map(|i| {
                let (before, after) = (sides[(i + n - 1) % n], sides[(i + 1) % n]);
                let at = meeting(before, after)?;
                let (a, b) = sides[i];
                // The corner has to lie outside the dropped side.
                let side = (b.x - a.x) * (at.y - a.y) - (b.y - a.y) * (at.x - a.x);
                (side < 0.0).then_some((i, at, -side / 2.0))
            })
            .min_by(|x, y| x.2.total_cmp(&y.2));
        let Some((i, at, _)) = best else { return plain };
        let n = sides.len();
        sides[(i + n - 1) % n].1 = at;
        sides[(i + 1) % n].0 = at;
        sides.remove(i);
    }
    if sides.len() < 4 {
        return plain;
    }
    let quad = Quad([sides[0].0, sides[1].0, sides[2].0, sides[3].0]);
    if quad.area() > plain.area() * 1.02 || !convex(&quad) {
        return plain;
    }
    quad
}

/// Where two sides meet when drawn out. `None` for parallel ones.
fn meeting(a: (Point, Point), b: (Point, Point)) -> Option<Point> {
    let (dx, dy) = (a.1.x - a.0.x, a.1.y - a.0.y);
    let (ex, ey) = (b.1.x - b.0.x, b.1.y - b.0.y);
    let det = dx * ey - dy * ex;
    if det.abs() < 1e-9 {
        return None;
    }
    let t = ((b.0.x - a.0.x) * ey - (b.0.y - a.0.y) * ex) / det;
    Some(Point::new(a.0.x + t * dx, a.0.y + t * dy))
}

/// Whether the corners turn the same way throughout.
pub(crate) fn convex(quad: &Quad) -> bool {
    let c = &quad.0;
    let turns = (0..4).map(|i| {
        let (a, b, d) = (c[i], c[(i + 1) % 4], c[(i + 2) % 4]);
        (b.x - a.x) * (d.y - b.y) - (b.y - a.y) * (d.x - b.x)
    });
    let (mut plus, mut minus) = (false, false);
    for t in turns {
        plus |= t > 1e-9;
        minus |= t < -1e-9;
    }
    plus != minus
}

/// The same outline with the corner names shifted so that the top edge runs as near as can be to
/// `angle` (radians), in the clockwise sense.
pub(crate) fn named(quad: &Quad, angle: f64) -> Quad {
    let mut c = quad.0;
    let signed: f64 = (0..4)
        .map(|i| {
            let (p, q) = (c[i], c[(i + 1) % 4]);
            p.x * q.y - q.x * p.y
        })
        .sum();
    if signed < 0.0 {
        c.reverse();
    }
    let away = |i: usize| {
        let (a, b) = (c[i], c[(i + 1) % 4]);
        let d = (b.y - a.y).atan2(b.x - a.x) - angle;
        d.sin().atan2(d.cos()).abs()
    };
    let first = (0..4)
        .min_by(|&a, &b| away(a).total_cmp(&away(b)))
        .unwrap_or(0);
    Quad([0, 1, 2, 3].map(|i| c[(first + i) % 4]))
}
