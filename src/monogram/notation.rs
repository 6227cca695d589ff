//! A monogram in words a person can type: `J+W? 1887 fecit`.

use super::letters::{self, Letters};
use crate::dating;
use crate::error::{Error, Kind, Result};

/// What a monogram was described as.
#[derive(Debug, Clone, PartialEq)]
pub struct Described {
    /// Signs from left to right, top to bottom.
    pub signs: Vec<Sign>,
    /// Drawn into one another, so that the order tells little.
    pub interlaced: bool,
    /// First and last year of a date that stands beside it.
    pub years: Option<(i32, i32)>,
    /// What stands with it.
    pub devices: Vec<Device>,
}

/// One sign: what it may be, with weights that sum to 1; the rest, if any, is no letter at all.
#[derive(Debug, Clone, PartialEq)]
pub struct Sign {
    /// Letters with weights.
    pub letters: Vec<(u8, f64)>,
    /// Weight of its being no letter.
    pub none: f64,
    /// The person doubts it.
    pub doubtful: bool,
}

/// What may stand with the letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Device {
    /// "fecit", "f.": made it.
    Fecit,
    /// "pinxit", "pinx.": painted it.
    Pinxit,
    /// "delineavit", "del.": drew it.
    Delineavit,
    /// "invenit", "inv.": thought it up.
    Invenit,
    /// In a ring.
    Ring,
    /// In a shield.
    Shield,
    /// With a device: a bird, a star, a flower.
    Figure,
}

/// Words of the notation. Latin endings and short forms are those in common use (from memory).
const WORDS: [(&str, Device); 16] = [
    ("fecit", Device::Fecit),
    ("fec", Device::Fecit),
    ("f", Device::Fecit),
    ("ft", Device::Fecit),
    ("pinxit", Device::Pinxit),
    ("pinx", Device::Pinxit),
    ("pxt", Device::Pinxit),
    ("p", Device::Pinxit),
    ("delineavit", Device::Delineavit),
    ("delin", Device::Delineavit),
    ("del", Device::Delineavit),
    ("invenit", Device::Invenit),
    ("inv", Device::Invenit),
    ("ring", Device::Ring),
    ("shield", Device::Shield),
    ("device", Device::Figure),
];

impl Device {
    /// In words.
    pub fn told(self) -> &'static str {
        match self {
            Device::Fecit => "fecit (made it)",
            Device::Pinxit => "pinxit (painted it)",
            Device::Delineavit => "delineavit (drew it)",
            Device::Invenit => "invenit (thought it up)",
            Device::Ring => "in a ring",
            Device::Shield => "in a shield",
            Device::Figure => "with a device",
        }
    }
}

/// Letters that are mistaken for each other in drawn signs, both ways (from memory).
const ALIKE: &[u8] = b"CGOQEFPRBRDOTIJIUVNMNHKXKRYVZSAHLIWM";
/// Share of a doubtful sign's weight that its own letter keeps, that letters alike have, that there
/// is no letter; the rest is for every letter (set by judgement).
const DOUBTFUL: (f64, f64, f64) = (0.65, 0.2, 0.08);
/// Weight of the reading order as the order of the name, where the signs stand side by side; all
/// other orders share the rest (set by judgement: the surname's letter is often the large one in
/// the middle).
const IN_ORDER: f64 = 0.82;
/// The same where they are drawn into one another.
const INTERLACED: f64 = 0.35;
/// Strings that a description may stand for, at most.
const WIDEST: usize = 60_000;

fn wrong(text: &str, what: &str, next: &str) -> Error {
    Error::new(Kind::Usage, format!("\"{text}\""), what, next)
}

impl Described {
    /// Reads the notation:
    ///
    /// | written | means |
    /// |---|---|
    /// | `JMW` | these letters, side by side |
    /// | `J+W` | drawn into one another: the order tells little |
    /// | `W?` | a doubtful letter |
    /// | `(PR)` | either of these |
    /// | `*` | a letter that can't be told |
    /// | `~N` | reversed |
    /// | `1887`, `'87` | a date beside it |
    /// | `fecit`, `pinx`, `del`, `inv` | that it was made, painted, drawn, thought up by them |
    /// | `interlaced` | drawn into one another |
    /// | `ring`, `shield`, `device` | what it stands in or with |
    ///
    /// # Errors
    /// `Kind::Usage` where a word is no part of it, there is no letter or more than five, or it may
    /// stand for too much.
    pub fn parse(text: &str) -> Result<Described> {
        let mut out = Described {
            signs: Vec::new(),
            interlaced: false,
            years: None,
            devices: Vec::new(),
        };
        for word in text.split_whitespace() {
            out.word(word)?;
        }
        let n = out.signs.len();
        if n == 0 || n > letters::MOST {
            return Err(wrong(
                text,
                "a monogram has one to five letters",
                "write its capitals, such as JW or J+W",
            ));
        }
        let wide: usize = out.signs.iter().map(|s| s.letters.len() + 1).product();
        if wide > WIDEST / (1..=n).product::<usize>() {
            return Err(wrong(
                text,
                "so many letters in doubt may stand for anything",
                "leave at most two letters open",
            ));
        }
        Ok(out)
    }

    fn word(&mut self, word: &str) -> Result<()> {
        if let Some(years) = date(word) {
            self.years = Some(years);
            return Ok(());
        }
        let plain = word.trim_end_matches('.').to_lowercase();
        if word.starts_with(|c: char| c.is_lowercase()) {
            if plain == "interlaced" {
                self.interlaced = true;
                return Ok(());
            }
            let known = WORDS.iter().find(|w| w.0 == plain).ok_or_else(|| {
                wrong(
                    word,
                    "this is no word of a monogram's description",
                    "write letters as capitals; known words are interlaced, fecit, pinx, del, inv, ring, shield, device",
                )
            })?;
            self.devices.push(known.1);
            return Ok(());
        }
        self.letters(word)
    }

    fn letters(&mut self, word: &str) -> Result<()> {
        let mut signs = word.chars().peekable();
        let mut reversed = false;
        while let Some(c) = signs.next() {
            let mut sign = match c {
                '+' => {
                    self.interlaced = true;
                    continue;
                }
                '.' | '&' | '-' => continue,
                '~' => {
                    reversed = true;
                    continue;
                }
                '*' => Sign::any(),
                '(' => {
                    let inside: String = signs.by_ref().take_while(|c| *c != ')').collect();
                    Sign::either(word, &inside)?
                }
                'Æ' => {
                    self.signs.push(Sign::one(b'A'));
                    Sign::one(b'E')
                }
                c => Sign::one(capital(c).ok_or_else(|| {
                    wrong(
                        word,
                        &format!("{c} is no capital and no sign of the notation"),
                        "see dorso monogram --help for the signs",
                    )
                })?),
            };
            if reversed {
                sign.turn();
                reversed = false;
            }
            if signs.next_if_eq(&'?').is_some() {
                sign.doubt();
            }
            self.signs.push(sign);
        }
        Ok(())
    }

    /// What may be meant: letters in the order of the name, with likelihoods.
    pub fn letters_meant(&self) -> Letters {
        let mut all: Vec<(Vec<u8>, f64)> = vec![(Vec::new(), 1.0)];
        for sign in &self.signs {
            let mut next = Vec::new();
            for (text, weight) in &all {
                for (letter, share) in &sign.letters {
                    let mut longer = text.clone();
                    longer.push(*letter);
                    next.push((longer, weight * share));
                }
                if sign.none > 0.0 {
                    next.push((text.clone(), weight * sign.none));
                }
            }
            all = next;
        }
        let first = if self.interlaced {
            INTERLACED
        } else {
            IN_ORDER
        };
        let mut out = Letters::default();
        for (text, weight) in all {
            let orders = letters::orders(&text);
            let others = orders.len().saturating_sub(1);
            let first = if others == 0 { 1.0 } else { first };
            for (i, order) in orders.iter().enumerate() {
                let share = if i == 0 {
                    first
                } else {
                    (1.0 - first) / others as f64
                };
                out.add(order, weight * share);
            }
        }
        out.opened()
    }

    /// The letters as seen, likeliest each: `J+W`.
    pub fn told(&self) -> String {
        let signs = self.signs.iter().map(|s| {
            let top = s.letters.iter().max_by(|a, b| a.1.total_cmp(&b.1));
            let letter = match top {
                Some(t) if s.letters.len() < 20 || s.doubtful => char::from(t.0),
                _ => '*',
            };
            format!("{letter}{}", if s.doubtful { "?" } else { "" })
        });
        let signs: Vec<String> = signs.collect();
        signs.join(if self.interlaced { "+" } else { "" })
    }
}

/// A capital without its accent; nothing of a small letter.
fn capital(c: char) -> Option<u8> {
    letters::capital(c).filter(|_| !c.is_lowercase())
}

/// A date of two digits may be of any of these centuries.
const CENTURIES: std::ops::RangeInclusive<i32> = 16..=19;

/// The years of a date as it stands beside a monogram.
/// First and last year of a date beside a monogram: `1887`, `'87`.
pub fn date(word: &str) -> Option<(i32, i32)> {
    if let Some(two) = word.strip_prefix(['\'', '’']) {
        let year: i32 = (two.len() == 2).then(|| two.parse().ok())??;
        return Some((CENTURIES.start() * 100 + year, CENTURIES.end() * 100 + year));
    }
    word.starts_with(|c: char| c.is_ascii_digit())
        .then(|| dating::typed_years(word))?
}

impl Sign {
    fn one(letter: u8) -> Sign {
        Sign {
            letters: vec![(letter, 1.0)],
            none: 0.0,
            doubtful: false,
        }
    }

    fn any() -> Sign {
        Sign {
            letters: (b'A'..=b'Z').map(|l| (l, 1.0 / 26.0)).collect(),
            none: 0.0,
            doubtful: false,
        }
    }

    fn either(word: &str, inside: &str) -> Result<Sign> {
        let letters: Option<Vec<u8>> = inside
            .chars()
            .filter(|c| !matches!(c, '/' | '|'))
            .map(capital)
            .collect();
        match letters {
            Some(l) if !l.is_empty() => Ok(Sign {
                letters: l.iter().map(|c| (*c, 1.0 / l.len() as f64)).collect(),
                none: 0.0,
                doubtful: false,
            }),
            _ => Err(wrong(
                word,
                "between the brackets stand no capitals",
                "write (PR) for a letter that is P or R",
            )),
        }
    }

    /// Reversed: N and Z, S and Z on their side are one shape.
    fn turn(&mut self) {
        for (mine, other) in [(b'N', b'Z'), (b'S', b'Z'), (b'Z', b'S')] {
            if self.letters[0].0 == mine && self.letters.len() == 1 {
                self.letters = vec![(mine, 0.9), (other, 0.1)];
            }
        }
    }

    fn doubt(&mut self) {
        self.doubtful = true;
        let (own, alike, none) = DOUBTFUL;
        let any = 1.0 - own - alike - none;
        let mut out: Vec<(u8, f64)> = (b'A'..=b'Z').map(|l| (l, any / 26.0)).collect();
        for (letter, share) in &self.letters {
            let pairs = ALIKE.chunks_exact(2);
            let others: Vec<u8> = pairs
                .filter_map(|p| match (p[0] == *letter, p[1] == *letter) {
                    (true, _) => Some(p[1]),
                    (_, true) => Some(p[0]),
                    _ => None,
                })
                .collect();
            let each = alike * share / others.len().max(1) as f64;
            let kept = own * share
                + if others.is_empty() {
                    alike * share
                } else {
                    0.0
                };
            out[usize::from(letter - b'A')].1 += kept;
            others
                .iter()
                .for_each(|o| out[usize::from(o - b'A')].1 += each);
        }
        self.letters = out;
        self.none = none;
    }
}
