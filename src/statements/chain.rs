//! Sums over all cuts of a mark into stretches, exactly.

use super::features::{LONGEST, Seen};
use super::links::{Candidate, FEATURES};
use super::model::{self, GAPS, LABELS, Model, Says};

/// Weights of everything that a mark's stretches may be.
#[derive(Debug, Clone)]
pub struct Weighed {
    /// Number of words.
    pub count: usize,
    /// ln weight of each stretch under each label: `[Seen::at][label]`.
    pub spans: Vec<f32>,
    /// What the entries add to a stretch under each label, `spans` included.
    pub linked: Vec<f32>,
    gaps: Vec<u8>,
}

/// ln(e^a + e^b).
fn add(a: f32, b: f32) -> f32 {
    let (hi, lo) = if a > b { (a, b) } else { (b, a) };
    if lo == f32::NEG_INFINITY {
        hi
    } else {
        hi + (lo - hi).exp().ln_1p()
    }
}

/// ln weight of an entry, its role left out.
pub fn entry_weight(model: &Model, c: &Candidate) -> f32 {
    let w = &model.entries[c.kind as usize * FEATURES..(c.kind as usize + 1) * FEATURES];
    w.iter().zip(&c.features).map(|(a, b)| a * b).sum()
}

/// Rows of weights of features; what the fit never saw has none.
pub fn rows(model: &Model, features: &[u64]) -> Vec<u32> {
    features
        .iter()
        .filter_map(|f| model.rows.get(f).copied())
        .collect()
}

fn sum_into(out: &mut [f32], model: &Model, features: &[u64]) {
    for f in features {
        if let Some(&r) = model.rows.get(f) {
            let w = &model.weights[r as usize * LABELS..(r as usize + 1) * LABELS];
            out.iter_mut().zip(w).for_each(|(o, w)| *o += w);
        }
    }
}

impl Weighed {
    /// Weighs all that is seen of a mark.
    pub fn new(model: &Model, seen: &Seen) -> Self {
        let n = seen.count;
        let table = |of: &[Vec<u64>]| {
            let mut out = vec![0f32; n * LABELS];
            for (t, f) in of.iter().enumerate() {
                sum_into(&mut out[t * LABELS..(t + 1) * LABELS], model, f);
            }
            out
        };
        let (inner, begin, end) = (table(&seen.inner), table(&seen.begin), table(&seen.end));
        let mut spans = vec![f32::NEG_INFINITY; n * LONGEST * LABELS];
        for from in 0..n {
            let mut inside = vec![0f32; LABELS];
            for length in 1..=LONGEST.min(n - from) {
                let (last, at) = (from + length - 1, Seen::at(from, length));
                let mut row = vec![0f32; LABELS];
                sum_into(&mut row, model, &seen.spans[at]);
                for y in 0..LABELS {
                    inside[y] += inner[last * LABELS + y];
                    if length <= model.longest[y] {
                        spans[at * LABELS + y] =
                            row[y] + inside[y] + begin[from * LABELS + y] + end[last * LABELS + y];
                    }
                }
            }
        }
        Self::linked(model, seen, spans)
    }

    /// From the weights of stretches, what their entries add.
    pub fn linked(model: &Model, seen: &Seen, spans: Vec<f32>) -> Self {
        let mut linked = spans.clone();
        for (at, candidates) in seen
            .candidates
            .iter()
            .enumerate()
            .filter(|c| !c.1.is_empty())
        {
            for (role, _) in super::Role::ALL.iter().filter(|r| r.0.names()) {
                let y = at * LABELS + model::label(Says::Fact(*role));
                if spans[y] == f32::NEG_INFINITY {
                    continue;
                }
                let mut sum = 0f32;
                for c in candidates {
                    sum = add(
                        sum,
                        entry_weight(model, c) + model.kind(c.kind as usize, *role),
                    );
                }
                linked[y] = spans[y] + sum;
            }
        }
        Weighed {
            count: seen.count,
            spans,
            linked,
            gaps: seen.gaps.clone(),
        }
    }

    /// ln of the sum over all cuts, and for each stretch and label its ln chance (`[Seen::at][label]`); `pairs` takes
    /// how often a label follows a label.
    pub fn sums(&self, model: &Model, pairs: Option<&mut Pairs>) -> (f64, Vec<f32>) {
        let n = self.count;
        let follow: Vec<f32> = model.follows.iter().map(|w| w.exp()).collect();
        let (before, ends) = self.forward(model, &follow);
        let (after, starts) = self.backward(model, &follow);
        let total = log_sum(ends[n * LABELS..].iter().copied());
        if let Some(pairs) = pairs {
            pairs.gather(self, model, &ends, &starts, total);
        }
        let mut chances = self.linked.clone();
        for from in 0..n {
            for k in 1..=LONGEST.min(n - from) {
                let at = Seen::at(from, k) * LABELS;
                for y in 0..LABELS {
                    chances[at + y] +=
                        before[from * LABELS + y] + after[(from + k) * LABELS + y] - total;
                }
            }
        }
        (f64::from(total), chances)
    }

    /// Sums over the cuts of the words before each word, by the label of the stretch that begins there; and by that of
    /// the stretch that ends before it.
    fn forward(&self, model: &Model, follow: &[f32]) -> (Vec<f32>, Vec<f32>) {
        let n = self.count;
        let mut before = vec![f32::NEG_INFINITY; (n + 1) * LABELS];
        let mut ends = before.clone();
        for t in 0..n {
            let row = &mut before[t * LABELS..(t + 1) * LABELS];
            match t {
                0 => row.copy_from_slice(&model.first),
                _ => onward(
                    &ends[t * LABELS..(t + 1) * LABELS],
                    self.after(follow, t),
                    false,
                    row,
                ),
            }
            for y in 0..LABELS {
                let most = LONGEST.min(model.longest[y]).min(t + 1);
                let ways = (1..=most).map(|k| {
                    let from = t + 1 - k;
                    before[from * LABELS + y] + self.linked[Seen::at(from, k) * LABELS + y]
                });
                ends[(t + 1) * LABELS + y] = log_sum(ways);
            }
        }
        (before, ends)
    }

    /// Sums over the cuts of the words from each word on, by the label of the stretch that ends before it; and by that
    /// of the stretch that begins there.
    fn backward(&self, model: &Model, follow: &[f32]) -> (Vec<f32>, Vec<f32>) {
        let n = self.count;
        let mut after = vec![f32::NEG_INFINITY; (n + 1) * LABELS];
        let mut starts = after.clone();
        after[n * LABELS..].fill(0.0);
        for t in (0..n).rev() {
            for y in 0..LABELS {
                let most = LONGEST.min(model.longest[y]).min(n - t);
                let ways = (1..=most).map(|k| {
                    self.linked[Seen::at(t, k) * LABELS + y] + after[(t + k) * LABELS + y]
                });
                starts[t * LABELS + y] = log_sum(ways);
            }
            if t > 0 {
                let (from, to) = (
                    &starts[t * LABELS..][..LABELS],
                    &mut after[t * LABELS..][..LABELS],
                );
                onward(from, self.after(follow, t), true, to);
            }
        }
        (after, starts)
    }

    /// The weights of a label after a label at the gap before word `t`.
    fn after<'a>(&self, follow: &'a [f32], t: usize) -> &'a [f32] {
        &follow[self.gap(t) * LABELS * LABELS..][..LABELS * LABELS]
    }

    /// Gap before each word.
    pub fn gap(&self, t: usize) -> usize {
        self.gaps[t] as usize
    }
}

/// Expected number of times that a label follows a label, by gap; and of first labels.
#[derive(Debug, Clone)]
pub struct Pairs {
    /// `[gap][before][after]`.
    pub follows: Vec<f32>,
    /// `[label]`.
    pub first: Vec<f32>,
}

impl Default for Pairs {
    fn default() -> Self {
        Pairs {
            follows: vec![0.0; GAPS * LABELS * LABELS],
            first: vec![0.0; LABELS],
        }
    }
}

impl Pairs {
    fn gather(&mut self, w: &Weighed, model: &Model, ends: &[f32], starts: &[f32], total: f32) {
        for y in 0..LABELS {
            self.first[y] += (model.first[y] + starts[y] - total).exp();
        }
        for t in 1..w.count {
            let at = w.gap(t) * LABELS * LABELS;
            let after: Vec<f32> = starts[t * LABELS..(t + 1) * LABELS].to_vec();
            for x in 0..LABELS {
                let e = ends[t * LABELS + x];
                if e - total < -40.0 && e == f32::NEG_INFINITY {
                    continue;
                }
                for y in 0..LABELS {
                    let ln = e + model.follows[at + x * LABELS + y] + after[y] - total;
                    if ln > -16.0 {
                        self.follows[at + x * LABELS + y] += ln.exp();
                    }
                }
            }
        }
    }
}

fn log_sum(values: impl Iterator<Item = f32> + Clone) -> f32 {
    let top = values.clone().fold(f32::NEG_INFINITY, f32::max);
    if top == f32::NEG_INFINITY {
        return top;
    }
    top + values.map(|v| (v - top).exp()).sum::<f32>().ln()
}

/// `to[y] = ln Σₓ e^from[x] · follow[x][y]`, or with `back` over the second index.
fn onward(from: &[f32], follow: &[f32], back: bool, to: &mut [f32]) {
    let top = from.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    if top == f32::NEG_INFINITY {
        to.fill(top);
        return;
    }
    let plain: Vec<f32> = from.iter().map(|v| (v - top).exp()).collect();
    if back {
        for (x, t) in to.iter_mut().enumerate() {
            let row = &follow[x * LABELS..(x + 1) * LABELS];
            *t = row.iter().zip(&plain).map(|(a, b)| a * b).sum::<f32>().ln() + top;
        }
        return;
    }
    to.fill(0.0);
    for (x, p) in plain.iter().enumerate().filter(|p| *p.1 > 0.0) {
        let row = &follow[x * LABELS..(x + 1) * LABELS];
        to.iter_mut().zip(row).for_each(|(t, f)| *t += p * f);
    }
    to.iter_mut().for_each(|t| *t = t.ln() + top);
}
