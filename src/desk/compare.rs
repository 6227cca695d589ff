//! Two marks beside each other: at one width, laid over each other, with what a person says of them.

use super::deciding::{after_compared, guard, usage, with_photograph};
use super::page::{Page, Place, guarded, page as lay, token};
use super::web::{Ask, Reply};
use super::words as w;
use super::{Desk, item, mark_id, picture};
use crate::decisions::{Act, Decision, KeptMark, Likeness, MarkId, Store, holding};
use crate::error::Result;
use maud::{Markup, html};

/// The page: `/compare?mark=1b&mark=2c`.
pub fn page(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let chosen: Vec<&str> = ask.query.all("mark").collect();
    let wrong = || usage(w::SIDE_BY_SIDE, w::NOT_TWO_CHOSEN, w::CHOOSE_TWO_MARKS);
    let [a, b] = chosen[..] else {
        return Err(wrong());
    };
    if mark_id(a)? == mark_id(b)? {
        return Err(wrong());
    }
    let (a, p) = with_photograph(desk, a)?;
    let (b, q) = with_photograph(desk, b)?;
    let newest = desk.store().journal_of(a.id)?.last().map_or(0, |d| d.id.0);
    let name = |id: i64| desk.picture_of(id).map(|p| p.name);
    let (first, second) = (name(p.id)?, name(q.id)?);
    let laid = format!(
        "/laid/{}/{}/{}-{}.jpg",
        a.id,
        b.id,
        a.look().id,
        b.look().id
    );
    let body = html! {
        section aria-labelledby="over-title" {
            h2 id="over-title" { (w::LAID_OVER) }
            div.crop.compared id="compared" {
                img id="under" src=(item::crop(&a, "colour")) alt=(w::crop_words(&item::transcription(&a)));
                img.light id="over" src=(laid) data-else=(item::crop(&b, "colour")) alt=(w::crop_words(&item::transcription(&b))) hidden;
            }
            div.tools role="group" aria-label=(w::LAID_OVER) {
                button type="button" id="blink" aria-pressed="false" { (w::BLINK) " " kbd { "b" } }
                label for="fade" { (a.id) " " }
                input type="range" id="fade" min="0" max="1" step="0.05" value="0" aria-label=(w::FADE);
                span { (b.id) }
            }
            p.hint id="laid-how" role="status" { (w::LAID_HOW) }
        }
        (answers(desk, &a, b.id, newest)?)
        div.pair { (side(&a, &first)) (side(&b, &second)) }
    };
    let shown = Page {
        title: w::compare_title(&a.id.to_string(), &b.id.to_string()),
        place: Place::Settle,
        scripts: &["compare.js"],
        keys: w::COMPARE_KEYS,
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

fn side(mark: &KeptMark, picture: &str) -> Markup {
    html! {
        figure {
            img src=(item::crop(mark, "colour")) alt=(w::crop_words(&item::transcription(mark)));
            figcaption {
                a href=(format!("/settle/{}", mark.id)) { (w::to_mark(&mark.id.to_string())) } " · " (picture) ": "
                span.leiden { (item::transcription(mark)) }
            }
        }
    }
}

/// What a person said of the two that holds, the newest last.
pub fn said(journal: &[Decision], with: MarkId) -> Vec<&Decision> {
    let holds = holding(journal);
    let about = |d: &&Decision| {
        holds.contains(&d.id) && matches!(d.act, Act::Likened { with: other, .. } if other == with)
    };
    journal.iter().filter(about).collect()
}

fn answers(desk: &Desk, a: &KeptMark, b: MarkId, newest: i64) -> Result<Markup> {
    let journal = desk.store().journal_of(a.id)?;
    let said = said(&journal, b);
    Ok(html! {
        @if let Some(d) = said.last() {
            form.said method="post" action="/undo" {
                (token(desk))
                input type="hidden" name="decision" value=(d.id);
                span { (super::page::capital(&d.act.words())) " (" (d.author.by) "). " }
                button { (w::UNDO) }
            }
        }
        form method="post" action=(format!("/mark/{}/likened", a.id)) {
            (guarded(desk, newest))
            input type="hidden" name="other" value=(b);
            h2.question { (w::LIKENED_ASK) }
            div.tools role="group" aria-label=(w::LIKENED_ASK) {
                @for (i, how) in Likeness::ALL.into_iter().enumerate() {
                    button name="how" value=(how.as_str()) data-key=(i + 1) { (w::likeness(how)) " " kbd { (i + 1) } }
                }
            }
        }
    })
}

/// Keeps what a person says of two marks.
pub fn likened(desk: &Desk, id: MarkId, ask: &Ask) -> Result<Reply> {
    let with = mark_id(ask.form.get("other"))?;
    let how = Likeness::parse(ask.form.get("how"));
    let how = how.ok_or_else(|| usage(w::SIDE_BY_SIDE, w::NO_DEED, w::GO_BACK))?;
    desk.store().mark(with)?;
    let author = desk.author(ask.form.get("why"));
    let act = Act::Likened { with, how };
    let kept = desk
        .store()
        .decide_once(id, &act, &author, &guard(&ask.form))?;
    after_compared(desk, id, with, kept, &act, ask)
}

/// The second mark's picture as it lies on the first's.
pub fn laid(desk: &Desk, a: &str, b: &str) -> Result<Reply> {
    let (a, p) = with_photograph(desk, a)?;
    let (b, q) = with_photograph(desk, b)?;
    let found = desk.photos.lit(&p, &a, &q, std::slice::from_ref(&b));
    match found {
        Ok(Some(bytes)) => picture::shown(Ok(bytes), &q.name()),
        Ok(None) => Err(usage(w::LAID_OVER, w::NOT_LAID, w::LOOK_SIDE_BY_SIDE)),
        Err(why) => picture::shown(Err(why), &q.name()),
    }
}
