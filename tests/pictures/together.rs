//! Photographs of one back, read by the program: each mark once, also where they come one by one.

use dorso::decisions::{SqliteStore, Store};
use serde_json::Value;
use std::path::Path;

const SAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/samples");

fn dorso(store: &Path, arguments: &[&str]) -> String {
    let mut c = assert_cmd::Command::cargo_bin("dorso").unwrap();
    c.env("DORSO_GAZETTEER", format!("{SAMPLES}/gazetteer"));
    c.env("DORSO_STORE", store).env("DORSO_BY", "A. Carrow");
    let out = c.args(arguments).output().unwrap();
    assert!(out.status.success(), "{arguments:?}: {out:?}");
    String::from_utf8(out.stdout).unwrap()
}

fn photo(name: &str) -> String {
    format!("{SAMPLES}/photographs/{name}.jpg")
}

/// Sightings of each mark of a document, by the photographs that show it.
fn sightings(document: &Value) -> Vec<Vec<u64>> {
    let marks = document["marks"].as_array().unwrap();
    let of = |m: &Value| {
        let all = m["sightings"].as_array().unwrap().iter();
        all.map(|s| s["photo"].as_u64().unwrap()).collect()
    };
    marks.iter().map(of).collect()
}

#[test]
fn a_photograph_that_comes_later_is_laid_on_the_first_and_its_marks_are_joined() {
    let dir = tempfile::tempdir().unwrap();
    let store = dir.path().join("store.sqlite");
    let (back, close) = (photo("mill-back"), photo("mill-colourman"));
    dorso(&store, &["read", "--picture", "mill", &back]);
    let before = SqliteStore::open(&store)
        .unwrap()
        .marks(None)
        .unwrap()
        .len();
    let text = dorso(&store, &["read", "--json", "--picture", "mill", &close]);
    let document: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(document["format"], "dorso.readings/2");
    let s = SqliteStore::open(&store).unwrap();
    let picture = s.pictures().unwrap()[0].id;
    assert_eq!(s.places(picture).unwrap().len(), 2, "both are placed");
    let marks = s.marks(Some(picture)).unwrap();
    let twice: Vec<_> = marks.iter().filter(|m| m.sightings.len() == 2).collect();
    assert_eq!(twice.len(), 1, "the close-up shows one mark of the back");
    assert_eq!(marks.len(), before);
    assert!(twice[0].read_together);
    let lines = &twice[0].latest().reading.lines;
    assert!(lines.len() >= 3, "{lines:?}");
}

#[test]
fn the_document_has_each_mark_once_and_each_sighting_under_its_name() {
    let dir = tempfile::tempdir().unwrap();
    let store = dir.path().join("store.sqlite");
    let (back, close) = (photo("mill-back"), photo("mill-colourman"));
    let text = dorso(&store, &["read", "--no-store", "--json", &back, &close]);
    assert!(!store.exists());
    let document: Value = serde_json::from_str(&text).unwrap();
    let all = sightings(&document);
    assert_eq!(all.iter().filter(|s| **s == [0, 1]).count(), 1, "{all:?}");
    for (n, photo) in document["photos"].as_array().unwrap().iter().enumerate() {
        let own = photo["marks"].as_array().unwrap();
        let mut names: Vec<&str> = own.iter().map(|m| m["mark"].as_str().unwrap()).collect();
        for (m, name) in own.iter().zip(names.clone()) {
            let whole = document["marks"].as_array().unwrap();
            let whole = whole.iter().find(|w| w["mark"] == name).unwrap();
            let shown = whole["sightings"].as_array().unwrap();
            assert!(shown.iter().any(|s| s["photo"] == n));
            assert_eq!(m["proposals"], whole["proposals"]);
            assert_eq!(m["because"], whole["because"]);
            assert!(
                whole["lines"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .all(|l| l.get("box").is_none())
            );
            assert!(whole["statements"].is_array());
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), own.len(), "a photograph shows a mark once");
    }
}
