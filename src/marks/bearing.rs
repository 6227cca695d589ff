//! What a mark lies on, as the network sees it around and under it: chances of the parts that may bear
//! it, and that it runs over two of them. Fitted on made backs by `training/fit_bearers.py`.

use super::chooser::Net;
use super::network::{BEARING, PARTS};
use super::{Bearing, Part};
use crate::chance::{logistic, normalise};
use serde::Deserialize;
use std::sync::OnceLock;

/// Chances below this aren't told.
const LEAST: f64 = 0.01;

#[derive(Debug, Deserialize)]
struct Nets {
    /// From the measures to the log chances of the parts, in the order of [`Part::ALL`].
    bearer: Net,
    /// From the same to the log odds that a second part bears it too.
    bridges: Net,
}

fn nets() -> Option<&'static Nets> {
    static NETS: OnceLock<Option<Nets>> = OnceLock::new();
    NETS.get_or_init(|| serde_json::from_str(include_str!("bearing.json")).ok())
        .as_ref()
}

/// What is thought of it; `None` if the network couldn't be run.
///
/// * `seen`: [`super::network::Map::parts`].
pub(super) fn of(seen: &[f64; BEARING]) -> Option<Bearing> {
    let nets = nets()?;
    if seen.iter().all(|v| *v == 0.0) {
        return None;
    }
    let chances = normalise(&nets.bearer.apply(seen));
    let mut on: Vec<(Part, f64)> = Part::ALL.into_iter().zip(chances).collect();
    on.sort_by(|a, b| b.1.total_cmp(&a.1));
    on.retain(|o| o.1 >= LEAST);
    let (first, _) = *on.first()?;
    let bridges = logistic(*nets.bridges.apply(seen).first()?);
    let second = second(seen, first);
    Some(Bearing {
        on,
        bridges: second.filter(|_| bridges >= LEAST).map(|p| (p, bridges)),
    })
}

/// The part, not the first, that shows most along one of the sides and within.
fn second(seen: &[f64; BEARING], first: Part) -> Option<Part> {
    let shown = |p: Part| {
        let k = |part: usize| seen[part] + seen[2 * PARTS + part];
        p.shown().map(k).sum::<f64>()
    };
    Part::ALL
        .into_iter()
        .filter(|p| *p != first)
        .max_by(|a, b| shown(*a).total_cmp(&shown(*b)))
}
