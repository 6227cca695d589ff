//! The same mark on other pictures: proposed with its source, never merged.

use crate::decisions::{KeptMark, MarkId, Picture, SqliteStore};
use crate::enhance;
use crate::error::Result;
use crate::marks::{self, Mark};
use crate::note::{Basis, Note, Sentence, Standing};
use crate::proposals::Wordings;
use image::{RgbImage, imageops};

/// Least chance by the wording.
const LEAST: f64 = 0.8;

/// Most that are told of one mark.
const MOST: usize = 3;

/// Longer side of the pictures that are compared, px.
const SIDE: u32 = 600;

/// A mark of another picture that may be a copy of the same label.
#[derive(Debug, Clone, PartialEq)]
pub struct Elsewhere {
    /// The mark.
    pub mark: MarkId,
    /// Its picture.
    pub picture: String,
    /// Its lines.
    pub reads: Vec<String>,
    /// Whether a person read it so.
    pub settled: bool,
    /// Chance by the wording.
    pub chance: f64,
    /// Whether both look alike; `None`: not compared, or a photograph isn't at hand.
    pub looks_alike: Option<bool>,
}

impl Elsewhere {
    /// The proposal as a sentence.
    pub fn words(&self) -> String {
        let by = if self.settled {
            "as a person read it"
        } else {
            "as the program read it"
        };
        format!(
            "{}; that one reads “{}” ({by})",
            self.short(),
            self.reads.join(" / ")
        )
    }

    /// The same without what the other one reads, which the note of its picture has.
    pub fn short(&self) -> String {
        let look = match self.looks_alike {
            Some(true) => "; both look alike too",
            Some(false) => "; by their pictures this isn't to be seen",
            None => "",
        };
        format!(
            "It may be the same label as {} of “{}”: chance {} by the wording{look}",
            self.mark,
            self.picture,
            crate::decisions::two(self.chance)
        )
    }
}

/// Whether copies of a mark would help: what a person read or named is known.
pub fn seeks_copies(mark: &KeptMark) -> bool {
    let s = &mark.settled;
    s.not_a_mark.is_none() && s.lettering.is_none() && s.named.is_empty()
}

/// For each mark of a picture those of other pictures that may be copies of it, by their wording.
///
/// * `own`: marks of one picture.
///
/// # Errors
/// `Kind::Store` if the store can't be read.
pub fn elsewhere(store: &SqliteStore, own: &[KeptMark]) -> Result<Vec<(MarkId, Vec<Elsewhere>)>> {
    let open: Vec<&KeptMark> = own.iter().filter(|m| seeks_copies(m)).collect();
    let mut others = store.worded_like(&open)?;
    others.retain(|m| own.iter().all(|o| o.picture != m.picture));
    if open.is_empty() || others.is_empty() {
        return Ok(Vec::new());
    }
    let texts: Vec<Vec<String>> = others.iter().map(|m| m.lines.clone()).collect();
    let wordings = Wordings::new(&texts);
    let found = |m: &KeptMark| {
        let like = wordings.like(&m.latest().reading.lines, LEAST);
        like.iter()
            .take(MOST)
            .map(|&(i, chance)| Elsewhere {
                mark: others[i].mark,
                picture: others[i].picture.clone(),
                reads: others[i].lines.clone(),
                settled: others[i].by_person,
                chance,
                looks_alike: None,
            })
            .collect::<Vec<_>>()
    };
    let told = open.iter().map(|m| (m.id, found(m)));
    Ok(told.filter(|(_, f)| !f.is_empty()).collect())
}

/// Adds to a note's open questions where a copy of a mark may be on another picture.
///
/// # Errors
/// As of [`elsewhere`].
pub fn tell(note: &mut Note, store: &SqliteStore, own: &[KeptMark]) -> Result<()> {
    for (mark, found) in elsewhere(store, own)? {
        let noted = note.marks.iter_mut().find(|m| m.id == mark.to_string());
        if let Some(m) = noted.filter(|m| m.standing == Standing::Open) {
            m.open.extend(found.iter().map(|e| Sentence {
                words: format!("{}.", e.short()),
                basis: Basis::Record,
            }));
        }
    }
    Ok(())
}

/// What may be copies of one mark, with the marks themselves and the pictures of all; whether they look alike is still
/// to be seen with [`look`].
#[derive(Debug, Clone)]
pub struct Copies {
    /// What is told of each.
    pub found: Vec<Elsewhere>,
    /// The marks in the same order.
    pub marks: Vec<KeptMark>,
    /// The pictures of the mark and of these.
    pub pictures: Vec<Picture>,
}

/// What may be copies of a mark on other pictures.
///
/// # Errors
/// As of [`elsewhere`].
pub fn copies(store: &SqliteStore, mark: &KeptMark) -> Result<Copies> {
    let found = elsewhere(store, std::slice::from_ref(mark))?.into_iter();
    let found: Vec<Elsewhere> = found.flat_map(|(_, f)| f).collect();
    let ids: Vec<MarkId> = found.iter().map(|f| f.mark).collect();
    let marks = store.marks_of(&ids)?;
    let pictures = store.pictures_of(marks.iter().chain([mark]))?;
    Ok(Copies {
        found,
        marks,
        pictures,
    })
}

/// Sets whether a mark and those found for it look alike, where both photographs are at hand.
pub fn look(mark: &KeptMark, copies: &mut Copies) {
    if copies.found.is_empty() {
        return;
    }
    let Some(own) = flat(&copies.pictures, mark) else {
        return;
    };
    for f in &mut copies.found {
        let other = copies.marks.iter().find(|m| m.id == f.mark);
        let other = other.and_then(|m| flat(&copies.pictures, m));
        f.looks_alike = other.map(|o| enhance::same_mark(&own, &[o]).is_some());
    }
}

/// A mark's picture, if its photograph is where it was.
fn flat(pictures: &[Picture], mark: &KeptMark) -> Option<RgbImage> {
    let photographs = pictures.iter().flat_map(|p| &p.photographs);
    let kept = photographs.into_iter().find(|p| p.id == mark.photograph)?;
    let photo = kept.open().ok()?;
    let seen = mark.latest();
    let flat = marks::flatten(
        &photo.picture,
        &Mark {
            kind: mark.kind(),
            outline: seen.outline,
            kind_chance: 1.0,
            lettering: seen.lettering,
            bearing: None,
        },
    );
    let (w, h) = flat.picture.dimensions();
    let part = (f64::from(SIDE) / f64::from(w.max(h))).min(1.0);
    let sized = |n: u32| ((f64::from(n) * part).round() as u32).max(1);
    let filter = imageops::FilterType::Triangle;
    Some(imageops::resize(&flat.picture, sized(w), sized(h), filter))
}
