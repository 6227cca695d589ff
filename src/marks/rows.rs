//! A small network that says of each second px of a grey picture how surely it lies in the core of
//! a row of lettering, how tall an x is there and which way the row runs. Trained on made sheets
//! and made backs by `training/train_rows.py`.

use crate::geometry::Point;
use crate::networks::{Pools, loaded};
use image::{GrayImage, imageops};
use rten::{Model, Value};
use std::sync::OnceLock;

static WEIGHTS: &[u8] = include_bytes!("model/rows.onnx");

/// The network halves its picture five times.
const STEP: usize = 32;
/// px of its picture for one place of its output.
const EVERY: f64 = 2.0;
/// Heights come as powers of two of so many px.
const UNIT: f64 = 8.0;
/// Core, height, cosine and sine of twice the direction.
const PLANES: usize = 4;
/// Places this sure are core.
const CORE: f32 = 0.45;
/// A core this many times as thick as it should be is looked at again where it is surer, up to this.
const THICK: f64 = 1.7;
const SUREST: f32 = 0.97;
/// Share of the height of an x that is core, as the network was taught.
const SHARE: f64 = 0.6;

/// A row of lettering.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    /// Half-way between the feet and the tops of small letters, from one end to the other, px.
    pub middle: Vec<Point>,
    /// Height of an x, px.
    pub x_height: f64,
    /// Direction, radians, above −π/2 and at most π/2: which end is the first isn't told.
    pub angle: f64,
    /// Mean chance of its core, 0 to 1.
    pub sure: f64,
}

impl Row {
    /// Length from end to end along its direction, px.
    pub fn length(&self) -> f64 {
        let (a, b) = self.ends();
        (a.x - b.x).hypot(a.y - b.y)
    }

    /// Both ends.
    pub fn ends(&self) -> (Point, Point) {
        let none = Point::new(0.0, 0.0);
        let at = |p: Option<&Point>| p.copied().unwrap_or(none);
        (at(self.middle.first()), at(self.middle.last()))
    }

    /// The same with all lengths `by` times as long.
    pub fn scaled(mut self, by: f64) -> Row {
        for p in &mut self.middle {
            *p = Point::new(p.x * by, p.y * by);
        }
        self.x_height *= by;
        self
    }
}

struct Network {
    model: Model,
    pools: Pools,
}

fn network() -> Option<&'static Network> {
    static NETWORK: OnceLock<Network> = OnceLock::new();
    let load = || {
        Model::load_static_slice(WEIGHTS).map(|model| Network {
            model,
            pools: Pools::default(),
        })
    };
    loaded(&NETWORK, load).ok()
}

/// Rows of lettering at any angle on a grey picture, dark on light or the other way round, in no
/// order.
///
/// `longest`: px that the longer side of the picture is brought down to first; rows whose x is then
/// lower than about 3 px aren't found. Empty too if the network can't be run, which a sound build
/// doesn't show. Cost: about 0.2 s for a million px on one core.
pub(crate) fn rows(picture: &GrayImage, longest: u32) -> Vec<Row> {
    let (w, h) = picture.dimensions();
    if w < 8 || h < 8 {
        return Vec::new();
    }
    let by = (f64::from(longest) / f64::from(w.max(h))).min(grown(w, h));
    let side = |n: u32| ((f64::from(n) * by).round() as u32).max(8);
    let small = if by < 1.0 {
        imageops::thumbnail(picture, side(w), side(h))
    } else if by > 1.0 {
        imageops::resize(picture, side(w), side(h), imageops::FilterType::CatmullRom)
    } else {
        picture.clone()
    };
    let back = f64::from(w) / f64::from(small.width());
    let Some(map) = Map::of(&small) else {
        return Vec::new();
    };
    map.rows().into_iter().map(|r| r.scaled(back)).collect()
}

/// Small pictures are made larger by so much at most.
const MOST_GROWN: f64 = 2.0;

/// Pictures whose longer side has fewer px than this are made larger.
const SMALL: f64 = 320.0;

fn grown(w: u32, h: u32) -> f64 {
    (SMALL / f64::from(w.max(h))).clamp(1.0, MOST_GROWN)
}

struct Map {
    w: usize,
    h: usize,
    core: Vec<f32>,
    tall: Vec<f32>,
    way: Vec<(f32, f32)>,
}

impl Map {
    fn of(picture: &GrayImage) -> Option<Map> {
        let (w, h) = (picture.width() as usize, picture.height() as usize);
        let (fw, fh) = (w.next_multiple_of(STEP), h.next_multiple_of(STEP));
        let mut values = vec![0.0f32; fw * fh];
        for (y, to) in values.chunks_exact_mut(fw).enumerate() {
            // Past the edge the edge's px are repeated.
            let row = &picture.as_raw()[y.min(h - 1) * w..][..w];
            for (x, to) in to.iter_mut().enumerate() {
                *to = f32::from(row[x.min(w - 1)]) / 255.0;
            }
        }
        let input = Value::from_shape(&[1, 1, fh, fw], values).ok()?;
        let network = network()?;
        let on = network.pools.next();
        let output = network.model.run_one(input.into(), Some(on)).ok()?;
        let (shape, planes): ([usize; 4], Vec<f32>) = output.into_shape_vec().ok()?;
        let [_, depth, rows, columns] = shape;
        if depth != PLANES {
            return None;
        }
        let (mw, mh) = (w.div_ceil(2).min(columns), h.div_ceil(2).min(rows));
        let plane = |k: usize| {
            let planes = &planes;
            (0..mw * mh).map(move |i| planes[(k * rows + i / mw) * columns + i % mw])
        };
        Some(Map {
            w: mw,
            h: mh,
            core: plane(0).map(|v| 1.0 / (1.0 + (-v).exp())).collect(),
            tall: plane(1).collect(),
            way: plane(2).zip(plane(3)).collect(),
        })
    }

    /// Connected patches of core, each as a row, px of the network's picture.
    fn rows(&self) -> Vec<Row> {
        let every: Vec<usize> = (0..self.core.len()).collect();
        self.patches(&every, CORE)
            .iter()
            .flat_map(|patch| self.parted(patch, CORE))
            .collect()
    }

    /// A patch as a row; one that is too thick for its lettering is two that touch: it is looked at
    /// again where the network is surer.
    fn parted(&self, patch: &[usize], least: f32) -> Vec<Row> {
        let Some((row, thick)) = self.row(patch) else {
            return Vec::new();
        };
        let surer = least + 0.5 * (1.0 - least);
        if thick < THICK || surer > SUREST {
            return vec![row];
        }
        let parts: Vec<Row> = self
            .patches(patch, surer)
            .iter()
            .flat_map(|part| self.parted(part, surer))
            .collect();
        if parts.len() > 1 { parts } else { vec![row] }
    }

    /// Connected patches (8-neighbours) of those places that are this sure.
    fn patches(&self, among: &[usize], least: f32) -> Vec<Vec<usize>> {
        let mut left = vec![false; self.core.len()];
        for &i in among {
            left[i] = self.core[i] >= least;
        }
        let mut out = Vec::new();
        let mut stack = Vec::new();
        for &start in among {
            if !left[start] {
                continue;
            }
            left[start] = false;
            stack.push(start);
            let mut patch = Vec::new();
            while let Some(i) = stack.pop() {
                patch.push(i);
                let (x, y) = (i % self.w, i / self.w);
                for ny in y.saturating_sub(1)..(y + 2).min(self.h) {
                    for nx in x.saturating_sub(1)..(x + 2).min(self.w) {
                        let n = ny * self.w + nx;
                        if left[n] {
                            left[n] = false;
                            stack.push(n);
                        }
                    }
                }
            }
            out.push(patch);
        }
        out
    }

    /// The row of a patch, and how thick it is beside the core of such lettering.
    fn row(&self, patch: &[usize]) -> Option<(Row, f64)> {
        let n = patch.len() as f64;
        let (mut c, mut s, mut sure) = (0.0, 0.0, 0.0);
        for &i in patch {
            c += f64::from(self.way[i].0);
            s += f64::from(self.way[i].1);
            sure += f64::from(self.core[i]) / n;
        }
        let angle = s.atan2(c) / 2.0;
        let mut heights: Vec<f32> = patch.iter().map(|&i| self.tall[i]).collect();
        let middle = heights.len() / 2;
        let (_, &mut tall, _) = heights.select_nth_unstable_by(middle, f32::total_cmp);
        let x_height = UNIT * 2f64.powf(f64::from(tall));
        let (sin, cos) = angle.sin_cos();
        // Along and across the row, px of the network's picture.
        let places: Vec<(f64, f64)> = patch
            .iter()
            .map(|&i| {
                let x = ((i % self.w) as f64 + 0.5) * EVERY;
                let y = ((i / self.w) as f64 + 0.5) * EVERY;
                (x * cos + y * sin, y * cos - x * sin)
            })
            .collect();
        let (low, high) = places
            .iter()
            .fold((f64::MAX, f64::MIN), |r, p| (r.0.min(p.0), r.1.max(p.0)));
        let length = high - low + EVERY;
        // A speck, or hardly a core at all.
        if length < 0.7 * x_height || n * EVERY * EVERY < 0.25 * SHARE * x_height * length {
            return None;
        }
        let bins = ((length / x_height).round() as usize).clamp(1, 200);
        let mut sums = vec![(0.0, 0.0, 0.0); bins];
        for &(t, across) in &places {
            let k = (((t - low) / length * bins as f64) as usize).min(bins - 1);
            sums[k].0 += t;
            sums[k].1 += across;
            sums[k].2 += 1.0;
        }
        let mut line: Vec<(f64, f64)> = sums
            .iter()
            .filter(|b| b.2 > 0.0)
            .map(|b| (b.0 / b.2, b.1 / b.2))
            .collect();
        let (first, last) = (*line.first()?, *line.last()?);
        line.insert(0, (low - EVERY / 2.0, first.1));
        line.push((high + EVERY / 2.0, last.1));
        let row = Row {
            middle: line
                .iter()
                .map(|&(t, a)| Point::new(t * cos - a * sin, t * sin + a * cos))
                .collect(),
            x_height,
            angle,
            sure,
        };
        Some((row, n * EVERY * EVERY / (SHARE * x_height * length)))
    }
}
