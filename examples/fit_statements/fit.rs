//! Weights by gradient descent on the likelihood of the true cuts and entries (Adam, D. Kingma and J. Ba, ICLR 2015).

use crate::made::{self, Made};
use dorso::statements::chain::{self, Pairs, Weighed};
use dorso::statements::features::{self, LONGEST, Seen};
use dorso::statements::links::FEATURES;
use dorso::statements::model::{self, LABELS, Model, Says};
use dorso::statements::{Lists, Role};
use rayon::prelude::*;
use std::collections::HashMap;
use std::path::Path;

/// A feature is kept if so many marks have it.
const MARKS: u32 = 5;
/// A feature none of whose weights is above this is left out at the end.
const SLIGHT: f32 = 0.05;
/// Marks of one step.
const STEP: usize = 64;
/// Share of features that tell letters, and of others, left out in each sight of a mark.
const DROPPED: (f32, f32) = (0.4, 0.08);
const RATE: f32 = 0.03;

/// One mark ready for the fit.
struct Ready {
    seen: Seen,
    cut: Vec<(usize, usize, usize)>,
    /// By stretch of the cut: the candidate that is named; `Some(None)`: none of the lists; `None`: not known.
    named: Vec<Option<Option<usize>>>,
}

fn ready(made: &Made, lists: &Lists, rows: &HashMap<(String, String), u32>) -> Option<Ready> {
    let seen = features::seen(&made.mark, lists);
    let cut = made.cut();
    if cut.is_empty() || cut.iter().any(|c| c.1 - c.0 > LONGEST) {
        return None;
    }
    let named = cut.iter().map(|&(from, to, _, number)| {
        let truth = usize::try_from(number).ok().map(|n| &made.truths[n])?;
        let candidates = &seen.candidates[Seen::at(from, to - from)];
        match (&truth.list, &truth.entry) {
            (Some(l), Some(e)) => {
                let row = rows.get(&(l.clone(), e.clone()))?;
                candidates.iter().position(|c| c.row == *row).map(Some)
            }
            _ => Some(None),
        }
    });
    let named = named.collect();
    let cut = cut.into_iter().map(|c| (c.0, c.1, c.2)).collect();
    Some(Ready { seen, cut, named })
}

/// Keys of all rows of lists.
pub fn keys(lists: &Lists) -> HashMap<(String, String), u32> {
    let key = |i: u32| {
        let (l, e) = lists.key(i);
        ((l.to_string(), e.to_string()), i)
    };
    (0..lists.rows.len() as u32).map(key).collect()
}

fn lists_of(seen: &Seen) -> impl Iterator<Item = &Vec<u64>> {
    seen.inner
        .iter()
        .chain(&seen.begin)
        .chain(&seen.end)
        .chain(&seen.spans)
}

fn all(dir: &Path) -> Result<Vec<Ready>, String> {
    let mut out = Vec::new();
    for folder in made::folders(dir)? {
        let set = made::set(&folder)?;
        let rows = keys(&set.lists);
        out.par_extend(
            set.marks
                .par_iter()
                .filter_map(|m| ready(m, &set.lists, &rows)),
        );
    }
    Ok(out)
}

fn start(marks: &mut [Ready]) -> Model {
    let mut counts = model::Rows::default();
    for m in marks.iter() {
        let mut own: Vec<u64> = lists_of(&m.seen).flatten().copied().collect();
        own.sort_unstable();
        own.dedup();
        own.into_iter()
            .for_each(|f| *counts.entry(f).or_default() += 1);
    }
    let mut kept: Vec<u64> = counts
        .into_iter()
        .filter(|c| c.1 >= MARKS)
        .map(|c| c.0)
        .collect();
    kept.sort_unstable();
    let rows: model::Rows = kept.into_iter().zip(0..).collect();
    for m in marks.iter_mut() {
        let s = &mut m.seen;
        for list in s
            .inner
            .iter_mut()
            .chain(&mut s.begin)
            .chain(&mut s.end)
            .chain(&mut s.spans)
        {
            list.retain(|f| rows.contains_key(f));
            list.shrink_to_fit();
        }
    }
    let mut model = Model::empty(rows);
    for c in marks.iter().flat_map(|m| &m.cut) {
        model.longest[c.2] = model.longest[c.2].max(c.1 - c.0);
    }
    model
}

/// Gradient of the loss, in the order of the model's blocks.
#[derive(Clone)]
struct Gradient {
    weights: Vec<f32>,
    pairs: Pairs,
    entries: Vec<f32>,
    kinds: Vec<f32>,
    loss: f64,
}

impl Gradient {
    fn new(model: &Model) -> Self {
        Gradient {
            weights: vec![0.0; model.weights.len()],
            pairs: Pairs::default(),
            entries: vec![0.0; model.entries.len()],
            kinds: vec![0.0; model.kinds.len()],
            loss: 0.0,
        }
    }

    fn join(mut self, other: Gradient) -> Self {
        let add = |a: &mut [f32], b: &[f32]| a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
        add(&mut self.weights, &other.weights);
        add(&mut self.pairs.follows, &other.pairs.follows);
        add(&mut self.pairs.first, &other.pairs.first);
        add(&mut self.entries, &other.entries);
        add(&mut self.kinds, &other.kinds);
        self.loss += other.loss;
        self
    }

    fn scatter(&mut self, model: &Model, features: &[u64], by: &[f32]) {
        for f in features {
            if let Some(&r) = model.rows.get(f) {
                let w = &mut self.weights[r as usize * LABELS..(r as usize + 1) * LABELS];
                w.iter_mut().zip(by).for_each(|(w, b)| *w += b);
            }
        }
    }

    /// Adds a stretch's expected (or, with a negative `p`, true) entries.
    fn entries(
        &mut self,
        model: &Model,
        seen: &Seen,
        at: usize,
        role: Role,
        p: f32,
        truth: Option<Option<usize>>,
    ) {
        let candidates = &seen.candidates[at];
        let weights: Vec<f32> = candidates
            .iter()
            .map(|c| (chain::entry_weight(model, c) + model.kind(c.kind as usize, role)).exp())
            .collect();
        let sum = 1.0 + weights.iter().sum::<f32>();
        for (k, (c, w)) in candidates.iter().zip(&weights).enumerate() {
            let share = match truth {
                None => w / sum,
                Some(t) => f32::from(u8::from(t == Some(k))),
            };
            if share < 1e-5 {
                continue;
            }
            let row =
                &mut self.entries[c.kind as usize * FEATURES..(c.kind as usize + 1) * FEATURES];
            row.iter_mut()
                .zip(&c.features)
                .for_each(|(g, f)| *g += p * share * f);
            self.kinds[Model::kind_at(c.kind as usize, role)] += p * share;
        }
    }

    /// Adds one mark.
    fn mark(&mut self, model: &Model, m: &Ready, seen: &Seen) {
        let weighed = Weighed::new(model, seen);
        let (total, chances) = weighed.sums(model, Some(&mut self.pairs));
        let n = seen.count;
        let mut truth = 0f64;
        let mut before = None;
        let mut spans: HashMap<usize, Vec<f32>> = HashMap::new();
        for (&(from, to, y), named) in m.cut.iter().zip(&m.named) {
            let at = Seen::at(from, to - from);
            spans.entry(at).or_insert_with(|| vec![0.0; LABELS])[y] -= 1.0;
            let role = match model::says(y) {
                Says::Fact(r) if r.names() && !seen.candidates[at].is_empty() => Some(r),
                _ => None,
            };
            let mut weight = weighed.linked[at * LABELS + y];
            if let (Some(role), Some(t)) = (role, named) {
                weight = weighed.spans[at * LABELS + y];
                if let Some(k) = t {
                    let c = &seen.candidates[at][*k];
                    weight += chain::entry_weight(model, c) + model.kind(c.kind as usize, role);
                }
            }
            if let Some(role) = role {
                self.entries(model, seen, at, role, -1.0, *named);
            }
            truth += f64::from(weight);
            truth += f64::from(match before {
                None => {
                    self.pairs.first[y] -= 1.0;
                    model.first[y]
                }
                Some(x) => {
                    let k = (weighed.gap(from) * LABELS + x) * LABELS + y;
                    self.pairs.follows[k] -= 1.0;
                    model.follows[k]
                }
            });
            before = Some(y);
        }
        self.loss += total - truth;
        for at in 0..n * LONGEST {
            let row = &chances[at * LABELS..(at + 1) * LABELS];
            if row.iter().all(|c| *c < -9.0) {
                continue;
            }
            let by = spans.entry(at).or_insert_with(|| vec![0.0; LABELS]);
            for (y, c) in row.iter().enumerate().filter(|c| *c.1 >= -9.0) {
                by[y] += c.exp();
                if let Says::Fact(role) = model::says(y)
                    && role.names()
                    && !seen.candidates[at].is_empty()
                {
                    self.entries(model, seen, at, role, c.exp(), None);
                }
            }
        }
        let (mut inner, mut begin, mut end) = (
            vec![0f32; n * LABELS],
            vec![0f32; n * LABELS],
            vec![0f32; n * LABELS],
        );
        for (at, by) in &spans {
            let (from, length) = (at / LONGEST, at % LONGEST + 1);
            self.scatter(model, &seen.spans[*at], by);
            for y in 0..LABELS {
                begin[from * LABELS + y] += by[y];
                end[(from + length - 1) * LABELS + y] += by[y];
                (from..from + length).for_each(|t| inner[t * LABELS + y] += by[y]);
            }
        }
        for t in 0..n {
            let row = t * LABELS..(t + 1) * LABELS;
            self.scatter(model, &seen.inner[t], &inner[row.clone()]);
            self.scatter(model, &seen.begin[t], &begin[row.clone()]);
            self.scatter(model, &seen.end[t], &end[row]);
        }
    }
}

fn random(state: &mut u64) -> f32 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 40) as f32 / (1u64 << 24) as f32
}

/// A mark with some features left out.
fn thinned(seen: &Seen, mut seed: u64) -> Seen {
    let mut out = seen.clone();
    for list in out
        .inner
        .iter_mut()
        .chain(&mut out.begin)
        .chain(&mut out.end)
        .chain(&mut out.spans)
    {
        list.retain(|f| random(&mut seed) >= if f & 1 == 1 { DROPPED.0 } else { DROPPED.1 });
    }
    out
}

/// First and second moments of one block.
struct Moments(Vec<f32>, Vec<f32>);

impl Moments {
    fn new(n: usize) -> Self {
        Moments(vec![0.0; n], vec![0.0; n])
    }

    fn step(&mut self, w: &mut [f32], g: &[f32], scale: f32, rate: f32, decay: f32, t: i32) {
        let (b1, b2) = (0.9f32, 0.999f32);
        let (c1, c2) = (1.0 - b1.powi(t), 1.0 - b2.powi(t));
        for (((w, g), m), v) in w.iter_mut().zip(g).zip(&mut self.0).zip(&mut self.1) {
            let g = g * scale + decay * *w;
            *m = b1 * *m + (1.0 - b1) * g;
            *v = b2 * *v + (1.0 - b2) * g * g;
            *w -= rate * (*m / c1) / ((*v / c2).sqrt() + 1e-6);
        }
    }
}

/// Fits a model.
pub fn fit(dir: &Path, epochs: usize, decay: f32) -> Result<Model, String> {
    let clock = std::time::Instant::now();
    let mut marks = all(dir)?;
    let mut model = start(&mut marks);
    println!(
        "{} marks, {} features, {:.0} s",
        marks.len(),
        model.rows.len(),
        clock.elapsed().as_secs_f64()
    );
    let mut moments = [
        Moments::new(model.weights.len()),
        Moments::new(model.follows.len()),
        Moments::new(model.first.len()),
        Moments::new(model.entries.len()),
        Moments::new(model.kinds.len()),
    ];
    let mut seed = 1u64;
    let steps = epochs * marks.len().div_ceil(STEP);
    let mut t = 0;
    for epoch in 0..epochs {
        let mut order: Vec<usize> = (0..marks.len()).collect();
        for i in (1..order.len()).rev() {
            order.swap(i, (random(&mut seed) * (i + 1) as f32) as usize % (i + 1));
        }
        let mut loss = 0.0;
        for batch in order.chunks(STEP) {
            t += 1;
            let base = seed.wrapping_add(t as u64 * 7919);
            let g = batch
                .par_chunks(STEP.div_ceil(rayon::current_num_threads()).max(1))
                .map(|part| {
                    let mut g = Gradient::new(&model);
                    for &i in part {
                        let seen = thinned(&marks[i].seen, base.wrapping_mul(i as u64 + 1));
                        g.mark(&model, &marks[i], &seen);
                    }
                    g
                })
                .reduce_with(Gradient::join)
                .ok_or("no marks")?;
            loss += g.loss;
            let rate = RATE * (1.0 - t as f32 / (steps + 1) as f32);
            let scale = 1.0 / batch.len() as f32;
            let go =
                |m: &mut Moments, w: &mut [f32], g: &[f32]| m.step(w, g, scale, rate, decay, t);
            go(&mut moments[0], &mut model.weights, &g.weights);
            go(&mut moments[1], &mut model.follows, &g.pairs.follows);
            go(&mut moments[2], &mut model.first, &g.pairs.first);
            go(&mut moments[3], &mut model.entries, &g.entries);
            go(&mut moments[4], &mut model.kinds, &g.kinds);
        }
        println!(
            "epoch {}: loss {:.3} a mark, {:.0} s",
            epoch + 1,
            loss / marks.len() as f64,
            clock.elapsed().as_secs_f64()
        );
    }
    Ok(slim(model))
}

/// Without the features that hardly weigh.
fn slim(model: Model) -> Model {
    let row = |r: u32| &model.weights[r as usize * LABELS..(r as usize + 1) * LABELS];
    let mut kept: Vec<(u64, u32)> = model
        .rows
        .iter()
        .map(|(f, r)| (*f, *r))
        .filter(|k| row(k.1).iter().any(|w| w.abs() > SLIGHT))
        .collect();
    kept.sort_unstable();
    let weights = kept.iter().flat_map(|k| row(k.1).to_vec()).collect();
    let rows = kept.iter().map(|k| k.0).zip(0..).collect();
    println!("{} features kept", kept.len());
    Model {
        rows,
        weights,
        ..model.clone()
    }
}
