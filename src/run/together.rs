//! The photographs of one picture put together: on one plan, their sightings joined to marks, each
//! mark read from all of its sightings.

use super::ReadPhotograph;
use crate::back::bears;
use crate::back::group::{Pair, Said, Shown, group};
use crate::back::joins::{self, Join};
use crate::back::plan::{self, Features, Place, Plan};
use crate::decisions::{
    self, KeptMark, KeptPhotograph, Laying, MarkId, Picture, Placed, SeenMark, Side, SqliteStore,
    Store, Whole,
};
use crate::error::Result;
use crate::geometry::Homography;
use crate::proposals::Index;
use std::collections::HashMap;

mod album;
mod whole;

pub use album::Album;
use album::Shot;
use whole::{OfMark, Witness, fills, wholes};

/// A mark of a back as read from all photographs that show it.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadTogether {
    /// `m1`, `m2`, ... within the picture.
    pub mark: String,
    /// Its sightings: place of the photograph and of the mark in it, and the chance that it shows
    /// the same mark as the first.
    pub sightings: Vec<(usize, usize, f64)>,
    /// What they say together.
    pub seen: SeenMark,
    /// Why a person should look; empty where none need.
    pub because: Vec<String>,
}

/// The photographs of one picture, read and put together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadBack {
    /// In the order in which they were given.
    pub photographs: Vec<ReadPhotograph>,
    /// Each mark once.
    pub marks: Vec<ReadTogether>,
    /// Sightings that show no mark of their own but a piece of one: place of the photograph and of the
    /// mark in it, and the mark's name.
    pub pieces: Vec<(usize, usize, String)>,
    /// Sightings that show no mark, likelier than not by far, as other photographs show their place bare:
    /// place of the photograph and of the mark in it, and the chance that it bears anything.
    pub unlikely: Vec<(usize, usize, f64)>,
}

/// A mark of a photograph by its places: of the photograph, of the mark in it.
type At = (usize, usize);

/// The photographs laid on each other.
struct Laid {
    plan: Plan,
    joins: Vec<Join<At>>,
    /// Each with one that shows the mark of which it is a piece.
    pieces: Vec<(At, At)>,
    /// On how many other photographs nothing was found at its place, where that is any.
    bare_on: Vec<(At, u32)>,
}

/// Lays photographs on each other and says which of their marks may be one.
fn lay(shots: &[&Shot], marks: &[Vec<&SeenMark>]) -> Laid {
    let features: Vec<Features> = shots.iter().map(|s| s.features.clone()).collect();
    let plan = plan::lay(&features);
    let mut at: Vec<At> = Vec::new();
    let mut shown = Vec::new();
    for (photo, (shot, own)) in shots.iter().zip(marks).enumerate() {
        for (n, seen) in own.iter().enumerate() {
            at.push((photo, n));
            let look = shot.looks.iter().find(|l| l.0 == seen.outline);
            shown.push(joins::Shown {
                photo,
                size: shot.size,
                outline: seen.outline,
                kind: seen.kind,
                reading: &seen.reading,
                look: look.map(|l| &l.1),
            });
        }
    }
    let joins = joins::joins(&shown, &plan);
    let pieces = joins::pieces(&shown, &plan, &joins).into_iter();
    let pieces = pieces.map(|p| (at[p.piece], at[p.of])).collect();
    let sizes: Vec<(u32, u32)> = shots.iter().map(|s| s.size).collect();
    let bare_on = at
        .iter()
        .copied()
        .zip(joins::bare_on(&shown, &sizes, &plan));
    let bare_on = bare_on.filter(|(_, n)| *n > 0).collect();
    let joins = joins.into_iter().map(|j| j.told_by(|n| at[n]));
    Laid {
        plan,
        joins: joins.collect(),
        pieces,
        bare_on,
    }
}

/// Puts photographs that were read together, without a store.
///
/// * `album`: holds the photographs with the outlines of their marks; one that it hasn't lies by
///   itself.
pub fn put_together(photographs: Vec<ReadPhotograph>, album: &Album, index: &Index) -> ReadBack {
    let seen: Vec<Vec<SeenMark>> = photographs
        .iter()
        .map(|p| p.marks.iter().cloned().map(SeenMark::from).collect())
        .collect();
    let mut at_hand: Vec<usize> = (0..photographs.len())
        .filter(|i| album.shots.contains_key(&photographs[*i].sha256))
        .collect();
    if at_hand.len() < 2 {
        at_hand.clear();
    }
    let shots: Vec<&Shot> = at_hand
        .iter()
        .map(|i| &album.shots[&photographs[*i].sha256])
        .collect();
    let marks: Vec<Vec<&SeenMark>> = at_hand.iter().map(|i| seen[*i].iter().collect()).collect();
    let laid = lay(&shots, &marks);
    let mut at: Vec<At> = Vec::new();
    for (photo, own) in seen.iter().enumerate() {
        at.extend((0..own.len()).map(|n| (photo, n)));
    }
    let number = |of: At| at.iter().position(|a| *a == of).map_or(0, |i| i as i64);
    let shown: Vec<Shown> = at
        .iter()
        .zip(0..)
        .map(|(of, id)| Shown {
            id,
            photograph: of.0 as i64,
        })
        .collect();
    let pairs: Vec<Pair> = laid
        .joins
        .iter()
        .map(|j| j.clone().told_by(|at| number((at_hand[at.0], at.1))))
        .collect();
    let place_of = |photo: usize| -> Option<(usize, Homography)> {
        let k = at_hand.iter().position(|i| *i == photo)?;
        let place: &Place = laid.plan.places.get(k)?.as_ref()?;
        Some((place.face, place.to_plan))
    };
    let mut grouped = group(&shown, &pairs, &Said::default());
    let pieces: Vec<(At, At)> = laid
        .pieces
        .iter()
        .map(|(p, of)| ((at_hand[p.0], p.1), (at_hand[of.0], of.1)))
        .filter(|(p, _)| {
            grouped
                .marks
                .iter()
                .any(|m| m.members == [(number(*p), 1.0)])
        })
        .collect();
    let is_piece = |id: i64| pieces.iter().any(|(p, _)| number(*p) == id);
    grouped.marks.retain(|m| !is_piece(m.mark));
    let of_mark: Vec<OfMark<'_>> = grouped
        .marks
        .iter()
        .enumerate()
        .map(|(i, mark)| OfMark {
            // As they are called in the end: sightings are numbered in the order of the photographs.
            name: format!("m{}", i + 1),
            sightings: mark
                .members
                .iter()
                .map(|(id, _)| {
                    let (photo, n) = at[*id as usize];
                    let (p, s) = (&photographs[photo], &seen[photo][n]);
                    Witness {
                        seen: s,
                        fills: fills(&s.outline, p.width, p.height),
                        place: place_of(photo),
                        drawn: false,
                    }
                })
                .collect(),
        })
        .collect();
    let bare_on = |id: i64| {
        let (photo, n) = at[id as usize];
        let own = laid
            .bare_on
            .iter()
            .find(|b| (at_hand[b.0.0], b.0.1) == (photo, n));
        own.map_or(0, |b| b.1)
    };
    let (mut out, mut unlikely) = (Vec::new(), Vec::new());
    for (n, mut seen) in wholes(&of_mark, |_| true, index) {
        let mark = &grouped.marks[n];
        let bare_on = mark.members.iter().map(|m| bare_on(m.0)).min().unwrap_or(0);
        seen.lettering = bears::chance(seen.lettering, bears::read(&seen.reading), bare_on);
        if !bears::is_told(seen.lettering, bears::is_read(&seen.reading)) {
            let none = mark.members.iter().map(|m| at[m.0 as usize]);
            unlikely.extend(none.map(|(photo, n)| (photo, n, seen.lettering)));
            continue;
        }
        let of = |(id, joined): &(i64, f64)| {
            let (photo, n) = at[*id as usize];
            (photo, n, *joined)
        };
        let doubts = decisions::doubts(seen.kind, &seen.reading, &seen.rivals, &seen.statements);
        let sightings: Vec<_> = mark.members.iter().map(of).collect();
        let left = was_left(&photographs, &sightings, &seen);
        out.push(ReadTogether {
            mark: String::new(),
            because: left.into_iter().chain(doubts).collect(),
            sightings,
            seen,
        });
    }
    for d in &grouped.doubtful {
        let later = d.a.max(d.b);
        let of = out
            .iter_mut()
            .find(|m: &&mut ReadTogether| m.sightings.iter().any(|s| number((s.0, s.1)) == later));
        if let Some(m) = of {
            m.because.push(format!(
                "it may or may not be the same mark as another photograph shows ({}: {})",
                decisions::two(d.chance),
                d.why
            ));
        }
    }
    ReadBack {
        unlikely,
        ..labelled(photographs, out, &pieces)
    }
}

/// That a mark of which nothing was read was left unread on one of the photographs that show it, if it was.
fn was_left(
    photographs: &[ReadPhotograph],
    sightings: &[(usize, usize, f64)],
    seen: &SeenMark,
) -> Option<String> {
    let left = |s: &(usize, usize, f64)| photographs[s.0].marks[s.1].left;
    (!bears::is_read(&seen.reading) && sightings.iter().any(left)).then(super::left_unread)
}

/// Calls the marks `m1`, `m2`, ... in the order in which the photographs show them, and each sighting
/// as its mark.
///
/// * `pieces`: sightings that show a piece of a mark, each with one that shows it.
fn labelled(
    mut photographs: Vec<ReadPhotograph>,
    mut marks: Vec<ReadTogether>,
    pieces: &[(At, At)],
) -> ReadBack {
    marks.sort_by_key(|m| m.sightings.first().map(|s| (s.0, s.1)));
    let mut called: HashMap<At, String> = HashMap::new();
    for (i, m) in marks.iter_mut().enumerate() {
        m.mark = format!("m{}", i + 1);
        for s in &m.sightings {
            called.insert((s.0, s.1), m.mark.clone());
        }
    }
    for (photo, p) in photographs.iter_mut().enumerate() {
        let new: HashMap<String, String> = p
            .marks
            .iter()
            .enumerate()
            .filter_map(|(n, m)| Some((m.mark.clone(), called.get(&(photo, n))?.clone())))
            .collect();
        for m in &mut p.marks {
            if let Some(name) = new.get(&m.mark) {
                m.mark.clone_from(name);
            }
            for s in &mut m.reading.shared {
                if let Some(name) = new.get(&s.held_by) {
                    s.held_by.clone_from(name);
                }
            }
        }
    }
    let named = |(p, of): &(At, At)| Some((p.0, p.1, called.get(of)?.clone()));
    let pieces = pieces.iter().filter_map(named).collect();
    ReadBack {
        photographs,
        marks,
        pieces,
        unlikely: Vec::new(),
    }
}

/// What was read of photographs that are recorded, with the marks as the store has them: what a
/// person said of them included.
///
/// * `recorded`: for each photograph, for each of its marks, the number of its sighting.
/// * `marks`: of the picture.
pub fn as_kept(
    photographs: Vec<ReadPhotograph>,
    recorded: &[Vec<MarkId>],
    marks: &[KeptMark],
) -> ReadBack {
    let mut out: Vec<ReadTogether> = Vec::new();
    let at_of = |id: MarkId| -> Option<At> {
        let all = recorded.iter().enumerate();
        let mut found =
            all.filter_map(|(photo, own)| Some((photo, own.iter().position(|own| *own == id)?)));
        found.next()
    };
    let mut pieces: Vec<(At, At)> = Vec::new();
    let mut unlikely = Vec::new();
    for m in marks {
        if let Some(of) = m.piece_of {
            let shown = marks.iter().find(|w| w.id == of).into_iter();
            let shown = shown.flat_map(|w| &w.sightings).find_map(|s| at_of(s.id));
            pieces.extend(at_of(m.id).zip(shown));
            continue;
        }
        if m.is_unlikely() || m.is_place() {
            let none = m.sightings.iter().filter_map(|s| at_of(s.id));
            unlikely.extend(none.map(|(photo, n)| (photo, n, m.bears)));
            continue;
        }
        let mut sightings = Vec::new();
        for s in &m.sightings {
            for (photo, own) in recorded.iter().enumerate() {
                let n = own.iter().position(|id| *id == s.id);
                sightings.extend(n.map(|n| (photo, n, s.joined)));
            }
        }
        if !sightings.is_empty() {
            let mut seen = m.latest().clone();
            seen.kind = m.kind();
            let mut because: Vec<_> = was_left(&photographs, &sightings, &seen)
                .into_iter()
                .collect();
            let doubts = decisions::doubts(seen.kind, &seen.reading, &seen.rivals, &m.statements());
            because.extend(doubts);
            let more = decisions::item(m, "").doubts.into_iter();
            let same = more.filter(|d| d.kind == decisions::DoubtKind::Same);
            because.extend(same.map(|d| d.words));
            out.push(ReadTogether {
                mark: String::new(),
                sightings,
                seen,
                because,
            });
        }
    }
    ReadBack {
        unlikely,
        ..labelled(photographs, out, &pieces)
    }
}

/// Lays the photographs of a picture of the store on each other, joins their sightings and reads each
/// mark from all of them. Photographs that aren't where they were stay as they were laid before.
///
/// * `picture`: number in the store.
/// * `by`: who has it done, for the record.
///
/// # Errors
/// `Kind::Store` if the store can't be read or written.
pub fn bring_together(
    store: &mut SqliteStore,
    picture: i64,
    album: &mut Album,
    index: &Index,
    by: &str,
) -> Result<()> {
    if let Some(of) = store.picture(picture)? {
        let marks = store.marks(Some(picture))?;
        let sides = decisions::sides(&store.observations(Some(picture))?);
        if let Some(laying) = laid(&of, &marks, &sides, album, by) {
            store.keep_laying(picture, &laying)?;
        }
    }
    read_together(store, picture, index)
}

/// The photographs of a picture laid on each other; nothing where fewer than two are at hand. Takes a
/// second a photograph that the album hasn't, for which the store isn't needed.
///
/// * `marks`: of the picture.
/// * `sides`: what a person said of photographs ([`decisions::sides`]); those of one side are laid on each
///   other alone.
/// * `by`: who has it done, for the record.
pub fn laid(
    of: &Picture,
    marks: &[KeptMark],
    sides: &HashMap<String, Side>,
    album: &mut Album,
    by: &str,
) -> Option<Laying> {
    if of.photographs.len() < 2 {
        return None;
    }
    let photographs: Vec<&KeptPhotograph> = of.photographs.iter().collect();
    album.open(&photographs, marks);
    let at_hand: Vec<&KeptPhotograph> = photographs
        .into_iter()
        .filter(|p| album.shots.contains_key(&p.sha256))
        .collect();
    if at_hand.len() < 2 {
        return None;
    }
    let side = |p: &KeptPhotograph| sides.get(&p.sha256).copied().unwrap_or_default();
    let mut whole: Option<Laying> = None;
    for one in Side::ALL {
        let own = at_hand.iter().copied().filter(|p| side(p) == one);
        let own: Vec<&KeptPhotograph> = own.collect();
        if own.is_empty() {
            continue;
        }
        let more = laying(&own, marks, album, by);
        whole = Some(match whole {
            Some(before) => before.with(more),
            None => more,
        });
    }
    whole
}

/// Photographs at hand laid on each other, for the store.
fn laying(at_hand: &[&KeptPhotograph], marks: &[KeptMark], album: &Album, by: &str) -> Laying {
    let mut ids: Vec<Vec<MarkId>> = Vec::new();
    let mut seen: Vec<Vec<&SeenMark>> = Vec::new();
    for p in at_hand {
        let of = marks.iter().filter(|m| m.settled.not_a_mark.is_none());
        let on: Vec<_> = of.filter_map(|m| m.on(p.id)).collect();
        ids.push(on.iter().map(|s| s.id).collect());
        seen.push(on.iter().map(|s| s.seen()).collect());
    }
    let shots: Vec<&Shot> = at_hand.iter().map(|p| &album.shots[&p.sha256]).collect();
    let laid = lay(&shots, &seen);
    let places = laid.plan.places.iter().zip(at_hand);
    // The ground of each side is the photograph that lies on itself.
    let ground = |face: usize| {
        let own = laid.plan.places.iter().position(|p| {
            let same = |p: &Place| p.face == face && p.to_plan == Homography::SAME;
            p.as_ref().is_some_and(same)
        });
        own.and_then(|g| at_hand.get(g)).map(|p| p.id)
    };
    Laying {
        by: by.to_owned(),
        at: decisions::now(),
        program: super::PROGRAM.to_owned(),
        places: places
            .map(|(place, p)| {
                let placed = place.as_ref().and_then(|place| {
                    Some(Placed {
                        face: place.face,
                        ground: ground(place.face)?,
                        to_plan: place.to_plan,
                        error_px: place.error_px,
                        chance: place.chance,
                    })
                });
                (p.id, placed)
            })
            .collect(),
        pieces: laid
            .pieces
            .iter()
            .map(|(p, of)| (ids[p.0][p.1], ids[of.0][of.1]))
            .collect(),
        joins: laid
            .joins
            .into_iter()
            .map(|j| j.told_by(|at| ids[at.0][at.1]))
            .collect(),
        bare_on: laid
            .bare_on
            .iter()
            .map(|(at, n)| (ids[at.0][at.1], *n))
            .collect(),
    }
}

/// Reads those marks of a picture of the store from all their sightings that weren't since these
/// changed.
///
/// # Errors
/// `Kind::Store` if the store can't be read or written.
pub fn read_together(store: &mut SqliteStore, picture: i64, index: &Index) -> Result<()> {
    let Some(of) = store.picture(picture)? else {
        return Ok(());
    };
    let places = store.places(picture)?;
    let marks = store.marks(Some(picture))?;
    let wanted = |m: &KeptMark| m.sightings.len() > 1 && !m.read_together;
    if !marks.iter().any(wanted) {
        return Ok(());
    }
    let real: Vec<&KeptMark> = marks
        .iter()
        .filter(|m| m.settled.not_a_mark.is_none())
        .collect();
    let of_mark: Vec<OfMark<'_>> = real
        .iter()
        .map(|m| OfMark {
            name: m.id.to_string(),
            sightings: parts(m, &of, &places),
        })
        .collect();
    let told = wholes(&of_mark, |n| wanted(real[n]), index).into_iter();
    let wholes: Vec<Whole> = told
        .map(|(n, seen)| Whole {
            mark: real[n].id,
            made_of: real[n].made_of(),
            seen,
        })
        .collect();
    store.keep_wholes(&wholes, &decisions::now(), super::PROGRAM)
}

fn parts<'a>(
    m: &'a KeptMark,
    picture: &Picture,
    places: &HashMap<i64, Placed>,
) -> Vec<Witness<'a>> {
    let part = |s: &'a decisions::Sighting| {
        let p = picture.photographs.iter().find(|p| p.id == s.photograph);
        let seen = s.seen();
        let place = places.get(&s.photograph);
        Witness {
            seen,
            fills: p.map_or(0.0, |p| fills(&seen.outline, p.width, p.height)),
            // Two layings may have another ground each; only places on one can be compared.
            place: place.map(|p| (p.ground as usize, p.to_plan)),
            drawn: s.drawn.is_some(),
        }
    };
    m.sightings.iter().map(part).collect()
}
