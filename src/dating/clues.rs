//! Dating clues in the wording of a mark, and the interval that they leave.
//!
//! The clues are tables (`clues/*.csv`, built in) that a user extends by a file of the same columns. A clue dates the mark that bears it, never the picture: stretcher, label, frame and
//! picture may each differ.
//!
//! How sure a clue is decides what it does. `hard` (law, charter, dated event) cuts the interval;
//! `usual` (usual trade practice, exceptions known) cuts it where it doesn't contradict a hard one;
//! `weak` is told and cuts nothing. Where hard clues contradict each other, that is said and no
//! interval is given.

use super::kinds::{self, Told};
use crate::error::{Error, Kind, Result};
use crate::limits::LIST_BYTES;
use serde::Serialize;
use std::path::Path;

mod decode;
pub mod designs;
mod interval;
mod join;
mod margin;
mod rule;
pub(super) mod wording;

pub use margin::Margin;

use decode::Seen;
use interval::Span;
use rule::Rule;

/// The built-in tables, by what the clues are of.
const TABLES: &[(&str, &str)] = &[
    ("post", include_str!("clues/post.csv")),
    ("places", include_str!("clues/places.csv")),
    ("crown", include_str!("clues/crown.csv")),
    ("law", include_str!("clues/law.csv")),
    ("societies", include_str!("clues/societies.csv")),
    ("shows", include_str!("clues/shows.csv")),
    ("carriers", include_str!("clues/carriers.csv")),
    ("trade", include_str!("clues/trade.csv")),
    ("abroad", include_str!("clues/abroad.csv")),
    ("years", include_str!("clues/years.csv")),
];

/// Name of the user's own table in the folder of the lists.
pub const OWN_TABLE: &str = "clues.csv";

/// How sure one side of a clue is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sure {
    /// Use only beside other clues; cuts nothing.
    Weak,
    /// Usual trade practice, exceptions known.
    Usual,
    /// Law, charter or dated event; holds unless the mark is a later copy.
    Hard,
}

impl Sure {
    fn read(text: &str) -> Option<Sure> {
        match text.trim().to_lowercase().as_str() {
            "hard" => Some(Sure::Hard),
            "usual" => Some(Sure::Usual),
            "weak" => Some(Sure::Weak),
            _ => None,
        }
    }

    /// For a person.
    pub fn told(self) -> &'static str {
        match self {
            Sure::Hard => "law or dated event",
            Sure::Usual => "usual practice, exceptions known",
            Sure::Weak => "weak, cuts nothing",
        }
    }
}

/// A clue found in a text.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Clue {
    /// The words as they stand.
    pub words: String,
    /// Key of the row.
    pub id: String,
    /// What kind of clue: `post`, `crown`, `year`, ...
    pub kind: String,
    /// What they are.
    pub clue: String,
    /// Country or language, as a code; empty: anywhere.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub region: String,
    /// EDTF; the earliest where there are several spans.
    pub not_before: Option<String>,
    /// EDTF; the latest where there are several spans.
    pub not_after: Option<String>,
    /// All spans, where there are several.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub spans: Vec<[Option<String>; 2]>,
    /// How sure "not before" is (or, where there is none, "not after").
    pub sure: Sure,
    /// How sure "not after" is, where it differs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sure_after: Option<Sure>,
    /// Whether it cut the interval.
    pub cuts: bool,
    /// How such things stay in use after the last year.
    pub margin: Margin,
    /// Published source, or "from memory".
    pub source: String,
    /// Anything else.
    pub note: String,
    /// Line of the text, from 0.
    pub line: usize,
    #[serde(skip)]
    limits: Vec<Span>,
    #[serde(skip)]
    tokens: (usize, usize),
}

/// What the wording says of a mark's date.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Dating {
    /// Clues in order of the text.
    pub clues: Vec<Clue>,
    /// EDTF; `None`: no limit, or a conflict.
    pub not_before: Option<String>,
    /// EDTF; `None`: no limit, or a conflict.
    pub not_after: Option<String>,
    /// Year by which all but one in twenty such marks had been put on, where old stock or habit went on
    /// after `not_after`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_use_until: Option<String>,
    /// The whole interval as one EDTF expression; empty without limits or with a conflict.
    pub edtf: String,
    /// What can't be true together, in sentences.
    pub conflicts: Vec<String>,
}

/// The table of clues.
#[derive(Debug, Clone)]
pub struct Clues {
    rules: Vec<Rule>,
}

impl Clues {
    /// The built-in tables.
    ///
    /// # Errors
    /// `Kind::Text` naming the row, if a built-in table were broken.
    pub fn built_in() -> Result<Clues> {
        let mut clues = Clues { rules: Vec::new() };
        for (name, table) in TABLES {
            if let Some(fault) = clues
                .add(&format!("built-in clues, {name}.csv"), table)
                .into_iter()
                .next()
            {
                return Err(fault);
            }
        }
        Ok(clues)
    }

    /// The built-in table and the user's own `clues.csv` in `folder`, if there is one; with the
    /// faults of the latter, one for each row that can't be used.
    ///
    /// # Errors
    /// `Kind::Text` if the user's table can't be read at all.
    pub fn with_own(folder: Option<&Path>) -> Result<(Clues, Vec<Error>)> {
        let mut clues = Clues::built_in()?;
        let mut faults = Vec::new();
        if let Some(file) = folder.map(|f| f.join(OWN_TABLE)).filter(|f| f.is_file()) {
            let text = LIST_BYTES.text(&file).map_err(|e| {
                Error::new(
                    Kind::Text,
                    file.display(),
                    format!("it can't be read ({e})"),
                    "save it as CSV in UTF-8",
                )
            })?;
            faults = clues.add(&file.display().to_string(), &text);
        }
        Ok((clues, faults))
    }

    /// Number of clues.
    pub fn len(&self) -> usize {
        self.rules.len()
    }

    /// Whether the table is empty.
    pub fn is_empty(&self) -> bool {
        self.rules.is_empty()
    }

    /// Adds the rows of a table; a row that can't be used becomes a fault.
    pub fn add(&mut self, place: &str, text: &str) -> Vec<Error> {
        let mut faults = Vec::new();
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let heads: Vec<String> = match reader.headers() {
            Ok(h) => h.iter().map(|h| h.trim().to_lowercase()).collect(),
            Err(e) => {
                let next = "save it as CSV in UTF-8";
                return vec![Error::new(
                    Kind::Text,
                    place,
                    format!("no table ({e})"),
                    next,
                )];
            }
        };
        for (i, record) in reader.records().enumerate() {
            let row = format!("{place}, row {}", i + 2);
            let record = match record {
                Ok(r) => r,
                Err(e) => {
                    let next = "mend the row";
                    faults.push(Error::new(Kind::Text, row, format!("broken ({e})"), next));
                    continue;
                }
            };
            let get = |name: &str| -> String {
                let column = heads.iter().position(|h| h == name);
                let cell = column.and_then(|k| record.get(k));
                cell.unwrap_or("").trim().to_string()
            };
            if record.iter().all(|c| c.trim().is_empty()) {
                continue;
            }
            match rule::rule(&get) {
                Ok(r) => self.rules.push(r),
                Err((column, what, next)) => faults.push(Error::new(
                    Kind::Text,
                    format!("{row}, column \"{column}\""),
                    format!("{what}, so this clue is not used"),
                    next,
                )),
            }
        }
        faults
    }

    /// The clues in a text and the interval that they leave. Lines are parted by line breaks or
    /// by ` / `.
    pub fn date(&self, text: &str) -> Dating {
        self.date_told(text, &[])
    }

    /// As [`Clues::date`], with what is known of stretches of the text: a year in a catalogue number is
    /// none, one in a title isn't that of the mark.
    pub fn date_told(&self, text: &str, told: &[Told]) -> Dating {
        let all = wording::tokens(text);
        let find = |month_first: bool| {
            let dates = kinds::dated(text, &all, month_first, told);
            let seen = Seen {
                text,
                all: &all,
                dates: &dates,
            };
            let mut found: Vec<Clue> = self.rules.iter().flat_map(|r| r.find(&seen)).collect();
            found.sort_by_key(|c| (c.tokens.0, std::cmp::Reverse(c.tokens.1)));
            found
        };
        let mut found = find(false);
        // What is American puts the month first; else both orders are kept
        let american = |c: &Clue| c.region == "us";
        if found.iter().any(american) && found.iter().all(|c| c.region.is_empty() || american(c)) {
            found = find(true);
        }
        let mut kept = distinct(&found);
        // A show told of is past; only on its own label it is of that time
        for c in kept
            .iter_mut()
            .filter(|c| c.kind == "show" || c.kind == "society")
        {
            if kinds::told_of(text, &all, c.tokens.0) {
                c.told_later();
            }
        }
        join::join(kept)
    }

    /// Rows of the table: key, name, first wording, kind, region, source.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rules.iter().map(|r| Row {
            id: &r.id,
            kind: &r.kind,
            clue: &r.clue,
            wordings: r
                .words
                .iter()
                .filter_map(|w| match w {
                    rule::Wording::Words(p) => Some(p.example()),
                    rule::Wording::Decoder(_) => None,
                })
                .collect(),
            place: r.place.example(),
            source: &r.source,
        })
    }
}

/// A row of the table as it is told.
#[derive(Debug)]
pub struct Row<'a> {
    /// Key.
    pub id: &'a str,
    /// What kind of clue.
    pub kind: &'a str,
    /// What it is.
    pub clue: &'a str,
    /// A text for each of its wordings; none for numbers and signs that a decoder reads.
    pub wordings: Vec<String>,
    /// What has to stand before such a text, and behind it, for the clue to be found.
    pub place: (&'static str, &'static str),
    /// Published source, or "from memory".
    pub source: &'a str,
}

impl Clue {
    /// Leaves only the side that dates a mark which tells of it later.
    fn told_later(&mut self) {
        self.spans.clear();
        self.not_after = None;
        self.sure_after = None;
        self.limits.truncate(1);
        self.limits.iter_mut().for_each(|l| l.to = None);
    }
}

/// The same row twice at a place is one clue; of two of one kind the longer wording counts, and a bare year
/// within another clue is part of it.
fn distinct(found: &[Clue]) -> Vec<Clue> {
    let mut kept: Vec<Clue> = Vec::new();
    for c in found {
        let within = |k: &Clue| k.tokens.0 <= c.tokens.0 && c.tokens.1 <= k.tokens.1;
        let length = |c: &Clue| c.tokens.1 - c.tokens.0;
        let same = kept.iter().any(|k| k.id == c.id && within(k));
        let part = found.iter().any(|k| {
            let longer = length(k) > length(c);
            within(k)
                && k.id != c.id
                && (longer && k.kind == c.kind || c.kind == "year" && k.kind != "year")
        });
        if !same && !part {
            kept.push(c.clone());
        }
    }
    kept
}

/// Words after which a number before them is a house number.
pub(super) fn is_thoroughfare(word: &str) -> bool {
    matches!(
        word,
        "street"
            | "st"
            | "road"
            | "rd"
            | "square"
            | "lane"
            | "row"
            | "terrace"
            | "avenue"
            | "place"
            | "crescent"
            | "gardens"
            | "buildings"
            | "yard"
            | "court"
            | "market"
            | "arcade"
            | "passage"
            | "mews"
            | "hill"
            | "parade"
            | "grove"
            | "ave"
            | "sq"
            | "terr"
            | "pl"
            | "strand"
            | "haymarket"
            | "piccadilly"
            | "circus"
    )
}
