//! `dorso learn`: from the person's own readings and decisions, how far the program's chances are to be
//! believed.

use super::keeping::{AuthorOptions, StoreOption};
use super::{Finished, Outcome, put, put_json};
use crate::decisions::{KeptMark, Lettering, NOTHING};
use crate::error::{Error, Kind, Result};
use crate::measure::corrections::measured as measured_on;
use crate::readings::learnt::{self, Learnt, Measured, Pair, Row};
use crate::readings::{Line, Reading, from_typed};
use crate::statements::said::heard;
use serde_json::json;
use std::fmt::Write as _;
use std::path::PathBuf;

mod naming;

/// Name and version of the JSON.
const FORMAT: &str = "dorso.learnt/1";

/// Weight of a reader of the user's own that is as good as the vote; that of the line model.
const EQUAL: f64 = 2.5;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Tell what would change and keep nothing
    #[arg(long = "try", conflicts_with = "undo")]
    attempt: bool,
    /// Undo what was learnt under this number; what held before holds again
    #[arg(long, value_name = "NUMBER")]
    undo: Option<usize>,
    /// Write a picture (SVG): do the chances of what marks name keep their promise, before and after
    #[arg(long, value_name = "FILE", conflicts_with = "undo")]
    diagram: Option<PathBuf>,
    /// Folder with the lists [default: DORSO_GAZETTEER, gazetteer, or the starter lists]
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    #[command(flatten)]
    store: StoreOption,
    #[command(flatten)]
    author: AuthorOptions,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// Letters of the person's readings beside the program's, and how the own reader did.
#[derive(Default)]
struct Gathered {
    /// Every second mark: fitted on.
    fit: Vec<Pair>,
    /// The other marks: measured on.
    held: Vec<Pair>,
    /// Letters that the own reader and the vote got right, and all.
    own: (f64, f64, f64),
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let store = arguments.store.open()?;
    let file = learnt::beside(&arguments.store.file()?);
    let rows = learnt::rows(&file)?;
    let author = arguments.author.author()?;
    let mut row = Row {
        number: 0,
        by: author.by,
        at: author.at,
        why: author.why,
        learnt: None,
        measured: None,
        weighing: None,
        weighed: None,
        heard: Vec::new(),
        undoes: None,
    };
    if let Some(number) = arguments.undo {
        undoable(&rows, number)?;
        row.undoes = Some(number);
        learnt::add(&file, &mut row)?;
        let all = learnt::rows(&file)?;
        let now = learnt::holding(&all).map(|r| r.number);
        if arguments.json {
            put_json(&json!({"format": FORMAT, "undone": number, "holds": now}))?;
        } else {
            let holds = now.map_or("nothing learnt holds now".into(), |n| {
                format!("number {n} holds again")
            });
            put(&format!("Undone: number {number}; {holds}.\n"))?;
        }
        return Ok(Finished::Well);
    }
    let marks = store.decided_marks()?;
    let found = gather(&marks, &rows);
    let enough = found.fit.len() >= learnt::FEWEST && found.held.len() >= learnt::FEWEST;
    let mut fitted = Learnt::nothing();
    let mut measured = None;
    let mut better = false;
    if enough {
        let m = measured_on(&Learnt::fit(&found.fit), &found.held);
        better = m.log_loss.1 < m.log_loss.0 - 1e-4;
        measured = Some(m);
        if better {
            let all: Vec<Pair> = found.fit.iter().chain(&found.held).cloned().collect();
            fitted = Learnt::fit(&all);
        }
    }
    fitted.own_weight = own_weight(found.own);
    let decided = naming::decided(&marks, arguments.gazetteer.as_deref())?;
    let named = naming::learn(&decided);
    if let Some(file) = &arguments.diagram {
        naming::draw(&decided, &named, file)?;
    }
    let said = marks.iter().flat_map(|m| &m.settled.said);
    row.heard = heard(said.map(|h| (h.value.words.as_str(), h.value.role)));
    let new = row.heard != learnt::holding(&rows).map_or(Vec::new(), |r| r.heard.clone());
    let keep =
        (better || fitted.own_weight.is_some() || named.better() || new) && !arguments.attempt;
    row.learnt = Some(fitted);
    row.measured = measured;
    row.weighing = named.better().then_some(named.tempering);
    row.weighed = named.weighed;
    if keep {
        learnt::add(&file, &mut row)?;
    }
    if arguments.json {
        put_json(&json!({
            "format": FORMAT,
            "number": keep.then_some(row.number),
            "letters": found.fit.len() + found.held.len(),
            "better": better,
            "learnt": row.learnt,
            "measured": row.measured,
            "decisions": decided.len(),
            "weighing": row.weighing,
            "weighed": row.weighed,
            "heard": row.heard,
        }))?;
    } else {
        let told = words(&row, &found, enough, better);
        put(&(told + &naming::words(decided.len(), &named) + &kept(&row, keep)))?;
    }
    Ok(Finished::Well)
}

fn undoable(rows: &[Row], number: usize) -> Result<()> {
    let undone = rows.iter().any(|r| r.undoes == Some(number));
    let there = rows
        .iter()
        .any(|r| r.number == number && r.learnt.is_some());
    if there && !undone {
        return Ok(());
    }
    let what = if undone {
        "this is undone already"
    } else {
        "nothing was learnt under this number"
    };
    let next = match learnt::holding(rows) {
        Some(r) => format!("undo number {}, which holds now", r.number),
        None => "there is nothing to undo".into(),
    };
    Err(Error::new(
        Kind::Usage,
        format!("number {number}"),
        what,
        next,
    ))
}

fn gather(marks: &[KeptMark], rows: &[Row]) -> Gathered {
    let mut out = Gathered::default();
    let mut n = 0usize;
    for mark in marks {
        let Some(Lettering::Read(typed)) = mark.settled.lettering.as_ref().map(|h| &h.value) else {
            continue;
        };
        // A reading that can't be parsed was kept before its signs were checked: it teaches nothing.
        let Ok(truth) = from_typed(&typed.join("\n")) else {
            continue;
        };
        let reading = untempered(&mark.latest().reading, rows);
        let pairs = learnt::pairs(&reading, &truth);
        if pairs.is_empty() {
            continue;
        }
        n += 1;
        own(&reading, &truth, &mut out.own);
        if n % 2 == 1 {
            out.fit.extend(pairs);
        } else {
            out.held.extend(pairs);
        }
    }
    out
}

/// The reading with the chances that it would have without what was learnt before.
fn untempered(reading: &Reading, rows: &[Row]) -> Reading {
    let mut out = reading.clone();
    for voter in &reading.voters {
        let number = voter.strip_prefix("learnt ").and_then(|n| n.parse().ok());
        let row = rows.iter().find(|r| Some(r.number) == number);
        if let Some(known) = row.and_then(|r| r.learnt.as_ref()) {
            for c in out.lines.iter_mut().flat_map(|l| &mut l.characters) {
                c.confidence = known.before(c);
            }
        }
    }
    out
}

/// Adds to (right by the own reader, right by the vote, all) the letters of lines that it read.
fn own(reading: &Reading, truth: &[Line], sums: &mut (f64, f64, f64)) {
    for line in &reading.own {
        let like = |t: &&Line| learnt::likeness(&t.text, &line.text);
        let Some(nearest) = truth.iter().max_by(|a, b| like(a).total_cmp(&like(b))) else {
            continue;
        };
        let voted = reading
            .lines
            .iter()
            .map(|l| learnt::likeness(&l.text, &nearest.text))
            .fold(0.0, f64::max);
        let letters = nearest.text.chars().count() as f64;
        sums.0 += like(&nearest) * letters;
        sums.1 += voted * letters;
        sums.2 += letters;
    }
}

/// By the odds of a right letter, beside those of the vote; nothing if it read too little.
fn own_weight((own, voted, all): (f64, f64, f64)) -> Option<f64> {
    if all < learnt::FEWEST as f64 {
        return None;
    }
    let odds = |right: f64| {
        let p = (right / all).clamp(0.02, 0.98);
        p / (1.0 - p)
    };
    Some((EQUAL * odds(own) / odds(voted)).clamp(0.1, EQUAL))
}

fn words(row: &Row, found: &Gathered, enough: bool, better: bool) -> String {
    let mut out = format!(
        "{} letters of your readings stand beside the program's.\n",
        found.fit.len() + found.held.len()
    );
    if !enough {
        let _ = writeln!(
            out,
            "Too few to learn from: {} are needed in each half of the marks; settle more readings.",
            learnt::FEWEST
        );
    }
    for h in &row.heard {
        let role = h.role.as_deref().unwrap_or(NOTHING).replace('_', " ");
        let _ = writeln!(
            out,
            "\"{}\": {role}, on {} of {} marks on which you said so.",
            h.words, h.times, h.of
        );
    }
    if let Some(m) = &row.measured {
        out += &told(m);
        if !better {
            out.push_str("That is no gain: the chances stay as they are.\n");
        }
    }
    if let Some(learnt) = &row.learnt {
        if better {
            let mut often: Vec<(usize, &str, &str)> = learnt
                .taken_for
                .iter()
                .flat_map(|(r, m)| m.iter().map(move |(t, &k)| (k, r.as_str(), t.as_str())))
                .collect();
            often.sort_by_key(|o| std::cmp::Reverse(o.0));
            for (k, read, truth) in often.iter().take(8) {
                let truth = if truth.is_empty() { "nothing" } else { truth };
                let _ = writeln!(out, "  {read} stood for {truth}: {k}");
            }
        }
        if let Some(weight) = learnt.own_weight {
            let _ = writeln!(
                out,
                "Your own reader's vote weighs {weight:.2} from now on."
            );
        }
    }
    out
}

fn kept(row: &Row, kept: bool) -> String {
    if kept {
        format!(
            "Kept as number {0}; dorso learn --undo {0} takes it back.\n",
            row.number
        )
    } else {
        "Nothing was kept.\n".into()
    }
}

fn told(m: &Measured) -> String {
    let line = |what: &str, pair: (f64, f64)| format!("  {what}: {:.3} → {:.3}\n", pair.0, pair.1);
    format!("On {} letters that it wasn't fitted on:\n", m.letters)
        + &line("log loss", m.log_loss)
        + &line("calibration error", m.calibration_error)
        + &line(
            "chance of what you read, where the program was wrong",
            m.chance_of_truth_where_wrong,
        )
}
