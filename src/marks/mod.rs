//! Finds the patches that carry lettering on a photograph, unread.

use crate::geometry::{Point, Quad};
use image::{GrayImage, RgbImage};
use serde::{Deserialize, Serialize};

mod bearing;
mod candidates;
mod chooser;
mod cover;
mod find;
mod flatten;
mod groups;
mod lean;
mod level;
mod lines;
mod network;
mod outline;
mod papers;
mod raster;
mod rescue;
mod row_lines;
pub(crate) mod rows;
mod scale;
mod strip;
mod strokes;
mod torn;
mod tree;

pub use crate::geometry::Homography;
pub use cover::{lying_on, without};
pub use flatten::MARGIN;
pub use lines::LineBox;
pub use torn::without_ground;

/// Marks with a lettering chance below this are sorted down: [`find`] still lists them, last, but
/// they are only read when a person asks.
pub const LIKELY: f64 = 0.15;

/// What sort of mark; names as in the published interface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkKind {
    /// Label printed by letterpress, engraving or lithography.
    PrintedLabel,
    /// Label written by hand or typed.
    WrittenLabel,
    /// Writing on the wood, board or canvas itself, in ink, pencil, chalk or paint.
    Inscription,
    /// Ink stamp or impressed stamp.
    Stamp,
    /// Stencilled letters or figures.
    Stencil,
    /// Initials drawn into one sign.
    Monogram,
    /// Found, not told apart.
    Unknown,
}

impl MarkKind {
    /// Every kind, in the order of the interface.
    pub const ALL: [MarkKind; 7] = [
        MarkKind::PrintedLabel,
        MarkKind::WrittenLabel,
        MarkKind::Inscription,
        MarkKind::Stamp,
        MarkKind::Stencil,
        MarkKind::Monogram,
        MarkKind::Unknown,
    ];

    /// Whether it is a piece of paper of its own, which may cover others.
    pub fn is_label(self) -> bool {
        matches!(self, MarkKind::PrintedLabel | MarkKind::WrittenLabel)
    }

    /// Name in JSON and in the store: `printed_label`, ...
    pub fn as_str(self) -> &'static str {
        match self {
            MarkKind::PrintedLabel => "printed_label",
            MarkKind::WrittenLabel => "written_label",
            MarkKind::Inscription => "inscription",
            MarkKind::Stamp => "stamp",
            MarkKind::Stencil => "stencil",
            MarkKind::Monogram => "monogram",
            MarkKind::Unknown => "unknown",
        }
    }

    /// The kind of that name, if it is one.
    pub fn parse(name: &str) -> Option<MarkKind> {
        MarkKind::ALL.into_iter().find(|k| k.as_str() == name)
    }
}

/// The part of the object that a mark lies on, as far as a photograph of the back shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Panel or board that carries the paint.
    Panel,
    /// Canvas that carries the paint.
    Canvas,
    /// Bar of a stretcher or strainer.
    Stretcher,
    /// Slip, inset or mount between picture and frame.
    Slip,
    /// Frame.
    Frame,
    /// Paper or board that closes the back.
    Backing,
}

impl Part {
    /// Every part.
    pub const ALL: [Part; 6] = [
        Part::Panel,
        Part::Canvas,
        Part::Stretcher,
        Part::Slip,
        Part::Frame,
        Part::Backing,
    ];

    /// Name in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            Part::Panel => "panel",
            Part::Canvas => "canvas",
            Part::Stretcher => "stretcher",
            Part::Slip => "slip",
            Part::Frame => "frame",
            Part::Backing => "backing",
        }
    }

    /// Planes of the network that show it: panel and board are told apart there.
    fn shown(self) -> std::ops::Range<usize> {
        match self {
            Part::Panel => 1..3,
            Part::Canvas => 3..4,
            Part::Stretcher => 4..5,
            Part::Slip => 5..6,
            Part::Frame => 6..7,
            Part::Backing => 7..8,
        }
    }
}

/// What a mark may lie on: a proposal from the photograph, never certain.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bearing {
    /// Parts with the chance that most of the mark is on it, greatest first; they sum to 1 with
    /// those left out as too unlikely.
    pub on: Vec<(Part, f64)>,
    /// The second part that it also runs over, and the chance that it does so at all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bridges: Option<(Part, f64)>,
}

impl Bearing {
    /// The likeliest part, and the second one if the mark rather bridges than not; `None` where no
    /// part is likelier than not.
    pub fn likely(&self) -> Option<(Part, Option<Part>)> {
        let (part, chance) = *self.on.first()?;
        let over = self.bridges.filter(|b| b.1 >= 0.5 && b.0 != part);
        (chance >= 0.5).then_some((part, over.map(|b| b.0)))
    }
}

/// A patch with lettering on a photograph, unread.
#[derive(Debug, Clone)]
pub struct Mark {
    /// What sort of mark.
    pub kind: MarkKind,
    /// Chance that `kind` is right, 0 to 1, given that it is a mark at all.
    pub kind_chance: f64,
    /// Corners on the upright photograph, px; reading direction is a guess until it is read.
    pub outline: Quad,
    /// Chance that it carries lettering, 0 to 1; marks below a threshold are sorted down, not
    /// thrown away.
    pub lettering: f64,
    /// What it may lie on; `None` where nothing was proposed.
    pub bearing: Option<Bearing>,
}

/// A mark's picture, flattened to a rectangle, with the way back.
#[derive(Debug, Clone)]
pub struct Flattened {
    /// RGB, the outline's top edge at the top.
    pub picture: RgbImage,
    /// Corners of `picture` on the photograph, px.
    pub outline: Quad,
}

impl Flattened {
    /// The place on the photograph of a place on the flattened picture (projective). Where the
    /// outline has no area, its first corner.
    pub fn to_photograph(&self, at: Point) -> Point {
        let (w, h) = self.picture.dimensions();
        Homography::between(&flatten::frame(w, h), &self.outline)
            .map_or(self.outline.0[0], |map| map.apply(at))
    }
}

/// Finds marks on an upright photograph, the most likely lettering first. A close-up of one label
/// is one mark. Nothing found: empty.
///
/// Marks whose `lettering` is below [`LIKELY`] are at the end of the list: knots, nails, tape and
/// stains that a person may want to look at. The outlines' reading direction follows the rows of
/// lettering; whether it stands on its head is found by reading.
pub fn find(photograph: &RgbImage) -> Vec<Mark> {
    find::find(photograph)
}

/// Cuts a mark out of the photograph at full size and flattens it (perspective, bilinear), with a
/// margin of 2% of its shorter side. The picture's sides are the mean lengths of the outline's.
pub fn flatten(photograph: &RgbImage, mark: &Mark) -> Flattened {
    flatten::flatten(photograph, mark)
}

/// The picture of a mark turned by what its rows are off the level (or the plumb), with the outline
/// of what is returned in px of `picture`. `None` where they run level already, hardly show or
/// don't agree.
pub fn levelled(picture: &RgbImage) -> Option<Flattened> {
    level::levelled(picture)
}

/// Lines of lettering inside an upright flattened mark, in reading order; see [`LineBox`].
pub fn lines(picture: &GrayImage) -> Vec<LineBox> {
    row_lines::lines(picture)
}

/// Whether a mark shows the graduations of a scale laid beside the object: evenly spaced strokes, at least as long as
/// they lie apart. A label may have a border of such, so what is read has to be asked as well.
pub fn is_scale(photograph: &RgbImage, mark: &Mark) -> bool {
    scale::is_scale(photograph, mark)
}

/// What may be a mark, before the choice; for looking at and for fitting the choice.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// Corners on the photograph, px.
    pub outline: Quad,
    /// Whether it is a patch of paper; else a cluster of strokes.
    pub paper: bool,
    /// Its measures, in the order that the choice takes them.
    pub measures: Vec<f64>,
    /// What shows around and under it, in the order that the proposal of a bearer takes them.
    pub parts: Vec<f64>,
    /// Chance that it is a mark.
    pub chance: f64,
}

/// All candidates that the choice is made from, unordered.
pub fn candidates(photograph: &RgbImage) -> Vec<Candidate> {
    find::candidates(photograph)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use image::{Rgb, imageops};

    /// A wooden-brown ground with a little noise.
    fn ground(w: u32, h: u32) -> RgbImage {
        RgbImage::from_fn(w, h, |x, y| {
            let n = ((x.wrapping_mul(73_856_093) ^ y.wrapping_mul(19_349_663)) >> 13) % 9;
            let v = 110 + n as u8;
            Rgb([v + 20, v, v - 35])
        })
    }

    /// Three rows of block letters E on a cream label with its top left corner at (x, y).
    fn paste_label(picture: &mut RgbImage, x: i64, y: i64) -> Quad {
        let mut label = RgbImage::from_pixel(420, 220, Rgb([238, 230, 208]));
        for row in 0..3u32 {
            for column in 0..9u32 {
                let (left, top) = (35 + column * 40, 30 + row * 60);
                for (dx, dy, w, h) in [(0, 0, 6, 36), (0, 0, 24, 6), (0, 15, 20, 6), (0, 30, 24, 6)]
                {
                    for yy in top + dy..top + dy + h {
                        for xx in left + dx..left + dx + w {
                            label.put_pixel(xx, yy, Rgb([40, 32, 30]));
                        }
                    }
                }
            }
        }
        imageops::overlay(picture, &label, x, y);
        Rect::new(x as i32, y as i32, 420, 220).quad()
    }

    #[test]
    fn a_label_on_wood_is_found_with_its_corners() {
        let mut picture = ground(1400, 1000);
        let truth = paste_label(&mut picture, 300, 500);
        let found = find(&picture);
        let best = found.first().expect("a mark");
        assert!(best.lettering >= LIKELY);
        assert!(best.outline.iou(&truth) > 0.9, "{:?}", best.outline);
        assert_eq!(best.kind, MarkKind::PrintedLabel);
    }

    #[test]
    fn two_labels_are_two_marks() {
        let mut picture = ground(1600, 1000);
        let truths = [
            paste_label(&mut picture, 120, 150),
            paste_label(&mut picture, 1000, 600),
        ];
        let found: Vec<Mark> = find(&picture)
            .into_iter()
            .filter(|m| m.lettering >= LIKELY)
            .collect();
        for t in &truths {
            assert!(found.iter().any(|m| m.outline.iou(t) > 0.85));
        }
        assert_eq!(found.len(), 2);
    }

    #[test]
    fn photographs_can_be_searched_side_by_side() {
        use rayon::prelude::*;
        let mut picture = ground(700, 500);
        paste_label(&mut picture, 100, 100);
        let found: Vec<usize> = (0..6)
            .into_par_iter()
            .map(|_| find(&picture).len())
            .collect();
        assert!(found[0] > 0);
        assert!(found.iter().all(|&n| n == found[0]));
    }

    #[test]
    fn a_blank_ground_has_no_likely_mark() {
        assert!(
            find(&ground(1200, 900))
                .iter()
                .all(|m| m.lettering < LIKELY)
        );
    }

    #[test]
    fn pictures_too_small_for_lettering_have_none() {
        for (w, h) in [(0, 0), (1, 1), (3, 50), (8, 8)] {
            assert!(find(&RgbImage::new(w, h)).is_empty(), "{w} × {h}");
        }
    }

    #[test]
    fn a_flattened_label_keeps_its_place_on_the_photograph() {
        let mut picture = ground(1400, 1000);
        let outline = paste_label(&mut picture, 300, 500);
        let mark = Mark {
            kind: MarkKind::PrintedLabel,
            kind_chance: 1.0,
            outline,
            lettering: 1.0,
            bearing: None,
        };
        let flat = flatten(&picture, &mark);
        let (w, h) = flat.picture.dimensions();
        assert!((f64::from(w) - 420.0).abs() < 20.0 && (f64::from(h) - 220.0).abs() < 20.0);
        let middle = flat.to_photograph(Point::new(f64::from(w) / 2.0, f64::from(h) / 2.0));
        assert!((middle.x - 510.0).abs() < 2.0 && (middle.y - 610.0).abs() < 2.0);
        assert_eq!(lines(&imageops::grayscale(&flat.picture)).len(), 3);
    }
}
