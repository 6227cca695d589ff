//! `dorso advise`: what photographs got of the marks that they show, and what another should bring.

use super::{Finished, Outcome, put, put_json, tell};
use crate::photograph;
use crate::taking::{self, Got};
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Photographs, or folders of them
    #[arg(required = true)]
    photos: Vec<PathBuf>,
    /// Print one JSON document instead of lines
    #[arg(long)]
    json: bool,
}

const FORMAT: &str = "dorso.advice/1";

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let mut finished = Finished::Well;
    let mut all: Vec<Value> = Vec::new();
    for file in photograph::expand(&arguments.photos) {
        let got = file.and_then(|f| Ok((taking::look(&photograph::open(&f)?.picture)?, f)));
        match got {
            Ok((got, file)) => {
                let name = file.display().to_string();
                if arguments.json {
                    all.push(as_json(&name, &got));
                } else {
                    put(&in_lines(&name, &got))?;
                }
            }
            Err(e) => {
                tell(&e);
                finished = Finished::WithFaults;
            }
        }
    }
    if arguments.json {
        put_json(&json!({ "format": FORMAT, "photographs": all }))?;
    }
    Ok(finished)
}

fn in_lines(name: &str, got: &Got) -> String {
    let mut out = format!("{name}: {}\n", got.words());
    for sentence in got.sentences() {
        out += &format!("  {sentence}\n");
    }
    out
}

fn as_json(name: &str, got: &Got) -> Value {
    json!({
        "file": name, "width": got.size.0, "height": got.size.1, "told": got.words(),
        "smallest_letters_px": got.smallest(), "asked": got.asked, "sentences": got.sentences(),
        "marks": got.marks,
    })
}
