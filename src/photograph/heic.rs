//! HEIC through the system's libheif.

use super::decode::{check_size, fault};
use crate::Result;
use image::RgbImage;
use libheif_rs::{ColorSpace, HeifContext, HeifError, LibHeif, RgbChroma};
use std::path::Path;

/// Decodes the primary picture, turned and mirrored as the file says, 8-bit RGB.
///
/// # Errors
/// As for the other formats; the size is judged before decoding.
pub(super) fn decode(file: &Path, bytes: &[u8]) -> Result<RgbImage> {
    let damaged = |e: HeifError| {
        fault(
            file,
            format!("the HEIC is damaged or of a kind that can't be read ({e})"),
            "copy it again from the phone, or export it as JPEG there",
        )
    };
    let context = HeifContext::read_from_bytes(bytes).map_err(damaged)?;
    let handle = context.primary_image_handle().map_err(damaged)?;
    check_size(file, handle.width(), handle.height())?;
    let decoded = LibHeif::new()
        .decode(&handle, ColorSpace::Rgb(RgbChroma::Rgb), None)
        .map_err(damaged)?;
    let planes = decoded.planes();
    let cut = || {
        fault(
            file,
            "the HEIC holds less than it promises",
            "copy it again from the phone, or export it as JPEG there",
        )
    };
    let plane = planes.interleaved.ok_or_else(cut)?;
    let line = plane.width as usize * 3;
    let mut pixels = Vec::with_capacity(line * plane.height as usize);
    for row in plane
        .data
        .chunks(plane.stride.max(1))
        .take(plane.height as usize)
    {
        pixels.extend_from_slice(row.get(..line).ok_or_else(cut)?);
    }
    RgbImage::from_raw(plane.width, plane.height, pixels).ok_or_else(cut)
}
