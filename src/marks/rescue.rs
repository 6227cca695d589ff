//! Rows of lettering that the marks found so far miss, in part or wholly.

use super::outline;
use super::raster;
use super::rows::{self, Row};
use crate::geometry::{Point, Quad};
use image::RgbImage;

/// px of the longer side of what the network sees of a photograph.
const LONGEST: u32 = 1280;
/// Rows less sure than this are no ground to move an outline or to add a mark.
const SURE: f64 = 0.65;
/// Less sure than this nothing is taken for a row.
const LEAST_SURE: f64 = 0.5;
/// Rows across the others of their mark are marks of their own from this on, if so many heights of
/// an x long.
const SURELY: f64 = 0.8;
const LONG: f64 = 6.0;
/// Share of a row in an outline from which it is that mark's, and from which it is all there.
const PARTLY: f64 = 0.35;
const WHOLLY: f64 = 0.97;
/// An outline is made larger by no more than this share of its area.
const LARGEST: f64 = 0.4;
/// The same where it takes up another outline.
const DOUBLED: f64 = 1.2;
/// Two outlines that cut one label between them fill the outline around both but for so much, their
/// directions differ by no more than this, radians, and neither holds more of the other.
const SPARE: f64 = 1.12;
const ALIKE: f64 = 0.03;
const NESTED: f64 = 0.7;
/// Rows run with an outline if their directions differ by less, radians.
const ALONG: f64 = 0.26;
/// Space around rows in a new outline, heights of an x.
const MARGIN: f64 = 0.9;
/// Rows of one mark stand no farther apart than this, heights of an x.
const APART: f64 = 3.2;

/// A mark that only the rows tell of.
pub(super) struct Missed {
    pub outline: Quad,
    pub angle: f64,
    /// Chance that it carries lettering.
    pub lettering: f64,
}

/// Rows of a photograph, px of it.
pub(super) fn rows_of(photograph: &RgbImage) -> Vec<Row> {
    let small = raster::shrink(photograph, LONGEST);
    rows::rows(&raster::lightness(&small.picture), LONGEST)
        .into_iter()
        .filter(|r| r.sure > LEAST_SURE)
        .map(|r| r.scaled(small.scale))
        .collect()
}

/// Whether a row is ground to move an outline or to add a mark.
fn telling(row: &Row) -> bool {
    row.sure > SURE && row.length() > 1.2 * row.x_height
}

/// Corners of the space that a row's letters take up.
fn reach(row: &Row, margin: f64) -> Vec<Point> {
    let (sin, cos) = row.angle.sin_cos();
    let (along, across) = (margin * row.x_height, (0.9 + margin) * row.x_height);
    let n = row.middle.len();
    row.middle
        .iter()
        .enumerate()
        .flat_map(|(i, p)| {
            let ends: &[f64] = match i {
                0 => &[-1.0],
                _ if i + 1 == n => &[1.0],
                _ => &[0.0],
            };
            ends.iter().flat_map(move |&e| {
                [-1.0, 1.0].map(|s| {
                    let (a, b) = (e * along, s * across);
                    Point::new(p.x + a * cos - b * sin, p.y + a * sin + b * cos)
                })
            })
        })
        .collect()
}

/// Share of a row's middle that lies in an outline.
fn inside(row: &Row, quad: &Quad) -> f64 {
    let held = row.middle.iter().filter(|&&p| quad.holds(p));
    held.count() as f64 / row.middle.len().max(1) as f64
}

/// Angle between two directions whose sense doesn't count, 0 to π/2.
fn between(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(std::f64::consts::PI);
    d.min(std::f64::consts::PI - d)
}

/// Whether a row runs across the rows of a mark: a strip pasted on its side, say. Only long rows that the
/// network is sure of count.
fn across(row: &Row, others: &[&Row]) -> bool {
    let along: f64 = others
        .iter()
        .filter(|r| between(r.angle, row.angle) < ALONG)
        .map(|r| r.length())
        .sum();
    let all: f64 = others.iter().map(|r| r.length()).sum();
    row.sure > SURELY && row.length() > LONG * row.x_height && along < 0.35 * all
}

/// For each row the outline that holds it, if one does and it runs with that one's other rows.
fn holders(outlines: &[Quad], rows: &[Row]) -> Vec<Option<usize>> {
    let mut held: Vec<Option<usize>> = rows
        .iter()
        .map(|row| {
            let shares = (0..outlines.len()).map(|i| (i, inside(row, &outlines[i])));
            let best = shares.max_by(|a, b| a.1.total_cmp(&b.1))?;
            (best.1 >= PARTLY).then_some(best.0)
        })
        .collect();
    for k in 0..outlines.len() {
        let own: Vec<usize> = (0..rows.len()).filter(|&i| held[i] == Some(k)).collect();
        let every: Vec<&Row> = own.iter().map(|&i| &rows[i]).collect();
        for &i in &own {
            if across(&rows[i], &every) {
                held[i] = None;
            }
        }
    }
    held
}

/// Moves the sides of outlines out to hold the rows that they cut through.
pub(super) fn widen(outlines: &mut [Quad], rows: &[Row]) {
    for row in rows.iter().filter(|r| telling(r)) {
        let best = (0..outlines.len())
            .map(|i| (i, inside(row, &outlines[i])))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((i, share)) = best else { return };
        if !(PARTLY..WHOLLY).contains(&share) {
            continue;
        }
        let quad = outlines[i];
        let way = quad.slope_degrees().to_radians();
        let side = way + std::f64::consts::FRAC_PI_2;
        if between(way, row.angle).min(between(side, row.angle)) > ALONG {
            continue;
        }
        if let Some(wider) = around(&quad, &reach(row, 0.5), LARGEST) {
            outlines[i] = wider;
        }
    }
}

/// The outline with its sides moved out, along its own edges, to hold points; `None` where that is
/// too far.
fn around(quad: &Quad, points: &[Point], largest: f64) -> Option<Quad> {
    let c = &quad.0;
    let (ax, ay) = (c[1].x - c[0].x, c[1].y - c[0].y);
    let (bx, by) = (c[3].x - c[0].x, c[3].y - c[0].y);
    let det = ax * by - ay * bx;
    if det.abs() < 1e-6 {
        return None;
    }
    let (mut u, mut v) = ((0.0f64, 1.0f64), (0.0f64, 1.0f64));
    for p in points {
        let (x, y) = (p.x - c[0].x, p.y - c[0].y);
        let (s, t) = ((x * by - y * bx) / det, (ax * y - ay * x) / det);
        u = (u.0.min(s), u.1.max(s));
        v = (v.0.min(t), v.1.max(t));
    }
    let near = (u.1 - u.0) * (v.1 - v.0) < 1.0 + largest;
    near.then(|| {
        Quad([
            quad.at(u.0, v.0),
            quad.at(u.1, v.0),
            quad.at(u.1, v.1),
            quad.at(u.0, v.1),
        ])
    })
    .filter(outline::convex)
}

/// Which of the outlines, the likeliest first, go up in one before them: they hold the same rows, and the
/// one before holds most of what both cover. The outlines that take others up grow to hold them.
pub(super) fn doubled(outlines: &mut [Quad], rows: &[Row]) -> Vec<bool> {
    let wholly = |quad: &Quad| -> Vec<usize> {
        (0..rows.len())
            .filter(|&i| inside(&rows[i], quad) > 0.9)
            .collect()
    };
    let mut gone = vec![false; outlines.len()];
    for i in 0..outlines.len() {
        for j in i + 1..outlines.len() {
            if gone[i] || gone[j] {
                continue;
            }
            let (own, other) = (wholly(&outlines[i]), wholly(&outlines[j]));
            let shared = own.iter().filter(|r| other.contains(r)).count();
            let ways = outlines[i].slope_degrees() - outlines[j].slope_degrees();
            let turned = between(ways.to_radians(), 0.0);
            let turned = turned.min((turned - std::f64::consts::FRAC_PI_2).abs());
            if turned > ALONG {
                continue;
            }
            let Some(wider) = around(&outlines[i], &outlines[j].0, DOUBLED) else {
                continue;
            };
            let same = shared >= 2 && 5 * shared >= 2 * own.len().min(other.len());
            if same || (turned < ALIKE && cut_apart(&outlines[i], &outlines[j], &wider, rows)) {
                outlines[i] = wider;
                gone[j] = true;
            }
        }
    }
    gone
}

/// Whether two outlines are the upper and the lower part, or the left and the right, of what one
/// outline holds: a row lies in both, and there is hardly more in the outline around them than in them.
fn cut_apart(a: &Quad, b: &Quad, both: &Quad, rows: &[Row]) -> bool {
    let shared = rows
        .iter()
        .any(|r| telling(r) && inside(r, a) > PARTLY && inside(r, b) > PARTLY);
    let (own, other, common) = (a.area(), b.area(), a.overlap(b));
    shared && common < NESTED * own.min(other) && both.area() < SPARE * (own + other - common)
}

/// Which of the outlines hold no part of any row.
pub(super) fn without_rows(outlines: &[Quad], rows: &[Row]) -> Vec<bool> {
    let bare = |q: &Quad| rows.iter().all(|r| inside(r, q) <= 0.0);
    outlines.iter().map(bare).collect()
}

/// Marks made of the rows that lie in none of the outlines.
pub(super) fn missed(outlines: &[Quad], rows: &[Row]) -> Vec<Missed> {
    let held = holders(outlines, rows);
    let left: Vec<&Row> = rows
        .iter()
        .zip(held)
        .filter(|r| r.1.is_none() && telling(r.0))
        .map(|r| r.0)
        .collect();
    let mut group: Vec<usize> = (0..left.len()).collect();
    for i in 0..left.len() {
        for j in 0..i {
            if together(left[i], left[j]) {
                let (a, b) = (group[i], group[j]);
                group.iter_mut().filter(|g| **g == a).for_each(|g| *g = b);
            }
        }
    }
    let mut names: Vec<usize> = group.clone();
    names.sort_unstable();
    names.dedup();
    names
        .into_iter()
        .map(|name| {
            let own: Vec<&&Row> = left
                .iter()
                .zip(&group)
                .filter(|g| *g.1 == name)
                .map(|g| g.0)
                .collect();
            let points: Vec<Point> = own.iter().flat_map(|r| reach(r, MARGIN)).collect();
            let (mut s, mut c, mut sure, mut long) = (0.0, 0.0, 0.0, 0.0);
            for r in &own {
                let l = r.length();
                s += l * (2.0 * r.angle).sin();
                c += l * (2.0 * r.angle).cos();
                sure += l * r.sure;
                long += l;
            }
            let angle = f64::atan2(s, c) / 2.0;
            // Several rows that agree are hardly ever leaves, grain or a scale.
            let agreed = (c.hypot(s) / long).powi(2);
            let many = 1.0 - 0.5f64.powi(own.len() as i32);
            Missed {
                outline: outline::rectangle(&points, angle),
                angle,
                lettering: (sure / long) * agreed * (0.2 + 0.6 * many),
            }
        })
        .collect()
}

/// Whether two rows stand as rows of one mark do.
fn together(a: &Row, b: &Row) -> bool {
    let (low, high) = (a.x_height.min(b.x_height), a.x_height.max(b.x_height));
    if high > 2.6 * low || between(a.angle, b.angle) > ALONG {
        return false;
    }
    let nearest = a
        .middle
        .iter()
        .flat_map(|p| b.middle.iter().map(move |q| p.distance(*q)))
        .fold(f64::INFINITY, f64::min);
    nearest < APART * high
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    fn row(x: f64, y: f64, long: f64) -> Row {
        Row {
            middle: (0..=10)
                .map(|i| Point::new(x + long * f64::from(i) / 10.0, y))
                .collect(),
            x_height: 10.0,
            angle: 0.0,
            sure: 0.9,
        }
    }

    #[test]
    fn an_outline_is_moved_out_to_hold_a_row_that_it_cuts() {
        let mut outlines = [Rect::new(0, 0, 200, 100).quad()];
        widen(&mut outlines, &[row(20.0, 50.0, 210.0)]);
        let b = outlines[0].bounds();
        assert!(b.right() > 230 && b.right() < 245, "{b:?}");
        assert_eq!((b.x, b.y, b.h), (0, 0, 100));
    }

    #[test]
    fn an_outline_stays_where_a_row_leads_far_away_or_another_way() {
        let whole = Rect::new(0, 0, 200, 100).quad();
        let mut slanting = row(20.0, 50.0, 210.0);
        slanting.angle = 0.7;
        for strange in [row(20.0, 50.0, 480.0), slanting] {
            let mut outlines = [whole];
            widen(&mut outlines, &[strange]);
            assert_eq!(outlines[0], whole);
        }
    }

    #[test]
    fn rows_in_no_outline_make_marks_those_near_each_other_one() {
        let held = [Rect::new(0, 0, 200, 100).quad()];
        let rows = [
            row(20.0, 50.0, 100.0),
            row(300.0, 300.0, 100.0),
            row(310.0, 325.0, 60.0),
            row(300.0, 700.0, 100.0),
        ];
        let mut missed = missed(&held, &rows);
        missed.sort_by(|a, b| a.outline.0[0].y.total_cmp(&b.outline.0[0].y));
        assert_eq!(missed.len(), 2);
        let two = missed[0].outline.bounds();
        assert!(two.y < 300 && two.bottom() > 325 && two.x < 300 && two.right() > 400);
        assert!(missed[0].lettering > missed[1].lettering);
        assert!(
            missed
                .iter()
                .all(|m| m.lettering > 0.0 && m.lettering < 1.0)
        );
    }

    #[test]
    fn a_row_across_the_others_of_its_outline_is_a_mark_of_its_own() {
        let held = [Rect::new(0, 0, 400, 300).quad()];
        let mut upright = row(0.0, 0.0, 0.0);
        upright.middle = (0..=10)
            .map(|i| Point::new(370.0, 40.0 + 20.0 * f64::from(i)))
            .collect();
        upright.angle = std::f64::consts::FRAC_PI_2;
        let mut rows = vec![row(20.0, 50.0, 300.0), row(20.0, 90.0, 300.0), upright];
        let found = missed(&held, &rows);
        assert_eq!(found.len(), 1);
        assert!(found[0].outline.bounds().x > 340);
        // Where the network is less sure, or the row is short, it stays the mark's.
        rows[2].sure = 0.7;
        assert!(missed(&held, &rows).is_empty());
    }

    #[test]
    fn only_an_outline_that_no_row_touches_is_bare() {
        let outlines = [
            Rect::new(0, 0, 200, 100).quad(),
            Rect::new(500, 500, 50, 50).quad(),
        ];
        let rows = [row(150.0, 50.0, 300.0)];
        assert_eq!(without_rows(&outlines, &rows), [false, true]);
    }

    /// Which of two outlines is gone, and the first as it comes out.
    fn of_two(first: Rect, second: Rect, rows: &[Row]) -> (Vec<bool>, Rect) {
        let mut two = [first.quad(), second.quad()];
        let gone = doubled(&mut two, rows);
        (gone, two[0].bounds())
    }

    #[test]
    fn outlines_that_hold_the_same_rows_become_one() {
        let rows = [
            row(20.0, 50.0, 300.0),
            row(20.0, 90.0, 300.0),
            row(20.0, 130.0, 300.0),
        ];
        let (gone, b) = of_two(Rect::new(0, 0, 400, 110), Rect::new(0, 30, 400, 120), &rows);
        assert_eq!(gone, [false, true]);
        assert!(b.y <= 0 && b.bottom() >= 150, "{b:?}");
        let (gone, _) = of_two(Rect::new(0, 0, 400, 110), Rect::new(0, 112, 400, 60), &rows);
        assert_eq!(gone, [false, false]);
    }

    #[test]
    fn outlines_that_cut_one_label_between_them_become_one_corners_that_overlap_stay_two() {
        let rows = [row(310.0, 175.0, 80.0)];
        let (gone, b) = of_two(
            Rect::new(0, 0, 400, 200),
            Rect::new(4, 150, 400, 200),
            &rows,
        );
        assert_eq!(gone, [false, true]);
        assert!(b.y <= 0 && b.bottom() >= 350, "{b:?}");
        let (gone, _) = of_two(
            Rect::new(0, 0, 400, 200),
            Rect::new(300, 150, 400, 200),
            &rows,
        );
        assert_eq!(gone, [false, false]);
    }
}
