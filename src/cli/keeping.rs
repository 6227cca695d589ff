//! What the commands that use the store have in common: which store, and who decides.

use crate::dating::clues::Clues;
use crate::decisions::{self, Author, MarkId, Picture, SqliteStore};
use crate::error::{Error, Kind, Result};
use crate::run;
use std::path::{Path, PathBuf};

/// Which store.
#[derive(clap::Args, Debug, Clone)]
pub(crate) struct StoreOption {
    /// The store; else the one named by DORSO_STORE, else that of this user
    #[arg(long, value_name = "FILE", global = true)]
    store: Option<PathBuf>,
}

impl StoreOption {
    /// Opens the store, which must be there.
    pub(crate) fn open(&self) -> Result<SqliteStore> {
        let file = store_file(self.store.clone())?;
        shown(WORKED_OUT, |each| {
            SqliteStore::open_existing_telling(&file, each)
        })
    }

    /// The store's file.
    pub(crate) fn file(&self) -> Result<PathBuf> {
        store_file(self.store.clone())
    }

    /// The option as it has to be given again in a command that is told to the person.
    pub(crate) fn again(&self) -> String {
        self.store.as_ref().map_or_else(String::new, |f| {
            format!(" --store {}", quoted(&f.display().to_string()))
        })
    }
}

/// Who decides and why.
#[derive(clap::Args, Debug, Clone)]
pub(crate) struct AuthorOptions {
    /// Who decides; else the name in DORSO_BY, else that by which this machine knows you
    #[arg(long, value_name = "WHO", global = true)]
    by: Option<String>,
    /// The reason, kept with the decision
    #[arg(long, value_name = "REASON", global = true)]
    why: Option<String>,
}

impl AuthorOptions {
    pub(crate) fn author(&self) -> Result<Author> {
        Ok(Author {
            by: author(self.by.clone())?,
            at: decisions::now(),
            why: self.why.clone().unwrap_or_default().trim().to_owned(),
        })
    }
}

/// What was typed can't be taken so.
pub(crate) fn usage(place: &str, what: impl Into<String>, next: impl Into<String>) -> Error {
    Error::new(
        Kind::Usage,
        format!("\"{place}\""),
        what.into(),
        next.into(),
    )
}

/// The store's file: as named, else from the environment, else the platform's place for it.
pub(crate) fn store_file(named: Option<PathBuf>) -> Result<PathBuf> {
    let environment = || std::env::var_os("DORSO_STORE").filter(|v| !v.is_empty());
    match named.or_else(|| environment().map(PathBuf::from)) {
        Some(file) => Ok(file),
        None => decisions::default_path(),
    }
}

/// Who it is: as named, else from the environment, else the machine's name for the user.
pub(crate) fn author(named: Option<String>) -> Result<String> {
    named
        .into_iter()
        .chain(
            ["DORSO_BY", "USER", "LOGNAME", "USERNAME"]
                .into_iter()
                .filter_map(|v| std::env::var(v).ok()),
        )
        .map(|n| n.trim().to_owned())
        .find(|n| !n.is_empty())
        .or_else(machine_user)
        .ok_or_else(|| {
            Error::new(
                Kind::Usage,
                "who",
                "this machine names no user, and each record is kept with a name",
                "say who you are with --by WHO",
            )
        })
}

/// Name of the home folder, where no variable names the user (a service, a container).
fn machine_user() -> Option<String> {
    let home = PathBuf::from(std::env::var_os("HOME")?);
    Some(home.file_name()?.to_string_lossy().into_owned())
}

/// A mark's number as typed.
pub(crate) fn mark_id(text: &str) -> Result<MarkId> {
    MarkId::parse(text).ok_or_else(|| {
        Error::new(
            Kind::Usage,
            format!("\"{text}\""),
            "this is no mark: its number and its letter don't fit together",
            "copy it from dorso queue, for example 1b",
        )
    })
}

/// A picture by name (regardless of case), or by the beginning of its name if only one begins so.
pub(crate) fn picture(store: &SqliteStore, name: &str) -> Result<Picture> {
    let wanted = name.trim().to_lowercase();
    let all = store.names()?;
    let begins = || {
        let mut some = all
            .iter()
            .filter(|p| p.1.to_lowercase().starts_with(&wanted));
        some.next()
            .filter(|_| some.next().is_none() && !wanted.is_empty())
    };
    let named = all.iter().find(|p| p.1.to_lowercase() == wanted);
    if let Some((id, _)) = named.or_else(begins)
        && let Some(picture) = store.picture(*id)?
    {
        return Ok(picture);
    }
    let begins = all
        .iter()
        .filter(|p| p.1.to_lowercase().starts_with(&wanted));
    let begins = begins.count() * usize::from(!wanted.is_empty());
    let names: Vec<String> = all.iter().take(8).map(|p| format!("\"{}\"", p.1)).collect();
    let (what, next) = match (begins, all.len()) {
        (_, 0) => (
            "the store holds no pictures".to_string(),
            "read photographs first (dorso read PHOTO...)".to_string(),
        ),
        (0, _) => (
            "the store has no picture of this name".to_string(),
            format!("give one of {}", names.join(", ")),
        ),
        (n, _) => (
            format!("{n} pictures have names that begin so"),
            "give the whole name".to_string(),
        ),
    };
    Err(Error::new(
        Kind::Store,
        format!("picture \"{name}\""),
        what,
        next,
    ))
}

/// A word as it has to be typed in a shell.
pub(crate) fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

/// What is done after a change of the rules.
const WORKED_OUT: &str = "working out anew what is in doubt";

/// Does something that may take long, with a progress bar where it does.
///
/// * `work`: given what is to be told how many of how many are done.
fn shown<T>(
    what: &'static str,
    work: impl FnOnce(&dyn Fn(usize, usize)) -> Result<T>,
) -> Result<T> {
    /// Below this nobody waits long enough for a bar.
    const FEW: usize = 5;
    let bar = std::cell::OnceCell::new();
    let done = work(&|done, count| {
        if count > FEW {
            let bar = bar.get_or_init(|| super::read::progress(count));
            bar.set_length(count as u64);
            bar.set_message(what);
            bar.set_position(done as u64);
        }
    });
    if let Some(bar) = bar.get() {
        bar.finish_and_clear();
    }
    done
}

/// Opens a store, which is made if it isn't there.
pub(crate) fn opened(file: &Path) -> Result<SqliteStore> {
    shown(WORKED_OUT, |each| SqliteStore::open_telling(file, each))
}

/// Weighs what is proposed beside the rest of each picture from now on, or not.
pub(crate) fn weigh_beside(store: &mut SqliteStore, on: bool) -> Result<()> {
    store.weigh_beside(on)?;
    shown(WORKED_OUT, |each| store.rank_all(each))
}

/// Brings what the store knows of the pictures that changed up to date, of one or of all.
///
/// # Errors
/// `Kind::Store` if it can't be read or written.
pub(crate) fn hold_changed(
    store: &mut SqliteStore,
    clues: &Clues,
    only: Option<i64>,
) -> Result<()> {
    let what = "weighing the marks of each picture beside each other";
    shown(what, |each| run::hold_changed(store, clues, only, each))
}
