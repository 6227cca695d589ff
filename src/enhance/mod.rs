//! Makes lettering legible: flattening of light, choice of channel, contrast, thresholds, skew,
//! upscaling. Works on any picture; knows nothing of marks.

pub mod contrast;
pub mod denoise;
pub mod ink;
pub mod join;
pub mod letters;
pub mod light;
mod likest;
mod merit;
mod register;
mod relief;
pub mod resample;
pub mod sheet;
mod skew;
pub mod threshold;
mod unmix;
mod variants;
mod windows;

pub use likest::{Same, same_mark};
pub use merit::{Merit, merits};
pub use relief::{Relief, relief};
pub use skew::{Skew, skew};
pub use variants::{CHOICE, JOINED, Steps, steps, variants, variants_by, variants_of_joined};

use image::GrayImage;

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
    /// What was measured of it beside the others; `None` where there was no lettering to measure on.
    pub merit: Option<Merit>,
}
