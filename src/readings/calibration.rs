//! From shares of the vote to chances that mean something, and what is text at all.
//!
//! First the strength of each letter, by which it is told what is text and what is lost:
//! strength = 1 / (1 + exp(−(A + B · ln(s / (1 − s))))), s the winner's share of the vote (Platt's
//! form; J. Platt, *Advances in Large Margin Classifiers*, 2000). Fitted by least log loss on the
//! 1,769 characters read on 13 made photographs that are not among the samples
//! (`make_samples --seed 9001 --count 24`, marks cut by their true outlines, right or wrong by
//! least edits against the truth: `try_reading --dump`). Expected calibration error over ten bins
//! there 0.130 before and 0.017 after; on the samples, which had no part in it, 0.116 and 0.019.
//!
//! In strange type those strengths promise too much. So what is stated of a letter ([`believed`]) also
//! heeds how strong the letters beside it are: chance = 1 / (1 + exp(−(C + D · l + E · m))), l the
//! log-odds of its own strength, m the mean of those of the other letters of its line. Fitted by least
//! log loss on 5,651 letters of close photographs of made backs
//! (`make_samples --seed 7100 --count 48`, `--seed 8800 --count 40`; cut by the true outlines).
//! Log loss and calibration error there 0.223 and 0.050 to 0.176 and 0.013, 0.275 and 0.046 to 0.211 and
//! 0.031; on sets that had no part in it, 2,533 letters of seed 9900 and 4,360 of the samples, 0.244 and
//! 0.068 to 0.178 and 0.037, 0.136 and 0.016 to 0.132 and 0.032 (there it errs low); on 3,026 of seed 7200
//! in unseen fonts, made after the fit, 0.138 and 0.034 to 0.113 and 0.020.

use super::network::{Row, Slot};
use super::{Character, mean_chance};
use crate::chance::{logistic, logit};

/// Intercept of the fit.
const A: f64 = 0.982;

/// Slope of the fit.
const B: f64 = 1.74;

/// Intercept of what is stated, and what a letter's own strength and that of the others of its line add.
const C: f64 = -0.752;
const D: f64 = 0.581;
const E: f64 = 0.122;

/// Strengths outside of this say no more than its ends.
const STRENGTHS: std::ops::RangeInclusive<f64> = 0.001..=0.9995;

/// Intercept and slope of a line's chance by that of its weakest letter. Fitted on the 363 lines of the
/// first two sets above; log loss of "the whole line is right" there 0.478 (the product of the strengths)
/// to 0.407, 0.425 to 0.378; on the other two 0.431 to 0.358, 0.330 to 0.335.
const LINE: (f64, f64) = (-0.957, 1.193);

/// Rows whose letters have a smaller mean chance than this are grain or ornament, not text.
const TEXT_FROM: f64 = 0.5;

/// The same for rows of one or two letters, which grain makes more often.
const SHORT_FROM: f64 = 0.85;

/// Two or more letters side by side with smaller chances than this are lettering that can't be
/// read: a gap with their number, the guesses kept as alternatives.
const LOST_BELOW: f64 = 0.25;

/// Alternatives with a smaller chance than this are left out.
const ALTERNATIVE_FROM: f64 = 0.005;

/// Strength of a sign with this share of the vote.
fn strength(share: f64) -> f64 {
    logistic(A + B * logit(share.clamp(1e-4, 0.999)))
}

/// A row's characters with their strengths, or nothing if it isn't text.
pub(super) fn characters(row: &Row) -> Option<Vec<Character>> {
    Some(placed(row)?.into_iter().map(|(c, _)| c).collect())
}

/// The same, with the middle of each, px of the turned mark.
pub(super) fn placed(row: &Row) -> Option<Vec<(Character, f64)>> {
    let middle = |s: &Slot| (s.span.0 + s.span.1) / 2.0;
    let slots = row.slots.iter();
    let mut out: Vec<(Character, f64)> = slots
        .filter_map(|s| Some((character(s)?, middle(s))))
        .collect();
    trim_rules(&mut out);
    out.dedup_by(|a, b| a.0.text == " " && b.0.text == " ");
    let letters: Vec<&Character> = out
        .iter()
        .map(|(c, _)| c)
        .filter(|c| c.text.chars().any(char::is_alphanumeric))
        .collect();
    let mean = mean_chance(letters.iter().copied()).unwrap_or(0.0);
    let least = if letters.len() < 3 {
        SHORT_FROM
    } else {
        TEXT_FROM
    };
    if letters.is_empty() || mean < least || is_border(&letters) {
        return None;
    }
    mark_lost(&mut out);
    Some(out)
}

/// Turns the strengths of a line's letters into the chances that are stated.
pub(super) fn believed(line: &mut [Character]) {
    let odds = |c: &Character| logit(c.confidence.clamp(*STRENGTHS.start(), *STRENGTHS.end()));
    let letters: Vec<f64> = line.iter().filter(|c| c.text != " ").map(odds).collect();
    let sum: f64 = letters.iter().sum();
    for c in line.iter_mut().filter(|c| !c.is_lost()) {
        let own = odds(c);
        let (others, count) = match c.text == " " {
            true => (sum, letters.len()),
            false => (sum - own, letters.len() - 1),
        };
        let beside = if count > 0 {
            others / count as f64
        } else {
            own
        };
        restate(c, logistic(C + D * own + E * beside));
    }
}

/// Gives a sign another chance; what it gains or loses, its alternatives lose or gain in proportion.
fn restate(c: &mut Character, chance: f64) {
    let by = (1.0 - chance) / (1.0 - c.confidence).max(1e-6);
    for (_, p) in &mut c.alternatives {
        *p = (*p * by).min(1.0 - chance);
    }
    c.confidence = chance;
}

/// Chance that a line is right as a whole: lines go wrong where they are weakest, and several letters at
/// once, so that the product of their chances would promise too little. A lost letter makes it 0.
pub(super) fn of_line(line: &[Character]) -> f64 {
    let letters = line.iter().filter(|c| c.text != " ");
    let weakest = letters.map(|c| c.confidence).reduce(f64::min);
    match weakest {
        Some(p) if p > 0.0 => logistic(LINE.0 + LINE.1 * logit(p.min(0.999_999))),
        _ => 0.0,
    }
}

/// Whether the letters of a row are a chain of one sign, as borders of rings and loops are read.
fn is_border(letters: &[&Character]) -> bool {
    const ROUND: &str = "oO0°8QCcSs";
    if letters.len() < 6 {
        return false;
    }
    let share = |same: &dyn Fn(&str) -> bool| {
        letters.iter().filter(|c| same(&c.text)).count() as f64 / letters.len() as f64
    };
    share(&|t| ROUND.contains(t)) > 0.75
        || letters
            .iter()
            .any(|c| share(&|t| t.eq_ignore_ascii_case(&c.text)) > 0.75)
}

/// Takes the words at either end that are made of rule and border signs only: edges of the paper
/// and printed frames are read as such.
fn trim_rules(out: &mut Vec<(Character, f64)>) {
    let is_rule = |c: &(Character, f64)| {
        c.0.text
            .chars()
            .all(|x| " |—–_~=«»<>\\[]{}()^*/!¦:;.,'-".contains(x))
    };
    let word_end = |c: &(Character, f64)| c.0.text == " ";
    let lead = out.iter().take_while(|c| is_rule(c)).count();
    let cut = out[..lead].iter().rposition(word_end).map_or(0, |p| p + 1);
    out.drain(..cut);
    let tail = out.len() - out.iter().rev().take_while(|c| is_rule(c)).count();
    if let Some(p) = out[tail..].iter().position(word_end) {
        out.truncate(tail + p);
    }
}

/// Turns runs of letters that can't be read into lost ones.
fn mark_lost(characters: &mut [(Character, f64)]) {
    let bad = |(c, _): &(Character, f64)| c.text != " " && c.confidence < LOST_BELOW;
    for run in characters.chunk_by_mut(|a, b| bad(a) == bad(b)) {
        if run.len() < 2 || !bad(&run[0]) {
            continue;
        }
        for (c, _) in run {
            let guess = (std::mem::take(&mut c.text), c.confidence);
            c.alternatives.insert(0, guess);
            c.confidence = 0.0;
        }
    }
}

/// A slot's winner with its alternatives; nothing where the vote says that nothing stands there.
fn character(slot: &Slot) -> Option<Character> {
    let (text, share) = slot.shares.first()?;
    if text.is_empty() {
        return None;
    }
    let mut out = Character {
        text: text.clone(),
        confidence: *share,
        alternatives: slot.shares[1..].to_vec(),
    };
    restate(&mut out, strength(*share));
    out.alternatives.retain(|s| s.1 >= ALTERNATIVE_FROM);
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use proptest::prelude::*;

    fn row(shares: &[Vec<(&str, f64)>]) -> Row {
        let slots = shares.iter().map(|s| Slot {
            shares: s.iter().map(|(t, p)| (t.to_string(), *p)).collect(),
            span: (0.0, 1.0),
        });
        Row {
            slots: slots.collect(),
            bounds: Rect::new(0, 0, 10, 10),
            faint: Vec::new(),
            writing: None,
        }
    }

    #[test]
    fn border_rules_at_the_ends_of_a_row_are_no_letters_but_signs_within_words_stay() {
        let text = "| — (Fenn & Co.) 'ARTISTS' _ |";
        let shares: Vec<_> = text.chars().map(|c| c.to_string()).collect();
        let row = row(&shares
            .iter()
            .map(|c| vec![(c.as_str(), 0.95)])
            .collect::<Vec<_>>());
        let read: String = characters(&row)
            .unwrap()
            .iter()
            .map(|c| c.text.as_str())
            .collect();
        assert_eq!(read, "(Fenn & Co.) 'ARTISTS'");
    }

    #[test]
    fn letters_that_nobody_is_sure_of_are_no_text_and_a_run_of_them_in_a_line_is_a_gap() {
        let sure = |c| vec![(c, 0.95)];
        let poor = |c| vec![(c, 0.2), ("q", 0.1)];
        assert_eq!(characters(&row(&[poor("a"), poor("b"), poor("c")])), None);
        let all = [
            sure("F"),
            sure("R"),
            sure("A"),
            poor("n"),
            poor("m"),
            sure("S"),
        ];
        let read = characters(&row(&all)).unwrap();
        let lost: Vec<bool> = read.iter().map(Character::is_lost).collect();
        assert_eq!(lost, [false, false, false, true, true, false]);
        assert_eq!(read[3].alternatives[0].0, "n");
    }

    #[test]
    fn strong_letters_in_a_strong_line_are_believed_more_and_a_line_as_its_weakest_letter() {
        let line = |beside: f64| {
            let mut line = vec![Character::sure("F", 0.9), Character::sure("e", beside)];
            line[0].alternatives = vec![("P".into(), 0.1)];
            believed(&mut line);
            line
        };
        let (strong, weak) = (line(0.99), line(0.3));
        assert!(strong[0].confidence > weak[0].confidence);
        let f = &weak[0];
        assert!((f.confidence + f.alternatives[0].1 - 1.0).abs() < 1e-9);
        assert!(of_line(&weak) < weak[1].confidence);
        assert!(of_line(&weak) < of_line(&strong));
        assert_eq!(
            of_line(&[Character::sure("F", 0.9), Character::lost()]),
            0.0
        );
    }

    proptest! {
        #[test]
        fn chances_grow_with_the_share_and_a_letter_with_its_alternatives_sums_to_at_most_one(
            a in 0.01f64..1.0, rest in 0.0f64..1.0, b in 0.01f64..1.0,
        ) {
            prop_assert!((strength(a) - strength(b)) * (a - b) >= 0.0);
            let other = (1.0 - a) * rest;
            let c = character(&row(&[vec![("x", a), ("y", other / 2.0), ("", other / 2.0)]]).slots[0]).unwrap();
            let sum: f64 = c.confidence + c.alternatives.iter().map(|x| x.1).sum::<f64>();
            prop_assert!((0.0..=1.0 + 1e-9).contains(&sum), "{sum}");
        }
    }
}
