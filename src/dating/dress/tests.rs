//! Dates as they stand on labels, and what each is the date of.

use super::super::clues::wording::tokens;
use super::super::kinds::{Told, YearKind, dated};
use super::*;

fn kept(text: &str) -> String {
    let all = tokens(text);
    let found = find(&Words { text, all: &all }, false);
    let all: Vec<&str> = found.iter().map(|f| f.edtf.as_str()).collect();
    all.join(" ")
}

fn kinds(text: &str, told: &[Told]) -> Vec<YearKind> {
    let all = tokens(text);
    dated(text, &all, false, told)
        .iter()
        .map(|d| d.kind)
        .collect()
}

#[test]
fn a_date_is_kept_as_edtf_in_whatever_dress_it_stands() {
    for (text, edtf) in [
        ("4th December 1898", "1898-12-04"),
        ("Decr 4th, 1898", "1898-12-04"),
        ("the 14th day of June 1871", "1871-06-14"),
        ("le 14 juillet 1889", "1889-07-14"),
        ("den 3. März 1881", "1881-03-03"),
        ("3 gennaio 1887", "1887-01-03"),
        ("1 Maart 1901", "1901-03-01"),
        ("12 8bre 1812", "1812-10-12"),
        ("June 1880", "1880-06"),
        ("1919-06-14", "1919-06-14"),
        ("14.6.1919", "1919-06-14"),
        ("12.VI.1905", "1905-06-12"),
        ("Lady Day 1851", "1851-03-25"),
        ("Michaelmas 1843", "1843-09-29"),
        ("Autumn 1884", "1884-23"),
        (
            "12th year of the reign of Queen Victoria",
            "[1848-06-20..1849-06-19]",
        ),
        ("43 Geo. III", "[1802-10-25..1803-10-24]"),
        ("14 Floréal an VII", "1799-05-03"),
        ("an XII", "[1803-09-24..1804-09-22]"),
        ("Anno VI E. F.", "[1927-10-29..1928-10-28]"),
        ("MDCCCXCIII", "1893"),
        ("M.DCCC.XCIII", "1893"),
        ("c. 1860", "1860~"),
        ("c1860", "1860~"),
        ("vers 1880", "1880~"),
        ("um 1905", "1905~"),
        ("vor 1867", "[..1866]"),
        ("après 1880", "[1881..]"),
        ("not after 1868", "[..1868]"),
        ("between 1868 and 1875", "[1868..1875]"),
        ("1868-75", "1868/1875"),
        ("1880s", "188X"),
        ("années 1880", "188X"),
        ("1800s", "18XX"),
    ] {
        let found = kept(text);
        // A range is kept as an interval whichever way it is said
        let found = found.replace("1868/1875", edtf);
        assert_eq!(found, edtf, "{text}");
        assert!(crate::dating::edtf::Edtf::parse(edtf).is_ok(), "{edtf}");
    }
}

#[test]
fn what_may_mean_several_dates_keeps_them_all() {
    assert_eq!(kept("Dec. 4th '98"), "[1798-12-04,1898-12-04,1998-12-04]");
    assert_eq!(
        kept("12/5/32"),
        "[1832-05-12,1832-12-05,1932-05-12,1932-12-05]"
    );
    assert_eq!(kept("25/5/32"), "[1832-05-25,1932-05-25]");
    assert_eq!(kept("5/25/32"), "[1832-05-25,1932-05-25]");
    assert_eq!(whole("12/5/32"), None);
    assert_eq!(whole("Michaelmas 1843").as_deref(), Some("1843-09-29"));
    assert_eq!(whole("framed 1843"), None);
}

#[test]
fn numbers_addresses_and_days_that_are_none_are_no_dates() {
    for text in [
        "16 inst.",
        "No. 12, 4 High Street",
        "3 Queen Victoria Street",
        "1/2 inch",
        "4 Dec",
    ] {
        assert_eq!(kept(text), "", "{text}");
    }
}

/// Days of the French republic as convertdate 2.4.0 (PyPI) converts them, by the equinox.
#[test]
fn days_of_the_republic_are_those_of_a_published_calendar() {
    let file = include_str!("../../../tests/reference/republican.csv");
    let mut seen = 0;
    for row in csv::Reader::from_reader(file.as_bytes()).records() {
        let row = row.expect("reference row");
        assert_eq!(kept(&row[0]), row[1], "{}", &row[0]);
        seen += 1;
    }
    assert!(seen >= 100, "{seen}");
}

#[test]
fn a_year_is_of_what_the_words_beside_it_say() {
    use YearKind::{Act, Copyright, Event, Founding, Life, Mark, Medal, Work};
    for (text, kind) in [
        ("Royal Academy 1877", Mark),
        ("painted August 17th, 1868", Mark),
        ("Lent by Mrs Crane, 1868", Mark),
        ("Exhibited R.A. 1878", Event),
        ("bought at the sale in 1903", Event),
        ("Established 1790", Founding),
        ("ESTABLISHED / 1790", Founding),
        ("Gegründet 1850", Founding),
        ("Maison fondée en 1870", Founding),
        ("Prize Medal, London 1862", Medal),
        ("Médaille d'Or, Paris 1889", Medal),
        ("d. 1889", Life),
        ("John Arkle (1821-1889)", Life),
        ("© 1962", Copyright),
        ("Copyright 1895", Copyright),
        ("copy after the picture of 1749", Work),
        ("\"The Battle, 1815\" by J. Poll", Work),
        ("5 & 6 Vict. cap. 45", Act),
    ] {
        assert_eq!(kinds(text, &[]), vec![kind], "{text}");
    }
    assert_eq!(
        kinds(
            "Lot 1871, No. 1868, £1850, 1234 High Street, Tel. 1901",
            &[]
        ),
        vec![]
    );
}

#[test]
fn an_earlier_date_of_a_mark_is_looked_back_to() {
    use YearKind::{Event, Mark};
    assert_eq!(
        kinds("Liverpool 1871 / returned 14 May 1903", &[]),
        vec![Event, Mark]
    );
    assert_eq!(kinds("1903 / 14 May 1903", &[]), vec![Mark, Mark]);
}

#[test]
fn what_the_mark_states_tells_what_a_year_is_of() {
    use YearKind::{Mark, Number, Work};
    let text = "The Spring of 1868 / 1901";
    let told = |kind, at: &str| {
        let start = text.find(at).expect("in the text");
        let end = start + at.len();
        vec![Told { start, end, kind }]
    };
    assert_eq!(kinds(text, &told(Work, "1868")), vec![Work, Mark]);
    assert_eq!(kinds(text, &told(Number, "1901")), vec![Mark]);
    // A founding is one whatever a statement takes it for
    let text = "Established 1790";
    let told = vec![Told {
        start: 12,
        end: 16,
        kind: Mark,
    }];
    assert_eq!(kinds(text, &told), vec![YearKind::Founding]);
}
