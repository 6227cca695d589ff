//! The commands around the store, as a person types them.

use crate::support::*;
use assert_cmd::Command;
use dorso::decisions::{SqliteStore, Store};
use serde_json::Value;
use std::path::Path;

fn filled(dir: &Path) {
    let mut s = SqliteStore::open(&dir.join("s.sqlite")).unwrap();
    let mut r = run(vec![photograph(
        "/invented/mill.jpg",
        'a',
        vec![firm_label(), blind_stamp(), chalk_number()],
    )]);
    r.picture = Some("The Mill at Askrigg".into());
    s.record_run(&r).unwrap();
}

fn dorso(dir: &Path, arguments: &[&str]) -> Command {
    let mut c = Command::cargo_bin("dorso").unwrap();
    c.current_dir(dir)
        .env("DORSO_STORE", dir.join("s.sqlite"))
        .env("DORSO_BY", "A. Carrow")
        .args(arguments);
    c
}

/// Standard output of a command that must do well and say nothing on standard error.
fn out(dir: &Path, arguments: &[&str]) -> String {
    let done = dorso(dir, arguments)
        .assert()
        .success()
        .get_output()
        .clone();
    assert_eq!(String::from_utf8_lossy(&done.stderr), "");
    String::from_utf8(done.stdout).unwrap()
}

/// Standard error of a command that must fail with that status and print no result.
fn fault(dir: &Path, status: i32, arguments: &[&str]) -> String {
    let done = dorso(dir, arguments)
        .assert()
        .code(status)
        .get_output()
        .clone();
    assert_eq!(String::from_utf8_lossy(&done.stdout), "", "{arguments:?}");
    let text = String::from_utf8(done.stderr).unwrap();
    assert_eq!(text.lines().count(), 1, "one sentence: {text}");
    text
}

#[test]
fn the_queue_is_worked_off_with_short_commands_that_can_each_be_undone() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    let list = out(d, &["queue"]);
    assert!(list.starts_with(
        "2 marks need a person, the most worthwhile first.\n\n1b   \"THACKWRAY & SON"
    ));
    assert!(list.contains(
        "\n     1  Thackwray & Son (framers, thackwray-kendal-2), 1868 to 1875, chance 0.48\n"
    ));
    assert!(list.contains("dorso settle 1b take 1"));

    let took = out(
        d,
        &[
            "settle",
            "1b",
            "take",
            "1",
            "--why",
            "the number is on the slip",
        ],
    );
    assert_eq!(
        took,
        "1b: names Thackwray & Son (list \"framers\", thackwray-kendal-2), by A. Carrow (d1).\n\
         Undo it with: dorso settle 1b undo\n\
         1 mark still needs a person; next: 2c (not read)\n"
    );
    assert!(out(d, &["settle", "1b", "undo"]).starts_with("1b: d1 (names Thackwray & Son"));
    assert!(out(d, &["queue"]).starts_with("2 marks"));
    assert!(
        out(d, &["settle", "1b", "undo", "d2"])
            .contains("Take that back with: dorso settle 1b undo d3")
    );
    assert!(out(d, &["settle", "2C", "ask", "Miss", "Dunn"]).contains("Miss Dunn is to be asked"));
    assert!(out(d, &["queue"]).starts_with("No mark needs a person."));
    assert!(out(d, &["queue", "--all"]).contains("waits for Miss Dunn"));
    let all = out(d, &["settle", "1b"]);
    assert!(
        all.contains("d1 ") && all.contains("the number is on the slip"),
        "{all}"
    );
}

#[test]
fn each_deed_is_recorded_as_json_with_the_way_back() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    for (deed, act) in [
        (vec!["take", "thackwray-kendal-1"], "take"),
        (vec!["none"], "unlisted"),
        (vec!["none", "framers"], "unlisted"),
        (vec!["read", "THACKWRAY & SON / Kend[..]"], "read"),
        (vec!["unreadable"], "unreadable"),
        (vec!["later"], "put_off"),
        (vec!["later", "2w"], "put_off"),
        (vec!["not-a-mark"], "not_a_mark"),
        (vec!["kind", "stamp"], "kind"),
        (vec!["on", "frame", "--over", "board"], "on"),
        (vec!["undo"], "undo"),
    ] {
        let mut arguments = vec!["settle", "1b", "--json"];
        arguments.extend(&deed);
        let told: Value = serde_json::from_str(&out(d, &arguments)).unwrap();
        assert_eq!(told["act"], act);
        assert_eq!(told["by"], "A. Carrow");
        let undo = format!(
            "dorso settle 1b undo {}",
            told["decision"].as_str().unwrap()
        );
        assert_eq!(told["undo"], undo);
    }
    let mark: Value = serde_json::from_str(&out(d, &["settle", "1b", "--json"])).unwrap();
    assert_eq!(mark["decisions"].as_array().unwrap().len(), 11);
    assert_eq!(mark["decisions"][9]["holds"], false);
}

#[test]
fn the_queue_is_narrowed_by_picture_kind_and_reason() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    let ids = |arguments: &[&str]| {
        let mut all = vec!["queue", "--json"];
        all.extend(arguments);
        let told: Value = serde_json::from_str(&out(d, &all)).unwrap();
        assert_eq!(told["format"], "dorso.queue/1");
        let items = told["items"].as_array().unwrap().iter();
        items
            .map(|i| i["id"].as_str().unwrap().to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(ids(&[]), ["1b", "2c"]);
    assert_eq!(ids(&["--all"]), ["1b", "2c", "3d"]);
    assert_eq!(ids(&["--kind", "stamp"]), ["2c"]);
    assert_eq!(ids(&["--because", "rivals"]), ["1b"]);
    assert_eq!(ids(&["--picture", "the mill"]), ["1b", "2c"]);
    assert!(out(d, &["queue", "--most", "1"]).contains("1 more: --most 2 shows all."));
}

#[test]
fn what_cannot_be_done_is_told_in_one_sentence_and_changes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    let cases: [(i32, &[&str], &str); 10] = [
        (2, &["settle", "1c", "unreadable"], "don't fit together"),
        (1, &["settle", "9k", "unreadable"], "no such mark"),
        (
            2,
            &["settle", "1b", "take", "9"],
            "there is no proposal 9, only 1 to 3",
        ),
        (2, &["settle", "2c", "take", "1"], "the program made none"),
        (
            2,
            &["settle", "1b", "take", "nobody-1"],
            "neither the proposals",
        ),
        (1, &["settle", "1b", "undo"], "nothing to undo"),
        (
            2,
            &["settle", "1b", "later", "2001-01-01"],
            "no day to come",
        ),
        (1, &["settle", "1b", "read", "THACK[.."], "isn't closed"),
        (2, &["settle", "1b", "kind", "blob"], "no kind of mark"),
        (
            1,
            &["queue", "--picture", "Nobody"],
            "give one of \"The Mill at Askrigg\"",
        ),
    ];
    for (status, arguments, words) in cases {
        let text = fault(d, status, arguments);
        assert!(text.contains(words), "{arguments:?}: {text}");
    }
    let s = SqliteStore::open(&d.join("s.sqlite")).unwrap();
    assert!(s.journal().unwrap().is_empty());
    let text = fault(d, 1, &["queue", "--store", "nowhere.sqlite"]);
    assert!(text.contains("there is no store yet"));
    assert!(!d.join("nowhere.sqlite").exists());
}

#[test]
fn a_note_is_written_to_a_folder_and_never_over_one_that_is_there_unasked() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    // The photograph was never there: told, exit 1, and the note is written all the same.
    let done = dorso(d, &["note", "the mill", "--out", "notes"])
        .assert()
        .code(1)
        .get_output()
        .clone();
    let told = String::from_utf8(done.stderr).unwrap();
    assert!(
        told.contains("mill.jpg is no longer where it was last seen"),
        "{told}"
    );
    let files = String::from_utf8(done.stdout).unwrap();
    assert_eq!(files.lines().count(), 2, "{files}");
    for f in files.lines() {
        assert!(
            std::fs::read_to_string(d.join(f))
                .unwrap()
                .contains("THACKWRAY")
        );
    }
    let text = fault(d, 1, &["note", "--out", "notes"]);
    assert!(text.contains("is there already and is left as it is"));
    let markdown = out(d, &["note", "--out", "mine.md"]);
    assert_eq!(markdown, "mine.md\n");
    assert!(out(d, &["note"]).starts_with("# The Mill at Askrigg: what its back says\n"));
    assert!(fault(d, 2, &["note", "--out", "x.html", "--markdown"]).contains("two formats"));
    let left: Vec<_> = std::fs::read_dir(d.join("notes"))
        .unwrap()
        .flatten()
        .map(|f| f.file_name())
        .collect();
    assert!(
        left.iter().all(|f| !f.to_string_lossy().ends_with(".part")),
        "{left:?}"
    );
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_and_not_taken_for_done() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    let full = std::fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let mut c = std::process::Command::new(assert_cmd::cargo::cargo_bin!("dorso"));
    let done = c
        .current_dir(d)
        .env("DORSO_STORE", d.join("s.sqlite"))
        .args(["note"])
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(done.status.code(), Some(1));
    assert!(
        String::from_utf8(done.stderr)
            .unwrap()
            .contains("standard output: the result can't be written")
    );
}

#[test]
fn dates_that_cannot_be_true_together_come_back_to_the_queue_until_one_is_read_again() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    let mut label = firm_label();
    label.reading = reading(&[("THACKWRAY & SON", 0.97)]);
    let firm = proposal("framers", "thackwray-kendal-2", "Thackwray & Son", 0.95);
    label.rivals = vec![rivals("framers", vec![firm])];
    let mut year = chalk_number();
    year.reading = reading(&[("1850", 0.97)]);
    year.reading.lines[0].characters[2].confidence = 0.6;
    year.reading.lines[0].characters[2].alternatives = vec![("7".into(), 0.3)];
    let mut s = SqliteStore::open(&d.join("s.sqlite")).unwrap();
    let photos = vec![photograph("/invented/mill.jpg", 'a', vec![label, year])];
    s.record_run(&run(photos)).unwrap();
    drop(s);
    assert!(out(d, &["queue"]).starts_with("No mark needs a person"));

    // On two parts both may be true; on one they can't.
    out(d, &["settle", "1b", "on", "frame"]);
    out(d, &["settle", "2c", "on", "backing"]);
    assert!(out(d, &["queue"]).starts_with("No mark needs a person"));
    out(d, &["settle", "2c", "on", "frame"]);
    let list = out(d, &["queue", "--because", "conflict"]);
    assert!(list.starts_with("2 marks"), "{list}");
    assert!(
        list.contains(
            "because a date here (the year on it is 1850) conflicts with printed label 1b on the \
             frame, if it names Thackwray & Son (thackwray-kendal-2); it would not if the year on \
             it is 1870 (chance 0."
        ),
        "{list}"
    );

    out(d, &["settle", "2c", "read", "1870"]);
    assert!(out(d, &["queue"]).starts_with("No mark needs a person"));
    // What is undone is in conflict again.
    out(d, &["settle", "2c", "undo"]);
    assert!(out(d, &["queue"]).starts_with("2 marks"));
    // Where people decided both, there is nothing to read again.
    out(d, &["settle", "2c", "read", "1850"]);
    out(d, &["settle", "1b", "take", "1"]);
    assert!(out(d, &["queue"]).starts_with("No mark needs a person"));
}

#[test]
fn an_event_typed_by_hand_enters_the_line_of_provenance_and_can_be_undone() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    let event = |more: &[&str]| {
        let mut all = vec!["observe", "The Mill", "--event"];
        all.extend(more);
        out(d, &all)
    };
    event(&[
        "bought",
        "--who",
        "Edith Marlowe",
        "--place",
        "Askrigg",
        "--when",
        "1911",
        "--direct",
        "--source",
        "receipt in the family's papers",
    ]);
    event(&[
        "dealt",
        "--who",
        "Pell & Orme",
        "--when",
        "1921",
        "--probably",
        "--source",
        "from memory",
    ]);
    let note = out(d, &["note", "The Mill"]);
    assert!(
        note.contains(
            "Purchased by Edith Marlowe, Askrigg, 1911 \\[1\\]; probably (Pell & Orme, 1921 \\[2\\])"
        ),
        "{note}"
    );
    assert!(note.contains("source: receipt in the family's papers; not read on the object"));
    out(d, &["observe", "The Mill", "--undo", "o1"]);
    assert!(!out(d, &["note", "The Mill"]).contains("Marlowe"));
    let told = fault(
        d,
        2,
        &[
            "observe", "The Mill", "--event", "sold", "--who", "Pell", "--when", "May", "--source",
            "x",
        ],
    );
    assert!(told.contains("not understood as a date"), "{told}");
}

#[test]
fn what_words_say_is_put_right_told_undone_and_learnt() {
    let dir = tempfile::tempdir().unwrap();
    let d = dir.path();
    filled(d);
    out(
        d,
        &[
            "settle",
            "1b",
            "read",
            "THE FERRY AT DUNMARSH / Lent by Mrs. Farrowby",
        ],
    );
    let stated = |d: &Path| out(d, &["note", "The Mill at Askrigg", "--length", "file"]);
    let before = stated(d);
    let said = out(d, &["settle", "1b", "says", "owner", "Mrs. Farrowby"]);
    assert!(
        said.starts_with("1b: \"Mrs. Farrowby\" is the owner: "),
        "{said}"
    );
    out(
        d,
        &[
            "settle",
            "1b",
            "says",
            "title",
            "the ferry at dunmarsh",
            "--value",
            "The Ferry",
        ],
    );
    let mark = SqliteStore::open(&d.join("s.sqlite"))
        .unwrap()
        .mark(dorso::decisions::MarkId(1))
        .unwrap();
    assert_eq!(mark.settled.said.len(), 2);
    let after = stated(d);
    assert!(after.contains("The Ferry") && before != after, "{after}");
    // As the person's, not as the program's
    let whose = "(d3): \"the ferry at dunmarsh\" is the title: The Ferry.";
    assert!(after.contains(whose), "{after}");
    assert!(after.contains("said by a person (d3)"), "{after}");
    // What a mark doesn't read can't be said of it, nor what no words can be
    let gone = fault(d, 2, &["settle", "1b", "says", "lot", "Lot 217"]);
    assert!(
        gone.contains("these words don't stand so on the mark"),
        "{gone}"
    );
    let odd = fault(d, 2, &["settle", "1b", "says", "hero", "Mrs. Farrowby"]);
    assert!(
        odd.contains("exhibition_year") && odd.contains("nothing"),
        "{odd}"
    );
    // Said anew it stands in place of what was said; undone that stands again
    out(d, &["settle", "1b", "says", "nothing", "Mrs. Farrowby"]);
    let told = out(d, &["learn"]);
    assert!(
        told.contains("\"mrs farrowby\": nothing, on 1 of 1 marks"),
        "{told}"
    );
    out(d, &["settle", "1b", "undo"]);
    let told = out(d, &["learn"]);
    assert!(
        told.contains("\"mrs farrowby\": owner, on 1 of 1 marks"),
        "{told}"
    );
}
