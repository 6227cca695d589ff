//! The one thing that a mark's page asks, with its answers.

use super::words as w;
use crate::decisions::{Asked, Doubt, KeptMark};
use crate::proposals::Proposal;

/// Answers that stand in the question itself.
const NAMED: usize = 3;

/// The question in words; nothing where nothing is asked here.
///
/// * `with`: how many other places are asked with it.
pub fn words(mark: &KeptMark, asked: &Asked, with: usize) -> Option<String> {
    match asked {
        Asked::Entry(list) => {
            let rivals = mark.rivals.iter().find(|r| r.list == *list)?;
            let shown: Vec<&Proposal> = rivals.shown().take(NAMED).collect();
            let names: Vec<String> = shown.iter().map(|p| with_years(p)).collect();
            let said = said(mark, list, shown.first()?);
            Some(w::which_entry(list, &said, &names))
        }
        Asked::Places => Some(w::ask_places(1 + with)),
        Asked::Reading if mark.latest().reading.lines.is_empty() => Some(w::ASK_UNREAD.to_owned()),
        Asked::Reading => Some(w::ASK_READING.to_owned()),
        Asked::Other | Asked::Nothing => None,
    }
}

/// The doubts that aren't the question about a list: they are told beside it.
pub fn others<'a>(doubts: &'a [Doubt], asked: &Asked) -> Vec<&'a Doubt> {
    let told = |d: &&Doubt| match asked {
        Asked::Entry(list) => d.list.as_ref() != Some(list),
        _ => true,
    };
    doubts.iter().filter(told).collect()
}

fn with_years(p: &Proposal) -> String {
    match (p.not_before.as_str(), p.not_after.as_str()) {
        ("", "") => p.name.clone(),
        (a, b) => format!("{} ({a}–{b})", p.name),
    }
}

/// What stands on the mark that may be the entry: the words of the statement, else its lines.
fn said(mark: &KeptMark, list: &str, first: &Proposal) -> String {
    let seen = mark.latest();
    let stated = seen.statements.iter();
    let stated = stated.filter(|s| s.list.as_deref() == Some(list));
    if let Some(s) = stated.max_by(|a, b| a.listed.total_cmp(&b.listed)) {
        return s.words.clone();
    }
    let lines = first
        .lines
        .iter()
        .filter_map(|i| seen.reading.lines.get(*i));
    let texts: Vec<&str> = lines.map(|l| l.text.trim()).collect();
    texts.join(" / ")
}
