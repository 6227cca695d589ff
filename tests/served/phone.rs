//! A phone let in by its own door, in a real browser of a phone's size.

use crate::browser::{Browser, Page};
use crate::desk::{Served, open, small_store};
use dorso::decisions::Store;
use serde_json::json;
use std::io::{Read, Write};
use std::net::TcpStream;

/// The address that lets a phone in, as the desk's page tells it.
fn link(served: &Served) -> String {
    let (_, page) = served.get("/phone");
    let from = page.find("https://").expect("an address");
    page[from..].split('<').next().unwrap().to_owned()
}

#[test]
fn a_phone_comes_in_by_its_code_alone_settles_with_taps_and_nothing_is_wider_than_its_screen() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &["--phone", "--address", "127.0.0.1"]);
    let link = link(&served);
    let door = link.split("/pair/").next().unwrap().to_owned();
    let mut b = Browser::start();
    let page = phone(&mut b);
    // Nobody without the code, and not by the key of this machine's own page
    for path in [
        "/",
        "/pair/0123456789abcdef0123456789abcdef",
        &format!("/?key={}", served.key),
    ] {
        page.go(&mut b, &format!("{door}{path}"));
        let told = page.eval(&mut b, "document.body.innerText").to_string();
        assert!(
            told.contains("key") && !told.contains("Askrigg"),
            "{path}: {told}"
        );
    }
    page.call(&mut b, "Page.navigate", json!({ "url": link }));
    page.wait(
        &mut b,
        "location.pathname === '/take' && document.querySelector('#shot')",
    );
    let cookie = page.eval(&mut b, "document.cookie");
    assert_eq!(cookie, "", "no script reads the key");
    for path in [
        "/",
        "/take",
        "/visit",
        "/bring",
        "/settle",
        "/picture/1",
        "/find",
        "/phone",
    ] {
        page.go(&mut b, &format!("{door}{path}"));
        narrow_enough(&page, &mut b, path);
        assert_eq!(
            crate::desk_pages::violations(&page, &mut b),
            Vec::<String>::new(),
            "{path}"
        );
        shot(&page, &mut b, &format!("phone{}", path.replace('/', "_")));
    }
    page.go(&mut b, &format!("{door}/settle"));
    tap(&page, &mut b, "button.go");
    page.wait(&mut b, "document.querySelector('#said')");
    assert_eq!(open(dir.path()).journal().unwrap().len(), 1);
}

/// Nothing is wider than the screen, at the size of the browser and with text of twice the size at 360 px.
fn narrow_enough(page: &Page, b: &mut Browser, path: &str) {
    too_wide(page, b, path, 390, "");
    page.size(b, 360, 800);
    // The desk's text is 112.5% of the browser's
    too_wide(page, b, path, 360, "225%");
    page.size(b, 390, 844);
}

fn too_wide(page: &Page, b: &mut Browser, path: &str, screen: u32, text: &str) {
    let over = format!(
        "(() => {{ const root = document.documentElement; root.style.fontSize = '{text}'; \
         const over = [...document.body.querySelectorAll('*')].filter((e) => e.getBoundingClientRect().right > {screen} + 1 \
           && !e.closest('.hidden, .skip, svg, .viewer, .tools, .top ul, dialog')).map((e) => e.outerHTML.slice(0, 90)); \
         const wide = root.scrollWidth; root.style.fontSize = ''; return [wide, over.slice(0, 6)]; }})()"
    );
    let told = page.eval(b, &over);
    assert!(
        told[0].as_u64() <= Some(u64::from(screen)),
        "{path}, text {text}: {told}"
    );
}

/// A touch in the middle of what a selector names.
fn tap(page: &Page, b: &mut Browser, selector: &str) {
    page.wait(b, &format!("document.querySelector({})", json!(selector)));
    let middle = format!(
        "(() => {{ const it = document.querySelector({}); it.scrollIntoView({{ block: 'center' }}); \
         const r = it.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; }})()",
        json!(selector)
    );
    let at = page.eval(b, &middle);
    let point = json!([{ "x": at[0], "y": at[1] }]);
    for (kind, points) in [("touchStart", point), ("touchEnd", json!([]))] {
        page.call(
            b,
            "Input.dispatchTouchEvent",
            json!({ "type": kind, "touchPoints": points }),
        );
    }
}

fn shot(page: &Page, b: &mut Browser, name: &str) {
    if let Ok(folder) = std::env::var("DORSO_SHOTS") {
        std::fs::write(format!("{folder}/{name}.png"), page.picture(b, true)).unwrap();
    }
}

/// A phone of that door: touch, its own size, the desk's certificate taken.
fn phone(b: &mut Browser) -> Page {
    let page = b.page(390, 844);
    let calls = [
        (
            "Security.setIgnoreCertificateErrors",
            json!({ "ignore": true }),
        ),
        (
            "Emulation.setTouchEmulationEnabled",
            json!({ "enabled": true }),
        ),
        ("DOM.enable", json!({})),
    ];
    for (method, with) in calls {
        page.call(b, method, with);
    }
    page
}

/// A touch on the page's camera, in whose place a file stands.
fn photograph(page: &Page, b: &mut Browser, file: &std::path::Path) {
    let root = page.call(b, "DOM.getDocument", json!({}));
    let asked = json!({ "nodeId": root["root"]["nodeId"], "selector": "#shot" });
    let node = page.call(b, "DOM.querySelector", asked);
    let files = json!({ "nodeId": node["nodeId"], "files": [file] });
    page.call(b, "DOM.setFileInputFiles", files);
}

#[test]
fn a_back_of_seven_marks_goes_from_pairing_to_its_note_in_twelve_taps() {
    let dir = tempfile::tempdir().unwrap();
    let lists = dir.path().join("lists");
    std::fs::create_dir(&lists).unwrap();
    for file in std::fs::read_dir("samples/gazetteer").unwrap().flatten() {
        std::fs::copy(file.path(), lists.join(file.file_name())).unwrap();
    }
    let served = Served::start(dir.path(), 0, &["--phone", "--address", "127.0.0.1"]);
    let mut b = Browser::start();
    let page = phone(&mut b);
    page.call(&mut b, "Page.navigate", json!({ "url": link(&served) }));
    page.wait(
        &mut b,
        "document.querySelector('#shot') && document.readyState === 'complete'",
    );
    let mut taps = 0;
    let shots = ["back", "raking", "society-label", "framer", "canvas-stamp"];
    for (n, name) in shots.iter().enumerate() {
        let file = format!("samples/photographs/ferry-{name}.jpg");
        photograph(&page, &mut b, &std::fs::canonicalize(file).unwrap());
        taps += 1;
        let told = format!("document.querySelectorAll('#taken strong').length > {n}");
        page.wait(&mut b, &told);
        if n == 0 {
            narrow_enough(&page, &mut b, "/take");
            shot(&page, &mut b, "phone_taken");
        }
    }
    let got = page.eval(
        &mut b,
        "[...document.querySelectorAll('#taken strong')].map((s) => s.textContent)",
    );
    assert!(got[4].as_str().unwrap().contains("marks"), "{got}");
    // Reading goes on behind it; five photographs take longer than a page is waited for
    for _ in 0..8 {
        let done = "fetch(`/take/state?group=${sessionStorage.getItem('dorso-group')}`).then((r) => r.json()).then((s) => s.waiting === 0 && s.due)";
        if page.eval(&mut b, done).as_u64() >= Some(1) {
            break;
        }
        std::thread::sleep(std::time::Duration::from_secs(10));
    }
    page.wait(&mut b, "!document.querySelector('#questions').hidden");
    shot(&page, &mut b, "phone_read");
    tap(&page, &mut b, "#questions");
    taps += 1;
    // The first answer of each question, until there is none
    loop {
        let come = "document.readyState === 'complete' && location.pathname.startsWith('/settle') && document.querySelector('button.go, a.go')";
        page.wait(&mut b, come);
        if page.eval(&mut b, "!document.querySelector('button.go')") == json!(true) {
            break;
        }
        shot(&page, &mut b, &format!("phone_question_{taps}"));
        page.eval(&mut b, "document.body.dataset.before = 'yes'");
        tap(&page, &mut b, "button.go");
        taps += 1;
        page.wait(&mut b, "!document.body.dataset.before");
        assert!(taps < 20, "one question after the other");
    }
    tap(&page, &mut b, "a.go[href$='/note']");
    taps += 1;
    page.wait(
        &mut b,
        "location.pathname.endsWith('/note') && document.body.innerText.includes('Rothcaster')",
    );
    shot(&page, &mut b, "phone_note");
    assert!(taps <= 12, "{taps} taps");
    // And all of it stands on the page of the visit, to be printed
    let door = link(&served);
    let door = door.split("/pair/").next().unwrap();
    page.go(&mut b, &format!("{door}/visit/1"));
    let told = page.eval(&mut b, "document.body.innerText").to_string();
    assert!(told.contains("1 picture"), "{told}");
    narrow_enough(&page, &mut b, "/visit/1");
    assert_eq!(
        crate::desk_pages::violations(&page, &mut b),
        Vec::<String>::new()
    );
    shot(&page, &mut b, "phone_visit");
}

#[test]
fn a_desk_without_a_phone_says_how_to_let_one_in() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let (_, page) = served.get("/phone");
    assert!(page.contains("dorso desk --phone") && !page.contains("https://"));
}

/// Sends a photograph as the page does; only so many of its bytes, where the connection drops.
fn sent(
    served: &Served,
    token: &str,
    name: &str,
    bytes: &[u8],
    dropped_after: Option<usize>,
) -> String {
    let port = served.port;
    let head = format!(
        "POST /dropped/photograph?name={name}&group=7 HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\
         Origin: http://127.0.0.1:{port}\r\nCookie: dorso-key-{port}={}\r\nX-Dorso-Token: {token}\r\n\
         Content-Type: application/octet-stream\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        served.key,
        bytes.len()
    );
    let mut s = TcpStream::connect(("127.0.0.1", port)).unwrap();
    s.write_all(head.as_bytes()).unwrap();
    let now = dropped_after.map_or(bytes, |n| &bytes[..n]);
    s.write_all(now).unwrap();
    let mut told = String::new();
    if dropped_after.is_none() {
        let _ = s.read_to_string(&mut told);
    }
    told
}

#[test]
fn photographs_sent_over_a_line_that_drops_a_hundred_times_are_all_there_once_byte_for_byte() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let token = served.token();
    let photographs: Vec<(String, Vec<u8>)> = (0..40u8)
        .map(|n| {
            let picture =
                image::RgbImage::from_fn(60, 40, |x, y| image::Rgb([n, x as u8, y as u8]));
            let mut bytes = std::io::Cursor::new(Vec::new());
            picture
                .write_to(&mut bytes, image::ImageFormat::Png)
                .unwrap();
            (format!("p{n}.png"), bytes.into_inner())
        })
        .collect();
    let mut dropped = 0;
    for (i, (name, bytes)) in photographs.iter().enumerate() {
        // Two or three times it drops, at another place each time
        for k in 0..2 + i % 2 {
            sent(
                &served,
                &token,
                name,
                bytes,
                Some(bytes.len() * (k + 1) / 5),
            );
            dropped += 1;
        }
        let told = sent(&served, &token, name, bytes, None);
        assert!(told.starts_with("HTTP/1.1 200"), "{told}");
        // It had arrived, but the answer was lost
        if i % 4 == 0 {
            sent(&served, &token, name, bytes, None);
        }
    }
    assert_eq!(dropped, 100);
    let mut found: Vec<(String, Vec<u8>)> = files(dir.path());
    found.retain(|f| {
        f.0.ends_with(".png")
            && photographs
                .iter()
                .any(|p| f.0.ends_with(&format!("-{}", p.0)))
    });
    assert_eq!(found.len(), 40);
    for (name, bytes) in &photographs {
        let own = found
            .iter()
            .filter(|f| f.0.ends_with(&format!("-{name}")))
            .collect::<Vec<_>>();
        assert!(own.len() == 1 && own[0].1 == *bytes, "{name}");
    }
}

/// Names and bytes of all files below a folder; what the desk takes away meanwhile is left out.
fn files(dir: &std::path::Path) -> Vec<(String, Vec<u8>)> {
    let mut out = Vec::new();
    for item in std::fs::read_dir(dir).unwrap().flatten() {
        let path = item.path();
        if path.is_dir() {
            out.extend(files(&path));
        } else if let Ok(bytes) = std::fs::read(&path) {
            out.push((path.to_string_lossy().into_owned(), bytes));
        }
    }
    out
}
