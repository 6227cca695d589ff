//! Twenty-five invented backs with planted years, half of them with a planted contradiction, held
//! against a search through all years and all readings. Nothing here was ever made, hung or sold.

use crate::backs::{Case, cases};
use dorso::decisions::Bearer::{self, Frame, Support};
use dorso::evidence::{
    Back, MISREAD, Mark, Reading, Role, STRAY, Solved, Years, apart, beside, chart, solve,
};
use std::collections::BTreeMap;

/// Years that the search tries; every limit of the backs lies well within.
const WINDOW: std::ops::RangeInclusive<i32> = 1838..=1942;

fn back(case: &Case) -> Back {
    Back {
        marks: case.marks.clone(),
    }
}

/// For each mark the reading of each claim, and whether it strays.
type Choice = Vec<(Vec<Option<usize>>, bool)>;

/// All choices with their chances.
fn choices(marks: &[Mark]) -> Vec<(Choice, f64)> {
    let mut all = vec![(Vec::new(), 1.0)];
    for m in marks {
        let mut own: Vec<(Vec<Option<usize>>, f64)> = vec![(Vec::new(), 1.0)];
        for c in &m.claims {
            let rest = 1.0 - c.readings.iter().map(|r| r.chance).sum::<f64>();
            let mut next = Vec::new();
            for (picked, p) in &own {
                for (i, r) in c.readings.iter().enumerate() {
                    next.push(([&picked[..], &[Some(i)]].concat(), p * r.chance));
                }
                next.push(([&picked[..], &[None]].concat(), p * rest));
            }
            own = next;
        }
        // Two readings of one mark that leave no year aren't possible: the rest shares the chance
        own.retain(|(picked, _)| {
            let fits = |y: i32| {
                picked
                    .iter()
                    .zip(&m.claims)
                    .all(|(i, c)| i.is_none_or(|i| c.readings[i].years.holds(y)))
            };
            let mut window = WINDOW;
            window.any(fits)
        });
        let sum: f64 = own.iter().map(|o| o.1).sum();
        let mut next = Vec::new();
        for (done, p) in &all {
            for (picked, q) in &own {
                for (stray, s) in [(false, 1.0 - STRAY), (true, STRAY)] {
                    let mut now: Choice = done.clone();
                    now.push((picked.clone(), stray));
                    next.push((now, p * q / sum * s));
                }
            }
        }
        all = next;
    }
    all
}

/// Whether the parts may be of these years, by trying every year for the mark.
fn possible(m: &Mark, picked: &[Option<usize>], years: &BTreeMap<Bearer, i32>) -> bool {
    let readings: Vec<&Reading> = picked
        .iter()
        .zip(&m.claims)
        .filter_map(|(i, c)| i.map(|i| &c.readings[i]))
        .collect();
    let by_maker = readings.iter().any(|r| r.role == Role::Maker);
    let own = m.bearer.map(|b| years[&b]);
    let second = m.bridges.map(|b| years[&b]);
    let fits = |d: i32| {
        readings.iter().all(|r| r.years.holds(d))
            && own.is_none_or(|y| if by_maker { y == d } else { y <= d })
            && second.is_none_or(|y| y <= d)
    };
    if by_maker {
        return own.is_none_or(fits);
    }
    // The last year first: where it doesn't fit, few do
    WINDOW.rev().any(fits)
}

/// Years that each part may have under one choice, first and last, by trying all years.
fn searched(
    marks: &[Mark],
    choice: &[(Vec<Option<usize>>, bool)],
    parts: &[Bearer],
) -> Option<Vec<Years>> {
    let mut out = vec![None; parts.len()];
    // Parts that no bridging mark ties are searched by themselves
    let tied = |a: Bearer, b: Bearer| {
        marks
            .iter()
            .any(|m| [(m.bearer, m.bridges), (m.bridges, m.bearer)].contains(&(Some(a), Some(b))))
    };
    let mut left: Vec<Bearer> = parts.to_vec();
    while let Some(first) = left.first().copied() {
        let mut group = vec![first];
        let mut i = 0;
        while i < group.len() {
            for b in parts {
                if !group.contains(b) && tied(group[i], *b) {
                    group.push(*b);
                }
            }
            i += 1;
        }
        left.retain(|b| !group.contains(b));
        assert!(group.len() <= 2, "the search is for two tied parts at most");
        let own: Vec<usize> = (0..marks.len())
            .filter(|i| marks[*i].bearer.is_some_and(|b| group.contains(&b)))
            .collect();
        let mut some = false;
        let seconds: Vec<i32> = if group.len() == 2 {
            WINDOW.collect()
        } else {
            vec![0]
        };
        for a in WINDOW {
            for b in &seconds {
                let mut years = BTreeMap::from([(group[0], a)]);
                if group.len() == 2 {
                    years.insert(group[1], *b);
                }
                if own
                    .iter()
                    .all(|i| choice[*i].1 || possible(&marks[*i], &choice[*i].0, &years))
                {
                    some = true;
                    for (part, y) in &years {
                        let at = parts.iter().position(|p| p == part).unwrap();
                        let (lo, hi) = out[at].unwrap_or((*y, *y));
                        out[at] = Some((lo.min(*y), hi.max(*y)));
                    }
                }
            }
        }
        if !some {
            return None;
        }
    }
    let open = |y: Option<(i32, i32)>| {
        let (lo, hi) = y.unwrap();
        Years::new(
            (lo > *WINDOW.start()).then_some(lo),
            (hi < *WINDOW.end()).then_some(hi),
        )
    };
    Some(out.into_iter().map(open).collect())
}

fn parts_of(marks: &[Mark]) -> Vec<Bearer> {
    let mut parts: Vec<Bearer> = marks
        .iter()
        .flat_map(|m| [m.bearer, m.bridges])
        .flatten()
        .collect();
    parts.sort();
    parts.dedup();
    parts
}

fn dated(solved: &Solved, part: Bearer) -> Option<&dorso::evidence::Dated> {
    solved.parts.iter().find(|p| p.0 == part).map(|p| &p.1)
}

#[test]
fn there_are_twenty_five_backs_with_four_kinds_of_contradiction() {
    let all = cases();
    assert_eq!(all.len(), 25);
    assert_eq!(all.iter().filter(|c| c.planted.is_empty()).count(), 13);
}

#[test]
fn every_planted_contradiction_is_found_and_none_on_consistent_backs() {
    for c in cases() {
        let found = solve(&back(&c)).conflicts;
        let marks: Vec<Vec<&str>> = found.iter().map(|f| f.marks()).collect();
        if c.planted.is_empty() {
            assert!(found.is_empty(), "{}: {found:#?}", c.name);
            continue;
        }
        let mut planted = c.planted.clone();
        planted.sort_unstable();
        let same = |m: &Vec<&str>| {
            let mut m = m.clone();
            m.sort_unstable();
            m == planted
        };
        assert!(marks.iter().any(same), "{}: {marks:?}", c.name);
        assert!(
            marks.iter().all(|m| m.iter().any(|x| planted.contains(x))),
            "{}: {marks:?}",
            c.name
        );
        for f in &found {
            assert!(
                !f.earlier.is_empty() && !f.later.is_empty(),
                "{}: both sides: {f:#?}",
                c.name
            );
            assert!(!f.may_be.is_empty(), "{}", c.name);
        }
    }
}

#[test]
fn a_misread_year_is_named_as_what_would_dissolve_the_conflict() {
    let all = cases();
    let of = |name: &str| {
        let c = all.iter().find(|c| c.name.starts_with(name)).unwrap();
        solve(&back(c)).conflicts.remove(0).dissolves
    };
    let d = of("misread year: 1893");
    assert_eq!(
        (d[0].words.as_str(), d[0].instead.as_str()),
        ("the year on it is 1893", "the year on it is 1873")
    );
    assert_eq!(
        of("misread year on a label")[0].words,
        "the year on it is 1888"
    );
    let mut d = of("misread year on a bridging");
    assert!(
        d.iter().any(|d| d.words == MISREAD),
        "it may be misread altogether"
    );
    d.retain(|d| d.words.starts_with("the year"));
    assert_eq!(d.len(), 1, "1866 doesn't dissolve it: {d:?}");
    assert_eq!(d[0].words, "the year on it is 1880");
    // Beside the rest, the reading that fits becomes the likelier one
    let c = all
        .iter()
        .find(|c| c.name.starts_with("misread year: 1893"))
        .unwrap();
    let s = solve(&back(c));
    let years = &s.readings[1][0];
    assert!(years[1] > years[0], "{years:?}");
}

#[test]
fn the_planted_year_is_inside_the_interval() {
    for c in cases() {
        let solved = solve(&back(&c));
        for (part, year) in &c.truth {
            let Some(d) = dated(&solved, *part) else {
                continue;
            };
            let told = d.years.holds(*year)
                || (!c.planted.is_empty() && d.rivals.iter().any(|r| r.0.holds(*year)));
            assert!(told, "{}: {part:?} {year} not in {d:?}", c.name);
        }
    }
}

#[test]
fn intervals_and_chances_are_those_that_a_search_through_all_years_finds() {
    for c in cases() {
        let solved = solve(&back(&c));
        let parts = parts_of(&c.marks);
        let mut all: Vec<(Vec<Years>, f64)> = Vec::new();
        let mut best: Option<(f64, Vec<Vec<Years>>)> = None;
        for (choice, p) in choices(&c.marks) {
            let Some(years) = searched(&c.marks, &choice, &parts) else {
                continue;
            };
            match &mut best {
                Some((top, ties)) if (p - *top).abs() < 1e-12 => ties.push(years.clone()),
                Some((top, _)) if p < *top => {}
                _ => best = Some((p, vec![years.clone()])),
            }
            all.push((years, p));
        }
        let total: f64 = all.iter().map(|a| a.1).sum();
        let (_, ties) = best.unwrap();
        for (k, part) in parts.iter().enumerate() {
            let found = dated(&solved, *part).map_or(Years::OPEN, |d| d.years);
            assert!(
                ties.iter().any(|t| t[k] == found),
                "{}: {part:?}: {found:?}, the search finds {ties:?}",
                c.name
            );
            if let Some(d) = dated(&solved, *part).filter(|d| d.years != Years::OPEN) {
                let share: f64 = all
                    .iter()
                    .filter(|a| a.0[k].within(&found))
                    .map(|a| a.1)
                    .sum::<f64>()
                    / total;
                assert!(
                    (share - d.chance).abs() < 0.01,
                    "{}: {part:?}: {} and {share}",
                    c.name,
                    d.chance
                );
            }
        }
    }
}

#[test]
fn dates_of_other_marks_weigh_on_the_rival_entries_of_a_mark() {
    let mut c = cases()
        .into_iter()
        .find(|c| c.name.starts_with("two addresses"))
        .unwrap();
    for (r, key) in c.marks[0].claims[0]
        .readings
        .iter_mut()
        .zip(["first", "second"])
    {
        r.entry = Some(key.into());
    }
    let b = back(&c);
    let told = beside(&b, &solve(&b));
    assert_eq!(told.len(), 2);
    assert!(
        told[0].after > told[0].before + 0.2,
        "the show of 1876 speaks for 1868 to 1875: {told:?}"
    );
    assert!(told[1].after < 0.15, "and against 1880 to 1888: {told:?}");
}

#[test]
fn parts_that_cant_have_begun_together_are_told_apart_without_a_conflict() {
    let c = cases().remove(1);
    let solved = solve(&back(&c));
    assert!(solved.conflicts.is_empty());
    let a = apart(&solved);
    assert_eq!(a.len(), 1);
    assert_eq!((a[0].older.0, a[0].younger.0), (Support, Frame));
    assert!(a[0].chance <= 0.95);
}

#[test]
fn the_chart_tells_every_interval_in_words_and_lines_and_is_well_formed() {
    for c in cases() {
        let b = back(&c);
        let solved = solve(&b);
        let Some(svg) = chart(&b, &solved) else {
            assert!(solved.parts.is_empty());
            continue;
        };
        for (part, d) in &solved.parts {
            assert!(
                svg.contains(&format!("{}: {}", part.as_str(), d.years.words())),
                "{}",
                c.name
            );
        }
        assert_eq!(
            svg.matches("<title").count(),
            svg.matches("</title>").count()
        );
        assert!(!svg.contains("NaN") && svg.trim_end().ends_with("</svg>"));
    }
}
