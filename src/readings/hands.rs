//! A second line network that knows hands, asked only where the first tells script.
//!
//! In: a line as the first network saw it, and what that made of it. Out: the chances of both together, step by
//! step. Both came of one network and put out the same signs for the same steps, so that they can be weighed
//! against each other at each step: (1 − s) ln p + s ln q, brought to sum 1. Where it is asked, how much it counts
//! and at what temperature (`model/hand.json`) is fitted by `training/fit_second.py`; `model/card.md` gives the figures.
//! Its weights are widened when the first line of script comes: whoever reads print pays nothing.

use super::writing::{self, Chances};
use crate::error::{Error, Kind, Result};
use rten::{Model, ModelOptions, RunOptions, Value};
use serde::Deserialize;
use std::sync::OnceLock;

static WEIGHTS: &[u8] = include_bytes!("model/hand.onnx");

/// When it is asked and how much it counts.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
struct Rule {
    /// Share of the second network's log-chances, 0 to 1.
    share: f32,
    /// Chance of script from which it is asked, 0 to 1.
    from: f32,
    /// Divides the log-chances of both together.
    temperature: f32,
}

/// The second network, not yet loaded or loaded.
pub(super) struct Hands {
    rule: Rule,
    model: OnceLock<std::result::Result<Model, String>>,
}

impl Hands {
    /// Reads the rule that is part of the program; the network is loaded when it is first asked.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the rule can't be used, which a sound build doesn't show.
    pub(super) fn load() -> Result<Self> {
        let rule: Rule = serde_json::from_str(include_str!("model/hand.json"))
            .map_err(|e| fault("told when it is asked", &e))?;
        let chances = 0.0..=1.0;
        if !chances.contains(&rule.share)
            || !chances.contains(&rule.from)
            || rule.temperature <= 0.0
        {
            return Err(fault("told when it is asked", &"a number is out of range"));
        }
        Ok(Hands {
            rule,
            model: OnceLock::new(),
        })
    }

    /// Whether it is asked about a line that looks like this.
    pub(super) fn is_asked(&self, line: Option<&Chances>) -> bool {
        line.is_some_and(|chances| writing::of_script(chances) >= self.rule.from)
    }

    /// Weighs in on a line, and hands back the temperature of both together.
    ///
    /// * `line`: as the first network was given it.
    /// * `logs`: what that made of it, log-chances row by row; afterwards those of both.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the network can't be loaded or run.
    pub(super) fn weigh(&self, line: &Value, options: RunOptions, logs: &mut [f32]) -> Result<f32> {
        let loaded = self.model.get_or_init(|| {
            ModelOptions::with_all_ops()
                .prepack_weights(true)
                .load_static_slice(WEIGHTS)
                .map_err(|e| e.to_string())
        });
        let model = loaded.as_ref().map_err(|e| fault("loaded", e))?;
        let inputs = model.input_ids().iter().map(|&id| (id, line.into()));
        let signs = model.node_id("signs").map_err(|e| fault("loaded", &e))?;
        let [signs] = model
            .run_n(inputs.collect(), [signs], Some(options))
            .map_err(|e| fault("run", &e))?;
        let (_, own): ([usize; 2], Vec<f32>) =
            signs.into_shape_vec().map_err(|e| fault("read", &e))?;
        if own.len() != logs.len() {
            return Err(fault("read", &"it puts out other steps than the first"));
        }
        let share = self.rule.share;
        for (both, own) in logs.iter_mut().zip(own) {
            *both += share * (own - *both);
        }
        Ok(self.rule.temperature)
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

    #[test]
    fn only_what_looks_like_script_is_asked_about() {
        let hands = Hands::load().unwrap();
        let line = |script: f32| [1.0 - script, script, 0.0, 0.0];
        assert!(hands.is_asked(Some(&line(0.999))));
        assert!(!hands.is_asked(Some(&line(0.05))));
        assert!(!hands.is_asked(None));
        assert!(hands.model.get().is_none());
    }
}
