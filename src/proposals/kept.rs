//! Lists made ready, kept between runs: one file for each list, made anew when what is weighed of
//! its rows changed.
//!
//! A file is [`MAGIC`], a digest of the rows that it was made from, a digest of what follows, and the
//! numbers of the [`Table`] as they lie in memory, each array after its length. What follows from
//! them is worked out on loading. A file that is damaged, of another version or of another machine's
//! byte order isn't used and is written anew.

use super::ragged::Ragged;
use super::table::{Kind, Table};
use super::words::Field;
use crate::error::{Error, Kind as Fault};
use crate::gazetteer::{Entry, List};
use std::io::Write;
use std::path::{Path, PathBuf};

/// First bytes of a file; the number rises with every change of the form or of how tables are made.
const MAGIC: &[u8; 16] = b"dorso index  2\n\0";

/// Shorter lists are made ready as fast as a file is read.
pub const FROM: usize = 2_000;

/// The folder of the lists made ready, beside a store.
pub fn beside(store: &Path) -> PathBuf {
    store.with_file_name("index")
}

/// The list made ready, from its file in the folder if that was made from the same rows; else made
/// anew and kept. The sentence says why a file that was there couldn't be used, or that none can be
/// kept.
pub fn table(list: &List, folder: &Path) -> (Table, Option<Error>) {
    if list.entries.len() < FROM {
        return (Table::new(&list.name, &list.entries), None);
    }
    let file = folder.join(file_name(list));
    let made_from = rows_digest(&list.entries);
    let mut told = None;
    match std::fs::read(&file) {
        Ok(bytes) => match open(&bytes, &list.name) {
            Some((digest, table)) if digest == made_from => return (table, None),
            Some(_) => {}
            None => {
                told = Some(Error::new(
                    Fault::Gazetteer,
                    file.display(),
                    format!(
                        "what was kept of the list {} is damaged or of another version",
                        list.name
                    ),
                    "nothing needs doing: it is made anew",
                ));
            }
        },
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => {}
        Err(e) => told = Some(unkept(&file, &list.name, &e)),
    }
    let table = Table::new(&list.name, &list.entries);
    if let Err(e) = write(&table, made_from, &file) {
        told = Some(unkept(&file, &list.name, &e));
    }
    (table, told)
}

fn unkept(file: &Path, list: &str, e: &std::io::Error) -> Error {
    Error::new(
        Fault::Gazetteer,
        file.display(),
        format!("what is made ready of the list {list} can't be kept ({e})"),
        "make room or see to the rights of the folder, so that the next start is faster",
    )
}

/// The list's name and a digest of where it lies: lists of one name in two folders don't meet.
fn file_name(list: &List) -> PathBuf {
    let place = std::path::absolute(&list.file).unwrap_or_else(|_| list.file.clone());
    let mut at = Digest::default();
    at.add(place.to_string_lossy().as_bytes());
    let plain: String = list
        .name
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '_' })
        .collect();
    PathBuf::from(format!("{plain}-{:016x}.index", at.end()))
}

/// A digest that tells changes and damage, not one against forgery: words of eight bytes mixed by
/// multiplying and turning.
#[derive(Default)]
struct Digest(u64, Vec<u8>);

/// An odd number without pattern: the fractional part of the golden ratio in 64 bits.
const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

fn mixed(h: u64, word: u64) -> u64 {
    let x = (h ^ word).wrapping_mul(GOLDEN);
    x ^ x.rotate_left(29)
}

impl Digest {
    fn add(&mut self, bytes: &[u8]) {
        self.1.extend_from_slice(bytes);
        // Where one text ends and the next begins
        self.1.push(0xff);
        if self.1.len() >= 1 << 16 {
            let whole = self.1.len() / 8 * 8;
            self.0 = digest_of(self.0, &self.1[..whole]);
            self.1.drain(..whole);
        }
    }

    fn end(&self) -> u64 {
        digest_of(self.0, &self.1) ^ self.1.len() as u64
    }
}

fn digest_of(start: u64, bytes: &[u8]) -> u64 {
    let (words, rest) = bytes.as_chunks::<8>();
    let h = words
        .iter()
        .fold(start, |h, w| mixed(h, u64::from_le_bytes(*w)));
    rest.iter().fold(h, |h, b| mixed(h, u64::from(*b)))
}

/// A digest of all that a table is made from.
fn rows_digest(entries: &[Entry]) -> u64 {
    let mut d = Digest::default();
    for e in entries {
        d.add(e.name.as_bytes());
        for v in &e.variants {
            d.add(v.as_bytes());
        }
        d.add(b"\x00");
        for text in [&e.trade, &e.address, &e.town] {
            d.add(text.as_bytes());
        }
    }
    d.end()
}

fn write(table: &Table, made_from: u64, file: &Path) -> std::io::Result<()> {
    let mut body = Vec::new();
    let mut number = |n: u32| body.extend_from_slice(&n.to_ne_bytes());
    number(match table.kind {
        Kind::Firms => 0,
        Kind::Persons => 1,
        Kind::Places => 2,
    });
    number(table.firms as u32);
    put(&mut body, &table.words.ends, |n| n.to_ne_bytes());
    put(&mut body, &table.words.all, |n| [n]);
    let fields: Vec<u8> = table.fields.iter().map(|f| *f as u8).collect();
    put(&mut body, &fields, |n| [n]);
    for r in [&table.slots, &table.forms, &table.names, &table.parts] {
        put(&mut body, &r.ends, |n| n.to_ne_bytes());
        put(&mut body, &r.all, |n| n.to_ne_bytes());
    }
    for floats in [&table.chances, &table.dropped] {
        put(&mut body, floats, |x| x.to_ne_bytes());
    }
    for numbers in [&table.homes, &table.trades, &table.thoroughfares] {
        put(&mut body, numbers, |n| n.to_ne_bytes());
    }
    put(&mut body, &table.leads, |l| [u8::from(l)]);
    let folder = file.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder)?;
    let mut out = tempfile::NamedTempFile::new_in(folder)?;
    out.write_all(MAGIC)?;
    out.write_all(&made_from.to_ne_bytes())?;
    out.write_all(&digest_of(0, &body).to_ne_bytes())?;
    out.write_all(&body)?;
    out.persist(file).map_err(|e| e.error)?;
    Ok(())
}

fn put<T: Copy, const N: usize>(out: &mut Vec<u8>, all: &[T], bytes: impl Fn(T) -> [u8; N]) {
    out.extend_from_slice(&(all.len() as u32).to_ne_bytes());
    out.reserve(all.len() * N);
    out.extend(all.iter().flat_map(|x| bytes(*x)));
}

/// What is left of a file to read; `None` where it ends too early.
struct Rest<'a>(&'a [u8]);

impl<'a> Rest<'a> {
    fn bytes(&mut self, count: usize) -> Option<&'a [u8]> {
        let (head, tail) = self.0.split_at_checked(count)?;
        self.0 = tail;
        Some(head)
    }

    fn number(&mut self) -> Option<u32> {
        Some(u32::from_ne_bytes(self.bytes(4)?.try_into().ok()?))
    }

    fn array<T, const N: usize>(&mut self, value: impl Fn([u8; N]) -> T) -> Option<Vec<T>> {
        let count = self.number()? as usize;
        let (all, _) = self.bytes(count.checked_mul(N)?)?.as_chunks::<N>();
        Some(all.iter().map(|b| value(*b)).collect())
    }

    /// Rows, each a run of `all`.
    fn ragged<T, const N: usize>(&mut self, value: impl Fn([u8; N]) -> T) -> Option<Ragged<T>> {
        let ends = self.array(u32::from_ne_bytes)?;
        let all = self.array(value)?;
        let orderly = ends.is_sorted() && ends.last().map_or(0, |e| *e as usize) == all.len();
        orderly.then_some(Ragged { ends, all })
    }
}

/// The digest of the rows and the table of a file; `None` if it is no such file or anything in it
/// isn't as it was written.
fn open(bytes: &[u8], list: &str) -> Option<(u64, Table)> {
    let mut rest = Rest(bytes);
    if rest.bytes(MAGIC.len())? != MAGIC {
        return None;
    }
    let made_from = u64::from_ne_bytes(rest.bytes(8)?.try_into().ok()?);
    let digest = u64::from_ne_bytes(rest.bytes(8)?.try_into().ok()?);
    if digest_of(0, rest.0) != digest {
        return None;
    }
    let kind = match rest.number()? {
        0 => Kind::Firms,
        1 => Kind::Persons,
        2 => Kind::Places,
        _ => return None,
    };
    let firms = rest.number()? as usize;
    let words = rest.ragged(u8::from_ne_bytes)?;
    let field = |n: u8| match n {
        0 => Field::Name,
        1 => Field::Address,
        _ => Field::Town,
    };
    let fields = rest.array(|[n]: [u8; 1]| field(n))?;
    let mut table = Table {
        list: list.to_string(),
        words,
        fields,
        slots: rest.ragged(u32::from_ne_bytes)?,
        forms: rest.ragged(u32::from_ne_bytes)?,
        names: rest.ragged(u32::from_ne_bytes)?,
        parts: rest.ragged(u32::from_ne_bytes)?,
        chances: rest.array(f32::from_ne_bytes)?,
        dropped: rest.array(f32::from_ne_bytes)?,
        homes: rest.array(u32::from_ne_bytes)?,
        trades: rest.array(u32::from_ne_bytes)?,
        thoroughfares: rest.array(u32::from_ne_bytes)?,
        leads: rest.array(|[l]: [u8; 1]| l != 0)?,
        firms,
        kind,
        ..Table::default()
    };
    table.complete();
    rest.0.is_empty().then_some((made_from, table))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn list(count: usize, dir: &Path) -> List {
        let entries = (0..count)
            .map(|i| Entry {
                list: "framers".into(),
                entry: format!("firm-{i}"),
                name: format!("Thomas Harrow{}by & Son", i % 977),
                variants: vec![format!("Harrow{}by, Thomas", i % 977)],
                trade: "carver and gilder".into(),
                address: format!("{}, Castle Street, Market Place", i % 90),
                town: ["Kendal", "Wexham", ""][i % 3].into(),
                ..Entry::default()
            })
            .collect();
        List {
            role: None,
            name: "framers".into(),
            file: dir.join("framers.csv"),
            entries,
        }
    }

    fn only_file(dir: &Path) -> PathBuf {
        let mut files = std::fs::read_dir(dir).expect("folder").flatten();
        files.next().expect("a file").path()
    }

    #[test]
    fn what_is_loaded_is_what_was_made_and_it_is_made_anew_only_for_other_rows() {
        let dir = tempfile::tempdir().expect("folder");
        let mut l = list(FROM + 5, dir.path());
        let (made, told) = table(&l, dir.path());
        assert!(told.is_none(), "{told:?}");
        let bytes = std::fs::read(only_file(dir.path())).expect("kept");
        let (loaded, _) = table(&l, dir.path());
        assert_eq!(format!("{made:?}"), format!("{loaded:?}"));
        l.entries[7].note = "seen again".into();
        let (_, again) = (table(&l, dir.path()), std::fs::read(only_file(dir.path())));
        assert_eq!(bytes, again.expect("kept"), "a note isn't weighed");
        l.entries[7].town = "Hexley".into();
        let (changed, told) = table(&l, dir.path());
        assert!(told.is_none(), "{told:?}");
        let fresh = Table::new(&l.name, &l.entries);
        assert_eq!(format!("{changed:?}"), format!("{fresh:?}"));
    }

    #[test]
    fn a_damaged_or_older_file_is_told_in_one_sentence_and_made_anew() {
        let dir = tempfile::tempdir().expect("folder");
        let l = list(FROM, dir.path());
        let (made, _) = table(&l, dir.path());
        let file = only_file(dir.path());
        let whole = std::fs::read(&file).expect("kept");
        let mut older = whole.clone();
        older[13] = b'0';
        let mut bent = whole.clone();
        bent[whole.len() / 2] ^= 4;
        for harmed in [&whole[..whole.len() - 9], &whole[..11], &[], &older, &bent] {
            std::fs::write(&file, harmed).expect("written");
            let (again, told) = table(&l, dir.path());
            assert!(told.is_some_and(|t| t.to_string().contains("made anew")));
            assert_eq!(format!("{made:?}"), format!("{again:?}"));
            assert_eq!(std::fs::read(&file).expect("kept"), whole);
        }
    }

    #[test]
    fn where_nothing_can_be_kept_the_list_is_weighed_all_the_same() {
        let dir = tempfile::tempdir().expect("folder");
        let l = list(FROM, dir.path());
        let taken = dir.path().join("taken");
        std::fs::write(&taken, "a file").expect("written");
        let (made, told) = table(&l, &taken);
        assert_eq!(made.len(), FROM);
        assert!(told.is_some_and(|t| t.to_string().contains("can't be kept")));
    }
}
