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
    /// What that lacks, the surest first; nothing: it is as good as a photograph in this light can be.
    pub wants: Vec<Want>,
}

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

fn unclear(item: &Item) -> bool {
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
    Some(Wanting {
        mark: mark.id,
        photograph: best.photograph,
        wants: capture.asked.iter().map(|a| a.want).collect(),
    })
}
