use super::*;
use crate::decisions::DecisionId;

fn sure(text: &str, p: f64) -> Option<(String, Basis)> {
    Some((text.to_owned(), Basis::Program(p)))
}

#[test]
fn every_language_has_every_pattern_with_the_same_slots() {
    let slots = |t: &str| {
        let mut all: Vec<&str> = t
            .split('{')
            .skip(1)
            .filter_map(|p| p.split('}').next())
            .collect();
        all.iter_mut()
            .for_each(|s| *s = s.trim_start_matches([',', '~']));
        all.sort_unstable();
        all.dedup();
        all.into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    // Articles, kinship and the sides of a conflict are English alone
    let english = ["article", "kin", "whose", "sides"];
    let british = Language::British.wording();
    for l in Language::ALL {
        let w = l.wording();
        // The note for the file is written in English
        let all = british
            .words
            .iter()
            .filter(|(k, _)| !k.starts_with("file."));
        for (key, text) in all {
            let own = w
                .get(key)
                .unwrap_or_else(|| panic!("{} lacks {key}", l.as_str()));
            let keep = |all: Vec<String>| -> Vec<String> {
                all.into_iter()
                    .filter(|s| !english.contains(&s.as_str()))
                    .collect()
            };
            assert_eq!(keep(slots(own)), keep(slots(text)), "{} {key}", l.as_str());
        }
        let more = w.words.keys().filter(|k| !british.words.contains_key(*k));
        assert!(
            more.clone().all(|k| k == "day.1"),
            "{}: {:?}",
            l.as_str(),
            more.collect::<Vec<_>>()
        );
    }
}

#[test]
fn a_showing_is_told_in_every_language() {
    let all = Slots::default()
        .fact("show", sure("Rothcaster Society", 0.97))
        .fact("year", sure("1871", 0.96))
        .fact("number", sure("217", 0.8))
        .fact("title", sure("The Ferry", 0.5))
        .fact("artist", sure("T. Lane", 0.3));
    let told = |l: Language| l.wording().fill("exhibited", &all, Telling::Words).unwrap();
    let words = [
        "Rothcaster Society, 1871, probably no. 217, possibly as “The Ferry”.",
        "Rothcaster Society, 1871, probably no. 217, possibly as “The Ferry”.",
        "Rothcaster Society, 1871, probablement n° 217, peut-être sous le titre « The Ferry ».",
        "Rothcaster Society, 1871, wahrscheinlich Nr. 217, möglicherweise als „The Ferry“.",
    ];
    for (l, words) in Language::ALL.into_iter().zip(words) {
        let (said, basis) = told(l);
        assert_eq!(said, words);
        // What is left out counts for nothing
        assert_eq!(basis, Basis::Program(0.5));
    }
    let none = Slots::default().fact("show", sure("Rothcaster Society", 0.97));
    let said = Language::German
        .wording()
        .fill("exhibited", &none, Telling::Words);
    assert_eq!(said.unwrap().0, "Rothcaster Society, Jahr nicht genannt.");
    let doubtful = Slots::default().fact("show", sure("Rothcaster Society", 0.2));
    assert_eq!(
        Language::British
            .wording()
            .fill("exhibited", &doubtful, Telling::Words),
        None
    );
}

#[test]
fn one_word_of_doubt_serves_for_all_that_share_it() {
    let w = Language::British.wording();
    let figures = |show: f64, number: f64| {
        let all = Slots::default()
            .fact("show", sure("Rothcaster Society", show))
            .fact("year", sure("1871", show))
            .fact("number", sure("217", number));
        w.fill("exhibited", &all, Telling::Figures(0.1)).unwrap().0
    };
    assert_eq!(
        figures(0.9, 0.8),
        "Rothcaster Society, 1871, no. 217, all probably (0.80 or more)."
    );
    assert_eq!(figures(0.97, 0.98), "Rothcaster Society, 1871, no. 217.");
    assert_eq!(
        figures(0.97, 0.8),
        "Rothcaster Society, 1871, probably (0.80) no. 217."
    );
}

#[test]
fn whose_a_label_is_takes_article_and_case() {
    let w = |l: Language| l.wording();
    let all = |firm: Option<(String, Basis)>, l: Language| {
        Slots::default()
            .text("noun", w(l).text("noun.printed_label"))
            .text("article", w(l).text("article"))
            .fact("firm", firm)
            .fact("place", sure(w(l).text("on.frame"), 1.0))
    };
    let told = |p: f64, l: Language| {
        let filled = w(l).fill(
            "mark.framers",
            &all(sure("Orme Guild", p), l),
            Telling::Words,
        );
        filled.unwrap().0
    };
    assert_eq!(
        told(0.97, Language::British),
        "Framer's label of the Orme Guild, on the frame."
    );
    assert_eq!(
        told(0.8, Language::American),
        "Framer's label, probably of the Orme Guild, on the frame."
    );
    assert_eq!(
        told(0.97, Language::French),
        "Étiquette de l'encadreur Orme Guild, sur le cadre."
    );
    assert_eq!(
        told(0.5, Language::German),
        "Etikett des Rahmenmachers, möglicherweise Orme Guild, auf dem Rahmen."
    );
    let person = Some(("Orme Guild".to_owned(), Basis::Person(DecisionId(3))));
    let filled = w(Language::British).fill(
        "mark.framers",
        &all(person, Language::British),
        Telling::Figures(0.1),
    );
    assert_eq!(
        filled.unwrap().0,
        "Framer's label of the Orme Guild, on the frame."
    );
}

#[test]
fn parts_stand_over_both_and_are_dated_in_every_language() {
    let over = |l: Language| {
        let w = l.wording();
        w.plain(
            "over",
            &[("a", w.text("over.frame")), ("b", w.text("over.backing"))],
        )
    };
    assert_eq!(over(Language::British), "over the frame and the backing");
    assert_eq!(
        over(Language::French),
        "à cheval sur le cadre et le dos de protection"
    );
    assert_eq!(over(Language::German), "über Rahmen und Rückwand hinweg");
    let made = |l: Language| {
        let w = l.wording();
        let slots = Slots::default()
            .text("the", w.text("the.backing"))
            .fact("years", sure("", 0.8))
            .text("from", "1853")
            .text("to", "1874");
        ["dated.between", "dated.by"].map(|k| w.fill(k, &slots, Telling::Words).unwrap().0)
    };
    assert_eq!(
        made(Language::British),
        [
            "The backing was probably made between 1853 and 1874.",
            "The backing was probably made by 1874."
        ]
    );
    assert_eq!(
        made(Language::French),
        [
            "Le dos de protection date probablement des années 1853 à 1874.",
            "Le dos de protection date probablement de 1874 au plus tard."
        ]
    );
    assert_eq!(
        made(Language::German),
        [
            "Die Rückwand entstand wahrscheinlich zwischen 1853 und 1874.",
            "Die Rückwand entstand wahrscheinlich spätestens 1874."
        ]
    );
}

#[test]
fn dates_and_lists_are_written_as_each_language_has_them() {
    let dates = [
        "1902-05-01",
        "1902-05-14",
        "1902-05",
        "1890~",
        "187X",
        "1888~/1895~",
        "[..1898]",
        "1936?",
    ];
    let told = |l: Language| dates.map(|d| l.wording().date(d));
    assert_eq!(
        told(Language::British),
        [
            "1 May 1902",
            "14 May 1902",
            "May 1902",
            "c. 1890",
            "1870s",
            "c. 1888-1895",
            "by 1898",
            "1936?"
        ]
    );
    assert_eq!(
        told(Language::American),
        [
            "May 1, 1902",
            "May 14, 1902",
            "May 1902",
            "ca. 1890",
            "1870s",
            "ca. 1888-1895",
            "by 1898",
            "1936?"
        ]
    );
    assert_eq!(
        told(Language::French),
        [
            "1er mai 1902",
            "14 mai 1902",
            "mai 1902",
            "vers 1890",
            "années 1870",
            "vers 1888-1895",
            "1898 au plus tard",
            "1936?"
        ]
    );
    assert_eq!(
        told(Language::German),
        [
            "1. Mai 1902",
            "14. Mai 1902",
            "Mai 1902",
            "um 1890",
            "1870er Jahre",
            "um 1888-1895",
            "spätestens 1898",
            "1936?"
        ]
    );
    let list = |l: Language, n: usize| {
        let all: Vec<String> = ["a", "b", "c"][..n]
            .iter()
            .map(|t| (*t).to_owned())
            .collect();
        l.wording().joined(&all)
    };
    assert_eq!(list(Language::British, 1), "a");
    assert_eq!(list(Language::British, 3), "a, b and c");
    assert_eq!(list(Language::American, 3), "a, b, and c");
    assert_eq!(list(Language::French, 3), "a, b et c");
    assert_eq!(list(Language::German, 2), "a und b");
}

#[test]
fn a_sentence_begins_with_a_capital_even_where_it_has_an_accent() {
    let filled = Language::French.wording().fill(
        "mark.plain",
        &Slots::default().text(
            "noun",
            Language::French.wording().text("noun.printed_label"),
        ),
        Telling::Words,
    );
    assert_eq!(filled.unwrap().0, "Étiquette.");
}
