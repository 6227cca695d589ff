//! Every command that writes, killed at random moments: what was acknowledged is there once, and every file opens.
//!
//! `DORSO_KILLS=5000 cargo test --release --test kept -- killed --nocapture` kills so often; `DORSO_SEED` takes other moments.

use crate::guarded::started;
use crate::support::*;
use dorso::decisions::{Act, MarkId, Said, Sight, SqliteStore, Store};
use dorso::readings::learnt;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

const HEAD: &str = "entry,name,variants,trade,address,town,from,to,source,note\n";

fn number(variable: &str, else_: u64) -> u64 {
    std::env::var(variable)
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(else_)
}

/// Runs the program, killed after a while if one is given; what it had printed until then.
fn dorso(dir: &Path, words: &[&str], killed: Option<Duration>) -> (String, bool, Duration) {
    let from = Instant::now();
    let mut child = started(dir, words);
    if let Some(after) = killed {
        std::thread::sleep(after);
        let _ = child.kill();
    }
    let out = child.wait_with_output().expect("ended");
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    (said, out.status.success(), from.elapsed())
}

/// What a command is called with, `N` standing for a number of its own.
const COMMANDS: [&[&str]; 18] = [
    &["settle", "1b", "read", "TEXT N"],
    &["settle", "2c", "ask", "Miss N"],
    &[
        "observe", "mill", "--event", "owned", "--who", "Lady N", "--source", "invented",
    ],
    &[
        "gazetteer",
        "add",
        "--list",
        "framers",
        "--name",
        "Firm N",
        "--source",
        "invented",
    ],
    &["gazetteer", "import", "sheet-N.csv", "--list", "framers"],
    &["gazetteer", "start", "start-N"],
    &["export", "mill", "--as", "csv,tei", "--out", "out-N"],
    &["export", "--as", "archive", "--out", "all-N.zip"],
    &[
        "take-in",
        "all.zip",
        "--store",
        "taken-N.sqlite",
        "--lists",
        "taken-N",
    ],
    &["note", "mill", "--out", "note-N", "--markdown"],
    &["queue", "--beside", "on"],
    &["store", "copy", "--out", "copy-N.sqlite"],
    &["store", "mend", "--out", "mended-N.sqlite"],
    &["read", "--picture", "Picture N", "photo-N.png"],
    &["enhance", "photo.png", "--out", "cleaned-N"],
    &["reword", "mill", "PASSAGE", "--to", "Worded N."],
    &["learn", "--why", "Lesson N"],
    &["evaluate", "known", "--report", "report-N"],
];

/// Makes ready what the commands work on; the key of a passage of the note.
fn prepared(dir: &Path) -> String {
    let mut s = SqliteStore::open(&dir.join("s.sqlite")).expect("a store");
    let mut r = run(vec![photograph(
        "mill.jpg",
        'a',
        vec![firm_label(), blind_stamp(), chalk_number()],
    )]);
    r.picture = Some("mill".into());
    s.record_run(&r).expect("recorded");
    fs::create_dir(dir.join("lists")).expect("folder");
    fs::write(dir.join("lists/framers.csv"), HEAD).expect("list");
    let (_, done, _) = dorso(
        dir,
        &["export", "--as", "archive", "--out", "all.zip"],
        None,
    );
    assert!(done);
    fs::create_dir(dir.join("known")).expect("folder");
    let at = [dir.join("photo.png"), dir.join("known/back.png")];
    at.iter().for_each(|file| {
        fs::write(file, label()).expect("photograph");
    });
    fs::write(dir.join("known/back.txt"), "417\n").expect("truth");
    let (said, done, _) = dorso(dir, &["reword", "mill", "--json"], None);
    assert!(done);
    let said: serde_json::Value = serde_json::from_str(&said).expect("JSON");
    let key = said["passages"][0]["passage"].as_str();
    key.expect("a passage").to_owned()
}

/// A small photograph of a label with strokes on it.
fn label() -> Vec<u8> {
    let picture = image::RgbImage::from_fn(260, 180, |x, y| {
        let paper = (40..220).contains(&x) && (40..140).contains(&y);
        let stroke = paper && (70..110).contains(&y) && x % 26 < 5 && (60..200).contains(&x);
        let grain = (x * 31 + y * 17) % 13;
        let v = if stroke {
            40
        } else if paper {
            225
        } else {
            110
        };
        image::Rgb([v + grain as u8, v, v - 20])
    });
    let mut out = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut out, image::ImageFormat::Png)
        .expect("coded");
    out.into_inner()
}

/// What a command works on that is its own.
fn made_ready(dir: &Path, which: usize, n: usize) {
    let sheet = format!("name,source\nSheet {n},invented\n");
    fs::write(dir.join(format!("sheet-{n}.csv")), sheet).expect("sheet");
    match COMMANDS[which][0] {
        "read" => {
            // Bytes behind the end make it another photograph
            let bytes = [label(), n.to_le_bytes().to_vec()].concat();
            fs::write(dir.join(format!("photo-{n}.png")), bytes).expect("photograph");
        }
        "learn" => {
            let said = Act::Says(Said {
                words: format!("lesson {n}"),
                role: None,
                value: String::new(),
            });
            let mut store = SqliteStore::open(&dir.join("s.sqlite")).expect("a store");
            store.decide(MarkId(1), &said, &carrow("")).expect("said");
        }
        _ => {}
    }
}

fn called(words: &[&str], passage: &str, n: usize) -> Vec<String> {
    let word = |w: &&str| match *w {
        "PASSAGE" => passage.to_owned(),
        w => w.replace('N', &n.to_string()),
    };
    words.iter().map(word).collect()
}

/// How often something said to be kept stands in the store or the list.
fn kept(dir: &Path) -> BTreeMap<String, usize> {
    let store = SqliteStore::open(&dir.join("s.sqlite")).expect("the store opens");
    let mut all = BTreeMap::new();
    let mut add = |what: String| *all.entry(what).or_insert(0) += 1;
    for d in store.journal().expect("the journal") {
        match d.act {
            Act::Read { lines } => add(lines.join(" ")),
            Act::Ask { whom } => add(whom),
            _ => {}
        }
    }
    for o in store.observations(None).expect("observations") {
        match o.sight {
            Sight::Event(happening) => add(happening.who),
            Sight::Wording { words, .. } => add(words),
            _ => {}
        }
    }
    for picture in store.pictures().expect("pictures") {
        assert_eq!(picture.photographs.len(), 1, "{}", picture.name);
        add(picture.name);
    }
    let learnt = learnt::rows(&learnt::beside(&dir.join("s.sqlite"))).expect("what was learnt");
    for (at, row) in learnt.into_iter().enumerate() {
        assert_eq!(row.number, at + 1, "no number twice");
        add(row.why);
    }
    let list = fs::read_to_string(dir.join("lists/framers.csv")).expect("the list");
    assert!(
        list.starts_with(HEAD) && list.ends_with('\n'),
        "the list is whole"
    );
    let mut keys = BTreeMap::new();
    for row in list.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        assert_eq!(cells.len(), 10, "{row}");
        *keys.entry(cells[0].to_owned()).or_insert(0) += 1;
        add(cells[1].to_owned());
    }
    assert!(keys.values().all(|n| *n == 1), "no key twice: {keys:?}");
    all
}

#[test]
fn a_program_killed_at_any_moment_loses_nothing_and_doubles_nothing() {
    let dir = tempfile::tempdir().expect("folder");
    let passage = prepared(dir.path());
    let mut random = ChaCha8Rng::seed_from_u64(number("DORSO_SEED", 1));
    let kills = number("DORSO_KILLS", 36) as usize;
    let mut took = [Duration::from_millis(400); COMMANDS.len()];
    let mut promised: Vec<String> = Vec::new();
    let mut acknowledged = 0;
    for n in 0..kills {
        let which = n % COMMANDS.len();
        if n % 1_000 < COMMANDS.len() {
            // How long it takes when it isn't killed
            let whole = 900_000 + n;
            made_ready(dir.path(), which, whole);
            let words = called(COMMANDS[which], &passage, whole);
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let (said, done, time) = dorso(dir.path(), &words, None);
            // Of a note the photograph is missing, and the rest is written
            assert!(
                done || (words[0] == "note" && !said.is_empty()),
                "{words:?}"
            );
            took[which] = time;
        }
        made_ready(dir.path(), which, n);
        let words = called(COMMANDS[which], &passage, n);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let after = took[which].mul_f64(random.random_range(0.0..1.2));
        let (said, done, _) = dorso(dir.path(), &words, Some(after));
        let acknowledges = done || !said.is_empty();
        acknowledged += usize::from(acknowledges);
        if acknowledges {
            match words[0] {
                "settle" => promised.push(words[3].to_owned()),
                "observe" => promised.push(words[5].to_owned()),
                "read" => promised.push(words[2].to_owned()),
                "reword" => promised.push(words[4].to_owned()),
                "learn" => promised.push(words[2].to_owned()),
                "gazetteer" if words[1] == "add" => promised.push(words[5].to_owned()),
                "gazetteer" if words[1] == "import" => promised.push(format!("Sheet {n}")),
                "take-in" | "store" => {
                    let file = words
                        .iter()
                        .find(|w| w.ends_with(".sqlite"))
                        .expect("a file");
                    SqliteStore::open_existing(&dir.path().join(file)).expect("it opens");
                }
                _ => {}
            }
        }
        // What a kill left is in nobody's way: the same goes through, or is there already
        if !done
            && matches!(
                words[0],
                "take-in" | "export" | "store" | "note" | "enhance" | "evaluate"
            )
        {
            let (_, again, _) = dorso(dir.path(), &words, None);
            let out = words
                .iter()
                .position(|w| ["--out", "--store", "--report"].contains(w))
                .map(|i| words[i + 1]);
            assert!(
                again || out.is_some_and(|o| dir.path().join(o).exists()),
                "{words:?}"
            );
        }
    }
    let there = kept(dir.path());
    for what in &promised {
        assert_eq!(there.get(what), Some(&1), "{what}");
    }
    assert!(there.values().all(|n| *n == 1), "{there:?}");
    println!(
        "{kills} kills, {acknowledged} acknowledged before, {} records promised",
        promised.len()
    );
}
