//! What the person's own corrections teach: how far the chances are to be believed, which signs
//! are taken for which, how much the user's own reader is worth.
//!
//! In: lines as read beside the same lines as the person reads them. Out: [`Learnt`], which changes
//! the chances of later readings, and [`Measured`], what it changed on corrections that it wasn't
//! fitted on. Kept in a file beside the store, one JSON document a row, only ever added to: undoing
//! adds a row too.
//!
//! Chance = 1 / (1 + exp(−(a + b · ln(p / (1 − p))))), fitted by least log loss (Platt, *Advances in
//! Large Margin Classifiers*, 2000), with a pull towards a = 0, b = 1, so that a few corrections
//! change little. Of the chance that a letter is wrong, n / (n + 10) goes to the signs that it was
//! corrected to n times, in proportion (a Dirichlet prior of ten; set by judgement).

use super::{Character, Line, Reading, Rescorer};
use crate::chance::{Tempering, logistic, logit};
use crate::error::{Error, Kind, Result};
use crate::limits::LIST_BYTES;
use crate::written;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Fewest letters on either side before anything is learnt.
pub const FEWEST: usize = 40;

/// Corrections of a sign that count as much as what the recognisers say themselves.
const PRIOR: f64 = 10.0;

/// Strength of the pull towards "nothing learnt".
const PULL: f64 = 4.0;

/// A letter as read and what stands there by the person; `None`: nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// As read, with its chance.
    pub read: Character,
    /// As the person reads it.
    pub truth: Option<String>,
}

impl Pair {
    /// Whether the person reads the same.
    pub fn right(&self) -> bool {
        self.truth.as_deref() == Some(self.read.text.as_str())
    }
}

/// What was learnt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Learnt {
    /// Intercept; 0 changes nothing.
    pub a: f64,
    /// Slope, above 0; 1 changes nothing.
    pub b: f64,
    /// Sign read → sign by the person → how often.
    pub taken_for: BTreeMap<String, BTreeMap<String, usize>>,
    /// Weight of the user's own reader in the vote, if it has read any of the lines.
    #[serde(default)]
    pub own_weight: Option<f64>,
}

/// What it changes, on letters that it wasn't fitted on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Letters measured on.
    pub letters: usize,
    /// Mean log loss of "this letter is right", before and after.
    pub log_loss: (f64, f64),
    /// Expected calibration error over ten bins, before and after.
    pub calibration_error: (f64, f64),
    /// Mean chance of what the person read where the best sign was wrong, before and after.
    pub chance_of_truth_where_wrong: (f64, f64),
}

/// A row of the file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// From 1.
    pub number: usize,
    /// Who.
    pub by: String,
    /// ISO 8601 with offset.
    pub at: String,
    /// Reason, may be empty.
    #[serde(default)]
    pub why: String,
    /// What was learnt; `None` in a row that undoes.
    #[serde(default)]
    pub learnt: Option<Learnt>,
    /// What it changed.
    #[serde(default)]
    pub measured: Option<Measured>,
    /// How far the chances of what marks name are to be believed, where that was learnt too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighing: Option<Tempering>,
    /// What that changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighed: Option<Weighed>,
    /// What people said that words of marks are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heard: Vec<SaidOf>,
    /// The row that this one undoes.
    #[serde(default)]
    pub undoes: Option<usize>,
}

/// How often people said that some words are this.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SaidOf {
    /// The words, small, without signs.
    pub words: String,
    /// Name of what they say (title, lender, ...); `None`: nothing.
    pub role: Option<String>,
    /// On so many marks.
    pub times: usize,
    /// Of so many on which a person said what these words are.
    pub of: usize,
}

/// Fewest decisions about what marks name, in each half, before anything is learnt of them.
pub const FEWEST_DECISIONS: usize = 30;

/// What learning of decisions changes, on decisions that it wasn't fitted on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Weighed {
    /// Decisions measured on.
    pub decisions: usize,
    /// Mean log loss of what the person decided, before and after.
    pub log_loss: (f64, f64),
    /// Expected calibration error of the likeliest entry and of "none", before and after.
    pub calibration_error: (f64, f64),
}

/// The file of what was learnt beside a store.
pub fn beside(store: &Path) -> PathBuf {
    let mut name = store.file_name().unwrap_or_default().to_os_string();
    name.push(".learnt.jsonl");
    store.with_file_name(name)
}

/// All rows of the file; none where there is no file.
///
/// # Errors
/// `Kind::Store` naming file and row that can't be read or understood.
pub fn rows(file: &Path) -> Result<Vec<Row>> {
    let wrong = |row: Option<usize>, what: String| {
        let at = row.map_or(String::new(), |r| format!(", row {r}"));
        Error::new(
            Kind::Store,
            format!("{}{at}", file.display()),
            what,
            "put the file back as it was, or move it away to do without what was learnt",
        )
    };
    let text = match LIST_BYTES.text(file) {
        Ok(t) => t,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(wrong(None, format!("what was learnt can't be read ({e})"))),
    };
    text.lines()
        .enumerate()
        .filter(|(_, l)| !l.trim().is_empty())
        .map(|(i, l)| {
            serde_json::from_str::<Row>(l)
                .map_err(|e| wrong(Some(i + 1), format!("this row isn't understood ({e})")))
        })
        .collect()
}

/// Adds a row at the end, under the next number; the rows before it stay as they are. All of it is kept or nothing,
/// however many learn at one time.
///
/// # Errors
/// `Kind::Store` if the file can't be read or written.
pub fn add(file: &Path, row: &mut Row) -> Result<()> {
    let failed = |e: &dyn std::fmt::Display| {
        Error::new(
            Kind::Store,
            file.display(),
            format!("what was learnt can't be kept ({e})"),
            "make room or see to the rights of the folder, then run the command again",
        )
    };
    let _held = written::hold(&written::folder(file)).map_err(|e| failed(&e))?;
    let before = rows(file)?;
    row.number = before.iter().map(|r| r.number).max().unwrap_or(0) + 1;
    let mut text = match before.is_empty() {
        true => String::new(),
        false => LIST_BYTES.text(file).map_err(|e| failed(&e))?,
    };
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
    text += &serde_json::to_string(row).map_err(|e| failed(&e))?;
    text.push('\n');
    written::put(file, text.as_bytes()).map_err(|e| failed(&e))
}

/// The row that holds: the last one with something learnt that isn't undone.
pub fn holding(rows: &[Row]) -> Option<&Row> {
    let undone: Vec<usize> = rows.iter().filter_map(|r| r.undoes).collect();
    rows.iter()
        .rev()
        .find(|r| r.learnt.is_some() && !undone.contains(&r.number))
}

/// The row of the file that holds, if anything was learnt.
///
/// # Errors
/// As [`rows`].
pub fn held(file: &Path) -> Result<Option<Row>> {
    Ok(holding(&rows(file)?).cloned())
}

/// Log-odds of a chance as stated; 0 and 1 are drawn in, since no correction could move them.
fn odds(p: f64) -> f64 {
    logit(p.clamp(1e-4, 1.0 - 1e-4))
}

impl Learnt {
    /// Nothing learnt.
    pub fn nothing() -> Self {
        Learnt {
            a: 0.0,
            b: 1.0,
            taken_for: BTreeMap::new(),
            own_weight: None,
        }
    }

    /// Fits to letters as read and as the person reads them.
    pub fn fit(pairs: &[Pair]) -> Self {
        let mut out = Learnt::nothing();
        // Newton's steps on a convex loss; the pull keeps the matrix regular.
        for _ in 0..30 {
            let (mut ga, mut gb) = (PULL * out.a, PULL * (out.b - 1.0));
            let (mut haa, mut hab, mut hbb) = (PULL, 0.0, PULL);
            for pair in pairs {
                let x = odds(pair.read.confidence);
                let p = logistic(out.a + out.b * x);
                let d = p - f64::from(u8::from(pair.right()));
                let w = p * (1.0 - p);
                ga += d;
                gb += d * x;
                haa += w;
                hab += w * x;
                hbb += w * x * x;
            }
            let determinant = haa * hbb - hab * hab;
            let (da, db) = (
                (hbb * ga - hab * gb) / determinant,
                (haa * gb - hab * ga) / determinant,
            );
            out.a = (out.a - da.clamp(-1.0, 1.0)).clamp(-5.0, 5.0);
            out.b = (out.b - db.clamp(-0.5, 0.5)).clamp(0.1, 5.0);
            if da.abs() + db.abs() < 1e-9 {
                break;
            }
        }
        for pair in pairs.iter().filter(|p| !p.right()) {
            let truth = pair.truth.clone().unwrap_or_default();
            *out.taken_for
                .entry(pair.read.text.clone())
                .or_default()
                .entry(truth)
                .or_default() += 1;
        }
        out
    }

    /// The character with the chances that were learnt; they sum to at most 1 as before.
    pub fn applied(&self, c: &Character) -> Character {
        if c.is_lost() || c.text == " " {
            return c.clone();
        }
        let confidence = logistic(self.a + self.b * odds(c.confidence));
        let rest = 1.0 - confidence;
        let before: f64 = (1.0 - c.confidence).max(1e-9);
        let none = BTreeMap::new();
        let known = self.taken_for.get(&c.text).unwrap_or(&none);
        let n = known.values().sum::<usize>() as f64;
        let share = n / (n + PRIOR);
        let mut alternatives: Vec<(String, f64)> = c
            .alternatives
            .iter()
            .map(|(s, p)| (s.clone(), (p / before).min(1.0) * rest * (1.0 - share)))
            .collect();
        for (sign, &k) in known {
            let more = rest * share * k as f64 / n;
            match alternatives.iter_mut().find(|a| a.0 == *sign) {
                Some(a) => a.1 += more,
                None => alternatives.push((sign.clone(), more)),
            }
        }
        alternatives.sort_by(|x, y| y.1.total_cmp(&x.1));
        Character {
            text: c.text.clone(),
            confidence,
            alternatives,
        }
    }

    /// The chance that a character had before this was applied to it.
    pub fn before(&self, c: &Character) -> f64 {
        if c.is_lost() || c.text == " " {
            return c.confidence;
        }
        logistic((odds(c.confidence) - self.a) / self.b)
    }
}

/// Letters of a reading beside those of the person's: each of the person's lines is set beside
/// the line read that it is nearest to, if half of it agrees; lost letters and spaces are left out.
pub fn pairs(reading: &Reading, truth: &[Line]) -> Vec<Pair> {
    let mut free: Vec<&Line> = reading.lines.iter().collect();
    let mut out = Vec::new();
    for line in truth {
        let nearest = (0..free.len())
            .map(|i| (i, likeness(&free[i].text, &line.text)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((i, like)) = nearest
            && like >= 0.5
        {
            out.extend(aligned(&free.swap_remove(i).characters, &line.characters));
        }
    }
    out
}

/// 1 for the same text, 0 for nothing in common.
pub fn likeness(a: &str, b: &str) -> f64 {
    strsim::normalized_levenshtein(a, b)
}

/// Letters of two lines aligned by least edits (Wagner and Fischer 1974).
fn aligned(read: &[Character], truth: &[Character]) -> Vec<Pair> {
    let (n, m) = (read.len(), truth.len());
    let width = m + 1;
    let mut cost: Vec<usize> = vec![0; (n + 1) * width];
    for i in 0..=n {
        for j in 0..=m {
            cost[i * width + j] = match (i, j) {
                (0, j) => j,
                (i, 0) => i,
                _ => {
                    let differ = usize::from(read[i - 1].text != truth[j - 1].text);
                    (cost[(i - 1) * width + j - 1] + differ)
                        .min(cost[(i - 1) * width + j] + 1)
                        .min(cost[i * width + j - 1] + 1)
                }
            };
        }
    }
    let (mut i, mut j) = (n, m);
    let mut out = Vec::new();
    while i > 0 {
        let here = cost[i * width + j];
        let partner = (j > 0).then(|| &truth[j - 1]).filter(|t| {
            here == cost[(i - 1) * width + j - 1] + usize::from(read[i - 1].text != t.text)
        });
        let c = &read[i - 1];
        let counts = !c.is_lost() && c.text != " ";
        match partner {
            Some(t) => {
                if counts && !t.is_lost() {
                    out.push(Pair {
                        read: c.clone(),
                        truth: Some(t.text.clone()),
                    });
                }
                (i, j) = (i - 1, j - 1);
            }
            None if here == cost[(i - 1) * width + j] + 1 => {
                if counts {
                    out.push(Pair {
                        read: c.clone(),
                        truth: None,
                    });
                }
                i -= 1;
            }
            None => j -= 1,
        }
    }
    out.reverse();
    out
}

/// What was learnt, at work: it reads nothing and changes the chances of what the others read.
pub(super) struct Taught {
    pub learnt: Learnt,
    pub name: String,
}

impl Rescorer for Taught {
    fn name(&self) -> &str {
        &self.name
    }

    fn rescore(&self, characters: &mut Vec<Character>) {
        for c in characters {
            *c = self.learnt.applied(c);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn pair(read: &str, confidence: f64, truth: &str) -> Pair {
        Pair {
            read: Character::sure(read, confidence),
            truth: Some(truth.into()),
        }
    }

    #[test]
    fn letters_are_set_beside_those_of_the_person_through_gaps_and_missing_ones() {
        let line = |text: &str| crate::readings::from_typed(text).unwrap().remove(0);
        let reading = Reading {
            lines: vec![line("Kendal"), line("THACKWAV 8 SON")],
            ..Reading::default()
        };
        let found = pairs(&reading, &[line("THACKWAY & SON"), line("Ken[.]al")]);
        let wrong: Vec<(&str, Option<&str>)> = found
            .iter()
            .filter(|p| !p.right())
            .map(|p| (p.read.text.as_str(), p.truth.as_deref()))
            .collect();
        assert_eq!(wrong, [("V", Some("Y")), ("8", Some("&"))]);
        assert_eq!(
            found.len(),
            12 + 5,
            "a letter that is lost to the person teaches nothing"
        );
    }

    proptest! {
        #[test]
        fn learnt_chances_still_sum_to_at_most_one_and_nothing_learnt_changes_nothing(
            confidence in 0.01f64..0.99, other in 0.0f64..1.0, right in prop::collection::vec(any::<bool>(), 1..60),
        ) {
            let c = Character {
                text: "e".into(),
                confidence,
                alternatives: vec![("c".into(), (1.0 - confidence) * other)],
            };
            let all: Vec<Pair> = right.iter().map(|&r| pair("e", confidence, if r { "e" } else { "o" })).collect();
            let after = Learnt::fit(&all).applied(&c);
            let sum: f64 = after.confidence + after.alternatives.iter().map(|a| a.1).sum::<f64>();
            prop_assert!((0.0..=1.0 + 1e-9).contains(&sum), "{sum}");
            let same = Learnt::nothing().applied(&c);
            prop_assert!((same.confidence - confidence).abs() < 1e-9);
            prop_assert!((same.alternatives[0].1 - c.alternatives[0].1).abs() < 1e-9);
        }
    }
}
