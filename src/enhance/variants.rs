//! The variants of a crop, chosen by measurement.

use super::{Variant, contrast, ink, letters, resample, threshold};
use image::imageops;
use image::{GrayImage, RgbImage};

/// Height of letters that recognisers like, px.
const WANTED_HEIGHT: f64 = 34.0;

/// Largest picture handed out, px.
const LARGEST: f64 = 8e6;

/// The cleaned pictures of one upright crop that the readings stage votes over, best first.
///
/// * `crop`: RGB, any size.
///
/// Returns at least one variant, also for a blank crop.
pub fn variants(crop: &RgbImage) -> Vec<Variant> {
    let (w, h) = crop.dimensions();
    if w < 3 || h < 3 {
        return vec![Variant {
            name: "grey".into(),
            done: "grey values as photographed, too small to do more".into(),
            picture: imageops::grayscale(crop),
            scale: 1.0,
        }];
    }
    let inks = ink::measure(crop, 0);
    let best = inks.axes[0];
    let flat = inks.picture(crop, &best);
    let found = letters::letters(&threshold::at_level(&flat, threshold::otsu(&flat)));
    let scale = scale_for(found.map(|l| l.height), w, h);
    let turned = if inks.light_on_dark {
        ", light lettering turned dark"
    } else {
        ""
    };
    let flat = resized(&flat, scale);
    let mut all = vec![Variant {
        name: "flat".into(),
        done: format!(
            "light flattened on the {} axis, which parts ink from ground best{turned}",
            best.name
        ),
        picture: contrast::stretch(&flat, 0.005, 0.9),
        scale,
    }];
    let line = (WANTED_HEIGHT * 2.0) as u32 | 1;
    if let Ok(mask) = threshold::sauvola(&flat, line, 0.2) {
        let mut picture = mask;
        imageops::invert(&mut picture);
        all.push(Variant {
            name: "threshold".into(),
            done: format!("flattened, then black and white by a local threshold{turned}"),
            picture,
            scale,
        });
    }
    let mut grey = imageops::grayscale(crop);
    if inks.light_on_dark {
        imageops::invert(&mut grey);
    }
    all.push(Variant {
        name: "grey".into(),
        done: format!("grey values as photographed{turned}"),
        picture: resized(&grey, scale),
        scale,
    });
    all
}

fn scale_for(height: Option<f64>, w: u32, h: u32) -> f64 {
    let wanted = height.map_or(1.0, |l| WANTED_HEIGHT / l);
    let most = (LARGEST / (f64::from(w) * f64::from(h))).sqrt();
    let scale = wanted.clamp(0.25, 4.0).min(most);
    // Resampling costs sharpness, so near enough stays as it is.
    if (0.75..=1.3).contains(&scale) {
        1.0
    } else {
        scale
    }
}

fn resized(grey: &GrayImage, scale: f64) -> GrayImage {
    if scale == 1.0 {
        return grey.clone();
    }
    resample::lanczos(grey, scale).unwrap_or_else(|_| grey.clone())
}
