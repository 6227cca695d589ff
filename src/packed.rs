//! What takes long to make and is kept between runs: columns of numbers as they lie in memory, one behind the
//! other in a file.
//!
//! A file is a line that says what it holds, a digest of what it was made from, a digest of what follows, and
//! columns, each after its length. One that is damaged, of another make or of another machine's byte order
//! isn't used: what it held is made anew.

use crate::written::Beside;
use bytemuck::Pod;
use std::fs::File;
use std::io::{Error, ErrorKind, Read, Result, Write};
use std::path::Path;

/// A digest that tells changes and damage, not one against forgery: words of eight bytes mixed by
/// multiplying and turning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Digest(u64);

/// An odd number without pattern: the fractional part of the golden ratio in 64 bits.
const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

impl Digest {
    /// Takes in bytes; what is taken in at two times differs from the same at once.
    pub fn add(&mut self, bytes: &[u8]) {
        let (words, rest) = bytes.as_chunks::<8>();
        for w in words {
            self.mix(u64::from_le_bytes(*w));
        }
        for b in rest {
            self.mix(u64::from(*b));
        }
        self.mix(bytes.len() as u64);
    }

    fn mix(&mut self, word: u64) {
        let x = (self.0 ^ word).wrapping_mul(GOLDEN);
        self.0 = x ^ x.rotate_left(29);
    }

    /// The digest of several texts.
    pub fn of<'a>(texts: impl IntoIterator<Item = &'a [u8]>) -> u64 {
        let mut digest = Digest::default();
        texts.into_iter().for_each(|t| digest.add(t));
        digest.0
    }
}

/// Rows of differing length, one behind the other in one piece of memory; `ragged[i]` is row i.
#[derive(Debug, Clone, PartialEq)]
pub struct Ragged<T> {
    /// Where each row ends in `all`.
    pub ends: Vec<u32>,
    /// The rows, one behind the other.
    pub all: Vec<T>,
}

impl<T> Default for Ragged<T> {
    fn default() -> Self {
        Ragged {
            ends: Vec::new(),
            all: Vec::new(),
        }
    }
}

impl<T: Copy> Ragged<T> {
    /// Adds a row and returns its number.
    pub fn push(&mut self, row: &[T]) -> u32 {
        self.all.extend_from_slice(row);
        self.ends.push(self.all.len() as u32);
        self.ends.len() as u32 - 1
    }

    /// Row `i`.
    pub fn get(&self, i: usize) -> &[T] {
        &self[i]
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.ends.is_empty()
    }

    /// The rows in order.
    pub fn iter(&self) -> impl Iterator<Item = &[T]> {
        (0..self.len()).map(|i| &self[i])
    }

    /// Gives back memory that was held for more rows.
    pub fn trim(&mut self) {
        self.ends.shrink_to_fit();
        self.all.shrink_to_fit();
    }
}

impl Ragged<u32> {
    /// Rows of the values given with each row's number.
    pub fn grouped(count: usize, pairs: &[(u32, u32)]) -> Ragged<u32> {
        let mut ends = vec![0u32; count];
        pairs.iter().for_each(|p| ends[p.0 as usize] += 1);
        let mut sum = 0;
        for e in &mut ends {
            sum += *e;
            *e = sum;
        }
        let mut next: Vec<u32> = (0..count)
            .map(|i| if i == 0 { 0 } else { ends[i - 1] })
            .collect();
        let mut all = vec![0u32; pairs.len()];
        for &(k, v) in pairs {
            all[next[k as usize] as usize] = v;
            next[k as usize] += 1;
        }
        Ragged { ends, all }
    }
}

impl<T> std::ops::Index<usize> for Ragged<T> {
    type Output = [T];

    fn index(&self, i: usize) -> &[T] {
        let start = if i == 0 { 0 } else { self.ends[i - 1] as usize };
        &self.all[start..self.ends[i] as usize]
    }
}

/// What can be kept in a file.
pub trait Packed: Sized {
    /// Writes it behind what was written before.
    fn pack(&self, to: &mut Writer);

    /// Reads it back.
    ///
    /// # Errors
    /// `ErrorKind::InvalidData` where the file doesn't hold it.
    fn unpack(from: &mut Reader) -> Result<Self>;
}

/// Columns to be kept.
#[derive(Debug, Default)]
pub struct Writer {
    body: Vec<u8>,
    digest: Digest,
}

impl Writer {
    /// Writes a column.
    pub fn column<T: Pod>(&mut self, all: &[T]) {
        let bytes: &[u8] = bytemuck::cast_slice(all);
        self.body
            .extend_from_slice(&(all.len() as u64).to_ne_bytes());
        self.body.extend_from_slice(bytes);
        self.digest.add(bytes);
    }
}

/// A file that is read back, column by column.
#[derive(Debug)]
pub struct Reader {
    file: File,
    /// Bytes that are left of it.
    left: u64,
    digest: Digest,
}

/// Why a file isn't what it should be.
fn damaged() -> Error {
    Error::new(ErrorKind::InvalidData, "damaged or of another make")
}

impl Reader {
    fn bytes(&mut self, into: &mut [u8]) -> Result<()> {
        self.left = self
            .left
            .checked_sub(into.len() as u64)
            .ok_or_else(damaged)?;
        self.file.read_exact(into)
    }

    fn number(&mut self) -> Result<u64> {
        let mut n = [0; 8];
        self.bytes(&mut n)?;
        Ok(u64::from_ne_bytes(n))
    }

    /// Reads a column.
    ///
    /// # Errors
    /// `ErrorKind::InvalidData` where the file ends before it.
    pub fn column<T: Pod>(&mut self) -> Result<Vec<T>> {
        let count = self.number()?;
        let size = size_of::<T>() as u64;
        if count.checked_mul(size).is_none_or(|n| n > self.left) {
            return Err(damaged());
        }
        let mut all = vec![T::zeroed(); count as usize];
        let bytes: &mut [u8] = bytemuck::cast_slice_mut(&mut all);
        self.left -= bytes.len() as u64;
        self.file.read_exact(bytes)?;
        self.digest.add(bytes);
        Ok(all)
    }
}

impl<T: Pod> Packed for Vec<T> {
    fn pack(&self, to: &mut Writer) {
        to.column(self);
    }

    fn unpack(from: &mut Reader) -> Result<Self> {
        from.column()
    }
}

impl<T: Pod> Packed for Ragged<T> {
    fn pack(&self, to: &mut Writer) {
        to.column(&self.ends);
        to.column(&self.all);
    }

    fn unpack(from: &mut Reader) -> Result<Self> {
        let ragged = Ragged {
            ends: from.column()?,
            all: from.column()?,
        };
        let end = ragged.ends.last().map_or(0, |e| *e as usize);
        match ragged.ends.is_sorted() && end == ragged.all.len() {
            true => Ok(ragged),
            false => Err(damaged()),
        }
    }
}

impl Packed for String {
    fn pack(&self, to: &mut Writer) {
        to.column(self.as_bytes());
    }

    fn unpack(from: &mut Reader) -> Result<Self> {
        String::from_utf8(from.column()?).map_err(|_| damaged())
    }
}

/// A number that comes in a column of its own.
impl Packed for u64 {
    fn pack(&self, to: &mut Writer) {
        to.column(&[*self]);
    }

    fn unpack(from: &mut Reader) -> Result<Self> {
        match from.column()?[..] {
            [only] => Ok(only),
            _ => Err(damaged()),
        }
    }
}

/// Keeps something in a file; one that is there stays whole until the new one is.
///
/// * `what`: says what it holds, the same on reading.
/// * `made_from`: a digest of all that it was made from, the rules included.
///
/// # Errors
/// Where it can't be written.
pub fn keep(file: &Path, what: [u8; 16], made_from: u64, kept: &impl Packed) -> Result<()> {
    let mut to = Writer::default();
    kept.pack(&mut to);
    let mut out = Beside::begin(file)?;
    out.write_all(&what)?;
    out.write_all(&made_from.to_ne_bytes())?;
    out.write_all(&to.digest.0.to_ne_bytes())?;
    out.write_all(&to.body)?;
    out.put()
}

/// What a file keeps; `None` where it was made from something else.
///
/// # Errors
/// `ErrorKind::NotFound` where there is none, `ErrorKind::InvalidData` where it is damaged or no such file.
pub fn open<T: Packed>(file: &Path, what: [u8; 16], made_from: u64) -> Result<Option<T>> {
    let file = File::open(file)?;
    let left = file.metadata()?.len();
    let mut from = Reader {
        file,
        left,
        digest: Digest::default(),
    };
    let whole = |e: Error| match e.kind() {
        ErrorKind::UnexpectedEof => damaged(),
        _ => e,
    };
    let mut own = [0; 16];
    from.bytes(&mut own).map_err(whole)?;
    if own != what {
        return Err(damaged());
    }
    if from.number().map_err(whole)? != made_from {
        return Ok(None);
    }
    let digest = from.number().map_err(whole)?;
    let kept = T::unpack(&mut from).map_err(whole)?;
    match from.left == 0 && from.digest.0 == digest {
        true => Ok(Some(kept)),
        false => Err(damaged()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const WHAT: [u8; 16] = *b"columns of tests";

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn what_is_opened_is_what_was_kept_and_any_damage_is_told(
            rows in prop::collection::vec(prop::collection::vec(any::<u32>(), 0..6), 0..9),
            at in any::<prop::sample::Index>(),
            cut in any::<prop::sample::Index>(),
        ) {
            let dir = tempfile::tempdir().expect("a folder");
            let file = dir.path().join("kept");
            let mut ragged = Ragged::default();
            rows.iter().for_each(|r| { ragged.push(r); });
            keep(&file, WHAT, 7, &ragged).expect("kept");
            prop_assert_eq!(open::<Ragged<u32>>(&file, WHAT, 7).expect("whole"), Some(ragged.clone()));
            prop_assert_eq!(open::<Ragged<u32>>(&file, WHAT, 8).expect("whole"), None);
            let whole = std::fs::read(&file).expect("there");
            let mut bent = whole.clone();
            let at = at.index(whole.len());
            bent[at] ^= 4;
            std::fs::write(&file, &bent).expect("written");
            let again = open::<Ragged<u32>>(&file, WHAT, 7);
            prop_assert!(!matches!(again, Ok(Some(_))), "byte {} of {}", at, whole.len());
            std::fs::write(&file, &whole[..cut.index(whole.len())]).expect("written");
            let again = open::<Ragged<u32>>(&file, WHAT, 7);
            prop_assert_eq!(again.expect_err("cut").kind(), ErrorKind::InvalidData);
        }
    }

    #[test]
    fn what_is_not_there_is_told_as_such() {
        let dir = tempfile::tempdir().expect("a folder");
        let none = open::<Vec<u8>>(&dir.path().join("none"), WHAT, 7);
        assert_eq!(none.expect_err("none").kind(), ErrorKind::NotFound);
    }
}
