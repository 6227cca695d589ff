//! The story that the committed samples tell: seven pictures that passed through one invented county.

use crate::Photo;
use crate::back::{Back, Fitting, Frame, Support};
use crate::camera::Shot;
use crate::chance::{close, daylight, handheld, raking, whole, worn};
use crate::dice::{Dice, colour};
use crate::labels;
use crate::materials::{Ground, Wood};
use crate::piece::Piece;
use crate::surface::Light;
use crate::world::World;
use crate::written;

fn on(mut p: Piece, bearer: &'static str) -> Piece {
    p.standing.bearer = bearer;
    p
}

fn bridging(mut p: Piece, bearer: &'static str, other: &'static str) -> Piece {
    p.standing.bearer = bearer;
    p.standing.bridges = Some(other);
    p
}

fn bare_back(
    slug: &'static str,
    w: f32,
    h: f32,
    support: Support,
    ground: Ground,
    seed: u32,
) -> Back {
    Back {
        slug,
        w,
        h,
        frame: None,
        support,
        backing: None,
        below: Vec::new(),
        pieces: Vec::new(),
        above: Vec::new(),
        ground,
        seed,
        dirt: 0.3,
    }
}

fn eyes(b: &mut Back, wire: bool) {
    let r = b.frame.as_ref().map_or(25.0, |f| f.rail * 0.45);
    let (l, t) = ([r, b.h * 0.27], [b.w - r, b.h * 0.27]);
    b.above.push(Fitting::Eye { at: l });
    b.above.push(Fitting::Eye { at: t });
    if wire {
        b.above.push(Fitting::Wire {
            from: [l[0] + 6.0, l[1]],
            to: [t[0] - 6.0, t[1]],
            sag: -9.0,
        });
    }
}

/// Brads that hold the picture in its frame.
fn brads(b: &mut Back, dice: &mut Dice) {
    let [x0, y0, x1, y1] = b.inner();
    for (x, y) in [
        (0.2, 0.0),
        (0.75, 0.0),
        (0.25, 1.0),
        (0.8, 1.0),
        (0.0, 0.4),
        (1.0, 0.55),
    ] {
        let at = [
            x0 + (x1 - x0) * x
                + if x == 0.0 {
                    3.0
                } else if x == 1.0 {
                    -3.0
                } else {
                    0.0
                },
            y0 + (y1 - y0) * y
                + if y == 0.0 {
                    3.0
                } else if y == 1.0 {
                    -3.0
                } else {
                    0.0
                },
        ];
        b.above.push(Fitting::Nail {
            at,
            rust: dice.between(0.5, 1.0),
        });
    }
}

fn holes(b: &mut Back, n: u32, dice: &mut Dice) {
    for _ in 0..n {
        let at = [dice.unit() * b.w, dice.unit() * b.h];
        b.above.push(Fitting::Hole {
            at,
            r: dice.between(0.5, 0.9),
        });
    }
}

/// "The Ferry at Dunmarsh", canvas in its first frame.
fn ferry(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(101);
    let tone = colour(0xa9_8f_66);
    let mut b = bare_back(
        "ferry-at-dunmarsh",
        656.0,
        554.0,
        Support::Canvas {
            bar: 56.0,
            cross: false,
            wood: Wood::Pine,
            tone,
        },
        Ground::Blanket,
        4101,
    );
    b.frame = Some(Frame {
        rail: 74.0,
        wood: Wood::OldPine,
        slip: 0.0,
    });
    b.dirt = 0.35;
    let framer = w.row("ravensby-son-rothcaster-1", "T. Ravensby & Son")?;
    b.pieces.push(
        on(
            worn(labels::trade(&framer, 2, 118.0, 66.0, &mut d), 0.22, &mut d),
            "frame",
        )
        .placed(212.0, 516.0, -0.8),
    );
    let society = w.row("rothcaster-society-rothcaster-1", "")?;
    let shown = labels::exhibition(
        &society,
        "T. Wrenfield",
        "The Ferry at Dunmarsh",
        "31 Park Row, Rothcaster",
        "£42",
        false,
        &mut d,
    );
    b.pieces
        .push(bridging(worn(shown, 0.2, &mut d), "frame", "stretcher").placed(420.0, 78.0, 1.2));
    let maker = w.row("cattermaul-son-rothcaster-1", "J. Cattermaul & Son")?;
    b.pieces.push(
        on(
            worn(written::block_stamp(&maker, 128.0, &mut d), 0.2, &mut d),
            "canvas",
        )
        .placed(350.0, 268.0, 1.6),
    );
    b.pieces.push(
        on(
            worn(written::chalk(&["214"], 36.0, &mut d), 0.15, &mut d),
            "canvas",
        )
        .placed(222.0, 214.0, -7.0),
    );
    b.pieces.push(
        on(
            worn(written::stencil(&["20 x 16"], 15.0, &mut d), 0.1, &mut d),
            "stretcher",
        )
        .placed(470.0, 452.0, 0.3),
    );
    b.pieces.push(
        on(
            worn(
                written::pencil(&["Mrs Farrowby, Front Parlour"], 8.0, &mut d),
                0.1,
                &mut d,
            ),
            "stretcher",
        )
        .placed(102.0, 290.0, -90.0),
    );
    b.pieces.push(
        on(worn(written::number("87", &mut d), 0.3, &mut d), "frame").placed(614.0, 330.0, 4.0),
    );
    eyes(&mut b, true);
    Ok(b)
}

/// "The Mill Pool, Ellerdyke", on millboard.
fn mill(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(202);
    let mut b = bare_back(
        "mill-pool-ellerdyke",
        540.0,
        440.0,
        Support::Board {
            tone: colour(0x7f_61_42),
            pulp: 0.35,
        },
        Ground::Table,
        4202,
    );
    b.frame = Some(Frame {
        rail: 62.0,
        wood: Wood::Poplar,
        slip: 5.0,
    });
    let maker = w.row("tolliver-ames-rothcaster-1", "")?;
    b.pieces.push(
        on(
            worn(labels::trade(&maker, 3, 138.0, 92.0, &mut d), 0.22, &mut d),
            "board",
        )
        .placed(190.0, 168.0, -1.3),
    );
    let framer = w.row("dorrick-rothcaster-2", "S. Dorrick")?;
    b.pieces.push(
        bridging(
            worn(labels::trade(&framer, 2, 112.0, 74.0, &mut d), 0.3, &mut d),
            "board",
            "frame",
        )
        .placed(352.0, 362.0, 0.9),
    );
    b.pieces.push(
        on(
            worn(
                written::pen(
                    &["The Mill Pool, Ellerdyke", "Louisa Haverbrook 1877"],
                    9.5,
                    &mut d,
                ),
                0.1,
                &mut d,
            )
            .names("artists", "louisa-haverbrook"),
            "board",
        )
        .placed(330.0, 250.0, -1.0),
    );
    b.pieces.push(
        on(
            worn(written::pencil(&["2 coats size"], 7.5, &mut d), 0.2, &mut d),
            "board",
        )
        .placed(170.0, 300.0, 3.0),
    );
    b.pieces.push(
        on(
            worn(written::chalk(&["K 3"], 30.0, &mut d), 0.2, &mut d),
            "board",
        )
        .placed(398.0, 148.0, 5.0),
    );
    b.pieces.push(
        on(worn(written::number("42", &mut d), 0.2, &mut d), "frame").placed(506.0, 92.0, -5.0),
    );
    for x in [66.0, 440.0] {
        b.below.push(Fitting::Tape {
            area: [x, 150.0, x + 34.0, 330.0],
        });
    }
    eyes(&mut b, false);
    brads(&mut b, &mut d);
    Ok(b)
}

/// "Study of Oaks", on an oak panel without its frame.
fn oaks(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(303);
    let mut b = bare_back(
        "study-of-oaks",
        457.0,
        356.0,
        Support::Panel {
            wood: Wood::Oak,
            bevel: 24.0,
            upright: false,
        },
        Ground::Felt,
        4303,
    );
    b.dirt = 0.25;
    let dealer = w.row("lantern-gallery-rothcaster-1", "The Lantern Gallery")?;
    b.pieces.push(
        on(
            worn(
                labels::gallery(
                    &dealer,
                    "Ambrose Kettlewood",
                    "Study of Oaks",
                    "No. 2618",
                    &mut d,
                ),
                0.2,
                &mut d,
            ),
            "panel",
        )
        .placed(316.0, 108.0, 1.0),
    );
    let maker = w.stranger("Gadsway")?;
    b.pieces.push(
        on(
            worn(written::oval_stamp(&maker, 108.0, &mut d), 0.25, &mut d),
            "panel",
        )
        .placed(120.0, 112.0, -4.0),
    );
    b.pieces.push(
        on(
            worn(
                written::pen(
                    &["Study of Oaks", "A. Kettlewood", "for Col. Askwith Dunn"],
                    10.0,
                    &mut d,
                ),
                0.15,
                &mut d,
            )
            .names("artists", "ambrose-kettlewood"),
            "panel",
        )
        .placed(200.0, 248.0, -2.0),
    );
    b.pieces.push(
        on(
            worn(written::chalk(&["Lot 61"], 27.0, &mut d), 0.3, &mut d),
            "panel",
        )
        .placed(366.0, 268.0, -10.0),
    );
    b.pieces.push(
        on(
            worn(written::pencil(&["cleaned 1884"], 7.0, &mut d), 0.2, &mut d),
            "panel",
        )
        .placed(400.0, 184.0, 90.0),
    );
    holes(&mut b, 14, &mut d);
    Ok(b)
}

/// "Winter Fuel", behind brown paper, with a life of labels.
fn winter(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(404);
    let mut b = bare_back(
        "winter-fuel",
        640.0,
        520.0,
        Support::Board {
            tone: colour(0x95_88_74),
            pulp: 1.0,
        },
        Ground::Concrete,
        4404,
    );
    b.frame = Some(Frame {
        rail: 66.0,
        wood: Wood::OldPine,
        slip: 0.0,
    });
    b.backing = Some(0.42);
    b.dirt = 0.5;
    let framer = w.stranger("A. Thrapwood")?;
    b.pieces.push(
        on(
            worn(labels::trade(&framer, 0, 126.0, 84.0, &mut d), 0.5, &mut d),
            "backing",
        )
        .placed(196.0, 170.0, 2.0),
    );
    let dealer = w.row("vesper-harrowick-1", "Vesper Gallery")?;
    b.pieces.push(
        on(
            worn(
                labels::gallery(&dealer, "M. Crosswell", "Winter Fuel", "Stock 4471", &mut d),
                0.35,
                &mut d,
            ),
            "backing",
        )
        .placed(266.0, 224.0, -3.0),
    );
    let room = w.row("tarrant-moule-rothcaster-2", "Tarrant & Moule")?;
    b.pieces.push(
        on(
            worn(
                labels::sale(&room, "118", "14 June 1898", &mut d),
                0.35,
                &mut d,
            ),
            "backing",
        )
        .placed(462.0, 150.0, 1.0),
    );
    b.pieces.push(
        on(
            worn(
                written::manuscript(
                    &["Lent by", "Mrs. Orde-Pelling", "Thornsey Hall"],
                    108.0,
                    &mut d,
                ),
                0.4,
                &mut d,
            ),
            "backing",
        )
        .placed(450.0, 340.0, -2.0),
    );
    let tape = written::tape(70.0, 19.0, true, &mut d);
    b.pieces.push(tape.placed(476.0, 374.0, -12.0));
    b.pieces.push(
        on(
            worn(written::brush(&["61"], 34.0, &mut d), 0.5, &mut d),
            "backing",
        )
        .placed(170.0, 390.0, 6.0),
    );
    b.pieces.push(
        on(
            worn(written::stencil(&["J 3309"], 13.0, &mut d), 0.45, &mut d),
            "frame",
        )
        .placed(330.0, 487.0, 0.0),
    );
    b.pieces
        .push(on(written::scrap(84.0, 52.0, &mut d), "backing").placed(300.0, 416.0, 3.0));
    eyes(&mut b, true);
    holes(&mut b, 10, &mut d);
    Ok(b)
}

/// A portrait on pulp board of which hardly anything can be read.
fn portrait(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(505);
    let mut b = bare_back(
        "portrait-of-a-gentleman",
        305.0,
        406.0,
        Support::Board {
            tone: colour(0x8a_80_70),
            pulp: 1.0,
        },
        Ground::Carpet,
        4505,
    );
    b.dirt = 0.85;
    let maker = w.row("umberslade-f-harrowick-1", "F. Umberslade")?;
    let mut label = worn(labels::trade(&maker, 1, 110.0, 76.0, &mut d), 0.95, &mut d);
    label.hurt.rubbed = 0.5;
    label.hurt.corners = [26.0, 0.0, 38.0, 14.0];
    for ink in &mut label.inks {
        ink.strength = 0.42;
    }
    b.pieces.push(on(label, "board").placed(150.0, 128.0, -3.0));
    let mut note = worn(
        written::pencil(&["Sir Piers Haldenby", "to be varnished"], 9.0, &mut d),
        0.8,
        &mut d,
    );
    note.inks[0].strength = 0.24;
    b.pieces.push(on(note, "board").placed(160.0, 240.0, -5.0));
    b.pieces.push(
        on(
            worn(written::chalk(&["9"], 40.0, &mut d), 0.85, &mut d),
            "board",
        )
        .placed(230.0, 330.0, 0.0),
    );
    b.pieces
        .push(on(written::scrap(70.0, 44.0, &mut d), "board").placed(84.0, 330.0, 8.0));
    b.below.push(Fitting::Ghost {
        area: [178.0, 40.0, 262.0, 92.0],
    });
    holes(&mut b, 6, &mut d);
    Ok(b)
}

/// A canvas with nothing on its back.
fn plain() -> Back {
    let mut b = bare_back(
        "unmarked-canvas",
        508.0,
        406.0,
        Support::Canvas {
            bar: 52.0,
            cross: false,
            wood: Wood::OldPine,
            tone: colour(0x9a_80_58),
        },
        Ground::Paper,
        4606,
    );
    b.dirt = 0.45;
    b
}

/// "Still Life with Quinces", mahogany, in a later frame.
fn quinces(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(707);
    let mut b = bare_back(
        "still-life-with-quinces",
        526.0,
        424.0,
        Support::Panel {
            wood: Wood::Mahogany,
            bevel: 20.0,
            upright: false,
        },
        Ground::Blanket,
        4707,
    );
    b.frame = Some(Frame {
        rail: 60.0,
        wood: Wood::Pine,
        slip: 0.0,
    });
    let framer = w.row("ravensby-josiah-rothcaster-2", "J. Ravensby")?;
    b.pieces.push(
        on(
            worn(labels::trade(&framer, 0, 122.0, 84.0, &mut d), 0.4, &mut d),
            "panel",
        )
        .placed(176.0, 150.0, 1.4),
    );
    let guild = w.stranger("Thaxley")?;
    let shown = labels::exhibition(
        &guild,
        "I. Thornsey",
        "Still Life with Quinces",
        "The Lodge, Aldercombe",
        "15 gns",
        true,
        &mut d,
    );
    b.pieces
        .push(on(worn(shown, 0.35, &mut d), "panel").placed(366.0, 148.0, -1.2));
    let later = w.stranger("Lomaxby")?;
    b.pieces.push(
        on(
            worn(labels::trade(&later, 5, 92.0, 52.0, &mut d), 0.25, &mut d),
            "frame",
        )
        .placed(262.0, 392.0, 0.0),
    );
    b.pieces.push(
        on(
            worn(
                written::manuscript(
                    &[
                        "No. 3",
                        "Still Life with Quinces",
                        "Isaac Thornsey",
                        "High Pavement",
                    ],
                    104.0,
                    &mut d,
                ),
                0.45,
                &mut d,
            )
            .names("artists", "isaac-thornsey"),
            "panel",
        )
        .placed(180.0, 268.0, -2.0),
    );
    let slip = written::typed(&["INV. 212", "I. THORNSEY", "Quinces"], 58.0, &mut d);
    b.pieces
        .push(on(worn(slip, 0.3, &mut d), "frame").placed(60.0, 392.0, -1.0));
    let room = w.stranger("Osgodden")?;
    b.pieces.push(
        on(
            worn(written::oval_stamp(&room, 84.0, &mut d), 0.4, &mut d),
            "panel",
        )
        .placed(330.0, 268.0, 8.0),
    );
    b.pieces.push(
        on(
            worn(written::chalk(&["70"], 34.0, &mut d), 0.35, &mut d),
            "panel",
        )
        .placed(420.0, 290.0, -6.0),
    );
    b.pieces.push(
        on(
            worn(
                written::pencil(&["regilt slip Pd 4/-"], 7.0, &mut d),
                0.2,
                &mut d,
            ),
            "frame",
        )
        .placed(496.0, 210.0, 90.0),
    );
    eyes(&mut b, false);
    brads(&mut b, &mut d);
    holes(&mut b, 8, &mut d);
    Ok(b)
}

/// The pictures, and the photographs taken of them.
pub fn tell(world: &World) -> Result<(Vec<Back>, Vec<Photo>), String> {
    let backs = vec![
        ferry(world)?,
        mill(world)?,
        oaks(world)?,
        winter(world)?,
        portrait(world)?,
        plain(),
        quinces(world)?,
    ];
    let mut photos: Vec<Photo> = Vec::new();
    let dice = Dice::new(77);
    let mut take = |name: &str,
                    grade: &'static str,
                    back: usize,
                    is_whole: bool,
                    shot: Shot,
                    light: Option<Light>| {
        let mut own = dice.part(name);
        let light = light.unwrap_or_else(|| daylight(&backs[back], &mut own));
        let shot = handheld(shot, grade, &mut own);
        photos.push(Photo {
            name: name.to_owned(),
            grade,
            whole: is_whole,
            back,
            shot,
            light,
        });
    };
    let mut own = dice.part("lights");
    let near = |back: usize, piece: usize, megapixels: f32, room: f32| {
        close(&backs[back].pieces[piece], megapixels, room)
    };
    let stored = |mut s: Shot, orientation: u8| {
        s.orientation = orientation;
        s
    };
    let rolled = |mut s: Shot, roll: f32| {
        s.roll += roll;
        s
    };
    take(
        "ferry-back",
        "easy",
        0,
        true,
        whole(&backs[0], 12.0, false),
        None,
    );
    let side = raking(&backs[0], 200.0, &mut own);
    take(
        "ferry-raking",
        "medium",
        0,
        true,
        whole(&backs[0], 8.0, false),
        Some(side),
    );
    take(
        "ferry-society-label",
        "easy",
        0,
        false,
        near(0, 1, 5.0, 1.25),
        None,
    );
    take(
        "ferry-canvas-stamp",
        "medium",
        0,
        false,
        near(0, 2, 3.0, 1.4),
        None,
    );
    take(
        "ferry-framer",
        "easy",
        0,
        false,
        near(0, 0, 3.0, 1.25),
        None,
    );
    take(
        "mill-back",
        "easy",
        1,
        true,
        whole(&backs[1], 12.0, false),
        None,
    );
    take(
        "mill-upside-down",
        "medium",
        1,
        true,
        rolled(whole(&backs[1], 8.0, false), 180.0),
        None,
    );
    take(
        "mill-bridging-label",
        "medium",
        1,
        false,
        near(1, 1, 5.0, 1.5),
        None,
    );
    take(
        "mill-colourman",
        "easy",
        1,
        false,
        near(1, 0, 5.0, 1.2),
        None,
    );
    take(
        "oaks-back",
        "medium",
        2,
        true,
        whole(&backs[2], 12.0, false),
        None,
    );
    take(
        "oaks-sideways",
        "medium",
        2,
        true,
        stored(rolled(whole(&backs[2], 8.0, true), 90.0), 6),
        None,
    );
    take(
        "oaks-gallery-label",
        "easy",
        2,
        false,
        near(2, 0, 3.0, 1.3),
        None,
    );
    take("oaks-stamp", "hard", 2, false, near(2, 1, 3.0, 1.35), None);
    take(
        "winter-back",
        "hard",
        3,
        true,
        whole(&backs[3], 12.0, false),
        None,
    );
    take(
        "winter-overlapping",
        "medium",
        3,
        false,
        near(3, 1, 5.0, 1.75),
        None,
    );
    take(
        "winter-sale-label",
        "easy",
        3,
        false,
        near(3, 2, 3.0, 1.3),
        None,
    );
    take(
        "winter-owner",
        "medium",
        3,
        false,
        stored(near(3, 3, 3.0, 1.4), 8),
        None,
    );
    take(
        "portrait-back",
        "hard",
        4,
        true,
        whole(&backs[4], 8.0, false),
        None,
    );
    let side = raking(&backs[4], 155.0, &mut own);
    take(
        "portrait-label-raking",
        "hard",
        4,
        false,
        near(4, 0, 5.0, 1.4),
        Some(side),
    );
    take(
        "unmarked-back",
        "medium",
        5,
        true,
        whole(&backs[5], 5.0, false),
        None,
    );
    take(
        "quinces-back",
        "medium",
        6,
        true,
        whole(&backs[6], 12.0, false),
        None,
    );
    take(
        "quinces-framer",
        "easy",
        6,
        false,
        near(6, 0, 3.0, 1.25),
        None,
    );
    take(
        "quinces-guild-label",
        "medium",
        6,
        false,
        near(6, 1, 5.0, 1.3),
        None,
    );
    let mut dim = daylight(&backs[6], &mut own);
    dim.thrown = Some(([300.0, 200.0], 0.6, 0.62));
    take(
        "quinces-dim",
        "hard",
        6,
        true,
        stored(whole(&backs[6], 5.0, false), 3),
        Some(dim),
    );
    Ok((backs, photos))
}
