//! Texts, dates, lists and their weighing; the papers and the one way of the data.

mod clue_sources;
mod clues;
mod dated_labels;
mod docs;
mod fields;
mod fuzzed;
mod leiden;
mod lines;
mod lists;
mod measures;
mod monograms;
mod one_way;
mod open_lists;
mod places;
mod premises;
mod provenance;
mod string_measures;
mod weighing;
