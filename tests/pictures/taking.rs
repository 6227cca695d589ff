//! What is said of a photograph as it is taken: on a close-up of the samples, as it is and with a fault planted.

use assert_cmd::Command;
use dorso::photograph;
use dorso::taking::{Want, look};
use image::{Rgb, RgbImage, imageops};
use std::path::Path;

const LABEL: &str = "samples/photographs/ferry-framer.jpg";

fn label() -> RgbImage {
    photograph::open(Path::new(LABEL)).unwrap().picture
}

/// Everything that is asked for, of the photograph and of its marks.
fn wants(picture: &RgbImage) -> Vec<Want> {
    let got = look(picture).unwrap();
    let of_marks = got.marks.iter().flat_map(|m| &m.asked);
    of_marks.chain(&got.asked).map(|a| a.want).collect()
}

#[test]
fn nothing_is_asked_for_of_a_sharp_label_and_its_letters_are_measured() {
    let got = look(&label()).unwrap();
    assert!(!got.lacks(), "{:?}", got.sentences());
    assert!(
        got.words().ends_with("nothing is missing"),
        "{}",
        got.words()
    );
    // By its truth, samples/photographs/ferry-framer.json
    let truth: serde_json::Value =
        serde_json::from_slice(&std::fs::read(LABEL.replace(".jpg", ".json")).unwrap()).unwrap();
    let heights = truth["marks"][0]["lines"].as_array().unwrap().iter();
    let smallest = heights
        .filter_map(|l| l["x_height"].as_f64())
        .fold(f64::MAX, f64::min);
    let told = got.smallest().unwrap();
    assert!(
        (told / smallest - 1.0).abs() < 0.15,
        "{told} px for {smallest}"
    );
}

#[test]
fn a_blurred_photograph_is_asked_for_once_more() {
    let soft = imageops::fast_blur(&label(), 9.0);
    assert!(wants(&soft).contains(&Want::Steadier));
}

#[test]
fn a_dark_photograph_wants_more_light_and_nothing_else() {
    // Three parts in a hundred of the light, by the curve of sRGB about a fifth of each value
    let mut dark = label();
    for (x, y, p) in dark.enumerate_pixels_mut() {
        let grain = (x.wrapping_mul(73_856_093) ^ y.wrapping_mul(19_349_663)) >> 13 & 7;
        p.0 = p.0.map(|v| (f64::from(v) * 0.19) as u8 + grain as u8);
    }
    let wants = wants(&dark);
    assert!(
        !wants.is_empty() && wants.iter().all(|w| *w == Want::Lighter),
        "{wants:?}"
    );
}

#[test]
fn a_mirrored_lamp_wants_light_from_another_side() {
    let mut glaring = label();
    let (w, h) = glaring.dimensions();
    for (x, y, p) in glaring.enumerate_pixels_mut() {
        let (dx, dy) = (
            f64::from(x) - f64::from(w) * 0.5,
            f64::from(y) - f64::from(h) * 0.5,
        );
        if dx.hypot(dy) < f64::from(h) * 0.2 {
            *p = Rgb([255, 255, 255]);
        }
    }
    assert!(wants(&glaring).contains(&Want::OtherLight));
}

#[test]
fn letters_too_small_want_the_camera_nearer_by_what_is_missing() {
    let label = label();
    let before = look(&label).unwrap().smallest().unwrap();
    let by = before / 4.5;
    let small = |n: u32| (f64::from(n) / by) as u32;
    let far = imageops::resize(
        &label,
        small(label.width()),
        small(label.height()),
        imageops::FilterType::Triangle,
    );
    let nearer = wants(&far).into_iter().find_map(|w| match w {
        Want::Nearer(times) => Some(times),
        _ => None,
    });
    let times = nearer.expect("asked to go nearer");
    assert!((1.7..3.2).contains(&times), "{times}");
}

#[test]
fn lettering_that_runs_off_an_edge_is_asked_for_there() {
    let label = label();
    let cut = imageops::crop_imm(&label, 0, 0, label.width() / 2, label.height()).to_image();
    let wants = wants(&cut);
    assert!(
        wants.contains(&Want::Whole(dorso::taking::Edge::Right)),
        "{wants:?}"
    );
}

#[test]
fn nothing_can_be_asked_of_a_picture_without_size_or_content() {
    for picture in [
        RgbImage::new(0, 0),
        RgbImage::new(1, 1),
        RgbImage::new(40, 3),
    ] {
        assert!(look(&picture).unwrap().marks.is_empty());
    }
}

#[test]
fn the_command_tells_each_photograph_and_goes_on_past_one_that_cant_be_opened() {
    let mut dorso = Command::cargo_bin("dorso").unwrap();
    let told = dorso
        .args(["advise", "no-such-file.jpg", LABEL])
        .assert()
        .code(1);
    let out = String::from_utf8(told.get_output().stdout.clone()).unwrap();
    let err = String::from_utf8(told.get_output().stderr.clone()).unwrap();
    assert!(
        out.starts_with(LABEL) && out.contains("smallest letters"),
        "{out}"
    );
    assert!(err.contains("no-such-file.jpg"), "{err}");
    let mut dorso = Command::cargo_bin("dorso").unwrap();
    let told = dorso.args(["advise", "--json", LABEL]).assert().success();
    let json: serde_json::Value = serde_json::from_slice(&told.get_output().stdout).unwrap();
    assert_eq!(json["format"], "dorso.advice/1");
    assert!(json["photographs"][0]["smallest_letters_px"].as_f64() > Some(10.0));
}
