//! What to look up or photograph next, the most telling first.
//!
//! The worth of a question is how much of the object its answer could settle, roughly: a conflict
//! before a doubt, a doubt before a gap. No chance is claimed by it; it only sets the order.

use super::{Back, Feature, Solved, Years, standard_sizes};
use crate::decisions::{Item, KeptMark, Lettering, Observation, Sight, State, and, two};
use crate::marks::MarkKind;
use serde::Serialize;

/// One thing to do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Question {
    /// What to do, with a full stop.
    pub ask: String,
    /// Why, with a full stop.
    pub because: String,
    /// Marks that it is about.
    pub marks: Vec<String>,
    /// Order among the questions, 0 to 1.
    pub worth: f64,
}

/// The open questions of a back.
///
/// * `items`: the marks as queued.
/// * `seen`: observations that hold.
pub fn questions(
    back: &Back,
    solved: &Solved,
    items: &[Item],
    seen: &[&Observation],
    features: &[Feature],
) -> Vec<Question> {
    let mut out = Vec::new();
    for c in &solved.conflicts {
        let marks: Vec<String> = c.marks().iter().map(|m| (*m).to_string()).collect();
        let ask = match c.dissolves.first() {
            Some(d) => format!(
                "Look again at {}: see whether {} (chance {} by itself), not \u{201c}{}\u{201d}.",
                d.mark,
                d.words,
                two(d.chance),
                d.instead
            ),
            None => format!(
                "Look at {} for signs that something was moved, lifted or put in later.",
                marks.join(" and ")
            ),
        };
        out.push(Question {
            ask,
            because: format!("As read now, these can't be true together: {}.", c.sides()),
            marks,
            worth: 0.9 + 0.1 * c.chance,
        });
    }
    out.extend(super::unlike(seen).into_iter().map(|u| Question {
        ask: format!(
            "Look again which of them it is, and take the other back (dorso observe PICTURE --undo {} or {}).",
            u.first, u.second
        ),
        because: format!("These can't both be so: {}.", u.words),
        marks: Vec::new(),
        worth: 0.95,
    }));
    out.extend(unplaced(back));
    for i in items {
        out.extend(of_mark(i));
    }
    for (b, d) in &solved.parts {
        if let Some((years, p)) = d.rivals.first().filter(|r| r.1 >= 0.15) {
            out.push(Question {
                ask: format!(
                    "Find what tells {} from {} for the {}: a directory of those years, or another mark on it.",
                    d.years.words(),
                    years.words(),
                    b.as_str()
                ),
                because: format!(
                    "The marks leave both, with chances of {} and {}.",
                    two(d.chance),
                    two(*p)
                ),
                marks: d.rests_on.clone(),
                worth: 0.5 + 0.3 * p,
            });
        } else if (d.years.from.is_none() || d.years.to.is_none()) && d.years != Years::OPEN {
            out.push(Question {
                ask: format!(
                    "Look for a mark that {} the {}.",
                    if d.years.to.is_none() {
                        "was there early on"
                    } else {
                        "its maker left on"
                    },
                    b.as_str()
                ),
                because: format!("So far it is only dated {}.", d.years.words()),
                marks: d.rests_on.clone(),
                worth: 0.25,
            });
        }
    }
    out.extend(of_object(seen, features));
    out.sort_by(|a, b| b.worth.total_cmp(&a.worth).then_with(|| a.ask.cmp(&b.ask)));
    out
}

/// Which part bears the dated marks of which nobody has told it; one question for all.
fn unplaced(back: &Back) -> Option<Question> {
    let marks: Vec<&super::Mark> = back.marks.iter().filter(|m| m.bearer.is_none()).collect();
    let shown = |m: &&super::Mark| {
        let (b, over, _) = m.proposed.iter().max_by(|a, b| a.2.total_cmp(&b.2))?;
        let over = over.map(|o| format!(" over to {}", super::words::part(o)));
        let all: f64 = m.proposed.iter().map(|p| p.2).sum();
        let part = super::words::part(*b);
        Some(format!(
            "{} on {part}{} ({})",
            m.id,
            over.unwrap_or_default(),
            two(all)
        ))
    };
    let shown: Vec<String> = marks.iter().filter_map(shown).collect();
    let names: Vec<&String> = marks.iter().map(|m| &m.name).collect();
    let (parts, number) = match marks.as_slice() {
        [] => return None,
        [one] => ("part bears", one.id.as_str()),
        _ => ("parts bear", "NUMBER"),
    };
    let because = match shown.is_empty() {
        true => "What is dated counts for no part of the object until its place is told.".into(),
        false => format!(
            "The photographs show {}; each counts only with that chance until its place is told.",
            shown.join(", ")
        ),
    };
    Some(Question {
        ask: format!(
            "Say which {parts} {} (dorso settle {number} on PART).",
            and(&names)
        ),
        because,
        marks: marks.iter().map(|m| m.id.clone()).collect(),
        // What is surely dated tells most once its part is known
        worth: 0.6 + 0.2 * marks.iter().map(|m| surest(m)).fold(0.0, f64::max),
    })
}

/// The greatest chance of a dated reading of a mark.
fn surest(m: &super::Mark) -> f64 {
    let readings = m.claims.iter().flat_map(|c| &c.readings);
    readings
        .filter(|r| r.years != Years::OPEN)
        .map(|r| r.chance)
        .fold(0.0, f64::max)
}

fn of_mark(item: &Item) -> Option<Question> {
    let m: &KeptMark = item.mark;
    if matches!(
        item.state,
        State::Settled | State::Clear | State::NotAMark | State::Asked(_)
    ) {
        return None;
    }
    let unread = m.latest().reading.lines.is_empty()
        || matches!(
            m.settled.lettering.as_ref().map(|h| &h.value),
            Some(Lettering::Unreadable)
        );
    let id = m.id.to_string();
    let ask = match (unread, m.kind()) {
        (true, MarkKind::Stamp | MarkKind::Monogram) => format!(
            "Photograph {id} close by, square on and with light from one side, and again from the other side."
        ),
        (true, _) => format!(
            "Photograph {id} close by, with slanting light from two sides (no lamp near gilding; ultraviolet only with glasses that block it)."
        ),
        (false, _) => format!("Settle {id} (dorso settle {id})."),
    };
    let why: Vec<&str> = item.doubts.iter().map(|d| d.words.as_str()).collect();
    Some(Question {
        ask,
        because: if why.is_empty() {
            "It is put off.".into()
        } else {
            let text = why.join("; ");
            let mut c = text.chars();
            c.next()
                .map(|f| f.to_uppercase().collect::<String>() + c.as_str())
                .unwrap_or_default()
                + "."
        },
        marks: vec![id],
        worth: 0.3 + 0.3 * item.worth,
    })
}

/// What nobody has looked at on the object itself.
fn of_object(seen: &[&Observation], features: &[Feature]) -> Vec<Question> {
    let has = |name: &str| {
        seen.iter()
            .any(|o| matches!(&o.sight, Sight::Feature { feature, .. } if feature == name))
    };
    let size = seen.iter().find_map(|o| match o.sight {
        Sight::Size { height, width } => Some((height, width)),
        _ => None,
    });
    let wanted: [(&str, &str, &str); 5] = [
        (
            "support",
            "what the picture is painted on",
            "boards and prepared supports were sold in known years",
        ),
        (
            "stretcher",
            "whether the canvas is on a keyed stretcher or a strainer",
            "a stretcher may be younger than the canvas",
        ),
        (
            "frame-corners",
            "whether the ornament runs whole round the corners of the frame or is sawn through",
            "it speaks for or against a frame cut down from another picture",
        ),
        (
            "fixings",
            "what holds the canvas and the frame: nails, staples, screws",
            "some fixings have a first year",
        ),
        (
            "lining",
            "whether the canvas is lined",
            "marks of the first canvas may lie under it",
        ),
    ];
    let mut out: Vec<Question> = wanted
        .iter()
        .filter(|(f, ..)| !has(f) && features.iter().any(|x| x.feature == *f))
        .map(|(f, what, why)| Question {
            ask: format!("Look {what}, without opening anything (dorso observe PICTURE {f}=...)."),
            because: format!("Nobody has noted it; {why}."),
            marks: Vec::new(),
            worth: 0.2,
        })
        .collect();
    match size {
        None => out.push(Question {
            ask: "Measure the support, height and width (dorso observe PICTURE size=HEIGHTxWIDTH).".into(),
            because: "A standard size of the British or French trade tells where a support may come from; an odd one may have been cut.".into(),
            marks: Vec::new(),
            worth: 0.15,
        }),
        Some((h, w)) if standard_sizes(h, w).is_empty() && !has("cut") => out.push(Question {
            ask: "Look whether the support was cut: tacking edges, a stamp that runs off (dorso observe PICTURE cut=...).".into(),
            because: "Its size is none of the standard ones; it may have been cut down, or made to order.".into(),
            marks: Vec::new(),
            worth: 0.2,
        }),
        Some(_) => {}
    }
    out
}
