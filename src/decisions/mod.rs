//! What is kept: pictures, photographs, marks, readings, proposals, and what people decided.
//!
//! In: what a run saw ([`Run`]) and what a person decided ([`Act`]). Out: for each mark all its
//! sightings and what holds of it now ([`KeptMark`]). Every run adds, nothing is overwritten;
//! decisions are a journal, and undoing is a new entry. Photographs are known by the SHA-256 of
//! their bytes; their pixels are not kept.

use crate::error::Result;
use crate::geometry::Quad;
use crate::marks::{Bearing, MarkKind};
use crate::proposals::{Proposal, Rivals};
use crate::readings::Reading;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

mod doubts;
mod ids;
mod journal;
mod observations;
mod queue;
mod settled;
mod sqlite;
mod tie;

pub use doubts::{Doubt, DoubtKind, doubts, reasons, two, worth};
pub use ids::MarkId;
pub use journal::{Act, Author, Bearer, Decision, DecisionId, Taken, fold, holding, last_to_undo};
pub use observations::{
    Deed, Happening, Held as EventHeld, Observation, ObservationId, Sight, standing,
};
pub use queue::{Item, State, item, queue};
pub use settled::{Answer, Held, Lettering, Named, Settled, Waiting};
pub use sqlite::{Drawing, Due, Guard, Kept, SqliteStore, Tally, Together, default_path};

/// A mark as a run saw and read it.
#[derive(Debug, Clone, PartialEq)]
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
    /// For each photograph of the run, for each of its marks: its lasting number in the store.
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

impl KeptPhotograph {
    /// File name of the latest place, for sentences.
    pub fn name(&self) -> String {
        self.files.first().and_then(|f| f.file_name()).map_or_else(
            || format!("photograph {}", self.id),
            |n| n.to_string_lossy().into_owned(),
        )
    }
}

/// One run's view of a mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// Number of the reading in the store.
    pub id: i64,
    /// Number of the run.
    pub run: i64,
    /// When it ran, ISO 8601 with offset.
    pub at: String,
    /// True where a person drew the outline and the program only read within it.
    pub by_hand: bool,
    /// What was seen.
    pub seen: SeenMark,
}

/// A mark in the store: everything that was seen of it and what holds now.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptMark {
    /// Lasting number.
    pub id: MarkId,
    /// Picture it belongs to.
    pub picture: String,
    /// Photograph it is on (number in the store).
    pub photograph: i64,
    /// All sightings, the oldest first; never empty.
    pub sightings: Vec<Sighting>,
    /// True if the last run that read the photograph didn't find it.
    pub missing: bool,
    /// What a person decided, folded.
    pub settled: Settled,
    /// The rivals of [`KeptMark::latest`], weighed beside the rest of the picture (its other dates,
    /// towns that other marks name) and what was taken on other pictures, as last kept with
    /// [`SqliteStore::keep_weights`]; the same as there where [`SqliteStore::weigh_beside`] is off.
    pub rivals: Vec<Rivals>,
    /// Dates here that can't be true beside others of the picture, and the reading that would
    /// dissolve it; sentences without a full stop, as [`SqliteStore::hold`] last kept them.
    pub conflicts: Vec<String>,
}

impl KeptMark {
    /// The sighting that counts: the one whose outline a person drew, else the newest by the
    /// program.
    pub fn latest(&self) -> &SeenMark {
        &self.sighting().seen
    }

    /// As [`KeptMark::latest`], with its number and run.
    pub fn sighting(&self) -> &Sighting {
        let drawn = self.settled.drawn.as_ref().map(|h| h.value);
        let all = || self.sightings.iter().rev();
        let found = all()
            .find(|s| Some(s.id) == drawn)
            .or_else(|| all().find(|s| !s.by_hand));
        // A mark is only ever recorded together with its first sighting.
        found.unwrap_or(&self.sightings[self.sightings.len() - 1])
    }

    /// True where a person had added the mark and took that back.
    fn withdrawn(&self) -> bool {
        self.settled.drawn.is_none() && self.sightings.iter().all(|s| s.by_hand)
    }

    /// Kind: as a person set it, else as found.
    pub fn kind(&self) -> MarkKind {
        self.settled
            .kind
            .as_ref()
            .map_or(self.latest().kind, |h| h.value)
    }

    /// Name of the cleaned picture that a person chose for it, if they did.
    pub fn chosen(&self) -> Option<String> {
        self.settled.variant.as_ref().map(|h| h.value.clone())
    }

    /// What the program proposes that it lies on: by the newest sighting that has a proposal.
    pub fn bearing(&self) -> Option<&Bearing> {
        let mut all = self.sightings.iter().rev();
        all.find_map(|s| s.seen.bearing.as_ref())
    }

    /// The newest proposals in the order in which they are numbered for the person, from 1: lists
    /// in their order, within a list the greatest chance first, only those that are shown.
    pub fn numbered(&self) -> Vec<&Proposal> {
        self.rivals.iter().flat_map(Rivals::shown).collect()
    }

    /// The proposal of that key in any sighting, the newest first.
    pub fn proposed(&self, list: Option<&str>, entry: &str) -> Option<&Proposal> {
        self.sightings
            .iter()
            .rev()
            .flat_map(|s| &s.seen.rivals)
            .flat_map(|r| &r.proposals)
            .find(|p| p.entry == entry && list.is_none_or(|l| l == p.list))
    }
}

/// For each outline the kept mark of the same photograph that lies there, if any.
pub fn at_places<'a>(kept: &'a [KeptMark], outlines: &[Quad]) -> Vec<Option<&'a KeptMark>> {
    let known: Vec<Vec<Quad>> = kept.iter().map(|m| vec![m.latest().outline]).collect();
    let tied = tie::tie(&known, outlines).into_iter();
    tied.map(|at| at.map(|k| &kept[k])).collect()
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

/// The present moment with the offset from UTC of this machine, to the second:
/// `2024-05-03T10:12:40+01:00`.
pub fn now() -> String {
    jiff::Zoned::now()
        .strftime("%Y-%m-%dT%H:%M:%S%:z")
        .to_string()
}
