//! From marks to links of the provenance and to statements kept apart by how they are known:
//! inscribed, bears a label, according to a label, attributed by us.

use super::certainty::with_number;
use super::compose::{heading, named, program_lines};
use super::facts::Facts;
use super::provenance::{self, Doubt, Event, How, Next, When, Who, lower};
use super::told::{self, Told};
use super::{Basis, Manner, Provenance, Sentence, dates};
use crate::dating::edtf::Edtf;
use crate::decisions::{
    Decision, DecisionId, Deed, EventHeld, KeptMark, Lettering, Observation, Sight, standing,
};
use crate::marks::MarkKind;
use of_mark::of_mark;

mod of_mark;

/// A proposal of less chance becomes no link and no attribution.
const LINKED: f64 = 0.4;

/// Where a mark is, in the words of a catalogue.
fn place(m: &KeptMark) -> String {
    match m.settled.on.as_ref().map(|h| h.value) {
        Some((a, None)) => format!("on the {}", a.as_str()),
        Some((a, Some(b))) => format!("over the {} and the {}", a.as_str(), b.as_str()),
        None => "on the back".into(),
    }
}

fn by(journal: &[Decision], id: DecisionId) -> &str {
    let found = journal.iter().find(|d| d.id == id);
    found.map_or("a person", |d| d.author.by.as_str())
}

/// What a mark names on one list, and how that is known.
struct Naming<'a> {
    mark: &'a KeptMark,
    list: &'a str,
    name: &'a str,
    from: &'a str,
    to: &'a str,
    source: &'a str,
    basis: Basis,
}

fn namings<'a>(m: &'a KeptMark) -> Vec<Naming<'a>> {
    let mut out: Vec<Naming> = m
        .settled
        .taken()
        .map(|(t, d)| Naming {
            mark: m,
            list: &t.list,
            name: &t.name,
            from: &t.not_before,
            to: &t.not_after,
            source: &t.source,
            basis: Basis::Person(d),
        })
        .collect();
    for r in &m.rivals {
        if m.settled.on_list(&r.list).is_some() {
            continue;
        }
        if let Some(p) = r.proposals.first().filter(|p| p.probability >= LINKED) {
            out.push(Naming {
                mark: m,
                list: &p.list,
                name: &p.name,
                from: &p.not_before,
                to: &p.not_after,
                source: &p.source,
                basis: Basis::Program(p.probability),
            });
        }
    }
    out.retain(|n| n.list != "towns");
    out
}

/// Everything that the note says of provenance.
pub(super) fn provenance(
    facts: &[Facts<'_>],
    journal: &[Decision],
    observations: &[Observation],
) -> Provenance {
    let mut out = Provenance::default();
    for m in facts.iter().map(|f| f.mark) {
        if let Some(s) = stands(m, journal) {
            let manner = match m.kind() {
                MarkKind::Inscription | MarkKind::Monogram => Manner::Inscribed,
                _ => Manner::Bears,
            };
            out.manners.push((manner, s));
        }
        for n in namings(m) {
            let what = named(n.list, n.name);
            let mark = format!("{} {}", lower(heading(m.kind())), m.id);
            out.manners.push(match n.basis {
                Basis::Person(d) => (
                    Manner::According,
                    Sentence {
                        words: format!(
                            "According to the {mark} {}, by decision of {}: {what}.",
                            place(m),
                            by(journal, d)
                        ),
                        basis: n.basis,
                    },
                ),
                Basis::Program(p) => (
                    Manner::Attributed,
                    Sentence {
                        words: format!(
                            "Attributed by us, from the {mark} {}: {} {what}.",
                            place(m),
                            with_number(p)
                        ),
                        basis: n.basis,
                    },
                ),
                Basis::Record => continue,
            });
        }
    }
    out.manners.sort_by_key(|m| m.0);
    links(facts, journal, observations, &mut out);
    out
}

/// What stands on a mark, copied exactly.
fn stands(m: &KeptMark, journal: &[Decision]) -> Option<Sentence> {
    let inscribed = matches!(m.kind(), MarkKind::Inscription | MarkKind::Monogram);
    let start = if inscribed {
        format!("Inscribed, {} ({})", place(m), m.id)
    } else {
        let kind = lower(heading(m.kind()));
        format!("Bears, {}, a {kind} ({})", place(m), m.id)
    };
    let start = start.replace("a inscription", "an inscription");
    match m.settled.lettering.as_ref().map(|h| (&h.value, h.decision)) {
        Some((Lettering::Read(lines), d)) => {
            return Some(Sentence {
                words: format!(
                    "{start}, as {} read it: “{}”.",
                    by(journal, d),
                    lines.join(" / ")
                ),
                basis: Basis::Person(d),
            });
        }
        Some((Lettering::Unreadable, _)) => return None,
        None => {}
    }
    let lines = program_lines(m);
    let chance = |l: &super::Transcribed| l.chance.unwrap_or(0.0);
    let worst = lines.iter().map(chance).fold(1.0, f64::min);
    let best = lines
        .iter()
        .max_by(|a, b| chance(a).total_cmp(&chance(b)))?;
    let (text, p, part) = if worst >= LINKED || lines.len() == 1 {
        let all: Vec<&str> = lines.iter().map(|l| l.leiden.as_str()).collect();
        (all.join(" / "), worst, "")
    } else {
        (best.leiden.clone(), chance(best), " in part")
    };
    (p >= 0.1).then(|| Sentence {
        words: format!("{start},{part} {} so: “{text}”.", with_number(p)),
        basis: Basis::Program(p),
    })
}

fn year(edtf: &str) -> Option<i64> {
    Some(Edtf::parse(edtf.trim()).ok()?.earliest()?.year)
}

/// An event that a person entered, with the note to it.
fn entered(o: &Observation) -> Option<(i64, Event, Basis, String)> {
    let Sight::Event(h) = &o.sight else {
        return None;
    };
    let owner = || {
        Event::new(Who::Owner {
            name: h.who.clone(),
            life: None,
        })
    };
    let trade = || Event::new(Who::Trade(h.who.clone()));
    let (how, event) = match h.deed {
        Deed::Owned => (How::Untold, owner()),
        Deed::Bought => (How::PurchasedBy, owner()),
        Deed::Inherited => (How::Inheritance(None), owner()),
        Deed::Given => (How::Gift(String::new()), owner()),
        Deed::Bequeathed => (How::BequeathedTo, owner()),
        Deed::Sold => (How::Untold, Event::new(Who::AnonymousSale(h.who.clone()))),
        Deed::Consigned => (How::ConsignedTo, trade()),
        Deed::Dealt => (How::With, trade()),
        Deed::Exhibited => (
            How::Untold,
            Event::new(Who::Statement(format!("exhibited, {}", h.who))),
        ),
        Deed::Confiscated => (How::Confiscated, owner()),
        Deed::Restituted => (How::Restituted, owner()),
    };
    let doubt = match h.held {
        EventHeld::Documented => Doubt::None,
        EventHeld::Probably => Doubt::Probably,
        EventHeld::Possibly => Doubt::Possibly,
    };
    let event = Event {
        how,
        doubt,
        place: h.place.clone(),
        when: match h.when.as_str() {
            "" => When::Untold,
            w => When::On(w.to_owned()),
        },
        next: if h.direct {
            Next::Directly
        } else {
            Next::Unknown
        },
        ..event
    };
    let at = year(&h.when).unwrap_or(UNDATED);
    let note = format!(
        "Entered by {}, {} ({}), who gives as source: {}; not read on the object.",
        o.author.by,
        dates::day(&o.author.at),
        o.id,
        h.source.trim_end_matches('.')
    );
    Some((at, event, Basis::Record, note))
}

/// A link with the year by which it is put in order, and the note to it.
struct Found {
    year: i64,
    event: Event,
    basis: Basis,
    notes: Vec<Sentence>,
}

/// Year of a link that has none: it stands last.
const UNDATED: i64 = i32::MAX as i64;

fn links(
    facts: &[Facts<'_>],
    journal: &[Decision],
    observations: &[Observation],
    out: &mut Provenance,
) {
    out.told = told::all(observations);
    let mut found: Vec<Found> = Vec::new();
    for t in &out.told {
        handed_in(t, facts, &mut found);
    }
    let told = &out.told;
    let new = |f: &Found| !told::names(told, told::who(&f.event));
    for f in facts {
        found.extend(of_mark(f, journal).into_iter().filter(new));
    }
    for (year, event, basis, note) in standing(observations).into_iter().filter_map(entered) {
        let words = note;
        let notes = vec![Sentence { words, basis }];
        found.push(Found {
            year,
            event,
            basis,
            notes,
        });
    }
    // Links of a text keep its order; they are put between the others by their years.
    found.sort_by_key(|f| f.year);
    parted(&mut found);
    let statement = |words: &str| Event::new(Who::Statement(words.into()));
    if found.is_empty() {
        let words = "No owner, dealer or sale is told by the back";
        out.links.push((statement(words), Basis::Record));
    }
    let mut gap = false;
    for mut f in found {
        if f.year > 1945 && f.year != UNDATED && !gap {
            let words = "Whereabouts 1933-1945 not established";
            out.links.push((statement(words), Basis::Record));
            gap = true;
        }
        for n in f.notes {
            out.notes.push(n);
            f.event.notes.push(out.notes.len());
        }
        out.links.push((f.event, f.basis));
    }
    if !gap {
        let words = "Whereabouts 1933-1945 not established";
        out.links.push((statement(words), Basis::Record));
    }
    let events: Vec<Event> = out.links.iter().map(|l| l.0.clone()).collect();
    out.line = provenance::line(&events);
}

/// A text says that a thing passed directly to its own next link. Where another link has come between by
/// its year, nothing says so any more.
fn parted(found: &mut [Found]) {
    let of_text = |f: &Found| matches!(f.event.who, Who::Text(_));
    for i in 1..found.len() {
        if of_text(&found[i - 1])
            && !of_text(&found[i])
            && found[i - 1].event.next == Next::Directly
        {
            found[i - 1].event.next = Next::Unknown;
        }
    }
}

/// The links of a text that somebody handed in, each with what the marks say for or against it.
fn handed_in(t: &Told, facts: &[Facts<'_>], found: &mut Vec<Found>) {
    let mut year = i64::MIN;
    for (i, link) in t.links.iter().enumerate() {
        let mut notes = Vec::new();
        if i == 0 {
            notes.push(Sentence {
                words: format!(
                    "The text handed in by {}, {} ({}), who gives as source: {}; its links stand as it has them.",
                    t.by,
                    dates::day(&t.at),
                    t.id,
                    t.source.trim_end_matches('.')
                ),
                basis: Basis::Record,
            });
        }
        for n in &link.notes {
            notes.push(Sentence {
                words: format!("In the text: “{}”", n.trim()),
                basis: Basis::Record,
            });
        }
        for c in facts.iter().flat_map(told::claims) {
            if let Some(said) = told::beside(&c, link) {
                notes.push(said);
            }
        }
        // A link without a year stays behind the one before it.
        year = provenance_year(&link.years).unwrap_or(year).max(year);
        let event = Event {
            next: link.next,
            ..Event::new(Who::Text(link.text.clone()))
        };
        found.push(Found {
            year,
            event,
            basis: Basis::Record,
            notes,
        });
    }
}

fn provenance_year(edtf: &str) -> Option<i64> {
    let e = Edtf::parse(edtf.trim()).ok()?;
    Some(e.latest().or_else(|| e.earliest())?.year)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_that_comes_between_two_of_a_text_parts_them() {
        let found = |year: i64, who: Who| Found {
            year,
            event: Event {
                next: Next::Directly,
                ..Event::new(who)
            },
            basis: Basis::Record,
            notes: Vec::new(),
        };
        let text = |year, words: &str| found(year, Who::Text(words.into()));
        let mut all = [
            text(1860, "Alda Renshaw"),
            text(1868, "Thomas Renshaw"),
            found(1890, Who::Trade("Ostrey Rooms".into())),
            text(1902, "Miss Vane"),
        ];
        parted(&mut all);
        let next: Vec<Next> = all.iter().map(|f| f.event.next).collect();
        let direct = Next::Directly;
        assert_eq!(next, [direct, Next::Unknown, direct, direct]);
    }
}
