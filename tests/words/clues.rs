//! Dating clues against their published values, and the intervals that they leave.
//!
//! `tests/reference/clues.csv` holds for each clue a wording in which it must be found, with the
//! dates of the handbooks and acts named in the built-in table.

use dorso::dating::clues::designs::{
    FIRST_CYCLE, Lozenge, MONTHS, NUMBERS, SECOND_CYCLE, year_of_number,
};
use dorso::dating::clues::{Clues, Dating, Sure};
use dorso::dating::edtf::Edtf;

fn date(text: &str) -> Dating {
    Clues::built_in().expect("built-in table").date(text)
}

fn interval(text: &str) -> (String, String, String) {
    let d = date(text);
    (
        d.not_before.unwrap_or_default(),
        d.not_after.unwrap_or_default(),
        d.edtf,
    )
}

#[test]
fn every_clue_is_found_in_its_wording_with_its_published_dates() {
    let file = include_str!("../reference/clues.csv");
    let clues = Clues::built_in().expect("built-in table");
    let mut reader = csv::Reader::from_reader(file.as_bytes());
    let mut seen = 0;
    for row in reader.records() {
        let row = row.expect("reference row");
        let dating = clues.date(&row[0]);
        let clue = dating.clues.iter().find(|c| c.clue == row[1]);
        let clue = clue.unwrap_or_else(|| panic!("{}: {:?}", &row[1], dating.clues));
        assert_eq!(
            clue.not_before.as_deref().unwrap_or(""),
            &row[2],
            "{}",
            &row[1]
        );
        assert_eq!(
            clue.not_after.as_deref().unwrap_or(""),
            &row[3],
            "{}",
            &row[1]
        );
        assert!(!clue.source.is_empty(), "{}", &row[1]);
        assert!(
            dating.conflicts.is_empty(),
            "{}: {:?}",
            &row[0],
            dating.conflicts
        );
        if !dating.edtf.is_empty() {
            assert!(Edtf::parse(&dating.edtf).is_ok(), "{}", dating.edtf);
        }
        seen += 1;
    }
    assert!(seen >= 138, "{seen}");
}

/// Every wording of the table is found by its own row, and none contradicts itself: so no row is hidden by
/// another, by where it must stand, or by what mustn't stand beside it.
#[test]
fn every_wording_of_the_table_is_found_by_its_row() {
    let clues = Clues::built_in().expect("built-in table");
    assert!(clues.len() >= 800, "{}", clues.len());
    let mut ids = std::collections::BTreeSet::new();
    let mut sourced = 0;
    for row in clues.rows() {
        assert!(
            ids.insert(row.id.to_owned()),
            "two rows have the key {}",
            row.id
        );
        assert!(
            !row.source.is_empty() && row.source != "no source given",
            "{}",
            row.id
        );
        sourced += usize::from(!row.source.contains("from memory"));
        for wording in &row.wordings {
            let text = format!("{}{wording}{}", row.place.0, row.place.1);
            let dating = clues.date(&text);
            assert!(
                dating.clues.iter().any(|c| c.id == row.id),
                "{}: {text}: {:?}",
                row.id,
                dating.clues
            );
            assert_eq!(dating.conflicts, Vec::<String>::new(), "{}: {text}", row.id);
        }
    }
    assert!(sourced >= 120, "{sourced}");
}

/// `published_data.csv`: what data published by others say; each row names them. A currency's days are the
/// table's; a state's code is withdrawn some time after its end; a territory ends in the year of statehood.
#[test]
fn dates_agree_with_what_published_data_say() {
    let file = include_str!("../reference/published_data.csv");
    let clues = Clues::built_in().expect("built-in table");
    let mut seen = 0;
    for row in csv::Reader::from_reader(file.as_bytes()).records() {
        let row = row.expect("reference row");
        let dating = clues.date(&row[0]);
        let clue = dating.clues.iter().find(|c| c.clue == row[1]);
        let clue = clue.unwrap_or_else(|| panic!("{row:?}: {:?}", dating.clues));
        let (from, to) = (
            clue.not_before.as_deref().unwrap_or(""),
            clue.not_after.as_deref().unwrap_or(""),
        );
        assert!(row[2].is_empty() || from == &row[2], "{row:?}: {from}");
        match &row[4] {
            s if s.contains("ISO 3166-3") => {
                assert!(to <= &row[3] && !to.is_empty(), "{row:?}: {to}")
            }
            s if s.contains("statehood") => assert!(to.starts_with(&row[3]), "{row:?}: {to}"),
            _ => assert_eq!(to, &row[3], "{row:?}"),
        }
        seen += 1;
    }
    assert!(seen >= 12, "{seen}");
}

#[test]
fn no_clue_is_found_inside_another_word_or_in_plain_names() {
    for text in [
        "moulted feathers",
        "unlimited stock",
        "Plate glass, old and new",
        "W. Badger, carver and gilder",
        "N. Harrowby & Son",
        "E. S. Carrow",
        "Ram Lane",
        "limited edition",
        "The Rivers, Perth Road 1234 Mill Street",
        "No. 1868",
        "Lot 1901",
        "Stratford on Avon",
    ] {
        assert_eq!(date(text).clues, vec![], "{text}");
    }
}

#[test]
fn hard_clues_cut_the_interval_and_weak_ones_are_told_only() {
    assert_eq!(
        interval("Poll & Thrupp Ltd, High Street, London, N.E."),
        ("1857".into(), "1866".into(), "[1857..1866]".into())
    );
    assert_eq!(interval("Poll Ltd").2, "[1855..]");
    let d = date("Est. 1832 / Poll & Thrupp, London, W.C.");
    assert_eq!(d.not_before.as_deref(), Some("1857"));
    // The letters end with the numbers of 1917, and go on in people's pens for some years
    assert_eq!(d.not_after.as_deref(), Some("1917"));
    let used = d
        .in_use_until
        .as_deref()
        .and_then(|y| y.parse::<i32>().ok());
    assert!(used.is_some_and(|y| (1920..1940).contains(&y)), "{used:?}");
    let inst = date("yours of the 12th inst.");
    assert_eq!(
        (inst.clues[0].sure, inst.clues[0].cuts),
        (Sure::Weak, false)
    );
    assert_eq!(inst.edtf, "");
}

#[test]
fn a_year_dates_the_mark_from_the_sides_that_it_can() {
    for (text, edtf) in [
        ("Royal Academy 1877", "1877"),
        ("cleaned Dec. 4th 1898", "1898-12-04"),
        ("Exhibited R.A. 1878", "[1878..]"),
        ("Established 1790", "[1790..]"),
        ("Gegründet 1850", "[1850..]"),
        ("Fondée en 1870", "[1870..]"),
        ("vers 1880", "[1875..1885]"),
        ("Prize Medals 1851, 1862", "[1862..]"),
        ("John Arkle (1821-1889)", "[1889..]"),
        ("© 1962", "[1962..]"),
        ("copy after the picture of 1749", "[1749..]"),
        ("12/5/32, London W.C.2", "[1932-05-12,1932-12-05]"),
        ("relined '98, London, W.C.", "1898"),
        ("mended 5/6/99, Boston, MA 02116", "1999-05-06"),
        ("Lot 1871, No. 1868", ""),
    ] {
        assert_eq!(interval(text).2, edtf, "{text}");
    }
}

#[test]
fn a_show_or_society_told_of_later_sets_no_last_year() {
    assert_eq!(interval("British Institution / No. 4").2, "[1806..1867]");
    assert_eq!(
        interval("Exhibited at the British Institution").2,
        "[1806..]"
    );
    assert_eq!(
        interval("Prize Medal, Great Exhibition").2,
        "[1851-05-01..]"
    );
}

#[test]
fn a_dead_patron_and_a_living_one_are_no_conflict() {
    let d = date("Makers to the late King George V / and to H.M. King George VI");
    assert_eq!(
        (d.edtf.as_str(), d.conflicts.len()),
        ("[1936-12-11..1952-02-06]", 0)
    );
    assert_eq!(
        interval("Colourman to His late Majesty George III. and to His present Majesty").2,
        "[1820-01-29..1837-06-20]"
    );
}

#[test]
fn a_usual_clue_that_contradicts_a_hard_one_is_left_out_and_said() {
    let d = date("Made in England / Art Treasures Exhibition");
    assert_eq!(d.edtf, "[1857-05..1857-10]");
    assert_eq!(d.conflicts.len(), 1);
    assert!(
        d.conflicts[0].contains("Made in England"),
        "{:?}",
        d.conflicts
    );
}

#[test]
fn a_royal_name_in_the_name_of_a_street_or_house_is_no_royal_title() {
    for address in [
        "118 QUEEN ADELAIDE STREET",
        "George IV Bridge",
        "5 Princess of Wales Road",
        "Prince Albert Terrace",
        "Queen Victoria Hotel",
        "12 Queen Alexandra Rd",
    ] {
        let d = date(address);
        assert!(d.clues.is_empty(), "{address}: {:?}", d.clues);
    }
    assert_eq!(
        date("Carver to Queen Adelaide").not_before.as_deref(),
        Some("1830-06-26")
    );
}

#[test]
fn a_conflict_of_hard_clues_is_said_and_leaves_no_interval() {
    let d = date("High Street, London, N.E. / Poll & Thrupp, London, W.1");
    assert_eq!(
        (d.not_before, d.not_after, d.edtf.as_str()),
        (None, None, "")
    );
    assert_eq!(d.conflicts.len(), 1);
    assert!(d.conflicts[0].contains("1866") && d.conflicts[0].contains("1917"));
}

#[test]
fn her_majesty_leaves_the_interval_in_two_parts_that_another_clue_may_settle() {
    assert_eq!(
        interval("By appointment to Her Majesty").2,
        "[1837-06-20..1901-01-22,1952-02-06..2022-09-08]"
    );
    let d = date("By appointment to Her Majesty / London, W.1");
    assert_eq!(d.edtf, "[1952-02-06..2022-09-08]");
}

#[test]
fn every_lozenge_letter_of_both_cycles_gives_its_year_and_month() {
    assert_eq!(FIRST_CYCLE.len(), 26);
    assert_eq!(SECOND_CYCLE.len(), 17);
    let years = |t: &[(char, i32)]| -> Vec<i32> {
        let mut y: Vec<i32> = t.iter().map(|x| x.1).collect();
        y.sort_unstable();
        y.dedup();
        y
    };
    // Each year once; 1878 has two letters
    assert_eq!(years(FIRST_CYCLE), (1842..=1867).collect::<Vec<_>>());
    assert_eq!(years(SECOND_CYCLE), (1868..=1883).collect::<Vec<_>>());
    for &(y, year) in FIRST_CYCLE {
        for &(m, month) in MONTHS {
            let l = Lozenge {
                top: y.into(),
                right: "25".into(),
                bottom: "4".into(),
                left: m.into(),
            };
            let irregular = m == 'K' && year == 1860;
            let whole = format!("{year}-{month:02}-25");
            let expected = if irregular { year.to_string() } else { whole };
            assert_eq!(l.date(), Some(expected), "{y}{m}");
        }
    }
    for &(y, year) in SECOND_CYCLE.iter().filter(|x| x.0 != 'W') {
        for &(m, month) in MONTHS {
            let l = Lozenge {
                top: "25".into(),
                right: y.into(),
                bottom: m.into(),
                left: "4".into(),
            };
            assert_eq!(l.date(), Some(format!("{year}-{month:02}-25")), "{y}{m}");
        }
    }
}

#[test]
fn a_lozenge_without_a_corner_that_tells_the_cycle_gives_no_date() {
    assert_eq!(Lozenge::default().date(), None);
    let l = Lozenge {
        left: "C".into(),
        ..Lozenge::default()
    };
    assert_eq!(l.date(), None);
}

#[test]
fn every_first_number_of_a_year_and_the_one_before_it_fall_right() {
    assert_eq!(NUMBERS.len(), 68);
    assert!(
        NUMBERS
            .windows(2)
            .all(|w| w[0].0 + 1 == w[1].0 && w[0].1 < w[1].1)
    );
    for w in NUMBERS.windows(2) {
        assert_eq!(year_of_number(w[1].1), Some(w[1].0));
        assert_eq!(year_of_number(w[1].1 - 1), Some(w[0].0));
    }
    assert_eq!(year_of_number(0), None);
    assert_eq!(interval("Regd No. 224,720").0, "1894");
}

#[test]
fn a_table_of_ones_own_adds_clues_and_names_the_row_that_fails() {
    let mut clues = Clues::built_in().expect("built-in table");
    let own = "words,not_before,not_after,sure\nOrme Works,1871,1890,hard\nOrme Hall,187?5,,hard\n";
    let faults = clues.add("clues.csv", own);
    assert_eq!(faults.len(), 1);
    assert_eq!(
        faults[0].to_string(),
        "clues.csv, row 3, column \"not_before\": \"187?5\" is no EDTF date, so this clue is not used; write 1868, 1868~, 1868-05 or leave it empty."
    );
    assert_eq!(clues.date("The Orme Works").edtf, "[1871..1890]");
}

#[test]
fn every_kind_of_clue_that_the_trade_dates_by_is_in_the_table() {
    // One wording of each kind, with the limit that it has to set
    let kinds = [
        ("postal district", "Poll, High Street, London, W.C.", "1857"),
        (
            "abolished district",
            "Poll, High Street, London, N.E.",
            "1857",
        ),
        (
            "numbered district",
            "Poll, High Street, London, W.1",
            "1917",
        ),
        ("telephone", "Telephone 214", "1879"),
        ("exchange", "MAYfair 1234", "1927-11"),
        ("telegraph", "Telegrams: Orme", "1870"),
        ("limited", "Poll & Thrupp Ltd", "1855"),
        (
            "royal title",
            "By appointment to the Prince Consort",
            "1857-06-25",
        ),
        ("society", "Royal Society of British Artists", "1887"),
        ("letters after a name", "A. Carrow, R.B.A.", "1887"),
        (
            "lozenge",
            "lozenge top X right 12 bottom 5 left C",
            "1842-01-12",
        ),
        ("registered number", "Rd No 116648", "1889"),
        ("made in", "Made in England", "1887"),
        ("foreign", "Foreign", "1887"),
        ("new currency", "25p", "1971-02-15"),
        ("excise", "Excise 42", "1785"),
        ("street", "9 New Oxford Street", "1847"),
        ("county", "Cumbria", "1974-04-01"),
        ("printer", "Vincent Brooks, Day & Son", "1867~"),
        ("Roman year", "MDCCCLXVIII", "1868"),
        ("German registered model", "D.R.G.M. 20341", "1891-10-01"),
        ("French patent", "Breveté S.G.D.G.", "1844-07-05"),
        ("German telephone", "Fernsprecher 1142", "1881-01"),
        ("honour", "T. Carrow, O.B.E.", "1917-06-04"),
        ("stuff", "acrylic on board", "1949~"),
    ];
    for (kind, text, from) in kinds {
        assert_eq!(
            date(text).not_before.as_deref(),
            Some(from),
            "{kind}: {text}"
        );
    }
    for (kind, text) in [
        ("old currency", "3s. 6d."),
        ("day and month", "12th inst"),
        ("contraction", "Thos. Poll, carver"),
        ("superior letters", "Wᵐ Poll"),
        ("old month", "8ber"),
    ] {
        assert!(
            date(text).clues.iter().any(|c| c.not_after.is_some()),
            "{kind}: {text}"
        );
    }
}

#[test]
fn dates_of_the_table_are_read_as_a_reference_library_reads_them() {
    let file: serde_json::Value =
        serde_json::from_str(include_str!("../reference/clue_dates.json")).expect("reference");
    let mut compared = 0;
    for row in file["dates"].as_array().expect("rows") {
        let text = row["text"].as_str().expect("text");
        let ours = Edtf::parse(text).unwrap_or_else(|e| panic!("{text}: {e:?}"));
        // The library can't read signs of doubt within a run; their dates stand alone beside
        let Some(theirs) = row["library"].as_array() else {
            continue;
        };
        let day = |d: Option<dorso::dating::edtf::Day>| d.map(|d| d.to_string());
        assert_eq!(
            day(ours.earliest()).as_deref(),
            theirs[0].as_str(),
            "{text}"
        );
        assert_eq!(day(ours.latest()).as_deref(), theirs[1].as_str(), "{text}");
        compared += 1;
    }
    assert!(compared >= 300, "{compared}");
}
