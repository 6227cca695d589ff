//! Twenty thousand pictures: search, pages of lists, the next mark.

use crate::support::*;
use crate::{Desk, between};
use dorso::decisions::{SqliteStore, Store};
use dorso::geometry::Rect;
use std::path::Path;
use std::time::{Duration, Instant};

/// Pictures of [`many`], marks on each.
const MANY: (usize, usize) = (20_000, 10);

/// A name of three syllables.
fn invented(n: usize) -> String {
    const SYLLABLES: [&str; 16] = [
        "ar", "bel", "cor", "dun", "el", "fen", "gar", "hol", "is", "kel", "lor", "mar", "nor",
        "ost", "pen", "wren",
    ];
    let each = [n % 16, n / 16 % 16, n / 256 % 16].map(|i| SYLLABLES[i]);
    each.concat().to_uppercase()
}

/// 20,000 pictures with ten marks each: search, pages of lists, the next mark.
/// `cargo run --release --example desk_speed -- many`
pub fn many(dir: &Path) {
    let file = dir.join("many.sqlite");
    let mut store = SqliteStore::open(&file).expect("a store");
    let begun = Instant::now();
    for n in 0..MANY.0 {
        let marks = (0..MANY.1).map(|m| {
            let at = n * MANY.1 + m;
            let mut mark = if m % 2 == 0 {
                firm_label()
            } else {
                chalk_number()
            };
            mark.label = format!("m{}", m + 1);
            mark.outline = Rect::new(
                20 + 380 * (m as i32 % 2),
                10 + 110 * (m as i32 / 2),
                340,
                100,
            )
            .quad();
            let lines = [
                (format!("{} & SON", invented(at)), 0.9),
                (format!("{} {}", invented(at * 7 + 3), 1500 + at % 500), 0.9),
                (format!("{at}"), 0.95),
            ];
            let lines: Vec<(&str, f64)> = lines.iter().map(|l| (l.0.as_str(), l.1)).collect();
            mark.reading = reading(&lines);
            mark
        });
        let mut seen = photograph(&format!("{n}.jpg"), 'a', marks.collect());
        seen.sha256 = format!("{n:064x}");
        let mut r = run(vec![seen]);
        r.picture = Some(format!("{} {n}", invented(n)));
        store.record_run(&r).expect("recorded");
    }
    drop(store);
    println!(
        "{} marks recorded in {:.0} s",
        MANY.0 * MANY.1,
        begun.elapsed().as_secs_f64()
    );
    let desk = Desk::start(&file);
    let timed = |what: &str, paths: &[&str]| {
        let mut took: Vec<u128> = Vec::new();
        for path in paths.iter().cycle().take(15) {
            let begun = Instant::now();
            assert!(desk.get(path).contains(" 200 "), "{path}");
            took.push(begun.elapsed().as_millis());
        }
        took.sort_unstable();
        println!("{what}: median {} ms, worst of 15 {} ms", took[7], took[14]);
    };
    std::thread::sleep(Duration::from_secs(20));
    timed(
        "search, words as they stand",
        &[
            "/find?words=wrenfengar",
            "/find?words=belmar+son",
            "/find?words=123456",
        ],
    );
    timed(
        "search, frequent words",
        &["/find?words=son", "/find?words=wren"],
    );
    timed(
        "search, damaged words",
        &[
            "/find?words=wrenfangar",
            "/find?words=cordumel",
            "/find?words=wrenfxngar+san",
        ],
    );
    timed(
        "marks by kind, doubt, firm, year",
        &[
            "/find?kind=inscription",
            "/find?doubt=rivals",
            "/find?firm=Thackwray",
            "/find?year=1600-10",
        ],
    );
    timed(
        "all marks, first and last page",
        &["/find", "/find?from=199980"],
    );
    timed(
        "pictures, first and last page",
        &["/", "/?from=19980", "/?name=wren"],
    );
    timed("the first mark", &["/settle"]);
    next_of_many(&desk);
}

/// From the key to the page of the next mark.
fn next_of_many(desk: &Desk) {
    let page = desk.get("/settle");
    let token = between(&page, "name=\"dorso-token\" content=\"", "\"").to_owned();
    let mut now = "/settle".to_owned();
    let mut took: Vec<u128> = Vec::new();
    for n in 0..25 {
        let page = desk.get(&now);
        let mark = between(&page, "data-mark=\"", "\"").to_owned();
        let seen = between(&page, "name=\"seen\" value=\"", "\"").to_owned();
        let begun = Instant::now();
        let body = format!("token={token}&act=unreadable&seen={seen}&once=many-{n:08}");
        let answer = desk.post(&format!("/mark/{mark}/decide"), &body);
        now = between(&answer, "\"go\":\"", "\"").to_owned();
        desk.get(&now);
        took.push(begun.elapsed().as_millis());
    }
    took.sort_unstable();
    println!(
        "next mark, from the key: median {} ms, worst of 25 {} ms",
        took[12], took[24]
    );
}
