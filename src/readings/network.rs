//! What several readers made of one line, aligned into one row.
//!
//! In: a line as each reader read it, in px of the turned mark. Out: a row of slots, each slot a spread of chances
//! over signs, the empty sign for "nothing stands here" among them. Knows nothing of pictures.
//!
//! Letters are brought together by edit alignment into a confusion network, and each slot is voted by the readers'
//! own chances. Source of the idea: J. Fiscus, "A post-processing system to yield reduced word error rates: ROVER",
//! IEEE ASRU 1997, doi:10.1109/ASRU.1997.659110.

use super::{Character, RawLine, writing};
use crate::geometry::Rect;

/// One position of a row.
#[derive(Debug, Clone, PartialEq)]
pub struct Slot {
    /// Signs with their shares of the vote, greatest first; the empty sign means "nothing stands here". They sum
    /// to at most 1; the rest is what the readers left open.
    pub shares: Vec<(String, f64)>,
    /// Left and right edge, px of the turned mark.
    pub span: (f64, f64),
}

/// One row of lettering.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Positions from left to right, spaces included.
    pub slots: Vec<Slot>,
    /// px of the turned mark.
    pub bounds: Rect,
    /// Signs of which too little was seen to read them, with their middles, px of the turned mark; only of a row
    /// that one reader alone has read.
    pub faint: Vec<(Character, f64)>,
    /// How it is written, by the readers that tell it.
    pub writing: Option<writing::Chances>,
}

/// A line as one reader read it, with the weight of its vote, above 0.
pub type Heard = (RawLine, f64);

/// A letter with its left and right edge, px of the turned mark.
type Placed = (Character, f64, f64);

/// Most that the silence of a reader weighs who saw nothing where others read: a line that was cut badly (arched,
/// sloping) silences the surest reader, while on grain one voice against is enough.
const SILENCE: f64 = 1.0;

/// Aligns what the readers made of one line; nothing where none of them read a letter.
///
/// * `heard`: of each reader that read something.
/// * `silent`: weights of the readers that saw nothing there.
pub fn row(heard: &[Heard], silent: &[f64]) -> Option<Row> {
    let mut lines: Vec<(Vec<Placed>, f64, &RawLine)> = heard
        .iter()
        .map(|(line, weight)| (letters(line), *weight, line))
        .filter(|(letters, ..)| !letters.is_empty())
        .collect();
    let worth = |(_, weight, line): &(_, f64, &RawLine)| weight * sureness(&line.characters);
    lines.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    let places = lines.iter().map(|(letters, _, line)| around(letters, line));
    let bounds = places.reduce(|a, b| a.union(&b))?;
    let mut net = Network::new(f64::from(bounds.h.max(4)));
    for (letters, weight, _) in &lines {
        net.add(letters, *weight);
    }
    let mut faint: Vec<(Character, f64)> = Vec::new();
    if let [(_, _, alone)] = lines[..] {
        let hardly = alone.faint.iter();
        faint.extend(hardly.map(|(sign, at)| (sign.clone(), f64::from(*at))));
        faint.sort_by(|a, b| a.1.total_cmp(&b.1));
    }
    let missed = silent.iter().map(|w| w.min(SILENCE)).sum();
    Some(Row {
        slots: net.close(missed),
        bounds,
        faint,
        writing: writing::mean(lines.iter().filter_map(|l| l.2.writing.as_ref())),
    })
}

/// The letters of a line with their places, one space between words, as sure as the letters beside it. Where a
/// reader gives no places, letters are spread evenly.
fn letters(line: &RawLine) -> Vec<Placed> {
    let step = f64::from(line.bounds.w) / line.characters.len().max(1) as f64;
    let known = line.spans.len() == line.characters.len();
    let mut out: Vec<Placed> = Vec::new();
    let mut parted = false;
    for (i, c) in line.characters.iter().enumerate() {
        if c.text.trim().is_empty() {
            parted = true;
            continue;
        }
        let (l, r) = match known {
            true => (f64::from(line.spans[i].0), f64::from(line.spans[i].1)),
            false => {
                let left = f64::from(line.bounds.x) + step * i as f64;
                (left, left + step)
            }
        };
        if let Some((before, _, end)) = out.last().filter(|_| parted) {
            let sure = before.confidence.min(c.confidence);
            out.push((Character::sure(" ", sure), *end, l.max(*end)));
        }
        out.push((c.clone(), l, r));
        parted = false;
    }
    out
}

/// The box around the letters of a line, as high as the line.
fn around(letters: &[Placed], line: &RawLine) -> Rect {
    let left = letters.iter().map(|l| l.1).fold(f64::MAX, f64::min);
    let right = letters.iter().map(|l| l.2).fold(f64::MIN, f64::max);
    let width = (right - left).max(1.0) as u32;
    Rect::new(left as i32, line.bounds.y, width, line.bounds.h)
}

/// Greatest share of a sign that only the user's own reader saw: its chance stays below that of
/// a clear letter.
const ALONE: f64 = 0.35;

/// Share that the others must give a sign for it to count as seen by them too.
const SEEN: f64 = 0.1;

/// A row voted with the user's own reader, no sign of which rests on it alone: where the row without it (`others`)
/// doesn't know the sign at that place, its share is at most `ALONE`.
pub fn lean(mut row: Row, others: &Row) -> Row {
    for slot in &mut row.slots {
        let (l, r) = slot.span;
        let there = |s: &&Slot| s.span.0 < r && s.span.1 > l;
        let seen = |sign: &str| {
            let mut shares = others.slots.iter().filter(there).flat_map(|s| &s.shares);
            shares.any(|(t, p)| t == sign && *p >= SEEN)
        };
        for (sign, share) in &mut slot.shares {
            if !sign.is_empty() && !seen(sign) {
                *share = share.min(ALONE);
            }
        }
        slot.shares
            .sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    }
    row
}

/// Expected number of right letters.
pub(super) fn sureness(characters: &[Character]) -> f64 {
    let letters = characters
        .iter()
        .filter(|c| c.text.chars().any(char::is_alphanumeric));
    letters.map(|c| c.confidence).sum()
}

/// A row's slots while readers are added.
struct Network {
    slots: Vec<Open>,
    unit: f64,
    total: f64,
    voters: usize,
}

/// A slot under vote.
struct Open {
    votes: Vec<(String, f64)>,
    firsts: Vec<String>,
    span: (f64, f64),
}

impl Open {
    fn share(&self, sign: &str, total: f64) -> f64 {
        self.votes
            .iter()
            .find(|v| v.0 == sign)
            .map_or(0.0, |v| v.1 / total)
    }

    fn give(&mut self, sign: &str, mass: f64) {
        match self.votes.iter_mut().find(|v| v.0 == sign) {
            Some(v) => v.1 += mass,
            None => self.votes.push((sign.to_string(), mass)),
        }
    }

    fn is_space(&self) -> bool {
        self.firsts.iter().any(|f| f == " ")
    }
}

/// Cost of leaving a letter or a slot without a partner.
const GAP: f64 = 0.65;

impl Network {
    fn new(unit: f64) -> Self {
        Network {
            slots: Vec::new(),
            unit,
            total: 0.0,
            voters: 0,
        }
    }

    /// Cost of setting a letter into a slot: 0 if all agree, near 1 if none do.
    fn cost(&self, slot: &Open, letter: &Placed) -> f64 {
        let (c, l, r) = letter;
        if slot.is_space() != (c.text == " ") {
            return 1.6;
        }
        let mut agree = slot.share(&c.text, self.total) * c.confidence.max(0.3);
        for (alternative, chance) in &c.alternatives {
            agree += slot.share(alternative, self.total) * chance;
        }
        let top = slot.votes.iter().map(|v| v.1).fold(0.0, f64::max) / self.total;
        let like = slot.firsts.iter().any(|f| f.eq_ignore_ascii_case(&c.text));
        let agree = (agree / (top * c.confidence.max(0.3)).max(1e-6)).min(1.0);
        let agree = if like { agree.max(0.6) } else { agree };
        let apart = ((l + r) / 2.0 - (slot.span.0 + slot.span.1) / 2.0).abs() / self.unit;
        (1.0 - agree) + (apart * 0.4).min(1.0)
    }

    /// Aligns a reader's letters with the slots (Wagner and Fischer 1974) and adds its votes.
    fn add(&mut self, letters: &[Placed], weight: f64) {
        let (n, m) = (self.slots.len(), letters.len());
        let width = m + 1;
        let mut cost = vec![0.0f64; (n + 1) * width];
        let mut step = vec![0u8; (n + 1) * width];
        for j in 1..=m {
            cost[j] = j as f64 * GAP;
            step[j] = 2;
        }
        for i in 1..=n {
            let slot = &self.slots[i - 1];
            let empty = slot.share("", self.total.max(1e-9));
            let skip = GAP * (1.0 - 0.7 * empty);
            cost[i * width] = cost[(i - 1) * width] + skip;
            step[i * width] = 1;
            for j in 1..=m {
                let both = cost[(i - 1) * width + j - 1] + self.cost(slot, &letters[j - 1]);
                let none = cost[(i - 1) * width + j] + skip;
                let new = cost[i * width + j - 1] + GAP;
                let (best, s) = if both <= none && both <= new {
                    (both, 0)
                } else if none <= new {
                    (none, 1)
                } else {
                    (new, 2)
                };
                cost[i * width + j] = best;
                step[i * width + j] = s;
            }
        }
        let mut path = Vec::with_capacity(n + m);
        let (mut i, mut j) = (n, m);
        while i > 0 || j > 0 {
            let s = step[i * width + j];
            path.push(s);
            if s != 2 {
                i -= 1;
            }
            if s != 1 {
                j -= 1;
            }
        }
        let old = std::mem::take(&mut self.slots);
        let mut old = old.into_iter();
        let mut next = letters.iter();
        let mut sure = letters[0].0.confidence;
        for s in path.into_iter().rev() {
            let mut slot = if s == 2 {
                let mut votes = Vec::new();
                if self.total > 0.0 {
                    // The readers before saw nothing here.
                    votes.push((String::new(), self.total * 0.8));
                }
                Open {
                    votes,
                    firsts: vec![String::new(); self.voters],
                    span: (f64::NAN, f64::NAN),
                }
            } else if let Some(slot) = old.next() {
                slot
            } else {
                continue;
            };
            if s == 1 {
                slot.give("", weight * sure);
                slot.firsts.push(String::new());
            } else if let Some((c, l, r)) = next.next() {
                sure = c.confidence;
                slot.give(&c.text, weight * c.confidence);
                for (alternative, chance) in &c.alternatives {
                    slot.give(alternative, weight * chance);
                }
                slot.firsts.push(c.text.clone());
                if slot.span.0.is_nan() {
                    slot.span = (*l, *r);
                }
            }
            self.slots.push(slot);
        }
        self.total += weight;
        self.voters += 1;
    }

    /// Shares of the vote; readers that saw nothing on this row count half.
    fn close(self, missed: f64) -> Vec<Slot> {
        let missed = missed * 0.5;
        let total = (self.total + missed).max(1e-9);
        self.slots
            .into_iter()
            .map(|mut open| {
                if missed > 0.0 {
                    open.give("", missed);
                }
                let mut shares: Vec<(String, f64)> = open
                    .votes
                    .into_iter()
                    .map(|(s, m)| (s, m / total))
                    .collect();
                shares.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
                Slot {
                    shares,
                    span: open.span,
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(text: &str, confidence: f64) -> RawLine {
        RawLine {
            characters: text
                .chars()
                .map(|c| Character::sure(&c.to_string(), confidence))
                .collect(),
            bounds: Rect::new(0, 0, 200, 30),
            spans: Vec::new(),
            faint: Vec::new(),
            writing: None,
            by_ink: None,
        }
    }

    #[test]
    fn a_reader_that_sees_nothing_halves_doubtful_letters_and_spares_sure_ones() {
        let best = |confidence| {
            let row = row(&[(line("GRAIN", confidence), 1.0)], &[2.5]).unwrap();
            row.slots[0].shares[0].0.clone()
        };
        assert_eq!(best(0.95), "G");
        assert_eq!(best(0.4), "");
    }

    #[test]
    fn what_one_reader_hardly_saw_is_kept_in_its_place_and_left_to_the_vote_of_several() {
        let mut seen = line("OLD FRAME", 0.9);
        let sign = Character {
            confidence: 0.8,
            ..Character::lost()
        };
        seen.faint = vec![(sign.clone(), 150), (sign, 30)];
        let alone = row(&[(seen.clone(), 2.5)], &[]).unwrap();
        let places: Vec<f64> = alone.faint.iter().map(|f| f.1).collect();
        assert_eq!(places, [30.0, 150.0]);
        let both = row(&[(seen, 2.5), (line("OLD FRAME", 0.9), 1.0)], &[]).unwrap();
        assert!(both.faint.is_empty());
        assert_eq!(row(&[(line(" ", 0.9), 1.0)], &[]), None);
    }
}
