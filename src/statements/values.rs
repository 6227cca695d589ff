//! Values in normal form.

use super::Role;
use super::hits;
use super::letters::{self, LOST};
use super::lexicon::{self, Class};
use super::lists::Lists;
use super::shapes;
use super::words::Word;

/// A value in normal form, with how it came about.
#[derive(Debug, Clone, PartialEq)]
pub struct Value {
    /// The value.
    pub text: String,
    /// Words with losses that nothing fills, words filled from the lexicon, from the entry.
    pub filled: [usize; 3],
}

/// Numbers of the months by their first letters, in five languages.
const MONTHS: [(&str, u32); 19] = [
    ("jan", 1),
    ("gen", 1),
    ("feb", 2),
    ("fev", 2),
    ("mar", 3),
    ("mae", 3),
    ("maa", 3),
    ("apr", 4),
    ("avr", 4),
    ("jun", 6),
    ("juin", 6),
    ("giu", 6),
    ("jul", 7),
    ("juil", 7),
    ("lug", 7),
    ("aug", 8),
    ("aou", 8),
    ("ago", 8),
    ("mai", 5),
];
/// The others, whose first letters are another's or stand in one language only.
const OTHER_MONTHS: [(&str, u32); 14] = [
    ("may", 5),
    ("mag", 5),
    ("mei", 5),
    ("sep", 9),
    ("set", 9),
    ("7ber", 9),
    ("oct", 10),
    ("okt", 10),
    ("ott", 10),
    ("8ber", 10),
    ("nov", 11),
    ("9ber", 11),
    ("dec", 12),
    ("dez", 12),
];

fn month(word: &str) -> Option<u32> {
    if word.starts_with("dic") || word == "xber" {
        return Some(12);
    }
    let all = OTHER_MONTHS.iter().chain(&MONTHS);
    all.filter(|(m, _)| word.starts_with(m))
        .max_by_key(|(m, _)| m.len())
        .map(|m| m.1)
}

/// A year as EDTF from a word: `1871`, `187X`, `1871/1872`.
fn year(word: &Word) -> Option<String> {
    let signs: String = word
        .letters
        .iter()
        .map(|l| {
            if l.sign == LOST {
                'X'
            } else {
                letters::spell(l.sign)
            }
        })
        .collect();
    let figures = |s: &str| s.chars().all(|c| c.is_ascii_digit());
    let core = word.core();
    let parts: Vec<&str> = core.split(['-', '–', '/']).collect();
    if parts.len() == 2
        && parts.iter().all(|p| figures(p))
        && parts[0].len() == 4
        && parts[1].len() <= 4
    {
        let second = format!("{}{}", &parts[0][..4 - parts[1].len()], parts[1]);
        return Some(format!("{}/{second}", parts[0]));
    }
    let tail = signs.trim_start_matches(|c: char| c.is_ascii_digit());
    let span = signs.len() == 4 && signs.starts_with('1') && tail.chars().all(|c| c == 'X');
    let plain = figures(&signs) && signs.len() == 4 && signs.parse().is_ok_and(shapes::is_year);
    (span || plain).then_some(signs)
}

/// A day, month or year as EDTF.
fn date(words: &[Word]) -> Option<String> {
    let (mut day, mut mon, mut yr, mut about) = (None, None, None, false);
    for w in words {
        let known = lexicon::look_up(w).word;
        let known: String = known.iter().map(|s| letters::spell(*s)).collect();
        let folded = if known.is_empty() { &w.folded } else { &known };
        if let Some(y) = year(w) {
            yr = Some(y);
        } else if matches!(
            folded.as_str(),
            "c" | "ca" | "circa" | "about" | "vers" | "um" | "around"
        ) {
            about = true;
        } else if let Some(m) =
            month(folded).filter(|_| !w.folded.starts_with(|c: char| c.is_ascii_digit()))
        {
            mon = Some(m);
        } else {
            let parts: Vec<&str> = w
                .core()
                .split(['/', '.', '-'])
                .filter(|p| !p.is_empty())
                .collect();
            let numbers: Vec<u32> = parts.iter().filter_map(|p| p.parse().ok()).collect();
            if numbers.len() == 3 && parts[2].len() == 4 {
                (day, mon, yr) = (
                    Some(numbers[0]),
                    Some(numbers[1]),
                    Some(parts[2].to_string()),
                );
            } else {
                let figures: String = w.folded.chars().take_while(char::is_ascii_digit).collect();
                day = figures
                    .parse()
                    .ok()
                    .filter(|d| (1..=31).contains(d))
                    .or(day);
            }
        }
    }
    let yr = yr?;
    Some(match (mon, day) {
        (Some(m), Some(d)) if (1..=12).contains(&m) => format!("{yr}-{m:02}-{d:02}"),
        (Some(m), None) if (1..=12).contains(&m) => format!("{yr}-{m:02}"),
        _ if about => format!("{yr}~"),
        _ => yr,
    })
}

/// A word of a name in the capitals of the word that it stands for.
fn as_written(like: &str, word: &str) -> String {
    let letters: Vec<char> = like.chars().filter(|c| c.is_alphabetic()).collect();
    if letters.len() > 1 && letters.iter().all(|c| c.is_uppercase()) {
        return word.to_uppercase();
    }
    if letters.first().is_some_and(|c| c.is_uppercase()) && word.chars().all(|c| !c.is_uppercase())
    {
        let mut chars = word.chars();
        return chars
            .next()
            .map_or(String::new(), |c| c.to_uppercase().chain(chars).collect());
    }
    word.to_string()
}

/// The text of a word with its losses filled from an entry's names or from the lexicon.
fn filled(w: &Word, names: &[&str], counts: &mut [usize; 3]) -> String {
    let tail: String = w
        .text
        .chars()
        .rev()
        .take_while(|c| matches!(c, ',' | '.' | ';' | ':'))
        .collect::<Vec<_>>()
        .into_iter()
        .rev()
        .collect();
    let whole = |s: &str| {
        letters::split(s).concat() == w.letters.iter().map(|l| l.sign).collect::<Vec<_>>()
    };
    if !w.damaged() && (names.is_empty() || names.iter().any(|n| n.split_whitespace().any(whole))) {
        return w.text.clone();
    }
    let mut best: Option<(f32, &str)> = None;
    let mut shown = hits::Shown::new(w);
    for n in names
        .iter()
        .flat_map(|n| n.split_whitespace())
        .filter(|n| n.len() > 2)
    {
        let p = shown.pair(&letters::split(n).concat(), 14.0);
        if let Some(p) = p.filter(|p| best.is_none_or(|b| p.cost < b.0)) {
            best = Some((p.cost, n));
        }
    }
    if let Some((_, n)) = best {
        counts[2] += 1;
        return as_written(&w.text, n.trim_end_matches([',', '.', ';'])) + &tail;
    }
    if w.damaged() {
        let known = lexicon::look_up(w);
        if known.near {
            counts[1] += 1;
            let text: String = known.word.iter().map(|s| letters::spell(*s)).collect();
            return as_written(&w.text, &text) + &tail;
        }
        counts[0] += 1;
    }
    w.text.clone()
}

fn trimmed(text: &str) -> String {
    let out = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let ends = |c: char| {
        c.is_whitespace()
            || matches!(
                c,
                ',' | ';' | ':' | '.' | '"' | '“' | '”' | '«' | '»' | '=' | '—' | '–' | '-'
            )
    };
    let out = out.trim_matches(ends);
    // A bracket around all of it is no part of the value
    let inner = out
        .strip_prefix('(')
        .map(|s| s.trim_end_matches(')'))
        .unwrap_or(out);
    let open = inner.matches('(').count() < inner.matches(')').count();
    let inner = if open {
        inner.trim_end_matches(')')
    } else {
        inner
    };
    inner.trim_matches(ends).to_string()
}

/// The words of a stretch without courtesies before and letters after the name.
fn name(words: &[Word]) -> &[Word] {
    let signs = |w: &Word| w.letters.iter().map(|l| l.sign).collect::<Vec<u8>>();
    let courtesy =
        |w: &Word| lexicon::exact(&signs(w)) & Class::Courtesy.bit() != 0 && !w.damaged();
    let article = |w: &Word| w.folded == "the" || w.folded == "de" && w.text.starts_with('D');
    let post = |w: &Word| {
        let short = w.text.contains('.') || w.core().chars().all(|c| !c.is_lowercase());
        let esquire = w.folded.starts_with("esq");
        esquire
            || short
                && lexicon::exact(&signs(w)) & Class::Postnominal.bit() != 0
                && w.letters.len() < 5
    };
    let (mut from, mut to) = (0, words.len());
    while from + 1 < to
        && (courtesy(&words[from]) && words[from].letters.len() > 1 || article(&words[from]))
    {
        from += 1;
    }
    // "M. Dubois": a letter is a courtesy only where a whole name follows that isn't a list of initials
    while to > from + 1 && post(&words[to - 1]) {
        to -= 1;
    }
    &words[from..to]
}

/// The value of a stretch of words in a role; `entry`: the row of the entry that it names, if any.
pub fn value(role: Role, words: &[Word], entry: Option<u32>, lists: &Lists) -> Value {
    use Role::*;
    let mut counts = [0usize; 3];
    let found = match role {
        ExhibitionYear => words.iter().find_map(year).or_else(|| date(words)),
        Date | SaleDate => date(words),
        _ => None,
    };
    if let Some(text) = found {
        return Value {
            text,
            filled: counts,
        };
    }
    let named = role.names();
    let words = if named { name(words) } else { words };
    let names: Vec<&str> = entry.map_or(Vec::new(), |row| lists.names_of(row));
    let text: Vec<String> = words
        .iter()
        .map(|w| filled(w, &names, &mut counts))
        .collect();
    let mut text = trimmed(&text.join(" "));
    if role == Owner {
        // "Mrs Farrowby's picture"
        let own = text.strip_suffix("'s").or(text.strip_suffix("’s"));
        text = own.map_or(text.clone(), str::to_string);
    }
    if role == Size {
        text = text.replace(['×', 'X'], "x");
    }
    Value {
        text,
        filled: counts,
    }
}
