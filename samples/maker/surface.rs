//! The back as a relief: colour and height on a plane, and the laying of marks on it.

use crate::dice::{Rgb, blend, lerp, noise, scaled, step, times};
use crate::drawing::Plane;
use crate::fonts::Cases;
use crate::piece::{Lay, Piece};
use crate::sheet::{MARGIN, Rendered, render};
use rayon::prelude::*;

/// A window on the back: `scale` px a mm, its top left corner at `x0`, `y0` mm.
pub struct Surface {
    pub x0: f32,
    pub y0: f32,
    pub scale: f32,
    pub w: usize,
    pub h: usize,
    pub albedo: Vec<Rgb>,
    /// mm; the back of the frame is 0.
    pub height: Vec<f32>,
}

impl Surface {
    pub fn new(window: [f32; 4], scale: f32) -> Self {
        let w = ((window[2] - window[0]) * scale).ceil() as usize;
        let h = ((window[3] - window[1]) * scale).ceil() as usize;
        Surface {
            x0: window[0],
            y0: window[1],
            scale,
            w,
            h,
            albedo: vec![[0.0; 3]; w * h],
            height: vec![0.0; w * h],
        }
    }

    /// The same at more px a mm, bilinear.
    pub fn drawn_up(&self, window: [f32; 4], scale: f32) -> Surface {
        let mut out = Surface::new(window, scale);
        let (w, h, k) = (self.w, self.h, self.scale / scale);
        let clip = |v: f32, top: usize| v.clamp(0.0, (top - 2) as f32);
        let ow = out.w;
        let rows = out.albedo.par_chunks_mut(ow);
        rows.zip(out.height.par_chunks_mut(ow))
            .enumerate()
            .for_each(|(y, (colours, heights))| {
                let v = clip((y as f32 + 0.5) * k - 0.5, h);
                let (iy, fy) = (v as usize, v - (v as usize) as f32);
                for x in 0..ow {
                    let u = clip((x as f32 + 0.5) * k - 0.5, w);
                    let (ix, fx) = (u as usize, u - (u as usize) as f32);
                    let i = iy * w + ix;
                    let mix =
                        |a: f32, b: f32, c: f32, d: f32| lerp(lerp(a, b, fx), lerp(c, d, fx), fy);
                    let (a, z) = (&self.albedo, &self.height);
                    colours[x] = std::array::from_fn(|c| {
                        mix(a[i][c], a[i + 1][c], a[i + w][c], a[i + w + 1][c])
                    });
                    heights[x] = mix(z[i], z[i + 1], z[i + w], z[i + w + 1]);
                }
            });
        out
    }

    pub fn px(&self, x: f32, y: f32) -> [f32; 2] {
        [(x - self.x0) * self.scale, (y - self.y0) * self.scale]
    }

    /// Calls `f(x, y, colour, height)` for every pixel in a box of the back, x and y in mm.
    pub fn paint(&mut self, area: [f32; 4], f: impl Fn(f32, f32, &mut Rgb, &mut f32) + Sync) {
        let clip = |v: f32, top: usize| v.clamp(0.0, top as f32) as usize;
        let (a, b) = (self.px(area[0], area[1]), self.px(area[2], area[3]));
        let (x0, x1) = (clip(a[0].floor(), self.w), clip(b[0].ceil(), self.w));
        let (y0, y1) = (clip(a[1].floor(), self.h), clip(b[1].ceil(), self.h));
        let (w, scale, ox, oy) = (self.w, self.scale, self.x0, self.y0);
        self.albedo
            .par_chunks_mut(w)
            .zip(self.height.par_chunks_mut(w))
            .enumerate()
            .filter(|(y, _)| (y0..y1).contains(y))
            .for_each(|(y, (colours, heights))| {
                let my = oy + (y as f32 + 0.5) / scale;
                for x in x0..x1 {
                    f(
                        ox + (x as f32 + 0.5) / scale,
                        my,
                        &mut colours[x],
                        &mut heights[x],
                    );
                }
            });
    }

    pub fn everywhere(&self) -> [f32; 4] {
        [
            self.x0,
            self.y0,
            self.x0 + self.w as f32 / self.scale,
            self.y0 + self.h as f32 / self.scale,
        ]
    }

    /// The box of the back that a mark covers.
    pub fn reach(piece: &Piece) -> [f32; 4] {
        let mut b = [f32::MAX, f32::MAX, f32::MIN, f32::MIN];
        for p in [
            [0.0, 0.0],
            [piece.w, 0.0],
            [piece.w, piece.h],
            [0.0, piece.h],
        ] {
            let q = piece.to_back(p);
            b = [
                b[0].min(q[0]),
                b[1].min(q[1]),
                b[2].max(q[0]),
                b[3].max(q[1]),
            ];
        }
        [b[0] - 2.0, b[1] - 2.0, b[2] + 2.0, b[3] + 2.0]
    }

    /// Lays a mark on the back; gives it back as rendered, or nothing where it is outside the window.
    pub fn lay(&mut self, piece: &Piece, cases: &Cases) -> Option<Rendered> {
        let reach = Surface::reach(piece);
        let all = self.everywhere();
        if reach[2] < all[0] || reach[0] > all[2] || reach[3] < all[1] || reach[1] > all[3] {
            return None;
        }
        let fine = (self.scale * 1.4).min(40.0);
        let made = render(piece, cases, fine);
        let plane = |v: Vec<f32>| Plane {
            w: made.w,
            h: made.h,
            px: v,
        };
        let (alpha, lift) = (plane(made.alpha.clone()), plane(made.height.clone()));
        // Colours weighed by cover, so that edges keep the sheet's own colour.
        let rgb: [Plane; 3] = std::array::from_fn(|c| {
            plane(
                made.rgb
                    .iter()
                    .zip(&made.alpha)
                    .map(|(p, a)| p[c] * a)
                    .collect(),
            )
        });
        let lay = piece.inks[0].lay;
        let sheet = piece.sheet.is_some();
        let seed = piece.seed;
        let texture = self.texture(reach);
        let (ox, oy, scale, w) = (self.x0, self.y0, self.scale, self.w);
        let soaks = made.soaks;
        let bridge = piece.standing.bridges.is_some();
        self.paint(reach, |x, y, colour, height| {
            let local = piece.local_of([x, y]);
            let (u, v) = (
                (local[0] + MARGIN) * fine - 0.5,
                (local[1] + MARGIN) * fine - 0.5,
            );
            if u < -1.0 || v < -1.0 || u > alpha.w as f32 || v > alpha.h as f32 {
                return;
            }
            let mut a = alpha.sample(u, v);
            if a <= 0.002 {
                return;
            }
            let ix = (((x - ox) * scale) as usize).min(w - 1);
            let iy = ((y - oy) * scale) as usize;
            let rough = texture.sample(ix as f32, iy as f32 - texture_top(reach, oy, scale));
            if sheet {
                let sure: Rgb = std::array::from_fn(|c| rgb[c].sample(u, v) / a.max(1e-3));
                if a < 0.9 && piece.sheet.as_ref().is_some_and(|s| s.cover < 0.9) {
                    // Gummed tape and tissue: what lies under shows through.
                    let through = times(
                        *colour,
                        std::array::from_fn(|c| (sure[c] * a).sqrt().min(1.0)),
                    );
                    *colour = blend(through, scaled(sure, 1.0), 0.55 * a);
                } else {
                    *colour = blend(*colour, sure, a);
                }
                let base = if bridge { height.max(-0.6) } else { *height };
                // Paper follows what it lies on, but not its finest texture.
                *height = lerp(*height, base - rough * 0.75 + lift.sample(u, v), a);
                return;
            }
            match lay {
                Lay::Chalk => {
                    a *= step(
                        -0.10,
                        0.06,
                        rough + 0.10 * (noise(x * 3.0, y * 3.0, seed) - 0.5),
                    )
                }
                Lay::Pencil => a *= 0.55 + 0.45 * step(-0.06, 0.05, rough),
                Lay::Stamp | Lay::Brush => a *= 0.65 + 0.35 * step(-0.12, 0.03, rough),
                Lay::Pressed => {
                    *height -= 0.3 * a;
                    *colour = scaled(*colour, 1.0 - 0.18 * a);
                    return;
                }
                _ => {}
            }
            let ink: Rgb = std::array::from_fn(|c| made.rgb[0][c]);
            if soaks {
                for c in 0..3 {
                    colour[c] *= ink[c].max(0.004).powf(a.min(1.2));
                }
            } else {
                *colour = blend(*colour, ink, (a * 0.9).min(0.95));
            }
        });
        Some(made)
    }

    /// Height less its own mean around, mm, within a band of rows: the tooth of the ground.
    fn texture(&self, reach: [f32; 4]) -> Plane {
        let top = texture_top(reach, self.y0, self.scale) as usize;
        let low = (((reach[3] - self.y0) * self.scale).ceil().max(0.0) as usize).min(self.h);
        let rows = low.saturating_sub(top).max(1);
        let mut band = Plane::new(self.w, rows, 0.0);
        for r in 0..rows {
            let y = (top + r).min(self.h - 1);
            band.px[r * self.w..(r + 1) * self.w]
                .copy_from_slice(&self.height[y * self.w..(y + 1) * self.w]);
        }
        let mean = band.blur(0.9 * self.scale);
        for (b, m) in band.px.iter_mut().zip(&mean.px) {
            *b = (*b - *m).clamp(-0.3, 0.3);
        }
        band
    }
}

fn texture_top(reach: [f32; 4], y0: f32, scale: f32) -> f32 {
    ((reach[1] - y0) * scale).floor().max(0.0)
}

/// Light on the back.
#[derive(Clone)]
pub struct Light {
    /// Where it comes from: degrees clockwise from the right, and above the plane.
    pub azimuth: f32,
    pub elevation: f32,
    /// Share of light from everywhere.
    pub ambient: f32,
    /// Where it is brightest, in mm, and how far it reaches.
    pub centre: [f32; 2],
    pub reach: f32,
    pub colour: Rgb,
    /// A soft shadow thrown across by something out of the picture: place, direction, depth.
    pub thrown: Option<([f32; 2], f32, f32)>,
    /// Where the lamp is mirrored, how far that reaches (mm), and how bright it is.
    pub glare: Option<([f32; 2], f32, f32)>,
    /// The room is dark and an ultraviolet lamp is on: what is seen is what glows.
    pub ultraviolet: bool,
}

/// Lights the relief; gives linear light back.
pub fn lit(s: &Surface, light: &Light) -> Vec<Rgb> {
    let (w, h, scale) = (s.w, s.h, s.scale);
    let (az, el) = (light.azimuth.to_radians(), light.elevation.to_radians());
    let l = [az.cos() * el.cos(), az.sin() * el.cos(), el.sin()];
    let flat = [az.cos(), az.sin()];
    let tan = el.tan();
    let steps = [
        0.3f32, 0.8, 1.6, 2.8, 4.5, 7.0, 10.0, 14.0, 19.0, 26.0, 36.0, 50.0,
    ];
    let high = Plane {
        w,
        h,
        px: s.height.clone(),
    };
    let mut shadow = Plane::new(w, h, 0.0);
    shadow
        .px
        .par_chunks_mut(w)
        .enumerate()
        .for_each(|(y, row)| {
            for (x, cell) in row.iter_mut().enumerate() {
                let here = high.at(x, y);
                let mut dark = 0.0f32;
                for d in steps {
                    let (px, py) = (
                        x as f32 + flat[0] * d * scale,
                        y as f32 + flat[1] * d * scale,
                    );
                    if px < 0.0 || py < 0.0 || px >= w as f32 || py >= h as f32 {
                        break;
                    }
                    let over = high.at(px as usize, py as usize) - here - d * tan;
                    if over > 0.0 {
                        dark = dark.max((over / (0.12 + 0.10 * d)).min(1.0));
                    }
                }
                *cell = dark;
            }
        });
    let shadow = shadow.blur(0.35 * scale);
    // Hollows get less light from around: how far a place lies under its surroundings.
    let k = (scale * 1.5).max(1.0) as usize;
    let (sw, sh) = (w.div_ceil(k), h.div_ceil(k));
    let mut small = Plane::new(sw, sh, 0.0);
    for y in 0..sh {
        for x in 0..sw {
            small.px[y * sw + x] = high.at((x * k).min(w - 1), (y * k).min(h - 1));
        }
    }
    let around = small.blur(9.0 * scale / k as f32);
    let mut out = vec![[0.0; 3]; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, row)| {
        for (x, cell) in row.iter_mut().enumerate() {
            let i = y * w + x;
            let at = |dx: isize, dy: isize| {
                let xx = (x as isize + dx).clamp(0, w as isize - 1) as usize;
                let yy = (y as isize + dy).clamp(0, h as isize - 1) as usize;
                s.height[yy * w + xx]
            };
            let gx = ((at(1, 0) - at(-1, 0)) * scale / 2.0).clamp(-1.6, 1.6);
            let gy = ((at(0, 1) - at(0, -1)) * scale / 2.0).clamp(-1.6, 1.6);
            let n = (gx * gx + gy * gy + 1.0).sqrt();
            let facing = ((-gx * l[0] - gy * l[1] + l[2]) / n).max(0.0) / l[2];
            let (mx, my) = (s.x0 + x as f32 / scale, s.y0 + y as f32 / scale);
            let low = around.sample(x as f32 / k as f32, y as f32 / k as f32) - s.height[i];
            let open = 1.0 / (1.0 + (low.max(0.0) / 7.0));
            let near = (mx - light.centre[0]).hypot(my - light.centre[1]) / light.reach;
            let fall = 1.0 / (1.0 + near * near);
            let mut direct = facing.min(2.6) * (1.0 - 0.94 * shadow.px[i]);
            if let Some((p, a, depth)) = light.thrown {
                let off = (mx - p[0]) * a.cos() + (my - p[1]) * a.sin();
                direct *= 1.0 - depth * step(-25.0, 35.0, off);
            }
            let from_sky = light.ambient * open * (0.9 + 0.1 * (-gy * 0.4 + 1.0) / n);
            let v = (from_sky + (1.0 - light.ambient) * direct) * (0.35 + 0.65 * fall);
            let albedo = if light.ultraviolet {
                glowing(s.albedo[i])
            } else {
                s.albedo[i]
            };
            *cell = std::array::from_fn(|c| albedo[c] * v * light.colour[c]);
            if let Some((at, reach, bright)) = light.glare {
                // Drawn out along the light; a rough place mirrors less of it.
                let (dx, dy) = (mx - at[0], my - at[1]);
                let (along, over) = (dx * flat[0] + dy * flat[1], dy * flat[0] - dx * flat[1]);
                let off = (along / (1.6 * reach)).powi(2) + (over / reach).powi(2);
                let shine = bright * (-off).exp() / n.powi(4);
                cell.iter_mut().for_each(|c| *c += shine);
            }
        }
    });
    out
}

/// What a place gives back under an ultraviolet lamp: pale paper and size glow blue-white, ink and pigment
/// stay dark, wood and canvas show in what violet the lamp itself gives. After the look of such
/// photographs, from memory; not a measured spectrum.
fn glowing(albedo: Rgb) -> Rgb {
    let most = albedo[0].max(albedo[1]).max(albedo[2]);
    let least = albedo[0].min(albedo[1]).min(albedo[2]);
    let grey = 1.0 - (most - least) / most.max(1e-3);
    let glow = 0.75 * step(0.10, 0.75, albedo[1]) * (0.25 + 0.75 * grey);
    let [lamp_red, lamp_green, lamp_blue] = [0.16, 0.07, 0.34].map(|k| k * (0.05 + albedo[2]));
    [
        0.42 * glow + lamp_red,
        0.62 * glow + lamp_green,
        0.95 * glow + lamp_blue,
    ]
}
