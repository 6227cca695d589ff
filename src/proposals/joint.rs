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
use super::observed::{Observed, Stand};
use super::quality;
use super::table::{Kind, Table};
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
    /// The name stands where letters were seen that can't be read.
    pub unread: f32,
}

impl Default for Absence {
    fn default() -> Self {
        Absence {
            name: 0.015,
            other_name: 0.000001,
            address: 0.18,
            further: 0.6,
            town: 0.6,
            other_address: 0.1,
            other_town: 0.006,
            unread: 0.3,
        }
    }
}

/// ln ratio a letter from which a word of the mark counts as a trade, place or filling.
const FILLS: f32 = 1.2;

/// A word is another name in so far as its mean letter is read surely, to this power.
const CLEAR: i32 = 4;

/// A name may be hidden in a word in so far as its mean letter can't be read, to this power.
const UNREAD: i32 = 3;

/// Letters that a stretch of unknown length counts as there.
const STRETCH: f32 = 5.0;

/// A word of the list that weighs so many times more at a word of the mark beside counts half of what it
/// weighs here. There counts the mean (of the logarithms) of its own weight and that of the word that weighs most
/// there: "artists" in "Artist I." is no word, however little its missing letter costs.
const SPILLS: f32 = 10.0;

/// Strata that together can't come to this share of the best hypothesis aren't estimated.
const NOTHING: f64 = 2e-4;

/// Strata of bounds, each e wide.
const STRATA: usize = 16;

/// Rows that stand for a stratum.
const EACH: usize = 16;

/// A row that may weigh more than this share of the best hypothesis is never left out.
const LEAST: f64 = 0.002;

/// ln ratio from which premises count as named by the mark.
const PREMISES: f32 = 2.0;

/// Sum over all places from which a word of the list counts as found on the mark.
const FOUND: f32 = 1.0;

/// Scores of a list, natural logs.
#[derive(Debug, Clone, Default)]
pub struct Scores {
    /// Row and ln weight among the rows, greatest first; those that can't matter left out.
    pub rows: Vec<(usize, f64)>,
    /// ln of what the rows weigh together beside "unlisted", by their scores without the name: another
    /// firm at listed premises.
    pub premises: f64,
    /// ln of what the rows that weren't worked weigh together among the rows.
    pub rest: f64,
    /// ln of what all rows weigh together beside "unlisted".
    pub together: f64,
}

/// What the names of other lists weigh together up to each column of the mark, whatever the list that is weighed.
///
/// * `share`: chance that a word of a mark on no list is one of theirs.
pub fn named_up_to<'a>(
    others: impl Iterator<Item = &'a Table>,
    text: &Observed,
    splits: &Splits,
    share: f32,
) -> Vec<f32> {
    let mut out = vec![0f32; text.len() + 1];
    for table in others {
        let mut work = Rows::new(text, table.longest);
        work.begin(text, None);
        for (k, word) in table.words.iter().enumerate() {
            let row = work.work(text, splits, word, table.shared[k] as usize);
            if dot(row, &text.end) > FOUND {
                let each = out.iter_mut().zip(row).zip(&text.end);
                each.for_each(|((g, r), e)| *g += share * table.name_share[k] * r * e);
            }
        }
    }
    out
}

/// Works one list against one mark.
pub struct Weighing<'a> {
    table: &'a Table,
    text: &'a Observed,
    splits: &'a Splits,
    fit: &'a Calibration,
    work: Rows,
    /// What words of other lists weigh up to each column, see [`named_up_to`].
    elsewhere: Vec<f32>,
    /// Sum over all places, by word of the list.
    plain: Vec<f32>,
    /// The same against words of marks at large.
    word_bound: Vec<f32>,
    /// The evidence against words of marks at large.
    large: Observed,
    /// ln ratio by form; NaN not worked yet.
    form: Vec<f32>,
    trades: u32,
    /// Chances that a field isn't on this mark.
    absent: Absence,
    /// What scores are multiplied by among the rows.
    among: f64,
    /// What their sum is multiplied by beside "unlisted".
    tempered: f64,
    at: Vec<f32>,
    next: Vec<f32>,
    /// ln of the most that leaving out columns between two words can add to their sum.
    between: f32,
}

impl<'a> Weighing<'a> {
    /// Prepares; works all words of the list once.
    ///
    /// * `elsewhere`: what words of other lists weigh up to each column.
    pub fn new(
        table: &'a Table,
        text: &'a Observed,
        splits: &'a Splits,
        fit: &'a Calibration,
        elsewhere: Vec<f32>,
    ) -> Self {
        let n = text.len();
        let mut w = Weighing {
            table,
            text,
            splits,
            fit,
            work: Rows::new(text, table.longest),
            elsewhere,
            plain: Vec::new(),
            word_bound: Vec::new(),
            large: text.clone(),
            form: vec![f32::NAN; table.forms.len()],
            trades: quality::trades(&text.words),
            absent: fit.absence.clone(),
            among: fit.among,
            tempered: fit.slope_of(table, text.measured) / fit.among,
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
        let name = self.words();
        self.others(name);
        let slots: Vec<f32> = (0..self.table.slots.len() as u32)
            .map(|s| self.slot_bound(s))
            .collect();
        let start = -(self.text.count as f32).ln();
        let forms: Vec<f32> = self
            .table
            .forms
            .iter()
            .map(|f| {
                let words: f32 = f.iter().map(|&s| slots[s as usize]).sum();
                start + words + self.between * (f.len() as f32 - 1.0)
            })
            .collect();
        let bounds = self.bounds(&forms);
        let mut out = Scores::default();
        if self.table.kind == Kind::Firms {
            let start = self.fit.unlisted_bias - self.fit.shared.ln();
            // However many firms of the list had a shop, it is one shop that another may have had
            let most = bounds.iter().zip(&self.table.leads);
            let most: Vec<f32> = most
                .map(|(b, &leads)| if leads { b.1 } else { f32::NEG_INFINITY })
                .collect();
            let (worked, rest) = self.sum(&most, start, all, Self::premises);
            let logs: Vec<f64> = worked.iter().map(|w| w.1).chain([rest]).collect();
            out.premises = self.together(chance::log_sum_exp(&logs));
        } else {
            out.premises = f64::NEG_INFINITY;
        }
        let most: Vec<f32> = bounds.into_iter().map(|b| b.0).collect();
        let start = self.fit.unlisted(out.premises);
        let (rows, rest) = self.sum(&most, start, all, Self::entry);
        let logs: Vec<f64> = rows.iter().map(|w| w.1).chain([rest]).collect();
        out.together = self.together(chance::log_sum_exp(&logs));
        out.rows = rows;
        out.rest = rest;
        out.rows
            .sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        out
    }

    /// ln of the most that each row can weigh, and of the most that its premises can under another
    /// name. `forms`: bounds by form.
    fn bounds(&self, forms: &[f32]) -> Vec<(f32, f32)> {
        // Mixed with their absence once for all rows: as a first and as a further field
        let mixed: Vec<[f32; 2]> = self
            .table
            .fields
            .iter()
            .zip(forms)
            .map(|(field, &x)| match field {
                Field::Name => [mix(self.absent.name, x), 0.0],
                Field::Address => [
                    mix(self.absent.address, x),
                    mix(self.fit.absence.further, x),
                ],
                Field::Town => [mix(self.absent.town, x), 0.0],
            })
            .collect();
        let among = self.among as f32;
        (0..self.table.len())
            .map(|r| {
                let row = self.table.row(r);
                let names = row.names.iter().map(|&f| mixed[f as usize][0]);
                let mut score = names.fold(f32::NEG_INFINITY, f32::max);
                let town = row.town.map_or(0.0, |f| mixed[f as usize][0]);
                let mut place = f32::NEG_INFINITY;
                for (i, &f) in row.parts.iter().enumerate() {
                    score += mixed[f as usize][usize::from(i > 0)];
                    place = place.max(forms[f as usize]);
                }
                score += town + self.trade(row.trades);
                (among * score, among * (place + town))
            })
            .collect()
    }

    /// Works the rows that matter and estimates the others. `most`: ln of what each can weigh at
    /// most; `start`: ln of what stands beside all of them in any case; `weigh` works a row.
    ///
    /// A row that may come to [`LEAST`] of the best is always worked. Of the others, too small to
    /// be told one by one but many, a few of each stratum of their bounds stand for all of it.
    /// Returns the rows worked, those few among them, with their ln weights, and ln of the estimate for the
    /// rest.
    fn sum(
        &mut self,
        most: &[f32],
        start: f64,
        all: bool,
        weigh: fn(&mut Self, usize) -> f64,
    ) -> (Vec<(usize, f64)>, f64) {
        let least = (LEAST.ln() / self.tempered) as f32;
        let mut best = self.as_row(start) as f32;
        let mut floor = if all { f32::MIN } else { best + least };
        let mut order: Vec<u32> = (0..most.len() as u32)
            .filter(|&r| most[r as usize] >= floor)
            .collect();
        order.sort_unstable_by(|&a, &b| {
            let (x, y) = (most[a as usize], most[b as usize]);
            y.total_cmp(&x).then(a.cmp(&b))
        });
        let mut worked = Vec::new();
        for &r in &order {
            if !all && most[r as usize] < best + least {
                floor = best + least;
                break;
            }
            let w = weigh(self, r as usize);
            best = best.max(w as f32);
            worked.push((r as usize, w));
        }
        if all {
            return (worked, f64::NEG_INFINITY);
        }
        let mut strata: Vec<Vec<u32>> = vec![Vec::new(); STRATA];
        for (r, &m) in most.iter().enumerate() {
            let at = (floor - m).max(0.0) as usize;
            if m < floor && at < STRATA {
                strata[at].push(r as u32);
            }
        }
        let mut rest = 0f64;
        for (i, rows) in strata.iter().enumerate() {
            let edge = f64::from(floor - best) - i as f64;
            let together = (rows.len() as f64).ln() + edge;
            if self.tempered * together < NOTHING.ln() {
                continue;
            }
            let asked = rows.len().min(EACH);
            let mut sum = 0f64;
            for k in 0..asked {
                let r = rows[k * rows.len() / asked] as usize;
                let w = weigh(self, r);
                sum += (w - f64::from(best)).exp();
                worked.push((r, w));
            }
            rest += sum * (rows.len() - asked) as f64 / asked as f64;
        }
        (worked, rest.ln() + f64::from(best))
    }

    /// Weights of all words of the list anywhere in the evidence, and what words at large weigh at
    /// each word of the mark. Returns how surely the mark bears a name.
    fn words(&mut self) -> f32 {
        let (names, places) = self.fit.known_words(self.table);
        let count = self.text.count;
        let mut gain = self.elsewhere.clone();
        let mut filled = vec![0f32; count];
        let mut counts = vec![0f32; count];
        // Of the words found: what each weighs up to each column, and by word of the mark; the most of any there
        let (mut by_column, mut by_word) = (Vec::<f32>::new(), Vec::<f32>::new());
        let mut most = vec![0f32; count];
        let owner: Vec<usize> = (0..=self.text.len())
            .map(|j| match j {
                0 => 0,
                _ => self.text.columns[j - 1].word,
            })
            .collect();
        let after: Vec<bool> = (0..count)
            .map(|o| o > 0 && self.text.words.get(o - 1).is_some_and(|w| words::is_and(w)))
            .collect();
        let mut found: Vec<u32> = Vec::new();
        self.work.begin(self.text, None);
        for (k, word) in self.table.words.iter().enumerate() {
            let row = self
                .work
                .work(self.text, self.splits, word, self.table.shared[k] as usize);
            let sum = dot(row, &self.text.end);
            self.plain[k] = sum;
            self.word_bound[k] = sum;
            if sum <= FOUND {
                continue;
            }
            found.push(k as u32);
            by_word.resize(by_word.len() + count, 0.0);
            let here = by_word.len() - count;
            let here = &mut by_word[here..];
            for ((r, e), o) in row.iter().zip(&self.text.end).zip(&owner) {
                by_column.push(r * e);
                here[*o] += r * e;
            }
            for (m, x) in most.iter_mut().zip(&*here) {
                *m = m.max(*x);
            }
            if self.table.fills[k] {
                for (f, x) in filled.iter_mut().zip(&*here) {
                    *f = f.max(*x);
                }
            }
        }
        let each = by_column.chunks_exact(owner.len());
        for ((&k, columns), here) in found.iter().zip(each).zip(by_word.chunks_exact(count)) {
            let k = k as usize;
            let mut share = names * self.table.name_share[k] + places * self.table.place_share[k];
            share += self.fit.common * self.table.common[k];
            let follows = self.table.after_and[k];
            // What this word weighs there; where it is seen at all, what weighs most there counts as well
            let there = |o: usize| match here[o] > 1.0 {
                true => (here[o] * most[o]).sqrt(),
                false => here[o],
            };
            for (o, counts) in counts.iter_mut().enumerate() {
                let share = if after[o] { share.max(follows) } else { share };
                // What a word weighs at the first signs of the next one is its own end misread. No sharp limit:
                // a hair would decide who is named
                let before = o.checked_sub(1).map_or(0.0, there);
                let behind = if o + 1 < count { there(o + 1) } else { 0.0 };
                let beside = before.max(behind);
                let spilt = beside / (SPILLS * here[o].max(f32::MIN_POSITIVE));
                *counts = share / (1.0 + spilt.min(1e6).powi(4));
            }
            for ((g, x), o) in gain.iter_mut().zip(columns).zip(&owner) {
                *g += counts[*o] * x;
            }
        }
        // What the words of a mark at large gain up to each column of a word
        let mut fall = vec![1f32; self.text.len()];
        let mut sum = 1f32;
        for j in 0..self.text.len() {
            if j == 0 || owner[j + 1] != owner[j] {
                sum = 1.0;
            }
            let before = sum;
            sum += gain[j + 1];
            fall[j] = before / sum;
        }
        self.large = self.text.against(&fall);
        self.work.begin(&self.large, None);
        let mut last: &[u8] = &[];
        for &k in &found {
            let word = &self.table.words[k as usize];
            let shared = last
                .iter()
                .zip(word.iter())
                .take_while(|(a, b)| a == b)
                .count();
            let row = self
                .work
                .work(&self.large, self.splits, word, shared.min(word.len() - 1));
            self.word_bound[k as usize] = dot(row, &self.large.end);
            last = word;
        }
        self.names_another(&filled)
    }

    /// How surely the mark bears a name of some kind: words read clearly that are no trade, no
    /// place of the list, no date and no filling, and don't tell of the picture. `filled`: by word of
    /// the mark, the greatest ratio that such a word has there.
    fn names_another(&self, filled: &[f32]) -> f32 {
        let mut none = 1f32;
        let (mut line, mut headed) = (usize::MAX, false);
        for own in self.text.columns.chunk_by(|a, b| a.word == b.word) {
            let (w, word) = (own[0].word, &self.text.words[own[0].word]);
            if own[0].line != line {
                (line, headed) = (own[0].line, words::heads(word));
            }
            let letters = word.iter().filter(|&&i| i < 26).count();
            let fills = filled[w].max(1.0).ln() > FILLS * word.len() as f32;
            let told = fills || headed || words::dates_or_places(word);
            if letters < 3 || letters < word.len() || told {
                continue;
            }
            let (mut sum, mut all) = (0f32, 0f32);
            for c in own {
                sum += c.chance as f32;
                all += match c.stand {
                    Stand::Stretch => STRETCH,
                    _ => 1.0,
                };
            }
            let clear = sum / all;
            none *= 1.0 - clear.clamp(0.0, 1.0).powi(CLEAR);
        }
        1.0 - none
    }

    /// How surely a name may stand in words of which letters were seen but can't be read. Lost letters are
    /// no such words: what may have stood there is weighed letter by letter.
    fn unread(&self) -> f32 {
        let mut none = 1f32;
        for word in self.text.columns.chunk_by(|a, b| a.word == b.word) {
            let (mut sum, mut count) = (0f32, 0f32);
            for c in word.iter().filter(|c| c.stand == Stand::Sign) {
                sum += 1.0 - c.chance as f32;
                count += 1.0;
            }
            if count >= 3.0 {
                none *= 1.0 - (sum / count).clamp(0.0, 1.0).powi(UNREAD);
            }
        }
        1.0 - none
    }

    /// Sum of what the words of a slot weigh, by word.
    fn slot(&self, slot: u32, words: &[f32]) -> f32 {
        let sum: f32 = self
            .table
            .choices(slot)
            .map(|(w, p)| p * words[w as usize])
            .sum();
        self.table.dropped[slot as usize] + sum
    }

    fn slot_bound(&self, slot: u32) -> f32 {
        self.slot(slot, &self.word_bound)
            .max(f32::MIN_POSITIVE)
            .ln()
    }

    /// Chances that a field isn't on the mark: by how surely it bears a name (`name`), some town of
    /// the list, some address at all.
    fn others(&mut self, name: f32) {
        let count = self.table.towns.len().max(1) as f32;
        let mut sum = 0f32;
        for &f in &self.table.towns {
            // The weakest word of a town bounds it
            let slots = self.table.forms[f as usize].iter();
            sum += slots
                .map(|&s| self.slot(s, &self.plain))
                .fold(f32::MAX, f32::min);
        }
        let x = sum / count / self.text.count as f32;
        let town = x / (1.0 + x);
        let street = self
            .table
            .thoroughfares
            .iter()
            .map(|&w| self.plain[w as usize])
            .fold(0f32, f32::max);
        let x = street / 400.0;
        let address = x / (1.0 + x);
        let a = &self.fit.absence;
        let blend = |none: f32, other: f32, sure: f32| none * (1.0 - sure) + other * sure;
        self.absent.address = blend(a.address, a.other_address, address);
        if self.table.kind == Kind::Firms {
            // In proportion, so that "perhaps no name after all" doesn't outweigh a name that is plain
            self.absent.name = a.name.powf(1.0 - name) * a.other_name.powf(name);
            self.absent.town = blend(a.town, a.other_town, town);
        } else {
            // The county of a town, the home of an artist: seldom on the mark
            self.absent.name = a.other_name;
            self.absent.town = blend(0.9, 0.6, town);
        }
        self.absent.name = blend(self.absent.name, a.unread, self.unread());
    }

    /// ln of the form's ratio in this evidence, sum over all places.
    fn form(&mut self, f: u32) -> f32 {
        let known = self.form[f as usize];
        if !known.is_nan() {
            return known;
        }
        let n = self.text.len();
        let slots = &self.table.forms[f as usize];
        let name = self.table.fields[f as usize] == Field::Name;
        let begin = 1.0 / self.text.count as f32;
        let person = name && self.table.habits;
        for j in 0..=n {
            self.at[j] = begin * if name { self.text.name_start[j] } else { 1.0 };
            if person {
                self.at[j] *= self.text.person_start[j];
            }
        }
        let mut scale = 0f32;
        for (i, &s) in slots.iter().enumerate() {
            if i > 0 {
                // A middle initial, a stray sign: up to two columns left out between two words
                for j in (1..=n).rev() {
                    self.at[j] += self.at[j - 1] * self.large.skip[j];
                    if j > 1 {
                        self.at[j] += self.at[j - 2] * self.large.skip2[j];
                    }
                }
            }
            let dropped = self.table.dropped[s as usize];
            for (x, a) in self.next.iter_mut().zip(&self.at) {
                *x = dropped * a;
            }
            for (w, p) in self.table.choices(s) {
                self.work.begin(&self.large, Some(&self.at));
                let row =
                    self.work
                        .work(&self.large, self.splits, &self.table.words[w as usize], 0);
                for ((x, r), e) in self.next.iter_mut().zip(row).zip(&self.large.end) {
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

    /// ln weight of a row.
    fn entry(&mut self, r: usize) -> f64 {
        let table = self.table;
        let row = table.row(r);
        let mut name = f32::NEG_INFINITY;
        for (&f, weight) in row.names.iter().zip(row.weights) {
            name = plus(name, self.form(f) + weight.ln());
        }
        let mut score = mix(self.absent.name, name) + self.trade(row.trades);
        for (i, &f) in row.parts.iter().enumerate() {
            let absent = if i == 0 {
                self.absent.address
            } else {
                self.fit.absence.further
            };
            score += mix(absent, self.form(f));
        }
        if let Some(f) = row.town {
            score += mix(self.absent.town, self.form(f));
        }
        self.weight(score)
    }

    /// ln weight of one of the list's entries with this score, among the others.
    fn weight(&self, score: f32) -> f64 {
        self.among * f64::from(score)
    }

    /// ln of what rows weigh beside "unlisted"; `sum`: ln of the sum of what they weigh among each other.
    fn together(&self, sum: f64) -> f64 {
        self.tempered * sum - self.fit.prior(self.table.len())
    }

    /// The other way round: ln of the weight among each other of rows that weigh this beside "unlisted".
    fn as_row(&self, together: f64) -> f64 {
        (together + self.fit.prior(self.table.len())) / self.tempered
    }

    /// ln weight of a row's premises under another name; they must be on the mark.
    fn premises(&mut self, r: usize) -> f64 {
        let table = self.table;
        let row = table.row(r);
        let parts = row.parts.iter().map(|&f| self.form(f));
        let place = parts.fold(f32::NEG_INFINITY, f32::max);
        let town = row
            .town
            .map_or(0.0, |f| mix(self.absent.town, self.form(f)));
        if place + town > PREMISES {
            self.weight(place + town)
        } else {
            f64::NEG_INFINITY
        }
    }

    /// `listed`: trades of the entry.
    fn trade(&self, listed: u32) -> f32 {
        if listed == 0 || self.trades == 0 {
            0.0
        } else if listed & self.trades != 0 {
            self.fit.trade_agrees
        } else {
            self.fit.trade_differs
        }
    }
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
