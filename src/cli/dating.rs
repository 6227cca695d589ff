//! `dorso dating`: the dating clues in a text and the interval that they leave.

use super::{Finished, Outcome, put, put_json, tell};
use crate::dating::clues::{Clue, Clues, Dating};
use crate::gazetteer::{Place, locate};
use std::path::PathBuf;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Folder with the lists; clues of your own are taken from clues.csv in it
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// What the mark says; lines parted by " / "
    #[arg(required = true, value_name = "TEXT", allow_hyphen_values = true)]
    text: Vec<String>,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let folder = match locate(arguments.gazetteer.as_deref())? {
        Place::Folder(dir) => Some(dir),
        Place::Starter => None,
    };
    let (clues, faults) = Clues::with_own(folder.as_deref())?;
    faults.iter().for_each(tell);
    let dating = clues.date(&arguments.text.join(" "));
    if arguments.json {
        put_json(&dating)?;
    } else {
        put(&told(&dating))?;
    }
    Ok(if faults.is_empty() {
        Finished::Well
    } else {
        Finished::WithFaults
    })
}

fn told(dating: &Dating) -> String {
    if dating.clues.is_empty() {
        return "No dating clue in these words.\n".into();
    }
    let mut out = String::new();
    for c in &dating.clues {
        out += &format!("{}: {}; {}.\n", c.words, c.clue, dates(c));
        let degree = match c.sure_after {
            Some(after) => format!("not before: {}; not after: {}", c.sure.told(), after.told()),
            None => c.sure.told().to_string(),
        };
        out += &format!("    {degree}. Source: {}.", c.source);
        if !c.note.is_empty() {
            out += &format!(" {}.", c.note);
        }
        out += if c.cuts {
            "\n"
        } else {
            " Told only, not used.\n"
        };
    }
    for c in &dating.conflicts {
        out += &format!("Conflict: {c}\n");
    }
    out += &match (&dating.not_before, &dating.not_after) {
        (None, None) => "No interval is left.\n".into(),
        _ => format!("The mark: {} ({}).\n", spans(&dating.edtf), dating.edtf),
    };
    let today = super::queue::today();
    let use_ends = dating
        .in_use_until
        .as_ref()
        .filter(|until| until.as_str() < &today[..4]);
    if let (Some(until), Some(last)) = (use_ends, &dating.not_after) {
        out += &format!(
            "Of marks like this one in twenty or fewer were put on after {until}: what was usual to {last} stayed in use.\n"
        );
    }
    out += "A clue dates the mark that bears it, never the picture; old labels and plates stayed in use, so allow some years after.\n";
    out
}

/// The spans of a set in EDTF in words: "1837-06-20 to 1901-01-22, or not before 1952-02-06".
fn spans(set: &str) -> String {
    let each = set.trim_matches(['[', ']']).split(',').map(|span| {
        let (a, b) = span.split_once("..").unwrap_or((span, span));
        let end = |t: &str| Some(t.trim().to_owned()).filter(|t| !t.is_empty());
        one(end(a).as_deref(), end(b).as_deref())
    });
    each.collect::<Vec<_>>().join(", or ")
}

/// One span in words.
fn one(a: Option<&str>, b: Option<&str>) -> String {
    match (a, b) {
        (Some(a), Some(b)) if a == b => a.to_string(),
        (Some(a), Some(b)) => format!("{a} to {b}"),
        (Some(a), None) => format!("not before {a}"),
        (None, Some(b)) => format!("not after {b}"),
        (None, None) => "no date of its own".into(),
    }
}

fn dates(c: &Clue) -> String {
    if c.spans.is_empty() {
        return one(c.not_before.as_deref(), c.not_after.as_deref());
    }
    let all: Vec<String> = c
        .spans
        .iter()
        .map(|[a, b]| one(a.as_deref(), b.as_deref()))
        .collect();
    all.join(", or ")
}

#[cfg(test)]
mod tests {
    use super::spans;

    #[test]
    fn spans_that_are_open_at_an_end_are_told_so() {
        assert_eq!(
            spans("[..1974~,1980..1985,1990..]"),
            "not after 1974~, or 1980 to 1985, or not before 1990"
        );
        assert_eq!(spans("1871"), "1871");
        assert_eq!(spans("[1875..1885]"), "1875 to 1885");
    }
}
