//! IIIF Presentation 3 manifest: a canvas for each photograph, with the readings on it.
//!
//! Source: *IIIF Presentation API 3.0*, 2020. The pictures themselves are not served: their
//! addresses are the base address with the file's name.

use super::annotations::target;
use super::{Export, File, Subject, address, json, marks, root, written};
use crate::error::Result;
use serde_json::{Value, json};

pub(super) struct Iiif;

impl Export for Iiif {
    fn name(&self) -> &'static str {
        "iiif"
    }

    fn about(&self) -> &'static str {
        "IIIF Presentation 3 manifest with the readings on the photographs"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        Ok(vec![File::text("manifest.json", json(&manifest(s)))])
    }
}

fn format_of(name: &str) -> &'static str {
    match name.rsplit('.').next().map(str::to_lowercase).as_deref() {
        Some("png") => "image/png",
        Some("tif" | "tiff") => "image/tiff",
        Some("webp") => "image/webp",
        Some("heic" | "heif") => "image/heic",
        _ => "image/jpeg",
    }
}

fn manifest(s: &Subject) -> Value {
    let root = root(s);
    let english = |text: &str| json!({"en": [text]});
    let canvases: Vec<Value> = s
        .picture
        .photographs
        .iter()
        .map(|p| {
            let canvas = format!("{root}/canvas/{}", p.id);
            let picture = format!("{root}/{}", address(&p.name()));
            let readings: Vec<Value> = marks(s)
                .filter(|m| m.on(p.id).is_some())
                .map(|m| {
                    let (lines, by) = written(m, s.journal);
                    let plain: Vec<&str> = lines.iter().map(|l| l.plain.as_str()).collect();
                    let least = lines.iter().filter_map(|l| l.chance).fold(1.0, f64::min);
                    let label = match (&by, lines.is_empty()) {
                        (_, true) => format!("{} {}: not read", m.kind().as_str(), m.id),
                        (Some(by), _) => format!("{} {}: read by {by}", m.kind().as_str(), m.id),
                        (None, _) => format!(
                            "{} {}: read by the program, {}",
                            m.kind().as_str(),
                            m.id,
                            crate::note::certainty::with_number(least)
                        ),
                    };
                    json!({
                        "id": format!("{canvas}/reading/{}", m.id),
                        "type": "Annotation",
                        "motivation": "supplementing",
                        "label": english(&label),
                        "body": {
                            "type": "TextualBody",
                            "value": if plain.is_empty() { "[unread]".to_string() } else { plain.join("\n") },
                            "format": "text/plain",
                        },
                        "target": target(&m.as_on(p.id), &json!({"id": canvas, "type": "Canvas"}), p),
                    })
                })
                .collect();
            json!({
                "id": canvas,
                "type": "Canvas",
                "label": {"none": [p.name()]},
                "height": p.height,
                "width": p.width,
                "items": [{
                    "id": format!("{canvas}/page"),
                    "type": "AnnotationPage",
                    "items": [{
                        "id": format!("{canvas}/painting"),
                        "type": "Annotation",
                        "motivation": "painting",
                        "body": {
                            "id": picture,
                            "type": "Image",
                            "format": format_of(&p.name()),
                            "height": p.height,
                            "width": p.width,
                        },
                        "target": canvas,
                    }],
                }],
                "annotations": [{
                    "id": format!("{canvas}/readings"),
                    "type": "AnnotationPage",
                    "items": readings,
                }],
            })
        })
        .collect();
    json!({
        "@context": "http://iiif.io/api/presentation/3/context.json",
        "id": format!("{root}/manifest.json"),
        "type": "Manifest",
        "label": english(&format!("{}: back", s.picture.name)),
        "summary": english("Marks on the back as read; nothing here authenticates, values or clears title."),
        "items": canvases,
    })
}
