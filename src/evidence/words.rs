//! Evidence in words that the trade uses. Nothing here says more than the chances do: the words of
//! doubt are put to it by who writes the sentence.

use super::{Conflict, Mark, Reading, Role, Years};
use crate::decisions::Bearer;

/// `printed label 1b on the frame`.
pub(super) fn mark_on(mark: &Mark) -> String {
    match (mark.bearer, mark.bridges) {
        (Some(a), Some(b)) => format!("{} over {} and {}", mark.name, part(a), part(b)),
        (Some(a), None) => format!("{} on {}", mark.name, part(a)),
        (None, _) => mark.name.clone(),
    }
}

/// `the frame`.
pub fn part(b: Bearer) -> String {
    format!("the {}", b.as_str())
}

impl Years {
    /// `1868 to 1875`, `not before 1868`, `not after 1875`, `1868`.
    pub fn words(&self) -> String {
        match (self.from, self.to) {
            (None, None) => "any year".into(),
            (Some(f), Some(t)) if f == t => f.to_string(),
            (Some(f), Some(t)) => format!("{f} to {t}"),
            (Some(f), None) => format!("not before {f}"),
            (None, Some(t)) => format!("not after {t}"),
        }
    }
}

/// What may be the case apart from a misreading.
pub(super) fn may_be<'a>(items: impl Iterator<Item = (&'a Mark, &'a Reading)>) -> Vec<String> {
    let items: Vec<_> = items.collect();
    let mut out: Vec<String> = Vec::new();
    let mut add = |s: String| {
        if !out.contains(&s) {
            out.push(s);
        }
    };
    let same = items.iter().all(|(m, _)| m.id == items[0].0.id);
    if same {
        add(format!(
            "a part of {} was added later, or it is a later copy",
            items[0].0.name
        ));
        return out;
    }
    for (mark, reading) in &items {
        if reading.role == Role::Later || mark.bridges.is_some() {
            add(format!("{} was moved from another object", mark.name));
        }
    }
    for (mark, reading) in &items {
        let Some(b) = mark.bearer else { continue };
        if reading.role == Role::Maker {
            add(match b {
                Bearer::Frame | Bearer::Slip => {
                    format!("{} came to the picture later (a marriage)", part(b))
                }
                Bearer::Support => "the support was used again".into(),
                _ => format!("{} was put in later or used again", part(b)),
            });
        }
    }
    out
}

impl Conflict {
    /// Both sides in one clause, without a full stop: `printed label 1b on the frame (names Orme,
    /// 1904 to 1911) and exhibition label 2c over the frame and the backing (the year on it is 1873)`.
    pub fn sides(&self) -> String {
        let mut all: Vec<String> = Vec::new();
        for s in self.later.iter().chain(&self.earlier) {
            let said = if s.words.is_empty() {
                s.name.clone()
            } else {
                format!("{} ({}: {})", s.name, s.words, s.years.words())
            };
            if !all.contains(&said) {
                all.push(said);
            }
        }
        match all.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
            _ => all.join(""),
        }
    }
}
