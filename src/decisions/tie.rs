//! Ties the marks of a new run to those known on the same photograph, by outline.

use crate::geometry::Quad;

/// Least shared over joint area (IoU) for two outlines to be the same mark.
pub const SAME_MARK: f64 = 0.5;

/// For each new outline the place of the known mark that it is, if any.
///
/// * `known`: for each mark all outlines under which it was ever seen.
/// * `new`: outlines of the new run.
///
/// Pairs of at least [`SAME_MARK`], the greatest IoU first; each known and each new mark is used at
/// most once. Outlines that don't overlap their neighbours have at most one partner above 0.5, so
/// that taking the greatest first is then also the best pairing as a whole. Cost: all pairs, a
/// photograph has tens of marks.
pub fn tie(known: &[Vec<Quad>], new: &[Quad]) -> Vec<Option<usize>> {
    let mut pairs = Vec::new();
    for (k, outlines) in known.iter().enumerate() {
        for (n, outline) in new.iter().enumerate() {
            let iou = outlines.iter().map(|o| o.iou(outline)).fold(0.0, f64::max);
            if iou >= SAME_MARK {
                pairs.push((iou, k, n));
            }
        }
    }
    // Equal likeness: the older mark first, so that the result doesn't hang on the order of a map.
    pairs.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut used = vec![false; known.len()];
    let mut out = vec![None; new.len()];
    for (_, k, n) in pairs {
        if !used[k] && out[n].is_none() {
            used[k] = true;
            out[n] = Some(k);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Rect, Turn};

    fn at(x: i32, w: u32) -> Quad {
        Rect::new(x, 0, w, 50).quad()
    }

    #[test]
    fn the_same_place_is_the_same_mark_whichever_way_it_is_read() {
        let known = vec![vec![at(0, 100)], vec![at(300, 100)]];
        let new = [at(305, 100).turned(Turn::Half), at(2, 99)];
        assert_eq!(tie(&known, &new), [Some(1), Some(0)]);
    }

    #[test]
    fn half_overlap_is_needed() {
        assert_eq!(tie(&[vec![at(0, 100)]], &[at(34, 100)]), [None]);
        assert_eq!(tie(&[vec![at(0, 100)]], &[at(33, 100)]), [Some(0)]);
    }

    #[test]
    fn of_two_candidates_the_nearer_one_is_taken_and_the_other_is_new() {
        assert_eq!(
            tie(&[vec![at(0, 100)]], &[at(20, 100), at(5, 100)]),
            [None, Some(0)]
        );
    }

    #[test]
    fn a_mark_seen_under_several_outlines_is_known_by_any_of_them() {
        assert_eq!(
            tie(&[vec![at(0, 100), at(60, 100)]], &[at(62, 100)]),
            [Some(0)]
        );
    }
}
