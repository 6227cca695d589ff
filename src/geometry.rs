//! Points, rectangles and four-cornered outlines, in px of the upright photograph (origin top
//! left, x to the right, y down) unless a docstring says otherwise.

use serde::{Deserialize, Serialize};

mod homography;

pub use homography::Homography;
pub use homography::solve;

/// A point, px.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

impl Point {
    /// A point from x and y.
    pub fn new(x: f64, y: f64) -> Self {
        Point { x, y }
    }

    /// Distance to another point, px.
    pub fn distance(self, other: Point) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

/// An upright rectangle: left, top, width, height, px.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rect {
    /// Left edge.
    pub x: i32,
    /// Top edge.
    pub y: i32,
    /// Width.
    pub w: u32,
    /// Height.
    pub h: u32,
}

impl Rect {
    /// A rectangle from left, top, width and height.
    pub fn new(x: i32, y: i32, w: u32, h: u32) -> Self {
        Rect { x, y, w, h }
    }

    /// First column past the right edge.
    pub fn right(&self) -> i32 {
        self.x + self.w as i32
    }

    /// First row past the lower edge.
    pub fn bottom(&self) -> i32 {
        self.y + self.h as i32
    }

    /// Area, px².
    pub fn area(&self) -> u64 {
        u64::from(self.w) * u64::from(self.h)
    }

    /// The part that both cover, if any.
    pub fn intersect(&self, other: &Rect) -> Option<Rect> {
        let (x, y) = (self.x.max(other.x), self.y.max(other.y));
        let (r, b) = (
            self.right().min(other.right()),
            self.bottom().min(other.bottom()),
        );
        (r > x && b > y).then(|| Rect::new(x, y, (r - x) as u32, (b - y) as u32))
    }

    /// Part of its area that lies in the other, 0 to 1.
    pub fn part_in(&self, other: &Rect) -> f64 {
        self.intersect(other)
            .map_or(0.0, |i| i.area() as f64 / self.area() as f64)
    }

    /// The least rectangle around both.
    pub fn union(&self, other: &Rect) -> Rect {
        let (x, y) = (self.x.min(other.x), self.y.min(other.y));
        let (r, b) = (
            self.right().max(other.right()),
            self.bottom().max(other.bottom()),
        );
        Rect::new(x, y, (r - x) as u32, (b - y) as u32)
    }

    /// Its corners as an outline.
    pub fn quad(&self) -> Quad {
        let (x, y) = (f64::from(self.x), f64::from(self.y));
        let (r, b) = (f64::from(self.right()), f64::from(self.bottom()));
        Quad([
            Point::new(x, y),
            Point::new(r, y),
            Point::new(r, b),
            Point::new(x, b),
        ])
    }
}

/// Turns of a quarter circle, clockwise, that bring a crop upright for reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Turn {
    /// As it is.
    #[default]
    None,
    /// 90° clockwise.
    Right,
    /// 180°.
    Half,
    /// 90° anticlockwise.
    Left,
}

impl Turn {
    /// The four turns.
    pub const ALL: [Turn; 4] = [Turn::None, Turn::Right, Turn::Half, Turn::Left];

    /// Clockwise degrees.
    pub fn degrees(self) -> u32 {
        match self {
            Turn::None => 0,
            Turn::Right => 90,
            Turn::Half => 180,
            Turn::Left => 270,
        }
    }
}

/// Four corners of a mark, in its own reading order: top left, top right, bottom right, bottom
/// left of the mark *as read*. So an upside-down label's first corner is the photograph's lower
/// right.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Quad(pub [Point; 4]);

impl Quad {
    /// The least upright rectangle around the corners.
    pub fn bounds(&self) -> Rect {
        let xs = self.0.map(|p| p.x);
        let ys = self.0.map(|p| p.y);
        let low = |v: [f64; 4]| v.into_iter().fold(f64::INFINITY, f64::min).floor();
        let high = |v: [f64; 4]| v.into_iter().fold(f64::NEG_INFINITY, f64::max).ceil();
        let (x, y) = (low(xs), low(ys));
        Rect::new(
            x as i32,
            y as i32,
            (high(xs) - x).max(0.0) as u32,
            (high(ys) - y).max(0.0) as u32,
        )
    }

    /// The place `u` along the top and bottom edges and `v` down the sides (0 to 1 within the
    /// outline, beyond that outside), bilinear between the corners, px.
    pub fn at(&self, u: f64, v: f64) -> Point {
        let c = &self.0;
        let mix = |a: f64, b: f64, d: f64, e: f64| {
            (1.0 - v) * ((1.0 - u) * a + u * b) + v * ((1.0 - u) * e + u * d)
        };
        Point::new(
            mix(c[0].x, c[1].x, c[2].x, c[3].x),
            mix(c[0].y, c[1].y, c[2].y, c[3].y),
        )
    }

    /// Area by the shoelace formula, px², never negative.
    pub fn area(&self) -> f64 {
        polygon_area(&self.0).abs()
    }

    /// Mean of the corners.
    pub fn centre(&self) -> Point {
        let n = 4.0;
        Point::new(
            self.0.iter().map(|p| p.x).sum::<f64>() / n,
            self.0.iter().map(|p| p.y).sum::<f64>() / n,
        )
    }

    /// Length of the top and bottom edges (mean) and of the side edges (mean), px.
    pub fn size(&self) -> (f64, f64) {
        let c = &self.0;
        (
            (c[0].distance(c[1]) + c[3].distance(c[2])) / 2.0,
            (c[0].distance(c[3]) + c[1].distance(c[2])) / 2.0,
        )
    }

    /// Direction of the top edge, degrees, positive where it runs down to the right.
    pub fn slope_degrees(&self) -> f64 {
        let (a, b) = (self.0[0], self.0[1]);
        (b.y - a.y).atan2(b.x - a.x).to_degrees()
    }

    /// The same outline with its corners renamed after the crop has been turned clockwise by
    /// `turn` for reading.
    pub fn turned(&self, turn: Turn) -> Quad {
        let c = self.0;
        Quad(match turn {
            Turn::None => c,
            Turn::Right => [c[3], c[0], c[1], c[2]],
            Turn::Half => [c[2], c[3], c[0], c[1]],
            Turn::Left => [c[1], c[2], c[3], c[0]],
        })
    }

    /// Shared area over joint area (Jaccard 1912; PASCAL VOC 2010), 0 to 1. Both outlines must
    /// be convex; corners in either sense.
    ///
    /// ```
    /// use dorso_seeing::geometry::Rect;
    /// let a = Rect::new(0, 0, 10, 10).quad();
    /// let b = Rect::new(5, 0, 10, 10).quad();
    /// assert!((a.iou(&b) - 50.0 / 150.0).abs() < 1e-12);
    /// ```
    pub fn iou(&self, other: &Quad) -> f64 {
        let shared = self.overlap(other);
        let joint = self.area() + other.area() - shared;
        if joint <= 0.0 { 0.0 } else { shared / joint }
    }

    /// Whether a place lies inside a convex outline (edge included), corners in either sense.
    ///
    /// ```
    /// use dorso_seeing::geometry::{Point, Rect};
    /// let q = Rect::new(0, 0, 10, 10).quad();
    /// assert!(q.holds(Point::new(10.0, 4.0)) && !q.holds(Point::new(11.0, 4.0)));
    /// ```
    pub fn holds(&self, p: Point) -> bool {
        let c = &self.0;
        let (mut plus, mut minus) = (false, false);
        for i in 0..4 {
            let (a, b) = (c[i], c[(i + 1) % 4]);
            let s = (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
            plus |= s > 0.0;
            minus |= s < 0.0;
        }
        !(plus && minus)
    }

    /// Area that two convex outlines share, px² (Sutherland and Hodgman 1974 clipping).
    pub fn overlap(&self, other: &Quad) -> f64 {
        let clip = clockwise(other.0.to_vec());
        polygon_area(&clipped(self.0.to_vec(), &clip)).abs()
    }
}

/// Corners in the sense of a clock's hands on the screen.
pub fn clockwise(mut corners: Vec<Point>) -> Vec<Point> {
    if polygon_area(&corners) < 0.0 {
        corners.reverse();
    }
    corners
}

/// What of a polygon lies within a convex one that runs [`clockwise`] (Sutherland and Hodgman 1974).
pub fn clipped(mut poly: Vec<Point>, by: &[Point]) -> Vec<Point> {
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

/// Area by the shoelace formula, px²; below 0 against the clock.
pub fn polygon_area(points: &[Point]) -> f64 {
    let n = points.len();
    (0..n)
        .map(|i| {
            let (p, q) = (points[i], points[(i + 1) % n]);
            p.x * q.y - q.x * p.y
        })
        .sum::<f64>()
        / 2.0
}
