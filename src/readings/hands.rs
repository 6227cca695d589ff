//! A second line network that knows hands, asked only where the first tells script.
//!
//! In: a line as the first network saw it, and what that made of it. Out: the chances of both together, step by
//! step. Both came of one network and put out the same signs for the same steps, so that they can be weighed
//! against each other at each step: exp((1 − s) ln p + s ln q), brought to sum 1 (of the one that counts less, the
//! greatest chance of three steps), the share s of the second a logistic function of how
//! undecided either is and how far they are apart. Of what comes of it all ways through the line are weighed with which
//! signs follow each other in writing (`ways`). Where it is asked, that function and the temperature of both together
//! (`hands/rule.json`) are fitted by `training/fit_second.py`; `hands/card.md` gives the figures. Its weights are
//! widened when the first line of script comes: whoever reads print pays nothing. A word of which the first reads every
//! sign clearly stays as it is: a printed heading with something written behind it is one line.

mod ways;

use super::language::{self, Language};
use super::writing::{self, Chances};
use crate::chance;
use crate::error::{Error, Kind, Result};
use crate::networks::loaded;
use rten::{Model, ModelOptions, RunOptions, Value};
use serde::Deserialize;
use std::ops::Range;
use std::sync::OnceLock;
use ways::{NEVER, Weighing, Wording};

static WEIGHTS: &[u8] = include_bytes!("hands/reader.onnx");

/// When it is asked and how much it and the wording count.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
struct Rule {
    /// Chance of script from which it is asked, 0 to 1.
    from: f32,
    /// Log-odds of its share where both networks are wholly decided.
    bias: f64,
    /// What a nat of the first one's mean entropy adds to them.
    first: f64,
    /// What a nat of its own adds.
    second: f64,
    /// What a nat of its mean divergence from the first adds.
    apart: f64,
    /// Divides the log-chances of both together.
    temperature: f32,
    /// How ways through the line are weighed with the wording.
    wording: Weighing,
    /// Divides the log-chances that come of all ways.
    believed: f32,
}

impl Rule {
    /// Share of the second network on a line, 0 to 1.
    ///
    /// * `first`, `second`: log-chances of both, row by row, of so many `labels`.
    fn share(&self, first: &[f32], second: &[f32], labels: usize) -> f64 {
        chance::logistic(
            self.bias
                + self.first * entropy(first, labels)
                + self.second * entropy(second, labels)
                + self.apart * divergence(second, first, labels),
        )
    }
}

/// Mean divergence of rows of log-chances from others, nats (Kullback and Leibler 1951); 0 of none.
fn divergence(these: &[f32], others: &[f32], labels: usize) -> f64 {
    let both = these.iter().zip(others);
    let sum: f64 = both.map(|(p, q)| f64::from(p.exp() * (p - q))).sum();
    sum * labels as f64 / these.len().max(1) as f64
}

/// Mean entropy of rows of log-chances, nats; 0 of none.
fn entropy(logs: &[f32], labels: usize) -> f64 {
    let sum: f64 = logs.iter().map(|&l| f64::from(-l.exp() * l)).sum();
    sum * labels as f64 / logs.len().max(1) as f64
}

/// The rule that is part of the program.
fn rule() -> std::result::Result<Rule, &'static String> {
    static RULE: OnceLock<std::result::Result<Rule, String>> = OnceLock::new();
    let read = || serde_json::from_str(include_str!("hands/rule.json")).map_err(|e| e.to_string());
    RULE.get_or_init(read).as_ref().copied()
}

/// Whether the second network is asked about lines that look like this.
pub(super) fn are_asked(line: Option<&Chances>) -> bool {
    let from = rule().ok().map(|r| r.from);
    from.zip(line)
        .is_some_and(|(from, chances)| writing::of_script(chances) >= from)
}

/// The second network, not yet loaded or loaded.
pub(super) struct Hands {
    rule: Rule,
    model: OnceLock<Model>,
    wording: OnceLock<Language>,
}

impl Hands {
    /// Reads the rule that is part of the program; the network is loaded when it is first asked.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the rule can't be used, which a sound build doesn't show.
    pub(super) fn load() -> Result<Self> {
        let rule = rule().map_err(|e| fault("told when it is asked", &e))?;
        if !(0.0..=1.0).contains(&rule.from) || rule.temperature.min(rule.believed) <= 0.0 {
            return Err(fault("told when it is asked", &"a number is out of range"));
        }
        Ok(Hands {
            rule,
            model: OnceLock::new(),
            wording: OnceLock::new(),
        })
    }

    /// Weighs in on a line, and hands back the temperature of what comes of it, and the log-chances of both networks
    /// together before the wording had a say, each row brought to sum 1.
    ///
    /// * `line`: as the first network was given it.
    /// * `logs`: what that made of it, log-chances row by row; afterwards those of both.
    /// * `space`: label of the sign between words.
    /// * `temperature`: that of the first network alone.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the network can't be loaded or run.
    pub(super) fn weigh(
        &self,
        line: &Value,
        options: RunOptions,
        logs: &mut [f32],
        (space, temperature): (usize, f32),
    ) -> Result<(f32, Vec<f32>)> {
        let ([_, labels], mut own) = self.logs(line, options)?;
        if own.len() != logs.len() {
            return Err(fault("read", &"it puts out other steps than the first"));
        }
        let share = self.rule.share(logs, &own, labels) as f32;
        // As the first has them at its own temperature, whatever they are divided by afterwards
        let as_first = self.rule.temperature / temperature;
        let clear: Vec<(Range<usize>, Vec<f32>)> = clear_words(logs, labels, space)
            .into_iter()
            .map(|steps| steps.start * labels..steps.end * labels)
            .map(|at| (at.clone(), logs[at].iter().map(|l| l * as_first).collect()))
            .collect();
        match share < 0.5 {
            true => own = spread(&own, labels),
            false => logs.copy_from_slice(&spread(logs, labels)),
        }
        for (both, own) in logs.iter_mut().zip(own) {
            *both += share * (own - *both);
        }
        for (at, first) in clear {
            logs[at].copy_from_slice(&first);
        }
        brought_to_one(logs, labels, self.rule.temperature);
        let seen = logs.to_vec();
        let ways = ways::ways(logs, labels, self.wording()?, self.rule.wording);
        ways.stand(logs, labels);
        Ok((self.rule.believed, seen))
    }

    /// What follows what in writing.
    fn wording(&self) -> Result<&Language> {
        let own = include_bytes!("hands/wording.bin");
        let unusable = || fault("weighed with the wording", &"its counts can't be used");
        loaded(&self.wording, || {
            Language::of(own, self.rule.wording.share).ok_or_else(unusable)
        })
    }

    fn model(&self) -> Result<&Model> {
        loaded(&self.model, || {
            ModelOptions::with_all_ops()
                .prepack_weights(true)
                .load_static_slice(WEIGHTS)
                .map_err(|e| fault("loaded", &e))
        })
    }

    /// Its own log-chances: steps and labels, and row by row.
    fn logs(&self, line: &Value, options: RunOptions) -> Result<([usize; 2], Vec<f32>)> {
        let model = self.model()?;
        let inputs = model.input_ids().iter().map(|&id| (id, line.into()));
        let signs = model.node_id("signs").map_err(|e| fault("loaded", &e))?;
        let [signs] = model
            .run_n(inputs.collect(), [signs], Some(options))
            .map_err(|e| fault("run", &e))?;
        signs.into_shape_vec().map_err(|e| fault("read", &e))
    }
}

/// Chance from which a sign of the first network counts as read clearly. Of 0.98, 0.99, 0.995, 0.998 chosen on the
/// tuning writers (English hands 0.155 for 0.155 without, French 0.091 for 0.091, those of the first lot 0.093 for 0.093).
const CLEAR: f32 = 0.99;
/// A run of fewer signs may be read clearly by luck.
const WORD: usize = 3;

/// Steps of the words of which each sign on the best path is read clearly, the steps beside their spaces included.
///
/// * `logs`: log-chances row by row, of so many `labels`; label 0 is "no sign".
fn clear_words(logs: &[f32], labels: usize, space: usize) -> Vec<Range<usize>> {
    let rows: Vec<&[f32]> = logs.chunks(labels.max(1)).collect();
    let best = |row: &&[f32]| (0..row.len()).max_by(|&a, &b| row[a].total_cmp(&row[b]));
    let way: Vec<usize> = rows.iter().filter_map(best).collect();
    let mut out = Vec::new();
    let mut start = 0;
    for end in 0..=way.len() {
        if end < way.len() && way[end] != space {
            continue;
        }
        let (mut signs, mut least, mut at) = (0, 1.0f32, start);
        while at < end {
            let run = way[at..end].iter().take_while(|l| **l == way[at]).count();
            if way[at] > 0 {
                let top = rows[at..at + run].iter().map(|r| r[way[at]].exp());
                least = least.min(top.fold(0.0, f32::max));
                signs += 1;
            }
            at += run;
        }
        if signs >= WORD && least >= CLEAR {
            out.push(start..end);
        }
        start = end + 1;
    }
    out
}

/// Log-chances in which a sign's chance at a step is the greatest of that step and the two beside it; "no sign", label
/// 0, as it was; each row brought to sum 1. The reader that counts more says where a sign stands: the other often
/// has it a step beside, and by the step alone both would lose it.
fn spread(logs: &[f32], labels: usize) -> Vec<f32> {
    let rows: Vec<&[f32]> = logs.chunks(labels.max(1)).collect();
    let mut out = Vec::with_capacity(logs.len());
    for (at, row) in rows.iter().enumerate() {
        let beside = [at.checked_sub(1), Some(at + 1)];
        let beside = beside.map(|i| i.and_then(|i| rows.get(i)));
        let mut wide: Vec<f32> = row.iter().map(|l| l.exp()).collect();
        for other in beside.into_iter().flatten() {
            for (chance, log) in wide.iter_mut().zip(*other).skip(1) {
                *chance = chance.max(log.exp());
            }
        }
        let sum: f32 = wide.iter().sum();
        out.extend(wide.into_iter().map(|p| (p / sum).max(NEVER).ln()));
    }
    out
}

impl Wording for Language {
    fn beginning(&self) -> u64 {
        language::BEGINNING
    }

    fn follows(&self, before: u64, sign: Option<u8>) -> f64 {
        Language::follows(self, before, sign.unwrap_or(0))
    }

    fn after(&self, before: u64, sign: u8) -> u64 {
        Language::after(self, before, sign)
    }
}

/// Divides log-chances by a temperature and brings each row to sum 1.
fn brought_to_one(logs: &mut [f32], labels: usize, temperature: f32) {
    for row in logs.chunks_mut(labels.max(1)) {
        let top = row.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let sum: f32 = row.iter().map(|l| ((l - top) / temperature).exp()).sum();
        for log in row {
            *log = (*log - top) / temperature - sum.ln();
        }
    }
}

fn fault(what: &str, cause: &dyn std::fmt::Display) -> Error {
    Error::new(
        Kind::Recogniser,
        "second reader of hands",
        format!("the network can't be {what} ({cause})"),
        "build the program again from a clean checkout",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::line_model::{HEIGHT, SIGNS, levelled};
    use image::GrayImage;

    #[test]
    fn only_what_looks_like_script_is_asked_about() {
        let hands = Hands::load().unwrap();
        let line = |script: f32| [1.0 - script, script, 0.0, 0.0];
        assert!(are_asked(Some(&line(0.999))));
        assert!(!are_asked(Some(&line(0.05))));
        assert!(!are_asked(None));
        assert!(hands.model.get().is_none());
    }

    #[test]
    fn what_may_follow_in_writing_sums_to_one_after_anything() {
        let hands = Hands::load().unwrap();
        let wording = hands.wording().unwrap();
        let signs = SIGNS.lines().count() as u8;
        for before in [&[][..], &[20], &[5, 9, 14], &[60; 5]] {
            let start = before.iter();
            let before = start.fold(wording.beginning(), |b, &s| Wording::after(wording, b, s));
            let all = [None].into_iter().chain((1..=signs).map(Some));
            let sum: f64 = all
                .map(|s| Wording::follows(wording, before, s).exp())
                .sum();
            assert!((sum - 1.0).abs() < 0.04, "{sum}");
        }
    }

    /// Bytes of a text in base 64.
    fn decoded(text: &str) -> Vec<u8> {
        const DIGITS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        let digits: Vec<u32> = text
            .chars()
            .filter_map(|c| DIGITS.find(c))
            .map(|d| d as u32)
            .collect();
        digits
            .chunks(4)
            .flat_map(|four| {
                let bits = four
                    .iter()
                    .enumerate()
                    .fold(0, |b, (i, d)| b | d << (18 - 6 * i));
                bits.to_be_bytes()[1..four.len()].to_vec()
            })
            .collect()
    }

    #[test]
    fn the_network_finds_what_onnxruntime_finds() {
        // `training/export.py`; the likeliest sign of each step with its log-chance
        let reference: serde_json::Value =
            serde_json::from_str(include_str!("../../tests/reference/hand_model.json")).unwrap();
        let hands = Hands::load().unwrap();
        let lines = reference["lines"].as_array().unwrap();
        assert_eq!(lines.len(), 2);
        for line in lines {
            let width = line["width"].as_u64().unwrap() as u32;
            let grey = decoded(line["grey"].as_str().unwrap());
            let picture = GrayImage::from_raw(width, HEIGHT, grey).unwrap();
            let (width, values) = levelled(&picture);
            let input = Value::from_shape(&[1, 1, HEIGHT as usize, width], values).unwrap();
            let ([steps, labels], logs) = hands.logs(&input, RunOptions::default()).unwrap();
            let top = line["top"].as_array().unwrap();
            assert_eq!(steps, top.len());
            for (row, top) in logs.chunks(labels).zip(top) {
                let label = top[0].as_u64().unwrap() as usize;
                let expected = top[1].as_f64().unwrap();
                let apart = f64::from(row[label].exp()) - expected.exp();
                assert!(apart.abs() < 0.01, "{apart} from {expected}");
                assert!(row.iter().all(|&l| l.exp() < row[label].exp() + 0.01));
            }
        }
    }

    #[test]
    fn a_word_that_the_first_reads_clearly_stays_and_one_that_it_doubts_does_not() {
        // Labels: no sign, a space, two letters
        let row = |label: usize, chance: f32| {
            let mut row = [((1.0 - chance) / 3.0).ln(); 4];
            row[label] = chance.ln();
            row
        };
        let word = |chance: f32| [row(2, 0.999), row(0, 0.9), row(3, chance), row(2, 0.995)];
        let logs: Vec<f32> = [
            &word(0.995)[..],
            &[row(1, 0.9)],
            &word(0.8),
            &[row(1, 0.9)],
            &word(0.995)[..2],
        ]
        .concat()
        .concat();
        let clear = clear_words(&logs, 4, 1);
        assert_eq!(clear.first(), Some(&(0..4)));
        assert_eq!(clear.len(), 1);
        assert!(clear_words(&[], 4, 1).is_empty());
    }

    #[test]
    fn the_entropy_of_even_chances_is_the_logarithm_of_their_number() {
        let even = [(0.25f32).ln(); 8];
        assert!((entropy(&even, 4) - 4f64.ln()).abs() < 1e-6);
        assert_eq!(entropy(&[], 4), 0.0);
        let decided = [0.0, -60.0, -60.0, -60.0];
        assert!(entropy(&decided, 4).abs() < 1e-9);
    }

    #[test]
    fn a_sign_a_step_beside_still_counts_and_no_sign_stays_where_it_is() {
        let chances = [0.98f32, 0.01, 0.01, 0.2, 0.79, 0.01, 0.98, 0.01, 0.01];
        let logs: Vec<f32> = chances.iter().map(|p| p.ln()).collect();
        let wide: Vec<f32> = spread(&logs, 3).iter().map(|l| l.exp()).collect();
        for row in wide.chunks(3) {
            assert!((row.iter().sum::<f32>() - 1.0).abs() < 1e-5);
        }
        assert!((wide[1] - 0.79 / 1.78).abs() < 1e-5 && (wide[2] - 0.01 / 1.78).abs() < 1e-5);
        assert!((wide[4] - 0.79).abs() < 1e-5, "{wide:?}");
    }

    #[test]
    fn it_counts_less_where_it_is_undecided_and_more_where_it_reads_something_else() {
        let rule = Hands::load().unwrap().rule;
        let row = |p: f32, q: f32| [p, q, 1.0 - p - q].map(|c| c.ln());
        let first = row(0.9, 0.05);
        let same = rule.share(&first, &row(0.9, 0.05), 3);
        // Undecided, but not apart from the first
        let undecided = row(0.4, 0.3);
        assert!(rule.share(&undecided, &undecided, 3) < same);
        assert!(rule.share(&first, &row(0.05, 0.9), 3) > same);
        assert!((divergence(&first, &first, 3)).abs() < 1e-9);
    }
}
