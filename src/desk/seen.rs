//! What a person sees on the object beside the lettering, and what of it can't be together.

use super::Desk;
use super::deciding::usage;
use super::page::{capital, token};
use super::web::{Ask, Reply};
use super::words as w;
use crate::decisions::{Observation, ObservationId, Sight, Store, UNITS, standing};
use crate::error::Result;
use crate::evidence::{features, unlike};
use maud::{Markup, html};

/// What was seen of a picture's object, what excludes each other there, and the form for more.
///
/// # Errors
/// `Kind::Store` if the observations can't be read.
pub fn section(desk: &Desk, picture: i64) -> Result<Markup> {
    let journal = desk.store().observations(Some(picture))?;
    let holds: Vec<&Observation> = standing(&journal);
    let shown: Vec<&Observation> = holds
        .iter()
        .copied()
        .filter(|o| matches!(o.sight, Sight::Feature { .. } | Sight::Size { .. }))
        .collect();
    let undo = |id: ObservationId| {
        html! {
            form.inline method="post" action=(format!("/picture/{picture}/seen")) {
                (token(desk))
                input type="hidden" name="undo" value=(id);
                button { (w::undo_of(&id.to_string())) }
            }
        }
    };
    Ok(html! {
        section id="seen" aria-labelledby="seen-title" {
            h2 id="seen-title" { (w::SEEN) }
            @for u in unlike(&holds) {
                div.refused role="group" aria-label=(w::NOT_BOTH) {
                    p { (w::not_both(&u.words)) }
                    div.tools { (undo(u.first)) (undo(u.second)) }
                }
            }
            @if shown.is_empty() { p { (w::NOTHING_SEEN) } }
            ul.seen {
                @for o in &shown { li { (told(o)) " " span.hint { "(" (o.author.by) ", " (o.id) ")" } " " (undo(o.id)) } }
            }
            (form(desk, picture)?)
        }
    })
}

fn told(o: &Observation) -> String {
    match &o.sight {
        Sight::Feature { feature, choice } => {
            capital(&format!("{feature}: {choice}").replace('-', " "))
        }
        Sight::Size { height, width } => w::measured(*height, *width),
        _ => String::new(),
    }
}

fn form(desk: &Desk, picture: i64) -> Result<Markup> {
    let all = features()?;
    Ok(html! {
        details.entry.screen {
            summary { (w::SEE_MORE) }
            p.hint { (w::SEE_HOW) }
            form method="post" action=(format!("/picture/{picture}/seen")) {
                (token(desk))
                p {
                    label for="seen-what" { (w::SEEN_WHAT) } " "
                    select id="seen-what" name="seen" {
                        @for f in &all {
                            optgroup label=(capital(&f.feature.replace('-', " "))) {
                                @for c in &f.choices {
                                    option value=(format!("{}={}", f.feature, c.choice)) { (c.choice.replace('-', " ")) }
                                }
                            }
                        }
                    }
                }
                button { (w::KEEP_SEEN) }
            }
            form method="post" action=(format!("/picture/{picture}/seen")) {
                (token(desk))
                p { label for="seen-height" { (w::SEEN_HEIGHT) } " " input id="seen-height" name="height" inputmode="decimal" required maxlength="10"; }
                p { label for="seen-width" { (w::SEEN_WIDTH) } " " input id="seen-width" name="width" inputmode="decimal" required maxlength="10"; }
                p { label for="seen-unit" { (w::SEEN_UNIT) } " " select id="seen-unit" name="unit" { @for (u, _) in UNITS { option { (u) } } } }
                button { (w::KEEP_SIZE) }
            }
        }
    })
}

/// Keeps or takes back what was seen, and holds it at once against the marks of the picture.
pub fn keep(desk: &Desk, picture: i64, ask: &Ask) -> Result<Reply> {
    let f = &ask.form;
    let sight = match (f.get("undo"), f.get("seen")) {
        ("", "") => Sight::size(f.get("height"), f.get("width"), f.get("unit"))
            .ok_or_else(|| usage(w::SEEN_SIZE, w::NO_SIZE, w::GIVE_SIZE))?,
        ("", seen) => {
            let wrong = || usage(w::SEEN, w::NOTHING_CHOSEN, w::GO_BACK);
            let (feature, choice) = seen.split_once('=').ok_or_else(wrong)?;
            let all = features()?;
            let found = all.iter().find(|f| f.feature == feature);
            found.and_then(|f| f.choice(choice)).ok_or_else(wrong)?;
            Sight::Feature {
                feature: feature.into(),
                choice: choice.into(),
            }
        }
        (undo, _) => Sight::Undo {
            undoes: ObservationId::parse(undo)
                .ok_or_else(|| usage(w::UNDO, w::NO_DECISION, w::GO_BACK))?,
        },
    };
    let author = desk.author(f.get("why"));
    desk.store().observe(picture, &sight, &author)?;
    desk.hold_picture(picture)?;
    Ok(Reply::See(format!("/picture/{picture}#seen")))
}
