//! One error type: what kind, where, what is wrong, and what to do next.
//!
//! The text is one sentence on one line: `place: what; next.` It is printed as it stands; what steers a terminal
//! is shown as signs.

use crate::signs::line;
use std::fmt;

/// Result with [`Error`].
pub type Result<T> = std::result::Result<T, Error>;

/// What sort of fault it is; the command line turns it into an exit status.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The command or a parameter was used wrongly (exit status 2).
    Usage,
    /// A photograph can't be found, opened or decoded.
    Photograph,
    /// A list or a row of it can't be used.
    Gazetteer,
    /// A recogniser is missing or failed.
    Recogniser,
    /// The store can't be opened, read or written, or a decision doesn't fit it.
    Store,
    /// A result can't be written (full disk, no permission).
    Output,
    /// A date, a sign or another text can't be understood.
    Text,
}

/// An error with its place and the next step.
///
/// ```
/// use dorso_seeing::error::{Error, Kind};
/// let e = Error::new(Kind::Photograph, "back.jpg", "the file is empty", "copy it from the camera again");
/// assert_eq!(e.to_string(), "back.jpg: the file is empty; copy it from the camera again.");
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error {
    /// What sort of fault it is.
    pub kind: Kind,
    /// File, with row, column, mark or line where known.
    pub place: String,
    /// What is wrong.
    pub what: String,
    /// What the person can do about it.
    pub next: String,
}

impl Error {
    /// An error from its four parts.
    pub fn new(
        kind: Kind,
        place: impl fmt::Display,
        what: impl fmt::Display,
        next: impl fmt::Display,
    ) -> Self {
        Error {
            kind,
            place: place.to_string(),
            what: what.to_string(),
            next: next.to_string(),
        }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [place, what, next] = [&self.place, &self.what, &self.next].map(|t| line(t));
        write!(f, "{place}: {what}; {next}.")
    }
}

impl std::error::Error for Error {}
