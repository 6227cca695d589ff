//! Rows of differing length, one behind the other in one piece of memory.

/// Rows of differing length; `ragged[i]` is row i.
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

impl<T> std::ops::Index<usize> for Ragged<T> {
    type Output = [T];

    fn index(&self, i: usize) -> &[T] {
        let start = if i == 0 { 0 } else { self.ends[i - 1] as usize };
        &self.all[start..self.ends[i] as usize]
    }
}
