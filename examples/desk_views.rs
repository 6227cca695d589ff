//! Pictures of every page of the desk at three widths, light and dark, to be looked at.
//!
//! ```sh
//! cargo run --release --example desk_views -- OUT 'http://127.0.0.1:5317/?key=...' [PATH...]
//! ```
//! The desk has to be running already (`dorso desk --no-open` prints the address). With `DESK_ASSETS=src/desk/assets`
//! style and scripts are taken from there, so that a change is seen before it is built in.

#[path = "../tests/support/browser.rs"]
mod browser;

use browser::Browser;
use std::path::PathBuf;

/// Widths, px: a phone, a tablet (also a wide window at 200%), a wide window.
const WIDTHS: [(u32, u32); 3] = [(400, 800), (820, 1100), (1440, 900)];

fn main() {
    let mut arguments = std::env::args().skip(1);
    let (Some(out), Some(address)) = (arguments.next(), arguments.next()) else {
        eprintln!("give a folder for the pictures and the address of a running desk");
        std::process::exit(2);
    };
    let (address, key) = address.split_once("/?key=").unwrap_or((&address, ""));
    browser::keys().insert(address.to_owned(), key.to_owned());
    let mut paths: Vec<String> = arguments.collect();
    if paths.is_empty() {
        paths = [
            "/",
            "/picture/1",
            "/picture/1/note",
            "/picture/1/sheet",
            "/compare?mark=1b&mark=2c",
            "/settle",
            "/find",
            "/entry?list=framers&entry=thackwray-kendal-2",
            "/find?words=rothcastor",
            "/bring",
            "/take",
            "/visit",
            "/ask",
            "/second",
        ]
        .map(str::to_owned)
        .to_vec();
    }
    let out = PathBuf::from(out);
    std::fs::create_dir_all(&out).expect("the folder can be made");
    let mut b = Browser::start();
    let page = b.page(800, 600);
    for path in &paths {
        let name: String = path
            .chars()
            .map(|c| if c.is_alphanumeric() { c } else { '-' })
            .collect();
        for (w, h) in WIDTHS {
            page.size(&mut b, w, h);
            for scheme in ["light", "dark"] {
                page.scheme(&mut b, scheme);
                page.go(&mut b, &format!("{}{path}", address.trim_end_matches('/')));
                page.wait(&mut b, "[...document.images].every(i => i.complete || i.loading === 'lazy' || i.hidden || !i.getAttribute('src'))");
                let wide = page.eval(
                    &mut b,
                    "document.documentElement.scrollWidth - document.documentElement.clientWidth",
                );
                let file = out.join(format!("desk{name}-{w}-{scheme}.png"));
                let picture = page.picture(&mut b, false);
                std::fs::write(&file, picture).expect("the picture can be written");
                println!("{} (px wider than the window: {wide})", file.display());
            }
        }
    }
}
