//! From decided and proposed readings to a provenance note.
