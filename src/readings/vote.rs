//! Several passes over one mark voted into one reading.
//!
//! In: the lines of each pass, in px of the turned mark. Out: rows of slots, each slot a spread
//! of chances over signs, the empty sign for "nothing stands here" among them. Knows nothing of
//! pictures or recognisers.
//!
//! Rows are found by place, letters by edit alignment into a confusion network, and each slot is
//! voted by the passes' own chances. Source of the idea: J. Fiscus, "A post-processing system to
//! yield reduced word error rates: ROVER", IEEE ASRU 1997, doi:10.1109/ASRU.1997.659110.

use super::{Character, RawLine, writing};
use crate::geometry::Rect;

/// One pass: what one recogniser read on one variant.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// `tesseract/flat/block`, ...
    pub name: String,
    /// Lines with bounds in px of the turned mark.
    pub lines: Vec<RawLine>,
    /// How much its vote counts beside the others, above 0.
    pub weight: f64,
    /// The lines that it was shown, px of the turned mark, if it was shown single lines only:
    /// elsewhere it has no vote.
    pub shown: Option<Vec<Rect>>,
}

impl Pass {
    /// Whether it is a pass over single lines.
    pub fn is_of_lines(&self) -> bool {
        self.shown.is_some()
    }

    /// Whether it has seen most of this place as a line of about that height, so that its silence
    /// there says something.
    fn looked_at(&self, place: &Rect) -> bool {
        self.shown.as_ref().is_none_or(|lines| {
            lines
                .iter()
                .any(|l| f64::from(l.h) < 1.6 * f64::from(place.h) && place.part_in(l) > 0.6)
        })
    }
}

/// One position of a row after the vote.
#[derive(Debug, Clone, PartialEq)]
pub struct Slot {
    /// Signs with their shares of the vote, greatest first; the empty sign means "nothing stands
    /// here". They sum to at most 1; the rest is what the voters left open.
    pub shares: Vec<(String, f64)>,
    /// Passes whose best sign here is the winner.
    pub agreeing: usize,
    /// Left and right edge, px of the turned mark.
    pub span: (f64, f64),
}

/// One row of lettering after the vote.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Positions from left to right, spaces included.
    pub slots: Vec<Slot>,
    /// px of the turned mark.
    pub bounds: Rect,
    /// Passes that saw lettering here.
    pub seen_by: usize,
    /// Passes in all.
    pub passes: usize,
    /// Signs of which too little was seen to read them, with their middles, px of the turned mark; only of a
    /// row that one pass alone has read.
    pub faint: Vec<(Character, f64)>,
    /// How it is written, by the passes that tell it.
    pub writing: Option<writing::Chances>,
}

/// A stretch of a pass's line without a wide break, with its place.
#[derive(Debug, Clone)]
struct Piece {
    pass: usize,
    letters: Vec<(Character, f64, f64)>,
    bounds: Rect,
    faint: Vec<(Character, f64)>,
    writing: Option<writing::Chances>,
}

/// Votes the passes into rows in reading order.
pub fn vote(passes: &[Pass]) -> Vec<Row> {
    let mut order: Vec<usize> = (0..passes.len()).collect();
    order.sort_by(|&a, &b| worth(&passes[b]).total_cmp(&worth(&passes[a])));
    let mut groups: Vec<Vec<Piece>> = Vec::new();
    for &p in &order {
        let known = groups.len();
        for line in &passes[p].lines {
            let mut fresh: Vec<Piece> = Vec::new();
            for piece in pieces(p, line) {
                match best_group(&groups[..known], &piece) {
                    Some(g) => groups[g].push(piece),
                    None => fresh.push(piece),
                }
            }
            if !fresh.is_empty() {
                groups.push(fresh);
            }
        }
    }
    let rows = groups.iter().map(|g| row(g, &order, passes)).collect();
    reading_order(unique(rows))
}

/// Greatest share of a sign that only the user's own reader saw: its chance stays below that of
/// a clear letter.
const ALONE: f64 = 0.35;

/// Share that the others must give a sign for it to count as seen by them too.
const SEEN: f64 = 0.1;

/// Rows voted with the user's own reader, no sign of which rests on it alone: where the vote
/// without it (`others`) doesn't know the sign at that place, its share is at most `ALONE`.
pub fn lean(mut rows: Vec<Row>, others: &[Row]) -> Vec<Row> {
    for row in &mut rows {
        let there: Vec<&Slot> = others
            .iter()
            .filter(|o| o.bounds.intersect(&row.bounds).is_some())
            .flat_map(|o| &o.slots)
            .collect();
        for slot in &mut row.slots {
            let (l, r) = slot.span;
            let seen = |sign: &str| {
                there.iter().any(|s| {
                    s.span.0 < r
                        && s.span.1 > l
                        && s.shares.iter().any(|(t, p)| t == sign && *p >= SEEN)
                })
            };
            for (sign, share) in &mut slot.shares {
                if !sign.is_empty() && !seen(sign) {
                    *share = share.min(ALONE);
                }
            }
            slot.shares
                .sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        }
    }
    rows
}

/// Leaves out rows that lie on a surer one of about their height: one line cut twice, or half of
/// it cut by itself.
fn unique(mut rows: Vec<Row>) -> Vec<Row> {
    rows.sort_by(|a, b| mass(b).total_cmp(&mass(a)));
    let mut out: Vec<Row> = Vec::new();
    for row in rows {
        let again = out.iter().any(|o| {
            f64::from(o.bounds.h) < 1.8 * f64::from(row.bounds.h)
                && row.bounds.part_in(&o.bounds) > 0.5
        });
        if !again {
            out.push(row);
        }
    }
    out
}

/// What a row's letters won of the vote, summed.
fn mass(row: &Row) -> f64 {
    row.slots
        .iter()
        .filter_map(|s| s.shares.first())
        .filter(|(sign, _)| !sign.trim().is_empty())
        .map(|s| s.1)
        .sum()
}

/// How much a pass read: its letters weighted by how sure it is of them.
fn worth(pass: &Pass) -> f64 {
    pass.weight
        * pass
            .lines
            .iter()
            .map(|l| sureness(&l.characters))
            .sum::<f64>()
}

/// Expected number of right letters.
pub(super) fn sureness(characters: &[Character]) -> f64 {
    characters
        .iter()
        .filter(|c| c.text.chars().any(char::is_alphanumeric))
        .map(|c| c.confidence)
        .sum()
}

/// Words of a line with their places. Where a pass gives no spans, letters are spread evenly.
fn pieces(pass: usize, line: &RawLine) -> Vec<Piece> {
    let n = line.characters.len().max(1) as f64;
    let step = f64::from(line.bounds.w) / n;
    let known = line.spans.len() == line.characters.len();
    let mut words: Vec<Piece> = Vec::new();
    let mut open = false;
    for (i, c) in line.characters.iter().enumerate() {
        if c.text.trim().is_empty() {
            open = false;
            continue;
        }
        let (l, r) = if known {
            (f64::from(line.spans[i].0), f64::from(line.spans[i].1))
        } else {
            let left = f64::from(line.bounds.x) + step * i as f64;
            (left, left + step)
        };
        let place = Rect::new(
            l as i32,
            line.bounds.y,
            ((r - l).max(1.0)) as u32,
            line.bounds.h,
        );
        match words.last_mut() {
            Some(w) if open => {
                w.letters.push((c.clone(), l, r));
                w.bounds = w.bounds.union(&place);
            }
            _ => words.push(Piece {
                pass,
                letters: vec![(c.clone(), l, r)],
                bounds: place,
                faint: Vec::new(),
                writing: line.writing,
            }),
        }
        open = true;
    }
    for (sign, at) in &line.faint {
        let at = f64::from(*at);
        let apart = |w: &Piece| (f64::from(w.bounds.x) - at).max(at - f64::from(w.bounds.right()));
        let nearest = words
            .iter_mut()
            .min_by(|a, b| apart(a).total_cmp(&apart(b)));
        if let Some(word) = nearest {
            word.faint.push((sign.clone(), at));
        }
    }
    words
}

/// The group on whose row the piece stands: half of the lesser height shared with the nearest of
/// its pieces.
fn best_group(groups: &[Vec<Piece>], piece: &Piece) -> Option<usize> {
    let mut best: Option<(usize, f64)> = None;
    for (g, group) in groups.iter().enumerate() {
        for other in group {
            let (a, b) = (&piece.bounds, &other.bounds);
            let height = f64::from(a.h.min(b.h).max(1));
            let shared = f64::from(a.bottom().min(b.bottom()) - a.y.max(b.y)) / height;
            if shared < 0.5 {
                continue;
            }
            let tall = f64::from(a.h.max(b.h));
            let apart = f64::from((a.x.max(b.x) - a.right().min(b.right())).max(0)) / tall.max(1.0);
            if apart > 6.0 {
                continue;
            }
            // Like heights speak for the same line, distance against it.
            let score = shared + height / tall - apart * 0.3;
            if best.is_none_or(|(_, s)| score > s) {
                best = Some((g, score));
            }
        }
    }
    best.map(|b| b.0)
}

/// Most that a pass's silence weighs: a line that was cut badly (arched, sloping) silences the
/// surest reader, while on grain one voice against is enough.
const SILENCE: f64 = 1.0;

/// Votes one group of pieces.
fn row(group: &[Piece], order: &[usize], passes: &[Pass]) -> Row {
    let bounds = group
        .iter()
        .skip(1)
        .fold(group[0].bounds, |b, p| b.union(&p.bounds));
    let mut heights: Vec<u32> = group.iter().map(|p| p.bounds.h).collect();
    heights.sort_unstable();
    let unit = f64::from(heights[heights.len() / 2].max(4));
    let mut net = Network::new(unit);
    let mut seen_by = 0;
    let mut missed = 0.0;
    let writing = writing::mean(group.iter().filter_map(|p| p.writing.as_ref()));
    // The readers of whole pages know print
    let of_pages = writing.as_ref().map_or(1.0, writing::trust);
    let weight = |p: usize| match passes[p].is_of_lines() {
        true => passes[p].weight,
        false => passes[p].weight * of_pages,
    };
    for &p in order {
        let letters = text_of(group, p);
        if letters.is_empty() {
            if passes[p].looked_at(&bounds) {
                missed += weight(p).min(SILENCE);
            }
        } else {
            seen_by += 1;
            net.add(&letters, weight(p));
        }
    }
    let mut faint: Vec<(Character, f64)> = Vec::new();
    if seen_by == 1 {
        faint.extend(group.iter().flat_map(|p| p.faint.iter().cloned()));
        faint.sort_by(|a, b| a.1.total_cmp(&b.1));
    }
    Row {
        slots: net.close(missed),
        bounds,
        seen_by,
        passes: passes.len(),
        faint,
        writing,
    }
}

/// All that one pass read on a row, left to right, a space between its words.
fn text_of(group: &[Piece], pass: usize) -> Vec<(Character, f64, f64)> {
    let mut words: Vec<&Piece> = group.iter().filter(|p| p.pass == pass).collect();
    words.sort_by_key(|w| w.bounds.x);
    let mut out: Vec<(Character, f64, f64)> = Vec::new();
    for word in words {
        if let Some((before, _, r)) = out.last() {
            let sure = before.confidence.min(word.letters[0].0.confidence);
            let gap = (*r, word.letters[0].1.max(*r));
            out.push((Character::sure(" ", sure), gap.0, gap.1));
        }
        out.extend(word.letters.iter().cloned());
    }
    out
}

/// A row's slots while passes are added.
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

/// Share of the space between two halves of a line. Set by judgement.
const SPACE_BETWEEN: f64 = 0.95;

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
    fn cost(&self, slot: &Open, letter: &(Character, f64, f64)) -> f64 {
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

    /// Aligns a pass's letters with the slots (Wagner and Fischer 1974) and adds its votes.
    fn add(&mut self, letters: &[(Character, f64, f64)], weight: f64) {
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
                    // The passes before saw nothing here.
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

    /// Shares of the vote; passes that saw nothing on this row count half.
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
                let agreeing = open.firsts.iter().filter(|f| **f == shares[0].0).count();
                Slot {
                    shares,
                    agreeing,
                    span: open.span,
                }
            })
            .collect()
    }
}

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
fn reading_order(mut rows: Vec<Row>) -> Vec<Row> {
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
        agreeing: left.seen_by.min(right.seen_by),
        span: (from, to),
    });
    left.slots.extend(right.slots);
    left.faint.extend(right.faint);
    left.bounds = left.bounds.union(&right.bounds);
    left.seen_by = left.seen_by.max(right.seen_by);
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
        }
    }

    #[test]
    fn a_reader_of_lines_that_sees_nothing_halves_doubtful_letters_and_spares_sure_ones() {
        let best = |confidence, shown| {
            let page = Pass {
                name: "page".into(),
                lines: vec![line("GRAIN", confidence)],
                weight: 1.0,
                shown: None,
            };
            let lines = Pass {
                name: "lines".into(),
                lines: Vec::new(),
                weight: 2.5,
                shown: Some(vec![shown]),
            };
            vote(&[page, lines])[0].slots[0].shares[0].clone()
        };
        let here = Rect::new(0, 2, 210, 30);
        assert_eq!(best(0.95, here).0, "G");
        assert_eq!(best(0.4, here).0, "");
        // It was shown another line, or one much taller: no vote.
        assert_eq!(best(0.4, Rect::new(0, 40, 210, 30)).0, "G");
        assert_eq!(best(0.4, Rect::new(0, 0, 210, 60)).0, "G");
    }

    #[test]
    fn what_one_pass_hardly_saw_is_kept_in_its_place_and_left_to_the_vote_of_several() {
        let mut seen = line("OLD FRAME", 0.9);
        let faint = |at| {
            (
                Character {
                    confidence: 0.8,
                    ..Character::lost()
                },
                at,
            )
        };
        seen.faint = vec![faint(30), faint(150)];
        let pass = |lines| Pass {
            name: "lines".into(),
            lines,
            weight: 2.5,
            shown: Some(vec![Rect::new(0, 0, 200, 30)]),
        };
        let alone = vote(&[pass(vec![seen.clone()])]);
        let places: Vec<f64> = alone[0].faint.iter().map(|f| f.1).collect();
        assert_eq!(places, [30.0, 150.0]);
        let both = vote(&[pass(vec![seen]), pass(vec![line("OLD FRAME", 0.9)])]);
        assert!(both[0].faint.is_empty());
    }
}
