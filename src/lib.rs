//! Dorso reads the marks on the backs of old pictures.
//!
//! ```text
//! photograph -> enhance -> marks -> taking, readings -> back -> statements, proposals -> decisions -> evidence -> note
//!                                              gazetteer, dating --^
//! ```
//!
//! Each stage is a module with plain types and one entry, and knows nothing of the stages after
//! it. [`run`] sets them one behind the other; [`cli`] is the only place that prints.
//! [`error`], [`geometry`], [`chance`], [`limits`], [`networks`], [`packed`], [`signs`] and [`written`]
//! know no stage.
//!
//! So that a change is built in seconds, the rooms are built as four packages: `seeing.rs`, `weighing.rs` and
//! `telling.rs` name those of the first three, and here is the rest. To whoever uses the library they are one.

pub mod cli;
pub mod desk;
pub mod measure;
pub mod run;

pub use dorso_seeing::{
    Error, Kind, Result, chance, enhance, error, geometry, limits, marks, networks, packed,
    photograph, readings, signs, taking, written,
};
pub use dorso_telling::{decisions, evidence, exports, note};
pub use dorso_weighing::{back, dating, gazetteer, monogram, proposals, statements};
