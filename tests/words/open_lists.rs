//! The lists made from open data: that of artists in the program, those of `gazetteer/open` beside it.

use dorso::gazetteer::{Place, load};
use std::path::Path;

#[test]
fn lists_from_open_data_can_be_used_and_name_nobody_who_may_be_living() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gazetteer/open");
    let (lists, faults) = load(&folder).expect("folder");
    assert_eq!(faults, []);
    let told: Vec<_> = lists.lists.iter().map(|l| (&l.name[..], l.role)).collect();
    let expected = [
        ("auctions", Some("sale")),
        ("dealers", Some("seller")),
        ("persons", Some("person")),
    ];
    assert_eq!(told, expected);
    let (starter, faults) = Place::Starter.load().expect("built in");
    assert_eq!(faults, []);
    let artists = starter
        .lists
        .iter()
        .find(|l| l.name == "artists")
        .expect("artists");
    assert!(artists.entries.len() > 12_000 && lists.entries().count() > 3_700);
    for e in lists.entries().chain(artists.entries.iter()) {
        assert!(!e.source.is_empty(), "{} has no source", e.entry);
        let person = ["artists", "persons"].contains(&e.list.as_str());
        let born = e.years().0;
        assert!(!person || born.is_none_or(|y| y < 1930), "{}", e.entry);
        // What is only seen bounds nothing
        let seen = e.from.starts_with("[..") && e.to.ends_with("..]");
        assert!(!seen || e.years() == (None, None), "{}", e.entry);
    }
    assert!(starter.entry("artists", "ansdell-richard").is_some());
}
