//! A text of provenance that somebody hands in: kept, taken apart, held against the marks, undone.

use super::*;
use dorso::decisions::Sight;
use dorso::statements::{Role, Statement};

const TEXT: &str = "Alda Renshaw [1821-1899], Kendal, until 1868 [1]; (sale, Harbottle & Vane, London, 14 May 1902, lot 217). The frame came back without its label.\n\nNotes:\n[1]. Label on the back.";

fn stated(role: Role, value: &str, chance: f64) -> Statement {
    Statement {
        role,
        value: value.into(),
        words: value.into(),
        line: 0,
        chance,
        list: None,
        entry: None,
        listed: 0.0,
        places: Vec::new(),
    }
}

/// A back with the stencil of a sale, lot as given, and a dealer's label that the text doesn't have.
fn store(dir: &Path, lot: &str) -> SqliteStore {
    let mut stencil = mark(
        "m1",
        MarkKind::Stencil,
        Rect::new(40, 430, 200, 60).quad(),
        reading(&[("HARBOTTLE & VANE", 0.96)]),
        Vec::new(),
    );
    stencil.statements = vec![
        stated(Role::Sale, "Harbottle & Vane", 0.93),
        stated(Role::SaleDate, "1902-05-14", 0.9),
        stated(Role::Lot, lot, 0.88),
    ];
    let mut label = mark(
        "m2",
        MarkKind::PrintedLabel,
        Rect::new(300, 30, 200, 60).quad(),
        reading(&[("OSTREY ROOMS, LEEDS", 0.96)]),
        Vec::new(),
    );
    label.statements = vec![stated(Role::Dealer, "Ostrey Rooms", 0.8)];
    let mut s = SqliteStore::open(&dir.join("s.sqlite")).unwrap();
    s.record_run(&run(vec![photograph("b.jpg", 'a', vec![stencil, label])]))
        .unwrap();
    s
}

fn with_text(s: &mut SqliteStore) -> Note {
    let picture = s.pictures().unwrap()[0].id;
    let sight = Sight::Provenance {
        text: TEXT.into(),
        source: "Sale catalogue, 1951".into(),
    };
    s.observe(picture, &sight, &carrow("")).unwrap();
    written(s)
}

fn written(s: &SqliteStore) -> Note {
    let picture = s.pictures().unwrap().remove(0);
    let marks = s.marks(Some(picture.id)).unwrap();
    let kept = dorso::note::Kept {
        picture: &picture,
        marks: &marks,
        journal: &s.journal().unwrap(),
        observations: &s.observations(Some(picture.id)).unwrap(),
        language: Language::British,
    };
    kept.write(&Clues::built_in().unwrap(), NOW).unwrap()
}

#[test]
fn its_links_stand_beside_what_the_marks_say_for_them() {
    let dir = tempfile::tempdir().unwrap();
    let note = with_text(&mut store(dir.path(), "217"));
    assert_eq!(
        note.provenance.line,
        "Alda Renshaw [1821-1899], Kendal, until 1868 [1] [2]; (sale, Harbottle & Vane, London, 14 May 1902, lot 217) [3]. The frame came back without its label. Probably (Ostrey Rooms [4]). Whereabouts 1933-1945 not established."
    );
    let notes: Vec<&str> = note
        .provenance
        .notes
        .iter()
        .map(|n| n.words.as_str())
        .collect();
    assert!(
        notes[0].contains("A. Carrow") && notes[0].contains("Sale catalogue, 1951"),
        "{notes:?}"
    );
    assert_eq!(notes[1], "In the text: “Label on the back.”");
    assert_eq!(
        notes[2],
        "Stencil 1b speaks for it, probably (0.88) reading “Harbottle & Vane”, lot 217, 14 May 1902."
    );
    let entry = note.entry.provenance.replace("[1821-1899]", "");
    assert!(!entry.contains('['), "numbers of notes in {entry}");
}

#[test]
fn a_mark_with_another_lot_speaks_against_the_link() {
    let dir = tempfile::tempdir().unwrap();
    let note = with_text(&mut store(dir.path(), "271"));
    let against = "speaks against it, probably (0.88) reading lot 271 where the text has lot 217.";
    assert!(
        note.provenance
            .notes
            .iter()
            .any(|n| n.words.ends_with(against)),
        "{:?}",
        note.provenance.notes
    );
}

#[test]
fn the_text_is_kept_as_it_was_handed_in_until_it_is_undone() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store(dir.path(), "217");
    with_text(&mut s);
    drop(s);
    let mut s = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
    let picture = s.pictures().unwrap()[0].id;
    let kept = s.observations(Some(picture)).unwrap().remove(0);
    assert_eq!(
        kept.sight,
        Sight::Provenance {
            text: TEXT.into(),
            source: "Sale catalogue, 1951".into()
        }
    );
    assert_eq!(kept.author.by, "A. Carrow");
    s.observe(
        picture,
        &Sight::Undo { undoes: kept.id },
        &carrow("the wrong picture"),
    )
    .unwrap();
    let note = written(&s);
    assert!(note.provenance.told.is_empty());
    // Without the text the stencil's own link stands again
    assert!(
        note.provenance
            .line
            .contains("Probably (Harbottle & Vane, 14 May 1902, lot 217"),
        "{}",
        note.provenance.line
    );
    assert_eq!(
        s.observations(Some(picture)).unwrap().len(),
        2,
        "nothing is lost"
    );
}
