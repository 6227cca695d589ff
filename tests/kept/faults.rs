//! Every fault in intake, lists, store or output gives one clear sentence on standard error and the
//! right exit status, and the good files of the same run are still read.

use crate::support::png_head;
use assert_cmd::Command;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::sync::Once;

fn dorso() -> Command {
    let mut c = Command::cargo_bin("dorso").expect("the program");
    c.env_remove("DORSO_STORE").env_remove("DORSO_GAZETTEER");
    c.env("XDG_DATA_HOME", home());
    c
}

/// A home of the tests' own: what another version kept of its lists in the user's would be told of.
fn home() -> PathBuf {
    static CLEARED: Once = Once::new();
    let home = Path::new(env!("CARGO_TARGET_TMPDIR")).join("faults");
    CLEARED.call_once(|| drop(fs::remove_dir_all(&home)));
    home
}

fn good() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/real/page.png")
}

fn told(out: &Output) -> String {
    String::from_utf8_lossy(&out.stderr).into_owned()
}

/// Reads a bad file beside a good one: status 1, one sentence that names the bad file and says what
/// to do, and the good one in the JSON.
fn beside_a_good_one(bad: &Path) -> String {
    let out = dorso()
        .args(["read", "--no-store", "--json"])
        .arg(bad)
        .arg(good())
        .output()
        .expect("run");
    let words = told(&out);
    assert_eq!(out.status.code(), Some(1), "{words}");
    let lines: Vec<&str> = words.lines().collect();
    assert_eq!(lines.len(), 1, "one sentence: {words}");
    let name = bad.file_name().expect("name").to_string_lossy();
    assert!(lines[0].contains(&*name), "{words}");
    assert!(lines[0].contains("; "), "says what to do: {words}");
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let photos = json["photos"].as_array().expect("photos");
    assert_eq!(photos.len(), 1);
    assert!(
        photos[0]["file"]
            .as_str()
            .is_some_and(|f| f.ends_with("page.png"))
    );
    words
}

fn written(dir: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let file = dir.join(name);
    fs::write(&file, bytes).expect("write");
    file
}

#[test]
fn a_missing_file_is_named() {
    let dir = tempfile::tempdir().expect("folder");
    beside_a_good_one(&dir.path().join("gone.jpg"));
}

#[test]
fn an_empty_file_is_named() {
    let dir = tempfile::tempdir().expect("folder");
    let words = beside_a_good_one(&written(dir.path(), "empty.jpg", b""));
    assert!(words.contains("empty"), "{words}");
}

#[test]
fn a_text_file_named_jpg_is_named() {
    let dir = tempfile::tempdir().expect("folder");
    beside_a_good_one(&written(
        dir.path(),
        "letter.jpg",
        b"Dear Sir, the frame is ready.\n",
    ));
}

#[test]
fn a_jpeg_that_was_cut_short_is_named() {
    let dir = tempfile::tempdir().expect("folder");
    let picture = image::RgbImage::from_fn(400, 300, |x, y| {
        image::Rgb([(x * 7 % 251) as u8, (y * 5 % 241) as u8, 90])
    });
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new(&mut bytes)
        .encode_image(&picture)
        .expect("encode");
    bytes.truncate(bytes.len() / 2);
    beside_a_good_one(&written(dir.path(), "half.jpg", &bytes));
}

/// The head of a PNG of 30,000 × 30,000 px without its pixels: it must be refused by its size.
#[test]
fn a_picture_far_too_large_is_refused_before_it_is_unpacked() {
    let dir = tempfile::tempdir().expect("folder");
    let bytes = png_head(30_000, 30_000, 8);
    let words = beside_a_good_one(&written(dir.path(), "huge.png", &bytes));
    assert!(
        words.contains("30000") || words.contains("30,000"),
        "{words}"
    );
}

#[test]
fn a_folder_without_images_is_named() {
    let dir = tempfile::tempdir().expect("folder");
    let sub = dir.path().join("letters");
    fs::create_dir(&sub).expect("folder");
    written(&sub, "note.txt", b"no picture here");
    beside_a_good_one(&sub);
}

#[test]
fn a_list_with_a_broken_quote_is_named_and_its_other_rows_are_used() {
    let dir = tempfile::tempdir().expect("folder");
    written(
        dir.path(),
        "framers.csv",
        b"entry,name,variants,trade,address,town,from,to,source,note\n\
          wintle-1,Amos Wintle,,carver and gilder,4 Cross Row,Rothcaster,1850,1861,invented,\n\
          broken-1,\"Ellis Broke,,carver,2 Cross Row,Rothcaster,1850,1861,invented,\n",
    );
    let out = dorso()
        .args(["match", "--json", "--gazetteer"])
        .arg(dir.path())
        .arg("AMOS WINTLE / CARVER & GILDER / 4 CROSS ROW / ROTHCASTER")
        .output()
        .expect("run");
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    assert_eq!(json["proposals"][0]["entry"], "wintle-1", "{json}");
    let check = dorso()
        .args(["gazetteer", "check"])
        .arg(dir.path())
        .output()
        .expect("run");
    assert_eq!(check.status.code(), Some(1));
    let all = told(&check) + &String::from_utf8_lossy(&check.stdout);
    assert!(
        all.contains("framers.csv") && all.contains("row 3"),
        "{all}"
    );
}

#[test]
fn a_full_disk_is_told_and_nothing_is_half_said() {
    let full = fs::OpenOptions::new().write(true).open("/dev/full");
    let Ok(full) = full else {
        panic!("this test needs /dev/full, which every Linux machine has");
    };
    let out = std::process::Command::new(assert_cmd::cargo::cargo_bin("dorso"))
        .args(["match", "AMOS WINTLE"])
        .stdout(Stdio::from(full))
        .stderr(Stdio::piped())
        .output()
        .expect("run");
    assert_eq!(out.status.code(), Some(1));
    let words = told(&out);
    assert!(
        words.contains("can't be written") && words.contains("make room"),
        "{words}"
    );
}

#[test]
fn a_store_of_a_newer_version_is_left_as_it_is() {
    let dir = tempfile::tempdir().expect("folder");
    let store = dir.path().join("store.sqlite");
    let made = dorso()
        .args(["read", "--store"])
        .arg(&store)
        .arg(good())
        .output()
        .expect("run");
    assert_eq!(made.status.code(), Some(0), "{}", told(&made));
    let db = rusqlite::Connection::open(&store).expect("database");
    db.pragma_update(None, "user_version", 9_999)
        .expect("version");
    db.close().expect("closed");
    let before = fs::read(&store).expect("bytes");
    let out = dorso()
        .args(["read", "--store"])
        .arg(&store)
        .arg(good())
        .output()
        .expect("run");
    assert_eq!(out.status.code(), Some(1));
    assert!(told(&out).contains("newer"), "{}", told(&out));
    assert_eq!(fs::read(&store).expect("bytes"), before);
}

#[test]
fn wrong_usage_has_its_own_status() {
    for wrong in [&["read"][..], &["settel"], &["match", "--lst", "x", "y"]] {
        let out = dorso().args(wrong).output().expect("run");
        assert_eq!(out.status.code(), Some(2), "{wrong:?}: {}", told(&out));
        assert!(out.stdout.is_empty());
    }
}

#[test]
fn a_photograph_is_never_altered() {
    let dir = tempfile::tempdir().expect("folder");
    let copy = dir.path().join("page.png");
    fs::copy(good(), &copy).expect("copy");
    let mut rights = fs::metadata(&copy).expect("rights").permissions();
    rights.set_readonly(true);
    fs::set_permissions(&copy, rights).expect("rights");
    let before = fs::read(&copy).expect("bytes");
    let store = dir.path().join("store.sqlite");
    let out = dorso()
        .args(["read", "--store"])
        .arg(&store)
        .arg(&copy)
        .output()
        .expect("run");
    assert_eq!(out.status.code(), Some(0), "{}", told(&out));
    assert_eq!(fs::read(&copy).expect("bytes"), before);
    // A photograph is not copied into the store without asking.
    let kept = fs::read(&store).expect("store");
    assert!(
        !kept
            .windows(64)
            .any(|w| w == &before[before.len() / 2..before.len() / 2 + 64])
    );
    let _ = std::io::stdout().flush();
}
