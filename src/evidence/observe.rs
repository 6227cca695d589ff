//! What can be seen beside the lettering: a short list in trade terms, with what each may mean,
//! how strongly, and where that is from.
//!
//! The list is `observations.csv`, built in. `role` says what the years are of: `maker` of the part
//! itself, `event` of something done to it, which says of the part only that it was there.

use super::{Claim, Mark, Reading, Role, Years};
use crate::dating::clues::Sure;
use crate::dating::edtf::Edtf;
use crate::decisions::{Bearer, Observation, Sight};
use crate::error::{Error, Kind, Result};
use serde::Serialize;

const TABLE: &str = include_str!("observations.csv");

/// One thing that may be seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Choice {
    /// Name on the command line: `millboard`.
    pub choice: String,
    /// Part that it is about.
    pub part: Bearer,
    /// What it may mean.
    pub means: String,
    /// Years of `role`.
    pub years: Years,
    /// As the table writes it, EDTF.
    pub not_before: String,
    /// As the table writes it, EDTF.
    pub not_after: String,
    /// How strongly; `None` where it says nothing of a date.
    pub sure: Option<Sure>,
    /// Whether the years are those of the part.
    pub role: Role,
    /// Published source, "common practice" or "from memory".
    pub source: String,
    /// Caution; may be empty.
    pub caution: String,
}

/// A feature with what it may be.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Feature {
    /// Name on the command line: `support`.
    pub feature: String,
    /// In the order of the list.
    pub choices: Vec<Choice>,
}

impl Feature {
    /// The choice of that name.
    pub fn choice(&self, name: &str) -> Option<&Choice> {
        self.choices.iter().find(|c| c.choice == name)
    }
}

fn broken(row: usize, what: &str) -> Error {
    Error::new(
        Kind::Text,
        format!("built-in observations, row {row}"),
        what,
        "report this",
    )
}

fn year(edtf: &str, last: bool) -> Option<i32> {
    let e = Edtf::parse(edtf).ok()?;
    let day = if last { e.latest() } else { e.earliest() };
    i32::try_from(day?.year).ok()
}

/// The list.
///
/// # Errors
/// `Kind::Text` naming the row, if the built-in list were broken.
pub fn features() -> Result<Vec<Feature>> {
    let mut out: Vec<Feature> = Vec::new();
    for (i, row) in csv::Reader::from_reader(TABLE.as_bytes())
        .records()
        .enumerate()
    {
        let n = i + 2;
        let row = row.map_err(|e| broken(n, &e.to_string()))?;
        let get = |k: usize| row.get(k).unwrap_or("").trim().to_string();
        let sure = match get(6).as_str() {
            "" => None,
            "hard" => Some(Sure::Hard),
            "usual" => Some(Sure::Usual),
            "weak" => Some(Sure::Weak),
            _ => return Err(broken(n, "no such degree")),
        };
        let limit = |k: usize, last: bool| match get(k) {
            t if t.is_empty() => Ok(None),
            t => year(&t, last)
                .map(Some)
                .ok_or_else(|| broken(n, "no EDTF year")),
        };
        let choice = Choice {
            choice: get(1),
            part: Bearer::parse(&get(2)).ok_or_else(|| broken(n, "no such part"))?,
            means: get(3),
            years: Years {
                from: limit(4, false)?,
                to: limit(5, true)?,
            },
            not_before: get(4),
            not_after: get(5),
            sure,
            role: match get(7).as_str() {
                "maker" => Role::Maker,
                "event" => Role::Later,
                _ => return Err(broken(n, "no such role")),
            },
            source: get(8),
            caution: get(9),
        };
        match out.last_mut().filter(|f| f.feature == get(0)) {
            Some(f) => f.choices.push(choice),
            None => out.push(Feature {
                feature: get(0),
                choices: vec![choice],
            }),
        }
    }
    Ok(out)
}

/// Observations as dated evidence: those that hold and date something. Weak ones are told, but
/// limit nothing.
pub fn observed(standing: &[&Observation], features: &[Feature]) -> Vec<Mark> {
    let mut out = Vec::new();
    for o in standing {
        let Sight::Feature { feature, choice } = &o.sight else {
            continue;
        };
        let found = features
            .iter()
            .find(|f| f.feature == *feature)
            .and_then(|f| f.choice(choice));
        let Some(c) = found else { continue };
        let chance = match c.sure {
            Some(sure @ (Sure::Hard | Sure::Usual)) => super::gather::worth(sure),
            _ => continue,
        };
        out.push(Mark {
            id: o.id.to_string(),
            name: format!("observation {} ({} {})", o.id, feature, choice),
            bearer: Some(c.part),
            bridges: None,
            proposed: Vec::new(),
            claims: vec![Claim {
                about: format!("{feature}: {choice}"),
                readings: vec![Reading {
                    role: c.role,
                    ..Reading::new(
                        format!("{feature} is {choice}"),
                        chance,
                        c.years.from,
                        c.years.to,
                    )
                }],
                source: c.source.clone(),
                by_person: true,
            }],
        });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_observation_says_what_it_may_mean_and_from_where() {
        let all = features().unwrap();
        assert!(all.iter().map(|f| f.choices.len()).sum::<usize>() >= 60);
        for f in &all {
            for c in &f.choices {
                assert!(!c.means.is_empty() && !c.source.is_empty(), "{}", c.choice);
                // A date needs a degree, a degree a date
                let dated = c.years != Years::OPEN;
                assert_eq!(dated, c.sure.is_some(), "{} {}", f.feature, c.choice);
            }
        }
        let names: std::collections::BTreeSet<_> = all.iter().map(|f| &f.feature).collect();
        assert_eq!(
            names.len(),
            all.len(),
            "a feature stands in one run of rows"
        );
    }

    #[test]
    fn hazards_of_the_trade_are_told_beside_what_brings_them() {
        let all = features().unwrap();
        let caution = |f: &str, c: &str| {
            let f = all.iter().find(|x| x.feature == f).unwrap();
            f.choice(c).unwrap().caution.clone()
        };
        assert!(caution("backing", "green-paper").contains("arsenic"));
        assert!(caution("backing", "mould-or-dirt").contains("mask"));
        assert!(caution("glass", "old-uneven").contains("brittle"));
        assert!(caution("ultraviolet", "paper-glows").contains("UV"));
        assert!(caution("frame-make", "composition").contains("lead"));
        assert!(caution("losses", "label-slit").contains("peel"));
        assert!(caution("fixings", "wire-nails").contains("nails"));
    }
}
