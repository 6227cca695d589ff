//! EDTF against its specification, against a reference library, and against a slow plain twin.

use super::*;
use proptest::prelude::*;
use serde_json::Value;

fn examples() -> Vec<Value> {
    let text = include_str!("../../../tests/reference/edtf.json");
    let all: Value = serde_json::from_str(text).expect("reference file");
    all["examples"].as_array().expect("examples").clone()
}

#[test]
fn every_example_of_the_specification_is_read_at_its_level_and_printed_back() {
    let examples = examples();
    assert!(examples.len() >= 60, "{}", examples.len());
    for e in &examples {
        let (text, section) = (
            e["text"].as_str().expect("text"),
            e["section"].as_str().expect("section"),
        );
        let value = Edtf::parse(text).unwrap_or_else(|m| panic!("{m}"));
        let level: u8 = section[..1].parse().expect("level");
        // The specification repeats one level 1 form among its level 2 examples.
        let level = if section == "2 qualification" && text == "2004-06-11%" {
            1
        } else {
            level
        };
        // An interval with a day of unspecified digits is listed at level 2, its parts are level 1.
        let level = if text == "2004-06-XX/2004-07-03" {
            1
        } else {
            level
        };
        // Qualifying the year alone from its right needs level 2 in a longer date.
        assert_eq!(value.level(), level, "{text}");
        // A sign left of the first part is printed right of it: same value.
        let printed = match text {
            "?2004-06-~11" => "2004?-06-~11",
            t => t,
        };
        assert_eq!(value.to_string(), printed);
    }
}

/// Where bounds differ from the reference library on purpose.
fn departure(text: &str) -> Option<(Option<&str>, Option<&str>)> {
    Some(match text {
        // Winter may begin or end the year; the library takes December alone.
        "2001-24" => (Some("2001-01-01"), Some("2002-02-28")),
        // The library gives an unknown end ten years; the specification gives it no width.
        "1985-04-12/" => (Some("1985-04-12"), None),
        "1985-04/" => (Some("1985-04-01"), None),
        "1985/" => (Some("1985-01-01"), None),
        "/1985-04-12" => (None, Some("1985-04-12")),
        "/1985-04" => (None, Some("1985-04-30")),
        "/1985" => (None, Some("1985-12-31")),
        // "some year between 1900 and 1999, estimated to be 1950"; the library gives the estimate.
        "1950S2" => (Some("1900-01-01"), Some("1999-12-31")),
        "Y171010000S3" => (Some("171000000-01-01"), Some("171999999-12-31")),
        "Y3388E2S3" => (Some("338000-01-01"), Some("338999-12-31")),
        // The library can't read it.
        "1984-1X" => (Some("1984-10-01"), Some("1984-12-31")),
        _ => return None,
    })
}

#[test]
fn bounds_are_those_of_the_reference_library_but_for_the_marked_departures() {
    let mut compared = 0;
    for e in examples() {
        let text = e["text"].as_str().expect("text");
        let value = Edtf::parse(text).unwrap_or_else(|m| panic!("{m}"));
        let ours = [value.earliest(), value.latest()].map(|d| d.map(|d| d.to_string()));
        let theirs = [e["library"][0].as_str(), e["library"][1].as_str()];
        match departure(text) {
            Some((a, b)) => {
                assert_ne!(theirs, [a, b], "{text} is no departure any more");
                assert_eq!(ours, [a, b].map(|d| d.map(String::from)), "{text}");
            }
            None => {
                assert_eq!(ours, theirs.map(|d| d.map(String::from)), "{text}");
                compared += 1;
            }
        }
    }
    assert!(compared >= 50, "{compared}");
}

#[test]
fn what_is_no_edtf_is_refused_where_it_goes_wrong_with_a_next_step() {
    let mut text = String::new();
    for wrong in [
        "",
        "soon",
        "1875?-",
        "186",
        "18685",
        "1868-13",
        "1868-02-30",
        "1869-02-29",
        "1868-5",
        "187x",
        "1870s",
        "c. 1868",
        "1868-75",
        "1875/1868",
        "/",
        "[1868",
        "[1868..1860]",
        "{}",
        "[1868..,1870]",
        "-0000",
        "Y1868",
        "1868-21-01",
        "1868S5",
        "1868T10:00:00",
        "1868-05-12T25:00:00",
        "by 1868",
        "1868 or 1870",
        "n.d.",
        "May 1868",
        "19th century",
    ] {
        match Edtf::parse(wrong) {
            Ok(v) => text += &format!("{wrong:?} was read as {v}\n"),
            Err(e) => text += &format!("{e}\n"),
        }
    }
    insta::assert_snapshot!(text, @r#"
    "", character 1: there is no date; leave it empty
    "soon", character 1: a year of four digits was expected here, not "s"; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1875?-", character 7: a month of two digits is missing at the end; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "186", character 4: a year of four digits is missing at the end; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "18685", character 5: a year of more than four digits starts with Y; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1868-13", character 6: there is no such month (01 to 12) or season (21 to 41); write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1868-02-30", character 1: there is no such date in the calendar; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1869-02-29", character 1: there is no such date in the calendar; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1868-5", character 7: a month of two digits is missing at the end; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "187x", character 4: a year of four digits was expected here, not "x"; write 187X
    "1870s", character 5: "s" has no meaning after the date; write 187X
    "c. 1868", character 1: a year of four digits was expected here, not "c"; write 1868~
    "1868-75", character 6: there is no such month (01 to 12) or season (21 to 41); write 1868/1875
    "1875/1868", character 1: the interval ends before it starts; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "/", character 1: an interval needs a date at an end; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "[1868", character 6: "," or "]" is missing at the end; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "[1868..1860]", character 2: the run ends before it starts; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "{}", character 2: a year of four digits was expected here, not "}"; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "[1868..,1870]", character 2: ".." after a date may only come last; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "-0000", character 1: there is no year -0000; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "Y1868", character 2: a year after Y has more than four digits, the first not 0; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1868-21-01", character 9: a season takes no day; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1868S5", character 1: S takes at most as many digits as the year has, and no X; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1868T10:00:00", character 5: a time of day needs a full, plain date before it; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "1868-05-12T25:00:00", character 12: an hour of two digits, at most 24, was expected; write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or another EDTF form
    "by 1868", character 1: a year of four digits was expected here, not "b"; write [..1868]
    "1868 or 1870", character 5: " " has no meaning after the date; write [1868,1870]
    "n.d.", character 1: a year of four digits was expected here, not "n"; leave it empty
    "May 1868", character 1: a year of four digits was expected here, not "M"; write 1868-05
    "19th century", character 3: a year of four digits was expected here, not "t"; write 18XX
    "#);
}

#[test]
fn dates_as_people_write_them_are_suggested_in_edtf() {
    for (written, edtf) in [
        ("c.1868", Some("1868~")),
        ("circa 1868", Some("1868~")),
        ("c 1868", Some("1868~")),
        ("c. 1868-75", Some("1868~/1875~")),
        ("1868–75", Some("1868/1875")),
        ("1868 - 1875", Some("1868/1875")),
        ("1868 to 1875", Some("1868/1875")),
        ("1868-", Some("1868/..")),
        ("1870s", Some("187X")),
        ("1870's", Some("187X")),
        ("187-", Some("187X")),
        ("187-?", Some("187X")),
        ("18--", Some("18XX")),
        ("19th century", Some("18XX")),
        ("(1868)", Some("1868")),
        ("1868.0", Some("1868")),
        ("1868 ?", Some("1868?")),
        ("before 1868", Some("[..1867]")),
        ("by 1868", Some("[..1868]")),
        ("after 1868", Some("[1869..]")),
        ("from 1868", Some("[1868..]")),
        ("12th May 1868", Some("1868-05-12")),
        ("Sept. 1868", Some("1868-09")),
        ("unknown", Some("")),
        ("1800s", None),
        ("7/8/1868", None),
        ("1875-68", None),
        ("fl. 1868", None),
        ("31 Feb 1868", None),
        ("40th century", None),
    ] {
        assert_eq!(suggest(written).as_deref(), edtf, "{written}");
    }
}

fn qualifier() -> impl Strategy<Value = Qualifier> {
    prop_oneof![
        3 => Just(Qualifier::default()),
        1 => (any::<bool>(), any::<bool>())
            .prop_map(|(uncertain, approximate)| Qualifier { uncertain, approximate }),
    ]
}

fn digit(most: u8) -> impl Strategy<Value = Option<u8>> {
    prop_oneof![4 => (0..=most).prop_map(Some), 1 => Just(None)]
}

fn year() -> impl Strategy<Value = Year> {
    let masked =
        (any::<bool>(), [digit(9), digit(9), digit(9), digit(9)]).prop_map(|(negative, digits)| {
            Year::Digits {
                negative,
                digits,
                significant: None,
            }
        });
    let significant = (any::<bool>(), [0..=9u8, 0..=9, 0..=9, 1..=9], 1..=4u8).prop_map(
        |(negative, digits, s)| Year::Digits {
            negative,
            digits: digits.map(Some),
            significant: Some(s),
        },
    );
    let long = (
        10_000..9_999_999i64,
        any::<bool>(),
        0..5u8,
        prop::option::of(1..=5u8),
    )
        .prop_map(|(m, negative, exponent, significant)| Year::Long {
            mantissa: if negative { -m } else { m },
            exponent,
            significant,
        });
    prop_oneof![6 => masked, 1 => significant, 1 => long]
}

prop_compose! {
    fn date()(
        year in year(),
        month in prop::option::of([digit(4), digit(9)]),
        day in prop::option::of([digit(3), digit(9)]),
        q in [qualifier(), qualifier(), qualifier()],
    ) -> Date {
        let plain = matches!(year, Year::Digits { significant: None, .. });
        let month = month.filter(|_| plain);
        let season = matches!(month, Some([Some(a), Some(b)]) if a * 10 + b > 12);
        let day = day.filter(|_| month.is_some() && !season);
        let none = Qualifier::default();
        Date {
            year,
            month,
            day,
            qualifiers: [
                q[0],
                if month.is_some() { q[1] } else { none },
                if day.is_some() { q[2] } else { none },
            ],
        }
    }
}

fn real_date() -> impl Strategy<Value = Date> {
    date().prop_filter("stands in the calendar", |d| {
        let month = match d.month {
            Some([Some(a), Some(b)]) => matches!(a * 10 + b, 1..=12 | 21..=41),
            _ => true,
        };
        let zero =
            matches!(d.year, Year::Digits { negative: true, digits, .. } if digits == [Some(0); 4]);
        month && !zero && d.span().is_some()
    })
}

fn ordered(a: Date, b: Date) -> Option<(Date, Date)> {
    if a.span()?.0 <= b.span()?.1 {
        Some((a, b))
    } else {
        Some((b, a))
    }
}

fn edtf() -> impl Strategy<Value = Edtf> {
    let interval = (real_date(), real_date(), 0..5u8).prop_filter_map("ordered", |(a, b, kind)| {
        let (x, y) = ordered(a, b)?;
        Some(match kind {
            0 => Edtf::Interval(End::On(a), End::Open),
            1 => Edtf::Interval(End::Open, End::On(a)),
            2 => Edtf::Interval(End::On(a), End::Unknown),
            3 => Edtf::Interval(End::Unknown, End::On(a)),
            _ => Edtf::Interval(End::On(x), End::On(y)),
        })
    });
    let member = prop_oneof![
        real_date().prop_map(Member::On),
        (real_date(), real_date()).prop_filter_map("ordered", |(a, b)| ordered(a, b)
            .map(|(a, b)| Member::Run(a, b))),
    ];
    let set = (
        prop::option::of(real_date()),
        prop::collection::vec(member, 1..4),
        prop::option::of(real_date()),
        any::<bool>(),
    )
        .prop_map(|(first, middle, last, one)| {
            let mut m: Vec<Member> = first.map(Member::Until).into_iter().collect();
            m.extend(middle);
            m.extend(last.map(Member::Since));
            if one { Edtf::OneOf(m) } else { Edtf::AllOf(m) }
        });
    prop_oneof![3 => real_date().prop_map(Edtf::On), 1 => interval, 1 => set]
}

/// Every day of a span of years that the digits of a date allow, found by looking at each.
fn slow_span(d: &Date, years: std::ops::RangeInclusive<i64>) -> Option<(Day, Day)> {
    let fits = |n: i64, digits: &[Option<u8>]| {
        let text = format!("{:0width$}", n, width = digits.len());
        text.len() == digits.len()
            && text
                .bytes()
                .zip(digits)
                .all(|(c, d)| d.is_none_or(|d| d == c - b'0'))
    };
    let Year::Digits { digits, .. } = d.year else {
        return None;
    };
    let mut found: Option<(Day, Day)> = None;
    for year in years.filter(|y| fits(*y, &digits)) {
        for month in (1..=12u8).filter(|m| d.month.is_none_or(|x| fits(i64::from(*m), &x))) {
            for day in (1..=31u8).filter(|n| d.day.is_none_or(|x| fits(i64::from(*n), &x))) {
                if jiff::civil::Date::new(year as i16, month as i8, day as i8).is_ok() {
                    let day = Day { year, month, day };
                    found = Some(found.map_or((day, day), |(a, _)| (a, day)));
                }
            }
        }
    }
    found
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn printing_and_parsing_gives_the_same_value(value in edtf()) {
        let text = value.to_string();
        let back = Edtf::parse(&text);
        prop_assert_eq!(back.as_ref(), Ok(&value), "{}", text);
        prop_assert!(value.level() <= 2);
        if let (Some(a), Some(b)) = (value.earliest(), value.latest()) {
            prop_assert!(a <= b, "{text}");
        }
    }

    #[test]
    fn no_text_makes_parsing_fail_otherwise_than_with_a_position(text in "[0-9XYEST?~%/.,\\[\\]{}: -]{0,16}|\\PC{0,12}") {
        match Edtf::parse(&text) {
            Ok(v) => prop_assert_eq!(Edtf::parse(&v.to_string()), Ok(v)),
            Err(m) => {
                prop_assert!(m.position >= 1 && m.position <= text.chars().count() + 1);
                prop_assert!(!m.what.is_empty() && !m.next.is_empty());
            }
        }
        let _ = suggest(&text);
    }

    #[test]
    fn bounds_are_the_first_and_last_day_that_fit(d in real_date()) {
        let in_reach = matches!(
            d.year,
            Year::Digits { negative: false, digits: [Some(1), Some(_), Some(_), _], significant: None }
        );
        let season = matches!(d.month, Some([Some(a), Some(b)]) if a * 10 + b > 12);
        if in_reach && !season {
            prop_assert_eq!(d.span(), slow_span(&d, 1000..=1999));
        }
    }
}
