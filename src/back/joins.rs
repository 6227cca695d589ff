//! Which sightings are one mark: by place on the plan first, then by look, then by wording.
//!
//! A pair of sightings of different photographs is measured in one of three ways: where the plan has them
//! overlap ([`Way::Together`]), where it has them lie apart ([`Way::Apart`]: one mark only if it was moved
//! or the plan is wrong), and where it can't say ([`Way::Unplaced`]). Each way gives odds that both are
//! one mark; as a photograph shows a mark once, the odds of all that compete for a sighting are then
//! weighed against each other: two labels of the same wording share what the wording says. Weights were
//! fitted by `training/fit_joins.py`; see `card.md`.

use super::plan::{Place, Plan};
use crate::chance::{clamp, logit};
use crate::geometry::{Homography, Quad};
use crate::marks::MarkKind;
use crate::readings::Reading;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::OnceLock;

mod bare;
mod look;
mod pieces;
mod place;
mod wording;

pub use bare::bare_on;
pub use look::{Look, look};
pub use pieces::{Piece, pieces};
use place::{Frame, Lie};
use wording::{Wording, letters};

/// Joins less likely than this aren't told.
pub const LEAST: f64 = 0.02;

/// What one photograph shows of a mark.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// Its photograph, as numbered on the plan.
    pub photo: usize,
    /// Width and height of that photograph, upright, px.
    pub size: (u32, u32),
    /// Corners on the upright photograph in reading order, px.
    pub outline: Quad,
    /// What sort of mark.
    pub kind: MarkKind,
    /// What was read.
    pub reading: &'a Reading,
    /// How it looks, if that was kept.
    pub look: Option<&'a Look>,
}

/// Two sightings that may be one mark, by whatever they are told apart by: their places in a list, on
/// photographs, their numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Join<T = usize> {
    /// The one.
    pub a: T,
    /// The other.
    pub b: T,
    /// Chance that both are one mark, 0 to 1.
    pub chance: f64,
    /// The plan has them lie apart: one mark only if it was moved between two visits, which is a
    /// person's to say.
    pub moved: bool,
    /// A clause that says why: "lies at the same place, 0.3% of the width apart".
    pub why: String,
}

/// How the plan has a pair lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// They overlap within what both photographs show.
    Together,
    /// Both photographs show both places, and they don't overlap.
    Apart,
    /// One of the photographs isn't placed, or they are on different faces.
    Unplaced,
}

impl<T> Join<T> {
    /// The same, with its sightings told by something else.
    pub fn told_by<U>(self, other: impl Fn(T) -> U) -> Join<U> {
        Join {
            a: other(self.a),
            b: other(self.b),
            chance: self.chance,
            moved: self.moved,
            why: self.why,
        }
    }
}

/// What is measured of a pair, for fitting.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Places in the list that was given, the lesser first.
    pub pair: (usize, usize),
    /// How the plan has them lie.
    pub way: Way,
    /// What is weighed, by its way.
    pub measures: Vec<f64>,
}

#[derive(Debug, Deserialize)]
struct Weights {
    /// Of what is weighed whatever the way.
    looks: Vec<f64>,
    together: Vec<f64>,
    apart: Vec<f64>,
    unplaced: Vec<f64>,
}

/// A place apart from another by more than this share of overlap isn't the same (share of the smaller).
const TOUCHES: f64 = 0.05;
/// Less than this share of a sighting within the other photograph can't be told from its edge.
const IN_VIEW: f64 = 0.03;
/// Likeness of two marks that have nothing to do with each other, in words or looks, about.
const BY_LUCK: f64 = 0.45;
/// Likeness of surroundings between that of one place and that of two: there it says nothing, as where it
/// isn't known.
const AROUND: f64 = 0.4;
/// Places of overlap, likeness and wording among the measures of a pair that lies together.
const SAID: usize = 0;
const SHARED: usize = 5;
const ALIKE: usize = 11;
/// Both photographs show all of it from this share on.
const WHOLE: f64 = 0.9;
/// Letters beyond this many say no more.
const ENOUGH: f64 = 24.0;

fn weights() -> &'static Weights {
    static WEIGHTS: OnceLock<Weights> = OnceLock::new();
    WEIGHTS.get_or_init(|| {
        serde_json::from_str(include_str!("joins.json")).expect("joins.json is built in and tested")
    })
}

/// ln of the odds that a pair is one mark, whatever else they may be.
fn alone(m: &Measured) -> f64 {
    let w = weights();
    let weights = match m.way {
        Way::Together => &w.together,
        Way::Apart => &w.apart,
        Way::Unplaced => &w.unplaced,
    };
    let (bias, rest) = weights.split_first().unwrap_or((&0.0, &[]));
    let all = w.looks.iter().chain(rest).zip(&m.measures);
    bias + all.map(|(w, m)| w * m).sum::<f64>()
}

/// Pairs of sightings of different photographs that may be one mark, with a chance of [`LEAST`] at the
/// least, by their places in `shown`, the lesser first.
pub fn joins(shown: &[Shown<'_>], plan: &Plan) -> Vec<Join> {
    let all = Pairs::new(shown, plan);
    let measured = all.measured();
    let chances = against_each_other(shown, &measured);
    let told = measured.iter().zip(chances).filter(|(_, c)| *c >= LEAST);
    told.map(|(m, chance)| Join {
        a: m.pair.0,
        b: m.pair.1,
        chance,
        moved: m.way == Way::Apart,
        why: all.why(m),
    })
    .collect()
}

/// What is measured of every pair of sightings of different photographs; for fitting and for looking at.
pub fn measured(shown: &[Shown<'_>], plan: &Plan) -> Vec<Measured> {
    Pairs::new(shown, plan).measured()
}

/// Chances of the pairs, in their order: the odds of each over those of all that it competes with (the
/// same sighting beside another one of the same photograph) and of being none of them.
fn against_each_other(shown: &[Shown<'_>], measured: &[Measured]) -> Vec<f64> {
    let odds: Vec<f64> = measured
        .iter()
        .map(|m| alone(m).clamp(-30.0, 30.0).exp())
        .collect();
    // All odds of a sighting with those of one photograph.
    let mut sums: BTreeMap<(usize, usize), f64> = BTreeMap::new();
    for (m, o) in measured.iter().zip(&odds) {
        let (a, b) = m.pair;
        *sums.entry((a, shown[b].photo)).or_default() += o;
        *sums.entry((b, shown[a].photo)).or_default() += o;
    }
    let one = |(m, o): (&Measured, &f64)| {
        let (a, b) = m.pair;
        let all = sums[&(a, shown[b].photo)] + sums[&(b, shown[a].photo)] - o;
        clamp(o / (1.0 + all))
    };
    measured.iter().zip(&odds).map(one).collect()
}

/// All sightings of a picture, laid on the plan.
struct Pairs<'a> {
    shown: &'a [Shown<'a>],
    places: Vec<Option<&'a Place>>,
    /// Each sighting on the plan, where it is placed.
    frames: Vec<Option<Frame>>,
    letters: Vec<Vec<Vec<char>>>,
    /// Width of the ground photograph, px of the plan.
    width: f64,
}

impl<'a> Pairs<'a> {
    fn new(shown: &'a [Shown<'a>], plan: &'a Plan) -> Self {
        let places: Vec<Option<&Place>> = shown
            .iter()
            .map(|s| plan.places.get(s.photo).and_then(Option::as_ref))
            .collect();
        let laid = shown.iter().zip(&places);
        let frames = laid.map(|(s, place)| Frame::new(&s.outline, s.size, (*place)?));
        let on_ground = shown.iter().find(|s| Some(s.photo) == plan.ground);
        let width = on_ground.or(shown.first()).map_or(1, |s| s.size.0.max(1));
        Pairs {
            shown,
            frames: frames.collect(),
            places,
            letters: shown.iter().map(|s| letters(s.reading)).collect(),
            width: f64::from(width),
        }
    }

    fn pairs(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        let n = self.shown.len();
        (0..n)
            .flat_map(move |a| (a + 1..n).map(move |b| (a, b)))
            .filter(|&(a, b)| self.shown[a].photo != self.shown[b].photo)
    }

    /// How two sightings lie on the plan, if both are placed on one face.
    fn lie(&self, a: usize, b: usize) -> Option<(Lie, &Place, &Place)> {
        let (pa, pb) = (self.places[a]?, self.places[b]?);
        let (fa, fb) = (self.frames[a].as_ref()?, self.frames[b].as_ref()?);
        (pa.face == pb.face).then(|| (Lie::of(fa, fb), pa, pb))
    }

    /// The greatest overlap of a sighting with one of a photograph other than `but`.
    fn rival(&self, a: usize, photo: usize, but: usize) -> f64 {
        let others = (0..self.shown.len()).filter(|&o| self.shown[o].photo == photo && o != but);
        others
            .filter_map(|o| self.lie(a, o))
            .map(|(l, ..)| l.shared)
            .fold(0.0, f64::max)
    }

    /// What is measured of every pair; last for each placed one how much the other marks that both
    /// photographs show bear the placing out, 0 to 1.
    #[allow(clippy::type_complexity)] // pairs of photographs to pairs of marks, named nowhere else
    fn measured(&self) -> Vec<Measured> {
        let mut all: Vec<Measured> = self.pairs().map(|(a, b)| self.measure(a, b)).collect();
        let photos = |m: &Measured| {
            let (p, q) = (self.shown[m.pair.0].photo, self.shown[m.pair.1].photo);
            (p.min(q), p.max(q))
        };
        let mut borne: BTreeMap<(usize, usize), Vec<((usize, usize), f64)>> = BTreeMap::new();
        for m in all.iter().filter(|m| m.way == Way::Together) {
            let v = &m.measures;
            let likeness = v[SHARED] * v[ALIKE].max(v[SAID]);
            borne.entry(photos(m)).or_default().push((m.pair, likeness));
        }
        for m in all.iter_mut().filter(|m| m.way != Way::Unplaced) {
            let others = borne.get(&photos(m)).into_iter().flatten();
            let others = others.filter(|(o, _)| o.0 != m.pair.0 && o.1 != m.pair.1);
            let sum: f64 = others.map(|(_, l)| (l - BY_LUCK).max(0.0)).sum();
            m.measures.push(sum.min(1.0));
        }
        all
    }

    fn measure(&self, a: usize, b: usize) -> Measured {
        let (sa, sb) = (&self.shown[a], &self.shown[b]);
        let words = Wording::of(&self.letters[a], &self.letters[b]);
        let alike = |map: Option<&Homography>| {
            let (x, y) = sa.look.zip(sb.look)?;
            x.alike(y, map)
        };
        let around = sa.look.zip(sb.look).and_then(|(x, y)| x.alike_around(y));
        let around = around.map_or(0.0, |a| a - AROUND);
        let other_kind = f64::from(sa.kind.is_label() != sb.kind.is_label());
        let (said, few) = (said(&words), 1.0 - (words.letters / ENOUGH).min(1.0));
        let flat = alike(None).unwrap_or(0.0);
        let looks = vec![said, few, flat, around, other_kind];
        let Some((lie, pa, pb)) = self.lie(a, b) else {
            return Measured {
                pair: (a, b),
                way: Way::Unplaced,
                measures: looks,
            };
        };
        let sure = logit(clamp(pa.chance * pb.chance).clamp(0.005, 0.995));
        let (way, mut measures) = if lie.shared_of_smaller > TOUCHES {
            // Of what is cut off differently neither the whole looks nor its surroundings agree.
            let whole = f64::from(lie.in_view >= WHOLE);
            let looks = vec![said, few, flat * whole, around * whole, other_kind];
            (Way::Together, looks)
        } else {
            (Way::Apart, looks)
        };
        if way == Way::Together {
            measures.extend([
                lie.shared,
                lie.shared * lie.shared,
                lie.shared_of_smaller,
                lie.off,
                lie.in_view.ln().max(-3.0),
                (pa.error_px.hypot(pb.error_px) / lie.side.max(1.0)).min(2.0),
                alike(lie.map.as_ref()).unwrap_or(0.0),
                sure,
            ]);
        } else {
            let free = f64::from(self.free(a, b, &lie));
            let unseen = f64::from(lie.in_view < IN_VIEW);
            measures.extend([free * said, unseen, sure]);
        }
        Measured {
            pair: (a, b),
            way,
            measures,
        }
    }

    /// Whether the other's photograph shows nothing where each lies: it may have been moved.
    fn free(&self, a: usize, b: usize, lie: &Lie) -> bool {
        lie.in_view >= 0.5
            && self.rival(a, self.shown[b].photo, b) < TOUCHES
            && self.rival(b, self.shown[a].photo, a) < TOUCHES
    }

    fn why(&self, m: &Measured) -> String {
        let (a, b) = m.pair;
        let same_words = said(&Wording::of(&self.letters[a], &self.letters[b])) > 0.5;
        let words = if same_words {
            "bears the same words"
        } else {
            "looks alike"
        };
        match (m.way, self.lie(a, b)) {
            (Way::Together, Some((l, ..))) => {
                let apart = 100.0 * l.apart / self.width;
                let what = if l.in_view < 0.9 {
                    "what both photographs show of it lies at the same place"
                } else {
                    "lies at the same place"
                };
                format!("{what}, {apart:.1}% of the width apart")
            }
            (Way::Apart, Some((l, ..))) => {
                let apart = 100.0 * l.apart / self.width;
                format!("{words}, but lies {apart:.0}% of the width apart")
            }
            _ => format!("{words}; the photographs can't be laid on one plan"),
        }
    }
}

/// How much the wording speaks for one mark, 0 to 1: likeness beyond what any two readings have, less
/// where few letters were read.
fn said(w: &Wording) -> f64 {
    let beyond = ((w.same - BY_LUCK) / (1.0 - BY_LUCK)).max(0.0);
    beyond * (w.letters / ENOUGH).min(1.0).sqrt()
}

#[cfg(test)]
mod tests;
