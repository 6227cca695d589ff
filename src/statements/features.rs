//! What is seen of the words of a mark: numbers of features, the same for the fit and for use.
//!
//! No feature has a weight here. A feature is a number made of its sort and its values; those whose lowest bit is
//! set tell a word by its letters, and the fit leaves them out at random, so that no wording is learnt by heart.

use super::Mark;
use super::links::{Candidate, Links};
use super::lists::Lists;
use super::shapes::{self, Shape};
use super::words::Word;

/// Longest stretch, words.
pub const LONGEST: usize = 14;

/// A mark as the model sees it.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// Number of words.
    pub count: usize,
    /// Features of each word wherever it stands in a stretch, where it begins one, where it ends one.
    pub inner: Vec<Vec<u64>>,
    /// See [`Seen::inner`].
    pub begin: Vec<Vec<u64>>,
    /// See [`Seen::inner`].
    pub end: Vec<Vec<u64>>,
    /// Features of each stretch, by [`Seen::at`].
    pub spans: Vec<Vec<u64>>,
    /// Entries that each stretch may name.
    pub candidates: Vec<Vec<Candidate>>,
    /// Gap before each word: 0 a blank, 1 a comma or the like, 2 a new line.
    pub gaps: Vec<u8>,
}

impl Seen {
    /// Number of the stretch of `length` words from `from`.
    pub fn at(from: usize, length: usize) -> usize {
        from * LONGEST + length - 1
    }
}

/// The number of a feature. Mixing after S. Vigna's splitmix64 (from memory).
fn number(sort: u64, a: u64, b: u64) -> u64 {
    let mut z = sort.wrapping_mul(0x9e37_79b9_7f4a_7c15)
        ^ a.wrapping_mul(0xbf58_476d_1ce4_e5b9)
        ^ b.rotate_left(32);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (z ^ (z >> 31)) & !1
}

fn lexical(sort: u64, a: u64, b: u64) -> u64 {
    number(sort, a, b) | 1
}

fn spelt(text: &[u8]) -> u64 {
    text.iter().fold(0xcbf2_9ce4_8422_2325, |h, b| {
        (h ^ u64::from(*b)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// One word looked at.
struct Look {
    classes: u64,
    word: u64,
    near: bool,
    shape: Shape,
    ending: u64,
    after: u64,
    before: u64,
    kinds: (u8, u8),
    address: bool,
    upper: bool,
    length: u64,
}

fn look(mark: &Mark, links: &Links, t: usize) -> Look {
    let (word, known) = (&mark.words[t], &mark.known[t]);
    let shape = shapes::shape(word);
    let signs: Vec<u8> = word.letters.iter().map(|l| l.sign).collect();
    let told = if known.word.is_empty() {
        &signs
    } else {
        &known.word
    };
    let sign = |c: Option<char>| match c {
        Some(',' | ';') => 1,
        Some('.') => 2,
        Some(':' | '-' | '—' | '–' | '=' | '/' | '|') => 3,
        Some('"' | '”' | '“' | '»' | '«' | '\'') => 4,
        Some(')' | '(') => 5,
        _ => 0,
    };
    let end = word.behind.or(word.text.chars().next_back());
    Look {
        classes: known.classes,
        word: if shape.figures() || signs.len() < 2 {
            0
        } else {
            spelt(told)
        },
        near: known.near,
        shape,
        ending: spelt(&signs[signs.len().saturating_sub(3)..]),
        after: sign(end),
        before: sign(word.text.chars().next()),
        kinds: links.kinds(t),
        address: links.in_address(t),
        upper: word
            .core()
            .chars()
            .filter(|c| c.is_alphabetic())
            .all(char::is_uppercase),
        length: signs.len().min(9) as u64,
    }
}

fn bits(mut of: u64) -> impl Iterator<Item = u64> {
    std::iter::from_fn(move || {
        let low = of.trailing_zeros();
        (of != 0).then(|| {
            of &= of - 1;
            u64::from(low)
        })
    })
}

/// Few, some, many.
fn bucket(n: usize) -> u64 {
    match n {
        0..=6 => n as u64,
        7..=9 => 7,
        10..=15 => 8,
        16..=30 => 9,
        _ => 10,
    }
}

impl Look {
    /// Features of the word itself.
    fn own(&self, out: &mut Vec<u64>, sort: u64) {
        out.push(number(sort, 1, self.shape.number()));
        out.extend(bits(self.classes).map(|c| number(sort, 2, c)));
        if self.classes == 0 {
            out.push(number(sort, 3, self.shape.number().max(19)));
            out.push(lexical(sort, 4, self.ending));
        }
        if self.word != 0 {
            out.push(lexical(sort, 5, self.word));
        }
        out.extend(bits(u64::from(self.kinds.0)).map(|k| number(sort, 6, k)));
        out.extend(bits(u64::from(self.kinds.1 & !self.kinds.0)).map(|k| number(sort, 7, k)));
        if self.address {
            out.push(number(sort, 8, 0));
        }
        if self.near {
            out.push(number(sort, 9, 0));
        }
        if self.after != 0 {
            out.push(number(sort, 10, self.after));
        }
        if self.before != 0 {
            out.push(number(sort, 11, self.before));
        }
        out.push(number(sort, 12, self.length));
    }

    /// Features of a word beside, `away` words off.
    fn beside(&self, out: &mut Vec<u64>, sort: u64, away: u64) {
        let at = sort * 64 + away;
        out.push(number(at, 20, self.shape.number()));
        out.extend(bits(self.classes).map(|c| number(at, 21, c)));
        out.extend(bits(u64::from(self.kinds.0)).map(|c| number(at, 22, c)));
        if self.after != 0 {
            out.push(number(at, 23, self.after));
        }
        if away % 8 == 1 && self.word != 0 {
            out.push(lexical(at, 24, self.word));
        }
    }
}

/// All that is seen of a mark.
pub fn seen(mark: &Mark, lists: &Lists) -> Seen {
    let words = &mark.words[..];
    let mut links = Links::new(mark, lists);
    let looks: Vec<Look> = (0..words.len()).map(|t| look(mark, &links, t)).collect();
    let count = words.len();
    let mut out = Seen {
        count,
        ..Seen::default()
    };
    let whole = of_mark(mark, &looks);
    for t in 0..count {
        let (inner, begin, end) = of_word(mark, &looks, t);
        out.inner.push(inner);
        out.begin.push([begin, whole.clone()].concat());
        out.end.push(end);
        let comma = t > 0 && matches!(looks[t - 1].after, 1 | 3);
        let line = t > 0 && words[t].line != words[t - 1].line;
        out.gaps.push(if line { 2 } else { u8::from(comma) });
    }
    for from in 0..count {
        for length in 1..=LONGEST {
            let to = from + length;
            let fits = to <= count;
            if !fits {
                out.spans.push(Vec::new());
                out.candidates.push(Vec::new());
                continue;
            }
            let candidates = links.candidates(from, to);
            let mut span = of_span(words, &looks, from, to);
            span.extend(of_names(
                words,
                &looks,
                (from, to),
                out.gaps[from],
                &candidates,
            ));
            out.spans.push(span);
            out.candidates.push(candidates);
        }
    }
    out
}

/// Features of a stretch that is a listed name in full: of which kind, and what it stands beside.
fn of_names(
    words: &[Word],
    looks: &[Look],
    (from, to): (usize, usize),
    gap: u8,
    candidates: &[Candidate],
) -> Vec<u64> {
    let full = |c: &&Candidate| c.whole();
    let kinds = candidates.iter().filter(full);
    let kinds = kinds.fold(0u64, |a, c| a | 1 << c.kind as u64);
    let last = words[to - 1].index + 1 == words[to - 1].of;
    let mut out = Vec::new();
    for k in bits(kinds) {
        out.push(number(215, k, u64::from(gap) * 2 + u64::from(last)));
        let before = from.checked_sub(1).map_or(0, |t| looks[t].classes);
        out.extend(bits(before).map(|c| number(216, k, c)));
        let behind = looks.get(to).map_or(0, |l| l.classes);
        out.extend(bits(behind).map(|c| number(217, k, c)));
        let near = from.checked_sub(1).map(|t| looks[t].shape.number());
        out.push(number(218, k, near.unwrap_or(63)));
    }
    out
}

/// Features of the mark as a whole; they tell where a stretch begins.
fn of_mark(mark: &Mark, looks: &[Look]) -> Vec<u64> {
    let mut out = vec![
        number(100, 0, mark.kind.map_or(99, |k| k as u64)),
        number(101, 0, bucket(mark.lines)),
        number(102, 0, bucket(looks.len())),
    ];
    let classes = looks.iter().fold(0, |a, l| a | l.classes);
    out.extend(bits(classes).map(|c| number(103, 0, c)));
    let exact = looks.iter().fold(0, |a, l| a | l.kinds.0);
    out.extend(bits(u64::from(exact)).map(|c| number(104, 0, c)));
    let shapes = looks.iter().fold(0u64, |a, l| a | 1 << l.shape.number());
    out.extend(bits(shapes).map(|c| number(105, 0, c)));
    out
}

/// Features of a word: inside of a stretch, at its beginning, at its end.
fn of_word(mark: &Mark, looks: &[Look], t: usize) -> (Vec<u64>, Vec<u64>, Vec<u64>) {
    let w = &mark.words[t];
    let l = &looks[t];
    let (mut inner, mut begin, mut end) = (
        vec![number(0, 0, 0)],
        vec![number(0, 0, 1)],
        vec![number(0, 0, 2)],
    );
    l.own(&mut inner, 1);
    l.own(&mut begin, 2);
    l.own(&mut end, 3);
    let other_line = |k: usize| if mark.words[k].line == w.line { 0 } else { 8 };
    for away in 1..=2usize {
        if let Some(k) = t.checked_sub(away) {
            looks[k].beside(&mut inner, 4, away as u64 + other_line(k));
            looks[k].beside(&mut begin, 5, away as u64 + other_line(k));
        }
        if let Some(other) = looks.get(t + away) {
            let off = away as u64 + other_line(t + away);
            other.beside(&mut inner, 6, off);
            other.beside(&mut end, 7, off);
            if away == 1 {
                other.beside(&mut begin, 8, off);
            }
        }
    }
    // The side from which each end of the line and of the mark comes near
    let top = number(30, w.line.min(3) as u64, 0);
    let bottom = number(
        31,
        (mark.lines - 1 - w.line.min(mark.lines - 1)).min(3) as u64,
        0,
    );
    let place = number(32, u64::from(w.index == 0), u64::from(w.index + 1 == w.of));
    for out in [&mut inner, &mut begin] {
        out.extend([top, bottom, place]);
    }
    begin.push(number(33, w.index.min(4) as u64, w.of.min(6) as u64));
    end.push(number(34, u64::from(w.index + 1 == w.of), 0));
    let of_line = |line: Option<usize>, until: usize| {
        let here = mark.words.iter().zip(looks).take(until);
        let here = here.filter(|(x, _)| Some(x.line) == line);
        here.fold(0u64, |a, (_, l)| a | l.classes)
    };
    begin.extend(bits(of_line(Some(w.line), t)).map(|c| number(35, 0, c)));
    begin.extend(bits(of_line(w.line.checked_sub(1), t)).map(|c| number(36, 0, c)));
    begin.extend(bits(of_line(Some(w.line + 1), looks.len())).map(|c| number(37, 0, c)));
    let last = (1..=7).find(|k| t.checked_sub(*k).is_some_and(|k| looks[k].classes != 0));
    if let Some(k) = last {
        begin.extend(bits(looks[t - k].classes).map(|c| number(38, u64::from(k > 3), c)));
    }
    (inner, begin, end)
}

/// Figure, money, word, initial: a word's shape at its coarsest.
fn coarse(l: &Look) -> u64 {
    match l.shape {
        Shape::Year | Shape::YearDamaged => 1,
        Shape::Money => 2,
        Shape::Initial | Shape::Initials => 3,
        Shape::Ampersand => 4,
        Shape::Lower => 5,
        s if s.figures() => 6,
        _ => 7,
    }
}

/// Features of a stretch of words as a whole.
fn of_span(words: &[Word], looks: &[Look], from: usize, to: usize) -> Vec<u64> {
    let (length, span) = (to - from, &looks[from..to]);
    let mut out = vec![number(200, length as u64, 0)];
    let lines = words[to - 1].line - words[from].line;
    out.push(number(201, lines.min(2) as u64, (length == 1).into()));
    let (head, tail) = (
        words[from].index == 0,
        words[to - 1].index + 1 == words[to - 1].of,
    );
    out.push(number(202, head.into(), tail.into()));
    if lines > 0 {
        out.push(number(203, head.into(), tail.into()));
    }
    let commas = span[..length - 1].iter().filter(|l| l.after == 1).count();
    let stops = span[..length - 1]
        .iter()
        .filter(|l| l.after == 2 && l.length > 3)
        .count();
    out.push(number(204, commas.min(3) as u64, 0));
    out.push(number(205, stops.min(2) as u64, 0));
    let any = span.iter().fold(0, |a, l| a | l.classes);
    let all = span.iter().fold(u64::MAX, |a, l| a & l.classes);
    out.extend(bits(any).map(|c| number(206, c, 0)));
    if length > 1 {
        out.extend(bits(all).map(|c| number(207, c, 0)));
        out.push(number(
            208,
            span[0].shape.number(),
            span[length - 1].shape.number(),
        ));
    }
    let unknown = span
        .iter()
        .filter(|l| l.classes == 0 && !l.shape.figures())
        .count();
    out.push(number(209, bucket(unknown).min(5), bucket(length).min(5)));
    if length <= 5 {
        let shapes = span.iter().fold(0, |a, l| a * 32 + l.shape.number() + 1);
        out.push(lexical(210, shapes, 0));
        out.push(number(
            211,
            span.iter().fold(0, |a, l| a * 8 + coarse(l)),
            0,
        ));
    }
    let upper = span.iter().all(|l| l.upper);
    let beside = |l: Option<&Look>| l.map_or(2, |l| u64::from(l.upper));
    let before = from.checked_sub(1).map(|k| &looks[k]);
    out.push(number(212, upper.into(), beside(before)));
    out.push(number(213, upper.into(), beside(looks.get(to))));
    let quoted = span[0].before == 4 && span[length - 1].after == 4;
    let within = span[0].before == 5 && span[length - 1].after == 5;
    out.push(number(214, quoted.into(), within.into()));
    out
}
