//! Monograms that are kept: the user's own collection and marks that are monograms, beside a new one.

use super::{Arguments, OnPhotograph};
use crate::cli::contract::short;
use crate::cli::keeping::usage;
use crate::cli::{Finished, Outcome, put, put_json};
use crate::decisions::{Design, SqliteStore, two};
use crate::error::{Error, Kind, Result};
use crate::monogram::Seen;
use crate::run::signs::{self, Like, Of};
use image::ImageFormat;
use serde::Serialize;
use std::io::Cursor;

/// Kept monograms that are told beside a new one.
const ALIKE: usize = 5;

/// One that is like a new one.
#[derive(Debug, Serialize)]
pub(super) struct Likest {
    /// The mark, or the number in the collection.
    #[serde(skip_serializing_if = "Option::is_none")]
    mark: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    kept: Option<i64>,
    /// Whose it is: as a person said, empty where nobody did.
    artist: String,
    /// Picture of the mark, or how the artist is known.
    source: String,
    likeness: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    same_design: Option<f64>,
}

impl Likest {
    fn of(like: &Like) -> Likest {
        let (mark, kept, artist, source) = match &like.of {
            Of::Mark(m) => (
                Some(m.id.to_string()),
                None,
                m.named_entries().join(", "),
                m.picture.clone(),
            ),
            Of::Collection(d) => (None, Some(d.id), d.artist.clone(), d.source.clone()),
        };
        Likest {
            mark,
            kept,
            artist,
            source,
            likeness: short(like.likeness),
            same_design: like.same.map(short),
        }
    }

    pub(super) fn words(&self) -> String {
        let same = self.same_design.map_or(String::new(), |p| {
            format!(": the same design with a chance of {}", two(p))
        });
        let which = match (&self.mark, self.kept) {
            (Some(mark), _) => format!("mark {mark} of {}", self.source),
            (None, n) => format!("number {} of your collection", n.unwrap_or(0)),
        };
        let artist = match (&self.mark, self.artist.as_str()) {
            (_, "") => String::new(),
            (Some(_), artist) => format!(", {artist}"),
            (None, artist) => format!(", {artist} ({})", self.source),
        };
        format!("Like it: {which}{artist}{same}.\n")
    }
}

/// Lists the collection, or takes one out of it.
pub(super) fn run(arguments: &Arguments) -> Outcome {
    let mut store = arguments.store.open()?;
    if let Some(id) = arguments.drop {
        store.drop_design(id, &arguments.author.author()?)?;
        put(&format!(
            "Number {id} is out of your collection; the store keeps what it was.\n"
        ))?;
        return Ok(Finished::Well);
    }
    let all = store.designs()?;
    if arguments.json {
        let told = all.iter().map(|d| {
            serde_json::json!({ "number": d.id, "artist": d.artist, "source": d.source, "file": d.file })
        });
        put_json(
            &serde_json::json!({ "format": "dorso.collection/1", "kept": told.collect::<Vec<_>>() }),
        )?;
        return Ok(Finished::Well);
    }
    let mut out = String::new();
    for d in &all {
        out += &format!("{:>5}  {} ({})\n", d.id, d.artist, d.source);
    }
    if all.is_empty() {
        out += "No monogram is kept yet: dorso monogram --picture PHOTO --keep ARTIST --source TEXT keeps one.\n";
    }
    put(&out)?;
    Ok(Finished::Well)
}

/// Keeps a monogram in the collection.
pub(super) fn keep(found: OnPhotograph, artist: &str, arguments: &Arguments) -> Outcome {
    let source = arguments.source.as_deref().unwrap_or("").trim();
    for (name, text) in [("--keep", artist.trim()), ("--source", source)] {
        if text.is_empty() {
            return Err(usage(
                name,
                "it is empty",
                "say whose monogram it is and how that is known",
            ));
        }
    }
    let mut picture = Cursor::new(Vec::new());
    found
        .framed
        .write_to(&mut picture, ImageFormat::Png)
        .map_err(|e| {
            Error::new(
                Kind::Photograph,
                found.photo.file.display(),
                e,
                "try another copy of the picture",
            )
        })?;
    let file = std::path::absolute(&found.photo.file).unwrap_or_else(|_| found.photo.file.clone());
    let design = Design {
        id: 0,
        artist: artist.trim().to_owned(),
        source: source.to_owned(),
        file: file.display().to_string(),
        sha256: found.photo.sha256,
        picture: picture.into_inner(),
        seen: found.seen,
    };
    let mut store = SqliteStore::open(&arguments.store.file()?)?;
    let id = store.add_design(&design, &arguments.author.author()?)?;
    let again = arguments.store.again();
    put(&format!(
        "Kept as number {id} of your collection: {} ({}).\nTake it out with: dorso monogram --drop {id}{again}\n",
        design.artist, design.source
    ))?;
    Ok(Finished::Well)
}

/// The likest of those that are kept; none where there is no store.
pub(super) fn likest(seen: &Seen, arguments: &Arguments) -> Result<Vec<Likest>> {
    if !arguments.store.file()?.exists() {
        return Ok(Vec::new());
    }
    let store = arguments.store.open()?;
    let found = signs::likest(&store, seen, None, ALIKE)?;
    Ok(found.iter().map(Likest::of).collect())
}
