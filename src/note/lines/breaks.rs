//! Where a piece of a link ends: at a comma, a bracket, or where something in a fixed form begins.

use super::link::{Scan, State};
use super::pieces::piece;
use super::spans::dated;
use super::words::{is_firm, starts_upper};
use super::{lead, marks, words};

impl Scan<'_> {
    /// Words up to a comma, a bracket or something in a fixed form.
    pub(super) fn measure(&self) -> usize {
        let rest = self.rest();
        let mut fresh = false;
        let mut quoted = false;
        for (i, c) in rest.char_indices() {
            if i > 0 {
                let here = &rest[i..];
                let bracket = "([".contains(c)
                    && (self
                        .pairs
                        .binary_search_by_key(&(self.at + i), |p| p.0)
                        .is_ok()
                        || here[1..].starts_with(|x: char| x.is_ascii_digit()));
                let after = &rest[i + c.len_utf8()..];
                let colon =
                    c == ':' && (after.is_empty() || after.starts_with(char::is_whitespace));
                // "New York, NY - sale", "PA- donated to"
                let dash = "-–—".contains(c)
                    && after.starts_with(char::is_whitespace)
                    && after.trim_start().starts_with(char::is_lowercase);
                // "Foster, her granddaughter)": a bracket that nothing opened
                let stray = ")]".contains(c)
                    && (after.trim().is_empty() || after.starts_with(','))
                    && self.ends.binary_search(&(self.at + i + 1)).is_err();
                // "Sotheby;s": a slip for an apostrophe
                let semicolon = c == ';' && !after.starts_with(char::is_lowercase);
                // "Dr, Vane": a slip for a point
                let titled = c == ','
                    && words::is_title(rest[..i].rsplit(' ').next().unwrap_or(""))
                    && rest[..i].len() < 4
                    && words::starts_upper(after);
                let c = if titled { '.' } else { c };
                if (c == ',' || colon || dash) && !quoted || bracket || semicolon || stray {
                    return i;
                }
                if fresh && !quoted && !c.is_whitespace() && self.breaks(here, &rest[..i]) {
                    return i;
                }
            }
            // Quotation marks written twice are one
            if c == '"' && !rest[i + 1..].starts_with('"') {
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
                after.is_empty()
                    || after.starts_with([',', '(', '[', '"', '.'])
                    || dated(after).is_some()
                    || words::phrase(after, "at").is_some()
            })
        });
        if sale && self.state == State::Lead {
            return true;
        }
        // What was given for it is nobody's link
        if words::phrase(before, "in exchange for").is_some() || before.starts_with("as ") {
            return dated(here).is_some();
        }
        if stop_for_comma(before, here) {
            return true;
        }
        let low = here.starts_with(|c: char| c.is_lowercase());
        // "Mrs. Herbert L. May, 1928" is no date in May
        let last = before.split_whitespace().next_back().unwrap_or("");
        let initial = last.len() == 2 && last.ends_with('.');
        let named = words::starts_upper(here) && (initial || words::is_title(last));
        if dated(here).is_some() && !words::is_address(here) && !named
            || marks::lot(here).is_some() && low
            || here.starts_with(['$', '£']) && marks::price(here).is_some()
        {
            return true;
        }
        if words::phrase(here, "lugt").is_some() && marks::mark(here).is_some() {
            return true;
        }
        if !low {
            return false;
        }
        if lead::purpose(here).is_some() || lead::sale_number(here).is_some() {
            return true;
        }
        if self.state != State::Placed && in_place(here).is_some() {
            return true;
        }
        const DETAILS: [&str; 6] = [
            "as agent",
            "bt.",
            "in exchange for",
            "by auction",
            "by commission",
            "directly",
        ];
        if DETAILS.iter().any(|d| words::phrase(here, d).is_some()) {
            return true;
        }
        if words::phrase(here, "for").is_some() && marks::price(here).is_some() {
            return true;
        }
        // "Bequest Fund for Arts" is a name; "Mr. Holmes for Mrs. Vane" are two persons
        let for_name =
            words::phrase(here, "for").is_some_and(|n| !words::is_person(piece(near(&here[n..]))));
        let firm_at = words::phrase(before, "friends of").is_some();
        lead::role(here).is_some() && !for_name && !firm_at
            || lead::way(here).is_some_and(|(_, n)| starts_way(here, n))
    }
}

/// The text as far as a name or a place may go.
fn near(text: &str) -> &str {
    let end = text.char_indices().nth(60).map_or(text.len(), |(i, _)| i);
    &text[..end]
}

/// "The Century Company. New York", "Edith Thompson. Springfield, Ohio": a stop for a comma.
fn stop_for_comma(before: &str, here: &str) -> bool {
    let Some(name) = before.trim_end().strip_suffix('.') else {
        return false;
    };
    let word = name.rsplit(char::is_whitespace).next().unwrap_or("");
    let place = piece(near(here));
    let region = here[place.len()..].strip_prefix(',').map(piece);
    let town = !place.contains(' ') && region.is_some_and(words::is_only_region);
    matches!(words::full_stop(word), words::Short::Ends) && (town || words::is_known_place(place))
}

/// A way of several words that begins small may stand within a chunk.
pub(super) fn starts_way(text: &str, length: usize) -> bool {
    (text[..length].contains(char::is_whitespace) || text.starts_with("bt."))
        && text.starts_with(char::is_lowercase)
        && words::phrase(text, "collection of").is_none()
}

/// Length of "in" before a place: "Boerner in New York".
pub(super) fn in_place(text: &str) -> Option<usize> {
    let n = words::phrase(text, "in").filter(|_| text.starts_with('i'))?;
    let next = text[n..].trim_start();
    let place = piece(near(next));
    let mut capitals = place.split_whitespace();
    let short = capitals.by_ref().take_while(|w| starts_upper(w)).count() <= 3;
    // "not in Lugt" is a collector's mark that his list lacks
    let lugt = words::phrase(next, "lugt").is_some();
    (starts_upper(next) && short && !lugt && !is_firm(place) && dated(text).is_none()).then_some(n)
}
