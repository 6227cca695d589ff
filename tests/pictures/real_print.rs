//! Real scanned print and typewriting, truth typed by hand (`tests/real/README.md` names the sources).

use dorso::geometry::Rect;
use dorso::marks::{self, Mark, MarkKind};
use dorso::measure::text::{self, Edits};
use dorso::{photograph, readings};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Most character errors by page: measured, with a little room.
const MOST: [(&str, f64); 3] = [("page", 0.03), ("typewriting", 0.015), ("book-1880s", 0.04)];

fn place(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/real")
        .join(name)
}

fn read(name: &str) -> String {
    let photo = photograph::open(&place(&format!("{name}.png"))).unwrap();
    let (w, h) = photo.picture.dimensions();
    let mark = Mark {
        kind: MarkKind::Unknown,
        outline: Rect::new(0, 0, w, h).quad(),
        lettering: 1.0,
        bearing: None,
        kind_chance: 1.0,
    };
    let recognisers = readings::recognisers().unwrap();
    let flat = marks::flatten(&photo.picture, &mark);
    let (reading, _) = readings::read(&flat, &recognisers).unwrap();
    let lines: Vec<String> = reading.lines.into_iter().map(|l| l.text).collect();
    lines.join("\n")
}

/// What the plain `tesseract` program reads.
fn plain(name: &str) -> String {
    let out = Command::new("tesseract")
        .arg(place(&format!("{name}.png")))
        .args(["stdout"])
        .env("OMP_THREAD_LIMIT", "1")
        .output()
        .expect("the program tesseract (Debian: tesseract-ocr) is needed for the comparison");
    String::from_utf8_lossy(&out.stdout).into_owned()
}

#[test]
fn real_print_and_typewriting_are_read_within_the_bounds_and_no_worse_than_by_plain_tesseract() {
    let none = Edits::default();
    let (mut ours, mut theirs) = (none, none);
    for (name, most) in MOST {
        let truth = std::fs::read_to_string(place(&format!("{name}.txt"))).unwrap();
        let edits = text::characters(&truth, &read(name));
        assert!(
            edits.rate() <= most,
            "{name}: {:.4} of the characters are wrong, {most} are allowed",
            edits.rate()
        );
        ours = ours.plus(edits);
        theirs = theirs.plus(text::characters(&truth, &plain(name)));
    }
    assert!(
        ours.rate() <= theirs.rate() + 0.005,
        "ours {:.4}, plain {:.4}",
        ours.rate(),
        theirs.rate()
    );
}
