//! How two sightings lie to each other on the plan, judged within what both photographs show.

use crate::back::plan::Place;
use crate::geometry::{Homography, Point, Quad, Rect};

/// A sighting on the plan.
pub(super) struct Frame {
    /// Its outline, px of the plan.
    outline: Quad,
    /// The edge of its photograph, px of the plan, in the sense of a clock's hands.
    edge: Vec<Point>,
}

/// How two sightings lie to each other.
pub(super) struct Lie {
    /// Shared area over joint area, of what lies within both photographs.
    pub shared: f64,
    /// Shared area over the smaller area, likewise.
    pub shared_of_smaller: f64,
    /// Distance of the middles, likewise, over the side of the smaller; at most 2.
    pub off: f64,
    /// The same distance, px of the plan.
    pub apart: f64,
    /// The less of both shares that the other photograph may show, 0 to 1.
    pub in_view: f64,
    /// Share of the one that the other's photograph may show, 0 to 1; share of that which lies on the other,
    /// and share of the other that it covers.
    pub first: [f64; 3],
    /// Root of the smaller area, px of the plan.
    pub side: f64,
    /// From the one's unit square to the other's.
    pub map: Option<Homography>,
}

/// Farthest that middles count as apart, in sides.
const FAR: f64 = 2.0;

impl Frame {
    /// `None` where the outline can't be laid on the plan.
    pub fn new(outline: &Quad, size: (u32, u32), place: &Place) -> Option<Frame> {
        let lay = |q: &Quad| Quad(q.0.map(|p| place.to_plan.apply(p)));
        let edge = lay(&Rect::new(0, 0, size.0, size.1).quad());
        let outline = lay(outline);
        let sound = |q: &Quad| q.0.iter().all(|p| p.x.is_finite() && p.y.is_finite());
        (sound(&edge) && sound(&outline) && outline.area() > 0.0).then(|| Frame {
            edge: clockwise(edge.0.to_vec()),
            outline,
        })
    }
}

impl Lie {
    pub fn of(a: &Frame, b: &Frame) -> Lie {
        let seen = |f: &Frame, other: &Frame| clipped(f.outline.0.to_vec(), &other.edge);
        // Outlines may run a little over the edge of their own photograph.
        let (pa, pb) = (clipped(seen(a, b), &a.edge), clipped(seen(b, a), &b.edge));
        let (area_a, area_b) = (area(&pa), area(&pb));
        let both = if pa.len() < 3 || pb.len() < 3 {
            0.0
        } else {
            area(&clipped(pa.clone(), &clockwise(pb.clone())))
        };
        let joint = area_a + area_b - both;
        let least = area_a.min(area_b);
        let whole = a.outline.area().min(b.outline.area());
        let of = |p: &[Point], q: &Quad| if p.is_empty() { q.centre() } else { middle(p) };
        let apart = of(&pa, &a.outline).distance(of(&pb, &b.outline));
        let side = if least > 0.0 { least } else { whole }.sqrt();
        let share = |part: f64, f: &Frame| (part / f.outline.area()).clamp(0.0, 1.0);
        let unit =
            Quad([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].map(|(x, y)| Point::new(x, y)));
        let in_b = Homography::between(&b.outline, &unit);
        let map =
            in_b.and_then(|m| Homography::between(&unit, &Quad(a.outline.0.map(|p| m.apply(p)))));
        Lie {
            shared: if joint > 0.0 { both / joint } else { 0.0 },
            shared_of_smaller: if least > 0.0 { both / least } else { 0.0 },
            off: (apart / side.max(1e-9)).min(FAR),
            apart,
            in_view: share(area_a, a).min(share(area_b, b)),
            first: [
                share(area_a, a),
                if area_a > 0.0 { both / area_a } else { 0.0 },
                if area_b > 0.0 { both / area_b } else { 0.0 },
            ],
            side,
            map,
        }
    }
}

/// Area by the shoelace formula, signed.
fn signed(p: &[Point]) -> f64 {
    let n = p.len();
    let cross = |i: usize| {
        let (a, b) = (p[i], p[(i + 1) % n]);
        a.x * b.y - b.x * a.y
    };
    (0..n).map(cross).sum::<f64>() / 2.0
}

fn area(p: &[Point]) -> f64 {
    signed(p).abs()
}

fn middle(p: &[Point]) -> Point {
    let n = p.len().max(1) as f64;
    Point::new(
        p.iter().map(|q| q.x).sum::<f64>() / n,
        p.iter().map(|q| q.y).sum::<f64>() / n,
    )
}

fn clockwise(mut p: Vec<Point>) -> Vec<Point> {
    if signed(&p) < 0.0 {
        p.reverse();
    }
    p
}

/// What of a polygon lies within a convex one that runs clockwise on the screen (Sutherland and
/// Hodgman 1974).
fn clipped(mut poly: Vec<Point>, by: &[Point]) -> Vec<Point> {
    for i in 0..by.len() {
        let (a, b) = (by[i], by[(i + 1) % by.len()]);
        let side = |p: Point| (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
        let mut next = Vec::with_capacity(poly.len() + 1);
        for j in 0..poly.len() {
            let (p, q) = (poly[j], poly[(j + 1) % poly.len()]);
            let (sp, sq) = (side(p), side(q));
            if sp >= 0.0 {
                next.push(p);
            }
            if (sp > 0.0 && sq < 0.0) || (sp < 0.0 && sq > 0.0) {
                let t = sp / (sp - sq);
                next.push(Point::new(p.x + t * (q.x - p.x), p.y + t * (q.y - p.y)));
            }
        }
        poly = next;
    }
    poly
}
