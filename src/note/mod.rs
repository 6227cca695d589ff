//! From decided and proposed readings to a provenance note.

mod place;

pub use place::place;
