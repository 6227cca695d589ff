//! What an evaluation found, for a person to look at: a reliability diagram (SVG) and the worst
//! cases with their pictures (HTML).

use super::chances::{Bin, Stated, reliability_bins};
use super::evaluate::{BINS, Measured, Summary};
use crate::photograph;
use base64::Engine;
use std::fmt::Write;

/// Longest side of a photograph in the report, px.
const THUMB: u32 = 640;
/// How many of the worst photographs the report shows.
const WORST: usize = 12;

/// Escapes text for HTML and SVG, in content and in quoted attributes.
///
/// ```
/// assert_eq!(dorso::measure::report::escape("<b>&\"'"), "&lt;b&gt;&amp;&quot;&#39;");
/// ```
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
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

/// Reliability diagram: chance stated across, share that came true up, with the 95% interval and
/// the count of each bin. On the diagonal a chance keeps its promise.
pub fn reliability_svg(stated: &[Stated], title: &str) -> String {
    const SIDE: f64 = 360.0;
    const LEFT: f64 = 64.0;
    const TOP: f64 = 48.0;
    let x = |p: f64| LEFT + p * SIDE;
    let y = |p: f64| TOP + (1.0 - p) * SIDE;
    let mut s = String::new();
    let _ = writeln!(
        s,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 470 480\" role=\"img\" \
         font-family=\"Georgia, serif\" font-size=\"14\">\n<title>{0}</title>\n\
         <rect width=\"470\" height=\"480\" fill=\"#fdfcf8\"/>\n\
         <text x=\"{LEFT}\" y=\"28\" font-size=\"17\">{0}</text>",
        escape(title)
    );
    for i in 0..=5 {
        let p = f64::from(i) / 5.0;
        let _ = writeln!(
            s,
            "<path d=\"M{LEFT} {0:.1}H{1:.1}M{2:.1} {TOP}V{3:.1}\" stroke=\"#d9d4c6\"/>\
             <text x=\"56\" y=\"{4:.1}\" text-anchor=\"end\">{p:.1}</text>\
             <text x=\"{2:.1}\" y=\"428\" text-anchor=\"middle\">{p:.1}</text>",
            y(p),
            LEFT + SIDE,
            x(p),
            TOP + SIDE,
            y(p) + 5.0,
        );
    }
    let _ = writeln!(
        s,
        "<path d=\"M{} {}L{} {}\" stroke=\"#555\" stroke-dasharray=\"6 5\"/>\n\
         <text x=\"{}\" y=\"456\" text-anchor=\"middle\">chance stated</text>\n\
         <text transform=\"translate(20 {}) rotate(-90)\" text-anchor=\"middle\">share that was right</text>",
        x(0.0),
        y(0.0),
        x(1.0),
        y(1.0),
        LEFT + SIDE / 2.0,
        TOP + SIDE / 2.0
    );
    let bins = reliability_bins(stated, BINS);
    for b in &bins {
        dot(&mut s, b, x(b.stated), &y);
    }
    if bins.is_empty() {
        let _ = writeln!(
            s,
            "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">nothing was stated</text>",
            x(0.5),
            y(0.5)
        );
    }
    s.push_str("</svg>\n");
    s
}

/// Two reliability diagrams side by side, before and after something was learnt.
pub fn before_and_after_svg(before: &[Stated], after: &[Stated]) -> String {
    let place = |x: usize, diagram: String| {
        let place = format!("<svg x=\"{x}\" width=\"470\" height=\"480\" ");
        diagram.replacen("<svg ", &place, 1)
    };
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 940 480\">\n{}{}</svg>\n",
        place(0, reliability_svg(before, "Before")),
        place(470, reliability_svg(after, "After"))
    )
}

fn dot(s: &mut String, b: &Bin, cx: f64, y: &dyn Fn(f64) -> f64) {
    let _ = writeln!(
        s,
        "<path d=\"M{cx:.1} {0:.1}V{1:.1}M{2:.1} {0:.1}h8M{2:.1} {1:.1}h8\" stroke=\"#1f3a5f\" stroke-width=\"1.6\"/>\
         <circle cx=\"{cx:.1}\" cy=\"{3:.1}\" r=\"5\" fill=\"#1f3a5f\"/>\
         <text x=\"{4:.1}\" y=\"{5:.1}\" font-size=\"12\">n={6}</text>",
        y(b.interval.1),
        y(b.interval.0),
        cx - 4.0,
        y(b.came_true),
        cx + 8.0,
        y(b.came_true) - 6.0,
        b.count
    );
}

/// A figure with three places, or words where there is none.
pub fn figure(value: Option<f64>) -> String {
    value.map_or("not measured".into(), |v| format!("{v:.3}"))
}

/// The report: figures, diagram, and the worst photographs beside what was true and read.
pub fn html(summary: &Summary, all: &[Measured]) -> String {
    let mut s = String::from(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width\">\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\
         <title>How well the program read</title><style>\
         :root{color-scheme:light dark}body{font:18px/1.5 Georgia,serif;max-width:72rem;margin:2rem auto;padding:0 1rem}\
         table{border-collapse:collapse}td,th{border:1px solid #8886;padding:.3rem .6rem;text-align:left;vertical-align:top}\
         img{max-width:100%;height:auto}section{border-top:2px solid #8886;margin-top:2rem;padding-top:1rem;\
         display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);gap:1rem}h2{grid-column:1/-1}\
         .miss{font-weight:bold}svg{max-width:30rem}@media(max-width:50rem){section{grid-template-columns:1fr}}\
         </style></head><body>\n<h1>How well the program read</h1>\n<table>\n",
    );
    let luck = |pick: fn((f64, f64)) -> f64| figure(summary.ece_by_luck.map(pick));
    let rows: [(&str, String); 14] = [
        ("Photographs", summary.images.to_string()),
        ("Character error rate (lines paired)", figure(summary.cer)),
        ("Word error rate (lines paired)", figure(summary.wer)),
        (
            "Character error rate, whole text in order",
            figure(summary.cer_in_order),
        ),
        ("Words found (F1)", figure(summary.word_f1)),
        ("True entry or “on none” first", figure(summary.top1)),
        ("… among the first three", figure(summary.top3)),
        ("Mean reciprocal rank", figure(summary.mrr)),
        (
            "Listed marks with the true entry first",
            figure(summary.listed_first),
        ),
        (
            "Unlisted marks with “on none” first",
            figure(summary.unlisted_first),
        ),
        ("Brier score", figure(summary.brier)),
        ("Expected calibration error", figure(summary.ece)),
        ("… by luck alone, of chances that are right", luck(|l| l.0)),
        ("… under which luck stays 19 times in 20", luck(|l| l.1)),
    ];
    for (name, value) in rows {
        let _ = writeln!(s, "<tr><th scope=\"row\">{name}</th><td>{value}</td></tr>");
    }
    let _ = write!(
        s,
        "</table>\n{}",
        reliability_svg(&summary.stated, "Do the chances keep their promise?")
    );
    s.push_str("<h1>The worst, first</h1>\n");
    let mut order: Vec<&Measured> = all.iter().collect();
    order.sort_by(|a, b| cost(b).total_cmp(&cost(a)));
    for m in order.into_iter().take(WORST) {
        worst_case(&mut s, m);
    }
    s.push_str("</body></html>\n");
    s
}

fn cost(m: &Measured) -> f64 {
    let missed = m.answers.iter().filter(|a| a.rank != Some(1)).count();
    m.characters.rate() + missed as f64
}

fn worst_case(s: &mut String, m: &Measured) {
    let name = m
        .known
        .file
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let _ = write!(
        s,
        "<section><h2>{} — character errors {} of {} ({:.3})</h2>\n<div>",
        escape(&name),
        m.characters.errors(),
        m.characters.length,
        m.characters.rate()
    );
    match thumb(m) {
        Some(data) => {
            let _ = write!(
                s,
                "<img alt=\"photograph {}\" src=\"data:image/jpeg;base64,{data}\">",
                escape(&name)
            );
        }
        None => s.push_str("<p>The photograph can't be shown.</p>"),
    }
    s.push_str("</div><div>");
    if let Some(fault) = &m.fault {
        let _ = write!(s, "<p class=\"miss\">{}</p>", escape(fault));
    }
    s.push_str("<table><tr><th>true line</th><th>read as</th></tr>\n");
    let pairs = super::text::pair_lines(&m.known.lines, &m.read);
    let mut free = vec![true; m.read.len()];
    for (truth, pair) in m.known.lines.iter().zip(pairs) {
        let read = pair.map_or("—", |j| {
            free[j] = false;
            m.read[j].as_str()
        });
        let _ = writeln!(
            s,
            "<tr><td>{}</td><td{}>{}</td></tr>",
            escape(truth),
            if truth == read { "" } else { " class=\"miss\"" },
            escape(read)
        );
    }
    for (read, _) in m.read.iter().zip(&free).filter(|(_, f)| **f) {
        let _ = writeln!(
            s,
            "<tr><td>—</td><td class=\"miss\">{}</td></tr>",
            escape(read)
        );
    }
    s.push_str("</table>");
    for a in &m.answers {
        let truth = if a.named.entry.is_empty() {
            "on none of the lists".to_string()
        } else {
            format!("{}/{}", a.named.list, a.named.entry)
        };
        let chance = a
            .stated
            .map_or(String::new(), |c| format!(" at {:.2}", c.chance));
        let _ = writeln!(
            s,
            "<p{}>Truth: {}. First: {}{chance}.</p>",
            if a.rank == Some(1) {
                ""
            } else {
                " class=\"miss\""
            },
            escape(&truth),
            escape(&a.first)
        );
    }
    s.push_str("</div></section>\n");
}

fn thumb(m: &Measured) -> Option<String> {
    let photo = photograph::open(&m.known.file).ok()?;
    let small = image::DynamicImage::ImageRgb8(photo.picture).thumbnail(THUMB, THUMB);
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 75)
        .encode_image(&small)
        .ok()?;
    Some(base64::engine::general_purpose::STANDARD.encode(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_diagram_shows_each_bin_with_its_count_and_is_well_formed() {
        let stated: Vec<Stated> = (0..20)
            .map(|i| Stated {
                chance: if i < 10 { 0.85 } else { 0.25 },
                right: i % 3 == 0,
            })
            .collect();
        let svg = reliability_svg(&stated, "Lists & <marks>");
        assert_eq!(svg.matches("n=10").count(), 2);
        assert!(svg.contains("Lists &amp; &lt;marks&gt;"));
        assert_eq!(svg.matches("<circle").count(), 2);
        assert!(svg.trim_end().ends_with("</svg>"));
        let both = before_and_after_svg(&stated, &stated);
        assert_eq!(both.matches("n=10").count(), 4);
        assert_eq!(
            both.matches("<svg ").count(),
            both.matches("</svg>").count()
        );
    }
}
