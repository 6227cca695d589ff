//! Rivals of the list of artists where initials stand, and no name.

use super::{Agreement, Index, LEFT_OUT, Proposal, Rivals, Seen, explain};
use crate::chance;
use crate::gazetteer::{Entry, List};
use crate::monogram::{self, Artists, Known, LIST, Letters, Possible, Who};
use crate::readings::Line;

/// Artists who are proposed, at most: two letters are shared by hundreds.
const MOST: usize = 300;

impl Index {
    /// The list of artists, and who on it signs how; nothing where there is none.
    pub fn artists(&self) -> Option<(&List, &Artists)> {
        let list = self.gazetteer.lists.iter().find(|l| l.name == LIST)?;
        let artists = self.artists.get_or_init(|| Artists::new(list));
        (!artists.is_empty()).then_some((list, artists))
    }

    /// Weighs initials: the rivals of the list of artists; nothing where there is no such list.
    ///
    /// * `other`: chance that others than these letters stand there, or none; they name nobody for all that is seen.
    pub fn initials(&self, letters: &Letters, known: &Known, other: f64) -> Option<Rivals> {
        let (list, artists) = self.artists()?;
        let who = artists.who(letters, known, MOST).given(1.0 - other);
        let all: f64 = who.possible.iter().map(|p| p.chance).sum();
        let mut told = 0.0;
        let likely = who.possible.iter().take_while(|p| {
            let is_wanted = told < all * (1.0 - LEFT_OUT);
            told += p.chance;
            is_wanted
        });
        let proposals: Vec<Proposal> = likely
            .map(|p| proposal(&list.entries[p.row], p, &who))
            .collect();
        let unlisted = chance::clamp(1.0 - proposals.iter().map(|p| p.probability).sum::<f64>());
        Some(Rivals {
            list: LIST.into(),
            proposals,
            unlisted,
        })
    }
}

fn proposal(e: &Entry, p: &Possible, who: &Who) -> Proposal {
    let initials = p.letters.chars().map(|c| (c, Seen::Clear));
    let others = match who.fit {
        1 => "nobody else on the list has such initials".to_owned(),
        n => format!("{} on the list have such initials", explain::number(n)),
    };
    Proposal {
        lines: vec![0],
        agreement: Agreement {
            letters: initials.collect(),
            because: vec![format!(
                "Its letters may be the initials {}; {others}.",
                p.letters
            )],
        },
        ..Proposal::of(e, p.chance)
    }
}

/// Years of a date in figures that stands beside initials on a line of its own, if it is one.
pub fn date_beside(line: &Line) -> Option<(i32, i32)> {
    let text = line.text.trim_end_matches('.');
    let figures = |c: char| c.is_ascii_digit() || matches!(c, '\'' | '’');
    text.chars().all(figures).then(|| monogram::date(text))?
}
