//! Small picture tools that the finder shares: shrinking, grey closing, opponent colours.

use image::{GrayImage, Luma, RgbImage};
use rayon::prelude::*;

/// Steps to the eight px around one.
pub(super) const AROUND: [(i32, i32); 8] = [
    (-1, 0),
    (1, 0),
    (0, -1),
    (0, 1),
    (-1, -1),
    (1, -1),
    (-1, 1),
    (1, 1),
];

/// A picture made smaller by averaging, with the px of the photograph for one px of it.
pub(crate) struct Small {
    /// Averaged picture.
    pub picture: RgbImage,
    /// px of the photograph for one px of `picture`, at least 1.
    pub scale: f64,
}

/// Shrinks a picture so that its longer side is at most `longest` px, by the mean of the px that
/// fall into each (box filter). A picture that is small enough stays as it is. Cost: one pass.
pub(crate) fn shrink(photograph: &RgbImage, longest: u32) -> Small {
    let (w, h) = photograph.dimensions();
    let scale = f64::from(w.max(h)) / f64::from(longest.max(1));
    if scale <= 1.0 {
        return Small {
            picture: photograph.clone(),
            scale: 1.0,
        };
    }
    let nw = ((f64::from(w) / scale).round() as u32).max(1);
    let nh = ((f64::from(h) / scale).round() as u32).max(1);
    let edges = |n: u32, full: u32| -> Vec<usize> {
        (0..=n)
            .map(|i| (u64::from(i) * u64::from(full) / u64::from(n)) as usize)
            .collect()
    };
    let (xs, ys) = (edges(nw, w), edges(nh, h));
    let src = photograph.as_raw();
    let mut out = vec![0u8; nw as usize * nh as usize * 3];
    out.par_chunks_mut(nw as usize * 3)
        .enumerate()
        .for_each(|(y, row)| {
            let mut sums = vec![0u32; nw as usize * 3];
            let (y0, y1) = (ys[y], ys[y + 1].max(ys[y] + 1));
            for sy in y0..y1 {
                let line = &src[sy * w as usize * 3..(sy + 1) * w as usize * 3];
                for x in 0..nw as usize {
                    let (x0, x1) = (xs[x], xs[x + 1].max(xs[x] + 1));
                    let s = &mut sums[x * 3..x * 3 + 3];
                    for px in line[x0 * 3..x1 * 3].chunks_exact(3) {
                        s[0] += u32::from(px[0]);
                        s[1] += u32::from(px[1]);
                        s[2] += u32::from(px[2]);
                    }
                }
            }
            for x in 0..nw as usize {
                let n = ((xs[x + 1].max(xs[x] + 1) - xs[x]) * (y1 - y0)) as u32;
                for c in 0..3 {
                    row[x * 3 + c] = ((sums[x * 3 + c] + n / 2) / n) as u8;
                }
            }
        });
    Small {
        picture: RgbImage::from_raw(nw, nh, out).unwrap_or_default(),
        scale: f64::from(w) / f64::from(nw),
    }
}

/// Lightness (weights of Rec. ITU-R BT.601) and two opponent colours, each 0 to 255 with 128 as
/// neutral: red against green, yellow against blue.
pub(crate) fn opponents(picture: &RgbImage) -> [GrayImage; 3] {
    let (w, h) = picture.dimensions();
    let mut planes = [
        GrayImage::new(w, h),
        GrayImage::new(w, h),
        GrayImage::new(w, h),
    ];
    for (i, px) in picture.as_raw().chunks_exact(3).enumerate() {
        let (r, g, b) = (i32::from(px[0]), i32::from(px[1]), i32::from(px[2]));
        let (x, y) = (i as u32 % w, i as u32 / w);
        let light = (r * 299 + g * 587 + b * 114) / 1000;
        let cut = |v: i32| v.clamp(0, 255) as u8;
        planes[0].put_pixel(x, y, Luma([cut(light)]));
        planes[1].put_pixel(x, y, Luma([cut(128 + (r - g))]));
        planes[2].put_pixel(x, y, Luma([cut(128 + ((r + g) / 2 - b) / 2)]));
    }
    planes
}

/// Lightness alone, BT.601.
pub(crate) fn lightness(picture: &RgbImage) -> GrayImage {
    let (w, h) = picture.dimensions();
    let grey = picture
        .as_raw()
        .chunks_exact(3)
        .map(|p| {
            ((u32::from(p[0]) * 299 + u32::from(p[1]) * 587 + u32::from(p[2]) * 114) / 1000) as u8
        })
        .collect();
    GrayImage::from_raw(w, h, grey).unwrap_or_default()
}

/// 255 − value.
pub(crate) fn inverted(picture: &GrayImage) -> GrayImage {
    let mut out = picture.clone();
    out.iter_mut().for_each(|v| *v = 255 - *v);
    out
}

/// Grey dilation (`lighter`) or erosion by a square of side 2·`radius` + 1; past the edge there
/// is nothing. Cost grows with the radius.
pub(crate) fn spread(picture: &GrayImage, radius: usize, lighter: bool) -> GrayImage {
    let (w, h) = (picture.width() as usize, picture.height() as usize);
    let pick = |a: u8, b: u8| if lighter { a.max(b) } else { a.min(b) };
    let src = picture.as_raw();
    let mut mid = vec![0u8; w * h];
    for y in 0..h {
        let row = &src[y * w..(y + 1) * w];
        for x in 0..w {
            let (a, b) = (x.saturating_sub(radius), (x + radius + 1).min(w));
            mid[y * w + x] = row[a..b].iter().copied().fold(row[x], pick);
        }
    }
    let mut out = mid.clone();
    for y in 0..h {
        let (a, b) = (y.saturating_sub(radius), (y + radius + 1).min(h));
        for sy in a..b {
            for x in 0..w {
                out[y * w + x] = pick(out[y * w + x], mid[sy * w + x]);
            }
        }
    }
    GrayImage::from_raw(picture.width(), picture.height(), out).unwrap_or_default()
}

/// Grey closing: fills dark marks thinner than 2·`radius` + 1 px.
pub(crate) fn closed(picture: &GrayImage, radius: usize) -> GrayImage {
    spread(&spread(picture, radius, true), radius, false)
}

/// Mean over a 3 × 3 square, edge px repeated.
pub(crate) fn softened(picture: &GrayImage) -> GrayImage {
    let (w, h) = (picture.width() as usize, picture.height() as usize);
    if w == 0 || h == 0 {
        return picture.clone();
    }
    let src = picture.as_raw();
    let mut out = vec![0u8; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, row)| {
        let rows = [y.saturating_sub(1), y, (y + 1).min(h - 1)];
        for (x, v) in row.iter_mut().enumerate() {
            let cols = [x.saturating_sub(1), x, (x + 1).min(w - 1)];
            let mut sum = 0u32;
            for r in rows {
                for c in cols {
                    sum += u32::from(src[r * w + c]);
                }
            }
            *v = ((sum + 4) / 9) as u8;
        }
    });
    GrayImage::from_raw(picture.width(), picture.height(), out).unwrap_or_default()
}

/// Mean over a square of side 2·`radius` + 1, cut at the edge of the picture. Cost doesn't grow with
/// the radius.
pub(crate) fn mean(values: &[f32], w: usize, h: usize, radius: usize) -> Vec<f32> {
    let mut mid = vec![0.0f32; w * h];
    mid.par_chunks_mut(w.max(1))
        .enumerate()
        .for_each(|(y, row)| {
            let src = &values[y * w..(y + 1) * w];
            let mut sum: f32 = src[..radius.min(w)].iter().sum();
            for x in 0..w {
                if x + radius < w {
                    sum += src[x + radius];
                }
                if x > radius {
                    sum -= src[x - radius - 1];
                }
                let n = (x + radius).min(w - 1) - x.saturating_sub(radius) + 1;
                row[x] = sum / n as f32;
            }
        });
    let mut out = vec![0.0f32; w * h];
    let mut sums = vec![0.0f32; w];
    for row in mid.chunks_exact(w.max(1)).take(radius.min(h)) {
        sums.iter_mut().zip(row).for_each(|(s, v)| *s += v);
    }
    for y in 0..h {
        if y + radius < h {
            let row = &mid[(y + radius) * w..(y + radius + 1) * w];
            sums.iter_mut().zip(row).for_each(|(s, v)| *s += v);
        }
        if y > radius {
            let row = &mid[(y - radius - 1) * w..(y - radius) * w];
            sums.iter_mut().zip(row).for_each(|(s, v)| *s -= v);
        }
        let n = ((y + radius).min(h - 1) - y.saturating_sub(radius) + 1) as f32;
        for (o, s) in out[y * w..(y + 1) * w].iter_mut().zip(&sums) {
            *o = s / n;
        }
    }
    out
}
