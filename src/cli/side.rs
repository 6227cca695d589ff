//! Which side of the object a photograph shows, as a person says it.

use super::keeping::{self, usage};
use crate::decisions::{Picture, Side, Sight, SqliteStore};
use crate::error::Result;
use crate::run::together::{self, Album};
use std::path::Path;

/// That the photograph of this name shows this side.
///
/// # Errors
/// `Kind::Usage` where the picture has no such photograph, or it is no side.
pub(super) fn shows(name: &str, side: &str, picture: &Picture) -> Result<Sight> {
    let known = Side::parse(&side.trim().to_lowercase()).ok_or_else(|| {
        let all = Side::ALL.map(Side::as_str).join(", ");
        usage(
            side,
            "this is no side of a picture",
            format!("give one of {all}"),
        )
    })?;
    let found = picture.photographs.iter().find(|p| p.name() == name);
    let found = found.ok_or_else(|| {
        let names: Vec<String> = picture.photographs.iter().map(|p| p.name()).collect();
        let next = format!("give one of {}", names.join(", "));
        usage(name, "the picture has no photograph of this name", next)
    })?;
    Ok(Sight::Shows {
        photograph: found.sha256.clone(),
        name: found.name(),
        side: known,
    })
}

/// Lays the photographs of a picture on each other anew, each side of the object by itself; those that aren't
/// where they were stay as they were laid.
///
/// # Errors
/// `Kind::Store` if the store can't be read or written; those of the lists.
pub(super) fn lay_anew(
    store: &mut SqliteStore,
    file: &Path,
    picture: i64,
    lists: Option<&Path>,
    by: &str,
) -> Result<()> {
    let (index, _) = super::read::lists(lists, Some(file))?;
    together::bring_together(store, picture, &mut Album::default(), &index, by)?;
    keeping::hold_changed(store, &super::note::own_clues(lists)?, Some(picture))
}
