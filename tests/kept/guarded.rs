//! What comes in from outside, and what is left by programs that were stopped: each row of `docs/faults.md` that
//! concerns commands.

use crate::support::*;
use dorso::decisions::{SqliteStore, Store};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

pub const HEAD: &str = "entry,name,variants,trade,address,town,from,to,source,note\n";

pub fn dorso(dir: &Path, set: &[(&str, &str)], words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_dorso"))
        .current_dir(dir)
        .env_remove("DORSO_STORE")
        .env_remove("DORSO_GAZETTEER")
        .env("XDG_DATA_HOME", dir.join("home"))
        .env("DORSO_BY", "A. Carrow")
        .envs(set.iter().copied())
        .args(words)
        .output()
        .expect("run")
}

/// The program, begun on the store and the lists in that folder.
pub fn started(dir: &Path, words: &[&str]) -> Child {
    let mut program = Command::new(env!("CARGO_BIN_EXE_dorso"));
    program
        .current_dir(dir)
        .env("DORSO_STORE", dir.join("s.sqlite"))
        .env("DORSO_GAZETTEER", dir.join("lists"))
        .env("XDG_DATA_HOME", dir.join("home"))
        .env("DORSO_BY", "A. Carrow")
        .args(words)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    program.spawn().expect("run")
}

pub fn told(out: &Output) -> String {
    String::from_utf8_lossy(&out.stderr).into_owned()
}

pub fn said(out: &Output) -> String {
    String::from_utf8_lossy(&out.stdout).into_owned()
}

pub fn store(dir: &Path) -> PathBuf {
    let file = dir.join("s.sqlite");
    let mut s = SqliteStore::open(&file).expect("a store");
    let seen = vec![firm_label(), blind_stamp(), chalk_number()];
    s.record_run(&run(vec![photograph("mill.jpg", 'a', seen)]))
        .expect("recorded");
    file
}

#[test]
fn the_version_before_is_kept_beside_a_list() {
    let dir = tempfile::tempdir().unwrap();
    let list = dir.path().join("framers.csv");
    let before = format!("{HEAD}wintle-1,Amos Wintle,,,,,,,invented,\n");
    fs::write(&list, &before).unwrap();
    let add = [
        "gazetteer",
        "add",
        "--list",
        "framers",
        "--name",
        "Ellis Broke",
        "--source",
        "invented",
        "--gazetteer",
        ".",
    ];
    assert!(dorso(dir.path(), &[], &add).status.success());
    assert_eq!(
        fs::read_to_string(dir.path().join(".framers.csv.before")).unwrap(),
        before
    );
    // It is no list itself
    let out = dorso(dir.path(), &[], &["gazetteer", "check", "."]);
    assert!(out.status.success(), "{}{}", said(&out), told(&out));
    assert!(said(&out).contains("2 rows"), "{}", said(&out));
}

#[test]
fn a_store_is_a_file_whatever_its_name() {
    let dir = tempfile::tempdir().unwrap();
    for name in ["file:x?mode=memory", ":memory:", "file:y"] {
        let mut s = SqliteStore::open(&dir.path().join(name)).unwrap();
        s.record_run(&run(vec![photograph("mill.jpg", 'a', vec![firm_label()])]))
            .unwrap();
        drop(s);
        let out = dorso(dir.path(), &[], &["queue", "--store", name]);
        assert!(
            said(&out).contains("need"),
            "{name}: {}{}",
            said(&out),
            told(&out)
        );
        assert!(dir.path().join(name).is_file());
    }
}

#[test]
fn what_a_stopped_export_or_take_in_left_is_in_nobody_s_way() {
    let dir = tempfile::tempdir().unwrap();
    let kept = store(dir.path());
    fs::create_dir(dir.path().join("own")).unwrap();
    fs::write(dir.path().join("own/framers.csv"), HEAD).unwrap();
    let (kept, out) = (kept.to_str().unwrap(), dir.path().join("out"));
    fs::create_dir(&out).unwrap();
    for left in ["dorso.zip.part", ".dorso-abcdef.part"] {
        fs::write(out.join(left), b"half").unwrap();
        let old = std::time::SystemTime::now() - std::time::Duration::from_secs(90);
        fs::File::options()
            .write(true)
            .open(out.join(left))
            .unwrap()
            .set_modified(old)
            .unwrap();
    }
    let export = [
        "export",
        "--as",
        "archive",
        "--out",
        "out",
        "--store",
        kept,
        "--gazetteer",
        "own",
    ];
    let first = dorso(dir.path(), &[], &export);
    assert!(first.status.success(), "{}", told(&first));
    assert!(!out.join(".dorso-abcdef.part").exists());
    // Somebody else's file of another make stays
    assert!(out.join("dorso.zip.part").exists());
    // Taken in as far as the lists, then stopped: the next try goes through
    let take = [
        "take-in",
        "out/dorso.zip",
        "--store",
        "new.sqlite",
        "--lists",
        "lists",
    ];
    fs::create_dir(dir.path().join("lists")).unwrap();
    fs::write(dir.path().join("lists/framers.csv"), HEAD).unwrap();
    let done = dorso(dir.path(), &[], &take);
    assert!(done.status.success(), "{}", told(&done));
    // Another list of that name is left alone
    fs::remove_file(dir.path().join("new.sqlite")).unwrap();
    fs::write(dir.path().join("lists/framers.csv"), "entry,name\n").unwrap();
    let done = dorso(dir.path(), &[], &take);
    assert_eq!(done.status.code(), Some(1));
    assert!(!dir.path().join("new.sqlite").exists());
    let left = fs::read_dir(dir.path().join("lists")).unwrap().count();
    assert_eq!(left, 1, "nothing of the try is left");
}

#[test]
fn two_exports_to_one_folder_don_t_write_over_each_other() {
    let dir = tempfile::tempdir().unwrap();
    store(dir.path());
    let export = |_| {
        let words = [
            "export",
            "--as",
            "tei,csv,alto",
            "--out",
            "out",
            "--store",
            "s.sqlite",
        ];
        dorso(dir.path(), &[], &words)
    };
    let all: Vec<Output> = std::thread::scope(|s| {
        let runs: Vec<_> = (0..3).map(|i| s.spawn(move || export(i))).collect();
        runs.into_iter().map(|r| r.join().unwrap()).collect()
    });
    assert_eq!(all.iter().filter(|o| o.status.success()).count(), 1);
    for out in all.iter().filter(|o| !o.status.success()) {
        assert!(told(out).contains("left as it is"), "{}", told(out));
    }
}

/// What steers a terminal is shown as signs: names of files, of pictures and of lists, and what was read.
#[test]
fn names_and_readings_can_t_steer_a_terminal() {
    let dir = tempfile::tempdir().unwrap();
    let bad = "a\u{1b}[31m\u{202e}gpj.exe\u{9b}2J\r";
    let mut s = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
    let mut label = firm_label();
    label.reading = reading(&[("MILL\u{1b}[2J LANE\u{202e}", 0.6), ("KENDAL", 0.5)]);
    let mut r = run(vec![photograph(bad, 'a', vec![label])]);
    r.picture = Some("Mill\u{1b}]0;x\u{7}\u{2066}".into());
    s.record_run(&r).unwrap();
    drop(s);
    for words in [
        &["queue", "--all"][..],
        &["queue", "--all", "--json"],
        &["settle", "1b"],
        &["note", "--markdown"],
        &["evidence"],
        &["export", "--as", "tei"],
        &["export", "--as", "linked-art"],
        &["read", bad],
        &["match", "--gazetteer", bad, "x"],
        &["note", bad],
        &["gazetteer", "check", bad],
        &["settle", "1b", "take", bad],
        &["queue", bad],
        &["export", "--as", "csv", "--out", "out"],
    ] {
        let words: Vec<&str> = match words[0] {
            "match" | "gazetteer" => words.to_vec(),
            _ => [words, &["--store", "s.sqlite"]].concat(),
        };
        let out = dorso(dir.path(), &[], &words);
        let all = said(&out) + &told(&out);
        let steers = |c: char| {
            (c.is_control() && c != '\n' && c != '\t') || matches!(c, '\u{202e}' | '\u{2066}')
        };
        assert!(!all.contains(steers), "{words:?}: {all:?}");
        assert!(!all.is_empty());
    }
    let json = said(&dorso(
        dir.path(),
        &[],
        &["queue", "--all", "--json", "--store", "s.sqlite"],
    ));
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(
        json["items"][0]["picture"], "Mill\u{1b}]0;x\u{7}\u{2066}",
        "JSON says what it is"
    );
}

#[test]
fn a_damaged_store_is_checked_without_writing_and_mended_into_another_file() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("s.sqlite");
    let mut s = SqliteStore::open(&file).unwrap();
    for n in 0..60 {
        let mut r = run(vec![photograph(
            &format!("back-{n}.jpg"),
            'a',
            vec![firm_label(), chalk_number()],
        )]);
        r.photographs[0].sha256 = format!("{n:064}");
        s.record_run(&r).unwrap();
    }
    drop(s);
    let sound = dorso(dir.path(), &[], &["store", "check", "--store", "s.sqlite"]);
    assert!(sound.status.success(), "{}{}", said(&sound), told(&sound));
    assert!(said(&sound).contains("60 pictures"), "{}", said(&sound));
    // A copy of a sound store holds all of it, made while another program reads it
    let copied = dorso(
        dir.path(),
        &[],
        &[
            "store",
            "copy",
            "--out",
            "copy.sqlite",
            "--store",
            "s.sqlite",
        ],
    );
    assert!(copied.status.success(), "{}", told(&copied));
    let mended = dorso(
        dir.path(),
        &[],
        &[
            "store",
            "mend",
            "--out",
            "whole.sqlite",
            "--store",
            "copy.sqlite",
        ],
    );
    assert!(
        mended.status.success(),
        "{}{}",
        said(&mended),
        told(&mended)
    );
    let marks = |f: &str| {
        SqliteStore::open_existing(&dir.path().join(f))
            .unwrap()
            .marks(None)
            .unwrap()
    };
    assert_eq!(marks("whole.sqlite"), marks("s.sqlite"));
    let size = fs::metadata(&file).unwrap().len() as usize;
    let (mut opened, mut refused) = (0, 0);
    for (n, share) in [5, 20, 35, 50, 65, 80, 95].into_iter().enumerate() {
        let mut bytes = fs::read(&file).unwrap();
        let at = (size * share / 100) & !4095;
        bytes[at..at + 4096].fill(0x5a);
        let bent = dir.path().join(format!("bent-{n}.sqlite"));
        fs::write(&bent, &bytes).unwrap();
        let (bent, new) = (bent.to_str().unwrap(), format!("new-{n}.sqlite"));
        let check = dorso(dir.path(), &[], &["store", "check", "--store", bent]);
        assert_eq!(check.status.code(), Some(1), "{share} %: {}", said(&check));
        assert_eq!(fs::read(bent).unwrap(), bytes, "a check writes nothing");
        let mend = dorso(
            dir.path(),
            &[],
            &["store", "mend", "--out", &new, "--store", bent],
        );
        assert_eq!(
            fs::read(bent).unwrap(),
            bytes,
            "mending leaves the old one as it is"
        );
        match dir.path().join(&new).exists() {
            true => {
                opened += 1;
                let check = dorso(dir.path(), &[], &["store", "check", "--store", &new]);
                assert!(
                    check.status.success(),
                    "{share} %: {}{}",
                    said(&check),
                    said(&mend)
                );
                let _ = marks(&new);
            }
            false => {
                refused += 1;
                assert!(told(&mend).contains("; "), "{}", told(&mend));
            }
        }
    }
    assert!(opened >= 4, "{opened} mended, {refused} refused");
}
