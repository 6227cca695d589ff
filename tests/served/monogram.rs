//! A monogram on its mark's page.

use crate::browser::Browser;
use crate::desk::{Served, open};
use crate::support::*;
use dorso::decisions::{MarkId, SqliteStore, Store};
use dorso::marks::MarkKind;

#[test]
fn what_is_said_to_be_a_monogram_shows_its_letters_and_its_like_on_one_key_and_takes_it_back() {
    let dir = tempfile::tempdir().unwrap();
    let (photo, outline) = monogram();
    let mut store = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
    for (name, letter, shift) in [("One", 'a', 0), ("Two", 'b', 1)] {
        let file = dir.path().join(format!("{name}.png"));
        let mut own = photo.clone();
        own.put_pixel(0, 0, image::Rgb([shift, 0, 0]));
        own.save(&file).unwrap();
        let mut mark = chalk_number();
        mark.outline = outline.quad();
        mark.kind = MarkKind::Unknown;
        mark.rivals = Vec::new();
        let mut seen = photograph("", letter, vec![mark]);
        (seen.width, seen.height) = photo.dimensions();
        seen.sha256 = dorso::photograph::identity(&file).unwrap();
        seen.file = file;
        let mut r = run(vec![seen]);
        r.picture = Some(name.into());
        store.record_run(&r).unwrap();
    }
    drop(store);
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1440, 900);
    for (mark, id) in [("1b", 1), ("2c", 2)] {
        page.go(&mut b, &format!("{}/settle/{mark}", served.address));
        let key = "[...document.querySelectorAll('#decide label.choice')].find(l => l.innerText.startsWith('Monogram')).querySelector('kbd').innerText";
        let key = page.eval(&mut b, key);
        page.press_and_load(&mut b, key.as_str().unwrap());
        let mark = open(dir.path()).mark(MarkId(id)).unwrap();
        assert_eq!(mark.kind(), MarkKind::Monogram);
        assert_eq!(mark.latest().reading.lines[0].text, "KB");
    }
    page.go(&mut b, &format!("{}/settle/2c?x", served.address));
    let told = page.eval(&mut b, "document.querySelector('.monogram').innerText");
    let told = told.as_str().unwrap();
    assert!(
        told.contains("BK") && told.contains("identify nobody"),
        "{told}"
    );
    page.eval(
        &mut b,
        "document.querySelector('.monogram details').open = true, 0",
    );
    page.wait(
        &mut b,
        "[...document.querySelectorAll('.monogram img')].every(i => i.naturalWidth > 0)",
    );
    let like = page.eval(
        &mut b,
        "document.querySelector('.monogram details').innerText",
    );
    assert!(like.as_str().unwrap().contains("1b"), "{like}");
    if let Ok(folder) = std::env::var("DORSO_SHOTS") {
        std::fs::write(format!("{folder}/monogram.png"), page.picture(&mut b, true)).unwrap();
    }
    assert_eq!(
        crate::desk_pages::violations(&page, &mut b),
        Vec::<String>::new()
    );
    let last = open(dir.path()).journal().unwrap().last().unwrap().id;
    served.post("/undo", &format!("decision={last}"));
    assert_eq!(
        open(dir.path()).mark(MarkId(2)).unwrap().kind(),
        MarkKind::Unknown
    );
    let (_, body) = served.get("/settle/2c");
    assert!(!body.contains("monogram-title"));
}
