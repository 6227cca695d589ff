//! What people said that words are: finding the words in lines, and what is learnt of it for other marks.

use super::{Role, Statement};
use crate::readings::Line;
use crate::readings::learnt::SaidOf;
use std::collections::BTreeMap;
use std::ops::Range;

/// Letters and figures of each word, small; words of signs alone left out.
fn keys(words: &str) -> impl Iterator<Item = String> {
    words.split_whitespace().map(key).filter(|k| !k.is_empty())
}

fn key(word: &str) -> String {
    let signs = word.chars().filter(|c| c.is_alphanumeric());
    signs.flat_map(char::to_lowercase).collect()
}

/// Each word of the lines: its line, the positions of its characters there, its letters.
fn tokens(lines: &[Line]) -> Vec<(usize, Range<usize>, String)> {
    let mut out = Vec::new();
    for (n, line) in lines.iter().enumerate() {
        let is_space = |i: &usize| line.characters[*i].text.trim().is_empty();
        let places: Vec<usize> = (0..line.characters.len()).collect();
        for word in places.chunk_by(|a, b| is_space(a) == is_space(b)) {
            let (from, to) = (word[0], word[word.len() - 1] + 1);
            let text: String = line.characters[from..to]
                .iter()
                .map(|c| c.text.as_str())
                .collect();
            out.push((n, from..to, key(&text)));
        }
    }
    out.retain(|t| !t.2.is_empty());
    out
}

/// Where words stand in lines: line and positions, one for each line; empty where they don't.
pub fn places(words: &str, lines: &[Line]) -> Vec<(usize, Range<usize>)> {
    let wanted: Vec<String> = keys(words).collect();
    let all = tokens(lines);
    if wanted.is_empty() {
        return Vec::new();
    }
    let found = all
        .windows(wanted.len())
        .find(|w| w.iter().map(|t| &t.2).eq(&wanted));
    let mut out: BTreeMap<usize, Range<usize>> = BTreeMap::new();
    for (line, at, _) in found.unwrap_or_default() {
        let whole = out.entry(*line).or_insert_with(|| at.clone());
        whole.end = at.end;
    }
    out.into_iter().collect()
}

/// The words at these places, those of several lines with a blank between; `None` of none.
pub fn as_they_stand(at: &[(usize, Range<usize>)], lines: &[Line]) -> Option<String> {
    let of_line = |(line, at): &(usize, Range<usize>)| -> String {
        let all = lines[*line].characters[at.clone()].iter();
        all.map(|c| c.text.as_str()).collect()
    };
    let all: Vec<String> = at.iter().map(of_line).collect();
    (!all.is_empty()).then(|| all.join(" "))
}

pub fn meet(a: &[(usize, Range<usize>)], b: &[(usize, Range<usize>)]) -> bool {
    let crosses = |x: &(usize, Range<usize>), y: &(usize, Range<usize>)| {
        x.0 == y.0 && x.1.start < y.1.end && y.1.start < x.1.end
    };
    a.iter().any(|x| b.iter().any(|y| crosses(x, y)))
}

/// Whether both are the same words, whatever their case and signs.
pub fn same(a: &str, b: &str) -> bool {
    keys(a).eq(keys(b))
}

/// Chance that words are the same on the next mark: Laplace's rule of succession.
fn chance(heard: &SaidOf) -> f64 {
    (heard.times as f64 + 1.0) / (heard.of as f64 + 2.0)
}

/// What was said, each a mark, counted by words: of what was said of the same words the most frequent, of equals the
/// first.
pub fn heard<'a>(said: impl IntoIterator<Item = (&'a str, Option<Role>)>) -> Vec<SaidOf> {
    let mut by_words: BTreeMap<String, Vec<(Option<Role>, usize)>> = BTreeMap::new();
    for (words, role) in said {
        let words = keys(words).collect::<Vec<_>>().join(" ");
        let counts = by_words.entry(words).or_default();
        match counts.iter_mut().find(|c| c.0 == role) {
            Some(c) => c.1 += 1,
            None => counts.push((role, 1)),
        }
    }
    let most = |(words, counts): (String, Vec<(Option<Role>, usize)>)| {
        let of = counts.iter().map(|c| c.1).sum();
        let best = counts.into_iter().rev().max_by_key(|c| c.1)?;
        Some(SaidOf {
            words,
            role: best.0.map(|r| r.as_str().to_owned()),
            times: best.1,
            of,
        })
    };
    by_words.into_iter().filter_map(most).collect()
}

/// Statements of lines, with what was heard of words that stand there: what the words were said to be has at least the
/// chance that this gives it, and what else is stated by any of them has at most what is left.
pub fn heed(mut statements: Vec<Statement>, lines: &[Line], heard: &[SaidOf]) -> Vec<Statement> {
    for h in heard {
        let at = places(&h.words, lines);
        if at.is_empty() {
            continue;
        }
        let (chance, said) = (chance(h), h.role.as_deref().and_then(Role::parse));
        let is = |s: &Statement| Some(s.role) == said && same(&s.words, &h.words);
        for s in statements.iter_mut().filter(|s| meet(&s.places, &at)) {
            s.chance = if is(s) {
                s.chance.max(chance)
            } else {
                s.chance.min(1.0 - chance)
            };
        }
        let Some(role) = said.filter(|_| !statements.iter().any(is)) else {
            continue;
        };
        let words = as_they_stand(&at, lines).unwrap_or_else(|| h.words.clone());
        let Ok(value) = super::normal(role, &words) else {
            continue;
        };
        statements.push(Statement {
            role,
            value,
            line: at[0].0,
            words,
            chance,
            list: None,
            entry: None,
            listed: 0.0,
            places: at,
        });
    }
    statements.sort_by_key(|s| (s.line, s.places.first().map_or(0, |p| p.1.start)));
    statements
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gazetteer::Gazetteer;
    use crate::readings::from_typed;

    #[test]
    fn words_run_over_two_lines() {
        let lines = from_typed("THE WEXMOOR / GALLERY, Harrowick").unwrap();
        assert_eq!(
            places("the Wexmoor / Gallery", &lines),
            [(0, 0..11), (1, 0..8)]
        );
        assert_eq!(places("the Wexmoor Hall", &lines), []);
    }

    #[test]
    fn what_was_said_twice_is_likelier_than_what_was_said_once_and_never_sure() {
        let once = heard([("Mrs. Farrowby", Some(Role::Owner))]);
        let twice = heard([
            ("Mrs. Farrowby", Some(Role::Owner)),
            ("MRS FARROWBY", Some(Role::Owner)),
        ]);
        assert_eq!((once.len(), twice.len(), twice[0].times), (1, 1, 2));
        assert!(chance(&once[0]) < chance(&twice[0]) && chance(&twice[0]) < 1.0);
        let torn = heard([("417", Some(Role::Lot)), ("417", None), ("417", None)]);
        assert_eq!((&torn[0].role, torn[0].times, torn[0].of), (&None, 2, 3));
    }

    #[test]
    fn heeding_raises_what_was_said_and_lowers_the_rest_by_those_words_alone() {
        let lines = from_typed("Lent by Mrs. Farrowby / 14 Candlewick Row").unwrap();
        let before = crate::statements::of_lists(&lines, None, &Gazetteer::default());
        let h = heard([
            ("Mrs. Farrowby", Some(Role::Owner)),
            ("Mrs. Farrowby", Some(Role::Owner)),
        ]);
        let after = heed(before.clone(), &lines, &h);
        let owner = after.iter().find(|s| s.role == Role::Owner).unwrap();
        assert_eq!(
            (owner.chance, owner.words.as_str()),
            (0.75, "Mrs. Farrowby")
        );
        assert!(
            after
                .iter()
                .filter(|s| s.role == Role::Lender)
                .all(|s| s.chance <= 0.25)
        );
        let street = |all: &[Statement]| {
            all.iter()
                .filter(|s| s.line == 1)
                .map(|s| s.chance)
                .collect::<Vec<_>>()
        };
        assert_eq!(street(&before), street(&after));
        assert_eq!(
            heed(before.clone(), &from_typed("Nothing here").unwrap(), &h).len(),
            before.len()
        );
    }
}
