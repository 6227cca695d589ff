//! The command line: one file a command; `contract` shapes the JSON that outside scripts rely on.
//!
//! Standard output holds only the result; reasons go to standard error, one sentence each. Exit
//! status 0 success, 2 wrong usage, 1 any other failure.

use crate::error::{Error, Kind, Result};
use crate::{decisions, limits, signs};
use clap::{Parser, Subcommand};
use std::io::Write;
use std::process::ExitCode;

mod advise;
pub mod contract;
mod dating;
mod desk;
mod enhance;
mod evaluate;
mod evidence;
mod export;
mod fields;
mod gazetteer;
mod keeping;
mod learn;
mod licences;
mod matching;
mod monogram;
mod note;
mod observe;
mod queue;
mod read;
mod reword;
mod seen_run;
mod settle;
mod side;
mod store;

/// Reads the marks on the backs of old pictures.
#[derive(Parser, Debug)]
#[command(name = "dorso", version, about)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand, Debug)]
enum Command {
    /// Read photographs of the back of one picture
    Read(read::Arguments),
    /// What photographs got, and what another should bring, while they can still be taken
    Advise(advise::Arguments),
    /// Write the cleaned pictures that reading works on
    Enhance(enhance::Arguments),
    /// Proposals from the lists for a reading typed by a person
    Match(matching::Arguments),
    /// What a typed reading states: maker, town, title, lot and the like
    Fields(fields::Arguments),
    /// Who may have signed with these initials
    Monogram(monogram::Arguments),
    /// Check, add to or import the lists
    Gazetteer(gazetteer::Arguments),
    /// The dating clues in a text and the interval that they leave
    Dating(dating::Arguments),
    /// Measure the program on a folder of photographs with known texts
    Evaluate(evaluate::Arguments),
    /// List what needs a person, the items that matter most first
    Queue(queue::Arguments),
    /// Record a decision, or undo one
    Settle(settle::Arguments),
    /// Learn from your own readings how far the program's chances are to be believed
    Learn(learn::Arguments),
    /// Keep what is seen on the object beside the lettering
    Observe(observe::Arguments),
    /// Dates part by part, what can't be true together, and what to look up next
    Evidence(evidence::Arguments),
    /// Settle the doubtful readings in a browser, from the keyboard
    Desk(desk::Arguments),
    /// Write the provenance note of a picture
    Note(note::Arguments),
    /// Put a passage of the note into your own words
    Reword(reword::Arguments),
    /// Hand a picture on in forms that other programs read, or the whole store as one archive
    Export(export::Arguments),
    /// Take in an archive as a new store
    TakeIn(export::TakeIn),
    /// Check, copy or mend the store
    Store(store::Arguments),
    /// What the program is made of, with its licences
    Licences,
}

/// What a command hands back: done, or done with some inputs that failed (already told on
/// standard error), or an error that ends it.
pub(crate) type Outcome = std::result::Result<Finished, Error>;

/// How a command that ran to its end finished.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Finished {
    /// Everything was done.
    Well,
    /// Some inputs failed and were told; the rest was done.
    WithFaults,
}

/// Stack of a thread that reads lines, bytes; what is never used takes no memory.
const WORKER_STACK: usize = 64 << 20;

/// Threads that read lines: one that waits for a network takes up another line meanwhile, on top of its stack, so that
/// a back with very many lines would outgrow the usual 2 MiB.
fn workers() -> Result<()> {
    let threads = rayon::ThreadPoolBuilder::new().stack_size(WORKER_STACK);
    threads.build_global().map_err(|e| {
        let what = format!("its threads can't be started ({e})");
        Error::new(
            Kind::Recogniser,
            "dorso",
            what,
            "close other programs and try again",
        )
    })
}

/// Parses, calls, prints, and gives the exit status.
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(a) => a,
        Err(e) => {
            let wrong = e.use_stderr();
            let text = e.render().to_string();
            let text = signs::shown(&text);
            let _ = match wrong {
                true => std::io::stderr().write_all(text.as_bytes()),
                false => std::io::stdout().write_all(text.as_bytes()),
            };
            return ExitCode::from(if wrong { 2 } else { 0 });
        }
    };
    let ready = limits::check()
        .and_then(|()| decisions::check_clock())
        .and_then(|()| workers());
    if let Err(e) = ready {
        tell(&e);
        return ExitCode::from(2);
    }
    let outcome = match arguments.command {
        Command::Read(a) => read::run(a),
        Command::Advise(a) => advise::run(a),
        Command::Enhance(a) => enhance::run(a),
        Command::Match(a) => matching::run(a),
        Command::Fields(a) => fields::run(a),
        Command::Monogram(a) => monogram::run(a),
        Command::Gazetteer(a) => gazetteer::run(a),
        Command::Dating(a) => dating::run(a),
        Command::Evaluate(a) => evaluate::run(a),
        Command::Queue(a) => queue::run(a),
        Command::Settle(a) => settle::run(a),
        Command::Learn(a) => learn::run(a),
        Command::Observe(a) => observe::run(a),
        Command::Evidence(a) => evidence::run(a),
        Command::Desk(a) => desk::run(a),
        Command::Note(a) => note::run(a),
        Command::Reword(a) => reword::run(a),
        Command::Export(a) => export::run(a),
        Command::TakeIn(a) => export::take_in(a),
        Command::Store(a) => store::run(a),
        Command::Licences => licences::run(),
    };
    match outcome {
        Ok(Finished::Well) => ExitCode::SUCCESS,
        Ok(Finished::WithFaults) => ExitCode::from(1),
        Err(e) => {
            tell(&e);
            ExitCode::from(if e.kind == Kind::Usage { 2 } else { 1 })
        }
    }
}

/// One fault to standard error, one sentence on one line.
pub(crate) fn tell(error: &Error) {
    eprintln!("dorso: {error}");
}

/// Writes the result to standard output; a full disk or a closed pipe is an error, not a panic.
pub(crate) fn put(text: &str) -> crate::Result<()> {
    put_bytes(signs::shown(text).as_bytes())
}

/// The same for what is no text, or is told as it stands.
pub(crate) fn put_bytes(bytes: &[u8]) -> crate::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(bytes)
        .and_then(|()| out.flush())
        .map_err(|e| {
            Error::new(
                Kind::Output,
                "standard output",
                format!("the result can't be written ({e})"),
                "make room or write to another place, then run the command again",
            )
        })
}

/// Prints one JSON document.
pub(crate) fn put_json(value: &impl serde::Serialize) -> crate::Result<()> {
    put_bytes(signs::json(&(pretty(value)? + "\n")).as_bytes())
}

/// JSON as it is printed.
pub(crate) fn pretty(value: &impl serde::Serialize) -> crate::Result<String> {
    serde_json::to_string_pretty(value).map_err(|e| {
        Error::new(
            Kind::Output,
            "JSON result",
            format!("it can't be written ({e})"),
            "report this with the command that you used",
        )
    })
}
