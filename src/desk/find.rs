//! Finding anything: words over marks, pictures, what befell them and lists; and all marks by kind,
//! firm, doubt, sale room and year.

use super::page::{Page, Place, page as lay};
use super::web::{Ask, Fields, Reply, coded};
use super::words as w;
use super::{Desk, entry, item, today};
use crate::dating::typed_years;
use crate::decisions::{
    DoubtKind, FoundMarks, KeptMark, MarkId, Picture, Sight, Store, Wanted, standing,
};
use crate::error::Result;
use crate::gazetteer::fold::{holds, plain};
use crate::marks::MarkKind;
use crate::note::heading;
use crate::readings::from_typed;
use maud::{Markup, html};

/// Marks on one page.
const MOST: usize = 24;
/// Pictures and entries that are shown; those are found by fewer words.
const OTHERS: usize = 12;
/// Firms and sale rooms to choose from.
const NAMED: usize = 200;

/// The page.
pub fn page(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let f = &ask.query;
    let first = f.number("from").unwrap_or(0).max(0) as usize;
    let year = f.get("year");
    let years = typed_years(year);
    let wanted = Wanted {
        words: f.get("words").chars().take(200).collect(),
        kind: f.get("kind").into(),
        firm: f.get("firm").into(),
        sale_room: f.get("room").into(),
        doubt: f.get("doubt").into(),
        years,
    };
    let found = desk.store().find_marks(&wanted, first, MOST)?;
    let words = plain(&wanted.words);
    let words: Vec<&str> = words.split_whitespace().collect();
    let body = html! {
        (form(desk, f)?)
        @if !year.is_empty() && years.is_none() { p.refused { (w::no_year(year)) } }
        @if !words.is_empty() {
            (pictures(desk, &words)?)
            (entries(desk, &wanted.words)?)
        }
        (marks(desk, &found, first, f)?)
    };
    let shown = Page {
        title: w::FIND_TITLE.into(),
        place: Place::Find,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

fn form(desk: &Desk, f: &Fields) -> Result<Markup> {
    let (firms, rooms) = {
        let store = desk.store();
        (
            store.named_most(false, NAMED)?,
            store.named_most(true, NAMED)?,
        )
    };
    let choice = |name: &str, words: &str, options: &[(String, String)]| {
        html! {
            span.choice-of {
                label for=(name) { (words) } " "
                select id=(name) name=(name) {
                    option value="" { (w::ANY) }
                    @for (value, words) in options { option value=(value) selected[f.get(name) == value] { (words) } }
                }
            }
        }
    };
    let kinds: Vec<(String, String)> = MarkKind::ALL
        .into_iter()
        .map(|k| (k.as_str().to_owned(), heading(k).to_owned()))
        .collect();
    let doubts: Vec<(String, String)> = DoubtKind::ALL
        .into_iter()
        .map(|d| (d.as_str().to_owned(), w::doubt(d).to_owned()))
        .collect();
    let counted = |all: Vec<(String, usize)>| -> Vec<(String, String)> {
        all.into_iter()
            .map(|(name, n)| (name.clone(), format!("{name} ({n})")))
            .collect()
    };
    Ok(html! {
        form.find-all method="get" action="/find" role="search" {
            p.find {
                label for="words" { (w::FIND_WORDS) }
                input.wide id="words" name="words" value=(f.get("words")) maxlength="200" autocomplete="off" aria-describedby="find-how";
                button.go { (w::FIND) }
            }
            p.hint id="find-how" { (w::FIND_HOW) }
            div.tools {
                (choice("kind", w::KIND, &kinds))
                (choice("firm", w::FIRM, &counted(firms)))
                (choice("doubt", w::IN_DOUBT, &doubts))
                (choice("room", w::SALE_ROOM, &counted(rooms)))
                span.choice-of {
                    label for="year" { (w::YEAR_FIELD) } " "
                    input id="year" name="year" size="10" maxlength="40" value=(f.get("year")) autocomplete="off";
                }
                @if f.0.iter().any(|(n, v)| n != "from" && !v.trim().is_empty()) { a href="/find" { (w::ALL_OF_THEM) } }
            }
        }
    })
}

/// Pictures whose name, or what befell them, has the words.
fn pictures(desk: &Desk, words: &[&str]) -> Result<Markup> {
    let store = desk.store();
    let named = store.names()?.into_iter().filter(|p| holds(&p.1, words));
    let named: Vec<i64> = named.take(OTHERS).map(|p| p.0).collect();
    let mut found: Vec<(Picture, Option<String>)> = Vec::new();
    for id in named {
        found.extend(store.picture(id)?.map(|p| (p, None)));
    }
    let journal = store.observations(None)?;
    for o in standing(&journal) {
        let text = match &o.sight {
            Sight::Event(e) => format!("{}, {} {}", e.who, e.place, e.when),
            Sight::Provenance { text, .. } => text.clone(),
            Sight::Wording { words, .. } => words.clone(),
            _ => continue,
        };
        if found.len() < OTHERS && holds(&text, words) {
            let picture = store.picture(o.picture)?;
            let short: String = text.chars().take(200).collect();
            found.extend(picture.map(|p| (p, Some(short))));
        }
    }
    Ok(html! {
        @if !found.is_empty() {
            section aria-labelledby="found-pictures" {
                h2 id="found-pictures" { (w::PICTURES) }
                ul {
                    @for (p, text) in &found {
                        li { a href=(format!("/picture/{}", p.id)) { (p.name) } @if let Some(t) = text { ": " (t) } }
                    }
                }
            }
        }
    })
}

/// Entries of the lists that may be meant, and those that have the words.
fn entries(desk: &Desk, words: &str) -> Result<Markup> {
    let index = desk.lists()?;
    // A sign half typed is no fault here
    let typed = from_typed(words).unwrap_or_default();
    let found = index.find(&typed, words, None, OTHERS);
    Ok(html! {
        @if !found.is_empty() {
            section aria-labelledby="found-entries" {
                h2 id="found-entries" { (w::IN_LISTS) }
                ul {
                    @for f in &found {
                        li {
                            a href=(entry::address(&f.entry.list, &f.entry.entry)) { (f.entry.name) }
                            " · " (w::entry_words(f.entry))
                            @if let Some(p) = f.chance { " · " (item::chance(p)) }
                        }
                    }
                }
            }
        }
    })
}

fn marks(desk: &Desk, found: &FoundMarks, first: usize, f: &Fields) -> Result<Markup> {
    let mut shown: Vec<(KeptMark, Picture)> = Vec::new();
    for id in &found.marks {
        let mark = desk.store().mark(*id)?;
        let picture = desk.picture_of(mark.photograph)?;
        shown.push((mark, picture));
    }
    Ok(html! {
        section aria-labelledby="found-marks" {
            h2 id="found-marks" { (w::marks_found(found.all)) }
            @if found.damaged && found.all > 0 { p.hint { (w::FOUND_DAMAGED) } }
            form method="get" action="/compare" {
                ul.found { @for (m, p) in &shown { (found_mark(m, p)) } }
                @if shown.len() > 1 { button { (w::COMPARE_CHOSEN) } }
            }
            (pages(found, first, f))
        }
    })
}

fn found_mark(mark: &KeptMark, picture: &Picture) -> Markup {
    let id: MarkId = mark.id;
    let state = crate::decisions::item(mark, &today()).state;
    html! {
        li {
            a href=(format!("/settle/{id}")) {
                span.thumb { img src=(item::crop(mark, "colour")) alt="" loading="lazy"; }
                (id) " " (heading(mark.kind()))
            }
            span.leiden { (item::transcription(mark)) }
            span.state { (picture.name) " · " (item::state_words(&state)) }
            label { input type="checkbox" name="mark" value=(id) aria-label=(w::choose_mark(&id.to_string())); " " (w::COMPARE_THIS) }
        }
    }
}

fn pages(found: &FoundMarks, first: usize, f: &Fields) -> Markup {
    let to = |from: usize| {
        let kept =
            f.0.iter()
                .filter(|(n, v)| n != "from" && !v.trim().is_empty());
        let mut all: Vec<String> = kept
            .map(|(n, v)| format!("{}={}", coded(n), coded(v)))
            .collect();
        all.push(format!("from={from}"));
        format!("/find?{}", all.join("&"))
    };
    html! {
        @if found.all > MOST {
            nav.pages aria-label=(w::MORE_MARKS) {
                @if first > 0 { a href=(to(first.saturating_sub(MOST))) { (w::EARLIER) } " " }
                span { (w::range(first + 1, (first + MOST).min(found.all), found.all)) }
                @if first + MOST < found.all { " " a href=(to(first + MOST)) { (w::LATER_ONES) } }
            }
        }
    }
}
