//! Borders, rules, flourishes and small cuts.

use crate::dice::Dice;
use crate::drawing::Path;
use crate::piece::{Piece, Shape};
use std::f32::consts::{PI, TAU};

/// A rule that swells to its middle, with a lozenge there.
pub fn swelled_rule(cx: f32, y: f32, long: f32, thick: f32) -> Path {
    let n = 24;
    let at = |i: i32, side: f32| {
        let t = i as f32 / n as f32 * 2.0 - 1.0;
        [
            cx + t * long / 2.0,
            y + side * thick * 0.28 * (1.0 - t * t).powi(2) + side * 0.06,
        ]
    };
    let mut points: Vec<[f32; 2]> = (0..=n).map(|i| at(i, -1.0)).collect();
    points.extend((0..=n).rev().map(|i| at(i, 1.0)));
    let mut path = Path::polygon(points);
    path.0.push(vec![
        [cx - thick, y],
        [cx, y - thick * 0.7],
        [cx + thick, y],
        [cx, y + thick * 0.7],
    ]);
    path
}

/// A penman's flourish: loops that swell and thin.
pub fn flourish(cx: f32, y: f32, long: f32, tall: f32) -> Path {
    let n = 220;
    let (mut points, mut half) = (Vec::new(), Vec::new());
    for i in 0..=n {
        let t = i as f32 / n as f32;
        let a = t * TAU * 3.0;
        let swell = (PI * t).sin();
        points.push([
            cx + long * (t - 0.5) + long * 0.045 * (2.0 * a).sin() * swell,
            y + tall * a.cos() * swell,
        ]);
        half.push(0.07 + 0.22 * (0.5 + 0.5 * (a + 1.0).sin()) * swell);
    }
    Path::stroke(&points, &half)
}

/// A painter's palette with brushes through it.
pub fn palette(cx: f32, cy: f32, r: f32) -> Path {
    let mut path = Path::ring(cx, cy, r * 1.25, r * 0.8, r * 0.09);
    for (dx, dy, s) in [
        (-0.6, -0.25, 0.13),
        (-0.2, -0.48, 0.13),
        (0.3, -0.45, 0.12),
        (0.7, -0.2, 0.11),
    ] {
        path.0
            .extend(Path::ellipse(cx + dx * r, cy + dy * r, s * r, s * r).0);
    }
    path.0
        .extend(Path::ring(cx + 0.45 * r, cy + 0.28 * r, 0.2 * r, 0.15 * r, 0.06 * r).0);
    for k in 0..3 {
        let a = -0.5 - 0.22 * k as f32;
        let from = [cx + 0.45 * r, cy + 0.28 * r];
        let to = [
            from[0] + 1.5 * r * a.cos(),
            from[1] + 1.5 * r * a.sin() * 1.1,
        ];
        path.0
            .extend(Path::stroke(&[from, to], &[0.05 * r, 0.02 * r]).0);
        let tip = [to[0] + 0.25 * r * a.cos(), to[1] + 0.25 * r * a.sin() * 1.1];
        path.0
            .extend(Path::stroke(&[to, tip], &[0.07 * r, 0.01 * r]).0);
    }
    path
}

/// Draws a border; says how far in it reaches, mm.
pub fn border(p: &mut Piece, shape: Shape, kind: u32, dice: &mut Dice) -> f32 {
    let (w, h) = (p.w, p.h);
    let g = (w.min(h) * 0.03).clamp(1.2, 2.6);
    match shape {
        Shape::Oval => {
            p.art(
                Path::ring(w / 2.0, h / 2.0, w / 2.0 - g, h / 2.0 - g, 0.6),
                0,
            );
            p.art(
                Path::ring(w / 2.0, h / 2.0, w / 2.0 - g - 1.4, h / 2.0 - g - 1.4, 0.22),
                0,
            );
            return g + 2.0;
        }
        Shape::Octagon => {
            for (inset, t) in [(g, 0.6), (g + 1.3, 0.2)] {
                let cut = w.min(h) * 0.16;
                let ring = |i: f32| -> Vec<[f32; 2]> {
                    let c = cut + i * 0.41;
                    vec![
                        [c + i * 0.59, i],
                        [w - c - i * 0.59, i],
                        [w - i, c + i * 0.59],
                        [w - i, h - c - i * 0.59],
                        [w - c - i * 0.59, h - i],
                        [c + i * 0.59, h - i],
                        [i, h - c - i * 0.59],
                        [i, c + i * 0.59],
                    ]
                };
                let mut path = Path::polygon(ring(inset));
                let mut inner = ring(inset + t);
                inner.reverse();
                path.0.push(inner);
                p.art(path, 0);
            }
            return g + 2.0;
        }
        _ => {}
    }
    match kind {
        0 => {
            p.art(Path::rule_box(g, g, w - 2.0 * g, h - 2.0 * g, 0.35), 0);
            g + 0.6
        }
        1 => {
            p.art(Path::rule_box(g, g, w - 2.0 * g, h - 2.0 * g, 0.8), 0);
            let i = g + 1.5;
            p.art(Path::rule_box(i, i, w - 2.0 * i, h - 2.0 * i, 0.2), 0);
            g + 2.0
        }
        2 => {
            let i = g + 1.2;
            p.art(Path::rule_box(i, i, w - 2.0 * i, h - 2.0 * i, 0.3), 0);
            for (x, y) in [(i, i), (w - i, i), (w - i, h - i), (i, h - i)] {
                p.art(Path::ring(x, y, 1.9, 1.9, 0.35), 0);
                p.art(Path::ellipse(x, y, 0.8, 0.8), 0);
            }
            i + 2.4
        }
        3 => {
            units(p, g + 0.6, 1.5, |x, y, path| {
                path.0.extend(Path::ellipse(x, y, 0.42, 0.42).0)
            });
            let i = g + 1.9;
            p.art(Path::rule_box(i, i, w - 2.0 * i, h - 2.0 * i, 0.22), 0);
            g + 2.4
        }
        4 => {
            units(p, g + 1.0, 2.2, |x, y, path| {
                path.0
                    .push(vec![[x - 1.0, y], [x, y - 0.9], [x + 1.0, y], [x, y + 0.9]]);
                path.0.push(vec![
                    [x - 0.35, y],
                    [x, y + 0.3],
                    [x + 0.35, y],
                    [x, y - 0.3],
                ]);
            });
            g + 2.4
        }
        5 => {
            // A waving line between two rules, as printers built it of type ornaments.
            let amp = dice.between(0.5, 0.9);
            units(p, g + 1.4, 2.6, move |x, y, path| {
                let pts: Vec<[f32; 2]> = (0..=10)
                    .map(|i| {
                        let a = i as f32 / 10.0 * TAU;
                        [x + 1.0 * a.cos(), y + amp * a.sin()]
                    })
                    .collect();
                path.0.extend(Path::stroke(&pts, &[0.14; 11]).0);
                path.0.extend(Path::ellipse(x, y, 0.25, 0.25).0);
            });
            for i in [g, g + 2.8] {
                p.art(Path::rule_box(i, i, w - 2.0 * i, h - 2.0 * i, 0.18), 0);
            }
            g + 3.2
        }
        _ => {
            for (k, t) in [(0.0, 0.18), (0.7, 0.7), (1.9, 0.18)] {
                let i = g + k;
                p.art(Path::rule_box(i, i, w - 2.0 * i, h - 2.0 * i, t), 0);
            }
            let i = g + 2.6;
            for (x, y, a) in [
                (i, i, 0.0),
                (w - i, i, 0.5),
                (w - i, h - i, 1.0),
                (i, h - i, 1.5),
            ] {
                let a0 = a * PI;
                let pts: Vec<[f32; 2]> = (0..=14)
                    .map(|k| {
                        let t = k as f32 / 14.0;
                        let b = a0 + t * PI / 2.0;
                        let r = 4.0 * (1.0 - 0.3 * (t * PI).sin());
                        [x + r * b.cos(), y + r * b.sin()]
                    })
                    .collect();
                p.art(Path::stroke(&pts, &[0.2; 15]), 0);
            }
            g + 3.0
        }
    }
}

/// One ornament after another round the label.
fn units(p: &mut Piece, inset: f32, pitch: f32, one: impl Fn(f32, f32, &mut Path)) {
    let (w, h) = (p.w - 2.0 * inset, p.h - 2.0 * inset);
    let (nx, ny) = ((w / pitch).round().max(1.0), (h / pitch).round().max(1.0));
    let mut path = Path::default();
    for i in 0..=nx as i32 {
        let x = inset + w * i as f32 / nx;
        one(x, inset, &mut path);
        one(x, inset + h, &mut path);
    }
    for j in 1..ny as i32 {
        let y = inset + h * j as f32 / ny;
        one(inset, y, &mut path);
        one(inset + w, y, &mut path);
    }
    p.art(path, 0);
}
