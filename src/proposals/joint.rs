//! The whole mark at once: firm, premises and town of an entry over lines in any order, against
//! "on none of your lists".
//!
//! Every hypothesis takes the words that it doesn't account for as words of marks at large: each
//! is a word of the list's names or places now and then, else letters as they come. An entry's
//! score is the log of how much likelier its words are where they stand than that, so that a word
//! that forty firms share tells little, and a town named twice speaks for nobody. Each field may be
//! absent from the mark at a price, which rises where the mark plainly bears another name, town or
//! address. "Unlisted" is such words and nothing else (score 0), or another firm at premises that
//! are listed: one firm followed the other into a shop, so street and town alone name nobody.
//!
//! Every word's weight anywhere in the evidence bounds what it can give to an entry, so that only
//! entries whose bound reaches the cut are worked in full and none is lost.

use super::calibration::Calibration;
use super::edit::{Rows, Splits};
use super::observed::Observed;
use super::table::{Kind, Table, name_weight};
use super::words::{self, Field};
use crate::chance;

/// Chances that a field isn't on the mark, and how they change.
#[derive(Debug, Clone, PartialEq)]
pub struct Absence {
    /// No name of the firm, where no other is plain.
    pub name: f32,
    /// Another name than the listed one.
    pub other_name: f32,
    /// No address, where no other is plain.
    pub address: f32,
    /// No further part of the address.
    pub further: f32,
    /// No town, where no other is plain.
    pub town: f32,
    /// Another address than the listed one.
    pub other_address: f32,
    /// Another town than the listed one.
    pub other_town: f32,
}

impl Default for Absence {
    fn default() -> Self {
        Absence {
            name: 0.033,
            other_name: 0.00012,
            address: 0.57,
            further: 0.6,
            town: 0.48,
            other_address: 0.15,
            other_town: 0.008,
        }
    }
}

/// ln ratio a letter from which a word of the mark counts as a trade, place or filling.
const FILLS: f32 = 1.2;

/// A word is another name in so far as its mean letter is read surely, to this power.
const CLEAR: i32 = 4;

/// What rows left out leave open is together at most this share of the best hypothesis.
const NOTHING: f64 = 0.003;

/// A row that may weigh more than this share of the best hypothesis is never left out.
const LEAST: f64 = 0.002;

/// ln ratio from which premises count as named by the mark.
const PREMISES: f32 = 2.0;

/// Sum over all places from which a word of the list counts as found on the mark.
const FOUND: f32 = 1.0;

/// Scores of a list, natural logs.
#[derive(Debug, Clone, Default)]
pub struct Scores {
    /// Row and score, greatest first; those below the cut left out.
    pub rows: Vec<(usize, f64)>,
    /// ln of the sum, over the rows, of their slope-scaled scores without the name: another firm
    /// at listed premises.
    pub premises: f64,
    /// ln of what the rows that weren't worked weigh together.
    pub rest: f64,
    /// Rows worked in full.
    pub worked: usize,
}

/// Works one list against one mark.
pub struct Weighing<'a> {
    table: &'a Table,
    text: &'a Observed,
    splits: &'a Splits,
    fit: &'a Calibration,
    work: Rows,
    /// Sum over all places, by word of the list.
    plain: Vec<f32>,
    /// The same against words of marks at large.
    word_bound: Vec<f32>,
    /// Weight of a word that ends at a position, against words of marks at large.
    end: Vec<f32>,
    /// ln ratio by form; NaN not worked yet.
    form: Vec<f32>,
    trades: u32,
    other_name: f32,
    other_town: f32,
    other_address: f32,
    at: Vec<f32>,
    next: Vec<f32>,
    /// ln of the most that leaving out columns between two words can add to their sum.
    between: f32,
}

impl<'a> Weighing<'a> {
    /// Prepares; works all words of the list once.
    pub fn new(
        table: &'a Table,
        text: &'a Observed,
        splits: &'a Splits,
        fit: &'a Calibration,
    ) -> Self {
        let n = text.len();
        let mut w = Weighing {
            table,
            text,
            splits,
            fit,
            work: Rows::new(n, table.longest),
            plain: Vec::new(),
            word_bound: Vec::new(),
            end: text.end.clone(),
            form: vec![f32::NAN; table.forms.len()],
            trades: words::trades(&text.words),
            other_name: 0.0,
            other_town: 0.0,
            other_address: 0.0,
            at: vec![0.0; n + 1],
            next: vec![0.0; n + 1],
            between: (0..=n)
                .map(|j| {
                    let one = text.skip.get(j + 1).copied().unwrap_or(0.0);
                    let two = text.skip2.get(j + 2).copied().unwrap_or(0.0);
                    1.0 + one + two
                })
                .fold(1f32, f32::max)
                .ln(),
        };
        w.plain = vec![0.0; table.words.len()];
        w.word_bound = vec![0.0; table.words.len()];
        w
    }

    /// Scores the list. `all`: works every row in full, without bounds and cut (the slow twin).
    pub fn scores(mut self, all: bool) -> Scores {
        self.words();
        self.others();
        let slots: Vec<f32> = self
            .table
            .slots
            .iter()
            .map(|s| self.slot_bound(s))
            .collect();
        let start = -(self.text.count as f32).ln();
        let forms: Vec<f32> = self
            .table
            .forms
            .iter()
            .map(|f| {
                let words: f32 = f.slots.iter().map(|&s| slots[s as usize]).sum();
                start + words + self.between * (f.slots.len() as f32 - 1.0)
            })
            .collect();
        let prior = (self.table.rows.len().max(1) as f64).ln();
        let mut out = Scores {
            premises: self.premises(all, &forms),
            ..Scores::default()
        };
        let mut best = self.fit.unlisted(out.premises);
        let weight = |score: f32| self.fit.entry(f64::from(score), prior);
        let bounds: Vec<(f32, f32)> = (0..self.table.rows.len())
            .map(|r| {
                let most = self.join(r, &mut |f| forms[f as usize]).0;
                let least = self.join(r, &mut |_| f32::NEG_INFINITY).0;
                (weight(least) as f32, weight(most) as f32)
            })
            .collect();
        let order = worth(&bounds, best, all);
        let mut gap: f64 = order.iter().map(|&r| between(bounds[r as usize])).sum();
        let mut worked = vec![false; bounds.len()];
        for r in order {
            let (_, most) = bounds[r as usize];
            if !all && gap <= NOTHING * best.exp() && f64::from(most) < best + LEAST.ln() {
                break;
            }
            gap -= between(bounds[r as usize]);
            let score = f64::from(self.row(r as usize).0);
            best = best.max(self.fit.entry(score, prior));
            out.worked += 1;
            out.rows.push((r as usize, score));
            worked[r as usize] = true;
        }
        let rest = bounds.iter().zip(&worked).filter(|(_, w)| !**w);
        let rest: f64 = rest.map(|(b, _)| f64::from(b.0).exp()).sum();
        out.rest = rest.ln();
        out.rows
            .sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        out
    }

    /// ln of the sum, over the rows, of their scaled scores if their address is on the mark and
    /// their name isn't. `forms`: bounds by form.
    fn premises(&mut self, all: bool, forms: &[f32]) -> f64 {
        if self.table.kind != Kind::Firms {
            return f64::NEG_INFINITY;
        }
        let prior = (self.table.rows.len().max(1) as f64).ln();
        let order: Vec<u32> = (0..self.table.rows.len())
            .filter(|&r| all || self.join(r, &mut |f| forms[f as usize]).1 > PREMISES)
            .map(|r| r as u32)
            .collect();
        let mut logs = Vec::with_capacity(order.len());
        for &r in &order {
            let row = &self.table.rows[r as usize];
            for f in row
                .parts
                .iter()
                .chain(&row.town)
                .copied()
                .collect::<Vec<_>>()
            {
                self.form(f);
            }
            let x = self.join(r as usize, &mut |f| self.form[f as usize]).1;
            if x > PREMISES {
                logs.push(self.fit.slope * f64::from(x) - prior);
            }
        }
        chance::log_sum_exp(&logs)
    }

    /// Weights of all words of the list anywhere in the evidence, and what words at large weigh at
    /// each word of the mark.
    fn words(&mut self) {
        let (names, places) = self.fit.known_words(self.table);
        let count = self.text.count;
        let common =
            self.fit.common / self.table.common.iter().filter(|c| **c).count().max(1) as f32;
        let mut gain = vec![(1.0 - names - places - self.fit.common).max(0.05); count];
        let mut filled = vec![0f32; count];
        let owner: Vec<usize> = (0..=self.text.len())
            .map(|j| match j {
                0 => 0,
                _ => self.text.columns[j - 1].word,
            })
            .collect();
        let mut found: Vec<u32> = Vec::new();
        let mut by_word: Vec<f32> = Vec::new();
        self.work.begin(self.text, None);
        for (k, word) in self.table.words.iter().enumerate() {
            let row = self
                .work
                .work(self.text, self.splits, word, self.table.shared[k] as usize);
            let sum = dot(row, &self.text.end);
            self.plain[k] = sum;
            if sum <= FOUND {
                continue;
            }
            found.push(k as u32);
            let from = by_word.len();
            by_word.resize(from + count, 0.0);
            for (j, o) in owner.iter().enumerate() {
                by_word[from + o] += row[j] * self.text.end[j];
            }
            let mut share = names * self.table.name_share[k] + places * self.table.place_share[k];
            if self.table.common[k] {
                share += common;
            }
            for (o, x) in by_word[from..].iter().enumerate() {
                gain[o] += share * x;
                if self.table.fills[k] {
                    filled[o] = filled[o].max(*x);
                }
            }
        }
        let least = gain.iter().copied().fold(f32::MAX, f32::min);
        for (b, x) in self.word_bound.iter_mut().zip(&self.plain) {
            *b = x / least;
        }
        for (i, k) in found.iter().enumerate() {
            let here = &by_word[i * count..(i + 1) * count];
            self.word_bound[*k as usize] = here.iter().zip(&gain).map(|(x, g)| x / g).sum();
        }
        for (j, o) in owner.iter().enumerate() {
            self.end[j] = self.text.end[j] / gain[*o];
        }
        self.other_name = self.names_another(&filled);
    }

    /// How surely the mark bears a name of some kind: words read clearly that are no trade, no
    /// place of the list and no filling. `filled`: by word of the mark, the greatest ratio that
    /// such a word has there.
    fn names_another(&self, filled: &[f32]) -> f32 {
        let mut none = 1f32;
        for (w, word) in self.text.words.iter().enumerate() {
            let letters = word.iter().filter(|&&i| i < 26).count();
            let fills = filled[w].max(1.0).ln() > FILLS * word.len() as f32;
            if letters < 3 || letters < word.len() || fills {
                continue;
            }
            let chances = self.text.columns.iter().filter(|c| c.word == w);
            let clear: f32 = chances.map(|c| c.chance as f32).sum::<f32>() / word.len() as f32;
            none *= 1.0 - clear.clamp(0.0, 1.0).powi(CLEAR);
        }
        1.0 - none
    }

    fn slot_bound(&self, slot: &super::table::Slot) -> f32 {
        let sum: f32 = slot
            .words
            .iter()
            .map(|&(w, p)| p * self.word_bound[w as usize])
            .sum();
        (slot.dropped + sum).max(f32::MIN_POSITIVE).ln()
    }

    /// How surely the mark names some town of the list, and some address at all.
    fn others(&mut self) {
        let count = self.table.towns.len().max(1) as f32;
        let mut sum = 0f32;
        for &f in &self.table.towns {
            // The weakest word of a town bounds it
            let slots = &self.table.forms[f as usize].slots;
            let words = slots.iter().map(|&s| &self.table.slots[s as usize]);
            sum += words
                .map(|s| {
                    s.dropped
                        + s.words
                            .iter()
                            .map(|&(w, p)| p * self.plain[w as usize])
                            .sum::<f32>()
                })
                .fold(f32::MAX, f32::min);
        }
        let x = sum / count / self.text.count as f32;
        self.other_town = x / (1.0 + x);
        let street = self
            .table
            .thoroughfares
            .iter()
            .map(|&w| self.plain[w as usize])
            .fold(0f32, f32::max);
        let x = street / 400.0;
        self.other_address = x / (1.0 + x);
    }

    /// ln of the form's ratio in this evidence, sum over all places.
    fn form(&mut self, f: u32) -> f32 {
        let known = self.form[f as usize];
        if !known.is_nan() {
            return known;
        }
        let n = self.text.len();
        let form = &self.table.forms[f as usize];
        let name = form.field == Field::Name;
        let begin = 1.0 / self.text.count as f32;
        for j in 0..=n {
            self.at[j] = begin * if name { self.text.name_start[j] } else { 1.0 };
        }
        let mut scale = 0f32;
        for (i, &s) in form.slots.iter().enumerate() {
            if i > 0 {
                // A middle initial, a stray sign: up to two columns left out between two words
                for j in (1..=n).rev() {
                    self.at[j] += self.at[j - 1] * self.text.skip[j];
                    if j > 1 {
                        self.at[j] += self.at[j - 2] * self.text.skip2[j];
                    }
                }
            }
            let slot = &self.table.slots[s as usize];
            for (x, a) in self.next.iter_mut().zip(&self.at) {
                *x = slot.dropped * a;
            }
            for &(w, p) in &slot.words {
                self.work.begin(self.text, Some(&self.at));
                let row = self
                    .work
                    .work(self.text, self.splits, &self.table.words[w as usize], 0);
                for ((x, r), e) in self.next.iter_mut().zip(row).zip(&self.end) {
                    *x += p * r * e;
                }
            }
            let top = self.next.iter().copied().fold(f32::MIN_POSITIVE, f32::max);
            scale += top.ln();
            for (a, x) in self.at.iter_mut().zip(&self.next) {
                *a = x / top;
            }
        }
        let sum = if name {
            dot(&self.at, &self.text.name_end)
        } else {
            self.at.iter().sum()
        };
        let ln = scale + sum.max(f32::MIN_POSITIVE).ln();
        self.form[f as usize] = ln;
        ln
    }

    /// Joins the forms of a row: its score, and that of its premises under another name. `ln`
    /// gives each form's ratio or a bound of it.
    fn join(&self, r: usize, ln: &mut dyn FnMut(u32) -> f32) -> (f32, f32) {
        let row = &self.table.rows[r];
        let a = &self.fit.absence;
        let count = row.names.len();
        let mut name = f32::NEG_INFINITY;
        for (i, &f) in row.names.iter().enumerate() {
            name = plus(name, ln(f) + name_weight(i, count).ln());
        }
        let absent = if self.table.kind == Kind::Firms {
            a.name * (1.0 - self.other_name) + a.other_name * self.other_name
        } else {
            a.other_name
        };
        let mut score = mix(absent, name);
        let mut premises = f32::NEG_INFINITY;
        for (i, &f) in row.parts.iter().enumerate() {
            let x = ln(f);
            let absent = if i == 0 {
                a.address * (1.0 - self.other_address) + a.other_address * self.other_address
            } else {
                a.further
            };
            score += mix(absent, x);
            premises = premises.max(x);
        }
        if let Some(f) = row.town {
            // The county of a town, the home of an artist: seldom on the mark
            let absent = if self.table.kind != Kind::Firms {
                0.9 * (1.0 - self.other_town) + 0.6 * self.other_town
            } else {
                a.town * (1.0 - self.other_town) + a.other_town * self.other_town
            };
            let town = mix(absent, ln(f));
            score += town;
            premises += town;
        }
        if row.trades != 0 && self.trades != 0 {
            score += if row.trades & self.trades != 0 {
                self.fit.trade_agrees
            } else {
                self.fit.trade_differs
            };
        }
        (score, premises)
    }

    fn row(&mut self, r: usize) -> (f32, f32) {
        let row = &self.table.rows[r];
        let forms = row.names.iter().chain(&row.parts).chain(&row.town);
        for &f in forms.collect::<Vec<_>>() {
            self.form(f);
        }
        self.join(r, &mut |f| self.form[f as usize])
    }
}

/// How far a row's weight is left open by its bounds (ln of the least and the most).
fn between((least, most): (f32, f32)) -> f64 {
    (f64::from(most).exp() - f64::from(least).exp()).max(0.0)
}

/// Rows that are worth working, the greatest bound first: what the others leave open is next to
/// nothing beside `best`, the ln of what some hypothesis weighs in any case. `bounds`: see
/// [`between`].
fn worth(bounds: &[(f32, f32)], best: f64, all: bool) -> Vec<u32> {
    const WIDTH: f64 = 0.25;
    const BINS: usize = 160;
    let mut floor = f64::NEG_INFINITY;
    if !all {
        // Bins by the most, from 40 below the best to the best
        let low = best - WIDTH * BINS as f64;
        let mut open = vec![0f64; BINS + 1];
        for b in bounds {
            let at = ((f64::from(b.1) - low) / WIDTH).ceil();
            open[at.clamp(0.0, BINS as f64) as usize] += between(*b);
        }
        let mut sum = 0.0;
        for (i, o) in open.iter().enumerate() {
            let edge = low + WIDTH * i as f64;
            sum += o;
            if sum > NOTHING * best.exp() || edge > best + LEAST.ln() {
                break;
            }
            floor = edge;
        }
    }
    let mut order: Vec<u32> = (0..bounds.len() as u32)
        .filter(|&r| f64::from(bounds[r as usize].1) > floor)
        .collect();
    order.sort_unstable_by(|&a, &b| {
        let (x, y) = (bounds[a as usize].1, bounds[b as usize].1);
        y.total_cmp(&x).then(a.cmp(&b))
    });
    order
}

/// ln(e^a + e^b) without overflow.
fn plus(a: f32, b: f32) -> f32 {
    let top = a.max(b);
    if top == f32::NEG_INFINITY {
        return top;
    }
    top + ((a - top).exp() + (b - top).exp()).ln()
}

/// ln(absent + (1 - absent) e^ln): a field that may be absent.
fn mix(absent: f32, ln: f32) -> f32 {
    plus(absent.ln(), (1.0 - absent).ln() + ln)
}

fn dot(a: &[f32], b: &[f32]) -> f32 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
