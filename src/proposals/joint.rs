//! The whole mark at once: firm, premises and town of an entry over lines in any order, against
//! "on none of your lists".
//!
//! An entry's score is the log of how much likelier the evidence is under it than under label
//! wording at large; each field may be absent from the mark at a price, which rises where the mark
//! plainly names another town or another address. The score of "unlisted" is the same ratio for a
//! mark made of words that are common on such lists but belong to no entry of it: a surname that
//! forty firms share tells little.
//!
//! Every word's weight anywhere in the evidence bounds what it can give to an entry, so that only
//! entries whose bound reaches the cut are worked in full and none is lost.

use super::calibration::Calibration;
use super::edit::{Rows, Splits};
use super::observed::Observed;
use super::table::{Kind, Table, name_weight};
use super::words::{self, Field};

/// Chances that a field isn't on the mark, and how they change.
#[derive(Debug, Clone, PartialEq)]
pub struct Absence {
    /// No name of the firm.
    pub name: f32,
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
            name: 0.0002,
            address: 0.25,
            further: 0.6,
            town: 0.12,
            other_address: 0.15,
            other_town: 0.008,
        }
    }
}

/// Scores of a list, natural logs.
#[derive(Debug, Clone, Default)]
pub struct Scores {
    /// Row and score, greatest first; those below the cut left out.
    pub rows: Vec<(usize, f64)>,
    /// Score of "on none of your lists".
    pub unlisted: f64,
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
    /// Sum over all places, by word.
    word_bound: Vec<f32>,
    /// ln ratio by form; NaN not worked yet.
    form: Vec<f32>,
    trades: u32,
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
            word_bound: Vec::new(),
            form: vec![f32::NAN; table.forms.len()],
            trades: words::trades(&text.words),
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
        w.word_bound = vec![0.0; table.words.len()];
        w
    }

    /// Scores the list. `all`: works every row in full, without bounds and cut (the slow twin).
    pub fn scores(mut self, all: bool) -> Scores {
        let unlisted = self.words();
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
        let mut order: Vec<(f32, u32)> = (0..self.table.rows.len())
            .map(|r| (self.join(r, &mut |f| forms[f as usize]), r as u32))
            .collect();
        let prior = (self.table.rows.len().max(1) as f64).ln();
        let mut best = self.fit.unlisted(unlisted);
        let mut out = Scores {
            unlisted,
            ..Scores::default()
        };
        if !all {
            // Far below the cut already: not worth sorting
            let floor = best - self.fit.cut;
            order.retain(|(b, _)| self.fit.entry(f64::from(*b), prior) >= floor);
        }
        order.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for (bound, r) in order {
            if !all && self.fit.entry(f64::from(bound), prior) < best - self.fit.cut {
                break;
            }
            let score = f64::from(self.row(r as usize));
            best = best.max(self.fit.entry(score, prior));
            out.worked += 1;
            out.rows.push((r as usize, score));
        }
        let floor = best - self.fit.cut;
        if !all {
            out.rows.retain(|(_, s)| self.fit.entry(*s, prior) >= floor);
        }
        out.rows
            .sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        out
    }

    /// Bounds of all words, and the score of "unlisted" that follows from them.
    fn words(&mut self) -> f64 {
        let mut by_word = vec![0f64; self.text.count];
        let owner: Vec<usize> = (0..=self.text.len())
            .map(|j| match j {
                0 => 0,
                _ => self.text.columns[j - 1].word,
            })
            .collect();
        self.work.begin(self.text, None);
        for (k, word) in self.table.words.iter().enumerate() {
            let row = self
                .work
                .work(self.text, self.splits, word, self.table.shared[k] as usize);
            let sum = dot(row, &self.text.end);
            self.word_bound[k] = sum;
            let share = self.table.share[k];
            if share > 0.0 && sum > 1.0 {
                for (j, o) in owner.iter().enumerate() {
                    by_word[*o] += f64::from(share * row[j] * self.text.end[j]);
                }
            }
        }
        let known = f64::from(self.fit.known_words(self.table));
        by_word.iter().map(|x| (1.0 - known + known * x).ln()).sum()
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
        for i in 0..self.table.towns.len() {
            let f = self.table.towns[i];
            // A town whose first word is nowhere can't be it
            let slot = self.table.forms[f as usize].slots[0];
            if self.slot_bound(&self.table.slots[slot as usize]) > 3.0 {
                sum += self.form(f).exp();
            }
        }
        let x = sum / count;
        self.other_town = x / (1.0 + x);
        let street = self
            .table
            .thoroughfares
            .iter()
            .map(|&w| self.word_bound[w as usize])
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
                for ((x, r), e) in self.next.iter_mut().zip(row).zip(&self.text.end) {
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

    /// Joins the forms of a row into its score; `ln` gives each form's ratio or a bound of it.
    fn join(&self, r: usize, ln: &mut dyn FnMut(u32) -> f32) -> f32 {
        let row = &self.table.rows[r];
        let a = &self.fit.absence;
        let mix = |absent: f32, ln: f32| {
            // ln(absent + (1 - absent) e^ln) without overflow
            let present = (1.0 - absent).ln() + ln;
            let absent = absent.ln();
            let top = present.max(absent);
            top + ((present - top).exp() + (absent - top).exp()).ln()
        };
        let count = row.names.len();
        let mut name = f32::NEG_INFINITY;
        for (i, &f) in row.names.iter().enumerate() {
            let x = ln(f) + name_weight(i, count).ln();
            let top = name.max(x);
            name = top + ((name - top).exp() + (x - top).exp()).ln();
        }
        let mut score = mix(a.name, name);
        for (i, &f) in row.parts.iter().enumerate() {
            let absent = if i == 0 {
                a.address * (1.0 - self.other_address) + a.other_address * self.other_address
            } else {
                a.further
            };
            score += mix(absent, ln(f));
        }
        if let Some(f) = row.town {
            // The county of a town, the home of an artist: seldom on the mark
            let absent = if self.table.kind != Kind::Firms {
                0.9 * (1.0 - self.other_town) + 0.6 * self.other_town
            } else {
                a.town * (1.0 - self.other_town) + a.other_town * self.other_town
            };
            score += mix(absent, ln(f));
        }
        if row.trades != 0 && self.trades != 0 {
            score += if row.trades & self.trades != 0 {
                self.fit.trade_agrees
            } else {
                self.fit.trade_differs
            };
        }
        score
    }

    fn row(&mut self, r: usize) -> f32 {
        let row = &self.table.rows[r];
        let forms = row.names.iter().chain(&row.parts).chain(&row.town);
        for &f in forms.collect::<Vec<_>>() {
            self.form(f);
        }
        self.join(r, &mut |f| self.form[f as usize])
    }
}

fn dot(a: &[f32], b: &[f32]) -> f32 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
