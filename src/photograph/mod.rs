//! From files to upright pictures. Originals are opened read-only and never altered.

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

/// Opens and decodes one photograph.
///
/// # Errors
/// `Kind::Photograph`, naming the file and what to do: missing, empty, no picture, cut short,
/// too large, HEIC without the build feature.
pub fn open(_file: &Path) -> Result<Photograph> {
    unimplemented_stage("photograph")
}

/// The image files meant by the arguments: files as they are, a folder for the images in it,
/// in natural order. A missing file stays in the list, so that opening it tells the fault.
///
/// # Errors
/// One error for each folder that can't be listed or holds no image.
pub fn expand(_paths: &[PathBuf]) -> Vec<Result<PathBuf>> {
    Vec::new()
}

fn unimplemented_stage<T>(name: &str) -> Result<T> {
    Err(crate::Error::new(
        crate::Kind::Photograph,
        name,
        "this stage isn't there yet",
        "build a later version",
    ))
}
