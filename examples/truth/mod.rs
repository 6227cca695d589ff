//! Made photographs with the true outlines beside them.

use dorso::geometry::{Point, Quad};
use image::RgbImage;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// A photograph with what is true of it.
pub struct Known {
    /// File name without its ending.
    pub name: String,
    /// `NAME.json` as the maker wrote it.
    pub truth: Value,
    /// Upright, as a person sees it.
    pub picture: RgbImage,
}

/// The photographs of a folder that have a `NAME.json` beside `NAME.jpg`, by name; those that can't
/// be opened are passed over.
pub fn known(folder: &Path) -> impl Iterator<Item = Known> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|f| f.path())
        .filter(|p| p.extension().is_some_and(|e| e == "json"))
        .collect();
    files.sort();
    files.into_iter().filter_map(|file| {
        Some(Known {
            name: file.file_stem()?.to_string_lossy().into_owned(),
            truth: serde_json::from_str(&std::fs::read_to_string(&file).ok()?).ok()?,
            picture: open(&file.with_extension("jpg"))?,
        })
    })
}

/// An outline as the maker writes it: four corners, px.
pub fn quad(v: &Value) -> Option<Quad> {
    let at = |i: usize, k: usize| v.get(i)?.get(k)?.as_f64();
    let p = |i: usize| Some(Point::new(at(i, 0)?, at(i, 1)?));
    Some(Quad([p(0)?, p(1)?, p(2)?, p(3)?]))
}

fn open(file: &Path) -> Option<RgbImage> {
    use image::ImageDecoder;
    let mut decoder = image::ImageReader::open(file).ok()?.into_decoder().ok()?;
    let turn = decoder.orientation().ok()?;
    let mut picture = image::DynamicImage::from_decoder(decoder).ok()?;
    picture.apply_orientation(turn);
    Some(picture.to_rgb8())
}
