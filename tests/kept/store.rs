//! What the store promises: nothing is overwritten, decisions survive, nothing is half written.

use crate::support::*;
use dorso::decisions::{
    Act, DecisionId, DoubtKind, MarkId, Run, SqliteStore, State, Store, Taken, fold, last_to_undo,
    queue,
};
use dorso::geometry::Rect;
use dorso::marks::MarkKind;
use proptest::prelude::*;
use std::path::Path;

fn store(dir: &Path) -> SqliteStore {
    SqliteStore::open(&dir.join("deep/store.sqlite")).unwrap()
}

fn take(entry: &str) -> Act {
    let p = proposal("framers", entry, "Thackwray & Son", 0.48);
    Act::Take(Taken {
        list: p.list,
        entry: p.entry,
        name: p.name,
        not_before: p.not_before,
        not_after: p.not_after,
        source: p.source,
        chance: Some(p.probability),
        same_as: Vec::new(),
    })
}

#[test]
fn what_a_run_saw_is_given_back_to_the_last_bit() {
    let dir = tempfile::tempdir().unwrap();
    let mut label = firm_label();
    label.lettering = 0.1 + 0.2;
    label.rivals[0].proposals[0].probability = 1.0 / 3.0;
    let seen = vec![label, blind_stamp(), chalk_number()];
    let recorded = store(dir.path())
        .record_run(&run(vec![photograph("back.jpg", 'a', seen.clone())]))
        .unwrap();
    assert_eq!(recorded.picture, "back");
    let marks = store(dir.path()).marks(None).unwrap();
    let ids: Vec<MarkId> = marks.iter().map(|m| m.id).collect();
    assert_eq!(recorded.marks, [ids]);
    let back: Vec<_> = marks.iter().map(|m| m.latest().clone()).collect();
    assert_eq!(back, seen);
}

#[test]
fn reading_again_adds_a_sighting_and_keeps_the_decision() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let first = s
        .record_run(&run(vec![photograph(
            "back.jpg",
            'a',
            vec![firm_label(), blind_stamp()],
        )]))
        .unwrap();
    let label = first.marks[0][0];
    s.decide(
        label,
        &take("thackwray-kendal-2"),
        &carrow("the street number is on the slip"),
    )
    .unwrap();

    let mut moved = firm_label();
    moved.outline = Rect::new(56, 44, 336, 158).quad();
    moved.label = "m2".into();
    let again = s
        .record_run(&run(vec![photograph(
            "copied/back.jpg",
            'a',
            vec![chalk_number(), moved],
        )]))
        .unwrap();
    assert_eq!(again.picture, "back");
    assert_eq!(again.marks[0][1], label, "the same place is the same mark");

    let marks = s.marks(None).unwrap();
    assert_eq!(marks.len(), 3);
    let kept = marks.iter().find(|m| m.id == label).unwrap();
    assert_eq!(kept.sightings[0].looks.len(), 2);
    assert_eq!(kept.settled.taken().count(), 1);
    assert!(!kept.missing);
    let stamp = marks
        .iter()
        .find(|m| m.latest().kind == MarkKind::Stamp)
        .unwrap();
    assert!(stamp.missing, "a mark not found again stays recorded");
    let items = queue(&marks, "2024-05-07");
    let item = items.iter().find(|i| i.mark.id == stamp.id).unwrap();
    assert!(item.doubts.iter().any(|d| d.kind == DoubtKind::Missing));
    let photographs = &s.pictures().unwrap()[0].photographs;
    assert_eq!(photographs.len(), 1);
    assert_eq!(
        photographs[0].files.len(),
        2,
        "both places of the file are known"
    );
}

#[test]
fn a_photograph_known_by_its_bytes_brings_new_ones_to_its_picture() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    s.record_run(&run(vec![photograph("mill.jpg", 'a', vec![])]))
        .unwrap();
    let r = s
        .record_run(&run(vec![
            photograph("detail.jpg", 'b', vec![]),
            photograph("renamed.jpg", 'a', vec![]),
        ]))
        .unwrap();
    assert_eq!(r.picture, "mill");
    assert_eq!(s.pictures().unwrap()[0].photographs.len(), 2);
}

#[test]
fn photographs_recorded_one_by_one_still_make_one_picture() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let step = |file: &str, sha, joins| Run {
        joins,
        suggested: Some("mill".into()),
        ..run(vec![photograph(file, sha, vec![])])
    };
    let first = s.record_run(&step("mill/1.jpg", 'a', None)).unwrap();
    s.record_run(&step("mill/2.jpg", 'b', Some(first.picture_id)))
        .unwrap();
    assert_eq!(s.pictures().unwrap()[0].photographs.len(), 2);
    let hashes = ["c", "b"].map(|h| h.repeat(64));
    assert_eq!(s.picture_with(&hashes).unwrap(), Some(first.picture_id));
    assert_eq!(s.picture_with(&hashes[..1]).unwrap(), None);
    let other = s
        .record_run(&step("elsewhere/mill/1.jpg", 'd', None))
        .unwrap();
    assert_eq!(
        other.picture, "mill (2)",
        "a made-up name never mixes two pictures"
    );
}

#[test]
fn a_person_names_a_picture_and_later_runs_keep_to_it() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    s.record_run(&run(vec![photograph("IMG_2041.jpg", 'a', vec![])]))
        .unwrap();
    let named = |name: &str, sha| {
        let mut r = run(vec![photograph("x.jpg", sha, vec![])]);
        r.picture = Some(name.into());
        r
    };
    let r = s.record_run(&named("The Mill at Askrigg", 'a')).unwrap();
    assert_eq!(r.picture, "The Mill at Askrigg");
    assert_eq!(
        s.pictures().unwrap().len(),
        1,
        "a made-up name gives way to the person's"
    );
    assert_eq!(
        s.record_run(&named("the mill AT askrigg", 'b'))
            .unwrap()
            .picture,
        "The Mill at Askrigg"
    );
    let other = s.record_run(&named("Lane in Rain", 'b')).unwrap();
    assert_eq!(other.picture, "Lane in Rain");
    assert!(other.remarks[0].contains("was known as a photograph of \"The Mill at Askrigg\""));
    let e = s.record_run(&named("  ", 'c')).unwrap_err();
    assert_eq!(
        e.to_string(),
        "--picture: the name is empty; give the picture a name, or leave the option out."
    );
}

#[test]
fn two_pictures_of_the_same_file_name_are_kept_apart() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    s.record_run(&run(vec![photograph("a/back.jpg", 'a', vec![])]))
        .unwrap();
    let r = s
        .record_run(&run(vec![photograph("b/back.jpg", 'b', vec![])]))
        .unwrap();
    assert_eq!(r.picture, "back (2)");
}

#[test]
fn the_same_bytes_twice_in_one_run_are_one_photograph() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let r = s
        .record_run(&run(vec![
            photograph("a.jpg", 'a', vec![firm_label()]),
            photograph("copy.jpg", 'a', vec![firm_label()]),
        ]))
        .unwrap();
    assert_eq!(r.marks[0], r.marks[1]);
    assert_eq!(s.marks(None).unwrap()[0].sightings[0].looks.len(), 1);
    assert_eq!(s.pictures().unwrap()[0].photographs[0].files.len(), 2);
}

#[test]
fn undoing_a_decision_gives_back_the_state_before_it() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let r = s
        .record_run(&run(vec![photograph("b.jpg", 'a', vec![firm_label()])]))
        .unwrap();
    let m = r.marks[0][0];
    s.decide(
        m,
        &Act::Kind {
            kind: MarkKind::Stamp,
        },
        &carrow(""),
    )
    .unwrap();
    let before = serde_json::to_vec(&s.mark(m).unwrap().settled).unwrap();
    let d = s
        .decide(m, &take("thackwray-kendal-2"), &carrow("seen"))
        .unwrap();
    let u = s
        .decide(m, &Act::Undo { undoes: d.id }, &carrow("wrong one"))
        .unwrap();
    assert_eq!(
        serde_json::to_vec(&s.mark(m).unwrap().settled).unwrap(),
        before
    );
    assert_eq!(s.journal().unwrap().len(), 3, "the journal keeps all of it");
    let twice = s
        .decide(m, &Act::Undo { undoes: d.id }, &carrow(""))
        .unwrap_err();
    assert!(twice.what.contains("undone already"), "{twice}");
    s.decide(m, &Act::Undo { undoes: u.id }, &carrow("right after all"))
        .unwrap();
    assert_eq!(s.mark(m).unwrap().settled.taken().count(), 1);
    let journal = s.journal().unwrap();
    assert_eq!(last_to_undo(&journal).unwrap().id, d.id);
}

#[test]
fn a_decision_can_only_be_undone_on_its_own_mark() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let r = s
        .record_run(&run(vec![photograph(
            "b.jpg",
            'a',
            vec![firm_label(), blind_stamp()],
        )]))
        .unwrap();
    let d = s
        .decide(r.marks[0][0], &Act::Unreadable, &carrow(""))
        .unwrap();
    let e = s
        .decide(r.marks[0][1], &Act::Undo { undoes: d.id }, &carrow(""))
        .unwrap_err();
    assert!(e.what.contains("no decision about this mark"));
    assert!(s.decide(MarkId(99), &Act::Unreadable, &carrow("")).is_err());
    assert!(
        s.decide(
            r.marks[0][1],
            &Act::Undo {
                undoes: DecisionId(77)
            },
            &carrow("")
        )
        .is_err()
    );
    assert_eq!(s.journal().unwrap().len(), 1);
}

#[test]
fn the_journal_and_the_readings_cannot_be_changed_even_from_outside() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let r = s
        .record_run(&run(vec![photograph("b.jpg", 'a', vec![firm_label()])]))
        .unwrap();
    s.decide(r.marks[0][0], &Act::Unreadable, &carrow(""))
        .unwrap();
    let c = rusqlite::Connection::open(s.path()).unwrap();
    for sql in [
        "UPDATE decisions SET why = 'other'",
        "DELETE FROM decisions",
        "UPDATE readings SET reading = '{}'",
        "DELETE FROM readings",
        "DELETE FROM proposals",
        "UPDATE proposals SET probability = 1",
        "UPDATE rivals SET unlisted = 0",
        "DELETE FROM sightings",
        "DELETE FROM runs",
        "UPDATE photographs SET sha256 = 'x'",
    ] {
        assert!(c.execute_batch(sql).is_err(), "{sql}");
    }
}

#[test]
fn a_store_of_a_newer_version_is_refused_and_left_untouched() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("store.sqlite");
    drop(SqliteStore::open(&path).unwrap());
    rusqlite::Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let before = std::fs::read(&path).unwrap();
    let e = SqliteStore::open(&path).unwrap_err();
    assert_eq!(
        e.to_string()
            .replace(&path.display().to_string(), "store.sqlite"),
        "store.sqlite: this store was written by a newer version of Dorso (store version 99; this program knows up to 14) and is left untouched; install the newer version, or name another file with --store FILE."
    );
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert_eq!(
        std::fs::read_dir(dir.path()).unwrap().count(),
        1,
        "no file is left beside it"
    );
}

#[test]
fn files_that_are_no_store_are_refused_and_left_untouched() {
    let dir = tempfile::tempdir().unwrap();
    let text = dir.path().join("notes.txt");
    std::fs::write(
        &text,
        "bought at the Lancaster sale, lot 88, with the frame ".repeat(40),
    )
    .unwrap();
    let other = dir.path().join("other.sqlite");
    rusqlite::Connection::open(&other)
        .unwrap()
        .execute_batch("CREATE TABLE t (x)")
        .unwrap();
    for path in [text, other] {
        let before = std::fs::read(&path).unwrap();
        let e = SqliteStore::open(&path).unwrap_err();
        assert!(e.what.contains("not a store"), "{e}");
        assert_eq!(std::fs::read(&path).unwrap(), before);
    }
    let e = SqliteStore::open_existing(&dir.path().join("none.sqlite")).unwrap_err();
    assert!(e.what.contains("no store yet"));
    assert!(!dir.path().join("none.sqlite").exists());
}

#[test]
fn a_full_disk_keeps_what_was_there_and_nothing_half() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    s.record_run(&run(vec![photograph("a.jpg", 'a', vec![firm_label()])]))
        .unwrap();
    let before = s.marks(None).unwrap();
    // SQLite's own limit on pages gives the same error as a disk without room.
    s.limit_size(1).unwrap();
    let many = (0..200)
        .map(|i| {
            let mut m = firm_label();
            m.outline = Rect::new(0, i * 200, 100, 100).quad();
            m
        })
        .collect();
    let e = s
        .record_run(&run(vec![photograph("b.jpg", 'b', many)]))
        .unwrap_err();
    assert!(e.what.contains("the disk is full"), "{e}");
    assert_eq!(s.marks(None).unwrap(), before);
    assert_eq!(s.pictures().unwrap().len(), 1);
    drop(s);
    let mut again = store(dir.path());
    assert_eq!(again.marks(None).unwrap(), before);
    again
        .record_run(&run(vec![photograph("c.jpg", 'c', vec![firm_label()])]))
        .unwrap();
}

#[test]
fn two_programs_on_one_store_both_get_their_decisions_in() {
    let dir = tempfile::tempdir().unwrap();
    let r = store(dir.path())
        .record_run(&run(vec![photograph("a.jpg", 'a', vec![firm_label()])]))
        .unwrap();
    let m = r.marks[0][0];
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut s = store(dir.path());
                for _ in 0..10 {
                    s.decide(m, &Act::Unreadable, &carrow("")).unwrap();
                }
            });
        }
    });
    let ids: Vec<i64> = store(dir.path())
        .journal()
        .unwrap()
        .iter()
        .map(|d| d.id.0)
        .collect();
    assert_eq!(ids, (1..=20).collect::<Vec<_>>());
}

#[test]
fn settings_are_kept() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    assert_eq!(s.setting("lists").unwrap(), None);
    s.set("lists", "here").unwrap();
    s.set("lists", "there").unwrap();
    assert_eq!(
        store(dir.path()).setting("lists").unwrap().as_deref(),
        Some("there")
    );
}

#[test]
fn the_queue_puts_the_firm_in_doubt_first_and_leaves_out_what_is_clear() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    s.record_run(&run(vec![photograph(
        "a.jpg",
        'a',
        vec![chalk_number(), blind_stamp(), firm_label()],
    )]))
    .unwrap();
    let marks = s.marks(None).unwrap();
    let items = queue(&marks, "2024-05-07");
    let states: Vec<_> = items
        .iter()
        .map(|i| (i.mark.latest().kind, i.state.as_str()))
        .collect();
    assert_eq!(
        states,
        [
            (MarkKind::PrintedLabel, "open"),
            (MarkKind::Stamp, "open"),
            (MarkKind::Inscription, "clear")
        ]
    );
}

#[test]
fn a_mark_put_off_comes_back_on_its_day() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let r = s
        .record_run(&run(vec![photograph("a.jpg", 'a', vec![firm_label()])]))
        .unwrap();
    let until = Some("2024-06-01".to_string());
    s.decide(r.marks[0][0], &Act::PutOff { until }, &carrow(""))
        .unwrap();
    let marks = s.marks(None).unwrap();
    assert_eq!(
        queue(&marks, "2024-05-31")[0].state,
        State::Until("2024-06-01".into())
    );
    assert_eq!(queue(&marks, "2024-06-01")[0].state, State::Open);
}

#[test]
fn a_store_of_the_first_version_opens_with_all_that_it_holds() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("store.sqlite");
    let old = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/stores/v1.sqlite");
    if std::env::var_os("DORSO_WRITE_STORE").is_some() {
        write_store(Path::new(old));
    }
    std::fs::copy(old, &path).unwrap();
    let s = SqliteStore::open(&path).unwrap();
    let marks = s.marks(None).unwrap();
    assert_eq!(marks.len(), 3);
    assert_eq!(marks[0].sightings[0].looks.len(), 2);
    assert_eq!(marks[0].latest().reading.lines[0].text, "THACKWRAY & SON");
    assert_eq!(
        marks[0].settled.taken().next().unwrap().0.entry,
        "thackwray-kendal-2"
    );
    assert_eq!(s.journal().unwrap().len(), 3);
    assert_eq!(s.pictures().unwrap()[0].name, "The Mill at Askrigg");
    assert_eq!(s.setting("first").unwrap().as_deref(), Some("1"));
}

/// Writes the store of a schema version that is new; one that is there is never changed.
fn write_store(path: &Path) {
    assert!(!path.exists(), "the store of this version is there already");
    let mut s = SqliteStore::open(path).unwrap();
    let mut r = run(vec![photograph(
        "/invented/mill.jpg",
        'a',
        vec![firm_label(), blind_stamp(), chalk_number()],
    )]);
    r.picture = Some("The Mill at Askrigg".into());
    let label = s.record_run(&r).unwrap().marks[0][0];
    s.record_run(&run(vec![photograph(
        "/invented/mill.jpg",
        'a',
        vec![firm_label()],
    )]))
    .unwrap();
    let d = s.decide(label, &Act::Unreadable, &carrow("")).unwrap();
    s.decide(
        label,
        &Act::Undo { undoes: d.id },
        &carrow("with a loupe it can be read"),
    )
    .unwrap();
    s.decide(
        label,
        &take("thackwray-kendal-2"),
        &carrow("the number is on the slip"),
    )
    .unwrap();
    s.set("first", "1").unwrap();
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// However often and however shifted a photograph is read again, no mark is lost and every
    /// decision stays with its mark.
    #[test]
    fn no_reading_again_ever_loses_a_mark_or_a_decision(
        runs in prop::collection::vec(prop::collection::vec((0i32..5, -20i32..20), 0..5), 1..5)
    ) {
        let dir = tempfile::tempdir().unwrap();
        let mut s = store(dir.path());
        let mut seen_before = 0;
        for marks in runs {
            let mut places: Vec<_> = marks;
            places.sort();
            places.dedup_by_key(|p| p.0);
            let seen = places
                .iter()
                .map(|(slot, shift)| {
                    let mut m = firm_label();
                    m.outline = Rect::new(slot * 200 + shift, 0, 100, 50).quad();
                    m
                })
                .collect();
            let r = s.record_run(&run(vec![photograph("a.jpg", 'a', seen)])).unwrap();
            let mut ids = r.marks[0].clone();
            ids.sort();
            ids.dedup();
            prop_assert_eq!(ids.len(), r.marks[0].len(), "two marks of a run are never tied to one");
            let decided = fold(&s.journal().unwrap());
            for id in ids {
                if !decided.contains_key(&id) {
                    s.decide(id, &Act::Unreadable, &carrow("")).unwrap();
                }
            }
            let all = s.marks(None).unwrap();
            prop_assert!(all.len() >= seen_before);
            prop_assert!(all.iter().all(|m| m.settled.lettering.is_some()));
            seen_before = all.len();
        }
    }
}
