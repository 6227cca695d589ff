//! A line of provenance as a catalogue prints it, taken apart and set again.
//!
//! The punctuation is that of N. H. Yeide, K. Akinsha and A. L. Walsh, *The AAM Guide to Provenance
//! Research*, 2001: a semicolon where the thing passed directly, a full stop where that isn't shown,
//! dealers and sales in round brackets, life dates and the numbers of notes in square ones.
//!
//! [`Line::parse`] takes any text and never fails: what isn't understood stays as [`Part::Text`].
//! [`Line`]'s `Display` prints from the parts; dates, life dates and numbers of notes are kept as
//! values and printed from these.

mod brackets;
mod breaks;
mod dates;
mod lead;
mod link;
mod marks;
mod moment;
mod parties;
mod pieces;
mod spans;
mod split;
mod words;

pub use dates::{Dated, Moment, Relation};
pub use parties::{Kind, Party};

use super::provenance::{Doubt, Next};
use std::fmt;

/// How it passed, or how somebody stands to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// By descent, by inheritance.
    Descent,
    /// Bought by, from or at.
    Purchase,
    /// Acquired, without a word how.
    Acquired,
    /// Sold to, by or at; a sale.
    Sale,
    /// A gift to, of or from.
    Gift,
    /// A bequest to or of.
    Bequest,
    /// Consigned to.
    Consigned,
    /// Transferred, converted, returned.
    Transfer,
    /// By exchange.
    Exchange,
    /// Confiscated, seized.
    Confiscated,
    /// Restituted.
    Restituted,
    /// Commissioned by.
    Commissioned,
    /// Lent, on deposit.
    Loan,
    /// With, in the collection of: presence only.
    With,
    /// Found, originating.
    Found,
}

impl Way {
    /// The word for it.
    pub fn as_str(self) -> &'static str {
        match self {
            Way::Descent => "descent",
            Way::Purchase => "purchase",
            Way::Acquired => "acquired",
            Way::Sale => "sale",
            Way::Gift => "gift",
            Way::Bequest => "bequest",
            Way::Consigned => "consigned",
            Way::Transfer => "transfer",
            Way::Exchange => "exchange",
            Way::Confiscated => "confiscated",
            Way::Restituted => "restituted",
            Way::Commissioned => "commissioned",
            Way::Loan => "loan",
            Way::With => "with",
            Way::Found => "found",
        }
    }
}

/// How a further person or firm of a link stands to the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// From whom.
    From,
    /// To whom.
    To,
    /// By whom.
    By,
    /// Through whom: an agent.
    Through,
    /// At which house.
    At,
    /// Beside them.
    And,
    /// In whose honour or memory.
    Honouring,
    /// Who that perhaps was.
    Perhaps,
    /// In round brackets behind them: a dealer or agent.
    Bracketed,
}

/// A piece of a link; all pieces in order are its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// White space, commas and brackets between the pieces.
    Gap(String),
    /// A word of doubt, as spelt.
    Doubt(Doubt, String),
    /// A phrase for the way of passing, as spelt.
    Way(Way, String),
    /// What brings in a further person, as spelt.
    Role(Role, String),
    /// Kinship: "his nephew", "son of the above".
    Kin(String),
    /// (A piece of) a name.
    Name(String),
    /// Life dates, in brackets.
    Life(Dated),
    /// (A piece of) a place.
    Place(String),
    /// Years or days.
    Date(Dated),
    /// Lot or stock number: label, number.
    Lot(String, String),
    /// Price: "for $", "90".
    Price(String),
    /// A collector's mark by its number in Lugt.
    Mark(String),
    /// Number of a note, and the brackets around it.
    Note(u32, char, char),
    /// What stands in brackets and isn't taken apart.
    Aside(String),
    /// A detail: "illustrated", "as agent", title of a sale.
    Detail(String),
    /// A remark on the record that is no link: "Under review".
    Remark(String),
    /// Left as text.
    Text(String),
}

/// A link: somebody who had it, or a sale through which it went.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Link {
    /// The pieces in order.
    pub parts: Vec<Part>,
    /// Whether it stands in round brackets as a whole.
    pub bracketed: bool,
    /// What stands behind it: punctuation and white space.
    pub stop: String,
}

/// A note to the line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Noted {
    /// Its number.
    pub number: u32,
    /// Signs before and behind the number.
    pub signs: (String, String),
    /// The text, with the white space behind it.
    pub text: String,
}

/// A line of provenance.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Line {
    /// White space before the first link.
    pub before: String,
    /// The links in the order of the text.
    pub links: Vec<Link>,
    /// Heading of the notes as written, with the white space around it.
    pub heading: String,
    /// The notes.
    pub notes: Vec<Noted>,
    /// What follows the notes in a paragraph of its own.
    pub after: String,
}

impl Line {
    /// Takes a text apart. Any text; time grows with its length.
    pub fn parse(text: &str) -> Line {
        split::line(text)
    }

    /// Text of the note with this number.
    pub fn note(&self, number: u32) -> Option<&str> {
        let found = self.notes.iter().find(|n| n.number == number)?;
        Some(found.text.trim())
    }

    /// Share of the letters of the links that were taken apart, 0 to 1; 1 for an empty line.
    pub fn understood(&self) -> f64 {
        let (mut all, mut left) = (0usize, 0usize);
        for part in self.links.iter().flat_map(|l| &l.parts) {
            let letters = part
                .to_string()
                .chars()
                .filter(|c| c.is_alphanumeric())
                .count();
            all += letters;
            if matches!(part, Part::Text(_)) {
                left += letters;
            }
        }
        if all == 0 {
            1.0
        } else {
            (all - left) as f64 / all as f64
        }
    }
}

impl Link {
    /// Whether nothing of it was understood.
    pub fn is_text(&self) -> bool {
        let untold = |p: &Part| {
            matches!(
                p,
                Part::Text(_) | Part::Remark(_) | Part::Gap(_) | Part::Aside(_)
            )
        };
        self.parts.iter().all(untold)
    }

    /// What the sign behind it says of the way to the next.
    pub fn next(&self) -> Next {
        if self.stop.contains(';') {
            Next::Directly
        } else {
            Next::Unknown
        }
    }

    /// The strongest word of doubt in it.
    pub fn doubt(&self) -> Doubt {
        let mut found = Doubt::None;
        for p in &self.parts {
            match p {
                Part::Doubt(Doubt::Possibly, _) => return Doubt::Possibly,
                Part::Doubt(d, _) => found = *d,
                _ => {}
            }
        }
        found
    }

    /// Ways of passing in the order told.
    pub fn ways(&self) -> Vec<Way> {
        let way = |p: &Part| match p {
            Part::Way(w, _) => Some(*w),
            _ => None,
        };
        self.parts.iter().filter_map(way).collect()
    }

    /// Years or days as EDTF; several dates as a set. Empty where none is told.
    pub fn years(&self) -> String {
        let mut all: Vec<String> = Vec::new();
        for p in &self.parts {
            if let Part::Date(d) = p {
                let e = d.edtf();
                if !e.is_empty() && !all.contains(&e) {
                    all.push(e);
                }
            }
        }
        match all.as_slice() {
            [] => String::new(),
            [one] => one.clone(),
            many if many.iter().all(|e| !e.contains(['/', '[', '{'])) => {
                format!("{{{}}}", many.join(","))
            }
            [first, ..] => first.clone(),
        }
    }

    /// Lot or stock number.
    pub fn lot(&self) -> Option<&str> {
        self.parts.iter().find_map(|p| match p {
            Part::Lot(_, n) => Some(n.as_str()),
            _ => None,
        })
    }

    /// Price as spelt.
    pub fn price(&self) -> Option<&str> {
        self.parts.iter().find_map(|p| match p {
            Part::Price(n) => Some(n.as_str()),
            _ => None,
        })
    }

    /// Numbers of its notes.
    pub fn note_numbers(&self) -> Vec<u32> {
        let number = |p: &Part| match p {
            Part::Note(n, _, _) => Some(*n),
            _ => None,
        };
        self.parts.iter().filter_map(number).collect()
    }
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Part::Gap(t)
            | Part::Doubt(_, t)
            | Part::Way(_, t)
            | Part::Role(_, t)
            | Part::Kin(t)
            | Part::Name(t)
            | Part::Place(t)
            | Part::Price(t)
            | Part::Mark(t)
            | Part::Aside(t)
            | Part::Detail(t)
            | Part::Remark(t)
            | Part::Text(t) => f.write_str(t),
            Part::Lot(label, number) => write!(f, "{label}{number}"),
            Part::Life(d) | Part::Date(d) => d.fmt(f),
            Part::Note(n, open, close) => write!(f, "{open}{n}{close}"),
        }
    }
}

impl fmt::Display for Link {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.parts.iter().try_for_each(|p| p.fmt(f))
    }
}

impl fmt::Display for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.before)?;
        for l in &self.links {
            write!(f, "{l}{}", l.stop)?;
        }
        f.write_str(&self.heading)?;
        for n in &self.notes {
            write!(f, "{}{}{}{}", n.signs.0, n.number, n.signs.1, n.text)?;
        }
        f.write_str(&self.after)
    }
}
