//! Monograms of one design: a new one beside those that are kept.

use super::seen::Seen;

/// What makes the chance that the likest is the same design: constant, likeness, how far the next is behind
/// (`training/monogram_table.py`, on made designs of which half were kept; `card.md`).
const SAME: [f64; 3] = [-14.363_638_5, 17.382_338_2, 9.741_983_4];
/// Length of a design's vector.
const LENGTH: f64 = 127.0;

/// One that is kept, beside a new one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alike {
    /// Its place among those that were compared.
    pub at: usize,
    /// -1 to 1.
    pub likeness: f64,
    /// Chance that both are one design; told of the likest alone.
    pub same: Option<f64>,
}

impl Seen {
    /// Cosine of the angle between two designs, -1 to 1.
    fn likeness(&self, other: &Seen) -> f64 {
        let each = self.design.iter().zip(&other.design);
        let sum: f64 = each.map(|(a, b)| f64::from(*a) * f64::from(*b)).sum();
        sum / LENGTH.powi(2)
    }

    /// The likest of those kept, at most so many, the likest first.
    pub fn alike<'a>(&self, kept: impl IntoIterator<Item = &'a Seen>, most: usize) -> Vec<Alike> {
        let each = kept.into_iter().enumerate().map(|(at, k)| Alike {
            at,
            likeness: self.likeness(k),
            same: None,
        });
        let mut all: Vec<Alike> = each.collect();
        all.sort_by(|a, b| b.likeness.total_cmp(&a.likeness));
        let next = all.get(1).map_or(-1.0, |a| a.likeness);
        if let Some(first) = all.first_mut() {
            let z = SAME[0] + SAME[1] * first.likeness + SAME[2] * (first.likeness - next).min(1.0);
            first.same = Some(1.0 / (1.0 + (-z).exp()));
        }
        all.truncate(most);
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn seen(design: Vec<i8>) -> Seen {
        Seen {
            sets: Vec::new(),
            none: 1.0,
            turn: 0,
            early: vec![1.0; 26],
            design,
        }
    }

    /// A vector of 128 of the length that designs have.
    fn of_length(values: &[f64]) -> Seen {
        let long = values.iter().map(|v| v * v).sum::<f64>().sqrt().max(1e-9);
        let scaled = values.iter().map(|v| (v / long * LENGTH).round() as i8);
        seen(scaled.collect())
    }

    proptest! {
        #[test]
        fn the_likest_of_all_is_the_design_itself(all in prop::collection::vec(prop::collection::vec(-1.0f64..1.0, 128), 2..12), own in 0usize..12) {
            let kept: Vec<Seen> = all.iter().map(|v| of_length(v)).collect();
            let own = own % kept.len();
            let found = kept[own].alike(&kept, 3);
            prop_assert_eq!(found[0].at, own);
            prop_assert!((found[0].likeness - 1.0).abs() < 0.1, "{}", found[0].likeness);
            prop_assert!(found[0].same.is_some() && found[1..].iter().all(|a| a.same.is_none()));
        }
    }

    #[test]
    fn a_design_that_stands_out_is_surer_than_one_among_its_like() {
        let mut values = vec![0.0; 128];
        values[0] = 1.0;
        let own = of_length(&values);
        values[1] = 0.3;
        let near = of_length(&values);
        values[0] = -0.2;
        let far = of_length(&values);
        let alone = own.alike([&near, &far], 1)[0].same;
        let among = own.alike([&near, &near], 1)[0].same;
        assert!(alone > among, "{alone:?} {among:?}");
        assert!(own.alike([], 4).is_empty());
    }
}
