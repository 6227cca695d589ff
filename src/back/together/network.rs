//! Lines of several sightings set letter under letter: a confusion network.
//!
//! Source of the idea: J. Fiscus, "A post-processing system to yield reduced word error rates: ROVER", IEEE ASRU
//! 1997, doi:10.1109/ASRU.1997.659110. Lines are aligned by edit alignment (R. Wagner and M. Fischer, *Journal of
//! the ACM* 21, 1974) whose gains are the log-odds that two positions show one sign, by the chances of both.

use crate::chance::logit;
use crate::readings::Character;

/// Chances of signs at one position; the empty sign means "nothing stands here".
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spread {
    pub signs: Vec<(String, f64)>,
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
        Spread { signs }
    }

    /// Takes back most of what is said of a letter of which a part lies beyond a cut.
    fn cut(&mut self) {
        self.signs.iter_mut().for_each(|s| s.1 *= CUT);
    }

    pub fn chance(&self, sign: &str) -> Option<f64> {
        self.signs.iter().find(|s| s.0 == sign).map(|s| s.1)
    }

    /// What is left for signs that aren't named.
    pub fn rest(&self) -> f64 {
        (1.0 - self.signs.iter().map(|s| s.1).sum::<f64>()).max(1.0 - MOST)
    }

    fn empty(&self) -> f64 {
        self.chance("").unwrap_or(0.0)
    }

    fn best(&self) -> &str {
        let named = self.signs.iter().filter(|s| !s.0.is_empty());
        named
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map_or("", |s| s.0.as_str())
    }
}

/// What is believed of the letter beside a cut. Set by judgement.
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
            sign.cut();
        }
    }

    /// Pieces of one row that a sighting parts, side by side.
    pub fn joined(pieces: &[&Piece]) -> Piece {
        let mut signs: Vec<Spread> = Vec::new();
        for piece in pieces {
            if !signs.is_empty() {
                signs.push(Spread {
                    signs: vec![(" ".into(), SPACE_BETWEEN)],
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
    /// Sum of the gains, nats.
    pub gain: f64,
    /// Its share of what the row itself, and the piece itself, could gain.
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
const SPACE_BESIDE_LETTER: f64 = -4.0;
const OTHER_CASE: f64 = 1.0;

/// Gain of a position without a partner between others, at the end of a line, and beyond the end of one that is
/// cut off, nats.
const ALONE: f64 = -1.5;
const ALONE_AT_END: f64 = -0.3;
const BEYOND: f64 = -0.02;

/// Gain of setting two spreads one under the other.
fn gain(a: &Spread, b: &Spread) -> f64 {
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
    fn mean(&self, slot: usize) -> Spread {
        let mut out = Spread { signs: Vec::new() };
        let mut count = 0.0;
        let mut add = |sign: &str, p: f64| match out.signs.iter_mut().find(|s| s.0 == sign) {
            Some(s) => s.1 += p,
            None => out.signs.push((sign.to_string(), p)),
        };
        for vote in &self.slots[slot] {
            match vote {
                Vote::Read(spread) => spread.signs.iter().for_each(|(s, p)| add(s, *p)),
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
                Vote::Read(spread) => return spread.cut(),
                silent => *silent = Vote::Unseen,
            }
        }
    }

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
        let (mut i, mut j) = (n, m);
        let mut steps = Vec::with_capacity(n + m);
        while i > 0 || j > 0 {
            let step = best[at(i, j)].1;
            steps.push(step);
            i -= usize::from(!matches!(step, Step::Piece(_)));
            j -= usize::from(!matches!(step, Step::Row(_)));
        }
        steps.reverse();
        let gain_of = best[at(n, m)].0;
        let own = |signs: &[Spread]| -> f64 {
            let all: f64 = signs.iter().map(|s| gain(s, s).max(0.0)).sum();
            all.max(1.0)
        };
        Alignment {
            steps,
            gain: gain_of,
            of_row: gain_of / own(&row),
            of_piece: gain_of / own(&piece.signs),
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
