//! Places of a text: groups of rivals of their own, beside the firms whose addresses they are part of.

use crate::fields::entry;
use dorso::gazetteer::{Entry, Gazetteer, List};
use dorso::proposals::{Index, Rivals};
use dorso::readings::from_typed;

/// A list of places whose file isn't called one: its rows tell, or it declares it.
fn index(role: Option<&'static str>, trade: &str) -> Index {
    let place = |name: &str| entry("parishes", &name.to_lowercase(), name, trade, "", "");
    let firm = entry(
        "framers",
        "ravelstone-1",
        "Amos Ravelstone",
        "carver and gilder",
        "9 Fisher Row",
        "Hexmoor",
    );
    let list = |name: &str, role, entries: Vec<Entry>| List {
        name: name.into(),
        file: name.into(),
        role,
        entries: entries.into(),
        digest: None,
    };
    let places = ["Hexmoor", "Carnwick", "Thornbeck", "Wrexford"].map(place);
    Index::new(Gazetteer {
        lists: vec![
            list("framers", None, vec![firm]),
            list("parishes", role, places.to_vec()),
        ],
    })
}

fn groups(index: &Index, text: &str) -> (Vec<Rivals>, Vec<Rivals>) {
    let all = index.weigh(&from_typed(text).expect("typed"), None);
    for r in &all {
        let sum: f64 = r.unlisted + r.proposals.iter().map(|p| p.probability).sum::<f64>();
        assert!((sum - 1.0).abs() < 1e-6, "{r:?}");
    }
    all.into_iter().partition(|r| r.list == "parishes")
}

const LABEL: &str =
    "AMOS RAVELSTONE / Carver & Gilder / 9 Fisher Row, Hexmoor / Exhibited at Carnwick 1899";

#[test]
fn two_places_of_a_label_stand_beside_each_other_and_the_firms_at_least_as_likely_as_it() {
    let (places, firms) = groups(&index(None, "town"), LABEL);
    let first: Vec<(&str, Option<usize>, &[usize])> = places
        .iter()
        .map(|r| &r.proposals[0])
        .map(|p| (p.entry.as_str(), p.place, &p.lines[..]))
        .collect();
    assert_eq!(
        first,
        [
            ("hexmoor", Some(0), &[2][..]),
            ("carnwick", Some(1), &[3][..])
        ]
    );
    let chance = |r: &Rivals| r.proposals[0].probability;
    assert!(places.iter().all(|r| chance(r) >= 0.8), "{places:?}");
    assert!(chance(&places[0]) >= chance(&firms[0]), "{firms:?}");
}

#[test]
fn a_list_that_declares_its_rows_as_places_is_one_whatever_their_trades_say() {
    let (places, _) = groups(&index(Some("place"), "parish of the see"), LABEL);
    assert_eq!(places.len(), 2, "{places:?}");
}

#[test]
fn a_mark_that_names_no_place_of_the_list_has_one_group_without_entries() {
    let (places, _) = groups(&index(None, "town"), "Title Evening / Price £12 12s");
    assert_eq!((places.len(), places[0].proposals.len()), (1, 0));
    assert!(places[0].unlisted > 0.9);
}
