//! What is made ready of long lists for weighing, kept between runs: one file for each list, made anew when
//! the list's file or the rules changed.

use super::table::{Kind, Table};
use super::words::Field;
use crate::error::Error;
use crate::gazetteer::List;
use crate::gazetteer::kept::{file_name, told};
use crate::packed::{self, Digest, Packed, Ragged, Reader, Writer};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// First bytes of a file.
const WHAT: [u8; 16] = *b"list to weigh\n\0\0";

/// Shorter lists are made ready as fast as a file is read.
pub const FROM: usize = 2_000;

/// The folder of the lists made ready, beside a store.
pub fn beside(store: &Path) -> PathBuf {
    store.with_file_name("index")
}

/// Digest of the rules by which a list is made ready.
fn rules() -> u64 {
    let sources = [
        include_str!("table.rs"),
        include_str!("table/made.rs"),
        include_str!("words.rs"),
        include_str!("persons.rs"),
        include_str!("letters.rs"),
        include_str!("vocabulary.rs"),
        include_str!("kept.rs"),
    ];
    Digest::of(sources.map(str::as_bytes))
}

/// The list made ready, from its file in the folder if that was made from the same rows; else made
/// anew and kept. The sentence says why a file that was there couldn't be used, or that none can be
/// kept.
pub fn table(list: &List, folder: &Path) -> (Table, Option<Error>) {
    let anew = || Table::new(&list.name, &list.entries, super::of_persons(list));
    let Some(digest) = list.digest.filter(|_| list.entries.len() >= FROM) else {
        return (anew(), None);
    };
    let made_from = Digest::of(
        [rules(), digest]
            .map(u64::to_ne_bytes)
            .each_ref()
            .map(|b| &b[..]),
    );
    let file = folder.join(file_name(&list.name, &list.file, "index"));
    let unusable = match packed::open::<Table>(&file, WHAT, made_from) {
        Ok(Some(table)) => {
            let list = list.name.clone();
            return (Table { list, ..table }, None);
        }
        Ok(None) => None,
        Err(e) => told(&file, &list.name, &e),
    };
    let table = anew();
    let kept = packed::keep(&file, WHAT, made_from, &table);
    let unkept = kept.err().and_then(|e| told(&file, &list.name, &e));
    (table, unkept.or(unusable))
}

fn bytes<T: Copy>(of: &[T], byte: impl Fn(T) -> u8) -> Vec<u8> {
    of.iter().map(|x| byte(*x)).collect()
}

impl Packed for Table {
    fn pack(&self, to: &mut Writer) {
        let kind = match self.kind {
            Kind::Firms => 0,
            Kind::Persons => 1,
            Kind::Places => 2,
        };
        to.column(&[
            kind,
            self.firms as u64,
            self.longest as u64,
            u64::from(self.habits),
        ]);
        self.words.pack(to);
        bytes(&self.fields, |f| f as u8).pack(to);
        for flags in [&self.leads, &self.fills] {
            bytes(flags, u8::from).pack(to);
        }
        self.shared.pack(to);
        for rows in [&self.slots, &self.forms, &self.names, &self.parts] {
            rows.pack(to);
        }
        self.name_weights.pack(to);
        let shares = [&self.name_share, &self.place_share, &self.common];
        for floats in [&self.chances, &self.dropped, &self.after_and]
            .into_iter()
            .chain(shares)
        {
            floats.pack(to);
        }
        for numbers in [&self.homes, &self.trades, &self.thoroughfares, &self.towns] {
            numbers.pack(to);
        }
    }

    fn unpack(from: &mut Reader) -> io::Result<Self> {
        let other = || io::Error::new(ErrorKind::InvalidData, "no list made ready");
        let [kind, firms, longest, habits] = from.column::<u64>()?[..] else {
            return Err(other());
        };
        let kind = match kind {
            0 => Kind::Firms,
            1 => Kind::Persons,
            2 => Kind::Places,
            _ => return Err(other()),
        };
        let words = Ragged::unpack(from)?;
        let field = |n: &u8| match n {
            0 => Field::Name,
            1 => Field::Address,
            _ => Field::Town,
        };
        let fields = from.column::<u8>()?.iter().map(field).collect();
        let flags = |from: &mut Reader| -> io::Result<Vec<bool>> {
            Ok(from.column::<u8>()?.iter().map(|n| *n != 0).collect())
        };
        Ok(Table {
            list: String::new(),
            words,
            fields,
            leads: flags(from)?,
            fills: flags(from)?,
            shared: from.column()?,
            slots: Ragged::unpack(from)?,
            forms: Ragged::unpack(from)?,
            names: Ragged::unpack(from)?,
            parts: Ragged::unpack(from)?,
            name_weights: from.column()?,
            chances: from.column()?,
            dropped: from.column()?,
            after_and: from.column()?,
            name_share: from.column()?,
            place_share: from.column()?,
            common: from.column()?,
            homes: from.column()?,
            trades: from.column()?,
            thoroughfares: from.column()?,
            towns: from.column()?,
            longest: longest as usize,
            firms: firms as usize,
            kind,
            habits: habits != 0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gazetteer::{Entries, Entry};

    fn list(count: usize, dir: &Path) -> List {
        let entries: Vec<Entry> = (0..count)
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
            entries: entries.into(),
            digest: Some(count as u64),
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
        let mut rows: Vec<Entry> = l.entries.iter().cloned().collect();
        rows[7].town = "Hexley".into();
        (l.entries, l.digest) = (Entries::from(rows), Some(1));
        let (changed, told) = table(&l, dir.path());
        assert!(told.is_none(), "{told:?}");
        let fresh = Table::new(&l.name, &l.entries, false);
        assert_eq!(format!("{changed:?}"), format!("{fresh:?}"));
        assert_ne!(bytes, std::fs::read(only_file(dir.path())).expect("kept"));
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
