//! Short numbers of marks that guard against a slip of the finger.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Check letters: 23, a prime, so that one wrong figure or two swapped neighbours always give
/// another letter; without those that are mistaken for figures (i, l, o).
const LETTERS: &[u8; 23] = b"abcdefghjkmnpqrstuvwxyz";

/// Lasting number of a mark in a store. Printed with a check letter, `47b`: the number modulo 23.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MarkId(pub i64);

impl MarkId {
    /// From `47b`, in either case. `None`: no such form, or the letter doesn't fit the number.
    pub fn parse(text: &str) -> Option<MarkId> {
        let t = text.trim().to_ascii_lowercase();
        let digits = t.get(..t.len().checked_sub(1)?)?;
        if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let id = MarkId(digits.parse().ok().filter(|n| *n > 0)?);
        (id.to_string() == t).then_some(id)
    }
}

impl fmt::Display for MarkId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letter = LETTERS[self.0.rem_euclid(23) as usize] as char;
        write!(f, "{}{letter}", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_number_in_print_is_understood_again(n in 1i64..10_000_000) {
            let text = MarkId(n).to_string();
            prop_assert_eq!(MarkId::parse(&text), Some(MarkId(n)));
            prop_assert_eq!(MarkId::parse(&text.to_uppercase()), Some(MarkId(n)));
        }

        #[test]
        fn one_wrong_figure_or_two_swapped_never_name_another_mark(n in 1i64..1_000_000, at in 0usize..6, to in 0u8..10) {
            let text = MarkId(n).to_string();
            let figures = text.len() - 1;
            let mut wrong = text.clone().into_bytes();
            wrong[at % figures] = b'0' + to;
            let wrong = String::from_utf8(wrong).unwrap();
            if wrong != text && !wrong.starts_with('0') {
                prop_assert_eq!(MarkId::parse(&wrong), None);
            }
            let mut swapped = text.clone().into_bytes();
            swapped.swap(at % figures, (at + 1) % figures);
            let swapped = String::from_utf8(swapped).unwrap();
            let neighbours = (at % figures).abs_diff((at + 1) % figures) == 1;
            if neighbours && swapped != text && !swapped.starts_with('0') {
                prop_assert_eq!(MarkId::parse(&swapped), None);
            }
        }

        #[test]
        fn no_text_whatever_brings_it_down(text in "\\PC{0,6}") {
            let _ = MarkId::parse(&text);
        }
    }
}
