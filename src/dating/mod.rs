//! Dates: EDTF, and the dating clues in the wording of a mark. A clue dates the mark, never the
//! picture.

pub mod clues;
pub mod edtf;
