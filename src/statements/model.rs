//! The fitted weights, and their file.

use super::Role;
use super::links::FEATURES;
use super::lists::KINDS;
use crate::chance;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};
use std::sync::OnceLock;

/// Labels: nothing, the roles, and a heading of each role.
pub const LABELS: usize = 1 + 2 * ROLES;
const ROLES: usize = Role::ALL.len();
/// Number of weights of [`Model::believed`].
pub const BELIEFS: usize = 8;
/// Number of weights of [`Model::place`].
pub const PLACES: usize = 11;
/// Gaps between two words: none but a blank, a comma or the like, the end of a line.
pub const GAPS: usize = 3;

/// What a label says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Says {
    /// Nothing.
    Nothing,
    /// A fact.
    Fact(Role),
    /// It heads facts of that role.
    Heading(Role),
}

/// The label of what is said.
pub fn label(says: Says) -> usize {
    match says {
        Says::Nothing => 0,
        Says::Fact(r) => 1 + r as usize,
        Says::Heading(r) => 1 + ROLES + r as usize,
    }
}

/// What a label says.
pub fn says(label: usize) -> Says {
    match label {
        0 => Says::Nothing,
        l if l <= ROLES => Says::Fact(Role::ALL[l - 1].0),
        l => Says::Heading(Role::ALL[l - 1 - ROLES].0),
    }
}

/// Numbers of features are mixed already: they are their own hashes.
#[derive(Debug, Clone, Copy, Default)]
pub struct Mixed(u64);

impl Hasher for Mixed {
    fn finish(&self) -> u64 {
        // The lowest bit is a flag
        self.0.rotate_right(1)
    }

    fn write(&mut self, bytes: &[u8]) {
        for b in bytes {
            self.0 = self.0.rotate_left(8) ^ u64::from(*b);
        }
    }

    fn write_u64(&mut self, number: u64) {
        self.0 = number;
    }
}

/// Rows of weights by the numbers of features.
pub type Rows = HashMap<u64, u32, BuildHasherDefault<Mixed>>;

/// Weights of the model. A weight adds to the ln of how likely a cut is.
#[derive(Debug, Clone)]
pub struct Model {
    /// Row of weights of each feature, by its number.
    pub rows: Rows,
    /// Weights of features, [`LABELS`] each.
    pub weights: Vec<f32>,
    /// Weights of a label after a label, by gap: `[gap][before][after]`.
    pub follows: Vec<f32>,
    /// Weights of the first label.
    pub first: Vec<f32>,
    /// Weights of what speaks for an entry, by kind: `[kind][feature]`.
    pub entries: Vec<f32>,
    /// Weights of an entry's kind in a role: `[kind][role]`.
    pub kinds: Vec<f32>,
    /// Longest stretch of each label, words.
    pub longest: Vec<usize>,
    /// How far chances are to be believed: [`Model::believed`].
    pub belief: [f32; BELIEFS],
    /// How a place is told: [`Model::place`].
    pub places: [f32; PLACES],
    /// A statement is made from this chance on: half of the F1 of the held-out folds, which makes F1 greatest
    /// (Z. Lipton and others, ECML 2014).
    pub told_from: f32,
}

const SHIPPED: &[u8] = include_bytes!("model.bin");

impl Model {
    /// The model that comes with the program.
    pub fn shipped() -> &'static Model {
        static MODEL: OnceLock<Model> = OnceLock::new();
        MODEL.get_or_init(|| Model::read(SHIPPED).unwrap_or_else(|| Model::empty(Rows::default())))
    }

    /// All weights 0.
    pub fn empty(rows: Rows) -> Model {
        Model {
            weights: vec![0.0; rows.len() * LABELS],
            rows,
            follows: vec![0.0; GAPS * LABELS * LABELS],
            first: vec![0.0; LABELS],
            entries: vec![0.0; KINDS * FEATURES],
            kinds: vec![0.0; KINDS * ROLES],
            longest: vec![1; LABELS],
            belief: std::array::from_fn(|k| f32::from(u8::from(k == 0))),
            places: [0.0; PLACES],
            told_from: 0.5,
        }
    }

    /// Weight of an entry of that kind in a role.
    pub fn kind(&self, kind: usize, role: Role) -> f32 {
        self.kinds[kind * ROLES + role as usize]
    }

    /// The chance that role and value are right, of a chance of the words alone and of what befell the value: logistic
    /// in the log-odds of the chance, 1, and the counts of words with losses that nothing fills, filled from the
    /// lexicon, from the entry, and of unclear letters, and in the chances of a listed place and of another entry.
    pub fn believed(&self, chance: f64, counts: [usize; 4], listed: [f64; 2]) -> f64 {
        let seen = Self::of_belief(chance, counts, listed);
        chance::logistic(
            seen.iter()
                .zip(&self.belief)
                .map(|(x, w)| x * f64::from(*w))
                .sum(),
        )
    }

    /// What [`Model::believed`] weighs.
    pub fn of_belief(chance: f64, counts: [usize; 4], listed: [f64; 2]) -> [f64; BELIEFS] {
        let few = |n: usize| n.min(3) as f64;
        let odds = chance::logit(chance.clamp(1e-4, 1.0 - 1e-4));
        [
            odds,
            1.0,
            few(counts[0]),
            few(counts[1]),
            few(counts[2]),
            few(counts[3]),
            listed[0],
            listed[1],
        ]
    }

    /// The chance that words name a place: logistic in 1, the log-odds that they are told as a listed town, whether a
    /// listed name stands there letter for letter, that chance itself, and the chances that they stand within another
    /// statement that names that place if any does.
    pub fn place(&self, seen: &[f64; PLACES]) -> f64 {
        let weighed = seen.iter().zip(&self.places);
        chance::logistic(weighed.map(|(x, w)| x * f64::from(*w)).sum())
    }

    /// Place of [`Model::kind`] among `kinds`.
    pub fn kind_at(kind: usize, role: Role) -> usize {
        kind * ROLES + role as usize
    }

    /// The file: numbers as little-endian; features with 8 bits a weight and a scale each row.
    pub fn write(&self) -> Vec<u8> {
        let mut out = b"dorso-statements-3\n".to_vec();
        out.extend((self.rows.len() as u32).to_le_bytes());
        let mut rows: Vec<(&u64, &u32)> = self.rows.iter().collect();
        rows.sort();
        for (id, row) in rows {
            let w = &self.weights[*row as usize * LABELS..(*row as usize + 1) * LABELS];
            let most = w.iter().fold(0f32, |a, x| a.max(x.abs())).max(1e-6);
            out.extend(id.to_le_bytes());
            out.extend(most.to_le_bytes());
            out.extend(w.iter().map(|x| (x / most * 127.0).round() as i8 as u8));
        }
        let mut scalars = self.belief.to_vec();
        scalars.extend(self.places);
        scalars.push(self.told_from);
        let longest: Vec<f32> = self.longest.iter().map(|n| *n as f32).collect();
        for block in [
            &self.follows,
            &self.first,
            &self.entries,
            &self.kinds,
            &longest,
            &scalars,
        ] {
            block.iter().for_each(|x| out.extend(x.to_le_bytes()));
        }
        out
    }

    /// Reads the file; `None` if it isn't one of this program.
    pub fn read(bytes: &[u8]) -> Option<Model> {
        let mut rest = bytes.strip_prefix(b"dorso-statements-3\n")?;
        let mut take = |n: usize| -> Option<&[u8]> {
            let (head, tail) = rest.split_at_checked(n)?;
            rest = tail;
            Some(head)
        };
        let float = |b: &[u8]| Some(f32::from_le_bytes(b.try_into().ok()?));
        let count = u32::from_le_bytes(take(4)?.try_into().ok()?);
        let mut rows = Rows::default();
        let mut weights = Vec::new();
        for row in 0..count {
            rows.insert(u64::from_le_bytes(take(8)?.try_into().ok()?), row);
            let most = float(take(4)?)?;
            weights.extend(
                take(LABELS)?
                    .iter()
                    .map(|b| f32::from(*b as i8) / 127.0 * most),
            );
        }
        let mut out = Model::empty(rows);
        out.weights = weights;
        let mut longest = vec![0f32; LABELS];
        let mut scalars = vec![0f32; BELIEFS + PLACES + 1];
        for block in [
            &mut out.follows,
            &mut out.first,
            &mut out.entries,
            &mut out.kinds,
            &mut longest,
            &mut scalars,
        ] {
            for x in block.iter_mut() {
                *x = float(take(4)?)?;
            }
        }
        out.longest = longest.iter().map(|n| *n as usize).collect();
        out.belief.copy_from_slice(&scalars[..BELIEFS]);
        out.places
            .copy_from_slice(&scalars[BELIEFS..BELIEFS + PLACES]);
        out.told_from = scalars[BELIEFS + PLACES];
        Some(out)
    }
}
