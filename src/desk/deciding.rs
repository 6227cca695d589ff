//! Deciding: from a form to an entry of the journal, and on to the next mark.

use super::page::{Page, Place, page as lay};
use super::web::{Ask, Fields, Reply, coded};
use super::words as w;
use super::{Desk, mark_id, picture, places, question, today};
use crate::decisions::{
    self, Act, Author, Bearer, Decision, DecisionId, Guard, Kept, KeptMark, KeptPhotograph, MarkId,
    Store,
};
use crate::error::{Error, Kind, Result};
use crate::marks::MarkKind;
use crate::readings;
use maud::html;
use serde_json::json;

/// Longest text of a form, letters.
pub const LONGEST: usize = 4000;

/// What a form asks to be recorded.
fn act(desk: &Desk, mark: &KeptMark, form: &Fields) -> Result<Act> {
    let pick = form.get("pick");
    Ok(match form.get("act") {
        "take" => picked(desk, mark, pick)?,
        "read" => Act::Read {
            lines: typed(form.get("text"))?,
        },
        "says" => decisions::says(mark, form.get("role"), form.get("words"), form.get("value"))?,
        "unreadable" => Act::Unreadable,
        "later" => Act::PutOff { until: None },
        "until" => Act::PutOff {
            until: Some(day(form.get("until"))?),
        },
        "not-a-mark" | "nothing-here" => Act::NotAMark,
        "again" => Act::Again,
        "same" => Act::Same {
            with: sighting(form, "other")?,
        },
        "apart" => apart(mark, form)?,
        "ask" => match form.get("whom") {
            "" => return Err(usage(w::WHOM, w::NOBODY_NAMED, w::NAME_SOMEBODY)),
            whom => Act::Ask {
                whom: whom.chars().take(100).collect(),
            },
        },
        "kind" => Act::Kind {
            kind: MarkKind::parse(form.get("kind"))
                .ok_or_else(|| usage(w::KIND, w::NO_KIND, w::GO_BACK))?,
        },
        "on" => {
            let bearer = Bearer::parse(form.get("bearer"))
                .ok_or_else(|| usage(w::BEARER, w::NO_PART, w::CHOOSE_PART))?;
            let bridging = Bearer::parse(form.get("bridging"));
            if bridging == Some(bearer) {
                return Err(usage(w::BRIDGING, w::SAME_PART, w::CHOOSE_PART));
            }
            Act::On { bearer, bridging }
        }
        _ => return Err(usage(w::THIS_ADDRESS, w::NO_DEED, w::GO_BACK)),
    })
}

fn sighting(form: &Fields, name: &str) -> Result<MarkId> {
    MarkId::parse(form.get(name)).ok_or_else(|| usage(w::SAME_OR_NOT, w::NO_SIGHTING, w::GO_BACK))
}

/// One sighting shows another mark: than the one named, else than all others of the mark.
fn apart(mark: &KeptMark, form: &Fields) -> Result<Act> {
    if !form.get("other").is_empty() {
        let from = vec![sighting(form, "other")?];
        return Ok(Act::Apart { from });
    }
    let own = sighting(form, "sighting")?;
    let others = mark.sightings.iter().map(|s| s.id).filter(|id| *id != own);
    Ok(Act::Apart {
        from: others.collect(),
    })
}

/// Lines of a typed reading, each of which can be understood.
pub fn typed(text: &str) -> Result<Vec<String>> {
    if text.chars().count() > LONGEST {
        return Err(usage(w::TEXT, w::TEXT_TOO_LONG, w::SHORTEN));
    }
    let lines = readings::from_typed(text)?;
    if lines.is_empty() {
        return Err(usage(w::TEXT, w::TEXT_EMPTY, w::TYPE_SOMETHING));
    }
    Ok(lines.into_iter().map(|l| l.leiden).collect())
}

fn day(text: &str) -> Result<String> {
    let day: jiff::civil::Date = text
        .parse()
        .map_err(|_| usage(w::UNTIL, w::NO_DAY, w::GIVE_DAY))?;
    let day = day.to_string();
    if day <= today() {
        return Err(usage(w::UNTIL, w::NO_DAY, w::GIVE_DAY));
    }
    Ok(day)
}

/// An answer chosen: `take:LIST:ENTRY`, `none:LIST`, `read:N` (of the readings given), `kind:KIND`,
/// `stands:DOUBT`.
pub fn picked(desk: &Desk, mark: &KeptMark, pick: &str) -> Result<Act> {
    let wrong = || usage(w::PROPOSALS, w::NOTHING_CHOSEN, w::CHOOSE_ONE);
    if let Some(n) = pick.strip_prefix("read:") {
        let mut given = question::readings(mark);
        let n: usize = n.parse().map_err(|_| wrong())?;
        return match n < given.len() {
            true => Ok(Act::Read {
                lines: given.swap_remove(n).1,
            }),
            false => Err(wrong()),
        };
    }
    if let Some(kind) = pick.strip_prefix("kind:") {
        let kind = MarkKind::parse(kind).ok_or_else(wrong)?;
        return Ok(Act::Kind { kind });
    }
    if let Some(words) = pick.strip_prefix("stands:") {
        let words = words.chars().take(LONGEST).collect();
        return Ok(Act::Stands { words });
    }
    if let Some(list) = pick.strip_prefix("none:") {
        return Ok(Act::Unlisted {
            list: Some(list.to_owned()).filter(|l| !l.is_empty()),
        });
    }
    let (list, entry) = pick
        .strip_prefix("take:")
        .and_then(|p| p.split_once(':'))
        .ok_or_else(wrong)?;
    if let Some(p) = mark.proposed(Some(list), entry) {
        return Ok(Act::Take(p.into()));
    }
    let index = desk.lists()?;
    let e = index.gazetteer.entry(list, entry).ok_or_else(wrong)?;
    Ok(Act::Take(e.into()))
}

pub fn usage(place: &str, what: &str, next: &str) -> Error {
    Error::new(Kind::Usage, place, what, next)
}

/// What the page saw, from its form.
pub fn guard(form: &Fields) -> Guard {
    let seen = form.number("seen");
    let once = form.get("once");
    Guard {
        seen: seen.map(|n| (n > 0).then_some(DecisionId(n))),
        once: (8..=80).contains(&once.len()).then(|| once.to_owned()),
    }
}

/// Records a decision and leads on.
pub fn decide(desk: &Desk, id: MarkId, ask: &Ask) -> Result<Reply> {
    let mark = desk.store().mark(id)?;
    let act = act(desk, &mark, &ask.form)?;
    let author = desk.author(ask.form.get("why"));
    let guard = guard(&ask.form);
    // What is said of one sighting is entered under its own number.
    let of = match &act {
        Act::Same { .. } | Act::Apart { .. } => sighting(&ask.form, "sighting")?,
        _ => id,
    };
    let beside = match ask.form.get("act") {
        "nothing-here" => places::named(ask.form.get("with"))
            .ok_or_else(|| usage(w::PLACES_WITH, w::NO_SIGHTING, w::GO_BACK))?,
        _ => Vec::new(),
    };
    let kept = desk.store().decide_once(of, &act, &author, &guard)?;
    if let Kept::Now(d) | Kept::Before(d) = &kept
        && !beside.is_empty()
    {
        let mut said = vec![d.id.to_string()];
        said.extend(nothing_at(desk, &beside, &author, &guard)?);
        return onward(desk, id, &said.join(","), &act, ask);
    }
    if matches!(act, Act::Same { .. } | Act::Apart { .. }) {
        desk.read_together(mark.photograph)?;
    }
    if matches!(act, Act::Kind { .. }) {
        super::monogram::look(desk, id)?;
    }
    let id = desk.store().mark(id)?.id;
    after(desk, id, kept, &act, ask)
}

/// Says of places that are asked with another that nothing stands there; those on which somebody decided
/// something meanwhile stay as they are. Gives the entries.
fn nothing_at(desk: &Desk, places: &[MarkId], by: &Author, guard: &Guard) -> Result<Vec<String>> {
    let mut said = Vec::new();
    for id in places {
        let own = Guard {
            seen: Some(None),
            once: guard.once.as_ref().map(|o| format!("{o}-{id}")),
        };
        let kept = desk.store().decide_once(*id, &Act::NotAMark, by, &own)?;
        if let Kept::Now(d) | Kept::Before(d) = kept {
            said.push(d.id.to_string());
        }
    }
    Ok(said)
}

/// The answer to a decision: on to the next mark, or the two decisions side by side.
pub fn after(desk: &Desk, id: MarkId, kept: Kept, act: &Act, ask: &Ask) -> Result<Reply> {
    match kept {
        Kept::Now(d) | Kept::Before(d) => onward(desk, id, &d.id.to_string(), act, ask),
        Kept::Conflict(newer) => conflict(desk, id, &newer, act, ask),
    }
}

/// On to the next mark.
///
/// * `said`: the entries that were made, with commas between them.
fn onward(desk: &Desk, id: MarkId, said: &str, act: &Act, ask: &Ask) -> Result<Reply> {
    let only = ask.form.number("picture");
    let photograph = desk.store().mark(id)?.photograph;
    desk.hold_dates(photograph)?;
    let due = desk.store().due(&today(), only)?;
    // What leaves a doubt about the same mark keeps the person there; what puts it off doesn't.
    let stays = match act {
        Act::On { .. } | Act::Again | Act::Says(_) => true,
        Act::Kind { .. } => ask.form.get("act") == "kind" || due.contains(&id),
        Act::PutOff { .. } => false,
        _ => due.contains(&id),
    };
    let goal = if stays {
        Some(id)
    } else {
        due.iter().find(|d| **d != id).copied()
    };
    let place = match (goal, only) {
        (Some(g), None) => format!("/settle/{g}?said={said}"),
        (Some(g), Some(p)) => format!("/settle/{g}?picture={p}&said={said}"),
        (None, None) => format!("/settle?said={said}"),
        (None, Some(p)) => format!("/settle?picture={p}&said={said}"),
    };
    Ok(if ask.by_script {
        Reply::Json(json!({ "go": place, "decision": said }))
    } else {
        Reply::See(place)
    })
}

/// The answer to what was said of two marks: the two again, with what holds of them now.
pub fn after_compared(
    desk: &Desk,
    id: MarkId,
    with: MarkId,
    kept: Kept,
    act: &Act,
    ask: &Ask,
) -> Result<Reply> {
    match kept {
        Kept::Conflict(newer) => conflict(desk, id, &newer, act, ask),
        Kept::Now(_) | Kept::Before(_) => Ok(Reply::See(format!("/compare?mark={id}&mark={with}"))),
    }
}

/// Another window, or somebody else, decided since the person looked.
fn conflict(desk: &Desk, id: MarkId, newer: &[Decision], act: &Act, ask: &Ask) -> Result<Reply> {
    if ask.by_script {
        return Ok(Reply::JsonRefused(409, json!({ "conflict": true })));
    }
    let newest = newer.last().map_or(0, |d| d.id.0);
    let once = super::random_word()?;
    let body = html! {
        p.refused { (w::conflict_words(&id.to_string())) }
        div.split {
            section aria-labelledby="there" {
                h2 id="there" { (w::THERE_ALREADY) }
                ul { @for d in newer { li { (d.id) " · " (d.author.by) ": " (d.act.words()) } } }
                p { a.go href=(format!("/settle/{id}")) { (w::LEAVE_IT) } }
            }
            section aria-labelledby="mine" {
                h2 id="mine" { (w::YOURS) }
                p { (super::page::capital(&act.words())) "." }
                form method="post" action=(format!("/{}", ask.path.join("/"))) {
                    @for (name, value) in &ask.form.0 {
                        @if name != "seen" && name != "once" { input type="hidden" name=(name) value=(value); }
                    }
                    input type="hidden" name="seen" value=(newest);
                    input type="hidden" name="once" value=(once);
                    button { (w::KEEP_MINE) }
                }
            }
        }
    };
    let shown = Page {
        title: w::NOT_KEPT.into(),
        place: Place::Settle,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Refused(409, lay(desk, shown)))
}

/// Undoes an entry and leads to its mark.
pub fn undo(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let wrong = || usage(w::UNDO, w::NO_DECISION, w::GO_BACK);
    let which = ask.form.get("decision").split(',').map(DecisionId::parse);
    let which: Vec<DecisionId> = which.collect::<Option<_>>().ok_or_else(wrong)?;
    let author = desk.author(ask.form.get("why"));
    let guard = guard(&ask.form);
    let mut store = desk.store();
    let (mut said, mut undone) = (Vec::new(), None);
    for undoes in which {
        let mark = store.mark_of(undoes)?.ok_or_else(wrong)?;
        let own = Guard {
            seen: None,
            once: guard.once.as_ref().map(|o| match undone {
                None => o.clone(),
                Some(_) => format!("{o}-{undoes}"),
            }),
        };
        let kept = store.decide_once(mark, &Act::Undo { undoes }, &author, &own)?;
        if let Kept::Now(d) | Kept::Before(d) = kept {
            said.push(d.id.to_string());
        }
        undone.get_or_insert(mark);
    }
    let mark = undone.ok_or_else(wrong)?;
    let said = said.join(",");
    let photograph = store.mark(mark)?.photograph;
    let unread = store.unread_together()?;
    let own = store.picture_of(photograph)?.map(|p| p.id);
    drop(store);
    if own.is_some_and(|p| unread.contains(&p)) {
        desk.read_together(photograph)?;
    }
    desk.hold_dates(photograph)?;
    let only = ask.form.get("picture");
    let place = match only {
        "" => format!("/settle/{mark}?said={said}"),
        p => format!("/settle/{mark}?picture={}&said={said}", coded(p)),
    };
    Ok(if ask.by_script {
        Reply::Json(json!({ "go": place }))
    } else {
        Reply::See(place)
    })
}

/// The mark of that number with its photograph.
pub fn with_photograph(desk: &Desk, id: &str) -> Result<(KeptMark, KeptPhotograph)> {
    let mark = desk.store().mark(mark_id(id)?)?;
    let photograph = picture::photograph(desk, mark.photograph)?;
    Ok((mark, photograph))
}
