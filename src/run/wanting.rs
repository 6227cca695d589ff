//! What is still missing of a picture's marks while it can be photographed again, all its photographs together.

use crate::decisions::{DoubtKind, Item, KeptMark, MarkId, Sighting};
use crate::taking::{Capture, Want};

/// A mark of which another photograph would bring more.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanting {
    /// The mark.
    pub mark: MarkId,
    /// Number of the photograph that shows it best.
    pub photograph: i64,
    /// What that lacks, the surest first; nothing: it is as good as a photograph in this light can be, and the mark is
    /// read poorly all the same.
    pub wants: Vec<Want>,
}

/// Below this mean chance of its letters a mark is read poorly: nobody makes out a name of which one letter in five is wrong (by judgement).
const POOR: f64 = 0.8;

/// Marks with lettering that nobody could read or that is read with doubt, each with what even its best photograph lacks.
///
/// * `captured`: what was measured of a sighting; `None` where its photograph can't be opened.
pub fn wanting<'a>(
    items: &[Item],
    captured: impl Fn(&Sighting) -> Option<&'a Capture>,
) -> Vec<Wanting> {
    let open = items.iter().filter(|i| i.state.is_due() && unclear(i));
    open.filter_map(|i| wanted(i.mark, &captured)).collect()
}

/// Whether its lettering couldn't be read or is read with doubt.
pub fn unclear(item: &Item) -> bool {
    let of_letters = |k: DoubtKind| matches!(k, DoubtKind::Unread | DoubtKind::Unclear);
    item.doubts.iter().any(|d| of_letters(d.kind))
}

fn wanted<'a>(
    mark: &KeptMark,
    captured: &impl Fn(&Sighting) -> Option<&'a Capture>,
) -> Option<Wanting> {
    let seen = mark.sightings.iter().filter(|s| !s.missing);
    let told = seen.filter_map(|s| Some((s, captured(s)?)));
    // The best lacks least, and of equals has the largest letters
    let tall = |c: &Capture| c.measures.x_height.unwrap_or(0.0);
    let (best, capture) = told.min_by(|(_, a), (_, b)| {
        let fewest = a.asked.len().cmp(&b.asked.len());
        fewest.then(tall(b).total_cmp(&tall(a)))
    })?;
    let wants: Vec<Want> = capture.asked.iter().map(|a| a.want).collect();
    let wanting = Wanting {
        mark: mark.id,
        photograph: best.photograph,
        wants,
    };
    (!wanting.wants.is_empty() || is_poor(mark)).then_some(wanting)
}

/// Whether what it reads is expected to be wrong in more than one letter in five; nothing read counts too.
fn is_poor(mark: &KeptMark) -> bool {
    let lines = mark.whole.reading.lines.iter();
    let letters = lines.flat_map(|l| &l.characters).filter(|c| c.text != " ");
    let chances: Vec<f64> = letters.map(|c| c.confidence).collect();
    chances.iter().sum::<f64>() < POOR * chances.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decisions::{SeenMark, queue};
    use crate::geometry::Rect;
    use crate::marks::MarkKind;
    use crate::readings::{Character, Line, Reading};
    use crate::taking::{Asked, Measures};

    /// A label of one line, its first letters and its last one of those chances.
    fn label(first: f64, last: f64) -> KeptMark {
        let letter = |c: char| Character {
            text: c.to_string(),
            confidence: if c == 'E' { last } else { first },
            alternatives: Vec::new(),
        };
        let all = Rect::new(0, 0, 80, 20);
        let line = Line::from_characters("ORME".chars().map(letter).collect(), all, all);
        KeptMark::unkept(SeenMark {
            label: "m1".into(),
            kind: MarkKind::PrintedLabel,
            outline: Rect::new(10, 10, 100, 40).quad(),
            lettering: 0.99,
            reading: Reading {
                lines: vec![line],
                ..Reading::default()
            },
            rivals: Vec::new(),
            bearing: None,
            statements: Vec::new(),
            sign: None,
        })
    }

    fn capture(asked: &[Want]) -> Capture {
        let measures = Measures {
            x_height: Some(20.0),
            blur: Some(1.0),
            light: 0.8,
            contrast: 0.6,
            grain: 0.002,
            burnt: 0.0,
            margins: [6.0; 4],
            gaps: [1.0; 4],
        };
        let asked = asked.iter().map(|w| Asked {
            want: *w,
            chance: 0.9,
        });
        Capture {
            outline: Rect::new(10, 10, 100, 40).quad(),
            measures,
            asked: asked.collect(),
        }
    }

    fn wants(mark: KeptMark, asked: &[Want]) -> Option<Vec<Want>> {
        let capture = capture(asked);
        let marks = [mark];
        let items = queue(&marks, "2026-12-01");
        let all = wanting(&items, |_| Some(&capture));
        all.into_iter().next().map(|w| w.wants)
    }

    #[test]
    fn what_is_read_well_wants_nothing_whatever_its_photograph_lacks() {
        assert_eq!(wants(label(0.999, 0.999), &[Want::Steadier]), None);
    }

    #[test]
    fn a_doubtful_mark_wants_what_its_photograph_lacks_and_a_poor_one_other_light_at_least() {
        assert_eq!(
            wants(label(0.999, 0.3), &[Want::Steadier]),
            Some(vec![Want::Steadier])
        );
        assert_eq!(wants(label(0.999, 0.3), &[]), None);
        assert_eq!(wants(label(0.4, 0.4), &[]), Some(Vec::new()));
    }
}
