//! Where each mark stands, kept ready so that the queue needn't read every mark.
//!
//! A row is worked out from the mark's readings and journal by [`item`] and written in the
//! transaction that changed them. If the rules change, all rows are worked out anew when the store
//! is opened.

use super::read::{Which, settled_marks};
use super::{SqliteStore, fault, json, read, search};
use crate::decisions::{DecisionId, KeptMark, MarkId, Picture, State, Store, item};
use crate::error::Result;
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// The setting that names the rules by which the rows were worked out.
pub(super) const RULES: &str = "standing rules";

/// A row of what is due.
struct Due {
    mark: MarkId,
    picture: i64,
    is_place: bool,
}

/// How much of a picture is settled: numbers of marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Questions to a person, now or after everything else: a mark each, all places to look at together one.
    pub due: usize,
    /// Places to look at beyond the first, which are asked with it.
    pub beside: usize,
    /// Put off to a day to come, or somebody is asked.
    pub waiting: usize,
    /// A person decided and nothing is left in doubt.
    pub settled: usize,
    /// Nothing was in doubt from the start.
    pub clear: usize,
    /// Said to be no mark.
    pub none: usize,
    /// To be read a second time.
    pub again: usize,
}

impl Tally {
    /// All marks.
    pub fn all(&self) -> usize {
        self.due + self.beside + self.waiting + self.settled + self.clear + self.none
    }
}

/// Rank of a state in the queue; what is put off until a day counts by that day.
fn rank(state: &State) -> (i64, Option<&str>) {
    match state {
        State::Open => (0, None),
        State::Later => (1, None),
        State::Until(day) => (2, Some(day)),
        State::Asked(_) => (3, None),
        State::Settled => (4, None),
        State::Clear => (5, None),
        State::NotAMark => (6, None),
    }
}

/// Works out the rows of these marks anew.
pub(super) fn renew(c: &Connection, path: &Path, which: Which) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let mut put = c
        .prepare_cached(
            "INSERT INTO standing (mark, rank, until, worth, again, state, doubts)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
             ON CONFLICT (mark) DO UPDATE SET rank = excluded.rank, until = excluded.until,
               worth = excluded.worth, again = excluded.again, state = excluded.state,
               doubts = excluded.doubts",
        )
        .map_err(at)?;
    for mark in settled_marks(c, path, which)? {
        // No day is before the empty one, so that what is put off stays so until it is asked for.
        let item = item(&mark, "");
        let (rank, until) = rank(&item.state);
        put.execute(params![
            mark.id.0,
            rank,
            until,
            item.worth,
            mark.settled.again.is_some(),
            json(&item.state)?,
            json(&item.doubts)?
        ])
        .map_err(at)?;
        search::put(c, path, &item)?;
        let change = match mark.sightings.len() > 1 && !mark.read_together {
            true => "INSERT OR IGNORE INTO unread_together (mark) VALUES (?1)",
            false => "DELETE FROM unread_together WHERE mark = ?1",
        };
        c.execute(change, [mark.id.0]).map_err(at)?;
    }
    Ok(())
}

/// Changes with the rules for doubt, worth and state.
fn rules() -> String {
    let mut hash = Sha256::new();
    for source in [
        include_str!("../doubts.rs"),
        include_str!("../queue.rs"),
        include_str!("../settled.rs"),
        include_str!("../kept.rs"),
        include_str!("../../back/bears.rs"),
        include_str!("../../back/bears.json"),
        include_str!("../together.rs"),
        include_str!("standing.rs"),
        include_str!("search.rs"),
        include_str!("../stated.rs"),
    ] {
        hash.update(source.as_bytes());
    }
    hash.finalize()[..8]
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}

/// Whether a row is that of a place to look at ([`crate::decisions::DoubtKind::Place`]).
const IS_PLACE: &str = "instr(s.doubts, '\"kind\":\"place\"') > 0";

/// Due marks, in order; `?1` today, `?2` a picture or NULL.
const IN_ORDER: &str = "FROM standing s JOIN sightings m ON m.id = s.mark
     JOIN photographs p ON p.id = m.photograph
     WHERE (s.rank < 2 OR (s.rank = 2 AND s.until <= ?1)) AND (?2 IS NULL OR p.picture = ?2)
     ORDER BY s.rank = 1, s.worth DESC, s.mark";

impl SqliteStore {
    pub(super) fn bring_standing_up_to_date(&mut self) -> Result<()> {
        let rules = rules();
        if self.setting(RULES)?.as_deref() == Some(&rules) {
            return Ok(());
        }
        let path = self.path.clone();
        let at = |e: rusqlite::Error| fault(&path, &e);
        let t = self.connection.transaction().map_err(at)?;
        for emptied in ["standing", "traits", "found_words"] {
            t.execute(&format!("DELETE FROM {emptied}"), [])
                .map_err(at)?;
        }
        renew(&t, &path, Which::All)?;
        super::set(&t, RULES, &rules).map_err(at)?;
        t.commit().map_err(at)
    }

    /// What needs a person now, in the order in which they should look: marks, and of the places to look at of
    /// a picture the first.
    ///
    /// * `today`: ISO date; what was put off until then or earlier is due again.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn due(&self, today: &str, picture: Option<i64>) -> Result<Vec<MarkId>> {
        let mut asked = HashSet::new();
        let rows = self.due_rows(today, picture)?.into_iter();
        let told = rows.filter(|r| !r.is_place || asked.insert(r.picture));
        Ok(told.map(|r| r.mark).collect())
    }

    /// The places to look at of a picture (number in the store) that wait for a person, in order: one question.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn places_due(&self, today: &str, picture: i64) -> Result<Vec<MarkId>> {
        let rows = self.due_rows(today, Some(picture))?.into_iter();
        Ok(rows.filter(|r| r.is_place).map(|r| r.mark).collect())
    }

    /// The other places to look at of the mark's picture, which are asked with it where it is one.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn places_beside(&self, today: &str, mark: &KeptMark) -> Result<Vec<KeptMark>> {
        let Some(picture) = self.picture_of(mark.photograph)? else {
            return Ok(Vec::new());
        };
        let all = self.places_due(today, picture.id)?.into_iter();
        let others = all.filter(|id| *id != mark.id);
        others.map(|id| self.mark(id)).collect()
    }

    fn due_rows(&self, today: &str, picture: Option<i64>) -> Result<Vec<Due>> {
        let at = |e: rusqlite::Error| fault(&self.path, &e);
        let mut find = self
            .connection
            .prepare_cached(&format!("SELECT s.mark, p.picture, {IS_PLACE} {IN_ORDER}"))
            .map_err(at)?;
        let rows = find
            .query_map(params![today, picture], |r| {
                Ok(Due {
                    mark: MarkId(r.get(0)?),
                    picture: r.get(1)?,
                    is_place: r.get(2)?,
                })
            })
            .map_err(at)?;
        rows.collect::<rusqlite::Result<_>>().map_err(at)
    }

    /// Marks that are to be read a second time, in order of number.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn to_read_again(&self) -> Result<Vec<MarkId>> {
        let at = |e: rusqlite::Error| fault(&self.path, &e);
        let mut find = self
            .connection
            .prepare_cached("SELECT mark FROM standing WHERE again ORDER BY mark")
            .map_err(at)?;
        let rows = find.query_map([], |r| r.get(0).map(MarkId)).map_err(at)?;
        rows.collect::<rusqlite::Result<_>>().map_err(at)
    }

    /// How much is settled, by picture (number in the store).
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn tally(&self, today: &str) -> Result<HashMap<i64, Tally>> {
        let at = |e: rusqlite::Error| fault(&self.path, &e);
        let mut find = self
            .connection
            .prepare_cached(&format!(
                "SELECT p.picture, CASE WHEN s.rank = 2 AND s.until <= ?1 THEN 0 ELSE s.rank END,
                        count(*), sum(s.again), {IS_PLACE}
                 FROM standing s JOIN sightings m ON m.id = s.mark
                 JOIN photographs p ON p.id = m.photograph GROUP BY 1, 2, 5 ORDER BY 1, 2, 5"
            ))
            .map_err(at)?;
        let (mut out, mut asked) = (HashMap::<i64, Tally>::new(), HashSet::new());
        let mut rows = find.query([today]).map_err(at)?;
        while let Some(row) = rows.next().map_err(at)? {
            let picture: i64 = row.get(0).map_err(at)?;
            let tally = out.entry(picture).or_default();
            let n = row.get::<_, i64>(2).map_err(at)? as usize;
            match row.get::<_, i64>(1).map_err(at)? {
                0 | 1 if row.get(4).map_err(at)? => {
                    // Those put off are asked with those that aren't.
                    let first = usize::from(asked.insert(picture));
                    tally.due += first;
                    tally.beside += n - first;
                }
                0 | 1 => tally.due += n,
                2 | 3 => tally.waiting += n,
                4 => tally.settled += n,
                5 => tally.clear += n,
                _ => tally.none += n,
            }
            tally.again += row.get::<_, i64>(3).map_err(at)? as usize;
        }
        Ok(out)
    }

    /// One picture by its number, if the store has it.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn picture(&self, id: i64) -> Result<Option<Picture>> {
        let found = read::pictures(&self.connection, Some(id));
        Ok(found.map_err(|e| self.fault(e))?.pop())
    }

    /// The picture that a photograph (number in the store) belongs to, if the store has it.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn picture_of(&self, photograph: i64) -> Result<Option<Picture>> {
        let id = self
            .connection
            .prepare_cached("SELECT picture FROM photographs WHERE id = ?1")
            .and_then(|mut q| q.query_row([photograph], |r| r.get(0)).optional())
            .map_err(|e| self.fault(e))?;
        id.map_or(Ok(None), |id| self.picture(id))
    }

    /// The mark that an entry of the journal is about, if there is such an entry.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn mark_of(&self, entry: DecisionId) -> Result<Option<MarkId>> {
        self.connection
            .query_row("SELECT mark FROM decisions WHERE id = ?1", [entry.0], |r| {
                r.get(0).map(MarkId)
            })
            .optional()
            .map_err(|e| self.fault(e))
    }

    /// Number of the newest entry of the journal (0: none): changes with every decision.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn newest(&self) -> Result<i64> {
        self.connection
            .query_row("SELECT coalesce(max(id), 0) FROM decisions", [], |r| {
                r.get(0)
            })
            .map_err(|e| self.fault(e))
    }
}
