//! What the note tells of one mark.

use super::rivals::{differs, proposals};
use super::{TOLD, Teller, heading, named, program_lines, record};
use crate::dating::clues::Clues;
use crate::decisions::{Act, Bearer, Item, KeptMark, Lettering, State, holding};
use crate::note::clues::{self, Reader};
use crate::note::facts::Facts;
use crate::note::provenance::capital;
use crate::note::wording::Telling;
use crate::note::{Basis, MarkNote, Rival, Sentence, Standing, Stated, Transcribed, dates, entry};
use crate::proposals::Rivals;
use crate::readings::{self, Line};
use crate::statements::Role;

/// A mark is told among those of a part from this chance on that it is on it.
const BORNE: f64 = 0.5;

/// Whose a mark is, is said in its sentence from this chance on; the tables have what is less likely.
const NAMED: f64 = 0.4;

/// The lettering of a mark, as it stands and as it is dated.
struct Lettered {
    lines: Vec<Transcribed>,
    read_by: Option<String>,
    read_before: Vec<Transcribed>,
    plain: Vec<String>,
    reader: Reader,
    dated: Vec<(String, f64)>,
}

impl Teller<'_> {
    fn lettered(&self, mark: &KeptMark) -> Lettered {
        let machine = program_lines(mark);
        let seen = &mark.latest().reading.lines;
        let typed = mark.settled.lettering.as_ref();
        let typed = typed.and_then(|h| match &h.value {
            Lettering::Read(lines) => Some((lines, h.decision)),
            Lettering::Unreadable => None,
        });
        let Some((lines, decision)) = typed else {
            return Lettered {
                lines: machine,
                read_by: None,
                read_before: Vec::new(),
                plain: seen.iter().map(plain_line).collect(),
                reader: Reader::Program,
                dated: seen
                    .iter()
                    .map(|l| (l.text.clone(), l.confidence))
                    .collect(),
            };
        };
        let name = self.by(decision).to_owned();
        let plain = typed_plain(lines);
        let line = |l: &String| Transcribed {
            leiden: l.clone(),
            chance: None,
        };
        Lettered {
            lines: lines.iter().map(line).collect(),
            read_by: Some(name.clone()),
            read_before: machine,
            dated: plain.iter().map(|t| (t.clone(), 1.0)).collect(),
            plain,
            reader: Reader::Person { name, decision },
        }
    }

    pub(super) fn mark(&self, item: &Item, facts: &Facts<'_>, clues: &Clues) -> MarkNote {
        let mark = item.mark;
        let s = &mark.settled;
        let lettered = self.lettered(mark);
        let undecided: Vec<&Rivals> = mark
            .rivals
            .iter()
            .filter(|r| s.on_list(&r.list).is_none())
            .collect();
        let plain: Vec<&str> = lettered
            .plain
            .iter()
            .map(|l| l.trim())
            .filter(|l| !l.is_empty())
            .collect();
        let w = self.language.wording();
        let figures = Telling::Figures(NAMED);
        let on = borne(mark);
        MarkNote {
            id: mark.id.to_string(),
            heading: heading(mark.kind()).into(),
            place: self.place(mark),
            at: mark
                .sightings
                .iter()
                .map(|s| (s.photograph, s.seen().outline))
                .collect(),
            standing: match item.state {
                State::Settled => Standing::Decided,
                State::Clear => Standing::Proposed,
                _ => Standing::Open,
            },
            on: on
                .filter(|(_, _, chance)| chance.is_none_or(|p| p >= BORNE))
                .map(|o| o.0),
            borne: on.map(|(_, name, chance)| (name.into(), chance)),
            is: entry::is(facts, w, figures),
            shown: entry::exhibited(facts, w, figures),
            states: stated(facts),
            rivals: undecided.iter().flat_map(|r| ranked(r)).collect(),
            plain: plain.join(" / "),
            decided: self.decided(mark),
            proposed: undecided.iter().flat_map(|r| proposals(r)).collect(),
            dates: self.dated(mark, &undecided, &lettered, clues),
            open: self.open(item),
            lines: lettered.lines,
            read_by: lettered.read_by,
            read_before: lettered.read_before,
        }
    }

    /// What the lists and the wording say of its date.
    fn dated(
        &self,
        mark: &KeptMark,
        undecided: &[&Rivals],
        read: &Lettered,
        clues: &Clues,
    ) -> Vec<Sentence> {
        let taken = mark.settled.taken();
        let mut out: Vec<Sentence> = taken
            .filter_map(|(t, d)| clues::taken(t, self.by(d), d))
            .collect();
        let first = undecided.iter().filter_map(|r| r.proposals.first());
        out.extend(
            first
                .filter(|p| p.probability >= 0.4)
                .filter_map(clues::proposed),
        );
        out.extend(clues::wording(clues, &read.dated, &read.reader));
        out
    }

    /// The holding decisions about a mark, each as its author's.
    fn decided(&self, mark: &KeptMark) -> Vec<Sentence> {
        let holding = holding(self.journal);
        let mut out = Vec::new();
        for d in self
            .journal
            .iter()
            .filter(|d| mark.sightings.iter().any(|s| s.id == d.mark) && holding.contains(&d.id))
        {
            let s = &mark.settled;
            // Only what still shapes the state: a later decision may have taken its place.
            let in_force = s.named.values().any(|h| h.decision == d.id)
                || [
                    s.lettering.as_ref().map(|h| h.decision),
                    s.waiting.as_ref().map(|h| h.decision),
                    s.kind.as_ref().map(|h| h.decision),
                    s.on.as_ref().map(|h| h.decision),
                    s.again.as_ref().map(|h| h.decision),
                ]
                .contains(&Some(d.id))
                || s.answers.iter().any(|h| h.decision == d.id)
                || s.drawn.iter().any(|h| h.decision == d.id)
                || s.said.iter().any(|h| h.decision == d.id);
            if !in_force {
                continue;
            }
            let what = match &d.act {
                Act::Take(t) => format!(
                    "it names {} ({}; {})",
                    named(&t.list, &t.name),
                    t.entry,
                    clues::had_given(t)
                ),
                Act::Read { lines } => format!("it reads “{}”", lines.join(" / ")),
                Act::Says(said) if said.role.is_some() => said.told(),
                Act::Ask { whom } => format!("{whom} is to be asked"),
                act @ Act::PutOff { .. } => format!("it is {}", act.words()),
                Act::Answer { lines, .. } if !lines.is_empty() => {
                    format!("read it, when asked, as “{}”", lines.join(" / "))
                }
                Act::Answer { .. } => "was asked and couldn't read it".into(),
                act => format!("it {}", act.words()),
            };
            let why = match d.author.why.trim() {
                "" => String::new(),
                why => format!(" Reason given: “{}”.", why.trim_end_matches('.')),
            };
            out.push(Sentence {
                words: format!(
                    "{}, {} ({}): {what}.{why}",
                    d.author.by,
                    dates::day(&d.author.at),
                    d.id
                ),
                basis: Basis::Person(d.id),
            });
        }
        out
    }

    fn open(&self, item: &Item) -> Vec<Sentence> {
        let mark = item.mark;
        let mut out: Vec<Sentence> = Vec::new();
        match &item.state {
            State::Asked(whom) => out.push(record(format!("It waits for the answer of {whom}."))),
            State::Until(day) => {
                out.push(record(format!("It is put off until {}.", dates::day(day))))
            }
            State::Later => out.push(record(
                "It is put off until everything else is done.".into(),
            )),
            _ => {}
        }
        out.extend(
            item.doubts
                .iter()
                .map(|d| record(format!("{}.", capital(&d.words)))),
        );
        if let Some(new) = differs(mark) {
            out.push(new);
        }
        if mark.missing && item.doubts.is_empty() {
            out.push(record(
                "The last reading of its photograph didn't find it again.".into(),
            ));
        }
        out
    }
}

/// The part that bears a mark, by its name too, as far as a person tells it, or the photograph with a chance.
fn borne(mark: &KeptMark) -> Option<(Bearer, &'static str, Option<f64>)> {
    if let Some(held) = &mark.settled.on {
        let bearer = held.value.0;
        return Some((bearer, bearer.as_str(), None));
    }
    let &(part, chance) = mark.bearing()?.on.first()?;
    Some((Bearer::from(part), part.as_str(), Some(chance)))
}

/// What a mark states, the likeliest of each sort.
fn stated(facts: &Facts<'_>) -> Vec<Stated> {
    let told = |(role, _): (Role, &str)| {
        let best = facts.role(role).filter(|f| f.chance() >= TOLD)?;
        Some(Stated {
            what: role.told(),
            basis: best.basis,
            value: best.text,
        })
    };
    Role::ALL.into_iter().filter_map(told).collect()
}

/// The entries of a list that a mark may name, and that it names none.
fn ranked(r: &Rivals) -> Vec<Rival> {
    let mut out: Vec<Rival> = r
        .proposals
        .iter()
        .filter(|p| p.probability >= TOLD)
        .map(|p| Rival {
            list: p.list.clone(),
            entry: format!("{} ({})", p.name, p.entry),
            chance: p.probability,
            because: p.agreement.because.join(" "),
            source: p.source.clone(),
        })
        .collect();
    if !out.is_empty() && r.unlisted >= TOLD {
        out.push(Rival {
            list: r.list.clone(),
            entry: "none of this list".into(),
            chance: r.unlisted,
            because: String::new(),
            source: String::new(),
        });
    }
    out
}

/// Without signs of doubt; a loss stays visible as an ellipsis.
fn plain_line(line: &Line) -> String {
    let mut out = String::new();
    for c in &line.characters {
        if !c.text.is_empty() {
            out.push_str(&c.text);
        } else if !out.ends_with('…') {
            out.push('…');
        }
    }
    out
}

fn typed_plain(lines: &[String]) -> Vec<String> {
    match readings::from_typed(&lines.join(" / ")) {
        Ok(typed) => typed.iter().map(plain_line).collect(),
        Err(_) => lines.to_vec(),
    }
}
