//! What is kept: pictures, photographs, marks, readings, proposals, and what people decided.
//!
//! In: what a run saw ([`Run`]), how photographs lie on each other ([`Laying`]) and what a person
//! decided ([`Act`]). Out: for each mark of a picture all its sightings, one a photograph, and what
//! holds of it now ([`KeptMark`]). Every run adds, nothing is overwritten;
//! decisions are a journal, and undoing is a new entry. Photographs are known by the SHA-256 of
//! their bytes; their pixels are not kept.

use crate::error::{Error, Kind, Result};
use crate::geometry::{Quad, Rect};
use crate::marks::{Bearing, MarkKind};
use crate::monogram;
use crate::photograph::{self, Photograph};
use crate::proposals::{self, Rivals};
use crate::readings::Reading;
use crate::statements::Statement;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

mod doubts;
mod ids;
mod journal;
mod kept;
mod observations;
mod queue;
mod settled;
mod sqlite;
mod stated;
mod tie;
mod together;

pub use doubts::and;
pub use doubts::{Asked, Doubt, DoubtKind, asked, doubts, reasons, two, worth};
pub use ids::MarkId;
pub use journal::{
    Act, Author, Bearer, Decision, DecisionId, Likeness, Taken, fold, fold_by, holding,
    last_to_undo,
};
pub use kept::{KeptMark, Look, Maybe, Sighting, at_places};
pub use observations::{
    Deed, Happening, Held as EventHeld, Observation, ObservationId, Side, Sight, UNITS, sides,
    standing,
};
pub use queue::{Item, State, item, queue};
pub use settled::{Answer, Held, Lettering, Named, Settled, Waiting};
pub use sqlite::health;
pub use sqlite::{
    Design, Drawing, FoundMarks, Guard, InOrder, Kept, Narrow, SqliteStore, Tally, Together, Visit,
    Wanted, Weighed, Worded, default_path,
};
pub use stated::{NOTHING, Said, Stated, corrected, says};
pub use together::{Joined, Laying, Placed, Whole};

/// A mark as a run saw and read it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeenMark {
    /// `m1`, `m2`, ... within its photograph and run.
    pub label: String,
    /// What sort of mark.
    pub kind: MarkKind,
    /// Corners on the upright photograph, px, in reading order.
    pub outline: Quad,
    /// Chance that it carries lettering, 0 to 1.
    pub lettering: f64,
    /// Reading; no lines where nothing could be read.
    pub reading: Reading,
    /// Rivals for each list, the list most likely named first.
    pub rivals: Vec<Rivals>,
    /// What it may lie on, proposed from the photograph; `None` where nothing was.
    pub bearing: Option<Bearing>,
    /// What it states in its own words; empty in readings from before this was told.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub statements: Vec<Statement>,
    /// What it was seen as where it was looked at as a monogram.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sign: Option<Sign>,
}

/// A monogram as it was seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sign {
    /// Its letters and its design.
    pub seen: monogram::Seen,
    /// Artists who may be meant; none where there is no list of them.
    pub rivals: Vec<Rivals>,
}

impl SeenMark {
    /// Reads it as the monogram that it was seen as, if it was and letters were seen: those stand in place of what
    /// readers of lines made of it, but for a date in figures.
    pub fn as_sign(&mut self) {
        let Some(sign) = &self.sign else {
            return;
        };
        let (w, h) = self.outline.size();
        let within = Rect::new(0, 0, w as u32, h as u32);
        let Some(letters) = sign.seen.line(self.outline.bounds(), within) else {
            return;
        };
        let lines = &mut self.reading.lines;
        lines.retain(|l| proposals::date_beside(l).is_some());
        lines.insert(0, letters);
        self.rivals.clone_from(&sign.rivals);
        self.statements.clear();
    }
}

/// A photograph as a run saw and read it.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenPhotograph {
    /// Where the file is; made absolute when recorded.
    pub file: PathBuf,
    /// SHA-256 of the file's bytes, 64 hex digits.
    pub sha256: String,
    /// px, upright.
    pub width: u32,
    /// px, upright.
    pub height: u32,
    /// Positive where the text runs down to the right.
    pub skew_degrees: f64,
    /// Marks in reading order of the photograph.
    pub marks: Vec<SeenMark>,
}

/// One reading of photographs of one picture.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Run {
    /// Name that the person gave the picture; `None`: see `joins`.
    pub picture: Option<String>,
    /// Picture (number in the store) that new photographs join if the person named none. `None`:
    /// the one that the first known photograph of the run belongs to, else a new one.
    pub joins: Option<i64>,
    /// Name of a new picture that the person didn't name; `None`: that of the first file.
    pub suggested: Option<String>,
    /// Who ran it.
    pub by: String,
    /// ISO 8601 with offset, as from [`now`].
    pub at: String,
    /// Program and recognisers with versions, for the record.
    pub program: String,
    /// What was seen.
    pub photographs: Vec<SeenPhotograph>,
}

/// What recording a run came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recorded {
    /// Name of the picture that new photographs were put under.
    pub picture: String,
    /// Its number in the store.
    pub picture_id: i64,
    /// For each photograph of the run, for each of its marks: the lasting number of its sighting.
    pub marks: Vec<Vec<MarkId>>,
    /// What the person should know, one sentence each: a photograph known under another picture, ...
    pub remarks: Vec<String>,
}

/// A picture: the object whose back was photographed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Picture {
    /// Number in the store.
    pub id: i64,
    /// Name, unique regardless of case.
    pub name: String,
    /// Its photographs in the order in which they were first read.
    pub photographs: Vec<KeptPhotograph>,
}

/// A photograph in the store.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptPhotograph {
    /// Number in the store.
    pub id: i64,
    /// Identity.
    pub sha256: String,
    /// px, upright.
    pub width: u32,
    /// px, upright.
    pub height: u32,
    /// Where its file was seen, the latest place first.
    pub files: Vec<PathBuf>,
    /// Number of the last run that read it.
    pub last_run: i64,
}

/// Why the pixels of a photograph aren't at hand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Missing {
    /// No file of it was ever seen.
    Unseen,
    /// Its file holds other bytes now.
    Changed,
    /// There is no file where it was last seen.
    Gone,
    /// Its file can't be opened, for this reason.
    Unopened(String),
}

impl KeptPhotograph {
    /// The photograph from any of its known places, if the file there still has the same bytes.
    ///
    /// # Errors
    /// What is the matter with the last of the places.
    pub fn open(&self) -> std::result::Result<Photograph, Missing> {
        let mut why = Missing::Unseen;
        for file in &self.files {
            match photograph::open(file) {
                Ok(photo) if photo.sha256 == self.sha256 => return Ok(photo),
                Ok(_) => why = Missing::Changed,
                Err(_) if !file.exists() => why = Missing::Gone,
                Err(e) => why = Missing::Unopened(e.what),
            }
        }
        Err(why)
    }

    /// File name of the latest place, for sentences.
    pub fn name(&self) -> String {
        self.files.first().and_then(|f| f.file_name()).map_or_else(
            || format!("photograph {}", self.id),
            |n| n.to_string_lossy().into_owned(),
        )
    }
}

/// Keeps runs and decisions.
pub trait Store {
    /// Adds a run: all of it or nothing.
    ///
    /// # Errors
    /// `Kind::Store`: full disk, locked, no permission.
    fn record_run(&mut self, run: &Run) -> Result<Recorded>;

    /// Number of the picture that the first known one of these photographs (by SHA-256) belongs to.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    fn picture_with(&self, sha256: &[String]) -> Result<Option<i64>>;

    /// Adds a decision about a mark to the journal.
    ///
    /// # Errors
    /// `Kind::Store` if the mark isn't known, or an undoing names an entry that is of another
    /// mark, isn't there or doesn't hold.
    fn decide(&mut self, mark: MarkId, act: &Act, author: &Author) -> Result<Decision>;

    /// The whole journal in order of number.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    fn journal(&self) -> Result<Vec<Decision>>;

    /// All pictures in order of name.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    fn pictures(&self) -> Result<Vec<Picture>>;

    /// Marks of one picture (by number) or all, in order of photograph and number.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    fn marks(&self, picture: Option<i64>) -> Result<Vec<KeptMark>>;

    /// One mark.
    ///
    /// # Errors
    /// `Kind::Store` if there is no such mark or it can't be read.
    fn mark(&self, id: MarkId) -> Result<KeptMark>;

    /// Adds an observation about a picture (by number) to its journal.
    ///
    /// # Errors
    /// `Kind::Store` if the picture isn't known, or an undoing names an entry that doesn't hold.
    fn observe(&mut self, picture: i64, sight: &Sight, author: &Author) -> Result<Observation>;

    /// The observations of one picture (by number) or all, in order of number, undone ones too.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    fn observations(&self, picture: Option<i64>) -> Result<Vec<Observation>>;

    /// A setting, if it was ever set.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    fn setting(&self, name: &str) -> Result<Option<String>>;

    /// Sets a setting.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be written.
    fn set(&mut self, name: &str, value: &str) -> Result<()>;
}

/// Whether this machine's clock stands at a moment that a record can hold.
///
/// # Errors
/// `Kind::Usage` if it doesn't.
pub fn check_clock() -> Result<()> {
    clock_at(std::time::SystemTime::now())
}

fn clock_at(now: std::time::SystemTime) -> Result<()> {
    /// A day less than the last one of the calendar, wherever on earth that is.
    const LAST: i64 = 253_402_300_799 - 2 * 86_400;
    let known = jiff::Timestamp::try_from(now).is_ok_and(|t| (0..LAST).contains(&t.as_second()));
    match known {
        true => Ok(()),
        false => Err(Error::new(
            Kind::Usage,
            "this machine's clock",
            "it stands at a year that no record can hold",
            "set it right, then run the command again",
        )),
    }
}

/// The present moment with the offset from UTC of this machine, to the second:
/// `2024-05-03T10:12:40+01:00`.
pub fn now() -> String {
    jiff::Zoned::now()
        .strftime("%Y-%m-%dT%H:%M:%S%:z")
        .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::{Duration, SystemTime};

    #[test]
    fn a_clock_thousands_of_years_ahead_is_told() {
        assert!(check_clock().is_ok());
        for years in [7_980, 9_500] {
            let ahead = Duration::from_secs(years * 366 * 86_400);
            let told = clock_at(SystemTime::now() + ahead).expect_err("too late");
            assert!(told.to_string().contains("clock"));
        }
        assert!(clock_at(SystemTime::UNIX_EPOCH - Duration::from_secs(1)).is_err());
    }
}
