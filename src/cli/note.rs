//! `dorso note`: writes the provenance note of a picture.

use super::keeping::{self, StoreOption};
use super::{Finished, Outcome, put, tell};
use crate::dating::clues::Clues;
use crate::decisions::{KeptMark, Picture, SqliteStore, Store, now};
use crate::error::{Error, Kind, Result};
use crate::exports;
use crate::gazetteer::{self, Place};
use crate::note::{Crops, Cut, Export, Html, Kept, Language, Length, Markdown, Note, blocks, cut};
use crate::run;
use crate::signs;
use crate::written::Beside;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The picture (its name or the beginning of it); may be left out if the store holds only one
    #[arg(value_name = "PICTURE")]
    picture: Option<String>,
    /// A file (.md, .html, .pdf or .docx), or a folder for both with the pictures of the marks; else standard
    /// output
    #[arg(long, value_name = "DIR|FILE")]
    out: Option<PathBuf>,
    /// How long: file (everything), catalogue (an entry), label (a few lines)
    #[arg(long, value_name = "file|catalogue|label", default_value = "file")]
    length: String,
    /// Language: en-GB, en-US; fr and de for the entry of a catalogue and for a label
    #[arg(long, value_name = "TAG", default_value = "en-GB")]
    language: String,
    /// Only Markdown
    #[arg(long, conflicts_with = "html")]
    markdown: bool,
    /// Only one self-contained HTML file
    #[arg(long)]
    html: bool,
    /// A Word document with the pictures
    #[arg(long, conflicts_with_all = ["html", "markdown"], requires = "out")]
    docx: bool,
    /// A PDF with the pictures
    #[arg(long, conflicts_with_all = ["html", "markdown", "docx"], requires = "out")]
    pdf: bool,
    /// Write over a note that is there already
    #[arg(long)]
    replace: bool,
    /// Folder of the lists, for dating clues of your own (clues.csv)
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    #[command(flatten)]
    store: StoreOption,
}

/// Where the note goes.
enum Goal {
    Output,
    File(PathBuf),
    Folder(PathBuf),
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let mut store = arguments.store.open()?;
    let picture = only_or_named(&store, arguments.picture.as_deref())?;
    let length = length(&arguments.length)?;
    let language = language(&arguments.language, length)?;
    let goal = goal(&arguments)?;
    let clues = own_clues(arguments.gazetteer.as_deref())?;
    keeping::hold_changed(&mut store, &clues, Some(picture.id))?;
    let marks = store.marks(Some(picture.id))?;
    let kept = Kept {
        picture: &picture,
        marks: &marks,
        journal: &store.journal_of_picture(picture.id)?,
        observations: &store.observations(Some(picture.id))?,
        language,
    };
    let mut note = kept.write(&clues, &now())?;
    run::tell(&mut note, &store, &marks)?;
    for (ending, asked) in [("docx", arguments.docx), ("pdf", arguments.pdf)] {
        if asked || matches!(&goal, Goal::File(f) if ends(f, &[ending])) {
            return sheet(
                &note,
                (&picture, &marks),
                (length, ending),
                goal,
                &arguments,
            );
        }
    }
    if length != Length::File {
        return short(&note, &picture, length, goal, &arguments);
    }
    let html = match &goal {
        Goal::File(f) => arguments.html || is_html(f),
        _ => arguments.html,
    };
    // Markdown on its own shows no pictures, so none are cut.
    let crops = match (&goal, html) {
        (Goal::Output | Goal::File(_), false) => Crops::default(),
        _ => cut(&picture, &marks),
    };
    let missing = missing(&crops);
    match goal {
        Goal::Output if html => put(&Html.text(&note, &crops))?,
        Goal::Output => put(&Markdown::default().text(&note, &crops))?,
        Goal::File(file) => {
            let text = if html {
                Html.text(&note, &crops)
            } else {
                Markdown::default().text(&note, &crops)
            };
            may_write(&file, arguments.replace)?;
            write(&file, signs::shown(&text).as_bytes(), arguments.replace)?;
            put(&format!("{}\n", file.display()))?;
        }
        Goal::Folder(dir) => put(&folder(&dir, &note, &picture, &crops, &arguments)?)?,
    }
    told_missing(&picture, &missing)
}

/// Says which pictures are left out.
fn told_missing(picture: &Picture, missing: &[String]) -> Outcome {
    for why in missing {
        tell(&Error::new(
            Kind::Photograph,
            format!("note of \"{}\"", picture.name),
            why.trim_end_matches('.'),
            "the rest of the note is written",
        ));
    }
    Ok(if missing.is_empty() {
        Finished::Well
    } else {
        Finished::WithFaults
    })
}

/// The length of that name.
pub(super) fn length(name: &str) -> Result<Length> {
    Length::parse(name).ok_or_else(|| {
        Error::new(
            Kind::Usage,
            format!("--length {name}"),
            "there is no note of this length",
            "give file, catalogue or label",
        )
    })
}

/// The language of that tag, if a note of this length is written in it.
pub(super) fn language(tag: &str, length: Length) -> Result<Language> {
    let fault =
        |what: &str, next: &str| Error::new(Kind::Usage, format!("--language {tag}"), what, next);
    let known = Language::parse(tag).ok_or_else(|| {
        fault(
            "no note is written in this language",
            "give en-GB, en-US, fr or de",
        )
    })?;
    if length == Length::File && !known.is_english() {
        return Err(fault(
            "the note for the file is written in English only",
            "give --length catalogue or --length label, or en-GB or en-US",
        ));
    }
    Ok(known)
}

/// The shorter lengths: text only, no pictures of marks.
fn short(note: &Note, picture: &Picture, length: Length, goal: Goal, a: &Arguments) -> Outcome {
    let set = blocks(note, length);
    let html = || Html::blocks(note.entry.language, &note.picture, &set);
    let told = match goal {
        Goal::Output if a.html => html(),
        Goal::Output => Markdown::blocks(&set),
        Goal::File(file) => {
            let text = if a.html || is_html(&file) {
                html()
            } else {
                Markdown::blocks(&set)
            };
            write_text(&file, &text, a.replace)?;
            format!("{}\n", file.display())
        }
        Goal::Folder(dir) => {
            let name = format!("{}-{}", file_name(picture), a.length);
            let mut files = Vec::new();
            if !a.html {
                files.push((dir.join(format!("{name}.md")), Markdown::blocks(&set)));
            }
            if !a.markdown {
                files.push((dir.join(format!("{name}.html")), html()));
            }
            for (file, _) in &files {
                may_write(file, a.replace)?;
            }
            let mut told = String::new();
            for (file, text) in &files {
                write(file, signs::shown(text).as_bytes(), a.replace)?;
                let _ = writeln!(told, "{}", file.display());
            }
            told
        }
    };
    put(&told)?;
    Ok(Finished::Well)
}

/// The note as a Word document or a PDF; the one for the file with the pictures of the marks.
fn sheet(
    note: &Note,
    (picture, marks): (&Picture, &[KeptMark]),
    (length, ending): (Length, &str),
    goal: Goal,
    a: &Arguments,
) -> Outcome {
    let crops = match length {
        Length::File => cut(picture, marks),
        _ => Crops::default(),
    };
    let name = match length {
        Length::File => file_name(picture),
        _ => format!("{}-{}", file_name(picture), a.length),
    };
    let file = match goal {
        Goal::File(file) => file,
        Goal::Folder(dir) => dir.join(format!("{name}.{ending}")),
        // The options ask for --out
        Goal::Output => PathBuf::from(format!("{name}.{ending}")),
    };
    may_write(&file, a.replace)?;
    write(
        &file,
        &exports::sheet(note, &crops, length, ending)?,
        a.replace,
    )?;
    put(&format!("{}\n", file.display()))?;
    told_missing(picture, &missing(&crops))
}

/// The picture of that name, or the only one.
pub(super) fn only_or_named(store: &SqliteStore, name: Option<&str>) -> Result<Picture> {
    match name {
        Some(name) => keeping::picture(store, name),
        None => only_picture(store),
    }
}

/// Writes a text of the person's; what is there already only on request.
pub(super) fn write_text(file: &Path, text: &str, replace: bool) -> Result<()> {
    write(file, signs::shown(text).as_bytes(), replace)
}

fn only_picture(store: &SqliteStore) -> Result<Picture> {
    let all = store.names()?;
    if let [(only, _)] = all[..]
        && let Some(picture) = store.picture(only)?
    {
        return Ok(picture);
    }
    let names = all.iter().take(8).map(|p| format!("\"{}\"", p.1));
    let names: Vec<String> = names.collect();
    Err(match all.len() {
        0 => Error::new(
            Kind::Store,
            "store",
            "it holds no pictures",
            "read photographs first (dorso read PHOTO...)",
        ),
        n => Error::new(
            Kind::Usage,
            "PICTURE",
            format!("the store holds {n} pictures"),
            format!("name one of {}", names.join(", ")),
        ),
    })
}

fn ends(file: &Path, names: &[&str]) -> bool {
    file.extension()
        .is_some_and(|e| names.iter().any(|n| e.eq_ignore_ascii_case(n)))
}

fn is_html(file: &Path) -> bool {
    ends(file, &["html", "htm"])
}

fn goal(a: &Arguments) -> Result<Goal> {
    let Some(out) = &a.out else {
        return Ok(Goal::Output);
    };
    if out.is_dir() {
        return Ok(Goal::Folder(out.clone()));
    }
    let kinds = [
        (a.markdown, ends(out, &["md", "markdown"])),
        (a.html, is_html(out)),
        (a.docx, ends(out, &["docx"])),
        (a.pdf, ends(out, &["pdf"])),
    ];
    let known = kinds.iter().any(|k| k.1);
    if known && kinds.iter().any(|(asked, is)| *asked && !is) {
        return Err(Error::new(
            Kind::Usage,
            out.display(),
            "the ending of the file and the option name two formats",
            "leave the option out, or give the file the other ending",
        ));
    }
    Ok(if known {
        Goal::File(out.clone())
    } else {
        Goal::Folder(out.clone())
    })
}

pub(super) fn own_clues(dir: Option<&Path>) -> Result<Clues> {
    let folder = match gazetteer::locate(dir)? {
        Place::Folder(f) => Some(f),
        _ => None,
    };
    let (clues, faults) = Clues::with_own(folder.as_deref())?;
    faults.iter().for_each(tell);
    Ok(clues)
}

/// Why pictures are left out, each reason once.
fn missing(crops: &Crops) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for cut in crops.backs.values().chain(crops.marks.values()) {
        if let Cut::Missing(why) = cut
            && !out.contains(why)
        {
            out.push(why.clone());
        }
    }
    out
}

/// Writes the files of a note into a folder; returns their paths, one a line.
fn folder(
    dir: &Path,
    note: &Note,
    picture: &Picture,
    crops: &Crops,
    a: &Arguments,
) -> Result<String> {
    let name = file_name(picture);
    let text = |text: &str| signs::shown(text).into_owned().into_bytes();
    let mut files: Vec<(PathBuf, Vec<u8>)> = Vec::new();
    if !a.html {
        let pictures = format!("{name}-marks");
        for (id, cut) in &crops.marks {
            if let Cut::Jpeg { bytes, .. } = cut {
                files.push((dir.join(&pictures).join(format!("{id}.jpg")), bytes.clone()));
            }
        }
        if let Some(chart) = &note.evidence.chart {
            let file = dir.join(&pictures).join("dates.svg");
            files.push((file, chart.clone().into_bytes()));
        }
        let markdown = Markdown {
            pictures: Some(pictures),
        };
        let file = dir.join(format!("{name}.{}", markdown.extension()));
        files.push((file, text(&markdown.text(note, crops))));
    }
    if !a.markdown {
        let file = dir.join(format!("{name}.{}", Html.extension()));
        files.push((file, text(&Html.text(note, crops))));
    }
    for (file, _) in &files {
        may_write(file, a.replace)?;
    }
    let mut told = String::new();
    for (file, bytes) in &files {
        write(file, bytes, a.replace)?;
        if file.extension().is_some_and(|e| e != "jpg" && e != "svg") {
            let _ = writeln!(told, "{}", file.display());
        }
    }
    Ok(told)
}

/// A picture's name as a file's: letters and figures, all else a hyphen.
pub(super) fn file_name(picture: &Picture) -> String {
    let mut out = String::new();
    for c in picture.name.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
    }
    let out: String = out.trim_end_matches('-').chars().take(60).collect();
    if out.is_empty() {
        format!("picture-{}", picture.id)
    } else {
        out
    }
}

/// A note may have been edited by hand: it is only replaced on request.
pub(super) fn may_write(file: &Path, replace: bool) -> Result<()> {
    match replace || !file.exists() {
        true => Ok(()),
        false => Err(there(file)),
    }
}

/// Writes all of a file or nothing; over one that is there, or came meanwhile, only on request.
pub(super) fn write(file: &Path, bytes: &[u8], replace: bool) -> Result<()> {
    use std::io::Write;
    let beside = Beside::begin(file).and_then(|mut b| b.write_all(bytes).map(|()| b));
    settle(file, beside, replace)
}

/// Puts what was written beside it in a file's place.
pub(super) fn settle(file: &Path, beside: std::io::Result<Beside>, replace: bool) -> Result<()> {
    let put = beside.and_then(|b| match replace {
        true => b.put(),
        false => b.put_new(),
    });
    put.map_err(|e| match e.kind() {
        std::io::ErrorKind::AlreadyExists if !replace => there(file),
        _ => Error::new(
            Kind::Output,
            file.display(),
            format!("it can't be written ({e})"),
            "make room or allow writing there, or name another place with --out",
        ),
    })
}

fn there(file: &Path) -> Error {
    Error::new(
        Kind::Output,
        file.display(),
        "this file is there already and is left as it is",
        "give --replace to write over it, or another place with --out",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_s_name_never_leads_out_of_the_folder() {
        let named = |name: &str| {
            file_name(&Picture {
                id: 7,
                name: name.into(),
                photographs: Vec::new(),
            })
        };
        assert_eq!(named("The Mill at Askrigg"), "the-mill-at-askrigg");
        assert_eq!(named("../../etc/passwd"), "etc-passwd");
        assert_eq!(named("..."), "picture-7");
        assert_eq!(named("Été, n° 2"), "été-n-2");
    }
}
