//! `dorso fields`: what a typed reading states.

use super::{Finished, Outcome, contract, put, put_json, tell};
use crate::decisions::two;
use crate::error::Error;
use crate::gazetteer;
use crate::statements::{self, Statement};
use std::path::PathBuf;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Folder with the lists [default: DORSO_GAZETTEER, gazetteer, or the starter lists]
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// What the mark says; lines parted by " / ". A dot below a letter (U+0323) marks it as
    /// unclear, [..] that many lost letters, [---] an unknown number, [abc] letters supplied by you
    #[arg(required = true, value_name = "TEXT", allow_hyphen_values = true)]
    text: Vec<String>,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let lines = crate::readings::from_typed(&arguments.text.join(" "))?;
    let (lists, faults) = super::read::load(&gazetteer::locate(arguments.gazetteer.as_deref())?)?;
    for f in &faults {
        if f.severity == gazetteer::Severity::Unusable {
            tell(&Error::from(f));
        }
    }
    let lists = match super::read::kept() {
        Some(folder) => {
            let (lists, unkept) = statements::Lists::kept(&lists, &folder);
            unkept.iter().for_each(tell);
            lists
        }
        None => statements::Lists::new(&lists),
    };
    let said = statements::of(&lines, None, &lists);
    if arguments.json {
        put_json(&contract::Fields::new(&said))?;
    } else if said.is_empty() {
        put("Nothing in these words states a fact that could be told.\n")?;
    } else {
        put(&told(&said))?;
    }
    Ok(Finished::Well)
}

/// Statements for a person: chance, role, value, the entry, the words where they differ.
pub(super) fn told(said: &[Statement]) -> String {
    let mut out = String::new();
    for s in said {
        let role = s.role.told();
        out += &format!("  {:>5}  {role}: {}", two(s.chance), s.value);
        if let (Some(list), Some(entry)) = (&s.list, &s.entry) {
            out += &format!("  ({list}: {entry}, {})", two(s.listed));
        }
        if s.words != s.value {
            out += &format!("  <- {}", s.words);
        }
        out.push('\n');
    }
    out
}
