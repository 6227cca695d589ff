//! Draws the lines found on each mark's first cleaned picture, for looking at.
//!
//! `cargo run --release --example show_lines -- FOLDER OUT`; the folder holds photographs with `NAME.json`
//! as the samples do (else the whole photograph is one mark). Writes `OUT/NAME-MARK.png`.

mod truth;

use dorso::geometry::Rect;
use dorso::marks::{self, Mark, MarkKind};
use dorso::{enhance, photograph};
use image::{DynamicImage, Rgb, RgbImage};
use std::path::Path;
use truth::{known, quad};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, out] = args.as_slice() else {
        eprintln!(
            "show_lines: a folder of photographs and a folder to write to are wanted; name both."
        );
        std::process::exit(2);
    };
    std::fs::create_dir_all(out).expect("a folder to write to");
    let mark = |outline| Mark {
        kind: MarkKind::Unknown,
        outline,
        kind_chance: 1.0,
        lettering: 1.0,
        bearing: None,
    };
    for photo in known(folder.as_ref()) {
        for m in photo.truth["marks"].as_array().into_iter().flatten() {
            if let Some(outline) = quad(&m["outline"]) {
                let name = m["mark"].as_str().unwrap_or("?");
                show(
                    &photo.picture,
                    &mark(outline),
                    &Path::new(out).join(format!("{}-{name}.png", photo.name)),
                );
            }
        }
    }
    let loose = photograph::expand(&[folder.into()]).into_iter().flatten();
    for file in loose.filter(|f| !f.with_extension("json").exists()) {
        let Ok(photo) = photograph::open(&file) else {
            continue;
        };
        let all = Rect::new(0, 0, photo.width(), photo.height()).quad();
        let name = file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        show(
            &photo.picture,
            &mark(all),
            &Path::new(out).join(format!("{name}.png")),
        );
    }
}

fn show(photograph: &RgbImage, mark: &Mark, to: &Path) {
    let flat = marks::flatten(photograph, mark);
    let Some(first) = enhance::variants_by(&flat.picture, &enhance::Steps::READ)
        .into_iter()
        .next()
    else {
        return;
    };
    let mut canvas = DynamicImage::ImageLuma8(first.picture.clone()).to_rgb8();
    for (i, line) in marks::lines(&first.picture).iter().enumerate() {
        let colour = [[255, 0, 0], [0, 160, 0], [0, 0, 255], [200, 0, 200]][i % 4];
        let b = line.bounds;
        let mut dot = |x: i32, y: i32| {
            if x >= 0 && y >= 0 && x < canvas.width() as i32 && y < canvas.height() as i32 {
                canvas.put_pixel(x as u32, y as u32, Rgb(colour));
            }
        };
        for x in b.x..b.right() {
            for t in 0..2 {
                dot(x, b.y + t);
                dot(x, b.bottom() - t);
                // The middle of the letters as it is followed
                dot(x, line.middle(f64::from(x)).round() as i32 + t);
            }
        }
        for y in b.y..b.bottom() {
            for t in 0..2 {
                dot(b.x + t, y);
                dot(b.right() - t, y);
            }
        }
    }
    canvas.save(to).expect("room for a picture");
}
