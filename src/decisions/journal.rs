//! The journal of decisions, and what holds now: a pure fold over its entries.
//!
//! An entry is never changed. Undoing adds an entry that names the one undone; undoing that entry
//! makes the first one hold again.

use super::{MarkId, Said, Settled};
use crate::gazetteer::Entry;
use crate::marks::{MarkKind, Part};
use crate::proposals::Proposal;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Number of an entry of the journal, rising with time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct DecisionId(pub i64);

impl std::fmt::Display for DecisionId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "d{}", self.0)
    }
}

impl DecisionId {
    /// From `d12` or `12`.
    pub fn parse(text: &str) -> Option<DecisionId> {
        let t = text.trim();
        let digits = t.strip_prefix(['d', 'D']).unwrap_or(t);
        digits.parse().ok().filter(|n| *n > 0).map(DecisionId)
    }
}

/// The part of the object that bears a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Bearer {
    /// Canvas, panel, board or paper that carries the paint.
    Support,
    /// Stretcher or strainer.
    Stretcher,
    /// Slip, inset or mount.
    Slip,
    /// Frame.
    Frame,
    /// Backing board or dust cover.
    Backing,
    /// Glass or its edging.
    Glass,
}

impl Bearer {
    /// Every part.
    pub const ALL: [Bearer; 6] = [
        Bearer::Support,
        Bearer::Stretcher,
        Bearer::Slip,
        Bearer::Frame,
        Bearer::Backing,
        Bearer::Glass,
    ];

    /// Name on the command line, in JSON and in a sentence.
    pub fn as_str(self) -> &'static str {
        match self {
            Bearer::Support => "support",
            Bearer::Stretcher => "stretcher",
            Bearer::Slip => "slip",
            Bearer::Frame => "frame",
            Bearer::Backing => "backing",
            Bearer::Glass => "glass",
        }
    }

    /// The part of that name, if it is one; `board` is short for the backing.
    pub fn parse(name: &str) -> Option<Bearer> {
        if name == "board" {
            return Some(Bearer::Backing);
        }
        Bearer::ALL.into_iter().find(|b| b.as_str() == name)
    }
}

/// The part of the object that what is seen on a photograph belongs to.
impl From<Part> for Bearer {
    fn from(p: Part) -> Bearer {
        match p {
            Part::Panel | Part::Canvas => Bearer::Support,
            Part::Stretcher => Bearer::Stretcher,
            Part::Slip => Bearer::Slip,
            Part::Frame => Bearer::Frame,
            Part::Backing => Bearer::Backing,
        }
    }
}

/// An entry that a person took, as it stood when they did: lists change, a decision doesn't.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Taken {
    /// List.
    pub list: String,
    /// Key of the entry.
    pub entry: String,
    /// Name as listed.
    pub name: String,
    /// EDTF year, empty for not known.
    pub not_before: String,
    /// EDTF year, empty for not known.
    pub not_after: String,
    /// Source of the entry, as listed.
    pub source: String,
    /// The program's chance for it when it was taken; `None` if the program hadn't proposed it.
    pub chance: Option<f64>,
    /// Addresses that stand for the entry in lists of names.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub same_as: Vec<String>,
}

impl From<&Proposal> for Taken {
    fn from(p: &Proposal) -> Self {
        Taken {
            list: p.list.clone(),
            entry: p.entry.clone(),
            name: p.name.clone(),
            not_before: p.not_before.clone(),
            not_after: p.not_after.clone(),
            source: p.source.clone(),
            chance: Some(p.probability),
            same_as: p.same_as.clone(),
        }
    }
}

/// An entry of the lists that the program hadn't proposed.
impl From<&Entry> for Taken {
    fn from(e: &Entry) -> Self {
        Taken {
            list: e.list.clone(),
            entry: e.entry.clone(),
            name: e.name.clone(),
            not_before: e.from.clone(),
            not_after: e.to.clone(),
            source: e.source.clone(),
            chance: None,
            same_as: e.same_as(),
        }
    }
}

/// What was decided about a mark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "snake_case")]
pub enum Act {
    /// It names this entry.
    Take(Taken),
    /// It reads so: one string a line, with Leiden signs.
    Read {
        /// Lines in reading order.
        lines: Vec<String>,
    },
    /// A person looked and can't read it.
    Unreadable,
    /// Somebody else is to be asked.
    Ask {
        /// Who.
        whom: String,
    },
    /// To be looked at later.
    PutOff {
        /// First day (ISO date) on which it is queued again; `None`: after everything else.
        until: Option<String>,
    },
    /// It is no mark at all: a shadow, a knot, a tear.
    NotAMark,
    /// It names no entry of this list (`None`: of any list).
    Unlisted {
        /// List.
        list: Option<String>,
    },
    /// It is of this kind.
    Kind {
        /// Kind.
        kind: MarkKind,
    },
    /// It is on this part of the object.
    On {
        /// Part that bears it.
        bearer: Bearer,
        /// Second part that it runs over, unbroken.
        bridging: Option<Bearer>,
    },
    /// A person drew its outline; this sighting is the one that holds.
    Drawn {
        /// Number of the reading in the store.
        reading: i64,
    },
    /// Somebody else's reading. It never takes the place of a reading that stands.
    Answer {
        /// One string a line, with Leiden signs; empty: they can't read it.
        lines: Vec<String>,
        /// True where they hadn't seen the reading that stands.
        blind: bool,
    },
    /// A second person is to read it without seeing the first reading.
    Again,
    /// It is the same mark as that of another sighting.
    Same {
        /// Number of the other sighting.
        with: MarkId,
    },
    /// This sighting shows another mark than these do.
    Apart {
        /// Numbers of the other sightings.
        from: Vec<MarkId>,
    },
    /// A person looked at what was asked so and leaves it as it is.
    Stands {
        /// The doubt, as it was worded.
        words: String,
    },
    /// How it is like a mark of another picture, as a person saw them side by side.
    Likened {
        /// Number of the other mark.
        with: MarkId,
        /// How.
        how: Likeness,
    },
    /// Of its cleaned pictures this one is read first and shown as chosen.
    Variant {
        /// Its name: `flat`, `local-contrast`, `joined`, ...
        variant: String,
    },
    /// What some of its words say.
    Says(Said),
    /// The named entry holds no longer.
    Undo {
        /// The entry undone.
        undoes: DecisionId,
    },
}

impl Act {
    /// In words, for the journal and the note, without a full stop.
    pub fn words(&self) -> String {
        match self {
            Act::Take(t) => format!("names {} (list \"{}\", {})", t.name, t.list, t.entry),
            Act::Read { lines } => format!("reads \"{}\"", lines.join(" / ")),
            Act::Unreadable => "can't be read".into(),
            Act::Ask { whom } => format!("{whom} is to be asked"),
            Act::PutOff { until: None } => "put off".into(),
            Act::PutOff { until: Some(day) } => format!("put off until {day}"),
            Act::NotAMark => "is not a mark".into(),
            Act::Unlisted { list: None } => "names no entry of the lists".into(),
            Act::Unlisted { list: Some(l) } => format!("names no entry of list \"{l}\""),
            Act::Kind { kind } => format!("is a mark of kind {}", kind.as_str()),
            Act::On {
                bearer,
                bridging: None,
            } => format!("is on the {}", bearer.as_str()),
            Act::On {
                bearer,
                bridging: Some(b),
            } => {
                format!(
                    "runs unbroken over the {} and the {}",
                    bearer.as_str(),
                    b.as_str()
                )
            }
            Act::Drawn { .. } => "is outlined by hand".into(),
            Act::Answer { lines, blind } => {
                let how = if *blind { ", read blind" } else { "" };
                match lines.is_empty() {
                    true => format!("can't be read by the one asked{how}"),
                    false => format!("answer: it reads \"{}\"{how}", lines.join(" / ")),
                }
            }
            Act::Again => "is to be read a second time".into(),
            Act::Same { with } => format!("is the same mark as {with}"),
            Act::Apart { from } => {
                let others: Vec<String> = from.iter().map(MarkId::to_string).collect();
                format!("is another mark than {}", others.join(", "))
            }
            Act::Stands { words } => format!("stays as it is, looked at by a person: {words}"),
            Act::Likened { with, how } => match how {
                Likeness::Same => format!("is the same label as {with}"),
                Likeness::Firm => format!("is another label of the same firm as {with}"),
                Likeness::Other => format!("is not the same label as {with}"),
            },
            Act::Variant { variant } => format!("is read by its cleaned picture \"{variant}\""),
            Act::Says(said) => said.told(),
            Act::Undo { undoes } => format!("undoes {undoes}"),
        }
    }
}

/// How two marks of different pictures are like each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Likeness {
    /// Two copies of one label, stamp or stencil.
    Same,
    /// Two labels of one firm.
    Firm,
    /// Neither.
    Other,
}

impl Likeness {
    /// Each of them.
    pub const ALL: [Likeness; 3] = [Likeness::Same, Likeness::Firm, Likeness::Other];

    /// Name in forms.
    pub fn as_str(self) -> &'static str {
        match self {
            Likeness::Same => "same",
            Likeness::Firm => "firm",
            Likeness::Other => "other",
        }
    }

    /// The one of that name, if it is one.
    pub fn parse(name: &str) -> Option<Likeness> {
        Likeness::ALL.into_iter().find(|l| l.as_str() == name)
    }
}

/// Who decides, when and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Author {
    /// Name as the person gives it.
    pub by: String,
    /// ISO 8601 with seconds and offset from UTC: `2024-05-03T10:12:40+01:00`.
    pub at: String,
    /// Reason; may be empty.
    pub why: String,
}

/// One entry of the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Decision {
    /// Number.
    pub id: DecisionId,
    /// The mark that it is about, by the number of its first sighting then.
    pub mark: MarkId,
    /// The sightings that the mark had when it was decided; empty: the one named alone.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub over: Vec<MarkId>,
    /// Who, when, why.
    #[serde(flatten)]
    pub author: Author,
    /// What.
    #[serde(flatten)]
    pub act: Act,
}

/// The entries that hold: those that no entry that holds undoes. `journal` in order of number; an
/// undoing names an earlier entry.
pub fn holding(journal: &[Decision]) -> BTreeSet<DecisionId> {
    let mut undone = BTreeSet::new();
    let mut holding = BTreeSet::new();
    for d in journal.iter().rev() {
        if undone.contains(&d.id) {
            continue;
        }
        holding.insert(d.id);
        if let Act::Undo { undoes } = d.act {
            undone.insert(undoes);
        }
    }
    holding
}

/// What holds now of each mark that anything was decided about. `journal` in order of number.
pub fn fold(journal: &[Decision]) -> BTreeMap<MarkId, Settled> {
    fold_by(journal, |m| m)
}

/// As [`fold`], of marks that were joined since.
///
/// * `mark`: from the number under which it was decided to the mark that it is one with now.
pub fn fold_by(journal: &[Decision], mark: impl Fn(MarkId) -> MarkId) -> BTreeMap<MarkId, Settled> {
    let holding = holding(journal);
    let mut marks: BTreeMap<MarkId, Settled> = BTreeMap::new();
    for d in journal.iter().filter(|d| holding.contains(&d.id)) {
        if !matches!(d.act, Act::Undo { .. }) {
            marks.entry(mark(d.mark)).or_default().apply(d);
        }
    }
    marks
}

/// The newest entry that holds and that an undoing would take back: the last decision, or the last
/// undoing if nothing else is left to undo after it.
///
/// * `journal`: that of one mark, in order of number.
pub fn last_to_undo(journal: &[Decision]) -> Option<&Decision> {
    let holding = holding(journal);
    journal
        .iter()
        .rev()
        .find(|d| holding.contains(&d.id) && !matches!(d.act, Act::Undo { .. }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decisions::{Lettering, Named};
    use crate::statements::Role;
    use proptest::prelude::*;

    fn taken(list: &str, entry: &str) -> Act {
        Act::Take(Taken {
            list: list.into(),
            entry: entry.into(),
            name: entry.to_uppercase(),
            not_before: "1868".into(),
            not_after: String::new(),
            source: "directory".into(),
            chance: Some(0.4),
            same_as: Vec::new(),
        })
    }

    fn acts() -> impl Strategy<Value = Act> {
        prop_oneof![
            (0..3usize, 0..3usize)
                .prop_map(|(l, e)| taken(["framers", "towns", "artists"][l], ["a", "b", "c"][e])),
            "[A-Z ]{1,8}".prop_map(|t| Act::Read { lines: vec![t] }),
            Just(Act::Unreadable),
            Just(Act::NotAMark),
            Just(Act::Ask {
                whom: "M. Lane".into()
            }),
            Just(Act::PutOff {
                until: Some("2030-01-02".into())
            }),
            prop::option::of(Just("framers".to_string())).prop_map(|list| Act::Unlisted { list }),
            Just(Act::Kind {
                kind: MarkKind::Stamp
            }),
            Just(Act::On {
                bearer: Bearer::Frame,
                bridging: Some(Bearer::Backing)
            }),
            (1..4i64).prop_map(|reading| Act::Drawn { reading }),
            ("[A-Z]{0,3}", any::<bool>()).prop_map(|(t, blind)| Act::Answer {
                lines: Some(t).filter(|t| !t.is_empty()).into_iter().collect(),
                blind
            }),
            Just(Act::Again),
            "[a-z]{1,6}".prop_map(|words| Act::Stands { words }),
            (1..4i64).prop_map(|n| Act::Likened {
                with: MarkId(n),
                how: Likeness::Firm
            }),
            (1..4i64).prop_map(|n| Act::Same { with: MarkId(n) }),
            (1..4i64).prop_map(|n| Act::Apart {
                from: vec![MarkId(n)]
            }),
            "[a-z]{1,6}".prop_map(|variant| Act::Variant { variant }),
            ("[a-z]{1,6}", any::<bool>()).prop_map(|(words, something)| Act::Says(Said {
                value: if something {
                    words.clone()
                } else {
                    String::new()
                },
                words,
                role: something.then_some(Role::Lender),
            })),
        ]
    }

    fn entry(id: i64, mark: i64, act: Act) -> Decision {
        Decision {
            id: DecisionId(id),
            mark: MarkId(mark),
            over: Vec::new(),
            author: Author {
                by: "A. Carrow".into(),
                at: "2024-05-03T10:12:40+01:00".into(),
                why: String::new(),
            },
            act,
        }
    }

    /// Plain acts, and now and then an undoing of an earlier entry that holds.
    fn journals() -> impl Strategy<Value = Vec<Decision>> {
        prop::collection::vec(
            (
                1..4i64,
                acts(),
                prop::option::weighted(0.3, any::<prop::sample::Index>()),
            ),
            1..20,
        )
        .prop_map(|steps| {
            let mut journal: Vec<Decision> = Vec::new();
            for (i, (mark, act, undo)) in steps.into_iter().enumerate() {
                let id = i as i64 + 1;
                let live: Vec<_> = holding(&journal).into_iter().collect();
                match undo {
                    Some(pick) if !live.is_empty() => {
                        let target = live[pick.index(live.len())];
                        let mark = journal[target.0 as usize - 1].mark.0;
                        journal.push(entry(id, mark, Act::Undo { undoes: target }));
                    }
                    _ => journal.push(entry(id, mark, act)),
                }
            }
            journal
        })
    }

    fn bytes(journal: &[Decision]) -> Vec<u8> {
        let state: BTreeMap<String, Settled> = fold(journal)
            .into_iter()
            .filter(|(_, s)| *s != Settled::default())
            .map(|(m, s)| (m.0.to_string(), s))
            .collect();
        serde_json::to_vec(&state).unwrap()
    }

    proptest! {
        #[test]
        fn undoing_a_decision_gives_back_the_same_bytes(mut journal in journals(), mark in 1..4i64, act in acts()) {
            let before = bytes(&journal);
            let n = journal.len() as i64;
            journal.push(entry(n + 1, mark, act));
            let with = bytes(&journal);
            journal.push(entry(n + 2, mark, Act::Undo { undoes: DecisionId(n + 1) }));
            prop_assert_eq!(bytes(&journal), before);
            journal.push(entry(n + 3, mark, Act::Undo { undoes: DecisionId(n + 2) }));
            prop_assert_eq!(bytes(&journal), with);
        }

        #[test]
        fn undoing_everything_from_the_last_leaves_nothing_decided(mut journal in journals()) {
            while let Some(d) = holding(&journal).into_iter().rev()
                .find(|id| !matches!(journal[id.0 as usize - 1].act, Act::Undo { .. }))
            {
                let mark = journal[d.0 as usize - 1].mark.0;
                let id = journal.len() as i64 + 1;
                journal.push(entry(id, mark, Act::Undo { undoes: d }));
            }
            prop_assert_eq!(bytes(&journal), b"{}".to_vec());
        }

        #[test]
        fn any_journal_survives_being_written_and_read_and_replays_to_the_same_state(journal in journals()) {
            let text = serde_json::to_string(&journal).unwrap();
            let back: Vec<Decision> = serde_json::from_str(&text).unwrap();
            prop_assert_eq!(&back, &journal);
            prop_assert_eq!(bytes(&back), bytes(&journal));
        }

        #[test]
        fn what_is_decided_of_one_mark_says_nothing_of_another(journal in journals()) {
            let all = fold(&journal);
            for mark in 1..4i64 {
                let own: Vec<_> = journal.iter().filter(|d| d.mark.0 == mark).cloned().collect();
                let alone = fold(&own);
                prop_assert_eq!(alone.get(&MarkId(mark)), all.get(&MarkId(mark)));
            }
        }
    }

    #[test]
    fn a_later_answer_ends_the_waiting_for_somebody() {
        let j = [
            entry(
                1,
                1,
                Act::Ask {
                    whom: "M. Lane".into(),
                },
            ),
            entry(
                2,
                1,
                Act::Read {
                    lines: vec!["ORME".into()],
                },
            ),
        ];
        assert_eq!(
            fold(&j[..1])[&MarkId(1)].waiting.as_ref().unwrap().decision,
            DecisionId(1)
        );
        assert_eq!(fold(&j)[&MarkId(1)].waiting, None);
    }

    #[test]
    fn somebody_else_s_answer_stands_only_where_nothing_stood() {
        let read = |t: &str| Act::Read {
            lines: vec![t.into()],
        };
        let answer = |t: &str| Act::Answer {
            lines: vec![t.into()],
            blind: false,
        };
        let stands = |j: &[Decision]| fold(j)[&MarkId(1)].lettering.clone().unwrap().value;
        let own = [entry(1, 1, read("ORME")), entry(2, 1, answer("OBME"))];
        assert_eq!(stands(&own), Lettering::Read(vec!["ORME".into()]));
        let two = [entry(1, 1, answer("OBME")), entry(2, 1, answer("ORME"))];
        assert_eq!(stands(&two), Lettering::Read(vec!["OBME".into()]));
        assert_eq!(fold(&two)[&MarkId(1)].answers.len(), 2);
        let decided = [two[0].clone(), two[1].clone(), entry(3, 1, read("ORME"))];
        assert_eq!(stands(&decided), Lettering::Read(vec!["ORME".into()]));
        assert!(fold(&decided)[&MarkId(1)].answers.is_empty());
    }

    #[test]
    fn none_of_these_on_one_list_leaves_the_other_lists_as_they_were() {
        let j = [
            entry(1, 1, taken("towns", "kendal")),
            entry(
                2,
                1,
                Act::Unlisted {
                    list: Some("framers".into()),
                },
            ),
        ];
        let s = &fold(&j)[&MarkId(1)];
        assert_eq!(s.on_list("framers").unwrap().value, Named::Unlisted);
        assert_eq!(s.taken().count(), 1);
        assert_eq!(s.on_list("artists"), None);
    }
}
