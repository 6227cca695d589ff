//! Adding rows to a list so that every byte that stands in it stays.
//!
//! The new rows take the file's own encoding, separator, quoting, line end and column order. The
//! file is put in its place whole, so that a crash or a full disk leaves the old one, and what it was
//! before stays beside it.

use super::dialect::{self, Dialect, record};
use super::rows::{self, COLUMNS, column_key};
use super::table::Content;
use crate::error::{Error, Kind, Result};
use crate::limits::LIST_BYTES;
use crate::written::{self, Beside, Held};
use std::io::Write;
use std::path::{Path, PathBuf};

/// What one cell of a new row holds: column name and value.
pub type Cells = Vec<(String, String)>;

/// The bytes of a list with rows added, and the row number of the first of them.
///
/// An empty `old` gives a new list with the ten columns and, behind them, the other ones that the
/// rows name.
///
/// # Errors
/// `Kind::Gazetteer` if the list can't take the rows: it isn't CSV, it ends within a quotation
/// mark, it lacks a column, or its encoding lacks a letter.
pub fn appended(file: &Path, old: &[u8], new: &[Cells]) -> Result<(Vec<u8>, usize)> {
    let place = file.display();
    let refuse = |what: String, next: &str| Error::new(Kind::Gazetteer, &place, what, next);
    let (dialect, columns, next_row, closed) = if old.is_empty() {
        let mut columns: Vec<String> = COLUMNS.map(str::to_string).to_vec();
        for (name, _) in new.iter().flatten() {
            if !columns.iter().any(|c| column_key(c) == column_key(name)) {
                columns.push(name.clone());
            }
        }
        (Dialect::default(), columns, 2, true)
    } else {
        let table = rows::table(old).map_err(|(what, next)| refuse(what.into(), next))?;
        if let Some(broken) = table
            .rows
            .iter()
            .find(|r| matches!(r.content, Content::Broken { .. }))
        {
            return Err(refuse(
                format!(
                    "the quotation mark on row {} is never closed",
                    broken.number
                ),
                "close it first, so that the new row doesn't become part of that cell",
            ));
        }
        if let Some((row, limit)) = table.beyond() {
            return Err(refuse(
                limit.passed(format!("row {row} holds more")),
                "mend that row first, then add the new one",
            ));
        }
        if table.header.is_none() {
            return Err(refuse(
                "the file has no header".into(),
                "write the column names into its first row",
            ));
        }
        let last = table.rows.last().map_or(0, |r| r.number);
        let decoded = dialect::decode(old).map_err(|(what, next)| refuse(what.into(), next))?;
        let closed = decoded.text.ends_with(['\n', '\r']);
        let columns = table.columns().to_vec();
        (table.dialect, columns, last + 1, closed)
    };
    let keys: Vec<String> = columns.iter().map(|c| column_key(c)).collect();
    let mut text = String::new();
    if old.is_empty() {
        text += &record(&columns, &dialect);
    } else if !closed {
        text += dialect.line_end.as_str();
    }
    for cells in new {
        let mut row = vec![String::new(); keys.len()];
        for (name, value) in cells.iter().filter(|c| !c.1.is_empty()) {
            match keys.iter().position(|k| *k == column_key(name)) {
                Some(i) => row[i] = value.clone(),
                None => {
                    return Err(refuse(
                        format!("the list has no column \"{name}\""),
                        "add it to the header, or leave that value out",
                    ));
                }
            }
        }
        text += &record(&row, &dialect);
    }
    let coded = dialect::encode(&text, dialect.encoding).map_err(|c| {
        refuse(
            format!("the file is in Windows-1252, which has no \"{c}\""),
            "save it as UTF-8 from your spreadsheet, then add the row again",
        )
    })?;
    let mut bytes = old.to_vec();
    bytes.extend_from_slice(&coded);
    Ok((bytes, next_row))
}

/// Waits until nobody else adds to the lists of a folder, and holds them: what is read from then on still
/// stands when a row is added, so that no key is given twice and no row is lost.
///
/// # Errors
/// `Kind::Output` if nothing can be written there.
pub fn hold(folder: &Path) -> Result<Held> {
    written::hold(folder).map_err(|e| {
        Error::new(
            Kind::Output,
            folder.display(),
            format!("the lists can't be held for writing ({e})"),
            "see that you may write in their folder, then try again",
        )
    })
}

/// Adds rows to a list on the disk (or makes it); gives the row number of the first.
///
/// * `_held`: the lists of its folder, held since what the rows rest on was read.
///
/// # Errors
/// As [`appended`]; and `Kind::Output` if the file can't be written, in which case the old one is
/// as it was.
pub fn append(file: &Path, new: &[Cells], _held: &Held) -> Result<usize> {
    let old = match LIST_BYTES.read(file) {
        Ok(bytes) if bytes.is_empty() => {
            return Err(Error::new(
                Kind::Gazetteer,
                file.display(),
                "the file is empty",
                "write a header into it, or remove it",
            ));
        }
        Ok(bytes) => bytes,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(e) => {
            return Err(Error::new(
                Kind::Gazetteer,
                file.display(),
                format!("the list can't be read ({e})"),
                "see that you may read it",
            ));
        }
    };
    let (bytes, row) = appended(file, &old, new)?;
    if let Some(lock) = lock_beside(file) {
        return Err(Error::new(
            Kind::Gazetteer,
            file.display(),
            format!(
                "a spreadsheet holds it open ({}), and would write over the new row",
                lock.display()
            ),
            "close it there and try again, or remove that lock if it isn't open",
        ));
    }
    replace(file, &old, &bytes)?;
    Ok(row)
}

/// The lock that a spreadsheet program puts beside a file that it holds open.
fn lock_beside(file: &Path) -> Option<PathBuf> {
    let name = file.file_name()?.to_string_lossy();
    [format!(".~lock.{name}#"), format!("~${name}")]
        .into_iter()
        .map(|lock| file.with_file_name(lock))
        .find(|lock| lock.exists())
}

/// Puts `bytes` in the place of a file that still holds `old` (empty: that doesn't exist), all or
/// nothing.
///
/// # Errors
/// `Kind::Output` if it can't be written, or holds something else by now.
pub fn replace(file: &Path, old: &[u8], bytes: &[u8]) -> Result<()> {
    let failed = |e: std::io::Error| {
        Error::new(
            Kind::Output,
            file.display(),
            format!("the list can't be written ({e}); it is as it was"),
            "make room or see that you may write there, then try again",
        )
    };
    let mut beside = Beside::begin(file).map_err(failed)?;
    beside.write_all(bytes).map_err(failed)?;
    let now = match std::fs::read(file) {
        Ok(now) => now,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(e) => return Err(failed(e)),
    };
    if now != old {
        return Err(Error::new(
            Kind::Output,
            file.display(),
            "another program changed the list meanwhile",
            "close it there, then try again",
        ));
    }
    if !old.is_empty() {
        written::put(&before(file), old).map_err(failed)?;
    }
    beside.put().map_err(failed)
}

/// The file that keeps a list as it was before the last row was added: hidden, so that it is no list itself.
pub fn before(file: &Path) -> PathBuf {
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    file.with_file_name(format!(".{name}.before"))
}
