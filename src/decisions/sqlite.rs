//! The store in one SQLite file.
//!
//! Each writing call is one transaction: all of it is kept or nothing. The rollback journal (not
//! write-ahead logging) keeps everything in one file that can be copied while no command runs.

use super::{
    Act, Author, Decision, KeptMark, MarkId, Observation, Picture, Recorded, Run, Sight, Store,
};
use crate::error::{Error, Kind, Result};
use rusqlite::{
    Connection, ErrorCode, OpenFlags, OptionalExtension, Transaction, TransactionBehavior,
};
use std::path::{Path, PathBuf};
use std::time::Duration;

mod beside;
mod conflicts;
mod decide;
pub mod health;
mod joined;
mod observed;
mod read;
mod record;
mod search;
mod signs;
mod standing;
mod visits;

pub use beside::{Together, Weighed};
pub use decide::{Drawing, Guard, Kept};
use read::Which;
pub use search::{FoundMarks, Wanted, Worded};
pub use signs::Design;
pub use standing::{InOrder, Narrow, Tally};
pub use visits::Visit;

/// Marks an SQLite file as a store of this program: "Dors" in ASCII.
const APPLICATION: i32 = 0x446f_7273;

/// Numbered, each run once in its own transaction; never edited once released.
const MIGRATIONS: &[&str] = &[
    include_str!("migrations/0001_first.sql"),
    include_str!("migrations/0002_observations.sql"),
    include_str!("migrations/0003_desk.sql"),
    include_str!("migrations/0004_conflicts.sql"),
    include_str!("migrations/0005_bearing.sql"),
    include_str!("migrations/0006_beside.sql"),
    include_str!("migrations/0007_variant.sql"),
    include_str!("migrations/0008_sightings.sql"),
    include_str!("migrations/0009_statements.sql"),
    include_str!("migrations/0010_bare.sql"),
    include_str!("migrations/0011_search.sql"),
    include_str!("migrations/0012_order.sql"),
    include_str!("migrations/0013_signs.sql"),
    include_str!("migrations/0014_visits.sql"),
];

/// How long to wait for another program that is writing.
const PATIENCE: Duration = Duration::from_secs(10);

/// Where the store lies if the user names no file: the platform's folder for a program's data
/// (`$XDG_DATA_HOME/dorso/store.sqlite`, by the XDG Base Directory Specification 0.8, or its like).
///
/// # Errors
/// `Kind::Usage` if the machine names no home folder.
pub fn default_path() -> Result<PathBuf> {
    let var = |name| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    let home = || var("HOME");
    let base = if cfg!(windows) {
        var("APPDATA")
    } else if cfg!(target_os = "macos") {
        home().map(|h| h.join("Library/Application Support"))
    } else {
        // The specification: a relative path is to be ignored.
        var("XDG_DATA_HOME")
            .filter(|p| p.is_absolute())
            .or_else(|| home().map(|h| h.join(".local/share")))
    };
    base.map(|b| b.join("dorso").join("store.sqlite"))
        .ok_or_else(|| {
            Error::new(
                Kind::Usage,
                "store",
                "this machine names no folder for a program's data",
                "name the store's file with --store FILE",
            )
        })
}

/// A [`Store`] in one SQLite file.
#[derive(Debug)]
pub struct SqliteStore {
    connection: Connection,
    path: PathBuf,
}

impl SqliteStore {
    /// Opens a store, making it (and its folder) if it isn't there, and brings an older one up to
    /// this version.
    ///
    /// # Errors
    /// `Kind::Store`: no permission, not a store, damaged, or written by a newer version; such a
    /// file is left untouched.
    pub fn open(path: &Path) -> Result<Self> {
        Self::open_telling(path, &|_, _| {})
    }

    /// The same, which may take minutes after a change of the rules for what is in doubt; what is done by then stays
    /// done if it is stopped.
    ///
    /// * `each`: told how many pictures of how many were gone through.
    ///
    /// # Errors
    /// As [`SqliteStore::open`].
    pub fn open_telling(path: &Path, each: &dyn Fn(usize, usize)) -> Result<Self> {
        if let Some(dir) = path.parent().filter(|d| !d.as_os_str().is_empty()) {
            std::fs::create_dir_all(dir).map_err(|e| {
                Error::new(
                    Kind::Store,
                    dir.display(),
                    format!("the store's folder can't be made ({e})"),
                    "name another place with --store FILE",
                )
            })?;
        }
        let at = |e: std::io::Error| {
            Error::new(
                Kind::Store,
                path.display(),
                format!("the store can't be opened ({e})"),
                "name another file with --store FILE",
            )
        };
        if std::fs::metadata(path).is_ok_and(|m| !m.is_file()) {
            return Err(at(std::io::Error::other("it is no ordinary file")));
        }
        // A name is a file's name, whatever SQLite would make of it: nothing is kept in memory alone
        let file = std::path::absolute(path).map_err(at)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(file, flags).map_err(|e| fault(path, &e))?;
        Self::prepare(connection, path, each)
    }

    /// Opens a store that must be there.
    ///
    /// # Errors
    /// As [`SqliteStore::open`], and `Kind::Store` if there is no such file.
    pub fn open_existing(path: &Path) -> Result<Self> {
        Self::open_existing_telling(path, &|_, _| {})
    }

    /// The same, told as by [`SqliteStore::open_telling`].
    ///
    /// # Errors
    /// As [`SqliteStore::open_existing`].
    pub fn open_existing_telling(path: &Path, each: &dyn Fn(usize, usize)) -> Result<Self> {
        if !path.exists() {
            return Err(Error::new(
                Kind::Store,
                path.display(),
                "there is no store yet",
                "read photographs first (dorso read PHOTO...) or name the store's file with --store FILE",
            ));
        }
        Self::open_telling(path, each)
    }

    /// The store's file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes a consistent copy of the whole store, whatever else is writing to it.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be written, or the file is there already.
    pub fn snapshot(&self, to: &Path) -> Result<()> {
        self.connection
            .execute("VACUUM INTO ?1", [to.to_string_lossy()])
            .map(|_| ())
            .map_err(|e| fault(to, &e))
    }

    /// Bounds the file to `pages` more pages than it has now; past that the store answers as on a
    /// full disk. Holds as long as this value lives.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn limit_size(&self, pages: i64) -> Result<()> {
        let count = |pragma: &str| -> rusqlite::Result<i64> {
            self.connection
                .pragma_query_value(None, pragma, |r| r.get(0))
        };
        let now = count("page_count").map_err(|e| self.fault(e))?;
        self.connection
            .query_row(
                &format!("PRAGMA max_page_count = {}", now + pages),
                [],
                |r| r.get::<_, i64>(0),
            )
            .map(|_| ())
            .map_err(|e| self.fault(e))
    }

    fn prepare(
        mut connection: Connection,
        path: &Path,
        each: &dyn Fn(usize, usize),
    ) -> Result<Self> {
        let at = |e: rusqlite::Error| fault(path, &e);
        connection.busy_timeout(PATIENCE).map_err(at)?;
        check_identity(&connection, path)?;
        connection
            .pragma_update(None, "foreign_keys", true)
            .map_err(at)?;
        migrate(&mut connection, path)?;
        let mut store = SqliteStore {
            connection,
            path: path.to_owned(),
        };
        store.bring_standing_up_to_date(each)?;
        Ok(store)
    }

    /// Numbers of pictures that a query gives.
    fn picture_ids(&self, query: &str) -> Result<Vec<i64>> {
        let all = || -> rusqlite::Result<Vec<i64>> {
            let mut find = self.connection.prepare_cached(query)?;
            find.query_map([], |r| r.get(0))?.collect()
        };
        all().map_err(|e| self.fault(e))
    }

    /// Begins a transaction that writes.
    fn begin(&mut self, path: &Path) -> Result<Transaction<'_>> {
        self.connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|e| fault(path, &e))
    }

    fn fault(&self, e: rusqlite::Error) -> Error {
        fault(&self.path, &e)
    }
}

/// Refuses other programs' files and newer stores before anything is written.
fn check_identity(connection: &Connection, path: &Path) -> Result<()> {
    let number = |pragma: &str| -> Result<i64> {
        connection
            .pragma_query_value(None, pragma, |r| r.get(0))
            .map_err(|e| fault(path, &e))
    };
    let version = number("user_version")?;
    let application = number("application_id")?;
    let tables: i64 = connection
        .query_row("SELECT count(*) FROM sqlite_master", [], |r| r.get(0))
        .map_err(|e| fault(path, &e))?;
    let ours = application == i64::from(APPLICATION);
    if !ours && (application != 0 || version != 0 || tables != 0) {
        return Err(Error::new(
            Kind::Store,
            path.display(),
            "this is a database of another program, not a store of Dorso",
            "name another file with --store FILE",
        ));
    }
    if version > MIGRATIONS.len() as i64 {
        return Err(Error::new(
            Kind::Store,
            path.display(),
            format!(
                "this store was written by a newer version of Dorso (store version {version}; this program knows up to {}) and is left untouched",
                MIGRATIONS.len()
            ),
            "install the newer version, or name another file with --store FILE",
        ));
    }
    Ok(())
}

fn migrate(connection: &mut Connection, path: &Path) -> Result<()> {
    migrate_to(connection, path, MIGRATIONS.len() as i64)
}

/// Brings a store up to a version.
fn migrate_to(connection: &mut Connection, path: &Path, newest: i64) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    for (number, sql) in (1..=newest).zip(MIGRATIONS) {
        let version = |c: &Connection| -> rusqlite::Result<i64> {
            c.pragma_query_value(None, "user_version", |r| r.get(0))
        };
        if version(connection).map_err(at)? >= number {
            continue;
        }
        let t = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(at)?;
        // Another program may have been quicker while this one waited for the lock.
        if version(&t).map_err(at)? < number {
            t.execute_batch(sql)
                .map_err(|e| unlike(path, number - 1, &e))?;
            t.pragma_update(None, "application_id", APPLICATION)
                .map_err(at)?;
            t.pragma_update(None, "user_version", number).map_err(at)?;
        }
        t.commit().map_err(at)?;
    }
    Ok(())
}

/// A store whose content and version don't fit each other.
fn unlike(path: &Path, version: i64, e: &rusqlite::Error) -> Error {
    match e.sqlite_error_code() {
        Some(ErrorCode::Unknown) | None => Error::new(
            Kind::Store,
            path.display(),
            format!(
                "the store says that it is of version {version}, and holds what no store of that version does"
            ),
            "put back a copy of it from before, and keep this file: dorso store check says what it holds",
        ),
        _ => fault(path, e),
    }
}

/// What SQLite says of an error, without the statement that met it.
fn without_sql(e: &rusqlite::Error) -> String {
    match e {
        rusqlite::Error::SqlInputError { msg, .. } => msg.clone(),
        rusqlite::Error::SqliteFailure(code, None) => code.to_string(),
        rusqlite::Error::SqliteFailure(_, Some(said)) => said.clone(),
        e => e.to_string(),
    }
}

/// An SQLite error as a sentence.
fn fault(path: &Path, e: &rusqlite::Error) -> Error {
    let (what, next) = match e.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => (
            "the disk is full, so nothing of this step was kept".to_string(),
            "make room and do it again; what was kept before is unharmed",
        ),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => (
            "another program is writing to the store".to_string(),
            "wait until it is done and do it again",
        ),
        Some(ErrorCode::ReadOnly) => (
            "the store can't be written".to_string(),
            "allow writing to the file and its folder, or name another with --store FILE",
        ),
        Some(ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => (
            "the store can't be opened".to_string(),
            "look whether the folder is there and may be read and written, or name another file with --store FILE",
        ),
        Some(ErrorCode::NotADatabase) => (
            "this file is not a store of Dorso".to_string(),
            "name another file with --store FILE",
        ),
        Some(ErrorCode::DatabaseCorrupt) => (
            "the store is damaged".to_string(),
            "see dorso store check for what is lost; dorso store mend writes what is whole into another file",
        ),
        _ => (
            format!("the store isn't as it should be ({})", without_sql(e)),
            "see dorso store check for what is wrong with it",
        ),
    };
    Error::new(Kind::Store, path.display(), what, next)
}

impl Store for SqliteStore {
    fn record_run(&mut self, run: &Run) -> Result<Recorded> {
        self.add_run(run)
    }

    fn picture_with(&self, sha256: &[String]) -> Result<Option<i64>> {
        for sha in sha256 {
            let picture = self
                .connection
                .query_row(
                    "SELECT picture FROM photographs WHERE sha256 = ?1",
                    [sha],
                    |r| r.get(0),
                )
                .optional()
                .map_err(|e| self.fault(e))?;
            if picture.is_some() {
                return Ok(picture);
            }
        }
        Ok(None)
    }

    fn decide(&mut self, mark: MarkId, act: &Act, author: &Author) -> Result<Decision> {
        match self.decide_once(mark, act, author, &Guard::default())? {
            Kept::Now(d) | Kept::Before(d) => Ok(d),
            Kept::Conflict(_) => Err(no_such_mark(mark)),
        }
    }

    fn journal(&self) -> Result<Vec<Decision>> {
        read::journal(&self.connection, &self.path, Which::All)
    }

    fn pictures(&self) -> Result<Vec<Picture>> {
        read::pictures(&self.connection, None).map_err(|e| self.fault(e))
    }

    fn marks(&self, picture: Option<i64>) -> Result<Vec<KeptMark>> {
        let which = picture.map_or(Which::All, Which::OfPicture);
        read::settled_marks(&self.connection, &self.path, which)
    }

    fn mark(&self, id: MarkId) -> Result<KeptMark> {
        read::settled_marks(&self.connection, &self.path, Which::One(id))?
            .pop()
            .ok_or_else(|| no_such_mark(id))
    }

    fn observe(&mut self, picture: i64, sight: &Sight, author: &Author) -> Result<Observation> {
        self.add_observation(picture, sight, author)
    }

    fn observations(&self, picture: Option<i64>) -> Result<Vec<Observation>> {
        self.all_observations(picture)
    }

    fn setting(&self, name: &str) -> Result<Option<String>> {
        self.connection
            .query_row("SELECT value FROM settings WHERE name = ?1", [name], |r| {
                r.get(0)
            })
            .optional()
            .map_err(|e| self.fault(e))
    }

    fn set(&mut self, name: &str, value: &str) -> Result<()> {
        set(&self.connection, name, value).map_err(|e| self.fault(e))
    }
}

fn set(c: &Connection, name: &str, value: &str) -> rusqlite::Result<()> {
    c.execute(
        "INSERT INTO settings (name, value) VALUES (?1, ?2)
         ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        [name, value],
    )
    .map(|_| ())
}

fn no_such_mark(mark: MarkId) -> Error {
    Error::new(
        Kind::Store,
        format!("mark {mark}"),
        "the store has no such mark",
        "see dorso queue --all for those it has",
    )
}

fn json(value: &impl serde::Serialize) -> Result<String> {
    serde_json::to_string(value).map_err(|e| {
        Error::new(
            Kind::Store,
            "store",
            format!("a record can't be written as JSON ({e})"),
            "report this with the command that you used",
        )
    })
}
