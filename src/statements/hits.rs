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

/// −ln of how likely a letter is read so where `truth` stands, nats.
fn cost(read: &Letter, truth: u8) -> f32 {
    let told = read.others.iter().find(|o| o.0 == truth).map(|o| o.1);
    if read.sign == LOST {
        return told.map_or(0.0, |p| -p.max(0.02).ln().min(0.0));
    }
    if read.sign == truth {
        return 0.0;
    }
    let wrong = (1.0 - read.chance).max(0.0)
        * letters::read_as()[truth as usize][read.sign as usize]
            .exp()
            .sqrt();
    let p = told.unwrap_or(0.0) + wrong;
    -(p.max(1e-5) / read.chance.max(0.05)).min(1.0).ln()
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

/// A word of a mark made ready to be held against many words of the lists.
pub struct Shown {
    /// Each letter: its sign, and what it costs where each sign stands.
    letters: Vec<(u8, [f32; SIGNS])>,
    stretch: bool,
    gap: f32,
    row: Vec<Pair>,
    next: Vec<Pair>,
}

impl Shown {
    /// Of a word.
    pub fn new(word: &Word) -> Self {
        let costs = |l: &Letter| match l.sign {
            STRETCH => [0.0; SIGNS],
            _ => std::array::from_fn(|t| cost(l, t as u8)),
        };
        Shown {
            letters: word.letters.iter().map(|l| (l.sign, costs(l))).collect(),
            stretch: word.letters.iter().any(|l| l.sign == STRETCH),
            gap: gap(),
            row: Vec::new(),
            next: Vec::new(),
        }
    }

    /// The cheapest way in which the letters show `entry`, up to `most` nats.
    pub fn pair(&mut self, entry: &[u8], most: f32) -> Option<Pair> {
        let (n, m) = (self.letters.len(), entry.len());
        if !self.stretch && n.abs_diff(m) > 2 {
            return None;
        }
        self.row.clear();
        self.row.push(Pair {
            cost: 0.0,
            ..Pair::NONE
        });
        for j in 1..=m {
            self.row.push(self.row[j - 1].and(self.gap, 0, 0, 1));
        }
        for (sign, costs) in &self.letters {
            self.next.clear();
            match *sign {
                STRETCH => stretched(&self.row, &mut self.next),
                _ => onward(&self.row, (*sign, costs), entry, self.gap, &mut self.next),
            }
            std::mem::swap(&mut self.row, &mut self.next);
            if self.row.iter().all(|p| p.cost > most) {
                return None;
            }
        }
        (self.row[m].cost <= most).then_some(self.row[m])
    }
}

/// After lost letters of unknown number.
fn stretched(row: &[Pair], next: &mut Vec<Pair>) {
    let mut best = Pair::NONE;
    next.extend(row.iter().map(|p| {
        best = best.and(0.0, 0, 1, 0);
        if p.cost < best.cost {
            best = *p;
        }
        best
    }));
}

/// After one more letter of the word.
fn onward(row: &[Pair], l: (u8, &[f32; SIGNS]), entry: &[u8], gap: f32, next: &mut Vec<Pair>) {
    let lost = u16::from(l.0 == LOST);
    // A lost letter that isn't there after all costs less than one that was put in
    let drop = if lost > 0 { gap / 2.0 } else { gap };
    next.push(row[0].and(drop, 0, 0, 1));
    for j in 1..row.len() {
        let same = l.0 == entry[j - 1];
        let other = u16::from(!same && lost == 0);
        let mut best = row[j - 1].and(l.1[entry[j - 1] as usize], u16::from(same), lost, other);
        for way in [row[j].and(drop, 0, 0, 1), next[j - 1].and(gap, 0, 0, 1)] {
            if way.cost < best.cost {
                best = way;
            }
        }
        next.push(best);
    }
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
