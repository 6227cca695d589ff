//! Leiden signs, parsed and printed.
//!
//! Source: Leiden conventions 1931; Krummrey and Panciera 1980; EpiDoc guidelines (from memory).
