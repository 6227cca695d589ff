//! Twenty-five invented backs with planted years, half of them with a planted contradiction. Nothing
//! here was ever made, hung or sold.

use dorso::decisions::Bearer::{self, Backing, Frame, Slip, Stretcher, Support};
use dorso::evidence::{Claim, Mark, Reading};

pub struct Case {
    pub name: &'static str,
    pub marks: Vec<Mark>,
    /// True year in which each part was made.
    pub truth: Vec<(Bearer, i32)>,
    /// The marks whose statements contradict each other; empty: all is consistent.
    pub planted: Vec<&'static str>,
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
        proposed: Vec::new(),
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

pub fn cases() -> Vec<Case> {
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
