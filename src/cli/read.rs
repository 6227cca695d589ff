//! `dorso read`: photographs of the back of one picture, read and weighed.

use super::{Finished, Outcome, contract, put, put_json, tell};
use crate::decisions::{self, MarkId, Run, SeenMark, SeenPhotograph, SqliteStore, Store, two};
use crate::error::{Error, Kind, Result};
use crate::gazetteer;
use crate::geometry::Quad;
use crate::photograph;
use crate::proposals::Index;
use crate::readings::learnt;
use crate::run::together::{self, Album, ReadBack, ReadTogether};
use crate::run::{self, Before, ReadPhotograph};
use indicatif::{ProgressBar, ProgressStyle};
use std::collections::{BTreeSet, HashSet};
use std::path::{Path, PathBuf};

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Photographs of the back of one picture, or folders of them
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    /// Folder of the lists
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Keep nothing in the store
    #[arg(long)]
    no_store: bool,
    /// The store
    #[arg(long, value_name = "FILE")]
    store: Option<PathBuf>,
    /// Name of the picture
    #[arg(long, value_name = "NAME")]
    picture: Option<String>,
    /// Pass over photographs that the store has read before: goes on with a run that was broken off
    #[arg(long, conflicts_with = "no_store")]
    only_new: bool,
    /// Write all that was seen to a file too, for taking in elsewhere
    #[arg(long, value_name = "FILE", requires = "no_store")]
    keep_run: Option<PathBuf>,
    /// Who reads, for the record; else the name that this machine knows you by
    #[arg(long, value_name = "WHO")]
    by: Option<String>,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let file = match arguments.no_store {
        true => None,
        false => Some(super::keeping::store_file(arguments.store.clone())?),
    };
    let (index, list_faults) = lists(arguments.gazetteer.as_deref(), file.as_deref())?;
    list_faults.iter().for_each(tell);
    let taught = file.as_deref().map(learnt::beside);
    let recognisers = crate::readings::voices(taught.as_deref())?;
    let mut store = file.as_deref().map(SqliteStore::open).transpose()?;
    let known = match (&store, arguments.only_new) {
        (Some(s), true) => hashes(s)?,
        _ => HashSet::new(),
    };
    let mut faulty = false;
    let mut files = Vec::new();
    for file in photograph::expand(&arguments.photos) {
        match file {
            Ok(f) => files.push(f),
            Err(e) => {
                tell(&e);
                faulty = true;
            }
        }
    }
    // One of them may be known: then all belong to its picture. Those that can't be opened are
    // told below.
    let mut joins = match &store {
        Some(s) => {
            let known = files.iter().flat_map(|f| photograph::identity(f));
            s.picture_with(&known.collect::<Vec<_>>())?
        }
        None => None,
    };
    let bar = progress(files.len());
    let mut done: Vec<ReadPhotograph> = Vec::new();
    let mut recorded: Vec<Vec<MarkId>> = Vec::new();
    let mut album = Album::default();
    let several = files.len() > 1 || joins.is_some();
    for file in &files {
        bar.set_message(file.display().to_string());
        let read = photograph::open(file).and_then(|photo| {
            if known.contains(&photo.sha256) {
                return Ok(None);
            }
            let (photograph, kept) = match &store {
                Some(s) => s.marks_on(&photo.sha256)?,
                None => (0, Vec::new()),
            };
            let before = Before { photograph, kept };
            let read = run::read_beside(&photo, &before, &recognisers, &index)?;
            if several {
                let outlines: Vec<Quad> = read.marks.iter().map(|m| m.outline).collect();
                album.add(&photo, &outlines);
            }
            Ok(Some(read))
        });
        match read {
            Ok(None) => {}
            Ok(Some(read)) => {
                if let Some(store) = &mut store {
                    recorded.push(keep(store, &arguments, &read, &mut joins)?);
                }
                done.push(read);
            }
            Err(e) => {
                bar.suspend(|| tell(&e));
                faulty = true;
            }
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    for recogniser in &recognisers.readers {
        if let Some(what) = recogniser.complaint() {
            eprintln!(
                "dorso: {}: {what}; run it by hand on a picture, or take it out of the settings.",
                recogniser.name()
            );
        }
    }
    if let Some(file) = &arguments.keep_run {
        super::seen_run::keep(file, &done)?;
    }
    let back = match &mut store {
        Some(store) => {
            let by = super::keeping::author(arguments.by.clone())?;
            let mut marks = Vec::new();
            for picture in pictures(store, &files)? {
                together::bring_together(store, picture, &mut album, &index, &by)?;
                marks.extend(store.marks(Some(picture))?);
            }
            together::as_kept(done, &recorded, &marks)
        }
        None => together::put_together(done, &album, &index),
    };
    if arguments.json {
        put_json(&contract::readings(&back))?;
    } else {
        put(&words(&back))?;
    }
    Ok(if faulty {
        Finished::WithFaults
    } else {
        Finished::Well
    })
}

/// Records one photograph as soon as it is read, so that breaking off loses none.
/// `joins`: the picture that the photographs named together belong to, once one is recorded.
fn keep(
    store: &mut SqliteStore,
    arguments: &Arguments,
    read: &ReadPhotograph,
    joins: &mut Option<i64>,
) -> Result<Vec<MarkId>> {
    let mut recorded = store.record_run(&Run {
        picture: arguments.picture.clone(),
        joins: *joins,
        suggested: common_name(&arguments.photos),
        by: super::keeping::author(arguments.by.clone())?,
        at: decisions::now(),
        program: run::PROGRAM.into(),
        photographs: vec![seen(read)],
    })?;
    *joins = Some(recorded.picture_id);
    for remark in recorded.remarks {
        eprintln!("dorso: {remark}.");
    }
    Ok(recorded.marks.swap_remove(0))
}

/// Pictures (numbers in the store) that these files show: those read now and those read before a run
/// was broken off.
fn pictures(store: &SqliteStore, files: &[PathBuf]) -> Result<BTreeSet<i64>> {
    let mut out = BTreeSet::new();
    for file in files {
        // One that can't be opened was told when its turn came.
        if let Ok(sha256) = photograph::identity(file) {
            out.extend(store.picture_with(&[sha256])?);
        }
    }
    Ok(out)
}

/// Photographs named together are one picture: a new one that the person didn't name is called
/// after the folder, or the first photograph.
fn common_name(photos: &[PathBuf]) -> Option<String> {
    photos.first().map(|p| {
        let name = if p.is_dir() {
            p.file_name()
        } else {
            p.file_stem()
        };
        name.map_or_else(
            || p.display().to_string(),
            |n| n.to_string_lossy().into_owned(),
        )
    })
}

pub(crate) fn seen(read: &ReadPhotograph) -> SeenPhotograph {
    SeenPhotograph {
        file: read.file.clone(),
        sha256: read.sha256.clone(),
        width: read.width,
        height: read.height,
        skew_degrees: read.skew_degrees,
        marks: read.marks.iter().cloned().map(SeenMark::from).collect(),
    }
}

fn hashes(store: &SqliteStore) -> Result<HashSet<String>> {
    Ok(store
        .pictures()?
        .into_iter()
        .flat_map(|p| p.photographs)
        .map(|p| p.sha256)
        .collect())
}

/// The lists named by the option, or the user's own, or the starter lists, ready for matching;
/// with the faults of rows that couldn't be used.
///
/// Chances as learnt from decisions in `store`.
///
/// # Errors
/// `Kind::Gazetteer` if the folder can't be read, `Kind::Store` if what was learnt can't be.
pub(crate) fn lists(dir: Option<&Path>, store: Option<&Path>) -> Result<(Index, Vec<Error>)> {
    let (lists, faults) = load(&gazetteer::locate(dir)?)?;
    let unusable = faults
        .iter()
        .filter(|f| f.severity == gazetteer::Severity::Unusable)
        .map(|f| {
            let row = f.row.map_or(String::new(), |r| format!(", row {r}"));
            let column = f
                .column
                .as_ref()
                .map_or(String::new(), |c| format!(", column \"{c}\""));
            Error::new(
                Kind::Gazetteer,
                format!("{}{row}{column}", f.file.display()),
                &f.what,
                &f.next,
            )
        })
        .collect();
    Ok((ready(lists, store)?, unusable))
}

/// Where what is made ready of lists is kept, beside the user's store; `None` where this machine names no place
/// for one.
pub(crate) fn kept() -> Option<PathBuf> {
    let own = decisions::default_path().ok()?;
    Some(crate::proposals::kept_beside(&own))
}

/// The lists with their faults; the rows of long ones as they were kept beside the user's store.
///
/// # Errors
/// `Kind::Gazetteer` if their folder can't be read.
pub(crate) fn load(
    place: &gazetteer::Place,
) -> Result<(gazetteer::Gazetteer, Vec<gazetteer::Fault>)> {
    let Some(folder) = kept() else {
        return place.load();
    };
    let (lists, faults, told) = place.load_kept(&folder)?;
    told.iter().for_each(tell);
    Ok((lists, faults))
}

/// The lists ready for matching, the long ones as they were kept beside the user's store; their
/// chances as learnt from decisions in `store`.
///
/// # Errors
/// `Kind::Store` if what was learnt can't be understood.
pub(crate) fn ready(lists: gazetteer::Gazetteer, store: Option<&Path>) -> Result<Index> {
    let index = match kept() {
        Some(folder) => {
            let (index, told) = Index::kept(lists, &folder);
            told.iter().for_each(tell);
            index
        }
        None => Index::new(lists),
    };
    Ok(match store {
        Some(store) => index.taught(learnt::held(&learnt::beside(store))?),
        None => index,
    })
}

/// A progress bar with time left on standard error, silent where that is no terminal.
pub(crate) fn progress(count: usize) -> ProgressBar {
    let bar = ProgressBar::new(count as u64);
    if let Ok(style) = ProgressStyle::with_template("{pos}/{len} {bar:30} {eta} left  {wide_msg}") {
        bar.set_style(style);
    }
    bar
}

/// The photographs, then each mark once.
fn words(back: &ReadBack) -> String {
    let mut out = String::new();
    for p in &back.photographs {
        let (file, n) = (p.file.display(), p.marks.len());
        let s = if n == 1 { "" } else { "s" };
        out += &format!("{file} ({} × {} px, {n} mark{s})\n", p.width, p.height);
    }
    for m in &back.marks {
        out += &mark_words(m, back);
    }
    out.push('\n');
    out
}

fn mark_words(m: &ReadTogether, back: &ReadBack) -> String {
    let kind = m.seen.kind.as_str().replace('_', " ");
    let mut out = format!("\n  {}  {kind}", m.mark);
    if back.photographs.len() > 1 {
        let name = |s: &(usize, usize, f64)| {
            let file = back.photographs[s.0].file.file_name();
            file.map_or_else(String::new, |n| n.to_string_lossy().into_owned())
        };
        let on: Vec<String> = m.sightings.iter().map(name).collect();
        out += &format!(", on {}", on.join(", "));
    }
    out.push('\n');
    if let Some((part, chance)) = m.seen.bearing.as_ref().and_then(|b| b.on.first()) {
        out += &format!("     {:>5}  on the {}", two(*chance), part.as_str());
        if let Some((over, chance)) = m.seen.bearing.as_ref().and_then(|b| b.bridges)
            && chance >= 0.05
        {
            out += &format!(", {} over the {} too", two(chance), over.as_str());
        }
        out.push('\n');
    }
    if m.seen.reading.lines.is_empty() {
        out += "      not read\n";
    }
    for l in &m.seen.reading.lines {
        out += &format!("     {:>5}  {}\n", two(l.confidence), l.leiden);
    }
    for (photo, n, _) in &m.sightings {
        for s in &back.photographs[*photo].marks[*n].reading.shared {
            let (line, holder) = (&s.line.leiden, &s.held_by);
            out += &format!("            {line} (read more surely in {holder})\n");
        }
    }
    if !m.seen.statements.is_empty() {
        out += &format!("      states\n{}", super::fields::told(&m.seen.statements));
    }
    for r in &m.seen.rivals {
        let shown: Vec<_> = r.shown().take(3).collect();
        for q in &shown {
            let years = match (q.not_before.as_str(), q.not_after.as_str()) {
                ("", "") => String::new(),
                (a, b) => format!(", {a}–{b}"),
            };
            out += &format!(
                "   → {:>5}  {} ({}/{}{years})\n",
                two(q.probability),
                q.name,
                q.list,
                q.entry
            );
        }
        if !shown.is_empty() {
            out += &format!(
                "     {:>5}  on none of the rows of {}\n",
                two(r.unlisted),
                r.list
            );
        }
    }
    for why in &m.because {
        out += &format!("    ? {why}\n");
    }
    out
}
