//! The Word document: its parts are there and are XML, with the texts and the pictures of the note.

use super::*;
use dorso::note::Docx;
use std::io::{Cursor, Read};

fn part(bytes: &[u8], name: &str) -> String {
    let mut zip = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut out = String::new();
    zip.by_name(name).unwrap().read_to_string(&mut out).unwrap();
    out
}

#[test]
fn a_word_document_has_the_words_and_the_pictures_of_the_note() {
    let dir = tempfile::tempdir().unwrap();
    let (s, _) = with_photograph(dir.path());
    let picture = s.pictures().unwrap().remove(0);
    let crops = cut(&picture, &s.marks(None).unwrap());
    let note = note_of(&s);
    let bytes = Docx::bytes(&note, &blocks(&note, Length::File), &crops).unwrap();
    let document = part(&bytes, "word/document.xml");
    for words in [
        "THACKWRAY &amp; SON",
        "Right as a whole",
        "Old backs may hold lead",
        "back.png",
    ] {
        assert!(document.contains(words), "{words}");
    }
    // What a page folds away stands in the page
    assert!(!document.contains("The cautions in full"));
    assert!(document.contains("w:val=\"Heading1\""));
    let zip = zip::ZipArchive::new(Cursor::new(&bytes)).unwrap();
    let media: Vec<&str> = zip.file_names().filter(|n| n.ends_with(".png")).collect();
    // The back with its marks outlined, and two marks
    assert_eq!(media.len(), 3, "{media:?}");
    assert_eq!(document.matches("<pic:pic").count(), 3);
    for name in media {
        let mut zip = zip::ZipArchive::new(Cursor::new(&bytes)).unwrap();
        let mut png = Vec::new();
        zip.by_name(name).unwrap().read_to_end(&mut png).unwrap();
        assert!(image::load_from_memory(&png).unwrap().width() > 100);
    }
    for name in [
        "word/document.xml",
        "word/styles.xml",
        "[Content_Types].xml",
    ] {
        let xml = part(&bytes, name);
        assert_well_formed(&xml, name);
    }
}

#[test]
fn an_entry_as_a_word_document_is_its_text() {
    let dir = tempfile::tempdir().unwrap();
    let note = note_of(&mill(dir.path()));
    let bytes = Docx::bytes(&note, &blocks(&note, Length::Catalogue), &Crops::default()).unwrap();
    let document = part(&bytes, "word/document.xml");
    assert!(
        document.contains(
            &note.entry.reverse[0]
                .words
                .replace('&', "&amp;")
                .replace('\'', "&apos;")
        ) || document.contains(&note.entry.reverse[0].words.replace('&', "&amp;"))
    );
    assert!(!document.contains("<pic:pic"));
}

/// Every tag that is opened is closed in turn.
fn assert_well_formed(xml: &str, name: &str) {
    let mut open: Vec<&str> = Vec::new();
    for tag in xml.split('<').skip(1) {
        let tag = tag.split('>').next().unwrap();
        let bare = tag
            .trim_start_matches('/')
            .split([' ', '/', '\n'])
            .next()
            .unwrap();
        if tag.starts_with(['?', '!']) || tag.ends_with('/') {
            continue;
        }
        match tag.starts_with('/') {
            true => assert_eq!(open.pop(), Some(bare), "{name}"),
            false => open.push(bare),
        }
    }
    assert!(open.is_empty(), "{name}: {open:?}");
}
