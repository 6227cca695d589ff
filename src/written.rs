//! Files put in their place whole: written beside it, flushed to the disk, then renamed.
//!
//! A crash or a full disk leaves what stood there before. What a killed program left behind is under a random name
//! of its own, readable by its user alone, and is swept by the next one that writes to the folder.

use std::collections::BTreeSet;
use std::fs::{File, Permissions};
use std::io::{Result, Write};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Duration;
use tempfile::{Builder, NamedTempFile};

const BEGINS: &str = ".dorso-";
const ENDS: &str = ".part";
/// Younger files may belong to a program that is about to lock them.
const YOUNG: Duration = Duration::from_secs(30);

/// A file being written; held locked, so that nobody sweeps it.
#[derive(Debug)]
pub struct Beside {
    file: NamedTempFile,
    goal: PathBuf,
    /// Those of any new file of this user.
    rights: Permissions,
}

impl Beside {
    /// Begins a file that is to stand at `goal`; a link there is followed, the folder is made.
    ///
    /// # Errors
    /// As of writing there.
    pub fn begin(goal: &Path) -> Result<Beside> {
        let goal = std::fs::canonicalize(goal).unwrap_or_else(|_| goal.to_path_buf());
        let folder = folder(&goal);
        std::fs::create_dir_all(&folder)?;
        sweep(&folder);
        let mut builder = Builder::new();
        builder.prefix(BEGINS).suffix(ENDS);
        #[cfg(unix)]
        let own = new_file(&mut builder);
        let file = builder.tempfile_in(&folder)?;
        let rights = file.as_file().metadata()?.permissions();
        #[cfg(unix)]
        file.as_file().set_permissions(own)?;
        // Where a file system knows no locks, age alone tells what is left behind
        let _ = file.as_file().try_lock();
        Ok(Beside { file, goal, rights })
    }

    /// Where it lies until it is put in its place.
    pub fn path(&self) -> &Path {
        self.file.path()
    }

    /// Puts it in its place, with the rights of what stood there, else those of a new file.
    ///
    /// # Errors
    /// As of writing there; what stood there still stands.
    pub fn put(self) -> Result<()> {
        self.ready()?;
        let folder = folder(&self.goal);
        self.file.persist(&self.goal).map_err(|e| e.error)?;
        flush(&folder);
        Ok(())
    }

    /// The same, unless something stands there.
    ///
    /// # Errors
    /// As there, and `ErrorKind::AlreadyExists`.
    pub fn put_new(self) -> Result<()> {
        self.ready()?;
        let folder = folder(&self.goal);
        self.file
            .persist_noclobber(&self.goal)
            .map_err(|e| e.error)?;
        flush(&folder);
        Ok(())
    }

    fn ready(&self) -> Result<()> {
        let there = std::fs::metadata(&self.goal).map(|m| m.permissions());
        let file = self.file.as_file();
        file.set_permissions(there.unwrap_or_else(|_| self.rights.clone()))?;
        file.sync_all()
    }
}

impl Write for Beside {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> Result<()> {
        self.file.flush()
    }
}

/// Puts bytes at `goal`, all or nothing.
///
/// # Errors
/// As of writing there; what stood there still stands.
pub fn put(goal: &Path, bytes: &[u8]) -> Result<()> {
    let mut beside = Beside::begin(goal)?;
    beside.write_all(bytes)?;
    beside.put()
}

/// Keeps every other program from writing to what is added to in a folder, until it is let go.
#[derive(Debug)]
pub struct Held(#[allow(dead_code)] File);

/// Waits until nobody else holds a folder, and holds it: what is read from then on still stands when it is written.
///
/// # Errors
/// As of writing there.
pub fn hold(folder: &Path) -> Result<Held> {
    let lock = if cfg!(windows) {
        // A folder can't be opened there
        let mut options = File::options();
        let file = options.write(true).create(true).truncate(false);
        file.open(folder.join(".lists.lock"))?
    } else {
        File::open(folder)?
    };
    lock.lock()?;
    Ok(Held(lock))
}

/// The folder of a file.
pub fn folder(goal: &Path) -> PathBuf {
    match goal.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// Removes what killed programs left in a folder, once a run: files of this make that nobody holds.
fn sweep(folder: &Path) {
    static SWEPT: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());
    let mut swept = SWEPT.lock().unwrap_or_else(|e| e.into_inner());
    if !swept.insert(folder.to_path_buf()) {
        return;
    }
    for found in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = found.file_name();
        let own = name.to_string_lossy();
        let own = own.starts_with(BEGINS) && own.ends_with(ENDS);
        // A link is somebody else's, and one just made may not be locked yet
        let about = found.metadata().ok().filter(|m| own && m.is_file());
        let age = about.and_then(|m| m.modified().ok()?.elapsed().ok());
        if age.is_some_and(|a| a >= YOUNG)
            && let Ok(file) = File::open(found.path())
            && file.try_lock().is_ok()
        {
            let _ = std::fs::remove_file(found.path());
        }
    }
}

#[cfg(unix)]
fn new_file(builder: &mut Builder<'_, '_>) -> Permissions {
    use std::os::unix::fs::PermissionsExt;
    // Less what this user's mask takes away
    builder.permissions(Permissions::from_mode(0o666));
    Permissions::from_mode(0o600)
}

/// The new name must reach the disk too; not every system lets a folder be flushed.
fn flush(folder: &Path) {
    if let Ok(f) = File::open(folder) {
        let _ = f.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_killed_program_left_is_swept_and_what_is_held_stays() {
        let dir = tempfile::tempdir().expect("a folder");
        let old = std::time::SystemTime::now() - 2 * YOUNG;
        let aged = |path: &Path| {
            let file = File::options().write(true).open(path).expect("there");
            file.set_modified(old).expect("aged");
        };
        let left = dir.path().join(".dorso-abc123.part");
        std::fs::write(&left, b"half").expect("written");
        aged(&left);
        let other = dir.path().join("letter.part");
        std::fs::write(&other, b"mine").expect("written");
        aged(&other);
        let mut held = Beside::begin(&dir.path().join("a.csv")).expect("begun");
        assert!(!left.exists() && other.exists());
        held.write_all(b"whole").expect("written");
        aged(held.path());
        sweep(&dir.path().join("."));
        held.put().expect("put");
        let now = std::fs::read(dir.path().join("a.csv")).expect("there");
        assert_eq!(now, b"whole");
    }

    #[cfg(unix)]
    #[test]
    fn a_file_half_written_is_for_its_user_alone_and_keeps_the_rights_of_the_one_before() {
        use std::os::unix::fs::PermissionsExt;
        let dir = tempfile::tempdir().expect("a folder");
        let goal = dir.path().join("a.csv");
        let mode = |p: &Path| std::fs::metadata(p).expect("there").permissions().mode() & 0o777;
        let beside = Beside::begin(&goal).expect("begun");
        assert_eq!(mode(beside.path()), 0o600);
        beside.put().expect("put");
        std::fs::set_permissions(&goal, Permissions::from_mode(0o640)).expect("rights");
        put(&goal, b"new").expect("put");
        assert_eq!(mode(&goal), 0o640);
        assert!(Beside::begin(&goal).and_then(Beside::put_new).is_err());
        assert_eq!(std::fs::read_dir(dir.path()).expect("folder").count(), 1);
    }
}
