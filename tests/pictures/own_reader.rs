//! A reader of the user's own is one more voice, never the only one, and can't hold up or spoil a reading.
#![cfg(unix)]

use dorso::geometry::Rect;
use dorso::readings::network::{Heard, Row, lean, row};
use dorso::readings::own::{OwnReader, OwnSettings};
use dorso::readings::settings::from_file;
use dorso::readings::{Character, LineReader, RawLine};
use image::{GrayImage, Luma};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::time::{Duration, Instant};

fn reader(dir: &Path, script: &str, seconds: f64) -> OwnReader {
    let program = dir.join("my-reader");
    std::fs::write(&program, format!("#!/bin/sh\n{script}\n")).unwrap();
    std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).unwrap();
    let settings = OwnSettings {
        program,
        arguments: Vec::new(),
        seconds,
    };
    OwnReader::new(settings, None).unwrap()
}

fn read(reader: &OwnReader) -> String {
    let picture = GrayImage::from_pixel(120, 48, Luma([230]));
    let line = reader.read(&picture).unwrap();
    line.iter()
        .flat_map(|l| &l.characters)
        .map(|c| c.text.as_str())
        .collect()
}

#[test]
fn a_program_is_shown_a_picture_by_its_path_and_what_it_prints_is_read() {
    let dir = tempfile::tempdir().unwrap();
    let own = reader(
        dir.path(),
        r#"head -c 8 "$1" | grep -q PNG && echo "  Fenn & Co.  ""#,
        5.0,
    );
    assert_eq!(read(&own), "Fenn & Co.");
    assert_eq!(own.complaint(), None);
    assert!(own.is_own() && own.name() == "own reader my-reader");
}

#[test]
fn a_program_that_hangs_is_ended_in_time_and_asked_no_more_after_three_lines() {
    let dir = tempfile::tempdir().unwrap();
    let own = reader(
        dir.path(),
        "echo x >> \"$0.asked\"; sleep 60; echo Fenn",
        0.2,
    );
    let begun = Instant::now();
    for _ in 0..10 {
        assert_eq!(read(&own), "");
    }
    assert!(begun.elapsed() < Duration::from_secs(10));
    let asked = std::fs::read_to_string(dir.path().join("my-reader.asked")).unwrap();
    assert_eq!(asked.lines().count(), 3);
    assert!(own.complaint().unwrap().contains("longer than 0.2 s"));
}

#[test]
fn a_program_that_fails_or_prints_markup_or_too_much_or_no_text_has_read_nothing() {
    let dir = tempfile::tempdir().unwrap();
    for (script, what) in [
        ("echo Fenn; exit 3", "failed"),
        ("echo '<p>Fenn</p>'", "markup"),
        ("yes Fenn", "more than 2000 bytes"),
        ("yes Fenn | head -n 60", "more than 200 characters"),
        (r"printf '\377\376'", "UTF-8"),
        (r"printf '\033[31mFenn'", "control signs"),
    ] {
        let own = reader(dir.path(), script, 5.0);
        assert_eq!(read(&own), "", "{script}");
        let told = own.complaint().unwrap_or_default();
        assert!(told.contains(what), "{script}: {told}");
    }
    let gone = OwnSettings {
        program: dir.path().join("not-there"),
        arguments: Vec::new(),
        seconds: 1.0,
    };
    let own = OwnReader::new(gone, None).unwrap();
    assert_eq!(read(&own), "");
    assert!(own.complaint().unwrap().contains("can't be started"));
    assert_eq!(read(&reader(dir.path(), "true", 5.0)), "");
}

fn heard(text: &str, chance: f64, weight: f64) -> Heard {
    let sign = |c: char| Character::sure(&c.to_string(), chance);
    let line = RawLine {
        characters: text.chars().map(sign).collect(),
        bounds: Rect::new(10, 10, 200, 30),
        spans: Vec::new(),
        faint: Vec::new(),
        writing: None,
        by_ink: None,
    };
    (line, weight)
}

#[test]
fn what_only_the_own_reader_sees_stays_below_a_clear_letter_however_much_its_vote_weighs() {
    let others = heard("FERN", 0.9, 1.0);
    let own = heard("FENN", 0.99, 50.0);
    let without = row(std::slice::from_ref(&others), &[]).unwrap();
    let all = row(&[others, own.clone()], &[]).unwrap();
    let top: Vec<(String, f64)> = lean(all, &without)
        .slots
        .iter()
        .map(|s| s.shares[0].clone())
        .collect();
    assert!(top[0].0 == "F" && top[0].1 > 0.9, "{top:?}");
    assert!(top[2].1 <= 0.35, "{top:?}");
    let nothing = Row {
        slots: Vec::new(),
        ..without
    };
    let only = lean(row(&[own], &[]).unwrap(), &nothing);
    assert!(only.slots.iter().all(|s| s.shares[0].1 <= 0.35));
}

#[test]
fn settings_that_cant_be_used_are_refused_by_the_name_of_their_file() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("settings.json");
    for text in [
        "{",
        r#"{"own_reader": {"program": "x", "second": 1}}"#,
        r#"{"own_reader": {"program": "x", "seconds": 0}}"#,
        r#"{"language": {"share": 1.5}}"#,
    ] {
        std::fs::write(&file, text).unwrap();
        let told = from_file(&file).unwrap_err().to_string();
        assert!(told.contains("settings.json"), "{told}");
    }
    std::fs::write(&file, r#"{"own_reader": {"program": "x"}}"#).unwrap();
    let set = from_file(&file).unwrap();
    assert_eq!(set.own_reader.unwrap().seconds, 5.0);
    assert!(set.language.share > 0.0);
}
