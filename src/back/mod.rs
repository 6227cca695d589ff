//! The back as one thing: its photographs on one plan, and what several of them show of one mark.

pub mod once;
pub mod together;
