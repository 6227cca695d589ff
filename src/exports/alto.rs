//! ALTO 4.2: lines, words and signs with confidences, one file a photograph.
//!
//! Source: *ALTO XML schema 4.2*, Library of Congress. `WC` is a chance, 1 sure; `CC` runs the other
//! way, one figure a sign, 0 sure and 9 unsure. Where words stand within their line isn't known
//! exactly: their width is shared by number of signs.

use super::xml::text;
use super::{Export, File, Subject, marks};
use crate::error::Result;
use crate::readings::{Character, Line};
use std::fmt::Write as _;

pub(super) struct Alto;

impl Export for Alto {
    fn name(&self) -> &'static str {
        "alto"
    }

    fn about(&self) -> &'static str {
        "ALTO 4.2: lines and words as the program read them, with confidences; one file a photograph"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        Ok(s.picture
            .photographs
            .iter()
            .map(|p| File::text(format!("{}.alto.xml", p.id), page(s, p)))
            .collect())
    }
}

fn page(s: &Subject, p: &crate::decisions::KeptPhotograph) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = write!(
        out,
        "<alto xmlns=\"http://www.loc.gov/standards/alto/ns-v4#\">\n<Description>\n<MeasurementUnit>pixel</MeasurementUnit>\n\
         <sourceImageInformation><fileName>{0}</fileName></sourceImageInformation>\n</Description>\n<Layout>\n\
         <Page ID=\"page-{1}\" PHYSICAL_IMG_NR=\"1\" WIDTH=\"{2}\" HEIGHT=\"{3}\">\n\
         <PrintSpace HPOS=\"0\" VPOS=\"0\" WIDTH=\"{2}\" HEIGHT=\"{3}\">\n",
        text(&p.name()),
        p.id,
        p.width,
        p.height
    );
    for (m, sighting) in marks(s).filter_map(|m| m.on(p.id).map(|on| (m, on))) {
        let seen = sighting.seen();
        let b = seen.outline.bounds();
        let corners: Vec<String> = seen
            .outline
            .0
            .iter()
            .map(|c| format!("{:.0},{:.0}", c.x, c.y))
            .collect();
        let _ = writeln!(
            out,
            "<TextBlock ID=\"mark-{}\" HPOS=\"{}\" VPOS=\"{}\" WIDTH=\"{}\" HEIGHT=\"{}\">\n<Shape><Polygon POINTS=\"{}\"/></Shape>",
            m.id,
            b.x,
            b.y,
            b.w,
            b.h,
            corners.join(" ")
        );
        for (i, l) in seen.reading.lines.iter().enumerate() {
            line(&mut out, l, &format!("line-{}-{}", m.id, i + 1));
        }
        out.push_str("</TextBlock>\n");
    }
    out.push_str("</PrintSpace>\n</Page>\n</Layout>\n</alto>\n");
    out
}

fn line(out: &mut String, l: &Line, id: &str) {
    let (b, n) = (l.bounds, l.characters.len().max(1));
    let at = |k: usize| b.x + (f64::from(b.w) * k as f64 / n as f64) as i32;
    let mut words = String::new();
    let mut start = 0;
    let mut number = 0;
    let all = &l.characters;
    while start < all.len() {
        let gap = |c: &Character| c.text.trim().is_empty() && !c.is_lost();
        if gap(&all[start]) {
            start += 1;
            continue;
        }
        let end = (start..all.len())
            .find(|k| gap(&all[*k]))
            .unwrap_or(all.len());
        let signs = &all[start..end];
        let content: String = signs.iter().map(|c| c.text.as_str()).collect();
        number += 1;
        if !content.is_empty() {
            // A word is at least as surely right as its whole line
            let chance: f64 = signs.iter().map(|c| c.confidence).product();
            let chance = chance.max(l.confidence);
            let figures: Vec<String> = signs
                .iter()
                .filter(|c| !c.is_lost())
                .map(|c| format!("{}", (9.0 * (1.0 - c.confidence.clamp(0.0, 1.0))).round()))
                .collect();
            let _ = writeln!(
                words,
                "<String ID=\"{id}-{number}\" HPOS=\"{}\" VPOS=\"{}\" WIDTH=\"{}\" HEIGHT=\"{}\" CONTENT=\"{}\" WC=\"{:.4}\" CC=\"{}\"/>",
                at(start),
                b.y,
                (at(end) - at(start)).max(1),
                b.h,
                text(&content),
                chance.clamp(0.0, 1.0),
                figures.join(" ")
            );
        }
        start = end;
    }
    if !words.is_empty() {
        let _ = write!(
            out,
            "<TextLine ID=\"{id}\" HPOS=\"{}\" VPOS=\"{}\" WIDTH=\"{}\" HEIGHT=\"{}\">\n{words}</TextLine>\n",
            b.x, b.y, b.w, b.h
        );
    }
}
