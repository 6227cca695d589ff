//! A mark that several photographs show, and the question whether two of them show one.

use super::*;
use dorso::decisions::{Joined, Laying, Placed};
use dorso::geometry::Homography;

/// One back on three photographs: a label on the first two, surely one; on the third one that may be.
fn three(dir: &Path) -> i64 {
    let file = dir.join("s.sqlite");
    let mut store = SqliteStore::open(&file).unwrap();
    let mut ids = Vec::new();
    let mut photographs = Vec::new();
    let mut picture = 0;
    for (n, name) in ["back.jpg", "close.jpg", "old.jpg"].into_iter().enumerate() {
        let path = dir.join(name);
        let mut label = firm_label();
        label.outline = dorso::geometry::Rect::new(50 + 40 * n as i32, 40, 340, 160).quad();
        crate::desk::board(&path, std::slice::from_ref(&label), 800, 600);
        let mut seen = photograph("", 'a', vec![label]);
        seen.sha256 = dorso::photograph::identity(&path).unwrap();
        seen.file = path;
        let mut r = run(vec![seen]);
        r.picture = Some("The Mill at Askrigg".into());
        let recorded = store.record_run(&r).unwrap();
        picture = recorded.picture_id;
        ids.push(recorded.marks[0][0]);
        photographs.push(store.mark(recorded.marks[0][0]).unwrap().photograph);
    }
    let join = |a: usize, b: usize, chance: f64| Joined {
        a: ids[a],
        b: ids[b],
        chance,
        moved: false,
        why: "lies at the same place".into(),
    };
    let placed = |p: &i64| {
        let place = Placed {
            face: 0,
            ground: photographs[0],
            to_plan: Homography::SAME,
            error_px: 1.2,
            chance: 0.99,
        };
        (*p, Some(place))
    };
    let laying = Laying {
        by: "A. Carrow".into(),
        at: MONDAY.into(),
        program: "dorso".into(),
        places: photographs.iter().map(placed).collect(),
        pieces: Vec::new(),
        bare_on: Vec::new(),
        joins: vec![join(0, 1, 0.99), join(0, 2, 0.4), join(1, 2, 0.35)],
    };
    store.keep_laying(picture, &laying).unwrap();
    picture
}

#[test]
fn a_mark_has_its_photographs_side_by_side_and_a_doubtful_one_is_asked_with_one_key() {
    let dir = tempfile::tempdir().unwrap();
    let picture = three(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(1280, 900);
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    let thumbs = "document.querySelectorAll('#thumbs img').length";
    assert_eq!(page.eval(&mut b, thumbs), json!(2));
    // Another photograph of it, and with one key back.
    let src = "document.querySelector('#crop-picture').getAttribute('src')";
    let first = page.eval(&mut b, src);
    page.eval(
        &mut b,
        "document.querySelectorAll('#thumbs button[data-variant]')[1].click(); 0",
    );
    let second = page.eval(&mut b, src);
    assert_ne!(first, second);
    page.press(&mut b, "b");
    assert_eq!(page.eval(&mut b, src), first);
    assert_eq!(violations(&page, &mut b), Vec::<String>::new());

    // The later mark asks; one key says that both are one.
    page.go(&mut b, &format!("{}/settle/3d", served.address));
    let asked = "document.querySelectorAll('.same img').length";
    assert_eq!(page.eval(&mut b, asked), json!(2));
    assert_eq!(violations(&page, &mut b), Vec::<String>::new());
    page.press_and_load(&mut b, "y");
    let store = open(dir.path());
    assert_eq!(store.mark(MarkId(3)).unwrap().id, MarkId(1));
    assert!(matches!(acts(dir.path()).last(), Some(Act::Same { .. })));
    drop(store);

    // The picture's page lists the mark once, with its photographs.
    page.go(&mut b, &format!("{}/picture/{picture}", served.address));
    let listed = "document.querySelectorAll('ul.marks > li').length";
    assert_eq!(page.eval(&mut b, listed), json!(1));
    let shown = "document.querySelectorAll('ul.marks > li .hint a').length";
    assert_eq!(page.eval(&mut b, shown), json!(3));
    assert_eq!(violations(&page, &mut b), Vec::<String>::new());
}

#[test]
fn a_photograph_is_said_to_show_another_mark_and_that_is_undone() {
    let dir = tempfile::tempdir().unwrap();
    three(dir.path());
    let served = Served::start(dir.path(), 0, &[]);
    let mut b = Browser::start();
    let page = b.page(400, 800);
    page.go(&mut b, &format!("{}/settle/1b", served.address));
    let wide = "document.documentElement.scrollWidth <= innerWidth";
    assert_eq!(page.eval(&mut b, wide), json!(true));
    page.eval(
        &mut b,
        "document.querySelectorAll('#thumbs form button')[1].click(); 0",
    );
    saved(&page, &mut b, "is another mark");
    assert_eq!(open(dir.path()).mark(MarkId(2)).unwrap().id, MarkId(2));
    page.press_and_load(&mut b, "z");
    assert_eq!(open(dir.path()).mark(MarkId(2)).unwrap().id, MarkId(1));
}
