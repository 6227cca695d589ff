//! What was seen and decided, what follows from it, and the notes and files that tell it.
//!
//! Part of Dorso, built as a package of its own; the rooms and their order are told in `lib.rs`.

pub mod decisions;
pub mod evidence;
pub mod exports;
pub mod note;

use dorso_seeing::{
    chance, error, geometry, limits, marks, photograph, readings, signs, taking, written,
};
use dorso_weighing::{back, dating, gazetteer, monogram, proposals, statements};
