//! Initials against a list of artists: what is typed, who may be meant, what else would tell.

use dorso::chance::Tempering;
use dorso::gazetteer::Entry;
use dorso::monogram::{Artists, Described, Known, MostTelling, Who};
use proptest::prelude::*;

/// Name, first and last year, nationality, birthplace: all invented.
const PAINTERS: [(&str, &str, &str, &str, &str); 10] = [
    (
        "Jonas Wetherby",
        "1801",
        "1866",
        "British",
        "Kendal, Cumbria",
    ),
    (
        "Josephine Wardlow",
        "1851",
        "1922",
        "British",
        "Leeds, Yorkshire",
    ),
    ("Jules Wandelin", "1845", "1901", "French", "Lyon, France"),
    (
        "Wilhelm Jastrow",
        "1848",
        "1909",
        "German",
        "Köln, Deutschland",
    ),
    (
        "Isaac Wrentham",
        "1790",
        "1841",
        "British",
        "Norwich, Norfolk",
    ),
    (
        "John Mallow Wexcombe",
        "1850",
        "1910",
        "British",
        "Bath, Somerset",
    ),
    ("Ada Corrigan", "1860", "1931", "Irish", "Cork, Ireland"),
    ("Ian MacTarvit", "1840", "1899", "Scottish", "Cupar, Fife"),
    (
        "Mary Ashby-Lorne",
        "1870",
        "1944",
        "British",
        "Exeter, Devon",
    ),
    ("Uta Vendel", "", "", "German", ""),
];

/// The painters among others who sign otherwise.
fn artists(others: usize) -> Artists {
    let other = |i: usize| Entry {
        list: "artists".into(),
        entry: format!("other-{i}"),
        name: "Quirin Quellmann".into(),
        ..Entry::default()
    };
    let rows: Vec<Entry> = PAINTERS
        .iter()
        .map(|(name, from, to, nation, born)| Entry {
            list: "artists".into(),
            entry: name.to_lowercase().replace(' ', "-"),
            name: (*name).into(),
            from: (*from).into(),
            to: (*to).into(),
            extra: vec![
                ("nationality".into(), (*nation).into()),
                ("born at".into(), (*born).into()),
            ],
            ..Entry::default()
        })
        .chain((0..others).map(other))
        .collect();
    Artists::believed(rows.iter(), Tempering::default())
}

fn who(text: &str, known: &Known) -> Who {
    let described = Described::parse(text).expect(text);
    artists(12_000).who(&described.letters_meant(), known, usize::MAX)
}

fn chance(who: &Who, name: &str) -> f64 {
    let row = PAINTERS.iter().position(|p| p.0 == name).expect(name);
    let found = who.possible.iter().find(|p| p.row == row);
    found.map_or(0.0, |p| p.chance)
}

fn made(from: i32, to: i32) -> Known {
    Known {
        years: Some((from, to)),
        ..Known::default()
    }
}

#[test]
fn several_share_two_letters_and_nobody_is_a_rival() {
    let told = who("JW", &Known::default());
    assert!(told.fit >= 5, "{told:?}");
    assert!(told.nobody > 0.1);
    let described = Described::parse("JW").expect("two letters");
    let short = artists(0).who(&described.letters_meant(), &Known::default(), usize::MAX);
    assert!(
        short.nobody > 0.9,
        "a list of ten leaves nearly everybody out"
    );
    assert!(chance(&told, "Jonas Wetherby") > chance(&told, "Wilhelm Jastrow"));
    assert!(chance(&told, "Isaac Wrentham") > 0.0, "I stands for J");
    assert!(
        chance(&told, "John Mallow Wexcombe") > 0.0,
        "a Christian name is left out"
    );
    assert_eq!(chance(&told, "Ada Corrigan"), 0.0);
}

#[test]
fn drawn_into_one_another_the_order_tells_little() {
    let side = who("JW", &Known::default());
    let over = who("J+W", &Known::default());
    assert!(chance(&over, "Wilhelm Jastrow") > 2.0 * chance(&side, "Wilhelm Jastrow"));
}

#[test]
fn years_a_nationality_and_a_place_tell_more() {
    let open = who("JW", &Known::default());
    let early = who("JW", &made(1830, 1835));
    assert!(chance(&early, "Jonas Wetherby") > 2.0 * chance(&open, "Jonas Wetherby"));
    assert!(chance(&early, "Josephine Wardlow") < 0.02);
    assert!(early.then < early.fit);
    let dated = Described::parse("JW 1832").expect("dated");
    assert_eq!(dated.years, Some((1832, 1832)));
    let french = Known {
        nationality: Some("french".into()),
        ..Known::default()
    };
    assert_eq!(
        who("JW", &french).possible[0].row,
        2,
        "the one French painter leads"
    );
    let leeds = Known {
        place: Some("Leeds".into()),
        ..Known::default()
    };
    assert!(chance(&who("JW", &leeds), "Josephine Wardlow") > chance(&open, "Josephine Wardlow"));
}

#[test]
fn forms_of_names_are_found() {
    for (text, name) in [
        ("IMT", "Ian MacTarvit"),
        ("IT", "Ian MacTarvit"),
        ("MAL", "Mary Ashby-Lorne"),
        ("ML", "Mary Ashby-Lorne"),
        ("JMVV", "John Mallow Wexcombe"),
        ("VV", "Uta Vendel"),
        ("A(CG)", "Ada Corrigan"),
        ("AG?", "Ada Corrigan"),
        ("A*", "Ada Corrigan"),
    ] {
        assert!(chance(&who(text, &Known::default()), name) > 0.0, "{text}");
    }
}

#[test]
fn the_fact_that_would_tell_most_is_told() {
    let told = who("JW", &Known::default());
    let first = told.telling.first().expect("a fact");
    assert!(first.bits > 0.3 && first.then < first.now);
    let known = Known {
        years: Some((1870, 1872)),
        nationality: Some("British".into()),
        ..Known::default()
    };
    let facts = who("JW", &known).telling;
    assert!(facts.iter().all(|f| f.fact == MostTelling::Letters));
}

#[test]
fn what_is_no_description_is_told_with_the_next_step() {
    for (text, word) in [
        ("", "one to five letters"),
        ("ABCDEF", "one to five letters"),
        ("J#W", "no capital"),
        ("JW blot", "no word"),
        ("J()", "no capitals"),
        ("*****", "leave at most two"),
    ] {
        let told = Described::parse(text).expect_err(text).to_string();
        assert!(told.contains(word), "{text}: {told}");
    }
}

proptest! {
    #[test]
    fn chances_and_nobody_sum_to_one(
        text in "[A-Z][+]?[A-Z][?]?([+]?[A-Z])?",
        from in 1600..1950i32,
        width in 0..60i32,
        dated in any::<bool>(),
    ) {
        let known = if dated { made(from, from + width) } else { Known::default() };
        let told = who(&text, &known);
        let sum: f64 = told.possible.iter().map(|p| p.chance).sum::<f64>() + told.nobody;
        prop_assert!((sum - 1.0).abs() < 1e-6);
        prop_assert!(told.nobody > 0.0);
        prop_assert!(told.telling.iter().all(|f| f.bits >= 0.0 && f.then <= f.now + 1e-9));
    }
}
