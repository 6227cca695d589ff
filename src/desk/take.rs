//! Taking photographs with a phone in the hand: what each got is said at once, and what is still missing of each mark
//! once it was read.

use super::batch::of_group;
use super::page::{Page, Place, page as lay};
use super::web::{Ask, Reply};
use super::words as w;
use super::{Desk, item, today};
use crate::decisions::{KeptMark, KeptPhotograph, Store, Visit, now, queue};
use crate::error::{Error, Kind, Result};
use crate::geometry::Quad;
use crate::photograph;
use crate::run::{self, wanting};
use crate::taking::{self, Capture, Got};
use maud::html;
use serde_json::{Value, json};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};

/// Photographs whose advice is remembered.
const MOST: usize = 500;

/// Photographs that came in, by the SHA-256 of their bytes, and what was said of them.
#[derive(Debug, Default)]
pub struct Taking {
    arrived: Mutex<HashMap<String, PathBuf>>,
    told: Mutex<HashMap<String, Arc<Got>>>,
}

fn held<T>(m: &Mutex<T>) -> MutexGuard<'_, T> {
    m.lock().unwrap_or_else(|e| e.into_inner())
}

impl Taking {
    /// Remembers where a photograph lies that came in.
    pub fn arrived(&self, hash: &str, file: &Path) {
        let mut all = held(&self.arrived);
        if all.len() >= MOST {
            all.clear();
            held(&self.told).clear();
        }
        all.insert(hash.to_owned(), file.to_owned());
    }

    fn got(&self, hash: &str) -> Result<Arc<Got>> {
        if let Some(known) = held(&self.told).get(hash) {
            return Ok(known.clone());
        }
        let file = held(&self.arrived).get(hash).cloned();
        let file =
            file.ok_or_else(|| Error::new(Kind::Photograph, hash, w::NOT_ARRIVED, w::SEND_AGAIN))?;
        let got = Arc::new(taking::look(&photograph::open(&file)?.picture)?);
        held(&self.told).insert(hash.to_owned(), got.clone());
        Ok(got)
    }
}

/// What one photograph got, a moment after it came in.
pub fn advice(desk: &Desk, hash: &str) -> Result<Reply> {
    let got = desk.taking.got(hash)?;
    Ok(Reply::Json(json!({
        "words": got.words(), "sentences": got.sentences(), "lacks": got.lacks(),
    })))
}

/// Measures the marks of a picture as its photographs got them, as far as that wasn't done.
pub fn measure(desk: &Desk, picture: i64) -> Result<()> {
    let (of, marks, known) = {
        let store = desk.store();
        let marks = store.marks(Some(picture))?;
        (store.picture(picture)?, marks, store.captures(picture)?)
    };
    for p in of.iter().flat_map(|of| &of.photographs) {
        let looks = marks.iter().filter_map(|m| Some(m.on(p.id)?.look()));
        let new: Vec<(i64, Quad)> = looks
            .filter(|l| !known.contains_key(&l.id))
            .map(|l| (l.id, l.seen.outline))
            .collect();
        // A photograph that is gone or was changed since is told of where it is shown
        let Ok(photo) = p.open() else { continue };
        if new.is_empty() {
            continue;
        }
        taking::make_way();
        let outlines: Vec<Quad> = new.iter().map(|n| n.1).collect();
        let got = taking::look_at(&photo.picture, &outlines);
        let all: Vec<(i64, Capture)> = new.into_iter().map(|n| n.0).zip(got.marks).collect();
        desk.store().keep_captures(&all, &now(), run::PROGRAM)?;
    }
    Ok(())
}

/// A mark of a picture that another photograph would help, in words.
pub struct Missing {
    /// The mark.
    pub mark: KeptMark,
    /// What to do, sentences.
    pub words: Vec<String>,
}

/// How far a picture is.
pub struct Stand {
    /// Marks that another photograph would help.
    pub missing: Vec<Missing>,
    /// Marks that wait for a person.
    pub due: usize,
    /// Marks that are told, and those of them whose lettering is in no doubt.
    pub read: (usize, usize),
}

/// How far a picture is by all its photographs that were read.
pub fn stand(desk: &Desk, picture: i64) -> Result<Stand> {
    let (marks, known) = {
        let store = desk.store();
        (store.marks(Some(picture))?, store.captures(picture)?)
    };
    let items = queue(&marks, &today());
    let due = items.iter().filter(|i| i.state.is_due()).count();
    let told = items.iter().filter(|i| i.mark.is_told());
    let well = told.clone().filter(|i| !wanting::unclear(i)).count();
    let read = (told.count(), well);
    let wanting = wanting::wanting(&items, |s| known.get(&s.look().id));
    let told = wanting.into_iter().filter_map(|wanted| {
        let mark = marks.iter().find(|m| m.id == wanted.mark)?;
        let mut words: Vec<String> = wanted
            .wants
            .iter()
            .map(|w| taking::asking(w, &[]))
            .collect();
        // Sharp, light and large, and still read poorly: it is faint, or in a hand that light can't help
        if words.is_empty() && mark.sightings.len() == 1 {
            words.push(w::RAKING.into());
        }
        (!words.is_empty()).then(|| Missing {
            mark: mark.clone(),
            words,
        })
    });
    Ok(Stand {
        missing: told.collect(),
        due,
        read,
    })
}

/// The back with a mark on it, for the script to draw: address, size and corners.
fn on_plan(p: &KeptPhotograph, mark: &KeptMark) -> Value {
    let outline = mark.on(p.id).unwrap_or_else(|| mark.main()).seen().outline;
    json!({
        "src": format!("/whole/{}/{}.jpg", p.id, item::SMALL),
        "size": [p.width, p.height], "corners": item::corners(&outline),
    })
}

/// How far a picture is whose photographs come in one by one.
pub fn state(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let group = ask
        .query
        .number("group")
        .and_then(|g| u64::try_from(g).ok());
    let (picture, waiting) = group.map_or((None, 0), |g| of_group(desk, g));
    let Some(picture) = picture else {
        return Ok(Reply::Json(json!({ "waiting": waiting, "missing": [] })));
    };
    let Stand { missing, due, read } = stand(desk, picture)?;
    let photographs = desk.picture(picture)?.photographs;
    let missing: Vec<Value> = missing
        .iter()
        .map(|m| {
            let plan = photographs.iter().find(|p| m.mark.on(p.id).is_some());
            let plan = plan.map(|p| on_plan(p, &m.mark));
            let read = item::transcription(&m.mark);
            json!({ "mark": m.mark.id.to_string(), "crop": item::crop(&m.mark, "colour"), "read": read, "words": m.words, "plan": plan })
        })
        .collect();
    Ok(Reply::Json(json!({
        "waiting": waiting, "picture": picture, "missing": missing, "due": due,
        "words": w::read_so_far(waiting, read), "questions": w::count_due(due),
    })))
}

/// The visit that goes on: the newest, if it began today.
pub fn current(desk: &Desk) -> Result<Option<Visit>> {
    let newest = desk.store().visits()?.into_iter().next();
    Ok(newest.filter(|v| v.at.starts_with(&today())))
}

/// The page.
pub fn page(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let asked_for = ask.query.number("visit");
    let visit = match asked_for {
        Some(id) => Some(desk.store().visit(id)?),
        None => current(desk)?,
    };
    let id = visit
        .as_ref()
        .map_or_else(String::new, |v| v.id.to_string());
    let body = html! {
        div.taking id="taking" data-visit=(id) data-picture=(ask.query.get("picture")) {
            p.lead id="todo" role="status" { (w::WHOLE_FIRST) }
            p { input.shutter.hidden type="file" id="shot" accept="image/*" capture="environment"; label for="shot" { (w::TAKE_ONE) } }
            p { input.shutter.hidden type="file" id="chosen" multiple accept="image/*,.heic,.tif,.tiff"; label for="chosen" { (w::CHOOSE_TAKEN) } }
            p.row { label for="lot" { (w::LOT) } " " input id="lot" maxlength="60" autocomplete="off" enterkeyhint="done"; }
        }
        p id="far" role="status" {}
        section aria-labelledby="missing-title" id="missing" hidden {
            h2 id="missing-title" { (w::STILL_MISSING) }
            ul.missing id="missing-list" {}
        }
        p.ways {
            a.go id="questions" hidden { (w::SETTLE) } " "
            a id="to-note" hidden { (w::NOTE) } " "
            button type="button" id="next" hidden { (w::NEXT_PICTURE) } " "
            a href=(visit.as_ref().map_or("/visit".to_owned(), |v| format!("/visit/{}", v.id))) { (w::THIS_VISIT) }
        }
        section aria-labelledby="taken-title" {
            h2 id="taken-title" { (w::TAKEN) }
            ol.taken id="taken" reversed {}
        }
    };
    let shown = Page {
        title: w::TAKE_PHOTOGRAPHS.into(),
        place: Place::Bring,
        scripts: &["take.js"],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}
