//! Marks that a person says are monograms: their letters, and who may be meant.

use super::PROGRAM;
use crate::decisions::{self, Design, KeptMark, KeptPhotograph, MarkId, Sign, SqliteStore, Store};
use crate::error::Result;
use crate::geometry::Quad;
use crate::marks::MarkKind;
use crate::monogram::network::{self, Lies};
use crate::monogram::{Described, Known, Seen};
use crate::proposals::{Beside, Index, Rivals, date_beside};
use crate::readings::Line;
use image::RgbImage;

/// Looks at a monogram on its photograph. Where nothing is seen upright it is looked at in every turn.
///
/// * `lines`: as readers of lines read the mark: a date among them tells when.
///
/// # Errors
/// `Kind::Recogniser` if the network can't be run, which a sound build doesn't show.
pub fn seen(photograph: &RgbImage, outline: &Quad, lines: &[Line], index: &Index) -> Result<Sign> {
    let framed = network::framed_on(photograph, outline);
    let upright = network::see(&framed, Lies::Upright)?;
    let seen = match upright.has_letters() {
        true => upright,
        false => network::see(&framed, Lies::AnyTurn)?,
    };
    let known = Known {
        years: lines.iter().find_map(date_beside),
        ..Known::default()
    };
    let weighed = index.initials(&seen.letters_meant()?, &known, seen.other());
    Ok(Sign {
        rivals: weighed.into_iter().collect(),
        seen,
    })
}

/// Looks at each sighting of a mark that is said to be a monogram now; nothing where it is something else. Says whether
/// a photograph was at hand where one was wanted.
///
/// * `on`: the sign within an outline on a photograph; `None` where that isn't at hand.
///
/// # Errors
/// Those of `on`; `Kind::Store` if the store can't be written.
pub fn look(
    store: &mut SqliteStore,
    mark: &KeptMark,
    photographs: &[KeptPhotograph],
    on: impl Fn(&KeptPhotograph, &Quad, &[Line]) -> Result<Option<Sign>>,
) -> Result<bool> {
    if mark.kind() != MarkKind::Monogram {
        return Ok(true);
    }
    let mut signs = Vec::new();
    for s in &mark.sightings {
        let seen = s.seen();
        let shown = photographs.iter().find(|p| p.id == s.photograph);
        let Some(p) = shown else { continue };
        let sign = on(p, &seen.outline, &seen.reading.lines)?;
        signs.extend(sign.map(|sign| (s.look().id, sign)));
    }
    store.keep_signs(mark, &signs, &decisions::now(), PROGRAM)?;
    Ok(!signs.is_empty())
}

/// A monogram that is kept, beside a new one.
#[derive(Debug)]
pub struct Like {
    /// What it is.
    pub of: Of,
    /// -1 to 1.
    pub likeness: f64,
    /// Chance that both are one design; told of the likest alone.
    pub same: Option<f64>,
}

/// Where a monogram is kept.
#[derive(Debug)]
pub enum Of {
    /// A mark that is said to be one.
    Mark(Box<KeptMark>),
    /// The user's own collection.
    Collection(Box<Design>),
}

/// The likest of the monograms that are kept, at most so many, the likest first.
///
/// * `but`: a mark that isn't compared.
///
/// # Errors
/// `Kind::Store` if the store can't be read.
pub fn likest(
    store: &SqliteStore,
    seen: &Seen,
    but: Option<MarkId>,
    most: usize,
) -> Result<Vec<Like>> {
    let mut marks = store.seen_signs()?;
    marks.retain(|m| Some(m.0) != but);
    let mut designs: Vec<Option<Design>> = store.designs()?.into_iter().map(Some).collect();
    let kept = designs.iter().flatten().map(|d| &d.seen);
    let found = seen.alike(marks.iter().map(|m| &m.1).chain(kept), most);
    let mut out = Vec::new();
    for like in found {
        let of = match marks.get(like.at) {
            Some((id, _)) => {
                // It may be said to be something else by now
                let mark = store.mark(*id)?;
                (mark.kind() == MarkKind::Monogram).then(|| Of::Mark(Box::new(mark)))
            }
            None => designs[like.at - marks.len()]
                .take()
                .map(|d| Of::Collection(Box::new(d))),
        };
        out.extend(of.map(|of| Like {
            of,
            likeness: like.likeness,
            same: like.same,
        }));
    }
    Ok(out)
}

/// Weighs a typed reading: of a monogram its letters as initials, where it is written as `dorso monogram` takes them.
pub fn typed(
    index: &Index,
    kind: MarkKind,
    text: &str,
    lines: &[Line],
    beside: &Beside,
) -> Vec<Rivals> {
    let described = match kind {
        MarkKind::Monogram => Described::parse(&text.replace(['/', '\n'], " ")).ok(),
        _ => None,
    };
    let Some(described) = described else {
        return index.weigh_beside(lines, None, beside);
    };
    let known = Known {
        years: described.years,
        ..Known::default()
    };
    let weighed = index.initials(&described.letters_meant(), &known, 0.0);
    weighed.into_iter().collect()
}
