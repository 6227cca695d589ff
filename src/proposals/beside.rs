//! What is known beside the mark: decisions so far, other marks of the picture. A soft prior.
//!
//! Each row's weight is multiplied by a factor that stays within [`LEAST`] and [`MOST`], so that it
//! can settle what the lettering leaves open and never overrule what it says; nothing known gives
//! a factor of 1. Strengths set by judgement.

use super::explain::TIES;
use super::{Proposal, Rivals};
use crate::gazetteer::Entry;
use serde::{Deserialize, Serialize};

/// What is known beside the mark; empty: nothing, the prior is off.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Beside {
    /// How often a person took an entry: list, key, times.
    pub taken: Vec<(String, String, u32)>,
    /// Towns that other marks of the picture name, with the chance of each.
    pub towns: Vec<(String, f64)>,
    /// Artists that other marks of the picture name: list, key, chance.
    pub artists: Vec<(String, String, f64)>,
    /// First and last year that other evidence leaves for the picture.
    pub years: Option<(i32, i32)>,
}

/// What is known beside the mark, as far as it concerns one entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Weight {
    /// List.
    pub list: String,
    /// Key of the entry.
    pub entry: String,
    /// What the entry's weight is multiplied by, within `LEAST` and `MOST`.
    pub factor: f64,
    /// Sentences for the person.
    pub because: Vec<String>,
}

/// Least and greatest factor.
const LEAST: f64 = 0.25;
const MOST: f64 = 4.0;

/// Changes of a weight by less than this factor, up or down, aren't told.
const TELLING: f64 = 1.4;

/// A chance that moved by less isn't told beside the one by the lettering alone.
const WORTH_TELLING: f64 = 0.02;

/// A town that another mark names surely multiplies by 1 + this.
const TOWN: f64 = 1.0;

/// An artist whom another mark names surely multiplies by 1 + this.
const ARTIST: f64 = 3.0;

/// Before what was so before anything beside the mark was looked at.
const ALONE: &str = "By the lettering alone ";

/// Years between an entry's and the picture's at which its weight is halved: boards lay in shops,
/// and frames were changed.
const HALVED: f64 = 12.0;

impl Beside {
    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        self.taken.is_empty()
            && self.towns.is_empty()
            && self.artists.is_empty()
            && self.years.is_none()
    }

    /// Factor on an entry's weight.
    pub fn factor(&self, e: &Entry) -> f64 {
        if self.is_empty() {
            return 1.0;
        }
        (self.met(&e.list, &e.entry, &e.town) * self.period(e)).clamp(LEAST, MOST)
    }

    /// Weight of an entry that was proposed by the lettering alone.
    ///
    /// * `dates`: by how much the other dates of the picture make it likelier (over 1) or less
    ///   likely, beside those of the same list without a date. The years of `self` aren't looked at.
    pub fn weight(&self, p: &Proposal, dates: f64) -> Weight {
        let mut because = self.met_told(&p.list, &p.entry, &p.town);
        if dates < 1.0 / TELLING {
            because.push("The dates of this picture weigh against its years.".into());
        } else if dates > TELLING {
            because.push("The dates of this picture weigh for its years.".into());
        }
        Weight {
            list: p.list.clone(),
            entry: p.entry.clone(),
            factor: (self.met(&p.list, &p.entry, &p.town) * dates).clamp(LEAST, MOST),
            because,
        }
    }

    /// What speaks for or against the entry, in sentences.
    pub fn told(&self, e: &Entry) -> Vec<String> {
        let mut out = self.met_told(&e.list, &e.entry, &e.town);
        if self.period(e) < 1.0 / TELLING {
            out.push(
                "Its years lie apart from those that other evidence leaves for the picture; that weighs a little against it."
                    .into(),
            );
        }
        out
    }

    fn met(&self, list: &str, entry: &str, town: &str) -> f64 {
        let often = 1.0 + self.often(list, entry).ln_1p();
        often * (1.0 + TOWN * self.town(town)) * (1.0 + ARTIST * self.artist(list, entry))
    }

    fn met_told(&self, list: &str, entry: &str, town: &str) -> Vec<String> {
        let mut out = Vec::new();
        let times = self.often(list, entry) as u32;
        if times > 0 {
            out.push(match times {
                1 => "You took this entry once before; that weighs a little for it.".to_string(),
                n => format!("You took this entry {n} times before; that weighs a little for it."),
            });
        }
        if ARTIST * self.artist(list, entry) >= TELLING - 1.0 {
            out.push(
                "Another mark of this picture names the same artist; that weighs for it.".into(),
            );
        }
        if TOWN * self.town(town) >= TELLING - 1.0 {
            out.push(format!(
                "Another mark of this picture names {town}; that weighs a little for it."
            ));
        }
        out
    }

    fn often(&self, list: &str, entry: &str) -> f64 {
        let same = self
            .taken
            .iter()
            .filter(|(l, k, _)| l == list && k == entry);
        same.map(|t| f64::from(t.2)).sum()
    }

    fn artist(&self, list: &str, entry: &str) -> f64 {
        let same = self
            .artists
            .iter()
            .filter(|(l, k, _)| l == list && k == entry);
        same.map(|a| a.2).fold(0.0, f64::max).clamp(0.0, 1.0)
    }

    fn town(&self, town: &str) -> f64 {
        let town = town.trim().to_lowercase();
        let same = self
            .towns
            .iter()
            .filter(|(t, _)| !town.is_empty() && t.trim().to_lowercase() == town);
        same.map(|t| t.1).fold(0.0, f64::max).clamp(0.0, 1.0)
    }

    /// 1 where the spans meet or either isn't known; halved for every [`HALVED`] years apart.
    fn period(&self, e: &Entry) -> f64 {
        let Some((from, to)) = self.years else {
            return 1.0;
        };
        let (first, last) = e.years();
        let after = first.map_or(0, |f| f - to).max(0);
        let before = last.map_or(0, |l| from - l).max(0);
        0.5f64.powf(f64::from(after.max(before)) / HALVED)
    }
}

impl Rivals {
    /// The same rivals with what is known beside the mark: each weight is multiplied by its factor,
    /// that of "unlisted" stays, and all sum to 1 again. Entries below the cut, which stand in
    /// "unlisted", aren't moved.
    pub fn beside(&self, weights: &[Weight]) -> Rivals {
        let mut out = self.clone();
        let mut sum = self.unlisted;
        for p in &mut out.proposals {
            let mut own = weights
                .iter()
                .filter(|w| w.list == p.list && w.entry == p.entry);
            if let Some(w) = own.next() {
                p.probability *= w.factor;
                p.agreement.because.extend(w.because.iter().cloned());
            }
            sum += p.probability;
        }
        if sum <= 0.0 {
            return self.clone();
        }
        out.unlisted /= sum;
        for (p, before) in out.proposals.iter_mut().zip(&self.proposals) {
            p.probability /= sum;
            if (p.probability - before.probability).abs() >= WORTH_TELLING {
                p.agreement.because.iter_mut().for_each(by_the_lettering);
                p.agreement.because.push(format!(
                    "By the lettering alone its chance is {:.2}.",
                    before.probability
                ));
            }
        }
        // The sort is stable: equals stay in their order.
        out.proposals
            .sort_by(|a, b| b.probability.total_cmp(&a.probability));
        out
    }
}

/// What a sentence says of the nearest rival's chance was so by the lettering alone.
fn by_the_lettering(sentence: &mut String) {
    let of_rival = TIES.iter().any(|t| sentence.contains(&format!(" {t} (")));
    if of_rival && !sentence.starts_with(ALONE) {
        let mut rest = sentence.chars();
        let first: String = rest
            .next()
            .into_iter()
            .flat_map(char::to_lowercase)
            .collect();
        let name = !sentence.starts_with("The same") && !sentence.starts_with("Another row");
        *sentence = match name {
            true => format!("{ALONE}{sentence}"),
            false => format!("{ALONE}{first}{}", rest.as_str()),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn entry() -> Entry {
        Entry {
            list: "framers".into(),
            entry: "orme-1".into(),
            name: "Silas Orme".into(),
            town: "Wexham".into(),
            from: "1851".into(),
            to: "1870".into(),
            ..Entry::default()
        }
    }

    #[test]
    fn nothing_known_changes_nothing_and_says_nothing() {
        let b = Beside::default();
        assert_eq!(b.factor(&entry()), 1.0);
        assert!(b.told(&entry()).is_empty());
    }

    #[test]
    fn town_decisions_and_years_each_move_the_weight_their_way_and_say_so() {
        let towns = vec![("WEXHAM".to_string(), 0.9)];
        let taken = vec![("framers".to_string(), "orme-1".to_string(), 3)];
        let with = |b: Beside| (b.factor(&entry()), b.told(&entry()).len());
        assert!(matches!(with(Beside { towns, ..Beside::default() }), (f, 1) if f > 1.5));
        assert!(matches!(with(Beside { taken, ..Beside::default() }), (f, 1) if f > 1.5));
        let artists = vec![("framers".to_string(), "orme-1".to_string(), 0.98)];
        let told = with(Beside {
            artists,
            ..Beside::default()
        });
        assert!(matches!(told, (f, 1) if f > 3.5), "{told:?}");
        let years = |a, b| Beside {
            years: Some((a, b)),
            ..Beside::default()
        };
        assert_eq!(with(years(1860, 1865)), (1.0, 0));
        assert!(matches!(with(years(1900, 1910)), (f, 1) if f < 0.5));
    }

    fn rivals(chances: &[f64]) -> Rivals {
        let proposals = chances.iter().enumerate().map(|(i, p)| Proposal {
            list: "framers".into(),
            entry: format!("e-{i}"),
            name: format!("Firm {i}"),
            probability: *p,
            lines: vec![0],
            place: None,
            town: if i == 0 {
                "Wexham".into()
            } else {
                String::new()
            },
            not_before: String::new(),
            not_after: String::new(),
            source: String::new(),
            same_as: Vec::new(),
            agreement: Default::default(),
        });
        Rivals {
            list: "framers".into(),
            proposals: proposals.collect(),
            unlisted: 1.0 - chances.iter().sum::<f64>(),
        }
    }

    #[test]
    fn two_that_the_lettering_leaves_equal_are_parted_by_the_dates_and_it_is_told() {
        let r = rivals(&[0.4, 0.4]);
        let nothing = Beside::default();
        let w = [
            nothing.weight(&r.proposals[0], 0.5),
            nothing.weight(&r.proposals[1], 1.0),
        ];
        let after = r.beside(&w);
        // By hand: 0.4 x 0.5, 0.4, 0.2, which sum to 0.8
        assert_eq!(after.proposals[0].entry, "e-1");
        assert!((after.proposals[0].probability - 0.5).abs() < 1e-12);
        assert!((after.proposals[1].probability - 0.25).abs() < 1e-12);
        assert!((after.unlisted - 0.25).abs() < 1e-12);
        let why = after.proposals[1].agreement.because.join(" ");
        assert!(why.contains("against its years"), "{why}");
        assert!(
            why.contains("By the lettering alone its chance is 0.40."),
            "{why}"
        );
    }

    proptest! {
        #[test]
        fn weighed_beside_the_rest_chances_still_sum_to_one(
            a in 0.0f64..0.5, b in 0.0f64..0.5, dates in 0.0f64..50.0, town in 0.0f64..=1.0,
        ) {
            let r = rivals(&[a, b]);
            let known = Beside { towns: vec![("wexham".into(), town)], ..Beside::default() };
            let w: Vec<Weight> = r.proposals.iter().map(|p| known.weight(p, dates)).collect();
            let after = r.beside(&w);
            let sum = after.unlisted + after.proposals.iter().map(|p| p.probability).sum::<f64>();
            prop_assert!((sum - 1.0).abs() < 1e-9);
            prop_assert!(w.iter().all(|w| (LEAST..=MOST).contains(&w.factor)));
        }

        #[test]
        fn the_factor_stays_soft(times in 0u32..10_000, chance in 0.0f64..=1.0, from in 1700i32..2000) {
            let b = Beside {
                taken: vec![("framers".into(), "orme-1".into(), times)],
                towns: vec![("Wexham".into(), chance)],
                artists: Vec::new(),
                years: Some((from, from + 5)),
            };
            prop_assert!((LEAST..=MOST).contains(&b.factor(&entry())));
        }
    }
}
