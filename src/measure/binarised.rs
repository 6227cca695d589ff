//! How well a black and white picture matches the ink that is truly there: the measures of the
//! document-binarisation contests (DIBCO 2009 to 2019).
//!
//! * F-measure and PSNR as in Gatos, Ntirogiannis and Pratikakis, "ICDAR 2009 Document Image
//!   Binarization Contest".
//! * pseudo F-measure as in the contest of 2010: recall is counted on the skeleton of the true ink
//!   (Ntirogiannis, Gatos and Pratikakis 2008), so that a stroke a little too thin costs nothing. Here
//!   the skeleton is that of Zhang and Suen (1984); the contests' own tool may thin otherwise.
//! * DRD, distance reciprocal distortion, as in Lu, Kot and Shi (2004).
//!
//! The formulas are set down from memory of these papers and checked on cases worked by hand.

use image::GrayImage;

/// The measures of one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Binarised {
    /// Harmonic mean of precision and recall over px of ink, 0 to 1.
    pub f: f64,
    /// The same with recall on the skeleton of the true ink, 0 to 1.
    pub pseudo_f: f64,
    /// Peak signal to noise, dB; infinite where nothing differs.
    pub psnr: f64,
    /// Distance reciprocal distortion; 0 where nothing differs. Infinite where something does and the
    /// true picture has no block of 8 px that holds both ink and ground.
    pub drd: f64,
}

/// Ink is what is darker than 128. `None` if the sizes differ or there is no px.
pub fn binarised(made: &GrayImage, truth: &GrayImage) -> Option<Binarised> {
    if made.dimensions() != truth.dimensions() || truth.is_empty() {
        return None;
    }
    let (w, h) = (truth.width() as usize, truth.height() as usize);
    let ink = |p: &GrayImage| -> Vec<bool> { p.as_raw().iter().map(|v| *v < 128).collect() };
    let (made, truth) = (ink(made), ink(truth));
    let count = |f: &dyn Fn(usize) -> bool| (0..w * h).filter(|i| f(*i)).count() as f64;
    let hit = count(&|i| made[i] && truth[i]);
    let share = |a: f64, b: f64| if b > 0.0 { a / b } else { 1.0 };
    let precision = share(hit, count(&|i| made[i]));
    let recall = share(hit, count(&|i| truth[i]));
    let thin = skeleton(&truth, w, h);
    let thin_recall = share(count(&|i| thin[i] && made[i]), count(&|i| thin[i]));
    let mean = |p: f64, r: f64| share(2.0 * p * r, p + r);
    let wrong = count(&|i| made[i] != truth[i]);
    let psnr = match wrong {
        0.0 => f64::INFINITY,
        n => 10.0 * ((w * h) as f64 / n).log10(),
    };
    Some(Binarised {
        f: mean(precision, recall),
        pseudo_f: mean(precision, thin_recall),
        psnr,
        drd: distortion(&made, &truth, w, h),
    })
}

/// Weight of a place by its distance, over 5 × 5 px, summing to 1; the middle has none.
fn weights() -> [[f64; 5]; 5] {
    let far = |i: usize, j: usize| (i as f64 - 2.0).hypot(j as f64 - 2.0);
    let own = |i: usize, j: usize| match (i, j) {
        (2, 2) => 0.0,
        _ => 1.0 / far(i, j),
    };
    let sum: f64 = (0..25).map(|k| own(k / 5, k % 5)).sum();
    std::array::from_fn(|i| std::array::from_fn(|j| own(i, j) / sum))
}

fn distortion(made: &[bool], truth: &[bool], w: usize, h: usize) -> f64 {
    let weights = weights();
    let mut sum = 0.0;
    for i in (0..w * h).filter(|i| made[*i] != truth[*i]) {
        let (x, y) = ((i % w) as i64, (i / w) as i64);
        for (dy, row) in (-2i64..).zip(&weights) {
            for (dx, weight) in (-2i64..).zip(row) {
                let (u, v) = (x + dx, y + dy);
                let inside = u >= 0 && v >= 0 && u < w as i64 && v < h as i64;
                if inside && truth[v as usize * w + u as usize] != made[i] {
                    sum += weight;
                }
            }
        }
    }
    let mut mixed = 0usize;
    for top in (0..h).step_by(8) {
        for left in (0..w).step_by(8) {
            let rows = top..(top + 8).min(h);
            let mut all = rows.flat_map(|y| (left..(left + 8).min(w)).map(move |x| (x, y)));
            let first = truth[top * w + left];
            mixed += usize::from(all.any(|(x, y)| truth[y * w + x] != first));
        }
    }
    match (sum, mixed) {
        (0.0, _) => 0.0,
        (_, 0) => f64::INFINITY,
        _ => sum / mixed as f64,
    }
}

/// Lines of one px (Zhang and Suen, "A fast parallel algorithm for thinning digital patterns", 1984).
fn skeleton(ink: &[bool], w: usize, h: usize) -> Vec<bool> {
    let mut now = ink.to_vec();
    let around = |now: &[bool], i: usize| -> [bool; 8] {
        let (x, y) = ((i % w) as i64, (i / w) as i64);
        // From above, clockwise
        let steps = [
            (0, -1),
            (1, -1),
            (1, 0),
            (1, 1),
            (0, 1),
            (-1, 1),
            (-1, 0),
            (-1, -1),
        ];
        steps.map(|(dx, dy)| {
            let (u, v) = (x + dx, y + dy);
            u >= 0 && v >= 0 && u < w as i64 && v < h as i64 && now[v as usize * w + u as usize]
        })
    };
    loop {
        let mut changed = false;
        for second in [false, true] {
            let gone: Vec<usize> = (0..w * h)
                .filter(|&i| {
                    if !now[i] {
                        return false;
                    }
                    let p = around(&now, i);
                    let neighbours = p.iter().filter(|v| **v).count();
                    let risen = (0..8).filter(|k| !p[*k] && p[(k + 1) % 8]).count();
                    let [up, _, right, _, down, _, left, _] = p;
                    let free = if second {
                        !(up && left && (right || down))
                    } else {
                        !(right && down && (up || left))
                    };
                    (2..=6).contains(&neighbours) && risen == 1 && free
                })
                .collect();
            changed |= !gone.is_empty();
            gone.into_iter().for_each(|i| now[i] = false);
        }
        if !changed {
            return now;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    /// `#` is ink.
    fn drawn(rows: &[&str]) -> GrayImage {
        GrayImage::from_fn(rows[0].len() as u32, rows.len() as u32, |x, y| {
            let ink = rows[y as usize].as_bytes()[x as usize] == b'#';
            Luma([if ink { 0 } else { 255 }])
        })
    }

    #[test]
    fn a_right_picture_has_no_fault() {
        let p = drawn(&["........", "..###...", "..###...", "........"]);
        let b = binarised(&p, &p).unwrap();
        assert_eq!((b.f, b.pseudo_f, b.drd), (1.0, 1.0, 0.0));
        assert!(b.psnr.is_infinite());
    }

    #[test]
    fn a_case_worked_by_hand() {
        // Four px of ink in 8 × 4; one is lost, one too many stands apart.
        let truth = drawn(&["........", ".####...", "........", "........"]);
        let made = drawn(&["........", ".###....", "........", ".......#"]);
        let b = binarised(&made, &truth).unwrap();
        // Precision 3/4, recall 3/4.
        assert!((b.f - 0.75).abs() < 1e-12);
        // A line of one px is its own skeleton.
        assert!((b.pseudo_f - 0.75).abs() < 1e-12);
        // Two px of 32: 10 log10(16) dB.
        assert!((b.psnr - 12.041_199_826_559_248).abs() < 1e-9);
        // Weights sum to 4 · 1 + 4 / √2 + 4 / 2 + 8 / √5 + 4 / √8 before they are normed.
        let all = 4.0 + 4.0 / 2f64.sqrt() + 2.0 + 8.0 / 5f64.sqrt() + 4.0 / 8f64.sqrt();
        // The px lost is now ground; around it the truth has ink at distance 1 and 2, to the left.
        let lost = (1.0 + 0.5) / all;
        // The px too many is ink at the lower right corner; the truth around it within the picture is
        // all ground: distances 1, 2 to the left and up, √2, √5 twice, √8.
        let more = (2.0 * 1.5 + 1.0 / 2f64.sqrt() + 2.0 / 5f64.sqrt() + 1.0 / 8f64.sqrt()) / all;
        // One block of 8 px, with both.
        assert!((b.drd - (lost + more)).abs() < 1e-9, "{}", b.drd);
    }

    #[test]
    fn a_stroke_cut_too_thin_costs_no_pseudo_recall() {
        let truth = drawn(&[
            "............",
            ".##########.",
            ".##########.",
            ".##########.",
            "............",
        ]);
        let made = drawn(&[
            "............",
            "............",
            ".##########.",
            "............",
            "............",
        ]);
        let b = binarised(&made, &truth).unwrap();
        assert!((b.f - 0.5).abs() < 1e-12, "precision 1, recall 1/3");
        assert_eq!(b.pseudo_f, 1.0);
    }

    #[test]
    fn pictures_of_other_sizes_are_not_measured() {
        assert!(binarised(&GrayImage::new(3, 3), &GrayImage::new(4, 3)).is_none());
        assert!(binarised(&GrayImage::new(0, 0), &GrayImage::new(0, 0)).is_none());
    }
}
