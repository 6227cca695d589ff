//! One question at a time: what is asked is what is recorded, and what a hand mends is that alone.

use crate::browser::{Browser, Page};
use crate::desk::{Served, open, picture, small_store};
use crate::support::*;
use dorso::decisions::{
    Act, Asked, Author, DoubtKind, Drawing, Guard, Lettering, MarkId, SeenMark, Sight, SqliteStore,
    State, Store, Taken, asked, item,
};
use dorso::marks::MarkKind;
use std::path::Path;

const DAY: &str = "2024-05-08";

fn taken(list: &str, entry: &str, name: &str) -> Act {
    Act::Take(Taken {
        list: list.into(),
        entry: entry.into(),
        name: name.into(),
        not_before: String::new(),
        not_after: String::new(),
        source: "Invented Directory".into(),
        chance: None,
        same_as: Vec::new(),
    })
}

/// A store with these marks on one picture.
fn store_of(dir: &Path, marks: Vec<SeenMark>) -> SqliteStore {
    let mut store = SqliteStore::open(&dir.join("s.sqlite")).unwrap();
    picture(dir, &mut store, "Still Life", "back.jpg", marks);
    store
}

/// A number in chalk of which nothing is in doubt.
fn sure() -> SeenMark {
    let mut mark = chalk_number();
    mark.rivals = Vec::new();
    mark
}

fn state(s: &SqliteStore, id: i64) -> (State, Vec<DoubtKind>) {
    let mark = s.mark(MarkId(id)).unwrap();
    let i = item(&mark, DAY);
    (i.state, i.doubts.iter().map(|d| d.kind).collect())
}

fn redraw(s: &mut SqliteStore, id: i64, kind: MarkKind, text: &str) {
    let mut seen = sure();
    seen.kind = kind;
    seen.reading = reading(&[(text, 0.97)]);
    let drawing = Drawing {
        photograph: 1,
        mark: Some(MarkId(id)),
        seen,
        program: "by hand".into(),
    };
    s.draw(&drawing, &carrow(""), &Guard::default()).unwrap();
}

#[test]
fn a_new_outline_is_a_reading_by_the_program_that_nobody_has_settled() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store_of(dir.path(), vec![sure()]);
    assert_eq!(state(&s, 1).0, State::Clear);
    redraw(&mut s, 1, MarkKind::Inscription, "471");
    assert_eq!(state(&s, 1).0, State::Clear);
    for act in [
        Act::Kind {
            kind: MarkKind::Stamp,
        },
        Act::On {
            bearer: dorso::decisions::Bearer::Frame,
            bridging: None,
        },
    ] {
        s.decide(MarkId(1), &act, &carrow("")).unwrap();
        assert_eq!(state(&s, 1).0, State::Clear, "{act:?}");
    }
    // What a person set stays with the new outline.
    let mark = s.mark(MarkId(1)).unwrap();
    assert_eq!(mark.kind(), MarkKind::Stamp);
    assert!(mark.settled.lettering.is_none());
}

#[test]
fn a_second_reading_beside_the_programs_is_a_difference_and_never_settles() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store_of(dir.path(), vec![sure()]);
    let dunn = Author {
        by: "Miss Dunn".into(),
        ..carrow("")
    };
    let answer = |text: &str| Act::Answer {
        lines: vec![text.into()],
        blind: true,
    };
    let first = s.decide(MarkId(1), &answer("411"), &dunn).unwrap();
    assert_eq!(state(&s, 1), (State::Open, vec![DoubtKind::Differs]));
    let mark = s.mark(MarkId(1)).unwrap();
    assert_eq!(asked(&item(&mark, DAY).doubts), Asked::Differs);
    // The same letters are no difference.
    s.decide(MarkId(1), &Act::Undo { undoes: first.id }, &carrow(""))
        .unwrap();
    s.decide(MarkId(1), &answer("4 17"), &dunn).unwrap();
    assert_eq!(state(&s, 1).0, State::Settled);
}

#[test]
fn two_artists_for_one_label_are_a_question_until_one_is_taken_again() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = store_of(dir.path(), vec![sure()]);
    let abel = taken("artists", "abel-orme", "Abel Orme");
    let adam = taken("artists", "adam-orme", "Adam Orme");
    s.decide(MarkId(1), &abel, &carrow("")).unwrap();
    assert_eq!(state(&s, 1).0, State::Settled);
    let second = s.decide(MarkId(1), &adam, &carrow("")).unwrap();
    assert_eq!(state(&s, 1), (State::Open, vec![DoubtKind::Differs]));
    let mark = s.mark(MarkId(1)).unwrap();
    let doubts = item(&mark, DAY).doubts;
    assert_eq!(asked(&doubts), Asked::Taken("artists".into()));
    assert!(
        doubts[0].words.contains("Abel Orme and Adam Orme"),
        "{doubts:?}"
    );
    let again = s.decide(MarkId(1), &abel, &carrow("")).unwrap();
    assert_eq!(state(&s, 1).0, State::Settled);
    // Undoing gives the question back, and undoing the second artist takes it away.
    s.decide(MarkId(1), &Act::Undo { undoes: again.id }, &carrow(""))
        .unwrap();
    assert_eq!(state(&s, 1).0, State::Open);
    s.decide(MarkId(1), &Act::Undo { undoes: second.id }, &carrow(""))
        .unwrap();
    assert_eq!(state(&s, 1).0, State::Settled);
}

/// A stencil "20 x 16" on a support measured as 30 x 25 inches.
fn stencil(dir: &Path) -> SqliteStore {
    let mut mark = sure();
    mark.kind = MarkKind::Stencil;
    mark.reading = reading(&[("20 x 16", 0.97)]);
    let mut s = store_of(dir, vec![mark]);
    let (clues, _) = dorso::dating::clues::Clues::with_own(None).unwrap();
    let size = |height: f64, width: f64| Sight::Size {
        height: height * 25.4,
        width: width * 25.4,
    };
    s.observe(1, &size(20.0, 16.0), &carrow("")).unwrap();
    dorso::run::hold_dates(&mut s, &[1], &clues).unwrap();
    assert_eq!(state(&s, 1).0, State::Clear);
    let fits = s.observations(Some(1)).unwrap()[0].id;
    s.observe(1, &Sight::Undo { undoes: fits }, &carrow(""))
        .unwrap();
    s.observe(1, &size(30.0, 25.0), &carrow("")).unwrap();
    dorso::run::hold_dates(&mut s, &[1], &clues).unwrap();
    s
}

/// What the page asks and the words beside each key.
fn question(page: &Page, b: &mut Browser) -> (String, Vec<String>) {
    let text = page.eval(b, "document.querySelector('.question')?.innerText ?? ''");
    let keyed = page.eval(
        b,
        "[...document.querySelectorAll('#decide label.choice')].filter(l => l.querySelector('kbd')).map(l => l.innerText.trim())",
    );
    (
        text.as_str().unwrap().to_owned(),
        serde_json::from_value(keyed).unwrap(),
    )
}

#[test]
fn a_size_that_does_not_fit_is_asked_at_once_and_may_stay_as_it_is() {
    let dir = tempfile::tempdir().unwrap();
    drop(stencil(dir.path()));
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/settle", served.address));
    let (asks, answers) = question(&page, &mut b);
    assert!(asks.contains("don't fit together"), "{asks}");
    assert_eq!(answers.len(), 1);
    let why = page.eval(&mut b, "document.querySelector('.why').innerText");
    assert!(why.as_str().unwrap().contains("20 x 16"), "{why}");
    // Nothing is chosen beforehand: Enter takes nothing.
    page.press(&mut b, "Enter");
    assert!(open(dir.path()).journal().unwrap().is_empty());
    page.press_and_load(&mut b, "1");
    let journal = open(dir.path()).journal().unwrap();
    assert!(matches!(&journal[..], [d] if matches!(d.act, Act::Stands { .. })));
    assert_eq!(state(&open(dir.path()), 1).0, State::Settled);
    page.press_and_load(&mut b, "z");
    assert_eq!(state(&open(dir.path()), 1).0, State::Open);
}

#[test]
fn canvas_and_panel_are_told_on_the_page_as_soon_as_both_are_said() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let told = |served: &Served| served.get("/picture/1").1;
    served.post("/picture/1/seen", "seen=support%3Dcanvas");
    assert!(!told(&served).contains("can't both be so"));
    served.post("/picture/1/seen", "seen=support%3Dpanel");
    let page = told(&served);
    assert!(page.contains("told to be canvas and panel"), "{page}");
    served.post("/picture/1/seen", "undo=o1");
    assert!(!told(&served).contains("can't both be so"));
    let (head, _) = served.post("/picture/1/seen", "seen=support%3Dcheese");
    assert!(head.contains(" 400 "), "{head}");
}

#[test]
fn each_sort_of_question_has_its_own_answers() {
    let dir = tempfile::tempdir().unwrap();
    let mut unknown = sure();
    unknown.kind = MarkKind::Unknown;
    let mut s = store_of(dir.path(), vec![unknown]);
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    let (asks, answers) = question(&page, &mut b);
    assert!(asks.starts_with("What kind") && answers[1].starts_with("Written label"));
    page.press_and_load(&mut b, "2");
    assert_eq!(s.mark(MarkId(1)).unwrap().kind(), MarkKind::WrittenLabel);
    // Two readings: the keys choose between them.
    let dunn = Author {
        by: "Miss Dunn".into(),
        ..carrow("")
    };
    let lines = vec!["411".to_owned()];
    s.decide(MarkId(1), &Act::Answer { lines, blind: true }, &dunn)
        .unwrap();
    page.go(&mut b, &format!("{}/settle/1b?x", served.address));
    let (asks, answers) = question(&page, &mut b);
    assert!(asks.contains("Which reading"), "{asks}");
    assert!(
        answers[0].starts_with("411") && answers[1].starts_with("417"),
        "{answers:?}"
    );
    page.press_and_load(&mut b, "2");
    let mark = s.mark(MarkId(1)).unwrap();
    assert_eq!(
        mark.settled.lettering.unwrap().value,
        Lettering::Read(vec!["417".into()])
    );
}

#[test]
fn lines_are_typed_below_those_of_the_picture_which_stays_in_sight() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 700);
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    page.press(&mut b, "r");
    page.wait(&mut b, "document.activeElement.matches('#rows input')");
    assert_eq!(
        page.eval(
            &mut b,
            "document.querySelectorAll('#rows .strip img').length"
        ),
        3
    );
    assert_eq!(
        page.eval(&mut b, "document.activeElement.selectionStart"),
        15
    );
    // The next line, and a new one in its middle.
    page.press(&mut b, "ArrowDown");
    page.text(&mut b, "!");
    page.press(&mut b, "Enter");
    page.text(&mut b, "new");
    let text = page.eval(&mut b, "document.querySelector('#text').value");
    assert!(text.as_str().unwrap().contains("GILDERS!\nnew\n"), "{text}");
    // The picture is in sight wherever one types, and is changed without leaving the line.
    page.eval(&mut b, "scrollTo(0, document.querySelector('#fits').getBoundingClientRect().top + scrollY - innerHeight + 40)");
    let top = "Math.round(document.querySelector('.look').getBoundingClientRect().top)";
    assert_eq!(page.eval(&mut b, top), 0);
    let src = "document.querySelector('#crop-picture').getAttribute('src')";
    let before = page.eval(&mut b, src);
    page.press(&mut b, "alt+v");
    assert_ne!(page.eval(&mut b, src), before);
    page.press(&mut b, "alt+m");
    assert_eq!(
        page.eval(&mut b, "document.querySelector('#loupe').hidden"),
        false
    );
    assert_eq!(
        page.eval(&mut b, "document.activeElement.matches('#rows input')"),
        true
    );
    // What is saved stands above what the program read.
    page.press_and_load(&mut b, "ctrl+Enter");
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    let own = page.eval(&mut b, "document.querySelector('#own-reading').innerText");
    assert!(own.as_str().unwrap().contains("GILDERS!"), "{own}");
}

#[test]
fn mending_an_outline_keeps_the_kind_whatever_the_form_says() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let corners = "x0=600&y0=420&x1=700&y1=420&x2=700&y2=520&x3=600&y3=520";
    let form = format!("photograph=1&mark=2c&kind=printed_label&{corners}");
    let (head, body) = served.post("/draw", &form);
    assert!(head.contains(" 303 "), "{head} {body}");
    let mark = open(dir.path()).mark(MarkId(2)).unwrap();
    assert_eq!(mark.kind(), MarkKind::Stamp);
    assert!(mark.is_drawn() && mark.settled.lettering.is_none());
}

#[test]
fn what_is_said_of_two_marks_side_by_side_is_kept_and_undone() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    page.go(
        &mut b,
        &format!("{}/compare?mark=1b&mark=4e", served.address),
    );
    page.press_and_load(&mut b, "2");
    let said = page.eval(&mut b, "document.querySelector('.said').innerText");
    assert!(said.as_str().unwrap().contains("same firm as 4e"), "{said}");
    // It says nothing of what either reads or names.
    let s = open(dir.path());
    assert!(!s.mark(MarkId(1)).unwrap().settled.is_decided());
    let undo = s.journal().unwrap()[0].id;
    drop(s);
    served.post("/undo", &format!("decision={undo}"));
    page.go(
        &mut b,
        &format!("{}/compare?mark=1b&mark=4e&x", served.address),
    );
    assert_eq!(
        page.eval(&mut b, "document.querySelectorAll('.said').length"),
        0
    );
    for bad in ["/compare", "/compare?mark=1b", "/compare?mark=1b&mark=1b"] {
        assert!(served.get(bad).0.contains(" 400 "), "{bad}");
    }
}

#[test]
fn what_words_say_is_put_right_by_a_key_and_nothing_else_is_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let mut label = sure();
    label.reading = reading(&[("The Ferry", 0.97), ("Mrs. Farrowby", 0.97)]);
    drop(store_of(dir.path(), vec![label]));
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    page.press(&mut b, "f");
    assert_eq!(page.eval(&mut b, "document.activeElement.id"), "says-words");
    page.text(&mut b, "Mrs. Farrowby");
    page.eval(
        &mut b,
        "(document.querySelector('#says-role').value = 'lender', 0)",
    );
    page.press_and_load(&mut b, "Enter");
    let store = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
    let mark = store.mark(MarkId(1)).unwrap();
    assert_eq!(mark.settled.said.len(), 1);
    assert!(mark.settled.lettering.is_none() && mark.settled.named.is_empty());
    let lender = mark.states().into_iter().find(|s| s.by.is_some()).unwrap();
    assert_eq!(lender.statement.role.as_str(), "lender");
    let shown = page.eval(&mut b, "document.querySelector('.states').innerText");
    assert!(
        shown.as_str().unwrap().contains("said by a person"),
        "{shown}"
    );
    // The page stays at the mark, and what is stated wrongly is put right from where it stands
    page.eval(
        &mut b,
        "(document.querySelector('.states button').click(), 0)",
    );
    let words = page.eval(&mut b, "document.querySelector('#says-words').value");
    assert_eq!(words, "Mrs. Farrowby");
}
