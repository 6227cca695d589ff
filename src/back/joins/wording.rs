//! How alike two readings are.

use crate::readings::Reading;

/// What two readings have in common.
pub(super) struct Wording {
    /// Share of letters that agree, 0 to 1, of the one with fewer letters; each line laid where it fits
    /// best in a line of the other.
    pub same: f64,
    /// Letters of the one with fewer.
    pub letters: f64,
}

/// The letters and figures of each line, lower case.
pub(super) fn letters(reading: &Reading) -> Vec<Vec<char>> {
    let line = |text: &str| -> Vec<char> {
        text.chars()
            .filter(|c| c.is_alphanumeric())
            .flat_map(char::to_lowercase)
            .collect()
    };
    let shared = reading.shared.iter().map(|s| &s.line);
    let lines = reading.lines.iter().chain(shared);
    lines
        .map(|l| line(&l.text))
        .filter(|l| !l.is_empty())
        .collect()
}

impl Wording {
    pub fn of(a: &[Vec<char>], b: &[Vec<char>]) -> Wording {
        let count = |lines: &[Vec<char>]| lines.iter().map(Vec::len).sum::<usize>();
        let (few, many) = if count(a) <= count(b) { (a, b) } else { (b, a) };
        let letters = count(few);
        if letters == 0 {
            return Wording {
                same: 0.0,
                letters: 0.0,
            };
        }
        let agree = |line: &Vec<char>| {
            let wrong = many.iter().map(|other| misfit(line, other)).min();
            line.len() - wrong.unwrap_or(line.len()).min(line.len())
        };
        Wording {
            same: few.iter().map(agree).sum::<usize>() as f64 / letters as f64,
            letters: letters as f64,
        }
    }
}

/// Fewest edits that lay the shorter line somewhere within the longer one, in letters of `line`.
fn misfit(line: &[char], other: &[char]) -> usize {
    let (short, long) = if line.len() <= other.len() {
        (line, other)
    } else {
        (other, line)
    };
    // Free to begin and to end anywhere in the longer line.
    let mut row = vec![0usize; long.len() + 1];
    for (i, s) in short.iter().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, l) in long.iter().enumerate() {
            let swapped = corner + usize::from(s != l);
            corner = row[j + 1];
            row[j + 1] = swapped.min(corner + 1).min(row[j] + 1);
        }
    }
    let within = row.into_iter().min().unwrap_or(short.len());
    // A short line of the other explains only as many letters as it has.
    within + line.len() - short.len()
}
