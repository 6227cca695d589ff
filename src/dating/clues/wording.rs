//! Words of a mark, and patterns that stand for runs of them.
//!
//! Matching is by whole words, so that no clue is found within another word. Small and large
//! letters are alike, except that a pattern in capitals (`RBA`) asks for capitals; it also fits
//! the same letters one by one, with or without points (`R.B.A.`, `R. B. A.`).

use unicode_normalization::UnicodeNormalization;

/// One word of a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Token {
    /// First byte in the text.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
    /// Lower case, no accents, no apostrophes.
    pub folded: String,
    /// All letters are capitals, at least one.
    pub capital: bool,
    /// It begins with a capital.
    pub begins: bool,
    /// Line of the text.
    pub line: usize,
}

impl Token {
    /// The number, if it is one.
    pub fn number(&self) -> Option<u32> {
        let digits = !self.folded.is_empty() && self.folded.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| self.folded.parse().ok()).flatten()
    }
}

/// Parts a text into words; `&` is a word.
pub fn tokens(text: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::new();
    let mut line = 0;
    let mut open = false;
    for (at, c) in text.char_indices() {
        let end = at + c.len_utf8();
        let run_on = c == '/' && text[..at].ends_with(' ') && text[end..].starts_with(' ');
        if c == '\n' || run_on {
            line += 1;
            open = false;
        } else if c.is_alphanumeric() {
            let folded: String = c
                .nfkd()
                .filter(|c| c.is_alphanumeric())
                .flat_map(char::to_lowercase)
                .map(|c| if c == 'ſ' { 's' } else { c })
                .collect();
            if let (true, Some(t)) = (open, out.last_mut()) {
                t.folded.push_str(&folded);
                t.end = end;
                t.capital &= !c.is_lowercase();
            } else {
                out.push(Token {
                    start: at,
                    end,
                    folded,
                    capital: !c.is_lowercase(),
                    begins: c.is_uppercase(),
                    line,
                });
                open = true;
            }
        } else if c == '&' {
            out.push(Token {
                start: at,
                end,
                folded: "&".into(),
                capital: true,
                begins: false,
                line,
            });
            open = false;
        } else if matches!(c, '\'' | '’' | '‘' | 'ʼ')
            || unicode_normalization::char::is_combining_mark(c)
        {
            // Within a word
        } else {
            open = false;
        }
    }
    for t in &mut out {
        t.capital &= t.folded.chars().any(char::is_alphabetic);
    }
    out
}

/// One place of a pattern.
#[derive(Debug, Clone, PartialEq)]
enum Piece {
    /// This word.
    Word(String),
    /// These capitals, together or one by one.
    Capitals(String),
    /// A number of so many figures.
    Figures(usize, usize),
    /// These capitals with figures after them in the same word (`EC4`).
    Joined(String),
    /// A word that begins with a capital.
    Capitalised,
}

/// A run of words.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    pieces: Vec<Piece>,
    /// The letter with which its first word begins, where only one can: most words of a text are passed over by it.
    begins: Option<char>,
}

impl Pattern {
    /// Reads a pattern: words, `#` a number, `#1-5` a number of one to five figures, `EC#` figures
    /// joined to capitals, `@` a word with a capital.
    pub fn read(text: &str) -> Pattern {
        let pieces = text
            .split_whitespace()
            .map(|w| {
                if let Some(count) = w.strip_prefix('#') {
                    let (a, b) = count.split_once('-').unwrap_or((count, count));
                    let (a, b) = (a.parse().unwrap_or(1), b.parse().unwrap_or(9));
                    return Piece::Figures(a, b);
                }
                if w == "@" {
                    return Piece::Capitalised;
                }
                if let Some(head) = w.strip_suffix('#') {
                    return Piece::Joined(fold(head));
                }
                let letters = w.chars().filter(|c| c.is_alphabetic()).count();
                if letters > 0 && !w.chars().any(char::is_lowercase) {
                    Piece::Capitals(fold(w))
                } else {
                    Piece::Word(fold(w))
                }
            })
            .collect::<Vec<_>>();
        let begins = pieces.first().and_then(first_letter);
        Pattern { pieces, begins }
    }

    /// A text that it fits.
    pub fn example(&self) -> String {
        let one = |p: &Piece| match p {
            Piece::Word(w) => w.clone(),
            Piece::Capitals(w) => w.to_uppercase(),
            Piece::Figures(a, _) => "7".repeat(*a),
            Piece::Joined(w) => format!("{}4", w.to_uppercase()),
            Piece::Capitalised => "Orme".into(),
        };
        self.pieces.iter().map(one).collect::<Vec<_>>().join(" ")
    }

    /// The token after the match that begins at `at`, if it fits there.
    pub fn fits(&self, text: &str, all: &[Token], at: usize) -> Option<usize> {
        let first = &all.get(at)?.folded;
        if self.begins.is_some_and(|c| !first.starts_with(c)) {
            return None;
        }
        let mut k = at;
        for (i, piece) in self.pieces.iter().enumerate() {
            let t = all.get(k)?;
            if i > 0 && k > at && t.line > all[k - 1].line + 1 {
                return None;
            }
            k = match piece {
                Piece::Word(w) => (t.folded == *w || short(w, &t.folded)).then_some(k + 1)?,
                Piece::Capitals(w) => capitals(text, all, k, w)?,
                Piece::Figures(a, b) => {
                    let fits = t.number().is_some() && (*a..=*b).contains(&t.folded.len());
                    fits.then_some(k + 1)?
                }
                Piece::Joined(w) => {
                    let rest = t.folded.strip_prefix(w.as_str())?;
                    let figures =
                        (1..=2).contains(&rest.len()) && rest.bytes().all(|b| b.is_ascii_digit());
                    (figures && t.capital).then_some(k + 1)?
                }
                Piece::Capitalised => {
                    // A name doesn't begin on the next line
                    let same = k == at || t.line == all[k - 1].line;
                    let word = same && t.begins && t.folded.chars().count() > 1;
                    word.then_some(k + 1)?
                }
            };
        }
        (k > at).then_some(k)
    }
}

/// Short forms that stand for a word wherever it stands in a pattern (common practice).
const SHORT: &[(&str, &[&str])] = &[
    ("&", &["and"]),
    ("railway", &["ry", "rly", "rlwy", "rwy", "railwy"]),
    ("railways", &["rys", "rlys", "rlwys"]),
    ("great", &["gt"]),
    ("society", &["socy", "soc"]),
    ("exhibition", &["exhn", "exhib", "exhibn", "exhbn"]),
    ("institute", &["inst", "instit"]),
    ("academy", &["acad", "acady"]),
    ("national", &["nat", "natl"]),
    ("department", &["dept"]),
    ("gallery", &["gall", "galy"]),
    ("international", &["internatl", "intl"]),
];

/// The letter with which all that fits begins.
fn first_letter(piece: &Piece) -> Option<char> {
    let word = match piece {
        Piece::Word(w) | Piece::Capitals(w) | Piece::Joined(w) => w,
        Piece::Figures(..) | Piece::Capitalised => return None,
    };
    let first = word.chars().next()?;
    let forms = SHORT.iter().filter(|(w, _)| *w == word.as_str());
    let mut forms = forms.flat_map(|(_, forms)| forms.iter());
    forms.all(|form| form.starts_with(first)).then_some(first)
}

fn short(word: &str, read: &str) -> bool {
    SHORT
        .iter()
        .any(|(w, forms)| *w == word && forms.contains(&read))
}

fn fold(text: &str) -> String {
    tokens(text).into_iter().map(|t| t.folded).collect()
}

/// Capitals together or one by one; letters one by one mustn't go on before or after.
fn capitals(text: &str, all: &[Token], at: usize, word: &str) -> Option<usize> {
    let t = &all[at];
    if t.folded == word && t.capital && word.chars().count() > 1 {
        return Some(at + 1);
    }
    let single = |k: usize| {
        all.get(k)
            .is_some_and(|t| t.capital && t.folded.chars().count() == 1)
    };
    let close = |a: usize, b: usize| {
        all[a].line == all[b].line && text[all[a].end..all[b].start].trim_matches(' ') == "."
    };
    let mut k = at;
    for c in word.chars() {
        if !single(k) || !all[k].folded.starts_with(c) {
            return None;
        }
        if k > at && !close(k - 1, k) && !text[all[k - 1].end..all[k].start].trim().is_empty() {
            return None;
        }
        k += 1;
    }
    let before = at > 0 && single(at - 1) && close(at - 1, at);
    let after = single(k) && close(k - 1, k);
    (!before && !after).then_some(k)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(pattern: &str, text: &str) -> bool {
        let all = tokens(text);
        (0..all.len()).any(|i| Pattern::read(pattern).fits(text, &all, i).is_some())
    }

    #[test]
    fn a_pattern_fits_whole_words_only() {
        assert!(found("Ltd", "Poll & Thrupp LTD."));
        assert!(!found("Ltd", "moultd glass"));
        assert!(!found("late", "plate glass"));
    }

    #[test]
    fn capitals_fit_together_or_one_by_one_but_not_as_part_of_more() {
        for text in ["T. Carrow, RBA", "T. Carrow, R.B.A.", "T. Carrow, R. B. A."] {
            assert!(found("RBA", text), "{text}");
        }
        assert!(!found("RA", "T. Carrow, R.A.M."));
        assert!(!found("RBA", "rba"));
    }

    #[test]
    fn an_apostrophe_joins_and_an_ampersand_is_and() {
        assert!(found("Van Diemens Land", "VAN DIEMEN'S LAND"));
        assert!(found("Science & Art", "Science and Art"));
    }

    #[test]
    fn figures_count_their_digits() {
        assert!(found("tel @ #1-5", "Tel. Gerrard 1234"));
        assert!(!found("tel @ #1-3", "Tel. Gerrard 1234"));
    }
}
