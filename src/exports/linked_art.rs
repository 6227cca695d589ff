//! Linked Art: the object, what stands on it, when and by whom its parts were made, provenance.
//!
//! Source: *Linked Art* 1.0 (CIDOC CRM 7.1), terms of the Art & Architecture Thesaurus (AAT): from
//! memory. What the program proposes is an attribution with its chance in words, not a fact.

use super::{Export, File, Subject, json, marks, root, written};
use crate::decisions::{Bearer, Taken};
use crate::error::Result;
use crate::evidence::{Dated, Years};
use crate::note::{Basis, provenance};
use serde_json::{Value, json};

pub(super) struct LinkedArt;

const CONTEXT: &str = "https://linked.art/ns/v1/linked-art.json";

impl Export for LinkedArt {
    fn name(&self) -> &'static str {
        "linked-art"
    }

    fn about(&self) -> &'static str {
        "Linked Art JSON-LD: object with inscriptions and parts, and its provenance"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        Ok(vec![
            File::text("object.json", json(&object(s))),
            File::text("provenance.json", json(&activity(s))),
        ])
    }
}

fn aat(number: u32, label: &str) -> Value {
    json!({
        "id": format!("http://vocab.getty.edu/aat/{number}"),
        "type": "Type",
        "_label": label,
    })
}

/// A statement in words, of the kind that is printed under a name of its own.
fn statement(id: String, label: &str, words: &str, kind: Value) -> Value {
    json!({
        "id": id,
        "type": "LinguisticObject",
        "_label": label,
        "classified_as": [{
            "id": kind["id"],
            "type": "Type",
            "_label": kind["_label"],
            "classified_as": [aat(300_418_049, "Brief Text")],
        }],
        "content": words,
        "format": "text/plain",
    })
}

fn timespan(y: &Years) -> Value {
    let mut out = json!({"type": "TimeSpan", "_label": y.words()});
    if let Some(f) = y.from {
        out["begin_of_the_begin"] = json!(format!("{f:04}-01-01T00:00:00Z"));
    }
    if let Some(t) = y.to {
        out["end_of_the_end"] = json!(format!("{t:04}-12-31T23:59:59Z"));
    }
    out
}

fn part(s: &Subject, b: Bearer, d: &Dated) -> Value {
    let id = format!("{}/part/{}", root(s), b.as_str());
    let chance = crate::note::certainty::with_number(d.chance);
    json!({
        "id": id,
        "type": "HumanMadeObject",
        "_label": format!("{} of {}", b.as_str(), s.picture.name),
        "produced_by": {
            "id": format!("{id}/made"),
            "type": "Production",
            "_label": format!("making of the {}, {chance} {}", b.as_str(), d.years.words()),
            "timespan": timespan(&d.years),
            "referred_to_by": [statement(
                format!("{id}/made/note"),
                "how the date is known",
                &format!("Dated from marks on it ({}): {chance}.", d.rests_on.join(", ")),
                aat(300_418_049, "Brief Text"),
            )],
        },
    })
}

/// Whom or what a mark names by decision of a person, with the addresses that stand for it elsewhere.
fn actor(root: &str, t: &Taken) -> Value {
    let kind = match t.list.as_str() {
        "artists" | "persons" => "Person",
        "towns" => "Place",
        _ => "Group",
    };
    let address = |a: &String| json!({"id": a, "type": kind, "_label": t.name});
    let mut out = json!({
        "id": format!("{root}/entry/{}/{}", super::address(&t.list), super::address(&t.entry)),
        "type": kind,
        "_label": t.name,
    });
    if !t.same_as.is_empty() {
        out["equivalent"] = t.same_as.iter().map(address).collect();
    }
    out
}

fn object(s: &Subject) -> Value {
    let root = root(s);
    let inscriptions: Vec<Value> = marks(s)
        .filter_map(|m| {
            let (lines, by) = written(m, s.journal);
            if lines.is_empty() {
                return None;
            }
            let text: Vec<&str> = lines.iter().map(|l| l.leiden.as_str()).collect();
            let least = lines.iter().filter_map(|l| l.chance).fold(1.0, f64::min);
            let read = match by {
                Some(by) => format!("read by {by}"),
                None => format!(
                    "read by the program, {}",
                    crate::note::certainty::with_number(least)
                ),
            };
            let mut out = statement(
                format!("{root}/mark/{}", m.id),
                &format!("{} {}, {read}", m.kind().as_str().replace('_', " "), m.id),
                &text.join("\n"),
                aat(300_435_414, "Inscription Description"),
            );
            let named: Vec<Value> = m.taken().map(|t| actor(&root, t)).collect();
            if !named.is_empty() {
                out["about"] = json!(named);
            }
            Some(out)
        })
        .collect();
    let said = |words: &str, n: usize| {
        statement(
            format!("{root}/statement/{n}"),
            "statement",
            words,
            aat(300_435_416, "Description"),
        )
    };
    let mut referred = inscriptions;
    let statements = s.note.provenance.manners.iter().map(|m| &m.1);
    let evidence = s
        .note
        .evidence
        .parts
        .iter()
        .chain(&s.note.evidence.conflicts);
    for (n, sentence) in statements.chain(evidence).enumerate() {
        referred.push(said(&sentence.words, n + 1));
    }
    let mut out = json!({
        "@context": CONTEXT,
        "id": format!("{root}/object.json"),
        "type": "HumanMadeObject",
        "_label": s.picture.name,
        "classified_as": [aat(300_033_618, "Painting")],
        "identified_by": [{
            "id": format!("{root}/name"),
            "type": "Name",
            "content": s.picture.name,
        }],
        "referred_to_by": referred,
    });
    let parts: Vec<Value> = s
        .solved
        .parts
        .iter()
        // A time-span has no room for a doubt about which part it belongs to
        .filter(|(_, d)| d.years != Years::OPEN && d.proposed.is_empty())
        .map(|(b, d)| part(s, *b, d))
        .collect();
    if !parts.is_empty() {
        out["part"] = json!(parts);
    }
    out
}

/// Provenance as one activity with an activity for each link: no transfer of title is claimed, since
/// marks on a back show none.
fn activity(s: &Subject) -> Value {
    let root = root(s);
    let links: Vec<Value> = s
        .note
        .provenance
        .links
        .iter()
        .enumerate()
        .map(|(i, (event, basis))| {
            let words = provenance::line(std::slice::from_ref(event));
            let id = format!("{root}/provenance/{}", i + 1);
            let known = match basis {
                Basis::Person(d) => {
                    let by = s.journal.iter().find(|e| e.id == *d);
                    format!(
                        "By decision of {}.",
                        by.map_or("a person", |e| e.author.by.as_str())
                    )
                }
                Basis::Program(p) => format!(
                    "Proposed by the program, {}.",
                    crate::note::certainty::with_number(*p)
                ),
                Basis::Record => "As recorded.".into(),
            };
            json!({
                "id": id,
                "type": "Activity",
                "_label": words,
                "referred_to_by": [statement(
                    format!("{id}/known"),
                    "how it is known",
                    &known,
                    aat(300_435_438, "Provenance Description"),
                )],
            })
        })
        .collect();
    json!({
        "@context": CONTEXT,
        "id": format!("{root}/provenance.json"),
        "type": "Activity",
        "_label": format!("Provenance of {}", s.picture.name),
        "classified_as": [aat(300_055_863, "Provenance (history of ownership)")],
        "referred_to_by": [statement(
            format!("{root}/provenance/line"),
            "provenance in one line",
            &s.note.provenance.line,
            aat(300_435_438, "Provenance Description"),
        )],
        "part": links,
    })
}
