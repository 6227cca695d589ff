//! The back as one thing: its photographs on one plan, and which of what they show is one mark.
//!
//! A *sighting* is what one photograph shows of a mark. A *mark* belongs to the picture: it is what is
//! asked, weighed, settled, dated, told and exported, once.

pub mod group;
pub mod joins;
pub mod plan;
pub mod together;
