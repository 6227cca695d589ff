//! One line of 600 px on one core: the line model, and Tesseract on the same picture where the
//! program was built with it; and the time until the line model is ready. The least of many
//! rounds, since other work on the machine only ever adds.
//!
//! `cargo bench --bench line_speed`

use dorso::readings::line_model::{HEIGHT, LineModel};
use dorso::readings::recognisers;
use image::{GrayImage, Luma};
use std::time::Instant;

/// Rounds of each.
const ROUNDS: usize = 40;

fn least(mut what: impl FnMut()) -> f64 {
    (0..ROUNDS)
        .map(|_| {
            let begun = Instant::now();
            what();
            begun.elapsed().as_secs_f64() * 1e3
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() {
    let ready = (0..5)
        .map(|_| {
            let begun = Instant::now();
            LineModel::load().expect("the line model");
            begun.elapsed().as_secs_f64() * 1e3
        })
        .fold(f64::INFINITY, f64::min);
    // strokes like those of lettering, so that Tesseract has something to read too
    let picture = GrayImage::from_fn(600, HEIGHT, |x, y| {
        let stroke =
            (8..40).contains(&y) && x % 20 < 12 && (x % 20 < 4 || (y / 8 + x / 20) % 3 == 0);
        Luma([if stroke { 40 } else { 220 }])
    });
    println!("line model ready after {ready:.0} ms");
    for recogniser in recognisers().expect("recognisers").readers {
        let ms = least(|| {
            recogniser.read(&picture).expect("a reading");
        });
        println!("{:<12} {ms:.1} ms for a line of 600 px", recogniser.name());
    }
}
