//! Pictures made up from a seed, each photographed three to six times: on several days, with several
//! cameras, whole and in parts.

use crate::Photo;
use crate::back::Back;
use crate::camera::Shot;
use crate::chance::{close, daylight, find_room, handheld, make_up, raking, whole, worn};
use crate::crowd;
use crate::dice::Dice;
use crate::materials::Ground;
use crate::piece::Piece;
use crate::surface::Light;
use crate::world::World;
use crate::written;

/// How the whole back is photographed again, in turn from picture to picture.
const AGAIN: [&str; 8] = [
    "quarter",
    "raking",
    "tilted",
    "ultraviolet",
    "upside-down",
    "dim",
    "camera",
    "left-quarter",
];
/// Every so many pictures, from which on: with twin labels; without a whole view; with a label that is
/// stuck elsewhere on the second visit.
const TWINS: (usize, usize) = (5, 1);
const PARTED: (usize, usize) = (5, 3);
const MOVED: (usize, usize) = (10, 5);

fn among(n: usize, (every, from): (usize, usize)) -> bool {
    n % every == from
}

/// One picture while it is being photographed.
struct Sitting<'a> {
    name: String,
    grade: &'static str,
    /// The back as it is now.
    back: Back,
    dice: Dice,
    /// What is in the way of the next photograph: a sheet that hangs over part of a mark.
    hanging: Option<Piece>,
    backs: &'a mut Vec<Back>,
    photos: &'a mut Vec<Photo>,
}

impl Sitting<'_> {
    fn take(&mut self, what: &str, is_whole: bool, shot: Shot, light: Option<Light>) {
        let dice = &mut self.dice;
        let mut light = light.unwrap_or_else(|| daylight(&self.back, dice));
        // Each photograph may have a fault of its own, somewhere in what it shows.
        let at = [
            shot.aim[0] + shot.across * dice.between(-0.3, 0.3),
            shot.aim[1] + shot.across * dice.between(-0.2, 0.2),
        ];
        match dice.whole(0, 11) {
            0 => light.glare = Some((at, shot.across * dice.between(0.03, 0.09), 1.2)),
            1 | 2 => {
                light.thrown = Some((at, dice.between(0.0, 6.2), dice.between(0.35, 0.7)));
            }
            _ => {}
        }
        let (pitch, yaw) = (shot.pitch, shot.yaw);
        let (exposure, k) = (shot.exposure, self.photos.len());
        let mut shot = handheld(shot, self.grade, dice);
        (shot.pitch, shot.yaw) = (shot.pitch + pitch, shot.yaw + yaw);
        shot.exposure *= exposure;
        let mut back = self.back.clone();
        if dice.chance(0.2) {
            back.ground = *dice.pick(&[Ground::Felt, Ground::Table, Ground::Paper, Ground::Carpet]);
        }
        back.pieces.extend(self.hanging.take());
        self.backs.push(back);
        let taken = self.photos.iter().filter(|p| p.picture == self.name);
        self.photos.push(Photo {
            name: format!("{}-{}-{what}", self.name, taken.count() + 1),
            picture: self.name.clone(),
            grade: self.grade,
            whole: is_whole,
            back: k,
            shot,
            light,
        });
    }

    /// Width and height of a camera's picture, lying, px.
    fn camera(&mut self, whole: bool) -> (usize, usize) {
        let sizes: &[(usize, usize)] = if whole {
            &[(2592, 1944), (2592, 1944), (2048, 1536), (2400, 1600)]
        } else {
            &[(2048, 1536), (1600, 1200), (1800, 1200)]
        };
        *self.dice.pick(sizes)
    }

    fn whole(&mut self, turned: bool) -> Shot {
        let (mut w, mut h) = self.camera(true);
        let old = whole(&self.back, 3.0, turned);
        if old.h > old.w {
            std::mem::swap(&mut w, &mut h);
        }
        let (bw, bh) = if turned {
            (self.back.h, self.back.w)
        } else {
            (self.back.w, self.back.h)
        };
        let room = self.dice.between(1.05, 1.25);
        let across = (bw * room).max(bh * room * w as f32 / h as f32);
        Shot::new(w, h, old.aim, across)
    }

    /// The whole back once more, otherwise.
    fn again(&mut self, how: &'static str) {
        let mut light = None;
        let mut shot = self.whole(how.ends_with("quarter"));
        match how {
            "quarter" => shot.roll = 90.0,
            "left-quarter" => {
                shot.roll = -90.0;
                shot.orientation = 8;
            }
            "upside-down" => {
                shot.roll = 180.0;
                shot.orientation = *self.dice.pick(&[1, 3]);
            }
            "raking" => {
                light = Some(raking(
                    &self.back,
                    self.dice.between(0.0, 360.0),
                    &mut self.dice,
                ));
            }
            "tilted" => {
                shot.across *= 1.12;
                let way = if self.dice.chance(0.5) { 1.0 } else { -1.0 };
                shot.pitch = way * self.dice.between(8.0, 18.0);
                shot.yaw = self.dice.between(-18.0, 18.0);
            }
            "ultraviolet" => {
                let mut lamp = raking(&self.back, self.dice.between(0.0, 360.0), &mut self.dice);
                (lamp.elevation, lamp.ambient, lamp.ultraviolet) = (50.0, 0.4, true);
                lamp.colour = [1.0; 3];
                light = Some(lamp);
            }
            "dim" => shot.exposure = self.dice.between(0.3, 0.5),
            _ => {
                shot.warmth = self.dice.between(-0.4, 0.6);
                shot.across *= self.dice.between(1.0, 1.3);
                shot.quality = 62;
            }
        }
        self.take(how, true, shot, light);
    }

    /// One mark alone; now and then turned, as a phone is held.
    fn single(&mut self, i: usize) {
        let p = self.back.pieces[i].clone();
        let room = self.dice.between(1.12, 1.7);
        let mut shot = self.near(&p, room);
        if self.dice.chance(0.15) {
            shot.roll += *self.dice.pick(&[90.0, 180.0, -90.0]);
            shot.across *= 1.25;
        }
        if self.dice.chance(0.3) && p.sheet.is_some() {
            self.hanging = Some(self.sheet_over(&p));
        }
        self.take("label", false, shot, None);
    }

    fn near(&mut self, p: &Piece, room: f32) -> Shot {
        let (w, h) = self.camera(false);
        let across = (p.w * room).max(p.h * room * w as f32 / h as f32);
        Shot {
            w,
            h,
            across: across.max(60.0),
            ..close(p, 3.0, room)
        }
    }

    /// A torn sheet that hangs over one end of a mark.
    fn sheet_over(&mut self, p: &Piece) -> Piece {
        let dice = &mut self.dice;
        let wide = p.w * dice.between(0.2, 0.35);
        let sheet = written::scrap(wide, p.h * 1.1, dice);
        let x = if dice.chance(0.5) { 0.0 } else { p.w };
        let at = p.to_back([x, p.h * dice.between(0.3, 0.7)]);
        sheet.placed(at[0], at[1], p.angle + dice.between(-15.0, 15.0))
    }

    /// Two photographs of one mark, each with a half of it and a little more.
    fn halves(&mut self, i: usize) {
        let p = self.back.pieces[i].clone();
        for left in [true, false] {
            let share = self.dice.between(0.53, 0.66);
            self.side_of(&p, share, left, "half");
        }
    }

    /// A mark cut by the edge of the photograph: the share of its width that shows, from its left or
    /// its right end.
    fn side_of(&mut self, p: &Piece, share: f32, left: bool, what: &str) {
        let mut shot = self.near(p, 1.12);
        let tall = p.h * 1.12 * shot.w as f32 / shot.h as f32;
        shot.across = ((share + 0.08) * p.w).max(tall).max(60.0);
        let x = if left {
            share * p.w - shot.across / 2.0
        } else {
            (1.0 - share) * p.w + shot.across / 2.0
        };
        shot.aim = p.to_back([x, p.h / 2.0]);
        self.take(what, false, shot, None);
    }

    /// A corner of the back, or where a few marks are together.
    fn region(&mut self, marks: &[usize]) {
        let (w, h) = self.camera(false);
        let share = self.dice.between(0.4, 0.6);
        let across = share * self.back.w.max(self.back.h);
        let reach = [across / 2.0, across / 2.0 * h as f32 / w as f32];
        let near = self.back.pieces[*self.dice.pick(marks)].at;
        let size = [self.back.w, self.back.h];
        let corner = self.dice.chance(0.6);
        let aim = std::array::from_fn(|k| {
            let (low, high) = (reach[k] - 12.0, size[k] - reach[k] + 12.0);
            if corner {
                if near[k] < size[k] / 2.0 { low } else { high }
            } else {
                near[k].clamp(low.min(high), high.max(low))
            }
        });
        let what = if corner { "corner" } else { "group" };
        self.take(what, false, Shot::new(w, h, aim, across), None);
    }

    /// The back in `n` photographs side by side that overlap.
    fn strips(&mut self, n: usize) {
        let lying = self.back.w >= self.back.h;
        let (long, short) = (self.back.w.max(self.back.h), self.back.w.min(self.back.h));
        for k in 0..n {
            let (w, h) = self.camera(true);
            let overlap = self.dice.between(0.25, 0.4);
            let shown = long / (n as f32 - (n as f32 - 1.0) * overlap);
            let across = (shown * 1.06).max(short * 1.06 * h as f32 / w as f32);
            let along = shown / 2.0 + (long - shown) * k as f32 / (n as f32 - 1.0).max(1.0);
            let shot = if lying {
                Shot::new(h, w, [along, self.back.h / 2.0], across)
            } else {
                let high = across * w as f32 / h as f32;
                Shot::new(w, h, [self.back.w / 2.0, along], high)
            };
            self.take("strip", false, shot, None);
        }
    }
}

/// Makes up `count` pictures and what was photographed of each.
pub fn tell(world: &World, seed: u64, count: usize) -> Result<(Vec<Back>, Vec<Photo>), String> {
    let dice = Dice::new(seed);
    let (mut backs, mut photos): (Vec<Back>, Vec<Photo>) = (Vec::new(), Vec::new());
    for n in 0..count {
        let own = dice.part(&format!("picture {n}"));
        let (grade, back, twins) = (0..40)
            .find_map(|k| fitting(world, n, own.part(&format!("back {k}"))))
            .ok_or_else(|| format!("picture {n} has no room for its marks; take another seed."))?;
        let mut sitting = Sitting {
            name: format!("s{seed}-{n:03}"),
            grade,
            back,
            dice: own.part("sitting"),
            hanging: None,
            backs: &mut backs,
            photos: &mut photos,
        };
        photograph(&mut sitting, n, &twins);
    }
    Ok((backs, photos))
}

/// A back with at least three marks, and with twin labels where they are asked for (their places).
fn fitting(world: &World, n: usize, mut dice: Dice) -> Option<(&'static str, Back, Vec<usize>)> {
    let grade = *dice.pick(&["easy", "medium", "medium", "hard"]);
    let mut back = make_up(world, grade, &mut dice);
    crowd::crowd(world, grade, &mut back, &mut dice.part("crowd"));
    let mut twins = Vec::new();
    if among(n, TWINS) {
        let of = (0..back.pieces.len()).find(|&i| {
            let p = &back.pieces[i];
            p.standing.names && p.sheet.is_some()
        })?;
        let level = match grade {
            "easy" => 0.1,
            "medium" => 0.3,
            _ => 0.5,
        };
        let mut twin = back.pieces[of].clone();
        twin.hurt = worn(twin.clone(), level, &mut dice).hurt;
        twin.seed = dice.seed();
        let twin = elsewhere(&back, twin, &mut dice)?;
        twins = vec![of, back.pieces.len()];
        back.pieces.push(twin);
    }
    let marks = back.pieces.iter().filter(|p| !p.items.is_empty()).count();
    (3..=14).contains(&marks).then_some((grade, back, twins))
}

/// A mark stuck to another free place of the back.
fn elsewhere(back: &Back, p: Piece, dice: &mut Dice) -> Option<Piece> {
    let area = [6.0, 6.0, back.w - 6.0, back.h - 6.0];
    let angle = *dice.pick(&[0.0f32, 0.0, 0.0, 90.0, 180.0]) + dice.between(-3.0, 3.0);
    let mut p = find_room(&back.pieces, p, area, angle, dice)?;
    crate::places::settle(back, &mut p);
    Some(p)
}

fn photograph(s: &mut Sitting<'_>, n: usize, twins: &[usize]) {
    let most = s.dice.whole(3, 6) as usize;
    let written = |s: &Sitting<'_>| -> Vec<usize> {
        let lettered = |p: &Piece| {
            p.items
                .iter()
                .any(|i| matches!(i, crate::piece::Item::Line(_)))
        };
        (0..s.back.pieces.len())
            .filter(|&i| lettered(&s.back.pieces[i]))
            .collect()
    };
    let marks = written(s);
    let mut labels: Vec<usize> = marks.clone();
    labels.retain(|&i| s.back.pieces[i].sheet.is_some() || s.back.pieces[i].standing.names);
    if labels.is_empty() {
        labels.clone_from(&marks);
    }
    let first = s.photos.len();
    let taken = |s: &Sitting<'_>| s.photos.len() - first;
    let mut close_first: Vec<usize> = twins.to_vec();
    if among(n, PARTED) {
        match s.dice.whole(0, 2) {
            0 => close_first.extend(&labels),
            k => s.strips(k as usize + 1),
        }
    } else {
        let shot = s.whole(false);
        s.take("whole", true, shot, None);
        for k in 0..s.dice.whole(1, 2) as usize {
            if taken(s) + 1 < most {
                s.again(AGAIN[(n + 3 * k) % AGAIN.len()]);
            }
        }
    }
    if among(n, MOVED) {
        let moved = *s.dice.pick(&labels);
        let p = s.back.pieces[moved].clone();
        if let Some(p) = elsewhere(&s.back.clone(), p, &mut s.dice) {
            s.back.pieces[moved] = Piece { moved: true, ..p };
            let shot = s.whole(false);
            s.take("second-visit", true, shot, None);
            close_first.push(moved);
        }
    }
    close_first.reverse();
    while taken(s) < most {
        if let Some(i) = close_first.pop() {
            s.single(i);
            continue;
        }
        let i = *s.dice.pick(&labels);
        // Bare writing doesn't fill its own frame: only a sheet's edge is surely in the photograph.
        let sheet = s.back.pieces[i].sheet.is_some();
        match s.dice.whole(0, 9) {
            0..=2 if sheet && taken(s) + 1 < most => s.halves(i),
            3 | 4 => s.region(&marks),
            5 | 6 if sheet => {
                let (p, left) = (s.back.pieces[i].clone(), s.dice.chance(0.5));
                let share = s.dice.between(0.45, 0.85);
                s.side_of(&p, share, left, "cut");
            }
            _ => s.single(i),
        }
    }
}
