//! A firm or a society with several addresses is met at that of the year which stands on the mark.

use dorso::dating::clues::Clues;
use dorso::evidence::by_own_dates;
use dorso::gazetteer::{Entry, Gazetteer, List};
use dorso::proposals::{Index, Rivals};
use dorso::readings::from_typed;

fn premises(key: &str, address: &str, from: &str, to: &str) -> Entry {
    Entry {
        list: "exhibitions".into(),
        entry: key.into(),
        name: "Wexmoor Society of Painters".into(),
        trade: "exhibiting society".into(),
        address: address.into(),
        town: "Wexmoor".into(),
        from: from.into(),
        to: to.into(),
        ..Entry::default()
    }
}

fn index() -> Index {
    let entries = vec![
        premises("wexmoor-1", "Corn Hall", "1831", "1851"),
        premises("wexmoor-2", "Assembly Rooms", "1852", "1868"),
        premises("wexmoor-3", "Market Hill", "1869", "1912"),
    ];
    Index::new(Gazetteer {
        lists: vec![List {
            name: "exhibitions".into(),
            file: "exhibitions.csv".into(),
            role: None,
            entries: entries.into(),
            digest: None,
        }],
    })
}

/// By the lettering alone, and beside the dates of the text.
fn weighed(text: &str) -> (Rivals, Rivals) {
    let index = index();
    let lines = from_typed(text).unwrap();
    let rivals = index.weigh(&lines, None);
    let said = index.statements(&lines, None);
    let clues = Clues::built_in().unwrap();
    let beside = by_own_dates(lines, rivals.clone(), said, &clues).unwrap();
    (rivals[0].clone(), beside[0].clone())
}

fn chance(r: &Rivals, key: &str) -> f64 {
    let found = r.proposals.iter().find(|p| p.entry == key);
    found.map_or(0.0, |p| p.probability)
}

#[test]
fn the_year_of_a_show_names_the_premises_that_the_society_had_then() {
    for (year, right) in [
        (1840, "wexmoor-1"),
        (1860, "wexmoor-2"),
        (1877, "wexmoor-3"),
    ] {
        let text = format!("WEXMOOR SOCIETY OF PAINTERS / EXHIBITION {year}");
        let (alone, beside) = weighed(&text);
        assert!(chance(&alone, right) < 0.5, "{alone:?}");
        assert!(chance(&beside, right) > 0.6, "{year} {beside:?}");
        assert_eq!(beside.proposals[0].entry, right);
        let sum: f64 = beside.proposals.iter().map(|p| p.probability).sum();
        assert!((sum + beside.unlisted - 1.0).abs() < 1e-6);
    }
}

#[test]
fn a_year_that_excludes_every_row_prefers_none_of_them_and_no_year_changes_nothing() {
    let (alone, beside) = weighed("WEXMOOR SOCIETY OF PAINTERS / EXHIBITION 1961");
    for p in &alone.proposals {
        let moved = (chance(&beside, &p.entry) - p.probability).abs();
        assert!(moved < 0.05, "{alone:?} {beside:?}");
    }
    let (alone, beside) = weighed("WEXMOOR SOCIETY OF PAINTERS / EXHIBITION");
    assert_eq!(alone, beside);
}
