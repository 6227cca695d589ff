//! A picture that is one line from edge to edge, cut out by hand, is one mark: it has no ground on which marks could be
//! told apart, and what is found on it are pieces of the line.

use super::{LIKELY, Mark, outline};
use crate::geometry::{Point, Quad};

/// Length by height from which a picture is a strip: no camera takes one so long. Set by judgement.
const LONG: f64 = 2.5;

/// Share of the strip's height that the largest piece takes up at least: else it is a strip of wood with small
/// lettering on it, and its marks are apart. Set by judgement.
const HIGH: f64 = 0.4;

/// The marks found on a picture, or where it is one line from edge to edge, that line.
///
/// * `size`: width and height of the picture, px.
pub(super) fn as_one(marks: Vec<Mark>, size: (u32, u32)) -> Vec<Mark> {
    let (w, h) = (f64::from(size.0), f64::from(size.1));
    if w.max(h) < LONG * w.min(h) {
        return marks;
    }
    let likely = marks.iter().filter(|m| m.lettering >= LIKELY);
    let lettering = likely.clone().map(|m| m.lettering).fold(0.0, f64::max);
    let Some(largest) = likely.max_by(|a, b| a.outline.area().total_cmp(&b.outline.area())) else {
        return marks;
    };
    let bounds = largest.outline.bounds();
    let across = f64::from(if w > h { bounds.h } else { bounds.w });
    if across < HIGH * w.min(h) {
        return marks;
    }
    let [a, b, ..] = largest.outline.0;
    let corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)];
    let frame = Quad(corners.map(|(x, y)| Point::new(x, y)));
    vec![Mark {
        outline: outline::named(&frame, (b.y - a.y).atan2(b.x - a.x)),
        lettering,
        ..largest.clone()
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::marks::MarkKind;

    fn mark(bounds: Rect, lettering: f64) -> Mark {
        Mark {
            kind: MarkKind::Inscription,
            kind_chance: 0.8,
            outline: bounds.quad(),
            lettering,
            bearing: None,
        }
    }

    #[test]
    fn pieces_of_a_line_from_edge_to_edge_are_one_mark() {
        let pieces = vec![
            mark(Rect::new(15, 17, 295, 39), 0.7),
            mark(Rect::new(381, 14, 196, 47), 0.9),
        ];
        let found = as_one(pieces, (601, 80));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].outline.bounds(), Rect::new(0, 0, 601, 80));
        assert_eq!(found[0].lettering, 0.9);
    }

    #[test]
    fn a_line_that_stands_upright_keeps_the_way_it_is_read() {
        let rect = Rect::new(10, 60, 60, 200);
        let upright = Mark {
            outline: outline::named(&rect.quad(), -std::f64::consts::FRAC_PI_2),
            ..mark(rect, 0.9)
        };
        let [a, b, ..] = as_one(vec![upright], (80, 300))[0].outline.0;
        assert_eq!((a.x, a.y, b.x, b.y), (0.0, 300.0, 0.0, 0.0));
    }

    #[test]
    fn a_photograph_and_a_strip_of_wood_with_small_lettering_stay_as_they_are() {
        let apart = vec![
            mark(Rect::new(15, 17, 295, 20), 0.7),
            mark(Rect::new(381, 14, 196, 20), 0.9),
        ];
        assert_eq!(as_one(apart.clone(), (601, 400)).len(), 2);
        assert_eq!(as_one(apart, (601, 80)).len(), 2);
        let unlikely = vec![mark(Rect::new(15, 10, 295, 60), 0.05)];
        let left = as_one(unlikely, (601, 80));
        assert_eq!(left[0].outline.bounds(), Rect::new(15, 10, 295, 60));
        assert!(as_one(Vec::new(), (601, 80)).is_empty());
    }
}
