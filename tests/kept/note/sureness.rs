//! Each sentence of a note against the chance behind it.

use super::*;
use proptest::prelude::*;

fn chance() -> impl Strategy<Value = f64> {
    prop_oneof![
        0.0f64..=1.0,
        Just(0.95),
        Just(0.949_999),
        Just(1.0),
        Just(0.75),
        Just(0.4),
        Just(0.1)
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Whatever was seen and decided, each sentence keeps to the chance behind it: one that rests on
    /// the program bears the word of its chance or a weaker one; what is said without a word of doubt is a
    /// person's decision that holds, or a record that says of no mark what it reads or names.
    #[test]
    fn no_sentence_says_more_than_the_chance_behind_it(
        lines in prop::collection::vec(chance(), 0..4),
        first in chance(),
        share in chance(),
        list in prop::sample::select(vec!["framers", "towns", "artists", "exhibitions", "my-list"]),
        kind in prop::sample::select(MarkKind::ALL.to_vec()),
        same_name in any::<bool>(),
        act in 0usize..7,
        again in any::<bool>(),
    ) {
        let dir = tempfile::tempdir().unwrap();
        let mut s = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
        let words = ["ORME & SON LTD", "FRAMED 1891 E.C.", "BY APPOINTMENT TO H.M. QUEEN VICTORIA", "TEL. 214"];
        let read: Vec<(&str, f64)> = lines.iter().enumerate().map(|(i, c)| (words[i], *c)).collect();
        let name = if same_name { "Orme" } else { "Ormerod" };
        let seen = mark("m1", kind, Rect::new(50, 40, 340, 160).quad(), reading(&read), vec![rivals(
            list,
            vec![proposal(list, "a-1", "Orme", first), proposal(list, "a-2", name, (1.0 - first) * share)],
        )]);
        let id = s.record_run(&run(vec![photograph("b.jpg", 'a', vec![seen.clone()])])).unwrap().marks[0][0];
        let entry = Taken {
            list: list.into(),
            entry: "a-2".into(),
            name: name.into(),
            not_before: "1868".into(),
            not_after: String::new(),
            source: String::new(),
            chance: Some(first),
            same_as: Vec::new(),
        };
        let act = match act {
            0 => Some(Act::Take(entry)),
            1 => Some(Act::Read { lines: vec!["ORME & SON LTD".into(), "1891".into()] }),
            2 => Some(Act::Unreadable),
            3 => Some(Act::Ask { whom: "Miss Dunn".into() }),
            4 => Some(Act::Unlisted { list: None }),
            5 => Some(Act::PutOff { until: None }),
            _ => None,
        };
        if let Some(act) = act {
            s.decide(id, &act, &carrow("")).unwrap();
        }
        if again {
            s.record_run(&run(vec![photograph("b.jpg", 'a', vec![seen])])).unwrap();
        }
        let note = note_of(&s);
        let holds = holding(&s.journal().unwrap());
        prop_assert!(note.sentences().count() >= 4);
        for sentence in note.sentences() {
            match sentence.basis {
                Basis::Program(p) => {
                    let wrong = fault(&sentence.words, p);
                    prop_assert!(wrong.is_none(), "{}: {:?}", sentence.words, wrong);
                }
                Basis::Person(d) => prop_assert!(holds.contains(&d), "{}", sentence.words),
                Basis::Record => {
                    let says = [" names ", " reads ", "very probably"].iter().any(|w| sentence.words.contains(w));
                    prop_assert!(!says, "{}", sentence.words);
                }
            }
        }
        // Links of the provenance: each by itself, as the line has them
        for (event, basis) in &note.provenance.links {
            let link = dorso::note::provenance::line(std::slice::from_ref(event));
            match basis {
                Basis::Program(p) => {
                    let wrong = fault(&link, *p);
                    prop_assert!(wrong.is_none(), "{link}: {wrong:?}");
                }
                Basis::Person(d) => prop_assert!(holds.contains(d), "{link}"),
                Basis::Record => prop_assert!(link.contains(" not ") || link.starts_with("No "), "{link}"),
            }
        }
        // An entry says no more than its own table allows
        for s in note.entry.sentences() {
            if let Basis::Program(p) = s.basis {
                let allowed: &[&str] = match entry_word(p) {
                    Some("") => continue,
                    Some("probably") => &["probably", "possibly"],
                    _ => &["possibly"],
                };
                prop_assert!(allowed.iter().any(|w| s.words.to_lowercase().contains(w)), "{p}: {}", s.words);
                prop_assert!(CERTAIN.iter().all(|w| !s.words.split(' ').any(|x| x == *w)));
            }
        }
        // What stands in the shorter lengths is what was held against the chances above
        let e = &note.entry;
        let told = e.sentences().chain(&e.dates).chain(&e.notes).chain(&note.evidence.observed);
        let told: Vec<String> = told.map(|s| s.words.clone()).chain(cautions(Language::British)).collect();
        for length in [Length::Catalogue, Length::Label] {
            for block in blocks(&note, length) {
                if let Block::Point(text) = block {
                    prop_assert!(told.contains(&text), "{text}");
                }
            }
        }
    }
}
