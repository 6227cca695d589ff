//! Every text of an error in one place to be read through, and what the commonest faults print.
//!
//! A changed text is looked at and taken over with `INSTA_UPDATE=always cargo test --test kept -- errors`.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// What makes an error, or fills one of its parts.
const MAKERS: [&str; 12] = [
    "Error::new(",
    "fault(",
    "usage(",
    "refuse(",
    "refused(",
    "failed(",
    "wrong(",
    "unclear(",
    ".hold(",
    "unreadable(",
    "away(",
    "unlike(",
];

fn sources(dir: &Path, out: &mut Vec<PathBuf>) {
    for item in fs::read_dir(dir).expect("folder").flatten() {
        let path = item.path();
        match path.is_dir() {
            true => sources(&path, out),
            false if path.extension().is_some_and(|e| e == "rs") => out.push(path),
            false => {}
        }
    }
}

/// The string literals between a bracket and the one that closes it.
fn literals(text: &str) -> Vec<String> {
    let (mut depth, mut out, mut at) = (1, Vec::new(), 0);
    let bytes = text.as_bytes();
    while depth > 0 && at < bytes.len() {
        match bytes[at] {
            b'(' => depth += 1,
            b')' => depth -= 1,
            b'\'' if bytes.get(at + 2) == Some(&b'\'') => at += 2,
            b'"' => {
                let mut end = at + 1;
                while bytes.get(end).is_some_and(|b| *b != b'"') {
                    end += 1 + usize::from(bytes[end] == b'\\');
                }
                let said = &text[at + 1..end.min(text.len())];
                let one: Vec<&str> = said.split("\\\n").map(str::trim_start).collect();
                out.push(one.concat());
                at = end;
            }
            _ => {}
        }
        at += 1;
    }
    out
}

#[test]
fn every_text_of_an_error_is_in_the_reviewed_list() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    files.sort();
    let mut list = String::new();
    for file in files {
        let source = fs::read_to_string(&file).expect("source");
        let source = source.split("#[cfg(test)]\nmod tests").next().unwrap_or("");
        let mut told: Vec<String> = Vec::new();
        for maker in MAKERS {
            for (at, _) in source.match_indices(maker) {
                let said = literals(&source[at + maker.len()..]);
                let said: Vec<String> = said.into_iter().filter(|s| s.contains(' ')).collect();
                if !said.is_empty() {
                    told.push(said.join(" | "));
                }
            }
        }
        told.sort();
        told.dedup();
        if !told.is_empty() {
            let name = file.strip_prefix(&root).expect("below src").display();
            let _ = writeln!(list, "{name}\n  {}", told.join("\n  "));
        }
    }
    let count = list.lines().count();
    assert!(count > 300, "{count} lines");
    for poor in ["do it again, and report", "SELECT", "unwrap", "panicked"] {
        assert!(!list.contains(poor), "{poor}");
    }
    insta::assert_snapshot!(list);
}

fn said(dir: &Path, words: &[&str]) -> String {
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_dorso"))
        .current_dir(dir)
        .env_remove("DORSO_STORE")
        .env_remove("DORSO_GAZETTEER")
        .env("XDG_DATA_HOME", dir.join("home"))
        .env("DORSO_BY", "A. Carrow")
        .args(words)
        .output()
        .expect("run");
    assert!(!out.status.success(), "{words:?}");
    String::from_utf8_lossy(&out.stderr).into_owned()
}

/// Faults as they are met: each is one sentence that says what to do.
#[test]
fn what_the_commonest_faults_print_is_in_the_reviewed_list() {
    let dir = tempfile::tempdir().expect("folder");
    let at = |name: &str| dir.path().join(name);
    fs::write(at("letter.jpg"), "Dear Sir, the frame is ready.\n").expect("file");
    fs::write(at("empty.jpg"), "").expect("file");
    fs::write(
        at("letter.sqlite"),
        "Dear Sir, the frame is ready. ".repeat(40),
    )
    .expect("file");
    let other = rusqlite::Connection::open(at("other.sqlite")).expect("database");
    other
        .execute_batch("CREATE TABLE birds (name TEXT)")
        .expect("table");
    drop(dorso::decisions::SqliteStore::open(&at("s.sqlite")).expect("a store"));
    for (name, version) in [("older.sqlite", 4), ("newer.sqlite", 9_999)] {
        fs::copy(at("s.sqlite"), at(name)).expect("copy");
        let db = rusqlite::Connection::open(at(name)).expect("database");
        db.pragma_update(None, "user_version", version)
            .expect("version");
    }
    let mut bytes = fs::read(at("s.sqlite")).expect("bytes");
    bytes[4096..].fill(0x5a);
    fs::write(at("damaged.sqlite"), bytes).expect("file");
    fs::create_dir(at("lists")).expect("folder");
    fs::write(at("lists/framers.csv"), "entry,name\n").expect("list");
    let mut list = String::new();
    for words in [
        &[
            "read",
            "--no-store",
            "gone.jpg",
            "letter.jpg",
            "empty.jpg",
            "lists",
        ][..],
        &["queue", "--store", "none.sqlite"],
        &["queue", "--store", "letter.sqlite"],
        &["queue", "--store", "other.sqlite"],
        &["queue", "--store", "older.sqlite"],
        &["queue", "--store", "newer.sqlite"],
        &["queue", "--store", "damaged.sqlite"],
        &["store", "check", "--store", "damaged.sqlite"],
        &[
            "store",
            "mend",
            "--out",
            "s.sqlite",
            "--store",
            "damaged.sqlite",
        ],
        &["settle", "1x", "read", "A", "--store", "s.sqlite"],
        &["settle", "1b", "read", "A", "--store", "s.sqlite"],
        &["note", "--store", "s.sqlite"],
        &["export", "--as", "birds", "--store", "s.sqlite"],
        &["take-in", "letter.jpg", "--store", "new.sqlite"],
        &["take-in", "gone.zip", "--store", "new.sqlite"],
        &["gazetteer", "check", "gone"],
        &[
            "gazetteer",
            "add",
            "--list",
            "birds",
            "--name",
            "A",
            "--source",
            "B",
            "--gazetteer",
            "lists",
        ],
        &[
            "gazetteer",
            "add",
            "--list",
            "framers",
            "--name",
            "A",
            "--source",
            "B",
            "--from",
            "x",
            "--gazetteer",
            "lists",
        ],
        &[
            "desk",
            "--no-open",
            "--key-file",
            "empty.jpg",
            "--store",
            "s.sqlite",
        ],
        &["evaluate", "lists"],
    ] {
        let told = said(dir.path(), words).replace(&dir.path().display().to_string(), "DIR");
        let _ = writeln!(list, "dorso {}\n{told}", words.join(" "));
    }
    insta::assert_snapshot!(list);
}
