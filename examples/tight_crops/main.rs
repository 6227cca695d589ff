//! Pictures that are one label or one line from edge to edge, as people cut them out and send them: made, read as
//! `dorso read` does, and measured.
//!
//! * `tight_crops cut PHOTOS OUT`: labels and lines cut from made photographs (`make_samples --bands`) by their true
//!   outlines: `NAME-MARK-edge.png`, `-inside`, `-outside`, `-line`, each with its text.
//! * `tight_crops catalogue FACES OUT SEED COUNT`: catalogue lines set in the TrueType faces of a folder.
//! * `tight_crops score FOLDER [--show]`: such lines as the program reads them: what goes wrong, by kind.
//! * `tight_crops measure FOLDER [--vary] [--show] [--alone]`: pictures with a `.txt` beside each: character errors
//!   and words by group (the last part of the name) of the program, of the whole picture taken as one mark, and of
//!   the line network alone; `--vary`: also twice and three times as large, and as JPEG of quality 60; `--alone`:
//!   the network only.
//! * `tight_crops photographs PHOTOS`: the same labels, read on the whole photographs.
//! * `tight_crops gaps FOLDER [--show]`: strips between lines that are read as the text beside the photograph has
//!   them one after the other: how many of them give a letter.
//!
//! `cargo run --release --example tight_crops -- cut PHOTOS OUT`

mod catalogue;
mod cut;
mod gaps;
mod measure;
#[path = "../truth/mod.rs"]
mod truth;

/// What went wrong, in words.
type Fallible<T> = Result<T, Box<dyn std::error::Error>>;

fn main() -> Fallible<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = args.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["cut", photos, out] => cut::all(photos.as_ref(), out.as_ref()),
        ["catalogue", faces, out, seed, count] => {
            catalogue::make(faces.as_ref(), out.as_ref(), seed.parse()?, count.parse()?)
        }
        ["score", folder, flags @ ..] => {
            catalogue::score(folder.as_ref(), flags.contains(&"--show"))
        }
        ["measure", folder, flags @ ..] => measure::folder(folder.as_ref(), flags),
        ["photographs", photos] => measure::photographs(photos.as_ref()),
        ["gaps", folder, flags @ ..] => gaps::folder(folder.as_ref(), flags.contains(&"--show")),
        _ => Err(
            "name what to do (cut, catalogue, score, measure, photographs or gaps) and its folders"
                .into(),
        ),
    }
}
