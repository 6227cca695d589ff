//! Runs the program over a folder whose truth is known and gathers what came out.
//!
//! A folder holds each image beside a `.txt` of the same name with the true lines, and where known
//! a `truth.csv` (file, list, entry) with the true entries, empty for "not on the lists". With an
//! empty entry the list says which list it isn't on (several parted by `|`; empty for all of them).
//! A further column, `words`, may say which mark is meant: a line that it truly bears; and another,
//! `mark`, give the mark a name that is the same over all photographs that show it. Photographs that
//! share a mark are of one picture and are put together; what the mark names is asked once.

use super::answers::answers;
use super::chances::{self, Stated};
use super::text::{self, Edits};
use crate::error::{Error, Kind, Result};
use crate::limits::{LIST_BYTES, TEXT_BYTES};
use crate::photograph;
use crate::run::ReadPhotograph;
use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

pub use super::answers::{Answer, Named};

/// Bins of the calibration error and the reliability diagram.
pub const BINS: usize = 10;

/// One photograph with its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// The photograph.
    pub file: PathBuf,
    /// True lines, empty ones left out.
    pub lines: Vec<String>,
    /// True entries, one for each mark that names something; an empty entry is on no list.
    pub named: Vec<Named>,
}

/// What came out for one photograph.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The photograph and its truth.
    pub known: Known,
    /// All lines read.
    pub read: Vec<String>,
    /// Character errors, lines paired whatever their order.
    pub characters: Edits,
    /// Word errors, likewise.
    pub words: Edits,
    /// Character errors of the whole text in the order printed.
    pub in_order: Edits,
    /// Share of words found, 0 to 1.
    pub word_f1: f64,
    /// Answers of the lists.
    pub answers: Vec<Answer>,
    /// Seconds for reading and weighing.
    pub seconds: f64,
    /// Why nothing could be read, if so.
    pub fault: Option<String>,
}

/// The figures over a folder; `None` where there was nothing to measure them on.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Pooled character error rate, lines paired.
    pub cer: Option<f64>,
    /// Pooled word error rate, lines paired.
    pub wer: Option<f64>,
    /// Pooled character error rate of whole texts in printed order.
    pub cer_in_order: Option<f64>,
    /// Mean share of words found.
    pub word_f1: Option<f64>,
    /// Truth ranked first.
    pub top1: Option<f64>,
    /// Truth among the first three.
    pub top3: Option<f64>,
    /// Mean reciprocal rank.
    pub mrr: Option<f64>,
    /// Brier score of first-ranked statements.
    pub brier: Option<f64>,
    /// Their expected calibration error.
    pub ece: Option<f64>,
    /// What that error would be by luck alone, and what it stays under 19 times in 20.
    pub ece_by_luck: Option<(f64, f64)>,
    /// Of the questions whose truth is on the lists: truth ranked first.
    pub listed_first: Option<f64>,
    /// Of the questions whose truth is on no list: "on none" ranked first.
    pub unlisted_first: Option<f64>,
    /// Mean seconds a photograph.
    pub seconds_per_photo: Option<f64>,
    /// Photographs.
    pub images: usize,
    /// The first-ranked statements, for the diagram.
    pub stated: Vec<Stated>,
}

/// Finds the photographs of a folder that have a `.txt` beside them, with their truth.
///
/// # Errors
/// The folder can't be read or holds no image; no image has a text; a `truth.csv` that can't be
/// understood, with its row.
pub fn known(dir: &Path) -> Result<Vec<Known>> {
    let mut named = truth_table(&dir.join("truth.csv"))?;
    let mut out = Vec::new();
    for file in photograph::expand(&[dir.to_path_buf()]) {
        let file = file?;
        let text = file.with_extension("txt");
        let words = match TEXT_BYTES.text(&text) {
            Ok(words) => words,
            Err(e) if e.kind() == ErrorKind::NotFound => continue,
            Err(e) => {
                return Err(Error::new(
                    Kind::Text,
                    text.display(),
                    format!("the true lines can't be read ({e})"),
                    "save them as plain text in UTF-8, or move the file away",
                ));
            }
        };
        let lines = words
            .trim_start_matches('\u{feff}')
            .lines()
            .map(text::normal)
            .filter(|l| !l.is_empty())
            .collect();
        let name = file
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default();
        out.push(Known {
            named: named.remove(&name).unwrap_or_default(),
            file,
            lines,
        });
    }
    if out.is_empty() {
        return Err(Error::new(
            Kind::Text,
            dir.display(),
            "no image has a text beside it",
            "put the true lines of back.jpg into back.txt, one line each",
        ));
    }
    Ok(out)
}

fn truth_table(file: &Path) -> Result<BTreeMap<String, Vec<Named>>> {
    let mut out: BTreeMap<String, Vec<Named>> = BTreeMap::new();
    if !file.exists() {
        return Ok(out);
    }
    let fault = |row: String, what: String| {
        Error::new(
            Kind::Text,
            format!("{}{row}", file.display()),
            what,
            "give it the columns file, list, entry",
        )
    };
    let text = LIST_BYTES
        .text(file)
        .map_err(|e| fault(String::new(), format!("it can't be read ({e})")))?;
    let mut rows = csv::ReaderBuilder::new()
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let heads = rows
        .headers()
        .map_err(|e| fault(", row 1".into(), format!("it can't be read ({e})")))?
        .clone();
    let column = |name: &str| {
        heads
            .iter()
            .position(|h| h.trim_start_matches('\u{feff}').eq_ignore_ascii_case(name))
            .ok_or_else(|| {
                fault(
                    ", row 1".into(),
                    format!("the column \"{name}\" is missing"),
                )
            })
    };
    let (f, l, e) = (column("file")?, column("list")?, column("entry")?);
    let w = column("words").ok();
    let m = column("mark").ok();
    for (i, row) in rows.records().enumerate() {
        let row = row.map_err(|e| {
            fault(
                format!(", row {}", i + 2),
                format!("the row can't be read ({e})"),
            )
        })?;
        let cell = |at: usize| row.get(at).unwrap_or_default().to_string();
        if cell(f).is_empty() {
            continue;
        }
        out.entry(cell(f)).or_default().push(Named {
            list: cell(l),
            entry: cell(e),
            words: w.map(cell).unwrap_or_default(),
            mark: m.map(cell).unwrap_or_default(),
        });
    }
    Ok(out)
}

/// For each photograph the number of its picture: those that share a named mark are of one.
pub fn pictures(all: &[Known]) -> Vec<usize> {
    let mut of: Vec<usize> = (0..all.len()).collect();
    let mut first: BTreeMap<&str, usize> = BTreeMap::new();
    for (i, photo) in all.iter().enumerate() {
        for named in photo.named.iter().filter(|n| !n.mark.is_empty()) {
            let holder = *first.entry(named.mark.as_str()).or_insert(i);
            let (kept, gone) = (of[holder].min(of[i]), of[holder].max(of[i]));
            of.iter_mut()
                .filter(|p| **p == gone)
                .for_each(|p| *p = kept);
        }
    }
    of
}

/// Leaves one answer for each named mark and list: of the photographs that show it the first on which
/// it was found.
pub fn once_a_mark(all: &mut [Measured]) {
    let mut best: BTreeMap<(String, String), (bool, usize)> = BTreeMap::new();
    let key = |a: &Answer| (a.named.mark.clone(), a.named.list.clone());
    for (i, m) in all.iter().enumerate() {
        for a in m.answers.iter().filter(|a| !a.named.mark.is_empty()) {
            let found = a.mark.is_some();
            let held = best.entry(key(a)).or_insert((found, i));
            if found && !held.0 {
                *held = (true, i);
            }
        }
    }
    for (i, m) in all.iter_mut().enumerate() {
        m.answers
            .retain(|a| best.get(&key(a)).is_none_or(|held| held.1 == i));
    }
}

/// Holds what was read against the truth. `read` is `None` with the reason when the photograph
/// couldn't be read: all its lettering then counts as missed.
pub fn measure(
    known: Known,
    read: std::result::Result<&ReadPhotograph, String>,
    seconds: f64,
) -> Measured {
    let (photo, fault) = match read {
        Ok(p) => (Some(p), None),
        Err(why) => (None, Some(why)),
    };
    let lines: Vec<String> = photo
        .iter()
        .flat_map(|p| &p.marks)
        .flat_map(|m| &m.reading.lines)
        .map(|l| text::normal(&l.text))
        .filter(|l| !l.is_empty())
        .collect();
    let (whole_truth, whole_read) = (known.lines.join(" "), lines.join(" "));
    Measured {
        characters: text::characters_by_line(&known.lines, &lines),
        words: text::words_by_line(&known.lines, &lines),
        in_order: text::characters(&whole_truth, &whole_read),
        word_f1: text::word_f1(&whole_truth, &whole_read),
        answers: answers(&known.named, photo.map_or(&[], |p| &p.marks)),
        read: lines,
        known,
        seconds,
        fault,
    }
}

/// The figures over all photographs.
pub fn summarise(all: &[Measured]) -> Summary {
    let pooled = |pick: fn(&Measured) -> Edits| {
        (!all.is_empty()).then(|| {
            all.iter()
                .map(pick)
                .fold(Edits::default(), Edits::plus)
                .rate()
        })
    };
    let mean = |pick: fn(&Measured) -> f64| {
        (!all.is_empty()).then(|| all.iter().map(pick).sum::<f64>() / all.len() as f64)
    };
    let answers: Vec<&Answer> = all.iter().flat_map(|m| &m.answers).collect();
    let ranks = |wanted: fn(&Answer) -> bool| -> Vec<Option<usize>> {
        answers
            .iter()
            .filter(|a| wanted(a))
            .map(|a| a.rank)
            .collect()
    };
    let stated: Vec<Stated> = answers.iter().filter_map(|a| a.stated).collect();
    let every = ranks(|_| true);
    Summary {
        cer: pooled(|m| m.characters),
        wer: pooled(|m| m.words),
        cer_in_order: pooled(|m| m.in_order),
        word_f1: mean(|m| m.word_f1),
        top1: chances::top(&every, 1),
        top3: chances::top(&every, 3),
        mrr: chances::reciprocal_rank(&every),
        brier: chances::brier(&stated),
        ece: chances::calibration_error(&stated, BINS),
        ece_by_luck: chances::by_luck(&stated, BINS),
        listed_first: chances::top(&ranks(|a| !a.named.entry.is_empty()), 1),
        unlisted_first: chances::top(&ranks(|a| a.named.entry.is_empty()), 1),
        seconds_per_photo: mean(|m| m.seconds),
        images: all.len(),
        stated,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known_on(file: &str, marks: &[&str]) -> Known {
        let named = |mark: &&str| Named {
            list: "framers".into(),
            mark: (*mark).into(),
            ..Named::default()
        };
        Known {
            file: file.into(),
            lines: Vec::new(),
            named: marks.iter().map(named).collect(),
        }
    }

    #[test]
    fn photographs_that_share_a_named_mark_are_of_one_picture() {
        let all = [
            known_on("a.jpg", &["p1"]),
            known_on("b.jpg", &["q1"]),
            known_on("c.jpg", &["p1", "p2"]),
            known_on("d.jpg", &["p2", ""]),
            known_on("e.jpg", &[""]),
        ];
        assert_eq!(pictures(&all), [0, 1, 0, 0, 4]);
    }

    #[test]
    fn a_named_mark_is_asked_once_where_it_was_found_first() {
        let answered = |file: &str, marks: &[(&str, bool)]| {
            let known = known_on(file, &[]);
            let mut m = measure(known, Err("not read".into()), 0.0);
            m.answers = marks
                .iter()
                .map(|(mark, found)| Answer {
                    named: Named {
                        list: "framers".into(),
                        mark: (*mark).into(),
                        ..Named::default()
                    },
                    mark: found.then(|| "m1".into()),
                    rank: None,
                    first: String::new(),
                    stated: None,
                })
                .collect();
            m
        };
        let mut all = [
            answered("a.jpg", &[("p1", false), ("", true)]),
            answered("b.jpg", &[("p1", true), ("", true)]),
            answered("c.jpg", &[("p1", true)]),
        ];
        once_a_mark(&mut all);
        let left: Vec<usize> = all.iter().map(|m| m.answers.len()).collect();
        assert_eq!(left, [1, 2, 0]);
    }
}
