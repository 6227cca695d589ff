//! Stroke-like patches: what may be a letter, in ink darker than its ground or chalk lighter.
//!
//! In: a lightness picture. Out: [`Stroke`]s, none inside another of the same polarity. Letters
//! aren't told from grain, nails and specks here, but by the company they keep ([`super::groups`]).

use super::raster;
use super::tree::{Node, Tree};
use crate::geometry::{Point, Rect};
use image::GrayImage;

/// A stroke-like patch, px of the shrunken picture.
#[derive(Debug, Clone)]
pub(crate) struct Stroke {
    /// Upright bounds.
    pub bounds: Rect,
    /// Centre of gravity.
    pub centre: Point,
    /// Longer and shorter side of the rectangle with the same second moments.
    pub sides: (f64, f64),
    /// Direction of the longer side, radians.
    pub angle: f64,
    /// px.
    pub area: f64,
    /// Mean width of the stroke: 2 · area / perimeter.
    pub width: f64,
    /// Grey value it was cut at, of the picture itself.
    pub level: f64,
    /// Grey values over which the patch keeps its shape.
    pub contrast: f64,
    /// Lighter than its ground.
    pub light: bool,
}

impl Stroke {
    /// Size of a letter that it may be: the longer side.
    pub fn size(&self) -> f64 {
        f64::from(self.bounds.w.max(self.bounds.h))
    }

    /// Brings it to a picture `by` times as large.
    pub fn enlarge(&mut self, by: f64) {
        let b = self.bounds;
        let at = |v: i32| (f64::from(v) * by).round() as i32;
        let long = |v: u32| (f64::from(v) * by).round().max(1.0) as u32;
        self.bounds = Rect::new(at(b.x), at(b.y), long(b.w), long(b.h));
        self.centre = Point::new(self.centre.x * by, self.centre.y * by);
        self.sides = (self.sides.0 * by, self.sides.1 * by);
        self.area *= by * by;
        self.width *= by;
    }

    /// Whether it is a filled patch, as papers and boards are, and no stroke.
    pub fn is_body(&self) -> bool {
        let (long, short) = self.sides;
        let full = self.area / (long * short).max(1.0);
        self.width > 0.28 * self.size() || (full > 0.72 && short > 0.3 * long)
    }

    /// Half its extent along a direction (radians), by its second moments.
    pub fn reach(&self, direction: f64) -> f64 {
        let d = direction - self.angle;
        ((self.sides.0 * d.cos()).hypot(self.sides.1 * d.sin())) / 2.0
    }
}

/// Least and greatest letter size, px: smaller is noise of the camera, larger is furniture.
const LEAST: f64 = 5.0;
/// As a share of the picture's longer side.
const GREATEST: f64 = 0.25;
/// Grey values over which a patch has to keep its shape to be seen as one.
const STEP: u8 = 8;

/// Finds strokes of one polarity.
pub(crate) fn strokes(lightness: &GrayImage, light: bool) -> Vec<Stroke> {
    let picture = if light {
        lightness.clone()
    } else {
        raster::inverted(lightness)
    };
    let tree = Tree::of(&picture);
    if tree.nodes.is_empty() {
        return Vec::new();
    }
    let growth = tree.growth(STEP);
    let greatest = GREATEST * f64::from(picture.width().max(picture.height()));
    let count = tree.nodes.len();
    let quality: Vec<f32> = tree
        .nodes
        .iter()
        .zip(&growth)
        .map(|(n, &g)| {
            if likely(n, greatest) && g < 0.6 {
                1.0 / (1.0 + 2.0 * g)
            } else {
                0.0
            }
        })
        .collect();
    // Bottom up: a patch stands against the area-weighted best of the patches in it.
    let mut win = vec![false; count];
    let mut inside = vec![(0.0f32, 0.0f32); count];
    for i in 0..count {
        let (sum, area) = inside[i];
        let own = tree.nodes[i].area as f32;
        let mean = if area > 0.0 { sum / area } else { 0.0 };
        let rival = mean * (area / own).min(1.0).powf(0.25);
        let up = tree.nodes[i].parent as usize;
        let passed = if quality[i] > 0.0 && quality[i] >= rival {
            win[i] = true;
            (quality[i] * own, own)
        } else {
            (sum, area)
        };
        if up != i {
            inside[up].0 += passed.0;
            inside[up].1 += passed.1;
        }
    }
    // Top down: what lies in a chosen patch is part of it.
    let mut covered = vec![false; count];
    let mut out = Vec::new();
    for i in (0..count).rev() {
        let up = tree.nodes[i].parent as usize;
        covered[i] = up != i && (covered[up] || win[up]);
        if win[i] && !covered[i] {
            out.push(stroke(&tree, i, light));
        }
    }
    out
}

/// Whether the shape can be that of a letter or a few joined ones.
fn likely(n: &Node, greatest: f64) -> bool {
    let b = n.bounds();
    let size = f64::from(b.w.max(b.h));
    if n.area < 12 || size < LEAST || size > greatest {
        return false;
    }
    let width = 2.0 * f64::from(n.area) / f64::from(n.perimeter.max(1));
    let (long, short, _) = n.shape();
    width / size < 0.45 && long / short < 14.0
}

fn stroke(tree: &Tree, i: usize, light: bool) -> Stroke {
    let n = &tree.nodes[i];
    let (long, short, angle) = n.shape();
    let (x, y) = n.centre();
    let level = f64::from(n.level);
    // How far the level can fall before the patch runs out.
    let mut up = n;
    loop {
        let next = &tree.nodes[up.parent as usize];
        if std::ptr::eq(next, up) || f64::from(next.area) > 2.0 * f64::from(n.area) {
            up = next;
            break;
        }
        up = next;
    }
    Stroke {
        bounds: n.bounds(),
        centre: Point::new(x, y),
        sides: (long, short),
        angle,
        area: f64::from(n.area),
        width: 2.0 * f64::from(n.area) / f64::from(n.perimeter.max(1)),
        level: if light { level } else { 255.0 - level },
        contrast: level - f64::from(up.level),
        light,
    }
}
