//! Promises of the lists, held against made-up files.

use super::dialect::{Dialect, Encoding, LineEnd, encode, record};
use super::keys::Keys;
use super::rows::{COLUMNS, read, table};
use super::table::Content;
use super::*;
use proptest::prelude::*;
use std::path::Path;

/// A header and one plain row.
const PLAIN: &str = "entry,name,variants,trade,address,town,from,to,source,note\n\
                     a-1,Abel Thwaite,,carver and gilder,2 Fossgate,York,1868,187X,from memory,\n";

fn sheet(text: &str) -> rows::Sheet {
    read(Path::new("framers.csv"), text.as_bytes())
}

fn told(sheet: &rows::Sheet) -> String {
    let mut faults = sheet.faults.clone();
    faults.extend(check::check(sheet));
    faults.sort_by_key(|f| f.row);
    faults.iter().map(|f| format!("{f}\n")).collect()
}

#[test]
fn every_row_of_the_starter_lists_can_be_used_and_hardly_any_is_doubtful() {
    let sheets = Place::Starter.sheets().expect("built in");
    let (artists, others): (Vec<_>, Vec<_>) = sheets.iter().partition(|s| s.list == "artists");
    let text: String = others.into_iter().map(told).collect();
    assert_eq!(text, "");
    // Two museums may have one person who has no dates in one of them
    let text: String = artists.into_iter().map(told).collect();
    let doubles = text.lines().filter(|l| l.contains("stands on row")).count();
    assert_eq!(text.lines().count(), doubles, "{text}");
    assert!((1..=12).contains(&doubles), "{text}");
    let (gazetteer, _) = Place::Starter.load().expect("built in");
    assert!(gazetteer.entries().count() > 4000);
    assert!(gazetteer.entries().all(|e| !e.source.is_empty()));
    assert_eq!(
        gazetteer
            .entry("towns", "kendal-westmorland")
            .map(|e| e.address.as_str()),
        Some("Westmorland")
    );
    let rand = gazetteer
        .entry("colourmen", "rand-london-1")
        .map(Entry::years);
    assert_eq!(rand, Some((Some(1840), Some(1846))));
}

#[test]
fn years_are_the_widest_that_from_and_to_allow() {
    let years = |from: &str, to: &str| {
        Entry {
            from: from.into(),
            to: to.into(),
            ..Entry::default()
        }
        .years()
    };
    assert_eq!(years("187X", "188X"), (Some(1870), Some(1889)));
    assert_eq!(years("1868~", ""), (Some(1868), None));
    assert_eq!(years("", "[1890,1893]"), (None, Some(1893)));
    assert_eq!(years("1868/1870", "1875-05"), (Some(1868), Some(1875)));
    assert_eq!(years("1880", "1870"), (None, None));
    assert_eq!(years("soon", "1870"), (None, Some(1870)));
}

#[test]
fn one_bad_row_never_stops_the_rest() {
    let s = sheet(
        "entry,name,variants,trade,address,town,from,to,source,note\n\
         a-1,Abel Thwaite,,,2 Fossgate,York,1868,1875?-,s,\n\
         \n\
         # mine\n\
         a-2,\"Binns\nand Son\",,,3 Fossgate,York,c. 1870,1875,s,\n\
         a-3,,,,4 Fossgate,York,,,s,\n\
         a-4,Dyson,,,5 Fossgate, Upper,York,,,s,note,more\n\
         a-5,Ebor Frames,,,6 Fossgate,York,1870s,1868-75,s,\n\
         a-6,Fell,,,7 Fossgate,York,187X,,s,\n\
         a-6,Gale,,,8 Fossgate,York,187X,,s,\n\
         ,Hobbs,,,9 Fossgate,York,187X,,s,\n",
    );
    insta::assert_snapshot!(told(&s), @r#"
    framers.csv, row 2, column "to": "1875?-" is not an EDTF year (character 7: a month of two digits is missing at the end), so this row is not used; write 1875, 1875~, 187X, or leave it empty.
    framers.csv, row 5, column "from": "c. 1870" is not an EDTF year (character 1: a year of four digits was expected here, not "c"), so this row is not used; write 1870~.
    framers.csv, row 6, column "name": the name is empty, so this row is not used; write the name of the firm, or remove the row.
    framers.csv, row 7: the row has 12 cells where the header has 10, so it is not used; put the cell that holds the separator in quotation marks.
    framers.csv, row 8, column "from": "1870s" is not an EDTF year (character 5: "s" has no meaning after the date), so this row is not used; write 187X.
    framers.csv, row 8, column "to": "1868-75" is not an EDTF year (character 6: there is no such month (01 to 12) or season (21 to 41)), so this row is not used; write 1875 here, and the start in "from".
    framers.csv, row 10, column "entry": the key "a-6" stands on row 9 already, so this row is not used; give it a key of its own, such as "a-7".
    framers.csv, row 11, column "entry": the key is empty, and "hobbs-york-1" is used in its place; write a key of its own, so that decisions keep to this row.
    "#);
    let used: Vec<&str> = s.entries.iter().map(|e| e.entry.as_str()).collect();
    assert_eq!(used, ["a-6", "hobbs-york-1"]);
}

#[test]
fn a_broken_quotation_mark_costs_its_own_row_only() {
    for rest in [
        // Never closed; closed by a later opening mark; closed where it makes whole rows a cell.
        "a-2,Binns,,,3 Fossgate,York,,,s,\n",
        "a-2,Binns,,,\"3 Fossgate, Upper\",York,,,s,\n",
        "a-2,Binns,,,3 Fossgate,York,,,s,\"good\"\n",
    ] {
        let text = format!(
            "{PLAIN}b-1,\"Broken,,,1 Low St,York,,,s,\n{rest}a-3,Cave,,,4 Fossgate,York,,,s,\n"
        );
        let s = sheet(&text);
        let used: Vec<&str> = s.entries.iter().map(|e| e.entry.as_str()).collect();
        assert_eq!(used, ["a-1", "a-2", "a-3"], "{text}");
        assert_eq!(s.faults.len(), 1, "{:?}", s.faults);
        assert_eq!(
            s.faults[0].to_string(),
            "framers.csv, row 3, column \"name\": the quotation mark before \
             \"Broken,,,1 Low St,York,,,s,\" isn't closed on this row, so the row is not used; \
             close it after the cell's last word, or write it twice if it belongs to the text."
        );
    }
}

#[test]
fn files_that_are_no_lists_get_one_clear_sentence_each() {
    let mut zip = b"PK\x03\x04".to_vec();
    zip.extend([0u8; 40]);
    let mut noise: Vec<u8> = (0..200u8).collect();
    noise.extend(0..50u8);
    let files: [(&str, &[u8]); 9] = [
        ("zero.csv", b""),
        ("workbook.csv", &zip),
        ("noise.csv", &noise),
        ("picture.csv", b"\xFF\xD8\xFF\xE0 picture"),
        ("blank.csv", b"\n \n;;;\n"),
        ("comment.csv", b"# only a remark\n"),
        ("letter.csv", b"Dear Sir,\nthank you for your letter.\n"),
        ("header.csv", b"entry,\"name,town\na-1,x,y\n"),
        ("other.csv", b"Firm;Street\nBinns;3 Fossgate\n"),
    ];
    let text: String = files
        .iter()
        .flat_map(|(name, bytes)| read(Path::new(name), bytes).faults)
        .map(|f| format!("{f}\n"))
        .collect();
    insta::assert_snapshot!(text, @r#"
    zero.csv: the file is empty; write a header and rows into it, or remove it.
    workbook.csv: the file is a spreadsheet's own workbook, not CSV; open it in the spreadsheet and save the sheet as CSV (UTF-8).
    noise.csv: the file is no text but binary data; save the list as CSV from the program that holds it.
    picture.csv: the file is a picture, not CSV; put the list here as CSV, or remove this file.
    blank.csv: the file has no header; let its first row be entry,name,variants,trade,address,town,from,to,source,note.
    comment.csv: the file has no header; let its first row be entry,name,variants,trade,address,town,from,to,source,note.
    letter.csv, row 1: there is no column "name" among "Dear Sir", so the file can't be used as a list; let the first row name the columns (entry,name,variants,trade,address,town,from,to,source,note), or take the file in with `dorso gazetteer import`.
    header.csv, row 1: a quotation mark in the header is never closed, so the file can't be read; close it or take it out.
    other.csv, row 1: there is no column "name" among "Firm", "Street", so the file can't be used as a list; let the first row name the columns (entry,name,variants,trade,address,town,from,to,source,note), or take the file in with `dorso gazetteer import`.
    "#);
}

#[test]
fn what_is_doubtful_is_told_by_row_and_column() {
    let s = sheet(
        "entry,name,varients,trade,address,town,from,to,source,note,ref\n\
         a 1,John Thwaite,,,2 Fossgate,York,1880,1870,s,,\n\
         b-1,John Binns,,,3 High St,York,1868,1875,s,,\n\
         b-2,J. Binns,,,\"3, High Street\",York,1870,1872,s,,=1+1\n\
         b-3,John Binns,,,9 Coney St,York,1871,1880,,,\n\
         c-1,CafÃ© Frames,,,1 Low St,York,1901-05,1868/1870,s,,\n\
         c-2,Cave,,,5 Low St,York,1860,2868,s,,\n\
         d-1,Dale,,,6 Low St,York,1861,1868,s,,\n\
         d-2,Dale & Co,,,6 Low St,York,1868,1880,s,,\n",
    );
    insta::assert_snapshot!(told(&s), @r#"
    framers.csv, column "source": row 5 has no source; say where the facts come from, or write "from memory".
    framers.csv, row 1, column "varients": the column is kept but not used; rename it to "variants" if that is what it holds.
    framers.csv, row 2, column "from": 1880 comes after 1870 in "to", so the years are left out of account; mend the one that is wrong.
    framers.csv, row 2, column "entry": the key "a 1" holds a blank; keep to letters, digits and hyphens, so that it can be typed in a command.
    framers.csv, row 4, column "ref": a spreadsheet may take "=1+1" for a formula; put a word or a blank before the sign if a spreadsheet will open the list.
    framers.csv, row 4, column "name": "J. Binns" is nearly "John Binns" of row 3, at the same address in the same years; if they are one firm, keep one row and put the other spelling into "variants".
    framers.csv, row 5, column "from": "John Binns" is here and at "3 High St" (row 3) from 1871 to 1875; mend the years, or say "branch" in "note" if it had both.
    framers.csv, row 6, column "from": 1901-05 comes after 1868/1870 in "to", so the years are left out of account; mend the one that is wrong.
    framers.csv, row 6, column "from": "1901-05" means a month of that year, not a span of years; leave it if so; else write the start in "from" and the end in "to".
    framers.csv, row 6, column "to": "1868/1870" is a span, not a year; write its start in "from" and its end in "to".
    framers.csv, row 6, column "name": "CafÃ© Frames" was damaged by a change of encoding; write the letters again and save the file as UTF-8.
    framers.csv, row 7, column "to": "2868" is before 1000 or still to come; mend the year if it is a slip.
    "#);
}

#[test]
fn a_row_in_another_encoding_is_read_and_told_and_the_rest_keeps_its_accents() {
    let mut bytes = "entry;name\na-1;Café Frères\na-2;Müller\n"
        .as_bytes()
        .to_vec();
    bytes.extend(b"a-3;Caf\xE9 Noir\n");
    let s = read(Path::new("framers.csv"), &bytes);
    let names: Vec<&str> = s.entries.iter().map(|e| e.name.as_str()).collect();
    assert_eq!(names, ["Café Frères", "Müller", "Café Noir"]);
    assert_eq!(
        told(&s).lines().next(),
        Some(
            "framers.csv, column \"source\": 3 rows have no source, the first of them row 2; say where the facts come from, or write \"from memory\"."
        )
    );
    assert_eq!(
        s.faults[0].to_string(),
        "framers.csv, row 4: the row isn't in UTF-8 as the rest is, and was read as Windows-1252; look at its accents, then save the file as UTF-8."
    );
}

#[test]
fn a_row_split_by_a_line_break_or_parted_otherwise_is_told_as_that() {
    let mut text = String::from("entry;name;address\n");
    for i in 0..12 {
        text += &format!("a-{i};Firm {i};{i} Fossgate\n");
    }
    text += "b-1;Split\n and Son;1 Low St\nc-1,Commas,2 Low St\n";
    insta::assert_snapshot!(sheet(&text).faults.iter().map(|f| format!("{f}\n")).collect::<String>(), @r#"
    framers.csv, row 14: the row has 2 of 3 cells, and the rest is taken as empty; see whether a line break has split it.
    framers.csv, row 15: the row has 2 of 3 cells, and the rest is taken as empty; see whether a line break has split it.
    framers.csv, row 16: the row is parted by "," where the header is parted by ";", so it is not used; use one separator throughout.
    "#);
}

#[test]
fn workbooks_and_lists_of_one_name_are_passed_over_and_told() {
    let dir = tempfile::tempdir().expect("folder");
    for name in [
        "framers.csv",
        "FRAMERS.CSV",
        "firms.xlsx",
        "~$firms.xlsx",
        ".framers.csv.new",
    ] {
        std::fs::write(dir.path().join(name), PLAIN).expect("file");
    }
    let (gazetteer, faults) = load(dir.path()).expect("folder");
    assert_eq!(gazetteer.lists.len(), 1);
    assert_eq!(gazetteer.entries().count(), 1);
    insta::assert_snapshot!(faults.iter().map(|f| format!("{f}\n")).collect::<String>(), @r#"
    framers.csv: FRAMERS.CSV is a list of the same name, so this file is not used; rename one of them.
    firms.xlsx: this is a spreadsheet's own workbook, and it is passed over; save its sheets as CSV beside it if it holds lists.
    "#);
}

#[test]
fn a_list_that_changed_meanwhile_or_is_held_open_is_left_as_it_is() {
    let dir = tempfile::tempdir().expect("folder");
    let file = dir.path().join("framers.csv");
    std::fs::write(&file, PLAIN).expect("file");
    let held = edit::hold(dir.path()).expect("a folder of one's own");
    let e = edit::replace(&file, b"what it held before", b"new").expect_err("changed");
    assert!(e.what.contains("another program changed the list"), "{e}");
    let lock = dir.path().join(".~lock.framers.csv#");
    std::fs::write(&lock, "me").expect("file");
    let row = vec![("name".to_string(), "Binns".to_string())];
    let e = edit::append(&file, std::slice::from_ref(&row), &held).expect_err("held open");
    assert!(e.what.contains("a spreadsheet holds it open"), "{e}");
    std::fs::remove_file(&lock).expect("file");
    let e = edit::replace(&file.join("such.csv"), b"", b"new").expect_err("no folder");
    assert!(e.what.contains("it is as it was"), "{e}");
    assert_eq!(std::fs::read_to_string(&file).expect("file"), PLAIN);
    assert_eq!(edit::append(&file, &[row], &held).expect("writes"), 3);
    let before = std::fs::read_to_string(edit::before(&file)).expect("the version before");
    assert_eq!(before, PLAIN);
    assert_eq!(std::fs::read_dir(dir.path()).expect("folder").count(), 2);
}

#[test]
fn spans_that_meet_and_branches_are_not_doubtful() {
    let s = sheet(
        "entry,name,variants,trade,address,town,from,to,source,note\n\
         a-1,Roberts,,,2 Fossgate,York,1861,1868,s,\n\
         a-2,Roberts,,,3 Fossgate,York,1868,1880,s,\n\
         a-3,Roberts & Co,,,3 Fossgate,York,1880,1890,s,\n\
         a-4,Roberts,,,8 Coney St,York,1870,1875,s,branch\n\
         a-5,Roberts,,,8 Coney St,Leeds,1870,1875,s,\n",
    );
    assert_eq!(told(&s), "");
}

#[test]
fn a_hundred_thousand_rows_are_read_and_checked() {
    let mut text = String::from("entry,name,variants,trade,address,town,from,to,source,note\n");
    for i in 0..100_000 {
        // Many firms in few houses, so that a comparison of all with all would show.
        text += &format!(
            "k-{i},Maker {} {i},,carver and gilder,{} High St,Town {},18{:02},19{:02},s,\n",
            i % 97,
            i % 50,
            i % 20,
            i % 100,
            i % 90
        );
    }
    let ten: usize = text.match_indices('\n').nth(10_000).map_or(0, |(i, _)| i);
    let s = sheet(&text[..ten + 1]);
    assert_eq!(s.entries.len(), 10_000);
    let all = sheet(&text);
    assert_eq!(all.entries.len(), text.lines().count() - 1);
    assert!(!check::check(&all).is_empty());
}

fn dialect() -> impl Strategy<Value = Dialect> {
    let encoding = prop_oneof![
        Just(Encoding::Utf8),
        Just(Encoding::Utf16Le),
        Just(Encoding::Utf16Be),
        Just(Encoding::Windows1252)
    ];
    let line_end = prop_oneof![Just(LineEnd::CrLf), Just(LineEnd::Lf), Just(LineEnd::Cr)];
    let separator = prop_oneof![Just(','), Just(';'), Just('\t')];
    (
        encoding,
        any::<bool>(),
        separator,
        any::<bool>(),
        line_end,
        any::<bool>(),
    )
        .prop_map(
            |(encoding, bom, separator, separator_line, line_end, quote_all)| Dialect {
                encoding,
                bom: bom && encoding != Encoding::Windows1252,
                separator,
                separator_line,
                line_end,
                quote_all,
            },
        )
}

/// A cell with what gives trouble: separators, quotation marks, line ends, accents, signs.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        "[A-Za-z0-9éèüß£&.,;'\"|#=+@\t-][A-Za-z0-9éèüß£&.,;'\"|#=+@\t-]{0,12}",
        "[A-Z][a-z]{1,8} [A-Z][a-z]{1,8}",
        "[a-z]{1,5}\n[a-z]{1,5}",
    ]
}

fn written(dialect: &Dialect, rows: &[Vec<String>]) -> Vec<u8> {
    let mut text = String::new();
    if dialect.separator_line {
        text += &format!("sep={}{}", dialect.separator, dialect.line_end.as_str());
    }
    text += &record(&COLUMNS.map(String::from), dialect);
    for row in rows {
        text += &record(row, dialect);
    }
    let mut bytes = match (dialect.bom, dialect.encoding) {
        (true, Encoding::Utf8) => b"\xEF\xBB\xBF".to_vec(),
        (true, Encoding::Utf16Le) => b"\xFF\xFE".to_vec(),
        (true, Encoding::Utf16Be) => b"\xFE\xFF".to_vec(),
        _ => Vec::new(),
    };
    bytes.extend(encode(&text, dialect.encoding).expect("all letters are in Windows-1252"));
    bytes
}

fn utf8_by_chance(bytes: &[u8]) -> bool {
    bytes
        .split(|b| *b == b'\n')
        .any(|l| std::str::from_utf8(l).is_ok_and(|l| !l.is_ascii()))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn what_is_written_in_any_dialect_is_read_back(
        dialect in dialect(),
        rows in prop::collection::vec(prop::collection::vec(cell(), 10), 1..6),
    ) {
        let bytes = written(&dialect, &rows);
        // Some few letters of Windows-1252 side by side are UTF-8 as well: no one can tell.
        prop_assume!(dialect.encoding != Encoding::Windows1252 || !utf8_by_chance(&bytes));
        let table = table(&bytes).expect("text");
        prop_assert_eq!(table.dialect.separator, dialect.separator);
        let back: Vec<Vec<String>> = table.body().iter().filter_map(|r| match &r.content {
            Content::Cells(c) => Some(c.clone()),
            _ => None,
        }).collect();
        let want: Vec<Vec<String>> = rows
            .iter()
            .filter(|r| r.iter().any(|c| !super::table::blank(c)))
            .cloned()
            .collect();
        prop_assert_eq!(back, want);
    }

    #[test]
    fn adding_rows_leaves_every_other_byte_as_it_was(
        dialect in dialect(),
        rows in prop::collection::vec(prop::collection::vec(cell(), 10), 1..5),
        name in "[A-Z][a-zéü\"; ,]{0,12}",
        cut in any::<bool>(),
    ) {
        let mut old = written(&dialect, &rows);
        // The last line end is often missing.
        if cut {
            let end = encode(dialect.line_end.as_str(), dialect.encoding).expect("ASCII").len();
            old.truncate(old.len() - end);
        }
        prop_assume!(dialect.encoding != Encoding::Windows1252 || !utf8_by_chance(&old));
        let before = read(Path::new("l.csv"), &old);
        let new = vec![
            ("entry".to_string(), "new-1".to_string()),
            ("name".to_string(), name.clone()),
            ("note".to_string(), "from a label".to_string()),
        ];
        let (bytes, row) = edit::appended(Path::new("l.csv"), &old, &[new]).expect("fits");
        prop_assert!(bytes.starts_with(&old));
        let after = read(Path::new("l.csv"), &bytes);
        prop_assert_eq!(&after.entries[..after.entries.len() - 1], &before.entries[..]);
        let last = after.entries.last().expect("the new row");
        prop_assert_eq!((last.row, last.entry.as_str(), last.name.as_str()), (row, "new-1", name.trim()));
    }

    #[test]
    fn no_bytes_at_all_make_reading_or_checking_fail(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let s = read(Path::new("l.csv"), &bytes);
        check::check(&s);
        let mut csv = PLAIN.as_bytes().to_vec();
        csv.extend(&bytes);
        let s = read(Path::new("l.csv"), &csv);
        check::check(&s);
        prop_assert!(s.entries.len() + s.faults.len() > 0);
    }

    #[test]
    fn well_formed_text_is_parted_as_the_csv_crate_parts_it(
        rows in prop::collection::vec(prop::collection::vec("[a-c,\"\n]{1,6}", 8), 1..6),
    ) {
        let dialect = Dialect::default();
        let mut text = record(&COLUMNS[..8].iter().map(|c| c.to_string()).collect::<Vec<_>>(), &dialect);
        for row in &rows {
            text += &record(row, &dialect);
        }
        let mut theirs = csv::ReaderBuilder::new().flexible(true).from_reader(text.as_bytes());
        let theirs: Vec<Vec<String>> = theirs
            .records()
            .map(|r| r.expect("well formed").iter().map(String::from).collect())
            .collect();
        let ours: Vec<Vec<String>> = table(text.as_bytes()).expect("text").body().iter().map(|r| match &r.content {
            Content::Cells(c) => c.clone(),
            _ => Vec::new(),
        }).collect();
        prop_assert_eq!(ours, theirs);
    }

    #[test]
    fn fresh_keys_are_never_taken(names in prop::collection::vec("[A-C]{0,2}( & Co)?", 0..12)) {
        let mut keys = Keys::new(["a-york-1", "a-york-3"]);
        let mut seen = std::collections::HashSet::from(["a-york-1".to_string(), "a-york-3".into()]);
        for name in names {
            prop_assert!(seen.insert(keys.fresh(&name, "York")));
        }
    }
}
