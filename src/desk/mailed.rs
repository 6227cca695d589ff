//! The file that is sent to somebody with better eyes: everything inside, no server, no network.
//!
//! Its one script and one style are named by their hashes in its policy, so that nothing from a
//! label, a file name or a list could run even if it got in as markup.

use super::Desk;
use super::ask::FORMAT;
use super::item;
use super::web::unclear;
use super::words as w;
use crate::decisions::{KeptMark, KeptPhotograph, two};
use crate::error::Result;
use crate::note::heading;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use image::DynamicImage;
use image::imageops::FilterType;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

const STYLE: &str = include_str!("assets/mailed.css");
const SCRIPT: &str = include_str!("assets/mailed.js");

/// Variants that are sent, and longest side of each, px: an attachment has to stay small.
const SENT: [&str; 3] = ["colour", "local-contrast", "inverted"];
const LONGEST: u32 = 1200;

/// One question, laid out.
pub struct Question(Markup);

/// What is asked about one mark.
pub fn question(desk: &Desk, mark: &KeptMark, p: &KeptPhotograph) -> Result<Question> {
    let id = mark.id.to_string();
    let mut pictures = Vec::new();
    for variant in SENT {
        let coded = desk
            .photos
            .crop(p, mark, mark.look().id, variant)
            .and_then(|bytes| smaller(&bytes));
        match coded {
            Ok(bytes) => pictures.push((variant, STANDARD.encode(bytes))),
            Err(why) if pictures.is_empty() => {
                return Err(unclear(&p.name(), why.trim_end_matches('.')));
            }
            Err(_) => {}
        }
    }
    let words = |variant: &str| {
        let at = super::photos::VARIANTS.iter().position(|v| *v == variant);
        at.map_or("", |i| w::VARIANT[i])
    };
    let proposals: Vec<_> = mark.numbered().into_iter().take(5).cloned().collect();
    Ok(Question(html! {
        section.question data-mark=(id) aria-labelledby=(format!("q{id}")) {
            h2 id=(format!("q{id}")) { (id) ". " (heading(mark.kind())) ", " (mark.picture) }
            p { (item::place(mark, p)) }
            div.pictures {
                @for (i, (variant, data)) in pictures.iter().enumerate() {
                    img hidden[i > 0] data-variant=(variant) alt=(w::variant_words(words(variant), &id))
                        src=(format!("data:image/jpeg;base64,{data}"));
                }
            }
            p.tools {
                @for (i, (variant, _)) in pictures.iter().enumerate() {
                    button type="button" data-show=(variant) aria-pressed=(if i == 0 { "true" } else { "false" }) { (words(variant)) }
                }
                button type="button" data-larger="1" aria-pressed="false" { (w::LARGER) }
            }
            details {
                summary { (w::BELIEVED) }
                p.leiden { (item::transcription(mark)) }
                @if proposals.is_empty() { p { (w::NO_PROPOSALS) } }
                ul { @for q in &proposals { li { (q.name) " (" (w::list_title(&q.list)) "): " (two(q.probability)) } } }
            }
            label for=(format!("a{id}")) { (w::MAILED_READING) }
            textarea id=(format!("a{id}")) rows="4" maxlength="4000" spellcheck="false" {}
            p { label { input type="checkbox" data-unreadable="1"; " " (w::CANT_BE_READ) } }
            label for=(format!("r{id}")) { (w::MAILED_REMARK) }
            input id=(format!("r{id}")) data-remark="1" maxlength="500";
        }
    }))
}

fn smaller(bytes: &[u8]) -> std::result::Result<Vec<u8>, String> {
    let picture = image::load_from_memory(bytes).map_err(|e| e.to_string())?;
    let side = picture.width().max(picture.height());
    let picture = if side > LONGEST {
        picture.resize(LONGEST, LONGEST, FilterType::Triangle)
    } else {
        picture
    };
    let picture = match picture {
        DynamicImage::ImageLuma8(_) => picture,
        other => DynamicImage::ImageRgb8(other.to_rgb8()),
    };
    Ok(super::photos::jpeg(&picture, 80)?.as_ref().clone())
}

/// The file.
///
/// * `letter`: the word by which the answers are known again.
pub fn file(whom: &str, by: &str, letter: &str, questions: &[Question]) -> String {
    let hash = |text: &str| STANDARD.encode(Sha256::digest(text.as_bytes()));
    let policy = format!(
        "default-src 'none'; img-src data:; style-src 'sha256-{}'; script-src 'sha256-{}'; \
         base-uri 'none'; form-action 'none'",
        hash(STYLE),
        hash(SCRIPT)
    );
    let page = html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                title { (w::MAILED_TITLE) }
                style { (PreEscaped(STYLE)) }
            }
            body data-letter=(letter) data-format=(FORMAT) data-left=(w::MAILED_LEFT) data-named=(w::MAILED_WHO_FIRST) data-saved=(w::MAILED_SAVED) {
                main {
                    h1 { (w::MAILED_TITLE) }
                    p { (w::mailed_lead(whom, by, questions.len())) }
                    p { (w::TEXT_HOW) }
                    p { label for="who" { (w::MAILED_WHO) } " " input id="who" maxlength="100" value=(whom) autocomplete="name"; }
                    @for q in questions { (q.0) }
                    section.save aria-labelledby="save-title" {
                        h2 id="save-title" { (w::MAILED_DONE) }
                        p { (w::MAILED_HOW) }
                        button type="button" id="save" { (w::MAILED_SAVE) }
                        p id="state" role="status" {}
                        label for="copy" { (w::MAILED_COPY) }
                        textarea id="copy" rows="3" readonly {}
                    }
                }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    page.into_string()
}
