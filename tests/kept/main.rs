//! The store and all that is told from it: evidence, note, exports, commands.

#[path = "../backs/mod.rs"]
mod backs;
#[path = "../shown/mod.rs"]
mod shown;
#[path = "../support/mod.rs"]
mod support;

mod batch;
mod beside;
mod copies;
mod errors;
mod evidence;
mod exports;
mod faults;
mod guarded;
mod hostile;
mod killed;
mod learn;
mod made_of;
mod note;
mod one_back;
mod places;
mod search;
mod settle;
mod store;
