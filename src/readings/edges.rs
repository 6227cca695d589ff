//! Lines that run out of the photograph or under another label: what stands beyond the edge is lost to the
//! reading, not absent.
//!
//! In: a reading, the size of its photograph and the labels beside the mark. Out: the same, with `[---]` where a
//! line is cut off, so that the record says so and a name of which the photograph shows the end only may still
//! be weighed.

use super::{Character, Line, Reading};
use crate::geometry::{Point, Quad, Rect};

/// A line whose end is so near a label beside it runs under that, heights of the line.
const NEAR: f64 = 0.3;

/// A line that runs under a label may be read so far within that label's outline, heights of the line: the
/// outline isn't exact.
const UNDER: f64 = 0.5;

/// The same where another line of the mark is seen to run under the label: what still shows of a letter may
/// have been taken for one. Of two labels one lies on the other, and its own lines may end anywhere.
const FURTHER_UNDER: f64 = 1.2;

/// Marks as cut off the lines whose box reaches an edge of the photograph across which they are read.
///
/// * `outline`: of the mark, named after its turn; its upper edge tells which way lines run.
/// * `size`: width and height of the photograph, px.
pub fn cut_off(reading: &mut Reading, outline: &Quad, size: (u32, u32)) {
    let (across, forwards) = way(outline);
    for line in &mut reading.lines {
        let (before, behind) = reached(&line.bounds, size, across);
        let (starts, ends) = match forwards {
            true => (before, behind),
            false => (behind, before),
        };
        if (starts || ends) && !line.characters.is_empty() {
            *line = with_lost(line, starts, ends);
        }
    }
}

/// Marks as cut off the lines that end where another label begins. Between the lettering of a label and its own
/// edge there is a margin, so that a line that reaches up to another label goes on under it.
///
/// * `outline`: of the mark, named after its turn.
/// * `labels`: outlines of the other labels of the photograph, px.
pub fn covered(reading: &mut Reading, outline: &Quad, labels: &[Quad]) {
    let (across, forwards) = way(outline);
    let side = if forwards { 1.0 } else { -1.0 };
    let mut lost = vec![[false; 2]; reading.lines.len()];
    for label in labels {
        for (end, side) in [-side, side].into_iter().enumerate() {
            let under = |l: &Line, far: f64| runs_under(l, across, side, label, far);
            if !reading.lines.iter().any(|l| under(l, UNDER)) {
                continue;
            }
            for (line, lost) in reading.lines.iter().zip(&mut lost) {
                lost[end] |= under(line, FURTHER_UNDER);
            }
        }
    }
    for (line, [starts, ends]) in reading.lines.iter_mut().zip(lost) {
        let whole = |c: Option<&Character>| c.is_some_and(|c| !c.is_lost());
        let starts = starts && whole(line.characters.first());
        let ends = ends && whole(line.characters.last());
        if starts || ends {
            *line = with_lost(line, starts, ends);
        }
    }
}

/// Whether a line beside a label reaches it. `side`: 1 for the right or lower end of the line, -1 for the other;
/// `far`: how far it may be read within the label's outline, heights of the line.
fn runs_under(line: &Line, across: bool, side: f64, label: &Quad, far: f64) -> bool {
    let (w, h) = (f64::from(line.bounds.w), f64::from(line.bounds.h));
    let (long, high) = if across { (w, h) } else { (h, w) };
    // Where a line slopes its upright box is higher than it is itself
    let level = f64::from(line.within.h) / f64::from(line.within.w.max(1));
    let high = high.min(long * level);
    let centre = line.bounds.quad().centre();
    let end = |beyond: f64| {
        let along = side * (0.5 * long + beyond * high);
        match across {
            true => Point::new(centre.x + along, centre.y),
            false => Point::new(centre.x, centre.y + along),
        }
    };
    long >= high && label.holds(end(NEAR)) && !label.holds(end(-far)) && !label.holds(centre)
}

/// Whether lines run across the photograph, and whether to the right (or down).
fn way(outline: &Quad) -> (bool, bool) {
    let [from, to, ..] = outline.0;
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    (dx.abs() >= dy.abs(), dx + dy >= 0.0)
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

    /// As read at `bounds` on a level label, beside another that takes up `other`.
    fn beside(bounds: Rect, outline: Quad, other: Rect) -> String {
        let mut reading = reading(bounds);
        covered(&mut reading, &outline, &[other.quad()]);
        assert_eq!(reading.lines[0].text, "WORTH");
        reading.lines[0].leiden.clone()
    }

    #[test]
    fn a_line_goes_on_under_the_label_that_it_reaches_and_not_under_one_beyond_its_margin() {
        let (line, level) = (
            Rect::new(300, 100, 200, 40),
            Rect::new(280, 0, 400, 300).quad(),
        );
        let left = |right: i32| Rect::new(100, 60, (right - 100) as u32, 200);
        assert_eq!(beside(line, level, left(295)), "[---]WORTH");
        assert_eq!(
            beside(line, level, left(310)),
            "[---]WORTH",
            "outlines aren't exact"
        );
        assert_eq!(
            beside(line, level, left(330)),
            "WORTH",
            "the line may lie on the label"
        );
        assert_eq!(beside(line, level, left(270)), "WORTH", "a margin is left");
        assert_eq!(beside(line, level, left(420)), "WORTH", "the line is on it");
        assert_eq!(
            beside(line, level, Rect::new(505, 60, 90, 200)),
            "WORTH[---]"
        );
        let [a, b, c, d] = level.0;
        let on_its_head = Quad([c, d, a, b]);
        assert_eq!(beside(line, on_its_head, left(295)), "WORTH[---]");
        let upright = Rect::new(300, 100, 40, 200);
        let upwards = Quad([d, a, b, c]);
        assert_eq!(
            beside(upright, upwards, Rect::new(200, 305, 300, 90)),
            "[---]WORTH"
        );
    }

    #[test]
    fn of_a_line_beside_one_that_runs_under_a_stroke_may_be_read_too() {
        let level = Rect::new(280, 0, 400, 300).quad();
        let mut two = reading(Rect::new(300, 100, 200, 40));
        let further = reading(Rect::new(270, 150, 200, 40)).lines;
        two.lines.extend(further);
        covered(&mut two, &level, &[Rect::new(100, 60, 200, 200).quad()]);
        let signs: Vec<_> = two.lines.iter().map(|l| l.leiden.as_str()).collect();
        assert_eq!(signs, ["[---]WORTH", "[---]WORTH"]);
    }

    #[test]
    fn what_is_told_as_cut_off_once_is_not_told_twice() {
        let (line, level) = (
            Rect::new(300, 100, 200, 40),
            Rect::new(280, 0, 400, 300).quad(),
        );
        let mut twice = reading(line);
        for _ in 0..2 {
            covered(&mut twice, &level, &[Rect::new(100, 60, 195, 200).quad()]);
        }
        assert_eq!(twice.lines[0].leiden, "[---]WORTH");
    }
}
