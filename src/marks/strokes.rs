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
    /// Greater than its ground in its plane: lighter, redder, yellower.
    pub light: bool,
    /// Which picture it was found on: 0 lightness, fine; 1 lightness, coarse; 2 and 3 the opponent
    /// colours, coarse. Strokes of different planes never keep company.
    pub plane: u8,
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
        self.width > 0.4 * self.size() || (full > 0.8 && short > 0.3 * long)
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

/// Finds strokes of one polarity that keep their shape while the level falls by `step`.
pub(crate) fn strokes(lightness: &GrayImage, light: bool, step: u8) -> Vec<Stroke> {
    let picture = if light {
        lightness.clone()
    } else {
        raster::inverted(lightness)
    };
    let tree = Tree::of(&picture);
    if tree.nodes.is_empty() {
        return Vec::new();
    }
    let growth = tree.growth(step);
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

/// Finds strokes of both polarities that stand out from the mean of their neighbourhood by more than
/// its own unrest: chalk and faded paint, whose grain hides them from [`strokes`].
///
/// * `radius`: half the side of the neighbourhood, px; a few times the width of a stroke.
/// * `least`: grey values that a stroke stands out by at least.
pub(crate) fn standing_out(plane: &GrayImage, radius: usize, least: f32) -> Vec<Stroke> {
    let (w, h) = (plane.width() as usize, plane.height() as usize);
    if w == 0 || h == 0 {
        return Vec::new();
    }
    let value: Vec<f32> = plane.as_raw().iter().map(|&v| f32::from(v)).collect();
    let spread = |ground: &[f32], value: &[f32]| -> Vec<f32> {
        let off: Vec<f32> = value
            .iter()
            .zip(ground)
            .map(|(v, g)| (v - g).abs())
            .collect();
        raster::mean(&off, w, h, radius)
    };
    let ground = raster::mean(&value, w, h, radius);
    let unrest = spread(&ground, &value);
    // Once more without what stands out, so that strokes don't lift their own ground.
    let calm: Vec<f32> = (0..w * h)
        .map(|i| {
            // A sliding mean may come out a hair below 0 where nothing stirs.
            let room = unrest[i].max(0.0);
            value[i].clamp(ground[i] - room, ground[i] + room)
        })
        .collect();
    let ground = raster::mean(&calm, w, h, radius);
    let unrest = spread(&ground, &calm);
    let greatest = GREATEST * w.max(h) as f64;
    [false, true]
        .into_iter()
        .flat_map(|light| {
            let sign = if light { 1.0 } else { -1.0 };
            let over = |i: usize| (value[i] - ground[i]) * sign;
            // Cut blurred strokes at a share of their own height, or neighbours run into each other.
            let height: Vec<u8> = (0..w * h)
                .map(|i| over(i).clamp(0.0, 255.0) as u8)
                .collect();
            let height =
                GrayImage::from_raw(plane.width(), plane.height(), height).unwrap_or_default();
            let peak = raster::spread(&height, 6, true);
            let mask: Vec<u8> = (0..w * h)
                .map(|i| {
                    let floor = least
                        .max(2.5 * unrest[i])
                        .max(0.4 * f32::from(peak.as_raw()[i]));
                    if over(i) > floor { 255 } else { 0 }
                })
                .collect();
            let mask = GrayImage::from_raw(plane.width(), plane.height(), mask).unwrap_or_default();
            let tree = Tree::of(&mask);
            let found: Vec<Stroke> = (0..tree.nodes.len())
                .filter(|&i| tree.nodes[i].level == 255 && likely(&tree.nodes[i], greatest))
                .map(|i| {
                    let px = super::tree::pixels(&mask, &tree.nodes[i]);
                    let at = |p: &(u16, u16)| usize::from(p.1) * w + usize::from(p.0);
                    let n = px.len().max(1) as f32;
                    let mean =
                        |f: &dyn Fn(usize) -> f32| px.iter().map(|p| f(at(p))).sum::<f32>() / n;
                    Stroke {
                        level: f64::from(mean(&|i| value[i])),
                        contrast: f64::from(mean(&over)),
                        ..stroke(&tree, i, light)
                    }
                })
                .collect();
            found
        })
        .collect()
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
        plane: 0,
    }
}
