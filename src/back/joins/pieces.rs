//! Sightings that are a piece of a mark which the other photographs show whole.

use super::{Join, Pairs, Shown};
use crate::back::plan::Plan;

/// A sighting that shows no mark of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    /// Its place in the list that was given.
    pub piece: usize,
    /// A sighting on another photograph that shows the mark of which it is a piece.
    pub of: usize,
}

/// Chance from which two sightings count as one mark.
const ONE: f64 = 0.5;
/// A photograph says something of a place if it shows this share of it.
const SHOWS: f64 = 0.8;
/// A piece lies on the mark by this share of itself, and covers no more than this share of the mark. Both set
/// by reasoning: outlines of one thing agree to about a tenth, and half a label is still a label.
const LIES_ON: f64 = 0.75;
const COVERS: f64 = 0.6;

/// Where one label was found in several pieces on one photograph: those that no join makes a mark, that lie
/// within a mark on most photographs which show their place, and beside a sighting on their own that is
/// joined to that mark.
///
/// * `joins`: as [`super::joins`] gives them for the same sightings.
pub fn pieces(shown: &[Shown<'_>], plan: &Plan, joins: &[Join]) -> Vec<Piece> {
    let all = Pairs::new(shown, plan);
    let one = |a: usize, b: usize| {
        let same = |j: &&Join| (j.a, j.b) == (a.min(b), a.max(b));
        joins.iter().find(same).is_some_and(|j| j.chance >= ONE)
    };
    let joined = |a: usize| (0..shown.len()).any(|b| one(a, b));
    let piece = |s: usize| {
        let mut photos: Vec<usize> = shown.iter().map(|o| o.photo).collect();
        photos.sort_unstable();
        photos.dedup();
        let (mut whole, mut within): (usize, Vec<(usize, f64)>) = (0, Vec::new());
        for photo in photos.into_iter().filter(|p| *p != shown[s].photo) {
            let others = (0..shown.len()).filter(|&o| shown[o].photo == photo);
            let lies = others.filter_map(|o| Some((o, all.lie(s, o)?.0)));
            let on = lies
                .filter(|(_, l)| l.first[0] >= SHOWS)
                .max_by(|a, b| a.1.first[1].total_cmp(&b.1.first[1]));
            let Some((o, lie)) = on else { continue };
            let [_, lies_on, covers] = lie.first;
            let beside = |u: usize| u != s && shown[u].photo == shown[s].photo && one(u, o);
            if lies_on >= LIES_ON && covers <= COVERS && (0..shown.len()).any(beside) {
                within.push((o, lies_on));
            } else {
                whole += 1;
            }
        }
        let best = within.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        (within.len() > whole).then_some(Piece {
            piece: s,
            of: best.0,
        })
    };
    let alone = (0..shown.len()).filter(|&s| !joined(s));
    alone.filter_map(piece).collect()
}
