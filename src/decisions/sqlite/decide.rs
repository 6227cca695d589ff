//! Adding to the journal: at most once however often it is sent, and never over an entry unseen.

use super::read::Which;
use super::{SqliteStore, fault, json, no_such_mark, read};
use crate::decisions::{Act, Author, Decision, DecisionId, MarkId, SeenMark, holding};
use crate::error::{Error, Kind, Result};
use rusqlite::{OptionalExtension, Transaction, params};
use std::path::Path;

/// What has to hold for a decision to be kept. Default: nothing has to.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Guard {
    /// The newest entry about the mark that the person saw (`Some(None)`: they saw that there was
    /// none). `None`: not asked.
    pub seen: Option<Option<DecisionId>>,
    /// A word of the sender's that is the same each time this one decision is sent.
    pub once: Option<String>,
}

/// What became of a decision.
#[derive(Debug, Clone, PartialEq)]
pub enum Kept {
    /// It is in the journal now.
    Now(Decision),
    /// It was in the journal already: an answer got lost and it was sent again.
    Before(Decision),
    /// It isn't kept: these entries were made since the person looked.
    Conflict(Vec<Decision>),
}

/// A mark as a person outlined it, with what the program read within.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Photograph (number in the store).
    pub photograph: i64,
    /// The mark that is mended, by any of its sightings; `None`: a new one.
    pub mark: Option<MarkId>,
    /// Outline, kind, reading, rivals.
    pub seen: SeenMark,
    /// Program and recognisers with versions, for the record.
    pub program: String,
}

impl SqliteStore {
    /// As [`crate::decisions::Store::decide`], if `guard` holds.
    ///
    /// # Errors
    /// As there.
    pub fn decide_once(
        &mut self,
        mark: MarkId,
        act: &Act,
        author: &Author,
        guard: &Guard,
    ) -> Result<Kept> {
        let path = self.path.clone();
        let t = self.begin(&path)?;
        if let Some(kept) = guarded(&t, &path, mark, guard)? {
            return Ok(kept);
        }
        let kept = enter(&t, &path, mark, act, author, guard)?;
        super::joined::renew_after(&t, &path, &kept)?;
        t.commit().map_err(|e| fault(&path, &e))?;
        Ok(Kept::Now(kept))
    }

    /// What [`SqliteStore::decide_once`] would answer instead of keeping a decision; `None`: it would be kept.
    ///
    /// # Errors
    /// As there.
    pub fn stands_against(&mut self, mark: MarkId, guard: &Guard) -> Result<Option<Kept>> {
        let path = self.path.clone();
        let t = self
            .connection
            .transaction()
            .map_err(|e| fault(&path, &e))?;
        guarded(&t, &path, mark, guard)
    }

    /// Keeps what a person outlined, and the entry of the journal that says so, if `guard` holds.
    /// Other marks of the photograph are left as they are.
    ///
    /// # Errors
    /// `Kind::Store`: no such photograph or mark, full disk, ...
    pub fn draw(&mut self, drawing: &Drawing, author: &Author, guard: &Guard) -> Result<Kept> {
        let path = self.path.clone();
        let at = |e: rusqlite::Error| fault(&path, &e);
        let t = self.begin(&path)?;
        if let Some(kept) = guarded(&t, &path, drawing.mark.unwrap_or(MarkId(0)), guard)? {
            return Ok(kept);
        }
        t.execute(
            "INSERT INTO runs (at, by, program) VALUES (?1, ?2, ?3)",
            params![author.at, author.by.trim(), drawing.program],
        )
        .map_err(at)?;
        let run = t.last_insert_rowid();
        let there = match drawing.mark {
            Some(mark) => sighting_on(&t, mark, drawing.photograph).map_err(at)?,
            None => None,
        };
        let sighting = match there {
            Some(sighting) => sighting,
            None => new_sighting(&t, &path, drawing.photograph, run)?,
        };
        let mark = drawing.mark.filter(|_| there.is_some()).unwrap_or(sighting);
        let reading = super::record::reading(&t, &path, run, sighting.0, &drawing.seen)?;
        let kept = enter(&t, &path, mark, &Act::Drawn { reading }, author, guard)?;
        super::joined::renew_after(&t, &path, &kept)?;
        // A mark outlined on a photograph on which it wasn't found: the person says that it is one.
        if let Some(with) = drawing.mark.filter(|_| there.is_none()) {
            let same = enter(
                &t,
                &path,
                sighting,
                &Act::Same { with },
                author,
                &Guard::default(),
            )?;
            super::joined::renew_after(&t, &path, &same)?;
        }
        t.commit().map_err(at)?;
        Ok(Kept::Now(kept))
    }

    /// The journal of one mark.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn journal_of(&self, mark: MarkId) -> Result<Vec<Decision>> {
        read::journal(&self.connection, &self.path, Which::One(mark))
    }

    /// The journal of the marks of one picture (number in the store).
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn journal_of_picture(&self, picture: i64) -> Result<Vec<Decision>> {
        read::journal(&self.connection, &self.path, Which::OfPicture(picture))
    }
}

/// The sighting of a mark on a photograph.
fn sighting_on(
    t: &Transaction<'_>,
    mark: MarkId,
    photograph: i64,
) -> rusqlite::Result<Option<MarkId>> {
    t.query_row(
        "SELECT s.id FROM sightings s JOIN members g ON g.sighting = s.id
         WHERE s.photograph = ?2
           AND g.mark = (SELECT mark FROM members WHERE sighting = ?1)",
        [mark.0, photograph],
        |r| r.get(0).map(MarkId),
    )
    .optional()
}

/// A sighting that a person found; a mark of its own until it is joined.
fn new_sighting(t: &Transaction<'_>, path: &Path, photograph: i64, run: i64) -> Result<MarkId> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let added = t
        .execute(
            "INSERT INTO sightings (photograph, run) SELECT id, ?2 FROM photographs WHERE id = ?1",
            [photograph, run],
        )
        .map_err(at)?;
    if added != 1 {
        return Err(Error::new(
            Kind::Store,
            format!("photograph {photograph}"),
            "the store has no such photograph",
            "load the page of the picture again",
        ));
    }
    let id = t.last_insert_rowid();
    t.execute(
        "INSERT INTO members (sighting, mark, joined) VALUES (?1, ?1, 1)",
        [id],
    )
    .map_err(at)?;
    Ok(MarkId(id))
}

/// What is to be answered instead of keeping the decision, if anything.
fn guarded(t: &Transaction<'_>, path: &Path, mark: MarkId, guard: &Guard) -> Result<Option<Kept>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    if let Some(once) = &guard.once {
        let before: Option<(i64, i64)> = t
            .query_row(
                "SELECT id, mark FROM decisions WHERE once = ?1",
                [once],
                |r| Ok((r.get(0)?, r.get(1)?)),
            )
            .optional()
            .map_err(at)?;
        if let Some((id, mark)) = before {
            let journal = read::journal(t, path, Which::One(MarkId(mark)))?;
            return Ok(journal.into_iter().find(|d| d.id.0 == id).map(Kept::Before));
        }
    }
    if let Some(seen) = guard.seen {
        let newer: Vec<Decision> = read::journal(t, path, Which::One(mark))?
            .into_iter()
            .filter(|d| seen.is_none_or(|s| d.id > s))
            .collect();
        if !newer.is_empty() {
            return Ok(Some(Kept::Conflict(newer)));
        }
    }
    Ok(None)
}

fn enter(
    t: &Transaction<'_>,
    path: &Path,
    mark: MarkId,
    act: &Act,
    author: &Author,
    guard: &Guard,
) -> Result<Decision> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let of_mark = "FROM members x JOIN readings r ON r.mark = x.sighting
         WHERE x.mark = (SELECT y.mark FROM members y WHERE y.sighting = ?1)";
    let reading: Option<i64> = t
        .query_row(&format!("SELECT max(r.id) {of_mark}"), [mark.0], |r| {
            r.get(0)
        })
        .map_err(at)?;
    if reading.is_none() {
        return Err(no_such_mark(mark));
    }
    let over = super::joined::sightings_of(t, mark).map_err(at)?;
    check_sameness(mark, act, &over)?;
    let undoes = match act {
        Act::Undo { undoes } => {
            check_undo(&read::journal(t, path, Which::One(mark))?, mark, *undoes)?;
            Some(undoes.0)
        }
        _ => None,
    };
    t.execute(
        "INSERT INTO decisions (mark, reading, at, by, why, act, undoes, once, over)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            mark.0,
            reading,
            author.at,
            author.by.trim(),
            author.why,
            json(act)?,
            undoes,
            guard.once,
            json(&over)?
        ],
    )
    .map_err(at)?;
    Ok(Decision {
        id: DecisionId(t.last_insert_rowid()),
        mark,
        over,
        author: author.clone(),
        act: act.clone(),
    })
}

/// A mark is told to be the same as another, and another than its own sightings, not the reverse.
fn check_sameness(mark: MarkId, act: &Act, over: &[MarkId]) -> Result<()> {
    let what = match act {
        Act::Same { with } if over.contains(with) => {
            format!("{with} is this mark already")
        }
        Act::Apart { from } if from.is_empty() || from.contains(&mark) => {
            "a sighting can't be another mark than itself".to_owned()
        }
        _ => return Ok(()),
    };
    Err(Error::new(
        Kind::Usage,
        format!("mark {mark}"),
        what,
        format!("see dorso settle {mark} for its sightings"),
    ))
}

fn check_undo(journal: &[Decision], mark: MarkId, undoes: DecisionId) -> Result<()> {
    let what = if journal.iter().all(|d| d.id != undoes) {
        format!("{undoes} is no decision about this mark")
    } else if !holding(journal).contains(&undoes) {
        format!("{undoes} is undone already")
    } else {
        return Ok(());
    };
    Err(Error::new(
        Kind::Store,
        format!("mark {mark}"),
        what,
        format!("see dorso settle {mark} for the decisions that hold"),
    ))
}
