//! Dorso reads the marks on the backs of old pictures.
//!
//! ```text
//! photograph -> enhance -> marks -> readings -> back -> statements, proposals -> decisions -> evidence -> note
//!                                              gazetteer, dating --^
//! ```
//!
//! Each stage is a module with plain types and one entry, and knows nothing of the stages after
//! it. [`run`] sets them one behind the other; [`cli`] is the only place that prints.
//! [`error`], [`geometry`], [`chance`], [`limits`], [`signs`] and [`written`] know no stage.

pub mod back;
pub mod chance;
pub mod cli;
pub mod dating;
pub mod decisions;
pub mod desk;
pub mod enhance;
pub mod error;
pub mod evidence;
pub mod exports;
pub mod gazetteer;
pub mod geometry;
pub mod limits;
pub mod marks;
pub mod measure;
pub mod monogram;
pub mod note;
pub mod packed;
pub mod photograph;
pub mod proposals;
pub mod readings;
pub mod run;
pub mod signs;
pub mod statements;
pub mod written;

pub use error::{Error, Kind, Result};
