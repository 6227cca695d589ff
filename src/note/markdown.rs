//! The note as Markdown (CommonMark 0.31 with tables). Texts from labels, lists and file names are
//! escaped, so that none is taken for markup.

use super::certainty::{WORDS, with_number};
use super::lengths::{middle, questions};
use super::{Block, CAUTIONS, Crops, Cut, Export, MarkNote, Note, SIGNS, Sentence, Transcribed};
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
        let _ = writeln!(out, "# {}: what its back says\n", escape(&note.picture));
        let _ = writeln!(out, "{}\n", run_on(&note.lead));
        let (title, words) = CAUTIONS[0];
        let _ = writeln!(out, "> **{title}.** {words}\n");
        out.push_str("## In short\n\n");
        if note.short.is_empty() {
            out.push_str("No mark was found on the photographs.\n\n");
        } else {
            points(&mut out, &note.short);
        }
        if !note.marks.is_empty() {
            out.push_str("## The marks\n\n");
        }
        for m in &note.marks {
            self.mark(&mut out, m, crops);
        }
        out.push_str("## Provenance and dates\n\n");
        set(&mut out, &middle(note), 3);
        if let (Some(folder), Some(_)) = (&self.pictures, &note.evidence.chart) {
            let _ = writeln!(out, "![Dates by part of the object]({folder}/dates.svg)\n");
        }
        out.push_str("## What is not known\n\n");
        points(&mut out, &note.unknown);
        set(&mut out, &questions(note), 2);
        key(&mut out);
        out.push_str("## Cautions\n\n");
        for (title, words) in &CAUTIONS[1..] {
            let _ = writeln!(out, "- **{title}.** {words}");
        }
        out.push('\n');
        record(&mut out, note);
        out
    }
}

/// Blocks as Markdown: headings of this level, the title one above.
pub(super) fn set(out: &mut String, blocks: &[Block], level: usize) {
    for (i, b) in blocks.iter().enumerate() {
        let _ = match b {
            Block::Title(t) => writeln!(out, "{} {}\n", "#".repeat(level - 1), escape(t)),
            Block::Heading(t) => writeln!(out, "{} {}\n", "#".repeat(level), escape(t)),
            Block::Paragraph(t) => writeln!(out, "{}\n", escape(t)),
            Block::Verse(lines) => {
                let lines: Vec<String> = lines.iter().map(|l| escape(l)).collect();
                writeln!(out, "> {}\n", lines.join("\\\n> "))
            }
            Block::Point(t) => {
                let last = !matches!(blocks.get(i + 1), Some(Block::Point(_)));
                writeln!(out, "- {}{}", escape(t), if last { "\n" } else { "" })
            }
        };
    }
}

impl Markdown {
    /// Blocks as a file of their own.
    pub fn blocks(blocks: &[Block]) -> String {
        let mut out = String::new();
        set(&mut out, blocks, 2);
        out.trim_end().to_string() + "\n"
    }

    fn mark(&self, out: &mut String, m: &MarkNote, crops: &Crops) {
        let _ = writeln!(out, "### {} {}\n", m.id, m.heading);
        let _ = writeln!(
            out,
            "{}. State: {}.\n",
            escape(&capital(&m.place)),
            m.standing.as_str()
        );
        match (crops.marks.get(&m.id), &self.pictures) {
            (Some(Cut::Jpeg { .. }), Some(folder)) => {
                let _ = writeln!(
                    out,
                    "![{} {}, {}]({folder}/{}.jpg)\n",
                    m.heading,
                    m.id,
                    escape(&m.place),
                    m.id
                );
            }
            (Some(Cut::Missing(why)), _) => {
                let _ = writeln!(out, "{}\n", escape(why));
            }
            _ => {}
        }
        let by = match &m.read_by {
            Some(name) => format!("read by {}", escape(name)),
            None => "read by the program".into(),
        };
        if m.lines.is_empty() {
            out.push_str("**As it stands:** nothing was read.\n\n");
        } else {
            let _ = writeln!(out, "**As it stands** ({by}):\n");
            transcription(out, &m.lines);
            let _ = writeln!(out, "**Read plainly:** {}\n", escape(&m.plain));
        }
        if !m.read_before.is_empty() {
            out.push_str("**The program's own reading:**\n\n");
            transcription(out, &m.read_before);
        }
        for (title, sentences) in [
            ("Decided by a person", &m.decided),
            ("Proposed by the program", &m.proposed),
            ("Dates of the mark", &m.dates),
            ("Open", &m.open),
        ] {
            if !sentences.is_empty() {
                let _ = writeln!(out, "**{title}:**\n");
                points(out, sentences);
            }
        }
    }
}

/// Lines in a fenced block, exactly as they stand, then how surely each is right.
fn transcription(out: &mut String, lines: &[Transcribed]) {
    let longest = lines
        .iter()
        .flat_map(|l| l.leiden.split(|c| c != '`'))
        .map(str::len)
        .max()
        .unwrap_or(0);
    let fence = "`".repeat(longest.max(2) + 1);
    let _ = writeln!(out, "{fence}text");
    for l in lines {
        let _ = writeln!(out, "{}", visible(&l.leiden));
    }
    let _ = writeln!(out, "{fence}\n");
    let chances: Vec<String> = lines
        .iter()
        .enumerate()
        .filter_map(|(i, l)| {
            l.chance
                .map(|p| format!("line {} {}", i + 1, with_number(p)))
        })
        .collect();
    if !chances.is_empty() {
        let _ = writeln!(out, "Right as a whole: {}.\n", chances.join(", "));
    }
}

fn key(out: &mut String) {
    out.push_str("## How to read this note\n\n");
    out.push_str(
        "Chances between 0 and 1 stand for how often such a statement is right. In words:\n\n",
    );
    out.push_str("| Words | Chance |\n|---|---|\n");
    for (i, (least, words)) in WORDS.iter().enumerate() {
        let _ = match i.checked_sub(1).map(|j| WORDS[j].0) {
            None => writeln!(out, "| {words} | {least:.2} and more |"),
            Some(most) => writeln!(out, "| {words} | {least:.2} to below {most:.2} |"),
        };
    }
    out.push_str("\nSigns in what the marks say:\n\n| Sign | Meaning |\n|---|---|\n");
    for (sign, means) in SIGNS {
        let _ = writeln!(out, "| {} | {means} |", escape(sign));
    }
    out.push_str("\nWhat the program proposes carries one of these words and a number. What a person decided carries their name and the day.\n\n");
}

fn record(out: &mut String, note: &Note) {
    out.push_str("## Record\n\n");
    if !note.photographs.is_empty() {
        out.push_str("| Photograph | px | SHA-256 |\n|---|---|---|\n");
        for p in &note.photographs {
            let (w, h) = p.size;
            let _ = writeln!(out, "| {} | {w} × {h} | {} |", escape(&p.name), p.sha256);
        }
        out.push('\n');
    }
    if note.journal.is_empty() {
        out.push_str("Nothing was decided by a person yet.\n");
        return;
    }
    out.push_str(
        "| Decision | Mark | Day | Who | What | Why | Holds |\n|---|---|---|---|---|---|---|\n",
    );
    for d in &note.journal {
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | {} | {} | {} |",
            d.id,
            d.mark,
            d.day,
            escape(&d.by),
            escape(&d.what),
            escape(&d.why),
            if d.holds { "yes" } else { "undone" }
        );
    }
}

fn points(out: &mut String, sentences: &[Sentence]) {
    for s in sentences {
        let _ = writeln!(out, "- {}", escape(&s.words));
    }
    out.push('\n');
}

fn run_on(sentences: &[Sentence]) -> String {
    let words: Vec<String> = sentences.iter().map(|s| escape(&s.words)).collect();
    words.join(" ")
}

fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| {
        c.to_uppercase().collect::<String>() + chars.as_str()
    })
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
        let line = Transcribed {
            leiden: "```` x".into(),
            chance: None,
        };
        transcription(&mut out, &[line]);
        assert!(out.starts_with("`````text\n```` x\n`````\n"), "{out}");
    }
}
