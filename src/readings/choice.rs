//! Which of the readings of a mark's rows stand.
//!
//! In: hypotheses, rows as they were read on the cleaned pictures of one mark, many of them the same row over again.
//! Out: those that together are likely to hold most right letters, no two in one place.

use super::heard::Read;
use super::{Character, calibration, mean_chance};
use crate::chance::{logistic, logit};
use crate::geometry::Rect;
use crate::marks::LineBox;

/// A row of which the letters have this mean chance, as it is stated, is read on no further picture.
const CLEAR: f64 = 0.97;

/// A row as it was read on one cleaned picture.
pub(super) struct Hypothesis {
    pub read: Read,
    /// The line that was cut out, px of the picture.
    pub line: LineBox,
    /// Which of the pictures.
    pub picture: usize,
    /// Share of its height beyond the mark's edge ([`super::heard::View::beyond`]).
    pub beyond: f64,
    /// Its letters with their chances as they will be stated; spaces left out.
    letters: Vec<Character>,
    /// Mean chance of its letters by what was seen alone; 0 of none.
    mean: f64,
}

impl Hypothesis {
    /// Nothing where the row isn't text.
    pub fn of(read: Read, line: LineBox, picture: usize, beyond: f64) -> Option<Self> {
        let mut letters = calibration::characters(&read.row)?;
        calibration::believed(&mut letters);
        letters.retain(|c| c.text != " ");
        let by_ink = read.by_ink.clone().map(|mut seen| {
            calibration::believed(&mut seen);
            seen.retain(|c| c.text != " ");
            seen
        });
        let mean = mean_chance(by_ink.as_ref().unwrap_or(&letters)).unwrap_or(0.0);
        Some(Hypothesis {
            read,
            line,
            picture,
            beyond,
            letters,
            mean,
        })
    }

    /// Where it stands, px of the turned mark.
    pub fn bounds(&self) -> &Rect {
        &self.read.row.bounds
    }

    /// Whether it needs no second look.
    pub fn is_clear(&self) -> bool {
        self.mean() >= CLEAR
    }

    /// How many letters and figures were read.
    pub fn signs(&self) -> usize {
        let signs = self.letters.iter();
        signs
            .filter(|c| c.text.chars().any(char::is_alphanumeric))
            .count()
    }

    /// Mean chance of its letters by what was seen alone; 0 of none.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Share of its letters that is likely right.
    fn right(&self) -> f64 {
        let odds = logit(self.mean().clamp(0.001, 0.9995));
        logistic(RIGHT.0 + RIGHT.1 * odds + CUT * self.beyond)
    }

    /// Whether it may stand: of the first picture where a greater share of its letters is likely right than lies beyond
    /// the edge, so that a row that is hardly read stays, which tells that something is written there, and what an edge
    /// leaves of the line beside doesn't.
    pub fn may_stand(&self) -> bool {
        let least = if self.picture == 0 {
            self.beyond
        } else {
            LEAST_ELSEWHERE
        };
        self.right() > least
    }

    /// Half of how many more of its letters are likely right than wrong.
    fn worth(&self) -> f64 {
        (self.right() - EVEN) * self.letters.len() as f64
    }

    /// What it says, words parted.
    pub fn text(&self) -> String {
        let read = calibration::characters(&self.read.row).unwrap_or_default();
        read.iter().map(|c| c.text.as_str()).collect()
    }

    /// Whether both are the same row, or one a part of the other: they can't both stand.
    fn rivals(&self, other: &Hypothesis) -> bool {
        let (a, b) = (self.bounds(), other.bounds());
        let (tall, low) = (a.h.max(b.h), a.h.min(b.h));
        f64::from(tall) < MOST_TALLER * f64::from(low)
            && a.part_in(b).max(b.part_in(a)) > LEAST_SHARED
    }
}

/// A row so many times as high as another isn't the same: a stamp across a line.
const MOST_TALLER: f64 = 1.8;

/// Part of the smaller of two rows that lies on the other where they are the same.
const LEAST_SHARED: f64 = 0.5;

/// Log-odds of the share of a row's letters that are right, by those of their mean chance: intercept and slope, fitted
/// by `training/fit_choice.py` on rows of found marks (seed 3101). What is stated of a letter holds on lettering; rows
/// of grain that pass for it are read less surely.
const RIGHT: (f64, f64) = (-0.633, 1.084);

/// What a row that lies wholly beyond its mark's edge would lose of those log-odds, in proportion where less of it does:
/// fitted by the same script, the two above being held, on 87 rows of real lines cut out with strips of the lines beside
/// them or cut through themselves.
const CUT: f64 = -3.9;

/// Share of right letters at which a row is worth nothing: as many right as wrong.
const EVEN: f64 = 0.5;

/// Share of right letters from which a row of another picture than the first is worth having, since each shows grain
/// of its own. Of 0.5, 0.6, 0.7 and 0.8 that with the highest words F1 on the rows of the fit.
const LEAST_ELSEWHERE: f64 = 0.6;

/// Those hypotheses that stand: the worthiest first, each other that is no rival of one that stands.
pub(super) fn choose(all: Vec<Hypothesis>) -> Vec<Hypothesis> {
    let mut order: Vec<Hypothesis> = all.into_iter().filter(Hypothesis::may_stand).collect();
    order.sort_by(|a, b| b.worth().total_cmp(&a.worth()));
    let mut standing: Vec<Hypothesis> = Vec::new();
    for h in order {
        if !standing.iter().any(|s| s.rivals(&h)) {
            standing.push(h);
        }
    }
    standing
}
