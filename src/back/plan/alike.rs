//! Which features of two photographs look alike.

use super::features::{Features, LENGTH, Spot};
use rayon::prelude::*;

/// Square of the ratio of distances, to the nearest and to the next nearest elsewhere, below which
/// a likeness is told (Lowe 2004, section 7.1, has 0.8; a root histogram's ratios lie closer to 1).
const TELLING: f32 = 0.85 * 0.85;

/// Features of two photographs that may show the same place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Likeness {
    pub a: usize,
    pub b: usize,
    /// 1 for a likeness that stands alone, less where another place is nearly as alike.
    pub weight: f32,
}

/// Descriptions of one photograph, a byte for each number, for quick comparing.
pub(super) struct Opened {
    numbers: Vec<[u8; LENGTH]>,
    squares: Vec<i32>,
}

impl Opened {
    pub fn of(features: &Features) -> Opened {
        let numbers: Vec<[u8; LENGTH]> = features
            .spots
            .iter()
            .map(|s| std::array::from_fn(|i| (s.described[i / 2] >> (4 * (i % 2))) & 15))
            .collect();
        let squares = numbers
            .iter()
            .map(|n| n.iter().map(|&v| i32::from(v) * i32::from(v)).sum())
            .collect();
        Opened { numbers, squares }
    }

    /// Square of the distance of two descriptions.
    pub fn distance(&self, i: usize, other: &Opened, j: usize) -> i32 {
        let mut out = [0];
        dots(&self.numbers[i], &other.numbers[j..=j], &mut out);
        self.squares[i] + other.squares[j] - 2 * out[0]
    }
}

/// Products of one description with each of many.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn dots(one: &[u8; LENGTH], many: &[[u8; LENGTH]], out: &mut [i32]) {
    let wide: [i16; LENGTH] = std::array::from_fn(|i| i16::from(one[i]));
    for (o, other) in out.iter_mut().zip(many) {
        // 128 products of four bits by four can't overflow.
        *o = wide.iter().zip(other).fold(0i32, |s, (&a, &b)| {
            s.wrapping_add(i32::from(a).wrapping_mul(i32::from(b)))
        });
    }
}

/// Squares of the distances of each description of the first from each of the second, row by row.
fn distances(a: &Opened, b: &Opened) -> Vec<u16> {
    let n = b.numbers.len();
    let mut out = vec![0u16; a.numbers.len() * n];
    out.par_chunks_mut(n.max(1))
        .zip(a.numbers.par_iter().zip(&a.squares))
        .for_each_init(
            || vec![0i32; n],
            |row, (out, (one, square))| {
                dots(one, &b.numbers, row);
                for (o, (dot, other)) in out.iter_mut().zip(row.iter().zip(&b.squares)) {
                    *o = (square + other - 2 * dot).clamp(0, i32::from(u16::MAX)) as u16;
                }
            },
        );
    out
}

/// Columns that are gathered at once: a line of the processor's cache.
const AT_ONCE: usize = 32;

/// What each column of a table of `n` columns tells.
fn by_column(table: &[u16], n: usize, places: &[Spot]) -> Vec<Told> {
    (0..n.div_ceil(AT_ONCE))
        .into_par_iter()
        .flat_map_iter(|block| {
            let from = block * AT_ONCE;
            let wide = AT_ONCE.min(n - from);
            let mut columns = vec![Vec::with_capacity(places.len()); wide];
            for row in table.chunks_exact(n) {
                for (column, &d) in columns.iter_mut().zip(&row[from..from + wide]) {
                    column.push(d);
                }
            }
            columns.into_iter().map(|c| told(&c, places))
        })
        .collect()
}

/// Likest features, with their weight.
type Told = Vec<(usize, f32)>;

/// The likest of a row, if it is much liker than the next elsewhere; or the two likest, if they are much
/// liker than a third.
fn told(row: &[u16], places: &[Spot]) -> Told {
    // The least few; most of a row is read once.
    let mut few: Vec<(u16, usize)> = Vec::with_capacity(12);
    let mut bar = u16::MAX;
    for (j, &d) in row.iter().enumerate() {
        if d < bar {
            let at = few.partition_point(|f| f.0 <= d);
            few.insert(at, (d, j));
            few.truncate(10);
            if few.len() == 10 {
                bar = few[9].0;
            }
        }
    }
    let mut apart: Vec<(u16, usize)> = Vec::new();
    for &(d, j) in &few {
        let p = &places[j];
        let new = apart.iter().all(|&(_, k)| {
            let q = &places[k];
            (p.x - q.x).hypot(p.y - q.y) > 2.0 * p.size.max(q.size)
        });
        if new {
            apart.push((d, j));
        }
        if apart.len() == 3 {
            break;
        }
    }
    let ratio = |i: usize| match (apart.get(i), apart.get(i + 1)) {
        (Some(x), Some(y)) => f32::from(x.0) / f32::from(y.0.max(1)),
        _ => 1.0,
    };
    if ratio(0) < TELLING {
        vec![(apart[0].1, 1.0)]
    } else if ratio(1) < TELLING {
        vec![(apart[0].1, 0.5), (apart[1].1, 0.5)]
    } else {
        Vec::new()
    }
}

/// Likenesses of two photographs' features, told from either side.
pub(super) fn likenesses(a: (&Features, &Opened), b: (&Features, &Opened)) -> Vec<Likeness> {
    let n = b.0.spots.len();
    if n == 0 || a.0.spots.is_empty() {
        return Vec::new();
    }
    let table = distances(a.1, b.1);
    let there: Vec<Told> = table
        .par_chunks_exact(n)
        .map(|row| told(row, &b.0.spots))
        .collect();
    let back = by_column(&table, n, &a.0.spots);
    let mut out: Vec<Likeness> = Vec::new();
    for (i, list) in there.iter().enumerate() {
        out.extend(
            list.iter()
                .map(|&(j, weight)| Likeness { a: i, b: j, weight }),
        );
    }
    for (j, list) in back.iter().enumerate() {
        for &(i, weight) in list {
            if there[i].iter().all(|t| t.0 != j) {
                out.push(Likeness { a: i, b: j, weight });
            }
        }
    }
    out
}
