//! From the photograph to what was read of its marks, and what every stage stands on.
//!
//! Part of Dorso, built as a package of its own; the rooms and their order are told in `lib.rs`.

pub mod chance;
pub mod enhance;
pub mod error;
pub mod geometry;
pub mod limits;
pub mod marks;
pub mod networks;
pub mod packed;
pub mod photograph;
pub mod readings;
pub mod signs;
pub mod taking;
pub mod written;

pub use error::{Error, Kind, Result};
