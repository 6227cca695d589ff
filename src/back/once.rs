//! Lettering that the outlines of two marks of a back share stays with one of them.
//!
//! [`readings::once`] sees to that on one photograph. What several photographs read of a mark, put together, may
//! hold lines of its neighbour again: where an outline reaches too far, a neighbour's line shows cut off, and
//! reads as surely as the whole one.

use crate::geometry::{Homography, Quad, Rect};
use crate::readings::{self, Character, Line, Reading};

/// A mark's reading, and the map from px of the photograph that its boxes lie on to px of the plan.
#[derive(Debug)]
pub struct OnPlan<'a> {
    /// What it reads.
    pub reading: &'a mut Reading,
    /// To the plan.
    pub to_plan: Homography,
}

/// Share of a line's box that must lie on another's for it to be a part of it.
const ON: f64 = 0.6;

/// Share of a line's letters that must stand, in order, in the other.
const SAID: f64 = 0.8;

/// Takes out, of lines of different marks that read the same lettering, all but the surest, and lines of which
/// another mark reads more.
///
/// Returns for each reading the lines taken out of it, each with the reading (by its place) that holds the
/// lettering. A mark whose lines all stay with others keeps its surest.
pub fn once(marks: &mut [OnPlan<'_>]) -> Vec<Vec<(Line, usize)>> {
    let mut laid: Vec<Reading> = marks.iter().map(|m| on_plan(m)).collect();
    let number = |line: &Line| line.within.x as usize;
    let mut out: Vec<Vec<(usize, usize)>> =
        readings::once(&mut laid.iter_mut().collect::<Vec<_>>())
            .into_iter()
            .map(|taken| {
                taken
                    .iter()
                    .map(|(line, holder)| (number(line), *holder))
                    .collect()
            })
            .collect();
    for m in 0..laid.len() {
        let mut kept = laid[m].lines.len();
        let parts: Vec<(usize, usize)> = laid[m]
            .lines
            .iter()
            .filter_map(|line| Some((number(line), holder(&laid, m, line)?)))
            .collect();
        for (line, holder) in parts {
            if kept > 1 {
                kept -= 1;
                out[m].push((line, holder));
            }
        }
    }
    let taken = marks.iter_mut().zip(out).map(|(mark, mut out)| {
        out.sort_unstable_by(|a, b| b.cmp(a));
        let all = out
            .into_iter()
            .map(|(l, holder)| (mark.reading.lines.remove(l), holder));
        let mut all: Vec<(Line, usize)> = all.collect();
        all.reverse();
        all
    });
    taken.collect()
}

/// The reading with its boxes on the plan; each line's number stands for the left edge of its other box.
fn on_plan(mark: &OnPlan<'_>) -> Reading {
    let lines = mark
        .reading
        .lines
        .iter()
        .zip(0..)
        .map(|(line, number)| Line {
            bounds: Quad(line.bounds.quad().0.map(|p| mark.to_plan.apply(p))).bounds(),
            within: Rect::new(number, 0, 1, 1),
            ..line.clone()
        });
    Reading {
        lines: lines.collect(),
        ..Reading::default()
    }
}

/// Another mark that reads more of the row that a line is a part of.
fn holder(laid: &[Reading], mark: usize, line: &Line) -> Option<usize> {
    let own = letters(line);
    let sum = |l: &Line| -> f64 { l.characters.iter().map(|c| c.confidence).sum() };
    let others = laid.iter().enumerate().filter(|(m, _)| *m != mark);
    let all = others.flat_map(|(m, r)| r.lines.iter().map(move |l| (m, l)));
    let fits = all.filter(|(_, other)| {
        line.bounds.part_in(&other.bounds) >= ON
            && sum(other) > sum(line)
            && common(&own, &letters(other)) as f64 >= SAID * own.len() as f64
    });
    let best = fits.max_by(|a, b| sum(a.1).total_cmp(&sum(b.1)).then(b.0.cmp(&a.0)));
    best.map(|b| b.0)
}

fn letters(line: &Line) -> Vec<char> {
    let read = line.characters.iter().filter(|c: &&Character| !c.is_lost());
    read.flat_map(|c| c.text.chars())
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// Length of the longest common subsequence.
fn common(own: &[char], said: &[char]) -> usize {
    let mut best = vec![0usize; said.len() + 1];
    for &a in own {
        let mut before = 0;
        for (i, &b) in said.iter().enumerate() {
            let here = best[i + 1];
            best[i + 1] = if a == b {
                before + 1
            } else {
                here.max(best[i])
            };
            before = here;
        }
    }
    best[said.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(text: &str, chance: f64, bounds: Rect) -> Line {
        let signs = text
            .chars()
            .map(|c| Character::sure(&c.to_string(), chance));
        Line::from_characters(signs.collect(), bounds, bounds)
    }

    fn reading(lines: &[(&str, f64, Rect)]) -> Reading {
        Reading {
            lines: lines.iter().map(|&(t, c, b)| line(t, c, b)).collect(),
            ..Reading::default()
        }
    }

    /// Twice as large on the plan as the rest.
    const TWICE: Homography = Homography([2.0, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0, 0.0, 1.0]);
    const SAME: Homography = Homography([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]);

    #[test]
    fn a_neighbour_s_line_that_shows_cut_off_is_left_to_it() {
        let mut own = reading(&[
            ("EDWIN MARCHBOLD", 0.99, Rect::new(10, 10, 150, 15)),
            ("RANT & MOULE", 0.99, Rect::new(90, 40, 80, 15)),
        ]);
        let mut other = reading(&[("MESSRS TARRANT & MOULE", 0.98, Rect::new(100, 80, 240, 30))]);
        let taken = once(&mut [
            OnPlan {
                reading: &mut own,
                to_plan: TWICE,
            },
            OnPlan {
                reading: &mut other,
                to_plan: SAME,
            },
        ]);
        assert_eq!(own.lines.len(), 1);
        assert_eq!(other.lines.len(), 1);
        assert_eq!(
            (taken[0][0].0.text.as_str(), taken[0][0].1),
            ("RANT & MOULE", 1)
        );
        assert_eq!(taken[0][0].0.bounds.x, 90, "boxes stay on its photograph");
    }

    #[test]
    fn what_lies_elsewhere_or_would_leave_a_mark_empty_stays() {
        let whole = ("MESSRS TARRANT & MOULE", 0.98, Rect::new(100, 80, 240, 30));
        for left in [
            vec![
                ("T. Bell", 0.99, Rect::new(10, 10, 90, 20)),
                ("MOULE", 0.99, Rect::new(100, 200, 80, 30)),
            ],
            vec![("MOULE", 0.99, Rect::new(250, 80, 80, 30))],
        ] {
            let (mut own, mut other) = (reading(&left), reading(&[whole]));
            let before = own.clone();
            once(&mut [
                OnPlan {
                    reading: &mut own,
                    to_plan: SAME,
                },
                OnPlan {
                    reading: &mut other,
                    to_plan: SAME,
                },
            ]);
            assert_eq!(own, before);
        }
    }
}
