//! Cleaned pictures of crops whose lettering is known, and the command that writes them.

use dorso::enhance::{contrast, denoise, letters, light, resample, skew, threshold, variants};
use image::{GrayImage, Luma, Rgb, RgbImage};

/// Bars like lettering, 3 px wide and 20 high, in rows.
fn lettering(w: u32, h: u32, ink: [f64; 3], ground: impl Fn(u32, u32) -> [f64; 3]) -> RgbImage {
    RgbImage::from_fn(w, h, |x, y| {
        let on = y % 50 >= 15 && y % 50 < 35 && x % 14 < 3 && x > 40 && x + 40 < w;
        let g = ground(x, y);
        Rgb(std::array::from_fn(|c| {
            (if on { g[c] * ink[c] } else { g[c] }) as u8
        }))
    })
}

/// Mean grey on and off the strokes.
fn on_and_off(v: &dorso::enhance::Variant) -> (f64, f64) {
    let (mut on, mut off) = ((0.0, 0.0), (0.0, 0.0));
    for (x, y, p) in v.picture.enumerate_pixels() {
        let (x, y) = (
            (f64::from(x) / v.scale) as u32,
            (f64::from(y) / v.scale) as u32,
        );
        if y % 50 >= 17 && y % 50 < 33 && x > 60 && x < 340 {
            let sum = if x % 14 == 1 {
                &mut on
            } else if x % 14 > 5 && x % 14 < 11 {
                &mut off
            } else {
                continue;
            };
            *sum = (sum.0 + f64::from(p.0[0]), sum.1 + 1.0);
        }
    }
    (on.0 / on.1, off.0 / off.1)
}

#[test]
fn lettering_in_deep_shadow_is_as_dark_and_its_paper_as_light_as_elsewhere() {
    let crop = lettering(400, 300, [0.4; 3], |x, _| {
        let light = 1.0 - 0.75 * f64::from(x) / 400.0;
        [230.0 * light, 220.0 * light, 190.0 * light]
    });
    let flat = &variants(&crop)[0];
    let (on, off) = on_and_off(flat);
    assert!(off - on > 120.0, "ink {on:.0}, paper {off:.0}");
    let paper = |from: u32, to: u32| {
        let all: Vec<f64> = flat
            .picture
            .enumerate_pixels()
            .map(|(x, y, p)| {
                (
                    (f64::from(x) / flat.scale) as u32,
                    (f64::from(y) / flat.scale) as u32,
                    p,
                )
            })
            .filter(|(x, y, _)| y % 50 < 10 && (from..to).contains(x))
            .map(|(_, _, p)| f64::from(p.0[0]))
            .collect();
        all.iter().sum::<f64>() / all.len() as f64
    };
    let (lit, shaded) = (paper(60, 120), paper(300, 340));
    assert!(
        (lit - shaded).abs() < 12.0,
        "lit {lit:.0}, shaded {shaded:.0}"
    );
}

#[test]
fn chalk_on_a_dark_board_becomes_dark_on_light() {
    let crop = lettering(400, 300, [3.5; 3], |_, _| [60.0, 50.0, 40.0]);
    for v in variants(&crop) {
        let (on, off) = on_and_off(&v);
        assert!(on + 60.0 < off, "{}: ink {on:.0}, ground {off:.0}", v.name);
    }
}

#[test]
fn a_brown_stain_fades_where_blue_ink_stays() {
    // The stain takes away blue light, the ink red.
    let crop = lettering(400, 300, [0.35, 0.6, 0.9], |x, y| {
        let stain = (x / 9 + y / 7) % 3 == 0;
        if stain {
            [225.0, 190.0, 110.0]
        } else {
            [230.0, 222.0, 200.0]
        }
    });
    let flat = &variants(&crop)[0];
    let (on, off) = on_and_off(flat);
    let spread = |picture: &GrayImage, scale: f64| {
        let all: Vec<f64> = picture
            .enumerate_pixels()
            .filter(|(_, y, _)| ((f64::from(*y) / scale) as u32) % 50 < 10)
            .map(|(_, _, p)| f64::from(p.0[0]))
            .collect();
        let m = all.iter().sum::<f64>() / all.len() as f64;
        (all.iter().map(|v| (v - m).powi(2)).sum::<f64>() / all.len() as f64).sqrt()
    };
    let cleaned = (off - on) / spread(&flat.picture, flat.scale);
    let grey = variants(&crop).pop().unwrap();
    let (a, b) = on_and_off(&grey);
    let before = (b - a) / spread(&grey.picture, grey.scale);
    assert!(
        cleaned > 3.0 * before,
        "ink over stain: {before:.1} before, {cleaned:.1} after"
    );
}

#[test]
fn small_lettering_is_made_large_enough_to_read() {
    let crop = lettering(400, 300, [0.2; 3], |_, _| [220.0; 3]);
    let v = &variants(&crop)[0];
    // Bars 20 px high; wanted are about 34.
    assert!((1.5..=2.0).contains(&v.scale), "scale {}", v.scale);
}

#[test]
fn flattening_an_even_picture_changes_nothing_but_its_level() {
    let grey = GrayImage::from_pixel(90, 70, Luma([140]));
    let flat = light::flatten(&grey, &light::ground(&grey, 12, 0));
    assert!(flat.pixels().all(|p| p.0[0] == light::PAPER));
    assert_eq!(skew(&flat).sure, 0.0);
}

#[test]
fn enhance_writes_its_pictures_and_never_over_what_is_not_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let photo = folder.path().join("back <1>.png");
    lettering(400, 300, [0.3; 3], |_, _| [220.0, 210.0, 180.0])
        .save(&photo)
        .unwrap();
    let out = folder.path().join("out");
    let run = |again: bool| {
        let mut c = assert_cmd::Command::cargo_bin("dorso").unwrap();
        c.arg("enhance").arg(&photo).arg("--out").arg(&out);
        if again {
            c.arg("--again");
        }
        c.output().unwrap()
    };
    let first = run(false);
    assert!(first.status.success() && first.stderr.is_empty());
    let text = String::from_utf8(first.stdout).unwrap();
    for line in text.lines() {
        let (path, done) = line.split_once(": ").unwrap();
        assert!(
            std::path::Path::new(path).is_file() && !done.is_empty(),
            "{line}"
        );
    }
    assert!(text.lines().count() >= 5 && text.contains("whole-flat.png"));
    let page = std::fs::read_to_string(out.join("index.html")).unwrap();
    assert!(page.contains("back &lt;1&gt;.png") && !page.contains("<1>"));

    let second = run(false);
    assert_eq!(second.status.code(), Some(1));
    assert!(
        String::from_utf8(second.stderr)
            .unwrap()
            .contains("--again")
    );
    assert!(run(true).status.success());

    // A file that a person changed is no longer the command's own.
    std::fs::write(out.join("whole-flat.png"), b"retouched").unwrap();
    let third = run(true);
    assert_eq!(third.status.code(), Some(1));
    assert!(
        String::from_utf8(third.stderr)
            .unwrap()
            .contains("whole-flat.png")
    );
    assert_eq!(
        std::fs::read(out.join("whole-flat.png")).unwrap(),
        b"retouched"
    );
}

/// Prints what each step costs at 12 megapixels: `cargo test --release --test enhance -- --ignored
/// --nocapture speed`.
#[test]
#[ignore = "measures, asserts nothing"]
fn speed_at_twelve_megapixels() {
    let crop = lettering(4000, 3000, [0.3; 3], |x, y| {
        let v = f64::from((x * 7 + y * 13) % 11) + 200.0 - f64::from(x) / 40.0;
        [v, v * 0.95, v * 0.8]
    });
    let time = |name: &str, f: &dyn Fn()| {
        let start = std::time::Instant::now();
        f();
        println!("{name}: {:.0} ms", start.elapsed().as_secs_f64() * 1e3);
    };
    let grey = image::imageops::grayscale(&crop);
    time("ground and flatten", &|| {
        drop(light::flatten(&grey, &light::ground(&grey, 40, 0)))
    });
    let inks = dorso::enhance::ink::measure(&crop, 0);
    time("ink measure", &|| {
        drop(dorso::enhance::ink::measure(&crop, 0))
    });
    time("ink picture", &|| drop(inks.picture(&crop, &inks.axes[0])));
    time("otsu", &|| {
        threshold::otsu(&grey);
    });
    time("sauvola 51", &|| drop(threshold::sauvola(&grey, 51, 0.2)));
    time("niblack 51", &|| drop(threshold::niblack(&grey, 51, -0.2)));
    time("wolf 51", &|| drop(threshold::wolf(&grey, 51, 0.5)));
    time("clahe 8x8", &|| drop(contrast::clahe(&grey, 8, 8, 3.0)));
    time("noise", &|| {
        denoise::noise(&grey);
    });
    time("bilateral 5x5", &|| {
        drop(denoise::bilateral(&grey, 2, 1.4, 20.0))
    });
    time("pieces", &|| {
        drop(letters::pieces(&threshold::at_level(&grey, 100)))
    });
    time("skew", &|| {
        skew(&grey);
    });
    time("turned", &|| drop(resample::turned(&grey, 3.0, 255)));
    time("steps", &|| drop(dorso::enhance::steps(&crop)));
    let small = image::imageops::crop_imm(&crop, 0, 0, 1500, 900).to_image();
    let little = image::imageops::crop_imm(&grey, 0, 0, 1500, 900).to_image();
    time("lanczos x2 of 1500x900", &|| {
        drop(resample::lanczos(&little, 2.0))
    });
    time("variants of 1500x900", &|| drop(variants(&small)));
}
