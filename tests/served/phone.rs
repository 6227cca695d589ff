//! A phone let in by its own door, in a real browser of a phone's size.

use crate::browser::Browser;
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
    let page = b.page(390, 844);
    page.call(
        &mut b,
        "Security.setIgnoreCertificateErrors",
        json!({ "ignore": true }),
    );
    page.call(
        &mut b,
        "Emulation.setTouchEmulationEnabled",
        json!({ "enabled": true }),
    );
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
    let came_in = "location.pathname === '/' && document.body.innerText.includes('Askrigg')";
    page.wait(&mut b, came_in);
    let cookie = page.eval(&mut b, "document.cookie");
    assert_eq!(cookie, "", "no script reads the key");
    for path in ["/", "/bring", "/settle", "/picture/1", "/find", "/phone"] {
        page.go(&mut b, &format!("{door}{path}"));
        let wide = page.eval(&mut b, "document.documentElement.scrollWidth");
        assert!(wide.as_u64() <= Some(390), "{path}: {wide} px");
        assert_eq!(
            crate::desk_pages::violations(&page, &mut b),
            Vec::<String>::new(),
            "{path}"
        );
        if let Ok(folder) = std::env::var("DORSO_SHOTS") {
            let name = path.replace('/', "_");
            std::fs::write(
                format!("{folder}/phone{name}.png"),
                page.picture(&mut b, true),
            )
            .unwrap();
        }
    }
    page.go(&mut b, &format!("{door}/settle"));
    let go = page.eval(&mut b, "(() => { const r = document.querySelector('button.go').getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()");
    let point = json!([{ "x": go[0], "y": go[1] }]);
    page.call(
        &mut b,
        "Input.dispatchTouchEvent",
        json!({ "type": "touchStart", "touchPoints": point }),
    );
    page.call(
        &mut b,
        "Input.dispatchTouchEvent",
        json!({ "type": "touchEnd", "touchPoints": [] }),
    );
    page.wait(&mut b, "document.querySelector('#said')");
    assert_eq!(open(dir.path()).journal().unwrap().len(), 1);
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
