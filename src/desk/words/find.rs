//! Words of finding, of marks side by side, and of what is seen on the object.

use super::phrases::{count, list_title};
use crate::decisions::{DoubtKind, Likeness};
use crate::gazetteer::Entry;

// Finding.
pub const FIND_TITLE: &str = "Find marks, pictures and entries";
pub const FIND_WORDS: &str = "Words, a name or a number";
pub const FIND_HOW: &str = "Sought in all readings, statements, names of pictures, provenance and lists; where nothing bears the words, marks with damaged ones are shown.";
pub const ANY: &str = "any";
pub const FIRM: &str = "Firm";
pub const IN_DOUBT: &str = "In doubt";
pub const SALE_ROOM: &str = "Sale room";
pub const YEAR_FIELD: &str = "Year (1880, c. 1880, 1850-60)";
pub const ALL_OF_THEM: &str = "All marks";
pub const IN_LISTS: &str = "On your lists";
pub const FOUND_DAMAGED: &str = "No mark bears these words whole; these come near.";
pub const MORE_MARKS: &str = "More marks";
pub const K_FIND: &str = "find";

// What is seen on the object.
pub const SEEN: &str = "Seen on the object";
pub const NOT_BOTH: &str = "Can't be together";
pub const NOTHING_SEEN: &str = "Nobody has noted yet what the object shows beside its lettering.";
pub const SEE_MORE: &str = "Note what you see, or its size";
pub const SEE_HOW: &str =
    "Look without opening, lifting or peeling anything; ask a conservator for more.";
pub const SEEN_WHAT: &str = "What you see";
pub const KEEP_SEEN: &str = "Keep it";
pub const SEEN_HEIGHT: &str = "Height of the support";
pub const SEEN_WIDTH: &str = "Width";
pub const SEEN_UNIT: &str = "In";
pub const KEEP_SIZE: &str = "Keep the size";
pub const SEEN_SIZE: &str = "size of the support";
pub const NO_SIZE: &str = "this is no size that a picture has";
pub const GIVE_SIZE: &str = "give height and width as numbers, such as 30 and 25 in inches";

// Two marks side by side.
pub const SIDE_BY_SIDE: &str = "Side by side";
pub const COMPARE_CHOSEN: &str = "Set the two chosen side by side";
pub const COMPARE_THIS: &str = "side by side";
pub const NOT_TWO_CHOSEN: &str = "two marks are to be chosen";
pub const CHOOSE_TWO_MARKS: &str = "go back and choose two";
pub const LAID_OVER: &str = "One over the other";
pub const BLINK: &str = "Blink";
pub const FADE: &str = "From the first to the second";
pub const LAID_HOW: &str =
    "The second lies on the first where their strokes agree. Blink, or fade from one to the other.";
pub const NOT_LAID: &str = "the two share no strokes by which they could be laid on each other";
pub const LOOK_SIDE_BY_SIDE: &str = "look at them side by side";
pub const LIKENED_ASK: &str = "Are they the same label?";
pub const COMPARE_KEYS: &[(&str, &str)] = &[
    ("b", "blink"),
    ("1", "the same label"),
    ("2", "the same firm, another label"),
    ("3", "not the same"),
];

pub fn marks_found(n: usize) -> String {
    match n {
        0 => "No mark".into(),
        n => count(n, "mark"),
    }
}

pub fn no_year(text: &str) -> String {
    format!(
        "“{text}” is not understood as a year; write 1880, c. 1880, 1850-60, before 1880 or 1870s. All years are shown."
    )
}

/// What a row of a list says besides the name.
pub fn entry_words(e: &Entry) -> String {
    format!("{} ({})", e.facts(), list_title(&e.list))
}

/// A sort of doubt.
pub fn doubt(kind: DoubtKind) -> &'static str {
    match kind {
        DoubtKind::Unread => "not read",
        DoubtKind::Unclear => "how it reads",
        DoubtKind::Rivals => "which of several names",
        DoubtKind::Unsure => "whether it names what is proposed",
        DoubtKind::Kind => "what kind of mark it is",
        DoubtKind::Missing => "not found again",
        DoubtKind::Differs => "read or taken differently",
        DoubtKind::Conflict => "doesn't fit the rest",
        DoubtKind::Same => "one mark or two",
        DoubtKind::Place => "whether anything stands there",
    }
}

pub fn likeness(how: Likeness) -> &'static str {
    match how {
        Likeness::Same => "The same label",
        Likeness::Firm => "The same firm, another label",
        Likeness::Other => "Not the same",
    }
}

pub fn compare_title(a: &str, b: &str) -> String {
    format!("{a} and {b} side by side")
}

pub fn choose_mark(mark: &str) -> String {
    format!("Choose mark {mark} to set it beside another")
}

// A sheet to print.
pub const SHEET: &str = "Sheet of marks to print";

pub fn sheet_title(picture: &str) -> String {
    format!("{picture}: marks on its back")
}
