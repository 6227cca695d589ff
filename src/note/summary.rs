//! The note for the file in a few sentences.

use super::{Basis, Evidence, MarkNote, Sentence, reasons};

pub(super) fn summary(marks: &[MarkNote], evidence: &Evidence) -> Vec<Sentence> {
    let record = |words: String| Sentence {
        words,
        basis: Basis::Record,
    };
    let mut out = Vec::new();
    out.extend(kinds(marks).map(record));
    for shown in marks.iter().filter_map(|m| m.shown.as_ref()) {
        let words = format!("Exhibited: {}", inside(&shown.words));
        if out.iter().all(|s| s.words != words) {
            out.push(Sentence {
                words,
                basis: shown.basis,
            });
        }
    }
    out.extend(evidence.brief.iter().cloned());
    out
}

/// A sentence that begins with a word of doubt, as it stands behind a colon.
pub(super) fn inside(words: &str) -> String {
    const DOUBT: [&str; 5] = ["Very", "Probably", "Perhaps", "Possibly", "Hardly"];
    match DOUBT.iter().any(|d| words.starts_with(d)) {
        true => words[..1].to_lowercase() + &words[1..],
        false => words.to_owned(),
    }
}

/// "They are three printed labels, a stamp and an inscription."
fn kinds(marks: &[MarkNote]) -> Option<String> {
    const NUMBERS: [&str; 11] = [
        "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    ];
    let mut seen: Vec<(&str, usize)> = Vec::new();
    for m in marks {
        match seen.iter_mut().find(|s| s.0 == m.heading) {
            Some(s) => s.1 += 1,
            None => seen.push((&m.heading, 1)),
        }
    }
    let counted = |&(kind, n): &(&str, usize)| {
        let kind = kind.to_lowercase();
        let many = match kind.strip_prefix("mark of ") {
            Some(rest) => format!("marks of {rest}"),
            None => format!("{kind}s"),
        };
        match n {
            1 => format!("{} {kind}", article(&kind)),
            n => format!(
                "{} {many}",
                NUMBERS
                    .get(n - 2)
                    .map_or_else(|| n.to_string(), |w| (*w).to_owned())
            ),
        }
    };
    let all: Vec<String> = seen.iter().map(counted).collect();
    (!all.is_empty()).then(|| format!("The back bears {}.", reasons::and(&all)))
}

/// "a" or "an".
fn article(noun: &str) -> &'static str {
    match noun.starts_with(['a', 'e', 'i', 'o', 'u']) && !noun.starts_with("un") {
        true => "an",
        false => "a",
    }
}
