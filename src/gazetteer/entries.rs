//! The usable rows of a list: as they were read, or packed in a few pieces of memory and made when asked for.

use super::Entry;
use crate::packed::{Packed, Ragged, Reader, Writer};
use std::io::{Error, ErrorKind, Result};
use std::ops::Index;
use std::sync::{Arc, OnceLock};

/// Rows of a list in file order; copies share them.
#[derive(Debug, Clone)]
pub struct Entries(Arc<Rows>);

#[derive(Debug)]
enum Rows {
    Made(Vec<Entry>),
    Packed(PackedRows),
}

/// Cells of a row, as they are packed: see [`cells`].
const CELLS: usize = 11;
/// Places of the key and of the trade among the cells.
const KEY: usize = 0;
const TRADE: usize = 3;
/// Parts the variants of a name, as in a list.
const BAR: char = '|';

#[derive(Debug)]
struct PackedRows {
    list: String,
    /// [`CELLS`] texts a row, UTF-8.
    cells: Ragged<u8>,
    numbers: Vec<u32>,
    made: Vec<OnceLock<Box<Entry>>>,
}

impl PackedRows {
    fn bytes(&self, row: usize, cell: usize) -> &[u8] {
        &self.cells[row * CELLS + cell]
    }

    /// The text of a cell; what is packed was checked to be UTF-8 throughout when it was read.
    fn text(&self, row: usize, cell: usize) -> &str {
        std::str::from_utf8(self.bytes(row, cell)).unwrap_or_default()
    }

    fn entry(&self, row: usize) -> &Entry {
        self.made[row].get_or_init(|| {
            let text = |cell: usize| self.text(row, cell).to_owned();
            let variants = self.text(row, 2).split(BAR).filter(|v| !v.is_empty());
            let extra = self.text(row, 10);
            Box::new(Entry {
                list: self.list.clone(),
                entry: text(KEY),
                name: text(1),
                variants: variants.map(str::to_owned).collect(),
                trade: text(TRADE),
                address: text(4),
                town: text(5),
                from: text(6),
                to: text(7),
                source: text(8),
                note: text(9),
                // Written by `cells`, whole by the file's digest; empty where there are none
                extra: serde_json::from_str(extra).unwrap_or_default(),
                row: self.numbers[row] as usize,
            })
        })
    }
}

/// The cells of a row, as they are packed; `None` where they can't be.
fn cells(e: &Entry) -> Option<[String; CELLS]> {
    let bar = |v: &String| v.contains(BAR) || v.is_empty();
    if e.variants.iter().any(bar) || u32::try_from(e.row).is_err() {
        return None;
    }
    let extra = match e.extra.is_empty() {
        true => String::new(),
        false => serde_json::to_string(&e.extra).ok()?,
    };
    let text = |t: &String| t.clone();
    Some([
        text(&e.entry),
        text(&e.name),
        e.variants.join("|"),
        text(&e.trade),
        text(&e.address),
        text(&e.town),
        text(&e.from),
        text(&e.to),
        text(&e.source),
        text(&e.note),
        extra,
    ])
}

impl Entries {
    /// Number of rows.
    pub fn len(&self) -> usize {
        match &*self.0 {
            Rows::Made(all) => all.len(),
            Rows::Packed(p) => p.made.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The rows in file order.
    pub fn iter(&self) -> impl Iterator<Item = &Entry> {
        (0..self.len()).map(|i| &self[i])
    }

    /// The trades of the rows, in file order.
    pub fn trades(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).map(|i| match &*self.0 {
            Rows::Made(all) => all[i].trade.as_str(),
            Rows::Packed(p) => p.text(i, TRADE),
        })
    }

    /// Place of the row with a key.
    pub fn position(&self, key: &str) -> Option<usize> {
        match &*self.0 {
            Rows::Made(all) => all.iter().position(|e| e.entry == key),
            Rows::Packed(p) => (0..p.made.len()).find(|i| p.bytes(*i, KEY) == key.as_bytes()),
        }
    }

    /// The same rows packed; `None` where a row holds what can't be.
    pub(super) fn packed(&self) -> Option<Entries> {
        let (mut texts, mut numbers) = (Ragged::default(), Vec::new());
        for e in self.iter() {
            cells(e)?.iter().for_each(|c| {
                texts.push(c.as_bytes());
            });
            numbers.push(e.row as u32);
        }
        // The ends of cells are numbers of 32 bits
        u32::try_from(texts.all.len()).ok()?;
        let list = self.iter().next().map(|e| e.list.clone());
        Some(Entries::of(list.unwrap_or_default(), texts, numbers))
    }

    fn of(list: String, cells: Ragged<u8>, numbers: Vec<u32>) -> Entries {
        let made = std::iter::repeat_with(OnceLock::new)
            .take(numbers.len())
            .collect();
        Entries(Arc::new(Rows::Packed(PackedRows {
            list,
            cells,
            numbers,
            made,
        })))
    }
}

impl Default for Entries {
    fn default() -> Self {
        Entries::from(Vec::new())
    }
}

impl From<Vec<Entry>> for Entries {
    fn from(all: Vec<Entry>) -> Self {
        Entries(Arc::new(Rows::Made(all)))
    }
}

impl FromIterator<Entry> for Entries {
    fn from_iter<I: IntoIterator<Item = Entry>>(all: I) -> Self {
        Entries::from(Vec::from_iter(all))
    }
}

impl<'a> IntoIterator for &'a Entries {
    type Item = &'a Entry;
    type IntoIter = Box<dyn Iterator<Item = &'a Entry> + 'a>;

    fn into_iter(self) -> Self::IntoIter {
        Box::new(self.iter())
    }
}

impl Index<usize> for Entries {
    type Output = Entry;

    fn index(&self, i: usize) -> &Entry {
        match &*self.0 {
            Rows::Made(all) => &all[i],
            Rows::Packed(p) => p.entry(i),
        }
    }
}

impl Packed for Entries {
    /// Rows that can't be packed are kept as none: see `Entries::packed`.
    fn pack(&self, to: &mut Writer) {
        match &*self.0 {
            Rows::Packed(p) => {
                p.list.pack(to);
                p.cells.pack(to);
                p.numbers.pack(to);
            }
            Rows::Made(_) => {
                if let Some(packed) = self.packed() {
                    packed.pack(to);
                }
            }
        }
    }

    fn unpack(from: &mut Reader) -> Result<Self> {
        let (list, cells) = (String::unpack(from)?, Ragged::<u8>::unpack(from)?);
        let numbers = Vec::<u32>::unpack(from)?;
        let whole = std::str::from_utf8(&cells.all);
        let starts = |text: &str| {
            cells
                .ends
                .iter()
                .all(|e| text.is_char_boundary(*e as usize))
        };
        match cells.len() == CELLS * numbers.len() && whole.is_ok_and(starts) {
            true => Ok(Entries::of(list, cells, numbers)),
            false => Err(Error::new(ErrorKind::InvalidData, "no rows of a list")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn rows_that_are_packed_are_the_same_rows(
            rows in prop::collection::vec(prop::collection::vec(".{0,6}", 10..11), 0..6),
            number in 0usize..90,
        ) {
            let made: Entries = rows.iter().enumerate().map(|(i, r)| Entry {
                list: "framers".into(),
                entry: format!("{i}{}", r[0]),
                name: r[1].clone(),
                variants: r[2].split(BAR).filter(|v| !v.is_empty()).map(str::to_owned).collect(),
                trade: r[3].clone(),
                address: r[4].clone(),
                town: r[5].clone(),
                from: r[6].clone(),
                to: r[7].clone(),
                source: r[8].clone(),
                note: r[9].clone(),
                extra: vec![(r[4].clone(), r[5].clone())],
                row: number + i,
            }).collect();
            let packed = made.packed().expect("nothing in the way");
            prop_assert_eq!(made.len(), packed.len());
            for (i, e) in made.iter().enumerate() {
                prop_assert_eq!(packed.position(&e.entry), Some(i));
                prop_assert_eq!(e, &packed[i]);
            }
            prop_assert!(made.trades().eq(packed.trades()));
        }
    }
}
