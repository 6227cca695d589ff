//! How a file writes its rows: encoding, separator, line ends, quoting.
//!
//! In: the bytes of a file. Out: its text and a [`Dialect`], so that a row added later looks like
//! the person's own rows. Knows nothing of columns.

use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};
use serde::Serialize;

/// How letters became bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Encoding {
    /// UTF-8.
    #[serde(rename = "UTF-8")]
    Utf8,
    /// UTF-16, low byte first.
    #[serde(rename = "UTF-16LE")]
    Utf16Le,
    /// UTF-16, high byte first.
    #[serde(rename = "UTF-16BE")]
    Utf16Be,
    /// Windows-1252, as older spreadsheets save.
    #[serde(rename = "Windows-1252")]
    Windows1252,
}

/// What ends a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum LineEnd {
    /// Carriage return and line feed.
    #[serde(rename = "CRLF")]
    CrLf,
    /// Line feed.
    #[serde(rename = "LF")]
    Lf,
    /// Carriage return.
    #[serde(rename = "CR")]
    Cr,
}

impl LineEnd {
    /// The characters themselves.
    pub fn as_str(self) -> &'static str {
        match self {
            LineEnd::CrLf => "\r\n",
            LineEnd::Lf => "\n",
            LineEnd::Cr => "\r",
        }
    }
}

/// How one file writes its rows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Dialect {
    /// Encoding.
    pub encoding: Encoding,
    /// Whether a byte order mark stands at the start.
    pub bom: bool,
    /// `,`, `;` or tab.
    pub separator: char,
    /// Whether a `sep=` line stands before the header, as one spreadsheet program writes it.
    pub separator_line: bool,
    /// The most frequent line end.
    pub line_end: LineEnd,
    /// Whether every cell stands in quotation marks.
    pub quote_all: bool,
}

impl Default for Dialect {
    fn default() -> Self {
        Dialect {
            encoding: Encoding::Utf8,
            bom: false,
            separator: ',',
            separator_line: false,
            line_end: LineEnd::Lf,
            quote_all: false,
        }
    }
}

/// Text of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decoded {
    /// The text without its byte order mark.
    pub text: String,
    /// Encoding.
    pub encoding: Encoding,
    /// Whether a byte order mark stood there.
    pub bom: bool,
    /// Byte ranges of `text` that stood in Windows-1252 within an otherwise UTF-8 file.
    pub mended: Vec<std::ops::Range<usize>>,
}

/// Why a file is no text, and what to do.
pub type NoText = (&'static str, &'static str);

/// The text of a file: UTF-8, UTF-16 (with or without byte order mark) or Windows-1252.
///
/// A file that is UTF-8 but for fewer than half of its accented lines keeps being UTF-8; those lines are read as Windows-1252
/// and named in `mended`.
///
/// # Errors
/// What the bytes are instead of text, and what to do.
pub fn decode(bytes: &[u8]) -> Result<Decoded, NoText> {
    let plain = |text: String, encoding, bom| Decoded {
        text,
        encoding,
        bom,
        mended: Vec::new(),
    };
    if bytes.is_empty() {
        return Err((
            "the file is empty",
            "write a header and rows into it, or remove it",
        ));
    }
    for (start, what, next) in FOREIGN {
        if bytes.starts_with(start) {
            return Err((what, next));
        }
    }
    if let Some(rest) = bytes.strip_prefix(b"\xFF\xFE") {
        let (text, _) = UTF_16LE.decode_without_bom_handling(rest);
        return Ok(plain(text.into_owned(), Encoding::Utf16Le, true));
    }
    if let Some(rest) = bytes.strip_prefix(b"\xFE\xFF") {
        let (text, _) = UTF_16BE.decode_without_bom_handling(rest);
        return Ok(plain(text.into_owned(), Encoding::Utf16Be, true));
    }
    let (bytes, bom) = match bytes.strip_prefix(b"\xEF\xBB\xBF") {
        Some(rest) => (rest, true),
        None => (bytes, false),
    };
    if bytes.contains(&0) {
        // English text in UTF-16 has a zero in nearly every second byte.
        let zeros = |odd: usize| {
            bytes
                .iter()
                .skip(odd)
                .step_by(2)
                .filter(|b| **b == 0)
                .count()
        };
        let half = bytes.len() / 2;
        return if zeros(1) * 2 > half && zeros(0) * 10 < half {
            let (text, _) = UTF_16LE.decode_without_bom_handling(bytes);
            Ok(plain(text.into_owned(), Encoding::Utf16Le, false))
        } else if zeros(0) * 2 > half && zeros(1) * 10 < half {
            let (text, _) = UTF_16BE.decode_without_bom_handling(bytes);
            Ok(plain(text.into_owned(), Encoding::Utf16Be, false))
        } else {
            Err((
                "the file is no text but binary data",
                "save the list as CSV from the program that holds it",
            ))
        };
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Ok(plain(text.to_string(), Encoding::Utf8, bom));
    }
    let lines: Vec<&[u8]> = bytes.split_inclusive(|b| *b == b'\n').collect();
    // Accented letters of Windows-1252 are hardly ever UTF-8 by chance, so the lines vote.
    let utf8 = lines
        .iter()
        .filter(|l| std::str::from_utf8(l).is_ok_and(|l| !l.is_ascii()))
        .count();
    let other = lines
        .iter()
        .filter(|l| std::str::from_utf8(l).is_err())
        .count();
    let mostly_utf8 = bom || utf8 >= other.max(1);
    if !mostly_utf8 {
        let (text, _) = WINDOWS_1252.decode_without_bom_handling(bytes);
        return Ok(plain(text.into_owned(), Encoding::Windows1252, false));
    }
    let mut out = plain(String::with_capacity(bytes.len()), Encoding::Utf8, bom);
    for line in lines {
        match std::str::from_utf8(line) {
            Ok(l) => out.text.push_str(l),
            Err(_) => {
                let start = out.text.len();
                let (l, _) = WINDOWS_1252.decode_without_bom_handling(line);
                out.text.push_str(&l);
                out.mended.push(start..out.text.len());
            }
        }
    }
    Ok(out)
}

const WORKBOOK: &str = "the file is a spreadsheet's own workbook, not CSV";
const SAVE_AS: &str = "open it in the spreadsheet and save the sheet as CSV (UTF-8)";
const NOT_CSV: &str = "put the list here as CSV, or remove this file";

/// First bytes of what is often given a wrong name.
const FOREIGN: [(&[u8], &str, &str); 6] = [
    (b"PK\x03\x04", WORKBOOK, SAVE_AS),
    (b"\xD0\xCF\x11\xE0", WORKBOOK, SAVE_AS),
    (b"%PDF", "the file is a PDF, not CSV", NOT_CSV),
    (b"\xFF\xD8\xFF", "the file is a picture, not CSV", NOT_CSV),
    (b"\x89PNG", "the file is a picture, not CSV", NOT_CSV),
    (
        b"{\\rtf",
        "the file is a word processor's text, not CSV",
        SAVE_AS,
    ),
];

/// The bytes of a text in that encoding, without byte order mark.
///
/// # Errors
/// The first character that the encoding has no place for.
pub fn encode(text: &str, encoding: Encoding) -> Result<Vec<u8>, char> {
    match encoding {
        Encoding::Utf8 => Ok(text.as_bytes().to_vec()),
        Encoding::Utf16Le => Ok(text.encode_utf16().flat_map(u16::to_le_bytes).collect()),
        Encoding::Utf16Be => Ok(text.encode_utf16().flat_map(u16::to_be_bytes).collect()),
        Encoding::Windows1252 => {
            let mut bytes = Vec::with_capacity(text.len());
            for c in text.chars() {
                let mut buffer = [0; 4];
                let (coded, _, failed) = WINDOWS_1252.encode(c.encode_utf8(&mut buffer));
                if failed {
                    return Err(c);
                }
                bytes.extend_from_slice(&coded);
            }
            Ok(bytes)
        }
    }
}

/// One row as this dialect writes it, with its line end.
pub fn record(cells: &[String], dialect: &Dialect) -> String {
    let mut out = String::new();
    for (i, cell) in cells.iter().enumerate() {
        if i > 0 {
            out.push(dialect.separator);
        }
        let risky = |c: char| c == dialect.separator || matches!(c, '"' | '\r' | '\n');
        // A row may not begin like a comment, nor be blank; a cell may not lose its outer blanks.
        let first = i == 0 && (cell.starts_with('#') || (cells.len() == 1 && cell.is_empty()));
        let padded = cell.starts_with(char::is_whitespace) || cell.ends_with(char::is_whitespace);
        if dialect.quote_all || first || padded || cell.contains(risky) {
            out.push('"');
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(cell);
        }
    }
    out.push_str(dialect.line_end.as_str());
    out
}
