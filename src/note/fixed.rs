//! What every note says: cautions and the key to the signs.

/// Cautions, a short heading and its sentences.
///
/// Common practice: Stoner and Rushfield (eds), *Conservation of Easel Paintings*, 2012; National
/// Trust, *Manual of Housekeeping*, 2006 (both from memory).
pub const CAUTIONS: [(&str, &str); 5] = [
    (
        "What this note is not",
        "It authenticates nothing, values nothing and clears no title. It tells what marks on the back say, who or what read them, and how likely the reading is to be right.",
    ),
    (
        "A mark dates the mark",
        "A label, stamp or inscription speaks of the part that bears it. Frames, stretchers and labels are moved from picture to picture, boards are used again, and old stock stayed in use for years.",
    ),
    (
        "Leave the back as it is",
        "Do not lift, wet, steam or peel a label, do not push a canvas from behind, and do not open a frame to read a mark. Ask an accredited conservator (in Britain, one on the register of the Institute of Conservation).",
    ),
    (
        "Hazards",
        "Old paint and putty may hold lead; green papers, boards and labels may hold arsenic; older treatments may have left arsenic or pesticide; old boards may hold asbestos. Mould and rodent dirt: wear an FFP2 or FFP3 mask and nitrile gloves, and do not brush. Mind rusty nails and brittle glass. Under a UV lamp wear glasses that block it and keep exposures short.",
    ),
    (
        "Law",
        "Local law on title, export and protected materials, and the advice of those licensed to give it, come before anything said here.",
    ),
];

/// Signs of the transcription and what they mean.
///
/// Leiden conventions of 1931, restated by Krummrey and Panciera 1980 (from memory).
pub const SIGNS: [(&str, &str); 8] = [
    ("Ạ", "an unclear letter: damaged, or read with doubt"),
    ("[..]", "letters lost, one point for each"),
    ("[---]", "letters lost, their number not known"),
    ("[abc]", "letters lost and supplied by the reader"),
    ("+++", "traces of ink, one sign for each letter, not read"),
    ("a(bc)", "an abbreviation filled out by the reader"),
    ("[R/K]", "one of these letters"),
    ("/", "a new line"),
];
