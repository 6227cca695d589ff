//! Dates: EDTF, dates as they stand on labels, and the dating clues in the wording of a mark. A clue dates
//! the mark, never the picture.

pub mod clues;
pub mod dress;
pub mod edtf;
pub mod kinds;
mod typed;

pub use typed::{typed, typed_years};
