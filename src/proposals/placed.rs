//! Places: each that the text names is a group of rivals of its own, weighed by what the mark states.

use super::explain;
use super::observed::Observed;
use super::table::Table;
use super::{Beside, MOST, Rivals, SHOWN_FROM, leave_out};
use crate::chance::{self, Tempering};
use crate::gazetteer::List;
use crate::statements::Place;

/// A place is at least as likely as the firm whose address it is part of: by the firm's town as listed.
pub(super) fn firms_towns(firms: &[Rivals], place: &str) -> f64 {
    let here = |r: &Rivals| {
        let of = r.proposals.iter().filter(|p| p.town == place);
        of.map(|p| p.probability).sum::<f64>()
    };
    firms.iter().map(here).fold(0.0, f64::max)
}

/// The groups of one list of places, in the order of the text; without any place one that names none.
///
/// * `firms`: what the other lists propose.
pub(super) fn groups(
    (table, list): (&Table, &List),
    places: &[&Place],
    text: &Observed,
    (beside, learnt): (&Beside, &Tempering),
    firms: &[Rivals],
) -> Vec<Rivals> {
    let mut out = Vec::new();
    let mut known = explain::Known::new();
    for place in places {
        let mut rows: Vec<(usize, f64)> = place.entries.clone();
        let mut none = 1.0 - place.chance();
        rows.iter_mut()
            .for_each(|r| r.1 *= beside.factor(&list.entries[r.0]));
        let all = none + rows.iter().map(|r| r.1).sum::<f64>();
        none /= all;
        rows.iter_mut().for_each(|r| r.1 /= all);
        let mut chances: Vec<f64> = rows.iter().map(|r| r.1).collect();
        learnt.apply(&mut chances, &mut none);
        rows.iter_mut().zip(chances).for_each(|(r, p)| r.1 = p);
        rows.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        rows.truncate(MOST);
        let Some(first) = rows.first() else { continue };
        let least = firms_towns(firms, &list.entries[first.0].name);
        if first.1 < least {
            let rest = (1.0 - least) / (1.0 - first.1);
            rows.iter_mut().for_each(|r| r.1 *= rest);
            rows[0].1 = least;
        }
        leave_out(&mut rows);
        let unlisted = chance::clamp(1.0 - rows.iter().map(|r| r.1).sum::<f64>());
        let mut proposals =
            explain::proposals(table, list, text, &rows, unlisted, beside, &mut known);
        for p in &mut proposals {
            p.place = Some(out.len());
            p.lines.clone_from(&place.lines);
        }
        if unlisted <= 1.0 - SHOWN_FROM {
            out.push(Rivals {
                list: table.list.clone(),
                proposals,
                unlisted,
            });
        }
    }
    if out.is_empty() {
        let unlisted = places.iter().map(|p| 1.0 - p.chance()).product();
        out.push(Rivals {
            list: table.list.clone(),
            proposals: Vec::new(),
            unlisted,
        });
    }
    out
}
