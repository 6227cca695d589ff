//! The lists as statements need them, kept between runs where they are long.

use super::lists::{KINDS, Kind, Lists, Row};
use crate::error::Error;
use crate::gazetteer::Gazetteer;
use crate::gazetteer::kept::{file_name, told};
use crate::packed::{self, Digest, Packed, Ragged, Reader, Writer};
use std::io::{self, ErrorKind};
use std::path::Path;

/// First bytes of a file.
const WHAT: [u8; 16] = *b"words of lists\n\0";

/// Fewer rows in all are made ready as fast as a file is read.
const FROM: usize = 2_000;

/// Stands for a year that isn't known.
const UNKNOWN: i32 = i32::MIN;

/// Digest of the rules by which lists are made ready.
fn rules() -> u64 {
    let sources = [
        include_str!("lists.rs"),
        include_str!("letters.rs"),
        include_str!("lexicon.rs"),
        include_str!("lexicon.txt"),
        include_str!("hits.rs"),
        include_str!("kept.rs"),
    ];
    Digest::of(sources.map(str::as_bytes))
}

impl Lists {
    /// As [`Lists::new`], from what was kept in `folder` when the same lists were made ready last; what had to be
    /// made anew is kept there. The sentence says what couldn't be used or kept.
    pub fn kept(gazetteer: &Gazetteer, folder: &Path) -> (Self, Option<Error>) {
        let anew = || Lists::new(gazetteer);
        let rows: usize = gazetteer.lists.iter().map(|l| l.entries.len()).sum();
        let digests: Option<Vec<u64>> = gazetteer.lists.iter().map(|l| l.digest).collect();
        let (Some(digests), Some(first)) = (digests, gazetteer.lists.first()) else {
            return (anew(), None);
        };
        if rows < FROM {
            return (anew(), None);
        }
        let names = || gazetteer.lists.iter().map(|l| l.name.as_bytes());
        let all: Vec<[u8; 8]> = digests.iter().map(|d| d.to_ne_bytes()).collect();
        let rules = rules().to_ne_bytes();
        let parts = names().chain(all.iter().map(|d| &d[..]));
        let made_from = Digest::of(parts.chain([&rules[..]]));
        let of_folder = first.file.parent().unwrap_or(Path::new("."));
        // Some of the lists, asked for by name, don't take the place of all
        let which = format!("lists-{:016x}", Digest::of(names()));
        let file = folder.join(file_name(&which, of_folder, "words"));
        let unusable = match packed::open::<Lists>(&file, WHAT, made_from) {
            Ok(Some(mut lists)) => {
                lists.take_names(gazetteer);
                return (lists, None);
            }
            Ok(None) => None,
            Err(e) => told(&file, "all together", &e),
        };
        let lists = anew();
        let kept = packed::keep(&file, WHAT, made_from, &lists);
        let unkept = kept.err().and_then(|e| told(&file, "all together", &e));
        (lists, unkept.or(unusable))
    }
}

impl Packed for Lists {
    /// Names and keys of the rows are the lists' own, and aren't kept.
    fn pack(&self, to: &mut Writer) {
        self.vocabulary.pack(to);
        self.sorted.pack(to);
        self.in_names.pack(to);
        self.rare.pack(to);
        let ragged = [
            &self.grams,
            &self.forms,
            &self.bearers,
            &self.holding,
            &self.addresses,
            &self.towns,
        ];
        ragged.iter().for_each(|r| r.pack(to));
        let counts: Vec<u64> = self.counts.iter().map(|n| *n as u64).collect();
        counts.pack(to);
        let rows = &self.rows;
        let numbers = |of: &dyn Fn(&Row) -> u32| -> Vec<u32> { rows.iter().map(of).collect() };
        numbers(&|r| r.at.0.into()).pack(to);
        numbers(&|r| r.at.1).pack(to);
        numbers(&|r| r.kind as u32).pack(to);
        let year = |of: &dyn Fn(&Row) -> Option<i32>| -> Vec<i32> {
            rows.iter().map(|r| of(r).unwrap_or(UNKNOWN)).collect()
        };
        year(&|r| r.years.0).pack(to);
        year(&|r| r.years.1).pack(to);
        let trades: Vec<u64> = rows.iter().map(|r| r.trade).collect();
        trades.pack(to);
    }

    fn unpack(from: &mut Reader) -> io::Result<Self> {
        let mut lists = Lists {
            vocabulary: Ragged::unpack(from)?,
            sorted: from.column()?,
            in_names: from.column()?,
            rare: from.column()?,
            grams: Ragged::unpack(from)?,
            forms: Ragged::unpack(from)?,
            bearers: Ragged::unpack(from)?,
            holding: Ragged::unpack(from)?,
            addresses: Ragged::unpack(from)?,
            towns: Ragged::unpack(from)?,
            ..Lists::default()
        };
        let counts = from.column::<u64>()?;
        let (list, entry) = (from.column::<u32>()?, from.column::<u32>()?);
        let kind = from.column::<u32>()?;
        let (first, last) = (from.column::<i32>()?, from.column::<i32>()?);
        let trade = from.column::<u64>()?;
        let n = trade.len();
        let lengths = [list.len(), entry.len(), kind.len(), first.len(), last.len()];
        if lengths != [n; 5] || counts.len() != KINDS {
            return Err(io::Error::new(ErrorKind::InvalidData, "no words of lists"));
        }
        lists.counts = std::array::from_fn(|k| counts[k] as usize);
        let year = |y: i32| (y != UNKNOWN).then_some(y);
        let row = |i: usize| Row {
            at: (list[i] as u16, entry[i]),
            kind: Kind::ALL[(kind[i] as usize).min(KINDS - 1)],
            years: (year(first[i]), year(last[i])),
            trade: trade[i],
        };
        lists.rows = (0..n).map(row).collect();
        Ok(lists)
    }
}
