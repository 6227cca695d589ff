//! From the wording of a mark to plain statements about dates.

use super::gather::{LEAST, PERSON, first_year, last_year, worth};
use super::{Claim, Reading, Years};
use crate::dating::clues::{Clue, Clues};
use crate::dating::kinds::{Told, YearKind};
use crate::decisions::{KeptMark, Lettering, corrected};
use crate::readings::{self, Line};
use crate::statements::{Role, Statement};

/// A statement of less chance tells nothing of the years in it.
const STATED: f64 = 0.6;

/// What a year within a statement of this role is the year of; `None`: the words beside it tell.
fn kind_of(role: Role) -> Option<YearKind> {
    Some(match role {
        Role::ExhibitionYear | Role::Date => YearKind::Mark,
        Role::SaleDate => YearKind::Event,
        Role::Title => YearKind::Work,
        Role::CatalogueNumber
        | Role::Lot
        | Role::StockNumber
        | Role::Price
        | Role::Size
        | Role::UnknownNumber
        | Role::Address
        | Role::ArtistAddress => YearKind::Number,
        _ => return None,
    })
}

/// What the statements of a mark tell of the stretches of its text (its lines joined by line breaks).
fn told(text: &str, lines: &[Line], stated: &[Statement]) -> Vec<Told> {
    let mut starts = Vec::with_capacity(lines.len());
    let mut at = 0;
    for l in lines {
        starts.push(at);
        at += l.text.len() + 1;
    }
    let one = |s: &Statement| {
        let kind = kind_of(s.role).filter(|_| s.chance >= STATED)?;
        let from = *starts.get(s.line)?;
        let start = from + text.get(from..)?.find(s.words.as_str())?;
        Some(Told {
            start,
            end: start + s.words.len(),
            kind,
        })
    };
    stated.iter().filter_map(one).collect()
}

/// Readings from clues in the wording.
pub(super) fn worded(m: &KeptMark, clues: &Clues) -> Vec<Claim> {
    let (lines, person): (Vec<Line>, bool) = match m.settled.lettering.as_ref().map(|h| &h.value) {
        Some(Lettering::Unreadable) => return Vec::new(),
        Some(Lettering::Read(typed)) => match readings::from_typed(&typed.join(" / ")) {
            Ok(lines) => (lines, true),
            Err(_) => return Vec::new(),
        },
        None => (m.latest().reading.lines.clone(), false),
    };
    let text: Vec<&str> = lines.iter().map(|l| l.text.as_str()).collect();
    let text = text.join("\n");
    // What a person typed may not be what was stated of the program's reading: words alone tell then, and what
    // people said of them
    let read = if person {
        &[][..]
    } else {
        &m.latest().statements[..]
    };
    let stated: Vec<Statement> = corrected(read, &lines, &m.settled.said)
        .into_iter()
        .map(|s| s.statement)
        .collect();
    let dating = clues.date_told(&text, &told(&text, &lines, &stated));
    dating
        .clues
        .iter()
        .filter_map(|c| {
            let line = lines.get(c.line)?;
            let read = chance_of(line, &c.words, person);
            let readings = if c.id == "year" {
                years(line, c, person)
            } else {
                clue_readings(c, read)
            };
            Some(Claim {
                about: format!("wording “{}”", c.words),
                readings,
                source: c.source.clone(),
                by_person: person,
            })
        })
        .collect()
}

/// Places of the words within the line's characters.
fn span(line: &Line, words: &str) -> Option<std::ops::Range<usize>> {
    let whole: String = line.characters.iter().map(|c| c.text.as_str()).collect();
    let at = whole.find(words)?;
    let (mut start, mut end, mut byte) = (None, 0, 0);
    for (i, c) in line.characters.iter().enumerate() {
        if byte >= at && start.is_none() && !c.text.is_empty() {
            start = Some(i);
        }
        byte += c.text.len();
        if byte >= at + words.len() {
            end = i + 1;
            break;
        }
    }
    start.map(|s| s..end)
}

/// Chance that these words of the line are read right: at least that of the whole line.
fn chance_of(line: &Line, words: &str, person: bool) -> f64 {
    if person {
        return PERSON;
    }
    let signs = span(line, words).map(|s| {
        line.characters[s]
            .iter()
            .map(|c| c.confidence)
            .product::<f64>()
    });
    signs.unwrap_or(0.0).max(line.confidence).clamp(0.0, PERSON)
}

/// What a clue says, once for each of its spans, with the weaker side left off where it is weak.
fn clue_readings(c: &Clue, read: f64) -> Vec<Reading> {
    let spans: Vec<[Option<String>; 2]> = if c.spans.is_empty() {
        vec![[c.not_before.clone(), c.not_after.clone()]]
    } else {
        c.spans.clone()
    };
    let share = read / spans.len() as f64;
    let mut out = Vec::new();
    for [from, to] in &spans {
        let from = from.as_deref().and_then(first_year);
        let to = to.as_deref().and_then(last_year);
        let (before, after) = (worth(c.sure), worth(c.sure_after.unwrap_or(c.sure)));
        let words = if spans.len() > 1 {
            format!(
                "“{}” on it is of the years {}",
                c.words,
                Years { from, to }.words()
            )
        } else {
            format!("it reads “{}”", c.words)
        };
        let steps = c.margin.steps();
        let most = steps.last().map_or(0, |s| s.0);
        let mut add = |from: Option<i32>, to: Option<i32>, p: f64, more: &str| {
            if (from.is_some() || to.is_some()) && p >= LEAST {
                let reading = Reading::new(format!("{words}{more}"), p, from, to);
                // A conflict is only named where even the longest use leaves nothing
                let widest = Years {
                    from,
                    to: to.map(|t| t + most),
                };
                out.push(Reading { widest, ..reading });
            }
        };
        let both = before.min(after);
        let Some(last) = to.filter(|_| after > 0.0) else {
            add(from, None, share * before, "");
            continue;
        };
        let (from, certain) = match (from, before > 0.0) {
            (Some(f), true) => (Some(f), both),
            _ => (None, after),
        };
        // Old stock and habit go on: the last year is no edge
        for (late, part) in steps {
            let more = if late == 0 {
                String::new()
            } else {
                format!(" and was used up to {late} years longer")
            };
            add(from, Some(last + late), share * certain * part, &more);
        }
        if from.is_some() && before > both {
            add(
                from,
                None,
                share * (before - both),
                " and was still used later",
            );
        }
    }
    out
}

/// A year written out, with other readings of its figures: the mark is mostly of that year; a later
/// hand may refer back (usual practice).
fn years(line: &Line, c: &Clue, person: bool) -> Vec<Reading> {
    let mut found: Vec<(i32, f64)> = Vec::new();
    let read = chance_of(line, &c.words, person);
    if let Ok(y) = c.words.trim().parse() {
        found.push((y, read));
    }
    if let (false, Some(span)) = (person, span(line, &c.words)) {
        let signs = &line.characters[span];
        for (i, sign) in signs.iter().enumerate() {
            for (other, p) in &sign.alternatives {
                let figure = other.len() == 1 && other.bytes().all(|b| b.is_ascii_digit());
                let text: String = signs
                    .iter()
                    .enumerate()
                    .map(|(k, s)| {
                        if k == i {
                            other.as_str()
                        } else {
                            s.text.as_str()
                        }
                    })
                    .collect();
                let rest: f64 = signs
                    .iter()
                    .enumerate()
                    .filter(|(k, _)| *k != i)
                    .map(|(_, s)| s.confidence)
                    .product();
                if let Ok(y) = text.trim().parse::<i32>()
                    && figure
                    && (1500..2100).contains(&y)
                    && found.iter().all(|f| f.0 != y)
                {
                    found.push((y, p * rest));
                }
            }
        }
    }
    let total: f64 = found.iter().map(|f| f.1).sum();
    let scale = if total > 1.0 { 1.0 / total } else { 1.0 };
    let mut out = Vec::new();
    for (y, p) in found {
        let p = p * scale;
        if p < LEAST {
            continue;
        }
        let words = format!("the year on it is {y}");
        let back = format!("{words} and a later hand looks back to it");
        out.push(Reading::new(words, p * 0.8, Some(y), Some(y)));
        out.push(Reading::new(back, p * 0.15, Some(y), None));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::readings::Character;

    fn line(text: &str) -> Line {
        let characters = text
            .chars()
            .map(|c| Character::sure(&c.to_string(), 0.9))
            .collect();
        Line::from_characters(characters, Rect::new(0, 0, 1, 1), Rect::new(0, 0, 1, 1))
    }

    #[test]
    fn a_year_is_offered_with_the_other_readings_of_its_figures() {
        let mut l = line("Orme 1873");
        l.characters[7].confidence = 0.6;
        l.characters[7].alternatives = vec![("9".into(), 0.3), ("T".into(), 0.05)];
        let l = Line::from_characters(l.characters, l.bounds, l.within);
        let clues = Clues::built_in().unwrap().date(&l.text);
        let r = years(&l, &clues.clues[0], false);
        let told: Vec<_> = r.iter().map(|r| (r.words.as_str(), r.years)).collect();
        assert_eq!(told[0].0, "the year on it is 1873");
        assert_eq!(told[2].0, "the year on it is 1893");
        assert_eq!(told[2].1, Years::new(Some(1893), Some(1893)));
        assert_eq!(told.len(), 4);
        let other = r[2].chance;
        assert!((other - 0.3 * 0.9f64.powi(3) * 0.8).abs() < 1e-9, "{other}");
    }

    #[test]
    fn a_weak_side_of_a_clue_limits_nothing() {
        let clues = Clues::built_in().unwrap();
        let d = clues.date("Thos. Poll, carver");
        let weak = &d.clues[0];
        assert!(clue_readings(weak, 0.9).is_empty());
        let d = clues.date("By appointment to Her Majesty");
        let r = clue_readings(&d.clues[0], 0.9);
        let of = |to: i32| -> f64 {
            let one = |r: &&Reading| r.years.to.is_some_and(|t| (to..to + 20).contains(&t));
            r.iter().filter(one).map(|r| r.chance).sum()
        };
        assert!((of(1901) - 0.45 * 0.99).abs() < 0.01, "{r:?}");
        assert!((of(2022) - 0.45 * 0.99).abs() < 0.01, "{r:?}");
    }

    #[test]
    fn the_last_year_of_a_clue_is_no_edge() {
        let clues = Clues::built_in().unwrap();
        let d = clues.date("High Street, London, EC");
        let r = clue_readings(&d.clues[0], 0.9);
        assert_eq!(r[0].years, Years::new(Some(1857), Some(1917)));
        assert!((0.6..0.75).contains(&r[0].chance), "{r:?}");
        let to: Vec<i32> = r.iter().filter_map(|r| r.years.to).collect();
        assert!(
            to.windows(2).all(|w| w[0] < w[1])
                && to.last().is_some_and(|t| (1930..1945).contains(t)),
            "{to:?}"
        );
        assert!(r.iter().map(|r| r.chance).sum::<f64>() <= 0.9);
        // A dated event has no margin
        let d = clues.date("Festival of Britain");
        assert_eq!(clue_readings(&d.clues[0], 0.9).len(), 1);
    }

    #[test]
    fn a_year_in_a_statement_is_of_what_is_stated() {
        let l = line("Lot 12 The Flood 1868");
        let stated = |role, words: &str| Statement {
            role,
            value: words.into(),
            words: words.into(),
            line: 0,
            chance: 0.9,
            list: None,
            entry: None,
            listed: 0.0,
            places: Vec::new(),
        };
        let lines = [l];
        let told_of = |role| told(&lines[0].text, &lines, &[stated(role, "The Flood 1868")]);
        assert_eq!(told_of(Role::Title)[0].kind, YearKind::Work);
        assert_eq!(told_of(Role::Maker), vec![]);
        let clues = Clues::built_in().unwrap();
        let d = clues.date_told(&lines[0].text, &told_of(Role::Title));
        assert_eq!(d.edtf, "[1868..]");
        assert_eq!(clues.date(&lines[0].text).edtf, "1868");
    }
}
