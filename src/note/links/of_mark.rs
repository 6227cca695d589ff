//! Links that a mark names.

use super::{Found, LINKED, Naming, UNDATED, by, namings, place, year};
use crate::decisions::Decision;
use crate::note::certainty::{self, doubt};
use crate::note::compose::heading;
use crate::note::facts::Facts;
use crate::note::provenance::{Detail, Doubt, Event, How, When, Who};
use crate::note::{Basis, Sentence, clues, dates};
use crate::statements::Role;

/// Owners, dealers and sales that a mark names; framers, colourmen and showings have their own
/// places in a note.
pub(super) fn of_mark(f: &Facts<'_>, journal: &[Decision]) -> Vec<Found> {
    let mut out = Vec::new();
    let listed = namings(f.mark);
    for n in &listed {
        let Some(mut event) = event(n) else { continue };
        detailed(f, &mut event);
        let year = year(n.from).or_else(|| year(n.to)).unwrap_or(UNDATED);
        let notes = vec![Sentence {
            words: note(n, journal),
            basis: n.basis,
        }];
        out.push(Found {
            year,
            event,
            basis: n.basis,
            notes,
        });
    }
    let mut add = |event: Event, p: f64, shows: &str| {
        let m = f.mark;
        let words = format!(
            "{} {} {}, {}so read; {shows}.",
            heading(m.kind()),
            m.id,
            place(m),
            doubt(p)
        );
        let basis = Basis::Program(p);
        let at = match &event.when {
            When::On(d) => year(d).unwrap_or(UNDATED),
            _ => UNDATED,
        };
        out.push(Found {
            year: at,
            event,
            basis,
            notes: vec![Sentence { words, basis }],
        });
    };
    if let Some((owner, p)) = f.owner() {
        add(owner, p, "a claim on the object, not a proof of ownership");
    }
    let traded = ["retailers", "sale_rooms"];
    if !listed.iter().any(|n| traded.contains(&n.list)) {
        for (role, how) in [(Role::Dealer, How::With), (Role::Sale, How::Untold)] {
            let Some(name) = f.role(role).filter(|n| n.chance() >= LINKED) else {
                continue;
            };
            let mut event = Event {
                how,
                doubt: Doubt::of(name.chance()),
                ..Event::new(Who::Trade(name.text.clone()))
            };
            detailed(f, &mut event);
            add(event, name.chance(), "it speaks of presence, not of title");
        }
    }
    out
}

/// Town, day, lot and stock number as the mark gives them, where they are read fairly surely.
fn detailed(f: &Facts<'_>, event: &mut Event) {
    let sure = |role| f.role(role).filter(|x| x.chance() >= 0.75).map(|x| x.text);
    if matches!(event.who, Who::Owner { .. }) {
        return;
    }
    if let Some(town) = sure(Role::Town).filter(|_| event.place.is_empty()) {
        event.place = town;
    }
    if let Some(day) = sure(Role::SaleDate) {
        event.when = When::On(day);
    }
    event.details.extend(sure(Role::Lot).map(Detail::Lot));
    event
        .details
        .extend(sure(Role::StockNumber).map(Detail::Stock));
}

/// The link that a naming is, if it names an owner, a dealer or a sale room.
fn event(n: &Naming) -> Option<Event> {
    let trade = || Event::new(Who::Trade(n.name.to_owned()));
    let event = match n.list {
        "sale_rooms" => Event {
            details: vec![Detail::Mark(n.mark.kind())],
            ..trade()
        },
        "retailers" => Event {
            how: How::With,
            details: vec![Detail::Mark(n.mark.kind())],
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
        Basis::Program(p) if p >= certainty::PLAIN => "matched by the program".into(),
        Basis::Program(p) => format!("matched by the program, {}rightly", doubt(p)),
        Basis::Record => String::new(),
    };
    let years = dates::span(n.from, n.to).map_or_else(
        || "the list gives no years".to_string(),
        |s| format!("the list gives {s}"),
    );
    let shows = match n.list {
        "retailers" | "sale_rooms" => "it speaks of presence, not of title",
        _ => "a claim on the object, not a proof of ownership",
    };
    format!(
        "{mark}, {known}; {years} ({}); {shows}.",
        clues::source(n.source)
    )
}
