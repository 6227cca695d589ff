//! Contrast: stretching of the whole picture, and local equalisation.

use image::GrayImage;

/// Stretches greys so that the share `low` of the pixels becomes 0 and the share `high` 255.
///
/// * `low`, `high`: 0 to 1, such as 0.01 and 0.99. A flat picture is left as it is.
pub fn stretch(grey: &GrayImage, low: f64, high: f64) -> GrayImage {
    let mut counts = [0u32; 256];
    for &v in grey.as_raw() {
        counts[usize::from(v)] += 1;
    }
    let a = f32::from(super::light::percentile(&counts, low));
    let b = f32::from(super::light::percentile(&counts, high));
    let mut out = grey.clone();
    if b <= a {
        return out;
    }
    let table: Vec<u8> = (0..256)
        .map(|v| ((v as f32 - a) / (b - a) * 255.0).round().clamp(0.0, 255.0) as u8)
        .collect();
    for v in out.iter_mut() {
        *v = table[usize::from(*v)];
    }
    out
}
