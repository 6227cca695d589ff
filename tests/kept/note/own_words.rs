//! Passages in a person's own words: in their places, as theirs, through later runs, and held against
//! what they rest on.

use super::*;
use dorso::decisions::{ObservationId, Sight};
use dorso::note::{Docx, Passage, Stands, page, reword};
use std::io::{Cursor, Read};

const OWN: &str = "The framer Thackwray's label, on the frame since 1868.";

/// Puts a passage of the first picture otherwise.
fn put(s: &mut SqliteStore, length: Length, key: &str, words: &str) -> ObservationId {
    let sight = reword(&note_of(s), length, key, words).unwrap();
    let picture = s.pictures().unwrap()[0].id;
    s.observe(picture, &sight, &carrow("")).unwrap().id
}

fn passage(s: &SqliteStore, length: Length, key: &str) -> Passage {
    let page = page(&note_of(s), length);
    let found = page.passages.into_iter().find(|p| p.key == key);
    found.unwrap_or_else(|| panic!("no passage {key}"))
}

fn stands(s: &SqliteStore, length: Length, key: &str) -> Stands {
    passage(s, length, key).worded.expect("a wording holds").1
}

#[test]
fn they_stand_in_every_form_as_theirs() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = mill(dir.path());
    let written = passage(&s, Length::Catalogue, "reverse:1b").written;
    put(&mut s, Length::Catalogue, "reverse:1b", OWN);
    put(&mut s, Length::File, "mark:1b", OWN);
    put(
        &mut s,
        Length::Label,
        "label:text",
        "Nothing on its back is read surely.",
    );
    let note = note_of(&s);
    let entry = blocks(&note, Length::Catalogue);
    let markdown = Markdown::blocks(&entry);
    assert!(
        markdown.contains(OWN) && !markdown.contains(&written),
        "{markdown}"
    );
    assert!(markdown.contains(
        "In the words of A. Carrow, 7 May 2024: “The framer Thackwray's label, on the …”."
    ));
    assert!(Html::blocks(Language::British, "x", &entry).contains("on the frame since 1868."));
    let docx = Docx::bytes(&note, &entry, &Crops::default()).unwrap();
    let mut document = String::new();
    let mut zip = zip::ZipArchive::new(Cursor::new(docx)).unwrap();
    zip.by_name("word/document.xml")
        .unwrap()
        .read_to_string(&mut document)
        .unwrap();
    assert!(document.contains("on the frame since 1868."));
    // The file says whose each is, and keeps what the program wrote
    let file = Markdown::default().text(&note, &Crops::default());
    assert!(
        file.contains("since 1868. \\[wording by A. Carrow, 7 May 2024\\]"),
        "{file}"
    );
    let rows: Vec<&str> = file
        .lines()
        .filter(|l| l.ends_with("| the same |"))
        .collect();
    assert_eq!(rows.len(), 3, "{rows:?}");
    assert!(rows.iter().any(|r| r.contains(&written)));
    assert!(Markdown::blocks(&blocks(&note, Length::Label)).contains("is read surely"));
    // Another language has no wording of theirs
    let mut french = note.clone();
    french.entry.language = Language::French;
    assert!(!Markdown::blocks(&blocks(&french, Length::Catalogue)).contains(OWN));
}

#[test]
fn evidence_that_changes_is_told_and_the_words_stay() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = mill(dir.path());
    let before = passage(&s, Length::Catalogue, "reverse:1b").written;
    put(&mut s, Length::Catalogue, "reverse:1b", OWN);
    assert_eq!(
        stands(&s, Length::Catalogue, "reverse:1b"),
        Stands::AsBefore
    );
    // A decision on another mark leaves it as it was
    s.decide(dorso::decisions::MarkId(5), &Act::Unreadable, &carrow(""))
        .unwrap();
    assert_eq!(
        stands(&s, Length::Catalogue, "reverse:1b"),
        Stands::AsBefore
    );
    // The label is said to name somebody else
    let mut other = taken("orme-york-1");
    if let Act::Take(t) = &mut other {
        t.name = "Orme & Daughters".into();
    }
    s.decide(
        dorso::decisions::MarkId(1),
        &other,
        &carrow("the stroke is an O"),
    )
    .unwrap();
    let p = passage(&s, Length::Catalogue, "reverse:1b");
    let (worded, stands) = p.worded.clone().unwrap();
    assert_eq!((worded.words.as_str(), &worded.before), (OWN, &before));
    assert!(p.written.contains("Orme & Daughters"), "{}", p.written);
    let Stands::Changed { against } = stands else {
        panic!("{stands:?}");
    };
    assert!(
        against.iter().any(|a| a.starts_with("Thackwray")),
        "{against:?}"
    );
    assert!(p.notice().unwrap().contains("now speaks against it"));
    let entry = Markdown::blocks(&blocks(&note_of(&s), Length::Catalogue));
    assert!(
        entry.contains(OWN) && entry.contains("What it rests on has changed since"),
        "{entry}"
    );
    let file = Markdown::default().text(&note_of(&s), &Crops::default());
    let row = file.lines().find(|l| l.contains(OWN)).unwrap();
    assert!(row.contains(&p.written), "what it would write now: {row}");
}

#[test]
fn words_on_a_mark_that_is_none_are_kept_and_said_to_stand_on_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = mill(dir.path());
    put(&mut s, Length::Catalogue, "reverse:1b", OWN);
    s.decide(
        dorso::decisions::MarkId(1),
        &Act::NotAMark,
        &carrow("a knot"),
    )
    .unwrap();
    let p = passage(&s, Length::Catalogue, "reverse:1b");
    assert!(matches!(p.worded, Some((_, Stands::Gone))) && p.written.is_empty());
    let entry = Markdown::blocks(&blocks(&note_of(&s), Length::Catalogue));
    assert!(
        entry.contains("own words") && entry.contains(OWN),
        "{entry}"
    );
}

#[test]
fn undoing_brings_back_the_wording_before_and_then_the_program_s() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = mill(dir.path());
    let picture = s.pictures().unwrap()[0].id;
    put(&mut s, Length::Catalogue, "reverse:1b", "First.");
    let second = put(&mut s, Length::Catalogue, "reverse:1b", "Second.");
    let words = |s: &SqliteStore| {
        let p = passage(s, Length::Catalogue, "reverse:1b");
        p.worded.map(|x| x.0.words)
    };
    assert_eq!(words(&s).as_deref(), Some("Second."));
    for (undoes, left) in [(second, Some("First.")), (ObservationId(1), None)] {
        s.observe(picture, &Sight::Undo { undoes }, &carrow(""))
            .unwrap();
        assert_eq!(words(&s).as_deref(), left);
    }
    assert_eq!(
        s.observations(Some(picture)).unwrap().len(),
        4,
        "nothing is lost"
    );
}

#[test]
fn no_words_the_program_s_words_and_unknown_passages_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let s = mill(dir.path());
    let note = note_of(&s);
    let same = passage(&s, Length::Catalogue, "reverse:1b").written;
    let many = "a ".repeat(5000);
    for (key, words, why) in [
        ("reverse:1b", "  \n", "there are no words"),
        ("reverse:1b", same.as_str(), "the program writes the same"),
        ("reverse:1b", many.as_str(), "too many words"),
        ("reverse:99x", "Words.", "there is none"),
    ] {
        let e = reword(&note, Length::Catalogue, key, words).unwrap_err();
        assert!(e.what.contains(why), "{e}");
    }
}
