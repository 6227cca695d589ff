//! What a person saw on the object beside the lettering. A journal of its own, about pictures:
//! entries are never changed, undoing adds one.

use super::Author;
use crate::dating::typed;
use crate::error::{Error, Kind, Result};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeSet, HashMap};

/// Number of an entry, rising with time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ObservationId(pub i64);

impl std::fmt::Display for ObservationId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "o{}", self.0)
    }
}

impl ObservationId {
    /// From `o12`.
    pub fn parse(text: &str) -> Option<ObservationId> {
        let digits = text.trim().strip_prefix(['o', 'O'])?;
        digits.parse().ok().filter(|n| *n > 0).map(ObservationId)
    }
}

/// What was seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "seen", rename_all = "snake_case")]
pub enum Sight {
    /// One of the choices of a feature, as named in the list of observations.
    Feature {
        /// `support`, `fixings`, ...
        feature: String,
        /// `millboard`, `staples`, ...
        choice: String,
    },
    /// The size of the support.
    Size {
        /// mm.
        height: f64,
        /// mm.
        width: f64,
    },
    /// Something that befell the object, by a document or by what the person knows.
    Event(Happening),
    /// A text of provenance, as it stands in a catalogue or a file.
    Provenance {
        /// As it was handed in.
        text: String,
        /// What it is taken from.
        source: String,
    },
    /// A passage of the note in a person's own words.
    Wording {
        /// Length of the note: `file`, `catalogue`, `label`.
        length: String,
        /// Tag of its language (BCP 47).
        language: String,
        /// Key of the passage.
        passage: String,
        /// Their words.
        words: String,
        /// What the program wrote there.
        before: String,
    },
    /// Which side of the object a photograph shows.
    Shows {
        /// SHA-256 of the photograph, hexadecimal.
        photograph: String,
        /// Its name, for reading.
        name: String,
        /// The side.
        side: Side,
    },
    /// The named entry holds no longer.
    Undo {
        /// The entry undone.
        undoes: ObservationId,
    },
}

/// A side of the object. Photographs of different sides are never laid on each other.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The back, of which a photograph is unless a person says otherwise.
    #[default]
    Back,
    /// The front.
    Front,
    /// An edge.
    Edge,
    /// The back of a frame that was taken off.
    Frame,
}

impl Side {
    /// Every side.
    pub const ALL: [Side; 4] = [Side::Back, Side::Front, Side::Edge, Side::Frame];

    /// Name on the command line.
    pub fn as_str(self) -> &'static str {
        match self {
            Side::Back => "back",
            Side::Front => "front",
            Side::Edge => "edge",
            Side::Frame => "frame",
        }
    }

    /// The side of that name, if it is one.
    pub fn parse(name: &str) -> Option<Side> {
        Side::ALL.into_iter().find(|s| s.as_str() == name)
    }
}

/// The side that each photograph (SHA-256) shows, where a person said it; what was said last counts.
///
/// * `journal`: in order of number.
pub fn sides(journal: &[Observation]) -> HashMap<String, Side> {
    let mut out = HashMap::new();
    for o in standing(journal) {
        if let Sight::Shows {
            photograph, side, ..
        } = &o.sight
        {
            out.insert(photograph.clone(), *side);
        }
    }
    out
}

/// Units of a size, with their length in mm.
pub const UNITS: [(&str, f64); 3] = [("in", 25.4), ("cm", 10.0), ("mm", 1.0)];
/// Sides of a support that are believed, mm.
const SIDES: std::ops::RangeInclusive<f64> = 10.0..=20_000.0;

impl Sight {
    /// The size of the support from two typed numbers (a comma may stand for the point) and the name of a
    /// unit; `None` where they are no size that a picture has.
    pub fn size(height: &str, width: &str, unit: &str) -> Option<Sight> {
        let (_, mm) = UNITS.into_iter().find(|u| u.0 == unit)?;
        let side = |text: &str| -> Option<f64> {
            let typed: f64 = text.replace(',', ".").parse().ok()?;
            Some(typed * mm).filter(|side| SIDES.contains(side))
        };
        Some(Sight::Size {
            height: side(height)?,
            width: side(width)?,
        })
    }
}

/// What befell the object, in the words of the trade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Deed {
    /// Was with an owner; how it came to them isn't told.
    Owned,
    /// Purchased by an owner.
    Bought,
    /// Came to an owner by inheritance.
    Inherited,
    /// Was given to an owner.
    Given,
    /// Was bequeathed to an owner.
    Bequeathed,
    /// Was sold through an auction house, the seller not named.
    Sold,
    /// Was consigned to a dealer or auction house.
    Consigned,
    /// Was with a dealer: presence, not title.
    Dealt,
    /// Was shown at an exhibition.
    Exhibited,
    /// Was confiscated by somebody.
    Confiscated,
    /// Was restituted to somebody.
    Restituted,
}

impl Deed {
    /// Every deed.
    pub const ALL: [Deed; 11] = [
        Deed::Owned,
        Deed::Bought,
        Deed::Inherited,
        Deed::Given,
        Deed::Bequeathed,
        Deed::Sold,
        Deed::Consigned,
        Deed::Dealt,
        Deed::Exhibited,
        Deed::Confiscated,
        Deed::Restituted,
    ];

    /// Name on the command line and in forms.
    pub fn as_str(self) -> &'static str {
        match self {
            Deed::Owned => "owned",
            Deed::Bought => "bought",
            Deed::Inherited => "inherited",
            Deed::Given => "given",
            Deed::Bequeathed => "bequeathed",
            Deed::Sold => "sold",
            Deed::Consigned => "consigned",
            Deed::Dealt => "dealt",
            Deed::Exhibited => "exhibited",
            Deed::Confiscated => "confiscated",
            Deed::Restituted => "restituted",
        }
    }

    /// The deed of that name, if it is one.
    pub fn parse(name: &str) -> Option<Deed> {
        Deed::ALL.into_iter().find(|d| d.as_str() == name)
    }
}

/// How surely a person holds it; the two words of doubt that a line of provenance has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Held {
    /// Documented.
    #[default]
    Documented,
    /// Some evidence.
    Probably,
    /// Thin evidence.
    Possibly,
}

/// Something that befell the object.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Happening {
    /// What.
    pub deed: Deed,
    /// The owner, dealer, auction house or exhibition.
    pub who: String,
    /// Town; may be empty.
    pub place: String,
    /// EDTF; may be empty.
    pub when: String,
    /// How it is known: a document, a person's word.
    pub source: String,
    /// How surely.
    pub held: Held,
    /// Whether it passed from here directly to the next.
    pub direct: bool,
}

impl Happening {
    /// Checks what a person typed.
    ///
    /// # Errors
    /// `Kind::Usage` where nobody is named, no source is given or the date is no EDTF.
    pub fn checked(mut self) -> Result<Happening> {
        for text in [
            &mut self.who,
            &mut self.place,
            &mut self.when,
            &mut self.source,
        ] {
            *text = text.trim().chars().take(300).collect();
        }
        let wrong = |place: &str, what: &str, next: &str| {
            Err(Error::new(Kind::Usage, place.to_owned(), what, next))
        };
        if self.who.is_empty() {
            return wrong(
                "event",
                "nobody is named",
                "name the owner, dealer, auction house or exhibition",
            );
        }
        if self.source.is_empty() {
            return wrong(
                "event",
                "it isn't said how it is known",
                "give a document or a person, or \"from memory\"",
            );
        }
        if !self.when.is_empty() {
            let Some(kept) = typed(&self.when) else {
                return wrong(
                    &format!("\"{}\"", self.when),
                    "this is not understood as a date",
                    "write it as 1932, 1932-05-14, c. 1868, 1888-95, 1930s or before 1880",
                );
            };
            self.when = kept;
        }
        Ok(self)
    }
}

/// One entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Observation {
    /// Number.
    pub id: ObservationId,
    /// Picture (number in the store).
    pub picture: i64,
    /// Who, when, why.
    #[serde(flatten)]
    pub author: Author,
    /// What.
    #[serde(flatten)]
    pub sight: Sight,
}

/// The entries that hold, without undoings. `journal` in order of number.
pub fn standing(journal: &[Observation]) -> Vec<&Observation> {
    let mut undone = BTreeSet::new();
    let mut out = Vec::new();
    for o in journal.iter().rev() {
        if undone.contains(&o.id) {
            continue;
        }
        match o.sight {
            Sight::Undo { undoes } => {
                undone.insert(undoes);
            }
            _ => out.push(o),
        }
    }
    out.reverse();
    out
}
