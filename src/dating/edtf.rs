//! Extended Date/Time Format, levels 0 to 2: parsed, printed, and bounded.
//!
//! In: text such as `1868`, `1868~`, `187X`, `1868/1875`, `[1868..1875]`. Out: [`Edtf`], which
//! prints itself in one settled spelling and gives the first and last day that it allows.
//!
//! A qualifier is kept as what it says of each part, not where it stood: `?1868` and `1868?` are
//! the same value and both print as `1868?`. Qualifiers never widen the bounds, since the format
//! gives them no width; ask [`Edtf::approximate`] and [`Edtf::uncertain`].
//!
//! Source: Library of Congress, *Extended Date/Time Format (EDTF) Specification*, 4 February 2019
//! (ISO 8601-2:2019). Its examples are in `tests/reference/edtf.json`.

mod bounds;
mod parse;
mod print;
mod suggest;
#[cfg(test)]
mod tests;

pub use bounds::day_after;
use bounds::fits as bounds_fit;

pub use bounds::Day;
pub use parse::Malformed;
pub use suggest::suggest;

/// Uncertain, approximate, or both, said of one part of a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Qualifier {
    /// `?`: the source is doubtful.
    pub uncertain: bool,
    /// `~`: the value is an estimate.
    pub approximate: bool,
}

impl Qualifier {
    /// Whether anything is said at all.
    pub fn is_plain(self) -> bool {
        !self.uncertain && !self.approximate
    }

    fn and(self, other: Qualifier) -> Qualifier {
        Qualifier {
            uncertain: self.uncertain || other.uncertain,
            approximate: self.approximate || other.approximate,
        }
    }
}

/// A year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Year {
    /// Four digits, `None` where unspecified (`X`), with a sign; `significant` digits if said.
    Digits {
        /// Before year 0.
        negative: bool,
        /// Thousands first.
        digits: [Option<u8>; 4],
        /// `1950S2`: how many digits from the left are sure.
        significant: Option<u8>,
    },
    /// `Y170000002`, `Y-17E7`, `Y3388E2S3`: mantissa, power of ten, significant digits.
    Long {
        /// Signed.
        mantissa: i64,
        /// `E`; 0 where none stands.
        exponent: u8,
        /// `S`.
        significant: Option<u8>,
    },
}

/// Month or season, or two digits of which some are unspecified.
pub type TwoDigits = [Option<u8>; 2];

/// A date: a year, with or without month (or season) and day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Date {
    /// Year.
    pub year: Year,
    /// Month 01 to 12; or 21 to 41 for seasons and other divisions of a year.
    pub month: Option<TwoDigits>,
    /// Day of the month.
    pub day: Option<TwoDigits>,
    /// What is said of year, month and day; plain where the part is missing.
    pub qualifiers: [Qualifier; 3],
}

/// A time of day of level 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Time {
    /// 0 to 24.
    pub hour: u8,
    /// 0 to 59.
    pub minute: u8,
    /// 0 to 60 (leap second).
    pub second: u8,
    /// Local, UTC, or a shift from it.
    pub zone: Zone,
}

/// The time zone of a [`Time`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Zone {
    /// Nothing said.
    Local,
    /// `Z`.
    Utc,
    /// `+04` or `-04:30`: sign, hours, minutes if written.
    Shift {
        /// West of Greenwich.
        negative: bool,
        /// 0 to 14.
        hours: u8,
        /// 0 to 59, if written.
        minutes: Option<u8>,
    },
}

/// One end of an interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum End {
    /// A date.
    On(Date),
    /// `..`: there is no end on this side.
    Open,
    /// Nothing stands there: there is an end, not known when.
    Unknown,
}

/// A member of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Member {
    /// One date.
    On(Date),
    /// `1670..1672`: every date between, both included.
    Run(Date, Date),
    /// `..1984`: that date or an earlier one.
    Until(Date),
    /// `1760-12..`: that date or a later one.
    Since(Date),
}

/// An EDTF expression.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Edtf {
    /// A date.
    On(Date),
    /// A date with a time of day.
    At(Date, Time),
    /// `start/end`.
    Interval(End, End),
    /// `[...]`: one of these, not known which.
    OneOf(Vec<Member>),
    /// `{...}`: all of these.
    AllOf(Vec<Member>),
}

impl Edtf {
    /// Reads an expression; blanks before and behind are passed over.
    ///
    /// ```
    /// use dorso_weighing::dating::edtf::Edtf;
    /// let label = Edtf::parse("[1868..187X]")?;
    /// assert_eq!(label.earliest().map(|d| d.year), Some(1868));
    /// assert_eq!(label.latest().map(|d| d.to_string()), Some("1879-12-31".into()));
    /// assert_eq!(label.to_string(), "[1868..187X]");
    /// # Ok::<(), dorso_seeing::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Malformed`] with the character at which reading stopped and what to write instead.
    pub fn parse(text: &str) -> Result<Edtf, Malformed> {
        parse::parse(text)
    }

    /// All dates that stand in it, in order.
    pub fn dates(&self) -> Vec<&Date> {
        match self {
            Edtf::On(d) | Edtf::At(d, _) => vec![d],
            Edtf::Interval(a, b) => [a, b]
                .into_iter()
                .filter_map(|e| match e {
                    End::On(d) => Some(d),
                    _ => None,
                })
                .collect(),
            Edtf::OneOf(m) | Edtf::AllOf(m) => m
                .iter()
                .flat_map(|m| match m {
                    Member::On(d) | Member::Until(d) | Member::Since(d) => vec![d],
                    Member::Run(a, b) => vec![a, b],
                })
                .collect(),
        }
    }

    /// Whether any part is marked as an estimate (`~` or `%`).
    pub fn approximate(&self) -> bool {
        self.dates()
            .iter()
            .any(|d| d.qualifiers.iter().any(|q| q.approximate))
    }

    /// Whether any part is marked as doubtful (`?` or `%`).
    pub fn uncertain(&self) -> bool {
        self.dates()
            .iter()
            .any(|d| d.qualifiers.iter().any(|q| q.uncertain))
    }

    /// The conformance level that it needs: 0, 1 or 2.
    pub fn level(&self) -> u8 {
        let dates = self.dates().into_iter().map(Date::level).max().unwrap_or(0);
        match self {
            Edtf::On(_) | Edtf::At(..) => dates,
            Edtf::Interval(End::On(_), End::On(_)) => dates,
            Edtf::Interval(..) => dates.max(1),
            Edtf::OneOf(_) | Edtf::AllOf(_) => 2,
        }
    }
}

impl std::str::FromStr for Edtf {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Edtf, Malformed> {
        Edtf::parse(text)
    }
}

impl Date {
    /// Year, month and day qualifiers up to the last part that stands.
    fn parts(&self) -> usize {
        1 + usize::from(self.month.is_some()) + usize::from(self.day.is_some())
    }

    /// The conformance level that it needs: 0, 1 or 2.
    pub fn level(&self) -> u8 {
        let mut level = match self.year {
            Year::Digits {
                significant: Some(_),
                ..
            } => 2,
            Year::Digits {
                digits, negative, ..
            } => match digits.map(|d| d.is_some()) {
                [true, true, true, true] => u8::from(negative),
                // Level 1 knows decades and centuries, and those only of a year that stands alone.
                [true, true, _, false] if self.month.is_none() && digits_run(&digits) => 1,
                _ => 2,
            },
            Year::Long {
                exponent: 0,
                significant: None,
                ..
            } => 1,
            Year::Long { .. } => 2,
        };
        if let Some(m) = self.month {
            level = level.max(match m {
                [Some(a), Some(b)] if a * 10 + b > 24 => 2,
                [Some(a), Some(b)] if a * 10 + b > 12 => 1,
                [Some(_), Some(_)] => 0,
                [None, None] if self.day.is_none_or(|d| d == [None, None]) => 1,
                _ => 2,
            });
        }
        if let Some(d) = self.day {
            level = level.max(match d {
                [Some(_), Some(_)] => 0,
                [None, None] => 1,
                _ => 2,
            });
        }
        let said = &self.qualifiers[..self.parts()];
        if said.iter().any(|q| !q.is_plain()) {
            level = level.max(if said.iter().all(|q| *q == said[0]) {
                1
            } else {
                2
            });
        }
        level
    }
}

/// Whether unspecified digits stand only behind the specified ones.
fn digits_run(digits: &[Option<u8>; 4]) -> bool {
    digits.windows(2).all(|w| w[0].is_some() || w[1].is_none())
}
