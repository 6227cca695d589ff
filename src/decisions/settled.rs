//! What holds of one mark by decision of people: the fold of its journal, entry by entry.

use super::{Act, Bearer, Decision, DecisionId, Said, Taken};
use crate::marks::MarkKind;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A value that a person set, and the entry that set it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Held<T> {
    /// What was decided.
    pub value: T,
    /// The entry.
    pub decision: DecisionId,
}

/// How a mark reads, by a person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Lettering {
    /// One string a line, with Leiden signs.
    Read(Vec<String>),
    /// A person can't read it.
    Unreadable,
}

/// What a mark names on one list, by a person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Named {
    /// This entry.
    Entry(Taken),
    /// No entry of that list.
    Unlisted,
}

/// Why a mark waits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Waiting {
    /// For somebody's answer.
    For(String),
    /// Until a day (ISO date), or for everything else to be done.
    Until(Option<String>),
}

/// What holds of a mark now, by decision of a person. Default: nothing decided.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Settled {
    /// Reading.
    pub lettering: Option<Held<Lettering>>,
    /// By list; the key `""` stands for all lists that have no key of their own.
    pub named: BTreeMap<String, Held<Named>>,
    /// Not a mark at all.
    pub not_a_mark: Option<Held<()>>,
    /// Waiting for somebody or for a day; ended by any later decision about reading or naming.
    pub waiting: Option<Held<Waiting>>,
    /// Kind.
    pub kind: Option<Held<MarkKind>>,
    /// Part that bears it, and the second part that it runs over.
    pub on: Option<Held<(Bearer, Option<Bearer>)>>,
    /// The looks (numbers of the readings) whose outline a person drew, the last of each sighting
    /// counts; in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub drawn: Vec<Held<i64>>,
    /// Readings by others since the person last read it, the oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answers: Vec<Held<Answer>>,
    /// A second reading is asked for; ended by a blind answer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub again: Option<Held<()>>,
    /// By list, what was taken before what holds now, while nobody said which of them it is.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub also: BTreeMap<String, Vec<Held<Taken>>>,
    /// Doubts, as worded, at which a person looked and that are to stay as they are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stands: Vec<Held<String>>,
    /// What people said that some of its words are, the last of the same words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub said: Vec<Held<Said>>,
    /// The cleaned picture (its name) that is read first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub variant: Option<Held<String>>,
}

/// A reading by somebody else.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    /// Who.
    pub by: String,
    /// What they read.
    pub says: Lettering,
    /// True where they hadn't seen the reading that stood.
    pub blind: bool,
}

impl Settled {
    /// What was decided about a list, by its own key or by "any list".
    pub fn on_list(&self, list: &str) -> Option<&Held<Named>> {
        self.named.get(list).or_else(|| self.named.get(""))
    }

    /// Entries taken, in order of list.
    pub fn taken(&self) -> impl Iterator<Item = (&Taken, DecisionId)> {
        self.named.values().filter_map(|h| match &h.value {
            Named::Entry(t) => Some((t, h.decision)),
            Named::Unlisted => None,
        })
    }

    /// The reading that stands, if an answer of somebody else gave it.
    pub fn answered(&self) -> Option<&Answer> {
        let standing = self.lettering.as_ref()?.decision;
        let found = self.answers.iter().find(|a| a.decision == standing)?;
        Some(&found.value)
    }

    /// Adds one entry that holds and undoes nothing.
    pub(super) fn apply(&mut self, entry: &Decision) {
        let (id, act) = (entry.id, &entry.act);
        fn held<T>(value: T, decision: DecisionId) -> Option<Held<T>> {
            Some(Held { value, decision })
        }
        match act {
            Act::Take(t) => self.take(t, id),
            Act::Read { lines } => self.lettering = held(Lettering::Read(lines.clone()), id),
            Act::Unreadable => self.lettering = held(Lettering::Unreadable, id),
            Act::NotAMark => self.not_a_mark = held((), id),
            Act::Unlisted { list } => {
                match list {
                    Some(list) => drop(self.also.remove(list)),
                    None => {
                        self.named.clear();
                        self.also.clear();
                    }
                }
                let key = list.clone().unwrap_or_default();
                let value = Named::Unlisted;
                self.named.insert(
                    key,
                    Held {
                        value,
                        decision: id,
                    },
                );
            }
            Act::Kind { kind } => self.kind = held(*kind, id),
            Act::On { bearer, bridging } => self.on = held((*bearer, *bridging), id),
            Act::Ask { whom } => self.waiting = held(Waiting::For(whom.clone()), id),
            Act::PutOff { until } => self.waiting = held(Waiting::Until(until.clone()), id),
            Act::Drawn { reading } => self.drawn.extend(held(*reading, id)),
            Act::Again => self.again = held((), id),
            Act::Stands { words } => self.stands.extend(held(words.clone(), id)),
            Act::Variant { variant } => self.variant = held(variant.clone(), id),
            Act::Says(said) => {
                self.said.retain(|s| !s.value.is_of(said));
                self.said.extend(held(said.clone(), id));
            }
            Act::Answer { lines, blind } => self.answer(entry, lines, *blind),
            Act::Same { .. } | Act::Apart { .. } | Act::Likened { .. } | Act::Undo { .. } => {}
        }
        match act {
            Act::Take(_) | Act::Read { .. } | Act::Unlisted { .. } => {
                self.waiting = None;
                self.not_a_mark = None;
            }
            Act::Unreadable | Act::NotAMark | Act::Answer { .. } => self.waiting = None,
            Act::Ask { .. } | Act::PutOff { .. } | Act::Kind { .. } | Act::On { .. } => {}
            Act::Says(_) => self.not_a_mark = None,
            Act::Drawn { .. } | Act::Again | Act::Variant { .. } | Act::Undo { .. } => {}
            Act::Stands { .. } => self.waiting = None,
            Act::Same { .. } | Act::Apart { .. } | Act::Likened { .. } => {}
        }
        if matches!(act, Act::Read { .. } | Act::Unreadable) {
            // The person has seen what the others said and decided.
            self.answers.clear();
        }
    }

    /// An entry taken. Another one than before on the same list leaves open which it is, until one of
    /// them is taken again.
    fn take(&mut self, t: &Taken, decision: DecisionId) {
        let value = Named::Entry(t.clone());
        let before = self.named.insert(t.list.clone(), Held { value, decision });
        let also = self.also.entry(t.list.clone()).or_default();
        match before {
            Some(Held {
                value: Named::Entry(other),
                decision,
            }) if other.entry != t.entry && also.iter().all(|a| a.value.entry != t.entry) => {
                also.push(Held {
                    value: other,
                    decision,
                });
            }
            _ => also.clear(),
        }
        if also.is_empty() {
            self.also.remove(&t.list);
        }
    }

    /// Whether a person decided what it reads or names, or that a doubt about it stays.
    pub fn is_decided(&self) -> bool {
        self.lettering.is_some() || !self.named.is_empty() || !self.stands.is_empty()
    }

    /// An answer stands where nothing stood; else it is only kept beside.
    fn answer(&mut self, entry: &Decision, lines: &[String], blind: bool) {
        let says = if lines.is_empty() {
            Lettering::Unreadable
        } else {
            Lettering::Read(lines.to_vec())
        };
        if self.lettering.is_none() && !lines.is_empty() {
            self.lettering = Some(Held {
                value: says.clone(),
                decision: entry.id,
            });
        }
        if blind {
            self.again = None;
        }
        let value = Answer {
            by: entry.author.by.clone(),
            says,
            blind,
        };
        self.answers.push(Held {
            value,
            decision: entry.id,
        });
    }
}
