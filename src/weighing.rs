//! Dates and lists, one back from several photographs, what its marks state and whom they name.
//!
//! Part of Dorso, built as a package of its own; the rooms and their order are told in `lib.rs`.

pub mod back;
pub mod dating;
pub mod gazetteer;
pub mod monogram;
pub mod proposals;
pub mod statements;

use dorso_seeing::{chance, error, geometry, limits, marks, networks, packed, readings, written};
