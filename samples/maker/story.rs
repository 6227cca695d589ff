//! The story that the committed samples tell: seven pictures that passed through one invented county.

use crate::Photo;
use crate::back::Back;
use crate::camera::Shot;
use crate::chance::{close, daylight, handheld, raking, whole};
use crate::dice::Dice;
use crate::early::{ferry, mill, oaks};
use crate::late::{plain, portrait, quinces, winter};
use crate::surface::Light;
use crate::world::World;

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
            picture: backs[back].slug.to_owned(),
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
