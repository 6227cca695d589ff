//! TEI P5: transcription with unclear, gap, supplied and certainty, tied to zones on the facsimile.
//!
//! Source: TEI Consortium, *P5 Guidelines*, chapters 12 (primary sources) and 22 (certainty); the
//! choice of elements as in T. Elliott, G. Bodard and others, *EpiDoc Guidelines* (from memory).

use super::xml::text;
use super::{Export, File, Subject, marks, written};
use crate::error::Result;
use crate::geometry::Quad;
use crate::readings::leiden::{Extent, Sign};
use std::fmt::Write as _;

pub(super) struct Tei;

impl Export for Tei {
    fn name(&self) -> &'static str {
        "tei"
    }

    fn about(&self) -> &'static str {
        "TEI P5: transcription with its signs of doubt, tied to zones of the photographs"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        Ok(vec![File::text("tei.xml", document(s))])
    }
}

fn points(q: &Quad) -> String {
    // Coordinates of a surface start at its corner; a mark may run over the edge
    let all: Vec<String> =
        q.0.iter()
            .map(|p| format!("{:.0},{:.0}", p.x.max(0.0), p.y.max(0.0)))
            .collect();
    all.join(" ")
}

fn document(s: &Subject) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let title = text(&s.picture.name);
    let _ = write!(
        out,
        "<TEI xmlns=\"http://www.tei-c.org/ns/1.0\" xml:lang=\"en\">\n<teiHeader>\n<fileDesc>\n\
         <titleStmt><title>{title}: marks on its back</title></titleStmt>\n\
         <publicationStmt><p>Not published.</p></publicationStmt>\n\
         <sourceDesc><p>Photographs of the back of the picture.</p></sourceDesc>\n</fileDesc>\n\
         <encodingDesc><p>Signs with a chance below 0.6 are unclear; cert gives chances between 0 and 1. \
         Nothing here authenticates, values or clears title.</p></encodingDesc>\n</teiHeader>\n"
    );
    if s.picture.photographs.is_empty() {
        out.push_str("<text><body><p>No photograph.</p></body></text>\n</TEI>\n");
        return out;
    }
    out.push_str("<facsimile>\n");
    for p in &s.picture.photographs {
        let _ = writeln!(
            out,
            "<surface xml:id=\"photograph-{}\" ulx=\"0\" uly=\"0\" lrx=\"{}\" lry=\"{}\">\n<graphic url=\"{}\" width=\"{}px\" height=\"{}px\"/>",
            p.id,
            p.width,
            p.height,
            super::address(&p.name()),
            p.width,
            p.height
        );
        for sighting in marks(s).filter_map(|m| m.on(p.id)) {
            let _ = writeln!(
                out,
                "<zone xml:id=\"zone-{}\" points=\"{}\"/>",
                sighting.id,
                points(&sighting.seen().outline)
            );
        }
        out.push_str("</surface>\n");
    }
    out.push_str("</facsimile>\n<text>\n<body>\n");
    let mut any = false;
    for m in marks(s) {
        any = true;
        let (lines, by) = written(m, s.journal);
        let zones: Vec<String> = m
            .sightings
            .iter()
            .map(|x| format!("#zone-{}", x.id))
            .collect();
        let _ = writeln!(
            out,
            "<div type=\"mark\" subtype=\"{}\" n=\"{}\" facs=\"{}\">",
            m.kind().as_str(),
            m.id,
            zones.join(" ")
        );
        if lines.is_empty() {
            out.push_str(
                "<ab><gap reason=\"illegible\" extent=\"unknown\" unit=\"character\"/></ab>\n",
            );
        } else {
            out.push_str("<ab>\n");
            for (i, l) in lines.iter().enumerate() {
                let id = format!("line-{}-{}", m.id, i + 1);
                let _ = write!(
                    out,
                    "<lb n=\"{}\"/><seg type=\"line\" xml:id=\"{id}\">",
                    i + 1
                );
                signs(&mut out, &l.signs);
                out.push_str("</seg>");
                if let Some(p) = l.chance {
                    let _ = write!(
                        out,
                        "<certainty locus=\"value\" target=\"#{id}\" degree=\"{:.4}\"/>",
                        p.clamp(0.0, 1.0)
                    );
                }
                out.push('\n');
            }
            out.push_str("</ab>\n");
        }
        for t in m.taken() {
            let addresses: Vec<String> = t.same_as.iter().map(|a| text(a)).collect();
            let refs = match addresses.is_empty() {
                true => String::new(),
                false => format!(" ref=\"{}\"", addresses.join(" ")),
            };
            let _ = writeln!(
                out,
                "<note type=\"names\"><name{refs}>{}</name></note>",
                text(&t.name)
            );
        }
        let read = by.as_deref().unwrap_or("the program");
        let _ = writeln!(out, "<note type=\"reader\">Read by {}.</note>", text(read));
        for n in s.note.marks.iter().filter(|n| n.id == m.id.to_string()) {
            for (kind, all) in [
                ("decision", &n.decided),
                ("proposal", &n.proposed),
                ("date", &n.dates),
            ] {
                for sentence in all {
                    let _ = writeln!(
                        out,
                        "<note type=\"{kind}\">{}</note>",
                        text(&sentence.words)
                    );
                }
            }
        }
        out.push_str("</div>\n");
    }
    if !any {
        out.push_str("<p>No mark was found.</p>\n");
    }
    out.push_str("</body>\n</text>\n</TEI>\n");
    out
}

fn signs(out: &mut String, all: &[Sign]) {
    let mut i = 0;
    while i < all.len() {
        match &all[i] {
            Sign::Letter(l) => out.push_str(&text(l)),
            Sign::Unclear(_) => {
                // Neighbours share an element
                out.push_str("<unclear>");
                while let Some(Sign::Unclear(l)) = all.get(i) {
                    out.push_str(&text(l));
                    i += 1;
                }
                out.push_str("</unclear>");
                continue;
            }
            Sign::Several(letters) => {
                out.push_str("<choice>");
                for (k, l) in letters.iter().enumerate() {
                    let cert = if k == 0 { "medium" } else { "low" };
                    let _ = write!(out, "<unclear cert=\"{cert}\">{}</unclear>", text(l));
                }
                out.push_str("</choice>");
            }
            Sign::Lost(e) => {
                let _ = match e {
                    Extent::Exactly(n) => write!(
                        out,
                        "<gap reason=\"lost\" quantity=\"{n}\" unit=\"character\"/>"
                    ),
                    Extent::About(n) => write!(
                        out,
                        "<gap reason=\"lost\" quantity=\"{n}\" unit=\"character\" precision=\"low\"/>"
                    ),
                    Extent::Between(a, b) => write!(
                        out,
                        "<gap reason=\"lost\" atLeast=\"{a}\" atMost=\"{b}\" unit=\"character\"/>"
                    ),
                    Extent::Unknown => write!(
                        out,
                        "<gap reason=\"lost\" extent=\"unknown\" unit=\"character\"/>"
                    ),
                    Extent::Lines => write!(
                        out,
                        "<gap reason=\"lost\" extent=\"unknown\" unit=\"line\"/>"
                    ),
                };
            }
            Sign::Illegible(n) => {
                let _ = write!(
                    out,
                    "<gap reason=\"illegible\" quantity=\"{n}\" unit=\"character\"/>"
                );
            }
            Sign::Supplied { text: t, sure } => {
                let cert = if *sure { "" } else { " cert=\"low\"" };
                let _ = write!(
                    out,
                    "<supplied reason=\"lost\"{cert}>{}</supplied>",
                    text(t)
                );
            }
            Sign::Omitted(t) => {
                let _ = write!(out, "<supplied reason=\"omitted\">{}</supplied>", text(t));
            }
            Sign::Surplus(t) => {
                let _ = write!(out, "<surplus>{}</surplus>", text(t));
            }
            Sign::Corrected(t) => {
                let _ = write!(out, "<corr>{}</corr>", text(t));
            }
            Sign::Expanded(t) => {
                let _ = write!(out, "<ex>{}</ex>", text(t));
            }
            Sign::Erased(within) => {
                out.push_str("<del>");
                signs(out, within);
                out.push_str("</del>");
            }
            Sign::Added(within) => {
                out.push_str("<add>");
                signs(out, within);
                out.push_str("</add>");
            }
            Sign::Blank(n) => {
                let _ = match n {
                    Some(n) => write!(out, "<space quantity=\"{n}\" unit=\"character\"/>"),
                    None => write!(out, "<space extent=\"unknown\" unit=\"character\"/>"),
                };
            }
        }
        i += 1;
    }
}
