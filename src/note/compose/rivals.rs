//! Sentences on what the program proposes.

use super::super::certainty::with_number;
use super::super::{Sentence, clues};
use super::{named, program};
use crate::decisions::{KeptMark, Named, two};
use crate::proposals::{Proposal, Rivals};

/// Proposals of a smaller chance are left out.
const NAMED: f64 = 0.10;

/// The name that the mark most likely bears on a list other than the towns: chance summed over the
/// entries of that name, which are rivals of one list; `None` if no name has a chance of 0.1.
pub(super) fn best_name(
    rivals: &[Rivals],
    open: impl Fn(&str) -> bool,
) -> Option<(f64, &str, &str, usize)> {
    let mut best: Option<(f64, &str, &str, usize)> = None;
    let mut town = None;
    for r in rivals.iter().filter(|r| open(&r.list)) {
        for p in &r.proposals {
            let same = r.proposals.iter().filter(|o| o.name == p.name);
            let (sum, count) = same.fold((0.0, 0), |(s, n), o| (s + o.probability, n + 1));
            let slot = if r.list == "towns" {
                &mut town
            } else {
                &mut best
            };
            if sum >= NAMED && slot.is_none_or(|b: (f64, _, _, _)| sum > b.0) {
                *slot = Some((sum.min(1.0), r.list.as_str(), p.name.as_str(), count));
            }
        }
    }
    // A firm, an exhibition or an artist tells more than a town, if it is at all likely.
    match (best, town) {
        (Some(b), Some(t)) if b.0 < 0.2 && t.0 > b.0 => Some(t),
        (None, t) => t,
        (b, _) => b,
    }
}

/// One sentence for each rival worth naming, and one on "none of this list".
pub(super) fn proposals(r: &Rivals) -> Vec<Sentence> {
    let likely: Vec<&Proposal> = r
        .proposals
        .iter()
        .filter(|p| p.probability >= NAMED)
        .collect();
    if likely.is_empty() {
        return Vec::new();
    }
    let mut out: Vec<Sentence> = likely
        .iter()
        .map(|p| {
            let why = match p.agreement.because.first() {
                Some(b) => format!(" Because: “{}”.", b.trim_end_matches('.')),
                None => String::new(),
            };
            program(
                format!(
                    "It {} names {}, entry {} ({}).{why}",
                    with_number(p.probability),
                    named(&p.list, &p.name),
                    p.entry,
                    clues::source(&p.source)
                ),
                p.probability,
            )
        })
        .collect();
    if r.unlisted >= NAMED {
        out.push(program(
            format!(
                "It {} names no entry of list “{}”.",
                with_number(r.unlisted),
                r.list
            ),
            r.unlisted,
        ));
    }
    out
}

/// Where the newest reading proposes something else than a person took.
pub(super) fn differs(mark: &KeptMark) -> Option<Sentence> {
    for r in &mark.rivals {
        let Some(held) = mark.settled.on_list(&r.list) else {
            continue;
        };
        let Some(p) = r.proposals.first().filter(|p| p.probability >= 0.5) else {
            continue;
        };
        let same = matches!(&held.value, Named::Entry(t) if t.entry == p.entry);
        if !same {
            return Some(program(
                format!(
                    "The program differs from the decision {}: by its newest reading the mark {} names {} ({}; none of the list {}).",
                    held.decision,
                    with_number(p.probability),
                    named(&p.list, &p.name),
                    p.entry,
                    two(r.unlisted)
                ),
                p.probability,
            ));
        }
    }
    None
}
