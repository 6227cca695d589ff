//! HEIC through the system's libheif.

use crate::{Error, Kind, Result};
use image::RgbImage;
use std::path::Path;

/// Decodes the primary picture, turned as the file says.
pub(super) fn decode(file: &Path, _bytes: &[u8]) -> Result<RgbImage> {
    Err(Error::new(
        Kind::Photograph,
        file.display(),
        "HEIC isn't decoded yet",
        "export it as JPEG from the phone",
    ))
}
