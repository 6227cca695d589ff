//! Draws the marks found on a photograph, for looking at.
//!
//! `cargo run --release --example show_marks -- PHOTO OUT.png [candidates]`
//!
//! Line style tells the kind (solid: paper; dashed: writing on the ground; dotted: stamp or
//! stencil), thin lines are marks sorted down. A bar on the first corner's side shows the top.

use dorso::geometry::{Point, Quad};
use dorso::marks::{self, MarkKind};
use image::{Rgb, RgbImage, imageops};
use std::time::Instant;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [photo, out, rest @ ..] = args.as_slice() else {
        eprintln!("show_marks: a photograph and an output file are wanted; name both.");
        std::process::exit(2);
    };
    let picture = match image::open(photo) {
        Ok(p) => p.to_rgb8(),
        Err(e) => {
            eprintln!("{photo}: {e}; name a JPEG or PNG.");
            std::process::exit(1);
        }
    };
    let start = Instant::now();
    let found = marks::find(&picture);
    let took = start.elapsed().as_secs_f64();
    let shrink = f64::from(picture.width().max(picture.height())) / 1400.0;
    let (w, h) = (
        (f64::from(picture.width()) / shrink) as u32,
        (f64::from(picture.height()) / shrink) as u32,
    );
    let mut canvas = imageops::thumbnail(&picture, w, h);
    if rest.iter().any(|r| r == "candidates") {
        for c in marks::candidates(&picture) {
            let colour = if c.chance >= marks::LIKELY {
                Rgb([255, 0, 0])
            } else if c.paper {
                Rgb([0, 120, 255])
            } else {
                Rgb([255, 160, 0])
            };
            let dash = if c.paper { 0 } else { 6 };
            draw(&mut canvas, &c.outline, shrink, colour, 1, dash);
        }
    } else {
        for m in &found {
            let (colour, dash) = match m.kind {
                MarkKind::PrintedLabel => (Rgb([255, 0, 0]), 0),
                MarkKind::WrittenLabel => (Rgb([255, 0, 200]), 0),
                MarkKind::Inscription => (Rgb([0, 220, 0]), 14),
                MarkKind::Stamp => (Rgb([0, 80, 255]), 5),
                MarkKind::Stencil => (Rgb([0, 220, 255]), 5),
                _ => (Rgb([255, 255, 0]), 9),
            };
            let likely = m.lettering >= marks::LIKELY;
            draw(
                &mut canvas,
                &m.outline,
                shrink,
                colour,
                if likely { 2 } else { 0 },
                dash,
            );
        }
    }
    for m in &found {
        let b = m.outline.bounds();
        println!(
            "{} {:.2} at {},{} {}x{} slope {:.1}",
            m.kind.as_str(),
            m.lettering,
            b.x,
            b.y,
            b.w,
            b.h,
            m.outline.slope_degrees()
        );
    }
    eprintln!("{} marks in {took:.2} s", found.len());
    if let Err(e) = canvas.save(out) {
        eprintln!("{out}: {e}; name a file that can be written.");
        std::process::exit(1);
    }
}

fn draw(canvas: &mut RgbImage, quad: &Quad, shrink: f64, colour: Rgb<u8>, thick: i32, dash: i32) {
    let p = quad.0.map(|p| Point::new(p.x / shrink, p.y / shrink));
    for i in 0..4 {
        let (a, b) = (p[i], p[(i + 1) % 4]);
        let n = a.distance(b).ceil().max(1.0) as i32;
        let thick = if i == 0 { thick + 1 } else { thick };
        for k in 0..=n {
            if dash > 0 && (k / dash) % 2 == 1 {
                continue;
            }
            let t = f64::from(k) / f64::from(n);
            let (x, y) = (a.x + t * (b.x - a.x), a.y + t * (b.y - a.y));
            for dx in -thick / 2..=thick / 2 {
                for dy in -thick / 2..=thick / 2 {
                    let (px, py) = (x as i32 + dx, y as i32 + dy);
                    if px >= 0
                        && py >= 0
                        && (px as u32) < canvas.width()
                        && (py as u32) < canvas.height()
                    {
                        canvas.put_pixel(px as u32, py as u32, colour);
                    }
                }
            }
        }
    }
}
