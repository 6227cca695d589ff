//! Which candidates are marks, and of what kind.

use super::Mark;
use super::candidates::{self, Candidate, Seen};
use super::chooser;
use super::outline;
use crate::geometry::{Point, Quad};
use image::RgbImage;

pub(super) fn find(photograph: &RgbImage) -> Vec<Mark> {
    let (w, h) = photograph.dimensions();
    if w < 8 || h < 8 {
        return Vec::new();
    }
    let Seen { candidates, scale } = candidates::see(photograph);
    let chances = chooser::chances(&candidates);
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    order.sort_by(|&a, &b| chances[b].total_cmp(&chances[a]));
    let mut kept: Vec<usize> = Vec::new();
    for i in order {
        let c = &candidates[i];
        if chances[i] >= LEAST && !kept.iter().any(|&k| same_place(&candidates[k], c)) {
            kept.push(i);
        }
    }
    kept.truncate(MOST);
    kept.into_iter()
        .map(|i| {
            let c = &candidates[i];
            let quad = outline::named(&c.outline, c.angle);
            let (kind, kind_chance) = chooser::kind(c);
            Mark {
                kind,
                kind_chance,
                outline: within(&candidates::scaled(&quad, scale), w, h),
                lettering: chances[i],
            }
        })
        .collect()
}

/// Marks listed at most.
const MOST: usize = 60;
/// Candidates below this chance are noise, not even worth sorting down.
const LEAST: f64 = 0.02;

/// Whether two candidates can't both be marks: one lies for the most part in the other.
fn same_place(a: &Candidate, b: &Candidate) -> bool {
    let shared = a.outline.overlap(&b.outline);
    shared > 0.5 * a.outline.area().min(b.outline.area())
}

/// Corners cut to the picture.
fn within(quad: &Quad, w: u32, h: u32) -> Quad {
    let (w, h) = (f64::from(w), f64::from(h));
    Quad(
        quad.0
            .map(|p| Point::new(p.x.clamp(0.0, w), p.y.clamp(0.0, h))),
    )
}

/// See [`super::candidates`].
pub(super) fn candidates(photograph: &RgbImage) -> Vec<super::Candidate> {
    if photograph.width() < 8 || photograph.height() < 8 {
        return Vec::new();
    }
    let Seen { candidates, scale } = candidates::see(photograph);
    let chances = chooser::chances(&candidates);
    candidates
        .iter()
        .zip(chances)
        .map(|(c, chance)| super::Candidate {
            outline: candidates::scaled(&c.outline, scale),
            paper: c.paper,
            measures: c.measures.to_vec(),
            chance,
        })
        .collect()
}
