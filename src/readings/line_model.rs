//! The project's own line recogniser: a small network run by a pure-Rust runtime.
//!
//! In: the picture of one line. Out: the chance of each sign at each step along the line
//! (connectionist temporal classification), decoded into characters with alternatives. The weights
//! and the alphabet are part of the program; `model/card.md` says what they were trained on.

use super::hands::{self, Hands};
use super::writing::{Chances, Regression};
use super::{Character, LineReader, RawLine, spacing};
use crate::error::{Error, Kind, Result};
use crate::geometry::Rect;
use crate::networks::Pools;
use image::{GrayImage, imageops};
use rten::{Model, ModelOptions, NodeId, Value};

/// Height that every line is brought to, px.
pub const HEIGHT: u32 = 48;

/// Divides the network's log-odds where it reads alone: fitted on held-out lines so that its chances hold.
const TEMPERATURE: f32 = 1.2;

/// Widest line the network is given, px at [`HEIGHT`].
const WIDEST: u32 = 2400;

/// Weight of its vote beside that of Tesseract.
const WEIGHT: f64 = 2.5;

/// Alternatives kept at a position.
const KEPT: usize = 5;

static WEIGHTS: &[u8] = include_bytes!("model/line.onnx");
/// The signs that can be read, one a line.
pub(super) static SIGNS: &str = include_str!("model/alphabet.txt");

/// What is asked of the network: its signs, and what its two LSTM layers put out.
const ASKED: [&str; 3] = [
    "signs",
    "/reader/along/LSTM_output_0",
    "/reader/along/LSTM_1_output_0",
];

/// Chances of signs along a line: `steps` rows of `labels` probabilities, label 0 being "no sign".
#[derive(Debug, Clone)]
pub struct Posteriors {
    /// Rows from left to right; a step stands for 4 px of the line at [`HEIGHT`].
    pub steps: usize,
    /// Signs of the alphabet and one for "no sign".
    pub labels: usize,
    /// Row by row; each row sums to 1.
    pub chances: Vec<f32>,
    /// How the line is written.
    pub writing: Option<Chances>,
    /// The same as `chances` by what was seen alone, where the wording had a say.
    pub seen: Option<Vec<f32>>,
}

/// The network with its alphabet.
pub struct LineModel {
    model: Model,
    /// [`ASKED`].
    asked: [NodeId; 3],
    writing: Regression,
    hands: Hands,
    signs: Vec<&'static str>,
    /// Label of the space; that of no sign if the alphabet had none.
    space: usize,
    /// Lines are read side by side.
    pools: Pools,
}

impl LineModel {
    /// Loads the network that is part of the program.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the weights can't be used, which a sound build doesn't show.
    pub fn load() -> Result<Self> {
        let model = ModelOptions::with_all_ops()
            .prepack_weights(true)
            .load_static_slice(WEIGHTS)
            .map_err(|e| fault("loaded", &e))?;
        let node = |name| model.node_id(name).map_err(|e| fault("loaded", &e));
        let [signs, first, second] = ASKED;
        Ok(LineModel {
            asked: [node(signs)?, node(first)?, node(second)?],
            writing: Regression::load()?,
            hands: Hands::load()?,
            model,
            signs: SIGNS.lines().collect(),
            space: SIGNS.lines().position(|s| s == " ").map_or(0, |i| i + 1),
            pools: Pools::default(),
        })
    }

    /// Chances of signs along a line.
    ///
    /// * `line`: grey picture of one line, cut close above and below, any size.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the network can't be run.
    pub fn posteriors(&self, line: &GrayImage) -> Result<Posteriors> {
        let (width, values) = levelled(line);
        let input = Value::from_shape(&[1, 1, HEIGHT as usize, width], values)
            .map_err(|e| fault("fed", &e))?;
        let on = self.pools.next();
        let inputs = self
            .model
            .input_ids()
            .iter()
            .map(|&id| (id, (&input).into()));
        let [signs, first, second] = self
            .model
            .run_n(inputs.collect(), self.asked, Some(on.clone()))
            .map_err(|e| fault("run", &e))?;
        let (shape, logs): ([usize; 2], Vec<f32>) =
            signs.into_shape_vec().map_err(|e| fault("read", &e))?;
        let along = |v: Value| -> Result<Vec<f32>> {
            let found: ([usize; 4], Vec<f32>) =
                v.into_shape_vec().map_err(|e| fault("read", &e))?;
            Ok(found.1)
        };
        let writing = self.writing.chances(&[along(first)?, along(second)?]);
        let [steps, labels] = shape;
        let mut chances = logs;
        let mut temperature = TEMPERATURE;
        let mut seen = None;
        if hands::are_asked(writing.as_ref()) {
            let alone = (self.space, TEMPERATURE);
            let (believed, mut both) = self.hands.weigh(&input, on, &mut chances, alone)?;
            temperature = believed;
            both.iter_mut().for_each(|log| *log = log.exp());
            seen = Some(both);
        }
        for row in chances.chunks_mut(labels) {
            soften(row, temperature);
        }
        Ok(Posteriors {
            steps,
            labels,
            chances,
            writing,
            seen,
        })
    }

    /// The line's characters from left to right, each with the steps that it stands on.
    ///
    /// Best path: a run of one label is one character. Its chance is the greatest of the run; the
    /// alternatives are those of the same step, "no sign" among them as an empty text.
    pub fn decode(&self, posteriors: &Posteriors) -> Vec<(Character, std::ops::Range<usize>)> {
        self.best_path(&posteriors.chances, posteriors.labels)
    }

    fn best_path(
        &self,
        chances: &[f32],
        labels: usize,
    ) -> Vec<(Character, std::ops::Range<usize>)> {
        let mut out: Vec<(Character, std::ops::Range<usize>)> = Vec::new();
        let mut at = 0;
        let rows: Vec<&[f32]> = chances.chunks(labels).collect();
        while at < rows.len() {
            let label = greatest(rows[at]);
            let end = (at..rows.len())
                .find(|&i| greatest(rows[i]) != label)
                .unwrap_or(rows.len());
            if label > 0 {
                let peak = (at..end)
                    .max_by(|&a, &b| rows[a][label].total_cmp(&rows[b][label]))
                    .unwrap_or(at);
                out.push((self.character(rows[peak], label), at..end));
            }
            at = end;
        }
        while out.first().is_some_and(|(c, _)| c.text == " ") {
            out.remove(0);
        }
        while out.last().is_some_and(|(c, _)| c.text == " ") {
            out.pop();
        }
        out
    }

    /// Signs of which too little was seen for the best path, with the step of each: where "no sign" is likeliest,
    /// peaks of another, but for the edges of the signs beside.
    pub fn faint(&self, posteriors: &Posteriors) -> Vec<(Character, usize)> {
        let rows: Vec<&[f32]> = posteriors.chances.chunks(posteriors.labels).collect();
        let best: Vec<usize> = rows.iter().map(|r| greatest(r)).collect();
        // the strongest sign of each step but "no sign", and its chance
        let signs = rows.iter().map(|r| 1 + greatest(&r[1..]));
        let strongest: Vec<(usize, f32)> = signs.zip(&rows).map(|(l, r)| (l, r[l])).collect();
        let mut out = Vec::new();
        for at in (0..rows.len()).filter(|&at| best[at] == 0) {
            let (sign, chance) = strongest[at];
            let beside = [at.checked_sub(1), Some(at + 1)];
            let beside = beside.map(|i| i.filter(|&i| i < rows.len()));
            let grows = |i: usize| best[i] == 0 && strongest[i].1 > chance;
            let is_edge =
                |label: usize| label > 0 && beside.iter().flatten().any(|&i| best[i] == label);
            if f64::from(chance) < FAINT_FROM
                || beside.into_iter().flatten().any(grows)
                || is_edge(sign)
            {
                continue;
            }
            let mut row = rows[at].to_vec();
            for (label, chance) in row.iter_mut().enumerate() {
                if is_edge(label) {
                    *chance = 0.0;
                }
            }
            let all: f32 = row.iter().sum();
            row.iter_mut().for_each(|p| *p /= all);
            out.push((self.character(&row, 0), at));
        }
        out
    }

    fn character(&self, row: &[f32], label: usize) -> Character {
        let mut others: Vec<(usize, f32)> = row
            .iter()
            .copied()
            .enumerate()
            .filter(|&(l, p)| l != label && p > 1e-3)
            .collect();
        others.sort_by(|a, b| b.1.total_cmp(&a.1));
        others.truncate(KEPT);
        Character {
            text: self.sign(label).to_string(),
            confidence: f64::from(row[label]).min(1.0),
            alternatives: others
                .into_iter()
                .map(|(l, p)| (self.sign(l).to_string(), f64::from(p)))
                .collect(),
        }
    }

    fn sign(&self, label: usize) -> &'static str {
        label
            .checked_sub(1)
            .and_then(|i| self.signs.get(i).copied())
            .unwrap_or("")
    }
}

impl LineReader for LineModel {
    fn name(&self) -> &str {
        "line model"
    }

    fn weight(&self) -> f64 {
        WEIGHT
    }

    fn read(&self, picture: &GrayImage) -> Result<Option<RawLine>> {
        if picture.width() < 4 || picture.height() < 4 {
            return Ok(None);
        }
        let posteriors = self.posteriors(picture)?;
        let decoded = self.decode(&posteriors);
        if decoded.is_empty() {
            return Ok(None);
        }
        // px of the picture that a step stands for
        let step = f64::from(picture.width()) / posteriors.steps.max(1) as f64;
        let (signs, middles): (Vec<&str>, Vec<f64>) = decoded
            .iter()
            .map(|(c, run)| (c.text.as_str(), (run.start + run.end) as f64 / 2.0 * step))
            .unzip();
        let stands = spacing::standing(picture, &signs, &middles);
        let missing = spacing::missing(picture, &signs, &middles);
        let mut spaced: Vec<(Character, std::ops::Range<usize>)> =
            Vec::with_capacity(decoded.len());
        for ((sign, stands), missing) in decoded.into_iter().zip(stands).zip(missing) {
            if missing {
                let run = spaced.last().map_or(0..0, |s| s.1.clone());
                let between = (run.end + sign.1.start) / 2;
                spaced.push((Character::sure(" ", SPACED), between..between + 1));
            }
            if stands {
                spaced.push(sign);
            }
        }
        let decoded = spaced;
        let edge = |at: f64| (at * step).round() as i32;
        let middle = |a: usize, b: usize| (a + b) as f64 / 2.0;
        let mut spans = Vec::with_capacity(decoded.len());
        for (i, (_, run)) in decoded.iter().enumerate() {
            // the network marks a sign on few steps: it reaches half-way to its neighbours
            let left = match i.checked_sub(1).and_then(|before| decoded.get(before)) {
                Some((_, before)) => middle(before.end, run.start),
                None => run.start.saturating_sub(1) as f64,
            };
            let right = match decoded.get(i + 1) {
                Some((_, after)) => middle(run.end, after.start),
                None => (run.end + 1).min(posteriors.steps) as f64,
            };
            spans.push((edge(left), edge(right)));
        }
        let seen = posteriors.seen.as_ref();
        let by_ink = seen.map(|s| self.best_path(s, posteriors.labels));
        let by_ink = by_ink.map(|all| all.into_iter().map(|(c, _)| c).collect());
        let faint = self.faint(&posteriors).into_iter();
        let faint = faint.map(|(c, at)| (c, edge(at as f64 + 0.5))).collect();
        Ok(Some(RawLine {
            characters: decoded.into_iter().map(|(c, _)| c).collect(),
            bounds: Rect::new(0, 0, picture.width(), picture.height()),
            spans,
            faint,
            writing: posteriors.writing,
            by_ink,
        }))
    }
}

/// A sign with a smaller chance than this on each of its steps wasn't seen at all.
const FAINT_FROM: f64 = 0.03;

/// Chance of a space where the gap is wider than any between letters. Set by judgement.
const SPACED: f64 = 0.95;

fn fault(what: &str, cause: &dyn std::fmt::Display) -> Error {
    Error::new(
        Kind::Recogniser,
        "line model",
        format!("the network can't be {what} ({cause})"),
        "build the program again from a clean checkout",
    )
}

/// Brings a line to the network's height, mean 0 and deviation 1; the width to a multiple of 4.
pub(super) fn levelled(line: &GrayImage) -> (usize, Vec<f32>) {
    let wanted = f64::from(line.width()) * f64::from(HEIGHT) / f64::from(line.height().max(1));
    let width = (wanted.round() as u32).clamp(16, WIDEST);
    let scaled = if (line.width(), line.height()) == (width, HEIGHT) {
        line.clone()
    } else {
        imageops::resize(line, width, HEIGHT, imageops::FilterType::Triangle)
    };
    let padded = width.next_multiple_of(4);
    let mut values = Vec::with_capacity((padded * HEIGHT) as usize);
    for y in 0..HEIGHT {
        for x in 0..padded {
            values.push(f32::from(scaled.get_pixel(x.min(width - 1), y).0[0]));
        }
    }
    let n = values.len() as f64;
    let mean = values.iter().map(|&v| f64::from(v)).sum::<f64>() / n;
    let variance = values
        .iter()
        .map(|&v| (f64::from(v) - mean).powi(2))
        .sum::<f64>()
        / (n - 1.0);
    let scale = variance.sqrt() + 1e-3;
    for v in &mut values {
        *v = ((f64::from(*v) - mean) / scale) as f32;
    }
    (padded as usize, values)
}

/// Log-probabilities to probabilities at a temperature.
fn soften(row: &mut [f32], temperature: f32) {
    let top = row.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let mut sum = 0.0;
    for v in row.iter_mut() {
        *v = ((*v - top) / temperature).exp();
        sum += *v;
    }
    for v in row.iter_mut() {
        *v /= sum;
    }
}

fn greatest(row: &[f32]) -> usize {
    let mut best = 0;
    for (i, &v) in row.iter().enumerate() {
        if v > row[best] {
            best = i;
        }
    }
    best
}
