//! `dorso store`: whether the store is sound, what of a damaged one can be rescued, and a copy of it while it is in use.

use super::keeping::StoreOption;
use super::note::settle;
use super::{Finished, Outcome, put, put_json};
use crate::decisions::{SqliteStore, health};
use crate::error::{Error, Kind};
use crate::written::Beside;
use serde_json::json;
use std::fmt::Write;
use std::path::PathBuf;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    deed: Deed,
    #[command(flatten)]
    store: StoreOption,
}

#[derive(clap::Subcommand, Debug)]
enum Deed {
    /// Look through the store and say what is wrong with it; nothing is written
    Check {
        /// Print one JSON document
        #[arg(long)]
        json: bool,
    },
    /// Bring all that can be read of a damaged store into a new file; the old one stays as it is
    Mend {
        /// The new file; there must be none yet
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
    /// Write a copy of the store, whatever else is reading or writing it
    Copy {
        /// The copy; there must be none yet
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
}

/// Runs the command.
pub(crate) fn run(a: Arguments) -> Outcome {
    let file = a.store.file()?;
    if !file.is_file() {
        return Err(Error::new(
            Kind::Store,
            file.display(),
            "there is no store here",
            "name its file with --store FILE",
        ));
    }
    match a.deed {
        Deed::Check { json } => check(&file, json),
        Deed::Mend { out } => mend(&file, &out),
        Deed::Copy { out } => {
            nothing_at(&out)?;
            let store = SqliteStore::open_existing(&file)?;
            let beside = Beside::begin(&out);
            if let Ok(beside) = &beside {
                store.snapshot(beside.path())?;
            }
            settle(&out, beside, false)?;
            put(&format!("{}\n", out.display()))?;
            Ok(Finished::Well)
        }
    }
}

fn check(file: &std::path::Path, as_json: bool) -> Outcome {
    let health = health::check(file)?;
    let sound = health.faults.is_empty();
    if as_json {
        let counts = health
            .counts
            .iter()
            .map(|(what, n)| ((*what).to_owned(), json!(n)));
        put_json(&json!({
            "format": "dorso.store_check/1",
            "store": file.display().to_string(),
            "version": health.version,
            "holds": counts.collect::<serde_json::Map<_, _>>(),
            "faults": health.faults,
        }))?;
    } else {
        let mut text = format!("{}, store version {}\n", file.display(), health.version);
        for (what, count) in &health.counts {
            let _ = writeln!(text, "  {count} {what}");
        }
        for fault in &health.faults {
            let _ = writeln!(text, "damaged: {fault}");
        }
        text += match sound {
            true => "Every page and every row is as it should be.\n",
            false => {
                "Keep this file as it is. Put back a copy from before if you have one; else bring what is whole into \
                 another file: dorso store mend --out FILE\n"
            }
        };
        put(&text)?;
    }
    Ok(match sound {
        true => Finished::Well,
        false => Finished::WithFaults,
    })
}

fn mend(file: &std::path::Path, out: &std::path::Path) -> Outcome {
    nothing_at(out)?;
    let rescued = health::mend(file, out)?;
    let lost: u64 = rescued.iter().map(|r| r.lost).sum();
    let mut text = format!("{} holds all that could be read:\n", out.display());
    for r in rescued.iter().filter(|r| r.kept > 0 || r.lost > 0) {
        let _ = match r.lost {
            0 => writeln!(text, "  {}: {} rows", r.table, r.kept),
            n => writeln!(
                text,
                "  {}: {} rows; at {n} places rows are lost",
                r.table, r.kept
            ),
        };
    }
    let _ = writeln!(
        text,
        "{} stays as it was. Work on with the new one: --store {}",
        file.display(),
        super::keeping::quoted(&out.display().to_string())
    );
    put(&text)?;
    Ok(match lost {
        0 => Finished::Well,
        _ => Finished::WithFaults,
    })
}

/// An error if something stands where the new file is to be.
fn nothing_at(out: &std::path::Path) -> crate::Result<()> {
    match out.exists() {
        false => Ok(()),
        true => Err(Error::new(
            Kind::Output,
            out.display(),
            "this file is there already and is left as it is",
            "name a new file with --out",
        )),
    }
}
