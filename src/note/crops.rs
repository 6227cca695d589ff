//! Pictures of the marks, cut from the original photographs when a note is written. The originals
//! are opened read-only; one that is gone or has changed is told and leaves the rest as it is.

use crate::decisions::{KeptMark, KeptPhotograph, Missing, Picture};
use crate::geometry::Quad;
use crate::marks::{self, Mark};
use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{self, FilterType};
use std::collections::BTreeMap;

/// Longest side of a mark's picture, px: two px for each of a wide page column.
const MARK_SIDE: u32 = 1100;
/// Longest side of the picture of a whole back, px.
const BACK_SIDE: u32 = 1400;
/// JPEG quality, 1 to 100.
const QUALITY: u8 = 82;

/// A picture, or why there is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cut {
    /// JPEG.
    Jpeg {
        /// The file's bytes.
        bytes: Vec<u8>,
        /// px.
        width: u32,
        /// px.
        height: u32,
    },
    /// One sentence for the reader of the note.
    Missing(String),
}

/// Pictures for a note.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Crops {
    /// By the mark's short number, upright for reading.
    pub marks: BTreeMap<String, Cut>,
    /// Whole backs by the photograph's number in the store, made smaller.
    pub backs: BTreeMap<i64, Cut>,
}

/// Cuts the pictures of a picture's marks, photograph by photograph, so that only one is open at a
/// time.
pub fn cut(picture: &Picture, marks: &[KeptMark]) -> Crops {
    let mut out = Crops::default();
    for p in &picture.photographs {
        let own = marks.iter().filter(|m| m.photograph == p.id);
        match original(p) {
            Ok(photo) => {
                for m in own {
                    out.marks
                        .insert(m.id.to_string(), mark(&photo, m.latest().outline, m));
                }
                out.backs.insert(p.id, jpeg(&photo, BACK_SIDE));
            }
            Err(why) => {
                for m in own {
                    out.marks
                        .insert(m.id.to_string(), Cut::Missing(why.clone()));
                }
                out.backs.insert(p.id, Cut::Missing(why));
            }
        }
    }
    out
}

fn original(p: &KeptPhotograph) -> Result<RgbImage, String> {
    let name = p.name();
    p.open().map(|photo| photo.picture).map_err(|why| match why {
        Missing::Unseen => format!("The photograph {name} was never seen as a file."),
        Missing::Changed => format!(
            "The file {name} is no longer the photograph that was read, so its pictures are left out."
        ),
        Missing::Gone => format!(
            "The photograph {name} is no longer where it was last seen, so its pictures are left out; read it again from its new place to show them."
        ),
        Missing::Unopened(what) => format!("The photograph {name} can't be shown: {what}."),
    })
}

fn mark(photo: &RgbImage, outline: Quad, mark: &KeptMark) -> Cut {
    let seen = Mark {
        kind: mark.kind(),
        kind_chance: 1.0,
        outline,
        lettering: mark.latest().lettering,
        bearing: None,
    };
    jpeg(&marks::flatten(photo, &seen).picture, MARK_SIDE)
}

/// As JPEG, made smaller if a side is longer than `longest`.
fn jpeg(picture: &RgbImage, longest: u32) -> Cut {
    let (w, h) = picture.dimensions();
    if w == 0 || h == 0 {
        return Cut::Missing(
            "The outline of this mark has no area, so there is no picture of it.".into(),
        );
    }
    let scale = f64::from(longest) / f64::from(w.max(h));
    let smaller;
    let shown = if scale < 1.0 {
        let side = |s: u32| ((f64::from(s) * scale).round() as u32).max(1);
        smaller = imageops::resize(picture, side(w), side(h), FilterType::Triangle);
        &smaller
    } else {
        picture
    };
    let mut bytes = Vec::new();
    match JpegEncoder::new_with_quality(&mut bytes, QUALITY).encode_image(shown) {
        Ok(()) => Cut::Jpeg {
            bytes,
            width: shown.width(),
            height: shown.height(),
        },
        Err(e) => Cut::Missing(format!("The picture of this mark can't be made ({e}).")),
    }
}
