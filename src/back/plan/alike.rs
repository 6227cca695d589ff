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

/// Products of one description with each of many. A number has four bits, so the sum fits 16.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn dots(one: &[u8; LENGTH], many: &[[u8; LENGTH]], out: &mut [i32]) {
    let wide: [i16; LENGTH] = std::array::from_fn(|i| i16::from(one[i]));
    for (o, other) in out.iter_mut().zip(many) {
        let mut sums = [0i16; 16];
        for (a, b) in wide.chunks_exact(16).zip(other.chunks_exact(16)) {
            for ((s, &a), &b) in sums.iter_mut().zip(a).zip(b) {
                *s = s.wrapping_add(a.wrapping_mul(i16::from(b)));
            }
        }
        *o = sums.iter().map(|&s| i32::from(s)).sum();
    }
}

/// For each feature of the first its likest of the second, and the next likest elsewhere if both are
/// much liker than a third.
fn nearest(a: &Opened, b: &Opened, places: &[Spot]) -> Vec<Vec<(usize, f32)>> {
    a.numbers
        .par_iter()
        .zip(&a.squares)
        .map_init(
            || vec![0i32; b.numbers.len()],
            |row, (one, square)| {
                dots(one, &b.numbers, row);
                row.iter_mut()
                    .zip(&b.squares)
                    .for_each(|(d, s)| *d = (square + s - 2 * *d).max(0));
                told(row, places)
            },
        )
        .collect()
}

fn told(row: &[i32], places: &[Spot]) -> Vec<(usize, f32)> {
    // The least few; most of a row is read once.
    let mut few: Vec<(i32, usize)> = Vec::with_capacity(12);
    let mut bar = i32::MAX;
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
    let mut apart: Vec<(i32, usize)> = Vec::new();
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
        (Some(x), Some(y)) => x.0 as f32 / y.0.max(1) as f32,
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
    let there = nearest(a.1, b.1, &b.0.spots);
    let back = nearest(b.1, a.1, &a.0.spots);
    let mut out: Vec<Likeness> = Vec::new();
    for (i, list) in there.iter().enumerate() {
        out.extend(
            list.iter()
                .map(|&(j, weight)| Likeness { a: i, b: j, weight }),
        );
    }
    for (j, list) in back.iter().enumerate() {
        for &(i, weight) in list {
            match there[i].iter().any(|t| t.0 == j) {
                true => {}
                false => out.push(Likeness { a: i, b: j, weight }),
            }
        }
    }
    out
}
