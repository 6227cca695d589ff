//! The note as one HTML file that needs nothing beside it: pictures inside, no script, and a policy
//! that lets the page load nothing.

use super::markdown::visible;
use super::plan;
use super::{
    Block, Crops, Cut, Export, Language, Length, Note, NotedPhotograph, Shown, Standing, blocks,
};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

const STYLE: &str = include_str!("style.css");

/// One self-contained HTML file.
#[derive(Debug, Clone, Default)]
pub struct Html;

impl Export for Html {
    fn extension(&self) -> &'static str {
        "html"
    }

    fn text(&self, note: &Note, crops: &Crops) -> String {
        let title = format!("{}: what its back says", note.picture);
        let pictures = Some((note, crops));
        whole(
            note.entry.language,
            &title,
            &blocks(note, Length::File),
            pictures,
        )
    }
}

impl Html {
    /// Blocks as one self-contained file, without pictures.
    pub fn blocks(language: Language, title: &str, blocks: &[Block]) -> String {
        whole(language, title, blocks, None)
    }
}

type Pictures<'a> = Option<(&'a Note, &'a Crops)>;

fn whole(language: Language, title: &str, blocks: &[Block], pictures: Pictures) -> String {
    let mut out = String::new();
    let style = base64(&Sha256::digest(STYLE.as_bytes()));
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; \
         style-src 'sha256-{style}'; base-uri 'none'; form-action 'none'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"referrer\" content=\"no-referrer\">\n\
         <title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n",
        language.as_str(),
        escape(title)
    );
    let mut page = Page {
        out,
        pictures,
        open: Vec::new(),
        sections: 0,
    };
    page.set(blocks);
    page.close(0);
    page.out + "</main>\n</body>\n</html>\n"
}

/// A page as it is set.
struct Page<'a> {
    out: String,
    pictures: Pictures<'a>,
    /// Closing tags of what is open.
    open: Vec<&'static str>,
    sections: usize,
}

impl Page<'_> {
    /// Closes all but so many of what is open.
    fn close(&mut self, left: usize) {
        while self.open.len() > left {
            let tag = self.open.pop().unwrap_or_default();
            self.out += tag;
        }
    }

    fn set(&mut self, blocks: &[Block]) {
        for (i, b) in blocks.iter().enumerate() {
            let point =
                |k: Option<usize>| matches!(k.and_then(|k| blocks.get(k)), Some(Block::Point(_)));
            match b {
                Block::Title(t) => self.line("h1", t),
                Block::Heading(t) => {
                    self.close(0);
                    self.sections += 1;
                    let n = self.sections;
                    let _ = writeln!(
                        self.out,
                        "<section aria-labelledby=\"s{n}\">\n<h2 id=\"s{n}\">{}</h2>",
                        escape(t)
                    );
                    self.open.push("</section>\n");
                }
                Block::Subheading(t) => {
                    self.close(1);
                    let id: String = t.chars().take_while(|c| c.is_alphanumeric()).collect();
                    let _ = writeln!(
                        self.out,
                        "<article class=\"mark\" aria-labelledby=\"m{id}\">\n<h3 id=\"m{id}\">{}</h3>",
                        escape(t)
                    );
                    self.open.push("</article>\n");
                }
                Block::Paragraph(t) => self.line("p", t),
                Block::Verse(lines) => {
                    let lines: Vec<String> = lines.iter().map(|l| escape(l)).collect();
                    let _ = writeln!(
                        self.out,
                        "<p class=\"leiden\">{}</p>",
                        lines.join("<br/>\n")
                    );
                }
                Block::Point(t) => {
                    let start = if point(i.checked_sub(1)) {
                        ""
                    } else {
                        "<ul>\n"
                    };
                    let end = if point(Some(i + 1)) { "" } else { "</ul>\n" };
                    let _ = write!(self.out, "{start}<li>{}</li>\n{end}", escape(t));
                }
                Block::Table {
                    caption,
                    heads,
                    rows,
                } => self.table(caption, heads, rows),
                Block::Picture(shown) => self.picture(shown),
                Block::More { summary, blocks } => {
                    let _ = writeln!(
                        self.out,
                        "<details>\n<summary>{}</summary>",
                        escape(summary)
                    );
                    self.set(blocks);
                    self.out += "</details>\n";
                }
            }
        }
    }

    fn line(&mut self, tag: &str, text: &str) {
        let _ = writeln!(self.out, "<{tag}>{}</{tag}>", escape(text));
    }

    fn table(&mut self, caption: &str, heads: &[&str], rows: &[Vec<String>]) {
        let out = &mut self.out;
        let _ = write!(
            out,
            "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{0}\">\n<table>\n<caption>{0}</caption>\n<thead><tr>",
            escape(caption)
        );
        for head in heads {
            let _ = write!(out, "<th scope=\"col\">{head}</th>");
        }
        out.push_str("</tr></thead>\n<tbody>\n");
        for row in rows {
            out.push_str("<tr>");
            for (cell, head) in row.iter().zip(heads) {
                let class = match *head {
                    "SHA-256" => " class=\"hash\"",
                    "Words" | "Sign" => " class=\"leiden\"",
                    _ => "",
                };
                let _ = write!(out, "<td{class}>{}</td>", escape(cell));
            }
            out.push_str("</tr>\n");
        }
        out.push_str("</tbody>\n</table>\n</div>\n");
    }

    fn picture(&mut self, shown: &Shown) {
        let Some((note, crops)) = self.pictures else {
            return;
        };
        match shown {
            Shown::Backs => backs(&mut self.out, note, crops),
            Shown::Chart => {
                if let Some(chart) = &note.evidence.chart {
                    let _ = write!(
                        self.out,
                        "<figure class=\"wide chart\" tabindex=\"0\" role=\"region\" aria-label=\"Dates by part\">\n{chart}</figure>\n"
                    );
                }
            }
            Shown::Mark(id) => {
                let Some(m) = note.marks.iter().find(|m| m.id == *id) else {
                    return;
                };
                match crops.marks.get(id) {
                    Some(Cut::Jpeg {
                        bytes,
                        width,
                        height,
                    }) => {
                        let _ = writeln!(
                            self.out,
                            "<figure><img width=\"{width}\" height=\"{height}\" alt=\"{} {id}, {}\" src=\"data:image/jpeg;base64,{}\"></figure>",
                            m.heading,
                            escape(&m.place),
                            base64(bytes)
                        );
                    }
                    Some(Cut::Missing(why)) => self.line("p", why),
                    None => self.line("p", "There is no picture of this mark."),
                }
            }
        }
    }
}

/// The photographs, made smaller, with the marks outlined; the style of a line tells the state.
fn backs(out: &mut String, note: &Note, crops: &Crops) {
    let shown: Vec<(&NotedPhotograph, &Cut)> = plan::shown(note)
        .into_iter()
        .filter_map(|p| crops.backs.get(&p.id).map(|c| (p, c)))
        .collect();
    if shown.is_empty() {
        return;
    }
    out.push_str("<section aria-labelledby=\"back\">\n<h2 id=\"back\">The back</h2>\n");
    out.push_str("<p>Outlines: a full line is decided by a person, a dashed one proposed by the program, a dotted one open.</p>\n");
    for (p, cut) in shown {
        match cut {
            Cut::Missing(why) => {
                let _ = writeln!(out, "<p>{}</p>", escape(why));
            }
            Cut::Jpeg {
                bytes,
                width,
                height,
            } => {
                let name = escape(&p.name);
                let _ = write!(
                    out,
                    "<figure>\n<div class=\"back\">\n<img width=\"{width}\" height=\"{height}\" \
                     alt=\"Photograph {name} with its marks outlined\" src=\"data:image/jpeg;base64,{}\">\n",
                    base64(bytes)
                );
                outlines(out, note, p);
                let _ = write!(out, "</div>\n<figcaption>{name}</figcaption>\n</figure>\n");
            }
        }
    }
    out.push_str("</section>\n");
}

fn outlines(out: &mut String, note: &Note, p: &NotedPhotograph) {
    let (w, h) = p.size;
    let _ = writeln!(out, "<svg viewBox=\"0 0 {w} {h}\" aria-hidden=\"true\">");
    let size = w.max(h) / 45;
    let own = note.marks.iter();
    for (m, at) in own.filter_map(|m| Some((m, m.on_photograph(p.id)?))) {
        let on = at.0.iter();
        let corners: Vec<String> = on.map(|c| format!("{:.0},{:.0}", c.x, c.y)).collect();
        let corners = corners.join(" ");
        let line = match m.standing {
            Standing::Decided => "",
            Standing::Proposed => " dashed",
            Standing::Open => " dotted",
        };
        // Black below white, so that it is seen on light and on dark ground.
        let _ = writeln!(out, "<polygon points=\"{corners}\"/>");
        let _ = writeln!(out, "<polygon class=\"inner{line}\" points=\"{corners}\"/>");
        let b = at.bounds();
        let (x, y) = (b.x.max(0), (b.y - size as i32 / 4).max(size as i32));
        let _ = writeln!(
            out,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" stroke-width=\"{}\">{}</text>",
            (size / 5).max(1),
            m.id
        );
    }
    out.push_str("</svg>\n");
}

/// Text that HTML shows as it is, in an element and in a quoted attribute.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in visible(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// Base 64 with padding (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let all = three.iter().fold(0u32, |n, b| n << 8 | u32::from(*b)) << (8 * (3 - three.len()));
        for i in 0..4 {
            if i <= three.len() {
                out.push(SIGNS[(all >> (18 - 6 * i) & 63) as usize] as char);
            } else {
                out.push('=');
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base_64_is_that_of_rfc_4648() {
        // Test vectors of RFC 4648, section 10.
        for (text, code) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(text.as_bytes()), code);
        }
    }

    #[test]
    fn nothing_on_a_label_leaves_its_place_in_the_page() {
        assert_eq!(
            escape("\"><script>alert('x')</script>&"),
            "&quot;&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;"
        );
    }
}
