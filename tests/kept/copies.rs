//! A clear copy of a label on another picture is proposed for a torn one, with its source, and nothing
//! is taken over by itself.

use crate::support::*;
use dorso::decisions::{Act, Author, MarkId, SqliteStore, Store};
use std::path::Path;
use std::process::Command;

/// A torn label on one picture, a clear copy and a stranger on another.
fn two_pictures(dir: &Path) -> Vec<MarkId> {
    let mut store = SqliteStore::open(&dir.join("s.sqlite")).unwrap();
    let mut stranger = firm_label();
    stranger.reading = reading(&[
        ("JOSIAH BRIGHT", 0.97),
        ("PRINTSELLER", 0.96),
        ("WEXHAM", 0.97),
    ]);
    let mut copy = firm_label();
    copy.reading = reading(&[
        ("THACKWRAY & SON", 0.97),
        ("CARVERS & GILDERS", 0.97),
        ("14 CASTLE STREET", 0.97),
        ("KENDAL", 0.97),
    ]);
    let mut torn = firm_label();
    torn.reading = reading(&[
        ("THACKWR__ _ ___", 0.9),
        ("CARVERS & GI_____", 0.8),
        ("KEN___", 0.7),
    ]);
    let mut marks = Vec::new();
    for (name, seen) in [
        ("The Mill", vec![torn]),
        ("The Ferry", vec![copy, stranger]),
    ] {
        let sha = if name == "The Mill" { 'a' } else { 'b' };
        let mut r = run(vec![photograph(&format!("{name}.jpg"), sha, seen)]);
        r.picture = Some(name.into());
        marks.extend(store.record_run(&r).unwrap().marks.concat());
    }
    marks
}

fn dorso(dir: &Path, arguments: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_dorso"))
        .current_dir(dir)
        .env("DORSO_STORE", dir.join("s.sqlite"))
        .env("DORSO_BY", "A. Carrow")
        .args(arguments)
        .output()
        .unwrap();
    assert!(out.status.success(), "{out:?}");
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn a_clear_copy_is_told_with_its_source_and_nothing_is_taken_over() {
    let dir = tempfile::tempdir().unwrap();
    let marks = two_pictures(dir.path());
    let (torn, copy) = (marks[0].to_string(), marks[1].to_string());
    let said = format!("It may be the same label as {copy} of “The Ferry”");
    let shown = dorso(dir.path(), &["settle", &torn]);
    assert!(shown.contains(&said), "{shown}");
    assert_eq!(shown.matches("may be the same label").count(), 1, "{shown}");
    assert!(shown.contains("as the program read it"), "{shown}");
    let note = dorso(dir.path(), &["note", "The Mill"]);
    assert!(note.contains(&said), "{note}");
    let json: serde_json::Value =
        serde_json::from_str(&dorso(dir.path(), &["settle", &torn, "--json"])).unwrap();
    assert_eq!(json["elsewhere"][0]["mark"], copy.as_str());
    assert!(
        json["elsewhere"][0]["looks_alike"].is_null(),
        "no photograph is at hand"
    );

    let mut store = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
    assert!(store.journal().unwrap().is_empty());
    let author = Author {
        by: "A. Carrow".into(),
        at: "2024-03-05T10:00:00+00:00".into(),
        why: String::new(),
    };
    let act = Act::Read {
        lines: vec!["Thackwr[---]".into()],
    };
    store.decide(marks[0], &act, &author).unwrap();
    drop(store);
    let settled = dorso(dir.path(), &["settle", &torn]);
    assert!(!settled.contains("may be the same label"), "{settled}");
}
