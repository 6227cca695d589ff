//! The user's own lists: framers, artists' colourmen, towns, exhibitions, artists.

use crate::error::Result;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

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
    /// First and last year that `from` and `to` allow, widest sense; `None` where not known.
    pub fn years(&self) -> (Option<i32>, Option<i32>) {
        (None, None)
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
    /// Usable rows in file order.
    pub entries: Vec<Entry>,
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
        self.lists.iter().flat_map(|l| &l.entries)
    }

    /// The row of that key.
    pub fn entry(&self, list: &str, entry: &str) -> Option<&Entry> {
        self.entries().find(|e| e.list == list && e.entry == entry)
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

/// Loads every `*.csv` of a folder; bad rows become faults and never stop the rest.
///
/// # Errors
/// `Kind::Gazetteer` if the folder can't be read at all.
pub fn load(_dir: &Path) -> Result<(Gazetteer, Vec<Fault>)> {
    Ok((Gazetteer::default(), Vec::new()))
}
