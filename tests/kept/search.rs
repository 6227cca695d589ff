//! Finding marks in a store: by words as typed and damaged, by numbers, and by what they are.

use crate::support::*;
use dorso::decisions::{Act, FoundMarks, MarkId, SeenMark, SqliteStore, Store, Wanted};
use dorso::marks::MarkKind;

/// An inscription that reads so.
fn reads(text: &str) -> SeenMark {
    let mut mark = chalk_number();
    mark.reading = reading(&[(text, 0.97)]);
    mark.rivals = Vec::new();
    mark
}

/// Marks 1 to 6.
fn store(dir: &std::path::Path) -> SqliteStore {
    let mut s = SqliteStore::open(&dir.join("s.sqlite")).unwrap();
    let texts = [
        "T. Wrenfield, Rothcaster",
        "87",
        "1887",
        "Minster Yard 1871",
    ];
    let mut marks: Vec<SeenMark> = texts.into_iter().map(reads).collect();
    marks.extend([firm_label(), blind_stamp()]);
    for (i, m) in marks.iter_mut().enumerate() {
        m.outline = dorso::geometry::Rect::new(20, 20 + 90 * i as i32, 200, 70).quad();
    }
    s.record_run(&run(vec![photograph("a.jpg", 'a', marks)]))
        .unwrap();
    s
}

fn words(s: &SqliteStore, words: &str) -> FoundMarks {
    let wanted = Wanted {
        words: words.into(),
        ..Wanted::default()
    };
    s.find_marks(&wanted, 0, 10).unwrap()
}

fn numbers(found: &FoundMarks) -> Vec<i64> {
    found.marks.iter().map(|m| m.0).collect()
}

#[test]
fn words_are_found_as_typed_and_damaged_and_short_numbers_alone() {
    let dir = tempfile::tempdir().unwrap();
    let s = store(dir.path());
    for (typed, found) in [
        ("wrenfield", vec![1]),
        ("Rothcaster Wrenfield", vec![1]),
        ("renfie", vec![1]),
        ("87", vec![2]),
        ("1871", vec![4]),
        ("Thackwray & Son", vec![5]),
        ("nobody", vec![]),
    ] {
        let f = words(&s, typed);
        assert_eq!(
            (numbers(&f), f.damaged && f.all > 0),
            (found, false),
            "{typed}"
        );
    }
    for typed in ["Wrenfeld", "Wrnfield", "Vrenfield", "Wrenfield Rothcastle"] {
        let f = words(&s, typed);
        assert_eq!((numbers(&f), f.damaged), (vec![1], true), "{typed}");
    }
    // Signs of the index's own language are letters like others.
    for typed in [
        "wren* OR x",
        "words : x",
        "NEAR(a b)",
        "'; DROP TABLE traits; --",
    ] {
        assert_eq!(numbers(&words(&s, typed)), Vec::<i64>::new(), "{typed}");
    }
}

#[test]
fn what_a_person_reads_and_takes_is_found_at_once_and_no_more_once_undone() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let lines = vec!["GARROWBY".to_owned()];
    let read = s
        .decide(MarkId(6), &Act::Read { lines }, &carrow(""))
        .unwrap();
    assert_eq!(numbers(&words(&s, "garrowby")), [6]);
    s.decide(MarkId(6), &Act::Undo { undoes: read.id }, &carrow(""))
        .unwrap();
    assert_eq!(words(&s, "garrowby").all, 0);
    let kind = Act::Kind {
        kind: MarkKind::Monogram,
    };
    s.decide(MarkId(6), &kind, &carrow("")).unwrap();
    let wanted = Wanted {
        kind: "monogram".into(),
        ..Wanted::default()
    };
    assert_eq!(numbers(&s.find_marks(&wanted, 0, 10).unwrap()), [6]);
}

#[test]
fn marks_are_told_apart_by_kind_doubt_firm_and_year_page_by_page() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path());
    let find = |s: &SqliteStore, wanted: Wanted| numbers(&s.find_marks(&wanted, 0, 10).unwrap());
    let kind = |kind: &str| Wanted {
        kind: kind.into(),
        ..Wanted::default()
    };
    assert_eq!(find(&s, kind("stamp")), [6]);
    assert_eq!(find(&s, kind("inscription")), [1, 2, 3, 4]);
    let doubt = |doubt: &str| Wanted {
        doubt: doubt.into(),
        ..Wanted::default()
    };
    assert_eq!(find(&s, doubt("unread")), [6]);
    assert_eq!(find(&s, doubt("rivals")), [5]);
    let years = |years| Wanted {
        years: Some(years),
        ..Wanted::default()
    };
    assert_eq!(find(&s, years((1870, 1872))), [4]);
    assert_eq!(find(&s, years((1800, 1900))), [3, 4]);
    assert!(s.named_most(false, 10).unwrap().is_empty());
    let first = s.mark(MarkId(5)).unwrap().rivals[0].proposals[0].clone();
    s.decide(MarkId(5), &Act::Take((&first).into()), &carrow(""))
        .unwrap();
    let firm = Wanted {
        firm: "Thackwray & Son".into(),
        ..Wanted::default()
    };
    assert_eq!(find(&s, firm), [5]);
    assert_eq!(
        s.named_most(false, 10).unwrap(),
        [("Thackwray & Son".to_owned(), 1)]
    );
    let page = s.find_marks(&Wanted::default(), 4, 10).unwrap();
    assert_eq!((page.all, numbers(&page)), (6, vec![5, 6]));
}
