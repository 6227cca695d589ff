//! Stamps, stencils, chalk, pencil and ink, manuscript labels, small gummed numbers, tape.

use crate::dice::{Dice, colour};
use crate::drawing::Path;
use crate::fonts::Role;
use crate::piece::{Align, Ink, Lay, Piece, Setting, Shape, Sheet};
use crate::world::Firm;

/// Room that written lines need, from their letters: mm a letter at a cap height of 1.
const LOOSE: f32 = 0.95;

fn stamp_ink(dice: &mut Dice) -> Ink {
    let hex = *dice.pick(&[0x1d1c2e, 0x2b234a, 0x1a1a1a, 0x5a1d28, 0x1c2f55]);
    Ink::new(Lay::Stamp, hex, dice.between(0.7, 1.0))
}

/// Oval trade stamp: name above, town below, trade between.
pub fn oval_stamp(firm: &Firm, w: f32, dice: &mut Dice) -> Piece {
    let h = w * 0.62;
    let mut p = Piece::bare(w, h, stamp_ink(dice), dice.seed());
    let (cx, cy) = (w / 2.0, h / 2.0);
    p.art(
        Path::ring(cx, cy, w / 2.0 - 0.5, h / 2.0 - 0.5, w * 0.012),
        0,
    );
    p.art(
        Path::ring(cx, cy, w / 2.0 - w * 0.035, h / 2.0 - w * 0.035, w * 0.006),
        0,
    );
    let face = dice.bits();
    let role = *dice.pick(&[Role::DidoneBold, Role::ClarendonBold, Role::Grotesque]);
    let (name, town) = (firm.style.to_uppercase(), firm.town.to_uppercase());
    let cap = w * 0.072;
    let r = w * 0.78;
    let words: Vec<&str> = firm.trade.split(", ").collect();
    let (what, street) = (words[0].to_uppercase(), firm.address.to_uppercase());
    for (text, role, cap, y, within, bend) in [
        (name, role, cap, 0.285, 0.62, r),
        (what, Role::Grotesque, cap * 0.62, 0.525, 0.74, 0.0),
        (street, Role::Grotesque, cap * 0.62, 0.645, 0.70, 0.0),
        (town, role, cap * 0.85, 0.845, 0.46, -r),
    ] {
        let line = Setting::new(&text, role, cap, cx, h * y)
            .choice(face)
            .track(0.1);
        p.line(line.within(w * within).bend(bend));
    }
    p.standing("stamp", "").names(&firm.list, &firm.entry)
}

/// Canvas maker's stamp in lines, ruled round or not.
pub fn block_stamp(firm: &Firm, w: f32, dice: &mut Dice) -> Piece {
    let h = w * 0.56;
    let hex = *dice.pick(&[0x1c1c20, 0x171b2c, 0x201814]);
    let mut p = Piece::bare(
        w,
        h,
        Ink::new(Lay::Stamp, hex, dice.between(0.75, 1.05)),
        dice.seed(),
    );
    let (cx, u) = (w / 2.0, h / 50.0);
    if dice.chance(0.5) {
        p.art(Path::rule_box(0.6, 0.6, w - 1.2, h - 1.2, 0.7), 0);
    }
    let face = dice.bits();
    let head = *dice.pick(&["PREPARED BY", "CANVAS FROM", "MANUFACTURED BY"]);
    let what = firm.trade.split(", ").next().unwrap_or("").to_uppercase();
    for (text, role, cap, y) in [
        (head.to_owned(), Role::Grotesque, 4.0, 9.0),
        (firm.style.to_uppercase(), Role::ClarendonBold, 7.2, 20.0),
        (what, Role::Grotesque, 4.0, 27.5),
        (firm.address.to_uppercase(), Role::Didone, 4.4, 35.5),
        (firm.town.to_uppercase(), Role::DidoneBold, 5.2, 44.5),
    ] {
        p.line(
            Setting::new(&text, role, cap * u, cx, y * u)
                .choice(face)
                .track(0.07)
                .within(w * 0.90),
        );
    }
    p.standing("stamp", "").names(&firm.list, &firm.entry)
}

/// A stencil cut in letters and figures.
pub fn stencil(lines: &[&str], cap: f32, dice: &mut Dice) -> Piece {
    let longest = lines.iter().map(|l| l.chars().count()).max().unwrap_or(1) as f32;
    let (w, h) = (
        longest * cap * 1.05 + cap,
        lines.len() as f32 * cap * 1.5 + cap * 0.7,
    );
    let hex = *dice.pick(&[0x1a1918, 0x161822, 0x3a1812]);
    let mut p = Piece::bare(
        w,
        h,
        Ink::new(Lay::Stamp, hex, dice.between(0.8, 1.1)),
        dice.seed(),
    );
    let face = dice.bits();
    for (i, text) in lines.iter().enumerate() {
        let y = cap * 1.25 + i as f32 * cap * 1.5;
        p.line(
            Setting::new(text, Role::Stencil, cap, w / 2.0, y)
                .choice(face)
                .track(0.08)
                .within(w * 0.96),
        );
    }
    p.standing("stencil", "")
}

fn scribbled(
    lines: &[&str],
    role: Role,
    cap: f32,
    ink: Ink,
    weight: f32,
    dice: &mut Dice,
) -> Piece {
    let longest = lines.iter().map(|l| l.chars().count()).max().unwrap_or(1) as f32;
    let lead = if role == Role::Hand { 1.75 } else { 1.45 };
    let (w, h) = (
        longest * cap * LOOSE + cap * 1.6,
        lines.len() as f32 * cap * lead + cap,
    );
    let seed = dice.seed();
    let mut p = Piece::bare(w, h, ink, seed);
    let (face, slope) = (dice.bits(), dice.between(-0.045, 0.02));
    for (i, text) in lines.iter().enumerate() {
        let y = cap * 1.4 + i as f32 * cap * lead;
        let x = cap * 0.6 + dice.between(0.0, cap * 0.8);
        let mut s = Setting::new(text, role, cap, x, y)
            .choice(face)
            .left()
            .slope(slope)
            .weight(weight)
            .within(w - x - cap * 0.3)
            .unsteady(0.8)
            .track(if role == Role::Scrawl { 0.14 } else { 0.0 });
        if role == Role::Typewriter {
            s = s.slope(0.0);
        }
        p.line(s);
    }
    p.standing("inscription", "")
}

pub fn chalk(lines: &[&str], cap: f32, dice: &mut Dice) -> Piece {
    let hex = *dice.pick(&[0xe4e2da, 0xe4e2da, 0xddd6c8, 0xc66f5a, 0x8fa9c4]);
    let strength = dice.between(0.75, 1.0);
    scribbled(
        lines,
        Role::Scrawl,
        cap,
        Ink::new(Lay::Chalk, hex, strength),
        cap * 0.035,
        dice,
    )
}

pub fn pencil(lines: &[&str], cap: f32, dice: &mut Dice) -> Piece {
    let strength = dice.between(0.7, 1.0);
    scribbled(
        lines,
        Role::Hand,
        cap,
        Ink::new(Lay::Pencil, 0x2b2a2c, strength),
        0.16,
        dice,
    )
}

pub fn pen(lines: &[&str], cap: f32, dice: &mut Dice) -> Piece {
    let hex = *dice.pick(&[0x1f130b, 0x121014, 0x2a190e]);
    let strength = dice.between(0.85, 1.1);
    scribbled(
        lines,
        Role::Hand,
        cap,
        Ink::new(Lay::Pen, hex, strength),
        0.22,
        dice,
    )
}

pub fn brush(lines: &[&str], cap: f32, dice: &mut Dice) -> Piece {
    let hex = *dice.pick(&[0x141110, 0x0f1018, 0x4a1710]);
    let mut p = scribbled(
        lines,
        Role::Scrawl,
        cap,
        Ink::new(Lay::Brush, hex, 1.0),
        cap * 0.03,
        dice,
    );
    for item in &mut p.items {
        if let crate::piece::Item::Line(s) = item {
            s.unsteady = 0.5;
        }
    }
    p
}

fn writing_paper(dice: &mut Dice) -> Sheet {
    let tone = *dice.pick(&[0xe6dcc2, 0xddd0b0, 0xd3d6d2, 0xe9e2cf]);
    Sheet {
        colour: colour(tone),
        thickness: 0.12,
        shape: Shape::Rect,
        age: dice.between(0.3, 0.8),
        cover: 1.0,
    }
}

/// A label written by hand.
pub fn manuscript(lines: &[&str], w: f32, dice: &mut Dice) -> Piece {
    let hex = *dice.pick(&[0x3a2412, 0x2c1c10, 0x1b1e34]);
    let cap = (w / 17.0).clamp(4.0, 6.5);
    let h = lines.len() as f32 * cap * 1.95 + cap * 1.8;
    let sheet = writing_paper(dice);
    let strength = dice.between(0.75, 1.0);
    let mut p = Piece::on_sheet(w, h, sheet, Ink::new(Lay::Pen, hex, strength), dice.seed());
    let (face, slope) = (dice.bits(), dice.between(-0.02, 0.012));
    let middle = dice.chance(0.4);
    for (i, text) in lines.iter().enumerate() {
        let y = cap * 2.1 + i as f32 * cap * 1.95;
        let mut s = Setting::new(
            text,
            Role::Hand,
            cap,
            w * 0.07 + dice.between(0.0, w * 0.05),
            y,
        )
        .choice(face)
        .left()
        .slope(slope)
        .weight(0.10)
        .within(w * 0.86);
        if middle {
            s.align = Align::Centre;
            s.x = w / 2.0;
        }
        p.line(s);
    }
    p.standing("written_label", "")
}

/// A typed slip.
pub fn typed(lines: &[&str], w: f32, dice: &mut Dice) -> Piece {
    let cap = (w / 34.0).clamp(2.1, 2.9);
    let h = lines.len() as f32 * cap * 2.1 + cap * 3.2;
    let hex = *dice.pick(&[0x22202a, 0x2a2545, 0x302022]);
    let sheet = writing_paper(dice);
    let strength = dice.between(0.7, 1.0);
    let mut p = Piece::on_sheet(
        w,
        h,
        sheet,
        Ink::new(Lay::Typed, hex, strength),
        dice.seed(),
    );
    let face = dice.bits();
    for (i, text) in lines.iter().enumerate() {
        let y = cap * 2.7 + i as f32 * cap * 2.1;
        p.line(
            Setting::new(text, Role::Typewriter, cap, w * 0.08, y)
                .choice(face)
                .left()
                .unsteady(0.3)
                .within(w * 0.86),
        );
    }
    p.standing("written_label", "")
}

/// A small gummed number, printed or written.
pub fn number(text: &str, dice: &mut Dice) -> Piece {
    let w = dice.between(22.0, 30.0);
    let mut sheet = writing_paper(dice);
    sheet.shape = *dice.pick(&[Shape::Toothed, Shape::Octagon, Shape::Rounded]);
    if dice.chance(0.3) {
        sheet.colour = colour(0xc45a48);
    }
    let h = w * 0.72;
    let mut p = Piece::on_sheet(w, h, sheet, Ink::new(Lay::Pen, 0x1c1820, 1.0), dice.seed());
    p.art(Path::rule_box(1.6, 1.6, w - 3.2, h - 3.2, 0.35), 0);
    let role = *dice.pick(&[Role::Fat, Role::Hand, Role::DidoneBold]);
    p.line(
        Setting::new(text, role, h * 0.40, w / 2.0, h * 0.69)
            .choice(dice.bits())
            .within(w * 0.74)
            .weight(if role == Role::Hand { 0.15 } else { 0.0 }),
    );
    p.standing("written_label", "")
}

/// A strip of gummed paper or yellowed clear tape, nothing on it.
pub fn tape(w: f32, h: f32, clear: bool, dice: &mut Dice) -> Piece {
    let (tone, cover) = if clear {
        (0xc99a4a, 0.62)
    } else {
        (0xa88252, 1.0)
    };
    let sheet = Sheet {
        colour: colour(tone),
        thickness: 0.09,
        shape: Shape::Rect,
        age: 0.3,
        cover,
    };
    let mut p = Piece::on_sheet(
        w,
        h,
        sheet,
        Ink::new(Lay::Print, 0x202020, 1.0),
        dice.seed(),
    );
    p.hurt.rubbed = 0.1;
    p.hurt.tears = 0.25;
    p
}

/// What is left of a label that carries nothing any more.
pub fn scrap(w: f32, h: f32, dice: &mut Dice) -> Piece {
    let sheet = writing_paper(dice);
    let mut p = Piece::on_sheet(
        w,
        h,
        sheet,
        Ink::new(Lay::Print, 0x202020, 1.0),
        dice.seed(),
    );
    p.hurt.tears = 1.0;
    p.hurt.rubbed = 0.55;
    p.hurt.dirt = 0.4;
    p.hurt.corners = std::array::from_fn(|_| dice.between(0.1, 0.5) * h);
    p
}
