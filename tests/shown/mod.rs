//! Stores that exports are tried on.

use crate::support::*;
use dorso::decisions::{Act, Author, Bearer, SeenMark, Sight, SqliteStore, Store, Taken};
use dorso::gazetteer;
use dorso::geometry::{Point, Quad, Rect};
use dorso::marks::MarkKind;
use dorso::proposals::Index;
use dorso::readings;
use dorso::run::read_one;
use serde_json::Value;
use std::path::{Path, PathBuf};

fn person(why: &str) -> Author {
    carrow(why)
}

/// Every sign and trick that a label may bear.
pub fn hostile(dir: &Path) -> SqliteStore {
    let mut s = SqliteStore::open(&dir.join("hostile.sqlite")).unwrap();
    let mut nasty = mark(
        "m1",
        MarkKind::WrittenLabel,
        Rect::new(-5, -3, 340, 160).quad(),
        reading(&[
            ("=1+1 <b>&\"' ]]> é 中", 0.8),
            ("@S?UM__X", 0.004),
            ("SURE", 0.999),
            ("\u{7}\u{202e}-x", 0.5),
        ]),
        vec![rivals(
            "framers",
            vec![proposal("framers", "a&b", "<Orme> & Son \"Ltd\"", 0.7)],
        )],
    );
    nasty.rivals[0].proposals[0].source = "from memory & <more>".into();
    let mut r = run(vec![photograph(
        "/invented/ä back <1>.jpg",
        'b',
        vec![nasty, blind_stamp(), firm_label()],
    )]);
    r.picture = Some("=HYPERLINK(\"x\") & <The Mill>".into());
    let ids = s.record_run(&r).unwrap().marks.remove(0);
    let read = Act::Read {
        lines: vec![
            "A[bc]D[e?] [...] [---] [------] [c. 5] [3-5]".into(),
            "+++ [R/K] <x>{y}⸢z⸣ a(bc) ⟦old⟧ `new´ (vac. 4) vac. Ḷ".into(),
        ],
    };
    s.decide(ids[1], &read, &person("=cmd|' /C calc'!A0"))
        .unwrap();
    let on = Act::On {
        bearer: Bearer::Frame,
        bridging: Some(Bearer::Backing),
    };
    s.decide(ids[2], &on, &person("-1")).unwrap();
    let p = proposal("framers", "thackwray-kendal-2", "Thackwray & Son", 0.48);
    let taken = Act::Take(Taken {
        list: p.list,
        entry: p.entry,
        name: p.name,
        not_before: p.not_before,
        not_after: p.not_after,
        source: p.source,
        chance: Some(p.probability),
        same_as: vec!["http://lists.example/firm?a=1&b=2".into()],
    });
    s.decide(ids[2], &taken, &person("")).unwrap();
    let picture = s.pictures().unwrap()[0].id;
    for (f, c) in [
        ("support", "millboard"),
        ("backing", "hardboard"),
        ("frame-corners", "sliced-ornament"),
    ] {
        let sight = Sight::Feature {
            feature: f.into(),
            choice: c.into(),
        };
        s.observe(picture, &sight, &person("")).unwrap();
    }
    let size = Sight::Size {
        height: 762.0,
        width: 635.0,
    };
    s.observe(picture, &size, &person("")).unwrap();
    s
}

/// Nothing but a photograph without a mark.
pub fn bare(dir: &Path) -> SqliteStore {
    let mut s = SqliteStore::open(&dir.join("bare.sqlite")).unwrap();
    s.record_run(&run(vec![photograph("bare.jpg", 'c', Vec::new())]))
        .unwrap();
    s
}

/// A sample as its truth says it, half of it by a person: what a run and a settled queue would leave.
fn sample(dir: &Path, truth: &Path) -> SqliteStore {
    let t: Value = serde_json::from_str(&std::fs::read_to_string(truth).unwrap()).unwrap();
    let kinds = |name: &str| {
        MarkKind::ALL
            .into_iter()
            .find(|k| k.as_str() == name)
            .unwrap()
    };
    let corner = |v: &Value| Point::new(v[0].as_f64().unwrap(), v[1].as_f64().unwrap());
    let marks: Vec<_> = t["marks"]
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
        .map(|(i, m)| {
            let o = m["outline"].as_array().unwrap();
            let quad = Quad([corner(&o[0]), corner(&o[1]), corner(&o[2]), corner(&o[3])]);
            let lines: Vec<(String, f64)> = m["lines"]
                .as_array()
                .unwrap()
                .iter()
                .filter_map(|l| l["text"].as_str())
                .enumerate()
                .map(|(k, t)| (t.replace('?', ""), [0.97, 0.8, 0.45][k % 3]))
                .collect();
            let lines: Vec<(&str, f64)> = lines.iter().map(|(t, p)| (t.as_str(), *p)).collect();
            let list = m["list"].as_str().unwrap_or("");
            let rivals = if list.is_empty() {
                Vec::new()
            } else {
                let key = m["entry"].as_str().unwrap_or("");
                vec![rivals(list, vec![proposal(list, key, key, 0.83)])]
            };
            mark(
                &format!("m{}", i + 1),
                kinds(m["kind"].as_str().unwrap()),
                quad,
                reading(&lines),
                rivals,
            )
        })
        .collect();
    let name = truth.file_stem().unwrap().to_string_lossy().into_owned();
    let mut seen = photograph(&format!("{name}.jpg"), 'd', marks);
    (seen.width, seen.height) = image::image_dimensions(truth.with_extension("jpg")).unwrap();
    let mut r = run(vec![seen]);
    r.picture = Some(name.clone());
    let mut s = SqliteStore::open(&dir.join(format!("{name}.sqlite"))).unwrap();
    let ids = s.record_run(&r).unwrap().marks.remove(0);
    for (id, m) in ids.iter().zip(t["marks"].as_array().unwrap()).step_by(2) {
        let part = |v: &Value| v.as_str().and_then(Bearer::parse);
        if let Some(bearer) = part(&m["bearer"]) {
            let on = Act::On {
                bearer,
                bridging: part(&m["bridges"]),
            };
            s.decide(*id, &on, &person("")).unwrap();
        }
    }
    s
}

/// A sample as the program reads it, with all its doubts: nothing decided.
fn as_read(dir: &Path, file: &Path) -> SqliteStore {
    let (lists, _) = gazetteer::load(Path::new("samples/gazetteer")).unwrap();
    let recognisers = readings::recognisers().unwrap();
    let read = read_one(file, &recognisers, &Index::new(lists)).unwrap();
    let marks: Vec<SeenMark> = read.marks.into_iter().map(SeenMark::from).collect();
    assert!(!marks.is_empty(), "{}", file.display());
    let name = file.file_stem().unwrap().to_string_lossy();
    let mut seen = photograph(&format!("{name}.jpg"), 'e', marks);
    (seen.width, seen.height) = (read.width, read.height);
    let mut s = SqliteStore::open(&dir.join(format!("{name}-read.sqlite"))).unwrap();
    s.record_run(&run(vec![seen])).unwrap();
    s
}

/// Every store that exports are tried on: the hostile one, a bare one, two samples as the program
/// reads them, and all samples as their truth says.
pub fn stores(dir: &Path) -> Vec<(String, SqliteStore)> {
    let mut out = vec![
        ("hostile".to_string(), hostile(dir)),
        ("bare".to_string(), bare(dir)),
    ];
    for name in ["winter-overlapping", "winter-sale-label"] {
        let file = PathBuf::from(format!("samples/photographs/{name}.jpg"));
        out.push((format!("{name} as read"), as_read(dir, &file)));
    }
    let mut truths: Vec<PathBuf> = std::fs::read_dir("samples/photographs")
        .unwrap()
        .flatten()
        .map(|f| f.path())
        .filter(|p| p.extension().is_some_and(|e| e == "json"))
        .collect();
    truths.sort();
    assert!(truths.len() >= 24);
    for t in truths {
        out.push((t.display().to_string(), sample(dir, &t)));
    }
    out
}
