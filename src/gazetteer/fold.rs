//! Names and addresses reduced to what tells one firm or house from another, for finding rows that
//! say the same. Matching a mark does its own, finer reduction.

use super::Entry;
use unicode_normalization::UnicodeNormalization;

/// Lower case without accents and signs; words parted by one blank.
pub fn plain(text: &str) -> String {
    let mut out = String::new();
    for c in text.nfd().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            out.push(c);
        } else if c == '&' {
            out.push_str(" and ");
        } else if !matches!(c, '\'' | '’' | '.') && !('\u{300}'..='\u{36f}').contains(&c) {
            out.push(' ');
        } else if c == '.' {
            // "W.A." is two initials, "Co." one word.
            out.push(' ');
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether a text holds all of these words, which are plain already, anywhere within its own.
pub fn holds(text: &str, words: &[&str]) -> bool {
    let text = plain(text);
    words.iter().all(|w| text.contains(w))
}

/// Common abbreviations of a style or an address, in full.
fn long(word: &str) -> &str {
    match word {
        "st" | "str" => "street",
        "rd" => "road",
        "sq" | "sqr" => "square",
        "pl" => "place",
        "gt" => "great",
        "lr" => "lower",
        "upr" => "upper",
        "co" => "company",
        "ltd" | "limd" => "limited",
        "bros" => "brothers",
        "messrs" | "the" | "and" | "no" | "nos" => "",
        w => w,
    }
}

fn folded(text: &str) -> String {
    plain(text)
        .split(' ')
        .map(long)
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// A row's name, address and town, folded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Form {
    /// Name.
    pub name: String,
    /// Address.
    pub address: String,
    /// Town.
    pub town: String,
}

impl Form {
    /// Of an entry.
    pub fn of(e: &Entry) -> Form {
        Form {
            name: folded(&e.name),
            address: folded(&e.address),
            town: folded(&e.town),
        }
    }

    /// Whether the names are two spellings of one, or one has initials for the other's forenames.
    pub fn alike(&self, other: &Form, threshold: f64) -> bool {
        let (a, b) = (&self.name, &other.name);
        strsim::jaro_winkler(a, b) >= threshold || initials(a, b) || initials(b, a)
    }
}

/// Whether `short` has the words of `long`, all but the last as initials: "j smith", "john smith".
fn initials(short: &str, long: &str) -> bool {
    let (s, l): (Vec<&str>, Vec<&str>) = (short.split(' ').collect(), long.split(' ').collect());
    s.len() == l.len()
        && s.len() > 1
        && s.last() == l.last()
        && s.iter()
            .zip(&l)
            .all(|(a, b)| a == b || (a.chars().count() == 1 && b.starts_with(a)))
}
