//! Visits: which pictures were photographed together, under which lot numbers, before which sale, and what their
//! photographs got.

use super::read::parse;
use super::{SqliteStore, fault, json};
use crate::decisions::Author;
use crate::error::{Error, Kind, Result};
use crate::taking::Capture;
use rusqlite::{OptionalExtension, params};
use std::collections::HashMap;
use std::path::Path;

/// A visit at which pictures were photographed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    /// Its number.
    pub id: i64,
    /// When it began, ISO 8601 with offset.
    pub at: String,
    /// What it is called; empty where nobody named it.
    pub name: String,
    /// Day of the sale that it comes before, ISO 8601; empty where none was told.
    pub sale_day: String,
}

/// The newest words on a visit, or none.
const VISITS: &str =
    "SELECT v.id, v.at, coalesce(w.name, ''), coalesce(w.sale_day, '') FROM visits v
    LEFT JOIN visit_words w ON w.id = (SELECT max(id) FROM visit_words WHERE visit = v.id)";

fn visit(row: &rusqlite::Row<'_>) -> rusqlite::Result<Visit> {
    Ok(Visit {
        id: row.get(0)?,
        at: row.get(1)?,
        name: row.get(2)?,
        sale_day: row.get(3)?,
    })
}

/// What a person wrote, refused where it is longer than a line.
fn line<'a>(path: &Path, text: &'a str, what: &str) -> Result<&'a str> {
    const MOST: usize = 200;
    let text = text.trim();
    if text.chars().count() > MOST || text.contains(['\n', '\r']) {
        return Err(Error::new(
            Kind::Usage,
            path.display(),
            format!("{what} is longer than {MOST} signs or more than one line"),
            "shorten it",
        ));
    }
    Ok(text)
}

impl SqliteStore {
    /// Begins a visit; its number.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be written.
    pub fn begin_visit(&mut self, author: &Author) -> Result<i64> {
        let c = &self.connection;
        c.execute(
            "INSERT INTO visits (at, by) VALUES (?1, ?2)",
            params![author.at, author.by],
        )
        .map_err(|e| fault(&self.path, &e))?;
        Ok(c.last_insert_rowid())
    }

    /// Says what a visit is called and when the sale is.
    ///
    /// * `sale_day`: ISO 8601 day; empty: none.
    ///
    /// # Errors
    /// `Kind::Usage` if there is no such visit or no such day, `Kind::Store` if the store can't be written.
    pub fn word_visit(
        &mut self,
        id: i64,
        name: &str,
        sale_day: &str,
        author: &Author,
    ) -> Result<()> {
        self.visit(id)?;
        let (name, day) = (
            line(&self.path, name, "the name of a visit")?,
            sale_day.trim(),
        );
        if !day.is_empty() && day.parse::<jiff::civil::Date>().is_err() {
            return Err(Error::new(
                Kind::Usage,
                day,
                "this is no day",
                "write it as 2026-12-31, or leave it empty",
            ));
        }
        let words = params![id, author.at, author.by, name, day];
        let add =
            "INSERT INTO visit_words (visit, at, by, name, sale_day) VALUES (?1, ?2, ?3, ?4, ?5)";
        self.connection
            .execute(add, words)
            .map(|_| ())
            .map_err(|e| fault(&self.path, &e))
    }

    /// Says that a picture was photographed at a visit, and its lot number there.
    ///
    /// * `lot`: empty: none; `None`: as it stands.
    ///
    /// # Errors
    /// `Kind::Usage` if there is no such visit, `Kind::Store` if the store can't be written.
    pub fn add_visited(
        &mut self,
        id: i64,
        picture: i64,
        lot: Option<&str>,
        author: &Author,
    ) -> Result<()> {
        self.visit(id)?;
        let stands =
            "SELECT lot FROM visited WHERE visit = ?1 AND picture = ?2 ORDER BY id DESC LIMIT 1";
        let before: Option<String> = self
            .connection
            .query_row(stands, params![id, picture], |r| r.get(0))
            .optional()
            .map_err(|e| fault(&self.path, &e))?;
        let lot = match (lot, &before) {
            (Some(lot), _) => line(&self.path, lot, "a lot number")?,
            (None, Some(before)) => before,
            (None, None) => "",
        };
        if before.as_deref() == Some(lot) {
            return Ok(());
        }
        let words = params![id, picture, author.at, author.by, lot];
        let add = "INSERT INTO visited (visit, picture, at, by, lot) VALUES (?1, ?2, ?3, ?4, ?5)";
        self.connection
            .execute(add, words)
            .map(|_| ())
            .map_err(|e| fault(&self.path, &e))
    }

    /// All visits, the newest first.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be read.
    pub fn visits(&self) -> Result<Vec<Visit>> {
        let all = || -> rusqlite::Result<Vec<Visit>> {
            let mut find = self
                .connection
                .prepare_cached(&format!("{VISITS} ORDER BY v.id DESC"))?;
            find.query_map([], visit)?.collect()
        };
        all().map_err(|e| self.fault(e))
    }

    /// One visit.
    ///
    /// # Errors
    /// `Kind::Usage` if there is none of that number, `Kind::Store` if the store can't be read.
    pub fn visit(&self, id: i64) -> Result<Visit> {
        let find = format!("{VISITS} WHERE v.id = ?1");
        let found = self.connection.query_row(&find, [id], visit).optional();
        found.map_err(|e| self.fault(e))?.ok_or_else(|| {
            Error::new(
                Kind::Usage,
                format!("visit {id}"),
                "there is no such visit",
                "choose one of the list of visits",
            )
        })
    }

    /// The pictures of a visit in the order in which they were photographed, each with its lot number.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be read.
    pub fn visited(&self, id: i64) -> Result<Vec<(i64, String)>> {
        let all = || -> rusqlite::Result<Vec<(i64, String)>> {
            let mut find = self.connection.prepare_cached(
                "SELECT picture, lot FROM visited v WHERE visit = ?1
                 AND id = (SELECT max(id) FROM visited WHERE visit = v.visit AND picture = v.picture)
                 ORDER BY (SELECT min(id) FROM visited WHERE visit = v.visit AND picture = v.picture)",
            )?;
            find.query_map([id], |r| Ok((r.get(0)?, r.get(1)?)))?
                .collect()
        };
        all().map_err(|e| self.fault(e))
    }
}

impl SqliteStore {
    /// Keeps what was measured of marks, each by the number of the look that outlined it.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be written.
    pub fn keep_captures(&mut self, all: &[(i64, Capture)], at: &str, program: &str) -> Result<()> {
        let path = self.path.clone();
        let t = self.begin(&path)?;
        for (reading, capture) in all {
            t.execute(
                "INSERT INTO captures (reading, at, program, told) VALUES (?1, ?2, ?3, ?4)",
                params![reading, at, program, json(capture)?],
            )
            .map_err(|e| fault(&path, &e))?;
        }
        t.commit().map_err(|e| fault(&path, &e))
    }

    /// What was measured last of the marks on the photographs of a picture, by the number of the look.
    ///
    /// # Errors
    /// `Kind::Store` if the store can't be read.
    pub fn captures(&self, picture: i64) -> Result<HashMap<i64, Capture>> {
        let all = || -> rusqlite::Result<Vec<(i64, String)>> {
            let mut find = self.connection.prepare_cached(
                "SELECT c.reading, c.told FROM captures c JOIN readings r ON r.id = c.reading
                 JOIN sightings m ON m.id = r.mark JOIN photographs p ON p.id = m.photograph
                 WHERE p.picture = ?1 ORDER BY c.id",
            )?;
            find.query_map([picture], |r| Ok((r.get(0)?, r.get(1)?)))?
                .collect()
        };
        let all = all().map_err(|e| self.fault(e))?;
        let told = all
            .into_iter()
            .map(|(id, text)| Ok((id, parse(&self.path, &text)?)));
        told.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decisions::{Run, SeenPhotograph, Store};

    fn author() -> Author {
        Author {
            at: "2026-12-01T10:00:00+00:00".into(),
            by: "Ida Marl".into(),
            why: String::new(),
        }
    }

    /// A store with two pictures of one photograph each.
    fn store(dir: &Path) -> SqliteStore {
        let mut store = SqliteStore::open(&dir.join("s.sqlite")).unwrap();
        for n in 0..2 {
            let seen = SeenPhotograph {
                file: format!("/{n}.jpg").into(),
                sha256: format!("{n:064}"),
                width: 10,
                height: 10,
                skew_degrees: 0.0,
                marks: Vec::new(),
            };
            let run = Run {
                picture: Some(format!("picture {n}")),
                photographs: vec![seen],
                ..Run::default()
            };
            store.record_run(&run).unwrap();
        }
        store
    }

    #[test]
    fn the_newest_words_and_lots_of_a_visit_count_and_nothing_is_taken_away() {
        let dir = tempfile::tempdir().unwrap();
        let mut s = store(dir.path());
        let id = s.begin_visit(&author()).unwrap();
        assert_eq!(s.visit(id).unwrap().name, "");
        s.word_visit(id, "Viewing", "", &author()).unwrap();
        s.word_visit(id, "Viewing at Marlingate", "2026-12-12", &author())
            .unwrap();
        let told = s.visit(id).unwrap();
        assert_eq!(
            (told.name.as_str(), told.sale_day.as_str()),
            ("Viewing at Marlingate", "2026-12-12")
        );
        s.add_visited(id, 2, Some("41"), &author()).unwrap();
        s.add_visited(id, 1, None, &author()).unwrap();
        s.add_visited(id, 2, None, &author()).unwrap();
        s.add_visited(id, 1, Some("42"), &author()).unwrap();
        assert_eq!(
            s.visited(id).unwrap(),
            [(2, "41".to_owned()), (1, "42".to_owned())]
        );
        let rows: i64 = s
            .connection
            .query_row("SELECT count(*) FROM visited", [], |r| r.get(0))
            .unwrap();
        assert_eq!(rows, 3, "what says nothing new isn't written");
        assert_eq!(s.visits().unwrap().len(), 1);
    }

    #[test]
    fn no_visit_no_day_and_no_endless_name_are_taken() {
        let dir = tempfile::tempdir().unwrap();
        let mut s = store(dir.path());
        assert!(s.word_visit(7, "x", "", &author()).is_err());
        let id = s.begin_visit(&author()).unwrap();
        assert!(s.word_visit(id, "x", "12 December", &author()).is_err());
        assert!(s.word_visit(id, &"x".repeat(201), "", &author()).is_err());
        assert!(s.add_visited(id, 1, Some("1\n2"), &author()).is_err());
        assert!(s.add_visited(9, 1, None, &author()).is_err());
    }
}
