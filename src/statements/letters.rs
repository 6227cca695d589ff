//! Letters folded, and what it costs that one is read as another.
//!
//! Which sign is read for which was counted on made marks and on real lines (`proposals/confusions.csv`, see there);
//! a sign that wasn't counted has the share that all signs have.

use std::sync::OnceLock;
use unicode_normalization::UnicodeNormalization;

/// Number of folded signs: a to z, 0 to 9, &.
pub const SIGNS: usize = 37;
/// A lost letter.
pub const LOST: u8 = 37;
/// Lost letters of unknown number.
pub const STRETCH: u8 = 38;

const COUNTED: &str = include_str!("../proposals/confusions.csv");

/// Index of a folded sign.
pub fn index(c: char) -> Option<u8> {
    match c {
        'a'..='z' => Some(c as u8 - b'a'),
        '0'..='9' => Some(c as u8 - b'0' + 26),
        '&' => Some(36),
        _ => None,
    }
}

/// The sign of an index, `?` for a lost letter, `*` for several.
pub fn spell(i: u8) -> char {
    match i {
        0..26 => (b'a' + i) as char,
        26..36 => (b'0' + i - 26) as char,
        36 => '&',
        LOST => '?',
        _ => '*',
    }
}

/// Folds one user-perceived character: lower case, no accents, ligatures written out; fractions and other signs
/// give nothing.
pub fn fold(text: &str) -> Vec<u8> {
    let mut out = Vec::new();
    for c in text.nfd().flat_map(char::to_lowercase) {
        match c {
            'æ' => out.extend([0, 4]),
            'œ' => out.extend([14, 4]),
            'ß' => out.extend([18, 18]),
            'ſ' => out.push(18),
            'ø' => out.push(14),
            'ł' => out.push(11),
            c => out.extend(index(c)),
        }
    }
    out
}

/// Folds a text into words of letters, digits and ampersands; apostrophes and full stops within a word join.
pub fn split(text: &str) -> Vec<Vec<u8>> {
    if text.is_ascii() {
        return parted(text.chars());
    }
    parted(text.nfc())
}

fn parted(text: impl Iterator<Item = char>) -> Vec<Vec<u8>> {
    let mut out: Vec<Vec<u8>> = Vec::new();
    let mut open = false;
    for c in text {
        // Most signs need no folding
        let (plain, folded);
        let signs: &[u8] = if c.is_ascii() {
            plain = index(c.to_ascii_lowercase());
            plain.as_slice()
        } else {
            folded = fold(c.encode_utf8(&mut [0; 4]));
            &folded
        };
        if signs == [36] {
            out.push(signs.to_vec());
            open = false;
        } else if signs.is_empty() {
            open = open
                && (matches!(c, '\'' | '’' | '.')
                    || unicode_normalization::char::is_combining_mark(c));
        } else if open && let Some(last) = out.last_mut() {
            last.extend(signs);
        } else {
            let mut word = Vec::with_capacity(12);
            word.extend(signs);
            out.push(word);
            open = true;
        }
    }
    out
}

/// ln of the share of the readings `read` among those of a true sign.
pub fn read_as() -> &'static [[f32; SIGNS]; SIGNS] {
    static COSTS: OnceLock<Box<[[f32; SIGNS]; SIGNS]>> = OnceLock::new();
    COSTS.get_or_init(|| {
        let mut counts = Box::new([[0f32; SIGNS]; SIGNS]);
        for row in COUNTED.lines().skip(1) {
            let mut fields = row.split(',');
            let mut sign = || index(fields.next()?.chars().next()?);
            if let (Some(read), Some(truth)) = (sign(), sign()) {
                let times: f32 = fields.filter_map(|n| n.parse::<f32>().ok()).sum();
                counts[truth as usize][read as usize] += times;
            }
        }
        let wrong: f32 = (0..SIGNS)
            .map(|t| counts[t].iter().sum::<f32>() - counts[t][t])
            .sum();
        let all: f32 = counts.iter().flatten().sum();
        // As many readings as a sign has places to go are shared evenly before any is counted
        let even = wrong / all;
        for row in counts.iter_mut() {
            let sum: f32 = row.iter().sum::<f32>() + SIGNS as f32 * even;
            row.iter_mut().for_each(|n| *n = ((*n + even) / sum).ln());
        }
        counts
    })
}
