//! Who may ask the desk for what, and that a decision is kept once and over nothing unseen.

use crate::desk::{Served, open, small_store, status};
use crate::support::*;
use dorso::decisions::{Act, Guard, Kept, MarkId, SqliteStore, Store};

#[test]
fn only_the_page_itself_may_look_and_only_with_its_token_may_change() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let port = served.port;
    let ask = |lines: &str| {
        served
            .raw(&format!("{lines}\r\nConnection: close\r\n\r\n"))
            .0
    };
    let own = format!("Host: 127.0.0.1:{port}");

    assert_eq!(status(&ask(&format!("GET / HTTP/1.1\r\n{own}"))), "200");
    assert_eq!(
        status(&ask(&format!("GET / HTTP/1.1\r\nHost: localhost:{port}"))),
        "200"
    );
    // Another name that leads to this machine (DNS rebinding).
    assert_eq!(
        status(&ask(&format!(
            "GET / HTTP/1.1\r\nHost: evil.example:{port}"
        ))),
        "421"
    );
    assert_eq!(status(&ask("GET / HTTP/1.1\r\nHost: 127.0.0.1")), "421");
    // A picture or a link on another site's page.
    let other = format!("GET / HTTP/1.1\r\n{own}\r\nSec-Fetch-Site: cross-site");
    assert_eq!(status(&ask(&other)), "403");
    // Changes.
    let token = served.token();
    let change = |origin: &str, token: &str| {
        let body = format!("token={token}&act=unreadable&seen=0");
        let length = body.len();
        let lines = format!(
            "POST /mark/1b/decide HTTP/1.1\r\n{own}\r\n{origin}Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{body}"
        );
        served.raw(&lines).0
    };
    let origin = format!("Origin: http://127.0.0.1:{port}\r\n");
    assert_eq!(status(&change("", &token)), "403");
    assert_eq!(status(&change("Origin: null\r\n", &token)), "403");
    assert_eq!(
        status(&change("Origin: http://evil.example\r\n", &token)),
        "403"
    );
    assert_eq!(status(&change(&origin, "")), "403");
    assert_eq!(status(&change(&origin, &"0".repeat(32))), "403");
    assert!(open(dir.path()).journal().unwrap().is_empty());
    assert_eq!(status(&change(&origin, &token)), "303");
    assert_eq!(open(dir.path()).journal().unwrap().len(), 1);
    assert_eq!(
        status(&ask(&format!("DELETE / HTTP/1.1\r\n{own}\r\n{origin}"))),
        "405"
    );
}

#[test]
fn every_answer_carries_a_policy_that_lets_nothing_else_run() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    for path in [
        "/",
        "/settle",
        "/picture/1",
        "/nowhere",
        "/settle/1x",
        "/whole/1/480.jpg",
    ] {
        let (head, body) = served.get(path);
        let head = head.to_lowercase();
        assert!(
            head.contains(
                "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'"
            ),
            "{path}: {head}"
        );
        assert!(head.contains("x-content-type-options: nosniff"));
        assert!(
            !body.contains("style=\"") && !body.contains("onclick="),
            "{path}"
        );
    }
}

#[test]
fn no_path_but_photographs_of_the_store_can_be_read() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    std::fs::write(dir.path().join("secret.txt"), "a secret").unwrap();
    let served = Served::start(dir.path(), 0, &[]);
    for path in [
        "/assets/x/../../secret.txt",
        "/assets/x/%2e%2e%2fsecret.txt",
        "/assets/../../../../etc/passwd",
        "/whole/..%2f..%2fetc%2fpasswd/480.jpg",
        "/whole/1/999999.jpg",
        "/whole/99/480.jpg",
        "/tile/1/0/4000000000/4000000000.jpg",
        "/tile/1/-1/0/0.jpg",
        "/crop/1b/1/..%2f..%2fsecret.jpg",
        "//etc/passwd",
    ] {
        let (head, body) = served.get(path);
        assert!(!status(&head).starts_with('2'), "{path}: {head}");
        assert!(
            !body.contains("a secret") && !body.contains("root:"),
            "{path}"
        );
    }
    // The photograph was put in another's place: its pixels are not shown.
    image::RgbImage::from_pixel(800, 600, image::Rgb([1, 2, 3]))
        .save(dir.path().join("mill.jpg"))
        .unwrap();
    let other = Served::start(dir.path(), 0, &[]);
    let (head, body) = other.get("/whole/1/480.jpg");
    assert_eq!(status(&head), "422");
    assert!(
        body.contains("no longer the photograph that was read"),
        "{body}"
    );
}

#[test]
fn an_address_that_others_can_reach_needs_the_key() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let key = dir.path().join("key");
    std::fs::write(&key, "abcdef123456\n").unwrap();
    let served = Served::start(
        dir.path(),
        0,
        &[
            "--address",
            "127.0.0.1",
            "--key-file",
            key.to_str().unwrap(),
        ],
    );
    assert_eq!(served.key, "abcdef123456");
    let stranger = |path: &str| {
        let lines = format!(
            "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n",
            served.port
        );
        served.unknown(&lines).0
    };
    assert_eq!(status(&stranger("/")), "403");
    assert_eq!(status(&stranger("/?key=abcdef123457")), "403");
    let head = stranger("/?key=abcdef123456");
    assert_eq!(status(&head), "303");
    let cookie = format!(
        "dorso-key-{}=abcdef123456; HttpOnly; SameSite=Strict",
        served.port
    );
    assert!(head.contains(&cookie));
    assert_eq!(status(&served.get("/").0), "200");
}

#[test]
fn too_large_a_form_is_refused_and_the_desk_goes_on() {
    let dir = tempfile::tempdir().unwrap();
    small_store(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let text = "A".repeat(3 << 20);
    let (head, _) = served.post("/mark/1b/decide", &format!("act=read&text={text}"));
    assert!(matches!(status(&head), "413" | ""), "{head}");
    let (head, body) = served.post(
        "/mark/1b/decide",
        &format!("act=read&text={}", "A".repeat(5000)),
    );
    assert_eq!(status(&head), "400");
    assert!(body.contains("it is too long"));
    assert_eq!(status(&served.get("/").0), "200");
}

#[test]
fn a_decision_sent_twice_is_kept_once() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&small_store(dir.path())).unwrap();
    let guard = Guard {
        seen: Some(None),
        once: Some("a word of the sender".into()),
    };
    let mut send = || {
        s.decide_once(MarkId(1), &Act::Unreadable, &carrow(""), &guard)
            .unwrap()
    };
    let Kept::Now(first) = send() else { panic!() };
    let Kept::Before(again) = send() else {
        panic!()
    };
    assert_eq!(first, again);
    assert_eq!(s.journal().unwrap().len(), 1);
}

#[test]
fn a_decision_over_one_unseen_is_not_kept() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&small_store(dir.path())).unwrap();
    let seen = |n: Option<i64>| Guard {
        seen: Some(n.map(dorso::decisions::DecisionId)),
        once: None,
    };
    let first = s.decide(MarkId(1), &Act::Unreadable, &carrow("")).unwrap();
    let kept = s
        .decide_once(MarkId(1), &Act::NotAMark, &carrow(""), &seen(None))
        .unwrap();
    assert_eq!(kept, Kept::Conflict(vec![first]));
    let kept = s
        .decide_once(MarkId(1), &Act::NotAMark, &carrow(""), &seen(Some(1)))
        .unwrap();
    assert!(matches!(kept, Kept::Now(_)));
    assert_eq!(s.journal().unwrap().len(), 2);
}

#[test]
fn the_queue_kept_ready_is_the_one_worked_out_from_everything() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&small_store(dir.path())).unwrap();
    let check = |s: &SqliteStore| {
        let marks = s.marks(None).unwrap();
        let slow: Vec<MarkId> = dorso::decisions::queue(&marks, "2024-05-08")
            .into_iter()
            .filter(|i| i.state.is_due())
            .map(|i| i.mark.id)
            .collect();
        let fast = s.due("2024-05-08", None).unwrap();
        // What is put off until today is open again in both.
        assert_eq!(
            fast.iter().collect::<std::collections::BTreeSet<_>>(),
            slow.iter().collect()
        );
        let tally = s.tally("2024-05-08").unwrap();
        assert_eq!(tally.values().map(|t| t.due).sum::<usize>(), slow.len());
        assert_eq!(
            tally
                .values()
                .map(dorso::decisions::Tally::all)
                .sum::<usize>(),
            marks.len()
        );
        (fast, slow)
    };
    let (fast, slow) = check(&s);
    assert_eq!(fast, slow);
    for act in [
        Act::PutOff {
            until: Some("2024-05-08".into()),
        },
        Act::PutOff {
            until: Some("2024-06-01".into()),
        },
        Act::Unlisted { list: None },
        Act::Undo {
            undoes: dorso::decisions::DecisionId(3),
        },
        Act::Ask {
            whom: "Miss Dunn".into(),
        },
        Act::Answer {
            lines: vec!["ORME".into()],
            blind: false,
        },
        Act::Answer {
            lines: vec!["OBME".into()],
            blind: true,
        },
        Act::Read {
            lines: vec!["ORME".into()],
        },
        Act::NotAMark,
    ] {
        s.decide(MarkId(1), &act, &carrow("")).unwrap();
        check(&s);
    }
}

#[test]
fn somebody_s_answer_never_takes_the_place_of_the_user_s_own() {
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&small_store(dir.path())).unwrap();
    let own = Act::Read {
        lines: vec!["ORME & SON".into()],
    };
    let theirs = Act::Answer {
        lines: vec!["OBME & SON".into()],
        blind: false,
    };
    s.decide(MarkId(2), &own, &carrow("")).unwrap();
    let dunn = dorso::decisions::Author {
        by: "Miss Dunn".into(),
        ..carrow("")
    };
    s.decide(MarkId(2), &theirs, &dunn).unwrap();
    let mark = s.mark(MarkId(2)).unwrap();
    assert_eq!(
        mark.settled.lettering.as_ref().unwrap().value,
        dorso::decisions::Lettering::Read(vec!["ORME & SON".into()])
    );
    let item = dorso::decisions::item(&mark, "2024-05-08");
    assert!(
        item.doubts
            .iter()
            .any(|d| d.words.contains("Miss Dunn reads \"OBME & SON\"")),
        "{:?}",
        item.doubts
    );
    assert!(s.due("2024-05-08", None).unwrap().contains(&MarkId(2)));
    // Reading it once more settles it.
    s.decide(MarkId(2), &own, &carrow("")).unwrap();
    assert!(!s.due("2024-05-08", None).unwrap().contains(&MarkId(2)));
}

#[test]
fn a_mark_drawn_by_hand_holds_until_that_is_undone() {
    use dorso::decisions::{Drawing, State, item};
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&small_store(dir.path())).unwrap();
    let drawing = |mark| Drawing {
        photograph: 1,
        mark,
        seen: SeenMarkAt(300).into(),
        program: "by hand".into(),
    };
    let none = Guard::default();
    let Kept::Now(mended) = s
        .draw(&drawing(Some(MarkId(1))), &carrow(""), &none)
        .unwrap()
    else {
        panic!()
    };
    assert_eq!(s.mark(MarkId(1)).unwrap().latest().outline.bounds().x, 300);
    let undo = Act::Undo { undoes: mended.id };
    s.decide(MarkId(1), &undo, &carrow("")).unwrap();
    assert_eq!(s.mark(MarkId(1)).unwrap().latest().outline.bounds().x, 50);

    let Kept::Now(added) = s.draw(&drawing(None), &carrow(""), &none).unwrap() else {
        panic!()
    };
    assert_eq!(
        item(&s.mark(added.mark).unwrap(), "2024-05-08").state,
        State::Open
    );
    let undo = Act::Undo { undoes: added.id };
    let undone = s.decide(added.mark, &undo, &carrow("")).unwrap();
    assert_eq!(
        item(&s.mark(added.mark).unwrap(), "2024-05-08").state,
        State::NotAMark
    );
    s.decide(added.mark, &Act::Undo { undoes: undone.id }, &carrow(""))
        .unwrap();
    assert_eq!(
        item(&s.mark(added.mark).unwrap(), "2024-05-08").state,
        State::Open
    );
}

/// A firm's label at that place.
struct SeenMarkAt(i32);

impl From<SeenMarkAt> for dorso::decisions::SeenMark {
    fn from(at: SeenMarkAt) -> Self {
        let mut m = firm_label();
        m.outline = dorso::geometry::Rect::new(at.0, 300, 340, 160).quad();
        m
    }
}
