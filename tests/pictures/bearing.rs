//! What a mark lies on is proposed with a chance, kept, and never counts as told.

use crate::support::{firm_label, photograph};
use dorso::dating::clues::Clues;
use dorso::decisions::{Act, Author, Bearer, Run, SqliteStore, Store};
use dorso::evidence::{Back, Claim, Mark, Reading, gather, solve};
use dorso::geometry::Quad;
use dorso::marks::{self, Bearing, Part};

fn corners(value: &serde_json::Value) -> Quad {
    Quad(std::array::from_fn(|i| {
        let at = |k: usize| value[i][k].as_f64().unwrap();
        dorso::geometry::Point::new(at(0), at(1))
    }))
}

/// Names in the truth beside the samples.
fn part(name: &str) -> Part {
    let name = if name == "board" { "panel" } else { name };
    Part::ALL.into_iter().find(|p| p.as_str() == name).unwrap()
}

#[test]
fn on_whole_backs_nearly_every_mark_is_proposed_on_its_part_and_chances_sum_to_one() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/photographs");
    let (mut right, mut all) = (0, 0);
    for name in ["ferry-back", "mill-back", "quinces-back", "winter-back"] {
        let picture = dorso::photograph::open(format!("{folder}/{name}.jpg").as_ref())
            .unwrap()
            .picture;
        let text = std::fs::read_to_string(format!("{folder}/{name}.json")).unwrap();
        let truth: serde_json::Value = serde_json::from_str(&text).unwrap();
        let found = marks::find(&picture);
        for m in truth["marks"].as_array().unwrap() {
            let outline = corners(&m["outline"]);
            let Some(mark) = found.iter().find(|f| f.outline.iou(&outline) >= 0.5) else {
                continue;
            };
            let bearing = mark.bearing.as_ref().unwrap();
            let sum: f64 = bearing.on.iter().map(|o| o.1).sum();
            assert!((0.93..=1.0 + 1e-9).contains(&sum), "{sum}");
            all += 1;
            right += usize::from(bearing.on[0].0 == part(m["bearer"].as_str().unwrap()));
        }
    }
    assert!(all >= 24, "{all}");
    assert!(right * 10 >= all * 9, "{right} of {all}");
}

fn dated(proposed: Vec<(Bearer, Option<Bearer>, f64)>) -> Mark {
    Mark {
        id: "1".into(),
        name: "printed label 1".into(),
        bearer: None,
        bridges: None,
        proposed,
        claims: vec![Claim {
            about: "wording".into(),
            readings: vec![Reading::new(
                "the year on it is 1871",
                1.0,
                None,
                Some(1871),
            )],
            source: String::new(),
            by_person: true,
        }],
    }
}

#[test]
fn a_proposed_bearer_dates_its_part_with_the_chance_of_the_proposal_and_says_so() {
    let back = Back {
        marks: vec![dated(vec![(Bearer::Frame, None, 0.7)])],
    };
    let solved = solve(&back);
    let (part, d) = &solved.parts[0];
    assert_eq!(*part, Bearer::Frame);
    assert_eq!(d.years.to, Some(1871));
    // The chance of the place, less that of a mark that strays
    let expected = 0.7 * (1.0 - dorso::evidence::STRAY);
    assert!((d.chance - expected).abs() < 1e-6, "{}", d.chance);
    assert_eq!(d.proposed, ["1"]);
    assert!(solved.conflicts.is_empty());
}

#[test]
fn a_proposed_bridge_ties_no_part_that_it_rather_does_not_reach() {
    let weak = vec![
        (Bearer::Frame, None, 0.5),
        (Bearer::Frame, Some(Bearer::Backing), 0.3),
    ];
    let solved = solve(&Back {
        marks: vec![dated(weak)],
    });
    let parts: Vec<Bearer> = solved.parts.iter().map(|p| p.0).collect();
    assert_eq!(parts, [Bearer::Frame]);
    let told = Mark {
        bearer: Some(Bearer::Frame),
        bridges: Some(Bearer::Backing),
        ..dated(Vec::new())
    };
    let solved = solve(&Back { marks: vec![told] });
    let parts: Vec<Bearer> = solved.parts.iter().map(|p| p.0).collect();
    assert_eq!(parts, [Bearer::Frame, Bearer::Backing]);
    assert!(solved.parts.iter().all(|p| p.1.proposed.is_empty()));
}

#[test]
fn a_proposal_is_kept_and_gives_way_to_what_a_person_says() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("store.sqlite");
    let mut mark = firm_label();
    let proposed = Bearing {
        on: vec![(Part::Frame, 0.9), (Part::Backing, 0.08)],
        bridges: Some((Part::Panel, 0.4)),
    };
    mark.bearing = Some(proposed.clone());
    let mut store = SqliteStore::open(&path).unwrap();
    let run = Run {
        by: "Ann Orme".into(),
        at: "2024-05-03T10:12:40+01:00".into(),
        program: "dorso".into(),
        photographs: vec![photograph("/invented/mill.jpg", 'a', vec![mark])],
        ..Run::default()
    };
    let id = store.record_run(&run).unwrap().marks[0][0];
    let kept = store.mark(id).unwrap();
    assert_eq!(kept.bearing(), Some(&proposed));
    let clues = Clues::built_in().unwrap();
    let before = gather(std::slice::from_ref(&kept), &[], &clues).unwrap();
    let at = &before.back.marks[0];
    assert_eq!(at.bearer, None);
    assert_eq!(before.unplaced, [id.to_string()]);
    let sum: f64 = at.proposed.iter().map(|p| p.2).sum();
    assert!(sum < 0.9, "less sure than the photograph: {sum}");
    assert_eq!(at.proposed[1].1, Some(Bearer::Support));

    let act = Act::On {
        bearer: Bearer::Backing,
        bridging: None,
    };
    let author = Author {
        by: "Ann Orme".into(),
        at: "2024-05-03T10:20:00+01:00".into(),
        why: String::new(),
    };
    store.decide(id, &act, &author).unwrap();
    let after = gather(&[store.mark(id).unwrap()], &[], &clues).unwrap();
    assert_eq!(after.back.marks[0].bearer, Some(Bearer::Backing));
    assert!(after.back.marks[0].proposed.is_empty());
}
