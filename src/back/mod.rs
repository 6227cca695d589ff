//! One back: what several photographs of a picture show of the same mark.
//!
//! Picture, mark, sighting, reading: a sighting is what one photograph shows of a mark; a mark belongs
//! to the picture. [`plan`] lays the photographs of a picture on one plan.

pub mod plan;
