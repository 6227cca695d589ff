//! How large the letters are and how thick their strokes, from a mask of ink.

use image::GrayImage;

/// Size of the lettering, px of the mask.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Letters {
    /// Height of a typical letter (between x-height and capitals), px.
    pub height: f64,
    /// Width of a typical stroke, px.
    pub stroke: f64,
    /// Connected pieces of ink that look like letters.
    pub count: usize,
}

/// A connected piece of ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    /// First column and row, last column and row.
    pub left: u32,
    /// First row.
    pub top: u32,
    /// Last column.
    pub right: u32,
    /// Last row.
    pub bottom: u32,
    /// Pixels of ink.
    pub area: u32,
    /// Horizontal runs of ink.
    pub runs: u32,
}

impl Piece {
    /// Width, px.
    pub fn width(&self) -> u32 {
        self.right - self.left + 1
    }
    /// Height, px.
    pub fn height(&self) -> u32 {
        self.bottom - self.top + 1
    }
}

/// The 8-connected pieces of ink (non-zero pixels) of a mask, in no promised order.
///
/// Union-find over horizontal runs: one pass over the pixels, memory by the number of runs.
pub fn pieces(mask: &GrayImage) -> Vec<Piece> {
    let w = mask.width() as usize;
    let mut all: Vec<Piece> = Vec::new();
    let mut parent: Vec<u32> = Vec::new();
    let mut before: Vec<(u32, u32, u32)> = Vec::new();
    let mut now: Vec<(u32, u32, u32)> = Vec::new();
    if w == 0 {
        return all;
    }
    for (y, row) in mask.as_raw().chunks_exact(w).enumerate() {
        let y = y as u32;
        now.clear();
        let mut x = 0;
        let mut above = 0;
        while x < w {
            if row[x] == 0 {
                x += 1;
                continue;
            }
            let start = x;
            while x < w && row[x] != 0 {
                x += 1;
            }
            let (a, b) = (start as u32, (x - 1) as u32);
            let mut own = None;
            // Runs above that touch, corners included.
            while above < before.len() && before[above].1 + 1 < a {
                above += 1;
            }
            let mut i = above;
            while i < before.len() && before[i].0 <= b + 1 {
                let root = root_of(&mut parent, before[i].2);
                own = Some(match own {
                    None => root,
                    Some(o) if o == root => o,
                    Some(o) => {
                        let (keep, gone) = (o.min(root), o.max(root));
                        parent[gone as usize] = keep;
                        let g = all[gone as usize];
                        join(&mut all[keep as usize], &g);
                        keep
                    }
                });
                i += 1;
            }
            let run = Piece {
                left: a,
                top: y,
                right: b,
                bottom: y,
                area: b - a + 1,
                runs: 1,
            };
            let label = match own {
                Some(o) => {
                    join(&mut all[o as usize], &run);
                    o
                }
                None => {
                    all.push(run);
                    parent.push(parent.len() as u32);
                    parent.len() as u32 - 1
                }
            };
            now.push((a, b, label));
        }
        std::mem::swap(&mut before, &mut now);
    }
    all.iter()
        .enumerate()
        .filter(|(i, _)| parent[*i] == *i as u32)
        .map(|(_, p)| *p)
        .collect()
}

fn root_of(parent: &mut [u32], mut i: u32) -> u32 {
    while parent[i as usize] != i {
        parent[i as usize] = parent[parent[i as usize] as usize];
        i = parent[i as usize];
    }
    i
}

fn join(into: &mut Piece, other: &Piece) {
    into.left = into.left.min(other.left);
    into.top = into.top.min(other.top);
    into.right = into.right.max(other.right);
    into.bottom = into.bottom.max(other.bottom);
    into.area += other.area;
    into.runs += other.runs;
}

/// Height and stroke of the lettering in a mask; `None` if nothing looks like letters.
///
/// Of the pieces that are neither specks (under 5 px high) nor as high as half the picture nor
/// rules (ten times longer than thick), the median height, each piece weighted by its height so
/// that dots and broken bits don't drag it down. The stroke is twice the area over the outline,
/// taken as area over runs.
pub fn letters(mask: &GrayImage) -> Option<Letters> {
    let tallest = (mask.height() / 2).max(12);
    let mut like: Vec<Piece> = pieces(mask)
        .into_iter()
        .filter(|p| {
            let (w, h) = (p.width(), p.height());
            h >= 5 && h <= tallest && w <= 10 * h && h <= 10 * w && p.area * 20 >= w * h
        })
        .collect();
    if like.is_empty() {
        return None;
    }
    like.sort_by_key(Piece::height);
    let total: u64 = like.iter().map(|p| u64::from(p.height())).sum();
    let mut seen = 0;
    let mut height = 0;
    for p in &like {
        seen += u64::from(p.height());
        height = p.height();
        if seen * 2 >= total {
            break;
        }
    }
    let (area, runs) = like.iter().fold((0u64, 0u64), |(a, r), p| {
        (a + u64::from(p.area), r + u64::from(p.runs))
    });
    Some(Letters {
        height: f64::from(height),
        stroke: area as f64 / runs.max(1) as f64,
        count: like.len(),
    })
}
