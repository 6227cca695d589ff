//! Adding a run.

use super::{SqliteStore, fault, json};
use crate::decisions::tie::tie;
use crate::decisions::{MarkId, Recorded, Run, SeenMark, SeenPhotograph};
use crate::error::{Error, Kind, Result};
use crate::geometry::Quad;
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};
use std::path::Path;

struct Known {
    photograph: i64,
    picture: i64,
}

impl SqliteStore {
    /// Whether a run of that moment and program is kept that saw all these photographs.
    ///
    /// * `hashes`: their SHA-256, 64 hex digits each.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn has_run(&self, hashes: &[String], at: &str, program: &str) -> Result<bool> {
        let asked = "SELECT EXISTS (SELECT 1 FROM photographs p
             JOIN run_photographs s ON s.photograph = p.id
             JOIN runs r ON r.id = s.run AND r.at = ?2 AND r.program = ?3
             WHERE p.sha256 = ?1)";
        let saw = |hash: &String| {
            let told = self
                .connection
                .query_row(asked, params![hash, at, program], |r| r.get(0));
            told.map_err(|e| fault(&self.path, &e))
        };
        hashes
            .iter()
            .try_fold(true, |all, hash| Ok(all && saw(hash)?))
    }

    pub(super) fn add_run(&mut self, run: &Run) -> Result<Recorded> {
        let path = self.path.clone();
        let t = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|e| fault(&path, &e))?;
        let recorded = Adding {
            t: &t,
            path: &path,
            run,
        }
        .all()?;
        t.commit().map_err(|e| fault(&path, &e))?;
        Ok(recorded)
    }
}

struct Adding<'a> {
    t: &'a Transaction<'a>,
    path: &'a Path,
    run: &'a Run,
}

impl Adding<'_> {
    fn at<T>(&self, r: rusqlite::Result<T>) -> Result<T> {
        r.map_err(|e| fault(self.path, &e))
    }

    fn all(&self) -> Result<Recorded> {
        let run = self.run;
        if run.photographs.is_empty() {
            return Err(Error::new(
                Kind::Store,
                "run",
                "it holds no photographs",
                "name at least one photograph that can be opened",
            ));
        }
        self.at(self.t.execute(
            "INSERT INTO runs (at, by, program) VALUES (?1, ?2, ?3)",
            params![run.at, run.by, run.program],
        ))?;
        let run_id = self.t.last_insert_rowid();
        let known = run
            .photographs
            .iter()
            .map(|p| self.known(p))
            .collect::<Result<Vec<_>>>()?;
        let picture = self.picture(&known)?;
        let name = self.picture_name(picture)?;
        let mut remarks = Vec::new();
        let mut marks: Vec<Vec<MarkId>> = Vec::new();
        for (i, seen) in run.photographs.iter().enumerate() {
            let twin = run.photographs[..i]
                .iter()
                .position(|p| p.sha256 == seen.sha256);
            if let Some(twin) = twin {
                // The same bytes twice in one run: one photograph, seen in two places.
                let k = self.known(seen)?;
                if let Some(k) = k {
                    self.file(k.photograph, seen)?;
                }
                remarks.push(format!(
                    "{} is the same photograph as {}; it is kept once",
                    seen.file.display(),
                    run.photographs[twin].file.display()
                ));
                marks.push(marks[twin].clone());
                continue;
            }
            let photograph = match &known[i] {
                Some(k) => {
                    if k.picture != picture {
                        remarks.push(self.elsewhere(seen, k, picture, &name)?);
                    }
                    k.photograph
                }
                None => self.photograph(seen, picture)?,
            };
            self.file(photograph, seen)?;
            self.at(self.t.execute(
                "INSERT INTO run_photographs (run, photograph, picture, skew_degrees)
                 SELECT ?1, id, picture, ?3 FROM photographs WHERE id = ?2",
                params![run_id, photograph, seen.skew_degrees],
            ))?;
            marks.push(self.marks(run_id, photograph, &seen.marks)?);
        }
        let mut touched = vec![picture];
        touched.extend(known.iter().flatten().map(|k| k.picture));
        touched.sort_unstable();
        touched.dedup();
        for picture in touched {
            super::joined::regroup(self.t, self.path, picture)?;
        }
        Ok(Recorded {
            picture: name,
            picture_id: picture,
            marks,
            remarks,
        })
    }

    fn known(&self, seen: &SeenPhotograph) -> Result<Option<Known>> {
        self.at(self
            .t
            .query_row(
                "SELECT id, picture FROM photographs WHERE sha256 = ?1",
                [&seen.sha256],
                |r| {
                    Ok(Known {
                        photograph: r.get(0)?,
                        picture: r.get(1)?,
                    })
                },
            )
            .optional())
    }

    /// The picture that the run is about: the one named; else the one to be joined; else the one
    /// that the first known photograph belongs to; else a new one.
    fn picture(&self, known: &[Option<Known>]) -> Result<i64> {
        let first = known.iter().flatten().next();
        let Some(name) = &self.run.picture else {
            if let Some(id) = self.run.joins.or(first.map(|k| k.picture)) {
                return Ok(id);
            }
            let file = self.run.photographs[0].file.file_stem();
            let stem = self
                .run
                .suggested
                .clone()
                .or_else(|| file.map(|s| s.to_string_lossy().into_owned()))
                .map(|s| s.trim().to_owned())
                .filter(|s| !s.is_empty())
                .unwrap_or_else(|| "picture".into());
            let mut name = stem.clone();
            let mut n = 2;
            while self.picture_of(&name)?.is_some() {
                name = format!("{stem} ({n})");
                n += 1;
            }
            return self.new_picture(&name, false);
        };
        let name = name.trim();
        if name.is_empty() {
            return Err(Error::new(
                Kind::Usage,
                "--picture",
                "the name is empty",
                "give the picture a name, or leave the option out",
            ));
        }
        if let Some(id) = self.picture_of(name)? {
            return Ok(id);
        }
        // A name that the program made up gives way to the person's, if all known photographs
        // belong to that picture.
        if let Some(k) = first
            && known.iter().flatten().all(|o| o.picture == k.picture)
        {
            let renamed = self.at(self.t.execute(
                "UPDATE pictures SET name = ?1, named_by_person = 1 WHERE id = ?2 AND named_by_person = 0",
                params![name, k.picture],
            ))?;
            if renamed == 1 {
                return Ok(k.picture);
            }
        }
        self.new_picture(name, true)
    }

    fn picture_of(&self, name: &str) -> Result<Option<i64>> {
        self.at(self
            .t
            .query_row("SELECT id FROM pictures WHERE name = ?1", [name], |r| {
                r.get(0)
            })
            .optional())
    }

    fn picture_name(&self, id: i64) -> Result<String> {
        self.at(self
            .t
            .query_row("SELECT name FROM pictures WHERE id = ?1", [id], |r| {
                r.get(0)
            }))
    }

    fn new_picture(&self, name: &str, by_person: bool) -> Result<i64> {
        self.at(self.t.execute(
            "INSERT INTO pictures (name, named_by_person, added_at) VALUES (?1, ?2, ?3)",
            params![name, by_person, self.run.at],
        ))?;
        Ok(self.t.last_insert_rowid())
    }

    /// A photograph known under another picture: moved if the person named the picture, else it
    /// stays; told either way.
    fn elsewhere(
        &self,
        seen: &SeenPhotograph,
        k: &Known,
        picture: i64,
        name: &str,
    ) -> Result<String> {
        let old = self.picture_name(k.picture)?;
        let file = seen.file.display();
        if self.run.picture.is_none() {
            return Ok(format!(
                "{file} is known as a photograph of \"{old}\" and stays there; name the picture with --picture to move it"
            ));
        }
        self.at(self.t.execute(
            "UPDATE photographs SET picture = ?1 WHERE id = ?2",
            params![picture, k.photograph],
        ))?;
        Ok(format!(
            "{file} was known as a photograph of \"{old}\" and now belongs to \"{name}\"; its decisions go with it"
        ))
    }

    fn photograph(&self, seen: &SeenPhotograph, picture: i64) -> Result<i64> {
        self.at(self.t.execute(
            "INSERT INTO photographs (picture, sha256, width, height, added_at) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![picture, seen.sha256, seen.width, seen.height, self.run.at],
        ))?;
        Ok(self.t.last_insert_rowid())
    }

    fn file(&self, photograph: i64, seen: &SeenPhotograph) -> Result<()> {
        let absolute = std::path::absolute(&seen.file).unwrap_or_else(|_| seen.file.clone());
        self.at(self.t.execute(
            "INSERT INTO files (photograph, path, seen_at) VALUES (?1, ?2, ?3)
             ON CONFLICT (photograph, path) DO UPDATE SET seen_at = excluded.seen_at",
            params![photograph, absolute.to_string_lossy(), self.run.at],
        ))
        .map(|_| ())
    }

    fn marks(&self, run: i64, photograph: i64, seen: &[SeenMark]) -> Result<Vec<MarkId>> {
        let (ids, outlines) = self.known_marks(photograph)?;
        let new: Vec<Quad> = seen.iter().map(|m| m.outline).collect();
        let mut out = Vec::with_capacity(seen.len());
        for (mark, tied) in seen.iter().zip(tie(&outlines, &new)) {
            let id = match tied {
                Some(k) => ids[k],
                None => {
                    self.at(self.t.execute(
                        "INSERT INTO sightings (photograph, run) VALUES (?1, ?2)",
                        [photograph, run],
                    ))?;
                    let id = self.t.last_insert_rowid();
                    self.at(self.t.execute(
                        "INSERT INTO members (sighting, mark, joined) VALUES (?1, ?1, 1)",
                        [id],
                    ))?;
                    id
                }
            };
            reading(self.t, self.path, run, id, mark)?;
            out.push(MarkId(id));
        }
        Ok(out)
    }

    fn known_marks(&self, photograph: i64) -> Result<(Vec<i64>, Vec<Vec<Quad>>)> {
        let mut find = self.at(self.t.prepare(
            "SELECT m.id, r.outline FROM sightings m JOIN readings r ON r.mark = m.id
             WHERE m.photograph = ?1 ORDER BY m.id, r.id",
        ))?;
        let rows = self.at(find.query_map([photograph], |r| {
            Ok((r.get::<_, i64>(0)?, r.get::<_, String>(1)?))
        }))?;
        let (mut ids, mut outlines): (Vec<i64>, Vec<Vec<Quad>>) = Default::default();
        for row in rows {
            let (id, outline) = self.at(row)?;
            let outline: Quad = super::read::parse(self.path, &outline)?;
            if ids.last() != Some(&id) {
                ids.push(id);
                outlines.push(Vec::new());
            }
            if let Some(all) = outlines.last_mut() {
                all.push(outline);
            }
        }
        Ok((ids, outlines))
    }
}

/// Adds one look at a sighting; gives its number.
pub(super) fn reading(
    t: &Transaction<'_>,
    path: &Path,
    run: i64,
    mark: i64,
    seen: &SeenMark,
) -> Result<i64> {
    let at = |e: rusqlite::Error| fault(path, &e);
    t.execute(
        "INSERT INTO readings (run, mark, label, kind, outline, lettering, reading, bearing,
                               statements)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            run,
            mark,
            seen.label,
            seen.kind.as_str(),
            json(&seen.outline)?,
            seen.lettering,
            json(&seen.reading)?,
            seen.bearing.as_ref().map(json).transpose()?,
            json(&seen.statements)?
        ],
    )
    .map_err(at)?;
    let reading = t.last_insert_rowid();
    if let Some(sign) = &seen.sign {
        let by = "SELECT at, program FROM runs WHERE id = ?1";
        let by = t.query_row(by, [run], |r| Ok((r.get(0)?, r.get(1)?)));
        let (when, program): (String, String) = by.map_err(at)?;
        super::signs::add(t, path, reading, sign, (&when, &program))?;
    }
    for (place, rivals) in seen.rivals.iter().enumerate() {
        let place = place as i64;
        t.execute(
            "INSERT INTO rivals (reading, place, list, unlisted) VALUES (?1, ?2, ?3, ?4)",
            params![reading, place, rivals.list, rivals.unlisted],
        )
        .map_err(at)?;
        for (n, p) in rivals.proposals.iter().enumerate() {
            t.execute(
                "INSERT INTO proposals (reading, rivals, place, entry, probability, proposal)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![reading, place, n as i64, p.entry, p.probability, json(p)?],
            )
            .map_err(at)?;
        }
    }
    Ok(reading)
}
