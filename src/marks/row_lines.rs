//! Lines of an upright mark: rows that the network finds, each with the letters that stand on it.

use super::LineBox;
use super::groups::median;
use super::lines::{self, Ink, Part, bend};
use super::rows::{self, Row};
use crate::geometry::{Point, Rect};
use image::GrayImage;

/// px of the longer side of what the network sees of a mark.
const LONGEST: u32 = 1024;
/// Rows that rise or fall by more than this, as px up for one px along, don't run across the mark.
const STEEPEST: f64 = 0.7;
/// A row is bent if its ends rise by so much, heights of an x, its middle lies so near the curve and
/// so many times nearer than to a straight line, told by so many places along it.
const SAG: f64 = 0.3;
const OFF: f64 = 0.15;
const BETTER: f64 = 2.0;
const LEAST_BENT: usize = 6;
/// How far letters reach above and below the middle of their row, in heights of an x.
const ABOVE: f64 = 1.9;
const BELOW: f64 = 1.5;
/// What runs through several rows has in each what lies so near its middle, in heights of an x.
const SHARED: f64 = 1.0;
/// Dots and accents stand between these, commas too, in heights of an x from the middle.
const DOTS: (f64, f64) = (-1.6, 1.0);
/// How far letters may stand out at the ends of a row, in heights of an x.
const BEYOND: f64 = 2.4;
const SAFELY: f64 = 1.2;
/// What stands out further than [`SAFELY`] is a letter only if about as tall as one, heights of an x.
const LETTER: (f64, f64) = (0.7, 2.2);
/// A column of ink thinner than this is no letter's but a rule's if there are more of them in a row
/// than so many, both in heights of an x.
const STROKE: f64 = 0.3;
const RULE: f64 = 1.5;
/// Rows on one height are one line up to this gap, in heights of an x.
const GAP: f64 = 6.0;

/// Rows that make one line, px of the mark.
struct Base {
    /// Middle of its rows from left to right.
    middle: Vec<Point>,
    x_height: f64,
    slope: f64,
    /// Curve, px down for one px squared off `at`; 0 where it is straight.
    bend: f64,
    /// Place along it from which slope and bend count, and the height of its middle there.
    at: f64,
    foot: f64,
}

impl Base {
    fn of(row: &Row) -> Option<Base> {
        let mut middle = row.middle.clone();
        if middle.first()?.x > middle.last()?.x {
            middle.reverse();
        }
        let base = Base::through(middle, row.x_height, row.angle.tan());
        let sound = base.slope.abs() < STEEPEST && base.to() - base.from() > 0.5 * row.x_height;
        sound.then_some(base)
    }

    /// The line through a row's middle, by least squares where it is long enough to tell; bent where
    /// that fits far better.
    fn through(middle: Vec<Point>, x_height: f64, slope: f64) -> Base {
        let n = middle.len() as f64;
        let (mx, my) = middle
            .iter()
            .fold((0.0, 0.0), |m, p| (m.0 + p.x / n, m.1 + p.y / n));
        let sum =
            |f: &dyn Fn(f64, f64) -> f64| middle.iter().map(|p| f(p.x - mx, p.y - my)).sum::<f64>();
        let (xx, xy) = (sum(&|x, _| x * x), sum(&|x, y| x * y));
        let long = xx > n * (0.9 * x_height).powi(2);
        let slope = if long { xy / xx } else { slope };
        let mut base = Base {
            middle: Vec::new(),
            x_height,
            slope,
            bend: 0.0,
            at: mx,
            foot: my,
        };
        // Normal equations of foot, slope and bend about the middle, where the sum of x is 0.
        let (x3, x4, xxy) = (
            sum(&|x, _| x.powi(3)),
            sum(&|x, _| x.powi(4)),
            sum(&|x, y| x * x * y),
        );
        let whole = x4 * xx - x3 * x3 - xx.powi(3) / n;
        if middle.len() >= LEAST_BENT && whole > 1e-6 {
            let bend = (xxy * xx - x3 * xy) / whole;
            let bent = Base {
                middle: Vec::new(),
                slope: (xy - bend * x3) / xx,
                bend,
                foot: my - bend * xx / n,
                ..base
            };
            let off = |b: &Base| middle.iter().map(|p| (p.y - b.at(p.x)).abs()).sum::<f64>() / n;
            let half = middle.iter().map(|p| (p.x - mx).abs()).fold(0.0, f64::max);
            let sags = (bend * half * half).abs() > SAG * x_height;
            if sags && off(&bent) < OFF * x_height && off(&base) > BETTER * off(&bent) {
                base = bent;
            }
        }
        base.middle = middle;
        base
    }

    fn from(&self) -> f64 {
        self.middle.first().map_or(0.0, |p| p.x)
    }

    fn to(&self) -> f64 {
        self.middle.last().map_or(0.0, |p| p.x)
    }

    fn at(&self, x: f64) -> f64 {
        let off = x - self.at;
        self.foot + self.slope * off + self.bend * off * off
    }

    /// Whether another row goes on where this one ends.
    fn goes_on(&self, next: &Base) -> bool {
        let (low, high) = (
            self.x_height.min(next.x_height),
            self.x_height.max(next.x_height),
        );
        let gap = next.from() - self.to();
        let half = (next.from() + self.to()) / 2.0;
        let apart = (self.at(half) - next.at(half)).abs();
        high < 2.2 * low && gap < GAP * high && gap > -0.5 * low && apart < 0.6 * low
    }

    /// The curve of a bent row told more exactly by the feet of its letters.
    fn curved_by(&mut self, letters: &[Part]) {
        if self.bend == 0.0 {
            return;
        }
        let x_height = self.x_height;
        let members: Vec<usize> = (0..letters.len())
            .filter(|&i| {
                let b = letters[i].bounds;
                let x = f64::from(b.x) + f64::from(b.w) / 2.0;
                let off = f64::from(b.y) + f64::from(b.h) / 2.0 - self.at(x);
                let tall = f64::from(b.h) / x_height;
                let beside = x < self.from() - x_height || x > self.to() + x_height;
                !beside && off.abs() < 0.7 * x_height && (LETTER.0..LETTER.1).contains(&tall)
            })
            .collect();
        if let Some(curve) = bend::curve(letters, &members) {
            let n = self.middle.len().max(1) as f64;
            let over: f64 = self.middle.iter().map(|p| p.y - curve.y(p.x)).sum();
            self.at = curve.at;
            self.slope = curve.slope;
            self.bend = curve.bend;
            self.foot = curve.foot + over / n;
        }
    }

    fn joined(self, next: Base) -> Base {
        let (a, b) = (self.to() - self.from(), next.to() - next.from());
        let x_height = (self.x_height * a + next.x_height * b) / (a + b);
        let middle = [self.middle, next.middle].concat();
        Base::through(middle, x_height, self.slope)
    }
}

/// Lines in reading order, as [`lines::lines`] gives them, which is asked where the network finds
/// no row.
pub(super) fn lines(picture: &GrayImage) -> Vec<LineBox> {
    let found = rows::rows(picture, LONGEST);
    let mut bases = joined(found.iter().filter_map(Base::of).collect());
    if bases.is_empty() {
        return lines::lines(picture);
    }
    let ink = lines::letters(picture);
    bases.iter_mut().for_each(|b| b.curved_by(&ink.letters));
    let mut out = boxes(&bases, &ink, picture.dimensions());
    out.sort_by_key(|l| (l.bounds.y + l.bounds.h as i32 / 2, l.bounds.x));
    out
}

/// Rows that go on from each other put together.
fn joined(mut bases: Vec<Base>) -> Vec<Base> {
    bases.sort_by(|a, b| a.from().total_cmp(&b.from()));
    let mut out: Vec<Base> = Vec::new();
    for next in bases {
        let nearest = (0..out.len())
            .filter(|&i| out[i].goes_on(&next))
            .max_by(|&i, &j| out[i].to().total_cmp(&out[j].to()));
        match nearest {
            Some(i) => {
                let before = out.swap_remove(i);
                out.push(before.joined(next));
            }
            None => out.push(next),
        }
    }
    out
}

/// How far above and below its middle a line may reach, px: not into the core of the rows next to
/// it, whatever ink joins them.
fn room(bases: &[Base], k: usize) -> (f64, f64) {
    let own = &bases[k];
    let mut room = (ABOVE * own.x_height, BELOW * own.x_height);
    for (_, other) in bases.iter().enumerate().filter(|o| o.0 != k) {
        let (from, to) = (own.from().max(other.from()), own.to().min(other.to()));
        if to - from < own.x_height.min(other.x_height) {
            continue;
        }
        let half = (from + to) / 2.0;
        let down = other.at(half) - own.at(half);
        // Capitals reach higher over their middle than letters do below it.
        let (over, under) = (0.45 * other.x_height, 0.55 * other.x_height);
        if down < 0.0 {
            room.0 = room.0.min((-down - over).max(0.55 * own.x_height));
        } else {
            room.1 = room.1.min((down - under).max(0.55 * own.x_height));
        }
    }
    room
}

/// What a patch of ink has of one row.
#[derive(Clone, Copy, Default)]
struct Share {
    /// px in the core of the row, within its reach, and as near as [`SHARED`].
    core: u32,
    reach: u32,
    /// Left, right and, level, highest and lowest px within reach; the same near the middle.
    reached: Option<[f64; 4]>,
    near: Option<[f64; 4]>,
    /// Left and right end of what is thick enough for letters.
    letters: Option<[f64; 4]>,
}

impl Share {
    /// Draws the ends in where a long rule leads away from the letters that stand on it: only where
    /// it has letters at all, a dash has none.
    fn without_rule(&mut self, x_height: f64) {
        let Some(letters) = self.letters else { return };
        for span in [&mut self.reached, &mut self.near].into_iter().flatten() {
            if letters[0] - span[0] > RULE * x_height {
                span[0] = letters[0];
            }
            if span[1] - letters[1] > RULE * x_height {
                span[1] = letters[1];
            }
        }
    }
}

fn grown(span: &mut Option<[f64; 4]>, x: f64, y: f64) {
    let s = span.get_or_insert([x, x, y, y]);
    *s = [s[0].min(x), s[1].max(x), s[2].min(y), s[3].max(y)];
}

/// Bounds of each line from the ink that stands on it.
fn boxes(bases: &[Base], ink: &Ink, (w, h): (u32, u32)) -> Vec<LineBox> {
    // Number of a patch -> its place among the letters.
    let mut place = vec![usize::MAX; ink.labels.iter().max().map_or(1, |&m| m as usize + 1)];
    for (i, part) in ink.letters.iter().enumerate() {
        place[part.label as usize] = i;
    }
    let shares: Vec<std::collections::HashMap<usize, Share>> = bases
        .iter()
        .enumerate()
        .map(|(k, base)| {
            let x_height = base.x_height;
            let (above, below) = room(bases, k);
            let mut own: std::collections::HashMap<usize, Share> = Default::default();
            let left = (base.from() - BEYOND * x_height).max(0.0) as u32;
            let right = ((base.to() + BEYOND * x_height).max(0.0) as u32).min(w.saturating_sub(1));
            let mut column: std::collections::HashMap<usize, u32> = Default::default();
            for x in left..=right {
                column.clear();
                let middle = base.at(f64::from(x));
                let top = (middle - above).max(0.0) as u32;
                let bottom = ((middle + below).max(0.0) as u32).min(h.saturating_sub(1));
                for y in top..=bottom {
                    let label = ink.labels[y as usize * w as usize + x as usize] as usize;
                    if label == 0 || place[label] == usize::MAX {
                        continue;
                    }
                    let share = own.entry(place[label]).or_default();
                    let down = f64::from(y) - middle;
                    share.reach += 1;
                    grown(&mut share.reached, f64::from(x), down);
                    if down.abs() < 0.4 * x_height {
                        share.core += 1;
                    }
                    if down.abs() < SHARED * x_height {
                        grown(&mut share.near, f64::from(x), down);
                    }
                    *column.entry(place[label]).or_default() += 1;
                }
                for (part, &ink) in &column {
                    if f64::from(ink) > STROKE * x_height
                        && let Some(share) = own.get_mut(part)
                    {
                        grown(&mut share.letters, f64::from(x), 0.0);
                    }
                }
            }
            own.values_mut().for_each(|s| s.without_rule(x_height));
            own
        })
        .collect();
    let cores = |part: usize| {
        let own = shares
            .iter()
            .filter(|s| s.get(&part).is_some_and(|s| s.core > 0));
        own.count()
    };
    bases
        .iter()
        .zip(&shares)
        .map(|(base, own)| {
            let mut spans = Vec::new();
            for (&i, share) in own {
                let part = &ink.letters[i];
                let tall = f64::from(part.bounds.h);
                let beyond = |s: &[f64; 4]| {
                    let safely = SAFELY * base.x_height;
                    let far = s[1] > base.to() + safely || s[0] < base.from() - safely;
                    let tall = (s[3] - s[2] + 1.0) / base.x_height;
                    far && !(LETTER.0..LETTER.1).contains(&tall)
                };
                let span = match (share.core, cores(i)) {
                    // Dots, accents, commas that no row has in its core.
                    (0, 0) => share.reached.filter(|s| {
                        let whole = share.reach * 3 > part.area * 2;
                        let on = s[1] > base.from() && s[0] < base.to();
                        let low = DOTS.0 * base.x_height < s[2] && s[3] < DOTS.1 * base.x_height;
                        whole
                            && on
                            && low
                            && tall < 0.9 * base.x_height
                            && 2.0 * part.dark > ink.full
                    }),
                    (0, _) => None,
                    (_, 1) => share.reached,
                    _ => share.near,
                };
                spans.extend(span.filter(|s| !beyond(s)).map(|s| (s, share.core)));
            }
            line(base, &spans)
        })
        .collect()
}

/// Puts a line together from what stands on it.
fn line(base: &Base, spans: &[([f64; 4], u32)]) -> LineBox {
    let x = base.x_height;
    let own = [base.from(), base.to(), -0.55 * x, 0.55 * x];
    let [left, right, top, bottom] = spans.iter().fold(own, |a, (b, _)| {
        [
            a[0].min(b[0]),
            a[1].max(b[1] + 1.0),
            a[2].min(b[2]),
            a[3].max(b[3] + 1.0),
        ]
    });
    let heights: Vec<f64> = spans
        .iter()
        .filter(|s| s.1 > 0)
        .map(|(s, _)| s[3] - s[2] + 1.0)
        .filter(|&tall| tall > 0.6 * x)
        .collect();
    let middle = (left + right) / 2.0;
    let mut line = LineBox {
        bounds: Rect::new(
            left.floor() as i32,
            0,
            (right - left).ceil().max(1.0) as u32,
            0,
        ),
        slope: base.slope + 2.0 * base.bend * (middle - base.at),
        bend: base.bend,
        letter_height: if heights.is_empty() {
            1.2 * x
        } else {
            median(heights)
        },
    };
    let (low, high) = line.reach();
    line.bounds.y = (base.at(middle) + top + low).floor() as i32;
    line.bounds.h = (bottom - top + high - low).ceil().max(1.0) as u32;
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_rule_is_no_part_of_the_letters_that_stand_on_it() {
        let share = |letters| Share {
            reached: Some([0.0, 500.0, -5.0, 5.0]),
            letters,
            ..Share::default()
        };
        let end = |mut share: Share| {
            share.without_rule(10.0);
            share.reached.map(|s| (s[0], s[1]))
        };
        assert_eq!(end(share(Some([3.0, 100.0, 0.0, 0.0]))), Some((0.0, 100.0)));
        // The thin end of a letter, and a dash by itself, stay.
        assert_eq!(end(share(Some([3.0, 490.0, 0.0, 0.0]))), Some((0.0, 500.0)));
        assert_eq!(end(share(None)), Some((0.0, 500.0)));
    }
}
