//! How far lines of text lean.

use image::GrayImage;

/// How far the text leans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skew {
    /// Degrees, positive where the text runs down to the right.
    pub degrees: f64,
    /// How clearly one direction stands out, 0 (not at all) to 1.
    pub sure: f64,
}

/// The lean of the text in a picture with dark lettering on light ground.
pub fn skew(_grey: &GrayImage) -> Skew {
    Skew {
        degrees: 0.0,
        sure: 0.0,
    }
}
