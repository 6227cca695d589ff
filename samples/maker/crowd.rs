//! What else is on a made-up back: writing and small labels on rails and bars, numbers set wide, labels
//! that bridge two parts, labels over labels, and fittings that are no marks.

use crate::back::{Back, Fitting, Support};
use crate::chance::{find_room, worn};
use crate::dice::Dice;
use crate::early::brads;
use crate::labels;
use crate::piece::Piece;
use crate::places;
use crate::surface::Surface;
use crate::world::{JOTTINGS, World};
use crate::written;

const SIZES: &[(u32, u32)] = &[
    (24, 18),
    (30, 25),
    (14, 12),
    (36, 28),
    (18, 14),
    (50, 40),
    (21, 17),
];

/// A few letters or figures, set apart.
fn sign(dice: &mut Dice) -> String {
    let gap = if dice.chance(0.35) { "  " } else { " " };
    let letter = char::from(b'A' + dice.whole(0, 25) as u8);
    match dice.whole(0, 5) {
        0 | 1 => {
            let (a, b) = *dice.pick(SIZES);
            format!("{a}{gap}x{gap}{b}")
        }
        2 => format!("{letter}{gap}{}", dice.whole(1, 99)),
        3 => format!("No{gap}{}", dice.whole(1, 300)),
        4 => format!("Lot{gap}{}", dice.whole(1, 400)),
        _ => format!("{}{gap}{}", dice.whole(1, 30), dice.whole(1, 12)),
    }
}

/// Something written, its letters at most `most` mm high.
fn jotted(most: f32, dice: &mut Dice) -> Piece {
    let text = sign(dice);
    let jot = *dice.pick(JOTTINGS);
    match dice.whole(0, 6) {
        0 | 1 => written::chalk(&[&text], dice.between(14.0, 40.0).min(most), dice),
        2 => written::stencil(&[&text], dice.between(9.0, 18.0).min(most), dice),
        3 => written::brush(&[&text], dice.between(18.0, 34.0).min(most), dice),
        4 => written::pencil(&[&text], dice.between(9.0, 16.0).min(most), dice),
        5 => written::pencil(&[jot], dice.between(6.5, 11.0).min(most), dice),
        _ => written::pen(&[jot], dice.between(7.0, 11.0).min(most), dice),
    }
}

/// A small label that goes on a rail or a bar of this width.
fn small(world: &World, wide: f32, dice: &mut Dice) -> Piece {
    let n = dice.whole(1, 400).to_string();
    match dice.whole(0, 3) {
        0 => written::number(&n, dice),
        1 => written::typed(
            &[&format!("INV. {n}"), *dice.pick(JOTTINGS)],
            dice.between(50.0, 80.0),
            dice,
        ),
        _ => {
            let list = *dice.pick(&["framers", "retailers"]);
            let firm = world.any(list, dice);
            let h = (wide - 8.0).clamp(30.0, 56.0);
            let layout = dice.whole(0, 5) as u32;
            labels::trade(&firm, layout, h * dice.between(1.5, 1.9), h, dice)
        }
    }
}

/// The four rails or bars of this width within a box, and which way each runs.
fn rails([x0, y0, x1, y1]: [f32; 4], wide: f32) -> [([f32; 4], bool); 4] {
    [
        ([x0, y0, x1, y0 + wide], false),
        ([x0, y1 - wide, x1, y1], false),
        ([x0, y0, x0 + wide, y1], true),
        ([x1 - wide, y0, x1, y1], true),
    ]
}

/// Adds to a made-up back, and settles what everything on it lies on.
pub fn crowd(world: &World, grade: &str, back: &mut Back, dice: &mut Dice) {
    let level: f32 = match grade {
        "easy" => 0.15,
        "medium" => 0.4,
        _ => 0.75,
    };
    let inner = back.inner();
    let bar = match back.support {
        Support::Canvas { bar, .. } => Some(bar),
        _ => None,
    };
    let rail = back.frame.as_ref().map(|f| f.rail);
    fittings(back, dice);
    bridging(world, level, back, bar, dice);
    let whole = [0.0, 0.0, back.w, back.h];
    for (area, wide, often) in [(whole, rail, 0.65), (inner, bar, 0.75)] {
        let Some(wide) = wide else { continue };
        for (side, upright) in rails(area, wide) {
            if !dice.chance(often) {
                continue;
            }
            let p = if dice.chance(0.6) {
                jotted(wide * 0.42, dice)
            } else {
                small(world, wide, dice)
            };
            let along = match (upright, p.sheet.is_some() && dice.chance(0.5)) {
                (true, false) => *dice.pick(&[90.0f32, -90.0]),
                _ => 0.0,
            };
            let angle = along + dice.between(-3.0, 3.0);
            let p = worn(p, level * dice.between(0.4, 1.2), dice);
            // A little over the edge of its bar is as people do it.
            let d = 3.0;
            let room = [side[0] - d, side[1] - d, side[2] + d, side[3] + d];
            back.pieces
                .extend(find_room(&back.pieces, p, room, angle, dice));
        }
    }
    let b = bar.unwrap_or(0.0) + 5.0;
    let field = [inner[0] + b, inner[1] + b, inner[2] - b, inner[3] - b];
    for _ in 0..dice.whole(0, 2) {
        let p = worn(jotted(44.0, dice), level * dice.between(0.4, 1.2), dice);
        let angle = *dice.pick(&[0.0f32, 0.0, 0.0, -90.0, 90.0, 180.0]) + dice.between(-9.0, 9.0);
        back.pieces
            .extend(find_room(&back.pieces, p, field, angle, dice));
    }
    over(world, level, back, dice);
    if dice.chance(0.3) {
        let (w, h) = (dice.between(50.0, 90.0), dice.between(30.0, 56.0));
        let p = written::scrap(w, h, dice);
        let angle = dice.between(-10.0, 10.0);
        back.pieces
            .extend(find_room(&back.pieces, p, field, angle, dice));
    }
    let mut pieces = std::mem::take(&mut back.pieces);
    pieces.iter_mut().for_each(|p| places::settle(back, p));
    back.pieces = pieces;
}

/// A label over the joint of two parts.
fn bridging(world: &World, level: f32, back: &mut Back, bar: Option<f32>, dice: &mut Dice) {
    let [x0, y0, x1, y1] = back.inner();
    for _ in 0..2 {
        // Where the frame ends and the support or the stretcher begins.
        if back.frame.is_none() || !dice.chance(0.45) {
            continue;
        }
        let list: &str = dice.pick::<&str>(&["framers", "colourmen", "retailers"]);
        let firm = world.any(list, dice);
        let h = dice.between(56.0, 82.0).min(2.0 * bar.unwrap_or(60.0));
        let layout = dice.whole(0, 5) as u32;
        let p = labels::trade(&firm, layout, h * dice.between(1.35, 1.7), h, dice);
        let p = worn(p, level * dice.between(0.4, 1.1), dice);
        let off = dice.between(-0.28, 0.28) * h;
        let (x, y) = match dice.whole(0, 3) {
            0 => (dice.between(x0 + 70.0, x1 - 70.0), y0 + off),
            1 => (dice.between(x0 + 70.0, x1 - 70.0), y1 + off),
            2 => (x0 + off, dice.between(y0 + 50.0, y1 - 50.0)),
            _ => (x1 + off, dice.between(y0 + 50.0, y1 - 50.0)),
        };
        let p = p.placed(x, y, dice.between(-3.0, 3.0));
        let r = Surface::reach(&p);
        let free = back.pieces.iter().all(|o| {
            let s = Surface::reach(o);
            r[2] < s[0] || r[0] > s[2] || r[3] < s[1] || r[1] > s[3]
        });
        let on = r[0] > 1.0 && r[1] > 1.0 && r[2] < back.w - 1.0 && r[3] < back.h - 1.0;
        if free && on {
            back.pieces.push(p);
        }
    }
}

/// A label pasted over part of another.
fn over(world: &World, level: f32, back: &mut Back, dice: &mut Dice) {
    if !dice.chance(0.35) {
        return;
    }
    let under: Vec<usize> = (0..back.pieces.len())
        .filter(|&i| back.pieces[i].sheet.is_some() && back.pieces[i].w > 70.0)
        .collect();
    if under.is_empty() {
        return;
    }
    let under = back.pieces[*dice.pick(&under)].clone();
    let firm = world.any("sale_rooms", dice);
    let lot = dice.whole(3, 399).to_string();
    let p = if dice.chance(0.5) {
        labels::sale(&firm, &lot, "9 March 1907", dice)
    } else {
        small(world, 48.0, dice)
    };
    let p = worn(p, level, dice);
    let (sx, sy) = (
        if dice.chance(0.5) { 1.0 } else { -1.0 },
        if dice.chance(0.5) { 1.0 } else { -1.0 },
    );
    let at = [
        under.at[0] + sx * (under.w + p.w) * dice.between(0.26, 0.44),
        under.at[1] + sy * (under.h + p.h) * dice.between(0.20, 0.40),
    ];
    let p = p.placed(at[0], at[1], dice.between(-9.0, 9.0));
    let r = Surface::reach(&p);
    if r[0] > 2.0 && r[1] > 2.0 && r[2] < back.w - 2.0 && r[3] < back.h - 2.0 {
        back.pieces.push(p);
    }
}

/// Tape over the joint, brads, a wire, paler wood where something was.
fn fittings(back: &mut Back, dice: &mut Dice) {
    let [x0, y0, x1, y1] = back.inner();
    if back.frame.is_some() && dice.chance(0.4) {
        brads(back, dice);
    }
    if back.frame.is_some() && dice.chance(0.25) {
        let h = (y1 - y0) * dice.between(0.3, 0.6);
        let top = dice.between(y0, y1 - h);
        for x in [x0 - 14.0, x1 - 20.0] {
            back.below.push(Fitting::Tape {
                area: [x, top, x + 34.0, top + h],
            });
        }
    }
    if back.frame.is_some() && dice.chance(0.3) {
        back.above.push(Fitting::Wire {
            from: [x0 * 0.5 + 6.0, back.h * 0.3],
            to: [back.w - x0 * 0.5 - 6.0, back.h * 0.3],
            sag: dice.between(-14.0, -4.0),
        });
    }
    if dice.chance(0.2) {
        let (w, h) = (dice.between(60.0, 100.0), dice.between(35.0, 60.0));
        let (x, y) = (dice.between(x0, x1 - w), dice.between(y0, y1 - h));
        back.below.push(Fitting::Ghost {
            area: [x, y, x + w, y + h],
        });
    }
}
