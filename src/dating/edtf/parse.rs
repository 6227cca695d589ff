//! Text to expression, with the character at which it fails.

use super::{Date, Edtf, End, Member, Qualifier, Time, TwoDigits, Year, Zone};
use crate::error::{Error, Kind};
use std::fmt;

/// A text that is no EDTF expression.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Malformed {
    /// The text as given.
    pub text: String,
    /// Character at which reading stopped, the first being 1; one past the last where more was
    /// expected.
    pub position: usize,
    /// What is wrong there.
    pub what: String,
    /// What to do about it.
    pub next: String,
}

impl fmt::Display for Malformed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "\"{}\", character {}: {}; {}",
            self.text, self.position, self.what, self.next
        )
    }
}

impl std::error::Error for Malformed {}

impl From<Malformed> for Error {
    fn from(m: Malformed) -> Error {
        Error::new(
            Kind::Text,
            format!("EDTF \"{}\", character {}", m.text, m.position),
            m.what,
            m.next,
        )
    }
}

/// What is wrong, and at which character (from 0).
struct Stop(usize, String);

type Step<T> = Result<T, Stop>;

pub(super) fn parse(text: &str) -> Result<Edtf, Malformed> {
    let chars: Vec<char> = text.chars().collect();
    let end = chars
        .iter()
        .rposition(|c| !c.is_whitespace())
        .map_or(0, |i| i + 1);
    let at = chars[..end]
        .iter()
        .position(|c| !c.is_whitespace())
        .unwrap_or(0);
    let mut reader = Reader {
        chars: &chars[..end],
        at,
    };
    reader.expression().map_err(|Stop(at, what)| Malformed {
        text: text.to_string(),
        position: at + 1,
        what,
        next: match super::suggest(text) {
            Some(s) if s.is_empty() => "leave it empty".to_string(),
            Some(s) => format!("write {s}"),
            None => "write a year such as 1868, 1868~ or 187X, a span such as 1868/1875, or \
                     another EDTF form"
                .to_string(),
        },
    })
}

struct Reader<'a> {
    chars: &'a [char],
    at: usize,
}

impl Reader<'_> {
    fn peek(&self) -> Option<char> {
        self.chars.get(self.at).copied()
    }

    fn take(&mut self, c: char) -> bool {
        let found = self.peek() == Some(c);
        self.at += usize::from(found);
        found
    }

    fn dots(&mut self) -> bool {
        let found = self.chars[self.at..].starts_with(&['.', '.']);
        self.at += if found { 2 } else { 0 };
        found
    }

    /// A stop at this character: what was expected, and what stands there.
    fn expected<T>(&self, what: &str) -> Step<T> {
        let found = match self.peek() {
            Some(c) => format!("{what} was expected here, not \"{c}\""),
            None => format!("{what} is missing at the end"),
        };
        Err(Stop(self.at, found))
    }

    fn done(&self) -> Step<()> {
        match self.peek() {
            None => Ok(()),
            Some(c) => Err(Stop(
                self.at,
                format!("\"{c}\" has no meaning after the date"),
            )),
        }
    }

    fn expression(&mut self) -> Step<Edtf> {
        let start = self.at;
        let value = match self.peek() {
            None => return Err(Stop(0, "there is no date".into())),
            Some('[') => Edtf::OneOf(self.set(']')?),
            Some('{') => Edtf::AllOf(self.set('}')?),
            Some(_) => {
                let first = self.end()?;
                if self.take('/') {
                    let second = self.end()?;
                    match (first, second) {
                        (End::Unknown, End::Unknown) => {
                            return Err(Stop(start, "an interval needs a date at an end".into()));
                        }
                        (a, b) => Edtf::Interval(a, b),
                    }
                } else {
                    match first {
                        End::On(d) if self.peek() == Some('T') => self.at_time(d)?,
                        End::On(d) => Edtf::On(d),
                        End::Open | End::Unknown => return self.expected("a date"),
                    }
                }
            }
        };
        self.done()?;
        if let (Edtf::Interval(..), Some(a), Some(b)) = (&value, value.earliest(), value.latest())
            && a > b
        {
            return Err(Stop(start, "the interval ends before it starts".into()));
        }
        Ok(value)
    }

    fn end(&mut self) -> Step<End> {
        if self.dots() {
            return Ok(End::Open);
        }
        match self.peek() {
            None | Some('/') => Ok(End::Unknown),
            Some(_) => Ok(End::On(self.date()?)),
        }
    }

    fn set(&mut self, close: char) -> Step<Vec<Member>> {
        self.at += 1;
        let mut members = Vec::new();
        loop {
            while self.take(' ') {}
            let at = self.at;
            let member = if self.dots() {
                if !members.is_empty() {
                    return Err(Stop(at, "\"..\" before a date may only come first".into()));
                }
                Member::Until(self.date()?)
            } else {
                let date = self.date()?;
                if !self.dots() {
                    Member::On(date)
                } else if self.peek() == Some(close) {
                    Member::Since(date)
                } else if self.peek() == Some(',') {
                    return Err(Stop(at, "\"..\" after a date may only come last".into()));
                } else {
                    let to = self.date()?;
                    if date.span().map(|s| s.0) > to.span().map(|s| s.1) {
                        return Err(Stop(at, "the run ends before it starts".into()));
                    }
                    Member::Run(date, to)
                }
            };
            members.push(member);
            while self.take(' ') {}
            if self.take(close) {
                return Ok(members);
            }
            if !self.take(',') {
                return self.expected(&format!("\",\" or \"{close}\""));
            }
        }
    }

    fn qualifier(&mut self) -> Qualifier {
        let q = match self.peek() {
            Some('?') => (true, false),
            Some('~') => (false, true),
            Some('%') => (true, true),
            _ => return Qualifier::default(),
        };
        self.at += 1;
        Qualifier {
            uncertain: q.0,
            approximate: q.1,
        }
    }

    /// A digit or X.
    fn masked(&mut self, what: &str) -> Step<Option<u8>> {
        match self.peek() {
            Some('X') => {
                self.at += 1;
                Ok(None)
            }
            Some(c) if c.is_ascii_digit() => {
                self.at += 1;
                Ok(Some(c as u8 - b'0'))
            }
            _ => self.expected(what),
        }
    }

    fn date(&mut self) -> Step<Date> {
        let start = self.at;
        let mut q = [Qualifier::default(); 3];
        q[0] = self.qualifier();
        let year = if self.take('Y') {
            self.long_year()?
        } else {
            self.short_year()?
        };
        q[0] = q[0].and(self.qualifier());
        let mut date = Date {
            year,
            month: None,
            day: None,
            qualifiers: q,
        };
        if self.peek() == Some('-') {
            if matches!(year, Year::Long { .. })
                || matches!(
                    year,
                    Year::Digits {
                        significant: Some(_),
                        ..
                    }
                )
            {
                return Err(Stop(
                    self.at,
                    "a year of this form takes no month or day".into(),
                ));
            }
            self.at += 1;
            let at = self.at;
            let month = self.part(&mut q, 1, "a month of two digits")?;
            check_month(at, month)?;
            date.month = Some(month);
            if self.take('-') {
                let at = self.at;
                if matches!(month, [Some(a), Some(b)] if a * 10 + b > 12) {
                    return Err(Stop(at, "a season takes no day".into()));
                }
                let day = self.part(&mut q, 2, "a day of two digits")?;
                if !(1..=31).any(|d| super::bounds_fit(d, &day)) {
                    return Err(Stop(at, "there is no such day".into()));
                }
                date.day = Some(day);
            }
            date.qualifiers = q;
        }
        if date.span().is_none() {
            return Err(Stop(start, "there is no such date in the calendar".into()));
        }
        Ok(date)
    }

    /// Month (1) or day (2), with the qualifiers around it.
    fn part(&mut self, q: &mut [Qualifier; 3], i: usize, what: &str) -> Step<TwoDigits> {
        let alone = self.qualifier();
        let digits = [self.masked(what)?, self.masked(what)?];
        let all = self.qualifier();
        q[i] = q[i].and(alone);
        for q in &mut q[..=i] {
            *q = q.and(all);
        }
        Ok(digits)
    }

    fn short_year(&mut self) -> Step<Year> {
        let start = self.at;
        let negative = self.take('-');
        let mut digits = [None; 4];
        for d in &mut digits {
            *d = self.masked("a year of four digits")?;
        }
        if matches!(self.peek(), Some(c) if c.is_ascii_digit() || c == 'X') {
            return Err(Stop(
                self.at,
                "a year of more than four digits starts with Y".into(),
            ));
        }
        if negative && digits == [Some(0); 4] {
            return Err(Stop(start, "there is no year -0000".into()));
        }
        let significant = self.significant()?;
        if let Some(s) = significant
            && (s > 4 || digits.iter().any(|d| d.is_none()))
        {
            return Err(Stop(
                start,
                "S takes at most as many digits as the year has, and no X".into(),
            ));
        }
        Ok(Year::Digits {
            negative,
            digits,
            significant,
        })
    }

    fn long_year(&mut self) -> Step<Year> {
        let start = self.at;
        let negative = self.take('-');
        let from = self.at;
        let size = self.number("the digits of the year")?;
        let length = self.at - from;
        let mantissa = if negative { -size } else { size };
        let mut exponent = 0;
        if self.take('E') {
            let at = self.at;
            let e = self.number("the power of ten")?;
            exponent = u8::try_from(e)
                .ok()
                .filter(|e| (1..=17).contains(e))
                .ok_or_else(|| Stop(at, "the power of ten must be 1 to 17".into()))?;
        } else if length < 5 || self.chars[from] == '0' {
            return Err(Stop(
                start,
                "a year after Y has more than four digits, the first not 0".into(),
            ));
        }
        let significant = self.significant()?;
        let year = Year::Long {
            mantissa,
            exponent,
            significant,
        };
        // Noughts before the number are no digits of the year
        let digits = size.max(1).ilog10() as usize + 1 + usize::from(exponent);
        if size == 0 || significant.is_some_and(|s| usize::from(s) > digits) {
            return Err(Stop(
                start,
                "S takes at most as many digits as the year has".into(),
            ));
        }
        match year.span() {
            Some(_) => Ok(year),
            None => Err(Stop(start, "the year is too far off to reckon with".into())),
        }
    }

    fn significant(&mut self) -> Step<Option<u8>> {
        if !self.take('S') {
            return Ok(None);
        }
        let at = self.at;
        let s = self.number("the number of significant digits")?;
        match u8::try_from(s) {
            Ok(s) if s > 0 => Ok(Some(s)),
            _ => Err(Stop(
                at,
                "the number of significant digits must be 1 or more".into(),
            )),
        }
    }

    fn number(&mut self, what: &str) -> Step<i64> {
        let start = self.at;
        while matches!(self.peek(), Some(c) if c.is_ascii_digit()) {
            self.at += 1;
        }
        if self.at == start {
            return self.expected(what);
        }
        let text: String = self.chars[start..self.at].iter().collect();
        match text.parse() {
            Ok(n) if text.len() <= 18 => Ok(n),
            _ => Err(Stop(start, "the number is too long".into())),
        }
    }

    fn at_time(&mut self, date: Date) -> Step<Edtf> {
        let full = date.level() == 0 && date.day.is_some();
        if !full {
            return Err(Stop(
                self.at,
                "a time of day needs a full, plain date before it".into(),
            ));
        }
        self.at += 1;
        let hour = self.clock(24, "an hour of two digits")?;
        self.colon()?;
        let minute = self.clock(59, "minutes of two digits")?;
        self.colon()?;
        let at = self.at;
        let second = self.clock(60, "seconds of two digits")?;
        if hour == 24 && (minute, second) != (0, 0) {
            return Err(Stop(at, "the day ends at 24:00:00".into()));
        }
        let zone = if self.take('Z') {
            Zone::Utc
        } else if let Some(sign @ ('+' | '-')) = self.peek() {
            self.at += 1;
            let hours = self.clock(14, "the hours of the time zone")?;
            let minutes = if self.take(':') {
                Some(self.clock(59, "the minutes of the time zone")?)
            } else {
                None
            };
            Zone::Shift {
                negative: sign == '-',
                hours,
                minutes,
            }
        } else {
            Zone::Local
        };
        Ok(Edtf::At(
            date,
            Time {
                hour,
                minute,
                second,
                zone,
            },
        ))
    }

    fn colon(&mut self) -> Step<()> {
        if self.take(':') {
            Ok(())
        } else {
            self.expected("\":\"")
        }
    }

    fn clock(&mut self, most: u8, what: &str) -> Step<u8> {
        let at = self.at;
        match (self.masked(what)?, self.masked(what)?) {
            (Some(a), Some(b)) if a * 10 + b <= most => Ok(a * 10 + b),
            _ => Err(Stop(at, format!("{what}, at most {most}, was expected"))),
        }
    }
}

fn check_month(at: usize, month: TwoDigits) -> Step<()> {
    let fits = match month {
        [Some(a), Some(b)] => matches!(a * 10 + b, 1..=12 | 21..=41),
        _ => (1..=12).any(|m| super::bounds_fit(m, &month)),
    };
    if fits {
        return Ok(());
    }
    Err(Stop(
        at,
        "there is no such month (01 to 12) or season (21 to 41)".into(),
    ))
}
