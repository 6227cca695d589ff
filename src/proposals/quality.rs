//! How well a mark is read, judged by itself: the words that any label bears ("carver", "street") are
//! known beforehand, so where they are misread the other words are misread too.
//!
//! The misreading rate of a mark is a share with a beta prior: the fitted rate, worth
//! [`Costs::prior`] letters, and the letters of such words, read rightly or wrongly. Only mistakes
//! beyond those that the chances of the letters own up to are counted. On a mark on which nothing is lost
//! and none of those words is misread, each letter counts as read rightly, in so far as every letter is clear: a
//! name that differs there is another name.

use super::letters;
use super::observed::Costs;
use super::words::{self, Word};
use crate::readings::Line;
use std::sync::OnceLock;

/// Shorter words are too easily taken for others.
const SHORTEST: usize = 5;

/// A word is taken for one of labels if no larger share of its letters differs.
const DIFFERS: f32 = 0.34;

/// A letter with this chance is as clear as one that a person typed without a sign of doubt.
const CLEAR: f64 = 0.97;

/// Power of a letter's chance beside [`CLEAR`] by which a mark counts less as one on which all is clear.
const STEEP: f64 = 0.5;

/// A misreading rate is never taken to be higher.
const MOST: f32 = 0.25;

/// The costs for this mark.
pub fn costs(lines: &[Line], general: &Costs) -> Costs {
    let (mut wrong, mut letters) = (0f32, 0f32);
    for (word, doubt) in whole_words(lines) {
        if let Some((_, differing)) = nearest(&word) {
            wrong += (differing as f32 - doubt).max(0.0);
            letters += word.len() as f32;
        }
    }
    let (untouched, count) = if wrong > 0.0 {
        (0.0, 0.0)
    } else {
        untouched(lines)
    };
    letters += untouched * count;
    let start = match measured(lines) {
        true => general.measured,
        false => general.misread,
    };
    let rate = (start * general.prior + wrong) / (general.prior + letters);
    let rate = rate.min(MOST);
    let ratio = rate / general.misread;
    // Letters go missing where something is lost, with or without a trace
    let missing = 1.0 - untouched * (1.0 - ratio);
    Costs {
        misread: rate,
        added: general.added * ratio,
        missing: general.missing * missing,
        missing_at_edge: general.missing_at_edge * missing,
        ..general.clone()
    }
}

/// Whether the chances of all letters were measured on a picture: they own up to misreadings themselves.
pub fn measured(lines: &[Line]) -> bool {
    lines.iter().all(Line::is_measured)
}

/// How far a mark may count as one on which nothing is lost and all is clear, 0 to 1, and its letters.
///
/// Each letter that isn't clear takes some of it, the more the less clear it is: were it all or nothing, a hair's
/// breadth in one letter of a trade would decide whether a plain "Ravenhill" is taken for Ravensby.
fn untouched(lines: &[Line]) -> (f32, f32) {
    let signs = || lines.iter().flat_map(|l| &l.characters);
    if signs().any(|c| c.text.is_empty()) {
        return (0.0, 0.0);
    }
    let letters = signs().filter(|c| c.text.chars().any(char::is_alphanumeric));
    letters.fold((1.0, 0.0), |(clear, count), c| {
        let here = (c.confidence / CLEAR).clamp(0.0, 1.0).powf(STEEP);
        (clear * here as f32, count + 1.0)
    })
}

/// Words without lost letters, with the number of misreadings that their chances own up to.
fn whole_words(lines: &[Line]) -> Vec<(Word, f32)> {
    let mut out = Vec::new();
    for line in lines {
        let (mut word, mut doubt, mut whole) = (Word::new(), 0f32, true);
        let end = [crate::readings::Character::sure(" ", 1.0)];
        for c in line.characters.iter().chain(&end) {
            let signs = letters::fold(&c.text);
            if c.text.is_empty() {
                whole = false;
            } else if matches!(c.text.as_str(), "'" | "’" | "‘" | "ʼ") {
                continue;
            } else if signs.is_empty() || signs == [letters::AMPERSAND] {
                if whole && word.len() >= SHORTEST {
                    out.push((std::mem::take(&mut word), doubt));
                }
                word.clear();
                (doubt, whole) = (0.0, true);
            } else {
                word.extend(signs);
                doubt += 1.0 - c.confidence.clamp(0.0, 1.0) as f32;
            }
        }
    }
    out
}

/// The nearest word that any label bears and the letters in which it differs, if it is near at all.
fn nearest(word: &Word) -> Option<(&'static Word, usize)> {
    static KNOWN: OnceLock<Vec<Word>> = OnceLock::new();
    let known = KNOWN.get_or_init(|| words::filling().filter(|w| w.len() >= SHORTEST).collect());
    let most = (word.len() as f32 * DIFFERS) as usize;
    known
        .iter()
        .filter(|k| k.len().abs_diff(word.len()) <= most)
        .map(|k| (k, strsim::generic_levenshtein(k, word)))
        .min_by_key(|(_, d)| *d)
        .filter(|(_, d)| *d <= most)
}

/// Trades that the words name, one bit each, misread ones included.
pub fn trades(all: &[Word]) -> u32 {
    let meant: Vec<Word> = all
        .iter()
        .map(|w| match nearest(w) {
            Some((known, _)) if w.len() >= SHORTEST => known.clone(),
            _ => w.clone(),
        })
        .collect();
    words::trades(&meant)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::from_typed;

    fn rate(text: &str) -> f32 {
        costs(&from_typed(text).expect("typed"), &Costs::default()).misread
    }

    #[test]
    fn words_that_any_label_bears_tell_how_well_a_mark_is_read() {
        let general = Costs::default().misread;
        let well = rate("WM HARROWBY / LOOKING GLASS MANUFACTURER");
        let ill = rate("WN HARROVVBY / LQOKIN6 GLASS MRNUFACTUKER");
        assert!(well < general, "{well}");
        assert!(ill > 1.5 * general, "{ill}");
        assert_eq!(rate("HARR[..]BY / Kendal / 1851"), general);
    }

    #[test]
    fn a_mark_on_which_nothing_is_lost_or_unclear_is_read_better_than_others() {
        let general = Costs::default();
        let of = |text: &str| costs(&from_typed(text).expect("typed"), &general);
        let whole = of("HARROWBY / Kendal");
        assert!(whole.misread < 0.5 * general.misread, "{}", whole.misread);
        assert!(whole.missing < 0.5 * general.missing, "{}", whole.missing);
        let lost = of("HARROWB[.] / Kendal");
        assert_eq!(lost.misread, general.misread);
        assert_eq!(lost.missing, general.missing);
        let unclear = of("HARROWBY\u{323} / Kendal");
        assert!(whole.misread < unclear.misread && unclear.misread < general.misread);
        assert!(whole.missing < unclear.missing && unclear.missing < general.missing);
    }

    #[test]
    fn mistakes_that_the_letters_own_up_to_are_not_counted_twice() {
        let unclear = rate("LQ\u{323}OKIN6\u{323} GLASS");
        assert!(unclear < rate("LQOKIN6 GLASS"), "{unclear}");
    }
}
