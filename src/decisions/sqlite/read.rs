//! Reading the store back.

use super::fault;
use crate::decisions::{
    Act, Author, Decision, DecisionId, Held, KeptMark, KeptPhotograph, Look, MarkId, Picture,
    SeenMark, Sighting, fold_by, together,
};
use crate::error::{Error, Kind, Result};
use crate::marks::MarkKind;
use crate::proposals::Rivals;
use rusqlite::{Connection, OptionalExtension};
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// Which marks.
#[derive(Debug, Clone, Copy)]
pub(super) enum Which {
    All,
    OfPicture(i64),
    /// Those that a photograph shows.
    OnPhotograph(i64),
    /// The one that has this sighting.
    One(MarkId),
    /// Those whose numbers stand in the table `temp.wanted`.
    Wanted,
}

impl Which {
    /// Condition on a sighting `m` and its photograph `p`, with one parameter, so that the right
    /// index is used: all sightings of these marks.
    pub(super) fn condition(self) -> (&'static str, Option<i64>) {
        match self {
            Which::All => ("?1 IS NULL", None),
            Which::OfPicture(id) => ("p.picture = ?1", Some(id)),
            Which::OnPhotograph(id) => (
                "m.id IN (SELECT x.sighting FROM members x WHERE x.mark IN (SELECT y.mark
                   FROM members y JOIN sightings z ON z.id = y.sighting WHERE z.photograph = ?1))",
                Some(id),
            ),
            Which::Wanted => (
                "?1 IS NULL AND m.id IN (SELECT x.sighting FROM temp.wanted w
                   JOIN members x ON x.mark = w.mark)",
                None,
            ),
            Which::One(id) => (
                "m.id IN (SELECT x.sighting FROM members x
                   WHERE x.mark = (SELECT y.mark FROM members y WHERE y.sighting = ?1))",
                Some(id.0),
            ),
        }
    }
}

/// A JSON column.
pub(super) fn parse<T: serde::de::DeserializeOwned>(path: &Path, text: &str) -> Result<T> {
    serde_json::from_str(text).map_err(|e| {
        Error::new(
            Kind::Store,
            path.display(),
            format!("a record of the store can't be understood ({e})"),
            "put back a copy of the store from before, and keep this file: much of it can be rescued",
        )
    })
}

pub(super) fn journal(c: &Connection, path: &Path, which: Which) -> Result<Vec<Decision>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT d.id, d.mark, d.at, d.by, d.why, d.act, d.over FROM decisions d
             JOIN sightings m ON m.id = d.mark JOIN photographs p ON p.id = m.photograph
             WHERE {condition} ORDER BY d.id"
        ))
        .map_err(at)?;
    let rows = find
        .query_map([only], |r| {
            let author = Author {
                at: r.get(2)?,
                by: r.get(3)?,
                why: r.get(4)?,
            };
            let over: Option<String> = r.get(6)?;
            Ok((r.get(0)?, r.get(1)?, author, r.get::<_, String>(5)?, over))
        })
        .map_err(at)?;
    let mut out = Vec::new();
    for row in rows {
        let (id, mark, author, act, over) = row.map_err(at)?;
        let act: Act = parse(path, &act)?;
        let over = over.map(|o| parse(path, &o)).transpose()?;
        out.push(Decision {
            id: DecisionId(id),
            mark: MarkId(mark),
            over: over.unwrap_or_default(),
            author,
            act,
        });
    }
    Ok(out)
}

/// All pictures, or one by its number.
pub(super) fn pictures(c: &Connection, only: Option<i64>) -> rusqlite::Result<Vec<Picture>> {
    let which = |column: &str| match only {
        Some(_) => format!("{column} = ?1"),
        None => "?1 IS NULL".to_owned(),
    };
    let mut files: HashMap<i64, Vec<PathBuf>> = HashMap::new();
    let mut find = c.prepare_cached(&format!(
        "SELECT f.photograph, f.path FROM files f JOIN photographs p ON p.id = f.photograph
         WHERE {} ORDER BY f.seen_at DESC, f.path",
        which("p.picture")
    ))?;
    for row in find.query_map([only], |r| Ok((r.get(0)?, r.get::<_, String>(1)?)))? {
        let (photograph, path): (i64, String) = row?;
        files.entry(photograph).or_default().push(path.into());
    }
    let mut photographs: HashMap<i64, Vec<KeptPhotograph>> = HashMap::new();
    let mut find = c.prepare_cached(&format!(
        "SELECT p.picture, p.id, p.sha256, p.width, p.height,
                (SELECT max(run) FROM run_photographs WHERE photograph = p.id)
         FROM photographs p WHERE {} ORDER BY p.id",
        which("p.picture")
    ))?;
    let rows = find.query_map([only], |r| {
        Ok((
            r.get::<_, i64>(0)?,
            KeptPhotograph {
                id: r.get(1)?,
                sha256: r.get(2)?,
                width: r.get(3)?,
                height: r.get(4)?,
                files: Vec::new(),
                last_run: r.get::<_, Option<i64>>(5)?.unwrap_or(0),
            },
        ))
    })?;
    for row in rows {
        let (picture, mut photograph) = row?;
        photograph.files = files.remove(&photograph.id).unwrap_or_default();
        photographs.entry(picture).or_default().push(photograph);
    }
    let mut find = c.prepare_cached(&format!(
        "SELECT id, name FROM pictures WHERE {} ORDER BY name, id",
        which("id")
    ))?;
    find.query_map([only], |r| {
        let id: i64 = r.get(0)?;
        Ok(Picture {
            id,
            name: r.get(1)?,
            photographs: photographs.remove(&id).unwrap_or_default(),
        })
    })?
    .collect()
}

/// Marks with all their sightings and what holds of them, in order of number.
pub(super) fn settled_marks(c: &Connection, path: &Path, which: Which) -> Result<Vec<KeptMark>> {
    let mut marks = marks(c, path, which)?;
    let journal = journal(c, path, which)?;
    let of: HashMap<MarkId, MarkId> = marks
        .iter()
        .flat_map(|m| m.sightings.iter().map(|s| (s.id, m.id)))
        .collect();
    let mark_of = |id: MarkId| of.get(&id).copied().unwrap_or(id);
    let mut settled = fold_by(&journal, mark_of);
    let mut own: HashMap<MarkId, Vec<Decision>> = HashMap::new();
    for d in journal {
        own.entry(mark_of(d.mark)).or_default().push(d);
    }
    let mut conflicts = super::conflicts::of(c, path, which)?;
    let weights = super::beside::of(c, path, which)?;
    let mut wholes = super::joined::wholes(c, path, which)?;
    for m in &mut marks {
        m.conflicts = conflicts.remove(&m.id).unwrap_or_default();
        m.settled = settled.remove(&m.id).unwrap_or_default();
        let journal = own.remove(&m.id).unwrap_or_default();
        settle_sightings(m, &journal);
        m.stand_for_all();
        if m.sightings.len() > 1 {
            m.differing = together::differing(&journal);
            let made_of = m.made_of();
            if let Some(whole) = wholes.remove(&m.id).filter(|w| w.made_of == made_of) {
                m.take_whole(whole.seen);
            }
        }
        m.tell_sign();
        // What is read together is known only now
        let alone = &m.latest().rivals;
        m.rivals = match weights.get(&m.id) {
            Some(w) => alone.iter().map(|r| r.beside(w)).collect(),
            None => alone.clone(),
        };
    }
    super::joined::tell_bare(c, path, which, &mut marks)?;
    super::joined::doubts(c, path, which, &mut marks)?;
    super::joined::tell_pieces(c, path, which, &mut marks)?;
    Ok(marks)
}

/// Which look of each sighting counts, and whether the mark is there at all.
fn settle_sightings(m: &mut KeptMark, journal: &[Decision]) {
    for s in &mut m.sightings {
        let drawn = m.settled.drawn.iter().rev().map(|h| h.value);
        s.drawn = drawn
            .into_iter()
            .find(|reading| s.looks.iter().any(|l| l.id == *reading));
        s.missing &= s.drawn.is_none();
    }
    m.missing = m.sightings.iter().all(|s| s.missing);
    if !m.is_drawn() && m.withdrawn() {
        m.settled.not_a_mark = journal.last().map(|d| Held {
            value: (),
            decision: d.id,
        });
    }
}

/// Marks with all their sightings, nothing decided yet.
fn marks(c: &Connection, path: &Path, which: Which) -> Result<Vec<KeptMark>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut rivals = rivals(c, path, which)?;
    let mut signs = super::signs::of(c, path, which)?;
    let mut find = c
        .prepare_cached(&format!(
            "SELECT m.id, m.photograph, c.name, r.id, r.run, u.at, r.label, r.kind, r.outline,
                    r.lettering, r.reading,
                    (SELECT max(run) FROM run_photographs WHERE photograph = m.photograph),
                    NOT EXISTS (SELECT 1 FROM run_photographs
                                WHERE run = r.run AND photograph = m.photograph),
                    r.bearing, g.mark, g.joined, r.statements
             FROM readings r
             JOIN sightings m ON m.id = r.mark
             JOIN members g ON g.sighting = m.id
             JOIN photographs p ON p.id = m.photograph
             JOIN pictures c ON c.id = p.picture
             JOIN runs u ON u.id = r.run
             WHERE {condition}
             ORDER BY g.mark, m.id, r.id"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    let mut out: Vec<KeptMark> = Vec::new();
    while let Some(row) = rows.next().map_err(at)? {
        let id = MarkId(row.get(0).map_err(at)?);
        let mark = MarkId(row.get(14).map_err(at)?);
        let reading: i64 = row.get(3).map_err(at)?;
        let run: i64 = row.get(4).map_err(at)?;
        let last: i64 = row.get(11).map_err(at)?;
        let photograph: i64 = row.get(1).map_err(at)?;
        let text = |n: usize| row.get::<_, String>(n).map_err(at);
        let bearing: Option<String> = row.get(13).map_err(at)?;
        let stated: Option<String> = row.get(16).map_err(at)?;
        let look = Look {
            id: reading,
            run,
            at: text(5)?,
            by_hand: row.get(12).map_err(at)?,
            seen: SeenMark {
                label: text(6)?,
                kind: MarkKind::parse(&text(7)?).unwrap_or(MarkKind::Unknown),
                outline: parse(path, &text(8)?)?,
                lettering: row.get(9).map_err(at)?,
                reading: parse(path, &text(10)?)?,
                rivals: rivals.remove(&reading).unwrap_or_default(),
                bearing: bearing.map(|b| parse(path, &b)).transpose()?,
                statements: stated
                    .map(|s| parse(path, &s))
                    .transpose()?
                    .unwrap_or_default(),
                sign: signs.remove(&reading),
            },
        };
        if out.last().is_none_or(|m| m.id != mark) {
            out.push(KeptMark::new(mark, text(2)?, photograph, look.seen.clone()));
        }
        let Some(m) = out.last_mut() else { continue };
        match m.sightings.last_mut().filter(|s| s.id == id) {
            Some(s) => {
                s.looks.push(look);
                s.missing = run < last;
            }
            None => m.sightings.push(Sighting {
                id,
                photograph,
                joined: row.get(15).map_err(at)?,
                looks: vec![look],
                drawn: None,
                missing: run < last,
            }),
        }
    }
    Ok(out)
}

fn rivals(c: &Connection, path: &Path, which: Which) -> Result<HashMap<i64, Vec<Rivals>>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT v.reading, v.place, v.list, v.unlisted, o.proposal
             FROM rivals v
             JOIN readings r ON r.id = v.reading
             JOIN sightings m ON m.id = r.mark
             JOIN photographs p ON p.id = m.photograph
             LEFT JOIN proposals o ON o.reading = v.reading AND o.rivals = v.place
             WHERE {condition}
             ORDER BY v.reading, v.place, o.place"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    let mut out: HashMap<i64, Vec<Rivals>> = HashMap::new();
    let mut last = None;
    while let Some(row) = rows.next().map_err(at)? {
        let reading: i64 = row.get(0).map_err(at)?;
        let place: i64 = row.get(1).map_err(at)?;
        let lists = out.entry(reading).or_default();
        if last != Some((reading, place)) {
            last = Some((reading, place));
            lists.push(Rivals {
                list: row.get(2).map_err(at)?,
                proposals: Vec::new(),
                unlisted: row.get(3).map_err(at)?,
            });
        }
        if let (Some(text), Some(list)) = (
            row.get::<_, Option<String>>(4).map_err(at)?,
            lists.last_mut(),
        ) {
            list.proposals.push(parse(path, &text)?);
        }
    }
    Ok(out)
}

impl super::SqliteStore {
    /// The marks of these numbers, in that order.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn marks_of(&self, ids: &[MarkId]) -> Result<Vec<KeptMark>> {
        self.want(ids.iter().copied())?;
        let marks = settled_marks(&self.connection, &self.path, Which::Wanted)?;
        let mut marks: HashMap<MarkId, KeptMark> = marks.into_iter().map(|m| (m.id, m)).collect();
        Ok(ids.iter().filter_map(|id| marks.remove(id)).collect())
    }

    /// The marks about which anything was decided, in order of number.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn decided_marks(&self) -> Result<Vec<KeptMark>> {
        self.want([])?;
        let decided = "INSERT OR IGNORE INTO temp.wanted SELECT m.mark FROM decisions d
             JOIN members m ON m.sighting = d.mark";
        self.connection
            .execute(decided, [])
            .map_err(|e| self.fault(e))?;
        settled_marks(&self.connection, &self.path, Which::Wanted)
    }

    /// Writes down which marks [`Which::Wanted`] names.
    pub(super) fn want(&self, ids: impl IntoIterator<Item = MarkId>) -> Result<()> {
        let write = || -> rusqlite::Result<()> {
            self.connection.execute_batch(
                "CREATE TEMP TABLE IF NOT EXISTS wanted (mark INTEGER PRIMARY KEY);
                 DELETE FROM temp.wanted;",
            )?;
            let add = "INSERT OR IGNORE INTO temp.wanted VALUES (?1)";
            let mut add = self.connection.prepare_cached(add)?;
            ids.into_iter()
                .try_for_each(|id| add.execute([id.0]).map(|_| ()))
        };
        write().map_err(|e| self.fault(e))
    }

    /// The marks that a photograph shows, in order of number, and its number in the store; none
    /// where it isn't known.
    ///
    /// * `sha256`: its identity.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn marks_on(&self, sha256: &str) -> Result<(i64, Vec<KeptMark>)> {
        let find = "SELECT id FROM photographs WHERE sha256 = ?1";
        let id = self.connection.query_row(find, [sha256], |r| r.get(0));
        match id.optional().map_err(|e| self.fault(e))? {
            Some(id) => Ok((
                id,
                settled_marks(&self.connection, &self.path, Which::OnPhotograph(id))?,
            )),
            None => Ok((0, Vec::new())),
        }
    }
}
