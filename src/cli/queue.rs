//! `dorso queue`.

use super::Outcome;
use crate::error::{Error, Kind};

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {}

/// Runs the command.
pub(crate) fn run(_arguments: Arguments) -> Outcome {
    Err(Error::new(
        Kind::Usage,
        "queue",
        "this command isn't built yet",
        "use a later version",
    ))
}
