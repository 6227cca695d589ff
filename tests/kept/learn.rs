//! What the person's readings teach is measured on others of their readings, kept, and can be undone.

use crate::support::*;
use dorso::decisions::{Act, Author, SqliteStore, Store};
use dorso::readings::{Character, learnt, voices};
use std::path::Path;
use std::process::{Command, Output};

fn dorso(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_dorso"))
        .args(arguments)
        .output()
        .unwrap()
}

/// A store of 24 labels, each read with too high chances: every third line has e for c.
fn taught_store(dir: &Path) -> String {
    let file = dir.join("store.sqlite");
    let mut store = SqliteStore::open(&file).unwrap();
    for n in 0..24 {
        let truth = format!("cedric acock {n}");
        let read = if n % 3 == 0 {
            truth.replace('c', "e")
        } else {
            truth.clone()
        };
        let mut mark = firm_label();
        mark.reading = reading(&[(&read, 0.5)]);
        for c in &mut mark.reading.lines[0].characters {
            if c.text != " " {
                *c = Character::sure(&c.text, 0.97);
            }
        }
        let hash = char::from(b'a' + n as u8);
        let seen = photograph(&format!("back-{n}.jpg"), hash, vec![mark]);
        let recorded = store.record_run(&run(vec![seen])).unwrap();
        let author = Author {
            by: "M. Lane".into(),
            at: "2024-03-05T10:00:00+00:00".into(),
            why: String::new(),
        };
        let act = Act::Read { lines: vec![truth] };
        store.decide(recorded.marks[0][0], &act, &author).unwrap();
    }
    file.display().to_string()
}

#[test]
fn what_was_learnt_is_told_on_readings_it_wasnt_fitted_on_and_undone_by_a_further_row() {
    let dir = tempfile::tempdir().unwrap();
    let store = taught_store(dir.path());
    let file = learnt::beside(Path::new(&store));
    let tried = dorso(&["learn", "--store", &store, "--by", "M. Lane", "--try"]);
    assert!(tried.status.success() && !file.exists());

    let out = dorso(&["learn", "--store", &store, "--by", "M. Lane", "--json"]);
    assert!(out.status.success(), "{out:?}");
    let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(
        (&told["number"], &told["better"]),
        (&1.into(), &true.into())
    );
    let pair = |name: &str| {
        let p = &told["measured"][name];
        (p[0].as_f64().unwrap(), p[1].as_f64().unwrap())
    };
    let (loss, error, truth) = (
        pair("log_loss"),
        pair("calibration_error"),
        pair("chance_of_truth_where_wrong"),
    );
    assert!(loss.1 < loss.0 && error.1 < error.0, "{told}");
    assert!(truth.0 == 0.0 && truth.1 > 0.05, "{told}");

    // The running program takes it up, and names it among the rescorers.
    let named = |f: &Path| -> Vec<String> {
        let all = voices(Some(f)).unwrap();
        all.rescorers.iter().map(|v| v.name().to_string()).collect()
    };
    assert!(named(&file).contains(&"learnt 1".to_string()));
    let e = learnt::rows(&file).unwrap()[0]
        .learnt
        .clone()
        .unwrap()
        .applied(&Character::sure("e", 0.97));
    assert!(e.confidence < 0.97 && e.alternatives[0].0 == "c", "{e:?}");

    let kept = std::fs::read(&file).unwrap();
    let undone = dorso(&["learn", "--store", &store, "--by", "M. Lane", "--undo", "1"]);
    assert!(undone.status.success(), "{undone:?}");
    let after = std::fs::read(&file).unwrap();
    assert!(after.len() > kept.len() && after.starts_with(&kept));
    assert!(!named(&file).contains(&"learnt 1".to_string()));
    let again = dorso(&["learn", "--store", &store, "--by", "M. Lane", "--undo", "1"]);
    assert_eq!(again.status.code(), Some(2));
}

/// A store of so many labels that read like a listed firm's; of two in five the person says that they
/// are on no list.
fn decided_store(dir: &Path, count: usize) -> String {
    let file = dir.join("store.sqlite");
    let mut store = SqliteStore::open(&file).unwrap();
    let listed = proposal("framers", "harrowby-1", "Thomas Harrowby", 0.5);
    for n in 0..count {
        let mut mark = firm_label();
        mark.reading = reading(&[("THOS HARROWBY", 0.97), ("KENDAL", 0.97)]);
        let mut seen = photograph(&format!("back-{n}.jpg"), 'a', vec![mark]);
        seen.sha256 = format!("{n:064x}");
        let recorded = store.record_run(&run(vec![seen])).unwrap();
        let act = match n % 5 {
            0 | 3 => Act::Unlisted {
                list: Some("framers".into()),
            },
            _ => Act::Take((&listed).into()),
        };
        let author = Author {
            by: "M. Lane".into(),
            at: "2024-03-05T10:00:00+00:00".into(),
            why: String::new(),
        };
        store.decide(recorded.marks[0][0], &act, &author).unwrap();
    }
    file.display().to_string()
}

#[test]
fn decisions_about_names_take_back_what_was_said_too_surely_and_undoing_gives_it_back() {
    let dir = tempfile::tempdir().unwrap();
    let lists = dir.path().join("lists");
    std::fs::create_dir(&lists).unwrap();
    std::fs::write(
        lists.join("framers.csv"),
        "entry,name,trade,address,town,from,to,source\n\
         harrowby-1,Thomas Harrowby,carver and gilder,14 Castle Street,Kendal,1850,1860,invented\n",
    )
    .unwrap();
    let lists = lists.display().to_string();
    let store = decided_store(dir.path(), 70);
    let chance = || {
        let out = Command::new(env!("CARGO_BIN_EXE_dorso"))
            .args([
                "match",
                "--json",
                "--gazetteer",
                &lists,
                "THOS HARROWBY / KENDAL",
            ])
            .env("DORSO_STORE", &store)
            .output()
            .unwrap();
        let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
        told["proposals"][0]["probability"].as_f64().unwrap()
    };
    let before = chance();
    let diagram = dir.path().join("chances.svg");
    let diagram_name = diagram.display().to_string();
    let asked = [
        "learn",
        "--store",
        &store,
        "--by",
        "M. Lane",
        "--gazetteer",
        &lists,
    ];
    let out = dorso(&[&asked[..], &["--json", "--diagram", &diagram_name]].concat());
    assert!(out.status.success(), "{out:?}");
    let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let error = &told["weighed"]["calibration_error"];
    assert!(error[1].as_f64() < error[0].as_f64(), "{told}");
    let svg = std::fs::read_to_string(&diagram).unwrap();
    assert!(svg.contains("Before") && svg.contains("After"));
    let after = chance();
    assert!(before > 0.9 && after < 0.8, "{before} {after}");
    let undone = dorso(&["learn", "--store", &store, "--by", "M. Lane", "--undo", "1"]);
    assert!(undone.status.success(), "{undone:?}");
    assert_eq!(chance(), before);
}

#[test]
fn ten_decisions_teach_nothing_and_are_told_to_be_too_few() {
    let dir = tempfile::tempdir().unwrap();
    let store = decided_store(dir.path(), 10);
    let out = dorso(&["learn", "--store", &store, "--by", "M. Lane"]);
    let told = String::from_utf8_lossy(&out.stdout).to_string();
    assert!(told.contains("Too few to learn from: 30"), "{told}");
    assert!(told.contains("Nothing was kept"), "{told}");
}

#[test]
fn from_few_readings_nothing_is_learnt_and_a_spoilt_row_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let store = dir.path().join("store.sqlite");
    drop(SqliteStore::open(&store).unwrap());
    let name = store.display().to_string();
    let out = dorso(&["learn", "--store", &name, "--by", "M. Lane"]);
    assert!(out.status.success());
    assert!(String::from_utf8_lossy(&out.stdout).contains("Too few"));
    let file = learnt::beside(&store);
    assert!(!file.exists());
    std::fs::write(&file, "{\"number\":1\n").unwrap();
    let out = dorso(&["learn", "--store", &name, "--by", "M. Lane"]);
    assert_eq!(out.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&out.stderr).contains("learnt.jsonl, row 1"));
}
