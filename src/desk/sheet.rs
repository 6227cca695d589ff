//! A sheet to print: each photograph with its marks outlined and numbered, and the marks with their
//! readings.

use super::page::{Page, Place, page as lay};
use super::web::Reply;
use super::words as w;
use super::{Desk, item};
use crate::decisions::{KeptMark, KeptPhotograph, Store};
use crate::error::Result;
use crate::note::heading;
use maud::{Markup, html};

/// Longest side of a photograph on the sheet, px; one of those that photographs are served in.
const SIDE: u32 = 1600;

/// The page.
pub fn page(desk: &Desk, id: i64) -> Result<Reply> {
    let picture = desk.picture(id)?;
    let marks = desk.store().marks(Some(id))?;
    let told: Vec<&KeptMark> = marks.iter().filter(|m| m.is_told()).collect();
    let body = html! {
        div.tools.screen {
            a href=(format!("/picture/{id}")) { (w::THE_BACK) } " "
            button type="button" id="print" { (w::PRINT) }
        }
        @for p in &picture.photographs { (photograph(p, &told)) }
        ul.numbered {
            @for m in &told {
                li {
                    img src=(item::crop(m, "colour")) alt="";
                    div {
                        h2 { (m.id) " " (heading(m.kind())) }
                        p.leiden { (item::transcription(m)) }
                        @for (t, _) in m.settled.taken() { p { (w::names_entry(&t.name, &t.entry)) } }
                    }
                }
            }
        }
    };
    let shown = Page {
        title: w::sheet_title(&picture.name),
        place: Place::Pictures,
        scripts: &[],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

fn photograph(p: &KeptPhotograph, told: &[&KeptMark]) -> Markup {
    let own = told.iter().filter_map(|m| Some((m, m.on(p.id)?)));
    let size = p.width.max(p.height) / 40;
    html! {
        figure.numbered-back {
            div.over {
                img src=(format!("/whole/{}/{SIDE}.jpg", p.id)) alt=(w::back_of(&p.name())) width=(p.width) height=(p.height);
                svg viewBox=(format!("0 0 {} {}", p.width, p.height)) aria-hidden="true" {
                    @for (m, s) in own {
                        @let outline = s.seen().outline;
                        @let b = outline.bounds();
                        polygon.under points=(item::corners(&outline)) {}
                        polygon.line points=(item::corners(&outline)) {}
                        text x=(b.x) y=(b.y) font-size=(size) { (m.id) }
                    }
                }
            }
            figcaption { (p.name()) }
        }
    }
}
