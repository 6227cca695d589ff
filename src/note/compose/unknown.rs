//! What is not known, told as plainly as what is.

use super::super::{Sentence, dates};
use super::{program_lines, record};
use crate::decisions::{KeptMark, Lettering};

/// * `handed_in`: whether somebody handed in a text of provenance.
pub(super) fn unknown(marks: &[&KeptMark], handed_in: bool) -> Vec<Sentence> {
    let mut out = Vec::new();
    let unread: Vec<String> = marks
        .iter()
        .filter(|m| {
            let unreadable = m.settled.lettering.as_ref().map(|h| &h.value);
            match unreadable {
                Some(Lettering::Unreadable) => true,
                Some(Lettering::Read(_)) => false,
                None => program_lines(m).is_empty() && m.settled.named.is_empty(),
            }
        })
        .map(|m| m.id.to_string())
        .collect();
    if !unread.is_empty() {
        out.push(record(format!(
            "What these marks say: {}.",
            unread.join(", ")
        )));
    }
    let owners = match handed_in {
        true => {
            "Whether the links of the text that was handed in are right, beyond what marks say in the notes to it."
        }
        false => "Who owned the picture, and when: no link from one owner to the next is drawn.",
    };
    out.push(record(owners.into()));
    out.push(years_of_loss(marks));
    out.push(record(
        "What labels, linings, backing paper and the rebate cover, and what was not photographed."
            .into(),
    ));
    out
}

/// The gap that a provenance note names and never fills: AAM Guidelines of November 1999;
/// Washington Conference Principles, 3 December 1998 (from memory).
fn years_of_loss(marks: &[&KeptMark]) -> Sentence {
    let reaches = |from: &str, to: &str| dates::reaches(from, to, 1933, 1945);
    let dated: Vec<String> = marks
        .iter()
        .filter(|m| {
            let taken = m.settled.taken().any(|(t, _)| {
                !matches!(t.list.as_str(), "towns" | "artists")
                    && reaches(&t.not_before, &t.not_after)
            });
            let proposed = m.rivals.iter().any(|r| {
                m.settled.on_list(&r.list).is_none()
                    && !matches!(r.list.as_str(), "towns" | "artists")
                    && r.proposals.first().is_some_and(|p| {
                        p.probability >= 0.4 && reaches(&p.not_before, &p.not_after)
                    })
            });
            taken || proposed
        })
        .map(|m| m.id.to_string())
        .collect();
    let marks = if dated.is_empty() {
        "no mark, as far as read, is dated to those years".to_string()
    } else {
        format!(
            "the dates of {} may reach into those years, but say nothing of ownership",
            dated.join(", ")
        )
    };
    record(format!(
        "Whereabouts 1933–1945: {marks}. If the picture may have been in continental Europe then, ask public registers of losses and a specialist."
    ))
}
