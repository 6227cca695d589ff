//! Reading the store back.

use super::fault;
use crate::decisions::{
    Act, Author, Decision, DecisionId, Held, KeptMark, KeptPhotograph, MarkId, Picture, SeenMark,
    Settled, Sighting, fold,
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
    OfPhotograph(i64),
    One(MarkId),
}

impl Which {
    /// Condition with one parameter, so that the right index is used.
    pub(super) fn condition(self) -> (&'static str, Option<i64>) {
        match self {
            Which::All => ("?1 IS NULL", None),
            Which::OfPicture(id) => ("p.picture = ?1", Some(id)),
            Which::OfPhotograph(id) => ("m.photograph = ?1", Some(id)),
            Which::One(id) => ("m.id = ?1", Some(id.0)),
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
    let (condition, only) = match which {
        Which::All => ("?1 IS NULL", None),
        Which::OfPicture(id) => (
            "mark IN (SELECT m.id FROM marks m JOIN photographs p ON p.id = m.photograph
                      WHERE p.picture = ?1)",
            Some(id),
        ),
        Which::OfPhotograph(id) => (
            "mark IN (SELECT id FROM marks WHERE photograph = ?1)",
            Some(id),
        ),
        Which::One(id) => ("mark = ?1", Some(id.0)),
    };
    let mut find = c
        .prepare_cached(&format!(
            "SELECT id, mark, at, by, why, act FROM decisions WHERE {condition} ORDER BY id"
        ))
        .map_err(at)?;
    let rows = find
        .query_map([only], |r| {
            let author = Author {
                at: r.get(2)?,
                by: r.get(3)?,
                why: r.get(4)?,
            };
            Ok((r.get(0)?, r.get(1)?, author, r.get::<_, String>(5)?))
        })
        .map_err(at)?;
    let mut out = Vec::new();
    for row in rows {
        let (id, mark, author, act) = row.map_err(at)?;
        let act: Act = parse(path, &act)?;
        out.push(Decision {
            id: DecisionId(id),
            mark: MarkId(mark),
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

/// Marks with all their sightings and what holds of them.
pub(super) fn settled_marks(c: &Connection, path: &Path, which: Which) -> Result<Vec<KeptMark>> {
    let mut marks = marks(c, path, which)?;
    let journal = journal(c, path, which)?;
    let mut settled = fold(&journal);
    let mut conflicts = super::conflicts::of(c, path, which)?;
    let weights = super::beside::of(c, path, which)?;
    for m in &mut marks {
        m.conflicts = conflicts.remove(&m.id).unwrap_or_default();
        m.settled = settled.remove(&m.id).unwrap_or_default();
        if m.settled.drawn.is_some() {
            m.missing = false;
        } else if m.withdrawn() {
            let undone = journal.iter().rev().find(|d| d.mark == m.id);
            m.settled.not_a_mark = undone.map(|d| Held {
                value: (),
                decision: d.id,
            });
        }
        // Which sighting counts is known only now
        let alone = &m.latest().rivals;
        m.rivals = match weights.get(&m.id) {
            Some(w) => alone.iter().map(|r| r.beside(w)).collect(),
            None => alone.clone(),
        };
    }
    Ok(marks)
}

/// Marks with all their sightings, nothing decided yet.
fn marks(c: &Connection, path: &Path, which: Which) -> Result<Vec<KeptMark>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut rivals = rivals(c, path, which)?;
    let mut find = c
        .prepare_cached(&format!(
            "SELECT m.id, m.photograph, c.name, r.id, r.run, u.at, r.label, r.kind, r.outline,
                    r.lettering, r.reading,
                    (SELECT max(run) FROM run_photographs WHERE photograph = m.photograph),
                    NOT EXISTS (SELECT 1 FROM run_photographs
                                WHERE run = r.run AND photograph = m.photograph),
                    r.bearing
             FROM readings r
             JOIN marks m ON m.id = r.mark
             JOIN photographs p ON p.id = m.photograph
             JOIN pictures c ON c.id = p.picture
             JOIN runs u ON u.id = r.run
             WHERE {condition}
             ORDER BY m.photograph, m.id, r.id"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    let mut out: Vec<KeptMark> = Vec::new();
    while let Some(row) = rows.next().map_err(at)? {
        let id = MarkId(row.get(0).map_err(at)?);
        let reading: i64 = row.get(3).map_err(at)?;
        let run: i64 = row.get(4).map_err(at)?;
        let last: i64 = row.get(11).map_err(at)?;
        let text = |n: usize| row.get::<_, String>(n).map_err(at);
        let bearing: Option<String> = row.get(13).map_err(at)?;
        let sighting = Sighting {
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
            },
        };
        match out.last_mut().filter(|m| m.id == id) {
            Some(m) => {
                m.sightings.push(sighting);
                m.missing = run < last;
            }
            None => out.push(KeptMark {
                id,
                picture: text(2)?,
                photograph: row.get(1).map_err(at)?,
                sightings: vec![sighting],
                missing: run < last,
                rivals: Vec::new(),
                settled: Settled::default(),
                conflicts: Vec::new(),
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
             JOIN marks m ON m.id = r.mark
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
    /// The marks on a photograph, in order of number; none where it isn't known.
    ///
    /// * `sha256`: its identity.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn marks_on(&self, sha256: &str) -> Result<Vec<KeptMark>> {
        let find = "SELECT id FROM photographs WHERE sha256 = ?1";
        let id = self.connection.query_row(find, [sha256], |r| r.get(0));
        match id.optional().map_err(|e| self.fault(e))? {
            Some(id) => settled_marks(&self.connection, &self.path, Which::OfPhotograph(id)),
            None => Ok(Vec::new()),
        }
    }
}
