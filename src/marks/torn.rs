//! A torn label: what shows of the ground within its four corners is left out of its picture, so that
//! grain and torn edges aren't taken for lettering.
//!
//! Photographs are never altered; this is the flattened copy that is read. Ground and paper are parted
//! by a watershed: both grow from where they are sure (the ring around the mark, and what is least
//! like it in the middle of the mark) and meet along the steepest edge, so that a stain, whose edge is
//! soft, stays with the paper (F. Meyer, "Topographic distance and watershed lines", Signal
//! Processing 38, 1994).

use super::flatten::{flatten_wide, frame};
use super::raster::{self, mean};
use super::{Flattened, Homography, Mark};
use crate::geometry::{Point, Quad};
use image::{GrayImage, Luma, Rgb, RgbImage, imageops};
use std::collections::{BTreeMap, VecDeque};

/// Longest side of the small picture that is judged, px.
const SMALL: u32 = 220;
/// Width of the ring around the mark, as a share of its shorter side.
const RING: f64 = 0.10;
/// The middle of the mark in which paper is sure to show, as a share of each side.
const MIDDLE: f64 = 0.6;
/// Share of the middle that is taken for paper: what is least like the ring.
const SURE: f64 = 0.4;
/// Colours that stand for the ring.
const COLOURS: usize = 4;
/// Mean step across the edge between ground and paper below which they can't be told apart (units of
/// the opponent planes).
const APART: f32 = 8.0;
/// Least and largest share of the mark that may be ground: less does no harm, with more the mark is
/// no torn label.
const SHARES: (f64, f64) = (0.08, 0.6);
/// What is narrower than this share of the shorter side is not torn off.
const STRIP: f64 = 0.08;
/// Px of the small picture by which what is left out is wider: torn edges are light, or in shadow.
const WIDER: usize = 1;

/// Half the width of the widest stroke on the small picture, px: paper is drawn without them.
const INK: usize = 4;

type Colour = [f32; 3];

/// The flattened mark with paper drawn over the ground that shows within its outline; nothing where
/// the mark is no torn label, or where ground and paper look alike. It is one more picture to read,
/// not instead of the mark's own: paper as dark as the ground may be taken for it.
///
/// * `photograph`: the one that the mark is on.
pub fn without_ground(photograph: &RgbImage, mark: &Mark, flat: &Flattened) -> Option<Flattened> {
    if !mark.kind.is_label() {
        return None;
    }
    let wide = flatten_wide(photograph, mark, RING);
    let ground = Ground::seen(&wide, mark, photograph.dimensions())?;
    ground.paper_over(&wide, flat.clone())
}

/// Where ground shows, on a small picture of the mark with its ring.
struct Ground {
    w: usize,
    h: usize,
    /// True: ground.
    there: Vec<bool>,
    small: RgbImage,
}

impl Ground {
    fn seen(wide: &Flattened, mark: &Mark, size: (u32, u32)) -> Option<Ground> {
        let (w, h) = wide.picture.dimensions();
        let scale = f64::from(SMALL) / f64::from(w.max(h));
        if scale >= 1.0 {
            return None;
        }
        let side = |v: u32| ((f64::from(v) * scale).round() as u32).max(8);
        let small = imageops::thumbnail(&wide.picture, side(w), side(h));
        let (w, h) = (small.width() as usize, small.height() as usize);
        let planes = raster::opponents(&small).map(|p| {
            let values: Vec<f32> = p.pixels().map(|v| f32::from(v.0[0])).collect();
            mean(&values, w, h, 1)
        });
        let colours: Vec<Colour> = (0..w * h)
            .map(|i| [planes[0][i], planes[1][i], planes[2][i]])
            .collect();
        let back = Homography::between(&wide.outline, &frame(w as u32, h as u32))?;
        let outline = Quad(mark.outline.0.map(|p| back.apply(p)));
        let within = |x: usize, y: usize| outline.holds(Point::new(x as f64 + 0.5, y as f64 + 0.5));
        let forth = Homography::between(&frame(w as u32, h as u32), &wide.outline)?;
        // Past the edge of the photograph nothing is known.
        let (pw, ph) = (f64::from(size.0), f64::from(size.1));
        let on_photograph = |x: usize, y: usize| {
            let p = forth.apply(Point::new(x as f64 + 0.5, y as f64 + 0.5));
            p.x > 0.0 && p.y > 0.0 && p.x < pw && p.y < ph
        };
        let (mut ring, mut middle, mut all) = (Vec::new(), Vec::new(), 0usize);
        let mut seeds = vec![Side::Open; w * h];
        for y in 0..h {
            for x in 0..w {
                let i = y * w + x;
                let (u, v) = (x as f64 / w as f64 - 0.5, y as f64 / h as f64 - 0.5);
                if !within(x, y) {
                    if on_photograph(x, y) {
                        ring.push(colours[i]);
                        seeds[i] = Side::Ground;
                    }
                    continue;
                }
                all += 1;
                if u.abs() < MIDDLE / 2.0 && v.abs() < MIDDLE / 2.0 {
                    middle.push(i);
                }
            }
        }
        let around = clusters(&ring);
        let off = |i: &usize| {
            let near = around.iter().map(|o| distance(&colours[*i], o));
            near.fold(f32::INFINITY, f32::min)
        };
        middle.sort_by(|a, b| off(b).total_cmp(&off(a)));
        let sure = (middle.len() as f64 * SURE) as usize;
        if around.is_empty() || sure == 0 {
            return None;
        }
        for i in &middle[..sure] {
            seeds[*i] = Side::Paper;
        }
        let sides = watershed(&steepness(&colours, w, h), seeds, w, h);
        if step(&colours, &sides, w, h) < APART {
            return None;
        }
        let ground: Vec<bool> = (0..w * h)
            .map(|i| sides[i] == Side::Ground && within(i % w, i / w))
            .collect();
        // A strip along an edge is a badly laid outline or a printed border, and letters may stand in
        // it: only what is broad both ways is torn off.
        let radius = ((w.min(h) as f64 * STRIP / 2.0).round() as usize).max(2);
        let mut there = opened(&ground, w, h, radius);
        let torn = there.iter().filter(|g| **g).count();
        let share = torn as f64 / all.max(1) as f64;
        if share < SHARES.0 || share > SHARES.1 {
            return None;
        }
        // With the strips beside it, up to the ring
        let near = grown(&there, w, h, 4 * radius);
        there = (0..w * h)
            .map(|i| near[i] && sides[i] != Side::Paper)
            .collect();
        there = grown(&there, w, h, WIDER);
        Some(Ground { w, h, there, small })
    }

    /// Draws paper over it: the mean colour of the paper around, the nearest counting most.
    fn paper_over(&self, wide: &Flattened, mut flat: Flattened) -> Option<Flattened> {
        let (w, h) = (self.w, self.h);
        let paper: Vec<f32> = self.there.iter().map(|g| f32::from(!g)).collect();
        let mut fill = [0, 1, 2].map(|c| {
            let plane = GrayImage::from_fn(w as u32, h as u32, |x, y| {
                Luma([self.small.get_pixel(x, y).0[c]])
            });
            // Without its lettering
            let plane = raster::closed(&plane, INK);
            let values = plane.pixels().zip(&paper);
            values
                .map(|(p, share)| f32::from(p.0[0]) * share)
                .collect::<Vec<f32>>()
        });
        let (mut sums, mut weights) = (fill.clone(), paper.clone());
        let mut known: Vec<bool> = self.there.iter().map(|g| !g).collect();
        // Ever wider means: each place takes the narrowest one that holds paper.
        let mut radius = 3;
        while known.iter().any(|k| !k) && radius < w.max(h) {
            for s in &mut sums {
                *s = mean(s, w, h, radius);
            }
            weights = mean(&weights, w, h, radius);
            for i in 0..w * h {
                if !known[i] && weights[i] > 0.02 {
                    for c in 0..3 {
                        fill[c][i] = sums[c][i] / weights[i];
                    }
                    known[i] = true;
                }
            }
            radius *= 2;
        }
        let fill = fill.map(|f| mean(&f, w, h, 1));
        let covered: Vec<f32> = self.there.iter().map(|g| f32::from(*g)).collect();
        let covered = mean(&covered, w, h, 1);
        let (fw, fh) = flat.picture.dimensions();
        let map = Homography::between(&frame(fw, fh), &flat.outline)?;
        let back = Homography::between(&wide.outline, &frame(w as u32, h as u32))?;
        for (x, y, px) in flat.picture.enumerate_pixels_mut() {
            let on = map.apply(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
            let at = back.apply(on);
            let part = bilinear(&covered, w, h, at).clamp(0.0, 1.0);
            if part < 0.05 {
                continue;
            }
            *px = Rgb([0, 1, 2].map(|c| {
                let own = f32::from(px.0[c]);
                (own + (bilinear(&fill[c], w, h, at) - own) * part).round() as u8
            }));
        }
        Some(flat)
    }
}

fn distance(a: &Colour, b: &Colour) -> f32 {
    let d = [0, 1, 2].map(|i| a[i] - b[i]);
    (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt()
}

/// Up to [`COLOURS`] colours that stand for these: k-means from evenly spread places in the order of
/// lightness; those of few places are left out.
fn clusters(of: &[Colour]) -> Vec<Colour> {
    if of.len() < 20 {
        return Vec::new();
    }
    let mut sorted: Vec<Colour> = of.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut centres: Vec<Colour> = (0..COLOURS)
        .map(|k| sorted[(2 * k + 1) * sorted.len() / (2 * COLOURS)])
        .collect();
    let mut sizes = [0usize; COLOURS];
    for _ in 0..12 {
        let mut sums = [[0.0f32; 3]; COLOURS];
        sizes = [0; COLOURS];
        for c in of {
            let near = (0..COLOURS)
                .min_by(|a, b| distance(c, &centres[*a]).total_cmp(&distance(c, &centres[*b])))
                .unwrap_or(0);
            sizes[near] += 1;
            for i in 0..3 {
                sums[near][i] += c[i];
            }
        }
        for k in 0..COLOURS {
            if sizes[k] > 0 {
                centres[k] = sums[k].map(|s| s / sizes[k] as f32);
            }
        }
    }
    let least = of.len() / 20;
    centres
        .into_iter()
        .zip(sizes)
        .filter(|(_, n)| *n > least)
        .map(|(c, _)| c)
        .collect()
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Open,
    Ground,
    Paper,
}

/// Difference of the colours on either side of each place, along both directions.
fn steepness(colours: &[Colour], w: usize, h: usize) -> Vec<u16> {
    let at = |x: usize, y: usize| &colours[y * w + x];
    let mut out = Vec::with_capacity(w * h);
    for y in 0..h {
        for x in 0..w {
            let dx = distance(at(x.saturating_sub(1), y), at((x + 1).min(w - 1), y));
            let dy = distance(at(x, y.saturating_sub(1)), at(x, (y + 1).min(h - 1)));
            out.push(dx.hypot(dy).round() as u16);
        }
    }
    out
}

/// Lets the seeds grow over all that is open, over flat places first.
fn watershed(steep: &[u16], mut sides: Vec<Side>, w: usize, h: usize) -> Vec<Side> {
    let mut next: BTreeMap<u16, VecDeque<usize>> = BTreeMap::new();
    for (i, s) in sides.iter().enumerate() {
        if *s != Side::Open {
            next.entry(steep[i]).or_default().push_back(i);
        }
    }
    while let Some(mut level) = next.first_entry() {
        let height = *level.key();
        let Some(i) = level.get_mut().pop_front() else {
            level.remove();
            continue;
        };
        for j in beside(i, w, h) {
            if sides[j] == Side::Open {
                sides[j] = sides[i];
                next.entry(steep[j].max(height)).or_default().push_back(j);
            }
        }
    }
    sides
}

/// The four places beside one.
fn beside(i: usize, w: usize, h: usize) -> impl Iterator<Item = usize> {
    let (x, y) = (i % w, i / w);
    [
        (x > 0).then(|| i - 1),
        (x + 1 < w).then_some(i + 1),
        (y > 0).then(|| i - w),
        (y + 1 < h).then_some(i + w),
    ]
    .into_iter()
    .flatten()
}

/// Mean difference of colour across the edge between ground and paper, taken a few px to either side;
/// 0 where they don't meet.
fn step(colours: &[Colour], sides: &[Side], w: usize, h: usize) -> f32 {
    const OFF: usize = 3;
    let (mut sum, mut count) = (0.0f32, 0usize);
    let mut add = |a: usize, b: usize, back: usize, on: usize| {
        let meet = matches!(
            (sides[a], sides[b]),
            (Side::Ground, Side::Paper) | (Side::Paper, Side::Ground)
        );
        if meet {
            sum += distance(&colours[back], &colours[on]);
            count += 1;
        }
    };
    for y in OFF..h.saturating_sub(OFF + 1) {
        for x in OFF..w.saturating_sub(OFF + 1) {
            let i = y * w + x;
            add(i, i + 1, i + 1 - OFF, i + OFF);
            add(i, i + w, i + w - OFF * w, i + OFF * w);
        }
    }
    sum / count.max(1) as f32
}

/// All that squares of side 2·`radius` + 1 cover that lie wholly within the places marked.
fn opened(there: &[bool], w: usize, h: usize, radius: usize) -> Vec<bool> {
    let not: Vec<bool> = there.iter().map(|t| !t).collect();
    let inner: Vec<bool> = grown(&not, w, h, radius).iter().map(|t| !t).collect();
    grown(&inner, w, h, radius)
}

/// The places marked and all within `radius` of them, along rows and columns.
fn grown(there: &[bool], w: usize, h: usize, radius: usize) -> Vec<bool> {
    let mask = GrayImage::from_fn(w as u32, h as u32, |x, y| {
        Luma([u8::from(there[y as usize * w + x as usize])])
    });
    let mask = raster::spread(&mask, radius, true);
    mask.pixels().map(|p| p.0[0] > 0).collect()
}

fn bilinear(values: &[f32], w: usize, h: usize, at: Point) -> f32 {
    let x = (at.x as f32 - 0.5).clamp(0.0, (w - 1) as f32);
    let y = (at.y as f32 - 0.5).clamp(0.0, (h - 1) as f32);
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(w - 1), (y0 + 1).min(h - 1));
    let (tx, ty) = (x - x0 as f32, y - y0 as f32);
    let v = |x: usize, y: usize| values[y * w + x];
    let top = v(x0, y0) * (1.0 - tx) + v(x1, y0) * tx;
    let low = v(x0, y1) * (1.0 - tx) + v(x1, y1) * tx;
    top * (1.0 - ty) + low * ty
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::marks::MarkKind;

    /// Grained ground with a cream label of 300 x 160 px on it, a line of strokes along its top edge;
    /// its lower right corner is torn off if wanted.
    fn back(torn: bool) -> (RgbImage, Mark) {
        let picture = RgbImage::from_fn(500, 400, |x, y| {
            let (u, v) = (i64::from(x) - 100, i64::from(y) - 120);
            let on = (0..300).contains(&u) && (0..160).contains(&v);
            let off = torn && u + v > 340;
            let grain = ((x * 7 + y * 13) % 9) as u8;
            if on && !off {
                let stroke = (12..30).contains(&v) && (20..280).contains(&u) && u % 12 < 4;
                if stroke {
                    Rgb([60, 40, 30])
                } else {
                    Rgb([225, 210, 170])
                }
            } else {
                Rgb([100 + grain, 90 + grain, 75 + grain])
            }
        });
        let mark = Mark {
            kind: MarkKind::PrintedLabel,
            kind_chance: 0.9,
            outline: Rect::new(100, 120, 300, 160).quad(),
            lettering: 0.9,
            bearing: None,
        };
        (picture, mark)
    }

    #[test]
    fn a_torn_corner_is_papered_over_and_the_lettering_stays() {
        let (picture, mark) = back(true);
        let flat = super::super::flatten(&picture, &mark);
        let papered = without_ground(&picture, &mark, &flat)
            .expect("torn")
            .picture;
        assert_eq!(papered.dimensions(), flat.picture.dimensions());
        let (w, h) = papered.dimensions();
        // Well inside the torn corner
        let corner = papered.get_pixel(w - 20, h - 20).0;
        assert!(corner[0] > 190, "{corner:?}");
        let (mut strokes, mut kept) = (0, 0);
        for (x, y, px) in flat.picture.enumerate_pixels().filter(|p| p.1 < h / 3) {
            if px.0[0] < 90 && x > 10 && x < w - 10 && y > 10 {
                strokes += 1;
                kept += usize::from(papered.get_pixel(x, y) == px);
            }
        }
        assert!(strokes > 500 && kept == strokes, "{kept} of {strokes}");
    }

    #[test]
    fn a_whole_label_is_left_as_it_is() {
        let (picture, mark) = back(false);
        let flat = super::super::flatten(&picture, &mark);
        assert!(without_ground(&picture, &mark, &flat).is_none());
    }
}
