//! The note's page: passages put otherwise, a text of provenance pasted, parts copied and saved.

use super::*;
use dorso::decisions::Sight;

#[test]
fn a_passage_is_put_otherwise_by_keys_and_taken_back() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    let address = format!("{}/picture/1/note?length=catalogue", served.address);
    page.go(&mut b, &address);
    page.press(&mut b, "e");
    page.wait(&mut b, "document.activeElement.name === 'words'");
    page.eval(&mut b, "document.activeElement.select()");
    page.text(&mut b, "A label that says little.");
    page.press(&mut b, "Tab");
    page.press_and_load(&mut b, "Enter");
    page.wait(
        &mut b,
        "document.querySelector('#whole')?.textContent.includes('Wording by A. Carrow')",
    );
    let seen = open(dir.path()).observations(None).unwrap();
    assert!(
        matches!(&seen[..], [o] if matches!(&o.sight, Sight::Wording { words, length, .. } if words == "A label that says little." && length == "catalogue"))
    );
    let faults = violations(&page, &mut b);
    assert!(faults.is_empty(), "{faults:?}");
    page.tab_to(&mut b, "input[value=back] ~ button");
    page.press_and_load(&mut b, "Enter");
    page.wait(
        &mut b,
        "!document.querySelector('#whole')?.textContent.includes('Wording by')",
    );
    // What somebody else worded meanwhile isn't worded over unseen
    page.press(&mut b, "e");
    page.wait(&mut b, "document.activeElement.name === 'words'");
    let key = page.eval(&mut b, "document.activeElement.form.elements.passage.value");
    let fields = format!(
        "length=catalogue&passage={}&words=Theirs.&seen=",
        key.as_str().unwrap()
    );
    let (head, _) = served.post("/picture/1/wording", &fields);
    assert!(head.contains(" 303 "), "{head}");
    page.text(&mut b, " Mine.");
    page.press(&mut b, "Tab");
    page.press_and_load(&mut b, "Enter");
    page.wait(&mut b, "document.body.innerText.includes('meanwhile')");
    assert_eq!(open(dir.path()).observations(None).unwrap().len(), 3);
}

#[test]
fn a_pasted_provenance_is_shown_beside_what_was_understood_before_it_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/picture/1/note", served.address));
    page.tab_to(&mut b, "#told-text summary");
    page.press(&mut b, "Enter");
    page.tab_to(&mut b, "#text");
    page.text(
        &mut b,
        "Alda Renshaw [1821-1899], Kendal, until 1868; <b>the frame</b> came back.",
    );
    page.tab_to(&mut b, "button[value=look]");
    page.press_and_load(&mut b, "Enter");
    page.wait(
        &mut b,
        "document.querySelector('td')?.textContent.includes('Alda Renshaw')",
    );
    let told = page.eval(&mut b, "document.querySelector('table').innerText");
    let told = told.as_str().unwrap();
    for words in [
        "life: 1821-1899",
        "where: Kendal",
        "left as text",
        "<b>the frame</b>",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    assert!(open(dir.path()).observations(None).unwrap().is_empty());
    let faults = violations(&page, &mut b);
    assert!(faults.is_empty(), "{faults:?}");
    page.tab_to(&mut b, "#source");
    page.text(&mut b, "Sale catalogue, 1951");
    page.tab_to(&mut b, "button[value=keep]");
    page.press_and_load(&mut b, "Enter");
    page.wait(
        &mut b,
        "location.pathname === '/picture/1/note' && document.readyState === 'complete'",
    );
    let whole = page.eval(&mut b, "document.querySelector('#whole').textContent");
    assert!(
        whole
            .as_str()
            .unwrap()
            .contains("Alda Renshaw [1821-1899], Kendal, until 1868")
    );
}

#[test]
fn each_length_is_copied_and_saved_in_every_form() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(400, 800);
    for length in ["label", "catalogue", "file"] {
        page.go(
            &mut b,
            &format!("{}/picture/1/note?length={length}", served.address),
        );
        // A clipboard that the test can read
        page.eval(&mut b, "Object.defineProperty(navigator, 'clipboard', { value: { writeText: async (t) => { window.copied = t; } } })");
        page.tab_to(&mut b, "[data-copy=whole]");
        page.press(&mut b, "Enter");
        let copied = page.wait(&mut b, "window.copied");
        let copied = copied.as_str().unwrap();
        assert!(
            copied.len() > 80 && !copied.contains("Put it otherwise"),
            "{copied}"
        );
        assert_eq!(
            page.eval(&mut b, "document.documentElement.scrollWidth <= innerWidth"),
            true,
            "{length}"
        );
        for (ending, begins) in [
            ("md", "# "),
            ("html", "<!DOCTYPE"),
            ("pdf", "%PDF"),
            ("docx", "PK"),
        ] {
            let path = format!("/picture/1/note/{length}.{ending}");
            let script = format!(
                "fetch('{path}').then(r => r.arrayBuffer()).then(b => String.fromCharCode(...new Uint8Array(b.slice(0, 9))))"
            );
            let head = page.eval(&mut b, &script);
            assert!(head.as_str().unwrap().starts_with(begins), "{path}: {head}");
        }
    }
}
