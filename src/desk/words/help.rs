//! What each page is for, in a few sentences.

pub const HELP: &str = "Help";
pub const ABOUT_PICTURES: &[&str] = &[
    "All pictures, each with how much of its back is settled. A picture's page shows its photographs with every mark; a mark is opened by its number. There you also note what the object shows beside its lettering, and mend outlines.",
    "The note says what is known of a picture, from which mark, and how surely. Nothing doubtful stands in it as certain.",
];
pub const ABOUT_FIND: &[&str] = &[
    "Type a name, a number or words of a label as you remember them. Letters may be wrong or missing: where no mark bears the words whole, those that come near are shown.",
    "Without words all marks are listed; kind, firm, doubt, sale room and year narrow them.",
];
pub const ABOUT_SETTLE: &[&str] = &[
    "One question at a time, the most worthwhile first. The bold button says what it records; the figures beside the answers are their keys. Nothing but the answer is recorded, and z takes it back.",
    "None of the answers may be right: 0 says so, r lets you type what stands there, x says that it can't be read, o leaves it for later.",
];
pub const ABOUT_BRING: &[&str] = &[
    "Photographs are read where they lie, or copied unaltered beside the store when you drop them here. Reading goes on while you do something else; it can be stopped and goes on where it stopped.",
];
pub const ABOUT_ASK: &[&str] = &[
    "Doubtful marks become one file that you send by e-mail. Whoever gets it reads the marks without this program; their answers stand beside yours and never replace them.",
];
pub const ABOUT_SECOND: &[&str] = &[
    "A second person reads without seeing the first reading. Where both agree nothing more is asked; where they differ the mark comes back with both.",
];
