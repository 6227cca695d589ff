//! The contact sheet: all pictures of a run side by side, as one plain HTML page.

/// What the page shows.
#[derive(Debug)]
pub struct Sheet<'a> {
    /// Name of the photograph.
    pub photograph: &'a str,
    /// Width and height of the photograph, px.
    pub size: (u32, u32),
    /// File name of the small picture of the whole.
    pub overview: &'a str,
    /// Name and corners of each mark, px of the photograph.
    pub outlines: &'a [(String, [(f64, f64); 4])],
    /// One block for each crop.
    pub blocks: &'a [Block],
}

/// The pictures of one crop.
#[derive(Debug, Clone)]
pub struct Block {
    /// Heading.
    pub title: String,
    /// Name of the variant that is read where no person chose, if they compete: that which was read most
    /// clearly, where the mark was read before, else the first.
    pub best: Option<String>,
    /// Whether the mark was read before.
    pub was_read: bool,
    /// Name of the variant that a person chose, if they did.
    pub chosen: Option<String>,
    /// Which is read first and why, and how to choose another; one paragraph each.
    pub words: Vec<String>,
    /// The pictures in order.
    pub shown: Vec<Shown>,
}

/// A picture on the sheet.
#[derive(Debug, Clone)]
pub struct Shown {
    /// Short name.
    pub name: String,
    /// File, relative to the page.
    pub file: String,
    /// What was done to it.
    pub done: String,
    /// Width and height, px.
    pub size: (u32, u32),
}

const STYLE: &str = "\
:root{color-scheme:light dark;--line:#8886;--mark:#b3261e}\
@media(prefers-color-scheme:dark){:root{--mark:#ff8a80}}\
body{font:16px/1.45 system-ui,sans-serif;margin:1.5rem auto;max-width:76rem;padding:0 1rem}\
h2{margin-top:2.5rem;border-top:1px solid var(--line);padding-top:1rem}\
.whole{position:relative;max-width:44rem}.whole img,.whole svg{width:100%;display:block}\
.whole svg{position:absolute;inset:0;height:100%}\
polygon{fill:none;stroke:var(--mark);stroke-width:2;vector-effect:non-scaling-stroke}\
text{fill:#fff;stroke:#000;stroke-width:.25em;paint-order:stroke;font-weight:600}\
.row{display:grid;gap:1rem;grid-template-columns:repeat(auto-fill,minmax(20rem,1fr))}\
figure{margin:0;border:1px solid var(--line);padding:.6rem}\
figure.best{border:3px dashed var(--mark);padding:calc(.6rem - 2px)}\
figure.chosen{border:3px solid var(--mark);padding:calc(.6rem - 2px)}\
figure img{max-width:100%;max-height:26rem;display:block;margin:0 auto;background:#fff}\
figcaption{margin-top:.5rem;overflow-wrap:anywhere}";

/// The page. Every text is escaped; pictures are named relative to the page; nothing is loaded
/// from elsewhere and no script runs.
pub fn page(sheet: &Sheet) -> String {
    let name = escaped(sheet.photograph);
    let (w, h) = sheet.size;
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Cleaned pictures of {name}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n\
         <h1>Cleaned pictures of {name}</h1>\n\
         <p>{w} × {h} pixels. The photograph itself was not altered. These pictures are for \
         looking and reading; they are no evidence of what the surface looks like.</p>\n\
         <div class=\"whole\"><img src=\"{}\" alt=\"The whole photograph, with {} outlined\">\n\
         <svg viewBox=\"0 0 {w} {h}\" preserveAspectRatio=\"none\" aria-hidden=\"true\">\n",
        escaped(sheet.overview),
        match sheet.outlines.len() {
            0 => "no mark".into(),
            1 => "1 mark".into(),
            n => format!("{n} marks"),
        }
    );
    let size = w.max(h) / 40;
    for (mark, corners) in sheet.outlines {
        let points: Vec<String> = corners
            .iter()
            .map(|(x, y)| format!("{x:.0},{y:.0}"))
            .collect();
        let left = corners.iter().map(|c| c.0).fold(f64::INFINITY, f64::min);
        let top = corners.iter().map(|c| c.1).fold(f64::INFINITY, f64::min);
        out += &format!(
            "<polygon points=\"{}\"/><text x=\"{left:.0}\" y=\"{:.0}\" font-size=\"{size}\">{}</text>\n",
            points.join(" "),
            (top - f64::from(size) / 4.0).max(f64::from(size)),
            escaped(mark)
        );
    }
    out += "</svg></div>\n";
    for block in sheet.blocks {
        out += &format!("<h2>{}</h2>\n", escaped(&block.title));
        for words in &block.words {
            out += &format!("<p>{}</p>\n", escaped(words));
        }
        out += "<div class=\"row\">\n";
        for shown in &block.shown {
            let best = block.best.as_ref() == Some(&shown.name);
            let chosen = block.chosen.as_ref() == Some(&shown.name);
            let why = match block.was_read {
                true => "read most clearly",
                false => "first in the usual order",
            };
            let (class, said) = match (chosen, best) {
                (true, true) => (" class=\"chosen\"", format!(", chosen, and {why}:")),
                (true, false) => (" class=\"chosen\"", ", chosen:".into()),
                (false, true) => (" class=\"best\"", format!(", {why}:")),
                (false, false) => ("", ":".into()),
            };
            out += &format!(
                "<figure{class}><a href=\"{file}\"><img src=\"{file}\" width=\"{}\" height=\"{}\" \
                 style=\"height:auto\" loading=\"lazy\" alt=\"{title}: {name}\"></a>\n\
                 <figcaption><strong>{name}</strong>{said} {}</figcaption></figure>\n",
                shown.size.0,
                shown.size.1,
                escaped(&shown.done),
                file = escaped(&shown.file),
                name = escaped(&shown.name),
                title = escaped(&block.title),
            );
        }
        out += "</div>\n";
    }
    out + "</body>\n</html>\n"
}

/// Text for HTML, in elements and in quoted attributes.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out += "&amp;",
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '"' => out += "&quot;",
            '\'' => out += "&#39;",
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_is_escaped_and_the_best_is_marked_once() {
        let evil = "<script>\"'&";
        let shown = |name: &str| Shown {
            name: name.into(),
            file: format!("{evil}.png"),
            done: evil.into(),
            size: (10, 10),
        };
        let page = page(&Sheet {
            photograph: evil,
            size: (100, 80),
            overview: evil,
            outlines: &[(
                evil.into(),
                [(0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0)],
            )],
            blocks: &[Block {
                title: evil.into(),
                best: Some("flat".into()),
                was_read: true,
                chosen: Some("grey".into()),
                words: vec![evil.into()],
                shown: vec![shown("flat"), shown("grey"), shown("threshold")],
            }],
        });
        assert!(
            !page.contains("<script") && !page.contains("\"'&"),
            "{page}"
        );
        assert_eq!(page.matches("class=\"best\"").count(), 1);
        assert!(page.contains("<strong>flat</strong>, read most clearly:"));
        assert_eq!(page.matches("class=\"chosen\"").count(), 1);
        assert_eq!(page.matches("<strong>grey</strong>, chosen:").count(), 1);
    }
}
