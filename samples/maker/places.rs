//! Which part of the object shows at a place of a back, and which parts a mark lies on.

use crate::back::{Back, Support};
use crate::camera::{Shot, apply, inverse};
use crate::dice::fbm;
use crate::piece::Piece;

/// What shows at a place, in the order of the map of parts; `NONE` is what the back lies on.
pub const PARTS: [&str; 8] = [
    "",
    "panel",
    "board",
    "canvas",
    "stretcher",
    "slip",
    "frame",
    "backing",
];
const NONE: u8 = 0;
const STRETCHER: u8 = 4;
const SLIP: u8 = 5;
const FRAME: u8 = 6;
const BACKING: u8 = 7;

/// Places of a mark that are looked at, along each side.
const SIDE: usize = 14;
/// A mark that has this share of itself on a second part bridges the two.
const BRIDGES: f32 = 0.12;

/// The part that shows at a place, mm.
pub fn part(back: &Back, x: f32, y: f32) -> u8 {
    let (w, h) = (back.w, back.h);
    let edge = x.min(w - x).min(y).min(h - y);
    if edge < 0.0 {
        return NONE;
    }
    if back.backing.is_some_and(|torn| covered(back, torn, x, y)) {
        return BACKING;
    }
    if let Some(frame) = &back.frame {
        if edge < frame.rail {
            return FRAME;
        }
        if edge < frame.rail + frame.slip {
            return SLIP;
        }
    }
    let [x0, y0, x1, y1] = back.inner();
    match &back.support {
        Support::Panel { .. } => 1,
        Support::Board { .. } => 2,
        Support::Canvas { bar, cross, .. } => {
            let across = (x - x0).min(x1 - x).min(y - y0).min(y1 - y);
            let on_cross = *cross && (y - (y0 + y1) / 2.0).abs() < bar * 0.42;
            if across <= *bar || on_cross {
                STRETCHER
            } else {
                3
            }
        }
    }
}

/// Whether the backing paper is still there.
fn covered(back: &Back, torn: f32, x: f32, y: f32) -> bool {
    back.paper_left(
        torn,
        x,
        y,
        fbm(x * 0.008 + 11.0, y * 0.008, 5, back.seed ^ 101),
    ) >= 0.0
}

/// Sets what a mark lies on, as its place on the back has it: the part under most of it, and the one
/// that it also lies on.
pub fn settle(back: &Back, piece: &mut Piece) {
    let mut counts = [0usize; PARTS.len()];
    for i in 0..SIDE {
        for j in 0..SIDE {
            let at = |k: usize, long: f32| (k as f32 + 0.5) / SIDE as f32 * long;
            let p = piece.to_back([at(i, piece.w), at(j, piece.h)]);
            counts[usize::from(part(back, p[0], p[1]))] += 1;
        }
    }
    // A slip is too narrow to be what a label was put on, unless nothing else is there.
    counts[usize::from(NONE)] = 0;
    counts[usize::from(SLIP)] /= 4;
    let best = |counts: &[usize]| (0..counts.len()).max_by_key(|&k| (counts[k], PARTS.len() - k));
    let first = best(&counts).unwrap_or(0);
    piece.standing.bearer = PARTS[first];
    counts[first] = 0;
    let second = best(&counts).unwrap_or(0);
    let share = counts[second] as f32 / (SIDE * SIDE) as f32;
    piece.standing.bridges = (share >= BRIDGES).then_some(PARTS[second]);
}

/// The parts on a photograph, one place for each `every` px, row by row.
pub fn map(back: &Back, shot: &Shot, every: usize) -> image::GrayImage {
    let to_back = inverse(&shot.map());
    let size = |n: usize| n.div_ceil(every) as u32;
    image::GrayImage::from_fn(size(shot.w), size(shot.h), |i, j| {
        let middle = |k: u32| (f64::from(k) + 0.5) * every as f64;
        let p = apply(&to_back, [middle(i), middle(j)]);
        image::Luma([part(back, p[0] as f32, p[1] as f32)])
    })
}
