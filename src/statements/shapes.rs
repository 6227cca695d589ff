//! Shapes of words: figures, years, sums of money, initials, capitals.

use super::letters::LOST;
use super::words::Word;

/// What a word looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Shape {
    Year,
    YearDamaged,
    Figures(u8),
    FiguresLetter,
    LetterFigures,
    Ordinal,
    YearRange,
    Parts,
    Dotted,
    Thousands,
    Fraction,
    Size,
    Money,
    Initial,
    Initials,
    Upper,
    Capital,
    Lower,
    Mixed,
    Ampersand,
    Damaged,
    Sign,
}

impl Shape {
    /// A number of its own.
    pub fn number(self) -> u64 {
        match self {
            Shape::Year => 0,
            Shape::YearDamaged => 1,
            Shape::Figures(n) => 2 + u64::from(n.min(6)),
            Shape::FiguresLetter => 10,
            Shape::LetterFigures => 11,
            Shape::Ordinal => 12,
            Shape::YearRange => 13,
            Shape::Parts => 14,
            Shape::Dotted => 15,
            Shape::Thousands => 16,
            Shape::Fraction => 17,
            Shape::Size => 18,
            Shape::Money => 19,
            Shape::Initial => 20,
            Shape::Initials => 21,
            Shape::Upper => 22,
            Shape::Capital => 23,
            Shape::Lower => 24,
            Shape::Mixed => 25,
            Shape::Ampersand => 26,
            Shape::Damaged => 27,
            Shape::Sign => 28,
        }
    }

    /// Whether it holds figures.
    pub fn figures(self) -> bool {
        self.number() < 20
    }
}

/// Years that marks bear.
pub fn is_year(n: i32) -> bool {
    (1600..2030).contains(&n)
}

/// The shape of a word.
pub fn shape(word: &Word) -> Shape {
    let core = word.core();
    let figures = core.chars().filter(char::is_ascii_digit).count();
    let letters = core.chars().filter(|c| c.is_alphabetic()).count();
    let lost = word.letters.iter().filter(|l| l.sign >= LOST).count();
    if core == "&" {
        return Shape::Ampersand;
    }
    if core.contains(['£', '$', 'ƒ']) {
        return Shape::Money;
    }
    if figures == 0 {
        return worded(core, letters, lost, word);
    }
    if lost > 0 {
        let year = figures + lost == 4 && core.starts_with('1') && letters == 0;
        return if year {
            Shape::YearDamaged
        } else if letters > figures {
            Shape::Damaged
        } else {
            Shape::Figures(figures as u8)
        };
    }
    figured(core, letters, figures)
}

/// The shape of a word with figures, none lost.
fn figured(core: &str, letters: usize, figures: usize) -> Shape {
    let plain: Vec<&str> = core.split(|c: char| !c.is_ascii_digit()).collect();
    let lower = core.to_lowercase();
    if letters == 0 {
        let parts: Vec<i32> = plain.iter().filter_map(|p| p.parse().ok()).collect();
        return match () {
            () if plain.len() == 1 && figures == 4 && is_year(parts[0]) => Shape::Year,
            () if plain.len() == 1 => Shape::Figures(figures.min(7) as u8),
            () if core.contains(['½', '¼', '¾'])
                || core == "1/2"
                || core == "3/4"
                || core == "1/4" =>
            {
                Shape::Fraction
            }
            () if core.contains(['×', '"', '″']) && parts.len() == 2 => Shape::Size,
            () if parts.len() == 2 && is_year(parts[0]) && core.contains(['-', '–', '/']) => {
                Shape::YearRange
            }
            () if core.contains(',') && plain.last().is_some_and(|p| p.len() == 3) => {
                Shape::Thousands
            }
            () if core.contains(['/', '-', '–', ':']) => Shape::Parts,
            () => Shape::Dotted,
        };
    }
    let tail = lower.trim_start_matches(|c: char| c.is_ascii_digit());
    match () {
        () if plain.len() == 2
            && matches!(tail, "st" | "nd" | "rd" | "th" | "e" | "er" | "ste" | "de") =>
        {
            Shape::Ordinal
        }
        () if lower.contains('x')
            && plain.iter().filter(|p| !p.is_empty()).count() >= 2
            && letters <= 4 =>
        {
            Shape::Size
        }
        () if core.starts_with(|c: char| c.is_ascii_digit()) => Shape::FiguresLetter,
        () => Shape::LetterFigures,
    }
}

fn worded(core: &str, letters: usize, lost: usize, word: &Word) -> Shape {
    if letters == 0 {
        return if lost > 0 {
            Shape::Damaged
        } else {
            Shape::Sign
        };
    }
    let upper = core.chars().filter(|c| c.is_uppercase()).count();
    let dots = core.matches('.').count()
        + usize::from(word.text.trim_end_matches([',', ';', ')']).ends_with('.'));
    match () {
        () if lost == 0 && letters == 1 && upper == 1 => Shape::Initial,
        () if lost == 0 && letters == upper && dots + 1 >= letters && letters <= 6 && dots > 0 => {
            Shape::Initials
        }
        () if upper == letters => Shape::Upper,
        () if core.starts_with(char::is_uppercase) && upper == 1 => Shape::Capital,
        () if upper == 0 => Shape::Lower,
        () => Shape::Mixed,
    }
}
