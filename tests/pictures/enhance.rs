//! Enhancement held against other people's code and against pictures of known skew.
//!
//! `tests/reference/make_enhance.py` made the values, with scikit-image (thresholds), OpenCV
//! (local contrast), and the packages deskew and jdeskew beside our skew.

use dorso::enhance::{contrast, denoise, letters, resample, skew, threshold, variants};
use image::{GrayImage, Rgb, RgbImage};
use proptest::prelude::*;
use serde_json::Value;
use std::path::PathBuf;

fn reference(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(name)
}

fn values(name: &str) -> Value {
    serde_json::from_slice(&std::fs::read(reference(name)).unwrap()).unwrap()
}

fn picture(name: &str) -> GrayImage {
    image::open(reference("pictures").join(name))
        .unwrap()
        .into_luma8()
}

fn ink_by_rows(mask: &GrayImage) -> Vec<i64> {
    mask.rows()
        .map(|row| row.filter(|p| p.0[0] == 255).count() as i64)
        .collect()
}

#[test]
fn thresholds_are_those_of_scikit_image() {
    let all = values("enhance.json");
    for name in ["page", "text"] {
        let grey = picture(&format!("{name}.png"));
        let wanted = &all[name];
        assert_eq!(
            i64::from(threshold::otsu(&grey)),
            wanted["otsu"].as_i64().unwrap(),
            "{name}"
        );
        for window in [15, 25, 51] {
            // scikit-image writes Niblack's threshold as m - k s.
            for (rule, mask) in [
                ("niblack", threshold::niblack(&grey, window, -0.2).unwrap()),
                ("sauvola", threshold::sauvola(&grey, window, 0.2).unwrap()),
            ] {
                let key = format!("{rule}_{window}");
                let theirs: Vec<i64> = wanted[&key]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|v| v.as_i64().unwrap())
                    .collect();
                let ours = ink_by_rows(&mask);
                assert_eq!(ours.len(), theirs.len());
                // Where grey and threshold are equal but for the last bits of a sum, a pixel
                // may fall to either side: one in ten thousand is allowed.
                let off: i64 = ours.iter().zip(&theirs).map(|(a, b)| (a - b).abs()).sum();
                let most = (grey.len() / 10_000) as i64;
                assert!(
                    off <= most,
                    "{name} {key}: {off} pixels differ, {most} allowed"
                );
            }
        }
    }
}

#[test]
fn local_contrast_is_that_of_opencv_within_one_grey() {
    for (name, tiles, clip) in [("page", 4, 2.0), ("text", 8, 3.0)] {
        let grey = picture(&format!("{name}.png"));
        let (w, h) = (grey.width() / 8 * 8, grey.height() / 8 * 8);
        let grey = image::imageops::crop_imm(&grey, 0, 0, w, h).to_image();
        let theirs = picture(&format!("{name}-clahe-{tiles}.png"));
        let ours = contrast::clahe(&grey, tiles, tiles, clip).unwrap();
        let worst = ours
            .iter()
            .zip(theirs.iter())
            .map(|(a, b)| a.abs_diff(*b))
            .max();
        assert!(
            worst <= Some(1),
            "{name} {tiles}x{tiles}: {worst:?} greys apart"
        );
    }
}

fn quantile(off: &mut [f64], part: f64) -> f64 {
    off.sort_by(f64::total_cmp);
    off[((off.len() - 1) as f64 * part).round() as usize]
}

/// A scan leans by itself, so what is known of its turned copies is the angle from the copy that
/// was turned by 0; "lorem" is level by itself.
#[test]
fn skew_of_turned_pages_is_found_to_a_tenth_of_a_degree() {
    let all = values("skew.json");
    let rows = all["rows"].as_array().unwrap();
    assert!(rows.len() >= 30);
    let mut off: [Vec<f64>; 3] = Default::default();
    let mut own = [0.0; 3];
    for row in rows {
        let file = row["file"].as_str().unwrap();
        let lean = row["degrees"].as_f64().unwrap();
        let found = skew(&picture(file));
        let three = [
            found.degrees,
            row["deskew"].as_f64().unwrap(),
            row["jdeskew"].as_f64().unwrap(),
        ];
        let absolute = row["page"] == "lorem";
        if lean == 0.0 {
            own = if absolute { [0.0; 3] } else { three };
            if !absolute {
                println!("{file}: leans by itself {three:?}");
                continue;
            }
        }
        println!(
            "{file}: ours, deskew, jdeskew {three:.3?}, sure {:.2}",
            found.sure
        );
        for i in 0..3 {
            off[i].push((three[i] - own[i] - lean).abs());
        }
    }
    for (name, off) in ["ours", "deskew", "jdeskew"].iter().zip(&mut off) {
        let (median, most) = (quantile(off, 0.5), quantile(off, 0.9));
        println!(
            "{name}: median {median:.3}, 90% within {most:.3}, of {}",
            off.len()
        );
    }
    assert!(quantile(&mut off[0], 0.5) <= 0.1);
    assert!(quantile(&mut off[0], 0.9) <= 0.3);
}

/// Index past the edge, mirrored without doubling the edge; one step at a time.
fn mirrored(mut at: i64, n: i64) -> i64 {
    if n == 1 {
        return 0;
    }
    loop {
        if at < 0 {
            at = -at;
        } else if at >= n {
            at = 2 * (n - 1) - at;
        } else {
            return at;
        }
    }
}

fn at(grey: &GrayImage, x: i64, y: i64) -> f64 {
    let (w, h) = (i64::from(grey.width()), i64::from(grey.height()));
    f64::from(
        grey.get_pixel(mirrored(x, w) as u32, mirrored(y, h) as u32)
            .0[0],
    )
}

/// Mean and deviation of a window, value by value.
fn window_of(grey: &GrayImage, x: u32, y: u32, window: u32) -> (f64, f64) {
    let r = i64::from(window / 2);
    let (x, y) = (i64::from(x), i64::from(y));
    let all: Vec<f64> = (-r..=r)
        .flat_map(|dy| (-r..=r).map(move |dx| (dx, dy)))
        .map(|(dx, dy)| at(grey, x + dx, y + dy))
        .collect();
    let n = all.len() as f64;
    let m = all.iter().sum::<f64>() / n;
    let s = (all.iter().map(|v| (v - m).powi(2)).sum::<f64>() / n).sqrt();
    (m, s)
}

fn any_grey() -> impl Strategy<Value = GrayImage> {
    (0u32..14, 0u32..14).prop_flat_map(|(w, h)| {
        proptest::collection::vec(any::<u8>(), (w * h) as usize)
            .prop_map(move |v| GrayImage::from_raw(w, h, v).unwrap())
    })
}

/// Noise so large that it is worked in several pieces.
fn large_grey(
    w: std::ops::Range<u32>,
    h: std::ops::Range<u32>,
) -> impl Strategy<Value = GrayImage> {
    (w, h, any::<u32>()).prop_map(|(w, h, seed)| {
        GrayImage::from_fn(w, h, |x, y| {
            let mixed = (seed ^ (y * w + x)).wrapping_mul(2_654_435_761);
            image::Luma([(mixed >> 24) as u8])
        })
    })
}

fn assert_mask(
    grey: &GrayImage,
    mask: &GrayImage,
    t: impl Fn(u32, u32) -> f64,
) -> Result<(), TestCaseError> {
    prop_assert_eq!(grey.dimensions(), mask.dimensions());
    for (x, y, p) in grey.enumerate_pixels() {
        let (v, t) = (f64::from(p.0[0]), t(x, y));
        // Equal but for rounding may fall to either side.
        if (v - t).abs() > 0.01 {
            prop_assert_eq!(
                mask.get_pixel(x, y).0[0] == 255,
                v < t,
                "at {} {}: {} {}",
                x,
                y,
                v,
                t
            );
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn local_thresholds_equal_their_plain_twins(grey in any_grey(), half in 1u32..9, k in 0.0f64..1.0) {
        let window = 2 * half + 1;
        let mask = threshold::sauvola(&grey, window, k).unwrap();
        assert_mask(&grey, &mask, |x, y| {
            let (m, s) = window_of(&grey, x, y, window);
            m * (1.0 + k * (s / 128.0 - 1.0))
        })?;
        let mask = threshold::niblack(&grey, window, -k).unwrap();
        assert_mask(&grey, &mask, |x, y| {
            let (m, s) = window_of(&grey, x, y, window);
            m - k * s
        })?;
        let all: Vec<(f64, f64)> =
            grey.enumerate_pixels().map(|(x, y, _)| window_of(&grey, x, y, window)).collect();
        let most = all.iter().map(|a| a.1).fold(0.0, f64::max);
        let least = f64::from(grey.iter().copied().min().unwrap_or(0));
        if most > 1e-6 {
            let mask = threshold::wolf(&grey, window, k).unwrap();
            assert_mask(&grey, &mask, |x, y| {
                let (m, s) = all[(y * grey.width() + x) as usize];
                (1.0 - k) * m + k * least + k * s / most * (m - least)
            })?;
        }
    }

    #[test]
    fn otsu_makes_the_variance_between_classes_greatest(grey in any_grey()) {
        let between = |t: u8| {
            let (ink, ground): (Vec<f64>, Vec<f64>) =
                grey.iter().map(|&v| f64::from(v)).partition(|&v| v <= f64::from(t));
            if ink.is_empty() || ground.is_empty() {
                return 0.0;
            }
            let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
            ink.len() as f64 * ground.len() as f64 * (mean(&ink) - mean(&ground)).powi(2)
        };
        let best = (0..=255u8).map(between).fold(0.0, f64::max);
        prop_assert!(between(threshold::otsu(&grey)) >= best * (1.0 - 1e-12));
    }

    #[test]
    fn bilateral_smoothing_equals_its_plain_twin(
        grey in prop_oneof![3 => any_grey(), 1 => large_grey(500..1100, 1..6)],
        reach in 1u32..4,
        g in 2.0f64..60.0,
    ) {
        let fast = denoise::bilateral(&grey, reach, 1.5, g).unwrap();
        let r = i64::from(reach);
        for (x, y, p) in grey.enumerate_pixels() {
            let v0 = f64::from(p.0[0]);
            let (mut sum, mut weight) = (0.0, 0.0);
            for dy in -r..=r {
                for dx in -r..=r {
                    let v = at(&grey, i64::from(x) + dx, i64::from(y) + dy);
                    let k = (-((dx * dx + dy * dy) as f64) / (2.0 * 1.5 * 1.5)
                        - (v - v0).powi(2) / (2.0 * g * g)).exp();
                    sum += k * v;
                    weight += k;
                }
            }
            prop_assert!((f64::from(fast.get_pixel(x, y).0[0]) - sum / weight).abs() <= 0.51);
        }
    }

    #[test]
    fn turning_equals_its_plain_twin(
        grey in prop_oneof![3 => any_grey(), 1 => large_grey(150..320, 150..170)],
        degrees in -180.0f64..180.0,
        around in any::<u8>(),
    ) {
        let fast = resample::turned(&grey, degrees, around);
        let (sin, cos) = degrees.to_radians().sin_cos();
        let middle = |p: &GrayImage| (f64::from(p.width()) / 2.0, f64::from(p.height()) / 2.0);
        let ((mx, my), (fx, fy)) = (middle(&grey), middle(&fast));
        let px = |x: f64, y: f64| {
            let inside = x >= 0.0 && y >= 0.0 && x < 2.0 * mx && y < 2.0 * my;
            if inside { f64::from(grey.get_pixel(x as u32, y as u32).0[0]) } else { f64::from(around) }
        };
        for (x, y, p) in fast.enumerate_pixels() {
            let (dx, dy) = (f64::from(x) + 0.5 - fx, f64::from(y) + 0.5 - fy);
            let (u, v) = (cos * dx + sin * dy + mx - 0.5, -sin * dx + cos * dy + my - 0.5);
            let (i, j) = (u.floor(), v.floor());
            let row = |j: f64| px(i, j) * (1.0 - (u - i)) + px(i + 1.0, j) * (u - i);
            let plain = row(j) * (1.0 - (v - j)) + row(j + 1.0) * (v - j);
            // Places are rounded down to 256ths of a px
            prop_assert!((f64::from(p.0[0]) - plain).abs() <= 2.6, "{} {}: {} {}", x, y, p.0[0], plain);
        }
    }

    #[test]
    fn lanczos_equals_its_plain_twin(grey in any_grey(), factor in 0.3f64..3.5) {
        let fast = resample::lanczos(&grey, factor).unwrap();
        let (w, h) = (f64::from(grey.width()), f64::from(grey.height()));
        let (fx, fy) = (f64::from(fast.width()) / w, f64::from(fast.height()) / h);
        if fast.dimensions() == grey.dimensions() {
            prop_assert_eq!(&fast, &grey);
            return Ok(());
        }
        let kernel = |x: f64| {
            let sinc = |x: f64| if x == 0.0 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) };
            if x.abs() < 3.0 { sinc(x) * sinc(x / 3.0) } else { 0.0 }
        };
        for (x, y, p) in fast.enumerate_pixels() {
            let (cx, cy) = ((f64::from(x) + 0.5) / fx - 0.5, (f64::from(y) + 0.5) / fy - 0.5);
            let (mut sum, mut weight) = (0.0, 0.0);
            for (i, j, q) in grey.enumerate_pixels() {
                let k = kernel((f64::from(i) - cx) * fx.min(1.0)) * kernel((f64::from(j) - cy) * fy.min(1.0));
                sum += k * f64::from(q.0[0]);
                weight += k;
            }
            let plain = (sum / weight).clamp(0.0, 255.0);
            prop_assert!((f64::from(p.0[0]) - plain).abs() <= 0.6, "{} {}: {} {}", x, y, p.0[0], plain);
        }
    }

    #[test]
    fn pieces_of_ink_are_those_of_a_flood_fill(grey in any_grey()) {
        let mask = threshold::at_level(&grey, 100);
        let (w, h) = (mask.width() as i64, mask.height() as i64);
        let mut left: std::collections::BTreeSet<(i64, i64)> = mask
            .enumerate_pixels()
            .filter(|(_, _, p)| p.0[0] > 0)
            .map(|(x, y, _)| (i64::from(x), i64::from(y)))
            .collect();
        let mut plain = Vec::new();
        while let Some(first) = left.pop_first() {
            let mut piece = vec![first];
            let mut next = 0;
            while next < piece.len() {
                let (x, y) = piece[next];
                next += 1;
                for (i, j) in (-1..=1).flat_map(|i| (-1..=1).map(move |j| (x + i, y + j))) {
                    if i >= 0 && j >= 0 && i < w && j < h && left.remove(&(i, j)) {
                        piece.push((i, j));
                    }
                }
            }
            let xs = piece.iter().map(|p| p.0 as u32);
            let ys = piece.iter().map(|p| p.1 as u32);
            plain.push((xs.clone().min(), ys.clone().min(), xs.max(), ys.max(), piece.len() as u32));
        }
        let mut fast: Vec<_> = letters::pieces(&mask)
            .iter()
            .map(|p| (Some(p.left), Some(p.top), Some(p.right), Some(p.bottom), p.area))
            .collect();
        plain.sort();
        fast.sort();
        prop_assert_eq!(fast, plain);
    }

    #[test]
    fn any_crop_gives_variants_of_one_size_with_names_of_their_own(
        w in 0u32..70, h in 0u32..70, seed in any::<u32>()
    ) {
        let crop = RgbImage::from_fn(w, h, |x, y| {
            let v = (x.wrapping_mul(31) ^ y.wrapping_mul(17) ^ seed).wrapping_mul(2_654_435_761);
            Rgb([(v >> 24) as u8, (v >> 16) as u8, (v >> 8) as u8])
        });
        let all = variants(&crop);
        prop_assert!(!all.is_empty());
        let mut names: Vec<&str> = all.iter().map(|v| v.name.as_str()).collect();
        names.sort();
        names.dedup();
        prop_assert_eq!(names.len(), all.len());
        for v in &all {
            prop_assert_eq!(v.picture.dimensions(), all[0].picture.dimensions());
            prop_assert!((f64::from(v.picture.width()) - f64::from(w) * v.scale).abs() <= 1.0);
        }
    }
}

#[test]
fn parameters_out_of_range_are_errors_that_name_the_range() {
    let grey = GrayImage::new(8, 8);
    let mut told = String::new();
    for wrong in [
        threshold::sauvola(&grey, 4, 0.2).unwrap_err(),
        threshold::sauvola(&grey, 9, 1.5).unwrap_err(),
        threshold::niblack(&grey, 1, -0.2).unwrap_err(),
        threshold::wolf(&grey, 5001, 0.5).unwrap_err(),
        contrast::clahe(&grey, 0, 8, 2.0).unwrap_err(),
        contrast::clahe(&grey, 8, 8, f64::NAN).unwrap_err(),
        denoise::bilateral(&grey, 0, 1.0, 10.0).unwrap_err(),
        denoise::bilateral(&grey, 2, 1.0, 0.0).unwrap_err(),
        resample::lanczos(&grey, 0.0).unwrap_err(),
    ] {
        assert_eq!(wrong.kind, dorso::Kind::Usage);
        told += &format!("{wrong}\n");
    }
    insta::assert_snapshot!(told);
}
