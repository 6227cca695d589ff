//! The stages one behind the other.

use crate::error::{Error, Result};
use crate::geometry::Quad;
use crate::marks::{self, MarkKind};
use crate::photograph;
use crate::proposals::{Index, Rivals};
use crate::readings::{self, Reading, Recogniser};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// A mark, read and weighed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadMark {
    /// `m1`, `m2`, ... within its photograph.
    pub mark: String,
    /// What sort of mark.
    pub kind: MarkKind,
    /// Corners on the upright photograph, in reading order.
    pub outline: Quad,
    /// Chance that it carries lettering.
    pub lettering: f64,
    /// Reading; no lines where nothing could be read.
    pub reading: Reading,
    /// Rivals for each list, the list most likely named first.
    pub rivals: Vec<Rivals>,
    /// Why a person should look; empty where none need.
    pub because: Vec<String>,
}

/// A photograph, read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadPhotograph {
    /// File as named by the user.
    pub file: PathBuf,
    /// Identity.
    pub sha256: String,
    /// px, upright.
    pub width: u32,
    /// px, upright.
    pub height: u32,
    /// Positive where the text runs down to the right.
    pub skew_degrees: f64,
    /// Marks in reading order of the photograph.
    pub marks: Vec<ReadMark>,
}

/// Reads photographs one after the other; one bad photograph never stops the rest.
pub fn read(
    files: &[PathBuf],
    recognisers: &[Box<dyn Recogniser>],
    index: &Index,
    mut progress: impl FnMut(usize, usize),
) -> (Vec<ReadPhotograph>, Vec<Error>) {
    let mut done = Vec::new();
    let mut faults = Vec::new();
    let files = photograph::expand(files);
    let count = files.len();
    for (i, file) in files.into_iter().enumerate() {
        progress(i, count);
        match file.and_then(|f| read_one(&f, recognisers, index)) {
            Ok(p) => done.push(p),
            Err(e) => faults.push(e),
        }
    }
    progress(count, count);
    (done, faults)
}

fn read_one(
    file: &std::path::Path,
    recognisers: &[Box<dyn Recogniser>],
    index: &Index,
) -> Result<ReadPhotograph> {
    let photo = photograph::open(file)?;
    let mut out = ReadPhotograph {
        file: photo.file.clone(),
        sha256: photo.sha256.clone(),
        width: photo.width(),
        height: photo.height(),
        skew_degrees: 0.0,
        marks: Vec::new(),
    };
    for (i, mark) in marks::find(&photo.picture).into_iter().enumerate() {
        let flat = marks::flatten(&photo.picture, &mark);
        let (reading, outline) = readings::read(&flat, recognisers)?;
        let rivals = index.weigh(&reading.lines, None);
        out.marks.push(ReadMark {
            mark: format!("m{}", i + 1),
            kind: mark.kind,
            outline,
            lettering: mark.lettering,
            reading,
            rivals,
            because: Vec::new(),
        });
    }
    Ok(out)
}
