//! Where each mark stands, kept ready so that the queue needn't read every mark.
//!
//! A row is worked out from the mark's readings and journal by [`item`] and written in the
//! transaction that changed them. If the rules change, the rows of all pictures are worked out anew when the store
//! is opened, some pictures at a time: what was stopped goes on where it was.

use super::read::{Which, settled_marks};
use super::{SqliteStore, fault, json, read, search};
use crate::decisions::{DecisionId, DoubtKind, KeptMark, MarkId, Picture, State, Store, item};
use crate::error::Result;
use crate::marks::MarkKind;
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// The setting that names the rules by which the rows were worked out.
pub(super) const RULES: &str = "standing rules";

/// Pictures that are gone through in one transaction when the rules change.
const AT_ONCE: i64 = 50;

/// Which marks of the queue are wanted; the default wants all that need a person.
#[derive(Debug, Clone, Copy, Default)]
pub struct Narrow {
    /// Those of one picture, by its number in the store.
    pub picture: Option<i64>,
    /// Those of one kind.
    pub kind: Option<MarkKind>,
    /// Those that are in doubt for one reason.
    pub because: Option<DoubtKind>,
    /// Those too that need nobody now.
    pub all: bool,
}

/// Marks in the order of the queue; of the places to look at of one picture the first stands for all.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct InOrder {
    /// Their numbers.
    pub marks: Vec<MarkId>,
    /// How many of them need a person now.
    pub due: usize,
}

/// A row of the queue.
struct Row {
    mark: MarkId,
    picture: i64,
    is_place: bool,
    worth: f64,
    is_due: bool,
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
    /// Whether places to look at are among what is due.
    places: bool,
}

impl Tally {
    /// Counts one that needs a person: the first place to look at is asked for the others too.
    fn add_due(&mut self, is_place: bool) {
        match is_place && self.places {
            true => self.beside += 1,
            false => self.due += 1,
        }
        self.places |= is_place;
    }

    /// All marks.
    pub fn all(&self) -> usize {
        self.due + self.beside + self.waiting + self.settled + self.clear + self.none
    }
}

/// Rank of what is said to be no mark.
pub(super) const NO_MARK: i64 = 6;

/// Rank of a state in the queue; what is put off until a day counts by that day.
fn rank(state: &State) -> (i64, Option<&str>) {
    match state {
        State::Open => (0, None),
        State::Later => (1, None),
        State::Until(day) => (2, Some(day)),
        State::Asked(_) => (3, None),
        State::Settled => (4, None),
        State::Clear => (5, None),
        State::NotAMark => (NO_MARK, None),
    }
}

/// Works out the rows of these marks anew.
pub(super) fn renew(c: &Connection, path: &Path, which: Which) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let mut put = c
        .prepare_cached(
            "INSERT INTO standing (mark, picture, rank, until, worth, again, place, state, doubts)
             SELECT ?1, p.picture, ?2, ?3, ?4, ?5, ?6, ?7, ?8 FROM sightings s
             JOIN photographs p ON p.id = s.photograph WHERE s.id = ?1
             ON CONFLICT (mark) DO UPDATE SET picture = excluded.picture, rank = excluded.rank,
               until = excluded.until, worth = excluded.worth, again = excluded.again,
               place = excluded.place, state = excluded.state, doubts = excluded.doubts",
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
            item.doubts.iter().any(|d| d.kind == DoubtKind::Place),
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

/// Has the rows of all pictures worked out anew by [`SqliteStore::rank_all`].
pub(super) fn renew_all(c: &Connection) -> rusqlite::Result<()> {
    c.execute("INSERT OR IGNORE INTO unranked SELECT id FROM pictures", [])
        .map(|_| ())
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

impl SqliteStore {
    /// * `each`: told how many pictures of how many are done.
    pub(super) fn bring_standing_up_to_date(&mut self, each: &dyn Fn(usize, usize)) -> Result<()> {
        let rules = rules();
        if self.setting(RULES)?.as_deref() != Some(&rules) {
            let path = self.path.clone();
            let t = self.begin(&path)?;
            renew_all(&t).map_err(|e| fault(&path, &e))?;
            super::set(&t, RULES, &rules).map_err(|e| fault(&path, &e))?;
            t.commit().map_err(|e| fault(&path, &e))?;
        }
        self.rank_all(each)
    }

    /// Goes through all pictures whose rows are to be worked out anew.
    ///
    /// * `each`: told how many of how many are done.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read or written.
    pub fn rank_all(&mut self, each: &dyn Fn(usize, usize)) -> Result<()> {
        let (mut left, mut all) = (self.rank_some()?, 0);
        while left > 0 {
            all = all.max(left);
            each(all - left, all);
            left = self.rank_some()?;
        }
        Ok(())
    }

    /// Goes through some of them; gives how many are left.
    ///
    /// # Errors
    /// As [`SqliteStore::rank_all`].
    pub fn rank_some(&mut self) -> Result<usize> {
        let path = self.path.clone();
        let at = |e: rusqlite::Error| fault(&path, &e);
        let count = "SELECT count(*) FROM unranked";
        let left = |c: &Connection| {
            let left = c.query_row(count, [], |r| r.get::<_, i64>(0));
            left.map_err(at).map(|n| n as usize)
        };
        if left(&self.connection)? == 0 {
            return Ok(0);
        }
        let t = self.begin(&path)?;
        let some: Vec<i64> = t
            .prepare_cached("SELECT picture FROM unranked ORDER BY picture LIMIT ?1")
            .and_then(|mut find| find.query_map([AT_ONCE], |r| r.get(0))?.collect())
            .map_err(at)?;
        for picture in some {
            renew(&t, &path, Which::OfPicture(picture))?;
            t.execute("DELETE FROM unranked WHERE picture = ?1", [picture])
                .map_err(at)?;
        }
        let left = left(&t)?;
        t.commit().map_err(at)?;
        Ok(left)
    }

    /// What needs a person now, in the order in which they should look: marks, and of the places to look at of
    /// a picture the first.
    ///
    /// * `today`: ISO date; what was put off until then or earlier is due again.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn due(&self, today: &str, picture: Option<i64>) -> Result<Vec<MarkId>> {
        let narrow = Narrow {
            picture,
            ..Narrow::default()
        };
        Ok(self.in_order(today, &narrow)?.marks)
    }

    /// The marks that are wanted in the order in which a person should look: by state, then the greatest worth
    /// first, then by number.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn in_order(&self, today: &str, narrow: &Narrow) -> Result<InOrder> {
        let (mut asked, mut out) = (HashSet::new(), InOrder::default());
        for row in self.rows_in_order(today, narrow)? {
            if !row.is_place || !row.is_due || asked.insert(row.picture) {
                out.marks.push(row.mark);
                out.due += usize::from(row.is_due);
            }
        }
        Ok(out)
    }

    /// The places to look at of a picture (number in the store) that wait for a person, in order: one question.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn places_due(&self, today: &str, picture: i64) -> Result<Vec<MarkId>> {
        let narrow = Narrow {
            picture: Some(picture),
            ..Narrow::default()
        };
        let rows = self.rows_in_order(today, &narrow)?.into_iter();
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

    fn rows_in_order(&self, today: &str, narrow: &Narrow) -> Result<Vec<Row>> {
        let mut held = String::new();
        if let Some(picture) = narrow.picture {
            held += &format!(" AND picture = {picture}");
        }
        if let Some(kind) = narrow.kind {
            let of_kind = "SELECT mark FROM traits WHERE kind";
            held += &format!(" AND mark IN ({of_kind} = '{}')", kind.as_str());
        }
        if let Some(because) = narrow.because {
            let named = format!("\"kind\":\"{}\"", because.as_str());
            held += &format!(" AND instr(doubts, '{named}') > 0");
        }
        let rows = |rank: &str, order: &str| {
            let by = format!("rank {rank}{held} ORDER BY {order}worth DESC, mark");
            self.rows(today, &by)
        };
        // Each rank lies in its index as it is wanted; what was put off until today stands among the open ones
        let mut out = rows("= 0", "")?;
        let back = rows("= 2 AND until <= ?1", "")?;
        if !back.is_empty() {
            out.extend(back);
            out.sort_by(|a, b| b.worth.total_cmp(&a.worth).then(a.mark.cmp(&b.mark)));
        }
        out.extend(rows("= 1", "")?);
        out.iter_mut().for_each(|row| row.is_due = true);
        if narrow.all {
            out.extend(rows("= 2 AND until > ?1", "until, ")?);
            out.extend(rows("= 3", "state, ")?);
            out.extend(rows("> 3", "rank, ")?);
        }
        Ok(out)
    }

    fn rows(&self, today: &str, by: &str) -> Result<Vec<Row>> {
        // The day is named in every query, so that each has one value
        let query =
            format!("SELECT mark, picture, place, worth FROM standing WHERE ?1 <> '' AND {by}");
        let read = || -> rusqlite::Result<Vec<Row>> {
            let mut find = self.connection.prepare(&query)?;
            find.query_map([today], |r| {
                Ok(Row {
                    mark: MarkId(r.get(0)?),
                    picture: r.get(1)?,
                    is_place: r.get(2)?,
                    worth: r.get(3)?,
                    is_due: false,
                })
            })?
            .collect()
        };
        read().map_err(|e| self.fault(e))
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
            .prepare_cached("SELECT picture, rank, until <= ?1, place, again FROM standing")
            .map_err(at)?;
        let mut out = HashMap::<i64, Tally>::new();
        let mut rows = find.query([today]).map_err(at)?;
        while let Some(row) = rows.next().map_err(at)? {
            let (rank, back): (i64, Option<bool>) =
                (row.get(1).map_err(at)?, row.get(2).map_err(at)?);
            let (is_place, again): (bool, bool) =
                (row.get(3).map_err(at)?, row.get(4).map_err(at)?);
            let tally = out.entry(row.get(0).map_err(at)?).or_default();
            match rank {
                2 if back == Some(true) => tally.add_due(is_place),
                0 | 1 => tally.add_due(is_place),
                2 | 3 => tally.waiting += 1,
                4 => tally.settled += 1,
                5 => tally.clear += 1,
                _ => tally.none += 1,
            }
            tally.again += usize::from(again);
        }
        Ok(out)
    }

    /// Numbers of all pictures with their names, in order of name.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn names(&self) -> Result<Vec<(i64, String)>> {
        let at = |e: rusqlite::Error| fault(&self.path, &e);
        let mut find = self
            .connection
            .prepare_cached("SELECT id, name FROM pictures ORDER BY name, id")
            .map_err(at)?;
        let rows = find
            .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))
            .map_err(at)?;
        rows.collect::<rusqlite::Result<_>>().map_err(at)
    }

    /// The pictures of these marks, each once.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn pictures_of<'m>(
        &self,
        marks: impl IntoIterator<Item = &'m KeptMark>,
    ) -> Result<Vec<Picture>> {
        let (mut known, mut out) = (HashSet::new(), Vec::new());
        for sighting in marks.into_iter().flat_map(|m| &m.sightings) {
            if !known.contains(&sighting.photograph)
                && let Some(picture) = self.picture_of(sighting.photograph)?
            {
                known.extend(picture.photographs.iter().map(|p| p.id));
                out.push(picture);
            }
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
