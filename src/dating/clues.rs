//! Dating clues from wording.
