//! What a photograph is recognised by: places that stand out, each with a description of its
//! surroundings that neither turn, size nor light change much.
//!
//! Sources: Lowe 2004, IJCV 60(2), sections 5 and 6 (direction and histogram of gradients);
//! Arandjelović and Zisserman 2012, "Three things everyone should know to improve object
//! retrieval", CVPR (root of the histogram).

use super::scales::{Blob, Plane, Scales};
use image::RgbImage;
use rayon::prelude::*;
use std::f32::consts::{PI, TAU};

/// Most features kept of a photograph: 144 kB.
const MOST: usize = 1800;

/// Cells across the longer side, over which features are spread.
const CELLS: usize = 14;

/// Parts of the histogram along each side, and directions in each.
const SIDE: usize = 4;
const WAYS: usize = 8;
/// Numbers in a description.
pub(super) const LENGTH: usize = SIDE * SIDE * WAYS;

/// Steps of a description's numbers for 1 of the root of the histogram's share. A share above
/// (15/40)² counts as that.
const FINE: f32 = 40.0;

/// One place that stands out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    /// Place, px of the upright photograph (outer corner 0).
    pub x: f32,
    pub y: f32,
    /// Blur at which it stands out, px of the photograph.
    pub size: f32,
    /// Direction, radians.
    pub angle: f32,
    /// The description, two numbers of four bits a byte.
    pub described: [u8; LENGTH / 2],
}

/// What a photograph is recognised by; at most 150 kB, so that its px need not be kept.
#[derive(Debug, Clone)]
pub struct Features {
    /// Width of the upright photograph, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
    pub(super) spots: Vec<Spot>,
}

/// First bytes of written features; the number goes up where others are found or described.
const WRITTEN: [u8; 4] = *b"dpf1";

impl Features {
    /// Bytes to keep, so that a photograph need not be opened again when others join it.
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut out = WRITTEN.to_vec();
        out.extend(self.width.to_le_bytes());
        out.extend(self.height.to_le_bytes());
        for s in &self.spots {
            for v in [s.x, s.y, s.size, s.angle] {
                out.extend(v.to_le_bytes());
            }
            out.extend(s.described);
        }
        out
    }

    /// Features from their bytes. None where they are not whole, or written by another version:
    /// then the photograph is to be opened again.
    pub fn from_bytes(bytes: &[u8]) -> Option<Features> {
        let four = |at: usize| bytes.get(at..at + 4)?.try_into().ok();
        if four(0)? != WRITTEN {
            return None;
        }
        let spots = bytes.get(12..)?.chunks(16 + LENGTH / 2).map(|c| {
            let number = |i: usize| {
                Some(f32::from_le_bytes(
                    c.get(4 * i..4 * i + 4)?.try_into().ok()?,
                ))
            };
            let spot = Spot {
                x: number(0)?,
                y: number(1)?,
                size: number(2)?,
                angle: number(3)?,
                described: c.get(16..)?.try_into().ok()?,
            };
            let whole = [spot.x, spot.y, spot.size, spot.angle]
                .iter()
                .all(|v| v.is_finite());
            (whole && spot.size > 0.0).then_some(spot)
        });
        Some(Features {
            width: u32::from_le_bytes(four(4)?),
            height: u32::from_le_bytes(four(8)?),
            spots: spots.collect::<Option<Vec<Spot>>>()?,
        })
    }
}

/// Finds what an upright photograph is recognised by. A photograph under 24 px on a side has
/// nothing.
pub fn features(picture: &RgbImage) -> Features {
    let (width, height) = picture.dimensions();
    let mut spots = Vec::new();
    if width.min(height) >= 24 {
        let (plane, by) = Plane::of(picture);
        let size = (plane.w, plane.h);
        let (scales, blobs) = Scales::of(plane);
        let kept = chosen(blobs, size);
        spots = kept
            .par_iter()
            .flat_map_iter(|b| described(&scales, b, by))
            .collect();
        spots.truncate(MOST);
        spots.shrink_to_fit();
    }
    Features {
        width,
        height,
        spots,
    }
}

/// The strongest, and the strongest of each part of the picture.
fn chosen(mut blobs: Vec<Blob>, size: (usize, usize)) -> Vec<Blob> {
    blobs.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    if blobs.len() <= MOST {
        return blobs;
    }
    let cell = size.0.max(size.1).div_ceil(CELLS);
    let mut filled = vec![0usize; CELLS * CELLS];
    let mut order: Vec<(usize, usize)> = blobs
        .iter()
        .enumerate()
        .map(|(i, b)| {
            let whole = |v: f32| ((v * (1 << b.octave) as f32) as usize / cell).min(CELLS - 1);
            let n = &mut filled[whole(b.y) * CELLS + whole(b.x)];
            *n += 1;
            // A cell's tenth counts like the fortieth of all.
            (i.min(*n * 40), i)
        })
        .collect();
    order.sort_unstable();
    order.truncate(MOST);
    order.into_iter().map(|(_, i)| blobs[i]).collect()
}

fn rank(b: &Blob) -> f32 {
    b.strength * (1.0 + b.octave as f32)
}

/// A blob's spots: one for each direction that its gradients prefer.
fn described(scales: &Scales, blob: &Blob, by: (f64, f64)) -> Vec<Spot> {
    let plane = scales.level(blob);
    let unit = (1u32 << blob.octave) as f32;
    let whole = |v: f32, by: f64| (f64::from(v * unit + 0.5) / by) as f32;
    directions(plane, blob)
        .into_iter()
        .map(|angle| Spot {
            x: whole(blob.x, by.0),
            y: whole(blob.y, by.1),
            size: (f64::from(blob.sigma * unit) / by.0) as f32,
            angle,
            described: description(plane, blob, angle),
        })
        .collect()
}

/// Gradient across and down; none at the edge.
#[inline]
fn slope(plane: &Plane, x: isize, y: isize) -> Option<(f32, f32)> {
    if x < 1 || y < 1 || x + 1 >= plane.w as isize || y + 1 >= plane.h as isize {
        return None;
    }
    let i = y as usize * plane.w + x as usize;
    Some((
        plane.v[i + 1] - plane.v[i - 1],
        plane.v[i + plane.w] - plane.v[i - plane.w],
    ))
}

/// Directions whose share of the gradients is at least 0.8 of the greatest (Lowe 2004, section 5),
/// at most two.
fn directions(plane: &Plane, blob: &Blob) -> Vec<f32> {
    const BINS: usize = 36;
    let spread = 1.5 * blob.sigma;
    let reach = (3.0 * spread).round() as isize;
    let (cx, cy) = (blob.x.round() as isize, blob.y.round() as isize);
    let mut bins = [0.0f32; BINS];
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let Some((gx, gy)) = slope(plane, cx + dx, cy + dy) else {
                continue;
            };
            let weight = (-((dx * dx + dy * dy) as f32) / (2.0 * spread * spread)).exp();
            let at = gy.atan2(gx).rem_euclid(TAU) / TAU * BINS as f32;
            bins[at as usize % BINS] += weight * gx.hypot(gy);
        }
    }
    for _ in 0..2 {
        let b = bins;
        for i in 0..BINS {
            bins[i] = 0.25 * b[(i + BINS - 1) % BINS] + 0.5 * b[i] + 0.25 * b[(i + 1) % BINS];
        }
    }
    let top = bins.iter().copied().fold(0.0f32, f32::max);
    let mut peaks: Vec<(f32, f32)> = (0..BINS)
        .filter_map(|i| {
            let (l, c, r) = (bins[(i + BINS - 1) % BINS], bins[i], bins[(i + 1) % BINS]);
            (c >= 0.8 * top && c > l && c >= r).then(|| {
                let d = 0.5 * (l - r) / (l - 2.0 * c + r);
                (
                    c,
                    ((i as f32 + 0.5 + d) / BINS as f32 * TAU).rem_euclid(TAU),
                )
            })
        })
        .collect();
    peaks.sort_by(|a, b| b.0.total_cmp(&a.0));
    peaks.into_iter().take(2).map(|p| p.1).collect()
}

/// Histogram of gradients in 4 x 4 parts and 8 directions about the place, its root in four bits.
fn description(plane: &Plane, blob: &Blob, angle: f32) -> [u8; LENGTH / 2] {
    let part = 3.0 * blob.sigma;
    let half = SIDE as f32 / 2.0;
    let reach = (part * (half + 0.5) * std::f32::consts::SQRT_2).round() as isize;
    let (sin, cos) = angle.sin_cos();
    let (cx, cy) = (blob.x.round() as isize, blob.y.round() as isize);
    let (fx, fy) = (blob.x - cx as f32, blob.y - cy as f32);
    let mut h = [[[0.0f32; WAYS]; SIDE + 2]; SIDE + 2];
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let (px, py) = (dx as f32 - fx, dy as f32 - fy);
            let u = (cos * px + sin * py) / part;
            let v = (cos * py - sin * px) / part;
            if u.abs() >= half + 0.5 || v.abs() >= half + 0.5 {
                continue;
            }
            let Some((gx, gy)) = slope(plane, cx + dx, cy + dy) else {
                continue;
            };
            let much = gx.hypot(gy) * (-(u * u + v * v) / (2.0 * half * half)).exp();
            let way = (gy.atan2(gx) - angle).rem_euclid(TAU) / TAU * WAYS as f32;
            let (bu, bv) = (u + half + 0.5, v + half + 0.5);
            let (iu, iv, iw) = (bu as usize, bv as usize, way as usize);
            let (fu, fv, fw) = (bu - iu as f32, bv - iv as f32, way - iw as f32);
            for (j, wv) in [(iv, 1.0 - fv), (iv + 1, fv)] {
                for (i, wu) in [(iu, 1.0 - fu), (iu + 1, fu)] {
                    let m = much * wv * wu;
                    let cell = &mut h[j.min(SIDE + 1)][i.min(SIDE + 1)];
                    cell[iw % WAYS] += m * (1.0 - fw);
                    cell[(iw + 1) % WAYS] += m * fw;
                }
            }
        }
    }
    packed(&h)
}

fn packed(h: &[[[f32; WAYS]; SIDE + 2]; SIDE + 2]) -> [u8; LENGTH / 2] {
    let flat: [f32; LENGTH] = std::array::from_fn(|i| {
        let (cell, way) = (i / WAYS, i % WAYS);
        h[cell / SIDE + 1][cell % SIDE + 1][way]
    });
    let sum: f32 = flat.iter().sum::<f32>().max(1e-6);
    let four = |v: f32| ((v / sum).sqrt() * FINE).round().min(15.0) as u8;
    std::array::from_fn(|i| four(flat[2 * i]) | four(flat[2 * i + 1]) << 4)
}

/// Difference between two directions, radians, −π to π.
pub(super) fn turn(a: f32, b: f32) -> f32 {
    (b - a + PI).rem_euclid(TAU) - PI
}
