//! A mark's lines as columns of evidence: for each position, how much likelier each sign is than
//! in label wording at large.
//!
//! In: lines of characters with chances. Out: [`Observed`]. All weights are likelihood ratios
//! against the background (1 = says nothing), so that a lost letter weighs 1 for every sign.

use super::letters::{self, AMPERSAND, Confusion, SIGNS};
use super::quality;
use crate::readings::Line;

/// Costs of the edit model, as factors on the likelihood ratio.
#[derive(Debug, Clone, PartialEq)]
pub struct Costs {
    /// Chance that a letter read surely is another one all the same, where nothing tells how well the
    /// mark is read.
    pub misread: f32,
    /// The same beyond what their own chances own up to, for letters whose chances were measured on a picture.
    pub measured: f32,
    /// Share of misreadings that are between look-alikes, as far as they weren't counted (see [`letters`]).
    pub alike: f32,
    /// A sign on the mark that isn't in the entry.
    pub added: f32,
    /// A letter of the entry for which nothing stands on the mark.
    pub missing: f32,
    /// As `missing`, beside a loss of known length.
    pub missing_by_loss: f32,
    /// As `missing`, beside lost letters of unknown number.
    pub missing_by_stretch: f32,
    /// As `missing`, at the edge of a line, where paper tears: the first letter that is missing there.
    pub missing_at_edge: f32,
    /// The same for each further letter of the word: what takes one takes its neighbours too.
    pub further_at_edge: f32,
    /// A lost position that holds no letter of the entry.
    pub loss_too_long: f32,
    /// A word that begins or ends where no word begins or ends on the mark.
    pub off_word: f32,
    /// A space on the mark within a word of the entry.
    pub space_within: f32,
    /// One letter read as two, or two as one.
    pub split: f32,
    /// Letters of known words that count as much as `misread` itself where a mark tells how well it
    /// is read.
    pub prior: f32,
    /// A name that begins after other words of its line, none of which leads to a name.
    pub inner: f32,
}

impl Default for Costs {
    fn default() -> Self {
        Costs {
            misread: 0.08,
            measured: 0.02,
            alike: 0.4,
            added: 0.0018,
            missing: 0.038,
            missing_by_loss: 0.05,
            missing_by_stretch: 0.65,
            missing_at_edge: 0.04,
            further_at_edge: 0.5,
            loss_too_long: 0.3,
            off_word: 0.0025,
            space_within: 0.08,
            split: 0.08,
            prior: 8.0,
            inner: 0.02,
        }
    }
}

/// What stands at a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// A sign.
    Sign,
    /// One lost letter.
    Lost,
    /// Lost letters of unknown number.
    Stretch,
}

/// One column of evidence.
#[derive(Debug, Clone)]
pub struct Column {
    /// Sign, loss or stretch.
    pub stand: Stand,
    /// Likeliest sign.
    pub best: u8,
    /// Its chance as read.
    pub chance: f64,
    /// Other signs that were offered.
    pub others: Vec<u8>,
    /// Line of the mark.
    pub line: usize,
    /// Word of the mark, counted over all lines.
    pub word: usize,
}

/// The evidence of a mark, `n` columns; positions lie between columns, 0 to n.
#[derive(Debug, Clone)]
pub struct Observed {
    /// Columns in order.
    pub columns: Vec<Column>,
    /// Ratio of sign c at column j, within a word: `[c * n + j]`.
    pub ratio: Vec<f32>,
    /// The same for the first letter of a word.
    pub first: Vec<f32>,
    /// Ratio of a sign of [`letters::SPLITS`] read as columns j and j+1: `[k * n + j]`.
    pub splits: Vec<f32>,
    /// Ratio of two letters of the entry read as the one sign of column j: `[k * n + j]`.
    pub joins: Vec<f32>,
    /// Weight of a word that begins at position j.
    pub start: Vec<f32>,
    /// Weight of a word that ends at position j.
    pub end: Vec<f32>,
    /// Weight of a missing letter at position j.
    pub missing: Vec<f32>,
    /// Positions at the edges of lines beside which nothing is told as lost, in order.
    pub edges: Vec<usize>,
    /// Weight of each further missing letter at one of these.
    pub further: f32,
    /// Weight of leaving out the column before position j.
    pub skip: Vec<f32>,
    /// Weight of leaving out the two columns before position j.
    pub skip2: Vec<f32>,
    /// Where names may begin: lower after other words of the same line that lead to no name.
    pub name_start: Vec<f32>,
    /// The same beside this for a person's name: lower after somebody's given name or initial on the same line.
    pub person_start: Vec<f32>,
    /// Where names may end: lower before words that carry a firm's style on.
    pub name_end: Vec<f32>,
    /// Words of the mark, folded, losses left out.
    pub words: Vec<Vec<u8>>,
    /// Number of words, at least 1.
    pub count: usize,
    /// Whether all lines have chances measured on a picture.
    pub measured: bool,
}

/// What a person's name weighs right behind another's given name or initial; 0.3 for it was no better and no worse on
/// the labels that the habits of naming persons were chosen on (`persons.rs`).
const AFTER_GIVEN: f32 = 0.03;

/// Longest mark that is weighed, columns; what follows is left out.
const LONGEST: usize = 1200;

impl Observed {
    /// Number of columns.
    pub fn len(&self) -> usize {
        self.columns.len()
    }

    /// Takes up the lines of a mark; `costs`: those of marks at large, see [`quality::costs`].
    pub fn new(lines: &[Line], costs: &Costs, confusion: &Confusion) -> Self {
        let costs = &quality::costs(lines, costs);
        let mut columns: Vec<Column> = Vec::new();
        let mut chances: Vec<[f32; SIGNS]> = Vec::new();
        let mut skips: Vec<f32> = Vec::new();
        let mut word = 0;
        for (l, line) in lines.iter().enumerate() {
            let mut fresh = true;
            for c in &line.characters {
                if columns.len() >= LONGEST {
                    break;
                }
                let signs = letters::fold(&c.text);
                if c.text.is_empty() {
                    let stretch = c.is_stretch();
                    let absent = chance_of(&c.alternatives, "");
                    if fresh {
                        word += usize::from(!columns.is_empty());
                        fresh = false;
                    }
                    columns.push(Column {
                        stand: if stretch { Stand::Stretch } else { Stand::Lost },
                        best: 0,
                        chance: 0.0,
                        others: Vec::new(),
                        line: l,
                        word,
                    });
                    chances.push([1.0; SIGNS]);
                    skips.push(if stretch {
                        0.95
                    } else {
                        costs.loss_too_long.max(absent as f32)
                    });
                    continue;
                }
                if signs.is_empty() {
                    let joins = matches!(c.text.as_str(), "'" | "’" | "‘" | "ʼ");
                    fresh |= !joins;
                    continue;
                }
                let several = signs.len();
                for sign in signs {
                    if fresh || sign == AMPERSAND {
                        word += usize::from(!columns.is_empty());
                    }
                    fresh = sign == AMPERSAND;
                    let (row, others) = ratios(sign, c, several == 1, costs, confusion);
                    skips.push(costs.added.max(chance_of(&c.alternatives, "") as f32));
                    columns.push(Column {
                        stand: Stand::Sign,
                        best: sign,
                        chance: c.confidence,
                        others,
                        line: l,
                        word,
                    });
                    chances.push(row);
                }
            }
        }
        Self::lay(columns, &chances, &skips, costs, quality::measured(lines))
    }

    /// The same with each column weighed by a factor: what else could have written it explains it
    /// that much better. `fall`: a factor for each column, at most 1.
    pub fn against(&self, fall: &[f32]) -> Self {
        let n = self.len();
        let mut out = self.clone();
        for row in [&mut out.ratio, &mut out.first, &mut out.joins] {
            for row in row.chunks_mut(n.max(1)) {
                row.iter_mut().zip(fall).for_each(|(x, f)| *x *= f);
            }
        }
        for row in out.splits.chunks_mut(n.max(1)) {
            for (j, x) in row.iter_mut().enumerate() {
                *x *= fall[j] * fall.get(j + 1).copied().unwrap_or(1.0);
            }
        }
        for j in 1..=n {
            out.skip[j] *= fall[j - 1];
            if j > 1 {
                out.skip2[j] *= fall[j - 1] * fall[j - 2];
            }
        }
        out
    }

    fn lay(
        columns: Vec<Column>,
        chances: &[[f32; SIGNS]],
        skips: &[f32],
        costs: &Costs,
        measured: bool,
    ) -> Self {
        let n = columns.len();
        let parted = |j: usize| j == 0 || j == n || columns[j - 1].word != columns[j].word;
        let loss = |j: usize, s: Stand| {
            (j > 0 && columns[j - 1].stand == s) || (j < n && columns[j].stand == s)
        };
        let lost = |j: usize| loss(j, Stand::Lost) || loss(j, Stand::Stretch);
        let edge = |j: usize| j == 0 || j == n || columns[j - 1].line != columns[j].line;
        let mut ratio = vec![0f32; SIGNS * n];
        let mut first = vec![0f32; SIGNS * n];
        for (j, row) in chances.iter().enumerate() {
            let cross = if j > 0 && parted(j) && !lost(j) {
                costs.space_within
            } else {
                1.0
            };
            for (c, r) in row.iter().enumerate() {
                first[c * n + j] = *r;
                ratio[c * n + j] = *r * cross;
            }
        }
        let at = |c: char, j: usize| letters::index(c).map_or(0.0, |c| chances[j][c as usize]);
        let mut splits = vec![0f32; letters::SPLITS.len() * n];
        let mut joins = vec![0f32; letters::SPLITS.len() * n];
        for (k, &(one, a, b)) in letters::SPLITS.iter().enumerate() {
            for j in 0..n {
                let sign = columns[j].stand == Stand::Sign;
                if sign {
                    joins[k * n + j] = costs.split * at(one, j);
                }
                if sign && j + 1 < n && columns[j + 1].stand == Stand::Sign && !parted(j + 1) {
                    splits[k * n + j] = costs.split * at(a, j) * at(b, j + 1);
                }
            }
        }
        let mut words: Vec<Vec<u8>> = vec![Vec::new(); columns.last().map_or(0, |c| c.word + 1)];
        for c in &columns {
            if c.stand == Stand::Sign {
                words[c.word].push(c.best);
            }
        }
        let boundary: Vec<f32> = (0..=n)
            .map(|j| {
                if parted(j) {
                    1.0
                } else if lost(j) {
                    0.5
                } else {
                    costs.off_word
                }
            })
            .collect();
        let missing = (0..=n)
            .map(|j| {
                if loss(j, Stand::Stretch) {
                    costs.missing_by_stretch
                } else if loss(j, Stand::Lost) {
                    costs.missing_by_loss
                } else if edge(j) {
                    costs.missing_at_edge
                } else {
                    costs.missing
                }
            })
            .collect();
        let edges = (0..=n).filter(|&j| edge(j) && !lost(j)).collect();
        let skip = (0..=n).map(|j| if j == 0 { 0.0 } else { skips[j - 1] });
        let skip2 = (0..=n).map(|j| {
            if j < 2 {
                0.0
            } else {
                skips[j - 1] * skips[j - 2]
            }
        });
        let beside = |inner: bool, word: Option<&Vec<u8>>| match word {
            _ if !inner => 1.0,
            Some(w) if super::words::continues(w) => 0.08,
            Some(w) if super::words::is_trade(w) => 1.0,
            _ => 0.4,
        };
        // Signs of the line before each position, in words that a name doesn't begin after
        let mut before = vec![0usize; n + 1];
        for j in 1..=n {
            let c = &columns[j - 1];
            let same = j > 1 && columns[j - 2].line == c.line;
            let so_far = if same { before[j - 1] } else { 0 };
            let word = &words[c.word];
            let counts = c.stand == Stand::Sign && !super::words::leads(word);
            before[j] = match super::words::introduces(word) {
                true => 0,
                false => so_far + usize::from(counts),
            };
        }
        let name_start = (0..=n)
            .map(|j| {
                if edge(j) {
                    return 1.0;
                }
                if parted(j) && super::words::continues(&words[columns[j - 1].word]) {
                    return 0.08;
                }
                let within = !parted(j) && !lost(j);
                match before[j] {
                    0 => 1.0,
                    1 | 2 => 0.4,
                    // Surnames end alike: the end of a clear word is hardly ever another name
                    _ if within => costs.inner * costs.inner,
                    _ => costs.inner,
                }
            })
            .collect();
        let person_start = (0..=n)
            .map(|j| match j > 0 && !edge(j) && parted(j) {
                true if super::words::begins_a_person(&words[columns[j - 1].word]) => AFTER_GIVEN,
                _ => 1.0,
            })
            .collect();
        let name_end = (0..=n)
            .map(|j| {
                let after = columns.get(j).map(|c| &words[c.word]);
                let goes_on = after.is_some_and(|w| super::words::continues(w));
                beside(j < n && parted(j) && (goes_on || !edge(j)), after)
            })
            .collect();
        Observed {
            ratio,
            first,
            splits,
            joins,
            start: boundary.clone(),
            end: boundary,
            missing,
            edges,
            further: costs.further_at_edge,
            skip: skip.collect(),
            skip2: skip2.collect(),
            name_start,
            person_start,
            name_end,
            count: words.len().max(1),
            words,
            columns,
            measured,
        }
    }
}

fn chance_of(alternatives: &[(String, f64)], sign: &str) -> f64 {
    alternatives
        .iter()
        .filter(|(s, _)| s == sign)
        .map(|(_, p)| *p)
        .sum()
}

/// Ratio of each sign to its share in label wording, and the other signs offered.
///
/// By Bayes' theorem the ratio is the chance of the sign after reading over its share before. A
/// letter read surely is still another one with chance `costs.misread`.
fn ratios(
    sign: u8,
    c: &crate::readings::Character,
    alone: bool,
    costs: &Costs,
    confusion: &Confusion,
) -> ([f32; SIGNS], Vec<u8>) {
    let mut read: Vec<(u8, f32)> = vec![(sign, c.confidence.clamp(0.0, 1.0) as f32)];
    let mut others = Vec::new();
    if alone {
        for (text, p) in &c.alternatives {
            if let [one] = letters::fold(text)[..] {
                if one == sign {
                    read[0].1 += *p as f32;
                } else {
                    read.push((one, *p as f32));
                    others.push(one);
                }
            }
        }
    }
    let total: f32 = read.iter().map(|r| r.1).sum();
    if total > 1.0 {
        read.iter_mut().for_each(|r| r.1 /= total);
    }
    let rest = (1.0 - total).max(0.0);
    let mut row = [0f32; SIGNS];
    for (s, r) in row.iter_mut().enumerate() {
        let mut chance = 0.0;
        for &(a, p) in &read {
            let m = confusion.mistaken[a as usize][s];
            let right = if a as usize == s {
                1.0 - costs.misread
            } else {
                0.0
            };
            chance += p * (right + costs.misread * m);
        }
        // What the reading leaves open is spread as misreadings of the best sign, half of it, and
        // as label wording at large
        let open = 0.5 * confusion.mistaken[sign as usize][s] + 0.5 * confusion.share[s];
        *r = (chance + rest * open) / confusion.share[s].max(0.004);
    }
    (row, others)
}
