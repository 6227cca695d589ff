//! Twenty thousand pictures: search, pages of lists, the next mark.

use crate::support::*;
use crate::{Desk, between};
use dorso::decisions::{SqliteStore, Store};
use dorso::geometry::Rect;
use std::path::Path;
use std::process::{Command, Stdio};
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

/// 20,000 pictures with ten marks each: commands, search, pages of lists, the next mark.
/// `cargo run --release --example desk_speed -- many`, with a folder behind it to keep the store for another time
pub fn many(dir: &Path) {
    let file = dir.join("many.sqlite");
    if !file.exists() {
        fill(&file);
    }
    commands(dir, &file);
    pages(&file);
}

fn fill(file: &Path) {
    let mut store = SqliteStore::open(file).expect("a store");
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
}

/// How long a command takes and the most memory that it holds; the middle of three.
fn command(dir: &Path, file: &Path, words: &[&str]) {
    let program = std::env::current_exe().expect("a path");
    let program = program.ancestors().nth(2).expect("target/release");
    let mut took: Vec<(u128, u64, usize)> = Vec::new();
    let long = words.contains(&"--all") || words.contains(&"check");
    let times = if long { 1 } else { 3 };
    for _ in 0..times {
        let begun = Instant::now();
        let child = Command::new(program.join("dorso"))
            .args(words)
            .arg("--store")
            .arg(file)
            .env("DORSO_BY", "A. Carrow")
            .env("XDG_DATA_HOME", dir)
            .stdout(Stdio::piped())
            .spawn()
            .expect("build the program first: cargo build --release");
        let status = format!("/proc/{}/status", child.id());
        let watched = std::thread::spawn(move || most_held(&status));
        let out = child.wait_with_output().expect("ended");
        assert!(out.status.success(), "{words:?}");
        let held = watched.join().expect("watched");
        took.push((begun.elapsed().as_millis(), held, out.stdout.len()));
    }
    took.sort_unstable();
    let (ms, mib, bytes) = took[took.len() / 2];
    println!(
        "dorso {}: {ms} ms, {mib} MiB held, {bytes} bytes told",
        words.join(" ")
    );
}

fn commands(dir: &Path, file: &Path) {
    let picture = format!("{} 10000", invented(10_000));
    let mark = SqliteStore::open(file)
        .and_then(|s| s.due("2024-05-08", None))
        .expect("a queue")[50_000]
        .to_string();
    for words in [
        &["queue"][..],
        &["queue"],
        &["queue", "--json", "--most", "100"],
        &["queue", "--kind", "inscription"],
        &["queue", "--because", "rivals"],
        &["queue", "--picture", &picture],
        &["settle", &mark],
        &["settle", &mark, "read", "ORME & SON"],
        &["settle", &mark, "undo"],
        &["note", &picture],
        &["note", &picture, "--length", "label"],
        &["evidence", &picture],
        &["observe", &picture],
        &["reword", &picture],
        &["export", &picture, "--as", "tei"],
        &["learn", "--try"],
        &["queue", "--json", "--all", "--kind", "inscription"],
        &["store", "check"],
    ] {
        command(dir, file, words);
    }
}

fn pages(file: &Path) {
    let desk = Desk::start(file);
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
    timed(
        "a picture, its sheet",
        &["/picture/10000", "/picture/777/sheet"],
    );
    timed("a note", &["/picture/10000/note", "/picture/4321/note"]);
    timed("asking somebody, a second reading", &["/ask", "/second"]);
    let page = desk.get("/settle");
    let mark = between(&page, "data-mark=\"", "\"").to_owned();
    timed("copies elsewhere", &[&format!("/mark/{mark}/copies")]);
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
