//! `dorso evidence`: dates part by part, what can't be true together, and what to look up next.

use super::keeping::StoreOption;
use super::note::{only_or_named, own_clues, write_text};
use super::{Finished, Outcome, put, put_json};
use crate::decisions::{Store, now, queue, standing, two};
use crate::evidence::{MISREAD, Solved, apart, beside, chart, features, gather, questions, solve};
use serde_json::json;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Name and version of the JSON.
const FORMAT: &str = "dorso.evidence/1";

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The picture (its name or the beginning of it); may be left out if the store holds only one
    #[arg(value_name = "PICTURE")]
    picture: Option<String>,
    /// Write the chart of all intervals into this file (SVG)
    #[arg(long, value_name = "FILE")]
    chart: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long)]
    replace: bool,
    /// Folder of the lists, for dating clues of your own (clues.csv)
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    store: StoreOption,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let store = arguments.store.open()?;
    let picture = only_or_named(&store, arguments.picture.as_deref())?;
    let clues = own_clues(arguments.gazetteer.as_deref())?;
    let marks = store.marks(Some(picture.id))?;
    let journal = store.observations(Some(picture.id))?;
    let gathered = gather(&marks, &journal, &clues)?;
    let solved = solve(&gathered.back);
    let today = now();
    let items = queue(&marks, today.get(..10).unwrap_or(&today));
    let open = questions(
        &gathered.back,
        &solved,
        &items,
        &standing(&journal),
        &features()?,
    );
    let drawn = chart(&gathered.back, &solved);
    if let (Some(file), Some(svg)) = (&arguments.chart, &drawn) {
        write_text(file, svg, arguments.replace)?;
    }
    if arguments.json {
        let dated = |d: &crate::evidence::Dated| {
            json!({
                "edtf": d.years.edtf(), "not_before": d.years.from, "not_after": d.years.to,
                "chance": d.chance, "rests_on": d.rests_on,
                "place_only_proposed": d.proposed,
                "or": d.rivals.iter().map(|(y, p)| json!({"edtf": y.edtf(), "chance": p})).collect::<Vec<_>>(),
            })
        };
        put_json(&json!({
            "format": FORMAT,
            "picture": picture.name,
            "parts": solved.parts.iter().map(|(b, d)| json!({"part": b, "date": dated(d)})).collect::<Vec<_>>(),
            "marks": solved.marks.iter().map(|(m, d)| json!({"mark": m, "date": dated(d)})).collect::<Vec<_>>(),
            "part_not_told": gathered.unplaced,
            "conflicts": solved.conflicts,
            "apart": apart(&solved),
            "read_again": read_again(&solved),
            "beside": beside(&gathered.back, &solved),
            "questions": open,
        }))?;
        return Ok(Finished::Well);
    }
    let mut out = String::new();
    if solved.parts.is_empty() {
        out.push_str("No part of the object is dated by a mark whose place has been told.\n");
    }
    for (b, d) in &solved.parts {
        let _ = write!(
            out,
            "{}: {} ({})",
            b.as_str(),
            d.years.words(),
            two(d.chance)
        );
        for (y, p) in &d.rivals {
            let _ = write!(out, ", or {} ({})", y.words(), two(*p));
        }
        let _ = writeln!(out, "; rests on {}", d.rests());
    }
    for a in apart(&solved) {
        let _ = writeln!(
            out,
            "The {} ({}) and the {} ({}) may not have begun together ({}).",
            a.older.0.as_str(),
            a.older.1.words(),
            a.younger.0.as_str(),
            a.younger.1.words(),
            two(a.chance)
        );
    }
    for c in &solved.conflicts {
        let _ = writeln!(out, "Conflict ({}): {}.", two(c.chance), c.sides());
        for d in &c.dissolves {
            let _ = writeln!(
                out,
                "  It would be dissolved if {} ({}, {}), not \"{}\".",
                d.words,
                d.mark,
                two(d.chance),
                d.instead
            );
        }
        for m in &c.may_be {
            let _ = writeln!(out, "  Or {m}.");
        }
    }
    for b in beside(&gathered.back, &solved) {
        if (b.after - b.before).abs() >= 0.05 {
            let _ = writeln!(
                out,
                "{}, {}: beside the other evidence {} has a chance of {}, by the reading alone {}.",
                b.mark,
                b.about,
                b.entry,
                two(b.after),
                two(b.before)
            );
        }
    }
    if !gathered.unplaced.is_empty() {
        let _ = writeln!(
            out,
            "Dated, but nobody has told the part that bears them: {}.",
            gathered.unplaced.join(", ")
        );
    }
    out.push_str("What to look up or photograph next:\n");
    for (i, q) in open.iter().take(8).enumerate() {
        let _ = writeln!(out, "{}. {} {}", i + 1, q.ask, q.because);
    }
    out.push_str("A mark dates itself and at most the part that bears it, never the picture. Dorso authenticates nothing.\n");
    put(&out)?;
    Ok(Finished::Well)
}

/// Marks whose reading the other evidence speaks against: worth a second look.
fn read_again(solved: &Solved) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for c in &solved.conflicts {
        for d in c.dissolves.iter().filter(|d| d.words != MISREAD) {
            if !out.contains(&d.mark) {
                out.push(d.mark.clone());
            }
        }
    }
    out
}
