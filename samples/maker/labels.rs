//! Printed labels in the layouts of their day.

use crate::dice::{Dice, colour};
use crate::drawing::Path;
use crate::fonts::Role;
use crate::ornament::{border, flourish, palette, swelled_rule};
use crate::piece::{Effect, Ink, Lay, Piece, Setting, Shape, Sheet};
use crate::world::Firm;

/// A row of a stacked label.
struct Row {
    text: String,
    role: Role,
    cap: f32,
    track: f32,
    after: f32,
    bend: bool,
    effect: Effect,
    rule: bool,
}

fn row(text: &str, role: Role, cap: f32, after: f32) -> Row {
    Row {
        text: text.to_owned(),
        role,
        cap,
        track: 0.04,
        after,
        bend: false,
        effect: Effect::Plain,
        rule: false,
    }
}

impl Row {
    fn track(mut self, t: f32) -> Self {
        self.track = t;
        self
    }
    fn bent(mut self) -> Self {
        self.bend = true;
        self
    }
    fn effect(mut self, e: Effect) -> Self {
        self.effect = e;
        self
    }
}

fn rule(after: f32) -> Row {
    Row {
        rule: true,
        ..row("", Role::Didone, 0.8, after)
    }
}

/// Sets rows in the middle of a label, spread over the height between `top` and `low`.
fn stack(piece: &mut Piece, rows: &[Row], top: f32, low: f32, side: f32, dice: &mut Dice) {
    let within = piece.w - 2.0 * side;
    let sag = |r: &Row| if r.bend { within * 0.104 } else { 0.0 };
    let total: f32 = rows.iter().map(|r| r.cap + r.after + sag(r)).sum::<f32>()
        - rows.last().map_or(0.0, |r| r.after);
    let arcs: f32 = rows.iter().map(&sag).sum();
    let room = low - top;
    let k = ((room - arcs) / (total - arcs)).min(1.25);
    let k_caps = k.min(1.12);
    let used: f32 = rows
        .iter()
        .map(|r| r.cap * k_caps + r.after * k + sag(r))
        .sum::<f32>();
    let mut y = top + (room - used + rows.last().map_or(0.0, |r| r.after * k)).max(0.0) / 2.0;
    let cx = piece.w / 2.0;
    let mut choices = std::collections::BTreeMap::new();
    for r in rows {
        let cap = r.cap * k_caps;
        y += cap + sag(r);
        if r.rule {
            piece.art(
                swelled_rule(
                    cx,
                    y - cap / 2.0,
                    within * dice.between(0.25, 0.45),
                    cap * 0.8,
                ),
                0,
            );
        } else {
            let choice = *choices.entry(r.role).or_insert_with(|| dice.bits());
            let mut s = Setting::new(&r.text, r.role, cap, cx, y)
                .choice(choice)
                .track(r.track)
                .within(within)
                .effect(r.effect)
                .unsteady(0.0);
            if r.bend {
                // The circle whose arc over a chord of the full width rises by the sag.
                let (a, b) = (within / 2.0, sag(r));
                s = s.bend((a * a + b * b) / (2.0 * b));
                s.y = y - sag(r);
                s.within = within;
            }
            piece.line(s);
        }
        y += r.after * k;
    }
}

fn capitals(text: &str) -> String {
    text.to_uppercase()
}

fn title(text: &str) -> String {
    text.split(' ')
        .map(|w| {
            let mut c = w.chars();
            match (w, c.next()) {
                ("and" | "of" | "to" | "in", _) | (_, None) => w.to_owned(),
                (_, Some(f)) => f.to_uppercase().collect::<String>() + c.as_str(),
            }
        })
        .collect::<Vec<_>>()
        .join(" ")
}

fn paper(dice: &mut Dice, era: u32) -> Sheet {
    let tones: &[u32] = match era {
        0 => &[0xe8dcc0, 0xdfd0ae, 0xe4d8bd],
        1 => &[0xe9dfc6, 0xd9c79c, 0xc8d2c0, 0xe0c7b4, 0xcfd3cf, 0xe6d4a2],
        _ => &[0xece4cf, 0xe2d8bc, 0xd7dcd6, 0xf0e9d8],
    };
    Sheet {
        colour: colour(*dice.pick(tones)),
        thickness: 0.14,
        shape: Shape::Rect,
        age: dice.between(0.25, 0.7),
        cover: 1.0,
    }
}

fn print_ink(dice: &mut Dice) -> Ink {
    let hex = *dice.pick(&[0x1c1815, 0x1c1815, 0x22191a, 0x15203a, 0x3a1c14]);
    Ink::new(Lay::Print, hex, dice.between(0.85, 1.0))
}

const FRAMER_GOODS: &[&[&str]] = &[
    &[
        "Picture Frames of every description",
        "made and re-gilt on the lowest terms",
    ],
    &[
        "Old Frames re-gilt equal to new.",
        "Pictures cleaned, lined and restored.",
    ],
    &[
        "Looking Glasses re-silvered.",
        "Cornices and Window Poles fitted.",
    ],
    &["MOUNTS CUT TO ANY SIZE", "Prints bleached and stretched"],
];

const COLOURMAN_GOODS: &[&[&str]] = &[
    &[
        "Manufacturers of Water Colours,",
        "Prepared Canvas, Panels & Millboards",
    ],
    &[
        "Every requisite for Drawing & Painting.",
        "Canvas stretched to any size",
    ],
    &[
        "ACADEMY BOARDS AND SKETCHING TABLETS",
        "Brushes, Oils and Varnishes",
    ],
];

/// A firm's label; `layout` 0 to 5 goes through the century.
pub fn trade(firm: &Firm, layout: u32, w: f32, h: f32, dice: &mut Dice) -> Piece {
    let era = match layout {
        0 | 1 => 0,
        2 | 3 => 1,
        _ => 2,
    };
    let mut sheet = paper(dice, era);
    let ink = print_ink(dice);
    sheet.shape = match layout {
        1 => *dice.pick(&[Shape::Octagon, Shape::Oval, Shape::Rect]),
        3 => *dice.pick(&[Shape::Rect, Shape::Octagon]),
        5 => Shape::Rounded,
        _ => Shape::Rect,
    };
    let oval = sheet.shape == Shape::Oval;
    let shape = sheet.shape;
    let mut p = Piece::on_sheet(w, h, sheet, ink, dice.seed());
    let goods = if firm.list == "colourmen" || firm.trade.contains("colour") {
        *dice.pick(COLOURMAN_GOODS)
    } else {
        *dice.pick(FRAMER_GOODS)
    };
    let u = h / 80.0;
    let name = capitals(&firm.style);
    let trade = capitals(&firm.trade);
    let at = format!("{},", firm.address);
    let town = capitals(&firm.town);
    let mut rows = match layout {
        0 => vec![
            row(
                dice.pick::<&str>(&["From", "At", "Made by"]),
                Role::Blackletter,
                5.0,
                4.0,
            ),
            row(&name, Role::Fat, 8.5, 4.0).track(0.08),
            row(
                &format!("{},", title(&firm.trade)),
                Role::DidoneItalic,
                4.4,
                4.0,
            ),
            rule(3.0),
            row(&at, Role::Didone, 4.2, 3.4),
            row(&format!("{town}."), Role::DidoneBold, 4.6, 4.0).track(0.28),
            row(goods[0], Role::DidoneItalic, 2.8, 2.6),
            row(goods[1], Role::DidoneItalic, 2.8, 2.6),
        ],
        1 => vec![
            row(&firm.style, Role::Copperplate, 9.0, 6.5),
            row(&trade, Role::Didone, 3.3, 4.0).track(0.16),
            row(&at, Role::Copperplate, 4.8, 4.4),
            row(&format!("{town}."), Role::Didone, 3.4, 2.0).track(0.3),
        ],
        2 => vec![
            row(&name, Role::ClarendonBold, 8.5, 4.5).bent(),
            row(&trade, Role::GrotesqueBold, 5.0, 3.6).track(0.08),
            rule(3.2),
            row(goods[0], Role::Clarendon, 2.9, 2.7),
            row(goods[1], Role::Clarendon, 2.9, 3.6),
            row(&capitals(&at), Role::DidoneBold, 4.0, 3.2).track(0.08),
            row(&format!("{town}."), Role::Slab, 5.2, 2.0).track(0.24),
        ],
        3 => vec![
            row(&name, Role::Slab, 9.0, 5.0)
                .effect(*dice.pick(&[Effect::Shaded, Effect::Outline, Effect::Plain]))
                .track(0.15),
            row(
                &format!("{},", title(&firm.trade)),
                Role::Blackletter,
                5.6,
                4.4,
            ),
            row(&capitals(&firm.address), Role::GrotesqueBold, 4.6, 3.0).track(0.12),
            row(&format!("{town}."), Role::Didone, 4.0, 3.6).track(0.34),
            rule(3.0),
            row(goods[0], Role::Didone, 2.7, 2.5),
            row(goods[1], Role::Didone, 2.7, 2.0),
        ],
        4 => vec![
            row(&firm.style, Role::Oldstyle, 7.5, 4.6),
            row(&title(&firm.trade), Role::DidoneItalic, 4.4, 4.4),
            row(&at, Role::Oldstyle, 3.8, 3.2),
            row(&town, Role::Oldstyle, 3.6, 3.6).track(0.25),
            row(
                &format!("Telephone {}", dice.whole(2, 9) * 100 + dice.whole(11, 87)),
                Role::Grotesque,
                2.5,
                2.0,
            ),
        ],
        _ => vec![
            row(&name, Role::GrotesqueBold, 8.5, 4.2).track(0.05),
            row(&trade, Role::Grotesque, 3.2, 3.6).track(0.10),
            row(&capitals(&firm.address), Role::Grotesque, 3.2, 3.0).track(0.06),
            row(&town, Role::GrotesqueBold, 4.4, 2.0).track(0.18),
        ],
    };
    for r in &mut rows {
        r.cap *= u;
        r.after *= u;
    }
    let no_rim = oval || shape == Shape::Octagon;
    let inset = border(
        &mut p,
        shape,
        if no_rim { 1 } else { dice.whole(0, 6) as u32 },
        dice,
    );
    let side = inset + w * if oval { 0.16 } else { 0.05 };
    let (mut top, low) = (
        inset + h * if oval { 0.12 } else { 0.05 },
        h - inset - h * if oval { 0.12 } else { 0.05 },
    );
    if (layout == 2 || layout == 3) && trade.contains("COLOUR") && dice.chance(0.6) {
        p.art(palette(w / 2.0, top + 6.0 * u, 7.5 * u), 0);
        top += 12.0 * u;
    }
    if layout == 1 {
        p.art(flourish(w / 2.0, h * 0.47, w * 0.42, h * 0.035), 0);
    }
    stack(&mut p, &rows, top, low, side, dice);
    let named = p.standing("printed_label", "");
    named.names(&firm.list, &firm.entry)
}

/// An exhibiting society's label with blanks filled in, in ink or by typewriter.
pub fn exhibition(
    firm: &Firm,
    artist: &str,
    work: &str,
    from: &str,
    price: &str,
    typed: bool,
    dice: &mut Dice,
) -> Piece {
    let (w, h) = (dice.between(98.0, 125.0), dice.between(66.0, 82.0));
    let ink = print_ink(dice);
    let sheet = paper(dice, 2);
    let mut p = Piece::on_sheet(w, h, sheet, ink, dice.seed());
    let fill_lay = if typed { Lay::Typed } else { Lay::Pen };
    let fill_hex = if typed {
        0x25222c
    } else {
        *dice.pick(&[0x3b2412, 0x1d2038, 0x2c1e16])
    };
    p.inks
        .push(Ink::new(fill_lay, fill_hex, dice.between(0.75, 1.0)));
    let inset = border(&mut p, Shape::Rect, *dice.pick(&[0u32, 1, 3]), dice);
    let (role, face) = (Role::Didone, dice.bits());
    let year = firm
        .from
        .get(..4)
        .and_then(|y| y.parse::<i32>().ok())
        .unwrap_or(1880)
        + dice.whole(2, 14);
    let cx = w / 2.0;
    let mut y = inset + 9.0;
    let head = *dice.pick(&[Role::DidoneBold, Role::ClarendonBold, Role::GrotesqueBold]);
    p.line(
        Setting::new(&format!("{}.", capitals(&firm.style)), head, 4.6, cx, y)
            .choice(dice.bits())
            .track(0.06)
            .within(w - 2.0 * inset - 8.0),
    );
    y += 6.4;
    if !firm.address.is_empty() {
        p.line(
            Setting::new(
                &format!("{}, {}.", firm.address, firm.town),
                Role::DidoneItalic,
                2.7,
                cx,
                y,
            )
            .choice(face)
            .within(w - 2.0 * inset - 8.0),
        );
        y += 5.6;
    }
    p.line(
        Setting::new(&format!("EXHIBITION {year}."), Role::Didone, 2.9, cx, y)
            .choice(face)
            .track(0.12),
    );
    y += 3.0;
    p.art(swelled_rule(cx, y, w * 0.3, 0.7), 0);
    let hand = dice.bits();
    let blanks = [
        ("Title", work),
        ("Artist", artist),
        ("Address", from),
        ("Price", price),
    ];
    let gap = ((h - inset - 3.5 - y) / blanks.len() as f32).min(11.0);
    for (prompt, fill) in blanks {
        y += gap;
        let left = inset + 4.5;
        p.line(
            Setting::new(prompt, role, 2.6, left, y)
                .choice(face)
                .left()
                .within(16.0),
        );
        let start = left + 18.0;
        dotted(&mut p, start, w - inset - 4.0, y + 0.9);
        let role = if typed { Role::Typewriter } else { Role::Hand };
        let cap = if typed { 2.7 } else { 4.6 };
        let mut s = Setting::new(
            fill,
            role,
            cap,
            start + dice.between(0.5, 3.0),
            y - dice.between(-0.2, 0.5),
        )
        .choice(hand)
        .left()
        .ink(1)
        .within(w - inset - start - 6.0);
        if typed {
            s = s.unsteady(0.25);
        } else {
            s = s.weight(0.09);
        }
        p.line(s);
    }
    p.standing("printed_label", "")
        .names(&firm.list, &firm.entry)
}

fn dotted(p: &mut Piece, x0: f32, x1: f32, y: f32) {
    let mut x = x0;
    let mut dots = Path::default();
    while x < x1 {
        dots.0.extend(Path::rect(x, y, 0.35, 0.3).0);
        x += 1.15;
    }
    p.art(dots, 0);
}

/// A dealer's label, its particulars typed or written.
pub fn gallery(firm: &Firm, artist: &str, work: &str, stock: &str, dice: &mut Dice) -> Piece {
    let (w, h) = (dice.between(88.0, 110.0), dice.between(52.0, 66.0));
    let ink = print_ink(dice);
    let sheet = paper(dice, 2);
    let mut p = Piece::on_sheet(w, h, sheet, ink, dice.seed());
    p.inks
        .push(Ink::new(Lay::Typed, 0x2a2634, dice.between(0.7, 1.0)));
    let inset = border(&mut p, Shape::Rect, *dice.pick(&[0u32, 1]), dice);
    let cx = w / 2.0;
    let face = dice.bits();
    let head = *dice.pick(&[Role::DidoneBold, Role::Slab, Role::Oldstyle, Role::Didone]);
    p.line(
        Setting::new(&capitals(&firm.style), head, 5.6, cx, inset + 10.0)
            .choice(dice.bits())
            .track(0.08)
            .within(w - 2.0 * inset - 8.0),
    );
    p.line(
        Setting::new(
            &title(&firm.trade),
            Role::DidoneItalic,
            3.0,
            cx,
            inset + 16.0,
        )
        .choice(face)
        .within(w - 24.0),
    );
    p.line(
        Setting::new(
            &format!("{}, {}", firm.address, firm.town),
            Role::Didone,
            2.8,
            cx,
            inset + 21.5,
        )
        .choice(face)
        .within(w - 18.0),
    );
    p.art(
        Path::rect(inset + 5.0, inset + 24.6, w - 2.0 * inset - 10.0, 0.3),
        0,
    );
    let (mut y, typed) = (inset + 31.5, dice.bits());
    for text in [artist.to_owned(), format!("\"{work}\""), stock.to_owned()] {
        p.line(
            Setting::new(&text, Role::Typewriter, 2.6, inset + 7.0, y)
                .choice(typed)
                .left()
                .ink(1)
                .unsteady(0.3)
                .within(w - 2.0 * inset - 12.0),
        );
        y += (h - inset - 28.0 - inset) / 3.4;
    }
    p.standing("printed_label", "")
        .names(&firm.list, &firm.entry)
}

/// A sale room's label: lot and date written in.
pub fn sale(firm: &Firm, lot: &str, day: &str, dice: &mut Dice) -> Piece {
    let (w, h) = (dice.between(62.0, 78.0), dice.between(44.0, 52.0));
    let sheet = paper(dice, 1);
    let ink = print_ink(dice);
    let mut p = Piece::on_sheet(w, h, sheet, ink, dice.seed());
    p.inks.push(Ink::new(Lay::Pen, 0x201c2a, 0.95));
    let inset = border(&mut p, Shape::Rect, *dice.pick(&[1u32, 2, 4]), dice);
    let cx = w / 2.0;
    let face = dice.bits();
    p.line(
        Setting::new(
            &capitals(&firm.style),
            Role::ClarendonBold,
            4.2,
            cx,
            inset + 8.0,
        )
        .choice(face)
        .track(0.05)
        .within(w - 2.0 * inset - 6.0),
    );
    p.line(
        Setting::new(
            &format!("{}, {}", firm.address, firm.town),
            Role::Didone,
            2.5,
            cx,
            inset + 13.2,
        )
        .choice(face)
        .within(w - 2.0 * inset - 5.0),
    );
    let hand = dice.bits();
    for (prompt, fill, y) in [("LOT", lot, h * 0.66), ("SALE", day, h * 0.86)] {
        p.line(
            Setting::new(prompt, Role::Grotesque, 2.8, inset + 5.0, y)
                .choice(face)
                .left(),
        );
        dotted(&mut p, inset + 16.0, w - inset - 4.0, y + 1.0);
        p.line(
            Setting::new(
                fill,
                Role::Hand,
                if prompt == "LOT" { 6.0 } else { 4.2 },
                inset + 20.0,
                y,
            )
            .choice(hand)
            .left()
            .ink(1)
            .weight(0.12)
            .within(w - inset - 26.0),
        );
    }
    p.standing("printed_label", "")
        .names(&firm.list, &firm.entry)
}
