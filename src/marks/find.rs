//! Which candidates are marks, and of what kind.

use super::bearing;
use super::candidates::{self, Candidate, Seen};
use super::chooser;
use super::outline;
use super::rescue;
use super::strip;
use super::{Mark, MarkKind};
use crate::chance::{logistic, logit};
use crate::geometry::{Point, Quad};
use image::RgbImage;

pub(super) fn find(photograph: &RgbImage) -> Vec<Mark> {
    let (w, h) = photograph.dimensions();
    if w < 8 || h < 8 {
        return Vec::new();
    }
    let (Seen { candidates, scale }, rows) = rayon::join(
        || candidates::see(photograph),
        || rescue::rows_of(photograph),
    );
    let opinions = chooser::opinions(&candidates);
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    order.sort_by(|&a, &b| opinions[b].chance.total_cmp(&opinions[a].chance));
    // Whose chance, and whose outline: several candidates may be outlines of the same mark.
    let mut kept: Vec<(usize, usize)> = Vec::new();
    for i in order {
        let (c, chance) = (&candidates[i], opinions[i].chance);
        if chance < LEAST || kept.iter().any(|k| same_place(&candidates[k.0], c)) {
            continue;
        }
        let closest = (0..candidates.len())
            .filter(|&j| {
                opinions[j].chance > 0.5 * chance && c.outline.iou(&candidates[j].outline) > 0.6
            })
            .fold(i, |b, j| {
                if opinions[j].close > opinions[b].close {
                    j
                } else {
                    b
                }
            });
        kept.push((i, closest));
    }
    kept.truncate(MOST);
    let quads: Vec<Quad> = kept
        .iter()
        .map(|&(i, outline)| {
            let quad = outline::named(&candidates[outline].outline, candidates[i].angle);
            candidates::scaled(&quad, scale)
        })
        .collect();
    // What is sorted down holds no row back: a person may never look at it.
    let likely = |k: &usize| opinions[kept[*k].0].chance >= super::LIKELY;
    let (first, last): (Vec<usize>, Vec<usize>) = (0..quads.len()).partition(likely);
    let mut held: Vec<Quad> = first.iter().map(|&k| quads[k]).collect();
    let gone = rescue::doubled(&mut held, &rows);
    let (first, mut held): (Vec<usize>, Vec<Quad>) = first
        .into_iter()
        .zip(held)
        .zip(gone)
        .filter(|m| !m.1)
        .map(|m| m.0)
        .unzip();
    rescue::widen(&mut held, &rows);
    let missed = rescue::missed(&held, &rows);
    let empty = rescue::without_rows(&held, &rows);
    let sorted_down: Vec<Quad> = last.iter().map(|&k| quads[k]).collect();
    let quads = [held, sorted_down].concat();
    let kept: Vec<(usize, usize)> = first.into_iter().chain(last).map(|k| kept[k]).collect();
    let mut marks: Vec<Mark> = kept
        .into_iter()
        .zip(quads)
        .zip(empty.into_iter().chain(std::iter::repeat(false)))
        .map(|(((i, outline), quad), empty)| {
            let c = &candidates[i];
            // What has the outline of a patch of paper is a label, whatever its lettering looks like.
            let paper = candidates
                .iter()
                .any(|p| candidates::is_sheet(p) && p.outline.iou(&c.outline) > 0.7);
            let (kind, kind_chance) = chooser::kind(c, paper);
            Mark {
                kind,
                kind_chance,
                outline: within(&quad, w, h),
                lettering: if empty {
                    logistic(logit(opinions[i].chance) + BARE.ln())
                } else {
                    opinions[i].chance
                },
                bearing: bearing::of(&candidates[outline].parts),
            }
        })
        .collect();
    // The same place, sorted down, comes up again.
    marks.retain(|m| {
        let again = |n: &rescue::Missed| n.outline.iou(&m.outline) > 0.5;
        m.lettering >= super::LIKELY || !missed.iter().any(again)
    });
    marks.extend(missed.into_iter().map(|m| {
        let like = candidates
            .iter()
            .map(|c| (c, candidates::scaled(&c.outline, scale).iou(&m.outline)))
            .filter(|c| c.1 > 0.3)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|c| c.0);
        let (kind, kind_chance) = like.map_or((MarkKind::Unknown, 0.0), |c| {
            chooser::kind(c, candidates::is_sheet(c))
        });
        Mark {
            kind,
            kind_chance,
            outline: within(&outline::named(&m.outline, m.angle), w, h),
            lettering: m.lettering,
            bearing: like.and_then(|c| bearing::of(&c.parts)),
        }
    }));
    marks.sort_by(|a, b| b.lettering.total_cmp(&a.lettering));
    strip::as_one(marks, (w, h))
}

/// What is left of the odds that a mark carries lettering where the network sees no row in it: of 109 such
/// outlines on 300 made photographs those of 0.52, 0.68, 0.88 and 0.99 on average were marks in 2 of 12, 3 of
/// 10, 5 of 9 and 8 of 9 (so stated 0.21, 0.35, 0.65 and 0.96; rather too high than too low, since what falls
/// below `LIKELY` is sorted down).
const BARE: f64 = 0.25;

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
    let opinions = chooser::opinions(&candidates);
    candidates
        .iter()
        .zip(opinions)
        .map(|(c, opinion)| super::Candidate {
            outline: candidates::scaled(&c.outline, scale),
            paper: c.paper,
            measures: c.measures.to_vec(),
            parts: c.parts.to_vec(),
            chance: opinion.chance,
        })
        .collect()
}
