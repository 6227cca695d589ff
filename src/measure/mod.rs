//! Measures: how much of the lettering is read, how often the right entry comes first, and
//! whether the chances keep their promise.
//!
//! [`text`] counts wrong letters and words, [`chances`] holds chances against outcomes,
//! [`binarised`] holds black and white pictures against the ink that is truly there,
//! [`corrections`] says what was learnt from a person's readings, [`evaluate`] runs the program over a folder with known truth, [`report`] draws what came out.

mod answers;
pub mod binarised;
pub mod chances;
pub mod corrections;
pub mod evaluate;
pub mod report;
pub mod text;
