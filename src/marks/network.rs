//! A small network that says of each fourth px of a small picture whether it lies in a mark, how near
//! its middle, where that mark's corners are, and of what kind it is. Trained on made backs by
//! `training/train_marks.py`; it proposes candidates and gives every candidate measures.

use super::outline;
use super::raster::{self, Small};
use crate::geometry::{Point, Quad};
use image::RgbImage;
use rten::{Model, Value};
use std::sync::OnceLock;

static WEIGHTS: &[u8] = include_bytes!("model/finder.onnx");

/// Longer side, px, of the picture that the network sees.
const LONGEST: u32 = 1024;
/// The network halves its picture five times.
const STEP: u32 = 32;
/// px of its picture for one place of its output.
const EVERY: f64 = 4.0;
/// Corners come in units of so many px.
const UNIT: f32 = 64.0;
/// In a mark, near its middle, four corners, kinds, parts.
const PLANES: usize = 10 + KINDS + PARTS;
const KINDS: usize = 6;
/// What may show at a place: nothing of the object, panel, board, canvas, stretcher, slip, frame,
/// backing.
pub(crate) const PARTS: usize = 8;
/// Steps across an outline at which it is measured.
const SIDE: i32 = 10;
/// Places this sure of lying in a mark have a say in where it lies.
const INSIDE: f32 = 0.3;
/// Marks whose middle is less sure aren't proposed.
const MIDDLE: f32 = 0.12;
/// Marks proposed at most.
const MOST: usize = 60;

/// What the network says of a photograph. Lengths in px of the picture that [`Map::of`] is given the
/// scale of.
pub(crate) struct Map {
    w: usize,
    h: usize,
    /// px of the outlines for one place of the map.
    place: f64,
    /// Chance of lying in a mark.
    inside: Vec<f32>,
    /// Nearness to its middle, 0 to 1.
    middle: Vec<f32>,
    /// Corners less the place itself, px of the network's picture.
    corners: Vec<[f32; 8]>,
    kinds: Vec<[f32; KINDS]>,
    /// Chances of what shows, or is covered by a mark.
    parts: Vec<[f32; PARTS]>,
    /// Marks it proposes.
    pub peaks: Vec<Peak>,
}

/// A mark that the network proposes.
pub(crate) struct Peak {
    /// Corners, top edge along the lettering (or against it).
    pub outline: Quad,
    /// How sure it is of its middle, 0 to 1.
    pub sure: f64,
    /// Share of the outline whose places agree.
    pub agreed: f64,
}

fn model() -> Option<&'static Model> {
    static MODEL: OnceLock<Option<Model>> = OnceLock::new();
    MODEL
        .get_or_init(|| Model::load_static_slice(WEIGHTS).ok())
        .as_ref()
}

fn chance(odds: f32) -> f32 {
    1.0 / (1.0 + (-odds).exp())
}

/// Chances that sum to 1 from log chances.
fn shares<const N: usize>(odds: [f32; N]) -> [f32; N] {
    let top = odds.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let sum: f32 = odds.iter().map(|o| (o - top).exp()).sum();
    odds.map(|o| (o - top).exp() / sum)
}

impl Map {
    /// The picture that the network sees.
    pub fn view(photograph: &RgbImage) -> Small {
        raster::shrink(photograph, LONGEST)
    }

    /// The same from twice as far: what fills a picture is seen whole only there.
    pub fn far(view: &Small) -> Small {
        let mut far = raster::shrink(&view.picture, LONGEST / 2);
        far.scale *= view.scale;
        far
    }

    /// What the network says of a [`Map::view`]. `scale`: px of the photograph for one px of the
    /// outlines wanted. `None` if the network can't be run, which a sound build doesn't show.
    ///
    /// Call it from a thread of its own: the network has a pool of threads, and a worker of another
    /// pool that waits for it may take up a job that waits for the same network.
    pub fn of(small: &Small, scale: f64) -> Option<Map> {
        let (w, h) = small.picture.dimensions();
        let (fw, fh) = (w.div_ceil(STEP) * STEP, h.div_ceil(STEP) * STEP);
        let (w, h, fw, fh) = (w as usize, h as usize, fw as usize, fh as usize);
        let mut values = vec![0.0f32; 3 * fw * fh];
        for (y, row) in small.picture.as_raw().chunks_exact(w * 3).enumerate() {
            for (x, px) in row.chunks_exact(3).enumerate() {
                for c in 0..3 {
                    values[(c * fh + y) * fw + x] = f32::from(px[c]) / 255.0;
                }
            }
        }
        let input = Value::from_shape(&[1, 3, fh, fw], values).ok()?;
        let output = model()?.run_one(input.into(), None).ok()?;
        let (shape, planes): ([usize; 4], Vec<f32>) = output.into_shape_vec().ok()?;
        let [_, depth, rows, columns] = shape;
        if depth != PLANES {
            return None;
        }
        // Places past the picture's own edge are left out.
        let (mw, mh) = (
            w.div_ceil(EVERY as usize).min(columns),
            h.div_ceil(EVERY as usize).min(rows),
        );
        let n = mw * mh;
        let value = |plane: usize, i: usize| planes[(plane * rows + i / mw) * columns + i % mw];
        let mut map = Map {
            w: mw,
            h: mh,
            place: EVERY * small.scale / scale,
            inside: (0..n).map(|i| chance(value(0, i))).collect(),
            middle: (0..n).map(|i| chance(value(1, i))).collect(),
            corners: (0..n)
                .map(|i| std::array::from_fn(|k| value(2 + k, i) * UNIT))
                .collect(),
            kinds: (0..n)
                .map(|i| shares(std::array::from_fn(|k| value(10 + k, i))))
                .collect(),
            parts: (0..n)
                .map(|i| shares(std::array::from_fn(|k| value(10 + KINDS + k, i))))
                .collect(),
            peaks: Vec::new(),
        };
        map.peaks = map.peaks();
        Some(map)
    }

    /// The four corners that a place names, px of the network's picture.
    fn named(&self, i: usize) -> [f32; 8] {
        let every = EVERY as f32;
        let (x, y) = (
            (i % self.w) as f32 * every + every / 2.0,
            (i / self.w) as f32 * every + every / 2.0,
        );
        let mut c = self.corners[i];
        c.iter_mut()
            .enumerate()
            .for_each(|(k, v)| *v += if k % 2 == 0 { x } else { y });
        c
    }

    fn quad(&self, c: &[f32]) -> Quad {
        let by = self.place / EVERY;
        Quad(std::array::from_fn(|k| {
            Point::new(f64::from(c[2 * k]) * by, f64::from(c[2 * k + 1]) * by)
        }))
    }

    /// The surest middle first: the places that name the same corners as it does are averaged, what
    /// lies in the outline is done with, and so on.
    fn peaks(&self) -> Vec<Peak> {
        let mut left: Vec<(f32, usize)> = (0..self.w * self.h)
            .filter(|&i| self.inside[i] > INSIDE)
            .map(|i| (self.middle[i], i))
            .collect();
        left.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let every: Vec<usize> = left.iter().map(|l| l.1).collect();
        let mut done = vec![false; self.w * self.h];
        let mut out = Vec::new();
        for (sure, i) in left {
            if sure < MIDDLE || out.len() == MOST {
                break;
            }
            if done[i] {
                continue;
            }
            let own = self.named(i);
            let side = |a: usize, b: usize| {
                (own[2 * a] - own[2 * b]).hypot(own[2 * a + 1] - own[2 * b + 1])
            };
            let near = 0.35 * side(0, 1).min(side(1, 2)).max(8.0);
            let (mut sum, mut weight, mut agreed) = ([0.0f32; 8], 0.0f32, Vec::new());
            for &j in &every {
                let other = self.named(j);
                // Upside down is the same place.
                for turn in [0, 4] {
                    let of = |k: usize| other[(k + turn) % 8];
                    if (0..8).all(|k| (of(k) - own[k]).abs() < near) {
                        let m = self.middle[j];
                        (0..8).for_each(|k| sum[k] += m * of(k));
                        weight += m;
                        agreed.push(j);
                        break;
                    }
                }
            }
            done[i] = true;
            if weight <= 0.0 {
                continue;
            }
            let corners = sum.map(|v| v / weight);
            let outline = self.quad(&corners);
            agreed.iter().for_each(|&j| done[j] = true);
            for &j in &every {
                if !done[j] && outline.holds(self.at(j)) {
                    done[j] = true;
                }
            }
            if !outline::convex(&outline) {
                continue;
            }
            let places = (outline.area() / (self.place * self.place)).max(1.0);
            out.push(Peak {
                outline,
                sure: f64::from(sure),
                agreed: (agreed.len() as f64 / places).min(2.0),
            });
        }
        out
    }

    /// Middle of a place, px of the outlines.
    fn at(&self, i: usize) -> Point {
        Point::new(
            ((i % self.w) as f64 + 0.5) * self.place,
            ((i / self.w) as f64 + 0.5) * self.place,
        )
    }

    fn place_of(&self, p: Point) -> Option<usize> {
        let (x, y) = (p.x / self.place, p.y / self.place);
        (x >= 0.0 && y >= 0.0 && x < self.w as f64 && y < self.h as f64)
            .then(|| y as usize * self.w + x as usize)
    }

    /// Places under an outline and just outside: steps across and down (0 to [`SIDE`] within it), and
    /// the place.
    fn grid<'a>(&'a self, quad: &'a Quad) -> impl Iterator<Item = (i32, i32, usize)> + 'a {
        let steps = -2..SIDE + 2;
        let all = steps
            .clone()
            .flat_map(move |i| steps.clone().map(move |j| (i, j)));
        let part = |k: i32| (f64::from(k) + 0.5) / f64::from(SIDE);
        all.filter_map(move |(i, j)| {
            let at = self.place_of(quad.at(part(i), part(j)))?;
            Some((i, j, at))
        })
    }

    /// Measures of an outline: mean chance of lying in a mark, within and just outside; greatest
    /// nearness to a middle; how far the places in it name this outline (mean IoU, weighted by their
    /// chance); IoU with the likest proposal and that one's sureness and agreement; mean chance of
    /// each kind.
    pub fn measures(&self, quad: &Quad) -> [f64; MEASURES] {
        let (mut inside, mut around, mut middle) = ((0.0, 0.0), (0.0, 0.0), 0.0f64);
        let (mut named, mut weight) = (0.0, 1e-6);
        let mut kinds = [0.0; KINDS];
        for (i, j, at) in self.grid(quad) {
            let chance = f64::from(self.inside[at]);
            if within(i, j) {
                inside = (inside.0 + chance, inside.1 + 1.0);
                middle = middle.max(f64::from(self.middle[at]));
                (0..KINDS).for_each(|k| kinds[k] += chance * f64::from(self.kinds[at][k]));
                if i % 2 == 0 && j % 2 == 0 {
                    if chance > 0.1 {
                        named += chance * quad.iou(&self.quad(&self.named(at)));
                    }
                    weight += chance;
                }
            } else {
                around = (around.0 + chance, around.1 + 1.0);
            }
        }
        let total: f64 = kinds.iter().sum::<f64>().max(1e-3);
        let peak = self.nearest(quad);
        let mut out = [0.0; MEASURES];
        out[0] = inside.0 / f64::max(inside.1, 1.0);
        out[1] = around.0 / f64::max(around.1, 1.0);
        out[2] = middle;
        out[3] = named / weight;
        if let Some((iou, peak)) = peak {
            out[4] = iou;
            out[5] = peak.sure;
            out[6] = peak.agreed;
        }
        (0..KINDS).for_each(|k| out[7 + k] = kinds[k] / total);
        out
    }

    /// What shows around and under an outline: for each part its mean chance within, just outside,
    /// and along that side where it is greatest.
    pub fn parts(&self, quad: &Quad) -> [f64; BEARING] {
        let mut sums = [[0.0f64; PARTS]; 6];
        let mut counts = [0.0f64; 6];
        for (i, j, at) in self.grid(quad) {
            let sides = [i < 2, i >= SIDE - 2, j < 2, j >= SIDE - 2];
            let zones = sides.iter().enumerate().filter(|s| *s.1).map(|s| 2 + s.0);
            for zone in zones.chain([usize::from(!within(i, j))]) {
                counts[zone] += 1.0;
                for (sum, part) in sums[zone].iter_mut().zip(self.parts[at]) {
                    *sum += f64::from(part);
                }
            }
        }
        let mean = |zone: usize, k: usize| sums[zone][k] / counts[zone].max(1.0);
        std::array::from_fn(|n| {
            let k = n % PARTS;
            match n / PARTS {
                2 => (2..6).map(|zone| mean(zone, k)).fold(0.0, f64::max),
                zone => mean(zone, k),
            }
        })
    }

    /// The proposal that is likest to an outline, with their IoU.
    pub fn nearest(&self, quad: &Quad) -> Option<(f64, &Peak)> {
        self.peaks
            .iter()
            .map(|p| (p.outline.iou(quad), p))
            .filter(|p| p.0 > 0.0)
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }
}

/// Whether a step of [`Map::grid`] lies under the outline.
fn within(i: i32, j: i32) -> bool {
    (0..SIDE).contains(&i) && (0..SIDE).contains(&j)
}

/// How many measures [`Map::measures`] gives.
pub(crate) const MEASURES: usize = 7 + KINDS;

/// How many measures [`Map::parts`] gives.
pub(crate) const BEARING: usize = 3 * PARTS;
