//! Monograms and initials: who on the list of artists may be meant.
//!
//! In: letters as a person describes them ([`Described`], a small notation) or as a network sees them in a photograph
//! ([`network::see`]), the list of artists, and what else is known (years, a place, a nationality). Out: artists with their chances, "nobody on the
//! list" among them, how many fit, and which further fact would tell most. Nothing here identifies
//! anybody: two letters are shared by hundreds.

/// Name of the list that artists stand on.
pub const LIST: &str = "artists";

mod alike;
mod facts;
mod forms;
mod letters;
pub mod network;
mod notation;
mod seen;
mod who;

pub use alike::Alike;
pub use facts::{Fact, MostTelling};
pub use forms::{Initials, forms};
pub use letters::Letters;
pub use notation::{Described, Device, date};
pub use seen::{Seen, Set};
pub use who::{Artists, Known, Possible, UNLISTED, Who};
