//! How well a mark is read, judged by itself: the words that any label bears ("carver", "street") are
//! known beforehand, so where they are misread the other words are misread too.
//!
//! The misreading rate of a mark is a share with a beta prior: the fitted rate, worth
//! [`Costs::prior`] letters, and the letters of such words, read rightly or wrongly. Only mistakes
//! beyond those that the chances of the letters own up to are counted.

use super::letters;
use super::observed::Costs;
use super::words::{self, Word};
use crate::readings::Line;
use std::sync::OnceLock;

/// Shorter words are too easily taken for others.
const SHORTEST: usize = 5;

/// A word is taken for one of labels if no larger share of its letters differs.
const DIFFERS: f32 = 0.34;

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
    let rate = (general.misread * general.prior + wrong) / (general.prior + letters);
    let rate = rate.min(MOST);
    Costs {
        misread: rate,
        added: general.added * rate / general.misread,
        ..general.clone()
    }
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
        assert_eq!(rate("HARROWBY / Kendal / 1851"), general);
    }

    #[test]
    fn mistakes_that_the_letters_own_up_to_are_not_counted_twice() {
        let unclear = rate("LQ\u{323}OKIN6\u{323} GLASS");
        assert!(unclear < rate("LQOKIN6 GLASS"), "{unclear}");
    }
}
