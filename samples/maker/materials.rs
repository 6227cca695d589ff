//! What backs are made of: wood, canvas, boards, brown paper, and what they lie on.

use crate::dice::{Rgb, blend, colour, fbm, noise, scaled, speck, step};

#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Wood {
    Pine,
    OldPine,
    Oak,
    Mahogany,
    Poplar,
}

/// Colour and relief of wood, `u` mm along the grain and `v` across it.
pub fn wood(kind: Wood, u: f32, v: f32, seed: u32) -> (Rgb, f32) {
    let (pale, dark, pores, broad) = match kind {
        Wood::Pine => (colour(0xc9a670), colour(0x98693c), 0.12, 0.30),
        Wood::OldPine => (colour(0x8d6c48), colour(0x5b3f27), 0.2, 0.34),
        Wood::Oak => (colour(0x866847), colour(0x543b25), 0.8, 0.5),
        Wood::Mahogany => (colour(0x6c4832), colour(0x442b1e), 0.6, 0.22),
        Wood::Poplar => (colour(0xb49c74), colour(0x937a54), 0.15, 0.2),
    };
    let bow = (fbm(u * 0.0022 + 3.0, v * 0.011, 3, seed) - 0.5) * 70.0;
    let t = v + bow + 0.9 * (noise(u * 0.03, v * 0.5, seed ^ 17) - 0.5);
    // Each year's growth: pale wood that darkens to a sharp outer edge; years differ in width.
    let years = t * broad + 1.3 * noise(t * 0.05, 0.0, seed ^ 16);
    let year = years.floor();
    let part = years - year;
    let depth = 0.30 + 0.70 * noise(year * 3.7, u * 0.003, seed ^ 2);
    let late = step(0.30, 0.92, part) * step(1.0, 0.95, part) * depth;
    let fibre = noise(u * 0.09, v * 3.2, seed ^ 3);
    let hair = noise(u * 0.35, v * 7.5, seed ^ 4);
    let micro = noise(u * 1.6, v * 21.0, seed ^ 19) - 0.5;
    let pore = step(0.70, 0.92, noise(u * 0.16, v * 5.5, seed ^ 5)) * pores;
    let fleck = if kind == Wood::Oak {
        step(0.74, 0.86, noise(u * 0.07 + t * 0.05, v * 0.42, seed ^ 6)) * 0.35
    } else {
        0.0
    };
    let mut c = blend(
        pale,
        dark,
        (0.62 * late
            + 0.42 * (fibre - 0.5)
            + 0.34 * (hair - 0.5)
            + 0.5 * (fbm(u * 0.003, v * 0.09, 3, seed ^ 18) - 0.5))
            .clamp(-0.2, 1.1),
    );
    c = scaled(c, 1.0 - 0.45 * pore + 0.12 * micro);
    // Scratches across and dents, as anything gets that is moved about.
    let askew = noise(u * 0.21 + v * 0.017, v * 0.034 + 5.0, seed ^ 23);
    let scratch = (-((askew - 0.5) / 0.0022).powi(2)).exp()
        * step(0.56, 0.7, fbm(u * 0.011, v * 0.013, 2, seed ^ 24));
    c = blend(c, scaled(pale, 1.15), 0.45 * scratch);
    let dent = step(0.70, 0.82, fbm(u * 0.05, v * 0.11, 4, seed ^ 25));
    c = scaled(c, 1.0 - 0.22 * dent);
    let dust = fbm(u * 0.9, v * 0.9, 2, seed ^ 26) - 0.5;
    c = scaled(c, 1.0 + 0.10 * dust);
    c = blend(c, scaled(pale, 1.12), fleck);
    let worn = fbm(u * 0.016, v * 0.022, 4, seed ^ 7);
    c = scaled(c, 0.74 + 0.5 * worn);
    let grime = step(0.55, 0.8, fbm(u * 0.022, v * 0.12, 5, seed ^ 8));
    c = blend(c, scaled(c, 0.66), grime * 0.4);
    let saw = (noise(u * 0.55 + v * 0.06, v * 0.012, seed ^ 9) - 0.5) * 0.05;
    let relief =
        0.05 * (fibre - 0.5) + 0.03 * (hair - 0.5) - 0.12 * pore + 0.05 * (late - 0.5) + saw
            - 0.10 * scratch
            - 0.16 * dent;
    (c, relief)
}

/// Unprimed side of a canvas; `scale` px a mm lets the weave go soft before it would alias.
pub fn canvas(x: f32, y: f32, scale: f32, tone: Rgb, seed: u32) -> (Rgb, f32) {
    let period = 0.78;
    let clear = step(2.0, 3.6, period * scale);
    let ux = x / period
        + 1.4 * (fbm(x * 0.012, y * 0.012, 2, seed) - 0.5)
        + 0.35 * (noise(x * 0.15, y * 0.05, seed ^ 1) - 0.5);
    let uy = y / period
        + 1.4 * (fbm(x * 0.012 + 9.0, y * 0.012, 2, seed ^ 2) - 0.5)
        + 0.35 * (noise(x * 0.05, y * 0.15, seed ^ 3) - 0.5);
    let (ix, iy) = (ux.floor(), uy.floor());
    let wide_x = 0.75 + 0.5 * noise(ix * 7.3, y * 0.025, seed ^ 4);
    let wide_y = 0.75 + 0.5 * noise(iy * 7.3, x * 0.025, seed ^ 5);
    let warp = (std::f32::consts::PI * (ux - ix)).sin() * wide_x;
    let weft = (std::f32::consts::PI * (uy - iy)).sin() * wide_y;
    let over = (ix + iy).rem_euclid(2.0) < 1.0;
    let weave = if over {
        0.35 * weft + 0.75 * warp
    } else {
        0.35 * warp + 0.75 * weft
    };
    let weave = (weave - 0.55) * clear;
    let age = fbm(x * 0.012, y * 0.012, 5, seed ^ 6);
    let blot = step(0.52, 0.62, fbm(x * 0.007 + 5.0, y * 0.007, 5, seed ^ 7));
    let mut c = scaled(tone, (0.66 + 0.55 * age) * (1.0 + 0.42 * weave));
    c = blend(c, crate::dice::times(c, colour(0xd2b892)), 0.5 * blot);
    let lint = noise(x * 4.0, y * 4.0, seed ^ 8) - 0.5;
    c = scaled(c, 1.0 + 0.10 * lint);
    if speck((x * 2.0) as i32, (y * 2.0) as i32, seed ^ 9) > 0.9985 {
        c = scaled(c, 0.6);
    }
    (
        c,
        0.16 * weave + (fbm(x * 0.006, y * 0.006, 2, seed ^ 10) - 0.5) * 2.0,
    )
}

/// Millboard (brown, dense) or pulp board (paler, with fibres in it).
pub fn board(x: f32, y: f32, tone: Rgb, pulp: f32, seed: u32) -> (Rgb, f32) {
    let cloud = fbm(x * 0.011, y * 0.011, 5, seed);
    let mott = fbm(x * 0.16, y * 0.16, 4, seed ^ 1);
    let fine = noise(x * 3.4, y * 3.4, seed ^ 2);
    let mut c = scaled(
        tone,
        0.74 + 0.36 * cloud + 0.30 * (mott - 0.5) + 0.16 * (fine - 0.5),
    );
    // Fibres and specks: short strands, light and dark.
    for k in 0..2u32 {
        let turn = fbm(x * 0.05, y * 0.05, 2, seed ^ (20 + k)) * 9.0;
        let (s, co) = turn.sin_cos();
        let strand = noise(
            (x * co + y * s) * 0.55,
            (-x * s + y * co) * 3.6,
            seed ^ (30 + k),
        );
        let hit = step(0.86, 0.96, strand) * pulp;
        c = blend(c, scaled(c, if k == 0 { 1.45 } else { 0.6 }), hit * 0.7);
    }
    let grain = speck((x * 5.0).floor() as i32, (y * 5.0).floor() as i32, seed ^ 3);
    if grain > 0.993 {
        c = scaled(c, 0.55);
    } else if grain < 0.004 {
        c = scaled(c, 1.35);
    }
    let damp = step(0.55, 0.60, fbm(x * 0.006 + 4.0, y * 0.006, 5, seed ^ 4));
    let line = (-((fbm(x * 0.006 + 4.0, y * 0.006, 5, seed ^ 4) - 0.56) / 0.006).powi(2)).exp();
    c = blend(c, scaled(c, 0.80), damp * 0.5 + 0.35 * line);
    let scuff = step(0.70, 0.80, fbm(x * 0.03, y * 0.09, 5, seed ^ 5));
    c = blend(c, scaled(tone, 1.25), scuff * 0.35);
    (
        c,
        0.06 * (mott - 0.5)
            + 0.03 * (fine - 0.5)
            + (fbm(x * 0.004, y * 0.004, 2, seed ^ 6) - 0.5) * 2.4,
    )
}

/// Brown paper pasted over the whole back, slack and cockled.
pub fn brown_paper(x: f32, y: f32, seed: u32) -> (Rgb, f32) {
    let tone = colour(0x9d825c);
    let cloud = fbm(x * 0.009, y * 0.009, 5, seed);
    let laid = noise(x * 0.12, y * 2.6, seed ^ 1) - 0.5;
    let fine = noise(x * 4.0, y * 4.0, seed ^ 2) - 0.5;
    let mut c = scaled(tone, 0.72 + 0.42 * cloud + 0.07 * laid + 0.06 * fine);
    // Tide lines here and there, not everywhere.
    let damp = fbm(x * 0.008 + 40.0, y * 0.006, 5, seed ^ 3);
    let here = step(0.50, 0.62, fbm(x * 0.004, y * 0.004 + 9.0, 2, seed ^ 7));
    c = blend(c, scaled(c, 0.72), step(0.56, 0.62, damp) * 0.4 * here);
    let line = (-((damp - 0.57) / 0.006).powi(2)).exp() * here;
    c = blend(c, scaled(c, 0.6), line * 0.35);
    let fold = (fbm(x * 0.012, y * 0.017, 3, seed ^ 4) - 0.5) * 6.0;
    // Creases, nearly straight, each fading out along its length.
    let mut crease = 0.0f32;
    for k in 0..9 {
        let r = |n: i32| speck(k, n, seed ^ 5);
        let (sin, cos) = (r(1) * std::f32::consts::PI).sin_cos();
        let (dx, dy) = (x - r(2) * 700.0, y - r(3) * 600.0);
        let (along, off) = (dx * cos + dy * sin, dy * cos - dx * sin);
        let bent = off + (noise(along * 0.03, 0.0, seed ^ (40 + k as u32)) - 0.5) * 5.0;
        let long = 40.0 + 170.0 * r(4);
        crease += (-(bent / 0.5).powi(2)).exp() * step(long, long * 0.3, along.abs());
    }
    let crease = crease.min(1.0);
    c = scaled(c, 1.0 + 0.16 * crease);
    let scuff = step(0.66, 0.80, fbm(x * 0.05, y * 0.03, 5, seed ^ 8));
    c = blend(c, scaled(tone, 1.12), 0.35 * scuff);
    (c, fold * 0.55 + 0.22 * crease + 0.015 * laid)
}

#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Ground {
    Felt,
    Table,
    Paper,
    Blanket,
    Concrete,
    Carpet,
}

/// What the back lies or stands on.
pub fn ground(kind: Ground, x: f32, y: f32, scale: f32, seed: u32) -> (Rgb, f32) {
    match kind {
        Ground::Felt => {
            let f = fbm(x * 0.8, y * 0.8, 4, seed);
            let c = scaled(
                colour(0x3a4640),
                0.7 + 0.5 * f + 0.15 * (fbm(x * 0.01, y * 0.01, 3, seed ^ 1) - 0.5),
            );
            (c, 0.4 * f)
        }
        Ground::Table => {
            let board = (y / 140.0).floor();
            let (c, r) = wood(
                Wood::Oak,
                x + board * 911.0,
                y,
                seed ^ (board as i32 as u32 & 0xff),
            );
            let gap = (y / 140.0 - board) * 140.0;
            if gap < 1.2 {
                (scaled(c, 0.25), r - 1.5)
            } else {
                (scaled(c, 1.05), r)
            }
        }
        Ground::Paper => {
            let f = fbm(x * 0.004, y * 0.004, 3, seed);
            (
                scaled(
                    colour(0xb4b2ae),
                    0.9 + 0.2 * f + 0.02 * noise(x * 4.0, y * 4.0, seed),
                ),
                0.0,
            )
        }
        Ground::Blanket => {
            let fold = fbm(x * 0.006, y * 0.004, 4, seed);
            let knit = (noise(x * 1.1, y * 1.1, seed ^ 1) - 0.5) * step(1.0, 3.0, scale)
                + 0.8 * (noise(x * 3.7, y * 2.9, seed ^ 2) - 0.5) * step(3.0, 8.0, scale);
            (
                scaled(colour(0x7c8086), 0.8 + 0.25 * fold + 0.2 * knit),
                fold * 26.0 - 13.0 + 0.5 * knit,
            )
        }
        Ground::Concrete => {
            let f = fbm(x * 0.02, y * 0.02, 6, seed);
            (scaled(colour(0x8a867e), 0.7 + 0.5 * f), 0.5 * f)
        }
        Ground::Carpet => {
            let f = fbm(x * 0.9, y * 0.9, 3, seed);
            let band = step(0.42, 0.58, fbm(x * 0.05, y * 0.012, 4, seed ^ 1));
            (
                scaled(
                    blend(colour(0x5a4236), colour(0x463c38), band),
                    0.6 + 0.7 * f,
                ),
                f,
            )
        }
    }
}
