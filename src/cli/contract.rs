//! The JSON that outside scripts rely on, shaped in one place, apart from the inner types, so
//! that those can change and this can't drift.

use crate::marks::{Bearing, Part};
use crate::proposals::{Proposal, Rivals};
use crate::readings::writing::Writing;
use crate::readings::{Character, Line};
use crate::run::together::{ReadBack, ReadTogether};
use crate::run::{ReadMark, ReadPhotograph};
use crate::statements::Statement;
use serde::Serialize;

/// Name and version of the shape.
pub const READINGS_FORMAT: &str = "dorso.readings/2";

/// What `dorso read --json` prints.
#[derive(Debug, Serialize)]
pub struct Readings {
    format: &'static str,
    photos: Vec<Photo>,
    marks: Vec<TogetherOut>,
}

/// A mark of the picture, by all photographs that show it.
#[derive(Debug, Serialize)]
struct TogetherOut {
    mark: String,
    kind: &'static str,
    sightings: Vec<SightingOut>,
    lines: Vec<LineOut>,
    #[serde(flatten)]
    weighed: Weighed,
    statements: Vec<StatementOut>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    bearers: Vec<PartOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bridges: Option<PartOut>,
    needs_person: bool,
    because: Vec<String>,
}

/// A photograph that shows a mark.
#[derive(Debug, Serialize)]
struct SightingOut {
    /// Counted from 0.
    photo: usize,
    /// Chance that it shows the same mark as the first sighting.
    joined: f64,
}

#[derive(Debug, Serialize)]
struct Photo {
    file: String,
    sha256: String,
    width: u32,
    height: u32,
    skew_degrees: f64,
    marks: Vec<MarkOut>,
    /// Outlines that show no mark of their own but a piece of one.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pieces: Vec<PieceOut>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    unlikely: Vec<UnlikelyOut>,
}

#[derive(Debug, Serialize)]
struct PieceOut {
    of: String,
    outline: [[i64; 2]; 4],
    lines: Vec<LineOut>,
}

#[derive(Debug, Serialize)]
struct UnlikelyOut {
    outline: [[i64; 2]; 4],
    lettering: f64,
}

#[derive(Debug, Serialize)]
struct MarkOut {
    mark: String,
    kind: &'static str,
    outline: [[i64; 2]; 4],
    lettering: f64,
    turn: u32,
    lines: Vec<LineOut>,
    #[serde(flatten)]
    weighed: Weighed,
    /// What it may lie on: proposed from the photograph, never certain.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    bearers: Vec<PartOut>,
    /// The second part that it may run over, with the chance that it bridges at all.
    #[serde(skip_serializing_if = "Option::is_none")]
    bridges: Option<PartOut>,
    needs_person: bool,
    because: Vec<String>,
}

#[derive(Debug, Serialize)]
struct PartOut {
    part: &'static str,
    probability: f64,
}

impl From<(Part, f64)> for PartOut {
    fn from((part, chance): (Part, f64)) -> PartOut {
        PartOut {
            part: part.as_str(),
            probability: short(chance),
        }
    }
}

#[derive(Debug, Serialize)]
struct LineOut {
    text: String,
    leiden: String,
    confidence: f64,
    #[serde(rename = "box", skip_serializing_if = "Option::is_none")]
    bounds: Option<[i64; 4]>,
    characters: Vec<CharacterOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    writing: Option<WritingOut>,
}

/// How a line is written, with the chance of that.
#[derive(Debug, Serialize)]
struct WritingOut {
    kind: Writing,
    chance: f64,
}

#[derive(Debug, Serialize)]
struct CharacterOut {
    text: String,
    confidence: f64,
    alternatives: Vec<(String, f64)>,
}

/// Proposals and `unlisted` of a mark or a typed reading.
///
/// Entries of one list are rivals: with `unlisted` their chances sum to 1; in a list of places those of
/// one `place` are. Different lists are not rivals of each other, so each has its own chance that nothing
/// on it is named. `unlisted` is that of the leading list; a list whose own agrees with it within `SAME`
/// stands beside it, every other one under `also` with its own number.
#[derive(Debug, Serialize)]
pub struct Weighed {
    proposals: Vec<ProposalOut>,
    unlisted: f64,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    also: Vec<AlsoOut>,
}

#[derive(Debug, Serialize)]
struct AlsoOut {
    list: String,
    proposals: Vec<ProposalOut>,
    unlisted: f64,
}

#[derive(Debug, Serialize)]
struct ProposalOut {
    list: String,
    entry: String,
    name: String,
    probability: f64,
    lines: Vec<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    place: Option<usize>,
    not_before: String,
    not_after: String,
    source: String,
    because: Vec<String>,
}

/// Two lists whose `unlisted` differ by no more than this stand side by side.
const SAME: f64 = 0.005;

/// Chances in JSON have four places: enough to sum to 1 within 0.01 over a hundred rivals.
pub(super) fn short(chance: f64) -> f64 {
    (chance * 1e4).round() / 1e4
}

/// Shapes what was read of one picture.
pub fn readings(back: &ReadBack) -> Readings {
    Readings {
        format: READINGS_FORMAT,
        photos: back
            .photographs
            .iter()
            .enumerate()
            .map(|(i, p)| photo(i, p, back))
            .collect(),
        marks: back.marks.iter().map(together).collect(),
    }
}

fn together(m: &ReadTogether) -> TogetherOut {
    let sighting = |&(photo, _, joined): &(usize, usize, f64)| SightingOut {
        photo,
        joined: short(joined),
    };
    let lines = m.seen.reading.lines.iter().map(|l| LineOut {
        bounds: None,
        ..line(l)
    });
    TogetherOut {
        mark: m.mark.clone(),
        kind: m.seen.kind.as_str(),
        sightings: m.sightings.iter().map(sighting).collect(),
        lines: lines.collect(),
        weighed: weighed(&m.seen.rivals),
        statements: m.seen.statements.iter().map(StatementOut::from).collect(),
        bearers: bearers(m.seen.bearing.as_ref()),
        bridges: bridges(m.seen.bearing.as_ref()),
        needs_person: !m.because.is_empty(),
        because: m.because.clone(),
    }
}

fn bearers(bearing: Option<&Bearing>) -> Vec<PartOut> {
    let on = bearing.into_iter().flat_map(|b| b.on.iter().copied());
    on.map(PartOut::from).collect()
}

fn bridges(bearing: Option<&Bearing>) -> Option<PartOut> {
    bearing.and_then(|b| b.bridges).map(PartOut::from)
}

fn photo(i: usize, p: &ReadPhotograph, back: &ReadBack) -> Photo {
    let piece = |n: usize| back.pieces.iter().find(|x| (x.0, x.1) == (i, n));
    let unlikely = |n: usize| back.unlikely.iter().find(|x| (x.0, x.1) == (i, n));
    let own = p.marks.iter().enumerate();
    let none = own
        .clone()
        .filter_map(|(n, m)| Some((&m.outline, unlikely(n)?.2)));
    let alone = p.unlikely.iter().map(|u| (&u.outline, u.lettering));
    Photo {
        file: p.file.display().to_string(),
        sha256: p.sha256.clone(),
        width: p.width,
        height: p.height,
        skew_degrees: (p.skew_degrees * 100.0).round() / 100.0,
        marks: own
            .clone()
            .filter(|(n, _)| piece(*n).is_none() && unlikely(*n).is_none())
            .map(|(_, m)| mark(m, back))
            .collect(),
        pieces: own
            .filter_map(|(n, m)| {
                Some(PieceOut {
                    of: piece(n)?.2.clone(),
                    outline: corners(&m.outline),
                    lines: m.reading.lines.iter().map(line).collect(),
                })
            })
            .collect(),
        unlikely: none
            .chain(alone)
            .map(|(outline, lettering)| UnlikelyOut {
                outline: corners(outline),
                lettering: short(lettering),
            })
            .collect(),
    }
}

fn corners(outline: &crate::geometry::Quad) -> [[i64; 2]; 4] {
    outline.0.map(|p| [p.x.round() as i64, p.y.round() as i64])
}

/// A sighting: what it names and whether it needs a person are its mark's.
fn mark(m: &ReadMark, back: &ReadBack) -> MarkOut {
    let whole = back.marks.iter().find(|w| w.mark == m.mark);
    let because = whole.map_or(&m.because, |w| &w.because);
    MarkOut {
        mark: m.mark.clone(),
        kind: m.kind.as_str(),
        outline: corners(&m.outline),
        lettering: short(m.lettering),
        turn: m.reading.turn.degrees(),
        lines: m.reading.lines.iter().map(line).collect(),
        weighed: weighed(whole.map_or(&m.rivals, |w| &w.seen.rivals)),
        bearers: bearers(m.bearing.as_ref()),
        bridges: bridges(m.bearing.as_ref()),
        needs_person: !because.is_empty(),
        because: because.clone(),
    }
}

fn line(l: &Line) -> LineOut {
    LineOut {
        text: l.text.clone(),
        leiden: l.leiden.clone(),
        confidence: short(l.confidence),
        bounds: Some([
            l.bounds.x.into(),
            l.bounds.y.into(),
            l.bounds.w.into(),
            l.bounds.h.into(),
        ]),
        characters: l.characters.iter().map(character).collect(),
        writing: l.writing.map(|w| WritingOut {
            kind: w.writing,
            chance: short(w.chance),
        }),
    }
}

fn character(c: &Character) -> CharacterOut {
    CharacterOut {
        text: c.text.clone(),
        confidence: short(c.confidence),
        alternatives: c
            .alternatives
            .iter()
            .map(|(t, p)| (t.clone(), short(*p)))
            .collect(),
    }
}

/// Shapes the rivals of one mark or typed reading. The list first in `rivals` leads.
pub fn weighed(rivals: &[Rivals]) -> Weighed {
    let unlisted = rivals.first().map_or(1.0, |r| r.unlisted);
    let mut out = Weighed {
        proposals: Vec::new(),
        unlisted: short(unlisted),
        also: Vec::new(),
    };
    for (i, r) in rivals.iter().enumerate() {
        let proposals: Vec<ProposalOut> = r.proposals.iter().map(proposal).collect();
        if i == 0 || (r.unlisted - unlisted).abs() <= SAME {
            out.proposals.extend(proposals);
        } else if !proposals.is_empty() {
            out.also.push(AlsoOut {
                list: r.list.clone(),
                proposals,
                unlisted: short(r.unlisted),
            });
        }
    }
    out
}

fn proposal(p: &Proposal) -> ProposalOut {
    ProposalOut {
        list: p.list.clone(),
        entry: p.entry.clone(),
        name: p.name.clone(),
        probability: short(p.probability),
        lines: p.lines.clone(),
        place: p.place,
        not_before: p.not_before.clone(),
        not_after: p.not_after.clone(),
        source: p.source.clone(),
        because: p.agreement.because.clone(),
    }
}

/// What `dorso fields --json` prints.
#[derive(Debug, Serialize)]
pub struct Fields {
    statements: Vec<StatementOut>,
}

#[derive(Debug, Serialize)]
struct StatementOut {
    role: &'static str,
    value: String,
    words: String,
    line: usize,
    chance: f64,
    list: Option<String>,
    entry: Option<String>,
}

impl From<&Statement> for StatementOut {
    fn from(s: &Statement) -> StatementOut {
        StatementOut {
            role: s.role.as_str(),
            value: s.value.clone(),
            words: s.words.clone(),
            line: s.line,
            chance: short(s.chance),
            list: s.list.clone(),
            entry: s.entry.clone(),
        }
    }
}

impl Fields {
    /// Shapes statements.
    pub fn new(said: &[Statement]) -> Self {
        Fields {
            statements: said.iter().map(StatementOut::from).collect(),
        }
    }
}

/// What `dorso match --json` prints: rivals as of a mark, and what the reading states.
#[derive(Debug, Serialize)]
pub struct Matched {
    #[serde(flatten)]
    weighed: Weighed,
    #[serde(flatten)]
    fields: Fields,
}

impl Matched {
    /// Shapes rivals and statements.
    pub fn new(rivals: &[Rivals], said: &[Statement]) -> Self {
        Matched {
            weighed: weighed(rivals),
            fields: Fields::new(said),
        }
    }
}
