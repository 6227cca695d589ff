//! The lists by way of the command line: check, add, import, start.

use assert_cmd::Command;
use dorso::gazetteer::Place;
use dorso::proposals::Index;
use dorso::readings::from_typed;
use std::path::Path;
use tempfile::TempDir;

const HEADER: &str = "entry,name,variants,trade,address,town,from,to,source,note\n";

fn dorso(folder: &Path) -> Command {
    let mut c = Command::cargo_bin("dorso").expect("built");
    c.current_dir(folder)
        .env_remove("DORSO_GAZETTEER")
        .arg("gazetteer");
    c
}

/// A working folder with `gazetteer/framers.csv`.
fn folder(framers: &[u8]) -> TempDir {
    let dir = tempfile::tempdir().expect("folder");
    std::fs::create_dir(dir.path().join("gazetteer")).expect("folder");
    std::fs::write(dir.path().join("gazetteer/framers.csv"), framers).expect("file");
    dir
}

/// Exit status, standard output, standard error.
fn ran(c: &mut Command) -> (i32, String, String) {
    let out = c.output().expect("runs");
    (
        out.status.code().unwrap_or(-1),
        String::from_utf8(out.stdout).expect("UTF-8"),
        String::from_utf8(out.stderr).expect("UTF-8"),
    )
}

#[test]
fn check_names_file_row_and_column_and_its_status_tells_of_unusable_rows() {
    let good = format!("{HEADER}a-1,Abel Thwaite,,,2 Fossgate,York,1868,187X,from memory,\n");
    let dir = folder(good.as_bytes());
    assert_eq!(ran(dorso(dir.path()).arg("check")).0, 0);

    let bad = format!("{good}a-2,Binns,,,3 Fossgate,York,1868,1875?-,s,\n");
    std::fs::write(dir.path().join("gazetteer/framers.csv"), bad).expect("file");
    std::fs::write(dir.path().join("gazetteer/empty.csv"), b"").expect("file");
    let (code, out, err) = ran(dorso(dir.path()).arg("check"));
    assert_eq!((code, err.as_str()), (1, ""));
    insta::assert_snapshot!(out, @r#"
    gazetteer
      empty: 0 rows
      framers: 2 rows, 1 used
    not usable: empty.csv: the file is empty; write a header and rows into it, or remove it.
    not usable: framers.csv, row 3, column "to": "1875?-" is not an EDTF year (character 7: a month of two digits is missing at the end), so this row is not used; write 1875, 1875~, 187X, or leave it empty.
    2 not usable, 0 doubtful
    "#);

    let (code, out, _) = ran(dorso(dir.path()).args(["check", "--json"]));
    assert_eq!(code, 1);
    let json: serde_json::Value = serde_json::from_str(&out).expect("one JSON document");
    assert_eq!(json["unusable"], 2);
    assert_eq!(json["faults"][1]["row"], 3);
    assert_eq!(json["faults"][1]["column"], "to");
    assert_eq!(json["lists"][1]["dialect"]["encoding"], "UTF-8");
}

#[test]
fn lists_are_found_by_argument_then_variable_then_working_folder_then_program() {
    let dir = folder(HEADER.as_bytes());
    let first_line = |c: &mut Command| {
        let (code, out, err) = ran(c);
        assert_eq!(code, 0, "{err}");
        out.lines().next().unwrap_or_default().to_string()
    };
    assert_eq!(first_line(dorso(dir.path()).arg("check")), "gazetteer");
    let other = tempfile::tempdir().expect("folder");
    assert_eq!(
        first_line(dorso(other.path()).arg("check")),
        "the starter lists in the program"
    );
    let path = dir.path().join("gazetteer");
    let named = path.display().to_string();
    assert_eq!(
        first_line(
            dorso(other.path())
                .env("DORSO_GAZETTEER", &path)
                .arg("check")
        ),
        named
    );
    assert_eq!(
        first_line(
            dorso(dir.path())
                .env("DORSO_GAZETTEER", "nowhere")
                .arg("check")
                .arg(&path)
        ),
        named
    );
    let (code, out, err) = ran(dorso(other.path()).args(["check", "nowhere"]));
    assert_eq!((code, out.as_str()), (1, ""));
    assert_eq!(
        err,
        "dorso: nowhere: there is no such folder; name the folder that holds your lists.\n"
    );
}

#[test]
fn add_writes_in_the_files_own_form_and_changes_no_other_byte() {
    // Semicolons, Windows-1252, CRLF, columns of the user's own, no line end at the end.
    let old = b"Town;NAME;Entry;From;To;Address;Source;Shelf\r\n# caf\xE9 labels below\r\nYork;Caf\xE9 Frames;c-1;1868;187X;2 Fossgate;s;4";
    let dir = folder(old);
    let (code, out, err) = ran(dorso(dir.path()).args([
        "add",
        "--list",
        "framers",
        "--name",
        "Ebor; Müller & Co",
        "--address",
        "3 Fossgate",
        "--town",
        "York",
        "--from",
        "1871",
        "--source",
        "from memory",
    ]));
    assert_eq!((code, err.as_str()), (0, ""));
    assert_eq!(out, "gazetteer/framers.csv, row 4: ebor-muller-york-1\n");
    let new = std::fs::read(dir.path().join("gazetteer/framers.csv")).expect("file");
    assert!(new.starts_with(old));
    assert_eq!(
        &new[old.len()..],
        b"\r\nYork;\"Ebor; M\xFCller & Co\";ebor-muller-york-1;1871;;3 Fossgate;from memory;\r\n"
    );
    let left: Vec<_> = std::fs::read_dir(dir.path().join("gazetteer"))
        .expect("folder")
        .collect();
    assert_eq!(
        left.len(),
        2,
        "beside the list lies the version before alone"
    );
    let before = std::fs::read(dir.path().join("gazetteer/.framers.csv.before"));
    assert_eq!(before.expect("file"), old);

    // The same again is refused, and so is a letter that the encoding lacks; nothing changes.
    let again = [
        "add",
        "--list",
        "framers",
        "--name",
        "Ebor; Muller and Co.",
        "--address",
        "3, Fossgate",
        "--town",
        "York",
        "--from",
        "1873",
        "--source",
        "s",
    ];
    let (code, out, err) = ran(dorso(dir.path()).args(again));
    assert_eq!((code, out.as_str()), (1, ""));
    assert_eq!(
        err,
        "dorso: gazetteer/framers.csv, row 4: \"Ebor; Müller & Co\" is on the list already, at the same \
         address in the same years (key \"ebor-muller-york-1\"); change that row in your spreadsheet, or \
         give other years, another address or another --key.\n"
    );
    let (code, _, err) =
        ran(dorso(dir.path()).args(["add", "--list", "framers", "--name", "Őry", "--source", "s"]));
    assert_eq!(code, 1);
    assert!(err.contains("has no \"Ő\"; save it as UTF-8"), "{err}");
    let (code, _, err) = ran(dorso(dir.path()).args([
        "add", "--list", "framers", "--name", "A", "--note", "n", "--source", "s",
    ]));
    assert_eq!(code, 1);
    assert!(err.contains("the list has no column \"note\""), "{err}");
    assert_eq!(
        std::fs::read(dir.path().join("gazetteer/framers.csv")).expect("file"),
        new
    );
}

#[test]
fn add_asks_for_a_source_a_year_and_a_list_that_is_there() {
    let dir = folder(HEADER.as_bytes());
    let base = ["add", "--list", "framers", "--name", "Binns"];
    assert_eq!(ran(dorso(dir.path()).args(base)).0, 2);
    let (code, _, err) = ran(dorso(dir.path())
        .args(base)
        .args(["--source", "s", "--from", "sometime"]));
    assert_eq!(code, 2);
    assert_eq!(
        err,
        "dorso: --from sometime: this is not understood as a year; write it as 1868, c. 1868, 1868-75, \
         1870s or before 1880.\n"
    );
    let (code, _, err) =
        ran(dorso(dir.path()).args(["add", "--list", "framer", "--name", "B", "--source", "s"]));
    assert_eq!(code, 2);
    assert_eq!(
        err,
        "dorso: --list framer: gazetteer has no such list (it has framers); mend the name, or give \
         --new-list to start it.\n"
    );
    for bad in ["../out", ".hidden", "a/b", ""] {
        let args = [
            "add",
            "--list",
            bad,
            "--new-list",
            "--name",
            "B",
            "--source",
            "s",
        ];
        assert_eq!(ran(dorso(dir.path()).args(args)).0, 2, "{bad}");
    }
    let args = [
        "add",
        "--list",
        "gilders",
        "--new-list",
        "--name",
        "B",
        "--source",
        "s",
    ];
    assert_eq!(ran(dorso(dir.path()).args(args)).0, 0);
    let made = std::fs::read_to_string(dir.path().join("gazetteer/gilders.csv")).expect("file");
    assert_eq!(made, format!("{HEADER}b-1,B,,,,,,,s,\n"));
    let other = tempfile::tempdir().expect("folder");
    let (code, _, err) = ran(dorso(other.path()).args(base).args(["--source", "s"]));
    assert_eq!(code, 1);
    assert!(err.contains("run `dorso gazetteer start`"), "{err}");
}

#[test]
fn add_never_puts_a_row_into_a_quotation_mark_that_is_left_open() {
    let old = format!("{HEADER}a-1,\"Abel Thwaite,,,2 Fossgate,York,,,s,\n");
    let dir = folder(old.as_bytes());
    let (code, _, err) =
        ran(dorso(dir.path()).args(["add", "--list", "framers", "--name", "B", "--source", "s"]));
    assert_eq!(code, 1);
    assert!(
        err.contains("the quotation mark on row 2 is never closed"),
        "{err}"
    );
    assert_eq!(
        std::fs::read_to_string(dir.path().join("gazetteer/framers.csv")).expect("file"),
        old
    );
}

#[cfg(unix)]
#[test]
fn a_list_that_is_a_link_stays_one_and_keeps_its_permissions() {
    use std::os::unix::fs::PermissionsExt;
    let dir = folder(b"");
    let real = dir.path().join("kept.csv");
    std::fs::write(&real, HEADER).expect("file");
    std::fs::set_permissions(&real, std::fs::Permissions::from_mode(0o640)).expect("mode");
    let link = dir.path().join("gazetteer/framers.csv");
    std::fs::remove_file(&link).expect("file");
    std::os::unix::fs::symlink(&real, &link).expect("link");
    let args = ["add", "--list", "framers", "--name", "B", "--source", "s"];
    assert_eq!(ran(dorso(dir.path()).args(args)).0, 0);
    assert!(std::fs::symlink_metadata(&link).expect("link").is_symlink());
    let mode = std::fs::metadata(&real).expect("file").permissions().mode();
    assert_eq!(mode & 0o777, 0o640);
    assert!(
        std::fs::read_to_string(&real)
            .expect("file")
            .ends_with("b-1,B,,,,,,,s,\n")
    );
}

const SPREADSHEET: &str = "Shelf;Firm;No;Street;City;Dates;Remarks\n\
    4;Wm Tarrant & Son;14;Castle Gate;Kendal;c. 1868-75;good label\n\
    5;Tarrant Bros;3;Highgate;Kendal;1901-05;\n\
    6;;3;Highgate;Kendal;1901-05;\n\
    7;Odd Frames;5;Highgate;Kendal;soon;\n\
    8;Plain Frames;6;Highgate;Kendal;1870s;=cmd()\n";

#[test]
fn import_prints_where_each_column_goes_and_every_date_that_it_rewrites() {
    let dir = folder(HEADER.as_bytes());
    std::fs::write(dir.path().join("shop.csv"), SPREADSHEET).expect("file");
    let import = [
        "import",
        "shop.csv",
        "--list",
        "framers",
        "--source",
        "shop book",
    ];
    let (code, out, err) = ran(dorso(dir.path()).args(import).arg("--dry-run"));
    assert_eq!(code, 1);
    assert!(out.contains("3 rows would be taken"), "{out}");
    let list = dir.path().join("gazetteer/framers.csv");
    assert_eq!(std::fs::read_to_string(&list).expect("file"), HEADER);

    let (code, out, err2) = ran(dorso(dir.path()).args(import));
    assert_eq!(code, 1);
    assert_eq!(err, err2);
    insta::assert_snapshot!(format!("{out}---\n{err}---\n{}", std::fs::read_to_string(&list).expect("file")), @r#"
    columns:
      "Shelf" -> note
      "Firm" -> name (guessed from the heading)
      "No" -> address (guessed from the heading)
      "Street" -> address (guessed from the heading)
      "City" -> town (guessed from the heading)
      "Dates" -> years (guessed from the heading)
      "Remarks" -> note (guessed from the heading)
    dates:
      row 2: "c. 1868-75" -> 1868~ to 1875~
      row 3: "1901-05" -> 1901 to 1905
      row 6: "1870s" -> 187X to 187X
    3 rows taken into gazetteer/framers.csv, from row 2 on; 0 there already, 2 not usable
    ---
    dorso: shop.csv, row 4, column "name": the name is empty, so this row is not taken; write the name, or remove the row.
    dorso: shop.csv, row 5, column "years": "soon" is no span of years, so this row is not taken; write it as 1868/1875, or with 187X or 1868~ for one of the years.
    dorso: shop.csv, row 6, column "note": a spreadsheet may take "=cmd(); Shelf: 8" for a formula; put a word or a blank before the sign if a spreadsheet will open the list.
    ---
    entry,name,variants,trade,address,town,from,to,source,note
    wm-tarrant-son-kendal-1,Wm Tarrant & Son,,,14 Castle Gate,Kendal,1868~,1875~,shop book,good label; Shelf: 4
    tarrant-bros-kendal-1,Tarrant Bros,,,3 Highgate,Kendal,1901,1905,shop book,Shelf: 5
    plain-frames-kendal-1,Plain Frames,,,6 Highgate,Kendal,187X,187X,shop book,=cmd(); Shelf: 8
    "#);

    // Again: nothing new, nothing doubled.
    let before = std::fs::read(&list).expect("file");
    let (_, out, _) = ran(dorso(dir.path()).args(import));
    assert!(
        out.contains("no row taken into gazetteer/framers.csv; 3 there already"),
        "{out}"
    );
    assert_eq!(std::fs::read(&list).expect("file"), before);
}

#[test]
fn import_takes_the_persons_own_choice_and_keeps_columns_in_a_new_list() {
    let dir = folder(HEADER.as_bytes());
    std::fs::write(
        dir.path().join("shop.csv"),
        "A,B,Shelf\n2 Fossgate,Binns,7\n",
    )
    .expect("file");
    let (code, _, err) =
        ran(dorso(dir.path()).args(["import", "shop.csv", "--list", "gilders", "--new-list"]));
    assert_eq!(code, 1);
    assert_eq!(
        err,
        "dorso: shop.csv: none of the headings \"A\", \"B\", \"Shelf\" is known to hold the name; say which \
         one does, as in --columns \"Heading=name\".\n"
    );
    let (code, out, err) = ran(dorso(dir.path()).args([
        "import",
        "shop.csv",
        "--list",
        "gilders",
        "--new-list",
        "--columns",
        "b=name,A=address",
        "--json",
    ]));
    assert_eq!((code, err.as_str()), (0, ""));
    let json: serde_json::Value = serde_json::from_str(&out).expect("one JSON document");
    assert_eq!(json["columns"][2]["why"], "kept");
    assert_eq!(json["taken"], 1);
    assert_eq!(
        std::fs::read_to_string(dir.path().join("gazetteer/gilders.csv")).expect("file"),
        "entry,name,variants,trade,address,town,from,to,source,note,Shelf\n\
         binns-1,Binns,,,2 Fossgate,,,,imported from shop.csv,,7\n"
    );
    for (columns, what) in [
        (
            "B:name",
            "a heading and a column with = between them was expected",
        ),
        ("C=name", "there is no heading \"C\""),
        ("B=firm", "a list has no column \"firm\""),
    ] {
        let (_, _, err) = ran(dorso(dir.path()).args([
            "import",
            "shop.csv",
            "--list",
            "framers",
            "--columns",
            columns,
        ]));
        assert!(err.contains(what), "{err}");
    }
}

#[test]
fn start_writes_lists_that_check_finds_nothing_wrong_with_and_never_overwrites() {
    let dir = tempfile::tempdir().expect("folder");
    assert_eq!(ran(dorso(dir.path()).arg("start")).0, 0);
    let (code, out, _) = ran(dorso(dir.path()).arg("check"));
    assert_eq!(code, 0);
    // Of 12,788 artists of two museums some may be one person
    let doubtful = out.lines().filter(|l| l.starts_with("doubtful")).count();
    assert!(out.contains("\n0 not usable") && doubtful <= 12, "{out}");
    let mine = dir.path().join("gazetteer/framers.csv");
    std::fs::write(&mine, HEADER).expect("file");
    let (code, _, err) = ran(dorso(dir.path()).arg("start"));
    assert_eq!(code, 1);
    assert!(
        err.contains("there is a list of that name already"),
        "{err}"
    );
    assert_eq!(std::fs::read_to_string(&mine).expect("file"), HEADER);
}

/// A list long enough to be kept, with a row that can't be used, in a folder of its own.
fn long_list(rows: usize) -> (tempfile::TempDir, std::path::PathBuf) {
    let dir = tempfile::tempdir().expect("a folder");
    let file = dir.path().join("framers.csv");
    let mut text =
        String::from("entry,name,variants,trade,address,town,from,to,source,note,seen\n");
    text += "faulty,,,,,,,,,,\n";
    for i in 0..rows {
        let (name, street) = (i * 7 % 977, i * 31 % 389);
        text += &format!(
            "firm-{i},Thomas Har{name}row & Son,Harrow {name}|T. Harrow{name},carver and gilder,\
             \"{}, Castle{street} Street\",Kendal,18{:02},19{:02},invented,,no. {i}\n",
            i % 90,
            i % 90,
            i % 40
        );
    }
    std::fs::write(&file, text).expect("written");
    (dir, file)
}

#[test]
fn a_long_list_is_the_same_whether_it_was_read_or_kept_and_a_change_is_seen() {
    let (dir, file) = long_list(3_000);
    let keep = tempfile::tempdir().expect("a folder");
    let place = Place::Folder(dir.path().to_path_buf());
    let (plain, faults) = place.load().expect("read");
    let text = "THOMAS HAR14ROW & SON / CARVERS & GILDERS / 14 CASTLE62 STREET / KENDAL 1857";
    let lines = from_typed(text).expect("typed");
    let start = || {
        let (lists, found, told) = place.load_kept(keep.path()).expect("loaded");
        let (index, unkept) = Index::kept(lists, keep.path());
        (found, (told, unkept), index)
    };
    let expected = Index::new(plain.clone());
    for _ in 0..2 {
        let (found, told, index) = start();
        assert_eq!((told.0.len(), told.1.len()), (0, 0));
        assert_eq!(found, faults);
        assert!(index.gazetteer.entries().eq(plain.entries()));
        assert_eq!(index.weigh(&lines, None), expected.weigh(&lines, None));
        let stated = expected.statements(&lines, None);
        assert_eq!(index.statements(&lines, None), stated);
    }
    assert_eq!(std::fs::read_dir(keep.path()).expect("kept").count(), 3);
    let text = std::fs::read_to_string(&file).expect("there");
    std::fs::write(&file, text.replace("Kendal", "Hexley")).expect("changed");
    let (.., index) = start();
    assert!(index.gazetteer.entries().all(|e| e.town == "Hexley"));
    // What is damaged is told, and made anew.
    for kept in std::fs::read_dir(keep.path()).expect("kept").flatten() {
        let bytes = std::fs::read(kept.path()).expect("there");
        std::fs::write(kept.path(), &bytes[..bytes.len() - 7]).expect("cut");
    }
    let (_, told, index) = start();
    assert_eq!((told.0.len(), told.1.len()), (1, 2));
    assert!(told.0[0].to_string().contains("made anew"), "{}", told.0[0]);
    assert!(index.gazetteer.entries().all(|e| e.town == "Hexley"));
}

#[test]
fn rows_added_by_many_at_once_all_stand_there_each_with_a_key_of_its_own() {
    let dir = folder(HEADER.as_bytes());
    let add = |n: usize| {
        let name = format!("--name=Firm {}", n % 3);
        let address = format!("--address={n} Fossgate");
        let mut c = dorso(dir.path());
        c.args(["add", "--list=framers", "--source=invented", "--json"]);
        ran(c.args([name, address]))
    };
    let said: Vec<(i32, String, String)> = std::thread::scope(|s| {
        let all: Vec<_> = (0..24).map(|n| s.spawn(move || add(n))).collect();
        let done = all.into_iter().map(|t| t.join().expect("a thread"));
        done.collect()
    });
    assert!(said.iter().all(|s| s.0 == 0), "{said:?}");
    let place = Place::Folder(dir.path().join("gazetteer"));
    let (lists, faults) = place.load().expect("lists");
    assert!(faults.is_empty(), "{faults:?}");
    let keys: std::collections::BTreeSet<&str> =
        lists.entries().map(|e| e.entry.as_str()).collect();
    assert_eq!((lists.len(), keys.len()), (24, 24));
}

#[test]
fn an_entry_is_found_as_typed_as_heard_and_as_damaged() {
    let rows = "a-1,Abel Thwaite,A. Thwaite,carver and gilder,2 Fossgate,York,1868,187X,from memory,\n\
        b-1,Binns & Fawley,,colourman,3 High Row,Leeds,1850,1861,invented,\n";
    let dir = folder(format!("{HEADER}{rows}").as_bytes());
    let find = |text: &str| {
        let mut c = dorso(dir.path());
        c.args(["find", "--json", "--store", "none.sqlite", text]);
        let (code, out, err) = ran(&mut c);
        assert_eq!((code, err.as_str()), (0, ""), "{text}");
        let json: serde_json::Value = serde_json::from_str(&out).expect("one JSON document");
        json["entries"].as_array().expect("entries").clone()
    };
    for text in [
        "Abel Thwaite",
        "Abel Twayte",
        "Ab[..] Thwai[..]",
        "thwaite fossgate",
    ] {
        let found = find(text);
        assert_eq!(found[0]["entry"], "a-1", "{text}: {found:?}");
    }
    assert!(find("Abel Thwaite")[0]["probability"].as_f64() > Some(0.9));
    // Words that stand somewhere in it, of which nobody could say that it is meant
    assert_eq!(find("fawl")[0]["entry"], "b-1");
    assert_eq!(find("Quillingham").len(), 0);
    // Looking makes no store
    assert!(!dir.path().join("none.sqlite").exists());
    let (_, told, _) = ran(dorso(dir.path()).args(["find", "Abel Thwaite"]));
    assert!(told.contains("a-1 in framers; from memory"), "{told}");
}

#[test]
fn persons_are_named_by_habits_of_their_own_and_firms_without_premises_are_not() {
    let dir = tempfile::tempdir().expect("folder");
    let rows = |all: &str| format!("{HEADER}{all}");
    let firms =
        rows("v,Vesper Gallery,,dealer,,,,,invented,\nh,Thomas Harrowby & Son,,,,,,,invented,\n");
    let artists = rows(
        "w,Amos Bert Wintle,,painter,,,,,invented,\nq,Clara Quillingham,,painter,,,,,invented,\n",
    );
    std::fs::write(dir.path().join("dealers.csv"), firms).expect("file");
    std::fs::write(dir.path().join("painters.csv"), artists).expect("file");
    let place = Place::Folder(dir.path().to_path_buf());
    let index = Index::new(place.load().expect("lists").0);
    let best = |text: &str, list: &str| -> f64 {
        let rivals = index.weigh(&from_typed(text).expect("text"), Some(list));
        let first = rivals.first().and_then(|r| r.proposals.first());
        first.map_or(0.0, |p| p.probability)
    };
    for text in [
        "A. B. Wintle",
        "A. Wintle",
        "Amos Wintle",
        "Wintle",
        "Quillingham",
    ] {
        assert!(
            best(text, "painters") > 0.5,
            "{text}: {}",
            best(text, "painters")
        );
    }
    // Another's initial before the surname is another person
    assert!(best("J. Wintle", "painters") < best("A. Wintle", "painters"));
    for text in ["Gallery", "The Mill & Son", "Son"] {
        assert!(
            best(text, "dealers") < 0.1,
            "{text}: {}",
            best(text, "dealers")
        );
    }
}
