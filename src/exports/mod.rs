//! What is kept of a picture in the forms that other programs read.
//!
//! In: kept marks, journal and note ([`Subject`]). Out: files as bytes, each form behind the trait
//! [`Export`]. Pure; who writes where is the command's business. Each form is held against a schema
//! or a reader that was not written here (`tests/kept/exports.rs`).

use crate::decisions::{Decision, KeptMark, Lettering, Picture};
use crate::error::{Error, Kind, Result};
use crate::evidence::{Back, Solved};
use crate::note::{Crops, Docx, Export as _, Html, Length, Markdown, Note, blocks};
use crate::readings::{self, leiden::Sign};
use crate::signs;

mod alto;
mod annotations;
mod archive;
mod iiif;
mod linked_art;
mod pdf;
mod table;
mod tei;
mod xml;

pub use archive::{Archive, Part, digest, pack};
pub use table::guarded;

/// What an export is made of.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The picture.
    pub picture: &'a Picture,
    /// Its marks, in order.
    pub marks: &'a [KeptMark],
    /// The journal; entries of other marks are left out.
    pub journal: &'a [Decision],
    /// The note.
    pub note: &'a Note,
    /// Statements on dates.
    pub back: &'a Back,
    /// What they come to.
    pub solved: &'a Solved,
    /// Beginning of all addresses, with a slash at the end.
    pub base: &'a str,
}

/// One file of an export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// Ending of its name, with what parts it from others of the same export: `tei.xml`,
    /// `marks.csv`, `back.alto.xml`.
    pub ending: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl File {
    /// What steers a terminal or page is written as signs.
    fn text(ending: impl Into<String>, text: String) -> File {
        let ending = ending.into();
        let text = match ending.ends_with("json") {
            true => signs::json(&text),
            false => signs::table(&text),
        };
        let bytes = text.into_owned().into_bytes();
        File { ending, bytes }
    }
}

/// A form in which a picture can be handed on.
pub trait Export: Sync {
    /// Name on the command line.
    fn name(&self) -> &'static str;
    /// What it is, in a few words.
    fn about(&self) -> &'static str;
    /// The files.
    ///
    /// # Errors
    /// `Kind::Output` if it can't be written in that form.
    fn files(&self, subject: &Subject) -> Result<Vec<File>>;
}

/// The note in one length as a file for people: `md`, `html`, `pdf` or `docx`.
///
/// # Errors
/// `Kind::Output` if it can't be set, `Kind::Usage` for another ending.
pub fn sheet(note: &Note, crops: &Crops, length: Length, ending: &str) -> Result<Vec<u8>> {
    let set = blocks(note, length);
    let plain = |text: &str| signs::shown(text).into_owned().into_bytes();
    Ok(match ending {
        "md" => plain(&Markdown::blocks(&set)),
        "html" if length == Length::File => plain(&Html.text(note, crops)),
        "html" => plain(&Html::blocks(note.entry.language, &note.picture, &set)),
        "docx" => Docx::bytes(note, &set, crops)?,
        "pdf" => pdf::bytes(note, &set, crops)?,
        other => {
            return Err(Error::new(
                Kind::Usage,
                format!("\"{other}\""),
                "no note is written in this form",
                "give md, html, pdf or docx",
            ));
        }
    })
}

/// Every form.
pub fn all() -> [&'static dyn Export; 7] {
    [
        &tei::Tei,
        &annotations::Annotations,
        &iiif::Iiif,
        &linked_art::LinkedArt,
        &alto::Alto,
        &table::Csv,
        &pdf::Pdf,
    ]
}

/// A line of a mark as it is to be handed on.
struct Written {
    /// With Leiden signs.
    leiden: String,
    /// Its signs.
    signs: Vec<Sign>,
    /// Without signs of doubt.
    plain: String,
    /// Chance that it is right as a whole; `None` where a person read it.
    chance: Option<f64>,
}

/// The lines in force, and who read them (`None`: the program).
fn written(mark: &KeptMark, journal: &[Decision]) -> (Vec<Written>, Option<String>) {
    match mark
        .settled
        .lettering
        .as_ref()
        .map(|h| (&h.value, h.decision))
    {
        Some((Lettering::Read(lines), id)) => {
            let by = journal
                .iter()
                .find(|d| d.id == id)
                .map_or("a person", |d| d.author.by.as_str());
            let all = lines
                .iter()
                .map(|l| Written {
                    leiden: l.clone(),
                    signs: readings::leiden::parse(l).unwrap_or_else(|_| {
                        l.chars().map(|c| Sign::Letter(c.to_string())).collect()
                    }),
                    plain: readings::from_typed(l)
                        .ok()
                        .and_then(|v| v.into_iter().next())
                        .map_or_else(|| l.clone(), |v| v.text),
                    chance: None,
                })
                .collect();
            (all, Some(by.to_owned()))
        }
        Some((Lettering::Unreadable, _)) => (Vec::new(), None),
        None => {
            let lines = &mark.latest().reading.lines;
            let all = lines
                .iter()
                .map(|l| Written {
                    leiden: l.leiden.clone(),
                    signs: readings::leiden::signs_of(&l.characters),
                    plain: l.text.clone(),
                    chance: Some(l.confidence),
                })
                .collect();
            (all, None)
        }
    }
}

/// The marks that are marks.
fn marks<'a>(s: &'a Subject) -> impl Iterator<Item = &'a KeptMark> {
    s.marks.iter().filter(|m| m.is_told())
}

/// A picture's or file's name as part of an address: letters, figures, `.`, `-` and `_`; all else
/// by per cent (RFC 3986).
fn address(name: &str) -> String {
    let mut out = String::new();
    for b in name.bytes() {
        if b.is_ascii_alphanumeric() || matches!(b, b'.' | b'-' | b'_') {
            out.push(char::from(b));
        } else {
            out += &format!("%{b:02X}");
        }
    }
    out
}

/// Beginning of all addresses of the picture.
fn root(s: &Subject) -> String {
    format!("{}{}", s.base, address(&s.picture.name))
}

fn json(value: &serde_json::Value) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text
}
