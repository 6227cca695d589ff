//! Scales laid beside the object: no marks of it, but kept as places that were looked at.

use super::{Seen, Unlikely};
use crate::decisions::{KeptMark, Settled};
use crate::marks::{self, Mark};
use crate::readings::Reading;
use image::RgbImage;

/// Chance that what shows graduations and no word is lettering of the object all the same: of 20 such none was, and one
/// more is allowed for on either side (Laplace's rule of succession).
const LETTERING: f64 = 1.0 / 22.0;

/// Letters from which a word is one; figures count on scales as anywhere.
const WORD: usize = 2;

/// Takes the scales out of the marks and their readings and hands them back. What a person spoke of stays a mark.
pub(super) fn taken_out(
    picture: &RgbImage,
    kept: &[Option<&KeptMark>],
    likely: Vec<Mark>,
    read: Vec<Seen>,
) -> (Vec<(Mark, Seen)>, Vec<Unlikely>) {
    let (mut stay, mut scales) = (Vec::with_capacity(read.len()), Vec::new());
    for ((mark, seen), kept) in likely.into_iter().zip(read).zip(kept) {
        let unsaid = kept.is_none_or(|k| k.settled == Settled::default());
        if unsaid && !has_word(&seen.reading) && marks::is_scale(picture, &mark) {
            scales.push(Unlikely {
                outline: seen.outline,
                lettering: LETTERING,
            });
        } else {
            stay.push((mark, seen));
        }
    }
    (stay, scales)
}

/// Whether a word is read that is likelier right than not.
fn has_word(reading: &Reading) -> bool {
    let lines = reading.lines.iter();
    let mut words = lines.flat_map(|l| l.characters.split(|c| c.text == " "));
    words.any(|word| {
        let is_letter = |text: &str| text.chars().any(char::is_alphabetic);
        let letters = word.iter().filter(|c| is_letter(&c.text)).count();
        let right: f64 = word.iter().map(|c| c.confidence).product();
        letters >= WORD && right > 0.5
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::from_typed;

    fn reading(text: &str, chance: f64) -> Reading {
        let mut lines = from_typed(text).unwrap();
        for c in lines.iter_mut().flat_map(|l| &mut l.characters) {
            c.confidence = chance;
        }
        Reading {
            lines,
            ..Reading::default()
        }
    }

    #[test]
    fn numbers_and_what_is_hardly_read_are_no_words() {
        assert!(!has_word(&reading("12 13 14", 0.99)));
        assert!(!has_word(&reading("3/ 4\npl la", 0.6)));
        assert!(!has_word(&Reading::default()));
        assert!(has_word(&reading("Lot 12", 0.97)));
    }
}
