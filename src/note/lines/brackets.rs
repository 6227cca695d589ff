//! What stands in brackets: numbers of notes, life dates, sales and dealers, asides.

use super::link::{Scan, State};
use super::pieces::piece;
use super::spans::{dated, life};
use super::words::{is_known_place, is_prose, starts_upper};
use super::{Part, Role, marks};
use crate::note::provenance::Doubt;

/// Brackets in brackets are taken apart no deeper.
const DEEPEST: usize = 3;

impl Scan<'_> {
    pub(super) fn bracket(&mut self, end: usize) {
        // "[29-31 March] 1911"
        if let Some((date, n)) = dated(self.rest()).filter(|(_, n)| self.at + n > end) {
            self.push(n, |_| Part::Date(date));
            return;
        }
        let whole = &self.text[self.at..end];
        let inner = &whole[1..whole.len() - 1];
        let (open, close) = if whole.starts_with('(') {
            ('(', ')')
        } else {
            ('[', ']')
        };
        let figures =
            inner.len() <= 3 && !inner.is_empty() && inner.bytes().all(|b| b.is_ascii_digit());
        if let Some(n) = inner
            .parse::<u32>()
            .ok()
            .filter(|n| figures && n.to_string() == inner)
        {
            self.push(whole.len(), |_| Part::Note(n, open, close));
        } else if inner == "?" {
            self.push(whole.len(), |t| Part::Doubt(Doubt::Possibly, t));
        } else if let Some((d, n)) =
            life(whole).filter(|(_, n)| *n == whole.len() && self.has_name())
        {
            self.push(n, |_| Part::Life(d));
        } else if open == '(' && self.has_name() && is_known_place(inner) {
            // "Yamanaka & Co. (New York)"
            self.at += 1;
            self.parts.push(Part::Gap(open.into()));
            self.push(inner.len(), Part::Place);
            self.push(1, Part::Gap);
            self.state = State::Placed;
        } else if let Some(parts) = self.simple(inner) {
            self.at = end;
            self.parts.push(Part::Gap(open.into()));
            self.parts.extend(parts);
            self.parts.push(Part::Gap(close.into()));
        } else if self.goes_on(end, inner) {
            self.push(whole.len(), Part::Name);
        } else if let Some(parts) = self.nested(inner).filter(|_| open == '(') {
            self.at = end;
            self.parts.push(Part::Gap(open.into()));
            if self.has_name() {
                self.parts.push(Part::Role(Role::Bracketed, String::new()));
            } else {
                self.state = State::Named;
            }
            self.parts.extend(parts);
            self.parts.push(Part::Gap(close.into()));
        } else {
            self.push(whole.len(), Part::Aside);
        }
    }

    /// A date, a lot or a collector's mark alone in brackets.
    fn simple(&self, inner: &str) -> Option<Vec<Part>> {
        if let Some((d, n)) = dated(inner) {
            return (n == inner.len()).then(|| vec![Part::Date(d)]);
        }
        if let Some((l, n)) = marks::lot(inner) {
            return (n == inner.len()).then(|| vec![l]);
        }
        if let Some(n) = marks::price(inner) {
            return (n == inner.len()).then(|| vec![Part::Price(inner.into())]);
        }
        let n = marks::mark(inner)?;
        (n == inner.len()).then(|| vec![Part::Mark(inner.into())])
    }

    /// "Mrs. Samuel A. (Edith) Ammon": the brackets stand within a name.
    fn goes_on(&self, end: usize, inner: &str) -> bool {
        let named = self.state == State::Named
            && self
                .parts
                .iter()
                .rev()
                .find(|p| !matches!(p, Part::Gap(_)))
                .is_some_and(|p| matches!(p, Part::Name(_)))
            && !self.comma();
        let next = self.text[end..].trim_start_matches(' ');
        named
            && !inner.contains(',')
            && inner.split_whitespace().count() <= 4
            && starts_upper(next)
            && !is_known_place(piece(next))
    }

    /// A sale, dealer or agent in brackets, taken apart.
    fn nested(&self, inner: &str) -> Option<Vec<Part>> {
        const NOT: [&str; 18] = [
            "lugt",
            "l.",
            "born",
            "née",
            "formerly",
            "see",
            "label",
            "from label",
            "collector",
            "inscription",
            "according",
            "subsequently",
            "mrs",
            "not in",
            "copy",
            "executrix",
            "obtained",
            "lwl",
        ];
        let low = inner.to_lowercase();
        if self.depth >= DEEPEST || NOT.iter().any(|n| low.starts_with(n)) || is_prose(inner) {
            return None;
        }
        let mut scan = Scan::new(inner, self.depth + 1);
        scan.run();
        let named = scan
            .parts
            .iter()
            .any(|p| matches!(p, Part::Name(n) if starts_upper(n)));
        let told = scan
            .parts
            .iter()
            .any(|p| matches!(p, Part::Place(_) | Part::Date(_) | Part::Way(..)));
        let left = scan.parts.iter().any(|p| matches!(p, Part::Text(_)));
        // "(Harbottle Gallery), Leeds": nobody was named before
        let first = self.state == State::Lead && !self.has_name();
        (named && (told || first) && !left).then_some(scan.parts)
    }
}
