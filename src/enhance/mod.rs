//! Makes lettering legible: flattening of light, choice of channel, contrast, thresholds, skew,
//! upscaling. Works on any picture; knows nothing of marks.

use image::{GrayImage, RgbImage};

/// One cleaned picture of a crop, for recognisers to read and a person to look at.
#[derive(Debug, Clone)]
pub struct Variant {
    /// Short name, lower case with hyphens, unique within a crop: `flat`, `local-contrast`, ...
    pub name: String,
    /// What was done, one sentence for the person.
    pub done: String,
    /// Dark lettering on light ground, 8 bit.
    pub picture: GrayImage,
    /// px of `picture` for one px of the crop.
    pub scale: f64,
}

/// The cleaned pictures of one upright crop that the readings stage votes over, best first.
///
/// * `crop`: RGB, any size.
///
/// Returns at least one variant, also for a blank crop.
pub fn variants(crop: &RgbImage) -> Vec<Variant> {
    vec![Variant {
        name: "grey".into(),
        done: "grey values as photographed".into(),
        picture: image::imageops::grayscale(crop),
        scale: 1.0,
    }]
}
