//! Finding marks by words as typed or damaged, and by kind, firm, doubt, sale room and year.
//!
//! The words of every mark stand in an index of SQLite's own (FTS5, every three letters). A word that
//! may be damaged is sought by its halves or thirds, one of which is whole if one or two letters are
//! wrong; what is found so is then held against the word letter by letter.

use super::standing::NO_MARK;
use super::{SqliteStore, fault};
use crate::decisions::{Item, KeptMark, Lettering, MarkId};
use crate::error::Result;
use crate::gazetteer::fold::plain;
use crate::proposals::Proposal;
use crate::readings::from_typed;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, params, params_from_iter};
use std::path::Path;

/// A proposal less likely than this isn't what a mark is found by.
const LIKELY: f64 = 0.5;
/// A name less likely than this is no word of a mark.
const POSSIBLE: f64 = 0.1;
/// Least likeness of a damaged word, 0 to 1.
const LIKE: f64 = 0.72;
/// Marks that are held against damaged words letter by letter.
const HELD: usize = 4000;
/// Marks of a store in which copies are looked for among all.
const MANY: i64 = 3_000;
/// Marks of a larger store that share words with one and are held against it; other ones beside them.
const CANDIDATES: i64 = 100;
const SAMPLE: i64 = 1_000;
/// Words of a mark, the longest first, that those are sought by.
const LONGEST: usize = 4;
/// Letters that a word has at least to be sought damaged.
const SHORTEST: usize = 5;

/// What marks are wanted; the default wants all.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Words that stand on it, are said of it or that it names, each of them; damaged ones too.
    pub words: String,
    /// Kind, by its name.
    pub kind: String,
    /// Firm, by its name.
    pub firm: String,
    /// Sale room, by its name.
    pub sale_room: String,
    /// A sort of doubt, by its name.
    pub doubt: String,
    /// Years that it may be of, both included.
    pub years: Option<(i32, i32)>,
}

/// What stands on a mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Worded {
    /// The mark.
    pub mark: MarkId,
    /// The name of its picture.
    pub picture: String,
    /// Its lines.
    pub lines: Vec<String>,
    /// Whether a person read it so.
    pub by_person: bool,
}

/// One page of marks.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FoundMarks {
    /// How many there are in all.
    pub all: usize,
    /// Those of the page: best match first, else in order of number.
    pub marks: Vec<MarkId>,
    /// Whether words were found only damaged.
    pub damaged: bool,
}

/// What a mark can be found by, worked out with its standing.
pub(super) fn put(c: &Connection, path: &Path, item: &Item) -> Result<()> {
    let at = |e: rusqlite::Error| fault(path, &e);
    let mark = item.mark;
    let words = words_of(mark);
    let named = |lists: &[&str]| {
        let taken = mark.settled.taken().map(|t| t.0);
        let taken = taken.filter(|t| lists.contains(&t.list.as_str()));
        taken
            .map(|t| t.name.clone())
            .next()
            .or_else(|| leading(mark, lists).map(|p| p.name.clone()))
    };
    let years = years_of(mark, &words);
    let doubts: String = item
        .doubts
        .iter()
        .map(|d| format!(" {} ", d.kind.as_str()))
        .collect();
    let (lines, by_person) = lines_of(mark);
    let before: Option<String> = c
        .prepare_cached("SELECT words FROM traits WHERE mark = ?1")
        .and_then(|mut find| find.query_row([mark.id.0], |r| r.get(0)).optional())
        .map_err(at)?;
    c.prepare_cached(
        "INSERT OR REPLACE INTO traits
           (mark, picture, kind, firm, sale_room, first_year, last_year, doubts, words, lines, by_person)
         SELECT ?1, p.picture, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10 FROM sightings s
         JOIN photographs p ON p.id = s.photograph WHERE s.id = ?1",
    )
    .and_then(|mut put| {
        put.execute(params![
            mark.id.0,
            mark.kind().as_str(),
            named(&["framers", "colourmen", "retailers"]),
            named(&["sale_rooms"]),
            years.map(|y| y.0),
            years.map(|y| y.1),
            doubts,
            words,
            lines.join("\n"),
            by_person
        ])
    })
    .map_err(at)?;
    // Words written anew leave the old ones struck out in the index, which slows every search
    if before.as_deref() != Some(words.as_str()) {
        c.prepare_cached("INSERT OR REPLACE INTO found_words (rowid, words) VALUES (?1, ?2)")
            .and_then(|mut put| put.execute(params![mark.id.0, words]))
            .map_err(at)?;
    }
    Ok(())
}

fn leading<'a>(mark: &'a KeptMark, lists: &[&str]) -> Option<&'a Proposal> {
    let rivals = mark
        .rivals
        .iter()
        .filter(|r| lists.contains(&r.list.as_str()) && mark.settled.on_list(&r.list).is_none());
    let all = rivals.flat_map(|r| &r.proposals);
    all.filter(|p| p.probability >= LIKELY)
        .max_by(|a, b| a.probability.total_cmp(&b.probability))
}

/// The lines of a mark, a person's before the program's, and whether they are a person's.
fn lines_of(mark: &KeptMark) -> (Vec<String>, bool) {
    if let Some(Lettering::Read(lines)) = mark.settled.lettering.as_ref().map(|h| &h.value) {
        let typed = from_typed(&lines.join("\n")).unwrap_or_default();
        return (typed.into_iter().map(|l| l.text).collect(), true);
    }
    let lines = mark.latest().reading.lines.iter();
    (lines.map(|l| l.text.clone()).collect(), false)
}

/// All words of a mark, small letters and figures alone, a blank before and behind each.
fn words_of(mark: &KeptMark) -> String {
    let seen = mark.latest();
    let mut all: Vec<String> = seen.reading.lines.iter().map(|l| l.text.clone()).collect();
    let standing = mark.settled.lettering.iter().map(|h| &h.value);
    let others = mark.settled.answers.iter().map(|a| &a.value.says);
    for says in standing.chain(others) {
        if let Lettering::Read(lines) = says {
            all.extend(lines.iter().cloned());
        }
    }
    all.extend(mark.statements().into_iter().map(|s| s.value));
    all.extend(mark.settled.taken().map(|t| t.0.name.clone()));
    let proposed = mark.rivals.iter().flat_map(|r| &r.proposals);
    let possible = proposed.filter(|p| p.probability >= POSSIBLE);
    all.extend(possible.map(|p| p.name.clone()));
    let mut words: Vec<String> = Vec::new();
    for text in all {
        let text = plain(&text);
        if !text.is_empty() && !words.contains(&text) {
            words.push(text);
        }
    }
    format!(" {} ", words.join("  "))
}

/// The years that stand on a mark, else those of the firm, sale room or exhibition it most likely names.
/// * `words`: as of [`words_of`].
fn years_of(mark: &KeptMark, words: &str) -> Option<(i32, i32)> {
    let figures = words
        .split_whitespace()
        .filter(|w| w.len() == 4)
        .filter_map(|w| w.parse::<i32>().ok());
    let years: Vec<i32> = figures.filter(|y| (1500..2030).contains(y)).collect();
    if let (Some(first), Some(last)) = (years.iter().min(), years.iter().max()) {
        return Some((*first, *last));
    }
    let p = leading(
        mark,
        &[
            "framers",
            "colourmen",
            "retailers",
            "sale_rooms",
            "exhibitions",
        ],
    )?;
    let year = |text: &str| text.get(..4)?.parse::<i32>().ok();
    let (a, b) = (year(&p.not_before), year(&p.not_after));
    Some((a.or(b)?, b.or(a)?))
}

/// The query of the index for one word: as it stands, or any of its parts.
fn query(word: &str, damaged: bool) -> String {
    let letters: Vec<char> = word.chars().collect();
    let quoted = |t: &[char]| format!("\"{}\"", t.iter().collect::<String>());
    if !damaged || letters.len() < SHORTEST {
        // A short word has to stand alone: blanks are letters of the index
        return match letters.len() {
            0..3 => format!("\" {word} \""),
            _ => format!("\"{word}\""),
        };
    }
    let n = letters.len();
    let count = (n / 3).clamp(2, 3);
    let mut parts: Vec<String> = (0..count)
        .map(|i| {
            let (from, to) = (i * n / count, (i + 1) * n / count);
            let from = if to - from < 3 { from.min(n - 3) } else { from };
            quoted(&letters[from..to.max(from + 3)])
        })
        .collect();
    parts.dedup();
    format!("({})", parts.join(" OR "))
}

/// How like the word is to the likest word of a text, 0 to 1.
fn likeness(word: &str, text: &str) -> f64 {
    if text.contains(word) {
        return 1.0;
    }
    text.split_whitespace()
        .map(|t| strsim::normalized_damerau_levenshtein(word, t))
        .fold(0.0, f64::max)
}

impl SqliteStore {
    /// The marks that are wanted, `most` from the `first` (counted from 0) on.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn find_marks(&self, wanted: &Wanted, first: usize, most: usize) -> Result<FoundMarks> {
        let words = plain(&wanted.words);
        let words: Vec<&str> = words.split_whitespace().collect();
        if words.is_empty() {
            return self.page_of(wanted, None, first, most);
        }
        let all = |damaged: bool| {
            let each: Vec<String> = words.iter().map(|w| query(w, damaged)).collect();
            each.join(" AND ")
        };
        let whole = self.page_of(wanted, Some(&all(false)), first, most)?;
        if whole.all > 0 {
            return Ok(whole);
        }
        let mut found: Vec<(f64, MarkId)> = self
            .held(wanted, &all(true))?
            .into_iter()
            .filter_map(|(mark, text)| {
                let each = words.iter().map(|w| match w.chars().count() < SHORTEST {
                    true if text.contains(&format!(" {w} "))
                        || (w.len() > 2 && text.contains(w)) =>
                    {
                        1.0
                    }
                    true => 0.0,
                    false => likeness(w, &text),
                });
                let least = each.fold(1.0, f64::min);
                (least >= LIKE).then_some((least, mark))
            })
            .collect();
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        Ok(FoundMarks {
            all: found.len(),
            marks: found
                .into_iter()
                .skip(first)
                .take(most)
                .map(|f| f.1)
                .collect(),
            damaged: true,
        })
    }

    /// The wordings among which copies of these marks are to be looked for: all of a store of some thousands; of a
    /// larger one those that share the longest words with them, and a sample of the others, by which it is told how
    /// much a word says. What is said to be no mark is left out.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn worded_like(&self, own: &[&KeptMark]) -> Result<Vec<Worded>> {
        let at = |e: rusqlite::Error| self.fault(e);
        let count: i64 = self
            .connection
            .query_row("SELECT count(*) FROM traits", [], |r| r.get(0))
            .map_err(at)?;
        if own.is_empty() || count <= MANY {
            let none = if own.is_empty() { "WHERE 0" } else { "" };
            return self.wordings("traits t", none);
        }
        self.want([])?;
        let mut worded = self
            .connection
            .prepare_cached(
                "INSERT OR IGNORE INTO temp.wanted SELECT rowid FROM found_words
                 WHERE found_words MATCH ?1 ORDER BY rank LIMIT ?2",
            )
            .map_err(at)?;
        for mark in own {
            let lines = mark.latest().reading.lines.iter().map(|l| plain(&l.text));
            let lines = lines.collect::<Vec<_>>().join(" ");
            let mut words: Vec<&str> = lines.split_whitespace().collect();
            words.retain(|w| w.chars().count() >= SHORTEST);
            words.sort_by_key(|w| std::cmp::Reverse(w.chars().count()));
            words.dedup();
            let some = words.iter().take(LONGEST);
            let some: Vec<String> = some.map(|w| query(w, false)).collect();
            if !some.is_empty() {
                worded
                    .execute(params![some.join(" OR "), CANDIDATES])
                    .map_err(at)?;
            }
        }
        self.connection
            .execute(
                "INSERT OR IGNORE INTO temp.wanted SELECT mark FROM traits WHERE mark % ?1 = 0",
                [count / SAMPLE],
            )
            .map_err(at)?;
        // Crossed, so that the few that are wanted lead to the many
        self.wordings("temp.wanted w CROSS JOIN traits t ON t.mark = w.mark", "")
    }

    /// * `from`: rows of `traits t`; `narrow`: a condition on them.
    fn wordings(&self, from: &str, narrow: &str) -> Result<Vec<Worded>> {
        let query = format!(
            "SELECT t.mark, c.name, t.lines, t.by_person FROM {from}
             CROSS JOIN pictures c ON c.id = t.picture
             CROSS JOIN standing s ON s.mark = t.mark AND s.rank <> {NO_MARK} {narrow} ORDER BY t.mark"
        );
        let read = || -> rusqlite::Result<Vec<Worded>> {
            let mut find = self.connection.prepare(&query)?;
            find.query_map([], |r| {
                let lines: String = r.get(2)?;
                Ok(Worded {
                    mark: MarkId(r.get(0)?),
                    picture: r.get(1)?,
                    lines: lines.lines().map(str::to_owned).collect(),
                    by_person: r.get(3)?,
                })
            })?
            .collect()
        };
        read().map_err(|e| self.fault(e))
    }

    /// Pictures of which a mark names this entry by decision of a person: number and name, in order of name.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn naming(&self, list: &str, entry: &str) -> Result<Vec<(i64, String)>> {
        let at = |e: rusqlite::Error| self.fault(e);
        let mut find = self
            .connection
            .prepare_cached(
                "SELECT c.id, c.name FROM taken t JOIN pictures c ON c.id = t.picture
                 WHERE t.list = ?1 AND t.entry = ?2 ORDER BY c.name, c.id",
            )
            .map_err(at)?;
        let rows = find.query_map([list, entry], |r| Ok((r.get(0)?, r.get(1)?)));
        rows.map_err(at)?
            .collect::<rusqlite::Result<_>>()
            .map_err(at)
    }

    /// Firms and sale rooms that marks name, the most frequent first, with how many marks.
    ///
    /// * `sale_rooms`: sale rooms, not firms.
    ///
    /// # Errors
    /// `Kind::Store` if they can't be read.
    pub fn named_most(&self, sale_rooms: bool, most: usize) -> Result<Vec<(String, usize)>> {
        let column = if sale_rooms { "sale_room" } else { "firm" };
        let at = |e: rusqlite::Error| self.fault(e);
        let mut find = self
            .connection
            .prepare_cached(&format!(
                "SELECT {column}, count(*) FROM traits WHERE {column} IS NOT NULL
                 GROUP BY 1 ORDER BY 2 DESC, 1 LIMIT ?1"
            ))
            .map_err(at)?;
        let rows = find
            .query_map([most as i64], |r| {
                Ok((r.get(0)?, r.get::<_, i64>(1)? as usize))
            })
            .map_err(at)?;
        rows.collect::<rusqlite::Result<_>>().map_err(at)
    }

    fn page_of(
        &self,
        wanted: &Wanted,
        query: Option<&str>,
        first: usize,
        most: usize,
    ) -> Result<FoundMarks> {
        let at = |e: rusqlite::Error| self.fault(e);
        let (condition, values) = conditions(wanted, query);
        let from = format!("FROM traits t WHERE {condition}");
        let all: i64 = self
            .connection
            .prepare_cached(&format!("SELECT count(*) {from}"))
            .and_then(|mut q| q.query_row(params_from_iter(values.iter()), |r| r.get(0)))
            .map_err(at)?;
        let mut find = self
            .connection
            .prepare_cached(&format!(
                "SELECT t.mark {from} ORDER BY t.mark LIMIT {most} OFFSET {first}"
            ))
            .map_err(at)?;
        let rows = find
            .query_map(params_from_iter(values.iter()), |r| r.get(0).map(MarkId))
            .map_err(at)?;
        Ok(FoundMarks {
            all: all as usize,
            marks: rows.collect::<rusqlite::Result<_>>().map_err(at)?,
            damaged: false,
        })
    }

    /// Marks that may hold damaged words, with their words.
    fn held(&self, wanted: &Wanted, query: &str) -> Result<Vec<(MarkId, String)>> {
        let at = |e: rusqlite::Error| self.fault(e);
        let (condition, values) = conditions(wanted, Some(query));
        let mut find = self
            .connection
            .prepare_cached(&format!(
                "SELECT t.mark, t.words FROM traits t WHERE {condition} LIMIT {HELD}"
            ))
            .map_err(at)?;
        let rows = find
            .query_map(params_from_iter(values.iter()), |r| {
                Ok((MarkId(r.get(0)?), r.get(1)?))
            })
            .map_err(at)?;
        rows.collect::<rusqlite::Result<_>>().map_err(at)
    }
}

/// The condition on `traits t` with its values.
fn conditions(wanted: &Wanted, query: Option<&str>) -> (String, Vec<Value>) {
    let mut parts = vec!["1".to_owned()];
    let mut values: Vec<Value> = Vec::new();
    let mut add = |part: &str, value: &str| {
        if !value.is_empty() {
            parts.push(part.to_owned());
            values.push(value.to_owned().into());
        }
    };
    add(
        "t.mark IN (SELECT rowid FROM found_words WHERE found_words MATCH ?)",
        query.unwrap_or_default(),
    );
    add("t.kind = ?", &wanted.kind);
    add("t.firm = ?", &wanted.firm);
    add("t.sale_room = ?", &wanted.sale_room);
    let doubt = match wanted.doubt.as_str() {
        "" => String::new(),
        d => format!(" {d} "),
    };
    add("instr(t.doubts, ?) > 0", &doubt);
    if let Some((from, to)) = wanted.years {
        parts.push("t.first_year <= ? AND t.last_year >= ?".into());
        values.extend([i64::from(to).into(), i64::from(from).into()]);
    }
    (parts.join(" AND "), values)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_damaged_word_is_sought_by_parts_one_of_which_stays_whole() {
        assert_eq!(query("87", false), "\" 87 \"");
        assert_eq!(query("wren", true), "\"wren\"");
        let parts = query("wrenfield", true);
        for part in ["\"wre\"", "\"nfi\"", "\"eld\""] {
            assert!(parts.contains(part), "{parts}");
        }
        assert!(likeness("wrenfield", " t wrenfeld ") >= LIKE);
        assert!(likeness("wrenfield", " wren fielding ") < LIKE);
    }
}
