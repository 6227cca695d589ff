//! Proposals of the lists as choices, each with its chance and how its letters agree.

use super::item;
use super::words as w;
use crate::decisions::{Named, Settled};
use crate::gazetteer::Entry;
use crate::proposals::{Index, Proposal, Rivals, Seen};
use maud::{Markup, html};

/// What the choices are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum For<'a> {
    /// To answer a question about this list: its choices come first and alone have keys, 1 to 9 and 0.
    Question(&'a str),
    /// Another question is asked; none has a key or is chosen.
    Looking,
    /// Nothing is asked: the first list has the keys.
    Choosing,
    /// Elsewhere than on a mark's page: no keys.
    Aside,
}

/// The lists that are still to be decided, each as a group of choices.
pub fn lists(
    rivals: &[Rivals],
    settled: &Settled,
    lists: Option<&Index>,
    prefix: &str,
    purpose: For<'_>,
) -> Markup {
    let mut open: Vec<&Rivals> = rivals
        .iter()
        .filter(|r| settled.on_list(&r.list).is_none() && worth_showing(r))
        .collect();
    if let For::Question(list) = purpose {
        open.sort_by_key(|r| r.list != list);
    }
    let has_keys = matches!(purpose, For::Question(_) | For::Choosing);
    // A label that names one town thrice has three lists of the same first entry
    let mut shown: Vec<(&str, &str)> = Vec::new();
    open.retain(|r| {
        let first = r.shown().next().map_or("", |p| p.entry.as_str());
        let new = !shown.contains(&(r.list.as_str(), first));
        shown.push((r.list.as_str(), first));
        new
    });
    // Those that are decided stay in sight, last.
    let decided = rivals.iter().filter(|r| settled.on_list(&r.list).is_some());
    let mut number = 0;
    let mut groups = Vec::new();
    for (at, r) in open.iter().enumerate() {
        let choices: Vec<Markup> = r
            .shown()
            .map(|p| {
                number += 1;
                let key = (has_keys && at == 0 && number <= 9).then_some(number);
                choice(
                    p,
                    lists,
                    prefix,
                    key,
                    number == 1 && purpose != For::Looking,
                )
            })
            .collect();
        groups.push(html! {
            fieldset.list {
                legend { (w::list_title(&r.list)) }
                @for c in &choices { (c) }
                label.choice {
                    input type="radio" name=(format!("{prefix}pick")) value=(format!("none:{}", r.list))
                        data-key=[(has_keys && at == 0).then_some(0)] data-name=(w::none_of(&r.list));
                    span.chance { (item::chance(r.unlisted)) }
                    span.what { (w::none_of(&r.list)) @if has_keys && at == 0 { " " kbd { "0" } } }
                }
            }
        });
    }
    html! {
        @if groups.is_empty() && purpose != For::Aside { p { (w::NO_PROPOSALS) } }
        @match (purpose, groups.split_first()) {
            (For::Question(_), Some((first, rest))) => {
                (first)
                @if !rest.is_empty() { details { summary { (w::NOT_ASKED) } @for g in rest { (g) } } }
            }
            _ => @for g in &groups { (g) },
        }
        @for r in decided { (already(&r.list, settled)) }
    }
}

fn worth_showing(r: &Rivals) -> bool {
    r.shown().next().is_some()
}

fn already(list: &str, settled: &Settled) -> Markup {
    let said = match settled.on_list(list).map(|h| &h.value) {
        Some(Named::Entry(t)) => w::names_entry(&t.name, &t.entry),
        _ => w::NAMES_NONE.to_owned(),
    };
    html! { p.already { (w::list_title(list)) ": " (said) } }
}

fn choice(
    p: &Proposal,
    lists: Option<&Index>,
    prefix: &str,
    key: Option<i32>,
    first: bool,
) -> Markup {
    let entry = lists.and_then(|l| l.gazetteer.entry(&p.list, &p.entry));
    let because: Vec<&str> = p
        .agreement
        .because
        .iter()
        .map(String::as_str)
        .filter(|b| !b.trim().is_empty())
        .collect();
    html! {
        label.choice {
            input type="radio" name=(format!("{prefix}pick")) value=(format!("take:{}:{}", p.list, p.entry))
                checked[first] data-key=[key] data-name=(p.name) data-chance=(p.probability);
            span.chance { (item::chance(p.probability)) }
            span.what {
                strong { (p.name) }
                @if let Some(k) = key { " " kbd { (k) } }
                span.where { (premises(p, entry)) }
                span.agreement aria-hidden="true" { @for l in &p.agreement.letters { (agreed(l)) } }
            }
        }
        @if !because.is_empty() {
            details.because { summary aria-label=(w::why_named(&p.name)) { (w::WHY_SO) } @for b in &because { p { (b) } } }
        }
    }
}

/// Where and when, and where that is known from.
fn premises(p: &Proposal, entry: Option<&Entry>) -> String {
    let mut parts: Vec<String> = Vec::new();
    if let Some(e) = entry {
        parts.extend(
            [&e.address, &e.town, &e.trade]
                .into_iter()
                .filter(|t| !t.trim().is_empty())
                .cloned(),
        );
    }
    match (p.not_before.as_str(), p.not_after.as_str()) {
        ("", "") => parts.push(w::NO_YEARS.into()),
        (a, "") => parts.push(w::years_from(a)),
        ("", b) => parts.push(w::years_to(b)),
        (a, b) => parts.push(format!("{a}–{b}")),
    }
    if !p.source.trim().is_empty() {
        parts.push(w::source(&p.source));
    }
    parts.join(" · ")
}

/// One letter of an entry; its underline tells what was seen of it.
fn agreed((letter, seen): &(char, Seen)) -> Markup {
    let class = match seen {
        Seen::Clear => "seen",
        Seen::Unclear => "unclear",
        Seen::Lost => "lost",
        Seen::Contradicted => "against",
    };
    html! { span class=(class) { (letter) } }
}
