//! Renders a mark: ink on its sheet, or ink alone, with damage; and how much of each letter is left.

use crate::dice::{Dice, Rgb, blend, fbm, lerp, noise, scaled, speck, step};
use crate::drawing::Plane;
use crate::fonts::Cases;
use crate::piece::{Effect, Ink, Item, Lay, Letter, Piece, Shape, set};

/// A letter with the share of its ink that can still be seen, 0 to 1.
pub struct Seen {
    pub letter: Letter,
    pub left: f32,
}

/// A line as it can be seen.
pub struct SeenLine {
    pub letters: Vec<Seen>,
}

/// A mark as pixels, `scale` px a mm.
pub struct Rendered {
    pub scale: f32,
    pub w: usize,
    pub h: usize,
    pub rgb: Vec<Rgb>,
    /// Cover of the sheet, or of the ink where there is no sheet.
    pub alpha: Vec<f32>,
    /// Above what it lies on, mm.
    pub height: Vec<f32>,
    pub lines: Vec<SeenLine>,
    /// Ink that darkens what it lies on, rather than hiding it.
    pub soaks: bool,
}

/// Space around a sheet, mm, for flaps and soft edges.
pub const MARGIN: f32 = 1.0;

pub fn render(piece: &Piece, cases: &Cases, scale: f32) -> Rendered {
    let w = ((piece.w + 2.0 * MARGIN) * scale).ceil() as usize;
    let h = ((piece.h + 2.0 * MARGIN) * scale).ceil() as usize;
    let mut planes: Vec<Plane> = piece.inks.iter().map(|_| Plane::new(w, h, 0.0)).collect();
    let mut lines = Vec::new();
    let shift = |p: [f32; 2]| [p[0] + MARGIN, p[1] + MARGIN];
    for (n, item) in piece.items.iter().enumerate() {
        match item {
            Item::Art(path, ink) => path.map(shift).fill(&mut planes[*ink], scale, 1.0),
            Item::Line(s) => {
                let line = set(cases, s, piece.seed.wrapping_add(n as u32));
                let mut dice = Dice::new(u64::from(piece.seed)).part(&s.text);
                let mut own = Plane::new(w, h, 0.0);
                for path in &line.paths {
                    let press = if s.unsteady > 0.0 {
                        1.0 - 0.35 * dice.unit() * s.unsteady
                    } else {
                        1.0
                    };
                    path.map(shift).fill(&mut own, scale, press);
                }
                if s.weight > 0.0 {
                    own = thicken(&own, s.weight * scale);
                }
                own = effect(own, s.effect, s.cap * scale);
                for (to, from) in planes[s.ink].px.iter_mut().zip(&own.px) {
                    *to = to.max(*from);
                }
                lines.push((line.letters, s.ink));
            }
        }
    }
    let pure = planes.clone();
    for (plane, ink) in planes.iter_mut().zip(&piece.inks) {
        *plane = laid(plane, ink, scale, piece.seed);
    }
    match &piece.sheet {
        Some(_) => papered(piece, scale, planes, pure, lines),
        None => naked(piece, scale, planes, pure, lines),
    }
}

/// Wider strokes.
fn thicken(plane: &Plane, by: f32) -> Plane {
    let soft = plane.blur(by.max(0.3));
    let mut out = plane.clone();
    for (o, s) in out.px.iter_mut().zip(&soft.px) {
        *o = o.max(step(0.10, 0.34, *s));
    }
    out
}

fn effect(plane: Plane, effect: Effect, cap: f32) -> Plane {
    let moved = |dx: f32, dy: f32| {
        let mut out = Plane::new(plane.w, plane.h, 0.0);
        for y in 0..plane.h {
            for x in 0..plane.w {
                out.px[y * plane.w + x] = plane.sample(x as f32 - dx, y as f32 - dy);
            }
        }
        out
    };
    match effect {
        Effect::Plain => plane,
        Effect::Outline => {
            let t = (cap * 0.05).max(0.7);
            let mut out = Plane::new(plane.w, plane.h, 0.0);
            for (dx, dy) in [
                (1.0, 0.0),
                (-1.0, 0.0),
                (0.0, 1.0),
                (0.0, -1.0),
                (0.7, 0.7),
                (-0.7, -0.7),
                (0.7, -0.7),
                (-0.7, 0.7),
            ] {
                for (o, m) in out.px.iter_mut().zip(&moved(dx * t, dy * t).px) {
                    *o = o.max(*m);
                }
            }
            for (o, p) in out.px.iter_mut().zip(&plane.px) {
                *o = (*o - *p).max(0.0);
            }
            out
        }
        Effect::Shaded => {
            let t = (cap * 0.06).max(0.8);
            let gap = moved(t, t);
            let mut out = plane.clone();
            for k in 2..4 {
                let shade = moved(t * k as f32, t * k as f32);
                for (i, o) in out.px.iter_mut().enumerate() {
                    *o = o.max((shade.px[i] - gap.px[i] - plane.px[i]).max(0.0));
                }
            }
            out
        }
    }
}

/// From clean coverage to density of ink.
fn laid(plane: &Plane, ink: &Ink, scale: f32, seed: u32) -> Plane {
    let sigma = ink.bleed * scale;
    let soft = plane.blur(sigma.max(0.25));
    let broad = plane.blur(ink.bleed * 2.5 * scale + 0.6);
    let mut out = soft.clone();
    let w = plane.w;
    for (i, cell) in out.px.iter_mut().enumerate() {
        if broad.px[i] < 0.004 {
            *cell = 0.0;
            continue;
        }
        let (x, y) = ((i % w) as f32 / scale, (i / w) as f32 / scale);
        let s = soft.px[i];
        // Thin strokes stay as they are; thick ones get a ragged, soaked edge.
        let ragged = step(
            0.30,
            0.62,
            s + (fbm(x * 6.0, y * 6.0, 2, seed ^ 11) - 0.5) * 0.35,
        );
        let body = if sigma > 0.6 { lerp(s, ragged, 0.6) } else { s };
        let edge = ((body - broad.px[i]) * 2.0).clamp(0.0, 1.0);
        let fine = noise(x * 9.0, y * 9.0, seed ^ 21);
        let wide = fbm(x * 0.12 + 7.0, y * 0.12, 3, seed ^ 31);
        *cell = match ink.lay {
            Lay::Print => body * (0.86 + 0.12 * edge + 0.22 * (fine - 0.5) + 0.3 * (wide - 0.5)),
            Lay::Pen => {
                let flow = fbm(x * 0.35, y * 0.8, 3, seed ^ 41);
                body * (0.62 + 0.25 * edge + 0.75 * (flow - 0.4) + 0.12 * (fine - 0.5))
            }
            Lay::Pencil => {
                let tooth = noise(x * 5.0, y * 5.0, seed ^ 51) * 0.6 + fine * 0.4;
                body * (0.25 + 0.9 * step(0.2, 0.75, tooth)) * (0.6 + 0.7 * wide)
            }
            Lay::Chalk => {
                let tooth = 0.55 * noise(x * 2.6, y * 2.6, seed ^ 61) + 0.45 * fine;
                body * step(0.18, 0.62, tooth + 0.5 * (wide - 0.45))
            }
            Lay::Stamp => {
                let inked = step(0.28, 0.55, wide + 0.12 * (fine - 0.5));
                let starved = noise(x * 3.0, y * 3.0, seed ^ 71);
                body * (0.30 + 0.70 * inked) * (0.72 + 0.5 * edge - 0.35 * step(0.55, 0.9, starved))
            }
            Lay::Typed => {
                let ribbon = noise(x * 14.0, y * 5.0, seed ^ 81);
                let struck = noise(x * 0.45, y * 0.25, seed ^ 91);
                body * (0.55 + 0.45 * struck + 0.3 * (ribbon - 0.5) + 0.15 * edge)
            }
            Lay::Brush => {
                body * (0.75
                    + 0.5 * (wide - 0.4)
                    + 0.25 * (noise(x * 1.5, y * 6.0, seed ^ 95) - 0.5))
            }
            Lay::Pressed => body,
        }
        .clamp(0.0, 1.2)
            * ink.strength;
    }
    out
}

type Planned = Vec<(Vec<Letter>, usize)>;

/// Share of a letter's ink that `keep` leaves, weighed by coverage.
fn seen(
    lines: Planned,
    pure: &[Plane],
    scale: f32,
    keep: impl Fn(usize, usize) -> f32,
) -> Vec<SeenLine> {
    lines
        .into_iter()
        .map(|(letters, ink)| SeenLine {
            letters: letters
                .into_iter()
                .map(|letter| {
                    let left = letter.bounds.map_or(1.0, |b| {
                        let plane = &pure[ink];
                        let px = |v: f32, top: usize| {
                            (((v + MARGIN) * scale).max(0.0) as usize).min(top.saturating_sub(1))
                        };
                        let (x0, x1) = (px(b[0], plane.w), px(b[2], plane.w));
                        let (y0, y1) = (px(b[1], plane.h), px(b[3], plane.h));
                        let (mut kept, mut all) = (0.0, 1e-6);
                        for y in y0..=y1 {
                            for x in x0..=x1 {
                                let c = plane.at(x, y);
                                all += c;
                                if c > 0.05 {
                                    kept += c * keep(ink, y * plane.w + x);
                                }
                            }
                        }
                        kept / all
                    });
                    Seen { letter, left }
                })
                .collect(),
        })
        .collect()
}

fn naked(
    piece: &Piece,
    scale: f32,
    planes: Vec<Plane>,
    pure: Vec<Plane>,
    lines: Planned,
) -> Rendered {
    let plane = &planes[0];
    let ink = &piece.inks[0];
    let mut alpha = plane.px.clone();
    let hurt = &piece.hurt;
    for (i, a) in alpha.iter_mut().enumerate() {
        if *a <= 0.0 {
            continue;
        }
        let (x, y) = ((i % plane.w) as f32 / scale, (i / plane.w) as f32 / scale);
        let worn = step(
            1.0 - hurt.rubbed,
            1.12 - hurt.rubbed,
            fbm(x / 14.0, y / 14.0, 4, piece.seed ^ 5) * 1.15,
        );
        *a *= 1.0 - 0.92 * worn;
    }
    let kept: Vec<f32> = alpha.clone();
    let lines = seen(lines, &pure, scale, |_, i| {
        (kept[i] / ink.strength.max(0.05)).min(1.0)
    });
    let height = if ink.lay == Lay::Pressed {
        plane.px.iter().map(|c| -0.35 * c).collect()
    } else {
        vec![0.0; alpha.len()]
    };
    Rendered {
        scale,
        w: plane.w,
        h: plane.h,
        rgb: vec![ink.colour; alpha.len()],
        alpha,
        height,
        lines,
        soaks: !(ink.lay == Lay::Chalk || ink.lay == Lay::Brush && ink.colour[0] > 0.3),
    }
}

/// Signed distance to the sheet's edge, mm, positive inside.
fn inside(piece: &Piece, shape: Shape, x: f32, y: f32) -> f32 {
    let (w, h) = (piece.w, piece.h);
    let rect = x.min(w - x).min(y).min(h - y);
    match shape {
        Shape::Rect => rect,
        Shape::Octagon => {
            let cut = (w.min(h)) * 0.16;
            let corner = (x.min(w - x) + y.min(h - y) - cut) * 0.707;
            rect.min(corner)
        }
        Shape::Rounded => {
            let r = w.min(h) * 0.12;
            let (dx, dy) = (r - x.min(w - x), r - y.min(h - y));
            if dx > 0.0 && dy > 0.0 {
                r - dx.hypot(dy)
            } else {
                rect
            }
        }
        Shape::Oval => {
            let (nx, ny) = ((x - w / 2.0) / (w / 2.0), (y - h / 2.0) / (h / 2.0));
            let n = nx.hypot(ny);
            (1.0 - n) * w.min(h) / 2.0
        }
        Shape::Toothed => {
            let along = if x.min(w - x) < y.min(h - y) { y } else { x };
            rect - 0.35 * (along * std::f32::consts::TAU / 1.6).sin().max(-0.2)
        }
    }
}

/// Smears of rust-brown spots into a plane, 0 to 1.
fn foxing(piece: &Piece, w: usize, h: usize, scale: f32) -> Plane {
    let mut plane = Plane::new(w, h, 0.0);
    let mut dice = Dice::new(u64::from(piece.seed)).part("foxing");
    let many = (piece.hurt.foxing * piece.w * piece.h / 90.0) as u32;
    for _ in 0..many {
        let (cx, cy) = (dice.between(0.0, piece.w), dice.between(0.0, piece.h));
        let r = 0.25 + 1.9 * dice.unit().powi(3);
        let depth = dice.between(0.2, 0.95);
        let reach = r * 2.6;
        let seed = dice.seed();
        let px = |v: f32| ((v + MARGIN) * scale).max(0.0) as usize;
        for y in px(cy - reach)..px(cy + reach).min(h) {
            for x in px(cx - reach)..px(cx + reach).min(w) {
                let (mx, my) = (
                    x as f32 / scale - MARGIN - cx,
                    y as f32 / scale - MARGIN - cy,
                );
                let rough = 1.0 + 0.9 * (fbm(mx * 1.2 + 9.0, my * 1.2, 2, seed) - 0.5);
                let d = mx.hypot(my) * rough / r;
                let v = depth * (0.55 * (-d * d).exp() + 0.45 * step(1.1, 0.5, d));
                let cell = &mut plane.px[y * w + x];
                *cell = 1.0 - (1.0 - *cell) * (1.0 - v);
            }
        }
    }
    plane
}

struct Stain {
    at: [f32; 2],
    r: f32,
    seed: u32,
    deep: f32,
}

fn papered(
    piece: &Piece,
    scale: f32,
    planes: Vec<Plane>,
    pure: Vec<Plane>,
    lines: Planned,
) -> Rendered {
    let (w, h) = (planes[0].w, planes[0].h);
    let (Some(sheet), hurt) = (&piece.sheet, &piece.hurt) else {
        unreachable!("a mark without a sheet is drawn bare")
    };
    let mut dice = Dice::new(u64::from(piece.seed)).part("sheet");
    let seed = piece.seed;
    let rust = foxing(piece, w, h, scale);
    let stains: Vec<Stain> = (0..(hurt.stains * 4.0).ceil() as u32)
        .map(|_| Stain {
            at: [
                dice.between(-0.1, 1.1) * piece.w,
                dice.between(-0.1, 1.1) * piece.h,
            ],
            r: dice.between(0.12, 0.5) * piece.w.max(piece.h),
            seed: dice.seed(),
            deep: hurt.stains * dice.between(0.35, 1.0),
        })
        .collect();
    // Bites torn out of the edges: place, radius.
    let bites: Vec<([f32; 2], f32)> = (0..(hurt.tears * 9.0) as u32)
        .map(|_| {
            let along = dice.unit();
            let at = match dice.whole(0, 3) {
                0 => [along * piece.w, 0.0],
                1 => [along * piece.w, piece.h],
                2 => [0.0, along * piece.h],
                _ => [piece.w, along * piece.h],
            };
            (
                at,
                dice.between(0.02, 0.16) * piece.w.min(piece.h) * (0.5 + hurt.tears * 1.6),
            )
        })
        .collect();
    // Creases: a point, a direction, how sharp.
    let creases: Vec<([f32; 2], f32, f32)> = (0..hurt.creases)
        .map(|_| {
            (
                [dice.unit() * piece.w, dice.unit() * piece.h],
                dice.between(0.0, std::f32::consts::PI),
                dice.between(0.4, 1.0),
            )
        })
        .collect();
    let curl_at: [f32; 4] = std::array::from_fn(|_| dice.unit() * hurt.curl);
    let mut rgb = vec![[0.0; 3]; w * h];
    let mut alpha = vec![0f32; w * h];
    let mut height = vec![0f32; w * h];
    let mut keep: Vec<Vec<f32>> = vec![vec![0.0; w * h]; planes.len()];
    let rust_ink = crate::dice::colour(0xa8743a);
    let tide = crate::dice::colour(0xb99057);
    let browned = crate::dice::colour(0xc9a066);
    for i in 0..w * h {
        let (x, y) = (
            (i % w) as f32 / scale - MARGIN,
            (i / w) as f32 / scale - MARGIN,
        );
        let mut edge = inside(piece, sheet.shape, x, y);
        let cut_edge = edge + (fbm(x * 0.5, y * 0.5, 2, seed ^ 2) - 0.5) * 0.25;
        let wild = fbm(x * 0.22, y * 0.22, 4, seed ^ 3) - 0.5;
        let mut torn = 99.0f32;
        for ((cx, cy), loss) in [
            (0.0, 0.0),
            (piece.w, 0.0),
            (piece.w, piece.h),
            (0.0, piece.h),
        ]
        .iter()
        .zip(hurt.corners)
        {
            if loss > 0.0 {
                let d = ((x - cx).abs() + (y - cy).abs()) * 0.707 - loss;
                torn = torn.min(d + wild * loss * 0.9);
            }
        }
        for (at, r) in &bites {
            let d = (x - at[0]).hypot(y - at[1]);
            if d < r * 2.0 {
                torn = torn.min(d - r + wild * r * 1.3);
            }
        }
        edge = cut_edge.min(torn);
        let soft = 0.5 / scale;
        let cover = step(-soft, soft, edge) * sheet.cover;
        if cover <= 0.0 {
            continue;
        }
        // Paper.
        let cloud = fbm(x / 28.0, y / 28.0, 4, seed ^ 4);
        let fibre = noise(x * 7.0, y * 3.0, seed ^ 6) - 0.5;
        let grit = speck((x * 9.0) as i32, (y * 9.0) as i32, seed ^ 7);
        // Felt side of the paper: fibres across each other, and a fine tooth.
        let tooth = noise(x * 11.0, y * 11.0, seed ^ 9) - 0.5;
        let strand = step(
            0.80,
            0.97,
            noise(x * 1.3 + y * 0.4, y * 9.0 - x * 2.0, seed ^ 10),
        ) - step(0.80, 0.97, noise(x * 8.0 + y * 2.0, y * 1.2, seed ^ 13));
        let mott = fbm(x * 0.55, y * 0.55, 3, seed ^ 16) - 0.5;
        let mut paper = scaled(
            sheet.colour,
            0.88 + 0.18 * cloud + 0.05 * fibre + 0.045 * tooth + 0.035 * strand + 0.07 * mott,
        );
        let browning = (sheet.age
            * (0.24 + 0.75 * (-edge.max(0.0) / 5.0).exp() + 0.5 * (cloud - 0.4)))
            .clamp(0.0, 0.95);
        paper = crate::dice::times(paper, blend([1.0; 3], browned, browning));
        if grit > 0.994 {
            paper = scaled(paper, 0.72);
        }
        // Ink.
        let scar = step(
            1.0 - hurt.rubbed * 0.75,
            1.08 - hurt.rubbed * 0.75,
            fbm(x / 9.0, y / 9.0, 5, seed ^ 8) * 1.15 + 0.15 * fibre,
        );
        let rim = if torn < 90.0 {
            step(1.1, 0.2, torn - 0.4 * fibre)
        } else {
            0.0
        };
        let mut crack = 0.0f32;
        let mut fold = 0.0f32;
        for (p, a, sharp) in &creases {
            let off = (x - p[0]) * a.sin() - (y - p[1]) * a.cos()
                + (fbm(x * 0.1, y * 0.1, 2, seed ^ 12) - 0.5) * 3.0;
            crack = crack.max(sharp * step(0.22, 0.04, off.abs() + 0.12 * fibre));
            fold += sharp * 0.28 * (-(off / 0.7).powi(2)).exp();
        }
        let left = (1.0 - 0.93 * scar) * (1.0 - rim) * (1.0 - 0.8 * crack);
        paper = blend(paper, scaled(sheet.colour, 1.08), 0.25 * scar + 0.75 * rim);
        paper = scaled(paper, 1.0 + 0.10 * crack);
        let mut shown = paper;
        for (k, plane) in planes.iter().enumerate() {
            let d = plane.px[i] * left;
            keep[k][i] =
                left.min(1.0) * (plane.px[i] / pure[k].px[i].max(0.02)).min(1.0) * cover.min(1.0);
            if d > 0.0 {
                let ink = piece.inks[k].colour;
                for c in 0..3 {
                    shown[c] *= ink[c].max(0.004).powf(d.min(1.3) * 0.95);
                }
            }
        }
        // Stains lie over paper and ink.
        let r = rust.px[i];
        if r > 0.0 {
            shown = crate::dice::times(shown, blend([1.0; 3], rust_ink, r * 0.85));
        }
        for s in &stains {
            let f = (x - s.at[0]).hypot(y - s.at[1]) / s.r
                + (fbm(x / 11.0, y / 11.0, 4, s.seed) - 0.5) * 0.9;
            let body = step(1.0, 0.9, f) * (0.35 + 0.25 * cloud);
            let ring = (-((f - 0.97) / 0.035).powi(2)).exp() * 0.75;
            shown = crate::dice::times(
                shown,
                blend([1.0; 3], tide, (s.deep * (body + ring)).min(0.9)),
            );
        }
        let grime = hurt.dirt
            * step(
                0.35,
                0.85,
                fbm(x / 6.0, y / 6.0, 5, seed ^ 14) + 0.2 * (-edge.max(0.0) / 4.0).exp(),
            );
        shown = scaled(shown, 1.0 - 0.5 * grime - 0.12 * hurt.dirt);
        rgb[i] = shown;
        alpha[i] = cover;
        let mut lift = sheet.thickness * step(0.0, 0.15, edge)
            + (fbm(x / 18.0, y / 18.0, 3, seed ^ 15) - 0.5) * 0.35 * hurt.curl;
        for (k, (cx, cy)) in [
            (0.0, 0.0),
            (piece.w, 0.0),
            (piece.w, piece.h),
            (0.0, piece.h),
        ]
        .iter()
        .enumerate()
        {
            let d = (x - cx).hypot(y - cy);
            lift += curl_at[k] * 1.6 * (-(d / 9.0).powi(2)).exp();
        }
        height[i] = lift + fold + fibre * 0.012 + tooth * 0.010 + mott * 0.05;
    }
    let soaked = hurt.dirt * 0.3;
    let strength: Vec<f32> = piece.inks.iter().map(|k| k.strength).collect();
    let lines = seen(lines, &pure, scale, |k, i| {
        (keep[k][i] / strength[k].max(0.05)).min(1.0) * (1.0 - soaked)
    });
    Rendered {
        scale,
        w,
        h,
        rgb,
        alpha,
        height,
        lines,
        soaks: false,
    }
}
