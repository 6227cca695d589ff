//! Backs made up from a seed, and the wear and the light that both these and the story's share.

use crate::Photo;
use crate::back::{Back, Fitting, Frame, Support};
use crate::camera::Shot;
use crate::crowd;
use crate::dice::{Dice, colour};
use crate::labels;
use crate::materials::{Ground, Wood};
use crate::piece::Piece;
use crate::surface::{Light, Surface};
use crate::world::{JOTTINGS, OWNERS, TITLES, World};
use crate::written;

/// Wear of a mark: 0 as new, 1 barely there.
pub fn worn(mut p: Piece, level: f32, dice: &mut Dice) -> Piece {
    let l = level;
    let mut some = |k: f32| (l * k * dice.between(0.3, 1.2)).clamp(0.0, 1.0);
    p.hurt.foxing = some(0.9);
    p.hurt.stains = some(0.8);
    p.hurt.tears = (some(0.9) - 0.12).max(0.0);
    p.hurt.rubbed = (some(0.75) - 0.05).clamp(0.0, 0.62);
    p.hurt.dirt = some(0.7);
    p.hurt.curl = some(1.2);
    p.hurt.creases = (l * dice.between(0.0, 4.5)) as u32;
    let least = p.w.min(p.h);
    p.hurt.corners = std::array::from_fn(|_| {
        if dice.chance(l * 0.5) {
            least * dice.between(0.05, 0.10 + 0.35 * l)
        } else {
            0.0
        }
    });
    let fade = 1.0 - l * dice.between(0.15, 0.62);
    for ink in &mut p.inks {
        ink.strength *= fade;
    }
    if let Some(sheet) = &mut p.sheet {
        sheet.age = (sheet.age + 0.55 * l).min(1.25);
    } else {
        p.hurt.rubbed = (l * dice.between(0.15, 0.75)).min(0.6);
    }
    p
}

/// Light from a window or a lamp on one side.
pub fn daylight(back: &Back, dice: &mut Dice) -> Light {
    let azimuth = *dice.pick(&[200.0f32, 225.0, 250.0, 290.0, 315.0]) + dice.between(-12.0, 12.0);
    Light {
        azimuth,
        elevation: dice.between(38.0, 58.0),
        ambient: dice.between(0.42, 0.6),
        centre: [
            back.w * (0.5 + 0.5 * azimuth.to_radians().cos()),
            back.h * (0.5 + 0.5 * azimuth.to_radians().sin()),
        ],
        reach: back.w.max(back.h) * dice.between(1.2, 2.4),
        colour: [1.0, dice.between(0.96, 1.0), dice.between(0.90, 1.02)],
        thrown: None,
        glare: None,
        ultraviolet: false,
    }
}

/// Light that rakes over the surface.
pub fn raking(back: &Back, azimuth: f32, dice: &mut Dice) -> Light {
    let a = azimuth.to_radians();
    Light {
        azimuth,
        elevation: dice.between(13.0, 19.0),
        ambient: 0.22,
        centre: [
            back.w * (0.5 + 0.75 * a.cos()),
            back.h * (0.5 + 0.75 * a.sin()),
        ],
        reach: back.w.max(back.h) * 1.1,
        colour: [1.05, 0.95, 0.80],
        thrown: None,
        glare: None,
        ultraviolet: false,
    }
}

/// Unsteadiness of a hand-held camera, by grade.
pub fn handheld(mut s: Shot, grade: &str, dice: &mut Dice) -> Shot {
    let k = match grade {
        "easy" => 0.45,
        "medium" => 1.0,
        _ => 1.7,
    };
    s.roll += dice.between(-1.6, 1.6) * k;
    s.pitch = dice.between(-6.0, 6.0) * k;
    s.yaw = dice.between(-6.0, 6.0) * k;
    s.blur = 0.62 + 0.22 * k * dice.unit();
    s.defocus = 0.9 * k * dice.unit();
    s.shake = if grade == "hard" {
        dice.between(0.0, 2.2)
    } else {
        0.0
    };
    s.shake_angle = dice.between(0.0, 180.0);
    s.exposure = dice.between(0.92, 1.12) - 0.06 * (k - 1.0);
    s.warmth = dice.between(-0.15, 0.35) * k;
    s.grain = 0.75 + 0.6 * k;
    s.vignette = dice.between(0.1, 0.35);
    s.seed = dice.bits();
    s
}

/// A shot of the whole back, with some of what it lies on.
pub fn whole(back: &Back, megapixels: f32, turned: bool) -> Shot {
    let (mut w, mut h) = match megapixels as u32 {
        12 => (4032, 3024),
        8 => (3264, 2448),
        5 => (2592, 1944),
        _ => (2048, 1536),
    };
    if (back.h > back.w) != turned {
        std::mem::swap(&mut w, &mut h);
    }
    let (bw, bh) = if turned {
        (back.h, back.w)
    } else {
        (back.w, back.h)
    };
    let across = (bw * 1.10).max(bh * 1.10 * w as f32 / h as f32);
    Shot::new(w, h, [back.w / 2.0, back.h / 2.0], across)
}

/// A close-up of one mark.
pub fn close(p: &Piece, megapixels: f32, room: f32) -> Shot {
    let (w, h) = match megapixels as u32 {
        8 => (3264, 2448),
        5 => (2592, 1944),
        _ => (2048, 1536),
    };
    let across = (p.w * room).max(p.h * room * w as f32 / h as f32);
    let mut s = Shot::new(w, h, p.at, across);
    s.roll = -p.angle;
    s
}

pub fn tell(world: &World, seed: u64, count: usize) -> Result<(Vec<Back>, Vec<Photo>), String> {
    let dice = Dice::new(seed);
    let (mut backs, mut photos): (Vec<Back>, Vec<Photo>) = (Vec::new(), Vec::new());
    while photos.len() < count {
        let n = backs.len();
        let mut own = dice.part(&format!("back {n}"));
        let grade = *own.pick(&["easy", "medium", "medium", "hard"]);
        let mut back = make_up(world, grade, &mut own);
        crowd::crowd(world, grade, &mut back, &mut own.part("crowd"));
        let take =
            |name: String, whole: bool, shot: Shot, own: &mut Dice, photos: &mut Vec<Photo>| {
                if photos.len() < count {
                    let mut light = if own.chance(0.2) {
                        raking(&back, own.between(0.0, 360.0), own)
                    } else {
                        daylight(&back, own)
                    };
                    if grade != "easy" && own.chance(0.3) {
                        light.thrown = Some((
                            [back.w * own.unit(), back.h * own.unit()],
                            own.between(0.0, 6.2),
                            own.between(0.3, 0.6),
                        ));
                    }
                    let shot = handheld(shot, grade, own);
                    photos.push(Photo {
                        name,
                        picture: back.slug.to_owned(),
                        grade,
                        whole,
                        back: n,
                        shot,
                        light,
                    });
                }
            };
        let size = *own.pick(&[12.0f32, 8.0, 8.0, 5.0]);
        let mut shot = whole(&back, size, false);
        match own.whole(0, 9) {
            0 => shot.roll = 180.0,
            1 => {
                shot = whole(&back, size, true);
                shot.roll = 90.0;
            }
            2 => shot.orientation = 6,
            _ => {}
        }
        take(
            format!("s{seed}-{n:03}-whole"),
            true,
            shot,
            &mut own,
            &mut photos,
        );
        for (i, p) in back.pieces.iter().enumerate() {
            if p.standing.names && own.chance(0.5) {
                let megapixels = *own.pick(&[5.0, 3.0]);
                let room = own.between(1.15, 1.5);
                take(
                    format!("s{seed}-{n:03}-close-{i}"),
                    false,
                    close(p, megapixels, room),
                    &mut own,
                    &mut photos,
                );
            }
        }
        backs.push(back);
    }
    Ok((backs, photos))
}

/// Puts a mark where it overlaps none that is there already, if it can.
pub fn find_room(
    pieces: &[Piece],
    p: Piece,
    area: [f32; 4],
    angle: f32,
    dice: &mut Dice,
) -> Option<Piece> {
    for _ in 0..60 {
        let q = p.clone().placed(
            dice.between(area[0], area[2]),
            dice.between(area[1], area[3]),
            angle,
        );
        let r = Surface::reach(&q);
        let inside = r[0] > area[0] && r[1] > area[1] && r[2] < area[2] && r[3] < area[3];
        let free = pieces.iter().all(|o| {
            let s = Surface::reach(o);
            r[2] < s[0] || r[0] > s[2] || r[3] < s[1] || r[1] > s[3]
        });
        if inside && free {
            return Some(q);
        }
    }
    None
}

pub fn make_up(world: &World, grade: &'static str, dice: &mut Dice) -> Back {
    let level: f32 = match grade {
        "easy" => 0.18,
        "medium" => 0.45,
        _ => 0.8,
    };
    let (mut w, mut h) = *dice.pick(&[
        (406.0f32, 305.0f32),
        (457.0, 356.0),
        (508.0, 406.0),
        (610.0, 508.0),
        (356.0, 254.0),
    ]);
    if dice.chance(0.3) {
        std::mem::swap(&mut w, &mut h);
    }
    let support = match dice.whole(0, 3) {
        0 => Support::Canvas {
            bar: dice.between(48.0, 62.0),
            cross: h > 450.0,
            wood: *dice.pick(&[Wood::Pine, Wood::OldPine]),
            tone: colour(*dice.pick(&[0xae956c, 0x9c8258, 0xbda880])),
        },
        1 => Support::Board {
            tone: colour(*dice.pick(&[0x7d5f41, 0x8a7050, 0x6b5540])),
            pulp: 0.3,
        },
        2 => Support::Board {
            tone: colour(*dice.pick(&[0x9c907c, 0x8e867a, 0xa89672])),
            pulp: 1.0,
        },
        _ => Support::Panel {
            wood: *dice.pick(&[Wood::Oak, Wood::Mahogany, Wood::Pine]),
            bevel: dice.between(14.0, 30.0),
            upright: h > w,
        },
    };
    let framed = dice.chance(0.7);
    let frame = framed.then(|| Frame {
        rail: dice.between(48.0, 76.0),
        wood: *dice.pick(&[Wood::OldPine, Wood::Pine, Wood::Poplar]),
        slip: if dice.chance(0.3) { 9.0 } else { 0.0 },
    });
    let border = frame.as_ref().map_or(0.0, |f| f.rail + f.slip);
    let backing = (framed && dice.chance(0.25)).then(|| dice.between(0.0, 0.6) * level.max(0.3));
    let mut back = Back {
        slug: "made-up",
        w: w + 2.0 * border,
        h: h + 2.0 * border,
        frame,
        support,
        backing,
        below: Vec::new(),
        pieces: Vec::new(),
        above: Vec::new(),
        ground: *dice.pick(&[
            Ground::Felt,
            Ground::Table,
            Ground::Paper,
            Ground::Blanket,
            Ground::Concrete,
            Ground::Carpet,
        ]),
        seed: dice.seed(),
        dirt: level * dice.between(0.3, 1.0),
    };
    let bar = if let Support::Canvas { bar, .. } = back.support {
        bar
    } else {
        0.0
    };
    let [x0, y0, x1, y1] = back.inner();
    let field = if backing.is_some() {
        [20.0, 20.0, back.w - 20.0, back.h - 20.0]
    } else {
        [
            x0 + bar + 6.0,
            y0 + bar + 6.0,
            x1 - bar - 6.0,
            y1 - bar - 6.0,
        ]
    };
    let artist = world.artist(dice);
    let work = *dice.pick(TITLES);
    let owner = *dice.pick(OWNERS);
    let mut wanted: Vec<Piece> = Vec::new();
    for _ in 0..dice.whole(1, 2) {
        let list = *dice.pick(&["framers", "colourmen"]);
        let firm = world.any(list, dice);
        let (lw, lh) = (dice.between(98.0, 140.0), dice.between(64.0, 88.0));
        let layout = dice.whole(0, 5) as u32;
        wanted.push(labels::trade(&firm, layout, lw, lh, dice));
    }
    if dice.chance(0.6) {
        let firm = world.any("exhibitions", dice);
        let (place, price) = (
            owner.1,
            *dice.pick(&["£12 12s", "£8. 8. 0", "20 gns", "N.F.S.", "£31 10s"]),
        );
        let typed = dice.chance(0.3);
        wanted.push(labels::exhibition(
            &firm,
            &artist.style,
            work,
            place,
            price,
            typed,
            dice,
        ));
    }
    if dice.chance(0.35) {
        let firm = world.any("retailers", dice);
        let stock = format!("No. {}", dice.whole(112, 9871));
        wanted.push(labels::gallery(&firm, &artist.style, work, &stock, dice));
    }
    if dice.chance(0.35) {
        let firm = world.any("sale_rooms", dice);
        let (lot, day) = (
            dice.whole(3, 399).to_string(),
            format!("{} June {}", dice.whole(2, 29), dice.whole(1875, 1930)),
        );
        wanted.push(labels::sale(&firm, &lot, &day, dice));
    }
    if dice.chance(0.4) {
        let firm = world.any("colourmen", dice);
        let wide = dice.between(80.0, 125.0);
        wanted.push(if dice.chance(0.5) {
            written::oval_stamp(&firm, wide, dice)
        } else {
            written::block_stamp(&firm, wide, dice)
        });
    }
    if dice.chance(0.5) {
        let by = format!("by {}", artist.style);
        wanted.push(
            written::pen(&[work, &by], dice.between(8.0, 14.0), dice)
                .names("artists", &artist.entry),
        );
    }
    if dice.chance(0.4) {
        wanted.push(written::manuscript(
            &["Lent by", owner.0, owner.1],
            dice.between(85.0, 115.0),
            dice,
        ));
    }
    for p in wanted {
        let angle = dice.between(-3.5, 3.5) + if dice.chance(0.06) { 180.0 } else { 0.0 };
        let p = worn(p, level * dice.between(0.5, 1.2), dice);
        back.pieces
            .extend(find_room(&back.pieces, p, field, angle, dice));
    }
    for _ in 0..dice.whole(1, 3) {
        let n = dice.whole(2, 980).to_string();
        let jot = *dice.pick(JOTTINGS);
        let p = match dice.whole(0, 4) {
            0 | 1 => written::chalk(&[&n], dice.between(22.0, 48.0), dice),
            2 => written::pencil(&[jot], dice.between(7.0, 12.0), dice),
            3 if dice.chance(0.4) => written::typed(
                &[&format!("INV. {n}"), &artist.style, work],
                dice.between(60.0, 84.0),
                dice,
            ),
            3 => written::stencil(&[&n], dice.between(12.0, 20.0), dice),
            _ => written::number(&n, dice),
        };
        let p = worn(p, level, dice);
        let (angle, on_rail) = (
            *dice.pick(&[0.0f32, 0.0, -90.0, 90.0]) + dice.between(-4.0, 4.0),
            dice.chance(0.4) && framed,
        );
        let area = if on_rail {
            [4.0, 4.0, back.w - 4.0, back.h - 4.0]
        } else {
            field
        };
        back.pieces
            .extend(find_room(&back.pieces, p, area, angle, dice));
    }
    if framed {
        let r = border * 0.5;
        back.above.push(Fitting::Eye {
            at: [r, back.h * 0.3],
        });
        back.above.push(Fitting::Eye {
            at: [back.w - r, back.h * 0.3],
        });
    }
    for _ in 0..(level * 14.0) as u32 {
        let at = [dice.unit() * back.w, dice.unit() * back.h];
        back.above.push(Fitting::Hole {
            at,
            r: dice.between(0.5, 0.9),
        });
    }
    back
}
