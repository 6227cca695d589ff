//! Places where nothing could be read and likelier than not nothing stands: kept, one question a picture.

use crate::support::{TUESDAY, blind_stamp, firm_label, photograph, run};
use assert_cmd::Command;
use dorso::decisions::{
    Act, Author, DoubtKind, MarkId, SeenMark, SqliteStore, State, Store, queue,
};
use dorso::geometry::Rect;
use std::path::Path;

const TODAY: &str = "2024-05-08";

fn person() -> Author {
    Author {
        by: "A. Carrow".into(),
        at: TUESDAY.into(),
        why: String::new(),
    }
}

/// Nothing read, with this chance of lettering.
fn place(at: i32, lettering: f64) -> SeenMark {
    SeenMark {
        outline: Rect::new(at, 420, 60, 60).quad(),
        lettering,
        ..blind_stamp()
    }
}

/// A label, a blind stamp that is likelier there than not, and three places that are not.
fn back(dir: &Path) -> (SqliteStore, i64, Vec<MarkId>) {
    let mut s = SqliteStore::open(&dir.join("store.sqlite")).unwrap();
    let marks = vec![
        firm_label(),
        place(20, 0.8),
        place(120, 0.3),
        place(220, 0.45),
        place(320, 0.2),
    ];
    let mut r = run(vec![photograph("back.jpg", 'a', marks)]);
    r.picture = Some("The Mill".into());
    let recorded = s.record_run(&r).unwrap();
    (s, recorded.picture_id, recorded.marks[0].clone())
}

#[test]
fn they_are_one_question_of_the_picture_and_no_marks_that_are_told() {
    let dir = tempfile::tempdir().unwrap();
    let (s, picture, all) = back(dir.path());
    let marks = s.marks(Some(picture)).unwrap();
    let told: Vec<MarkId> = marks.iter().filter(|m| m.is_told()).map(|m| m.id).collect();
    assert_eq!(told, all[..2], "the others are kept, but are no marks yet");
    let places = [all[3], all[2], all[4]];
    assert_eq!(s.places_due(TODAY, picture).unwrap(), places);
    let due = s.due(TODAY, None).unwrap();
    assert!(due.contains(&all[1]) && due.contains(&all[3]));
    assert!(!due.contains(&all[2]) && !due.contains(&all[4]));
    let items = queue(&marks, TODAY);
    let open = items.iter().filter(|i| i.state.is_due());
    let open: Vec<_> = open
        .filter(|i| !i.is_place() || i.mark.id == all[3])
        .collect();
    let by_marks: Vec<MarkId> = open.iter().map(|i| i.mark.id).collect();
    assert_eq!(by_marks, due, "the same by the store and by the marks");
    let one = open.iter().find(|i| i.is_place()).unwrap();
    assert_eq!(one.doubts[0].kind, DoubtKind::Place);
    let beside = s.places_beside(TODAY, one.mark).unwrap();
    let beside: Vec<MarkId> = beside.iter().map(|m| m.id).collect();
    assert_eq!(beside, [all[2], all[4]]);
    let tally = s.tally(TODAY).unwrap()[&picture];
    assert_eq!((tally.due, tally.beside, tally.all()), (due.len(), 2, 5));
}

#[test]
fn what_a_person_reads_at_one_makes_it_a_mark_and_undoing_a_place_again() {
    let dir = tempfile::tempdir().unwrap();
    let (mut s, picture, all) = back(dir.path());
    let read = Act::Read {
        lines: vec!["417".into()],
    };
    let said = s.decide(all[2], &read, &person()).unwrap();
    assert!(s.mark(all[2]).unwrap().is_told());
    assert_eq!(s.places_due(TODAY, picture).unwrap(), [all[3], all[4]]);
    s.decide(all[2], &Act::Undo { undoes: said.id }, &person())
        .unwrap();
    assert!(s.mark(all[2]).unwrap().is_place());
    // Put off, it waits without becoming a mark
    s.decide(all[2], &Act::PutOff { until: None }, &person())
        .unwrap();
    assert!(!s.mark(all[2]).unwrap().is_told());
}

fn dorso(store: &Path, arguments: &[&str]) -> (bool, String) {
    let mut c = Command::cargo_bin("dorso").unwrap();
    c.env("DORSO_STORE", store).env("DORSO_BY", "A. Carrow");
    let done = c.args(arguments).output().unwrap();
    let told = [done.stdout, done.stderr].concat();
    (done.status.success(), String::from_utf8(told).unwrap())
}

#[test]
fn the_command_says_of_all_at_once_that_nothing_stands_there_and_each_can_be_undone() {
    let dir = tempfile::tempdir().unwrap();
    let (s, picture, all) = back(dir.path());
    drop(s);
    let store = dir.path().join("store.sqlite");
    let (_, told) = dorso(&store, &["queue"]);
    let with = format!("asked with {} and {}", all[2], all[4]);
    assert!(told.contains(&with), "{told}");
    let names = format!("{},{},{}", all[3], all[2], all[4]);
    let (done, refused) = dorso(&store, &["settle", &names, "read", "417"]);
    assert!(
        !done && refused.contains("can't be said of several"),
        "{refused}"
    );
    assert!(dorso(&store, &["settle", &names, "not-a-mark"]).0);
    let s = SqliteStore::open(&store).unwrap();
    assert!(s.places_due(TODAY, picture).unwrap().is_empty());
    let none = s.marks(Some(picture)).unwrap().into_iter();
    let none = none.filter(|m| queue(std::slice::from_ref(m), TODAY)[0].state == State::NotAMark);
    assert_eq!(none.count(), 3);
    assert_eq!(s.journal().unwrap().len(), 3);
    drop(s);
    assert!(dorso(&store, &["settle", &all[2].to_string(), "undo"]).0);
    let s = SqliteStore::open(&store).unwrap();
    assert_eq!(s.places_due(TODAY, picture).unwrap(), [all[2]]);
}
