//! A mark as the store gives it: its sightings, what they say together, and what a person decided.

use super::{KeptPhotograph, MarkId, Named, SeenMark, Settled, Sign, Taken, tie};
use crate::back::bears;
use crate::geometry::Quad;
use crate::marks::{Bearing, MarkKind};
use crate::proposals::{Proposal, Rivals};

/// One run's view of a sighting.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Number of the reading in the store.
    pub id: i64,
    /// Number of the run.
    pub run: i64,
    /// When it ran, ISO 8601 with offset.
    pub at: String,
    /// True where a person drew the outline and the program only read within it.
    pub by_hand: bool,
    /// What was seen.
    pub seen: SeenMark,
}

/// What one photograph shows of a mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// Lasting number. Where a mark has one sighting alone it is that of the mark.
    pub id: MarkId,
    /// Photograph it is on (number in the store).
    pub photograph: i64,
    /// Chance that it shows the same mark as the first sighting does, 0 to 1; 1 for the first.
    pub joined: f64,
    /// All views of it, the oldest first; never empty.
    pub looks: Vec<Look>,
    /// The look (number of the reading) whose outline a person drew last.
    pub drawn: Option<i64>,
    /// True if the last run that read the photograph didn't find it.
    pub missing: bool,
}

impl Sighting {
    /// The look that counts: the one whose outline a person drew, else the newest by the program.
    pub fn look(&self) -> &Look {
        let all = || self.looks.iter().rev();
        let found = all()
            .find(|s| Some(s.id) == self.drawn)
            .or_else(|| all().find(|s| !s.by_hand));
        // A sighting is only ever recorded together with its first look.
        found.unwrap_or(&self.looks[self.looks.len() - 1])
    }

    /// What counts of it.
    pub fn seen(&self) -> &SeenMark {
        &self.look().seen
    }

    /// True where a person had added it and took that back.
    pub(super) fn withdrawn(&self) -> bool {
        self.drawn.is_none() && self.looks.iter().all(|s| s.by_hand)
    }
}

/// A mark that may be the same as this one: a question for a person.
#[derive(Debug, Clone, PartialEq)]
pub struct Maybe {
    /// The sighting of this mark that looks like the other.
    pub own: MarkId,
    /// The other sighting.
    pub other: MarkId,
    /// The mark that the other sighting is one of; this mark itself where it hangs together by
    /// this join alone.
    pub mark: MarkId,
    /// Chance that they are one, 0 to 1.
    pub chance: f64,
    /// What speaks for it, a clause of plain words.
    pub why: String,
}

/// A mark in the store: everything that was seen of it and what holds now.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptMark {
    /// Lasting number: that of its first sighting.
    pub id: MarkId,
    /// Picture it belongs to.
    pub picture: String,
    /// Photograph that shows it best (number in the store); the outline of [`KeptMark::latest`] is
    /// on this one.
    pub photograph: i64,
    /// Its sightings, in order of number, one a photograph; never empty.
    pub sightings: Vec<Sighting>,
    /// What all sightings say together; of a mark with one sighting, what that says.
    pub whole: SeenMark,
    /// Whether `whole` was read and weighed from the looks that count; else it is what the best
    /// sighting says.
    pub read_together: bool,
    /// True if no run that last read its photographs found it.
    pub missing: bool,
    /// What a person decided, folded.
    pub settled: Settled,
    /// What was decided otherwise of one sighting than of another before they were known to be one
    /// mark, in sentences without a full stop.
    pub differing: Vec<String>,
    /// Marks that may be this one.
    pub maybe: Vec<Maybe>,
    /// The mark of which this is a piece, where one label was found in several outlines and nobody
    /// decided anything of this one: it is kept and shown, but neither asked nor told.
    pub piece_of: Option<MarkId>,
    /// Chance that it bears anything at all, by all photographs that show its place, 0 to 1.
    pub bears: f64,
    /// The rivals of [`KeptMark::latest`], weighed beside the rest of the picture (its other dates,
    /// towns that other marks name) and what was taken on other pictures, as last kept with
    /// [`super::SqliteStore::keep_weights`]; the same as there where
    /// [`super::SqliteStore::weigh_beside`] is off.
    pub rivals: Vec<Rivals>,
    /// Dates here that can't be true beside others of the picture, and the reading that would
    /// dissolve it; sentences without a full stop, as [`super::SqliteStore::hold`] last kept them.
    pub conflicts: Vec<String>,
}

impl KeptMark {
    /// A mark that no store has, seen once: what is worked out of kept marks can be worked out of it.
    pub fn unkept(seen: SeenMark) -> KeptMark {
        let look = Look {
            id: 1,
            run: 1,
            at: String::new(),
            by_hand: false,
            seen: seen.clone(),
        };
        let id = MarkId(1);
        let mut out = KeptMark::new(id, String::new(), 1, seen);
        out.sightings.push(Sighting {
            id,
            photograph: 1,
            joined: 1.0,
            looks: vec![look],
            drawn: None,
            missing: false,
        });
        out.rivals.clone_from(&out.whole.rivals);
        out
    }

    /// What counts of it, from all its sightings; the outline is on [`KeptMark::photograph`].
    pub fn latest(&self) -> &SeenMark {
        &self.whole
    }

    /// The sighting whose photograph shows it best.
    pub fn main(&self) -> &Sighting {
        let found = self
            .sightings
            .iter()
            .find(|s| s.photograph == self.photograph);
        // `photograph` is that of one of the sightings.
        found.unwrap_or(&self.sightings[0])
    }

    /// The sighting on a photograph (number in the store), if it is on it.
    pub fn on(&self, photograph: i64) -> Option<&Sighting> {
        self.sightings.iter().find(|s| s.photograph == photograph)
    }

    /// The sighting of which its photograph shows the most around it, and that photograph: it tells
    /// best where on the back the mark is.
    pub fn widest<'a>(
        &self,
        photographs: impl IntoIterator<Item = &'a KeptPhotograph>,
    ) -> Option<(&Sighting, &'a KeptPhotograph)> {
        let fills = |s: &Sighting, p: &KeptPhotograph| {
            s.seen().outline.area() / (f64::from(p.width) * f64::from(p.height)).max(1.0)
        };
        photographs
            .into_iter()
            .filter_map(|p| Some((self.on(p.id)?, p)))
            .min_by(|a, b| fills(a.0, a.1).total_cmp(&fills(b.0, b.1)))
    }

    /// The mark as one photograph alone shows it: with the outline and what was read there.
    ///
    /// * `photograph`: number in the store of one that shows it; else the mark as it is.
    pub fn as_on(&self, photograph: i64) -> KeptMark {
        let mut alone = self.clone();
        if let Some(s) = self.on(photograph) {
            alone.photograph = photograph;
            alone.whole = s.seen().clone();
        }
        alone
    }

    /// The look that counts of the sighting that shows it best.
    pub fn look(&self) -> &Look {
        self.main().look()
    }

    /// Whether the outline of one of its sightings was drawn by a person.
    pub fn is_drawn(&self) -> bool {
        self.sightings.iter().any(|s| s.drawn.is_some())
    }

    /// True where a person had added the mark and took that back.
    pub(super) fn withdrawn(&self) -> bool {
        self.sightings.iter().all(Sighting::withdrawn)
    }

    /// The readings that count, in order of number: what `whole` has to be made of.
    pub fn made_of(&self) -> Vec<i64> {
        let mut of: Vec<i64> = self.sightings.iter().map(|s| s.look().id).collect();
        of.sort_unstable();
        of
    }

    /// Whether it most likely bears nothing and nobody said otherwise: it is kept and shown, but neither
    /// asked nor told as a mark.
    pub fn is_unlikely(&self) -> bool {
        self.bears < bears::LIKELY && self.settled == Settled::default() && !self.is_drawn()
    }

    /// Whether it is a place to look at and no mark yet: nothing could be read there, it is likelier than not that
    /// it bears nothing, and nobody said what it is. All such places of a picture are one question.
    pub fn is_place(&self) -> bool {
        let s = &self.settled;
        let unsaid = s.lettering.is_none() && s.named.is_empty() && s.answers.is_empty();
        let unset = s.kind.is_none() && s.on.is_none() && s.not_a_mark.is_none();
        let alone = self.piece_of.is_none() && !self.is_drawn() && !self.is_unlikely();
        unsaid
            && unset
            && alone
            && !bears::is_told(self.bears, bears::is_read(&self.latest().reading))
    }

    /// Whether it stands for itself as a mark: not said to be none, no piece of another, not unlikely and no
    /// mere place to look at.
    pub fn is_told(&self) -> bool {
        let stands = self.settled.not_a_mark.is_none() && self.piece_of.is_none();
        stands && !self.is_unlikely() && !self.is_place()
    }

    /// Kind: as a person set it, else as found.
    pub fn kind(&self) -> MarkKind {
        self.settled
            .kind
            .as_ref()
            .map_or(self.latest().kind, |h| h.value)
    }

    /// The entries that a person said it names.
    pub fn taken(&self) -> impl Iterator<Item = &Taken> {
        let named = self.settled.named.values();
        named.filter_map(|h| match &h.value {
            Named::Entry(t) => Some(t),
            Named::Unlisted => None,
        })
    }

    /// Their names.
    pub fn named_entries(&self) -> Vec<&str> {
        self.taken().map(|t| t.name.as_str()).collect()
    }

    /// Reads it as a monogram where it is one and was looked at as such: by the sighting of which its letters are seen
    /// most surely.
    pub(super) fn tell_sign(&mut self) {
        if self.kind() != MarkKind::Monogram {
            return;
        }
        let sure = |s: &Sign| s.seen.sets.first().map_or(0.0, |s| s.chance);
        let signs = self.sightings.iter().filter_map(|s| s.seen().sign.as_ref());
        let surest = signs.max_by(|a, b| sure(a).total_cmp(&sure(b)));
        self.whole.sign = surest.cloned();
        self.whole.as_sign();
        for s in &mut self.sightings {
            s.looks.iter_mut().for_each(|l| l.seen.as_sign());
        }
    }

    /// Name of the cleaned picture that a person chose for it, if they did.
    pub fn chosen(&self) -> Option<String> {
        self.settled.variant.as_ref().map(|h| h.value.clone())
    }

    /// What the program proposes that it lies on; of a mark with one sighting by the newest look
    /// that has a proposal.
    pub fn bearing(&self) -> Option<&Bearing> {
        let older = || {
            let mut all = self.main().looks.iter().rev();
            all.find_map(|s| s.seen.bearing.as_ref())
        };
        self.whole.bearing.as_ref().or_else(older)
    }

    /// The newest proposals in the order in which they are numbered for the person, from 1: lists
    /// in their order, within a list the greatest chance first, only those that are shown.
    pub fn numbered(&self) -> Vec<&Proposal> {
        self.rivals.iter().flat_map(Rivals::shown).collect()
    }

    /// The proposal of that key, by all sightings together, else in any look, the newest first.
    pub fn proposed(&self, list: Option<&str>, entry: &str) -> Option<&Proposal> {
        let looks = self.sightings.iter().flat_map(|s| s.looks.iter().rev());
        std::iter::once(&self.whole)
            .chain(looks.map(|l| &l.seen))
            .flat_map(|s| &s.rivals)
            .flat_map(|r| &r.proposals)
            .find(|p| p.entry == entry && list.is_none_or(|l| l == p.list))
    }
}

/// For each outline the kept mark that lies there on the photograph, if any.
///
/// * `photograph`: number in the store of the photograph that the outlines are on.
pub fn at_places<'a>(
    kept: &'a [KeptMark],
    photograph: i64,
    outlines: &[Quad],
) -> Vec<Option<&'a KeptMark>> {
    let on: Vec<(&KeptMark, Vec<Quad>)> = kept
        .iter()
        .filter_map(|m| Some((m, vec![m.on(photograph)?.seen().outline])))
        .collect();
    let known: Vec<Vec<Quad>> = on.iter().map(|k| k.1.clone()).collect();
    let tied = tie::tie(&known, outlines).into_iter();
    tied.map(|at| at.map(|k| on[k].0)).collect()
}
