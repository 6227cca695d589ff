//! Lines of lettering inside a flattened, upright mark.

pub(super) mod bend;
mod ink;

use super::groups::median;
use super::lean::lean;
use crate::geometry::Rect;
use image::GrayImage;
use ink::usual_height;
pub(super) use ink::{Ink, Part, letters};

/// A line of lettering on a flattened mark.
#[derive(Debug, Clone, PartialEq)]
pub struct LineBox {
    /// Tight bounds of its letters, px of the picture given.
    pub bounds: Rect,
    /// Rise of the baseline at the middle of the line: px down for one px to the right.
    pub slope: f64,
    /// Curve of the baseline, 0 where it is straight: px down for one px squared off the middle, so
    /// that an arch has more than 0.
    pub bend: f64,
    /// Median height of its letters, px.
    pub letter_height: f64,
}

impl LineBox {
    /// Height of the middle of the letters at a place along the line, px of the picture.
    pub fn middle(&self, x: f64) -> f64 {
        let b = &self.bounds;
        let (low, high) = self.reach();
        let off = x - f64::from(b.x) - f64::from(b.w) / 2.0;
        f64::from(b.y) + f64::from(b.h) / 2.0 + self.rise(off) - (low + high) / 2.0
    }

    /// Least and greatest rise of the baseline against that at the middle, px down.
    pub fn reach(&self) -> (f64, f64) {
        let half = f64::from(self.bounds.w) / 2.0;
        let turning = -self.slope / (2.0 * self.bend);
        let mut at = vec![self.rise(-half), self.rise(half)];
        if turning.abs() < half {
            at.push(self.rise(turning));
        }
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        at.iter().fold(ends, |(l, h), v| (l.min(*v), h.max(*v)))
    }

    fn rise(&self, off: f64) -> f64 {
        self.slope * off + self.bend * off * off
    }

    /// The same bent line, reaching from `left` to `right`.
    fn reaching(&self, left: i32, right: i32) -> LineBox {
        let (low, high) = self.reach();
        let tall = f64::from(self.bounds.h) - (high - low);
        let was = f64::from(self.bounds.x) + f64::from(self.bounds.w) / 2.0;
        let middle = f64::from(left + right) / 2.0;
        let mut line = self.clone();
        line.slope += 2.0 * self.bend * (middle - was);
        line.bounds = Rect::new(left, 0, (right - left).max(1) as u32, 0);
        let (low, high) = line.reach();
        line.bounds.y = (self.middle(middle) + low - tall / 2.0).round() as i32;
        line.bounds.h = (tall + high - low).round() as u32;
        line
    }
}

/// Finds lines in reading order (top to bottom, then left to right).
///
/// * `picture`: a flattened mark, upright, dark lettering on light ground or the other way
///   round, any size, 0×0 included.
///
/// Rules, borders and dotted blanks are left out. Returns nothing where nothing looks like a
/// letter. Lettering on its side comes out as many short lines or none: turn it first.
/// Cost: a few passes over the picture.
pub fn lines(picture: &GrayImage) -> Vec<LineBox> {
    let (w, h) = picture.dimensions();
    let Ink {
        dark: ink,
        letters,
        full,
        ..
    } = letters(picture);
    if letters.is_empty() {
        return Vec::new();
    }
    let slope = slope_of(&ink, &letters, full, w, h);
    let middle = f64::from(w) / 2.0;
    let shift = |x: f64| slope * (x - middle);
    // Letters are put into rows as if the rows were level.
    let level = letters
        .into_iter()
        .map(|mut p| {
            let centre = f64::from(p.bounds.x) + f64::from(p.bounds.w) / 2.0;
            p.bounds.y -= shift(centre).round() as i32;
            p
        })
        .collect();
    let at = |x: i32, y: i32| {
        let y = y + shift(f64::from(x)).round() as i32;
        let inside = x >= 0 && y >= 0 && x < w as i32 && y < h as i32;
        inside && ink[y as usize * w as usize + x as usize] > 0
    };
    let mut out: Vec<LineBox> = rows(level)
        .into_iter()
        .flat_map(|line| parted(line, &at))
        .collect();
    for line in &mut out {
        let b = &mut line.bounds;
        let ends = [shift(f64::from(b.x)), shift(f64::from(b.right()))];
        b.y += ends[0].min(ends[1]).floor() as i32;
        b.h += (ends[1] - ends[0]).abs().ceil() as u32;
        line.slope += slope;
    }
    out
}

/// Deepest valley, as a share of the lower hill beside it, that parts two rows.
const VALLEY: f64 = 0.45;

/// Rows less tall than this many letters aren't looked at: an E has hills too.
const TALLER: f64 = 1.4;

/// Parts a row that is two, joined by a letter that reaches from one into the other: its profile
/// has two hills. `ink` says where ink is, in the row's own level frame.
fn parted(line: LineBox, ink: &impl Fn(i32, i32) -> bool) -> Vec<LineBox> {
    let b = line.bounds;
    if line.bend != 0.0 || f64::from(b.h) < TALLER * line.letter_height || b.h < 16 || b.w < 2 * b.h
    {
        return vec![line];
    }
    let profile: Vec<f64> = (b.y..b.bottom())
        .map(|y| (b.x..b.right()).filter(|&x| ink(x, y)).count() as f64)
        .collect();
    // Smoothed by more than the bars of an E stand apart and by less than rows do.
    let reach = (profile.len() / 10).max(1);
    let smooth: Vec<f64> = (0..profile.len())
        .map(|i| {
            let near = i.saturating_sub(reach)..(i + reach + 1).min(profile.len());
            profile[near.clone()].iter().sum::<f64>() / near.len() as f64
        })
        .collect();
    let least = profile.len() / 3;
    let Some(valley) =
        (least..profile.len() - least).min_by(|&i, &j| smooth[i].total_cmp(&smooth[j]))
    else {
        return vec![line];
    };
    let hill = |range: &[f64]| range.iter().copied().fold(0.0, f64::max);
    let lower = hill(&smooth[..valley]).min(hill(&smooth[valley..]));
    if smooth[valley] > VALLEY * lower {
        return vec![line];
    }
    let part = |from: usize, to: usize| LineBox {
        bounds: Rect::new(b.x, b.y + from as i32, b.w, (to - from) as u32),
        slope: line.slope,
        bend: 0.0,
        letter_height: line.letter_height.min((to - from) as f64),
    };
    vec![part(0, valley), part(valley, profile.len())]
}

/// Common slope of the rows, from the ink of parts that may be letters by their size.
fn slope_of(ink: &[u8], letters: &[Part], full: f64, w: u32, h: u32) -> f64 {
    let usual = usual_height(letters);
    let mut points = Vec::new();
    for p in letters {
        let b = p.bounds;
        let tall = f64::from(b.h);
        let sized = tall >= 0.35 * usual && tall <= 4.0 * usual;
        if !sized || b.w > w / 2 || b.h > h / 2 || p.dark < 0.5 * full {
            continue;
        }
        for y in b.y..b.bottom() {
            let row = y as usize * w as usize;
            points.extend(
                (b.x..b.right())
                    .filter(|&x| ink[row + x as usize] > 0)
                    .map(|x| (x, y)),
            );
        }
    }
    lean(&points, usual)
}

/// Chains letters into rows from left to right.
fn rows(mut letters: Vec<Part>) -> Vec<LineBox> {
    letters.sort_by_key(|p| (p.bounds.x, p.bounds.y));
    let usual = usual_height(&letters);
    let n = letters.len();
    let mut set: Vec<usize> = (0..n).collect();
    fn root(set: &mut [usize], mut i: usize) -> usize {
        while set[i] != i {
            set[i] = set[set[i]];
            i = set[i];
        }
        i
    }
    for i in 0..n {
        let a = letters[i].bounds;
        if f64::from(a.h) < 0.35 * usual {
            continue;
        }
        // The nearest part to the right on the same height.
        let mut best: Option<(f64, usize)> = None;
        for (j, part) in letters.iter().enumerate().skip(i + 1) {
            let b = part.bounds;
            let gap = f64::from(b.x - a.right());
            let tall = f64::from(a.h.max(b.h));
            if f64::from(b.x - a.x) > f64::from(a.w) + 3.0 * tall.max(usual) {
                break;
            }
            let low = f64::from(a.h.min(b.h));
            if low < 0.35 * usual || tall > 3.0 * low || gap > 2.5 * tall {
                continue;
            }
            let shared = f64::from(a.bottom().min(b.bottom()) - a.y.max(b.y));
            if shared < 0.5 * low {
                continue;
            }
            let cost = gap.max(0.0) + 0.5 * (tall - low);
            if best.is_none_or(|(c, _)| cost < c) {
                best = Some((cost, j));
            }
        }
        if let Some((_, j)) = best {
            let (a, b) = (root(&mut set, i), root(&mut set, j));
            set[a.max(b)] = a.min(b);
        }
    }
    let mut by: std::collections::BTreeMap<usize, Vec<usize>> = std::collections::BTreeMap::new();
    for (i, letter) in letters.iter().enumerate() {
        if f64::from(letter.bounds.h) >= 0.35 * usual {
            by.entry(root(&mut set, i)).or_default().push(i);
        }
    }
    let mut chains: Vec<Vec<usize>> = by.into_values().collect();
    bend::follow(&mut chains, &letters);
    let mut out: Vec<LineBox> = chains
        .into_iter()
        .filter(|m| {
            m.len() >= 2
                || m.iter()
                    .any(|&i| f64::from(letters[i].bounds.h) > 0.6 * usual)
        })
        .map(|m| line(&letters, &m))
        .collect();
    join_rows(&mut out);
    // Dots, accents and points belong to the line they lie in.
    for p in &letters {
        if f64::from(p.bounds.h) >= 0.35 * usual {
            continue;
        }
        let b = p.bounds;
        if let Some(l) = out.iter_mut().find(|l| {
            let h = l.letter_height as i32;
            if l.bend != 0.0 {
                let (x, y) = (f64::from(b.x), f64::from(b.y) + f64::from(b.h) / 2.0);
                let beside = b.right() > l.bounds.x - h / 2 && b.x < l.bounds.right() + h / 2;
                return beside && (y - l.middle(x)).abs() < 0.75 * l.letter_height;
            }
            let grown = Rect::new(
                l.bounds.x - h / 2,
                l.bounds.y - h / 4,
                l.bounds.w + h as u32,
                l.bounds.h + h as u32 / 2,
            );
            b.part_in(&grown) > 0.5
        }) {
            if l.bend == 0.0 {
                l.bounds = l.bounds.union(&b);
            } else {
                *l = l.reaching(l.bounds.x.min(b.x), l.bounds.right().max(b.right()));
            }
        }
    }
    out.sort_by_key(|l| (l.bounds.y + l.bounds.h as i32 / 2, l.bounds.x));
    out
}

fn line(letters: &[Part], members: &[usize]) -> LineBox {
    let mut bounds = letters[members[0]].bounds;
    for &m in members {
        bounds = bounds.union(&letters[m].bounds);
    }
    let height = median(
        members
            .iter()
            .map(|&m| f64::from(letters[m].bounds.h))
            .collect(),
    );
    // Baseline by the median of the slopes between feet (Theil 1950, Sen 1968).
    let feet: Vec<(f64, f64)> = members
        .iter()
        .map(|&m| &letters[m].bounds)
        .map(|b| (f64::from(b.x) + f64::from(b.w) / 2.0, f64::from(b.bottom())))
        .collect();
    let mut slopes = Vec::new();
    for i in 0..feet.len() {
        for j in i + 1..feet.len() {
            let dx = feet[j].0 - feet[i].0;
            if dx.abs() > height {
                slopes.push((feet[j].1 - feet[i].1) / dx);
            }
        }
    }
    if let Some(curve) = bend::curve(letters, members) {
        return LineBox {
            bounds,
            slope: curve.slope_at(f64::from(bounds.x) + f64::from(bounds.w) / 2.0),
            bend: curve.bend,
            letter_height: height,
        };
    }
    LineBox {
        bounds,
        bend: 0.0,
        slope: if slopes.len() < 3 {
            0.0
        } else {
            median(slopes)
        },
        letter_height: height,
    }
}

/// Joins pieces that stand on one line: their heights agree and they overlap in height by most of
/// the smaller one, without lying above each other.
fn join_rows(lines: &mut Vec<LineBox>) {
    lines.sort_by_key(|l| l.bounds.x);
    let mut i = 0;
    while i < lines.len() {
        let mut j = i + 1;
        let mut joined = false;
        while j < lines.len() {
            let (a, b) = (&lines[i], &lines[j]);
            let straight = a.bend == 0.0 && b.bend == 0.0;
            let shared =
                f64::from(a.bounds.bottom().min(b.bounds.bottom()) - a.bounds.y.max(b.bounds.y));
            let low = f64::from(a.bounds.h.min(b.bounds.h));
            let high = a.letter_height.max(b.letter_height);
            let gap = f64::from(b.bounds.x - a.bounds.right());
            if straight
                && shared > 0.6 * low
                && gap < 5.0 * high
                && gap > -0.5 * high
                && high < 2.2 * a.letter_height.min(b.letter_height)
            {
                let b = lines.remove(j);
                let a = &mut lines[i];
                a.bounds = a.bounds.union(&b.bounds);
                a.letter_height = (a.letter_height + b.letter_height) / 2.0;
                joined = true;
            } else {
                j += 1;
            }
        }
        if !joined {
            i += 1;
        }
    }
}
