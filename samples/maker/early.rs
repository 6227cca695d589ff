//! The first three pictures of the story, and what the pictures have in common.

use crate::back::{Back, Fitting, Frame, Support};
use crate::chance::worn;
use crate::dice::{Dice, colour};
use crate::labels;
use crate::materials::{Ground, Wood};
use crate::piece::Piece;
use crate::world::World;
use crate::written;

pub fn on(mut p: Piece, bearer: &'static str) -> Piece {
    p.standing.bearer = bearer;
    p
}

pub fn bridging(mut p: Piece, bearer: &'static str, other: &'static str) -> Piece {
    p.standing.bearer = bearer;
    p.standing.bridges = Some(other);
    p
}

pub fn bare_back(
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

pub fn eyes(b: &mut Back, wire: bool) {
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
pub fn brads(b: &mut Back, dice: &mut Dice) {
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

pub fn holes(b: &mut Back, n: u32, dice: &mut Dice) {
    for _ in 0..n {
        let at = [dice.unit() * b.w, dice.unit() * b.h];
        b.above.push(Fitting::Hole {
            at,
            r: dice.between(0.5, 0.9),
        });
    }
}

/// "The Ferry at Dunmarsh", canvas in its first frame.
pub fn ferry(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(101);
    let tone = colour(0xa98f66);
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
    let society = w.row("rothcaster-society-rothcaster-2", "")?;
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
pub fn mill(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(202);
    let mut b = bare_back(
        "mill-pool-ellerdyke",
        540.0,
        440.0,
        Support::Board {
            tone: colour(0x7f6142),
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
            worn(
                written::pencil(&["2 coats size"], 12.0, &mut d),
                0.2,
                &mut d,
            ),
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
pub fn oaks(w: &World) -> Result<Back, String> {
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
            worn(
                written::pencil(&["cleaned 1884"], 12.0, &mut d),
                0.2,
                &mut d,
            ),
            "panel",
        )
        .placed(400.0, 184.0, 90.0),
    );
    holes(&mut b, 14, &mut d);
    Ok(b)
}
