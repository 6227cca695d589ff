//! What the committed samples promise to whoever measures on them.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

type Fallible = Result<(), Box<dyn std::error::Error>>;

fn photographs() -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = std::fs::read_dir("samples/photographs")
        .into_iter()
        .flatten()
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e == "jpg"))
        .collect();
    found.sort();
    found
}

fn truth(photograph: &Path) -> Result<Value, Box<dyn std::error::Error>> {
    let text = std::fs::read_to_string(photograph.with_extension("json"))?;
    Ok(serde_json::from_str(&text)?)
}

/// EXIF orientation, 1 where the file has none.
fn orientation(photograph: &Path) -> Result<u32, Box<dyn std::error::Error>> {
    let mut file = std::io::BufReader::new(std::fs::File::open(photograph)?);
    let exif = exif::Reader::new().read_from_container(&mut file)?;
    let field = exif.get_field(exif::Tag::Orientation, exif::In::PRIMARY);
    Ok(field.and_then(|f| f.value.get_uint(0)).unwrap_or(1))
}

fn rows(file: &str) -> Result<Vec<BTreeMap<String, String>>, Box<dyn std::error::Error>> {
    let mut reader = csv::Reader::from_path(file)?;
    Ok(reader.deserialize().collect::<Result<_, _>>()?)
}

#[test]
fn two_dozen_photographs_stay_under_forty_megabytes_and_are_three_to_twelve_megapixels() -> Fallible
{
    let all = photographs();
    assert_eq!(all.len(), 24);
    let mut bytes = 0;
    for p in &all {
        bytes += std::fs::metadata(p)?.len();
        let (w, h) = image::image_dimensions(p)?;
        let megapixels = f64::from(w) * f64::from(h) / 1e6;
        assert!(
            (3.0..12.3).contains(&megapixels),
            "{}: {megapixels}",
            p.display()
        );
    }
    assert!(bytes < 40_000_000, "{bytes} bytes");
    Ok(())
}

#[test]
fn every_grade_every_kind_and_every_hard_case_is_there() -> Fallible {
    let (mut grades, mut kinds, mut turns, mut pictures) = (
        BTreeSet::new(),
        BTreeSet::new(),
        BTreeSet::new(),
        BTreeSet::new(),
    );
    let (mut blank, mut bridging, mut stored_sideways) = (0, 0, 0);
    for p in photographs() {
        let t = truth(&p)?;
        grades.insert(t["grade"].as_str().unwrap_or("").to_owned());
        pictures.insert(t["picture"].as_str().unwrap_or("").to_owned());
        let marks = t["marks"].as_array().cloned().unwrap_or_default();
        blank += usize::from(marks.is_empty());
        for m in &marks {
            kinds.insert(m["kind"].as_str().unwrap_or("").to_owned());
            turns.insert(m["turn"].as_u64());
            bridging += usize::from(m["bridges"].is_string());
        }
        stored_sideways += usize::from(orientation(&p)? != 1);
    }
    assert_eq!(
        grades.iter().map(String::as_str).collect::<Vec<_>>(),
        ["easy", "hard", "medium"]
    );
    assert!((4..=7).contains(&pictures.len()));
    for kind in [
        "printed_label",
        "written_label",
        "inscription",
        "stamp",
        "stencil",
    ] {
        assert!(kinds.contains(kind), "no {kind}");
    }
    for turn in [0, 90, 180, 270] {
        assert!(turns.contains(&Some(turn)), "no mark turned by {turn}");
    }
    assert_eq!(blank, 1);
    assert!(bridging >= 2 && stored_sideways >= 2);
    Ok(())
}

#[test]
fn every_mark_lies_on_its_photograph_as_a_person_sees_it() -> Fallible {
    for p in photographs() {
        let (w, h) = image::image_dimensions(&p)?;
        let (w, h) = if orientation(&p)? >= 5 {
            (h, w)
        } else {
            (w, h)
        };
        for m in truth(&p)?["marks"].as_array().into_iter().flatten() {
            let corners: Vec<[f64; 2]> = serde_json::from_value(m["outline"].clone())?;
            assert_eq!(corners.len(), 4);
            for [x, y] in &corners {
                assert!((0.0..=f64::from(w)).contains(x) && (0.0..=f64::from(h)).contains(y));
            }
            // Corners run clockwise: top left, top right, bottom right, bottom left.
            let area: f64 = (0..4)
                .map(|i| {
                    let (a, b) = (corners[i], corners[(i + 1) % 4]);
                    a[0] * b[1] - b[0] * a[1]
                })
                .sum();
            assert!(area > 0.0, "{}: {}", p.display(), m["mark"]);
        }
    }
    Ok(())
}

#[test]
fn the_lines_of_the_text_file_are_the_legible_lines_of_the_marks() -> Fallible {
    for p in photographs() {
        let told: Vec<String> = std::fs::read_to_string(p.with_extension("txt"))?
            .lines()
            .map(str::to_owned)
            .collect();
        let t = truth(&p)?;
        let marked: Vec<String> = t["marks"]
            .as_array()
            .into_iter()
            .flatten()
            .flat_map(|m| m["lines"].as_array().cloned().unwrap_or_default())
            .filter(|l| l["legible"] == true)
            .map(|l| l["text"].as_str().unwrap_or("").to_owned())
            .collect();
        assert_eq!(told, marked, "{}", p.display());
    }
    Ok(())
}

#[test]
fn a_fifth_to_a_half_of_the_firms_named_are_on_no_list_and_the_rest_have_their_row() -> Fallible {
    let named = rows("samples/photographs/truth.csv")?;
    let strangers = named.iter().filter(|r| r["entry"].is_empty()).count();
    let share = strangers as f64 / named.len() as f64;
    assert!(
        (0.2..0.5).contains(&share),
        "{strangers} of {}",
        named.len()
    );
    for r in named.iter().filter(|r| !r["entry"].is_empty()) {
        let list = rows(&format!("samples/gazetteer/{}.csv", r["list"]))?;
        assert!(
            list.iter().any(|f| f["entry"] == r["entry"]),
            "{}",
            r["entry"]
        );
    }
    Ok(())
}

#[test]
fn every_row_of_the_demo_lists_says_that_it_is_invented_and_has_a_key_of_its_own() -> Fallible {
    let mut count = 0;
    for list in [
        "framers",
        "colourmen",
        "towns",
        "exhibitions",
        "artists",
        "retailers",
        "sale_rooms",
    ] {
        let mut keys = BTreeSet::new();
        for row in rows(&format!("samples/gazetteer/{list}.csv"))? {
            count += 1;
            assert_eq!(row["source"], "invented for the demo", "{}", row["entry"]);
            assert!(
                keys.insert(row["entry"].clone()),
                "{list}: {} twice",
                row["entry"]
            );
        }
    }
    assert!(count >= 150, "{count} rows");
    Ok(())
}
