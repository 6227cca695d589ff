//! A person's typed reading, with editorial signs, as lines of characters.

use super::leiden::{self, Extent, Sign};
use super::{Character, Line};
use crate::error::{Error, Result};
use crate::geometry::Rect;
use unicode_normalization::UnicodeNormalization;

/// Chance that a letter typed without a sign is right. Set by judgement: people misread and
/// mistype too.
pub const TYPED_CLEAR: f64 = 0.98;

/// Chance that a letter typed with a dot below is right. Set by judgement.
pub const TYPED_UNCLEAR: f64 = 0.7;

/// Lines of a typed reading: parted by line breaks, or by ` / ` or ` | `.
///
/// Only what stands on the object becomes a letter: a letter supplied by the reader is a lost
/// position, filled-out abbreviations and letters left out by the writer are no positions at all;
/// struck-out letters and those added in old time are letters. A loss between 3 and 5 is three lost
/// positions and two that perhaps aren't there (an alternative "" of 0.5). Bounds are empty
/// rectangles. Empty lines are left out.
///
/// ```
/// let lines = dorso_seeing::readings::from_typed("THACK[..]AY & SON / Kendal")?;
/// assert_eq!(lines.len(), 2);
/// assert_eq!(lines[0].leiden, "THACK[..]AY & SON");
/// assert_eq!(lines[0].text, "THACKAY & SON");
/// # Ok::<(), dorso_seeing::Error>(())
/// ```
///
/// # Errors
/// `Kind::Text` naming line and character of a sign that can't be understood.
pub fn from_typed(text: &str) -> Result<Vec<Line>> {
    let run_on = text.replace(" / ", "\n").replace(" | ", "\n");
    let mut out = Vec::new();
    for (n, row) in run_on.lines().enumerate() {
        let row: String = row.split_whitespace().collect::<Vec<_>>().join(" ");
        if row.is_empty() {
            continue;
        }
        let signs = leiden::parse(&row).map_err(|e| {
            Error::new(
                e.kind,
                format!("line {}, {}", n + 1, e.place),
                e.what,
                e.next,
            )
        })?;
        let mut characters = Vec::new();
        add(&signs, &mut characters);
        let none = Rect::new(0, 0, 0, 0);
        let mut line = Line::from_characters(characters, none, none);
        line.leiden = row.nfc().collect();
        out.push(line);
    }
    Ok(out)
}

fn add(signs: &[Sign], out: &mut Vec<Character>) {
    for sign in signs {
        match sign {
            Sign::Letter(l) => out.push(Character::sure(l, TYPED_CLEAR)),
            Sign::Unclear(l) => out.push(Character::sure(l, TYPED_UNCLEAR)),
            Sign::Several(all) => {
                let share = TYPED_CLEAR / all.len() as f64;
                out.push(Character {
                    text: all[0].clone(),
                    confidence: share,
                    alternatives: all[1..].iter().map(|l| (l.clone(), share)).collect(),
                });
            }
            Sign::Lost(Extent::Exactly(n)) | Sign::Illegible(n) => lost(*n, out),
            Sign::Lost(Extent::About(n)) => {
                let spread = n.div_ceil(4);
                lost(n - spread, out);
                perhaps(2 * spread, out);
            }
            Sign::Lost(Extent::Between(a, b)) => {
                lost(*a, out);
                perhaps(b - a, out);
            }
            Sign::Lost(Extent::Unknown | Extent::Lines) => out.push(Character::stretch()),
            Sign::Supplied { text, .. } => lost(text.chars().count(), out),
            Sign::Surplus(text) => {
                out.extend(
                    text.chars()
                        .map(|c| Character::sure(&c.to_string(), TYPED_CLEAR)),
                );
            }
            Sign::Corrected(text) => {
                out.extend(
                    text.chars()
                        .map(|c| Character::sure(&c.to_string(), TYPED_UNCLEAR)),
                );
            }
            Sign::Omitted(_) | Sign::Expanded(_) => {}
            Sign::Erased(within) | Sign::Added(within) => add(within, out),
            Sign::Blank(_) => out.push(Character::sure(" ", TYPED_CLEAR)),
        }
    }
}

fn lost(n: usize, out: &mut Vec<Character>) {
    out.extend(std::iter::repeat_with(Character::lost).take(n));
}

fn perhaps(n: usize, out: &mut Vec<Character>) {
    out.extend(
        std::iter::repeat_with(|| Character {
            alternatives: vec![(String::new(), 0.5)],
            ..Character::lost()
        })
        .take(n),
    );
}
