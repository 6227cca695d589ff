//! Twenty-five invented backs with planted years, half of them with a planted contradiction, held
//! against a search through all years and all readings. Nothing here was ever made, hung or sold.

use dorso::decisions::Bearer::{self, Backing, Frame, Slip, Stretcher, Support};
use dorso::evidence::{
    Back, Claim, Mark, Reading, Role, STRAY, Solved, Years, apart, chart, solve,
};
use std::collections::BTreeMap;

/// Years that the search tries; every limit of the backs lies well within.
const WINDOW: std::ops::RangeInclusive<i32> = 1838..=1942;

struct Case {
    name: &'static str,
    marks: Vec<Mark>,
    /// True year in which each part was made.
    truth: Vec<(Bearer, i32)>,
    /// The marks whose statements contradict each other; empty: all is consistent.
    planted: Vec<&'static str>,
}

/// The firm that made the part, in business in these years.
fn maker(from: i32, to: i32, chance: f64) -> Claim {
    claim(vec![
        Reading::new(
            format!("it names a firm of {from} to {to}"),
            chance,
            Some(from),
            Some(to),
        )
        .by_maker(),
    ])
}

/// Something put on later, in these years.
fn later(from: i32, to: i32, chance: f64) -> Claim {
    claim(vec![Reading::new(
        format!("it was shown {from} to {to}"),
        chance,
        Some(from),
        Some(to),
    )])
}

/// A clue that only says "not before".
fn since(from: i32, chance: f64) -> Claim {
    claim(vec![Reading::new(
        format!("its wording is not older than {from}"),
        chance,
        Some(from),
        None,
    )])
}

/// A year, with other readings of it.
fn year(read: &[(i32, f64)]) -> Claim {
    claim(
        read.iter()
            .map(|(y, p)| Reading::new(format!("the year on it is {y}"), *p, Some(*y), Some(*y)))
            .collect(),
    )
}

/// Rival firms on a maker's label.
fn rivals(read: &[(i32, i32, f64)]) -> Claim {
    claim(
        read.iter()
            .map(|(f, t, p)| {
                Reading::new(
                    format!("it names a firm of {f} to {t}"),
                    *p,
                    Some(*f),
                    Some(*t),
                )
                .by_maker()
            })
            .collect(),
    )
}

fn claim(readings: Vec<Reading>) -> Claim {
    Claim {
        about: "test".into(),
        readings,
        source: "invented".into(),
        by_person: false,
    }
}

fn on(id: &str, bearer: Bearer, claims: Vec<Claim>) -> Mark {
    Mark {
        id: id.into(),
        name: format!("label {id}"),
        bearer: Some(bearer),
        bridges: None,
        claims,
    }
}

fn over(id: &str, bearer: Bearer, second: Bearer, claims: Vec<Claim>) -> Mark {
    Mark {
        bridges: Some(second),
        ..on(id, bearer, claims)
    }
}

fn case(
    name: &'static str,
    marks: Vec<Mark>,
    truth: &[(Bearer, i32)],
    planted: &[&'static str],
) -> Case {
    Case {
        name,
        marks,
        truth: truth.to_vec(),
        planted: planted.to_vec(),
    }
}

fn cases() -> Vec<Case> {
    vec![
        // Consistent
        case(
            "a canvas stamp alone",
            vec![on("1", Support, vec![maker(1863, 1871, 0.9)])],
            &[(Support, 1868)],
            &[],
        ),
        case(
            "a canvas stamp, a later frame: no contradiction, frames are changed",
            vec![
                on("1", Support, vec![maker(1863, 1871, 0.92)]),
                on("2", Frame, vec![maker(1904, 1911, 0.95)]),
            ],
            &[(Support, 1866), (Frame, 1907)],
            &[],
        ),
        case(
            "a show of 1872 on the stretcher bounds it from above",
            vec![
                on("1", Stretcher, vec![year(&[(1872, 0.9)])]),
                on("2", Stretcher, vec![maker(1860, 1890, 0.85)]),
            ],
            &[(Stretcher, 1870)],
            &[],
        ),
        case(
            "a framer's label over frame and backing: the backing is not younger",
            vec![over("1", Frame, Backing, vec![maker(1880, 1888, 0.9)])],
            &[(Frame, 1884), (Backing, 1884)],
            &[],
        ),
        case(
            "an older backing used again under a younger label fits",
            vec![
                over("1", Frame, Backing, vec![maker(1890, 1899, 0.9)]),
                on("2", Backing, vec![later(1865, 1866, 0.8)]),
            ],
            &[(Frame, 1895), (Backing, 1864)],
            &[],
        ),
        case(
            "a slip and a frame of two firms",
            vec![
                on("1", Slip, vec![maker(1850, 1859, 0.8)]),
                on("2", Frame, vec![maker(1855, 1875, 0.8)]),
                on("3", Frame, vec![later(1861, 1861, 0.9)]),
            ],
            &[(Slip, 1858), (Frame, 1860)],
            &[],
        ),
        case(
            "a doubtful year that would contradict is hardly read, so it contradicts nothing",
            vec![
                on("1", Frame, vec![maker(1880, 1889, 0.95)]),
                on("2", Frame, vec![year(&[(1873, 0.2)])]),
            ],
            &[(Frame, 1885)],
            &[],
        ),
        case(
            "two addresses of one firm, settled by a show",
            vec![
                on(
                    "1",
                    Frame,
                    vec![rivals(&[(1868, 1875, 0.48), (1880, 1888, 0.44)])],
                ),
                on("2", Frame, vec![year(&[(1876, 0.95)])]),
            ],
            &[(Frame, 1870)],
            &[],
        ),
        case(
            "wording not older than 1885 on a loan label says nothing of the frame's making",
            vec![
                on("1", Frame, vec![since(1885, 0.95)]),
                on("2", Frame, vec![maker(1860, 1869, 0.9)]),
            ],
            &[(Frame, 1865)],
            &[],
        ),
        case(
            "a support dated by a patent and a show",
            vec![
                on(
                    "1",
                    Support,
                    vec![claim(vec![
                        Reading::new("its patent is of 1858", 0.9, Some(1858), None).by_maker(),
                    ])],
                ),
                on("2", Support, vec![later(1862, 1862, 0.9)]),
            ],
            &[(Support, 1860)],
            &[],
        ),
        case(
            "three parts, each of its time, tied by one loan label",
            vec![
                on("1", Support, vec![maker(1850, 1855, 0.9)]),
                on("2", Frame, vec![maker(1852, 1860, 0.9)]),
                over("3", Frame, Backing, vec![year(&[(1887, 0.9)])]),
            ],
            &[(Support, 1852), (Frame, 1855), (Backing, 1880)],
            &[],
        ),
        case(
            "nothing is said of a part that bears only an unread label",
            vec![
                on("1", Frame, vec![]),
                on("2", Support, vec![maker(1870, 1879, 0.7)]),
            ],
            &[(Support, 1874)],
            &[],
        ),
        case(
            "two clues on one label and a bridging show",
            vec![
                on("1", Frame, vec![maker(1880, 1905, 0.9), since(1885, 0.9)]),
                over("2", Frame, Backing, vec![later(1901, 1901, 0.85)]),
            ],
            &[(Frame, 1890), (Backing, 1900)],
            &[],
        ),
        // Re-used board
        case(
            "board used again: a show of 1851 on a board sold from 1880 on",
            vec![
                on("1", Support, vec![maker(1880, 1889, 0.93)]),
                on("2", Support, vec![later(1851, 1851, 0.9)]),
            ],
            &[(Support, 1884)],
            &["1", "2"],
        ),
        case(
            "board used again as a backing, under a label that bridges it too early",
            vec![
                on(
                    "1",
                    Backing,
                    vec![claim(vec![
                        Reading::new(
                            "the board is of a kind made from 1898 on",
                            0.9,
                            Some(1898),
                            None,
                        )
                        .by_maker(),
                    ])],
                ),
                over("2", Frame, Backing, vec![year(&[(1872, 0.9)])]),
            ],
            &[(Backing, 1910), (Frame, 1868)],
            &["1", "2"],
        ),
        case(
            "millboard of one firm with the stamp of another, later one as its maker",
            vec![
                on("1", Support, vec![maker(1845, 1852, 0.9)]),
                on("2", Support, vec![maker(1870, 1879, 0.85)]),
            ],
            &[(Support, 1848)],
            &["1", "2"],
        ),
        // Married frame
        case(
            "married frame: made 1904 to 1911, yet a label of 1873 runs over it and the stretcher",
            vec![
                on("1", Frame, vec![maker(1904, 1911, 0.95)]),
                over("2", Stretcher, Frame, vec![year(&[(1873, 0.9)])]),
                on("3", Stretcher, vec![maker(1860, 1870, 0.8)]),
            ],
            &[(Frame, 1907), (Stretcher, 1866)],
            &["1", "2"],
        ),
        case(
            "married frame whose maker's label bridges a backing of plywood",
            vec![
                over("1", Frame, Backing, vec![maker(1860, 1868, 0.95)]),
                on(
                    "2",
                    Backing,
                    vec![claim(vec![
                        Reading::new("the backing is plywood", 0.9, Some(1900), None).by_maker(),
                    ])],
                ),
            ],
            &[(Frame, 1864), (Backing, 1920)],
            &["1", "2"],
        ),
        case(
            "two framers' labels that can't both be of the maker",
            vec![
                on("1", Frame, vec![maker(1850, 1858, 0.9)]),
                on("2", Frame, vec![maker(1889, 1899, 0.9)]),
                on("3", Support, vec![maker(1848, 1856, 0.9)]),
            ],
            &[(Frame, 1855), (Support, 1852)],
            &["1", "2"],
        ),
        // Moved label
        case(
            "moved label: a show of 1871 on a stretcher whose maker began in 1890",
            vec![
                on("1", Stretcher, vec![maker(1890, 1899, 0.95)]),
                on("2", Stretcher, vec![later(1871, 1871, 0.95)]),
            ],
            &[(Stretcher, 1893)],
            &["1", "2"],
        ),
        case(
            "moved label among three that agree",
            vec![
                on("1", Frame, vec![maker(1885, 1890, 0.95)]),
                on("2", Frame, vec![year(&[(1892, 0.9)])]),
                on("3", Frame, vec![year(&[(1862, 0.9)])]),
                on("4", Frame, vec![since(1887, 0.9)]),
            ],
            &[(Frame, 1888)],
            &["1", "3"],
        ),
        case(
            "moved sale label of 1854 over frame and slip",
            vec![
                on("1", Slip, vec![maker(1866, 1874, 0.9)]),
                over("2", Frame, Slip, vec![later(1854, 1854, 0.9)]),
            ],
            &[(Slip, 1870), (Frame, 1850)],
            &["1", "2"],
        ),
        // Misread year
        case(
            "misread year: 1893 read as 1873",
            vec![
                on("1", Frame, vec![maker(1888, 1894, 0.95)]),
                on("2", Frame, vec![year(&[(1873, 0.6), (1893, 0.3)])]),
            ],
            &[(Frame, 1890)],
            &["1", "2"],
        ),
        case(
            "misread year on a label with its own contradiction",
            vec![on(
                "1",
                Stretcher,
                vec![since(1885, 0.95), year(&[(1868, 0.55), (1888, 0.4)])],
            )],
            &[(Stretcher, 1886)],
            &["1"],
        ),
        case(
            "misread year on a bridging label",
            vec![
                on("1", Backing, vec![maker(1880, 1884, 0.9)]),
                over(
                    "2",
                    Frame,
                    Backing,
                    vec![year(&[(1860, 0.5), (1880, 0.25), (1866, 0.2)])],
                ),
                on("3", Frame, vec![maker(1870, 1882, 0.9)]),
            ],
            &[(Backing, 1880), (Frame, 1875)],
            &["1", "2"],
        ),
    ]
}

fn back(case: &Case) -> Back {
    Back {
        marks: case.marks.clone(),
    }
}

/// One choice: for each mark the reading of each claim, and whether it strays; with its chance.
fn choices(marks: &[Mark]) -> Vec<(Vec<(Vec<Option<usize>>, bool)>, f64)> {
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
            WINDOW.into_iter().any(fits)
        });
        let sum: f64 = own.iter().map(|o| o.1).sum();
        let mut next = Vec::new();
        for (done, p) in &all {
            for (picked, q) in &own {
                for (stray, s) in [(false, 1.0 - STRAY), (true, STRAY)] {
                    let mut now: Vec<(Vec<Option<usize>>, bool)> = done.clone();
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
    WINDOW.into_iter().rev().any(fits)
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
    let d = of("misread year on a bridging");
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
