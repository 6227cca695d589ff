//! From marks to links of the provenance and to statements kept apart by how they are known:
//! inscribed, bears a label, according to a label, attributed by us.

use super::certainty::with_number;
use super::compose::{heading, named, program_lines};
use super::provenance::{self, Doubt, Event, How, Next, When, Who};
use super::{Basis, Manner, Provenance, Sentence, clues, dates};
use crate::dating::edtf::Edtf;
use crate::decisions::{
    Bearer, Decision, DecisionId, Deed, EventHeld, KeptMark, Lettering, Observation, Sight,
    standing,
};
use crate::marks::MarkKind;

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
    marks: &[&KeptMark],
    journal: &[Decision],
    observations: &[Observation],
) -> Provenance {
    let mut out = Provenance::default();
    for m in marks {
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
    links(marks, journal, observations, &mut out);
    out
}

fn lower(text: &str) -> String {
    let mut c = text.chars();
    c.next().map_or_else(String::new, |f| {
        f.to_lowercase().collect::<String>() + c.as_str()
    })
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
    let at = year(&h.when).unwrap_or(i64::from(i32::MAX));
    let note = format!(
        "Entered by {}, {} ({}), who gives as source: {}; not read on the object.",
        o.author.by,
        dates::day(&o.author.at),
        o.id,
        h.source.trim_end_matches('.')
    );
    Some((at, event, Basis::Record, note))
}

fn links(
    marks: &[&KeptMark],
    journal: &[Decision],
    observations: &[Observation],
    out: &mut Provenance,
) {
    let mut found: Vec<(i64, Event, Basis, String)> = Vec::new();
    for n in marks.iter().flat_map(|m| namings(m)) {
        let Some(event) = event(&n) else { continue };
        let at = year(n.from)
            .or_else(|| year(n.to))
            .unwrap_or(i64::from(i32::MAX));
        found.push((at, event, n.basis, note(&n, journal)));
    }
    found.extend(standing(observations).into_iter().filter_map(entered));
    found.sort_by_key(|f| f.0);
    let statement = |words: &str| Event::new(Who::Statement(words.into()));
    if !found.iter().any(|f| matches!(f.1.who, Who::Owner { .. })) {
        let words = "No owner is recorded in what was read or entered";
        out.links.push((statement(words), Basis::Record));
    }
    let mut gap = false;
    for (at, mut event, basis, note) in found {
        if at > 1945 && !gap {
            out.links.push((
                statement("Whereabouts 1933-1945 not established"),
                Basis::Record,
            ));
            gap = true;
        }
        out.notes.push(Sentence { words: note, basis });
        event.notes = vec![out.notes.len()];
        out.links.push((event, basis));
    }
    if !gap {
        out.links.push((
            statement("Whereabouts 1933-1945 not established"),
            Basis::Record,
        ));
    }
    let events: Vec<Event> = out.links.iter().map(|l| l.0.clone()).collect();
    out.line = provenance::line(&events);
}

/// What a naming says of the object's history; an artist's name by itself says nothing of it.
fn event(n: &Naming) -> Option<Event> {
    let on = n.mark.settled.on.as_ref().map(|h| h.value.0);
    let trade = || Event::new(Who::Trade(n.name.to_owned()));
    let shown = lower(heading(n.mark.kind()));
    let event = match n.list {
        "artists" => return None,
        "framers" => match on {
            Some(Bearer::Frame | Bearer::Slip | Bearer::Backing) => Event {
                trade: "framer".into(),
                did: "framed".into(),
                ..trade()
            },
            _ => Event {
                trade: "framer".into(),
                details: vec![shown],
                ..trade()
            },
        },
        "colourmen" => match on {
            Some(Bearer::Support | Bearer::Stretcher) => Event {
                trade: "artists' colourman".into(),
                did: format!("supplied the {}", on.map_or("support", Bearer::as_str)),
                ..trade()
            },
            _ => Event {
                trade: "artists' colourman".into(),
                details: vec![shown],
                ..trade()
            },
        },
        "exhibitions" => Event::new(Who::Statement(format!("exhibited, {}", n.name))),
        "sale_rooms" => Event {
            trade: "sale room".into(),
            details: vec![shown],
            ..trade()
        },
        "retailers" => Event {
            how: How::With,
            details: vec![shown],
            ..trade()
        },
        "owners" | "collectors" | "lenders" => Event::new(Who::Owner {
            name: n.name.to_owned(),
            life: None,
        }),
        _ => return None,
    };
    let about = |t: &str| format!("{}~", t.trim().trim_end_matches(['~', '?', '%']));
    let when = match (n.from.trim(), n.to.trim()) {
        ("", "") => When::Untold,
        (a, b) if a == b => When::On(a.into()),
        (a, "") => When::On(format!("[{a}..]")),
        ("", b) => When::By(b.into()),
        (a, b) => When::On(format!("{}/{}", about(a), about(b))),
    };
    let doubt = match n.basis {
        Basis::Program(p) => Doubt::of(p),
        _ => Doubt::None,
    };
    Some(Event {
        when,
        doubt,
        ..event
    })
}

fn note(n: &Naming, journal: &[Decision]) -> String {
    let mark = format!("{} {} {}", heading(n.mark.kind()), n.mark.id, place(n.mark));
    let known = match n.basis {
        Basis::Person(d) => format!("matched by {} ({d})", by(journal, d)),
        Basis::Program(p) => format!("matched by the program, {} rightly", with_number(p)),
        Basis::Record => String::new(),
    };
    let years = dates::span(n.from, n.to).map_or_else(
        || "the list gives no years".to_string(),
        |s| format!("the list gives {s}"),
    );
    let shows = match n.list {
        "framers" => "it speaks of framing, not of ownership",
        "colourmen" => "it speaks of the material, not of the painter or of ownership",
        "exhibitions" => "it speaks of a showing, not of ownership",
        "retailers" | "sale_rooms" => "it speaks of presence, not of title",
        _ => "a claim on the object, not a proof of ownership",
    };
    format!(
        "{mark}, {known}; {years} ({}); {shows}.",
        clues::source(n.source)
    )
}
