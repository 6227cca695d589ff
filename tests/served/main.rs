//! The desk, through its address and in a browser.

#[path = "../support/browser.rs"]
mod browser;
#[path = "../support/desk.rs"]
mod desk;
#[path = "../support/mod.rs"]
mod support;

mod asked;
mod desk_keys;
mod desk_pages;
mod guarded;
mod monogram;
mod one_question;
mod phone;
