//! A mark is one thing, however often it was photographed: kept, asked, settled and told once.

use crate::support::{MONDAY, TUESDAY, blind_stamp, firm_label, photograph, run};
use dorso::decisions::{
    Act, Author, DoubtKind, Joined, Laying, MarkId, Placed, Run, Side, Sight, SqliteStore, State,
    Store, Taken, Whole, item, sides,
};
use dorso::geometry::Homography;
use std::path::Path;

fn person(by: &str) -> Author {
    Author {
        by: by.into(),
        at: TUESDAY.into(),
        why: String::new(),
    }
}

fn take(entry: &str) -> Act {
    Act::Take(Taken {
        list: "framers".into(),
        entry: entry.into(),
        name: format!("The firm {entry}"),
        not_before: "1868".into(),
        not_after: "1875".into(),
        source: "Invented Directory, 1870".into(),
        chance: Some(0.4),
        same_as: Vec::new(),
    })
}

/// The same label on three photographs of one back, and a stamp on the first alone.
fn three(dir: &Path) -> (SqliteStore, i64, Vec<MarkId>) {
    let mut s = SqliteStore::open(&dir.join("store.sqlite")).unwrap();
    let mut r: Run = run(vec![
        photograph("back.jpg", 'a', vec![firm_label(), blind_stamp()]),
        photograph("label.jpg", 'b', vec![firm_label()]),
        photograph("raking.jpg", 'c', vec![firm_label()]),
    ]);
    r.picture = Some("The Mill".into());
    let recorded = s.record_run(&r).unwrap();
    let labels = recorded.marks.iter().map(|m| m[0]).collect();
    (s, recorded.picture_id, labels)
}

fn laying(joins: &[(MarkId, MarkId, f64)]) -> Laying {
    Laying {
        by: "A. Carrow".into(),
        at: MONDAY.into(),
        program: "dorso".into(),
        places: (1..=3)
            .map(|p| {
                let place = Placed {
                    face: 0,
                    ground: 1,
                    to_plan: Homography::SAME,
                    error_px: 1.5,
                    chance: 0.99,
                };
                (p, Some(place))
            })
            .collect(),
        pieces: Vec::new(),
        bare_on: Vec::new(),
        joins: joins
            .iter()
            .map(|&(a, b, chance)| Joined {
                a,
                b,
                chance,
                moved: false,
                why: "lies at the same place".into(),
            })
            .collect(),
    }
}

#[test]
fn a_label_on_three_photographs_is_one_mark_and_is_asked_once() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    assert_eq!(s.due("2024-05-08", None).unwrap().len(), 4);
    s.keep_laying(
        picture,
        &laying(&[(l[0], l[1], 0.99), (l[1], l[2], 0.97), (l[0], l[2], 0.98)]),
    )
    .unwrap();
    let marks = s.marks(Some(picture)).unwrap();
    assert_eq!(marks.len(), 2);
    assert_eq!(marks[0].id, l[0]);
    let on: Vec<i64> = marks[0].sightings.iter().map(|x| x.photograph).collect();
    assert_eq!(on, [1, 2, 3]);
    assert_eq!(s.due("2024-05-08", None).unwrap().len(), 2);
    for id in &l {
        assert_eq!(s.mark(*id).unwrap().id, l[0], "every number names it");
    }
    assert_eq!(s.places(picture).unwrap()[&2].ground, 1);
    // Settled by any of its numbers, it is settled once.
    s.decide(l[2], &take("thackwray-kendal-2"), &person("A. Carrow"))
        .unwrap();
    let m = s.mark(l[0]).unwrap();
    assert_eq!(m.settled.taken().count(), 1);
    assert!(!s.due("2024-05-08", None).unwrap().contains(&l[0]));
}

#[test]
fn what_is_read_together_counts_until_a_sighting_changes() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    s.keep_laying(picture, &laying(&[(l[0], l[1], 0.99)]))
        .unwrap();
    assert_eq!(s.unread_together().unwrap(), [picture]);
    let m = s.mark(l[0]).unwrap();
    assert!(!m.read_together);
    let mut seen = m.latest().clone();
    seen.reading.lines.truncate(1);
    let whole = Whole {
        mark: m.id,
        made_of: m.made_of(),
        seen: seen.clone(),
    };
    s.keep_wholes(&[whole], MONDAY, "dorso").unwrap();
    let m = s.mark(l[0]).unwrap();
    assert!(m.read_together);
    assert_eq!(m.latest(), &seen);
    assert!(s.unread_together().unwrap().is_empty());
    s.record_run(&run(vec![photograph("label.jpg", 'b', vec![firm_label()])]))
        .unwrap();
    assert!(!s.mark(l[0]).unwrap().read_together);
    assert_eq!(s.unread_together().unwrap(), [picture]);
}

#[test]
fn what_a_person_joined_or_parted_is_never_overturned_and_can_be_undone() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    let apart = Act::Apart {
        from: vec![l[0], l[2]],
    };
    let d = s.decide(l[1], &apart, &person("A. Carrow")).unwrap();
    let sure = laying(&[
        (l[0], l[1], 0.999),
        (l[0], l[2], 0.999),
        (l[1], l[2], 0.999),
    ]);
    s.keep_laying(picture, &sure).unwrap();
    assert_eq!(s.mark(l[1]).unwrap().sightings.len(), 1);
    assert_eq!(s.mark(l[2]).unwrap().id, l[0]);
    s.decide(l[1], &Act::Undo { undoes: d.id }, &person("A. Carrow"))
        .unwrap();
    assert_eq!(s.mark(l[1]).unwrap().id, l[0]);
    let same = Act::Same { with: l[2] };
    let (mut s2, other) = {
        let dir2 = dir.path().join("second");
        std::fs::create_dir(&dir2).unwrap();
        let (s, p, _) = three(&dir2);
        (s, p)
    };
    s2.decide(l[0], &same, &person("A. Carrow")).unwrap();
    s2.keep_laying(other, &laying(&[])).unwrap();
    assert_eq!(s2.mark(l[2]).unwrap().id, l[0]);
    let e = s2.decide(l[0], &same, &person("A. Carrow")).unwrap_err();
    assert!(e.to_string().contains("already"), "{e}");
}

#[test]
fn a_doubtful_join_is_one_question_on_the_later_mark() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    s.keep_laying(picture, &laying(&[(l[0], l[1], 0.4)]))
        .unwrap();
    let of = |s: &SqliteStore, id| {
        let m = s.mark(id).unwrap();
        let doubts = item(&m, "2024-05-08").doubts;
        doubts.iter().filter(|d| d.kind == DoubtKind::Same).count()
    };
    assert_eq!((of(&s, l[0]), of(&s, l[1])), (0, 1));
    let same = Act::Same { with: l[0] };
    s.decide(l[1], &same, &person("A. Carrow")).unwrap();
    let m = s.mark(l[1]).unwrap();
    assert_eq!((m.id, of(&s, l[1])), (l[0], 0));
    s.decide(l[1], &Act::Apart { from: vec![l[0]] }, &person("A. Carrow"))
        .unwrap();
    assert_eq!((s.mark(l[1]).unwrap().id, of(&s, l[1])), (l[1], 0));
}

#[test]
fn what_was_decided_otherwise_of_two_sightings_is_asked_not_overturned() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    s.decide(l[0], &take("thackwray-kendal-1"), &person("A. Carrow"))
        .unwrap();
    s.decide(l[1], &take("thackwray-kendal-2"), &person("B. Lowe"))
        .unwrap();
    assert_eq!(item(&s.mark(l[0]).unwrap(), "").state, State::Settled);
    s.keep_laying(picture, &laying(&[(l[0], l[1], 0.99)]))
        .unwrap();
    let m = s.mark(l[0]).unwrap();
    let asked = item(&m, "");
    assert_eq!(asked.state, State::Open);
    assert_eq!(asked.doubts[0].kind, DoubtKind::Differs);
    assert!(m.differing[0].contains("kendal-1") && m.differing[0].contains("kendal-2"));
    assert_eq!(s.journal().unwrap().len(), 2, "both are kept");
    s.decide(l[0], &take("thackwray-kendal-2"), &person("A. Carrow"))
        .unwrap();
    assert!(s.mark(l[0]).unwrap().differing.is_empty());
}

#[test]
fn a_laying_that_holds_a_join_no_longer_parts_it() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    s.keep_laying(picture, &laying(&[(l[0], l[1], 0.99)]))
        .unwrap();
    s.keep_laying(picture, &laying(&[])).unwrap();
    assert_eq!(s.mark(l[1]).unwrap().id, l[1]);
    assert_eq!(s.marks(Some(picture)).unwrap().len(), 4);
}

#[test]
fn a_place_that_other_photographs_show_bare_is_not_asked_unless_a_person_speaks_of_it() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    let stamp = s.marks(Some(picture)).unwrap()[1].id;
    let joins = [(l[0], l[1], 0.99), (l[1], l[2], 0.97), (l[0], l[2], 0.98)];
    s.keep_laying(picture, &laying(&joins)).unwrap();
    let bears = s.mark(stamp).unwrap().bears;
    let mut bare = laying(&joins);
    bare.bare_on = vec![(stamp, 4)];
    s.keep_laying(picture, &bare).unwrap();
    let m = s.mark(stamp).unwrap();
    assert!(m.bears < 0.15 && m.bears < bears, "{} {bears}", m.bears);
    assert!(m.is_unlikely() && !m.is_told());
    assert!(!s.due("2024-05-08", None).unwrap().contains(&stamp));
    assert_eq!(s.marks(Some(picture)).unwrap().len(), 2, "it is kept");
    let said = s
        .decide(stamp, &Act::Unreadable, &person("A. Carrow"))
        .unwrap();
    assert!(s.mark(stamp).unwrap().is_told());
    s.decide(stamp, &Act::Undo { undoes: said.id }, &person("A. Carrow"))
        .unwrap();
    assert!(!s.mark(stamp).unwrap().is_told());
    // Laid anew with a mark found there on the other photographs, it is one again.
    s.keep_laying(picture, &laying(&joins)).unwrap();
    assert!(s.due("2024-05-08", None).unwrap().contains(&stamp));
}

#[test]
fn photographs_of_another_side_are_told_undone_and_numbered_as_faces_of_their_own() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, l) = three(dir.path());
    let raking = "c".repeat(64);
    let front = Sight::Shows {
        photograph: raking.clone(),
        name: "raking.jpg".into(),
        side: Side::Front,
    };
    let said = s.observe(picture, &front, &person("A. Carrow")).unwrap();
    let told = |s: &SqliteStore| sides(&s.observations(Some(picture)).unwrap());
    assert_eq!(told(&s).get(&raking), Some(&Side::Front));
    // The label on it is another mark than that on the back, however alike they are
    let whole = laying(&[(l[0], l[1], 0.99), (l[1], l[2], 0.97), (l[0], l[2], 0.98)]);
    s.keep_laying(picture, &whole).unwrap();
    assert_eq!(s.mark(l[2]).unwrap().id, l[0]);
    let (mut back, mut other) = (laying(&[(l[0], l[1], 0.99)]), laying(&[]));
    back.places.truncate(2);
    other.places.drain(..2);
    let parted = back.with(other);
    let faces: Vec<_> = parted
        .places
        .iter()
        .map(|p| p.1.as_ref().unwrap().face)
        .collect();
    assert_eq!(faces, [0, 0, 1]);
    s.keep_laying(picture, &parted).unwrap();
    assert_eq!(s.mark(l[2]).unwrap().id, l[2]);
    assert_eq!(s.mark(l[1]).unwrap().id, l[0]);
    let undo = Sight::Undo { undoes: said.id };
    s.observe(picture, &undo, &person("A. Carrow")).unwrap();
    assert!(told(&s).is_empty());
}

#[test]
fn stores_of_every_earlier_version_open_and_keep_what_was_decided_of_each_photograph() {
    for version in 2..=13 {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("store.sqlite");
        let old = format!(
            "{}/tests/stores/v{version}.sqlite",
            env!("CARGO_MANIFEST_DIR")
        );
        std::fs::copy(old, &path).unwrap();
        let mut s = SqliteStore::open(&path).unwrap();
        assert_eq!(s.marks(None).unwrap().len(), 4, "version {version}");
        let before = s.journal().unwrap();
        assert_eq!(before.len(), 4);
        let picture = s.pictures().unwrap()[0].id;
        let mut laid = laying(&[(MarkId(1), MarkId(90), 0.99)]);
        laid.places.retain(|p| p.0 == 1);
        laid.places.push((90, laid.places[0].1.clone()));
        s.keep_laying(picture, &laid).unwrap();
        assert_eq!(s.marks(None).unwrap().len(), 3);
        assert_eq!(s.journal().unwrap(), before);
        let m = s.mark(MarkId(90)).unwrap();
        assert_eq!((m.id, m.differing.len()), (MarkId(1), 1));
    }
}

#[test]
fn a_migration_that_is_broken_off_leaves_the_store_as_it_was() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("store.sqlite");
    let old = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/stores/v7.sqlite");
    std::fs::copy(old, &path).unwrap();
    // A table of the new version's name stands in its way: the migration fails in its middle.
    let c = rusqlite::Connection::open(&path).unwrap();
    c.execute_batch("CREATE TABLE members (x)").unwrap();
    drop(c);
    assert!(SqliteStore::open(&path).is_err());
    let c = rusqlite::Connection::open(&path).unwrap();
    let version: i64 = c
        .pragma_query_value(None, "user_version", |r| r.get(0))
        .unwrap();
    assert_eq!(version, 7);
    let marks: i64 = c
        .query_row("SELECT count(*) FROM marks", [], |r| r.get(0))
        .unwrap();
    assert_eq!(marks, 4);
    c.execute_batch("DROP TABLE members").unwrap();
    drop(c);
    assert_eq!(
        SqliteStore::open(&path).unwrap().marks(None).unwrap().len(),
        4
    );
}
