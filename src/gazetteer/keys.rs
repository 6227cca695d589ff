//! Keys for rows that have none.

use std::collections::{HashMap, HashSet};
use unicode_normalization::UnicodeNormalization;

/// Makes keys such as `badger-eatwell-london-2` that no row has.
#[derive(Debug, Clone, Default)]
pub struct Keys {
    taken: HashSet<String>,
    next: HashMap<String, usize>,
}

impl Keys {
    /// From the keys in use.
    pub fn new<'a>(taken: impl IntoIterator<Item = &'a str>) -> Self {
        Keys {
            taken: taken.into_iter().map(str::to_string).collect(),
            next: HashMap::new(),
        }
    }

    /// A key for that name in that town; it is taken from then on.
    pub fn fresh(&mut self, name: &str, town: &str) -> String {
        let stem = [slug(name), slug(town)]
            .into_iter()
            .filter(|s| !s.is_empty())
            .collect::<Vec<_>>()
            .join("-");
        let stem = if stem.is_empty() {
            "entry".to_string()
        } else {
            stem
        };
        let key = self.number(&stem);
        self.taken.insert(key.clone());
        key
    }

    /// The next free key beside one in use: `badger-london-1` gives `badger-london-3` where 2 is
    /// taken too.
    pub fn next_to(&mut self, key: &str) -> String {
        let stem = key
            .rsplit_once('-')
            .filter(|(_, n)| n.bytes().all(|b| b.is_ascii_digit()) && !n.is_empty())
            .map_or(key, |(s, _)| s)
            .to_string();
        self.number(&stem)
    }

    fn number(&mut self, stem: &str) -> String {
        let next = self.next.entry(stem.to_string()).or_insert(1);
        loop {
            let key = format!("{stem}-{next}");
            if !self.taken.contains(&key) {
                return key;
            }
            *next += 1;
        }
    }
}

/// Lower-case letters, digits and hyphens; accents dropped; words of a firm's style left out.
fn slug(text: &str) -> String {
    let plain: String = text
        .nfd()
        .filter(|c| !('\u{300}'..='\u{36f}').contains(c) && *c != '\'' && *c != '’')
        .flat_map(char::to_lowercase)
        .collect();
    let words: Vec<String> = plain
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_string)
        .collect();
    let idle = |w: &&String| {
        !matches!(
            w.as_str(),
            "and" | "co" | "company" | "ltd" | "limited" | "limd" | "messrs" | "the" | "of"
        ) && w.chars().count() > 1
    };
    let kept: Vec<&String> = words.iter().filter(idle).collect();
    let kept: Vec<&str> = if kept.is_empty() {
        words.iter().map(String::as_str).collect()
    } else {
        kept.into_iter().map(String::as_str).collect()
    };
    let mut out = String::new();
    for w in kept {
        if !out.is_empty() && out.len() + w.len() > 40 {
            break;
        }
        if !out.is_empty() {
            out.push('-');
        }
        out.push_str(w);
    }
    out
}
