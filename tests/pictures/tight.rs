//! A line cut out of its page from edge to edge, as people send it by message, is read as on the page.

use dorso::gazetteer::Gazetteer;
use dorso::geometry::Rect;
use dorso::measure::text::{self, Edits};
use dorso::photograph::{self, Photograph};
use dorso::proposals::Index;
use dorso::{readings, run};
use image::imageops;
use std::path::{Path, PathBuf};

/// What is cut with a line above and below it, shares of its height. With half of the next lines in the cut, what still
/// shows of them is read as well.
const ROOM: [f64; 1] = [0.08];

/// Most that the share of wrong characters may grow by.
const MORE: f64 = 0.02;

fn page(name: &str) -> (PathBuf, Vec<String>) {
    let place = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/real");
    let truth = std::fs::read_to_string(place.join(format!("{name}.txt"))).unwrap();
    let lines = truth.lines().map(text::normal).filter(|l| !l.is_empty());
    (place.join(format!("{name}.png")), lines.collect())
}

fn cut(photo: &Photograph, line: &Rect, room: f64) -> Photograph {
    let more = (room * f64::from(line.h)).round() as i32;
    let (w, h) = (photo.width() as i32, photo.height() as i32);
    let (l, t) = ((line.x - 3).max(0), (line.y - more).max(0));
    let (r, b) = ((line.right() + 3).min(w), (line.bottom() + more).min(h));
    let (w, h) = ((r - l) as u32, (b - t) as u32);
    Photograph {
        picture: imageops::crop_imm(&photo.picture, l as u32, t as u32, w, h).to_image(),
        ..photo.clone()
    }
}

#[test]
fn lines_cut_out_of_real_pages_tightly_are_read_as_on_the_page() {
    let recognisers = readings::recognisers().unwrap();
    let index = Index::new(Gazetteer::default());
    let read = |photo: &Photograph| {
        let read = run::read_photograph(photo, &recognisers, &index).unwrap();
        let lines = read.marks.into_iter().flat_map(|m| m.reading.lines);
        lines.map(|l| (l.text, l.bounds)).collect::<Vec<_>>()
    };
    let mut whole = Edits::default();
    let mut alone = [Edits::default(); ROOM.len()];
    for name in ["typewriting", "book-1880s"] {
        let (file, truth) = page(name);
        let photo = photograph::open(&file).unwrap();
        let (texts, places): (Vec<String>, Vec<Rect>) = read(&photo).into_iter().unzip();
        for (line, at) in truth.iter().zip(text::pair_lines(&truth, &texts)) {
            let at = at.expect("each line of the page is read");
            whole = whole.plus(text::characters(line, &texts[at]));
            for (sum, room) in alone.iter_mut().zip(ROOM) {
                let said = read(&cut(&photo, &places[at], room));
                let said: Vec<String> = said.into_iter().map(|l| l.0).collect();
                let line = std::slice::from_ref(line);
                *sum = sum.plus(text::characters_by_line(line, &said));
            }
        }
    }
    assert!(whole.length > 500, "{whole:?}");
    for (sum, room) in alone.iter().zip(ROOM) {
        assert!(
            sum.rate() <= whole.rate() + MORE,
            "{:.3} of the characters are wrong with {room} of the height around the line, {:.3} on the page",
            sum.rate(),
            whole.rate()
        );
    }
}
