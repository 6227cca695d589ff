//! The ground that lettering stands on, tile by tile, so that uneven light can be divided out.

use image::{GrayImage, Luma};

/// Grey value that the ground gets after flattening; the room above it keeps highlights apart.
pub const PAPER: u8 = 230;

/// A smooth picture known at the middles of square tiles, bilinear between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Tiles across.
    pub columns: usize,
    /// Tiles down.
    pub rows: usize,
    /// Side of a tile, px.
    pub tile: u32,
    /// One value a tile, row by row.
    pub values: Vec<f32>,
}

impl Grid {
    /// The values along row `y` of the picture, one a pixel; constant beyond the outer middles.
    ///
    /// * `out`: as long as the picture is wide. An empty grid leaves it untouched.
    pub fn row(&self, y: u32, out: &mut [f32]) {
        if self.columns == 0 || self.rows == 0 {
            return;
        }
        let tile = self.tile as f32;
        let place = |at: f32, count: usize| {
            let t = ((at + 0.5) / tile - 0.5).clamp(0.0, (count - 1) as f32);
            let low = (t as usize).min(count.saturating_sub(2));
            (low, (low + 1).min(count - 1), t - low as f32)
        };
        let (top, bottom, down) = place(y as f32, self.rows);
        let line: Vec<f32> = (0..self.columns)
            .map(|c| {
                let (a, b) = (
                    self.values[top * self.columns + c],
                    self.values[bottom * self.columns + c],
                );
                a + (b - a) * down
            })
            .collect();
        for (x, o) in out.iter_mut().enumerate() {
            let (left, right, across) = place(x as f32, self.columns);
            *o = line[left] + (line[right] - line[left]) * across;
        }
    }
}

/// Tile side for a picture: fine enough to follow shadows, coarse enough that paper shows in
/// each tile of ordinary lettering. An eighteenth of the shorter side, 12 to 40 px.
pub fn tile_for(width: u32, height: u32) -> u32 {
    (width.min(height) / 18).clamp(12, 40)
}

/// Histograms of the tiles of one channel; a picture of `w` × `h` px has ⌈w/tile⌉ × ⌈h/tile⌉.
///
/// * `value`: 0 to 255 at (x, y).
pub(super) fn histograms(
    (w, h): (u32, u32),
    tile: u32,
    value: impl Fn(u32, u32) -> u8,
) -> (usize, usize, Vec<[u32; 256]>) {
    let (columns, rows) = (w.div_ceil(tile) as usize, h.div_ceil(tile) as usize);
    let mut all = vec![[0u32; 256]; columns * rows];
    for y in 0..h {
        let line = &mut all[(y / tile) as usize * columns..][..columns];
        for (c, counts) in line.iter_mut().enumerate() {
            let left = c as u32 * tile;
            for x in left..(left + tile).min(w) {
                counts[usize::from(value(x, y))] += 1;
            }
        }
    }
    (columns, rows, all)
}

/// The value below which the share `part` (0 to 1) of the counts lies; 0 for no counts.
pub(super) fn percentile(counts: &[u32; 256], part: f64) -> u8 {
    let total: u32 = counts.iter().sum();
    let wanted = (f64::from(total) * part).ceil().max(1.0) as u32;
    let mut seen = 0;
    for (value, &n) in counts.iter().enumerate() {
        seen += n;
        if seen >= wanted {
            return value as u8;
        }
    }
    0
}

/// The ground under dark lettering: each tile's 80th percentile, closed over dark patches up to
/// `2 × reach` tiles wide (strokes that fill a tile), then the 3 × 3 mean.
///
/// * `grey`: dark lettering on light ground, any size.
/// * `tile`: side in px, at least 1; see [`tile_for`].
/// * `reach`: tiles, 0 for lettering whose strokes are thinner than half a tile.
///
/// Values 1 to 255. Cost: one pass over the pixels.
pub fn ground(grey: &GrayImage, tile: u32, reach: usize) -> Grid {
    let tile = tile.max(1);
    let (columns, rows, counts) =
        histograms(grey.dimensions(), tile, |x, y| grey.get_pixel(x, y).0[0]);
    let values = counts
        .iter()
        .map(|c| f32::from(percentile(c, 0.8).max(1)))
        .collect();
    let mut grid = Grid {
        columns,
        rows,
        tile,
        values,
    };
    close(&mut grid, reach);
    smooth(&mut grid);
    grid
}

/// Grey-value closing by a square of side `2 × reach + 1` tiles: dark patches narrower than that
/// take the value around them.
pub(super) fn close(grid: &mut Grid, reach: usize) {
    if reach == 0 {
        return;
    }
    extreme(grid, reach, f32::max);
    extreme(grid, reach, f32::min);
}

fn extreme(grid: &mut Grid, reach: usize, pick: fn(f32, f32) -> f32) {
    let (w, h) = (grid.columns, grid.rows);
    let mut across = grid.values.clone();
    for y in 0..h {
        for x in 0..w {
            let range = x.saturating_sub(reach)..=(x + reach).min(w - 1);
            across[y * w + x] = range
                .map(|i| grid.values[y * w + i])
                .reduce(pick)
                .unwrap_or(0.0);
        }
    }
    for y in 0..h {
        for x in 0..w {
            let range = y.saturating_sub(reach)..=(y + reach).min(h - 1);
            grid.values[y * w + x] = range.map(|i| across[i * w + x]).reduce(pick).unwrap_or(0.0);
        }
    }
}

/// Mean over 3 × 3 tiles, those outside left out.
pub(super) fn smooth(grid: &mut Grid) {
    let (w, h) = (grid.columns, grid.rows);
    let before = grid.values.clone();
    for y in 0..h {
        for x in 0..w {
            let (mut sum, mut n) = (0.0, 0.0);
            for j in y.saturating_sub(1)..=(y + 1).min(h - 1) {
                for i in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                    sum += before[j * w + i];
                    n += 1.0;
                }
            }
            grid.values[y * w + x] = sum / n;
        }
    }
}

/// Divides the ground out: v' = min(255, [`PAPER`] · v / ground).
///
/// * `grey`: dark lettering on light ground, any size.
/// * `ground`: of the same picture, see [`ground`].
///
/// Light that falls on a surface multiplies what it reflects, so the quotient doesn't depend on
/// it. Cost: one pass.
pub fn flatten(grey: &GrayImage, ground: &Grid) -> GrayImage {
    let (w, h) = grey.dimensions();
    let mut out = GrayImage::new(w, h);
    let mut line = vec![1.0f32; w as usize];
    for y in 0..h {
        ground.row(y, &mut line);
        for x in 0..w {
            let v = f32::from(grey.get_pixel(x, y).0[0]);
            let flat = f32::from(PAPER) * v / line[x as usize].max(1.0);
            out.put_pixel(x, y, Luma([flat.round().min(255.0) as u8]));
        }
    }
    out
}
