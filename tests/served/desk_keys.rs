//! How many keys a person presses for a mark of the samples. Measured on the store that `make demo`
//! leaves, with the truth beside the photographs, in a real browser:
//!
//! `cargo test --release --test desk_keys -- --ignored --nocapture`

use crate::browser::Browser;
use crate::desk::{Served, open};
#[allow(unused_imports)]
use crate::support::*;
use dorso::decisions::{KeptMark, MarkId, State, Store, queue};
use dorso::geometry::{Point, Quad};
use serde_json::Value;
use std::path::Path;

/// Marks settled in one go.
const MARKS: usize = 30;
const DAY: &str = "2024-01-01";

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

#[test]
#[ignore = "needs the store that `make demo` leaves in out/"]
fn thirty_marks_of_the_samples_are_settled_with_few_keys() {
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
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/settle", served.address));
    let (mut first_right, mut others): (Vec<i32>, Vec<i32>) = (Vec::new(), Vec::new());
    let mut seen: Vec<String> = Vec::new();
    while seen.len() < MARKS {
        page.wait(&mut b, "document.readyState === 'complete'");
        let id = page.eval(&mut b, "document.querySelector('#settle').dataset.mark");
        let id = id.as_str().unwrap().to_owned();
        assert!(!seen.contains(&id), "{id} comes back");
        let number = MarkId::parse(&id).unwrap();
        let store = open(dir.path());
        let pictures = store.pictures().unwrap();
        let of = |marks: &[KeptMark]| marks.iter().find(|m| m.id == number).cloned().unwrap();
        let mark = of(&store.marks(None).unwrap());
        let photograph = pictures
            .iter()
            .flat_map(|p| &p.photographs)
            .find(|p| p.id == mark.photograph)
            .unwrap()
            .name();
        let named = truth(&mark, &photograph);
        let mut presses = 0;
        let mut pressed = String::new();
        let mut first = false;
        loop {
            // the proposals as they stand on the page, by their keys
            let shown = page.eval(
                &mut b,
                "[...document.querySelectorAll('input[name=pick]')].map(i => i.value).filter(v => v.startsWith('take:'))",
            );
            let shown: Vec<String> = serde_json::from_value(shown).unwrap();
            let at = named.as_ref().and_then(|(list, entry)| {
                let wanted = format!("take:{list}:{entry}");
                (!entry.is_empty())
                    .then(|| shown.iter().position(|v| *v == wanted))
                    .flatten()
            });
            let read = page.eval(
                &mut b,
                "document.querySelector('#text').value.trim() !== ''",
            );
            let key = match (&named, at) {
                (_, Some(0)) => "t".to_owned(),
                (_, Some(i)) if i < 9 => (i + 1).to_string(),
                (None, _) => "k".to_owned(),
                // the truth tells one name a mark: rivals of another list are left for later
                _ if pressed.ends_with(['s', 'x']) => "o".to_owned(),
                _ if read == true => "s".to_owned(),
                _ => "x".to_owned(),
            };
            first |= presses == 0 && at == Some(0);
            presses += 1;
            pressed.push_str(&key);
            assert!(presses < 6, "{id} {photograph} {pressed} {shown:?}");
            page.press_and_load(&mut b, &key);
            let now = page.eval(
                &mut b,
                "document.querySelector('#settle')?.dataset.mark ?? ''",
            );
            if now.as_str() != Some(&id) {
                break;
            }
        }
        let after = of(&open(dir.path()).marks(None).unwrap());
        let items = std::slice::from_ref(&after);
        let state = queue(items, DAY)[0].state.clone();
        println!("{id:>5} {photograph:<26} {pressed} {named:?} {state:?}");
        assert!(
            matches!(state, State::Settled | State::NotAMark | State::Later),
            "{id}: {state:?}"
        );
        if first { &mut first_right } else { &mut others }.push(presses);
        seen.push(id);
    }
    let median = |v: &mut Vec<i32>| {
        v.sort_unstable();
        v.get(v.len() / 2).copied().unwrap_or(0)
    };
    println!(
        "first proposal right: {} marks, median {} keys; the others: {} marks, median {} keys",
        first_right.len(),
        median(&mut first_right),
        others.len(),
        median(&mut others)
    );
    assert!(f64::from(median(&mut first_right)) <= 2.2);
}
