//! Places where one photograph shows a mark and others nothing.

use super::place::{Frame, Lie};
use super::{Pairs, Shown, WHOLE};
use crate::back::plan::Plan;
use crate::geometry::Rect;

/// Share of the smaller of two outlines that lies on both from which they are taken for one place: outlines
/// of one mark agree to much more, those of neighbours to less.
const HERE: f64 = 0.3;

/// For each sighting on how many other photographs its place shows whole while nothing was found there.
///
/// * `sizes`: width and height of every photograph, upright, px, as numbered on the plan.
pub fn bare_on(shown: &[Shown<'_>], sizes: &[(u32, u32)], plan: &Plan) -> Vec<u32> {
    let all = Pairs::new(shown, plan);
    let laid = |photo: usize| {
        let place = plan.places.get(photo)?.as_ref()?;
        let (w, h) = sizes[photo];
        let edge = Rect::new(0, 0, w, h).quad();
        Some((place.face, Frame::new(&edge, (w, h), place)?))
    };
    let photographs: Vec<_> = (0..sizes.len()).map(laid).collect();
    let found = |s: usize, photo: usize| {
        let mut others = (0..shown.len()).filter(|&o| shown[o].photo == photo);
        others.any(|o| {
            all.lie(s, o)
                .is_some_and(|(lie, ..)| lie.shared_of_smaller > HERE)
        })
    };
    let bare = |s: usize| {
        let (Some(frame), Some(place)) = (&all.frames[s], all.places[s]) else {
            return 0;
        };
        let shows = |photo: &usize| {
            let other = &photographs[*photo];
            other.as_ref().is_some_and(|(face, edge)| {
                *face == place.face && Lie::of(frame, edge).first[0] >= WHOLE
            })
        };
        let others = (0..sizes.len()).filter(|p| *p != shown[s].photo);
        others.filter(shows).filter(|p| !found(s, *p)).count() as u32
    };
    (0..shown.len()).map(bare).collect()
}
