//! A mark as it was made: a sheet or none, lettering set in place, inks, and what time did to it.
//! All lengths are mm in the mark's own frame, origin at its top left, y down.

use crate::dice::{Dice, Rgb, colour};
use crate::drawing::Path;
use crate::fonts::{Cases, Role};

/// How an ink lies.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Lay {
    Print,
    Pen,
    Pencil,
    Chalk,
    Stamp,
    Typed,
    Brush,
    Pressed,
}

#[derive(Clone)]
pub struct Ink {
    pub lay: Lay,
    pub colour: Rgb,
    /// Optical strength, 1 for full; less is faded.
    pub strength: f32,
    /// Spread of the ink into its ground.
    pub bleed: f32,
}

impl Ink {
    pub fn new(lay: Lay, hex: u32, strength: f32) -> Self {
        let bleed = match lay {
            Lay::Print => 0.05,
            Lay::Pen => 0.07,
            Lay::Stamp => 0.12,
            Lay::Typed => 0.05,
            Lay::Brush => 0.25,
            Lay::Pencil => 0.08,
            Lay::Chalk => 0.5,
            Lay::Pressed => 0.1,
        };
        Ink {
            lay,
            colour: colour(hex),
            strength,
            bleed,
        }
    }
}

#[derive(Clone, Copy, PartialEq)]
pub enum Align {
    Left,
    Centre,
}

#[derive(Clone, Copy, PartialEq)]
pub enum Effect {
    Plain,
    /// White letters with a line round them.
    Outline,
    /// A shade to the lower right, parted by a white line.
    Shaded,
}

/// One line of lettering.
#[derive(Clone)]
pub struct Setting {
    pub text: String,
    pub role: Role,
    pub choice: u64,
    /// Height of the capitals.
    pub cap: f32,
    pub x: f32,
    pub y: f32,
    pub align: Align,
    /// Extra space between letters, in cap heights.
    pub track: f32,
    /// Widest that the line may be: first condensed, then set smaller.
    pub within: f32,
    /// Radius of the baseline, 0 for straight; positive arches up, negative hangs down.
    pub bend: f32,
    /// Turn of the whole line about its anchor, radians.
    pub slope: f32,
    pub effect: Effect,
    pub ink: usize,
    /// Unsteadiness of the hand or of the type, 0 to 1.
    pub unsteady: f32,
    /// Extra stroke weight, mm.
    pub weight: f32,
}

impl Setting {
    pub fn new(text: &str, role: Role, cap: f32, x: f32, y: f32) -> Self {
        Setting {
            text: text.to_owned(),
            role,
            choice: 0,
            cap,
            x,
            y,
            align: Align::Centre,
            track: 0.0,
            within: 0.0,
            bend: 0.0,
            slope: 0.0,
            effect: Effect::Plain,
            ink: 0,
            unsteady: if role.written() { 0.5 } else { 0.0 },
            weight: 0.0,
        }
    }
    pub fn choice(mut self, c: u64) -> Self {
        self.choice = c;
        self
    }
    pub fn left(mut self) -> Self {
        self.align = Align::Left;
        self
    }
    pub fn track(mut self, t: f32) -> Self {
        self.track = t;
        self
    }
    pub fn within(mut self, w: f32) -> Self {
        self.within = w;
        self
    }
    pub fn bend(mut self, r: f32) -> Self {
        self.bend = r;
        self
    }
    pub fn slope(mut self, r: f32) -> Self {
        self.slope = r;
        self
    }
    pub fn effect(mut self, e: Effect) -> Self {
        self.effect = e;
        self
    }
    pub fn ink(mut self, i: usize) -> Self {
        self.ink = i;
        self
    }
    pub fn unsteady(mut self, u: f32) -> Self {
        self.unsteady = u;
        self
    }
    pub fn weight(mut self, w: f32) -> Self {
        self.weight = w;
        self
    }
}

#[derive(Clone)]
pub enum Item {
    Line(Setting),
    /// Ornament, rule or drawing.
    Art(Path, usize),
}

#[derive(Clone, Copy, PartialEq)]
pub enum Shape {
    Rect,
    Octagon,
    Rounded,
    Oval,
    /// Perforated edge, as of a gummed number.
    Toothed,
}

#[derive(Clone)]
pub struct Sheet {
    pub colour: Rgb,
    pub thickness: f32,
    pub shape: Shape,
    /// 0 fresh to 1 brown and brittle.
    pub age: f32,
    /// 1 hides what is under it.
    pub cover: f32,
}

/// What time did.
#[derive(Clone, Default)]
pub struct Hurt {
    pub foxing: f32,
    pub stains: f32,
    pub tears: f32,
    /// Length lost at each corner, mm: top left, top right, bottom right, bottom left.
    pub corners: [f32; 4],
    pub rubbed: f32,
    pub creases: u32,
    pub dirt: f32,
    pub curl: f32,
}

/// Where and as what it counts.
#[derive(Clone, Default)]
pub struct Standing {
    pub kind: &'static str,
    pub bearer: &'static str,
    pub bridges: Option<&'static str>,
    pub list: String,
    pub entry: String,
    /// Names a firm, a society or a person who could be on a list.
    pub names: bool,
}

#[derive(Clone)]
pub struct Piece {
    pub w: f32,
    pub h: f32,
    pub sheet: Option<Sheet>,
    pub items: Vec<Item>,
    pub inks: Vec<Ink>,
    pub hurt: Hurt,
    pub seed: u32,
    pub standing: Standing,
    /// Centre on the back, mm.
    pub at: [f32; 2],
    /// Turn on the back, degrees, clockwise.
    pub angle: f32,
    /// Stuck elsewhere than when the picture was first photographed.
    pub moved: bool,
}

impl Piece {
    pub fn bare(w: f32, h: f32, ink: Ink, seed: u32) -> Self {
        Piece {
            w,
            h,
            sheet: None,
            items: Vec::new(),
            inks: vec![ink],
            hurt: Hurt::default(),
            seed,
            standing: Standing::default(),
            at: [0.0, 0.0],
            angle: 0.0,
            moved: false,
        }
    }

    pub fn on_sheet(w: f32, h: f32, sheet: Sheet, ink: Ink, seed: u32) -> Self {
        Piece {
            sheet: Some(sheet),
            ..Piece::bare(w, h, ink, seed)
        }
    }

    pub fn line(&mut self, s: Setting) {
        self.items.push(Item::Line(s));
    }

    pub fn art(&mut self, p: Path, ink: usize) {
        self.items.push(Item::Art(p, ink));
    }

    pub fn placed(mut self, x: f32, y: f32, angle: f32) -> Self {
        self.at = [x, y];
        self.angle = angle;
        self
    }

    pub fn standing(mut self, kind: &'static str, bearer: &'static str) -> Self {
        self.standing.kind = kind;
        self.standing.bearer = bearer;
        self
    }

    pub fn names(mut self, list: &str, entry: &str) -> Self {
        self.standing.list = list.to_owned();
        self.standing.entry = entry.to_owned();
        self.standing.names = true;
        self
    }

    /// From the mark's frame to the back.
    pub fn to_back(&self, p: [f32; 2]) -> [f32; 2] {
        let (s, c) = self.angle.to_radians().sin_cos();
        let (x, y) = (p[0] - self.w / 2.0, p[1] - self.h / 2.0);
        [self.at[0] + c * x - s * y, self.at[1] + s * x + c * y]
    }

    /// From the back to the mark's frame.
    pub fn local_of(&self, p: [f32; 2]) -> [f32; 2] {
        let (s, c) = self.angle.to_radians().sin_cos();
        let (x, y) = (p[0] - self.at[0], p[1] - self.at[1]);
        [c * x + s * y + self.w / 2.0, -s * x + c * y + self.h / 2.0]
    }
}

/// A letter in place.
#[derive(Clone)]
pub struct Letter {
    pub c: char,
    /// Left, top, right, bottom; mm in the mark's frame. None for a space.
    pub bounds: Option<[f32; 4]>,
    pub x_height: f32,
    /// Foot left and right, then right and left at the height of an x; mm in the mark's frame.
    pub cell: [[f32; 2]; 4],
}

/// A line set: one path a letter, and the letters.
pub struct SetLine {
    pub paths: Vec<Path>,
    pub letters: Vec<Letter>,
}

/// Natural width of a text in cap heights.
pub fn width(cases: &Cases, s: &Setting) -> f32 {
    let face = cases.face(s.role, s.choice);
    let chars: Vec<char> = s.text.chars().collect();
    let mut w = 0.0;
    for (i, c) in chars.iter().enumerate() {
        w += face.glyph(*c).1;
        if let Some(next) = chars.get(i + 1) {
            w += s.track + face.kern(*c, *next);
        }
    }
    w
}

/// Sets a line: every glyph placed along its baseline, straight or bent.
pub fn set(cases: &Cases, s: &Setting, seed: u32) -> SetLine {
    let face = cases.face(s.role, s.choice);
    let mut dice = Dice::new(u64::from(seed)).part(&s.text);
    let natural = width(cases, s) * s.cap;
    let (mut cap, mut squeeze) = (s.cap, 1.0);
    if s.within > 0.0 && natural > s.within {
        squeeze = (s.within / natural).max(0.8);
        cap *= (s.within / (natural * squeeze)).min(1.0);
    }
    let full = natural * squeeze * cap / s.cap;
    let mut pen = match s.align {
        Align::Left => 0.0,
        Align::Centre => -full / 2.0,
    };
    let chars: Vec<char> = s.text.chars().collect();
    let (mut paths, mut letters) = (Vec::new(), Vec::new());
    let u = s.unsteady;
    let drift_seed = dice.seed();
    for (i, c) in chars.iter().enumerate() {
        let (path, advance) = face.glyph(*c);
        let step = advance * cap * squeeze;
        let mid = pen + step / 2.0;
        let wander =
            (crate::dice::noise(mid / (cap * 6.0) + 31.0, 0.5, drift_seed) - 0.5) * cap * 0.5 * u;
        let lift = wander + dice.bell() * 0.025 * cap * u;
        let lean = dice.bell() * 0.03 * u;
        let grow = 1.0 + dice.bell() * 0.035 * u;
        let (sin, cos) = lean.sin_cos();
        let place = |p: [f32; 2]| -> [f32; 2] {
            let (gx, gy) = (p[0] * cap * squeeze * grow - step / 2.0, p[1] * cap * grow);
            let (gx, gy) = (gx * cos - gy * sin, gx * sin + gy * cos + lift);
            let (mut x, mut y) = (mid + gx, gy);
            if s.bend != 0.0 {
                let (bs, bc) = (mid / s.bend).sin_cos();
                x = s.bend * bs + gx * bc - gy * bs;
                y = s.bend - s.bend * bc + gx * bs + gy * bc;
            }
            let (ss, sc) = s.slope.sin_cos();
            [s.x + x * sc - y * ss, s.y + x * ss + y * sc]
        };
        let path = path.map(place);
        letters.push(Letter {
            c: *c,
            bounds: path.bounds(),
            x_height: cap * face.x_share,
            cell: [
                place([0.0, 0.0]),
                place([advance, 0.0]),
                place([advance, -face.x_share]),
                place([0.0, -face.x_share]),
            ],
        });
        paths.push(path);
        pen +=
            step + (s.track + chars.get(i + 1).map_or(0.0, |n| face.kern(*c, *n))) * cap * squeeze;
    }
    SetLine { paths, letters }
}
