//! What a run saw, carried from where photographs are read to where the store lies: `dorso read --keep-run` writes it,
//! `dorso take-in --readings` takes in many.

use super::read::{lists, progress, seen};
use super::{Finished, Outcome, put, tell};
use crate::decisions::{Run, SqliteStore, Store, now};
use crate::error::{Error, Kind, Result};
use crate::limits::READING_BYTES;
use crate::photograph;
use crate::run::together::{self, Album};
use crate::run::{PROGRAM, ReadPhotograph};
use crate::written;
use flate2::read::MultiGzDecoder;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

/// Name and version of the shape.
const FORMAT: &str = "dorso.run/1";
/// Folder of a batch in which its readings lie.
const READINGS: &str = "readings";

/// Photographs of one picture as they were read.
#[derive(Debug, Serialize, Deserialize)]
struct SeenRun<'a> {
    format: Cow<'a, str>,
    program: Cow<'a, str>,
    at: String,
    photographs: Cow<'a, [ReadPhotograph]>,
}

/// Writes what was read of one picture to a file, whole or not at all.
///
/// # Errors
/// `Kind::Output` if it can't be written.
pub(super) fn keep(file: &Path, photographs: &[ReadPhotograph]) -> Result<()> {
    let run = SeenRun {
        format: FORMAT.into(),
        program: PROGRAM.into(),
        at: now(),
        photographs: photographs.into(),
    };
    let bytes = serde_json::to_vec(&run).map_err(std::io::Error::from);
    let done = bytes.and_then(|bytes| written::put(file, &bytes));
    done.map_err(|e| {
        let what = format!("it can't be written ({e})");
        let next = "make room or name another place with --keep-run";
        Error::new(Kind::Output, file.display(), what, next)
    })
}

/// One line of the readings of a batch: what is needed of it here.
#[derive(Deserialize)]
struct Row<'a> {
    picture: String,
    /// Absent where the picture couldn't be read.
    #[serde(borrow)]
    run: Option<Cow<'a, str>>,
}

/// Which line of which file tells a picture.
type Place = (usize, usize);

fn unusable(file: &Path, what: impl std::fmt::Display) -> Error {
    let next = "copy the batch's folder again, or run batch/read_backs.py again";
    Error::new(Kind::Output, file.display(), what.to_string(), next)
}

/// The files with readings below a folder, those of a later wave behind those of an earlier one.
fn files(out: &Path) -> Result<Vec<PathBuf>> {
    let none = |e: &dyn std::fmt::Display| {
        let what = format!("it holds no readings of a batch ({e})");
        let next = "name the folder that batch/read_backs.py wrote to";
        Error::new(Kind::Usage, out.display(), what, next)
    };
    let list = |dir: &Path| -> std::io::Result<Vec<PathBuf>> {
        let all = std::fs::read_dir(dir)?.map(|f| Ok(f?.path()));
        all.collect()
    };
    let mut found = Vec::new();
    for wave in list(&out.join(READINGS)).map_err(|e| none(&e))? {
        if wave.is_dir() {
            found.extend(list(&wave).map_err(|e| unusable(&wave, e))?);
        }
    }
    // Hidden files are checksums, `_temporary` is what was never finished
    let is_part = |f: &PathBuf| {
        let name = f.file_name().and_then(|n| n.to_str());
        f.is_file() && name.is_some_and(|n| n.starts_with("part-"))
    };
    found.retain(is_part);
    found.sort();
    match found.is_empty() {
        true => Err(none(&"nothing was written")),
        false => Ok(found),
    }
}

/// Hands on each line of a file; none longer than the limit is held.
fn each_line(file: &Path, mut each: impl FnMut(usize, &[u8]) -> Result<()>) -> Result<()> {
    let open = File::open(file).map_err(|e| unusable(file, e))?;
    let plain = file.extension().is_none_or(|e| e != "gz");
    let bytes: Box<dyn Read> = match plain {
        true => Box::new(open),
        false => Box::new(MultiGzDecoder::new(open)),
    };
    let mut bytes = BufReader::new(bytes);
    let (mut line, mut number) = (Vec::new(), 0);
    loop {
        line.clear();
        number += 1;
        let most = READING_BYTES.most();
        let read = (&mut bytes)
            .take(most.saturating_add(1))
            .read_until(b'\n', &mut line)
            .map_err(|e| unusable(file, format!("line {number} is damaged ({e})")))?;
        if read == 0 {
            return Ok(());
        }
        let place = format!("{}, line {number}", file.display());
        READING_BYTES.hold(read as u64, Kind::Output, place, "it is longer")?;
        each(number, &line)?;
    }
}

fn row<'a>(file: &Path, number: usize, line: &'a [u8]) -> Result<Row<'a>> {
    let wrong = |e| unusable(file, format!("line {number} can't be understood ({e})"));
    serde_json::from_slice(line).map_err(wrong)
}

/// Where the newest reading of each picture stands, and whether it was read.
fn newest(files: &[PathBuf]) -> Result<BTreeMap<String, (Place, bool)>> {
    let mut out = BTreeMap::new();
    for (n, file) in files.iter().enumerate() {
        each_line(file, |number, line| {
            let row = row(file, number, line)?;
            out.insert(row.picture, ((n, number), row.run.is_some()));
            Ok(())
        })?;
    }
    Ok(out)
}

/// Runs `take-in --readings`.
///
/// * `gazetteer`: folder of the lists, for weighing what several photographs show together.
pub(super) fn take_in(out: &Path, store: &Path, gazetteer: Option<&Path>) -> Outcome {
    let files = files(out)?;
    let newest = newest(&files)?;
    let (index, faults) = lists(gazetteer, Some(store))?;
    faults.iter().for_each(tell);
    let mut store = SqliteStore::open(store)?;
    let by = super::keeping::author(None)?;
    let unread = newest.values().filter(|n| !n.1).count();
    let (mut taken, mut known, mut faulty) = (0, 0, 0);
    let bar = progress(newest.len() - unread);
    for (n, file) in files.iter().enumerate() {
        each_line(file, |number, line| {
            let row = row(file, number, line)?;
            let counts = newest.get(&row.picture).is_some_and(|w| w.0 == (n, number));
            let Some(text) = row.run.filter(|_| counts) else {
                return Ok(());
            };
            let run = parsed(&row.picture, &text).and_then(at_hand);
            match run.and_then(|run| record(&mut store, &row.picture, run, &by)) {
                Ok((picture, new)) => {
                    if new || store.is_unlaid(picture)? {
                        let mut album = Album::default();
                        together::bring_together(&mut store, picture, &mut album, &index, &by)?;
                    }
                    *(if new { &mut taken } else { &mut known }) += 1;
                }
                // A store that can't be written ends it; a photograph that isn't there is one picture less
                Err(e) if e.kind == Kind::Store => return Err(e),
                Err(e) => {
                    bar.suspend(|| tell(&e));
                    faulty += 1;
                }
            }
            bar.inc(1);
            Ok(())
        })?;
    }
    bar.finish_and_clear();
    put(&format!(
        "pictures taken in: {taken}; known already: {known}; refused: {faulty}; not read by the batch: {unread}\n"
    ))?;
    Ok(match faulty {
        0 => Finished::Well,
        _ => Finished::WithFaults,
    })
}

fn parsed(picture: &str, text: &str) -> Result<SeenRun<'static>> {
    let wrong = |what: String| {
        let next = "read the picture again with batch/read_backs.py and this program";
        Error::new(Kind::Output, format!("picture \"{picture}\""), what, next)
    };
    let run: SeenRun<'static> = serde_json::from_str(text)
        .map_err(|e| wrong(format!("its reading can't be understood ({e})")))?;
    match run.format == FORMAT {
        true => Ok(run),
        false => Err(wrong(format!(
            "its reading is of the form \"{}\", this program knows \"{FORMAT}\"",
            run.format
        ))),
    }
}

/// The run, if every photograph is where it was read and has the same bytes.
fn at_hand(run: SeenRun<'static>) -> Result<SeenRun<'static>> {
    for p in run.photographs.iter() {
        if photograph::identity(&p.file)? != p.sha256 {
            return Err(Error::new(
                Kind::Photograph,
                p.file.display(),
                "it isn't the photograph that was read: its bytes are others",
                "put the photograph back, or run batch/read_backs.py again",
            ));
        }
    }
    Ok(run)
}

/// Records a run as reading here would, unless it is there; gives the picture's number, and whether it is new.
fn record(
    store: &mut SqliteStore,
    picture: &str,
    run: SeenRun<'_>,
    by: &str,
) -> Result<(i64, bool)> {
    let hashes: Vec<String> = run.photographs.iter().map(|p| p.sha256.clone()).collect();
    if let Some(known) = store.picture_with(&hashes)?
        && store.has_run(&hashes, &run.at, &run.program)?
    {
        return Ok((known, false));
    }
    // One photograph alone is called as its file is
    let alone = matches!(&run.photographs[..], [one] if one.file.ends_with(picture));
    let recorded = store.record_run(&Run {
        picture: None,
        joins: None,
        suggested: (!alone).then(|| picture.to_owned()),
        by: by.to_owned(),
        at: run.at,
        program: run.program.into_owned(),
        photographs: run.photographs.iter().map(seen).collect(),
    })?;
    for remark in recorded.remarks {
        eprintln!("dorso: {remark}.");
    }
    Ok((recorded.picture_id, true))
}
