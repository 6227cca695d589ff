//! The desk as a person uses it: a real browser, mostly by keys alone.

mod bringing;
mod noting;
mod sightings;

use crate::browser::{Browser, Page};
use crate::desk::{Served, open, picture, small_store};
use crate::support::*;
use dorso::decisions::{Act, MarkId, SqliteStore, Store};
use dorso::proposals::{Proposal, Rivals};
use serde_json::{Value, json};
use std::path::Path;

const AXE: &str = include_str!("../vendor/axe-core/axe.min.js");

/// What axe-core finds at fault on the page as it stands.
pub fn violations(page: &Page, b: &mut Browser) -> Vec<String> {
    page.eval(b, &format!("{AXE}; 0"));
    let found = page.eval(b, "axe.run(document, { resultTypes: ['violations'] }).then(r => r.violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + ' ' + n.failureSummary).join(' | ')))");
    serde_json::from_value(found).unwrap()
}

fn acts(dir: &Path) -> Vec<Act> {
    open(dir)
        .journal()
        .unwrap()
        .into_iter()
        .map(|d| d.act)
        .collect()
}

/// Adds a visit so called, with the first picture as a lot so called.
fn visit(store: &mut SqliteStore, called: &str) {
    let author = carrow("");
    let id = store.begin_visit(&author).unwrap();
    store.word_visit(id, called, "2026-12-31", &author).unwrap();
    store.add_visited(id, 1, Some(called), &author).unwrap();
}

/// Opens the settling page of the first mark.
fn begin(b: &mut Browser, served: &Served) -> Page {
    let page = b.page(1280, 900);
    page.go(b, &format!("{}/settle", served.address));
    page.wait(
        b,
        "document.querySelector('#crop-picture').naturalWidth > 0",
    );
    page
}

/// Waits until the page tells what was kept.
fn saved(page: &Page, b: &mut Browser, words: &str) {
    page.wait(
        b,
        &format!(
            "document.readyState === 'complete' && document.querySelector('#said')?.textContent.includes({})",
            json!(words)
        ),
    );
}

#[test]
fn one_key_takes_the_first_proposal_and_one_key_takes_it_back() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = begin(&mut b, &served);
    let first = page.eval(
        &mut b,
        "location.pathname + document.querySelector('#settle').dataset.mark",
    );
    let mark = first
        .as_str()
        .unwrap()
        .rsplit('/')
        .next()
        .unwrap()
        .replace("settle", "");
    page.press(&mut b, "t");
    saved(&page, &mut b, "names Thackwray & Son");
    assert!(matches!(&acts(dir.path())[..], [Act::Take(t)] if t.entry == "thackwray-kendal-2"));
    page.press_and_load(&mut b, "z");
    let back = page.eval(&mut b, "document.querySelector('#settle').dataset.mark");
    assert_eq!(back, mark);
    assert!(matches!(acts(dir.path()).last(), Some(Act::Undo { .. })));

    // The second proposal by its number, then "can't be read", "put off", "no mark" on what follows.
    page.press(&mut b, "2");
    saved(&page, &mut b, "thackwray-kendal-1");
    page.press(&mut b, "x");
    saved(&page, &mut b, "can't be read");
    page.press(&mut b, "k");
    saved(&page, &mut b, "is not a mark");
    page.press(&mut b, "o");
    saved(&page, &mut b, "put off");
    assert_eq!(acts(dir.path()).len(), 6);
    for _ in 0..3 {
        page.press_and_load(&mut b, "z");
    }
    let journal = open(dir.path()).journal().unwrap();
    assert_eq!(journal.len(), 9);
    assert_eq!(
        dorso::decisions::fold(&journal)
            .values()
            .filter(|s| s.not_a_mark.is_some() || s.waiting.is_some())
            .count(),
        0
    );
}

/// A mark that surely names a firm, and may be by either of two artists.
fn doubtful_artist(dir: &Path) {
    let mut label = firm_label();
    let named = |list: &str, entry: &str, name: &str, probability: f64| {
        let mut p = firm_label().rivals[0].proposals[0].clone();
        (p.list, p.entry, p.name) = (list.into(), entry.into(), name.into());
        p.probability = probability;
        p
    };
    let rivals = |list: &str, proposals: Vec<Proposal>| Rivals {
        unlisted: 1.0 - proposals.iter().map(|p| p.probability).sum::<f64>(),
        list: list.into(),
        proposals,
    };
    label.rivals = vec![
        rivals(
            "framers",
            vec![named(
                "framers",
                "thackwray-kendal-2",
                "Thackwray & Son",
                0.98,
            )],
        ),
        rivals(
            "artists",
            vec![
                named("artists", "abel-orme", "Abel Orme", 0.48),
                named("artists", "adam-orme", "Adam Orme", 0.45),
            ],
        ),
    ];
    for line in &mut label.reading.lines {
        line.confidence = 0.97;
    }
    let mut store = SqliteStore::open(&dir.join("s.sqlite")).unwrap();
    picture(dir, &mut store, "Still Life", "back.jpg", vec![label]);
}

#[test]
fn keys_answer_the_question_that_is_asked_and_nothing_else() {
    let dir = tempfile::tempdir().unwrap();
    doubtful_artist(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = begin(&mut b, &served);
    let text = |b: &mut Browser, at: &str| {
        let found = page.eval(
            b,
            &format!("document.querySelector({})?.textContent ?? ''", json!(at)),
        );
        found.as_str().unwrap().to_owned()
    };
    let asked = text(&mut b, ".question");
    assert!(
        asked.starts_with("Who is ") && asked.contains("Abel Orme"),
        "{asked}"
    );
    assert!(text(&mut b, "button.go").contains("Accept: Abel Orme"));
    // None of the artists: the firm, which isn't in doubt, stays as it is.
    page.press(&mut b, "0");
    saved(&page, &mut b, "artists");
    let told = acts(dir.path());
    assert!(
        matches!(&told[..], [Act::Unlisted { list: Some(l) }] if l == "artists"),
        "{told:?}"
    );
    page.press_and_load(&mut b, "z");
    assert!(text(&mut b, "#said").contains("taken back"));
    for (key, entry) in [
        ("t", "abel-orme"),
        ("Enter", "abel-orme"),
        ("2", "adam-orme"),
    ] {
        page.press(&mut b, key);
        saved(&page, &mut b, "Saved");
        let told = acts(dir.path());
        assert!(
            matches!(told.last(), Some(Act::Take(t)) if t.entry == entry),
            "{key} {told:?}"
        );
        page.press_and_load(&mut b, "z");
    }
    // Keys beyond the answers do nothing.
    let before = acts(dir.path()).len();
    page.press(&mut b, "3");
    assert_eq!(acts(dir.path()).len(), before);
}

#[test]
fn letters_are_mended_and_typed_by_keys_and_what_fits_is_offered() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    // To the first letter, another sign for it, the next one lost.
    page.press(&mut b, "ArrowRight");
    page.press(&mut b, "u");
    page.press(&mut b, "ArrowRight");
    page.press(&mut b, "l");
    let text = page.eval(&mut b, "document.querySelector('#text').value");
    assert!(
        text.as_str().unwrap().starts_with("Ṭ[.]ACKWRAY & SON\n"),
        "{text}"
    );
    page.press(&mut b, "s");
    saved(&page, &mut b, "reads \"Ṭ[.]ACKWRAY & SON /");
    // Typing: signs by one key, entries that fit.
    page.go(&mut b, &format!("{}/settle/2c", served.address));
    page.press(&mut b, "r");
    page.wait(&mut b, "document.activeElement.matches('#rows input')");
    page.text(&mut b, "O");
    page.press(&mut b, "F4");
    page.text(&mut b, "ME & DAUGHT");
    page.wait(
        &mut b,
        "document.querySelector('#fits')?.textContent.includes('Orme & Daughters')",
    );
    page.press(&mut b, "alt+1");
    saved(&page, &mut b, "names Orme & Daughters");
    assert!(matches!(acts(dir.path()).last(), Some(Act::Take(t)) if t.entry == "orme-york-1"));
}

#[test]
fn a_decision_made_while_the_desk_is_down_is_kept_once_it_is_back() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = begin(&mut b, &served);
    let port = served.crash();
    page.press(&mut b, "t");
    page.wait(
        &mut b,
        "document.querySelector('#trouble').textContent.includes('Not saved yet')",
    );
    assert!(acts(dir.path()).is_empty());
    let again = Served::start(dir.path(), port, &[]);
    saved(&page, &mut b, "names Thackwray & Son");
    assert_eq!(acts(dir.path()).len(), 1);

    // Once more, and the window is closed before the desk is back.
    again.crash();
    page.press(&mut b, "x");
    page.wait(
        &mut b,
        "document.querySelector('#trouble').textContent.includes('Not saved yet')",
    );
    let _served = Served::start(dir.path(), port, &[]);
    let other = b.page(1000, 800);
    other.go(&mut b, &format!("http://127.0.0.1:{port}/"));
    for _ in 0..400 {
        if acts(dir.path()).len() > 1 {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    std::thread::sleep(std::time::Duration::from_millis(300));
    assert!(matches!(
        &acts(dir.path())[..],
        [Act::Take(_), Act::Unreadable]
    ));
}

#[test]
fn two_windows_never_decide_over_each_other_unseen() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let (one, two) = (b.page(1000, 800), b.page(1000, 800));
    for page in [&one, &two] {
        page.go(&mut b, &format!("{}/settle/1b", served.address));
    }
    one.front(&mut b);
    one.press(&mut b, "1");
    saved(&one, &mut b, "names Thackwray & Son");
    two.front(&mut b);
    two.press(&mut b, "x");
    two.wait(
        &mut b,
        "document.querySelector('h1')?.textContent.includes('Somebody decided meanwhile')",
    );
    let text = two.eval(&mut b, "document.body.innerText");
    let text = text.as_str().unwrap();
    assert!(
        text.contains("names Thackwray & Son") && text.contains("Can't be read."),
        "{text}"
    );
    assert_eq!(acts(dir.path()).len(), 1);
    two.tab_to(&mut b, "main form button");
    two.press(&mut b, "Enter");
    saved(&two, &mut b, "can't be read");
    assert!(matches!(
        &acts(dir.path())[..],
        [Act::Take(_), Act::Unreadable]
    ));
}

#[test]
fn hostile_texts_stay_texts() {
    const BAD: &str = "\"><img src=x onerror=\"window.bad=1\"><script>window.bad=1</script>'`${1}</textarea>{{7*7}}\u{202e}";
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("s.sqlite");
    let mut store = SqliteStore::open(&file).unwrap();
    let mut mark = firm_label();
    mark.reading = reading(&[(BAD, 0.5)]);
    mark.label = BAD.into();
    let mut p = proposal("framers", BAD, BAD, 0.5);
    p.source = BAD.into();
    p.not_before = BAD.into();
    p.agreement.because = vec![BAD.into()];
    mark.rivals = vec![rivals("framers", vec![p.clone()]), rivals(BAD, vec![p])];
    picture(
        dir.path(),
        &mut store,
        BAD,
        "<img src=x onerror=bad>'&.jpg",
        vec![mark, blind_stamp()],
    );
    let author = dorso::decisions::Author {
        by: BAD.into(),
        ..carrow(BAD)
    };
    store
        .decide(
            MarkId(1),
            &Act::Read {
                lines: vec![BAD.into()],
            },
            &author,
        )
        .unwrap();
    store
        .decide(
            MarkId(1),
            &Act::Answer {
                lines: vec![BAD.into()],
                blind: true,
            },
            &author,
        )
        .unwrap();
    store
        .decide(MarkId(2), &Act::Ask { whom: BAD.into() }, &author)
        .unwrap();
    store.decide(MarkId(2), &Act::Again, &author).unwrap();
    visit(&mut store, BAD);
    drop(store);
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    for path in [
        "/",
        "/picture/1",
        "/picture/1/note",
        "/picture/1/sheet",
        "/compare?mark=1b&mark=2c",
        "/picture/1/note?length=catalogue&language=fr",
        "/picture/1/note?length=label",
        "/settle/1b",
        "/settle/2c",
        "/settle/1b?said=d1",
        "/ask",
        "/take",
        "/visit",
        "/visit/1",
        "/entry?list=framers&entry=thackwray-kendal-2",
        "/find?words=img+onerror&kind=%22%3E%3Cimg%20src%3Dx%3E&year=%3Cimg%20src%3Dx%3E",
        "/second?by=%22%3E%3Cimg%20src%3Dx%20onerror%3Dbad%3E",
        "/?name=%22%3E%3Cscript%3Ewindow.bad%3D1%3C/script%3E",
        "/mark/1b/fits?text=%3Cimg%20src=x%3E",
    ] {
        page.go(&mut b, &format!("{}{path}", served.address));
        let found = page.eval(&mut b, "[window.bad ?? 0, document.querySelectorAll('[onerror], img[src=\"x\"], script:not([src])').length]");
        assert_eq!(found, json!([0, 0]), "{path}");
    }
    // Taken as it stands, and undone again.
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    page.press(&mut b, "1");
    saved(&page, &mut b, "onerror");
    let refused: Vec<&Value> = b
        .events
        .iter()
        .filter(|e| e["method"] == "Page.javascriptDialogOpening")
        .collect();
    assert!(refused.is_empty());
}

#[test]
fn the_mailed_file_works_from_the_disk_and_its_answers_are_taken_in_under_their_name() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let (head, file) = served.post("/ask", "whom=Miss+Dunn&mark=1b&mark=2c");
    assert!(head.contains("attachment; filename=\"questions-"), "{head}");
    assert!(!file.contains("http:") && !file.contains("https:") && !file.contains("127.0.0.1"));
    let mailed = dir.path().join("questions.html");
    std::fs::write(&mailed, &file).unwrap();
    // The desk is not needed to answer.
    let port = served.crash();
    let mut b = Browser::start();
    let page = b.page(1000, 900);
    page.go(&mut b, &format!("file://{}", mailed.display()));
    assert_eq!(
        page.eval(
            &mut b,
            "[...document.images].every(i => i.naturalWidth > 0)"
        ),
        true
    );
    page.tab_to(&mut b, "section[data-mark='1b'] textarea");
    page.text(&mut b, "THACKWRAY & SON");
    page.tab_to(&mut b, "section[data-mark='2c'] [data-unreadable]");
    page.press(&mut b, "Space");
    let answers = page.wait(&mut b, "document.querySelector('#copy').value.includes('\"unreadable\": true') && document.querySelector('#copy').value");
    let downloads = dir.path().join("down");
    b.call(
        None,
        "Browser.setDownloadBehavior",
        json!({ "behavior": "allow", "downloadPath": downloads }),
    );
    page.tab_to(&mut b, "#save");
    page.press(&mut b, "Enter");
    let saved_file = (0..200).find_map(|_| {
        std::thread::sleep(std::time::Duration::from_millis(50));
        let found = std::fs::read_dir(&downloads)
            .ok()?
            .flatten()
            .find(|f| f.path().extension().is_some_and(|e| e == "json"))?;
        std::fs::read_to_string(found.path())
            .ok()
            .filter(|t| t.ends_with('}'))
    });
    assert_eq!(saved_file.as_deref(), answers.as_str());

    let served = Served::start(dir.path(), port, &[]);
    let page = b.page(1000, 900);
    page.go(&mut b, &format!("{}/ask", served.address));
    page.tab_to(&mut b, "#answers");
    page.text(&mut b, saved_file.as_deref().unwrap());
    page.tab_to(&mut b, "form[action='/answers'] button");
    page.press(&mut b, "Enter");
    page.wait(
        &mut b,
        "document.querySelector('.said')?.textContent.includes('2 answers taken in')",
    );
    let journal = open(dir.path()).journal().unwrap();
    let theirs: Vec<_> = journal
        .iter()
        .filter(|d| matches!(d.act, Act::Answer { .. }))
        .collect();
    assert_eq!(theirs.len(), 2);
    assert!(theirs.iter().all(|d| d.author.by == "Miss Dunn"));
    // Again: nothing new; for marks that weren't asked about: refused.
    let coded: String = form(saved_file.as_deref().unwrap());
    let (head, _) = served.post("/answers", &format!("answers={coded}"));
    assert!(head.contains("taken=0&passed=2"), "{head}");
    let other = form(&saved_file.unwrap().replace("\"1b\"", "\"3d\""));
    let (head, _) = served.post("/answers", &format!("answers={other}"));
    assert!(head.contains(" 400 "), "{head}");
}

fn form(text: &str) -> String {
    text.bytes().map(|b| format!("%{b:02X}")).collect()
}

#[test]
fn a_second_reader_sees_nothing_of_the_first_and_differences_are_queued() {
    let dir = tempfile::tempdir().unwrap();
    let file = small_store(dir.path());
    let mut s = SqliteStore::open(&file).unwrap();
    s.decide(
        MarkId(2),
        &Act::Read {
            lines: vec!["ORME".into()],
        },
        &carrow(""),
    )
    .unwrap();
    drop(s);
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    page.go(&mut b, &format!("{}/settle/2c", served.address));
    page.press(&mut b, "w");
    saved(&page, &mut b, "read a second time");
    page.go(
        &mut b,
        &format!("{}/second/2c?by=Miss+Dunn", served.address),
    );
    assert_eq!(
        page.eval(
            &mut b,
            "document.documentElement.outerHTML.includes('ORME')"
        ),
        false
    );
    page.tab_to(&mut b, "#text");
    page.text(&mut b, "OBME");
    page.tab_to(&mut b, "button[value=read]");
    page.press(&mut b, "Enter");
    page.wait(
        &mut b,
        "location.pathname === '/second' && document.readyState === 'complete'",
    );
    page.go(&mut b, &format!("{}/settle/2c", served.address));
    let why = page.eval(&mut b, "document.querySelector('.why').textContent");
    assert!(
        why.as_str()
            .unwrap()
            .contains("Miss Dunn, without having seen that, reads \"OBME\""),
        "{why}"
    );
}

#[test]
fn no_page_has_a_fault_of_accessibility_in_light_or_dark() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&small_store(dir.path())).unwrap();
    s.decide(
        MarkId(2),
        &Act::Read {
            lines: vec!["ORME".into()],
        },
        &carrow("clear in raking light"),
    )
    .unwrap();
    s.decide(MarkId(2), &Act::Again, &carrow("")).unwrap();
    s.decide(
        MarkId(2),
        &Act::Answer {
            lines: vec!["OBME".into()],
            blind: false,
        },
        &carrow(""),
    )
    .unwrap();
    visit(&mut s, "Wharf Street, the autumn sale");
    drop(s);
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    let mut faults = Vec::new();
    for path in [
        "/",
        "/picture/1",
        "/picture/1/note",
        "/picture/1/sheet",
        "/compare?mark=1b&mark=2c",
        "/picture/1/note?length=catalogue&language=fr",
        "/picture/1/note?length=label",
        "/settle/1b?said=d1",
        "/settle/2c",
        "/bring",
        "/take",
        "/visit",
        "/visit/1",
        "/find",
        "/entry?list=framers&entry=thackwray-kendal-2",
        "/find?words=thackwray&year=never",
        "/find?words=thackwrey",
        "/ask",
        "/second?by=x",
        "/second/2c?by=x",
        "/nowhere",
    ] {
        page.go(&mut b, &format!("{}{path}", served.address));
        page.eval(
            &mut b,
            "document.querySelectorAll('details').forEach(d => d.open = true)",
        );
        for (width, scheme) in [
            (360, "light"),
            (820, "dark"),
            (1440, "light"),
            (360, "dark"),
        ] {
            page.size(&mut b, width, 900);
            page.scheme(&mut b, scheme);
            for f in violations(&page, &mut b) {
                faults.push(format!("{path} {width} {scheme} {f}"));
            }
            let wide = page.eval(&mut b, "document.documentElement.scrollWidth - innerWidth");
            if wide.as_i64() > Some(0) {
                faults.push(format!("{path} {width}: {wide} px wider than the window"));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
