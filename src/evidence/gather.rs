//! From kept marks and observations to plain statements about dates.
//!
//! What a person decided counts as nearly sure, what the program read with the chance of the signs
//! that it rests on. A clue counts by its degree: law nearly sure, usual practice nine in ten (our
//! own choice), weak clues not at all: they are told, but limit nothing.

use super::{Back, Claim, Mark, Reading, Role, Years, observe};
use crate::dating::clues::{Clue, Clues, Sure};
use crate::dating::edtf::Edtf;
use crate::decisions::{Bearer, KeptMark, Lettering, Named, Observation, standing};
use crate::error::Result;
use crate::proposals::Rivals;
use crate::readings::{self, Line};

/// Chance that a decision of a person is right; slips of the finger happen.
const PERSON: f64 = 0.98;
/// Share of the proposals of a bearer that is taken to hold beyond their own chance, which was fitted
/// on made backs: our own choice.
const PHOTOGRAPH: f64 = 0.8;
/// Least chance for which a proposed bearer, or a bridge, counts at all.
const PLACED: f64 = 0.5;
const BRIDGED: f64 = 0.3;
/// Share of a firm's labels that were used within the years that the list gives.
const WITHIN: f64 = 0.9;
/// Old stock stayed in use for so many years (common practice: two to five).
const STOCK: i32 = 5;
/// Directories were compiled late in the year before the one in their title, so a firm may have
/// come a year earlier (J. Simon, National Portrait Gallery, 2006 and later).
const EARLIER: i32 = 1;
/// Readings of a year with less chance are left out.
const LEAST: f64 = 0.01;

/// Chance that a clue of this degree holds.
pub(super) fn worth(sure: Sure) -> f64 {
    match sure {
        Sure::Hard => 0.99,
        Sure::Usual => 0.9,
        Sure::Weak => 0.0,
    }
}

/// Statements about one back.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Gathered {
    /// For the solver.
    pub back: Back,
    /// Numbers of marks that are dated but whose part nobody has told.
    pub unplaced: Vec<String>,
}

/// Gathers what dates the marks of one picture.
///
/// * `marks`: those of the picture, in order.
/// * `journal`: observations of the picture.
///
/// # Errors
/// `Kind::Text` if the built-in list of observations were broken.
pub fn gather(marks: &[KeptMark], journal: &[Observation], clues: &Clues) -> Result<Gathered> {
    let mut out = Gathered::default();
    for m in marks.iter().filter(|m| m.settled.not_a_mark.is_none()) {
        let on = m.settled.on.as_ref().map(|h| h.value);
        let bearer = on.map(|o| o.0);
        let mut claims = named(m, bearer);
        claims.extend(worded(m, clues));
        claims.retain(|c| !c.readings.is_empty());
        if claims.is_empty() && on.and_then(|o| o.1).is_none() {
            continue;
        }
        let mark = Mark {
            id: m.id.to_string(),
            name: format!("{} {}", kind(m), m.id),
            bearer,
            bridges: on.and_then(|o| o.1),
            proposed: match on {
                Some(_) => Vec::new(),
                None => placed(m),
            },
            claims,
        };
        if bearer.is_none() {
            out.unplaced.push(mark.id.clone());
        }
        out.back.marks.push(mark);
    }
    let list = observe::features()?;
    out.back
        .marks
        .extend(observe::observed(&standing(journal), &list));
    Ok(out)
}

/// Where a mark may be, as the photograph shows it: the likeliest part only, alone and with the one
/// that it may bridge to. Its role stays the weaker one: the part isn't younger than the mark.
fn placed(m: &KeptMark) -> Vec<(Bearer, Option<Bearer>, f64)> {
    let Some(bearing) = m.bearing() else {
        return Vec::new();
    };
    let mut sums: Vec<(Bearer, f64)> = Vec::new();
    for (part, p) in &bearing.on {
        let b = Bearer::from(*part);
        match sums.iter_mut().find(|s| s.0 == b) {
            Some(s) => s.1 += p,
            None => sums.push((b, *p)),
        }
    }
    let best = sums.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let Some((bearer, chance)) = best.map(|b| (b.0, b.1 * PHOTOGRAPH)) else {
        return Vec::new();
    };
    if chance < PLACED {
        return Vec::new();
    }
    let bridge = bearing
        .bridges
        .map(|(part, q)| (Bearer::from(part), q))
        .filter(|(other, q)| *other != bearer && *q >= BRIDGED);
    match bridge {
        None => vec![(bearer, None, chance)],
        Some((other, q)) => vec![
            (bearer, None, chance * (1.0 - q)),
            (bearer, Some(other), chance * q),
        ],
    }
}

fn kind(m: &KeptMark) -> String {
    m.kind()
        .as_str()
        .replace('_', " ")
        .replace("unknown", "mark")
}

/// Whether an entry of this list on that part is its maker.
fn role(list: &str, bearer: Option<Bearer>) -> Role {
    match (list, bearer) {
        ("framers", Some(Bearer::Frame | Bearer::Slip))
        | ("colourmen", Some(Bearer::Support | Bearer::Stretcher)) => Role::Maker,
        _ => Role::Later,
    }
}

fn first_year(edtf: &str) -> Option<i32> {
    let day = Edtf::parse(edtf.trim()).ok()?.earliest()?;
    i32::try_from(day.year).ok()
}

fn last_year(edtf: &str) -> Option<i32> {
    let day = Edtf::parse(edtf.trim()).ok()?.latest()?;
    i32::try_from(day.year).ok()
}

/// Readings from entries of lists. Towns have no dates; an artist's life doesn't date the mark.
fn named(m: &KeptMark, bearer: Option<Bearer>) -> Vec<Claim> {
    let dates = |list: &str| !matches!(list, "towns" | "artists");
    let mut out = Vec::new();
    for (list, held) in &m.settled.named {
        if let (Named::Entry(t), true) = (&held.value, dates(list)) {
            let e = Entry {
                list,
                key: &t.entry,
                name: &t.name,
                from: &t.not_before,
                to: &t.not_after,
                chance: PERSON,
            };
            out.push(Claim {
                about: format!("list of {list}"),
                readings: e.readings(bearer),
                source: t.source.clone(),
                by_person: true,
            });
        }
    }
    let undecided = |r: &&Rivals| dates(&r.list) && m.settled.on_list(&r.list).is_none();
    for r in m.latest().rivals.iter().filter(undecided) {
        let mut readings = Vec::new();
        for p in &r.proposals {
            let e = Entry {
                list: &p.list,
                key: &p.entry,
                name: &p.name,
                from: &p.not_before,
                to: &p.not_after,
                chance: p.probability,
            };
            readings.extend(e.readings(bearer));
        }
        out.push(Claim {
            about: format!("list of {}", r.list),
            readings,
            source: r
                .proposals
                .first()
                .map(|p| p.source.clone())
                .unwrap_or_default(),
            by_person: false,
        });
    }
    out
}

struct Entry<'a> {
    list: &'a str,
    key: &'a str,
    name: &'a str,
    from: &'a str,
    to: &'a str,
    chance: f64,
}

impl Entry<'_> {
    /// The years of the list, and with a smaller chance those of old stock too.
    fn readings(&self, bearer: Option<Bearer>) -> Vec<Reading> {
        let years = Years {
            from: first_year(self.from),
            to: last_year(self.to),
        };
        if years == Years::OPEN || self.chance < LEAST {
            return Vec::new();
        }
        // A show has its days; only firms have stock
        let shown = self.list == "exhibitions";
        let wide = Years {
            from: years.from.map(|f| f - if shown { 0 } else { EARLIER }),
            to: years.to.map(|t| t + if shown { 0 } else { STOCK }),
        };
        let stated = Reading {
            words: format!("it names {} ({})", self.name, self.key),
            chance: self.chance * if shown { 1.0 } else { WITHIN },
            years,
            widest: wide,
            role: role(self.list, bearer),
            entry: Some(self.key.to_owned()),
        };
        if shown {
            return vec![stated];
        }
        let lasting = Reading {
            words: format!(
                "it names {} ({}) and was put on within {STOCK} years of the last date listed",
                self.name, self.key
            ),
            chance: self.chance * (1.0 - WITHIN),
            years: wide,
            ..stated.clone()
        };
        vec![stated, lasting]
    }
}

/// Readings from clues in the wording.
fn worded(m: &KeptMark, clues: &Clues) -> Vec<Claim> {
    let (lines, person): (Vec<Line>, bool) = match m.settled.lettering.as_ref().map(|h| &h.value) {
        Some(Lettering::Unreadable) => return Vec::new(),
        Some(Lettering::Read(typed)) => match readings::from_typed(&typed.join(" / ")) {
            Ok(lines) => (lines, true),
            Err(_) => return Vec::new(),
        },
        None => (m.latest().reading.lines.clone(), false),
    };
    let text: Vec<&str> = lines.iter().map(|l| l.text.as_str()).collect();
    let dating = clues.date(&text.join("\n"));
    dating
        .clues
        .iter()
        .filter_map(|c| {
            let line = lines.get(c.line)?;
            let read = chance_of(line, &c.words, person);
            let readings = if c.clue == "year written out" {
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
        let mut add = |from: Option<i32>, to: Option<i32>, p: f64, more: &str| {
            if (from.is_some() || to.is_some()) && p >= LEAST {
                out.push(Reading::new(format!("{words}{more}"), p, from, to));
            }
        };
        let both = before.min(after);
        if from.is_none() {
            add(None, to, share * after, "");
        } else if to.is_none() || after == 0.0 {
            add(from, None, share * before, "");
        } else if before == 0.0 {
            add(None, to, share * after, "");
        } else {
            add(from, to, share * both, "");
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
        let d = clues.date("High Street, London, EC");
        let r = clue_readings(&d.clues[0], 0.9);
        assert_eq!(r.len(), 1);
        assert_eq!(r[0].years, Years::new(Some(1857), None));
        let d = clues.date("By appointment to Her Majesty");
        let r = clue_readings(&d.clues[0], 0.9);
        assert_eq!(r.len(), 2);
        assert_eq!(r[1].years, Years::new(Some(1952), Some(2022)));
        assert!((r[0].chance - 0.45 * 0.99).abs() < 1e-9);
        assert!(clue_readings(&clues.date("Est. 1832").clues[0], 0.9).is_empty());
    }
}
