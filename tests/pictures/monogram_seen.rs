//! Letters of monograms as the program sees them: against onnxruntime, on a picture made from a seed, from the command line.

use ab_glyph::{FontRef, PxScale};
use base64::{Engine, engine::general_purpose::STANDARD};
use dorso::geometry::Rect;
use dorso::monogram::network::{self, Lies, SIDE, Seen};
use image::{GrayImage, Rgb, RgbImage};
use imageproc::drawing;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

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

/// K over B on a strewn ground, dark on light, within a photograph.
fn made() -> (RgbImage, Rect) {
    let mut dice = ChaCha8Rng::seed_from_u64(36);
    let mut photo = RgbImage::from_fn(700, 500, |_, _| {
        let v = dice.random_range(150..190);
        Rgb([v, v - 10, v - 25])
    });
    let font = FontRef::try_from_slice(dejavu::serif::bold()).unwrap();
    for (letter, x) in [("K", 300), ("B", 372)] {
        drawing::draw_text_mut(
            &mut photo,
            Rgb([60, 30, 25]),
            x,
            200,
            PxScale::from(120.0),
            &font,
            letter,
        );
    }
    (photo, Rect::new(296, 210, 170, 100))
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

#[test]
fn a_photograph_is_read_from_the_command_line_and_chances_sum_to_one() {
    let dir = tempfile::tempdir().unwrap();
    let (photo, outline) = made();
    photo.save(dir.path().join("front.png")).unwrap();
    let lists = dir.path().join("lists");
    std::fs::create_dir(&lists).unwrap();
    let header = "entry,name,variants,trade,address,town,from,to,source,note";
    let rows = "bovenden,Klara Bovenden,,painter,,,1851,1911,invented,\n\
        quellmann,Quirin Quellmann,,painter,,,1801,1860,invented,\n";
    std::fs::write(lists.join("artists.csv"), format!("{header}\n{rows}")).unwrap();
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
