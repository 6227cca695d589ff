//! What a browser has to know before the desk shows it anything.
//!
//! The key lies in a file of its own beside the store, for this user alone, and stays the same from run to run, so that a
//! page left open finds the desk again. It never stands in the list of processes: a browser is opened by a link
//! that holds for one use and two minutes. A link used twice may have let somebody else in: there is a new key then.

use super::random_word;
use crate::error::{Error, Kind, Result};
use crate::limits::TEXT_BYTES;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// How long a link may be used.
const HOLDS: Duration = Duration::from_secs(120);

/// The key, and the link that isn't used yet.
#[derive(Debug)]
pub struct Keys {
    file: Option<PathBuf>,
    held: Mutex<Held>,
}

#[derive(Debug)]
struct Held {
    key: String,
    link: Option<(String, Instant)>,
    used: Option<String>,
}

/// What a link leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Link {
    /// The desk.
    In,
    /// Nothing: it was used before, is too old or never was one.
    Nowhere,
    /// Nothing: it was used before, and the key is another one now.
    Twice,
}

impl Keys {
    /// The key in the file named, else the one kept beside the store; made up if there is none.
    ///
    /// # Errors
    /// `Kind::Usage` if the file named holds no key, `Kind::Store` if none can be kept.
    pub fn of(store: &Path, named: Option<&Path>) -> Result<Keys> {
        let (key, file) = match named {
            Some(file) => (given(file)?, None),
            None => {
                let file = beside(store);
                (kept(&file)?, Some(file))
            }
        };
        let (link, used) = (None, None);
        let held = Mutex::new(Held { key, link, used });
        Ok(Keys { file, held })
    }

    fn held(&self) -> std::sync::MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(|e| e.into_inner())
    }

    /// The key as it is now.
    pub fn key(&self) -> String {
        self.held().key.clone()
    }

    /// A word that lets one browser in.
    ///
    /// # Errors
    /// As [`random_word`].
    pub fn link(&self) -> Result<String> {
        let word = random_word()?;
        self.held().link = Some((word.clone(), Instant::now()));
        Ok(word)
    }

    /// Whether that word lets a browser in; it does so once.
    pub fn follow(&self, word: &str) -> Link {
        let mut held = self.held();
        if held.used.as_deref().is_some_and(|used| same(used, word)) {
            held.used = None;
            return match self.renew(&mut held) {
                Ok(()) => Link::Twice,
                Err(_) => Link::Nowhere,
            };
        }
        match held.link.take_if(|(link, _)| same(link, word)) {
            Some((link, at)) if at.elapsed() < HOLDS => {
                held.used = Some(link);
                Link::In
            }
            _ => Link::Nowhere,
        }
    }

    fn renew(&self, held: &mut Held) -> Result<()> {
        held.key = random_word()?;
        if let Some(file) = &self.file {
            let _ = std::fs::remove_file(file);
            keep(file, &held.key)?;
        }
        Ok(())
    }
}

/// Equality in a time that doesn't tell how far the words agree.
pub fn same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |d, (x, y)| d | (x ^ y)) == 0
}

/// Whether it is long enough not to be guessed and can stand in an address.
fn sound(key: &str) -> bool {
    (12..=200).contains(&key.len()) && key.bytes().all(|b| b.is_ascii_alphanumeric())
}

fn given(file: &Path) -> Result<String> {
    let fault = |what: String| {
        let next = "write at least 12 letters and figures into it, or leave --key-file out";
        Error::new(Kind::Usage, file.display(), what, next)
    };
    let text = TEXT_BYTES.text(file);
    let text = text.map_err(|e| fault(format!("the key can't be read ({e})")))?;
    match text.trim() {
        key if sound(key) => Ok(key.to_owned()),
        _ => Err(fault(
            "its key is too easy to guess or can't stand in an address".into(),
        )),
    }
}

/// The file that keeps the key of a store's desk.
fn beside(store: &Path) -> PathBuf {
    let name = store.file_name().unwrap_or_default().to_string_lossy();
    store.with_file_name(format!(".{name}.desk-key"))
}

fn kept(file: &Path) -> Result<String> {
    let about = std::fs::symlink_metadata(file).ok();
    if about.as_ref().is_some_and(own)
        && let Ok(text) = TEXT_BYTES.text(file)
        && sound(text.trim())
    {
        return Ok(text.trim().to_owned());
    }
    if about.is_some() {
        let _ = std::fs::remove_file(file);
    }
    let key = random_word()?;
    keep(file, &key)?;
    Ok(key)
}

/// Whether a file is an ordinary one that others can't read.
pub fn own(about: &std::fs::Metadata) -> bool {
    #[cfg(unix)]
    let closed = std::os::unix::fs::MetadataExt::mode(about) & 0o077 == 0;
    #[cfg(not(unix))]
    let closed = true;
    about.is_file() && closed
}

/// Keeps a secret in a new file that this user alone can read.
///
/// # Errors
/// `Kind::Store` if it can't be written.
pub fn keep(file: &Path, key: &str) -> Result<()> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options.open(file);
    let written = written.and_then(|mut f| f.write_all(key.as_bytes()));
    written.map_err(|e| {
        Error::new(
            Kind::Store,
            file.display(),
            format!("the desk's key can't be kept ({e})"),
            "allow writing to the store's folder, or name a file that holds one with --key-file FILE",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_that_differ_anywhere_are_not_the_same() {
        assert!(same("abc", "abc"));
        assert!(!same("abc", "abd") && !same("abc", "ab") && !same("", "a"));
    }

    #[test]
    fn a_key_stays_from_run_to_run_for_its_user_alone() {
        let dir = tempfile::tempdir().expect("a folder");
        let store = dir.path().join("s.sqlite");
        let key = Keys::of(&store, None).expect("a key").key();
        assert_eq!(Keys::of(&store, None).expect("the key").key(), key);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let open = std::fs::Permissions::from_mode(0o644);
            std::fs::set_permissions(beside(&store), open).expect("rights");
            let other = Keys::of(&store, None).expect("a key").key();
            assert_ne!(other, key, "a key that others could read is one no more");
            let about = std::fs::metadata(beside(&store)).expect("there");
            assert_eq!(about.permissions().mode() & 0o777, 0o600);
        }
    }

    #[test]
    fn a_link_holds_once_and_used_twice_it_costs_the_key() {
        let dir = tempfile::tempdir().expect("a folder");
        let keys = Keys::of(&dir.path().join("s.sqlite"), None).expect("a key");
        let (before, word) = (keys.key(), keys.link().expect("a link"));
        assert_eq!(keys.follow("another"), Link::Nowhere);
        assert_eq!(keys.follow(&word), Link::In);
        assert_eq!(keys.key(), before);
        assert_eq!(keys.follow(&word), Link::Twice);
        assert_ne!(keys.key(), before);
        assert_eq!(keys.follow(&word), Link::Nowhere);
    }
}
