//! The note as Markdown (CommonMark 0.31 with tables). Texts from labels, lists and file names are
//! escaped, so that none is taken for markup.

use super::{Block, Crops, Cut, Export, Length, Note, Shown, blocks};
use std::fmt::Write as _;

/// Markdown. Pictures are linked if they are written beside it.
#[derive(Debug, Clone, Default)]
pub struct Markdown {
    /// Folder of the pictures as linked from the file, or `None` to link none.
    pub pictures: Option<String>,
}

impl Export for Markdown {
    fn extension(&self) -> &'static str {
        "md"
    }

    fn text(&self, note: &Note, crops: &Crops) -> String {
        let mut out = String::new();
        let pictures = Pictures {
            folder: self.pictures.as_deref(),
            note: Some(note),
            crops,
        };
        set(&mut out, &blocks(note, Length::File), &pictures);
        out.trim_end().to_string() + "\n"
    }
}

/// What pictures there are.
struct Pictures<'a> {
    folder: Option<&'a str>,
    note: Option<&'a Note>,
    crops: &'a Crops,
}

fn set(out: &mut String, blocks: &[Block], pictures: &Pictures) {
    for (i, b) in blocks.iter().enumerate() {
        let _ = match b {
            Block::Title(t) => writeln!(out, "# {}\n", escape(t)),
            Block::Heading(t) => writeln!(out, "## {}\n", escape(t)),
            Block::Subheading(t) => writeln!(out, "### {}\n", escape(t)),
            Block::Paragraph(t) => writeln!(out, "{}\n", escape(t)),
            Block::Verse(lines) => {
                transcription(out, lines);
                Ok(())
            }
            Block::Point(t) => {
                let last = !matches!(blocks.get(i + 1), Some(Block::Point(_)));
                writeln!(out, "- {}{}", escape(t), if last { "\n" } else { "" })
            }
            Block::Table {
                caption,
                heads,
                rows,
            } => {
                table(out, caption, heads, rows);
                Ok(())
            }
            Block::Picture(shown) => {
                picture(out, shown, pictures);
                Ok(())
            }
            // What is folded away is a page's, which can be opened
            Block::More { .. } => Ok(()),
        };
    }
}

fn table(out: &mut String, caption: &str, heads: &[&str], rows: &[Vec<String>]) {
    let _ = writeln!(out, "{}:\n", escape(caption));
    let _ = writeln!(out, "| {} |", heads.join(" | "));
    let _ = writeln!(out, "|{}", "---|".repeat(heads.len()));
    for row in rows {
        let cells: Vec<String> = row.iter().map(|c| escape(c)).collect();
        let _ = writeln!(out, "| {} |", cells.join(" | "));
    }
    out.push('\n');
}

fn picture(out: &mut String, shown: &Shown, p: &Pictures) {
    match (shown, p.folder) {
        (Shown::Mark(id), folder) => {
            let noted = p.note.and_then(|n| n.marks.iter().find(|m| m.id == *id));
            match (p.crops.marks.get(id), folder, noted) {
                (Some(Cut::Jpeg { .. }), Some(folder), Some(m)) => {
                    let place = escape(&m.place);
                    let _ = writeln!(out, "![{} {id}, {place}]({folder}/{id}.jpg)\n", m.heading);
                }
                (Some(Cut::Missing(why)), ..) => {
                    let _ = writeln!(out, "{}\n", escape(why));
                }
                _ => {}
            }
        }
        (Shown::Chart, Some(folder)) => {
            let _ = writeln!(out, "![Dates by part of the object]({folder}/dates.svg)\n");
        }
        _ => {}
    }
}

impl Markdown {
    /// Blocks as a file of their own, without pictures.
    pub fn blocks(blocks: &[Block]) -> String {
        let mut out = String::new();
        let pictures = Pictures {
            folder: None,
            note: None,
            crops: &Crops::default(),
        };
        set(&mut out, blocks, &pictures);
        out.trim_end().to_string() + "\n"
    }
}

/// Lines in a fenced block, exactly as they stand.
fn transcription(out: &mut String, lines: &[String]) {
    let longest = lines
        .iter()
        .flat_map(|l| l.split(|c| c != '`'))
        .map(str::len)
        .max()
        .unwrap_or(0);
    let fence = "`".repeat(longest.max(2) + 1);
    let _ = writeln!(out, "{fence}text");
    for l in lines {
        let _ = writeln!(out, "{}", visible(l));
    }
    let _ = writeln!(out, "{fence}\n");
}

/// Text on one line without signs that would be acted upon rather than seen: line breaks become
/// spaces, other control characters and changes of writing direction U+FFFD.
pub(super) fn visible(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\r' | '\t' | '\u{2028}' | '\u{2029}' => ' ',
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' => {
                '\u{fffd}'
            }
            c if c.is_control() => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// Text that Markdown shows as it is.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let text = visible(text);
    let mut signs = text.chars().peekable();
    while let Some(c) = signs.next() {
        match c {
            // Only before a letter or # could it be taken for the name of a sign.
            '&' if signs
                .peek()
                .is_some_and(|n| n.is_alphanumeric() || *n == '#') =>
            {
                out.push_str("&amp;");
            }
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '#' | '|' | '~' => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    // At the start of a line these would begin a list or a rule.
    let first = out.trim_start();
    let digits = first.len() - first.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let at = out.len() - first.len() + digits;
    let begins_list = match first[digits..].chars().next() {
        Some('.' | ')') => digits > 0,
        Some('-' | '+' | '=') => digits == 0,
        _ => false,
    };
    if begins_list {
        out.insert(at, '\\');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_on_a_label_is_taken_for_markup() {
        assert_eq!(
            escape("<b>*x*</b> [a](b)"),
            "&lt;b&gt;\\*x\\*&lt;/b&gt; \\[a\\](b)"
        );
        assert_eq!(escape("1. lot\n# head"), "1\\. lot \\# head");
        assert_eq!(escape("- x"), "\\- x");
        assert_eq!(escape("a|b"), "a\\|b");
        assert_eq!(
            escape("Orme & Son &amp; &#65;"),
            "Orme & Son &amp;amp; &amp;\\#65;"
        );
        assert_eq!(escape("a\u{202e}b\u{7}"), "a\u{fffd}b\u{fffd}");
    }

    #[test]
    fn a_fence_is_longer_than_any_run_of_backquotes_in_it() {
        let mut out = String::new();
        transcription(&mut out, &["```` x".into()]);
        assert!(out.starts_with("`````text\n```` x\n`````\n"), "{out}");
    }
}
