//! The likeliest way in which the evidence shows a field, letter by letter (greatest product
//! instead of the sum over all ways).

use super::Seen;
use super::letters::{self, Confusion};
use super::observed::{Observed, Stand};
use super::table::Table;
use super::words::Field;

/// Chance below which a letter that agrees counts as unclear.
const CLEAR_FROM: f64 = 0.6;

/// A field of an entry laid along the evidence.
#[derive(Debug, Clone, Default)]
pub(super) struct Aligned {
    /// Words used, each letter with what was seen of it and at which column.
    pub words: Vec<Vec<(u8, Seen, Option<usize>)>>,
    /// Place in the form of each of `words`.
    pub places: Vec<usize>,
    /// Words of the form, those left out included.
    pub slots: usize,
    /// First and last column, end excluded.
    pub span: (usize, usize),
    /// ln of its weight.
    pub weight: f32,
}

impl Aligned {
    /// How many letters were seen as `seen`.
    pub fn count(&self, seen: Seen) -> usize {
        self.letters().filter(|l| l.1 == seen).count()
    }

    /// All letters.
    pub fn letters(&self) -> impl Iterator<Item = &(u8, Seen, Option<usize>)> {
        self.words.iter().flatten()
    }
}

/// How a cell was reached.
#[derive(Debug, Clone, Copy, Default)]
struct Step {
    /// Letters used (any number where they are missing at an edge, else 0 to 2), columns used (0 to 2).
    letters: u8,
    columns: u8,
    /// Columns left out after it.
    skipped: u8,
}

struct Trace {
    weights: Vec<f32>,
    steps: Vec<Vec<Step>>,
}

fn trace(text: &Observed, word: &[u8], from: &[f32]) -> Trace {
    let n = text.len();
    let mut rows: Vec<Vec<f32>> = vec![
        from.iter()
            .zip(&text.start)
            .map(|(w, s)| w * s)
            .collect::<Vec<f32>>(),
    ];
    let mut steps = Vec::with_capacity(word.len());
    for (i, &c) in word.iter().enumerate() {
        let table = if i == 0 { &text.first } else { &text.ratio };
        let ratio = &table[c as usize * n..(c as usize + 1) * n];
        let one: Vec<usize> = letters::SPLITS
            .iter()
            .enumerate()
            .filter(|(_, s)| letters::index(s.0) == Some(c))
            .map(|(k, _)| k)
            .collect();
        let two: Vec<usize> = letters::SPLITS
            .iter()
            .enumerate()
            .filter(|(_, s)| {
                i > 0 && letters::index(s.1) == Some(word[i - 1]) && letters::index(s.2) == Some(c)
            })
            .map(|(k, _)| k)
            .collect();
        let mut base = vec![(0f32, Step::default()); n + 1];
        for (j, cell) in base.iter_mut().enumerate() {
            let mut take = |w: f32, letters: u8, columns: u8| {
                if w > cell.0 {
                    let skipped = 0;
                    *cell = (
                        w,
                        Step {
                            letters,
                            columns,
                            skipped,
                        },
                    );
                }
            };
            take(rows[i][j] * text.missing[j], 1, 0);
            if text.edges.binary_search(&j).is_ok() {
                let mut more = text.missing[j];
                for run in 2..=i + 1 {
                    more *= text.further;
                    take(rows[i + 1 - run][j] * more, run.min(255) as u8, 0);
                }
            }
            if j > 0 {
                take(rows[i][j - 1] * ratio[j - 1], 1, 1);
                for &k in &two {
                    take(rows[i - 1][j - 1] * text.joins[k * n + j - 1], 2, 1);
                }
            }
            if j > 1 {
                for &k in &one {
                    take(rows[i][j - 2] * text.splits[k * n + j - 2], 1, 2);
                }
            }
        }
        let mut row = vec![0f32; n + 1];
        let mut step = vec![Step::default(); n + 1];
        for j in 0..=n {
            (row[j], step[j]) = base[j];
            for (back, factor) in [(1, text.skip[j]), (2, text.skip2[j])] {
                if j >= back && base[j - back].0 * factor > row[j] {
                    row[j] = base[j - back].0 * factor;
                    step[j] = Step {
                        skipped: back as u8,
                        ..base[j - back].1
                    };
                }
            }
        }
        rows.push(row);
        steps.push(step);
    }
    let weights = rows
        .pop()
        .unwrap_or_default()
        .iter()
        .zip(&text.end)
        .map(|(w, e)| w * e)
        .collect();
    Trace { weights, steps }
}

/// A slot worked: the traces of its words, and by position which one won (`None`: left out).
type Worked = (Vec<(u32, Trace)>, Vec<Option<usize>>);

/// Lays a form along the evidence.
pub(super) fn align(table: &Table, form: u32, text: &Observed) -> Aligned {
    let n = text.len();
    let slots = &table.forms[form as usize];
    let name = table.fields[form as usize] == Field::Name;
    let mut at: Vec<f32> = if name {
        text.name_start.clone()
    } else {
        vec![1.0; n + 1]
    };
    let mut weight = 0f32;
    let mut kept: Vec<Worked> = Vec::new();
    for &s in slots {
        let dropped = table.dropped[s as usize];
        let mut next: Vec<f32> = at.iter().map(|a| a * dropped).collect();
        let mut won = vec![None; n + 1];
        let mut traces = Vec::new();
        for (w, p) in table.choices(s) {
            let t = trace(text, &table.words[w as usize], &at);
            for j in 0..=n {
                if p * t.weights[j] > next[j] {
                    next[j] = p * t.weights[j];
                    won[j] = Some(traces.len());
                }
            }
            traces.push((w, t));
        }
        let top = next.iter().copied().fold(f32::MIN_POSITIVE, f32::max);
        weight += top.ln();
        at = next.iter().map(|x| x / top).collect();
        kept.push((traces, won));
    }
    let last = |j: usize| at[j] * if name { text.name_end[j] } else { 1.0 };
    let Some(end) = (0..=n).max_by(|a, b| last(*a).total_cmp(&last(*b))) else {
        return Aligned::default();
    };
    let mut out = Aligned {
        weight: weight + last(end).max(f32::MIN_POSITIVE).ln(),
        span: (end, end),
        slots: slots.len(),
        ..Aligned::default()
    };
    let mut j = end;
    for (place, (traces, won)) in kept.iter().enumerate().rev() {
        let Some(k) = won[j] else { continue };
        let (w, t) = &traces[k];
        let word = &table.words[*w as usize];
        let mut letters = Vec::with_capacity(word.len());
        let mut i = word.len();
        while i > 0 {
            let step = t.steps[i - 1][j];
            if step.letters == 0 {
                break;
            }
            j = j.saturating_sub(step.skipped as usize + step.columns as usize);
            for back in 1..=(step.letters as usize).min(i) {
                let c = word[i - back];
                let column = (step.columns > 0).then_some(j);
                let seen = match (step.letters, step.columns) {
                    (1, 1) => seen(text, j, c),
                    (1, 0) if text.missing[j] <= 0.1 => Seen::Contradicted,
                    (_, 0) => Seen::Lost,
                    _ => Seen::Unclear,
                };
                letters.push((c, seen, column));
            }
            i = i.saturating_sub(step.letters as usize);
        }
        letters.reverse();
        out.words.push(letters);
        out.places.push(place);
    }
    out.words.reverse();
    out.places.reverse();
    out.span.0 = j;
    out
}

fn seen(text: &Observed, j: usize, letter: u8) -> Seen {
    let c = &text.columns[j];
    if c.stand != Stand::Sign {
        Seen::Lost
    } else if c.best == letter {
        if c.chance >= CLEAR_FROM {
            Seen::Clear
        } else {
            Seen::Unclear
        }
    } else if c.others.contains(&letter) || Confusion::alike(c.best, letter) {
        Seen::Unclear
    } else {
        Seen::Contradicted
    }
}
