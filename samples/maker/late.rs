//! The last four pictures of the story.

use crate::back::{Back, Fitting, Frame, Support};
use crate::chance::worn;
use crate::dice::{Dice, colour};
use crate::early::{bare_back, brads, eyes, holes, on};
use crate::labels;
use crate::materials::{Ground, Wood};
use crate::world::World;
use crate::written;

/// "Winter Fuel", behind brown paper, with a life of labels.
pub fn winter(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(404);
    let mut b = bare_back(
        "winter-fuel",
        640.0,
        520.0,
        Support::Board {
            tone: colour(0x958874),
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
        .placed(196.0, 196.0, 2.0),
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
        .placed(272.0, 250.0, -3.0),
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
        .placed(462.0, 186.0, 1.0),
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
    b.pieces.push(tape.placed(480.0, 366.0, -12.0));
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
pub fn portrait(w: &World) -> Result<Back, String> {
    let mut d = Dice::new(505);
    let mut b = bare_back(
        "portrait-of-a-gentleman",
        305.0,
        406.0,
        Support::Board {
            tone: colour(0x8a8070),
            pulp: 1.0,
        },
        Ground::Carpet,
        4505,
    );
    b.dirt = 0.6;
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
pub fn plain() -> Back {
    let mut b = bare_back(
        "unmarked-canvas",
        508.0,
        406.0,
        Support::Canvas {
            bar: 52.0,
            cross: false,
            wood: Wood::OldPine,
            tone: colour(0x9a8058),
        },
        Ground::Paper,
        4606,
    );
    b.dirt = 0.45;
    b
}

/// "Still Life with Quinces", mahogany, in a later frame.
pub fn quinces(w: &World) -> Result<Back, String> {
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
