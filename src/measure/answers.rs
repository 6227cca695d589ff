//! Puts the true names of a photograph to the lists and keeps how the marks answered.

use super::chances::Stated;
use super::text;
use crate::proposals::Rivals;
use crate::run::ReadMark;

/// What a mark of the photograph truly names.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Named {
    /// List that is asked; of a mark that names nothing on several lists, all of them parted by `|`;
    /// empty for all lists.
    pub list: String,
    /// Key of the entry; empty for "not on the list".
    pub entry: String,
    /// A true line of the mark that is meant; empty where any mark may answer.
    pub words: String,
    /// Name of the mark that is meant, the same over all photographs that show it: it is asked once.
    /// Empty where the photograph is asked for itself.
    pub mark: String,
}

impl Named {
    /// Whether the list is one of those that are asked.
    fn asks(&self, list: &str) -> bool {
        self.list.is_empty() || self.list.split('|').any(|l| l.trim() == list)
    }
}

/// One question put to the lists and how it was answered.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What was true.
    pub named: Named,
    /// Mark that was asked; `None` where no mark was found for it.
    pub mark: Option<String>,
    /// Rank of the truth among the rivals, "on none" being one of them; `None` for absent.
    pub rank: Option<usize>,
    /// The first-ranked statement, in words.
    pub first: String,
    /// The chance stated for it.
    pub stated: Option<Stated>,
}

/// A mark that truly bears a line has one that was read at least this much like it, 0 to 1.
const LIKE: f64 = 0.5;

/// Asks the lists about each true name. Where the truth gives a line of the mark that it means, the
/// mark that was read most like it answers. Otherwise a listed name is looked for on the mark that
/// gives it the greatest chance, and "on none" is asked of the marks that are left, the most text
/// first. No mark answers twice for a list.
pub(super) fn answers(named: &[Named], marks: &[ReadMark]) -> Vec<Answer> {
    let mut asked = Asked::new(marks);
    let mut out: Vec<Option<Answer>> = named
        .iter()
        .map(|truth| Some(answer(truth, &marks[asked.bearing(truth)?])))
        .collect();
    for (slot, truth) in out.iter_mut().zip(named) {
        if slot.is_none() && !truth.entry.is_empty() {
            *slot = Some(match asked.naming(truth) {
                Some(i) => answer(truth, &marks[i]),
                None => silent(truth, "not proposed on any mark"),
            });
        }
    }
    for (slot, truth) in out.iter_mut().zip(named) {
        if slot.is_none() {
            *slot = Some(match asked.left_over(truth) {
                Some(i) => answer(truth, &marks[i]),
                None => silent(truth, "no mark left to ask"),
            });
        }
    }
    out.into_iter().flatten().collect()
}

/// The marks, and which lists each has answered for.
struct Asked<'a> {
    marks: &'a [ReadMark],
    lists: Vec<Vec<&'a str>>,
}

impl<'a> Asked<'a> {
    fn new(marks: &'a [ReadMark]) -> Self {
        Asked {
            marks,
            lists: vec![Vec::new(); marks.len()],
        }
    }

    fn is_free(&self, i: usize, truth: &Named) -> bool {
        !self.lists[i].iter().any(|l| truth.asks(l))
    }

    fn take(&mut self, i: usize, truth: &Named) -> usize {
        let lists = self.marks[i].rivals.iter().map(|r| r.list.as_str());
        self.lists[i].extend(lists.filter(|l| truth.asks(l)));
        i
    }

    /// The mark that was read most like the line that is meant.
    fn bearing(&mut self, truth: &Named) -> Option<usize> {
        let words = text::normal(&truth.words).to_lowercase();
        if words.is_empty() {
            return None;
        }
        let like = |m: &ReadMark| {
            m.reading
                .lines
                .iter()
                .map(|l| {
                    strsim::normalized_levenshtein(&words, &text::normal(&l.text).to_lowercase())
                })
                .fold(0.0, f64::max)
        };
        (0..self.marks.len())
            .filter(|&i| self.is_free(i, truth))
            .map(|i| (i, like(&self.marks[i])))
            .filter(|m| m.1 >= LIKE)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(i, _)| self.take(i, truth))
    }

    /// The mark that gives the listed entry the greatest chance.
    fn naming(&mut self, truth: &Named) -> Option<usize> {
        (0..self.marks.len())
            .filter(|&i| self.is_free(i, truth))
            .filter_map(|i| {
                let r = self.marks[i].rivals.iter().find(|r| r.list == truth.list)?;
                let p = r.proposals.iter().find(|p| p.entry == truth.entry)?;
                Some((i, p.probability))
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(i, _)| self.take(i, truth))
    }

    /// Of the marks that have answered for no list, the one with the most text.
    fn left_over(&mut self, truth: &Named) -> Option<usize> {
        let letters = |i: usize| -> usize {
            let lines = &self.marks[i].reading.lines;
            lines.iter().map(|l| l.text.chars().count()).sum()
        };
        (0..self.marks.len())
            .filter(|&i| self.lists[i].is_empty())
            .min_by_key(|&i| std::cmp::Reverse(letters(i)))
            .map(|i| {
                // Even a mark without rivals has answered then.
                self.lists[i].push("");
                self.take(i, truth)
            })
    }
}

fn silent(truth: &Named, why: &str) -> Answer {
    Answer {
        named: truth.clone(),
        mark: None,
        rank: None,
        first: why.into(),
        stated: None,
    }
}

/// What the mark says first in the list that is asked; of several, in the one whose first entry has
/// the greatest chance.
fn answer(truth: &Named, mark: &ReadMark) -> Answer {
    let nothing = Rivals {
        list: String::new(),
        proposals: Vec::new(),
        unlisted: 1.0,
    };
    let first_of = |r: &Rivals| r.proposals.first().map_or(0.0, |p| p.probability);
    let rivals = mark
        .rivals
        .iter()
        .filter(|r| truth.asks(&r.list))
        .max_by(|a, b| first_of(a).total_cmp(&first_of(b)))
        .unwrap_or(&nothing);
    let mut ranked: Vec<(f64, &str, &str)> = rivals
        .proposals
        .iter()
        .map(|p| (p.probability, p.entry.as_str(), p.name.as_str()))
        .collect();
    ranked.push((rivals.unlisted, "", "on none of the lists"));
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let rank = ranked
        .iter()
        .position(|r| r.1 == truth.entry)
        .map(|at| at + 1);
    let first = ranked[0];
    Answer {
        named: truth.clone(),
        mark: Some(mark.mark.clone()),
        rank,
        first: if first.1.is_empty() {
            first.2.to_string()
        } else {
            format!("{} ({}/{})", first.2, rivals.list, first.1)
        },
        stated: Some(Stated {
            chance: first.0,
            right: rank == Some(1),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::marks::MarkKind;
    use crate::proposals::{Agreement, Proposal};
    use crate::readings::{Character, Line, Reading};

    fn mark(label: &str, words: &str, lists: &[(&str, &str, f64)]) -> ReadMark {
        let at = Rect::new(0, 0, 100, 20);
        let letters = words.chars().map(|c| Character::sure(&c.to_string(), 0.9));
        let rivals = lists.iter().map(|&(list, entry, chance)| Rivals {
            list: list.into(),
            proposals: vec![Proposal {
                list: list.into(),
                entry: entry.into(),
                name: entry.into(),
                probability: chance,
                lines: vec![0],
                place: None,
                town: String::new(),
                not_before: String::new(),
                not_after: String::new(),
                source: String::new(),
                same_as: Vec::new(),
                agreement: Agreement::default(),
            }],
            unlisted: 1.0 - chance,
        });
        ReadMark {
            mark: label.into(),
            kind: MarkKind::PrintedLabel,
            outline: at.quad(),
            lettering: 1.0,
            reading: Reading {
                lines: vec![Line::from_characters(letters.collect(), at, at)],
                ..Reading::default()
            },
            rivals: rivals.collect(),
            bearing: None,
            statements: Vec::new(),
            sign: None,
            left: false,
            because: Vec::new(),
        }
    }

    fn named(list: &str, entry: &str, words: &str) -> Named {
        Named {
            list: list.into(),
            entry: entry.into(),
            words: words.into(),
            mark: String::new(),
        }
    }

    /// A guild that no list has, whose label bears a listed painter, beside the painter's own.
    fn back() -> Vec<ReadMark> {
        vec![
            mark(
                "m1",
                "THAXLEY ART GUILD",
                &[("artists", "isaac", 0.8), ("framers", "tharley", 0.1)],
            ),
            mark("m2", "Isaac Thornsey", &[("artists", "isaac", 0.9)]),
        ]
    }

    #[test]
    fn on_none_is_asked_of_the_lists_that_the_truth_names() {
        let guild = |list: &str| named(list, "", "Thaxley Art Guild");
        let given = answers(&[guild("exhibitions|framers")], &back());
        assert_eq!(given[0].mark.as_deref(), Some("m1"));
        assert_eq!(
            (given[0].rank, given[0].first.as_str()),
            (Some(1), "on none of the lists")
        );
        // Of all lists the painter's leads, and then the guild's label names someone.
        let given = answers(&[guild("")], &back());
        assert_eq!(given[0].rank, Some(2));
        // A list that has nothing to say of the mark says "on none" for certain.
        let given = answers(&[guild("exhibitions")], &back());
        let stated = given[0].stated.map(|s| (s.chance, s.right));
        assert_eq!(stated, Some((1.0, true)));
    }

    #[test]
    fn a_mark_answers_once_for_each_list_and_the_line_says_which_mark_is_meant() {
        let rows = [
            named("artists", "isaac", "THAXLEY ART GUILD"),
            named("artists", "isaac", "lsaac Thornsey"),
            named("exhibitions|framers", "", "THAXLEY ART GUILD"),
        ];
        let given = answers(&rows, &back());
        let marks: Vec<_> = given.iter().map(|a| a.mark.as_deref()).collect();
        assert_eq!(marks, [Some("m1"), Some("m2"), Some("m1")]);
        // A third row for the same list finds no mark that hasn't answered.
        let given = answers(&[&rows[..], &rows[..1]].concat(), &back());
        assert_eq!(given[3].mark, None);
        assert_eq!(given[3].first, "not proposed on any mark");
    }

    #[test]
    fn without_a_line_a_listed_name_is_looked_for_and_on_none_is_asked_of_what_is_left() {
        let rows = [named("", "", ""), named("artists", "isaac", "")];
        let given = answers(&rows, &back());
        assert_eq!(given[1].mark.as_deref(), Some("m2"));
        assert_eq!(given[0].mark.as_deref(), Some("m1"));
        let lines = ["no such line", ""].map(|w| named("framers", "nobody", w));
        let given = answers(&lines, &back());
        assert!(given.iter().all(|a| a.mark.is_none() && a.stated.is_none()));
    }
}
