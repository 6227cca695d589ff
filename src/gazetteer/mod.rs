//! The user's own lists: framers, artists' colourmen, towns, exhibitions, artists.
//!
//! In: a folder of CSV files as a spreadsheet keeps them. Out: [`Gazetteer`], and a [`Fault`] for
//! each file, row or cell that needs a person. Nothing in a list is evaluated, and a list is never
//! rewritten: adding a row leaves every other byte as it was.

use crate::dating::edtf::Edtf;
use crate::error::{Error, Kind, Result};
use crate::limits::LIST_BYTES;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::path::{Path, PathBuf};

pub mod check;
pub mod dialect;
pub mod edit;
pub mod entries;
pub mod fold;
pub mod import;
pub mod kept;
pub mod keys;
pub mod numbers;
pub mod place;
pub mod rows;
pub mod table;

pub use entries::Entries;
pub use place::{Place, Stamp, locate};

/// One row: one firm at one address over one span of years.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Entry {
    /// Name of the list: file name without `.csv`.
    pub list: String,
    /// Key within the list.
    pub entry: String,
    /// Name as listed.
    pub name: String,
    /// Other forms of the name.
    pub variants: Vec<String>,
    /// Trade, as listed.
    pub trade: String,
    /// Premises.
    pub address: String,
    /// Town.
    pub town: String,
    /// EDTF, empty for not known.
    pub from: String,
    /// EDTF, empty for not known.
    pub to: String,
    /// Where the facts come from; "from memory" is carried into what the user sees.
    pub source: String,
    /// Anything else.
    pub note: String,
    /// Columns beyond the ten, name and value, kept and ignored.
    pub extra: Vec<(String, String)>,
    /// Row in the file as a spreadsheet shows it (header = 1).
    pub row: usize,
}

impl Entry {
    /// Trade, premises, town and years, as far as they are known, with commas between them.
    pub fn facts(&self) -> String {
        let years = match (self.from.as_str(), self.to.as_str()) {
            ("", "") => String::new(),
            (from, to) => format!("{from}–{to}"),
        };
        let all = [&self.trade, &self.address, &self.town, &years].map(|t| t.trim());
        let told: Vec<&str> = all.into_iter().filter(|t| !t.is_empty()).collect();
        told.join(", ")
    }

    /// First and last year that `from` and `to` allow, widest sense; `None` where not known.
    ///
    /// `187X` to `188X` gives 1870 and 1889. `~` and `?` widen nothing, since EDTF gives them no
    /// width: see [`Entry::loose`]. Where `from` comes after `to`, neither is known.
    pub fn years(&self) -> (Option<i32>, Option<i32>) {
        let year = |text: &str, last: bool| {
            let value = Edtf::parse(text).ok()?;
            let day = if last {
                value.latest()
            } else {
                value.earliest()
            }?;
            i32::try_from(day.year).ok()
        };
        match (year(&self.from, false), year(&self.to, true)) {
            (Some(a), Some(b)) if a > b => (None, None),
            years => years,
        }
    }

    /// Whether `from` and `to` are marked as an estimate or as doubtful (`~`, `?`, `%`).
    pub fn loose(&self) -> (bool, bool) {
        let loose = |text: &str| Edtf::parse(text).is_ok_and(|v| v.approximate() || v.uncertain());
        (loose(&self.from), loose(&self.to))
    }

    /// True where the source says that the row was set down from memory.
    pub fn from_memory(&self) -> bool {
        self.source.to_lowercase().contains("from memory")
    }
}

/// One list with its usable rows.
#[derive(Debug, Clone, Default)]
pub struct List {
    /// File name without `.csv`.
    pub name: String,
    /// The file.
    pub file: PathBuf,
    /// What its entries are, where the file says so: one of [`rows::ROLES`].
    pub role: Option<&'static str>,
    /// Usable rows in file order.
    pub entries: Entries,
    /// Digest of all that the rows were read from; `None` where they aren't those of a file as it stands.
    pub digest: Option<u64>,
}

/// All lists of a folder.
#[derive(Debug, Clone, Default)]
pub struct Gazetteer {
    /// Lists in order of name.
    pub lists: Vec<List>,
}

impl Gazetteer {
    /// All entries of all lists.
    pub fn entries(&self) -> impl Iterator<Item = &Entry> {
        self.lists.iter().flat_map(|l| l.entries.iter())
    }

    /// Number of rows of all lists.
    pub fn len(&self) -> usize {
        self.lists.iter().map(|l| l.entries.len()).sum()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The row of that key.
    pub fn entry(&self, list: &str, entry: &str) -> Option<&Entry> {
        let mut own = self.lists.iter().filter(|l| l.name == list);
        own.find_map(|l| Some(&l.entries[l.entries.position(entry)?]))
    }
}

/// How bad a fault is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// The row (or file) can't be used.
    Unusable,
    /// The row is used; a person should look at it.
    Doubtful,
}

/// One fault of a list, by file, row and column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fault {
    /// File.
    pub file: PathBuf,
    /// Row as a spreadsheet shows it (header = 1); `None`: the file as a whole.
    pub row: Option<usize>,
    /// Column name; `None`: the row as a whole.
    pub column: Option<String>,
    /// How bad.
    pub severity: Severity,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub next: String,
}

impl fmt::Display for Fault {
    /// `framers.csv, row 14, column "to": what; next.`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}; {}.", self.place(), self.what, self.next)
    }
}

impl Fault {
    /// File name, row and column, as far as known.
    pub fn place(&self) -> String {
        let mut place = match self.file.file_name() {
            Some(name) => name.to_string_lossy().into_owned(),
            None => self.file.display().to_string(),
        };
        if let Some(row) = self.row {
            place += &format!(", row {row}");
        }
        if let Some(column) = &self.column {
            place += &format!(", column \"{column}\"");
        }
        place
    }
}

impl From<&Fault> for Error {
    fn from(f: &Fault) -> Error {
        Error::new(Kind::Gazetteer, f.place(), &f.what, &f.next)
    }
}

/// Loads every `*.csv` of a folder; bad rows become faults and never stop the rest.
///
/// # Errors
/// `Kind::Gazetteer` if the folder can't be read at all.
pub fn load(dir: &Path) -> Result<(Gazetteer, Vec<Fault>)> {
    Ok(gather(sheets(dir)?))
}

/// Lists and faults of files read.
fn gather(sheets: Vec<rows::Sheet>) -> (Gazetteer, Vec<Fault>) {
    let mut gazetteer = Gazetteer::default();
    let mut faults = Vec::new();
    for sheet in sheets {
        faults.extend(sheet.faults);
        if sheet.dialect.is_none() {
            continue;
        }
        gazetteer.lists.push(List {
            name: sheet.list,
            file: sheet.file,
            role: sheet.role,
            entries: sheet.entries.into(),
            digest: None,
        });
    }
    (gazetteer, faults)
}

/// Reads every `*.csv` of a folder, in order of name.
///
/// # Errors
/// `Kind::Gazetteer` if the folder can't be read at all.
pub fn sheets(dir: &Path) -> Result<Vec<rows::Sheet>> {
    let (files, workbooks) = files(dir)?;
    let mut sheets: Vec<rows::Sheet> = Vec::new();
    for file in &files {
        let mut sheet = match LIST_BYTES.read(file) {
            Ok(bytes) => rows::read(file, &bytes),
            Err(e) => rows::Sheet::unreadable(file, &e),
        };
        if let Some(twin) = sheets.iter().find(|s| s.list == sheet.list) {
            sheet.twin_of(&twin.file);
        }
        sheets.push(sheet);
    }
    sheets.extend(workbooks.iter().map(|f| rows::Sheet::workbook(f)));
    Ok(sheets)
}

/// The lists of a folder, and the workbooks that lie among them, in order of name.
fn files(dir: &Path) -> Result<(Vec<PathBuf>, Vec<PathBuf>)> {
    let unreadable = |e: std::io::Error| {
        let (what, next) = match e.kind() {
            std::io::ErrorKind::NotFound => (
                "there is no such folder".to_string(),
                "name the folder that holds your lists",
            ),
            std::io::ErrorKind::NotADirectory => (
                "this is a file, not a folder".to_string(),
                "name the folder that holds your lists",
            ),
            _ => (
                format!("the folder can't be read ({e})"),
                "see that you may read it",
            ),
        };
        Error::new(Kind::Gazetteer, dir.display(), what, next)
    };
    let mut files = Vec::new();
    let mut workbooks: Vec<PathBuf> = Vec::new();
    for item in std::fs::read_dir(dir).map_err(unreadable)? {
        let path = item.map_err(unreadable)?.path();
        let workbook = path.extension().is_some_and(|e| {
            ["xlsx", "xls", "ods", "numbers"]
                .iter()
                .any(|w| e.eq_ignore_ascii_case(w))
        });
        if is_list(&path) {
            files.push(path);
        } else if workbook && !is_aside(&path) {
            workbooks.push(path);
        }
    }
    files.sort();
    workbooks.sort();
    Ok((files, workbooks))
}

/// Whether a file of a folder is a list: a CSV file, but not the user's own dating clues, which lie
/// beside the lists.
fn is_list(path: &Path) -> bool {
    let csv = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("csv"));
    let clues = path
        .file_name()
        .is_some_and(|n| n.eq_ignore_ascii_case(crate::dating::clues::OWN_TABLE));
    csv && !clues && !is_aside(path)
}

/// Hidden files and "~$..." are locks and leavings of other programs.
fn is_aside(path: &Path) -> bool {
    path.file_name()
        .is_some_and(|n| n.to_string_lossy().starts_with(['.', '~']))
}

#[cfg(test)]
mod tests;
