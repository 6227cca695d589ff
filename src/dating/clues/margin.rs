//! How long a thing stays in use after the last year that history gives it.
//!
//! Printed labels are used up, plates and signs are kept, people go on writing what they learnt. So the end
//! of a clue's years is no edge: beyond it lies a share of the marks that dies away with the years.

use serde::Serialize;

/// What kind of use goes on. Shares and years are our own choice after what the trade says ("old stock, two
/// to five years": common practice; London letters without a number "to the 1930s", sovereigns' names "for
/// some years").
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "snake_case")]
pub enum Margin {
    /// A dated event or a law that was kept: nothing goes on.
    #[default]
    None,
    /// Printed stock is used up.
    Stock,
    /// Engraved plates, signs, titles of dead patrons.
    Plate,
    /// What people go on writing: old districts, counties, money.
    Habit,
}

impl Margin {
    /// `none`, `stock`, `plate`, `habit`.
    pub(super) fn read(text: &str) -> Option<Margin> {
        Some(match text {
            "none" => Margin::None,
            "stock" => Margin::Stock,
            "plate" => Margin::Plate,
            "habit" => Margin::Habit,
            _ => return None,
        })
    }

    /// That of a kind of clue where its row gives none.
    pub(super) fn of_kind(kind: &str) -> Margin {
        match kind {
            "post" | "place" => Margin::Habit,
            "crown" | "street" | "honour" => Margin::Plate,
            "society" | "carrier" | "printer" | "stuff" | "trade" | "own" => Margin::Stock,
            _ => Margin::None,
        }
    }

    /// Share of marks put on after the last year, and the mean of the years by which they are late.
    fn late(self) -> (f64, f64) {
        match self {
            Margin::None => (0.0, 1.0),
            Margin::Stock => (0.10, 3.0),
            Margin::Plate => (0.10, 6.0),
            Margin::Habit => (0.20, 8.0),
        }
    }

    /// Chance that such a mark was put on more than `years` after the last year.
    ///
    /// ```
    /// use dorso_weighing::dating::clues::Margin;
    /// assert!((Margin::Stock.beyond(0.0) - 0.1).abs() < 1e-9);
    /// assert!(Margin::Habit.beyond(20.0) < 0.02);
    /// assert_eq!(Margin::None.beyond(0.0), 0.0);
    /// ```
    pub fn beyond(self, years: f64) -> f64 {
        let (share, mean) = self.late();
        share * (-years / mean).exp()
    }

    /// Years after the last one within which all but `share` of the marks were put on.
    pub fn years(self, share: f64) -> i32 {
        (0..=60)
            .find(|y| self.beyond(f64::from(*y)) <= share)
            .unwrap_or(60)
    }

    /// The distribution in three steps: years after the last one, and the share put on by then and not by
    /// the step before. The shares sum to 1.
    pub fn steps(self) -> Vec<(i32, f64)> {
        let (late, mean) = self.late();
        if late == 0.0 {
            return vec![(0, 1.0)];
        }
        // Half of the late ones, and all but one in twenty of them
        let half = (mean * std::f64::consts::LN_2).ceil();
        let most = (mean * 3.0).ceil();
        #[allow(clippy::cast_possible_truncation)]
        let whole = |y: f64| y as i32;
        vec![
            (0, 1.0 - late),
            (whole(half), late - self.beyond(half)),
            (whole(most), self.beyond(half)),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_steps_sum_to_one_and_grow() {
        for m in [Margin::None, Margin::Stock, Margin::Plate, Margin::Habit] {
            let steps = m.steps();
            let sum: f64 = steps.iter().map(|s| s.1).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{m:?}");
            assert!(steps.windows(2).all(|w| w[0].0 < w[1].0), "{m:?}");
        }
        // Two to five years for old stock; letters without a number to the 1930s
        assert!((2..=5).contains(&Margin::Stock.years(0.03)));
        assert!((1930..1940).contains(&(1917 + Margin::Habit.years(0.03))));
    }
}
