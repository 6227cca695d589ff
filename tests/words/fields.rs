//! What a typed reading states: `dorso fields` and the stage behind it.

use assert_cmd::Command;
use dorso::gazetteer::{Entry, Gazetteer, List};
use dorso::marks::MarkKind;
use dorso::readings::from_typed;
use dorso::statements::{self, Lists, Role, Statement};
use proptest::prelude::*;
use serde_json::Value;

pub(crate) fn entry(
    list: &str,
    key: &str,
    name: &str,
    trade: &str,
    address: &str,
    town: &str,
) -> Entry {
    Entry {
        list: list.into(),
        entry: key.into(),
        name: name.into(),
        trade: trade.into(),
        address: address.into(),
        town: town.into(),
        ..Entry::default()
    }
}

/// Invented lists.
fn lists() -> Gazetteer {
    let list = |name: &str, entries: Vec<Entry>| List {
        name: name.into(),
        entries: entries.into(),
        ..List::default()
    };
    let firm = |key: &str, name: &str, address: &str, town: &str| {
        entry("firms", key, name, "carver and gilder", address, town)
    };
    Gazetteer {
        lists: vec![
            list(
                "firms",
                vec![
                    firm("thackwray-1", "Thackwray & Son", "14 Highgate", "Kendal"),
                    firm("oldshaw-1", "Jabez Oldshaw", "3 Minster Yard", "Lincoln"),
                ],
            ),
            list(
                "towns",
                ["Kendal", "York", "Lincoln", "Perth"]
                    .map(|t| entry("towns", &t.to_lowercase(), t, "town", "", t))
                    .to_vec(),
            ),
        ],
    }
}

fn said(text: &str) -> Vec<Statement> {
    let lines = from_typed(text).expect("typed");
    statements::of_lists(&lines, None, &lists())
}

fn value(said: &[Statement], role: Role) -> Option<&str> {
    let of = said.iter().find(|s| s.role == role);
    of.map(|s| s.value.as_str())
}

#[test]
fn a_framers_label_names_firm_trade_premises_and_town() {
    let said = said("THACKWRAY & SON, / Carvers & Gilders, / 14 Highgate, Kendal.");
    let maker = said.iter().find(|s| s.role == Role::Maker).expect("maker");
    assert_eq!(maker.entry.as_deref(), Some("thackwray-1"));
    assert_eq!(value(&said, Role::Trade), Some("Carvers & Gilders"));
    assert_eq!(value(&said, Role::Address), Some("14 Highgate"));
    let town = said.iter().find(|s| s.role == Role::Town).expect("town");
    assert_eq!((town.value.as_str(), town.line), ("Kendal", 2));
    assert!(
        town.chance >= maker.chance * maker.listed,
        "{town:?} {maker:?}"
    );
}

#[test]
fn headings_say_what_was_written_in_beside_them() {
    let said = said("Title  Evening on the Tarn / Artist  A. Kettlewood / Price  £12 12s");
    assert_eq!(value(&said, Role::Title), Some("Evening on the Tarn"));
    assert_eq!(value(&said, Role::Artist), Some("A. Kettlewood"));
    assert_eq!(value(&said, Role::Price), Some("£12 12s"));
}

#[test]
fn years_days_and_numbers_take_their_normal_form() {
    assert_eq!(
        value(&said("Exhibition 1871. / No. 27"), Role::ExhibitionYear),
        Some("1871")
    );
    assert_eq!(
        value(&said("Exhibition 1871. / No. 27"), Role::CatalogueNumber),
        Some("27")
    );
    assert_eq!(value(&said("Lot 113"), Role::Lot), Some("113"));
    let sale = said("Puttick & Oldshaw, Auctioneers / 14th May 1932 / Lot 88");
    assert_eq!(value(&sale, Role::SaleDate), Some("1932-05-14"));
}

#[test]
fn lost_letters_are_filled_from_the_entry() {
    let said = said("THACK[..]AY & SON / Carvers & Gilders / 14 Highgate / Kendal");
    assert_eq!(value(&said, Role::Maker), Some("THACKWRAY & SON"));
}

#[test]
fn firms_of_other_languages_are_named_with_their_trades_before_or_behind() {
    let mut lists = lists();
    let mut firm = |key: &str, name: &str, trade: &str, town: &str| {
        let e = entry("firms", key, name, trade, "", town);
        let all = lists.lists[0].entries.iter().cloned();
        lists.lists[0].entries = all.chain([e]).collect();
    };
    firm("belmont-1", "G. Belmontier et Fils", "doreurs", "Lyon");
    firm("hohlwein-1", "Hohlweiner", "Kunsthandlung", "Weimar");
    for (text, key) in [
        (
            "G. Belmontier et Fils / doreurs sur bois / Lyon",
            "belmont-1",
        ),
        ("Kunsthandlung Hohlweiner / Weimar", "hohlwein-1"),
    ] {
        let said = statements::of_lists(&from_typed(text).expect("typed"), None, &lists);
        let named = |s: &&Statement| matches!(s.role, Role::Maker | Role::Dealer);
        let firm = said.iter().find(named).expect("a firm");
        assert_eq!(firm.entry.as_deref(), Some(key), "{said:?}");
    }
}

#[test]
fn a_list_is_what_its_first_line_declares() {
    let bytes = "# role: place\nentry,name\nh,Hexmoor\n".as_bytes();
    let sheet = dorso::gazetteer::rows::read("my_parishes.csv".as_ref(), bytes);
    assert_eq!((sheet.role, sheet.faults.len()), (Some("place"), 0));
    let parishes = List {
        name: sheet.list,
        role: sheet.role,
        entries: sheet.entries.into(),
        ..List::default()
    };
    let lists = Lists::new(&Gazetteer {
        lists: vec![parishes],
    });
    assert_eq!(lists.rows[0].kind, statements::Kind::Place);
    let wrong = dorso::gazetteer::rows::read("a.csv".as_ref(), b"# role: pilot\nentry,name\n");
    assert!(wrong.faults.iter().any(|f| f.what.contains("pilot")));
}

/// Places of a text, each with its chance, by a list of places alone.
fn places(text: &str) -> Vec<(String, f64)> {
    let (lists, lines) = (lists(), from_typed(text).expect("typed"));
    let found = statements::places(&lines, None, &Lists::new(&lists));
    let name = |p: &statements::Place| lists.lists[p.list].entries[p.entries[0].0].name.clone();
    found.iter().map(|p| (name(p), p.chance())).collect()
}

#[test]
fn each_place_of_a_text_has_a_chance_of_its_own() {
    let found =
        places("OLDSHAW & CO. / Printsellers / 9 Bridge Street, Lincoln / Exhibited at York 1902");
    let sure = |town: &str| found.iter().any(|p| p.0 == town && p.1 >= 0.8);
    assert!(sure("Lincoln") && sure("York"), "{found:?}");
}

#[test]
fn a_show_in_a_town_on_no_list_names_no_other_town() {
    for text in [
        "Kendel Salon 1874",
        "Exhibition 1881 / Berth Rooms",
        "Salon de Lyon 1879",
    ] {
        let found = places(text);
        assert!(found.iter().all(|p| p.1 < 0.3), "{text}: {found:?}");
    }
}

#[test]
fn nothing_read_states_nothing() {
    assert!(said("[---]").is_empty());
    assert!(statements::of_lists(&[], None, &lists()).is_empty());
}

#[test]
fn the_command_prints_the_shape_of_the_contract() {
    let run = |text: &[&str]| {
        let mut c = Command::cargo_bin("dorso").expect("built");
        let out = c.arg("fields").args(text).output().expect("runs");
        assert!(
            out.status.success(),
            "{}",
            String::from_utf8_lossy(&out.stderr)
        );
        String::from_utf8(out.stdout).expect("UTF-8")
    };
    let told: Value =
        serde_json::from_str(&run(&["--json", "Lot 113 / 14 May 1932"])).expect("JSON");
    let all = told["statements"].as_array().expect("statements");
    assert!(!all.is_empty());
    for s in all {
        let role = s["role"].as_str().expect("role");
        assert!(Role::parse(role).is_some(), "{role}");
        assert!(s["value"].is_string() && s["words"].is_string() && s["line"].is_u64());
        let chance = s["chance"].as_f64().expect("chance");
        assert!((0.0..=1.0).contains(&chance));
        assert_eq!(s["list"].is_null(), s["entry"].is_null());
    }
    assert!(run(&["Lot 113"]).contains("lot: 113"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_word_belongs_to_two_statements_and_chances_are_chances(
        words in prop::collection::vec("[A-Z]?[a-z]{1,7}[,.]?|[0-9]{1,4}|No\\.|Lot|Title|Kendal|York|&|/|\\[\\.\\.\\]|£[0-9]{1,2}", 0..24),
        kind in prop::option::of(0usize..7),
    ) {
        let Ok(lines) = from_typed(&words.join(" ")) else { return Ok(()) };
        let said = statements::of(&lines, kind.map(|k| MarkKind::ALL[k]), &Lists::new(&lists()));
        let mut taken: Vec<(usize, std::ops::Range<usize>)> = Vec::new();
        for s in &said {
            prop_assert!((0.0..=1.0).contains(&s.chance) && (0.0..=1.0).contains(&s.listed));
            prop_assert!(!s.value.is_empty() && !s.words.is_empty());
            prop_assert_eq!(s.line, s.places[0].0);
            for (line, place) in &s.places {
                let meets = |t: &(usize, std::ops::Range<usize>)| t.0 == *line && t.1.start < place.end && place.start < t.1.end;
                prop_assert!(!taken.iter().any(meets), "{:?}", said);
                prop_assert!(place.end <= lines[*line].characters.len());
            }
            taken.extend(s.places.clone());
        }
    }
}
