//! What fits a reading while it is typed, and rows for the user's own lists.

use super::deciding::{after, guard, usage};
use super::web::{Ask, Reply};
use super::words as w;
use super::{Desk, proposed};
use crate::dating::typed;
use crate::decisions::{Act, KeptMark, MarkId, Settled, Store};
use crate::error::{Error, Kind, Result};
use crate::gazetteer::edit::{self, Cells};
use crate::gazetteer::keys::Keys;
use crate::gazetteer::rows::COLUMNS;
use crate::gazetteer::{Entry, Place};
use crate::proposals::Rivals;
use crate::readings::{self, Line};
use crate::run;
use maud::html;
use std::path::{Path, PathBuf};

/// Entries that are offered while typing.
const MOST: usize = 6;
/// Entries less likely than this are not offered.
const LEAST: f64 = 0.02;
/// Longest text that is weighed, letters.
const LONGEST: usize = 400;

/// Lines that stand for the mark while its reading is typed: the typed ones, the last of them open
/// at its end, and below them those that the program read.
fn lattice(mark: &KeptMark, text: &str, finished: bool) -> Result<Vec<Line>> {
    let mut typed = text.trim_end_matches([' ', '\n', '\r']).to_owned();
    let open = !finished && typed.chars().last().is_some_and(char::is_alphanumeric);
    if open {
        typed.push_str("[---]");
    }
    let mut lines = readings::from_typed(&typed)?;
    let read = &mark.latest().reading.lines;
    lines.extend(read.iter().skip(lines.len()).cloned());
    Ok(lines)
}

/// Entries that fit what is typed so far, as a piece of a page.
pub fn fits(desk: &Desk, id: MarkId, ask: &Ask) -> Result<Reply> {
    let text: String = ask.query.get("text").chars().take(LONGEST).collect();
    let mark = desk.store().mark(id)?;
    let lines = match lattice(&mark, &text, ask.query.get("finished") == "1") {
        Ok(lines) => lines,
        // A sign half typed is no fault yet.
        Err(e) => return Ok(Reply::Page(html! { p.hint { (e.place) ": " (e.what) } })),
    };
    let index = desk.lists()?;
    let picture = desk.picture_of(mark.photograph)?.id;
    let beside = run::known_beside(&desk.store(), id, picture)?;
    let kind = mark.kind();
    let mut rivals: Vec<Rivals> = run::signs::typed(&index, kind, &text, &lines, &beside);
    for r in &mut rivals {
        r.proposals.retain(|p| p.probability >= LEAST);
        r.proposals.truncate(MOST);
    }
    rivals.retain(|r| !r.proposals.is_empty());
    rivals.truncate(3);
    let undecided = Settled::default();
    Ok(Reply::Page(html! {
        @if rivals.is_empty() {
            p { (w::NOTHING_FITS) }
        } @else {
            p { (w::FITS) }
            (proposed::lists(&rivals, &undecided, Some(&index), "fit-", proposed::For::Aside))
            button type="submit" name="act" value="take" data-fit="1" { (w::TAKE_FIT) }
        }
    }))
}

/// Adds a row to one of the user's own lists and takes it for the mark.
pub fn add_entry(desk: &Desk, id: MarkId, ask: &Ask) -> Result<Reply> {
    desk.store().mark(id)?;
    let f = &ask.form;
    let mut entry = Entry {
        list: f.get("list").to_lowercase(),
        name: f.get("name").to_owned(),
        trade: f.get("trade").to_owned(),
        address: f.get("address").to_owned(),
        town: f.get("town").to_owned(),
        from: f.get("from").to_owned(),
        to: f.get("to").to_owned(),
        source: f.get("source").to_owned(),
        note: f.get("note").to_owned(),
        ..Entry::default()
    };
    for (field, value) in [(w::NAME, &entry.name), (w::SOURCE, &entry.source)] {
        if value.is_empty() {
            return Err(usage(field, w::EMPTY, w::SAY_NAME_AND_SOURCE));
        }
    }
    for value in [&mut entry.from, &mut entry.to] {
        if !value.is_empty() {
            *value = typed(value).ok_or_else(|| usage(value, w::NO_YEAR, w::GIVE_YEAR))?;
        }
    }
    // Held until the decision is kept, so that a form sent several times adds one row
    let held = edit::hold(own_folder(desk)?)?;
    let guard = guard(f);
    let against = desk.store().stands_against(id, &guard)?;
    let (file, there) = own_list(desk, &entry.list)?;
    // A row of an earlier try whose decision was lost is taken as it stands
    let before = there.iter().find(|e| cells(e)[1..] == cells(&entry)[1..]);
    entry.entry = match before {
        Some(row) => row.entry.clone(),
        None => Keys::new(there.iter().map(|e| e.entry.as_str())).fresh(&entry.name, &entry.town),
    };
    if against.is_none() && before.is_none() {
        edit::append(&file, &[cells(&entry)], &held)?;
    }
    let act = Act::Take((&entry).into());
    let kept = match against {
        Some(kept) => kept,
        None => {
            let author = desk.author(f.get("why"));
            desk.store().decide_once(id, &act, &author, &guard)?
        }
    };
    drop(held);
    after(desk, id, kept, &act, ask)
}

/// The folder of the user's own lists.
fn own_folder(desk: &Desk) -> Result<&Path> {
    match &desk.place {
        Place::Folder(folder) => Ok(folder),
        Place::Starter => Err(Error::new(
            Kind::Gazetteer,
            w::LISTS,
            w::NO_OWN_LISTS,
            w::START_LISTS,
        )),
    }
}

/// The file of one of the user's own lists, and what stands in it.
fn own_list(desk: &Desk, list: &str) -> Result<(PathBuf, Vec<Entry>)> {
    let sheets = crate::gazetteer::sheets(own_folder(desk)?)?;
    let names: Vec<&str> = sheets.iter().map(|s| s.list.as_str()).collect();
    let found = sheets.iter().find(|s| s.list == list);
    let sheet =
        found.ok_or_else(|| usage(list, w::NO_SUCH_LIST, &w::give_one_of(&names.join(", "))))?;
    Ok((sheet.file.clone(), sheet.entries.clone()))
}

/// A row in the ten columns.
fn cells(e: &Entry) -> Cells {
    let values = [
        &e.entry, &e.name, "", &e.trade, &e.address, &e.town, &e.from, &e.to, &e.source, &e.note,
    ];
    COLUMNS
        .iter()
        .map(|c| (*c).to_owned())
        .zip(values.map(str::to_owned))
        .collect()
}
