//! Lettering that the outlines of two marks share is read twice; here it stays with the mark that reads
//! it more surely.

use super::{Character, Line, Reading, mean_chance};
use std::collections::BTreeMap;

/// Two lines lie on one another if they share this part of the smaller one's box.
const SHARED: f64 = 0.5;

/// A line is said already if so great a part of its letters stands, in order, in lines that lie on it.
const SAID: f64 = 0.75;

/// The same for a line that is hardly a reading: with a mean chance of its letters below [`POOR`].
const SAID_POORLY: f64 = 0.4;

/// See [`SAID_POORLY`].
const POOR: f64 = 0.7;

/// A poorly read line that lies this far on one read with [`SURE`] says nothing of its own, whatever it
/// reads: it is a strip of the other that its mark's outline cuts off.
const UNDER: f64 = 0.9;

/// See [`UNDER`].
const SURE: f64 = 0.9;

/// So much less surely than the other is a strip of it read.
const LESS: f64 = 0.15;

/// Takes out, of lines of different marks of a photograph that read the same lettering, all but the
/// surest; bounds tell where they lie (px of the photograph).
///
/// Returns for each reading the lines taken out of it, each with the reading (by its place) that holds
/// the lettering. A mark whose lines all stay with others keeps its surest, so that none comes out empty.
pub fn once(readings: &mut [&mut Reading]) -> Vec<Vec<(Line, usize)>> {
    let mut order: Vec<(usize, usize)> = Vec::new();
    for (m, reading) in readings.iter().enumerate() {
        order.extend((0..reading.lines.len()).map(|l| (m, l)));
    }
    let line = |at: (usize, usize)| &readings[at.0].lines[at.1];
    order.sort_by(|&a, &b| mean(line(b)).total_cmp(&mean(line(a))));
    // Where each line stays, while all are sought in order of how surely they are read.
    let mut held: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for &at in &order {
        let mut on: Vec<(usize, usize)> = held
            .iter()
            .filter(|(line, mark)| line.0 == **mark)
            .map(|(line, _)| *line)
            .filter(|s| s.0 != at.0 && shared(line(*s), line(at)) > SHARED)
            .collect();
        on.sort_by_key(|&s| line(s).bounds.x);
        let said: Vec<char> = on.iter().flat_map(|&s| letters(line(s))).collect();
        let least = if mean(line(at)) < POOR {
            SAID_POORLY
        } else {
            SAID
        };
        let under = on.iter().find(|&&s| {
            mean(line(s)) >= SURE.max(mean(line(at)) + LESS)
                && line(at).bounds.part_in(&line(s).bounds) >= UNDER
        });
        let most = on
            .iter()
            .max_by(|&&a, &&b| shared(line(a), line(at)).total_cmp(&shared(line(b), line(at))));
        let said = || most.filter(|_| common(&letters(line(at)), &said) >= least);
        held.insert(at, under.or_else(said).map_or(at.0, |m| m.0));
    }
    for m in 0..readings.len() {
        let own = order.iter().filter(|at| at.0 == m);
        if own.clone().all(|at| held[at] != m) {
            held.extend(own.take(1).map(|&surest| (surest, m)));
        }
    }
    let mut out = vec![Vec::new(); readings.len()];
    for (m, reading) in readings.iter_mut().enumerate() {
        let lines = std::mem::take(&mut reading.lines);
        for (l, line) in lines.into_iter().enumerate() {
            match held[&(m, l)] {
                holder if holder == m => reading.lines.push(line),
                holder => out[m].push((line, holder)),
            }
        }
    }
    out
}

/// Mean chance of a line's letters; 0 where it has none.
fn mean(line: &Line) -> f64 {
    let signs = line.characters.iter();
    mean_chance(signs.filter(|c| !c.text.trim().is_empty())).unwrap_or(0.0)
}

/// Letters and figures of a line as read, in lower case; lost ones left out.
pub fn letters(line: &Line) -> Vec<char> {
    let read = line.characters.iter().filter(|c: &&Character| !c.is_lost());
    read.flat_map(|c| c.text.chars())
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// Part of the smaller box that lies on the other.
fn shared(a: &Line, b: &Line) -> f64 {
    a.bounds.part_in(&b.bounds).max(b.bounds.part_in(&a.bounds))
}

/// Part of `own` that stands in `said` in the same order; 1 where there is nothing to say.
fn common(own: &[char], said: &[char]) -> f64 {
    match own.len() {
        0 => 1.0,
        n => common_letters(own, said) as f64 / n as f64,
    }
}

/// Letters that stand in both in the same order: length of the longest common subsequence.
pub fn common_letters(own: &[char], said: &[char]) -> usize {
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
    use crate::geometry::Rect;

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

    fn left(mut all: Vec<Reading>) -> Vec<Vec<String>> {
        let before: usize = all.iter().map(|r| r.lines.len()).sum();
        let taken = once(&mut all.iter_mut().collect::<Vec<_>>());
        let after: usize = all.iter().map(|r| r.lines.len()).sum();
        assert_eq!(before, after + taken.iter().map(Vec::len).sum::<usize>());
        let texts = |r: Reading| r.lines.into_iter().map(|l| l.text).collect();
        all.into_iter().map(texts).collect()
    }

    const ROW: Rect = Rect {
        x: 10,
        y: 10,
        w: 200,
        h: 30,
    };
    const PART: Rect = Rect {
        x: 10,
        y: 12,
        w: 90,
        h: 28,
    };
    const BELOW: Rect = Rect {
        x: 10,
        y: 50,
        w: 200,
        h: 30,
    };

    #[test]
    fn lettering_that_two_marks_share_stays_with_the_surer_reading() {
        let upper = reading(&[
            ("OAKHAM FAIR", 0.9, BELOW),
            ("Fenn & Sons, Harle", 0.97, ROW),
        ]);
        let lower = reading(&[
            ("enn & Sons, Harl", 0.9, PART),
            ("carvers", 0.9, Rect { y: 90, ..ROW }),
        ]);
        let said = left(vec![upper, lower]);
        assert_eq!(
            said,
            [vec!["OAKHAM FAIR", "Fenn & Sons, Harle"], vec!["carvers"]]
        );
    }

    #[test]
    fn what_is_taken_out_is_handed_back_with_the_mark_that_holds_it() {
        let mut all = [
            reading(&[("gilders", 0.9, BELOW), ("Fenn", 0.8, ROW)]),
            reading(&[("Fenn", 0.9, ROW)]),
        ];
        let taken = once(&mut all.iter_mut().collect::<Vec<_>>());
        assert_eq!(taken[0].len(), 1);
        assert_eq!(
            (taken[0][0].0.text.as_str(), taken[0][0].1),
            ("Fenn", 1),
            "the surer mark holds it"
        );
        assert!(taken[1].is_empty());
    }

    #[test]
    fn a_row_of_two_words_is_said_by_two_lines_of_another_mark() {
        let right = Rect { x: 110, ..PART };
        let halves = reading(&[("and Daughter", 0.95, right), ("Lomaxby", 0.95, PART)]);
        let whole = reading(&[("Lomaxby and Daugh", 0.8, ROW), ("gilders", 0.8, BELOW)]);
        assert_eq!(left(vec![halves, whole])[1], ["gilders"]);
    }

    #[test]
    fn a_strip_of_another_mark_s_line_is_left_to_it_whatever_it_reads() {
        let strip = Rect {
            x: 60,
            y: 14,
            w: 90,
            h: 20,
        };
        let sure = || reading(&[("Fenn & Sons, Harle", 0.97, ROW)]);
        let cut = |chance, at| reading(&[("UIIIC", chance, at), ("gilders", 0.9, BELOW)]);
        assert_eq!(left(vec![sure(), cut(0.6, strip)])[1], ["gilders"]);
        // a stamp across the line is read as surely, or reaches beyond it
        assert_eq!(left(vec![sure(), cut(0.9, strip)])[1].len(), 2);
        let taller = Rect { h: 40, ..strip };
        assert_eq!(left(vec![sure(), cut(0.6, taller)])[1].len(), 2);
    }

    #[test]
    fn what_differs_lies_elsewhere_or_would_leave_a_mark_empty_stays() {
        let one = || reading(&[("No. 417", 0.99, ROW)]);
        let other = [
            reading(&[("T. Wellenby", 0.9, ROW), ("x", 0.9, BELOW)]),
            reading(&[("No. 417", 0.9, BELOW), ("x", 0.9, ROW)]),
            reading(&[("No. 417", 0.9, ROW)]),
        ];
        for o in other {
            let before: Vec<String> = o.lines.iter().map(|l| l.text.clone()).collect();
            assert_eq!(left(vec![one(), o])[1], before);
        }
        let same = reading(&[("No. 417", 0.9, ROW), ("No. 417", 0.8, ROW)]);
        assert_eq!(
            left(vec![same])[0].len(),
            2,
            "within one mark nothing is left out"
        );
    }
}
