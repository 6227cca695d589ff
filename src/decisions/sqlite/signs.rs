//! Monograms: what marks were seen as, and the user's own collection of designs.

use super::read::{Which, parse};
use super::{SqliteStore, fault, json, standing};
use crate::decisions::{Author, KeptMark, MarkId, Sign};
use crate::error::{Error, Kind, Result};
use crate::monogram::Seen;
use rusqlite::{Connection, params};
use std::collections::HashMap;
use std::path::Path;

/// A monogram of the user's own collection.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// Its number.
    pub id: i64,
    /// Who made it, as the person wrote it.
    pub artist: String,
    /// How that is known.
    pub source: String,
    /// Where its photograph was.
    pub file: String,
    /// SHA-256 of the photograph's bytes, 64 hex digits.
    pub sha256: String,
    /// The square that is compared, PNG.
    pub picture: Vec<u8>,
    /// What was seen of it.
    pub seen: Seen,
}

/// Adds what was seen within the outline of a look.
pub(super) fn add(
    c: &Connection,
    path: &Path,
    reading: i64,
    sign: &Sign,
    by: (&str, &str),
) -> Result<()> {
    c.execute(
        "INSERT INTO signs (reading, at, program, seen, rivals) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![reading, by.0, by.1, json(&sign.seen)?, json(&sign.rivals)?],
    )
    .map(|_| ())
    .map_err(|e| fault(path, &e))
}

/// The newest sign of each look of these marks, by the number of the reading.
pub(super) fn of(c: &Connection, path: &Path, which: Which) -> Result<HashMap<i64, Sign>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT n.reading, n.seen, n.rivals FROM signs n JOIN readings r ON r.id = n.reading
             JOIN sightings m ON m.id = r.mark JOIN photographs p ON p.id = m.photograph
             WHERE {condition} ORDER BY n.id"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    let mut out = HashMap::new();
    while let Some(row) = rows.next().map_err(at)? {
        let (seen, rivals): (String, String) = (row.get(1).map_err(at)?, row.get(2).map_err(at)?);
        let sign = Sign {
            seen: parse(path, &seen)?,
            rivals: parse(path, &rivals)?,
        };
        out.insert(row.get(0).map_err(at)?, sign);
    }
    Ok(out)
}

impl SqliteStore {
    /// Keeps what a mark was seen as within the outlines that count of its sightings.
    ///
    /// * `signs`: each with the number of the look that it was seen in.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be written.
    pub fn keep_signs(
        &mut self,
        mark: &KeptMark,
        signs: &[(i64, Sign)],
        at: &str,
        program: &str,
    ) -> Result<()> {
        let path = self.path.clone();
        let t = self.begin(&path)?;
        for (reading, sign) in signs {
            add(&t, &path, *reading, sign, (at, program))?;
        }
        standing::renew(&t, &path, Which::One(mark.id))?;
        t.commit().map_err(|e| fault(&path, &e))
    }

    /// Every mark that was looked at as a monogram, with the newest that was seen of it; some of them may be said to be
    /// something else by now.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be read.
    pub fn seen_signs(&self) -> Result<Vec<(MarkId, Seen)>> {
        let at = |e: rusqlite::Error| self.fault(e);
        let mut find = self
            .connection
            .prepare_cached(
                "SELECT g.mark, n.seen, max(n.id) FROM signs n JOIN readings r ON r.id = n.reading
                 JOIN members g ON g.sighting = r.mark GROUP BY g.mark ORDER BY g.mark",
            )
            .map_err(at)?;
        let mut rows = find.query([]).map_err(at)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().map_err(at)? {
            let seen: String = row.get(1).map_err(at)?;
            out.push((MarkId(row.get(0).map_err(at)?), parse(&self.path, &seen)?));
        }
        Ok(out)
    }

    /// Adds a monogram to the user's own collection; gives its number.
    ///
    /// * `design`: its own number counts for nothing.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be written.
    pub fn add_design(&mut self, design: &Design, author: &Author) -> Result<i64> {
        self.connection
            .execute(
                "INSERT INTO designs (at, by, artist, source, file, sha256, picture, seen)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                params![
                    author.at,
                    author.by.trim(),
                    design.artist,
                    design.source,
                    design.file,
                    design.sha256,
                    design.picture,
                    json(&design.seen)?
                ],
            )
            .map_err(|e| self.fault(e))?;
        Ok(self.connection.last_insert_rowid())
    }

    /// Takes a monogram out of the collection; what was kept of it stays in the store.
    ///
    /// # Errors
    /// `Kind::Usage` if none of that number is in it; `Kind::Store` if the store can't be written.
    pub fn drop_design(&mut self, id: i64, author: &Author) -> Result<()> {
        let done = self
            .connection
            .execute(
                "UPDATE designs SET out_at = ?2, out_by = ?3 WHERE id = ?1 AND out_at IS NULL",
                params![id, author.at, author.by.trim()],
            )
            .map_err(|e| self.fault(e))?;
        if done == 1 {
            return Ok(());
        }
        Err(Error::new(
            Kind::Usage,
            id,
            "no monogram of this number is in the collection",
            "see dorso monogram --kept for those that are",
        ))
    }

    /// The user's own collection of monograms, in order of number.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn designs(&self) -> Result<Vec<Design>> {
        self.designs_of(None)
    }

    /// The monogram of that number, if it is in the collection.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn design(&self, id: i64) -> Result<Option<Design>> {
        Ok(self.designs_of(Some(id))?.pop())
    }

    fn designs_of(&self, only: Option<i64>) -> Result<Vec<Design>> {
        let at = |e: rusqlite::Error| self.fault(e);
        let mut find = self
            .connection
            .prepare_cached(
                "SELECT id, artist, source, file, sha256, picture, seen FROM designs
                 WHERE out_at IS NULL AND (?1 IS NULL OR id = ?1) ORDER BY id",
            )
            .map_err(at)?;
        let mut rows = find.query([only]).map_err(at)?;
        let mut out = Vec::new();
        while let Some(row) = rows.next().map_err(at)? {
            let seen: String = row.get(6).map_err(at)?;
            out.push(Design {
                id: row.get(0).map_err(at)?,
                artist: row.get(1).map_err(at)?,
                source: row.get(2).map_err(at)?,
                file: row.get(3).map_err(at)?,
                sha256: row.get(4).map_err(at)?,
                picture: row.get(5).map_err(at)?,
                seen: parse(&self.path, &seen)?,
            });
        }
        Ok(out)
    }
}
