//! The stages one behind the other.

use crate::dating::clues::Clues;
use crate::decisions::{
    self, KeptMark, MarkId, SeenMark, Sign, SqliteStore, Store, Together, Weighed,
};
use crate::enhance;
use crate::error::{Error, Result};
use crate::evidence;
use crate::geometry::{Point, Quad};
use crate::limits::READING_SECONDS;
use crate::marks::{self, Bearing, Flattened, Mark, MarkKind};
use crate::photograph::{self, Photograph};
use crate::proposals::{Beside, Index, Rivals};
use crate::readings::{self, Known, Line, Reading, Recognisers, SharedLine};
use crate::statements::Statement;
use crate::taking;
use image::RgbImage;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::path::Path;
use std::time::Instant;

mod elsewhere;
mod scales;
pub mod signs;
pub mod together;
pub mod wanting;

pub use elsewhere::{Copies, Elsewhere, copies, elsewhere, look, seeks_copies, tell};

/// How clearly one direction must stand out before it counts as the slope of lettering.
const SURE_SLOPE: f64 = 0.2;

/// Program with version, for the record.
pub const PROGRAM: &str = concat!("dorso ", env!("CARGO_PKG_VERSION"));

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
    /// What it may lie on; `None` where nothing is proposed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearing: Option<Bearing>,
    /// What it states in its own words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub statements: Vec<Statement>,
    /// What it was seen as, where a person says that it is a monogram.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sign: Option<Sign>,
    /// Left unread since its photograph took too long.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub left: bool,
    /// Why a person should look; empty where none need.
    pub because: Vec<String>,
}

impl From<ReadMark> for SeenMark {
    fn from(m: ReadMark) -> SeenMark {
        SeenMark {
            label: m.mark,
            kind: m.kind,
            outline: m.outline,
            lettering: m.lettering,
            reading: m.reading,
            rivals: m.rivals,
            bearing: m.bearing,
            statements: m.statements,
            sign: m.sign,
        }
    }
}

/// A patch that is probably no lettering: sorted down and left unread, but not lost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unlikely {
    /// Corners on the upright photograph.
    pub outline: Quad,
    /// Chance that it carries lettering.
    pub lettering: f64,
}

/// A photograph, read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadPhotograph {
    /// File as named by the user.
    pub file: std::path::PathBuf,
    /// Identity.
    pub sha256: String,
    /// px, upright.
    pub width: u32,
    /// px, upright.
    pub height: u32,
    /// Positive where the text runs down to the right, within ±45°; 0 where nothing tells.
    pub skew_degrees: f64,
    /// Marks in reading order of the photograph.
    pub marks: Vec<ReadMark>,
    /// Patches sorted down.
    pub unlikely: Vec<Unlikely>,
}

/// Opens, reads and weighs one photograph.
///
/// # Errors
/// `Kind::Photograph` if it can't be opened, `Kind::Recogniser` if no recogniser can be run.
pub fn read_one(file: &Path, recognisers: &Recognisers, index: &Index) -> Result<ReadPhotograph> {
    let photo = photograph::open(file)?;
    read_photograph(&photo, recognisers, index)
}

/// Reads and weighs an opened photograph. Marks are read side by side on all cores.
///
/// # Errors
/// `Kind::Recogniser` if no recogniser can be run.
pub fn read_photograph(
    photo: &Photograph,
    recognisers: &Recognisers,
    index: &Index,
) -> Result<ReadPhotograph> {
    read_beside(photo, &Before::default(), recognisers, index)
}

/// What is known of a photograph before its marks are read.
#[derive(Debug, Default)]
pub struct Before {
    /// Its number in the store.
    pub photograph: i64,
    /// The marks that the store keeps of it: a picture that a person chose for one is read first.
    pub kept: Vec<KeptMark>,
}

/// Those marks of a photograph that are likely to carry lettering, cut out.
///
/// * `found`: its marks as [`marks::find`] gives them.
pub fn crops(photo: &Photograph, found: &[Mark]) -> Vec<RgbImage> {
    found
        .iter()
        .filter(|m| m.lettering >= marks::LIKELY)
        .map(|m| marks::flatten(&photo.picture, m).picture)
        .collect()
}

/// A mark as the other photographs show it, laid on its own picture: from each the crop that is
/// surely the same mark.
///
/// * `others`: for each other photograph its marks, see [`crops`].
pub fn laid(crop: &RgbImage, others: &[&[RgbImage]]) -> Vec<enhance::join::Laid> {
    let same = others.par_iter().filter_map(|crops| {
        let same = enhance::same_mark(crop, crops)?;
        Some(same.laid_on(crop, &crops[same.crop]))
    });
    same.collect()
}

/// As [`read_photograph`], with what is known before.
///
/// # Errors
/// As there.
pub fn read_beside(
    photo: &Photograph,
    before: &Before,
    recognisers: &Recognisers,
    index: &Index,
) -> Result<ReadPhotograph> {
    let (likely, unlikely): (Vec<Mark>, Vec<Mark>) = marks::find(&photo.picture)
        .into_iter()
        .partition(|m| m.lettering >= marks::LIKELY);
    let outlines: Vec<Quad> = likely.iter().map(|m| m.outline).collect();
    let kept = decisions::at_places(&before.kept, before.photograph, &outlines);
    let begun = Instant::now();
    let read: Vec<Seen> = likely
        .par_iter()
        .zip(&kept)
        .map(|(mark, kept)| {
            taking::make_way();
            if begun.elapsed().as_secs() >= READING_SECONDS.most() {
                return Ok(Seen::left(mark));
            }
            let flat = marks::flatten(&photo.picture, mark);
            let above = marks::lying_on(mark, &likely);
            let known = Known {
                chosen: kept.and_then(KeptMark::chosen),
                kind: Some((mark.kind, mark.kind_chance)),
                ..Known::default()
            };
            let papered = marks::without_ground(&photo.picture, mark, &flat);
            let flat = marks::without(flat, &above);
            let papered = papered.map(|p| marks::without(p, &above));
            let ways = (&flat, papered.as_ref());
            let size = photo.picture.dimensions();
            let mut seen = read_flat(ways, mark, size, &known, recognisers)?;
            if kept.is_some_and(|k| k.kind() == MarkKind::Monogram) {
                seen.look(&photo.picture, mark, index)?;
            }
            Ok(seen)
        })
        .collect::<Result<_>>()?;
    let (stay, scales) = scales::taken_out(&photo.picture, &kept, likely, read);
    let (likely, mut seen): (Vec<Mark>, Vec<Seen>) = stay.into_iter().unzip();
    let shared = readings::once(&mut seen.iter_mut().map(|s| &mut s.reading).collect::<Vec<_>>());
    for (i, s) in seen.iter_mut().enumerate() {
        let others = likely
            .iter()
            .enumerate()
            .filter(|(j, m)| *j != i && m.kind.is_label());
        let others: Vec<Quad> = others.map(|(_, m)| m.outline).collect();
        readings::covered(&mut s.reading, &s.outline, &others);
    }
    let read: Vec<(ReadMark, f64)> = likely
        .par_iter()
        .zip(seen)
        .map(|(mark, seen)| weighed(mark, seen, index))
        .collect();
    let skew_degrees = middle_slope(&read);
    let marks = labelled(read, shared, photo.height());
    Ok(ReadPhotograph {
        file: photo.file.clone(),
        sha256: photo.sha256.clone(),
        width: photo.width(),
        height: photo.height(),
        skew_degrees,
        marks,
        unlikely: unlikely
            .into_iter()
            .map(|m| Unlikely {
                outline: m.outline,
                lettering: m.lettering,
            })
            .chain(scales)
            .collect(),
    })
}

/// Flattens, reads and weighs one mark; also the slope of its lettering on the photograph,
/// degrees.
///
/// * `known`: what a person said of it.
/// * `labels`: outlines of the other labels of the photograph.
pub(crate) fn read_mark(
    picture: &RgbImage,
    mark: &Mark,
    known: &Known,
    labels: &[Quad],
    recognisers: &Recognisers,
    index: &Index,
) -> Result<(ReadMark, f64)> {
    let flat = marks::flatten(picture, mark);
    let papered = marks::without_ground(picture, mark, &flat);
    let ways = (&flat, papered.as_ref());
    let mut seen = read_flat(ways, mark, picture.dimensions(), known, recognisers)?;
    readings::covered(&mut seen.reading, &seen.outline, labels);
    if mark.kind == MarkKind::Monogram {
        seen.look(picture, mark, index)?;
    }
    Ok(weighed(mark, seen, index))
}

/// A mark as read.
struct Seen {
    reading: Reading,
    /// Named after the turn found.
    outline: Quad,
    /// Slope of the lettering on the photograph, degrees.
    slope: f64,
    /// Its letters, where it is said to be a monogram.
    sign: Option<Sign>,
    /// Whether there was no time for it.
    left: bool,
}

impl Seen {
    /// A mark that is left unread since its photograph took too long; it is kept all the same.
    fn left(mark: &Mark) -> Seen {
        Seen {
            reading: Reading::default(),
            outline: mark.outline,
            slope: 0.0,
            sign: None,
            left: true,
        }
    }

    /// Looks at it as a monogram too, as it was outlined.
    fn look(&mut self, photograph: &RgbImage, mark: &Mark, index: &Index) -> Result<()> {
        let lines = &self.reading.lines;
        self.sign = Some(signs::seen(photograph, &mark.outline, lines, index)?);
        Ok(())
    }
}

/// Reads a mark from its flattened picture, and from its other one if there is one.
///
/// * `size`: width and height of the photograph, px.
fn read_flat(
    (flat, other): (&Flattened, Option<&Flattened>),
    mark: &Mark,
    size: (u32, u32),
    known: &Known,
    recognisers: &Recognisers,
) -> Result<Seen> {
    let within = enhance::skew(&image::imageops::grayscale(&flat.picture));
    let (mut reading, turned) = readings::read_better(flat, other, known, recognisers)?;
    let outline = if known.turn_is_set {
        mark.outline
    } else {
        turned
    };
    readings::cut_off(&mut reading, &outline, size);
    let slope = mark.outline.slope_degrees()
        + if within.sure > SURE_SLOPE {
            within.degrees
        } else {
            0.0
        };
    Ok(Seen {
        reading,
        outline,
        slope,
        sign: None,
        left: false,
    })
}

/// Why a mark is unread whose photograph took too long, and what to do.
fn left_unread() -> String {
    let (most, raise) = (READING_SECONDS.most(), READING_SECONDS.raise());
    format!("its photograph took longer than {most} seconds and it was left unread: {raise}")
}

/// Weighs what was read of a mark; also the slope of its lettering.
fn weighed(mark: &Mark, seen: Seen, index: &Index) -> (ReadMark, f64) {
    let rivals = index.weigh(&seen.reading.lines, None);
    let statements = index.statements(&seen.reading.lines, Some(mark.kind));
    let mut because = decisions::doubts(mark.kind, &seen.reading, &rivals, &statements);
    if seen.left {
        because.insert(0, left_unread());
    }
    let read = ReadMark {
        mark: String::new(),
        kind: mark.kind,
        outline: seen.outline,
        lettering: mark.lettering,
        statements,
        reading: seen.reading,
        rivals,
        bearing: mark.bearing.clone(),
        sign: seen.sign,
        left: seen.left,
        because,
    };
    (read, seen.slope)
}

/// The marks in reading order, called `m1`, `m2`, ...
///
/// * `shared`: for each its lines that another holds, with the holder's place in `read`.
fn labelled(
    read: Vec<(ReadMark, f64)>,
    shared: Vec<Vec<(Line, usize)>>,
    height: u32,
) -> Vec<ReadMark> {
    let centres: Vec<Point> = read.iter().map(|(m, _)| m.outline.centre()).collect();
    let order = reading_order(&centres, height);
    let label = |i: usize| {
        let place = order.iter().position(|&o| o == i);
        format!("m{}", place.map_or(0, |p| p + 1))
    };
    let mut marks: Vec<Option<ReadMark>> = Vec::with_capacity(read.len());
    for ((i, (mut m, _)), lines) in read.into_iter().enumerate().zip(shared) {
        m.mark = label(i);
        let held = lines.into_iter().map(|(line, holder)| SharedLine {
            line,
            held_by: label(holder),
        });
        m.reading.shared = held.collect();
        marks.push(Some(m));
    }
    order.iter().filter_map(|&i| marks[i].take()).collect()
}

/// Places in reading order, top to bottom, then left to right: points within a twelfth of the
/// photograph's height of each other count as side by side.
fn reading_order(at: &[Point], height: u32) -> Vec<usize> {
    let band = f64::from(height.max(12)) / 12.0;
    let mut order: Vec<usize> = (0..at.len()).collect();
    order.sort_by(|&a, &b| {
        let (a, b) = (at[a], at[b]);
        let (ra, rb) = ((a.y / band).floor(), (b.y / band).floor());
        ra.total_cmp(&rb).then(a.x.total_cmp(&b.x))
    });
    order
}

/// Middle slope of the marks' lettering, each counted by its letters, brought within ±45° so that
/// quarter turns don't count as skew.
fn middle_slope(marks: &[(ReadMark, f64)]) -> f64 {
    let mut slopes: Vec<(f64, usize)> = marks
        .iter()
        .map(|(m, slope)| {
            let letters = m.reading.lines.iter().map(|l| l.characters.len()).sum();
            ((slope + 45.0).rem_euclid(90.0) - 45.0, letters)
        })
        .collect();
    slopes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: usize = slopes.iter().map(|s| s.1).sum();
    let mut passed = 0;
    for (slope, letters) in slopes {
        passed += letters;
        if letters > 0 && 2 * passed >= all {
            return slope;
        }
    }
    0.0
}

/// Reads photographs one after the other, telling each result as soon as it is there, so that
/// what is done isn't lost when the run is interrupted. One bad photograph never stops the rest.
///
/// * `each`: position, and the photograph or why it can't be read; returns whether to go on.
pub fn read_all(
    files: &[std::path::PathBuf],
    recognisers: &Recognisers,
    index: &Index,
    mut each: impl FnMut(usize, std::result::Result<ReadPhotograph, Error>) -> bool,
) {
    for (i, file) in files.iter().enumerate() {
        if !each(i, read_one(file, recognisers, index)) {
            break;
        }
    }
}

/// Holds the dates of each picture's marks against each other and sends those that can't be true
/// together back to the queue.
///
/// # Errors
/// `Kind::Store` if the store can't be read or written.
pub fn hold_dates(store: &mut SqliteStore, pictures: &[i64], clues: &Clues) -> Result<()> {
    store.hold(pictures, |marks, seen| {
        let back = evidence::gather(marks, seen, clues)?.back;
        let dates = evidence::in_doubt(&back);
        let dates = dates
            .into_iter()
            .filter_map(|(id, words)| Some((MarkId::parse(&id)?, words)));
        Ok(dates
            .chain(evidence::unlike_marks(marks, &decisions::standing(seen)))
            .collect())
    })
}

/// How the entries proposed for the marks of a picture weigh beside the rest of it; may take a second,
/// for which the store isn't needed.
///
/// # Errors
/// As [`evidence::gather`].
pub fn weights(together: &Together, clues: &Clues) -> Result<Weighed> {
    let back = evidence::gather(&together.marks, &together.observations, clues)?.back;
    let solved = evidence::solve(&back);
    let taken = together.taken.clone();
    let weights = evidence::weights(&together.marks, &back, &solved, taken);
    Ok(together.weighed(weights))
}

/// What is known beside a mark, for weighing a reading that is being typed: the towns that other
/// marks of its picture name and what was taken on other pictures; nothing where weighing beside
/// the rest is switched off.
///
/// # Errors
/// `Kind::Store` if the store can't be read.
pub fn known_beside(store: &SqliteStore, mark: MarkId, picture: i64) -> Result<Beside> {
    if !store.weighs_beside()? {
        return Ok(Beside::default());
    }
    let marks = store.marks(Some(picture))?;
    Ok(Beside {
        taken: store.taken_elsewhere(picture)?,
        towns: evidence::towns_beside(&marks, mark),
        artists: evidence::artists_beside(&marks, mark),
        years: None,
    })
}

/// Pictures that are kept in one transaction: fewer would wait for the disk most of the time, more would keep others
/// waiting and lose more where it is stopped.
const AT_ONCE: usize = 50;

/// As [`hold_dates`], for every picture of which something changed since; then weighs the marks of
/// each such picture beside each other.
///
/// * `only`: that picture (number in the store) alone.
/// * `each`: told how many of how many are done.
///
/// # Errors
/// As there.
pub fn hold_changed(
    store: &mut SqliteStore,
    clues: &Clues,
    only: Option<i64>,
    each: &dyn Fn(usize, usize),
) -> Result<()> {
    let wanted = |p: &i64| only.is_none_or(|o| o == *p);
    let unheld: Vec<i64> = store.unheld()?.into_iter().filter(wanted).collect();
    let mut done = 0;
    for some in unheld.chunks(AT_ONCE) {
        each(done, 3 * unheld.len());
        hold_dates(store, some, clues)?;
        done += some.len();
    }
    let changed: Vec<i64> = store.unweighed()?.into_iter().filter(wanted).collect();
    let all = done + 2 * changed.len();
    for some in changed.chunks(AT_ONCE) {
        each(done, all);
        store.count_taken(some)?;
        done += some.len();
    }
    for some in changed.chunks(AT_ONCE) {
        each(done, all);
        let together = some.iter().map(|picture| store.together(*picture));
        let together = together.collect::<Result<Vec<_>>>()?;
        let weighed = together.par_iter().map(|t| weights(t, clues));
        store.keep_weights(weighed.collect::<Result<_>>()?)?;
        done += some.len();
    }
    Ok(())
}
