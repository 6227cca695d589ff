//! Whether what was taken for a mark bears anything, by all photographs that show its place.
//!
//! What one photograph alone takes for lettering (a knot, a nail's shadow, a stain) is seldom taken for it on
//! the next: that the place shows whole on other photographs and nothing was found there speaks against it.
//! The weights were fitted by `training/fit_bears.py`; see `card.md`.

use crate::chance::{logistic, logit};
use crate::readings::Reading;
use serde::Deserialize;
use std::sync::OnceLock;

/// Chance under which a place that nobody spoke of is neither asked nor told as a mark, but kept and told as
/// a place that was looked at: the same as of a single photograph.
pub const LIKELY: f64 = crate::marks::LIKELY;

/// Chance under which a place where nothing could be read is no mark but a place to look at: likelier than not
/// it bears nothing.
pub const EVEN: f64 = 0.5;

/// Whether a place is told as a mark: what can be read on it speaks for itself, else it has to be likelier a
/// mark than not.
pub fn is_told(chance: f64, is_read: bool) -> bool {
    chance >= if is_read { LIKELY } else { EVEN }
}

/// Whether anything was read.
pub fn is_read(reading: &Reading) -> bool {
    reading.lines.iter().any(|l| !l.text.trim().is_empty())
}

/// Chances nearer to 0 or 1 than this count as this.
const SURE: f64 = 0.003;

#[derive(Debug, Deserialize)]
struct Weights {
    bias: f64,
    lettering: f64,
    read: f64,
    bare_on: f64,
}

fn weights() -> &'static Weights {
    static WEIGHTS: OnceLock<Weights> = OnceLock::new();
    WEIGHTS.get_or_init(|| {
        serde_json::from_str(include_str!("bears.json")).expect("bears.json is built in and tested")
    })
}

/// How much is read: the sum of the letters' chances above one in three.
pub fn read(reading: &Reading) -> f64 {
    let letters = reading.lines.iter().flat_map(|l| &l.characters);
    letters.map(|c| (c.confidence - 1.0 / 3.0).max(0.0)).sum()
}

/// Chance that a mark bears anything at all.
///
/// * `lettering`: the greatest chance of lettering of its sightings.
/// * `read`: see [`read`].
/// * `bare_on`: on how many photographs its place shows whole and nothing was found there, by the sighting
///   of which that says least ([`super::joins::bare_on`]); 0 where the photographs aren't laid on each other:
///   then it is `lettering`, as one photograph has it.
pub fn chance(lettering: f64, read: f64, bare_on: u32) -> f64 {
    if bare_on == 0 {
        return lettering;
    }
    let w = weights();
    let seen = w.lettering * logit(lettering.clamp(SURE, 1.0 - SURE)) + w.read * read.ln_1p();
    logistic(w.bias + seen + w.bare_on * f64::from(bare_on))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn each_photograph_without_it_speaks_against_a_mark(l in 0.01f64..0.99, r in 0.0f64..40.0, n in 1u32..6) {
            prop_assert!(chance(l, r, n + 1) < chance(l, r, n));
            prop_assert!(chance(l, r + 1.0, n) > chance(l, r, n));
            prop_assert_eq!(chance(l, r, 0), l);
        }
    }
}
