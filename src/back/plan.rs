//! Lays the photographs of a picture on one plan.
//!
//! Each photograph is reduced to what it is recognised by ([`features`]); each pair is fitted by what
//! both show ([`fit`](self)), and weighed; what fits is laid on the photograph that shows most of the
//! rest: a whole view where there is one, else the photograph that most overlaps with others, the
//! rest pieced on to it one by one. Photographs that fit each other but not those are a further face.

mod alike;
mod faces;
mod features;
mod fit;
mod frame;
mod map;
mod scales;
mod sure;

use crate::geometry::Homography;
use alike::{Opened, likenesses};
pub use features::{Features, features};
use fit::{Fit, Side};
use rayon::prelude::*;

/// How the photographs of one picture lie to each other.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The photograph whose px are the plan's, of face 0. None where no two photographs fit (and
    /// there is more than one).
    pub ground: Option<usize>,
    /// For each photograph, in the order given, where it lies. None: unplaced.
    pub places: Vec<Option<Place>>,
}

/// Where a photograph lies.
#[derive(Debug, Clone)]
pub struct Place {
    /// The face of the object: 0 for the one with most photographs. Each has a plan of its own.
    pub face: usize,
    /// px of the upright photograph to px of the face's ground photograph (the one whose own map is
    /// the identity).
    pub to_plan: Homography,
    /// Expected error on the plan, px: root of the mean square over what the ground shows of it.
    pub error_px: f64,
    /// Chance that it is rightly placed.
    pub chance: f64,
}

/// Lays photographs on plans, one a face.
pub fn lay(photos: &[Features]) -> Plan {
    let opened: Vec<Opened> = photos.par_iter().map(Opened::of).collect();
    let n = photos.len();
    let pairs: Vec<(usize, usize)> = (0..n)
        .flat_map(|a| (a + 1..n).map(move |b| (a, b)))
        .collect();
    let ties: Vec<faces::Tie> = pairs
        .par_iter()
        .filter_map(|&(a, b)| {
            let fit = pair((&photos[a], &opened[a]), (&photos[b], &opened[b]))?;
            let chance = sure::chance(&fit.signs);
            faces::tie((a, b), fit.map, (fit.error_px, fit.px_scale), chance)
        })
        .collect();
    faces::plan(photos, &ties)
}

fn pair(a: (&Features, &Opened), b: (&Features, &Opened)) -> Option<Fit> {
    let alike = likenesses(a, b);
    fit::fit(
        &Side {
            features: a.0,
            opened: a.1,
        },
        &Side {
            features: b.0,
            opened: b.1,
        },
        &alike,
    )
}

/// Where the first of two photographs lies on the second, and the measures that its chance is fitted
/// on: for the script that fits it.
#[doc(hidden)]
pub fn measured(a: &Features, b: &Features) -> Option<(Homography, [f64; sure::MEASURES])> {
    let fit = pair((a, &Opened::of(a)), (b, &Opened::of(b)))?;
    Some((fit.map, sure::measures(&fit.signs)))
}
