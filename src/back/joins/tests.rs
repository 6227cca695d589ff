use super::*;
use crate::geometry::{Point, Rect};
use crate::readings::from_typed;
use image::{Rgb, RgbImage};
use proptest::prelude::*;

const SIZE: (u32, u32) = (1000, 800);

fn reading(text: &str) -> Reading {
    Reading {
        lines: from_typed(text).expect("a typed reading"),
        ..Reading::default()
    }
}

fn sighting(photo: usize, outline: Quad, reading: &Reading) -> Shown<'_> {
    Shown {
        photo,
        size: SIZE,
        outline,
        kind: MarkKind::PrintedLabel,
        reading,
        look: None,
    }
}

/// Photographs placed by a shift and a scale.
fn plan(places: &[Option<(f64, f64, f64, f64)>]) -> Plan {
    let place = |p: &Option<(f64, f64, f64, f64)>| {
        p.map(|(x, y, k, chance)| Place {
            face: 0,
            to_plan: Homography([k, 0.0, x, 0.0, k, y, 0.0, 0.0, 1.0]),
            error_px: 1.0,
            chance,
        })
    };
    Plan {
        ground: Some(0),
        places: places.iter().map(place).collect(),
    }
}

const FIRM: &str = "MARCHBOLD & SON / CARVERS AND GILDERS / 3 ST OSYTH'S SQUARE";

fn chance_of(joins: &[Join], a: usize, b: usize) -> f64 {
    let one = joins.iter().find(|j| (j.a, j.b) == (a, b));
    one.map_or(0.0, |j| j.chance)
}

#[test]
fn weights_are_as_many_as_measures() {
    let w = weights();
    let counts = [
        w.looks.len(),
        w.together.len(),
        w.apart.len(),
        w.unplaced.len(),
    ];
    assert_eq!(counts, [5, 10, 5, 1]);
}

#[test]
fn twin_labels_on_two_whole_views_stay_two() {
    let firm = reading(FIRM);
    let (left, right) = (
        Rect::new(100, 100, 200, 120).quad(),
        Rect::new(600, 500, 200, 120).quad(),
    );
    let shown = [
        sighting(0, left, &firm),
        sighting(0, right, &firm),
        sighting(1, left, &firm),
        sighting(1, right, &firm),
    ];
    let whole = Some((0.0, 0.0, 1.0, 0.999));
    let found = joins(&shown, &plan(&[whole, whole]));
    for (a, b) in [(0, 2), (1, 3)] {
        assert!(chance_of(&found, a, b) > 0.9, "{found:?}");
    }
    for (a, b) in [(0, 3), (1, 2)] {
        assert!(chance_of(&found, a, b) < 0.1, "{found:?}");
    }
    assert!(found[0].why.starts_with("lies at the same place, 0.0%"));
}

#[test]
fn halves_of_a_label_in_two_close_ups_come_together() {
    // The label lies at 100..1300 on the plan; one close-up shows it up to 800, the other from 600.
    let (left, right) = (
        reading("MARCHBOLD & / CARVERS AND"),
        reading("& SON / AND GILDERS"),
    );
    let shown = [
        sighting(0, Rect::new(100, 100, 700, 400).quad(), &left),
        sighting(1, Rect::new(0, 100, 700, 400).quad(), &right),
    ];
    let places = plan(&[
        Some((-200.0, 0.0, 1.0, 0.99)),
        Some((400.0, 0.0, 1.0, 0.99)),
    ]);
    let found = joins(&shown, &places);
    assert!(chance_of(&found, 0, 1) > 0.5, "{found:?}");
    assert!(found[0].why.starts_with("what both photographs show of it"));
}

#[test]
fn an_unplaced_close_up_of_one_of_two_twins_is_left_open() {
    let firm = reading(FIRM);
    let shown = [
        sighting(0, Rect::new(100, 100, 200, 120).quad(), &firm),
        sighting(0, Rect::new(600, 500, 200, 120).quad(), &firm),
        sighting(1, Rect::new(50, 50, 900, 600).quad(), &firm),
    ];
    let found = joins(&shown, &plan(&[Some((0.0, 0.0, 1.0, 1.0)), None]));
    for a in [0, 1] {
        let chance = chance_of(&found, a, 2);
        assert!((0.2..=0.5).contains(&chance), "{found:?}");
    }
    // Without the twin the same words are enough.
    let found = joins(
        &[shown[0], shown[2]],
        &plan(&[Some((0.0, 0.0, 1.0, 1.0)), None]),
    );
    assert!(chance_of(&found, 0, 1) > 0.6, "{found:?}");
}

#[test]
fn sightings_of_one_photograph_are_never_joined() {
    let firm = reading(FIRM);
    let at = Rect::new(100, 100, 200, 120).quad();
    let shown = [sighting(0, at, &firm), sighting(0, at, &firm)];
    assert!(joins(&shown, &plan(&[Some((0.0, 0.0, 1.0, 1.0))])).is_empty());
}

#[test]
fn a_label_found_in_two_pieces_is_one_mark_with_a_piece_beside() {
    let (firm, foot) = (reading(FIRM), reading("3 ST OSYTH'S SQUARE"));
    let whole = Rect::new(100, 100, 300, 200).quad();
    let shown = [
        sighting(0, whole, &firm),
        sighting(1, Rect::new(100, 100, 300, 140).quad(), &firm),
        sighting(1, Rect::new(100, 250, 300, 50).quad(), &foot),
        sighting(1, Rect::new(600, 500, 200, 120).quad(), &foot),
    ];
    let as_it_is = Some((0.0, 0.0, 1.0, 0.999));
    let places = plan(&[as_it_is, as_it_is]);
    let found = joins(&shown, &places);
    assert!(
        chance_of(&found, 0, 1) > 0.5 && chance_of(&found, 0, 2) < 0.5,
        "{found:?}"
    );
    let beside = pieces(&shown, &places, &found);
    assert_eq!(beside, [Piece { piece: 2, of: 0 }]);
}

#[test]
fn a_line_is_laid_where_it_fits_best() {
    let words = |a: &str, b: &str| Wording::of(&letters(&reading(a)), &letters(&reading(b)));
    assert!((words("CARVERS AND", "Carvers and Gilders").same - 1.0).abs() < 1e-12);
    assert_eq!(words("", "Carvers").letters, 0.0);
    let other = words("MARCHBOLD & SON", "Lot 363");
    assert!(other.same < 0.5 && other.letters == 6.0);
    assert_eq!(said(&words("", "")), 0.0);
}

#[test]
fn a_look_is_like_itself_in_another_light_and_unlike_its_mirror_image() {
    let picture = |slope: f64, flip: bool| {
        RgbImage::from_fn(400, 280, |x, y| {
            let x = if flip { 399 - x } else { x };
            let ink = (x / 23 + 2 * (y / 31)) % 5 == 0 && x < 300 && y > 40;
            let v = if ink { 40.0 } else { 150.0 } + slope * f64::from(x);
            Rgb([v as u8; 3])
        })
    };
    let all = Rect::new(0, 0, 400, 280).quad();
    let [plain, raking, mirrored] =
        [(0.0, false), (0.2, false), (0.0, true)].map(|(s, f)| look(&picture(s, f), &all));
    let same = plain.alike(&raking, None).expect("spread");
    let other = plain.alike(&mirrored, None).expect("spread");
    assert!(same > 0.8 && other < same - 0.3, "{same} {other}");
    // A map from the right half of one to the whole of another picture of that half.
    let half = look(&picture(0.0, false), &Rect::new(200, 0, 200, 280).quad());
    let to_half = Homography([2.0, 0.0, -1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]);
    assert!(plain.alike(&half, Some(&to_half)).expect("spread") > 0.6);
    let none = look(&picture(0.0, false), &Rect::new(5, 5, 0, 0).quad());
    assert_eq!(plain.alike(&none, None), None);
}

proptest! {
    /// Chances of what competes for a sighting on one photograph never sum to more than 1, and are the
    /// same in whatever order the sightings are given.
    #[test]
    fn chances_of_rivals_share_one(
        at in prop::collection::vec((0usize..3, 0.0f64..800.0, 0.0f64..600.0, 0usize..3), 2..9),
    ) {
        let texts = [reading(FIRM), reading("Lot 363"), reading("")];
        let outline = |x: f64, y: f64| Quad([(x, y), (x + 150.0, y), (x + 150.0, y + 90.0), (x, y + 90.0)]
            .map(|(x, y)| Point::new(x, y)));
        let shown: Vec<Shown<'_>> = at
            .iter()
            .map(|&(photo, x, y, text)| sighting(photo, outline(x, y), &texts[text]))
            .collect();
        let places = plan(&[Some((0.0, 0.0, 1.0, 0.99)), Some((5.0, -3.0, 1.1, 0.9)), None]);
        let found = joins(&shown, &places);
        for (a, s) in shown.iter().enumerate() {
            for photo in (0..3).filter(|p| *p != s.photo) {
                let sum: f64 = found
                    .iter()
                    .filter(|j| (j.a == a && shown[j.b].photo == photo) || (j.b == a && shown[j.a].photo == photo))
                    .map(|j| j.chance)
                    .sum();
                prop_assert!(sum <= 1.0 + 1e-9, "{sum}");
            }
        }
        let n = shown.len();
        let turned: Vec<Shown<'_>> = shown.iter().rev().copied().collect();
        let again = joins(&turned, &places);
        prop_assert_eq!(found.len(), again.len());
        for j in &found {
            let other = chance_of(&again, n - 1 - j.b, n - 1 - j.a);
            prop_assert!((j.chance - other).abs() < 0.02, "{} {}", j.chance, other);
        }
    }
}
