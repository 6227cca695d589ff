//! Words of a mark against words of the lists: which may be meant, and what that costs.

use super::letters::{self, LOST, SIGNS, STRETCH};
use super::words::{Letter, Word};

/// How a word of a mark shows a word of a list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// −ln of how likely it is read so, nats; 0 letter for letter.
    pub cost: f32,
    /// Letters that stand for themselves.
    pub seen: u16,
    /// Letters under a loss.
    pub lost: u16,
    /// Others: misread, left out or put in.
    pub other: u16,
}

/// What a letter costs that was put in or left out, beside the dearest misreading: nats.
fn gap() -> f32 {
    // A sign lost or put in is about as likely as any one sign for another
    -letters::read_as()[0].iter().copied().fold(0.0, f32::min)
}

fn cost(read: &Letter, truth: u8) -> (f32, bool) {
    if read.sign == LOST {
        let told = read.others.iter().find(|o| o.0 == truth);
        return (told.map_or(0.0, |o| -(o.1.max(0.02)).ln().min(0.0)), false);
    }
    if read.sign == truth {
        return (0.0, true);
    }
    let other = read
        .others
        .iter()
        .find(|o| o.0 == truth)
        .map_or(0.0, |o| o.1);
    let wrong = (1.0 - read.chance).max(0.0)
        * letters::read_as()[truth as usize][read.sign as usize]
            .exp()
            .sqrt();
    let p = other + wrong;
    (-(p.max(1e-5) / read.chance.max(0.05)).min(1.0).ln(), false)
}

impl Pair {
    const NONE: Pair = Pair {
        cost: f32::INFINITY,
        seen: 0,
        lost: 0,
        other: 0,
    };

    fn and(self, cost: f32, seen: u16, lost: u16, other: u16) -> Pair {
        Pair {
            cost: self.cost + cost,
            seen: self.seen + seen,
            lost: self.lost + lost,
            other: self.other + other,
        }
    }
}

/// The cheapest way in which the letters of `word` show `entry`, up to `most` nats.
pub fn pair(word: &Word, entry: &[u8], most: f32) -> Option<Pair> {
    let (n, m) = (word.letters.len(), entry.len());
    let stretch = word.letters.iter().any(|l| l.sign == STRETCH);
    if !stretch && n.abs_diff(m) > 2 {
        return None;
    }
    let gap = gap();
    let mut row: Vec<Pair> = vec![Pair::NONE; m + 1];
    row[0].cost = 0.0;
    for j in 1..=m {
        row[j] = row[j - 1].and(gap, 0, 0, 1);
    }
    for l in &word.letters {
        row = match l.sign {
            STRETCH => stretched(&row),
            _ => onward(&row, l, entry, gap),
        };
        if row.iter().all(|p| p.cost > most) {
            return None;
        }
    }
    (row[m].cost <= most).then_some(row[m])
}

/// After lost letters of unknown number.
fn stretched(row: &[Pair]) -> Vec<Pair> {
    let mut best = Pair::NONE;
    let next = row.iter().map(|p| {
        best = best.and(0.0, 0, 1, 0);
        if p.cost < best.cost {
            best = *p;
        }
        best
    });
    next.collect()
}

/// After one more letter of the word.
fn onward(row: &[Pair], l: &Letter, entry: &[u8], gap: f32) -> Vec<Pair> {
    let lost = u16::from(l.sign == LOST);
    // A lost letter that isn't there after all costs less than one that was put in
    let drop = if lost > 0 { gap / 2.0 } else { gap };
    let mut next = vec![Pair::NONE; row.len()];
    next[0] = row[0].and(drop, 0, 0, 1);
    for j in 1..row.len() {
        let (c, same) = cost(l, entry[j - 1]);
        let other = u16::from(!same && lost == 0);
        let mut best = row[j - 1].and(c, u16::from(same), lost, other);
        for way in [row[j].and(drop, 0, 0, 1), next[j - 1].and(gap, 0, 0, 1)] {
            if way.cost < best.cost {
                best = way;
            }
        }
        next[j] = best;
    }
    next
}

/// Groups of two letters of a word, its ends included, as numbers below [`GRAMS`].
pub fn grams(entry: &[u8]) -> impl Iterator<Item = usize> + '_ {
    let edge = SIGNS;
    let at = move |i: usize| {
        if i == 0 || i > entry.len() {
            edge
        } else {
            entry[i - 1] as usize
        }
    };
    (0..=entry.len()).map(move |i| at(i) * (SIGNS + 1) + at(i + 1))
}

/// The same of a word as it was read: those with a lost letter are left out.
pub fn grams_read(word: &Word) -> Vec<usize> {
    let mut signs: Vec<Option<usize>> = vec![Some(SIGNS)];
    let kept = |s: u8| (s != LOST && s != STRETCH).then_some(s as usize);
    signs.extend(word.letters.iter().map(|l| kept(l.sign)));
    signs.push(Some(SIGNS));
    let pairs = signs.windows(2);
    pairs
        .filter_map(|p| Some(p[0]? * (SIGNS + 1) + p[1]?))
        .collect()
}

/// Number of groups of two letters.
pub const GRAMS: usize = (SIGNS + 1) * (SIGNS + 1);
