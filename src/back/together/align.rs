//! How a line lies along a row of lettering that other sightings read.
//!
//! Edit alignment (R. Wagner and M. Fischer, *Journal of the ACM* 21, 1974), whose gains are the log-odds that two
//! positions show one sign, by the chances of both. Ends that the other doesn't show cost nothing.

use super::network::{Network, Piece, Spread};

/// A step of an alignment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Step {
    /// A position of the row and one of the piece are one.
    Both(usize, usize),
    /// The piece reads nothing at this position of the row.
    Row(usize),
    /// The row has no position for this one of the piece.
    Piece(usize),
}

/// How a piece lies along a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Alignment {
    pub steps: Vec<Step>,
    /// What it gains, as a share of what the row itself, and the piece itself, could.
    pub of_row: f64,
    pub of_piece: f64,
}

impl Alignment {
    /// First and last position of the row that has a partner.
    pub fn row_span(&self) -> Option<(usize, usize)> {
        ends(self.pairs().map(|(i, _)| i))
    }

    /// First and last position of the piece that has a partner.
    pub fn piece_span(&self) -> Option<(usize, usize)> {
        ends(self.pairs().map(|(_, j)| j))
    }

    fn pairs(&self) -> impl Iterator<Item = (usize, usize)> {
        self.steps.iter().filter_map(|s| match s {
            Step::Both(i, j) => Some((*i, *j)),
            _ => None,
        })
    }
}

fn ends(mut all: impl Iterator<Item = usize>) -> Option<(usize, usize)> {
    let first = all.next()?;
    Some((first, all.last().unwrap_or(first)))
}

/// How often a sign stands in lettering where nothing is known: spaces, and each of the others. Set by
/// judgement; only alignment rests on them.
const USUAL_SPACE: f64 = 0.14;
const USUAL: f64 = 0.02;

/// Least gain of two positions side by side that show different signs, of a space beside a letter, and of
/// letters that differ in case only, nats.
const DIFFERENT: f64 = -2.0;
const SPACE_BESIDE_LETTER: f64 = -2.8;
const OTHER_CASE: f64 = 1.0;

/// Gain of a position without a partner between others, at the end of a line, and beyond the end of one that is
/// cut off, nats.
const ALONE: f64 = -1.5;
const ALONE_AT_END: f64 = -0.3;
const BEYOND: f64 = -0.02;

/// Gain of setting two spreads one under the other.
fn gain(a: &Spread, b: &Spread) -> f64 {
    if a.cut || b.cut {
        let (a, b) = (a.blurred(), b.blurred());
        return gain(&a, &b);
    }
    let (best_a, best_b) = (a.best(), b.best());
    let is_space = (best_a == " ", best_b == " ");
    let usual = |s: &str| if s == " " { USUAL_SPACE } else { USUAL };
    let (mut same, mut named_by_both) = (0.0, 0.0);
    for (s, p) in a.signs.iter().filter(|s| !s.0.is_empty()) {
        if let Some(q) = b.chance(s) {
            same += p * q / usual(s);
            named_by_both += q;
        } else {
            same += p * b.rest();
        }
    }
    // What only the other names may be among what is left here
    let only_b = (1.0 - b.rest() - b.empty() - named_by_both).max(0.0);
    let gain = (same + a.rest() * (only_b + b.rest())).max(1e-9).ln();
    if is_space.0 != is_space.1 {
        return gain.clamp(SPACE_BESIDE_LETTER, 0.0);
    }
    let least = match !best_a.is_empty() && best_a.to_lowercase() == best_b.to_lowercase() {
        true => OTHER_CASE,
        false => DIFFERENT,
    };
    gain.max(least)
}

impl Network {
    /// Lays a piece along the row.
    pub fn align(&self, piece: &Piece) -> Alignment {
        let (n, m) = (self.slots.len(), piece.signs.len());
        let row: Vec<Spread> = (0..n).map(|i| self.mean(i)).collect();
        let row_open = [self.is_open(0), self.is_open(1)];
        let at = |i: usize, j: usize| i * (m + 1) + j;
        // A gap of the row is the piece's silence and the other way round
        let skip = |s: &Spread, at_end: Option<bool>| match at_end {
            Some(true) => BEYOND,
            Some(false) => ALONE_AT_END * (1.0 - s.empty()),
            None => ALONE * (1.0 - 0.8 * s.empty()),
        };
        let end = |k: usize, of: usize, open: &[bool; 2]| match k {
            0 => Some(open[0]),
            k if k == of => Some(open[1]),
            _ => None,
        };
        let mut best = vec![(0.0f64, Step::Row(0)); (n + 1) * (m + 1)];
        for i in 0..=n {
            for j in 0..=m {
                let mut options: Vec<(f64, Step)> = Vec::with_capacity(3);
                if i > 0 && j > 0 {
                    let both = gain(&row[i - 1], &piece.signs[j - 1]);
                    options.push((best[at(i - 1, j - 1)].0 + both, Step::Both(i - 1, j - 1)));
                }
                if i > 0 {
                    let alone = skip(&row[i - 1], end(j, m, &piece.open));
                    options.push((best[at(i - 1, j)].0 + alone, Step::Row(i - 1)));
                }
                if j > 0 {
                    let alone = skip(&piece.signs[j - 1], end(i, n, &row_open));
                    options.push((best[at(i, j - 1)].0 + alone, Step::Piece(j - 1)));
                }
                let first = options
                    .into_iter()
                    .reduce(|a, b| if b.0 > a.0 { b } else { a });
                if let Some(first) = first {
                    best[at(i, j)] = first;
                }
            }
        }
        let gain_of = best[at(n, m)].0;
        Alignment {
            of_row: gain_of / greatest(&row),
            of_piece: gain_of / greatest(&piece.signs),
            steps: back(n, m, |i, j| best[at(i, j)].1),
        }
    }
}

/// What spreads could gain if the other read just the same.
fn greatest(signs: &[Spread]) -> f64 {
    let all: f64 = signs.iter().map(|s| gain(s, s).max(0.0)).sum();
    all.max(1.0)
}

/// The steps from the end back to the beginning, first one first.
fn back(n: usize, m: usize, step: impl Fn(usize, usize) -> Step) -> Vec<Step> {
    let (mut i, mut j) = (n, m);
    let mut steps = Vec::with_capacity(n + m);
    while i > 0 || j > 0 {
        let step = step(i, j);
        steps.push(step);
        i -= usize::from(!matches!(step, Step::Piece(_)));
        j -= usize::from(!matches!(step, Step::Row(_)));
    }
    steps.reverse();
    steps
}
