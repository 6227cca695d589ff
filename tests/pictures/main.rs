//! Everything from a photograph to its readings.

#[path = "../support/mod.rs"]
mod support;

mod arched;
mod bearing;
mod empty;
mod enhance;
mod enhance_choice;
mod enhance_pictures;
mod line_model;
mod monogram_seen;
mod own_reader;
mod photograph;
mod plan;
mod real_print;
mod rows;
mod samples;
mod taking;
#[cfg(feature = "tesseract")]
mod tesseract;
mod tight;
mod together;
