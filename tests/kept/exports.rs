//! Exports held against schemas and readers that were not written here; see
//! `tests/reference/schemas/README.md` for where each comes from.

use crate::shown::{bare, hostile, stores};
use crate::support::MONDAY;
use assert_cmd::Command;
use dorso::dating::clues::Clues;
use dorso::decisions::{SqliteStore, Store};
use dorso::evidence::{gather, solve};
use dorso::exports::{Archive, Export, File, Part, Subject, all};
use dorso::note::{Kept, Language};
use serde_json::Value;
use std::path::{Path, PathBuf};

const NOW: &str = "2024-05-08T12:00:00+01:00";

fn schemas() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/schemas")
}

/// All exports of the first picture of a store.
fn exported(s: &SqliteStore) -> Vec<(&'static str, File)> {
    exported_as(s, &[])
}

/// Exports of these forms; none named: all.
fn exported_as(s: &SqliteStore, forms: &[&str]) -> Vec<(&'static str, File)> {
    let picture = s.pictures().unwrap().remove(0);
    let marks = s.marks(Some(picture.id)).unwrap();
    let journal = s.journal().unwrap();
    let seen = s.observations(Some(picture.id)).unwrap();
    let clues = Clues::built_in().unwrap();
    let kept = Kept {
        picture: &picture,
        marks: &marks,
        journal: &journal,
        observations: &seen,
        language: Language::British,
    };
    let note = kept.write(&clues, NOW).unwrap();
    let gathered = gather(&marks, &seen, &clues).unwrap();
    let solved = solve(&gathered.back);
    let subject = Subject {
        picture: &picture,
        marks: &marks,
        journal: &journal,
        note: &note,
        back: &gathered.back,
        solved: &solved,
        base: "https://example.org/pictures/",
    };
    let mut out = Vec::new();
    for e in all() {
        let e: &dyn Export = e;
        if !forms.is_empty() && !forms.contains(&e.name()) {
            continue;
        }
        out.extend(
            e.files(&subject)
                .unwrap()
                .into_iter()
                .map(|f| (e.name(), f)),
        );
    }
    out
}

/// Runs a validator from Debian on all files at once; it names those that fail.
fn outside(tool: &str, arguments: &[&str], files: &[PathBuf]) {
    let done = std::process::Command::new(tool)
        .args(arguments)
        .args(files)
        .env("XML_CATALOG_FILES", schemas().join("catalog.xml"))
        .output()
        .unwrap_or_else(|e| panic!("{tool} can't be run ({e}); run make setup"));
    let told = String::from_utf8_lossy(&done.stderr);
    let tail: String = told
        .lines()
        .filter(|l| !l.ends_with("validates"))
        .take(12)
        .collect::<Vec<_>>()
        .join("\n");
    assert!(done.status.success(), "{tool}: {tail}");
}

/// What every store exports in the forms that schemas are for, made once.
fn everything() -> &'static [(String, Vec<File>)] {
    static ALL: std::sync::LazyLock<Vec<(String, Vec<File>)>> = std::sync::LazyLock::new(|| {
        let dir = tempfile::tempdir().unwrap();
        let forms = ["tei", "alto", "iiif", "annotations", "linked-art"];
        stores(dir.path())
            .iter()
            .map(|(name, s)| {
                let files = exported_as(s, &forms);
                (name.clone(), files.into_iter().map(|f| f.1).collect())
            })
            .collect()
    });
    &ALL
}

fn written(dir: &Path, ending: &str) -> Vec<PathBuf> {
    let mut out = Vec::new();
    for (i, (_, files)) in everything().iter().enumerate() {
        for f in files.iter().filter(|f| f.ending.ends_with(ending)) {
            let file = dir.join(format!("{i}.{}", f.ending));
            std::fs::write(&file, &f.bytes).unwrap();
            out.push(file);
        }
    }
    out
}

#[test]
fn tei_of_all_samples_is_valid_by_the_tei_schema() {
    let dir = tempfile::tempdir().unwrap();
    let files = written(dir.path(), "tei.xml");
    assert!(files.len() >= 28);
    // The schema can fail: a wrong element is found. One run for all: the schema is slow to load
    let wrong = dir.path().join("wrong.xml");
    let text = std::fs::read_to_string(&files[0]).unwrap();
    std::fs::write(
        &wrong,
        text.replace("<ab>", "<abc>").replace("</ab>", "</abc>"),
    )
    .unwrap();
    let done = std::process::Command::new("xmllint")
        .args(["--nonet", "--noout", "--relaxng"])
        .arg(schemas().join("tei_all.rng"))
        .args(&files)
        .arg(&wrong)
        .output()
        .unwrap_or_else(|e| panic!("xmllint can't be run ({e}); run make setup"));
    let told = String::from_utf8_lossy(&done.stderr);
    for f in &files {
        let good = format!("{} validates", f.display());
        let of = |l: &&str| l.contains(&*f.to_string_lossy());
        let faults: Vec<&str> = told.lines().filter(of).take(3).collect();
        assert!(told.lines().any(|l| l == good), "{faults:#?}");
    }
    assert!(
        told.contains(&format!("{} fails to validate", wrong.display())),
        "{told}"
    );
}

#[test]
fn alto_of_all_samples_is_valid_by_the_alto_schema() {
    let dir = tempfile::tempdir().unwrap();
    let schema = schemas().join("alto-4-2.xsd");
    let files = written(dir.path(), "alto.xml");
    assert!(files.len() >= 26);
    outside(
        "xmllint",
        &["--nonet", "--noout", "--schema", schema.to_str().unwrap()],
        &files,
    );
}

#[test]
fn iiif_annotations_and_linked_art_of_all_samples_are_valid_by_schemas_from_outside() {
    let load = |name: &str| -> jsonschema::Validator {
        let text = std::fs::read_to_string(schemas().join(name)).unwrap();
        jsonschema::validator_for(&serde_json::from_str(&text).unwrap()).unwrap()
    };
    let pairs = [
        ("manifest.json", load("iiif-manifest.json")),
        ("annotations.json", load("iiif-annotation-page.json")),
        ("object.json", load("linked-art.json")),
        ("provenance.json", load("linked-art.json")),
    ];
    for (name, files) in everything() {
        for f in files {
            let Some((_, schema)) = pairs.iter().find(|p| f.ending == p.0) else {
                continue;
            };
            let value: Value = serde_json::from_slice(&f.bytes).unwrap();
            let faults: Vec<String> = schema
                .iter_errors(&value)
                .take(3)
                .map(|e| format!("{e} at {}", e.instance_path()))
                .collect();
            assert!(faults.is_empty(), "{name}, {}: {faults:#?}", f.ending);
            // The schema can fail
            let mut wrong = value.clone();
            wrong["type"] = Value::from("Canvasses");
            assert!(!schema.is_valid(&wrong), "{}", f.ending);
        }
    }
}

#[test]
fn what_a_person_named_is_told_with_its_address_elsewhere() {
    let all = |ending: &str| -> String {
        let files = everything().iter().flat_map(|(_, files)| files);
        let own = files.filter(|f| f.ending.ends_with(ending));
        own.map(|f| String::from_utf8(f.bytes.clone()).unwrap())
            .collect()
    };
    let name = "<name ref=\"http://lists.example/firm?a=1&amp;b=2\">Thackwray &amp; Son</name>";
    assert!(all("tei.xml").contains(name));
    assert!(all("object.json").contains("\"id\": \"http://lists.example/firm?a=1&b=2\""));
}

#[test]
fn ids_in_a_manifest_and_in_annotations_stand_once() {
    let dir = tempfile::tempdir().unwrap();
    fn ids(v: &Value, out: &mut Vec<String>) {
        match v {
            Value::Object(o) => {
                let kind = o.get("type").and_then(Value::as_str).unwrap_or("");
                if let (Some(Value::String(id)), true) = (
                    o.get("id"),
                    matches!(kind, "Annotation" | "AnnotationPage" | "Manifest"),
                ) {
                    out.push(id.clone());
                }
                o.values().for_each(|v| ids(v, out));
            }
            Value::Array(a) => a.iter().for_each(|v| ids(v, out)),
            _ => {}
        }
    }
    for (_, f) in exported(&hostile(dir.path())) {
        if matches!(f.ending.as_str(), "manifest.json" | "annotations.json") {
            let mut all = Vec::new();
            ids(&serde_json::from_slice(&f.bytes).unwrap(), &mut all);
            let count = all.len();
            assert!(count > 3);
            all.sort();
            all.dedup();
            assert_eq!(all.len(), count);
            assert!(
                all.iter()
                    .all(|i| i.starts_with("https://example.org/pictures/")
                        && !i.contains(' ')
                        && !i.contains('<'))
            );
        }
    }
}

#[test]
fn the_pdf_is_sound_its_fonts_are_embedded_and_every_word_can_be_found() {
    let dir = tempfile::tempdir().unwrap();
    let s = hostile(dir.path());
    let pdf = exported(&s)
        .into_iter()
        .find(|(n, _)| *n == "pdf")
        .unwrap()
        .1;
    let file = dir.path().join("note.pdf");
    std::fs::write(&file, &pdf.bytes).unwrap();
    outside("qpdf", &["--check"], std::slice::from_ref(&file));
    let run = |tool: &str, a: &[&str]| -> String {
        let done = std::process::Command::new(tool)
            .args(a)
            .output()
            .unwrap_or_else(|e| panic!("{tool} can't be run ({e}); run make setup"));
        assert!(
            done.status.success(),
            "{tool}: {}",
            String::from_utf8_lossy(&done.stderr)
        );
        String::from_utf8_lossy(&done.stdout).into_owned()
    };
    let text = run("pdftotext", &["-layout", file.to_str().unwrap(), "-"]);
    // A sentence may run over lines
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for word in [
        "THACKWRAY & SON",
        "nothing, values nothing and clears no title",
        "millboard",
        "Whereabouts 1933",
        "Ḷ",
    ] {
        assert!(text.contains(word), "{word}: {text}");
    }
    let fonts = run("pdffonts", &[file.to_str().unwrap()]);
    let rows: Vec<&str> = fonts.lines().skip(2).collect();
    assert!(
        rows.len() == 2 && rows.iter().all(|r| r.contains("yes yes yes")),
        "{fonts}"
    );
}

#[test]
fn csv_keeps_every_sign_for_spreadsheets_and_starts_no_formula() {
    let dir = tempfile::tempdir().unwrap();
    let s = hostile(dir.path());
    let mut seen = 0;
    for (_, f) in exported(&s).into_iter().filter(|(n, _)| *n == "csv") {
        let text = String::from_utf8(f.bytes).unwrap();
        let body = text.strip_prefix('\u{feff}').expect("byte order mark");
        let mut reader = csv::Reader::from_reader(body.as_bytes());
        let width = reader.headers().unwrap().len();
        for row in reader.records() {
            let row = row.unwrap();
            assert_eq!(row.len(), width, "{}", f.ending);
            for cell in &row {
                let first = cell.trim_start().chars().next();
                assert!(!matches!(first, Some('=' | '+' | '-' | '@')), "{cell}");
            }
            seen += 1;
        }
        if f.ending == "marks.csv" {
            assert!(body.contains("Ḷ") && body.contains("⟦old⟧") && body.contains("中"));
            assert!(body.contains("'=HYPERLINK"));
            assert!(body.starts_with("Object name,Inscription number,Inscription content"));
        }
    }
    assert!(seen > 8);
}

/// Has LibreOffice take in CSV files as its dialogue offers by default (commas, UTF-8) and write them
/// out as shown, under their own names in `out`.
fn shown_by_libreoffice(files: &[PathBuf], out: &Path) {
    let profile = format!(
        "-env:UserInstallation=file://{}",
        out.join("profile").display()
    );
    let done = Command::new("soffice")
        .args([profile.as_str(), "--headless", "--infilter=CSV:44,34,76"])
        .args([
            "--convert-to",
            "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false",
        ])
        .arg("--outdir")
        .arg(out)
        .args(files)
        .output()
        .expect("soffice");
    assert!(done.status.success(), "{done:?}");
}

fn rows_of(text: &[u8]) -> Vec<Vec<String>> {
    let text = text.strip_prefix("\u{feff}".as_bytes()).unwrap_or(text);
    csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text)
        .records()
        .map(|r| r.unwrap().iter().map(str::to_owned).collect())
        .collect()
}

#[test]
fn libreoffice_shows_every_sign_of_every_cell() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("shown");
    std::fs::create_dir(&out).unwrap();
    let s = hostile(dir.path());
    let mut texts = Vec::new();
    for (_, f) in exported(&s).into_iter().filter(|(n, _)| *n == "csv") {
        texts.push((f.ending, f.bytes));
    }
    // lettering as it stands on backs, in one more file
    let cells = [
        "0417",
        "18.50",
        "1,234",
        "1e5",
        "12/3/1884",
        "1884-03-12",
        "3-4",
        "007",
        "£4 4s",
        "5%",
        "=1+1",
        "TRUE",
        "N\u{1d52} 7",
        "⟦old⟧ [...] ạḅ",
        "“Orme”",
        "a\nb",
        "1/2",
        "½",
        "' 7",
    ];
    let mut own = csv::Writer::from_writer("\u{feff}".as_bytes().to_vec());
    for c in cells {
        own.write_record([dorso::exports::guarded(c), "x".into()])
            .unwrap();
    }
    texts.push(("lettering.csv".into(), own.into_inner().unwrap()));
    let files: Vec<PathBuf> = texts.iter().map(|(n, _)| dir.path().join(n)).collect();
    for (file, (_, bytes)) in files.iter().zip(&texts) {
        std::fs::write(file, bytes).unwrap();
    }
    shown_by_libreoffice(&files, &out);
    let mut compared = 0;
    for (name, bytes) in texts {
        let (kept, shown) = (
            rows_of(&bytes),
            rows_of(&std::fs::read(out.join(&name)).unwrap()),
        );
        assert_eq!(kept.len(), shown.len(), "{name}");
        for (k, s) in kept.iter().zip(&shown) {
            for (i, cell) in k.iter().enumerate() {
                let seen = s.get(i).map_or("", String::as_str);
                // a chance is a number, whose last noughts a spreadsheet leaves out
                match (cell.parse::<f64>(), seen.parse::<f64>()) {
                    (Ok(a), Ok(b)) if cell.contains('.') => assert_eq!(a, b, "{name}"),
                    _ => assert_eq!(
                        seen.replace("\r\n", "\n"),
                        cell.replace("\r\n", "\n"),
                        "{name}"
                    ),
                }
                compared += 1;
            }
        }
    }
    assert!(compared > 60, "{compared}");
}

/// Every row of every table, in order.
fn dump(file: &Path) -> Vec<String> {
    let c = rusqlite::Connection::open(file).unwrap();
    let names: Vec<String> = c
        .prepare("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
        .unwrap()
        .query_map([], |r| r.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let mut out = Vec::new();
    for n in names {
        let mut q = c
            .prepare(&format!("SELECT * FROM \"{n}\" ORDER BY 1"))
            .unwrap();
        let columns = q.column_count();
        let mut rows = q.query([]).unwrap();
        while let Some(r) = rows.next().unwrap() {
            let cells: Vec<rusqlite::types::Value> =
                (0..columns).map(|i| r.get(i).unwrap()).collect();
            out.push(format!("{n}: {cells:?}"));
        }
    }
    // Rows alike in their first column have no order of their own
    out.sort();
    out
}

#[test]
fn the_whole_store_goes_into_one_archive_and_comes_out_elsewhere_without_loss() {
    let dir = tempfile::tempdir().unwrap();
    drop(hostile(dir.path()));
    let store = dir.path().join("hostile.sqlite");
    let lists = dir.path().join("lists");
    std::fs::create_dir(&lists).unwrap();
    std::fs::write(
        lists.join("framers.csv"),
        "entry,name,variants,trade,address,town,from,to,source,note\na,Orme,,,,,1868,1875,x,\n",
    )
    .unwrap();
    let learnt = dorso::readings::learnt::beside(&store);
    std::fs::write(&learnt, "\n").unwrap();
    let archive = dir.path().join("all.zip");
    let dorso = |a: &[&str]| {
        let mut c = Command::cargo_bin("dorso").unwrap();
        c.current_dir(dir.path())
            .env_remove("DORSO_STORE")
            .env_remove("DORSO_GAZETTEER")
            .args(a);
        c
    };
    let (store, archive) = (store.to_str().unwrap(), archive.to_str().unwrap());
    dorso(&[
        "export",
        "--as",
        "archive",
        "--out",
        archive,
        "--store",
        store,
        "--gazetteer",
        lists.to_str().unwrap(),
    ])
    .assert()
    .success();
    let elsewhere = dir.path().join("elsewhere/new.sqlite");
    let new = elsewhere.to_str().unwrap();
    let out = dir.path().join("elsewhere/lists");
    dorso(&[
        "take-in",
        archive,
        "--store",
        new,
        "--lists",
        out.to_str().unwrap(),
    ])
    .assert()
    .success();
    assert_eq!(dump(Path::new(store)), dump(&elsewhere));
    assert_eq!(
        std::fs::read(lists.join("framers.csv")).unwrap(),
        std::fs::read(out.join("framers.csv")).unwrap()
    );
    let taken_in = dorso::readings::learnt::beside(&elsewhere);
    assert_eq!(
        std::fs::read(&learnt).unwrap(),
        std::fs::read(&taken_in).unwrap()
    );
    // What is there already is left alone
    let before = dump(&elsewhere);
    let again = dorso(&["take-in", archive, "--store", new])
        .assert()
        .failure();
    assert!(String::from_utf8_lossy(&again.get_output().stderr).contains("left as it is"));
    assert_eq!(dump(&elsewhere), before);
    // A damaged archive leaves nothing behind
    let half = dir.path().join("half.zip");
    let bytes = std::fs::read(archive).unwrap();
    std::fs::write(&half, &bytes[..bytes.len() / 2]).unwrap();
    let third = dir.path().join("third.sqlite");
    dorso(&[
        "take-in",
        half.to_str().unwrap(),
        "--store",
        third.to_str().unwrap(),
    ])
    .assert()
    .failure();
    assert!(!third.exists());
    // Nor does one with a member that is no list, or that lies where the store is to be
    let mut whole = Archive::open(std::fs::File::open(archive).unwrap()).unwrap();
    let mut kept = Vec::new();
    whole.copy("store.sqlite", &mut kept).unwrap();
    let kept = ("store.sqlite".to_owned(), Part::Bytes(kept));
    for name in ["third.sqlite", ".hidden.csv", "third.csv"] {
        let third = dir.path().join(if name == "third.csv" {
            name
        } else {
            "third.sqlite"
        });
        let more = Part::Bytes(b"entry,name\n".to_vec());
        let more = (format!("lists/{name}"), more);
        let to = std::fs::File::create(&half).unwrap();
        dorso::exports::pack(&[kept.clone(), more], MONDAY, to).unwrap();
        let (store, folder) = (third.to_str().unwrap(), dir.path().to_str().unwrap());
        let done = dorso(&[
            "take-in",
            half.to_str().unwrap(),
            "--store",
            store,
            "--lists",
            folder,
        ])
        .assert()
        .failure();
        let said = String::from_utf8_lossy(&done.get_output().stderr).into_owned();
        assert!(said.contains("nothing was written"), "{said}");
        assert!(!third.exists(), "{name}");
    }
}

#[test]
fn observations_are_kept_told_with_their_cautions_and_undone() {
    let dir = tempfile::tempdir().unwrap();
    drop(bare(dir.path()));
    let store = dir.path().join("bare.sqlite");
    let dorso = |a: &[&str]| {
        let mut c = Command::cargo_bin("dorso").unwrap();
        c.env_remove("DORSO_GAZETTEER")
            .env("DORSO_BY", "A. Carrow")
            .args(a)
            .arg("--store")
            .arg(&store);
        let out = c.assert();
        let o = out.get_output();
        (
            o.status.code(),
            String::from_utf8_lossy(&o.stdout).into_owned(),
            String::from_utf8_lossy(&o.stderr).into_owned(),
        )
    };
    let (code, out, _) = dorso(&[
        "observe",
        "bare",
        "backing=green-paper",
        "size=30x25in",
        "fixings=staples",
    ]);
    assert_eq!(code, Some(0));
    assert!(
        out.contains("arsenic")
            && out.contains("three-quarters")
            && out.contains("not before 1930~"),
        "{out}"
    );
    let (_, out, _) = dorso(&["evidence", "bare", "--json"]);
    let v: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(v["format"], "dorso.evidence/1");
    assert_eq!(
        v["marks"][0]["mark"], "o3",
        "the staples date an event: {v:#}"
    );
    assert_eq!(
        v["parts"].as_array().unwrap().len(),
        0,
        "but not the canvas"
    );
    assert!(!v["questions"].as_array().unwrap().is_empty());
    let (code, out, _) = dorso(&["observe", "bare", "--undo", "o3"]);
    assert_eq!(code, Some(0), "{out}");
    let (_, out, _) = dorso(&["observe", "bare"]);
    assert!(
        out.contains("2 observations") && !out.contains("staples:"),
        "{out}"
    );
    let (code, _, err) = dorso(&["observe", "bare", "--undo", "o3"]);
    assert_eq!(code, Some(1));
    assert!(err.contains("no observation of this number holds"), "{err}");
    let (code, _, err) = dorso(&["observe", "bare", "backing=velvet"]);
    assert_eq!(code, Some(2));
    assert!(err.contains("brown-paper"), "{err}");
    let (code, out, _) = dorso(&["note", "bare", "--length", "label"]);
    assert_eq!(code, Some(0));
    assert!(
        out.contains("nothing is said of authorship, value or title"),
        "{out}"
    );
    assert_eq!(dorso(&["note", "bare", "--length", "long"]).0, Some(2));
    assert_eq!(dorso(&["export", "bare", "--as", "docx"]).0, Some(2));
}
