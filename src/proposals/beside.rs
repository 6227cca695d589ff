//! What is known beside the mark: decisions so far, other marks of the picture. A soft prior.
//!
//! Each row's weight is multiplied by a factor that stays within [`LEAST`] and [`MOST`], so that it
//! can settle what the lettering leaves open and never overrule what it says; nothing known gives
//! a factor of 1. Strengths set by judgement.

use crate::gazetteer::Entry;

/// What is known beside the mark; empty: nothing, the prior is off.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Beside {
    /// How often a person took an entry: list, key, times.
    pub taken: Vec<(String, String, u32)>,
    /// Towns that other marks of the picture name, with the chance of each.
    pub towns: Vec<(String, f64)>,
    /// First and last year that other evidence leaves for the picture.
    pub years: Option<(i32, i32)>,
}

/// Least and greatest factor.
const LEAST: f64 = 0.25;
const MOST: f64 = 4.0;

/// A town that another mark names surely multiplies by 1 + this.
const TOWN: f64 = 1.0;

/// Years between an entry's and the picture's at which its weight is halved: boards lay in shops,
/// and frames were changed.
const HALVED: f64 = 12.0;

impl Beside {
    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        self.taken.is_empty() && self.towns.is_empty() && self.years.is_none()
    }

    /// Factor on an entry's weight.
    pub fn factor(&self, e: &Entry) -> f64 {
        if self.is_empty() {
            return 1.0;
        }
        let f = (1.0 + self.often(e).ln_1p()) * (1.0 + TOWN * self.town(e)) * self.period(e);
        f.clamp(LEAST, MOST)
    }

    /// What speaks for or against the entry, in sentences.
    pub fn told(&self, e: &Entry) -> Vec<String> {
        let mut out = Vec::new();
        let times = self.often(e) as u32;
        if times > 0 {
            out.push(match times {
                1 => "You took this entry once before; that weighs a little for it.".to_string(),
                n => format!("You took this entry {n} times before; that weighs a little for it."),
            });
        }
        if self.town(e) > 0.5 {
            let town = &e.town;
            out.push(format!(
                "Another mark of this picture names {town}; that weighs a little for it."
            ));
        }
        if self.period(e) < 0.7 {
            out.push(
                "Its years lie apart from those that other evidence leaves for the picture; that weighs a little against it."
                    .into(),
            );
        }
        out
    }

    fn often(&self, e: &Entry) -> f64 {
        let same = self
            .taken
            .iter()
            .filter(|(l, k, _)| *l == e.list && *k == e.entry);
        same.map(|t| f64::from(t.2)).sum()
    }

    fn town(&self, e: &Entry) -> f64 {
        let town = e.town.trim().to_lowercase();
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
        let years = |a, b| Beside {
            years: Some((a, b)),
            ..Beside::default()
        };
        assert_eq!(with(years(1860, 1865)), (1.0, 0));
        assert!(matches!(with(years(1900, 1910)), (f, 1) if f < 0.5));
    }

    proptest! {
        #[test]
        fn the_factor_stays_soft(times in 0u32..10_000, chance in 0.0f64..=1.0, from in 1700i32..2000) {
            let b = Beside {
                taken: vec![("framers".into(), "orme-1".into(), times)],
                towns: vec![("Wexham".into(), chance)],
                years: Some((from, from + 5)),
            };
            prop_assert!((LEAST..=MOST).contains(&b.factor(&entry())));
        }
    }
}
