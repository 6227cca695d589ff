use super::*;
use crate::geometry::Point;
use proptest::prelude::*;

const ROW: Rect = Rect {
    x: 20,
    y: 20,
    w: 300,
    h: 30,
};

fn line(signs: Vec<Character>, row: i32) -> Line {
    let place = Rect {
        y: 20 + 50 * row,
        ..ROW
    };
    Line::from_characters(signs, place, place)
}

fn letters(text: &str, chance: f64) -> Vec<Character> {
    text.chars()
        .map(|c| Character::sure(&c.to_string(), chance))
        .collect()
}

fn reading(lines: &[(&str, f64)]) -> Reading {
    let rows = lines.iter().zip(0..);
    Reading {
        lines: rows
            .map(|((t, c), row)| line(letters(t, *c), row))
            .collect(),
        ..Reading::default()
    }
}

fn outline() -> Quad {
    Rect::new(0, 0, 400, 300).quad()
}

/// Sightings of one mark on photographs that lie on each other.
fn views(readings: &[Reading]) -> Vec<View<'_>> {
    let view = |reading| View {
        reading,
        outline: outline(),
        to_first: Some(SAME),
    };
    readings.iter().map(view).collect()
}

fn read(readings: &[Reading]) -> Vec<String> {
    let all = together(&views(readings));
    all.lines.into_iter().map(|l| l.leiden).collect()
}

#[test]
fn what_two_of_three_read_stands_and_the_third_stays_an_alternative() {
    let all = [
        reading(&[("FENN & SONS", 0.95)]),
        reading(&[("FENN & SQNS", 0.95)]),
        reading(&[("FENN & SONS", 0.95)]),
    ];
    let joint = together(&views(&all));
    assert_eq!(joint.lines[0].text, "FENN & SONS");
    let odd = &joint.lines[0].characters[8];
    assert!(odd.alternatives.iter().any(|a| a.0 == "Q"), "{odd:?}");
}

#[test]
fn a_clear_letter_outweighs_two_unclear_ones() {
    let mut poor = reading(&[("FENN & SONS", 0.9)]);
    poor.lines[0].characters[0] = Character {
        text: "P".into(),
        confidence: 0.45,
        alternatives: vec![("F".into(), 0.4)],
    };
    let all = [poor.clone(), reading(&[("FENN & SONS", 0.97)]), poor];
    assert_eq!(together(&views(&all)).lines[0].text, "FENN & SONS");
}

/// A line cut off by the edge of its photograph.
fn cut(text: &str, starts: bool, ends: bool) -> Reading {
    let lost = |there: bool| there.then(Character::stretch);
    let all = lost(starts)
        .into_iter()
        .chain(letters(text, 0.95))
        .chain(lost(ends));
    Reading {
        lines: vec![line(all.collect(), 0)],
        ..Reading::default()
    }
}

#[test]
fn a_line_cut_off_in_one_is_completed_by_the_other() {
    let whole = reading(&[("CARVERS AND GILDERS", 0.9)]);
    let all = [cut("CARVERS AND GI", false, true), whole];
    assert_eq!(read(&all), ["CARVERS AND GILDERS"]);
}

#[test]
fn halves_of_a_line_come_together_and_what_neither_shows_stays_cut_off() {
    let all = [
        cut("CARVERS AND GI", false, true),
        cut("VERS AND GILDERS", true, false),
    ];
    assert_eq!(read(&all), ["CARVERS AND GILDERS"]);
    let all = [
        cut("CARVERS AND GI", false, true),
        cut("VERS AND GILD", true, true),
    ];
    assert_eq!(
        read(&all),
        ["CARVERS AND GIL\u{1e0c}[---]"],
        "a letter beside a cut is unclear"
    );
}

#[test]
fn a_line_that_one_sighting_misses_is_taken_over_in_its_place() {
    let all = [
        reading(&[("T. RAVENSBY & SON", 0.95), ("31 PEVERELL STREET", 0.95)]),
        reading(&[
            ("T. RAVENSBY & SON", 0.95),
            ("CARVERS", 0.95),
            ("31 PEVERELL STREET", 0.95),
        ]),
    ];
    assert_eq!(
        read(&all),
        ["T. RAVENSBY & SON", "CARVERS", "31 PEVERELL STREET"]
    );
}

#[test]
fn grain_that_one_of_three_reads_poorly_is_left_out() {
    let mut odd = reading(&[("T. RAVENSBY & SON", 0.95)]);
    odd.lines.push(line(letters("iI;", 0.4), 3));
    let all = [
        reading(&[("T. RAVENSBY & SON", 0.95)]),
        odd,
        reading(&[("T. RAVENSBY & SON", 0.95)]),
    ];
    assert_eq!(read(&all), ["T. RAVENSBY & SON"]);
}

#[test]
fn a_line_that_a_wide_gap_parts_in_one_sighting_is_one_row() {
    let mut parted = reading(&[]);
    let place = |x, w| Rect { x, w, ..ROW };
    parted.lines = vec![
        Line::from_characters(letters("No. 417", 0.95), place(20, 100), place(20, 100)),
        Line::from_characters(letters("HARLE", 0.95), place(240, 80), place(240, 80)),
    ];
    let whole = reading(&[("No. 417 HARLE", 0.9)]);
    assert_eq!(read(&[parted, whole]), ["No. 417 HARLE"]);
}

#[test]
fn boxes_lie_on_the_first_view_s_photograph() {
    let map = Homography([2.0, 0.0, 100.0, 0.0, 2.0, 50.0, 0.0, 0.0, 1.0]);
    let (near, far) = (reading(&[]), reading(&[("Fenn", 0.95)]));
    let there = Quad(outline().0.map(|p| map.apply(p)));
    let first = View {
        reading: &near,
        outline: there,
        to_first: None,
    };
    let second = View {
        reading: &far,
        outline: outline(),
        to_first: Some(map),
    };
    let joint = together(&[first, second]);
    assert_eq!(joint.lines[0].bounds, Rect::new(140, 90, 600, 60));
    assert_eq!(joint.lines[0].within, Rect::new(40, 40, 600, 60));
}

#[test]
fn none_gives_nothing_and_unread_marks_stay_unread() {
    assert_eq!(together(&[]), Reading::default());
    let unread = [reading(&[]), reading(&[])];
    assert!(together(&views(&unread)).lines.is_empty());
    let flat = View {
        reading: &unread[0],
        outline: Quad([Point::new(3.0, 3.0); 4]),
        to_first: None,
    };
    let fine = reading(&[("Fenn", 0.9)]);
    let other = View {
        reading: &fine,
        ..flat
    };
    assert_eq!(
        together(&[flat, other]).lines.len(),
        1,
        "an outline without area"
    );
}

/// Misreads a text: each letter kept, lost, doubled or another, with a chance of its own.
fn misread(text: &'static str) -> impl Strategy<Value = Vec<Character>> {
    let letter = |c: char| {
        let odd = prop_oneof![6 => Just(c.to_string()), 1 => "[A-Za-z0-9]".prop_map(String::from)];
        (odd, 0.2f64..0.98, 0usize..12, "[a-z]").prop_map(|(text, confidence, times, other)| {
            let one = Character {
                alternatives: vec![(other, (1.0 - confidence) / 2.0)],
                text,
                confidence,
            };
            match times {
                0 => Vec::new(),
                1 => vec![one.clone(), one],
                _ => vec![one],
            }
        })
    };
    let all: Vec<_> = text.chars().map(letter).collect();
    all.prop_map(|letters| letters.concat())
}

fn sighting() -> impl Strategy<Value = Reading> {
    let rows = (
        misread("T. Ravensby & Son"),
        misread("CARVERS AND GILDERS"),
        misread("31 Peverell Street"),
    );
    (rows, proptest::bits::u8::between(0, 3)).prop_map(|((a, b, c), there)| {
        let all = [a, b, c]
            .into_iter()
            .zip(0..)
            .filter(|(l, row)| there >> row & 1 == 0 && !l.is_empty());
        Reading {
            lines: all.map(|(l, row)| line(l, row)).collect(),
            ..Reading::default()
        }
    })
}

fn told(reading: &Reading) -> Vec<(String, Vec<f64>)> {
    let chances = |l: &Line| l.characters.iter().map(|c| c.confidence).collect();
    reading
        .lines
        .iter()
        .map(|l| (l.leiden.clone(), chances(l)))
        .collect()
}

proptest! {
    #[test]
    fn one_view_comes_back_as_it_is(reading in sighting()) {
        let view = View { reading: &reading, outline: outline(), to_first: None };
        prop_assert_eq!(together(&[view]), reading);
    }

    #[test]
    fn the_order_of_the_views_says_nothing(
        (all, turned) in proptest::collection::vec(sighting(), 2..5)
            .prop_flat_map(|all| (Just(all.clone()), Just(all).prop_shuffle()))
    ) {
        prop_assert_eq!(told(&together(&views(&all))), told(&together(&views(&turned))));
    }

    #[test]
    fn chances_of_a_letter_and_its_alternatives_sum_to_at_most_one(
        all in proptest::collection::vec(sighting(), 2..4)
    ) {
        for c in together(&views(&all)).lines.iter().flat_map(|l| &l.characters) {
            let sum = c.confidence + c.alternatives.iter().filter(|a| a.0 != "…").map(|a| a.1).sum::<f64>();
            prop_assert!((0.0..=1.0 + 1e-9).contains(&sum), "{c:?}");
        }
    }

    #[test]
    fn the_same_reading_again_tells_no_more_than_the_dependence_allows(
        chance in 0.3f64..0.99, share in 0.05f64..0.95, times in 2usize..6,
    ) {
        let other = (1.0 - chance) * share;
        let one = Character { text: "F".into(), confidence: chance, alternatives: vec![("P".into(), other)] };
        let piece = network::Piece::of(&[one], 30);
        let mut row = Network::new(0, times, &piece);
        for v in 1..times {
            let along = row.align(&piece);
            row.add(v, &piece, &along);
        }
        let pooled = fit().pool(&row);
        let of = |s: &str| pooled[0].signs.iter().find(|x| x.0 == s).map_or(0.0, |x| x.1);
        let gained = (of("F") / of("P")).ln() / (chance / other).ln();
        let most = (times as f64).powf(1.0 - fit().dependence());
        prop_assert!((gained - most).abs() < 1e-6, "{gained} {most}");
        prop_assert!(most < times as f64);
    }
}
