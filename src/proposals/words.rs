//! Words of entries: what may stand on a label for each word of a listed name, address or town.
//!
//! Abbreviations by the trade's usage (William: Wm, W; Street: St, Str) are alternatives with a
//! chance each, so both sides may be long or short. Trade words are set apart: they support an
//! entry, they never identify one. Forms from memory; common practice.

use super::letters;
use super::vocabulary::{
    AFTER_AND, DATES_AND_ROOMS, GIVEN, HEADS, LABEL_FILLING, OFTEN, PLACES, SHORT, THOROUGHFARES,
    TRADE_FILLING, TRADES,
};

/// A folded word.
pub type Word = Vec<u8>;

/// Folds text into words: letters, digits and ampersands; apostrophes join, all else parts.
pub fn split(text: &str) -> Vec<Word> {
    let mut out: Vec<Word> = Vec::new();
    let mut open = false;
    for c in text.chars() {
        if matches!(c, '\'' | '’' | '‘' | 'ʼ') {
            continue;
        }
        let signs = letters::fold(c.encode_utf8(&mut [0; 4]));
        if signs.is_empty() {
            // Combining signs belong to the letter before them
            open = open && unicode_normalization::char::is_combining_mark(c);
            continue;
        }
        if signs == [letters::AMPERSAND] {
            out.push(signs);
            open = false;
        } else if open {
            if let Some(last) = out.last_mut() {
                last.extend(signs);
            }
        } else {
            out.push(signs);
            open = true;
        }
    }
    out
}

/// A word as plain text.
pub fn spell(word: &[u8]) -> String {
    word.iter().map(|&i| letters::sign(i)).collect()
}

/// What may stand for one word.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices {
    /// Folded words, each with its chance.
    pub words: Vec<(Word, f32)>,
    /// Chance that it is left out.
    pub dropped: f32,
}

/// Where a word stands; a "St" before a name is a saint, after it a street.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Field {
    /// Name of a firm, person or society.
    Name,
    /// Premises.
    Address,
    /// Town.
    Town,
}

fn folded(text: &str) -> Word {
    text.chars().filter_map(letters::index).collect()
}

fn plain(words: &[(&str, f32)], dropped: f32) -> Choices {
    Choices {
        words: words.iter().map(|(w, p)| (folded(w), *p)).collect(),
        dropped,
    }
}

/// What may stand on a label for the word at place `at` of a field's words.
pub fn choices(words: &[Word], at: usize, field: Field) -> Choices {
    let word = spell(&words[at]);
    let last = at + 1 == words.len();
    let text = word.as_str();
    if text == "&" || text == "and" {
        return plain(&[("&", 0.62), ("and", 0.3)], 0.06);
    }
    if matches!(
        text,
        "the" | "of" | "messrs" | "mr" | "mrs" | "miss" | "at" | "no" | "late"
    ) {
        return plain(&[(text, 0.6)], 0.4);
    }
    if field == Field::Name {
        if let Some(c) = given(text, words.len()) {
            return c;
        }
        if words[at].len() == 1 && words.len() > 1 && words[at][0] < 26 {
            return initial(words[at][0]);
        }
    }
    if text == "st" {
        return if field == Field::Address && last && at > 0 {
            plain(&[("st", 0.5), ("street", 0.43), ("str", 0.04)], 0.03)
        } else {
            plain(&[("st", 0.75), ("saint", 0.2), ("street", 0.03)], 0.02)
        };
    }
    for table in [SHORT, PLACES] {
        for (long, short) in table {
            let shorts: Vec<&str> = short.split(' ').collect();
            if *long == text || shorts.contains(&text) {
                if words[at].len() == 1 && *long != text {
                    continue;
                }
                let mut all = vec![(*long, 0.45)];
                all.extend(shorts.iter().map(|s| (*s, 0.48 / shorts.len() as f32)));
                let style = matches!(
                    *long,
                    "company"
                        | "brothers"
                        | "limited"
                        | "successors"
                        | "successor"
                        | "junior"
                        | "senior"
                );
                let dropped = match field {
                    Field::Name if style => 0.06,
                    Field::Name => 0.008,
                    _ => 0.03,
                };
                return plain(&all, dropped);
            }
        }
    }
    let style = matches!(text, "son" | "sons" | "nephew" | "partners");
    let digits = words[at].iter().all(|&i| (26..36).contains(&i));
    let dropped = match field {
        Field::Name if style => 0.06,
        Field::Name if stands_alone(words, at) => BARE,
        Field::Name => 0.004,
        Field::Address if digits => 0.06,
        Field::Address => 0.004,
        Field::Town => 0.01,
    };
    Choices {
        words: vec![(words[at].clone(), 1.0 - dropped)],
        dropped,
    }
}

/// Chance that the one telling word of a name is left out while the rest of it stands there: then
/// the rest ("& Daughters") is another firm's.
const BARE: f32 = 1e-5;

/// Whether no other word of a name tells one firm from another.
fn stands_alone(words: &[Word], at: usize) -> bool {
    tells(&words[at])
        && words
            .iter()
            .enumerate()
            .all(|(i, word)| i == at || !tells(word))
}

/// Whether a word of a name tells one firm from another: it is no initial, no given name, nothing of
/// a firm's style, no trade and no filling.
pub fn tells(word: &Word) -> bool {
    let text = spell(word);
    let text = text.as_str();
    word.len() > 1 && given(text, 2).is_none() && !LABEL_FILLING.contains(&text) && !is_trade(word)
}

fn given(text: &str, count: usize) -> Option<Choices> {
    if count < 2 {
        return None;
    }
    let (long, short) = GIVEN
        .iter()
        .find(|(l, s)| *l == text || s.split(' ').any(|x| x == text))?;
    let shorts: Vec<&str> = short.split(' ').filter(|s| !s.is_empty()).collect();
    let full = if shorts.is_empty() { 0.7 } else { 0.45 };
    let mut words = vec![(folded(long), full)];
    words.extend(
        shorts
            .iter()
            .map(|s| (folded(s), 0.25 / shorts.len() as f32)),
    );
    words.push((folded(&long[..1]), 0.22));
    Some(Choices {
        words,
        dropped: 0.05,
    })
}

/// What may stand for a listed given name of a person whose other habits of being named are forms of their own.
pub fn given_of_person(word: &Word) -> Choices {
    if word.len() == 1 && word[0] < 26 {
        return initial(word[0]);
    }
    let mut out = short_of_person(word);
    if let Some(known) = given(&spell(word), 2) {
        out.words = known.words;
    }
    out
}

/// What may stand for a name or initial that stands for a listed given name: nothing else.
pub fn short_of_person(word: &Word) -> Choices {
    let mut words = vec![(word.clone(), 0.9)];
    if word.len() > 1 {
        words.push((word[..1].to_vec(), 0.05));
    }
    Choices {
        words,
        dropped: 0.05,
    }
}

/// What may stand for a word of a person's surname, without which it is another person's.
pub fn surname(word: &Word) -> Choices {
    Choices {
        words: vec![(word.clone(), 1.0 - BARE)],
        dropped: BARE,
    }
}

/// Whether the word is an initial or a given name, behind which a person's name goes on.
pub fn begins_a_person(word: &[u8]) -> bool {
    is_given(word) || word.len() == 1 && word[0] < 26
}

/// Whether the word is a given name or short for one.
pub fn is_given(word: &[u8]) -> bool {
    word.len() > 1 && given(&spell(word), 2).is_some()
}

/// Whether a word in small letters is a given name or a short form of one.
pub fn is_given_name(word: &str) -> bool {
    GIVEN
        .iter()
        .any(|(l, s)| *l == word || s.split(' ').any(|x| x == word))
}

/// An initial in a list may be written out on the mark.
fn initial(letter: u8) -> Choices {
    let names: Vec<&str> = GIVEN
        .iter()
        .map(|(l, _)| *l)
        .filter(|l| letters::index(l.as_bytes()[0] as char) == Some(letter))
        .collect();
    let alone = if names.is_empty() { 0.92 } else { 0.65 };
    let mut words = vec![(vec![letter], alone)];
    words.extend(names.iter().map(|n| (folded(n), 0.27 / names.len() as f32)));
    Choices {
        words,
        dropped: 0.05,
    }
}

/// Trades named in words, one bit each.
pub fn trades(words: &[Word]) -> u32 {
    let mut bits = 0;
    for w in words {
        let text = spell(w);
        for (k, (_, list)) in TRADES.iter().enumerate() {
            if list.contains(&text.as_str()) {
                bits |= 1 << k;
            }
        }
    }
    bits
}

/// Whether the trade column says that the entry is a place.
pub fn is_place(trade: &str) -> bool {
    split(trade).iter().any(|w| {
        matches!(
            spell(w).as_str(),
            "town"
                | "city"
                | "village"
                | "borough"
                | "burgh"
                | "parish"
                | "hamlet"
                | "suburb"
                | "locality"
                | "settlement"
        )
    })
}

/// Whether a word describes a trade.
pub fn is_trade(word: &[u8]) -> bool {
    let text = spell(word);
    TRADE_FILLING.contains(&text.as_str()) || TRADES.iter().any(|(_, l)| l.contains(&text.as_str()))
}

/// Words that name nobody: trades, thoroughfares and what fills the lines of labels.
pub fn filling() -> impl Iterator<Item = Word> {
    TRADES
        .iter()
        .flat_map(|(_, list)| list.iter())
        .chain(TRADE_FILLING)
        .chain(THOROUGHFARES)
        .chain(LABEL_FILLING)
        .map(|w| folded(w))
}

fn among(table: &[(&str, f32)], word: &[u8]) -> Option<f32> {
    let text = spell(word);
    table.iter().find(|(w, _)| *w == text).map(|(_, x)| *x)
}

/// How often a word that any label may bear stands there, against others of the kind.
pub fn often(word: &[u8]) -> f32 {
    among(OFTEN, word).unwrap_or(1.0)
}

/// Chance that the word follows the "&" of a firm's name.
pub fn after_and(word: &[u8]) -> f32 {
    among(AFTER_AND, word).unwrap_or(0.0)
}

/// Whether the word is "&" or "and".
pub fn is_and(word: &[u8]) -> bool {
    matches!(spell(word).as_str(), "&" | "and")
}

/// The words for thoroughfares, folded.
pub fn thoroughfares() -> impl Iterator<Item = Word> {
    THOROUGHFARES.iter().map(|w| folded(w))
}

/// Whether the word is a month or names rooms: it dates or places what the mark is about.
pub fn dates_or_places(word: &[u8]) -> bool {
    DATES_AND_ROOMS.contains(&spell(word).as_str())
}

/// Whether what follows the word in its line is told of the picture, its painter or its owner and names no
/// firm: "Title", "Artist", "Price".
pub fn heads(word: &[u8]) -> bool {
    HEADS.contains(&spell(word).as_str())
}

/// Whether a name may well begin after the word in its line: trades and what fills the lines.
pub fn leads(word: &[u8]) -> bool {
    is_trade(word) || LABEL_FILLING.contains(&spell(word).as_str())
}

/// Whether a name follows the word wherever it stands in its line: "Presented by", "of Mr".
pub fn introduces(word: &[u8]) -> bool {
    matches!(
        spell(word).as_str(),
        "by" | "mr" | "mrs" | "miss" | "messrs"
    )
}

/// Words after or before a name that belong to the firm's style, so that the name goes on.
pub fn continues(word: &[u8]) -> bool {
    matches!(
        spell(word).as_str(),
        "&" | "and"
            | "son"
            | "sons"
            | "co"
            | "company"
            | "bros"
            | "brothers"
            | "ltd"
            | "limited"
            | "late"
            | "junr"
            | "successors"
            | "successor"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn forms(text: &str, at: usize, field: Field) -> Vec<String> {
        let words = split(text);
        choices(&words, at, field)
            .words
            .iter()
            .map(|(w, _)| spell(w))
            .collect()
    }

    #[test]
    fn given_names_may_stand_abbreviated_or_as_initials() {
        let all = forms("William Harrowby", 0, Field::Name);
        for f in ["william", "wm", "w"] {
            assert!(all.contains(&f.to_string()), "{f}");
        }
        assert!(forms("Thos. Harrowby", 0, Field::Name).contains(&"thomas".to_string()));
        assert!(forms("W. Harrowby", 0, Field::Name).contains(&"william".to_string()));
    }

    #[test]
    fn the_one_telling_word_of_a_name_is_hardly_ever_left_out() {
        let dropped = |text: &str, at| choices(&split(text), at, Field::Name).dropped;
        assert_eq!(dropped("Harrowby & Daughters", 0), BARE);
        assert_eq!(dropped("Wm Harrowby & Co", 1), BARE);
        assert!(dropped("Harrowby & Thrale", 0) > BARE);
        assert!(dropped("Harrowby & Daughters", 2) > BARE);
    }

    #[test]
    fn a_st_after_a_name_is_a_street_and_before_it_a_saint() {
        assert!(forms("49 Dorset St", 2, Field::Address).contains(&"street".to_string()));
        assert!(forms("St Ann's Court", 0, Field::Address).contains(&"saint".to_string()));
    }

    #[test]
    fn chances_of_the_forms_of_a_word_sum_to_at_most_one() {
        for text in [
            "William Robert Adair & Co",
            "J. & W. Poole Bros Ltd",
            "St John Street",
            "The Gallery of Arts",
        ] {
            let words = split(text);
            for field in [Field::Name, Field::Address, Field::Town] {
                for at in 0..words.len() {
                    let c = choices(&words, at, field);
                    let sum: f32 = c.words.iter().map(|w| w.1).sum::<f32>() + c.dropped;
                    assert!(sum <= 1.001 && sum > 0.8, "{text} {at} {sum}");
                }
            }
        }
    }
}
