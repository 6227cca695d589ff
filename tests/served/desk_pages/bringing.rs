//! Bringing photographs, adding to a list, drawing.

use super::*;
use std::path::Path;

#[test]
fn from_a_folder_of_photographs_to_the_printed_note_by_keys_alone() {
    let dir = tempfile::tempdir().unwrap();
    let photos = dir.path().join("photographs");
    std::fs::create_dir(&photos).unwrap();
    let sample =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/photographs/winter-sale-label.jpg");
    let whole = image::open(sample).unwrap();
    whole
        .resize(900, 900, image::imageops::FilterType::Triangle)
        .to_rgb8()
        .save(photos.join("back.png"))
        .unwrap();
    std::fs::write(photos.join("broken.jpg"), b"\xff\xd8\xff\xe0 no picture").unwrap();
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/", served.address));
    page.tab_to(&mut b, "a[href='/bring']");
    page.press(&mut b, "Enter");
    page.wait(
        &mut b,
        "document.querySelector('#folder') && document.readyState === 'complete'",
    );
    page.tab_to(&mut b, "#folder");
    page.text(&mut b, photos.to_str().unwrap());
    page.tab_to(&mut b, "#folder-picture");
    page.text(&mut b, "Winter");
    page.press(&mut b, "Enter");
    page.wait(
        &mut b,
        "document.querySelector('#progress-words')?.textContent.includes('2 photographs done')",
    );
    let faults = page.eval(&mut b, "document.querySelector('#faults').textContent");
    assert!(faults.as_str().unwrap().contains("broken.jpg"), "{faults}");
    // Settle all that is in doubt: type the first, take or give up the others.
    page.go(&mut b, &format!("{}/settle", served.address));
    let mut presses = 0;
    while page.eval(&mut b, "Boolean(document.querySelector('#settle'))") == true {
        presses += 1;
        assert!(presses < 40, "the queue never ends");
        // What was read is kept as it stands; where nothing was, it can't be read.
        let read = "document.querySelector('#text').value.trim() !== ''";
        let read = presses == 1 && page.eval(&mut b, read) == true;
        page.press_and_load(&mut b, if read { "s" } else { "x" });
    }
    let tally = open(dir.path()).tally("2024-01-01").unwrap();
    assert_eq!(tally[&1].due, 0);
    page.go(&mut b, &format!("{}/picture/1/note", served.address));
    let text = page.eval(&mut b, "document.querySelector('main').innerText");
    assert!(text.as_str().unwrap().contains("A. Carrow"), "{text}");
    let pdf = page.call(&mut b, "Page.printToPDF", json!({}));
    assert!(
        pdf["data"].as_str().unwrap().starts_with("JVBERi"),
        "a PDF begins so in base 64"
    );
}

#[test]
fn photographs_dropped_on_the_page_are_copied_unaltered_and_read() {
    let dir = tempfile::tempdir().unwrap();
    let photo = dir.path().join("a blank back.png");
    image::RgbImage::from_pixel(400, 300, image::Rgb([120, 100, 80]))
        .save(&photo)
        .unwrap();
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    page.go(&mut b, &format!("{}/bring", served.address));
    page.eval(&mut b, "document.querySelector('#drop').scrollIntoView()");
    let at = page.eval(&mut b, "(() => { const r = document.querySelector('#drop').getBoundingClientRect(); return [r.left + 20, r.top + 20]; })()");
    for kind in ["dragEnter", "dragOver", "drop"] {
        page.call(
            &mut b,
            "Input.dispatchDragEvent",
            json!({ "type": kind, "x": at[0], "y": at[1],
            "data": { "items": [], "files": [photo], "dragOperationsMask": 1 } }),
        );
    }
    page.wait(
        &mut b,
        "document.querySelector('#progress-words').textContent.includes('1 photograph done')",
    );
    let store = open(dir.path());
    let pictures = store.pictures().unwrap();
    let kept = &pictures[0].photographs[0].files[0];
    assert!(kept.starts_with(dir.path().join("s-photographs")));
    assert_eq!(std::fs::read(kept).unwrap(), std::fs::read(&photo).unwrap());
}

#[test]
fn an_entry_on_no_list_yet_is_added_to_the_user_s_own_list_and_taken() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let list = dir.path().join("lists/framers.csv");
    let before = std::fs::read(&list).unwrap();
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    page.go(&mut b, &format!("{}/settle/2c", served.address));
    page.press(&mut b, "e");
    page.wait(&mut b, "document.activeElement.id === 'entry-name'");
    page.text(&mut b, "Quill, Widow & Co");
    page.tab_to(&mut b, "#entry-town");
    page.text(&mut b, "Harrowick");
    page.tab_to(&mut b, "#entry-source");
    page.text(&mut b, "from memory");
    page.press(&mut b, "Enter");
    saved(&page, &mut b, "names Quill, Widow & Co");
    let after = std::fs::read(&list).unwrap();
    assert!(after.starts_with(&before));
    let row = String::from_utf8_lossy(&after[before.len()..]).into_owned();
    assert_eq!(
        row,
        "quill-widow-harrowick-1,\"Quill, Widow & Co\",,,,Harrowick,,,from memory,\r\n"
    );
    assert!(matches!(acts(dir.path()).last(), Some(Act::Take(t)) if t.source == "from memory"));
}

#[test]
fn a_mark_is_added_mended_turned_parted_and_joined_by_keys() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/picture/1", served.address));
    // Nearer first: a small outline is read quickly.
    for _ in 0..4 {
        page.press(&mut b, "+");
    }
    page.press(&mut b, "a");
    page.wait(&mut b, "document.activeElement.matches('.handle')");
    page.press(&mut b, "ArrowRight");
    page.press(&mut b, "shift+ArrowDown");
    page.tab_to(&mut b, "#draw-form button:not([type])");
    page.press_and_load(&mut b, "Enter");
    let marks = open(dir.path()).marks(Some(1)).unwrap();
    let added = marks.last().unwrap();
    assert_eq!(marks.len(), 4);
    assert!(added.is_drawn());

    // Turned: reading begins at another corner.
    let outline = added.latest().outline;
    page.press(&mut b, "r");
    page.tab_to(&mut b, "#draw-form button:not([type])");
    page.press_and_load(&mut b, "Enter");
    let turned = open(dir.path()).mark(added.id).unwrap();
    assert!(turned.latest().outline.0[1].distance(outline.0[0]) < 2.0);
    assert_eq!(turned.sightings[0].looks.len(), 2);

    // Parted in two and joined again.
    let (head, _) = served.post("/part", &format!("mark={}&way=columns", added.id));
    assert!(head.contains(" 303 "), "{head}");
    let marks = open(dir.path()).marks(Some(1)).unwrap();
    assert_eq!(marks.len(), 5);
    let other = marks.last().unwrap().id;
    let (head, _) = served.post("/join", &format!("mark={}&with={other}", added.id));
    assert!(head.contains(" 303 "), "{head}");
    let store = open(dir.path());
    // One corner was moved, so the rectangle around both halves is a little larger.
    let whole = store.mark(added.id).unwrap().latest().outline;
    assert!(whole.overlap(&outline) > 0.99 * outline.area());
    assert!(whole.area() < 1.2 * outline.area());
    assert!(store.mark(other).unwrap().settled.not_a_mark.is_some());
    // The marks that the program found are as they were.
    assert!(
        store.marks(Some(1)).unwrap()[..3]
            .iter()
            .all(|m| m.sightings[0].looks.len() == 1 && !m.missing)
    );
}

#[test]
fn photographs_that_waited_when_the_desk_ended_are_read_once_it_goes_on() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let waiting: Vec<Value> = (0..2u8)
        .map(|n| {
            let file = dir.path().join(format!("{n}.png"));
            image::RgbImage::from_pixel(300, 200, image::Rgb([90 + n, 90, 90]))
                .save(&file)
                .unwrap();
            json!({ "file": file, "picture": null, "suggested": "Two blank backs", "group": 7 })
        })
        .collect();
    let kept = json!({ "waiting": waiting, "done": 1, "faults": [], "groups": 7, "joins": null });
    open(dir.path())
        .set("desk batch", &kept.to_string())
        .unwrap();
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    page.go(&mut b, &format!("{}/bring", served.address));
    page.wait(&mut b, "document.querySelector('#progress-words').textContent.includes('2 photographs still to be read')");
    page.tab_to(&mut b, "#go-on button");
    page.press(&mut b, "Enter");
    page.wait(
        &mut b,
        "document.querySelector('#progress-words').textContent.includes('3 photographs done')",
    );
    let pictures = open(dir.path()).pictures().unwrap();
    let blank = pictures
        .iter()
        .find(|p| p.name == "Two blank backs")
        .unwrap();
    assert_eq!(blank.photographs.len(), 2);
}

#[test]
fn reading_stopped_in_the_middle_ends_after_one_photograph_and_goes_on_later() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("photographs");
    std::fs::create_dir(&folder).unwrap();
    for n in 0..8u8 {
        image::RgbImage::from_pixel(300, 200, image::Rgb([90 + n, 90, 90]))
            .save(folder.join(format!("{n}.png")))
            .unwrap();
    }
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    let words = "document.querySelector('#progress-words').textContent";
    let (head, _) = served.post("/bring", &format!("folder={}", folder.display()));
    assert!(head.contains(" 303 "), "{head}");
    let (head, _) = served.post("/bring/stop", "");
    assert!(head.contains(" 303 "), "{head}");
    page.go(&mut b, &format!("{}/bring", served.address));
    page.wait(&mut b, &format!("{words}.includes('still to be read')"));
    let read = |dir: &std::path::Path| -> usize {
        let pictures = open(dir).pictures().unwrap();
        pictures.iter().map(|p| p.photographs.len()).sum()
    };
    let before = read(dir.path());
    assert!(before < 8, "{before}");
    page.tab_to(&mut b, "#go-on button");
    page.press(&mut b, "Enter");
    page.wait(&mut b, &format!("{words}.includes('8 photographs done')"));
    assert_eq!(read(dir.path()), 8);
}

#[test]
fn an_owner_typed_by_keys_stands_in_the_line_of_provenance() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1000, 800);
    let here = format!("{}/picture/1/note", served.address);
    page.go(&mut b, &here);
    page.tab_to(&mut b, "#event summary");
    page.press(&mut b, "Enter");
    page.tab_to(&mut b, "#event-deed");
    page.press(&mut b, "ArrowDown");
    for (field, typed) in [
        ("#event-who", "Agnes Quill"),
        ("#event-place", "Harrowick"),
        ("#event-when", "1899"),
        ("#event-source", "receipt, 4 May 1899"),
    ] {
        page.tab_to(&mut b, field);
        page.text(&mut b, typed);
    }
    page.press_and_load(&mut b, "Enter");
    let text = page.eval(&mut b, "document.querySelector('main').innerText");
    let text = text.as_str().unwrap();
    assert!(
        text.contains("Purchased by Agnes Quill, Harrowick, 1899"),
        "{text}"
    );
    let kept = open(dir.path()).observations(Some(1)).unwrap();
    let Some(dorso::decisions::Sight::Event(event)) = kept.last().map(|o| &o.sight) else {
        panic!("{kept:?}");
    };
    assert_eq!(event.deed, dorso::decisions::Deed::Bought);
    assert_eq!(event.source, "receipt, 4 May 1899");
    // A date that is none is told at once, and what stands is kept.
    let (head, body) = served.post(
        "/picture/1/event",
        "deed=owned&who=Nobody&when=sometime&source=hearsay",
    );
    assert!(head.contains(" 400 "), "{head} {body}");
    assert_eq!(
        open(dir.path()).observations(Some(1)).unwrap().len(),
        kept.len()
    );
}

#[test]
fn the_same_mark_in_another_photograph_fades_in_by_keys() {
    let dir = tempfile::tempdir().unwrap();
    let sample =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/photographs/winter-sale-label.jpg");
    let label = image::open(sample).unwrap();
    let label = label
        .resize(700, 700, image::imageops::FilterType::Triangle)
        .to_rgb8();
    // The label under two lights: as it is, and darker to one side.
    let raked = image::RgbImage::from_fn(label.width(), label.height(), |x, y| {
        let part = 0.55 + 0.45 * f64::from(x) / f64::from(label.width());
        image::Rgb(label.get_pixel(x, y).0.map(|v| (f64::from(v) * part) as u8))
    });
    let (w, h) = label.dimensions();
    let whole = dorso::geometry::Rect::new(0, 0, w, h).quad();
    let mut store = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
    let mut seen = Vec::new();
    for (name, picture) in [("even.png", &label), ("raking.png", &raked)] {
        let file = dir.path().join(name);
        picture.save(&file).unwrap();
        let mut mark = firm_label();
        mark.outline = whole;
        let mut photo = photograph(name, 'a', vec![mark]);
        photo.sha256 = dorso::photograph::identity(&file).unwrap();
        photo.file = file;
        (photo.width, photo.height) = (w, h);
        seen.push(photo);
    }
    let mut r = run(seen);
    r.picture = Some("Winter".into());
    store.record_run(&r).unwrap();
    drop(store);
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = begin(&mut b, &served);
    page.press(&mut b, "g");
    page.wait(&mut b, "document.activeElement.id === 'light'");
    let own = page.eval(&mut b, "document.querySelector('#light-name').textContent");
    for _ in 0..10 {
        page.press(&mut b, "ArrowRight");
    }
    page.wait(
        &mut b,
        "!document.querySelector('#crop-light').hidden && document.querySelector('#crop-light').naturalWidth > 0",
    );
    let half = page.eval(
        &mut b,
        "document.querySelector('#crop-light').style.opacity",
    );
    assert_eq!(half, "0.5");
    assert_eq!(violations(&page, &mut b), Vec::<String>::new());
    page.press(&mut b, "End");
    let other = page.eval(&mut b, "document.querySelector('#light-name').textContent");
    assert_ne!(own, other);
    let src = page.eval(&mut b, "document.querySelector('#crop-picture').src");
    assert!(src.as_str().unwrap().contains("/light/"), "{src}");
    // "v" leads back to the ways to see the mark's own picture.
    page.press(&mut b, "v");
    page.wait(&mut b, "document.querySelector('#light').hidden");
}
