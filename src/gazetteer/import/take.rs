//! The rows of a spreadsheet brought to the columns of a list, with a fault for each that can't be.

use super::{Plan, Why};
use crate::dating::edtf::{Edtf, suggest};
use crate::gazetteer::edit::Cells;
use crate::gazetteer::fold::Form;
use crate::gazetteer::keys::Keys;
use crate::gazetteer::rows::{column_key, short};
use crate::gazetteer::table::Content;
use crate::gazetteer::{Entry, Fault, Severity, check};
use std::collections::HashMap;
use std::path::Path;

impl Plan {
    /// Brings the rows to the columns of a list that has these entries already.
    ///
    /// * `list`: name of the list.
    /// * `have`: its entries; a row that says the same as one of them isn't taken again.
    /// * `columns`: its column names; `None` for a new list, which takes every heading.
    /// * `source`: for rows that name none.
    pub fn take(
        &self,
        file: &Path,
        have: &[Entry],
        columns: Option<&[String]>,
        source: &str,
    ) -> Taken {
        let mut taken = Taken::default();
        let mut keys = Keys::new(have.iter().map(|e| e.entry.as_str()));
        let mut seen: HashMap<[String; 5], String> = have
            .iter()
            .map(|e| (same(e), format!("row {} of the list", e.row)))
            .collect();
        let mut used: HashMap<String, String> = have
            .iter()
            .map(|e| (e.entry.clone(), format!("row {} of the list", e.row)))
            .collect();
        let own = |name: &str| {
            columns.is_none_or(|c| c.iter().any(|c| column_key(c) == column_key(name)))
        };
        for row in self.table.body() {
            let cells = match &row.content {
                Content::Cells(c) => c,
                Content::Broken { after, .. } => {
                    taken.rows += 1;
                    taken.fault(
                        file,
                        row.number,
                        None,
                        Severity::Unusable,
                        format!(
                            "the quotation mark before \"{}\" isn't closed on this row, so the row \
                             is not taken",
                            short(after)
                        ),
                        "close it after the cell's last word",
                    );
                    continue;
                }
                Content::Beyond { limit, .. } => {
                    taken.rows += 1;
                    let what = limit.passed("it holds more") + ", so the row is not taken";
                    let next = format!("shorten it, or {}", limit.raise());
                    taken.fault(file, row.number, None, Severity::Unusable, what, next);
                    continue;
                }
                Content::Blank | Content::Comment => continue,
            };
            taken.rows += 1;
            if cells
                .iter()
                .skip(self.places.len())
                .any(|c| !c.trim().is_empty())
            {
                taken.fault(
                    file,
                    row.number,
                    None,
                    Severity::Unusable,
                    format!(
                        "the row has {} cells where the headings are {}, so it is not taken",
                        cells.len(),
                        self.places.len()
                    ),
                    "put the cell that holds the separator in quotation marks",
                );
                continue;
            }
            let Some((mut entry, extra)) = self.entry(file, row.number, cells, &own, &mut taken)
            else {
                continue;
            };
            if entry.source.is_empty() {
                entry.source = source.to_string();
            }
            if let Some(first) = seen.get(&same(&entry)) {
                taken.same += 1;
                taken.fault(
                    file,
                    row.number,
                    None,
                    Severity::Doubtful,
                    format!("it says the same as {first}, so it is not taken again"),
                    "nothing, if that is right",
                );
                continue;
            }
            if entry.entry.is_empty() {
                entry.entry = keys.fresh(&entry.name, &entry.town);
            } else if let Some(first) = used.get(&entry.entry) {
                taken.fault(
                    file,
                    row.number,
                    Some("entry"),
                    Severity::Unusable,
                    format!(
                        "the key \"{}\" is that of {first}, so this row is not taken",
                        short(&entry.entry)
                    ),
                    "give it a key of its own, or leave the key empty",
                );
                continue;
            }
            seen.insert(same(&entry), format!("row {}", row.number));
            used.insert(entry.entry.clone(), format!("row {}", row.number));
            let mut out: Cells = vec![
                ("entry".into(), entry.entry),
                ("name".into(), entry.name),
                ("variants".into(), entry.variants.join("|")),
                ("trade".into(), entry.trade),
                ("address".into(), entry.address),
                ("town".into(), entry.town),
                ("from".into(), entry.from),
                ("to".into(), entry.to),
                ("source".into(), entry.source),
                ("note".into(), entry.note),
            ];
            out.extend(extra);
            for (column, value) in &out {
                if check::formula(value) {
                    taken.fault(
                        file,
                        row.number,
                        Some(column),
                        Severity::Doubtful,
                        format!("a spreadsheet may take \"{}\" for a formula", short(value)),
                        "put a word or a blank before the sign if a spreadsheet will open the list",
                    );
                }
            }
            taken.cells.push(out);
        }
        taken
    }

    /// The entry of one row, and what goes into columns of its own.
    fn entry(
        &self,
        file: &Path,
        row: usize,
        cells: &[String],
        own: &impl Fn(&str) -> bool,
        taken: &mut Taken,
    ) -> Option<(Entry, Cells)> {
        let mut values: HashMap<&str, String> = HashMap::new();
        let mut extra = Cells::new();
        let mut notes = Vec::new();
        for (place, cell) in self.places.iter().zip(cells) {
            let cell = cell.trim();
            if cell.is_empty() || place.column.is_empty() {
                continue;
            }
            if place.why == Why::Kept {
                if own(&place.column) && !place.heading.is_empty() {
                    extra.push((place.column.clone(), cell.to_string()));
                } else {
                    notes.push(match place.heading.as_str() {
                        "" => cell.to_string(),
                        h => format!("{h}: {cell}"),
                    });
                }
                continue;
            }
            let value = values.entry(place.column.as_str()).or_default();
            if !value.is_empty() {
                *value += joint(&place.column, value);
            }
            *value += cell;
        }
        let mut get = |c: &str| values.remove(c).unwrap_or_default();
        let years = get("years");
        let mut entry = Entry {
            entry: get("entry"),
            name: get("name"),
            variants: parted(&get("variants")),
            trade: get("trade"),
            address: get("address"),
            town: get("town"),
            from: get("from"),
            to: get("to"),
            source: get("source"),
            note: get("note"),
            row,
            ..Entry::default()
        };
        if entry.name.is_empty() {
            taken.fault(
                file,
                row,
                Some("name"),
                Severity::Unusable,
                "the name is empty, so this row is not taken",
                "write the name, or remove the row",
            );
            return None;
        }
        let before = taken.faults.len();
        if !years.is_empty() {
            taken.years(file, row, &years, &mut entry);
        }
        entry.from = taken.year(file, row, "from", &entry.from);
        entry.to = taken.year(file, row, "to", &entry.to);
        let failed = taken.faults[before..]
            .iter()
            .any(|f| f.severity == Severity::Unusable);
        if failed {
            return None;
        }
        if !entry.note.is_empty() {
            notes.insert(0, std::mem::take(&mut entry.note));
        }
        entry.note = notes.join("; ");
        Some((entry, extra))
    }
}

/// What stands between two cells that go into one column.
fn joint(column: &str, before: &str) -> &'static str {
    match column {
        "address"
            if before.chars().next().is_some_and(|c| c.is_ascii_digit())
                && !before.contains(' ') =>
        {
            " "
        }
        "name" => " ",
        "variants" => "|",
        "note" | "source" => "; ",
        "years" => "/",
        _ => ", ",
    }
}

fn parted(variants: &str) -> Vec<String> {
    let by = if variants.contains('|') {
        '|'
    } else if variants.contains(';') {
        ';'
    } else {
        '\n'
    };
    variants
        .split(by)
        .map(|v| v.trim().to_string())
        .filter(|v| !v.is_empty())
        .collect()
}

/// What makes two rows say the same.
fn same(e: &Entry) -> [String; 5] {
    let form = Form::of(e);
    [
        form.name,
        form.address,
        form.town,
        e.from.clone(),
        e.to.clone(),
    ]
}

/// What was taken, and what needs a person.
#[derive(Debug, Clone, Default)]
pub struct Taken {
    /// Rows with cells in the spreadsheet.
    pub rows: usize,
    /// Rows that the list has already.
    pub same: usize,
    /// New rows for the list.
    pub cells: Vec<Cells>,
    /// Faults by row of the spreadsheet.
    pub faults: Vec<Fault>,
    /// Dates rewritten: row, as it stood, as it is now.
    pub rewritten: Vec<(usize, String, String)>,
}

impl Taken {
    fn fault(
        &mut self,
        file: &Path,
        row: usize,
        column: Option<&str>,
        severity: Severity,
        what: impl Into<String>,
        next: impl Into<String>,
    ) {
        self.faults.push(Fault {
            file: file.to_path_buf(),
            row: Some(row),
            column: column.map(str::to_string),
            severity,
            what: what.into(),
            next: next.into(),
        });
    }

    /// A date as it stands, or rewritten to EDTF and told; a fault if it can't be.
    fn year(&mut self, file: &Path, row: usize, column: &str, text: &str) -> String {
        if text.is_empty() || Edtf::parse(text).is_ok() {
            return text.to_string();
        }
        let plain = suggest(text).filter(|s| !s.contains('/'));
        match plain {
            Some(s) => {
                self.rewritten.push((row, text.to_string(), s.clone()));
                s
            }
            None => {
                let what = match Edtf::parse(text) {
                    Err(e) => format!("character {}: {}", e.position, e.what),
                    Ok(_) => String::new(),
                };
                self.fault(
                    file,
                    row,
                    Some(column),
                    Severity::Unusable,
                    format!(
                        "\"{}\" is not an EDTF year ({what}), so this row is not taken",
                        short(text)
                    ),
                    "write 1875, 1875~, 187X, or leave it empty",
                );
                String::new()
            }
        }
    }

    /// A span in one cell, parted into `from` and `to`.
    fn years(&mut self, file: &Path, row: usize, text: &str, entry: &mut Entry) {
        // Here 1901-05 is a span of years, not May 1901: a column of years has no months.
        let short_span = text.len() == 7 && text.is_ascii() && text.as_bytes()[4] == b'-';
        let parsed = Edtf::parse(text).ok().filter(|_| !short_span);
        let form = match parsed {
            Some(_) => Some(text.to_string()),
            None if short_span => {
                let (a, b) = text.split_at(4);
                let last = format!("{}{}", &a[..2], &b[1..]);
                Some(format!("{a}/{last}")).filter(|s| Edtf::parse(s).is_ok())
            }
            None => suggest(text),
        };
        let Some(form) = form else {
            self.fault(
                file,
                row,
                Some("years"),
                Severity::Unusable,
                format!(
                    "\"{}\" is no span of years, so this row is not taken",
                    short(text)
                ),
                "write it as 1868/1875, or with 187X or 1868~ for one of the years",
            );
            return;
        };
        let (from, to) = match form.split_once('/') {
            Some((a, b)) => (a.trim_matches('.'), b.trim_matches('.')),
            None if form.starts_with("[..") => ("", form[3..].trim_end_matches(']')),
            None if form.starts_with('[') && form.ends_with("..]") => {
                (form[1..].trim_end_matches("..]"), "")
            }
            None => (form.as_str(), form.as_str()),
        };
        entry.from = from.to_string();
        entry.to = to.to_string();
        self.rewritten
            .push((row, text.to_string(), format!("{from} to {to}")));
    }
}
