//! Signs printed, so that parsing them gives the same signs back.

use super::{DOT_BELOW, Extent, Sign, about, fills_out};
use unicode_normalization::UnicodeNormalization;

/// Prints signs, NFC: [`super::parse`] of it gives the same signs back, if letters are single and
/// runs of [`Sign::Illegible`] are joined.
pub fn print_signs(signs: &[Sign]) -> String {
    let mut out = String::new();
    write_signs(signs, false, &mut out);
    out.nfc().collect()
}

/// Within another sign (`nested`) the ends are no word ends.
fn write_signs(signs: &[Sign], nested: bool, out: &mut String) {
    for (i, sign) in signs.iter().enumerate() {
        let before = i.checked_sub(1).map(|k| &signs[k]);
        let after = signs.get(i + 1);
        match sign {
            Sign::Letter(l) => {
                if escape_needed(l, i, signs, nested) {
                    out.push('\\');
                }
                out.push_str(l);
            }
            Sign::Unclear(l) => {
                if l == "." || special(l) {
                    out.push('\\');
                }
                out.push_str(l);
                if !l.trim().is_empty() {
                    out.push(DOT_BELOW);
                }
            }
            Sign::Several(letters) => {
                let all: Vec<String> = letters.iter().map(|l| escaped(l)).collect();
                out.push_str(&format!("[{}]", all.join("/")));
            }
            Sign::Lost(extent) => out.push_str(&match extent {
                Extent::Exactly(n) => format!("[{}]", ".".repeat(*n)),
                Extent::About(n) => format!("[c. {n}]"),
                Extent::Between(a, b) => format!("[{a}-{b}]"),
                Extent::Unknown => "[---]".into(),
                Extent::Lines => "[------]".into(),
            }),
            Sign::Illegible(1) if space(before, nested) && space(after, nested) => {
                out.push('.');
                out.push(DOT_BELOW);
            }
            Sign::Illegible(n) => out.push_str(&"+".repeat(*n)),
            Sign::Supplied { text, sure } => {
                let inner = escape_supplied(text);
                out.push_str(&format!("[{inner}{}]", if *sure { "" } else { "?" }));
            }
            Sign::Omitted(text) => out.push_str(&format!("<{}>", escaped(text))),
            Sign::Surplus(text) => out.push_str(&format!("{{{}}}", escaped(text))),
            Sign::Corrected(text) => out.push_str(&format!("⸢{}⸣", escaped(text))),
            Sign::Expanded(text) => out.push_str(&format!("({text})")),
            Sign::Erased(within) => {
                out.push('⟦');
                write_signs(within, true, out);
                out.push('⟧');
            }
            Sign::Added(within) => {
                out.push('`');
                write_signs(within, true, out);
                out.push('´');
            }
            Sign::Blank(None) if space(before, nested) && space(after, nested) => {
                out.push_str("vac.")
            }
            Sign::Blank(None) => out.push_str("(vac.)"),
            Sign::Blank(Some(n)) => out.push_str(&format!("(vac. {n})")),
        }
    }
}

fn space(sign: Option<&Sign>, nested: bool) -> bool {
    match sign {
        None => !nested,
        Some(Sign::Letter(l)) => l.trim().is_empty(),
        Some(_) => false,
    }
}

fn special(letter: &str) -> bool {
    letter
        .chars()
        .next()
        .is_some_and(|c| "\\[]<>{}⸢⸣⟦⟧`´+".contains(c))
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if "\\[]<>{}⸢⸣⟦⟧`´+/".contains(c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

/// Within square brackets, letters that would be taken for points of loss, dashes, numbers of
/// letters or strokes between letters get a backslash.
fn escape_supplied(text: &str) -> String {
    let shown = escaped(text)
        .replace('.', "\\.")
        .replace('…', "\\…")
        .replace('?', "\\?");
    let bare: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let count = bare
        .chars()
        .all(|c| c.is_ascii_digit() || "-–—".contains(c))
        && bare.contains(['-', '–', '—']);
    if (count || about(&bare).is_some()) && !shown.starts_with('\\') {
        format!("\\{shown}")
    } else {
        shown
    }
}

fn escape_needed(letter: &str, i: usize, signs: &[Sign], nested: bool) -> bool {
    if letter == "+" {
        let before = i.checked_sub(1).map(|k| &signs[k]);
        return !(space(before, nested) && space(signs.get(i + 1), nested));
    }
    let spells = |at: usize, word: &str| {
        let letters: Vec<&str> = signs[at.min(signs.len())..]
            .iter()
            .map_while(|s| match s {
                Sign::Letter(l) => Some(l.as_str()),
                _ => None,
            })
            .take(word.len())
            .collect();
        letters.concat() == word
    };
    if letter == "(" {
        let before = i.checked_sub(1).and_then(|k| signs.get(k));
        return fills_out(before) || spells(i + 1, "vac.");
    }
    special(letter) || spells(i, "vac.")
}
