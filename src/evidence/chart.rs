//! A chart of all intervals by part, as SVG.
//!
//! What colour tells is told by line styles and words too: a person's decision is a full line, the
//! program's a dashed one, an interval that rests on memory has dots beneath; an end without a
//! limit has an arrow.

use super::{Back, Dated, Solved, Years};
use crate::decisions::{Bearer, two};
use std::fmt::Write as _;

const LEFT: f64 = 250.0;
const WIDTH: f64 = 620.0;
const ROW: f64 = 30.0;
const TOP: f64 = 46.0;

/// One bar of the chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Label at its left.
    pub label: String,
    /// What it spans.
    pub years: Years,
    /// Chance of it.
    pub chance: f64,
    /// A part (thick) or a mark (thin, set in).
    pub part: bool,
    /// All that it rests on was decided by a person.
    pub by_person: bool,
    /// A source of it is set down from memory.
    pub memory: bool,
    /// Other intervals with their chances.
    pub rivals: Vec<(Years, f64)>,
}

fn bars(back: &Back, solved: &Solved) -> Vec<Bar> {
    let bar = |label: String, d: &Dated, part: bool| {
        let rests = || back.marks.iter().filter(|m| d.rests_on.contains(&m.id));
        let decided = |m: &super::Mark| m.claims.iter().any(|c| c.by_person);
        Bar {
            label,
            years: d.years,
            chance: d.chance,
            part,
            by_person: rests().next().is_some() && rests().all(decided) && d.proposed.is_empty(),
            memory: rests()
                .flat_map(|m| &m.claims)
                .any(|c| c.source.contains("memory")),
            rivals: d.rivals.clone(),
        }
    };
    let of = |id: &str| solved.marks.iter().find(|m| m.0 == id).map(|m| &m.1);
    let mut out = Vec::new();
    for b in Bearer::ALL {
        let dated = solved.parts.iter().find(|p| p.0 == b).map(|p| &p.1);
        if let Some(d) = dated {
            out.push(bar(b.as_str().to_string(), d, true));
        }
        for m in back.marks.iter().filter(|m| m.bearer == Some(b)) {
            if let Some(d) = of(&m.id) {
                let over = m
                    .bridges
                    .map(|o| format!(", over {} too", o.as_str()))
                    .unwrap_or_default();
                out.push(bar(format!("{}{over}", m.name), d, false));
            }
        }
    }
    for m in back.marks.iter().filter(|m| m.bearer.is_none()) {
        if let Some(d) = of(&m.id) {
            out.push(bar(format!("{} (part not told)", m.name), d, false));
        }
    }
    out
}

/// The chart; `None` if nothing is dated.
pub fn chart(back: &Back, solved: &Solved) -> Option<String> {
    let bars = bars(back, solved);
    let limits = bars.iter().flat_map(|b| {
        let rivals = b.rivals.iter().map(|r| r.0);
        rivals
            .chain([b.years])
            .flat_map(|y| [y.from, y.to])
            .flatten()
    });
    let (first, last) = limits.fold((i32::MAX, i32::MIN), |(a, b), y| (a.min(y), b.max(y)));
    if first > last {
        return None;
    }
    let step = match last - first {
        0..=60 => 10,
        61..=150 => 20,
        _ => 50,
    };
    let first = (first - 8).div_euclid(step) * step;
    let last = (last + 8).div_euclid(step) * step + step;
    let x = |year: i32| LEFT + WIDTH * f64::from(year - first) / f64::from(last - first);
    let height = TOP + ROW * bars.len() as f64 + 34.0;
    let whole = LEFT + WIDTH + 150.0;
    let mut out = String::new();
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {whole:.0} {height:.0}\" width=\"{whole:.0}\" height=\"{height:.0}\" role=\"img\" aria-labelledby=\"dates-title\" aria-describedby=\"dates-text\" font-family=\"sans-serif\" font-size=\"13\">\n\
         <title id=\"dates-title\">Dates by part of the object</title>\n\
         <desc id=\"dates-text\">{}</desc>\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
        escaped(&told(&bars))
    );
    let floor = TOP + ROW * bars.len() as f64;
    let mut year = first;
    while year <= last {
        let _ = writeln!(
            out,
            "<line x1=\"{0:.1}\" x2=\"{0:.1}\" y1=\"{1:.1}\" y2=\"{floor:.1}\" stroke=\"#ccc\"/><text x=\"{0:.1}\" y=\"{2:.1}\" text-anchor=\"middle\" fill=\"#333\">{year}</text>",
            x(year),
            TOP - 8.0,
            TOP - 14.0
        );
        year += step;
    }
    for (i, b) in bars.iter().enumerate() {
        let y = TOP + ROW * (i as f64 + 0.5);
        let (weight, indent) = if b.part {
            ("bold", 8.0)
        } else {
            ("normal", 22.0)
        };
        let _ = writeln!(
            out,
            "<text x=\"{indent}\" y=\"{:.1}\" font-weight=\"{weight}\" fill=\"#111\">{}</text>",
            y + 4.0,
            escaped(&short(&b.label))
        );
        for (r, p) in &b.rivals {
            let ends = (x(r.from.unwrap_or(first)), x(r.to.unwrap_or(last)));
            let _ = writeln!(
                out,
                "<line x1=\"{:.1}\" x2=\"{:.1}\" y1=\"{2:.1}\" y2=\"{2:.1}\" stroke=\"#666\" stroke-width=\"1.5\" stroke-dasharray=\"1 4\"><title>{3}</title></line>",
                ends.0,
                ends.1.max(ends.0 + 3.0),
                y + 8.0,
                escaped(&format!("{} or {} ({})", b.label, r.words(), two(*p)))
            );
        }
        if b.years == Years::OPEN {
            continue;
        }
        let (from, to) = (
            x(b.years.from.unwrap_or(first)),
            x(b.years.to.unwrap_or(last)),
        );
        let to = to.max(from + 3.0);
        let thick = if b.part { 9.0 } else { 4.0 };
        let dash = if b.by_person {
            ""
        } else {
            " stroke-dasharray=\"9 4\""
        };
        let _ = writeln!(
            out,
            "<line x1=\"{from:.1}\" x2=\"{to:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\" stroke=\"#1d4e89\" stroke-width=\"{thick}\"{dash}/>"
        );
        if b.years.from.is_none() {
            let _ = writeln!(
                out,
                "<path d=\"M{:.1} {y:.1} l10 -6 v12 z\" fill=\"#1d4e89\"/>",
                from - 10.0
            );
        }
        if b.years.to.is_none() {
            let _ = writeln!(
                out,
                "<path d=\"M{:.1} {y:.1} l-10 -6 v12 z\" fill=\"#1d4e89\"/>",
                to + 10.0
            );
        }
        if b.memory {
            let _ = writeln!(
                out,
                "<line x1=\"{from:.1}\" x2=\"{to:.1}\" y1=\"{0:.1}\" y2=\"{0:.1}\" stroke=\"#1d4e89\" stroke-width=\"2\" stroke-dasharray=\"2 5\"/>",
                y + 7.5
            );
        }
        let _ = writeln!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\" fill=\"#111\">{} ({})</text>",
            LEFT + WIDTH + 14.0,
            y + 4.0,
            escaped(&b.years.words()),
            two(b.chance)
        );
    }
    let _ = write!(
        out,
        "<text x=\"8\" y=\"{:.1}\" fill=\"#333\" font-size=\"12\">Full line: by decision of a person. Dashed: proposed. Dots beneath: rests on memory. Thin dots: another reading. Arrow: no limit. In brackets the chance.</text>\n</svg>\n",
        floor + 24.0
    );
    Some(out)
}

/// The chart in words, for those who don't see it.
fn told(bars: &[Bar]) -> String {
    let all: Vec<String> = bars
        .iter()
        .map(|b| format!("{}: {}, chance {}", b.label, b.years.words(), two(b.chance)))
        .collect();
    all.join("; ") + "."
}

fn short(label: &str) -> String {
    if label.chars().count() > 34 {
        label.chars().take(33).chain(['…']).collect()
    } else {
        label.to_string()
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
