//! Parts ink from ground by colour: which mixture of the channels shows the lettering best.
//!
//! Works on optical density d = ln(ground / value), one for each of R, G and B. By the law of
//! Bouguer, Lambert and Beer the densities of ink, stain and shadow add, so a mixture
//! w · d of the three can let one of them vanish while another stays.

use super::light::{self, Grid, PAPER};
use image::{GrayImage, RgbImage};

/// A mixture of the three channels' densities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    /// `red`, `green`, `blue`, `grey`, or `mixture`.
    pub name: &'static str,
    /// Weights of the densities of R, G and B; may be negative.
    pub weights: [f32; 3],
    /// Ink's mean density on this axis in standard deviations of the ground; 0 if no ink was
    /// found. The higher, the better ink and ground part.
    pub parting: f64,
}

/// What was measured of a crop's colours.
#[derive(Debug, Clone)]
pub struct Inks {
    /// Light lettering on dark ground (chalk on a board): everything below works on the negative.
    pub light_on_dark: bool,
    /// ln of the ground in R, G and B (of the negative if `light_on_dark`).
    grounds: [Grid; 3],
    /// All axes, the best first.
    pub axes: Vec<Axis>,
    /// Share of the sampled pixels that is ink, 0 to 1.
    pub ink: f64,
}

/// Most pixels looked at to choose among axes.
const SAMPLES: u64 = 60_000;

/// Measures ground and inks of a crop.
///
/// * `crop`: RGB, any size.
/// * `reach`: see [`light::ground`].
///
/// Ink and ground are parted by Otsu's threshold on the summed densities; the mixture is
/// w = S⁻¹ (m_ink − m_ground), S the ground's covariance (Fisher 1936, *Annals of Eugenics* 7,
/// with the ground's scatter alone, since ink varies along its own direction where a stroke
/// covers a pixel in part). Two rounds, the second with ink parted on the mixture itself.
pub fn measure(crop: &RgbImage, reach: usize) -> Inks {
    let (w, h) = crop.dimensions();
    let tile = light::tile_for(w, h);
    let flat = crop.as_raw();
    let histograms: [(usize, usize, Vec<[u32; 256]>); 3] = std::array::from_fn(|c| {
        light::histograms((w, h), tile, |x, y| {
            flat[(y as usize * w as usize + x as usize) * 3 + c]
        })
    });
    let light_on_dark = is_light_on_dark(&histograms[1].2);
    let grounds: [Grid; 3] = std::array::from_fn(|c| {
        let (columns, rows, counts) = &histograms[c];
        let values = counts
            .iter()
            .map(|n| {
                f32::from(if light_on_dark {
                    255 - light::percentile(n, 0.2)
                } else {
                    light::percentile(n, 0.8)
                })
            })
            .collect();
        let mut grid = Grid {
            columns: *columns,
            rows: *rows,
            tile,
            values,
        };
        light::close(&mut grid, reach);
        light::smooth(&mut grid);
        for v in &mut grid.values {
            *v = v.max(1.0).ln();
        }
        grid
    });
    let mut inks = Inks {
        light_on_dark,
        grounds,
        axes: Vec::new(),
        ink: 0.0,
    };
    let samples = inks.sample(crop);
    inks.choose(&samples);
    inks
}

/// Lettering is what departs from a tile's median on the longer side.
fn is_light_on_dark(tiles: &[[u32; 256]]) -> bool {
    let (mut dark, mut light) = (0.0, 0.0);
    for counts in tiles {
        let [low, middle, high] =
            [0.03, 0.5, 0.97].map(|p| f64::from(light::percentile(counts, p)));
        // As shares of what light is there, so that lit and shaded tiles count alike.
        dark += (middle - low).powi(2) / (middle + 16.0);
        light += (high - middle).powi(2) / (middle + 16.0);
    }
    light > 1.25 * dark
}

impl Inks {
    /// The same, as if the light were even: each ground its own mean.
    pub(super) fn evenly_lit(mut self) -> Inks {
        for grid in &mut self.grounds {
            let mean = grid.values.iter().sum::<f32>() / grid.values.len().max(1) as f32;
            grid.values.fill(mean);
        }
        self
    }

    /// Densities of R, G and B of each px of a row.
    pub(super) fn densities(&self, crop: &RgbImage, y: u32, out: &mut Vec<[f32; 3]>) {
        let (w, table) = (crop.width() as usize, self.log_table());
        let mut lines = [(); 3].map(|()| vec![0.0f32; w]);
        for (grid, line) in self.grounds.iter().zip(&mut lines) {
            grid.row(y, line);
        }
        let row = &crop.as_raw()[y as usize * w * 3..][..w * 3];
        out.clear();
        out.extend(row.chunks_exact(3).enumerate().map(|(x, p)| -> [f32; 3] {
            std::array::from_fn(|c| lines[c][x] - table[usize::from(p[c])])
        }));
    }

    fn log_table(&self) -> [f32; 256] {
        std::array::from_fn(|v| {
            let v = if self.light_on_dark { 255 - v } else { v };
            (v.max(1) as f32).ln()
        })
    }

    /// Densities of evenly spread pixels.
    pub(super) fn sample(&self, crop: &RgbImage) -> Vec<[f32; 3]> {
        let (w, h) = crop.dimensions();
        let pixels = u64::from(w) * u64::from(h);
        let step = ((pixels as f64 / SAMPLES as f64).sqrt().ceil() as u32).max(1);
        let table = self.log_table();
        let mut out = Vec::new();
        let mut lines = [(); 3].map(|()| vec![0.0f32; w as usize]);
        for y in (0..h).step_by(step as usize) {
            for (grid, line) in self.grounds.iter().zip(&mut lines) {
                grid.row(y, line);
            }
            for x in (0..w).step_by(step as usize) {
                let p = crop.get_pixel(x, y).0;
                out.push(std::array::from_fn(|c| {
                    lines[c][x as usize] - table[usize::from(p[c])]
                }));
            }
        }
        out
    }

    fn choose(&mut self, samples: &[[f32; 3]]) {
        let third = 1.0 / 3.0;
        let mut mixture = [third; 3];
        let mut parted = None;
        for round in 0..2 {
            let on_axis: Vec<f32> = samples.iter().map(|d| dot(&mixture, d)).collect();
            let Some(mut cut) = otsu_cut(&on_axis) else {
                break;
            };
            if round == 0
                && let Some(higher) = above_stain(samples, &on_axis, cut)
            {
                cut = higher;
            }
            let Some(now) = Parted::new(samples, &on_axis, cut) else {
                break;
            };
            if let Some(w) = now.best_weights() {
                mixture = w;
            }
            parted = Some(now);
        }
        let fixed = [
            ("grey", [0.299, 0.587, 0.114]),
            ("red", [1.0, 0.0, 0.0]),
            ("green", [0.0, 1.0, 0.0]),
            ("blue", [0.0, 0.0, 1.0]),
        ];
        let measured = |name, weights| Axis {
            name,
            weights,
            parting: parted
                .as_ref()
                .map_or(0.0, |p: &Parted| p.parting(&weights)),
        };
        self.axes = fixed.iter().map(|&(n, w)| measured(n, w)).collect();
        if let Some(p) = &parted {
            self.ink = p.ink;
            self.axes.push(measured("mixture", mixture));
        }
        self.axes.sort_by(|a, b| b.parting.total_cmp(&a.parting));
    }

    /// The crop along an axis, light flattened: v' = [`PAPER`] · exp(−w · d), at most 255.
    /// Dark lettering on light ground.
    pub fn picture(&self, crop: &RgbImage, axis: &Axis) -> GrayImage {
        let (w, h) = crop.dimensions();
        let mut out = GrayImage::new(w, h);
        if w == 0 || h == 0 {
            return out;
        }
        let log = self.log_table();
        let tables: [[f32; 256]; 3] =
            std::array::from_fn(|c| std::array::from_fn(|v| log[v] * axis.weights[c]));
        let mut ground = self.grounds[0].clone();
        for (i, v) in ground.values.iter_mut().enumerate() {
            *v = (0..3)
                .map(|c| axis.weights[c] * self.grounds[c].values[i])
                .sum();
        }
        // exp by table: 1/128 steps of density over [-8, 1) are finer than 8-bit greys.
        let exp: Vec<u8> = (0..1152)
            .map(|i| {
                let p = (i as f32 - 1024.0) / 128.0;
                (f32::from(PAPER) * p.exp()).round().min(255.0) as u8
            })
            .collect();
        let mut line = vec![0.0f32; w as usize];
        let width = w as usize;
        for (y, (source, target)) in crop
            .as_raw()
            .chunks_exact(width * 3)
            .zip(out.chunks_exact_mut(width))
            .enumerate()
        {
            ground.row(y as u32, &mut line);
            for ((p, o), g) in source.chunks_exact(3).zip(target).zip(&line) {
                let d = tables[0][usize::from(p[0])]
                    + tables[1][usize::from(p[1])]
                    + tables[2][usize::from(p[2])]
                    - g;
                *o = exp[(d * 128.0 + 1024.0).clamp(0.0, 1151.0) as usize];
            }
        }
        out
    }
}

/// Ink and ground parted on an axis, with their statistics.
struct Parted {
    apart: [f64; 3],
    scatter: [[f64; 3]; 3],
    ink: f64,
}

impl Parted {
    fn new(samples: &[[f32; 3]], on_axis: &[f32], cut: f32) -> Option<Parted> {
        let mut sums = [[0.0f64; 3]; 2];
        let mut counts = [0.0f64; 2];
        for (d, &a) in samples.iter().zip(on_axis) {
            let class = usize::from(a > cut);
            counts[class] += 1.0;
            for c in 0..3 {
                sums[class][c] += f64::from(d[c]);
            }
        }
        if counts[0] < 16.0 || counts[1] < 4.0 {
            return None;
        }
        let mean = [0, 1].map(|k: usize| sums[k].map(|s| s / counts[k]));
        let mut scatter = [[0.0; 3]; 3];
        for (d, &a) in samples.iter().zip(on_axis) {
            if a > cut {
                continue;
            }
            let off: [f64; 3] = std::array::from_fn(|c| f64::from(d[c]) - mean[0][c]);
            for i in 0..3 {
                for j in 0..3 {
                    scatter[i][j] += off[i] * off[j] / counts[0];
                }
            }
        }
        // Rounding to 8 bit leaves at least this much scatter; it also keeps S invertible.
        for (i, row) in scatter.iter_mut().enumerate() {
            row[i] += 2e-4;
        }
        Some(Parted {
            apart: std::array::from_fn(|c| mean[1][c] - mean[0][c]),
            scatter,
            ink: counts[1] / (counts[0] + counts[1]),
        })
    }

    /// Weights along S⁻¹ (m_ink − m_ground), scaled so that ink is as dense as on the densest
    /// single channel.
    fn best_weights(&self) -> Option<[f32; 3]> {
        let w = solve(&self.scatter, &self.apart)?;
        let reached: f64 = (0..3).map(|c| w[c] * self.apart[c]).sum();
        let wanted = self.apart.into_iter().fold(0.0, f64::max);
        if !(reached > 0.0 && wanted > 0.0) {
            return None;
        }
        Some(w.map(|v| (v * wanted / reached) as f32))
    }

    fn parting(&self, weights: &[f32; 3]) -> f64 {
        let w = weights.map(f64::from);
        let apart: f64 = (0..3).map(|c| w[c] * self.apart[c]).sum();
        let spread: f64 = (0..3)
            .flat_map(|i| (0..3).map(move |j| (i, j)))
            .map(|(i, j)| w[i] * w[j] * self.scatter[i][j])
            .sum();
        apart / spread.max(1e-12).sqrt()
    }
}

/// A higher cut, where what lies above `cut` is stain as well as ink: more than lettering covers
/// (0.15 of the samples), falling into two parts of different colour (their mean densities at an
/// angle with a cosine below 0.97). `None` where it is one ink.
fn above_stain(samples: &[[f32; 3]], on_axis: &[f32], cut: f32) -> Option<f32> {
    let upper: Vec<f32> = on_axis.iter().copied().filter(|&a| a > cut).collect();
    if (upper.len() as f64) < 0.15 * samples.len() as f64 {
        return None;
    }
    let higher = otsu_cut(&upper)?;
    let mean = |from: f32, to: f32| -> Option<[f64; 3]> {
        let (mut sum, mut n) = ([0.0f64; 3], 0.0);
        for (d, &a) in samples.iter().zip(on_axis) {
            if a > from && a <= to {
                n += 1.0;
                for c in 0..3 {
                    sum[c] += f64::from(d[c]);
                }
            }
        }
        (n >= 16.0).then(|| sum.map(|s| s / n))
    };
    let ground = mean(f32::NEG_INFINITY, cut)?;
    let from_ground = |m: [f64; 3]| -> [f64; 3] { std::array::from_fn(|c| m[c] - ground[c]) };
    let stain = from_ground(mean(cut, higher)?);
    let ink = from_ground(mean(higher, f32::INFINITY)?);
    let dot = |a: &[f64; 3], b: &[f64; 3]| (0..3).map(|c| a[c] * b[c]).sum::<f64>();
    let cosine = dot(&stain, &ink) / (dot(&stain, &stain) * dot(&ink, &ink)).sqrt().max(1e-12);
    (cosine < 0.97).then_some(higher)
}

fn dot(w: &[f32; 3], d: &[f32; 3]) -> f32 {
    w[0] * d[0] + w[1] * d[1] + w[2] * d[2]
}

/// Otsu's cut of values that aren't greys: over 256 even bins between least and greatest.
/// `None` if they are all equal or there are none.
fn otsu_cut(values: &[f32]) -> Option<f32> {
    let low = values.iter().copied().fold(f32::INFINITY, f32::min);
    let high = values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    if high.partial_cmp(&low) != Some(std::cmp::Ordering::Greater) {
        return None;
    }
    let step = (high - low) / 256.0;
    let mut counts = [0u32; 256];
    for &v in values {
        counts[(((v - low) / step) as usize).min(255)] += 1;
    }
    let bin = super::threshold::otsu_of(&counts);
    Some(low + (f32::from(bin) + 1.0) * step)
}

/// Solves the 3 × 3 system `a x = b` by Cramer's rule.
fn solve(a: &[[f64; 3]; 3], b: &[f64; 3]) -> Option<[f64; 3]> {
    let det = |m: &[[f64; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
            - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    let whole = det(a);
    if whole.abs() < 1e-18 {
        return None;
    }
    Some(std::array::from_fn(|c| {
        let mut m = *a;
        for (row, v) in m.iter_mut().zip(b) {
            row[c] = *v;
        }
        det(&m) / whole
    }))
}
