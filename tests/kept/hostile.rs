//! What comes in from outside and is too large, never ends or lies about itself: refused with its limit and how to raise
//! it, within 1.5 GiB.

use crate::guarded::{HEAD, dorso, said, started, store, told};
use crate::support::*;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// What a program may hold at one time, MiB.
const MOST: u64 = 1_536;

/// Runs the program; what it did, and the most memory that it held at one time, MiB.
#[cfg(target_os = "linux")]
fn held(dir: &Path, words: &[&str]) -> (Output, u64) {
    let child = started(dir, words);
    let status = format!("/proc/{}/status", child.id());
    let watched = std::thread::spawn(move || most_held(&status));
    let out = child.wait_with_output().expect("ended");
    (out, watched.join().expect("watched"))
}

#[test]
fn what_is_too_large_for_a_list_is_told_with_the_limit_and_its_other_rows_are_used() {
    let dir = tempfile::tempdir().unwrap();
    let good =
        "wintle-1,Amos Wintle,,carver and gilder,4 Cross Row,Rothcaster,1850,1861,invented,\n";
    let cases = [
        (
            "unclosed",
            format!("{HEAD}{good}broken,\"{}", "unclosed ".repeat(300_000)),
            "cell-bytes",
        ),
        (
            "wide cell",
            format!("{HEAD}{good}long,{}\n", "x".repeat(2_000_000)),
            "cell-bytes",
        ),
        (
            "columns",
            format!("{HEAD}{good}{}\n", ",".repeat(100_000)),
            "columns",
        ),
    ];
    for (name, text, limit) in cases {
        fs::write(dir.path().join("framers.csv"), text).unwrap();
        let out = dorso(dir.path(), &[], &["gazetteer", "check", "."]);
        assert_eq!(out.status.code(), Some(1), "{name}");
        let all = said(&out) + &told(&out);
        assert!(
            all.contains("row 3") && all.contains(&format!("DORSO_LIMITS={limit}=")),
            "{name}: {all}"
        );
        assert!(all.contains("1 used") && all.len() < 2_000, "{name}: {all}");
    }
    let raised = [("DORSO_LIMITS", "columns=200000")];
    let out = dorso(dir.path(), &raised, &["gazetteer", "check", "."]);
    assert!(!said(&out).contains("DORSO_LIMITS"), "{}", said(&out));
    let wrong = dorso(
        dir.path(),
        &[("DORSO_LIMITS", "rows=7")],
        &["gazetteer", "check", "."],
    );
    assert_eq!(wrong.status.code(), Some(2));
    assert!(told(&wrong).contains("cell-bytes"), "{}", told(&wrong));
}

#[cfg(unix)]
#[test]
fn what_never_ends_is_refused_wherever_a_file_is_named() {
    let dir = tempfile::tempdir().unwrap();
    std::os::unix::fs::symlink("/dev/zero", dir.path().join("framers.csv")).unwrap();
    let made = Command::new("mkfifo")
        .arg(dir.path().join("towns.csv"))
        .status();
    assert!(
        made.is_ok_and(|s| s.success()),
        "this test needs mkfifo (Debian: coreutils)"
    );
    let out = dorso(dir.path(), &[], &["gazetteer", "check", "."]);
    let all = said(&out) + &told(&out);
    assert!(!all.contains("framers.csv, row"), "{all}");
    store(dir.path());
    for words in [
        &[
            "gazetteer",
            "import",
            "--list",
            "framers",
            "--gazetteer",
            "lists",
            "/dev/zero",
        ][..],
        &["take-in", "/dev/zero", "--store", "new.sqlite"],
        &["take-in", "towns.csv", "--store", "new.sqlite"],
        &[
            "observe",
            "mill",
            "--provenance",
            "/dev/zero",
            "--store",
            "s.sqlite",
        ],
        &["read", "--no-store", "/dev/zero"],
        &["queue", "--store", "/dev/zero"],
        &["queue", "--store", "towns.csv"],
    ] {
        fs::create_dir_all(dir.path().join("lists")).unwrap();
        fs::write(dir.path().join("lists/framers.csv"), HEAD).unwrap();
        let out = dorso(dir.path(), &[], words);
        assert!(!out.status.success(), "{words:?}");
        assert!(
            told(&out).contains("ordinary file") || told(&out).contains("can't be read"),
            "{words:?}: {}",
            told(&out)
        );
    }
}

#[test]
fn marks_for_which_a_photograph_leaves_no_time_are_kept_unread_and_say_why() {
    let dir = tempfile::tempdir().unwrap();
    let photo = fs::canonicalize("samples/photographs/ferry-back.jpg").unwrap();
    let words = ["read", "--json", photo.to_str().unwrap()];
    let out = dorso(dir.path(), &[("DORSO_LIMITS", "reading-seconds=0")], &words);
    assert!(out.status.success(), "{}", told(&out));
    let read: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert!(read["marks"].as_array().unwrap().len() >= 5);
    for m in read["photos"][0]["marks"].as_array().unwrap() {
        assert_eq!(m["lines"], serde_json::json!([]), "{m}");
        assert_eq!(m["needs_person"], true);
        assert!(
            m["because"]
                .to_string()
                .contains("DORSO_LIMITS=reading-seconds="),
            "{m}"
        );
    }
}

/// Takes in an archive with its lists, into a new store.
const TAKE: [&str; 6] = [
    "take-in",
    "a.zip",
    "--store",
    "new.sqlite",
    "--lists",
    "lists",
];

#[test]
fn an_archive_that_names_a_file_twice_or_holds_too_much_is_refused() {
    use dorso::exports::{Part, pack};
    let dir = tempfile::tempdir().unwrap();
    let kept = ("store.sqlite".to_owned(), Part::File(store(dir.path())));
    let more = ("lists/a.csv".to_owned(), Part::Bytes(HEAD.into()));
    let archive = |files: &[(String, Part)]| {
        let to = fs::File::create(dir.path().join("a.zip")).unwrap();
        pack(files, MONDAY, to).map(|()| "a.zip")
    };
    // A ZIP writer refuses the second of one name; its list of contents says it all the same
    archive(&[kept.clone(), more.clone()]).unwrap();
    for (limits, limit) in [
        ("members=1", "members"),
        ("archive-bytes=4000", "archive-bytes"),
    ] {
        let out = dorso(dir.path(), &[("DORSO_LIMITS", limits)], &TAKE);
        assert_eq!(out.status.code(), Some(1));
        assert!(
            told(&out).contains(&format!("DORSO_LIMITS={limit}=")),
            "{}",
            told(&out)
        );
        assert!(!dir.path().join("new.sqlite").exists());
    }
    let upper = ("lists/A.csv".to_owned(), Part::Bytes(HEAD.into()));
    archive(&[kept, more, upper]).unwrap();
    let out = dorso(dir.path(), &[], &TAKE);
    assert!(told(&out).contains("named twice"), "{}", told(&out));
    assert!(!dir.path().join("lists").exists() && !dir.path().join("new.sqlite").exists());
}

/// The memory of each is measured; the larger ones of them are told in `benches/trials/trust.md`.
#[cfg(target_os = "linux")]
#[test]
fn what_is_hostile_takes_no_more_memory_than_it_may() {
    let dir = tempfile::tempdir().unwrap();
    store(dir.path());
    let lists = dir.path().join("lists");
    fs::create_dir(&lists).unwrap();
    let sparse = |name: &str, bytes: u64| {
        let file = fs::File::create(dir.path().join(name)).unwrap();
        file.set_len(bytes).unwrap();
    };
    sparse("endless.csv", 1 << 30);
    sparse("endless.jpg", 1 << 30);
    sparse("endless.zip", 8 << 30);
    fs::write(dir.path().join("wide.png"), png_head(14_000, 14_000, 16)).unwrap();
    fs::write(dir.path().join("huge.png"), png_head(30_000, 30_000, 8)).unwrap();
    let unclosed = format!("{HEAD}a,Amos Wintle\nb,\"{}", "unclosed ".repeat(1_100_000));
    let cell = format!("{HEAD}a,Amos Wintle\nb,{}\n", "x".repeat(30 << 20));
    let columns = format!("{HEAD}a,Amos Wintle\n{}\n", ",".repeat(100_000));
    for (text, words, limit) in [
        (
            Some(&unclosed),
            &["gazetteer", "check", "lists"][..],
            "cell-bytes",
        ),
        (Some(&cell), &["match", "AMOS WINTLE"], ""),
        (Some(&cell), &["gazetteer", "check", "lists"], "cell-bytes"),
        (Some(&columns), &["gazetteer", "check", "lists"], "columns"),
        (
            None,
            &["gazetteer", "import", "--list", "framers", "endless.csv"],
            "list-bytes",
        ),
        (
            None,
            &["observe", "mill", "--provenance", "endless.csv"],
            "text-bytes",
        ),
        (
            None,
            &["read", "--no-store", "endless.jpg"],
            "photograph-bytes",
        ),
        (None, &["read", "--no-store", "wide.png"], "picture-bytes"),
        (None, &["read", "--no-store", "huge.png"], ""),
        (
            None,
            &["take-in", "endless.zip", "--store", "new.sqlite"],
            "",
        ),
        (None, &["queue", "--store", "endless.csv"], ""),
    ] {
        fs::write(lists.join("framers.csv"), text.map_or(HEAD, String::as_str)).unwrap();
        let (out, most) = held(dir.path(), words);
        let all = said(&out) + &told(&out);
        println!("{most} MiB: {}", words.join(" "));
        assert!(most <= MOST, "{words:?}: {most} MiB");
        assert!(
            limit.is_empty() || !out.status.success(),
            "{words:?}: {all}"
        );
        let raise = format!("DORSO_LIMITS={limit}=");
        assert!(limit.is_empty() || all.contains(&raise), "{words:?}: {all}");
        assert!(all.len() < 4_000, "{words:?}: {} bytes are told", all.len());
    }
}

/// An archive of our own making, its second list renamed to the first: a ZIP that names one member twice.
#[test]
fn an_archive_with_two_members_of_one_name_is_refused() {
    use dorso::exports::{Part, pack};
    let dir = tempfile::tempdir().unwrap();
    let kept = ("store.sqlite".to_owned(), Part::File(store(dir.path())));
    let list = |name: &str| (format!("lists/{name}.csv"), Part::Bytes(HEAD.into()));
    let to = fs::File::create(dir.path().join("a.zip")).unwrap();
    pack(&[kept, list("one"), list("two")], MONDAY, to).unwrap();
    let mut bytes = fs::read(dir.path().join("a.zip")).unwrap();
    for at in 0..bytes.len() - 13 {
        if &bytes[at..at + 13] == b"lists/two.csv" {
            bytes[at..at + 13].copy_from_slice(b"lists/one.csv");
        }
    }
    fs::write(dir.path().join("a.zip"), bytes).unwrap();
    let out = dorso(dir.path(), &[], &TAKE);
    assert_eq!(out.status.code(), Some(1), "{}", said(&out));
    assert!(!dir.path().join("new.sqlite").exists());
    let left = fs::read_dir(dir.path().join("lists")).map_or(0, Iterator::count);
    assert_eq!(left, 0, "nothing of it is left");
}
