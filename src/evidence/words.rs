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

/// What a mark says, with the mark in it: `printed label 1b on the frame names Orme & Son (1904 to 1911)`.
fn said(s: &super::Side) -> String {
    let year = |t: &str| match (s.years.from, s.years.to) {
        // "the year on it is 1873" says its year
        (Some(f), Some(l)) if f == l && t.contains(&f.to_string()) => String::new(),
        _ if s.years == Years::OPEN => String::new(),
        _ => format!(" ({})", s.years.words()),
    };
    let words = s.words.as_str();
    let told = if words.is_empty() {
        s.name.clone()
    } else if let Some(rest) = words.strip_prefix("it ") {
        format!("{} {rest}", s.name)
    } else if words.contains(" on it ") {
        words.replacen(" on it ", &format!(" on {} ", s.name), 1)
    } else {
        format!("{}: {words}", s.name)
    };
    format!("{told}{}", year(words))
}

impl Conflict {
    /// Both sides in one clause, without a full stop: `printed label 1b on the frame names Orme & Son (1904
    /// to 1911), but the year on exhibition label 2c over the frame and the backing is 1873`.
    pub fn sides(&self) -> String {
        let mut told: Vec<String> = Vec::new();
        let mut half = |sides: &[super::Side]| {
            let mut out: Vec<String> = Vec::new();
            for s in sides.iter().map(said) {
                // What stands on both sides is said once
                if !told.contains(&s) {
                    told.push(s.clone());
                    out.push(s);
                }
            }
            out.join(" and ")
        };
        let (later, earlier) = (half(&self.later), half(&self.earlier));
        match (later.is_empty(), earlier.is_empty()) {
            (false, false) => format!("{later}, but {earlier}"),
            _ => later + &earlier,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Side;

    fn side(name: &str, words: &str, from: i32, to: i32) -> Side {
        Side {
            mark: "1b".into(),
            name: name.into(),
            words: words.into(),
            years: Years::new(Some(from), Some(to)),
            chance: 0.9,
        }
    }

    #[test]
    fn both_sides_of_a_conflict_are_named_by_firm_and_mark_and_said_once() {
        let firm = side(
            "printed label 1b on the frame",
            "it names Orme & Son (orme-2)",
            1904,
            1911,
        );
        let year = side(
            "exhibition label 2c on the frame",
            "the year on it is 1873",
            1873,
            1873,
        );
        let c = Conflict {
            earlier: vec![year.clone()],
            later: vec![firm, year],
            chance: 0.8,
            dissolves: Vec::new(),
            may_be: Vec::new(),
        };
        assert_eq!(
            c.sides(),
            "printed label 1b on the frame names Orme & Son (orme-2) (1904 to 1911) and the year on exhibition label 2c on the frame is 1873"
        );
        let c = Conflict {
            later: c.later[..1].to_vec(),
            ..c
        };
        assert_eq!(
            c.sides(),
            "printed label 1b on the frame names Orme & Son (orme-2) (1904 to 1911), but the year on exhibition label 2c on the frame is 1873"
        );
    }
}
