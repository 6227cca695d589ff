//! Lines of several sightings set letter under letter: a confusion network.
//!
//! Source of the idea: J. Fiscus, "A post-processing system to yield reduced word error rates: ROVER", IEEE ASRU
//! 1997, doi:10.1109/ASRU.1997.659110.

use super::align::{Alignment, Step};
use crate::chance::logit;
use crate::readings::Character;

/// Chances of signs at one position; the empty sign means "nothing stands here".
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spread {
    pub signs: Vec<(String, f64)>,
    /// Whether a part of the letter may lie beyond a cut.
    pub cut: bool,
}

impl Spread {
    fn of(c: &Character) -> Spread {
        let mut signs: Vec<(String, f64)> = Vec::new();
        if !c.is_lost() {
            signs.push((c.text.clone(), c.confidence));
        }
        let others = c.alternatives.iter().filter(|(s, _)| *s != c.text);
        signs.extend(others.cloned());
        let sum: f64 = signs.iter().map(|s| s.1).sum();
        if sum > MOST {
            signs.iter_mut().for_each(|s| s.1 *= MOST / sum);
        }
        Spread { signs, cut: false }
    }

    /// What it counts in an alignment.
    fn counts(&self) -> f64 {
        if self.cut { CUT } else { 1.0 }
    }

    /// Without the most of what is said of a letter beside a cut.
    pub fn blurred(&self) -> Spread {
        let less = self.counts();
        Spread {
            signs: self
                .signs
                .iter()
                .map(|(s, p)| (s.clone(), p * less))
                .collect(),
            cut: false,
        }
    }

    pub fn chance(&self, sign: &str) -> Option<f64> {
        self.signs.iter().find(|s| s.0 == sign).map(|s| s.1)
    }

    /// What is left for signs that aren't named.
    pub fn rest(&self) -> f64 {
        (1.0 - self.signs.iter().map(|s| s.1).sum::<f64>()).max(1.0 - MOST)
    }

    pub fn empty(&self) -> f64 {
        self.chance("").unwrap_or(0.0)
    }

    pub fn best(&self) -> &str {
        let named = self.signs.iter().filter(|s| !s.0.is_empty());
        named
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map_or("", |s| s.0.as_str())
    }
}

/// What a letter beside a cut counts in an alignment. Set by judgement.
const CUT: f64 = 0.35;

/// Nothing is surer than this.
const MOST: f64 = 0.9995;

/// What one sighting says of one position.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Vote {
    /// It reads a sign there.
    Read(Spread),
    /// It shows the place and reads nothing there.
    Nothing,
    /// It doesn't show the place, or not so that its silence says anything.
    Unseen,
}

/// What one sighting reads of a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Piece {
    pub signs: Vec<Spread>,
    /// Whether the line is cut off before its first and behind its last sign.
    pub open: [bool; 2],
    pub look: Look,
}

impl Look {
    fn between(&self, other: &Look) -> Look {
        Look {
            clarity: (self.clarity + other.clarity) / 2.0,
            height: (self.height + other.height) / 2.0,
        }
    }
}

/// How clearly a sighting shows a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Look {
    /// Mean log-odds of the letters that it reads.
    pub clarity: f64,
    /// Height of the row on its photograph, px.
    pub height: f64,
}

impl Piece {
    /// * `height`: of the line on its photograph, px.
    pub fn of(characters: &[Character], height: u32) -> Piece {
        let open = [characters.first(), characters.last()];
        let open = open.map(|c| c.is_some_and(Character::is_stretch));
        let signs = characters.iter().filter(|c| !c.is_stretch());
        let signs: Vec<Spread> = signs.map(Spread::of).collect();
        let look = Look {
            clarity: clarity(&signs),
            height: f64::from(height.max(1)),
        };
        let mut out = Piece {
            signs,
            open: [false; 2],
            look,
        };
        (0..2).filter(|&end| open[end]).for_each(|end| out.cut(end));
        out
    }

    /// Tells that the line goes on beyond this end where the sighting doesn't show it.
    pub fn cut(&mut self, end: usize) {
        if self.open[end] {
            return;
        }
        self.open[end] = true;
        let outermost = match end {
            0 => self.signs.first_mut(),
            _ => self.signs.last_mut(),
        };
        if let Some(sign) = outermost {
            sign.cut = true;
        }
    }

    /// Pieces of one row that a sighting parts, side by side.
    pub fn joined(pieces: &[&Piece]) -> Piece {
        let mut signs: Vec<Spread> = Vec::new();
        for piece in pieces {
            if !signs.is_empty() {
                signs.push(Spread {
                    signs: vec![(" ".into(), SPACE_BETWEEN)],
                    cut: false,
                });
            }
            signs.extend(piece.signs.iter().cloned());
        }
        let open = |piece: Option<&&Piece>, end: usize| piece.is_some_and(|p| p.open[end]);
        Piece {
            open: [open(pieces.first(), 0), open(pieces.last(), 1)],
            look: Look {
                clarity: clarity(&signs),
                height: pieces.iter().map(|p| p.look.height).sum::<f64>()
                    / pieces.len().max(1) as f64,
            },
            signs,
        }
    }
}

/// Chance of the space between two pieces of a row. Set by judgement.
const SPACE_BETWEEN: f64 = 0.9;

fn clarity(signs: &[Spread]) -> f64 {
    let letters = signs.iter().filter(|s| s.best() != " ");
    let odds: Vec<f64> = letters
        .map(|s| odds(s.signs.first().map_or(0.0, |s| s.1)))
        .collect();
    odds.iter().sum::<f64>() / odds.len().max(1) as f64
}

/// Log-odds of a chance that is neither 0 nor 1.
pub(super) fn odds(chance: f64) -> f64 {
    logit(chance.clamp(0.01, MOST))
}

/// A row of lettering as several sightings read it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Network {
    /// For each position what each sighting says.
    pub slots: Vec<Vec<Vote>>,
    /// For each sighting that reads the row: whether its line is cut off at either end, and how clearly it shows it.
    pub seen: Vec<Option<([bool; 2], Look)>>,
}

impl Network {
    /// A row that one sighting, of so many, reads.
    pub fn new(view: usize, views: usize, piece: &Piece) -> Network {
        let mut seen = vec![None; views];
        seen[view] = Some((piece.open, piece.look));
        let slot = |s: &Spread| {
            let mut votes = vec![Vote::Unseen; views];
            votes[view] = Vote::Read(s.clone());
            votes
        };
        Network {
            slots: piece.signs.iter().map(slot).collect(),
            seen,
        }
    }

    /// What the sightings say of a position, in the mean; unweighed, since it serves alignment only.
    pub fn mean(&self, slot: usize) -> Spread {
        let mut out = Spread {
            signs: Vec::new(),
            cut: false,
        };
        let mut count = 0.0;
        let mut add = |sign: &str, p: f64| match out.signs.iter_mut().find(|s| s.0 == sign) {
            Some(s) => s.1 += p,
            None => out.signs.push((sign.to_string(), p)),
        };
        for vote in &self.slots[slot] {
            match vote {
                Vote::Read(spread) => {
                    let less = spread.counts();
                    spread.signs.iter().for_each(|(s, p)| add(s, p * less));
                }
                Vote::Nothing => add("", 0.8),
                Vote::Unseen => continue,
            }
            count += 1.0;
        }
        out.signs.iter_mut().for_each(|s| s.1 /= count);
        out
    }

    /// Whether all sightings that show an end of the row say that it is cut off there.
    pub fn is_open(&self, end: usize) -> bool {
        let mut slots: Box<dyn Iterator<Item = &Vec<Vote>>> = match end {
            0 => Box::new(self.slots.iter()),
            _ => Box::new(self.slots.iter().rev()),
        };
        slots.next().is_some_and(|votes| {
            let reads = |v: &Vote| matches!(v, Vote::Read(_));
            let seen = votes.iter().zip(&self.seen);
            let mut seen = seen.filter(|(v, _)| reads(v)).filter_map(|(_, s)| *s);
            seen.all(|s| s.0[end])
        })
    }

    /// Tells that a sighting doesn't show the row beyond the outermost sign that it reads at this end.
    pub fn cut(&mut self, view: usize, end: usize) {
        match &mut self.seen[view] {
            Some((open, _)) if !open[end] => open[end] = true,
            _ => return,
        }
        let slots: Box<dyn Iterator<Item = &mut Vec<Vote>>> = match end {
            0 => Box::new(self.slots.iter_mut()),
            _ => Box::new(self.slots.iter_mut().rev()),
        };
        for votes in slots {
            match &mut votes[view] {
                Vote::Read(spread) => {
                    spread.cut = true;
                    return;
                }
                silent => *silent = Vote::Unseen,
            }
        }
    }

    /// Adds what a sighting reads of the row, laid along it.
    pub fn add(&mut self, view: usize, piece: &Piece, along: &Alignment) {
        let seen = |network: &Self, v: usize, at: usize, end: usize| -> Vote {
            // At an inserted position each sighting is silent, unless its line is cut off before it
            let reads = |slot: &Vec<Vote>| matches!(slot[v], Vote::Read(_));
            let inside = match end {
                0 => network.slots[..at].iter().any(reads),
                _ => network.slots[at..].iter().any(reads),
            };
            match network.seen[v] {
                Some((open, _)) if inside || !open[end] => Vote::Nothing,
                _ => Vote::Unseen,
            }
        };
        let span = along.row_span();
        let mut slots: Vec<Vec<Vote>> = Vec::with_capacity(along.steps.len());
        let (mut row_at, mut piece_at) = (0, 0);
        for step in &along.steps {
            match *step {
                Step::Both(i, j) => {
                    let mut votes = self.slots[i].clone();
                    votes[view] = Vote::Read(piece.signs[j].clone());
                    slots.push(votes);
                    (row_at, piece_at) = (i + 1, j + 1);
                }
                Step::Row(i) => {
                    let mut votes = self.slots[i].clone();
                    let before = piece_at == 0;
                    let behind = piece_at == piece.signs.len();
                    let beyond = (before && piece.open[0]) || (behind && piece.open[1]);
                    votes[view] = match beyond || span.is_none() {
                        true => Vote::Unseen,
                        false => Vote::Nothing,
                    };
                    slots.push(votes);
                    row_at = i + 1;
                }
                Step::Piece(j) => {
                    let votes = (0..self.seen.len()).map(|v| {
                        let both = [0, 1].map(|end| seen(self, v, row_at, end));
                        match both.contains(&Vote::Unseen) {
                            true => Vote::Unseen,
                            false => Vote::Nothing,
                        }
                    });
                    let mut votes: Vec<Vote> = votes.collect();
                    votes[view] = Vote::Read(piece.signs[j].clone());
                    slots.push(votes);
                    piece_at = j + 1;
                }
            }
        }
        self.slots = slots;
        self.seen[view] = Some((piece.open, piece.look));
    }

    /// Puts another row of the same sightings behind this one, a space between.
    pub fn append(&mut self, other: Network) {
        let space = Spread {
            signs: vec![(" ".into(), SPACE_BETWEEN)],
            cut: false,
        };
        let both = self.seen.iter().zip(&other.seen);
        let between = both.map(|(a, b)| match (a, b) {
            (Some(_), Some(_)) => Vote::Read(space.clone()),
            _ => Vote::Unseen,
        });
        self.slots.push(between.collect());
        self.slots.extend(other.slots);
        for (own, other) in self.seen.iter_mut().zip(other.seen) {
            *own = match (*own, other) {
                (Some((a, c)), Some((b, d))) => Some(([a[0], b[1]], c.between(&d))),
                (Some((a, c)), None) => Some(([a[0], true], c)),
                (None, Some((b, d))) => Some(([true, b[1]], d)),
                (None, None) => None,
            };
        }
    }
}
