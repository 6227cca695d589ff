//! The whole store as one archive, and back.
//!
//! A ZIP with `store.sqlite` (a consistent copy), `learnt.jsonl` where something was learnt, the lists if
//! asked for, and `contents.json`: what the archive is, and the SHA-256 of each file in it. Taking in checks every file before the first
//! is put in its place; nothing is held in memory whole.

use crate::error::{Error, Kind, Result};
use crate::limits::{ARCHIVE_BYTES, MEMBERS};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};
use zip::write::SimpleFileOptions;

/// Name and version of the form.
const FORMAT: &str = "dorso.archive/1";
const CONTENTS: &str = "contents.json";
const PLACE: &str = "archive";

#[derive(Debug, Serialize, Deserialize)]
struct Contents {
    format: String,
    made: String,
    files: Vec<Entry>,
}

#[derive(Debug, Serialize, Deserialize)]
struct Entry {
    name: String,
    sha256: String,
    bytes: u64,
}

fn fault(what: impl std::fmt::Display) -> Error {
    Error::new(
        Kind::Output,
        PLACE,
        what.to_string(),
        "take another copy of the archive, or make it anew with dorso export --as archive",
    )
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// A name that stays within a folder.
fn safe(name: &str) -> bool {
    !name.is_empty()
        && !name.starts_with('/')
        && !name.contains('\\')
        && !name.contains(':')
        && name
            .split('/')
            .all(|p| !p.is_empty() && p != "." && p != "..")
}

/// What a file of an archive is made of.
#[derive(Debug, Clone)]
pub enum Part {
    /// These bytes.
    Bytes(Vec<u8>),
    /// A file, read piece by piece.
    File(PathBuf),
}

impl Part {
    fn open(&self) -> Result<Box<dyn Read + '_>> {
        Ok(match self {
            Part::Bytes(bytes) => Box::new(bytes.as_slice()),
            Part::File(file) => Box::new(File::open(file).map_err(fault)?),
        })
    }
}

/// Copies piece by piece, up to so many bytes; gives their number and SHA-256.
fn copied(from: &mut dyn Read, to: &mut dyn Write, most: u64) -> std::io::Result<(u64, String)> {
    let (mut piece, mut count, mut hash) = (vec![0; 1 << 16], 0, Sha256::new());
    loop {
        let read = from.read(&mut piece)?;
        count += read as u64;
        if read == 0 || count > most {
            return Ok((count, hex(&hash.finalize())));
        }
        hash.update(&piece[..read]);
        to.write_all(&piece[..read])?;
    }
}

/// Writes an archive of these files (name within the archive, content).
///
/// * `made`: ISO 8601 moment.
///
/// # Errors
/// `Kind::Output` if it can't be written or a file can't be read.
pub fn pack(files: &[(String, Part)], made: &str, to: impl Write + Seek) -> Result<()> {
    let entry = |(name, part): &(String, Part)| {
        let told = copied(&mut part.open()?, &mut std::io::sink(), u64::MAX);
        let (bytes, sha256) = told.map_err(fault)?;
        let name = name.clone();
        Ok(Entry {
            name,
            sha256,
            bytes,
        })
    };
    let contents = Contents {
        format: FORMAT.into(),
        made: made.into(),
        files: files.iter().map(entry).collect::<Result<_>>()?,
    };
    let mut zip = zip::ZipWriter::new(to);
    let options = SimpleFileOptions::default().large_file(true);
    let text = serde_json::to_vec_pretty(&contents).map_err(fault)?;
    let first = [(CONTENTS.to_string(), Part::Bytes(text))];
    for (name, part) in first.iter().chain(files) {
        zip.start_file(name.as_str(), options).map_err(fault)?;
        copied(&mut part.open()?, &mut zip, u64::MAX).map_err(fault)?;
    }
    zip.finish().map_err(fault)?.flush().map_err(fault)
}

/// An archive that is taken from.
#[derive(Debug)]
pub struct Archive<R: Read + Seek> {
    zip: zip::ZipArchive<R>,
    contents: Contents,
}

impl<R: Read + Seek> Archive<R> {
    /// Reads what is in it.
    ///
    /// # Errors
    /// `Kind::Output` if it isn't an archive of this program, names a file twice, or holds more than is taken in.
    pub fn open(from: R) -> Result<Self> {
        let mut zip = zip::ZipArchive::new(from)
            .map_err(|e| fault(format!("it is no archive that can be opened ({e})")))?;
        let mut text = Vec::new();
        zip.by_name(CONTENTS)
            .map_err(|e| fault(format!("\"{CONTENTS}\" is not in it ({e})")))?
            .take(16 << 20)
            .read_to_end(&mut text)
            .map_err(|e| fault(format!("\"{CONTENTS}\" is damaged ({e})")))?;
        let contents: Contents = serde_json::from_slice(&text)
            .map_err(|e| fault(format!("its list of contents can't be understood ({e})")))?;
        if contents.format != FORMAT {
            return Err(fault(format!(
                "it is of the form \"{}\", this program knows \"{FORMAT}\"",
                contents.format
            )));
        }
        let files = &contents.files;
        MEMBERS.hold(
            files.len() as u64,
            Kind::Output,
            PLACE,
            "it names more files",
        )?;
        let all = files.iter().fold(0, |n: u64, e| n.saturating_add(e.bytes));
        ARCHIVE_BYTES.hold(all, Kind::Output, PLACE, "it holds more")?;
        let mut names = BTreeSet::new();
        for e in files {
            if !safe(&e.name) || !names.insert(e.name.to_lowercase()) {
                return Err(fault(format!(
                    "\"{}\" is no file of a store, or is named twice",
                    e.name
                )));
            }
        }
        Ok(Archive { zip, contents })
    }

    /// Names of its files.
    pub fn names(&self) -> Vec<String> {
        let files = self.contents.files.iter();
        files.map(|e| e.name.clone()).collect()
    }

    /// SHA-256 of a file as the archive tells it, 64 hex digits.
    pub fn sha256(&self, name: &str) -> Option<&str> {
        let mut files = self.contents.files.iter();
        files.find(|e| e.name == name).map(|e| e.sha256.as_str())
    }

    /// Copies one of its files and checks it against its SHA-256.
    ///
    /// # Errors
    /// `Kind::Output` if it is missing or damaged, or can't be written.
    pub fn copy(&mut self, name: &str, to: &mut dyn Write) -> Result<()> {
        let damaged = || fault(format!("\"{name}\" is damaged"));
        let told = self.contents.files.iter().find(|e| e.name == name);
        let told = told.ok_or_else(|| fault(format!("\"{name}\" is not in it")))?;
        let mut file = self
            .zip
            .by_name(name)
            .map_err(|e| fault(format!("\"{name}\" is not in it ({e})")))?;
        let (bytes, sha256) = copied(&mut file, to, told.bytes)
            .map_err(|e| fault(format!("\"{name}\" can't be unpacked ({e})")))?;
        match bytes == told.bytes && sha256 == told.sha256 {
            true => Ok(()),
            false => Err(damaged()),
        }
    }
}

/// SHA-256 of what a file holds, 64 hex digits.
///
/// # Errors
/// As of reading.
pub fn digest(file: &Path) -> std::io::Result<String> {
    copied(&mut File::open(file)?, &mut std::io::sink(), u64::MAX).map(|told| told.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn packed(files: &[(String, Part)]) -> Vec<u8> {
        let mut to = Cursor::new(Vec::new());
        pack(files, "2024-05-08T12:00:00+01:00", &mut to).expect("packed");
        to.into_inner()
    }

    /// Everything in an archive.
    fn unpacked(bytes: &[u8]) -> Result<Vec<(String, Vec<u8>)>> {
        let mut archive = Archive::open(Cursor::new(bytes))?;
        let names = archive.names().into_iter();
        let all = names.map(|name| {
            let mut out = Vec::new();
            archive.copy(&name, &mut out)?;
            Ok((name, out))
        });
        all.collect()
    }

    #[test]
    fn what_was_packed_comes_back_and_damage_is_seen() {
        let files = vec![
            ("store.sqlite".to_string(), vec![7u8; 4000]),
            ("lists/framers.csv".to_string(), b"entry,name\n".to_vec()),
        ];
        let parts = files.iter().cloned().map(|(n, b)| (n, Part::Bytes(b)));
        let packed = packed(&parts.collect::<Vec<_>>());
        assert_eq!(unpacked(&packed).unwrap(), files);
        assert!(unpacked(&packed[..packed.len() / 2]).is_err());
        let mut wrong = packed.clone();
        // A byte within the data of a file
        let at = wrong.len() / 2;
        wrong[at] ^= 0xff;
        assert!(unpacked(&wrong).map_or(true, |f| f == files));
        assert!(unpacked(b"no archive").is_err());
    }

    #[test]
    fn no_file_leaves_the_folder_that_it_is_taken_into() {
        for name in ["../x", "/x", "a/../../x", "a\\b", "c:x", "", "a//b"] {
            let mut to = Cursor::new(Vec::new());
            let made = pack(&[(name.to_string(), Part::Bytes(vec![1]))], "now", &mut to);
            assert!(
                made.and_then(|()| unpacked(&to.into_inner())).is_err(),
                "{name}"
            );
        }
    }
}
