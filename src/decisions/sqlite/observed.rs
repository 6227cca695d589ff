//! Observations in the store.

use super::{SqliteStore, fault, json, read};
use crate::decisions::{Author, Observation, ObservationId, Sight, standing};
use crate::error::{Error, Kind, Result};
use rusqlite::{Connection, params};
use std::path::Path;

impl SqliteStore {
    pub(super) fn add_observation(
        &mut self,
        picture: i64,
        sight: &Sight,
        author: &Author,
    ) -> Result<Observation> {
        let undoes = match sight {
            Sight::Undo { undoes } => {
                let all = self.all_observations(Some(picture))?;
                if !standing(&all).iter().any(|o| o.id == *undoes) {
                    return Err(Error::new(
                        Kind::Store,
                        undoes.to_string(),
                        "no observation of this number holds for this picture",
                        "run dorso observe PICTURE for those that hold",
                    ));
                }
                Some(undoes.0)
            }
            _ => None,
        };
        let at = |e: rusqlite::Error| fault(&self.path, &e);
        self.connection
            .execute(
                "INSERT INTO observations (picture, at, by, why, seen, undoes) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![
                    picture,
                    author.at,
                    author.by.trim(),
                    author.why,
                    json(sight)?,
                    undoes
                ],
            )
            .map_err(at)?;
        Ok(Observation {
            id: ObservationId(self.connection.last_insert_rowid()),
            picture,
            author: author.clone(),
            sight: sight.clone(),
        })
    }

    pub(super) fn all_observations(&self, picture: Option<i64>) -> Result<Vec<Observation>> {
        all(&self.connection, &self.path, picture)
    }
}

/// Observations of one picture, or all.
pub(super) fn all(c: &Connection, path: &Path, picture: Option<i64>) -> Result<Vec<Observation>> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let mut find = c
        .prepare_cached(
            "SELECT id, picture, at, by, why, seen FROM observations
                 WHERE ?1 IS NULL OR picture = ?1 ORDER BY id",
        )
        .map_err(at)?;
    let rows = find
        .query_map([picture], |r| {
            Ok((
                ObservationId(r.get(0)?),
                r.get::<_, i64>(1)?,
                Author {
                    at: r.get(2)?,
                    by: r.get(3)?,
                    why: r.get(4)?,
                },
                r.get::<_, String>(5)?,
            ))
        })
        .map_err(at)?;
    rows.map(|row| {
        let (id, picture, author, seen) = row.map_err(at)?;
        Ok(Observation {
            id,
            picture,
            author,
            sight: read::parse(path, &seen)?,
        })
    })
    .collect()
}
