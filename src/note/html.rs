//! The note as one HTML file that needs nothing beside it: pictures inside, no script, and a policy
//! that lets the page load nothing.

use super::certainty::{WORDS, with_number};
use super::lengths::{middle, questions};
use super::markdown::visible;
use super::{
    Block, CAUTIONS, Crops, Cut, Export, MarkNote, Note, NotedPhotograph, SIGNS, Sentence,
    Standing, Transcribed,
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
        let mut out = String::new();
        let title = escape(&note.picture);
        let style = base64(&Sha256::digest(STYLE.as_bytes()));
        let _ = write!(
            out,
            "<!DOCTYPE html>\n<html lang=\"en-GB\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; \
             style-src 'sha256-{style}'; base-uri 'none'; form-action 'none'\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta name=\"referrer\" content=\"no-referrer\">\n\
             <title>{title}: what its back says</title>\n<style>{STYLE}</style>\n</head>\n<body>\n\
             <header>\n<p class=\"kind\">Provenance note</p>\n<h1>{title}: what its back says</h1>\n"
        );
        for s in &note.lead {
            let _ = writeln!(out, "<p>{}</p>", escape(&s.words));
        }
        let (about, words) = CAUTIONS[0];
        let _ = write!(
            out,
            "<p class=\"caution\"><strong>{about}.</strong> {words}</p>\n</header>\n<main>\n"
        );
        out.push_str("<section aria-labelledby=\"short\">\n<h2 id=\"short\">In short</h2>\n");
        if note.short.is_empty() {
            out.push_str("<p>No mark was found on the photographs.</p>\n");
        }
        points(&mut out, &note.short);
        out.push_str("</section>\n");
        backs(&mut out, note, crops);
        if !note.marks.is_empty() {
            out.push_str("<section aria-labelledby=\"marks\">\n<h2 id=\"marks\">The marks</h2>\n");
            for m in &note.marks {
                mark(&mut out, m, crops);
            }
            out.push_str("</section>\n");
        }
        out.push_str("<section aria-labelledby=\"provenance\">\n<h2 id=\"provenance\">Provenance and dates</h2>\n");
        set(&mut out, &middle(note), 3);
        if let Some(chart) = &note.evidence.chart {
            let _ = write!(
                out,
                "<figure class=\"wide chart\" tabindex=\"0\" role=\"region\" aria-label=\"Dates by part\">\n{chart}</figure>\n"
            );
        }
        out.push_str("</section>\n");
        out.push_str(
            "<section aria-labelledby=\"unknown\">\n<h2 id=\"unknown\">What is not known</h2>\n",
        );
        points(&mut out, &note.unknown);
        set(&mut out, &questions(note), 3);
        out.push_str("</section>\n");
        key(&mut out);
        out.push_str(
            "<section aria-labelledby=\"cautions\">\n<h2 id=\"cautions\">Cautions</h2>\n<ul>\n",
        );
        for (title, words) in &CAUTIONS[1..] {
            let _ = writeln!(out, "<li><strong>{title}.</strong> {words}</li>");
        }
        out.push_str("</ul>\n</section>\n");
        record(&mut out, note);
        out.push_str("</main>\n</body>\n</html>\n");
        out
    }
}

/// Blocks as HTML: headings of this level, the title one above.
fn set(out: &mut String, blocks: &[Block], level: usize) {
    for (i, b) in blocks.iter().enumerate() {
        let beside =
            |k: Option<usize>| matches!(k.and_then(|k| blocks.get(k)), Some(Block::Point(_)));
        let _ = match b {
            Block::Title(t) => writeln!(out, "<h{0}>{1}</h{0}>", level - 1, escape(t)),
            Block::Heading(t) => writeln!(out, "<h{level}>{}</h{level}>", escape(t)),
            Block::Paragraph(t) => writeln!(out, "<p>{}</p>", escape(t)),
            Block::Verse(lines) => {
                let lines: Vec<String> = lines.iter().map(|l| escape(l)).collect();
                writeln!(out, "<pre>{}</pre>", lines.join("\n"))
            }
            Block::Point(t) => {
                let first = !beside(i.checked_sub(1));
                let last = !beside(Some(i + 1));
                writeln!(
                    out,
                    "{}<li>{}</li>{}",
                    if first { "<ul>\n" } else { "" },
                    escape(t),
                    if last { "\n</ul>" } else { "" }
                )
            }
        };
    }
}

impl Html {
    /// Blocks as one self-contained file.
    pub fn blocks(title: &str, blocks: &[Block]) -> String {
        let mut out = String::new();
        let style = base64(&Sha256::digest(STYLE.as_bytes()));
        let _ = write!(
            out,
            "<!DOCTYPE html>\n<html lang=\"en-GB\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'sha256-{style}'; base-uri 'none'; form-action 'none'\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n",
            escape(title)
        );
        set(&mut out, blocks, 2);
        out.push_str("</main>\n</body>\n</html>\n");
        out
    }
}

/// The photographs, made smaller, with the marks outlined; the style of a line tells the state.
fn backs(out: &mut String, note: &Note, crops: &Crops) {
    let shown: Vec<(&NotedPhotograph, &Cut)> = note
        .photographs
        .iter()
        .filter(|p| !is_close_up(note, p))
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

/// A photograph with one mark that takes a quarter of it or more shows no more than the mark's own
/// picture does.
fn is_close_up(note: &Note, p: &NotedPhotograph) -> bool {
    let mut own = note.marks.iter().filter(|m| m.at.0 == p.id);
    let whole = f64::from(p.size.0) * f64::from(p.size.1);
    match (own.next(), own.next()) {
        (Some(only), None) => only.at.1.area() * 4.0 >= whole,
        _ => false,
    }
}

fn outlines(out: &mut String, note: &Note, p: &NotedPhotograph) {
    let (w, h) = p.size;
    let _ = writeln!(out, "<svg viewBox=\"0 0 {w} {h}\" aria-hidden=\"true\">");
    let size = w.max(h) / 45;
    for m in note.marks.iter().filter(|m| m.at.0 == p.id) {
        let corners: Vec<String> =
            m.at.1
                .0
                .iter()
                .map(|c| format!("{:.0},{:.0}", c.x, c.y))
                .collect();
        let corners = corners.join(" ");
        let line = match m.standing {
            Standing::Decided => "",
            Standing::Proposed => " dashed",
            Standing::Open => " dotted",
        };
        // Black below white, so that it is seen on light and on dark ground.
        let _ = writeln!(out, "<polygon points=\"{corners}\"/>");
        let _ = writeln!(out, "<polygon class=\"inner{line}\" points=\"{corners}\"/>");
        let b = m.at.1.bounds();
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

fn mark(out: &mut String, m: &MarkNote, crops: &Crops) {
    let id = &m.id;
    let state = match m.standing {
        Standing::Decided => "decided",
        Standing::Proposed => "proposed",
        Standing::Open => "open",
    };
    let _ = write!(
        out,
        "<article class=\"mark\" aria-labelledby=\"m{id}\">\n<h3 id=\"m{id}\">{id} {}</h3>\n\
         <p class=\"kind\">{}</p>\n<p><span class=\"state {state}\">State: {}</span></p>\n<div class=\"beside\">\n",
        m.heading,
        escape(&m.place),
        m.standing.as_str()
    );
    match crops.marks.get(id) {
        Some(Cut::Jpeg {
            bytes,
            width,
            height,
        }) => {
            let _ = writeln!(
                out,
                "<figure><img width=\"{width}\" height=\"{height}\" alt=\"{} {id}, {}\" src=\"data:image/jpeg;base64,{}\"></figure>",
                m.heading,
                escape(&m.place),
                base64(bytes)
            );
        }
        Some(Cut::Missing(why)) => {
            let _ = writeln!(out, "<p>{}</p>", escape(why));
        }
        None => out.push_str("<p>There is no picture of this mark.</p>\n"),
    }
    out.push_str("<div>\n");
    if m.lines.is_empty() {
        out.push_str("<p><strong>As it stands:</strong> nothing was read.</p>\n");
    } else {
        let by = match &m.read_by {
            Some(name) => format!("As it stands, read by {}", escape(name)),
            None => "As it stands, read by the program".into(),
        };
        transcription(out, &m.lines, &by);
        let _ = write!(out, "<h4>Read plainly</h4>\n<p>{}</p>\n", escape(&m.plain));
    }
    if !m.read_before.is_empty() {
        transcription(out, &m.read_before, "The program's own reading");
    }
    out.push_str("</div>\n</div>\n");
    for (title, sentences) in [
        ("Decided by a person", &m.decided),
        ("Proposed by the program", &m.proposed),
        ("Dates of the mark", &m.dates),
        ("Open", &m.open),
    ] {
        if !sentences.is_empty() {
            let _ = writeln!(out, "<h4>{title}</h4>");
            points(out, sentences);
        }
    }
    out.push_str("</article>\n");
}

fn transcription(out: &mut String, lines: &[Transcribed], caption: &str) {
    let chances = lines.iter().any(|l| l.chance.is_some());
    let _ = write!(
        out,
        "<table class=\"lines\">\n<caption>{caption}</caption>\n<thead><tr><th scope=\"col\">Line</th><th scope=\"col\">Words</th>"
    );
    if chances {
        out.push_str("<th scope=\"col\">Right as a whole</th>");
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for (i, l) in lines.iter().enumerate() {
        let _ = write!(
            out,
            "<tr><td>{}</td><td class=\"leiden\">{}</td>",
            i + 1,
            escape(&l.leiden)
        );
        if chances {
            let _ = write!(
                out,
                "<td>{}</td>",
                escape(&l.chance.map(with_number).unwrap_or_default())
            );
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
}

fn key(out: &mut String) {
    out.push_str(
        "<section aria-labelledby=\"key\">\n<h2 id=\"key\">How to read this note</h2>\n\
         <p>What the program proposes carries one of the words below and a number, the chance between 0 and 1 \
         that such a statement is right. What a person decided carries their name and the day.</p>\n\
         <table>\n<caption>Words for chances</caption>\n<thead><tr><th scope=\"col\">Words</th><th scope=\"col\">Chance</th></tr></thead>\n<tbody>\n",
    );
    for (i, (least, words)) in WORDS.iter().enumerate() {
        let range = match i.checked_sub(1).map(|j| WORDS[j].0) {
            None => format!("{least:.2} and more"),
            Some(most) => format!("{least:.2} to below {most:.2}"),
        };
        let _ = writeln!(out, "<tr><td>{words}</td><td>{range}</td></tr>");
    }
    out.push_str(
        "</tbody>\n</table>\n<table>\n<caption>Signs in what the marks say</caption>\n\
         <thead><tr><th scope=\"col\">Sign</th><th scope=\"col\">Meaning</th></tr></thead>\n<tbody>\n",
    );
    for (sign, means) in SIGNS {
        let _ = writeln!(
            out,
            "<tr><td class=\"leiden\">{}</td><td>{means}</td></tr>",
            escape(sign)
        );
    }
    out.push_str("</tbody>\n</table>\n</section>\n");
}

fn record(out: &mut String, note: &Note) {
    out.push_str("<section aria-labelledby=\"record\">\n<h2 id=\"record\">Record</h2>\n");
    if !note.photographs.is_empty() {
        out.push_str(
            "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Photographs\">\n<table>\n<caption>Photographs</caption>\n<thead><tr><th scope=\"col\">File</th>\
             <th scope=\"col\">px</th><th scope=\"col\">SHA-256</th></tr></thead>\n<tbody>\n",
        );
        for p in &note.photographs {
            let (w, h) = p.size;
            let _ = writeln!(
                out,
                "<tr><td>{}</td><td>{w} × {h}</td><td class=\"hash\">{}</td></tr>",
                escape(&p.name),
                escape(&p.sha256)
            );
        }
        out.push_str("</tbody>\n</table>\n</div>\n");
    }
    if note.journal.is_empty() {
        out.push_str("<p>Nothing was decided by a person yet.</p>\n</section>\n");
        return;
    }
    out.push_str("<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Decisions\">\n<table>\n<caption>Decisions, those undone included</caption>\n<thead><tr>");
    for head in ["Decision", "Mark", "Day", "Who", "What", "Why", "Holds"] {
        let _ = write!(out, "<th scope=\"col\">{head}</th>");
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for d in &note.journal {
        out.push_str("<tr>");
        let holds = if d.holds { "yes" } else { "undone" };
        for cell in [&d.id, &d.mark, &d.day, &d.by, &d.what, &d.why, holds] {
            let _ = write!(out, "<td>{}</td>", escape(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n</div>\n</section>\n");
}

fn points(out: &mut String, sentences: &[Sentence]) {
    if sentences.is_empty() {
        return;
    }
    out.push_str("<ul>\n");
    for s in sentences {
        let _ = writeln!(out, "<li>{}</li>", escape(&s.words));
    }
    out.push_str("</ul>\n");
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
