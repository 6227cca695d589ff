//! Which letters a picture of a monogram holds: a small network run by a pure-Rust runtime.
//!
//! In: a photograph and where the monogram is. Out: the chance of every set of one to three letters and of "none of
//! these", the likely orders, how it lies, and a vector of its design. `card.md` says what the network was trained on and how far its chances
//! hold; what they are believed by (`model/believed.json`) is fitted by `training/monogram_table.py`.

use super::seen::{Seen, Set};
use crate::error::{Error, Kind, Result};
use crate::geometry::{Quad, Rect};
use crate::networks::loaded;
use image::{GrayImage, Luma, RgbImage};
use rten::{Model, ModelOptions, Value};
use serde::Deserialize;
use std::f32::consts::TAU;
use std::sync::OnceLock;

static WEIGHTS: &[u8] = include_bytes!("model/network.onnx");

/// Side of the picture that the network sees, px.
pub const SIDE: u32 = 128;
/// Share of that side which an outlined monogram takes up, as in training.
const FILLED: f64 = 0.72;
/// Shortest side of an outline, px: in less no letter can be told.
pub const SHORTEST: u32 = 12;
const LETTERS: usize = 26;
const PAIRS: usize = LETTERS * (LETTERS - 1) / 2;
/// What makes the scores of sets: one of a letter, two of it, two letters together, how many, none of these.
const PARTS: usize = 2 * LETTERS + PAIRS + 4;
const TURNS: usize = 24;
/// Numbers that make a design's vector.
const DESIGN: usize = 128;
/// Turns that are tried where it may lie at any.
const TRIED: usize = 3;
/// Sets that are told, at most, and the share of the chance of all sets that is enough.
const TOLD: usize = 40;
const ENOUGH: f64 = 0.98;

/// How the monogram lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lies {
    /// Upright, within some twenty degrees.
    Upright,
    /// At any turn: the likeliest are tried.
    AnyTurn,
}

/// What the network is believed by, and by what shares letters were drawn for it.
#[derive(Debug, Deserialize)]
struct Believed {
    /// Divides the scores of sets, and those of turns.
    temperature: f32,
    turn: f32,
    drawn_by: [f64; LETTERS],
    /// Shares of one, two and three letters.
    lengths: [f64; 3],
}

fn believed() -> Result<&'static Believed> {
    static BELIEVED: OnceLock<Believed> = OnceLock::new();
    loaded(&BELIEVED, || {
        serde_json::from_str(include_str!("model/believed.json")).map_err(|e| fault("believed", &e))
    })
}

fn fault(what: &str, cause: &dyn std::fmt::Display) -> Error {
    Error::new(
        Kind::Recogniser,
        "monograms",
        format!("the network can't be {what} ({cause})"),
        "build the program again from a clean checkout",
    )
}

/// All sets of one to three letters, 0 to 25, in their order.
fn sets() -> &'static [Vec<usize>] {
    static SETS: OnceLock<Vec<Vec<usize>>> = OnceLock::new();
    SETS.get_or_init(|| {
        let longer = |shorter: &[Vec<usize>]| -> Vec<Vec<usize>> {
            let each = shorter.iter().map(|s| (s, s.last().copied().unwrap_or(0)));
            each.flat_map(|(s, from)| (from..LETTERS).map(move |l| [s.as_slice(), &[l]].concat()))
                .collect()
        };
        let one = longer(&[Vec::new()]);
        let two = longer(&one);
        let three = longer(&two);
        [one, two, three].concat()
    })
}

/// The part of a photograph that the network sees: the outlined place with what surrounds it, made square; the whole
/// photograph where nothing is outlined. Past the photograph's edge its last px go on.
///
/// # Errors
/// `Kind::Usage` where the outline doesn't lie within the photograph or is too small to hold a letter.
pub fn framed(photograph: &RgbImage, outline: Option<Rect>) -> Result<GrayImage> {
    let (w, h) = photograph.dimensions();
    let whole = Rect::new(0, 0, w, h);
    let place = outline.unwrap_or(whole);
    if place.intersect(&whole) != Some(place) || place.w.min(place.h) < SHORTEST {
        return Err(Error::new(
            Kind::Usage,
            format!("outline {},{},{},{}", place.x, place.y, place.w, place.h),
            format!(
                "it has to lie within the photograph of {w} by {h} px, at least {SHORTEST} px high and wide"
            ),
            "give the left edge, the top edge, the width and the height of the monogram, px",
        ));
    }
    let filled = if outline.is_some() { FILLED } else { 1.0 };
    Ok(within(photograph, &place.quad(), filled))
}

/// The same of an outline at any slope, whose first corner is the upper left one of the letters.
pub fn framed_on(photograph: &RgbImage, outline: &Quad) -> GrayImage {
    within(photograph, outline, FILLED)
}

/// A square about the middle of an outline, along its upper edge, of which the outline fills so much.
fn within(photograph: &RgbImage, outline: &Quad, filled: f64) -> GrayImage {
    let (w, h) = photograph.dimensions();
    let (wide, high) = outline.size();
    let scale = wide.max(high) / filled / f64::from(SIDE);
    let (sin, cos) = outline.slope_degrees().to_radians().sin_cos();
    let middle = outline.centre();
    // So many places of each px are looked at that none of the photograph is missed
    let each = scale.ceil().max(1.0) as u32;
    let edge = |v: f64, long: u32| v.clamp(0.0, f64::from(long) - 1.0) as u32;
    let at = |u: f64, v: f64| {
        let (u, v) = (
            (u - f64::from(SIDE) / 2.0) * scale,
            (v - f64::from(SIDE) / 2.0) * scale,
        );
        let (x, y) = (middle.x + cos * u - sin * v, middle.y + sin * u + cos * v);
        let [r, g, b] = photograph
            .get_pixel(edge(x, w), edge(y, h))
            .0
            .map(f64::from);
        // Rec. 709, as `image` weighs them
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    GrayImage::from_fn(SIDE, SIDE, |x, y| {
        let place = |n: u32, i: u32| f64::from(n) + (f64::from(i) + 0.5) / f64::from(each);
        let mut sum = 0.0;
        for (i, j) in (0..each).flat_map(|i| (0..each).map(move |j| (i, j))) {
            sum += at(place(x, i), place(y, j));
        }
        Luma([(sum / f64::from(each * each)).round() as u8])
    })
}

/// Turned anticlockwise by so much, radians, about its middle; what lay at the edge goes on.
fn turned_back(picture: &[f32], turn: f32) -> Vec<f32> {
    let (n, half) = (SIDE as usize, SIDE as f32 / 2.0);
    let (sin, cos) = turn.sin_cos();
    let middle = |i: usize| i as f32 + 0.5 - half;
    let at = |x: usize, y: usize| picture[y.min(n - 1) * n + x.min(n - 1)];
    let mut out = Vec::with_capacity(n * n);
    for i in 0..n * n {
        let (x, y) = (middle(i % n), middle(i / n));
        let edge = |v: f32| (v + half - 0.5).clamp(0.0, n as f32 - 1.0);
        let (x, y) = (edge(cos * x - sin * y), edge(sin * x + cos * y));
        let (left, top) = (x as usize, y as usize);
        let (right, low) = (x - left as f32, y - top as f32);
        let upper = at(left, top) * (1.0 - right) + at(left + 1, top) * right;
        let lower = at(left, top + 1) * (1.0 - right) + at(left + 1, top + 1) * right;
        out.push(upper * (1.0 - low) + lower * low);
    }
    out
}

/// Mean 0, deviation 1.
fn levelled(mut picture: Vec<f32>) -> Vec<f32> {
    let n = picture.len() as f32;
    let mean = picture.iter().sum::<f32>() / n;
    let variance = picture.iter().map(|v| (v - mean).powi(2)).sum::<f32>() / (n - 1.0);
    let deviation = variance.sqrt() + 1e-3;
    picture
        .iter_mut()
        .for_each(|v| *v = (*v - mean) / deviation);
    picture
}

fn shares(scores: impl Iterator<Item = f32> + Clone, temperature: f32) -> Vec<f64> {
    let top = scores.clone().fold(f32::NEG_INFINITY, f32::max);
    let weights: Vec<f64> = scores
        .map(|s| f64::from((s - top) / temperature).exp())
        .collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(|w| w / sum).collect()
}

/// What the network says of one picture.
struct Numbers(Vec<f32>);

impl Numbers {
    fn of(picture: Vec<f32>) -> Result<Numbers> {
        static MODEL: OnceLock<Model> = OnceLock::new();
        let model = loaded(&MODEL, || {
            ModelOptions::with_all_ops()
                .load_static_slice(WEIGHTS)
                .map_err(|e| fault("loaded", &e))
        })?;
        let side = SIDE as usize;
        let input = Value::from_shape(&[1, 1, side, side], levelled(picture))
            .map_err(|e| fault("fed", &e))?;
        let output = model
            .run_one(input.into(), None)
            .map_err(|e| fault("run", &e))?;
        let (_, said): ([usize; 2], Vec<f32>) =
            output.into_shape_vec().map_err(|e| fault("read", &e))?;
        if said.len() != PARTS + LETTERS + TURNS + DESIGN {
            return Err(fault("read", &"it says another number of things"));
        }
        Ok(Numbers(said))
    }

    /// Chances of all sets, that of none of these last.
    fn chances(&self, temperature: f32) -> Vec<f64> {
        let scores = sets().iter().map(|s| self.score(s));
        shares(scores.chain([self.0[PARTS - 1]]), temperature)
    }

    fn score(&self, set: &[usize]) -> f32 {
        let (twice, pairs, many) = (LETTERS, 2 * LETTERS, 2 * LETTERS + PAIRS);
        let mut score = self.0[many + set.len() - 1];
        for (i, &l) in set.iter().enumerate() {
            let before = &set[..i];
            match before.iter().filter(|b| **b == l).count() {
                0 => score += self.0[l],
                1 => score += self.0[twice + l],
                _ => {}
            }
            if before.contains(&l) {
                continue;
            }
            let mut others: Vec<usize> = before.to_vec();
            others.dedup();
            for b in others {
                score += self.0[pairs + b * (2 * LETTERS - b - 1) / 2 + l - b - 1];
            }
        }
        score
    }

    /// The likeliest turns, steps of 15 degrees, with their shares: the greatest sums of a step and half of its
    /// neighbours, none of them neighbours.
    fn turns(&self, temperature: f32) -> Vec<(usize, f64)> {
        let scores = self.0[PARTS + LETTERS..][..TURNS].iter().copied();
        let p = shares(scores, temperature);
        let beside = |i: usize| [(i + TURNS - 1) % TURNS, (i + 1) % TURNS];
        let mut near: Vec<f64> = (0..TURNS)
            .map(|i| p[i] + beside(i).iter().map(|b| p[*b] / 2.0).sum::<f64>())
            .collect();
        let mut found = Vec::new();
        for _ in 0..TRIED {
            let best = (0..TURNS)
                .max_by(|a, b| near[*a].total_cmp(&near[*b]))
                .unwrap_or(0);
            found.push((best, near[best]));
            near[best] = -1.0;
            beside(best).iter().for_each(|b| near[*b] = -1.0);
        }
        let sum: f64 = found.iter().map(|f| f.1).sum();
        found
            .iter()
            .map(|(turn, weight)| (*turn, weight / sum))
            .collect()
    }
}

/// Reads a picture of [`SIDE`] by [`SIDE`] px, as [`framed`] makes it.
///
/// # Errors
/// `Kind::Recogniser` if the network can't be loaded or run, which a sound build doesn't show.
pub fn see(picture: &GrayImage, lies: Lies) -> Result<Seen> {
    let fit = believed()?;
    let values: Vec<f32> = picture
        .as_raw()
        .iter()
        .map(|v| f32::from(*v) / 255.0)
        .collect();
    let as_it_lies = Numbers::of(values.clone())?;
    if lies == Lies::Upright {
        let chances = as_it_lies.chances(fit.temperature);
        return Ok(seen(&chances, &as_it_lies, 0));
    }
    let turns = as_it_lies.turns(fit.turn);
    let mut all = vec![0.0; sets().len() + 1];
    let mut first = None;
    for (turn, share) in &turns {
        let radians = *turn as f32 * TAU / TURNS as f32;
        let numbers = Numbers::of(turned_back(&values, radians))?;
        let chances = numbers.chances(fit.temperature);
        all.iter_mut()
            .zip(chances)
            .for_each(|(sum, c)| *sum += share * c);
        first.get_or_insert(numbers);
    }
    let degrees = (turns[0].0 * 360 / TURNS) as u32;
    Ok(seen(&all, &first.unwrap_or(as_it_lies), degrees))
}

/// What the chances of all sets and the network's other numbers say.
fn seen(chances: &[f64], numbers: &Numbers, turn: u32) -> Seen {
    let none = chances[sets().len()];
    let mut ranked: Vec<usize> = (0..sets().len()).collect();
    ranked.sort_by(|a, b| chances[*b].total_cmp(&chances[*a]));
    let mut sum = 0.0;
    let told = ranked.into_iter().take(TOLD).take_while(|i| {
        let is_wanted = sum < ENOUGH * (1.0 - none);
        sum += chances[*i];
        is_wanted
    });
    let text = |i: usize| sets()[i].iter().map(|l| char::from(b'A' + *l as u8));
    let told = told.map(|i| Set {
        letters: text(i).collect(),
        chance: chances[i],
    });
    let (early, rest) = numbers.0[PARTS..].split_at(LETTERS);
    let length = |v: &f32| (v * f32::from(i8::MAX)).round() as i8;
    Seen {
        sets: told.collect(),
        none,
        turn,
        early: early.iter().map(|e| f64::from(*e).exp()).collect(),
        design: rest[TURNS..].iter().map(length).collect(),
    }
}

/// Share of the pictures of these letters among those that the network was trained on, whatever the order.
///
/// # Errors
/// `Kind::Recogniser` if the shares can't be used, which a sound build doesn't show.
pub(super) fn drawn_by(letters: &[u8]) -> Result<f64> {
    let fit = believed()?;
    let at = |l: &u8| usize::from(l - b'A');
    let each: f64 = letters.iter().map(|l| fit.drawn_by[at(l)]).product();
    Ok(each * fit.lengths[letters.len() - 1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_stand_in_the_order_of_training() {
        assert_eq!(sets().len(), 26 + 351 + 3276);
        assert_eq!(sets()[26], [0, 0]);
        assert_eq!(sets()[26 + 351], [0, 0, 0]);
        assert_eq!(sets()[3652], [25, 25, 25]);
    }

    #[test]
    fn each_part_of_a_score_counts_once() {
        let of = |set: &[usize]| {
            let parts: Vec<usize> = (0..PARTS)
                .filter(|i| {
                    let mut only = vec![0.0; PARTS];
                    only[*i] = 1.0;
                    Numbers(only).score(set) != 0.0
                })
                .collect();
            parts
        };
        // A and B are the first pair, Y and Z the last
        assert_eq!(of(&[0, 1]), [0, 1, 52, 378]);
        assert_eq!(of(&[0, 0, 1]), [0, 1, 26, 52, 379]);
        assert_eq!(of(&[24, 25, 25]), [24, 25, 51, 376, 379]);
        assert_eq!(of(&[0, 1, 25]), [0, 1, 25, 52, 76, 100, 379]);
        assert_eq!(of(&[3]), [3, 377]);
    }

    #[test]
    fn an_outline_keeps_its_place_at_the_photographs_edge() {
        let mut photo = RgbImage::from_pixel(200, 100, image::Rgb([200; 3]));
        for (x, y) in (0..20).flat_map(|x| (0..20).map(move |y| (x, y))) {
            photo.put_pixel(x, y, image::Rgb([0; 3]));
        }
        let framed = framed(&photo, Some(Rect::new(0, 0, 40, 40))).unwrap();
        // 40 px are 92 of 128: 18 px come from past the edge, then 46 are dark
        let row: Vec<u8> = (0..SIDE).map(|x| framed.get_pixel(x, 40).0[0]).collect();
        let dark = row.iter().filter(|v| **v < 100).count();
        assert!((62..=66).contains(&dark), "{dark}");
        assert!(row[..60].iter().all(|v| *v < 100));
    }

    #[test]
    fn an_outline_outside_the_photograph_is_told() {
        let photo = RgbImage::new(50, 40);
        for wrong in [
            Rect::new(30, 0, 30, 30),
            Rect::new(0, 0, 50, 11),
            Rect::new(-1, 0, 20, 20),
        ] {
            assert_eq!(framed(&photo, Some(wrong)).unwrap_err().kind, Kind::Usage);
        }
    }
}
