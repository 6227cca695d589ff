//! All words of the desk that a person sees, in one place. Phrases with something to fill in are
//! functions in [`phrases`].

mod find;
mod help;
mod note;
mod phrases;
mod take;

pub use find::*;
pub use help::*;
pub use note::*;
pub use phrases::*;
pub use take::*;

// The way through the desk.
pub const WAY: &str = "Parts of the desk";
pub const TO_CONTENT: &str = "To the content";
pub const PICTURES: &str = "Pictures";
pub const SETTLE: &str = "Settle";
pub const BRING: &str = "Bring photographs";
pub const ASK_SOMEONE: &str = "Ask someone";
pub const SECOND: &str = "Second reading";
pub const DECIDING_AS: &str = "Deciding as";
pub const KEYS_OF_PAGE: &str = "Keys of this page";
pub const NUMBERS_ON: &str = "Show chances as numbers";
pub const KEYS_ON: &str = "Single keys work";
pub const KEYS_WHY: &str =
    "Switch them off if you speak your input or type by accident; everything has a button too.";
pub const CLOSE: &str = "Close";
pub const GO_BACK: &str = "go back and choose again";
pub const BACK_TO_PICTURES: &str = "To the pictures";

// Why something isn't done.
pub const NOT_DONE: &str = "This was not done";
pub const NOT_KEPT: &str = "Somebody decided meanwhile";
pub const THIS_ADDRESS: &str = "this address";
pub const NOTHING_HERE: &str = "there is nothing here";
pub const NOT_SHOWN: &str = "The desk can't be shown here";
pub const NOT_SHOWN_HOW: &str = "The address stands in the window in which the desk was started, with the key at its end. Nothing was changed, and what was decided before is kept.";
pub const TOO_OFTEN: &str = "Too many requests at once; wait a moment and load the page again.";
pub const WRONG_HOST: &str =
    "The desk isn't served under this name; use the address that it printed when it was started.";
pub const OTHER_SITE: &str =
    "This request comes from another page; open the desk by the address that it printed.";
pub const OTHER_METHOD: &str = "The desk isn't asked in this way; load its page.";
pub const NO_KEY: &str =
    "The key is missing; open the desk by the whole address that it printed when it was started.";
pub const TOO_LARGE: &str = "This is too large to be taken in here; name its folder instead.";
pub const TOO_SLOW: &str = "This didn't arrive in time; load the page and send it again.";
pub const LINK_USED: &str = "This link was used or is too old; open the desk by the whole address that it printed when it was started.";
pub const LINK_TWICE: &str = "This link was used before, maybe by somebody else, so the desk has a new key; open it by the address that it prints now.";
pub const LINK_TWICE_TOLD: &str = "the link that opened the browser was used twice, maybe by somebody else, so there is a new key; open";
pub const OLD_TOKEN: &str =
    "The desk was started anew since this page was loaded; load the page again.";
pub const BROKE: &str =
    "The desk failed at this; what was kept before is unharmed. Load the page again.";
pub const EMPTY: &str = "it is empty";
pub const NOBODY_NAMED: &str = "nobody is named";
pub const NAME_SOMEBODY: &str = "give a name";
pub const NO_KIND: &str = "there is no such kind of mark";
pub const NO_PART: &str = "no part of the object is chosen";
pub const SAME_PART: &str = "both parts are the same";
pub const CHOOSE_PART: &str = "choose another part, or leave the second open";
pub const NO_DEED: &str = "it doesn't say what is to be recorded";
pub const NO_DAY: &str = "this is no day to come";
pub const GIVE_DAY: &str = "give a day after today";
pub const NOTHING_CHOSEN: &str = "none of them is chosen";
pub const CHOOSE_ONE: &str = "choose one, or say that it names none of them";
pub const NO_DECISION: &str = "there is no such decision";
pub const TEXT_TOO_LONG: &str = "it is too long";
pub const SHORTEN: &str = "type only what stands on the mark";
pub const TEXT_EMPTY: &str = "there is nothing to read in it";
pub const TYPE_SOMETHING: &str = "type what stands on the mark, or say that it can't be read";

// Pictures.
pub const SETTLE_FIRST: &str = "Settle the most worthwhile first";
pub const BESIDE_ON: &str = "What is proposed for a mark is weighed beside the dates and towns of its picture and your decisions on other pictures.";
pub const BESIDE_OFF: &str = "What is proposed for a mark is weighed by its lettering alone.";
pub const BESIDE_STOP: &str = "Weigh by the lettering alone";
pub const BESIDE_GO: &str = "Weigh beside the rest";
pub const NOTHING_DUE: &str = "Nothing needs you just now.";
pub const NO_PICTURES: &str = "No photographs were read yet.";
pub const FIND_PICTURE: &str = "Name of a picture";
pub const FIND: &str = "Find";
pub const NO_SUCH_PICTURE: &str = "No picture has such a name.";
pub const MORE_PICTURES: &str = "More pictures";
pub const EARLIER: &str = "Those before";
pub const LATER_ONES: &str = "Those after";
pub const NOTE: &str = "Note";

// One picture.
pub const PHOTOGRAPHS: &str = "Photographs";
pub const NO_MARKS: &str = "No mark was found on this photograph.";
pub const ZOOM: &str = "Nearer and farther";
pub const NEARER: &str = "Nearer";
pub const FARTHER: &str = "Farther";
pub const WHOLE: &str = "All of it";
pub const LINES_MEAN: &str = "What the lines mean";
pub const IS_SETTLED: &str = "settled by a person";
pub const IS_CLEAR: &str = "nothing in doubt";
pub const IS_DUE: &str = "needs you";
pub const IS_WAITING: &str = "waits";
pub const IS_LATER: &str = "put off until everything else is done";
pub const IS_NONE: &str = "no mark";
pub const VIEWER_KEYS: &[(&str, &str)] = &[
    ("+", "nearer"),
    ("-", "farther"),
    ("0", "all of it"),
    ("arrows", "move the photograph, once it has the focus"),
    ("a", "add a mark"),
    ("m", "mend the outline of the chosen mark"),
    ("r", "turn the chosen mark by a quarter"),
];

// Drawing.
pub const DRAW: &str = "Add and mend marks";
pub const DRAW_HOW: &str = "Choose a mark by its number, or add one. Drag its four corners, or move a corner with the arrow keys (with Shift, farther). Corner 1 is where reading begins. What lies within is read again; other marks stay as they are.";
pub const ADD_MARK: &str = "Add a mark";
pub const MEND: &str = "Mend its outline";
pub const TURN: &str = "Turn by a quarter";
pub const MARK_CHOSEN: &str = "Mark";
pub const NEW_MARK: &str = "new";
pub const KIND: &str = "Kind";
pub const CORNERS: &str = "Corners, px of the photograph";
pub const CORNER: [&str; 4] = [
    "1 upper left",
    "2 upper right",
    "3 lower right",
    "4 lower left",
];
pub const CORNER_MISSING: &str = "a corner has no place";
pub const NO_OUTLINE: &str = "the corners make no outline that could hold lettering";
pub const DRAW_AGAIN: &str = "move the corners apart, in their order, then save again";
pub const READ_AGAIN: &str = "Save the outline and read within";
pub const PART: &str = "Part mark";
pub const PART_ROWS: &str = "into upper and lower";
pub const PART_COLUMNS: &str = "into left and right";
pub const PART_DO: &str = "Part it";
pub const JOIN: &str = "Join mark";
pub const JOIN_WITH: &str = "with mark";
pub const JOIN_DO: &str = "Join them";
pub const NOT_TWO: &str = "these aren't two marks of one photograph";
pub const CHOOSE_TWO: &str = "give the numbers of two marks of the same photograph";

// Settling.
pub const QUEUE: &str = "Queue";
pub const PREVIOUS: &str = "Previous";
pub const NEXT: &str = "Next";
pub const THE_MARK: &str = "The mark";
pub const VARIANTS: &str = "Ways to see it";
pub const VARIANT: [&str; 9] = [
    "As photographed",
    "Light evened",
    "Contrast raised",
    "Black and white",
    "Inverted",
    "Grey",
    "Red only",
    "Green only",
    "Blue only",
];
pub const NEXT_VARIANT: &str = "the next way";
pub const LIGHTS: &str = "The same mark in other photographs";
pub const OTHER_LIGHT: &str = "Other light";
pub const LIGHT: &str = "Light";
pub const NOT_SEEN_THERE: &str = "the mark isn't recognised there";
pub const LOUPE: &str = "Loupe";
pub const LOUPE_WORDS: &str = "Loupe; move it with the arrow keys";
pub const ALSO_IN_DOUBT: &str = "Also in doubt";
pub const WHY: &str = "Why it needs you";
pub const READING: &str = "Reading";
pub const NOTHING_READ: &str = "Nothing could be read by the program.";
pub const READ_ELSEWHERE: &str =
    "Read here too, but more surely in another mark of the photograph:";
pub const LINE_AS_A_WHOLE: &str = "Chance that the line is right as a whole";
pub const HOW_WRITTEN: &str = "How the line is probably written";
pub const A_LOST_LETTER: &str = "a lost letter";
pub const OR: &str = "or";
pub const NO_LETTER: &str = "–";
pub const NOT_READ: &str = "(not read)";
pub const OTHERS_READ: &str = "Read by others";
pub const BLIND: &str = "(without having seen this reading)";
pub const COULDNT_READ: &str = "couldn't read it";
pub const TYPE: &str = "Type the reading";
pub const TEXT: &str = "What stands on the mark, a line for each line";
pub const TEXT_HOW: &str = "ạ a letter that is unclear (the sign stands behind it) · [..] so many letters lost · [---] lost, who knows how many · [abc] supplied by you, not on the object";
pub const SIGNS: &str = "Signs";
/// What is put in, its key, and what the button shows.
pub const SIGN_KEYS: [(&str, &str, &str); 5] = [
    ("\u{323}", "F2", "ạ unclear"),
    ("[.]", "F4", "[.] lost"),
    ("[---]", "F8", "[---] lost, unknown"),
    ("[|]", "F9", "[abc] supplied"),
    ("[/]", "F10", "[R/K] either"),
];
pub const STANDS_AS: &str = "Read by a person:";
pub const STANDS_UNREADABLE: &str = "A person can't read it.";
pub const BY_PROGRAM: &str = "The program reads:";
pub const WHY_SO: &str = "Why";
pub const LINE_UP: &str = "Line up";
pub const LINE_DOWN: &str = "Line down";
pub const SAVE_READING: &str = "Save this reading";
pub const FITS: &str = "What is typed would fit:";
pub const NOTHING_FITS: &str = "No entry of your lists fits what is typed so far.";
pub const TAKE_FIT: &str = "Take the chosen entry";
pub const PROPOSALS: &str = "What it may name";
pub const TAKE_ONE: &str = "Take one with this camera";
pub const LET_PHONE_IN: &str = "Take them with a phone";
pub const PHONE_TITLE: &str = "A phone";
pub const NO_PHONE: &str = "No phone is let in. End the desk and start it with: dorso desk --phone";
pub const HOLD_PHONE: &str = "Hold the phone's camera to this code. The phone has to be on the same network as this machine.";
pub const QR_WORDS: &str = "QR code with the address that stands below it";
pub const PHONE_BY_HAND: &str = "Or type:";
pub const PHONE_WARNS: &str = "The phone warns that it doesn't know this desk's certificate: look it up there, hold it against the fingerprint below, and go on only if they are the same.";
pub const FINGERPRINT: &str = "Fingerprint of the certificate (SHA-256):";
pub const PHONE_KEY: &str = "The code holds until the desk is ended. Whoever has it may look at everything here and decide.";
pub const LETTERS_SEEN: &str = "Letters of the monogram, whatever their order";
pub const OTHER_LETTERS: &str = "others, or none";
pub const LETTERS_IDENTIFY_NOBODY: &str =
    "Letters alone identify nobody: compare the sign with dated, documented ones.";
pub const NOT_LOOKED_AT: &str = "Its photograph isn't where it was, so its letters can't be looked at. Bring it again, then set the kind once more.";
pub const ALIKE: &str = "Others like it";
pub const SAME_DESIGN: &str = "the first is the same design:";
pub const THIS_ONE: &str = "This one";
pub const NO_PROPOSALS: &str = "No entry of your lists is likely.";
pub const NAMES_NONE: &str = "names none of them, by decision of a person";
pub const NO_YEARS: &str = "years not known";
pub const DEEDS: &str = "Decide";
pub const TAKE: &str = "Accept the chosen one";
/// Before the name of what is accepted.
pub const ACCEPT: &str = "Accept: ";
pub const ACCEPT_READING: &str = "Accept the reading";
pub const NOT_ASKED: &str = "Also named, and not in doubt";
pub const ASK_READING: &str = "Does it read so?";
pub const ASK_DIFFERS: &str = "Which reading is right?";
pub const ASK_KIND: &str = "What kind of mark is it?";
pub const ASK_CONFLICT: &str = "These don't fit together. Is it read as it stands there?";
pub const STANDS: &str = "I looked: it stands so, and stays as it is";
pub const THE_PROGRAM: &str = "the program";
pub const ANSWERS: &str = "Answers";
pub const ASK_UNREAD: &str = "What does it read?";
pub const NOTHING_STANDS: &str = "Nothing stands here";
pub const PLACES_WITH: &str = "The other places like it";
pub const PLACES_HOW: &str =
    "Your answer is about all of them. If something stands at one, open it.";
pub const CANT_BE_READ: &str = "Can't be read";
pub const PUT_OFF: &str = "Put off";
pub const NO_MARK: &str = "No mark";
pub const READ_TWICE: &str = "Have it read twice";
pub const LETTERS: &str = "The letter chosen";
pub const UNCLEAR: &str = "Letter unclear";
pub const LOST: &str = "Letter lost";
pub const WHOM: &str = "Who is asked";
pub const ASK_DO: &str = "Record that they are asked";
pub const MORE: &str = "Reason, day, kind, place";
pub const REASON: &str = "Reason (kept with the decision)";
pub const UNTIL: &str = "Put off until";
pub const PUT_OFF_UNTIL: &str = "Put off until then";
pub const SET_KIND: &str = "Set the kind";
pub const BEARER: &str = "It is on the";
pub const BRIDGING: &str = "and runs over the";
pub const SET_BEARER: &str = "Set the place";
pub const NOT_SAID: &str = "(not said)";
pub const DECISIONS: &str = "Decisions";
pub const NOTHING_DECIDED: &str = "Nothing was decided yet.";
pub const UNDONE: &str = "undone";
pub const BECAUSE: &str = "Because:";
pub const UNDO: &str = "Undo";
pub const THERE_ALREADY: &str = "Recorded since you looked";
pub const YOURS: &str = "What you were about to record";
pub const LEAVE_IT: &str = "Leave it as it is";
pub const KEEP_MINE: &str = "Record mine as well; it counts from now on";
pub const LOOK_KEYS: &[(&str, &str)] = &[
    ("v", "next way to see it"),
    ("b", "back to the picture before, and again"),
    ("y", "one mark, where that is asked"),
    ("d", "two marks, where that is asked"),
    ("g", "other light: the same mark in other photographs"),
    ("m", "loupe"),
];
pub const K_HELP: &str = "these keys";
pub const K_NUMBERS: &str = "chances as numbers, or in words again";
pub const K_ESCAPE: &str = "leave a field, close what is open";
pub const K_UNDO: &str = "undo what was decided last";
pub const SETTLE_KEYS: &[(&str, &str)] = &[
    ("t or ⏎", "give the answer that the button says"),
    ("1 to 9", "give that answer to the question"),
    (
        "0",
        "none of them: it names nothing on the list that is asked about",
    ),
    ("n", "next mark"),
    ("p", "previous mark"),
    ("r", "type the reading"),
    ("← →", "go from letter to letter"),
    ("↑ ↓", "other sign for this letter"),
    ("u", "this letter is unclear"),
    ("l", "this letter is lost"),
    ("s", "save the reading as it stands"),
    ("x", "can't be read"),
    ("a", "ask someone"),
    ("o", "put off"),
    ("k", "it is no mark"),
    ("w", "have it read twice"),
    ("f", "say what some of its words are"),
    ("e", "add an entry to a list"),
    ("z", K_UNDO),
    ("v", "next way to see it"),
    ("g", "other light: the same mark in other photographs"),
    ("m", "loupe"),
    ("F2 F4 F8 F9 F10", "signs, while typing"),
    (
        "Alt v, Alt g, Alt m",
        "way to see it, other light, loupe, while typing",
    ),
    ("Ctrl Enter", "save, while typing"),
];

// A row for a list.
pub const NEW_ENTRY: &str = "It names something that is on no list yet";
pub const NAME: &str = "Name";
pub const NO_SUCH_ENTRY: &str = "Your lists have no such entry any more.";
pub const TRADE: &str = "Trade";
pub const PREMISES: &str = "Premises";
pub const TOWN: &str = "Town";
pub const FIRST_YEAR: &str = "First year";
pub const LAST_YEAR: &str = "Last year";
pub const ANYTHING_ELSE: &str = "Anything else";
pub const OTHER_FORMS: &str = "Other forms";
pub const NAMED_BY: &str = "Pictures that name it";
pub const NAMED_BY_NONE: &str = "None yet, by a person's decision.";
pub const SOURCE: &str = "Source";
/// Field, label, whether it must be filled.
pub const ENTRY_FIELDS: [(&str, &str, bool); 9] = [
    ("list", "List", true),
    ("name", NAME, true),
    ("trade", TRADE, false),
    ("address", PREMISES, false),
    ("town", TOWN, false),
    ("from", "First year there (1868, c. 1868, 1870s)", false),
    ("to", "Last year there", false),
    ("source", "Source (\"from memory\" if from there)", true),
    ("note", ANYTHING_ELSE, false),
];
pub const NO_YEAR: &str = "this is not understood as a year";
pub const GIVE_YEAR: &str = "write it as 1868, c. 1868, 1868-75, 1870s or before 1880";
pub const ADD_ENTRY: &str = "Add it to the list and take it";
pub const LISTS: &str = "lists";
pub const NO_OWN_LISTS: &str =
    "you have no lists of your own yet, and those in the program can't be changed";
pub const START_LISTS: &str =
    "run dorso gazetteer start to get them as files, then start the desk again";
pub const NO_SUCH_LIST: &str = "there is no such list";
pub const SAY_NAME_AND_SOURCE: &str =
    "say the name, and where the facts come from (or \"from memory\")";

// The note.
pub const NOTE_SO_FAR: &str = "The note so far";
pub const WHOLE_NOTE: &str = "The whole note";
pub const COPIES: &str = "Is this label on another picture?";
pub const COPIES_HOW: &str = "These may be the same label. Compare them and type what you see; nothing is taken over by itself.";
pub const NO_COPIES: &str = "No mark of another picture seems to bear the same words.";
pub const THE_BACK: &str = "The back";
pub const DATES: &str = "Dates of the marks";
pub const CHART_HOW: &str = "Filled: decided by a person. Dashed outline: proposed by the program. A bar dates what the mark names, never the picture; one that runs to the edge has no known end.";
pub const MARK: &str = "Mark";
pub const NAMES: &str = "Names";
pub const YEARS: &str = "Years";
pub const RESTS_ON: &str = "Rests on";
pub const A_PERSON: &str = "a person";

// Bringing photographs.
pub const PICTURE_NAME: &str = "Name of the picture (may be left empty)";
pub const APART: &str = "each photograph is a picture of its own";
pub const DROP_HERE: &str = "Drop photographs here.";
pub const CHOOSE_FILES: &str = "Or choose them:";
pub const FOLDER: &str = "A folder of this machine";
pub const FOLDER_PATH: &str = "Its path";
pub const READ_FOLDER: &str = "Read its photographs";
pub const NAME_FOLDER: &str = "give the path of a folder with photographs";
pub const NO_SUCH_FILE: &str = "there is no such folder or file";
pub const NO_PICTURE: &str = "this is no picture that can be read";
pub const DROP_PICTURES: &str = "drop JPEG, PNG, TIFF, WebP or HEIC files";
pub const TOO_MANY: &str = "there are too many to wait at once";
pub const BRING_FEWER: &str = "bring fewer at a time";
pub const PROGRESS: &str = "Reading";
pub const BRING_NOTHING: &str = "Nothing is being read.";
pub const BRING_STOPPING: &str = "Stops after this photograph.";
pub const STOP: &str = "Stop";
pub const GO_ON: &str = "Go on";

// Asking.
pub const WRITE_FILE: &str = "A file to send";
pub const FILE_HOW: &str = "Choose doubtful marks; you get one file to send by e-mail. It works without the desk and without a network, and holds only these marks.";
pub const WHICH_MARKS: &str = "Which marks";
pub const WRITE_DO: &str = "Write the file";
pub const NONE_OR_TOO_MANY: &str = "none is chosen, or too many are";
pub const CHOOSE_UP_TO: &str = "choose between 1 and 40";
pub const TAKE_ANSWERS: &str = "Their answers";
pub const ANSWERS_HOW: &str = "Answers are kept under the name of the one who gave them. They never take the place of a reading of yours: where they differ, the mark comes back to you with both.";
pub const ANSWERS_FILE: &str = "The file that came back";
pub const ANSWERS_TEXT: &str = "Or what stands in it";
pub const TAKE_IN: &str = "Take them in";
pub const MAILED_TITLE: &str = "Can you read these marks?";
pub const LARGER: &str = "Larger";
pub const BELIEVED: &str = "What is believed so far (read for yourself first)";
pub const MAILED_READING: &str = "What you read, a line for each line";
pub const MAILED_REMARK: &str = "Remark";
pub const MAILED_WHO: &str = "Your name";
pub const MAILED_WHO_FIRST: &str = "Please give your name first.";
pub const MAILED_DONE: &str = "Send your answers back";
pub const MAILED_HOW: &str =
    "Leave blank what you don't want to answer. Save the answers as a file and send that back.";
pub const MAILED_SAVE: &str = "Save my answers";
pub const MAILED_SAVED: &str = "Saved among your downloads.";
pub const MAILED_LEFT: &str = "answered";
pub const MAILED_COPY: &str = "If nothing is saved, copy this and send it";

// Second reading.
pub const SECOND_HOW: &str = "A second person reads marks without seeing the first reading. Where the two differ, the mark is queued with both.";
pub const SECOND_WHO: &str = "Who reads now";
pub const SECOND_START: &str = "Begin";
pub const NOT_ASKED_AGAIN: &str = "no second reading is asked for";
pub const SAME_READER: &str = "this person gave the first reading";
pub const LET_OTHER_READ: &str = "let somebody else read it";
pub const BLIND_CROP: &str = "The mark that is to be read";

/// Words of the scripts.
pub const SCRIPTS: &[(&str, &str)] = &[
    (
        "notSaved",
        "Not saved yet: the desk doesn't answer. It is kept in this browser and sent again until it does.",
    ),
    ("savedLate", "Saved now."),
    ("refused", "Not done: "),
    ("saving", "Saving…"),
    (
        "changed",
        "Somebody changed this mark meanwhile; load the page to see it.",
    ),
    ("copied", "Copied."),
    (
        "notCopied",
        "This browser lets no page copy: the text is chosen, copy it by hand.",
    ),
    ("letterUnclear", "unclear"),
    ("letterLost", "lost"),
    ("is", "is now"),
    ("shown", "shown"),
    ("corner", "Corner"),
    ("line", "Line"),
    (
        "notLaid",
        "The two share no strokes by which they could be laid on each other; the second is shown at the width of the first.",
    ),
    ("sending", "Sending"),
    ("looking", "Looking at it…"),
    (
        "nothingAsked",
        "That is all there; nearer to what is small, or the next picture.",
    ),
    ("wholeFirst", take::WHOLE_FIRST),
    ("lot", "Lot"),
    ("sent", "sent"),
    ("notTaken", "not taken:"),
    ("sentAgain", "is sent again: the connection was lost"),
    ("nothingToUndo", "Nothing to undo."),
    ("loupeOn", "Loupe on"),
    ("loupeOff", "Loupe off"),
    ("lightSought", "Looking for it in the other photographs…"),
    (
        "lightNone",
        "No other photograph of this picture shows this mark recognisably.",
    ),
    ("lightOff", "Other light off"),
];

/// What befell the picture.
pub const PROVENANCE: &str = "Provenance";

// Which photographs show one mark.
pub const SIGHTINGS_HOW: &str =
    "Choose one to see it large; the key changes between it and the one before.";
pub const ANOTHER_MARK: &str = "This shows another mark";
pub const SAME_OR_NOT: &str = "One mark or two";
pub const SAME_MARK: &str = "The same mark";
pub const ONE_MARK: &str = "One mark, as it stands";
pub const TWO_MARKS: &str = "Two marks";
pub const NO_SIGHTING: &str = "it doesn't say which photograph's";
pub const ALL_MARKS: &str = "Marks of the whole back";
pub const FROM_OTHERS: &str = "drawn from another photograph";
pub const UNPLACED: &str = "This photograph couldn't be placed on the plan of the back; its marks are read and told all the same.";
pub const STATES: &str = "What it states";

// What some words of a mark are.
pub const NOT_SO: &str = "Not so";
pub const SAYS: &str = "Say what some of its words are";
pub const SAYS_WORDS: &str = "Words, as they stand";
pub const SAYS_ROLE: &str = "What they are";
pub const SAYS_NOTHING: &str = "they state nothing";
pub const SAYS_VALUE: &str = "In plain form";
pub const SAYS_HOW: &str = "Only where it isn't those words: 1871, Thomas Wrenfield";
pub const SAYS_KEEP: &str = "Keep this";
pub fn said_by_you(decision: &str) -> String {
    format!("said by a person ({decision})")
}
pub fn not_so(role: &str, value: &str) -> String {
    format!("Not so: {role}, {value}")
}
