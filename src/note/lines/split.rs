//! From a text to its links and notes.

use super::words::{Cursor, Short, full_stop, phrase};
use super::{Line, Link, Noted, Part};
use super::{lead, link};

pub(super) fn line(text: &str) -> Line {
    let (body, rest) = text.split_at(notes_begin(text));
    let mut line = Line::default();
    let start = body.len() - body.trim_start().len();
    line.before = body[..start].to_string();
    links(&body[start..], &mut line.links);
    notes(rest, &mut line);
    join(&mut line.links);
    line
}

/// Where the heading of the notes, or the first of them, begins, with the white space before.
fn notes_begin(text: &str) -> usize {
    for (at, _) in text.match_indices(['N', 'n', '[', '(', '1']) {
        let before = &text[..at];
        let trimmed = before.trim_end();
        let gap = &before[trimmed.len()..];
        let rest = &text[at..];
        let fresh = trimmed.is_empty()
            || gap.contains('\n')
            || (trimmed.ends_with(['.', ']', ')', ';']) && !gap.is_empty());
        if !fresh {
            continue;
        }
        let heading = ["notes", "note"].iter().find_map(|w| phrase(rest, w));
        let after = match heading {
            Some(n) => {
                let mut c = Cursor::new(&rest[n..]);
                c.spaces();
                c.eat(":");
                c.spaces();
                c.rest()
            }
            None if gap.contains('\n') => rest,
            None => continue,
        };
        let untold = heading.is_some()
            && gap.contains('\n')
            && rest[heading.unwrap_or(0)..].trim_start().starts_with(':');
        if untold || number(after, 1).is_some() {
            return trimmed.len();
        }
    }
    text.len()
}

/// `[1]`, `[1].`, `(1)`, `1.` with the white space before the text of the note.
fn number(text: &str, wanted: u32) -> Option<(String, String, usize)> {
    let mut c = Cursor::new(text);
    let open = ["[", "("].iter().find(|o| c.eat(o)).copied().unwrap_or("");
    let (n, wide) = c.number(1, 3)?;
    if n != wanted || (wide > 1 && n < 10) {
        return None;
    }
    let from = c.at;
    let close = match open {
        "[" => "]",
        "(" => ")",
        _ => ".",
    };
    if !c.eat(close) || (open.is_empty() && !c.rest().starts_with(char::is_whitespace)) {
        return None;
    }
    [".", ":", ","].iter().any(|s| c.eat(s));
    c.spaces();
    Some((open.to_string(), text[from..c.at].to_string(), c.at))
}

fn notes(text: &str, line: &mut Line) {
    if text.is_empty() {
        return;
    }
    // The first number stands where `notes_begin` found it
    let mut at = text
        .char_indices()
        .map(|(i, _)| i)
        .find(|i| number(&text[*i..], 1).is_some())
        .unwrap_or(text.len());
    line.heading = text[..at].to_string();
    let mut wanted = 1;
    while let Some((open, close, length)) = number(&text[at..], wanted) {
        let from = at + length;
        let end = next_note(text, from, wanted + 1);
        line.notes.push(Noted {
            number: wanted,
            signs: (open, close),
            text: text[from..end].to_string(),
        });
        wanted += 1;
        at = end;
    }
    line.after = text[at..].to_string();
    // A paragraph of its own behind the last note is none of it
    if let Some(last) = line.notes.last_mut()
        && let Some(gap) = last.text.find("\n\n")
        && line.after.is_empty()
        && gap > 0
    {
        line.after = last.text.split_off(gap);
    }
}

/// Where the note after `from` begins; only a number in brackets may begin one within a line.
fn next_note(text: &str, from: usize, wanted: u32) -> usize {
    let mut fresh = false;
    for (i, c) in text[from..].char_indices() {
        let at = from + i;
        let bracket = c == '[' && i > 0 && !names_another(&text[from..at]);
        let bare = fresh && (c.is_ascii_digit() || c == '(');
        if (bracket || bare) && number(&text[at..], wanted).is_some() {
            return at;
        }
        fresh = c == '\n' || (fresh && c.is_whitespace());
    }
    text.len()
}

/// "see note", "as told in": a number behind these points to a note.
fn names_another(before: &str) -> bool {
    let end: String = before.trim_end().chars().rev().take(8).collect();
    let end: String = end.chars().rev().collect::<String>().to_lowercase();
    ["note", "notes", "see", "in", "and"].iter().any(|w| {
        end.strip_suffix(w)
            .is_some_and(|r| !r.ends_with(char::is_alphanumeric))
    }) && !before.ends_with('\n')
}

fn links(text: &str, out: &mut Vec<Link>) {
    let pairs = link::pairs(text);
    let mut from = 0;
    while from < text.len() {
        let (end, next) = stop(text, from, &pairs);
        let mut found = link::parse(&text[from..end]);
        found.stop = text[end..next].to_string();
        out.push(found);
        from = next;
    }
}

/// Where the link that begins at `from` ends, and where the next begins.
fn stop(text: &str, from: usize, pairs: &[(usize, usize)]) -> (usize, usize) {
    let mut at = from;
    let mut pair = pairs.partition_point(|p| p.0 < from);
    while at < text.len() {
        let c = text[at..].chars().next().unwrap_or(' ');
        while pair < pairs.len() && pairs[pair].0 < at {
            pair += 1;
        }
        if pair < pairs.len() && pairs[pair].0 == at {
            at = pairs[pair].1;
            continue;
        }
        let here = &text[at..];
        let ends = match c {
            // "Sotheby;s": a slip for an apostrophe
            ';' => !here[1..].starts_with(char::is_lowercase),
            ':' => place_before(&text[from..at], &here[1..]),
            '\n' => hard(text, from, at),
            '.' => sentence(text, from, at),
            _ => false,
        };
        if ends {
            let next = here
                .find(|x: char| !x.is_whitespace() && !";.…".contains(x) && (x != ':' || c != ':'))
                .unwrap_or(here.len());
            // What closes the link belongs to it
            let end = at - (text[from..at].len() - text[from..at].trim_end().len());
            if next > 0 {
                return (end, at + next);
            }
        }
        at += c.len_utf8();
    }
    let end = from + text[from..].trim_end().len();
    (end, text.len())
}

/// "Arcachon, France: Oakes & Sons": a colon for a stop.
fn place_before(before: &str, after: &str) -> bool {
    let place = before.rsplit(',').next().unwrap_or("");
    let next = after.trim_start();
    next.len() < after.len()
        && before.contains(',')
        && super::words::is_known_place(place)
        && next.starts_with(char::is_uppercase)
}

/// A line's end ends a link unless the sentence plainly goes on.
fn hard(text: &str, from: usize, at: usize) -> bool {
    let next = text[at..].trim_start();
    let gap = &text[at..text.len() - next.len()];
    let before = text[from..at].trim_end();
    // "From the collection of": somebody must follow
    const OPEN: [&str; 6] = ["of", "to", "from", "by", "and", "the"];
    let open = OPEN.contains(&before.rsplit(char::is_whitespace).next().unwrap_or(""));
    let low = next.starts_with(|c: char| c.is_lowercase() || c == ',');
    let way = lead::way(next).is_some_and(|(_, n)| next[..n].contains(' '));
    !(gap.matches('\n').count() == 1 && (before.ends_with(',') || open || low && !way))
}

/// Words with which a link begins: a full stop before them ends one, whatever stands before it.
const BEGIN: [&str; 29] = [
    "museum",
    "purchased",
    "gift",
    "bequest",
    "by descent",
    "by inheritance",
    "sold",
    "possibly",
    "probably",
    "acquired",
    "private collection",
    "estate of",
    "with",
    "his",
    "her",
    "their",
    "mr.",
    "mrs.",
    "miss",
    "dr.",
    "bought",
    "transferred",
    "anonymous",
    "sale",
    "the",
    "then",
    "by bequest",
    "partial gift",
    "unidentified",
];

fn sentence(text: &str, from: usize, at: usize) -> bool {
    let before = &text[from..at];
    let after = &text[at + 1..];
    let next = after.trim_start();
    if next.is_empty() {
        return ends_text(before);
    }
    if next.starts_with([';', '\n', '.']) || after.starts_with('\n') {
        return next.starts_with([';', '.']) && !after.starts_with(';') && ends_text(before)
            || after.starts_with('\n') && ends_text(before);
    }
    // "VB... (in brown ink)": what can't be read ends nothing
    if before.ends_with("..") && !next.starts_with(char::is_uppercase) {
        return false;
    }
    let spaced = next.len() < after.len();
    let bracket = before.ends_with([']', ')']);
    if !(spaced || (bracket && next.starts_with(|c: char| c.is_uppercase() || c == '('))) {
        return false;
    }
    if !next.starts_with(|c: char| {
        c.is_uppercase()
            || "(\"“[".contains(c)
            || c.is_lowercase() && BEGIN.iter().any(|b| phrase(next, b).is_some())
    }) {
        return false;
    }
    let begins = BEGIN.iter().any(|b| phrase(next, b).is_some());
    // "The Century Company. New York": a stop for a comma
    let head = &next[..next.find([',', ';', '.', '[', '(']).unwrap_or(next.len())];
    if !begins && super::words::is_known_place(head) {
        return false;
    }
    // "Mrs. Thompson. Springfield, Ohio"
    let behind = next[head.len()..].strip_prefix(',');
    let behind = behind.map(|t| t[..t.find([',', ';', '.', '[', '(']).unwrap_or(t.len())].trim());
    if head.split_whitespace().count() == 1 && behind.is_some_and(super::words::is_only_region) {
        return false;
    }
    let word = last_word(before);
    match full_stop(word) {
        Short::Ends => true,
        Short::Never => false,
        Short::Perhaps => begins_bracket(next) || begins || begins_named(before, next),
    }
}

/// A bracket with a name or a sale in it, not one with a remark: "(unknown)".
fn begins_bracket(next: &str) -> bool {
    // Nor one with life dates or a place: "Jr. (1923-2007)", "Co. (New York)"
    let inner = next.strip_prefix('(');
    inner.is_some_and(|t| {
        let whole = &t[..t.find(')').unwrap_or(t.len())];
        t.starts_with(char::is_uppercase) && !super::words::is_known_place(whole)
            || BEGIN.iter().any(|b| phrase(t, b).is_some())
    })
}

/// Behind "Johnstown, Pa." a person's name with initials or life dates begins a link.
fn begins_named(before: &str, next: &str) -> bool {
    let word = last_word(before);
    let region =
        super::words::is_region(word) && before.trim_end_matches(word).trim_end().ends_with(',');
    // The point behind an initial ends no name
    let initial = |i: usize| {
        next[..i]
            .rsplit(char::is_whitespace)
            .next()
            .is_some_and(|w| w.chars().count() == 1)
    };
    let ends = |(i, c): (usize, char)| (",;".contains(c) || c == '.' && !initial(i)).then_some(i);
    let head = &next[..next.char_indices().find_map(ends).unwrap_or(next.len())];
    region
        && (head.contains('[') || head.split_whitespace().count() >= 2)
        && !super::words::is_known_place(head)
}

/// Whether a full stop at the end of the text is the end of the sentence and not of a short form.
fn ends_text(before: &str) -> bool {
    matches!(full_stop(last_word(before)), Short::Ends)
}

fn last_word(before: &str) -> &str {
    // No word that matters is longer
    let at = before
        .char_indices()
        .rev()
        .take(24)
        .find(|(_, c)| c.is_whitespace() || ",;()[]-".contains(*c))
        .map_or(0, |(i, c)| i + c.len_utf8());
    &before[at..]
}

/// A date that stands alone belongs to the link before it.
fn join(links: &mut Vec<Link>) {
    let mut joined: Vec<Link> = Vec::with_capacity(links.len());
    for next in links.drain(..) {
        let date = next
            .parts
            .iter()
            .any(|p| matches!(p, Part::Date(_) | Part::Lot(..) | Part::Price(_)))
            && next.parts.iter().all(|p| {
                matches!(
                    p,
                    Part::Date(_) | Part::Gap(_) | Part::Note(..) | Part::Price(_) | Part::Lot(..)
                )
            });
        // So does the number of a note behind a full stop
        let noted = !next.parts.is_empty()
            && next
                .parts
                .iter()
                .all(|p| matches!(p, Part::Note(..) | Part::Gap(_)));
        let date = date || noted;
        match joined.last_mut() {
            // A date behind a remark is the remark's
            Some(before) if date && before.stop.contains('\n') == before.is_text() => {
                let next_text = next.to_string();
                let stop = std::mem::replace(&mut before.stop, next.stop);
                if before.is_text() {
                    before.parts.push(Part::Text(stop + &next_text));
                } else {
                    before.parts.push(Part::Gap(stop));
                    before.parts.extend(next.parts);
                }
            }
            _ => joined.push(next),
        }
    }
    *links = joined;
}
