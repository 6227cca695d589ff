//! What may stand there: strings of capitals in the order of the name, each with its likelihood.

use std::collections::HashMap;
use unicode_normalization::UnicodeNormalization;

/// At most so many letters in one sign.
pub const MOST: usize = 5;

/// The capital of a letter, without its accent.
pub(super) fn capital(c: char) -> Option<u8> {
    let plain = match c {
        'Ø' | 'ø' => 'O',
        'Ł' | 'ł' => 'L',
        c => std::iter::once(c).nfd().next()?,
    };
    let capital = plain.to_ascii_uppercase();
    capital.is_ascii_uppercase().then_some(capital as u8)
}

/// Capitals A to Z in the order of the name, packed: five bits a letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Packed(u32);

impl Packed {
    /// Packs one to [`MOST`] capitals; `None` if there are more, none, or other signs.
    pub fn of(letters: &[u8]) -> Option<Packed> {
        if letters.is_empty() || letters.len() > MOST {
            return None;
        }
        let mut out = 0;
        for &l in letters {
            if !l.is_ascii_uppercase() {
                return None;
            }
            out = out << 5 | u32::from(l - b'A' + 1);
        }
        Some(Packed(out))
    }

    /// The capitals.
    pub fn letters(self) -> Vec<u8> {
        let mut out = Vec::new();
        let mut left = self.0;
        while left > 0 {
            out.push((left & 31) as u8 - 1 + b'A');
            left >>= 5;
        }
        out.reverse();
        out
    }

    /// As text: `JMW`.
    pub fn text(self) -> String {
        self.letters().into_iter().map(char::from).collect()
    }
}

/// Likelihood of what is seen, by the letters of the name in their order. Letters that aren't held
/// can't be what stands there.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Letters {
    by: HashMap<Packed, f64>,
}

/// Letters that one sign of a monogram may stand for besides itself, with their weight beside its own
/// (common practice: I and J, U and V weren't told apart; from memory).
const SAME_SIGN: [(u8, u8, f64); 4] = [
    (b'I', b'J', 0.8),
    (b'J', b'I', 0.2),
    (b'V', b'U', 0.25),
    (b'U', b'V', 0.2),
];
/// Weight of VV for a W, of W for two V, and of a sign for AE beside its being A and E.
const VV: f64 = 0.05;
const W: f64 = 0.6;

impl Letters {
    /// Adds to the likelihood of one string.
    pub fn add(&mut self, letters: &[u8], likelihood: f64) {
        if likelihood > 0.0
            && let Some(packed) = Packed::of(letters)
        {
            *self.by.entry(packed).or_default() += likelihood;
        }
    }

    /// The likelihood that these letters were meant, 0 where they can't have been.
    pub fn of(&self, letters: Packed) -> f64 {
        self.by.get(&letters).copied().unwrap_or(0.0)
    }

    /// Whether nothing can have been meant.
    pub fn is_empty(&self) -> bool {
        self.by.is_empty()
    }

    /// Strings with their likelihoods, the likeliest first.
    pub fn ranked(&self) -> Vec<(Packed, f64)> {
        let mut all: Vec<(Packed, f64)> = self.by.iter().map(|(p, l)| (*p, *l)).collect();
        all.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        all
    }

    /// The same with what the trade knows kept open: I for J, V for U, VV for W.
    #[must_use]
    pub fn opened(&self) -> Letters {
        let mut out = Letters::default();
        for (packed, likelihood) in &self.by {
            open(&packed.letters(), *likelihood, &mut out);
        }
        out
    }
}

fn open(letters: &[u8], likelihood: f64, out: &mut Letters) {
    let mut all: Vec<(Vec<u8>, f64)> = vec![(Vec::new(), likelihood)];
    for &l in letters {
        let others: Vec<(u8, f64)> = SAME_SIGN
            .iter()
            .filter(|s| s.0 == l)
            .map(|s| (s.1, s.2))
            .collect();
        let mut next = Vec::with_capacity(all.len() * (1 + others.len()));
        for (text, weight) in &all {
            for (sign, share) in std::iter::once((l, 1.0)).chain(others.iter().copied()) {
                let mut longer = text.clone();
                longer.push(sign);
                next.push((longer, weight * share));
            }
        }
        all = next;
    }
    for (text, weight) in all {
        out.add(&text, weight);
    }
    for i in 0..letters.len() {
        let (before, rest) = letters.split_at(i);
        let merged = |sign: &[u8], from: usize| [before, sign, &rest[from..]].concat();
        if rest[0] == b'W' {
            out.add(&merged(b"VV", 1), likelihood * VV);
        }
        if rest.starts_with(b"VV") {
            out.add(&merged(b"W", 2), likelihood * W);
        }
    }
}

/// All orders of the letters, each once, the order given first.
pub fn orders(letters: &[u8]) -> Vec<Vec<u8>> {
    fn go(done: &mut Vec<u8>, left: &[u8], out: &mut Vec<Vec<u8>>) {
        if left.is_empty() && !out.contains(done) {
            out.push(done.clone());
        }
        for i in 0..left.len() {
            let mut rest = left.to_vec();
            done.push(rest.remove(i));
            go(done, &rest, out);
            done.pop();
        }
    }
    let mut out = Vec::new();
    go(&mut Vec::new(), letters, &mut out);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_packed_and_told_again() {
        for text in ["A", "ZZ", "JMW", "QABZ", "EIZAA"] {
            assert_eq!(Packed::of(text.as_bytes()).expect(text).text(), text);
        }
        assert_eq!(Packed::of(b"ABCDEF"), None);
        assert_eq!(Packed::of(b"a"), None);
        assert_eq!(Packed::of(b""), None);
    }

    #[test]
    fn a_sign_may_stand_for_its_twin() {
        let mut seen = Letters::default();
        seen.add(b"IW", 1.0);
        let open = seen.opened();
        let of = |t: &[u8]| open.of(Packed::of(t).expect("letters"));
        assert!(of(b"IW") > of(b"JW") && of(b"JW") > of(b"IVV") && of(b"IVV") > 0.0);
        assert_eq!(of(b"WI"), 0.0);
    }

    #[test]
    fn each_order_is_told_once() {
        assert_eq!(orders(b"ABC").len(), 6);
        assert_eq!(orders(b"ABB").len(), 3);
        assert_eq!(orders(b"AB")[0], b"AB");
    }
}
