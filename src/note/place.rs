//! Where a mark sits on its photograph, in words.

use crate::geometry::Quad;

/// Share of each side above which a mark is said to fill the photograph.
const FILLS: f64 = 0.7;

/// "upper left", "centre", "lower right", or "filling the photograph" for a close-up.
///
/// * `outline`: px of the upright photograph of `width` × `height` px.
///
/// The centre of the outline decides, by thirds of each side.
///
/// ```
/// use dorso_seeing::geometry::Rect;
/// let label = Rect::new(10, 10, 100, 50).quad();
/// assert_eq!(dorso_telling::note::place(&label, 800, 600), "upper left");
/// ```
pub fn place(outline: &Quad, width: u32, height: u32) -> &'static str {
    let (w, h) = (f64::from(width.max(1)), f64::from(height.max(1)));
    let bounds = outline.bounds();
    if f64::from(bounds.w) > FILLS * w && f64::from(bounds.h) > FILLS * h {
        return "filling the photograph";
    }
    let c = outline.centre();
    let third = |at: f64, whole: f64| ((at / whole * 3.0).floor().clamp(0.0, 2.0)) as usize;
    [
        ["upper left", "upper centre", "upper right"],
        ["centre left", "centre", "centre right"],
        ["lower left", "lower centre", "lower right"],
    ][third(c.y, h)][third(c.x, w)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    #[test]
    fn a_close_up_fills_the_photograph_and_a_corner_is_a_corner() {
        let at = |x, y, w, h| place(&Rect::new(x, y, w, h).quad(), 900, 600);
        assert_eq!(at(20, 20, 860, 560), "filling the photograph");
        assert_eq!(at(800, 550, 50, 30), "lower right");
        assert_eq!(at(440, 290, 20, 20), "centre");
        assert_eq!(at(-50, 700, 20, 20), "lower left");
    }
}
