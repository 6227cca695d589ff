//! What is doubtful in a list that can be used.
//!
//! Every check is one pass over the rows or a sort, so 100,000 rows take well under a second:
//! names are compared only within one address, and within a window where an address is crowded.

use super::fold::{self, Form};
use super::rows::{COLUMNS, Sheet, column_key, short};
use super::{Entry, Fault, Severity};
use crate::dating::edtf::{Edtf, Member};
use std::collections::{HashMap, HashSet};

/// At one address, each name is compared with this many next ones in order of the alphabet.
const WINDOW: usize = 12;

/// Names at one address that are at least this alike (Jaro-Winkler) are told. Common practice:
/// below 0.9 different firms of one trade come up.
const ALIKE: f64 = 0.92;

/// Years of `from` and `to` that a `~` or `?` may be off before an overlap is told.
const SLACK: i64 = 3;

/// Doubtful matters of one list, in order of rows.
pub fn check(sheet: &Sheet) -> Vec<Fault> {
    let mut out = Doubts {
        sheet,
        faults: Vec::new(),
    };
    out.columns();
    for entry in &sheet.entries {
        out.years(entry);
        out.key(entry);
        out.names(entry);
        out.cells(entry);
    }
    out.sources();
    let forms: Vec<Form> = sheet.entries.iter().map(Form::of).collect();
    let years: Vec<Years> = sheet.entries.iter().map(Years::of).collect();
    out.near_duplicates(&forms, &years);
    out.two_addresses(&forms, &years);
    let mut faults = out.faults;
    faults.sort_by_key(|f| f.row);
    faults
}

struct Doubts<'a> {
    sheet: &'a Sheet,
    faults: Vec<Fault>,
}

impl Doubts<'_> {
    fn tell(
        &mut self,
        row: Option<usize>,
        column: Option<&str>,
        what: impl Into<String>,
        next: impl Into<String>,
    ) {
        self.faults.push(Fault {
            file: self.sheet.file.clone(),
            row,
            column: column.map(str::to_string),
            severity: Severity::Doubtful,
            what: what.into(),
            next: next.into(),
        });
    }

    /// Extra columns whose name is nearly one of the ten.
    fn columns(&mut self) {
        let keys: Vec<String> = self.sheet.columns.iter().map(|c| column_key(c)).collect();
        for key in &keys {
            let near = COLUMNS.iter().find(|c| {
                !keys.iter().any(|k| k == *c)
                    && key != *c
                    && key.chars().count() > 2
                    && strsim::osa_distance(key, c) <= 1 + usize::from(c.len() > 5)
            });
            if let Some(column) = near {
                self.tell(
                    Some(self.sheet.header),
                    Some(key),
                    "the column is kept but not used",
                    format!("rename it to \"{column}\" if that is what it holds"),
                );
            }
        }
    }

    fn years(&mut self, e: &Entry) {
        let row = Some(e.row);
        let from = Edtf::parse(&e.from).ok();
        let to = Edtf::parse(&e.to).ok();
        let first = from.as_ref().and_then(Edtf::earliest);
        let last = to.as_ref().and_then(Edtf::latest);
        if let (Some(a), Some(b)) = (first, last)
            && a > b
        {
            self.tell(
                row,
                Some("from"),
                format!(
                    "{} comes after {} in \"to\", so the years are left out of account",
                    e.from, e.to
                ),
                "mend the one that is wrong",
            );
        }
        let this_year = i64::from(jiff::Zoned::now().year());
        for (column, text, value) in [("from", &e.from, &from), ("to", &e.to, &to)] {
            let Some(value) = value else { continue };
            let span = match value {
                Edtf::Interval(..) | Edtf::AllOf(_) => true,
                Edtf::OneOf(m) => m.iter().all(|m| matches!(m, Member::On(_))) && m.len() > 4,
                _ => false,
            };
            let month = text.len() == 7
                && text.as_bytes().get(4) == Some(&b'-')
                && text.get(5..).is_some_and(|m| m.parse::<u8>().is_ok());
            if span {
                self.tell(
                    row,
                    Some(column),
                    format!("\"{}\" is a span, not a year", short(text)),
                    "write its start in \"from\" and its end in \"to\"",
                );
            } else if month {
                self.tell(
                    row,
                    Some(column),
                    format!("\"{text}\" means a month of that year, not a span of years"),
                    "leave it if so; else write the start in \"from\" and the end in \"to\"",
                );
            }
            let reach = [value.earliest(), value.latest()];
            if reach
                .into_iter()
                .flatten()
                .any(|d| d.year > this_year || d.year < 1000)
                && !span
            {
                self.tell(
                    row,
                    Some(column),
                    format!("\"{}\" is before 1000 or still to come", short(text)),
                    "mend the year if it is a slip",
                );
            }
        }
    }

    fn key(&mut self, e: &Entry) {
        let odd = e
            .entry
            .chars()
            .find(|c| !(c.is_alphanumeric() || matches!(c, '-' | '_' | '.')));
        if let Some(c) = odd {
            let c = if c.is_whitespace() {
                "a blank".to_string()
            } else {
                format!("\"{c}\"")
            };
            self.tell(
                Some(e.row),
                Some("entry"),
                format!("the key \"{}\" holds {c}", short(&e.entry)),
                "keep to letters, digits and hyphens, so that it can be typed in a command",
            );
        }
    }

    fn names(&mut self, e: &Entry) {
        let row = Some(e.row);
        let name = fold::plain(&e.name);
        if name.is_empty() {
            self.tell(
                row,
                Some("name"),
                format!("the name \"{}\" has no letter or digit", short(&e.name)),
                "write the name as a label would have it",
            );
        }
        let mut seen = HashSet::new();
        for v in &e.variants {
            if *v == e.name || !seen.insert(v) {
                self.tell(
                    row,
                    Some("variants"),
                    format!("\"{}\" stands twice", short(v)),
                    "take one out",
                );
            } else if fold::plain(v).is_empty() {
                self.tell(
                    row,
                    Some("variants"),
                    format!("\"{}\" has no letter or digit", short(v)),
                    "take it out, or part the forms with |",
                );
            }
        }
        if let [only] = e.variants.as_slice()
            && only.split(';').filter(|p| !p.trim().is_empty()).count() > 1
        {
            self.tell(
                row,
                Some("variants"),
                format!("\"{}\" is taken as one form of the name", short(only)),
                "part several forms with |",
            );
        }
    }

    /// Signs in any cell that point to a slip of encoding, or that a spreadsheet would work out.
    fn cells(&mut self, e: &Entry) {
        let row = Some(e.row);
        let variants = e.variants.join("|");
        let known = [
            ("entry", &e.entry),
            ("name", &e.name),
            ("variants", &variants),
            ("trade", &e.trade),
            ("address", &e.address),
            ("town", &e.town),
            ("source", &e.source),
            ("note", &e.note),
        ];
        let extra = e.extra.iter().map(|(k, v)| (k.as_str(), v));
        let mut found = Vec::new();
        for (column, value) in known.into_iter().chain(extra) {
            if value.contains('\u{fffd}') || mangled(value) {
                found.push((
                    column.to_string(),
                    format!("\"{}\" was damaged by a change of encoding", short(value)),
                    "write the letters again and save the file as UTF-8",
                ));
            } else if formula(value) {
                found.push((
                    column.to_string(),
                    format!("a spreadsheet may take \"{}\" for a formula", short(value)),
                    "put a word or a blank before the sign if a spreadsheet will open the list",
                ));
            }
        }
        for (column, what, next) in found {
            self.tell(row, Some(&column), what, next);
        }
    }

    fn sources(&mut self) {
        let bare: Vec<usize> = self
            .sheet
            .entries
            .iter()
            .filter(|e| e.source.is_empty())
            .map(|e| e.row)
            .collect();
        if let Some(first) = bare.first() {
            let what = match bare.len() {
                1 => format!("row {first} has no source"),
                n => format!("{n} rows have no source, the first of them row {first}"),
            };
            self.tell(
                None,
                Some("source"),
                what,
                "say where the facts come from, or write \"from memory\"",
            );
        }
    }

    /// The same firm twice at one address in the same years.
    fn near_duplicates(&mut self, forms: &[Form], years: &[Years]) {
        let entries = &self.sheet.entries;
        let mut order: Vec<usize> = (0..forms.len()).collect();
        let key = |i: usize| (&forms[i].town, &forms[i].address, &forms[i].name, i);
        order.sort_by(|a, b| key(*a).cmp(&key(*b)));
        let mut told = HashSet::new();
        let mut found = Vec::new();
        for (n, &i) in order.iter().enumerate() {
            for &j in order[n + 1..].iter().take(WINDOW) {
                let (a, b) = (&forms[i], &forms[j]);
                if a.town != b.town || a.address != b.address {
                    break;
                }
                let second = i.max(j);
                if told.contains(&second) || !years[i].share(&years[j]) {
                    continue;
                }
                if self.sheet.role == Some("person") && entries[i].is_another_than(&entries[j]) {
                    continue;
                }
                // Without an address only the same name counts: a list of names alone holds many
                // that are alike.
                let same = a.name == b.name;
                if same || (!a.address.is_empty() && a.alike(b, ALIKE)) {
                    told.insert(second);
                    found.push((i.min(j), second, same));
                }
            }
        }
        for (first, second, same) in found {
            let (a, b) = (&entries[first], &entries[second]);
            let what = if same {
                format!(
                    "\"{}\" stands on row {} too, at the same address in the same years",
                    short(&b.name),
                    a.row
                )
            } else {
                format!(
                    "\"{}\" is nearly \"{}\" of row {}, at the same address in the same years",
                    short(&b.name),
                    short(&a.name),
                    a.row
                )
            };
            self.tell(
                Some(b.row),
                Some("name"),
                what,
                "if they are one firm, keep one row and put the other spelling into \"variants\"",
            );
        }
    }

    /// One firm at two addresses at once, unless a row says that it was a branch.
    fn two_addresses(&mut self, forms: &[Form], years: &[Years]) {
        let entries = &self.sheet.entries;
        let mut firms: HashMap<(&str, &str), Vec<usize>> = HashMap::new();
        for (i, f) in forms.iter().enumerate() {
            let e = &entries[i];
            if !f.address.is_empty() && years[i].sure.is_some() && !branch(e) {
                firms.entry((&f.name, &f.town)).or_default().push(i);
            }
        }
        let mut found = Vec::new();
        for mut rows in firms.into_values().filter(|r| r.len() > 1) {
            rows.sort_by_key(|i| years[*i].sure);
            let mut longest = rows[0];
            for &i in &rows[1..] {
                let (Some((from, to)), Some((_, reach))) = (years[i].sure, years[longest].sure)
                else {
                    continue;
                };
                // A year in common is a move in that year, or a directory compiled late.
                if reach.min(to) - from > 1 && forms[i].address != forms[longest].address {
                    found.push((longest, i, from, reach.min(to)));
                    break;
                }
                if to > reach {
                    longest = i;
                }
            }
        }
        for (a, b, from, to) in found {
            let (a, b) = (&entries[a], &entries[b]);
            self.tell(
                Some(b.row),
                Some("from"),
                format!(
                    "\"{}\" is here and at \"{}\" (row {}) from {from} to {to}",
                    short(&b.name),
                    short(&a.address),
                    a.row
                ),
                "mend the years, or say \"branch\" in \"note\" if it had both",
            );
        }
    }
}

fn branch(e: &Entry) -> bool {
    let words = format!("{} {} {}", e.trade, e.address, e.note).to_lowercase();
    ["branch", "works", "depot", "also", "factory", "warehouse"]
        .iter()
        .any(|w| words.contains(w))
}

/// The years of a row, reckoned once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Years<'a> {
    text: (&'a str, &'a str),
    /// Years in which the firm surely stood there: last possible `from` to first possible `to`,
    /// drawn in where they are estimates.
    sure: Option<(i64, i64)>,
    widest: (Option<i32>, Option<i32>),
    loose: bool,
}

impl<'a> Years<'a> {
    /// Of an entry.
    pub fn of(e: &'a Entry) -> Years<'a> {
        let from = Edtf::parse(&e.from).ok();
        let to = Edtf::parse(&e.to).ok();
        let doubtful =
            |v: &Option<Edtf>| v.as_ref().is_some_and(|v| v.approximate() || v.uncertain());
        let slack = |v| if doubtful(v) { SLACK } else { 0 };
        let first = from
            .as_ref()
            .and_then(Edtf::latest)
            .map(|d| d.year + slack(&from));
        let last = to
            .as_ref()
            .and_then(Edtf::earliest)
            .map(|d| d.year - slack(&to));
        Years {
            text: (&e.from, &e.to),
            sure: first.zip(last).filter(|(a, b)| a <= b),
            widest: e.years(),
            loose: doubtful(&from) || doubtful(&to) || e.from.contains('X') || e.to.contains('X'),
        }
    }

    /// Whether two spans share more than the year of a change. Where both are known well enough,
    /// only the years that they surely cover count; else those that they may.
    pub fn share(&self, other: &Years) -> bool {
        if self.text == other.text {
            return true;
        }
        if let (Some((a0, a1)), Some((b0, b1))) = (self.sure, other.sure) {
            return a1.min(b1) - a0.max(b0) > 1;
        }
        let ((a0, a1), (b0, b1)) = (self.widest, other.widest);
        let low = |y: Option<i32>| y.unwrap_or(i32::MIN / 2);
        let high = |y: Option<i32>| y.unwrap_or(i32::MAX / 2);
        // A decade or an estimate on either side may hide the change from one to the other.
        let slack = if self.loose || other.loose { 10 } else { 1 };
        high(a1).min(high(b1)) - low(a0).max(low(b0)) > slack
    }
}

/// Whether a spreadsheet would work the cell out when it opens the file.
pub fn formula(cell: &str) -> bool {
    let mut signs = cell.chars();
    match signs.next() {
        Some('=' | '@' | '\t' | '\r') => true,
        Some('+' | '-') => signs
            .next()
            .is_some_and(|c| c.is_alphanumeric() || c == '('),
        _ => false,
    }
}

/// UTF-8 that was once read as Windows-1252: "Ã©", "â€™".
fn mangled(text: &str) -> bool {
    let chars: Vec<char> = text.chars().collect();
    chars.windows(2).any(|w| {
        (w[0] == 'Ã' && ('\u{80}'..='\u{bf}').contains(&w[1]))
            || (w[0] == 'â' && matches!(w[1], '€' | '\u{80}'))
            || (w[0] == 'Â' && matches!(w[1], '\u{a0}'..='\u{bf}'))
    })
}
