//! One link taken apart from left to right.

use super::dates::{dated, life, life_untied};
use super::words::{
    first_word, is_firm, is_known_place, is_person, is_prose, is_only_region, is_region, is_suffix,
    is_title, kinship, starts_upper,
};
use super::{Link, Part, Role, Way, lead, words};
use crate::note::provenance::Doubt;

/// Brackets in brackets are taken apart no deeper.
const DEEPEST: usize = 3;
/// Pieces between commas that are looked at ahead.
const AHEAD: usize = 7;

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
    if lead::remark(text) {
        link.parts.push(Part::Remark(text.into()));
        return link;
    }
    let mut scan = Scan::new(text, 0);
    scan.run();
    link.parts = scan.parts;
    link
}

/// What is awaited.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Doubt, way, kinship, name.
    Lead,
    /// More of the name, a place, a date.
    Named,
    /// More of the place, a date.
    Placed,
}

struct Scan<'a> {
    text: &'a str,
    at: usize,
    parts: Vec<Part>,
    pairs: Vec<(usize, usize)>,
    state: State,
    depth: usize,
    /// Behind the word "sale": a house, a title or a place.
    sale: bool,
}

impl<'a> Scan<'a> {
    fn new(text: &'a str, depth: usize) -> Scan<'a> {
        Scan {
            text,
            at: 0,
            parts: Vec::new(),
            pairs: pairs(text),
            state: State::Lead,
            depth,
            sale: false,
        }
    }

    fn rest(&self) -> &'a str {
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

    fn run(&mut self) {
        self.thing();
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

    /// "A second print acquired by": what it is that passed.
    fn thing(&mut self) {
        const BY: [&str; 6] = ["acquired by", "purchased by", "bought by", "acquired from", "purchased from", "given by"];
        let mut words = 0;
        for (at, _) in self.text.match_indices(' ').take(6) {
            words += 1;
            let rest = self.text[at..].trim_start();
            if words > 5 || self.text[..at].contains([',', '(', '[']) {
                return;
            }
            let thing = self.text[..at].split_whitespace().skip(1).all(|w| w.starts_with(|c: char| !c.is_uppercase()));
            if thing && BY.iter().any(|b| words::phrase(rest, b).is_some()) {
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
                && self.pairs.binary_search_by_key(&(self.at + i), |p| p.0).is_err();
            let dash = "-–—".contains(c) && rest[i + c.len_utf8()..].starts_with(char::is_whitespace);
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
    fn comma(&self) -> bool {
        matches!(self.parts.last(), Some(Part::Gap(g)) if g.contains([',', ';', ':', '-', '–']))
    }

    /// Doubt, ways, dates, numbers: what is told in fixed forms.
    fn fixed(&mut self) -> bool {
        let rest = self.rest();
        let lead = self.state == State::Lead;
        if let Some((d, n)) = lead::doubt(rest).filter(|_| dated(rest).is_none()) {
            self.push(n, |t| Part::Doubt(d, t));
            let way = lead::way(rest[n..].trim_start()).is_some();
            if !lead && !way && starts_upper(&rest[n..]) {
                self.parts.push(Part::Role(Role::Perhaps, String::new()));
            }
            self.state = State::Lead;
            return true;
        }
        if let Some((w, n)) = lead::way(rest).filter(|(w, n)| {
            lead || self.comma() && (rest[..*n].contains(' ') || *w == Way::Sale) || starts_way(rest, *n) || *w == Way::Sale && ends_in_sale(&rest[..*n])
        }) {
            self.push(n, |t| Part::Way(w, t));
            self.state = State::Lead;
            self.sale = w == Way::Sale && ends_in_sale(&rest[..n]);
            return true;
        }
        if let Some((life, n)) = life_untied(rest).filter(|_| !lead) {
            self.push(n, |_| Part::Life(life));
            return true;
        }
        if let Some((date, n)) = dated(rest) {
            let life = date.as_life().filter(|_| !lead);
            self.push(n, |_| life.map_or(Part::Date(date), Part::Life));
            if lead && self.has_name() {
                self.state = State::Placed;
            }
            return true;
        }
        if let Some((lot, n)) = lead::lot(rest) {
            self.push(n, |_| lot);
            return true;
        }
        if let Some(n) = lead::price(rest) {
            self.push(n, Part::Price);
            return true;
        }
        if let Some(n) = lead::mark(rest).filter(|_| !lead) {
            self.push(n, Part::Mark);
            return true;
        }
        let first = self.parts.is_empty();
        let role = if first { begins(rest) } else { lead::role(rest) };
        if let Some((r, n)) = role {
            self.push(n, |t| Part::Role(r, t));
            self.state = State::Lead;
            self.sale = false;
            return true;
        }
        if rest.starts_with(['"', '“']) && (!lead || self.sale) {
            let close = if rest.starts_with('"') { '"' } else { '”' };
            if let Some(end) = rest[1..].char_indices().find(|(i, c)| *i > 2 && *c == close) {
                let n = 1 + end.0 + close.len_utf8();
                self.push(n, Part::Detail);
                return true;
            }
        }
        if let Some(n) = kinship(rest).filter(|_| lead) {
            self.push(n, Part::Kin);
            return true;
        }
        false
    }

    fn push(&mut self, length: usize, part: impl FnOnce(String) -> Part) {
        let taken = self.take(length);
        self.parts.push(part(taken));
    }

    fn has_name(&self) -> bool {
        self.parts.iter().any(|p| matches!(p, Part::Name(_) | Part::Kin(_)))
    }

    fn bracket(&mut self, end: usize) {
        let whole = &self.text[self.at..end];
        let inner = &whole[1..whole.len() - 1];
        let (open, close) = if whole.starts_with('(') { ('(', ')') } else { ('[', ']') };
        let figures = inner.len() <= 3 && !inner.is_empty() && inner.bytes().all(|b| b.is_ascii_digit());
        if let Some(n) = inner.parse::<u32>().ok().filter(|n| figures && n.to_string() == inner) {
            self.push(whole.len(), |_| Part::Note(n, open, close));
        } else if inner == "?" {
            self.push(whole.len(), |t| Part::Doubt(Doubt::Possibly, t));
        } else if let Some((d, n)) = life(whole).filter(|(_, n)| *n == whole.len() && self.has_name()) {
            self.push(n, |_| Part::Life(d));
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
            self.parts.push(Part::Role(Role::Bracketed, String::new()));
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
        if let Some((l, n)) = lead::lot(inner) {
            return (n == inner.len()).then(|| vec![l]);
        }
        if let Some(n) = lead::price(inner) {
            return (n == inner.len()).then(|| vec![Part::Price(inner.into())]);
        }
        let n = lead::mark(inner)?;
        (n == inner.len()).then(|| vec![Part::Mark(inner.into())])
    }

    /// "Mrs. Samuel A. (Edith) Ammon": the brackets stand within a name.
    fn goes_on(&self, end: usize, inner: &str) -> bool {
        let named = self.state == State::Named
            && self.parts.iter().rev().find(|p| !matches!(p, Part::Gap(_))).is_some_and(|p| matches!(p, Part::Name(_)))
            && !self.comma();
        let next = self.text[end..].trim_start_matches(' ');
        named && !inner.contains(',') && inner.split_whitespace().count() <= 4 && starts_upper(next) && !is_known_place(piece(next))
    }

    /// A sale, dealer or agent in brackets, taken apart.
    fn nested(&self, inner: &str) -> Option<Vec<Part>> {
        const NOT: [&str; 18] = [
            "lugt", "l.", "born", "née", "formerly", "see", "label", "from label", "collector", "inscription",
            "according", "subsequently", "mrs", "not in", "copy", "executrix", "obtained", "lwl",
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
        (named && told && !left).then_some(scan.parts)
    }

    /// Words up to a comma, a bracket or something in a fixed form.
    fn measure(&self) -> usize {
        let rest = self.rest();
        let mut fresh = false;
        let mut quoted = false;
        for (i, c) in rest.char_indices() {
            if i > 0 {
                let here = &rest[i..];
                let bracket = "([".contains(c)
                    && self.pairs.binary_search_by_key(&(self.at + i), |p| p.0).is_ok();
                let colon = c == ':' && rest[i + 1..].starts_with(char::is_whitespace);
                if (c == ',' || colon) && !quoted || bracket || c == ';' {
                    return i;
                }
                if fresh && !quoted && !c.is_whitespace() && self.breaks(here, &rest[..i]) {
                    return i;
                }
            }
            if c == '"' {
                quoted = !quoted && rest[i + 1..].contains('"') && i < 4000;
            }
            fresh = c.is_whitespace();
        }
        rest.len()
    }

    /// Whether something in a fixed form begins here, within a chunk.
    fn breaks(&self, here: &str, before: &str) -> bool {
        let sale = ["sale", "estate sale"].iter().any(|s| {
            words::phrase(here, s).is_some_and(|n| {
                let after = here[n..].trim_start();
                after.is_empty() || after.starts_with([',', '(', '[', '"', '.']) || dated(after).is_some() || words::phrase(after, "at").is_some()
            })
        });
        if sale && self.state == State::Lead {
            return true;
        }
        let low = here.starts_with(|c: char| c.is_lowercase());
        if dated(here).is_some() || lead::lot(here).is_some() && low || here.starts_with(['$', '£']) && lead::price(here).is_some() {
            return true;
        }
        if words::phrase(here, "lugt").is_some() && lead::mark(here).is_some() {
            return true;
        }
        if !low {
            return false;
        }
        if words::phrase(here, "as agent").is_some() || words::phrase(here, "bt.").is_some() {
            return true;
        }
        if words::phrase(here, "for").is_some() && lead::price(here).is_some() {
            return true;
        }
        let for_name = words::phrase(here, "for").is_some() && lead::price(here).is_none();
        let firm_at = words::phrase(before, "friends of").is_some();
        lead::role(here).is_some() && !for_name && !firm_at
            || lead::way(here).is_some_and(|(_, n)| starts_way(here, n))
    }

    fn chunk(&mut self) {
        let mut length = self.measure();
        let chunk = self.rest()[..length].trim_end();
        length = chunk.len().max(self.rest().chars().next().map_or(0, char::len_utf8));
        let chunk = &self.rest()[..length];
        match self.state {
            State::Lead => self.lead_chunk(chunk),
            State::Named | State::Placed => self.later_chunk(chunk),
        }
    }

    fn lead_chunk(&mut self, chunk: &str) {
        let found = self.parts.iter().rev().find(|p| !matches!(p, Part::Gap(_)));
        let found = matches!(found, Some(Part::Way(Way::Found, _)));
        let after_sale = self.sale && self.comma_or_way();
        let alone = self.parts.is_empty() && is_known_place(chunk) && self.is_place(chunk) && self.ahead(chunk.len()).next().is_some_and(is_only_region);
        if found || alone || after_sale && self.is_place(chunk) {
            self.push(chunk.len(), Part::Place);
            self.state = State::Placed;
            return;
        }
        if is_prose(chunk) {
            self.leave();
            return;
        }
        if self.split_doubt(chunk) {
            self.state = State::Named;
            return;
        }
        self.split_inc(chunk);
        self.state = State::Named;
        self.sale = self.sale && !is_firm(chunk);
    }

    fn comma_or_way(&self) -> bool {
        self.comma() || self.parts.iter().any(|p| matches!(p, Part::Way(..)))
    }

    /// "Andrews?": the name, and the doubt of it.
    fn split_doubt(&mut self, chunk: &str) -> bool {
        let Some(name) = chunk.strip_suffix('?').filter(|n| !n.is_empty()) else {
            return false;
        };
        self.push(name.len(), Part::Name);
        self.push(1, |t| Part::Doubt(Doubt::Possibly, t));
        true
    }

    /// "Inc. New York": the end of a name, and a place without a comma between.
    fn split_inc(&mut self, chunk: &str) {
        for end in ["Inc. ", "Ltd. ", "Co. ", "LLC ", "Inc ", "Ltd "] {
            if let Some(at) = chunk.rfind(end)
                && is_known_place(&chunk[at + end.len()..])
            {
                self.push(at + end.len() - 1, Part::Name);
                return;
            }
        }
        self.push(chunk.len(), Part::Name);
    }

    /// The pieces between commas that follow, no more than a few.
    fn ahead(&self, from: usize) -> impl Iterator<Item = &'a str> {
        let rest = self.text[self.at + from..].get(..).unwrap_or("");
        let near = rest.char_indices().nth(200).map_or(rest, |(i, _)| &rest[..i]);
        let end = near.find(['[', '(', ';']).unwrap_or(near.len());
        near[..end].split(',').skip(1).take(AHEAD).map(piece)
    }

    fn is_place(&self, chunk: &str) -> bool {
        if is_firm(chunk) || is_title(first_word(chunk)) {
            return false;
        }
        is_known_place(chunk) || self.ahead(chunk.len()).next().is_some_and(is_only_region) && starts_upper(chunk) && !is_person(chunk)
    }

    fn later_chunk(&mut self, chunk: &str) {
        let comma = self.comma();
        let named = self.state == State::Named;
        if let Some(n) = joined(chunk).filter(|n| !named && (is_person(&chunk[*n..]) || kinship(chunk[*n..].trim_start()).is_some())) {
            self.push(n, |t| Part::Role(Role::And, t));
            self.state = State::Lead;
            return;
        }
        if lead::detail(chunk) {
            self.push(chunk.len(), Part::Detail);
        } else if words::is_kinship(chunk) {
            self.push(chunk.len(), Part::Kin);
        } else if named && self.belongs_to_name(chunk, comma) {
            self.more_name(chunk);
        } else if parted(chunk).is_some() && !named {
            self.place(chunk);
        } else if !named && comma && is_person(chunk) && !is_known_place(chunk) && !is_prose(chunk) {
            self.parts.push(Part::Role(Role::And, String::new()));
            self.state = State::Lead;
            self.lead_chunk(chunk);
        } else if self.reads_as_place(chunk) {
            self.place(chunk);
        } else {
            self.push(chunk.len(), Part::Text);
        }
    }

    fn more_name(&mut self, chunk: &str) {
        let first = first_word(chunk);
        if is_suffix(first) && chunk.len() > first.len() && is_known_place(&chunk[first.len()..]) {
            self.push(first.len(), Part::Name);
        } else if !self.split_doubt(chunk) {
            self.split_inc(chunk);
        }
    }

    fn belongs_to_name(&self, chunk: &str, comma: bool) -> bool {
        let first = first_word(chunk);
        if is_suffix(chunk) || (is_suffix(first) && is_known_place(&chunk[first.len()..])) {
            return true;
        }
        if is_prose(chunk) {
            return false;
        }
        let place = self.is_place(chunk);
        if !comma {
            return !place;
        }
        if joined(chunk).is_some() {
            return !is_known_place(chunk);
        }
        let bare = self.bare_name();
        if bare && !place && starts_upper(chunk) {
            let mut next = self.ahead(chunk.len());
            let town = next.next().is_some_and(is_region) && !next.next().is_some_and(is_region);
            return is_person(chunk) || chunk.split_whitespace().count() > 1 && !town;
        }
        let list = self
            .ahead(chunk.len())
            .take_while(|p| !is_known_place(p))
            .any(|p| joined(p).is_some_and(|n| starts_upper(&p[n..])));
        if list && starts_upper(chunk) && !place {
            return true;
        }
        if is_firm(chunk) && !is_known_place(chunk) || is_person(chunk) && !place {
            return true;
        }
        // A firm's name goes on to the last piece that reads like one
        !is_known_place(chunk)
            && self
                .ahead(chunk.len())
                .take_while(|p| !is_known_place(p) && dated(p).is_none())
                .any(|p| is_firm(p) && !is_known_place(p) && lead::way(p).is_none())
    }

    /// "The artist" or a kinsman, whose name may follow.
    fn bare_name(&self) -> bool {
        let mut names = self.parts.iter().filter_map(|p| match p {
            Part::Name(n) => Some(n.to_lowercase()),
            _ => None,
        });
        match names.next() {
            Some(n) => names.next().is_none() && (n == "the artist" || n == "artist"),
            None => true,
        }
    }

    fn reads_as_place(&self, chunk: &str) -> bool {
        let street = chunk.starts_with(|c: char| c.is_ascii_digit()) && chunk.contains(' ');
        let near = ["near", "the", "and", "bei", "van", "formerly", "then", "both"].contains(&first_word(chunk));
        (starts_upper(chunk) || street || near) && !is_prose(chunk) && chunk.chars().any(char::is_alphabetic)
    }

    fn place(&mut self, chunk: &str) {
        self.state = State::Placed;
        if let Some(at) = parted(chunk) {
            self.push(at, Part::Place);
            self.push(1, Part::Gap);
            self.push(3, |t| Part::Role(Role::And, t));
            self.state = State::Lead;
            return;
        }
        self.push(chunk.len(), Part::Place);
    }

    /// The rest stays as text but for the numbers of notes.
    fn leave(&mut self) {
        let rest = self.rest();
        let mut end = rest.len();
        for (at, stop) in &self.pairs {
            let inner = self.text.get(at + 1..stop - 1).unwrap_or("");
            let figures = !inner.is_empty() && inner.len() <= 2 && inner.bytes().all(|b| b.is_ascii_digit());
            if *at > self.at && figures && self.text[*at..].starts_with('[') {
                end = self.text[self.at..*at].trim_end().len();
                break;
            }
        }
        self.push(end.max(1), Part::Text);
        self.state = State::Placed;
    }
}

/// "PA and their son": where the place ends, and somebody further comes.
fn parted(chunk: &str) -> Option<usize> {
    let (at, word) = chunk.match_indices(" and ").next()?;
    let after = &chunk[at + word.len()..];
    let place = is_known_place(&chunk[..at]) || kinship(after).is_some();
    (place && (is_person(after) || kinship(after).is_some())).then_some(at)
}

/// Length of "and" at the beginning.
fn joined(chunk: &str) -> Option<usize> {
    words::phrase(chunk, "and").filter(|n| *n < chunk.len())
}

/// A way of several words that begins small may stand within a chunk.
fn starts_way(text: &str, length: usize) -> bool {
    (text[..length].contains(char::is_whitespace) || text.starts_with("bt."))
        && text.starts_with(char::is_lowercase)
        && words::phrase(text, "collection of").is_none()
}

fn ends_in_sale(way: &str) -> bool {
    way.trim_end_matches([',', ':']).to_lowercase().ends_with("sale")
}

/// A further person brought in right at the beginning: "From the artist".
fn begins(text: &str) -> Option<(Role, usize)> {
    let n = words::phrase(text, "from").or_else(|| words::phrase(text, "through"))?;
    let role = if text[..n].to_lowercase() == "from" { Role::From } else { Role::Through };
    Some((role, n))
}

/// A piece without what stands behind it in a fixed form.
fn piece(text: &str) -> &str {
    let text = text.trim();
    let end = text.find([',', ';', '[', '(']).unwrap_or(text.len());
    let text = text[..end].trim_end();
    let mut cut = text.len();
    for (i, _) in text.match_indices(' ') {
        if dated(&text[i + 1..]).is_some() {
            cut = i;
            break;
        }
    }
    text[..cut].trim_end_matches('.').trim_end()
}
