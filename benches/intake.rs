//! Opening photographs of 12 and 50 megapixels: seconds and peak memory, beside the plain decoder
//! of the `image` library on the same bytes in the same run.
//!
//! `cargo bench --bench intake`. Peak memory is read from the kernel (Linux only) and reset
//! between the two where the kernel permits it.

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder, RgbImage};
use std::time::Instant;

fn peak_mib() -> f64 {
    std::fs::read_to_string("/proc/self/status")
        .ok()
        .and_then(|s| {
            let line = s.lines().find(|l| l.starts_with("VmHWM"))?.to_string();
            line.split_whitespace().nth(1)?.parse::<f64>().ok()
        })
        .map_or(f64::NAN, |k| k / 1024.0)
}

fn reset_peak() {
    let _ = std::fs::write("/proc/self/clear_refs", "5");
}

fn main() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    println!(
        "{:>4} {:>9} {:>9} {:>7} {:>11} {:>11}",
        "MP", "dorso s", "plain s", "ratio", "dorso MiB", "plain MiB"
    );
    for (megapixels, w, h) in [(12, 4032u32, 3024u32), (50, 8192, 6144)] {
        let file = dir.path().join(format!("{megapixels}.jpg"));
        {
            let picture = RgbImage::from_fn(w, h, |x, y| {
                let grain = (x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503)) >> 27;
                let v = 120 + (x / 64 + y / 64) % 40 + grain;
                image::Rgb([v as u8, (v - 10) as u8, (v - 30) as u8])
            });
            let mut bytes = Vec::new();
            JpegEncoder::new_with_quality(&mut bytes, 88)
                .write_image(picture.as_raw(), w, h, ExtendedColorType::Rgb8)
                .expect("encoding");
            std::fs::write(&file, bytes).expect("writing");
        }
        reset_peak();
        let start = Instant::now();
        let photo = dorso::photograph::open(&file).expect("the photograph");
        let ours = start.elapsed().as_secs_f64();
        let our_peak = peak_mib();
        assert_eq!((photo.width(), photo.height()), (w, h));
        drop(photo);
        reset_peak();
        let start = Instant::now();
        let plain = image::open(&file).expect("the picture").to_rgb8();
        let theirs = start.elapsed().as_secs_f64();
        assert_eq!(plain.width(), w);
        println!(
            "{megapixels:>4} {ours:>9.2} {theirs:>9.2} {:>7.2} {our_peak:>11.0} {:>11.0}",
            ours / theirs,
            peak_mib()
        );
    }
}
