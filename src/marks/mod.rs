//! Finds the patches that carry lettering on a photograph, unread.

use crate::geometry::{Point, Quad};
use image::RgbImage;
use serde::{Deserialize, Serialize};

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

/// A patch with lettering on a photograph, unread.
#[derive(Debug, Clone)]
pub struct Mark {
    /// What sort of mark.
    pub kind: MarkKind,
    /// Corners on the upright photograph, px; reading direction is a guess until it is read.
    pub outline: Quad,
    /// Chance that it carries lettering, 0 to 1; marks below a threshold are sorted down, not
    /// thrown away.
    pub lettering: f64,
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
    /// The place on the photograph of a place on the flattened picture (projective).
    pub fn to_photograph(&self, _at: Point) -> Point {
        Point::new(0.0, 0.0)
    }
}

/// Finds marks on an upright photograph, the most likely lettering first. A close-up of one label
/// is one mark. Nothing found: empty.
pub fn find(_photograph: &RgbImage) -> Vec<Mark> {
    Vec::new()
}

/// Cuts a mark out and flattens it (perspective).
pub fn flatten(photograph: &RgbImage, mark: &Mark) -> Flattened {
    let _ = mark;
    Flattened {
        picture: photograph.clone(),
        outline: mark.outline,
    }
}
