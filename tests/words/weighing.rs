//! What the weighing promises: chances that sum to 1, nothing lost by the index, premises chosen,
//! "on none of your lists" known, and reasons that say what was seen.
//!
//! The firms are invented, drawn from a seed, and none of them was used to fit the costs.

#[allow(dead_code)]
#[path = "../../examples/trial_weighing/firms.rs"]
mod firms;

use dorso::gazetteer::{self, Entry, Gazetteer, List};
use dorso::geometry::Rect;
use dorso::proposals::{Beside, Index, Proposal, Rivals, Seen};
use dorso::readings::{Character, Line, from_typed};
use firms::{Damage, Firms, HARD, Names, USUAL};
use proptest::prelude::*;
use std::path::Path;

fn entry(key: &str, name: &str, address: &str, town: &str) -> Entry {
    Entry {
        list: "framers".into(),
        entry: key.into(),
        name: name.into(),
        trade: "carver and gilder".into(),
        address: address.into(),
        town: town.into(),
        source: "invented for tests".into(),
        ..Entry::default()
    }
}

fn index_of(entries: Vec<Entry>) -> Index {
    Index::new(Gazetteer {
        lists: vec![List {
            name: "framers".into(),
            file: "framers.csv".into(),
            role: None,
            entries: entries.into(),
            digest: None,
        }],
    })
}

fn small() -> Index {
    index_of(vec![
        entry(
            "loveridge-1",
            "William Loveridge",
            "14 Castle Street",
            "Hexley",
        ),
        entry(
            "loveridge-2",
            "William Loveridge",
            "3 Minster Row",
            "Hexley",
        ),
        entry(
            "lovelace-1",
            "Walter Lovelace & Son",
            "9 Castle Street",
            "Hexley",
        ),
        entry("dunmore-1", "Thomas Dunmore", "22 Fisher Lane", "Wexham"),
        entry(
            "dunmore-2",
            "James Dunmore & Co.",
            "40 Fisher Lane",
            "Wexham",
        ),
        entry(
            "st-annes-1",
            "Ashmole Brothers",
            "6 St Anne's Square",
            "Carnford",
        ),
    ])
}

fn first(index: &Index, text: &str) -> (String, f64, f64) {
    let r = &index.weigh(&from_typed(text).expect("typed"), None)[0];
    match r.proposals.first() {
        Some(p) => (p.entry.clone(), p.probability, r.unlisted),
        None => (String::new(), 0.0, r.unlisted),
    }
}

#[test]
fn a_clear_label_names_its_premises_with_a_high_chance() {
    let index = small();
    let (e, p, _) = first(
        &index,
        "W. LOVERIDGE, / Carver & Gilder, / 3, Minster Row, HEXLEY.",
    );
    assert_eq!(e, "loveridge-2");
    assert!(p > 0.95, "{p}");
}

#[test]
fn abbreviations_and_look_alikes_cost_little() {
    let index = small();
    for (text, key) in [
        ("Wm. Loveridge, 14 Castle St., Hexley", "loveridge-1"),
        ("THOS. DUNM0RE / 22 FISHER LANE", "dunmore-1"),
        ("Jas Dunrnore & Company / Fisher Lane, Wexham", "dunmore-2"),
        ("Ashmole Bros. / 6 Saint Annes Sq.", "st-annes-1"),
    ] {
        let (e, p, _) = first(&index, text);
        assert_eq!(e, key, "{text}");
        assert!(p > 0.8, "{text} {p}");
    }
}

#[test]
fn half_a_name_half_a_street_and_a_clear_town_settle_each_other() {
    let index = small();
    let (e, p, _) = first(&index, "[---]VERIDGE / 1[.] CAS[---] / HEXLEY");
    assert_eq!(e, "loveridge-1");
    assert!(p > 0.8, "{p}");
}

#[test]
fn lines_may_come_in_any_order_with_others_between() {
    let index = small();
    let (e, p, _) = first(
        &index,
        "HEXLEY / Old frames regilt / 14 Castle Street / W. Loveridge",
    );
    assert_eq!(e, "loveridge-1");
    assert!(p > 0.9, "{p}");
}

#[test]
fn two_premises_of_one_firm_share_the_chance_where_no_address_was_read() {
    let index = small();
    let r = &index.weigh(&from_typed("William Loveridge").expect("typed"), None)[0];
    let (a, b) = (&r.proposals[0], &r.proposals[1]);
    assert!(a.entry.starts_with("loveridge") && b.entry.starts_with("loveridge"));
    assert!((a.probability - b.probability).abs() < 0.01);
    assert!(
        a.agreement
            .because
            .iter()
            .any(|t| t.contains("a legible address would settle it")),
        "{:?}",
        a.agreement.because
    );
}

#[test]
fn a_firm_on_no_list_leaves_most_chance_to_unlisted() {
    let index = small();
    for text in [
        "PELHAM & GRICE / picture frame makers / 8 Cherry Lane, Orford",
        "John Smith, carver and gilder, London",
        "T. Carrow / 14 Castle Street / Wexham",
    ] {
        let (_, p, unlisted) = first(&index, text);
        assert!(unlisted > p, "{text}: {p} {unlisted}");
    }
}

#[test]
fn street_and_town_name_nobody_where_another_name_stands_on_the_mark() {
    let index = small();
    for text in [
        "T. CARROW / Carver & Gilder / 14 Castle Street / HEXLEY",
        "PELHAM & GRICE / 22 Fisher Lane, Wexham",
        "Obadiah Finch & Son / 6 St Anne's Square / Carnford",
    ] {
        let (e, p, unlisted) = first(&index, text);
        assert!(unlisted > 0.7, "{text}: {e} {p} {unlisted}");
    }
}

#[test]
fn firms_that_follow_others_into_their_shops_are_not_taken_for_them() {
    let mut firms = Firms::new(Names::Trial, 300, 515);
    let index = Index::new(firms.gazetteer());
    let (mut strangers, mut halves, count) = (0, 0, 60);
    for i in 0..count {
        let shop = firms.listed[i * 5].clone();
        let stranger = firms.stranger();
        let text = format!("{} / {} / {}", stranger.name, shop.address, shop.town);
        let (_, p, unlisted) = first(&index, &text);
        strangers += usize::from(unlisted > p);
        // The firm itself, the head of its name torn away
        let name: Vec<char> = shop.name.chars().collect();
        let half: String = name[name.len() / 2..].iter().collect();
        let text = format!("[---]{half} / {} / {}", shop.address, shop.town);
        let (e, p, unlisted) = first(&index, &text);
        halves += usize::from(e == shop.entry && p > unlisted);
    }
    assert!(
        strangers * 10 >= count * 9,
        "strangers known {strangers} of {count}"
    );
    assert!(
        halves * 10 >= count * 9,
        "half a name settled {halves} of {count}"
    );
}

#[test]
fn a_shop_that_many_listed_firms_had_counts_as_one_shop() {
    let mut firms = Firms::new(Names::Trial, 400, 8);
    let mut entries = std::mem::take(&mut firms.listed);
    for e in &mut entries {
        (e.address, e.town) = ("118 Adelaide Street".into(), "Hexley".into());
    }
    entries.push(entry("ames-1", "S. Ames", "118 Adelaide Street", "Hexley"));
    let index = index_of(entries);
    let (best, chance, _) = first(&index, "S. AMES\n118 ADELAIDE STREET\nHEXLEY");
    assert_eq!(best, "ames-1");
    assert!(chance > 0.9, "{chance}");
    // What each of 400 firms may weigh under a name that is none of theirs adds up to a seventh
    let (_, chance, unlisted) = first(&index, "N. QUILLET\n118 ADELAIDE STREET\nHEXLEY");
    assert!(unlisted > 0.8 && chance < 0.02, "{chance} {unlisted}");
    // Five of them are called Walenby
    let (_, chance, unlisted) = first(&index, "N. OXENBY\n118 ADELAIDE STREET\nHEXLEY");
    assert!(unlisted > 0.5 && chance < 0.1, "{chance} {unlisted}");
}

#[test]
fn words_that_any_label_bears_and_a_town_named_twice_speak_for_nobody() {
    let index = small();
    let (_, p, unlisted) = first(
        &index,
        "Gallery of the Society, Hexley / Carvers & Gilders to the Society / HEXLEY / St Anne's & Son",
    );
    assert!(unlisted > p, "{p} {unlisted}");
}

#[test]
fn a_name_after_by_counts_as_at_the_beginning_of_its_line() {
    let index = small();
    let by = first(&index, "Presented by / William Loveridge").1;
    let within = first(&index, "Presented by William Loveridge").1;
    let other = first(&index, "Presented at William Loveridge").1;
    assert!(within > 0.8 * by, "{within} {by}");
    assert!(other < within, "{other} {within}");
}

#[test]
fn letters_that_cannot_be_read_leave_open_what_they_name() {
    let index = small();
    let of = |chance: f64| {
        let mut lines = from_typed("Mxnibrd Quelstap").expect("typed");
        for c in lines.iter_mut().flat_map(|l| &mut l.characters) {
            c.confidence = chance;
        }
        let r = index.weigh(&lines, None).remove(0);
        (
            r.unlisted,
            r.proposals.first().map_or(0.0, |p| p.probability),
        )
    };
    let (clear, hardly) = (of(0.97), of(0.2));
    assert!(clear.0 > 0.995, "{clear:?}");
    assert!(hardly.0 < 0.97 && hardly.0 > 0.5, "{hardly:?}");
    assert!(hardly.1 < 0.1, "no single entry gains much: {hardly:?}");
}

#[test]
fn what_is_known_beside_the_mark_tips_the_scale_and_is_told_and_can_be_left_out() {
    let index = small();
    let lines = from_typed("William Loveridge").expect("typed");
    let off = &index.weigh(&lines, None)[0];
    assert!((off.proposals[0].probability - off.proposals[1].probability).abs() < 0.01);
    let beside = Beside {
        taken: vec![("framers".into(), "loveridge-2".into(), 4)],
        ..Beside::default()
    };
    let on = &index.weigh_beside(&lines, None, &beside)[0];
    let p = &on.proposals[0];
    assert_eq!(p.entry, "loveridge-2");
    assert!(p.probability > off.proposals[0].probability + 0.1);
    assert!(
        p.agreement
            .because
            .iter()
            .any(|b| b.contains("4 times before"))
    );
    sums_to_one(std::slice::from_ref(on)).expect("sums to one");
}

#[test]
fn a_name_is_not_found_in_the_middle_of_another_word() {
    let index = index_of(vec![entry(
        "moule-1",
        "Moule & Son",
        "2 High Street",
        "Wexham",
    )]);
    let text = "J. CATTERMAUL & SON / ARTISTS' COLOURMEN / 26 Dial Court / Rothcaster";
    let (_, p, unlisted) = first(&index, text);
    assert!(unlisted > p, "{p} {unlisted}");
}

#[test]
fn a_name_misread_by_one_letter_is_found_and_the_end_of_another_name_is_not_it() {
    let row = |name| index_of(vec![entry("only", name, "14 Castle Street", "Hexley")]);
    let (key, chance, _) = first(&row("Cattermoule & Son"), "CATTERMAULE & SON");
    assert!(key == "only" && chance > 0.8, "{chance}");
    let exact = first(&row("Cattermoule & Son"), "CATTERMOULE & SON").1;
    assert!(exact >= chance, "{exact} {chance}");
    let (_, chance, unlisted) = first(&row("Moule & Son"), "CATTERMAULE & SON");
    assert!(unlisted > chance, "{unlisted} {chance}");
}

#[test]
fn a_word_that_ran_into_the_next_under_a_loss_is_found_all_the_same() {
    let index = index_of(vec![
        entry("wood-1", "Mermowood Brothers", "19 Hill Place", "Bamcaster"),
        entry("orme-1", "Silas Orme", "2 High Street", "Wexham"),
    ]);
    let (e, p, _) = first(
        &index,
        "Mermo[.....]Brothers / PICTURE FRAME MAKER / BAMCASTER",
    );
    assert_eq!(e, "wood-1");
    assert!(p > 0.9, "{p}");
}

#[test]
fn entries_of_two_lists_do_not_both_have_the_same_words() {
    let framer = entry("pallister-1", "Pallister & Sons", "9 Corn Street", "Hexley");
    let maker = Entry {
        list: "colourmen".into(),
        ..entry("u-1", "R. Palliser & Sons", "26 Dial Court", "Rothcaster")
    };
    let lists = |entries: Vec<Entry>| List {
        name: entries[0].list.clone(),
        file: "list.csv".into(),
        role: None,
        entries: entries.into(),
        digest: None,
    };
    let index = Index::new(Gazetteer {
        lists: vec![lists(vec![framer]), lists(vec![maker])],
    });
    let typed = from_typed("R. PALLISER & SONS / 26 Dial Court / ROTHCASTER").expect("typed");
    let alone = &index.weigh(&typed, Some("framers"))[0];
    let both = index.weigh(&typed, None);
    let of = |list: &str| both.iter().find(|r| r.list == list).expect("list");
    let before = alone.proposals.first().map_or(0.0, |p| p.probability);
    let after = of("framers")
        .proposals
        .first()
        .map_or(0.0, |p| p.probability);
    assert!(of("colourmen").proposals[0].probability > 0.9);
    assert!(before > 0.02 && after < before / 3.0, "{before} {after}");
    sums_to_one(&both).expect("sums to one");
}

#[test]
fn a_mark_of_which_nothing_was_read_is_not_weighed() {
    let index = small();
    assert!(
        index
            .weigh(&from_typed("[---] / [....]").expect("typed"), None)
            .is_empty()
    );
    assert!(index.weigh(&[], None).is_empty());
}

#[test]
fn a_row_from_memory_says_so() {
    let mut e = entry("orme-1", "Silas Orme", "2 High Street", "Wexham");
    e.source = "a directory of 1851 (from memory)".into();
    let index = index_of(vec![e]);
    let r = &index.weigh(
        &from_typed("Silas Orme, 2 High Street, Wexham").expect("typed"),
        None,
    )[0];
    assert!(
        r.proposals[0]
            .agreement
            .because
            .iter()
            .any(|b| b.contains("from memory"))
    );
}

#[test]
fn letters_that_the_end_of_a_line_lost_together_are_told_as_lost() {
    let index = small();
    let lines = from_typed("THOMAS DUN / FISHER LANE / WEXHAM").expect("typed");
    let best = &index.weigh(&lines, None)[0].proposals[0];
    assert_eq!(best.entry, "dunmore-1");
    assert!(best.probability > 0.9, "{}", best.probability);
    assert_eq!(shown(best), "Thomas Dun....");
}

/// The name of a proposal as it shows what was seen of each letter.
fn shown(proposal: &Proposal) -> String {
    let letters = proposal.agreement.letters.iter();
    letters
        .take_while(|(c, _)| *c != ',')
        .map(|(c, s)| match s {
            Seen::Clear => *c,
            Seen::Unclear => '~',
            Seen::Lost => '.',
            Seen::Contradicted => '!',
        })
        .collect()
}

#[test]
fn each_letter_of_a_proposal_says_what_was_seen_of_it() {
    let index = small();
    let r = &index.weigh(
        &from_typed("W. LOVE[..]DGF / 14 Castle Street, Hexley").expect("typed"),
        None,
    )[0];
    assert_eq!(shown(&r.proposals[0]), "W Love..dg~");
    assert_eq!(r.proposals[0].lines, vec![0, 1]);
}

/// Lines of letters read on a picture, each with chance 0.99 but those of `word`, which have `chance`.
fn read(lines: &[&str], word: &str, chance: f64) -> Vec<Line> {
    let line = |(at, text): (usize, &&str)| {
        let words = text.split_inclusive(' ').flat_map(|w| {
            let chance = if w.trim() == word { chance } else { 0.99 };
            w.chars()
                .map(move |c| Character::sure(&c.to_string(), chance))
        });
        let place = Rect::new(10, 40 * at as i32, 200, 30);
        Line::from_characters(words.collect(), place, place)
    };
    lines.iter().enumerate().map(line).collect()
}

/// Chances of an entry of the demo's list as one word of the reading gets less clear.
fn as_it_fades(lines: &[&str], word: &str, list: &str, entry: &str) -> Vec<f64> {
    let (lists, _) = gazetteer::load(Path::new("samples/gazetteer")).expect("the demo's lists");
    let index = Index::new(lists);
    let chance = |c: f64| {
        let all = index.weigh_all(&read(lines, word, c), Some(list));
        let mut proposals = all.iter().flat_map(|r| &r.proposals);
        let found = proposals.find(|p| p.entry == entry);
        found.map_or(0.0, |p| p.probability)
    };
    [0.99, 0.975, 0.965, 0.95, 0.93].map(chance).to_vec()
}

#[test]
fn a_word_a_little_less_clear_does_not_decide_who_is_named() {
    let other = [
        "J. Ravenhill",
        "CARVER AND GILDER",
        "41 Peverell Street,",
        "ROTHCASTER.",
    ];
    let taken_for = as_it_fades(&other, "GILDER", "framers", "ravensby-josiah-rothcaster-2");
    let label = [
        "THAXLEY ART GUILD.",
        "EXHIBITION 1897.",
        "Artist I. Thornsey",
        "Price 15 gns.",
    ];
    let named = as_it_fades(&label, "Price", "artists", "isaac-thornsey");
    for chances in [&taken_for, &named] {
        let steps = chances.windows(2).map(|c| (c[1] - c[0]).abs());
        assert!(steps.fold(0.0, f64::max) < 0.15, "{chances:?}");
    }
    assert!(taken_for.iter().all(|p| *p < 0.6), "{taken_for:?}");
    assert!(named.iter().all(|p| *p > 0.6), "{named:?}");
}

fn figures(count: usize, questions: usize, damage: Damage) -> (f64, f64, Vec<(f64, bool)>) {
    let mut firms = Firms::new(Names::Trial, count, 1911);
    let index = Index::new(firms.gazetteer());
    let (mut right, mut listed, mut known, mut off) = (0.0, 0.0, 0.0, 0.0);
    let mut chances = Vec::new();
    for i in 0..questions {
        let q = firms.question(i % 3 != 2, damage);
        let lines = from_typed(&q.text).expect("typed");
        let weighed = index.weigh(&lines, None);
        let best = weighed.first().and_then(|r| r.proposals.first());
        let is = best.is_some_and(|b| Some(&b.entry) == q.entry.as_ref());
        chances.extend(best.map(|b| (b.probability, is)));
        if q.entry.is_some() {
            listed += 1.0;
            right += f64::from(u8::from(is));
        } else {
            off += 1.0;
            let unlisted = weighed.first().map_or(1.0, |r| r.unlisted);
            known += f64::from(u8::from(best.is_none_or(|b| b.probability < unlisted)));
        }
    }
    (right / listed, known / off, chances)
}

#[test]
fn damaged_readings_of_confusable_firms_meet_the_bars() {
    let (right, known, chances) = figures(10_000, 300, USUAL);
    assert!(right >= 0.92, "right firm first {right}");
    assert!(known >= 0.85, "on no list, known {known}");
    let sure = chances.iter().filter(|c| c.0 >= 0.95);
    let (mut all, mut wrong) = (0, 0);
    for c in sure {
        all += 1;
        wrong += usize::from(!c.1);
    }
    assert!(all > 50, "{all}");
    assert!(
        wrong * 30 <= all,
        "{wrong} wrong of {all} at 0.95 and above"
    );
}

#[test]
fn heavily_damaged_readings_of_confusable_firms_meet_the_bars() {
    let (right, known, _) = figures(10_000, 240, HARD);
    assert!(right >= 0.75, "right firm first {right}");
    assert!(known >= 0.85, "on no list, known {known}");
}

fn sums_to_one(all: &[Rivals]) -> Result<(), TestCaseError> {
    for r in all {
        let sum: f64 = r.unlisted + r.proposals.iter().map(|p| p.probability).sum::<f64>();
        prop_assert!((sum - 1.0).abs() < 1e-6, "{} {sum}", r.list);
        prop_assert!((0.0..=1.0).contains(&r.unlisted));
        prop_assert!(
            r.proposals
                .windows(2)
                .all(|w| w[0].probability >= w[1].probability)
        );
    }
    Ok(())
}

/// Most by which the index's chances may differ from those of the full scan.
const SAME: f64 = 0.002;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn rivals_and_unlisted_sum_to_one_for_any_reading(text in "[A-Za-z0-9 &.,'/]{1,90}") {
        let lines = from_typed(&text).unwrap_or_default();
        sums_to_one(&small().weigh(&lines, None))?;
    }

    #[test]
    fn the_index_never_loses_an_entry_that_the_full_scan_ranks(seed in 0u64..10_000, hard in any::<bool>()) {
        let mut firms = Firms::new(Names::Trial, 250, seed);
        let index = Index::new(firms.gazetteer());
        for listed in [true, false] {
            let q = firms.question(listed, if hard { HARD } else { USUAL });
            let lines = from_typed(&q.text).expect("typed");
            let (fast, slow) = (index.weigh(&lines, None), index.weigh_all(&lines, None));
            sums_to_one(&fast)?;
            // An entry whose chance lies at the cut for proposals may fall on either side of it; its
            // chance is then the others', or unlisted where there are none. So such are allowed for;
            // none that the full scan ranks clear of the cut is missing, and all chances agree.
            prop_assert_eq!(fast.len(), slow.len());
            for (f, s) in fast.iter().zip(&slow) {
                prop_assert_eq!(&f.list, &s.list);
                let lacks = |r: &Rivals, e: &str| r.proposals.iter().all(|p| p.entry != e);
                let one_sided: f64 = s.proposals.iter().filter(|p| lacks(f, &p.entry))
                    .chain(f.proposals.iter().filter(|p| lacks(s, &p.entry)))
                    .map(|p| p.probability)
                    .sum();
                prop_assert!(
                    (f.unlisted - s.unlisted).abs() < SAME + one_sided,
                    "{} {}", f.unlisted, s.unlisted
                );
                for p in s.proposals.iter().filter(|p| p.probability > 0.006) {
                    let found = f.proposals.iter().find(|x| x.entry == p.entry);
                    prop_assert!(found.is_some(), "{} lost: {}", p.entry, q.text);
                    let chance = found.map_or(0.0, |x| x.probability);
                    prop_assert!((chance - p.probability).abs() < SAME, "{} {chance} {}", p.entry, p.probability);
                }
            }
        }
    }
}
