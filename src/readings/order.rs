//! Rows brought into the order in which they are read.

use super::network::{Row, Slot};
use crate::geometry::Rect;

/// Share of the space between two halves of a line. Set by judgement.
const SPACE_BETWEEN: f64 = 0.95;

/// Widest gap between the halves of one line, in heights of the lower one.
const WIDEST_GAP: f64 = 6.0;

/// Whether two rows stand side by side at one height.
fn beside(a: &Rect, b: &Rect) -> bool {
    let shared = f64::from(a.bottom().min(b.bottom()) - a.y.max(b.y));
    let under = f64::from(a.right().min(b.right()) - a.x.max(b.x));
    shared > 0.45 * f64::from(a.h.min(b.h)) && under < 0.2 * f64::from(a.w.min(b.w))
}

/// Top to bottom by the middle of the letters; rows side by side at one height left to right, and
/// those close to each other joined: a printed word and what was written after it are one line.
pub(super) fn reading_order(mut rows: Vec<Row>) -> Vec<Row> {
    rows.sort_by_key(|r| (r.bounds.y + r.bounds.bottom(), r.bounds.x));
    let mut out: Vec<Row> = Vec::new();
    for row in rows {
        let mut at = out.len();
        while at > 0
            && beside(&out[at - 1].bounds, &row.bounds)
            && out[at - 1].bounds.x > row.bounds.x
        {
            at -= 1;
        }
        out.insert(at, row);
    }
    let mut lines: Vec<Row> = Vec::new();
    for row in out {
        match lines.last_mut() {
            Some(last) if beside(&last.bounds, &row.bounds) && near(&last.bounds, &row.bounds) => {
                join(last, row);
            }
            _ => lines.push(row),
        }
    }
    lines
}

fn near(a: &Rect, b: &Rect) -> bool {
    f64::from(b.x - a.right()) < WIDEST_GAP * f64::from(a.h.min(b.h))
}

fn join(left: &mut Row, right: Row) {
    let from = left.slots.last().map_or(0.0, |s| s.span.1);
    let to = right.slots.first().map_or(from, |s| s.span.0);
    left.slots.push(Slot {
        shares: vec![(" ".to_string(), SPACE_BETWEEN)],
        span: (from, to),
    });
    left.slots.extend(right.slots);
    left.faint.extend(right.faint);
    left.bounds = left.bounds.union(&right.bounds);
}
