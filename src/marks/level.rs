//! A mark's picture turned so that its rows run level.

use super::rows::{self, Row};
use super::{Flattened, flatten, outline, raster};
use crate::geometry::Point;
use image::RgbImage;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// px of the longer side of what the network sees.
const LONGEST: u32 = 640;
/// Rows run level enough below this, and further than this no mark is turned; radians.
const LEAST: f64 = 0.012;
const MOST: f64 = 0.4;
/// Rows shorter than so many heights of an x don't tell their direction well enough.
const LONG: f64 = 4.0;
/// Rows less sure than this aren't asked.
const SURE: f64 = 0.6;
/// So much of the rows' length must agree with the turn, within so much.
const AGREED: f64 = 0.7;
const NEAR: f64 = 0.05;

/// See [`super::levelled`].
pub(super) fn levelled(picture: &RgbImage) -> Option<Flattened> {
    let (w, h) = picture.dimensions();
    let rows = rows::rows(&raster::lightness(picture), LONGEST);
    let rows: Vec<&Row> = rows
        .iter()
        .filter(|r| r.sure > SURE && r.length() > LONG * r.x_height)
        .collect();
    let turn = common(&rows)?;
    let corners = flatten::frame(w, h);
    let quad = outline::rectangle(&corners.0, turn);
    Some(flatten::exactly(picture, &quad))
}

/// What most of the rows are off the level or the plumb by, radians; `None` if that is next to
/// nothing, too much, or if they don't agree.
fn common(rows: &[&Row]) -> Option<f64> {
    let mut off: Vec<(f64, f64)> = rows
        .iter()
        .map(|r| {
            let (a, b): (Point, Point) = r.ends();
            let way = (b.y - a.y).atan2(b.x - a.x);
            let off = (way + FRAC_PI_4).rem_euclid(FRAC_PI_2) - FRAC_PI_4;
            (off, r.length())
        })
        .collect();
    off.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = off.iter().map(|o| o.1).sum();
    let mut passed = 0.0;
    let middle = off.iter().find(|o| {
        passed += o.1;
        2.0 * passed >= all
    })?;
    let near: f64 = off
        .iter()
        .filter(|o| (o.0 - middle.0).abs() < NEAR)
        .map(|o| o.1)
        .sum();
    ((LEAST..MOST).contains(&middle.0.abs()) && near > AGREED * all).then_some(middle.0)
}
