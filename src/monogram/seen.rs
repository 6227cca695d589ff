//! What a network saw of a monogram, and what follows from it: letters of a name, a line to read, its design.

use super::letters::{Letters, orders};
use super::network::drawn_by;
use crate::error::Result;
use crate::geometry::Rect;
use crate::readings::{Character, Line};
use serde::{Deserialize, Serialize};

/// Sets that a person is told, at most, and the least chance of one beside the first.
const TOLD: usize = 5;
const LEAST: f64 = 0.005;

/// Letters that may stand there, without their order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Set {
    /// In the order of the alphabet.
    pub letters: String,
    /// That these stand there and no others.
    pub chance: f64,
}

/// What was seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Seen {
    /// The likeliest sets of one to three letters: all but 2 in 100 of their chance.
    pub sets: Vec<Set>,
    /// Chance of four letters or more, or of none.
    pub none: f64,
    /// The likeliest turn, degrees clockwise; 0 where it was said to be upright.
    pub turn: u32,
    /// How early each letter comes in the name, as weights.
    pub(super) early: Vec<f64>,
    /// Near for pictures of one design; of length 127.
    pub(super) design: Vec<i8>,
}

impl Seen {
    /// Chance that it is none of the sets.
    pub fn other(&self) -> f64 {
        1.0 - self.sets.iter().map(|s| s.chance).sum::<f64>()
    }

    /// The sets that a person is told, the likeliest first.
    pub fn told(&self) -> &[Set] {
        let likely = self.sets.iter().skip(1).take_while(|s| s.chance >= LEAST);
        &self.sets[..(1 + likely.count()).min(TOLD).min(self.sets.len())]
    }

    /// Whether letters are likelier than none.
    pub fn has_letters(&self) -> bool {
        self.none < 0.5 && !self.sets.is_empty()
    }

    /// Letters in the order of the name with their likelihoods: chances less the shares by which the network's own
    /// pictures were drawn, since artists have shares of their own.
    ///
    /// # Errors
    /// `Kind::Recogniser` if those shares can't be used, which a sound build doesn't show.
    pub fn letters_meant(&self) -> Result<Letters> {
        let mut out = Letters::default();
        for set in &self.sets {
            let all = orders(set.letters.as_bytes());
            let ways: Vec<f64> = all.iter().map(|o| self.order(o)).collect();
            let sum: f64 = ways.iter().sum();
            let drawn = drawn_by(set.letters.as_bytes())?;
            for (order, way) in all.iter().zip(ways) {
                out.add(order, set.chance * way / sum / drawn);
            }
        }
        Ok(out.opened())
    }

    /// Weight of one order: each letter drawn from those that are left, by how early it comes (Plackett 1975).
    fn order(&self, letters: &[u8]) -> f64 {
        let early: Vec<f64> = letters
            .iter()
            .map(|l| self.early[usize::from(l - b'A')])
            .collect();
        let each = (0..early.len()).map(|i| early[i] / early[i..].iter().sum::<f64>());
        each.product()
    }

    /// The likeliest letters in their likeliest order, as a line to read: each letter with the chance that it is among
    /// those that stand there, and the letters that may stand in its place. No line where there are no letters.
    ///
    /// * `bounds`, `within`: of the mark on the photograph and on its own picture, px.
    pub fn line(&self, bounds: Rect, within: Rect) -> Option<Line> {
        let first = self.sets.first().filter(|_| self.has_letters())?;
        let all = orders(first.letters.as_bytes()).into_iter();
        let order = all.max_by(|a, b| self.order(a).total_cmp(&self.order(b)))?;
        let characters = order.iter().map(|l| self.character(&first.letters, *l));
        let mut line = Line::from_characters(characters.collect(), bounds, within);
        line.confidence = first.chance;
        Some(line)
    }

    fn character(&self, first: &str, letter: u8) -> Character {
        let letter = char::from(letter);
        let holds = |s: &&Set| s.letters.contains(letter);
        let with: f64 = self.sets.iter().filter(holds).map(|s| s.chance).sum();
        let rest = first.replacen(letter, "", 1);
        let swapped = |s: &Set| {
            let mut own = s.letters.clone();
            for l in rest.chars() {
                let at = own.find(l)?;
                own.remove(at);
            }
            (own.len() == 1 && !own.contains(letter)).then_some((own, s.chance))
        };
        let alternatives = self.sets.iter().filter_map(swapped).take(TOLD);
        Character {
            alternatives: alternatives.collect(),
            ..Character::sure(&letter.to_string(), with)
        }
    }
}
