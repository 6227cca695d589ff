//! What the rest of a picture says to the entries proposed for its marks, kept until something
//! changes, and whether it counts.

use super::read::{Which, parse, settled_marks};
use super::{SqliteStore, fault, json, observed, set, standing};
use crate::decisions::{KeptMark, MarkId, Named, Observation};
use crate::error::Result;
use crate::proposals::Weight;
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::HashMap;
use std::path::Path;

/// Setting: [`OFF`] where every mark is to be weighed by its lettering alone.
const BESIDE: &str = "weigh beside";
const OFF: &str = "off";

/// What weighing the marks of one picture beside each other needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// Its marks.
    pub marks: Vec<KeptMark>,
    /// Its observations.
    pub observations: Vec<Observation>,
    /// Entries taken on other pictures: list, key, number of pictures.
    pub taken: Vec<(String, String, u32)>,
    /// The picture (number in the store), and how often it had changed.
    picture: i64,
    times: i64,
}

/// What the rest of a picture says to the entries proposed for its marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    picture: i64,
    times: i64,
    weights: Vec<(MarkId, Vec<Weight>)>,
}

impl Together {
    /// The weights that were worked out from this.
    pub fn weighed(&self, weights: Vec<(MarkId, Vec<Weight>)>) -> Weighed {
        Weighed {
            picture: self.picture,
            times: self.times,
            weights,
        }
    }
}

/// Weights of each mark; none where that is switched off.
pub(super) fn of(
    c: &Connection,
    path: &Path,
    which: Which,
) -> Result<HashMap<MarkId, Vec<Weight>>> {
    if !counts(c).map_err(|e| fault(path, &e))? {
        return Ok(HashMap::new());
    }
    all(c, path, which)
}

fn counts(c: &Connection) -> rusqlite::Result<bool> {
    let mut find = c.prepare_cached("SELECT value FROM settings WHERE name = ?1")?;
    let set: Option<String> = find.query_row([BESIDE], |r| r.get(0)).optional()?;
    Ok(set.as_deref() != Some(OFF))
}

fn all(c: &Connection, path: &Path, which: Which) -> Result<HashMap<MarkId, Vec<Weight>>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT b.mark, b.weights FROM beside b JOIN sightings m ON m.id = b.mark
             JOIN photographs p ON p.id = m.photograph WHERE {condition}"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    let mut out = HashMap::new();
    while let Some(row) = rows.next().map_err(at)? {
        let weights: String = row.get(1).map_err(at)?;
        out.insert(MarkId(row.get(0).map_err(at)?), parse(path, &weights)?);
    }
    Ok(out)
}

/// Writes down which entries were taken for a picture, to be counted for the others.
fn keep_taken(c: &Connection, picture: i64, marks: &[KeptMark]) -> rusqlite::Result<()> {
    c.execute("DELETE FROM taken WHERE picture = ?1", [picture])?;
    for m in marks.iter().filter(|m| m.settled.not_a_mark.is_none()) {
        for held in m.settled.named.values() {
            if let Named::Entry(t) = &held.value {
                c.execute(
                    "INSERT OR IGNORE INTO taken (list, entry, picture) VALUES (?1, ?2, ?3)",
                    params![t.list, t.entry, picture],
                )?;
            }
        }
    }
    Ok(())
}

fn keep_weighed(c: &Connection, path: &Path, weighed: Weighed) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let picture = weighed.picture;
    let mut old = all(c, path, Which::OfPicture(picture))?;
    let mut changed = false;
    for (mark, weights) in weighed.weights.into_iter().filter(|w| !w.1.is_empty()) {
        if old.remove(&mark).as_ref() == Some(&weights) {
            continue;
        }
        c.execute(
            "INSERT INTO beside (mark, weights) VALUES (?1, ?2)
             ON CONFLICT (mark) DO UPDATE SET weights = excluded.weights",
            params![mark.0, json(&weights)?],
        )
        .map_err(at)?;
        changed = true;
    }
    for mark in old.into_keys() {
        c.execute("DELETE FROM beside WHERE mark = ?1", [mark.0])
            .map_err(at)?;
        changed = true;
    }
    if changed {
        standing::renew(c, path, Which::OfPicture(picture))?;
    }
    c.execute(
        "UPDATE changes SET weighed = ?2 WHERE picture = ?1 AND weighed < ?2",
        [picture, weighed.times],
    )
    .map(|_| ())
    .map_err(at)
}

fn taken(c: &Connection, picture: i64) -> rusqlite::Result<Vec<(String, String, u32)>> {
    let mut find = c.prepare_cached(
        "SELECT list, entry, count(*) FROM taken WHERE picture <> ?1 GROUP BY list, entry",
    )?;
    find.query_map([picture], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?
        .collect()
}

fn times(c: &Connection, picture: i64) -> rusqlite::Result<i64> {
    let mut find = c.prepare_cached("SELECT times FROM changes WHERE picture = ?1")?;
    let found = find.query_row([picture], |r| r.get(0)).optional()?;
    Ok(found.unwrap_or(0))
}

impl SqliteStore {
    /// Pictures (numbers in the store) of which something changed since
    /// [`SqliteStore::keep_weights`].
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn unweighed(&self) -> Result<Vec<i64>> {
        self.picture_ids("SELECT picture FROM changes WHERE times > weighed ORDER BY picture")
    }

    /// Writes down which entries are taken for some pictures (numbers in the store), to be counted where
    /// others are weighed from now on.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read or written.
    pub fn count_taken(&mut self, pictures: &[i64]) -> Result<()> {
        let path = self.path.clone();
        let at = |e: rusqlite::Error| fault(&path, &e);
        let t = self.begin(&path)?;
        for picture in pictures {
            let marks = settled_marks(&t, &path, Which::OfPicture(*picture))?;
            keep_taken(&t, *picture, &marks).map_err(at)?;
        }
        t.commit().map_err(at)
    }

    /// What weighing the marks of a picture (number in the store) beside each other needs, read at
    /// one moment.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn together(&mut self, picture: i64) -> Result<Together> {
        let path = self.path.clone();
        let at = |e: rusqlite::Error| fault(&path, &e);
        let t = self.connection.transaction().map_err(at)?;
        let marks = settled_marks(&t, &path, Which::OfPicture(picture))?;
        let out = Together {
            observations: observed::all(&t, &path, Some(picture))?,
            taken: taken(&t, picture).map_err(at)?,
            picture,
            times: times(&t, picture).map_err(at)?,
            marks,
        };
        t.commit().map_err(at)?;
        Ok(out)
    }

    /// Keeps what the rest of each picture says to the entries proposed for its marks, of some pictures in one
    /// transaction. If something changed since what the weights were worked out from, the picture stays among
    /// [`SqliteStore::unweighed`].
    ///
    /// # Errors
    /// `Kind::Store` if it can't be written.
    pub fn keep_weights(&mut self, weighed: Vec<Weighed>) -> Result<()> {
        let path = self.path.clone();
        let t = self.begin(&path)?;
        for one in weighed {
            keep_weighed(&t, &path, one)?;
        }
        t.commit().map_err(|e| fault(&path, &e))
    }

    /// Which entries were taken on pictures other than this one (number in the store), and on how
    /// many: list, key, pictures; as last written with [`SqliteStore::count_taken`].
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn taken_elsewhere(&self, picture: i64) -> Result<Vec<(String, String, u32)>> {
        taken(&self.connection, picture).map_err(|e| self.fault(e))
    }

    /// Whether marks are weighed beside the rest of their picture.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn weighs_beside(&self) -> Result<bool> {
        counts(&self.connection).map_err(|e| self.fault(e))
    }

    /// Switches weighing beside the rest of the picture on or off, for all pictures. Nothing that
    /// was read or decided changes. In a large store the queue follows with [`SqliteStore::rank_all`].
    ///
    /// # Errors
    /// `Kind::Store` if it can't be written.
    pub fn weigh_beside(&mut self, on: bool) -> Result<()> {
        if on == self.weighs_beside()? {
            return Ok(());
        }
        let path = self.path.clone();
        let at = |e: rusqlite::Error| fault(&path, &e);
        let t = self.begin(&path)?;
        set(&t, BESIDE, if on { "on" } else { OFF }).map_err(at)?;
        standing::renew_all(&t).map_err(at)?;
        t.commit().map_err(at)?;
        self.rank_some().map(|_| ())
    }
}
