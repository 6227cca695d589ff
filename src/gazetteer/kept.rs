//! The rows of long lists, kept packed between runs: a list that hasn't changed isn't read cell by cell again.

use super::place::STARTER;
use super::{Entries, Fault, Gazetteer, List, Place, gather, rows};
use crate::error::{Error, Kind, Result};
use crate::limits::LIST_BYTES;
use crate::packed::{self, Digest, Packed, Reader, Writer};
use std::io;
use std::path::{Path, PathBuf};

/// First bytes of a file.
const WHAT: [u8; 16] = *b"rows of a list\n\0";

/// Files of fewer bytes are read as fast as what is kept of them.
const FROM: usize = 200_000;

/// What is kept of a list's file.
struct Kept {
    /// Name and role of the list and its faults, JSON.
    told: String,
    entries: Entries,
}

impl Packed for Kept {
    fn pack(&self, to: &mut Writer) {
        self.told.pack(to);
        self.entries.pack(to);
    }

    fn unpack(from: &mut Reader) -> io::Result<Self> {
        Ok(Kept {
            told: String::unpack(from)?,
            entries: Entries::unpack(from)?,
        })
    }
}

/// Digest of the rules by which rows are read.
fn rules() -> u64 {
    let sources = [
        include_str!("rows.rs"),
        include_str!("table.rs"),
        include_str!("dialect.rs"),
        include_str!("keys.rs"),
        include_str!("entries.rs"),
    ];
    Digest::of(sources.map(str::as_bytes))
}

/// The file that keeps something made of a list: its name and a digest of where it lies, since lists of one
/// name in two folders don't meet.
///
/// * `ending`: says what.
pub fn file_name(name: &str, file: &Path, ending: &str) -> PathBuf {
    // A starter list lies in the program, wherever that is called
    let place = match file.components().count() {
        1 => file.to_path_buf(),
        _ => std::path::absolute(file).unwrap_or_else(|_| file.to_path_buf()),
    };
    let at = Digest::of([place.to_string_lossy().as_bytes()]);
    let plain: String = name
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '_' })
        .collect();
    PathBuf::from(format!("{plain}-{at:016x}.{ending}"))
}

/// What couldn't be kept, or used of what was, in a sentence.
pub fn told(file: &Path, list: &str, e: &io::Error) -> Option<Error> {
    let (what, next) = match e.kind() {
        io::ErrorKind::NotFound => return None,
        io::ErrorKind::InvalidData => (
            format!("what was kept of the list {list} is damaged or of another version"),
            "nothing needs doing: it is made anew",
        ),
        _ => (
            format!("what is made ready of the list {list} can't be kept ({e})"),
            "make room or see to the rights of the folder, so that the next start is faster",
        ),
    };
    Some(Error::new(Kind::Gazetteer, file.display(), what, next))
}

/// A list with its faults, and what is to be told of keeping it.
type Loaded = (Option<List>, Vec<Fault>, Option<Error>);

fn load(file: &Path, folder: &Path) -> Loaded {
    match LIST_BYTES.read(file) {
        Ok(bytes) => load_bytes(file, &bytes, folder),
        Err(e) => read(rows::Sheet::unreadable(file, &e), 0),
    }
}

/// The list that these bytes of its file hold.
fn load_bytes(file: &Path, bytes: &[u8], folder: &Path) -> Loaded {
    let digest = Digest::of([&rules().to_ne_bytes(), bytes]);
    if bytes.len() < FROM {
        return read(rows::read(file, bytes), digest);
    }
    let name = file.file_stem().unwrap_or_default().to_string_lossy();
    let keep = folder.join(file_name(&name, file, "rows"));
    let unusable = match packed::open::<Kept>(&keep, WHAT, digest) {
        Ok(Some(kept)) => match list(file, kept, digest) {
            Ok((list, faults)) => return (Some(list), faults, None),
            Err(e) => told(&keep, &name, &e),
        },
        Ok(None) => None,
        Err(e) => told(&keep, &name, &e),
    };
    let (mut list, faults, _) = read(rows::read(file, bytes), digest);
    let packed = list.as_ref().and_then(|l| l.entries.packed());
    let (Some(list), Some(entries)) = (&mut list, packed) else {
        return (list, faults, unusable);
    };
    let kept = serde_json::to_string(&(&list.name, list.role, &faults)).map(|said| Kept {
        told: said,
        entries: entries.clone(),
    });
    let unkept = kept
        .map_err(io::Error::from)
        .and_then(|kept| packed::keep(&keep, WHAT, digest, &kept));
    let unkept = unkept.err().and_then(|e| told(&keep, &name, &e));
    list.entries = entries;
    (Some(list.clone()), faults, unkept.or(unusable))
}

fn list(file: &Path, kept: Kept, digest: u64) -> io::Result<(List, Vec<Fault>)> {
    let (name, role, faults): (String, Option<String>, Vec<Fault>) =
        serde_json::from_str(&kept.told)?;
    let role = role.and_then(|said| rows::ROLES.into_iter().find(|r| *r == said));
    let list = List {
        name,
        file: file.to_path_buf(),
        role,
        entries: kept.entries,
        digest: Some(digest),
    };
    Ok((list, faults))
}

fn read(sheet: rows::Sheet, digest: u64) -> Loaded {
    let (gazetteer, faults) = gather(vec![sheet]);
    let list = gazetteer.lists.into_iter().next();
    let list = list.map(|l| List {
        digest: Some(digest),
        ..l
    });
    (list, faults, None)
}

impl Place {
    /// As [`Place::load`], with the rows of long lists as they were kept in `folder` when their files were read
    /// last; what had to be read is kept there. The sentences say what there couldn't be used or kept.
    ///
    /// # Errors
    /// `Kind::Gazetteer` if the folder of the lists can't be read at all.
    pub fn load_kept(&self, folder: &Path) -> Result<(Gazetteer, Vec<Fault>, Vec<Error>)> {
        let mut gazetteer = Gazetteer::default();
        let (mut faults, mut said) = (Vec::new(), Vec::new());
        let Place::Folder(dir) = self else {
            for (name, text) in STARTER {
                let (list, own, unkept) = load_bytes(Path::new(name), text.as_bytes(), folder);
                said.extend(unkept);
                faults.extend(own);
                gazetteer.lists.extend(list);
            }
            return Ok((gazetteer, faults, said));
        };
        let (files, workbooks) = super::files(dir)?;
        let mut known: Vec<(String, &Path)> = Vec::new();
        for file in &files {
            let name = rows::list_of(file);
            if let Some((_, twin)) = known.iter().find(|k| k.0 == name) {
                faults.extend(rows::Sheet::twin(file, twin).faults);
                continue;
            }
            known.push((name, file));
            let (list, own, unkept) = load(file, folder);
            said.extend(unkept);
            faults.extend(own);
            gazetteer.lists.extend(list);
        }
        for file in &workbooks {
            faults.extend(rows::Sheet::workbook(file).faults);
        }
        Ok((gazetteer, faults, said))
    }
}
