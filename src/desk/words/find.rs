//! Words of finding, and of what is seen on the object.

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
