//! Rows to entries, with a fault for each row or cell that needs a person.

use super::dialect::{self, Dialect};
use super::keys::Keys;
use super::table::{self, Content, Row, Table};
use super::{Entry, Fault, Severity};
use crate::dating::edtf::Edtf;
use crate::limits::Limit;
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

/// The columns of a list, in the order of a new file.
pub const COLUMNS: [&str; 10] = [
    "entry", "name", "variants", "trade", "address", "town", "from", "to", "source", "note",
];

/// One file read: its usable rows, its faults and how it writes.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// File name without `.csv`.
    pub list: String,
    /// The file.
    pub file: PathBuf,
    /// Usable rows in file order.
    pub entries: Vec<Entry>,
    /// Faults in file order.
    pub faults: Vec<Fault>,
    /// Number of rows with cells, the header not counted.
    pub rows: usize,
    /// How the file writes; `None` if it is no text.
    pub dialect: Option<Dialect>,
    /// Column names as the file spells them.
    pub columns: Vec<String>,
    /// Number of the header's row.
    pub header: usize,
    /// What its entries are, where a line above the header says so: one of [`ROLES`].
    pub role: Option<&'static str>,
}

/// What the entries of a list may be: `# role: seller` above the header says it.
pub const ROLES: [&str; 6] = ["maker", "seller", "sale", "show", "person", "place"];

/// What a line above the header says that the entries are; as it stands there where it is none of [`ROLES`].
fn declared(bytes: &[u8]) -> Option<std::result::Result<&'static str, String>> {
    let lines = bytes.split(|b| *b == b'\n').map(String::from_utf8_lossy);
    let above = lines.map(|l| l.trim_matches(['\u{feff}', ' ', '\r']).to_lowercase());
    let mut above = above.take_while(|l| l.starts_with('#') || l.is_empty());
    let said = above.find_map(|l| {
        let role = l.trim_start_matches(['#', ' ']).strip_prefix("role:")?;
        Some(role.trim().to_string())
    })?;
    Some(ROLES.into_iter().find(|r| *r == said).ok_or(said))
}

/// The settled spelling of a column name: lower case, blanks and signs dropped at the ends, inner
/// ones made one blank.
pub fn column_key(name: &str) -> String {
    name.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}')
        .to_lowercase()
        .split(|c: char| c.is_whitespace() || matches!(c, '_' | '-'))
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

fn known(cells: &[String]) -> usize {
    cells
        .iter()
        .filter(|c| COLUMNS.contains(&column_key(c).as_str()))
        .count()
}

/// Parts a file's bytes into rows, its separator chosen by the column names of a list.
///
/// # Errors
/// What the bytes are instead of text, and what to do.
pub fn table(bytes: &[u8]) -> Result<Table, dialect::NoText> {
    Ok(table::read(&dialect::decode(bytes)?, known))
}

/// Reads the bytes of a list; nothing stops it.
pub fn read(file: &Path, bytes: &[u8]) -> Sheet {
    let mut sheet = Sheet::empty(file);
    let table = match table(bytes) {
        Ok(t) => t,
        Err((what, next)) => {
            sheet.fault(None, None, Severity::Unusable, what, next);
            return sheet;
        }
    };
    sheet.dialect = Some(table.dialect.clone());
    match declared(bytes) {
        Some(Ok(role)) => sheet.role = Some(role),
        Some(Err(said)) => sheet.fault(
            None,
            None,
            Severity::Doubtful,
            format!("\"{said}\" is no role of a list"),
            format!("write one of {}", ROLES.join(", ")),
        ),
        None => {}
    }
    sheet.columns = table.columns().to_vec();
    let Some(columns) = sheet.header(&table) else {
        return sheet;
    };
    sheet.body(&table, &columns);
    sheet
}

/// For each of [`COLUMNS`], the cell that holds it; and the extra columns with their names.
struct Columns {
    place: [Option<usize>; 10],
    extra: Vec<(usize, String)>,
    width: usize,
}

impl Columns {
    fn name(&self, cell: usize) -> String {
        let known = self.place.iter().position(|p| *p == Some(cell));
        let extra = self.extra.iter().find(|e| e.0 == cell);
        match (known, extra) {
            (Some(k), _) => COLUMNS[k].to_string(),
            (_, Some(e)) => e.1.clone(),
            _ => format!("column {}", cell + 1),
        }
    }
}

/// The list that a file holds.
pub(super) fn list_of(file: &Path) -> String {
    let stem = file.file_stem();
    stem.map(|s| s.to_string_lossy().to_lowercase())
        .unwrap_or_default()
}

impl Sheet {
    fn empty(file: &Path) -> Sheet {
        Sheet {
            list: list_of(file),
            file: file.to_path_buf(),
            role: None,
            entries: Vec::new(),
            faults: Vec::new(),
            rows: 0,
            dialect: None,
            columns: Vec::new(),
            header: 0,
        }
    }

    /// A file that can't be opened.
    pub(super) fn unreadable(file: &Path, e: &std::io::Error) -> Sheet {
        let mut sheet = Sheet::empty(file);
        sheet.fault(
            None,
            None,
            Severity::Unusable,
            format!("the file can't be read ({e})"),
            "see that you may read it and that it isn't locked by another program",
        );
        sheet
    }

    /// A spreadsheet's own file among the lists: it is passed over, and told.
    pub(super) fn workbook(file: &Path) -> Sheet {
        let mut sheet = Sheet::empty(file);
        sheet.fault(
            None,
            None,
            Severity::Doubtful,
            "this is a spreadsheet's own workbook, and it is passed over",
            "save its sheets as CSV beside it if it holds lists",
        );
        sheet
    }

    /// A file whose name gives the same list as another's: it isn't used.
    pub(super) fn twin(file: &Path, other: &Path) -> Sheet {
        let mut sheet = Sheet::empty(file);
        sheet.twin_of(other);
        sheet
    }

    /// Passes over a file whose name gives the same list as another's.
    pub(super) fn twin_of(&mut self, other: &Path) {
        let name = other.file_name().unwrap_or_default().to_string_lossy();
        let what = format!("{name} is a list of the same name, so this file is not used");
        self.entries.clear();
        self.faults.clear();
        self.dialect = None;
        self.fault(None, None, Severity::Unusable, what, "rename one of them");
    }

    fn fault(
        &mut self,
        row: Option<usize>,
        column: Option<&str>,
        severity: Severity,
        what: impl Into<String>,
        next: impl Into<String>,
    ) {
        self.faults.push(Fault {
            file: self.file.clone(),
            row,
            column: column.map(str::to_string),
            severity,
            what: what.into(),
            next: next.into(),
        });
    }

    fn beyond(&mut self, row: usize, column: Option<&str>, limit: Limit) {
        let what = limit.passed("it holds more") + ", so the row is not used";
        let next = format!("shorten it, or {}", limit.raise());
        self.fault(Some(row), column, Severity::Unusable, what, next);
    }

    /// Finds the columns; `None` if the file can't be a list.
    fn header(&mut self, table: &Table) -> Option<Columns> {
        let Some(header) = table.header else {
            let broken = table
                .rows
                .iter()
                .find(|r| matches!(r.content, Content::Broken { .. } | Content::Beyond { .. }));
            match broken {
                Some(Row {
                    number,
                    content: Content::Beyond { limit, .. },
                    ..
                }) => self.beyond(*number, None, *limit),
                Some(r) => self.fault(
                    Some(r.number),
                    None,
                    Severity::Unusable,
                    "a quotation mark in the header is never closed, so the file can't be read",
                    "close it or take it out",
                ),
                None => self.fault(
                    None,
                    None,
                    Severity::Unusable,
                    "the file has no header",
                    format!("let its first row be {}", COLUMNS.join(",")),
                ),
            }
            return None;
        };
        let row = &table.rows[header];
        self.header = row.number;
        let mut columns = Columns {
            place: [None; 10],
            extra: Vec::new(),
            width: table.columns().len(),
        };
        for (i, name) in table.columns().iter().enumerate() {
            let key = column_key(name);
            match COLUMNS.iter().position(|c| *c == key) {
                Some(k) if columns.place[k].is_none() => columns.place[k] = Some(i),
                Some(k) => {
                    self.fault(
                        Some(row.number),
                        Some(COLUMNS[k]),
                        Severity::Doubtful,
                        "the column stands twice, and only the first is used",
                        "rename or remove the second",
                    );
                    columns.extra.push((i, name.trim().to_string()));
                }
                None if key.is_empty() => columns.extra.push((i, format!("column {}", i + 1))),
                None => columns.extra.push((i, name.trim().to_string())),
            }
        }
        if columns.place[1].is_none() {
            let found: Vec<String> = table
                .columns()
                .iter()
                .filter(|c| !c.trim().is_empty())
                .take(8)
                .map(|c| format!("\"{}\"", short(c.trim())))
                .collect();
            self.fault(
                Some(row.number),
                None,
                Severity::Unusable,
                format!(
                    "there is no column \"name\" among {}, so the file can't be used as a list",
                    found.join(", ")
                ),
                format!(
                    "let the first row name the columns ({}), or take the file in with \
                     `dorso gazetteer import`",
                    COLUMNS.join(",")
                ),
            );
            return None;
        }
        if columns.place[0].is_none() {
            self.fault(
                Some(row.number),
                None,
                Severity::Doubtful,
                "there is no column \"entry\", so keys are made from name and town, and may pass to \
                 another row when rows are moved",
                "add a column \"entry\" with a key of its own for each row",
            );
        }
        Some(columns)
    }

    fn body(&mut self, table: &Table, columns: &Columns) {
        let mut taken: HashMap<String, usize> = HashMap::new();
        // Keys made for rows without one never take a key that stands in the file.
        let mut keys = Keys::new(table.body().iter().filter_map(|r| match &r.content {
            Content::Cells(c) => columns.place[0].and_then(|i| c.get(i)).map(|c| c.trim()),
            _ => None,
        }));
        let mended: HashSet<usize> = table.mended.iter().copied().collect();
        // Where most rows have every cell, one that hasn't was likely split by a line break.
        let lengths = || {
            table.body().iter().filter_map(|r| match &r.content {
                Content::Cells(c) => Some(c.len()),
                _ => None,
            })
        };
        let short_rows = lengths().filter(|n| *n < columns.width).count();
        let tell_short = short_rows * 5 <= lengths().count();
        for row in table.body() {
            match &row.content {
                Content::Blank | Content::Comment => {}
                Content::Beyond { limit, column } => {
                    self.rows += 1;
                    self.beyond(row.number, Some(&columns.name(*column)), *limit);
                }
                Content::Broken { column, after } => {
                    self.rows += 1;
                    self.fault(
                        Some(row.number),
                        Some(&columns.name(*column)),
                        Severity::Unusable,
                        format!(
                            "the quotation mark before \"{}\" isn't closed on this row, so the row \
                             is not used",
                            short(after)
                        ),
                        "close it after the cell's last word, or write it twice if it belongs to \
                         the text",
                    );
                }
                Content::Cells(cells) => {
                    self.rows += 1;
                    if mended.contains(&row.number) {
                        self.fault(
                            Some(row.number),
                            None,
                            Severity::Doubtful,
                            "the row isn't in UTF-8 as the rest is, and was read as Windows-1252",
                            "look at its accents, then save the file as UTF-8",
                        );
                    }
                    if let Some(other) = other_separator(cells, columns.width, table) {
                        self.fault(
                            Some(row.number),
                            None,
                            Severity::Unusable,
                            format!(
                                "the row is parted by {} where the header is parted by {}, so it is \
                                 not used",
                                spoken(other),
                                spoken(table.dialect.separator)
                            ),
                            "use one separator throughout",
                        );
                        continue;
                    }
                    if tell_short && cells.len() < columns.width {
                        self.fault(
                            Some(row.number),
                            None,
                            Severity::Doubtful,
                            format!(
                                "the row has {} of {} cells, and the rest is taken as empty",
                                cells.len(),
                                columns.width
                            ),
                            "see whether a line break has split it",
                        );
                    }
                    if let Some(entry) = self.entry(row, cells, columns, &mut keys, &taken) {
                        taken.insert(entry.entry.clone(), entry.row);
                        self.entries.push(entry);
                    }
                }
            }
        }
    }

    /// The entry of a row; `None`, with its faults told, if it can't be used.
    fn entry(
        &mut self,
        row: &Row,
        cells: &[String],
        columns: &Columns,
        keys: &mut Keys,
        taken: &HashMap<String, usize>,
    ) -> Option<Entry> {
        let at = Some(row.number);
        let surplus = cells.iter().skip(columns.width);
        if surplus.clone().any(|c| !c.trim().is_empty()) {
            self.fault(
                at,
                None,
                Severity::Unusable,
                format!(
                    "the row has {} cells where the header has {}, so it is not used",
                    cells.len(),
                    columns.width
                ),
                "put the cell that holds the separator in quotation marks",
            );
            return None;
        }
        let get = |k: usize| {
            columns.place[k]
                .and_then(|i| cells.get(i))
                .map(|c| c.trim().to_string())
                .unwrap_or_default()
        };
        let mut entry = Entry {
            list: self.list.clone(),
            entry: get(0),
            name: get(1),
            variants: get(2)
                .split('|')
                .map(|v| v.trim().to_string())
                .filter(|v| !v.is_empty())
                .collect(),
            trade: get(3),
            address: get(4),
            town: get(5),
            from: get(6),
            to: get(7),
            source: get(8),
            note: get(9),
            extra: columns
                .extra
                .iter()
                .map(|(i, name)| {
                    let value = cells.get(*i).map(|c| c.trim().to_string());
                    (name.clone(), value.unwrap_or_default())
                })
                .collect(),
            row: row.number,
        };
        let mut usable = true;
        if entry.name.is_empty() {
            self.fault(
                at,
                Some("name"),
                Severity::Unusable,
                "the name is empty, so this row is not used",
                "write the name of the firm, or remove the row",
            );
            usable = false;
        }
        for (column, value) in [("from", &entry.from), ("to", &entry.to)] {
            usable &= self.year(at, column, value);
        }
        if usable && entry.entry.is_empty() {
            entry.entry = keys.fresh(&entry.name, &entry.town);
            if columns.place[0].is_some() {
                self.fault(
                    at,
                    Some("entry"),
                    Severity::Doubtful,
                    format!(
                        "the key is empty, and \"{}\" is used in its place",
                        entry.entry
                    ),
                    "write a key of its own, so that decisions keep to this row",
                );
            }
        } else if let Some(first) = taken.get(&entry.entry) {
            self.fault(
                at,
                Some("entry"),
                Severity::Unusable,
                format!(
                    "the key \"{}\" stands on row {first} already, so this row is not used",
                    short(&entry.entry)
                ),
                format!(
                    "give it a key of its own, such as \"{}\"",
                    keys.next_to(&entry.entry)
                ),
            );
            usable = false;
        }
        if let Some(cell) = row.trailing {
            self.fault(
                at,
                Some(&columns.name(cell)),
                Severity::Doubtful,
                format!(
                    "text follows the closing quotation mark, and the cell is read as \"{}\"",
                    short(cells.get(cell).map_or("", |c| c.trim()))
                ),
                "write a quotation mark that belongs to the text twice",
            );
        }
        usable.then_some(entry)
    }

    /// Whether a cell of years can be used.
    fn year(&mut self, row: Option<usize>, column: &str, value: &str) -> bool {
        if value.is_empty() {
            return true;
        }
        let Err(e) = Edtf::parse(value) else {
            return true;
        };
        let next = match crate::dating::edtf::suggest(value) {
            Some(s) if s.is_empty() => "leave it empty".to_string(),
            Some(s) => match (s.split_once('/'), column) {
                (Some((a, _)), "from") => format!("write {a} here, and the end in \"to\""),
                (Some((_, b)), _) if b != ".." => {
                    format!("write {b} here, and the start in \"from\"")
                }
                _ => format!("write {s}"),
            },
            None => "write 1875, 1875~, 187X, or leave it empty".to_string(),
        };
        self.fault(
            row,
            Some(column),
            Severity::Unusable,
            format!(
                "\"{}\" is not an EDTF year (character {}: {}), so this row is not used",
                short(value),
                e.position,
                e.what
            ),
            next,
        );
        false
    }
}

/// The separator that a row of one cell uses in place of the header's.
fn other_separator(cells: &[String], width: usize, table: &Table) -> Option<char> {
    let [only] = cells else { return None };
    [',', ';', '\t']
        .into_iter()
        .filter(|s| *s != table.dialect.separator && width >= 3)
        .find(|s| only.matches(*s).count() + 1 >= width)
}

fn spoken(separator: char) -> String {
    match separator {
        '\t' => "tabs".to_string(),
        c => format!("\"{c}\""),
    }
}

/// A cell as a message shows it: one line, at most 40 characters.
pub(super) fn short(text: &str) -> String {
    let line: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if line.chars().count() <= 40 {
        return line;
    }
    line.chars().take(39).chain(['…']).collect()
}
