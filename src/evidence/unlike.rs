//! What was seen on an object, or stands on it, and can't all be so: two supports, two sizes, a
//! stencilled size that the support doesn't have. Nothing is decided here: each is a question.

use crate::decisions::{
    Bearer, KeptMark, Lettering, MarkId, Observation, ObservationId, Sight, and,
};

/// Features of which an object has one, and the choices that may be seen together all the same
/// (common practice: paper is laid on other supports, a canvas board has a canvas).
const ONE_OF: [(&str, &[(&str, &str)]); 4] = [
    (
        "support",
        &[
            ("canvas", "prepared-canvas"),
            ("canvas", "canvas-board"),
            ("prepared-canvas", "canvas-board"),
            ("millboard", "academy-board"),
        ],
    ),
    ("stretcher", &[]),
    ("lining", &[("lined", "wax-lined")]),
    (
        "cut",
        &[
            ("tacking-edges-kept", "stamp-cut-through"),
            ("tacking-edges-lost", "stamp-cut-through"),
        ],
    ),
];
/// Sides that differ by no more than this are one size, mm: restretched, or measured anew (common
/// practice).
const OFF_MM: f64 = 12.0;
/// A side of a support, in the unit that stands on the mark.
const SIDES: std::ops::RangeInclusive<f64> = 4.0..=200.0;

/// Two observations of one object that can't both be so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unlike {
    /// The earlier.
    pub first: ObservationId,
    /// The later.
    pub second: ObservationId,
    /// What can't be together, a clause of plain words.
    pub words: String,
}

/// The observations that hold and exclude each other.
pub fn unlike(seen: &[&Observation]) -> Vec<Unlike> {
    let mut out = Vec::new();
    for (i, a) in seen.iter().enumerate() {
        for b in &seen[i + 1..] {
            out.extend(excluded(&a.sight, &b.sight).map(|words| Unlike {
                first: a.id,
                second: b.id,
                words,
            }));
        }
    }
    out
}

fn excluded(a: &Sight, b: &Sight) -> Option<String> {
    match (a, b) {
        (
            Sight::Feature { feature, choice },
            Sight::Feature {
                feature: other,
                choice: second,
            },
        ) if feature == other && choice != second => {
            let (_, together) = ONE_OF.iter().find(|f| f.0 == feature.as_str())?;
            let (a, b) = (choice.as_str(), second.as_str());
            let fits =
                together.iter().any(|t| *t == (a, b) || *t == (b, a)) || [a, b].contains(&"paper");
            (!fits).then(|| {
                let said = |c: &str| c.replace('-', " ");
                format!(
                    "the {} is told to be {} and {}",
                    said(feature),
                    said(a),
                    said(b)
                )
            })
        }
        (
            Sight::Size { height, width },
            Sight::Size {
                height: h,
                width: w,
            },
        ) if !one_size((*height, *width), (*h, *w)) => Some(format!(
            "the support is measured as {} and as {}",
            mm(*height, *width),
            mm(*h, *w)
        )),
        _ => None,
    }
}

/// The marks that can't be as they are read or placed beside what was seen of the object: a sentence
/// without a full stop for each.
pub fn unlike_marks(marks: &[KeptMark], seen: &[&Observation]) -> Vec<(MarkId, String)> {
    let measured: Vec<(f64, f64)> = seen
        .iter()
        .filter_map(|o| match o.sight {
            Sight::Size { height, width } => Some((height, width)),
            _ => None,
        })
        .collect();
    let bare = seen.iter().any(|o| {
        matches!(&o.sight, Sight::Feature { feature, choice } if feature == "stretcher" && choice == "none")
    });
    let mut out = Vec::new();
    for m in marks.iter().filter(|m| m.settled.not_a_mark.is_none()) {
        for (words, sizes) in sizes_on(m) {
            let fits = |s: &(f64, f64)| sizes.iter().any(|t| one_size(*s, *t));
            if !measured.is_empty() && !measured.iter().any(fits) {
                let all: Vec<String> = measured.iter().map(|(h, w)| mm(*h, *w)).collect();
                out.push((
                    m.id,
                    format!(
                        "it reads \u{201c}{words}\u{201d}, and the support is measured as {}: cut down, \
                         put in later, or the size of something else",
                        and(&all)
                    ),
                ));
            }
        }
        let on = m.settled.on.as_ref().map(|h| h.value);
        if bare && on.is_some_and(|(b, over)| [Some(b), over].contains(&Some(Bearer::Stretcher))) {
            let words = "it is told to be on the stretcher, and the object to have none";
            out.push((m.id, words.to_owned()));
        }
    }
    out
}

/// Sizes that stand on a mark: the words, and what they may mean in mm.
fn sizes_on(mark: &KeptMark) -> Vec<(String, Vec<(f64, f64)>)> {
    let lines: Vec<String> = match mark.settled.lettering.as_ref().map(|h| &h.value) {
        Some(Lettering::Read(lines)) => lines.clone(),
        Some(Lettering::Unreadable) => Vec::new(),
        None => {
            let read = mark.latest().reading.lines.iter();
            read.map(|l| l.text.clone()).collect()
        }
    };
    lines.iter().filter_map(|l| size_in(l)).collect()
}

/// "20 x 16" as it stands in a line, and its meanings: inches where nothing is said or inches are,
/// else centimetres; where nothing is said, both.
fn size_in(line: &str) -> Option<(String, Vec<(f64, f64)>)> {
    let plain: String = line
        .chars()
        .map(|c| if matches!(c, '×' | 'X') { 'x' } else { c })
        .filter(|c| !('\u{300}'..='\u{36f}').contains(c))
        .collect();
    let at = plain.match_indices('x').find_map(|(at, _)| {
        Some((
            number_before(&plain[..at])?,
            number_after(&plain[at + 1..])?,
        ))
    });
    let (h, w) = at?;
    if !SIDES.contains(&h) || !SIDES.contains(&w) {
        return None;
    }
    let inches = (h * 25.4, w * 25.4);
    let cm = (h * 10.0, w * 10.0);
    let lower = plain.to_lowercase();
    let meant = match () {
        () if lower.contains("cm") => vec![cm],
        () if lower.contains("in") || plain.contains(['"', '″', '”']) => vec![inches],
        () => vec![inches, cm],
    };
    Some((format!("{h} x {w}"), meant))
}

fn number_before(text: &str) -> Option<f64> {
    let text = text.trim_end_matches([' ', '"', '″', '”', '\'']);
    let from = text
        .rfind(|c: char| !c.is_ascii_digit() && c != '.')
        .map_or(0, |i| {
            i + text[i..].chars().next().map_or(1, char::len_utf8)
        });
    text[from..].parse().ok()
}

fn number_after(text: &str) -> Option<f64> {
    let text = text.trim_start();
    let to = text.find(|c: char| !c.is_ascii_digit() && c != '.');
    text[..to.unwrap_or(text.len())]
        .trim_end_matches('.')
        .parse()
        .ok()
}

/// Either way up.
fn one_size(a: (f64, f64), b: (f64, f64)) -> bool {
    let near = |x: f64, y: f64| (x - y).abs() <= OFF_MM;
    (near(a.0, b.0) && near(a.1, b.1)) || (near(a.0, b.1) && near(a.1, b.0))
}

fn mm(height: f64, width: f64) -> String {
    format!(
        "{height:.0} x {width:.0} mm ({:.1} x {:.1} in)",
        height / 25.4,
        width / 25.4
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decisions::{Author, standing};

    fn seen(id: i64, sight: Sight) -> Observation {
        Observation {
            id: ObservationId(id),
            picture: 1,
            author: Author {
                by: "A. Carrow".into(),
                at: "2024-05-06T10:12:40+01:00".into(),
                why: String::new(),
            },
            sight,
        }
    }

    fn feature(id: i64, feature: &str, choice: &str) -> Observation {
        let (feature, choice) = (feature.to_owned(), choice.to_owned());
        seen(id, Sight::Feature { feature, choice })
    }

    #[test]
    fn canvas_and_panel_are_a_question_and_what_is_undone_is_none() {
        let both = [
            feature(1, "support", "canvas"),
            feature(2, "support", "panel"),
        ];
        let found = unlike(&standing(&both));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].words, "the support is told to be canvas and panel");
        let undone = seen(
            3,
            Sight::Undo {
                undoes: ObservationId(2),
            },
        );
        let all = [both[0].clone(), both[1].clone(), undone];
        assert!(unlike(&standing(&all)).is_empty());
    }

    #[test]
    fn what_may_be_together_is_no_question() {
        for (f, a, b) in [
            ("support", "canvas", "prepared-canvas"),
            ("support", "paper", "panel"),
            ("fixings", "wire-nails", "staples"),
        ] {
            assert!(unlike(&standing(&[feature(1, f, a), feature(2, f, b)])).is_empty());
        }
    }

    #[test]
    fn a_size_is_found_in_a_line_in_the_units_that_it_may_mean() {
        let (words, meant) = size_in("20 x 16̣").unwrap();
        assert_eq!(words, "20 x 16");
        assert!(meant.iter().any(|m| one_size(*m, (406.0, 508.0))));
        assert!(!meant.iter().any(|m| one_size(*m, (762.0, 635.0))));
        assert_eq!(size_in("24½ × 20 in"), None);
        assert_eq!(size_in("61 X 50 cm").unwrap().1, [(610.0, 500.0)]);
        for none in ["Exeter x", "No 3 x 2", "1871", ""] {
            assert_eq!(size_in(none), None, "{none}");
        }
    }
}
