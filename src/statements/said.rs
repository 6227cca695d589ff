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

/// Lines as words that can be found again, whatever their case and signs.
pub struct Stretches<'a> {
    lines: &'a [Line],
    /// Of each word its line, the positions of its characters there, its letters.
    words: Vec<(usize, Range<usize>, String)>,
}

impl<'a> Stretches<'a> {
    /// Of these lines.
    pub fn of(lines: &'a [Line]) -> Self {
        let mut words = Vec::new();
        for (n, line) in lines.iter().enumerate() {
            let is_space = |i: &usize| line.characters[*i].text.trim().is_empty();
            let places: Vec<usize> = (0..line.characters.len()).collect();
            for word in places.chunk_by(|a, b| is_space(a) == is_space(b)) {
                let (from, to) = (word[0], word[word.len() - 1] + 1);
                words.push((n, from..to, key(&text(line, from..to))));
            }
        }
        words.retain(|w| !w.2.is_empty());
        Stretches { lines, words }
    }

    /// Where words stand: line and positions, one for each line; empty where they don't.
    pub fn places(&self, words: &str) -> Places {
        let wanted: Vec<String> = keys(words).collect();
        if wanted.is_empty() {
            return Places::new();
        }
        let mut all = self.words.windows(wanted.len());
        let found = all.find(|w| w.iter().map(|t| &t.2).eq(&wanted));
        let mut out: BTreeMap<usize, Range<usize>> = BTreeMap::new();
        for (line, at, _) in found.unwrap_or_default() {
            let whole = out.entry(*line).or_insert_with(|| at.clone());
            whole.end = at.end;
        }
        out.into_iter().collect()
    }

    /// What these words say, of no list; they are told as they stand here, if they do.
    pub fn statement(&self, words: &str, role: Role, value: String, chance: f64) -> Statement {
        let places = self.places(words);
        let of_line = |(line, at): &(usize, Range<usize>)| text(&self.lines[*line], at.clone());
        let here: Vec<String> = places.iter().map(of_line).collect();
        let words = if here.is_empty() {
            words.to_owned()
        } else {
            here.join(" ")
        };
        Statement {
            role,
            value,
            words,
            line: places.first().map_or(0, |p| p.0),
            chance,
            list: None,
            entry: None,
            listed: 0.0,
            places,
        }
    }
}

/// Lines with positions in them.
pub type Places = Vec<(usize, Range<usize>)>;

fn text(line: &Line, at: Range<usize>) -> String {
    line.characters[at]
        .iter()
        .map(|c| c.text.as_str())
        .collect()
}

/// Where a statement begins, for putting them in the order in which they stand.
pub fn begins(s: &Statement) -> (usize, usize) {
    (s.line, s.places.first().map_or(0, |p| p.1.start))
}

/// Whether places have a character in common.
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
    if heard.is_empty() {
        return statements;
    }
    let stretches = Stretches::of(lines);
    for h in heard {
        let at = stretches.places(&h.words);
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
        if let Some(role) = said.filter(|_| !statements.iter().any(is)) {
            let mut new = stretches.statement(&h.words, role, String::new(), chance);
            if let Ok(value) = super::normal(role, &new.words) {
                new.value = value;
                statements.push(new);
            }
        }
    }
    statements.sort_by_key(begins);
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
        let stretches = Stretches::of(&lines);
        assert_eq!(
            stretches.places("the Wexmoor / Gallery"),
            [(0, 0..11), (1, 0..8)]
        );
        assert_eq!(stretches.places("the Wexmoor Hall"), []);
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
