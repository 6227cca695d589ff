//! Whether a store's file is sound, and what of a damaged one can be brought into another.
//!
//! Nothing here writes to the file that is looked at: it is opened for reading alone, and what is rescued is read
//! from a copy.

use super::{APPLICATION, MIGRATIONS, SqliteStore, migrate_to, without_sql};
use crate::error::{Error, Kind, Result};
use rusqlite::types::Value;
use rusqlite::{Connection, ErrorCode, OpenFlags, params_from_iter};
use std::path::Path;

/// What holds nothing that can't be worked out again from the rest.
const WORKED_OUT: [&str; 3] = ["standing", "traits", "unranked"];

/// What was found in a store's file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Health {
    /// Version of the store.
    pub version: i64,
    /// What it holds: what and how many.
    pub counts: Vec<(&'static str, i64)>,
    /// What is wrong with it, a sentence each; none: it is sound.
    pub faults: Vec<String>,
}

/// What of a table could be brought into the new store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rescued {
    /// Name of the table.
    pub table: String,
    /// Rows that stand in the new store.
    pub kept: u64,
    /// Places at which rows couldn't be read, and rows left out since what they name is lost.
    pub lost: u64,
}

fn unreadable(path: &Path, e: &rusqlite::Error) -> Error {
    let (what, next) = match e.sqlite_error_code() {
        Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen) => (
            "a program was stopped while it wrote to it, or it may not be read".to_string(),
            "run any command on it that reads the store, which takes back what was half written; then check again",
        ),
        Some(ErrorCode::NotADatabase) => (
            "this file is not a store of Dorso, or its first page is lost".to_string(),
            "put back a copy of it from before",
        ),
        _ => (
            format!("it can't be read ({})", without_sql(e)),
            "put back a copy of it from before, or bring what is whole into another file with dorso store mend",
        ),
    };
    Error::new(Kind::Store, path.display(), what, next)
}

/// Looks through a store's file; writes nothing.
///
/// # Errors
/// `Kind::Store` if it can't be read at all or is none.
pub fn check(path: &Path) -> Result<Health> {
    let at = |e: rusqlite::Error| unreadable(path, &e);
    let file = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let c = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY).map_err(at)?;
    super::check_identity(&c, path)?;
    let mut health = Health {
        version: c
            .pragma_query_value(None, "user_version", |r| r.get(0))
            .map_err(at)?,
        ..Health::default()
    };
    match lines(&c, "PRAGMA integrity_check(20)") {
        Ok(said) if said == ["ok"] => {}
        Ok(said) => health.faults.extend(said),
        Err(e) => health.faults.push(without_sql(&e)),
    }
    let dangling = "SELECT \"table\" || ' row ' || coalesce(rowid, '?') || ' names a row of ' || parent || ' that isn''t there'
         FROM pragma_foreign_key_check LIMIT 20";
    match lines(&c, dangling) {
        Ok(said) => health.faults.extend(said),
        Err(e) => health.faults.push(without_sql(&e)),
    }
    for (what, table) in [
        ("pictures", "pictures"),
        ("photographs", "photographs"),
        (
            "sightings",
            if health.version < 8 {
                "marks"
            } else {
                "sightings"
            },
        ),
        ("readings", "readings"),
        ("decisions", "decisions"),
    ] {
        match c.query_row(&format!("SELECT count(*) FROM {table}"), [], |r| r.get(0)) {
            Ok(count) => health.counts.push((what, count)),
            Err(e) => health
                .faults
                .push(format!("{what} can't be counted ({})", without_sql(&e))),
        }
    }
    Ok(health)
}

fn lines(c: &Connection, query: &str) -> rusqlite::Result<Vec<String>> {
    c.prepare(query)?.query_map([], |r| r.get(0))?.collect()
}

/// Brings all that can be read of a store into a new one; the old file stays as it is.
///
/// * `to`: must not be there yet.
///
/// # Errors
/// `Kind::Store` if nothing can be read of it or the new one can't be written.
pub fn mend(path: &Path, to: &Path) -> Result<Vec<Rescued>> {
    let written = |e: std::io::Error| {
        let what = format!("the new store can't be written ({e})");
        Error::new(
            Kind::Store,
            to.display(),
            what,
            "make room, or name another file with --out",
        )
    };
    let at = |e: rusqlite::Error| unreadable(path, &e);
    let folder = tempfile::tempdir_in(
        to.parent()
            .filter(|p| !p.as_os_str().is_empty())
            .unwrap_or(Path::new(".")),
    );
    let folder = folder.map_err(written)?;
    let (copy, fresh) = (folder.path().join("copy"), folder.path().join("fresh"));
    std::fs::copy(path, &copy).map_err(written)?;
    let journal = |p: &Path| std::path::PathBuf::from(format!("{}-journal", p.display()));
    if journal(path).exists() {
        std::fs::copy(journal(path), journal(&copy)).map_err(written)?;
    }
    let old = Connection::open(&copy).map_err(at)?;
    let version: i64 = old
        .pragma_query_value(None, "user_version", |r| r.get(0))
        .map_err(at)?;
    let newest = MIGRATIONS.len() as i64;
    let version = if (1..=newest).contains(&version) {
        version
    } else {
        newest
    };
    let mut new = Connection::open(&fresh).map_err(at)?;
    migrate_to(&mut new, &fresh, version)?;
    let rescued = bring(&old, &new).map_err(at)?;
    drop((old, new));
    // Brings it up to this version and works out again what is worked out
    drop(SqliteStore::open(&fresh)?);
    let mut beside = crate::written::Beside::begin(to).map_err(written)?;
    let mut from = std::fs::File::open(&fresh).map_err(written)?;
    std::io::copy(&mut from, &mut beside).map_err(written)?;
    beside.put_new().map_err(written)?;
    Ok(rescued)
}

/// Copies every table row by row, past what can't be read.
fn bring(old: &Connection, new: &Connection) -> rusqlite::Result<Vec<Rescued>> {
    new.pragma_update(None, "foreign_keys", false)?;
    new.pragma_update(None, "application_id", APPLICATION)?;
    let triggers = lines(new, "SELECT sql FROM sqlite_master WHERE type = 'trigger'")?;
    for name in lines(new, "SELECT name FROM sqlite_master WHERE type = 'trigger'")? {
        new.execute_batch(&format!("DROP TRIGGER {name}"))?;
    }
    let tables = lines(
        new,
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'
         AND name NOT LIKE 'found_words%'",
    )?;
    let mut all = Vec::new();
    new.execute_batch("BEGIN")?;
    for table in tables
        .into_iter()
        .filter(|t| !WORKED_OUT.contains(&t.as_str()))
    {
        let (kept, lost) = rows(old, new, &table)?;
        all.push(Rescued { table, kept, lost });
    }
    // Worked out anew when it is opened
    new.execute(
        "DELETE FROM settings WHERE name = ?1",
        [super::standing::RULES],
    )?;
    // A sighting whose place among marks is lost is a mark of its own
    if lines(new, "SELECT name FROM sqlite_master WHERE name = 'members'")?.len() == 1 {
        new.execute_batch(
            "INSERT OR IGNORE INTO members (sighting, mark, joined) SELECT id, id, 1 FROM sightings",
        )?;
    }
    // A row that names a lost one would stop every command that meets it
    loop {
        let dangling = "SELECT DISTINCT \"table\", rowid FROM pragma_foreign_key_check WHERE rowid IS NOT NULL";
        let mut find = new.prepare(dangling)?;
        let found = find.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?;
        let found: Vec<(String, i64)> = found.collect::<rusqlite::Result<_>>()?;
        for (table, row) in &found {
            new.execute(&format!("DELETE FROM \"{table}\" WHERE rowid = ?1"), [row])?;
            if let Some(r) = all.iter_mut().find(|r| r.table == *table) {
                r.kept = r.kept.saturating_sub(1);
                r.lost += 1;
            }
        }
        if found.is_empty() {
            break;
        }
    }
    for trigger in triggers {
        new.execute_batch(&trigger)?;
    }
    new.execute_batch("COMMIT")?;
    Ok(all)
}

/// Copies a table; gives the rows copied and the places at which rows couldn't be read.
fn rows(old: &Connection, new: &Connection, table: &str) -> rusqlite::Result<(u64, u64)> {
    /// Rows passed over at most at one place that can't be read.
    const STEP: i64 = 1 << 20;
    let last = old.query_row(&format!("SELECT max(rowid) FROM \"{table}\""), [], |r| {
        r.get::<_, Option<i64>>(0)
    });
    let (mut from, mut kept, mut lost, mut step) = (i64::MIN, 0, 0, 1);
    loop {
        let query = format!("SELECT rowid, * FROM \"{table}\" WHERE rowid >= ?1 ORDER BY rowid");
        let Ok(mut find) = old.prepare(&query) else {
            return Ok((kept, lost + 1));
        };
        let width = find.column_count();
        let mut found = find.query([from])?;
        let broken = loop {
            match found.next() {
                Ok(Some(row)) => {
                    let id: i64 = row.get(0)?;
                    let cells = (0..width).map(|i| row.get::<_, Value>(i));
                    let cells = cells.collect::<rusqlite::Result<Vec<_>>>()?;
                    let marks = vec!["?"; width - 1].join(",");
                    let insert = format!("INSERT OR IGNORE INTO \"{table}\" VALUES ({marks})");
                    kept += new
                        .prepare_cached(&insert)?
                        .execute(params_from_iter(&cells[1..]))? as u64;
                    (from, step) = (id.saturating_add(1), 1);
                }
                Ok(None) => break false,
                Err(_) => break true,
            }
        };
        if !broken {
            return Ok((kept, lost));
        }
        lost += u64::from(step == 1);
        let end = last.as_ref().ok().copied().flatten();
        if step > STEP || end.is_some_and(|end| from > end) {
            return Ok((kept, lost));
        }
        from = from.max(0).saturating_add(step);
        step *= 2;
    }
}
