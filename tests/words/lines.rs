//! Lines of provenance taken apart and printed again: invented ones to the letter, real ones (Carnegie
//! Museum of Art, "collection", CC0) against a truth written by hand, and any text at all.

use dorso::dating::edtf::Edtf;
use dorso::note::lines::{Kind, Line, Link, Role, Way};
use dorso::note::provenance::{Doubt, Next};
use proptest::prelude::*;
use serde_json::Value;

const INVENTED: &str = "Alda Renshaw [1821-1899], Kendal, Westmorland, until 1868; by descent to her nephew, Thomas Renshaw [1850-1911], Kendal, by 1899 [1]; (sale, Harbottle & Vane, London, 14 May 1902, lot 217); possibly purchased by J. R. Pell?, Leeds, for £40. (Oakes Gallery, London, from 1905 until ca. 1945); gift to Museum of Art, Fell Institute, Carlisle, England, April 1951 [2].\n\nNotes:\n[1]. Label on the back.\n[2]. See the minutes.\n\nTo be checked";

fn who(link: &Link) -> (String, String, String) {
    let first = link.parties().into_iter().next().unwrap_or_default();
    (first.name, first.place, link.years())
}

#[test]
fn an_invented_line_is_taken_apart_link_by_link() {
    let line = Line::parse(INVENTED);
    assert_eq!(line.to_string(), INVENTED);
    let told: Vec<_> = line.links.iter().map(who).collect();
    let want = [
        ("Alda Renshaw", "Kendal, Westmorland", "/1868"),
        ("Thomas Renshaw", "Kendal", "[..1899]"),
        ("Harbottle & Vane", "London", "1902-05-14"),
        ("J. R. Pell", "Leeds", ""),
        ("Oakes Gallery", "London", "1905/1945~"),
        (
            "Museum of Art, Fell Institute",
            "Carlisle, England",
            "1951-04",
        ),
    ];
    let want: Vec<_> = want
        .iter()
        .map(|(a, b, c)| (a.to_string(), b.to_string(), c.to_string()))
        .collect();
    assert_eq!(told, want);
    let life = |i: usize| line.links[i].parties()[0].life.clone();
    assert_eq!(life(0), [("1821".to_string(), "1899".to_string())]);
    assert_eq!(line.links[1].parties()[0].kin, "her nephew");
    assert_eq!(line.links[1].ways(), [Way::Descent]);
    assert_eq!(line.links[1].note_numbers(), [1]);
    assert_eq!(line.links[2].kind(), Kind::Sale);
    assert_eq!(line.links[2].lot(), Some("217"));
    assert_eq!(line.links[3].doubt(), Doubt::Possibly);
    assert_eq!(line.links[3].price(), Some("for £40"));
    assert_eq!(line.links[3].next(), Next::Unknown);
    assert_eq!(line.links[4].next(), Next::Directly);
    assert_eq!(line.links[4].kind(), Kind::Dealer);
    assert_eq!(line.links[5].kind(), Kind::Museum);
    assert_eq!(line.note(2), Some("See the minutes."));
    assert_eq!(line.after, "\n\nTo be checked");
}

#[test]
fn somebody_further_is_kept_apart_from_whose_link_it_is() {
    let line = Line::parse("Acquired by Miss Vane from Oakes & Sons, Leeds, 4/10/1969");
    let all = line.links[0].parties();
    assert_eq!(all.len(), 2);
    assert_eq!(
        (all[0].name.as_str(), all[0].place.as_str()),
        ("Miss Vane", "")
    );
    assert_eq!(all[1].role, Some(Role::From));
    assert_eq!(
        (all[1].name.as_str(), all[1].place.as_str()),
        ("Oakes & Sons", "Leeds")
    );
    assert_eq!(line.links[0].years(), "1969-04-10");
}

#[test]
fn whose_it_became_stands_first_and_slips_of_the_pen_are_read() {
    for (text, name, further, place, years) in [
        (
            "Purchased from the artist by Miss Vane, Leeds, 1869",
            "Miss Vane",
            "the artist",
            "Leeds",
            "1869",
        ),
        (
            "Renshaw, Alfred, Kendal, Westmorland, England",
            "Renshaw, Alfred",
            "",
            "Kendal, Westmorland, England",
            "",
        ),
        (
            "Puchased by Miss Vane, by Decemmber 4, 1875",
            "Miss Vane",
            "",
            "",
            "[..1875-12-04]",
        ),
        (
            "(Oakes Gallery), Leeds, England",
            "Oakes Gallery",
            "",
            "Leeds, England",
            "",
        ),
        ("Mrs. Jane L. May, 1928", "Mrs. Jane L. May", "", "", "1928"),
        (
            "Oakes & Co., 1220 Vane Street, London",
            "Oakes & Co.",
            "",
            "1220 Vane Street, London",
            "",
        ),
        (
            "Sale, Renshaw collection, Harbottle's, London, 29 April-1 May 1863",
            "Renshaw collection",
            "Harbottle's",
            "",
            "1863-04-29/1863-05-01",
        ),
        (
            "Dr, Vane, Leeds, England, 2004-5",
            "Dr, Vane",
            "",
            "Leeds, England",
            "2004/2005",
        ),
    ] {
        let line = Line::parse(text);
        assert_eq!(line.to_string(), text);
        let all = line.links[0].parties();
        let next = all.get(1).map_or("", |p| p.name.as_str());
        assert_eq!(
            (line.links.len(), all[0].name.as_str(), next),
            (1, name, further),
            "{text}"
        );
        assert_eq!(
            (all[0].place.as_str(), line.links[0].years().as_str()),
            (place, years),
            "{text}"
        );
    }
}

#[test]
fn what_is_no_link_stays_as_text() {
    let text = "The frame was sent to the joiner and came back without its label";
    let line = Line::parse(text);
    assert_eq!(line.to_string(), text);
    assert!(line.links.iter().all(Link::is_text));
    assert_eq!(line.understood(), 0.0);
    assert_eq!(Line::parse("").understood(), 1.0);
}

type Told = (Vec<(String, String)>, String);

fn plain(text: &str) -> String {
    let text = text
        .strip_prefix("the ")
        .or(text.strip_prefix("The "))
        .unwrap_or(text);
    text.trim_end_matches('.').to_string()
}

fn told(line: &Line) -> Vec<Told> {
    let links = line.links.iter().filter(|l| l.kind() != Kind::Text);
    let told = |l: &Link| {
        let mut all: Vec<_> = l
            .parties()
            .iter()
            .map(|p| (plain(&p.name), plain(&p.place)))
            .collect();
        if all.is_empty() {
            all.push(Default::default());
        }
        (all, l.years())
    };
    links.map(told).collect()
}

fn wanted(line: &Value) -> Vec<Told> {
    let text = |v: &Value, k: &str| plain(v[k].as_str().unwrap());
    let party = |v: &Value| (text(v, "name"), text(v, "place"));
    let links = line["links"].as_array().unwrap();
    let link = |l: &Value| {
        let further = l["further"].as_array().cloned().unwrap_or_default();
        let all = std::iter::once(party(l))
            .chain(further.iter().map(party))
            .collect();
        (all, l["years"].as_str().unwrap().to_string())
    };
    links.iter().map(link).collect()
}

/// Links of the longest common run of truth and answer, in order.
fn agreed(a: &[Told], b: &[Told]) -> usize {
    let mut table = vec![vec![0usize; b.len() + 1]; a.len() + 1];
    for i in 0..a.len() {
        for j in 0..b.len() {
            table[i + 1][j + 1] = if a[i] == b[j] {
                table[i][j] + 1
            } else {
                table[i][j + 1].max(table[i + 1][j])
            };
        }
    }
    table[a.len()][b.len()]
}

/// Share of links right, of those in the truth and those made up.
fn right(set: &str) -> f64 {
    let doc: Value =
        serde_json::from_str(include_str!("../reference/provenance_lines.json")).unwrap();
    let (mut good, mut all) = (0, 0);
    for l in doc[set]["lines"].as_array().unwrap() {
        let text = l["text"].as_str().unwrap();
        let line = Line::parse(text);
        assert_eq!(line.to_string(), text);
        let (want, have) = (wanted(l), told(&line));
        good += agreed(&want, &have);
        all += want.len().max(have.len());
    }
    good as f64 / all as f64
}

// All truths were written before the answers were seen, each set drawn at random from the lines not
// looked at before. Before the repairs that each led to, the sets stood at 342 of 357 links, 122 of 129,
// 140 of 150, 126 of 132, 112 of 119 and 345 of 359. What follows from the repairs is held here, and is no figure
// for lines not yet seen.
#[test]
fn links_of_real_lines_have_name_place_and_years() {
    for (set, least) in [
        ("first", 0.98),
        ("second", 0.98),
        ("third", 0.97),
        ("fourth", 0.97),
        ("fifth", 0.98),
        ("sixth", 0.98),
    ] {
        let right = right(set);
        println!("links right: {set} {right:.4}");
        assert!(right >= least, "{set}: {right}");
    }
}

#[test]
fn years_are_dates_as_edtf_has_them() {
    let doc: Value =
        serde_json::from_str(include_str!("../reference/provenance_lines.json")).unwrap();
    let sets = ["first", "second", "third", "fourth", "fifth", "sixth"];
    let lines = sets.map(|s| doc[s]["lines"].as_array().unwrap().clone());
    let mut seen = 0;
    for l in lines.iter().flatten() {
        for link in Line::parse(l["text"].as_str().unwrap()).links {
            let years = link.years();
            if !years.is_empty() {
                assert!(Edtf::parse(&years).is_ok(), "{years}: {link}");
                seen += 1;
            }
        }
    }
    assert!(seen > 200);
}

#[test]
fn long_texts_of_one_pattern_come_back_whole() {
    let patterns = [
        "a",
        "a, ",
        "1900; ",
        "(",
        ")",
        "[1] ",
        "((",
        "(a, London) ",
        ".",
        "Pa. ",
        "a.a.",
        "\n",
        " ",
        "a,\n",
        "and b ",
        "sold to ",
        "by ",
        "c. ",
        "\"",
        "note ",
        "[1] See note ",
        "his son ",
        "é",
        "Inc. ",
        "until 1900 ",
        "Mr. ",
        "probably ",
        "-",
        "12/",
        "A. B., ",
        "x\n",
        "from X ",
        "in X ",
    ];
    for p in patterns {
        let text = p.repeat(30_000 / p.len());
        assert_eq!(Line::parse(&text).to_string(), text, "{p:?}");
    }
}

/// All lines of a file with a column `provenance`, named by DORSO_PROVENANCE_LINES.
#[test]
#[ignore = "needs a file of lines: name it in DORSO_PROVENANCE_LINES"]
fn lines_of_a_file_are_printed_again_without_loss() {
    let path =
        std::env::var("DORSO_PROVENANCE_LINES").expect("DORSO_PROVENANCE_LINES names a CSV file");
    let mut file = csv::Reader::from_path(&path).expect("a CSV file");
    let column = file
        .headers()
        .unwrap()
        .iter()
        .position(|h| h == "provenance")
        .unwrap();
    let (mut all, mut same, mut whole) = (0, 0, 0);
    for row in file.records() {
        let text = row.unwrap()[column].to_string();
        let line = Line::parse(&text);
        all += 1;
        same += usize::from(line.to_string() == text);
        whole += usize::from(line.to_string() == text && line.understood() == 1.0);
    }
    println!("{all} lines, {same} the same, {whole} of them with nothing left as text");
    assert!(whole as f64 >= 0.85 * all as f64);
    assert_eq!(same, all);
}

proptest! {
    #[test]
    fn any_text_comes_back_whole(text in any::<String>()) {
        prop_assert_eq!(Line::parse(&text).to_string(), text);
    }

    #[test]
    fn texts_of_the_trade_come_back_whole(pieces in proptest::collection::vec(prop_oneof![
        Just("(sale, "), Just("London, "), Just("14 May 1902"), Just("lot 217"), Just(")"), Just("["),
        Just("]"), Just("[1821-1899]"), Just("until "), Just("by "), Just("ca. "), Just("1945"),
        Just("; "), Just(". "), Just("\n"), Just("\n\nNotes:\n"), Just("[1]"), Just("1. "), Just("His "),
        Just("gift to "), Just("Mr. "), Just("probably "), Just("?"), Just("Pa."), Just(" and "),
        Just("É"), Just(" "), Just(","), Just("Oakes & Co."), Just("\""), Just("$4"), Just("-"),
        Just("from "), Just("0"), Just("5/"), Just("’s"), Just("  "), Just("sale"), Just("in "),
    ], 0..40)) {
        let text = pieces.concat();
        prop_assert_eq!(Line::parse(&text).to_string(), text);
    }
}
