//! A desk to be tested: a small store of invented backs with photographs on the disk, and the
//! program serving it.
#![allow(dead_code)]

use crate::browser::keys;
use crate::support::*;
use dorso::decisions::{SeenMark, SqliteStore, Store};
use image::{Rgb, RgbImage};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// A board with cream labels at the outlines of the marks, and rows of strokes on each.
pub fn board(file: &Path, marks: &[SeenMark], width: u32, height: u32) {
    let mut p = RgbImage::from_fn(width, height, |x, y| {
        let n = ((x.wrapping_mul(73_856_093) ^ y.wrapping_mul(19_349_663)) >> 13) % 17;
        Rgb([130 + n as u8, 104 + n as u8, 76 + n as u8])
    });
    for m in marks {
        let b = m.outline.bounds();
        for y in b.y.max(0)..b.bottom().min(height as i32) {
            for x in b.x.max(0)..b.right().min(width as i32) {
                let (dx, dy) = (x - b.x, y - b.y);
                let stroke = dy % 40 > 12 && dy % 40 < 34 && dx % 22 < 5 && dx > 12;
                let v = if stroke { 50 } else { 232 };
                p.put_pixel(x as u32, y as u32, Rgb([v, v - v / 16, v - v / 8]));
            }
        }
    }
    p.save(file).unwrap();
}

/// Records one picture with these marks.
pub fn picture(dir: &Path, store: &mut SqliteStore, name: &str, file: &str, marks: Vec<SeenMark>) {
    let path = dir.join(file);
    board(&path, &marks, 800, 600);
    let mut seen = photograph("", 'a', marks);
    seen.sha256 = dorso::photograph::identity(&path).unwrap();
    seen.file = path;
    let mut r = run(vec![seen]);
    r.picture = Some(name.into());
    store.record_run(&r).unwrap();
}

/// A store with two pictures, four marks in doubt.
pub fn small_store(dir: &Path) -> PathBuf {
    let file = dir.join("s.sqlite");
    let mut store = SqliteStore::open(&file).unwrap();
    let all = vec![firm_label(), blind_stamp(), chalk_number()];
    picture(dir, &mut store, "The Mill at Askrigg", "mill.jpg", all);
    let mut other = firm_label();
    other.label = "m2".into();
    other.outline = dorso::geometry::Rect::new(60, 300, 340, 160).quad();
    picture(
        dir,
        &mut store,
        "Ferry at Dusk",
        "ferry.jpg",
        vec![other, blind_stamp()],
    );
    file
}

/// Lists of one's own with the invented framers.
pub fn small_lists(dir: &Path) -> PathBuf {
    let lists = dir.join("lists");
    std::fs::create_dir_all(&lists).unwrap();
    std::fs::write(
        lists.join("framers.csv"),
        "entry,name,variants,trade,address,town,from,to,source,note\r\n\
         thackwray-kendal-1,Thackwray & Son,,carvers and gilders,3 Highgate,Kendal,1860,1867,Invented Directory,\r\n\
         thackwray-kendal-2,Thackwray & Son,,carvers and gilders,12 Stricklandgate,Kendal,1868,1875,Invented Directory,\r\n\
         orme-york-1,Orme & Daughters,,frame makers,4 Stonegate,York,1880,1891,Invented Directory,\r\n",
    )
    .unwrap();
    std::fs::write(
        lists.join("towns.csv"),
        "entry,name,variants,trade,address,town,from,to,source,note\n\
         kendal,Kendal,,town,,,,,common knowledge,\n",
    )
    .unwrap();
    lists
}

/// Status in the head of an answer.
pub fn status(head: &str) -> &str {
    head.split(' ').nth(1).unwrap_or("")
}

/// The program, serving.
pub struct Served {
    child: Child,
    pub address: String,
    pub port: u16,
    pub key: String,
}

impl Served {
    pub fn start(dir: &Path, port: u16, more: &[&str]) -> Served {
        Served::start_with(dir, port, more, &[])
    }

    /// The same with variables of the environment.
    pub fn start_with(dir: &Path, port: u16, more: &[&str], set: &[(&str, &str)]) -> Served {
        // A program built elsewhere may be served, such as one of the other profile
        let program = std::env::var("DORSO_PROGRAM");
        let program = program.unwrap_or(env!("CARGO_BIN_EXE_dorso").into());
        let mut child = Command::new(program)
            .args([
                "desk",
                "--no-open",
                "--by",
                "A. Carrow",
                "--port",
                &port.to_string(),
            ])
            .args(["--store", dir.join("s.sqlite").to_str().unwrap()])
            .args(["--gazetteer", small_lists_if_none(dir).to_str().unwrap()])
            .args(more)
            .envs(set.iter().copied())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        let address = line.trim().to_owned();
        let port = address
            .trim_start_matches("http://")
            .split(['/', '?'])
            .next()
            .and_then(|h| h.rsplit(':').next())
            .and_then(|p| p.parse().ok())
            .unwrap_or_else(|| panic!("no address printed: {line}"));
        let (address, key) = address.split_once("/?key=").unwrap();
        keys().insert(address.to_owned(), key.to_owned());
        Served {
            child,
            address: address.to_owned(),
            port,
            key: key.to_owned(),
        }
    }

    /// Ends it at once, as a crash does.
    pub fn crash(mut self) -> u16 {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        self.port
    }

    /// One request, written out; gives the head and the body.
    pub fn raw(&self, request: &str) -> (String, Vec<u8>) {
        let cookie = format!("\r\nCookie: dorso-key-{}={}\r\n", self.port, self.key);
        self.unknown(&request.replacen("\r\n", &cookie, 1))
    }

    /// The same by somebody who doesn't know the key.
    pub fn unknown(&self, request: &str) -> (String, Vec<u8>) {
        let mut s = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        s.write_all(request.as_bytes()).unwrap();
        let mut all = Vec::new();
        let _ = s.read_to_end(&mut all);
        let at = all
            .windows(4)
            .position(|w| w == b"\r\n\r\n")
            .unwrap_or(all.len());
        let body = all.get(at + 4..).unwrap_or_default().to_vec();
        (String::from_utf8_lossy(&all[..at]).into_owned(), body)
    }

    pub fn get(&self, path: &str) -> (String, String) {
        let (head, body) = self.raw(&format!(
            "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n",
            self.port
        ));
        (head, String::from_utf8_lossy(&body).into_owned())
    }

    pub fn token(&self) -> String {
        let (_, page) = self.get("/");
        let at = page.find("name=\"dorso-token\" content=\"").unwrap() + 28;
        page[at - 1..]
            .chars()
            .skip_while(|c| *c == '"')
            .take_while(|c| *c != '"')
            .collect()
    }

    /// A form sent as the page does, with the fields given.
    pub fn post(&self, path: &str, fields: &str) -> (String, String) {
        let body = format!("token={}&{fields}", self.token());
        let (head, body) = self.raw(&format!(
            "POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{p}\r\nOrigin: http://127.0.0.1:{p}\r\nConnection: close\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
            body.len(),
            p = self.port
        ));
        (head, String::from_utf8_lossy(&body).into_owned())
    }
}

fn small_lists_if_none(dir: &Path) -> PathBuf {
    let lists = dir.join("lists");
    if lists.exists() {
        lists
    } else {
        small_lists(dir)
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub fn open(dir: &Path) -> SqliteStore {
    SqliteStore::open(&dir.join("s.sqlite")).unwrap()
}
