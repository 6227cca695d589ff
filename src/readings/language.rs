//! A small model of how signs follow each other in label-like text, which weighs in where a line can
//! be read in several ways.
//!
//! In: the positions of a line that was voted, each with its chances. Out: the same, every chance weighed
//! by how likely the lines are that go through it: of all ways through the positions, each counts as
//! the product of its chances and of the model's chances to the power of the model's share (forward and
//! backward sums; L. Rabiner, "A tutorial on hidden Markov models", *Proceedings of the IEEE* 77, 1989,
//! doi:10.1109/5.18626). The model looks back five signs; `training/language.py` counts it, and says of what.
//!
//! It comes last, when it is settled which way up a mark is, what on it is text at all and where spaces
//! stand: asked before, it finds words in lettering on its head and in grain.

use super::hands;
use super::line_model::SIGNS;
use super::writing::Chances;
use super::{Character, LanguageSettings, Rescorer};
use crate::chance::add_logs;
use crate::error::{Error, Kind, Result};
use std::collections::HashMap;

/// What the model counts beside the network where the settings say nothing: fitted on held-out lines
/// (`model/card.md`).
pub const SHARE: f64 = 0.3;

/// What a sign is given back of what the model takes for it, nats: else fewer signs would always be
/// likelier. About what a sign costs on average.
const USUAL: f64 = 2.0;

/// Ends of lines that are kept apart at a position; the least likely are dropped.
const KEPT: usize = 16;

/// Number of "no sign" at a position, and of a line's end in the model.
const NONE: u8 = 0;

/// What a sign that the model never saw costs, nats.
const NEVER: f64 = 16.0;

/// Signs with their chances at one position, by their numbers in the alphabet from 1; 0 is "no sign".
type Spread = Vec<(u8, f64)>;

/// The model: records by length of sequence, each in rising order (`training/language.py` tells their form).
pub struct Language {
    records: Vec<Vec<u64>>,
    /// Numbers of the signs, from 1.
    numbers: HashMap<&'static str, u8>,
    share: f64,
    name: String,
    /// Whether the user named it.
    is_theirs: bool,
}

/// The last signs before a position, at most five, the latest lowest, below a bit that is set.
pub(super) type Before = u64;

/// A line's beginning.
pub(super) const BEGINNING: Before = 1 << 8 | NONE as u64;

/// A place of which nothing is known.
const ANYWHERE: Before = 1;

impl Language {
    /// The model that is part of the program, or that of the user's own that the settings name.
    ///
    /// # Errors
    /// `Kind::Usage` naming the file if it can't be read or isn't of the form that `training/language.py`
    /// writes; `Kind::Recogniser` if the program's own can't be used, which a sound build doesn't show.
    pub fn load(set: &LanguageSettings) -> Result<Self> {
        let Some(file) = &set.model else {
            let own = include_bytes!("model/language.bin");
            return Self::of(own, set.share).ok_or_else(|| {
                Error::new(
                    Kind::Recogniser,
                    "language model",
                    "it can't be loaded",
                    "build the program again from a clean checkout",
                )
            });
        };
        let wrong = |what: String| {
            let next = "name a file that training/language.py wrote, or none";
            Error::new(Kind::Usage, file.display(), what, next)
        };
        let bytes = std::fs::read(file)
            .map_err(|e| wrong(format!("the language model can't be read ({e})")))?;
        let theirs = Self::of(&bytes, set.share).map(|m| Language {
            is_theirs: true,
            ..m
        });
        theirs.ok_or_else(|| wrong("this is no language model".into()))
    }

    pub(super) fn of(bytes: &[u8], share: f64) -> Option<Self> {
        let rest = bytes.strip_prefix(b"DSL1")?;
        let (&order, mut rest) = rest.split_first()?;
        // a sequence has room for six signs in a record
        if !(1..=6).contains(&order) {
            return None;
        }
        let mut records = Vec::new();
        for _ in 0..order {
            let (count, after) = rest.split_first_chunk::<4>()?;
            let size = (u32::from_le_bytes(*count) as usize).checked_mul(8)?;
            let (block, after) = after.split_at_checked(size)?;
            let read = block.chunks_exact(8).filter_map(|c| c.try_into().ok());
            let block: Vec<u64> = read.map(u64::from_le_bytes).collect();
            if !block.is_sorted() {
                return None;
            }
            records.push(block);
            rest = after;
        }
        rest.is_empty().then(|| Language {
            records,
            numbers: SIGNS.lines().zip(1..).collect(),
            share,
            name: format!("language model {share}"),
            is_theirs: false,
        })
    }

    /// Natural logarithm of the chance that `sign` follows `before`.
    pub(super) fn follows(&self, before: Before, sign: u8) -> f64 {
        let most = length(before).min(self.records.len() - 1);
        let mut cost = 0.0;
        for count in (0..=most).rev() {
            let last = before & ((1 << (8 * count)) - 1);
            if let Some(own) = self.cost(count + 1, last << 8 | u64::from(sign)) {
                return -cost - own;
            }
            if count > 0 {
                cost += self.back_off(count, last);
            }
        }
        -cost - NEVER
    }

    /// What a sequence's last sign costs after the others, nats.
    fn cost(&self, length: usize, signs: u64) -> Option<f64> {
        let own = self.record(length, signs)? >> 8 & 255;
        // it only stands there since others begin with it
        (own < 255).then(|| own as f64 / 16.0)
    }

    /// What a sequence costs as a beginning of one that isn't kept, nats.
    fn back_off(&self, length: usize, signs: u64) -> f64 {
        self.record(length, signs)
            .map_or(0.0, |r| (r & 255) as f64 / 16.0)
    }

    fn record(&self, length: usize, signs: u64) -> Option<u64> {
        let records = self.records.get(length.checked_sub(1)?)?;
        let at = records.binary_search_by_key(&signs, |r| r >> 16).ok()?;
        Some(records[at])
    }

    /// Natural logarithm of the chance of a whole line, its end included.
    ///
    /// * `signs`: their numbers in the alphabet, from 1.
    pub fn line(&self, signs: &[u8]) -> f64 {
        let mut before = BEGINNING;
        let mut sum = 0.0;
        for &sign in signs.iter().chain(&[NONE]) {
            sum += self.follows(before, sign);
            before = self.after(before, sign);
        }
        sum
    }

    pub(super) fn after(&self, before: Before, sign: u8) -> Before {
        let most = self.records.len() - 1;
        let all = before << 8 | u64::from(sign);
        if length(before) < most {
            return all;
        }
        let last = 8 * most;
        (all & ((1 << last) - 1)) | 1 << last
    }

    /// Weighs the chances at each position of a stretch of text; those of one position keep their sum.
    ///
    /// * `before`, `ends`: whether a line begins and ends with it.
    /// * `share`: what the model counts beside the readers, from 0 (nothing changes) to 1.
    fn weigh(&self, line: &mut [Spread], (begins, ends): (bool, bool), share: f64) {
        let start = [(if begins { BEGINNING } else { ANYWHERE }, 0.0)];
        let mut steps: Vec<Step> = Vec::with_capacity(line.len());
        for spread in line.iter() {
            let from = steps.last().map_or(&start[..], |s| &s.ends);
            steps.push(self.step(from, spread, share));
        }
        let Some(last) = steps.last() else {
            return;
        };
        let end = |before| {
            if ends {
                self.counts(before, NONE, share)
            } else {
                0.0
            }
        };
        let mut onwards: Vec<f64> = last.ends.iter().map(|e| end(e.0)).collect();
        for at in (0..line.len()).rev() {
            let from = at.checked_sub(1).map_or(&start[..], |i| &steps[i].ends);
            let mut back = vec![f64::NEG_INFINITY; from.len()];
            let mut ways = vec![f64::NEG_INFINITY; line[at].len()];
            for way in &steps[at].ways {
                let on = way.weight + onwards[way.to];
                back[way.from] = add_logs(back[way.from], on);
                ways[way.sign] = add_logs(ways[way.sign], from[way.from].1 + on);
            }
            let before: f64 = line[at].iter().map(|s| s.1).sum();
            let all = ways.iter().copied().fold(f64::NEG_INFINITY, add_logs);
            for (spread, way) in line[at].iter_mut().zip(&ways) {
                spread.1 = before * (way - all).exp();
            }
            onwards = back;
        }
    }

    /// What the model adds to the logarithm of a sign's chance.
    fn counts(&self, before: Before, sign: u8, share: f64) -> f64 {
        share * (self.follows(before, sign) + USUAL)
    }

    fn step(&self, ends: &[(Before, f64)], spread: &Spread, share: f64) -> Step {
        let mut next: Vec<(Before, f64)> = Vec::new();
        let mut ways = Vec::with_capacity(ends.len() * spread.len());
        for (from, &(before, mass)) in ends.iter().enumerate() {
            for (at, &(sign, chance)) in spread.iter().enumerate() {
                let mut weight = chance.max(f64::MIN_POSITIVE).ln();
                let mut after = before;
                if sign != NONE {
                    weight += self.counts(before, sign, share);
                    after = self.after(before, sign);
                }
                let to = next.iter().position(|n| n.0 == after).unwrap_or_else(|| {
                    next.push((after, f64::NEG_INFINITY));
                    next.len() - 1
                });
                next[to].1 = add_logs(next[to].1, mass + weight);
                ways.push(Way {
                    from,
                    to,
                    sign: at,
                    weight,
                });
            }
        }
        let mut order: Vec<usize> = (0..next.len()).collect();
        order.sort_by(|&a, &b| next[b].1.total_cmp(&next[a].1));
        order.truncate(KEPT);
        let mut place = vec![None; next.len()];
        for (new, &old) in order.iter().enumerate() {
            place[old] = Some(new);
        }
        Step {
            ends: order.iter().map(|&o| next[o]).collect(),
            ways: ways
                .into_iter()
                .filter_map(|w| {
                    Some(Way {
                        to: place[w.to]?,
                        ..w
                    })
                })
                .collect(),
        }
    }
}

impl Rescorer for Language {
    fn name(&self) -> &str {
        &self.name
    }

    /// Lost letters, and signs that the model has no number for, part the line; spaces stay as they are. A letter
    /// of which little was seen stands where the line is likelier with it.
    fn rescore(&self, characters: &mut Vec<Character>) {
        let whole = characters.len();
        let mut at = 0;
        let parts = |c: &Character| match c.is_lost() {
            true => c.confidence == 0.0,
            false => !self.numbers.contains_key(c.text.as_str()),
        };
        for run in characters.chunk_by_mut(|a, b| parts(a) == parts(b)) {
            let (begins, ends) = (at == 0, at + run.len() == whole);
            at += run.len();
            if parts(&run[0]) {
                continue;
            }
            let mut spreads: Vec<Spread> = run.iter().map(|c| self.spread(c)).collect();
            self.weigh(&mut spreads, (begins, ends), self.share);
            for (c, spread) in run.iter_mut().zip(spreads) {
                self.tell(c, &spread);
            }
        }
        // a lost letter is one that nothing was read of
        characters.retain(|c| !c.is_lost() || c.confidence == 0.0);
    }

    /// Handwriting was weighed with the program's own wording when it was read; one that the user named has a say.
    fn is_asked(&self, written: Option<&Chances>) -> bool {
        self.is_theirs || !hands::are_asked(written)
    }
}

impl Language {
    /// What may stand at a position, of what the model knows; a space is nothing else, and nothing else a space.
    fn spread(&self, c: &Character) -> Spread {
        let number = self.numbers.get(c.text.as_str());
        let own = (number.copied().unwrap_or(NONE), c.confidence);
        let others = c
            .alternatives
            .iter()
            .filter(|a| c.text != " " && a.0 != " ");
        let known = others.filter_map(|(sign, chance)| match sign.as_str() {
            "" => Some((NONE, *chance)),
            sign => Some((*self.numbers.get(sign)?, *chance)),
        });
        [own].into_iter().chain(known).collect()
    }

    /// Takes over what was weighed; alternatives that the model doesn't know stay as they were.
    fn tell(&self, c: &mut Character, spread: &Spread) {
        let number = |sign: &str| match sign {
            "" => Some(NONE),
            sign => self.numbers.get(sign).copied(),
        };
        let mut all = vec![(std::mem::take(&mut c.text), c.confidence)];
        all.append(&mut c.alternatives);
        for (sign, chance) in &mut all {
            let weighed = spread.iter().find(|s| Some(s.0) == number(sign));
            *chance = weighed.map_or(*chance, |s| s.1);
        }
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        (c.text, c.confidence) = all.remove(0);
        c.alternatives = all;
    }
}

/// What leads through one position.
struct Step {
    /// Ends of the lines so far, with the logarithm of what they count together.
    ends: Vec<(Before, f64)>,
    ways: Vec<Way>,
}

/// From one end over one sign to another end.
struct Way {
    from: usize,
    to: usize,
    sign: usize,
    weight: f64,
}

/// Signs that a [`Before`] holds.
fn length(before: Before) -> usize {
    (63 - before.leading_zeros() as usize) / 8
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn model() -> Language {
        Language::load(&LanguageSettings::default()).unwrap()
    }

    fn signs(model: &Language, text: &str) -> Vec<u8> {
        let number = |c: char| model.numbers[c.to_string().as_str()];
        text.chars().map(number).collect()
    }

    /// A sign, its chance, and what else it may be.
    type Read<'a> = (&'a str, f64, &'a [(&'a str, f64)]);

    fn read(text: &[Read]) -> Vec<Character> {
        text.iter()
            .map(|(sign, chance, others)| Character {
                alternatives: others.iter().map(|(s, p)| (s.to_string(), *p)).collect(),
                ..Character::sure(sign, *chance)
            })
            .collect()
    }

    fn text(line: &[Character]) -> String {
        line.iter().map(|c| c.text.as_str()).collect()
    }

    /// `tests/reference/language.json`: `training/language.py` before it rounds to sixteenths.
    #[test]
    fn a_line_is_as_likely_as_the_script_that_counted_the_model_says() {
        let model = model();
        let whole: serde_json::Value =
            serde_json::from_str(include_str!("../../tests/reference/language.json")).unwrap();
        let told = whole["log_chances"].as_array().unwrap();
        assert!(told.len() > 4);
        for one in told {
            let (text, wanted) = (one[0].as_str().unwrap(), one[1].as_f64().unwrap());
            let found = model.line(&signs(&model, text));
            let most = 0.06 * (text.chars().count() as f64 + 1.0);
            assert!((found - wanted).abs() < most, "{text}: {found}, {wanted}");
        }
    }

    #[test]
    fn what_may_follow_sums_to_one_after_anything() {
        let model = model();
        for before in ["", "t", "Street", "é", "No. ", "qx", "ZZZZZ"] {
            let start = signs(&model, before);
            let before = start.iter().fold(ANYWHERE, |b, &s| model.after(b, s));
            let all = 0..=model.numbers.len() as u8;
            let sum: f64 = all.map(|s| model.follows(before, s).exp()).sum();
            assert!((sum - 1.0).abs() < 0.04, "{sum}");
        }
    }

    #[test]
    fn between_like_signs_the_usual_one_wins_and_a_clear_one_stays() {
        let o = [("O", 0.45)];
        let mut unsure = read(&[
            ("C", 0.9, &[]),
            ("0", 0.5, &o),
            ("L", 0.9, &[]),
            ("O", 0.9, &[]),
            ("U", 0.9, &[]),
            ("R", 0.9, &[]),
        ]);
        let mut clear = unsure.clone();
        clear[1] = read(&[("0", 0.99, &[("O", 0.005)])]).remove(0);
        let model = model();
        model.rescore(&mut unsure);
        model.rescore(&mut clear);
        assert_eq!(text(&unsure), "COLOUR");
        assert_eq!(text(&clear), "C0LOUR");
        let (sum, kept) = (unsure[1].confidence, &unsure[1].alternatives);
        assert_eq!(kept[0].0, "0");
        assert!((sum + kept[0].1 - 0.95).abs() < 1e-9);
    }

    #[test]
    fn spaces_and_lost_letters_stay_and_what_stands_nowhere_goes() {
        let mut line = read(&[
            ("A", 0.9, &[]),
            (" ", 0.5, &[("", 0.5)]),
            ("L", 0.9, &[("", 0.1)]),
            ("x", 0.5, &[("", 0.45)]),
            ("e", 0.9, &[]),
            ("", 0.0, &[("d", 0.2)]),
        ]);
        model().rescore(&mut line);
        assert_eq!(text(&line), "A Le");
        assert_eq!(line[1].confidence, 0.5);
        assert!(line[4].is_lost() && line[4].alternatives[0].1 == 0.2);
    }

    #[test]
    fn a_letter_that_was_hardly_seen_stands_where_the_line_is_likelier_with_it() {
        let faint = |others| read(&[("", 0.7, others)]).remove(0);
        let mut line = read(
            &"FRMES"
                .split("")
                .filter(|s| !s.is_empty())
                .map(|s| (s, 0.95, &[][..]))
                .collect::<Vec<_>>(),
        );
        line.insert(4, faint(&[("x", 0.3)]));
        line.insert(2, faint(&[("x", 0.06), ("A", 0.24)]));
        model().rescore(&mut line);
        assert_eq!(text(&line), "FRAMES");
        let a = &line[2];
        assert!(a.confidence < 0.95 && a.alternatives.iter().any(|s| s.0.is_empty() && s.1 > 0.0));
    }

    #[test]
    fn a_file_that_is_no_model_is_refused_by_its_name() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("mine.bin");
        let whole = include_bytes!("model/language.bin");
        let set = LanguageSettings {
            share: 0.3,
            model: Some(file.clone()),
        };
        for bytes in [&b"DSL1"[..], b"", &whole[..whole.len() - 1], &whole[1..]] {
            std::fs::write(&file, bytes).unwrap();
            let told = Language::load(&set).err().unwrap().to_string();
            assert!(told.contains("mine.bin"), "{told}");
        }
        std::fs::write(&file, whole).unwrap();
        let theirs = Language::load(&set).unwrap();
        let script = [0.0, 1.0, 0.0, 0.0];
        assert!(theirs.is_asked(Some(&script)));
        assert!(!model().is_asked(Some(&script)));
        assert!(model().is_asked(Some(&[1.0, 0.0, 0.0, 0.0])) && model().is_asked(None));
    }

    proptest! {
        /// All ways through a short line, one by one.
        #[test]
        fn each_chance_is_the_sum_over_all_ways_through_it(
            line in prop::collection::vec((1u8..130, 0u8..130, 0.01f64..0.99), 1..5),
            share in 0.05f64..1.0,
        ) {
            let model = model();
            let line: Vec<Spread> = line
                .into_iter()
                .map(|(a, b, p)| vec![(a, p), (if a == b { b + 1 } else { b }, 1.0 - p)])
                .collect();
            let mut wanted: Vec<Vec<f64>> = line.iter().map(|s| vec![0.0; s.len()]).collect();
            for way in 0..1usize << line.len() {
                let chosen = |at: usize| line[at][way >> at & 1];
                let said: Vec<u8> = (0..line.len()).map(|i| chosen(i).0).filter(|&s| s != NONE).collect();
                let own: f64 = (0..line.len()).map(|i| chosen(i).1.ln()).sum();
                let sum = own + share * (model.line(&said) + USUAL * (said.len() as f64 + 1.0));
                for (at, ways) in wanted.iter_mut().enumerate() {
                    ways[way >> at & 1] += sum.exp();
                }
            }
            let mut found = line.clone();
            model.weigh(&mut found, (true, true), share);
            for (spread, ways) in found.iter().zip(&wanted) {
                let all: f64 = ways.iter().sum();
                for (one, way) in spread.iter().zip(ways) {
                    prop_assert!((one.1 - way / all).abs() < 1e-6, "{} {}", one.1, way / all);
                }
            }
        }
    }
}
