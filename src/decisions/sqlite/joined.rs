//! Which sightings are one mark, kept ready, and what a mark reads by all of them.

use super::read::{Which, parse};
use super::{SqliteStore, fault, json, read, standing};
use crate::back::bears;
use crate::back::group::{Pair, Shown, group};
use crate::decisions::{Act, Decision, KeptMark, Laying, MarkId, Maybe, Placed, Whole, together};
use crate::error::Result;
use crate::geometry::Homography;
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::Path;

/// The newest join of each pair of sightings of a picture that a run found likely at all.
const PAIRS: &str = "SELECT j.a, j.b, j.chance, j.moved, j.why FROM joins j
     JOIN sightings s ON s.id = j.a JOIN photographs p ON p.id = s.photograph
     JOIN sightings z ON z.id = j.b JOIN photographs q ON q.id = z.photograph
     WHERE p.picture = ?1 AND q.picture = ?1
       AND NOT EXISTS (SELECT 1 FROM joins n WHERE n.a = j.a AND n.b = j.b AND n.id > j.id)
     ORDER BY j.a, j.b";

fn pairs(c: &Connection, picture: i64) -> rusqlite::Result<Vec<Pair>> {
    let mut find = c.prepare_cached(PAIRS)?;
    find.query_map([picture], |r| {
        Ok(Pair {
            a: r.get(0)?,
            b: r.get(1)?,
            chance: r.get(2)?,
            moved: r.get(3)?,
            why: r.get(4)?,
        })
    })?
    .collect()
}

fn shown(c: &Connection, picture: i64) -> rusqlite::Result<Vec<Shown>> {
    let mut find = c.prepare_cached(
        "SELECT s.id, s.photograph FROM sightings s JOIN photographs p ON p.id = s.photograph
         WHERE p.picture = ?1 ORDER BY s.id",
    )?;
    find.query_map([picture], |r| {
        Ok(Shown {
            id: r.get(0)?,
            photograph: r.get(1)?,
        })
    })?
    .collect()
}

/// Works out anew which sightings of a picture are one mark and where each mark stands.
pub(super) fn regroup(c: &Connection, path: &Path, picture: i64) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let journal = read::journal(c, path, Which::OfPicture(picture))?;
    let said = together::said(&journal);
    let shown = shown(c, picture).map_err(at)?;
    let grouped = group(&shown, &pairs(c, picture).map_err(at)?, &said);
    for mark in &grouped.marks {
        for (sighting, joined) in &mark.members {
            c.execute(
                "UPDATE members SET mark = ?2, joined = ?3
                 WHERE sighting = ?1 AND (mark <> ?2 OR joined <> ?3)",
                params![sighting, mark.mark, joined],
            )
            .map_err(at)?;
        }
    }
    let of_picture = "SELECT s.id FROM sightings s JOIN photographs p ON p.id = s.photograph
         WHERE p.picture = ?1";
    // What was worked out of a mark that is part of another now.
    c.execute(
        &format!(
            "DELETE FROM found_words WHERE rowid IN ({of_picture})
             AND rowid NOT IN (SELECT mark FROM members)"
        ),
        [picture],
    )
    .map_err(at)?;
    for table in [
        "standing",
        "traits",
        "conflicts",
        "beside",
        "unread_together",
    ] {
        c.execute(
            &format!(
                "DELETE FROM {table} WHERE mark IN ({of_picture})
                 AND mark NOT IN (SELECT mark FROM members)"
            ),
            [picture],
        )
        .map_err(at)?;
    }
    c.execute(
        &format!("DELETE FROM doubtful_joins WHERE a IN ({of_picture})"),
        [picture],
    )
    .map_err(at)?;
    for p in together::unanswered(grouped.doubtful, &said) {
        c.execute(
            "INSERT INTO doubtful_joins (a, b, chance, why) VALUES (?1, ?2, ?3, ?4)",
            params![p.a, p.b, p.chance, p.why],
        )
        .map_err(at)?;
    }
    standing::renew(c, path, Which::OfPicture(picture))
}

/// What has to be worked out anew after a decision: the mark, or the whole picture where it says
/// which sightings are one.
pub(super) fn renew_after(c: &Connection, path: &Path, decision: &Decision) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let about_sameness = |act: &Act| matches!(act, Act::Same { .. } | Act::Apart { .. });
    let undone = || -> Result<bool> {
        let mut journal = Vec::new();
        if matches!(decision.act, Act::Undo { .. }) {
            journal = read::journal(c, path, Which::One(decision.mark))?;
        }
        let mut act = &decision.act;
        // What an undoing undoes may itself be an undoing.
        while let Act::Undo { undoes } = act {
            let Some(d) = journal.iter().find(|d| d.id == *undoes) else {
                break;
            };
            act = &d.act;
        }
        Ok(about_sameness(act))
    };
    if !undone()? {
        return standing::renew(c, path, Which::One(decision.mark));
    }
    let picture: Option<i64> = c
        .query_row(
            "SELECT p.picture FROM sightings s JOIN photographs p ON p.id = s.photograph
             WHERE s.id = ?1",
            [decision.mark.0],
            |r| r.get(0),
        )
        .optional()
        .map_err(at)?;
    picture.map_or(Ok(()), |p| regroup(c, path, p))
}

/// The sightings of the mark that has this one, in order of number.
pub(super) fn sightings_of(c: &Connection, mark: MarkId) -> rusqlite::Result<Vec<MarkId>> {
    let mut find = c.prepare_cached(
        "SELECT sighting FROM members
         WHERE mark = (SELECT mark FROM members WHERE sighting = ?1) ORDER BY sighting",
    )?;
    find.query_map([mark.0], |r| r.get(0).map(MarkId))?
        .collect()
}

/// The newest of what each mark reads by all its sightings.
pub(super) fn wholes(c: &Connection, path: &Path, which: Which) -> Result<HashMap<MarkId, Whole>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT w.mark, w.made_of, w.seen FROM wholes w
             JOIN sightings m ON m.id = w.mark JOIN photographs p ON p.id = m.photograph
             WHERE {condition} ORDER BY w.id"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    let mut newest: HashMap<MarkId, (String, String)> = HashMap::new();
    while let Some(row) = rows.next().map_err(at)? {
        let mark = MarkId(row.get(0).map_err(at)?);
        newest.insert(mark, (row.get(1).map_err(at)?, row.get(2).map_err(at)?));
    }
    newest
        .into_iter()
        .map(|(mark, (made_of, seen))| {
            Ok((
                mark,
                Whole {
                    mark,
                    made_of: parse(path, &made_of)?,
                    seen: parse(path, &seen)?,
                },
            ))
        })
        .collect()
}

/// The newest of what is kept of pieces: sighting and a sighting of the mark that it is a piece of.
const PIECES: &str = "SELECT x.piece, x.of FROM pieces x
     JOIN sightings s ON s.id = x.piece JOIN photographs p ON p.id = s.photograph
     WHERE p.picture = ?1 AND x.of IS NOT NULL
       AND NOT EXISTS (SELECT 1 FROM pieces n WHERE n.piece = x.piece AND n.id > x.id)";

/// The pieces that differ from what is kept; those that are none any longer with nothing.
fn changed_pieces(
    c: &Connection,
    picture: i64,
    laying: &Laying,
) -> rusqlite::Result<Vec<(i64, Option<i64>)>> {
    let mut find = c.prepare_cached(PIECES)?;
    let mut old: HashMap<i64, i64> = find
        .query_map([picture], |r| Ok((r.get(0)?, r.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let laid: HashSet<i64> = laying.places.iter().map(|p| p.0).collect();
    let on: HashMap<i64, i64> = shown(c, picture)?
        .into_iter()
        .map(|s| (s.id, s.photograph))
        .collect();
    old.retain(|piece, _| on.get(piece).is_some_and(|p| laid.contains(p)));
    let mut out = Vec::new();
    for (piece, of) in &laying.pieces {
        if old.remove(&piece.0) != Some(of.0) {
            out.push((piece.0, Some(of.0)));
        }
    }
    out.extend(old.into_keys().map(|piece| (piece, None)));
    out.sort_unstable();
    Ok(out)
}

/// Says of each of these marks whether it is a piece of another: only of one with a single sighting,
/// of which nobody decided anything.
pub(super) fn tell_pieces(
    c: &Connection,
    path: &Path,
    which: Which,
    marks: &mut [KeptMark],
) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT m.id, g.mark FROM pieces x JOIN sightings m ON m.id = x.piece
             JOIN photographs p ON p.id = m.photograph JOIN members g ON g.sighting = x.of
             WHERE {condition} AND NOT EXISTS
               (SELECT 1 FROM pieces n WHERE n.piece = x.piece AND n.id > x.id)"
        ))
        .map_err(at)?;
    let id = |r: &rusqlite::Row<'_>, n| r.get(n).map(MarkId);
    let of: HashMap<MarkId, MarkId> = find
        .query_map([only], |r| Ok((id(r, 0)?, id(r, 1)?)))
        .and_then(Iterator::collect)
        .map_err(at)?;
    for m in marks {
        if m.sightings.len() == 1 && m.settled == Default::default() {
            m.piece_of = of.get(&m.id).copied().filter(|of| *of != m.id);
        }
    }
    Ok(())
}

/// On how many photographs nothing was found at the place of a sighting, newest row of each.
const BARE: &str = "SELECT x.sighting, x.photographs FROM bare_places x
     JOIN sightings m ON m.id = x.sighting JOIN photographs p ON p.id = m.photograph
     WHERE {condition} AND NOT EXISTS
       (SELECT 1 FROM bare_places n WHERE n.sighting = x.sighting AND n.id > x.id)";

fn bare(c: &Connection, which: Which) -> rusqlite::Result<HashMap<i64, u32>> {
    let (condition, only) = which.condition();
    let mut find = c.prepare_cached(&BARE.replace("{condition}", condition))?;
    find.query_map([only], |r| Ok((r.get(0)?, r.get(1)?)))?
        .collect()
}

/// The sightings whose number differs from what is kept.
fn changed_bare(
    c: &Connection,
    picture: i64,
    laying: &Laying,
) -> rusqlite::Result<Vec<(i64, u32)>> {
    let old = bare(c, Which::OfPicture(picture))?;
    let laid: HashSet<i64> = laying.places.iter().map(|p| p.0).collect();
    let mut new: BTreeMap<i64, u32> = shown(c, picture)?
        .into_iter()
        .filter(|s| laid.contains(&s.photograph))
        .map(|s| (s.id, 0))
        .collect();
    new.extend(laying.bare_on.iter().map(|(id, n)| (id.0, *n)));
    new.retain(|id, n| old.get(id).copied().unwrap_or(0) != *n);
    Ok(new.into_iter().collect())
}

/// Says of each of these marks how likely it bears anything.
pub(super) fn tell_bare(
    c: &Connection,
    path: &Path,
    which: Which,
    marks: &mut [KeptMark],
) -> Result<()> {
    let bare = bare(c, which).map_err(|e| fault(path, &e))?;
    for m in marks {
        let on = m.sightings.iter();
        let on = on.map(|s| bare.get(&s.id.0).copied().unwrap_or(0)).min();
        let seen = m.latest();
        m.bears = bears::chance(seen.lettering, bears::read(&seen.reading), on.unwrap_or(0));
    }
    Ok(())
}

/// Gives each of these marks what is doubtful of its joins; a question between two marks is put to
/// the later one.
pub(super) fn doubts(
    c: &Connection,
    path: &Path,
    which: Which,
    marks: &mut [KeptMark],
) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let places: HashMap<MarkId, usize> = marks.iter().enumerate().map(|(i, m)| (m.id, i)).collect();
    let (condition, only) = which.condition();
    let mut find = c
        .prepare_cached(&format!(
            "SELECT DISTINCT d.a, d.b, d.chance, d.why, x.mark, y.mark FROM sightings m
             JOIN photographs p ON p.id = m.photograph
             JOIN doubtful_joins d ON d.a = m.id OR d.b = m.id
             JOIN members x ON x.sighting = d.a JOIN members y ON y.sighting = d.b
             WHERE {condition} ORDER BY d.a, d.b"
        ))
        .map_err(at)?;
    let mut rows = find.query([only]).map_err(at)?;
    while let Some(row) = rows.next().map_err(at)? {
        let id = |n: usize| row.get(n).map(MarkId).map_err(at);
        let (a, b, of_a, of_b) = (id(0)?, id(1)?, id(4)?, id(5)?);
        let (own, other, mark, asked) = match of_a > of_b {
            true => (a, b, of_b, of_a),
            false => (b, a, of_a, of_b),
        };
        if let Some(&at_mark) = places.get(&asked) {
            marks[at_mark].maybe.push(Maybe {
                own,
                other,
                mark,
                chance: row.get(2).map_err(at)?,
                why: row.get(3).map_err(at)?,
            });
        }
    }
    Ok(())
}

impl SqliteStore {
    /// Keeps how the photographs of a picture (number in the store) lie on each other and which of
    /// their sightings may be one mark, and puts the sightings together. Joins that an earlier laying
    /// found between the same photographs and this one doesn't hold no longer.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be written.
    pub fn keep_laying(&mut self, picture: i64, laying: &Laying) -> Result<()> {
        let path = self.path.clone();
        let at = |e: rusqlite::Error| fault(&path, &e);
        let t = self.begin(&path)?;
        t.execute(
            "INSERT INTO runs (at, by, program) VALUES (?1, ?2, ?3)",
            params![laying.at, laying.by.trim(), laying.program],
        )
        .map_err(at)?;
        let run = t.last_insert_rowid();
        for (photograph, place) in &laying.places {
            let p = place.as_ref();
            t.execute(
                "INSERT INTO places (run, photograph, face, ground, to_plan, error_px, chance)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![
                    run,
                    photograph,
                    p.map(|p| p.face as i64),
                    p.map(|p| p.ground),
                    p.map(|p| json(&p.to_plan.0)).transpose()?,
                    p.map(|p| p.error_px),
                    p.map(|p| p.chance)
                ],
            )
            .map_err(at)?;
        }
        for j in changed_joins(&t, picture, laying).map_err(at)? {
            t.execute(
                "INSERT INTO joins (run, a, b, chance, moved, why) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![run, j.a, j.b, j.chance, j.moved, j.why],
            )
            .map_err(at)?;
        }
        for (sighting, photographs) in changed_bare(&t, picture, laying).map_err(at)? {
            t.execute(
                "INSERT INTO bare_places (run, sighting, photographs) VALUES (?1, ?2, ?3)",
                params![run, sighting, photographs],
            )
            .map_err(at)?;
        }
        for (piece, of) in changed_pieces(&t, picture, laying).map_err(at)? {
            t.execute(
                "INSERT INTO pieces (run, piece, of) VALUES (?1, ?2, ?3)",
                params![run, piece, of],
            )
            .map_err(at)?;
        }
        regroup(&t, &path, picture)?;
        t.commit().map_err(at)
    }

    /// Whether a picture has several photographs of which some were never laid on each other.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn is_unlaid(&self, picture: i64) -> Result<bool> {
        let asked = "SELECT count(*) > 1 AND total(NOT EXISTS
             (SELECT 1 FROM places l WHERE l.photograph = p.id)) > 0
             FROM photographs p WHERE p.picture = ?1";
        let told = self.connection.query_row(asked, [picture], |r| r.get(0));
        told.map_err(|e| self.fault(e))
    }

    /// Keeps what marks read and name by all their sightings.
    ///
    /// * `at`: ISO 8601 with offset.
    /// * `program`: program with version, for the record.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be written.
    pub fn keep_wholes(&mut self, wholes: &[Whole], at: &str, program: &str) -> Result<()> {
        let path = self.path.clone();
        let fails = |e: rusqlite::Error| fault(&path, &e);
        let t = self.begin(&path)?;
        for w in wholes {
            t.execute(
                "INSERT INTO wholes (mark, at, program, made_of, seen) VALUES (?1, ?2, ?3, ?4, ?5)",
                params![w.mark.0, at, program, json(&w.made_of)?, json(&w.seen)?],
            )
            .map_err(fails)?;
            standing::renew(&t, &path, Which::One(w.mark))?;
        }
        t.commit().map_err(fails)
    }

    /// Where the photographs of a picture (number in the store) were last placed, by number.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn places(&self, picture: i64) -> Result<HashMap<i64, Placed>> {
        let at = |e: rusqlite::Error| self.fault(e);
        let mut find = self
            .connection
            .prepare_cached(
                "SELECT l.photograph, l.face, l.ground, l.to_plan, l.error_px, l.chance
                 FROM places l JOIN photographs p ON p.id = l.photograph
                 WHERE p.picture = ?1 AND l.to_plan IS NOT NULL
                   AND l.id = (SELECT max(id) FROM places WHERE photograph = l.photograph)",
            )
            .map_err(at)?;
        let mut rows = find.query([picture]).map_err(at)?;
        let mut out = HashMap::new();
        while let Some(row) = rows.next().map_err(at)? {
            let map: String = row.get(3).map_err(at)?;
            let place = Placed {
                face: row.get::<_, i64>(1).map_err(at)?.try_into().unwrap_or(0),
                ground: row.get(2).map_err(at)?,
                to_plan: Homography(parse(&self.path, &map)?),
                error_px: row.get(4).map_err(at)?,
                chance: row.get(5).map_err(at)?,
            };
            out.insert(row.get(0).map_err(at)?, place);
        }
        Ok(out)
    }

    /// Pictures (numbers in the store) with marks of several sightings that weren't read together
    /// from the readings that count.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn unread_together(&self) -> Result<Vec<i64>> {
        self.picture_ids(
            "SELECT DISTINCT p.picture FROM unread_together u
             JOIN sightings s ON s.id = u.mark JOIN photographs p ON p.id = s.photograph
             ORDER BY p.picture",
        )
    }
}

/// The joins that differ from what is kept; those that hold no longer with chance 0.
fn changed_joins(c: &Connection, picture: i64, laying: &Laying) -> rusqlite::Result<Vec<Pair>> {
    let laid: HashSet<i64> = laying.places.iter().map(|p| p.0).collect();
    let of: HashMap<i64, i64> = shown(c, picture)?
        .into_iter()
        .map(|s| (s.id, s.photograph))
        .collect();
    let within = |id: &i64| of.get(id).is_some_and(|p| laid.contains(p));
    let mut old: HashMap<(i64, i64), Pair> = pairs(c, picture)?
        .into_iter()
        .filter(|p| within(&p.a) && within(&p.b))
        .map(|p| ((p.a, p.b), p))
        .collect();
    let mut out = Vec::new();
    for j in &laying.joins {
        let mut now: Pair = j.clone().told_by(|id| id.0);
        if now.a > now.b {
            std::mem::swap(&mut now.a, &mut now.b);
        }
        if old.remove(&(now.a, now.b)).as_ref() != Some(&now) {
            out.push(now);
        }
    }
    let gone = old.into_values().filter(|p| p.chance > 0.0);
    out.extend(gone.map(|p| Pair {
        chance: 0.0,
        why: "the last laying of the photographs doesn't hold it".to_owned(),
        ..p
    }));
    out.sort_by_key(|p| (p.a, p.b));
    Ok(out)
}
