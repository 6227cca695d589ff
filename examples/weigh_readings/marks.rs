//! Readings kept as JSON, each mark beside what it truly names.

use dorso::geometry::{Point, Quad, Rect};
use dorso::readings::{Character, Line};
use serde_json::Value;
use std::path::Path;

/// A mark as it was read, with its truth.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    /// Photograph and mark, for telling.
    pub place: String,
    /// easy, medium or hard.
    pub grade: String,
    /// Lines as read.
    pub lines: Vec<Line>,
    /// The true wording, all lines.
    pub wording: String,
    /// Whether it names a firm, a society or a person at all.
    pub names: bool,
    /// List of the true entry; empty: on none.
    pub list: String,
    /// Key of the true entry; empty: on none.
    pub entry: String,
}

/// A mark found belongs to a true one if they share this much of the smaller of them.
const SHARED: f64 = 0.5;

/// Reads a folder of readings (`NAME.json` as `dorso read --json` prints it) and the truth beside
/// the photographs. Marks found that are none of the true ones are left out, and of several pieces
/// of one mark the one with the most letters is asked.
pub fn open(truth: &Path, readings: &Path) -> Result<Vec<Asked>, String> {
    let told = |e: &dyn std::fmt::Display, p: &Path| format!("{}: {e}; make it anew.", p.display());
    let mut files: Vec<_> = std::fs::read_dir(readings)
        .map_err(|e| told(&e, readings))?
        .filter_map(|f| Some(f.ok()?.path()))
        .filter(|f| f.extension().is_some_and(|e| e == "json"))
        .collect();
    files.sort();
    let mut out = Vec::new();
    for file in files {
        let name = file.file_name().unwrap_or_default();
        let parse = |p: &Path| -> Result<Value, String> {
            let text = std::fs::read_to_string(p).map_err(|e| told(&e, p))?;
            serde_json::from_str(&text).map_err(|e| told(&e, p))
        };
        let (read, truth) = (parse(&file)?, parse(&truth.join(name))?);
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        let found: Vec<(Quad, Vec<Line>)> = array(&read["photos"][0]["marks"])
            .iter()
            .map(|m| {
                (
                    quad(&m["outline"]),
                    array(&m["lines"]).iter().map(line).collect(),
                )
            })
            .collect();
        for mark in array(&truth["marks"]) {
            let outline = quad(&mark["outline"]);
            let letters = |l: &[Line]| l.iter().map(|l| l.characters.len()).sum::<usize>();
            let best = found
                .iter()
                .filter(|(q, _)| {
                    outline.overlap(q) > SHARED * outline.area().min(q.area()).max(1.0)
                })
                .max_by_key(|(_, l)| letters(l));
            let wording: Vec<&str> = array(&mark["lines"])
                .iter()
                .filter_map(|l| l["as_made"].as_str().or(l["text"].as_str()))
                .collect();
            out.push(Asked {
                place: format!("{stem}/{}", text(&mark["mark"])),
                grade: text(&truth["grade"]),
                lines: best.map(|b| b.1.clone()).unwrap_or_default(),
                wording: wording.join(" / "),
                names: mark["names"].as_bool().unwrap_or(false),
                list: text(&mark["list"]),
                entry: text(&mark["entry"]),
            });
        }
    }
    Ok(out)
}

fn array(v: &Value) -> &[Value] {
    v.as_array().map_or(&[], Vec::as_slice)
}

fn text(v: &Value) -> String {
    v.as_str().unwrap_or_default().to_string()
}

fn quad(v: &Value) -> Quad {
    let at = |i: usize| {
        Point::new(
            v[i][0].as_f64().unwrap_or(0.0),
            v[i][1].as_f64().unwrap_or(0.0),
        )
    };
    Quad([at(0), at(1), at(2), at(3)])
}

fn line(v: &Value) -> Line {
    let characters = array(&v["characters"])
        .iter()
        .map(|c| Character {
            text: text(&c["text"]),
            confidence: c["confidence"].as_f64().unwrap_or(0.0),
            alternatives: array(&c["alternatives"])
                .iter()
                .map(|a| (text(&a[0]), a[1].as_f64().unwrap_or(0.0)))
                .collect(),
        })
        .collect();
    let px = |i: usize| v["box"][i].as_i64().unwrap_or(0) as i32;
    let side = |i: usize| u32::try_from(px(i)).unwrap_or(0);
    let at = Rect::new(px(0), px(1), side(2), side(3));
    Line::from_characters(characters, at, at)
}
