//! A spreadsheet's CSV with column names of its own, brought to rows of a list.
//!
//! Nothing is guessed in silence: [`Plan`] says which heading goes where and why, and [`Taken`]
//! which dates were rewritten. A heading without a place is kept: in a column of its own where the
//! list has one of that name (or is new), else in the note.

use super::dialect;
use super::rows::{COLUMNS, column_key, short};
use super::table::{self, Table};
use serde::Serialize;

mod take;

pub use take::Taken;

/// Where a heading of the spreadsheet goes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Place {
    /// Heading as it stands.
    pub heading: String,
    /// Column of the list; `years` is parted into `from` and `to`; empty: left out.
    pub column: String,
    /// Who chose.
    pub why: Why,
}

/// Why a heading goes where it goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// The person said so.
    Named,
    /// The heading is the column's own name.
    SameName,
    /// A common heading for that column.
    Guessed,
    /// No column is like it; kept as it is.
    Kept,
}

/// A spreadsheet read, and where its columns go.
#[derive(Debug, Clone)]
pub struct Plan {
    table: Table,
    /// For each heading.
    pub places: Vec<Place>,
}

/// Headings as people write them, and the column each is likely to mean.
const HEADINGS: [(&str, &[&str]); 11] = [
    ("entry", &["key", "id", "code"]),
    (
        "name",
        &[
            "firm",
            "maker",
            "framer",
            "company",
            "business",
            "artist",
            "dealer",
            "society",
            "who",
            "firm name",
            "maker name",
            "trading name",
            "full name",
            "surname",
            "title",
        ],
    ),
    (
        "variants",
        &[
            "also known as",
            "aka",
            "other names",
            "alias",
            "aliases",
            "spellings",
            "variant",
            "alternative names",
        ],
    ),
    (
        "trade",
        &[
            "occupation",
            "type",
            "profession",
            "business type",
            "category",
            "description of trade",
        ],
    ),
    (
        "address",
        &[
            "street",
            "premises",
            "street address",
            "where",
            "location",
            "house",
        ],
    ),
    ("town", &["city", "place", "town/city", "city/town"]),
    (
        "from",
        &[
            "start",
            "first",
            "begin",
            "year from",
            "date from",
            "active from",
            "born",
            "birth",
            "opened",
            "earliest",
        ],
    ),
    (
        "to",
        &[
            "end",
            "last",
            "until",
            "year to",
            "date to",
            "active to",
            "died",
            "death",
            "closed",
            "latest",
        ],
    ),
    (
        "years",
        &[
            "dates",
            "date",
            "years",
            "active",
            "period",
            "year",
            "life dates",
        ],
    ),
    ("source", &["sources", "authority", "directory", "found in"]),
    (
        "note",
        &["notes", "remarks", "comment", "comments", "remark"],
    ),
];

fn guess(heading: &str) -> Option<&'static str> {
    let key = column_key(heading);
    HEADINGS
        .iter()
        .find(|(_, h)| h.contains(&key.as_str()))
        .map(|(column, _)| *column)
}

impl Plan {
    /// Reads a spreadsheet's CSV. `named` are the person's own choices, heading and column.
    ///
    /// # Errors
    /// What is wrong, and what to do.
    pub fn new(bytes: &[u8], named: &[(String, String)]) -> Result<Plan, (String, String)> {
        let decoded = dialect::decode(bytes).map_err(|(w, n)| (w.to_string(), n.to_string()))?;
        let is_named = |h: &str| named.iter().any(|n| column_key(&n.0) == column_key(h));
        let table = table::read(&decoded, |cells| {
            cells
                .iter()
                .filter(|c| {
                    let key = column_key(c);
                    COLUMNS.contains(&key.as_str()) || guess(c).is_some() || is_named(c)
                })
                .count()
        });
        let headings = table.columns().to_vec();
        if headings.is_empty() {
            return Err((
                "no row of headings was found".to_string(),
                "let the first row of the spreadsheet name its columns".to_string(),
            ));
        }
        for (heading, column) in named {
            if !headings
                .iter()
                .any(|h| column_key(h) == column_key(heading))
            {
                return Err((
                    format!("there is no heading \"{}\"", short(heading)),
                    format!(
                        "choose among {}",
                        headings
                            .iter()
                            .map(|h| format!("\"{}\"", short(h.trim())))
                            .collect::<Vec<_>>()
                            .join(", ")
                    ),
                ));
            }
            if !COLUMNS.contains(&column.as_str()) && column != "years" && !column.is_empty() {
                return Err((
                    format!("a list has no column \"{}\"", short(column)),
                    format!("choose among {}, years", COLUMNS.join(", ")),
                ));
            }
        }
        let mut places: Vec<Place> = headings
            .iter()
            .map(|h| {
                let key = column_key(h);
                let choice = named.iter().find(|n| column_key(&n.0) == key);
                let (column, why) = match choice {
                    Some((_, column)) => (column.clone(), Why::Named),
                    None if COLUMNS.contains(&key.as_str()) => (key, Why::SameName),
                    None => (h.trim().to_string(), Why::Kept),
                };
                Place {
                    heading: h.trim().to_string(),
                    column,
                    why,
                }
            })
            .collect();
        // A guess gives way to what is certain, and to an earlier guess.
        for i in 0..places.len() {
            if places[i].why != Why::Kept {
                continue;
            }
            let Some(column) = guess(&places[i].heading) else {
                continue;
            };
            let filled = |c: &str| places.iter().any(|p| p.column == c && p.why != Why::Kept);
            let years = column == "years" && (filled("from") || filled("to"));
            if !filled(column) && !years {
                places[i].column = column.to_string();
                places[i].why = Why::Guessed;
            }
        }
        join_parts(&mut places);
        let named_column = places
            .iter()
            .any(|p| p.column == "name" && p.why != Why::Kept);
        if !named_column {
            return Err((
                format!(
                    "none of the headings {} is known to hold the name",
                    headings
                        .iter()
                        .map(|h| format!("\"{}\"", short(h.trim())))
                        .collect::<Vec<_>>()
                        .join(", ")
                ),
                "say which one does, as in --columns \"Heading=name\"".to_string(),
            ));
        }
        Ok(Plan { table, places })
    }
}

/// House number and street, forename and surname: two headings for one column.
fn join_parts(places: &mut [Place]) {
    let has =
        |places: &[Place], c: &str| places.iter().any(|p| p.column == c && p.why != Why::Kept);
    for i in 0..places.len() {
        let key = column_key(&places[i].heading);
        let column = match key.as_str() {
            "no" | "no." | "number" | "house no" | "house number" | "street number"
                if has(places, "address") =>
            {
                "address"
            }
            "forename" | "forenames" | "first name" | "first names" | "christian name"
                if has(places, "name") =>
            {
                "name"
            }
            _ => continue,
        };
        if places[i].why == Why::Kept {
            places[i].column = column.to_string();
            places[i].why = Why::Guessed;
        }
    }
}
