//! Editorial signs. Source of the table: Leiden conventions 1931, as restated by Krummrey and
//! Panciera 1980 and in the EpiDoc Guidelines v. 8/9 (from memory).

use dorso::readings::from_typed;
use dorso::readings::leiden::{Extent, Sign, parse, print_signs};
use proptest::prelude::*;

fn letters(text: &str) -> Vec<Sign> {
    text.chars().map(|c| Sign::Letter(c.to_string())).collect()
}

fn with(before: &str, sign: Sign, after: &str) -> Vec<Sign> {
    let mut all = letters(before);
    all.push(sign);
    all.extend(letters(after));
    all
}

fn supplied(text: &str, sure: bool) -> Sign {
    Sign::Supplied {
        text: text.into(),
        sure,
    }
}

#[test]
fn each_sign_of_the_conventions_is_understood_and_printed_as_published() {
    let table = [
        ("GIḶDER", with("GI", Sign::Unclear("L".into()), "DER")),
        (
            "STO[R/K]",
            with("STO", Sign::Several(vec!["R".into(), "K".into()]), ""),
        ),
        ("CAR[...]", with("CAR", Sign::Lost(Extent::Exactly(3)), "")),
        (
            "[c. 5] & Co",
            with("", Sign::Lost(Extent::About(5)), " & Co"),
        ),
        (
            "[3-5]ton",
            with("", Sign::Lost(Extent::Between(3, 5)), "ton"),
        ),
        (
            "[---] & SON",
            with("", Sign::Lost(Extent::Unknown), " & SON"),
        ),
        ("[------]", vec![Sign::Lost(Extent::Lines)]),
        ("No. +++", with("No. ", Sign::Illegible(3), "")),
        ("C[olou]rman", with("C", supplied("olou", true), "rman")),
        ("C[olou?]rman", with("C", supplied("olou", false), "rman")),
        ("Pic<t>ure", with("Pic", Sign::Omitted("t".into()), "ure")),
        ("Glass{s}", with("Glass", Sign::Surplus("s".into()), "")),
        ("fram⸢e⸣d", with("fram", Sign::Corrected("e".into()), "d")),
        ("W(illia)m", with("W", Sign::Expanded("illia".into()), "m")),
        ("⟦12/6⟧", vec![Sign::Erased(letters("12/6"))]),
        (
            "⟦[...]⟧",
            vec![Sign::Erased(vec![Sign::Lost(Extent::Exactly(3))])],
        ),
        (
            "a `small´ b",
            with("a ", Sign::Added(letters("small")), " b"),
        ),
        ("No. vac.", with("No. ", Sign::Blank(None), "")),
        ("No. (vac. 4)", with("No. ", Sign::Blank(Some(4)), "")),
    ];
    for (text, signs) in table {
        assert_eq!(parse(text).as_ref(), Ok(&signs), "parsing {text}");
        assert_eq!(print_signs(&signs), text, "printing {text}");
    }
}

#[test]
fn other_ways_of_writing_a_loss_mean_the_same() {
    for (text, sign) in [
        ("[…]", Sign::Lost(Extent::Exactly(3))),
        ("[. . .]", Sign::Lost(Extent::Exactly(3))),
        ("[. c. 5 .]", Sign::Lost(Extent::About(5))),
        ("[ca. 5]", Sign::Lost(Extent::About(5))),
        ("[3–5]", Sign::Lost(Extent::Between(3, 5))),
        ("[- - -]", Sign::Lost(Extent::Unknown)),
        ("[– – –]", Sign::Lost(Extent::Unknown)),
        (".\u{323}.\u{323}", Sign::Illegible(2)),
    ] {
        assert_eq!(parse(text), Ok(vec![sign]), "{text}");
    }
}

#[test]
fn a_lost_stretch_beside_a_supplied_one_is_two_signs() {
    let both = vec![Sign::Lost(Extent::Exactly(2)), supplied("ay", true)];
    assert_eq!(parse("[..ay]"), Ok(both.clone()));
    assert_eq!(print_signs(&both), "[..][ay]");
    assert_eq!(parse("[St.]"), Ok(vec![supplied("St.", true)]));
}

#[test]
fn what_stands_on_the_object_is_no_sign() {
    for plain in [
        "A. (late B.) & Co",
        "5 + 3",
        "c/o 12/6",
        "Tel. (01) 22",
        "a.b...",
        "vac.um",
    ] {
        let signs = parse(plain).unwrap();
        assert!(
            signs.iter().all(|s| matches!(s, Sign::Letter(_))),
            "{plain}: {signs:?}"
        );
        assert_eq!(print_signs(&signs).replace('\\', ""), plain);
    }
    assert_eq!(parse(r"\[9\]"), Ok(letters("[9]")));
    assert_eq!(print_signs(&letters("[9]")), r"\[9\]");
}

#[test]
fn composed_and_decomposed_unclear_letters_are_the_same_and_printed_in_nfc() {
    let composed = parse("\u{1e36}").unwrap();
    assert_eq!(composed, parse("L\u{323}").unwrap());
    assert_eq!(composed, vec![Sign::Unclear("L".into())]);
    assert_eq!(print_signs(&composed), "\u{1e36}");
    let accent = parse("e\u{301}\u{323}").unwrap();
    assert_eq!(accent, vec![Sign::Unclear("é".into())]);
    assert_eq!(print_signs(&accent), "\u{1eb9}\u{301}");
}

#[test]
fn faults_name_the_line_the_character_and_what_to_write() {
    let told: Vec<String> = [
        "CAR[..", "CAR..]", "a[]b", "[?]", "⟦abc", "x<a", "[a{b]", "[5-3]", "C[oḷ]r", "``",
    ]
    .iter()
    .map(|t| from_typed(t).unwrap_err().to_string())
    .collect();
    insta::assert_snapshot!(told.join("\n"), @r#"
line 1, character 4: "[" isn't closed; close it with "]", or write a backslash before a sign that stands on the object.
line 1, character 6: "]" closes nothing; write the opening sign too, or a backslash before a sign that stands on the object.
line 1, character 2: "[]" holds nothing; write the letters between the signs, [.] for one lost letter or [---] for an unknown number.
line 1, character 1: "[?]" holds nothing but doubt; write [.] for one lost letter or [---] for an unknown number.
line 1, character 1: the sign opened here isn't closed; close it with "⟧", or write a backslash before a sign that stands on the object.
line 1, character 2: "<" isn't closed; close it with ">", or write a backslash before a sign that stands on the object.
line 1, character 3: "{" can't stand here; close the sign before it, or write a backslash before a sign that stands on the object.
line 1, character 1: "[5-3]" doesn't run from a smaller to a greater number of letters; write the smaller number first, as in [3-5].
line 1, character 4: an unclear letter stands on the object, so it can't stand within a sign for letters that don't; close the sign before it.
line 1, character 2: the sign opened here isn't closed; close it with "´", or write a backslash before a sign that stands on the object.
"#);
}

#[test]
fn letters_supplied_by_the_reader_count_as_absent_and_unclear_ones_as_present() {
    let line = &from_typed("C[olou]ṛmaṇ").unwrap()[0];
    assert_eq!(line.text, "Crman");
    assert_eq!(line.characters.iter().filter(|c| c.is_lost()).count(), 4);
    assert!(line.characters[5].confidence < line.characters[0].confidence);
    assert_eq!(line.leiden, "C[olou]ṛmaṇ");
}

#[test]
fn a_loss_of_unknown_length_is_one_stretch_and_a_loss_between_two_numbers_may_be_shorter() {
    let line = &from_typed("[---] & SON").unwrap()[0];
    assert!(line.characters[0].is_stretch());
    let line = &from_typed("A[3-5]").unwrap()[0];
    let lost = &line.characters[1..];
    assert_eq!(lost.len(), 5);
    assert_eq!(lost.iter().filter(|c| c.alternatives.is_empty()).count(), 3);
}

#[test]
fn a_typed_reading_may_be_run_on_with_strokes() {
    let texts =
        |t: &str| -> Vec<String> { from_typed(t).unwrap().into_iter().map(|l| l.text).collect() };
    assert_eq!(
        texts("A. Fenn / Frames | 12/6\n\n York"),
        ["A. Fenn", "Frames", "12/6", "York"]
    );
    assert!(texts(" \n ").is_empty());
}

fn letter() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => proptest::char::range('!', '~').prop_map(|c| c.to_string()),
        1 => Just(" ".to_string()),
        1 => proptest::sample::select(vec!["é", "½", "£", "Ł", "…", "´", "⟦", "ſ", "+", "v", "a", "c", "."])
            .prop_map(String::from),
    ]
}

fn word() -> impl Strategy<Value = String> {
    proptest::collection::vec(letter(), 1..6)
        .prop_map(|l| l.concat())
        .prop_filter("not blank", |w| !w.trim().is_empty())
}

fn sign() -> impl Strategy<Value = Sign> {
    let flat = prop_oneof![
        6 => letter().prop_map(Sign::Letter),
        2 => letter().prop_filter("not blank", |l| l != " ").prop_map(Sign::Unclear),
        1 => (1usize..9).prop_map(|n| Sign::Lost(Extent::Exactly(n))),
        1 => (1usize..99).prop_map(|n| Sign::Lost(Extent::About(n))),
        1 => (1usize..9, 1usize..9).prop_map(|(a, d)| Sign::Lost(Extent::Between(a, a + d))),
        1 => Just(Sign::Lost(Extent::Unknown)),
        1 => Just(Sign::Lost(Extent::Lines)),
        1 => (1usize..5).prop_map(Sign::Illegible),
        1 => (word(), any::<bool>()).prop_map(|(text, sure)| Sign::Supplied { text, sure }),
        1 => word().prop_map(Sign::Omitted),
        1 => word().prop_map(Sign::Surplus),
        1 => word().prop_map(Sign::Corrected),
        1 => (0usize..9).prop_map(|n| Sign::Blank((n > 0).then_some(n))),
        1 => proptest::collection::vec(letter().prop_filter("not blank", |l| l != " "), 2..4)
            .prop_map(Sign::Several),
    ];
    flat.prop_recursive(2, 12, 4, |inner| {
        let some = proptest::collection::vec(inner, 1..4).prop_map(joined);
        prop_oneof![
            some.clone().prop_map(Sign::Erased),
            some.prop_map(Sign::Added)
        ]
    })
}

/// Runs of unread ink joined, as the parser gives them.
fn joined(signs: Vec<Sign>) -> Vec<Sign> {
    let mut out: Vec<Sign> = Vec::new();
    for s in signs {
        match (out.last_mut(), &s) {
            (Some(Sign::Illegible(n)), Sign::Illegible(m)) => *n += m,
            _ => out.push(s),
        }
    }
    out
}

proptest! {
    #[test]
    fn printing_and_parsing_gives_the_same_signs(signs in proptest::collection::vec(sign(), 0..10)) {
        let signs = joined(signs);
        let text = print_signs(&signs);
        prop_assert_eq!(parse(&text), Ok(signs), "{}", text);
    }

    #[test]
    fn whatever_is_understood_prints_to_something_that_means_the_same(text in "[a-cA-C .+\\-\\[\\]<>{}()/?5v\u{323}⟦⟧`´\\\\]{0,14}") {
        if let Ok(signs) = parse(&text) {
            let again = print_signs(&signs);
            prop_assert_eq!(parse(&again), Ok(signs), "{} -> {}", text, again);
        }
    }
}
