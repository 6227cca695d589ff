//! From files to upright pictures. Originals are opened read-only and never altered.
//!
//! A file is recognised by its content, not by its name. What can't be used is told in one
//! sentence that names the file and the next step: see [`open`].

mod decode;
mod folder;
mod format;
#[cfg(feature = "heic")]
mod heic;
mod jpeg;

pub use decode::{LARGEST_PIXELS, LARGEST_SIDE, from_bytes, identity};
pub use folder::{expand, natural_order};
pub use format::{Format, sniff};

use crate::Result;
use image::RgbImage;
use std::path::{Path, PathBuf};

/// A photograph as a person sees it: decoded, turned after its EXIF orientation.
#[derive(Debug, Clone)]
pub struct Photograph {
    /// The file it came from, as named by the user.
    pub file: PathBuf,
    /// SHA-256 of the file's bytes, 64 hex digits: its identity in the store.
    pub sha256: String,
    /// Upright picture, RGB, 8 bit.
    pub picture: RgbImage,
}

impl Photograph {
    /// Width, px, upright.
    pub fn width(&self) -> u32 {
        self.picture.width()
    }
    /// Height, px, upright.
    pub fn height(&self) -> u32 {
        self.picture.height()
    }
}

/// Opens and decodes one photograph: JPEG, PNG, TIFF, WebP, and HEIC where the build has it.
///
/// Sixteen-bit and grey pictures become 8-bit RGB; what is transparent becomes white. Colour
/// profiles are not applied.
///
/// Memory: the file's bytes, the decoded picture, and a second one while it is turned.
///
/// # Errors
/// `Kind::Photograph`, naming the file and what to do: missing, empty, no picture, cut short,
/// too large, HEIC without the build feature.
pub fn open(file: &Path) -> Result<Photograph> {
    let bytes = decode::read(file)?;
    from_bytes(file, &bytes)
}
