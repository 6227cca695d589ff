//! From the lit back to a JPEG: a hand-held camera, its lens, its sensor, its file.

use crate::dice::{Dice, Rgb, noise};
use crate::drawing::Plane;
use rayon::prelude::*;

/// 3 x 3, row by row.
pub type Map = [f64; 9];

pub fn apply(m: &Map, p: [f64; 2]) -> [f64; 2] {
    let w = m[6] * p[0] + m[7] * p[1] + m[8];
    [
        (m[0] * p[0] + m[1] * p[1] + m[2]) / w,
        (m[3] * p[0] + m[4] * p[1] + m[5]) / w,
    ]
}

pub fn inverse(m: &Map) -> Map {
    let [a, b, c, d, e, f, g, h, i] = *m;
    let det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
    [
        (e * i - f * h) / det,
        (c * h - b * i) / det,
        (b * f - c * e) / det,
        (f * g - d * i) / det,
        (a * i - c * g) / det,
        (c * d - a * f) / det,
        (d * h - e * g) / det,
        (b * g - a * h) / det,
        (a * e - b * d) / det,
    ]
}

/// How a photograph is taken. Angles in degrees, lengths in mm.
#[derive(Clone)]
pub struct Shot {
    /// Size of the picture as a person sees it, px.
    pub w: usize,
    pub h: usize,
    /// What is at the middle, and how much of the back is seen across the width.
    pub aim: [f32; 2],
    pub across: f32,
    pub roll: f32,
    pub pitch: f32,
    pub yaw: f32,
    /// Blur of the lens at best, px; and at the far edge out of focus.
    pub blur: f32,
    pub defocus: f32,
    /// Motion of the hand: px and degrees.
    pub shake: f32,
    pub shake_angle: f32,
    pub exposure: f32,
    pub warmth: f32,
    pub grain: f32,
    pub vignette: f32,
    pub quality: u8,
    /// EXIF orientation to store the picture by.
    pub orientation: u8,
    pub seed: u64,
}

impl Shot {
    pub fn new(w: usize, h: usize, aim: [f32; 2], across: f32) -> Self {
        Shot {
            w,
            h,
            aim,
            across,
            roll: 0.0,
            pitch: 0.0,
            yaw: 0.0,
            blur: 0.7,
            defocus: 0.0,
            shake: 0.0,
            shake_angle: 0.0,
            exposure: 1.0,
            warmth: 0.0,
            grain: 1.0,
            vignette: 0.25,
            quality: 86,
            orientation: 1,
            seed: 1,
        }
    }

    /// Back (mm) to photograph (px): a pinhole camera 1.3 picture widths away, turned about its aim.
    pub fn map(&self) -> Map {
        let (r, p, y) = (
            f64::from(self.roll).to_radians(),
            f64::from(self.pitch).to_radians(),
            f64::from(self.yaw).to_radians(),
        );
        let (sr, cr) = r.sin_cos();
        let (sp, cp) = p.sin_cos();
        let (sy, cy) = y.sin_cos();
        // Yaw about the upright axis, then pitch about the level one, then roll in the picture.
        let x_axis = [cy, sp * sy, -cp * sy];
        let y_axis = [0.0, cp, sp];
        let turn = |v: [f64; 3]| [cr * v[0] - sr * v[1], sr * v[0] + cr * v[1], v[2]];
        let (a, b) = (turn(x_axis), turn(y_axis));
        let away = 1.3 * f64::from(self.across);
        let f = 1.3 * self.w as f64;
        let (cx, cy) = (self.w as f64 / 2.0, self.h as f64 / 2.0);
        let rows = [
            [f * a[0] + cx * a[2], f * b[0] + cx * b[2], cx * away],
            [f * a[1] + cy * a[2], f * b[1] + cy * b[2], cy * away],
            [a[2], b[2], away],
        ];
        let (ax, ay) = (f64::from(self.aim[0]), f64::from(self.aim[1]));
        let mut m = [0.0; 9];
        for (i, row) in rows.iter().enumerate() {
            m[i * 3] = row[0];
            m[i * 3 + 1] = row[1];
            m[i * 3 + 2] = row[2] - row[0] * ax - row[1] * ay;
        }
        m
    }

    /// The box of the back that the photograph sees.
    pub fn window(&self) -> [f32; 4] {
        let back = inverse(&self.map());
        let (w, h) = (self.w as f64, self.h as f64);
        let mut b = [f32::MAX, f32::MAX, f32::MIN, f32::MIN];
        for p in [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]] {
            let q = apply(&back, p);
            b = [
                b[0].min(q[0] as f32),
                b[1].min(q[1] as f32),
                b[2].max(q[0] as f32),
                b[3].max(q[1] as f32),
            ];
        }
        [b[0] - 3.0, b[1] - 3.0, b[2] + 3.0, b[3] + 3.0]
    }

    pub fn px_per_mm(&self) -> f32 {
        self.w as f32 / self.across
    }

    /// Photographs a lit window of the back.
    pub fn take(
        &self,
        lit: &[Rgb],
        from: (usize, usize),
        origin: [f32; 2],
        scale: f32,
    ) -> image::RgbImage {
        let (w, h) = (self.w, self.h);
        let back = inverse(&self.map());
        let (sw, sh) = from;
        let mut seen: [Plane; 3] = std::array::from_fn(|_| Plane::new(w, h, 0.0));
        let rows: Vec<Vec<Rgb>> = (0..h)
            .into_par_iter()
            .map(|y| {
                (0..w)
                    .map(|x| {
                        let m = apply(&back, [x as f64 + 0.5, y as f64 + 0.5]);
                        let u =
                            ((m[0] as f32 - origin[0]) * scale - 0.5).clamp(0.0, (sw - 2) as f32);
                        let v =
                            ((m[1] as f32 - origin[1]) * scale - 0.5).clamp(0.0, (sh - 2) as f32);
                        let (ix, iy) = (u as usize, v as usize);
                        let (fu, fv) = (u - ix as f32, v - iy as f32);
                        let i = iy * sw + ix;
                        std::array::from_fn(|c| {
                            (lit[i][c] * (1.0 - fu) + lit[i + 1][c] * fu) * (1.0 - fv)
                                + (lit[i + sw][c] * (1.0 - fu) + lit[i + sw + 1][c] * fu) * fv
                        })
                    })
                    .collect()
            })
            .collect();
        for (y, row) in rows.iter().enumerate() {
            for (x, p) in row.iter().enumerate() {
                for c in 0..3 {
                    seen[c].px[y * w + x] = p[c];
                }
            }
        }
        drop(rows);
        for plane in &mut seen {
            self.through_lens(plane);
        }
        self.develop(seen)
    }

    fn through_lens(&self, plane: &mut Plane) {
        let (w, h) = (plane.w, plane.h);
        if self.shake > 0.3 {
            let (s, c) = self.shake_angle.to_radians().sin_cos();
            let from = plane.clone();
            plane.px.par_chunks_mut(w).enumerate().for_each(|(y, row)| {
                for (x, cell) in row.iter_mut().enumerate() {
                    let mut sum = 0.0;
                    for k in -3..=3 {
                        let t = k as f32 / 6.0 * self.shake;
                        sum += from.sample(x as f32 + c * t, y as f32 + s * t);
                    }
                    *cell = sum / 7.0;
                }
            });
        }
        let sharp = plane.blur(self.blur);
        if self.defocus > 0.1 {
            let soft = plane.blur(self.blur + self.defocus);
            plane.px.par_chunks_mut(w).enumerate().for_each(|(y, row)| {
                for (x, cell) in row.iter_mut().enumerate() {
                    // Away from the level in focus, the middle of the tilted plane.
                    let (dx, dy) = (x as f32 / w as f32 - 0.5, y as f32 / h as f32 - 0.5);
                    let tilt =
                        dx * self.yaw.to_radians().sin() + dy * self.pitch.to_radians().sin();
                    let field = (dx * dx + dy * dy) * 0.5;
                    let k = (tilt.abs() * 7.0 + field).min(1.0);
                    let i = y * w + x;
                    *cell = sharp.px[i] * (1.0 - k) + soft.px[i] * k;
                }
            });
        } else {
            *plane = sharp;
        }
    }

    fn develop(&self, mut seen: [Plane; 3]) -> image::RgbImage {
        let (w, h) = (self.w, self.h);
        let warm = [
            1.0 + 0.22 * self.warmth,
            1.0 + 0.02 * self.warmth,
            1.0 - 0.30 * self.warmth,
        ];
        let mut dice = Dice::new(self.seed);
        let seeds: Vec<u32> = (0..8).map(|_| dice.seed()).collect();
        for (c, plane) in seen.iter_mut().enumerate() {
            plane.px.par_chunks_mut(w).enumerate().for_each(|(y, row)| {
                for (x, cell) in row.iter_mut().enumerate() {
                    let (dx, dy) = (
                        x as f32 / w as f32 - 0.5,
                        (y as f32 - h as f32 / 2.0) / w as f32,
                    );
                    let fall = 1.0 - self.vignette * 1.6 * (dx * dx + dy * dy);
                    let v = (*cell * self.exposure * warm[c] * fall).max(0.0) + 0.0025;
                    let n = |k: usize| crate::dice::speck(x as i32, y as i32, seeds[k]) - 0.5;
                    // Shot noise grows with the root of the light; some of it stays after smoothing.
                    let blotch = noise(x as f32 * 0.45, y as f32 * 0.45, seeds[5 + c % 3]) - 0.5;
                    let noisy = v + self.grain
                        * (v.sqrt() * (0.020 * (n(0) + n(1)) + 0.016 * (n(2 + c)))
                            + 0.014 * v.sqrt() * blotch);
                    *cell = noisy.max(0.0);
                }
            });
        }
        // Tone: a shoulder for the lights, then the sRGB curve.
        let tone = |v: f32| {
            let v = v * 1.18;
            let v = if v > 0.7 {
                0.7 + 0.3 * (1.0 - (-(v - 0.7) / 0.3).exp())
            } else {
                v
            };
            let s = if v <= 0.003_130_8 {
                v * 12.92
            } else {
                1.055 * v.powf(1.0 / 2.4) - 0.055
            };
            let curved = s + 0.05 * (std::f32::consts::TAU * (s - 0.5)).sin() * 0.5;
            curved.clamp(0.0, 1.0)
        };
        for plane in &mut seen {
            plane
                .px
                .par_chunks_mut(w)
                .for_each(|row| row.iter_mut().for_each(|v| *v = tone(*v)));
            // The camera sharpens, as phones do.
            let soft = plane.blur(1.1);
            plane
                .px
                .par_iter_mut()
                .zip(&soft.px)
                .for_each(|(v, s)| *v += 0.45 * (*v - s));
        }
        let mut out = image::RgbImage::new(w as u32, h as u32);
        for (i, p) in out.pixels_mut().enumerate() {
            p.0 = std::array::from_fn(|c| (seen[c].px[i] * 255.0 + 0.5).clamp(0.0, 255.0) as u8);
        }
        out
    }
}

/// JPEG bytes of a picture, stored by an EXIF orientation so that a reader turns it upright
/// (Exif 2.3, tag 0x0112: 1 as it is, 3 half, 6 to be turned clockwise, 8 anticlockwise).
pub fn jpeg(upright: &image::RgbImage, quality: u8, orientation: u8) -> Result<Vec<u8>, String> {
    let stored = match orientation {
        3 => image::imageops::rotate180(upright),
        6 => image::imageops::rotate270(upright),
        8 => image::imageops::rotate90(upright),
        _ => upright.clone(),
    };
    let mut body = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut body, quality)
        .encode_image(&stored)
        .map_err(|e| e.to_string())?;
    let mut tiff = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    tiff.extend([orientation, 0, 0, 0, 0, 0, 0]);
    let mut out = body[..2].to_vec();
    out.extend([0xff, 0xe1]);
    out.extend(((tiff.len() + 2) as u16).to_be_bytes());
    out.extend(&tiff);
    out.extend(&body[2..]);
    Ok(out)
}
