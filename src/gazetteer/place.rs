//! Where the lists lie: a folder of the user's own, or the starter lists inside the program.

use super::{Fault, Gazetteer, rows};
use crate::error::{Error, Kind, Result};
use std::fmt;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Names the folder of the lists where no option does.
pub const VARIABLE: &str = "DORSO_GAZETTEER";

/// The starter lists, as they lie in `gazetteer/`.
pub const STARTER: [(&str, &str); 7] = [
    ("artists.csv", include_str!("../../gazetteer/artists.csv")),
    (
        "colourmen.csv",
        include_str!("../../gazetteer/colourmen.csv"),
    ),
    (
        "exhibitions.csv",
        include_str!("../../gazetteer/exhibitions.csv"),
    ),
    ("framers.csv", include_str!("../../gazetteer/framers.csv")),
    (
        "retailers.csv",
        include_str!("../../gazetteer/retailers.csv"),
    ),
    (
        "sale_rooms.csv",
        include_str!("../../gazetteer/sale_rooms.csv"),
    ),
    ("towns.csv", include_str!("../../gazetteer/towns.csv")),
];

/// Where the lists lie.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A folder.
    Folder(PathBuf),
    /// The starter lists that come with the program.
    Starter,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Folder(dir) => dir.display().fmt(f),
            Place::Starter => f.write_str("the starter lists in the program"),
        }
    }
}

/// A list's file, when it was written last and how many bytes it holds: another one tells a change.
pub type Stamp = (PathBuf, Option<SystemTime>, u64);

impl Place {
    /// The state of all files of the lists; empty for those in the program.
    pub fn stamps(&self) -> Vec<Stamp> {
        let Place::Folder(dir) = self else {
            return Vec::new();
        };
        let files = super::files(dir).map(|(files, _)| files);
        let stamp = |file: PathBuf| {
            let about = std::fs::metadata(&file).ok();
            let at = about.as_ref().and_then(|m| m.modified().ok());
            (file, at, about.map_or(0, |m| m.len()))
        };
        files.into_iter().flatten().map(stamp).collect()
    }
}

/// Where the lists lie: the folder named by the user; else the one that `DORSO_GAZETTEER` names;
/// else `gazetteer` in the working folder, if it holds a CSV file; else the starter lists.
///
/// # Errors
/// `Kind::Gazetteer` if the folder named by the user or by the variable isn't one.
pub fn locate(named: Option<&Path>) -> Result<Place> {
    if let Some(dir) = named {
        return folder(dir, "name the folder that holds your lists");
    }
    if let Some(dir) = std::env::var_os(VARIABLE).filter(|v| !v.is_empty()) {
        let next = format!("let {VARIABLE} name the folder that holds your lists, or unset it");
        return folder(Path::new(&dir), &next);
    }
    let near = Path::new("gazetteer");
    let holds_lists = std::fs::read_dir(near)
        .is_ok_and(|items| items.flatten().any(|i| super::is_list(&i.path())));
    Ok(if holds_lists {
        Place::Folder(near.to_path_buf())
    } else {
        Place::Starter
    })
}

fn folder(dir: &Path, next: &str) -> Result<Place> {
    let what = match std::fs::metadata(dir) {
        Ok(m) if m.is_dir() => return Ok(Place::Folder(dir.to_path_buf())),
        Ok(_) => "this is a file, not a folder of lists".to_string(),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => "there is no such folder".to_string(),
        Err(e) => format!("the folder can't be read ({e})"),
    };
    Err(Error::new(Kind::Gazetteer, dir.display(), what, next))
}

impl Place {
    /// Loads the lists; bad rows become faults and never stop the rest.
    ///
    /// # Errors
    /// `Kind::Gazetteer` if the folder can't be read at all.
    pub fn load(&self) -> Result<(Gazetteer, Vec<Fault>)> {
        Ok(super::gather(self.sheets()?))
    }

    /// Reads every list, in order of name.
    ///
    /// # Errors
    /// `Kind::Gazetteer` if the folder can't be read at all.
    pub fn sheets(&self) -> Result<Vec<rows::Sheet>> {
        match self {
            Place::Folder(dir) => super::sheets(dir),
            Place::Starter => Ok(STARTER
                .iter()
                .map(|(name, text)| rows::read(Path::new(name), text.as_bytes()))
                .collect()),
        }
    }
}
