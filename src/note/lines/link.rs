//! One link taken apart from left to right.

use super::breaks::{in_place, starts_way};
use super::spans::{dated, life_untied};
use super::words::{kinship, starts_upper};
use super::{Link, Part, Role, Way, lead, marks, words};
use crate::note::provenance::Doubt;

/// Brackets that open and close, `(` with `)` and `[` with `]`, by where they open; the second is
/// behind the closing one. None goes over an empty line.
pub(super) fn pairs(text: &str) -> Vec<(usize, usize)> {
    let mut open: Vec<(usize, char)> = Vec::new();
    let mut out = Vec::new();
    let mut before = ' ';
    for (at, c) in text.char_indices() {
        match c {
            '(' => open.push((at, ')')),
            '[' => open.push((at, ']')),
            '\n' if before == '\n' => open.clear(),
            ')' | ']' if open.last().is_some_and(|o| o.1 == c) => {
                if let Some((from, _)) = open.pop() {
                    out.push((from, at + 1));
                }
            }
            _ => {}
        }
        if !c.is_whitespace() || c == '\n' {
            before = c;
        }
    }
    out.sort_unstable();
    out
}

pub(super) fn parse(text: &str) -> Link {
    let mut link = Link::default();
    let pairs = pairs(text);
    let whole = pairs.first().filter(|p| p.0 == 0 && text.starts_with('('));
    if let Some((_, end)) = whole {
        let mut tail = Scan::new(&text[*end..], 0);
        tail.run();
        let only = |p: &Part| matches!(p, Part::Note(..) | Part::Gap(_) | Part::Date(_));
        if tail.parts.iter().all(only) {
            let mut inner = Scan::new(&text[1..end - 1], 1);
            inner.run();
            link.bracketed = true;
            link.parts.push(Part::Gap("(".into()));
            link.parts.extend(inner.parts);
            link.parts.push(Part::Gap(")".into()));
            link.parts.extend(tail.parts);
            return link;
        }
    }
    let mut scan = Scan::new(text, 0);
    if !scan.told() && marks::remark(text) {
        link.parts.push(Part::Remark(text.into()));
        return link;
    }
    scan.run();
    link.parts = scan.parts;
    link
}

/// What is awaited.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    /// Doubt, way, kinship, name.
    Lead,
    /// More of the name, a place, a date.
    Named,
    /// More of the place, a date.
    Placed,
}

pub(super) struct Scan<'a> {
    pub(super) text: &'a str,
    pub(super) at: usize,
    pub(super) parts: Vec<Part>,
    pub(super) pairs: Vec<(usize, usize)>,
    /// Where they close, in order.
    pub(super) ends: Vec<usize>,
    pub(super) state: State,
    pub(super) depth: usize,
    /// Behind the word "sale": a house, a title or a place.
    pub(super) sale: bool,
}

impl<'a> Scan<'a> {
    pub(super) fn new(text: &'a str, depth: usize) -> Scan<'a> {
        let pairs = pairs(text);
        let mut ends: Vec<usize> = pairs.iter().map(|p| p.1).collect();
        ends.sort_unstable();
        Scan {
            text,
            at: 0,
            parts: Vec::new(),
            pairs,
            ends,
            state: State::Lead,
            depth,
            sale: false,
        }
    }

    pub(super) fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn take(&mut self, length: usize) -> String {
        let taken = self.text[self.at..self.at + length].to_string();
        self.at += length;
        taken
    }

    fn pair(&self) -> Option<usize> {
        let found = self.pairs.binary_search_by_key(&self.at, |p| p.0).ok()?;
        Some(self.pairs[found].1)
    }

    pub(super) fn run(&mut self) {
        if self.at == 0 {
            if let Some(n) = lead::attributed(self.text) {
                self.push(n, Part::Detail);
            }
            self.thing();
        }
        loop {
            self.gap();
            if self.at == self.text.len() {
                return;
            }
            if let Some(end) = self.pair() {
                self.bracket(end);
            } else if !self.fixed() {
                self.chunk();
            }
        }
    }

    /// "According to the records, this picture was bought by": told in a sentence.
    fn told(&mut self) -> bool {
        const WAS: [&str; 7] = [
            "was given to",
            "was purchased by",
            "was acquired by",
            "was bought by",
            "was sold to",
            "was a gift to",
            "was a gift from",
        ];
        let near = self
            .text
            .char_indices()
            .nth(160)
            .map_or(self.text.len(), |(i, _)| i);
        let found = self.text[..near].match_indices(" was ").next();
        let Some((at, _)) = found.filter(|(at, _)| !self.text[..*at].contains(['(', '['])) else {
            return false;
        };
        let rest = &self.text[at + 1..];
        if !WAS.iter().any(|w| words::phrase(rest, w).is_some()) {
            return false;
        }
        self.push(at + " was".len(), Part::Detail);
        true
    }

    /// "A second print acquired by": what it is that passed.
    fn thing(&mut self) {
        const BY: [&str; 6] = [
            "acquired by",
            "purchased by",
            "bought by",
            "acquired from",
            "purchased from",
            "given by",
        ];
        let mut words = 0;
        for (at, _) in self.text.match_indices(' ').take(6) {
            words += 1;
            let rest = self.text[at..].trim_start();
            if words > 5 || self.text[..at].contains([',', '(', '[']) {
                return;
            }
            let thing = self.text[..at]
                .split_whitespace()
                .skip(1)
                .all(|w| w.starts_with(|c: char| !c.is_uppercase()));
            // "Museum purchased from": who, and not what
            let who = words::is_firm(&self.text[..at]);
            if thing && !who && BY.iter().any(|b| words::phrase(rest, b).is_some()) {
                if lead::doubt(self.text).is_none() && words::kinship(self.text).is_none() {
                    let t = self.take(at);
                    self.parts.push(Part::Detail(t));
                }
                return;
            }
        }
    }

    fn gap(&mut self) {
        let rest = self.rest();
        let mut end = 0;
        for (i, c) in rest.char_indices() {
            let stray = "()[]".contains(c)
                && self
                    .pairs
                    .binary_search_by_key(&(self.at + i), |p| p.0)
                    .is_err();
            let dash =
                "-–—".contains(c) && rest[i + c.len_utf8()..].starts_with(char::is_whitespace);
            if !(c.is_whitespace() || ",;:.…".contains(c) || stray || dash) {
                break;
            }
            end = i + c.len_utf8();
        }
        if end > 0 {
            let t = self.take(end);
            self.parts.push(Part::Gap(t));
        }
    }

    /// Whether a comma stands right before.
    pub(super) fn comma(&self) -> bool {
        matches!(self.parts.last(), Some(Part::Gap(g)) if g.contains([',', ';', ':', '-', '–']))
    }

    /// Doubt, ways, dates, numbers: what is told in fixed forms.
    fn fixed(&mut self) -> bool {
        let rest = self.rest();
        let lead = self.state == State::Lead;
        // "Mr. Ogle (or Ogel)?"
        if rest == "?" || rest.starts_with("? ") || rest.starts_with("?,") {
            self.push(1, |t| Part::Doubt(Doubt::Possibly, t));
            return true;
        }
        if let Some((d, n)) = lead::doubt(rest).filter(|_| dated(rest).is_none()) {
            self.push(n, |t| Part::Doubt(d, t));
            // "possibly in a private collection"
            let behind = rest[n..].trim_start();
            if words::phrase(behind, "in").is_some_and(|m| starts_upper(&behind[m..])) {
                self.gap();
                self.push("in".len(), Part::Detail);
            }
            let way = lead::way(rest[n..].trim_start()).is_some();
            if !lead && !way && starts_upper(&rest[n..]) {
                self.parts.push(Part::Role(Role::Perhaps, String::new()));
            }
            self.state = State::Lead;
            return true;
        }
        if let Some((w, n)) = lead::way(rest).filter(|(w, n)| {
            lead || self.comma() && (rest[..*n].contains(' ') || *w == Way::Sale)
                || starts_way(rest, *n)
                || *w == Way::Sale && lead::ends_in_sale(&rest[..*n])
        }) {
            self.push(n, |t| Part::Way(w, t));
            self.state = State::Lead;
            self.sale = w == Way::Sale && lead::ends_in_sale(&rest[..n]);
            return true;
        }
        self.numbers(lead) || self.turns(lead)
    }

    /// Dates, life dates, lots, prices, collectors' marks.
    fn numbers(&mut self, lead: bool) -> bool {
        let rest = self.rest();
        if let Some((life, n)) = life_untied(rest).filter(|_| !lead) {
            self.push(n, |_| Part::Life(life));
            // "d. c.1904 Vienna": no name goes on behind it
            self.state = State::Placed;
            return true;
        }
        if let Some((date, n)) = dated(rest).filter(|_| !words::is_address(rest)) {
            // A bracket that is never closed stands before it
            let open = matches!(self.parts.last(), Some(Part::Gap(g)) if g.ends_with('['));
            let life = date
                .as_life(open)
                .filter(|_| !lead || open && self.has_name());
            self.push(n, |_| life.map_or(Part::Date(date), Part::Life));
            // "via 1967 International Exhibition": who that is comes yet
            let brought = self.parts.iter().rev().nth(1);
            let brought = matches!(brought, Some(Part::Gap(_)))
                && matches!(self.parts.iter().rev().nth(2), Some(Part::Role(..)));
            if lead && self.has_name() && !brought {
                self.state = State::Placed;
            }
            return true;
        }
        if let Some((lot, n)) = marks::lot(rest) {
            self.push(n, |_| lot);
            return true;
        }
        if let Some(n) = marks::price(rest) {
            self.push(n, Part::Price);
            return true;
        }
        // A collector known by nothing but the mark: "Lugt 838a."
        if let Some(n) = marks::mark(rest).filter(|n| !lead || *n == rest.len()) {
            self.push(n, Part::Mark);
            return true;
        }
        false
    }

    /// What turns to somebody further, to a title, a place or a kinsman.
    fn turns(&mut self, lead: bool) -> bool {
        let rest = self.rest();
        let first = self.parts.is_empty();
        if let Some(n) = lead::purpose(rest)
            .or_else(|| lead::sale_number(rest))
            .filter(|_| !first)
        {
            self.push(n, Part::Detail);
            return true;
        }
        let role = if first {
            lead::begins(rest)
        } else {
            lead::role(rest)
        };
        if let Some((r, n)) = role {
            self.push(n, |t| Part::Role(r, t));
            self.state = State::Lead;
            self.sale = false;
            return true;
        }
        if rest.starts_with(['"', '“']) && (!lead || self.sale) {
            let close = if rest.starts_with('"') { '"' } else { '”' };
            if let Some(end) = rest[1..]
                .char_indices()
                .find(|(i, c)| *i > 2 && *c == close)
            {
                let n = 1 + end.0 + close.len_utf8();
                self.push(n, Part::Detail);
                return true;
            }
        }
        if let Some(n) = in_place(rest).filter(|_| self.has_name()) {
            self.push(n, Part::Detail);
            self.state = State::Placed;
            return true;
        }
        if let Some(n) = kinship(rest).filter(|_| lead) {
            self.push(n, Part::Kin);
            return true;
        }
        false
    }

    pub(super) fn push(&mut self, length: usize, part: impl FnOnce(String) -> Part) {
        let taken = self.take(length);
        self.parts.push(part(taken));
    }

    pub(super) fn has_name(&self) -> bool {
        self.parts
            .iter()
            .any(|p| matches!(p, Part::Name(_) | Part::Kin(_)))
    }
}
