//! What can be measured of a mark on one photograph.

use super::Edge;
use crate::geometry::{Point, Quad, Rect};
use crate::marks::rows::{self, Row};
use image::{GrayImage, ImageBuffer, Luma, RgbImage, imageops};
use imageproc::filter::gaussian_blur_f32;
use serde::{Deserialize, Serialize};

/// px of the longer side on which rows of lettering are sought: letters 3 px high there are found.
const LONGEST: u32 = 1024;
/// Edges are looked at in level bands of so many px, as many as make up so many px together.
const BAND: u32 = 96;
const BANDS_PX: u32 = 1_000_000;
/// A row counts where the network is this sure of it and it is so many heights of an x long.
const ROW_SURE: f64 = 0.8;
const ROW_LONG: f64 = 3.0;
/// All rows together are lettering if they are so long beside the longer side of the mark.
const LETTERED: f64 = 0.2;
/// What is lower than all but this share of the letters is a speck.
const SPECKS: f64 = 0.1;
/// An edge is told by what two Gaussian blurs, px, leave of its slope.
const SOFT: [f32; 2] = [1.0, 2.0];
/// Only edges this steep beside the steepest (the 99.5th of a hundred) tell how sharp a picture is.
const STEEP: f32 = 0.4;
/// So many of them there must be in one direction.
const EDGES: usize = 40;
/// No blur is told as more, px: what both blurs leave alike has no edge.
pub(super) const BLUREST: f64 = 12.0;
/// A px all of whose channels are at least this bright has lost what it showed.
const BURNT: u8 = 250;
/// Side of a patch that is burnt out throughout, px, where no lettering tells how tall an x is.
const PATCH: u32 = 12;
/// Margins beyond so many heights of an x are told as that.
const WIDE: f64 = 6.0;

/// What was measured of a mark, or of a whole photograph.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measures {
    /// Height of an x of its smallest lettering, px; `None` where no row of lettering shows.
    pub x_height: Option<f64>,
    /// Blur of its edges as the standard deviation of a Gaussian, px, at most 12: nothing has an edge; `None` where it is
    /// too small to tell.
    pub blur: Option<f64>,
    /// How light its lighter part is (95th of a hundred px), 0 black to 1 white.
    pub light: f64,
    /// Between its darkest and lightest px (2nd and 98th of a hundred), 0 to 1.
    pub contrast: f64,
    /// Grain: standard deviation of what the nearest px don't share, 0 to 1.
    pub grain: f64,
    /// Share of it that is burnt out in patches as large as a letter, 0 to 1.
    pub burnt: f64,
    /// How far lettering keeps from the top, right, bottom and left edge of the photograph, heights of an x.
    pub margins: [f64; 4],
    /// How far its outline keeps from them, in its own height or width, at most 1.
    pub gaps: [f64; 4],
}

impl Measures {
    /// How far lettering (heights of an x) and outline (its own height or width) keep from an edge of the photograph.
    pub fn room(&self, edge: Edge) -> (f64, f64) {
        (self.margins[edge as usize], self.gaps[edge as usize])
    }
}

/// Measures the mark inside an outline.
pub fn of_mark(photograph: &RgbImage, outline: &Quad) -> Measures {
    let size = photograph.dimensions();
    let bounds = outline
        .bounds()
        .intersect(&Rect::new(0, 0, size.0, size.1))
        .unwrap_or(Rect::new(0, 0, 0, 0));
    Measures {
        gaps: gaps(outline, size),
        ..of_part(photograph, bounds, |p| outline.holds(p), size)
    }
}

/// Measures a whole photograph, but for its lettering.
pub fn of_whole(photograph: &RgbImage) -> Measures {
    let (w, h) = photograph.dimensions();
    let by = (1600.0 / f64::from(w.max(h).max(1))).min(1.0);
    let side = |n: u32| ((f64::from(n) * by).round() as u32).max(1);
    let small = imageops::thumbnail(photograph, side(w), side(h));
    let (colours, grey) = (&small, imageops::grayscale(&small));
    Measures {
        x_height: None,
        blur: blur(&grey).map(|b| b / by),
        light: share_below(&grey, 0.95, |_| true),
        contrast: share_below(&grey, 0.98, |_| true) - share_below(&grey, 0.02, |_| true),
        grain: grain(&grey),
        burnt: burnt(colours, PATCH, |_| true),
        margins: [WIDE; 4],
        gaps: [1.0; 4],
    }
}

fn of_part(
    photograph: &RgbImage,
    part: Rect,
    inside: impl Fn(Point) -> bool,
    size: (u32, u32),
) -> Measures {
    let (x, y) = (part.x.max(0) as u32, part.y.max(0) as u32);
    let colours = imageops::crop_imm(photograph, x, y, part.w, part.h).to_image();
    let grey = imageops::grayscale(&colours);
    let at = |px: u32, py: u32| Point::new(f64::from(x + px) + 0.5, f64::from(y + py) + 0.5);
    let within = |(px, py): (u32, u32)| inside(at(px, py));
    let lettered: Vec<Row> = rows::rows(&grey, LONGEST)
        .into_iter()
        .filter(|r| r.sure >= ROW_SURE && r.length() >= ROW_LONG * r.x_height)
        .collect();
    let long: f64 = lettered.iter().map(Row::length).sum();
    let enough = long >= LETTERED * f64::from(part.w.max(part.h));
    let lettered = if enough { lettered } else { Vec::new() };
    let x_height = smallest(&lettered);
    let from = Point::new(f64::from(x), f64::from(y));
    let patch = x_height.map_or(PATCH, |h| (h.round() as u32).clamp(4, 4 * PATCH));
    Measures {
        x_height,
        blur: blur(&grey),
        light: share_below(&grey, 0.95, within),
        contrast: share_below(&grey, 0.98, within) - share_below(&grey, 0.02, within),
        grain: grain(&grey),
        burnt: burnt(&colours, patch, within),
        margins: margins(&lettered, from, size),
        gaps: [1.0; 4],
    }
}

/// Height of an x of the smallest lettering, px, by rows that hold more than specks.
fn smallest(lettered: &[Row]) -> Option<f64> {
    let letters = |r: &Row| r.length() / r.x_height;
    let all: f64 = lettered.iter().map(letters).sum();
    let mut rows: Vec<&Row> = lettered.iter().collect();
    rows.sort_by(|a, b| a.x_height.total_cmp(&b.x_height));
    let mut seen = 0.0;
    let mut smaller = rows.iter();
    let first = smaller.find(|r| {
        seen += letters(r);
        seen >= SPECKS * all
    });
    first.map(|r| r.x_height)
}

/// How far rows keep from the edges of a photograph of that size, heights of their x.
fn margins(lettered: &[Row], from: Point, size: (u32, u32)) -> [f64; 4] {
    let (w, h) = (f64::from(size.0), f64::from(size.1));
    let mut least = [WIDE; 4];
    for row in lettered {
        for p in &row.middle {
            let (x, y) = (p.x + from.x, p.y + from.y);
            for (least, px) in least.iter_mut().zip([y, w - x, h - y, x]) {
                *least = least.min(px / row.x_height);
            }
        }
    }
    least
}

/// How far an outline keeps from the edges of a photograph of that size, in its own height or width.
fn gaps(outline: &Quad, size: (u32, u32)) -> [f64; 4] {
    let b = outline.bounds();
    let (w, h) = (f64::from(b.w.max(1)), f64::from(b.h.max(1)));
    let right = f64::from(size.0) - f64::from(b.right());
    let bottom = f64::from(size.1) - f64::from(b.bottom());
    let all = [
        f64::from(b.y) / h,
        right / w,
        bottom / h,
        f64::from(b.x) / w,
    ];
    all.map(|gap| gap.clamp(0.0, 1.0))
}

/// The value, 0 to 1, below which that share of the px inside lies.
fn share_below(grey: &GrayImage, share: f64, inside: impl Fn((u32, u32)) -> bool) -> f64 {
    let mut counts = [0usize; 256];
    for (x, y, p) in grey.enumerate_pixels() {
        // Every second px of every second row tells as much
        if x % 2 == 0 && y % 2 == 0 && inside((x, y)) {
            counts[usize::from(p.0[0])] += 1;
        }
    }
    let all: usize = counts.iter().sum();
    let wanted = share * all as f64;
    let mut seen = 0;
    let value = counts.iter().position(|n| {
        seen += n;
        seen as f64 >= wanted
    });
    value.unwrap_or(0) as f64 / 255.0
}

/// Standard deviation of what a px doesn't share with its neighbours, 0 to 1, by Immerkær's mask (Fast noise variance
/// estimation, Computer Vision and Image Understanding 64, 1996), its median in place of the mean so that edges don't count.
fn grain(grey: &GrayImage) -> f64 {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    if w < 3 || h < 3 {
        return 0.0;
    }
    let px = grey.as_raw();
    let mut counts = vec![0usize; 16 * 256 + 1];
    for y in (1..h - 1).step_by(2) {
        for x in (1..w - 1).step_by(2) {
            let at = |dx: usize, dy: usize| i32::from(px[(y + dy - 1) * w + x + dx - 1]);
            let corners = at(0, 0) + at(2, 0) + at(0, 2) + at(2, 2);
            let sides = at(1, 0) + at(0, 1) + at(2, 1) + at(1, 2);
            counts[(corners - 2 * sides + 4 * at(1, 1)).unsigned_abs() as usize] += 1;
        }
    }
    let all: usize = counts.iter().sum();
    let mut seen = 0;
    let median = counts.iter().position(|n| {
        seen += n;
        2 * seen >= all
    });
    // The mask makes noise six times as strong; 0.6745 of a normal's deviation is its median
    median.unwrap_or(0) as f64 / 0.6745 / 6.0 / 255.0
}

/// Share of the patches inside that are burnt out throughout.
fn burnt(colours: &RgbImage, patch: u32, inside: impl Fn((u32, u32)) -> bool) -> f64 {
    let (w, h) = colours.dimensions();
    let (mut all, mut lost) = (0usize, 0usize);
    for y in (0..h.saturating_sub(patch - 1)).step_by(patch as usize) {
        for x in (0..w.saturating_sub(patch - 1)).step_by(patch as usize) {
            if !inside((x + patch / 2, y + patch / 2)) {
                continue;
            }
            all += 1;
            let mut px = (y..y + patch).flat_map(|y| (x..x + patch).map(move |x| (x, y)));
            lost +=
                usize::from(px.all(|(x, y)| colours.get_pixel(x, y).0.iter().all(|&c| c >= BURNT)));
        }
    }
    lost as f64 / all.max(1) as f64
}

/// How blurred the steepest edges are, px, in the direction in which they are more so (a hand moves one way): a slope
/// that two Gaussian blurs of 1 and 2 px leave as `ratio` was blurred by s with s² = (2² − ratio² 1²) / (ratio² − 1)
/// (Zhuo and Sim, Defocus map estimation from a single image, Pattern Recognition 44, 2011).
fn blur(grey: &GrayImage) -> Option<f64> {
    let (w, h) = grey.dimensions();
    if w < 16 || h < 16 {
        return None;
    }
    // Bands lie evenly over a picture that is too large to be looked at throughout
    let bands = (BANDS_PX / (w * BAND)).max(1);
    let exact: ImageBuffer<Luma<f32>, Vec<f32>> = if bands * BAND < h {
        let gap = h / bands;
        ImageBuffer::from_fn(w, bands * BAND, |x, y| {
            let from = (y / BAND * gap + y % BAND).min(h - 1);
            Luma([f32::from(grey.get_pixel(x, from).0[0])])
        })
    } else {
        ImageBuffer::from_fn(w, h, |x, y| Luma([f32::from(grey.get_pixel(x, y).0[0])]))
    };
    let (w, h) = (w as usize, exact.height() as usize);
    let [fine, soft] = SOFT.map(|s| gaussian_blur_f32(&exact, s).into_raw());
    let along = |step: usize| -> Option<f64> {
        let slope = |of: &[f32], i: usize| of[i + step] - of[i - step];
        // Where two bands meet there is an edge that isn't the picture's
        let within = (4..h - 4).filter(|y| {
            (4..BAND as usize - 4).contains(&(y % BAND as usize)) || h <= BAND as usize
        });
        let places = within.flat_map(|y| (2..w - 2).map(move |x| y * w + x));
        let mut slopes: Vec<f32> = places.clone().map(|i| slope(&fine, i).abs()).collect();
        let nth = slopes.len() * 199 / 200;
        let (_, &mut steepest, _) = slopes.select_nth_unstable_by(nth, f32::total_cmp);
        let least = (STEEP * steepest).max(6.0);
        let mut told: Vec<f64> = Vec::new();
        for i in places {
            let here = slope(&fine, i).abs();
            let crest = here >= least
                && here >= slope(&fine, i - step).abs()
                && here > slope(&fine, i + step).abs();
            if crest {
                let ratio = f64::from(here) / f64::from(slope(&soft, i).abs().max(0.5));
                let [a, b] = SOFT.map(f64::from);
                let (over, under) = (b * b - ratio * ratio * a * a, ratio * ratio - 1.0);
                told.push(if under <= 0.0 {
                    BLUREST
                } else {
                    (over.max(0.0) / under).sqrt().min(BLUREST)
                });
            }
        }
        if told.len() < EDGES {
            return None;
        }
        let middle = told.len() / 2;
        Some(*told.select_nth_unstable_by(middle, f64::total_cmp).1)
    };
    let told = match (along(1), along(w)) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    };
    Some(told.unwrap_or(BLUREST))
}
