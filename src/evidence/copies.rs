//! Copies of one label are one witness.
//!
//! A framer put the same label on frame and backing; a form was pasted twice. What both say was said once,
//! when it was printed: counted twice it would seem surer than it is.

use crate::decisions::{KeptMark, Lettering, MarkId};
use crate::readings::common_letters;

/// Two texts are of one printing where so many of their letters agree, and there are so many: our own choice;
/// two readings of one label differ by some letters.
const ALIKE: f64 = 0.85;
const LETTERS: usize = 12;

/// A mark that says again what another one says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copied {
    /// The mark that counts: the one that is read better.
    pub of: MarkId,
    /// Its copy.
    pub copy: MarkId,
}

/// The letters and figures of what a mark reads, and how surely it is read.
fn wording(m: &KeptMark) -> (Vec<char>, f64) {
    let (lines, sure): (Vec<String>, f64) = match m.settled.lettering.as_ref().map(|h| &h.value) {
        Some(Lettering::Read(typed)) => (typed.clone(), 1.0),
        Some(Lettering::Unreadable) => (Vec::new(), 0.0),
        None => {
            let lines = &m.latest().reading.lines;
            let mean = lines.iter().map(|l| l.confidence).sum::<f64>() / lines.len().max(1) as f64;
            (lines.iter().map(|l| l.text.clone()).collect(), mean)
        }
    };
    let letters = lines
        .iter()
        .flat_map(|l| l.chars())
        .filter(|c| c.is_alphanumeric());
    (letters.flat_map(char::to_uppercase).collect(), sure)
}

/// Share of letters that two texts have in common, by the longest common subsequence.
fn alike(a: &[char], b: &[char]) -> f64 {
    2.0 * common_letters(a, b) as f64 / (a.len() + b.len()).max(1) as f64
}

/// Whether two texts are of one printing: a year or a number filled in otherwise makes two labels of them.
fn one_printing(a: &[char], b: &[char]) -> bool {
    let figures = |t: &[char]| -> String { t.iter().filter(|c| c.is_ascii_digit()).collect() };
    a.len().min(b.len()) >= LETTERS && figures(a) == figures(b) && alike(a, b) >= ALIKE
}

/// The copies among marks of one kind on the same part (or on none that is told).
pub fn of(marks: &[KeptMark]) -> Vec<Copied> {
    let held: Vec<_> = marks
        .iter()
        .filter(|m| m.settled.not_a_mark.is_none())
        .map(|m| (m, wording(m)))
        .collect();
    let mut out: Vec<Copied> = Vec::new();
    for (i, (a, (first, sure))) in held.iter().enumerate() {
        for (b, (second, other)) in &held[i + 1..] {
            let part = |m: &KeptMark| m.settled.on.as_ref().map(|h| h.value);
            let same = a.kind() == b.kind() && part(a) == part(b) && one_printing(first, second);
            let counted = |id| out.iter().any(|c: &Copied| c.copy == id);
            if same && !counted(a.id) && !counted(b.id) {
                let (of, copy) = if other > sure {
                    (b.id, a.id)
                } else {
                    (a.id, b.id)
                };
                out.push(Copied { of, copy });
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn letters(text: &str) -> Vec<char> {
        text.chars().filter(|c| c.is_alphanumeric()).collect()
    }

    #[test]
    fn the_same_label_read_twice_is_one_printing() {
        let a = letters("ORME & SON CARVERS AND GILDERS 4 LANTERN LANE");
        let b = letters("ORNE & SON CARVERS AND GLDERS 4 LANTERN LANE");
        assert!(one_printing(&a, &b));
    }

    #[test]
    fn another_year_or_a_short_text_is_none() {
        let a = letters("AUTUMN EXHIBITION LIVERPOOL 1871");
        assert!(!one_printing(
            &a,
            &letters("AUTUMN EXHIBITION LIVERPOOL 1873")
        ));
        assert!(!one_printing(&letters("ORME"), &letters("ORME")));
        assert!(!one_printing(
            &a,
            &letters("SPRING SHOW OF WORKS IN OIL 1871")
        ));
    }

    #[test]
    fn likeness_is_the_share_of_common_letters() {
        assert!((alike(&letters("ABCD"), &letters("ABXD")) - 0.75).abs() < 1e-9);
        assert!((alike(&letters("AB"), &letters("AB")) - 1.0).abs() < 1e-9);
    }
}
