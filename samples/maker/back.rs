//! A picture's back, put together: ground, frame, support, fittings, marks.

use crate::dice::{Dice, Rgb, blend, colour, fbm, lerp, noise, scaled, step};
use crate::fonts::Cases;
use crate::materials::{Ground, Wood, board, brown_paper, canvas, ground, wood};
use crate::piece::Piece;
use crate::sheet::Rendered;
use crate::surface::Surface;

#[derive(Clone)]
pub enum Support {
    /// Stretched canvas: bar width, cross bar or none, tone of the canvas.
    Canvas {
        bar: f32,
        cross: bool,
        wood: Wood,
        tone: Rgb,
    },
    Board {
        tone: Rgb,
        pulp: f32,
    },
    /// A panel with bevelled edges.
    Panel {
        wood: Wood,
        bevel: f32,
        upright: bool,
    },
}

#[derive(Clone)]
pub struct Frame {
    pub rail: f32,
    pub wood: Wood,
    /// Width of a gilt slip that shows round the support, 0 for none.
    pub slip: f32,
}

#[derive(Clone, Copy)]
pub enum Fitting {
    Nail {
        at: [f32; 2],
        rust: f32,
    },
    Eye {
        at: [f32; 2],
    },
    Wire {
        from: [f32; 2],
        to: [f32; 2],
        sag: f32,
    },
    /// Gummed brown tape along a joint: box.
    Tape {
        area: [f32; 4],
    },
    Hole {
        at: [f32; 2],
        r: f32,
    },
    /// A strip of paler wood where something was: box.
    Ghost {
        area: [f32; 4],
    },
}

#[derive(Clone)]
pub struct Back {
    pub slug: &'static str,
    pub w: f32,
    pub h: f32,
    pub frame: Option<Frame>,
    pub support: Support,
    /// Brown paper over everything, with this much of it torn away, 0 to 1.
    pub backing: Option<f32>,
    pub below: Vec<Fitting>,
    pub pieces: Vec<Piece>,
    pub above: Vec<Fitting>,
    pub ground: Ground,
    pub seed: u32,
    pub dirt: f32,
}

impl Back {
    /// The support's own box.
    pub fn inner(&self) -> [f32; 4] {
        let r = self.frame.as_ref().map_or(0.0, |f| f.rail + f.slip);
        [r, r, self.w - r, self.h - r]
    }

    /// Builds the relief of a window; with it, for every mark, how it came out. `fine`: px a mm at which
    /// all that lies under the marks is made; where that is less than `scale`, it is drawn up.
    pub fn build(
        &self,
        window: [f32; 4],
        scale: f32,
        fine: f32,
        cases: &Cases,
    ) -> (Surface, Vec<Option<Rendered>>) {
        let mut s = Surface::new(window, fine.min(scale));
        self.lay_bare(&mut s);
        if fine < scale {
            s = s.drawn_up(window, scale);
        }
        let made = self.pieces.iter().map(|p| s.lay(p, cases)).collect();
        for f in &self.above {
            lay_fitting(&mut s, f, self.seed);
        }
        (s, made)
    }

    /// Everything that the marks are put on.
    fn lay_bare(&self, s: &mut Surface) {
        let (seed, scale) = (self.seed, s.scale);
        let (w, h) = (self.w, self.h);
        let depth = if self.frame.is_some() { 26.0 } else { 9.0 };
        let kind = self.ground;
        s.paint(s.everywhere(), |x, y, c, z| {
            let (gc, gz) = ground(kind, x, y, scale, seed ^ 1000);
            *c = gc;
            *z = gz - depth;
        });
        if let Some(frame) = &self.frame {
            let (rail, kind) = (frame.rail, frame.wood);
            s.paint([0.0, 0.0, w, h], |x, y, c, z| {
                let (l, t) = (x.min(w - x), y.min(h - y));
                let edge = l.min(t) + (noise(x * 0.3, y * 0.3, seed ^ 3) - 0.5) * 0.4;
                if edge < 0.0 || edge > rail {
                    return;
                }
                // Mitres: each rail's grain runs along it.
                let side = if l < t {
                    if x < w / 2.0 { 1 } else { 2 }
                } else if y < h / 2.0 {
                    3
                } else {
                    4
                };
                let (u, v) = if side <= 2 { (y, x) } else { (x, y) };
                let (wc, wz) = wood(kind, u + 700.0 * side as f32, v, seed ^ (50 + side));
                let joint = (-((l - t).abs() / 0.35).powi(2)).exp();
                let round = step(1.6, 0.0, edge.min(rail - edge));
                *c = scaled(wc, 1.0 - 0.6 * joint - 0.25 * round);
                // Wash of the frame's sides and drips of gesso that came round the edge.
                let creep = fbm(x * 0.05, y * 0.05, 4, seed ^ 56);
                let wash = step(3.0 + 9.0 * creep, 1.0 + 5.0 * creep, edge);
                *c = blend(*c, crate::dice::times(*c, colour(0xc98f38)), 0.6 * wash);
                let drip = step(0.765, 0.78, fbm(x * 0.045 + 7.0, y * 0.045, 4, seed ^ 57))
                    * step(rail * 0.8, rail * 0.2, edge);
                *c = blend(*c, colour(0xc2b8a2), 0.7 * drip);
                *z += 0.5 * drip;
                *z = wz - 0.7 * joint - 1.2 * round;
            });
            let (slip, r) = (frame.slip, frame.rail);
            s.paint([r, r, w - r, h - r], |x, y, c, z| {
                let edge = (x - r).min(w - r - x).min(y - r).min(h - r - y);
                if edge < 0.0 {
                    return;
                }
                *c = colour(0x2a1f16);
                *z = -11.0;
                if edge < slip {
                    let rub = fbm(x * 0.08, y * 0.08, 4, seed ^ 60);
                    let gold = blend(colour(0xa88545), colour(0x7c4530), step(0.60, 0.78, rub));
                    *c = scaled(gold, 0.7 + 0.5 * noise(x * 0.4, y * 0.4, seed ^ 61));
                    *z = -3.5 - 1.2 * (edge / slip - 0.5).abs();
                }
            });
        }
        let inner = self.inner();
        self.lay_support(s, inner, scale);
        if let Some(torn) = self.backing {
            self.lay_backing(s, torn);
        }
        let dirt = self.dirt;
        s.paint([0.0, 0.0, w, h], |x, y, c, _| {
            let d = fbm(x * 0.006 + 2.0, y * 0.006, 5, seed ^ 70);
            let fine = step(0.45, 0.9, fbm(x * 0.06, y * 0.05, 5, seed ^ 71));
            *c = scaled(*c, 1.0 - dirt * (0.55 * step(0.40, 0.75, d) + 0.25 * fine));
        });
        for f in &self.below {
            lay_fitting(s, f, seed);
        }
    }

    fn lay_support(&self, s: &mut Surface, inner: [f32; 4], scale: f32) {
        let seed = self.seed;
        let [x0, y0, x1, y1] = inner;
        let framed = self.frame.is_some();
        match self.support.clone() {
            Support::Board { tone, pulp } => s.paint(inner, |x, y, c, z| {
                let edge = (x - x0).min(x1 - x).min(y - y0).min(y1 - y)
                    + (fbm(x * 0.09, y * 0.09, 3, seed ^ 80) - 0.5) * 1.2;
                if edge < 0.0 {
                    return;
                }
                let (bc, bz) = board(x, y, tone, pulp, seed ^ 81);
                let rim = (-edge / 9.0).exp();
                *c = scaled(bc, 1.0 - 0.30 * rim);
                let corner = (x - x0).min(x1 - x).max((y - y0).min(y1 - y));
                let dent = step(9.0, 2.0, corner) * 0.8;
                *z = if framed { -2.6 } else { 0.0 } + bz * 0.3 - step(0.9, 0.0, edge) * 0.9 - dent;
            }),
            Support::Panel {
                wood: kind,
                bevel,
                upright,
            } => s.paint(inner, |x, y, c, z| {
                let edge = (x - x0).min(x1 - x).min(y - y0).min(y1 - y);
                let (u, v) = if upright { (y, x) } else { (x, y) };
                let (wc, wz) = wood(kind, u, v, seed ^ 82);
                let cut = bevel + (noise(u * 0.02, v * 0.02, seed ^ 83) - 0.5) * bevel * 0.35;
                let down = ((cut - edge) / cut).max(0.0);
                let tool = if edge < cut {
                    (noise(x * 0.16, y * 0.16, seed ^ 84) - 0.5) * 0.35
                } else {
                    0.0
                };
                *c = scaled(wc, if edge < cut { 1.15 + 0.4 * tool } else { 1.0 });
                *z = if framed { -2.0 } else { 0.0 } + wz - down * 6.0 + tool * 0.3;
            }),
            Support::Canvas {
                bar,
                cross,
                wood: kind,
                tone,
            } => {
                s.paint(inner, |x, y, c, z| {
                    let (cc, cz) = canvas(x, y, scale, tone, seed ^ 85);
                    let near = (x - x0).min(x1 - x).min(y - y0).min(y1 - y) - bar;
                    let pale = step(14.0, 3.0, near) * 0.12;
                    *c = scaled(cc, 1.0 + pale);
                    *z = -19.0 + cz;
                });
                let mid = (y0 + y1) / 2.0;
                s.paint(inner, |x, y, c, z| {
                    let (l, t) = ((x - x0).min(x1 - x), (y - y0).min(y1 - y));
                    let on_cross = cross && (y - mid).abs() < bar * 0.42;
                    if l.min(t) > bar && !on_cross {
                        return;
                    }
                    let across = l.min(t);
                    let (side, u, v, edge) = if across > bar {
                        (5, x, y, bar * 0.42 - (y - mid).abs())
                    } else if l < t {
                        (
                            if x < (x0 + x1) / 2.0 { 1 } else { 2 },
                            y,
                            x,
                            l.min(bar - l),
                        )
                    } else {
                        (if y < mid { 3 } else { 4 }, x, y, t.min(bar - t))
                    };
                    let (wc, wz) = wood(kind, u + 900.0 * side as f32, v, seed ^ (90 + side));
                    let joint = if l.max(t) < bar {
                        (-((l - t).abs() / 0.3).powi(2)).exp()
                    } else {
                        0.0
                    };
                    let butt = if across > bar && ((l - bar).abs() < 0.5) {
                        0.7
                    } else {
                        0.0
                    };
                    let round = step(1.4, 0.0, edge);
                    *c = scaled(wc, 1.0 - 0.65 * joint.max(butt) - 0.28 * round);
                    *z = -2.8 + wz - joint - 1.3 * round;
                    // Slots for the keys, at the inner corner.
                    let slot = l.max(t) < bar + 11.0
                        && l.max(t) > bar - 7.0
                        && l.min(t) < bar * 0.62
                        && l.min(t) > bar * 0.48;
                    if slot {
                        *c = scaled(wc, 0.25);
                        *z = -7.0;
                    }
                });
                self.keys_and_tacks(s, inner, bar, tone, scale);
            }
        }
    }

    /// Wedges in the corners, and the turned-over canvas with its tacks.
    fn keys_and_tacks(&self, s: &mut Surface, inner: [f32; 4], bar: f32, tone: Rgb, scale: f32) {
        let seed = self.seed;
        let [x0, y0, x1, y1] = inner;
        let mut dice = Dice::new(u64::from(seed)).part("keys");
        for (cx, cy, sx, sy) in [
            (x0, y0, 1.0, 1.0),
            (x1, y0, -1.0, 1.0),
            (x1, y1, -1.0, -1.0),
            (x0, y1, 1.0, -1.0),
        ] {
            for swap in [false, true] {
                if dice.chance(0.15) {
                    continue;
                }
                let long = dice.between(24.0, 34.0);
                let tip = bar - dice.between(8.0, 14.0);
                let off = bar * 0.55;
                let reach = bar + long + 4.0;
                let area = [
                    cx.min(cx + sx * reach),
                    cy.min(cy + sy * reach),
                    cx.max(cx + sx * reach),
                    cy.max(cy + sy * reach),
                ];
                s.paint(area, |x, y, c, z| {
                    let (mut a, mut b) = ((x - cx) * sx, (y - cy) * sy);
                    if swap {
                        std::mem::swap(&mut a, &mut b);
                    }
                    let along = (a - tip) / long;
                    if !(0.0..=1.0).contains(&along) {
                        return;
                    }
                    let top = off + lerp(2.0, 9.5, along);
                    if b < off - 1.5 || b > top {
                        return;
                    }
                    let (wc, wz) = wood(Wood::Pine, a + 300.0, b * 1.5, seed ^ 97);
                    let edge = (b - off + 1.5)
                        .min(top - b)
                        .min(along * long)
                        .min((1.0 - along) * long);
                    *c = scaled(wc, 0.9 - 0.35 * step(0.9, 0.0, edge));
                    *z = z.max(-3.6) + 0.4 + wz;
                });
            }
        }
        // The canvas comes over the outer edge a little, unevenly cut.
        s.paint(inner, |x, y, c, z| {
            let (l, t) = ((x - x0).min(x1 - x), (y - y0).min(y1 - y));
            let along = if l < t { y } else { x };
            let wide = 9.0
                + 7.0 * (noise(along * 0.02, if l < t { 1.0 } else { 9.0 }, seed ^ 98) - 0.4)
                + 0.5 * noise(along * 1.3, 3.0, seed ^ 99);
            if l.min(t) < wide {
                let (cc, cz) = canvas(x, y, scale, tone, seed ^ 85);
                *c = scaled(cc, 0.86);
                *z = -1.9 + cz * 0.2;
            }
        });
        let mut along = 22.0;
        while along < (x1 - x0).max(y1 - y0) - 15.0 {
            for k in 0..4 {
                let j = dice.between(-6.0, 6.0);
                let d = dice.between(4.0, 6.5);
                let at = match k {
                    0 if along < x1 - x0 - 15.0 => [x0 + along + j, y0 + d],
                    1 if along < x1 - x0 - 15.0 => [x0 + along + j, y1 - d],
                    2 if along < y1 - y0 - 15.0 => [x0 + d, y0 + along + j],
                    3 if along < y1 - y0 - 15.0 => [x1 - d, y0 + along + j],
                    _ => continue,
                };
                lay_fitting(
                    s,
                    &Fitting::Nail {
                        at,
                        rust: dice.between(0.3, 1.0),
                    },
                    seed,
                );
            }
            along += dice.between(48.0, 66.0);
        }
    }

    /// How far a place lies within what is left of the backing paper, mm; less than 0 outside.
    /// `gone`: how far time got there.
    pub fn paper_left(&self, torn: f32, x: f32, y: f32, gone: f32) -> f32 {
        let (w, h, seed) = (self.w, self.h, self.seed);
        let inset = 7.0;
        let edge = (x.min(w - x).min(y).min(h - y)) - inset
            + (fbm(x * 0.05, y * 0.05, 3, seed ^ 100) - 0.5) * 3.0;
        let hole =
            (1.0 - torn * 0.62 - gone) * 60.0 + (fbm(x * 0.3, y * 0.3, 3, seed ^ 102) - 0.5) * 2.0;
        edge.min(hole)
    }

    fn lay_backing(&self, s: &mut Surface, torn: f32) {
        let (w, h, seed) = (self.w, self.h, self.seed);
        let rail = self.frame.as_ref().map_or(0.0, |f| f.rail);
        s.paint([0.0, 0.0, w, h], |x, y, c, z| {
            let gone = fbm(x * 0.008 + 11.0, y * 0.008, 5, seed ^ 101);
            let hole = (1.0 - torn * 0.62 - gone) * 60.0
                + (fbm(x * 0.3, y * 0.3, 3, seed ^ 102) - 0.5) * 2.0;
            let here = self.paper_left(torn, x, y, gone);
            if here < 0.0 {
                return;
            }
            let (pc, pz) = brown_paper(x, y, seed ^ 103);
            let fibre = if hole < 2.2 {
                step(2.2, 0.2, hole) * 0.5
            } else {
                0.0
            };
            *c = blend(pc, scaled(pc, 1.5), fibre);
            let in_from = (x.min(w - x).min(y).min(h - y)) - rail;
            let sag = step(-3.0, 12.0, in_from);
            *z = 0.25 + pz * lerp(0.06, 1.0, sag) - 1.6 * sag;
        });
    }
}

fn lay_fitting(s: &mut Surface, fitting: &Fitting, seed: u32) {
    match *fitting {
        Fitting::Nail { at, rust } => {
            let r = 2.3;
            s.paint(
                [at[0] - 7.0, at[1] - 7.0, at[0] + 7.0, at[1] + 7.0],
                |x, y, c, z| {
                    let d = (x - at[0]).hypot(y - at[1]);
                    let bleed = rust
                        * (-(d / 3.4).powi(2)).exp()
                        * (0.5 + fbm(x * 0.6, y * 0.6, 2, seed ^ 120));
                    *c = blend(*c, crate::dice::times(*c, colour(0x8a4a24)), bleed.min(0.9));
                    if d < r {
                        let t = fbm(x * 1.5, y * 1.5, 3, seed ^ 121);
                        *c = blend(colour(0x332c29), colour(0x6e4026), rust * t);
                        *z += 0.9 * (1.0 - (d / r).powi(2)).max(0.0).sqrt();
                    }
                },
            );
        }
        Fitting::Eye { at } => s.paint(
            [at[0] - 9.0, at[1] - 9.0, at[0] + 9.0, at[1] + 9.0],
            |x, y, c, z| {
                let d = (x - at[0]).hypot(y - at[1]);
                let tube = 1.6 - (d - 6.0).abs();
                if tube > 0.0 {
                    *c = scaled(colour(0x6a5b3a), 0.7 + 0.6 * noise(x, y, seed ^ 122));
                    *z += 2.0 + 1.5 * (1.0 - ((d - 6.0) / 1.6).powi(2)).max(0.0).sqrt();
                }
            },
        ),
        Fitting::Wire { from, to, sag } => {
            let area = [
                from[0].min(to[0]),
                from[1].min(to[1]) - sag.abs() - 4.0,
                from[0].max(to[0]),
                from[1].max(to[1]) + sag.abs() + 6.0,
            ];
            s.paint(area, |x, y, c, z| {
                let t = (x - from[0]) / (to[0] - from[0]);
                let yy = lerp(from[1], to[1], t) + sag * 4.0 * t * (1.0 - t);
                let d = (y - yy).abs();
                if d < 1.1 && (0.0..=1.0).contains(&t) {
                    let twist = ((x * 2.2 + y * 3.0).sin() * 0.5 + 0.5) * 0.5;
                    *c = scaled(colour(0x8c8066), 0.5 + twist);
                    *z += 0.8 + (1.21 - d * d).max(0.0).sqrt();
                }
            });
        }
        Fitting::Tape { area } => s.paint(area, |x, y, c, z| {
            let edge = (x - area[0])
                .min(area[2] - x)
                .min(y - area[1])
                .min(area[3] - y)
                + (noise(x * 0.25, y * 0.25, seed ^ 123) - 0.5) * 0.8;
            let lost = fbm(x * 0.03, y * 0.03, 4, seed ^ 124);
            if edge > 0.4 && lost < 0.68 {
                let (pc, pz) = brown_paper(x * 1.3, y * 1.3, seed ^ 125);
                *c = scaled(pc, 0.9);
                *z = z.max(-3.0) + 0.25 + pz * 0.05;
            }
        }),
        Fitting::Hole { at, r } => s.paint(
            [at[0] - 3.0, at[1] - 3.0, at[0] + 3.0, at[1] + 3.0],
            |x, y, c, z| {
                let d = (x - at[0]).hypot((y - at[1]) * 1.1);
                let inner = step(r + 0.15, r - 0.2, d);
                *c = blend(*c, colour(0x1a1009), inner);
                *z -= 2.5 * inner;
                let dust = step(r + 0.9, r, d) * (1.0 - inner);
                *c = blend(*c, colour(0xc9b084), dust * 0.25);
            },
        ),
        Fitting::Ghost { area } => s.paint(area, |x, y, c, _| {
            let edge = (x - area[0])
                .min(area[2] - x)
                .min(y - area[1])
                .min(area[3] - y)
                + (fbm(x * 0.2, y * 0.2, 3, seed ^ 126) - 0.5) * 1.5;
            let k = step(0.0, 1.2, edge);
            let glue = step(0.5, 0.62, fbm(x * 0.07, y * 0.05, 4, seed ^ 127));
            *c = blend(*c, scaled(*c, 1.35 - 0.45 * glue), k * 0.8);
        }),
    }
}
