//! Dates that can't be true together, kept for the queue until something changes.

use super::read::{Which, settled_marks};
use super::{SqliteStore, fault, observed, standing};
use crate::decisions::{KeptMark, MarkId, Observation};
use crate::error::Result;
use rayon::prelude::*;
use rusqlite::{Connection, params};
use std::collections::HashMap;
use std::path::Path;

/// What is in conflict on each mark, in sentences without a full stop.
pub(super) fn of(
    c: &Connection,
    path: &Path,
    which: Which,
) -> Result<HashMap<MarkId, Vec<String>>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT x.mark, x.words FROM conflicts x JOIN sightings m ON m.id = x.mark
             JOIN photographs p ON p.id = m.photograph
             WHERE {condition} ORDER BY x.mark, x.place"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    let mut out: HashMap<MarkId, Vec<String>> = HashMap::new();
    while let Some(row) = rows.next().map_err(at)? {
        let mark = MarkId(row.get(0).map_err(at)?);
        out.entry(mark).or_default().push(row.get(1).map_err(at)?);
    }
    Ok(out)
}

impl SqliteStore {
    /// Pictures (numbers in the store) of which something changed since [`SqliteStore::hold`].
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn unheld(&self) -> Result<Vec<i64>> {
        self.picture_ids("SELECT picture FROM unheld ORDER BY picture")
    }

    /// Works out what is in conflict on the marks of some pictures and keeps it, in one transaction,
    /// so that no change is missed meanwhile.
    ///
    /// * `find`: from the marks and observations of a picture to marks with what is in conflict
    ///   there, one sentence without a full stop each.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read or written; whatever `find` says.
    pub fn hold(
        &mut self,
        pictures: &[i64],
        find: impl Fn(&[KeptMark], &[Observation]) -> Result<Vec<(MarkId, String)>> + Sync,
    ) -> Result<()> {
        let path = self.path.clone();
        let t = self.begin(&path)?;
        let read = pictures.iter().map(|picture| {
            let marks = settled_marks(&t, &path, Which::OfPicture(*picture))?;
            Ok((marks, observed::all(&t, &path, Some(*picture))?))
        });
        let read = read.collect::<Result<Vec<_>>>()?;
        let found: Vec<_> = read.par_iter().map(|(m, seen)| find(m, seen)).collect();
        for ((picture, (marks, _)), found) in pictures.iter().zip(&read).zip(found) {
            keep(&t, &path, *picture, marks, found?)?;
        }
        t.commit().map_err(|e| fault(&path, &e))
    }
}

fn keep(
    c: &Connection,
    path: &Path,
    picture: i64,
    marks: &[KeptMark],
    found: Vec<(MarkId, String)>,
) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let mut new: HashMap<MarkId, Vec<String>> = HashMap::new();
    for (mark, words) in found {
        new.entry(mark).or_default().push(words);
    }
    let mut changed = false;
    for m in marks {
        let now = new.remove(&m.id).unwrap_or_default();
        if now == m.conflicts {
            continue;
        }
        c.execute("DELETE FROM conflicts WHERE mark = ?1", [m.id.0])
            .map_err(at)?;
        for (place, words) in now.iter().enumerate() {
            c.execute(
                "INSERT INTO conflicts (mark, place, words) VALUES (?1, ?2, ?3)",
                params![m.id.0, place as i64, words],
            )
            .map_err(at)?;
        }
        changed = true;
    }
    if changed {
        standing::renew(c, path, Which::OfPicture(picture))?;
    }
    c.execute("DELETE FROM unheld WHERE picture = ?1", [picture])
        .map(|_| ())
        .map_err(at)
}
