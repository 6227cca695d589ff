//! What is kept: pictures, photographs, marks, readings, proposals, and what people decided.

mod doubts;

pub use doubts::{Doubt, DoubtKind, doubts, reasons, two, worth};
