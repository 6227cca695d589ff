//! How much is taken in from files, archives and the network: every limit in one table, each with its unit.
//!
//! A person who needs more raises one by its name in `DORSO_LIMITS`, such as `DORSO_LIMITS=list-bytes=300000000`;
//! several are parted by commas. What goes beyond one is refused with its name, its value and how to raise it.

use crate::error::{Error, Kind, Result};
use std::collections::HashMap;
use std::fmt::Display;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;
use std::sync::OnceLock;

/// Name of the variable that raises limits.
const VARIABLE: &str = "DORSO_LIMITS";

/// The most of something that is taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// Its name, by which it is raised.
    pub name: &'static str,
    /// As long as nobody says otherwise.
    pub most: u64,
    /// What is counted.
    pub unit: &'static str,
}

macro_rules! limits {
    ($($(#[$said:meta])* $key:ident = $name:literal, $most:expr, $unit:literal;)+) => {
        $($(#[$said])* pub const $key: Limit = Limit { name: $name, most: $most, unit: $unit };)+
        /// All of them.
        pub const ALL: &[Limit] = &[$($key),+];
    };
}

limits! {
    /// The file of a photograph.
    PHOTOGRAPH_BYTES = "photograph-bytes", 300 << 20, "bytes";
    /// What a photograph takes while it is decoded: as its file codes it, and as eight bits a colour.
    PICTURE_BYTES = "picture-bytes", 720_000_000, "bytes";
    /// A list, a table of clues, a spreadsheet to be imported.
    LIST_BYTES = "list-bytes", 96 << 20, "bytes";
    /// One cell of a list.
    CELL_BYTES = "cell-bytes", 64 << 10, "bytes";
    /// Columns of a list.
    COLUMNS = "columns", 1_000, "columns";
    /// A text of a person's: truth, answers, lines of provenance, settings.
    TEXT_BYTES = "text-bytes", 8 << 20, "bytes";
    /// Files in an archive.
    MEMBERS = "members", 1_000, "files";
    /// What an archive holds, unpacked.
    ARCHIVE_BYTES = "archive-bytes", 64 << 30, "bytes";
    /// What was read of one picture, as a batch writes it.
    READING_BYTES = "reading-bytes", 256 << 20, "bytes";
    /// The time after which the marks of a photograph that weren't begun are left unread.
    READING_SECONDS = "reading-seconds", 120, "seconds";
    /// The body of a form that a page of the desk sends.
    FORM_BYTES = "form-bytes", 2 << 20, "bytes";
    /// The time in which a request has to arrive whole at the desk.
    BODY_SECONDS = "body-seconds", 20, "seconds";
    /// The time in which a photograph dropped on the desk has to arrive.
    DROPPED_SECONDS = "dropped-seconds", 300, "seconds";
}

fn raised() -> &'static Result<HashMap<String, u64>> {
    static RAISED: OnceLock<Result<HashMap<String, u64>>> = OnceLock::new();
    RAISED.get_or_init(|| parse(&std::env::var(VARIABLE).unwrap_or_default()))
}

/// What a person wrote into [`VARIABLE`].
fn parse(said: &str) -> Result<HashMap<String, u64>> {
    let fault = |part: &str| {
        let names: Vec<&str> = ALL.iter().map(|l| l.name).collect();
        Error::new(
            Kind::Usage,
            format!("{VARIABLE} \"{part}\""),
            "this is no limit with a whole number",
            format!(
                "write NAME=NUMBER, several parted by commas; the names are {}",
                names.join(", ")
            ),
        )
    };
    let parts = said.split(',').map(str::trim).filter(|p| !p.is_empty());
    parts
        .map(|part| {
            let (name, most) = part.split_once('=').ok_or_else(|| fault(part))?;
            let most = most.trim().parse().map_err(|_| fault(part))?;
            let known = ALL.iter().find(|l| l.name == name.trim());
            Ok((known.ok_or_else(|| fault(part))?.name.to_owned(), most))
        })
        .collect()
}

/// Whether what a person says of limits can be understood.
///
/// # Errors
/// `Kind::Usage` with the part that can't.
pub fn check() -> Result<()> {
    raised().as_ref().map(|_| ()).map_err(Clone::clone)
}

impl Limit {
    /// What holds, raised or not.
    pub fn most(self) -> u64 {
        let said = raised().as_ref().ok().and_then(|r| r.get(self.name));
        said.copied().unwrap_or(self.most)
    }

    /// What is beyond it, in words.
    pub fn passed(self, what: impl Display) -> String {
        format!(
            "{what} than the {} {} that are taken in",
            self.most(),
            self.unit
        )
    }

    /// How it is raised, in words.
    pub fn raise(self) -> String {
        format!("raise the limit with {VARIABLE}={}=NUMBER", self.name)
    }

    /// Refuses more than it allows.
    ///
    /// * `what`: such as "the list is longer".
    ///
    /// # Errors
    /// Of that kind, with the limit and how to raise it.
    pub fn hold(
        self,
        count: u64,
        kind: Kind,
        place: impl Display,
        what: impl Display,
    ) -> Result<()> {
        if count <= self.most() {
            return Ok(());
        }
        let next = format!("give less, or {}", self.raise());
        Err(Error::new(kind, place, self.passed(what), next))
    }

    /// All bytes of an ordinary file within the limit; nothing that never ends is opened.
    ///
    /// # Errors
    /// As of reading; `ErrorKind::InvalidInput` where it is no ordinary file, `ErrorKind::FileTooLarge` where it is longer.
    pub fn read(self, file: &Path) -> std::io::Result<Vec<u8>> {
        let about = std::fs::metadata(file)?;
        if about.is_dir() {
            return Err(std::io::Error::new(
                ErrorKind::IsADirectory,
                "it is a folder",
            ));
        }
        if !about.is_file() {
            let what = "it is no ordinary file";
            return Err(std::io::Error::new(ErrorKind::InvalidInput, what));
        }
        let most = self.most();
        let mut bytes = Vec::with_capacity(about.len().min(most) as usize);
        File::open(file)?
            .take(most.saturating_add(1))
            .read_to_end(&mut bytes)?;
        if bytes.len() as u64 > most {
            let what = self.passed("it is longer") + "; " + &self.raise();
            return Err(std::io::Error::new(ErrorKind::FileTooLarge, what));
        }
        Ok(bytes)
    }

    /// The same as text.
    ///
    /// # Errors
    /// As there, and `ErrorKind::InvalidData` where it is no text in UTF-8.
    pub fn text(self, file: &Path) -> std::io::Result<String> {
        String::from_utf8(self.read(file)?)
            .map_err(|_| std::io::Error::new(ErrorKind::InvalidData, "it is no text in UTF-8"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_raised_by_name_and_what_is_not_understood_is_told() {
        let said = parse("list-bytes=12, columns = 7").expect("two limits");
        assert_eq!(said.get("list-bytes"), Some(&12));
        assert_eq!(said.len(), 2);
        for wrong in ["list-bytes", "list-bytes=many", "lists=4", "columns=-1"] {
            let told = parse(wrong).expect_err(wrong).to_string();
            assert!(
                told.contains(wrong) && told.contains("cell-bytes"),
                "{told}"
            );
        }
    }

    #[test]
    fn a_file_beyond_the_limit_is_told_with_the_limit_and_how_to_raise_it() {
        let dir = tempfile::tempdir().expect("a folder");
        let file = dir.path().join("a.csv");
        std::fs::write(&file, vec![b'a'; COLUMNS.most as usize + 1]).expect("written");
        let told = COLUMNS.read(&file).expect_err("too long").to_string();
        assert!(
            told.contains("1000") && told.contains("DORSO_LIMITS=columns="),
            "{told}"
        );
        assert_eq!(TEXT_BYTES.read(&file).map(|b| b.len()).ok(), Some(1_001));
    }

    #[cfg(unix)]
    #[test]
    fn what_never_ends_is_not_opened() {
        let told = LIST_BYTES
            .read(Path::new("/dev/zero"))
            .expect_err("a device");
        assert_eq!(told.kind(), ErrorKind::InvalidInput);
    }
}
