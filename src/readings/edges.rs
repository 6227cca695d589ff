//! Lines that run out of the photograph: what stands beyond its edge is lost to the reading, not absent.
//!
//! In: a reading and the size of its photograph. Out: the same, with `[---]` where a line is cut off, so that
//! the record says so and a name of which the photograph shows the end only may still be weighed.

use super::{Character, Line, Reading};
use crate::geometry::{Quad, Rect};

/// Marks as cut off the lines whose box reaches an edge of the photograph across which they are read.
///
/// * `outline`: of the mark, named after its turn; its upper edge tells which way lines run.
/// * `size`: width and height of the photograph, px.
pub fn cut_off(reading: &mut Reading, outline: &Quad, size: (u32, u32)) {
    let [from, to, ..] = outline.0;
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    for line in &mut reading.lines {
        let (before, behind) = reached(&line.bounds, size, dx.abs() >= dy.abs());
        let (starts, ends) = match dx + dy >= 0.0 {
            true => (before, behind),
            false => (behind, before),
        };
        if (starts || ends) && !line.characters.is_empty() {
            *line = with_lost(line, starts, ends);
        }
    }
}

/// Whether a box reaches the left and the right edge of a photograph, or its upper and lower one.
fn reached(b: &Rect, (w, h): (u32, u32), across: bool) -> (bool, bool) {
    match across {
        true => (b.x <= 0, i64::from(b.right()) >= i64::from(w)),
        false => (b.y <= 0, i64::from(b.bottom()) >= i64::from(h)),
    }
}

fn with_lost(line: &Line, starts: bool, ends: bool) -> Line {
    let lost = |there: bool| there.then(Character::stretch);
    let read = line.characters.iter().cloned();
    let all = lost(starts).into_iter().chain(read).chain(lost(ends));
    Line {
        writing: line.writing,
        ..Line::from_characters(all.collect(), line.bounds, line.within)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    fn reading(bounds: Rect) -> Reading {
        let signs = "WORTH"
            .chars()
            .map(|c| Character::sure(&c.to_string(), 0.9));
        Reading {
            lines: vec![Line::from_characters(signs.collect(), bounds, bounds)],
            ..Reading::default()
        }
    }

    fn signs(bounds: Rect, outline: [(f64, f64); 4]) -> String {
        let mut reading = reading(bounds);
        let outline = Quad(outline.map(|(x, y)| Point::new(x, y)));
        cut_off(&mut reading, &outline, (1000, 800));
        assert_eq!(reading.lines[0].text, "WORTH");
        reading.lines[0].leiden.clone()
    }

    #[test]
    fn a_line_is_cut_off_where_it_runs_out_of_the_photograph_whichever_way_it_is_read() {
        let level = [(0.0, 0.0), (500.0, 0.0), (500.0, 300.0), (0.0, 300.0)];
        let on_its_head = [level[2], level[3], level[0], level[1]];
        let upwards = [level[3], level[0], level[1], level[2]];
        let left = Rect::new(-4, 100, 300, 40);
        assert_eq!(signs(left, level), "[---]WORTH");
        assert_eq!(signs(left, on_its_head), "WORTH[---]");
        assert_eq!(signs(left, upwards), "WORTH", "the edge runs along it");
        assert_eq!(signs(Rect::new(40, 0, 40, 300), upwards), "WORTH[---]");
        assert_eq!(signs(Rect::new(0, 100, 1000, 40), level), "[---]WORTH[---]");
        assert_eq!(signs(Rect::new(1, 0, 998, 800), level), "WORTH");
    }
}
