//! The ink of a flattened mark: where it is, without stains, and the patches of it that may be letters.

use super::super::groups::median;
use super::super::raster;
use crate::geometry::Rect;
use image::GrayImage;

/// Parts less dark than this share of the full ink are stain and grain.
const FAINTEST: f64 = 0.2;

/// A connected patch of ink.
#[derive(Debug, Clone)]
pub(in crate::marks) struct Part {
    pub bounds: Rect,
    pub area: u32,
    /// How much darker than its surroundings, grey values.
    pub dark: f64,
    /// Its number on the map of patches.
    pub label: u32,
}

/// What ink a picture has.
pub(in crate::marks) struct Ink {
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
pub(in crate::marks) fn letters(picture: &GrayImage) -> Ink {
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
pub(super) fn usual_height(letters: &[Part]) -> f64 {
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
            for (dx, dy) in raster::AROUND {
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
