//! What the other evidence says to the rival entries of a mark.

use super::{Back, Solved, gather, solve};
use crate::dating::clues::Clues;
use crate::decisions::{KeptMark, MarkId, Named, SeenMark};
use crate::error::Result;
use crate::geometry::Rect;
use crate::marks::MarkKind;
use crate::proposals::{self, Rivals, Weight};
use crate::readings::{Line, Reading};
use crate::statements::{Role, Statement};
use serde::Serialize;
use std::collections::HashMap;

/// An entry with its chance by the reading alone, and beside all the other evidence.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Beside {
    /// Number of the mark.
    pub mark: String,
    /// `list of framers`.
    pub about: String,
    /// Key of the entry.
    pub entry: String,
    /// Chance by the reading alone.
    pub before: f64,
    /// Chance beside the other evidence: a prior for weighing the mark again.
    pub after: f64,
}

/// Every entry that dates a mark, in the order of the marks; those that a person decided are left out.
pub fn beside(back: &Back, solved: &Solved) -> Vec<Beside> {
    let mut out: Vec<Beside> = Vec::new();
    for (mark, chances) in back.marks.iter().zip(&solved.readings) {
        for (claim, chances) in mark.claims.iter().zip(chances) {
            if claim.by_person {
                continue;
            }
            for (reading, after) in claim.readings.iter().zip(chances) {
                let Some(entry) = &reading.entry else {
                    continue;
                };
                // An entry has a reading for its years and one for old stock
                let same = out
                    .iter_mut()
                    .find(|b| b.mark == mark.id && b.about == claim.about && b.entry == *entry);
                match same {
                    Some(b) => {
                        b.before += reading.chance;
                        b.after += after;
                    }
                    None => out.push(Beside {
                        mark: mark.id.clone(),
                        about: claim.about.clone(),
                        entry: entry.clone(),
                        before: reading.chance,
                        after: *after,
                    }),
                }
            }
        }
    }
    out
}

/// How the entries proposed for the marks of one picture weigh beside the rest of it: the dates of
/// all its evidence, the towns that its other marks name, and what was taken on other pictures.
///
/// A date counts by the share of chance that the solver gave it or took from it; what has no date,
/// "on none of the lists" too, is the measure for that (its factor is 1).
///
/// * `marks`: those of the picture, with the rivals by their lettering alone in
///   [`KeptMark::latest`].
/// * `taken`: entries taken on other pictures: list, key, number of pictures.
pub fn weights(
    marks: &[KeptMark],
    back: &Back,
    solved: &Solved,
    taken: Vec<(String, String, u32)>,
) -> Vec<(MarkId, Vec<Weight>)> {
    let mut dated: HashMap<(String, String), Vec<Beside>> = HashMap::new();
    for b in beside(back, solved) {
        let key = (b.mark.clone(), b.about.clone());
        dated.entry(key).or_default().push(b);
    }
    let mut known = proposals::Beside {
        taken,
        ..proposals::Beside::default()
    };
    marks
        .iter()
        .filter(|m| m.settled.not_a_mark.is_none())
        .map(|m| {
            known.towns = towns_beside(marks, m.id);
            known.artists = artists_beside(marks, m.id);
            let mut out = Vec::new();
            for r in &m.latest().rivals {
                let key = (m.id.to_string(), format!("list of {}", r.list));
                let dates = dated.get(&key).map_or(&[][..], Vec::as_slice);
                let factors = by_dates(dates);
                for p in &r.proposals {
                    let factor = factors.get(p.entry.as_str()).copied().unwrap_or(1.0);
                    let w = known.weight(p, factor);
                    if (w.factor - 1.0).abs() > 1e-3 {
                        out.push(w);
                    }
                }
            }
            (m.id, out)
        })
        .collect()
}

/// The rivals of a mark that stands for itself (a reading that was typed), weighed beside the dates that it
/// states: a firm with several addresses is met at that of the year which stands on the mark.
///
/// # Errors
/// As for [`gather`].
pub fn by_own_dates(
    lines: Vec<Line>,
    rivals: Vec<Rivals>,
    statements: Vec<Statement>,
    clues: &Clues,
) -> Result<Vec<Rivals>> {
    let seen = SeenMark {
        label: "m1".into(),
        kind: MarkKind::Unknown,
        outline: Rect::new(0, 0, 1, 1).quad(),
        lettering: 1.0,
        reading: Reading {
            lines,
            ..Reading::default()
        },
        rivals,
        bearing: None,
        statements,
        sign: None,
    };
    let alone = [KeptMark::unkept(seen)];
    let gathered = gather(&alone, &[], clues)?;
    let solved = solve(&gathered.back);
    let weights = weights(&alone, &gathered.back, &solved, Vec::new());
    let own = weights.first().map_or(&[][..], |w| &w.1);
    Ok(alone[0].rivals.iter().map(|r| r.beside(own)).collect())
}

/// For each dated entry of one list on one mark: by how much the dates move it against what says
/// nothing of the date.
fn by_dates(dates: &[Beside]) -> HashMap<&str, f64> {
    let rest = |f: fn(&Beside) -> f64| (1.0 - dates.iter().map(f).sum::<f64>()).max(0.0);
    let (before, after) = (rest(|b| b.before), rest(|b| b.after));
    // Where hardly anything is left undated, the whole is the measure.
    let measure = if before > 1e-3 { after / before } else { 1.0 };
    dates
        .iter()
        .filter(|b| b.before > 0.0)
        .map(|b| (b.entry.as_str(), b.after / b.before / measure.max(1e-9)))
        .collect()
}

/// Towns that the other marks of a picture name, with the chance of each. The same mark on another
/// photograph is no other mark: it can't speak for itself.
pub fn towns_beside(marks: &[KeptMark], id: MarkId) -> Vec<(String, f64)> {
    others(marks, id).flat_map(towns).collect()
}

/// Artists of a list whom the other marks of a picture name: list, key, chance.
pub fn artists_beside(marks: &[KeptMark], id: MarkId) -> Vec<(String, String, f64)> {
    others(marks, id).flat_map(artists).collect()
}

/// The other marks of a picture that can speak for one.
fn others(marks: &[KeptMark], id: MarkId) -> impl Iterator<Item = &KeptMark> {
    let own = marks.iter().find(|m| m.id == id);
    marks
        .iter()
        .filter(move |m| m.id != id && m.is_told())
        .filter(move |m| !own.is_some_and(|o| reads_alike(o, m)))
}

/// Artists whom a mark names, by what it states or by what a person said of the list.
fn artists(m: &KeptMark) -> Vec<(String, String, f64)> {
    let stated = m.statements().into_iter();
    let listed = stated.filter(|s| s.role == Role::Artist).filter_map(|s| {
        let (list, entry) = (s.list.clone()?, s.entry.clone()?);
        Some((list, entry, s.listed))
    });
    let by_person = |(list, entry, chance): (String, String, f64)| match m
        .settled
        .on_list(&list)
        .map(|h| &h.value)
    {
        Some(Named::Entry(t)) => Some((list, t.entry.clone(), 1.0)),
        Some(Named::Unlisted) => None,
        None => Some((list, entry, chance)),
    };
    listed.filter_map(by_person).collect()
}

/// Whether marks of two photographs read so much alike that they may be the same one.
fn reads_alike(a: &KeptMark, b: &KeptMark) -> bool {
    /// Share of signs in common (1 − normalised Levenshtein distance): set by judgement, low,
    /// since a mark left out only takes a little of a soft prior.
    const ALIKE: f64 = 0.5;
    let text = |m: &KeptMark| {
        let lines = m.latest().reading.lines.iter();
        lines
            .map(|l| l.text.to_lowercase())
            .collect::<Vec<_>>()
            .join(" ")
    };
    let together = a.sightings.iter().any(|s| b.on(s.photograph).is_some());
    !together && strsim::normalized_levenshtein(&text(a), &text(b)) >= ALIKE
}

/// Towns that a mark names, with the chance of each.
fn towns(m: &KeptMark) -> Vec<(String, f64)> {
    const TOWNS: &str = "towns";
    match m.settled.on_list(TOWNS).map(|h| &h.value) {
        Some(Named::Entry(t)) => return vec![(t.name.clone(), 1.0)],
        Some(_) => return Vec::new(),
        None => {}
    }
    let list = m.latest().rivals.iter().filter(|r| r.list == TOWNS);
    list.flat_map(|r| &r.proposals)
        .map(|p| (p.name.clone(), p.probability))
        .collect()
}
