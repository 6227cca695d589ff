//! Whether a mark bears the wording of another one: copies of one label on several pictures, of which
//! a clear one helps to read a torn one.
//!
//! The wordings of the other marks are weighed as rows of a list are: the line with the most letters
//! in words that tell names apart (no street) as a name, the others as parts of an address, each of
//! which may be lost; "none of them" competes.

use super::Index;
use super::words::{self, Word};
use crate::gazetteer::{Entry, Gazetteer, List};
use crate::readings::Line;
use std::collections::HashMap;

/// A wording with fewer letters is like too many others.
const LETTERS: usize = 10;

/// Copies of a form with other words in it read nearly alike: no chance is greater.
const SUREST: f64 = 0.99;

/// Name of the list of wordings.
const LIST: &str = "wordings";

/// Wordings of marks, made ready.
#[derive(Debug)]
pub struct Wordings {
    index: Index,
    /// Numbers of the marks that bear each wording.
    bearers: Vec<Vec<usize>>,
}

impl Wordings {
    /// Takes up the lines of each mark, lost letters left out; marks with too few letters bear no
    /// wording.
    pub fn new(marks: &[Vec<String>]) -> Self {
        let mut entries: Vec<Entry> = Vec::new();
        let mut bearers: Vec<Vec<usize>> = Vec::new();
        let mut known: HashMap<String, usize> = HashMap::new();
        for (number, lines) in marks.iter().enumerate() {
            let letters = |l: &String| l.chars().filter(|c| c.is_alphanumeric()).count();
            if lines.iter().map(letters).sum::<usize>() < LETTERS {
                continue;
            }
            let key = lines.join("\n").to_lowercase();
            if let Some(&at) = known.get(&key) {
                bearers[at].push(number);
                continue;
            }
            let telling = |l: &String| {
                let words = words::split(l);
                // A house number or a street stands in an address
                let street = |w: &Word| words::thoroughfares().any(|t| t == *w);
                if l.contains(|c: char| c.is_ascii_digit()) || words.iter().any(street) {
                    return 0;
                }
                let told = words.iter().filter(|w| words::tells(w));
                told.map(Vec::len).sum::<usize>()
            };
            // The first of equals: names stand above towns
            let Some(name) = (0..lines.len()).rev().max_by_key(|&i| telling(&lines[i])) else {
                continue;
            };
            let others = lines.iter().enumerate().filter(|(i, _)| *i != name);
            let plain = |l: &str| l.replace([',', ';'], " ");
            known.insert(key, entries.len());
            bearers.push(vec![number]);
            entries.push(Entry {
                list: LIST.into(),
                entry: entries.len().to_string(),
                name: plain(&lines[name]),
                address: others.map(|(_, l)| plain(l)).collect::<Vec<_>>().join(", "),
                ..Entry::default()
            });
        }
        let list = List {
            name: LIST.into(),
            file: LIST.into(),
            role: None,
            entries: entries.into(),
            digest: None,
        };
        Wordings {
            index: Index::new(Gazetteer { lists: vec![list] }),
            bearers,
        }
    }

    /// Numbers of the marks whose wording this one may bear, each with the chance against "none of
    /// them", greatest first, from `least` on. Wordings that differ little are no rivals here: each is
    /// weighed by itself.
    pub fn like(&self, lines: &[Line], least: f64) -> Vec<(usize, f64)> {
        let Some((rows, none)) = self.index.chances(lines, LIST) else {
            return Vec::new();
        };
        rows.iter()
            .map(|&(row, p)| (row, (p / (p + none)).min(SUREST)))
            .take_while(|(_, p)| *p >= least)
            .flat_map(|(row, p)| self.bearers[row].iter().map(move |&b| (b, p)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::readings::from_typed;

    #[test]
    fn a_torn_copy_finds_the_clear_one_and_another_label_of_the_town_finds_nothing() {
        let mark = |lines: &str| lines.split(" / ").map(str::to_string).collect();
        let marks: Vec<Vec<String>> = vec![
            mark("FROM / THOMAS HARROWBY / CARVER & GILDER / 14 Castle Street / KENDAL"),
            mark("JOSIAH BRIGHT & SON / PRINTSELLERS / 3 Fish Lane / WEXHAM"),
            mark("Exhibited at the Winter Exhibition / No. 214"),
            mark("LOT 7"),
        ];
        let wordings = Wordings::new(&marks);
        let like = |text: &str| wordings.like(&from_typed(text).expect("typed"), 0.8);
        let torn = like("FRO[---] / THOM[---] / CARVER & GI[---] / 14 Cast[---] / KEN[---]");
        assert_eq!(torn.first().map(|t| t.0), Some(0), "{torn:?}");
        let other = like("EDWARD POOLE / CARVER & GILDER / 9 Market Place / KENDAL");
        assert!(other.is_empty(), "{other:?}");
        assert!(like("LOT 7").is_empty());
    }
}
