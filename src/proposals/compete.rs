//! A mark's words can't be two firms' names at once: entries of different lists that rest on the
//! same words compete.
//!
//! Each list has its own chances. Taken together, every choice of one entry (or "unlisted") from
//! each list weighs the product of its chances, and choices that give the same words to two firms
//! fall out in so far as their words overlap. What an entry loses goes to "unlisted" of its list,
//! since each list's chances still sum to 1. A firm that stands on two lists is no rival of itself,
//! and a town within a firm's address none of the firm: lists of places take no part.

/// An entry that competes.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// Chance within its list.
    pub chance: f64,
    /// Columns of the mark on which its name rests, ascending; without a name those of its address.
    pub columns: Vec<usize>,
    /// The name, folded.
    pub name: String,
}

/// Most entries of a list that compete; further ones and "unlisted" contradict nothing.
pub const MOST: usize = 4;

/// Choices below this share of all aren't followed.
const NOTHING: f64 = 1e-9;

/// Share of the shorter claim's columns that the other claims too, 0 to 1.
fn overlap(a: &Claim, b: &Claim) -> f64 {
    let least = a.columns.len().min(b.columns.len());
    if least == 0 || a.name == b.name {
        return 0.0;
    }
    let both = a
        .columns
        .iter()
        .filter(|c| b.columns.binary_search(c).is_ok());
    both.count() as f64 / least as f64
}

/// Factor on the chance of each claim of each list, and on what the list's claims leave over.
///
/// `lists`: for each list its claims, whose chances sum to at most 1.
pub fn settle(lists: &[Vec<Claim>]) -> Vec<(Vec<f64>, f64)> {
    let mut sums: Vec<(Vec<f64>, f64)> = lists.iter().map(|l| (vec![0.0; l.len()], 0.0)).collect();
    let mut chosen: Vec<Option<usize>> = Vec::new();
    let all = choose(lists, 1.0, &mut chosen, &mut sums);
    for (list, (each, left)) in lists.iter().zip(&mut sums) {
        let before = 1.0 - list.iter().map(|c| c.chance).sum::<f64>();
        let part = |sum: f64, before: f64| match before > 0.0 && all > 0.0 {
            true => sum / all / before,
            false => 1.0,
        };
        *left = part(*left, before);
        for (e, c) in each.iter_mut().zip(list) {
            *e = part(*e, c.chance);
        }
    }
    sums
}

fn choose(
    lists: &[Vec<Claim>],
    weight: f64,
    chosen: &mut Vec<Option<usize>>,
    sums: &mut [(Vec<f64>, f64)],
) -> f64 {
    if weight < NOTHING {
        return 0.0;
    }
    let Some(list) = lists.get(chosen.len()) else {
        for (c, (each, left)) in chosen.iter().zip(sums.iter_mut()) {
            match c {
                Some(i) => each[*i] += weight,
                None => *left += weight,
            }
        }
        return weight;
    };
    let left = (1.0 - list.iter().map(|c| c.chance).sum::<f64>()).max(0.0);
    let mut all = 0.0;
    for i in 0..=list.len() {
        let (one, share) = match list.get(i) {
            Some(c) => {
                let agree: f64 = chosen
                    .iter()
                    .enumerate()
                    .filter_map(|(l, k)| Some(1.0 - overlap(c, &lists[l][(*k)?])))
                    .product();
                (Some(i), c.chance * agree)
            }
            None => (None, left),
        };
        chosen.push(one);
        all += choose(lists, weight * share, chosen, sums);
        chosen.pop();
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn claim(chance: f64, columns: std::ops::Range<usize>, name: &str) -> Claim {
        Claim {
            chance,
            columns: columns.collect(),
            name: name.into(),
        }
    }

    #[test]
    fn of_two_firms_on_the_same_words_the_less_likely_gives_way() {
        let lists = [
            vec![claim(0.23, 9..14, "pallister & sons")],
            vec![claim(0.99, 0..14, "umberslade & sons")],
        ];
        let out = settle(&lists);
        assert!(out[0].0[0] * 0.23 < 0.01, "{out:?}");
        assert!(out[1].0[0] * 0.99 > 0.98, "{out:?}");
    }

    #[test]
    fn firms_on_words_of_their_own_and_one_firm_on_two_lists_leave_each_other_alone() {
        for (columns, name) in [(20..30, "b"), (0..10, "a")] {
            let lists = [
                vec![claim(0.9, 0..10, "a")],
                vec![claim(0.8, columns, name)],
            ];
            for (each, left) in settle(&lists) {
                assert!((each[0] - 1.0).abs() < 1e-9 && (left - 1.0).abs() < 1e-9);
            }
        }
    }

    proptest! {
        #[test]
        fn chances_of_each_list_still_sum_to_one(
            given in proptest::collection::vec(
                proptest::collection::vec((0.0f64..0.24, 0usize..30, 1usize..20), 0..5), 1..5)
        ) {
            let lists: Vec<Vec<Claim>> = given.iter().enumerate().map(|(l, list)| {
                list.iter().enumerate()
                    .map(|(i, &(p, from, count))| claim(p, from..from + count, &format!("{l} {i}")))
                    .collect()
            }).collect();
            for (list, (each, left)) in lists.iter().zip(settle(&lists)) {
                let before = 1.0 - list.iter().map(|c| c.chance).sum::<f64>();
                let sum = list.iter().zip(&each).map(|(c, e)| c.chance * e).sum::<f64>();
                prop_assert!((sum + before * left - 1.0).abs() < 1e-6);
                prop_assert!(left >= 1.0 - 1e-6, "what is lost goes to unlisted");
            }
        }
    }
}
