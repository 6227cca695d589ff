//! Many pictures on a cluster of two workers, executors killed, taken into a store: the same as one machine's reading.
//!
//! `make setup-batch` once, then `cargo test --release --test kept -- batch --ignored --nocapture`; with `DORSO_BATCH=DIR` the
//! same with the photographs of a folder, and its figures.

use dorso::decisions::{SeenMark, SqliteStore, Store};
use flate2::read::MultiGzDecoder;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

const DORSO: &str = env!("CARGO_BIN_EXE_dorso");
const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const CLUSTER: &str = "local-cluster[2,1,1024]";
const KILLS: usize = 2;

/// Python with Spark.
fn python() -> PathBuf {
    let python = Path::new(ROOT).join("batch/.venv/bin/python");
    let java = Command::new("java").arg("-version").output();
    assert!(
        python.is_file() && java.is_ok_and(|j| j.status.success()),
        "Spark and Java are missing: `make setup-batch` installs both"
    );
    python
}

/// Small photographs: a picture with two, two with one, and one that is damaged.
fn made(dir: &Path) {
    let small = |from: &str, to: &str| {
        let file = Path::new(ROOT).join("samples/photographs").join(from);
        let picture = image::open(file).expect("a sample");
        let (w, h) = (picture.width() / 3, picture.height() / 3);
        let to = dir.join(to);
        fs::create_dir_all(to.parent().expect("a folder")).expect("folder");
        let small = picture.resize(w, h, image::imageops::FilterType::Triangle);
        small.save(to).expect("saved");
    };
    small("winter-owner.jpg", "winter/owner.png");
    small("winter-sale-label.jpg", "winter/sale-label.png");
    small("quinces-framer.jpg", "quinces.png");
    small("ferry-framer.jpg", "ferry.png");
    small("oaks-stamp.jpg", "oaks.png");
    fs::write(dir.join("broken.jpg"), b"\xff\xd8\xff\xe0 no more").expect("written");
}

fn job(photographs: &Path, out: &Path, master: &str) -> Command {
    let mut job = Command::new(python());
    job.arg(Path::new(ROOT).join("batch/read_backs.py"))
        .args([photographs, out])
        .args(["--program", DORSO, "--master", master, "--lists"])
        .arg(Path::new(ROOT).join("samples/gazetteer"))
        .env("SPARK_LOCAL_IP", "127.0.0.1")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    job
}

fn said(out: &Output) -> String {
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    let why = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{said}{why}");
    said
}

/// Removes what the workers of a local cluster leave in Spark's own folder: a copy of the program for each executor.
fn swept() {
    let lib = fs::read_dir(Path::new(ROOT).join("batch/.venv/lib")).expect("Python");
    for python in lib.flatten() {
        let left = python.path().join("site-packages/pyspark/work");
        if left.is_dir() {
            fs::remove_dir_all(&left).expect("removed");
        }
    }
}

/// Files with readings.
fn parts(out: &Path) -> BTreeSet<PathBuf> {
    let list = |dir: PathBuf| {
        let all = fs::read_dir(dir).into_iter().flatten().flatten();
        all.map(|f| f.path())
    };
    let waves = list(out.join("readings")).filter(|w| w.is_dir());
    let files = waves.flat_map(list);
    let named = |f: &PathBuf| {
        f.file_name()
            .is_some_and(|n| n.to_string_lossy().starts_with("part-"))
    };
    files.filter(named).collect()
}

fn rows(out: &Path) -> Vec<Value> {
    let mut all = Vec::new();
    for file in parts(out) {
        let mut text = String::new();
        let open = fs::File::open(&file).expect("readings");
        MultiGzDecoder::new(open)
            .read_to_string(&mut text)
            .expect("whole");
        all.extend(
            text.lines()
                .map(|l| serde_json::from_str::<Value>(l).expect("JSON")),
        );
    }
    all
}

/// Every process with its parent and the MiB that it holds (Linux, proc(5)).
fn processes() -> BTreeMap<u32, (u32, u64)> {
    let all = fs::read_dir("/proc").expect("processes").flatten();
    let told = all.filter_map(|p| {
        let status = fs::read_to_string(p.path().join("status")).ok()?;
        let number = |key: &str| -> Option<u64> {
            let line = status.lines().find_map(|l| l.strip_prefix(key))?;
            line.split_whitespace().next()?.parse().ok()
        };
        let pid = p.file_name().to_string_lossy().parse().ok()?;
        Some((
            pid,
            (
                number("PPid:")? as u32,
                number("VmRSS:").unwrap_or(0) / 1024,
            ),
        ))
    });
    told.collect()
}

/// The executors below a job, with what each holds together with its workers and programs, MiB.
fn executors(job: &Child) -> Vec<(u32, u64)> {
    let all = processes();
    let below = |of: u32, pid: u32| {
        let mut at = pid;
        while at != of {
            match all.get(&at) {
                Some((parent, _)) if *parent > 1 => at = *parent,
                _ => return false,
            }
        }
        true
    };
    let is_executor = |pid: u32| {
        let words = fs::read(format!("/proc/{pid}/cmdline")).unwrap_or_default();
        String::from_utf8_lossy(&words).contains("CoarseGrainedExecutorBackend")
    };
    let own = all
        .keys()
        .copied()
        .filter(|p| below(job.id(), *p) && is_executor(*p));
    own.map(|e| {
        let held = all.iter().filter(|(p, _)| below(e, **p));
        (e, held.map(|(_, (_, mib))| mib).sum())
    })
    .collect()
}

/// Runs the job and kills an executor whenever some more was read, so many times.
fn killing(mut job: Command, out: &Path, after: usize) -> (String, u64) {
    let mut running = job.spawn().expect("Python");
    let (mut killed, mut most) = (0, 0);
    while running.try_wait().expect("asked").is_none() {
        let now = executors(&running);
        most = now.iter().map(|e| e.1).max().unwrap_or(0).max(most);
        if killed < KILLS
            && parts(out).len() > killed * after
            && let Some((executor, _)) = now.last()
        {
            let done = Command::new("kill")
                .args(["-9", &executor.to_string()])
                .status();
            assert!(
                done.is_ok_and(|d| d.success()),
                "an executor is there to be killed"
            );
            killed += 1;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    assert_eq!(killed, KILLS, "executors were killed while it read");
    (said(&running.wait_with_output().expect("ended")), most)
}

fn dorso(words: &[&str]) -> Output {
    Command::new(DORSO)
        .args(words)
        .env("RAYON_NUM_THREADS", "1")
        .output()
        .expect("the program")
}

/// What a store keeps of each picture, by the digest of its first photograph.
fn kept(store: &Path) -> BTreeMap<String, (String, Vec<SeenMark>)> {
    let store = SqliteStore::open(store).expect("a store");
    let pictures = store.pictures().expect("pictures").into_iter();
    let told = pictures.map(|p| {
        let marks = store.marks(Some(p.id)).expect("marks");
        let plain = |m: &dorso::decisions::KeptMark| SeenMark {
            label: String::new(),
            ..m.latest().clone()
        };
        let first = p.photographs[0].sha256.clone();
        (first, (p.name, marks.iter().map(plain).collect()))
    });
    told.collect()
}

fn texts(row: &Value) -> Vec<&str> {
    let files = row["photographs"].as_array().expect("photographs");
    files
        .iter()
        .map(|p| p["file"].as_str().expect("a file"))
        .collect()
}

/// Holds each picture's readings against what this machine alone reads; the number of those that were read.
///
/// * `here`: a store in which this machine keeps what it reads.
fn compared(rows: &[Value], lists: &str, here: Option<&PathBuf>) -> usize {
    let mut ok = 0;
    let mut seconds = 0.0;
    for row in rows {
        let files = texts(row);
        let words = ["read", "--json", "--no-store", "--gazetteer", lists, "--"];
        let started = Instant::now();
        let alone = dorso(&[&words[..], &files[..]].concat());
        seconds += started.elapsed().as_secs_f64();
        if row["status"] != "ok" {
            let reason = row["reason"].as_str().expect("a reason");
            assert!(
                !alone.status.success() && reason.contains(files[0]),
                "{row}"
            );
            continue;
        }
        ok += 1;
        let readings = row["readings"].as_str().expect("readings");
        assert!(
            readings.as_bytes() == alone.stdout,
            "{} reads otherwise",
            row["picture"]
        );
        if let Some(here) = here {
            let words = [
                "read",
                "--gazetteer",
                lists,
                "--store",
                here.to_str().expect("a name"),
                "--",
            ];
            // As the batch names it
            let folder = Path::new(files[0])
                .parent()
                .and_then(Path::to_str)
                .expect("a folder");
            let of = if files.len() > 1 {
                &[folder][..]
            } else {
                &files[..]
            };
            assert!(dorso(&[&words[..], of].concat()).status.success());
        }
    }
    println!("one machine, one thread, one picture after the other: {seconds:.0} s");
    ok
}

#[test]
#[ignore = "needs Spark and some minutes: make setup-batch, then -- batch --ignored"]
fn a_batch_reads_as_one_machine_whatever_dies() {
    let dir = tempfile::tempdir().expect("folder");
    let dir = dir.path();
    let given = std::env::var_os("DORSO_BATCH").map(PathBuf::from);
    let photographs = given.clone().unwrap_or_else(|| dir.join("photographs"));
    if given.is_none() {
        made(&photographs);
    }
    let (out, lists) = (dir.join("out"), Path::new(ROOT).join("samples/gazetteer"));
    let lists = lists.to_str().expect("a name");
    let began = Instant::now();
    let after = if given.is_some() { 40 } else { 1 };
    let (told, most) = killing(job(&photographs, &out, CLUSTER), &out, after);
    swept();
    println!(
        "{told}{:.0} s, an executor held at most {most} MiB",
        began.elapsed().as_secs_f64()
    );
    let rows = rows(&out);
    let named: BTreeSet<&str> = rows.iter().filter_map(|r| r["picture"].as_str()).collect();
    assert_eq!(named.len(), rows.len(), "every picture once");
    assert!(
        told.contains(&format!("pictures: {}; ", rows.len())),
        "{told}"
    );

    let (there, here) = (dir.join("there.sqlite"), dir.join("here.sqlite"));
    let ok = compared(&rows, lists, given.is_none().then_some(&here));
    let before = parts(&out);
    let rerun = said(
        &job(&photographs, &out, "local[1]")
            .output()
            .expect("Python"),
    );
    assert!(
        rerun.contains("to read: 0\n") && parts(&out) == before,
        "{rerun}"
    );
    taken_in(&out, &there, lists, (ok, rows.len() - ok));
    if given.is_none() {
        assert_eq!(kept(&there), kept(&here), "as reading here keeps it");
        changed(&photographs, &out, lists, &there);
    }
}

#[test]
fn what_was_read_elsewhere_is_taken_in_once_and_as_reading_here_keeps_it() {
    let dir = tempfile::tempdir().expect("folder");
    let dir = dir.path();
    let lists = Path::new(ROOT).join("samples/gazetteer");
    let lists = lists.to_str().expect("a name");
    let name = |f: &str| dir.join(f).to_str().expect("a name").to_owned();
    let (photo, run) = (name("oaks.png"), name("run.json"));
    let sample = Path::new(ROOT).join("samples/photographs/oaks-stamp.jpg");
    let sample = image::open(sample).expect("a sample");
    sample
        .thumbnail(700, 700)
        .to_rgb8()
        .save(&photo)
        .expect("saved");
    let read = |more: &[&str]| {
        dorso(&[&["read", "--gazetteer", lists][..], more, &["--", &photo]].concat())
    };
    said(&read(&["--no-store", "--keep-run", &run]));
    // A row as a task of the batch leaves it, and one of a picture that couldn't be read
    let text = fs::read_to_string(&run).expect("a run");
    let rows = [
        serde_json::json!({ "picture": "oaks.png", "run": text }),
        serde_json::json!({ "picture": "broken.jpg" }),
    ];
    let wave = dir.join("out/readings/1");
    fs::create_dir_all(&wave).expect("folder");
    let lines: Vec<String> = rows.iter().map(|r| format!("{r}\n")).collect();
    fs::write(wave.join("part-00000.json"), lines.concat()).expect("written");
    let (out, there, here) = (
        name("out"),
        dir.join("there.sqlite"),
        dir.join("here.sqlite"),
    );
    let store = there.to_str().expect("a name");
    let take = [
        "take-in",
        "--readings",
        &out,
        "--gazetteer",
        lists,
        "--store",
        store,
    ];
    let told = said(&dorso(&take));
    assert!(
        told.contains("taken in: 1; known already: 0; refused: 0; not read by the batch: 1"),
        "{told}"
    );
    said(&read(&["--store", here.to_str().expect("a name")]));
    assert_eq!(kept(&there), kept(&here));
    let told = said(&dorso(&take));
    assert!(told.contains("taken in: 0; known already: 1"), "{told}");
    // Other bytes than those that were read are refused
    fs::write(&photo, b"another").expect("written");
    fs::remove_file(&there).expect("removed");
    let refused = dorso(&take);
    assert_eq!(refused.status.code(), Some(1));
    assert!(
        String::from_utf8_lossy(&refused.stderr).contains("it isn't the photograph that was read")
    );
}

/// Takes in twice.
fn taken_in(out: &Path, store: &Path, lists: &str, (ok, not): (usize, usize)) {
    let (out, file) = (
        out.to_str().expect("a name"),
        store.to_str().expect("a name"),
    );
    let words = [
        "take-in",
        "--readings",
        out,
        "--store",
        file,
        "--gazetteer",
        lists,
    ];
    let first = said(&dorso(&words));
    let expected = format!(
        "pictures taken in: {ok}; known already: 0; refused: 0; not read by the batch: {not}\n"
    );
    assert_eq!(first, expected);
    let bytes = fs::read(store).expect("a store");
    let second = said(&dorso(&words));
    let expected = format!(
        "pictures taken in: 0; known already: {ok}; refused: 0; not read by the batch: {not}\n"
    );
    assert_eq!(second, expected);
    assert!(
        fs::read(store).expect("a store") == bytes,
        "twice taken in is once kept"
    );
}

/// Another photograph in one's place: taking in refuses it, the next run reads it alone, the tables tell of it.
fn changed(photographs: &Path, out: &Path, lists: &str, store: &Path) {
    fs::copy(photographs.join("oaks.png"), photographs.join("ferry.png")).expect("copied");
    let (place, file) = (
        out.to_str().expect("a name"),
        store.to_str().expect("a name"),
    );
    let refused = dorso(&[
        "take-in",
        "--readings",
        place,
        "--store",
        file,
        "--gazetteer",
        lists,
    ]);
    let why = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(1));
    assert!(
        why.contains("ferry.png") && why.contains("its bytes are others"),
        "{why}"
    );
    let again = said(&job(photographs, out, "local[1]").output().expect("Python"));
    assert!(
        again.contains("to read: 1\n") && again.contains("failed: 1; ok: 4\n"),
        "{again}"
    );
    let tell = "import sys\nfrom pyspark.sql import SparkSession\n\
        spark = SparkSession.builder.master('local[1]').getOrCreate()\n\
        for name in ('pictures', 'marks', 'statements'):\n    \
        table = spark.read.parquet(f'{sys.argv[1]}/{name}')\n    \
        print(name, table.count(), table.select('picture').distinct().count())\n";
    let told = Command::new(python())
        .args(["-c", tell, place])
        .env("SPARK_LOCAL_IP", "127.0.0.1")
        .output();
    let told = said(&told.expect("Python"));
    let newest: BTreeMap<String, Value> = rows(out)
        .into_iter()
        .map(|r| (r["picture"].as_str().expect("a name").to_owned(), r))
        .collect();
    let readings = newest.values().filter_map(|r| r["readings"].as_str());
    let marks: Vec<Value> = readings
        .flat_map(|r| {
            serde_json::from_str::<Value>(r).expect("JSON")["marks"]
                .as_array()
                .cloned()
        })
        .flatten()
        .collect();
    let statements: usize = marks
        .iter()
        .filter_map(|m| Some(m["statements"].as_array()?.len()))
        .sum();
    assert!(told.contains("pictures 5 5\n"), "{told}");
    assert!(told.contains(&format!("marks {} ", marks.len())), "{told}");
    assert!(
        told.contains(&format!("statements {statements} ")),
        "{told}"
    );
}
