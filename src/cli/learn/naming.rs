//! What the person's decisions about what marks name teach of the chances that were told.

use crate::chance::{Settled, Tempering};
use crate::decisions::{KeptMark, Named};
use crate::error::{Error, Kind, Result};
use crate::measure::corrections::{statements, tempered, weighed};
use crate::measure::report::before_and_after_svg;
use crate::proposals::{Index, Rivals};
use crate::readings::learnt::{FEWEST_DECISIONS, Weighed};
use std::path::Path;

/// What was learnt, and what it changes on every second decision, which it wasn't fitted on.
pub(super) struct Lesson {
    pub(super) tempering: Tempering,
    pub(super) weighed: Option<Weighed>,
}

impl Lesson {
    pub(super) fn better(&self) -> bool {
        self.weighed
            .is_some_and(|w| w.log_loss.1 < w.log_loss.0 - 1e-4)
    }
}

/// The decisions of the store, each with the chances that the program gives now, nothing learnt.
///
/// # Errors
/// `Kind::Gazetteer` if the lists can't be read.
pub(super) fn decided(marks: &[KeptMark], lists: Option<&Path>) -> Result<Vec<Settled>> {
    if marks.iter().all(|m| m.settled.named.is_empty()) {
        return Ok(Vec::new());
    }
    let (index, _) = super::super::read::lists(lists, None)?;
    Ok(marks.iter().flat_map(|m| of_mark(m, &index)).collect())
}

fn of_mark(mark: &KeptMark, index: &Index) -> Vec<Settled> {
    let named = &mark.settled.named;
    if named.is_empty() || mark.settled.not_a_mark.is_some() {
        return Vec::new();
    }
    let weighed = index.weigh(&mark.latest().reading.lines, None);
    let decision = |(list, held): (&String, &crate::decisions::Held<Named>)| {
        // Of a decision about all lists the one most likely named counts, so that lists of another
        // kind, easily ruled out, don't drown it
        let rivals = weighed
            .iter()
            .find(|r| list.is_empty() || r.list == *list)?;
        settled(rivals, &held.value)
    };
    named.iter().filter_map(decision).collect()
}

/// `None`: the entry taken isn't among the proposals, so there is no chance to hold it against.
fn settled(rivals: &Rivals, named: &Named) -> Option<Settled> {
    let right = match named {
        Named::Unlisted => None,
        Named::Entry(t) => {
            let mut all = rivals.proposals.iter();
            Some(all.position(|p| p.entry == t.entry)?)
        }
    };
    Some(Settled {
        rivals: rivals.proposals.iter().map(|p| p.probability).collect(),
        none: rivals.unlisted,
        right,
    })
}

fn halves(decided: &[Settled]) -> [Vec<Settled>; 2] {
    [0, 1].map(|odd| decided.iter().skip(odd).step_by(2).cloned().collect())
}

/// Fits on every second decision, measures on the others and, where that is a gain, fits on all.
pub(super) fn learn(decided: &[Settled]) -> Lesson {
    let [fit, held] = halves(decided);
    let mut lesson = Lesson {
        tempering: Tempering::default(),
        weighed: None,
    };
    if held.len() >= FEWEST_DECISIONS {
        lesson.weighed = Some(weighed(&Tempering::fit(&fit), &held));
        if lesson.better() {
            lesson.tempering = Tempering::fit(decided);
        }
    }
    lesson
}

/// Draws both diagrams of the decisions that weren't fitted on.
///
/// # Errors
/// `Kind::Output` if the file can't be written.
pub(super) fn draw(decided: &[Settled], lesson: &Lesson, file: &Path) -> Result<()> {
    let [fit, held] = halves(decided);
    let learnt = match lesson.weighed {
        Some(_) => Tempering::fit(&fit),
        None => Tempering::default(),
    };
    let svg = before_and_after_svg(&statements(&held), &statements(&tempered(&learnt, &held)));
    crate::written::put(file, svg.as_bytes()).map_err(|e| {
        Error::new(
            Kind::Output,
            file.display(),
            format!("the diagram can't be written ({e})"),
            "name a file in a folder where you may write",
        )
    })
}

/// What was found, for the person.
pub(super) fn words(count: usize, lesson: &Lesson) -> String {
    let mut out = format!("{count} decisions about what marks name stand beside their chances.\n");
    let Some(w) = lesson.weighed else {
        out += &format!(
            "Too few to learn from: {} are needed in each half; settle more marks.\n",
            FEWEST_DECISIONS
        );
        return out;
    };
    out += &format!(
        "On {} of them that it wasn't fitted on:\n  log loss: {:.3} → {:.3}\n  calibration error: {:.3} → {:.3}\n",
        w.decisions, w.log_loss.0, w.log_loss.1, w.calibration_error.0, w.calibration_error.1
    );
    out += &if lesson.better() {
        let t = lesson.tempering;
        format!(
            "Chances of entries are raised to the power {:.2}, that of \"on none\" is multiplied by {:.2} as well.\n",
            t.slope,
            t.none.exp()
        )
    } else {
        "That is no gain: the chances stay as they are.\n".to_string()
    };
    out
}
