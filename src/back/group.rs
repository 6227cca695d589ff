//! Which sightings make one mark, from joins with chances and from what a person said.
//!
//! From the surest join down (as in Kruskal's spanning tree), two marks become one where all pairs between
//! them together say so: their log odds are summed (correlation clustering, Bansal, Blum and Chawla 2004,
//! Machine Learning 56), so that an outline over two labels, which is likely either, doesn't draw the other
//! label in with it. Two bounds hold whatever the pairs say: a photograph never shows a mark twice, and what
//! a person said. What the tree of a mark hangs on by a doubtful join, and what stays apart by one, is a
//! question.

use super::joins::{Join, LEAST};
use crate::chance::logit;
use std::collections::{BTreeMap, BTreeSet};

/// Chance from which two sightings are taken for one mark.
const ONE: f64 = 0.5;

/// Chance up to which, and from 1 minus which, a join leaves nothing to ask.
const CLEAR: f64 = 0.1;

/// A sighting: what one photograph shows of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Shown {
    /// Number of the sighting.
    pub id: i64,
    /// Number of the photograph.
    pub photograph: i64,
}

/// Two sightings that may be one mark, by their numbers. One that was moved is never joined here: however
/// likely, only a person says so.
pub type Pair = Join<i64>;

/// What a person said of pairs of sightings; where both are said of one pair, the caller leaves the
/// later.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Said {
    /// These are one mark.
    pub same: Vec<(i64, i64)>,
    /// These are not.
    pub apart: Vec<(i64, i64)>,
}

/// A mark and its sightings.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Number of the mark: that of its first sighting.
    pub mark: i64,
    /// Sightings in order of number, each with the chance that it shows the same mark as the first.
    pub members: Vec<(i64, f64)>,
}

/// The marks of a picture, and what should be asked of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grouped {
    /// Every sighting is in one of them; in order of number.
    pub marks: Vec<Group>,
    /// Joins that a person should look at, the most doubtful first; at most one between two marks
    /// and one for each sighting that hangs on its mark by a doubtful join.
    pub doubtful: Vec<Pair>,
}

/// Puts sightings together.
///
/// * `pairs`: as the photographs have it, in any order; pairs that are left out are less likely than [`LEAST`].
pub fn group(shown: &[Shown], pairs: &[Pair], said: &Said) -> Grouped {
    let mut forest = Forest::new(shown, pairs, said);
    for &(a, b) in &said.same {
        forest.join(a, b, 1.0);
    }
    let mut order: Vec<&Pair> = pairs.iter().collect();
    order.sort_by(|x, y| {
        let numbers = (x.a, x.b).cmp(&(y.a, y.b));
        y.chance.total_cmp(&x.chance).then(numbers)
    });
    let mut doubtful: Vec<Pair> = Vec::new();
    let doubt = |p: &Pair| p.chance > CLEAR && (p.moved || p.chance < 1.0 - CLEAR);
    for p in order.iter().filter(|p| p.chance >= ONE && !p.moved) {
        let agreed = forest.agreed(p.a, p.b) > 0.0;
        if agreed && forest.join(p.a, p.b, p.chance) && doubt(p) {
            doubtful.push((*p).clone());
        }
    }
    let mut asked = BTreeSet::new();
    for p in order.iter().filter(|p| p.chance > CLEAR) {
        let (Some(a), Some(b)) = (forest.mark(p.a), forest.mark(p.b)) else {
            continue;
        };
        let open = p.moved || forest.agreed(a, b) > logit(CLEAR);
        if a != b && open && forest.may_join(a, b) && asked.insert((a.min(b), a.max(b))) {
            doubtful.push((*p).clone());
        }
    }
    let far = |p: &Pair| (p.chance - 0.5).abs();
    doubtful.sort_by(|x, y| far(x).total_cmp(&far(y)));
    Grouped {
        marks: forest.groups(),
        doubtful,
    }
}

/// Sightings put together so far.
struct Forest<'a> {
    said: &'a Said,
    /// ln of the odds of each pair that is one mark where it lies, the lesser number first.
    odds: BTreeMap<(i64, i64), f64>,
    photograph: BTreeMap<i64, i64>,
    /// For each sighting the first of its mark.
    mark: BTreeMap<i64, i64>,
    /// For each mark its sightings.
    members: BTreeMap<i64, Vec<i64>>,
    /// Joins that were made: from, to, chance.
    made: Vec<(i64, i64, f64)>,
}

impl<'a> Forest<'a> {
    fn new(shown: &[Shown], pairs: &[Pair], said: &'a Said) -> Self {
        let here = pairs.iter().filter(|p| !p.moved);
        let odds = here.map(|p| {
            (
                (p.a.min(p.b), p.a.max(p.b)),
                logit(p.chance.clamp(LEAST, 1.0 - f64::EPSILON)),
            )
        });
        Forest {
            said,
            odds: odds.collect(),
            photograph: shown.iter().map(|s| (s.id, s.photograph)).collect(),
            mark: shown.iter().map(|s| (s.id, s.id)).collect(),
            members: shown.iter().map(|s| (s.id, vec![s.id])).collect(),
            made: Vec::new(),
        }
    }

    fn mark(&self, sighting: i64) -> Option<i64> {
        self.mark.get(&sighting).copied()
    }

    /// ln of the odds of all pairs between the marks of two sightings together; 0 where one is unknown.
    fn agreed(&self, a: i64, b: i64) -> f64 {
        let members = |s| self.mark(s).and_then(|m| self.members.get(&m));
        let (Some(a), Some(b)) = (members(a), members(b)) else {
            return 0.0;
        };
        let pairs = a
            .iter()
            .flat_map(|&x| b.iter().map(move |&y| (x.min(y), x.max(y))));
        pairs
            .map(|p| self.odds.get(&p).copied().unwrap_or(logit(LEAST)))
            .sum()
    }

    /// Whether two marks may be one: no photograph shows both, and nobody said that they are apart.
    fn may_join(&self, a: i64, b: i64) -> bool {
        let (a, b) = (&self.members[&a], &self.members[&b]);
        let told = |x: &i64, y: &i64| {
            let apart = |p: &(i64, i64)| *p == (*x, *y) || *p == (*y, *x);
            self.said.apart.iter().any(apart)
        };
        a.iter().all(|x| {
            b.iter()
                .all(|y| self.photograph[x] != self.photograph[y] && !told(x, y))
        })
    }

    /// Joins the marks of two sightings; false where they are one already, or can't be.
    fn join(&mut self, a: i64, b: i64, chance: f64) -> bool {
        let (Some(first), Some(second)) = (self.mark(a), self.mark(b)) else {
            return false;
        };
        if first == second || !self.may_join(first, second) {
            return false;
        }
        let (kept, gone) = (first.min(second), first.max(second));
        let moved = self.members.remove(&gone).unwrap_or_default();
        for id in &moved {
            self.mark.insert(*id, kept);
        }
        let all = self.members.entry(kept).or_default();
        all.extend(moved);
        all.sort_unstable();
        self.made.push((a, b, chance));
        true
    }

    /// The chance that a sighting shows the same mark as the first of its mark: along the joins that
    /// were made, which form a tree.
    fn joined(&self, first: i64) -> BTreeMap<i64, f64> {
        let mut reached = BTreeMap::from([(first, 1.0)]);
        let mut next = vec![first];
        while let Some(at) = next.pop() {
            let from = reached[&at];
            for &(a, b, chance) in &self.made {
                let other = match at {
                    _ if a == at => b,
                    _ if b == at => a,
                    _ => continue,
                };
                if let std::collections::btree_map::Entry::Vacant(place) = reached.entry(other) {
                    place.insert(from * chance);
                    next.push(other);
                }
            }
        }
        reached
    }

    fn groups(&self) -> Vec<Group> {
        let group = |(&mark, members): (&i64, &Vec<i64>)| {
            let joined = self.joined(mark);
            let chance = |id: &i64| joined.get(id).copied().unwrap_or(1.0);
            let members = members.iter().map(|id| (*id, chance(id))).collect();
            Group { mark, members }
        };
        self.members.iter().map(group).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shown(photographs: &[i64]) -> Vec<Shown> {
        let numbered = photographs.iter().zip(1..);
        numbered
            .map(|(&photograph, id)| Shown { id, photograph })
            .collect()
    }

    fn pair(a: i64, b: i64, chance: f64) -> Pair {
        Pair {
            a,
            b,
            chance,
            moved: false,
            why: String::new(),
        }
    }

    fn marks(g: &Grouped) -> Vec<Vec<i64>> {
        let ids = |g: &Group| g.members.iter().map(|m| m.0).collect();
        g.marks.iter().map(ids).collect()
    }

    #[test]
    fn sightings_of_three_photographs_are_one_mark_under_the_first_number() {
        let g = group(
            &shown(&[1, 2, 3]),
            &[pair(1, 2, 0.99), pair(2, 3, 0.95), pair(1, 3, 0.9)],
            &Said::default(),
        );
        assert_eq!(marks(&g), [[1, 2, 3]]);
        assert!((g.marks[0].members[2].1 - 0.99 * 0.95).abs() < 1e-12);
        assert!(g.doubtful.is_empty());
    }

    #[test]
    fn an_outline_over_two_labels_does_not_make_them_one() {
        // 1 and 3 show the one label, 2 and 4 the other; the fifth photograph has both in one outline.
        let pairs = [
            pair(1, 3, 0.99),
            pair(2, 4, 0.99),
            pair(1, 5, 0.8),
            pair(3, 5, 0.8),
            pair(2, 5, 0.7),
            pair(4, 5, 0.7),
        ];
        let g = group(&shown(&[1, 2, 3, 4, 5]), &pairs, &Said::default());
        assert_eq!(marks(&g), [vec![1, 3, 5], vec![2, 4]]);
    }

    #[test]
    fn what_pairs_say_against_each_other_is_asked() {
        let pairs = [pair(1, 2, 0.99), pair(2, 3, 0.95)];
        let g = group(&shown(&[1, 2, 3]), &pairs, &Said::default());
        assert_eq!(marks(&g), [vec![1, 2], vec![3]]);
        assert_eq!(g.doubtful, [pair(2, 3, 0.95)]);
    }

    #[test]
    fn a_photograph_shows_a_mark_once() {
        let g = group(
            &shown(&[1, 2, 2]),
            &[pair(1, 2, 0.8), pair(1, 3, 0.97)],
            &Said::default(),
        );
        assert_eq!(marks(&g), [vec![1, 3], vec![2]]);
    }

    #[test]
    fn what_a_person_said_holds_against_any_chance() {
        let pairs = [pair(1, 2, 0.999), pair(2, 3, 0.01)];
        let said = Said {
            same: vec![(3, 2)],
            apart: vec![(2, 1)],
        };
        let g = group(&shown(&[1, 2, 3]), &pairs, &said);
        assert_eq!(marks(&g), [vec![1], vec![2, 3]]);
        assert!(g.doubtful.is_empty());
    }

    #[test]
    fn a_doubtful_join_is_asked_once() {
        let pairs = [pair(1, 2, 0.98), pair(1, 3, 0.4), pair(2, 3, 0.45)];
        let g = group(&shown(&[1, 2, 3]), &pairs, &Said::default());
        assert_eq!(marks(&g), [vec![1, 2], vec![3]]);
        assert_eq!(g.doubtful, [pair(2, 3, 0.45)]);
        let g = group(&shown(&[1, 2]), &[pair(1, 2, 0.7)], &Said::default());
        assert_eq!(g.doubtful, [pair(1, 2, 0.7)]);
    }

    #[test]
    fn a_label_that_was_moved_is_one_question() {
        let moved = |a, b, chance| Pair {
            moved: true,
            ..pair(a, b, chance)
        };
        let pairs = [pair(1, 2, 0.99), moved(1, 3, 0.97), moved(2, 3, 0.96)];
        let g = group(&shown(&[1, 2, 3]), &pairs, &Said::default());
        assert_eq!(marks(&g), [vec![1, 2], vec![3]]);
        assert_eq!(g.doubtful, [moved(1, 3, 0.97)]);
    }

    proptest! {
        #[test]
        fn every_sighting_is_in_one_mark_and_no_photograph_shows_one_twice(
            photographs in prop::collection::vec(1..4i64, 1..9),
            links in prop::collection::vec((0..9usize, 0..9usize, 0.0..1.0f64), 0..20),
            said in prop::collection::vec((0..9usize, 0..9usize, any::<bool>()), 0..4),
        ) {
            let shown = shown(&photographs);
            let id = |i: usize| (i % shown.len()) as i64 + 1;
            let pairs: Vec<Pair> = links.iter().map(|&(a, b, c)| pair(id(a), id(b), c)).filter(|p| p.a != p.b).collect();
            let told = |same: bool| said.iter().filter(|s| s.2 == same).map(|s| (id(s.0), id(s.1))).filter(|s| s.0 != s.1).collect::<Vec<_>>();
            let (same, apart) = (told(true), told(false));
            let g = group(&shown, &pairs, &Said { same, apart: apart.clone() });
            let mut all: Vec<i64> = g.marks.iter().flat_map(|m| m.members.iter().map(|x| x.0)).collect();
            all.sort_unstable();
            prop_assert_eq!(all, (1..=shown.len() as i64).collect::<Vec<_>>());
            for m in &g.marks {
                let on: BTreeSet<i64> = m.members.iter().map(|x| photographs[x.0 as usize - 1]).collect();
                prop_assert_eq!(on.len(), m.members.len());
                prop_assert_eq!(m.mark, m.members[0].0);
                let has = |id: i64| m.members.iter().any(|x| x.0 == id);
                prop_assert!(!apart.iter().any(|&(a, b)| has(a) && has(b)));
                prop_assert!(m.members.iter().all(|x| (0.0..=1.0).contains(&x.1)));
            }
        }
    }
}
