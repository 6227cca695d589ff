//! Made marks from their files.

use dorso::gazetteer;
use dorso::marks::MarkKind;
use dorso::readings::from_typed;
use dorso::statements::{Lists, Mark, Role};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// What a made mark truly states.
#[derive(Debug, Clone, Deserialize)]
pub struct Truth {
    pub role: String,
    pub value: String,
    pub list: Option<String>,
    pub entry: Option<String>,
    /// Places that stand within it.
    #[serde(default)]
    pub places: Vec<String>,
}

#[derive(Debug, Deserialize)]
struct Record {
    kind: Option<String>,
    lines: Vec<Vec<(String, String, i64, bool)>>,
    statements: Vec<Truth>,
}

/// A made mark: words, and for each word what it is: a tag, the number of its statement or −1.
pub struct Made {
    pub text: String,
    pub mark: Mark,
    pub tags: Vec<(String, i64)>,
    pub truths: Vec<Truth>,
    pub damaged: bool,
}

/// One set: lists and marks.
pub struct Set {
    pub lists: Lists,
    pub marks: Vec<Made>,
}

/// The folders of sets below a folder, in order.
pub fn folders(dir: &Path) -> Result<Vec<PathBuf>, String> {
    let items = std::fs::read_dir(dir).map_err(|e| format!("{}: {e}", dir.display()))?;
    let mut out: Vec<PathBuf> = items
        .flatten()
        .map(|i| i.path())
        .filter(|p| p.join("marks.jsonl").exists())
        .collect();
    out.sort();
    Ok(out)
}

/// Reads one set.
pub fn set(folder: &Path) -> Result<Set, String> {
    let (gazetteer, _) = gazetteer::load(folder).map_err(|e| e.to_string())?;
    let lists = Lists::new(&gazetteer);
    let path = folder.join("marks.jsonl");
    let text = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    let marks = text
        .lines()
        .filter_map(|l| serde_json::from_str(l).ok())
        .filter_map(made);
    Ok(Set {
        lists,
        marks: marks.collect(),
    })
}

fn made(record: Record) -> Option<Made> {
    let mut lines = Vec::new();
    let mut places: Vec<Vec<(usize, String, i64)>> = Vec::new();
    let mut texts = Vec::new();
    for line in &record.lines {
        let (mut text, mut at, mut ends) = (String::new(), 0usize, Vec::new());
        for (piece, tag, number, glued) in line {
            if !text.is_empty() && !glued {
                text.push(' ');
                at += 1;
            }
            text += piece;
            at += from_typed(piece).ok()?.first()?.characters.len();
            ends.push((at, tag.clone(), *number));
        }
        lines.extend(from_typed(&text).ok()?);
        texts.push(text);
        places.push(ends);
    }
    if lines.len() != places.len() {
        return None;
    }
    let kind = record.kind.as_deref().and_then(MarkKind::parse);
    let mark = Mark::new(&lines, kind);
    let tags = mark.words.iter().map(|w| {
        let piece = places[w.line].iter().find(|p| p.0 > w.place.start);
        piece.map_or(("O".to_string(), -1), |p| (p.1.clone(), p.2))
    });
    let tags: Vec<(String, i64)> = tags.collect();
    let damaged = mark
        .words
        .iter()
        .any(|w| w.damaged() || w.letters.iter().any(|l| l.chance < 0.9));
    Some(Made {
        text: texts.join(" / "),
        tags,
        truths: record.statements,
        mark,
        damaged,
    })
}

impl Made {
    /// The stretches of words: from, to, label, number of the statement or −1.
    pub fn cut(&self) -> Vec<(usize, usize, usize, i64)> {
        use dorso::statements::model::{Says, label};
        let mut out: Vec<(usize, usize, usize, i64)> = Vec::new();
        for (t, (tag, number)) in self.tags.iter().enumerate() {
            let says = match tag.strip_prefix("H:") {
                Some(role) => Role::parse(role).map_or(Says::Nothing, Says::Heading),
                None => Role::parse(tag).map_or(Says::Nothing, Says::Fact),
            };
            let y = label(says);
            match out.last_mut() {
                Some(last) if last.2 == y && y != 0 && last.3 == *number && t - last.0 < 14 => {
                    last.1 = t + 1
                }
                _ => out.push((t, t + 1, y, *number)),
            }
        }
        out
    }
}
