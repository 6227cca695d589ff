//! The lists of `gazetteer/open`, which lie beside the program.

use dorso::gazetteer::{Gazetteer, Place, load};
use std::path::Path;

#[test]
fn lists_beside_the_program_can_be_used_and_name_nobody_who_may_be_living() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("gazetteer/open");
    let (lists, faults) = load(&folder).expect("folder");
    assert_eq!(faults, []);
    let told: Vec<_> = lists.lists.iter().map(|l| (&l.name[..], l.role)).collect();
    let expected = [
        ("artists", Some("person")),
        ("auctions", Some("sale")),
        ("dealers", Some("seller")),
        ("persons", Some("person")),
    ];
    assert_eq!(told, expected);
    assert!(lists.entries().count() > 16_000);
    for e in lists.entries() {
        assert!(!e.source.is_empty(), "{} has no source", e.entry);
        let person = ["artists", "persons"].contains(&e.list.as_str());
        let born = e.years().0;
        assert!(!person || born.is_none_or(|y| y < 1930), "{}", e.entry);
        // What is only seen bounds nothing
        let seen = e.from.starts_with("[..") && e.to.ends_with("..]");
        assert!(!seen || e.years() == (None, None), "{}", e.entry);
    }
    // Rows of the starter list stand as they are
    let (starter, _) = Place::Starter.load().expect("built in");
    let own = |g: &Gazetteer| {
        g.entry("artists", "ansdell-richard")
            .map(|e| (e.name.clone(), e.years()))
    };
    assert!(own(&starter).is_some());
    assert_eq!(own(&starter), own(&lists));
}
