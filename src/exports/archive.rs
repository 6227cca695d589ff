//! The whole store as one archive, and back.
//!
//! A ZIP with `store.sqlite` (a consistent copy), `learnt.jsonl` where something was learnt, the lists if
//! asked for, and `contents.json`: what the archive is, and the SHA-256 of each file in it. Taking in checks every file before the first
//! is written.

use crate::error::{Error, Kind, Result};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::io::{Cursor, Read, Write};
use zip::write::SimpleFileOptions;

/// Name and version of the form.
const FORMAT: &str = "dorso.archive/1";
const CONTENTS: &str = "contents.json";
/// Largest file taken in, bytes: an archive is no place for more.
const MOST: u64 = 4 << 30;

#[derive(Serialize, Deserialize)]
struct Contents {
    format: String,
    made: String,
    files: Vec<Entry>,
}

#[derive(Serialize, Deserialize)]
struct Entry {
    name: String,
    sha256: String,
    bytes: u64,
}

fn fault(what: impl std::fmt::Display) -> Error {
    Error::new(
        Kind::Output,
        "archive",
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

/// An archive of these files (name within the archive, bytes).
///
/// * `made`: ISO 8601 moment.
///
/// # Errors
/// `Kind::Output` if it can't be written.
pub fn pack(files: &[(String, Vec<u8>)], made: &str) -> Result<Vec<u8>> {
    let contents = Contents {
        format: FORMAT.into(),
        made: made.into(),
        files: files
            .iter()
            .map(|(name, bytes)| Entry {
                name: name.clone(),
                sha256: hex(&Sha256::digest(bytes)),
                bytes: bytes.len() as u64,
            })
            .collect(),
    };
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().large_file(true);
    let text = serde_json::to_vec_pretty(&contents).map_err(fault)?;
    let first = [(CONTENTS.to_string(), text)];
    for (name, bytes) in first.iter().chain(files) {
        zip.start_file(name.as_str(), options).map_err(fault)?;
        zip.write_all(bytes).map_err(fault)?;
    }
    Ok(zip.finish().map_err(fault)?.into_inner())
}

/// The files of an archive, each checked against its SHA-256.
///
/// # Errors
/// `Kind::Output` if it isn't an archive of this program, or a file is missing or damaged.
pub fn unpack(bytes: &[u8]) -> Result<Vec<(String, Vec<u8>)>> {
    let mut zip = zip::ZipArchive::new(Cursor::new(bytes))
        .map_err(|e| fault(format!("it is no archive that can be opened ({e})")))?;
    let mut read = |name: &str, most: u64| -> Result<Vec<u8>> {
        let file = zip
            .by_name(name)
            .map_err(|e| fault(format!("\"{name}\" is not in it ({e})")))?;
        let mut out = Vec::new();
        file.take(most + 1)
            .read_to_end(&mut out)
            .map_err(|e| fault(format!("\"{name}\" is damaged ({e})")))?;
        Ok(out)
    };
    let contents: Contents = serde_json::from_slice(&read(CONTENTS, 16 << 20)?)
        .map_err(|e| fault(format!("its list of contents can't be understood ({e})")))?;
    if contents.format != FORMAT {
        return Err(fault(format!(
            "it is of the form \"{}\", this program knows \"{FORMAT}\"",
            contents.format
        )));
    }
    let mut out = Vec::new();
    for e in &contents.files {
        if !safe(&e.name) || e.bytes > MOST {
            return Err(fault(format!("\"{}\" is no file of a store", e.name)));
        }
        let data = read(&e.name, e.bytes)?;
        if data.len() as u64 != e.bytes || hex(&Sha256::digest(&data)) != e.sha256 {
            return Err(fault(format!("\"{}\" is damaged", e.name)));
        }
        out.push((e.name.clone(), data));
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_packed_comes_back_and_damage_is_seen() {
        let files = vec![
            ("store.sqlite".to_string(), vec![7u8; 4000]),
            ("lists/framers.csv".to_string(), b"entry,name\n".to_vec()),
        ];
        let packed = pack(&files, "2024-05-08T12:00:00+01:00").unwrap();
        assert_eq!(unpack(&packed).unwrap(), files);
        assert!(unpack(&packed[..packed.len() / 2]).is_err());
        let mut wrong = packed.clone();
        // A byte within the data of a file
        let at = wrong.len() / 2;
        wrong[at] ^= 0xff;
        assert!(unpack(&wrong).map_or(true, |f| f == files));
        assert!(unpack(b"no archive").is_err());
    }

    #[test]
    fn no_file_leaves_the_folder_that_it_is_taken_into() {
        for name in ["../x", "/x", "a/../../x", "a\\b", "c:x", "", "a//b"] {
            let packed = pack(&[(name.to_string(), vec![1])], "now");
            assert!(packed.and_then(|p| unpack(&p)).is_err(), "{name}");
        }
    }
}
