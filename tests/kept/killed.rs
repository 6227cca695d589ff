//! Every command that writes, killed at random moments: what was acknowledged is there once, and every file opens.
//!
//! `DORSO_KILLS=5000 cargo test --release --test kept -- killed --nocapture` kills so often; `DORSO_SEED` takes other moments.

use crate::support::*;
use dorso::decisions::{Act, SqliteStore, Store};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
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
    let started = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_dorso"))
        .current_dir(dir)
        .env("DORSO_STORE", dir.join("s.sqlite"))
        .env("DORSO_GAZETTEER", dir.join("lists"))
        .env("XDG_DATA_HOME", dir.join("home"))
        .env("DORSO_BY", "A. Carrow")
        .args(words)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("run");
    if let Some(after) = killed {
        std::thread::sleep(after);
        let _ = child.kill();
    }
    let out = child.wait_with_output().expect("ended");
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    (said, out.status.success(), started.elapsed())
}

/// What a command is called with, `N` standing for a number of its own.
const COMMANDS: [&[&str]; 13] = [
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
    &["export", "--as", "csv,tei", "--out", "out-N"],
    &["export", "--as", "archive", "--out", "all-N.zip"],
    &[
        "take-in",
        "all.zip",
        "--store",
        "taken-N.sqlite",
        "--lists",
        "taken-N",
    ],
    &["note", "--out", "note-N", "--markdown"],
    &["queue", "--beside", "on"],
    &["store", "copy", "--out", "copy-N.sqlite"],
    &["store", "mend", "--out", "mended-N.sqlite"],
];

fn prepared(dir: &Path) {
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
}

fn called(words: &[&str], n: usize) -> Vec<String> {
    words
        .iter()
        .map(|w| w.replace('N', &n.to_string()))
        .collect()
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
        let text = format!("{o:?}");
        let name = text
            .split_once("Lady ")
            .and_then(|(_, rest)| rest.split('"').next());
        add(format!("Lady {}", name.expect("an owner")));
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
    prepared(dir.path());
    let mut random = ChaCha8Rng::seed_from_u64(number("DORSO_SEED", 1));
    let kills = number("DORSO_KILLS", 39) as usize;
    let mut took = [Duration::from_millis(400); COMMANDS.len()];
    let mut promised: Vec<String> = Vec::new();
    let mut acknowledged = 0;
    for n in 0..kills {
        let which = n % COMMANDS.len();
        if n % 1_000 < COMMANDS.len() {
            // How long it takes when it isn't killed
            let whole = called(COMMANDS[which], 900_000 + n);
            fs::write(
                dir.path().join(format!("sheet-{}.csv", 900_000 + n)),
                "name\n",
            )
            .expect("sheet");
            took[which] = dorso(
                dir.path(),
                &whole.iter().map(String::as_str).collect::<Vec<_>>(),
                None,
            )
            .2;
        }
        fs::write(
            dir.path().join(format!("sheet-{n}.csv")),
            format!("name,source\nSheet {n},invented\n"),
        )
        .expect("sheet");
        let words = called(COMMANDS[which], n);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let after = took[which].mul_f64(random.random_range(0.0..1.2));
        let (said, done, _) = dorso(dir.path(), &words, Some(after));
        let acknowledges = done || !said.is_empty();
        acknowledged += usize::from(acknowledges);
        if acknowledges {
            match words[0] {
                "settle" => promised.push(words[3].to_owned()),
                "observe" => promised.push(words[5].to_owned()),
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
        if !done && matches!(words[0], "take-in" | "export" | "store" | "note") {
            let (_, again, _) = dorso(dir.path(), &words, None);
            let out = words
                .iter()
                .position(|w| *w == "--out" || *w == "--store")
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
