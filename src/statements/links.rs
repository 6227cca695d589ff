//! Entries that a stretch of a mark's words may name, each with what speaks for and against it.

use super::beside;
use super::letters;
use super::lexicon::{self, Class};
use super::lists::{KINDS, Kind, Lists};
use super::near::Hit;
use super::{Mark, words::Word};
use std::collections::{HashMap, HashSet};

/// Number of features of a [`Candidate`].
pub const FEATURES: usize = 30;

/// An entry that may be named by a stretch of words.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// Number of the row ([`Lists::rows`]).
    pub row: u32,
    /// What the row is.
    pub kind: Kind,
    /// What speaks for and against it; the weights are by kind.
    pub features: [f32; FEATURES],
}

impl Candidate {
    /// Whether a name of it stands there in full, letter for letter, and nothing else.
    pub fn whole(&self) -> bool {
        self.features[12] == 1.0
    }
}

/// Longest stretch that names an entry, words.
pub const LONGEST: usize = 9;
/// Most forms of names worked for a mark, and most entries kept for a stretch: bounds on work; the likeliest stay.
const FORMS: usize = 240;
const ROWS: usize = 16;
/// A word that more forms hold than this finds none by itself.
const COMMON: usize = 3000;

/// Least that the pairs of a form tell, nats: the name of a candidate stands in less than a fifth of what may be there.
const LEAST_TOLD: f32 = 1.5;

/// What the pairs of words of a form tell: together, of how much, and the dearest.
#[derive(Default)]
struct Told {
    told: f32,
    whole: f32,
    worst: f32,
}

/// What the words of a form that the mark bears are worth, and the mark's words.
struct Met(f32, Vec<usize>);

impl Met {
    fn meet(&mut self, weight: f32, t: usize) {
        if !self.1.contains(&t) {
            self.0 += weight.max(0.0);
        }
        self.1.push(t);
    }
}

/// What the words of a mark may be on the lists, worked once.
pub struct Links<'a> {
    pub(super) lists: &'a Lists,
    words: &'a [Word],
    hits: Vec<Vec<Hit>>,
    /// Best hit of each word of the lists: cost, and the mark's word.
    pub(super) found: HashMap<u32, (f32, usize)>,
    pub(super) years: Vec<i32>,
    pub(super) trades: u64,
    pub(super) streets: bool,
    idle: Vec<bool>,
    /// Forms that may be named, with the words of the mark that hit them.
    forms: Vec<(u32, Vec<usize>)>,
    /// Words of towns that stand on the mark in full.
    pub(super) places: Vec<u32>,
    pub(super) evidence: HashMap<u32, [f32; 10]>,
}

fn idle(word: &Word) -> bool {
    let signs: Vec<u8> = word.letters.iter().map(|l| l.sign).collect();
    let idle = Class::Courtesy.bit() | Class::Firm.bit() | Class::Article.bit();
    lexicon::exact(&signs) & idle != 0
}

fn idle_listed(word: &[u8]) -> bool {
    lexicon::exact(word) & (Class::Courtesy.bit() | Class::Firm.bit() | Class::Article.bit()) != 0
}

impl<'a> Links<'a> {
    /// Looks the words of a mark up.
    pub fn new(mark: &'a Mark, lists: &'a Lists) -> Self {
        let words = &mark.words[..];
        let hits: Vec<Vec<Hit>> = words.iter().map(|w| lists.hits(w)).collect();
        let mut found: HashMap<u32, (f32, usize)> = HashMap::new();
        for (t, h) in hits
            .iter()
            .enumerate()
            .flat_map(|(t, hs)| hs.iter().map(move |h| (t, h)))
        {
            let best = found.entry(h.word).or_insert((f32::INFINITY, t));
            if h.pair.cost < best.0 {
                *best = (h.pair.cost, t);
            }
        }
        let classes: Vec<u64> = mark.known.iter().map(|k| k.classes).collect();
        let kinds = Class::TradeMaker.bit()
            | Class::TradeSeller.bit()
            | Class::TradeSale.bit()
            | Class::TradeShow.bit();
        let mut out = Links {
            lists,
            words,
            found,
            years: words.iter().filter_map(beside::year).collect(),
            trades: classes.iter().fold(0, |a, c| a | c) & kinds,
            streets: classes.iter().any(|c| c & Class::Street.bit() != 0),
            idle: words.iter().map(idle).collect(),
            forms: Vec::new(),
            places: Vec::new(),
            evidence: HashMap::new(),
            hits,
        };
        out.forms = out.forms_found();
        out.places = out.places_found();
        out
    }

    /// Forms of names that share telling words with the mark, likeliest first.
    fn forms_found(&self) -> Vec<(u32, Vec<usize>)> {
        let mut asked: Vec<(usize, usize, &Hit)> = Vec::new();
        for (t, hits) in self.hits.iter().enumerate() {
            asked.extend(
                hits.iter()
                    .map(|h| (self.lists.holding.get(h.word as usize).len(), t, h)),
            );
        }
        asked.retain(|a| a.0 > 0);
        asked.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut scores: HashMap<u32, Met> = HashMap::new();
        for (count, t, h) in asked {
            let weight = self.lists.rare[h.word as usize] - h.pair.cost;
            let open = count <= COMMON;
            let holding = self.lists.holding.get(h.word as usize);
            if !open && holding.len() > scores.len() {
                let holds = |f: &u32| self.lists.forms.get(*f as usize).contains(&h.word);
                for (_, s) in scores.iter_mut().filter(|s| holds(s.0)) {
                    s.meet(weight, t);
                }
                continue;
            }
            for &f in holding {
                match scores.get_mut(&f) {
                    Some(s) => s.meet(weight, t),
                    None if open && weight > 0.0 => {
                        scores.insert(f, Met(weight, vec![t]));
                    }
                    None => {}
                }
            }
        }
        let mut all: Vec<(f32, u32, Vec<usize>)> = scores
            .into_iter()
            .map(|(f, Met(s, mut t))| {
                t.sort_unstable();
                t.dedup();
                // What of the form isn't found speaks against it
                let whole: f32 = self
                    .lists
                    .forms
                    .get(f as usize)
                    .iter()
                    .map(|w| self.lists.rare[*w as usize])
                    .sum();
                (s - 0.5 * (whole - s).max(0.0), f, t)
            })
            .collect();
        all.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        all.truncate(FORMS);
        all.into_iter().map(|(_, f, t)| (f, t)).collect()
    }

    /// First words of places that stand on the mark letter for letter.
    fn places_found(&self) -> Vec<u32> {
        let exact = |w: &u32| self.found.get(w).is_some_and(|f| f.0 == 0.0);
        let place = |f: u32| {
            self.lists
                .bearers
                .get(f as usize)
                .iter()
                .any(|r| self.lists.rows[*r as usize].kind == Kind::Place)
        };
        let whole = self
            .forms
            .iter()
            .filter(|(f, _)| self.lists.forms.get(*f as usize).iter().all(exact) && place(*f));
        whole
            .map(|(f, _)| self.lists.forms.get(*f as usize)[0])
            .collect()
    }

    /// Kinds of lists with a name that this word of the mark stands in, exactly (first) or nearly.
    pub fn kinds(&self, t: usize) -> (u8, u8) {
        let (mut exact, mut near) = (0u8, 0u8);
        for (f, at) in &self.forms {
            if !at.contains(&t) {
                continue;
            }
            let form = self.lists.forms.get(*f as usize);
            let best = self.hits[t]
                .iter()
                .filter(|h| form.contains(&h.word))
                .map(|h| h.pair.cost)
                .fold(f32::INFINITY, f32::min);
            for r in self.lists.bearers.get(*f as usize).iter().take(8) {
                let bit = 1 << self.lists.rows[*r as usize].kind as u8;
                if best == 0.0 {
                    exact |= bit
                } else {
                    near |= bit
                }
            }
        }
        (exact, near)
    }

    /// Whether this word stands in an address on the lists.
    pub fn in_address(&self, t: usize) -> bool {
        self.hits[t]
            .iter()
            .any(|h| h.pair.cost == 0.0 && self.lists.in_names[h.word as usize] == 0)
    }

    /// The entries that the words `from..to` may name.
    pub fn candidates(&mut self, from: usize, to: usize) -> Vec<Candidate> {
        let mut found: Vec<(f32, u32, [f32; FEATURES])> = Vec::new();
        if to - from > LONGEST {
            return Vec::new();
        }
        for (f, at) in &self.forms {
            let within = at
                .iter()
                .filter(|t| (from..to).contains(*t) && !self.idle[**t])
                .count();
            let length = self.lists.forms.get(*f as usize).len();
            if within == 0 || to - from > length + 3 {
                continue;
            }
            if let Some((score, features)) = self.agree(*f, from, to) {
                found.push((score, *f, features));
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut out: Vec<(f32, Candidate)> = Vec::new();
        let mut taken: HashSet<u32> = HashSet::new();
        for (score, f, features) in found.into_iter().take(ROWS) {
            let bearers = self.lists.bearers.get(f as usize);
            for &row in bearers.iter().take(200) {
                if !taken.insert(row) {
                    continue;
                }
                let mut features = features;
                let kind = self.lists.rows[row as usize].kind;
                let beside = self.evidence(row);
                features[14..24].copy_from_slice(&beside);
                features[24] = (self.lists.counts[kind as usize] as f32).ln() / 10.0;
                features[25] = (bearers.len() as f32).ln() / 5.0;
                let order =
                    score + 4.0 * (beside[0] + beside[3] - beside[1] - beside[5]) + beside[6]
                        - beside[7];
                out.push((
                    order,
                    Candidate {
                        row,
                        kind,
                        features,
                    },
                ));
            }
        }
        out.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.row.cmp(&b.1.row)));
        let mut kept = [0usize; KINDS];
        out.retain(|c| {
            kept[c.1.kind as usize] += 1;
            kept[c.1.kind as usize] <= ROWS
        });
        out.into_iter().map(|c| c.1).collect()
    }

    /// The least loss at which the words of a form and of the mark pair in order, and by which step each is reached:
    /// 1 a word of the mark left over, 2 one of the form, 3 a pair.
    fn aligned(&self, form: &[u32], from: usize, to: usize) -> Vec<Vec<(f32, u8)>> {
        let (n, m) = (to - from, form.len());
        let lone_form = |k: usize| match idle_listed(&self.lists.vocabulary[form[k] as usize]) {
            true => 0.5,
            false => 2.0 + 0.5 * self.lists.rare[form[k] as usize],
        };
        let lone_mark = |t: usize| if self.idle[t] { 0.5 } else { 6.0 };
        let mut best = vec![vec![(f32::INFINITY, 0u8); m + 1]; n + 1];
        best[0][0] = (0.0, 0);
        for i in 0..=n {
            for k in 0..=m {
                let here = best[i][k].0;
                if here == f32::INFINITY {
                    continue;
                }
                if i < n && here + lone_mark(from + i) < best[i + 1][k].0 {
                    best[i + 1][k] = (here + lone_mark(from + i), 1);
                }
                if k < m && here + lone_form(k) < best[i][k + 1].0 {
                    best[i][k + 1] = (here + lone_form(k), 2);
                }
                if i < n
                    && k < m
                    && let Some(c) = self.pair_cost(from + i, form[k])
                    && here + c < best[i + 1][k + 1].0
                {
                    best[i + 1][k + 1] = (here + c, 3);
                }
            }
        }
        best
    }

    /// How a form agrees with the words `from..to`, with a score for ordering; `None`: hardly.
    fn agree(&self, form: u32, from: usize, to: usize) -> Option<(f32, [f32; FEATURES])> {
        let form = self.lists.forms.get(form as usize);
        let (n, m) = (to - from, form.len());
        let best = self.aligned(form, from, to);
        let mut f = [0f32; FEATURES];
        let (mut i, mut k) = (n, m);
        let mut told = Told::default();
        while i > 0 || k > 0 {
            match best[i][k].1 {
                1 => {
                    i -= 1;
                    let (at, by) = if self.idle[from + i] {
                        (6, 0.5)
                    } else {
                        (5, 1.0)
                    };
                    f[at] += by;
                }
                2 => {
                    k -= 1;
                    let rare = self.lists.rare[form[k] as usize];
                    if idle_listed(&self.lists.vocabulary[form[k] as usize]) {
                        f[4] += 0.5;
                    } else {
                        f[3] += rare / 10.0;
                        told.whole += rare;
                    }
                }
                _ => {
                    (i, k) = (i - 1, k - 1);
                    self.paired(from + i, form[k], &mut f, &mut told);
                }
            }
        }
        if told.told < LEAST_TOLD {
            return None;
        }
        let total = best[n][m].0;
        f[0] = 1.0;
        f[10] = told.told / 10.0;
        f[11] = told.told / told.whole.max(0.1);
        f[12] = f32::from(u8::from(total == 0.0));
        f[13] = told.worst / 5.0;
        f[26] = f32::from(u8::from(m == 1));
        f[27] = (told.told / 10.0).min(0.6);
        f[28] = if n == 1 { told.told / 10.0 } else { 0.0 };
        f[29] = f32::from(u8::from(f[5] == 0.0 && f[3] == 0.0));
        Some((2.0 * told.told - total, f))
    }

    /// What a pair of words tells.
    fn paired(&self, t: usize, word: u32, f: &mut [f32; FEATURES], told: &mut Told) {
        let rare = self.lists.rare[word as usize];
        let Some(h) = self.hits[t].iter().find(|h| h.word == word) else {
            // An initial for a name
            f[7] += 0.5;
            told.told += 2.0f32.min(rare);
            told.whole += rare;
            return;
        };
        let (seen, lost) = (f32::from(h.pair.seen), f32::from(h.pair.lost));
        if !idle_listed(&self.lists.vocabulary[word as usize]) {
            // A letter tells at most the ln of the number of signs, less what a language tells of it beforehand
            told.told += rare.min(seen * (letters::SIGNS as f32).ln() * 0.75);
            told.whole += rare;
        }
        f[1] += h.pair.cost / 5.0;
        f[2] += lost / (seen + lost).max(1.0);
        f[8] += f32::from(h.pair.other) * 0.5;
        f[9] += if h.short { 0.5 } else { 0.0 };
        told.worst = told.worst.max(h.pair.cost);
    }

    fn pair_cost(&self, t: usize, word: u32) -> Option<f32> {
        if let Some(h) = self.hits[t].iter().find(|h| h.word == word) {
            return Some(h.pair.cost);
        }
        let listed = &self.lists.vocabulary[word as usize];
        let letters = &self.words[t].letters;
        let initial =
            (letters.len() == 1 && listed.len() > 1) || (listed.len() == 1 && letters.len() > 1);
        (initial && letters[0].sign == listed[0] && listed[0] < 26).then_some(0.7)
    }
}
