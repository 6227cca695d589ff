//! Text to rows of cells, each with the row number that a spreadsheet shows.
//!
//! Follows RFC 4180, and goes on where a file doesn't: any line ends, blank lines, `#` lines, and
//! quotation marks that are never closed. A quotation mark that swallows the rows behind it costs
//! its own row only.

use super::dialect::{Decoded, Dialect, LineEnd};
use crate::limits::{CELL_BYTES, COLUMNS, Limit};

/// What stands in a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Content {
    /// Nothing but blanks or separators.
    Blank,
    /// A line that starts with `#`.
    Comment,
    /// Cells.
    Cells(Vec<String>),
    /// A quotation mark opens in this cell (from 0) and isn't closed where it should be.
    Broken {
        /// Cell in which it opens, from 0.
        column: usize,
        /// What follows the mark on its line.
        after: String,
    },
    /// More than is taken in.
    Beyond {
        /// Of what.
        limit: Limit,
        /// Cell in which that was seen, from 0.
        column: usize,
    },
}

/// A row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Number as a spreadsheet shows it, the first row being 1.
    pub number: usize,
    /// What stands in it.
    pub content: Content,
    /// Bytes of the text.
    pub span: std::ops::Range<usize>,
    /// Cell (from 0) where text follows a closing quotation mark.
    pub trailing: Option<usize>,
}

/// A file's rows and how it writes them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// How the file writes its rows.
    pub dialect: Dialect,
    /// All rows, blank ones and comments included, the header first among the cells.
    pub rows: Vec<Row>,
    /// Index in `rows` of the header; `None` if no row has cells.
    pub header: Option<usize>,
    /// Rows that had to be read in another encoding than the rest.
    pub mended: Vec<usize>,
}

impl Table {
    /// Cells of the header.
    pub fn columns(&self) -> &[String] {
        match self.header.map(|h| &self.rows[h].content) {
            Some(Content::Cells(c)) => c,
            _ => &[],
        }
    }

    /// The first row that holds more than is taken in, and of what.
    pub fn beyond(&self) -> Option<(usize, Limit)> {
        self.rows.iter().find_map(|r| match r.content {
            Content::Beyond { limit, .. } => Some((r.number, limit)),
            _ => None,
        })
    }

    /// Rows behind the header.
    pub fn body(&self) -> &[Row] {
        self.header.map_or(&[], |h| &self.rows[h + 1..])
    }
}

const SEPARATORS: [char; 3] = [',', ';', '\t'];

/// Parts a text into rows. `known` says how well a header fits: the number of column names that
/// the caller knows. It decides the separator together with how evenly the rows part.
pub fn read(decoded: &Decoded, known: impl Fn(&[String]) -> usize) -> Table {
    let text = decoded.text.as_str();
    let (declared, start) = declared_separator(text);
    let separator = declared.unwrap_or_else(|| {
        let head = first_lines(&text[start..], 60);
        SEPARATORS
            .into_iter()
            .max_by_key(|s| {
                let rows = split(head, 0, *s);
                let counts: Vec<usize> = rows.iter().filter_map(cell_count).collect();
                let width = counts.first().copied().unwrap_or(0);
                let header = rows.iter().find_map(|r| match &r.content {
                    Content::Cells(c) => Some(known(c)),
                    _ => None,
                });
                let even = counts.iter().filter(|c| **c == width).count();
                let share = 100 * even / counts.len().max(1);
                // On a tie the first of the list wins: max_by_key takes the last, so order counts.
                (header, width > 1, share, width, *s == ',')
            })
            .unwrap_or(',')
    });
    let rows = split(text, start, separator);
    let header = rows
        .iter()
        .position(|r| !matches!(r.content, Content::Blank | Content::Comment))
        .filter(|h| matches!(rows[*h].content, Content::Cells(_)));
    let mended = rows
        .iter()
        .filter(|r| {
            let m = decoded.mended.partition_point(|m| m.end <= r.span.start);
            decoded.mended.get(m).is_some_and(|m| m.start < r.span.end)
        })
        .map(|r| r.number)
        .collect();
    let dialect = Dialect {
        encoding: decoded.encoding,
        bom: decoded.bom,
        separator,
        separator_line: declared.is_some(),
        line_end: line_end(text),
        quote_all: quoted_throughout(text, &rows),
    };
    Table {
        dialect,
        rows,
        header,
        mended,
    }
}

fn cell_count(row: &Row) -> Option<usize> {
    match &row.content {
        Content::Cells(c) => Some(c.len()),
        _ => None,
    }
}

/// A first line `sep=;` names the separator; spreadsheets don't show it as a row.
fn declared_separator(text: &str) -> (Option<char>, usize) {
    let line = text.split(['\r', '\n']).next().unwrap_or("");
    let mut rest = line.trim_matches('"').chars();
    let named: String = rest.by_ref().take(4).collect();
    match (named.to_lowercase().as_str(), rest.next(), rest.next()) {
        ("sep=", Some(c), None) if !c.is_alphanumeric() && c != '"' => {
            (Some(c), line.len() + end_length(&text[line.len()..]))
        }
        _ => (None, 0),
    }
}

fn first_lines(text: &str, count: usize) -> &str {
    let end = text
        .char_indices()
        .filter(|(_, c)| matches!(c, '\r' | '\n'))
        .nth(count)
        .map_or(text.len(), |(i, _)| i);
    &text[..end]
}

fn line_end(text: &str) -> LineEnd {
    let crlf = text.matches("\r\n").count();
    let lf = text.matches('\n').count() - crlf;
    let cr = text.matches('\r').count() - crlf;
    if crlf > 0 && crlf >= lf && crlf >= cr {
        LineEnd::CrLf
    } else if cr > lf {
        LineEnd::Cr
    } else {
        LineEnd::Lf
    }
}

/// Whether every filled cell of the first rows opens with a quotation mark.
fn quoted_throughout(text: &str, rows: &[Row]) -> bool {
    let mut seen = 0;
    for row in rows.iter().take(200) {
        if let Content::Cells(cells) = &row.content {
            let raw = &text[row.span.clone()];
            let marks = raw.matches('"').count();
            let inner: usize = cells.iter().map(|c| c.matches('"').count()).sum();
            let filled = cells.iter().filter(|c| !c.is_empty()).count();
            if marks < 2 * filled + 2 * inner {
                return false;
            }
            seen += 1;
        }
    }
    seen > 0
}

fn end_length(text: &str) -> usize {
    if text.starts_with("\r\n") {
        2
    } else {
        usize::from(text.starts_with(['\r', '\n']))
    }
}

/// Cells of one record, and how it went.
struct Scan {
    cells: Vec<String>,
    /// First byte behind the record and its line end.
    end: usize,
    /// Last quotation mark that opened a cell with a line end in it: cell, byte behind the mark.
    multi: Option<(usize, usize)>,
    /// That mark is never closed, or text follows the closing one.
    torn: bool,
    /// What there was more of than is taken in; the rest of the line isn't looked at.
    beyond: Option<Limit>,
    trailing: Option<usize>,
}

fn split(text: &str, start: usize, separator: char) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut at = start;
    let mut width = None;
    let mut number = 0;
    while at < text.len() {
        number += 1;
        let from = at;
        if text[at..].starts_with('#') {
            at = next_line(text, at);
            rows.push(row(number, Content::Comment, from..at));
            continue;
        }
        let scan = scan(text, at, separator);
        if let Some(limit) = scan.beyond {
            at = scan.end;
            let column = scan.cells.len();
            rows.push(row(number, Content::Beyond { limit, column }, from..at));
            continue;
        }
        let broken = scan
            .multi
            .filter(|_| swallows(text, &scan, width, separator));
        if let Some((column, mark)) = broken {
            at = next_line(text, mark);
            let after = text[mark..at].trim_end_matches(['\r', '\n']).to_string();
            rows.push(row(number, Content::Broken { column, after }, from..at));
            continue;
        }
        at = scan.end;
        // A row of nothing but separators is blank, another program's separators included.
        let content = if scan.cells.iter().all(|c| blank(c)) {
            Content::Blank
        } else {
            width.get_or_insert(scan.cells.len());
            Content::Cells(scan.cells)
        };
        let mut row = row(number, content, from..at);
        row.trailing = scan.trailing;
        rows.push(row);
    }
    rows
}

/// Whether a cell holds nothing but blanks and separators.
pub(super) fn blank(cell: &str) -> bool {
    cell.trim_matches(|c: char| c.is_whitespace() || SEPARATORS.contains(&c))
        .is_empty()
}

fn row(number: usize, content: Content, span: std::ops::Range<usize>) -> Row {
    Row {
        number,
        content,
        span,
        trailing: None,
    }
}

fn next_line(text: &str, at: usize) -> usize {
    match text[at..].find(['\r', '\n']) {
        Some(i) => at + i + end_length(&text[at + i..]),
        None => text.len(),
    }
}

/// Whether a cell that runs over several lines took rows into itself: its mark is never closed,
/// or text follows the closing one, or the row has more cells than the header, or a line within it
/// parts into as many cells as the header has.
fn swallows(text: &str, scan: &Scan, width: Option<usize>, separator: char) -> bool {
    let Some((column, mark)) = scan.multi else {
        return false;
    };
    if scan.torn {
        return true;
    }
    let Some(width) = width else { return false };
    if scan.cells.len() > width {
        return true;
    }
    let within = scan.cells.get(column).map_or("", String::as_str);
    let mut lines = within.split(['\r', '\n']).filter(|l| !l.is_empty());
    lines.next();
    let whole_row = width >= 3 && lines.any(|l| l.matches(separator).count() + 1 >= width);
    whole_row && mark < text.len()
}

/// The text from a byte on, as far as a cell may reach.
fn window(text: &str, from: usize) -> &str {
    let most = usize::try_from(CELL_BYTES.most()).unwrap_or(usize::MAX);
    let beyond = from.saturating_add(most).saturating_add(1).min(text.len());
    let end = (from..=beyond).rev().find(|&i| text.is_char_boundary(i));
    &text[from..end.unwrap_or(from)]
}

fn scan(text: &str, start: usize, separator: char) -> Scan {
    let mut out = Scan {
        cells: Vec::new(),
        end: start,
        multi: None,
        torn: false,
        beyond: None,
        trailing: None,
    };
    let ends = |c: char| c == separator || matches!(c, '\r' | '\n');
    let mut at = start;
    loop {
        let column = out.cells.len();
        let mut cell = String::new();
        if column as u64 >= COLUMNS.most() {
            out.beyond = Some(COLUMNS);
            out.end = next_line(text, at);
            return out;
        }
        // Blanks before an opening mark are passed over: people type ", " between cells.
        let blanks = text[at..].len() - text[at..].trim_start_matches(' ').len();
        if text[at + blanks..].starts_with('"') {
            let mark = at + blanks + 1;
            at = mark;
            let within = window(text, mark);
            loop {
                match within[at - mark..].find('"') {
                    None if mark + within.len() < text.len() => {
                        out.beyond = Some(CELL_BYTES);
                        out.end = next_line(text, mark);
                        return out;
                    }
                    None => {
                        cell.push_str(&text[at..]);
                        at = text.len();
                        out.torn = true;
                        out.multi = Some((column, mark));
                        break;
                    }
                    Some(i) => {
                        cell.push_str(&text[at..at + i]);
                        at += i + 1;
                        if !text[at..].starts_with('"') {
                            break;
                        }
                        cell.push('"');
                        at += 1;
                    }
                }
            }
            if cell.contains(['\r', '\n']) {
                out.multi = Some((column, mark));
                out.torn =
                    out.torn || !text[at..].starts_with(|c| ends(c) || c == ' ') && at < text.len();
            }
            let tail = text[at..].find(ends).map_or(text.len(), |i| at + i);
            if (tail - at) as u64 > CELL_BYTES.most() {
                out.beyond = Some(CELL_BYTES);
                out.end = next_line(text, mark);
                return out;
            }
            if !text[at..tail].trim().is_empty() {
                out.trailing.get_or_insert(column);
                cell.push_str(&text[at..tail]);
            }
            at = tail;
        } else {
            let tail = text[at..].find(ends).map_or(text.len(), |i| at + i);
            if (tail - at) as u64 > CELL_BYTES.most() {
                out.beyond = Some(CELL_BYTES);
                out.end = next_line(text, at);
                return out;
            }
            cell.push_str(&text[at..tail]);
            at = tail;
        }
        out.cells.push(cell);
        if text[at..].starts_with(separator) {
            at += separator.len_utf8();
            continue;
        }
        out.end = at + end_length(&text[at..]);
        return out;
    }
}
