//! Who may be meant: letters weighed against a list of artists, with "nobody on the list" a rival.
//!
//! P(artist | sign) ∝ Σ forms P(form | artist) · P(sign | form) · P(years | artist) · P(place | artist).
//! An artist who is on no list has initials as artists have them, and worked when they did.

use super::facts::{self, Fact};
use super::forms::{self, Initials};
use super::letters::{Letters, Packed};
use crate::chance::{self, Tempering};
use crate::gazetteer::{Entry, List, fold};
use std::collections::HashMap;
use std::sync::OnceLock;

/// So many artists who sign with initials stand on no list, whichever list it is: with the 12,788 of the open list three
/// in ten are outside, with a list of a hundred nearly all. Set by judgement; what is told is fitted on cases made with it.
pub const UNLISTED: f64 = 5480.0;

/// Share of the letters of those outside that are as frequent as on the list itself; the others have
/// letters drawn one by one.
const AS_LISTED: f64 = 0.8;
/// Age at which an artist is first at work, and last, in years; how long after a birth without a death,
/// and before a death without a birth (common practice).
const AT_WORK: (i32, i32) = (16, 90);
const AFTER_BIRTH: i32 = 75;
const BEFORE_DEATH: i32 = 60;
/// Share of years that lie outside what the list says, since lists err.
const ERRED: f64 = 0.02;
/// Years over which such a year may lie.
const ANY_YEAR: f64 = 500.0;
/// Chance that a place or nationality told is the artist's own as listed; else it is anybody's.
const OWN_PLACE: f64 = 0.6;
const OWN_NATION: f64 = 0.93;

/// What else is known of the picture.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// First and last year in which it may have been made.
    pub years: Option<(i32, i32)>,
    /// A town or country it comes from.
    pub place: Option<String>,
    /// Nationality of its maker or school.
    pub nationality: Option<String>,
}

/// An artist who may be meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Possible {
    /// Place in the list, from 0.
    pub row: usize,
    /// Chance that this artist is meant.
    pub chance: f64,
    /// The letters of the name that count most for it.
    pub letters: String,
}

/// Who may be meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Who {
    /// Artists, the likeliest first; with `nobody` their chances sum to 1, or to what [`Who::given`] was told.
    pub possible: Vec<Possible>,
    /// Chance that nobody on the list is meant.
    pub nobody: f64,
    /// How many on the list have such initials.
    pub fit: usize,
    /// How many of them may have been at work then and there.
    pub then: usize,
    /// Facts not yet known, the most telling first.
    pub telling: Vec<Fact>,
}

impl Who {
    /// The same where the letters are right with this chance only; the rest is left to what they aren't.
    #[must_use]
    pub fn given(mut self, chance: f64) -> Who {
        self.possible.iter_mut().for_each(|p| p.chance *= chance);
        self.nobody *= chance;
        self
    }
}

/// An artist of the list, as far as weighing needs it.
#[derive(Debug, Clone)]
pub(super) struct Artist {
    /// First and last year at work.
    pub years: Option<(i32, i32)>,
    /// Plain nationality, empty for not known.
    pub nation: String,
    /// Plain text of the places.
    places: String,
}

/// The list of artists, made ready.
#[derive(Debug)]
pub struct Artists {
    pub(super) rows: Vec<Artist>,
    /// Those who may sign so, with the share of their signs.
    by: HashMap<Packed, Vec<(u32, f64)>>,
    alone: Alone,
    fit: Tempering,
}

/// Letters drawn one by one: length, first letters, last letter.
#[derive(Debug, Default)]
struct Alone {
    lengths: [f64; 6],
    first: [f64; 26],
    last: [f64; 26],
}

impl Alone {
    fn of(&self, letters: &[u8]) -> f64 {
        let n = letters.len();
        let at = |l: u8| usize::from(l - b'A');
        let ends = self.last[at(letters[n - 1])];
        let starts: f64 = letters[..n - 1]
            .iter()
            .map(|l| self.first[at(*l)])
            .product();
        self.lengths[n] * ends * starts
    }
}

impl Artist {
    fn of(e: &Entry) -> Artist {
        let years = match e.years() {
            (Some(from), Some(to)) if to - from > 20 => {
                Some((from + AT_WORK.0, to.min(from + AT_WORK.1)))
            }
            (Some(from), Some(to)) => Some((from.min(to - 5), to)),
            (Some(from), None) => Some((from + AT_WORK.0, from + AFTER_BIRTH)),
            (None, Some(to)) => Some((to - BEFORE_DEATH, to)),
            (None, None) => None,
        };
        let extra = |name: &str| {
            let found = e.extra.iter().find(|x| x.0.eq_ignore_ascii_case(name));
            found.map_or("", |x| x.1.as_str())
        };
        let places = [&e.town, &e.address, extra("born at"), extra("died at")];
        Artist {
            years,
            nation: fold::plain(extra("nationality")),
            places: fold::plain(&places.join(" ")),
        }
    }

    /// Chance a year of the span is the one, per year of it; `None` where no years are known.
    fn at_work(&self, (from, to): (i32, i32)) -> Option<f64> {
        let (first, last) = self.years?;
        let both = (to.min(last) - from.max(first) + 1).max(0);
        let within = f64::from(both) / f64::from(last - first + 1) / f64::from(to - from + 1);
        Some((1.0 - ERRED) * within + ERRED / ANY_YEAR)
    }
}

/// Weights of the rows by what is known, and the weight of somebody on no list.
struct Weights {
    rows: Vec<f64>,
    outside: f64,
}

fn fitted() -> Tempering {
    static FIT: OnceLock<Tempering> = OnceLock::new();
    *FIT.get_or_init(|| {
        serde_json::from_str(include_str!("who.json")).expect("who.json is built in and tested")
    })
}

impl Artists {
    /// Makes a list ready; its chances are believed as far as the fit says.
    pub fn new(list: &List) -> Self {
        Self::believed(list.entries.iter(), fitted())
    }

    /// The same of any rows, believed as far as `fit` says.
    pub fn believed<'a>(entries: impl Iterator<Item = &'a Entry>, fit: Tempering) -> Self {
        let mut out = Artists {
            rows: Vec::new(),
            by: HashMap::new(),
            alone: Alone::default(),
            fit,
        };
        for (row, e) in entries.enumerate() {
            let initials = forms::forms(e);
            out.count(row as u32, &initials);
            out.rows.push(Artist::of(e));
        }
        let share = |counts: &mut [f64]| {
            let sum: f64 = counts.iter().map(|c| c + 0.5).sum();
            counts.iter_mut().for_each(|c| *c = (*c + 0.5) / sum);
        };
        share(&mut out.alone.lengths[1..]);
        share(&mut out.alone.first);
        share(&mut out.alone.last);
        out
    }

    fn count(&mut self, row: u32, initials: &Initials) {
        for (packed, share) in initials {
            self.by.entry(*packed).or_default().push((row, *share));
            let letters = packed.letters();
            self.alone.lengths[letters.len()] += share;
            let (last, first) = (letters[letters.len() - 1], &letters[..letters.len() - 1]);
            self.alone.last[usize::from(last - b'A')] += share;
            first
                .iter()
                .for_each(|l| self.alone.first[usize::from(l - b'A')] += share);
        }
    }

    /// How many artists there are.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Weighs letters against the list. `most`: so many artists are told; "nobody" has what those
    /// left out don't.
    pub fn who(&self, letters: &Letters, known: &Known, most: usize) -> Who {
        let weights = self.weights(known);
        let mut scores: HashMap<u32, (f64, f64, Packed)> = HashMap::new();
        let (mut as_listed, mut alone) = (0.0, 0.0);
        for (packed, likelihood) in letters.ranked() {
            alone += likelihood * self.alone.of(&packed.letters());
            for (row, share) in self.by.get(&packed).into_iter().flatten() {
                let s = likelihood * share;
                as_listed += s;
                let own = scores.entry(*row).or_insert((0.0, 0.0, packed));
                own.0 += s;
                if s > own.1 {
                    (own.1, own.2) = (s, packed);
                }
            }
        }
        let n = self.rows.len().max(1) as f64;
        let rate = AS_LISTED * as_listed / n + (1.0 - AS_LISTED) * alone;
        let mut rows: Vec<(u32, Packed, f64)> = scores
            .iter()
            .map(|(r, (s, _, p))| (*r, *p, s * weights.rows[*r as usize] / n))
            .collect();
        rows.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(&b.0)));
        let fit = rows.len();
        let top = rows.first().map_or(0.0, |r| r.2);
        let then = rows.iter().filter(|r| r.2 > top * 1e-3).count();
        // Odds of standing on no list: as many artists there as here would make them even
        let odds = UNLISTED / n;
        let outside = (odds * rate * weights.outside).max(f64::MIN_POSITIVE);
        let sum: f64 = outside + rows.iter().map(|r| r.2).sum::<f64>();
        let mut chances: Vec<f64> = rows.iter().map(|r| r.2 / sum).collect();
        let mut nobody = outside / sum;
        self.fit.apply(&mut chances, &mut nobody);
        let all: Vec<(u32, f64)> = rows.iter().zip(&chances).map(|(r, c)| (r.0, *c)).collect();
        let telling = facts::telling(self, &all, nobody, letters, known);
        let told = rows.iter().zip(chances).take(most);
        Who {
            possible: told
                .map(|((row, packed, _), chance)| Possible {
                    row: *row as usize,
                    chance: chance::clamp(chance),
                    letters: packed.text(),
                })
                .collect(),
            nobody,
            fit,
            then,
            telling,
        }
    }

    /// Forms of that row that may be meant, with their share of it.
    pub(super) fn meant(&self, letters: &Letters) -> HashMap<u32, Vec<(Packed, f64)>> {
        let mut out: HashMap<u32, Vec<(Packed, f64)>> = HashMap::new();
        for (packed, likelihood) in letters.ranked() {
            for (row, share) in self.by.get(&packed).into_iter().flatten() {
                out.entry(*row)
                    .or_default()
                    .push((packed, likelihood * share));
            }
        }
        out
    }

    fn weights(&self, known: &Known) -> Weights {
        let mut rows = vec![1.0; self.rows.len()];
        let mut outside = 1.0;
        if let Some(years) = known.years {
            let each: Vec<Option<f64>> = self.rows.iter().map(|r| r.at_work(years)).collect();
            let told: Vec<f64> = each.iter().flatten().copied().collect();
            let mean = told.iter().sum::<f64>() / told.len().max(1) as f64;
            let mean = mean.max(ERRED / ANY_YEAR);
            rows.iter_mut()
                .zip(each)
                .for_each(|(w, e)| *w *= e.unwrap_or(mean));
            outside *= mean;
        }
        if let Some(nation) = &known.nationality {
            let wanted = fold::plain(nation);
            let nations: Vec<&str> = self.rows.iter().map(|r| r.nation.as_str()).collect();
            outside *= agree(&nations, &wanted, OWN_NATION, &mut rows);
        }
        if let Some(place) = &known.place {
            let wanted = fold::plain(place);
            let places: Vec<&str> = self.rows.iter().map(|r| r.places.as_str()).collect();
            outside *= agree(&places, &wanted, OWN_PLACE, &mut rows);
        }
        Weights { rows, outside }
    }
}

/// Nationalities that are told for one another.
const SAME_NATION: [&[&str]; 2] = [
    &["british", "english", "scottish", "welsh"],
    &["flemish", "belgian", "netherlandish", "dutch"],
];

fn holds(text: &str, wanted: &str) -> bool {
    let group = SAME_NATION.iter().find(|g| g.contains(&wanted));
    let any = |w: &str| {
        let padded = format!(" {text} ");
        padded.contains(&format!(" {w} "))
    };
    any(wanted) || group.is_some_and(|g| g.iter().any(|w| any(w)))
}

/// Weighs rows by whether what is told is theirs as listed: `own` of what is told is the artist's own,
/// the rest anybody's. Gives the weight of somebody who isn't listed.
fn agree(texts: &[&str], wanted: &str, own: f64, rows: &mut [f64]) -> f64 {
    let known = texts.iter().filter(|t| !t.is_empty()).count().max(1) as f64;
    let same: Vec<bool> = texts.iter().map(|t| holds(t, wanted)).collect();
    let share = (same.iter().filter(|s| **s).count() as f64 + 0.5) / (known + 1.0);
    for ((w, text), same) in rows.iter_mut().zip(texts).zip(same) {
        *w *= match (text.is_empty(), same) {
            (true, _) => share,
            (_, true) => own + (1.0 - own) * share,
            (_, false) => (1.0 - own) * share,
        };
    }
    share
}
