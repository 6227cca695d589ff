//! Words of the note's page.

pub const PRINT: &str = "Print";
pub const LENGTHS: &str = "How long";
pub const LENGTH_WORDS: [&str; 3] = ["Label", "Catalogue entry", "File note"];
pub const LANGUAGES: &str = "Language of the note";
pub const COPY: &str = "Copy";
pub const COPY_NOTE: &str = "Copy this note";
pub const SAVE_AS: [(&str, &str); 4] = [
    ("md", "Save as Markdown"),
    ("html", "Save as HTML"),
    ("pdf", "Save as PDF"),
    ("docx", "Save as Word document"),
];
pub const PUT_OTHERWISE: &str = "Put it otherwise";
pub const YOUR_WORDS: &str = "Your words, printed as yours";
pub const KEEP_WORDS: &str = "Keep my words";
pub const TAKE_BACK: &str = "Take this wording back";
pub const WROTE_THEN: &str = "The program wrote then:";
pub const WOULD_WRITE: &str = "It would write now:";
pub const WORDING: &str = "this wording";
pub const NO_WORDING: &str = "there is no such wording";
pub const WORDED_MEANWHILE: &str = "somebody put this passage otherwise meanwhile";
pub const LOOK_AGAIN: &str = "load the note again and look at theirs first";
pub const NO_SUCH_NOTE: &str = "there is no note of this length, language or form";
pub const FILE_IN_ENGLISH: &str = "the note for the file is written in English only";
pub const OTHER_LENGTH: &str = "take the catalogue entry or the label";

// What is known beside the back.
pub const NEW_EVENT: &str = "Add an owner, sale or exhibition";
pub const ADD_EVENT: &str = "Add it to the provenance";
pub const EVENT_DEED: &str = "What befell it";
/// In the order of `Deed::ALL`.
pub const DEED_WORDS: [&str; 11] = [
    "owned by",
    "purchased by",
    "inherited by",
    "given to",
    "bequeathed to",
    "sold by auction through",
    "consigned to",
    "with a dealer",
    "exhibited at",
    "confiscated by",
    "restituted to",
];
/// Name of the field, words, whether it must be filled in.
pub const EVENT_FIELDS: [(&str, &str, bool); 4] = [
    ("who", "Who or where", true),
    ("place", "Town", false),
    ("when", "Date (1932, 1932-05-14, 1888/1895, 193X)", false),
    ("source", "How it is known", true),
];
pub const EVENT_HELD: &str = "How surely";
pub const HELD_DOCUMENTED: &str = "documented";
pub const HELD_PROBABLY: &str = "probably";
pub const HELD_POSSIBLY: &str = "possibly";
pub const EVENT_DIRECT: &str = "It is shown that it passed directly to the next";
pub const NEW_TEXT: &str = "Paste a provenance that is written down already";
pub const TEXT_OF_PROVENANCE: &str = "Text of provenance, as the catalogue or file has it";
pub const TEXT_SOURCE: &str = "What it is taken from";
pub const LOOK_AT_TEXT: &str = "Show how it is understood";
pub const KEEP_TEXT: &str = "Keep this text";
pub const LEAVE_TEXT: &str = "Back to the note, keeping nothing";
pub const PASTE_TEXT: &str = "paste the lines of provenance";
pub const ONE_PICTURE: &str = "give the lines of one picture alone";
pub const NO_SOURCE: &str = "it isn't said what it is taken from";
pub const GIVE_SOURCE: &str = "go back and give the catalogue, the file or the person";
pub const HOW_UNDERSTOOD: &str = "The text and how it is understood";
pub const AS_IT_STANDS: &str = "As it stands";
pub const AS_UNDERSTOOD: &str = "As understood";

pub fn copy_part(title: &str) -> String {
    format!("Copy: {title}")
}

pub fn put_otherwise(passage: &str) -> String {
    format!("{PUT_OTHERWISE}: {passage}")
}

pub fn wording_by(by: &str, day: &str, number: &str) -> String {
    format!("Wording by {by}, {day} ({number})")
}

pub fn text_of(picture: &str) -> String {
    format!("{picture}: a provenance as it is understood")
}

pub fn text_taken_apart(links: usize, left: usize) -> String {
    let s = if links == 1 { "" } else { "s" };
    format!("{links} link{s}, {left} left as text. Nothing is kept yet.")
}
