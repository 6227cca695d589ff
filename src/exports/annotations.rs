//! W3C Web Annotations: what each mark reads, what it is taken for, what was decided.
//!
//! Source: *Web Annotation Data Model*, W3C Recommendation, 23 February 2017. The box comes first as
//! a media fragment; the outline, as SVG, is an equal alternative.

use super::{Export, File, Subject, address, json, marks, root, written};
use crate::decisions::{KeptMark, KeptPhotograph};
use crate::error::Result;
use crate::note::Basis;
use serde_json::{Value, json};

pub(super) struct Annotations;

impl Export for Annotations {
    fn name(&self) -> &'static str {
        "annotations"
    }

    fn about(&self) -> &'static str {
        "W3C Web Annotations on the photographs: readings, proposals, decisions"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        let mut items = Vec::new();
        for m in marks(s) {
            items.extend(of_mark(s, m));
        }
        let page = json!({
            "@context": "http://www.w3.org/ns/anno.jsonld",
            "id": format!("{}/annotations.json", root(s)),
            "type": "AnnotationPage",
            "items": items,
        });
        Ok(vec![File::text("annotations.json", json(&page))])
    }
}

/// Where a mark is on its photograph.
pub(super) fn target(m: &KeptMark, source: &Value, p: &KeptPhotograph) -> Value {
    let q = m.latest().outline;
    let b = q.bounds();
    let (x, y) = (b.x.max(0), b.y.max(0));
    let (w, h) = ((b.right() - x).max(1), (b.bottom() - y).max(1));
    let corners: Vec<String> =
        q.0.iter()
            .map(|c| format!("{:.0},{:.0}", c.x, c.y))
            .collect();
    json!({
        "type": "SpecificResource",
        "source": source,
        "selector": [
            {
                "type": "FragmentSelector",
                "conformsTo": "http://www.w3.org/TR/media-frags/",
                "value": format!("xywh={x},{y},{w},{h}"),
            },
            {
                "type": "SvgSelector",
                "value": format!(
                    "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{}\"><polygon points=\"{}\"/></svg>",
                    p.width, p.height, corners.join(" ")
                ),
            },
        ],
    })
}

/// The places of a mark on all photographs that show it, one or a list.
fn targets(s: &Subject, m: &KeptMark) -> Value {
    let place = |p: &KeptPhotograph| {
        let source = format!("{}/{}", root(s), address(&p.name()));
        m.on(p.id)
            .map(|_| target(&m.as_on(p.id), &json!(source), p))
    };
    let mut all: Vec<Value> = s.picture.photographs.iter().filter_map(place).collect();
    match all.len() {
        1 => all.remove(0),
        _ => Value::Array(all),
    }
}

fn of_mark(s: &Subject, m: &KeptMark) -> Vec<Value> {
    let target = targets(s, m);
    let id = |part: &str| format!("{}/annotations/{}-{part}", root(s), m.id);
    let creator = |by: Option<&str>| match by {
        Some(name) => json!({"type": "Person", "name": name}),
        None => json!({"type": "Software", "name": "Dorso"}),
    };
    let body = |value: &str, purpose: &str| json!([{"type": "TextualBody", "value": value, "format": "text/plain", "purpose": purpose}]);
    let (lines, by) = written(m, s.journal);
    let mut out = Vec::new();
    let text: Vec<&str> = lines.iter().map(|l| l.leiden.as_str()).collect();
    let read = if text.is_empty() {
        "[unread]".to_string()
    } else {
        text.join("\n")
    };
    out.push(json!({
        "id": id("reading"),
        "type": "Annotation",
        "motivation": "describing",
        "creator": creator(by.as_deref()),
        "body": body(&read, "describing"),
        "target": target,
    }));
    for n in s.note.marks.iter().filter(|n| n.id == m.id.to_string()) {
        let sentences = n.proposed.iter().chain(&n.dates).chain(&n.decided);
        for (i, sentence) in sentences.enumerate() {
            let (motivation, by) = match sentence.basis {
                Basis::Person(d) => {
                    let entry = s.journal.iter().find(|e| e.id == d);
                    ("assessing", entry.map(|e| e.author.by.as_str()))
                }
                _ => ("identifying", None),
            };
            out.push(json!({
                "id": id(&(i + 1).to_string()),
                "type": "Annotation",
                "motivation": motivation,
                "creator": creator(by),
                "body": body(&sentence.words, motivation),
                "target": target,
            }));
        }
    }
    if m.sightings.len() > 1 {
        for p in &s.picture.photographs {
            out.extend(of_sighting(s, m, p));
        }
    }
    out
}

/// What one photograph alone shows of a mark that several show.
fn of_sighting(s: &Subject, m: &KeptMark, p: &KeptPhotograph) -> Option<Value> {
    let alone = m.on(p.id)?;
    let source = format!("{}/{}", root(s), address(&p.name()));
    let lines = alone.seen().reading.lines.iter();
    let text: Vec<&str> = lines.map(|l| l.leiden.as_str()).collect();
    let read = match text.is_empty() {
        true => "[unread]".to_owned(),
        false => text.join("\n"),
    };
    Some(json!({
        "id": format!("{}/annotations/{}-on-{}", root(s), m.id, p.id),
        "type": "Annotation",
        "motivation": "describing",
        "creator": {"type": "Software", "name": "Dorso"},
        "body": [{"type": "TextualBody", "value": read, "format": "text/plain", "purpose": "describing"}],
        "target": target(&m.as_on(p.id), &json!(source), p),
    }))
}
