//! Lines of lettering inside a flattened, upright mark.

pub(super) mod bend;

use super::groups::median;
use super::lean::lean;
use super::raster;
use crate::geometry::Rect;
use image::GrayImage;

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

/// Parts less dark than this share of the full ink are stain and grain.
const FAINTEST: f64 = 0.2;

/// A connected patch of ink.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub bounds: Rect,
    pub area: u32,
    /// How much darker than its surroundings, grey values.
    pub dark: f64,
    /// Its number on the map of patches.
    pub label: u32,
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

/// What ink a picture has.
pub(super) struct Ink {
    /// How much darker than its surroundings each px is, grey values.
    pub dark: Vec<u8>,
    /// Number of the patch that each px belongs to; 0: none.
    pub labels: Vec<u32>,
    /// Patches that may be letters.
    pub letters: Vec<Part>,
    /// Darkness of full ink.
    pub full: f64,
}

/// Ink, without stains, and the patches of it that may be letters.
pub(super) fn letters(picture: &GrayImage) -> Ink {
    let (w, h) = picture.dimensions();
    let mut dark = if w < 4 || h < 4 {
        vec![0; w as usize * h as usize]
    } else {
        ink(picture)
    };
    let (parts, labels) = parted_from_stains(&mut dark, w, h);
    let mut letters: Vec<Part> = parts.into_iter().filter(|p| is_letter(p, w, h)).collect();
    let full = full_ink(&letters);
    letters.retain(|p| p.dark > FAINTEST * full);
    Ink {
        dark,
        labels,
        letters,
        full,
    }
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

/// Darkness of the mark's full ink, grey values: that of the parts among the darkest tenth of all
/// ink, so that neither specks nor a single blot set it.
fn full_ink(letters: &[Part]) -> f64 {
    let mut by: Vec<(f64, u32)> = letters.iter().map(|p| (p.dark, p.area)).collect();
    by.sort_by(|a, b| b.0.total_cmp(&a.0));
    let all: u32 = by.iter().map(|b| b.1).sum();
    let mut passed = 0;
    for (dark, area) in by {
        passed += area;
        if passed * 10 >= all {
            return dark;
        }
    }
    0.0
}

/// Median height of the parts that are more than specks, px.
fn usual_height(letters: &[Part]) -> f64 {
    let heights = letters.iter().filter(|p| p.area >= 20);
    median(heights.map(|p| f64::from(p.bounds.h)).collect()).max(3.0)
}

/// Height of the part in which the middle px of all ink lies, by height: specks hold little of it.
/// Parts of more than a fifth of the picture's height `h` don't count.
fn usual_by_ink<'a>(parts: impl Iterator<Item = &'a Part>, h: u32) -> f64 {
    let sized = parts.filter(|p| 5 * p.bounds.h < h);
    let mut by: Vec<(u32, u32)> = sized.map(|p| (p.bounds.h, p.area)).collect();
    by.sort_unstable();
    let all: u64 = by.iter().map(|b| u64::from(b.1)).sum();
    let mut passed = 0;
    for (height, area) in by {
        passed += u64::from(area);
        if 2 * passed >= all {
            return f64::from(height);
        }
    }
    f64::from(h) / 5.0
}

/// How much darker ink is than its surroundings, grey values; 0 = no ink. Ink is darker than the
/// local mean by a share of the local spread (the same idea as Niblack 1986), in windows of a fixed
/// share of the picture.
fn ink(picture: &GrayImage) -> Vec<u8> {
    let (w, h) = (picture.width() as usize, picture.height() as usize);
    let picture = raster::softened(picture);
    let dark_ground = {
        let mut v: Vec<u8> = picture.as_raw().clone();
        v.sort_unstable();
        let (low, mid, high) = (
            v[v.len() / 50],
            v[v.len() / 2],
            v[v.len() - 1 - v.len() / 50],
        );
        u32::from(mid) * 2 + 8 < u32::from(low) + u32::from(high)
    };
    let picture = if dark_ground {
        raster::inverted(&picture)
    } else {
        picture
    };
    let radius = ((w.min(h) / 6).clamp(12, 60)) as i64;
    let mut sum = vec![0u64; (w + 1) * (h + 1)];
    let mut square = vec![0u64; (w + 1) * (h + 1)];
    let src = picture.as_raw();
    for y in 0..h {
        let (mut s, mut q) = (0u64, 0u64);
        for x in 0..w {
            let v = u64::from(src[y * w + x]);
            s += v;
            q += v * v;
            sum[(y + 1) * (w + 1) + x + 1] = sum[y * (w + 1) + x + 1] + s;
            square[(y + 1) * (w + 1) + x + 1] = square[y * (w + 1) + x + 1] + q;
        }
    }
    let mut out = vec![0u8; w * h];
    for y in 0..h {
        let (y0, y1) = (
            (y as i64 - radius).max(0) as usize,
            ((y as i64 + radius + 1) as usize).min(h),
        );
        for x in 0..w {
            let (x0, x1) = (
                (x as i64 - radius).max(0) as usize,
                ((x as i64 + radius + 1) as usize).min(w),
            );
            let n = ((x1 - x0) * (y1 - y0)) as f64;
            let at = |t: &[u64]| {
                (t[y1 * (w + 1) + x1] + t[y0 * (w + 1) + x0]) as f64
                    - (t[y0 * (w + 1) + x1] + t[y1 * (w + 1) + x0]) as f64
            };
            let mean = at(&sum) / n;
            let spread = (at(&square) / n - mean * mean).max(0.0).sqrt();
            let darker = mean - f64::from(src[y * w + x]);
            if darker > (0.5 * spread).max(6.0) {
                out[y * w + x] = darker.min(255.0) as u8;
            }
        }
    }
    out
}

/// How many times darker than its middle px the darkest of a part are where it is lettering in a
/// stain: the edges of a letter by itself are few.
const STAINED: f64 = 2.2;

/// Share of the darkest that stays when a stain is taken from around its lettering.
const IN_STAIN: f64 = 0.4;

/// Parts less tall than this many usual letters aren't looked at for a stain: hairlines are fainter
/// than what they join, too.
const STAIN_FROM: f64 = 2.5;

/// Connected patches of ink. Those that are mostly much fainter than their darkest px are a stain, a
/// crease or a shadow with lettering in it: what is faint there is no ink, and is taken out of it.
fn parted_from_stains(ink: &mut [u8], w: u32, h: u32) -> (Vec<Part>, Vec<u32>) {
    let mut labels = vec![0u32; ink.len()];
    let all: Vec<usize> = (0..ink.len()).collect();
    let mut out = Vec::new();
    let mut seen = vec![false; ink.len()];
    let mut open = parts(ink, &all, &mut seen, w, h);
    let least = STAIN_FROM * usual_by_ink(open.iter().map(|p| &p.0), h);
    while let Some((part, places)) = open.pop() {
        let mut counts = [0u32; 256];
        places
            .iter()
            .for_each(|&p| counts[usize::from(ink[p])] += 1);
        let level = |share: f64| {
            let mut left = (places.len() as f64 * share) as u32;
            let at = (0..256usize).find(|&v| {
                let passed = counts[v] > left;
                left = left.saturating_sub(counts[v]);
                passed
            });
            at.unwrap_or(255) as f64
        };
        let dark = level(0.95);
        let mut keep = |part: Part, places: &[usize]| {
            let label = out.len() as u32 + 1;
            places.iter().for_each(|&p| labels[p] = label);
            out.push(Part { label, ..part });
        };
        if f64::from(part.bounds.h) < least || dark < STAINED * level(0.5) {
            keep(part, &places);
            continue;
        }
        let before = places.len();
        let faint = |p: &usize| f64::from(ink[*p]) < IN_STAIN * dark;
        let (out_of, left): (Vec<usize>, Vec<usize>) = places.into_iter().partition(faint);
        out_of.into_iter().for_each(|p| ink[p] = 0);
        if left.len() < before {
            left.iter().for_each(|&p| seen[p] = false);
            open.extend(parts(ink, &left, &mut seen, w, h));
        } else {
            keep(part, &left);
        }
    }
    out.sort_by_key(|p| (p.bounds.y, p.bounds.x));
    (out, labels)
}

/// Connected patches of ink (8-neighbours) that hold one of these places, each with its px.
///
/// * `seen`: px that aren't looked at; those of the patches are added.
fn parts(
    ink: &[u8],
    starts: &[usize],
    seen: &mut [bool],
    w: u32,
    h: u32,
) -> Vec<(Part, Vec<usize>)> {
    let (w, h) = (w as i32, h as i32);
    let mut out = Vec::new();
    let mut stack = Vec::new();
    for &start in starts {
        if ink[start] == 0 || seen[start] {
            continue;
        }
        seen[start] = true;
        stack.push(start as i32);
        let mut places = Vec::new();
        let (mut l, mut t, mut r, mut b, mut n, mut dark) = (w, h, 0, 0, 0u32, 0.0);
        while let Some(p) = stack.pop() {
            let (x, y) = (p % w, p / w);
            l = l.min(x);
            r = r.max(x);
            t = t.min(y);
            b = b.max(y);
            n += 1;
            places.push(p as usize);
            dark += f64::from(ink[p as usize]);
            for (dx, dy) in [
                (-1, 0),
                (1, 0),
                (0, -1),
                (0, 1),
                (-1, -1),
                (1, -1),
                (-1, 1),
                (1, 1),
            ] {
                let (nx, ny) = (x + dx, y + dy);
                if nx >= 0 && ny >= 0 && nx < w && ny < h {
                    let q = (ny * w + nx) as usize;
                    if ink[q] > 0 && !seen[q] {
                        seen[q] = true;
                        stack.push(q as i32);
                    }
                }
            }
        }
        let part = Part {
            bounds: Rect::new(l, t, (r - l + 1) as u32, (b - t + 1) as u32),
            area: n,
            dark: dark / f64::from(n.max(1)),
            label: 0,
        };
        out.push((part, places));
    }
    out
}

fn is_letter(p: &Part, w: u32, h: u32) -> bool {
    let b = p.bounds;
    let fill = f64::from(p.area) / b.area() as f64;
    let rule = b.w > 10 * b.h || b.h > 10 * b.w;
    let frame = (b.w > w * 3 / 5 || b.h > h * 3 / 5) && fill < 0.25;
    let edge = (b.x <= 1 || b.y <= 1 || b.right() >= w as i32 - 1 || b.bottom() >= h as i32 - 1)
        && (b.w > w / 4 || b.h > h / 4 || fill > 0.8);
    !(p.area < 6 || rule || frame || edge)
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
            grown.intersect(&b).is_some_and(|i| i.area() * 2 > b.area())
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
