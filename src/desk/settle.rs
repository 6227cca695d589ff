//! One doubtful mark at a time: everything that helps to decide, and the deciding.

use super::page::{Page, Place, guarded, page as lay, token};
use super::web::{Ask, Reply, unclear};
use super::words as w;
use super::{
    Desk, item, lights, monogram, note, photos, picture, places, proposed, question, reading,
    sightings, stated, today,
};
use crate::decisions::{
    Act, Asked, Bearer, Decision, DecisionId, KeptMark, Lettering, MarkId, Picture, Store, and,
    holding, last_to_undo,
};
use crate::error::Result;
use crate::marks::{Bearing, MarkKind};
use crate::note::heading;
use crate::run;
use maud::{Markup, html};

/// Leads to the first mark of the queue.
pub fn first(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let only = ask.query.number("picture");
    let due = desk.store().due(&today(), only)?;
    let said = ask.query.get("said");
    match due.first() {
        Some(first) => page_of(desk, *first, only, said),
        None => done(desk, only, said),
    }
}

/// The page of one mark.
pub fn page(desk: &Desk, id: MarkId, ask: &Ask) -> Result<Reply> {
    page_of(desk, id, ask.query.number("picture"), ask.query.get("said"))
}

/// Nothing is left to do.
fn done(desk: &Desk, only: Option<i64>, said: &str) -> Result<Reply> {
    let body = html! {
        (said_before(desk, said)?)
        p.lead { (w::NOTHING_DUE) }
        p.ways {
            @if let Some(p) = only { a.go href=(format!("/picture/{p}/note")) { (w::NOTE) } " " }
            a href="/" { (w::BACK_TO_PICTURES) }
        }
    };
    let shown = Page {
        title: w::SETTLE.into(),
        place: Place::Settle,
        scripts: &["settle.js"],
        keys: &[("z", w::K_UNDO)],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// Address of a mark's page within the same narrowing.
fn address(id: MarkId, only: Option<i64>) -> String {
    match only {
        Some(p) => format!("/settle/{id}?picture={p}"),
        None => format!("/settle/{id}"),
    }
}

fn page_of(desk: &Desk, id: MarkId, only: Option<i64>, said: &str) -> Result<Reply> {
    let (mark, journal, due) = {
        let store = desk.store();
        (
            store.mark(id)?,
            store.journal_of(id)?,
            store.due(&today(), only)?,
        )
    };
    let id = mark.id;
    let picture = desk.picture_of(mark.photograph)?;
    let photograph = mark.widest(&picture.photographs).map(|w| w.1);
    let photograph = photograph.ok_or_else(|| unclear("mark", "its photograph isn't known"))?;
    let at = due.iter().position(|d| *d == id);
    let (before, after) = match at {
        Some(i) => (i.checked_sub(1).and_then(|i| due.get(i)), due.get(i + 1)),
        None => (None, due.first()),
    };
    let ahead: Vec<MarkId> = due.iter().skip(at.map_or(0, |i| i + 1)).copied().collect();
    desk.warm.ahead(&ahead);
    let state = crate::decisions::item(&mark, &today());
    let newest = journal.last().map_or(0, |d| d.id.0);
    let asked = crate::decisions::asked(&state.doubts);
    let with = places::with(desk, &mark, &asked)?;
    let lists = desk.lists_at_hand();
    let entries = html! {
        section aria-labelledby="proposals-title" {
            h2 id="proposals-title" { (w::PROPOSALS) }
            (proposed::lists(&mark.rivals, &mark.settled, lists.as_deref(), "", question::purpose(&asked)))
        }
    };
    let body = html! {
        (said_before(desk, said)?)
        div.headrow {
        p.lead {
            a href=(format!("/picture/{}?photograph={}", picture.id, photograph.id)) { (picture.name) } " · "
            (item::place(&mark, photograph)) " · " (item::state_words(&state.state))
            @if let Some(i) = at { " · " (w::nth_of(i + 1, due.len())) }
        }
        nav.ways aria-label=(w::QUEUE) {
            @if let Some(b) = before { a id="previous" href=(address(*b, only)) { (w::PREVIOUS) " " kbd { "p" } } " " }
            @if let Some(a) = after { a id="next" href=(address(*a, only)) { (w::NEXT) " " kbd { "n" } } }
        }
        }
        div.settle id="settle" data-mark=(id) data-newest=(newest) data-picture=(picture.id) {
            div.main {
                (why(question::words(&mark, &asked, with.len()), &question::others(&state.doubts, &asked), matches!(asked, Asked::Entry(_))))
                // Whether two are one mark is seen on both pictures, which come first then
                @if asked == Asked::Same { (sightings::questions(desk, &mark, newest, true)?) }
                (crop(&mark, &picture))
                (places::others(&with))
                @if asked != Asked::Same { (sightings::questions(desk, &mark, newest, false)?) }
                (others(&mark))
                form id="decide" method="post" action=(format!("/mark/{id}/decide")) {
                    (guarded(desk, newest))
                    input type="hidden" name="picture" value=[only];
                    (question::choices(&question::answers(&mark, &state.doubts, &asked)))
                    @if matches!(asked, Asked::Entry(_)) { (entries) }
                    section.read aria-labelledby="reading-title" {
                        h2 id="reading-title" { (w::READING) }
                        (reading::by_person(&mark))
                        @if mark.latest().reading.lines.is_empty() { p { (w::NOTHING_READ) } }
                        (reading::letters(&mark.latest().reading.lines))
                        (reading::shared(&mark.latest().reading.shared))
                        (stated::states(&mark))
                        @if !mark.latest().reading.lines.is_empty() {
                            div.tools role="group" aria-label=(w::LETTERS) {
                                button type="button" id="unclear" { (w::UNCLEAR) " " kbd { "u" } }
                                button type="button" id="lost" { (w::LOST) " " kbd { "l" } }
                                button name="act" value="read" { (w::SAVE_READING) " " kbd { "s" } }
                            }
                        }
                        (reading::typing(&mark))
                    }
                    @if !matches!(asked, Asked::Entry(_)) { (entries) }
                    (deeds(&mark, &asked, with.len()))
                }
                @if run::seeks_copies(&mark) {
                    p.ways { a href=(format!("/mark/{id}/copies")) { (w::COPIES) } }
                }
                (monogram::section(desk, &mark)?)
                (sightings::all(desk, &mark, &picture, newest))
                (stated::form(desk, &mark, newest, only))
                (new_entry(desk, &mark, newest, only))
            }
            div.beside {
                (item::on_back(&mark, photograph))
                (history(desk, &journal, only))
                div id="aside" data-from=(format!("/picture/{}/aside", picture.id)) {
                    (note::beside(desk, picture.id, Some(id))?)
                }
            }
        }
    };
    let shown = Page {
        title: w::mark_title(&id.to_string(), heading(mark.kind())),
        place: Place::Settle,
        scripts: &["settle.js", "letters.js"],
        keys: w::SETTLE_KEYS,
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

/// What was decided just before, with the way back.
fn said_before(desk: &Desk, said: &str) -> Result<Markup> {
    let all: Vec<DecisionId> = said.split(',').filter_map(DecisionId::parse).collect();
    let Some(id) = all.first().copied() else {
        return Ok(html! {});
    };
    let store = desk.store();
    let Some(mark) = store.mark_of(id)? else {
        return Ok(html! {});
    };
    let journal = store.journal_of(mark)?;
    let found = journal.iter().find(|d| d.id == id);
    // What was taken back is told as what it was
    let undone = found.and_then(|d| match d.act {
        Act::Undo { undoes } => journal.iter().find(|u| u.id == undoes),
        _ => None,
    });
    let mut marks = vec![mark.to_string()];
    for beside in &all[1..] {
        marks.extend(store.mark_of(*beside)?.map(|m| m.to_string()));
    }
    let mark = and(&marks);
    let ids = all.iter().map(ToString::to_string);
    let ids = ids.collect::<Vec<_>>().join(",");
    Ok(html! {
        @if let Some(u) = undone {
            p.said { span id="said" data-words=(w::taken_back(&mark, &item::shown(&u.act.words()))) {
                (w::taken_back(&mark, &item::shown(&u.act.words())))
            } }
        } @else if let Some(d) = found {
            form.said method="post" action="/undo" {
                (token(desk))
                input type="hidden" name="decision" value=(ids);
                span id="said" data-words=(w::told(&mark, &item::shown(&d.act.words()))) {
                    (w::told(&mark, &item::shown(&d.act.words())))
                }
                " "
                button id="undo-said" data-decision=(ids) { (w::UNDO) " " kbd { "z" } }
            }
        }
    })
}

fn crop(mark: &KeptMark, picture: &Picture) -> Markup {
    let address = |v: &str| item::crop(mark, v);
    html! {
        section.look aria-labelledby="crop-title" {
            h2.hidden id="crop-title" { (w::THE_MARK) }
            div.crop id="crop" {
                img id="crop-picture" src=(address("colour")) alt=(w::crop_words(&item::transcription(mark)));
                img.light id="crop-light" src="" alt="" hidden;
                div.loupe id="loupe" hidden tabindex="0" role="img" aria-label=(w::LOUPE_WORDS) {
                    img id="loupe-picture" src="" alt="";
                }
            }
            p.under-crop id="under-crop" {}
            div.tools role="group" aria-label=(w::VARIANTS) {
                @for (i, (name, words)) in photos::VARIANTS.iter().zip(w::VARIANT).enumerate() {
                    button type="button" data-variant=(address(name)) aria-pressed=(if i == 0 { "true" } else { "false" }) { (words) }
                }
                span.hint { kbd { "v" } " " (w::NEXT_VARIANT) }
                button type="button" id="loupe-switch" aria-pressed="false" { (w::LOUPE) " " kbd { "m" } }
            }
            (lights::slider(mark, picture))
        }
    }
}

/// The question, and why it is asked.
///
/// * `doubts`: those that the question doesn't tell; `aside`: folded away.
fn why(question: Option<String>, doubts: &[&crate::decisions::Doubt], aside: bool) -> Markup {
    html! {
        @if question.is_some() || !doubts.is_empty() {
            section aria-labelledby="why-title" {
                @match question {
                    Some(words) => h2.question id="why-title" { (words) },
                    None => h2.hidden id="why-title" { (w::WHY) },
                }
                @if !doubts.is_empty() {
                    @let list = html! { ul.why { @for d in doubts { li { (super::page::capital(&d.words)) "." } } } };
                    // Beside a question about a list the other doubts wait
                    @if aside { details.also { summary { (w::ALSO_IN_DOUBT) } (list) } } @else { (list) }
                }
            }
        }
    }
}

/// What other people read, where it is kept beside.
fn others(mark: &KeptMark) -> Markup {
    html! {
        @if !mark.settled.answers.is_empty() {
            section aria-labelledby="others-title" {
                h2 id="others-title" { (w::OTHERS_READ) }
                ul {
                    @for a in &mark.settled.answers {
                        li {
                            (a.value.by) @if a.value.blind { " " (w::BLIND) } ": "
                            @match &a.value.says {
                                Lettering::Read(lines) => span.leiden { (item::shown(&lines.join(" / "))) },
                                Lettering::Unreadable => (w::COULDNT_READ),
                            }
                        }
                    }
                }
            }
        }
    }
}

fn deeds(mark: &KeptMark, asked: &Asked, with: usize) -> Markup {
    let unread = *asked == Asked::Reading && mark.latest().reading.lines.is_empty();
    let reading = *asked == Asked::Reading && !unread;
    let on = mark.settled.on.as_ref().map(|h| h.value);
    // What is proposed stands ready in the fields, but nothing is set before the person says so.
    let proposed = mark.bearing().filter(|_| on.is_none());
    let likely = proposed.and_then(Bearing::likely);
    let ready = on.or_else(|| {
        likely.map(|(a, b)| {
            let (on, over) = (Bearer::from(a), b.map(Bearer::from));
            (on, over.filter(|o| *o != on))
        })
    });
    html! {
        section.deeds aria-labelledby="deeds-title" {
            h2.hidden id="deeds-title" { (w::DEEDS) }
            div.tools role="group" aria-label=(w::DEEDS) {
                @if *asked == Asked::Places {
                    button.go name="act" value="nothing-here" data-key="t" { (w::nothing_at(1 + with)) " " kbd { "t" } }
                } @else if reading {
                    button.go name="act" value="read" data-key="t" { (w::ACCEPT_READING) " " kbd { "t" } }
                } @else if unread {
                    button.go type="button" id="type-it" { (w::TYPE) " " kbd { "r" } }
                }
                @if reading || unread || matches!(asked, Asked::Same | Asked::Places) {
                    button name="act" value="take" data-accept=(w::ACCEPT) { span { (w::TAKE) } }
                } @else {
                    button.go name="act" value="take" data-key="t" data-accept=(w::ACCEPT) { span { (w::TAKE) } " " kbd { "t" } }
                }
                button name="act" value="unreadable" data-key="x" { (w::CANT_BE_READ) " " kbd { "x" } }
                button name="act" value="later" data-key="o" { (w::PUT_OFF) " " kbd { "o" } }
                button name="act" value="not-a-mark" data-key="k" { (w::NO_MARK) " " kbd { "k" } }
                button name="act" value="again" data-key="w" { (w::READ_TWICE) " " kbd { "w" } }
            }
        }
        div.further {
            details id="asking" {
                summary { (w::ASK_SOMEONE) " " kbd { "a" } }
                label for="whom" { (w::WHOM) } " "
                input id="whom" name="whom" maxlength="100" autocomplete="off"; " "
                button name="act" value="ask" { (w::ASK_DO) }
            }
            details {
                summary { (w::MORE) }
                p { label for="why" { (w::REASON) } " " input id="why" name="why" maxlength="500" autocomplete="off"; }
                p {
                    label for="until" { (w::UNTIL) } " " input type="date" id="until" name="until"; " "
                    button name="act" value="until" { (w::PUT_OFF_UNTIL) }
                }
                p {
                    label for="kind" { (w::KIND) } " "
                    select id="kind" name="kind" {
                        @for k in MarkKind::ALL {
                            option value=(k.as_str()) selected[k == mark.kind()] { (heading(k)) }
                        }
                    }
                    " " button name="act" value="kind" { (w::SET_KIND) }
                }
                p {
                    label for="bearer" { (w::BEARER) } " "
                    select id="bearer" name="bearer" { (picture::part_options(ready.map(|o| o.0))) } " "
                    label for="bridging" { (w::BRIDGING) } " "
                    select id="bridging" name="bridging" { (picture::part_options(ready.and_then(|o| o.1))) } " "
                    button name="act" value="on" { (w::SET_BEARER) }
                    @if let Some(b) = proposed { " " span id="bearing" { (w::bearing(b)) } }
                }
            }
        }
    }
}

fn new_entry(desk: &Desk, mark: &KeptMark, newest: i64, only: Option<i64>) -> Markup {
    html! {
        details.entry id="entry" {
            summary { (w::NEW_ENTRY) " " kbd { "e" } }
            form method="post" action=(format!("/mark/{}/entry", mark.id)) {
                (guarded(desk, newest))
                input type="hidden" name="picture" value=[only];
                @for (name, words, must) in w::ENTRY_FIELDS {
                    p {
                        label for=(format!("entry-{name}")) { (words) } " "
                        input id=(format!("entry-{name}")) name=(name) maxlength="300" required[must] autocomplete="off"
                            value=[(name == "list").then(|| mark.rivals.first().map_or("framers", |r| &r.list))];
                    }
                }
                button { (w::ADD_ENTRY) }
            }
        }
    }
}

fn history(desk: &Desk, journal: &[Decision], only: Option<i64>) -> Markup {
    let holds = holding(journal);
    let last = last_to_undo(journal).map(|d| d.id);
    html! {
        section aria-labelledby="history-title" {
            h2 id="history-title" { (w::DECISIONS) }
            @if journal.is_empty() { p { (w::NOTHING_DECIDED) } }
            ol.history {
                @for d in journal {
                    li class=(if holds.contains(&d.id) { "holds" } else { "undone" }) {
                        (d.id) " · " (d.author.by) ", " (d.author.at.get(..16).unwrap_or("").replace('T', " ")) ": " (item::shown(&d.act.words()))
                        @if !holds.contains(&d.id) { " (" (w::UNDONE) ")" }
                        @if !d.author.why.is_empty() { ". " (w::BECAUSE) " " (d.author.why) }
                    }
                }
            }
            @if let Some(last) = last {
                form method="post" action="/undo" {
                    (token(desk))
                    input type="hidden" name="decision" value=(last);
                    input type="hidden" name="picture" value=[only];
                    button id="undo-last" data-decision=(last) { (w::undo_of(&last.to_string())) }
                }
            }
        }
    }
}
