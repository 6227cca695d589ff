//! A plane map by its eight numbers, between the measures of two frames: x' = (h0 x + h1 y + h2) / w, y' =
//! (h3 x + h4 y + h5) / w, w = h6 x + h7 y + 1.

/// Least and greatest scale between two photographs.
pub(super) const SCALES: (f64, f64) = (1.0 / 16.0, 16.0);

/// How far two maps lie apart, the larger of the shifts of the middle and of a corner, in the second's measure.
pub(super) fn apart(g: &[f64; 8], h: &[f64; 8]) -> f64 {
    [(0.0, 0.0), (0.7, 0.5), (-0.7, 0.5)]
        .iter()
        .map(|&(x, y)| {
            let (p, q) = (to(g, x, y), to(h, x, y));
            (p.0 - q.0).hypot(p.1 - q.1)
        })
        .fold(0.0, f64::max)
}

#[inline]
pub(super) fn to(h: &[f64; 8], x: f64, y: f64) -> (f64, f64) {
    let w = h[6] * x + h[7] * y + 1.0;
    (
        (h[0] * x + h[1] * y + h[2]) / w,
        (h[3] * x + h[4] * y + h[5]) / w,
    )
}

/// How the place changes with each number of the map.
pub(super) fn rows(h: &[f64; 8], x: f64, y: f64) -> [[f64; 8]; 2] {
    let w = h[6] * x + h[7] * y + 1.0;
    let (u, v) = to(h, x, y);
    [
        [x / w, y / w, 1.0 / w, 0.0, 0.0, 0.0, -u * x / w, -u * y / w],
        [0.0, 0.0, 0.0, x / w, y / w, 1.0 / w, -v * x / w, -v * y / w],
    ]
}

/// The map's derivative at a place, row by row; none at or beyond the horizon.
pub(super) fn local(h: &[f64; 8], x: f64, y: f64) -> Option<[f64; 4]> {
    let w = h[6] * x + h[7] * y + 1.0;
    if w < 0.05 {
        return None;
    }
    let (u, v) = to(h, x, y);
    Some([
        (h[0] - u * h[6]) / w,
        (h[1] - u * h[7]) / w,
        (h[3] - v * h[6]) / w,
        (h[4] - v * h[7]) / w,
    ])
}

/// Whether a camera could have taken both: no mirror, nothing beyond the horizon, no scale and no
/// squeezing past what is seen at 60° off the square.
pub(super) fn plausible(h: &[f64; 8]) -> bool {
    let mut sizes = (f64::INFINITY, 0.0f64);
    for (x, y) in [
        (0.0, 0.0),
        (1.0, 0.75),
        (-1.0, 0.75),
        (1.0, -0.75),
        (-1.0, -0.75),
    ] {
        let Some([a, b, c, d]) = local(h, x, y) else {
            return false;
        };
        let det = a * d - b * c;
        let sum = a * a + b * b + c * c + d * d;
        // det = product of the singular values, sum = of their squares.
        if det <= 0.0 || sum > 2.5 * det {
            return false;
        }
        let scale = det.sqrt();
        sizes = (sizes.0.min(scale), sizes.1.max(scale));
    }
    sizes.0 > SCALES.0 && sizes.1 < SCALES.1 && sizes.1 < 4.0 * sizes.0
}
