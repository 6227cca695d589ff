//! A walk through the doubtful marks of the samples by the keyboard: is what was asked what was
//! recorded, do question and answers fit one screen, and how many keys does a mark take? On the store
//! that `make demo` leaves, with the truth beside the photographs, in a real browser:
//!
//! (`DORSO_SHOTS` names a folder for pictures of the screens that don't hold what they should)
//!
//! `DORSO_DEMO=out/demo.sqlite cargo test --release --test served -- desk_keys --ignored --nocapture`

use crate::browser::{Browser, Page};
use crate::desk::{Served, open};
#[allow(unused_imports)]
use crate::support::*;
use dorso::decisions::{Act, KeptMark, MarkId, Store};
use dorso::geometry::{Point, Quad};
use serde::Deserialize;
use serde_json::{Value, json};
use std::path::Path;

/// Marks settled in one go.
const MARKS: usize = 40;
/// Windows, px, in which question and first answers have to be in sight without scrolling.
const SCREENS: [(u32, u32); 2] = [(1440, 900), (400, 800)];

/// A page as the person sees it.
#[derive(Debug, Deserialize)]
struct Asked {
    mark: String,
    question: String,
    /// Each answer that has a key: the key, its words, its list or nothing.
    answers: Vec<(String, String)>,
    /// What the button says that `t` presses.
    accept: String,
    text: String,
}

const LOOK: &str = "(() => {
  const text = (e) => e?.innerText.trim() ?? '';
  const keyed = [...document.querySelectorAll('#decide label.choice')].filter((l) => l.querySelector('kbd'));
  return {
    mark: document.querySelector('#settle')?.dataset.mark ?? '',
    question: text(document.querySelector('.question')),
    answers: keyed.map((l) => [text(l.querySelector('kbd')), text(l.querySelector('strong') ?? l.querySelector('.what')).split('\\n')[0]]),
    accept: text([...document.querySelectorAll('button.go')].find((b) => text(b.querySelector('kbd:last-of-type')) === 't')),
    text: document.querySelector('#text')?.value ?? '',
  };
})()";

/// What of the question, the mark's picture, the first answer and the button isn't in sight.
const OUT_OF_SIGHT: &str = "(() => {
  scrollTo(0, 0);
  const same = document.querySelector('.same:has(.question)');
  const first = document.querySelector('#decide label.choice:has(kbd)') ?? same?.querySelector('button') ?? document.querySelector('.reading .line');
  const button = [...document.querySelectorAll('button.go')].find((b) => b.querySelector('kbd:last-of-type')?.innerText.trim() === 't');
  const parts = { question: document.querySelector('.question'), picture: same?.querySelector('.pair') ?? document.querySelector('#crop'), first, button };
  const deeds = document.querySelector('.deeds').getBoundingClientRect();
  return Object.entries(parts).filter(([name, e]) => {
    if (!e) return false;
    const b = e.getBoundingClientRect();
    const floor = name === 'button' || e.closest('.deeds') ? innerHeight : Math.min(innerHeight, deeds.top + 1);
    return b.top < -1 || b.top + Math.min(b.height, 90) > floor + 1;
  }).map(([name, e]) => `${name} ${Math.round(e.getBoundingClientRect().top)}`);
})()";

/// The page is laid out for its window: two frames later every script that answers a new size has run.
const SETTLED: &str =
    "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))";

/// What a mark of the samples truly names: list and entry, both empty where it is on none; `None`
/// where there is no such mark.
fn truth(mark: &KeptMark, photograph: &str) -> Option<(String, String)> {
    let file = Path::new("samples/photographs").join(photograph);
    let text = std::fs::read_to_string(file.with_extension("json")).unwrap();
    let all: Value = serde_json::from_str(&text).unwrap();
    let seen = mark.latest().outline;
    let marks = all["marks"].as_array().unwrap();
    let (best, over) = marks
        .iter()
        .map(|m| {
            let corners: [[f64; 2]; 4] = serde_json::from_value(m["outline"].clone()).unwrap();
            let outline = Quad(corners.map(|[x, y]| Point { x, y }));
            (m, outline.iou(&seen))
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (over > 0.3).then(|| {
        let said = |k: &str| best[k].as_str().unwrap_or("").to_owned();
        (said("list"), said("entry"))
    })
}

/// The list that a question is about, by its words.
fn asked_of(question: &str) -> Option<&'static str> {
    let begins = [
        ("Who is", "artists"),
        ("Which framer", "framers"),
        ("Which artists' colourman", "colourmen"),
        ("Which exhibition", "exhibitions"),
        ("Which retailer", "retailers"),
        ("Which sale room", "sale_rooms"),
    ];
    let found = begins.iter().find(|(b, _)| question.starts_with(b));
    found.map(|(_, list)| *list)
}

/// The key that somebody presses who knows the truth.
fn key_for(asked: &Asked, named: &Option<(String, String)>, name: Option<&str>) -> String {
    let Some(list) = asked_of(&asked.question) else {
        return match named {
            None => "k",
            _ if asked.question.starts_with("Do ") => "t",
            _ if asked.question.starts_with("Does it read") => "t",
            _ if asked.question.starts_with("What does it read") => "x",
            _ => "1",
        }
        .into();
    };
    let (true_list, _) = named.clone().unwrap_or_default();
    let right = name.filter(|_| true_list == list);
    let at = right.and_then(|n| asked.answers.iter().position(|a| a.1.starts_with(n)));
    match at {
        Some(0) => "t".into(),
        Some(i) => asked.answers[i].0.clone(),
        None => "0".into(),
    }
}

/// Whether one decision is what the page said that the key would do.
fn as_said(act: &Act, key: &str, asked: &Asked) -> bool {
    let answer = asked.answers.iter().find(|a| a.0 == key);
    let list = asked_of(&asked.question);
    match act {
        Act::Take(t) => {
            let said = match key {
                "t" => asked.accept.trim_start_matches("Accept: ").to_owned(),
                _ => answer.map(|a| a.1.clone()).unwrap_or_default(),
            };
            list == Some(t.list.as_str()) && said.starts_with(&t.name)
        }
        Act::Unlisted { list: of } => key == "0" && of.as_deref() == list,
        Act::Read { lines } => {
            asked.accept.starts_with("Accept the reading")
                && lines.join("\n").split_whitespace().collect::<String>()
                    == asked.text.split_whitespace().collect::<String>()
        }
        Act::Unreadable => key == "x",
        Act::NotAMark => key == "k",
        Act::Same { .. } => asked.accept.contains("mark") && !asked.accept.contains("Two"),
        Act::Apart { .. } => asked.accept.contains("Two marks"),
        Act::Kind { .. } | Act::Stands { .. } => answer.is_some(),
        _ => false,
    }
}

fn look(page: &Page, b: &mut Browser) -> Asked {
    page.wait(b, "document.readyState === 'complete'");
    serde_json::from_value(page.eval(b, LOOK)).unwrap()
}

#[test]
#[ignore = "needs the store that `make demo` leaves in out/"]
fn what_is_asked_of_forty_marks_of_the_samples_is_what_is_recorded() {
    let dir = tempfile::tempdir().unwrap();
    let demo = std::env::var("DORSO_DEMO").unwrap_or("out/demo.sqlite".into());
    std::fs::copy(demo, dir.path().join("s.sqlite")).expect("run make demo first");
    let lists = dir.path().join("lists");
    std::fs::create_dir(&lists).unwrap();
    for f in std::fs::read_dir("samples/gazetteer").unwrap() {
        let f = f.unwrap();
        std::fs::copy(f.path(), lists.join(f.file_name())).unwrap();
    }
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1440, 900);
    // What is asked needs no photographs, and a picture's place is as large without it.
    page.call(&mut b, "Network.enable", json!({}));
    let without = json!({ "urls": ["*/crop/*", "*/whole/*"] });
    page.call(&mut b, "Network.setBlockedURLs", without);
    page.go(&mut b, &format!("{}/settle", served.address));
    let (mut first_right, mut others): (Vec<i32>, Vec<i32>) = (Vec::new(), Vec::new());
    let (mut differences, mut hidden) = (0, 0);
    let mut seen: Vec<String> = Vec::new();
    while seen.len() < MARKS {
        let mut asked = look(&page, &mut b);
        if asked.mark.is_empty() {
            break;
        }
        let id = asked.mark.clone();
        assert!(!seen.contains(&id), "{id} comes back");
        let number = MarkId::parse(&id).unwrap();
        let store = open(dir.path());
        let mark = store.mark(number).unwrap();
        let pictures = store.pictures().unwrap();
        let mut photographs = pictures.iter().flat_map(|p| &p.photographs);
        let photograph = photographs
            .find(|p| p.id == mark.photograph)
            .unwrap()
            .name();
        let named = truth(&mark, &photograph);
        let name = named.as_ref().and_then(|(list, entry)| {
            let found = mark.proposed(Some(list), entry);
            found.map(|p| p.name.clone())
        });
        let (mut pressed, mut first) = (String::new(), false);
        loop {
            for (w, h) in SCREENS {
                page.size(&mut b, w, h);
                page.eval(&mut b, SETTLED);
                let out: Vec<String> =
                    serde_json::from_value(page.eval(&mut b, OUT_OF_SIGHT)).unwrap();
                hidden += usize::from(!out.is_empty());
                if !out.is_empty() {
                    println!("{id} {w} x {h}: not in sight: {}", out.join(", "));
                    if let Ok(to) = std::env::var("DORSO_SHOTS") {
                        let shot = page.picture(&mut b, false);
                        std::fs::write(format!("{to}/{id}-{w}.png"), shot).unwrap();
                    }
                }
            }
            page.size(&mut b, 1440, 900);
            let key = key_for(&asked, &named, name.as_deref());
            first |= pressed.is_empty() && key == "t";
            let before = open(dir.path()).journal().unwrap().len();
            page.press_and_load(&mut b, &key);
            pressed.push_str(&key);
            let journal = open(dir.path()).journal().unwrap();
            let new: Vec<&Act> = journal[before..].iter().map(|d| &d.act).collect();
            if new.len() != 1 || !as_said(new[0], &key, &asked) {
                differences += 1;
                println!("{id} {key}: asked {asked:?}, recorded {new:?}");
            }
            asked = look(&page, &mut b);
            if asked.mark != id {
                break;
            }
            assert!(pressed.len() < 9, "{id} {photograph} {pressed} {asked:?}");
        }
        println!("{id:>5} {photograph:<26} {pressed} {named:?}");
        let keys = pressed.len() as i32;
        if first { &mut first_right } else { &mut others }.push(keys);
        seen.push(id);
    }
    let median = |v: &mut Vec<i32>| {
        v.sort_unstable();
        v.get(v.len() / 2).copied().unwrap_or(0)
    };
    println!(
        "{} marks; differences {differences}; not all in sight {hidden}; first answer right: {} marks, \
         median {} keys; the others: {} marks, median {} keys",
        seen.len(),
        first_right.len(),
        median(&mut first_right),
        others.len(),
        median(&mut others)
    );
    assert_eq!((differences, hidden), (0, 0));
    assert!(median(&mut first_right) <= 1 && median(&mut others) <= 3);
}
