//! What the note promises: nothing doubtful reads as certain, what people decided is theirs, and
//! nothing on a label is taken for markup.

mod bars;
mod handed_in;
mod own_words;
mod sureness;
mod word;

use crate::support::*;
use dorso::dating::clues::Clues;
use dorso::decisions::{Act, Bearer, SqliteStore, Store, Taken, holding};
use dorso::geometry::Rect;
use dorso::marks::MarkKind;
use dorso::note::certainty::{CERTAIN, fault};
use dorso::note::{
    Basis, Block, Crops, Cut, Export, Html, Kept, Language, Length, Manner, Markdown, Note, blocks,
    cautions, cut, entry_word,
};
use std::path::{Path, PathBuf};

const NOW: &str = "2024-05-08T12:00:00+01:00";

fn note_of(s: &SqliteStore) -> Note {
    let picture = s.pictures().unwrap().remove(0);
    let marks = s.marks(Some(picture.id)).unwrap();
    let clues = Clues::built_in().unwrap();
    let kept = Kept {
        picture: &picture,
        marks: &marks,
        journal: &s.journal().unwrap(),
        observations: &s.observations(Some(picture.id)).unwrap(),
        language: Language::British,
    };
    kept.write(&clues, NOW).unwrap()
}

fn taken(entry: &str) -> Act {
    let p = proposal("framers", entry, "Thackwray & Son", 0.48);
    Act::Take(Taken {
        list: p.list,
        entry: p.entry,
        name: p.name,
        not_before: p.not_before,
        not_after: p.not_after,
        source: p.source,
        chance: Some(p.probability),
        same_as: Vec::new(),
    })
}

/// The back of an invented picture, partly settled.
fn mill(dir: &Path) -> SqliteStore {
    let mut s = SqliteStore::open(&dir.join("store.sqlite")).unwrap();
    let typed = mark(
        "m4",
        MarkKind::WrittenLabel,
        Rect::new(300, 300, 200, 90).quad(),
        reading(&[("EX?HIBITIO__", 0.42), ("W. ARMITSTE_D R.B.A.", 0.66)]),
        vec![rivals(
            "exhibitions",
            vec![proposal(
                "exhibitions",
                "northern-1",
                "Northern Society",
                0.22,
            )],
        )],
    );
    let mut memory = mark(
        "m5",
        MarkKind::Stencil,
        Rect::new(40, 430, 200, 60).quad(),
        reading(&[("LORIMER & CO LTD", 0.96), ("LONDON N.W.", 0.94)]),
        vec![rivals(
            "colourmen",
            vec![proposal(
                "colourmen",
                "lorimer-london-1",
                "Lorimer & Co. Ltd",
                0.93,
            )],
        )],
    );
    memory.rivals[0].proposals[0].source = "from memory".into();
    memory.rivals[0].proposals[0].not_before = "1931~".into();
    memory.rivals[0].proposals[0].not_after = String::new();
    let shadow = mark(
        "m6",
        MarkKind::Unknown,
        Rect::new(700, 100, 60, 60).quad(),
        Default::default(),
        Vec::new(),
    );
    let mut r = run(vec![photograph(
        "/invented/mill.jpg",
        'a',
        vec![
            firm_label(),
            blind_stamp(),
            chalk_number(),
            typed,
            memory,
            shadow,
        ],
    )]);
    r.picture = Some("The Mill at Askrigg".into());
    let ids = s.record_run(&r).unwrap().marks.remove(0);
    let by = |why| carrow(why);
    let wrong = s
        .decide(ids[0], &taken("thackwray-kendal-1"), &by(""))
        .unwrap();
    s.decide(
        ids[0],
        &Act::Undo { undoes: wrong.id },
        &by("the street is the other one"),
    )
    .unwrap();
    s.decide(
        ids[0],
        &taken("thackwray-kendal-2"),
        &by("the number is on the slip"),
    )
    .unwrap();
    let on = Act::On {
        bearer: Bearer::Frame,
        bridging: Some(Bearer::Backing),
    };
    s.decide(ids[0], &on, &by("")).unwrap();
    s.decide(
        ids[1],
        &Act::Ask {
            whom: "Miss Dunn".into(),
        },
        &by("she knows the stamps"),
    )
    .unwrap();
    let lines = vec![
        "EXHIBITIO[N]".to_string(),
        "W. Armitste[.]d R.B.A.".to_string(),
    ];
    s.decide(ids[3], &Act::Read { lines }, &by("under raking light"))
        .unwrap();
    s.decide(ids[5], &Act::NotAMark, &by("a knot")).unwrap();
    s
}

/// Compares with a golden file; `DORSO_WRITE_GOLDEN=1` rewrites it, to be looked at before it is
/// committed.
fn golden(name: &str, text: &str) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/golden")
        .join(name);
    if std::env::var_os("DORSO_WRITE_GOLDEN").is_some() {
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(&file, text).unwrap();
    }
    let kept = std::fs::read_to_string(&file).unwrap();
    if kept != text {
        let line = kept.lines().zip(text.lines()).position(|(a, b)| a != b);
        let at = line.unwrap_or(kept.lines().count().min(text.lines().count()));
        panic!(
            "{name} differs from line {}:\nkept: {:?}\nnow:  {:?}",
            at + 1,
            kept.lines().nth(at),
            text.lines().nth(at)
        );
    }
}

fn crops() -> Crops {
    let jpeg = Cut::Jpeg {
        bytes: b"not looked at here".to_vec(),
        width: 340,
        height: 160,
    };
    let gone = Cut::Missing("The photograph mill.jpg is no longer where it was last seen.".into());
    Crops {
        marks: [("1b", jpeg.clone()), ("2c", gone)]
            .map(|(i, c)| (i.to_string(), c))
            .into(),
        backs: [(1, jpeg)].into(),
    }
}

#[test]
fn the_markdown_of_a_partly_settled_back_stays_as_it_is() {
    let dir = tempfile::tempdir().unwrap();
    let markdown = Markdown {
        pictures: Some("mill-marks".into()),
    };
    golden(
        "note.md",
        &markdown.text(&note_of(&mill(dir.path())), &crops()),
    );
}

#[test]
fn the_html_of_a_partly_settled_back_stays_as_it_is() {
    let dir = tempfile::tempdir().unwrap();
    let html = Html.text(&note_of(&mill(dir.path())), &crops());
    golden("note.html", &html);
    assert_balanced(&html);
}

#[test]
fn what_a_person_decided_is_told_as_theirs_and_the_rest_as_proposed() {
    let dir = tempfile::tempdir().unwrap();
    let note = note_of(&mill(dir.path()));
    let label = &note.marks[0];
    assert!(
        label.decided[0]
            .words
            .starts_with("A. Carrow, 7 May 2024 (d3): it names the framer")
    );
    assert!(
        label
            .decided
            .iter()
            .all(|s| matches!(s.basis, Basis::Person(_)))
    );
    assert!(
        label
            .proposed
            .iter()
            .all(|s| matches!(s.basis, Basis::Program(_)))
    );
    assert!(
        !label.proposed.iter().any(|s| s.words.contains("thackwray")),
        "what a person decided of a list is no longer proposed"
    );
    let typed = note
        .marks
        .iter()
        .find(|m| m.heading == "Written label")
        .unwrap();
    assert_eq!(typed.read_by.as_deref(), Some("A. Carrow"));
    assert_eq!(
        typed.read_before.len(),
        2,
        "the program's own reading is shown beside"
    );
    assert!(
        typed
            .dates
            .iter()
            .any(|s| s.words.contains("as A. Carrow reads it"))
    );
}

#[test]
fn a_row_from_memory_says_so_and_dates_only_the_mark() {
    let dir = tempfile::tempdir().unwrap();
    let note = note_of(&mill(dir.path()));
    let stencil = note.marks.iter().find(|m| m.heading == "Stencil").unwrap();
    let all: Vec<&str> = stencil.dates.iter().map(|s| s.words.as_str()).collect();
    assert!(
        all[0].contains("set down from memory: to be checked"),
        "{all:?}"
    );
    assert!(all[0].starts_with("The mark "), "{all:?}");
    assert!(
        all.iter()
            .any(|w| w.contains("“LTD”") && w.contains("not before 1855")),
        "{all:?}"
    );
}

#[test]
fn the_gap_of_1933_to_1945_is_named_and_never_filled() {
    let dir = tempfile::tempdir().unwrap();
    let note = note_of(&mill(dir.path()));
    let gap: Vec<_> = note
        .unknown
        .iter()
        .filter(|s| s.words.contains("1933–1945"))
        .collect();
    assert_eq!(gap.len(), 1);
    assert!(
        gap[0]
            .words
            .starts_with("Whereabouts 1933–1945: the dates of 5f may reach")
    );
    assert!(gap[0].words.contains("say nothing of ownership"));
}

#[test]
fn a_mark_that_was_not_read_is_still_in_the_note_and_one_that_is_none_is_only_in_the_journal() {
    let dir = tempfile::tempdir().unwrap();
    let note = note_of(&mill(dir.path()));
    assert_eq!(note.marks.len(), 5);
    assert!(
        note.marks
            .iter()
            .any(|m| m.id == "2c" && m.lines.is_empty())
    );
    assert!(note.marks.iter().all(|m| m.id != "6g"));
    assert!(note.journal.iter().any(|d| d.what == "is not a mark"));
    assert!(
        note.journal.iter().any(|d| !d.holds),
        "undone entries stay in the record"
    );
}

#[test]
fn hostile_texts_stay_texts() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&dir.path().join("store.sqlite")).unwrap();
    let bad = "\"><script>alert(1)</script><img src=x onerror=y>'`](javascript:z)\u{202e}";
    let mut label = firm_label();
    label.reading.lines[0].leiden = bad.into();
    label.reading.lines[0].text = bad.into();
    label.reading.lines[0].characters = bad
        .chars()
        .map(|c| dorso::readings::Character {
            text: c.to_string(),
            confidence: 0.9,
            alternatives: Vec::new(),
        })
        .collect();
    for p in label.rivals.iter_mut().flat_map(|r| &mut r.proposals) {
        p.name = bad.into();
        p.entry = bad.into();
        p.source = bad.into();
        p.agreement.because = vec![bad.into()];
    }
    let mut other = firm_label();
    other.outline = Rect::new(50, 400, 100, 100).quad();
    let mut r = run(vec![photograph(
        &format!("/x/{}.jpg", bad.replace('/', "")),
        'a',
        vec![label, other],
    )]);
    r.picture = Some(bad.into());
    let ids = s.record_run(&r).unwrap().marks.remove(0);
    let mut author = carrow(bad);
    author.by = bad.into();
    s.decide(ids[0], &Act::Ask { whom: bad.into() }, &author)
        .unwrap();
    s.decide(
        ids[1],
        &Act::Read {
            lines: vec![bad.into()],
        },
        &author,
    )
    .unwrap();
    let note = note_of(&s);
    let missing = Crops {
        marks: [("1b".to_string(), Cut::Missing(bad.into()))].into(),
        ..Crops::default()
    };
    let html = Html.text(&note, &missing);
    assert_balanced(&html);
    for sign in ["<script", "<img", "onerror=y>", "\u{202e}"] {
        assert!(!html.contains(sign), "{sign}");
    }
    let markdown = Markdown {
        pictures: Some("m".into()),
    }
    .text(&note, &missing);
    // Only within a fence may it stand as it is.
    let mut fenced = false;
    for line in markdown.lines() {
        if line.starts_with("```") {
            fenced = !fenced;
        } else if !fenced {
            // An escaped bracket ends no link.
            let line = line.replace("\\]", "");
            for sign in ["<script", "<img", "](javascript"] {
                assert!(!line.contains(sign), "{line}");
            }
        }
    }
    assert!(!fenced);
}

/// Every tag that is opened is closed in turn, ids are used once and labels name an id.
fn assert_balanced(html: &str) {
    let body = html.split("</style>").nth(1).unwrap();
    let mut open: Vec<&str> = vec!["html", "head"];
    let mut rest = body;
    let mut ids = Vec::new();
    while let Some(at) = rest.find('<') {
        let tag = &rest[at + 1..at + rest[at..].find('>').unwrap()];
        rest = &rest[at + tag.len() + 2..];
        let name = tag
            .trim_start_matches('/')
            .split([' ', '/', '\n'])
            .next()
            .unwrap();
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name), "closing </{name}>");
        } else if !tag.ends_with('/') && name != "img" {
            open.push(name);
        }
        if let Some(id) = tag.split(" id=\"").nth(1) {
            ids.push(id.split('"').next().unwrap().to_string());
        }
    }
    assert!(open.is_empty(), "{open:?}");
    let count = ids.len();
    let labelled = html
        .split("aria-labelledby=\"")
        .skip(1)
        .map(|t| t.split('"').next().unwrap());
    for label in labelled {
        assert!(ids.iter().any(|i| i == label), "no id {label}");
    }
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), count, "ids are used once");
}

/// A photograph in a folder, and a store that has read it.
fn with_photograph(dir: &Path) -> (SqliteStore, PathBuf) {
    let file = dir.join("back.png");
    let picture = image::RgbImage::from_fn(800, 600, |x, y| {
        image::Rgb([(x % 256) as u8, (y % 256) as u8, 90])
    });
    picture.save(&file).unwrap();
    let sha256 = dorso::photograph::identity(&file).unwrap();
    let mut seen = photograph(
        file.to_str().unwrap(),
        'a',
        vec![firm_label(), blind_stamp()],
    );
    seen.sha256 = sha256;
    let mut s = SqliteStore::open(&dir.join("store.sqlite")).unwrap();
    s.record_run(&run(vec![seen])).unwrap();
    (s, file)
}

#[test]
fn the_marks_are_shown_from_the_original_which_stays_as_it_is() {
    let dir = tempfile::tempdir().unwrap();
    let (s, file) = with_photograph(dir.path());
    let before = std::fs::read(&file).unwrap();
    let picture = s.pictures().unwrap().remove(0);
    let marks = s.marks(None).unwrap();
    let crops = cut(&picture, &marks);
    let Some(Cut::Jpeg {
        bytes,
        width,
        height,
    }) = crops.marks.get("1b")
    else {
        panic!("{:?}", crops.marks);
    };
    let shown = image::load_from_memory(bytes).unwrap();
    assert_eq!((shown.width(), shown.height()), (*width, *height));
    assert!(width > height, "a label wider than high is shown so");
    let html = Html.text(&note_of(&s), &crops);
    assert_eq!(
        html.matches("src=\"data:image/jpeg;base64,").count(),
        3,
        "two marks and the back"
    );
    assert_eq!(std::fs::read(&file).unwrap(), before);
}

#[test]
fn a_photograph_that_changed_or_is_gone_is_told_and_the_rest_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    let (s, file) = with_photograph(dir.path());
    let picture = s.pictures().unwrap().remove(0);
    let marks = s.marks(None).unwrap();
    image::RgbImage::new(800, 600).save(&file).unwrap();
    let why = |c: &Crops| match &c.marks["1b"] {
        Cut::Missing(why) => why.clone(),
        Cut::Jpeg { .. } => panic!("shown"),
    };
    assert!(why(&cut(&picture, &marks)).contains("no longer the photograph that was read"));
    std::fs::remove_file(&file).unwrap();
    let crops = cut(&picture, &marks);
    assert!(why(&crops).contains("no longer where it was last seen"));
    let html = Html.text(&note_of(&s), &crops);
    assert!(html.contains("THACKWRAY &amp; SON"));
}

#[test]
fn how_a_thing_is_known_is_kept_apart() {
    let dir = tempfile::tempdir().unwrap();
    let note = note_of(&mill(dir.path()));
    let of = |m: Manner| -> Vec<&str> {
        let all = note.provenance.manners.iter().filter(|x| x.0 == m);
        all.map(|x| x.1.words.as_str()).collect()
    };
    assert_eq!(
        of(Manner::Inscribed),
        ["Inscribed, on the back (3d), very probably (0.97) so: “417”."]
    );
    assert_eq!(
        of(Manner::According),
        [
            "According to the printed label 1b over the frame and the backing, by decision of A. Carrow: the framer “Thackwray & Son”."
        ]
    );
    assert_eq!(
        of(Manner::Attributed),
        [
            "Attributed by us, from the stencil 5f on the back: probably (0.93) the artists' colourman “Lorimer & Co. Ltd”."
        ]
    );
    assert!(of(Manner::Bears).iter().all(|s| s.starts_with("Bears, ")));
    assert_eq!(
        note.provenance.line,
        "No owner, dealer or sale is told by the back. Whereabouts 1933-1945 not established."
    );
}

#[test]
fn the_short_lengths_stay_as_they_are() {
    let dir = tempfile::tempdir().unwrap();
    let note = note_of(&mill(dir.path()));
    let catalogue = blocks(&note, Length::Catalogue);
    golden("note-catalogue.md", &Markdown::blocks(&catalogue));
    let label = Markdown::blocks(&blocks(&note, Length::Label));
    golden("note-label.md", &label);
    assert!(label.split_whitespace().count() < 120, "{label}");
    assert_balanced(&Html::blocks(Language::British, &note.picture, &catalogue));
}
