//! From kept marks and observations to plain statements about dates.
//!
//! What a person decided counts as nearly sure, what the program read with the chance of the signs
//! that it rests on. A clue counts by its degree: law nearly sure, usual practice nine in ten (our
//! own choice), weak clues not at all: they are told, but limit nothing.

use super::worded::worded;
use super::{Back, Claim, Mark, Reading, Role, Years, copies, observe};
use crate::dating::clues::{Clues, Sure};
use crate::dating::edtf::Edtf;
use crate::decisions::{Bearer, KeptMark, Named, Observation, standing};
use crate::error::Result;
use crate::proposals::Rivals;

/// Chance that a decision of a person is right; slips of the finger happen.
pub(super) const PERSON: f64 = 0.98;
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
pub(super) const LEAST: f64 = 0.01;

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
    let copies = copies::of(marks);
    for m in marks.iter().filter(|m| m.is_told()) {
        let on = m.settled.on.as_ref().map(|h| h.value);
        let bearer = on.map(|o| o.0);
        let mut claims = named(m, bearer);
        claims.extend(worded(m, clues));
        claims.retain(|c| !c.readings.is_empty());
        // What two copies of a label say is said once
        if copies.iter().any(|c| c.copy == m.id) {
            claims.clear();
        }
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

pub(super) fn first_year(edtf: &str) -> Option<i32> {
    let day = Edtf::parse(edtf.trim()).ok()?.earliest()?;
    i32::try_from(day.year).ok()
}

pub(super) fn last_year(edtf: &str) -> Option<i32> {
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
