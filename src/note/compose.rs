//! From kept marks to sentences. Pure.

use super::certainty::with_number;
use super::facts::Facts;
use super::wording::Language;
use super::{
    Basis, Entered, MarkNote, Note, NotedPhotograph, Sentence, Standing, Transcribed, dates, entry,
    evidence, links, place, summary, worded,
};
use crate::dating::clues::Clues;
use crate::decisions::{
    Decision, DecisionId, KeptMark, Lettering, Observation, Picture, and, holding, queue, two,
};
use crate::error::Result;
use crate::evidence::{Gathered, Solved, gather, solve};
use crate::marks::MarkKind;
use std::cmp::Ordering;

mod mark;
mod rivals;
mod unknown;

/// A reading of several lines is told whole if its worst line has this chance; else its surest line.
const THROUGHOUT: f64 = 0.40;

/// A name leads the sentence on a mark from "perhaps" upwards; below it the reading does.
const LEADS: f64 = 0.40;

/// What is less likely isn't told in the note for the file.
const TOLD: f64 = 0.10;

use rivals::best_name;

/// What is kept of a picture, and the language of its entry.
#[derive(Debug, Clone, Copy)]
pub struct Kept<'a> {
    /// The picture.
    pub picture: &'a Picture,
    /// Its marks, in order.
    pub marks: &'a [KeptMark],
    /// The journal; may hold entries about other marks.
    pub journal: &'a [Decision],
    /// Its observations, undone ones included.
    pub observations: &'a [Observation],
    /// Language of the entry.
    pub language: Language,
}

impl Kept<'_> {
    /// Its note.
    ///
    /// * `now`: ISO 8601 moment of writing.
    ///
    /// # Errors
    /// As [`gather`].
    pub fn write(&self, clues: &Clues, now: &str) -> Result<Note> {
        let gathered = gather(self.marks, self.observations, clues)?;
        let solved = solve(&gathered.back);
        self.write_dated(clues, (&gathered, &solved), now)
    }

    /// As [`Kept::write`], from evidence that is gathered and solved already.
    ///
    /// # Errors
    /// As [`gather`].
    pub fn write_dated(
        &self,
        clues: &Clues,
        dated: (&Gathered, &Solved),
        now: &str,
    ) -> Result<Note> {
        let Kept {
            picture,
            marks,
            journal,
            observations,
            language,
        } = *self;
        // The note for the file is English, whatever its entry is
        let english = match language.is_english() {
            true => language,
            false => Language::British,
        };
        let teller = Teller {
            picture,
            journal,
            language: english,
        };
        let items = queue(marks, now.get(..10).unwrap_or(now));
        let told: Vec<&KeptMark> = marks.iter().filter(|m| m.is_told()).collect();
        let item = |m: &KeptMark| items.iter().find(|i| i.mark.id == m.id);
        let facts: Vec<Facts<'_>> = told.iter().map(|m| Facts::of(m)).collect();
        let notes: Vec<MarkNote> = facts
            .iter()
            .filter_map(|f| item(f.mark).map(|i| teller.mark(i, f, clues)))
            .collect();
        let provenance = links::provenance(&facts, journal, observations);
        let evidence = evidence::evidence(&items, observations, dated, (&facts, english))?;
        let unknown = unknown::unknown(&told, !provenance.told.is_empty());
        let lead = teller.lead(&notes, marks, now);
        Ok(Note {
            entry: entry::entry(&facts, &provenance.links, dated.1, language),
            picture: picture.name.clone(),
            summary: summary::summary(&notes, &evidence),
            lead,
            short: in_short(picture, marks, journal),
            provenance,
            evidence,
            unknown,
            marks: notes,
            photographs: picture
                .photographs
                .iter()
                .map(|p| NotedPhotograph {
                    id: p.id,
                    name: p.name(),
                    sha256: p.sha256.clone(),
                    size: (p.width, p.height),
                })
                .collect(),
            journal: teller.journal(marks),
            worded: worded::all(observations),
        })
    }
}

/// The sentences in short, one for each mark that is one, in order: they need no dates.
pub fn in_short(picture: &Picture, marks: &[KeptMark], journal: &[Decision]) -> Vec<Sentence> {
    let language = Language::British;
    let teller = Teller {
        picture,
        journal,
        language,
    };
    let told = marks.iter().filter(|m| m.is_told());
    told.map(|m| teller.short(m)).collect()
}

struct Teller<'a> {
    picture: &'a Picture,
    journal: &'a [Decision],
    /// British or American.
    language: Language,
}

fn record(words: String) -> Sentence {
    Sentence {
        words,
        basis: Basis::Record,
    }
}

fn program(words: String, chance: f64) -> Sentence {
    Sentence {
        words,
        basis: Basis::Program(chance),
    }
}

/// What a kind of mark is called at the head of a line.
pub fn heading(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::PrintedLabel => "Printed label",
        MarkKind::WrittenLabel => "Written label",
        MarkKind::Inscription => "Inscription",
        MarkKind::Stamp => "Stamp",
        MarkKind::Stencil => "Stencil",
        MarkKind::Monogram => "Monogram",
        MarkKind::Unknown => "Mark of unknown kind",
    }
}

/// What an entry of a list is, with its name: "the framer “Orme & Son”".
pub(super) fn named(list: &str, name: &str) -> String {
    match list {
        "framers" => format!("the framer “{name}”"),
        "colourmen" => format!("the artists' colourman “{name}”"),
        "retailers" => format!("the retailer “{name}”"),
        "sale_rooms" => format!("the sale room “{name}”"),
        "exhibitions" => format!("the exhibition “{name}”"),
        "artists" => format!("the artist “{name}”"),
        "towns" => format!("the town “{name}”"),
        _ => format!("“{name}” of list “{list}”"),
    }
}

fn plural(n: usize, noun: &str) -> String {
    if n == 1 {
        format!("1 {noun}")
    } else {
        format!("{n} {noun}s")
    }
}

impl Teller<'_> {
    fn by(&self, id: DecisionId) -> &str {
        let found = self.journal.iter().find(|d| d.id == id);
        found.map_or("a person", |d| d.author.by.as_str())
    }

    fn place(&self, mark: &KeptMark) -> String {
        match mark.widest(&self.picture.photographs) {
            Some((s, p)) => {
                let place = place(&s.seen().outline, p.width, p.height);
                let of = if place.starts_with("filling") {
                    ""
                } else {
                    " of"
                };
                let place = place.trim_end_matches(" the photograph");
                format!("{place}{of} {}", p.name())
            }
            None => "on a photograph that is not of this picture".into(),
        }
    }

    fn lead(&self, notes: &[MarkNote], marks: &[KeptMark], now: &str) -> Vec<Sentence> {
        let of = |s: Standing| notes.iter().filter(move |m| m.standing == s);
        let decided = match (of(Standing::Decided).count(), notes.len()) {
            (_, 0) => "no mark was found".to_owned(),
            (0, _) => "no mark is decided by a person yet".to_owned(),
            (n, all) if n == all => "all marks are decided by a person".to_owned(),
            (n, all) => format!("{n} of {all} marks are decided by a person"),
        };
        let open: Vec<String> = of(Standing::Open).map(|m| m.id.clone()).collect();
        let open = match open.len() {
            0 => String::new(),
            1 => format!(", and {} is in doubt", open[0]),
            _ => format!(", and {} are in doubt", and(&open)),
        };
        let mut out = vec![record(format!(
            "Written on {} from {}; {decided}{open}.",
            dates::day(now),
            plural(self.picture.photographs.len(), "photograph"),
        ))];
        let none = marks.iter().filter(|m| m.settled.not_a_mark.is_some());
        let none = none.count();
        if none > 0 {
            out.push(record(format!(
                "{} that the program had found {} set aside by a person as no mark.",
                plural(none, "place"),
                if none == 1 { "was" } else { "were" }
            )));
        }
        out.extend(self.places(marks));
        out
    }

    /// The places that are no marks yet: where something may stand, and where most likely nothing does.
    fn places(&self, marks: &[KeptMark]) -> Vec<Sentence> {
        let named = |m: &KeptMark| format!("{} ({}, {})", m.id, self.place(m), two(m.bears));
        let mut out = Vec::new();
        let open = marks.iter().filter(|m| m.is_place());
        let open: Vec<String> = open.map(named).collect();
        if !open.is_empty() {
            out.push(record(format!(
                "Likelier than not nothing stands, and nothing could be read, at {}: {}.",
                plural(open.len(), "more place"),
                and(&open)
            )));
        }
        let unlikely = marks
            .iter()
            .filter(|m| m.piece_of.is_none() && m.is_unlikely());
        let unlikely: Vec<String> = unlikely.map(named).collect();
        if !unlikely.is_empty() {
            out.push(record(format!(
                "One photograph shows what looks like lettering at {} where others show none: {}.",
                plural(unlikely.len(), "place"),
                and(&unlikely)
            )));
        }
        out
    }

    /// One sentence on a mark.
    fn short(&self, mark: &KeptMark) -> Sentence {
        let start = format!(
            "{} ({}, {})",
            heading(mark.kind()),
            mark.id,
            self.place(mark)
        );
        let s = &mark.settled;
        let taken: Vec<_> = s.taken().collect();
        if let Some((_, first)) = taken.first() {
            let names: Vec<String> = taken
                .iter()
                .map(|(t, d)| format!("{} ({})", named(&t.list, &t.name), self.by(*d)))
                .collect();
            return Sentence {
                words: format!(
                    "{start}: names, by decision of a person, {}.",
                    names.join(" and ")
                ),
                basis: Basis::Person(*first),
            };
        }
        match s.lettering.as_ref().map(|h| (&h.value, h.decision)) {
            Some((Lettering::Read(lines), d)) => {
                return Sentence {
                    words: format!(
                        "{start}: read by {} as “{}”.",
                        self.by(d),
                        lines.join(" / ")
                    ),
                    basis: Basis::Person(d),
                };
            }
            Some((Lettering::Unreadable, d)) => {
                return Sentence {
                    words: format!("{start}: {} found that it can't be read.", self.by(d)),
                    basis: Basis::Person(d),
                };
            }
            None => {}
        }
        let firm = best_name(&mark.rivals, |l| mark.settled.on_list(l).is_none());
        let which = match firm {
            Some((.., entries)) if entries > 1 => ", which of its entries is open",
            _ => "",
        };
        if let Some((p, list, name, _)) = firm.filter(|f| f.0 >= LEADS) {
            return program(
                format!(
                    "{start}: {} names {}{which}.",
                    with_number(p),
                    named(list, name)
                ),
                p,
            );
        }
        let (named, thin) = match (s.named.get(""), firm) {
            (Some(h), _) => (
                format!(
                    "by decision of {} no entry of the lists fits",
                    self.by(h.decision)
                ),
                0.0,
            ),
            (None, Some((p, list, name, _))) => (
                format!("{} names {}{which}", with_number(p), named(list, name)),
                p,
            ),
            (None, None) => ("no entry of the lists is likely".into(), 0.0),
        };
        let lines = program_lines(mark);
        let sure = |a: &&Transcribed, b: &&Transcribed| {
            a.chance.partial_cmp(&b.chance).unwrap_or(Ordering::Equal)
        };
        let (worst, best) = (lines.iter().min_by(sure), lines.iter().max_by(sure));
        match (worst.and_then(|l| l.chance), best) {
            (Some(p), _) if p >= THROUGHOUT || lines.len() == 1 => program(
                format!(
                    "{start}: {} reads {}“{}”; {named}.",
                    with_number(p),
                    if lines.len() == 1 { "" } else { "throughout " },
                    joined(&lines)
                ),
                p.max(thin),
            ),
            (
                _,
                Some(Transcribed {
                    leiden,
                    chance: Some(p),
                }),
            ) => program(
                format!(
                    "{start}: of its {} lines the surest {} reads “{leiden}”; {named}.",
                    lines.len(),
                    with_number(*p)
                ),
                p.max(thin),
            ),
            _ if thin > 0.0 => program(format!("{start}: found, not read; {named}."), thin),
            _ => record(format!("{start}: found, not read.")),
        }
    }

    fn journal(&self, marks: &[KeptMark]) -> Vec<Entered> {
        let holding = holding(self.journal);
        self.journal
            .iter()
            .filter(|d| {
                let mut sightings = marks.iter().flat_map(|m| &m.sightings);
                sightings.any(|s| s.id == d.mark)
            })
            .map(|d| Entered {
                id: d.id.to_string(),
                mark: d.mark.to_string(),
                day: dates::day(&d.author.at),
                by: d.author.by.clone(),
                what: d.act.words(),
                why: d.author.why.clone(),
                holds: holding.contains(&d.id),
            })
            .collect()
    }
}

pub(super) fn program_lines(mark: &KeptMark) -> Vec<Transcribed> {
    mark.latest()
        .reading
        .lines
        .iter()
        .filter(|l| !l.leiden.trim().is_empty())
        .map(|l| Transcribed {
            leiden: l.leiden.clone(),
            chance: Some(l.confidence),
        })
        .collect()
}

fn joined(lines: &[Transcribed]) -> String {
    let lines: Vec<&str> = lines.iter().map(|l| l.leiden.as_str()).collect();
    lines.join(" / ")
}
