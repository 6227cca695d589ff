//! Sentences on what wording and lists say of a mark's date.

use super::certainty::{likely, with_number};
use super::{Basis, Sentence, dates};
use crate::dating::clues::{Clues, Sure};
use crate::decisions::{DecisionId, Taken, two};
use crate::proposals::Proposal;

/// Wording read with a smaller chance isn't told as a clue.
const TOLD: f64 = 0.05;

/// Who read the lines whose wording is dated.
pub(super) enum Reader {
    Program,
    Person { name: String, decision: DecisionId },
}

/// One sentence for each dating clue in the lines, then one on what they leave.
///
/// `lines`: plain text and the chance that the line is right as a whole.
pub(super) fn wording(clues: &Clues, lines: &[(String, f64)], reader: &Reader) -> Vec<Sentence> {
    // What is hardly read dates nothing; the reading itself stands in the transcription
    let text: Vec<&str> = lines
        .iter()
        .map(|(t, p)| if *p < TOLD { "" } else { t.as_str() })
        .collect();
    let dating = clues.date(&text.join("\n"));
    let mut out = Vec::new();
    let mut least: f64 = 1.0;
    for clue in &dating.clues {
        let chance = lines.get(clue.line).map_or(0.0, |(_, p)| *p);
        least = least.min(chance);
        let several: Vec<String> = clue
            .spans
            .iter()
            .filter_map(|[a, b]| {
                dates::span(a.as_deref().unwrap_or(""), b.as_deref().unwrap_or(""))
            })
            .collect();
        let limits = match (&clue.not_before, &clue.not_after) {
            // Reigns of one title are several spans, not one from first to last
            _ if several.len() > 1 => several.join(" or "),
            (Some(a), Some(b)) => format!(
                "not before {} and not after {}",
                dates::year(a),
                dates::year(b)
            ),
            (Some(a), None) => format!("not before {}", dates::year(a)),
            (None, Some(b)) => format!("not after {}", dates::year(b)),
            (None, None) => continue,
        };
        let rests = format!("{}; {}", sure(clue.sure), source(&clue.source));
        let (words, basis) = match reader {
            Reader::Program => (
                format!(
                    "The wording “{}” ({}), {} so read, would date the mark {limits} ({rests}).",
                    clue.words,
                    clue.clue,
                    with_number(chance)
                ),
                Basis::Program(chance),
            ),
            Reader::Person { name, decision } => (
                format!(
                    "The wording “{}” ({}), as {name} reads it, would date the mark {limits} ({rests}).",
                    clue.words, clue.clue
                ),
                Basis::Person(*decision),
            ),
        };
        out.push(Sentence { words, basis });
    }
    if dating.clues.len() > 1 {
        let between = dates::span(
            dating.not_before.as_deref().unwrap_or(""),
            dating.not_after.as_deref().unwrap_or(""),
        );
        if let Some(span) = between {
            let (words, basis) = match reader {
                Reader::Program => (
                    format!("Together these clues would {} leave {span}.", likely(least)),
                    Basis::Program(least),
                ),
                Reader::Person { decision, .. } => (
                    format!("Together these clues would leave {span}."),
                    Basis::Person(*decision),
                ),
            };
            out.push(Sentence { words, basis });
        }
    }
    for conflict in &dating.conflicts {
        out.push(Sentence {
            words: format!(
                "These clues don't agree: “{}”.",
                conflict.trim_end_matches('.')
            ),
            basis: Basis::Record,
        });
    }
    out
}

/// What the list says of an entry that the program proposes; nothing for towns.
pub(super) fn proposed(p: &Proposal) -> Option<Sentence> {
    let span = dates::span(&p.not_before, &p.not_after)?;
    let words = match p.list.as_str() {
        "towns" => return None,
        "artists" => format!(
            "It {} names the artist “{}”, whose life dates the list gives as {span} ({}); that doesn't date the mark.",
            with_number(p.probability),
            p.name,
            source(&p.source)
        ),
        _ => format!(
            "The mark {} falls in the years that the list gives for “{}” ({}): {span} ({}).",
            with_number(p.probability),
            p.name,
            p.entry,
            source(&p.source)
        ),
    };
    Some(Sentence {
        words,
        basis: Basis::Program(p.probability),
    })
}

/// What the list says of an entry that a person took.
pub(super) fn taken(t: &Taken, by: &str, decision: DecisionId) -> Option<Sentence> {
    let span = dates::span(&t.not_before, &t.not_after)?;
    let words = match t.list.as_str() {
        "towns" => return None,
        "artists" => format!(
            "The list gives the life dates of “{}”, the artist taken by {by}, as {span} ({}); that doesn't date the mark.",
            t.name,
            source(&t.source)
        ),
        _ => format!(
            "The list gives {span} for “{}”, the entry taken by {by} ({}); a mark of those years may have stayed in use some years longer.",
            t.name,
            source(&t.source)
        ),
    };
    Some(Sentence {
        words,
        basis: Basis::Person(decision),
    })
}

/// How far a clue holds, in the note's own words.
fn sure(sure: Sure) -> &'static str {
    match sure {
        Sure::Hard => "by law or a dated event",
        Sure::Usual => "by usual practice, with exceptions",
        Sure::Weak => "weak, only beside other evidence",
    }
}

/// "by the Directory of 1870", or that it rests on memory.
pub(super) fn source(text: &str) -> String {
    let text = text.trim();
    if text.is_empty() {
        "no source is given".into()
    } else if text.to_lowercase().contains("from memory") {
        "set down from memory: to be checked before anything rests on it".into()
    } else {
        format!("source: “{text}”")
    }
}

/// "the program had given it a chance of 0.48".
pub(super) fn had_given(t: &Taken) -> String {
    match t.chance {
        Some(p) => format!("the program had given it a chance of {}", two(p)),
        None => "the program had not proposed it".into(),
    }
}
