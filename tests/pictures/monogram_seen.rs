//! Letters of monograms as the program sees them: against onnxruntime, on a picture made from a seed, from the command line.

use crate::support::monogram as made;
use base64::{Engine, engine::general_purpose::STANDARD};
use dorso::geometry::Rect;
use dorso::monogram::Seen;
use dorso::monogram::network::{self, Lies, SIDE};
use image::{GrayImage, imageops};
use imageproc::geometric_transformations::{Border, Interpolation, rotate_about_center};
use serde_json::Value;
use std::path::Path;

fn reference() -> Vec<Value> {
    let whole: Value = serde_json::from_str(include_str!("../reference/monograms.json")).unwrap();
    whole["signs"].as_array().unwrap().clone()
}

fn picture(sign: &Value) -> GrayImage {
    let grey = STANDARD.decode(sign["grey"].as_str().unwrap()).unwrap();
    GrayImage::from_raw(SIDE, SIDE, grey).unwrap()
}

/// Chance of a set as it was seen; the empty one stands for none of one to three letters.
fn chance(seen: &Seen, letters: &str) -> f64 {
    let found = seen.sets.iter().find(|s| s.letters == letters);
    match letters {
        "" => seen.none,
        _ => found.map_or(0.0, |s| s.chance),
    }
}

#[test]
fn the_chances_of_sets_are_those_that_onnxruntime_finds() {
    for sign in &reference() {
        let seen = network::see(&picture(sign), Lies::Upright).unwrap();
        for top in sign["top"].as_array().unwrap() {
            let (letters, expected) = (top[0].as_str().unwrap(), top[1].as_f64().unwrap());
            // Of the unlikely ones not all are told
            if expected < 0.006 {
                continue;
            }
            let found = chance(&seen, letters);
            assert!(
                (found - expected).abs() < 2e-3,
                "{letters}: {found} for {expected}"
            );
        }
    }
}

#[test]
fn a_turn_is_found_and_read_as_onnxruntime_reads_it() {
    for sign in &reference() {
        let seen = network::see(&picture(sign), Lies::AnyTurn).unwrap();
        assert_eq!(seen.turn, sign["turns"][0].as_u64().unwrap() as u32 * 15);
        // The likeliest turn's chance of its likeliest set is a part of what all turns say together
        let share = sign["weights"][0].as_f64().unwrap();
        let (letters, alone) = (
            &sign["turned"][0][0],
            sign["turned"][0][1].as_f64().unwrap(),
        );
        let found = chance(&seen, letters.as_str().unwrap());
        assert!(
            found > share * alone - 5e-3,
            "{letters}: {found} for {share} x {alone}"
        );
        assert!(
            found < share * alone + 1.0 - share + 5e-3,
            "{letters}: {found}"
        );
        let sum: f64 = seen.sets.iter().map(|s| s.chance).sum::<f64>() + seen.none;
        assert!(sum < 1.0 + 1e-9, "{sum}");
    }
}

#[test]
fn letters_made_from_a_seed_are_read_where_they_are_outlined() {
    let (photo, outline) = made();
    let framed = network::framed(&photo, Some(outline)).unwrap();
    let seen = network::see(&framed, Lies::Upright).unwrap();
    assert_eq!(seen.sets[0].letters, "BK", "{seen:?}");
    let meant = seen.letters_meant().unwrap();
    assert_eq!(meant.ranked()[0].0.text(), "KB", "in the order they stand");
}

/// Two painters.
fn lists(dir: &Path) {
    let lists = dir.join("lists");
    std::fs::create_dir(&lists).unwrap();
    let header = "entry,name,variants,trade,address,town,from,to,source,note";
    let rows = "bovenden,Klara Bovenden,,painter,,,1851,1911,invented,\n\
        quellmann,Quirin Quellmann,,painter,,,1801,1860,invented,\n";
    std::fs::write(lists.join("artists.csv"), format!("{header}\n{rows}")).unwrap();
}

/// Runs the program on a store in that folder; what it printed.
fn dorso(dir: &Path, words: &[&str]) -> String {
    let mut c = assert_cmd::Command::cargo_bin("dorso").unwrap();
    c.current_dir(dir).args(words);
    c.env("DORSO_STORE", "s.sqlite")
        .env("DORSO_BY", "A. Carrow");
    let out = c.output().unwrap();
    let why = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{words:?}: {why}");
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn a_mark_that_is_said_to_be_a_monogram_is_seen_as_one_until_that_is_undone() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    made().0.save(dir.join("front.png")).unwrap();
    lists(dir);
    dorso(dir, &["read", "front.png", "--gazetteer", "lists"]);
    let mark = "1b";
    let shown = || dorso(dir, &["settle", mark]);
    assert!(!shown().contains("Its letters"));
    let said = dorso(
        dir,
        &["settle", mark, "kind", "monogram", "--gazetteer", "lists"],
    );
    assert!(
        said.contains("Its letters, whatever their order: BK") && said.contains("Klara Bovenden"),
        "{said}"
    );
    assert!(shown().contains("Its letters, whatever their order: BK"));
    // Read again it stays one, and its rivals with "on none" sum to 1
    let json = dorso(
        dir,
        &["read", "front.png", "--json", "--gazetteer", "lists"],
    );
    let json: Value = serde_json::from_str(&json).unwrap();
    let own = &json["marks"][0];
    assert_eq!(
        (&own["kind"], &own["lines"][0]["text"]),
        (&"monogram".into(), &"KB".into())
    );
    let artists = own["proposals"].as_array().unwrap();
    let sum: f64 = artists
        .iter()
        .map(|p| p["probability"].as_f64().unwrap())
        .sum();
    assert_eq!(artists[0]["name"], "Klara Bovenden");
    assert!(
        (sum + own["unlisted"].as_f64().unwrap() - 1.0).abs() < 0.01,
        "{own}"
    );
    dorso(
        dir,
        &["note", "front", "--out", "note.md", "--length", "catalogue"],
    );
    let note = std::fs::read_to_string(dir.join("note.md")).unwrap();
    assert!(
        note.contains("Inscribed with a monogram “KB”, not identified"),
        "{note}"
    );
    dorso(dir, &["settle", mark, "undo"]);
    assert!(!shown().contains("Its letters"));
}

#[test]
fn a_collection_of_ones_own_finds_the_same_design_and_gives_back_what_is_taken_out() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    lists(dir);
    let (photo, Rect { x, y, w, h }) = made();
    photo.save(dir.join("front.png")).unwrap();
    // The same sign darker, nearer and a little aslant
    let near = imageops::crop_imm(&photo, 260, 170, 250, 180).to_image();
    let near = imageops::resize(&near, 600, 432, imageops::FilterType::Triangle);
    let near = imageops::contrast(&near, -20.0);
    let turned = rotate_about_center(&near, 0.1, Interpolation::Bilinear, Border::Replicate);
    turned.save(dir.join("near.png")).unwrap();
    let (outline, with) = (format!("{x},{y},{w},{h}"), ["--gazetteer", "lists"]);
    let keep = [
        "monogram",
        "--picture",
        "front.png",
        "--outline",
        &outline,
        "--keep",
    ];
    let keep = [
        &keep[..],
        &["Klara Bovenden", "--source", "Invented Signs, p. 3"],
    ]
    .concat();
    assert!(dorso(dir, &keep).contains("number 1"));
    let look = [
        "monogram",
        "--picture",
        "near.png",
        "--json",
        "--outline",
        "90,100,420,260",
    ];
    let look =
        || -> Value { serde_json::from_str(&dorso(dir, &[&look[..], &with].concat())).unwrap() };
    let found = look();
    assert_eq!(found["alike"][0]["artist"], "Klara Bovenden");
    assert!(
        found["alike"][0]["same_design"].as_f64().unwrap() > 0.5,
        "{found}"
    );
    assert!(dorso(dir, &["monogram", "--kept"]).contains("Invented Signs, p. 3"));
    dorso(dir, &["monogram", "--drop", "1"]);
    assert_eq!(look()["alike"], Value::Null);
}

#[test]
fn a_photograph_is_read_from_the_command_line_and_chances_sum_to_one() {
    let dir = tempfile::tempdir().unwrap();
    let (photo, outline) = made();
    photo.save(dir.path().join("front.png")).unwrap();
    lists(dir.path());
    let run = |outline: &str| {
        let mut c = assert_cmd::Command::cargo_bin("dorso").unwrap();
        c.current_dir(dir.path()).args([
            "monogram",
            "--picture",
            "front.png",
            "--json",
            "--gazetteer",
            "lists",
            "--outline",
            outline,
        ]);
        c.output().unwrap()
    };
    let Rect { x, y, w, h } = outline;
    let out = run(&format!("{x},{y},{w},{h}"));
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let told: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(told["letters"], "BK");
    assert_eq!(told["proposals"][0]["name"], "Klara Bovenden");
    let artists = told["proposals"].as_array().unwrap().iter();
    let listed: f64 = artists.map(|p| p["probability"].as_f64().unwrap()).sum();
    let all = listed + told["unlisted"].as_f64().unwrap() + told["seen"]["other"].as_f64().unwrap();
    assert!((all - 1.0).abs() < 0.01, "{told}");

    let outside = run("600,400,200,200");
    assert_eq!(outside.status.code(), Some(2));
    let why = String::from_utf8_lossy(&outside.stderr).into_owned();
    assert!(why.contains("700 by 500 px"), "{why}");
}
