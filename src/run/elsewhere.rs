//! The same mark on other pictures: proposed with its source, never merged.

use crate::decisions::{KeptMark, Lettering, MarkId, Picture};
use crate::enhance;
use crate::marks::{self, Mark};
use crate::note::{Basis, Note, Sentence, Standing};
use crate::photograph;
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
/// * `all`: marks of the store; those of the picture itself are left out.
pub fn elsewhere(own: &[KeptMark], all: &[KeptMark]) -> Vec<(MarkId, Vec<Elsewhere>)> {
    let open: Vec<&KeptMark> = own.iter().filter(|m| seeks_copies(m)).collect();
    let others: Vec<&KeptMark> = all
        .iter()
        .filter(|m| own.iter().all(|o| o.picture != m.picture))
        .filter(|m| m.settled.not_a_mark.is_none())
        .collect();
    if open.is_empty() || others.is_empty() {
        return Vec::new();
    }
    let reads: Vec<(Vec<String>, bool)> = others.iter().map(|m| reads(m)).collect();
    let texts: Vec<Vec<String>> = reads.iter().map(|r| r.0.clone()).collect();
    let wordings = Wordings::new(&texts);
    let found = |m: &KeptMark| {
        let like = wordings.like(&m.latest().reading.lines, LEAST);
        like.iter()
            .take(MOST)
            .map(|&(i, chance)| Elsewhere {
                mark: others[i].id,
                picture: others[i].picture.clone(),
                reads: reads[i].0.clone(),
                settled: reads[i].1,
                chance,
                looks_alike: None,
            })
            .collect::<Vec<_>>()
    };
    open.iter()
        .map(|m| (m.id, found(m)))
        .filter(|(_, f)| !f.is_empty())
        .collect()
}

/// Adds to a note's open questions where a copy of a mark may be on another picture.
///
/// `own` and `all`: as for [`elsewhere`].
pub fn tell(note: &mut Note, own: &[KeptMark], all: &[KeptMark]) {
    for (mark, found) in elsewhere(own, all) {
        let noted = note.marks.iter_mut().find(|m| m.id == mark.to_string());
        if let Some(m) = noted.filter(|m| m.standing == Standing::Open) {
            m.open.extend(found.iter().map(|e| Sentence {
                words: format!("{}.", e.short()),
                basis: Basis::Record,
            }));
        }
    }
}

/// The lines of a mark, a person's before the program's, and whether they are a person's.
fn reads(mark: &KeptMark) -> (Vec<String>, bool) {
    if let Some(Lettering::Read(lines)) = mark.settled.lettering.as_ref().map(|h| &h.value) {
        let typed = crate::readings::from_typed(&lines.join("\n")).unwrap_or_default();
        return (typed.into_iter().map(|l| l.text).collect(), true);
    }
    let lines = mark.latest().reading.lines.iter();
    (lines.map(|l| l.text.clone()).collect(), false)
}

/// A mark and those found for it.
pub fn with_found<'m>(
    mark: &'m KeptMark,
    all: &'m [KeptMark],
    found: &[Elsewhere],
) -> impl Iterator<Item = &'m KeptMark> {
    let found = all.iter().filter(|m| found.iter().any(|f| f.mark == m.id));
    std::iter::once(mark).chain(found)
}

/// Sets whether a mark and those found for it look alike, where both photographs are at hand.
///
/// * `pictures`: theirs.
/// * `all`: its marks.
pub fn look(pictures: &[Picture], mark: &KeptMark, all: &[KeptMark], found: &mut [Elsewhere]) {
    if found.is_empty() {
        return;
    }
    let Some(own) = flat(pictures, mark) else {
        return;
    };
    for f in found {
        let other = all.iter().find(|m| m.id == f.mark);
        let other = other.and_then(|m| flat(pictures, m));
        f.looks_alike = other.map(|o| enhance::same_mark(&own, &[o]).is_some());
    }
}

/// A mark's picture, if its photograph is where it was.
fn flat(pictures: &[Picture], mark: &KeptMark) -> Option<RgbImage> {
    let photographs = pictures.iter().flat_map(|p| &p.photographs);
    let kept = photographs.into_iter().find(|p| p.id == mark.photograph)?;
    let photo = kept
        .files
        .iter()
        .filter_map(|f| photograph::open(f).ok())
        .find(|p| p.sha256 == kept.sha256)?;
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
