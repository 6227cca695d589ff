//! The settled spelling of an expression.

use super::{Date, Edtf, End, Member, Qualifier, Time, TwoDigits, Year, Zone};
use std::fmt::{self, Display, Formatter};

impl Display for Qualifier {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(match (self.uncertain, self.approximate) {
            (false, false) => "",
            (true, false) => "?",
            (false, true) => "~",
            (true, true) => "%",
        })
    }
}

fn digit(f: &mut Formatter<'_>, d: Option<u8>) -> fmt::Result {
    match d {
        Some(d) => write!(f, "{d}"),
        None => f.write_str("X"),
    }
}

impl Display for Year {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let significant = match *self {
            Year::Digits {
                negative,
                digits,
                significant,
            } => {
                if negative {
                    f.write_str("-")?;
                }
                for d in digits {
                    digit(f, d)?;
                }
                significant
            }
            Year::Long {
                mantissa,
                exponent,
                significant,
            } => {
                write!(f, "Y{mantissa}")?;
                if exponent > 0 {
                    write!(f, "E{exponent}")?;
                }
                significant
            }
        };
        match significant {
            Some(s) => write!(f, "S{s}"),
            None => Ok(()),
        }
    }
}

impl Display for Date {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        // A sign behind a part speaks of it and of all before it, a sign before a part of that
        // part alone: the longest run from the left with one qualifier gets the sign behind.
        let q = &self.qualifiers;
        let parts = self.parts();
        let run = if q[0].is_plain() {
            0
        } else {
            q[..parts].iter().take_while(|x| **x == q[0]).count()
        };
        let two = |f: &mut Formatter<'_>, d: TwoDigits| {
            digit(f, d[0])?;
            digit(f, d[1])
        };
        for i in 0..parts {
            if i > 0 {
                f.write_str("-")?;
            }
            if i >= run {
                write!(f, "{}", q[i])?;
            }
            match (i, self.month, self.day) {
                (0, ..) => write!(f, "{}", self.year)?,
                (1, Some(m), _) => two(f, m)?,
                (_, _, Some(d)) => two(f, d)?,
                _ => {}
            }
            if i + 1 == run {
                write!(f, "{}", q[0])?;
            }
        }
        Ok(())
    }
}

impl Display for Time {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}:{:02}:{:02}", self.hour, self.minute, self.second)?;
        match self.zone {
            Zone::Local => Ok(()),
            Zone::Utc => f.write_str("Z"),
            Zone::Shift {
                negative,
                hours,
                minutes,
            } => {
                write!(f, "{}{hours:02}", if negative { '-' } else { '+' })?;
                match minutes {
                    Some(m) => write!(f, ":{m:02}"),
                    None => Ok(()),
                }
            }
        }
    }
}

impl Display for End {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        match self {
            End::On(d) => d.fmt(f),
            End::Open => f.write_str(".."),
            End::Unknown => Ok(()),
        }
    }
}

impl Display for Member {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        match self {
            Member::On(d) => d.fmt(f),
            Member::Run(a, b) => write!(f, "{a}..{b}"),
            Member::Until(d) => write!(f, "..{d}"),
            Member::Since(d) => write!(f, "{d}.."),
        }
    }
}

impl Display for Edtf {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let set = |f: &mut Formatter<'_>, members: &[Member]| {
            for (i, m) in members.iter().enumerate() {
                if i > 0 {
                    f.write_str(",")?;
                }
                m.fmt(f)?;
            }
            Ok(())
        };
        match self {
            Edtf::On(d) => d.fmt(f),
            Edtf::At(d, t) => write!(f, "{d}T{t}"),
            Edtf::Interval(a, b) => write!(f, "{a}/{b}"),
            Edtf::OneOf(m) => {
                f.write_str("[")?;
                set(f, m)?;
                f.write_str("]")
            }
            Edtf::AllOf(m) => {
                f.write_str("{")?;
                set(f, m)?;
                f.write_str("}")
            }
        }
    }
}
