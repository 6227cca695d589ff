//! How quick the desk is: the first mark after the start and the next ones on a store of 10,000
//! marks, and steps of zoom on a photograph of 50 megapixels.
//!
//! ```sh
//! cargo build --release && cargo run --release --example desk_speed
//! ```
//! The store is invented; its photographs are copies of one sample with a few bytes behind the end
//! of the JPEG, so that each has a hash of its own. Times are those of the whole answer at the
//! client, the mark's picture included, on a connection of its own.

#[path = "../../tests/support/mod.rs"]
mod support;

mod many;

use dorso::decisions::{
    Joined, KeptPhotograph, Laying, Placed, Recorded, SqliteStore, Store, Whole,
};
use dorso::geometry::{Homography, Rect};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use support::*;

const PICTURES: usize = 1000;
const MARKS: usize = 10;
/// Pictures whose photograph is on the disk: those at the head of the queue.
const WITH_FILE: usize = 40;

fn main() {
    let dir = tempfile::tempdir().expect("a folder");
    let store = dir.path().join("s.sqlite");
    if std::env::args().any(|a| a == "backs") {
        return backs(dir.path());
    }
    if std::env::args().any(|a| a == "many") {
        // A folder that is named keeps the store for another time
        let kept = std::env::args().skip_while(|a| a != "many").nth(1);
        return many::many(kept.as_deref().map_or(dir.path(), Path::new));
    }
    fill(dir.path(), &store);
    first_and_next(&store);
    zoom(dir.path());
}

/// Pictures of [`backs`], photographs of each, marks on each photograph.
const BACKS: (usize, usize, usize) = (500, 5, 6);

/// 500 pictures with five photographs each, every mark on all of them: the queue, a picture's page, a
/// mark's page and a note. `cargo run --release --example desk_speed -- backs`
fn backs(dir: &Path) {
    let file = dir.join("backs.sqlite");
    let mut store = SqliteStore::open(&file).expect("a store");
    let (pictures, photographs, marks) = BACKS;
    for n in 0..pictures {
        let seen = (0..photographs).map(|p| {
            let all = (0..marks).map(|m| {
                let mut mark = firm_label();
                mark.label = format!("m{}", m + 1);
                mark.outline = Rect::new(40, 20 + 170 * m as i32, 280, 160).quad();
                mark
            });
            let mut seen = photograph(&format!("{n}-{p}.jpg"), 'a', all.collect());
            seen.sha256 = format!("{:064x}", n * photographs + p);
            seen
        });
        let mut r = run(seen.collect());
        r.picture = Some(format!("Picture {n}"));
        let recorded = store.record_run(&r).expect("recorded");
        store
            .keep_laying(recorded.picture_id, &laid(&store, &recorded))
            .expect("laid");
        let kept = store.marks(Some(recorded.picture_id)).expect("marks");
        let wholes: Vec<Whole> = kept
            .iter()
            .map(|m| Whole {
                mark: m.id,
                made_of: m.made_of(),
                seen: m.latest().clone(),
            })
            .collect();
        store.keep_wholes(&wholes, MONDAY, "dorso").expect("kept");
    }
    drop(store);
    let timed = |what: &str, run: &dyn Fn()| {
        let mut took: Vec<u128> = (0..7)
            .map(|_| {
                let begun = Instant::now();
                run();
                begun.elapsed().as_millis()
            })
            .collect();
        took.sort_unstable();
        println!(
            "{pictures} pictures of {photographs} photographs, {what}: median {} ms",
            took[3]
        );
    };
    let program = std::env::current_exe().expect("a path");
    let program = program
        .ancestors()
        .nth(2)
        .expect("target/release")
        .join("dorso");
    let call = |arguments: &[&str]| {
        let done = Command::new(&program)
            .args(arguments)
            .arg("--store")
            .arg(&file)
            .output()
            .expect("runs");
        assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        );
    };
    // The first call weighs the marks of every picture beside each other.
    timed("dorso queue", &|| call(&["queue"]));
    timed("dorso note", &|| call(&["note", "Picture 250"]));
    let desk = Desk::start(&file);
    timed("the picture's page", &|| {
        assert!(desk.get("/picture/250").contains(" 200 "))
    });
    timed("a mark's page", &|| {
        assert!(desk.get("/settle").contains("thumbs"))
    });
}

/// The photographs of a picture one on the other, every mark joined.
fn laid(store: &SqliteStore, recorded: &Recorded) -> Laying {
    let picture = store
        .picture(recorded.picture_id)
        .expect("read")
        .expect("there");
    let ground = picture.photographs[0].id;
    let place = |p: &KeptPhotograph| {
        let placed = Placed {
            face: 0,
            ground,
            to_plan: Homography::SAME,
            error_px: 1.0,
            chance: 0.99,
        };
        (p.id, Some(placed))
    };
    let first = &recorded.marks[0];
    let joins = recorded.marks[1..].iter().flat_map(|marks| {
        first.iter().zip(marks).map(|(a, b)| Joined {
            a: *a,
            b: *b,
            chance: 0.99,
            moved: false,
            why: "lies at the same place".into(),
        })
    });
    Laying {
        by: "A. Carrow".into(),
        at: MONDAY.into(),
        program: "dorso".into(),
        places: picture.photographs.iter().map(place).collect(),
        pieces: Vec::new(),
        bare_on: Vec::new(),
        joins: joins.collect(),
    }
}

fn fill(dir: &Path, file: &Path) {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/photographs/mill-back.jpg");
    let jpeg = std::fs::read(&sample).expect("the samples are there");
    let (width, height) = image::image_dimensions(&sample).expect("a picture");
    let mut store = SqliteStore::open(file).expect("a store");
    let begun = Instant::now();
    for n in 0..PICTURES {
        let mut marks = Vec::new();
        for m in 0..MARKS {
            let mut mark = firm_label();
            mark.label = format!("m{}", m + 1);
            mark.outline = Rect::new(
                40 + 300 * (m as i32 % 5),
                60 + 500 * (m as i32 / 5),
                280,
                160,
            )
            .quad();
            // Those with a file first.
            let second = if n < WITH_FILE { 0.41 } else { 0.1 };
            mark.rivals[0].proposals[1].probability = second;
            mark.rivals[0].unlisted = 1.0 - 0.48 - second;
            marks.push(mark);
        }
        let path = dir.join(format!("{n}.jpg"));
        let mut seen = photograph("", 'a', marks);
        (seen.width, seen.height) = (width, height);
        seen.sha256 = format!("{n:064x}");
        if n < WITH_FILE {
            let mut bytes = jpeg.clone();
            bytes.extend(n.to_le_bytes());
            std::fs::write(&path, bytes).expect("room on the disk");
            seen.sha256 = dorso::photograph::identity(&path).expect("just written");
        }
        seen.file = path;
        let mut r = run(vec![seen]);
        r.picture = Some(format!("Picture {n}"));
        store.record_run(&r).expect("recorded");
    }
    println!(
        "{} marks recorded in {:.1} s; photographs of {:.1} megapixels",
        PICTURES * MARKS,
        begun.elapsed().as_secs_f64(),
        f64::from(width) * f64::from(height) / 1e6
    );
}

struct Desk {
    child: Child,
    host: String,
    /// The line of a request that shows the key.
    cookie: String,
}

impl Desk {
    fn start(store: &Path) -> Desk {
        let program = std::env::current_exe().expect("a path");
        let program = program
            .parent()
            .and_then(Path::parent)
            .expect("target/release")
            .join("dorso");
        let mut child = Command::new(program)
            .args([
                "desk",
                "--no-open",
                "--port",
                "0",
                "--by",
                "A. Carrow",
                "--store",
            ])
            .arg(store)
            .stdout(Stdio::piped())
            .spawn()
            .expect("build the program first: cargo build --release");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("piped"))
            .read_line(&mut line)
            .expect("an address");
        let address = line.trim().trim_start_matches("http://");
        let (host, key) = address.split_once("/?key=").expect("an address with a key");
        let port = host.rsplit(':').next().expect("a port");
        let cookie = format!("Cookie: dorso-key-{port}={key}\r\n");
        Desk {
            child,
            host: host.to_owned(),
            cookie,
        }
    }

    fn ask(&self, request: &str) -> Vec<u8> {
        // It may not listen yet.
        let mut s = loop {
            match TcpStream::connect(&self.host) {
                Ok(s) => break s,
                Err(_) => std::thread::sleep(Duration::from_millis(2)),
            }
        };
        s.write_all(request.as_bytes()).expect("sent");
        let mut out = Vec::new();
        s.read_to_end(&mut out).expect("answered");
        out
    }

    fn get(&self, path: &str) -> String {
        let host = &self.host;
        let out = self.ask(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\n{}Connection: close\r\n\r\n",
            self.cookie
        ));
        String::from_utf8_lossy(&out).into_owned()
    }

    fn post(&self, path: &str, body: &str) -> String {
        let host = &self.host;
        let out = self.ask(&format!("POST {path} HTTP/1.1\r\nHost: {host}\r\n{}Origin: http://{host}\r\nAccept: application/json\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}", self.cookie, body.len()));
        String::from_utf8_lossy(&out).into_owned()
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn between<'a>(text: &'a str, before: &str, after: &str) -> &'a str {
    let from = text
        .find(before)
        .unwrap_or_else(|| panic!("no {before} in the page"))
        + before.len();
    text[from..].split(after).next().unwrap_or("")
}

fn picture_of(page: &str) -> String {
    between(page, "id=\"crop-picture\" src=\"", "\"").to_owned()
}

fn first_and_next(store: &Path) {
    let begun = Instant::now();
    let desk = Desk::start(store);
    let page = desk.get("/settle");
    let seen = begun.elapsed();
    let crop = desk.get(&picture_of(&page));
    assert!(crop.contains("image/jpeg"), "the mark's picture is shown");
    println!(
        "first mark: page after {} ms, its picture after {} ms from the start of the program",
        seen.as_millis(),
        begun.elapsed().as_millis()
    );
    let token = between(&page, "name=\"dorso-token\" content=\"", "\"").to_owned();
    let mut now = "/settle".to_owned();
    let (mut keep, mut shown, mut whole) = (Vec::new(), Vec::new(), Vec::new());
    for n in 0..150 {
        // A person looks for a while; that long the next ones are made ready.
        std::thread::sleep(Duration::from_millis(700));
        let page = desk.get(&now);
        let mark = between(&page, "data-mark=\"", "\"").to_owned();
        let pick = between(&page, "value=\"take:", "\"").to_owned();
        let seen = between(&page, "name=\"seen\" value=\"", "\"").to_owned();
        let begun = Instant::now();
        let body = format!("token={token}&act=take&pick=take:{pick}&seen={seen}&once=speed-{n:08}");
        let answer = desk.post(&format!("/mark/{mark}/decide"), &body);
        keep.push(begun.elapsed());
        now = between(&answer, "\"go\":\"", "\"").to_owned();
        let next = desk.get(&now);
        shown.push(begun.elapsed());
        desk.get(&picture_of(&next));
        whole.push(begun.elapsed());
    }
    for (what, times) in [
        ("kept", &mut keep),
        ("next page there", &mut shown),
        ("its picture there", &mut whole),
    ] {
        times.sort();
        println!(
            "from the key, {what}: median {} ms, 95% {} ms",
            times[75].as_millis(),
            times[142].as_millis()
        );
    }
}

fn zoom(dir: &Path) {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/photographs/mill-back.jpg");
    let large = image::open(sample).expect("a picture").resize_exact(
        8660,
        5774,
        image::imageops::FilterType::Triangle,
    );
    let path = dir.join("large.jpg");
    large.to_rgb8().save(&path).expect("room on the disk");
    drop(large);
    let file = dir.join("large.sqlite");
    let mut store = SqliteStore::open(&file).expect("a store");
    let mut seen = photograph("", 'a', vec![firm_label()]);
    (seen.width, seen.height) = (8660, 5774);
    seen.sha256 = dorso::photograph::identity(&path).expect("just written");
    seen.file = path;
    store.record_run(&run(vec![seen])).expect("recorded");
    drop(store);
    let desk = Desk::start(&file);
    let begun = Instant::now();
    desk.get("/whole/1/1600.jpg");
    println!(
        "50 megapixels: first sight after {} ms",
        begun.elapsed().as_millis()
    );
    // A window of 1400 x 900 px over the middle, four steps nearer: at most 4 x 3 tiles each, asked
    // for as a browser does, six at a time.
    for level in [2u32, 1, 0, 0] {
        let side: u32 = 512 << level;
        let (cx, cy) = (4330 / side, 2887 / side);
        let mut tiles = Vec::new();
        for x in cx.saturating_sub(2)..cx + 2 {
            for y in cy.saturating_sub(1)..cy + 2 {
                tiles.push(format!("/tile/1/{level}/{x}/{y}.jpg"));
            }
        }
        let begun = Instant::now();
        std::thread::scope(|s| {
            for part in tiles.chunks(2) {
                let desk = &desk;
                s.spawn(move || {
                    part.iter().for_each(|t| {
                        assert!(desk.get(t).contains(" 200 ") || desk.get(t).contains(" 422 "))
                    })
                });
            }
        });
        println!(
            "step to level {level}: {} tiles in {} ms",
            tiles.len(),
            begun.elapsed().as_millis()
        );
    }
}
