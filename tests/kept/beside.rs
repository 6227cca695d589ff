//! What is proposed for a mark is weighed beside the rest of its picture, and that can be left out.

use crate::support::*;
use dorso::dating::clues::Clues;
use dorso::decisions::{Act, Bearer, KeptMark, MarkId, SqliteStore, Store, Taken};
use dorso::geometry::Rect;
use dorso::marks::MarkKind;
use dorso::run::{hold_changed, known_beside};
use std::path::Path;

fn store(dir: &Path) -> SqliteStore {
    SqliteStore::open(&dir.join("store.sqlite")).unwrap()
}

fn hold(s: &mut SqliteStore) {
    let clues = Clues::with_own(None).unwrap().0;
    hold_changed(s, &clues, None, &|_, _| {}).unwrap();
    assert!(s.unweighed().unwrap().is_empty());
}

/// A framer's label that may name two addresses, in years and towns of their own.
fn label(years: [(&str, &str); 2], towns: [&str; 2]) -> dorso::decisions::SeenMark {
    let mut m = firm_label();
    let list = &mut m.rivals[0];
    for (p, (from, to)) in list.proposals.iter_mut().zip(years) {
        p.not_before = from.into();
        p.not_after = to.into();
    }
    for (p, town) in list.proposals.iter_mut().zip(towns) {
        p.town = town.into();
    }
    m.rivals.truncate(1);
    m
}

fn year() -> dorso::decisions::SeenMark {
    mark(
        "m2",
        MarkKind::Inscription,
        Rect::new(420, 300, 150, 60).quad(),
        reading(&[("14 March 1871", 0.97)]),
        Vec::new(),
    )
}

fn on_frame() -> Act {
    Act::On {
        bearer: Bearer::Frame,
        bridging: None,
    }
}

fn take(entry: &str) -> Act {
    let p = proposal("framers", entry, "Thackwray & Son", 0.41);
    Act::Take(Taken::from(&p))
}

fn chances(m: &KeptMark) -> Vec<(String, f64)> {
    let framers = m.rivals.iter().find(|r| r.list == "framers").unwrap();
    let sum = framers.unlisted + framers.proposals.iter().map(|p| p.probability).sum::<f64>();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    framers
        .proposals
        .iter()
        .map(|p| (p.entry.clone(), p.probability))
        .collect()
}

/// What is told for an entry.
fn why(m: &KeptMark, entry: &str) -> String {
    let all = m.rivals.iter().flat_map(|r| &r.proposals);
    let p = all.into_iter().find(|p| p.entry == entry).unwrap();
    p.agreement.because.join(" ")
}

#[test]
fn a_year_on_the_frame_speaks_against_the_address_that_came_later() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let seen = label([("1881", "1890"), ("1860", "1869")], ["", ""]);
    let alone = seen.rivals.clone();
    let recorded = s
        .record_run(&run(vec![photograph("back.jpg", 'a', vec![seen, year()])]))
        .unwrap();
    let ids: Vec<MarkId> = recorded.marks[0].clone();
    hold(&mut s);
    let before = chances(&s.mark(ids[0]).unwrap());
    assert_eq!(before[0].0, "thackwray-kendal-2", "nothing ties them yet");
    for id in &ids {
        s.decide(*id, &on_frame(), &carrow("seen in the hand"))
            .unwrap();
    }
    assert_eq!(s.unweighed().unwrap(), [recorded.picture_id]);
    hold(&mut s);
    let m = s.mark(ids[0]).unwrap();
    let after = chances(&m);
    assert_eq!(after[0].0, "thackwray-kendal-1", "{after:?}");
    assert!(after[0].1 > before[1].1 + 0.1, "{before:?} {after:?}");
    let told = why(&m, "thackwray-kendal-2");
    assert!(told.contains("weigh against its years"), "{told}");
    assert!(
        told.contains("By the lettering alone its chance is 0.48."),
        "{told}"
    );
    assert_eq!(m.latest().rivals, alone, "the reading stays as it was");

    s.weigh_beside(false).unwrap();
    assert_eq!(s.mark(ids[0]).unwrap().rivals, alone);
    s.weigh_beside(true).unwrap();
    assert_eq!(chances(&s.mark(ids[0]).unwrap()), after);
}

#[test]
fn a_town_on_another_mark_speaks_for_the_address_there() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let mut town = year();
    town.reading = reading(&[("HEXLEY", 0.9)]);
    town.rivals = vec![rivals(
        "towns",
        vec![proposal("towns", "hexley", "Hexley", 0.9)],
    )];
    let seen = label([("1860", "1869"), ("1860", "1869")], ["Kendal", "Hexley"]);
    let recorded = s
        .record_run(&run(vec![photograph("back.jpg", 'a', vec![seen, town])]))
        .unwrap();
    let id = recorded.marks[0][0];
    hold(&mut s);
    let m = s.mark(id).unwrap();
    assert_eq!(chances(&m)[0].0, "thackwray-kendal-1");
    assert!(why(&m, "thackwray-kendal-1").contains("names Hexley"));
    let known = known_beside(&s, id, recorded.picture_id).unwrap();
    assert_eq!(known.towns, [("Hexley".to_string(), 0.9)]);
    s.weigh_beside(false).unwrap();
    assert!(
        known_beside(&s, id, recorded.picture_id)
            .unwrap()
            .is_empty()
    );
}

#[test]
fn what_was_taken_on_other_pictures_weighs_a_little_until_it_is_undone() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let mut recorded = Vec::new();
    for (file, sha) in [("oaks.jpg", 'a'), ("mill.jpg", 'b'), ("ferry.jpg", 'c')] {
        let seen = label([("1860", "1869"), ("1860", "1869")], ["", ""]);
        let mut one = run(vec![photograph(file, sha, vec![seen])]);
        one.picture = Some(file.into());
        recorded.push(s.record_run(&one).unwrap());
    }
    let id = |i: usize| recorded[i].marks[0][0];
    let first = s
        .decide(id(0), &take("thackwray-kendal-1"), &carrow(""))
        .unwrap();
    s.decide(id(1), &take("thackwray-kendal-1"), &carrow(""))
        .unwrap();
    hold(&mut s);
    let m = s.mark(id(2)).unwrap();
    assert_eq!(chances(&m)[0].0, "thackwray-kendal-1");
    assert!(why(&m, "thackwray-kendal-1").contains("2 times before"));
    // Its own picture doesn't count for it
    let own = s.mark(id(0)).unwrap();
    assert!(why(&own, "thackwray-kendal-1").contains("once before"));

    s.decide(id(0), &Act::Undo { undoes: first.id }, &carrow(""))
        .unwrap();
    s.decide(id(2), &on_frame(), &carrow("")).unwrap();
    hold(&mut s);
    assert!(why(&s.mark(id(2)).unwrap(), "thackwray-kendal-1").contains("once before"));
}
