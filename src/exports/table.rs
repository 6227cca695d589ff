//! CSV for spreadsheets: marks, readings, decisions.
//!
//! The columns of marks are the inscription units of the object description group of Spectrum 5
//! (Collections Trust, 2017; names from memory), then Dorso's own. Files begin with a byte order
//! mark, so that spreadsheets read UTF-8, no cell can start a formula, and no lettering is taken for
//! a number or a day: "0417" keeps its nought.

use super::{Export, File, Subject, written};
use crate::decisions::{Lettering, holding};
use crate::error::{Error, Kind, Result};
use crate::signs;

pub(super) struct Csv;

impl Export for Csv {
    fn name(&self) -> &'static str {
        "csv"
    }

    fn about(&self) -> &'static str {
        "CSV for spreadsheets: marks in Spectrum's inscription units, all readings, all decisions"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        Ok(vec![
            file("marks.csv", &MARKS, marks(s))?,
            file("readings.csv", &READINGS, readings(s))?,
            file("decisions.csv", &DECISIONS, decisions(s))?,
        ])
    }
}

const MARKS: [&str; 19] = [
    "Object name",
    "Inscription number",
    "Inscription content",
    "Inscription date",
    "Inscription inscriber",
    "Inscription interpretation",
    "Inscription language",
    "Inscription method",
    "Inscription position",
    "Inscription script",
    "Inscription translation",
    "Inscription transliteration",
    "Inscription type",
    "Photograph",
    "Outline (px)",
    "Read by",
    "Chance of the least sure line",
    "State",
    "Open",
];
const READINGS: [&str; 9] = [
    "Mark", "Run", "At", "Line", "Leiden", "Plain", "Chance", "Kind", "Box (px)",
];
const DECISIONS: [&str; 7] = ["Decision", "Mark", "At", "Who", "What", "Why", "Holds"];

/// A cell that no spreadsheet takes for a formula, nor for a number or day that it would write
/// otherwise: one that begins with a sign that starts a formula, or is made of figures and the signs
/// between them ("0417", "18.50", "1,234", "1884-03-12"), gets an apostrophe before it, which
/// spreadsheets take for "this is text". Whole numbers as they are counted, and chances as they are
/// written here (four decimals), stay numbers.
pub fn guarded(cell: &str) -> String {
    let starts = |c: char| {
        matches!(
            c,
            '=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '＝' | '＋' | '－' | '＠' | '\''
        )
    };
    if cell.trim_start_matches([' ', '\u{a0}']).starts_with(starts) || rewritten(cell) {
        format!("'{cell}")
    } else {
        cell.to_string()
    }
}

/// Whether a spreadsheet would take the cell for a number or a day and write it otherwise.
fn rewritten(cell: &str) -> bool {
    let cell = cell.trim();
    let figures = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    let between = |c: char| matches!(c, '.' | ',' | ':' | '/' | '-' | '+' | 'e' | 'E' | ' ' | '%');
    if !cell.chars().all(|c| c.is_ascii_digit() || between(c))
        || !cell.contains(|c: char| c.is_ascii_digit())
    {
        return false;
    }
    let counted = figures(cell) && cell.len() <= 15 && (cell.len() == 1 || !cell.starts_with('0'));
    let chance = cell.split_once('.').is_some_and(|(whole, part)| {
        whole.len() == 1 && part.len() == 4 && figures(whole) && figures(part)
    });
    !counted && !chance
}

fn file(name: &str, head: &[&str], rows: Vec<Vec<String>>) -> Result<File> {
    let fault = |e: String| {
        Error::new(
            Kind::Output,
            name,
            format!("it can't be written as CSV ({e})"),
            "report this",
        )
    };
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer("\u{feff}".as_bytes().to_vec());
    out.write_record(head).map_err(|e| fault(e.to_string()))?;
    for row in rows {
        out.write_record(row.iter().map(|c| guarded(&signs::shown(c))))
            .map_err(|e| fault(e.to_string()))?;
    }
    Ok(File {
        ending: name.into(),
        bytes: out.into_inner().map_err(|e| fault(e.to_string()))?,
    })
}

fn marks(s: &Subject) -> Vec<Vec<String>> {
    let number = |p: f64| format!("{p:.4}");
    s.marks
        .iter()
        .map(|m| {
            let (lines, by) = written(m, s.journal);
            let text: Vec<&str> = lines.iter().map(|l| l.leiden.as_str()).collect();
            let id = m.id.to_string();
            let note = s.note.marks.iter().find(|n| n.id == id);
            let dated = s.solved.marks.iter().find(|d| d.0 == id);
            let said: Vec<&str> = note
                .iter()
                .flat_map(|n| n.decided.iter().chain(&n.proposed))
                .map(|x| x.words.as_str())
                .collect();
            let open: Vec<&str> = note
                .iter()
                .flat_map(|n| &n.open)
                .map(|x| x.words.as_str())
                .collect();
            let on = m.settled.on.as_ref().map(|h| h.value);
            let position = match on {
                Some((a, Some(b))) => format!("{}, over {}", a.as_str(), b.as_str()),
                Some((a, None)) => a.as_str().to_string(),
                None => String::new(),
            };
            let position = match (position.as_str(), note) {
                ("", Some(n)) => n.place.clone(),
                (p, Some(n)) => format!("{p}; {}", n.place),
                (p, None) => p.to_string(),
            };
            let corners: Vec<String> = m
                .latest()
                .outline
                .0
                .iter()
                .map(|c| format!("{:.0},{:.0}", c.x, c.y))
                .collect();
            let photograph = s.picture.photographs.iter().find(|p| p.id == m.photograph);
            let unreadable = matches!(
                m.settled.lettering.as_ref().map(|h| &h.value),
                Some(Lettering::Unreadable)
            );
            vec![
                s.picture.name.clone(),
                id.clone(),
                if unreadable {
                    "[unreadable]".into()
                } else {
                    text.join(" / ")
                },
                dated
                    .map(|d| format!("{} (chance {})", d.1.years.edtf(), number(d.1.chance)))
                    .unwrap_or_default(),
                String::new(),
                said.join(" "),
                String::new(),
                method(m.kind().as_str()).into(),
                position,
                if text.is_empty() { "" } else { "Latin" }.into(),
                String::new(),
                String::new(),
                m.kind().as_str().replace('_', " "),
                photograph.map(|p| p.name()).unwrap_or_default(),
                corners.join(" "),
                by.unwrap_or_else(|| {
                    if text.is_empty() {
                        String::new()
                    } else {
                        "the program".into()
                    }
                }),
                lines
                    .iter()
                    .filter_map(|l| l.chance)
                    .reduce(f64::min)
                    .map(number)
                    .unwrap_or_default(),
                if m.settled.not_a_mark.is_some() {
                    "set aside as no mark".into()
                } else {
                    note.map(|n| n.standing.as_str().to_string())
                        .unwrap_or_default()
                },
                open.join(" "),
            ]
        })
        .collect()
}

fn method(kind: &str) -> &'static str {
    match kind {
        "printed_label" => "printed",
        "written_label" | "inscription" | "monogram" => "handwritten",
        "stamp" => "stamped",
        "stencil" => "stencilled",
        _ => "",
    }
}

fn readings(s: &Subject) -> Vec<Vec<String>> {
    let mut out = Vec::new();
    for m in s.marks {
        let looks = m.sightings.iter().flat_map(|s| &s.looks);
        for sight in looks {
            for (i, l) in sight.seen.reading.lines.iter().enumerate() {
                let b = l.bounds;
                out.push(vec![
                    m.id.to_string(),
                    sight.run.to_string(),
                    sight.at.clone(),
                    (i + 1).to_string(),
                    l.leiden.clone(),
                    l.text.clone(),
                    format!("{:.4}", l.confidence),
                    sight.seen.kind.as_str().replace('_', " "),
                    format!("{},{},{},{}", b.x, b.y, b.w, b.h),
                ]);
            }
        }
    }
    out
}

fn decisions(s: &Subject) -> Vec<Vec<String>> {
    let holds = holding(s.journal);
    s.journal
        .iter()
        .filter(|d| {
            let mut sightings = s.marks.iter().flat_map(|m| &m.sightings);
            sightings.any(|x| x.id == d.mark)
        })
        .map(|d| {
            vec![
                d.id.to_string(),
                d.mark.to_string(),
                d.author.at.clone(),
                d.author.by.clone(),
                d.act.words(),
                d.author.why.clone(),
                if holds.contains(&d.id) { "yes" } else { "no" }.into(),
            ]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lettering_of_figures_is_kept_as_text_and_numbers_stay_numbers() {
        for text in [
            "0417",
            "18.50",
            "1,234",
            "1e5",
            "1884-03-12",
            "12/3",
            "007",
            "5%",
            "10,20 30,40",
        ] {
            assert_eq!(guarded(text), format!("'{text}"));
        }
        for number in ["0", "417", "1893", "0.9500", "20 x 16", "1b", "No 7", ""] {
            assert_eq!(guarded(number), number);
        }
    }

    proptest! {
        #[test]
        fn no_cell_can_start_a_formula(cell in "\\PC{0,6}|[-=+@＝\t ]{0,3}[A-Z0-9(]{0,4}") {
            let kept = guarded(&cell);
            let first = kept.chars().find(|c| !matches!(c, ' ' | '\u{a0}'));
            prop_assert!(!matches!(first, Some('=' | '+' | '-' | '@' | '\t' | '\r' | '＝' | '＋' | '－' | '＠')));
            let text = format!("'{cell}");
            prop_assert!(kept == cell || kept == text);
        }
    }
}
