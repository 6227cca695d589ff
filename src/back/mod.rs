//! The back as one thing: its photographs on one plan, and which of what they show is one mark.
//!
//! Picture, mark, sighting, reading: a *sighting* is what one photograph shows of a mark; a *mark*
//! belongs to the picture, and is what is asked, weighed, settled, dated, told and exported, once.
//! [`plan`] lays the photographs of a picture on one plan, [`joins`] says which sightings may be one
//! mark, [`group`] puts them together with what a person said, [`together`](mod@together) reads them as one
//! [`once`](mod@once) leaves lettering that two marks share with one of them, and [`bears`] says of each
//! whether it bears anything at all.

pub mod bears;
pub mod group;
pub mod joins;
pub mod once;
pub mod plan;
pub mod together;
