//! The one table that turns a chance into words, and the check that no sentence says more.
//!
//! "probably" and "possibly" are the words of provenance notes for fair and for thin evidence
//! (Yeide, Akinsha and Walsh, *The AAM Guide to Provenance Research*, 2001); the other words and
//! the limits between them are our own.

use crate::chance::clamp;
use crate::decisions::two;

/// A chance from `least` upwards is worded so; greatest first.
pub const WORDS: [(f64, &str); 5] = [
    (0.95, "very probably"),
    (0.75, "probably"),
    (0.40, "perhaps"),
    (0.10, "possibly"),
    (0.0, "hardly"),
];

/// A running sentence states plainly what has this chance or more, nineteen times in twenty right, as
/// an entry does; its chance stands in the tables.
pub const PLAIN: f64 = WORDS[0].0;

/// Words that state a thing as certain; none may stand in a sentence that rests on a chance.
pub const CERTAIN: [&str; 14] = [
    "certain",
    "certainly",
    "clearly",
    "confirmed",
    "confirms",
    "definitely",
    "doubtless",
    "establishes",
    "evidently",
    "known",
    "obviously",
    "proves",
    "surely",
    "undoubtedly",
];

/// The words for a chance.
///
/// ```
/// use dorso_telling::note::certainty::likely;
/// assert_eq!(likely(0.97), "very probably");
/// assert_eq!(likely(0.949), "probably");
/// ```
pub fn likely(p: f64) -> &'static str {
    let p = clamp(p);
    WORDS
        .iter()
        .find(|(least, _)| p >= *least)
        .map_or("hardly", |(_, w)| w)
}

/// The words as a running sentence has them, with a space behind; empty for what is told plainly.
pub fn word(p: f64) -> String {
    unless_plain(p, likely(p).into())
}

/// The same with the number.
pub fn doubt(p: f64) -> String {
    unless_plain(p, with_number(p))
}

fn unless_plain(p: f64, words: String) -> String {
    match p >= PLAIN {
        true => String::new(),
        false => words + " ",
    }
}

/// The words with the number: "probably (0.81)".
pub fn with_number(p: f64) -> String {
    format!("{} ({})", likely(p), two(p))
}

/// What a sentence says beyond its chance, or leaves unsaid; `None` if it keeps to the table.
///
/// A sentence that rests on a chance below [`PLAIN`] must hold the words of that chance (or of a smaller
/// one); none may hold those of a greater, or one of [`CERTAIN`]. Words with a figure behind them, "very probably (0.97)", tell
/// a part of the sentence and are held to that figure. What stands in double quotation marks is
/// somebody else's wording and isn't looked at.
///
/// * `p`: the least of the chances behind it.
pub fn fault(sentence: &str, p: f64) -> Option<String> {
    let own: String = unquoted(sentence).to_lowercase();
    let word = |c: char| c.is_alphanumeric() || c == '\'';
    let words: Vec<&str> = own.split(|c| !word(c)).filter(|w| !w.is_empty()).collect();
    if let Some(w) = words.iter().find(|w| CERTAIN.contains(w)) {
        return Some(format!("\"{w}\" states it as certain"));
    }
    let row_of = |p: f64| WORDS.iter().position(|(_, w)| *w == likely(p)).unwrap_or(0);
    let at = row_of(p);
    let mut hedged = false;
    const DOUBT: [&str; 4] = ["probably", "perhaps", "possibly", "hardly"];
    let found = DOUBT.iter().flat_map(|w| own.match_indices(w));
    let whole = |(start, found): &(usize, &str)| {
        let end = own[start + found.len()..].chars().next();
        !own[..*start].chars().next_back().is_some_and(word) && !end.is_some_and(word)
    };
    for (start, found) in found.filter(whole) {
        let row = match found {
            "probably" if own[..start].trim_end().ends_with("very") => 0,
            "probably" => 1,
            "perhaps" => 2,
            "possibly" => 3,
            _ => 4,
        };
        let limit = figure(&own[start + found.len()..]).map_or(at, row_of);
        if row < limit {
            let said = WORDS[row].1;
            return Some(format!("\"{said}\" is more than a chance of {}", two(p)));
        }
        hedged |= row >= at;
    }
    (!hedged && p < PLAIN).then(|| format!("no word tells that its chance is {}", two(p)))
}

/// The figure in brackets right behind a word of doubt: "(0.97)", "(>0.99 or more)".
fn figure(behind: &str) -> Option<f64> {
    let inside = behind.strip_prefix(" (")?.split(')').next()?;
    let number = inside.trim_start_matches(['>', '<']);
    number.split(' ').next()?.parse().ok()
}

/// The text without what stands in double quotation marks.
fn unquoted(text: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in text.chars() {
        match c {
            '\u{201c}' => inside = true,
            '\u{201d}' => inside = false,
            '"' => inside = !inside,
            _ if !inside => out.push(c),
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn each_limit_of_the_table_belongs_to_the_stronger_word() {
        for pair in WORDS.windows(2) {
            let (least, word) = pair[0];
            assert_eq!(likely(least), word);
            assert_eq!(likely(least - 1e-9), pair[1].1);
        }
    }

    #[test]
    fn a_sentence_that_says_more_than_its_chance_is_found_out() {
        assert!(fault("It probably names Orme.", 0.5).is_some());
        assert!(fault("It very probably names Orme.", 0.9).is_some());
        assert!(fault("It names Orme.", 0.94).is_some());
        assert_eq!(fault("It names Orme.", 0.95), None);
        assert!(fault("It certainly, perhaps, names Orme.", 0.5).is_some());
        assert_eq!(fault("It perhaps names Orme.", 0.5), None);
        assert_eq!(fault("It possibly names Orme.", 0.5), None);
        let parts = "Shown: very probably (0.95) Orme, perhaps (0.51) 1891.";
        assert_eq!(fault(parts, 0.51), None);
        assert!(fault(parts, 0.3).is_some());
        assert!(fault("Shown: very probably (0.90) Orme, perhaps 1891.", 0.51).is_some());
        assert_eq!(fault("It perhaps reads \u{201c}surely\u{201d}.", 0.5), None);
    }

    proptest! {
        #[test]
        fn a_greater_chance_is_never_worded_more_weakly(a in 0.0f64..=1.0, b in 0.0f64..=1.0) {
            let row = |p| WORDS.iter().position(|(_, w)| *w == likely(p)).unwrap();
            prop_assert!(a < b || row(a) <= row(b));
        }

        #[test]
        fn the_words_for_a_chance_are_never_found_at_fault(p in 0.0f64..=1.0) {
            let sentence = format!("It {} names Orme.", with_number(p));
            prop_assert_eq!(fault(&sentence, p), None);
        }
    }
}
