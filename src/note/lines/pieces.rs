//! What the pieces between commas are: more of a name, kinship, a place.

use super::lead;
use super::link::{Scan, State};
use super::spans::dated;
use super::words::{
    self, first_word, is_firm, is_known_place, is_only_region, is_person, is_prose, is_suffix,
    is_title, kinship, starts_upper,
};
use super::{Part, Role, Way};
use crate::note::provenance::Doubt;

/// Pieces between commas that are looked at ahead.
const AHEAD: usize = 7;

impl<'a> Scan<'a> {
    pub(super) fn chunk(&mut self) {
        let mut length = self.measure();
        let chunk = self.rest()[..length].trim_end();
        length = chunk
            .len()
            .max(self.rest().chars().next().map_or(0, char::len_utf8));
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
        let alone = self.parts.is_empty()
            && is_known_place(chunk)
            && self.is_place(chunk)
            && self.ahead(chunk.len()).next().is_some_and(is_only_region);
        if found || alone || after_sale && self.is_place(chunk) {
            self.push(chunk.len(), Part::Place);
            self.state = State::Placed;
            return;
        }
        // "(London, Christie's, 26 May 1840)": the place before the house
        let house = self.ahead(chunk.len()).next();
        let house =
            house.is_some_and(|p| starts_upper(p) && !is_known_place(p) && dated(p).is_none());
        if self.depth > 0 && self.parts.is_empty() && is_known_place(chunk) && house {
            self.push(chunk.len(), Part::Place);
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
        self.state = State::Named;
        self.split_inc(chunk);
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
        // "Morton Vane of Toronto, Canada"
        if let Some((at, of)) = chunk.rmatch_indices(" of ").next()
            && is_person(&chunk[..at])
            && chunk[..at].split_whitespace().all(words::is_plain)
            && self.is_place(&chunk[at + of.len()..])
        {
            self.push(at, Part::Name);
            self.push(of.len(), Part::Gap);
            self.push(chunk.len() - at - of.len(), Part::Place);
            self.state = State::Placed;
            return;
        }
        // "Christie's New York": a house and its town
        if let Some((at, _)) = chunk.match_indices("'s ").next()
            && is_known_place(&chunk[at + 3..])
        {
            self.push(at + 2, Part::Name);
            return;
        }
        let region = self.ahead(chunk.len()).next().is_some_and(is_only_region);
        if let Some(at) = words::town_behind(chunk).filter(|_| region) {
            self.push(at, Part::Name);
            return;
        }
        self.push(chunk.len(), Part::Name);
    }

    /// The pieces between commas that follow, no more than a few.
    fn ahead(&self, from: usize) -> impl Iterator<Item = &'a str> {
        let rest = self.text[self.at + from..].get(..).unwrap_or("");
        let near = rest
            .char_indices()
            .nth(200)
            .map_or(rest, |(i, _)| &rest[..i]);
        let end = near.find(['[', '(', ';']).unwrap_or(near.len());
        near[..end].split(',').skip(1).take(AHEAD).map(piece)
    }

    fn is_place(&self, chunk: &str) -> bool {
        if is_firm(chunk) || is_title(first_word(chunk)) {
            return false;
        }
        is_known_place(chunk)
            || self.ahead(chunk.len()).next().is_some_and(is_only_region)
                && starts_upper(chunk)
                && !is_person(chunk)
                && !chunk.contains("'s ")
    }

    fn later_chunk(&mut self, chunk: &str) {
        let comma = self.comma();
        let named = self.state == State::Named;
        if let Some(n) = joined(chunk).filter(|n| {
            !named && (is_person(&chunk[*n..]) || kinship(chunk[*n..].trim_start()).is_some())
        }) {
            self.push(n, |t| Part::Role(Role::And, t));
            self.state = State::Lead;
            return;
        }
        let sale = !named
            && chunk
                .split_whitespace()
                .any(|w| w.eq_ignore_ascii_case("sale") || w.eq_ignore_ascii_case("auction"));
        if !named || !self.of_collection(chunk) {
            // No house follows
        } else {
            self.parts.push(Part::Role(Role::At, String::new()));
            self.state = State::Lead;
            self.lead_chunk(chunk);
            return;
        }
        if sale || lead::detail(chunk) {
            self.push(chunk.len(), Part::Detail);
        } else if words::is_kinship(chunk) {
            self.push(chunk.len(), Part::Kin);
        } else if named && self.belongs_to_name(chunk, comma) {
            self.more_name(chunk);
        } else if parted(chunk).is_some() && !named {
            self.place(chunk);
        } else if !named && comma && is_person(chunk) && !is_known_place(chunk) && !is_prose(chunk)
        {
            self.parts.push(Part::Role(Role::And, String::new()));
            self.state = State::Lead;
            self.lead_chunk(chunk);
        } else if self.reads_as_place(chunk) {
            self.place(chunk);
        } else {
            self.push(chunk.len(), Part::Text);
        }
    }

    /// "Sale, the Vane collection, Harbottle's, London": the house behind whose things they were.
    fn of_collection(&self, chunk: &str) -> bool {
        // No nearer name, no nearer sale
        let near = || self.parts.iter().rev().take(24);
        let name = near().find_map(|p| match p {
            Part::Name(n) => Some(n.to_lowercase()),
            _ => None,
        });
        let collection = name.is_some_and(|n| {
            n.starts_with("collection") || n.ends_with("collection") || n.ends_with("library")
        });
        let sold = || near().any(|p| matches!(p, Part::Way(Way::Sale, _)));
        collection && sold() && self.comma() && starts_upper(chunk) && !is_known_place(chunk)
    }

    fn more_name(&mut self, chunk: &str) {
        let first = first_word(chunk);
        if is_suffix(first) && is_suffix(&chunk[first.len()..].replace(' ', "")) {
            self.push(chunk.len(), Part::Name);
            return;
        }
        let behind = chunk[first.len()..].trim_start();
        if is_suffix(first) && (is_known_place(behind) || is_street(behind)) {
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
            return !place && !is_street(chunk);
        }
        if joined(chunk).is_some() {
            return !is_known_place(chunk);
        }
        if self.surname_alone() && words::all_given(chunk) && !is_known_place(chunk) {
            return true;
        }
        // "Mesdames Reed, Vane and Eddy": the last of a list
        if !place && both_named(chunk) && self.ahead(chunk.len()).next().is_none_or(is_known_place)
        {
            return true;
        }
        let bare = self.bare_name();
        if bare && !place && starts_upper(chunk) {
            return is_person(chunk) || chunk.split_whitespace().count() > 1;
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

    /// "Vane" of "Vane, Herbert": a surname by itself, perhaps behind "and".
    fn surname_alone(&self) -> bool {
        let name = self.parts.iter().rev().take(24).find_map(|p| match p {
            Part::Name(n) => Some(n.as_str()),
            _ => None,
        });
        let last = name.map(|n| n.rsplit(" and ").next().unwrap_or(n));
        last.is_some_and(|n| !n.contains([' ', '.']) && !is_firm(n) && !is_suffix(n))
    }

    /// "The artist" or a kinsman, whose name may follow.
    fn bare_name(&self) -> bool {
        // One that stands further behind adds nothing to the first
        let mut names = self.parts.iter().take(24).filter_map(|p| match p {
            Part::Name(n) => Some(n.to_lowercase()),
            _ => None,
        });
        match names.next() {
            Some(n) => {
                let who = n.strip_prefix("the ").unwrap_or(&n);
                names.next().is_none() && ["artist", "architect", "sitter", "donor"].contains(&who)
            }
            None => true,
        }
    }

    fn reads_as_place(&self, chunk: &str) -> bool {
        let street = is_street(chunk);
        let near = joined(chunk).is_some_and(|n| starts_upper(&chunk[n..]))
            || ["near", "the", "bei", "van", "formerly", "then", "both"]
                .contains(&first_word(chunk));
        (starts_upper(chunk) || street || near)
            && !is_prose(chunk)
            && chunk.chars().any(char::is_alphabetic)
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
            let figures =
                !inner.is_empty() && inner.len() <= 2 && inner.bytes().all(|b| b.is_ascii_digit());
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

/// "123 Mulberry St.": a number and what stands behind it.
fn is_street(chunk: &str) -> bool {
    let rest = chunk.trim_start_matches(|c: char| c.is_ascii_digit());
    rest.len() < chunk.len() && chunk.contains(' ') && !chunk.ends_with(" day")
}

/// "Vane and Eddy", neither of which is a place.
fn both_named(chunk: &str) -> bool {
    let parted = chunk
        .split_once(" and ")
        .or_else(|| chunk.split_once(" And "));
    parted.is_some_and(|(a, b)| {
        starts_upper(a) && starts_upper(b) && !is_known_place(a) && !is_known_place(b)
    })
}

/// Length of "and" at the beginning.
fn joined(chunk: &str) -> Option<usize> {
    words::phrase(chunk, "and").filter(|n| *n < chunk.len())
}

/// A piece without what stands behind it in a fixed form.
pub(super) fn piece(text: &str) -> &str {
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
