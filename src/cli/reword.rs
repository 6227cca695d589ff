//! `dorso reword`: a passage of the note in a person's own words.

use super::keeping::{self, AuthorOptions, StoreOption};
use super::note::{language, length, own_clues};
use super::{Finished, Outcome, put, put_json};
use crate::decisions::{Store, now};
use crate::note::{Kept, Page, page, reword};
use std::fmt::Write as _;
use std::path::PathBuf;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The picture (its name or the beginning of it)
    #[arg(value_name = "PICTURE")]
    picture: String,
    /// The passage by its key; none: all passages of the note, with their keys
    #[arg(value_name = "PASSAGE", requires = "to")]
    passage: Option<String>,
    /// The passage as it is to stand, printed as your words from now on (dorso observe --undo takes it
    /// back)
    #[arg(long, value_name = "TEXT", requires = "passage")]
    to: Option<String>,
    /// In the note of this length: file, catalogue, label
    #[arg(long, value_name = "file|catalogue|label", default_value = "catalogue")]
    length: String,
    /// In the note of this language: en-GB, en-US, fr, de
    #[arg(long, value_name = "TAG", default_value = "en-GB")]
    language: String,
    /// Folder of the lists, for dating clues of your own (clues.csv)
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    #[command(flatten)]
    store: StoreOption,
    #[command(flatten)]
    author: AuthorOptions,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(crate) fn run(a: Arguments) -> Outcome {
    let length = length(&a.length)?;
    let language = language(&a.language, length)?;
    let mut store = a.store.open()?;
    let picture = keeping::picture(&store, &a.picture)?;
    let clues = own_clues(a.gazetteer.as_deref())?;
    let (marks, journal) = (
        store.marks(Some(picture.id))?,
        store.journal_of_picture(picture.id)?,
    );
    let mut observations = store.observations(Some(picture.id))?;
    let write = |observations: &_| {
        let kept = Kept {
            picture: &picture,
            marks: &marks,
            journal: &journal,
            observations,
            language,
        };
        kept.write(&clues, &now())
    };
    if let (Some(key), Some(words)) = (&a.passage, &a.to) {
        let sight = reword(&write(&observations)?, length, key, words)?;
        let kept = store.observe(picture.id, &sight, &a.author.author()?)?;
        observations.push(kept);
    }
    let mut page = page(&write(&observations)?, length);
    let asked = |key: &str| a.passage.as_deref().is_none_or(|p| p == key);
    page.passages.retain(|p| asked(&p.key));
    match a.json {
        true => put_json(&told_json(&page))?,
        false => put(&told(&page))?,
    }
    Ok(Finished::Well)
}

fn told(page: &Page) -> String {
    let mut out = String::new();
    for p in &page.passages {
        match &p.worded {
            None => {
                let _ = writeln!(out, "{}  {}", p.key, p.written);
            }
            Some((x, _)) => {
                let _ = writeln!(out, "{}  {} [{}, {}]", p.key, x.words, x.by, x.id);
                let now = match p.written.is_empty() {
                    true => "nothing",
                    false => &p.written,
                };
                let _ = writeln!(out, "    the program writes: {now}");
                if let Some(notice) = p.notice() {
                    let _ = writeln!(
                        out,
                        "    the program wrote then: {}\n    {notice}",
                        x.before
                    );
                }
            }
        }
    }
    out
}

fn told_json(page: &Page) -> serde_json::Value {
    let one = |p: &crate::note::Passage| {
        let worded = p.worded.as_ref().map(|(x, _)| {
            serde_json::json!({
                "number": x.id, "by": x.by, "at": x.at, "words": x.words, "before": x.before,
                "notice": p.notice(),
            })
        });
        serde_json::json!({ "passage": p.key, "written": p.written, "worded": worded })
    };
    let passages: Vec<_> = page.passages.iter().map(one).collect();
    serde_json::json!({ "format": "dorso.passages/1", "passages": passages })
}
