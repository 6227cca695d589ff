//! The desk among others on one machine, and under load.

use crate::desk::*;
use dorso::decisions::Store;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Nothing is shown, decided or told to who doesn't know the key, on the loopback address as elsewhere.
#[test]
fn another_user_of_this_machine_sees_and_decides_nothing() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let host = format!(
        "Host: 127.0.0.1:{p}\r\nOrigin: http://127.0.0.1:{p}\r\nConnection: close\r\n",
        p = served.port
    );
    for path in [
        "/",
        "/session",
        "/picture/1",
        "/assets/0/desk.css",
        "/pulse",
    ] {
        let (head, body) = served.unknown(&format!("GET {path} HTTP/1.1\r\n{host}\r\n"));
        assert_eq!(status(&head), "403", "{path}");
        assert!(!String::from_utf8_lossy(&body).contains(&served.key));
    }
    let body = format!("token={}&act=unreadable", served.token());
    let (head, _) = served.unknown(&format!(
        "POST /mark/1b/decide HTTP/1.1\r\n{host}Content-Type: application/x-www-form-urlencoded\r\n\
         Content-Length: {}\r\n\r\n{body}",
        body.len()
    ));
    assert_eq!(status(&head), "403");
    assert!(open(dir.path()).journal().unwrap().is_empty());
}

/// Who is turned away in a browser reads a page in plain words, and nothing of the desk.
#[test]
fn a_person_who_is_turned_away_reads_why_and_what_to_do() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let ask = |path: &str, host: &str, accept: &str| {
        let lines = format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nAccept: {accept}\r\nConnection: close\r\n\r\n"
        );
        let (head, body) = served.unknown(&lines);
        (head, String::from_utf8(body).unwrap())
    };
    let own = format!("127.0.0.1:{}", served.port);
    for (path, host, why, code) in [
        ("/", own.as_str(), "The key is missing", "403"),
        (
            "/open/0123",
            &own,
            "This link was used or is too old",
            "403",
        ),
        ("/", "example.org", "isn't served under this name", "421"),
    ] {
        let (head, page) = ask(path, host, "text/html,*/*");
        assert_eq!(status(&head), code, "{path}");
        assert!(head.contains("text/html") && head.contains("default-src 'none'"));
        let said = page.replace("&#39;", "'");
        assert!(said.contains(why) && said.contains("<h1>"), "{said}");
        assert!(said.contains("in which the desk was started"), "{said}");
        assert!(!page.contains(&served.key) && !page.contains("dorso-token"));
        let (head, words) = ask(path, host, "application/json");
        assert!(
            head.contains("text/plain") && words.contains(why),
            "{words}"
        );
    }
}

/// What opens the browser may stand in the list of processes: it holds once, and the key is not in it.
#[cfg(unix)]
#[test]
fn a_browser_is_opened_by_a_link_that_holds_once() {
    use std::os::unix::fs::PermissionsExt;
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let (told, opener) = (dir.path().join("told"), dir.path().join("xdg-open"));
    std::fs::write(
        &opener,
        format!(
            "#!/bin/sh\nprintf %s \"$1\" > {0}.new; mv {0}.new {0}\n",
            told.display()
        ),
    )
    .unwrap();
    std::fs::set_permissions(&opener, std::fs::Permissions::from_mode(0o755)).unwrap();
    let path = format!(
        "{}:{}",
        dir.path().display(),
        std::env::var("PATH").unwrap()
    );
    let mut child = Command::new(env!("CARGO_BIN_EXE_dorso"))
        .args(["desk", "--port", "0", "--by", "A. Carrow", "--store"])
        .arg(dir.path().join("s.sqlite"))
        .env("PATH", path)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let until = Instant::now() + Duration::from_secs(40);
    while !told.exists() && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(20));
    }
    let link = std::fs::read_to_string(&told).unwrap();
    let at = link.strip_prefix("http://").unwrap();
    let (address, path) = at.split_at(at.find('/').unwrap());
    let ask = || {
        let mut s = TcpStream::connect(address).unwrap();
        write!(
            s,
            "GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
        )
        .unwrap();
        let mut all = String::new();
        let _ = s.read_to_string(&mut all);
        all
    };
    let key = || std::fs::read_to_string(dir.path().join(".s.sqlite.desk-key")).unwrap();
    let before = key();
    assert!(!link.contains(&before));
    let first = ask();
    assert_eq!(status(&first), "303", "{first}");
    assert!(first.contains(&before));
    // Somebody read it in the list of processes: it leads nowhere, and the key is another one.
    let second = ask();
    assert_eq!(status(&second), "403");
    assert!(
        second.contains("new key") && !second.contains("Set-Cookie"),
        "{second}"
    );
    assert_ne!(key(), before);
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn two_hundred_slow_callers_without_the_key_keep_nobody_waiting() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    served.get("/");
    let slow: Vec<TcpStream> = (0..200)
        .map(|i| {
            let mut s = TcpStream::connect(("127.0.0.1", served.port)).unwrap();
            let lines = match i % 2 {
                0 => format!("POST /bring HTTP/1.1\r\nHost: 127.0.0.1:{p}\r\nOrigin: http://127.0.0.1:{p}\r\nContent-Length: 9000\r\n\r\nhalf", p = served.port),
                _ => "GET / HTTP/1.1\r\nHost: 127".into(),
            };
            s.write_all(lines.as_bytes()).unwrap();
            s
        })
        .collect();
    let asked = Instant::now();
    assert_eq!(status(&served.get("/").0), "200");
    let took = asked.elapsed();
    println!("answered after {} ms", took.as_millis());
    assert!(took < Duration::from_secs(10), "{took:?}");
    drop(slow);
}

/// Bodies that never end: by who knows the key, more than are answered at one time.
#[test]
fn unfinished_bodies_end_and_keep_nobody_waiting() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start_with(dir.path(), 0, &[], &[("DORSO_LIMITS", "body-seconds=2")]);
    let half = |n: usize| {
        let mut s = TcpStream::connect(("127.0.0.1", served.port)).unwrap();
        write!(
            s,
            "POST /mark/1b/decide HTTP/1.1\r\nHost: 127.0.0.1:{p}\r\nOrigin: http://127.0.0.1:{p}\r\n\
             Cookie: dorso-key-{p}={}\r\nContent-Length: 900\r\n\r\n{n}",
            served.key,
            p = served.port
        )
        .unwrap();
        s
    };
    let mut all: Vec<TcpStream> = (0..100).map(half).collect();
    assert_eq!(status(&served.get("/").0), "200");
    let mut told = String::new();
    let _ = all[0].read_to_string(&mut told);
    assert_eq!(status(&told), "408", "{told}");
    assert_eq!(status(&served.get("/").0), "200");
}

/// Who doesn't know the key can't use up the requests of who does.
#[test]
fn requests_without_the_key_are_counted_apart() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let lines = format!(
        "GET / HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n",
        served.port
    );
    for _ in 0..900 {
        served.unknown(&lines);
    }
    assert_eq!(status(&served.get("/").0), "200");
}

fn rows(dir: &Path) -> Vec<String> {
    let list = std::fs::read_to_string(dir.join("lists/framers.csv")).unwrap();
    list.lines()
        .filter(|l| l.contains("Pellow"))
        .map(str::to_owned)
        .collect()
}

#[test]
fn a_row_for_a_list_that_is_sent_five_times_is_added_once() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let fields = "list=framers&name=Pellow+%26+Co&town=Kendal&from=1860&to=1870&source=from+memory&seen=0&once=0123456789abcdef";
    std::thread::scope(|s| {
        for _ in 0..5 {
            s.spawn(|| served.post("/mark/1b/entry", fields));
        }
    });
    assert_eq!(rows(dir.path()).len(), 1, "{:?}", rows(dir.path()));
    assert_eq!(open(dir.path()).journal().unwrap().len(), 1);
    // From a page that is behind: refused, and nothing written
    let stale = fields
        .replace("Pellow", "Pellow+Brothers")
        .replace("once=0", "once=1");
    let (head, _) = served.post("/mark/1b/entry", &stale);
    assert_eq!(status(&head), "409", "{head}");
    assert_eq!(rows(dir.path()).len(), 1);
}

#[test]
fn a_running_desk_sees_rows_that_others_add() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let fits = || {
        served
            .get("/mark/1b/fits?text=ZEPHANIAH+QUILLER&finished=1")
            .1
    };
    assert!(!fits().contains("Quiller"));
    let done = Command::new(env!("CARGO_BIN_EXE_dorso"))
        .args([
            "gazetteer",
            "add",
            "--list",
            "framers",
            "--name",
            "Zephaniah Quiller",
            "--source",
            "from memory",
        ])
        .args(["--from", "1860", "--gazetteer"])
        .arg(dir.path().join("lists"))
        .output()
        .unwrap();
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    assert!(fits().contains("Quiller"));
}

#[test]
fn names_and_readings_can_t_steer_a_page() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let mut store = open(dir.path());
    let lines = vec!["MILL\u{202e}LANE\u{1b}[2J".to_owned()];
    let act = dorso::decisions::Act::Read { lines };
    store
        .decide(
            dorso::decisions::MarkId(1),
            &act,
            &crate::support::carrow(""),
        )
        .unwrap();
    let served = Served::start(dir.path(), 0, &[]);
    for path in [
        "/picture/1",
        "/settle/1b",
        "/picture/1/note",
        "/find?words=mill",
        "/find?words=a%1b%E2%80%AEb",
    ] {
        let (_, page) = served.get(path);
        assert!(!page.contains(['\u{1b}', '\u{202e}']), "{path}");
    }
}

/// Requests and answers' files bent at random, a fixed number of them (`DORSO_FUZZ` sends so many): the desk goes on.
#[test]
fn requests_bent_at_random_don_t_end_the_desk() {
    use rand::{Rng, SeedableRng};
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let runs = std::env::var("DORSO_FUZZ")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(400);
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    let token = served.token();
    let lines = |body: &str, path: &str| {
        format!(
            "POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{p}\r\nOrigin: http://127.0.0.1:{p}\r\nCookie: dorso-key-{p}={}\r\n\
             Connection: close\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
            served.key,
            body.len(),
            p = served.port
        )
    };
    let answers = "{\"format\":\"dorso.answers/1\",\"letter\":\"00000000000000000000000000000000\",\"by\":\"Miss Dunn\",\
                   \"answers\":[{\"mark\":\"1b\",\"reading\":\"ORME\"}]}";
    let corpus = [
        lines(
            &format!("token={token}&act=read&text=ORME+%26+SON&seen=0"),
            "/mark/1b/decide",
        ),
        lines(&format!("token={token}&answers={answers}"), "/answers"),
        lines(
            &format!("token={token}&photograph=1&outline=[[1,2],[30,2],[30,40],[1,40]]"),
            "/draw",
        ),
        format!(
            "GET /find?words=mill&year=187X HTTP/1.1\r\nHost: 127.0.0.1:{p}\r\nCookie: dorso-key-{p}={}\r\nConnection: close\r\n\r\n",
            served.key,
            p = served.port
        ),
        format!(
            "GET /crop/1b/1/colour.jpg HTTP/1.1\r\nHost: 127.0.0.1:{p}\r\nCookie: dorso-key-{p}={}\r\nConnection: close\r\n\r\n",
            served.key,
            p = served.port
        ),
    ];
    for n in 0..runs {
        let mut bytes = corpus[random.random_range(0..corpus.len())]
            .clone()
            .into_bytes();
        for _ in 0..random.random_range(1..4) {
            let at = random.random_range(0..bytes.len());
            match random.random_range(0..4) {
                0 => bytes[at] = random.random(),
                1 => bytes.truncate(at.max(1)),
                2 => drop(bytes.drain(at..(at + 5).min(bytes.len()))),
                _ => bytes.splice(at..at, *b"%00=&\r\n").for_each(drop),
            }
            if bytes.is_empty() {
                bytes.push(b'G');
            }
        }
        let mut s = TcpStream::connect(("127.0.0.1", served.port)).unwrap();
        let _ = s.write_all(&bytes);
        let _ = s.shutdown(std::net::Shutdown::Write);
        let mut told = Vec::new();
        let _ = s.read_to_end(&mut told);
        let told = String::from_utf8_lossy(&told);
        assert!(
            !told.starts_with("HTTP/1.1 500"),
            "run {n}: {:?}",
            String::from_utf8_lossy(&bytes)
        );
    }
    assert_eq!(status(&served.get("/").0), "200");
}

/// The desk killed while decisions are sent: each that was answered is there once.
#[test]
fn a_desk_killed_at_any_moment_keeps_what_it_answered() {
    use rand::{Rng, SeedableRng};
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let kills = std::env::var("DORSO_KILLS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(5);
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    let mut answered: Vec<String> = Vec::new();
    for kill in 0..kills {
        let served = Served::start(dir.path(), 0, &[]);
        let token = served.token();
        let after = Duration::from_millis(random.random_range(0..150));
        let (port, key) = (served.port, served.key.clone());
        let sent = std::thread::spawn(move || {
            let mut kept = Vec::new();
            for n in 0..200 {
                let text = format!("LINE {kill} {n}");
                let body = format!(
                    "token={token}&act=read&text={}&once={kill:08}-{n:08}",
                    text.replace(' ', "+")
                );
                let Ok(mut s) = TcpStream::connect(("127.0.0.1", port)) else {
                    break;
                };
                let _ = write!(
                    s,
                    "POST /mark/1b/decide HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\n\
                     Cookie: dorso-key-{port}={key}\r\nConnection: close\r\n\
                     Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
                    body.len()
                );
                let mut told = String::new();
                let _ = s.read_to_string(&mut told);
                match status(&told) {
                    "303" | "200" => kept.push(text),
                    _ => break,
                }
            }
            kept
        });
        std::thread::sleep(after);
        served.crash();
        answered.extend(sent.join().unwrap());
    }
    let journal = open(dir.path()).journal().unwrap();
    let times = |text: &String| {
        let of = |act: &dorso::decisions::Act| matches!(act, dorso::decisions::Act::Read { lines } if lines == std::slice::from_ref(text));
        journal.iter().filter(|d| of(&d.act)).count()
    };
    for text in &answered {
        assert_eq!(times(text), 1, "{text}");
    }
    println!(
        "{kills} kills of the desk, {} decisions answered",
        answered.len()
    );
}
