//! What a mark states, with what people said its words are.
//!
//! In: the statements of a reading and the entries that hold. Out: [`Stated`], each with the entry that gave it.

use super::{Act, DecisionId, Held, KeptMark, Lettering};
use crate::error::{Error, Kind, Result};
use crate::readings::Line;
use crate::statements::said::{self, Stretches, begins, meet};
use crate::statements::{self, Role, Statement};
use serde::{Deserialize, Serialize};

/// What a person said that some words of a mark are.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Said {
    /// The words as they stand, lines parted by ` / `.
    pub words: String,
    /// What they say; `None`: nothing.
    pub role: Option<Role>,
    /// In normal form; empty where they say nothing.
    pub value: String,
}

impl Said {
    /// In words, for the journal, without a full stop.
    pub fn told(&self) -> String {
        match self.role {
            None => format!("states nothing by \"{}\"", self.words),
            Some(role) if self.value == self.words => {
                format!("\"{}\" is the {}", self.words, role.told())
            }
            Some(role) => format!("\"{}\" is the {}: {}", self.words, role.told(), self.value),
        }
    }

    /// Whether both are said of the same words.
    pub(super) fn is_of(&self, other: &Said) -> bool {
        said::same(&self.words, &other.words)
    }
}

/// A statement, and the entry of the journal by which a person made it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// What is stated; with a chance of 1 where a person said so.
    pub statement: Statement,
    /// The entry.
    pub by: Option<DecisionId>,
}

/// Statements of lines as people said that they are: what a person said of some words stands in place of all that
/// was stated by any of them. Words that no longer stand in the lines keep what was said of them.
pub fn corrected(statements: &[Statement], lines: &[Line], said: &[Held<Said>]) -> Vec<Stated> {
    let as_read = |s: &Statement| Stated {
        statement: s.clone(),
        by: None,
    };
    let mut out: Vec<Stated> = statements.iter().map(as_read).collect();
    if said.is_empty() {
        return out;
    }
    let stretches = Stretches::of(lines);
    for held in said {
        let Said { words, role, value } = &held.value;
        let at = stretches.places(words);
        let same = |s: &Statement| meet(&s.places, &at) || said::same(&s.words, words);
        let before: Vec<Stated> = out.extract_if(.., |s| same(&s.statement)).collect();
        let Some(role) = *role else { continue };
        let mut statement = stretches.statement(words, role, value.clone(), 1.0);
        // The entry that the same words name stays where the new role can name it too
        let listed = before.into_iter().map(|s| s.statement);
        let listed = listed.filter(|s| s.role.kinds().iter().any(|k| role.kinds().contains(k)));
        if let Some(l) = listed.max_by(|a, b| a.listed.total_cmp(&b.listed)) {
            (statement.list, statement.entry, statement.listed) = (l.list, l.entry, l.listed);
        }
        out.push(Stated {
            statement,
            by: Some(held.decision),
        });
    }
    out.sort_by_key(|s| begins(&s.statement));
    out
}

/// The name by which a person says that words state nothing.
pub const NOTHING: &str = "nothing";

/// A person's word for what some words of a mark are.
///
/// * `role`: name of a [`Role`], blanks for underscores, or [`NOTHING`]; `value`: in normal form, empty: as made of
///   the words.
///
/// # Errors
/// `Kind::Usage` if there is no such role, or the mark doesn't read so.
pub fn says(mark: &KeptMark, role: &str, words: &str, value: &str) -> Result<Act> {
    let usage =
        |place: String, what: &str, next: String| Error::new(Kind::Usage, place, what, next);
    let role = match role.trim().to_lowercase().replace([' ', '-'], "_").as_str() {
        NOTHING => None,
        name => Some(Role::parse(name).ok_or_else(|| {
            let all: Vec<&str> = Role::ALL.iter().map(|r| r.1).collect();
            let next = format!("give {NOTHING}, or one of {}", all.join(", "));
            usage(
                format!("\"{name}\""),
                "words say nothing of this name",
                next,
            )
        })?),
    };
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    if Stretches::of(&standing(mark)?).places(&words).is_empty() {
        let next = format!(
            "give whole words as they stand, see dorso settle {}",
            mark.id
        );
        return Err(usage(
            format!("\"{words}\""),
            "these words don't stand so on the mark",
            next,
        ));
    }
    let value = match (role, value.trim()) {
        (None, _) => String::new(),
        (Some(role), "") => statements::normal(role, &words)?,
        (Some(_), value) => value.to_owned(),
    };
    Ok(Act::Says(Said { words, role, value }))
}

/// The lines that stand: as a person read them, else as the program did.
fn standing(mark: &KeptMark) -> Result<Vec<Line>> {
    match mark.settled.lettering.as_ref().map(|h| &h.value) {
        Some(Lettering::Read(lines)) => crate::readings::from_typed(&lines.join(" / ")),
        _ => Ok(mark.latest().reading.lines.clone()),
    }
}

impl KeptMark {
    /// What it states: as read, with what people said its words are.
    pub fn states(&self) -> Vec<Stated> {
        let seen = self.latest();
        corrected(&seen.statements, &seen.reading.lines, &self.settled.said)
    }

    /// The same without who said so.
    pub fn statements(&self) -> Vec<Statement> {
        self.states().into_iter().map(|s| s.statement).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gazetteer::Gazetteer;
    use crate::readings::from_typed;

    fn held(id: i64, words: &str, role: Option<Role>, value: &str) -> Held<Said> {
        let value = Said {
            words: words.into(),
            role,
            value: value.into(),
        };
        Held {
            value,
            decision: DecisionId(id),
        }
    }

    fn lines() -> Vec<Line> {
        from_typed("Title The Ferry at Dunmarsh / Lent by Mrs. Farrowby / 14 Candlewick Row")
            .unwrap()
    }

    #[test]
    fn what_a_person_said_stands_in_place_of_what_was_stated_by_those_words() {
        let lines = lines();
        let read = statements::of_lists(&lines, None, &Gazetteer::default());
        let said = [held(7, "Mrs. Farrowby", Some(Role::Owner), "Farrowby")];
        let now = corrected(&read, &lines, &said);
        let own: Vec<&Stated> = now.iter().filter(|s| s.by == Some(DecisionId(7))).collect();
        assert_eq!(own.len(), 1);
        assert_eq!(
            (own[0].statement.role, own[0].statement.chance),
            (Role::Owner, 1.0)
        );
        assert_eq!(own[0].statement.places, [(1, 8..21)]);
        let others = now.iter().filter(|s| s.by.is_none());
        assert!(
            others
                .clone()
                .all(|s| !meet(&s.statement.places, &own[0].statement.places))
        );
        assert!(others.count() >= 1, "the title stays: {now:?}");
    }

    #[test]
    fn words_that_state_nothing_are_left_out_and_words_gone_keep_what_was_said() {
        let lines = lines();
        let read = statements::of_lists(&lines, None, &Gazetteer::default());
        let title = |all: &[Stated]| {
            all.iter()
                .filter(|s| s.statement.role == Role::Title)
                .count()
        };
        let nothing = corrected(&read, &lines, &[held(1, "the ferry at Dunmarsh", None, "")]);
        assert_eq!(title(&corrected(&read, &lines, &[])), 1);
        assert_eq!(title(&nothing), 0);
        let gone = corrected(&read, &lines, &[held(1, "Lot 217", Some(Role::Lot), "217")]);
        assert_eq!(
            gone.iter()
                .filter(|s| s.statement.role == Role::Lot)
                .count(),
            1
        );
    }
}
